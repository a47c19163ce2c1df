//! Records as rows of a table: columns from the catalogue of fields, cells as a person reads them.

use serde::Serialize;
use serde_json::Value;

use crate::board::{Board, Cable, Circuit, Device, Entry, Plate};
use crate::field::{Field, Holds};
use crate::message::Message;
use crate::words;

/// A column: a field, or how it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// What a person calls it.
    pub label: Message,
    /// The unit of its numbers; empty without one.
    pub unit: &'static str,
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing is known.
    Empty,
    /// A number in the column's unit.
    Number(f64),
    /// Words: a choice, a name, a range.
    Text(String),
}

/// A table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its columns: those in which something stands.
    pub columns: Vec<Column>,
    /// Its rows, each as long as the columns.
    pub rows: Vec<Vec<Cell>>,
}

/// Every circuit that is not removed with its device, its cable and its readings, in the order of the poles.
#[must_use]
pub fn circuits(board: &Board) -> Table {
    let mut circuits: Vec<_> = board.live_circuits().map(|(_, circuit)| circuit).collect();
    circuits.sort_by_key(|circuit| {
        board.device_of(circuit).and_then(|(_, device)| device.at).map_or((1, None), |at| (0, Some(at)))
    });
    let rows: Vec<Vec<Value>> = circuits
        .into_iter()
        .map(|circuit| {
            let device = board.device_of(circuit).map(|(_, device)| json(device)).unwrap_or_default();
            let cable = board.cable_of(circuit).map(|(_, cable)| json(cable)).unwrap_or_default();
            vec![json(circuit), device, cable]
        })
        .collect();
    table(&[Circuit::FIELDS, Device::FIELDS, Cable::FIELDS], &rows)
}

/// Every entry that is not removed, with its plate.
#[must_use]
pub fn entries(board: &Board) -> Table {
    let mut rows = Vec::new();
    for (_, plate) in board.live_plates() {
        let numbers = plate.entry_numbers();
        let mut live: Vec<_> = plate.entries.iter().filter(|(_, entry)| !entry.removed).collect();
        live.sort_by_key(|(id, _)| numbers.get(id));
        for (id, entry) in live {
            let mut entry = json(entry);
            entry["number"] = json(&numbers.get(id));
            rows.push(vec![entry, json(plate)]);
        }
    }
    table(&[Entry::FIELDS, Plate::FIELDS], &rows)
}

/// The board itself: each field of supply, incomer, surroundings and enclosure with what stands there.
#[must_use]
pub fn board(board: &Board) -> Vec<(Column, Cell, Cell)> {
    let value = json(board);
    let mut all = Vec::new();
    leaves(Board::FIELDS, "", &mut all);
    all.into_iter()
        .filter_map(|(path, field)| {
            let stored = value.pointer(&path)?;
            let cell = cell(field, stored);
            (cell != Cell::Empty).then(|| (column(field), cell, known(stored)))
        })
        .collect()
}

fn json(value: &impl Serialize) -> Value {
    serde_json::to_value(value).unwrap_or_default()
}

/// The fields that a cell can hold, with their paths; records by ids are tables of their own.
fn leaves(fields: &'static [Field], path: &str, out: &mut Vec<(String, &'static Field)>) {
    for field in fields {
        let path = format!("{path}/{}", field.name);
        match field.holds {
            Holds::Record(inner) => leaves(inner(), &path, out),
            Holds::Records(_) => {}
            // The enclosure is told by its name; ids and pictures' marks say nothing to a person.
            Holds::Own if field.name != "at" => {}
            _ if field.name == "removed" => {}
            _ => out.push((path, field)),
        }
    }
}

fn table(records: &[&'static [Field]], rows: &[Vec<Value>]) -> Table {
    let mut table = Table { columns: Vec::new(), rows: vec![Vec::new(); rows.len()] };
    for (at, fields) in records.iter().enumerate() {
        let mut all = Vec::new();
        leaves(fields, "", &mut all);
        for (path, field) in all {
            let stored =
                |row: &Vec<Value>| row.get(at).and_then(|record| record.pointer(&path)).cloned().unwrap_or_default();
            let values: Vec<Value> = rows.iter().map(stored).collect();
            let cells: Vec<Cell> = values.iter().map(|value| cell(field, value)).collect();
            if cells.iter().all(|cell| *cell == Cell::Empty) {
                continue;
            }
            table.columns.push(column(field));
            for (row, cell) in table.rows.iter_mut().zip(cells) {
                row.push(cell);
            }
            if field.surveyed {
                table
                    .columns
                    .push(Column { label: crate::say!("table-known", field = Message::bare(field.label)), unit: "" });
                for (row, value) in table.rows.iter_mut().zip(&values) {
                    row.push(known(value));
                }
            }
        }
    }
    table
}

fn column(field: &'static Field) -> Column {
    let unit = match (field.unit, field.holds) {
        (Some("Mohm"), _) => "MΩ",
        (Some(unit), _) => unit,
        (None, _) => field.symbol(),
    };
    Column { label: Message::bare(field.label), unit }
}

/// What stands in a field, in the unit of its column.
fn cell(field: &Field, stored: &Value) -> Cell {
    let value = if field.surveyed { &stored["value"] } else { stored };
    match field.holds {
        Holds::Quantity { units, .. } => {
            let number = |value: &Value| in_unit(value, units, field.unit);
            if let Some([lo, hi]) = stored["between"].as_array().map(Vec::as_slice) {
                return match (number(lo), number(hi)) {
                    (Some(lo), Some(hi)) => Cell::Text(format!("{lo}{}{hi}", words::between())),
                    _ => Cell::Empty,
                };
            }
            match (number(value), number(&stored["tolerance"])) {
                (Some(number), Some(tolerance)) => Cell::Text(format!("{number} ± {tolerance}")),
                (Some(number), None) => Cell::Number(number),
                (None, _) => Cell::Empty,
            }
        }
        Holds::Choice(choices) => {
            let words = |key: &str| choices().into_iter().find(|(known, _)| *known == key).map(|(_, words)| words);
            value.as_str().and_then(words).map_or(Cell::Empty, |words| Cell::Text(words.to_string()))
        }
        _ => match value {
            Value::Number(number) => number.as_f64().map_or(Cell::Empty, Cell::Number),
            Value::Bool(true) => Cell::Text(crate::board::YesNo::Yes.words().to_string()),
            Value::String(text) if !text.is_empty() => Cell::Text(text.clone()),
            _ => Cell::Empty,
        },
    }
}

fn known(stored: &Value) -> Cell {
    let known = serde_json::from_value::<crate::known::Known>(stored["known"].clone()).unwrap_or_default();
    if known == crate::known::Known::Unknown { Cell::Empty } else { Cell::Text(known.words().to_string()) }
}

/// "6000 A" as 6, where the column is in kiloamperes. The factors are powers of ten: fifteen digits hide their noise.
fn in_unit(value: &Value, units: &[(&str, f64)], shown: Option<&str>) -> Option<f64> {
    let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let (number, unit) = text.split_once(' ').unwrap_or((&text, ""));
    let factor = |name: &str| units.iter().find(|(known, _)| *known == name).map(|(_, factor)| *factor);
    let number = number.parse::<f64>().ok()? * factor(unit)? / shown.map_or(Some(1.0), factor)?;
    format!("{number:.14e}").parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::Poles;
    use crate::known::{Known, Provenance, Reading};
    use crate::units::Amps;
    use crate::validate::tests::{board_with, put};

    #[test]
    fn circuits_stand_in_the_order_of_the_poles_with_numbers_in_the_unit_of_the_column() {
        let mut board = board_with("three-phase-8");
        let late = put(&mut board, "5L1", Poles::P1);
        let early = put(&mut board, "2L1", Poles::P3);
        for (id, name) in [(late, "late"), (early, "early")] {
            board.circuits.get_mut(&id).unwrap().description = name.to_owned();
        }
        let device = board.circuits[&early].device.unwrap();
        let device = board.devices.get_mut(&device).unwrap();
        device.breaking = Reading::of(Amps::new(6000.0), Provenance::new(Known::Label));
        device.rated = Reading::between(Amps::new(16.0), Amps::new(20.0), Provenance::new(Known::Stated));
        let table = circuits(&board);
        let at = |label: &str| table.columns.iter().position(|column| column.label.id() == Some(label)).unwrap();
        assert_eq!(
            table.rows.iter().map(|row| row[at("Circuit-description")].clone()).collect::<Vec<_>>(),
            [Cell::Text("early".into()), Cell::Text("late".into())]
        );
        let breaking = at("Device-breaking");
        assert_eq!((table.columns[breaking].unit, &table.rows[0][breaking]), ("kA", &Cell::Number(6.0)));
        assert_eq!(table.rows[0][breaking + 1], Cell::Text("read from label".into()));
        assert_eq!(table.rows[0][at("Device-rated")], Cell::Text("16 to 20".into()));
        assert_eq!(table.rows[1][breaking], Cell::Empty);
        assert!(!table.columns.iter().any(|column| column.label.id() == Some("Cable-size")), "nothing stands there");
        assert!(table.rows.iter().all(|row| row.len() == table.columns.len()));
    }
}
