//! Two processes and one store: nothing acknowledged is lost when a second one finds it damaged,
//! or someone deletes or moves it under the first.
//!
//! Five rounds of each; twenty with `WAYWRIGHT_WHOLE=1`.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, Lines, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};

use common::*;
use store::{Store, StoreError};
use survey::{BoardId, NoteId};

fn rounds() -> u64 {
    if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 20 } else { 5 }
}

/// Built by `cargo test` where no test program is named, and by `cargo xtask test`.
fn burst() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().nth(2).unwrap();
    folder.join("examples").join(format!("burst{}", std::env::consts::EXE_SUFFIX))
}

/// A process that edits and says which edits are saved.
struct Running {
    child: Child,
    lines: Lines<BufReader<ChildStdout>>,
    saved: Vec<u128>,
}

impl Running {
    fn start(path: &Path, edits: u32) -> Self {
        assert!(burst().is_file(), "build the example first: cargo build --workspace --example burst");
        let mut child = Command::new(burst())
            .arg(path)
            .args(["1".to_owned(), edits.to_string()])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        Self { child, lines, saved: Vec::new() }
    }

    fn take(&mut self, count: usize) -> usize {
        let before = self.saved.len();
        for line in self.lines.by_ref().map_while(Result::ok).take(count) {
            self.saved.push(line.parse().unwrap());
        }
        self.saved.len() - before
    }

    /// Reads what it still says; returns how many, whether it ended well, and its last words.
    fn end(&mut self) -> (usize, bool, String) {
        let more = self.take(usize::MAX);
        let ended = self.child.wait().unwrap();
        let mut words = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut words).unwrap();
        (more, ended.success(), words)
    }
}

fn missing(store: &mut Store, saved: &[u128]) -> usize {
    let mut notes = BTreeMap::new();
    for number in 1..=10 {
        if let Ok(read) = store.board(BoardId(uuid(number))) {
            notes.extend(read.board.notes);
        }
    }
    saved.iter().filter(|number| !notes.contains_key(&NoteId(uuid(**number)))).count()
}

#[test]
fn a_damaged_store_is_not_renamed_under_a_process_that_has_it_open() {
    let mut acknowledged = 0;
    for round in 0..rounds() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.db");
        let mut running = Running::start(&path, 4000);
        running.take(30 + usize::try_from(round).unwrap() * 7);
        // Its beginning is gone: whoever opens it now finds it damaged.
        let bytes = fs::read(&path).unwrap();
        let mut broken = bytes[..100].to_vec();
        broken[..16].fill(0);
        write_at(&path, &broken);
        let error = Store::open(&path, env(100 + round)).unwrap_err();
        let process = running.child.id().to_string();
        assert!(matches!(error, StoreError::Held { .. }), "{error}");
        let words = error.to_string();
        assert!(words.contains(&process) && words.contains("burst") && words.contains("damaged"), "{words}");
        running.take(20);
        running.child.kill().unwrap();
        running.end();
        let mut opened = Store::open(&path, env(200 + round)).unwrap();
        assert_eq!(missing(&mut opened.store, &running.saved), 0, "round {round}: {:?}", opened.set_aside);
        acknowledged += running.saved.len();
    }
    println!("{} second openings of a damaged store: {acknowledged} edits acknowledged around them, 0 lost", rounds());
}

fn write_at(path: &Path, bytes: &[u8]) {
    use std::io::Write;
    fs::OpenOptions::new().write(true).open(path).unwrap().write_all(bytes).unwrap();
}

#[test]
fn nothing_is_acknowledged_into_a_store_that_was_deleted() {
    let mut after = 0;
    for round in 0..rounds() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.db");
        let mut running = Running::start(&path, 4000);
        running.take(30 + usize::try_from(round).unwrap() * 7);
        fs::remove_file(&path).unwrap();
        // What was under way when it was deleted may still be said.
        let said = running.take(usize::MAX);
        let (_, well, words) = running.end();
        // The pipe holds what was said before and not read yet; the last of it came at most one
        // save after the file was gone.
        assert!(!well && words.contains("Gone") && words.contains("store.db"), "{words}");
        assert!(said < 3900, "round {round}: {said}");
        after += said;
        let _ = fs::remove_dir_all(folder.path());
    }
    println!("{} stores deleted under a process: each ended with a refusal; {after} lines were on their way", rounds());
}

#[test]
fn what_was_acknowledged_is_in_a_folder_that_was_moved() {
    let mut acknowledged = 0;
    for round in 0..rounds() {
        let folder = tempfile::tempdir().unwrap();
        let (old, new) = (folder.path().join("old"), folder.path().join("new"));
        fs::create_dir(&old).unwrap();
        let mut running = Running::start(&old.join("store.db"), 4000);
        running.take(30 + usize::try_from(round).unwrap() * 7);
        fs::rename(&old, &new).unwrap();
        // A second process makes a new store at the old place.
        fs::create_dir(&old).unwrap();
        let _second = Store::open(&old.join("store.db"), env(7)).unwrap();
        let (_, well, words) = running.end();
        assert!(!well && words.contains("Gone"), "{words}");
        let mut opened = Store::open(&new.join("store.db"), env(100 + round)).unwrap();
        assert!(opened.set_aside.is_none());
        assert_eq!(missing(&mut opened.store, &running.saved), 0, "round {round}");
        acknowledged += running.saved.len();
    }
    println!("{} folders moved: {acknowledged} edits acknowledged around it, 0 lost", rounds());
}

#[test]
fn a_reader_reads_no_other_store_that_lies_where_this_one_was() {
    let folder = tempfile::tempdir().unwrap();
    let (old, new) = (folder.path().join("old"), folder.path().join("new"));
    fs::create_dir(&old).unwrap();
    let store = Store::open(&old.join("store.db"), env(1)).unwrap().store;
    assert!(store.reader().unwrap().is_some());
    fs::rename(&old, &new).unwrap();
    fs::create_dir(&old).unwrap();
    let _second = Store::open(&old.join("store.db"), env(7)).unwrap();
    assert!(matches!(store.reader(), Err(StoreError::Gone { .. })));
}

#[test]
fn a_log_taken_away_loses_nothing_saved_before() {
    let mut acknowledged = 0;
    for round in 0..rounds() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.db");
        let mut running = Running::start(&path, 4000);
        running.take(30 + usize::try_from(round).unwrap() * 7);
        fs::remove_file(folder.path().join("store.db-wal")).unwrap();
        let (_, well, words) = running.end();
        assert!(!well && words.contains("store.db-wal"), "{words}");
        let mut opened = Store::open(&path, env(100 + round)).unwrap();
        assert_eq!(missing(&mut opened.store, &running.saved), 0, "round {round}: {:?}", opened.set_aside);
        acknowledged += running.saved.len();
    }
    println!("{} logs taken away: {acknowledged} edits acknowledged before, 0 lost", rounds());
}

#[test]
fn undo_takes_back_only_what_was_done_on_this_device() {
    let folder = tempfile::tempdir().unwrap();
    let (here, there) = (folder.path().join("here"), folder.path().join("there"));
    fs::create_dir(&here).unwrap();
    fs::create_dir(&there).unwrap();
    let mut one = Store::open(&here.join("store.db"), env(1)).unwrap().store;
    create(&mut one, &board(1));
    set(&mut one, "/place", "attic");
    drop(one);
    fs::copy(here.join("store.db"), there.join("store.db")).unwrap();
    // Two processes on one store are one device: the second takes back what the first did.
    let mut one = Store::open(&here.join("store.db"), env(2)).unwrap().store;
    let mut two = Store::open(&here.join("store.db"), env(3)).unwrap().store;
    set(&mut one, "/place", "cellar");
    two.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(&mut one).place, "attic");
    assert_eq!(one.board(BOARD).unwrap().undo.as_deref(), Some("edit"));
    // A copy of the folder is another: what was done before is not its own.
    let mut copy = Store::open(&there.join("store.db"), env(4)).unwrap().store;
    assert_eq!(copy.board(BOARD).unwrap().undo, None);
    assert!(matches!(copy.undo("surveyor", BOARD, any), Err(StoreError::Nothing(_))));
    set(&mut copy, "/place", "yard");
    copy.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(&mut copy).place, "attic");
    assert_eq!(copy.board(BOARD).unwrap().undo, None);
    // A folder that was only moved stays the device it was.
    drop((one, two));
    fs::rename(&here, folder.path().join("moved")).unwrap();
    let mut moved = Store::open(&folder.path().join("moved").join("store.db"), env(5)).unwrap().store;
    assert_eq!(moved.board(BOARD).unwrap().undo.as_deref(), Some("edit"));
}
