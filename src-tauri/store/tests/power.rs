//! The power goes while the store works: what was acknowledged is there, nothing is half there.
//!
//! A file system of our own below SQLite notes every write and every flush. For each seed it makes the disk that
//! a cut at some moment may leave: what was flushed, and of what was not any part, sector by sector, in any
//! order. Then the store is opened on that disk.
//!
//! WAYWRIGHT_WHOLE=1 takes 1,000 seeds instead of 60; WAYWRIGHT_SEED the first one.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails")]

mod common;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{Error, ErrorKind, Result};
use std::ops::Range;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex, MutexGuard};
use std::time::Duration;

use common::*;
use serde_json::Value;
use sqlite_vfs::wip::{WalIndex, WalIndexLock};
use sqlite_vfs::{DatabaseHandle, LockKind, OpenAccess, OpenOptions, Vfs, register};
use store::{Incoming, Kind, Store, StoreError};
use survey::{BoardId, Site};

/// What a disk writes whole or not at all.
const SECTOR: usize = 512;

/// What was done to the disk, in order.
enum Done {
    Write {
        file: String,
        at: usize,
        bytes: Vec<u8>,
    },
    Length {
        file: String,
        to: usize,
    },
    /// All of the file is on the disk, its name too.
    Flush {
        file: String,
    },
    Create {
        file: String,
    },
    Delete {
        file: String,
    },
    /// The person was told that this many acts are saved; the mark beside the store as it then was.
    Told(usize, Vec<u8>),
}

#[derive(Default)]
struct Disk {
    log: Vec<Done>,
    shared: BTreeMap<String, BTreeMap<u32, Box<[u8; 32768]>>>,
    /// SQLite's own chance, the same at every run.
    dice: Dice,
}

static DISK: LazyLock<Mutex<Disk>> = LazyLock::new(Mutex::default);

fn disk() -> MutexGuard<'static, Disk> {
    DISK.lock().unwrap()
}

fn name(path: &str) -> String {
    Path::new(path).file_name().unwrap().to_string_lossy().into_owned()
}

/// Files as they are, with a note of all that is done to them.
struct Noted;

struct Handle {
    path: String,
    file: File,
    lock: LockKind,
}

struct Index {
    path: String,
}

impl Vfs for Noted {
    type Handle = Handle;

    fn open(&self, path: &str, opts: OpenOptions) -> Result<Handle> {
        let there = Path::new(path).exists();
        let mut how = File::options();
        how.read(true).write(opts.access != OpenAccess::Read);
        match opts.access {
            OpenAccess::Create => how.create(true),
            OpenAccess::CreateNew => how.create_new(true),
            _ => &mut how,
        };
        let file = how.open(path)?;
        if !there {
            disk().log.push(Done::Create { file: name(path) });
        }
        Ok(Handle { path: path.to_owned(), file, lock: LockKind::None })
    }
    fn delete(&self, path: &str) -> Result<()> {
        fs::remove_file(path)?;
        disk().log.push(Done::Delete { file: name(path) });
        Ok(())
    }
    fn exists(&self, path: &str) -> Result<bool> {
        Ok(Path::new(path).exists())
    }
    fn temporary_name(&self) -> String {
        let number = disk().dice.below(usize::MAX);
        std::env::temp_dir().join(format!("power-{}-{number}", std::process::id())).to_string_lossy().into_owned()
    }
    fn random(&self, buffer: &mut [i8]) {
        let dice = &mut disk().dice;
        buffer.iter_mut().for_each(|to| *to = u8::try_from(dice.below(256)).unwrap().cast_signed());
    }
    fn sleep(&self, duration: Duration) -> Duration {
        std::thread::sleep(duration);
        duration
    }
}

impl DatabaseHandle for Handle {
    type WalIndex = Index;

    fn size(&self) -> Result<u64> {
        Ok(self.file.metadata()?.len())
    }
    fn read_exact_at(&mut self, buf: &mut [u8], offset: u64) -> Result<()> {
        let mut got = 0;
        while got < buf.len() {
            match self.file.read_at(&mut buf[got..], offset + got as u64)? {
                0 => {
                    // As SQLite asks: what is beyond the end reads as zeros.
                    buf[got..].fill(0);
                    return Err(Error::new(ErrorKind::UnexpectedEof, "the end"));
                }
                more => got += more,
            }
        }
        Ok(())
    }
    fn write_all_at(&mut self, buf: &[u8], offset: u64) -> Result<()> {
        self.file.write_all_at(buf, offset)?;
        disk().log.push(Done::Write {
            file: name(&self.path),
            at: usize::try_from(offset).unwrap(),
            bytes: buf.to_vec(),
        });
        Ok(())
    }
    fn sync(&mut self, _: bool) -> Result<()> {
        disk().log.push(Done::Flush { file: name(&self.path) });
        Ok(())
    }
    fn set_len(&mut self, size: u64) -> Result<()> {
        self.file.set_len(size)?;
        disk().log.push(Done::Length { file: name(&self.path), to: usize::try_from(size).unwrap() });
        Ok(())
    }
    // One thread has it open at a time.
    fn lock(&mut self, lock: LockKind) -> Result<bool> {
        self.lock = lock;
        Ok(true)
    }
    fn reserved(&mut self) -> Result<bool> {
        Ok(false)
    }
    fn current_lock(&self) -> Result<LockKind> {
        Ok(self.lock)
    }
    fn wal_index(&self, _: bool) -> Result<Index> {
        Ok(Index { path: self.path.clone() })
    }
}

impl WalIndex for Index {
    fn map(&mut self, region: u32) -> Result<[u8; 32768]> {
        let mut disk = disk();
        let regions = disk.shared.entry(self.path.clone()).or_default();
        Ok(**regions.entry(region).or_insert_with(|| Box::new([0; 32768])))
    }
    fn lock(&mut self, _: Range<u8>, _: WalIndexLock) -> Result<bool> {
        Ok(true)
    }
    fn delete(self) -> Result<()> {
        disk().shared.remove(&self.path);
        Ok(())
    }
    fn pull(&mut self, region: u32, data: &mut [u8; 32768]) -> Result<()> {
        *data = self.map(region)?;
        Ok(())
    }
    fn push(&mut self, region: u32, data: &[u8; 32768]) -> Result<()> {
        disk().shared.entry(self.path.clone()).or_default().insert(region, Box::new(*data));
        Ok(())
    }
}

/// A row of numbers that is the same for a seed (SplitMix64).
#[derive(Default)]
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % limit as u64).unwrap()
    }
}

/// A file on the disk: its content as flushed, `None` where it is not there, and what was done to it since.
#[derive(Default)]
struct Kept<'a> {
    flushed: Option<Vec<u8>>,
    since: Vec<&'a Done>,
}

fn put(content: &mut Vec<u8>, at: usize, bytes: &[u8]) {
    if content.len() < at + bytes.len() {
        content.resize(at + bytes.len(), 0);
    }
    content[at..at + bytes.len()].copy_from_slice(bytes);
}

fn apply(content: &mut Option<Vec<u8>>, done: &Done) {
    match done {
        Done::Create { .. } => *content = Some(Vec::new()),
        Done::Delete { .. } => *content = None,
        Done::Write { at, bytes, .. } => put(content.get_or_insert_default(), *at, bytes),
        Done::Length { to, .. } => content.get_or_insert_default().resize(*to, 0),
        Done::Flush { .. } | Done::Told(..) => {}
    }
}

impl Kept<'_> {
    /// A file system with a journal keeps names in order: with the next flush of any file those made or taken away
    /// before are on the disk, what is in them is not.
    fn settle_its_name(&mut self) {
        let last = |wanted: fn(&Done) -> bool| self.since.iter().rposition(|done| wanted(done)).map(|at| at + 1);
        if let Some(gone) = last(|done| matches!(done, Done::Delete { .. })) {
            self.flushed = None;
            self.since.drain(..gone);
        }
        if let Some(Done::Create { .. }) = self.since.first() {
            self.flushed = Some(Vec::new());
            self.since.remove(0);
        }
    }

    /// What a cut may leave of it.
    fn after_a_cut(self, dice: &mut Dice) -> Option<Vec<u8>> {
        let mut content = self.flushed;
        for done in self.since {
            match done {
                Done::Write { at, bytes, .. } => match dice.below(4) {
                    0 => {}
                    1 => {
                        // Sectors of their own: each arrives or does not.
                        let mut from = 0;
                        while from < bytes.len() {
                            let to = bytes.len().min((at + from) / SECTOR * SECTOR + SECTOR - at);
                            if dice.below(2) == 0 {
                                put(content.get_or_insert_default(), at + from, &bytes[from..to]);
                            }
                            from = to;
                        }
                    }
                    _ => apply(&mut content, done),
                },
                // Names and lengths may arrive or not.
                _ if dice.below(3) > 0 => apply(&mut content, done),
                _ => {}
            }
        }
        content
    }
}

/// The disk at a cut after so many things were done, from what it was at first; what the person had been told.
fn cut(first: &BTreeMap<String, Vec<u8>>, log: &[Done], dice: &mut Dice) -> (BTreeMap<String, Vec<u8>>, usize) {
    let mut files: BTreeMap<&str, Kept> = BTreeMap::new();
    for (name, content) in first {
        files.insert(name, Kept { flushed: Some(content.clone()), since: Vec::new() });
    }
    let mut told = 0;
    let mut marks = Vec::new();
    for done in log {
        match done {
            Done::Told(count, mark) => {
                told = *count;
                marks.push(mark);
            }
            Done::Flush { file } => {
                files.values_mut().for_each(Kept::settle_its_name);
                let kept = files.entry(file).or_default();
                for done in kept.since.drain(..) {
                    apply(&mut kept.flushed, done);
                }
            }
            Done::Write { file, .. } | Done::Length { file, .. } | Done::Create { file } | Done::Delete { file } => {
                files.entry(file).or_default().since.push(done);
            }
        }
    }
    let left = files.into_iter().filter_map(|(name, kept)| Some((name.to_owned(), kept.after_a_cut(dice)?)));
    let mut left: BTreeMap<String, Vec<u8>> = left.collect();
    // The mark is written beside SQLite and not flushed: the last one, or one of some acts before.
    if let Some(mark) = marks.iter().rev().nth(dice.below(4)) {
        left.insert("store.db-mark".to_owned(), mark.to_vec());
    }
    (left, told)
}

/// All that a person sees in a store, as one text.
fn seen(store: &mut Store) -> String {
    let mut all = Vec::new();
    let ids = [BOARD, BoardId(uuid(0xB0A2E)), BoardId(uuid(0xB0A2F))];
    for id in ids {
        match store.board(id) {
            Ok(board) => {
                // Not what undo would do: the disk after a cut is made anew, and a copied store is another device's.
                let about = (board.version, board.conflicts.len());
                all.push(format!("{} {about:?}", serde_json::to_string(&board.board).unwrap()));
            }
            Err(StoreError::NotFound { .. }) => all.push("no board".to_owned()),
            Err(error) => all.push(error.to_string()),
        }
    }
    all.push(match store.site(SITE) {
        Ok(site) => site.site.name,
        Err(error) => error.to_string(),
    });
    for row in store.boards(&store::Find::words("")).unwrap() {
        all.push(format!("{} {} {}", row.reference, row.place, row.circuits));
    }
    for number in 0..40 {
        if let Ok(meta) = store.photo_meta(&hash(number)) {
            all.push(format!("{meta:?} {:?}", store.photo(&hash(number)).map(|bytes| bytes.len()).ok()));
        }
    }
    all.join("\n")
}

/// A photo of its own for each number.
fn photo(number: usize) -> Vec<u8> {
    let shade = u8::try_from(number * 6).unwrap();
    let mut picture = image::RgbImage::from_pixel(64, 48, image::Rgb([shade, 90, 200]));
    picture.put_pixel(3, 3, image::Rgb([255, shade, 0]));
    let mut bytes = Vec::new();
    picture.write_to(&mut std::io::Cursor::new(&mut bytes), image::ImageFormat::Png).unwrap();
    bytes
}

fn hash(number: usize) -> String {
    use sha2::{Digest, Sha256};
    hex::encode(Sha256::digest(photo(number)))
}

/// A person's acts, one after another; before each what is seen is noted, and after each it is told that it is
/// saved.
fn work(store: &mut Store, path: &Path, acts: usize, dice: &mut Dice) -> Vec<String> {
    let mut states = vec![seen(store)];
    for act in 1..=acts {
        one_act(store, act, dice);
        let mark = fs::read(path.with_file_name("store.db-mark")).unwrap_or_default();
        disk().log.push(Done::Told(act, mark));
        states.push(seen(store));
    }
    states
}

fn one_act(store: &mut Store, act: usize, dice: &mut Dice) {
    let second = BoardId(uuid(0xB0A2E));
    if store.site(SITE).is_err() {
        let site = Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() };
        store.create_site(op("new site"), &site).unwrap();
        return;
    }
    if store.board(BOARD).is_err() {
        create(store, &board(12));
        return;
    }
    if store.board(second).is_err() {
        // A colleague's board, as it comes in a bundle.
        let mut other = memory(77);
        let mut sent = board(5);
        sent.id = second;
        create(&mut other, &sent);
        let bytes = other.document_bytes(second.0, Kind::Board).unwrap();
        let incoming = Incoming { id: second.0, kind: Kind::Board, bytes };
        store.merge(&[incoming], |_, _| Ok::<_, StoreError>(())).unwrap();
        return;
    }
    match dice.below(12) {
        0 => drop(store.add_photo(&photo(dice.below(40))).unwrap()),
        1 if store.board(BOARD).unwrap().undo.is_some() => drop(store.undo("surveyor", BOARD, any)),
        2 if store.board(BOARD).unwrap().redo.is_some() => drop(store.redo("surveyor", BOARD, any)),
        3 => drop(store.compact().unwrap()),
        _ => {
            // Two fields at once: both are saved or none.
            let (place, words) = (format!("bay {act}"), format!("socket {act}"));
            let changes = [change("/place", Value::from(place)), change(circuit("description"), Value::from(words))];
            store.transact(op("edit"), BOARD, &changes, any).unwrap();
        }
    }
}

fn on(folder: &Path, files: &BTreeMap<String, Vec<u8>>) -> PathBuf {
    for (name, content) in files {
        fs::write(folder.join(name), content).unwrap();
    }
    folder.join("store.db")
}

/// Works on a disk until the log ends; gives the log and what was seen after each act.
fn recorded(first: &BTreeMap<String, Vec<u8>>, acts: usize, seed: u64) -> (Vec<Done>, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let path = on(folder.path(), first);
    *disk() = Disk::default();
    let opened = Store::open(&path, env(seed)).unwrap();
    assert!(opened.set_aside.is_none(), "{:?}", opened.set_aside);
    let mut store = opened.store;
    let states = work(&mut store, &path, acts, &mut Dice(seed));
    drop(store);
    (std::mem::take(&mut *disk()).log, states)
}

/// Opens what a cut left; what was told is there, and of the act under way all or nothing.
fn judge(files: &BTreeMap<String, Vec<u8>>, told: usize, states: &[String], about: &str) {
    let folder = tempfile::tempdir().unwrap();
    let path = on(folder.path(), files);
    *disk() = Disk::default();
    let opened = Store::open(&path, env(999)).unwrap_or_else(|error| panic!("{about}: {error}"));
    assert!(opened.set_aside.is_none(), "{about}: {:?}", opened.set_aside);
    let mut store = opened.store;
    assert!(store.check().unwrap().is_empty(), "{about}");
    let found = seen(&mut store);
    let may = &states[told..states.len().min(told + 2)];
    if !may.contains(&found) {
        let nearest = states.iter().position(|state| *state == found);
        let other: Vec<_> = found.lines().zip(states[told].lines()).filter(|(a, b)| a != b).collect();
        panic!("{about}: told {told}, found the state {nearest:?}\n{other:.300?}");
    }
}

#[test]
fn what_was_told_is_there_after_the_power_went() {
    register("noted", Noted, true).unwrap();
    let seeds = if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 1000 } else { 60 };
    let base: u64 = std::env::var("WAYWRIGHT_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(1);
    let (mut acknowledged, mut cuts) = (0, 0);
    // The same run is cut at many moments, and what is left is worked on and cut once more.
    const CUTS: u64 = 20;
    for round in 0..seeds / CUTS {
        let (log, states) = recorded(&BTreeMap::new(), 150, base + round);
        for number in 0..CUTS {
            let seed = base + round * CUTS + number;
            let mut dice = Dice(seed.wrapping_mul(0x5DEE_CE66));
            let at = dice.below(log.len() + 1);
            let (files, told) = cut(&BTreeMap::new(), &log[..at], &mut dice);
            judge(&files, told, &states, &format!("seed {seed}, cut after {at} of {}", log.len()));
            acknowledged += told;
            cuts += 1;
            if number % 4 == 0 {
                let (log, states) = recorded(&files, 6, seed);
                let at = dice.below(log.len() + 1);
                let (files, told) = cut(&files, &log[..at], &mut dice);
                judge(&files, told, &states, &format!("seed {seed}, second cut after {at} of {}", log.len()));
                acknowledged += told;
                cuts += 1;
            }
        }
    }
    println!("{cuts} cuts, {acknowledged} acts told before them, all there");
}
