//! Two stores, one site: edits made apart come together, and nothing is lost.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use api::{Edit, ExportSite, ImportBundle, ListSites, OpenBoard, Settle};
use serde_json::json;
use survey::intent::Intent;
use survey::{BoardId, Mark, MarkShape};
use waywright_tests::{Bench, call};

fn bundle(bench: &Bench) -> String {
    let site = call(&bench.app, ListSites {}).unwrap()[0].id;
    call(&bench.app, ExportSite { site, save: false }).unwrap().data.base64
}

fn set(bench: &Bench, board: BoardId, path: &str, value: serde_json::Value) {
    call(&bench.app, Edit { board, intent: Intent::Set { path: path.to_owned(), value }, have: None }).unwrap();
}

/// Both sides edit apart; files go both ways, twice. `first_to_left`: which way goes first.
fn exchange(first_to_left: bool) {
    let left = Bench::with_demo();
    let right = Bench::empty();
    call(&right.app, ImportBundle { base64: bundle(&left) }).unwrap();
    let board = left.board("PH-DB1");
    let view = call(&left.app, OpenBoard { board }).unwrap();
    let (photo, _) = view.board.photos.iter().next().unwrap();
    let circuits: Vec<_> = view.board.live_circuits().map(|(id, _)| id).collect();
    let (one, two) = (circuits[0], circuits[1]);

    set(&left, board, &format!("/circuits/{one}/description"), json!("Press, left"));
    set(&right, board, &format!("/circuits/{one}/number"), json!("R7"));
    set(&left, board, &format!("/circuits/{two}/tests/zs"), json!({"known": "measured", "value": "0.71 ohm"}));
    set(&right, board, &format!("/circuits/{two}/tests/zs"), json!({"known": "measured", "value": "0.78 ohm"}));
    set(&left, board, "/place", json!("East wall"));
    set(&right, board, "/place", json!("East wall"));
    let mark = |shape, text: &str| Mark {
        shape: Some(shape),
        points: vec![[0.2, 0.3], [0.5, 0.6]],
        text: text.to_owned(),
        ..Mark::default()
    };
    for (shape, text) in [(MarkShape::Arrow, ""), (MarkShape::Box, ""), (MarkShape::Text, "hot here")] {
        call(&left.app, Edit { board, intent: Intent::AddMark { photo: *photo, mark: mark(shape, text) }, have: None })
            .unwrap();
    }

    for _ in 0..2 {
        let (from_left, from_right) = (bundle(&left), bundle(&right));
        if first_to_left {
            call(&left.app, ImportBundle { base64: from_right }).unwrap();
            call(&right.app, ImportBundle { base64: from_left }).unwrap();
        } else {
            call(&right.app, ImportBundle { base64: from_left }).unwrap();
            call(&left.app, ImportBundle { base64: from_right }).unwrap();
        }
    }

    let (l, r) = (call(&left.app, OpenBoard { board }).unwrap(), call(&right.app, OpenBoard { board }).unwrap());
    assert_eq!(left.surveys(), right.surveys());
    assert_eq!(l.version, r.version);
    assert_eq!(
        (l.board.circuits[&one].description.as_str(), l.board.circuits[&one].number.as_str()),
        ("Press, left", "R7")
    );
    assert_eq!(l.conflicts.len(), 1, "{:#?}", l.conflicts);
    assert_eq!(l.conflicts, r.conflicts);
    let conflict = &l.conflicts[0];
    assert_eq!(conflict.path, format!("/circuits/{two}/tests/zs"));
    let shown: Vec<&str> = conflict.values.iter().map(|value| value.shown.as_str()).collect();
    assert!(
        shown.iter().any(|value| value.contains("0.71")) && shown.iter().any(|value| value.contains("0.78")),
        "{shown:?}"
    );

    let kept = &r.board.photos[photo];
    let texts: Vec<&str> = kept.marks.values().map(|mark| mark.text.as_str()).collect();
    assert_eq!(kept.marks.len(), 3);
    assert!(texts.contains(&"hot here"));
    let original = |bench: &Bench| {
        call(&bench.app, api::PhotoData { hash: kept.hash.clone(), size: api::PhotoSize::Original }).unwrap().base64
    };
    assert_eq!(original(&left), original(&right));

    // A person picks on one side; the other learns of it.
    let pick = conflict.values.iter().find(|value| value.shown.contains("0.78")).unwrap().pick.clone();
    let settled =
        call(&left.app, Settle { board, path: conflict.path.clone(), pick, have: None }).unwrap().view.whole().unwrap();
    assert!(settled.conflicts.is_empty() && settled.board.settled.len() == 1);
    call(&right.app, ImportBundle { base64: bundle(&left) }).unwrap();
    let told = call(&right.app, OpenBoard { board }).unwrap();
    assert!(told.conflicts.is_empty());
    assert_eq!(told.board, settled.board);
}

#[test]
fn files_both_ways_left_first() {
    exchange(true);
}

#[test]
fn files_both_ways_right_first() {
    exchange(false);
}

/// A survey file that is older than what was entered since: the newer values stay, and each is named.
#[test]
fn an_older_survey_file_replaces_nothing_in_silence() {
    let bench = Bench::with_demo();
    let board = bench.board("BL-DB2");
    let text = call(&bench.app, api::ExportSurvey { board }).unwrap();
    set(&bench, board, "/place", json!("West wall"));
    set(&bench, board, "/supply/ze", json!({"known": "measured", "value": "0.29 ohm"}));
    let before = call(&bench.app, OpenBoard { board }).unwrap();
    let taken = call(&bench.app, api::ImportSurvey { text: text.clone() }).unwrap();
    assert_eq!(taken.view.board, before.board);
    assert_eq!(taken.told.len(), 2, "{:?}", taken.told);
    assert!(taken.told[0].contains("West wall stays") && taken.told[1].contains("0.29"), "{:?}", taken.told);
    // A value that never stood here replaces what was entered, and that is said.
    let mut other: serde_json::Value = serde_json::from_str(&text).unwrap();
    other["board"]["place"] = json!("Roof");
    let taken = call(&bench.app, api::ImportSurvey { text: other.to_string() }).unwrap();
    assert_eq!(taken.view.board.place, "Roof");
    assert!(taken.told.iter().any(|line| line.contains("took the place of West wall")), "{:?}", taken.told);
    call(&bench.app, api::Undo { board, have: None }).unwrap();
    assert_eq!(call(&bench.app, OpenBoard { board }).unwrap().board, before.board);
}

/// One survey file brought in on two tablets, each at its own time and in its own role: what is then
/// worked on apart meets as edits.
#[test]
fn one_survey_file_on_two_tablets() {
    let from = Bench::with_demo();
    let board = from.board("BL-DB2");
    let text = call(&from.app, api::ExportSurvey { board }).unwrap();
    let (left, right) = (Bench::empty(), Bench::empty());
    call(&right.app, api::SetRole { role: "office".to_owned() }).unwrap();
    for bench in [&left, &right] {
        call(&bench.app, api::ImportSurvey { text: text.clone() }).unwrap();
    }
    let view = call(&left.app, OpenBoard { board }).unwrap();
    assert_eq!(view.version, call(&right.app, OpenBoard { board }).unwrap().version);
    let circuits: Vec<_> = view.board.live_circuits().map(|(id, _)| id).collect();
    let cable = view.board.circuits[&circuits[2]].cable.unwrap();
    for (index, circuit) in circuits.iter().enumerate() {
        set(&left, board, &format!("/circuits/{circuit}/description"), json!(format!("Left {index}")));
        set(&right, board, &format!("/circuits/{circuit}/number"), json!(format!("R{index}")));
    }
    // Three that clash: a field both wrote, a circuit removed while its cable was edited, and a reading.
    set(&left, board, "/place", json!("East wall"));
    set(&right, board, "/place", json!("West wall"));
    set(&left, board, "/supply/ze", json!({"known": "measured", "value": "0.21 ohm"}));
    set(&right, board, "/supply/ze", json!({"known": "measured", "value": "0.29 ohm"}));
    set(&right, board, &format!("/cables/{cable}/size"), json!({"known": "label", "value": "6 mm2"}));
    call(&left.app, Edit { board, intent: Intent::RemoveCircuit { circuit: circuits[2] }, have: None }).unwrap();
    for _ in 0..2 {
        call(&left.app, ImportBundle { base64: bundle(&right) }).unwrap();
        call(&right.app, ImportBundle { base64: bundle(&left) }).unwrap();
    }
    let (l, r) = (call(&left.app, OpenBoard { board }).unwrap(), call(&right.app, OpenBoard { board }).unwrap());
    assert_eq!((&l.version, &l.conflicts), (&r.version, &r.conflicts));
    let paths: Vec<&str> = l.conflicts.iter().map(|conflict| conflict.path.as_str()).collect();
    assert_eq!(paths, [&format!("/circuits/{}/removed", circuits[2]), "/place", "/supply/ze"]);
    // The circuit and the cable are both named.
    let label = &l.conflicts[0].label;
    assert!(label.starts_with("circuit ") && label.contains("cable size") && label.contains("removed"), "{label}");
    // The demo brought in on both is one history too.
    let (one, two) = (Bench::with_demo(), Bench::with_demo());
    let report = call(&one.app, ImportBundle { base64: bundle(&two) }).unwrap();
    assert_eq!((report.changes, report.photos, report.conflicts), (0, 0, 0));
}
