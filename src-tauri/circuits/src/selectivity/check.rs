//! Selectivity of a board's devices, put into records.

use survey::range::Span;
use survey::{
    Amps, Argument, Arrangement, Board, Check, Curve, Device, DeviceKind, EnergyClass, Input, Known, Message, Range,
    RcdDelay, Subject, Verdict, say,
};

use super::{Overcurrent, OverlapKind, RESIDUAL_RATIO, Selectivity, pair};
use crate::case::choices;
use crate::finding::{self, Rule};
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const OVERCURRENT: Rule = Rule {
    name: "selectivity",
    clause: say!("selectivity-clause"),
    symbols: [Message::fixed("Ipf"), Message::fixed("Is")],
    unit: "kA",
    scale: 1000.0,
    advice: true,
};

const RESIDUAL: Rule = Rule {
    name: "rcd-selectivity",
    clause: say!("rcd-selectivity-clause"),
    symbols: [Message::fixed("3 IΔn"), say!("supply-symbol-idn-upstream")],
    unit: "mA",
    scale: 0.001,
    advice: true,
};

/// Selectivity of every outgoing device against the one upstream.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<crate::balance::Share>)], out: &mut Vec<Check>) {
    residual(common, circuits, out);
    let supply = &common.board.supply;
    let outgoing = |source: &&Source| source.device.is_some_and(|(_, device)| has_band(device) || set_by_hand(device));
    if !circuits.iter().any(|(source, _)| outgoing(&source)) {
        return;
    }
    let upstream = match upstream(common.board) {
        Upstream::Devices(devices) => devices,
        // Only the makers' table tells.
        Upstream::BySetting => Vec::new(),
        Upstream::None => return,
        Upstream::Unknown => {
            let inputs = vec![
                finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream),
                finding::chosen(
                    "/supply/upstream_kind",
                    say!("supply-label-upstream-kind"),
                    &supply.upstream_kind,
                    |kind| kind.words(),
                ),
            ];
            let next = finding::all_of([
                supply
                    .upstream_kind
                    .get()
                    .is_none()
                    .then_some(("/supply/upstream_kind", say!("supply-ask-upstream-kind"))),
                (!supply.upstream.range().is_some_and(Range::is_point))
                    .then_some(("/supply/upstream", say!("supply-ask-upstream"))),
            ]);
            out.push(OVERCURRENT.open(Subject::Board, say!("selectivity-upstream-unknown"), inputs, next));
            return;
        }
    };
    for (source, _) in circuits.iter().filter(|(source, _)| outgoing(&source)) {
        if let Some((id, device)) = source.device {
            out.push(one(common, source, (id, device), &upstream));
        }
    }
}

/// What may be upstream, by all that is known.
pub(crate) enum Upstream {
    /// One of these.
    Devices(Vec<Overcurrent>),
    /// One whose bounds no standard tells: an adjustable breaker, any on direct current.
    BySetting,
    /// Nothing that opens on overcurrent.
    None,
    /// Kind or rating are not known.
    Unknown,
}

/// The device upstream of a board, in every form it may have.
pub(crate) fn upstream(board: &Board) -> Upstream {
    let supply = &board.supply;
    match (supply.upstream_kind.get(), supply.upstream.range()) {
        // The bands are of alternating current.
        (Some(kind), _) if crate::source::direct(supply) && kind.opens_on_overcurrent() => Upstream::BySetting,
        (Some(DeviceKind::CircuitBreaker | DeviceKind::Rcbo), Some(rated)) => {
            let curves = choices(Curve::ALL, supply.upstream_curve.get().copied(), Curve::ALL);
            let all = [rated.lo(), rated.hi()];
            let all = if rated.is_point() { &all[..1] } else { &all[..] };
            let of = |curve: &Curve| {
                let curve = *curve;
                all.iter().map(move |rated| Overcurrent::Breaker { curve, rated: *rated }).collect::<Vec<_>>()
            };
            Upstream::Devices(curves.iter().flat_map(of).collect())
        }
        (Some(DeviceKind::Fuse), Some(rated)) if rated.is_point() => {
            Upstream::Devices(vec![Overcurrent::Fuse { rated: rated.lo() }])
        }
        (Some(DeviceKind::AdjustableBreaker), _) => Upstream::BySetting,
        (Some(DeviceKind::Rcd | DeviceKind::Isolator | DeviceKind::Spd), _) => Upstream::None,
        _ => Upstream::Unknown,
    }
}

/// It opens on overcurrent, and its standard says between which bounds.
pub(super) fn has_band(device: &Device) -> bool {
    matches!(device.kind, Some(DeviceKind::CircuitBreaker | DeviceKind::Rcbo | DeviceKind::Fuse))
}

/// An adjustable breaker: its settings and its data tell its bounds, no standard.
pub(super) fn set_by_hand(device: &Device) -> bool {
    device.kind == Some(DeviceKind::AdjustableBreaker)
}

/// A device in every form it may have, by all that is known but its rating.
pub(super) fn forms(device: &Device, rated: Amps) -> Vec<Overcurrent> {
    match device.kind {
        Some(DeviceKind::Fuse) => vec![Overcurrent::Fuse { rated }],
        _ => {
            let curves = choices(Curve::ALL, device.curve.get().copied(), Curve::ALL);
            curves.iter().map(|curve| Overcurrent::Breaker { curve: *curve, rated }).collect()
        }
    }
}

/// What a person calls it: "C16 breaker".
pub(super) fn name(device: Overcurrent) -> Message {
    match device {
        Overcurrent::Breaker { curve, rated } => {
            say!("selectivity-breaker", type = curve.words(), rated = (rated.get(), ""))
        }
        Overcurrent::Fuse { rated } => say!("selectivity-fuse", rated = (rated.get(), "A")),
    }
}

fn one(common: &Common, source: &Source, device: (survey::DeviceId, &Device), upstream: &[Overcurrent]) -> Check {
    let (id, device) = device;
    let subject = Subject::Circuit(source.id);
    let supply = &common.board.supply;
    let feed = common.feed(device).ok();
    let fault = common.level.largest(common.board, feed);
    let mut inputs = vec![
        finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream),
        finding::input(format!("/devices/{id}/rated"), say!("selectivity-label-rated"), &device.rated),
        fault_input(common, fault),
    ];
    let ask_fault = || finding::next("/supply/ipf", say!("supply-ask-ipf"), 1.0);
    let Some(rated) = device.rated.range() else {
        let next = vec![finding::next(format!("/devices/{id}/rated"), say!("selectivity-ask-rated"), 1.0)];
        return OVERCURRENT.open(subject, say!("selectivity-rating-unknown"), inputs, next);
    };
    let Some(fault) = fault else {
        return OVERCURRENT.open(subject, say!("selectivity-fault-unknown"), inputs, vec![ask_fault()]);
    };
    let up = upstream.first().copied().map_or(say!("selectivity-device"), name);
    if let Some(limit) = device.selective.range() {
        inputs.push(finding::input(
            format!("/devices/{id}/selective"),
            say!("selectivity-label-limit"),
            &device.selective,
        ));
        let outcome = Outcome { value: fault, limit: limit.numbers() };
        return OVERCURRENT.judged_as(
            subject,
            outcome,
            inputs,
            vec![ask_fault()],
            "selectivity-by-table",
            [("up", up.into())],
        );
    }
    let downstream = if set_by_hand(device) { Vec::new() } else { forms(device, rated.hi()) };
    // Only a class that was read limits the energy, up to the breaker's own capacity; a figure of the
    // data sheet says nothing of a larger fault than it is said of.
    let breaking = device.breaking.range().filter(|breaking| fault.hi <= breaking.lo().get()).map(Range::hi);
    let breaking = breaking.filter(|_| device.energy_class.get() == Some(&EnergyClass::Three));
    let told = device.let_through_at.range().is_some_and(|at| at.lo().get() >= fault.hi);
    let let_through = device.let_through.range().filter(|_| told);
    let found: Option<Vec<Selectivity>> = upstream
        .iter()
        .flat_map(|up| downstream.iter().map(move |down| (*up, *down)))
        .map(|(up, down)| pair(up, down, Some(fault.of()), let_through, breaking, common.tables))
        .collect();
    let Some(found) = found.filter(|found| !found.is_empty()) else {
        return OVERCURRENT.open(
            subject,
            say!("selectivity-no-band"),
            inputs,
            vec![finding::next(format!("/devices/{id}/selective"), say!("selectivity-ask-table"), 1.0)],
        );
    };
    let mut next = Vec::new();
    if supply.upstream_curve.get().is_none() && upstream.len() > 1 {
        next.push(finding::next("/supply/upstream_curve", say!("supply-ask-upstream-curve"), 0.5));
    }
    // Beyond its own capacity it opens nothing alone: IEC 60364-5-53, 536.4.
    let capacity = device.breaking.range().map(|breaking| breaking.lo().get()).filter(|most| fault.hi > *most);
    if capacity.is_some() {
        let path = format!("/devices/{id}/breaking");
        inputs.push(finding::input(path, say!("selectivity-label-capacity"), &device.breaking));
    }
    let all = |verdict: Verdict| {
        found.iter().all(|one| one.verdict == verdict) && !(verdict == Verdict::Holds && capacity.is_some())
    };
    let verdict = [Verdict::Holds, Verdict::Fails].into_iter().find(|one| all(*one)).unwrap_or(Verdict::Undecided);
    let draws = finding::kiloamperes(fault);
    let down = downstream.first().copied().map(name).unwrap_or_default();
    let limit = found.iter().filter_map(|one| one.limit).chain(capacity.map(Amps::new)).reduce(Amps::min);
    let limit = limit.map(|limit| Argument::number(limit.get(), "A"));
    let mut parts = vec![("verdict", verdict.into()), ("down", down.into()), ("up", up.into()), ("draws", draws)];
    parts.extend(limit.clone().map(|limit| ("limit", limit)));
    let higher = |up: &Overcurrent, down: &Overcurrent| up.rated() <= down.rated();
    let sentence = match verdict {
        Verdict::Undecided if upstream.iter().any(|up| downstream.iter().any(|down| higher(up, down))) => {
            let surely = upstream.iter().all(|up| downstream.iter().all(|down| higher(up, down)));
            Message::said_of("selectivity-rated", parts.iter().cloned().chain([("surely", surely.into())]))
        }
        Verdict::Undecided => partial(&found, fault, capacity, &parts),
        _ => Message::said_of("selectivity", parts.iter().cloned()),
    };
    if verdict == Verdict::Undecided {
        let fuse = matches!(upstream, [Overcurrent::Fuse { .. }]) && device.kind != Some(DeviceKind::Fuse);
        if fuse && device.energy_class.get().is_none() && device.let_through.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/energy_class"), say!("selectivity-ask-class"), 0.6));
        }
        if fuse && !device.let_through.is_unknown() && device.let_through_at.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/let_through_at"), say!("selectivity-ask-at"), 0.6));
        }
        if fuse && device.let_through.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/let_through"), say!("selectivity-ask-energy"), 0.5));
        }
        next.insert(0, finding::next(format!("/devices/{id}/selective"), say!("selectivity-ask-table"), 1.0));
    }
    let relation = match limit {
        Some(_) => Message::said_of("selectivity-relation", parts),
        None => Message::said_of("selectivity-relation-no-limit", parts),
    };
    OVERCURRENT.plain(subject, verdict, sentence, relation, None, inputs, next)
}

/// What is certain and what is not, in one sentence: with these parts.
/// `capacity`: of the device, where a fault may be larger.
fn partial(found: &[Selectivity], fault: Span, capacity: Option<f64>, parts: &[(&'static str, Argument)]) -> Message {
    let of = |kind: OverlapKind| {
        found
            .iter()
            .flat_map(|one| &one.overlaps)
            .filter(|one| one.kind == kind && one.from.get() < fault.hi)
            .fold(None, |found, one| {
                crate::case::hull(found, Span { lo: one.from.get(), hi: one.to.get().min(fault.hi) })
            })
    };
    let slow = of(OverlapKind::Slow).map(|slow| ("slow", Argument::span(slow, "A")));
    let at_once = [of(OverlapKind::AtOnce), of(OverlapKind::Wrong)].into_iter().flatten().map(|span| span.lo);
    let at_once = at_once.chain(capacity).reduce(f64::min);
    let id = match (at_once, slow.is_some()) {
        (Some(_), true) => "selectivity-partial-slow",
        (Some(_), false) => "selectivity-partial",
        (None, true) => "selectivity-slow",
        (None, false) => "selectivity-undecided",
    };
    let alone = at_once.map(|alone| ("alone", Argument::number(alone, "A")));
    Message::said_of(id, parts.iter().cloned().chain(slow).chain(alone))
}

fn fault_input(common: &Common, fault: Option<Span>) -> Input {
    let read = &common.board.supply.ipf;
    match fault {
        Some(fault) if read.is_unknown() => {
            let value = say!("input-calculated", value = (fault, "A"), from = common.level.from.clone());
            finding::told("/supply/ipf", say!("supply-label-ipf"), value, Known::Assumed)
        }
        _ => finding::input("/supply/ipf", say!("supply-label-ipf"), read),
    }
}

/// RCDs in series: the one upstream, the incomer, those of the circuits.
fn residual(common: &Common, circuits: &[(Source, Option<crate::balance::Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let incomer = matches!(board.incomer.arrangement.get(), Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd));
    let above =
        board.supply.upstream_kind.get() == Some(&DeviceKind::Rcd) || !board.supply.upstream_residual.is_unknown();
    let [up_residual, up_delay] = ["/supply/upstream_residual", "/supply/upstream_delay"];
    if above && incomer {
        out.push(series(
            Subject::Board,
            ["incomer", "upstream"],
            (up_residual, &board.supply.upstream_residual, up_delay, &board.supply.upstream_delay),
            ("/incomer/residual".to_owned(), &board.incomer.residual, &board.incomer.delay),
        ));
    }
    let upstream = if incomer {
        ("/incomer/residual", &board.incomer.residual, "/incomer/delay", &board.incomer.delay)
    } else if above {
        (up_residual, &board.supply.upstream_residual, up_delay, &board.supply.upstream_delay)
    } else {
        return;
    };
    for (source, _) in circuits {
        let Some((id, device)) = source.device else { continue };
        if matches!(device.kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd)) {
            let own = (format!("/devices/{id}/residual"), &device.residual, &device.delay);
            let whose = if incomer { "incomer" } else { "upstream" };
            out.push(series(Subject::Circuit(source.id), ["circuit", whose], upstream, own));
        }
    }
}

type Above<'a> = (&'static str, &'a survey::Reading<Amps>, &'static str, &'a survey::Fact<RcdDelay>);
type Below<'a> = (String, &'a survey::Reading<Amps>, &'a survey::Fact<RcdDelay>);

/// Two RCDs in series. `which`: the one below, "incomer" or "circuit", and the one above, "upstream" or "incomer".
fn series(subject: Subject, which: [&'static str; 2], above: Above, below: Below) -> Check {
    let (residual_path, residual, delay_path, delay) = above;
    let (own_path, own, own_delay) = below;
    let [what, whose] = which.map(Argument::Choice);
    let inputs = vec![
        finding::input(residual_path, say!("rcd-selectivity-label-above", whose = whose.clone()), residual),
        finding::chosen(delay_path, say!("rcd-selectivity-label-delay", whose = whose.clone()), delay, |one| {
            one.words()
        }),
        finding::input(own_path.clone(), say!("rcd-selectivity-label-own", what = what.clone()), own),
    ];
    let waits = match (delay.get(), own_delay.get()) {
        (Some(RcdDelay::S), Some(RcdDelay::S)) | (Some(RcdDelay::None), _) => Some(false),
        // Hardly any final circuit has a delayed RCD: one that says nothing has none.
        (Some(RcdDelay::S), _) => Some(true),
        (None, _) => None,
    };
    let ratio = residual
        .range()
        .zip(own.range())
        .map(|(above, own)| Outcome { value: own.numbers() * Span::point(RESIDUAL_RATIO), limit: above.numbers() });
    let fits = ratio.map(Outcome::verdict);
    let verdict = match (waits, fits) {
        (Some(false), _) | (_, Some(Verdict::Fails)) => Verdict::Fails,
        (Some(true), Some(Verdict::Holds)) => Verdict::Holds,
        _ => Verdict::Undecided,
    };
    let shown_of = |reading: &survey::Reading<Amps>| match reading.range() {
        Some(range) => Argument::span(range.numbers() * Span::point(1000.0), "mA"),
        None => say!("rcd-selectivity-unknown").into(),
    };
    let parts = [
        ("verdict", verdict.into()),
        ("up", shown_of(residual)),
        ("down", shown_of(own)),
        ("what", what),
        ("whose", whose),
    ];
    let at_once = verdict == Verdict::Fails && waits == Some(false);
    let [sentence, relation] = match at_once {
        true => ["rcd-selectivity-at-once", "rcd-selectivity-relation-at-once"],
        false => ["rcd-selectivity", "rcd-selectivity-relation"],
    }
    .map(|id| Message::said(id, parts.clone()));
    let next = finding::all_of([
        waits.is_none().then_some((delay_path, say!("rcd-selectivity-ask-delay"))),
        residual.is_unknown().then_some((residual_path, say!("rcd-selectivity-ask-above"))),
        (own.is_unknown() || fits == Some(Verdict::Undecided))
            .then_some((own_path.as_str(), say!("rcd-selectivity-ask-own"))),
    ]);
    RESIDUAL.plain(subject, verdict, sentence, relation, None, inputs, next)
}
