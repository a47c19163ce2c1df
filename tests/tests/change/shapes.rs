//! What a reply is made of, call by call, against what it was made of before: a change of the contract shows in one file.

use std::collections::{BTreeMap, BTreeSet};

use api::NAMES;
use serde_json::{Value, json};
use waywright_tests::Bench;

/// The file of shapes: written anew with `UPDATE_GOLDEN=1`.
const GOLDEN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/change/replies.txt");

/// Calls that the demo does not make here, each with where its reply is held.
const ELSEWHERE: [(&str, &str); 9] = [
    ("mark_read", "the reply of `about`"),
    ("check_store", "store/tests/suite.rs"),
    ("settle", "the reply of `edit`"),
    ("add_patterns", "the reply of `list_patterns`"),
    ("take_tables", "the reply of `list_tables`"),
    ("put_back_tables", "the reply of `list_tables`"),
    ("add_photo", "the reply of `edit`"),
    ("measure_photo", "tests/plate.rs: wants a photo of a plate"),
    ("import_bundle", "tests/exchange.rs: the bundle crosses as bytes"),
];

/// All of a board as a screen gets it, and the board in it.
const VIEW: &str = "a view of a board:";
const BOARD: &str = "a view of a board: board";

#[derive(Default)]
struct Shapes(BTreeMap<String, BTreeSet<&'static str>>);

impl Shapes {
    /// Notes what stands at a path and below it.
    fn note(&mut self, path: &str, value: &Value) {
        let kind = match value {
            Value::Null => "nothing",
            Value::Bool(_) => "yes or no",
            Value::Number(_) => "number",
            Value::String(_) => "text",
            Value::Array(_) => "list",
            Value::Object(_) => "record",
        };
        let view = ["state", "board", "checks"].iter().all(|part| value.get(part).is_some()) && path != VIEW;
        self.0.entry(path.to_owned()).or_default().insert(if view { "a view of a board" } else { kind });
        match value {
            Value::Object(_) if view => self.note(VIEW, value),
            // The survey has a schema of its own.
            Value::Object(_) if path == BOARD => {}
            Value::Object(fields) => {
                for (key, value) in fields {
                    // A map by ids, paths or names of messages, not a record.
                    let key = if key.contains(['-', '/', ' ']) { "*" } else { key };
                    let dot = if path.ends_with(':') { " " } else { "." };
                    self.note(&format!("{path}{dot}{key}"), value);
                }
            }
            Value::Array(items) => items.iter().for_each(|item| self.note(&format!("{path}[]"), item)),
            _ => {}
        }
    }

    /// Makes a call and notes its reply, or how it is refused; returns what came.
    fn call(&mut self, bench: &Bench, name: &str, request: &Value) -> Value {
        match bench.app.answer(&bench.app.local_caller(), name, request.clone()) {
            Ok(reply) => {
                let reply = serde_json::from_str(&reply).unwrap();
                self.note(&format!("{name}:"), &reply);
                reply
            }
            Err(error) => {
                assert_ne!(error["kind"], "bad_request", "{name}: {error}");
                self.note("a refusal:", &error);
                error
            }
        }
    }

    fn written(&self) -> String {
        let line = |(path, kinds): (&String, &BTreeSet<&str>)| {
            format!("{path} = {}\n", kinds.iter().copied().collect::<Vec<_>>().join(" | "))
        };
        self.0.iter().map(line).collect()
    }
}

/// Ids of records of a board.
fn ids(board: &Value, records: &str) -> Vec<String> {
    board[records].as_object().unwrap().keys().cloned().collect()
}

#[test]
fn replies_are_made_of_what_they_were_made_of() {
    let bench = Bench::with_demo();
    let mut shapes = Shapes::default();
    for name in ["about", "words", "list_sites", "list_patterns", "list_tables"] {
        shapes.call(&bench, name, &json!({}));
    }
    let site = shapes.call(&bench, "create_site", &json!({ "name": "Weir House" }))["id"].clone();
    let new = json!({ "site": site, "reference": "W1", "place": "", "pattern": null, "new": true });
    shapes.call(&bench, "create_board", &new);
    shapes.call(&bench, "list_boards", &json!({ "query": "", "limit": 10 }));
    shapes.call(&bench, "set_role", &json!({ "role": "office" }));
    shapes.call(&bench, "table_text", &json!({ "table": "armour_area" }));
    for reference in ["PH-DB1", "BL-DB2", "BR-DB3"] {
        let board = bench.board(reference);
        let view = shapes.call(&bench, "open_board", &json!({ "board": board }));
        for name in ["fault_currents", "list_papers", "export_survey"] {
            shapes.call(&bench, name, &json!({ "board": board }));
        }
        shapes.call(&bench, "allocate", &json!({ "board": board, "fixed": [], "together": [], "apart": [] }));
        let (cable, circuits) = (&ids(&view["board"], "cables")[0], ids(&view["board"], "circuits"));
        let length = json!({ "known": "measured", "value": "93 m", "instrument": "tape" });
        let intent = json!({ "set": { "path": format!("/cables/{cable}/length"), "value": length } });
        shapes.call(&bench, "what_if", &json!({ "board": board, "intents": [intent] }));
        let mut have = view["state"].clone();
        for (name, with) in [("edit", true), ("undo", true), ("redo", true), ("undo", false)] {
            let mut request = json!({ "board": board, "have": if with { have } else { Value::Null } });
            if name == "edit" {
                request["intent"] = intent.clone();
            }
            let reply = shapes.call(&bench, name, &request);
            have = reply["view"]["changed"]["state"].clone();
        }
        for circuit in &circuits {
            let of = json!({ "board": board, "circuit": circuit });
            shapes.call(&bench, "size_cable", &of);
            shapes.call(&bench, "time_current", &of);
        }
        for plate in ids(&view["board"], "plates") {
            let of = json!({ "board": board, "plate": plate });
            let with = |more: Value| {
                let mut request = of.clone();
                request.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
                request
            };
            shapes.call(&bench, "next_place", &with(json!({ "kind": "CompressionGland", "size": "M20" })));
            shapes.call(&bench, "entries_for_cables", &of);
            let set_out = with(json!({ "spares": [], "keep_placed": false }));
            shapes.call(&bench, "set_out_plate", &set_out);
            for entry in ids(&view["board"]["plates"][plate.as_str()], "entries").iter().take(2) {
                shapes.call(&bench, "drag_entry", &with(json!({ "entry": entry, "to": [50.0, 50.0] })));
            }
        }
        for photo in view["board"]["photos"].as_object().unwrap().values() {
            shapes.call(&bench, "photo_data", &json!({ "hash": photo["hash"], "size": "thumbnail" }));
        }
        let paper = |format: &str| json!({ "board": board, "paper": "order-list", "format": format, "save": false });
        shapes.call(&bench, "write_paper", &paper("csv"));
        shapes.call(&bench, "write_paper", &paper("docx"));
        shapes.call(
            &bench,
            "edit",
            &json!({ "board": board, "have": null, "intent": { "set": {
            "path": format!("/cables/{cable}/length"), "value": { "known": "measured", "value": "-3 m" } } } }),
        );
    }
    let board = bench.board("BR-DB3");
    shapes.call(&bench, "preview_paper", &json!({ "board": board, "paper": "circuit-chart" }));
    let text = shapes.call(&bench, "export_survey", &json!({ "board": board }));
    shapes.call(&bench, "import_survey", &json!({ "text": text }));
    let site = shapes.call(&bench, "list_sites", &json!({}))[0]["id"].clone();
    shapes.call(&bench, "export_site", &json!({ "site": site, "save": true }));
    let made = |name: &&&str| !shapes.0.contains_key(&format!("{name}:"));
    let missing: Vec<&&str> = NAMES.iter().filter(made).collect();
    let written = shapes.written();
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(GOLDEN, &written).unwrap();
    }
    let before = std::fs::read_to_string(GOLDEN).unwrap();
    let (new, old): (BTreeSet<&str>, BTreeSet<&str>) = (written.lines().collect(), before.lines().collect());
    let gone: Vec<&&str> = old.difference(&new).collect();
    let added: Vec<&&str> = new.difference(&old).collect();
    assert!(gone.is_empty() && added.is_empty(), "no longer there: {gone:#?}\nnew: {added:#?}");
    let elsewhere: Vec<&str> = ELSEWHERE.iter().map(|(name, _)| *name).collect();
    assert_eq!(missing.into_iter().copied().collect::<Vec<_>>(), elsewhere);
}
