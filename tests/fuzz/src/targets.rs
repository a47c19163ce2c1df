//! What a fuzzer is let loose on: every reader of files and bytes from outside, and what is done with what it read.
//!
//! Any answer will do; a crash, an endless loop or a text that reads otherwise once written will not. Each function
//! takes one input; `tests/tests/corpus.rs` gives the kept inputs to the same functions.

use std::cell::RefCell;
use std::io::{Cursor, Write};
use std::sync::LazyLock;

use chrono::DateTime;
use sha2::{Digest, Sha256};
use store::{Env, Incoming, Kind, Store, StoreError};
use survey::Board;
use uuid::Uuid;

static TABLES: LazyLock<circuits::Tables> = LazyLock::new(|| circuits::Tables::shipped().unwrap());

const BOARD: &str = include_str!("../../cases/02-supply-as-it-should-be.json");

static KNOWN: LazyLock<Board> = LazyLock::new(|| survey::file::read(BOARD).unwrap().board);

/// All that is worked out from a board.
fn look_at(board: &Board) {
    let follows = survey::arrangement::consequences(board);
    let _drawn = survey::drawing::draw(board, &follows);
    let _checks = circuits::check_board(board, &TABLES);
    for plate in board.plates.keys() {
        let _checks = plate::check_plate(board, *plate, plate::Tables::shipped());
    }
}

/// A survey file: read, worked out, written and read again.
pub fn survey_file(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(read) = survey::file::read(text) else { return };
    look_at(&read.board);
    let written = survey::file::write(&read.board, &read.site_name).unwrap();
    let again = survey::file::read(&written).unwrap_or_else(|problems| panic!("what was written: {problems:?}"));
    assert_eq!(again.board, read.board, "reads otherwise once written");
}

/// A list of enclosure patterns, each then put on a board.
pub fn patterns(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(list) = survey::pattern::PatternList::parse(text) else { return };
    for pattern in list.into_iter().take(4) {
        let mut board = KNOWN.clone();
        board.enclosure = survey::Fact::of(pattern, survey::Provenance::new(survey::Known::Stated));
        look_at(&board);
    }
}

/// A user's own table: which, by the first byte, then its text; a board is then checked by it.
pub fn tables(bytes: &[u8]) {
    let Some((which, text)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let names = circuits::tables::TableTexts::NAMES;
    if let Ok(tables) = TABLES.with(names[usize::from(*which) % names.len()], text) {
        let _checks = circuits::check_board(&KNOWN, &tables.unwrap());
    }
}

/// A person's act in JSON, on a board that is known.
pub fn intents(bytes: &[u8]) {
    let Ok(intent) = serde_json::from_slice::<survey::intent::Intent>(bytes) else { return };
    let board = &*KNOWN;
    let stamp = survey::intent::Stamp { by: "surveyor".into(), at: DateTime::UNIX_EPOCH };
    let mut number = 1_u128 << 100;
    let mut ids = || {
        number += 1;
        Uuid::from_u128(number)
    };
    let _name = survey::intent::name(&intent);
    let Ok(changes) = survey::intent::lower(board, &intent, &stamp, &mut ids) else { return };
    if let Ok(after) = survey::intent::apply(board, &changes)
        && survey::validate::newly_refused(board, &after).is_empty()
    {
        look_at(&after);
    }
}

fn fresh() -> Store {
    let mut number = 1_u128 << 64;
    let id = move || {
        number += 1;
        Uuid::from_u128(number)
    };
    Store::in_memory(Env::new(|| DateTime::UNIX_EPOCH, id)).unwrap()
}

/// A store that holds the known board, and how often it was written to.
struct Held {
    store: Store,
    written: u32,
}

thread_local! {
    static HELD: RefCell<Option<Held>> = const { RefCell::new(None) };
}

/// Gives a store with the board in it to work that says whether it wrote: a new one now and then, so that it does not
/// grow without end, and after a panic.
fn with_store(work: impl FnOnce(&mut Store) -> bool) {
    HELD.with_borrow_mut(|held| {
        let mut now = held.take().filter(|held| held.written < 50).unwrap_or_else(|| {
            let mut store = fresh();
            store.create_board(store::Op::new("new board", "surveyor"), &KNOWN, |_| Ok(())).unwrap();
            // Read from one piece, as a store does that was used for a while.
            store.compact().unwrap();
            Held { store, written: 0 }
        });
        now.written += u32::from(work(&mut now.store));
        *held = Some(now);
    });
}

/// Pixels that a picture claims to have: a PNG in its first chunk, a JPEG at the start of a frame (ITU-T T.81, B.2.2).
fn claimed(bytes: &[u8]) -> u64 {
    let number = |part: &[u8]| part.iter().fold(0_u64, |number, byte| (number << 8) | u64::from(*byte));
    let png = bytes.get(16..24).filter(|_| bytes.starts_with(b"\x89PNG"));
    let png = png.map_or(0, |size| number(&size[..4]).saturating_mul(number(&size[4..])));
    let frames = bytes.windows(9).filter(|part| part[0] == 0xff && matches!(part[1], 0xc0..=0xc2));
    frames.map(|part| number(&part[5..7]) * number(&part[7..9])).fold(png, u64::max)
}

/// A photo: its head and what follows, for the album and for measuring. Of pictures that claim to be large, one in 32
/// by its bytes: they take a thousand times as long as a small one and reach the same code.
pub fn photo(bytes: &[u8]) {
    if claimed(bytes) > 1 << 17 && Sha256::digest(bytes)[0] >= 8 {
        return;
    }
    with_store(|store| {
        let taken = store.add_photo(bytes);
        if let Ok(meta) = &taken {
            assert_eq!(store.photo(&meta.hash).unwrap(), bytes);
            store.thumbnail(&meta.hash).unwrap();
        }
        taken.is_ok()
    });
    let _photo = plate::photo::Photo::decode(bytes);
}

/// Puts the checksums of a document's chunks right, as whoever makes one on purpose would: Automerge's storage
/// format, a chunk is magic, four bytes of SHA-256, its type, its length, its content.
fn with_checksums(bytes: &[u8]) -> Vec<u8> {
    const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
    let mut out = bytes.to_vec();
    let mut at = 0;
    while at + 9 < out.len() && out[at..at + 4] == MAGIC {
        let (mut length, mut shift, mut head) = (0_usize, 0_u32, at + 9);
        while head < out.len() && shift < 35 {
            let byte = out[head];
            length |= usize::from(byte & 0x7f) << shift;
            head += 1;
            shift += 7;
            if byte & 0x80 == 0 {
                break;
            }
        }
        let end = head.saturating_add(length).min(out.len());
        let sum = Sha256::digest(&out[at + 8..end]);
        out[at + 4..at + 8].copy_from_slice(&sum[..4]);
        if end <= at {
            break;
        }
        at = end;
    }
    out
}

/// After work on the store: what was refused left no trace; what came in new was looked at. True where it was.
fn judged<T, E>(store: &mut Store, before: &store::BoardDoc, done: Result<T, E>) -> bool {
    let after = store.board(KNOWN.id).unwrap();
    if after.version == before.version {
        assert_eq!(after.board, before.board, "nothing came, and yet it reads otherwise");
        return false;
    }
    assert!(done.is_ok(), "refused, and yet something changed");
    look_at(&after.board);
    true
}

/// A document of changes, merged into a board that is here.
pub fn changes(bytes: &[u8]) {
    with_store(|store| {
        let before = store.board(KNOWN.id).unwrap();
        let incoming = Incoming { id: KNOWN.id.0, kind: Kind::Board, bytes: with_checksums(bytes) };
        let merged = store.merge(&[incoming], |_, _| Ok::<_, StoreError>(()));
        judged(store, &before, merged)
    });
}

/// A bundle: as it is, or, where its first byte is odd, made of a manifest and a document that fit each other.
pub fn bundle(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    with_store(|store| {
        let made;
        let bundle = if first % 2 == 0 {
            rest
        } else {
            made = made_bundle(store, rest);
            &made
        };
        let before = store.board(KNOWN.id).unwrap();
        let report = exchange::import(store, bundle);
        let came = report.as_ref().is_ok_and(|report| {
            report.photos_added > 0 || report.documents.iter().any(|document| document.new || document.added > 0)
        });
        let changed = judged(store, &before, report);
        if came {
            // Whatever came in goes out again.
            let site = store.board(KNOWN.id).unwrap().board.site;
            exchange::export_site(store, site, Cursor::new(Vec::new())).unwrap();
        }
        changed || came
    });
}

/// What a document tells of itself once it is read here; the store stays as it was.
fn told(store: &mut Store, bytes: &[u8]) -> Option<store::DocumentRow> {
    let mut row = None;
    let incoming = Incoming { id: KNOWN.id.0, kind: Kind::Board, bytes: bytes.to_vec() };
    let _taken_back = store.merge(&[incoming], |_, merged| {
        row = merged.first().map(|merged| merged.sent.clone());
        Err::<(), _>(StoreError::Photo("taken back".into()))
    });
    row
}

/// A bundle whose manifest says of its content what is so, and where the words begin with a stroke what is not, so
/// that what lies behind is reached.
fn made_bundle(store: &mut Store, bytes: &[u8]) -> Vec<u8> {
    let hex = |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let half = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
    let (words, document) = bytes.split_at(half);
    let document = with_checksums(document.get(1..).unwrap_or_default());
    let id = KNOWN.id;
    let words = String::from_utf8_lossy(words);
    let row = if words.starts_with('/') { None } else { told(store, &document) };
    let heads = row.as_ref().map(|row| row.heads.iter().map(ToString::to_string).collect::<Vec<_>>());
    let manifest = serde_json::json!({
        "format": "waywright-bundle",
        "version": 1,
        "site": KNOWN.site,
        "site_name": words,
        "documents": [{
            "id": id, "kind": "board", "heads": heads.unwrap_or_else(|| vec![hex(words.as_bytes())]),
            "changes": row.as_ref().map_or(words.len(), |row| row.changes),
            "content": row.map_or_else(|| hex(b""), |row| row.content),
            "length": document.len(), "sha256": hex(&document),
        }],
        "photos": [],
    });
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let plain = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for (name, content) in
        [(format!("documents/{id}"), document), ("manifest.json".to_owned(), manifest.to_string().into_bytes())]
    {
        zip.start_file(name, plain).unwrap();
        zip.write_all(&content).unwrap();
    }
    zip.finish().unwrap().into_inner()
}
