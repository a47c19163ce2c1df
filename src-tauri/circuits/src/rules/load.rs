//! Rules of what the load does: a motor that starts, loads that run for hours.

use survey::range::Span;
use survey::{DeviceKind, Insulation, LoadKind, Range, Verdict};

use super::{Rule, Said, words};
use crate::case::Case;
use crate::field::{DEMAND, Field};
use crate::verdict::Outcome;
use crate::{cable, demand, motor, shown};

fn is_motor(case: &Case) -> bool {
    case.kinds == [LoadKind::Motor]
}

pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "start-drop",
        clause: |_| "IEC 60364-5-52, 525: a larger drop is allowed while a motor starts; 10 % is common practice",
        symbols: ["ΔU start", "limit"],
        unit: "%",
        scale: 0.01,
        on_size: true,
        advice: |_| true,
        applies: is_motor,
        evaluate: motor::drop,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => {
                    words!(said, "While the motor starts {value} is lost on the way to it, within {limit}.")
                }
                Verdict::Fails | Verdict::Advised => {
                    words!(
                        said,
                        "While the motor starts {value} is lost on the way to it, more than {limit}: it may not come up."
                    )
                }
                Verdict::Undecided => {
                    words!(said, "While the motor starts {value} is lost on the way to it, against {limit}: open.")
                }
            }
        },
    },
    Rule {
        name: "start-trip",
        clause: |case| match case.device_kind {
            Some(DeviceKind::AdjustableBreaker) => {
                "IEC 60947-2, 8.3.3.1.2 (from memory): starting current below the band in which the breaker's \
                 short-circuit releases open, 20 % either way of their setting"
            }
            Some(DeviceKind::Fuse) => {
                "IEC 60269-1, gates of gG (from memory): starting current below the one that opens the fuse within 5 s"
            }
            _ => "IEC 60898-1, table 7: starting current below the band in which the breaker trips at once",
        },
        symbols: ["I start", "trips at"],
        unit: "A",
        scale: 1.0,
        on_size: false,
        // How long the start lasts nobody reads.
        advice: |case| case.device_kind == Some(DeviceKind::Fuse),
        applies: |case| {
            let opening =
                [DeviceKind::CircuitBreaker, DeviceKind::Rcbo, DeviceKind::AdjustableBreaker, DeviceKind::Fuse];
            is_motor(case) && case.device_kind.is_some_and(|kind| opening.contains(&kind))
        },
        evaluate: motor::trips,
        say: |said| {
            let Said { value, limit, .. } = said;
            let least = shown::span(Span::point(said.outcome.limit.lo), "A");
            match said.verdict {
                Verdict::Holds if said.case.device_kind == Some(DeviceKind::Fuse) => {
                    words!(said, "The motor starts with {value}; the fuse stays closed to {least} for 10 s at least.")
                }
                Verdict::Holds => {
                    words!(said, "The motor starts with {value}; the breaker stays closed up to {least} at least.")
                }
                Verdict::Fails | Verdict::Advised if said.case.device_kind == Some(DeviceKind::Fuse) => {
                    words!(
                        said,
                        "The motor starts with {value}; from {limit} on the fuse opens within 5 s: the start must be shorter."
                    )
                }
                Verdict::Fails | Verdict::Advised => {
                    words!(said, "The motor starts with {value}; the breaker trips at once at {limit}.")
                }
                Verdict::Undecided => {
                    words!(
                        said,
                        "The motor starts with {value}; the breaker begins to trip at once somewhere at {limit}: open."
                    )
                }
            }
        },
    },
    Rule {
        name: "terminal-temperature",
        clause: |_| {
            "IEC 60364-5-52, table 52.1, note on conductors above 70 °C; BS 7671, 512.1.5 (both from memory): the \
             device's terminals bear the conductor's temperature"
        },
        symbols: ["Ib", "Iz with what the terminals bear"],
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: |case| case.has_device && case.has_cable && case.insulations.contains(&Insulation::Xlpe90),
        evaluate: cable::at_terminals,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => {
                    words!(
                        said,
                        "With {value} the conductors are no warmer than the device's terminals bear; they may carry {limit} there."
                    )
                }
                Verdict::Fails | Verdict::Advised => words!(
                    said,
                    "With {value} the conductors are warmer than 70 °C; the device's terminals are not for that: {limit} at most."
                ),
                Verdict::Undecided => {
                    words!(
                        said,
                        "With {value} the conductors may be warmer than the device's terminals bear ({limit}): undecided."
                    )
                }
            }
        },
    },
    Rule {
        name: "continuous-load",
        clause: |case| match case.kinds {
            [LoadKind::VehicleCharging] => "IEC 60364-7-722, 722.311: demand factor 1 for a charging point",
            _ => "common practice: heating may run for hours at full power",
        },
        symbols: ["counted", "given"],
        unit: "",
        scale: 1.0,
        on_size: false,
        // Of a charging point it is required.
        advice: |case| case.kinds != [LoadKind::VehicleCharging],
        // A factor of one says what the rule says.
        applies: |case| {
            let given = case.slots[Field::Demand as usize].span;
            matches!(case.kinds, [kind] if demand::runs_on(*kind)) && given.is_some_and(|given| given.lo < 1.0)
        },
        evaluate: |case| {
            let _ = case.kinds();
            let given = case.get(DEMAND).map(Range::numbers)?;
            Ok(Outcome { value: Span::point(1.0), limit: given })
        },
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => words!(said, "The load runs on: it counts in full, {value}."),
                _ => words!(said, "The load may run for hours at full power: it counts in full here, not by {limit}."),
            }
        },
    },
];
