//! What a person does to a board, turned into changes of fields.
//!
//! The screen sends an [`Intent`]; [`lower`] turns it into [`Change`]s with fresh ids and stamps.
//! One intent is one named, undoable save.

use chrono::{DateTime, Utc};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::board::{
    Board, Cable, Circuit, Device, DeviceKind, Entry, EntryKind, LoadKind, Mark, Note, Observation, Photo, Plate,
    Poles, Seen, Slot,
};
use crate::by::By;
use crate::field::{self, Holds};
use crate::ids::{
    CableId, CircuitId, DeviceId, EntryId, MarkId, NewId, NoteId, ObservationId, PhotoId, PlateId, SlotId,
};
use crate::known::{Fact, Known, Provenance, Reading};
use crate::message::Message;
use crate::pattern::{Pattern, Point};
use crate::pole::PoleAt;
use crate::problem::Problem;
use crate::say;
use crate::units::Millimetres;

/// One field set to a value. The path is a JSON pointer into the board (RFC 6901).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// `/circuits/<id>/description`.
    pub path: String,
    /// The new value; a whole record for a new id.
    pub value: Value,
}

/// A device and its new first pole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DeviceMove {
    /// Which.
    pub device: DeviceId,
    /// New first pole.
    pub to: PoleAt,
}

/// An entry to be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NewEntry {
    /// Kind.
    pub kind: EntryKind,
    /// Trade size.
    pub size: String,
    /// Centre from the left rear corner, in millimetres; none where it is yet to be set out.
    pub at: Option<Point>,
    /// The cable it takes.
    pub cable: Option<CableId>,
}

/// An entry and its new centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryPlace {
    /// Which.
    pub entry: EntryId,
    /// New centre, in millimetres from the left rear corner.
    pub at: Point,
}

/// A hole measured on a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TakenHole {
    /// The entry it is; none for a new one.
    pub entry: Option<EntryId>,
    /// Centre, in millimetres from the left rear corner.
    pub at: Point,
    /// How far the true centre may be from it.
    pub at_within: Millimetres,
    /// Diameter; width of a slot.
    pub diameter: Millimetres,
    /// How far the true diameter may be from it.
    pub diameter_within: Millimetres,
    /// Height of a slot; none for a round hole.
    pub height: Option<Millimetres>,
}

/// What a person does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Intent {
    /// Sets one field. A surveyed value is stamped with its own id, role and time.
    Set {
        /// JSON pointer into the board.
        path: String,
        /// The value in the form of the survey file.
        value: Value,
    },
    /// Picks the enclosure; plates it comes with are added where that face has none.
    PickEnclosure {
        /// The pattern.
        pattern: Box<Pattern>,
        /// How it is known.
        known: Known,
    },
    /// Adds a device with its circuit and cable on a free pole.
    AddCircuit {
        /// First pole.
        at: PoleAt,
        /// Poles of the device.
        poles: Poles,
        /// Kind of device.
        device: DeviceKind,
        /// Kind of load.
        load: LoadKind,
        /// What it feeds.
        description: String,
    },
    /// Moves a device, and so its circuit, to other poles.
    MoveDevice {
        /// Which.
        device: DeviceId,
        /// New first pole.
        to: PoleAt,
    },
    /// Moves several devices at once, so that two can change places.
    MoveDevices {
        /// Which, and where to.
        moves: Vec<DeviceMove>,
    },
    /// Adds the incoming cable.
    AddSupplyCable,
    /// Removes a circuit with its device and cable.
    RemoveCircuit {
        /// Which.
        circuit: CircuitId,
    },
    /// Adds an entry to a plate.
    AddEntry {
        /// The plate.
        plate: PlateId,
        /// Kind.
        kind: EntryKind,
        /// Trade size.
        size: String,
        /// Centre from the left rear corner, in millimetres.
        at: Point,
        /// The cable it takes.
        cable: Option<CableId>,
    },
    /// Moves an entry.
    MoveEntry {
        /// The plate.
        plate: PlateId,
        /// Which.
        entry: EntryId,
        /// New centre, in millimetres from the left rear corner.
        at: Point,
    },
    /// Gives an entry the plate's next free number, where another came to bear the same.
    NumberEntry {
        /// The plate.
        plate: PlateId,
        /// Which.
        entry: EntryId,
    },
    /// Removes an entry.
    RemoveEntry {
        /// The plate.
        plate: PlateId,
        /// Which.
        entry: EntryId,
    },
    /// Adds several entries to a plate.
    AddEntries {
        /// The plate.
        plate: PlateId,
        /// Which.
        entries: Vec<NewEntry>,
    },
    /// Moves several entries of a plate at once.
    PlaceEntries {
        /// The plate.
        plate: PlateId,
        /// Which, and where to.
        places: Vec<EntryPlace>,
    },
    /// Takes holes measured on a photo as entries that are there already.
    TakeHoles {
        /// The plate.
        plate: PlateId,
        /// The photo, kept as their evidence.
        photo: PhotoId,
        /// What was measured.
        holes: Vec<TakenHole>,
    },
    /// Joins two holes by a slot.
    AddSlot {
        /// The plate.
        plate: PlateId,
        /// Entry it starts at.
        from: EntryId,
        /// Entry it ends at.
        to: EntryId,
        /// Width of the cut.
        width: Millimetres,
    },
    /// Adds a photo that the store already keeps.
    AddPhoto {
        /// The record.
        photo: Box<Photo>,
    },
    /// Adds a mark to a photo.
    AddMark {
        /// The photo.
        photo: PhotoId,
        /// The mark.
        mark: Mark,
    },
    /// Adds something seen that should not stay so.
    AddObservation {
        /// What.
        seen: Seen,
        /// What it is about: a path, or empty for the board.
        about: String,
        /// Where, in words.
        place: String,
    },
    /// Adds a note.
    AddNote {
        /// The words.
        text: String,
        /// What it is about: a path, or empty.
        about: String,
    },
}

/// Who does it and when: stamped on every surveyed value.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// Who.
    pub by: By,
    /// Now, from the caller's clock.
    pub at: DateTime<Utc>,
}

/// Name of the step, as the undo button says it.
#[must_use]
pub fn name(intent: &Intent) -> Message {
    match intent {
        Intent::Set { path, .. } => say!("act-set", field = field::label(path)),
        Intent::PickEnclosure { pattern, .. } => say!("act-enclosure", name = pattern.named()),
        Intent::AddCircuit { at, .. } => say!("act-circuit", pole = at.to_string()),
        Intent::MoveDevice { to, .. } => say!("act-move", pole = to.to_string()),
        Intent::MoveDevices { moves } => say!("act-moves", count = moves.len()),
        Intent::AddSupplyCable => say!("act-supply-cable"),
        Intent::RemoveCircuit { .. } => say!("act-remove-circuit"),
        Intent::AddEntry { size, .. } => say!("act-entry", size = size.clone()),
        Intent::MoveEntry { .. } => say!("act-move-entry"),
        Intent::NumberEntry { .. } => say!("act-number-entry"),
        Intent::RemoveEntry { .. } => say!("act-remove-entry"),
        Intent::AddEntries { entries, .. } => say!("act-entries", count = entries.len()),
        Intent::PlaceEntries { places, .. } => say!("act-set-out", count = places.len()),
        Intent::TakeHoles { holes, .. } => say!("act-holes", count = holes.len()),
        Intent::AddSlot { .. } => say!("act-slot"),
        Intent::AddPhoto { .. } => say!("act-photo"),
        Intent::AddMark { .. } => say!("act-mark"),
        Intent::AddObservation { seen, .. } => say!("act-seen", what = seen.words()),
        Intent::AddNote { .. } => say!("act-note"),
    }
}

/// Names of steps that are no intents, as stores keep them: what takes a file in writes the same bytes everywhere.
#[cfg(feature = "words")]
const STEPS: [(&str, Message); 4] = [
    ("new board", Message::bare("act-new-board")),
    ("import of a survey", Message::bare("act-import")),
    ("settle a conflict", Message::bare("act-settle")),
    ("photo of the demo", Message::bare("act-demo-photo")),
];

/// The name of a step as a store keeps it: a message, or the words of an older store.
#[cfg(feature = "words")]
#[must_use]
pub fn step(stored: &str) -> Message {
    let own = STEPS.into_iter().find(|(kept, _)| *kept == stored);
    own.map_or_else(|| Message::restored(stored), |(_, message)| message)
}

/// Turns an intent into changes.
///
/// # Errors
/// Problems that name the field, the value and what would do: a record that is not there, a place
/// that is taken or does not exist. What the values themselves must be is checked on the result.
pub fn lower(board: &Board, intent: &Intent, stamp: &Stamp, ids: &mut dyn NewId) -> Result<Vec<Change>, Problem> {
    let mut changes = changes_of(board, intent, stamp, ids)?;
    keep_numbers(board, &mut changes);
    Ok(changes)
}

/// Entries of an older survey keep the numbers they are shown with: no entry that comes later moves them.
fn keep_numbers(board: &Board, changes: &mut Vec<Change>) {
    for (id, plate) in &board.plates {
        if plate.entries.values().all(|entry| entry.number.is_some()) {
            continue;
        }
        for (entry, number) in plate.entry_numbers() {
            let path = format!("/plates/{id}/entries/{entry}/number");
            let given = plate.entries.get(&entry).is_some_and(|entry| entry.number.is_some());
            if !given && !changes.iter().any(|change| change.path == path) {
                changes.push(Change { path, value: json!(number) });
            }
        }
    }
}

fn changes_of(board: &Board, intent: &Intent, stamp: &Stamp, ids: &mut dyn NewId) -> Result<Vec<Change>, Problem> {
    let set = |path: String, value: Value| Change { path, value };
    match intent {
        Intent::Set { path, value } => {
            check_path(board, path)?;
            stays_where_it_is(board, path)?;
            if !shallow(value, MOST_LEVELS) {
                return Err(Problem::refused(path, "", say!("problem-too-deep"), say!("remedy-too-deep")));
            }
            let mut value = value.clone();
            stamp_reading(&mut value, stamp, ids);
            Ok(vec![set(path.clone(), value)])
        }
        Intent::PickEnclosure { pattern, known } => {
            if let Some((field, fault)) = pattern.faults().first() {
                return Err(Problem::refused(
                    format!("/enclosure/value/{field}"),
                    &pattern.key,
                    fault.clone(),
                    say!("remedy-pattern"),
                ));
            }
            let from = fresh(*known, stamp, ids);
            let mut changes = vec![set("/enclosure".to_owned(), record(&Fact::of((**pattern).clone(), from))?)];
            for plate in &pattern.plates {
                if board.live_plates().any(|(_, other)| other.face == plate.face) {
                    continue;
                }
                // Nobody took a rule to the plate: its sizes are what the pattern says of it.
                let mut reading = |value| {
                    let known = if *known == Known::Decided { Known::Decided } else { Known::Stated };
                    let by = (known == Known::Stated)
                        .then(|| format!("pattern {}", pattern.name.chars().take(300).collect::<String>()));
                    Reading::of(value, Provenance { by, ..fresh(known, stamp, ids) })
                };
                let new = Plate {
                    face: plate.face,
                    width: reading(plate.width),
                    depth: reading(plate.depth),
                    thickness: reading(plate.thickness),
                    usable: Some(plate.usable),
                    ..Plate::default()
                };
                changes.push(set(format!("/plates/{}", ids.next()), record(&new)?));
            }
            Ok(changes)
        }
        Intent::AddCircuit { at, poles, device, load, description } => {
            let (device_id, cable_id, circuit_id) = (DeviceId(ids.next()), CableId(ids.next()), CircuitId(ids.next()));
            let new = Device { kind: Some(*device), poles: Some(*poles), at: Some(*at), ..Device::default() };
            let circuit = Circuit {
                description: description.clone(),
                kind: Some(*load),
                device: Some(device_id),
                cable: Some(cable_id),
                ..Circuit::default()
            };
            Ok(vec![
                set(format!("/devices/{device_id}"), record(&new)?),
                set(format!("/cables/{cable_id}"), record(&Cable::default())?),
                set(format!("/circuits/{circuit_id}"), record(&circuit)?),
            ])
        }
        Intent::MoveDevice { device, to } => {
            there(board.devices.get(device).is_some_and(|device| !device.removed), format!("/devices/{device}"))?;
            Ok(vec![set(format!("/devices/{device}/at"), json!(to))])
        }
        Intent::MoveDevices { moves } => {
            few(moves.len(), "/devices")?;
            moves
                .iter()
                .map(|one| {
                    let path = format!("/devices/{}", one.device);
                    there(board.devices.get(&one.device).is_some_and(|device| !device.removed), path.clone())?;
                    Ok(set(format!("{path}/at"), json!(one.to)))
                })
                .collect()
        }
        Intent::AddSupplyCable => {
            if let Some(cable) =
                board.supply.cable.filter(|id| board.cables.get(id).is_some_and(|cable| !cable.removed))
            {
                return Err(Problem::refused(
                    "/supply/cable",
                    cable,
                    say!("problem-there-already"),
                    say!("remedy-there-already"),
                ));
            }
            let id = CableId(ids.next());
            Ok(vec![
                set(format!("/cables/{id}"), record(&Cable::default())?),
                set("/supply/cable".to_owned(), json!(id)),
            ])
        }
        Intent::RemoveCircuit { circuit } => {
            let path = format!("/circuits/{circuit}");
            let Some(found) = board.circuits.get(circuit).filter(|circuit| !circuit.removed) else {
                return Err(missing(path));
            };
            let mut changes = vec![set(format!("{path}/removed"), json!(true))];
            if let Some(device) = found.device {
                changes.push(set(format!("/devices/{device}/removed"), json!(true)));
            }
            let shared = |cable| {
                board.live_circuits().any(|(id, other)| id != *circuit && other.cable == Some(cable))
                    || board.supply.cable == Some(cable)
            };
            if let Some(cable) = found.cable.filter(|cable| !shared(*cable)) {
                changes.push(set(format!("/cables/{cable}/removed"), json!(true)));
                // Its entries stay: the hole is still in the plate.
            }
            Ok(changes)
        }
        Intent::AddEntry { plate, kind, size, at, cable } => {
            let entry = Entry {
                number: Some(plate_of(board, *plate)?.next_entry_number()),
                kind: Some(*kind),
                size: size.clone(),
                at: Some(*at),
                cable: *cable,
                ..Entry::default()
            };
            Ok(vec![set(format!("/plates/{plate}/entries/{}", EntryId(ids.next())), record(&entry)?)])
        }
        Intent::MoveEntry { plate, entry, at } => {
            let path = format!("/plates/{plate}/entries/{entry}");
            let found = board.plates.get(plate).and_then(|plate| plate.entries.get(entry));
            there(found.is_some_and(|entry| !entry.removed), path.clone())?;
            stays_where_it_is(board, &format!("{path}/at"))?;
            Ok(vec![set(format!("{path}/at"), json!(at))])
        }
        Intent::NumberEntry { plate, entry } => {
            let path = format!("/plates/{plate}/entries/{entry}");
            let found = plate_of(board, *plate)?;
            there(found.entries.get(entry).is_some_and(|entry| !entry.removed), path.clone())?;
            Ok(vec![set(format!("{path}/number"), json!(found.next_entry_number()))])
        }
        Intent::RemoveEntry { plate, entry } => {
            let path = format!("/plates/{plate}/entries/{entry}");
            there(board.plates.get(plate).is_some_and(|plate| plate.entries.contains_key(entry)), path.clone())?;
            Ok(vec![set(format!("{path}/removed"), json!(true))])
        }
        Intent::AddEntries { plate, entries } => {
            few(entries.len(), "/entries")?;
            let first = plate_of(board, *plate)?.next_entry_number();
            (first..)
                .zip(entries)
                .map(|(number, new)| {
                    let entry = Entry {
                        number: Some(number),
                        kind: Some(new.kind),
                        size: new.size.clone(),
                        at: new.at,
                        cable: new.cable,
                        ..Entry::default()
                    };
                    Ok(set(format!("/plates/{plate}/entries/{}", EntryId(ids.next())), record(&entry)?))
                })
                .collect()
        }
        Intent::PlaceEntries { plate, places } => {
            few(places.len(), "/places")?;
            let mut changes = Vec::new();
            for place in places {
                let one = Intent::MoveEntry { plate: *plate, entry: place.entry, at: place.at };
                changes.extend(changes_of(board, &one, stamp, ids)?);
            }
            Ok(changes)
        }
        Intent::TakeHoles { plate, photo, holes } => {
            few(holes.len(), "/holes")?;
            there(board.photos.get(photo).is_some_and(|photo| !photo.removed), format!("/photos/{photo}"))?;
            let path = format!("/plates/{plate}");
            let found = plate_of(board, *plate)?;
            let mut number = found.next_entry_number();
            let mut changes = Vec::new();
            for hole in holes {
                changes.extend(take_hole(found, &path, *photo, hole, number, stamp, ids)?);
                number = number.saturating_add(u32::from(hole.entry.is_none()));
            }
            Ok(changes)
        }
        Intent::AddSlot { plate, from, to, width } => {
            let path = format!("/plates/{plate}");
            let found = plate_of(board, *plate)?;
            for end in [from, to] {
                there(found.entries.get(end).is_some_and(|entry| !entry.removed), format!("{path}/entries/{end}"))?;
            }
            let slot = Slot {
                from: Some(*from),
                to: Some(*to),
                width: Reading::of(*width, fresh(Known::Decided, stamp, ids)),
                ..Slot::default()
            };
            Ok(vec![set(format!("{path}/slots/{}", SlotId(ids.next())), record(&slot)?)])
        }
        Intent::AddPhoto { photo } => {
            let mut photo = (**photo).clone();
            photo.at = photo.at.or(Some(stamp.at));
            Ok(vec![set(format!("/photos/{}", PhotoId(ids.next())), record(&photo)?)])
        }
        Intent::AddMark { photo, mark } => {
            there(board.photos.get(photo).is_some_and(|photo| !photo.removed), format!("/photos/{photo}"))?;
            Ok(vec![set(format!("/photos/{photo}/marks/{}", MarkId(ids.next())), record(mark)?)])
        }
        Intent::AddObservation { seen, about, place } => {
            let observation = Observation {
                seen: Some(*seen),
                about: about.clone(),
                place: place.clone(),
                at: Some(stamp.at),
                role: stamp.by.role.clone(),
                ..Observation::default()
            };
            Ok(vec![set(format!("/observations/{}", ObservationId(ids.next())), record(&observation)?)])
        }
        Intent::AddNote { text, about } => {
            let note = Note {
                text: text.clone(),
                about: about.clone(),
                at: Some(stamp.at),
                role: stamp.by.role.clone(),
                ..Note::default()
            };
            Ok(vec![set(format!("/notes/{}", NoteId(ids.next())), record(&note)?)])
        }
    }
}

/// A measured hole: a new entry that is there already, or the fields of one that is.
fn take_hole(
    plate: &Plate,
    path: &str,
    photo: PhotoId,
    hole: &TakenHole,
    number: u32,
    stamp: &Stamp,
    ids: &mut dyn NewId,
) -> Result<Vec<Change>, Problem> {
    let measured =
        |ids: &mut dyn NewId| Provenance { instrument: Some("photo".to_owned()), ..fresh(Known::Measured, stamp, ids) };
    let size = Reading::within(hole.diameter, hole.diameter_within, measured(ids));
    let within = Reading::of(hole.at_within, measured(ids));
    let Some(id) = hole.entry else {
        let entry = Entry {
            number: Some(number),
            kind: Some(if hole.height.is_some() { EntryKind::TrunkingCutOut } else { EntryKind::Blanked }),
            hole: Some(hole.diameter),
            cut_out_height: hole.height,
            at: Some(hole.at),
            at_within: within,
            hole_measured: size,
            evidence: Some(photo),
            existing: true,
            ..Entry::default()
        };
        return Ok(vec![Change { path: format!("{path}/entries/{}", EntryId(ids.next())), value: record(&entry)? }]);
    };
    let path = format!("{path}/entries/{id}");
    there(plate.entries.get(&id).is_some_and(|entry| !entry.removed), path.clone())?;
    let mut changes = vec![
        ("at", json!(hole.at)),
        ("at_within", record(&within)?),
        ("hole_measured", record(&size)?),
        ("hole", json!(hole.diameter)),
        ("evidence", json!(photo)),
        ("existing", json!(true)),
    ];
    if let Some(height) = hole.height {
        changes.push(("cut_out_height", json!(height)));
    }
    Ok(changes.into_iter().map(|(field, value)| Change { path: format!("{path}/{field}"), value }).collect())
}

/// A step with more parts than this is no step of a person.
const MOST_PARTS: usize = 500;

fn few(count: usize, path: &str) -> Result<(), Problem> {
    if (1..=MOST_PARTS).contains(&count) {
        return Ok(());
    }
    Err(Problem::refused(path, count, say!("problem-parts"), say!("remedy-parts", most = MOST_PARTS)))
}

/// Applies changes to a board in memory: what would be saved.
///
/// # Errors
/// Every problem that the result has and the board had not.
pub fn apply(board: &Board, changes: &[Change]) -> Result<Board, Vec<Problem>> {
    let mut value = match serde_json::to_value(board) {
        Ok(value) => value,
        Err(error) => return Err(vec![Problem::refused("/", "", error.to_string(), say!("remedy-unchangeable"))]),
    };
    for change in changes {
        put(&mut value, change).map_err(|problem| vec![problem])?;
    }
    let (after, problems) = crate::file::lenient::<Board>(value);
    match after {
        Some(after) if problems.is_empty() => {
            let refused = crate::validate::newly_refused(board, &after);
            if refused.is_empty() { Ok(after) } else { Err(refused) }
        }
        _ => Err(problems),
    }
}

/// The changes that bring one board to another of the same id. Records that the other does not
/// have stay as they are: a file that leaves something out removes nothing. Nor does one without the numbers of
/// entries take them away.
#[must_use]
pub fn difference(before: &Board, after: &Board) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut after = after.clone();
    for (id, plate) in &mut after.plates {
        let Some(old) = before.plates.get(id) else { continue };
        for (id, entry) in plate.entries.iter_mut().filter(|(_, entry)| entry.number.is_none()) {
            entry.number = old.entries.get(id).and_then(|old| old.number);
        }
    }
    if let (Ok(before), Ok(after)) = (serde_json::to_value(before), serde_json::to_value(&after)) {
        differ(&before, &after, &mut Vec::new(), &mut changes);
    }
    changes
}

fn differ(before: &Value, after: &Value, path: &mut Vec<String>, changes: &mut Vec<Change>) {
    let (Value::Object(old), Value::Object(new)) = (before, after) else { return };
    for (key, value) in new {
        path.push(key.clone());
        match old.get(key) {
            Some(same) if same == value => {}
            Some(Value::Object(inner))
                if value.is_object() && !inner.contains_key("known") && value.get("known").is_none() =>
            {
                differ(&old[key], value, path, changes);
            }
            _ => changes.push(Change { path: crate::file::pointer(path), value: value.clone() }),
        }
        path.pop();
    }
}

fn put(root: &mut Value, change: &Change) -> Result<(), Problem> {
    let (parent, last) = change.path.rsplit_once('/').unwrap_or(("", ""));
    match root.pointer_mut(parent) {
        Some(Value::Object(object)) if !last.is_empty() && !object.contains_key("known") => {
            object.insert(last.replace("~1", "/").replace("~0", "~"), change.value.clone());
            Ok(())
        }
        _ => Err(missing(change.path.clone())),
    }
}

fn record<T: Serialize>(record: &T) -> Result<Value, Problem> {
    serde_json::to_value(record).map_err(|error| Problem::refused("/", "", error.to_string(), say!("remedy-finite")))
}

fn missing(path: String) -> Problem {
    Problem::refused(path.clone(), &path, say!("problem-no-record"), say!("remedy-no-record"))
}

/// Refuses to move an entry that is locked or made: only a measurement says that a hole is elsewhere.
fn stays_where_it_is(board: &Board, path: &str) -> Result<(), Problem> {
    let ["", "plates", plate, "entries", entry, "at"] = path.split('/').collect::<Vec<_>>()[..] else { return Ok(()) };
    let plate = plate.parse().ok().and_then(|id| board.plates.get(&PlateId(id)));
    let found = entry.parse().ok().and_then(|id| plate?.entries.get(&EntryId(id)));
    match found {
        Some(found) if (found.locked || found.existing) && found.at.is_some() => Err(Problem::refused(
            path,
            &found.size,
            if found.existing { say!("problem-hole-made") } else { say!("problem-entry-locked") },
            say!("remedy-entry-stays"),
        )),
        _ => Ok(()),
    }
}

fn plate_of(board: &Board, id: PlateId) -> Result<&Plate, Problem> {
    board.plates.get(&id).filter(|plate| !plate.removed).ok_or_else(|| missing(format!("/plates/{id}")))
}

fn there(found: bool, path: String) -> Result<(), Problem> {
    if found { Ok(()) } else { Err(missing(path)) }
}

/// Most parts of a path, and most levels of a value: the model has fewer than ten.
const MOST_LEVELS: usize = 16;

fn shallow(value: &Value, levels: usize) -> bool {
    match value {
        Value::Object(object) => levels > 0 && object.values().all(|inner| shallow(inner, levels - 1)),
        Value::Array(items) => levels > 0 && items.iter().all(|inner| shallow(inner, levels - 1)),
        _ => true,
    }
}

/// Ids, the model's version and settled conflicts are not for a person to set.
fn check_path(board: &Board, path: &str) -> Result<(), Problem> {
    if path.split('/').count() > MOST_LEVELS + 1 {
        let message = say!("problem-path-parts", count = path.split('/').count() - 1);
        return Err(Problem::refused(path, path, message, say!("remedy-path-parts")));
    }
    let first = path.trim_start_matches('/').split('/').next().unwrap_or_default();
    if matches!(first, "" | "id" | "model" | "site" | "settled") || !path.starts_with('/') {
        return Err(Problem::refused(path, "", say!("problem-not-by-hand"), say!("remedy-not-by-hand")));
    }
    let depth = path.split('/').count() - 1;
    let holds = Board::FIELDS.iter().find(|field| field.name == first).map(|field| field.holds);
    let records = matches!(holds, Some(Holds::Records(_)));
    if (records && depth < 3) || (matches!(holds, Some(Holds::Record(_))) && depth < 2) {
        return Err(Problem::refused(path, "", say!("problem-whole-record"), say!("remedy-whole-record")));
    }
    // The record itself must be there; a new one comes through its own intent.
    if records {
        let value = serde_json::to_value(board).unwrap_or_default();
        let record: String = path.split('/').take(3).collect::<Vec<_>>().join("/");
        there(value.pointer(&record).is_some(), record)?;
    }
    Ok(())
}

fn fresh(known: Known, stamp: &Stamp, ids: &mut dyn NewId) -> Provenance {
    Provenance {
        id: Some(crate::ids::ReadingId(ids.next())),
        role: Some(stamp.by.role.clone()),
        at: Some(stamp.at),
        ..Provenance::new(known)
    }
}

fn stamp_reading(value: &mut Value, stamp: &Stamp, ids: &mut dyn NewId) {
    if let Some(object) = value.as_object_mut()
        && object.contains_key("known")
    {
        object.insert("id".to_owned(), json!(ids.next()));
        object.insert("role".to_owned(), json!(stamp.by.role));
        object.insert("at".to_owned(), json!(stamp.at));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::validate::tests::board_with;
    use uuid::Uuid;

    fn run(board: &Board, intent: &Intent) -> Result<Board, Vec<Problem>> {
        let mut next = 1000 + board.circuits.len() as u128 * 10;
        let mut ids = || {
            next += 1;
            Uuid::from_u128(next)
        };
        let stamp = Stamp { by: By::role("surveyor"), at: DateTime::from_timestamp(1_700_000_000, 0).unwrap() };
        let changes = lower(board, intent, &stamp, &mut ids).map_err(|problem| vec![problem])?;
        apply(board, &changes)
    }

    fn add(at: &str, poles: Poles) -> Intent {
        Intent::AddCircuit {
            at: at.parse().unwrap(),
            poles,
            device: DeviceKind::CircuitBreaker,
            load: LoadKind::Lighting,
            description: "lights".into(),
        }
    }

    #[test]
    fn a_circuit_is_added_changed_moved_and_removed() {
        let board = run(&board_with("three-phase-8"), &add("2L2", Poles::P1)).unwrap();
        let (id, circuit) = board.live_circuits().next().unwrap();
        let cable = circuit.cable.unwrap();
        let size =
            Intent::Set { path: format!("/cables/{cable}/size"), value: json!({"known": "label", "value": "2.5 mm2"}) };
        let board = run(&board, &size).unwrap();
        let reading = &board.cables[&cable].size;
        assert_eq!((reading.shown().as_str(), reading.from.role.as_deref()), ("2.5\u{a0}mm²", Some("surveyor")));
        assert_eq!(name(&size).words(), "change of cable size");
        let device = board.circuits[&id].device.unwrap();
        let board = run(&board, &Intent::MoveDevice { device, to: "5L1".parse().unwrap() }).unwrap();
        assert_eq!(board.devices[&device].at.unwrap().to_string(), "5L1");
        let board = run(&board, &Intent::RemoveCircuit { circuit: id }).unwrap();
        assert_eq!((board.live_circuits().count(), board.circuits.len()), (0, 1));
    }

    #[test]
    fn two_devices_change_places_in_one_step() {
        let board = run(&board_with("three-phase-8"), &add("2L1", Poles::P1)).unwrap();
        let board = run(&board, &add("3L2", Poles::P1)).unwrap();
        let devices: Vec<DeviceId> = board.devices.keys().copied().collect();
        let to = |index: usize, to: &str| DeviceMove { device: devices[index], to: to.parse().unwrap() };
        assert!(run(&board, &Intent::MoveDevice { device: devices[0], to: "3L2".parse().unwrap() }).is_err());
        let board = run(&board, &Intent::MoveDevices { moves: vec![to(0, "3L2"), to(1, "2L1")] }).unwrap();
        let places: Vec<String> = devices.iter().map(|id| board.devices[id].at.unwrap().to_string()).collect();
        assert_eq!(places, ["3L2", "2L1"]);
        assert!(run(&board, &Intent::MoveDevices { moves: vec![] }).unwrap_err()[0].remedy.contains("1 to 500"));
    }

    #[test]
    fn a_measured_hole_is_an_entry_with_its_evidence() {
        let mut board = board_with("three-phase-8");
        let plate = PlateId(Uuid::from_u128(50));
        board.plates.insert(plate, Plate::default());
        board.photos.insert(PhotoId(Uuid::from_u128(60)), Photo { hash: "a".repeat(64), ..Photo::default() });
        let hole = |entry, x| TakenHole {
            entry,
            at: [x, 40.0],
            at_within: Millimetres::new(0.3),
            diameter: Millimetres::new(20.4),
            diameter_within: Millimetres::new(0.2),
            height: None,
        };
        let photo = PhotoId(Uuid::from_u128(60));
        let board = run(&board, &Intent::TakeHoles { plate, photo, holes: vec![hole(None, 30.0)] }).unwrap();
        let (id, entry) = board.plates[&plate].entries.iter().next().unwrap();
        assert!(entry.existing && entry.evidence == Some(photo));
        assert_eq!(entry.hole_measured.shown(), "20.4 ± 0.2\u{a0}mm");
        let board = run(&board, &Intent::TakeHoles { plate, photo, holes: vec![hole(Some(*id), 31.0)] }).unwrap();
        assert_eq!((board.plates[&plate].entries.len(), board.plates[&plate].entries[id].at), (1, Some([31.0, 40.0])));
        let unknown = PhotoId(Uuid::from_u128(61));
        let refused = run(&board, &Intent::TakeHoles { plate, photo: unknown, holes: vec![hole(None, 1.0)] });
        assert!(refused.unwrap_err()[0].path.starts_with("/photos/"));
    }

    #[test]
    fn the_plates_of_a_picked_enclosure_are_as_its_pattern_states_until_they_are_measured() {
        let pattern = board_with("three-phase-8").enclosure.value.unwrap();
        let empty = Board::new(crate::ids::BoardId(Uuid::from_u128(1)), crate::ids::SiteId(Uuid::from_u128(2)), "T");
        for (picked, plates) in
            [(Known::Label, Known::Stated), (Known::Measured, Known::Stated), (Known::Decided, Known::Decided)]
        {
            let pick = Intent::PickEnclosure { pattern: Box::new(pattern.clone()), known: picked };
            let board = run(&empty, &pick).unwrap();
            assert_eq!(board.enclosure.from.known, picked);
            assert!(!board.plates.is_empty());
            for plate in board.plates.values() {
                for reading in [&plate.width, &plate.depth, &plate.thickness] {
                    assert_eq!(reading.from.known, plates);
                    assert_eq!(reading.from.by.is_some(), plates == Known::Stated, "{reading:?}");
                }
            }
        }
    }

    /// A plate as an older survey holds it: its entries have no numbers.
    fn with_old_plate() -> (Board, PlateId, [EntryId; 3]) {
        let mut board = board_with("three-phase-8");
        let ids = [300, 200, 250].map(|id| EntryId(Uuid::from_u128(id)));
        let entries = ids.into_iter().take(2).map(|id| (id, Entry::default())).collect();
        let plate = PlateId(Uuid::from_u128(50));
        board.plates.insert(plate, Plate { entries, ..Plate::default() });
        (board, plate, ids)
    }

    #[test]
    fn entries_keep_their_numbers_whatever_comes_between_them() {
        let (board, plate, [third, first, between]) = with_old_plate();
        let numbers = |board: &Board| board.plates[&plate].entry_numbers();
        assert_eq!((numbers(&board)[&first], numbers(&board)[&third]), (1, 2));
        // Any edit keeps them; a record that comes in later, with an id between them, moves none.
        let note = Intent::AddNote { text: "seen".into(), about: String::new() };
        let mut board = run(&board, &note).unwrap();
        board.plates.get_mut(&plate).unwrap().entries.insert(between, Entry::default());
        let now = numbers(&board);
        assert_eq!((now[&first], now[&third], now[&between]), (1, 2, 3));
        let add = |at| Intent::AddEntry { plate, kind: EntryKind::Bush, size: "20".into(), at, cable: None };
        let board = run(&board, &add([10.0, 10.0])).unwrap();
        assert!(board.plates[&plate].entries.values().all(|entry| entry.number.is_some()));
        assert_eq!(numbers(&board).values().copied().collect::<std::collections::BTreeSet<_>>(), (1..=4).collect());
        // A number is never given twice, though its entry is removed.
        let last = numbers(&board).into_iter().find(|(_, number)| *number == 4).unwrap().0;
        let board = run(&board, &Intent::RemoveEntry { plate, entry: last }).unwrap();
        let new = NewEntry { kind: EntryKind::Bush, size: "20".into(), at: None, cable: None };
        let mut next = 5000;
        let mut fresh = || {
            next += 1;
            Uuid::from_u128(next)
        };
        let stamp = Stamp { by: By::role("surveyor"), at: DateTime::from_timestamp(0, 0).unwrap() };
        let entries = vec![new.clone(), new];
        let changes = lower(&board, &Intent::AddEntries { plate, entries }, &stamp, &mut fresh).unwrap();
        let given: Vec<&Value> = changes.iter().map(|change| &change.value["number"]).collect();
        assert_eq!(given, [5, 6]);
    }

    #[test]
    fn a_locked_or_made_entry_is_moved_by_no_way_of_writing() {
        let (mut board, plate, [one, other, _]) = with_old_plate();
        let entries = &mut board.plates.get_mut(&plate).unwrap().entries;
        *entries.get_mut(&one).unwrap() = Entry { locked: true, at: Some([10.0, 10.0]), ..Entry::default() };
        *entries.get_mut(&other).unwrap() = Entry { existing: true, at: Some([50.0, 10.0]), ..Entry::default() };
        for (entry, part) in [(one, "locked"), (other, "there already")] {
            let path = format!("/plates/{plate}/entries/{entry}/at");
            for intent in
                [Intent::Set { path, value: json!([1.0, 1.0]) }, Intent::MoveEntry { plate, entry, at: [1.0, 1.0] }]
            {
                let problems = run(&board, &intent).unwrap_err();
                assert!(problems[0].message.contains(part), "{problems:?}");
            }
        }
        // Where it is was never said: that can be.
        board.plates.get_mut(&plate).unwrap().entries.get_mut(&one).unwrap().at = None;
        let path = format!("/plates/{plate}/entries/{one}/at");
        assert!(run(&board, &Intent::Set { path, value: json!([1.0, 1.0]) }).is_ok());
    }

    #[test]
    fn an_entry_that_bears_the_number_of_another_is_given_the_next() {
        let (mut board, plate, [one, other, _]) = with_old_plate();
        for entry in board.plates.get_mut(&plate).unwrap().entries.values_mut() {
            entry.number = Some(7);
        }
        let board = run(&board, &Intent::NumberEntry { plate, entry: one }).unwrap();
        let numbers = board.plates[&plate].entry_numbers();
        assert_eq!((numbers[&one], numbers[&other]), (8, 7));
        let path = format!("/plates/{plate}/entries/{one}/number");
        assert!(run(&board, &Intent::Set { path: path.clone(), value: json!(0) }).is_err());
        assert_eq!(field::at(&path).unwrap().name, "number");
        // A survey file from before entries had numbers leaves them.
        let mut older = board.clone();
        for entry in older.plates.get_mut(&plate).unwrap().entries.values_mut() {
            entry.number = None;
        }
        assert_eq!(difference(&board, &older), vec![]);
    }

    #[test]
    fn what_does_not_fit_is_refused_by_name() {
        let board = run(&board_with("three-phase-8"), &add("2L1", Poles::P3)).unwrap();
        assert!(run(&board, &add("2L2", Poles::P1)).unwrap_err()[0].message.contains("pole 2L2 holds another device"));
        let set = |path: &str, value: Value| Intent::Set { path: path.into(), value };
        for (intent, part) in [
            (set("/id", json!("x")), "not set by hand"),
            (set("/circuits", json!({})), "whole record"),
            (set("/circuits/00000000-0000-0000-0000-000000000001/number", json!("1")), "no such record"),
            (set("/supply/ze", json!({"known": "measured", "value": "0.3 bar"})), "0.3 bar"),
            (set("/supply/voltage", json!({"known": "label", "value": "-230 V"})), "no possible voltage"),
            (set("/stage", json!("Older")), "Older"),
        ] {
            let problems = run(&board, &intent).unwrap_err();
            assert!(problems[0].to_string().contains(part), "{part}: {problems:?}");
        }
    }
}
