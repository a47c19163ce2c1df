//! Rules of faults beside the loop itself: touch voltage, first faults, short circuits far away.

use survey::{Argument, DeviceKind, EarthingSystem, Message, Verdict, say};

use super::{Rule, symbols};
use crate::case::Case;
use crate::field::Field;
use crate::{device, fault_loop, residual, short_circuit};

/// True where the electrode's resistance was entered.
fn electrode(case: &Case) -> bool {
    case.slots.span(Field::Electrode).is_some()
}

/// A TT system whose fault protection is an RCD, with its electrode known.
pub(super) fn by_electrode(case: &Case) -> bool {
    let upstream = case.upstream_rcd && !case.slots.taken(Field::UpstreamResidual) && !residual::blinds_upstream(case);
    case.systems == [EarthingSystem::Tt] && (residual::sighted(case) || upstream) && electrode(case)
}

pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "touch-voltage",
        clause: |_| say!("touch-voltage-clause"),
        symbols: symbols(Message::fixed("RA·IΔn"), say!("symbol-limit")),
        unit: "V",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: by_electrode,
        evaluate: fault_loop::touch_voltage,
        say: |said| said.say("touch-voltage"),
    },
    Rule {
        name: "first-fault",
        clause: |_| say!("first-fault-clause"),
        symbols: symbols(Message::fixed("RA·Id"), say!("symbol-limit")),
        unit: "V",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: |case| case.systems == [EarthingSystem::It],
        evaluate: fault_loop::first_fault,
        say: |said| said.say("first-fault"),
    },
    Rule {
        name: "short-circuit-trip",
        clause: |case| match case.device_kind {
            Some(DeviceKind::Fuse | DeviceKind::RewirableFuse) => {
                say!("short-circuit-trip-fuse-clause")
            }
            Some(DeviceKind::AdjustableBreaker) => {
                say!("short-circuit-trip-adjustable-clause")
            }
            _ => say!("short-circuit-trip-clause"),
        },
        symbols: symbols(Message::fixed("Ia"), Message::fixed("Ik min")),
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| true,
        applies: |case| case.device_kind.is_some_and(DeviceKind::opens_on_overcurrent),
        evaluate: short_circuit::opens,
        say: |said| {
            let when = match said.case.device_kind {
                Some(DeviceKind::Fuse | DeviceKind::RewirableFuse) => say!("opens-within-5-s"),
                Some(DeviceKind::AdjustableBreaker) => say!("opens-by-short-circuit-releases"),
                _ => say!("opens-at-once"),
            };
            let least = Argument::number(said.outcome.limit.lo, "A");
            let sentence = said.say_with("short-circuit-trip", [("when", when.into()), ("least", least)]);
            if said.verdict != Verdict::Fails {
                return sentence;
            }
            let later = device::opens_later(said.case)
                .map(|(current, time)| say!("short-time-release-opens", current = (current, "A"), time = (time, "s")))
                .unwrap_or_default();
            let borne = short_circuit::borne(said.case, said.outcome.limit)
                .map(|time| say!("conductor-bears-it", time = (time.lo, "s")))
                .unwrap_or_default();
            Message::several([sentence, later, borne])
        },
    },
];
