//! Validation: every problem with its field path and what would do.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::fmt::Display;
use std::io::{self, Write};

use serde::Serialize;
use serde_json::Value;
use serde_json::ser::{CharEscape, Formatter, Serializer};

use crate::board::{Board, Cable, Circuit, Device, Entry, MODEL_VERSION, Photo, Plate};
use crate::known::Reading;
use crate::problem::{Problem, Severity};
use crate::terminal;
use crate::units::{Amps, Quantity};

/// Longest free text, in letters.
pub const LONGEST_TEXT: usize = 4000;
/// Longest name of anything, in letters: an instrument, an enclosure, who said it.
pub const LONGEST_NAME: usize = 400;
/// Largest board, in bytes of its JSON and in values: a survey file with it must be read again.
const LARGEST_BOARD: usize = crate::file::LARGEST / 2;
const MOST_BOARD_VALUES: usize = crate::file::MOST_VALUES / 10 * 9;
/// Most records of one kind on a board.
pub const MOST_RECORDS: usize = 2000;

/// Largest number of an entry.
const MOST_NUMBER: u32 = 99_999;

/// Lists every problem of a board. Empty fields are no problem: a survey begins empty.
#[must_use]
pub fn validate(board: &Board) -> Vec<Problem> {
    let mut list = List(Vec::new());
    if board.model > MODEL_VERSION {
        list.refuse("/model", board.model, "was written by a newer version", "update this app, then open it again");
    }
    list.text("/reference", &board.reference);
    list.text("/place", &board.place);
    for (name, count) in [
        ("devices", board.devices.len()),
        ("circuits", board.circuits.len()),
        ("cables", board.cables.len()),
        ("plates", board.plates.len()),
        ("photos", board.photos.len()),
        ("notes", board.notes.len()),
        ("observations", board.observations.len()),
    ] {
        if count > MOST_RECORDS {
            list.refuse(
                format!("/{name}"),
                count,
                "too many records",
                format!("a board holds up to {MOST_RECORDS} of them"),
            );
        }
    }
    supply(board, &mut list);
    if let Some(pattern) = board.enclosure.get() {
        for (field, fault) in pattern.faults() {
            list.refuse(
                format!("/enclosure/value/{field}"),
                &pattern.key,
                fault,
                "correct the pattern or pick another",
            );
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
    for (id, note) in &board.notes {
        list.text(format!("/notes/{id}/text"), &note.text);
    }
    for (id, seen) in &board.observations {
        list.text(format!("/observations/{id}/place"), &seen.place);
        if let Some(photo) = seen.photo.filter(|photo| !board.photos.contains_key(photo)) {
            let path = format!("/observations/{id}/photo");
            list.refuse(path, photo, "no such photo", "add the photo first, or leave it out");
        }
    }
    list.text("/housing/live_uncovered", &board.housing.live_uncovered);
    if board.housing.labels_fitted.len() > MOST_RECORDS {
        let count = board.housing.labels_fitted.len();
        list.refuse("/housing/labels_fitted", count, "too many labels", format!("a board has up to {MOST_RECORDS}"));
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
            "the board is too large",
            format!("a board takes up to {} MB and {MOST_BOARD_VALUES} values", LARGEST_BOARD / 1024 / 1024),
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

/// Fields of words, as against names.
const FREE_TEXTS: [&str; 7] = ["text", "note", "place", "description", "caption", "fed_from", "live_uncovered"];

fn too_long(value: &Value, path: &mut Vec<String>, list: &mut List) {
    match value {
        Value::String(text) => {
            let free = path.last().is_some_and(|field| FREE_TEXTS.contains(&field.as_str()));
            let most = if free { LONGEST_TEXT } else { LONGEST_NAME };
            if text.len() > most && text.chars().count() > most {
                let path = crate::file::pointer(path);
                list.refuse(path, text, "text is too long", format!("keep it under {most} letters"));
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
    fn refuse(
        &mut self,
        path: impl Into<String>,
        value: impl Display,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.0.push(Problem::refused(path, value, message, remedy));
    }
    fn doubt(
        &mut self,
        path: impl Into<String>,
        value: impl Display,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.0.push(Problem::doubt(path, value, message, remedy));
    }
    fn text(&mut self, path: impl Into<String>, text: &str) {
        if text.len() > LONGEST_TEXT && text.chars().count() > LONGEST_TEXT {
            self.refuse(path, text, "text is too long", format!("keep it under {LONGEST_TEXT} letters"));
        }
    }
    fn few(&mut self, path: impl Into<String>, count: usize) {
        if count > MOST_RECORDS {
            self.refuse(path, count, "too many records", format!("up to {MOST_RECORDS} are kept in one place"));
        }
    }
    /// Both bounds of a reading must lie within these, in the quantity's unit.
    fn within<Q: Quantity>(&mut self, path: String, reading: &Reading<Q>, lo: f64, hi: f64) {
        let Some(range) = reading.range() else { return };
        // A tolerance may reach below the smallest value; the value itself may not.
        let value = reading.single().map_or(range.lo().get(), Quantity::get);
        if value < lo || range.hi().get() > hi * (1.0 + 1e-9) + 1e-12 {
            let remedy = format!("a {} here is {lo} to {}", Q::WHAT, Q::of(hi));
            self.refuse(path, reading.shown(), format!("no possible {}", Q::WHAT), remedy);
        }
    }
}

fn supply(board: &Board, list: &mut List) {
    let supply = &board.supply;
    list.within("/supply/voltage".into(), &supply.voltage, 1.0, 1000.0);
    if supply.reduced.get() == Some(&crate::board::YesNo::Yes)
        && supply.voltage.range().is_some_and(|voltage| voltage.lo().get() > 70.0)
    {
        let message = "no reduced low voltage: that has 55 V or 63.5 V to earth";
        list.doubt("/supply/voltage", supply.voltage.shown(), message, "measure it between line and earth");
    }
    if supply.current_form.get().is_some_and(|form| *form != crate::board::CurrentForm::Ac)
        && supply.phases.get() == Some(&crate::board::SupplyPhases::Three)
    {
        let message = "direct current has no three phases";
        list.doubt("/supply/phases", "three-phase", message, "read both again; direct current counts as single-phase");
    }
    list.within("/supply/ze".into(), &supply.ze, 0.0, 2000.0);
    list.within("/supply/ipf".into(), &supply.ipf, 0.0, 200_000.0);
    list.within("/supply/upstream".into(), &supply.upstream, 0.1, 6300.0);
    list.within("/incomer/rated".into(), &board.incomer.rated, 0.1, 6300.0);
    list.within("/incomer/residual".into(), &board.incomer.residual, 0.001, 30.0);
    list.within("/incomer/loss".into(), &board.incomer.loss, 0.0, 500.0);
    for (path, reading) in [
        ("/supply/upstream_let_through_at", &supply.upstream_let_through_at),
        ("/incomer/conditional", &board.incomer.conditional),
        ("/incomer/short_time", &board.incomer.short_time),
        ("/surroundings/conditional", &board.surroundings.conditional),
        ("/surroundings/short_time", &board.surroundings.short_time),
    ] {
        list.within(path.into(), reading, 1.0, 200_000.0);
    }
    list.within("/supply/upstream_let_through".into(), &supply.upstream_let_through, 0.0, 1e9);
    list.within("/supply/upstream_ir".into(), &supply.upstream_ir, 0.1, 6300.0);
    list.within("/supply/upstream_ii".into(), &supply.upstream_ii, 0.1, 200_000.0);
    list.within("/supply/upstream_isd".into(), &supply.upstream_isd, 0.1, 200_000.0);
    list.within("/supply/upstream_tsd".into(), &supply.upstream_tsd, 0.0, 10.0);
    settings("/supply/upstream_ir".into(), &supply.upstream_ir, &supply.upstream, list);
    list.within("/supply/upstream_residual".into(), &supply.upstream_residual, 0.001, 30.0);
    list.within("/supply/transformer".into(), &supply.transformer, 100.0, 10_000_000.0);
    list.within("/supply/transformer_voltage".into(), &supply.transformer_voltage, 0.001, 0.3);
    list.within("/supply/origin_ipf".into(), &supply.origin_ipf, 0.0, 200_000.0);
    list.within("/supply/origin_ze".into(), &supply.origin_ze, 0.0, 2000.0);
    list.within("/supply/first_fault".into(), &supply.first_fault, 0.0, 1000.0);
    list.within("/supply/electrode".into(), &supply.electrode, 0.0, 10_000.0);
    list.within("/supply/electrode_length".into(), &supply.electrode_length, 0.1, 100.0);
    list.within("/supply/electrode_diameter".into(), &supply.electrode_diameter, 1.0, 500.0);
    list.within("/supply/electrode_ground".into(), &supply.electrode_ground, 0.1, 100_000.0);
    list.within("/supply/earthing_conductor".into(), &supply.earthing_conductor, 0.2, 1000.0);
    list.within("/supply/bonding".into(), &supply.bonding, 0.2, 1000.0);
    list.within("/surroundings/ambient".into(), &board.surroundings.ambient, -40.0, 80.0);
    list.within("/surroundings/diversity".into(), &board.surroundings.diversity, 0.01, 1.0);
    list.text("/supply/fed_from", &supply.fed_from);
    if let Some(cable) = supply.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse("/supply/cable", cable, "no such cable", "add the cable first, or leave it out");
    }
}

/// A breaker cannot be set above its own rating.
fn settings(path: String, set: &Reading<Amps>, rated: &Reading<Amps>, list: &mut List) {
    if set.range().zip(rated.range()).is_some_and(|(set, rated)| set.lo() > rated.hi()) {
        let message = format!("above the rated current of {}", rated.shown());
        list.doubt(path, set.shown(), message, "read setting and rating again");
    }
}

fn check_device(path: &str, device: &Device, board: &Board, list: &mut List) {
    list.within(format!("{path}/rated"), &device.rated, 0.1, 1600.0);
    list.within(format!("{path}/breaking"), &device.breaking, 100.0, 200_000.0);
    list.within(format!("{path}/residual"), &device.residual, 0.001, 30.0);
    list.within(format!("{path}/let_through"), &device.let_through, 0.0, 1e9);
    list.within(format!("{path}/let_through_at"), &device.let_through_at, 1.0, 200_000.0);
    list.within(format!("{path}/selective"), &device.selective, 0.0, 200_000.0);
    list.within(format!("{path}/backed_up"), &device.backed_up, 0.0, 200_000.0);
    list.within(format!("{path}/loss"), &device.loss, 0.0, 500.0);
    list.within(format!("{path}/ir"), &device.ir, 0.1, 6300.0);
    list.within(format!("{path}/ii"), &device.ii, 0.1, 200_000.0);
    list.within(format!("{path}/isd"), &device.isd, 0.1, 200_000.0);
    list.within(format!("{path}/tsd"), &device.tsd, 0.0, 10.0);
    settings(format!("{path}/ir"), &device.ir, &device.rated, list);
    if device.at.is_some() && board.enclosure.get().is_none() {
        list.doubt(
            format!("{path}/at"),
            device.at.map(|at| at.to_string()).unwrap_or_default(),
            "placed on a board whose enclosure is not known",
            "pick the enclosure",
        );
    }
}

fn check_cable(path: &str, cable: &Cable, list: &mut List) {
    list.within(format!("{path}/size"), &cable.size, 0.2, 1000.0);
    list.within(format!("{path}/cpc_size"), &cable.cpc_size, 0.2, 1000.0);
    list.within(format!("{path}/length"), &cable.length, 0.0, 5000.0);
    list.within(format!("{path}/ambient"), &cable.ambient, -40.0, 120.0);
    list.within(format!("{path}/diameter"), &cable.diameter, 1.0, 200.0);
    list.within(format!("{path}/bedding_diameter"), &cable.bedding_diameter, 1.0, 200.0);
    list.within(format!("{path}/bend_factor"), &cable.bend_factor, 0.1, 50.0);
    list.within(format!("{path}/neutral_size"), &cable.neutral_size, 0.2, 1000.0);
    list.within(format!("{path}/in_insulation"), &cable.in_insulation, 0.0, 5000.0);
    list.within(format!("{path}/soil"), &cable.soil, 0.1, 10.0);
    list.within(format!("{path}/burial_depth"), &cable.burial_depth, 0.0, 20.0);
    if let Some(parallel @ (0 | 17..)) = cable.parallel.get() {
        list.refuse(
            format!("{path}/parallel"),
            parallel,
            "no circuit runs so",
            "give 1 where one cable feeds it, up to 16",
        );
    }
    if let Some(cores @ (0 | 62..)) = cable.cores.get() {
        list.refuse(format!("{path}/cores"), cores, "no cable has so many cores", "give 1 to 61");
    }
    if let (Some(all), Some(light)) = (cable.grouped.get(), cable.grouped_light.get())
        && light >= all
    {
        let remedy = "count those of the group that carry little; this circuit is not among them";
        list.refuse(format!("{path}/grouped_light"), light, format!("of {all} in the group"), remedy);
    }
    if let Some(0) = cable.grouped.get() {
        list.refuse(format!("{path}/grouped"), 0, "the circuit itself counts", "give 1 where it runs alone");
    }
    if let (Some(outer), Some(bedding)) = (cable.diameter.range(), cable.bedding_diameter.range())
        && bedding.lo() > outer.hi()
    {
        list.refuse(
            format!("{path}/bedding_diameter"),
            cable.bedding_diameter.shown(),
            "larger than the cable itself",
            "measure both again",
        );
    }
}

fn check_circuit(path: &str, circuit: &Circuit, board: &Board, list: &mut List) {
    list.text(format!("{path}/number"), &circuit.number);
    list.few(format!("{path}/earth_terminals"), circuit.earth_terminals.len());
    list.text(format!("{path}/description"), &circuit.description);
    if let Some(device) = circuit.device {
        if !board.devices.contains_key(&device) {
            list.refuse(format!("{path}/device"), device, "no such device", "add the device first, or leave it out");
        } else if board.live_circuits().any(|(_, other)| other.device == Some(device) && !std::ptr::eq(other, circuit))
        {
            list.doubt(
                format!("{path}/device"),
                device,
                "two circuits on one device",
                "give each its own, or join them",
            );
        }
    }
    if let Some(cable) = circuit.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse(format!("{path}/cable"), cable, "no such cable", "add the cable first, or leave it out");
    }
    let load = &circuit.load;
    list.within(format!("{path}/load/power"), &load.power, 0.0, 2_000_000.0);
    list.within(format!("{path}/load/current"), &load.current, 0.0, 3000.0);
    list.within(format!("{path}/load/power_factor"), &load.power_factor, 0.01, 1.0);
    list.within(format!("{path}/load/efficiency"), &load.efficiency, 0.01, 1.0);
    list.within(format!("{path}/load/demand"), &load.demand, 0.0, 1.5);
    list.within(format!("{path}/load/third_harmonic"), &load.third_harmonic, 0.0, 1.0);
    list.within(format!("{path}/load/leakage"), &load.leakage, 0.0, 10.0);
    list.within(format!("{path}/load/start"), &load.start, 0.5, 20.0);
    list.within(format!("{path}/tests/zs"), &circuit.tests.zs, 0.0, 2000.0);
    // An open protective conductor reads hundreds of megohms.
    list.within(format!("{path}/tests/r1_r2"), &circuit.tests.r1_r2, 0.0, 1e13);
    for (field, reading) in [
        ("ring_line", &circuit.tests.ring_line),
        ("ring_neutral", &circuit.tests.ring_neutral),
        ("ring_cpc", &circuit.tests.ring_cpc),
    ] {
        // Hundreds of megohms are what an interrupted ring reads.
        list.within(format!("{path}/tests/{field}"), reading, 0.0, 1e13);
    }
    list.within(format!("{path}/tests/insulation"), &circuit.tests.insulation, 0.0, 1e13);
}

fn check_plate(path: &str, plate: &Plate, board: &Board, list: &mut List) {
    list.within(format!("{path}/width"), &plate.width, 10.0, 3000.0);
    list.within(format!("{path}/depth"), &plate.depth, 10.0, 3000.0);
    list.within(format!("{path}/thickness"), &plate.thickness, 0.3, 30.0);
    list.within(format!("{path}/wiring_depth"), &plate.wiring_depth, 0.0, 2000.0);
    for (id, slot) in plate.slots.iter().filter(|(_, slot)| !slot.removed) {
        let path = format!("{path}/slots/{id}");
        list.within(format!("{path}/width"), &slot.width, 0.2, 50.0);
        for (field, end) in [("from", slot.from), ("to", slot.to)] {
            if let Some(end) = end.filter(|end| !plate.entries.contains_key(end)) {
                list.refuse(
                    format!("{path}/{field}"),
                    end,
                    "no such entry on this plate",
                    "join two entries of this plate",
                );
            }
        }
        if slot.from.is_some() && slot.from == slot.to {
            list.refuse(path, "", "a slot from an entry to itself", "join two different entries");
        }
    }
    list.few(format!("{path}/slots"), plate.slots.len());
    list.few(format!("{path}/keep_outs"), plate.keep_outs.len());
    for (index, rect) in plate.usable.iter().chain(&plate.keep_outs).enumerate() {
        let numbers: [f64; 4] = (*rect).into();
        if numbers.iter().any(|number| !number.is_finite() || number.abs() > 5000.0) || rect.w < 0.0 || rect.h < 0.0 {
            let value = format!("{numbers:?}");
            list.refuse(
                format!("{path}/keep_outs"),
                value,
                format!("rectangle {} is not one", index + 1),
                "give [x, y, width, height] in millimetres",
            );
        }
    }
    if plate.entries.len() > MOST_RECORDS {
        list.refuse(
            format!("{path}/entries"),
            plate.entries.len(),
            "too many entries",
            format!("a plate holds up to {MOST_RECORDS}"),
        );
    }
    for (id, entry) in plate.entries.iter().filter(|(_, entry)| !entry.removed) {
        check_entry(&format!("{path}/entries/{id}"), entry, board, list);
    }
}

fn check_entry(path: &str, entry: &Entry, board: &Board, list: &mut List) {
    list.text(format!("{path}/size"), &entry.size);
    if let Some(number) = entry.number.filter(|number| !(1..=MOST_NUMBER).contains(number)) {
        let remedy = format!("give a whole number from 1 to {MOST_NUMBER}");
        list.refuse(format!("{path}/number"), number, "no possible number of an entry", remedy);
    }
    if let Some(at) = entry.at
        && at.iter().any(|number| !number.is_finite() || number.abs() > 5000.0)
    {
        list.refuse(format!("{path}/at"), format!("{at:?}"), "not a place on a plate", "give [x, y] in millimetres");
    }
    for (field, size) in [("hole", entry.hole), ("cut_out_height", entry.cut_out_height)] {
        if let Some(size) = size
            && !(1.0..=600.0).contains(&size.get())
        {
            list.refuse(format!("{path}/{field}"), size, "no possible opening", "give 1 mm to 600 mm");
        }
    }
    if let Some(cable) = entry.cable
        && !board.cables.contains_key(&cable)
    {
        list.refuse(format!("{path}/cable"), cable, "no such cable", "add the cable first, or leave it out");
    }
    for cable in entry.others.iter().filter(|cable| !board.cables.contains_key(cable)) {
        list.refuse(format!("{path}/others"), cable, "no such cable", "add the cable first, or leave it out");
    }
    if entry.others.len() > MOST_RECORDS {
        list.refuse(
            format!("{path}/others"),
            entry.others.len(),
            "too many cables",
            format!("an opening takes up to {MOST_RECORDS}"),
        );
    }
    list.within(format!("{path}/hole_measured"), &entry.hole_measured, 1.0, 600.0);
    list.within(format!("{path}/run_length"), &entry.run_length, 0.0, 1000.0);
    list.within(format!("{path}/growth"), &entry.growth, 0.0, 0.95);
    list.within(format!("{path}/at_within"), &entry.at_within, 0.0, 100.0);
    if let Some(photo) = entry.evidence.filter(|photo| !board.photos.contains_key(photo)) {
        list.refuse(format!("{path}/evidence"), photo, "no such photo", "add the photo first, or leave it out");
    }
}

fn check_photo(path: &str, photo: &Photo, list: &mut List) {
    if photo.hash.len() != 64 || !photo.hash.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        list.refuse(format!("{path}/hash"), &photo.hash, "not a SHA-256", "give 64 hexadecimal digits");
    }
    list.text(format!("{path}/caption"), &photo.caption);
    list.few(format!("{path}/marks"), photo.marks.len());
    for (id, mark) in &photo.marks {
        list.text(format!("{path}/marks/{id}/text"), &mark.text);
        let bad = mark.points.iter().flatten().any(|share| !(-1.0..=2.0).contains(share));
        if bad || mark.points.len() > 500 {
            list.refuse(
                format!("{path}/marks/{id}/points"),
                format!("{:?}", mark.points),
                "not points on the picture",
                "give up to 500 points as shares of width and height, 0 to 1",
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
        list.refuse(format!("/devices/{id}/at"), at, reason, "give the device a place it fits");
    }
    for (pole, holder, claimant) in found.clashes {
        list.refuse(
            format!("/devices/{claimant}/at"),
            pole,
            format!("pole {pole} holds another device, {holder}"),
            "move or remove one of the two",
        );
    }
    let terminals = terminal::terminals(board, pattern);
    for (circuit, name, reason) in terminals.clashes {
        list.refuse(
            format!("/circuits/{circuit}/earth_terminals"),
            name,
            reason,
            "give it another terminal; spare ones are free",
        );
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
                "two circuits bear this number",
                "number them apart",
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
