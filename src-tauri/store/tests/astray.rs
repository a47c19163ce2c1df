//! Changes that lie among another document's, and lists after a loss.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::path::Path;

use common::*;
use rusqlite::{Connection, params};
use store::{Find, Health, Store};
use survey::{Board, BoardId};

const OTHER: BoardId = BoardId(uuid::Uuid::from_u128(0xB0A2E));

fn filled(path: &Path) -> [Board; 2] {
    let mut store = Store::open(path, env(1)).unwrap().store;
    create(&mut store, &board(2));
    create(&mut store, &Board { id: OTHER, reference: "PH-DB2".to_owned(), ..board(1) });
    for place in ["attic", "cellar"] {
        set(&mut store, "/place", place);
        let change = change("/place", format!("{place}, east"));
        store.transact(op("edit"), OTHER, &[change], any).unwrap();
    }
    both(&mut store)
}

fn both(store: &mut Store) -> [Board; 2] {
    [BOARD, OTHER].map(|id| store.board(id).unwrap().board)
}

fn checked(store: &mut Store) -> Health {
    store.begin_check().unwrap();
    store.check_on(u64::MAX).unwrap()
}

#[test]
fn a_change_among_another_boards_goes_home() {
    for with_snapshots in [false, true] {
        for place in 0..3 {
            for first in [BOARD, OTHER] {
                let folder = tempfile::tempdir().unwrap();
                let path = folder.path().join("store.db");
                let whole = filled(&path);
                if with_snapshots {
                    Store::open(&path, env(2)).unwrap().store.compact().unwrap();
                }
                let db = Connection::open(&path).unwrap();
                let (to, from) = (BOARD.0.as_bytes().as_slice(), OTHER.0.as_bytes().as_slice());
                let moved = "UPDATE changes SET document = ?1 WHERE seq =
                    (SELECT seq FROM changes WHERE document = ?2 ORDER BY seq LIMIT 1 OFFSET ?3)";
                assert_eq!(db.execute(moved, params![to, from, place]).unwrap(), 1);
                drop(db);
                let says = format!("change {place}, {first} first, snapshots {with_snapshots}");
                let mut store = Store::open(&path, env(3)).unwrap().store;
                store.board(first).unwrap();
                let health = checked(&mut store);
                assert_eq!(health.bad, Vec::<String>::new(), "{says}");
                assert_eq!(both(&mut store), whole, "{says}");
                let told: Vec<String> = store.notices().unwrap().into_iter().map(|notice| notice.text).collect();
                assert!(told.len() == 1 && told[0].contains(&OTHER.0.to_string()), "{says}: {told:?}");
                drop(store);
                let mut store = Store::open(&path, env(4)).unwrap().store;
                assert_eq!(both(&mut store), whole, "{says}");
                let health = checked(&mut store);
                assert_eq!((health.bad.len(), health.healed), (0, 0), "{says}");
                assert_eq!(store.notices().unwrap().len(), 1, "{says}");
                let db = Connection::open(&path).unwrap();
                let count = |id: BoardId| -> i64 {
                    let sql = "SELECT count(*) FROM changes WHERE document = ?1";
                    db.query_row(sql, [id.0.as_bytes().as_slice()], |row| row.get(0)).unwrap()
                };
                assert_eq!((count(BOARD), count(OTHER)), (3, 3), "{says}");
            }
        }
    }
}

#[test]
fn a_second_copy_among_another_boards_is_laid_aside() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.db");
    let whole = filled(&path);
    let db = Connection::open(&path).unwrap();
    let copied = "INSERT INTO changes (document, hash, bytes) SELECT ?1, hash, bytes FROM changes WHERE document = ?2";
    let ids = params![BOARD.0.as_bytes().as_slice(), OTHER.0.as_bytes().as_slice()];
    assert_eq!(db.execute(copied, ids).unwrap(), 3);
    drop(db);
    let mut store = Store::open(&path, env(3)).unwrap().store;
    assert_eq!(checked(&mut store).bad, Vec::<String>::new());
    assert_eq!(both(&mut store), whole);
    assert_eq!(checked(&mut store).healed, 0);
}

#[test]
fn a_list_shows_no_value_that_was_lost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.db");
    filled(&path);
    let db = Connection::open(&path).unwrap();
    let broken = "UPDATE changes SET bytes = CAST(substr(bytes, 1, length(bytes) - 1) || x'00' AS BLOB) WHERE seq =
        (SELECT max(seq) FROM changes WHERE document = ?1)";
    db.execute(broken, [BOARD.0.as_bytes().as_slice()]).unwrap();
    drop(db);
    let mut store = Store::open(&path, env(3)).unwrap().store;
    let row = |store: &Store| store.boards(&Find::default()).unwrap().into_iter().find(|row| row.id == BOARD).unwrap();
    let before = row(&store);
    assert_eq!(store.board(BOARD).unwrap().board.place, "attic");
    let after = row(&store);
    assert_eq!((before.place.as_str(), after.place.as_str()), ("cellar", "attic"));
    assert_eq!(after.changed, before.changed, "nobody changed it");
    assert!(store.boards(&Find::words("cellar")).unwrap().iter().all(|row| row.id != BOARD), "nor is it found by it");
}
