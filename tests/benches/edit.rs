//! One edit at the screen on a full 24-way board, 72 circuits, some of it not known: saved to the disk, checked
//! again, drawn again, and put into the reply; the whole board, and what changed of it. Aims: 20 kB and 6 ms.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]
#![allow(missing_docs)]

#[path = "../../src-tauri/circuits/tests/common/mod.rs"]
mod common;

use api::{BoardView, Call, Edit, Edited, ImportSurvey, OpenBoard, Update};
use common::mixed::{USUAL, mixed};
use criterion::{Criterion, criterion_group, criterion_main};
use serde_json::{Value, json};
use survey::BoardId;
use survey::intent::Intent;
use waywright_tests::{Bench, call};

/// A board with a circuit on each of its 72 poles, as a survey leaves it.
fn full_board(bench: &Bench) -> BoardId {
    let board = mixed(7, USUAL);
    call(&bench.app, ImportSurvey { text: survey::file::write(&board, "Bench").unwrap() }).unwrap();
    board.id
}

/// A view held and kept as a screen keeps it.
struct Held<'a> {
    bench: &'a Bench,
    board: BoardId,
    view: BoardView<Value>,
}

impl Held<'_> {
    /// The text of the reply to an edit, by what changed.
    fn edit(&self, path: &str, value: &str, instrument: &str) -> String {
        let value = json!({"known": "measured", "value": value, "instrument": instrument});
        let intent = Intent::Set { path: path.to_owned(), value };
        answered(self.bench, &Edit { board: self.board, intent, have: Some(self.view.state.clone()) })
    }

    fn take(&mut self, reply: &str) {
        let reply: Edited<Value> = serde_json::from_str(reply).unwrap();
        let Update::Changed(change) = reply.view else { panic!("the whole board came") };
        self.view.apply(*change).unwrap();
    }
}

/// A call up to the text of its reply, as window and host hand it on.
fn answered<C: Call>(bench: &Bench, request: &C) -> String {
    bench.app.answer(&bench.app.local_caller(), C::NAME, serde_json::to_value(request).unwrap()).unwrap()
}

fn edit(criterion: &mut Criterion) {
    let bench = Bench::empty();
    let board = full_board(&bench);
    let reply = answered(&bench, &OpenBoard { board });
    println!("a reply with the whole board is {} bytes", reply.len());
    let mut held = Held { bench: &bench, board, view: serde_json::from_str(&reply).unwrap() };

    let circuits: Vec<(String, String)> = held.view.board["circuits"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(id, circuit)| (format!("/circuits/{id}/load/power"), circuit["cable"].as_str().unwrap().to_owned()))
        .map(|(load, cable)| (load, format!("/cables/{cable}/length")))
        .collect();
    for (what, value, paths) in [
        ("a cable's length", "27 m", circuits.iter().map(|one| &one.1).collect::<Vec<_>>()),
        ("a load's power", "640 W", circuits.iter().map(|one| &one.0).collect()),
    ] {
        let mut sizes: Vec<usize> = paths
            .into_iter()
            .map(|path| {
                let text = held.edit(path, value, "tape");
                held.take(&text);
                text.len()
            })
            .collect();
        sizes.sort_unstable();
        println!("replies to {what} of each of 72: {} bytes in the middle, {} the largest", sizes[36], sizes[71]);
    }

    let (load, length) = circuits[0].clone();
    let mut step = 0_u32;
    criterion.bench_function("edit, saved and rechecked, 72 poles, whole board", |bencher| {
        bencher.iter(|| {
            step += 1;
            let value = json!({"known": "measured", "value": format!("{} m", 10 + step % 20), "instrument": "tape"});
            answered(&bench, &Edit { board, intent: Intent::Set { path: length.clone(), value }, have: None })
        });
    });
    held.view = serde_json::from_str(&answered(&bench, &OpenBoard { board })).unwrap();
    for (what, path, unit) in [("cable length", length, "m"), ("load", load, "W")] {
        criterion.bench_function(
            &format!("edit of a {what}, saved and rechecked, 72 poles, what changed"),
            |bencher| {
                bencher.iter_custom(|times| {
                    // The screen's part is not counted.
                    let mut spent = std::time::Duration::ZERO;
                    for _ in 0..times {
                        step += 1;
                        let value = format!("{} {unit}", 10 + step % 20);
                        let start = std::time::Instant::now();
                        let text = held.edit(&path, &value, "tape");
                        spent += start.elapsed();
                        held.take(&text);
                    }
                    spent
                });
            },
        );
        let mut text = String::new();
        criterion.bench_function(&format!("edit of a {what}, its reply read and applied by a screen"), |bencher| {
            bencher.iter_custom(|times| {
                let mut spent = std::time::Duration::ZERO;
                for _ in 0..times {
                    step += 1;
                    text = held.edit(&path, &format!("{} {unit}", 10 + step % 20), "tape");
                    let start = std::time::Instant::now();
                    held.take(&text);
                    spent += start.elapsed();
                }
                spent
            });
        });
    }
    criterion.bench_function("board opened, 72 poles", |bencher| {
        bencher.iter(|| answered(&bench, &OpenBoard { board }));
    });
    criterion.bench_function("the whole reply read by a screen, 72 poles", |bencher| {
        bencher.iter(|| serde_json::from_str::<BoardView<Value>>(&reply).unwrap());
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = edit
}
criterion_main!(benches);
