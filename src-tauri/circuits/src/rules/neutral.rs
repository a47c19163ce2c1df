//! Rules of the neutral: what it carries and how thick it is.

use survey::Verdict;

use super::{Rule, Said};
use crate::{energy, harmonic};

pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "neutral-load",
        clause: |_| "IEC 60364-5-52, 523.6.3 and annex E: IN = 3·h·Ib ≤ what the neutral carries",
        symbols: ["IN", "Iz"],
        unit: "A",
        scale: 1.0,
        on_size: true,
        applies: harmonic::neutral_counts,
        evaluate: harmonic::neutral,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => format!("Third harmonics put {value} into the neutral; it carries {limit}."),
                Verdict::Fails => format!(
                    "Third harmonics put {value} into the neutral, which carries only {limit}: choose the size by the neutral."
                ),
                Verdict::Undecided => {
                    format!("Third harmonics put {value} into the neutral; whether its {limit} are enough is open.")
                }
            }
        },
    },
    Rule {
        name: "neutral-energy",
        clause: |_| "IEC 60364-4-43, 434.5.2 and 431.2: I²t ≤ k²S² of the neutral for every fault to it",
        symbols: ["√(I²t)/k", "SN"],
        unit: "mm²",
        scale: 1.0,
        on_size: false,
        applies: harmonic::neutral_given,
        evaluate: energy::neutral,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => format!("A short circuit needs {value} of neutral; it has {limit}."),
                Verdict::Fails => format!("A short circuit needs {value} of neutral; it has only {limit}."),
                Verdict::Undecided => format!("A short circuit needs {value} of neutral; it has {limit}: undecided."),
            }
        },
    },
    Rule {
        name: "neutral-size",
        clause: |_| "IEC 60364-5-52, 524.2: the neutral as thick as the lines, or 16 mm² Cu, 25 mm² Al where balanced",
        symbols: ["SN needed", "SN"],
        unit: "mm²",
        scale: 1.0,
        on_size: false,
        applies: harmonic::neutral_given,
        evaluate: harmonic::neutral_size,
        say: |said| {
            let Said { value, limit, .. } = said;
            match said.verdict {
                Verdict::Holds => format!("The neutral must have {value}; it has {limit}."),
                Verdict::Fails => format!("The neutral must have {value}; it has only {limit}."),
                Verdict::Undecided => format!("The neutral must have {value} and has {limit}: open."),
            }
        },
    },
];
