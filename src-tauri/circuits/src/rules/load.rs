//! Rules of what the load does: a motor that starts, loads that run for hours.

use survey::range::Span;
use survey::{Argument, DeviceKind, Insulation, LoadKind, Range};

use super::Rule;
use crate::case::Case;
use crate::field::{DEMAND, Field};
use crate::verdict::Outcome;
use crate::{cable, demand, motor};

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
        say: |said| said.say("start-drop"),
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
            let fuse = said.case.device_kind == Some(DeviceKind::Fuse);
            let least = [("least", Argument::number(said.outcome.limit.lo, "A"))];
            match fuse {
                true => said.say_with("start-trip-fuse", least),
                false => said.say_with("start-trip", least),
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
        say: |said| said.say("terminal-temperature"),
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
        say: |said| said.say("continuous-load"),
    },
];
