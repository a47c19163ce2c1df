//! What to read next on a board, and what a change would do.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{check_board, plan};
use common::{Job, add, board, r, tables};
use survey::{Board, Ohms, Reading, SquareMillimetres, SupplyPhases, Verdict};

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
    board.supply.ze = Reading::unknown();
    board.cables.values_mut().next().unwrap().length = Reading::unknown();
    let plan = plan::readings(&check_board(&board, &tables), 5);
    assert_eq!((plan[0].path.as_str(), plan[0].checks), ("/supply/ze", 4));
    assert!(plan.iter().any(|reading| reading.path.ends_with("/length")), "{plan:?}");
    board.supply.ze = r::<Ohms>(0.2);
    let left = plan::readings(&check_board(&board, &tables), 5);
    assert!(left.iter().all(|reading| reading.path != "/supply/ze"));
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
    assert_eq!(changes[0].after.as_ref().unwrap().verdict, Verdict::Fails);
}
