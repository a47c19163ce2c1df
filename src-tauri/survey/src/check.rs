//! The record every calculation returns.
//!
//! A board has hundreds of checks that rest on the same fields: their texts and inputs are shared,
//! not copied.

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use smallvec::SmallVec;

use crate::ids::{CircuitId, PlateId};
use crate::known::Known;
use crate::message::Message;
use crate::sketch::Sketches;
use crate::text::Text;

/// The answer of a check on ranges, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Breaks the rule whatever the unknowns turn out to be.
    Fails,
    /// Breaks no requirement, but goes beyond what a recommendation advises, whatever the unknowns turn out to be.
    Advised,
    /// The unknowns decide.
    Undecided,
    /// Keeps the rule whatever the unknowns turn out to be.
    Holds,
}

impl Verdict {
    /// All of them, the worst first.
    pub const ALL: [Self; 4] = [Self::Fails, Self::Advised, Self::Undecided, Self::Holds];

    /// How it is written in a file.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Fails => "fails",
            Self::Advised => "advised",
            Self::Undecided => "undecided",
            Self::Holds => "holds",
        }
    }

    /// The word shown.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::Fails => "verdict-fails",
            Self::Undecided => "verdict-undecided",
            Self::Advised => "verdict-advised",
            Self::Holds => "verdict-holds",
        })
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
    pub path: Text,
    /// What a person calls it: "cable size".
    pub label: Message,
    /// Its value as shown.
    pub value: Message,
    /// How it is known.
    pub known: Known,
}

/// The values that a check rests on: lists of its own, or some of lists that checks share.
///
/// In a file it is a list like any other.
#[derive(Clone, Default)]
pub struct Inputs {
    /// None for most checks of a plate, one for most of a circuit.
    parts: SmallVec<[Part; 1]>,
}

/// Some of a list.
#[derive(Clone, Debug)]
struct Part {
    all: List,
    /// Which of them, one bit each; `None`: all.
    which: Option<u64>,
}

/// A list that checks may share.
#[derive(Clone, Debug)]
enum List {
    Written(Arc<[Input]>),
    Sketched(Arc<Sketches>),
}

impl List {
    fn written(&self) -> &[Input] {
        match self {
            Self::Written(inputs) => inputs,
            Self::Sketched(sketches) => sketches.written(),
        }
    }
}

impl Inputs {
    fn of(all: List, which: Option<u64>) -> Self {
        Self { parts: SmallVec::from_buf([Part { all, which }]) }
    }

    /// As [`Inputs::chosen`], of a list that is written when somebody looks at it.
    #[must_use]
    pub fn sketched(all: &Arc<Sketches>, which: u64) -> Self {
        Self::of(List::Sketched(Arc::clone(all)), Some(which))
    }

    /// As [`Inputs::shared`], of a list that is written when somebody looks at it.
    #[must_use]
    pub fn all_sketched(all: &Arc<Sketches>) -> Self {
        Self::of(List::Sketched(Arc::clone(all)), None)
    }

    /// Some of a list: those whose bit is set, the first input's bit being the lowest.
    #[must_use]
    pub fn chosen(all: &Arc<[Input]>, which: u64) -> Self {
        Self::of(List::Written(Arc::clone(all)), Some(which))
    }

    /// All of a list that other checks share.
    #[must_use]
    pub fn shared(all: &Arc<[Input]>) -> Self {
        Self::of(List::Written(Arc::clone(all)), None)
    }

    /// These, then others.
    #[must_use]
    pub fn then(mut self, others: Self) -> Self {
        self.parts.extend(others.parts);
        self
    }

    /// The inputs in order.
    #[must_use]
    pub fn iter(&self) -> InputsIter<'_> {
        InputsIter { parts: self.parts.iter(), left: &[], which: None }
    }

    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.iter().count()
    }

    /// True where there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.iter().next().is_none()
    }

    /// Adds one at the end.
    pub fn push(&mut self, input: Input) {
        self.parts.push(Part { all: List::Written([input].into()), which: None });
    }

    /// Changes each input; other checks that share them keep theirs.
    pub fn edit(&mut self, mut change: impl FnMut(&mut Input)) {
        let mut own: Vec<Input> = self.iter().cloned().collect();
        own.iter_mut().for_each(&mut change);
        *self = own.into();
    }
}

/// Goes through [`Inputs`].
#[derive(Clone, Debug)]
pub struct InputsIter<'a> {
    parts: std::slice::Iter<'a, Part>,
    left: &'a [Input],
    which: Option<u64>,
}

impl<'a> InputsIter<'a> {
    /// The next of the list that is gone through.
    fn here(&mut self) -> Option<&'a Input> {
        if let Some(which) = &mut self.which {
            if *which == 0 {
                return None;
            }
            let skipped = which.trailing_zeros() as usize;
            self.left = self.left.get(skipped..).unwrap_or_default();
            *which = which.checked_shr(skipped as u32 + 1).unwrap_or(0);
        }
        let (first, rest) = self.left.split_first()?;
        self.left = rest;
        Some(first)
    }
}

impl<'a> Iterator for InputsIter<'a> {
    type Item = &'a Input;
    fn next(&mut self) -> Option<&'a Input> {
        loop {
            if let Some(input) = self.here() {
                return Some(input);
            }
            let part = self.parts.next()?;
            (self.left, self.which) = (part.all.written(), part.which);
        }
    }
}

impl<'a> IntoIterator for &'a Inputs {
    type Item = &'a Input;
    type IntoIter = InputsIter<'a>;
    fn into_iter(self) -> InputsIter<'a> {
        self.iter()
    }
}
impl IntoIterator for Inputs {
    type Item = Input;
    type IntoIter = std::vec::IntoIter<Input>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter().cloned().collect::<Vec<_>>().into_iter()
    }
}
impl From<Vec<Input>> for Inputs {
    fn from(own: Vec<Input>) -> Self {
        let part = (!own.is_empty()).then(|| Part { all: List::Written(own.into()), which: None });
        Self { parts: part.into_iter().collect() }
    }
}
impl FromIterator<Input> for Inputs {
    fn from_iter<I: IntoIterator<Item = Input>>(inputs: I) -> Self {
        inputs.into_iter().collect::<Vec<_>>().into()
    }
}
impl PartialEq for Inputs {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other)
    }
}
impl fmt::Debug for Inputs {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_list().entries(self).finish()
    }
}
impl Serialize for Inputs {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_seq(self)
    }
}
impl<'de> Deserialize<'de> for Inputs {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Vec::deserialize(from).map(Self::from)
    }
}
impl JsonSchema for Inputs {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        Vec::<Input>::schema_name()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Vec::<Input>::json_schema(generator)
    }
}

/// A reading that would help to settle an undecided check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextReading {
    /// Path of the field in the board.
    pub path: Text,
    /// What to measure or read, as a short order: "measure the length of the cable".
    pub what: Message,
    /// Share of the undecided range that knowing it would remove, 0 to 1.
    pub settles: f64,
}

/// One check: verdict, the inequality with its numbers, the clause, what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Check {
    /// Which rule: "cable-current".
    pub rule: Text,
    /// What it speaks of.
    pub subject: Subject,
    /// The answer.
    pub verdict: Verdict,
    /// One sentence a practitioner would say, with the numbers.
    pub sentence: Message,
    /// The governing inequality with its numbers: "Ib 21.7 A ≤ In 25 A".
    pub inequality: Message,
    /// The standard and clause.
    pub clause: Message,
    /// Smallest and largest distance to the limit, as a share of the limit; negative fails.
    pub margin: Option<[f64; 2]>,
    /// What it rests on.
    pub inputs: Inputs,
    /// The readings to take next, most useful first; empty unless undecided.
    pub next: Vec<NextReading>,
    /// The rows of the tables it looked up and how far each may be trusted; empty where there are none or nobody
    /// asked.
    #[serde(default, skip_serializing_if = "Message::is_empty")]
    pub tables: Message,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(label: &'static str) -> Input {
        Input { path: "/x".into(), label: label.into(), value: "1".into(), known: Known::Stated }
    }

    #[test]
    fn chosen_inputs_are_those_of_the_mask() {
        let all: Arc<[Input]> = (0..64).map(|number| Input { label: number.to_string().into(), ..input("") }).collect();
        for which in [0, 1, 0b1010, 1 << 63, 1 << 63 | 1, u64::MAX] {
            let chosen = Inputs::chosen(&all, which);
            let wanted: Vec<Input> =
                (0..64).filter(|bit| which >> bit & 1 == 1).map(|bit: usize| all[bit].clone()).collect();
            assert_eq!(chosen, Inputs::from(wanted.clone()));
            assert_eq!((chosen.len(), chosen.is_empty()), (wanted.len(), wanted.is_empty()));
            assert_eq!(serde_json::to_string(&chosen).unwrap(), serde_json::to_string(&wanted).unwrap());
            let read: Inputs = serde_json::from_str(&serde_json::to_string(&chosen).unwrap()).unwrap();
            assert_eq!(read, chosen);
        }
        let beyond: Arc<[Input]> = vec![input("a")].into();
        assert_eq!(Inputs::chosen(&beyond, u64::MAX).len(), 1);
    }

    #[test]
    fn lists_follow_one_another() {
        let loads: Arc<[Input]> = vec![input("b"), input("c"), input("d")].into();
        let none: Arc<[Input]> = vec![].into();
        let all = Inputs::from(vec![input("a")])
            .then(Inputs::chosen(&loads, 0))
            .then(Inputs::chosen(&loads, 0b101))
            .then(Inputs::shared(&none))
            .then(Inputs::shared(&loads));
        let labels: Vec<String> = all.iter().map(|input| input.label.to_string()).collect();
        assert_eq!(labels, ["a", "b", "d", "b", "c", "d"]);
    }

    #[test]
    fn a_change_stays_with_its_check() {
        let shared: Arc<[Input]> = vec![input("a"), input("b")].into();
        let mut one = Inputs::chosen(&shared, 0b11);
        let other = one.clone();
        one.edit(|input| input.value = "2".into());
        one.push(input("c"));
        assert_eq!(one.iter().map(|input| input.value.to_string()).collect::<Vec<_>>(), ["2", "2", "1"]);
        assert!(other.iter().all(|input| input.value.contains("1")) && Inputs::default().is_empty());
    }
}
