//! A process killed while it takes a bundle in: all of it is there afterwards, or nothing.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

#[path = "../../store/tests/common/mod.rs"]
mod common;

use std::fs;
use std::io::{BufRead, BufReader, Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use common::*;
use exchange::{ExchangeError, Manifest, export_site, import};
use store::{Kind, Store};
use survey::{Board, BoardId, Photo, Site};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

const BOARDS: u128 = 10;

/// Built by `cargo test` where no test program is named, and by `cargo xtask test`.
fn take_in() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().nth(2).unwrap();
    folder.join("examples").join(format!("take_in{}", std::env::consts::EXE_SUFFIX))
}

/// A site of boards, each with a photo of its own.
fn bundle() -> Vec<u8> {
    let mut store = memory(1);
    let site = Site { id: Some(SITE), name: "Low Mill".into(), ..Site::default() };
    store.create_site(op("new site"), &site).unwrap();
    for number in 0..BOARDS {
        let mut board: Board = board(3);
        board.id = BoardId(uuid(0x100 + number));
        let shade = u8::try_from(number).unwrap();
        let picture = image::RgbImage::from_fn(120, 80, |x, y| image::Rgb([shade, (x % 251) as u8, (y % 13) as u8]));
        let mut png = Cursor::new(Vec::new());
        picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
        let hash = store.add_photo(png.get_ref()).unwrap().hash;
        board.photos.insert(survey::PhotoId(uuid(0x200 + number)), Photo { hash, ..Photo::default() });
        store.create_board(op("new board"), &board, |_| Ok(())).unwrap();
    }
    let mut out = Cursor::new(Vec::new());
    export_site(&mut store, SITE, &mut out).unwrap();
    out.into_inner()
}

/// The same with one document that does not read as the manifest says: it is refused, after all of
/// it was merged.
fn to_be_refused(bundle: &[u8]) -> Vec<u8> {
    let mut zip = ZipArchive::new(Cursor::new(bundle)).unwrap();
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for index in 0..zip.len() {
        let mut file = zip.by_index(index).unwrap();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        let name = file.name().unwrap().into_owned();
        if name == "manifest.json" {
            let mut manifest: Manifest = serde_json::from_slice(&bytes).unwrap();
            manifest.documents.last_mut().unwrap().changes += 1;
            bytes = serde_json::to_vec(&manifest).unwrap();
        }
        out.start_file(name, SimpleFileOptions::default()).unwrap();
        out.write_all(&bytes).unwrap();
    }
    out.finish().unwrap().into_inner()
}

fn begin(path: &Path, bundle: &Path) -> (Child, BufReader<std::process::ChildStdout>) {
    let mut child =
        Command::new(take_in()).args([path, bundle]).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    out.read_line(&mut line).unwrap();
    assert_eq!(line, "begun\n");
    (child, out)
}

/// Documents, photos, and photos that boards lack.
fn there(store: &mut Store) -> (usize, usize, usize) {
    let documents = store.document_ids().unwrap();
    for (id, kind) in &documents {
        if *kind == Kind::Board {
            store.board(BoardId(*id)).unwrap();
        }
    }
    (documents.len(), store.photos_of_site(SITE).unwrap().len(), store.missing_photos().unwrap().len())
}

#[test]
fn a_killed_import_leaves_all_or_nothing() {
    assert!(take_in().is_file(), "build the example first: cargo build --workspace --examples");
    let folder = tempfile::tempdir().unwrap();
    let good = bundle();
    let refused = to_be_refused(&good);
    let (good_file, refused_file) = (folder.path().join("good.zip"), folder.path().join("refused.zip"));
    fs::write(&good_file, &good).unwrap();
    fs::write(&refused_file, &refused).unwrap();
    assert!(matches!(import(&mut memory(2), &refused), Err(ExchangeError::Entry { .. })));
    let whole = (usize::try_from(BOARDS).unwrap() + 1, usize::try_from(BOARDS).unwrap(), 0);

    // How long it takes when it is left alone.
    let path = folder.path().join("first.db");
    let (mut child, _out) = begin(&path, &good_file);
    let started = Instant::now();
    assert!(child.wait().unwrap().success());
    let takes = started.elapsed();
    assert_eq!(there(&mut Store::open(&path, env(3)).unwrap().store), whole);

    let rounds: u32 = if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 40 } else { 5 };
    let (mut nothing, mut all, mut after) = (0, 0, 0);
    for round in 0..3 * rounds {
        // A good one in its middle, one to be refused in its middle, a good one right after it said it was done.
        let (kind, number) = (round % 3, round / 3);
        let (file, is_good) = if kind == 1 { (&refused_file, false) } else { (&good_file, true) };
        let path = folder.path().join(format!("{round}.db"));
        let (mut child, mut out) = begin(&path, file);
        let mut said = String::new();
        if kind == 2 {
            out.read_line(&mut said).unwrap();
            std::thread::sleep(Duration::from_micros(u64::from(number) * 37 % 1000));
        } else {
            std::thread::sleep(takes * (number + 1) / (rounds + 1));
        }
        // It may have ended already.
        let _gone = child.kill();
        out.read_to_string(&mut said).unwrap();
        let killed = !child.wait().unwrap().success();
        let mut opened = Store::open(&path, env(100 + u64::from(round))).unwrap();
        assert_eq!(opened.waiting, 0, "round {round}: nothing is finished later, without its checks and photos");
        let found = there(&mut opened.store);
        assert!(found == (0, 0, 0) || (is_good && found == whole), "round {round}: {found:?}");
        assert!(said.is_empty() || found == whole, "round {round}: it said it was done");
        assert!(opened.store.check().unwrap().is_empty(), "round {round}");
        if found == whole {
            all += 1
        } else {
            nothing += 1
        }
        if kind == 2 {
            assert_eq!((found, said.as_str()), (whole, "done\n"), "round {round}: it said it was done");
            after += u32::from(killed);
        }
        // And the same bundle, again, whole.
        import(&mut opened.store, &good).unwrap();
        assert_eq!(there(&mut opened.store), whole, "round {round}");
        drop(opened);
        let mut opened = Store::open(&path, env(1000 + u64::from(round))).unwrap();
        assert_eq!(there(&mut opened.store), whole, "round {round}, after a restart");
    }
    println!(
        "{} imports killed, a third of them of a bundle to be refused, {after} after their commit: {nothing} left \
         nothing, {all} all, 0 a part; each was taken in again, whole",
        3 * rounds
    );
    assert!(nothing >= rounds, "hardly one was killed in the middle");
}
