//! How long the setting-out of a full plate takes: 24 entries, all effort spent.

#![allow(clippy::unwrap_used, missing_docs, reason = "a bench stops where it fails")]

#[path = "../tests/common/mod.rs"]
mod common;

use criterion::{Criterion, criterion_group, criterion_main};
use plate::{Tables, Wishes, check_plate, drag, setting_out, solve};
use survey::EntryId;

fn bench(criterion: &mut Criterion) {
    let mut board = common::twenty_four();
    criterion.bench_function("solve 24 entries", |bencher| {
        bencher.iter(|| solve(&board, common::PLATE, Tables::shipped(), &Wishes::default()).unwrap());
    });
    let solution = solve(&board, common::PLATE, Tables::shipped(), &Wishes::default()).unwrap();
    common::take(&mut board, &solution.places);
    criterion.bench_function("check 24 entries", |bencher| {
        bencher.iter(|| check_plate(&board, common::PLATE, Tables::shipped()));
    });
    criterion.bench_function("set out 24 entries", |bencher| {
        bencher.iter(|| setting_out(&board, common::PLATE, Tables::shipped()).unwrap());
    });
    let entry: EntryId = solution.places[5].entry;
    criterion.bench_function("drag one of 24", |bencher| {
        bencher.iter(|| drag(&board, common::PLATE, entry, [150.0, 52.0], Tables::shipped()).unwrap());
    });
}

criterion_group!(benches, bench);
criterion_main!(benches);
