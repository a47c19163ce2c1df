//! Every sentence has its words, and nothing that stands in one is lacking.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::check_board;
use common::mixed::{Dice, mixed};
use common::{Job, add, board, f, r, tables};
use survey::words::{Catalogue, speaking};
use survey::{
    Argument, Arrangement, Board, Check, CpcForm, Curve, DeviceKind, EarthingSystem, Insulation, LoadKind, Message,
    Quantity, RcdDelay, Reading, SupplyPhases, YesNo,
};

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

/// Rules whose sentences, clauses and what to read come from the catalogue.
const CATALOGUED: &[&str] = &[
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
fn within<'a>(message: &'a Message, out: &mut Vec<&'a Message>) {
    out.extend(message.parts());
    for part in message.parts() {
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
    let boards = (0..1500).map(supplied).chain((0..8).map(|seed| mixed(seed, 25)));
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
        if let Some(rule) = CATALOGUED.iter().find(|rule| check.rule == **rule) {
            seen.insert(*rule);
            for message in [&check.sentence, &check.inequality, &check.clause] {
                let plain = message.as_plain().is_some_and(|words| words.contains(' ') && words != "U0/Ze ≤ Ipf");
                assert!(!plain, "{rule}: {message}");
            }
        }
    }
    let missed: Vec<_> = CATALOGUED.iter().filter(|rule| !seen.contains(*rule)).collect();
    assert!(missed.is_empty(), "no board had a check of {missed:?}");
}
