//! The main job on the demo: open a board, change a circuit, see the checks move, take it back.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use api::{Allocate, Edit, FaultCurrents, OpenBoard, Redo, SizeCable, TimeCurrent, Undo, WhatIf};
use serde_json::json;
use survey::intent::Intent;
use survey::{Board, Subject, Verdict};
use waywright_tests::{Bench, call};

fn yard_lighting(board: &Board) -> (survey::CircuitId, survey::CableId) {
    let (id, circuit) = board.live_circuits().find(|(_, circuit)| circuit.description == "Yard lighting").unwrap();
    (id, circuit.cable.unwrap())
}

fn verdict(view: &api::BoardView, circuit: survey::CircuitId, rule: &str) -> Verdict {
    let found = view.checks.iter().find(|check| check.subject == Subject::Circuit(circuit) && check.rule == rule);
    found
        .unwrap_or_else(|| panic!("no check {rule}: {:?}", view.checks.iter().map(|c| &c.rule).collect::<Vec<_>>()))
        .verdict
}

#[test]
fn a_larger_cable_settles_the_volt_drop_and_the_edit_outlives_a_restart() {
    let mut bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let (circuit, cable) = yard_lighting(&view.board);
    assert_eq!(verdict(&view, circuit, "volt-drop"), Verdict::Advised);

    let size =
        Intent::Set { path: format!("/cables/{cable}/size"), value: json!({"known": "decided", "value": "16 mm2"}) };
    let edited = call(&bench.app, Edit { board, intent: size, have: None }).unwrap();
    assert_eq!(edited.touched, [format!("/cables/{cable}/size")]);
    let view = edited.view.whole().unwrap();
    assert_eq!(verdict(&view, circuit, "volt-drop"), Verdict::Holds);
    assert_eq!(view.undo.as_deref(), Some("change of cable size"));

    bench.restart();
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    assert_eq!(view.board.cables[&cable].size.shown(), "16\u{a0}mm²");
    let undone = call(&bench.app, Undo { board, have: None }).unwrap().view.whole().unwrap();
    assert_eq!(undone.board.cables[&cable].size.shown(), "1.5\u{a0}mm²");
    assert_eq!(verdict(&undone, circuit, "volt-drop"), Verdict::Advised);
    bench.restart();
    let redone = call(&bench.app, Redo { board, have: None }).unwrap().view.whole().unwrap();
    assert_eq!(redone.board.cables[&cable].size.shown(), "16\u{a0}mm²");
}

#[test]
fn each_caller_is_answered_in_the_language_asked_for() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let sentences = |locale: &str| {
        let caller = waywright::Caller { locale: locale.to_owned(), ..bench.app.local_caller() };
        let reply = bench.app.answer(&caller, "open_board", json!({ "board": board })).unwrap();
        let view: api::BoardView<serde_json::Value> = serde_json::from_str(&reply).unwrap();
        let of_circuits = view.checks.iter().filter(|check| matches!(check.subject, Subject::Circuit(_)));
        of_circuits.map(|check| check.sentence.to_string()).collect::<Vec<_>>()
    };
    let english = sentences("en");
    // English made strange: what is not in its brackets is no text of the catalogue.
    let strange = sentences("en-x-long");
    assert_eq!(strange.len(), english.len());
    assert!(english.iter().all(|sentence| !sentence.contains('[')), "{english:?}");
    assert!(strange.iter().all(|sentence| sentence.starts_with('[') && sentence.contains('~')), "{strange:?}");
    assert_eq!(sentences("xx"), english, "a language that is not here");
    let words = |locale: &str| {
        let caller = waywright::Caller { locale: locale.to_owned(), ..bench.app.local_caller() };
        let reply = bench.app.answer(&caller, "words", json!({})).unwrap();
        serde_json::from_str::<api::WordsReply>(&reply).unwrap()
    };
    let (english, strange) = (words("en"), words("en-x-long"));
    assert_eq!((english.language.as_str(), strange.language.as_str()), ("en", "en-x-long"));
    assert_eq!(english.messages["ui-try-again"], "Try again");
    assert_eq!(strange.messages["ui-try-again"], "[Ťřý áĝáíñ~~~]");
    assert_eq!(words("xx").language, "en");
}

#[test]
fn what_is_saved_is_stamped_with_who_called_and_not_with_who_sits_at_the_machine() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let caller = waywright::Caller {
        device: None,
        person: "Ann Field".to_owned(),
        role: "office".to_owned(),
        locale: "en".to_owned(),
    };
    let edit = |caller: &waywright::Caller, value: &str| {
        let value = json!({ "known": "measured", "value": value });
        let body = json!({ "board": board, "intent": { "set": { "path": "/supply/ze", "value": value } } });
        let reply = bench.app.answer(caller, "edit", body).unwrap();
        serde_json::from_str::<serde_json::Value>(&reply).unwrap()["view"]["whole"]["board"]["supply"]["ze"]["role"]
            .clone()
    };
    assert_eq!(edit(&caller, "0.21 ohm"), "office");
    assert_eq!(edit(&bench.app.local_caller(), "0.22 ohm"), "surveyor");
    let about = bench.app.answer(&caller, "about", json!({})).unwrap();
    assert!(about.contains("\"role\":\"office\""), "{about}");
    assert!(bench.app.local_caller().device.is_some());
}

#[test]
fn every_demo_board_shows_drawing_checks_and_what_rests_on_what() {
    let bench = Bench::with_demo();
    for reference in ["PH-DB1", "BL-DB2", "BR-DB3"] {
        let view = call(&bench.app, OpenBoard { board: bench.board(reference) }).unwrap();
        let drawing = view.drawing.as_ref().unwrap();
        assert!(drawing.cells.iter().filter(|cell| cell.device.is_some()).count() >= 6, "{reference}");
        for check in &view.checks {
            assert!(!check.sentence.is_empty() && !check.clause.is_empty(), "{reference}: {check:?}");
            let undecided = check.verdict == Verdict::Undecided;
            assert!(!undecided || !check.next.is_empty(), "{reference}: undecided, but no next reading: {check:?}");
        }
        // Every circuit has an answer.
        for row in &view.rows {
            assert!(row.verdict.is_some(), "{reference}: {row:?}");
        }
    }
    let view = call(&bench.app, OpenBoard { board: bench.board("BR-DB3") }).unwrap();
    assert!(view.follows.phase_link);
    assert_eq!(view.currents.lines.len(), 1);
}

#[test]
fn an_edit_that_does_not_fit_is_refused_and_changes_nothing() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let before = bench.surveys();
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let device = view.board.live_devices().find(|(_, device)| device.at.unwrap().to_string() == "3L2").unwrap().0;
    let error =
        call(&bench.app, Edit { board, intent: Intent::MoveDevice { device, to: "1L2".parse().unwrap() }, have: None })
            .unwrap_err();
    assert!(error.message.contains("pole 1L2 holds another device"), "{error}");
    assert_eq!(bench.surveys(), before);
}

#[test]
fn a_change_is_weighed_before_it_is_made() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let before = bench.surveys();
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let (circuit, cable) = yard_lighting(&view.board);
    let size =
        Intent::Set { path: format!("/cables/{cable}/size"), value: json!({"known": "decided", "value": "16 mm2"}) };
    let weighed = call(&bench.app, WhatIf { board, intents: vec![size.clone()] }).unwrap();
    assert_eq!(bench.surveys(), before, "nothing is saved");
    let drop = weighed
        .changes
        .iter()
        .find(|change| change.after.as_ref().is_some_and(|check| check.rule == "volt-drop"))
        .unwrap();
    assert!(drop.turns && drop.subject.contains("Yard lighting"), "{drop:?}");
    assert_eq!(drop.before.as_ref().unwrap().verdict, Verdict::Advised);
    assert_eq!(drop.after.as_ref().unwrap().verdict, Verdict::Holds);

    // What was foretold is what comes.
    let edited = call(&bench.app, Edit { board, intent: size, have: None }).unwrap().view.whole().unwrap();
    assert_eq!(verdict(&edited, circuit, "volt-drop"), Verdict::Holds);
    let count = |verdict| edited.checks.iter().filter(|check| check.verdict == verdict).count() as u32;
    assert_eq!(weighed.after, Verdict::ALL.map(count));
    assert!(call(&bench.app, WhatIf { board, intents: vec![] }).unwrap_err().message.contains("1 to 200"));
}

#[test]
fn readings_to_take_next_name_the_field_and_what_to_do() {
    let bench = Bench::with_demo();
    let view = call(&bench.app, OpenBoard { board: bench.board("PH-DB1") }).unwrap();
    assert!((1..=5).contains(&view.readings.len()));
    for reading in &view.readings {
        assert!(reading.path.starts_with('/') && !reading.what.is_empty() && !reading.label.is_empty(), "{reading:?}");
    }
    assert!(view.readings.windows(2).all(|pair| pair[0].settles >= pair[1].settles));
}

#[test]
fn the_lines_are_evened_out_by_one_edit() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let found = call(&bench.app, Allocate { board, fixed: vec![], together: vec![], apart: vec![] }).unwrap();
    let amps = |text: &str| text.split_whitespace().next().unwrap().parse::<f64>().unwrap();
    assert!(amps(&found.after.largest.words()) <= amps(&found.before.largest.words()), "{found:?}");
    let intent = serde_json::from_value(found.intent.clone().expect("the demo's lines are uneven")).unwrap();
    assert!(!found.steps.is_empty());
    call(&bench.app, Edit { board, intent, have: None }).unwrap();
    let again = call(&bench.app, Allocate { board, fixed: vec![], together: vec![], apart: vec![] }).unwrap();
    assert_eq!(again.before.largest, found.after.largest);
    let single = bench.board("BR-DB3");
    let error =
        call(&bench.app, Allocate { board: single, fixed: vec![], together: vec![], apart: vec![] }).unwrap_err();
    assert!(error.message.contains("three-phase"), "{error}");
}

#[test]
fn the_smallest_cable_is_found_and_taken() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let (circuit, _) = yard_lighting(&view.board);
    let found = call(&bench.app, SizeCable { board, circuit }).unwrap();
    let (last, smaller) = found.tried.split_last().unwrap();
    assert_eq!(found.chosen.as_ref(), Some(&last.size), "{found:?}");
    assert!(last.verdict == Verdict::Holds && last.against.is_empty() && last.open.is_empty(), "{last:?}");
    assert!(smaller.iter().all(|row| row.verdict != Verdict::Holds), "{smaller:?}");
    for intent in found.intents {
        call(&bench.app, Edit { board, intent: serde_json::from_value(intent).unwrap(), have: None }).unwrap();
    }
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    assert_eq!(verdict(&view, circuit, "volt-drop"), Verdict::Holds);
}

#[test]
fn fault_currents_fall_from_the_board_to_the_ends() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let found = call(&bench.app, FaultCurrents { board }).unwrap();
    let [at_board, ends @ ..] = &found.rows[..] else { panic!("{found:?}") };
    assert_eq!(at_board.place.words(), "board", "nothing is known of the demo's origin");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    assert_eq!(ends.len(), view.board.live_circuits().count());
    let largest = |shown: &str| {
        let (number, scale) = match shown.strip_suffix("\u{a0}kA") {
            Some(number) => (number, 1000.0),
            None => (shown.strip_suffix("\u{a0}A")?, 1.0),
        };
        Some(number.rsplit(' ').next()?.parse::<f64>().ok()? * scale)
    };
    let most = largest(&at_board.line_neutral.words()).expect("the fault level of the demo was measured");
    let known: Vec<f64> = ends.iter().filter_map(|row| largest(&row.line_neutral.words())).collect();
    assert!(known.len() > 2 && known.iter().all(|end| *end < most), "{found:?}");
    // What is not known says what would tell.
    for row in ends {
        let blank = [&row.line_neutral, &row.line_earth].iter().any(|shown| shown.is_empty());
        assert!(!blank || !row.next.is_empty(), "{row:?}");
    }
}

#[test]
fn the_bands_of_a_circuit_are_drawn_with_the_device_upstream() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let (circuit, _) = yard_lighting(&view.board);
    let drawn = call(&bench.app, TimeCurrent { board, circuit }).unwrap();
    assert!(drawn.contains("100\u{a0}A fuse, upstream") || drawn.contains("100 A fuse, upstream"), "{drawn}");
    assert!(drawn.contains("breaker, of this circuit") && drawn.contains("<polygon"), "{drawn}");
    let none = "01900000-0000-7000-8000-000000000000".parse().unwrap();
    assert!(call(&bench.app, TimeCurrent { board, circuit: none }).unwrap_err().message.contains("no circuit"));
}
