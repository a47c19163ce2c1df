//! The papers of the demo boards, written by the app and measured by libraries from outside.
//!
//! What is expected comes from the survey files and from the clearance holes of the thread tables
//! (thread + 0.2 to + 0.5 mm, `seed-data/plate/gland_thread.csv`) with the punch that lies in each
//! range; nothing is asked of the program that is measured.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use api::{ListPapers, WritePaper};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};
use waywright_tests::{Bench, call};

/// Punched hole of each thread size used in the demo.
fn hole(size: &str) -> f64 {
    match size.trim_start_matches('M').trim_end_matches('S') {
        "20" => 20.4,
        "25" => 25.4,
        "32" => 32.5,
        other => panic!("no size {other} in the demo"),
    }
}

fn live(records: &Value) -> impl Iterator<Item = (&String, &Value)> {
    records.as_object().unwrap().iter().filter(|(_, record)| record["removed"] != true)
}

fn expected(survey: &Value, files: &BTreeMap<String, String>) -> Value {
    let board = &survey["board"];
    let circuits: Vec<Value> = live(&board["circuits"])
        .map(|(_, circuit)| {
            let device = &board["devices"][circuit["device"].as_str().unwrap()];
            let number = circuit["number"].as_str().filter(|number| !number.is_empty());
            json!({ "number": number.unwrap_or(device["at"].as_str().unwrap()), "words": circuit["description"] })
        })
        .collect();
    let length = |value: &Value| -> f64 { value["value"].as_str().unwrap().trim_end_matches(" mm").parse().unwrap() };
    let templates: Vec<Value> = live(&board["plates"])
        .flat_map(|(id, plate)| {
            let entries: Vec<Value> = plate["entries"]
                .as_object()
                .unwrap()
                .values()
                .enumerate()
                .map(|(index, entry)| {
                    json!({
                        "label": format!("E{}", index + 1),
                        "x": entry["at"][0], "y": entry["at"][1],
                        "diameter": hole(entry["size"].as_str().unwrap()),
                        "existing": entry["existing"],
                    })
                })
                .collect();
            let name = files[&format!("drilling-template:{id}")].trim_end_matches(".pdf");
            let (width, depth) = (length(&plate["width"]), length(&plate["depth"]));
            let plain = json!({ "name": name, "width": width, "depth": depth, "entries": entries });
            // ISO 216.
            let a3 = json!([297.0, 420.0]);
            let variant = |key: &str, paper: &Value, mirrored: bool| {
                let mut one = plain.clone();
                one["name"] = json!(files[&format!("drilling-template-{key}:{id}")].trim_end_matches(".pdf"));
                one["pdf_only"] = json!(true);
                one["paper"] = paper.clone();
                one["mirrored"] = json!(mirrored);
                for entry in one["entries"].as_array_mut().unwrap().iter_mut().filter(|_| mirrored) {
                    let x = entry["x"].as_f64().unwrap();
                    entry["table_x"] = json!(x);
                    entry["x"] = json!(width - x);
                }
                one
            };
            let a4 = json!([210.0, 297.0]);
            [
                variant("a3", &a3, false),
                variant("mirrored", &a4, true),
                variant("a3-mirrored", &a3, true),
                plain.clone(),
            ]
        })
        .collect();
    json!({
        "charts": [{ "file": files["circuit-chart"], "circuits": circuits }],
        "templates": templates,
        "orders": [{ "name": files["order-list"].trim_end_matches(".pdf"), "lines": {} }],
    })
}

#[test]
fn outside_libraries_find_every_circuit_hole_and_line() {
    let python = std::env::var_os("WAYWRIGHT_PYTHON").unwrap_or_else(|| "python3".into());
    let bench = Bench::with_demo();
    for text in [
        include_str!("../../seed-data/demo/ph-db1.json"),
        include_str!("../../seed-data/demo/bl-db2.json"),
        include_str!("../../seed-data/demo/br-db3.json"),
    ] {
        let survey: Value = serde_json::from_str(text).unwrap();
        let board = survey["board"]["id"].as_str().unwrap().parse().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let mut files = BTreeMap::new();
        for paper in call(&bench.app, ListPapers { board }).unwrap() {
            assert!(paper.cautions[0].contains("lock off"), "{}: {:?}", paper.name, paper.cautions);
            for format in paper.formats {
                let written = call(
                    &bench.app,
                    WritePaper { board, paper: paper.key.clone(), format: format.clone(), save: true },
                )
                .unwrap();
                let bytes = STANDARD.decode(&written.data.base64).unwrap();
                // A picture of a page and a packed sheet are read by the outside libraries.
                if ["dxf", "svg", "csv"].contains(&format.as_str()) {
                    let text = String::from_utf8(bytes.clone()).unwrap();
                    assert!(text.contains("Isolate, lock off and prove dead"), "{}", written.name);
                }
                assert_eq!(std::fs::read(written.saved.unwrap()).unwrap(), bytes);
                std::fs::write(folder.path().join(&written.name), bytes).unwrap();
                if format == "pdf" {
                    files.insert(paper.key.clone(), written.name);
                }
            }
        }
        let wanted = folder.path().join("expected.json");
        std::fs::write(&wanted, expected(&survey, &files).to_string()).unwrap();
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("outside/papers.py");
        let run = Command::new(&python).arg(script).arg(folder.path()).arg(&wanted).output().unwrap();
        let told = format!("{}{}", String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
        assert!(run.status.success(), "{}: {told}", survey["board"]["reference"]);
    }
}
