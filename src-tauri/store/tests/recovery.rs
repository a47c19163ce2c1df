//! Damaged databases: what is intact somewhere in the file or its log comes back, what is lost is
//! told, and a kill in the middle changes neither.
//!
//! Fourteen seeded damages; two hundred with `WAYWRIGHT_WHOLE=1`.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;
use std::time::Duration;

use common::*;
use serde_json::json;
use store::{Kind, Store, StoreError};
use survey::{BoardId, Site};
use uuid::Uuid;

const PAGE: usize = 4096;
/// Bytes of the log before its first page, and before each page.
const LOG: usize = 32;
const FRAME: usize = 24 + PAGE;

fn whole() -> bool {
    std::env::var_os("WAYWRIGHT_WHOLE").is_some()
}

/// A change as it was stored, its number in the order of its document.
struct Change {
    document: Uuid,
    hash: [u8; 32],
    bytes: Vec<u8>,
    /// What it wrote, where that stands alone.
    text: String,
    /// Where its bytes stand in one piece in the sound files.
    pieces: Vec<(String, usize)>,
    /// The pages of the sound files that hold a part of it.
    pages: BTreeSet<(bool, usize)>,
}

/// A sound store: a part of it in the database, a part only in the log.
struct Sound {
    files: BTreeMap<String, Vec<u8>>,
    changes: Vec<Change>,
    documents: Vec<(Uuid, Kind)>,
    photos: BTreeMap<String, Vec<u8>>,
}

fn photo(seed: u32) -> Vec<u8> {
    let mut random = Random(u64::from(seed) + 77);
    let picture = image::RgbImage::from_fn(160, 120, |_, _| image::Rgb([random.next() as u8, random.next() as u8, 9]));
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

fn sound() -> &'static Sound {
    static SOUND: OnceLock<Sound> = OnceLock::new();
    SOUND.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.db");
        let mut store = Store::open(&path, env(1)).unwrap().store;
        let site = Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() };
        store.create_site(op("new site"), &site).unwrap();
        let mut texts = BTreeMap::new();
        let mut photos = BTreeMap::new();
        let edit = |store: &mut Store, texts: &mut BTreeMap<(Uuid, usize), String>, number: u128, step: usize| {
            let id = BoardId(uuid(0x100 + number));
            let text = format!("edit {number} {step} of the board");
            let note = json!({ "text": text });
            let path = format!("/notes/{}", uuid(0x10_0000 * (number + 1) + step as u128));
            store.transact(op("add note"), id, &[change(path, note)], any).unwrap();
            texts.insert((id.0, step), text);
        };
        let make = |store: &mut Store, texts: &mut BTreeMap<(Uuid, usize), String>, number: u128| {
            let mut board = board(if number.is_multiple_of(3) { 40 } else { 4 });
            board.id = BoardId(uuid(0x100 + number));
            board.reference = format!("DB{number}");
            store.create_board(op("new board"), &board, |_| Ok(())).unwrap();
            for step in 1..=(if number == 4 { 70 } else { 9 }) {
                edit(store, texts, number, step);
            }
        };
        store
            .batch(|store| {
                for number in 0..10 {
                    make(store, &mut texts, number);
                }
                Ok::<_, StoreError>(())
            })
            .unwrap();
        for seed in 0..2 {
            let bytes = photo(seed);
            photos.insert(store.add_photo(&bytes).unwrap().hash, bytes);
        }
        store.settle_file().unwrap();
        for step in 71..=74 {
            store
                .batch(|store| {
                    for number in 0..10 {
                        edit(store, &mut texts, number, step);
                    }
                    Ok::<_, StoreError>(())
                })
                .unwrap();
        }
        let bytes = photo(9);
        photos.insert(store.add_photo(&bytes).unwrap().hash, bytes);
        let documents = store.document_ids().unwrap();
        // As it lies on the disk while it is in use.
        let mut files = BTreeMap::new();
        for file in fs::read_dir(folder.path()).unwrap() {
            let path = file.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if !name.ends_with("-shm") && !name.ends_with("-lock") {
                files.insert(name, fs::read(path).unwrap());
            }
        }
        drop(store);
        let db = rusqlite::Connection::open(&path).unwrap();
        let mut rows = db.prepare("SELECT document, hash, bytes FROM changes ORDER BY seq").unwrap();
        let mut count: BTreeMap<Uuid, usize> = BTreeMap::new();
        let changes = rows
            .query_map([], |row| Ok((Uuid::from_bytes(row.get(0)?), row.get(1)?, row.get(2)?)))
            .unwrap()
            .map(|row| {
                let (document, hash, bytes): (Uuid, [u8; 32], Vec<u8>) = row.unwrap();
                let at = count.entry(document).or_default();
                let mut step = *at;
                *at += 1;
                if step > 9 && !texts.contains_key(&(document, step)) {
                    step += 61;
                }
                let text = texts.get(&(document, step)).cloned().unwrap_or_default();
                let pieces = pieces(&files, &bytes);
                let pages = pages_of(&files, &bytes);
                Change { document, hash, bytes, text, pieces, pages }
            })
            .collect();
        Sound { files, changes, documents, photos }
    })
}

struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (self.0 ^ (self.0 >> 33)).wrapping_mul(0xff51_afd7_ed55_8ccd);
        mixed ^ (mixed >> 29)
    }
    fn below(&mut self, most: usize) -> usize {
        usize::try_from(self.next() % most.max(1) as u64).unwrap()
    }
}

/// What a seed does to the files; returns its name and which pages it touched, as (file, offset).
fn damage(files: &mut BTreeMap<String, Vec<u8>>, seed: u64) -> (String, BTreeSet<(bool, usize)>) {
    let mut random = Random(seed * 7919 + 13);
    let mut touched = BTreeSet::new();
    let pages = files["store.db"].len() / PAGE;
    let frames = (files["store.db-wal"].len() - LOG) / FRAME;
    let db = files.get_mut("store.db").unwrap();
    let name = match seed % 14 {
        0 => {
            let count = 1 + random.below(4);
            db.truncate((pages - count) * PAGE);
            touched.extend((pages - count..pages).map(|page| (false, page)));
            format!("cut off by {count} pages")
        }
        1 => {
            let left = PAGE + random.below(db.len() - PAGE);
            db.truncate(left);
            touched.extend((left / PAGE..pages).map(|page| (false, page)));
            format!("cut off at byte {left}")
        }
        2 | 3 => {
            let (first, count) = (random.below(pages), 1 + random.below(5));
            let end = (first + count).min(pages);
            db[first * PAGE..end * PAGE].fill(0);
            touched.extend((first..end).map(|page| (false, page)));
            format!("pages {first} to {end} zeroed")
        }
        4..=6 => {
            let count = 1 + random.below(6);
            let mut name = "bits flipped at".to_owned();
            for _ in 0..count {
                let at = random.below(db.len());
                db[at] ^= 1 << random.below(8);
                touched.insert((false, at / PAGE));
                name.push_str(&format!(" {at}"));
            }
            name
        }
        7 => {
            let at =
                [0, 3, 16, 17, 18, 19, 20, 21, 44 + 3, 52, 56 + 3, 60, 61, 62, 63, 68, 69, 70, 71][random.below(19)];
            let bit = random.below(8);
            db[at] ^= 1 << bit;
            touched.insert((false, 0));
            format!("bit {bit} of byte {at} flipped")
        }
        8 | 9 => {
            let (one, other) = (random.below(pages), random.below(pages));
            let (a, b) = (one.min(other), one.max(other));
            if a != b {
                let (left, right) = db.split_at_mut(b * PAGE);
                left[a * PAGE..(a + 1) * PAGE].swap_with_slice(&mut right[..PAGE]);
                touched.extend([(false, a), (false, b)]);
            }
            format!("pages {a} and {b} changed places")
        }
        10 => {
            files.remove("store.db-wal");
            touched.extend((0..frames).map(|frame| (true, frame)));
            "log gone".to_owned()
        }
        11 => {
            let log = files.get_mut("store.db-wal").unwrap();
            let at = random.below(log.len());
            log[at] ^= 1 << random.below(8);
            touched.insert((true, at.saturating_sub(LOG) / FRAME));
            format!("bit flipped in the log at {at}")
        }
        12 => {
            let log = files.get_mut("store.db-wal").unwrap();
            let left = random.below(log.len());
            log.truncate(left);
            touched.extend((left.saturating_sub(LOG) / FRAME..frames).map(|frame| (true, frame)));
            format!("log cut off at byte {left}")
        }
        _ => {
            if random.below(2) == 0 {
                files.remove("store.db");
                touched.extend((0..pages).map(|page| (false, page)));
                "database gone, log there".to_owned()
            } else {
                let at = random.below(db.len() - 3 * PAGE);
                for byte in &mut db[at..at + 2 * PAGE] {
                    *byte = random.next() as u8;
                }
                touched.extend((at / PAGE..=(at + 2 * PAGE) / PAGE).map(|page| (false, page)));
                format!("noise at byte {at}")
            }
        }
    };
    (name, touched)
}

/// Where these bytes stand in one piece.
fn pieces(files: &BTreeMap<String, Vec<u8>>, bytes: &[u8]) -> Vec<(String, usize)> {
    let mut found = Vec::new();
    for (name, file) in files {
        let starts = file.windows(8).enumerate().filter(|(_, window)| *window == &bytes[..8]);
        found.extend(
            starts.filter(|(at, _)| file.get(*at..*at + bytes.len()) == Some(bytes)).map(|(at, _)| (name.clone(), at)),
        );
    }
    found
}

/// The pages of the sound files that hold a part of these bytes, as (in the log, number).
fn pages_of(files: &BTreeMap<String, Vec<u8>>, bytes: &[u8]) -> BTreeSet<(bool, usize)> {
    let starts: BTreeSet<&[u8]> = bytes.windows(24).collect();
    let all = files["store.db"].chunks(PAGE).enumerate().map(|(number, page)| ((false, number), page)).chain(
        files["store.db-wal"][LOG..].chunks(FRAME).enumerate().map(|(number, frame)| ((true, number), &frame[24..])),
    );
    all.filter(|(_, page)| starts.contains(&page[4..28]) || page.windows(24).any(|window| window == &bytes[..24]))
        .map(|(number, _)| number)
        .collect()
}

/// The changes whose bytes are all still there: in one piece, or on pages that were not touched.
fn intact(sound: &Sound, files: &BTreeMap<String, Vec<u8>>, touched: &BTreeSet<(bool, usize)>) -> BTreeSet<usize> {
    let in_one_piece = |change: &Change| {
        change.pieces.iter().any(|(name, at)| {
            // Where it was, or where its page went.
            let moved = touched.iter().map(|(_, page)| page * PAGE + at % PAGE);
            files.get(name).is_some_and(|file| {
                std::iter::once(*at).chain(moved).any(|at| file.get(at..at + change.bytes.len()) == Some(&change.bytes))
            })
        })
    };
    let all = sound.changes.iter().enumerate();
    all.filter(|(_, change)| in_one_piece(change) || (!change.pages.is_empty() && change.pages.is_disjoint(touched)))
        .map(|(index, _)| index)
        .collect()
}

fn write_all(folder: &Path, files: &BTreeMap<String, Vec<u8>>) -> PathBuf {
    for (name, bytes) in files {
        fs::write(folder.join(name), bytes).unwrap();
    }
    folder.join("store.db")
}

/// What a store gives back of the sound one.
struct Back {
    changes: BTreeSet<[u8; 32]>,
    texts: BTreeMap<Uuid, String>,
    errors: usize,
    /// What its boards and sites say of bytes that rotted.
    rotten: String,
}

fn back(store: &mut Store, sound: &Sound) -> Back {
    let mut back = Back { changes: BTreeSet::new(), texts: BTreeMap::new(), errors: 0, rotten: String::new() };
    for (id, kind) in &sound.documents {
        match store.changes_since(*id, *kind, &[]) {
            Ok(changes) => {
                back.changes.extend(changes.iter().map(|change| change.id.0));
                back.texts.insert(*id, store.document_json(*id, *kind).unwrap().to_string());
                for problem in store.damage(*id, *kind).unwrap() {
                    back.rotten += &format!("{}: {}\n", problem.value, problem.message);
                }
            }
            Err(_) => back.errors += 1,
        }
    }
    back.errors += sound.photos.keys().filter(|hash| store.photo(hash).is_err()).count();
    back
}

#[derive(Default)]
struct Tally {
    damages: usize,
    set_aside: usize,
    intact: usize,
    by_hash: usize,
    by_value: usize,
    told_unplaced: usize,
    lost: usize,
    silent: Vec<String>,
}

fn judge(seed: u64, tally: &mut Tally) {
    let sound = sound();
    let mut files = sound.files.clone();
    let (name, touched) = damage(&mut files, seed);
    let intact = intact(sound, &files, &touched);
    let folder = tempfile::tempdir().unwrap();
    let path = write_all(folder.path(), &files);
    let what = format!("seed {seed}: {name}");
    let mut opened = Store::open(&path, env(1000 + seed)).unwrap_or_else(|error| panic!("{what}: {error}"));
    let mut there = back(&mut opened.store, sound);
    let mut reopened = false;
    // Asked in any case: a photo that rotted in its place is told and no reason to look further at the next opening.
    let found = opened.store.check().unwrap();
    let unsound = there.errors > 0 || !found.is_empty();
    if unsound && opened.set_aside.is_none() && opened.store.notices().unwrap().is_empty() {
        // A board that does not read says so, and so does a check; the next opening then recovers what can be.
        drop(opened);
        opened = Store::open(&path, env(2000 + seed)).unwrap_or_else(|error| panic!("{what}: {error}"));
        there = back(&mut opened.store, sound);
        reopened = true;
    }
    let mut store = opened.store;
    assert!(store.check().unwrap().is_empty(), "{what}");
    let notices: Vec<String> = store.notices().unwrap().into_iter().map(|notice| notice.text).collect();
    let told = format!("{}\n{}", notices.join("\n"), there.rotten);
    if let Some(aside) = &opened.set_aside {
        tally.set_aside += 1;
        for (end, of) in [("", "store.db"), ("-wal", "store.db-wal")] {
            // The log went into the database where that was opened and closed before.
            if let Some(bytes) = files.get(of).filter(|_| !reopened) {
                let aside = PathBuf::from(format!("{}{end}", aside.path.display()));
                assert!(&fs::read(aside).unwrap() == bytes, "{what}: kept as it was");
            }
        }
        assert!(told.contains(&aside.reason), "{what}: {told}");
    }
    let mut unplaced = 0;
    for index in &intact {
        let change = &sound.changes[*index];
        tally.intact += 1;
        if there.changes.contains(&change.hash) {
            tally.by_hash += 1;
        } else if !change.text.is_empty()
            && there.texts.get(&change.document).is_some_and(|text| text.contains(&change.text))
        {
            tally.by_value += 1;
        } else {
            unplaced += 1;
        }
    }
    if unplaced > 0 {
        // Either its bytes are set aside, or they wait in their place for a bundle that holds what they build on.
        let waits = there.rotten.contains(" on it and wait");
        assert!(
            waits || told.contains("records which are lost"),
            "{what}: {unplaced} intact changes are not there: {told}"
        );
        tally.told_unplaced += unplaced;
    }
    // Nothing that was not there before, but for what brings values back.
    let known: BTreeSet<[u8; 32]> = sound.changes.iter().map(|change| change.hash).collect();
    let new = there.changes.difference(&known).count();
    assert!(
        new == 0 || opened.set_aside.as_ref().is_some_and(|aside| aside.by_value > 0 || !aside.lost.is_empty()),
        "{what}"
    );
    let lost = sound.changes.iter().filter(|change| !there.changes.contains(&change.hash)).count();
    tally.lost += lost;
    let said = told.contains("not recovered")
        || told.contains("build on lost ones")
        || told.contains("fewer")
        || there.rotten.contains("does not read as it was saved");
    if lost > 0 && !said {
        tally.silent.push(format!("{what}: {lost} changes lost; told: {told}"));
    }
    for (hash, bytes) in &sound.photos {
        match store.photo(hash) {
            Ok(photo) if photo == *bytes => {}
            Ok(_) => panic!("{what}: a photo is not what it was"),
            Err(_) if told.contains(&hash[..12]) || told.contains("fewer") || told.contains("photos of which only") => {
            }
            // It says itself that it is damaged.
            Err(StoreError::DamagedPhoto(named)) if named == *hash => {}
            Err(_) => tally.silent.push(format!("{what}: photo {hash} lost; told: {told}")),
        }
    }
    tally.damages += 1;
    // Work goes on, and the next opening finds nothing wrong.
    let mut board = board(1);
    board.id = BoardId(uuid(0xF000));
    store.create_board(op("new board"), &board, |_| Ok(())).unwrap();
    drop(store);
    let opened = Store::open_checked(&path, env(3000 + seed)).unwrap();
    assert!(opened.set_aside.is_none(), "{what}: {:?}", opened.set_aside);
    assert_eq!(opened.store.notices().unwrap().len(), notices.len(), "{what}: kept until they are read");
}

#[test]
fn what_is_intact_comes_back_and_what_is_lost_is_told() {
    let seeds: Vec<u64> = match std::env::var("WAYWRIGHT_SEED").ok().and_then(|seed| seed.parse().ok()) {
        Some(seed) => vec![seed],
        None => (0..if whole() { 200 } else { 14 }).collect(),
    };
    let mut tally = Tally::default();
    let mut failed = 0;
    for seed in seeds {
        failed +=
            usize::from(std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| judge(seed, &mut tally))).is_err());
    }
    let Tally { damages, set_aside, intact, by_hash, by_value, told_unplaced, lost, silent } = tally;
    println!(
        "{damages} damages, {set_aside} set aside: of {intact} intact changes {by_hash} came back with their place in \
         the history, {by_value} by their values, {told_unplaced} told as not placeable; {lost} changes destroyed; \
         {} silent, {failed} broken off",
        silent.len()
    );
    assert_eq!(failed, 0, "said above");
    assert!(silent.is_empty(), "{} silent:\n{}", silent.len(), silent.join("\n"));
    assert_eq!(intact, by_hash + by_value + told_unplaced);
}

/// The program that recovers a store and is killed.
fn reopen() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().nth(2).unwrap();
    folder.join("examples").join(format!("reopen{}", std::env::consts::EXE_SUFFIX))
}

#[test]
fn a_recovery_can_be_killed() {
    assert!(reopen().is_file(), "build the example first: cargo build --workspace --example reopen");
    let sound = sound();
    let mut files = sound.files.clone();
    let db = files.get_mut("store.db").unwrap();
    let middle = db.len() / PAGE / 2;
    db[middle * PAGE..(middle + 3) * PAGE].fill(0x5a);
    // What comes back undisturbed.
    let folder = tempfile::tempdir().unwrap();
    let path = write_all(folder.path(), &files);
    let started = std::time::Instant::now();
    assert!(Command::new(reopen()).arg(&path).stdout(Stdio::null()).status().unwrap().success());
    let mut takes = started.elapsed();
    let mut opened = Store::open(&path, env(5)).unwrap();
    let undisturbed = back(&mut opened.store, sound).changes;
    assert!(undisturbed.len() > sound.changes.len() / 2);
    assert_eq!(opened.store.notices().unwrap().len(), 1);
    let rounds = if whole() { 20 } else { 5 };
    let (mut killed, mut finished, mut stores) = (0, 0, 0);
    // Until as many were killed in their middle: a machine with other work is not equally quick all the time.
    for round in (0..rounds).cycle().take(5 * rounds as usize) {
        if stores >= rounds && killed >= rounds {
            break;
        }
        stores += 1;
        let folder = tempfile::tempdir().unwrap();
        let path = write_all(folder.path(), &files);
        // Up to three kills, one after another, at moments spread over the whole of it.
        for kill in 0..=round % 3 {
            let mut child = Command::new(reopen()).arg(&path).stdout(Stdio::null()).spawn().unwrap();
            let part = (round * 3 + kill + 1) as f64 / f64::from(rounds * 3);
            std::thread::sleep(Duration::from_secs_f64(takes.as_secs_f64() * part * 1.05));
            if child.try_wait().unwrap().is_none() {
                killed += 1;
            } else {
                finished += 1;
                takes = takes * 9 / 10;
            }
            let _ended = child.kill();
            child.wait().unwrap();
        }
        let mut opened = Store::open(&path, env(100 + u64::try_from(round).unwrap())).unwrap();
        let there = back(&mut opened.store, sound).changes;
        let known: BTreeSet<[u8; 32]> = sound.changes.iter().map(|change| change.hash).collect();
        let lost = undisturbed.intersection(&known).filter(|hash| !there.contains(*hash)).count();
        assert_eq!(lost, 0, "round {round}");
        let notices = opened.store.notices().unwrap();
        assert_eq!(notices.len(), 1, "round {round}: told once: {notices:?}");
        assert!(notices[0].text.contains("damaged"));
        // The damaged one is there, once, as it was.
        let aside: Vec<PathBuf> = fs::read_dir(folder.path())
            .unwrap()
            .map(|file| file.unwrap().path())
            .filter(|path| {
                path.to_string_lossy().contains("damaged")
                    && !path.to_string_lossy().ends_with("-wal")
                    && !path.to_string_lossy().ends_with("-shm")
            })
            .collect();
        assert_eq!(aside.len(), 1, "round {round}");
        assert!(fs::read(&aside[0]).unwrap() == files["store.db"], "round {round}");
        assert!(
            fs::read_dir(folder.path()).unwrap().all(|file| !file
                .unwrap()
                .file_name()
                .to_string_lossy()
                .contains("recover")),
            "round {round}: nothing half-made is left"
        );
        // Read once by a person, they are not shown again.
        opened.store.mark_read(notices[0].seq).unwrap();
        assert!(opened.store.notices().unwrap().is_empty());
    }
    println!("{killed} recoveries killed, {finished} had ended before: all of {stores} stores whole and told, 0 lost");
    assert!(killed >= rounds, "hardly one was killed in the middle");
}
