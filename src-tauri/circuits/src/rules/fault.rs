//! Rules of faults beside the loop itself: touch voltage, first faults, short circuits far away.

use survey::range::Span;
use survey::{DeviceKind, EarthingSystem, Verdict};

use super::{Rule, Said, words};
use crate::case::Case;
use crate::field::Field;
use crate::{device, fault_loop, residual, short_circuit, shown};

/// True where the electrode's resistance was entered.
fn electrode(case: &Case) -> bool {
    case.slots[Field::Electrode as usize].span.is_some()
}

/// A TT system whose fault protection is an RCD, with its electrode known.
pub(super) fn by_electrode(case: &Case) -> bool {
    let upstream =
        case.upstream_rcd && !case.slots[Field::UpstreamResidual as usize].taken && !residual::blinds_upstream(case);
    case.systems == [EarthingSystem::Tt] && (residual::sighted(case) || upstream) && electrode(case)
}

pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "touch-voltage",
        clause: |_| "IEC 60364-4-41, 411.5.3: RA·IΔn ≤ 50 V",
        symbols: ["RA·IΔn", "limit"],
        unit: "V",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: by_electrode,
        evaluate: fault_loop::touch_voltage,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => {
                    words!(said, "Before the RCD opens no more than {value} can stay on exposed parts, within {limit}.")
                }
                Verdict::Fails | Verdict::Advised => words!(
                    said,
                    "Up to {value} can stay on exposed parts with the RCD closed, more than {limit}: a finer RCD or a better electrode is needed."
                ),
                Verdict::Undecided => {
                    words!(said, "{value} can stay on exposed parts before the RCD opens, against {limit}: open.")
                }
            }
        },
    },
    Rule {
        name: "first-fault",
        clause: |_| "IEC 60364-4-41, 411.6.2: RA·Id ≤ 50 V",
        symbols: ["RA·Id", "limit"],
        unit: "V",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: |case| case.systems == [EarthingSystem::It],
        evaluate: fault_loop::first_fault,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => words!(
                    said,
                    "A first fault puts {value} on exposed parts, within {limit}: supply goes on and the insulation monitor must tell."
                ),
                Verdict::Fails | Verdict::Advised => {
                    words!(said, "A first fault puts {value} on exposed parts, more than {limit}.")
                }
                Verdict::Undecided => {
                    words!(said, "A first fault puts {value} on exposed parts, against {limit}: open.")
                }
            }
        },
    },
    Rule {
        name: "short-circuit-trip",
        clause: |case| match case.device_kind {
            Some(DeviceKind::Fuse | DeviceKind::RewirableFuse) => {
                "IEC 60364-4-43, 434.5.2: the smallest Ik opens the fuse within 5 s"
            }
            Some(DeviceKind::AdjustableBreaker) => {
                "IEC 60364-4-43, 434.5.2, with IEC 60947-2, 8.3.3.1.2 (from memory): the smallest Ik opens the breaker by \
                 its short-circuit releases, 20 % above their setting"
            }
            _ => "IEC 60364-4-43, 434.5.2, with IEC 60898-1 table 7: the smallest Ik opens the breaker at once",
        },
        symbols: ["Ia", "Ik min"],
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| true,
        applies: |case| case.device_kind.is_some_and(DeviceKind::opens_on_overcurrent),
        evaluate: short_circuit::opens,
        say: |said| {
            let Said { value, limit, .. } = said;
            let when = match said.case.device_kind {
                Some(DeviceKind::Fuse | DeviceKind::RewirableFuse) => "within 5 s",
                Some(DeviceKind::AdjustableBreaker) => "within 5 s by its short-circuit releases",
                _ => "at once",
            };
            match said.verdict {
                Verdict::Holds => {
                    words!(
                        said,
                        "A short circuit at the far end draws at least {}; the device opens {when} at {value}.",
                        least(said)
                    )
                }
                Verdict::Fails | Verdict::Advised => {
                    let borne = short_circuit::borne(said.case, said.outcome.limit)
                        .map(|time| {
                            words!(said, " The conductor bears it for {}.", shown::span(Span::point(time.lo), "s"))
                        })
                        .unwrap_or_default();
                    let later = device::opens_later(said.case)
                        .map(|(current, time)| {
                            let [current, time] =
                                [(current, "A"), (time, "s")].map(|(span, unit)| shown::span(span, unit));
                            words!(said, " Its short-time release opens it from {current} on, in {time}.")
                        })
                        .unwrap_or_default();
                    words!(
                        said,
                        "A short circuit at the far end draws {limit} at least, too little for the device, which opens {when} only at {value}.{later}{borne}"
                    )
                }
                Verdict::Undecided => {
                    words!(
                        said,
                        "A short circuit at the far end draws {limit} at least; the device opens {when} at {value}: open."
                    )
                }
            }
        },
    },
];

fn least(said: &Said) -> String {
    shown::span(Span::point(said.outcome.limit.lo), "A")
}
