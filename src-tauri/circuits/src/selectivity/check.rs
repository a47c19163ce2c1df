//! Selectivity of a board's devices, put into records.

use survey::range::Span;
use survey::{Message, Amps, Arrangement, Board, Check, Curve, Device, DeviceKind, EnergyClass, Input, Known, Range, RcdDelay, Subject,
    Verdict,
};

use super::{Overcurrent, OverlapKind, RESIDUAL_RATIO, Selectivity, pair};
use crate::case::choices;
use crate::finding::{self, Rule};
use crate::shown;
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const OVERCURRENT: Rule = Rule {
    name: "selectivity",
    clause: Message::fixed("IEC 60364-5-53:2019, 536.4.1, where selectivity is asked for; bands by IEC 60898-1 table 7 and IEC 60269-1"),
    symbols: [Message::fixed("Ipf"), Message::fixed("Is")],
    unit: "kA",
    scale: 1000.0,
    advice: true,
};

const RESIDUAL: Rule = Rule {
    name: "rcd-selectivity",
    clause: Message::fixed("IEC 60364-5-53:2019, 536.4.1.4 (clause from memory), where selectivity is asked for: type S upstream, \
             IΔn at least three times"),
    symbols: [Message::fixed("3 IΔn"), Message::fixed("IΔn upstream")],
    unit: "mA",
    scale: 0.001,
    advice: true,
};

const ASK_KIND: &str = "read what the device upstream is and its type";
const ASK_TABLE: &str =
    "take the selectivity limit of this device under the one upstream from the makers' table for the two";
const ASK_CLASS: &str =
    "look for the energy-limiting class on the device: a 3 in a square below its short-circuit capacity";
const ASK_AT: &str = "read in the data sheet at which fault current the let-through energy is said";
const ASK_ENERGY: &str = "take the energy let through at this fault current from the device's data sheet";

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
                finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream),
                finding::chosen("/supply/upstream_kind", "upstream device", &supply.upstream_kind, |kind| {
                    kind.words().to_owned()
                }),
            ];
            let next = finding::all_of([
                supply.upstream_kind.get().is_none().then_some(("/supply/upstream_kind", ASK_KIND)),
                (!supply.upstream.range().is_some_and(Range::is_point))
                    .then_some(("/supply/upstream", "read the rating of the device upstream")),
            ]);
            let why = "what opens first needs the kind and the rating of the device upstream";
            out.push(OVERCURRENT.open(Subject::Board, why, inputs, next));
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

pub(super) fn name(device: Overcurrent) -> String {
    match device {
        Overcurrent::Breaker { curve, rated } => {
            format!("{}{} breaker", curve.words(), shown::span(Span::point(rated.get()), ""))
        }
        Overcurrent::Fuse { rated } => format!("{} fuse", shown::span(Span::point(rated.get()), "A")),
    }
}

fn one(common: &Common, source: &Source, device: (survey::DeviceId, &Device), upstream: &[Overcurrent]) -> Check {
    let (id, device) = device;
    let subject = Subject::Circuit(source.id);
    let supply = &common.board.supply;
    let feed = common.feed(device).ok();
    let fault = common.level.largest(common.board, feed);
    let mut inputs = vec![
        finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream),
        finding::input(format!("/devices/{id}/rated"), "rated current of the device, In", &device.rated),
        fault_input(common, fault),
    ];
    let ask_fault = || finding::next("/supply/ipf", "measure the prospective fault current at the board", 1.0);
    let Some(rated) = device.rated.range() else {
        let next = vec![finding::next(format!("/devices/{id}/rated"), "read the rating on the device", 1.0)];
        return OVERCURRENT.open(subject, "the device's rating is not known", inputs, next);
    };
    let Some(fault) = fault else {
        let why = "how large a fault current may be here is not known";
        return OVERCURRENT.open(subject, why, inputs, vec![ask_fault()]);
    };
    let up = upstream.first().copied().map_or_else(|| "device".to_owned(), name);
    if let Some(limit) = device.selective.range() {
        inputs.push(finding::input(
            format!("/devices/{id}/selective"),
            "selectivity limit by the makers' table",
            &device.selective,
        ));
        let outcome = Outcome { value: fault, limit: limit.numbers() };
        return OVERCURRENT.judged_in_words(subject, outcome, inputs, vec![ask_fault()], |verdict, value, limit| {
            match verdict {
                Verdict::Holds => {
                    format!("By the makers' table it opens alone up to {limit}; a fault here draws {value}.")
                }
                Verdict::Fails | Verdict::Advised => format!(
                    "By the makers' table it opens alone only up to {limit}; a fault here draws {value}, and the {up} \
                 upstream may open too."
                ),
                Verdict::Undecided => {
                    format!("By the makers' table it opens alone up to {limit}; a fault here draws {value}: open.")
                }
            }
        });
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
        let why = "the tables have no band for one of the two ratings; the makers' table for the two decides";
        return OVERCURRENT.open(
            subject,
            why,
            inputs,
            vec![finding::next(format!("/devices/{id}/selective"), ASK_TABLE, 1.0)],
        );
    };
    let mut next = Vec::new();
    if supply.upstream_curve.get().is_none() && upstream.len() > 1 {
        next.push(finding::next("/supply/upstream_curve", "read the type letter on the device upstream", 0.5));
    }
    // Beyond its own capacity it opens nothing alone: IEC 60364-5-53, 536.4.
    let capacity = device.breaking.range().map(|breaking| breaking.lo().get()).filter(|most| fault.hi > *most);
    if capacity.is_some() {
        let path = format!("/devices/{id}/breaking");
        inputs.push(finding::input(path, "short-circuit capacity of the device", &device.breaking));
    }
    let all = |verdict: Verdict| {
        found.iter().all(|one| one.verdict == verdict) && !(verdict == Verdict::Holds && capacity.is_some())
    };
    let verdict = [Verdict::Holds, Verdict::Fails].into_iter().find(|one| all(*one)).unwrap_or(Verdict::Undecided);
    let draws = shown::span(Span { lo: fault.lo / 1000.0, hi: fault.hi / 1000.0 }, "kA");
    let down = downstream.first().copied().map(name).unwrap_or_default();
    let limit = found.iter().filter_map(|one| one.limit).chain(capacity.map(Amps::new)).reduce(Amps::min);
    let limit_shown = limit.map(|limit| shown::span(Span::point(limit.get()), "A"));
    let sentence = match verdict {
        Verdict::Holds => {
            format!("Up to {draws}, the most a fault here draws, the {down} opens before the {up} upstream.")
        }
        Verdict::Fails | Verdict::Advised => format!(
            "The {up} upstream opens first: from {} on, a fault on this circuit takes the whole board off.",
            limit_shown.clone().unwrap_or_default()
        ),
        Verdict::Undecided if upstream.iter().any(|up| downstream.iter().any(|down| up.rated() <= down.rated())) => {
            let surely = upstream.iter().all(|up| downstream.iter().all(|down| up.rated() <= down.rated()));
            let is = if surely { "is" } else { "may be" };
            format!(
                "The {up} upstream {is} rated no higher than the {down}: in overload it may open first and take the whole \
                 board off; the makers' table decides."
            )
        }
        Verdict::Undecided => partial(&found, fault, capacity, [&down, &up, &draws]),
    };
    if verdict == Verdict::Undecided {
        let fuse = matches!(upstream, [Overcurrent::Fuse { .. }]) && device.kind != Some(DeviceKind::Fuse);
        if fuse && device.energy_class.get().is_none() && device.let_through.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/energy_class"), ASK_CLASS, 0.6));
        }
        if fuse && !device.let_through.is_unknown() && device.let_through_at.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/let_through_at"), ASK_AT, 0.6));
        }
        if fuse && device.let_through.is_unknown() {
            next.push(finding::next(format!("/devices/{id}/let_through"), ASK_ENERGY, 0.5));
        }
        next.insert(0, finding::next(format!("/devices/{id}/selective"), ASK_TABLE, 1.0));
    }
    let inequality = match (verdict, limit_shown) {
        (_, None) => format!("Ipf {draws}; no limit"),
        (Verdict::Holds, Some(limit)) => format!("Ipf {draws} ≤ Is {limit}"),
        (Verdict::Fails | Verdict::Advised, Some(limit)) => format!("Ipf {draws} > Is {limit}"),
        (Verdict::Undecided, Some(limit)) => format!("Ipf {draws} ≤? Is, at least {limit}"),
    };
    OVERCURRENT.plain(subject, verdict, sentence, inequality, None, inputs, next)
}

/// What is certain and what is not, in one sentence.
/// `capacity`: of the device, where a fault may be larger.
fn partial(found: &[Selectivity], fault: Span, capacity: Option<f64>, [down, up, draws]: [&str; 3]) -> String {
    let of = |kind: OverlapKind| {
        found
            .iter()
            .flat_map(|one| &one.overlaps)
            .filter(|one| one.kind == kind && one.from.get() < fault.hi)
            .fold(None, |found, one| {
                crate::case::hull(found, Span { lo: one.from.get(), hi: one.to.get().min(fault.hi) })
            })
    };
    let slow = of(OverlapKind::Slow)
        .map(|slow| format!("the curves on both data sheets decide from {}", shown::span(slow, "A")));
    let at_once = [of(OverlapKind::AtOnce), of(OverlapKind::Wrong)].into_iter().flatten().map(|span| span.lo);
    let at_once = at_once.chain(capacity).reduce(f64::min);
    match (at_once, slow) {
        (Some(limit), slow) => {
            let slow = slow.map(|slow| format!(", where {slow}")).unwrap_or_default();
            format!(
                "The {down} opens alone up to {}{slow}; above that, up to the {draws} of a fault here, the {up} upstream may \
                 open too: the makers' table decides.",
                shown::span(Span::point(limit), "A")
            )
        }
        (None, Some(slow)) => {
            format!("The {down} opens before the {up} upstream at a fault of {draws}; in overload {slow}.")
        }
        (None, None) => format!("Whether the {down} opens before the {up} upstream is open."),
    }
}

fn fault_input(common: &Common, fault: Option<Span>) -> Input {
    let read = &common.board.supply.ipf;
    match fault {
        Some(fault) if read.is_unknown() => {
            let value = format!("{}, {}", shown::span(fault, "A"), common.level.from);
            finding::told("/supply/ipf", "fault current at the board, Ipf", value, Known::Assumed)
        }
        _ => finding::input("/supply/ipf", "fault current at the board, Ipf", read),
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
            "incomer",
            "upstream",
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
            let whose = if incomer { "of the incomer" } else { "upstream" };
            out.push(series(Subject::Circuit(source.id), "circuit", whose, upstream, own));
        }
    }
}

type Above<'a> = (&'static str, &'a survey::Reading<Amps>, &'static str, &'a survey::Fact<RcdDelay>);
type Below<'a> = (String, &'a survey::Reading<Amps>, &'a survey::Fact<RcdDelay>);

fn series(subject: Subject, what: &str, whose: &str, above: Above, below: Below) -> Check {
    let (residual_path, residual, delay_path, delay) = above;
    let (own_path, own, own_delay) = below;
    let words = |delay: &RcdDelay| delay.words().to_owned();
    let inputs = vec![
        finding::input(residual_path, format!("rated residual current {whose}"), residual),
        finding::chosen(delay_path, format!("delay {whose}"), delay, words),
        finding::input(own_path.clone(), format!("rated residual current of the {what}"), own),
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
    let shown_of = |reading: &survey::Reading<Amps>| {
        reading.range().map_or("unknown".to_owned(), |range| shown::span(range.numbers() * Span::point(1000.0), "mA"))
    };
    let (up, down) = (shown_of(residual), shown_of(own));
    let sentence = match (verdict, waits) {
        (Verdict::Holds, _) => format!("The delayed {up} RCD {whose} waits for the {down} one of this {what}."),
        (Verdict::Fails, Some(false)) => {
            format!(
                "The RCD {whose} ({up}) does not wait for the {down} one of this {what}: an earth fault may open both."
            )
        }
        (Verdict::Fails | Verdict::Advised, _) => {
            format!("The RCD {whose} ({up}) is not three times as coarse as the {down} one of this {what}.")
        }
        (Verdict::Undecided, _) => {
            format!("Whether the RCD {whose} ({up}) waits for the {down} one of this {what} is open.")
        }
    };
    let inequality = match verdict {
        Verdict::Holds => format!("3 × {down} ≤ {up}, delayed"),
        Verdict::Fails if waits == Some(false) => format!("{up} without delay over {down}"),
        Verdict::Fails | Verdict::Advised => format!("3 × {down} > {up}"),
        Verdict::Undecided => format!("3 × {down} ≤? {up}"),
    };
    let next = finding::all_of([
        waits.is_none().then_some((delay_path, "look for the S in a square on the RCD")),
        residual.is_unknown().then_some((residual_path, "read the rated residual current on the RCD")),
        (own.is_unknown() || fits == Some(Verdict::Undecided))
            .then_some((own_path.as_str(), "read the rated residual current on the device")),
    ]);
    RESIDUAL.plain(subject, verdict, sentence, inequality, None, inputs, next)
}
