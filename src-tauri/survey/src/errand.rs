//! Readings to take, put together by what a person goes and does: one makers' table, one walk along the
//! cables, one look at the devices of a kind.

use std::collections::BTreeMap;

use crate::board::{Board, Circuit};
use crate::check::NextReading;
use crate::ids::CircuitId;
use crate::message::Message;
use crate::say;

/// One errand and everything it would settle.
#[derive(Clone, Debug, PartialEq)]
pub struct Errand {
    /// What to measure or read.
    pub what: Message,
    /// Path of each field that it fills, in the order they were asked for.
    pub paths: Vec<String>,
    /// Circuits whose checks it helps, in the order of their poles; none where it is the board's own.
    pub circuits: Vec<CircuitId>,
    /// Whom it concerns, for a person: "3L1, 3L2 and 9 more"; empty where that is the board.
    pub of: Message,
    /// Undecided ranges it removes, summed over checks: 1.0 is one check's whole range.
    pub settles: f64,
    /// Undecided checks it helps.
    pub checks: usize,
}

/// Circuits named in full before the rest is counted.
const NAMED: usize = 6;

/// Fields of a device that one data sheet, one makers' table or one look tells of all devices of a kind.
const BY_KIND: &[&str] = &[
    "selective",
    "let_through",
    "let_through_at",
    "energy_class",
    "terminals_90",
    "neutral_protected",
    "for_it",
    "dc_rated",
    "breaking",
    "loss",
];

/// Puts readings together by record and field, the most useful first, with whom each concerns.
#[must_use]
pub fn errands<'a>(board: &Board, next: impl IntoIterator<Item = &'a NextReading>) -> Vec<Errand> {
    let mut found = grouped(next);
    for errand in &mut found {
        errand.circuits = circuits(board, &errand.paths);
        let field = errand.paths.first().map_or("", |path| key(path).1);
        errand.of = whom(board, field, errand);
    }
    found
}

/// The same without the board: whom an errand concerns is left out.
#[must_use]
pub fn grouped<'a>(next: impl IntoIterator<Item = &'a NextReading>) -> Vec<Errand> {
    let mut by_key: BTreeMap<(&str, &str), Errand> = BTreeMap::new();
    for reading in next {
        let errand = by_key.entry(key(reading.path.as_str())).or_insert_with(|| Errand {
            what: reading.what.clone(),
            paths: Vec::new(),
            circuits: Vec::new(),
            of: Message::default(),
            settles: 0.0,
            checks: 0,
        });
        errand.settles += reading.settles;
        errand.checks += 1;
        if !errand.paths.iter().any(|path| path == reading.path.as_str()) {
            errand.paths.push(reading.path.to_string());
        }
    }
    let mut found: Vec<Errand> = by_key.into_values().collect();
    found.sort_by(|a, b| b.settles.total_cmp(&a.settles).then_with(|| a.paths.cmp(&b.paths)));
    found
}

/// What is the same errand: the kind of record and its field, whichever record it is.
fn key(path: &str) -> (&str, &str) {
    let rest = path.trim_start_matches('/');
    match rest.split_once('/') {
        Some((record @ ("circuits" | "devices" | "cables"), rest)) => {
            (record, rest.split_once('/').map_or("", |(_, field)| field))
        }
        _ => ("", rest),
    }
}

fn circuits(board: &Board, paths: &[String]) -> Vec<CircuitId> {
    let mut found: Vec<CircuitId> = Vec::new();
    for id in paths.iter().filter_map(|path| board.circuit_at(path)) {
        if !found.contains(&id) {
            found.push(id);
        }
    }
    found.sort_by_key(|id| {
        let at = board.circuits.get(id).and_then(|circuit| board.device_of(circuit)).and_then(|(_, device)| device.at);
        (at.is_none(), at, *id)
    });
    found
}

/// What a circuit is called in a list: its number, or the pole it starts on.
#[must_use]
pub fn short_name(board: &Board, circuit: &Circuit) -> Message {
    match (circuit.number.as_str(), board.device_of(circuit).and_then(|(_, device)| device.at)) {
        ("", Some(at)) => at.to_string().into(),
        ("", None) if circuit.description.is_empty() => say!("errand-circuit-unnamed"),
        ("", None) => circuit.description.clone().into(),
        (number, _) => number.to_owned().into(),
    }
}

fn whom(board: &Board, field: &str, errand: &Errand) -> Message {
    let mut groups: Vec<(String, Vec<Message>)> = Vec::new();
    for circuit in errand.circuits.iter().take(NAMED).filter_map(|id| board.circuits.get(id)) {
        let kind = match board.device_of(circuit) {
            Some((_, device)) if BY_KIND.contains(&field) => {
                // The letter of a curve is the same in every language.
                let curve = device.curve.get().map(|curve| curve.words().to_string()).unwrap_or_default();
                if device.rated.is_unknown() { curve } else { format!("{curve}{}", device.rated.shown()) }
            }
            _ => String::new(),
        };
        let name = match (errand.circuits.len(), circuit.description.as_str()) {
            (1, description)
                if !description.is_empty() && short_name(board, circuit).as_plain() != Some(description) =>
            {
                say!("errand-circuit", name = short_name(board, circuit), description = description.to_owned())
            }
            _ => short_name(board, circuit),
        };
        match groups.iter_mut().find(|(other, _)| *other == kind) {
            Some((_, names)) => names.push(name),
            None => groups.push((kind, vec![name])),
        }
    }
    // The incoming cable belongs to no circuit.
    let incoming = |path: &String| {
        board
            .supply
            .cable
            .is_some_and(|id| path.strip_prefix("/cables/").is_some_and(|rest| rest.starts_with(&id.to_string())))
    };
    let mut parts: Vec<Message> = Vec::new();
    if errand.paths.iter().any(incoming) {
        parts.push(say!("errand-incoming"));
    }
    parts.extend(groups.into_iter().map(|(kind, names)| match kind.is_empty() {
        true => Message::listed(names),
        false => say!("errand-kind", kind = kind, circuits = Message::listed(names)),
    }));
    if parts.is_empty() {
        return Message::default();
    }
    match errand.circuits.len().saturating_sub(NAMED) {
        0 => say!("errand-circuits", circuits = parts),
        more => say!("errand-more", circuits = parts, count = more),
    }
}
