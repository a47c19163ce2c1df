//! The demo boards get an answer for every circuit, each in words.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{check_board, design_currents, phase_currents};
use survey::{Subject, Verdict, file};

#[test]
fn every_demo_circuit_gets_its_checks() {
    let tables = common::tables();
    for text in [
        include_str!("../../../seed-data/demo/ph-db1.json"),
        include_str!("../../../seed-data/demo/bl-db2.json"),
        include_str!("../../../seed-data/demo/br-db3.json"),
    ] {
        let board = file::read(text).unwrap().board;
        let checks = check_board(&board, &tables);
        println!("{}", board.reference);
        for check in &checks {
            let next: Vec<String> =
                check.next.iter().map(|next| format!("{} {:.2}", next.path, next.settles)).collect();
            println!("  {:?} {}: {} | {} | {next:?}", check.verdict, check.rule, check.sentence, check.inequality);
            assert!(check.verdict != Verdict::Undecided || !check.next.is_empty(), "{check:?}");
        }
        for (id, _) in board.live_circuits() {
            let of: Vec<_> = checks.iter().filter(|check| check.subject == Subject::Circuit(id)).collect();
            assert!(of.len() >= 5, "{id}: {}", of.len());
        }
        println!("{:?} {}", phase_currents(&board, &tables), design_currents(&board, &tables).len());
        assert_eq!(check_board(&board, &tables), checks);
    }
}
