//! The same board gives the same bytes, and verdicts alone are those of the full checks.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{Analysis, Finding, check_board, verdicts};
use common::mixed::many;
use common::tables;
use survey::Check;

#[test]
fn the_same_board_gives_the_same_bytes_on_any_thread() {
    let tables = tables();
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
    let tables = tables();
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

/// Asked for, each check says which rows it looked up and how far to trust them; nothing else of it changes.
#[test]
fn checks_tell_the_rows_they_looked_up() {
    let tables = tables();
    let mut board = common::board("three-phase-4", survey::SupplyPhases::Three);
    common::add(&mut board, 1, &common::Job { grouped: 3, ..common::Job::default() });
    let (plain, told) = (check_board(&board, &tables), Analysis::of(&board, &tables).checks_told());
    assert!(plain.iter().all(|check| check.tables.is_empty()));
    let without: Vec<Check> =
        told.iter().cloned().map(|check| Check { tables: survey::Message::default(), ..check }).collect();
    assert_eq!(without, plain);
    let line = |file: &str, row: &str| {
        let text = std::fs::read_to_string(format!("{}/../../seed-data/tables/{file}.csv", env!("CARGO_MANIFEST_DIR")))
            .unwrap();
        text.lines().position(|line| line.starts_with(row)).unwrap() + 1
    };
    let of = |rule: &str| told.iter().find(|check| check.rule == rule).unwrap().tables.to_string();
    // 6 mm² of PVC, method C, two loaded; three circuits bunched.
    let capacity = format!("ampacity.csv row {}, ", line("ampacity", "B.52.2,Cu,PVC70,2,C,6,"));
    assert!(of("cable-current").contains(&capacity), "{} {capacity}", of("cable-current"));
    assert!(of("cable-current").contains("grouping_factor.csv row "), "{}", of("cable-current"));
    assert!(!of("device-current").contains("ampacity"), "{}", of("device-current"));
    assert!(of("fault-loop").contains("conductor_resistance.csv row"), "{}", of("fault-loop"));
    assert!(of("fault-loop").contains("disconnection_time.csv row"), "{}", of("fault-loop"));
    // What is from memory says so.
    let memory = |told: &survey::Message| told.contains("from memory: confirm before relying on it");
    assert!(told.iter().any(|check| memory(&check.tables)));
    assert!(Analysis::of(&board, &tables).checks_told() == told && check_board(&board, &tables) == plain);
}
