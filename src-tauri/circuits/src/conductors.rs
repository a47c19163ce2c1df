//! Circuits that share a cable: whether it has a core for each of their conductors, and what a neutral that they
//! share carries.

use std::collections::BTreeMap;
use std::sync::Arc;

use survey::range::Span;
use survey::sketch::{Records, Sketches};
use survey::{
    Band, Cable, CableId, Check, Construction, CpcForm, DeviceId, DeviceKind, EarthingSystem, Inputs, Known, LoadKind,
    Message, Poles, Subject, SupplyPhases, Verdict, YesNo, say,
};

use crate::balance::{Share, Sums};
use crate::board_checks::load_input;
use crate::case::Feed;
use crate::field::Field;
use crate::finding::{self, Rule, settled_by};
use crate::rules::Compared;
use crate::source::{Common, Source, line_index};
use crate::verdict::Outcome;
use crate::{as_found::CORES, cable};

const NEUTRAL_SHARED: Rule = Rule {
    name: "neutral-shared",
    clause: Message::bare("neutral-shared-clause"),
    symbols: [Message::fixed("IN"), Message::fixed("Iz")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const SAFETY: Rule = Rule::in_words("safety-apart", Message::bare("safety-apart-clause"));

const NEUTRAL_FUSE: Rule = Rule::in_words("neutral-fuse", Message::bare("neutral-fuse-clause"));

type Circuits<'s, 'a> = [&'s (Source<'a>, Option<Share>)];

/// Findings of every cable in which more than one circuit runs.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let mut cables = BTreeMap::<CableId, Vec<&(Source, Option<Share>)>>::new();
    for one in circuits {
        if let Some((id, _)) = one.0.cable {
            cables.entry(id).or_default().push(one);
        }
    }
    for (source, _) in circuits {
        neutral_fuse(common, source, out);
    }
    for (id, members) in cables.iter().filter(|(_, members)| members.len() > 1) {
        let Some((_, found)) = members.first().and_then(|(source, _)| source.cable) else { continue };
        safety(members, *id, found, out);
        // Of single cores the number belongs to one circuit; of cables in parallel, to one cable.
        let counted = found.construction.get() != Some(&Construction::SingleCore);
        if counted && found.parallel.get().is_none_or(|count| *count == 1) {
            cores(common, members, *id, found, out);
        }
    }
}

/// What one device's circuits need in a cable.
#[derive(Clone, Copy)]
struct Needs {
    lines: u8,
    /// It surely has a neutral; it may have one.
    neutral: [bool; 2],
    /// Lines it may be on, of the three of a three-phase supply; the first of a single-phase one.
    on: [bool; 3],
    /// Which lines those are is known.
    placed: bool,
}

fn needs(common: &Common, source: &Source) -> Needs {
    let any = Needs { lines: 1, neutral: [false, true], on: [true; 3], placed: false };
    let Some((_, device)) = source.device else { return any };
    let single = common.supply == Some(SupplyPhases::Single);
    let on = |lines: &[usize]| [0, 1, 2].map(|line| lines.contains(&line));
    match (common.feed(device), device.poles) {
        (_, Some(poles @ (Poles::P3 | Poles::P3N))) => {
            let sure = poles == Poles::P3N || single;
            let may = sure || source.circuit.kind != Some(LoadKind::Motor);
            Needs { lines: 3, neutral: [sure, may], on: if single { on(&[0]) } else { [true; 3] }, placed: true }
        }
        (Ok(Feed::TwoLines(_)), _) => Needs { lines: 2, neutral: [false; 2], ..any },
        (Ok(Feed::OneLine(conductor)), _) => {
            let line = if single { Some(0) } else { conductor.and_then(line_index) };
            let on = line.map_or([true; 3], |line| on(&[line]));
            Needs { lines: 1, neutral: [true; 2], on, placed: line.is_some() }
        }
        _ => any,
    }
}

fn cores(common: &Common, members: &Circuits, id: CableId, found: &Cable, out: &mut Vec<Check>) {
    // Circuits on one device share its line: they are one circuit in two records.
    let mut by_device = BTreeMap::<DeviceId, ()>::new();
    let needs: Vec<Needs> = members
        .iter()
        .filter(|(source, _)| source.device.is_none_or(|(device, _)| by_device.insert(device, ()).is_none()))
        .map(|(source, _)| needs(common, source))
        .collect();
    if needs.len() < 2 {
        return;
    }
    let count = |which: &dyn Fn(&Needs) -> bool| needs.iter().filter(|one| which(one)).count();
    let lines: usize = needs.iter().map(|one| usize::from(one.lines)).sum();
    let (sure, most) = (count(&|one| one.neutral[0]), count(&|one| one.neutral[1]));
    let protective: [usize; 2] = match found.cpc.get() {
        Some(CpcForm::Core) => [1, 1],
        Some(_) => [0, 0],
        None => [0, 1],
    };
    let path = format!("/cables/{id}/cores");
    let input = finding::chosen(path.clone(), finding::label(Field::Cores), &found.cores, ToString::to_string);
    let cores = found.cores.get().map(|count| usize::from(*count));
    let least = lines + sure.min(1) + protective[0];
    if let Some(there) = cores.filter(|there| *there < least) {
        for (source, _) in members {
            let own = needs_alone(common, source, found);
            if there < own {
                continue;
            }
            let next = finding::next(path.clone(), say!("cores-shared-ask"), 1.0);
            let (circuits, ask) = (names(members), next.what.clone());
            let sentence = say!("cores-shared", circuits = circuits, needed = least, cores = there, ask = ask);
            let inequality = say!("found-relation", what = input.label.clone(), value = input.value.clone());
            let subject = Subject::Circuit(source.id);
            let inputs = vec![input.clone()];
            out.push(CORES.plain(subject, Verdict::Undecided, sentence, inequality, None, inputs, vec![next]));
        }
        return;
    }
    // Cores left for neutrals, most and fewest.
    let left = cores.map(|there| protective.map(|own| there.saturating_sub(lines + own)));
    if most < 2 || left.is_some_and(|[_, fewest]| fewest >= most) {
        return;
    }
    let certain = left.is_some_and(|[most_left, _]| most_left < sure);
    let alone = certain && left.is_some_and(|[most_left, _]| most_left == 1);
    let with: Vec<&Needs> = needs.iter().filter(|one| one.neutral[0]).collect();
    let placed = with.iter().all(|one| one.placed);
    let same = |line: usize| with.iter().filter(|one| one.on.get(line) == Some(&true)).count();
    let all_on_one = placed && (0..3).any(|line| same(line) == with.len());
    let twice = placed && (0..3).any(|line| same(line) > 1);
    let forbidden = certain && (all_on_one || (alone && twice));

    let shares: Option<Vec<Share>> = members.iter().map(|(_, share)| *share).collect();
    let current = shares.filter(|_| common.supply.is_some()).map(|shares| {
        let all = Sums::of(common.supply, &shares).neutral();
        if alone {
            all
        } else {
            Span { lo: 0.0, hi: shares.iter().map(|one| one.draw.current.hi().get()).sum::<f64>().max(all.hi) }
        }
    });
    let bears = members.first().and_then(|(source, _)| neutral_bears(common, source));
    let outcome = current.zip(bears).map(|(value, limit)| Outcome { value, limit });
    let too_much = certain && outcome.is_some_and(|outcome| outcome.verdict() == Verdict::Fails);
    let verdict = if forbidden || too_much { Verdict::Fails } else { Verdict::Undecided };
    let ask = match (cores, certain) {
        (None, _) => say!("neutral-shared-ask-cores"),
        (_, false) => say!("neutral-shared-ask-own"),
        _ => say!("neutral-shared-ask"),
    };
    let numbers = outcome.map(|outcome| Compared::of(outcome, outcome.verdict(), "A", 1.0));
    let carries = match (&numbers, outcome.map(Outcome::verdict)) {
        (Some(numbers), Some(found)) => numbers.clone().said("shared-neutral-carries", found, []),
        _ => Message::default(),
    };
    let circuits = names(members);
    let settle = || Message::to_settle(ask.clone());
    let sentence = Message::several(match (verdict, certain) {
        (Verdict::Fails, _) if all_on_one => {
            [say!("neutral-shared-one-line", circuits = circuits), carries, say!("neutral-shared-act")]
        }
        (Verdict::Fails, _) => [say!("neutral-shared", circuits = circuits), carries, say!("neutral-shared-act")],
        (_, true) => [say!("neutral-shared-only-if", circuits = circuits), carries, settle()],
        _ => [say!("neutral-shared-perhaps", circuits = circuits), settle(), Message::default()],
    });
    let symbols = NEUTRAL_SHARED.symbols;
    let inequality = match (outcome, &numbers) {
        (Some(outcome), Some(numbers)) if outcome.verdict() == verdict || (certain && !forbidden) => {
            numbers.clone().relation(symbols, verdict)
        }
        _ => say!("neutrals-one-for-each", circuits = needs.len()),
    };
    let mut inputs = vec![
        input,
        finding::chosen(format!("/cables/{id}/cpc"), finding::label(Field::Cpc), &found.cpc, |one| one.words()),
    ];
    inputs.push(finding::input(format!("/cables/{id}/size"), finding::label(Field::Size), &found.size));
    let loads = Arc::new(Sketches::new(Records::NONE, members.iter().map(|one| load_input(one)).collect()));
    let inputs = Inputs::from(inputs).then(Inputs::all_sketched(&loads));
    for (source, _) in members {
        let next = vec![finding::next(path.clone(), ask.clone(), 1.0)];
        // The margin is that of the current; it says nothing where the neutral may not be shared at all.
        let margin = outcome.filter(|outcome| outcome.verdict() == verdict).and_then(Outcome::margin);
        let (sentence, inequality, inputs) = (sentence.clone(), inequality.clone(), inputs.clone());
        out.push(NEUTRAL_SHARED.plain(
            Subject::Circuit(source.id),
            verdict,
            sentence,
            inequality,
            margin,
            inputs,
            next,
        ));
    }
}

/// Cores that a circuit needs by itself.
fn needs_alone(common: &Common, source: &Source, found: &Cable) -> usize {
    let own = needs(common, source);
    usize::from(own.lines) + usize::from(own.neutral[0]) + usize::from(found.cpc.get() == Some(&CpcForm::Core))
}

/// What a neutral core of a circuit's cable carries as it lies, A; `None` where that is not known.
fn neutral_bears(common: &Common, source: &Source) -> Option<Span> {
    let (_, found) = source.cable?;
    let size = found.neutral_size.range().or_else(|| found.size.range())?;
    let ways = cable::ways_of(&common.case(source), size, Span::point(1.0)).ok()?;
    cable::most(&ways).ok().map(survey::Range::numbers)
}

/// A safety circuit in one cable with another.
fn safety(members: &Circuits, id: CableId, found: &Cable, out: &mut Vec<Check>) {
    if found.band.get() != Some(&Band::Fire) {
        return;
    }
    // What is plugged in, moves, heats or feeds a board is no fire alarm or emergency lighting.
    let other = |kind| {
        use LoadKind::{Distribution, Heating, Motor, Sockets, VehicleCharging};
        matches!(kind, Some(Sockets | Heating | Motor | VehicleCharging | Distribution))
    };
    let power = members.iter().any(|(source, _)| other(source.circuit.kind));
    let path = format!("/cables/{id}/band");
    let ask = say!("safety-apart-ask");
    let (verdict, sentence) = match power {
        true => (Verdict::Fails, say!("safety-apart", circuits = names(members))),
        false => {
            let next = finding::next(path.clone(), ask.clone(), 1.0);
            (Verdict::Undecided, settled_by(say!("safety-apart-perhaps", circuits = names(members)), &next))
        }
    };
    for (source, _) in members {
        let input = finding::chosen(path.clone(), say!("found-band"), &found.band, |one| one.words());
        let next = vec![finding::next(path.clone(), ask.clone(), 1.0)];
        let inequality = say!("safety-apart-relation");
        let sentence = sentence.clone();
        out.push(SAFETY.plain(Subject::Circuit(source.id), verdict, sentence, inequality, None, vec![input], next));
    }
}

/// "1L1 pump and 3L1 fan", in the order of their poles.
fn names(members: &Circuits) -> Message {
    let mut names = members.iter().map(|(source, _)| source.name());
    let last = names.next_back().unwrap_or_default();
    match names.reduce(|before, next| say!("circuits-then", before = before, next = next)) {
        Some(before) => say!("circuits-and", before = before, last = last),
        None => last,
    }
}

/// A fuse in the neutral of a TN or TT system: when it blows the load is dead to look at, and its line still live.
///
/// An IT system asks for a release in a distributed neutral, and both poles of a centre-tapped supply are lines.
fn neutral_fuse(common: &Common, source: &Source, out: &mut Vec<Check>) {
    let Some((id, device)) = source.device else { return };
    let supply = &common.board.supply;
    let earthed = supply.system.get() != Some(&EarthingSystem::It)
        && !crate::source::direct(supply)
        && crate::source::reduced(supply) == [YesNo::No];
    if !earthed || !matches!(device.kind, Some(DeviceKind::Fuse | DeviceKind::RewirableFuse)) {
        return;
    }
    let protected = device.neutral_protected.get();
    let fused = match device.poles {
        // Two poles for line and neutral, both of the fuse's.
        Some(Poles::P2) => matches!(common.feed(device), Ok(Feed::OneLine(_))) && protected != Some(&YesNo::No),
        Some(Poles::P1N | Poles::P3N) => protected == Some(&YesNo::Yes),
        _ => false,
    };
    if !fused {
        return;
    }
    let path = |field: &str| format!("/devices/{id}/{field}");
    let inputs = vec![
        finding::told(
            path("kind"),
            finding::label(Field::DeviceKind),
            device.kind.map(DeviceKind::words).unwrap_or_default(),
            Known::Stated,
        ),
        finding::told(
            path("poles"),
            finding::label(Field::Poles),
            device.poles.map(Poles::words).unwrap_or_default(),
            Known::Stated,
        ),
        finding::chosen(
            path("neutral_protected"),
            finding::label(Field::NeutralProtected),
            &device.neutral_protected,
            |one| one.words(),
        ),
    ];
    let (sentence, inequality) = (say!("neutral-fuse"), say!("neutral-fuse-relation"));
    out.push(NEUTRAL_FUSE.plain(
        Subject::Circuit(source.id),
        Verdict::Fails,
        sentence,
        inequality,
        None,
        inputs,
        Vec::new(),
    ));
}
