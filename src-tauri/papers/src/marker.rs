//! The marker sheet that gives a photo of a plate its scale.

use plate::photo::marker_sheet;
use serde::Serialize;

use crate::head::Head;
use crate::{Kind, PaperInput};

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
    head: Head,
    size: [f64; 2],
    patches: Vec<Patch>,
    line: [[f64; 2]; 2],
    words: Vec<Word>,
}

pub(crate) fn view(input: &PaperInput) -> View {
    let sheet = marker_sheet();
    View {
        head: Head::of(input, Kind::MarkerSheet),
        size: sheet.size,
        patches: sheet
            .patches
            .iter()
            .map(|one| Patch { x: one.x, y: one.y, w: one.width, h: one.height, black: one.black })
            .collect(),
        line: sheet.check_line,
        words: sheet.words.iter().map(|([x, y], text)| Word { x: *x, y: *y, text: text.to_string() }).collect(),
    }
}
