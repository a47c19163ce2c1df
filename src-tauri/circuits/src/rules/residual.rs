//! The rule of the RCD's type.

use super::{RCD_TYPE, Rule};
use crate::residual;

pub(super) const RULES: &[Rule] = &[Rule {
    name: "rcd-type",
    clause: |case| match case.kinds {
        [survey::LoadKind::VehicleCharging] => {
            "IEC 60364-7-722, 722.531.3.101: type B, or type A where 6 mA of smooth d.c. is cut off"
        }
        _ => "IEC 60364-5-53, 531.3.3: the RCD's type suits the load's earth fault current",
    },
    symbols: ["type needed", "type fitted"],
    unit: RCD_TYPE,
    scale: 1.0,
    on_size: false,
    advice: |_| false,
    applies: residual::watched,
    evaluate: residual::of_type,
    say: |said| said.say_with("rcd-type", [("whose", residual::whose(said.case).into())]),
}];
