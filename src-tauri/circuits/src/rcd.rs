//! RCDs: the current that leaks in normal use, and whether all live conductors pass through.

use std::sync::Arc;

use survey::range::Span;
use survey::sketch::{Records, Rough, Sketch, Sketches};
use survey::{
    Arrangement, Check, CpcForm, Device, DeviceId, DeviceKind, EarthingSystem, Inputs, Known, LoadKind, Message,
    NextReading, Poles, Range, Reading, Subject, SupplyPhases, Text, Verdict, YesNo, say,
};

use crate::balance::Share;
use crate::case::Feed;
use crate::field::Field;
use crate::finding::{self, Rule};
use crate::source::{Common, Source, line_index, reading};
use crate::verdict::Outcome;

const LEAKAGE: Rule = Rule {
    name: "leakage",
    clause: Message::bare("leakage-clause"),
    symbols: [Message::bare("symbol-leakage"), Message::fixed("0.3 IΔn")],
    unit: "mA",
    scale: 0.001,
    advice: false,
};

const POLES: Rule = Rule {
    name: "rcd-poles",
    clause: Message::bare("rcd-poles-clause"),
    symbols: [Message::bare("symbol-conductors"), Message::bare("symbol-poles")],
    unit: "",
    scale: 1.0,
    advice: false,
};

const NEUTRAL: Rule = Rule {
    name: "neutral-switched",
    clause: Message::bare("neutral-switched-clause"),
    symbols: [Message::bare("symbol-conductors"), Message::bare("symbol-poles")],
    unit: "",
    scale: 1.0,
    advice: false,
};

const BOTH_LINES: Rule = Rule::in_words("reduced-lines", Message::bare("reduced-lines-clause"));

/// Share of IΔn that may leak in normal use.
const SHARE: f64 = 0.3;

/// A circuit that leaks more carries two earths (IEC 60364-5-54, 543.7) and is marked so, A.
const MARKED: f64 = 0.01;

const ASK: Message = Message::bare("leakage-ask-circuit");

/// Checks of every RCD on the board.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let arrangement = board.incomer.arrangement.get();
    if matches!(arrangement, Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd)) {
        let sources: Vec<&Source> = circuits.iter().map(|(source, _)| source).collect();
        let residual = ("/incomer/residual".to_owned(), &board.incomer.residual);
        out.push(leakage(Subject::Board, common, &sources, residual));
    }
    if let (Some(system @ (EarthingSystem::Tt | EarthingSystem::It)), Some(arrangement)) =
        (board.supply.system.get(), arrangement)
    {
        out.push(neutral(common, *system, *arrangement));
    }
    for (source, _) in circuits {
        let Some((id, device)) = source.device else { continue };
        both_lines(common, source, (id, device), out);
        if !matches!(device.kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd)) {
            continue;
        }
        let circuit = source.circuit;
        // Heaters, lamps and motors leak little; what is plugged in adds up (common practice, no source).
        let concerns = !circuit.load.leakage.is_unknown()
            || circuit.high_protective_current
            || matches!(circuit.kind, Some(LoadKind::Sockets | LoadKind::Distribution));
        if concerns {
            let residual = (format!("/devices/{id}/residual"), &device.residual);
            out.push(leakage(Subject::Circuit(source.id), common, &[source], residual));
        }
        poles(source, common.supply, out);
    }
}

/// Both lines of a circuit of a centre-tapped supply need a device that opens on overcurrent.
fn both_lines(common: &Common, source: &Source, (id, device): (DeviceId, &Device), out: &mut Vec<Check>) {
    let Some(poles) = device.poles else { return };
    let reduced = crate::source::reduced(&common.board.supply);
    let centre_tapped = common.supply == Some(SupplyPhases::Single) && reduced.contains(&YesNo::Yes);
    if !centre_tapped || !device.kind.is_some_and(DeviceKind::opens_on_overcurrent) {
        return;
    }
    let path = |field: &str| format!("/devices/{id}/{field}");
    let mut inputs = vec![
        finding::chosen("/supply/reduced", finding::label(Field::Reduced), &common.board.supply.reduced, |one| {
            one.words()
        }),
        finding::told(path("poles"), finding::label(Field::Poles), poles.words(), Known::Stated),
    ];
    if poles == Poles::P1N {
        let label = finding::label(Field::NeutralProtected);
        let release = &device.neutral_protected;
        inputs.push(finding::chosen(path("neutral_protected"), label, release, |one| one.words()));
    }
    let watched = match (poles, device.neutral_protected.get()) {
        (Poles::P1, _) | (Poles::P1N, Some(YesNo::No)) => Verdict::Fails,
        (Poles::P1N, None) => Verdict::Undecided,
        _ => Verdict::Holds,
    };
    let (verdict, path, ask) = match watched {
        Verdict::Fails if reduced.len() > 1 => {
            (Verdict::Undecided, "/supply/reduced".to_owned(), say!("reduced-lines-ask-supply"))
        }
        other => (other, path("neutral_protected"), say!("reduced-lines-ask")),
    };
    let sentence = say!("reduced-lines", verdict = verdict);
    let next = vec![finding::next(path, ask, 1.0)];
    out.push(BOTH_LINES.plain(Subject::Circuit(source.id), verdict, sentence, Message::default(), None, inputs, next));
}

/// What a circuit leaks: as measured, else as its mark tells.
fn leaks(source: &Source) -> Span {
    let circuit = source.circuit;
    match circuit.load.leakage.range().map(Range::numbers) {
        Some(span) => Span { lo: span.lo.max(0.0), hi: span.hi },
        // A mark is no measurement: it says that more may leak, not that it does.
        None if circuit.high_protective_current => Span { lo: 0.0, hi: f64::INFINITY },
        None => Span { lo: 0.0, hi: MARKED },
    }
}

fn leakage(
    subject: Subject,
    common: &Common,
    sources: &[&Source],
    (path, residual): (String, &Reading<survey::Amps>),
) -> Check {
    let path = Text::from(path);
    let leaking = sources.iter().map(|source| leak_input(source)).collect();
    let leaking = Arc::new(Sketches::new(Records::NONE, leaking));
    let rating = finding::input(path.clone(), finding::label(Field::Residual), residual);
    let inputs = Inputs::from(vec![rating]).then(Inputs::all_sketched(&leaking));
    let Some(rated) = residual.range() else {
        let next = vec![finding::next(path, say!("leakage-ask-rated"), 1.0)];
        return LEAKAGE.open(subject, say!("leakage-not-rated"), inputs, next);
    };
    let all: Vec<Span> = sources.iter().map(|source| leaks(source)).collect();
    let total = |all: &[Span]| all.iter().copied().reduce(|a, b| a + b).unwrap_or(Span::point(0.0));
    let mut value = total(&all);
    if common.supply != Some(SupplyPhases::Single) && all.len() > 1 {
        // Currents of one line add, those of filters and cables being capacitive; currents of different lines cancel in
        // part: only what one line leaks beyond all else is sure.
        let line = |source: &Source| match source.device.map(|(_, device)| common.feed(device)) {
            Some(Ok(Feed::OneLine(Some(conductor)))) => line_index(conductor),
            _ => None,
        };
        let mut lines = [Span::point(0.0); 3];
        let mut beyond = |of: Span| (of.lo - (value.hi - of.hi)).max(0.0);
        let mut sure = 0.0_f64;
        for (source, span) in sources.iter().zip(&all) {
            match line(source).and_then(|index| lines.get_mut(index)) {
                Some(sum) => *sum = *sum + *span,
                None => sure = sure.max(beyond(*span)),
            }
        }
        let sure = lines.into_iter().map(&mut beyond).fold(sure, f64::max);
        value.lo = if sure.is_finite() { sure } else { 0.0 };
    }
    let limit = rated.numbers() * Span::point(SHARE);
    let outcome = Outcome { value, limit };
    let width: f64 = all.iter().map(|span| (span.hi - span.lo).min(1.0)).sum();
    let open = all.iter().enumerate().filter(|(_, span)| span.hi > span.lo);
    let mut open: Vec<(usize, f64)> = open.map(|(place, span)| (place, (span.hi - span.lo).min(1.0) / width)).collect();
    open.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| sources[a.0].id.cmp(&sources[b.0].id)));
    let mut next: Vec<NextReading> =
        open.into_iter().map(|(place, share)| finding::next(leaking.path(place), ASK, share)).collect();
    if next.is_empty() {
        next.push(finding::next(path, say!("leakage-ask"), 1.0));
    }
    let more = [
        ("rated", (rated.numbers() * Span::point(1000.0), "mA").into()),
        ("most", (outcome.value.hi * 1000.0, "mA").into()),
    ];
    let id = match outcome.verdict() {
        Verdict::Holds if all.iter().any(|span| span.hi > span.lo) => "leakage-at-most",
        Verdict::Undecided if outcome.value.hi.is_infinite() => "leakage-marked",
        _ => "leakage",
    };
    LEAKAGE.judged_as(subject, outcome, inputs, next, id, more)
}

fn leak_input(source: &Source) -> Sketch {
    let leakage = &source.circuit.load.leakage;
    let seen = match (leakage.is_unknown(), source.circuit.high_protective_current) {
        (false, _) => reading(leakage),
        (true, true) => (Rough::Said(say!("leakage-input-marked")), Known::Assumed),
        (true, false) => (Rough::Said(say!("leakage-input-unmarked")), Known::Assumed),
    };
    source.named("load/leakage", "leakage-of", seen)
}

/// Where the neutral is part of the circuit, it must pass through the RCD.
fn poles(source: &Source, supply: Option<SupplyPhases>, out: &mut Vec<Check>) {
    let Some((id, device)) = source.device else { return };
    let path = format!("/devices/{id}/poles");
    let shown = device.poles.map_or(say!("not-known"), |poles| poles.words());
    let mut inputs = vec![finding::told(path.clone(), say!("rcd-poles-label"), shown, Known::Stated)];
    let subject = Subject::Circuit(source.id);
    let (verdict, sentence, inequality, next) = match device.poles {
        Some(Poles::P1) => (
            Verdict::Undecided,
            say!("rcd-poles-one"),
            say!("rcd-poles-one-relation"),
            finding::next(path, say!("rcd-poles-one-ask"), 1.0),
        ),
        Some(Poles::P3) if supply == Some(SupplyPhases::Three) => {
            let cable = source.cable;
            if let Some((cable_id, cable)) = cable {
                inputs.push(finding::chosen(
                    format!("/cables/{cable_id}/cores"),
                    finding::label(Field::Cores),
                    &cable.cores,
                    u8::to_string,
                ));
            }
            let live = cable.and_then(|(_, cable)| {
                let cores = *cable.cores.get()?;
                let protective = u8::from(*cable.cpc.get()? == CpcForm::Core);
                Some(cores.saturating_sub(protective))
            });
            match live {
                Some(4..) => (
                    Verdict::Fails,
                    say!("rcd-poles-neutral"),
                    say!("rcd-poles-neutral-relation"),
                    finding::next(path, Message::default(), 1.0),
                ),
                Some(_) => (
                    Verdict::Holds,
                    say!("rcd-poles-three"),
                    say!("rcd-poles-three-relation"),
                    finding::next(path, Message::default(), 1.0),
                ),
                None => (
                    Verdict::Undecided,
                    say!("rcd-poles-perhaps"),
                    say!("rcd-poles-perhaps-relation"),
                    finding::next(
                        cable.map_or_else(|| source.at("cable"), |(id, _)| format!("/cables/{id}/cores").into()),
                        say!("rcd-poles-perhaps-ask"),
                        1.0,
                    ),
                ),
            }
        }
        _ => return,
    };
    out.push(POLES.plain(subject, verdict, sentence, inequality, None, inputs, vec![next]));
}

fn neutral(common: &Common, system: EarthingSystem, arrangement: Arrangement) -> Check {
    let incomer = &common.board.incomer.arrangement;
    let inputs = vec![
        finding::chosen("/supply/system", finding::label(Field::System), &common.board.supply.system, |one| {
            one.words()
        }),
        finding::chosen("/incomer/arrangement", say!("found-incomer"), incomer, |one| one.words()),
    ];
    let system = system.words();
    let (verdict, sentence, inequality) = match arrangement {
        Arrangement::ThreePole => {
            (Verdict::Fails, say!("neutral-switched-not", system = system), say!("neutral-switched-not-relation"))
        }
        Arrangement::Lugs => (
            Verdict::Undecided,
            say!("neutral-switched-upstream", system = system),
            say!("neutral-switched-upstream-relation"),
        ),
        _ => (Verdict::Holds, say!("neutral-switched", system = system), say!("neutral-switched-relation")),
    };
    let next = vec![finding::next("/supply/upstream_kind", say!("neutral-switched-ask"), 1.0)];
    NEUTRAL.plain(Subject::Board, verdict, sentence, inequality, None, inputs, next)
}
