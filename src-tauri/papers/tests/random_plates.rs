//! A hundred plates with holes anywhere, drawn, and measured by libraries from outside: every hole within
//! 0.05 mm of what was asked, in PDF, DXF and SVG.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::path::Path;

use common::{measured, with};
use papers::{Format, Kind, write};
use serde_json::{Value, json};
use survey::pattern::{Face, Rect};
use survey::*;

const PLATES: usize = 100;

/// Numbers that look thrown and are the same on every run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }

    /// From `least` to `most` in hundredths.
    fn length(&mut self, least: f64, most: f64) -> f64 {
        ((least * 100.0).round() + self.below(((most - least) * 100.0) as usize) as f64) / 100.0
    }
}

fn id(number: usize) -> uuid::Uuid {
    uuid::Uuid::from_u128(number as u128)
}

fn mm(value: f64) -> Reading<Millimetres> {
    Reading::of(Millimetres::new(value), Provenance::new(Known::Measured))
}

/// A board with one plate, and what its template must show. The holes keep off each other by a
/// millimetre, so that every one is told from the next.
fn thrown(dice: &mut Dice, number: usize) -> (Board, PlateId, Value) {
    let reference = format!("R{number:03}");
    let mut board = Board::new(BoardId(id(1)), SiteId(id(2)), &reference);
    // Some are larger than a sheet of paper.
    let (width, depth) = match number % 5 {
        0 => (dice.length(300.0, 700.0), dice.length(120.0, 260.0)),
        _ => (dice.length(150.0, 260.0), dice.length(70.0, 150.0)),
    };
    let plate = PlateId(id(3));
    let datum = Corner::ALL[number % 4];
    let mut found = Plate {
        datum: Some(datum),
        face: [Face::Bottom, Face::Top, Face::Back][number % 3],
        width: mm(width),
        depth: mm(depth),
        thickness: mm(1.5),
        usable: Some(Rect::new(10.0, 10.0, width - 20.0, depth - 20.0)),
        ..Plate::default()
    };
    let mut wanted: Vec<Value> = Vec::new();
    // Half of what each takes up, and where it is.
    let mut taken: Vec<([f64; 2], [f64; 2])> = Vec::new();
    for _ in 0..60 {
        if wanted.len() > 3 + number % 12 {
            break;
        }
        let at = [dice.length(8.0, width - 8.0), dice.length(8.0, depth - 8.0)];
        let cut_out = dice.below(8) == 0;
        let (size, half, diameter) = if cut_out {
            let (w, h) = (20 + dice.below(60), 20 + dice.below(40));
            (format!("{w}x{h}"), [w as f64 / 2.0, h as f64 / 2.0], None)
        } else {
            let diameter = dice.length(6.0, 64.0);
            ("M20".to_owned(), [diameter / 2.0; 2], Some(diameter))
        };
        let clear = taken
            .iter()
            .all(|(other, room)| (0..2).any(|axis| (other[axis] - at[axis]).abs() > room[axis] + half[axis] + 1.0));
        let inside = [width, depth]
            .iter()
            .zip(at)
            .zip(half)
            .all(|((length, at), half)| at - half > 1.0 && at + half < length - 1.0);
        if !clear || !inside {
            continue;
        }
        taken.push((at, half));
        let index = wanted.len();
        let existing = !cut_out && dice.below(5) == 0;
        let kind = if cut_out { EntryKind::TrunkingCutOut } else { EntryKind::CompressionGland };
        found.entries.insert(
            EntryId(id(100 + index)),
            Entry {
                kind: Some(kind),
                size,
                at: Some(at),
                hole: diameter.map(Millimetres::new),
                existing,
                ..Entry::default()
            },
        );
        let mut one = json!({ "label": format!("E{}", index + 1), "x": at[0], "y": at[1], "existing": existing });
        // The table counts from the datum corner.
        one["table_x"] = json!(if datum.is_right() { width - at[0] } else { at[0] });
        one["table_y"] = json!(if datum.is_front() { depth - at[1] } else { at[1] });
        match diameter {
            Some(diameter) => one["diameter"] = json!(diameter),
            None => (one["width"], one["height"]) = (json!(2.0 * half[0]), json!(2.0 * half[1])),
        }
        wanted.push(one);
    }
    let name = format!("{reference}-{}-plate-template", found.face.words());
    board.plates.insert(plate, found);
    (board, plate, json!({ "name": name, "width": width, "depth": depth, "entries": wanted }))
}

/// Writes the templates and gives what they must show.
fn written(folder: &Path, plates: &[(Board, PlateId, Value)]) -> Vec<Value> {
    let write_one = |(board, plate, wanted): &(Board, PlateId, Value)| {
        with(board, |input| {
            for format in [Format::Pdf, Format::Dxf, Format::Svg] {
                let file = write(input, Kind::DrillingTemplate(*plate), format).unwrap();
                assert!(file.name.starts_with(wanted["name"].as_str().unwrap()), "{}", file.name);
                std::fs::write(folder.join(&file.name), &file.bytes).unwrap();
            }
        });
        wanted.clone()
    };
    plates.iter().map(write_one).collect()
}

fn holes(plates: &[(Board, PlateId, Value)]) -> usize {
    plates.iter().map(|(_, _, wanted)| wanted["entries"].as_array().unwrap().len()).sum()
}

#[test]
fn outside_libraries_find_each_hole_of_a_hundred_random_plates() {
    let mut dice = Dice(7);
    let plates: Vec<_> = (0..PLATES).map(|number| thrown(&mut dice, number)).collect();
    assert!(holes(&plates) > 5 * PLATES, "{} holes are too few", holes(&plates));
    let folder = tempfile::tempdir().unwrap();
    let (first, second) = plates.split_at(PLATES / 2);
    // Two halves side by side: setting and measuring take a second or so each.
    let judge = |part: &[(Board, PlateId, Value)], name: &str| {
        let templates = written(folder.path(), part);
        let passed = measured(folder.path(), name, &json!({ "templates": templates }));
        // Centre and diameter of each in all three files, at the least.
        assert!(passed > 3 * holes(part), "{passed} comparisons of {} holes", holes(part));
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(|| judge(first, "first.json"));
        judge(second, "second.json");
        other.join().unwrap();
    });
}
