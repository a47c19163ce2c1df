//! What to read next on a board, and what a change would do.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{check_board, plan};
use common::{Job, add, board, r, tables};
use proptest::prelude::*;
use survey::{
    Amps, Board, Celsius, Curve, Metres, Ohms, Poles, Quantity, Ratio, Reading, SquareMillimetres, SupplyPhases,
    Verdict, Watts,
};

fn three_circuits() -> Board {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    for (number, at) in [(1, "1L1"), (2, "1L2"), (3, "1L3")] {
        add(&mut board, number, &Job { at, ..Job::default() });
    }
    board
}

#[test]
fn a_reading_that_every_circuit_waits_for_comes_first() {
    let tables = tables();
    let mut board = three_circuits();
    add(&mut board, 4, &Job { at: "2L1", ..Job::default() });
    add(&mut board, 5, &Job { at: "2L2", ..Job::default() });
    board.supply.ze = Reading::unknown();
    board.cables.values_mut().next().unwrap().length = Reading::unknown();
    let plan = plan::readings(&board, &check_board(&board, &tables), 5);
    // Five circuits, and the board's own disconnection by the device upstream.
    assert_eq!((plan[0].paths[0].as_str(), plan[0].checks), ("/supply/ze", 6));
    assert!(plan.iter().any(|reading| reading.paths[0].ends_with("/length")), "{plan:?}");
    board.supply.ze = r::<Ohms>(0.2);
    let left = plan::readings(&board, &check_board(&board, &tables), 5);
    assert!(left.iter().all(|reading| reading.paths != ["/supply/ze"]));
}

/// On the demo board eleven circuits wait for the makers' table of one upstream fuse: that is one errand, and the
/// five that settle the most are five different ones, each saying whom it concerns.
#[test]
fn one_errand_for_what_one_table_settles() {
    let tables = tables();
    let text = include_str!("../../../seed-data/demo/ph-db1.json");
    let board = survey::file::read(text).unwrap().board;
    let checks = check_board(&board, &tables);
    let plan = plan::readings(&board, &checks, 5);
    assert_eq!(plan.len(), 5);
    let mut errands: Vec<String> = plan.iter().map(|errand| errand.what.to_string()).collect();
    errands.sort_unstable();
    errands.dedup();
    assert_eq!(errands.len(), 5, "{plan:?}");
    let waiting = |check: &&survey::Check| check.rule == "selectivity" && check.verdict == Verdict::Undecided;
    let circuits = checks.iter().filter(waiting).count();
    assert_eq!(circuits, 11);
    let table = plan.iter().find(|errand| errand.paths[0].ends_with("/selective")).unwrap();
    assert_eq!((table.checks, table.circuits.len()), (circuits, circuits), "{table:?}");
    assert!(table.of.contains("1L1") && table.of.words().ends_with("and 5 more"), "{}", table.of);
}

#[test]
fn a_smaller_cable_shows_what_it_breaks() {
    let tables = tables();
    let board = three_circuits();
    let before = check_board(&board, &tables);
    assert_eq!(plan::changes(&before, &before), []);
    let mut trial = board.clone();
    trial.cables.values_mut().next().unwrap().size = r::<SquareMillimetres>(2.5);
    let changes = plan::changes(&before, &check_board(&trial, &tables));
    let broken: Vec<&str> = changes.iter().filter(|change| change.turns()).map(|change| change.rule.as_str()).collect();
    assert_eq!(broken, ["cable-current", "overload-trip"], "{changes:?}");
    assert!(changes.iter().any(|change| change.rule == "volt-drop" && !change.turns()));
    let cable = changes.iter().find(|change| change.rule == "cable-current").unwrap();
    assert_eq!(cable.after.as_ref().unwrap().verdict, Verdict::Fails);
}

/// What a changed board does to every check.
fn what_if(board: &Board, changed: &Board, tables: &circuits::Tables) -> Vec<plan::Change> {
    plan::changes(&check_board(board, tables), &check_board(changed, tables))
}

/// Trying a change gives the verdicts it would have, and leaves the board as it is.
#[test]
fn a_trial_is_weighed_without_saving() {
    let tables = tables();
    let board = three_circuits();
    let circuit = *board.circuits.keys().next().unwrap();
    let try_one = |trial: plan::Trial| {
        let changed = plan::with(&board, &trial).unwrap();
        (what_if(&board, &changed, &tables), changed)
    };
    let smaller = SquareMillimetres::new(2.5);
    let (changes, _) = try_one(plan::Trial::CableSize { circuit, size: smaller, cpc: None });
    assert!(changes.iter().any(|change| change.rule == "cable-current" && change.turns()), "{changes:?}");
    let (changes, _) =
        try_one(plan::Trial::Device { circuit, kind: None, rated: Some(Amps::new(16.0)), curve: Some(Curve::C) });
    assert!(changes.iter().any(|change| change.rule == "device-current" && change.turns()), "{changes:?}");
    // Changing places with another circuit: the line moves, the numbers of the lines stay equal.
    let (_, changed) = try_one(plan::Trial::Place { circuit, to: "1L2".parse().unwrap() });
    let at = |board: &Board| board.device_of(&board.circuits[&circuit]).unwrap().1.at.unwrap().to_string();
    assert_eq!((at(&board).as_str(), at(&changed).as_str()), ("1L1", "1L2"));
    assert_eq!(changed.devices.values().filter(|device| device.at == "1L1".parse().ok()).count(), 1);
    let nowhere = plan::Trial::Place { circuit, to: "9L1".parse().unwrap() };
    assert!(matches!(plan::with(&board, &nowhere), Err(plan::TrialError::NoPlace(_))));
}

/// A trial that moves a number less than a person sees says nothing: both sides read the same.
#[test]
fn what_reads_the_same_is_no_change() {
    let tables = tables();
    let with = |length| {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        add(&mut board, 1, &Job { length, ..Job::default() });
        board
    };
    assert!(!what_if(&with(20.0), &with(24.0), &tables).is_empty());
    let unseen = what_if(&with(20.0), &with(20.000_000_1), &tables);
    assert!(unseen.is_empty(), "{unseen:#?}");
}

/// A field of one board put into another, as a person who takes the reading would.
fn take(board: &Board, from: &Board, path: &str) -> Option<Board> {
    let mut whole = serde_json::to_value(board).unwrap();
    let read = serde_json::to_value(from).unwrap().pointer(path)?.clone();
    *whole.pointer_mut(path)? = read;
    serde_json::from_value(whole).ok()
}

fn wide<Q: Quantity>(value: f64, spread: [f64; 2]) -> Reading<Q> {
    Reading::between(Q::of(value * (1.0 - spread[0])), Q::of(value * (1.0 + spread[1])), common::measured())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// The reading that the plan puts first narrows the checks that ask for it: none gets wider,
    /// none turns against what the wider board already said, and it is asked for no more.
    #[test]
    fn taking_the_first_reading_narrows(
        three in any::<bool>(),
        rated in prop::sample::select(vec![16.0, 20.0, 32.0]),
        power in 1500.0..9000.0_f64,
        size in prop::sample::select(vec![2.5, 4.0, 6.0, 10.0]),
        length in 10.0..60.0_f64,
        ambient in 20.0..38.0_f64,
        grouped in 1..6_u8,
        spread in prop::array::uniform8(0.02..0.3_f64),
        forget in prop::array::uniform4(any::<bool>()),
    ) {
        let tables = tables();
        let mut exact = board("three-phase-4", SupplyPhases::Three);
        let poles = if three { Poles::P3N } else { Poles::P1 };
        add(&mut exact, 1, &Job { poles, rated, power, size, cpc: size, length, ambient, grouped, power_factor: 0.9, ..Job::default() });
        let mut vague = exact.clone();
        vague.supply.ze = wide::<Ohms>(0.2, [spread[0], spread[1]]);
        vague.circuits.values_mut().next().unwrap().load.power = wide::<Watts>(power, [spread[2], spread[3]]);
        let cable = vague.cables.values_mut().next().unwrap();
        cable.length = wide::<Metres>(length, [spread[4], spread[5]]);
        if forget[0] { cable.ambient = Reading::unknown() } else { cable.ambient = wide::<Celsius>(ambient, [spread[6], 0.01]) }
        if forget[1] { cable.grouped = survey::Fact::default() }
        if forget[2] { vague.circuits.values_mut().next().unwrap().load.power_factor = Reading::<Ratio>::unknown() }
        if forget[3] { vague.devices.values_mut().next().unwrap().curve = survey::Fact::default() }
        let before = check_board(&vague, &tables);
        let plan = plan::readings(&vague, &before, 5);
        // Only what the exact board knows better can be taken.
        let [whole, known] = [&vague, &exact].map(|board| serde_json::to_value(board).unwrap());
        let first = plan.iter().find(|reading| {
            let value = known.pointer(&reading.paths[0]);
            value.is_some_and(|value| value.get("known").is_some()) && value != whole.pointer(&reading.paths[0])
        });
        let Some(first) = first else { return Ok(()) };
        let Some(taken) = take(&vague, &exact, &first.paths[0]) else { return Ok(()) };
        let after = check_board(&taken, &tables);
        let (mut wider, mut narrower) = (0.0, 0.0);
        for old in &before {
            let Some(new) = after.iter().find(|new| new.rule == old.rule && new.subject == old.subject) else { continue };
            if old.verdict != Verdict::Undecided && new.margin.is_some() && old.margin.is_some() {
                prop_assert_eq!(new.verdict, old.verdict, "{} against {}", &new.inequality, &old.inequality);
            }
            if let (Some([lo, hi]), Some([a, b])) = (old.margin, new.margin) {
                let slack = 1e-9 * (1.0 + lo.abs().max(hi.abs()));
                prop_assert!(a >= lo - slack && b <= hi + slack, "{}: {a} to {b} is not in {lo} to {hi}", old.rule);
                wider += hi - lo;
                narrower += b - a;
            }
        }
        prop_assert!(narrower < wider, "{first:?} removed nothing");
        let asked_again = plan::readings(&taken, &after, 100).into_iter().any(|reading| reading.paths == first.paths);
        prop_assert!(!asked_again, "{first:?} is asked for again");
    }
}
