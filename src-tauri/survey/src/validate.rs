//! Validation: every problem with its field path and what would do.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::fmt::Display;
use std::io::{self, Write};

use serde::Serialize;
use serde_json::Value;
use serde_json::ser::{CharEscape, Formatter, Serializer};

use crate::board::{Board, Cable, Circuit, Device, Entry, MODEL_VERSION, Photo, Plate};
use crate::field::{self, Holds};
use crate::known::Reading;
use crate::message::{Argument, Message};
use crate::problem::{Problem, Severity};
use crate::range::Span;
use crate::say;
use crate::terminal;
use crate::units::{self, Amps};

/// Longest free text, in letters.
pub const LONGEST_TEXT: usize = 4000;
/// Longest name of anything, in letters: an instrument, an enclosure, who said it.
pub const LONGEST_NAME: usize = 400;
/// Largest board, in bytes of its JSON and in values: a survey file with it must be read again.
const LARGEST_BOARD: usize = crate::file::LARGEST / 2;
const MOST_BOARD_VALUES: usize = crate::file::MOST_VALUES / 10 * 9;
/// Most records of one kind on a board.
pub const MOST_RECORDS: usize = 2000;

/// Lists every problem of a board. Empty fields are no problem: a survey begins empty.
#[must_use]
pub fn validate(board: &Board) -> Vec<Problem> {
    let mut list = List(Vec::new());
    if board.model > MODEL_VERSION {
        list.refuse("/model", board.model, say!("problem-newer-model"), say!("remedy-newer-model"));
    }
    fields(board, &mut list);
    supply(board, &mut list);
    if let Some(pattern) = board.enclosure.get() {
        for (field, fault) in pattern.faults() {
            list.refuse(format!("/enclosure/value/{field}"), &pattern.key, fault, say!("remedy-pattern-other"));
        }
    }
    for (id, device) in board.live_devices() {
        check_device(&format!("/devices/{id}"), device, board, &mut list);
    }
    for (id, cable) in board.cables.iter().filter(|(_, cable)| !cable.removed) {
        check_cable(&format!("/cables/{id}"), cable, &mut list);
    }
    for (id, circuit) in board.live_circuits() {
        check_circuit(&format!("/circuits/{id}"), circuit, board, &mut list);
    }
    for (id, plate) in board.live_plates() {
        check_plate(&format!("/plates/{id}"), plate, board, &mut list);
    }
    for (id, photo) in board.photos.iter().filter(|(_, photo)| !photo.removed) {
        check_photo(&format!("/photos/{id}"), photo, &mut list);
    }
    for (id, seen) in &board.observations {
        if let Some(photo) = seen.photo.filter(|photo| !board.photos.contains_key(photo)) {
            let path = format!("/observations/{id}/photo");
            list.refuse(path, photo, say!("problem-no-photo"), say!("remedy-no-photo"));
        }
    }
    places(board, &mut list);
    list.0
}

/// Every text of a board that is longer than its kind may be, and a board that is too large as a whole: what is
/// refused of anything new. Apart from [`validate`], since it goes through all of a board.
#[must_use]
pub fn lengths(board: &Board) -> Vec<Problem> {
    let (longest, values) = (Cell::new(0), Cell::new(0));
    let measure = Measure { text: Cell::new(0), longest: &longest, values: &values };
    let mut bytes = Count(0);
    if board.serialize(&mut Serializer::with_formatter(&mut bytes, measure)).is_err() {
        return Vec::new();
    }
    let mut list = List(Vec::new());
    if bytes.0 > LARGEST_BOARD || values.get() > MOST_BOARD_VALUES {
        list.refuse(
            "",
            format!("{} kB, {} values", bytes.0 / 1024, values.get()),
            say!("problem-board-size"),
            say!("remedy-board-size", size = LARGEST_BOARD / 1024 / 1024, values = MOST_BOARD_VALUES),
        );
    }
    // The common case: nothing is long, and no copy need be gone through.
    if longest.get() > LONGEST_NAME
        && let Ok(value) = serde_json::to_value(board)
    {
        too_long(&value, &mut Vec::new(), &mut list);
    }
    list.0
}

fn too_long(value: &Value, path: &mut Vec<String>, list: &mut List) {
    match value {
        Value::String(text) => {
            // Nothing shorter than a name is looked up.
            let long = |path: &str| field::at(path).is_some_and(|field| field.long);
            if text.len() > LONGEST_NAME && text.chars().count() > LONGEST_NAME {
                let path = crate::file::pointer(path);
                let most = if long(&path) { LONGEST_TEXT } else { LONGEST_NAME };
                if text.chars().count() <= most {
                    return;
                }
                list.refuse(path, text, say!("problem-too-long"), say!("remedy-too-long", most = most));
            }
        }
        Value::Object(object) => {
            for (key, inner) in object {
                // What was settled holds values as they stood, written by the app itself.
                if path.is_empty() && key == "settled" {
                    continue;
                }
                path.push(key.clone());
                too_long(inner, path, list);
                path.pop();
            }
        }
        Value::Array(items) => {
            for (at, inner) in items.iter().enumerate() {
                path.push(at.to_string());
                too_long(inner, path, list);
                path.pop();
            }
        }
        _ => {}
    }
}

/// Notes the longest text and the number of values while a board is written to nowhere.
struct Measure<'a> {
    text: Cell<usize>,
    longest: &'a Cell<usize>,
    values: &'a Cell<usize>,
}

impl Measure<'_> {
    fn longer(&self, by: usize) {
        self.text.set(self.text.get() + by);
        self.longest.set(self.longest.get().max(self.text.get()));
    }
}

impl Formatter for Measure<'_> {
    fn begin_string<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.text.set(0);
        out.write_all(b"\"")
    }
    fn write_string_fragment<W: ?Sized + Write>(&mut self, out: &mut W, fragment: &str) -> io::Result<()> {
        self.longer(fragment.len());
        out.write_all(fragment.as_bytes())
    }
    fn write_char_escape<W: ?Sized + Write>(&mut self, out: &mut W, _: CharEscape) -> io::Result<()> {
        self.longer(1);
        // At most "\u0000".
        out.write_all(b"\\u0000")
    }
    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.values.set(self.values.get() + 1);
        if first { Ok(()) } else { out.write_all(b",") }
    }
    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.values.set(self.values.get() + 1);
        if first { Ok(()) } else { out.write_all(b",") }
    }
    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.values.set(self.values.get() + 1);
        out.write_all(b"[")
    }
}

/// Counts bytes and keeps none.
struct Count(usize);

impl Write for Count {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 += bytes.len();
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Everything that a new board is refused for.
#[must_use]
pub fn refused(board: &Board) -> Vec<Problem> {
    let mut problems = validate(board);
    problems.retain(|problem| problem.severity == Severity::Refused);
    problems.extend(lengths(board));
    problems
}

/// The refusals an edit brings in that were not there before: a board that two people's edits have
/// made contradictory can still be put right step by step.
#[must_use]
pub fn newly_refused(before: &Board, after: &Board) -> Vec<Problem> {
    let mut new = validate(after);
    new.extend(lengths(after));
    new.retain(|problem| problem.severity == Severity::Refused);
    if new.is_empty() {
        return new;
    }
    let mut old = validate(before);
    old.extend(lengths(before));
    new.into_iter()
        .filter(|problem| !old.iter().any(|other| other.path == problem.path && other.message == problem.message))
        .collect()
}

struct List(Vec<Problem>);

impl List {
    fn refuse(&mut self, path: impl Into<String>, value: impl Display, message: Message, remedy: Message) {
        self.0.push(Problem::refused(path, value, message, remedy));
    }
    fn doubt(&mut self, path: impl Into<String>, value: impl Display, message: Message, remedy: Message) {
        self.0.push(Problem::doubt(path, value, message, remedy));
    }
}

/// What holds for every field by the catalogue: its bounds, the length of a text, the number of records.
fn fields(board: &Board, list: &mut List) {
    field::walk(board, &mut |path, record| {
        record.each(&mut |field, held| {
            let path = || format!("{path}/{}", field.name);
            if let Some(((lo, hi), (least, most))) = field.within.zip(held.number())
                // A tolerance may reach below the smallest value; the value itself may not.
                && (least < lo || most > hi * (1.0 + 1e-9) + 1e-12)
            {
                let (message, remedy) = match field.holds {
                    Holds::Quantity { what, symbol, .. } => {
                        let what = units::name(what);
                        let range = bounds(lo, hi, symbol);
                        (
                            say!("problem-quantity", what = what.clone()),
                            say!("remedy-quantity", what = what, range = range),
                        )
                    }
                    _ => (say!("problem-number"), say!("remedy-number", range = bounds(lo, hi, ""))),
                };
                list.refuse(path(), held.shown(), message, remedy);
            }
            if let Some(text) = held.text()
                && text.len() > LONGEST_TEXT
                && text.chars().count() > LONGEST_TEXT
            {
                list.refuse(path(), text, say!("problem-too-long"), say!("remedy-too-long", most = LONGEST_TEXT));
            }
            // What was settled is written by the app itself.
            if held.count().is_some_and(|count| count > MOST_RECORDS) && field.name != "settled" {
                let remedy = say!("remedy-records", most = MOST_RECORDS);
                list.refuse(path(), held.count().unwrap_or_default(), say!("problem-records"), remedy);
            }
        });
    });
}

fn bounds(lo: f64, hi: f64, unit: &'static str) -> Argument {
    Argument::Span { span: Span { lo, hi }, unit, digits: 8 }
}

fn supply(board: &Board, list: &mut List) {
    let supply = &board.supply;
    if supply.reduced.get() == Some(&crate::board::YesNo::Yes)
        && supply.voltage.range().is_some_and(|voltage| voltage.lo().get() > 70.0)
    {
        let value = supply.voltage.shown();
        list.doubt("/supply/voltage", value, say!("problem-reduced"), say!("remedy-reduced"));
    }
    if supply.current_form.get().is_some_and(|form| *form != crate::board::CurrentForm::Ac)
        && supply.phases.get() == Some(&crate::board::SupplyPhases::Three)
    {
        let value = crate::board::SupplyPhases::Three.words();
        list.doubt("/supply/phases", value, say!("problem-dc-phases"), say!("remedy-dc-phases"));
    }
    settings("/supply/upstream_ir".into(), &supply.upstream_ir, &supply.upstream, list);
    if let Some(cable) = supply.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse("/supply/cable", cable, say!("problem-no-cable"), say!("remedy-no-cable"));
    }
}

/// A breaker cannot be set above its own rating.
fn settings(path: String, set: &Reading<Amps>, rated: &Reading<Amps>, list: &mut List) {
    if set.range().zip(rated.range()).is_some_and(|(set, rated)| set.lo() > rated.hi()) {
        let message = say!("problem-setting", rated = rated.shown());
        list.doubt(path, set.shown(), message, say!("remedy-setting"));
    }
}

fn check_device(path: &str, device: &Device, board: &Board, list: &mut List) {
    settings(format!("{path}/ir"), &device.ir, &device.rated, list);
    if device.at.is_some() && board.enclosure.get().is_none() {
        list.doubt(
            format!("{path}/at"),
            device.at.map(|at| at.to_string()).unwrap_or_default(),
            say!("problem-place-without-enclosure"),
            say!("remedy-place-without-enclosure"),
        );
    }
}

fn check_cable(path: &str, cable: &Cable, list: &mut List) {
    if let (Some(all), Some(light)) = (cable.grouped.get(), cable.grouped_light.get())
        && light >= all
    {
        let message = say!("problem-grouped", all = u32::from(*all));
        list.refuse(format!("{path}/grouped_light"), light, message, say!("remedy-grouped"));
    }
    if let (Some(outer), Some(bedding)) = (cable.diameter.range(), cable.bedding_diameter.range())
        && bedding.lo() > outer.hi()
    {
        list.refuse(
            format!("{path}/bedding_diameter"),
            cable.bedding_diameter.shown(),
            say!("problem-bedding"),
            say!("remedy-bedding"),
        );
    }
}

fn check_circuit(path: &str, circuit: &Circuit, board: &Board, list: &mut List) {
    if let Some(device) = circuit.device {
        if !board.devices.contains_key(&device) {
            list.refuse(format!("{path}/device"), device, say!("problem-no-device"), say!("remedy-no-device"));
        } else if board.live_circuits().any(|(_, other)| other.device == Some(device) && !std::ptr::eq(other, circuit))
        {
            list.doubt(format!("{path}/device"), device, say!("problem-shared-device"), say!("remedy-shared-device"));
        }
    }
    if let Some(cable) = circuit.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse(format!("{path}/cable"), cable, say!("problem-no-cable"), say!("remedy-no-cable"));
    }
}

fn check_plate(path: &str, plate: &Plate, board: &Board, list: &mut List) {
    for (id, slot) in plate.slots.iter().filter(|(_, slot)| !slot.removed) {
        let path = format!("{path}/slots/{id}");
        for (field, end) in [("from", slot.from), ("to", slot.to)] {
            if let Some(end) = end.filter(|end| !plate.entries.contains_key(end)) {
                list.refuse(format!("{path}/{field}"), end, say!("problem-slot-entry"), say!("remedy-slot-entry"));
            }
        }
        if slot.from.is_some() && slot.from == slot.to {
            list.refuse(path, "", say!("problem-slot-itself"), say!("remedy-slot-itself"));
        }
    }
    for (index, rect) in plate.usable.iter().chain(&plate.keep_outs).enumerate() {
        let numbers: [f64; 4] = (*rect).into();
        if numbers.iter().any(|number| !number.is_finite() || number.abs() > 5000.0) || rect.w < 0.0 || rect.h < 0.0 {
            let value = format!("{numbers:?}");
            list.refuse(
                format!("{path}/keep_outs"),
                value,
                say!("problem-rectangle", number = index + 1),
                say!("remedy-rectangle"),
            );
        }
    }
    for (id, entry) in plate.entries.iter().filter(|(_, entry)| !entry.removed) {
        check_entry(&format!("{path}/entries/{id}"), entry, board, list);
    }
}

fn check_entry(path: &str, entry: &Entry, board: &Board, list: &mut List) {
    if let Some(at) = entry.at
        && at.iter().any(|number| !number.is_finite() || number.abs() > 5000.0)
    {
        let value = format!("{at:?}");
        list.refuse(format!("{path}/at"), value, say!("problem-entry-place"), say!("remedy-entry-place"));
    }
    if let Some(cable) = entry.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse(format!("{path}/cable"), cable, say!("problem-no-cable"), say!("remedy-no-cable"));
    }
    for cable in entry.others.iter().filter(|cable| !board.cables.contains_key(cable)) {
        list.refuse(format!("{path}/others"), cable, say!("problem-no-cable"), say!("remedy-no-cable"));
    }
    if let Some(photo) = entry.evidence.filter(|photo| !board.photos.contains_key(photo)) {
        list.refuse(format!("{path}/evidence"), photo, say!("problem-no-photo"), say!("remedy-no-photo"));
    }
}

fn check_photo(path: &str, photo: &Photo, list: &mut List) {
    if photo.hash.len() != 64 || !photo.hash.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        list.refuse(format!("{path}/hash"), &photo.hash, say!("problem-hash"), say!("remedy-hash"));
    }
    for (id, mark) in &photo.marks {
        let bad = mark.points.iter().flatten().any(|share| !(-1.0..=2.0).contains(share));
        if bad || mark.points.len() > 500 {
            list.refuse(
                format!("{path}/marks/{id}/points"),
                format!("{:?}", mark.points),
                say!("problem-points"),
                say!("remedy-points"),
            );
        }
    }
}

/// Poles and terminals, where the enclosure is known.
fn places(board: &Board, list: &mut List) {
    let Some(pattern) = board.enclosure.get() else { return };
    if !pattern.faults().is_empty() {
        return;
    }
    let found = terminal::occupancy(board, pattern);
    for (id, reason) in found.misfits {
        let at = board.devices.get(&id).and_then(|device| device.at).map(|at| at.to_string()).unwrap_or_default();
        list.refuse(format!("/devices/{id}/at"), at, reason, say!("remedy-fits"));
    }
    for (pole, holder, claimant) in found.clashes {
        list.refuse(
            format!("/devices/{claimant}/at"),
            pole,
            say!("problem-pole-held", pole = pole.to_string(), holder = holder.to_string()),
            say!("remedy-pole-held"),
        );
    }
    let terminals = terminal::terminals(board, pattern);
    for (circuit, name, reason) in terminals.clashes {
        list.refuse(format!("/circuits/{circuit}/earth_terminals"), name, reason, say!("remedy-terminal"));
    }
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    for (_, circuit) in board.live_circuits().filter(|(_, circuit)| !circuit.number.is_empty()) {
        *numbers.entry(circuit.number.as_str()).or_default() += 1;
    }
    for (id, circuit) in board.live_circuits() {
        if numbers.get(circuit.number.as_str()).is_some_and(|count| *count > 1) {
            list.doubt(
                format!("/circuits/{id}/number"),
                &circuit.number,
                say!("problem-same-number"),
                say!("remedy-same-number"),
            );
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::board::Poles;
    use crate::ids::{BoardId, CircuitId, DeviceId, SiteId};
    use crate::known::{Fact, Known, Provenance};
    use crate::pattern::PatternList;
    use crate::units::SquareMillimetres;
    use uuid::Uuid;

    pub(crate) fn board_with(pattern: &str) -> Board {
        let all = PatternList::parse(include_str!("../../../seed-data/patterns.toml")).unwrap();
        let pattern = all.into_iter().find(|other| other.key == pattern).unwrap();
        let mut board = Board::new(BoardId(Uuid::from_u128(1)), SiteId(Uuid::from_u128(2)), "T-DB1");
        board.enclosure = Fact::of(pattern, Provenance::new(Known::Label));
        board
    }

    /// A device and its circuit at a pole.
    pub(crate) fn put(board: &mut Board, at: &str, poles: Poles) -> CircuitId {
        let number = 100 + board.devices.len() as u128;
        let (device, circuit) = (DeviceId(Uuid::from_u128(number)), CircuitId(Uuid::from_u128(number)));
        board.devices.insert(device, Device { at: Some(at.parse().unwrap()), poles: Some(poles), ..Device::default() });
        board.circuits.insert(circuit, Circuit { device: Some(device), ..Circuit::default() });
        circuit
    }

    #[test]
    fn two_devices_on_one_pole_and_a_way_too_many_are_refused() {
        let mut board = board_with("three-phase-8");
        put(&mut board, "3L1", Poles::P3);
        put(&mut board, "3L2", Poles::P1);
        put(&mut board, "9L1", Poles::P1);
        let problems = validate(&board);
        assert!(
            problems.iter().any(|problem| problem.message.contains("pole 3L2 holds another device")),
            "{problems:#?}"
        );
        assert!(problems.iter().any(|problem| problem.message.contains("no pole 9L1")), "{problems:#?}");
        assert!(problems.iter().all(|problem| problem.path.starts_with('/') && !problem.remedy.is_empty()));
    }

    #[test]
    fn no_text_is_without_an_end() {
        let mut board = board_with("three-phase-8");
        put(&mut board, "2L2", Poles::P1);
        assert_eq!(lengths(&board), vec![]);
        let long = || Some("ä".repeat(LONGEST_NAME + 1));
        board.enclosure.from.by = long();
        board.supply.ze.from.instrument = long();
        board.supply.system.from.rule = Some("ä".repeat(LONGEST_NAME));
        board.place = "ä".repeat(LONGEST_TEXT);
        let paths: Vec<String> = lengths(&board).into_iter().map(|problem| problem.path).collect();
        assert_eq!(paths, ["/enclosure/by", "/supply/ze/instrument"]);
        board.place.push('x');
        assert_eq!(lengths(&board).len(), 3);
        assert_eq!(newly_refused(&board, &board), vec![]);
    }

    #[test]
    fn an_edit_is_refused_only_for_what_it_brings_in() {
        let mut before = board_with("three-phase-8");
        put(&mut before, "3L1", Poles::P3);
        put(&mut before, "3L2", Poles::P1);
        let mut after = before.clone();
        after.place = "elsewhere".into();
        assert_eq!(newly_refused(&before, &after), vec![]);
        let cable = Cable {
            size: Reading::of(SquareMillimetres::new(-2.5), Provenance::new(Known::Label)),
            ..Cable::default()
        };
        after.cables.insert(crate::ids::CableId(Uuid::from_u128(9)), cable);
        let refused = newly_refused(&before, &after);
        assert_eq!(refused.len(), 1);
        assert!(refused[0].path.ends_with("/size") && refused[0].value.contains("-2.5"));
    }
}
