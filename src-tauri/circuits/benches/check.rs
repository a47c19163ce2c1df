//! Whole check of a 72-pole board: aim ≤ 1 ms.
#![allow(missing_docs, clippy::unwrap_used)]

#[path = "../tests/common/mod.rs"]
mod common;

use circuits::balance::{Wishes, allocate};
use circuits::{check_board, phase_currents, verdicts};
use common::{Job, add, board, tables};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use survey::{Reading, SupplyPhases};

fn whole_board(criterion: &mut Criterion) {
    let tables = tables();
    let mut full = board("three-phase-24", SupplyPhases::Three);
    let poles: Vec<String> = full.enclosure.get().unwrap().poles().map(|pole| pole.to_string()).collect();
    for (number, at) in poles.iter().enumerate() {
        let at: &'static str = Box::leak(at.clone().into_boxed_str());
        add(&mut full, number as u128, &Job { at, power: 500.0, ..Job::default() });
    }
    criterion.bench_function("check 72 circuits, all known", |bench| {
        bench.iter(|| check_board(black_box(&full), &tables));
    });
    criterion.bench_function("verdicts of 72 circuits, all known", |bench| {
        bench.iter(|| verdicts(black_box(&full), &tables));
    });
    criterion.bench_function("phase currents of 72 circuits", |bench| {
        bench.iter(|| phase_currents(black_box(&full), &tables));
    });
    let mut uneven = full.clone();
    for (index, circuit) in uneven.circuits.values_mut().enumerate() {
        circuit.load.power = common::r(300.0 + (index * 7919 % 2300) as f64);
    }
    criterion.bench_function("allocate 72 circuits", |bench| {
        bench.iter(|| allocate(black_box(&uneven), &tables, &Wishes::default()));
    });
    let mut half = full.clone();
    for (index, cable) in half.cables.values_mut().enumerate() {
        if index % 2 == 0 {
            cable.ambient = Reading::unknown();
            cable.length = Reading::unknown();
        }
    }
    for circuit in half.circuits.values_mut() {
        circuit.load.power_factor = Reading::unknown();
    }
    criterion.bench_function("check 72 circuits, half known", |bench| {
        bench.iter(|| check_board(black_box(&half), &tables));
    });
    criterion.bench_function("verdicts of 72 circuits, half known", |bench| {
        bench.iter(|| verdicts(black_box(&half), &tables));
    });
    let mixed = common::mixed::mixed(1, common::mixed::USUAL);
    criterion.bench_function("check 72 circuits, mixed", |bench| {
        bench.iter(|| check_board(black_box(&mixed), &tables));
    });
    criterion.bench_function("verdicts of 72 circuits, mixed", |bench| {
        bench.iter(|| verdicts(black_box(&mixed), &tables));
    });
}

criterion_group!(benches, whole_board);
criterion_main!(benches);
