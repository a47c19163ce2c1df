//! Every sentence has its words, and nothing that stands in one is lacking.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::check_board;
use common::mixed::{Dice, mixed};
use common::{Job, add, board, f, r, tables};
use survey::words::{Catalogue, speaking};
use survey::{
    Argument, Arrangement, Board, Bond, Check, Construction, CpcForm, Curve, DeviceKind, EarthingSystem, Fact,
    Insulation, Ip, LoadKind, Material, Message, Method, Observation, ObservationId, Poles, Quantity, RcdDelay,
    Reading, ResidualForm, Seen, SupplyPhases, YesNo,
};
use uuid::Uuid;

/// A reading that is there about this often in a hundred.
fn perhaps<Q: Quantity>(dice: &mut Dice, share: usize, of: &[f64]) -> Reading<Q> {
    let value = dice.pick(of);
    if dice.percent(share) { r(value) } else { Reading::unknown() }
}

/// A small board whose supply side is anything.
fn supplied(seed: u64) -> Board {
    let mut dice = Dice::new(seed);
    let phases = dice.pick(&[SupplyPhases::Single, SupplyPhases::Three]);
    let mut one = board("three-phase-4", phases);
    let kind = dice.pick(LoadKind::ALL);
    let devices = [DeviceKind::CircuitBreaker, DeviceKind::Rcbo, DeviceKind::Fuse, DeviceKind::AdjustableBreaker];
    for (number, at) in [(1, "1L1"), (2, "2L2")] {
        let device = dice.pick(&devices);
        let rated = dice.pick(&[6.0, 16.0, 32.0, 63.0]);
        add(&mut one, number, &Job { at, kind, device, rated, ..Job::default() });
    }
    let fed = add(&mut one, 3, &Job { size: dice.pick(&[4.0, 16.0, 25.0]), ..Job::default() });
    let circuit = one.circuits.remove(&fed).unwrap();
    one.devices.remove(&circuit.device.unwrap());
    let cable = circuit.cable.unwrap();
    if dice.percent(75) {
        one.supply.cable = Some(cable);
        let cable = one.cables.get_mut(&cable).unwrap();
        cable.neutral_size = perhaps(&mut dice, 50, &[4.0, 10.0, 25.0]);
        cable.insulation = f(dice.pick(Insulation::ALL));
        cable.cpc = f(dice.pick(CpcForm::ALL));
        let cores = if phases == SupplyPhases::Single { 2 } else { 4 };
        if dice.percent(50) {
            cable.cores = f(cores);
            cable.cpc = if dice.percent(50) { f(CpcForm::Core) } else { Default::default() };
        }
    } else {
        one.cables.remove(&cable);
    }
    for device in one.devices.values_mut() {
        device.selective = perhaps(&mut dice, 20, &[500.0, 3000.0, 20_000.0]);
        device.backed_up = perhaps(&mut dice, 50, &[1000.0, 50_000.0]);
        device.delay = f(dice.pick(RcdDelay::ALL));
    }
    if dice.percent(30)
        && let Some(device) = one.devices.values_mut().next()
    {
        device.kind = Some(DeviceKind::Spd);
        if dice.percent(50) {
            device.at = None;
        }
    }
    let supply = &mut one.supply;
    supply.system = f(dice.pick(EarthingSystem::ALL));
    if dice.percent(80) {
        supply.upstream_kind = f(dice.pick(DeviceKind::ALL));
    }
    if dice.percent(50) {
        supply.upstream_curve = f(dice.pick(Curve::ALL));
    }
    supply.voltage = perhaps(&mut dice, 90, &[230.0, 230.0, 230.0, 400.0]);
    supply.upstream = perhaps(&mut dice, 80, &[10.0, 40.0, 63.0, 100.0, 250.0]);
    supply.upstream_residual = perhaps(&mut dice, 30, &[0.03, 0.1, 0.3]);
    supply.upstream_delay = f(dice.pick(RcdDelay::ALL));
    supply.ze = perhaps(&mut dice, 60, &[0.01, 0.1, 0.35, 3.0]);
    supply.ipf = perhaps(&mut dice, 60, &[300.0, 2000.0, 16_000.0]);
    supply.origin_ipf = perhaps(&mut dice, 40, &[2000.0, 16_000.0]);
    supply.origin_ze = perhaps(&mut dice, 40, &[0.05, 0.35]);
    supply.transformer = perhaps(&mut dice, 30, &[100e3, 630e3]);
    supply.transformer_voltage = perhaps(&mut dice, 90, &[0.04]);
    supply.bonding = perhaps(&mut dice, 40, &[4.0, 6.0, 10.0, 25.0]);
    supply.earthing_conductor = perhaps(&mut dice, 40, &[2.5, 6.0, 10.0, 25.0]);
    if dice.percent(15) {
        supply.current_form = f(dice.pick(survey::CurrentForm::ALL));
    }
    one.incomer.arrangement = f(dice.pick(Arrangement::ALL));
    one.incomer.rated = perhaps(&mut dice, 70, &[16.0, 63.0, 100.0]);
    one.incomer.residual = perhaps(&mut dice, 50, &[0.03, 0.1, 0.3]);
    one.incomer.delay = f(dice.pick(RcdDelay::ALL));
    one.incomer.conditional = perhaps(&mut dice, 40, &[1000.0, 10_000.0]);
    one.incomer.short_time = perhaps(&mut dice, 40, &[1000.0, 10_000.0]);
    if dice.percent(60) {
        one.incomer.terminals_90 = f(dice.pick(YesNo::ALL));
    }
    one.surroundings.conditional = perhaps(&mut dice, 40, &[1000.0, 10_000.0]);
    one.surroundings.short_time = perhaps(&mut dice, 40, &[1000.0, 10_000.0]);
    one
}

/// A choice that is there about this often in a hundred.
fn chance<T: Copy>(dice: &mut Dice, share: usize, of: &[T]) -> Fact<T> {
    let value = dice.pick(of);
    if dice.percent(share) { f(value) } else { Fact::default() }
}

/// A small board that was found to be anything, in its enclosure and along its cables.
fn as_found(seed: u64) -> Board {
    let mut dice = Dice::new(seed);
    let phases = dice.pick(&[SupplyPhases::Single, SupplyPhases::Three, SupplyPhases::Three]);
    let mut one = board("three-phase-4", phases);
    let devices = [
        DeviceKind::CircuitBreaker,
        DeviceKind::Rcbo,
        DeviceKind::Rcd,
        DeviceKind::Fuse,
        DeviceKind::RewirableFuse,
        DeviceKind::AdjustableBreaker,
        DeviceKind::Isolator,
    ];
    for (number, at) in ["1L1", "1L2", "2L1", "2L2"].into_iter().enumerate() {
        let job = Job {
            at,
            kind: dice.pick(LoadKind::ALL),
            device: dice.pick(&devices),
            poles: dice.pick(Poles::ALL),
            rated: dice.pick(&[6.0, 16.0, 32.0, 40.0]),
            size: dice.pick(&[0.5, 1.0, 1.5, 2.5, 4.0, 10.0]),
            cpc: dice.pick(&[0.75, 1.0, 1.5, 2.5, 6.0]),
            material: dice.pick(Material::ALL),
            insulation: dice.pick(Insulation::ALL),
            method: dice.pick(Method::ALL),
            ..Job::default()
        };
        let id = add(&mut one, number as u128 + 1, &job);
        let circuit = one.circuits.get_mut(&id).unwrap();
        circuit.ring = chance(&mut dice, 40, YesNo::ALL);
        circuit.high_protective_current = dice.percent(25);
        if dice.percent(20) {
            circuit.description.clear();
        }
        if dice.percent(30) {
            circuit.earth_terminals = vec!["1E1".to_owned()];
        }
        let tests = &mut circuit.tests;
        tests.ring_line = perhaps(&mut dice, 50, &[0.001, 0.4, 0.5, 400.0]);
        tests.ring_neutral = perhaps(&mut dice, 60, &[0.001, 0.4, 0.4, 0.9]);
        tests.ring_cpc = perhaps(&mut dice, 60, &[0.001, 0.65, 3.0]);
        tests.insulation = perhaps(&mut dice, 40, &[5e4, 1e6, 2e8]);
        tests.zs = perhaps(&mut dice, 30, &[0.001, 0.5, 60.0]);
        tests.r1_r2 = perhaps(&mut dice, 20, &[0.001, 0.3]);
        let load = &mut circuit.load;
        load.leakage = perhaps(&mut dice, 40, &[0.001, 0.004, 0.02, 0.4]);
        load.current = perhaps(&mut dice, 30, &[1.0, 16.0]);
        load.start = perhaps(&mut dice, 30, &[2.0, 6.5, 25.0]);
        load.third_harmonic = perhaps(&mut dice, 50, &[0.0, 0.2, 0.5]);
        load.demand = perhaps(&mut dice, 20, &[0.5, 1.0]);
        load.residual_form = chance(&mut dice, 50, ResidualForm::ALL);
        load.dc_detection = chance(&mut dice, 50, YesNo::ALL);
        let device = one.devices.get_mut(&circuit.device.unwrap()).unwrap();
        device.residual = perhaps(&mut dice, 60, &[0.01, 0.03, 0.3]);
        device.rcd_type = chance(&mut dice, 60, survey::RcdType::ALL);
        device.neutral_protected = chance(&mut dice, 50, YesNo::ALL);
        device.terminals_90 = chance(&mut dice, 50, YesNo::ALL);
        device.breaking = perhaps(&mut dice, 60, &[3000.0, 6000.0]);
        device.ir = perhaps(&mut dice, 50, &[6.0, 16.0, 63.0]);
        device.ii = perhaps(&mut dice, 50, &[10.0, 160.0, 320.0]);
        device.isd = perhaps(&mut dice, 50, &[10.0, 100.0]);
        device.energy_class = chance(&mut dice, 50, survey::EnergyClass::ALL);
        device.let_through = perhaps(&mut dice, 30, &[2000.0, 50_000.0]);
        let cable = one.cables.get_mut(&circuit.cable.unwrap()).unwrap();
        cable.construction = chance(&mut dice, 80, Construction::ALL);
        cable.cores = chance(&mut dice, 80, &[2, 3, 4, 5]);
        cable.cpc = chance(&mut dice, 85, CpcForm::ALL);
        cable.cpc_apart = chance(&mut dice, 70, YesNo::ALL);
        cable.cpc_material = chance(&mut dice, 40, Material::ALL);
        cable.burial_depth = perhaps(&mut dice, 50, &[0.2, 0.7]);
        cable.formation = chance(&mut dice, 30, survey::Formation::ALL);
        cable.band = chance(&mut dice, 50, survey::Band::ALL);
        cable.neutral_size = perhaps(&mut dice, 40, &[1.0, 2.5, 10.0]);
        if dice.percent(25) {
            cable.length = Reading::unknown();
        }
    }
    // Two or three circuits in one cable.
    if dice.percent(50) {
        let cables: Vec<_> = one.circuits.values().map(|circuit| circuit.cable).collect();
        let to = cables[0];
        let count = 2 + dice.below(2);
        one.circuits.values_mut().take(count).for_each(|circuit| circuit.cable = to);
    }
    let about = one.circuits.keys().next().map(|id| format!("/circuits/{id}")).unwrap();
    for number in 0..2 {
        let place = if dice.percent(50) { "lower left".to_owned() } else { String::new() };
        let about = if dice.percent(50) { about.clone() } else { String::new() };
        let seen = Observation { seen: Some(dice.pick(Seen::ALL)), about, place, ..Observation::default() };
        one.observations.insert(ObservationId(Uuid::from_u128(number)), seen);
    }
    let housing = &mut one.housing;
    housing.case_bond = chance(&mut dice, 70, Bond::ALL);
    housing.door_bond = chance(&mut dice, 70, Bond::ALL);
    housing.plates_bond = chance(&mut dice, 70, Bond::ALL);
    housing.incoming_earth = chance(&mut dice, 60, YesNo::ALL);
    housing.ip_closed = chance(&mut dice, 60, Ip::ALL);
    housing.ip_open = chance(&mut dice, 40, Ip::ALL);
    housing.barriers = chance(&mut dice, 60, YesNo::ALL);
    housing.shrouds = chance(&mut dice, 60, YesNo::ALL);
    if dice.percent(30) {
        housing.live_uncovered = "busbars".to_owned();
    }
    one.incomer.arrangement = chance(&mut dice, 80, Arrangement::ALL);
    one.incomer.residual = perhaps(&mut dice, 50, &[0.03, 0.3]);
    one.incomer.rcd_type = chance(&mut dice, 50, survey::RcdType::ALL);
    one.incomer.rated = perhaps(&mut dice, 80, &[40.0, 100.0]);
    let supply = &mut one.supply;
    supply.system = chance(&mut dice, 80, EarthingSystem::ALL);
    supply.electrode = perhaps(&mut dice, 50, &[20.0, 500.0]);
    supply.first_fault = perhaps(&mut dice, 50, &[0.1, 5.0]);
    supply.reduced = chance(&mut dice, 20, YesNo::ALL);
    supply.neutral_distributed = chance(&mut dice, 50, YesNo::ALL);
    supply.voltage = perhaps(&mut dice, 90, &[230.0, 230.0, 230.0, 55.0]);
    supply.upstream_kind = chance(&mut dice, 50, DeviceKind::ALL);
    if dice.percent(15) {
        supply.current_form = f(dice.pick(survey::CurrentForm::ALL));
    }
    one.surroundings.mounting = chance(&mut dice, 60, survey::Mounting::ALL);
    one.surroundings.diversity = perhaps(&mut dice, 50, &[0.6, 1.0]);
    one.surroundings.ambient = perhaps(&mut dice, 50, &[25.0, 45.0]);
    one
}

/// Rules whose sentences the boards here are to bring forth.
const RULES: &[&str] = &[
    "device-current",
    "cable-current",
    "overload-trip",
    "volt-drop",
    "fault-loop",
    "fault-loop-measured",
    "breaking-capacity",
    "line-energy",
    "cpc-energy",
    "socket-rcd",
    "touch-voltage",
    "first-fault",
    "short-circuit-trip",
    "neutral-overcurrent",
    "neutral-load",
    "neutral-linked",
    "neutral-energy",
    "neutral-size",
    "rcd-type",
    "start-drop",
    "start-trip",
    "terminal-temperature",
    "continuous-load",
    "terminal-shared",
    "incomer-supply",
    "untraced",
    "ring-ends",
    "ring-cable",
    "insulation",
    "cores",
    "cpc-reinforced",
    "seen",
    "enclosure-bonded",
    "incoming-earth",
    "touch-closed",
    "touch-open",
    "least-size",
    "cpc-apart",
    "buried",
    "cable-readings",
    "neutral-shared",
    "safety-apart",
    "neutral-fuse",
    "leakage",
    "rcd-poles",
    "neutral-switched",
    "reduced-lines",
    "dc-poles",
    "outgoing-loading",
    "enclosure-temperature",
    "incomer-current",
    "neutral-current",
    "busbar-current",
    "upstream-current",
    "supply-cable",
    "supply-cable-current",
    "supply-overload-trip",
    "supply-disconnection",
    "supply-line-energy",
    "supply-cpc-energy",
    "supply-drop",
    "supply-neutral",
    "supply-neutral-size",
    "supply-terminals",
    "supply-voltage",
    "incomer-overload",
    "incomer-short-circuit",
    "assembly-short-circuit",
    "spd-backup",
    "fault-level",
    "external-loop",
    "supply-readings",
    "earthing-conductor",
    "main-bonding",
    "pen-size",
    "pen-rcd",
    "charging-earth",
    "selectivity",
    "rcd-selectivity",
];

/// All messages in one, itself first.
fn within(message: &Message, out: &mut Vec<Message>) {
    out.extend(message.parts().iter().cloned());
    for part in message.parts().iter() {
        for (_, argument) in part.arguments() {
            match argument {
                Argument::Message(inner) => within(inner, out),
                Argument::List(inner) => inner.iter().for_each(|one| within(one, out)),
                _ => {}
            }
        }
    }
}

fn messages(check: &Check) -> Vec<&Message> {
    let mut all = vec![&check.sentence, &check.inequality, &check.clause];
    all.extend(check.inputs.iter().flat_map(|input| [&input.label, &input.value]));
    all.extend(check.next.iter().map(|next| &next.what));
    all
}

#[test]
fn nothing_is_lacking_in_a_sentence() {
    let tables = tables();
    let mut seen = std::collections::BTreeSet::new();
    let boards = (0..1500).map(supplied).chain((0..600).map(as_found)).chain((0..8).map(|seed| mixed(seed, 25)));
    for check in boards.flat_map(|board| check_board(&board, &tables)) {
        let mut all = Vec::new();
        messages(&check).into_iter().for_each(|message| within(message, &mut all));
        for message in all {
            let words = message.words();
            // A name in braces: nothing was given for it.
            assert!(!words.contains('{'), "{}: {words}", check.rule);
            // The name alone, not lengthened: the catalogue has no such message.
            let strange = speaking(Catalogue::lengthened(), || message.to_string());
            assert_ne!(Some(strange.as_str()), message.id(), "{}", check.rule);
        }
        if let Some(rule) = RULES.iter().find(|rule| check.rule == **rule) {
            seen.insert(*rule);
        }
        let labels = check.inputs.iter().map(|input| &input.label);
        let asks = check.next.iter().map(|next| &next.what);
        for message in [&check.sentence, &check.inequality, &check.clause].into_iter().chain(labels).chain(asks) {
            let plain = message.as_plain().is_some_and(|words| words.contains(' ') && words != "U0/Ze ≤ Ipf");
            assert!(!plain, "{}: {message}", check.rule);
        }
    }
    let missed: Vec<_> = RULES.iter().filter(|rule| !seen.contains(*rule)).collect();
    assert!(missed.is_empty(), "no board had a check of {missed:?}");
}
