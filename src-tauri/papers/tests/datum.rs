//! A survey file written to the published schema is drilled right whichever corner the dimensions run from.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use common::with;
use papers::{Format, Kind, write};
use serde_json::{Value, json};
use survey::{Board, Corner, EntryId, PlateId, file};
use uuid::Uuid;

const PLATE: PlateId = PlateId(Uuid::from_u128(3));
const DEEP: EntryId = EntryId(Uuid::from_u128(10));
const NEAR: EntryId = EntryId(Uuid::from_u128(11));

/// A plate of 300 mm by 100 mm with two holes, as somebody would write it who has only the schema: places from the
/// left rear corner, and the corner that the dimensions shall run from.
fn survey_file(datum: Corner) -> String {
    let mm = |value: u32| json!({ "known": "measured", "value": format!("{value} mm") });
    let hole = |at: [u32; 2], hole: &str| json!({ "kind": "CompressionGland", "size": "M20", "at": at, "hole": hole });
    json!({
        "format": "waywright-survey",
        "version": 1,
        "board": {
            "model": 1,
            "id": Uuid::from_u128(1),
            "site": Uuid::from_u128(2),
            "reference": "T-DB1",
            "plates": { PLATE.to_string(): {
                "face": "bottom",
                "width": mm(300),
                "depth": mm(100),
                "thickness": { "known": "measured", "value": "1.5 mm" },
                "datum": datum.key(),
                "usable": [10, 10, 280, 80],
                "entries": {
                    DEEP.to_string(): hole([60, 40], "20 mm"),
                    NEAR.to_string(): hole([210, 75], "25 mm"),
                },
            } },
        },
    })
    .to_string()
}

fn paper(board: &Board, format: Format) -> String {
    with(board, |input| String::from_utf8(write(input, Kind::DrillingTemplate(PLATE), format).unwrap().bytes).unwrap())
}

/// Centre and diameter of every circle to be cut, from the drawing file's left rear origin: to the right, to the front.
fn circles(dxf: &str) -> Vec<[f64; 3]> {
    let lines: Vec<&str> = dxf.lines().map(str::trim).collect();
    let pairs: Vec<(&str, &str)> = lines.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect();
    let number = |text: &str| text.parse::<f64>().unwrap();
    pairs
        .windows(7)
        .filter(|all| all[0] == ("0", "CIRCLE") && all[1] == ("8", "HOLES"))
        .map(|all| {
            let of = |code| all.iter().find(|(other, _)| *other == code).map(|(_, value)| number(value)).unwrap();
            [of("10"), -of("20"), 2.0 * of("40")]
        })
        .collect()
}

#[test]
fn a_file_written_to_the_schema_is_drilled_at_the_same_places_from_every_corner() {
    // What a rule held to each corner reads: across, then along.
    let read = [
        (Corner::LeftRear, [[60.0, 40.0], [210.0, 75.0]]),
        (Corner::RightRear, [[240.0, 40.0], [90.0, 75.0]]),
        (Corner::LeftFront, [[60.0, 60.0], [210.0, 25.0]]),
        (Corner::RightFront, [[240.0, 60.0], [90.0, 25.0]]),
    ];
    let mut pictures = Vec::new();
    for (datum, from_corner) in read {
        let board = file::read(&survey_file(datum)).unwrap().board;
        let set = plate::setting_out(&board, PLATE, plate::Tables::shipped()).unwrap();
        assert_eq!(set.datum, datum);
        let dimensions: Vec<[f64; 2]> = set.dimensions(set.datum).centres.iter().map(|(_, at)| at.0).collect();
        assert_eq!(dimensions, from_corner, "{datum:?}");
        assert_eq!(circles(&paper(&board, Format::Dxf)), [[60.0, 40.0, 20.0], [210.0, 75.0, 25.0]], "{datum:?}");
        pictures.push(paper(&board, Format::Svg));
        // What is said of a place counts as the file does, and says so.
        let checks = plate::check_plate(&board, PLATE, plate::Tables::shipped());
        let told = serde_json::to_string(&checks).unwrap();
        assert!(!told.contains("datum"), "{told}");
    }
    assert!(pictures.iter().all(|svg| *svg == pictures[0]), "the drawing shows another plate");
}

#[test]
fn no_place_in_the_schema_counts_from_the_datum_corner() {
    fn texts(value: &Value, all: &mut Vec<String>) {
        match value {
            Value::Object(object) => {
                all.extend(object.get("description").and_then(Value::as_str).map(str::to_owned));
                object.values().for_each(|inner| texts(inner, all));
            }
            Value::Array(items) => items.iter().for_each(|inner| texts(inner, all)),
            _ => {}
        }
    }
    let schema = file::schema();
    let published: Value = serde_json::from_str(include_str!("../../../seed-data/survey.schema.json")).unwrap();
    assert_eq!(published, schema, "the published schema is the one of the types");
    let mut all = Vec::new();
    texts(&schema, &mut all);
    assert!(!all.iter().any(|text| text.contains("from the datum")), "{all:#?}");
    let at = schema["$defs"]["Entry"]["properties"]["at"]["description"].as_str().unwrap();
    assert!(at.contains("left rear corner") && at.contains("datum corner does not change it"), "{at}");
}
