//! One suite, run against every kind of store.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use common::*;
use serde_json::json;
use store::{Find, Op, Store, StoreError};
use survey::{Board, BoardId, Circuit, Photo, Problem, Site, SiteId};

fn finds(store: &Store, words: &str) -> Vec<String> {
    store.boards(&Find::words(words)).unwrap().into_iter().map(|row| row.reference).collect()
}

fn a_board_is_read_back_as_stored(store: &mut Store) {
    let mut board = board(3);
    board.supply.ze = read(json!({"known": "measured", "value": "0.35 ohm", "instrument": "loop tester"}));
    let plate =
        survey::Plate { usable: Some(survey::pattern::Rect::new(1.0, 2.0, 300.25, 80.0)), ..Default::default() };
    board.plates.insert(survey::PlateId(uuid(1)), plate);
    board.photos.insert(survey::PhotoId(uuid(2)), Photo { width: 4000, ..Photo::default() });
    create(store, &board);
    let read = store.board(BOARD).unwrap();
    assert_eq!(read.board, board);
    assert!(read.problems.is_empty() && read.conflicts.is_empty());
    assert_eq!(read.undo.as_deref(), Some("new board"));
    assert!(matches!(store.create_board(op("again"), &board, |_| Ok(())), Err(StoreError::Exists { .. })));
    assert!(matches!(store.board(BoardId(uuid(5))), Err(StoreError::NotFound { kind: "board", .. })));
}

fn a_save_says_what_it_touched(store: &mut Store) {
    let first = create(store, &board(1));
    assert_eq!(first.touched, [""]);
    let record = format!("/circuits/{}", uuid(77));
    let changes = [
        change(circuit("description"), "lift"),
        change(circuit("number"), ""),
        change(record.clone(), serde_json::to_value(Circuit::default()).unwrap()),
    ];
    let saved = store.transact(op("two things"), BOARD, &changes, any).unwrap();
    // The number was empty already.
    assert_eq!(saved.touched, [circuit("description"), record]);
    assert_ne!(saved.version, first.version);
    let same = store.transact(op("nothing"), BOARD, &changes[..2], any).unwrap();
    assert!(same.touched.is_empty() && same.version == saved.version);
    assert_eq!(store.board(BOARD).unwrap().undo.as_deref(), Some("two things"));
}

fn a_refused_change_writes_nothing(store: &mut Store) {
    create(store, &board(1));
    let before = store.board(BOARD).unwrap();
    let no = |was: &Board, is: &Board| {
        assert_ne!(was.place, is.place);
        Err(vec![Problem::refused("/place", &is.place, "no", "leave it")])
    };
    let refused = store.transact(op("move"), BOARD, &[change("/place", "attic")], no).unwrap_err();
    assert!(matches!(&refused, StoreError::Refused(problems) if problems[0].path == "/place"), "{refused}");
    let mut bad = vec![
        try_set(store, "/place", 7),
        try_set(store, "/colour", "red"),
        try_set(store, "/supply/ze", json!({"known": "label", "value": "3 V"})),
        try_set(store, "/supply/ze/value", "3 ohm"),
        try_set(store, "/supply", json!(null)),
        try_set(store, "/circuits", json!([])),
        try_set(store, "place", "attic"),
        try_set(store, "//place", "attic"),
        try_set(store, "", "attic"),
        try_set(store, "/circuits/not-an-id", json!({})),
        try_set(store, format!("/circuits/{}/lift", CIRCUIT.0), 1),
    ];
    bad.push(store.transact(op("half"), BOARD, &[change("/place", "attic"), change("/colour", 1)], any));
    for (index, outcome) in bad.into_iter().enumerate() {
        assert!(outcome.is_err(), "{index}");
    }
    assert_eq!(store.board(BOARD).unwrap(), before);
    // And what can be written still can.
    set(store, "/place", "attic");
    // The next one is written over what was there before, all of it.
    set(store, "/place", "cellar");
    assert!(is_current(store));
    let placed = Board { place: "cellar".into(), ..before.board };
    assert_eq!(now(store), placed);
}

fn undo_and_redo(store: &mut Store) {
    create(store, &board(1));
    let start = now(store);
    set(store, circuit("description"), "lift");
    let cable = format!("/cables/{}/size", CABLE.0);
    store.transact(op("cable"), BOARD, &[change(cable.clone(), reading("4 mm2", 80))], any).unwrap();
    let record = format!("/circuits/{}", uuid(77));
    store
        .transact(op("circuit"), BOARD, &[change(record, serde_json::to_value(Circuit::default()).unwrap())], any)
        .unwrap();
    let end = now(store);
    let undo = |store: &mut Store| store.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(undo(store).touched, [format!("/circuits/{}/removed", uuid(77))]);
    assert_eq!(now(store).live_circuits().count(), 1);
    assert_eq!(undo(store).touched, [cable]);
    undo(store);
    let read = store.board(BOARD).unwrap();
    assert_eq!(read.board.circuits[&CIRCUIT], start.circuits[&CIRCUIT]);
    assert_eq!(read.board.cables, start.cables);
    assert_eq!((read.undo.as_deref(), read.redo.as_deref()), (Some("new board"), Some("edit")));
    for _ in 0..3 {
        store.redo("surveyor", BOARD, any).unwrap();
    }
    assert_eq!(now(store), end);
    assert!(matches!(store.redo("surveyor", BOARD, any), Err(StoreError::Nothing("redo"))));
    // Again and again: the history grows, the answers stay.
    undo(store);
    undo(store);
    store.redo("surveyor", BOARD, any).unwrap();
    undo(store);
    assert_eq!(now(store).cables, start.cables);
    // A new edit ends redo.
    set(store, "/place", "attic");
    assert!(store.board(BOARD).unwrap().redo.is_none());
    undo(store);
    undo(store);
    assert_eq!(now(store).circuits[&CIRCUIT].description, "socket 0");
    // A refused undo changes nothing.
    let no = |_: &Board, _: &Board| Err(vec![Problem::refused("/", "", "no", "no")]);
    let before = store.board(BOARD).unwrap();
    assert!(matches!(store.undo("surveyor", BOARD, no), Err(StoreError::Refused(_))));
    assert_eq!(store.board(BOARD).unwrap(), before);
    assert!(is_current(store));
    // The board itself.
    undo(store);
    assert!(now(store).removed && finds(store, "").is_empty());
    store.redo("surveyor", BOARD, any).unwrap();
    assert_eq!(finds(store, ""), ["PH-DB1"]);
}

fn undo_leaves_what_others_changed(store: &mut Store) {
    let mut other = memory(99);
    create(store, &board(1));
    store
        .transact(op("two"), BOARD, &[change(circuit("description"), "lift"), change("/place", "attic")], any)
        .unwrap();
    send(store, &mut other);
    set(&mut other, "/place", "cellar");
    send(&mut other, store);
    let undone = store.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(undone.touched, [circuit("description")]);
    assert_eq!(undone.skipped.len(), 1);
    assert!(undone.skipped[0].path == "/place" && undone.skipped[0].message.contains("\"two\""));
    assert_eq!((now(store).place.as_str(), now(store).circuits[&CIRCUIT].description.as_str()), ("cellar", "socket 0"));
    // Where two values stand, undo does not decide.
    set(store, "/reference", "DB-A");
    set(&mut other, "/reference", "DB-B");
    send(&mut other, store);
    let undone = store.undo("surveyor", BOARD, any).unwrap();
    assert!(undone.touched.is_empty() && undone.skipped.len() == 1);
    assert_eq!(paths(store), ["/reference"]);
}

fn sites_and_boards_are_listed(store: &mut Store) {
    let site = Site { id: Some(SITE), name: "Harrow Mere Cider Works".into(), ..Site::default() };
    let (id, _) = store.create_site(op("new site"), &site).unwrap();
    assert_eq!(id, SITE);
    let (other, _) = store.create_site(op("new site"), &Site { name: "Annexe".into(), ..Site::default() }).unwrap();
    for (number, reference) in ["DB10", "DB2", "DB1"].iter().enumerate() {
        let mut board = board(2);
        board.id = BoardId(uuid(number as u128));
        board.reference = (*reference).to_owned();
        board.place = format!("Röhrenkeller {number}");
        if number == 2 {
            board.site = other;
        }
        store.create_board(op("new board"), &board, |_| Ok(())).unwrap();
    }
    assert_eq!(finds(store, ""), ["DB1", "DB2", "DB10"]);
    let names: Vec<(String, u32)> = store.sites(false).unwrap().into_iter().map(|row| (row.name, row.boards)).collect();
    assert_eq!(names, [("Annexe".to_owned(), 1), ("Harrow Mere Cider Works".to_owned(), 2)]);
    let of_site = store.boards(&Find { site: Some(SITE), ..Find::default() }).unwrap();
    assert_eq!(of_site.iter().map(|row| row.reference.as_str()).collect::<Vec<_>>(), ["DB2", "DB10"]);
    assert_eq!((of_site[0].circuits, of_site[0].site_name.as_str()), (2, "Harrow Mere Cider Works"));
    // Words begin anywhere, case and accents do not matter, every word must be there.
    assert_eq!(finds(store, "rohren"), ["DB1", "DB2", "DB10"]);
    assert_eq!(finds(store, "DB1"), ["DB1", "DB10"]);
    assert_eq!(finds(store, "harrow db2"), ["DB2"]);
    assert_eq!(finds(store, "mere SOCK"), ["DB2", "DB10"]);
    assert!(finds(store, "harrow nothing").is_empty());
    // Nothing typed is taken for syntax.
    for odd in
        ["\"", "db1\"", "NOT", "a AND", "*", "(", "reference:", "-", "NEAR(", "^db", "\0", "db1 OR db2 \u{fffd}", "{x}"]
    {
        store.boards(&Find::words(odd)).unwrap();
    }
    // Edits reach the search.
    let edit = |path: String, value: &str| [change(path, value)];
    store.transact(op("edit"), BoardId(uuid(1)), &edit(circuit("description"), "hop elevator"), any).unwrap();
    assert_eq!(finds(store, "hop elev"), ["DB2"]);
    store.transact_site(op("rename"), SITE, &edit("/name".into(), "Low Mill")).unwrap();
    assert_eq!(finds(store, "low mill"), ["DB2", "DB10"]);
    assert!(finds(store, "harrow").is_empty());
    store.transact(op("remove"), BoardId(uuid(1)), &[change("/removed", true)], any).unwrap();
    assert_eq!(finds(store, "low mill"), ["DB10"]);
    let removed = store.boards(&Find { removed: true, ..Find::default() }).unwrap();
    assert_eq!(removed.len(), 1);
    // A removed site takes its boards out of sight, not out of the store.
    store.transact_site(op("remove"), other, &[change("/removed", true)]).unwrap();
    assert_eq!(finds(store, ""), ["DB10"]);
    assert_eq!(store.sites(true).unwrap().len(), 1);
    // Built again, it is the same.
    let lists = |store: &Store| {
        let mut rows = store.boards(&Find::default()).unwrap();
        rows.extend(store.boards(&Find::words("low so")).unwrap());
        rows.extend(store.boards(&Find { removed: true, ..Find::default() }).unwrap());
        rows.iter_mut().for_each(|row| row.changed.clear());
        (rows, store.sites(false).unwrap(), store.sites(true).unwrap())
    };
    let before = lists(store);
    assert_eq!(store.rebuild_projection().unwrap(), (5, vec![]));
    assert_eq!(lists(store), before);
}

fn a_batch_is_all_or_nothing(store: &mut Store) {
    create(store, &board(1));
    let before = store.board(BOARD).unwrap();
    let outcome = store.batch(|store| {
        set(store, "/place", "attic");
        store.create_site(op("site"), &Site::default())?;
        try_set(store, "/colour", "red")?;
        Ok::<_, StoreError>(())
    });
    assert!(outcome.is_err());
    assert_eq!(store.board(BOARD).unwrap(), before);
    assert!(store.sites(false).unwrap().is_empty());
    // A part that fails and is caught does not take the rest with it.
    store
        .batch(|store| {
            set(store, "/place", "attic");
            assert!(try_set(store, "/colour", "red").is_err());
            Ok::<_, StoreError>(())
        })
        .unwrap();
    assert_eq!(now(store).place, "attic");
    // A panic rolls back too.
    let panicked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        store.transact(op("edit"), BOARD, &[change("/place", "cellar")], |_, _| panic!("check broke"))
    }));
    assert!(panicked.is_err());
    assert_eq!(now(store).place, "attic");
    set(store, "/place", "cellar");
}

fn a_field_of_a_newer_version_is_kept(store: &mut Store) {
    // What a newer app stores, read by this one: no code here knows "earthing_note".
    let bytes = newer_document();
    store
        .merge(&[store::Incoming { id: BOARD.0, kind: store::Kind::Board, bytes }], |_, _| Ok::<_, StoreError>(()))
        .unwrap();
    let read = store.board(BOARD).unwrap();
    assert!(read.problems.iter().any(|problem| problem.path == "/earthing_note"), "{:?}", read.problems);
    assert!(read.problems.iter().any(|problem| problem.path.starts_with("/supply/ze")), "{:?}", read.problems);
    assert!(read.problems.iter().any(|problem| problem.remedy.contains("update")), "{:?}", read.problems);
    assert!(read.board.supply.ze.is_unknown());
    // Work goes on, and the field is still there for the newer app.
    set(store, "/place", "attic");
    let json = store.document_json(BOARD.0, store::Kind::Board).unwrap();
    assert_eq!(json["earthing_note"], "seen at the rod");
    assert_eq!(json["supply"]["ze"]["value"], "0.1 millisiemens");
}

/// A board document with a field and a unit that this version does not know.
fn newer_document() -> Vec<u8> {
    use automerge::transaction::Transactable;
    use automerge::{AutoCommit, ObjType, ROOT, ScalarValue};
    let mut doc = AutoCommit::new();
    doc.put(ROOT, "id", BOARD.0.to_string()).unwrap();
    doc.put(ROOT, "site", SITE.0.to_string()).unwrap();
    doc.put(ROOT, "model", 2).unwrap();
    doc.put(ROOT, "earthing_note", "seen at the rod").unwrap();
    let supply = doc.put_object(ROOT, "supply", ObjType::Map).unwrap();
    let ze = br#"{"known":"label","value":"0.1 millisiemens"}"#.to_vec();
    doc.put(&supply, "ze", ScalarValue::Bytes(ze)).unwrap();
    doc.save_nocompress()
}

fn photos_are_kept_byte_by_byte(store: &mut Store) {
    let bytes = picture(800, 600, None);
    let meta = store.add_photo(&bytes).unwrap();
    assert_eq!(
        (meta.width, meta.height, meta.media.as_str(), meta.length),
        (800, 600, "image/jpeg", bytes.len() as u64)
    );
    assert_eq!(store.photo(&meta.hash).unwrap(), bytes);
    assert_eq!(store.add_photo(&bytes).unwrap(), meta);
    assert_eq!(size(&store.thumbnail(&meta.hash).unwrap()), (320, 240));
    assert_eq!(size(&store.photo_for_screen(&meta.hash, 400).unwrap()), (400, 300));
    // A camera held upright says so in its file; the picture is then shown upright.
    let turned = store.add_photo(&picture(800, 600, Some(6))).unwrap();
    assert_eq!((turned.width, turned.height), (600, 800));
    assert_eq!(size(&store.thumbnail(&turned.hash).unwrap()), (240, 320));
    assert!(matches!(store.photo("00"), Err(StoreError::NoPhoto(_))));
    // Boards name what they need.
    create(store, &board(1));
    let photo = Photo { hash: "ab".repeat(32), ..Photo::default() };
    set(store, format!("/photos/{}", uuid(3)), serde_json::to_value(photo).unwrap());
    let photo = Photo { hash: meta.hash.clone(), ..Photo::default() };
    set(store, format!("/photos/{}", uuid(4)), serde_json::to_value(photo).unwrap());
    assert_eq!(store.missing_photos().unwrap(), [(BOARD, "ab".repeat(32))]);
    assert_eq!(store.photos_of_site(SITE).unwrap(), [meta]);
}

fn a_photo_that_is_none_is_refused(store: &mut Store) {
    let good = picture(64, 64, None);
    let bomb = png_header(60_000, 60_000);
    for (bad, says) in [
        (b"GIF89a".to_vec(), "neither JPEG nor PNG"),
        (Vec::new(), "neither JPEG nor PNG"),
        (good[..good.len() / 2].to_vec(), ""),
        (bomb, "pixels"),
        (vec![0xff; store::LARGEST_PHOTO + 1], "MB"),
    ] {
        let error = store.add_photo(&bad).unwrap_err().to_string();
        assert!(error.contains(says), "{error}");
    }
    assert!(store.photos_of_site(SiteId(uuid(0))).unwrap().is_empty());
}

fn png_header(width: u32, height: u32) -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(width.to_be_bytes());
    chunk.extend(height.to_be_bytes());
    chunk.extend([8, 2, 0, 0, 0]);
    let mut crc = !0_u32;
    for byte in &chunk {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xEDB8_8320 } else { crc >> 1 };
        }
    }
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    png.extend(chunk);
    png.extend((!crc).to_be_bytes());
    // An empty data part, so that a reader has all it needs to begin.
    png.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    png
}

/// A JPEG, perhaps with an orientation in its EXIF part.
fn picture(width: u32, height: u32, orientation: Option<u8>) -> Vec<u8> {
    use image::codecs::jpeg::JpegEncoder;
    let picture = image::RgbImage::from_fn(width, height, |x, y| image::Rgb([(x % 256) as u8, (y % 256) as u8, 90]));
    let mut out = Vec::new();
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut out, 80)).unwrap();
    if let Some(orientation) = orientation {
        let mut exif =
            b"\xff\xe1\0\x22Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\0\0\0\0\0\0\0".to_vec();
        exif[29] = orientation;
        out.splice(2..2, exif);
    }
    out
}

fn size(bytes: &[u8]) -> (u32, u32) {
    let picture = image::load_from_memory(bytes).unwrap();
    (picture.width(), picture.height())
}

fn a_long_history_opens_from_a_snapshot(store: &mut Store) {
    create(store, &board(1));
    for number in 0..150 {
        set(store, "/place", format!("place {number}"));
    }
    store.compact().unwrap();
    let version = store.board(BOARD).unwrap().version;
    assert_eq!(store.document(BOARD.0, store::Kind::Board).unwrap().changes, 151);
    store.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(store).place, "place 148");
    assert_ne!(store.board(BOARD).unwrap().version, version);
    assert!(store.check().unwrap().is_empty());
}

fn a_role_is_kept_with_a_change(store: &mut Store) {
    let mut other = memory(99);
    create(store, &board(1));
    send(store, &mut other);
    store.transact(Op::new("edit", "office"), BOARD, &[change("/place", "attic")], any).unwrap();
    set(&mut other, "/place", "cellar");
    send(&mut other, store);
    let conflict = store.board(BOARD).unwrap().conflicts.remove(0);
    let attic = conflict.values.iter().find(|value| value.json == "attic").unwrap();
    assert_eq!(attic.by.role, "office");
}

macro_rules! suite {
    ($($test:ident),+ $(,)?) => {
        mod in_memory {
            $(#[test] fn $test() { super::$test(&mut super::memory(1)); })+
        }
        mod on_disk {
            $(#[test] fn $test() {
                let folder = tempfile::tempdir().unwrap();
                let path = folder.path().join("store.db");
                let mut opened = store::Store::open(&path, super::env(1)).unwrap();
                assert!(opened.set_aside.is_none() && opened.waiting == 0);
                super::$test(&mut opened.store);
                assert!(opened.store.check().unwrap().is_empty());
            })+
        }
    };
}

suite!(
    a_board_is_read_back_as_stored,
    a_save_says_what_it_touched,
    a_refused_change_writes_nothing,
    undo_and_redo,
    undo_leaves_what_others_changed,
    sites_and_boards_are_listed,
    a_batch_is_all_or_nothing,
    a_field_of_a_newer_version_is_kept,
    photos_are_kept_byte_by_byte,
    a_photo_that_is_none_is_refused,
    a_long_history_opens_from_a_snapshot,
    a_role_is_kept_with_a_change,
);
