//! A neutral that is the protective conductor as well (PEN), and what a TN-C-S supply asks of charging points.

use survey::range::Span;
use survey::{Message, Arrangement, Board, Cable, CableId, Check, Construction, CpcForm, DeviceKind, EarthingSystem, Input, LoadKind,
    Material, Poles, Range, Subject, SupplyPhases, Verdict,
};

use crate::finding::{self, Rule};
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const SIZE: Rule = Rule {
    name: "pen-size",
    clause: Message::fixed("IEC 60364-5-54, 543.4.1 (BS 7671, 543.4.2), from memory: a PEN conductor of 10 mm² copper or 16 mm² aluminium at \
             least"),
    symbols: [Message::fixed("S needed"), Message::fixed("S of the PEN")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const RCD: Rule = Rule::in_words(
    "pen-rcd",
    Message::fixed("IEC 60364-4-41, 411.4.5 (from memory): no PEN conductor on the load side of an RCD; it is parted before"),
);

const CHARGING: Rule = Rule::in_words(
        "charging-earth",
        Message::fixed("BS 7671, 722.411.4.1 (from memory): no charging point outdoors on the earth of a TN-C-S supply without \
             protection against a broken PEN"),
    ).advised();

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
        let sentence = "A broken PEN before a TN-C-S supply would make the vehicle live. Outdoors the charging point needs \
                        protection that opens on it, or an earth electrode of its own instead; look which this one has.";
        let inputs = vec![system_input(common)];
        let subject = Subject::Circuit(source.id);
        out.push(CHARGING.plain(
            subject,
            Verdict::Fails,
            sentence,
            "TN-C-S: charging outdoors",
            None,
            inputs,
            Vec::new(),
        ));
    }
}

fn system_input(common: &Common) -> Input {
    finding::chosen("/supply/system", "earthing system", &common.board.supply.system, |one| one.words().to_owned())
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
        finding::chosen(at("cores"), "cores of the supply cable", &pen.cable.cores, ToString::to_string),
        finding::chosen(at("cpc"), "its protective conductor", &pen.cable.cpc, |one| one.words().to_owned()),
    ]
}

const ASK: &str =
    "look what the supply's protective conductor is: a conductor of its own, the armour, or the neutral as a PEN";

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
    inputs.push(finding::input(at(name), "size of its neutral", reading));
    inputs.push(finding::chosen(at("material"), "material", &pen.cable.material, |one| one.words().to_owned()));
    if !pen.read {
        if outcome.verdict() == Verdict::Fails {
            let why = format!(
                "the supply cable has no core for a protective conductor beside its neutral; as a PEN a neutral of {} is too \
                 thin. To settle it, {ASK}",
                reading.shown()
            );
            out.push(SIZE.open(Subject::Board, why, inputs, vec![finding::next(at("cpc"), ASK, 1.0)]));
        }
        return;
    }
    let next = vec![finding::next(at(name), "measure the supply's neutral, and look of what metal it is", 1.0)];
    out.push(SIZE.judged_in_words(Subject::Board, outcome, inputs, next, |verdict, needed, has| match verdict {
        Verdict::Holds => format!("The supply's neutral is its protective conductor too; it has {has} of {needed} needed."),
        Verdict::Undecided => {
            format!("The supply's neutral is its protective conductor too and has {has}; it needs {needed}: undecided.")
        }
        _ => format!(
            "The supply's neutral is its protective conductor too, and has only {has}: a PEN needs {needed}. Count the cores \
             again, or lay a protective conductor."
        ),
    }));
}

fn rcd(common: &Common, pen: &Pen, out: &mut Vec<Check>) {
    let board = common.board;
    let upstream = matches!(board.supply.upstream_kind.get(), Some(DeviceKind::Rcd | DeviceKind::Rcbo));
    let incomer = matches!(board.incomer.arrangement.get(), Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd));
    let mut inputs = inputs(pen);
    inputs.push(system_input(common));
    let cpc = format!("/cables/{}/cpc", pen.id);
    let (verdict, sentence, path, ask) = match (upstream, incomer, pen.read) {
        (true, _, true) => (
            Verdict::Fails,
            "The RCD upstream has a PEN conductor behind it: it cannot see a fault to earth. The PEN has to be parted before \
             the RCD, and a protective conductor laid to this board.",
            cpc,
            ASK,
        ),
        (true, _, false) => (
            Verdict::Undecided,
            "The cable behind the RCD upstream has no core for a protective conductor: whether its neutral is a PEN is \
             undecided.",
            cpc,
            ASK,
        ),
        (false, true, true) => (
            Verdict::Undecided,
            "A PEN conductor comes to an incomer that is an RCD: whether it is parted before the RCD is undecided.",
            "/incomer/arrangement".to_owned(),
            "look, isolated upstream and proved dead, whether the PEN ends at the earth bar or a terminal before the RCD, and \
             only the neutral passes the RCD",
        ),
        (false, true, false) => (
            Verdict::Undecided,
            "The supply cable has no core for a protective conductor and the incomer is an RCD: whether a PEN passes through \
             it is undecided.",
            cpc,
            ASK,
        ),
        (false, false, _) => return,
    };
    let next = vec![finding::next(path, ask, 1.0)];
    out.push(RCD.plain(Subject::Board, verdict, sentence, "PEN: parted before the RCD", None, inputs, next));
}
