//! The plate as it is to be made: one derived structure for the screen, the template, the drawing
//! file and the order list.

use std::collections::{BTreeMap, BTreeSet};

use survey::pattern::{Face, Point, Rect};
use survey::{Board, CableId, Circuit, Entry, EntryId, EntryKind, Plate, PlateId, PlateMaterial};

use crate::hole::{Hole, Opening, hole_of};
use crate::tables::Tables;

/// Why a plate cannot be set out.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotReady {
    /// No such plate on the board, or it is removed.
    #[error("/plates/{0}: there is no such plate: pick one of the board's plates")]
    NoPlate(PlateId),
    /// Width or depth is not known.
    #[error("/plates/{plate}/{field}: the {field} of the plate is {value}: measure it")]
    NoSize {
        /// The plate.
        plate: PlateId,
        /// "width" or "depth".
        field: &'static str,
        /// What stands there.
        value: String,
    },
}

/// An entry with its place and hole.
#[derive(Clone, Debug, PartialEq)]
pub struct SetEntry {
    /// Its id.
    pub id: EntryId,
    /// Its label on plate and paper: "E3". It stays the same when others are removed.
    pub label: String,
    /// Kind.
    pub kind: EntryKind,
    /// Trade size as entered.
    pub size: String,
    /// Centre in millimetres from the datum corner: across, then away from the rear edge.
    pub centre: Point,
    /// The hole, its limits, what makes it, the room its body takes.
    pub hole: Hole,
    /// What passes through: "circuit 5", "incoming cable", "nothing named".
    pub serves: String,
    /// Its cable, unless removed.
    pub cable: Option<CableId>,
    /// Made already.
    pub existing: bool,
    /// Stays where it is.
    pub locked: bool,
}

/// An entry that cannot be set out yet.
#[derive(Clone, Debug, PartialEq)]
pub struct Unplaced {
    /// Its id.
    pub id: EntryId,
    /// Its label.
    pub label: String,
    /// What is missing and what would do.
    pub why: String,
}

/// A tool and the holes it makes.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolUse {
    /// The tool as a person reads it.
    pub tool: String,
    /// The hole as a person reads it.
    pub hole: String,
    /// Labels of the entries.
    pub entries: Vec<String>,
}

/// A plate set out. All lengths in millimetres from the datum corner: left rear seen from outside
/// with the rear edge up (upper edge for a plate in the back).
#[derive(Clone, Debug, PartialEq)]
pub struct SettingOut {
    /// The plate.
    pub plate: PlateId,
    /// What a person calls it: "top plate".
    pub name: String,
    /// The face it closes.
    pub face: Face,
    /// The plate's outline, corner at zero.
    pub outline: Rect,
    /// Sheet thickness, if known.
    pub thickness: Option<f64>,
    /// Material, if known.
    pub material: Option<PlateMaterial>,
    /// The part that may be drilled, if known.
    pub usable: Option<Rect>,
    /// Parts that stay whole.
    pub keep_outs: Vec<Rect>,
    /// Entries with place and hole, in the order of their labels.
    pub entries: Vec<SetEntry>,
    /// Entries that lack something.
    pub unplaced: Vec<Unplaced>,
    /// What a person should know before relying on it.
    pub notes: Vec<String>,
}

impl SettingOut {
    /// The new holes by tool, smallest tool first, for fewest changes.
    #[must_use]
    pub fn drilling_order(&self) -> Vec<ToolUse> {
        let mut order: BTreeMap<(i64, String, String), Vec<String>> = BTreeMap::new();
        for entry in self.entries.iter().filter(|entry| !entry.existing) {
            let size = entry.hole.tool.size.map_or(i64::MAX, |size| (size * 1000.0).round() as i64);
            let key = (size, entry.hole.tool.words(), entry.hole.opening.words());
            order.entry(key).or_default().push(entry.label.clone());
        }
        order.into_iter().map(|((_, tool, hole), entries)| ToolUse { tool, hole, entries }).collect()
    }
}

/// What a circuit is called: its number, else the pole it starts on.
#[must_use]
pub fn circuit_label(board: &Board, circuit: &Circuit) -> String {
    let number = circuit.number.trim();
    if !number.is_empty() {
        return number.to_owned();
    }
    match board.device_of(circuit).and_then(|(_, device)| device.at) {
        Some(at) => at.to_string(),
        None => "without number".to_owned(),
    }
}

/// What a cable serves, in words.
pub(crate) fn serves(board: &Board, cable: CableId) -> String {
    let mut parts: Vec<String> = Vec::new();
    if board.supply.cable == Some(cable) {
        parts.push("incoming cable".to_owned());
    }
    let circuits: BTreeSet<String> = board
        .live_circuits()
        .filter(|(_, circuit)| circuit.cable == Some(cable))
        .map(|(_, circuit)| circuit_label(board, circuit))
        .collect();
    match circuits.len() {
        0 => {}
        1 => parts.extend(circuits.iter().map(|label| format!("circuit {label}"))),
        _ => parts.push(format!("circuits {}", circuits.into_iter().collect::<Vec<_>>().join(", "))),
    }
    if parts.is_empty() { "a cable of no circuit".to_owned() } else { parts.join(", ") }
}

/// Labels of a plate's entries in the order of their ids: "E1", "E2". Removed ones keep theirs.
#[must_use]
pub fn entry_labels(plate: &Plate) -> BTreeMap<EntryId, String> {
    plate.entries.keys().enumerate().map(|(index, id)| (*id, format!("E{}", index + 1))).collect()
}

/// The cables through an entry that are not removed, its own first.
pub(crate) fn live_cables<'a>(board: &'a Board, entry: &'a Entry) -> impl Iterator<Item = CableId> + 'a {
    let mut seen = BTreeSet::new();
    entry
        .cable
        .iter()
        .chain(&entry.others)
        .copied()
        .filter(|id| board.cables.get(id).is_some_and(|cable| !cable.removed))
        .filter(move |id| seen.insert(*id))
}

/// What passes through an entry, and its cable unless that is removed.
pub(crate) fn content(board: &Board, entry: &Entry) -> (String, Option<CableId>) {
    let cable = entry.cable.filter(|id| board.cables.get(id).is_some_and(|cable| !cable.removed));
    let words = match (entry.kind, cable, entry.cable) {
        (Some(EntryKind::Blanked), ..) => "blanked".to_owned(),
        (_, Some(id), _) => serves(board, id),
        (_, None, Some(_)) => "a removed cable".to_owned(),
        (_, None, None) => "nothing named".to_owned(),
    };
    (words, cable)
}

/// The plate's width and depth.
pub(crate) fn size(plate: &Plate, id: PlateId) -> Result<(f64, f64), NotReady> {
    let one = |field: &'static str, reading: &survey::Reading<survey::Millimetres>| {
        let value = reading.single().or_else(|| reading.range().map(|range| range.lo())).map(survey::Millimetres::get);
        match value {
            Some(value) if (1.0..=5000.0).contains(&value) => Ok(value),
            _ => Err(NotReady::NoSize { plate: id, field, value: reading.shown() }),
        }
    };
    Ok((one("width", &plate.width)?, one("depth", &plate.depth)?))
}

pub(crate) fn finite(rect: &Rect) -> bool {
    <[f64; 4]>::from(*rect).iter().all(|number| number.is_finite() && number.abs() <= 1e4)
        && rect.w >= 0.0
        && rect.h >= 0.0
}

/// What a plate is called by its face: "bottom plate", "bottom plate 2" where there are several.
/// "plate" where there is none.
#[must_use]
pub fn plate_name(board: &Board, id: PlateId) -> String {
    let Some(plate) = board.plates.get(&id) else { return "plate".to_owned() };
    let same: Vec<PlateId> =
        board.live_plates().filter(|(_, other)| other.face == plate.face).map(|(other, _)| other).collect();
    match same.iter().position(|other| *other == id) {
        Some(index) if same.len() > 1 => format!("{} plate {}", plate.face.words(), index + 1),
        _ => format!("{} plate", plate.face.words()),
    }
}

/// Sets a plate out.
///
/// # Errors
/// [`NotReady`] where there is no such plate or its size is not known.
pub fn setting_out(board: &Board, id: PlateId, tables: &Tables) -> Result<SettingOut, NotReady> {
    let plate = board.plates.get(&id).filter(|plate| !plate.removed).ok_or(NotReady::NoPlate(id))?;
    let (width, depth) = size(plate, id)?;
    let labels = entry_labels(plate);
    let mut entries = Vec::new();
    let mut unplaced = Vec::new();
    for (entry_id, entry) in plate.entries.iter().filter(|(_, entry)| !entry.removed) {
        let label = labels.get(entry_id).cloned().unwrap_or_default();
        let mut lacks = |why: String| unplaced.push(Unplaced { id: *entry_id, label: label.clone(), why });
        let hole = match hole_of(entry, tables) {
            Ok(hole) => hole,
            Err(why) => {
                lacks(why);
                continue;
            }
        };
        let centre = match entry.at {
            Some(at) if at.iter().all(|number| number.is_finite() && number.abs() <= 5000.0) => at,
            Some(_) => {
                lacks("its place is not on a plate: give millimetres from the datum corner".to_owned());
                continue;
            }
            None => {
                lacks("it has no place yet".to_owned());
                continue;
            }
        };
        let (serves, cable) = content(board, entry);
        entries.push(SetEntry {
            id: *entry_id,
            label,
            kind: entry.kind.unwrap_or(EntryKind::Blanked),
            size: entry.size.clone(),
            centre,
            hole,
            serves,
            cable,
            existing: entry.existing,
            locked: entry.locked,
        });
    }
    let mut notes = Vec::new();
    for (field, reading) in [("width", &plate.width), ("depth", &plate.depth)] {
        if reading.single().is_none() {
            notes.push(format!("The {field} is only known as {}: measure it before drilling.", reading.shown()));
        } else if matches!(reading.from.known, survey::Known::Assumed | survey::Known::Stated) {
            notes.push(format!("The {field} is {}: measure it before drilling.", reading.from.known.words()));
        }
    }
    if plate.usable.is_none() {
        notes.push("The part that may be drilled is not known: look for folds, fixings and parts behind.".to_owned());
    }
    Ok(SettingOut {
        plate: id,
        name: plate_name(board, id),
        face: plate.face,
        outline: Rect::new(0.0, 0.0, width, depth),
        thickness: plate.thickness.range().map(|range| range.hi().get()).filter(|value| (0.1..=100.0).contains(value)),
        material: plate.material.get().copied(),
        usable: plate.usable.filter(finite),
        keep_outs: plate.keep_outs.iter().copied().filter(finite).collect(),
        entries,
        unplaced,
        notes,
    })
}

impl SetEntry {
    /// "Ø 20.4 mm", with the limits where there are some.
    #[must_use]
    pub fn hole_words(&self) -> String {
        match (self.hole.opening, self.hole.range) {
            (Opening::Round { .. }, Some((lo, hi))) => format!("{} ({lo} to {hi})", self.hole.opening.words()),
            _ => self.hole.opening.words(),
        }
    }
}
