//! A bit that flips in a stored change, snapshot or photo: the board opens with what is sound, it is
//! told what is bad, the rest is exported, and a good bundle heals it.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

#[path = "../../store/tests/common/mod.rs"]
mod common;

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use common::*;
use exchange::{Summary, export_site, import};
use rusqlite::{Connection, params};
use store::{Health, Kind, Store, StoreError};
use survey::{Board, Photo, Site};

const PHOTO: &str = "/photos/00000000-0000-0000-0000-0000000f0700";

fn jpeg() -> Vec<u8> {
    let picture = image::RgbImage::from_fn(200, 150, |x, y| image::Rgb([x as u8, y as u8, 90]));
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, image::ImageFormat::Jpeg).unwrap();
    out.into_inner()
}

/// A small store: a site, a board with a photo and some edits.
fn filled(path: &Path) {
    let mut store = Store::open(path, env(1)).unwrap().store;
    store.create_site(op("new site"), &Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() }).unwrap();
    store.transact_site(op("note"), SITE, &[change("/note", "gate code at the office")]).unwrap();
    create(&mut store, &board(2));
    set(&mut store, "/place", "attic");
    let meta = store.add_photo(&jpeg()).unwrap();
    let photo = Photo { hash: meta.hash, ..Photo::default() };
    set(&mut store, PHOTO, serde_json::to_value(photo).unwrap());
    set(&mut store, circuit("description"), "lift");
    set(&mut store, circuit("tests/zs"), reading("0.4 ohm", 90));
}

fn export(store: &mut Store) -> (Vec<u8>, Summary) {
    let mut out = Cursor::new(Vec::new());
    let summary = export_site(store, SITE, &mut out).unwrap();
    (out.into_inner(), summary)
}

/// The whole check, a few bytes at a time, with a restart in the middle.
fn checked(path: &Path, store: Store) -> (Store, Health) {
    let mut store = store;
    store.begin_check().unwrap();
    store.check_on(1).unwrap();
    drop(store);
    let mut store = Store::open(path, env(77)).unwrap().store;
    for _ in 0..1000 {
        let health = store.check_on(1).unwrap();
        if health.finished.is_some() {
            assert_eq!(store.health().unwrap(), Some(health.clone()));
            return (store, health);
        }
    }
    panic!("the check does not end");
}

struct Bench {
    folder: tempfile::TempDir,
    good: Vec<u8>,
    whole: Board,
    count: usize,
}

impl Bench {
    fn new(with_snapshots: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sound.db");
        filled(&path);
        let mut store = Store::open(&path, env(2)).unwrap().store;
        if with_snapshots {
            store.compact().unwrap();
        }
        let (good, summary) = export(&mut store);
        assert!(summary.damaged.is_empty());
        let whole = now(&mut store);
        Self { folder, good, whole, count: 0 }
    }

    /// A copy of the store with something done to it.
    fn copy(&mut self, work: impl FnOnce(&Connection)) -> PathBuf {
        self.count += 1;
        let path = self.folder.path().join(format!("{}.db", self.count));
        fs::copy(self.folder.path().join("sound.db"), &path).unwrap();
        let db = Connection::open(&path).unwrap();
        work(&db);
        path
    }

    fn rows(&self) -> Vec<(i64, Vec<u8>, String, Vec<u8>)> {
        let db = Connection::open(self.folder.path().join("sound.db")).unwrap();
        let mut statement =
            db.prepare("SELECT seq, document, lower(hex(hash)), bytes FROM changes ORDER BY seq").unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    }

    /// After a good bundle nothing is left of the damage.
    fn heals(&self, path: &Path, mut store: Store, healed: usize) {
        let report = import(&mut store, &self.good).unwrap();
        assert_eq!(report.healed, healed);
        let read = store.board(BOARD).unwrap();
        assert_eq!((read.board, read.problems), (self.whole.clone(), vec![]));
        assert!(store.site(SITE).unwrap().problems.is_empty());
        let (mut store, health) = checked(path, store);
        assert!(health.bad.is_empty() && health.healed == 0, "{health:?}");
        let (bytes, summary) = export(&mut store);
        assert!(summary.damaged.is_empty());
        assert_eq!(bytes, self.good);
        drop(store);
        let db = Connection::open(path).unwrap();
        for (seq, _, _, bytes) in self.rows() {
            let now: Vec<u8> =
                db.query_row("SELECT bytes FROM changes WHERE seq = ?1", [seq], |row| row.get(0)).unwrap();
            assert!(now == bytes, "change {seq} is as it was");
        }
    }
}

fn flipped(bytes: &[u8], step: usize) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let at = (step * 7919 + 13) % bytes.len();
    bytes[at] ^= 1 << (step % 8);
    bytes
}

/// True where the bytes still give the change by its SHA-256, asked of the engine itself: packing leaves a few bits
/// without a meaning, and one of them flipped changes nothing.
fn still_gives(bytes: &[u8], hash: &str) -> bool {
    automerge::Change::from_bytes(bytes.to_vec()).is_ok_and(|change| change.hash().to_string() == hash)
}

fn flips() -> usize {
    if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 60 } else { 2 }
}

#[test]
fn a_flip_in_any_change_that_nothing_else_holds() {
    let mut bench = Bench::new(false);
    let rows = bench.rows();
    assert_eq!(rows.len(), 7);
    let (mut told, mut harmless) = (0, 0);
    for (seq, document, hash, bytes) in &rows {
        for step in 0..flips() {
            let broken = flipped(bytes, step);
            let path = bench.copy(|db| {
                db.execute("UPDATE changes SET bytes = ?2 WHERE seq = ?1", params![seq, broken]).unwrap();
            });
            let mut store = Store::open(&path, env(3)).unwrap().store;
            if still_gives(&broken, hash) {
                let read = store.board(BOARD).unwrap();
                assert_eq!((read.board, read.problems), (bench.whole.clone(), vec![]), "change {seq}");
                assert!(store.site(SITE).unwrap().problems.is_empty(), "change {seq}");
                harmless += 1;
                continue;
            }
            let of_board = document == BOARD.0.as_bytes();
            // It opens, and says which, since when, and what would heal it.
            let board = store.board(BOARD).unwrap();
            let site = store.site(SITE).unwrap();
            let problems = if of_board { &board.problems } else { &site.problems };
            let [problem, ..] = problems.as_slice() else { panic!("change {seq}: nothing is said") };
            assert!(problem.message.contains(hash.as_str()) && problem.message.contains("found on 20"), "{problem}");
            assert!(problem.remedy.contains("bundle"), "{problem}");
            // It stays in the lists.
            assert_eq!(store.boards(&store::Find { site: Some(SITE), ..store::Find::default() }).unwrap().len(), 1);
            // The rest is handed on, and says so; others take it.
            let (bundle, summary) = export(&mut store);
            assert!(summary.damaged.iter().any(|line| line.contains(hash.as_str())), "{:?}", summary.damaged);
            import(&mut memory(9), &bundle).unwrap();
            let (store, health) = checked(&path, store);
            assert_eq!(health.bad.len(), 1, "{health:?}");
            assert!(health.bad[0].contains(hash.as_str()), "{health:?}");
            assert_eq!((health.documents, health.changes, health.photos), (2, 7, 1));
            bench.heals(&path, store, 1);
            told += 1;
        }
    }
    println!(
        "{told} flips in changes without a snapshot: all told, all healed by a bundle; {harmless} more changed nothing"
    );
    assert!(harmless <= told / 20, "{harmless} of {told} flips without a meaning");
}

#[test]
fn a_flip_in_any_change_that_a_snapshot_holds_is_mended_here() {
    let mut bench = Bench::new(true);
    for (seq, _, hash, bytes) in bench.rows() {
        for step in 0..flips() {
            let broken = flipped(&bytes, step);
            if still_gives(&broken, &hash) {
                continue;
            }
            let path = bench.copy(|db| {
                db.execute("UPDATE changes SET bytes = ?2 WHERE seq = ?1", params![seq, broken]).unwrap();
            });
            let mut store = Store::open(&path, env(3)).unwrap().store;
            let read = store.board(BOARD).unwrap();
            assert_eq!((read.board, read.problems), (bench.whole.clone(), vec![]));
            let (bundle, summary) = export(&mut store);
            assert!(bundle == bench.good && summary.damaged.is_empty());
            let (store, health) = checked(&path, store);
            assert_eq!((health.healed, health.bad.len()), (1, 0), "{health:?}");
            bench.heals(&path, store, 0);
        }
    }
    println!("{} flips in changes that a snapshot holds: all mended here", bench.count);
}

#[test]
fn a_flip_in_a_snapshot_is_mended_from_the_changes() {
    let mut bench = Bench::new(true);
    for id in [BOARD.0, SITE.0] {
        for step in 0..flips() {
            let path = bench.copy(|db| {
                let id = id.as_bytes().as_slice();
                let bytes: Vec<u8> =
                    db.query_row("SELECT snapshot FROM documents WHERE id = ?1", [id], |row| row.get(0)).unwrap();
                db.execute("UPDATE documents SET snapshot = ?2 WHERE id = ?1", params![id, flipped(&bytes, step)])
                    .unwrap();
            });
            let mut store = Store::open(&path, env(3)).unwrap().store;
            let read = store.board(BOARD).unwrap();
            assert_eq!((read.board, read.problems), (bench.whole.clone(), vec![]));
            assert_eq!(export(&mut store).0, bench.good);
            let (store, health) = checked(&path, store);
            assert!(health.bad.is_empty(), "{health:?}");
            bench.heals(&path, store, 0);
        }
    }
    println!("{} flips in snapshots: all mended from the changes", bench.count);
}

#[test]
fn a_change_under_a_wrong_name_is_put_right() {
    let mut bench = Bench::new(false);
    for (seq, _, hash, _) in bench.rows() {
        let path = bench.copy(|db| {
            let mut wrong: Vec<u8> =
                db.query_row("SELECT hash FROM changes WHERE seq = ?1", [seq], |row| row.get(0)).unwrap();
            wrong[17] ^= 4;
            db.execute("UPDATE changes SET hash = ?2 WHERE seq = ?1", params![seq, wrong]).unwrap();
        });
        let mut store = Store::open(&path, env(3)).unwrap().store;
        let read = store.board(BOARD).unwrap();
        assert_eq!((read.board, read.problems), (bench.whole.clone(), vec![]));
        store.site(SITE).unwrap();
        drop(store);
        let db = Connection::open(&path).unwrap();
        let now: String =
            db.query_row("SELECT lower(hex(hash)) FROM changes WHERE seq = ?1", [seq], |row| row.get(0)).unwrap();
        assert_eq!(now, hash);
    }
}

#[test]
fn a_flip_in_a_photo_is_told_and_healed() {
    let mut bench = Bench::new(false);
    let bytes = jpeg();
    for step in 0..flips() * 4 {
        let path = bench.copy(|db| {
            db.execute("UPDATE photo_bytes SET bytes = ?1", params![flipped(&bytes, step)]).unwrap();
        });
        let mut store = Store::open(&path, env(3)).unwrap().store;
        let hash = bench.whole.photos.values().next().unwrap().hash.clone();
        let error = store.photo(&hash).unwrap_err();
        assert!(matches!(error, StoreError::DamagedPhoto(_)) && error.to_string().contains(&hash), "{error}");
        assert!(store.photo_for_screen(&hash, 400).is_err());
        let problems = store.board(BOARD).unwrap().problems;
        assert_eq!(problems.len(), 1);
        assert!(problems[0].path == PHOTO && problems[0].remedy.contains("bundle"), "{problems:?}");
        // The rest is handed on, and a colleague takes it.
        let (bundle, summary) = export(&mut store);
        assert_eq!((summary.photos, summary.damaged.len()), (0, 1));
        assert!(summary.damaged[0].contains(&hash));
        let mut other = memory(9);
        assert_eq!(import(&mut other, &bundle).unwrap().missing_photos, vec![hash.clone()]);
        let (store, health) = checked(&path, store);
        assert!(health.bad.len() == 1 && health.bad[0].contains(&hash), "{health:?}");
        bench.heals(&path, store, 1);
        // Or by the picture itself.
        let path = bench.copy(|db| {
            db.execute("UPDATE photo_bytes SET bytes = ?1", params![flipped(&bytes, step)]).unwrap();
        });
        let mut store = Store::open(&path, env(3)).unwrap().store;
        assert!(store.photo(&hash).is_err());
        store.add_photo(&bytes).unwrap();
        assert_eq!(store.photo(&hash).unwrap(), bytes);
        assert!(store.board(BOARD).unwrap().problems.is_empty());
    }
    println!("{} flips in a photo: all told, all healed by a bundle or the picture itself", bench.count);
}

#[test]
fn work_on_a_damaged_board_is_kept_when_it_heals() {
    let mut bench = Bench::new(false);
    for (seq, document, _, bytes) in bench.rows() {
        if document != BOARD.0.as_bytes() {
            continue;
        }
        let path = bench.copy(|db| {
            db.execute("UPDATE changes SET bytes = ?2 WHERE seq = ?1", params![seq, flipped(&bytes, 1)]).unwrap();
        });
        let mut store = Store::open(&path, env(3)).unwrap().store;
        set(&mut store, "/stage", "New");
        set(&mut store, "/place", "cellar");
        import(&mut store, &bench.good).unwrap();
        let read = store.board(BOARD).unwrap();
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        // What was written while something was missing counts, beside what was missing.
        let places: Vec<_> = read
            .conflicts
            .iter()
            .filter(|conflict| conflict.path == "/place")
            .flat_map(|conflict| conflict.values.iter().map(|value| value.json.clone()))
            .collect();
        assert!(
            read.board.place == "cellar" || places.contains(&"cellar".into()),
            "change {seq}: {}",
            read.board.place
        );
        assert_eq!(read.board.circuits[&CIRCUIT].description, "lift");
        assert!(is_current(&mut store));
        drop(store);
        let mut store = Store::open(&path, env(4)).unwrap().store;
        assert!(store.board(BOARD).unwrap().problems.is_empty());
        assert_eq!(store.document(BOARD.0, Kind::Board).unwrap().changes, 7);
    }
}

#[test]
fn a_picture_that_is_cut_off_is_known_as_such() {
    let whole = jpeg();
    assert!(!store::ReadPhoto::of(&whole).unwrap().cut_off);
    for part in [whole.len() / 2, whole.len() * 9 / 10, whole.len() - 2] {
        // Whatever cannot be read at all is refused anyway.
        if let Ok(read) = store::ReadPhoto::of(&whole[..part]) {
            assert!(read.cut_off, "{part} of {} bytes", whole.len());
        }
    }
    // What a camera adds after the picture, and a preview within it, are neither here nor there.
    let mut longer = whole.clone();
    longer.extend([0; 100]);
    assert!(!store::ReadPhoto::of(&longer).unwrap().cut_off);
    let mut preview = whole.clone();
    let mut segment = vec![0xff, 0xe3];
    segment.extend(u16::try_from(whole.len() + 2).unwrap().to_be_bytes());
    segment.extend(&whole);
    preview.splice(2..2, segment);
    assert!(!store::ReadPhoto::of(&preview).unwrap().cut_off);
    let half = preview.len() - whole.len() / 3;
    if let Ok(read) = store::ReadPhoto::of(&preview[..half]) {
        assert!(read.cut_off);
    }
}
