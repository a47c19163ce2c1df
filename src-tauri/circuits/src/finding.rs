//! How the checks of the board as a whole are put into records.

use survey::range::Span;
use survey::units::Quantity;
use survey::{Argument, Check, Input, Inputs, Known, Message, NextReading, Reading, Subject, Text, Verdict, say};

use crate::field::Field;
use crate::rules::{Compared, as_advice, bare_relation};
use crate::verdict::Outcome;

/// A rule of the board before its verdict.
#[derive(Clone)]
pub(crate) struct Rule {
    /// Its key in check records.
    pub(crate) name: &'static str,
    /// Standard and clause.
    pub(crate) clause: Message,
    /// Symbols of value and limit.
    pub(crate) symbols: [Message; 2],
    /// Unit shown, and what one of it is in the rule's own numbers.
    pub(crate) unit: &'static str,
    pub(crate) scale: f64,
    /// It is a recommendation: beyond it no requirement is broken.
    pub(crate) advice: bool,
}

impl Rule {
    /// A rule whose checks are words alone, without value and limit.
    pub(crate) const fn in_words(name: &'static str, clause: Message) -> Self {
        Self { name, clause, symbols: [Message::fixed(""), Message::fixed("")], unit: "", scale: 1.0, advice: false }
    }

    /// The same rule as a recommendation.
    pub(crate) const fn advised(mut self) -> Self {
        self.advice = true;
        self
    }

    /// A check with numbers; `say` makes the sentence from verdict, value and limit as shown.
    pub(crate) fn judged(
        &self,
        subject: Subject,
        outcome: Outcome,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
        say: impl FnOnce(Verdict, Compared) -> Message,
    ) -> Check {
        let verdict = outcome.verdict();
        let compared = Compared::of(outcome, verdict, self.unit, self.scale);
        let sentence = say(verdict, compared.clone());
        let inequality = compared.relation(self.symbols.clone(), verdict);
        self.plain(subject, verdict, sentence, inequality, outcome.margin(), inputs, next)
    }

    /// A check with numbers whose sentence is one message of the catalogue, with verdict, value and limit in it and what
    /// else it names.
    pub(crate) fn judged_as<const N: usize>(
        &self,
        subject: Subject,
        outcome: Outcome,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
        id: &'static str,
        more: [(&'static str, Argument); N],
    ) -> Check {
        self.judged(subject, outcome, inputs, next, |verdict, compared| compared.said(id, verdict, more))
    }

    /// A check that lacks what it needs; `why` follows "Not settled".
    pub(crate) fn open(
        &self,
        subject: Subject,
        why: impl Into<Message>,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
    ) -> Check {
        self.undecided(subject, say!("not-settled", why = why.into()), inputs, next)
    }

    /// A check that lacks readings, by their labels.
    pub(crate) fn wanting(
        &self,
        subject: Subject,
        labels: Vec<Message>,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
    ) -> Check {
        self.undecided(subject, say!("not-settled-for-want-of", what = labels), inputs, next)
    }

    fn undecided(
        &self,
        subject: Subject,
        sentence: Message,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
    ) -> Check {
        self.plain(subject, Verdict::Undecided, sentence, bare_relation(self.symbols.clone()), None, inputs, next)
    }

    /// A check in words of its own.
    #[allow(clippy::too_many_arguments)] // One for each part of the record.
    pub(crate) fn plain(
        &self,
        subject: Subject,
        verdict: Verdict,
        sentence: impl Into<Message>,
        inequality: impl Into<Message>,
        margin: Option<[f64; 2]>,
        inputs: impl Into<Inputs>,
        next: Vec<NextReading>,
    ) -> Check {
        let next = if verdict == Verdict::Undecided { next } else { Vec::new() };
        let verdict = if self.advice { as_advice(verdict) } else { verdict };
        Check {
            rule: self.name.into(),
            subject,
            verdict,
            sentence: sentence.into(),
            inequality: inequality.into(),
            clause: self.clause.clone(),
            margin,
            inputs: inputs.into(),
            next,
            tables: crate::tables::trace::take(),
        }
    }
}

/// A surveyed quantity as an input.
pub(crate) fn input<Q: Quantity>(path: impl Into<Text>, label: impl Into<Message>, reading: &Reading<Q>) -> Input {
    told(path, label, shown(reading), reading.from.known)
}

/// A surveyed quantity as it was entered.
pub(crate) fn shown<Q: Quantity>(reading: &Reading<Q>) -> Message {
    reading.said()
}

/// Anything else as an input.
pub(crate) fn told(path: impl Into<Text>, label: impl Into<Message>, value: impl Into<Message>, known: Known) -> Input {
    Input { path: path.into(), label: label.into(), value: value.into(), known }
}

/// A choice as an input.
pub(crate) fn chosen<T, W: Into<Message>>(
    path: impl Into<Text>,
    label: impl Into<Message>,
    fact: &survey::Fact<T>,
    words: impl Fn(&T) -> W,
) -> Input {
    told(path, label, fact.get().map_or(say!("not-known"), |chosen| words(chosen).into()), fact.from.known)
}

/// A reading to take next.
pub(crate) fn next(path: impl Into<Text>, what: impl Into<Message>, settles: f64) -> NextReading {
    NextReading { path: path.into(), what: what.into(), settles }
}

/// What a person calls a field.
pub(crate) fn label(field: Field) -> Message {
    field.about().label.clone()
}

/// How to get a field.
pub(crate) fn ask(field: Field) -> Message {
    field.about().ask.clone()
}

/// A current in A, shown in kA.
pub(crate) fn kiloamperes(current: Span) -> Argument {
    Argument::span(Span { lo: current.lo / 1000.0, hi: current.hi / 1000.0 }, "kA")
}

/// A range in a unit as a message of its own.
pub(crate) fn value(value: impl Into<Argument>) -> Message {
    say!("input-value", value = value.into())
}

/// A sentence, and what to read to settle it.
pub(crate) fn settled_by(sentence: Message, next: &NextReading) -> Message {
    Message::several([sentence, Message::to_settle(next.what.clone())])
}

/// Readings that all are needed: each settles its share.
pub(crate) fn all_of<const N: usize, M: Into<Message>>(wanted: [Option<(&str, M)>; N]) -> Vec<NextReading> {
    let wanted: Vec<_> = wanted.into_iter().flatten().collect();
    let share = 1.0 / wanted.len().max(1) as f64;
    wanted.into_iter().map(|(path, what)| next(path.to_owned(), what, share)).collect()
}

/// Keys of the rules that are put into records here.
const KEYS: &[&str] = &[
    "fault-level",
    "external-loop",
    "supply-readings",
    "outgoing-loading",
    "enclosure-temperature",
    "earthing-conductor",
    "main-bonding",
    "leakage",
    "rcd-poles",
    "reduced-lines",
    "neutral-switched",
    "selectivity",
    "rcd-selectivity",
];

/// The key of a rule as fixed words; empty for a rule of another kind.
pub(crate) fn key(rule: &str) -> &'static str {
    KEYS.iter()
        .chain(crate::supply::KEYS)
        .chain(crate::as_found::KEYS)
        .copied()
        .find(|key| *key == rule)
        .unwrap_or_default()
}
