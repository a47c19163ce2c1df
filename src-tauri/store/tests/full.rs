//! The disk is full in the middle of the work: what was acknowledged is there, and the refusal is an answer.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails")]

mod common;

use std::path::PathBuf;
use std::process::Command;

use common::*;
use store::Store;
use survey::{BoardId, NoteId};

/// Built by `cargo test` where no test program is named, and by `cargo xtask test`.
fn burst() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().nth(2).unwrap();
    folder.join("examples").join("burst")
}

/// No file may grow beyond so many blocks: a write that would is refused as on a full disk.
fn burst_in(path: &std::path::Path, blocks: u32, first: u128, count: u128) -> (Vec<u128>, String, bool) {
    let line = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let done = Command::new("sh")
        .args(["-c", &line])
        .arg(burst())
        .arg(path)
        .args([first.to_string(), count.to_string()])
        .output()
        .unwrap();
    let saved = String::from_utf8(done.stdout).unwrap().lines().map(|line| line.parse().unwrap()).collect();
    (saved, String::from_utf8_lossy(&done.stderr).into_owned(), done.status.success())
}

/// A damaged store for whose recovery there is no room: that is said, nothing half-made is left, and with room it goes on.
#[test]
fn a_recovery_without_room_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.db");
    let (saved, words, fine) = burst_in(&path, 1_000_000, 1, 200);
    assert!(fine && saved.len() == 200, "{words}");
    drop(Store::open(&path, env(7)).unwrap());
    let mut bytes = std::fs::read(&path).unwrap();
    bytes[0] ^= 1;
    std::fs::write(&path, &bytes).unwrap();
    let names = || {
        let entries = std::fs::read_dir(folder.path()).unwrap();
        let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    };
    let reopen = burst().with_file_name("reopen");
    for blocks in [0, 8, 64, 200, 400] {
        let line = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
        let done = Command::new("sh").args(["-c", &line]).arg(&reopen).arg(&path).output().unwrap();
        let words = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(!done.status.success(), "{blocks}: it had room");
        assert!(words.contains("NoRoom") || words.contains("no room") || blocks == 0, "{blocks}: {words}");
        assert!(names().iter().all(|name| !name.contains(".recover")), "{blocks}: {:?}", names());
        assert!(std::fs::read(&path).unwrap() == bytes, "{blocks}: the damaged one is as it was");
    }
    let opened = Store::open(&path, env(8)).unwrap();
    let report = opened.set_aside.unwrap();
    assert_eq!((report.changes, report.lost), (210, vec![]));
}

#[test]
fn what_was_acknowledged_before_the_disk_was_full_is_there() {
    assert!(burst().is_file(), "build the example first: cargo build --workspace --example burst");
    let rounds = if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 40 } else { 8 };
    let (mut acknowledged, mut refused) = (0, 0);
    for round in 0..rounds {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.db");
        // Sound at first, then with ever less room: from none for the first page to enough for most of it.
        let (mut saved, words, fine) = burst_in(&path, 1_000_000, 1, 40);
        assert!(fine, "{words}");
        let mut notes = 40;
        for (number, blocks) in [200 + round * 97, 400 + round * 53].into_iter().enumerate() {
            let first = 1000 * (number as u128 + 1);
            let (more, words, fine) = burst_in(&path, blocks, first, 300);
            if !fine {
                refused += 1;
                assert!(words.contains("full") || words.contains("too large") || words.contains("I/O"), "{words}");
            }
            notes += more.len() + 1;
            saved.extend(more);
        }
        let opened = Store::open(&path, env(7)).unwrap();
        assert!(opened.set_aside.is_none(), "round {round}: {:?}", opened.set_aside);
        let mut store = opened.store;
        assert!(store.check().unwrap().is_empty(), "round {round}");
        let mut found = std::collections::BTreeMap::new();
        for first in [1, 1000, 2000] {
            for number in first..first + 10 {
                if let Ok(read) = store.board(BoardId(uuid(number))) {
                    found.extend(read.board.notes);
                }
            }
        }
        for number in &saved {
            assert_eq!(found[&NoteId(uuid(*number))].text, format!("edit {number}"), "round {round}");
        }
        assert!(found.len() <= notes, "round {round}: more than was done");
        acknowledged += saved.len();
    }
    assert!(refused > 0, "the disk was never full");
    println!("{refused} bursts ended by a full disk: {acknowledged} edits acknowledged, 0 lost");
}
