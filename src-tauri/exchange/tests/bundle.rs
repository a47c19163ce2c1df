//! Two stores and a file between them.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

#[path = "../../store/tests/common/mod.rs"]
mod common;

use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

use common::*;
use exchange::{ExchangeError, ImportReport, Limits, Manifest, export_site, import, import_from};
use proptest::prelude::*;
use serde_json::json;
use sha2::{Digest, Sha256};
use store::{Find, Kind, Store};
use survey::{Mark, MarkId, MarkShape, Photo, PhotoId, Site, SiteId};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

const PHOTO: &str = "/photos/00000000-0000-0000-0000-0000000f0700";

fn filled(seed: u64) -> Store {
    let mut store = memory(seed);
    let site = Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() };
    store.create_site(op("new site"), &site).unwrap();
    create(&mut store, &board(3));
    store
}

fn export(store: &mut Store) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    export_site(store, SITE, &mut out).unwrap();
    out.into_inner()
}

/// A file in which, as soon as something is written to it, somebody goes on working.
struct Watched<F> {
    out: Cursor<Vec<u8>>,
    work: Option<F>,
}

impl<F: FnOnce()> Write for Watched<F> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if let Some(work) = self.work.take() {
            work();
        }
        self.out.write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl<F> std::io::Seek for Watched<F> {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.out.seek(to)
    }
}

#[test]
fn work_goes_on_while_a_bundle_is_written_and_the_bundle_is_of_one_moment() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("store.db"), env(1)).unwrap().store;
    let site = Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() };
    store.create_site(op("new site"), &site).unwrap();
    create(&mut store, &board(3));
    let before = export(&mut store);
    let mut reader = store.reader().unwrap().unwrap();
    let work = || drop(set(&mut store, circuit("description"), "written meanwhile"));
    let mut out = Watched { out: Cursor::new(Vec::new()), work: Some(work) };
    export_site(&mut reader, SITE, &mut out).unwrap();
    assert!(out.work.is_none());
    assert_eq!(out.out.into_inner(), before);
    assert_ne!(export(&mut store), before);
    // The reader itself writes nothing.
    assert!(reader.create_site(op("new site"), &site).is_err());
}

fn pass(from: &mut Store, to: &mut Store) -> ImportReport {
    import(to, &export(from)).unwrap()
}

fn png(shade: u8) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    image::RgbImage::from_pixel(40, 30, image::Rgb([shade, 90, 9]))
        .write_to(&mut out, image::ImageFormat::Png)
        .unwrap();
    out.into_inner()
}

fn jpeg() -> Vec<u8> {
    let picture = image::RgbImage::from_fn(200, 150, |x, y| image::Rgb([x as u8, y as u8, 90]));
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, image::ImageFormat::Jpeg).unwrap();
    out.into_inner()
}

fn with_photo(store: &mut Store) -> (Vec<u8>, Photo) {
    let bytes = png(200);
    let meta = store.add_photo(&bytes).unwrap();
    let mark = |shape, points: &[[f64; 2]], text: &str| Mark {
        shape: Some(shape),
        points: points.to_vec(),
        text: text.into(),
        ..Mark::default()
    };
    let photo = Photo {
        hash: meta.hash,
        media: meta.media,
        width: meta.width,
        height: meta.height,
        pinned: "3L2".into(),
        marks: BTreeMap::from([
            (MarkId(uuid(1)), mark(MarkShape::Arrow, &[[0.1, 0.2], [0.333_333_333_333, 0.5]], "")),
            (MarkId(uuid(2)), mark(MarkShape::Box, &[[0.0, 0.0], [1.0, 1.0]], "")),
            (MarkId(uuid(3)), mark(MarkShape::Text, &[[0.5, 0.5]], "scorched \u{2014} 3L2")),
        ]),
        ..Photo::default()
    };
    set(store, PHOTO, serde_json::to_value(&photo).unwrap());
    (bytes, photo)
}

/// Everything a person can see in a store.
fn seen(store: &mut Store) -> impl PartialEq + std::fmt::Debug + use<> {
    let mut rows = store.boards(&Find::default()).unwrap();
    rows.iter_mut().for_each(|row| row.changed.clear());
    let documents: Vec<_> = store.document_ids().unwrap();
    let documents: Vec<_> = documents.into_iter().map(|(id, kind)| store.document(id, kind).unwrap()).collect();
    let conflicts: Vec<_> = rows
        .iter()
        .map(|row| row.id)
        .collect::<Vec<_>>()
        .into_iter()
        .map(|id| store.board(id).unwrap().conflicts)
        .collect();
    let photos = store.photos_of_site(SITE).unwrap();
    (rows, store.sites(false).unwrap(), documents, conflicts, photos, store.waiting().unwrap())
}

/// The board as a newer version left it: five hundred fields unknown here, on the board, in its records, some of them
/// records of their own.
fn of_a_newer_version(store: &mut Store) -> Vec<(String, String)> {
    use automerge::transaction::Transactable;
    use automerge::{AutoCommit, ObjType, ROOT, ReadDoc};
    let mut doc = AutoCommit::load(&store.document_bytes(BOARD.0, Kind::Board).unwrap()).unwrap();
    let mut written = Vec::new();
    let map = |doc: &AutoCommit, path: &str| {
        let mut at = ROOT;
        for part in path.split('/').skip(1) {
            at = doc.get(&at, part).unwrap().unwrap().1;
        }
        at
    };
    for number in 0..250 {
        for parent in ["".to_owned(), format!("/circuits/{}", CIRCUIT.0)] {
            let (at, value) = (map(&doc, &parent), format!("value {number}"));
            doc.put(&at, format!("newer_{number}"), value.as_str()).unwrap();
            written.push((format!("{parent}/newer_{number}"), value));
        }
    }
    let meters = doc.put_object(ROOT, "meters", ObjType::Map).unwrap();
    let meter = doc.put_object(&meters, uuid(9).to_string(), ObjType::Map).unwrap();
    doc.put(&meter, "reads", "12 kWh").unwrap();
    written.push((format!("/meters/{}/reads", uuid(9)), "12 kWh".to_owned()));
    let bytes = doc.save_nocompress();
    let incoming = store::Incoming { id: BOARD.0, kind: Kind::Board, bytes };
    store.merge(&[incoming], |_, _| Ok::<_, store::StoreError>(())).unwrap();
    written
}

#[test]
fn five_hundred_fields_of_a_newer_version_are_opened_edited_merged_and_exported_intact() {
    let (mut one, mut two, mut three) = (filled(1), memory(2), memory(3));
    let written = of_a_newer_version(&mut one);
    assert_eq!(written.len(), 501);
    let opened = one.board(BOARD).unwrap();
    assert_eq!((opened.board.circuits.len(), opened.problems.len()), (3, 501), "{:?}", opened.problems.first());
    pass(&mut one, &mut two);
    // Work goes on apart, beside the fields that nobody here knows, and meets.
    set(&mut one, circuit("description"), "lift");
    set(&mut one, "/place", "attic");
    set(&mut two, circuit("number"), "7");
    pass(&mut two, &mut one);
    pass(&mut one, &mut two);
    pass(&mut two, &mut three);
    for store in [&mut one, &mut two, &mut three] {
        let read = store.board(BOARD).unwrap();
        let found = &read.board.circuits[&CIRCUIT];
        assert_eq!(
            (found.description.as_str(), found.number.as_str(), read.board.place.as_str()),
            ("lift", "7", "attic")
        );
        assert!(read.conflicts.is_empty(), "{:?}", read.conflicts);
        let json = store.document_json(BOARD.0, Kind::Board).unwrap();
        for (path, value) in &written {
            assert_eq!(json.pointer(path), Some(&json!(value)), "{path}");
        }
    }
}

#[test]
fn a_site_arrives_whole() {
    let (mut one, mut two) = (filled(1), memory(2));
    let (bytes, photo) = with_photo(&mut one);
    let report = pass(&mut one, &mut two);
    assert!(report.documents.iter().all(|document| document.new && document.same && document.conflicts == 0));
    assert_eq!((report.site, report.site_name.as_str(), report.photos_added), (SITE, "Low Mill", 1));
    assert!(report.missing_photos.is_empty());
    assert_eq!(report.boards().count(), 1);
    assert_eq!(seen(&mut one), seen(&mut two));
    let arrived = now(&mut two);
    assert_eq!(arrived.photos[&PhotoId(uuid(0xf0700))], photo);
    assert_eq!(two.photo(&photo.hash).unwrap(), bytes);
    // Again: nothing new.
    let report = pass(&mut one, &mut two);
    assert_eq!((report.changes_added(), report.photos_added), (0, 0));
    assert_eq!(seen(&mut one), seen(&mut two));
}

#[test]
fn edits_on_both_sides_meet_in_either_order_and_twice() {
    for order in 0..2 {
        let (mut one, mut two) = (filled(1), memory(2));
        pass(&mut one, &mut two);
        set(&mut one, circuit("description"), "lift");
        set(&mut one, "/supply/ze", json!({"known": "measured", "value": "0.35 ohm"}));
        set(&mut one, "/reference", "PH-DB1A");
        set(&mut two, circuit("number"), "7");
        set(&mut two, "/place", "press hall, east");
        set(&mut two, "/reference", "PH-DB1B");
        let (_, photo) = with_photo(&mut two);
        for _ in 0..2 {
            let (first, second) = if order == 0 { (&mut one, &mut two) } else { (&mut two, &mut one) };
            pass(first, second);
            let report = pass(second, first);
            assert!(report.documents.iter().all(|document| document.same));
        }
        assert_eq!(seen(&mut one), seen(&mut two));
        for store in [&mut one, &mut two] {
            let read = store.board(BOARD).unwrap();
            let found = &read.board.circuits[&CIRCUIT];
            assert_eq!((found.description.as_str(), found.number.as_str()), ("lift", "7"));
            assert_eq!(read.board.place, "press hall, east");
            assert!(read.board.supply.ze.range().is_some());
            assert!(store.photo(&photo.hash).is_ok());
            let paths: Vec<&str> = read.conflicts.iter().map(|conflict| conflict.path.as_str()).collect();
            assert_eq!(paths, ["/reference"]);
            assert_eq!(read.conflicts[0].values.len(), 2);
        }
        // A person picks on one side; the other learns of it.
        let pick = one.board(BOARD).unwrap().conflicts[0].values[0].pick_id.clone();
        one.settle("office", BOARD, "/reference", &pick).unwrap();
        pass(&mut one, &mut two);
        assert!(paths(&mut two).is_empty());
        assert_eq!(now(&mut one), now(&mut two));
    }
}

#[test]
fn a_store_that_holds_more_says_so() {
    let (mut one, mut two) = (filled(1), memory(2));
    pass(&mut one, &mut two);
    let old = export(&mut one);
    set(&mut two, "/place", "attic");
    let report = import(&mut two, &old).unwrap();
    let (_, board) = report.boards().next().unwrap();
    assert!(!board.same && board.added == 0);
    assert_eq!(now(&mut two).place, "attic");
}

#[test]
fn the_same_content_gives_the_same_file() {
    let mut store = filled(1);
    with_photo(&mut store);
    assert_eq!(export(&mut store), export(&mut store));
}

/// The form of what is stored and sent: a change here is a decision, not an accident.
#[test]
fn the_manifest_has_this_form() {
    let bytes = export(&mut filled(1));
    let mut text = String::new();
    ZipArchive::new(Cursor::new(bytes)).unwrap().by_name("manifest.json").unwrap().read_to_string(&mut text).unwrap();
    // Hashes follow from the content; their places are what counts.
    let manifest: serde_json::Value = serde_json::from_str(&text).unwrap();
    let shown: Vec<String> = text
        .lines()
        .map(|line| {
            let mut parts: Vec<&str> = line.split('"').collect();
            parts.iter_mut().filter(|part| part.len() == 64).for_each(|part| *part = "<hash>");
            let line = parts.join("\"");
            if line.contains("\"length\"") { "      \"length\": <n>,".to_owned() } else { line }
        })
        .collect();
    assert_eq!(shown.join("\n"), include_str!("manifest.txt").trim_end());
    assert_eq!(manifest["documents"].as_array().unwrap().len(), 2);
}

fn entries(bundle: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(Cursor::new(bundle)).unwrap();
    (0..zip.len())
        .map(|index| {
            let mut file = zip.by_index(index).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            (file.name().unwrap().into_owned(), bytes)
        })
        .collect()
}

fn packed(entries: &[(String, Vec<u8>)], method: CompressionMethod) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in entries {
        zip.start_file(name.clone(), SimpleFileOptions::default().compression_method(method)).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// The bundle with one entry twice: the zip library writes none such, so another entry of a name as long is renamed.
fn twice(bundle: &[u8], name: &str) -> Vec<u8> {
    let (_, content) = entries(bundle).into_iter().find(|(found, _)| found == name).unwrap();
    let other = format!("{}x", &name[..name.len() - 1]);
    let mut bytes = altered(bundle, |_, entries| entries.push((other.clone(), content)));
    let places: Vec<usize> =
        (0..=bytes.len() - other.len()).filter(|at| bytes[*at..].starts_with(other.as_bytes())).collect();
    assert_eq!(places.len(), 2);
    for at in places {
        bytes[at..at + name.len()].copy_from_slice(name.as_bytes());
    }
    bytes
}

/// The bundle with its manifest altered.
fn altered(bundle: &[u8], alter: impl FnOnce(&mut Manifest, &mut Vec<(String, Vec<u8>)>)) -> Vec<u8> {
    let mut entries = entries(bundle);
    let at = entries.iter().position(|(name, _)| name == "manifest.json").unwrap();
    let mut manifest: Manifest = serde_json::from_slice(&entries.remove(at).1).unwrap();
    alter(&mut manifest, &mut entries);
    entries.push(("manifest.json".to_owned(), serde_json::to_vec(&manifest).unwrap()));
    packed(&entries, CompressionMethod::Deflated)
}

fn sha256(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

#[test]
fn a_bundle_at_fault_is_refused_by_name_and_changes_nothing() {
    let mut one = filled(1);
    with_photo(&mut one);
    let good = export(&mut one);
    let mut two = filled(2);
    set(&mut two, "/place", "attic");
    let before = seen(&mut two);
    let document = format!("documents/{}", BOARD.0);
    let photo = entries(&good).into_iter().find(|(name, _)| name.starts_with("photos/")).unwrap().0;
    let zeros = vec![0_u8; 8 * 1024 * 1024];
    let mut bad: Vec<(Vec<u8>, &str)> = vec![
        (Vec::new(), "not a bundle"),
        (b"PK\x05\x06 nothing".to_vec(), "not a bundle"),
        (packed(&[("a.txt".into(), vec![1])], CompressionMethod::Stored), "not a bundle"),
        (packed(&[("manifest.json".into(), b"{}".to_vec())], CompressionMethod::Stored), "not a bundle"),
        (altered(&good, |manifest, _| manifest.format = "something".into()), "not a bundle"),
        (altered(&good, |manifest, _| manifest.version = 9), "newer version"),
        (altered(&good, |manifest, _| manifest.version = 0), "manifest.json"),
        (twice(&good, &photo), "twice"),
        (altered(&good, |manifest, _| manifest.documents[0].length += 1), "documents/"),
        (altered(&good, |manifest, _| manifest.documents[1].content = "00".into()), "documents/"),
        (altered(&good, |manifest, _| manifest.documents[1].heads[0] = "ab".repeat(32)), "documents/"),
        (altered(&good, |manifest, _| manifest.documents[1].heads[0] = "ab".into()), "manifest.json"),
        (altered(&good, |manifest, _| drop(manifest.documents.pop())), &document),
        (altered(&good, |manifest, _| manifest.documents[1].kind = Kind::Site), &document),
        (altered(&good, |manifest, _| manifest.site = uuid(5)), "one site"),
        (altered(&good, |_, entries| entries.retain(|(name, _)| *name != photo)), &photo),
        (altered(&good, |_, entries| entries.push(("../../etc/passwd".into(), vec![1]))), "etc/passwd"),
        (altered(&good, |manifest, _| manifest.photos.push(manifest.photos[0].clone())), "twice"),
    ];
    // Other bytes under the right hash: they must still be a board, that board, and a photo.
    let replaced = |wanted: &str, bytes: &[u8]| {
        altered(&good, |manifest, entries| {
            let entry = entries.iter_mut().find(|(name, _)| name == wanted).unwrap();
            entry.1 = bytes.to_vec();
            let length = bytes.len() as u64;
            if let Some(found) = manifest.documents.iter_mut().find(|found| format!("documents/{}", found.id) == wanted)
            {
                (found.length, found.sha256) = (length, sha256(bytes));
            } else {
                (manifest.photos[0].length, manifest.photos[0].sha256) = (length, sha256(bytes));
                entry.0 = format!("photos/{}", sha256(bytes));
            }
        })
    };
    let site = entries(&good).into_iter().find(|(name, _)| *name == format!("documents/{}", SITE.0)).unwrap().1;
    let deflated = {
        let board = entries(&good).into_iter().find(|(name, _)| *name == document).unwrap().1;
        automerge::Automerge::load(&board).unwrap().save()
    };
    bad.push((replaced(&document, b"no document"), &document));
    bad.push((replaced(&document, &site), &document));
    bad.push((replaced(&document, &deflated), &document));
    bad.push((replaced(&document, &zeros), "far more"));
    bad.push((replaced(&photo, b"no photo"), "neither JPEG nor PNG"));
    let whole = jpeg();
    let half = &whole[..whole.len() * 2 / 3];
    let half_name = format!("photos/{}", sha256(half));
    bad.push((replaced(&photo, half), &half_name));
    bad.push((altered(&good, |manifest, _| manifest.version = 0), "version 0"));
    // One name twice: the packer refuses that, so the second is renamed in its bytes.
    let doubled = {
        let mut entries = entries(&good);
        let second = format!("documentz/{}", BOARD.0);
        entries.push((second.clone(), b"another".to_vec()));
        let mut bytes = packed(&entries, CompressionMethod::Stored);
        let at: Vec<usize> =
            (0..bytes.len() - second.len()).filter(|at| bytes[*at..].starts_with(second.as_bytes())).collect();
        assert_eq!(at.len(), 2);
        at.iter().for_each(|at| bytes[at + 8] = b's');
        bytes
    };
    let twice = format!("{document} in the bundle: it is there twice");
    bad.push((doubled, &twice));
    for (index, (bundle, says)) in bad.iter().enumerate() {
        let error = import(&mut two, bundle).unwrap_err().to_string();
        assert!(error.contains(says), "{index}: {error}");
        assert!(seen(&mut two) == before, "{index}");
    }
    for limits in [
        Limits { entries: 2, ..Limits::default() },
        Limits { document: 100, ..Limits::default() },
        Limits { documents: 100, ..Limits::default() },
        Limits { photo: 10, ..Limits::default() },
        Limits { photos: 10, ..Limits::default() },
        Limits { manifest: 10, ..Limits::default() },
    ] {
        assert!(import_from(&mut two, Cursor::new(&good), limits).is_err(), "{limits:?}");
        assert!(seen(&mut two) == before, "{limits:?}");
    }
    import(&mut two, &good).unwrap();
}

/// An earlier version took pictures in that end too soon: what others would refuse is left out and named.
#[test]
fn a_half_photo_is_left_out_and_the_rest_arrives() {
    let mut one = filled(1);
    let whole = jpeg();
    let meta = one.add_photo(&whole[..whole.len() * 2 / 3]).unwrap();
    set(&mut one, PHOTO, serde_json::to_value(Photo { hash: meta.hash.clone(), ..Photo::default() }).unwrap());
    let mut out = Cursor::new(Vec::new());
    let summary = export_site(&mut one, SITE, &mut out).unwrap();
    assert!(summary.damaged.len() == 1 && summary.damaged[0].contains(&meta.hash), "{:?}", summary.damaged);
    let report = import(&mut memory(2), &out.into_inner()).unwrap();
    assert_eq!((report.photos_added, report.missing_photos), (0, vec![meta.hash]));
}

#[test]
fn a_site_that_is_not_there_cannot_be_exported() {
    let error = export_site(&mut filled(1), SiteId(uuid(9)), Cursor::new(Vec::new())).unwrap_err();
    assert!(matches!(error, ExchangeError::Store(_)), "{error}");
}

/// A valid bundle, flipped, cut or with a piece of it moved: refused, or nothing new in it; the
/// process lives and the store is as it was.
#[test]
fn damaged_bundles_never_get_in() {
    let mut one = filled(1);
    with_photo(&mut one);
    let good = export(&mut one);
    let mut two = memory(2);
    import(&mut two, &good).unwrap();
    set(&mut two, "/place", "attic");
    let before = seen(&mut two);
    let version = two.board(BOARD).unwrap().version;
    let config = ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    let length = good.len();
    let damage = prop_oneof![
        (0..length, 0..8_u32).prop_map(|(at, bit)| (at, at, bit)),
        (0..length).prop_map(|at| (at, usize::MAX, 0)),
        (0..length, 0..length, 0..40_u32),
    ];
    let two = std::cell::RefCell::new(two);
    runner
        .run(&damage, |(at, other, number)| {
            let mut bytes = good.clone();
            if other == usize::MAX {
                bytes.truncate(at);
            } else if other == at {
                bytes[at] ^= 1 << (number % 8);
            } else {
                for step in 0..number as usize {
                    bytes[(at + step) % length] = good[(other + step) % length];
                }
            }
            let two = &mut *two.borrow_mut();
            match import(two, &bytes) {
                // Only what a zip file does not check may differ, a date say.
                Ok(report) => prop_assert_eq!((report.changes_added(), report.photos_added), (0, 0)),
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
            // The whole is compared at the end; a version tells a change of the board at once.
            let read = two.board(BOARD).unwrap();
            prop_assert_eq!((&read.version, two.waiting().unwrap()), (&version, 0));
            Ok(())
        })
        .unwrap();
    assert!(seen(&mut two.borrow_mut()) == before);
}
