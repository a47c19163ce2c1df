//! Listing and searching among 10,000 boards.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use store::{Find, Op, Store, StoreError};
use survey::{BoardId, Site, SiteId};

#[path = "../tests/common/mod.rs"]
mod common;
use common::{board, env, uuid};

fn list(bench: &mut Criterion) {
    let Ok(folder) = tempfile::tempdir() else { return };
    let Ok(opened) = Store::open(&folder.path().join("store.db"), env(1)) else { return };
    let mut store = opened.store;
    let words = ["press hall", "bottling line", "boiler room", "cold store", "workshop", "loft", "yard", "office"];
    let filled = store.batch(|store| {
        for number in 0..10_000_u128 {
            let site = SiteId(uuid(0x5000 + number / 50));
            if number % 50 == 0 {
                let of = Site { id: Some(site), name: format!("Site {}", number / 50), ..Site::default() };
                store.create_site(Op::new("new site", "office"), &of)?;
            }
            let mut board = board(6);
            (board.id, board.site) = (BoardId(uuid(0x10_0000 + number)), site);
            board.reference = format!("DB{number}");
            board.place = words[usize::try_from(number).unwrap_or(0) % words.len()].to_owned();
            store.create_board(Op::new("new board", "office"), &board, |_| Ok(()))?;
        }
        Ok::<_, StoreError>(())
    });
    assert!(filled.is_ok());
    for (name, words) in
        [("list", ""), ("search a reference", "DB99"), ("search a place", "bott"), ("search a common word", "so")]
    {
        let find = Find { limit: 100, ..Find::words(words) };
        assert!(store.boards(&find).is_ok_and(|rows| !rows.is_empty()));
        bench.bench_function(&format!("{name}, 10,000 boards"), |bench| bench.iter(|| black_box(store.boards(&find))));
    }
    bench.bench_function("list sites, 10,000 boards", |bench| bench.iter(|| black_box(store.sites(false))));
}

criterion_group! { name = benches; config = Criterion::default().sample_size(20); targets = list }
criterion_main!(benches);
