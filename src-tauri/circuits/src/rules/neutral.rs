//! Rules of the neutral: what it carries and how thick it is.

use survey::range::Span;
use survey::{DeviceKind, EarthingSystem, Message, Poles, YesNo, say};

use super::{Rule, symbols};
use crate::case::{Case, Gap, hull};
use crate::field::{Field, NEUTRAL_SIZE, RESIDUAL};
use crate::verdict::Outcome;
use crate::{cable, demand, energy, harmonic};

/// An IT system that may have a neutral, and a circuit that may use it.
fn it_with_neutral(case: &Case) -> bool {
    case.systems == [EarthingSystem::It]
        && case.has_device
        && case.neutral_distributed.contains(&YesNo::Yes)
        && match case.poles {
            Some(Poles::P1 | Poles::P1N | Poles::P3N) => true,
            Some(Poles::P3) => case.neutral.contains(&true),
            _ => false,
        }
}

/// Live conductors in use, against those that an overcurrent release watches.
///
/// IEC 60364-4-43, 431.2.2: where an IT system's neutral is distributed, overcurrent in it disconnects
/// every live conductor of the circuit; an RCD of at most 0.2 Iz of the neutral that disconnects all of
/// them stands in for it.
fn unwatched(case: &Case) -> Result<Outcome, Gap> {
    let uses: &[bool] = match case.poles()? {
        Poles::P3 => case.neutral(),
        _ => &[true],
    };
    let opens_neutral = matches!(case.poles()?, Poles::P1N | Poles::P3N);
    let by_residual = opens_neutral && matches!(case.device_kind()?, DeviceKind::Rcbo | DeviceKind::Rcd) && {
        let residual = case.get(RESIDUAL)?.numbers();
        cable::carried(case).is_ok_and(|carried| residual.hi <= 0.2 * carried.lo().get())
    };
    let lines = if matches!(case.poles()?, Poles::P3 | Poles::P3N) { 3.0 } else { 1.0 };
    let (mut live, mut watched) = (None, None);
    for distributed in case.neutral_distributed() {
        for used in uses {
            let neutral = *distributed == YesNo::Yes && *used;
            live = hull(live, Span::point(if neutral { lines + 1.0 } else { lines }));
            let releases: &[YesNo] = match (neutral, opens_neutral) {
                // Nothing to watch: as good as watched.
                (false, _) => &[YesNo::Yes],
                _ if by_residual => &[YesNo::Yes],
                (true, true) => case.neutral_protected(),
                (true, false) => &[YesNo::No],
            };
            for release in releases {
                watched = hull(watched, Span::point(if *release == YesNo::Yes { lines + 1.0 } else { lines }));
            }
        }
    }
    live.zip(watched).map(|(value, limit)| Outcome { value, limit }).ok_or(Gap::Missing(Field::Poles))
}

pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "neutral-overcurrent",
        clause: |_| say!("neutral-overcurrent-clause"),
        symbols: symbols(say!("symbol-live-conductors"), say!("symbol-watched")),
        unit: "",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: it_with_neutral,
        evaluate: unwatched,
        say: |said| said.say("neutral-overcurrent"),
    },
    Rule {
        name: "neutral-load",
        clause: |_| say!("neutral-load-clause"),
        symbols: symbols(Message::fixed("IN"), Message::fixed("Iz")),
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: harmonic::neutral_counts,
        evaluate: harmonic::neutral,
        say: |said| said.say("neutral-load"),
    },
    Rule {
        name: "neutral-linked",
        clause: |_| say!("neutral-linked-clause"),
        symbols: symbols(Message::fixed("IN"), Message::fixed("Iz")),
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: |case| case.linked() && case.kinds != [survey::LoadKind::Motor],
        evaluate: |case| {
            let value = demand::draw(case)?.current.numbers();
            let limit = match case.given(NEUTRAL_SIZE)? {
                Some(size) => cable::most(&cable::ways_of(case, size, Span::point(1.0))?)?,
                None => cable::carried(case)?,
            };
            Ok(Outcome { value, limit: limit.numbers() })
        },
        say: |said| said.say("neutral-linked"),
    },
    Rule {
        name: "neutral-energy",
        clause: |_| say!("neutral-energy-clause"),
        symbols: symbols(Message::fixed("√(I²t)/k"), Message::fixed("SN")),
        unit: "mm²",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: harmonic::neutral_given,
        evaluate: energy::neutral,
        say: |said| said.say("neutral-energy"),
    },
    Rule {
        name: "neutral-size",
        clause: |_| say!("neutral-size-clause"),
        symbols: symbols(say!("symbol-sn-needed"), Message::fixed("SN")),
        unit: "mm²",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: harmonic::neutral_given,
        evaluate: harmonic::neutral_size,
        say: |said| said.say("neutral-size"),
    },
];
