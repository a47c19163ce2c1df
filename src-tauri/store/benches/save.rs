//! Saving one edit on a board of 72 poles, all of it: reading what the board then is, the change,
//! the projection, the disk. Beside it, what the disk takes by itself for as many bytes.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::fs::File;
use std::hint::black_box;
use std::io::{Seek, Write};
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use serde_json::json;
use store::{Op, Store};
use survey::intent::Change;

#[path = "../tests/common/mod.rs"]
mod common;
use common::{BOARD, any, board, circuit, create, env, uuid};

fn save(bench: &mut Criterion) {
    let Ok(folder) = tempfile::tempdir() else { return };
    let Ok(opened) = Store::open(&folder.path().join("store.db"), env(1)) else { return };
    let mut store = opened.store;
    create(&mut store, &board(72));
    let mut number = 0_u32;
    let log = folder.path().join("store.db-wal");
    let length = || std::fs::metadata(&log).map_or(0, |log| log.len());
    let before = length();
    let changes = [Change { path: circuit("description"), value: json!("lift") }];
    if store.transact(Op::new("edit", "surveyor"), BOARD, &changes, any).is_err() {
        return;
    }
    let added = length().saturating_sub(before);
    println!("one save adds {added} bytes to the log");
    disk(bench, folder.path(), added);
    bench.bench_function("save one edit, 72 poles", |bench| {
        bench.iter(|| {
            number += 1;
            let changes = [Change { path: circuit("description"), value: json!(format!("lift {number}")) }];
            black_box(store.transact(Op::new("edit", "surveyor"), BOARD, &changes, any))
        });
    });
    bench.bench_function("read the board kept in memory, 72 poles", |bench| {
        bench.iter(|| black_box(store.board(BOARD)));
    });
    let path = folder.path().join("store.db");
    bench.bench_function("open the store and read the board, 72 poles", |bench| {
        bench.iter(|| {
            let mut store =
                Store::open(&path, env(u64::from(number) + uuid(2).as_u128() as u64)).map(|opened| opened.store);
            black_box(store.as_mut().map(|store| store.board(BOARD)).is_ok())
        });
    });
}

/// What the disk takes for itself: as many bytes as a save adds to the log, written and flushed as the log is, and
/// from the start again once there are as many as the log holds.
fn disk(bench: &mut Criterion, folder: &Path, count: u64) {
    const LOG: u64 = 1000 * 4096;
    let Ok(mut file) = File::create(folder.join("plain")) else { return };
    let bytes = vec![7; usize::try_from(count).unwrap_or_default()];
    let mut at = 0;
    bench.bench_function("the disk alone: as many bytes as a save adds, flushed", |bench| {
        bench.iter(|| {
            if at > LOG {
                at = 0;
                let _start = file.rewind();
            }
            at += count;
            black_box(file.write_all(&bytes).and_then(|()| file.sync_all()))
        });
    });
}

/// A board with a long history: read by a store just opened, as a person opens it in the morning.
fn open_long(bench: &mut Criterion) {
    const EDITS: u32 = 5000;
    let Ok(folder) = tempfile::tempdir() else { return };
    let path = folder.path().join("store.db");
    let Ok(opened) = Store::open(&path, env(1)) else { return };
    let mut store = opened.store;
    create(&mut store, &board(72));
    for number in 0..EDITS {
        let changes = [Change { path: circuit("description"), value: json!(format!("lift {number}")) }];
        let _saved = store.transact(Op::new("edit", "surveyor"), BOARD, &changes, any);
    }
    drop(store);
    let mut seed = 2;
    bench.bench_function("open the store and read a board of 5,000 edits", |bench| {
        bench.iter(|| {
            seed += 1;
            let mut store = Store::open(&path, env(seed)).map(|opened| opened.store);
            black_box(store.as_mut().map(|store| store.board(BOARD)).is_ok())
        });
    });
}

criterion_group! { name = benches; config = Criterion::default().sample_size(20); targets = save, open_long }
criterion_main!(benches);
