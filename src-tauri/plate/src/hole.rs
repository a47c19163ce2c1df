//! The hole each kind and size of entry needs, what makes it, and the room its body takes.

use survey::{Entry, EntryKind, Message, say};

use crate::shape::{CUT_OUT_EDGE, Shape};
use crate::tables::Tables;
use crate::words::exact;

/// A hole through the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Opening {
    /// Round.
    Round {
        /// Diameter, mm.
        diameter: f64,
    },
    /// Rectangular.
    Slot {
        /// Across the plate, mm.
        width: f64,
        /// From rear to front, mm.
        height: f64,
    },
}

impl Opening {
    /// "20.4 mm", "100 × 50 mm".
    #[must_use]
    pub fn words(self) -> Message {
        match self {
            Self::Round { diameter } => say!("plate-hole-round", diameter = exact(diameter)),
            Self::Slot { width, height } => {
                say!("plate-hole-cut-out", width = exact(width), height = exact(height))
            }
        }
    }

    pub(crate) fn shape(self, centre: [f64; 2]) -> Shape {
        match self {
            Self::Round { diameter } => Shape::circle(centre, diameter),
            Self::Slot { width, height } => Shape::rect(centre, width, height),
        }
    }
}

/// What makes a hole.
#[derive(Clone, Debug, PartialEq)]
pub struct Tool {
    /// Its name: "draw punch".
    pub name: Message,
    /// Its size, mm; `None` for a saw or file that follows a line.
    pub size: Option<f64>,
    /// Pilot hole, mm.
    pub pilot: Option<f64>,
}

impl Tool {
    /// "draw punch 20.4 mm, pilot 10 mm".
    #[must_use]
    pub fn words(&self) -> Message {
        let tool = self.name.clone();
        match (self.size.map(exact), self.pilot.map(exact)) {
            (None, None) => tool,
            (Some(size), None) => say!("plate-tool-sized", tool = tool, size = size),
            (None, Some(pilot)) => say!("plate-tool-pilot", tool = tool, pilot = pilot),
            (Some(size), Some(pilot)) => say!("plate-tool-sized-pilot", tool = tool, size = size, pilot = pilot),
        }
    }
}

/// What a cutter of the table is called; one that the program does not know keeps the table's word.
fn cutter_name(tool: &str) -> Message {
    match tool {
        "step drill" => say!("plate-tool-step-drill"),
        "draw punch" => say!("plate-tool-draw-punch"),
        other => Message::plain(other.to_owned()),
    }
}

/// The ear of an earth tag: it reaches outside the gland's hexagon and is bolted through the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tag {
    /// Centre of its bolt from the centre of the gland, mm.
    pub bolt_at: f64,
    /// Hole for the bolt, mm.
    pub bolt_hole: f64,
    /// Diameter of the rounded end kept clear, mm.
    pub width: f64,
}

/// The clearance hole of a fitting, and what stands around it.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// What to make.
    pub opening: Opening,
    /// Least and largest diameter that will do, mm; `None` for a cut-out.
    pub range: Option<(f64, f64)>,
    /// Widest across corners of hexagon, locknut or bush, mm: the circle kept clear. For a cut-out
    /// the edging around it is counted instead, see [`CUT_OUT_EDGE`].
    pub across_corners: Option<f64>,
    /// Across flats of the largest hexagon a spanner goes on, mm; `None` where nothing is screwed or
    /// the fitting is not listed.
    pub across_flats: Option<f64>,
    /// The ear of the earth tag under an armoured-cable gland.
    pub tag: Option<Tag>,
    /// What makes it.
    pub tool: Tool,
}

impl Hole {
    /// The body kept clear, centred there.
    pub(crate) fn body(&self, centre: [f64; 2]) -> Shape {
        match (self.across_corners, self.opening) {
            (Some(across), Opening::Round { diameter }) => Shape::circle(centre, across.max(diameter)),
            (None, Opening::Round { diameter }) => Shape::circle(centre, diameter).grown(CUT_OUT_EDGE),
            (_, Opening::Slot { width, height }) => {
                Shape::rect(centre, width + 2.0 * CUT_OUT_EDGE, height + 2.0 * CUT_OUT_EDGE)
            }
        }
    }
}

/// Largest hole or cut-out taken for one, mm.
pub(crate) const LARGEST: f64 = 2000.0;

/// "20 mm", "m20", " 20s " as the tables write them, without unit and with `M` where wanted.
fn tidy(size: &str, thread: bool) -> String {
    let mut text: String = size.chars().filter(|letter| !letter.is_whitespace()).take(20).collect();
    text.make_ascii_uppercase();
    let text = text.strip_suffix("MM").unwrap_or(&text);
    let text = text.split_once("X1.5").map_or(text, |(head, _)| head);
    let bare = text.strip_prefix('M').unwrap_or(text);
    if thread { format!("M{bare}") } else { bare.to_owned() }
}

/// A size as the tables write it.
pub(crate) fn bare(size: &str, thread: bool) -> String {
    tidy(size, thread)
}

/// Width and height of a cut-out's size, "100x50" or "100 × 50".
fn cut_out(size: &str) -> Option<(f64, f64)> {
    let text: String = size.chars().filter(|letter| !letter.is_whitespace()).take(40).collect();
    let text = text.strip_suffix("mm").unwrap_or(&text);
    let (width, height) = text.split_once(['x', 'X', '×'])?;
    let good = |text: &str| text.parse::<f64>().ok().filter(|number| (1.0..=LARGEST).contains(number));
    Some((good(width)?, good(height)?))
}

fn tool_for(tables: &Tables, lo: f64, hi: f64) -> Tool {
    match tables.cutters.iter().find(|cutter| cutter.size_mm >= lo - 1e-9 && cutter.size_mm <= hi + 1e-9) {
        Some(cutter) => {
            Tool { name: cutter_name(&cutter.tool), size: Some(cutter.size_mm), pilot: Some(cutter.pilot_mm) }
        }
        None => Tool { name: say!("plate-tool-adjustable"), size: Some(hi), pilot: Some(4.0) },
    }
}

fn round(tables: &Tables, (lo, hi): (f64, f64), across_corners: f64, across_flats: f64) -> Hole {
    let tool = tool_for(tables, lo, hi);
    let diameter = tool.size.unwrap_or(hi);
    Hole {
        opening: Opening::Round { diameter },
        range: Some((lo, hi)),
        across_corners: Some(across_corners),
        across_flats: Some(across_flats),
        tag: None,
        tool,
    }
}

/// The clearance hole of a kind and trade size, from `gland.csv`, `gland_thread.csv`,
/// `gland_plastic.csv` and `conduit.csv`; `None` where the tables have no such size. A cut-out's size
/// reads "100x50".
#[must_use]
pub fn hole_for(kind: EntryKind, size: &str, tables: &Tables) -> Option<Hole> {
    match kind {
        EntryKind::ArmouredGland => {
            let wanted = tidy(size, false);
            let gland = tables.glands.iter().find(|gland| gland.size == wanted)?;
            let thread = tables.thread(&tidy(&gland.thread, true));
            let (ac, af) = thread.map_or((0.0, 0.0), |thread| (thread.brass_locknut_ac, thread.brass_locknut_af));
            let tag =
                thread.and_then(|thread| tables.tags.iter().find(|tag| tag.thread == thread.thread)).map(|tag| Tag {
                    bolt_at: gland.ac_mm / 2.0 + tag.beyond_mm - tag.ear_width_mm / 2.0,
                    bolt_hole: tag.bolt_hole_mm,
                    width: tag.ear_width_mm,
                });
            let hole = round(tables, (gland.hole_min_mm, gland.hole_max_mm), gland.ac_mm.max(ac), gland.af_mm.max(af));
            Some(Hole { tag, ..hole })
        }
        EntryKind::CompressionGland => {
            let wanted = tidy(size, true);
            let gland = tables.plastic.iter().find(|gland| gland.thread == wanted)?;
            let thread = tables.thread(&wanted)?;
            let ac = thread.plastic_locknut_ac.unwrap_or(thread.brass_locknut_ac);
            let af = thread.plastic_locknut_af.unwrap_or(thread.brass_locknut_af);
            let limits = (thread.hole_min_mm, thread.hole_max_mm);
            Some(round(tables, limits, gland.ac_mm.max(ac), gland.af_mm.max(af)))
        }
        EntryKind::Conduit | EntryKind::Bush => {
            let wanted = tidy(size, false);
            let row = tables.conduits.iter().find(|conduit| conduit.size == wanted)?;
            let limits = (row.hole_min_mm, row.hole_max_mm);
            Some(round(tables, limits, row.bush_ac.max(row.locknut_ac), row.bush_af.max(row.locknut_af)))
        }
        EntryKind::FlexibleConduit => {
            let wanted = tidy(size, false);
            let row = tables.flexible.iter().find(|conduit| conduit.size == wanted)?;
            let limits = (row.hole_min_mm, row.hole_max_mm);
            Some(round(tables, limits, row.hex_ac.max(row.locknut_ac), row.hex_af.max(row.locknut_af)))
        }
        EntryKind::Blanked => {
            let thread = tables.thread(&tidy(size, true)).or_else(|| {
                let wanted = tidy(size, false);
                let gland = tables.glands.iter().find(|gland| gland.size == wanted)?;
                tables.thread(&tidy(&gland.thread, true))
            })?;
            let limits = (thread.hole_min_mm, thread.hole_max_mm);
            Some(round(tables, limits, thread.brass_locknut_ac, thread.brass_locknut_af))
        }
        EntryKind::TrunkingCutOut => {
            let (width, height) = cut_out(size)?;
            Some(slot(width, height))
        }
    }
}

fn slot(width: f64, height: f64) -> Hole {
    Hole {
        opening: Opening::Slot { width, height },
        range: None,
        across_corners: None,
        across_flats: None,
        tag: None,
        tool: Tool { name: say!("plate-tool-saw"), size: None, pilot: Some(6.0) },
    }
}

/// The hole of an entry: its own size where one is given, else that of its kind and size. The error
/// says what is missing.
pub(crate) fn hole_of(entry: &Entry, tables: &Tables) -> Result<Hole, Message> {
    let measured = entry.hole_measured.range().map(|range| (range.lo().get() + range.hi().get()) / 2.0);
    let given = match entry.hole.map(survey::Millimetres::get).or(measured) {
        Some(size) if (1.0..=LARGEST).contains(&size) => Some(size),
        Some(size) => return Err(say!("plate-lacks-hole-size", size = exact(size), most = exact(LARGEST))),
        None => None,
    };
    let tall = match entry.cut_out_height.map(survey::Millimetres::get) {
        Some(size) if (1.0..=LARGEST).contains(&size) => Some(size),
        Some(size) => return Err(say!("plate-lacks-cut-out-height", size = exact(size), most = exact(LARGEST))),
        None => None,
    };
    let Some(kind) = entry.kind else { return Err(say!("plate-lacks-kind")) };
    let listed = hole_for(kind, &entry.size, tables);
    if kind == EntryKind::TrunkingCutOut {
        let (listed_width, listed_height) = match listed.as_ref().map(|hole| hole.opening) {
            Some(Opening::Slot { width, height }) => (Some(width), Some(height)),
            _ => (None, None),
        };
        return match (given.or(listed_width), tall.or(listed_height)) {
            (Some(width), Some(height)) => Ok(slot(width, height)),
            _ => Err(say!("plate-lacks-cut-out")),
        };
    }
    match (given, listed) {
        (None, Some(hole)) => Ok(hole),
        (Some(diameter), Some(hole)) => {
            let tool = tool_for(tables, diameter, diameter);
            Ok(Hole { opening: Opening::Round { diameter }, tool, ..hole })
        }
        // A measured hole whose fitting is not listed still stands where it stands.
        (Some(diameter), None) => Ok(Hole {
            opening: Opening::Round { diameter },
            range: None,
            across_corners: None,
            across_flats: None,
            tag: None,
            tool: tool_for(tables, diameter, diameter),
        }),
        (None, None) if entry.size.trim().is_empty() => Err(say!("plate-lacks-size", kind = kind.words())),
        (None, None) => {
            let size: String = entry.size.chars().take(20).collect();
            Err(say!("plate-lacks-listed", kind = kind.words(), size = size))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// gland.csv, gland_thread.csv and conduit.csv, the rows themselves.
    #[test]
    fn holes_are_those_of_the_tables() {
        let tables = Tables::shipped();
        for (kind, size, range, across) in [
            (EntryKind::ArmouredGland, "20S", (20.2, 20.5), 27.7),
            (EntryKind::ArmouredGland, "25", (25.2, 25.5), 39.5),
            (EntryKind::ArmouredGland, "63S", (63.2, 63.5), 82.5),
            (EntryKind::CompressionGland, "M20", (20.2, 20.5), 30.0),
            (EntryKind::CompressionGland, "25", (25.2, 25.5), 37.0),
            (EntryKind::Conduit, "25", (25.2, 25.5), 37.0),
            (EntryKind::Conduit, "m32 mm", (32.2, 32.5), 46.2),
            (EntryKind::Blanked, "M20", (20.2, 20.5), 27.7),
        ] {
            let hole = hole_for(kind, size, tables).unwrap();
            assert_eq!((hole.range, hole.across_corners), (Some(range), Some(across)), "{kind:?} {size}");
            let Opening::Round { diameter } = hole.opening else { panic!("{kind:?} is round") };
            assert!(diameter >= range.0 && diameter <= range.1, "{kind:?} {size}: {diameter}");
        }
        assert_eq!(hole_for(EntryKind::ArmouredGland, "21", tables), None);
    }

    #[test]
    fn a_cut_out_reads_width_by_height() {
        for size in ["100x50", "100 × 50 mm"] {
            let hole = hole_for(EntryKind::TrunkingCutOut, size, Tables::shipped()).unwrap();
            assert_eq!(hole.opening, Opening::Slot { width: 100.0, height: 50.0 });
        }
        for bad in ["", "100", "0x5", "1e9x5", "NaNx5", "x"] {
            assert_eq!(hole_for(EntryKind::TrunkingCutOut, bad, Tables::shipped()), None, "{bad}");
        }
    }
}
