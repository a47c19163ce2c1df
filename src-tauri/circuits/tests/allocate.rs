//! Way allocation against every allocation there is, and on a full board.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::balance::{AllocateError, Allocation, RESOLUTION, Step, Wishes, allocate};
use circuits::phase_currents;
use common::{Job, add, board, tables};
use proptest::prelude::*;
use std::collections::BTreeSet;
use survey::{Board, CircuitId, PoleAt, Poles, SupplyPhases, terminal};

const POLES: [&str; 12] = ["1L1", "1L2", "1L3", "2L1", "2L2", "2L3", "3L1", "3L2", "3L3", "4L1", "4L2", "4L3"];

fn loaded(currents: &[(f64, f64)]) -> (Board, Vec<CircuitId>) {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let ids = currents
        .iter()
        .enumerate()
        .map(|(index, (current, power_factor))| {
            let at = POLES[index];
            add(
                &mut board,
                index as u128 + 1,
                &Job { at, current: Some(*current), power_factor: *power_factor, ..Job::default() },
            )
        })
        .collect();
    (board, ids)
}

/// Carries the moves out one after the other; the poles must be free when they are taken.
fn carry_out(board: &mut Board, allocation: &Allocation) {
    let pattern = board.enclosure.get().unwrap().clone();
    let span = |at, poles| terminal::span(&pattern, at, poles).unwrap();
    let devices = board.devices.values().map(|device| span(device.at.unwrap(), device.poles.unwrap()));
    let mut held: BTreeSet<PoleAt> = devices.flatten().collect();
    for step in &allocation.steps {
        let moves = match step {
            Step::Move(one) => vec![*one],
            Step::Exchange(ring) => ring.clone(),
        };
        let poles: Vec<Poles> = moves
            .iter()
            .map(|one| board.devices[&board.circuits[&one.circuit].device.unwrap()].poles.unwrap())
            .collect();
        for (one, poles) in moves.iter().zip(&poles) {
            span(one.from, *poles).iter().for_each(|pole| assert!(held.remove(pole), "{pole} is not held"));
        }
        for (one, poles) in moves.iter().zip(&poles) {
            span(one.to, *poles).iter().for_each(|pole| assert!(held.insert(*pole), "{pole} is taken"));
            let device = board.circuits[&one.circuit].device.unwrap();
            board.devices.get_mut(&device).unwrap().at = Some(one.to);
        }
    }
}

fn largest(board: &Board) -> f64 {
    phase_currents(board, &tables()).lines.iter().map(|line| line.current.hi().get()).fold(0.0, f64::max)
}

/// Every way to spread the loads over three lines of four poles each.
fn by_trying_all(currents: &[(f64, f64)]) -> f64 {
    let count = 3_usize.pow(currents.len() as u32);
    let mut best = f64::INFINITY;
    for code in 0..count {
        let (mut rest, mut sums, mut used) = (code, [[0.0_f64; 2]; 3], [0; 3]);
        for (current, factor) in currents {
            let line = rest % 3;
            rest /= 3;
            sums[line][0] += current * factor;
            sums[line][1] += current * (1.0 - factor * factor).sqrt();
            used[line] += 1;
        }
        if used.iter().all(|used| *used <= 4) {
            let largest = sums.iter().map(|[a, r]| (a * a + r * r).sqrt()).fold(0.0, f64::max);
            best = best.min(largest);
        }
    }
    best
}

/// A load on a board: current, power factor, first pole, and whether it is between two lines.
type Load = (f64, f64, usize, bool);

/// The largest line current of the best of all ways to place loads on one line or between two: every
/// pair of neighbouring poles for the latter, every line with a pole left for the former. Phasors by
/// hand: line l stands at −120°·l, a load between lines a and b draws along their difference.
fn by_trying_all_pairs(loads: &[Load], neighbours: &[[usize; 2]]) -> f64 {
    fn go(loads: &[Load], neighbours: &[[usize; 2]], held: u32, taken: [u32; 3], lines: [[f64; 2]; 3], best: &mut f64) {
        let Some(((current, factor, _, two), rest)) = loads.split_first() else {
            let largest = lines.iter().map(|[re, im]| (re * re + im * im).sqrt()).fold(0.0, f64::max);
            *best = best.min(largest);
            return;
        };
        let at = |line: usize| -120.0_f64.to_radians() * line as f64;
        let draw = |angle: f64| {
            let angle = angle - libm::acos(*factor);
            [current * libm::cos(angle), current * libm::sin(angle)]
        };
        if !two {
            for line in (0..3).filter(|line| taken[*line] < 4) {
                let (mut taken, mut lines, own) = (taken, lines, draw(at(line)));
                taken[line] += 1;
                lines[line] = [lines[line][0] + own[0], lines[line][1] + own[1]];
                go(rest, neighbours, held, taken, lines, best);
            }
            return;
        }
        for poles in neighbours {
            let mask = 1 << poles[0] | 1 << poles[1];
            let [a, b] = poles.map(|pole| pole % 3);
            if held & mask != 0 {
                continue;
            }
            if taken[a] == 4 || taken[b] == 4 {
                continue;
            }
            let across = [libm::cos(at(a)) - libm::cos(at(b)), libm::sin(at(a)) - libm::sin(at(b))];
            let own = draw(libm::atan2(across[1], across[0]));
            let (mut taken, mut lines) = (taken, lines);
            for (line, sign) in [(a, 1.0), (b, -1.0)] {
                taken[line] += 1;
                lines[line] = [lines[line][0] + sign * own[0], lines[line][1] + sign * own[1]];
            }
            go(rest, neighbours, held | mask, taken, lines, best);
        }
    }
    let mut sorted = loads.to_vec();
    sorted.sort_by_key(|load| !load.3);
    let mut best = f64::INFINITY;
    go(&sorted, neighbours, 0, [0; 3], [[0.0; 2]; 3], &mut best);
    best
}

/// Neighbouring poles of the four-way enclosure, by their places in `POLES`.
fn neighbours() -> Vec<[usize; 2]> {
    let board = board("three-phase-4", SupplyPhases::Three);
    let pattern = board.enclosure.get().unwrap();
    let index = |pole: &PoleAt| POLES.iter().position(|name| pole.to_string() == **name).unwrap();
    let spans = pattern.poles().filter_map(|pole| terminal::span(pattern, pole, Poles::P2).ok());
    spans.map(|span| [index(&span[0]), index(&span[1])]).collect()
}

/// Loads with places of their own, those between two lines first; `skip` leaves out neighbours.
fn places_for(twos: &[(f64, f64)], ones: &[(f64, f64)], neighbours: &[[usize; 2]], skip: usize) -> Vec<Load> {
    let mut held = BTreeSet::new();
    let mut found = Vec::new();
    let mut open = neighbours.iter().enumerate().filter(|(index, _)| skip >> index & 1 == 0).map(|(_, two)| *two);
    for (current, factor) in twos {
        let Some(two) = open.find(|two| two.iter().all(|pole| !held.contains(pole))) else { break };
        held.extend(two);
        found.push((*current, *factor, two[0], true));
    }
    let free = (0..POLES.len()).filter(|pole| !held.contains(pole));
    found.extend(ones.iter().zip(free).map(|((current, factor), pole)| (*current, *factor, pole, false)));
    found
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn two_pole_devices_move_as_blocks(
        twos in prop::collection::vec((1.0..40.0_f64, 0.6..1.0_f64), 1..4),
        ones in prop::collection::vec((1.0..40.0_f64, 0.6..1.0_f64), 0..4),
        skip in 0..64_usize,
    ) {
        let neighbours = neighbours();
        let loads = places_for(&twos, &ones, &neighbours, skip);
        let mut board = board("three-phase-4", SupplyPhases::Three);
        for (index, (current, power_factor, at, two)) in loads.iter().enumerate() {
            let poles = if *two { Poles::P2 } else { Poles::P1 };
            let job = Job { at: POLES[*at], poles, current: Some(*current), power_factor: *power_factor, ..Job::default() };
            add(&mut board, index as u128 + 1, &job);
        }
        let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
        let best = by_trying_all_pairs(&loads, &neighbours);
        prop_assert!(found.kept.is_empty() && found.out_of_reach.is_empty());
        prop_assert!(found.largest_proven);
        prop_assert!(found.after.largest.get() <= best + RESOLUTION.get() + 1e-6, "{} against {best}", found.after.largest);
        prop_assert!(found.bound.get() <= best + 1e-9, "{} against {best}", found.bound);
        carry_out(&mut board, &found);
        prop_assert!((largest(&board) - found.after.largest.get()).abs() < 1e-6);
        let again = allocate(&board, &tables(), &Wishes::default()).unwrap();
        prop_assert!(again.moves().count() == 0, "{:?}", again.steps);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_allocation_is_better(currents in prop::collection::vec((1.0..40.0_f64, 0.6..1.0_f64), 1..9)) {
        let (mut board, _) = loaded(&currents);
        let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
        let best = by_trying_all(&currents);
        prop_assert!(found.largest_proven);
        prop_assert!(found.after.largest.get() <= best + RESOLUTION.get() + 1e-6, "{} against {best}", found.after.largest);
        prop_assert!(found.bound.get() <= best + 1e-9);
        prop_assert!(found.after.largest.get() <= found.before.largest.get() + RESOLUTION.get());
        carry_out(&mut board, &found);
        prop_assert!((largest(&board) - found.after.largest.get()).abs() < 1e-6);
        let again = allocate(&board, &tables(), &Wishes::default()).unwrap();
        prop_assert!(again.moves().count() == 0, "{:?}", again.steps);
    }

    #[test]
    fn wishes_are_kept(currents in prop::collection::vec((1.0..40.0_f64, 0.6..1.0_f64), 6..9)) {
        let (mut board, ids) = loaded(&currents);
        let wishes = Wishes {
            fixed: [ids[0]].into(),
            together: vec![[ids[1], ids[2]]],
            apart: vec![[ids[3], ids[4]]],
            ..Wishes::default()
        };
        let found = allocate(&board, &tables(), &wishes).unwrap();
        let line = |board: &Board, id: CircuitId| {
            board.devices[&board.circuits[&id].device.unwrap()].at.unwrap().phase.unwrap()
        };
        let first = line(&board, ids[0]);
        carry_out(&mut board, &found);
        prop_assert_eq!(line(&board, ids[0]), first);
        prop_assert_eq!(line(&board, ids[1]), line(&board, ids[2]));
        prop_assert_ne!(line(&board, ids[3]), line(&board, ids[4]));
    }
}

/// All loads on one line: of nine equal ones three end on each, and only six move.
#[test]
fn equal_loads_part_evenly() {
    let mut board = board("three-phase-12", SupplyPhases::Three);
    for way in 1..=9 {
        let at: &'static str = format!("{way}L1").leak();
        add(&mut board, way, &Job { at, current: Some(10.0), ..Job::default() });
    }
    let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
    assert!((found.before.largest.get() - 90.0).abs() < 1e-6);
    assert!((found.after.largest.get() - 30.0).abs() < 1e-6);
    assert!(found.after.neutral.get() < 1e-6);
    assert_eq!(found.moves().count(), 6);
    assert!(found.largest_proven && found.neutral_proven);
}

/// Wishes that cannot all be kept are refused, not half kept.
#[test]
fn wishes_that_exclude_each_other_are_refused() {
    let (board, ids) = loaded(&[(10.0, 1.0), (10.0, 1.0), (10.0, 1.0), (10.0, 1.0)]);
    let all_apart = |count: usize| Wishes {
        apart: (0..count).flat_map(|a| (0..a).map(move |b| (a, b))).map(|(a, b)| [ids[a], ids[b]]).collect(),
        ..Wishes::default()
    };
    assert!(allocate(&board, &tables(), &all_apart(3)).is_ok());
    assert_eq!(allocate(&board, &tables(), &all_apart(4)), Err(AllocateError::NoRoom));
    let both = Wishes { together: vec![[ids[0], ids[1]]], apart: vec![[ids[1], ids[0]]], ..Wishes::default() };
    assert!(matches!(allocate(&board, &tables(), &both), Err(AllocateError::Contradiction(..))));
}

/// A three-pole load stays and counts on all lines.
#[test]
fn three_pole_circuits_stay() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let big = add(&mut board, 1, &Job { at: "1L1", poles: Poles::P3N, current: Some(20.0), ..Job::default() });
    add(&mut board, 2, &Job { at: "2L1", current: Some(10.0), ..Job::default() });
    add(&mut board, 3, &Job { at: "3L1", current: Some(10.0), ..Job::default() });
    let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
    assert_eq!(found.kept, [big]);
    assert!((found.after.largest.get() - 30.0).abs() < 1e-6);
    assert_eq!(found.moves().count(), 1);
}

/// 72 poles with realistic loads: the optimum is proven within the default effort.
#[test]
fn a_full_board_is_proven() {
    let mut board = board("three-phase-24", SupplyPhases::Three);
    let poles: Vec<PoleAt> = board.enclosure.get().unwrap().poles().collect();
    let mut seed = 12_345_u64;
    for (index, pole) in poles.iter().enumerate() {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let current = (seed >> 33) as f64 % 160.0 / 10.0 + 1.0;
        let at: &'static str = pole.to_string().leak();
        add(&mut board, index as u128, &Job { at, current: Some(current), ..Job::default() });
    }
    let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
    assert!(found.largest_proven, "{:?} {:?} {}", found.before, found.after, found.bound);
    assert!(found.after.largest.get() - found.bound.get() <= RESOLUTION.get() + 1e-6);
}

/// A wish that pairs a circuit with one that stays binds the one that may move.
#[test]
fn wishes_with_circuits_that_stay_are_kept() {
    let (mut board, ids) = loaded(&[(30.0, 1.0), (10.0, 1.0), (10.0, 1.0), (20.0, 1.0)]);
    let line = |board: &Board, id: CircuitId| {
        board.devices[&board.circuits[&id].device.unwrap()].at.unwrap().phase.unwrap().index()
    };
    // Left alone, nobody joins the 30 A on L1.
    let wishes = Wishes {
        fixed: [ids[0], ids[1]].into(),
        together: vec![[ids[0], ids[2]]],
        apart: vec![[ids[3], ids[1]]],
        ..Wishes::default()
    };
    let found = allocate(&board, &tables(), &wishes).unwrap();
    carry_out(&mut board, &found);
    assert_eq!(line(&board, ids[2]), 0);
    assert_eq!(line(&board, ids[3]), 2);
    let torn = Wishes { together: vec![[ids[0], ids[2]], [ids[2], ids[1]]], ..wishes.clone() };
    assert!(matches!(allocate(&board, &tables(), &torn), Err(AllocateError::Contradiction(..))));
    let stuck = Wishes { together: vec![[ids[0], ids[1]]], ..wishes };
    assert!(matches!(allocate(&board, &tables(), &stuck), Err(AllocateError::Contradiction(..))));
}

/// A neutral lead that stays on its terminal keeps its device near: here it reaches only the first
/// ways, so the circuit stays on its line, and what is still proven is the bound.
#[test]
fn a_lead_that_does_not_reach_keeps_its_circuit() {
    let mut board = board("three-phase-12", SupplyPhases::Three);
    let rcbo =
        |at| Job { at, poles: Poles::P1N, device: survey::DeviceKind::Rcbo, current: Some(10.0), ..Job::default() };
    let ids: Vec<CircuitId> =
        ["1L1", "3L1", "5L1"].iter().enumerate().map(|(n, at)| add(&mut board, n as u128 + 1, &rcbo(at))).collect();
    let free = allocate(&board, &tables(), &Wishes::default()).unwrap();
    assert_eq!((free.moves().count(), free.out_of_reach.len()), (2, 0));
    assert!((free.after.largest.get() - 10.0).abs() < 1e-6);
    // No lead reaches anything: all stay, and the bound says what was given up.
    let short = Wishes { lead_reach: survey::Millimetres::new(1.0), ..Wishes::default() };
    let found = allocate(&board, &tables(), &short).unwrap();
    assert_eq!(found.moves().count(), 0);
    assert!((found.after.largest.get() - 30.0).abs() < 1e-6);
    // A terminal of its own at the far end of the bar: the lead does not follow the device.
    for id in &ids {
        board.circuits.get_mut(id).unwrap().neutral_terminal = Some("12N3".to_owned());
    }
    let found =
        allocate(&board, &tables(), &Wishes { lead_reach: survey::Millimetres::new(250.0), ..Wishes::default() });
    let found = found.unwrap();
    for one in found.moves() {
        assert!(one.to.way >= 7, "{one:?}: too far from 12N3");
    }
}

/// Every pole of the shipped enclosures is within reach of the terminal tied to it.
#[test]
fn leads_reach_their_own_terminals() {
    let all = survey::pattern::PatternList::parse(include_str!("../../../seed-data/patterns.toml")).unwrap();
    for pattern in all.iter().filter(|pattern| !pattern.phase_order.is_empty()) {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        board.enclosure = common::f(pattern.clone());
        let job = |at| Job { at, poles: Poles::P1N, current: Some(10.0), ..Job::default() };
        let (first, last) = ("1L1", &*format!("{}L1", pattern.ways).leak());
        add(&mut board, 1, &job(first));
        add(&mut board, 2, &job(last));
        let found = allocate(&board, &tables(), &Wishes::default()).unwrap();
        assert_eq!(found.out_of_reach, [], "{}", pattern.key);
        assert!((found.after.largest.get() - 10.0).abs() < 1e-6, "{}", pattern.key);
    }
}

/// Who must move goes to ways that are used anyway; asked to, others move up too.
#[test]
fn spare_ways_stay_together() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    for (number, at) in ["1L1", "2L1", "3L1", "4L2", "5L2", "6L2", "7L3", "8L3", "1L3"].iter().enumerate() {
        add(&mut board, number as u128 + 1, &Job { at, current: Some(10.0), ..Job::default() });
    }
    let still = allocate(&board, &tables(), &Wishes::default()).unwrap();
    assert_eq!((still.moves().count(), still.free_ways), (0, [0, 0]));
    let gathered = allocate(&board, &tables(), &Wishes { gather_spare: true, ..Wishes::default() }).unwrap();
    assert_eq!(gathered.free_ways, [0, 5]);
    assert!((gathered.after.largest.get() - 30.0).abs() < 1e-6);
    let mut after = board.clone();
    carry_out(&mut after, &gathered);
    assert!((largest(&after) - 30.0).abs() < 1e-6);
}
