//! The same board gives the same bytes, and verdicts alone are those of the full checks.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{Finding, check_board, verdicts};
use common::mixed::many;

#[test]
fn the_same_board_gives_the_same_bytes_on_any_thread() {
    let tables = common::tables();
    let boards = many(6);
    let all = || -> Vec<String> {
        boards.iter().map(|board| serde_json::to_string(&check_board(board, &tables)).unwrap()).collect()
    };
    let first = all();
    let [second, third] = std::thread::scope(|scope| {
        let threads = [scope.spawn(all), scope.spawn(all)];
        threads.map(|thread| thread.join().unwrap())
    });
    assert!(first.iter().all(|text| text.len() > 10_000));
    assert!(first == second && first == third);
}

#[test]
fn verdicts_alone_are_those_of_the_full_checks() {
    let tables = common::tables();
    for board in many(40) {
        let full: Vec<(String, _, _, _)> = check_board(&board, &tables)
            .iter()
            .map(|check| (check.rule.to_string(), check.subject, check.verdict, check.margin))
            .collect();
        let alone: Vec<(String, _, _, _)> = verdicts(&board, &tables)
            .into_iter()
            .map(|Finding { rule, subject, verdict, margin }| (rule.to_owned(), subject, verdict, margin))
            .collect();
        assert_eq!(full, alone);
    }
}
