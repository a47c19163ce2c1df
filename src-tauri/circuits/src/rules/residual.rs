//! The rule of the RCD's type.

use survey::say;

use super::{RCD_TYPE, Rule, symbols};
use crate::residual;

pub(super) const RULES: &[Rule] = &[Rule {
    name: "rcd-type",
    clause: |case| match case.kinds {
        [survey::LoadKind::VehicleCharging] => {
            say!("rcd-type-charging-clause")
        }
        _ => say!("rcd-type-clause"),
    },
    symbols: symbols(say!("symbol-type-needed"), say!("symbol-type-fitted")),
    unit: RCD_TYPE,
    scale: 1.0,
    on_size: false,
    advice: |_| false,
    applies: residual::watched,
    evaluate: residual::of_type,
    say: |said| said.say_with("rcd-type", [("whose", residual::whose(said.case).into())]),
}];
