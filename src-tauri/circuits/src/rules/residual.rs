//! The rule of the RCD's type.

use survey::Verdict;

use super::{RCD_TYPE, Rule, Said, words};
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
    say: |said| {
        let Said { value, limit, .. } = said;
        match said.verdict {
            Verdict::Holds => {
                words!(said, "The load's earth fault current needs an RCD of type {value}; type {limit} detects it.")
            }
            Verdict::Fails | Verdict::Advised => words!(
                said,
                "The load's earth fault current needs an RCD of type {value}; {}, of type {limit}, may not see it, or be blinded by it.",
                residual::whose(said.case)
            ),
            Verdict::Undecided => {
                words!(
                    said,
                    "The load's earth fault current needs an RCD of type {value}; whether {}, of type {limit}, will do is open.",
                    residual::whose(said.case)
                )
            }
        }
    },
}];
