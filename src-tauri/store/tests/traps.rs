//! What the merge engine does wrong if it is used naively, one test each.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use common::*;
use serde_json::{Value, json};
use store::{ConflictKind, Incoming, Kind, Store, StoreError};
use survey::Circuit;

#[test]
fn an_edit_in_a_record_removed_elsewhere_is_kept_and_shown() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("removed"), true);
    set(&mut two, circuit("description"), "cold store");
    set(&mut two, circuit("tests/zs"), reading("0.4 ohm", 50));
    both_ways(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        let read = store.board(BOARD).unwrap();
        let found = &read.board.circuits[&CIRCUIT];
        assert!(found.removed && found.description == "cold store");
        let [conflict] = read.conflicts.as_slice() else { panic!("{:?}", read.conflicts) };
        assert_eq!(
            (conflict.path.as_str(), conflict.kind),
            (circuit("removed").as_str(), ConflictKind::RemovedWhileEdited)
        );
        assert_eq!(conflict.edited, [circuit("description"), circuit("tests/zs")]);
    }
    // Either answer settles it, on both sides.
    one.settle("office", BOARD, &circuit("removed"), "removed").unwrap();
    assert!(paths(&mut one).is_empty() && now(&mut one).circuits[&CIRCUIT].removed);
    send(&mut one, &mut two);
    assert!(paths(&mut two).is_empty());
    assert_eq!(now(&mut one), now(&mut two));
}

#[test]
fn a_removed_record_that_was_worked_on_can_be_brought_back() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("removed"), true);
    set(&mut two, circuit("description"), "cold store");
    send(&mut two, &mut one);
    one.settle("office", BOARD, &circuit("removed"), "kept").unwrap();
    let read = one.board(BOARD).unwrap();
    assert!(read.conflicts.is_empty() && !read.board.circuits[&CIRCUIT].removed);
    let settled = read.board.settled.values().next().unwrap();
    assert_eq!((settled.from.as_slice(), settled.to.as_str()), (&["false".to_owned(), "true".to_owned()][..], "false"));
}

#[test]
fn removing_what_one_has_seen_is_no_conflict() {
    let (mut one, mut two) = pair();
    set(&mut two, circuit("description"), "cold store");
    send(&mut two, &mut one);
    set(&mut one, circuit("removed"), true);
    send(&mut one, &mut two);
    assert!(paths(&mut one).is_empty() && paths(&mut two).is_empty());
    // Nor is working on what one knows to be removed.
    set(&mut two, circuit("description"), "old cold store");
    send(&mut two, &mut one);
    assert!(paths(&mut one).is_empty());
}

#[test]
fn the_same_circuit_number_twice_gives_two_circuits() {
    let (mut one, mut two) = pair();
    let new = |description: &str| Circuit { number: "7".into(), description: description.into(), ..Circuit::default() };
    set(&mut one, format!("/circuits/{}", uuid(71)), serde_json::to_value(new("lift")).unwrap());
    set(&mut two, format!("/circuits/{}", uuid(72)), serde_json::to_value(new("pump")).unwrap());
    both_ways(&mut one, &mut two);
    let read = now(&mut one);
    let sevens: Vec<&str> = read
        .circuits
        .values()
        .filter(|circuit| circuit.number == "7")
        .map(|circuit| circuit.description.as_str())
        .collect();
    assert_eq!(sevens, ["lift", "pump"]);
    assert!(paths(&mut one).is_empty());
    assert_eq!(read, now(&mut two));
}

#[test]
fn entries_made_apart_move_no_number_of_one_another() {
    use survey::intent::{Intent, Stamp, lower};
    let plate = survey::PlateId(uuid(50));
    let (mut one, mut two) = (memory(1), memory(2));
    let mut start = board(1);
    // As an older version left it: without numbers.
    let old = [60, 70].map(|id| (survey::EntryId(uuid(id << 64)), survey::Entry::default()));
    start.plates.insert(plate, survey::Plate { entries: old.into(), ..Default::default() });
    create(&mut one, &start);
    send(&mut one, &mut two);
    let add = |store: &mut Store, id: u128| {
        let stamp = Stamp { by: survey::By::role("surveyor"), at: chrono::DateTime::from_timestamp(0, 0).unwrap() };
        let kind = survey::EntryKind::Bush;
        let intent = Intent::AddEntry { plate, kind, size: "20".into(), at: [10.0, 10.0], cable: None };
        let changes = lower(&now(store), &intent, &stamp, &mut || uuid(id << 64)).unwrap();
        store.transact(op("add"), BOARD, &changes, any).unwrap();
    };
    // Both put an id before and between those that were there.
    add(&mut one, 10);
    add(&mut two, 65);
    add(&mut two, 20);
    let numbers = |store: &mut Store| now(store).plates[&plate].entry_numbers();
    let (drilled, printed) = (numbers(&mut one), numbers(&mut two));
    assert_eq!(drilled.values().copied().collect::<Vec<_>>(), [3, 1, 2]);
    both_ways(&mut one, &mut two);
    let after = numbers(&mut one);
    assert!(
        drilled.iter().chain(&printed).all(|(id, number)| after[id] == *number),
        "{drilled:?} {printed:?} {after:?}"
    );
    assert_eq!((after.len(), &after), (5, &numbers(&mut two)));
    assert!(paths(&mut one).is_empty(), "the same numbers given twice are no conflict");
}

#[test]
fn one_survey_brought_in_on_two_stores_is_one_board() {
    let (mut one, mut two) = (memory(1), memory(2));
    create(&mut one, &board(2));
    create(&mut two, &board(2));
    set(&mut one, circuit("description"), "lift");
    set(&mut one, "/circuits/00000000-0000-0000-0000-00000000c101/description", "pump");
    set(&mut two, circuit("number"), "3");
    both_ways(&mut one, &mut two);
    let read = now(&mut one);
    assert_eq!(read, now(&mut two));
    assert_eq!(read.circuits[&CIRCUIT].number, "3");
    // "socket 0" was written on both sides, "lift" knowing only one of them.
    assert!(paths(&mut one).contains(&circuit("description")));
    assert_eq!(paths(&mut one), paths(&mut two));
    // Edits go on and clear what they touch.
    set(&mut two, circuit("description"), "hoist");
    send(&mut two, &mut one);
    assert_eq!(now(&mut one).circuits[&CIRCUIT].description, "hoist");
    assert!(!paths(&mut one).contains(&circuit("description")));
}

#[test]
fn a_value_in_a_conflict_says_who_wrote_it_on_which_device() {
    let (mut one, mut two) = pair();
    let by = |person: &str, device| survey::By {
        role: "surveyor".into(),
        person: person.into(),
        device: Some(uuid(device)),
    };
    let write = |store: &mut Store, by: &survey::By, place: &str| {
        store.transact(store::Op::new("edit", by), BOARD, &[change("/place", place)], any).unwrap();
    };
    let (ann, ben) = (by("Ann Field", 1), by("Ben Moor", 2));
    write(&mut one, &ann, "attic");
    write(&mut two, &ben, "cellar");
    both_ways(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        let conflicts = store.board(BOARD).unwrap().conflicts;
        let who = |place: &str| {
            let mut values = conflicts.iter().flat_map(|conflict| &conflict.values);
            values.find(|value| value.json == place).unwrap().by.clone()
        };
        assert_eq!((who("attic"), who("cellar")), (ann.clone(), ben.clone()));
    }
    assert_eq!(
        (ann.words().as_str(), survey::By::role("office").words().as_str()),
        ("Ann Field, surveyor", "the office")
    );
}

#[test]
fn a_reading_taken_again_is_seen_although_its_value_is_the_same() {
    let (mut one, _) = pair();
    set(&mut one, circuit("tests/zs"), reading("0.4 ohm", 50));
    let again = set(&mut one, circuit("tests/zs"), reading("0.4 ohm", 51));
    assert_eq!(again.touched, [circuit("tests/zs")]);
    // The very same reading is no change.
    assert!(set(&mut one, circuit("tests/zs"), reading("0.4 ohm", 51)).touched.is_empty());
}

#[test]
fn a_reading_stays_whole() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("tests/zs"), json!({"known": "measured", "value": "0.4 ohm", "instrument": "loop tester"}));
    set(&mut two, circuit("tests/zs"), json!({"known": "assumed", "value": "1.2 ohm", "rule": "half the limit"}));
    both_ways(&mut one, &mut two);
    let read = one.board(BOARD).unwrap();
    let values: Vec<&Value> = read.conflicts[0].values.iter().map(|value| &value.json).collect();
    assert_eq!(values.len(), 2);
    for value in values {
        assert_eq!(value["known"] == "measured", value.get("instrument").is_some(), "{value}");
        assert_eq!(value["known"] == "assumed", value["value"] == "1.2 ohm", "{value}");
    }
    let refused = try_set(&mut one, circuit("tests/zs/value"), "0.5 ohm").unwrap_err();
    assert!(refused.to_string().contains("set the whole value"), "{refused}");
}

#[test]
fn the_same_new_value_from_two_people_alarms_nobody() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("description"), "lift");
    both_ways(&mut one, &mut two);
    assert!(paths(&mut one).is_empty() && paths(&mut two).is_empty());
    assert_eq!(now(&mut one).circuits[&CIRCUIT].description, "lift");
}

#[test]
fn different_values_stand_side_by_side_until_a_person_picks() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("description"), "pump");
    both_ways(&mut one, &mut two);
    assert_eq!(one.board(BOARD).unwrap(), {
        let mut other = two.board(BOARD).unwrap();
        other.undo = one.board(BOARD).unwrap().undo;
        other
    });
    let conflict = one.board(BOARD).unwrap().conflicts.remove(0);
    let mut values: Vec<&str> = conflict.values.iter().filter_map(|value| value.json.as_str()).collect();
    values.sort_unstable();
    assert_eq!(values, ["lift", "pump"]);
    assert!(conflict.values.iter().all(|value| value.by.role == "surveyor" && value.at.is_some()));
    let lift = conflict.values.iter().find(|value| value.json == "lift").unwrap();
    one.settle("office", BOARD, &conflict.path, &lift.pick_id).unwrap();
    send(&mut one, &mut two);
    for store in [&mut one, &mut two] {
        let read = store.board(BOARD).unwrap();
        assert!(read.conflicts.is_empty());
        assert_eq!(read.board.circuits[&CIRCUIT].description, "lift");
        let settled = read.board.settled.values().next().unwrap();
        assert_eq!(
            (settled.path.as_str(), settled.to.as_str(), settled.role.as_str()),
            (conflict.path.as_str(), "\"lift\"", "office")
        );
        assert_eq!(settled.from.len(), 2);
    }
    // Picking what is settled already says so and changes nothing.
    let late = two.settle("office", BOARD, &conflict.path, &lift.pick_id);
    assert!(matches!(late, Err(StoreError::NoConflict { .. })));
}

#[test]
fn an_edit_over_a_conflict_says_from_which_values() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("description"), "pump");
    send(&mut two, &mut one);
    set(&mut one, circuit("description"), "lift pump");
    let read = one.board(BOARD).unwrap();
    assert!(read.conflicts.is_empty());
    assert_eq!(read.board.settled.values().next().unwrap().to, "\"lift pump\"");
}

#[test]
fn picking_the_value_shown_is_a_decision_too() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("description"), "pump");
    send(&mut two, &mut one);
    let conflict = one.board(BOARD).unwrap().conflicts.remove(0);
    let shown = conflict.values.iter().find(|value| value.shown).unwrap();
    one.settle("office", BOARD, &conflict.path, &shown.pick_id).unwrap();
    // Meanwhile the other value was replaced, in ignorance of the decision.
    set(&mut two, circuit("description"), "hoist");
    both_ways(&mut one, &mut two);
    let values: Vec<_> = one.board(BOARD).unwrap().conflicts.remove(0).values;
    let mut values: Vec<&str> = values.iter().filter_map(|value| value.json.as_str()).collect();
    values.sort_unstable();
    assert_eq!(values, ["hoist", shown.json.as_str().unwrap()]);
}

#[test]
fn two_copies_of_one_store_still_give_each_other_their_values() {
    // The same seed: both write under one name, as after copying a running tablet.
    let (mut one, mut two) = (memory(7), memory(7));
    create(&mut one, &board(2));
    send(&mut one, &mut two);
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("description"), "pump");
    set(&mut two, circuit("number"), "4");
    let merged = send(&mut two, &mut one);
    assert!(merged.copied && merged.added == 1, "{merged:?}");
    let read = one.board(BOARD).unwrap();
    assert_eq!(read.board.circuits[&CIRCUIT].number, "4");
    assert_eq!(read.conflicts.len(), 1);
    // Taken in again it is nothing new, also after a person has picked.
    assert_eq!(send(&mut two, &mut one).added, 0);
    let pick = read.conflicts[0].values.iter().find(|value| value.json == "pump").unwrap().pick_id.clone();
    one.settle("office", BOARD, &circuit("description"), &pick).unwrap();
    assert_eq!(send(&mut two, &mut one).added, 0);
    assert!(paths(&mut one).is_empty());
    // And the other way round.
    assert!(send(&mut one, &mut two).copied);
    assert_eq!(now(&mut two).circuits[&CIRCUIT].number, "4");
}

#[test]
fn changes_go_round_until_both_sides_are_silent() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    set(&mut two, circuit("number"), "4");
    let mut rounds = 0;
    loop {
        let mut sent = 0;
        for round in 0..2 {
            let (from, to) = if round == 0 { (&mut one, &mut two) } else { (&mut two, &mut one) };
            let known = to.document(BOARD.0, Kind::Board).unwrap().heads;
            let changes = from.changes_since(BOARD.0, Kind::Board, &known).unwrap();
            sent += changes.len();
            let bytes: Vec<Vec<u8>> = changes.into_iter().map(|change| change.bytes).collect();
            to.apply_changes(BOARD.0, Kind::Board, &bytes).unwrap();
        }
        rounds += 1;
        if sent == 0 {
            break;
        }
        assert!(rounds < 10);
    }
    assert_eq!(one.document(BOARD.0, Kind::Board).unwrap(), two.document(BOARD.0, Kind::Board).unwrap());
}

#[test]
fn a_change_without_those_before_it_is_refused() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    let known = one.document(BOARD.0, Kind::Board).unwrap().heads;
    set(&mut one, circuit("description"), "hoist");
    let last = one.changes_since(BOARD.0, Kind::Board, &known).unwrap();
    let before = two.board(BOARD).unwrap();
    let refused = two.apply_changes(BOARD.0, Kind::Board, &[last[0].bytes.clone()]).unwrap_err();
    assert!(refused.to_string().contains("missing"), "{refused}");
    assert_eq!(two.board(BOARD).unwrap(), before);
}

#[test]
fn broken_bytes_neither_end_the_process_nor_change_the_store() {
    let (mut one, mut two) = pair();
    set(&mut one, circuit("description"), "lift");
    let bytes = one.document_bytes(BOARD.0, Kind::Board).unwrap();
    let before = two.board(BOARD).unwrap();
    for step in 0..200 {
        let mut broken = bytes.clone();
        let at = (step * 7919) % broken.len();
        if step % 5 == 0 {
            broken.truncate(at);
        } else {
            broken[at] ^= 1 << (step % 8);
        }
        let taken =
            two.merge(&[Incoming { id: BOARD.0, kind: Kind::Board, bytes: broken }], |_, _| Ok::<_, StoreError>(()));
        let error = taken.unwrap_err().to_string();
        assert!(error.contains(&BOARD.to_string()), "{error}");
        assert_eq!(two.waiting().unwrap(), 0);
    }
    assert_eq!(two.board(BOARD).unwrap(), before);
}

#[test]
fn a_board_that_gets_too_large_is_a_finding() {
    let (mut one, _) = pair();
    assert!(one.board(BOARD).unwrap().problems.is_empty());
    // Text that does not compress.
    let mut state = 1_u64;
    let mut letter = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        char::from(b'0' + u8::try_from(state >> 58).unwrap())
    };
    for number in 0..120_u128 {
        let text: String = (0..10_000).map(|_| letter()).collect();
        set(&mut one, format!("/notes/{}", uuid(9000 + number)), json!({ "text": text, "removed": false }));
    }
    let read = one.board(BOARD).unwrap();
    assert_eq!(read.problems.len(), 1, "{:?}", read.problems);
    assert!(read.problems[0].message.contains("768 kB"));
    // It can still be worked on.
    set(&mut one, circuit("description"), "lift");
}
