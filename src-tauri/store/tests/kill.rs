//! A process killed in the middle of a burst of edits: every edit it said was saved is there.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::Duration;

use common::*;
use store::Store;
use survey::{BoardId, NoteId};

/// Built by `cargo test` where no test program is named, and by `cargo xtask test`.
fn burst() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().nth(2).unwrap();
    folder.join("examples").join(format!("burst{}", std::env::consts::EXE_SUFFIX))
}

#[test]
fn every_edit_acknowledged_before_a_kill_is_there() {
    const EDITS: u128 = 500;
    // As in the example.
    const BOARDS: u128 = 10;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.db");
    assert!(burst().is_file(), "build the example first: cargo build --workspace --example burst");
    let (mut acknowledged, mut killed) = (0, 0);
    for round in 0..20_u128 {
        let first = 1 + round * EDITS;
        let mut child = Command::new(burst())
            .arg(&path)
            .args([first.to_string(), EDITS.to_string()])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut saved: Vec<u128> = Vec::new();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        // A different place in the burst each round, and a little into the next save.
        let stop = 1 + (round * 97) % 440;
        for (line, count) in lines.map_while(Result::ok).zip(1..) {
            saved.push(line.parse().unwrap());
            if count == stop {
                std::thread::sleep(Duration::from_micros(u64::try_from(round * 137 % 3000).unwrap()));
                child.kill().unwrap();
                killed += 1;
            }
        }
        child.wait().unwrap();

        let opened = Store::open(&path, env(1000 + u64::try_from(round).unwrap())).unwrap();
        assert!(opened.set_aside.is_none(), "round {round}");
        let mut store = opened.store;
        assert!(store.check().unwrap().is_empty(), "round {round}");
        let mut notes = BTreeMap::new();
        for number in 0..BOARDS {
            let id = BoardId(uuid(first + number));
            // Killed early, the later boards are not made yet.
            if let Ok(read) = store.board(id) {
                notes.extend(read.board.notes);
            }
        }
        for number in &saved {
            assert_eq!(notes[&NoteId(uuid(*number))].text, format!("edit {number}"), "round {round}");
        }
        // At most the one save that was under way is there besides.
        assert!(notes.len() <= saved.len() + 1, "round {round}");
        acknowledged += saved.len();
    }
    assert_eq!(killed, 20);
    println!("{killed} processes killed: {acknowledged} edits acknowledged, 0 lost");
}
