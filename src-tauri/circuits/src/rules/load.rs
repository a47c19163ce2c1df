//! Rules of what the load does: a motor that starts, loads that run for hours.

use survey::range::Span;
use survey::{Argument, DeviceKind, Insulation, LoadKind, Message, Range, say};

use super::{Rule, symbols};
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
        clause: |_| say!("start-drop-clause"),
        symbols: symbols(say!("symbol-u-start"), say!("symbol-limit")),
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
                say!("start-trip-adjustable-clause")
            }
            Some(DeviceKind::Fuse) => {
                say!("start-trip-fuse-clause")
            }
            _ => say!("start-trip-clause"),
        },
        symbols: symbols(say!("symbol-i-start"), say!("symbol-trips-at")),
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
        clause: |_| say!("terminal-temperature-clause"),
        symbols: symbols(Message::fixed("Ib"), say!("symbol-iz-at-terminals")),
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
            [LoadKind::VehicleCharging] => say!("continuous-load-charging-clause"),
            _ => say!("continuous-load-clause"),
        },
        symbols: symbols(say!("symbol-counted"), say!("symbol-given")),
        unit: "",
        scale: 1.0,
        on_size: false,
        // Of a charging point it is required.
        advice: |case| case.kinds != [LoadKind::VehicleCharging],
        // A factor of one says what the rule says.
        applies: |case| {
            let given = case.slots.span(Field::Demand);
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
