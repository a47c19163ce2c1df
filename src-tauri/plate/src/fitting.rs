//! What goes with an entry: thread, nuts, washer, tag, shroud, tool: for the order list and papers.

use survey::EntryKind;

use crate::hole::{Hole, Tag, bare, hole_for};
use crate::tables::{Tables, Washer};

/// A locknut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locknut {
    /// What it is made of.
    pub of: &'static str,
    /// Across flats, mm.
    pub flats: f64,
    /// Across corners, mm.
    pub corners: f64,
    /// Thickness, mm, where listed.
    pub thick: Option<f64>,
}

/// A part to buy for one entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// In trade terms: "locknut M20, brass".
    pub item: String,
    /// What to check first; empty where there is nothing.
    pub note: &'static str,
}

/// Everything about the fitting of a kind and size.
#[derive(Clone, Debug, PartialEq)]
pub struct Fittings {
    /// Entry thread, "M20", pitch 1.5 mm; none for a cut-out.
    pub thread: Option<String>,
    /// Hole, hexagon and corners, tag, tool and pilot.
    pub hole: Hole,
    /// Its locknut.
    pub locknut: Option<Locknut>,
    /// Earth tag, its ear and bolt; armoured-cable glands only.
    pub tag: Option<Tag>,
    /// Bolt of the tag: "M6".
    pub tag_bolt: Option<String>,
    /// True where a shroud goes over it.
    pub shroud: bool,
    /// Sealing washer.
    pub washer: Option<Washer>,
    /// Bore left for cables, mm: conduits and bushes.
    pub bore: Option<f64>,
    /// What to buy for one such entry.
    pub parts: Vec<Part>,
}

/// The fitting of a kind and trade size; `None` where the tables have no such size.
#[must_use]
pub fn fittings(kind: EntryKind, size: &str, tables: &Tables) -> Option<Fittings> {
    let hole = hole_for(kind, size, tables)?;
    let thread = hole.range.and_then(|(least, _)| {
        tables.threads.iter().find(|row| (row.hole_min_mm - least).abs() < 1e-6).map(|row| row.thread.clone())
    });
    let row = thread.as_deref().and_then(|name| tables.thread(name));
    let plastic = kind == EntryKind::CompressionGland;
    let size = bare(size, plastic || kind == EntryKind::Blanked);
    let conduit = tables.conduits.iter().find(|row| row.size == bare(&size, false));
    let flexible = tables.flexible.iter().find(|row| row.size == bare(&size, false));
    let brass = || {
        row.map(|row| Locknut {
            of: "brass",
            flats: row.brass_locknut_af,
            corners: row.brass_locknut_ac,
            thick: Some(row.brass_locknut_thick),
        })
    };
    let locknut = match kind {
        EntryKind::ArmouredGland | EntryKind::Blanked => brass(),
        EntryKind::CompressionGland => row
            .and_then(|row| {
                let (flats, corners) = row.plastic_locknut_af.zip(row.plastic_locknut_ac)?;
                Some(Locknut { of: "plastic", flats, corners, thick: row.plastic_locknut_thick })
            })
            .or_else(brass),
        EntryKind::Conduit | EntryKind::Bush => {
            conduit.map(|row| Locknut { of: "steel", flats: row.locknut_af, corners: row.locknut_ac, thick: None })
        }
        EntryKind::FlexibleConduit => {
            flexible.map(|row| Locknut { of: "steel", flats: row.locknut_af, corners: row.locknut_ac, thick: None })
        }
        EntryKind::TrunkingCutOut => None,
    };
    let armoured = kind == EntryKind::ArmouredGland;
    let tag_row =
        thread.as_deref().filter(|_| armoured).and_then(|name| tables.tags.iter().find(|tag| tag.thread == name));
    let sealed = matches!(kind, EntryKind::ArmouredGland | EntryKind::CompressionGland | EntryKind::Blanked);
    let washer =
        thread.as_deref().filter(|_| sealed).and_then(|name| tables.washers.iter().find(|row| row.thread == name));
    let bore = match kind {
        EntryKind::Conduit | EntryKind::Bush => conduit.and_then(|row| row.bore_mm),
        EntryKind::FlexibleConduit => flexible.map(|row| row.bore_mm),
        _ => None,
    };
    let parts = parts(kind, &size, thread.as_deref().unwrap_or_default());
    Some(Fittings {
        thread,
        tag: hole.tag,
        tag_bolt: tag_row.map(|row| row.bolt.clone()),
        hole,
        locknut,
        shroud: armoured,
        washer: washer.cloned(),
        bore,
        parts,
    })
}

/// What to buy for one entry of a kind: its trade size and its thread as they are to be written.
#[must_use]
pub fn parts(kind: EntryKind, size: &str, thread: &str) -> Vec<Part> {
    const MEASURE: &str = "Measure the cable and read the gland's own range first.";
    let part = |item: String, note: &'static str| Part { item, note };
    match kind {
        EntryKind::ArmouredGland => vec![
            part(format!("armoured-cable gland {size}, {thread}"), MEASURE),
            part(format!("locknut {thread}, brass"), ""),
            part(format!("earth tag {thread} with bolt, nut and washer"), ""),
            part(format!("shroud for gland {size}"), ""),
            part(format!("IP washer {thread}"), ""),
        ],
        EntryKind::CompressionGland => vec![
            part(format!("compression gland {thread}"), MEASURE),
            part(format!("locknut {thread}, plastic"), ""),
            part(format!("IP washer {thread}"), ""),
        ],
        EntryKind::Conduit => vec![
            part(format!("conduit bush {size}"), ""),
            part(format!("conduit coupler {size}"), ""),
            part(format!("locknut {thread}, steel"), ""),
        ],
        EntryKind::FlexibleConduit => {
            vec![part(format!("flexible conduit adaptor {size}"), ""), part(format!("locknut {thread}, steel"), "")]
        }
        EntryKind::Bush => vec![part(format!("cable bush {size}"), "")],
        EntryKind::TrunkingCutOut => {
            vec![part(format!("edging for a cut-out {size}"), "Cut to its circumference.")]
        }
        EntryKind::Blanked => {
            vec![part(format!("stopping plug {thread} with locknut"), "Same IP rating as the plate.")]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// gland.csv, gland_thread.csv, earth_tag.csv and conduit.csv, the rows themselves.
    #[test]
    fn each_kind_has_what_goes_with_it() {
        let tables = Tables::shipped();
        let gland = fittings(EntryKind::ArmouredGland, "20s", tables).unwrap();
        assert_eq!(gland.thread.as_deref(), Some("M20"));
        assert_eq!(gland.locknut.map(|nut| (nut.of, nut.flats, nut.corners)), Some(("brass", 24.0, 27.7)));
        assert_eq!(gland.hole.across_flats, Some(24.0));
        // Half of 26.5 across corners, 15 beyond, half of the 14 wide ear back.
        assert_eq!(gland.tag.map(|tag| (tag.bolt_at, tag.bolt_hole)), Some((21.25, 6.5)));
        assert_eq!(gland.tag_bolt.as_deref(), Some("M6"));
        assert!(gland.shroud && gland.washer.is_some());
        assert_eq!(gland.hole.tool.words(), "draw punch 20.4 mm, pilot 10 mm");
        assert_eq!(gland.parts.len(), 5);
        let conduit = fittings(EntryKind::Conduit, "25", tables).unwrap();
        assert_eq!((conduit.bore, conduit.washer.is_some(), conduit.tag), (Some(21.8), false, None));
        assert_eq!(fittings(EntryKind::FlexibleConduit, "25", tables).unwrap().bore, Some(19.0));
        let cut_out = fittings(EntryKind::TrunkingCutOut, "100x50", tables).unwrap();
        assert_eq!((cut_out.thread, cut_out.locknut), (None, None));
        assert_eq!(fittings(EntryKind::CompressionGland, "21", tables), None);
    }
}
