//! The earthing conductor and the main bonding conductors, taken to be of copper.

use survey::range::Span;
use survey::{Message, Check, EarthingSystem, Input, Insulation, Known, Material, Range, Subject, Verdict};

use crate::energy::by_line_size;
use crate::finding::{self, Rule};
use crate::selectivity::{Upstream, energy_before, upstream};
use crate::shown;
use crate::source::Common;
use crate::tables::{Metal, Use};
use crate::verdict::Outcome;

const EARTHING: Rule = Rule {
    name: "earthing-conductor",
    clause: Message::fixed("IEC 60364-5-54, 542.3.1 and 543.1: S ≥ table 54.2 or √(I²t)/k"),
    symbols: [Message::fixed("S needed"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const BONDING: Rule = Rule {
    name: "main-bonding",
    clause: Message::fixed("IEC 60364-5-54, 544.1.1: half the largest protective conductor, 6 mm² to 25 mm² of copper"),
    symbols: [Message::fixed("S needed"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const ASK_EARTHING: &str = "read or measure the size of the earthing conductor";
const ASK_BONDING: &str = "read or measure the size of the main bonding conductors";
const ASK_LINE: &str = "enter the incoming cable with its size";

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
        Some((id, cable)) => {
            finding::input(format!("/cables/{id}/size"), "size of the incoming line conductor", &cable.size)
        }
        None => finding::told("/supply/cable", "incoming cable", shown::NOT_KNOWN, Known::Unknown),
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
        finding::input("/supply/earthing_conductor", "earthing conductor", &supply.earthing_conductor),
        line_input(common),
    ];
    let by_energy = by_energy(common);
    if by_energy.is_some() {
        inputs.push(finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream));
        inputs.push(finding::input("/supply/ze", "loop impedance at the board, Ze", &supply.ze));
    }
    let enough = [line.map(|line| by_line(line).hi), by_energy].into_iter().flatten().reduce(f64::min);
    let path = line_path(common);
    let wanting = finding::all_of([
        supply.earthing_conductor.is_unknown().then_some(("/supply/earthing_conductor", ASK_EARTHING)),
        line.is_none().then_some((path.as_str(), ASK_LINE)),
        (!supply.earthing_conductor.is_unknown() && line.is_some() && by_energy.is_none())
            .then_some(("/supply/upstream_kind", "read what the device upstream is: it tells how long a fault lasts")),
        (!supply.earthing_conductor.is_unknown() && by_energy.is_some() && line.is_some())
            .then_some(("/supply/ze", "measure the loop impedance at the board's incoming terminals")),
    ]);
    let (Some(size), Some(enough)) = (supply.earthing_conductor.range(), enough) else {
        let why = "it takes the sizes of the earthing conductor and of the incoming line conductor";
        out.push(EARTHING.open(Subject::Board, why, inputs, wanting));
        return;
    };
    // The energy is an upper bound: less may do, but never less than the standard's smallest size.
    let outcome = Outcome { value: Span { lo: least, hi: enough.max(least) }, limit: size.numbers() };
    let ground = match supply.system.get() {
        Some(EarthingSystem::Tt) => format!(
            " Bare in the ground without protection against corrosion it takes {} (table 54.1).",
            shown::span(Span::point(common.tables.assembly.earthing().buried_bare), "mm²")
        ),
        _ => String::new(),
    };
    let most = shown::span(Span::point(outcome.value.hi), "mm²");
    out.push(EARTHING.judged_in_words(Subject::Board, outcome, inputs, wanting, |verdict, _, size| match verdict {
        Verdict::Holds => format!("{most} of copper would do as earthing conductor; it has {size}.{ground}"),
        Verdict::Fails | Verdict::Advised => {
            let least = shown::span(Span::point(least), "mm²");
            format!("The earthing conductor has {size}; no less than {least} of copper is allowed.{ground}")
        }
        Verdict::Undecided => format!(
            "The earthing conductor has {size}; {most} of copper would surely do, less only where the fault is ended \
             fast enough.{ground}"
        ),
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
    let inputs = vec![finding::input("/supply/bonding", "main bonding conductor", &supply.bonding), line_input(common)];
    let bound = |size: f64| size.clamp(sizes.bonding_least, sizes.bonding_most);
    let needed = match line.map(by_line) {
        Some(protective) => Span { lo: bound(protective.lo / 2.0), hi: bound(protective.hi / 2.0) },
        None => Span { lo: sizes.bonding_least, hi: sizes.bonding_most },
    };
    let path = line_path(common);
    let wanting = finding::all_of([
        supply.bonding.is_unknown().then_some(("/supply/bonding", ASK_BONDING)),
        (needed.lo != needed.hi).then_some((path.as_str(), ASK_LINE)),
    ]);
    let Some(size) = supply.bonding.range() else {
        let why = "the size of the main bonding conductors is not known";
        out.push(BONDING.open(Subject::Board, why, inputs, wanting));
        return;
    };
    let operator = match supply.system.get() {
        Some(EarthingSystem::TnCS) => {
            " On a TN-C-S supply BS 7671, table 54.8 (from memory) asks for 10\u{a0}mm² with a PEN of up to 35\u{a0}mm², and the \
             network operator may ask for more: ask."
        }
        _ => "",
    };
    let outcome = Outcome { value: needed, limit: size.numbers() };
    out.push(BONDING.judged_in_words(
        Subject::Board,
        outcome,
        inputs,
        wanting,
        |verdict, needed, size| match verdict {
            Verdict::Holds => format!("Main bonding needs {needed} of copper and has {size}.{operator}"),
            Verdict::Fails | Verdict::Advised => {
                format!("Main bonding needs {needed} of copper and has only {size}.{operator}")
            }
            Verdict::Undecided => format!("Main bonding needs {needed} of copper and has {size}: open.{operator}"),
        },
    ));
}
