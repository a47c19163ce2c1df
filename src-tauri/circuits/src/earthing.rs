//! The earthing conductor and the main bonding conductors, taken to be of copper.

use survey::range::Span;
use survey::{Argument, Check, EarthingSystem, Input, Insulation, Known, Material, Message, Range, Subject, say};

use crate::energy::by_line_size;
use crate::field::loop_label;
use crate::finding::{self, Rule};
use crate::selectivity::{Upstream, energy_before, upstream};
use crate::source::Common;
use crate::tables::{Metal, Use};
use crate::verdict::Outcome;

const EARTHING: Rule = Rule {
    name: "earthing-conductor",
    clause: say!("earthing-conductor-clause"),
    symbols: [say!("supply-symbol-s-needed"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const BONDING: Rule = Rule {
    name: "main-bonding",
    clause: say!("main-bonding-clause"),
    symbols: [say!("supply-symbol-s-needed"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

/// Checks of earthing and main bonding, where the board stands at the earthing of its building: a
/// size is known, or the system has its earth made there (TN-C-S, TT).
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let here = matches!(supply.system.get(), Some(EarthingSystem::TnCS | EarthingSystem::Tt));
    if !here && supply.bonding.is_unknown() && supply.earthing_conductor.is_unknown() {
        return;
    }
    let line = common.supply_cable().and_then(|(_, cable)| cable.size.range()).map(Range::numbers);
    earthing(common, line, out);
    bonding(common, line, out);
}

fn line_input(common: &Common) -> Input {
    match common.supply_cable() {
        Some((id, cable)) => finding::input(format!("/cables/{id}/size"), say!("earthing-label-line"), &cable.size),
        None => finding::told("/supply/cable", say!("earthing-label-cable"), say!("not-known"), Known::Unknown),
    }
}

fn line_path(common: &Common) -> String {
    common.supply_cable().map_or("/supply/cable".to_owned(), |(id, _)| format!("/cables/{id}/size"))
}

fn by_line(line: Span) -> Span {
    Span { lo: by_line_size(line.lo), hi: by_line_size(line.hi) }
}

fn earthing(common: &Common, line: Option<Span>, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let least = common.tables.assembly.earthing().least;
    let mut inputs = vec![
        finding::input("/supply/earthing_conductor", say!("earthing-conductor-label"), &supply.earthing_conductor),
        line_input(common),
    ];
    let by_energy = by_energy(common);
    if by_energy.is_some() {
        inputs.push(finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream));
        inputs.push(finding::input("/supply/ze", loop_label(common.board).clone(), &supply.ze));
    }
    let enough = [line.map(|line| by_line(line).hi), by_energy].into_iter().flatten().reduce(f64::min);
    let path = line_path(common);
    let wanting = finding::all_of([
        supply
            .earthing_conductor
            .is_unknown()
            .then_some(("/supply/earthing_conductor", say!("earthing-conductor-ask"))),
        line.is_none().then_some((path.as_str(), say!("earthing-ask-line"))),
        (!supply.earthing_conductor.is_unknown() && line.is_some() && by_energy.is_none())
            .then_some(("/supply/upstream_kind", say!("earthing-conductor-ask-upstream"))),
        (!supply.earthing_conductor.is_unknown() && by_energy.is_some() && line.is_some())
            .then_some(("/supply/ze", say!("supply-ask-ze"))),
    ]);
    let (Some(size), Some(enough)) = (supply.earthing_conductor.range(), enough) else {
        out.push(EARTHING.open(Subject::Board, say!("earthing-conductor-unknown"), inputs, wanting));
        return;
    };
    // The energy is an upper bound: less may do, but never less than the standard's smallest size.
    let outcome = Outcome { value: Span { lo: least, hi: enough.max(least) }, limit: size.numbers() };
    let most = outcome.value.hi;
    out.push(EARTHING.judged(Subject::Board, outcome, inputs, wanting, |verdict, compared| {
        let more = [("most", Argument::number(most, "mm²")), ("least", Argument::number(least, "mm²"))];
        let sentence = compared.said("earthing-conductor", verdict, more);
        match supply.system.get() {
            Some(EarthingSystem::Tt) => {
                let buried = common.tables.assembly.earthing().buried_bare;
                Message::several([sentence, say!("earthing-conductor-in-ground", size = (buried, "mm²"))])
            }
            _ => sentence,
        }
    }));
}

/// Size that bears the energy of an earth fault at the board until the device upstream opens, mm².
fn by_energy(common: &Common) -> Option<f64> {
    let Upstream::Devices(devices) = upstream(common.board) else { return None };
    let fault = common.level.to_earth()?;
    let (lo, hi) = (fault.smallest.lo().get(), fault.largest.hi().get());
    let mut most = 0.0_f64;
    for device in devices {
        most = most.max(energy_before(device, lo, hi, common.tables)?);
    }
    let k = common.tables.adiabatic(
        Use::Separate,
        Metal::Of(Material::Copper),
        Insulation::Pvc70,
        Span { lo: 1.0, hi: 300.0 },
    )?;
    Some((Span::point(most).sqrt() / k).hi)
}

fn bonding(common: &Common, line: Option<Span>, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let sizes = common.tables.assembly.earthing();
    let inputs =
        vec![finding::input("/supply/bonding", say!("main-bonding-label"), &supply.bonding), line_input(common)];
    let bound = |size: f64| size.clamp(sizes.bonding_least, sizes.bonding_most);
    let needed = match line.map(by_line) {
        Some(protective) => Span { lo: bound(protective.lo / 2.0), hi: bound(protective.hi / 2.0) },
        None => Span { lo: sizes.bonding_least, hi: sizes.bonding_most },
    };
    let path = line_path(common);
    let wanting = finding::all_of([
        supply.bonding.is_unknown().then_some(("/supply/bonding", say!("main-bonding-ask"))),
        (needed.lo != needed.hi).then_some((path.as_str(), say!("earthing-ask-line"))),
    ]);
    let Some(size) = supply.bonding.range() else {
        out.push(BONDING.open(Subject::Board, say!("main-bonding-unknown"), inputs, wanting));
        return;
    };
    let outcome = Outcome { value: needed, limit: size.numbers() };
    out.push(BONDING.judged(Subject::Board, outcome, inputs, wanting, |verdict, compared| {
        let sentence = compared.said("main-bonding", verdict, []);
        match supply.system.get() {
            Some(EarthingSystem::TnCS) => Message::several([sentence, say!("main-bonding-operator")]),
            _ => sentence,
        }
    }));
}
