//! One edit at the screen on a full 24-way board, 72 circuits: saved to the disk, checked again,
//! drawn again, and put into the reply.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]
#![allow(missing_docs)]

use api::{Call, CreateBoard, CreateSite, Edit, OpenBoard};
use criterion::{Criterion, criterion_group, criterion_main};
use serde_json::json;
use survey::intent::Intent;
use survey::{BoardId, CableId, DeviceKind, LoadKind, Poles};
use waywright_tests::{Bench, call};

/// A board with a circuit on each of its 72 poles, every field that the checks read filled in.
fn full_board(bench: &Bench) -> (BoardId, CableId) {
    let site = call(&bench.app, CreateSite { name: "Bench".to_owned() }).unwrap().id;
    let view = call(
        &bench.app,
        CreateBoard {
            site,
            reference: "B24".to_owned(),
            place: "here".to_owned(),
            pattern: Some("three-phase-24".to_owned()),
            new: true,
        },
    )
    .unwrap();
    let board = view.board.id;
    let edit = |intent| call(&bench.app, Edit { board, intent, have: None }).unwrap();
    let set = |path: String, value| edit(Intent::Set { path, value });
    for (path, value) in [
        ("/supply/voltage", json!({"known": "label", "value": "230 V"})),
        ("/supply/ze", json!({"known": "measured", "value": "0.2 ohm"})),
        ("/supply/ipf", json!({"known": "measured", "value": "2 kA"})),
        ("/supply/system", json!({"known": "label", "value": "TnS"})),
        ("/incomer/arrangement", json!({"known": "label", "value": "FourPole"})),
        ("/incomer/rated", json!({"known": "label", "value": "250 A"})),
    ] {
        set(path.to_owned(), value);
    }
    for way in 1..=24 {
        for phase in 1..=3 {
            edit(Intent::AddCircuit {
                at: format!("{way}L{phase}").parse().unwrap(),
                poles: Poles::P1,
                device: DeviceKind::CircuitBreaker,
                load: LoadKind::FixedEquipment,
                description: format!("load {way}.{phase}"),
            });
        }
    }
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let mut last = None;
    for (id, circuit) in view.board.live_circuits() {
        let (device, cable) = (circuit.device.unwrap(), circuit.cable.unwrap());
        for (path, value) in [
            (format!("/circuits/{id}/load/power"), json!({"known": "label", "value": "1.2 kW"})),
            (
                format!("/circuits/{id}/load/power_factor"),
                json!({"known": "assumed", "between": ["0.85", "1"], "rule": "usual"}),
            ),
            (format!("/devices/{device}/rated"), json!({"known": "label", "value": "16 A"})),
            (format!("/devices/{device}/curve"), json!({"known": "label", "value": "B"})),
            (format!("/devices/{device}/breaking"), json!({"known": "label", "value": "6 kA"})),
            (format!("/cables/{cable}/size"), json!({"known": "label", "value": "2.5 mm2"})),
            (format!("/cables/{cable}/cpc_size"), json!({"known": "label", "value": "1.5 mm2"})),
            (format!("/cables/{cable}/cpc"), json!({"known": "label", "value": "Core"})),
            (format!("/cables/{cable}/material"), json!({"known": "label", "value": "Copper"})),
            (format!("/cables/{cable}/insulation"), json!({"known": "label", "value": "Pvc70"})),
            (format!("/cables/{cable}/method"), json!({"known": "label", "value": "C"})),
            (format!("/cables/{cable}/grouped"), json!({"known": "label", "value": 3})),
            (
                format!("/cables/{cable}/ambient"),
                json!({"known": "assumed", "between": ["20 degC", "35 degC"], "rule": "indoors"}),
            ),
            (
                format!("/cables/{cable}/length"),
                json!({"known": "stated", "between": ["12 m", "20 m"], "by": "drawing"}),
            ),
        ] {
            set(path, value);
        }
        last = Some(cable);
    }
    (board, last.unwrap())
}

/// A call up to the text of its reply, as window and host hand it on.
fn answered<C: Call>(bench: &Bench, request: &C) -> String {
    bench.app.answer(C::NAME, serde_json::to_value(request).unwrap()).unwrap()
}

fn edit(criterion: &mut Criterion) {
    let bench = Bench::empty();
    let (board, cable) = full_board(&bench);
    let reply = answered(&bench, &OpenBoard { board });
    println!("a reply with the whole board is {} kB", reply.len() / 1000);
    let mut step = 0_u32;
    criterion.bench_function("edit, saved and rechecked, 72 poles", |bencher| {
        bencher.iter(|| {
            step += 1;
            let value = json!({"known": "measured", "value": format!("{} m", 10 + step % 20), "instrument": "tape"});
            let intent = Intent::Set { path: format!("/cables/{cable}/length"), value };
            answered(&bench, &Edit { board, intent, have: None })
        });
    });
    criterion.bench_function("board opened, 72 poles", |bencher| {
        bencher.iter(|| answered(&bench, &OpenBoard { board }));
    });
    criterion.bench_function("the reply read by a screen, 72 poles", |bencher| {
        bencher.iter(|| serde_json::from_str::<api::BoardView<serde_json::Value>>(&reply).unwrap());
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = edit
}
criterion_main!(benches);
