//! The drilling template: the plate cut into sheets, true to size.

use plate::{Opening, SettingOut, Stop};
use serde::Serialize;
use survey::Caution;
use survey::pattern::Rect;

use crate::drawing::{edges, slot_corners};
use crate::text::{cell, line, number};
use crate::{MOST_SHEETS, PaperError, PaperInput, Variant, drilling_cautions};

/// Paper around the plate's edge on the sheets, mm.
const PAD: f64 = 8.0;
/// What neighbouring sheets both show, mm.
const OVERLAP: f64 = 15.0;

#[derive(Serialize)]
struct Sheet {
    row: usize,
    column: usize,
    /// Plate coordinates of the window's upper left corner, mm.
    x: f64,
    y: f64,
    /// Neighbours to the left, right, above, below.
    left: bool,
    right: bool,
    up: bool,
    down: bool,
    /// Indices of the holes it shows.
    holes: Vec<usize>,
}

#[derive(Serialize)]
struct HoleView {
    label: String,
    x: f64,
    y: f64,
    /// Diameter, or zero for a cut-out.
    d: f64,
    w: f64,
    h: f64,
    /// Room its body takes, for the dashed circle.
    body: f64,
    hole: String,
    short: String,
    fitting: String,
    serves: String,
    tool: String,
    existing: bool,
    place: [String; 2],
}

/// The bolt hole of an entry's earth tag.
#[derive(Serialize)]
struct TagView {
    label: String,
    x: f64,
    y: f64,
    d: f64,
    ear: f64,
    hole: String,
    tool: String,
    place: [String; 2],
}

#[derive(Serialize)]
struct ToolView {
    tool: String,
    hole: String,
    count: usize,
    entries: String,
}

/// What the template's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    title: String,
    site: String,
    lack: String,
    board: String,
    place: String,
    date: String,
    plate: String,
    size: String,
    seen: String,
    near: &'static str,
    far: &'static str,
    /// "a4" or "a3", and as shown.
    paper: &'static str,
    paper_words: &'static str,
    landscape: bool,
    /// The plate is shown from inside.
    mirrored: bool,
    /// The datum is drawn at the right, at the lower edge.
    datum: [bool; 2],
    /// Cumulative dimensions from the datum, across and along: distance, step, entries.
    across: Vec<[String; 3]>,
    along: Vec<[String; 3]>,
    /// Window of each sheet, mm.
    window: [f64; 2],
    overlap: f64,
    width: f64,
    depth: f64,
    usable: Option<Rect>,
    keep_outs: Vec<Rect>,
    holes: Vec<HoleView>,
    tags: Vec<TagView>,
    /// Corners of the slots between holes, mm.
    slots: Vec<[[f64; 2]; 4]>,
    sheets: Vec<Sheet>,
    columns: usize,
    rows: usize,
    unplaced: Vec<String>,
    notes: Vec<String>,
    tools: Vec<ToolView>,
    findings: Vec<String>,
    cautions: Vec<String>,
    /// Those for when the holes are made.
    after: [String; 2],
    /// At the foot of every page.
    foot: String,
}

/// Window of a sheet in portrait and in landscape: what is left of the paper beside header, bars and footer.
const A4: [[f64; 2]; 2] = [[178.0, 244.0], [265.0, 158.0]];
const A3: [[f64; 2]; 2] = [[265.0, 367.0], [388.0, 245.0]];

fn count(length: f64, window: f64) -> usize {
    let whole = length + 2.0 * PAD;
    if whole <= window { 1 } else { ((whole - OVERLAP) / (window - OVERLAP)).ceil() as usize }
}

/// Lays a plate out on sheets.
///
/// # Errors
/// [`PaperError::TooManySheets`].
pub(crate) fn view(input: &PaperInput, set: &SettingOut, variant: Option<Variant>) -> Result<View, PaperError> {
    let mirrored = variant.is_some_and(Variant::is_mirrored);
    let a3 = variant.is_some_and(Variant::is_a3);
    let [upright, lying_window] = if a3 { A3 } else { A4 };
    let (w, h) = (set.outline.w, set.outline.h);
    let sheets_of = |window: [f64; 2]| (count(w, window[0]), count(h, window[1]));
    let (portrait, landscape) = (sheets_of(upright), sheets_of(lying_window));
    let lying = landscape.0 * landscape.1 < portrait.0 * portrait.1
        || (landscape.0 * landscape.1 == portrait.0 * portrait.1 && w >= h);
    let ((columns, rows), window) = if lying { (landscape, lying_window) } else { (portrait, upright) };
    if columns * rows > MOST_SHEETS {
        return Err(PaperError::TooManySheets { sheets: columns * rows });
    }
    let shown = if mirrored { set.mirrored() } else { set.clone() };
    let dimensions = set.dimensions(set.datum);
    let holes: Vec<HoleView> = set
        .entries
        .iter()
        .zip(&shown.entries)
        .zip(&dimensions.centres)
        .map(|((entry, drawn), (_, from_datum))| {
            let (d, w, h) = match entry.hole.opening {
                Opening::Round { diameter } => (diameter, 0.0, 0.0),
                Opening::Slot { width, height } => (0.0, width, height),
            };
            let fitting = format!("{} {}", entry.kind.words(), line(&entry.size));
            HoleView {
                label: entry.label.clone(),
                x: drawn.centre[0],
                y: drawn.centre[1],
                d,
                w,
                h,
                body: entry.hole.across_corners.unwrap_or(0.0),
                hole: entry.hole_words().to_string(),
                short: entry.hole.opening.words().to_string(),
                fitting: cell(fitting.trim()),
                serves: cell(&entry.serves.words()),
                tool: if entry.existing {
                    "none: made already".to_owned()
                } else {
                    entry.hole.tool.words().to_string()
                },
                existing: entry.existing,
                place: from_datum.0.map(number),
            }
        })
        .collect();
    let tags = set
        .entries
        .iter()
        .zip(&shown.entries)
        .filter_map(|(entry, drawn)| {
            let (tag, drawn) = (entry.tag?, drawn.tag?);
            Some(TagView {
                label: format!("{}T", entry.label),
                x: drawn.bolt[0],
                y: drawn.bolt[1],
                d: tag.hole,
                ear: tag.ear,
                hole: format!("Ø {} mm", number(tag.hole)),
                tool: format!("drill {} mm", number(tag.hole)),
                place: set.from_corner(set.datum, tag.bolt).0.map(number),
            })
        })
        .collect();
    let sheets = (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (row, column)))
        .map(|(row, column)| {
            let x = column as f64 * (window[0] - OVERLAP) - PAD;
            let y = row as f64 * (window[1] - OVERLAP) - PAD;
            let shown = |hole: &HoleView| {
                // Labels stand up to 12 mm outside the hole.
                let (rx, ry) = ((hole.d / 2.0).max(hole.w / 2.0) + 12.0, (hole.d / 2.0).max(hole.h / 2.0) + 12.0);
                hole.x + rx > x && hole.x - rx < x + window[0] && hole.y + ry > y && hole.y - ry < y + window[1]
            };
            Sheet {
                row: row + 1,
                column: column + 1,
                x,
                y,
                left: column > 0,
                right: column + 1 < columns,
                up: row > 0,
                down: row + 1 < rows,
                holes: holes.iter().enumerate().filter(|(_, hole)| shown(hole)).map(|(index, _)| index).collect(),
            }
        })
        .collect();
    let (near, far) = edges(set.face);
    let datum = [set.datum.is_right() != mirrored, set.datum.is_front()];
    let chain = |stops: &[Stop]| {
        stops.iter().map(|stop| [number(stop.at), number(stop.step), stop.entries.join(", ")]).collect::<Vec<_>>()
    };
    let findings = input
        .checks
        .iter()
        .filter(|check| check.subject == survey::Subject::Plate(set.plate) && check.verdict != survey::Verdict::Holds)
        .take(30)
        .map(|check| format!("{}: {}", check.verdict.words(), cell(&check.sentence.words())))
        .collect();
    let material = set.material.map_or(survey::Message::plain("material not known"), |material| material.words());
    let thickness = set.thickness.map_or("thickness not known".to_owned(), |mm| format!("{} mm thick", number(mm)));
    Ok(View {
        title: format!(
            "Drilling template {}, {}{}",
            line(&input.board.reference),
            set.name,
            if mirrored { ", mirrored" } else { "" }
        ),
        site: line(input.site),
        lack: input.lack(),
        board: line(&input.board.reference),
        place: line(&input.board.place),
        date: line(input.date),
        plate: set.name.to_string(),
        size: format!("{} × {} mm, {thickness}, {material}", number(w), number(h)),
        seen: format!(
            "{}, {near} up. Datum: {} {} corner. X runs {}, Y {}, in millimetres.",
            if mirrored { "MIRRORED: seen from inside" } else { "Seen from outside" },
            if datum[1] { "lower" } else { "upper" },
            if datum[0] { "right" } else { "left" },
            if datum[0] { "left" } else { "right" },
            if datum[1] { "up" } else { "down" },
        ),
        paper: if a3 { "a3" } else { "a4" },
        paper_words: if a3 { "A3" } else { "A4" },
        mirrored,
        datum,
        across: chain(&dimensions.across),
        along: chain(&dimensions.along),
        near,
        far,
        landscape: lying,
        window,
        overlap: OVERLAP,
        width: w,
        depth: h,
        usable: shown.usable,
        keep_outs: shown.keep_outs,
        slots: shown.slots.iter().filter_map(slot_corners).collect(),
        holes,
        tags,
        sheets,
        columns,
        rows,
        unplaced: set.unplaced.iter().map(|lack| format!("{}: {}", lack.label, cell(&lack.why.words()))).collect(),
        notes: set.notes.iter().map(ToString::to_string).collect(),
        tools: set
            .drilling()
            .into_iter()
            .map(|step| ToolView {
                tool: step.tool.to_string(),
                hole: step.what.to_string(),
                count: step.count,
                entries: step.entries.join(", "),
            })
            .collect(),
        findings,
        cautions: survey::Outlet::Drilling.owed().iter().map(|caution| caution.message().to_string()).collect(),
        after: [Caution::Swarf, Caution::PlateEarth].map(|caution| caution.message().to_string()),
        foot: drilling_cautions().join(" "),
    })
}
