//! What goes with an entry: thread, nuts, washer, tag, shroud, tool: for the order list and papers.

use survey::message::Argument;
use survey::{EntryKind, Message, say};

use crate::hole::{Hole, Tag, bare, hole_for};
use crate::tables::{Tables, Washer};

/// A locknut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locknut {
    /// What it is made of: "brass", "plastic" or "steel".
    pub of: &'static str,
    /// Across flats, mm.
    pub flats: f64,
    /// Across corners, mm.
    pub corners: f64,
    /// Thickness, mm, where listed.
    pub thick: Option<f64>,
}

/// A part to buy for one entry.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// In trade terms: "locknut M20, brass".
    pub item: Message,
    /// What to check first; empty where there is nothing.
    pub note: Message,
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
    let parts = parts(kind, &size, &thread.clone().unwrap_or_default().into());
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
pub fn parts(kind: EntryKind, size: &str, thread: &Message) -> Vec<Part> {
    let measure = || say!("plate-part-measure");
    let none = Message::default;
    let part = |item: Message, note: Message| Part { item, note };
    let (size, thread) = (|| size.to_owned(), || thread.clone());
    let locknut = |of| say!("plate-part-locknut", thread = thread(), of = Argument::Choice(of));
    match kind {
        EntryKind::ArmouredGland => vec![
            part(say!("plate-part-armoured-gland", size = size(), thread = thread()), measure()),
            part(locknut("brass"), none()),
            part(say!("plate-part-earth-tag", thread = thread()), none()),
            part(say!("plate-part-shroud", size = size()), none()),
            part(say!("plate-part-washer", thread = thread()), none()),
        ],
        EntryKind::CompressionGland => vec![
            part(say!("plate-part-compression-gland", thread = thread()), measure()),
            part(locknut("plastic"), none()),
            part(say!("plate-part-washer", thread = thread()), none()),
        ],
        EntryKind::Conduit => vec![
            part(say!("plate-part-conduit-bush", size = size()), none()),
            part(say!("plate-part-coupler", size = size()), none()),
            part(locknut("steel"), none()),
        ],
        EntryKind::FlexibleConduit => {
            vec![part(say!("plate-part-adaptor", size = size()), none()), part(locknut("steel"), none())]
        }
        EntryKind::Bush => vec![part(say!("plate-part-cable-bush", size = size()), none())],
        EntryKind::TrunkingCutOut => {
            vec![part(say!("plate-part-edging", size = size()), say!("plate-part-cut"))]
        }
        EntryKind::Blanked => {
            vec![part(say!("plate-part-plug", thread = thread()), say!("plate-part-rating"))]
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
        assert_eq!(gland.hole.tool.words().words(), "draw punch 20.4 mm, pilot 10 mm");
        assert_eq!(gland.parts.len(), 5);
        let conduit = fittings(EntryKind::Conduit, "25", tables).unwrap();
        assert_eq!((conduit.bore, conduit.washer.is_some(), conduit.tag), (Some(21.8), false, None));
        assert_eq!(fittings(EntryKind::FlexibleConduit, "25", tables).unwrap().bore, Some(19.0));
        let cut_out = fittings(EntryKind::TrunkingCutOut, "100x50", tables).unwrap();
        assert_eq!((cut_out.thread, cut_out.locknut), (None, None));
        assert_eq!(fittings(EntryKind::CompressionGland, "21", tables), None);
    }
}
