//! Malformed surveys: each is refused with the place named, and the store stays as it was.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use api::{ErrorKind, ImportSurvey, ListBoards};
use serde_json::{Value, json};
use waywright_tests::{Bench, call};

/// The press hall board as a value to spoil.
fn survey() -> Value {
    serde_json::from_str(include_str!("../../seed-data/demo/ph-db1.json")).unwrap()
}

/// Path of the record of a kind whose field has a value: "/board/devices/<id>".
fn record(survey: &Value, kind: &str, field: &str, value: &str) -> String {
    let records = survey["board"][kind].as_object().unwrap();
    let (id, _) = records.iter().find(|(_, record)| record[field] == value).unwrap();
    format!("/board/{kind}/{id}")
}

/// The same survey with one value put at a pointer.
fn with(pointer: &str, value: Value) -> String {
    let mut survey = survey();
    let (parent, last) = pointer.rsplit_once('/').unwrap();
    survey.pointer_mut(parent).unwrap().as_object_mut().unwrap().insert(last.to_owned(), value);
    survey.to_string()
}

fn reading(value: &str) -> Value {
    json!({ "known": "label", "value": value })
}

/// Text, and what the first problem's place must contain.
fn cases() -> Vec<(&'static str, String, String)> {
    let good = survey();
    let device = record(&good, "devices", "at", "3L2");
    let press = record(&good, "devices", "at", "1L1");
    let circuit = record(&good, "circuits", "description", "Yard lighting");
    let cable = format!("/board/cables/{}", good.pointer(&format!("{circuit}/cable")).unwrap().as_str().unwrap());
    let plate = record(&good, "plates", "face", "top");
    let entry = {
        let entries = good.pointer(&format!("{plate}/entries")).unwrap().as_object().unwrap();
        format!("{plate}/entries/{}", entries.keys().next().unwrap())
    };
    let text = good.to_string();
    let at = |name: &'static str, pointer: String, value: Value| (name, with(&pointer, value), pointer);
    let anywhere = |name: &'static str, text: String, place: &str| (name, text, place.to_owned());
    vec![
        at("wrong unit", format!("{cable}/size"), reading("2.5 m")),
        at("unknown unit", format!("{cable}/length"), reading("80 yd")),
        at("no unit", format!("{cable}/length"), reading("80")),
        at("number instead of quantity", format!("{cable}/length"), json!({"known": "label", "value": 80})),
        at("negative size", format!("{cable}/size"), reading("-2.5 mm2")),
        at("NaN", format!("{cable}/size"), reading("NaN mm2")),
        at("infinite", format!("{cable}/length"), reading("inf m")),
        at("beyond every number", format!("{cable}/length"), reading("1e999 m")),
        at(
            "negative tolerance",
            format!("{cable}/length"),
            json!({"known": "measured", "value": "8 m", "tolerance": "-1 m"}),
        ),
        at(
            "bounds the wrong way round",
            format!("{cable}/length"),
            json!({"known": "assumed", "between": ["9 m", "3 m"]}),
        ),
        at("unknown with a value", format!("{cable}/length"), json!({"known": "unknown", "value": "8 m"})),
        at("measured without a value", format!("{cable}/length"), json!({"known": "measured"})),
        at("no cores", format!("{cable}/cores"), json!({"known": "label", "value": 0})),
        at("too many cores for a byte", format!("{cable}/cores"), json!({"known": "label", "value": 900})),
        at("unknown pole", format!("{device}/at"), json!("3L4")),
        at("neutral as a pole", format!("{device}/at"), json!("3N")),
        at("way 9 of an 8-way", format!("{device}/at"), json!("9L1")),
        at("way 0", format!("{device}/at"), json!("0L1")),
        at("single-phase pole on a three-phase board", format!("{device}/at"), json!("3")),
        ("two devices on one pole", with(&format!("{device}/at"), json!("1L2")), "/at".to_owned()),
        at("three-pole device off its way", format!("{press}/at"), json!("1L2")),
        at("unknown kind", format!("{device}/kind"), json!("Contactor")),
        at("unknown field", format!("{device}/colour"), json!("red")),
        at("text where a record belongs", format!("{circuit}/load"), json!("heavy")),
        at("no such device", format!("{circuit}/device"), json!("01900000-0000-7000-8000-000000000000")),
        at("an id that is none", format!("{circuit}/cable"), json!("cable 7")),
        at("terminal that is not there", format!("{circuit}/earth_terminals"), json!(["9E9"])),
        at("power factor above 1", format!("{circuit}/load/power_factor"), reading("1.4")),
        at("hole of zero", format!("{entry}/hole"), json!("0 mm")),
        at("place beyond all plates", format!("{entry}/at"), json!([1e9, 3.0])),
        at("plate of no size", format!("{plate}/width"), reading("0 mm")),
        anywhere("nothing", String::new(), "line"),
        anywhere("not JSON", "board: PH-DB1".to_owned(), "line 1"),
        anywhere("truncated", text[..text.len() / 2].to_owned(), "line"),
        anywhere("deep nesting", format!("{{\"board\":{}", "[".repeat(200_000)), "line"),
        anywhere("another format", with("/format", json!("survey-of-mine")), "/format"),
        anywhere("a newer version", with("/version", json!(99)), "/version"),
        anywhere("a key twice", text.replacen("\"version\":1", "\"version\":1,\"version\":1", 1), "line"),
        anywhere("larger than any survey", " ".repeat(200 * 1024 * 1024), "/"),
    ]
}

#[test]
fn each_is_refused_by_place_and_changes_nothing() {
    let bench = Bench::with_demo();
    let list = |bench: &Bench| call(&bench.app, ListBoards { query: String::new(), limit: 100 }).unwrap();
    let before = (list(&bench), bench.surveys());
    let cases = cases();
    assert!(cases.len() >= 30);
    for (name, text, place) in cases {
        let error = call(&bench.app, ImportSurvey { text }).expect_err(name);
        assert_eq!(error.kind, ErrorKind::Refused, "{name}: {error:?}");
        assert!(
            error.problems.iter().any(|problem| problem.path.contains(&place)),
            "{name}: no problem names {place}: {:#?}",
            error.problems
        );
        for problem in &error.problems {
            assert!(!problem.message.is_empty() && !problem.remedy.is_empty(), "{name}: {problem:?}");
            assert!(problem.to_string().len() < 800, "{name}: too long to read");
        }
    }
    assert_eq!((list(&bench), bench.surveys()), before);
}

#[test]
fn calls_that_make_no_sense_are_answered() {
    let bench = Bench::with_demo();
    let before = bench.surveys();
    for (name, body) in [
        ("no_such_call", json!({})),
        ("edit", json!(null)),
        ("edit", json!({"board": "x", "intent": {}})),
        ("open_board", json!({"board": "01900000-0000-7000-8000-000000000000"})),
        ("import_bundle", json!({"base64": "UEsDBA=="})),
        ("import_bundle", json!({"base64": "!"})),
        ("add_patterns", json!({"toml": "[[pattern]]\nkey = 1"})),
        ("set_role", json!({"role": "\u{0}"})),
        ("photo_data", json!({"hash": "../../etc", "size": "original"})),
        ("preview_paper", json!({"board": "01900000-0000-7000-8000-000000000000", "paper": "circuit-chart"})),
    ] {
        let error = bench.app.answer(&bench.app.local_caller(), name, body.clone()).expect_err(name);
        assert!(error["message"].as_str().is_some_and(|message| !message.is_empty()), "{name} {body}: {error}");
    }
    assert_eq!(bench.surveys(), before);
}
