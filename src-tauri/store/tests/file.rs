//! One survey file taken in on two stores, and records removed on one side while the other works on them.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use common::*;
use serde_json::json;
use store::{ConflictKind, Find, Kind, Store};
use survey::intent::{self, Intent, Stamp};
use survey::{Board, Site};

fn take_in(store: &mut Store, board: &Board) {
    let site = Site { name: "Low Mill".into(), ..Site::default() };
    store.import_site(op("site of a survey"), SITE, &site).unwrap();
    // The role is the store's own and not part of what the file says.
    let role = format!("role of {}", store.document_ids().unwrap().len());
    store.import_board(store::Op::new("import of a survey", role.as_str()), board, |_| Ok(())).unwrap();
}

/// Two stores that have both taken in the file, at different times.
fn two_tablets() -> (Store, Store) {
    let (mut one, mut two) = (memory(1), memory(2));
    two.create_site(op("another site"), &Site::default()).unwrap();
    take_in(&mut one, &board(3));
    take_in(&mut two, &board(3));
    (one, two)
}

#[test]
fn a_file_taken_in_on_two_stores_is_one_beginning() {
    let (mut one, mut two) = two_tablets();
    for (id, kind) in [(BOARD.0, Kind::Board), (SITE.0, Kind::Site)] {
        assert_eq!(one.document(id, kind).unwrap(), two.document(id, kind).unwrap());
        assert_eq!(
            one.changes_since(id, kind, &[]).unwrap(),
            two.changes_since(id, kind, &[]).unwrap(),
            "the same bytes"
        );
    }
    // Edits of different fields meet; only the field that both wrote needs a decision.
    set(&mut one, circuit("description"), "lift");
    set(&mut one, circuit("number"), "1");
    set(&mut one, "/place", "attic");
    set(&mut two, format!("/cables/{}/size", CABLE.0), reading("4 mm2", 90));
    set(&mut two, circuit("tests/zs"), reading("0.4 ohm", 91));
    set(&mut two, "/place", "cellar");
    both_ways(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        assert_eq!(paths(store), ["/place"]);
        let read = now(store);
        assert_eq!(
            (read.circuits[&CIRCUIT].description.as_str(), read.circuits[&CIRCUIT].number.as_str()),
            ("lift", "1")
        );
        assert_eq!(read.circuits.len(), 3);
    }
    assert_eq!(now(&mut one), now(&mut two));
    // The change is the file's: no role, and no time but the file's own.
    let conflict = one.board(BOARD).unwrap().conflicts.remove(0);
    assert!(conflict.values.iter().all(|value| value.by.role == "surveyor"), "{conflict:?}");
}

#[test]
fn a_second_file_over_the_same_history_is_one_change() {
    let (mut one, mut two) = two_tablets();
    let mut later = board(3);
    later.place = "press hall, east".to_owned();
    later.circuits.get_mut(&CIRCUIT).unwrap().description = "lift".to_owned();
    for store in [&mut one, &mut two] {
        let changes = intent::difference(&now(store), &later);
        store.import_changes(op("import of a survey"), BOARD, &changes, any).unwrap();
    }
    assert_eq!(one.document(BOARD.0, Kind::Board).unwrap(), two.document(BOARD.0, Kind::Board).unwrap());
    set(&mut one, "/place", "attic");
    set(&mut two, circuit("description"), "hoist");
    both_ways(&mut one, &mut two);
    assert!(paths(&mut one).is_empty(), "{:?}", paths(&mut one));
    assert_eq!(
        (now(&mut one).place.as_str(), now(&mut one).circuits[&CIRCUIT].description.as_str()),
        ("attic", "hoist")
    );
    // It can be undone and done again like any other operation.
    let mut one = memory(3);
    take_in(&mut one, &board(3));
    let changes = intent::difference(&now(&mut one), &later);
    one.import_changes(op("import of a survey"), BOARD, &changes, any).unwrap();
    one.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(&mut one).place, "press hall");
    one.redo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(&mut one).place, "press hall, east");
}

#[test]
fn an_older_file_reverts_nothing_and_what_a_newer_one_replaces_is_named() {
    let mut one = memory(1);
    take_in(&mut one, &board(3));
    let old = now(&mut one);
    let size = format!("/cables/{}/size", CABLE.0);
    let far = "/supply/ze";
    set(&mut one, size.clone(), reading("4 mm2", 90));
    set(&mut one, "/place", "attic");
    set(&mut one, "/place", "cellar");
    set(&mut one, far, json!({"known": "measured", "value": "0.3 ohm"}));
    remove_circuit(&mut one);
    let newer = now(&mut one);
    let version = one.board(BOARD).unwrap().version;
    let take = |store: &mut Store, file: &Board| {
        let changes = intent::difference(&now(store), file);
        store.import_changes(op("import of a survey"), BOARD, &changes, any).unwrap()
    };
    let saved = take(&mut one, &old);
    assert_eq!(now(&mut one), newer);
    assert_eq!((one.board(BOARD).unwrap().version, saved.touched, saved.replaced), (version, vec![], vec![]));
    let kept: Vec<&str> = saved.kept.iter().map(|one| one.path.as_str()).collect();
    for path in [size.as_str(), "/place", far, &circuit("removed")] {
        assert!(kept.contains(&path), "{path} is not among {kept:?}");
    }
    let place = saved.kept.iter().find(|one| one.path == "/place").unwrap();
    assert_eq!((&place.here, &place.file), (&json!("cellar"), &json!("press hall")));
    // The one in between is older too.
    let mut between = newer.clone();
    between.place = "attic".to_owned();
    assert_eq!((take(&mut one, &between).kept.len(), now(&mut one)), (1, newer.clone()));
    // What never stood here is taken in; where the field was worked on here, that is named, and it can be undone.
    let mut other = newer.clone();
    other.place = "vault".to_owned();
    other.circuits.get_mut(&CIRCUIT).unwrap().number = "7".to_owned();
    let saved = take(&mut one, &other);
    assert_eq!((saved.kept.len(), saved.replaced.len(), now(&mut one).place.as_str()), (0, 1, "vault"));
    assert_eq!((&saved.replaced[0].here, &saved.replaced[0].file), (&json!("cellar"), &json!("vault")));
    one.undo("surveyor", BOARD, any).unwrap();
    assert_eq!(now(&mut one).place, "cellar");
}

#[test]
fn settling_by_a_file_is_the_same_everywhere() {
    let (mut one, mut two) = two_tablets();
    set(&mut one, "/place", "attic");
    set(&mut two, "/place", "cellar");
    both_ways(&mut one, &mut two);
    let mut later = board(3);
    later.place = "vault".to_owned();
    for store in [&mut one, &mut two] {
        let changes = intent::difference(&now(store), &later);
        store.import_changes(op("import of a survey"), BOARD, &changes, any).unwrap();
        assert!(paths(store).is_empty());
        assert_eq!(now(store).settled.len(), 1);
    }
    assert_eq!(one.document(BOARD.0, Kind::Board).unwrap(), two.document(BOARD.0, Kind::Board).unwrap());
}

fn remove_circuit(store: &mut Store) {
    let stamp =
        Stamp { by: survey::By::role("surveyor"), at: chrono::DateTime::from_timestamp(1_780_000_000, 0).unwrap() };
    let intent = Intent::RemoveCircuit { circuit: CIRCUIT };
    let changes = intent::lower(&now(store), &intent, &stamp, &mut || uuid(1)).unwrap();
    store.transact(op("remove"), BOARD, &changes, any).unwrap();
}

#[test]
fn a_removed_circuit_whose_cable_was_worked_on_names_both_once() {
    for edited_too in [false, true] {
        let (mut one, mut two) = pair();
        remove_circuit(&mut one);
        let size = format!("/cables/{}/size", CABLE.0);
        let mut edited = vec![size.clone()];
        set(&mut two, size, reading("4 mm2", 90));
        if edited_too {
            let rated = format!("/devices/{}/rated", DEVICE.0);
            set(&mut two, rated.clone(), reading("20 A", 92));
            set(&mut two, circuit("description"), "cold store");
            edited.extend([circuit("description"), rated]);
            edited.sort();
        }
        both_ways(&mut one, &mut two);
        for store in [&mut one, &mut two] {
            let conflicts = store.board(BOARD).unwrap().conflicts;
            let [conflict] = conflicts.as_slice() else { panic!("{conflicts:#?}") };
            assert_eq!(
                (conflict.path.as_str(), conflict.kind),
                (circuit("removed").as_str(), ConflictKind::RemovedWhileEdited)
            );
            assert_eq!(conflict.edited, edited);
        }
        // Kept, all of it is back; left removed, all of it stays so, and nobody is asked again.
        let pick = if edited_too { "kept" } else { "removed" };
        one.settle("office", BOARD, &circuit("removed"), pick).unwrap();
        send(&mut one, &mut two);
        for store in [&mut one, &mut two] {
            assert!(paths(store).is_empty(), "{:?}", paths(store));
            let read = now(store);
            let removed = (read.circuits[&CIRCUIT].removed, read.cables[&CABLE].removed, read.devices[&DEVICE].removed);
            assert_eq!(removed, (!edited_too, !edited_too, !edited_too));
            assert_eq!(read.settled.len(), 1);
        }
    }
}

#[test]
fn a_board_removed_here_and_worked_on_there_is_shown() {
    let (mut one, mut two) = pair();
    set(&mut one, "/removed", true);
    assert!(one.boards(&Find::default()).unwrap().is_empty());
    set(&mut two, circuit("description"), "cold store");
    both_ways(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        let conflicts = store.board(BOARD).unwrap().conflicts;
        let [conflict] = conflicts.as_slice() else { panic!("{conflicts:#?}") };
        assert_eq!((conflict.path.as_str(), conflict.kind), ("/removed", ConflictKind::RemovedWhileEdited));
        assert_eq!(conflict.edited, [circuit("description")]);
        // A person must come across it.
        let rows = store.boards(&Find::default()).unwrap();
        assert_eq!(rows.iter().map(|row| (row.id, row.conflicts)).collect::<Vec<_>>(), [(BOARD, 1)]);
    }
    one.settle("office", BOARD, "/removed", "removed").unwrap();
    assert!(paths(&mut one).is_empty() && one.boards(&Find::default()).unwrap().is_empty());
    send(&mut one, &mut two);
    assert!(paths(&mut two).is_empty() && two.boards(&Find::default()).unwrap().is_empty());
}

#[test]
fn one_question_about_a_removed_record_is_asked_once() {
    // Made twice, as by versions that wrote a file under each store's own name.
    let (mut one, mut two) = (memory(1), memory(2));
    create(&mut one, &board(2));
    create(&mut two, &board(2));
    set(&mut one, circuit("removed"), true);
    both_ways(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        let paths = paths(store);
        assert_eq!(paths.iter().filter(|path| **path == circuit("removed")).count(), 1, "{paths:?}");
    }
    // And it can be answered.
    let conflict = one.board(BOARD).unwrap().conflicts.into_iter().find(|one| one.path == circuit("removed")).unwrap();
    let pick = conflict.values[0].pick_id.clone();
    one.settle("office", BOARD, &conflict.path, &pick).unwrap();
    assert!(!paths(&mut one).contains(&circuit("removed")));
}
