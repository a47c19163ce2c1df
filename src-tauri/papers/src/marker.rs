//! The marker sheet that gives a photo of a plate its scale.

use plate::photo::marker_sheet;
use serde::Serialize;

use survey::Outlet;

use crate::first_caution;

#[derive(Serialize)]
struct Word {
    x: f64,
    y: f64,
    text: String,
}

#[derive(Serialize)]
struct Patch {
    x: f64,
    y: f64,
    w: f64,
    h: f64,
    black: bool,
}

/// What the sheet's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    title: &'static str,
    size: [f64; 2],
    patches: Vec<Patch>,
    line: [[f64; 2]; 2],
    words: Vec<Word>,
    caution: String,
}

pub(crate) fn view() -> View {
    let sheet = marker_sheet();
    View {
        title: "Marker sheet",
        size: sheet.size,
        patches: sheet
            .patches
            .iter()
            .map(|one| Patch { x: one.x, y: one.y, w: one.width, h: one.height, black: one.black })
            .collect(),
        line: sheet.check_line,
        words: sheet.words.iter().map(|([x, y], text)| Word { x: *x, y: *y, text: text.to_string() }).collect(),
        caution: first_caution(Outlet::MarkerSheet),
    }
}
