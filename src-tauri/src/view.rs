//! What the screen shows of a board, put together from store, checks and drawing.

use std::collections::BTreeMap;

use api::{
    BoardView, CircuitRow, Conflict, ConflictValue, Currents, EntryView, FanLine, PlateView, ReadingRow, SlotView,
};
use serde_json::Value;
use survey::board::{Board, Cable};
use survey::drawing::rating;
use survey::field;
use survey::range::Span;
use survey::units::Quantity;
use survey::{Amps, Argument, Check, Message, Problem, Range, Subject, Verdict, say, terminal};

use crate::App;
use crate::analysis::Analysed;

/// The whole view. `unread` is what could not be read of the board, `steps` what undo would take back and redo do
/// again.
pub(crate) fn view(
    app: &App,
    analysed: &Analysed,
    unread: Vec<Problem>,
    conflicts: Vec<store::Conflict>,
    steps: [Option<String>; 2],
    site_name: String,
) -> BoardView {
    let Analysed { board, checks, .. } = analysed;
    let [undo, redo] = steps;
    let mut problems = unread;
    problems.extend(analysed.problems.iter().cloned());
    BoardView {
        site_name,
        drawing: analysed.drawing.clone(),
        plates: plates(app, analysed),
        readings: readings(board, checks),
        currents: currents(&analysed.phase_currents),
        rows: rows(analysed),
        conflicts: conflicts.into_iter().map(|found| conflict(board, found)).collect(),
        follows: analysed.follows.clone(),
        checks: checks.clone(),
        problems,
        undo,
        redo,
        version: analysed.version.clone(),
        state: String::new(),
        board: board.clone(),
    }
}

/// The readings that settle the most.
const READINGS: usize = 5;

fn readings(board: &Board, checks: &[Check]) -> Vec<ReadingRow> {
    circuits::plan::readings(board, checks, READINGS)
        .into_iter()
        .map(|errand| {
            let path = errand.paths.first().cloned().unwrap_or_default();
            ReadingRow {
                label: match errand.of.is_empty() {
                    true => place_words(board, &path),
                    false => {
                        say!("place-field", subject = errand.of, field = field::label_on(board, &path)).to_string()
                    }
                },
                path,
                what: errand.what.to_string(),
                checks: u32::try_from(errand.checks).unwrap_or(u32::MAX),
                circuits: u32::try_from(errand.circuits.len()).unwrap_or(u32::MAX),
                settles: errand.settles,
            }
        })
        .collect()
}

/// Where a field is, for a person: "circuit 3L1 press: cable length".
fn place_words(board: &Board, path: &str) -> String {
    let mut parts = path.split('/').skip(1);
    let (record, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let subject = match (board.circuit_at(path), record) {
        (Some(id), _) => plate::subject_name(board, Subject::Circuit(id)),
        (None, "cables") => say!("plate-incoming-cable"),
        (None, "plates") => id.parse().map_or_else(|_| say!("plate-name-none"), |id| plate::plate_name(board, id)),
        _ => return field::label_on(board, path).to_string(),
    };
    say!("place-field", subject = subject, field = field::label(path)).to_string()
}

/// A current as a person reads it, to one decimal.
pub(crate) fn current(range: Range<Amps>) -> Message {
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    let span = Span { lo: tenth(range.lo().get()), hi: tenth(range.hi().get()) };
    if span.hi.is_finite() {
        say!("input-value", value = Argument::Span { span, unit: Amps::SYMBOL, digits: 4 })
    } else {
        let low = Argument::Span { span: Span::point(span.lo), unit: Amps::SYMBOL, digits: 4 };
        say!("fault-from", low = low)
    }
}

fn currents(found: &circuits::PhaseCurrents) -> Currents {
    let percent = |[lo, hi]: [f64; 2]| {
        let span = Span { lo: lo.round(), hi: hi.round() };
        say!("input-value", value = (span, "%")).to_string()
    };
    Currents {
        lines: found
            .lines
            .iter()
            .map(|line| (line.conductor.mark().to_owned(), current(line.current).to_string()))
            .collect(),
        neutral: current(found.neutral).to_string(),
        unbalance: found.unbalance.map(percent).unwrap_or_default(),
    }
}

fn rows(analysed: &Analysed) -> Vec<CircuitRow> {
    let Analysed { board, checks, design_currents: currents, .. } = analysed;
    let pattern = board.enclosure.get().filter(|pattern| pattern.faults().is_empty());
    let terminals = pattern.map(|pattern| terminal::terminals(board, pattern)).unwrap_or_default();
    let mut worst: BTreeMap<survey::CircuitId, Verdict> = BTreeMap::new();
    for check in checks {
        if let Subject::Circuit(id) = check.subject {
            let verdict = worst.entry(id).or_insert(check.verdict);
            *verdict = (*verdict).min(check.verdict);
        }
    }
    let mut rows: Vec<_> = board
        .live_circuits()
        .map(|(id, circuit)| {
            let device = board.device_of(circuit);
            let at = device.and_then(|(_, device)| device.at);
            let poles = pattern
                .zip(device)
                .and_then(|(pattern, (_, device))| terminal::span(pattern, device.at?, device.poles?).ok())
                .unwrap_or_else(|| at.into_iter().collect());
            let row = CircuitRow {
                id,
                name: plate::circuit_label(board, circuit).to_string(),
                poles: poles.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
                description: circuit.description.clone(),
                device: device.map(|(_, device)| device_words(device)).unwrap_or_default(),
                cable: board.cable_of(circuit).map(|(_, cable)| cable_words(cable)).unwrap_or_default(),
                neutral: terminals.neutral.get(&id).cloned().unwrap_or_default(),
                earth: terminals.earth.get(&id).map(|names| names.join(" ")).unwrap_or_default(),
                design_current: currents.get(&id).map(|range| current(*range).to_string()).unwrap_or_default(),
                verdict: worst.get(&id).copied(),
            };
            (at, row)
        })
        .collect();
    rows.sort_by_key(|(at, row)| (at.is_none(), *at, row.id));
    rows.into_iter().map(|(_, row)| row).collect()
}

fn device_words(device: &survey::Device) -> String {
    let kind = device.kind.map_or(say!("cable-device"), survey::DeviceKind::words);
    let poles = device.poles.map(survey::Poles::words).unwrap_or_default();
    Message::several([kind, poles, rating(device)]).to_string()
}

fn cable_words(cable: &Cable) -> String {
    let size = cable.size.said();
    let length = if cable.length.is_unknown() { Message::default() } else { cable.length.said() };
    let material = cable.material.get().map(|material| material.words()).unwrap_or_default();
    let method = cable.method.get().map(|method| say!("cable-method", method = method.key())).unwrap_or_default();
    Message::listed([size, material, method, length]).to_string()
}

fn plates(app: &App, analysed: &Analysed) -> Vec<PlateView> {
    let Analysed { board, checks, .. } = analysed;
    board
        .live_plates()
        .map(|(id, found)| {
            let work = analysed.plates.get(&id);
            let set = work.and_then(|work| work.set.as_ref().ok());
            let size = found.width.single().zip(found.depth.single()).map(|(width, depth)| [width.get(), depth.get()]);
            let labels = plate::entry_labels(found);
            let numbers = found.entry_numbers();
            let faults: Vec<&str> = checks
                .iter()
                .filter(|check| check.subject == Subject::Plate(id) && check.verdict == Verdict::Fails)
                .flat_map(|check| check.inputs.iter().map(|input| input.path.as_str()))
                .collect();
            let mut ordered: Vec<_> = found.entries.iter().filter(|(_, entry)| !entry.removed).collect();
            ordered.sort_by_key(|(id, _)| numbers.get(id));
            let entries = ordered
                .into_iter()
                .map(|(entry_id, entry)| {
                    let placed = set.and_then(|set| set.entries.iter().find(|other| other.id == *entry_id));
                    let hole = entry.kind.and_then(|kind| plate::hole_for(kind, &entry.size, app.plate_tables));
                    let name = labels.get(entry_id).cloned().unwrap_or_default();
                    let (width, height) = match placed.map(|placed| placed.hole.opening) {
                        Some(plate::Opening::Round { diameter }) => (Some(diameter), None),
                        Some(plate::Opening::Slot { width, height }) => (Some(width), Some(height)),
                        None => (entry.hole.map(survey::Millimetres::get), None),
                    };
                    EntryView {
                        id: *entry_id,
                        name: say!("plate-entry-name", entry = name, what = plate::sized(&entry.size, entry.kind))
                            .to_string(),
                        cable: placed.map(|placed| placed.serves.to_string()).unwrap_or_default(),
                        at: entry.at,
                        hole: width,
                        height,
                        clear: hole.and_then(|hole| hole.across_corners),
                        tag: placed.and_then(|placed| placed.tag).map(|tag| (tag.bolt, tag.hole)),
                        existing: entry.existing,
                        locked: entry.locked,
                        conflict: {
                            let own = format!("/entries/{entry_id}/");
                            faults.iter().any(|path| path.contains(&own))
                        },
                        measured: if entry.hole_measured.is_unknown() {
                            String::new()
                        } else {
                            say!("plate-hole-measured", diameter = entry.hole_measured.said()).to_string()
                        },
                    }
                })
                .collect();
            let fan = set
                .iter()
                .flat_map(|set| &set.entries)
                .filter_map(|entry| {
                    let to = work?.space.targets.get(&entry.cable?)?.x;
                    Some(FanLine { entry: entry.id, to, name: entry.serves.to_string() })
                })
                .collect();
            let slots = found
                .slots
                .iter()
                .filter(|(_, slot)| !slot.removed)
                .filter_map(|(slot_id, slot)| {
                    let centre = |end: Option<survey::EntryId>| found.entries.get(&end?).filter(|one| !one.removed)?.at;
                    let width = slot.width.range()?.hi().get();
                    Some(SlotView { id: *slot_id, from: centre(slot.from)?, to: centre(slot.to)?, width })
                })
                .collect();
            PlateView {
                id,
                name: say!("plate-gland-plate", face = found.face.words()).to_string(),
                size,
                datum: found.datum.map_or([false; 2], |corner| [corner.is_right(), corner.is_front()]),
                usable: found.usable,
                keep_outs: found.keep_outs.clone(),
                entries,
                slots,
                fan,
            }
        })
        .collect()
}

/// What a survey file did not change or replaced of what was here, a line each.
pub(crate) fn told(board: &Board, saved: &store::Saved) -> Vec<String> {
    /// Fields named before the rest is counted.
    const NAMED: usize = 30;
    let line = |differs: &store::Differs, kept: bool| {
        let (here, file) = (value_words(&differs.here), value_words(&differs.file));
        let place = place_words(board, &differs.path);
        let words = if kept {
            say!("cli-kept", place = place, here = here, file = file)
        } else {
            say!("cli-replaced", place = place, here = here, file = file)
        };
        words.to_string()
    };
    let mut lines: Vec<String> = Vec::new();
    for (found, kept) in [(&saved.kept, true), (&saved.replaced, false)] {
        lines.extend(found.iter().take(NAMED).map(|differs| line(differs, kept)));
        let more = found.len().saturating_sub(NAMED);
        if more > 0 {
            let words =
                if kept { say!("cli-more-kept", count = more) } else { say!("cli-more-replaced", count = more) };
            lines.push(words.to_string());
        }
    }
    lines
}

fn conflict(board: &Board, found: store::Conflict) -> Conflict {
    let removed = found.kind == store::ConflictKind::RemovedWhileEdited;
    let label = if removed { removal_label(board, &found) } else { field::label(&found.path).to_string() };
    let values = found
        .values
        .into_iter()
        .map(|value| ConflictValue {
            shown: if removed { removal_words(&value.json) } else { value_words(&value.json).to_string() },
            pick: value.pick_id,
            by: value.by.words(),
            value: value.json,
        })
        .collect();
    Conflict { path: found.path, label, values }
}

/// What was removed and what of it was worked on meanwhile: "circuit 3L1 press was removed while
/// its cable size was edited".
fn removal_label(board: &Board, found: &store::Conflict) -> String {
    /// Fields named before the rest is counted.
    const NAMED: usize = 4;
    let mut parts = found.path.split('/').skip(1);
    let (record, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let subject = match (record, id.parse::<uuid::Uuid>()) {
        ("removed", _) => say!("subject-board"),
        ("circuits", Ok(id)) => plate::subject_name(board, Subject::Circuit(survey::CircuitId(id))),
        ("plates", Ok(id)) => plate::plate_name(board, survey::PlateId(id)),
        (record, _) => record.strip_suffix('s').unwrap_or(record).to_owned().into(),
    };
    let mut fields: Vec<String> = found.edited.iter().map(|path| field::label(path).to_string()).collect();
    fields.sort();
    fields.dedup();
    let more = fields.len().saturating_sub(NAMED);
    fields.truncate(NAMED);
    let fields = Message::listed(fields.into_iter().map(Message::plain));
    let label = if more > 0 {
        say!("conflict-removed-more", subject = subject, fields = fields, count = more)
    } else {
        say!("conflict-removed", subject = subject, fields = fields)
    };
    label.to_string()
}

fn removal_words(value: &Value) -> String {
    let words = if value.as_bool() == Some(true) { say!("conflict-leave") } else { say!("conflict-keep") };
    words.to_string()
}

/// "2.5 mm2" as "2.5 mm²".
fn with_symbol(text: &str) -> String {
    let Some((number, unit)) = text.rsplit_once(' ') else { return text.to_owned() };
    let symbol = match unit {
        "mm2" => "mm²",
        "degC" => "°C",
        "ohm" => "Ω",
        "A2s" => "A²s",
        "K.m/W" => "K·m/W",
        other => other,
    };
    format!("{number} {symbol}")
}

/// A value of a survey file as a person reads it.
fn value_words(value: &Value) -> Message {
    match value {
        Value::Null => say!("value-empty"),
        Value::String(text) if text.is_empty() => say!("value-empty"),
        Value::String(text) => text.clone().into(),
        Value::Bool(true) => say!("value-yes"),
        Value::Bool(false) => say!("value-no"),
        Value::Object(object) if object.contains_key("known") => {
            let known = object.get("known").cloned().unwrap_or_default();
            let known = serde_json::from_value(known).map_or(say!("not-known"), survey::Known::words);
            let value = match (object.get("value"), object.get("between")) {
                (Some(Value::Object(inner)), _) => inner.get("name").map(value_words).unwrap_or_default(),
                (Some(value), _) => quantity_words(value),
                (None, Some(Value::Array(ends))) => {
                    let both = |least, most| say!("value-between", least = least, most = most);
                    ends.iter().map(quantity_words).reduce(both).unwrap_or_default()
                }
                _ => return say!("not-known"),
            };
            say!("value-known", value = value, known = known)
        }
        other => other.to_string().into(),
    }
}

fn quantity_words(value: &Value) -> Message {
    match value {
        Value::String(text) if !text.is_empty() => with_symbol(text).into(),
        other => value_words(other),
    }
}
