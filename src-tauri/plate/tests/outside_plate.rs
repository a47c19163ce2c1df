//! Outside libraries judge solved plates: shapely their geometry, OR-tools CP-SAT what they are worth.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::time::Instant;

use common::{Dice, PLATE, USUAL, board, circuit, entry, outside, pattern, take, thrown};
use plate::{EarthTags, Opening, SolveError, Tables, Weights, Wishes, setting_out, solve, wiring_space};
use serde_json::{Value, json};
use survey::pattern::{Face, Rect};
use survey::{Board, Construction};

fn judge(script: &str, plates: &[Value]) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("plates.json");
    std::fs::write(&file, serde_json::to_string(plates).unwrap()).unwrap();
    outside(script, &[&file]);
}

/// The plate in plain numbers, after its places are taken over.
fn told(board: &Board, tags: bool) -> Value {
    let set = setting_out(board, PLATE, Tables::shipped()).unwrap();
    let rect = |rect: Rect| json!(<[f64; 4]>::from(rect));
    let space = wiring_space(board, PLATE);
    let entries: Vec<Value> = set
        .entries
        .iter()
        .map(|entry| {
            let hole = match entry.hole.opening {
                Opening::Round { diameter } => Some(diameter),
                Opening::Slot { .. } => None,
            };
            let target = entry.cable.and_then(|cable| space.targets.get(&cable)).map(|target| [target.x, target.lane]);
            json!({
                "label": entry.label, "kind": entry.kind.key(), "size": entry.size, "at": entry.centre,
                "hole": hole, "bolt": entry.tag.map(|tag| tag.bolt), "target": target,
            })
        })
        .collect();
    json!({
        "width": set.outline.w, "depth": set.outline.h, "thickness": set.thickness.unwrap_or(0.0),
        "usable": set.usable.map(rect), "keep_outs": set.keep_outs.iter().copied().map(rect).collect::<Vec<_>>(),
        "entries": entries, "tags": tags,
    })
}

#[test]
fn shapely_finds_no_violated_clearance_on_a_thousand_solved_plates() {
    let mut dice = Dice(20);
    let mut plates = Vec::new();
    while plates.len() < 1000 {
        let count = 1 + dice.below(18);
        let mut board = thrown(&mut dice, count);
        for entry in board.plates.get_mut(&PLATE).unwrap().entries.values_mut() {
            (entry.existing, entry.locked) = (false, false);
        }
        let earth_tags = dice.pick(&[EarthTags::Room, EarthTags::IfRoom]);
        let wishes = Wishes { effort: 60_000, earth_tags, ..Wishes::default() };
        let Ok(solution) = solve(&board, PLATE, Tables::shipped(), &wishes) else { continue };
        take(&mut board, &solution.places);
        plates.push(told(&board, solution.notes.iter().all(|note| !note.contains("earthing locknut"))));
    }
    judge("plate_geometry.py", &plates);
}

#[test]
fn cp_sat_finds_nothing_much_better_on_small_plates() {
    let mut dice = Dice(33);
    let mut plates = Vec::new();
    for _ in 0..56 {
        let face = dice.pick(&[Face::Top, Face::Bottom]);
        let mut board = board(face, 120.0 + dice.below(100) as f64, 70.0 + dice.below(40) as f64, 10.0);
        if dice.below(2) == 0 {
            let rect = Rect::new(40.0 + dice.below(60) as f64, 20.0 + dice.below(30) as f64, 12.0, 9.0);
            board.plates.get_mut(&PLATE).unwrap().keep_outs.push(rect);
        }
        let mut poles: Vec<String> = pattern("three-phase-12").poles().map(|pole| pole.to_string()).collect();
        for _ in 0..2 + dice.below(5).min(dice.below(5)) {
            let (kind, size) = dice.pick(&USUAL[..8]);
            let pole = poles.swap_remove(dice.below(poles.len()));
            let cable = circuit(&mut board, &pole, Construction::Multicore, 3, 2.5);
            entry(&mut board, kind, size, None, Some(cable));
        }
        let weights = Weights::default();
        let wishes = Wishes { grid: 10, earth_tags: EarthTags::Locknut, ..Wishes::default() };
        let start = Instant::now();
        let answer = solve(&board, PLATE, Tables::shipped(), &wishes);
        let seconds = start.elapsed().as_secs_f64();
        let (total, bound) = match &answer {
            Ok(solution) => (Some(solution.score.total), solution.bound),
            Err(SolveError::NoRoom { .. }) => (None, 0.0),
            Err(other) => panic!("{other}"),
        };
        // Any place will do for telling the kinds and targets of a plate without room.
        for entry in board.plates.get_mut(&PLATE).unwrap().entries.values_mut() {
            entry.at = Some([0.0, 0.0]);
        }
        let mut plate = told(&board, false);
        plate["grid"] = json!(10);
        plate["total"] = json!(total);
        plate["bound"] = json!(bound);
        plate["seconds"] = json!(seconds);
        plate["weights"] = json!({
            "length": weights.length, "crossing": weights.crossing, "row": weights.row,
            "column": weights.column, "size": weights.size,
        });
        plates.push(plate);
    }
    judge("plate_best.py", &plates);
}
