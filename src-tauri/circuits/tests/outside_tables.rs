//! Rows of the tables that are marked "derived", worked out again by `table_rows.py` from rows that
//! were read and from the heat balance of a cable.
#![allow(clippy::unwrap_used)]

#[path = "common/cases.rs"]
mod cases;
mod common;

use circuits::TableTexts;
use serde_json::{Map, Value, json};

/// Every row of a CSV text as an object, with its table and line.
fn rows(table: &str, text: &str) -> Vec<Value> {
    let lines = text.lines().enumerate().filter(|(_, line)| !line.starts_with('#') && !line.is_empty());
    let mut lines = lines.map(|(index, line)| (index + 1, line.split(',').collect::<Vec<_>>()));
    let (_, header) = lines.next().unwrap();
    let row = |fields: &[&str]| -> Map<String, Value> {
        assert_eq!(fields.len(), header.len(), "{table}: {fields:?}");
        header.iter().zip(fields).map(|(name, field)| ((*name).to_owned(), Value::from(*field))).collect()
    };
    lines.map(|(line, fields)| json!({ "table": table, "line": line, "row": row(&fields) })).collect()
}

/// Each derived row is met within the residual that it states, never more than 5 %, and the heat
/// balance meets the capacities that were read about as well.
#[test]
fn derived_rows_follow_from_others_within_their_residual() {
    let shipped = TableTexts::shipped();
    let mut texts: Vec<(&str, &str)> =
        TableTexts::NAMES.iter().map(|name| (*name, shipped.text(name).unwrap())).collect();
    texts.push(("conduit_terms", include_str!("../../../seed-data/plate/conduit_terms.csv")));
    let mut sent = Vec::new();
    let mut marked = 0;
    for (name, text) in texts {
        let derived = text.lines().filter(|line| line.ends_with(",derived")).count();
        marked += derived;
        if derived > 0 {
            sent.extend(rows(name, text));
        }
    }
    let report = cases::compare("table_rows.py", &sent);
    println!("{report}");
    let found: u64 = report["derived"].as_object().unwrap().values().map(|count| count.as_u64().unwrap()).sum();
    assert_eq!(found, marked as u64, "{report}");
    for (method, percent) in report["against_read"].as_object().unwrap() {
        assert!(percent.as_f64().unwrap() <= 5.0, "{method}: {report}");
    }
}
