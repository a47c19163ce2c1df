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
use survey::{Board, SiteId};
use uuid::Uuid;

static TABLES: LazyLock<circuits::Tables> = LazyLock::new(|| circuits::Tables::shipped().unwrap());

const BOARD: &str = include_str!("../../cases/02-supply-as-it-should-be.json");

fn known() -> Board {
    survey::file::read(BOARD).unwrap().board
}

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
        let mut board = known();
        board.enclosure = survey::Fact::of(pattern, survey::Provenance::new(survey::Known::Stated));
        look_at(&board);
    }
}

/// A user's own table: which, by the first byte, then its text; a board is then checked by it.
pub fn tables(bytes: &[u8]) {
    let Some((which, text)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let names = circuits::tables::TableTexts::NAMES;
    let mut texts = circuits::tables::TableTexts::shipped();
    texts.replace(names[usize::from(*which) % names.len()], text);
    if let Ok(tables) = circuits::Tables::parse(&texts) {
        let _checks = circuits::check_board(&known(), &tables);
    }
}

/// A person's act in JSON, on a board that is known.
pub fn intents(bytes: &[u8]) {
    let Ok(intent) = serde_json::from_slice::<survey::intent::Intent>(bytes) else { return };
    let board = known();
    let stamp = survey::intent::Stamp { by: survey::By::role("surveyor"), at: DateTime::UNIX_EPOCH };
    let mut number = 1_u128 << 100;
    let mut ids = || {
        number += 1;
        Uuid::from_u128(number)
    };
    let _name = survey::intent::name(&intent);
    let Ok(changes) = survey::intent::lower(&board, &intent, &stamp, &mut ids) else { return };
    if let Ok(after) = survey::intent::apply(&board, &changes)
        && survey::validate::newly_refused(&board, &after).is_empty()
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

/// A store that holds the known board, its document's bytes, and how often it was used.
struct Held {
    store: Store,
    used: u32,
}

thread_local! {
    static HELD: RefCell<Option<Held>> = const { RefCell::new(None) };
}

/// Gives a store with the board in it: a new one now and then, so that it does not grow without end.
fn with_store(work: impl FnOnce(&mut Store)) {
    HELD.with_borrow_mut(|held| {
        if held.as_ref().is_none_or(|held| held.used >= 200) {
            let mut store = fresh();
            store.create_board(store::Op::new("new board", "surveyor"), &known(), |_| Ok(())).unwrap();
            *held = Some(Held { store, used: 0 });
        }
        let held = held.as_mut().unwrap();
        held.used += 1;
        work(&mut held.store);
    });
}

/// A photo: its head and what follows, for the album and for measuring.
pub fn photo(bytes: &[u8]) {
    with_store(|store| {
        if let Ok(meta) = store.add_photo(bytes) {
            assert_eq!(store.photo(&meta.hash).unwrap(), bytes);
            store.thumbnail(&meta.hash).unwrap();
        }
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

/// A document of changes, merged into a board that is here.
pub fn changes(bytes: &[u8]) {
    with_store(|store| {
        let id = known().id;
        let before = store.board(id).unwrap().version;
        let incoming = Incoming { id: id.0, kind: Kind::Board, bytes: with_checksums(bytes) };
        let merged = store.merge(&[incoming], |_, _| Ok::<_, StoreError>(()));
        let after = store.board(id).unwrap();
        match merged {
            Ok(_) => look_at(&after.board),
            Err(_) => assert_eq!(after.version, before, "refused, and yet something changed"),
        }
    });
}

/// A bundle: as it is, or, where its first byte is odd, made of a manifest and a document that fit each other.
pub fn bundle(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    let made;
    let bundle = if first % 2 == 0 {
        rest
    } else {
        made = made_bundle(rest);
        &made
    };
    with_store(|store| {
        let id = known().id;
        let before = store.board(id).unwrap().version;
        if exchange::import(store, bundle).is_err() {
            assert_eq!(store.board(id).unwrap().version, before, "refused, and yet something changed");
        } else if let Ok(board) = store.board(id) {
            let site: SiteId = board.board.site;
            let _out = exchange::export_site(store, site, Cursor::new(Vec::new()));
        }
    });
}

/// A bundle whose sums fit its content, so that what lies behind them is reached.
fn made_bundle(bytes: &[u8]) -> Vec<u8> {
    let hex = |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let half = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
    let (words, document) = bytes.split_at(half);
    let document = with_checksums(document.get(1..).unwrap_or_default());
    let id = known().id;
    let words = String::from_utf8_lossy(words);
    let manifest = serde_json::json!({
        "format": "waywright-bundle",
        "version": 1,
        "site": known().site,
        "site_name": words,
        "documents": [{
            "id": id, "kind": "board", "heads": [hex(words.as_bytes())], "changes": words.len(),
            "content": hex(b""), "length": document.len(), "sha256": hex(&document),
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
