//! Boards as they are found: what is physically there is recorded, never refused, and becomes a finding.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::check_board;
use common::{Job, add, board, find, tables};
use survey::{SupplyPhases, Verdict, validate};

/// Two circuits on one neutral terminal, as BS 7671 526.2 has inspectors look for.
#[test]
fn two_circuits_on_one_terminal_are_recorded_and_found() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    add(&mut board, 1, &Job::default());
    let second = add(&mut board, 2, &Job { at: "1L2", ..Job::default() });
    board.circuits.get_mut(&second).unwrap().neutral_terminal = Some("1N1".to_owned());
    board.circuits.get_mut(&second).unwrap().earth_terminals = vec!["1E1".to_owned()];
    let refused: Vec<_> = validate::validate(&board).into_iter().filter(|one| one.path.contains("terminal")).collect();
    assert_eq!(refused, []);
    let checks = check_board(&board, &tables());
    let shared: Vec<_> = checks.iter().filter(|check| check.rule == "terminal-shared").collect();
    assert_eq!(shared.len(), 2, "{shared:?}");
    assert!(shared.iter().all(|check| check.verdict == Verdict::Undecided && !check.next.is_empty()), "{shared:?}");
    // A terminal that the enclosure has not cannot be: that stays refused.
    board.circuits.get_mut(&second).unwrap().neutral_terminal = Some("9N1".to_owned());
    assert!(validate::validate(&board).iter().any(|one| one.message.contains("no terminal 9N1")));
}

#[test]
fn a_circuit_nobody_traced_is_found() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let id = add(&mut board, 1, &Job::default());
    assert!(check_board(&board, &tables()).iter().all(|check| check.rule != "untraced"));
    board.circuits.get_mut(&id).unwrap().description.clear();
    assert_eq!(find(&check_board(&board, &tables()), "untraced").verdict, Verdict::Undecided);
}
