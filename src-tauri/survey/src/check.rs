//! The record every calculation returns.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ids::{CircuitId, PlateId};
use crate::known::Known;

/// The answer of a check on ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Breaks the rule whatever the unknowns turn out to be.
    Fails,
    /// The unknowns decide.
    Undecided,
    /// Keeps the rule whatever the unknowns turn out to be.
    Holds,
}

impl Verdict {
    /// The word shown.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Fails => "fails",
            Self::Undecided => "undecided",
            Self::Holds => "holds",
        }
    }
}

/// What a check speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// The whole board.
    Board,
    /// One circuit.
    Circuit(CircuitId),
    /// One gland plate.
    Plate(PlateId),
}

/// A value that a check rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Input {
    /// Path of the field in the board.
    pub path: String,
    /// What a person calls it: "cable size".
    pub label: String,
    /// Its value as shown.
    pub value: String,
    /// How it is known.
    pub known: Known,
}

/// A reading that would help to settle an undecided check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextReading {
    /// Path of the field in the board.
    pub path: String,
    /// What to measure or read, as a short order: "measure the length of the cable".
    pub what: String,
    /// Share of the undecided range that knowing it would remove, 0 to 1.
    pub settles: f64,
}

/// One check: verdict, the inequality with its numbers, the clause, what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Check {
    /// Which rule: "cable-current".
    pub rule: String,
    /// What it speaks of.
    pub subject: Subject,
    /// The answer.
    pub verdict: Verdict,
    /// One sentence a practitioner would say, with the numbers.
    pub sentence: String,
    /// The governing inequality with its numbers: "Ib 21.7 A ≤ In 25 A".
    pub inequality: String,
    /// The standard and clause.
    pub clause: String,
    /// Smallest and largest distance to the limit, as a share of the limit; negative fails.
    pub margin: Option<[f64; 2]>,
    /// What it rests on.
    pub inputs: Vec<Input>,
    /// The readings to take next, most useful first; empty unless undecided.
    pub next: Vec<NextReading>,
}
