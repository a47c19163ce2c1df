//! The drilling template: the plate cut into sheets, true to size.

use plate::{Opening, SettingOut, Stop};
use serde::Serialize;
use survey::message::Argument;
use survey::pattern::Rect;
use survey::{Caution, Message, say};

use crate::drawing::{edges, slot_corners};
use crate::head::{Head, Words, words};
use crate::text::{cell, line, number};
use crate::{Kind, MOST_SHEETS, PaperError, PaperInput, Variant, drilling_cautions};

/// Paper around the plate's edge on the sheets, mm.
const PAD: f64 = 8.0;
/// What neighbouring sheets both show, mm.
const OVERLAP: f64 = 15.0;

#[derive(Serialize)]
struct Sheet {
    /// "1.2": its row and its place there.
    name: String,
    /// What it says of itself.
    words: String,
    /// Plate coordinates of the window's upper left corner, mm.
    x: f64,
    y: f64,
    /// Words to the neighbours to the left, right, above, below; none where there is none.
    left: Option<String>,
    right: Option<String>,
    up: Option<String>,
    down: Option<String>,
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
    /// The bolt of its earth tag is drawn below its middle.
    tag_below: bool,
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
    serves: String,
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
    head: Head,
    words: Words,
    plate: String,
    /// Said in the head beside the plate where it is shown from inside; else empty.
    mirrored: String,
    size: String,
    seen: String,
    near: String,
    far: String,
    /// "a4" or "a3".
    paper: &'static str,
    landscape: bool,
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
    unplaced: Vec<String>,
    notes: Vec<String>,
    tools: Vec<ToolView>,
    findings: Vec<String>,
    cautions: Vec<String>,
    /// Those for when the holes are made.
    after: [String; 2],
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
    let kind = Kind::DrillingTemplate(set.plate);
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
            let fitting = say!("template-fitted", kind = entry.kind.words(), size = line(&entry.size)).to_string();
            HoleView {
                label: entry.label.clone(),
                x: drawn.centre[0],
                y: drawn.centre[1],
                d,
                w,
                h,
                body: entry.hole.across_corners.unwrap_or(0.0),
                hole: entry.hole_words().to_string(),
                short: if entry.existing {
                    say!("template-made-already", hole = entry.hole.opening.words()).to_string()
                } else {
                    entry.hole.opening.words().to_string()
                },
                fitting: cell(fitting.trim()),
                serves: cell(&entry.serves),
                tool: cell(&if entry.existing { say!("template-none-made") } else { entry.hole.tool.words() }),
                existing: entry.existing,
                tag_below: drawn.tag.is_some_and(|tag| tag.bolt[1] > drawn.centre[1]),
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
                tool: say!("plate-tool-drill", size = number(tag.hole)).to_string(),
                serves: entry.label.clone(),
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
            let name = |row: usize, column: usize| format!("{row}.{column}");
            let to = |row, column| say!("template-to-sheet", sheet = name(row, column)).to_string();
            let (here, last) = (name(row + 1, column + 1), name(rows, columns));
            Sheet {
                words: say!("template-sheet", sheet = here.clone(), last = last).to_string(),
                name: here,
                x,
                y,
                left: (column > 0).then(|| to(row + 1, column)),
                right: (column + 1 < columns).then(|| to(row + 1, column + 2)),
                up: (row > 0).then(|| to(row, column + 1)),
                down: (row + 1 < rows).then(|| to(row + 2, column + 1)),
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
        .map(|check| say!("paper-finding", verdict = check.verdict.words(), sentence = check.sentence.clone()))
        .map(|finding| cell(&finding))
        .collect();
    let material = set.material.map_or(say!("paper-material-unknown"), |material| material.words());
    let thickness =
        set.thickness.map_or(say!("template-thickness-unknown"), |mm| say!("template-thick", thickness = number(mm)));
    let corner = Argument::Choice(match datum {
        [false, false] => "upper-left",
        [true, false] => "upper-right",
        [false, true] => "lower-left",
        [true, true] => "lower-right",
    });
    let (paper, paper_words) = if a3 { ("a3", "A3") } else { ("a4", "A4") };
    let board = line(&input.board.reference);
    let title = if mirrored {
        say!("paper-of-plate-mirrored", paper = kind.what(), board = board, plate = set.name.clone())
    } else {
        say!("paper-of-plate", paper = kind.what(), board = board, plate = set.name.clone())
    };
    let count = columns * rows;
    Ok(View {
        head: Head::of(input, kind).with(&title, drilling_cautions().join(" ")),
        words: template_words(&say!(
            "template-sheets-of",
            sheets = count,
            paper = paper_words,
            columns = columns,
            rows = rows,
            overlap = number(OVERLAP)
        )),
        plate: set.name.to_string(),
        mirrored: if mirrored { say!("paper-mirrored").to_string() } else { String::new() },
        size: say!("template-size", width = number(w), depth = number(h), thickness = thickness, material = material)
            .to_string(),
        seen: say!(
            "template-seen",
            seen = Argument::Choice(if mirrored { "inside" } else { "outside" }),
            near = near.clone(),
            datum = corner
        )
        .to_string(),
        paper,
        datum,
        across: chain(&dimensions.across),
        along: chain(&dimensions.along),
        near: near.to_string(),
        far: far.to_string(),
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
        unplaced: set
            .unplaced
            .iter()
            .map(|lack| cell(&say!("template-unplaced", entry = lack.label.clone(), why = lack.why.clone())))
            .collect(),
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
    })
}

fn template_words(sheets_of: &Message) -> Words {
    words([
        ("before", say!("template-before")),
        ("plate", say!("template-plate")),
        ("unplaced", say!("template-not-on-it")),
        ("findings", say!("template-findings")),
        ("sheets", say!("template-sheets")),
        ("sheets_of", sheets_of.clone()),
        ("inside_line", say!("template-inside-line")),
        ("keep_whole", say!("template-keep-whole")),
        ("datum", say!("template-datum")),
        ("bars", say!("template-bars")),
        ("coordinates", say!("template-coordinates")),
        ("no_entry", say!("template-no-entry")),
        ("entry", say!("template-entry")),
        ("limits", say!("template-hole-limits")),
        ("fitting", say!("template-fitting")),
        ("serves", say!("template-for")),
        ("tool", say!("template-tool")),
        ("bolt", say!("template-bolt")),
        ("one_after_another", say!("template-one-after-another")),
        ("step", say!("template-step")),
        ("entries", say!("template-entries")),
        ("order", say!("template-order")),
        ("hole", say!("template-hole")),
        ("count", say!("template-count")),
        ("after", say!("template-after")),
    ])
}
