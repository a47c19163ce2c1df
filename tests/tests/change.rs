//! Replies to edits: what changed, put to the view that the caller has, is what the caller would have opened.
#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]
#![allow(missing_docs)]

#[path = "../../src-tauri/circuits/tests/common/mod.rs"]
mod common;

#[path = "change/shapes.rs"]
mod shapes;

use std::collections::BTreeMap;

use api::{ApiError, BoardChange, BoardView, Call, Edit, Edited, ImportSurvey, OpenBoard, Redo, Undo, Update};
use common::mixed::{Dice, USUAL, mixed};
use serde_json::{Value, json};
use survey::intent::Intent;
use survey::{BoardId, DeviceKind, LoadKind, Poles};
use waywright_tests::Bench;

type View = BoardView<Value>;

/// A reply as a screen reads it: from its text.
fn read<C: Call, R: serde::de::DeserializeOwned>(bench: &Bench, request: &C) -> Result<R, ApiError> {
    match bench.app.answer(&bench.app.local_caller(), C::NAME, serde_json::to_value(request).unwrap()) {
        Ok(text) => Ok(serde_json::from_str(&text).unwrap()),
        Err(error) => Err(serde_json::from_value(error).unwrap()),
    }
}

fn opened(bench: &Bench, board: BoardId) -> View {
    read(bench, &OpenBoard { board }).unwrap()
}

fn changed(update: Update<Value>) -> Box<BoardChange> {
    match update {
        Update::Changed(change) => change,
        Update::Whole(_) => panic!("the whole board came"),
    }
}

/// An id of a record of that kind, any of them.
fn any_id(dice: &mut Dice, view: &View, records: &str) -> Option<String> {
    let ids: Vec<&String> = view.board[records].as_object().unwrap().keys().collect();
    (!ids.is_empty()).then(|| ids[dice.below(ids.len())].clone())
}

/// An edit that a person might make, or one that is refused.
fn some_edit(dice: &mut Dice, view: &View) -> Option<Intent> {
    let number = dice.below(60) + 1;
    let set = |path: String, value: Value| Some(Intent::Set { path, value });
    let reading = |value: String| json!({"known": "measured", "value": value, "instrument": "tape"});
    match dice.below(14) {
        0 | 1 => set(format!("/cables/{}/length", any_id(dice, view, "cables")?), reading(format!("{number} m"))),
        2 => set(format!("/circuits/{}/load/power", any_id(dice, view, "circuits")?), reading(format!("{number}0 W"))),
        3 => set(
            format!("/devices/{}/rated", any_id(dice, view, "devices")?),
            json!({"known": "label", "value": "16 A"}),
        ),
        4 => {
            set(format!("/circuits/{}/description", any_id(dice, view, "circuits")?), json!(format!("load ~/{number}")))
        }
        5 => set(format!("/cables/{}/length", any_id(dice, view, "cables")?), json!({"known": "unknown"})),
        6 => set("/supply/ze".to_owned(), reading(format!("0.{number} ohm"))),
        7 => set("/incomer/arrangement".to_owned(), {
            json!({"known": "label", "value": dice.pick(&["FourPole", "ThreePoleDirectNeutral", "Lugs"])})
        }),
        8 => Some(Intent::RemoveCircuit { circuit: any_id(dice, view, "circuits")?.parse().unwrap() }),
        9 => Some(Intent::AddCircuit {
            at: format!("{}L{}", dice.below(12) + 1, dice.below(3) + 1).parse().unwrap(),
            poles: Poles::P1,
            device: DeviceKind::CircuitBreaker,
            load: LoadKind::FixedEquipment,
            description: format!("new {number}"),
        }),
        10 => {
            let plate = any_id(dice, view, "plates")?;
            set(format!("/plates/{plate}/width"), reading(format!("{}0 mm", number + 5)))
        }
        11 => set("/enclosure".to_owned(), json!({"known": "unknown"})),
        12 => set("/place".to_owned(), json!(format!("room {number}"))),
        _ => {
            let device = any_id(dice, view, "devices")?.parse().unwrap();
            Some(Intent::MoveDevice {
                device,
                to: format!("{}L{}", dice.below(12) + 1, dice.below(3) + 1).parse().unwrap(),
            })
        }
    }
}

/// Edits one board at random; the view is kept by what the replies say alone.
fn edited_at_random(bench: &Bench, board: BoardId, seed: u64, steps: usize) -> BTreeMap<&'static str, usize> {
    let mut dice = Dice::new(seed);
    let mut held = opened(bench, board);
    let mut done = BTreeMap::new();
    for _ in 0..steps {
        let have = Some(held.state.clone());
        let (what, reply) = match dice.below(6) {
            0 => ("undo", read::<_, Edited<Value>>(bench, &Undo { board, have })),
            1 => ("redo", read(bench, &Redo { board, have })),
            _ => match some_edit(&mut dice, &held) {
                Some(intent) => ("edit", read(bench, &Edit { board, intent, have })),
                None => continue,
            },
        };
        let Ok(reply) = reply else { continue };
        *done.entry(what).or_default() += 1;
        let before = held.clone();
        held.apply(*changed(reply.view)).unwrap();
        // What undo left alone is told once, with its reply; opening does not tell it again.
        let mut fresh = opened(bench, board);
        if what != "edit" && fresh.state != held.state {
            fresh.state.clone_from(&held.state);
            assert!(held.problems.ends_with(&fresh.problems), "{what}");
            fresh.problems.clone_from(&held.problems);
        }
        let (here, there) = (serde_json::to_value(&held).unwrap(), serde_json::to_value(&fresh).unwrap());
        for (key, value) in there.as_object().unwrap() {
            assert_eq!(&here[key], value, "{key} after {what}, seed {seed}");
        }
        assert_eq!(held, fresh, "seed {seed}");
        if what == "edit" {
            assert_eq!(before.state == held.state, reply.touched.is_empty(), "{:?}", reply.touched);
        }
    }
    done
}

#[test]
fn what_changed_put_to_what_was_there_is_what_is_there() {
    let bench = Bench::with_demo();
    let mut done = BTreeMap::new();
    let seeds = if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 40 } else { 1 };
    let boards = ["PH-DB1", "BL-DB2", "BR-DB3"].map(|reference| bench.board(reference));
    for seed in 0..seeds {
        for board in boards {
            for (what, count) in edited_at_random(&bench, board, seed, 30) {
                *done.entry(what).or_insert(0) += count;
            }
        }
    }
    assert!(done["edit"] > 40 && done["undo"] > 5 && done["redo"] > 1, "{done:?}");
}

/// A board of 72 circuits in a store.
fn full(bench: &Bench) -> BoardId {
    let board = mixed(7, USUAL);
    read::<_, api::SurveyTaken<Value>>(bench, &ImportSurvey { text: survey::file::write(&board, "Works").unwrap() })
        .unwrap();
    board.id
}

#[test]
fn an_edit_of_one_field_is_answered_with_little() {
    let bench = Bench::empty();
    let board = full(&bench);
    let mut held = opened(&bench, board);
    let (id, circuit) = held.board["circuits"].as_object().unwrap().iter().next().unwrap();
    let edits = [
        (format!("/cables/{}/length", circuit["cable"].as_str().unwrap()), "33 m"),
        (format!("/circuits/{id}/load/power"), "640 W"),
    ];
    for (path, value) in edits {
        let intent = Intent::Set { path: path.clone(), value: json!({"known": "label", "value": value}) };
        let request = Edit { board, intent, have: Some(held.state.clone()) };
        let text =
            bench.app.answer(&bench.app.local_caller(), Edit::NAME, serde_json::to_value(request).unwrap()).unwrap();
        let reply: Edited<Value> = serde_json::from_str(&text).unwrap();
        println!("{path}: {} bytes", text.len());
        assert!(text.len() <= 20_000, "{path}: {} bytes", text.len());
        held.apply(*changed(reply.view)).unwrap();
        assert_eq!(held, opened(&bench, board));
    }
}

#[test]
fn who_names_no_view_or_an_unknown_one_gets_the_whole_board() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let mut held = opened(&bench, board);
    let place = |text: &str| Intent::Set { path: "/place".to_owned(), value: json!(text) };
    for have in [None, Some("gone".to_owned()), Some(opened(&bench, bench.board("BL-DB2")).state)] {
        let reply: Edited<Value> = read(&bench, &Edit { board, intent: place("hall"), have }).unwrap();
        assert_eq!(reply.view.whole().unwrap().board["place"], "hall");
    }
    // Another one's edits lie between: the difference is to what is named, not to what came last.
    for text in ["attic", "cellar"] {
        read::<_, Edited<Value>>(&bench, &Edit { board, intent: place(text), have: None }).unwrap();
    }
    let first = held.clone();
    let intent = Intent::Set { path: "/reference".to_owned(), value: json!("PH-DB9") };
    let reply: Edited<Value> = read(&bench, &Edit { board, intent, have: Some(held.state.clone()) }).unwrap();
    let change = changed(reply.view);
    held.apply((*change).clone()).unwrap();
    assert_eq!((&held.board["place"], &held.board["reference"]), (&json!("cellar"), &json!("PH-DB9")));
    assert_eq!(held, opened(&bench, board));
    // To another view it is refused, and nothing of it is put there.
    let mut other = opened(&bench, bench.board("BR-DB3"));
    let kept = other.clone();
    assert!(other.apply(*change).is_err());
    assert_eq!(other, kept);
    assert_ne!(first, held);
}
