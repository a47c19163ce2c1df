//! The plate as it is to be made: one derived structure for the screen, the template, the drawing
//! file and the order list.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use survey::message::Argument;
use survey::pattern::{Face, Point, Rect};
use survey::{
    Board, CableId, Circuit, Corner, Entry, EntryId, EntryKind, Message, Plate, PlateId, PlateMaterial, SlotId,
    Subject, say,
};

use crate::hole::{Hole, Opening, hole_of};
use crate::tables::Tables;
use crate::words::{exact, listed};

/// Why a plate cannot be set out.
#[derive(Clone, Debug, PartialEq)]
pub enum NotReady {
    /// No such plate on the board, or it is removed.
    NoPlate(PlateId),
    /// Width or depth is not known.
    NoSize {
        /// The plate.
        plate: PlateId,
        /// "width" or "depth".
        field: &'static str,
        /// What stands there.
        value: Message,
    },
}

impl NotReady {
    /// Path of the plate, or of its field that is wanting.
    #[must_use]
    pub fn place(&self) -> String {
        match self {
            Self::NoPlate(plate) => format!("/plates/{plate}"),
            Self::NoSize { plate, field, .. } => format!("/plates/{plate}/{field}"),
        }
    }

    /// What is wanting and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        match self {
            Self::NoPlate(_) => say!("plate-not-there"),
            Self::NoSize { field, value, .. } => {
                say!("plate-no-size", side = Argument::Choice(field), value = value.clone())
            }
        }
    }
}

impl fmt::Display for NotReady {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}", self.place(), self.message())
    }
}
impl std::error::Error for NotReady {}

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
    /// Centre in millimetres from the left rear corner: across, then away from the rear edge.
    pub centre: Point,
    /// The hole, its limits, what makes it, the room its body takes.
    pub hole: Hole,
    /// What passes through: "circuit 5", "incoming cable", "nothing named".
    pub serves: Message,
    /// Its cable, unless removed.
    pub cable: Option<CableId>,
    /// Made already.
    pub existing: bool,
    /// Stays where it is.
    pub locked: bool,
    /// Where the ear of its earth tag is bolted; none where it has no tag or there is no room for
    /// its ear, so that an earthing locknut is needed.
    pub tag: Option<TagAt>,
}

/// The bolt of an earth tag through the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TagAt {
    /// Centre of its hole, mm from the left rear corner.
    pub bolt: Point,
    /// Diameter of its hole, mm.
    pub hole: f64,
    /// Diameter of the ear's end, kept clear, mm.
    pub ear: f64,
}

/// A slot between two holes.
#[derive(Clone, Debug, PartialEq)]
pub struct SetSlot {
    /// Its id.
    pub id: SlotId,
    /// Label of the entry it starts at.
    pub from: String,
    /// Label of the entry it ends at.
    pub to: String,
    /// Centres of the two, mm.
    pub ends: [Point; 2],
    /// Width of the cut, mm; none where it is not known.
    pub width: Option<f64>,
}

/// One stop of a chain of dimensions.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Distance from the corner the dimensions run from, mm.
    pub at: f64,
    /// Distance from the stop before, or from the corner, mm.
    pub step: f64,
    /// Labels of the entries there.
    pub entries: Vec<String>,
}

/// A place as dimensions give it: millimetres from one corner of a plate, inwards along its width and its depth. Not
/// to be taken for a [`Point`] of the plate, which counts from the left rear corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FromCorner(pub [f64; 2]);

/// Dimensions from one corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimensions {
    /// The corner.
    pub from: Corner,
    /// Along the width.
    pub across: Vec<Stop>,
    /// Along the depth.
    pub along: Vec<Stop>,
    /// Label and centre of every entry, from that corner.
    pub centres: Vec<(String, FromCorner)>,
}

/// A step of the work on the plate.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillStep {
    /// The tool as a person reads it.
    pub tool: Message,
    /// What it makes: "pilot", "Ø 20.4 mm", "tag bolt", "slot".
    pub what: Message,
    /// How many.
    pub count: usize,
    /// Labels of the entries.
    pub entries: Vec<String>,
}

/// An entry that cannot be set out yet.
#[derive(Clone, Debug, PartialEq)]
pub struct Unplaced {
    /// Its id.
    pub id: EntryId,
    /// Its label.
    pub label: String,
    /// What is missing and what would do.
    pub why: Message,
}

/// A tool and the holes it makes.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolUse {
    /// The tool as a person reads it.
    pub tool: Message,
    /// The hole as a person reads it.
    pub hole: Message,
    /// Labels of the entries.
    pub entries: Vec<String>,
}

/// A plate set out. All lengths in millimetres from the left rear corner seen from outside with the rear edge up
/// (upper edge for a plate in the back), but for those of [`Self::dimensions`].
#[derive(Clone, Debug, PartialEq)]
pub struct SettingOut {
    /// The plate.
    pub plate: PlateId,
    /// What a person calls it: "top plate".
    pub name: Message,
    /// The face it closes.
    pub face: Face,
    /// The corner its dimensions run from.
    pub datum: Corner,
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
    /// Entries with place and hole, in the order of their numbers.
    pub entries: Vec<SetEntry>,
    /// Slots whose two entries have a place, in the order of their ids.
    pub slots: Vec<SetSlot>,
    /// Entries that lack something.
    pub unplaced: Vec<Unplaced>,
    /// What a person should know before relying on it.
    pub notes: Vec<Message>,
}

impl SettingOut {
    /// The new holes by tool, smallest tool first, for fewest changes.
    #[must_use]
    pub fn drilling_order(&self) -> Vec<ToolUse> {
        let thousandths = |size: f64| (size * 1000.0).round() as i64;
        let mut order: Vec<([i64; 3], &Hole, Vec<String>)> = Vec::new();
        for entry in self.entries.iter().filter(|entry| !entry.existing) {
            let hole = &entry.hole;
            let key = match hole.opening {
                Opening::Round { diameter } => [thousandths(diameter), 0],
                Opening::Slot { width, height } => [thousandths(width), thousandths(height)],
            };
            let key = [hole.tool.size.map_or(i64::MAX, thousandths), key[0], key[1]];
            let same = order.iter_mut().find(|(other, one, _)| *other == key && one.tool == hole.tool);
            match same {
                Some((.., entries)) => entries.push(entry.label.clone()),
                None => order.push((key, hole, vec![entry.label.clone()])),
            }
        }
        order.sort_by_key(|(key, ..)| *key);
        let made = |hole: &Hole, entries| ToolUse { tool: hole.tool.words(), hole: hole.opening.words(), entries };
        order.into_iter().map(|(_, hole, entries)| made(hole, entries)).collect()
    }

    /// The whole work in order: pilots by size, holes by tool, bolt holes of earth tags, slots.
    #[must_use]
    pub fn drilling(&self) -> Vec<DrillStep> {
        let thousandths = |size: f64| (size * 1000.0).round() as i64;
        let mut pilots: BTreeMap<i64, (f64, Vec<String>)> = BTreeMap::new();
        let mut bolts: BTreeMap<i64, (f64, Vec<String>)> = BTreeMap::new();
        for entry in self.entries.iter().filter(|entry| !entry.existing) {
            if let Some(pilot) = entry.hole.tool.pilot {
                let found = pilots.entry(thousandths(pilot)).or_insert((pilot, Vec::new()));
                found.1.push(entry.label.clone());
            }
            if let Some(tag) = entry.tag {
                bolts.entry(thousandths(tag.hole)).or_insert((tag.hole, Vec::new())).1.push(entry.label.clone());
            }
        }
        let step = |tool: Message, what: Message, entries: Vec<String>| DrillStep {
            count: entries.len(),
            tool,
            what,
            entries,
        };
        let drill = |size| say!("plate-tool-drill", size = exact(size));
        let mut steps: Vec<DrillStep> = pilots
            .into_values()
            .map(|(size, entries)| step(drill(size), say!("plate-drilled-pilot"), entries))
            .collect();
        steps.extend(self.drilling_order().into_iter().map(|made| step(made.tool, made.hole, made.entries)));
        steps.extend(bolts.into_values().map(|(size, entries)| step(drill(size), say!("plate-drilled-bolt"), entries)));
        for slot in &self.slots {
            let what = slot
                .width
                .map_or(say!("plate-drilled-slot-unknown"), |width| say!("plate-drilled-slot", width = exact(width)));
            let entries = vec![slot.from.clone(), slot.to.clone()];
            let made = DrillStep { count: 1, ..step(say!("plate-tool-slot"), what, entries) };
            steps.push(made);
        }
        steps
    }

    /// A place of the plate as it is measured from a corner.
    #[must_use]
    pub fn from_corner(&self, corner: Corner, [x, y]: Point) -> FromCorner {
        FromCorner([
            if corner.is_right() { self.outline.w - x } else { x },
            if corner.is_front() { self.outline.h - y } else { y },
        ])
    }

    /// Cumulative dimensions from a corner.
    #[must_use]
    pub fn dimensions(&self, from: Corner) -> Dimensions {
        let centres: Vec<(String, FromCorner)> =
            self.entries.iter().map(|entry| (entry.label.clone(), self.from_corner(from, entry.centre))).collect();
        let chain = |axis: usize| {
            let mut sorted: Vec<&(String, FromCorner)> = centres.iter().collect();
            sorted.sort_by(|a, b| a.1.0[axis].total_cmp(&b.1.0[axis]));
            let mut stops: Vec<Stop> = Vec::new();
            for (label, at) in sorted {
                let at = at.0[axis];
                match stops.last_mut() {
                    Some(last) if at - last.at < 0.005 => last.entries.push(label.clone()),
                    last => {
                        let step = at - last.map_or(0.0, |stop| stop.at);
                        stops.push(Stop { at, step, entries: vec![label.clone()] });
                    }
                }
            }
            stops
        };
        Dimensions { from, across: chain(0), along: chain(1), centres }
    }

    /// The plate as seen from inside: left and right change places, for marking on the inner face.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let width = self.outline.w;
        let point = |[x, y]: Point| [width - x, y];
        let rect = |rect: Rect| Rect::new(width - rect.right(), rect.y, rect.w, rect.h);
        let mut other = self.clone();
        other.usable = self.usable.map(rect);
        other.keep_outs = self.keep_outs.iter().copied().map(rect).collect();
        for entry in &mut other.entries {
            entry.centre = point(entry.centre);
            entry.tag = entry.tag.map(|tag| TagAt { bolt: point(tag.bolt), ..tag });
        }
        for slot in &mut other.slots {
            slot.ends = slot.ends.map(point);
        }
        other
    }
}

/// What a circuit is called: its number, else the pole it starts on.
#[must_use]
pub fn circuit_label(board: &Board, circuit: &Circuit) -> Message {
    let number = circuit.number.trim();
    if !number.is_empty() {
        return Message::plain(number.to_owned());
    }
    match board.device_of(circuit).and_then(|(_, device)| device.at) {
        Some(at) => Message::plain(at.to_string()),
        None => say!("plate-circuit-unnumbered"),
    }
}

/// What a cable serves, in words.
pub(crate) fn serves(board: &Board, cable: CableId) -> Message {
    let incoming = (board.supply.cable == Some(cable)).then(|| say!("plate-incoming-cable"));
    let mut circuits: Vec<Message> = board
        .live_circuits()
        .filter(|(_, circuit)| circuit.cable == Some(cable))
        .map(|(_, circuit)| circuit_label(board, circuit))
        .collect();
    // Those without a number last, once.
    circuits.sort_by(|a, b| (a.as_plain().is_none(), a.as_plain()).cmp(&(b.as_plain().is_none(), b.as_plain())));
    circuits.dedup();
    let circuits = match circuits.len() {
        0 => None,
        1 => circuits.pop().map(|label| say!("plate-serves-circuit", circuit = label)),
        _ => Some(say!("plate-serves-circuits", circuits = listed(circuits))),
    };
    if incoming.is_none() && circuits.is_none() {
        return say!("plate-serves-no-circuit");
    }
    listed(incoming.into_iter().chain(circuits))
}

/// Labels of a plate's entries by their numbers: "E1", "E2". Removed ones keep theirs.
#[must_use]
pub fn entry_labels(plate: &Plate) -> BTreeMap<EntryId, String> {
    plate.entry_numbers().into_iter().map(|(id, number)| (id, entry_label(number))).collect()
}

/// The label of an entry of this number.
pub(crate) fn entry_label(number: u32) -> String {
    format!("E{number}")
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
pub(crate) fn content(board: &Board, entry: &Entry) -> (Message, Option<CableId>) {
    let cable = entry.cable.filter(|id| board.cables.get(id).is_some_and(|cable| !cable.removed));
    let words = match (entry.kind, cable, entry.cable) {
        (Some(EntryKind::Blanked), ..) => say!("plate-serves-blanked"),
        (_, Some(id), _) => serves(board, id),
        (_, None, Some(_)) => say!("plate-serves-removed"),
        (_, None, None) => say!("plate-serves-nothing"),
    };
    (words, cable)
}

/// The plate's width and depth.
pub(crate) fn size(plate: &Plate, id: PlateId) -> Result<(f64, f64), NotReady> {
    let one = |field: &'static str, reading: &survey::Reading<survey::Millimetres>| {
        let value = reading.single().or_else(|| reading.range().map(|range| range.lo())).map(survey::Millimetres::get);
        match value {
            Some(value) if (1.0..=5000.0).contains(&value) => Ok(value),
            _ => Err(NotReady::NoSize { plate: id, field, value: shown(reading) }),
        }
    };
    Ok((one("width", &plate.width)?, one("depth", &plate.depth)?))
}

/// A length as it was entered.
fn shown(reading: &survey::Reading<survey::Millimetres>) -> Message {
    reading.said()
}

pub(crate) fn finite(rect: &Rect) -> bool {
    <[f64; 4]>::from(*rect).iter().all(|number| number.is_finite() && number.abs() <= 1e4)
        && rect.w >= 0.0
        && rect.h >= 0.0
}

/// What a check speaks of: "circuit 3L1 press", "bottom plate", "the board".
#[must_use]
pub fn subject_name(board: &Board, subject: Subject) -> Message {
    match subject {
        Subject::Board => say!("subject-board"),
        Subject::Circuit(id) => board.circuits.get(&id).map_or_else(Message::default, |circuit| {
            let label = circuit_label(board, circuit);
            match circuit.description.trim_end() {
                "" => say!("subject-circuit", circuit = label),
                words => say!("subject-circuit-described", circuit = label, description = words.to_owned()),
            }
        }),
        Subject::Plate(id) => plate_name(board, id),
    }
}

/// What a plate is called by its face: "bottom plate", "bottom plate 2" where there are several.
/// "plate" where there is none.
#[must_use]
pub fn plate_name(board: &Board, id: PlateId) -> Message {
    let Some(plate) = board.plates.get(&id) else { return say!("plate-name-none") };
    let same: Vec<PlateId> =
        board.live_plates().filter(|(_, other)| other.face == plate.face).map(|(other, _)| other).collect();
    match same.iter().position(|other| *other == id) {
        Some(index) if same.len() > 1 => {
            say!("plate-name-numbered", face = plate.face.words(), number = index + 1)
        }
        _ => say!("plate-name", face = plate.face.words()),
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
    let numbers = plate.entry_numbers();
    let mut ordered: Vec<_> = plate.entries.iter().filter(|(_, entry)| !entry.removed).collect();
    ordered.sort_by_key(|(id, _)| numbers.get(id));
    for (entry_id, entry) in ordered {
        let label = labels.get(entry_id).cloned().unwrap_or_default();
        let mut lacks = |why: Message| unplaced.push(Unplaced { id: *entry_id, label: label.clone(), why });
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
                lacks(say!("plate-lacks-good-place"));
                continue;
            }
            None => {
                lacks(say!("plate-lacks-place"));
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
            tag: None,
        });
    }
    let end = |id: Option<EntryId>| entries.iter().find(|entry| Some(entry.id) == id);
    let slots = plate
        .slots
        .iter()
        .filter(|(_, slot)| !slot.removed)
        .filter_map(|(id, slot)| {
            let (from, to) = (end(slot.from)?, end(slot.to)?);
            let width = slot.width.range().map(|range| range.hi().get()).filter(|width| (0.1..=100.0).contains(width));
            let ends = [from.centre, to.centre];
            Some(SetSlot { id: *id, from: from.label.clone(), to: to.label.clone(), ends, width })
        })
        .collect();
    let mut notes = Vec::new();
    for (field, reading) in [("width", &plate.width), ("depth", &plate.depth)] {
        if reading.single().is_none() {
            notes.push(say!("plate-note-range", side = Argument::Choice(field), value = shown(reading)));
        } else if matches!(reading.from.known, survey::Known::Assumed | survey::Known::Stated) {
            let known = reading.from.known.words();
            notes.push(say!("plate-note-known", side = Argument::Choice(field), known = known));
        }
    }
    if plate.usable.is_none() {
        notes.push(say!("plate-note-usable"));
    }
    let mut set = SettingOut {
        plate: id,
        name: plate_name(board, id),
        face: plate.face,
        datum: plate.datum.unwrap_or(Corner::LeftRear),
        outline: Rect::new(0.0, 0.0, width, depth),
        thickness: plate.thickness.range().map(|range| range.hi().get()).filter(|value| (0.1..=100.0).contains(value)),
        material: plate.material.get().copied(),
        usable: plate.usable.filter(finite),
        keep_outs: plate.keep_outs.iter().copied().filter(finite).collect(),
        entries,
        slots,
        unplaced,
        notes,
    };
    crate::tag::point(&mut set);
    Ok(set)
}

impl SetEntry {
    /// "Ø 20.4 mm", with the limits where there are some.
    #[must_use]
    pub fn hole_words(&self) -> Message {
        match (self.hole.opening, self.hole.range) {
            (Opening::Round { diameter }, Some((lo, hi))) => {
                say!("plate-hole-limits", diameter = exact(diameter), least = exact(lo), most = exact(hi))
            }
            _ => self.hole.opening.words(),
        }
    }
}
