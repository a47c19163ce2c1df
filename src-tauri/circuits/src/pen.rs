//! A neutral that is the protective conductor as well (PEN), and what a TN-C-S supply asks of charging points.

use survey::range::Span;
use survey::{
    Arrangement, Board, Cable, CableId, Check, Construction, CpcForm, DeviceKind, EarthingSystem, Input, LoadKind,
    Material, Message, Poles, Range, Subject, SupplyPhases, Verdict, say,
};

use crate::finding::{self, Rule};
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const SIZE: Rule = Rule {
    name: "pen-size",
    clause: say!("pen-size-clause"),
    symbols: [say!("supply-symbol-s-needed"), say!("supply-symbol-s-pen")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const RCD: Rule = Rule::in_words("pen-rcd", say!("pen-rcd-clause"));

const CHARGING: Rule = Rule::in_words("charging-earth", say!("charging-earth-clause")).advised();

/// A supply cable with no core left for a protective conductor beside lines and neutral.
struct Pen<'a> {
    id: CableId,
    cable: &'a Cable,
    /// Its protective conductor was read to be a core: then that core is the neutral too. Else nobody read what it is.
    read: bool,
}

/// Checks of a board on a TN-C-S supply.
pub(crate) fn check<S>(common: &Common, circuits: &[(Source, S)], out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    if supply.system.get() != Some(&EarthingSystem::TnCS) {
        return;
    }
    if let Some(pen) = pen(common.board, common.supply) {
        size(&pen, out);
        rcd(common, &pen, out);
    }
    for (source, _) in circuits.iter().filter(|(source, _)| source.circuit.kind == Some(LoadKind::VehicleCharging)) {
        let inputs = vec![system_input(common)];
        let subject = Subject::Circuit(source.id);
        out.push(CHARGING.plain(
            subject,
            Verdict::Fails,
            say!("charging-earth"),
            say!("charging-earth-relation"),
            None,
            inputs,
            Vec::new(),
        ));
    }
}

fn system_input(common: &Common) -> Input {
    finding::chosen("/supply/system", say!("pen-label-system"), &common.board.supply.system, |one| one.words())
}

fn pen(board: &Board, supply: Option<SupplyPhases>) -> Option<Pen<'_>> {
    let id = board.supply.cable?;
    let cable = board.cables.get(&id).filter(|cable| !cable.removed)?;
    let lines = match supply? {
        SupplyPhases::Single => 1,
        SupplyPhases::Three => 3,
    };
    let built = matches!(
        cable.construction.get(),
        Some(Construction::Multicore | Construction::Armoured | Construction::Flexible | Construction::FlatTwinEarth)
    );
    if board.supply.system.get() != Some(&EarthingSystem::TnCS) || !built || cable.cores.get() != Some(&(lines + 1)) {
        return None;
    }
    // A board whose circuits are all of three lines alone may have no neutral.
    let neutral = lines == 1
        || board.live_circuits().any(|(_, circuit)| {
            let poles = board.device_of(circuit).and_then(|(_, device)| device.poles);
            matches!(poles, Some(Poles::P1 | Poles::P1N | Poles::P3N))
        });
    let read = match cable.cpc.get() {
        Some(CpcForm::Core) => true,
        Some(_) => return None,
        None => false,
    };
    neutral.then_some(Pen { id, cable, read })
}

/// The device upstream is an RCD with a PEN behind it, which blinds it.
pub(crate) fn behind_rcd(board: &Board, supply: Option<SupplyPhases>) -> bool {
    matches!(board.supply.upstream_kind.get(), Some(DeviceKind::Rcd | DeviceKind::Rcbo))
        && pen(board, supply).is_some_and(|pen| pen.read)
}

fn inputs(pen: &Pen) -> Vec<Input> {
    let at = |field: &str| format!("/cables/{}/{field}", pen.id);
    vec![
        finding::chosen(at("cores"), say!("pen-label-cores"), &pen.cable.cores, ToString::to_string),
        finding::chosen(at("cpc"), say!("pen-label-cpc"), &pen.cable.cpc, |one| one.words()),
    ]
}

const ASK: Message = say!("pen-ask");

fn size(pen: &Pen, out: &mut Vec<Check>) {
    let (name, reading) = match pen.cable.neutral_size.range() {
        Some(_) => ("neutral_size", &pen.cable.neutral_size),
        None => ("size", &pen.cable.size),
    };
    let Some(has) = reading.range().map(Range::numbers) else { return };
    let at = |field: &str| format!("/cables/{}/{field}", pen.id);
    let needed = match pen.cable.material.get() {
        Some(Material::Copper) => Span::point(10.0),
        Some(Material::Aluminium) => Span::point(16.0),
        None => Span { lo: 10.0, hi: 16.0 },
    };
    let outcome = Outcome { value: needed, limit: has };
    let mut inputs = inputs(pen);
    inputs.push(finding::input(at(name), say!("pen-label-neutral"), reading));
    inputs.push(finding::chosen(at("material"), say!("pen-label-material"), &pen.cable.material, |one| one.words()));
    if !pen.read {
        if outcome.verdict() == Verdict::Fails {
            let why = say!("pen-size-perhaps", size = finding::shown(reading), ask = ASK);
            out.push(SIZE.open(Subject::Board, why, inputs, vec![finding::next(at("cpc"), ASK, 1.0)]));
        }
        return;
    }
    let next = vec![finding::next(at(name), say!("pen-size-ask"), 1.0)];
    out.push(SIZE.judged_as(Subject::Board, outcome, inputs, next, "pen-size", []));
}

fn rcd(common: &Common, pen: &Pen, out: &mut Vec<Check>) {
    let board = common.board;
    let upstream = matches!(board.supply.upstream_kind.get(), Some(DeviceKind::Rcd | DeviceKind::Rcbo));
    let incomer = matches!(board.incomer.arrangement.get(), Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd));
    let mut inputs = inputs(pen);
    inputs.push(system_input(common));
    let cpc = format!("/cables/{}/cpc", pen.id);
    let (verdict, sentence, path, ask) = match (upstream, incomer, pen.read) {
        (true, _, true) => (Verdict::Fails, say!("pen-rcd-upstream"), cpc, ASK),
        (true, _, false) => (Verdict::Undecided, say!("pen-rcd-upstream-perhaps"), cpc, ASK),
        (false, true, true) => {
            let path = "/incomer/arrangement".to_owned();
            (Verdict::Undecided, say!("pen-rcd-incomer"), path, say!("pen-rcd-ask-parted"))
        }
        (false, true, false) => (Verdict::Undecided, say!("pen-rcd-incomer-perhaps"), cpc, ASK),
        (false, false, _) => return,
    };
    let next = vec![finding::next(path, ask, 1.0)];
    out.push(RCD.plain(Subject::Board, verdict, sentence, say!("pen-rcd-relation"), None, inputs, next));
}
