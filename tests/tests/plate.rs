//! The plate's job through the app's door: entries for all cables, set out, dragged, and an existing
//! plate measured on a photo.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::io::Cursor;

use api::{AddPhoto, DragEntry, Edit, EntriesForCables, MeasurePhoto, OpenBoard, SetOutPlate};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::{ImageFormat, Rgb, RgbImage};
use serde_json::{Value, json};
use survey::intent::Intent;
use survey::{Board, BoardId, PlateId, Subject, Verdict};
use waywright_tests::{Bench, call};

fn bottom(board: &Board) -> PlateId {
    board.live_plates().find(|(_, plate)| plate.face == survey::pattern::Face::Bottom).unwrap().0
}

fn edit(bench: &Bench, board: BoardId, intent: Value) -> api::BoardView {
    call(&bench.app, Edit { board, intent: serde_json::from_value(intent).unwrap(), have: None })
        .unwrap()
        .view
        .whole()
        .unwrap()
}

fn fails(view: &api::BoardView, plate: PlateId) -> Vec<String> {
    let own = view.checks.iter().filter(|check| check.subject == Subject::Plate(plate));
    own.filter(|check| check.verdict == Verdict::Fails).map(|check| check.sentence.to_string()).collect()
}

#[test]
fn every_cable_gets_its_gland_and_place_and_a_drag_stays_legal() {
    let bench = Bench::with_demo();
    let board = bench.board("BL-DB2");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let plate = bottom(&view.board);
    // Begin with an empty plate.
    for entry in view.board.plates[&plate].entries.keys() {
        call(&bench.app, Edit { board, intent: Intent::RemoveEntry { plate, entry: *entry }, have: None }).unwrap();
    }
    let chosen = call(&bench.app, EntriesForCables { board, plate }).unwrap();
    assert!(chosen.chosen.len() >= 3, "{chosen:?}");
    let view = edit(&bench, board, chosen.intent.unwrap());
    assert!(view.board.plates[&plate].entries.values().filter(|entry| !entry.removed).all(|entry| entry.at.is_none()));
    assert!(call(&bench.app, EntriesForCables { board, plate }).unwrap().intent.is_none(), "each cable has one now");

    let before = bench.surveys();
    let set = call(&bench.app, SetOutPlate { board, plate, spares: vec!["M20".into()], keep_placed: false }).unwrap();
    assert_eq!(bench.surveys(), before, "nothing is saved");
    assert!(set.after.total + 1e-6 >= set.bound && set.spares.len() == 1, "{set:?}");
    let view = edit(&bench, board, set.intent.unwrap());
    assert_eq!(fails(&view, plate), Vec::<String>::new());
    let placed: Vec<_> =
        view.board.plates[&plate].entries.iter().filter(|(_, entry)| !entry.removed && entry.at.is_some()).collect();
    assert_eq!(placed.len(), chosen.chosen.len());
    let shown = view.plates.iter().find(|one| one.id == plate).unwrap();
    assert!(!shown.fan.is_empty() && shown.entries.iter().all(|entry| !entry.conflict));

    // Dropped on its neighbour, an entry goes to the nearest place that will do, and the answer says why.
    let (first, second) = (placed[0], placed[1]);
    let to = second.1.at.unwrap();
    let drag = call(&bench.app, DragEntry { board, plate, entry: *first.0, to }).unwrap();
    assert!(!drag.why.is_empty(), "{drag:?}");
    let at = drag.at.unwrap();
    assert!(at != to);
    let view = edit(&bench, board, json!(Intent::MoveEntry { plate, entry: *first.0, at }));
    assert_eq!(fails(&view, plate), Vec::<String>::new());
}

#[test]
fn what_cannot_be_set_out_says_what_would_do() {
    let bench = Bench::with_demo();
    let board = bench.board("BL-DB2");
    let plate = bottom(&call(&bench.app, OpenBoard { board }).unwrap().board);
    let spares = vec!["M63".to_owned(); 40];
    let error = call(&bench.app, SetOutPlate { board, plate, spares, keep_placed: false }).unwrap_err();
    assert!(error.message.contains("no room"), "{error}");
    let error =
        call(&bench.app, SetOutPlate { board, plate, spares: vec!["M21".into()], keep_placed: false }).unwrap_err();
    assert!(error.message.contains("M21"), "{error}");
}

fn near(a: [f64; 2], b: [f64; 2]) -> f64 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)).sqrt()
}

/// A plate seen straight on, 4 pixels a millimetre, light on a dark ground, with dark holes.
fn photo(width: f64, depth: f64, holes: &[(f64, f64, f64)]) -> (Vec<u8>, [[f64; 2]; 4]) {
    const SCALE: f64 = 4.0;
    const PAD: f64 = 30.0;
    let (w, h) = ((width + 2.0 * PAD) * SCALE, (depth + 2.0 * PAD) * SCALE);
    let picture = RgbImage::from_fn(w as u32, h as u32, |x, y| {
        let (x, y) = ((f64::from(x) + 0.5) / SCALE - PAD, (f64::from(y) + 0.5) / SCALE - PAD);
        let on = (0.0..=width).contains(&x) && (0.0..=depth).contains(&y);
        let through = holes.iter().any(|(cx, cy, d)| near([x, y], [*cx, *cy]) <= d / 2.0);
        // A little grain, as a sensor has.
        let grain = ((x * 12.9898 + y * 78.233).sin() * 43758.547).fract() * 8.0;
        let grey = (if on && !through { 190.0 } else { 45.0 } + grain) as u8;
        Rgb([grey, grey, grey])
    });
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, ImageFormat::Png).unwrap();
    let share = |x: f64, y: f64| [(x + PAD) * SCALE / w, (y + PAD) * SCALE / h];
    // Tapped a few pixels off.
    let corners =
        [share(1.0, -0.8), share(width - 0.7, 0.9), share(width + 1.1, depth - 0.6), share(-0.9, depth + 0.7)];
    (bytes.into_inner(), corners)
}

#[test]
fn holes_measured_on_a_photo_become_entries_with_their_evidence() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let plate = bottom(&view.board);
    let size = |reading: &survey::Reading<survey::Millimetres>| reading.single().unwrap().get();
    let (width, depth) = (size(&view.board.plates[&plate].width), size(&view.board.plates[&plate].depth));
    for entry in view.board.plates[&plate].entries.keys() {
        call(&bench.app, Edit { board, intent: Intent::RemoveEntry { plate, entry: *entry }, have: None }).unwrap();
    }
    let holes = [(50.0, 45.0, 20.4), (95.0, 60.0, 25.4), (150.0, 50.0, 32.5)];
    let (bytes, corners) = photo(width, depth, &holes);
    let request = AddPhoto {
        board,
        base64: STANDARD.encode(bytes),
        caption: "plate".into(),
        pinned: plate.to_string(),
        have: None,
    };
    let edited = call(&bench.app, request).unwrap();
    let photo = edited.touched.iter().find_map(|path| path.strip_prefix("/photos/")?.split('/').next()?.parse().ok());
    let request = MeasurePhoto { board, plate, photo: photo.unwrap(), corners, check_line: None, taps: vec![] };
    let found = call(&bench.app, request.clone()).unwrap();
    assert_eq!(found.holes.len(), holes.len(), "{:?}", found.holes);
    for (x, y, diameter) in holes {
        let hole = found.holes.iter().find(|hole| near(hole.at, [x, y]) < 1.0).unwrap();
        assert!(near(hole.at, [x, y]) <= hole.at_within, "{hole:?}");
        assert!((hole.diameter - diameter).abs() <= hole.diameter_within, "{hole:?}");
        assert_eq!(hole.entry, None);
    }
    let take: Vec<Value> = found.holes.iter().map(|hole| hole.take.clone()).collect();
    let view = edit(&bench, board, json!({"take_holes": {"plate": plate, "photo": request.photo, "holes": take}}));
    let entries: Vec<_> = view.board.plates[&plate].entries.values().filter(|entry| !entry.removed).collect();
    assert_eq!(entries.len(), 3);
    assert!(entries.iter().all(|entry| entry.existing && entry.evidence == Some(request.photo)));
    // Measured again, they are the same entries.
    let again = call(&bench.app, request.clone()).unwrap();
    assert!(again.holes.iter().all(|hole| hole.entry.is_some()));

    let crossed = MeasurePhoto { corners: [corners[0], corners[2], corners[1], corners[3]], ..request };
    let error = call(&bench.app, crossed).unwrap_err();
    assert!(error.message.contains("tap"), "{error}");
}

#[test]
fn a_slot_joins_two_holes_until_it_is_removed() {
    let bench = Bench::with_demo();
    let board = bench.board("BL-DB2");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let plate = bottom(&view.board);
    let shown = |view: &api::BoardView| view.plates.iter().find(|one| one.id == plate).unwrap().clone();
    let ends: Vec<_> = shown(&view).entries.iter().filter(|entry| entry.at.is_some()).map(|entry| entry.id).collect();
    let slot = |to| json!({ "add_slot": { "plate": plate, "from": ends[0], "to": to, "width": "2 mm" } });
    let view = edit(&bench, board, slot(ends[1]));
    let [one] = &shown(&view).slots[..] else { panic!("{:?}", shown(&view).slots) };
    assert_eq!(one.width, 2.0);
    let path = format!("/plates/{plate}/slots/{}/removed", one.id);
    let view = edit(&bench, board, json!({ "set": { "path": path, "value": true } }));
    assert!(shown(&view).slots.is_empty());
    // A width that cannot be cut, and a hole that is not there.
    for wrong in [
        json!({ "add_slot": { "plate": plate, "from": ends[0], "to": ends[1], "width": "-2 mm" } }),
        json!({ "add_slot": { "plate": plate, "from": ends[0], "to": "01900000-0000-7000-8000-000000000000", "width": "2 mm" } }),
    ] {
        let refused = serde_json::from_value(wrong.clone())
            .map_err(|error| error.to_string())
            .and_then(|intent| call(&bench.app, Edit { board, intent, have: None }).map_err(|error| error.to_string()));
        assert!(refused.is_err(), "{wrong}");
    }
}

/// Many checks of a plate are of one rule, one for each entry: what is weighed for one entry says nothing of another.
#[test]
fn what_an_edit_of_one_entry_would_do_is_told_of_that_entry_alone() {
    let bench = Bench::with_demo();
    let board = bench.board("BL-DB2");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let plate = bottom(&view.board);
    let entries: Vec<_> = view.board.plates[&plate].entries.iter().filter(|(_, entry)| !entry.removed).collect();
    assert!(entries.len() > 3);
    // One fails already.
    let path = format!("/plates/{plate}/entries/{}/size", entries[1].0);
    call(&bench.app, Edit { board, intent: Intent::Set { path, value: json!("M63") }, have: None }).unwrap();
    let mut told = 0;
    for (id, _) in &entries {
        let path = format!("/plates/{plate}/entries/{id}/size");
        let intent = Intent::Set { path, value: json!("M63") };
        let Ok(found) = call(&bench.app, api::WhatIf { board, intents: vec![intent] }) else { continue };
        let own = format!("/entries/{id}/");
        for change in &found.changes {
            let paths = |check: &Option<survey::Check>| -> Vec<String> {
                let inputs = check.iter().flat_map(|check| check.inputs.iter());
                inputs.map(|input| input.path.to_string()).filter(|path| path.contains("/entries/")).collect()
            };
            let (before, after) = (paths(&change.before), paths(&change.after));
            if before.is_empty() && after.is_empty() {
                continue;
            }
            told += 1;
            let of = |paths: &[String]| paths.is_empty() || paths.iter().any(|path| path.contains(&own));
            assert!(of(&before) && of(&after), "{id}: {:?} {:?}", change.before, change.after);
        }
    }
    assert!(told > 3, "{told}");
}
