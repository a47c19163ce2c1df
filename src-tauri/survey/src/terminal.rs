//! Which device holds which pole, and which circuit uses which neutral and earth terminal.
//!
//! Terminals are numbered as the poles (common practice, no source): the neutral of pole 3L2 is
//! `3N2`, its earth `3E2`; on a single-phase board `N5` and `E5`. Spares are `NS1…` and `ES1…`.

use smallvec::{SmallVec, smallvec};
use std::collections::{BTreeMap, BTreeSet};

use crate::board::{Board, Circuit, Device, Poles};
use crate::ids::{CircuitId, DeviceId};
use crate::message::Message;
use crate::pattern::{Numbering, Pattern, Phases};
use crate::pole::PoleAt;
use crate::say;

/// Which device holds which pole.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Occupancy {
    /// The device that holds each taken pole; at a clash, the one with the smaller id.
    pub poles: BTreeMap<PoleAt, DeviceId>,
    /// Poles that two devices claim: pole, holder, claimant.
    pub clashes: Vec<(PoleAt, DeviceId, DeviceId)>,
    /// Devices that do not fit, with the reason.
    pub misfits: Vec<(DeviceId, Message)>,
}

/// The poles a device takes from its first pole on.
///
/// # Errors
/// A sentence that says why it does not fit and what would do.
pub fn span(pattern: &Pattern, at: PoleAt, poles: Poles) -> Result<SmallVec<[PoleAt; 3]>, Message> {
    if !pattern.has(at) {
        let (first, last) = match pattern.phases {
            Phases::Single => ("1", pattern.ways.to_string()),
            Phases::Three => ("1L1", format!("{}L3", pattern.ways)),
        };
        return Err(say!("problem-no-pole", pole = at.to_string(), first = first, last = last));
    }
    match poles {
        Poles::P1 | Poles::P1N => Ok(smallvec![at]),
        Poles::P2 => {
            let next = next_pole(pattern, at).ok_or_else(|| say!("problem-two-poles", pole = at.to_string()))?;
            Ok(smallvec![at, next])
        }
        Poles::P3 | Poles::P3N => {
            let first = pattern.phase_order.first().copied();
            match (pattern.phases, at.phase) {
                (Phases::Single, _) => Err(say!("problem-no-three-poles")),
                (Phases::Three, phase) if phase == first => {
                    Ok(pattern.phase_order.iter().map(|&phase| PoleAt::three(at.way, phase)).collect())
                }
                (Phases::Three, _) => {
                    let phase = first.map(|phase| phase.to_string()).unwrap_or_default();
                    Err(say!("problem-whole-way", pole = format!("{}{phase}", at.way)))
                }
            }
        }
    }
}

/// The neighbour of a pole further along its column.
fn next_pole(pattern: &Pattern, at: PoleAt) -> Option<PoleAt> {
    let (here, column) = pattern.pole_rect(at)?;
    let (dx, dy) = match pattern.numbering {
        Numbering::Along => (pattern.pole_pitch.get(), 0.0),
        Numbering::Across | Numbering::Down => (0.0, pattern.pole_pitch.get()),
    };
    pattern.poles().find(|&pole| {
        pattern.pole_rect(pole).is_some_and(|(rect, other)| {
            other == column && (rect.x - here.x - dx).abs() < 0.01 && (rect.y - here.y - dy).abs() < 0.01
        })
    })
}

/// Works out who holds which pole. Devices without a place or a number of poles hold none.
#[must_use]
pub fn occupancy(board: &Board, pattern: &Pattern) -> Occupancy {
    let mut found = Occupancy::default();
    for (id, device) in board.live_devices() {
        let Some((at, poles)) = device.at.zip(device.poles) else { continue };
        match span(pattern, at, poles) {
            Ok(taken) => {
                for pole in taken {
                    match found.poles.get(&pole) {
                        Some(holder) => found.clashes.push((pole, *holder, id)),
                        None => {
                            found.poles.insert(pole, id);
                        }
                    }
                }
            }
            Err(reason) => found.misfits.push((id, reason)),
        }
    }
    found
}

/// How many poles have no device: see [`occupancy`], of which it is quicker.
#[must_use]
pub fn free_poles(board: &Board, pattern: &Pattern) -> usize {
    let at = board.live_devices().filter_map(|(_, device)| device.at.zip(device.poles));
    let mut held: Vec<PoleAt> = at.filter_map(|(at, poles)| span(pattern, at, poles).ok()).flatten().collect();
    held.sort_unstable();
    held.dedup();
    pattern.poles().count().saturating_sub(held.len())
}

/// Name of the neutral terminal tied to a pole.
#[must_use]
pub fn neutral_of(pole: PoleAt) -> String {
    tied(pole, 'N')
}

/// Name of the earth terminal tied to a pole.
#[must_use]
pub fn earth_of(pole: PoleAt) -> String {
    tied(pole, 'E')
}

fn tied(pole: PoleAt, bar: char) -> String {
    match pole.phase {
        Some(phase) => format!("{}{bar}{}", pole.way, phase.index() + 1),
        None => format!("{bar}{}", pole.way),
    }
}

/// All neutral terminals of an enclosure in order: those tied to poles, then the spares.
#[must_use]
pub fn neutrals(pattern: &Pattern) -> Vec<String> {
    pattern.poles().map(neutral_of).chain((1..=pattern.spare_neutrals).map(|n| format!("NS{n}"))).collect()
}

/// All earth terminals of an enclosure in order.
#[must_use]
pub fn earths(pattern: &Pattern) -> Vec<String> {
    pattern.poles().map(earth_of).chain((1..=pattern.spare_earths).map(|n| format!("ES{n}"))).collect()
}

/// Which circuit uses which terminal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Terminals {
    /// Neutral terminal of each circuit that needs one.
    pub neutral: BTreeMap<CircuitId, String>,
    /// Earth terminals of each circuit.
    pub earth: BTreeMap<CircuitId, Vec<String>>,
    /// Terminals that are not there, or that one circuit names twice: circuit, terminal, reason.
    pub clashes: Vec<(CircuitId, String, Message)>,
    /// Terminals that hold conductors of two circuits, as boards are found: circuit, terminal, who has it already.
    pub shared: Vec<(CircuitId, String, CircuitId)>,
    /// Circuits with high protective conductor current for whose second earth no terminal is left.
    pub lacking: Vec<CircuitId>,
}

fn needs_neutral(pattern: &Pattern, device: &Device) -> bool {
    match device.poles {
        // Between two lines, there is no neutral; on a single-phase board a two-pole device has one.
        Some(Poles::P2) => pattern.phases == Phases::Single,
        Some(_) => true,
        None => false,
    }
}

/// Works out the terminals of every circuit with a placed device: as given, else those of its
/// first pole. A circuit with high protective conductor current gets a second earth terminal.
#[must_use]
pub fn terminals(board: &Board, pattern: &Pattern) -> Terminals {
    let mut found = Terminals::default();
    let all_neutrals: BTreeSet<String> = neutrals(pattern).into_iter().collect();
    let all_earths: BTreeSet<String> = earths(pattern).into_iter().collect();
    let mut used: BTreeMap<String, CircuitId> = BTreeMap::new();
    let mut placed: Vec<(CircuitId, &Circuit, &Device, PoleAt)> = board
        .live_circuits()
        .filter_map(|(id, circuit)| {
            let (_, device) = board.device_of(circuit)?;
            Some((id, circuit, device, device.at?))
        })
        .collect();
    placed.sort_by_key(|(id, _, _, at)| (*at, *id));
    for &(id, circuit, device, at) in &placed {
        let neutral = match &circuit.neutral_terminal {
            Some(name) if name.is_empty() => None,
            Some(name) => Some(name.clone()),
            None => needs_neutral(pattern, device).then(|| neutral_of(at)),
        };
        if let Some(name) = neutral {
            claim(&mut used, &all_neutrals, id, &name, &mut found);
            found.neutral.insert(id, name);
        }
        let earths =
            if circuit.earth_terminals.is_empty() { vec![earth_of(at)] } else { circuit.earth_terminals.clone() };
        for name in &earths {
            claim(&mut used, &all_earths, id, name, &mut found);
        }
        found.earth.insert(id, earths);
    }
    // Second earths come last, so that they never take a terminal some circuit owns by its pole.
    let own: BTreeSet<String> = placed.iter().map(|(_, _, _, at)| earth_of(*at)).collect();
    let candidates: Vec<String> = earths(pattern).into_iter().rev().collect();
    for &(id, circuit, device, at) in &placed {
        if !circuit.high_protective_current {
            continue;
        }
        let Some(names) = found.earth.get_mut(&id) else { continue };
        if names.len() >= 2 {
            continue;
        }
        // A multi-pole device has earths of its own other poles; else a spare from the far end.
        let siblings = device.poles.and_then(|poles| span(pattern, at, poles).ok()).unwrap_or_default();
        let second = siblings
            .into_iter()
            .map(earth_of)
            .chain(candidates.iter().cloned())
            .find(|name| !used.contains_key(name) && (!own.contains(name) || *name == earth_of(at)));
        match second {
            Some(name) => {
                used.insert(name.clone(), id);
                names.push(name);
            }
            None => found.lacking.push(id),
        }
    }
    found
}

fn claim(
    used: &mut BTreeMap<String, CircuitId>,
    all: &BTreeSet<String>,
    circuit: CircuitId,
    name: &str,
    found: &mut Terminals,
) {
    if !all.contains(name) {
        found.clashes.push((circuit, name.to_owned(), say!("problem-no-terminal", terminal = name.to_owned())));
    } else if let Some(holder) = used.get(name) {
        if *holder == circuit {
            found.clashes.push((circuit, name.to_owned(), say!("problem-terminal-twice", terminal = name.to_owned())));
        } else {
            found.shared.push((circuit, name.to_owned(), *holder));
        }
    } else {
        used.insert(name.to_owned(), circuit);
    }
}

/// Terminals no circuit uses: neutrals, then earths.
#[must_use]
pub fn spare(pattern: &Pattern, terminals: &Terminals) -> (Vec<String>, Vec<String>) {
    let neutral: BTreeSet<&String> = terminals.neutral.values().collect();
    let earth: BTreeSet<&String> = terminals.earth.values().flatten().collect();
    (
        neutrals(pattern).into_iter().filter(|name| !neutral.contains(name)).collect(),
        earths(pattern).into_iter().filter(|name| !earth.contains(name)).collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::validate::tests::{board_with, put};

    fn pole(text: &str) -> PoleAt {
        text.parse().unwrap()
    }

    #[test]
    fn devices_take_the_poles_of_their_kind() {
        let board = board_with("three-phase-8");
        let pattern = board.enclosure.get().unwrap();
        assert_eq!(span(pattern, pole("3L1"), Poles::P3).unwrap()[..], [pole("3L1"), pole("3L2"), pole("3L3")]);
        // Numbered across: below 1L3 in the left column comes way 3.
        assert_eq!(span(pattern, pole("1L3"), Poles::P2).unwrap()[..], [pole("1L3"), pole("3L1")]);
        assert!(span(pattern, pole("7L3"), Poles::P2).is_err());
        assert!(span(pattern, pole("3L2"), Poles::P3).unwrap_err().contains("3L1"));
        assert!(span(pattern, pole("9L1"), Poles::P1).unwrap_err().contains("8L3"));
        assert!(span(pattern, pole("4"), Poles::P1).is_err());
        let single = board_with("single-phase-6");
        let pattern = single.enclosure.get().unwrap();
        assert_eq!(span(pattern, pole("5"), Poles::P2).unwrap()[..], [pole("5"), pole("6")]);
        assert!(span(pattern, pole("6"), Poles::P2).is_err());
    }

    #[test]
    fn free_poles_are_those_that_no_device_holds() {
        let mut board = board_with("three-phase-8");
        let free = |board: &Board| free_poles(board, board.enclosure.get().unwrap());
        assert_eq!(free(&board), 24);
        put(&mut board, "2L1", Poles::P3N);
        put(&mut board, "1L2", Poles::P1);
        assert_eq!(free(&board), 20);
        // Two that claim one pole hold it once; one that does not fit holds none.
        put(&mut board, "2L3", Poles::P1);
        put(&mut board, "9L1", Poles::P1);
        assert_eq!(free(&board), 20);
        let blanks = crate::arrangement::consequences(&board).blanks;
        assert_eq!(blanks.len(), 20);
    }

    #[test]
    fn a_three_phase_circuit_uses_one_neutral_and_high_current_two_earths() {
        let mut board = board_with("three-phase-8");
        let motor = put(&mut board, "2L1", Poles::P3N);
        let single = put(&mut board, "1L2", Poles::P1);
        for id in [motor, single] {
            board.circuits.get_mut(&id).unwrap().high_protective_current = true;
        }
        let found = terminals(&board, board.enclosure.get().unwrap());
        assert_eq!(found.neutral[&motor], "2N1");
        assert_eq!(found.earth[&motor], ["2E1", "2E2"]);
        assert_eq!(found.earth[&single], ["1E2", "ES2"]);
        assert_eq!(found.clashes, vec![]);
    }

    #[test]
    fn two_circuits_on_one_terminal_are_recorded() {
        let mut board = board_with("three-phase-8");
        put(&mut board, "1L1", Poles::P1);
        let second = put(&mut board, "1L2", Poles::P1N);
        board.circuits.get_mut(&second).unwrap().neutral_terminal = Some("1N1".to_owned());
        let found = terminals(&board, board.enclosure.get().unwrap());
        assert_eq!(found.clashes, vec![]);
        assert_eq!(found.shared.len(), 1);
        assert_eq!((found.shared[0].0, found.shared[0].1.as_str()), (second, "1N1"));
    }
}
