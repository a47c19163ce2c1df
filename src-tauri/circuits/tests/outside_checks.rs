//! The checks of random boards, worked out again from the standards by `tests/outside/checks.py`, which knows nothing of
//! this program: numbers of boards that are known throughout, and verdicts on boards that are not against what each may
//! turn out to be.
#![allow(clippy::unwrap_used)]

#[path = "common/cases.rs"]
mod cases;
mod common;

use circuits::fault_level::{Currents, along};
use circuits::{check_board, design_currents, phase_currents};
use common::mixed::Dice;
use common::{Job, add, board, f, measured, r, tables};
use serde_json::{Map, Value, json};
use survey::{
    Amps, Board, Cable, CableId, Celsius, Construction, CpcForm, Curve, DeviceKind, EnergyClass, Fact, Insulation,
    LoadKind, Material, Method, Metres, Mounting, Ohms, Poles, Quantity, Range, Ratio, Reading, SquareMillimetres,
    Subject, SupplyPhases, Volts,
};
use uuid::Uuid;

/// How many boards: few in every run, all that the aim names where `WAYWRIGHT_WHOLE` is set.
fn count(few: usize, whole: usize) -> usize {
    if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { whole } else { few }
}

/// A board of six single-phase and two three-phase circuits, all of it known.
fn known(seed: u64) -> Board {
    let dice = &mut Dice::new(seed);
    let mut found = board("three-phase-8", SupplyPhases::Three);
    let voltage = dice.pick(&[220.0, 230.0, 230.0, 240.0]);
    found.supply.voltage = r::<Volts>(voltage);
    let ze = dice.pick(&[0.05, 0.12, 0.2, 0.35]);
    found.supply.ze = r::<Ohms>(ze);
    // The largest fault current is at least that of the loop to earth.
    found.supply.ipf = r::<Amps>(dice.pick(&[1.05, 1.7, 2.4]) * voltage / ze);
    found.supply.upstream = r::<Amps>(dice.pick(&[63.0, 80.0, 100.0, 160.0]));
    found.supply.upstream_kind = f(DeviceKind::Fuse);
    found.incomer.rated = r::<Amps>(dice.pick(&[40.0, 63.0, 100.0]));
    // In a wall nothing tells how warm it gets: the devices are judged in the air they are made for.
    if seed.is_multiple_of(2) {
        found.surroundings.mounting = f(Mounting::Recessed);
    }
    // Nothing backs these up: the device's own capacity is compared.
    let places = ["1L1", "1L2", "1L3", "2L1", "2L2", "2L3", "3L1", "4L1"];
    for (number, at) in places.into_iter().enumerate() {
        let three = number > 5;
        let kind = if three {
            dice.pick(&[LoadKind::Motor, LoadKind::FixedEquipment, LoadKind::Heating])
        } else {
            dice.pick(&[LoadKind::Lighting, LoadKind::Sockets, LoadKind::FixedEquipment, LoadKind::Heating])
        };
        let size = dice.pick(&[1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0]);
        let job = Job {
            at,
            poles: if three { Poles::P3 } else { Poles::P1 },
            kind,
            rated: dice.pick(&[6.0, 10.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0]),
            curve: dice.pick(&[Curve::B, Curve::C, Curve::D]),
            power: dice.between(200.0, 9000.0),
            power_factor: dice.pick(&[1.0, 0.95, 0.9, 0.8]),
            size,
            cpc: if dice.percent(50) { size.min(16.0) } else { thinner(size) },
            material: if size >= 16.0 && dice.percent(40) { Material::Aluminium } else { Material::Copper },
            insulation: dice.pick(&[Insulation::Pvc70, Insulation::Xlpe90]),
            method: dice.pick(&[Method::A2, Method::B2, Method::C, Method::E, Method::D1, Method::D2]),
            length: dice.between(3.0, 90.0),
            ambient: dice.pick(&[5.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0]),
            grouped: dice.pick(&[1, 1, 2, 3, 5, 6]),
            ..Job::default()
        };
        let id = add(&mut found, 1 + number as u128, &job);
        let circuit = found.circuits.get_mut(&id).unwrap();
        circuit.load.third_harmonic = r::<Ratio>(0.0);
        circuit.load.demand = r::<Ratio>(dice.pick(&[1.0, 0.8, 0.6]));
        if kind == LoadKind::Motor {
            circuit.load.efficiency = r::<Ratio>(dice.between(0.75, 0.93));
        }
        let device = found.devices.get_mut(&circuit.device.unwrap()).unwrap();
        device.breaking = r::<Amps>(dice.pick(&[6000.0, 10_000.0]));
        device.energy_class = f(dice.pick(&[EnergyClass::Three, EnergyClass::Three, EnergyClass::One]));
        device.backed_up = r::<Amps>(0.0);
        if three {
            let cable = found.cables.get_mut(&circuit.cable.unwrap()).unwrap();
            cable.cores = f(4);
        }
    }
    if dice.percent(50) {
        let id = CableId(Uuid::from_u128(77));
        let cable = Cable {
            construction: f(Construction::Multicore),
            cores: f(5),
            size: r::<SquareMillimetres>(dice.pick(&[10.0, 16.0, 25.0, 35.0])),
            cpc_size: r::<SquareMillimetres>(16.0),
            cpc: f(CpcForm::Core),
            material: f(Material::Copper),
            insulation: f(dice.pick(&[Insulation::Pvc70, Insulation::Xlpe90])),
            method: f(dice.pick(&[Method::B2, Method::C, Method::E])),
            length: r::<Metres>(dice.between(5.0, 40.0)),
            ambient: r::<Celsius>(dice.pick(&[25.0, 30.0, 35.0])),
            grouped: f(dice.pick(&[1, 2, 3])),
            layout: f(survey::Layout::Bunched),
            ..Cable::default()
        };
        found.cables.insert(id, cable);
        found.supply.cable = Some(id);
        // Read at the origin alone: what reaches the board is worked out.
        if dice.percent(50) {
            found.supply.origin_ze = std::mem::take(&mut found.supply.ze);
            found.supply.origin_ipf = std::mem::take(&mut found.supply.ipf);
        }
    }
    // Loops measured cold, near what they should be: one far off would be a finding of its own.
    for end in along(&found, &tables()).circuits {
        if let Some(fault) = end.currents.line_earth.filter(|_| dice.percent(40)) {
            let zs = voltage / fault.largest.hi().get() * dice.between(1.0, 1.1);
            found.circuits.get_mut(&end.circuit).unwrap().tests.zs = r::<Ohms>(zs);
        }
    }
    found
}

/// A protective conductor thinner than its lines, as flat cables have.
fn thinner(size: f64) -> f64 {
    match size {
        4.0 => 1.5,
        6.0 => 2.5,
        10.0 => 4.0,
        16.0 => 6.0,
        25.0 => 10.0,
        _ => size,
    }
}

/// Widens a reading to a range that holds it, by up to so much of it either way.
fn widen<Q: Quantity>(dice: &mut Dice, reading: &mut Reading<Q>, by: f64) {
    if let Some(value) = reading.single() {
        let (lo, hi) = (value.get() * dice.between(1.0 - by, 1.0), value.get() * dice.between(1.0, 1.0 + by));
        *reading = Reading::between(Q::of(lo), Q::of(hi), measured());
    }
}

/// The same, or not known at all.
fn blur<Q: Quantity>(dice: &mut Dice, reading: &mut Reading<Q>) {
    if dice.percent(50) {
        *reading = Reading::unknown();
    } else {
        widen(dice, reading, 0.5);
    }
}

/// The same with some of it not known, or known as a range.
fn half_known(seed: u64) -> Board {
    let mut found = known(seed);
    let dice = &mut Dice::new(seed ^ 0xA5A5);
    let supply = &mut found.supply;
    for field in 0..6 {
        if !dice.percent(30) {
            continue;
        }
        match field {
            0 => widen(dice, &mut supply.ze, 0.5),
            1 => widen(dice, &mut supply.ipf, 0.5),
            2 => widen(dice, &mut supply.origin_ze, 0.5),
            3 => widen(dice, &mut supply.origin_ipf, 0.5),
            4 => widen(dice, &mut supply.voltage, 0.05),
            _ => blur(dice, &mut supply.upstream),
        }
    }
    if let Some(cable) = found.supply.cable.and_then(|id| found.cables.get_mut(&id)) {
        half_laid(dice, cable, 15);
    }
    for circuit in found.circuits.values_mut() {
        let device = found.devices.get_mut(&circuit.device.unwrap()).unwrap();
        half_laid(dice, found.cables.get_mut(&circuit.cable.unwrap()).unwrap(), 20);
        for field in 0..9 {
            if !dice.percent(15) {
                continue;
            }
            match field {
                0 => device.curve = Fact::default(),
                1 => blur(dice, &mut circuit.load.power),
                2 => circuit.load.power_factor = Reading::unknown(),
                3 => circuit.load.efficiency = Reading::unknown(),
                4 => circuit.load.leading = Fact::default(),
                5 => widen(dice, &mut circuit.load.demand, 0.3),
                6 => blur(dice, &mut device.breaking),
                7 => device.energy_class = Fact::default(),
                _ => widen(dice, &mut circuit.tests.zs, 0.2),
            }
        }
        if dice.percent(5) {
            blur(dice, &mut device.rated);
        }
    }
    found
}

/// A cable of which each field is not known, or known as a range, this often in a hundred.
fn half_laid(dice: &mut Dice, cable: &mut Cable, share: usize) {
    for field in 0..8 {
        if !dice.percent(share) {
            continue;
        }
        match field {
            0 => cable.material = Fact::default(),
            1 => cable.insulation = Fact::default(),
            2 => cable.method = Fact::default(),
            3 => cable.ambient = Reading::unknown(),
            4 => cable.grouped = Fact::default(),
            5 => widen(dice, &mut cable.length, 0.5),
            6 => widen(dice, &mut cable.size, 0.5),
            _ => widen(dice, &mut cable.cpc_size, 0.5),
        }
    }
}

/// A board with what the program says of it, as the script reads it.
fn sent(board: &Board, completions: usize) -> Value {
    let checks: Vec<Value> = check_board(board, &tables())
        .iter()
        .map(|check| {
            let subject = match check.subject {
                Subject::Circuit(id) => id.to_string(),
                _ => "board".to_owned(),
            };
            json!({
                "rule": check.rule, "subject": subject, "margin": check.margin, "inequality": check.inequality,
                "verdict": check.verdict.key(),
            })
        })
        .collect();
    json!({ "board": board, "completions": completions, "checks": checks, "plain": plain(board) })
}

/// Numbers that stand in no check, each by a name that the script gives it too.
fn plain(board: &Board) -> Map<String, Value> {
    let tables = tables();
    let mut found = Map::new();
    let mut told = |name: String, range: Range<Amps>| {
        found.insert(name, json!([range.lo().get(), range.hi().get()]));
    };
    for (id, current) in design_currents(board, &tables) {
        told(format!("Ib of {id}"), current);
    }
    let currents = phase_currents(board, &tables);
    for line in &currents.lines {
        told(format!("IL of {:?}", line.conductor), line.current);
    }
    told("IN of board".to_owned(), currents.neutral);
    let mut faults = |name: &str, currents: &Currents| {
        for (kind, extent) in [("earth", currents.line_earth), ("three-phase", currents.three_phase)] {
            if let Some(extent) = extent {
                told(format!("largest (cold) {kind} fault of {name}"), extent.largest);
                told(format!("smallest (warm) {kind} fault of {name}"), extent.smallest);
            }
        }
    };
    let levels = along(board, &tables);
    faults("board", &levels.calculated);
    for end in &levels.circuits {
        faults(&end.circuit.to_string(), &end.currents);
    }
    found
}

/// Numbers that must each have been compared: those of checks by their rule.
const NUMBERS: &[&str] = &[
    "Ib",
    "IL",
    "IN",
    "largest (cold) earth fault",
    "smallest (warm) earth fault",
    "largest (cold) three-phase fault",
    "smallest (warm) three-phase fault",
    "device-current",
    "cable-current",
    "overload-trip",
    "volt-drop",
    "fault-loop",
    "fault-loop-measured",
    "short-circuit-trip",
    "breaking-capacity",
    "line-energy",
    "cpc-energy",
    "incomer-current",
    "neutral-current",
    "busbar-current",
    "upstream-current",
    "supply-cable-current",
    "supply-overload-trip",
    "supply-disconnection",
    "supply-line-energy",
    "supply-cpc-energy",
];

/// 150 boards (30 in every run): each number within 0.5 %. 30 boards with unknowns and 2,000 ways each may turn out
/// (20 in every run): none denies a verdict, and none has a number outside of the range that a record tells.
#[test]
fn checks_are_those_of_the_standards() {
    let boards: Vec<Value> = (0..count(30, 150)).map(|seed| sent(&known(seed as u64), 0)).collect();
    let report = cases::compare("checks.py", &boards);
    println!("{report}");
    assert!(report["numbers"].as_u64().is_some_and(|count| count >= 5000), "{report}");
    for name in NUMBERS {
        assert!(report["worst"][name].as_f64().is_some_and(|off| off <= 0.005), "{name} was not compared: {report}");
    }
    let ways = count(20, 2000);
    let boards: Vec<Value> = (0..30).map(|seed| sent(&half_known(1000 + seed), ways)).collect();
    let report = cases::compare("checks.py", &boards);
    println!("{report}");
    assert_eq!(report["completions"], 30 * ways, "{report}");
    assert!(report["judged"].as_u64().is_some_and(|count| count >= 40_000), "{report}");
    assert!(report["within"].as_u64().is_some_and(|count| count >= 30_000), "{report}");
}
