//! How a surveyed value is known.
//!
//! A [`Reading`] (a quantity) or a [`Fact`] (a choice, a count, a pattern) is stored as one atom:
//! value, unit, how it is known, its own id, who and when together. Two people's readings of one
//! field therefore stay two whole readings until a person picks.

use std::fmt;

use chrono::{DateTime, Utc};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ids::ReadingId;
use crate::message::{Argument, Message};
use crate::range::{Range, Span};
use crate::say;
use crate::units::{self, Quantity, write_quantity};
use crate::words;

/// How a value is known, from firm to unknown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Known {
    /// Measured with an instrument.
    Measured,
    /// Read from a label, a rating plate or the print on a sheath.
    Label,
    /// Decided by the person who designs the work: true once it is built so.
    Decided,
    /// Said by someone or found in an older paper.
    Stated,
    /// Assumed by a rule that is named.
    Assumed,
    /// Not known.
    #[default]
    Unknown,
}

impl Known {
    /// The words a screen or a paper shows.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::Measured => "known-measured",
            Self::Label => "known-label",
            Self::Decided => "known-decided",
            Self::Stated => "known-stated",
            Self::Assumed => "known-assumed",
            Self::Unknown => "known-unknown",
        })
    }
}

/// Where a value comes from: kept with every surveyed value.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Provenance {
    /// How it is known.
    pub known: Known,
    /// The instrument, for a measured value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Who or what said it, for a stated value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The rule, for an assumed value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
    /// The reading's own id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<ReadingId>,
    /// Role of the person who entered it: "surveyor", "office".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub role: Option<String>,
    /// When it was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<DateTime<Utc>>,
}

impl Provenance {
    /// A provenance with nothing but how it is known.
    #[must_use]
    pub fn new(known: Known) -> Self {
        Self { known, ..Self::default() }
    }
}

/// A surveyed quantity: a value, perhaps with a tolerance, or two bounds, or nothing yet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(bound(deserialize = "Q: Deserialize<'de>"), try_from = "RawReading<Q>", into = "RawReading<Q>")]
#[serde(bound(serialize = "Q: Serialize + Clone"))]
#[schemars(bound = "Q: JsonSchema", with = "RawReading<Q>")]
pub struct Reading<Q: Quantity> {
    value: Option<Value<Q>>,
    /// How it is known.
    pub from: Provenance,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Value<Q> {
    One { value: Q, tolerance: Option<Q> },
    Between(Q, Q),
}

#[derive(Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, bound(deserialize = "Q: Deserialize<'de>", serialize = "Q: Serialize"))]
struct RawReading<Q> {
    known: Known,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    value: Option<Q>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    between: Option<[Q; 2]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    tolerance: Option<Q>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    rule: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    id: Option<ReadingId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    role: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    at: Option<DateTime<Utc>>,
}

impl<Q: Quantity> TryFrom<RawReading<Q>> for Reading<Q> {
    type Error = Message;
    fn try_from(raw: RawReading<Q>) -> Result<Self, Message> {
        let what = || units::name(Q::WHAT);
        let value = match (raw.value, raw.between) {
            (Some(_), Some(_)) => return Err(say!("value-both", what = what())),
            (Some(value), None) => Some(Value::One { value, tolerance: raw.tolerance }),
            (None, Some([lo, hi])) if lo <= hi => Some(Value::Between(lo, hi)),
            (None, Some([lo, hi])) => {
                return Err(say!("value-order", what = what(), from = lo.to_string(), to = hi.to_string()));
            }
            (None, None) => None,
        };
        match (&value, raw.known) {
            (None, Known::Unknown) | (Some(_), _) => {}
            (None, known) => {
                return Err(say!("value-needed", what = what(), known = known.words()));
            }
        }
        if value.is_some() && raw.known == Known::Unknown {
            return Err(say!("value-unknown", what = what()));
        }
        if raw.tolerance.is_some_and(|tolerance| tolerance.get() < 0.0) {
            return Err(say!("value-tolerance", what = what()));
        }
        Ok(Self {
            value,
            from: Provenance {
                known: raw.known,
                instrument: raw.instrument,
                by: raw.by,
                rule: raw.rule,
                id: raw.id,
                role: raw.role,
                at: raw.at,
            },
        })
    }
}

impl<Q: Quantity> From<Reading<Q>> for RawReading<Q> {
    fn from(reading: Reading<Q>) -> Self {
        let (value, tolerance, between) = match reading.value {
            Some(Value::One { value, tolerance }) => (Some(value), tolerance, None),
            Some(Value::Between(lo, hi)) => (None, None, Some([lo, hi])),
            None => (None, None, None),
        };
        let Provenance { known, instrument, by, rule, id, role, at } = reading.from;
        Self { known, value, between, tolerance, instrument, by, rule, id, role, at }
    }
}

impl<Q: Quantity> Default for Reading<Q> {
    fn default() -> Self {
        Self::unknown()
    }
}

impl<Q: Quantity> Reading<Q> {
    /// Not known yet.
    #[must_use]
    pub fn unknown() -> Self {
        Self { value: None, from: Provenance::default() }
    }

    /// One value, known in this way.
    #[must_use]
    pub fn of(value: Q, from: Provenance) -> Self {
        Self { value: Some(Value::One { value, tolerance: None }), from }
    }

    /// A value with the instrument's tolerance either side.
    #[must_use]
    pub fn within(value: Q, tolerance: Q, from: Provenance) -> Self {
        Self { value: Some(Value::One { value, tolerance: Some(tolerance) }), from }
    }

    /// Between two bounds.
    #[must_use]
    pub fn between(a: Q, b: Q, from: Provenance) -> Self {
        let (lo, hi) = if a <= b { (a, b) } else { (b, a) };
        Self { value: Some(Value::Between(lo, hi)), from }
    }

    /// The closed range it can lie in; `None` where nothing is known.
    #[must_use]
    pub fn range(&self) -> Option<Range<Q>> {
        self.value.map(|value| match value {
            Value::One { value, tolerance: None } => Range::point(value),
            Value::One { value, tolerance: Some(tolerance) } => {
                Range::point(value) + Range::new(Q::of(-tolerance.get()), tolerance)
            }
            Value::Between(lo, hi) => Range::new(lo, hi),
        })
    }

    /// The single value entered, without its tolerance; `None` for bounds and unknowns.
    #[must_use]
    pub fn single(&self) -> Option<Q> {
        match self.value {
            Some(Value::One { value, .. }) => Some(value),
            _ => None,
        }
    }

    /// True where nothing is known.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.value.is_none()
    }

    /// The value as a person reads it: "16 mm²", "0.3 to 0.5 Ω", "not known".
    #[must_use]
    pub fn shown(&self) -> String {
        self.to_string()
    }

    /// The same as a message.
    #[must_use]
    pub fn said(&self) -> Message {
        self.to_show().said()
    }

    /// What [`Self::shown`] writes, as numbers.
    #[must_use]
    pub fn to_show(&self) -> Shown {
        let value = self.value.map(|value| match value {
            Value::One { value, tolerance } => Value::One { value: value.get(), tolerance: tolerance.map(Q::get) },
            Value::Between(lo, hi) => Value::Between(lo.get(), hi.get()),
        });
        Shown { value, unit: Q::SYMBOL }
    }
}

/// Digits of a number that was entered: as many as it may have.
const ENTERED: u8 = 15;

/// A value as it was entered, without where it comes from: shows as its reading does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    value: Option<Value<f64>>,
    unit: &'static str,
}

impl Shown {
    /// A count.
    #[must_use]
    pub fn count(count: u8) -> Self {
        Self { value: Some(Value::One { value: f64::from(count), tolerance: None }), unit: "" }
    }

    /// The value as a message: all digits that were entered.
    #[must_use]
    pub fn said(&self) -> Message {
        match self.value {
            Some(Value::Between(lo, hi)) => {
                say!("input-value", value = Argument::Span { span: Span { lo, hi }, unit: self.unit, digits: ENTERED })
            }
            Some(Value::One { .. }) => Message::plain(self.to_string()),
            None => say!("not-known"),
        }
    }

    /// It has words in it, not numbers alone.
    pub(crate) fn has_words(&self) -> bool {
        !matches!(self.value, Some(Value::One { .. }))
    }
}

impl fmt::Display for Shown {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.value {
            Some(Value::One { value, tolerance: None }) => write_quantity(out, value, self.unit),
            Some(Value::One { value, tolerance: Some(tolerance) }) => {
                write!(out, "{value} ± ")?;
                write_quantity(out, tolerance, self.unit)
            }
            Some(Value::Between(lo, hi)) => {
                write!(out, "{lo}{}", words::between())?;
                write_quantity(out, hi, self.unit)
            }
            None if cfg!(feature = "words") => fmt::Display::fmt(&Message::bare("not-known"), out),
            // Without a catalogue a message has no words.
            None => out.write_str("not known"),
        }
    }
}

impl<Q: Quantity> fmt::Display for Reading<Q> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.value {
            // To so many decimals, where that is asked for.
            Some(Value::One { value, tolerance: None }) => fmt::Display::fmt(&value, out),
            _ => fmt::Display::fmt(&self.to_show(), out),
        }
    }
}

/// A surveyed choice, count or other thing that has no unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "RawFact<T>", into = "RawFact<T>")]
#[serde(bound(deserialize = "T: Deserialize<'de>", serialize = "T: Serialize + Clone"))]
#[schemars(bound = "T: JsonSchema", with = "RawFact<T>")]
pub struct Fact<T> {
    /// The thing itself; `None` where it is not known.
    pub value: Option<T>,
    /// How it is known.
    pub from: Provenance,
}

#[derive(Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, bound(deserialize = "T: Deserialize<'de>", serialize = "T: Serialize"))]
struct RawFact<T> {
    known: Known,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    value: Option<T>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    rule: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    id: Option<ReadingId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    role: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    at: Option<DateTime<Utc>>,
}

impl<T> TryFrom<RawFact<T>> for Fact<T> {
    type Error = Message;
    fn try_from(raw: RawFact<T>) -> Result<Self, Message> {
        match (&raw.value, raw.known) {
            (Some(_), Known::Unknown) => {
                return Err(say!("value-unknown-thing"));
            }
            (None, known) if known != Known::Unknown => {
                return Err(say!("value-needed-thing", known = known.words()));
            }
            _ => {}
        }
        let RawFact { known, value, instrument, by, rule, id, role, at } = raw;
        Ok(Self { value, from: Provenance { known, instrument, by, rule, id, role, at } })
    }
}

impl<T> From<Fact<T>> for RawFact<T> {
    fn from(fact: Fact<T>) -> Self {
        let Provenance { known, instrument, by, rule, id, role, at } = fact.from;
        Self { known, value: fact.value, instrument, by, rule, id, role, at }
    }
}

impl<T> Default for Fact<T> {
    fn default() -> Self {
        Self { value: None, from: Provenance::default() }
    }
}

impl<T> Fact<T> {
    /// A value, known in this way.
    #[must_use]
    pub fn of(value: T, from: Provenance) -> Self {
        Self { value: Some(value), from }
    }

    /// The value, if known.
    #[must_use]
    pub fn get(&self) -> Option<&T> {
        self.value.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Ohms;

    #[test]
    fn a_reading_goes_through_a_file_whole() {
        let text = r#"{"known":"measured","value":"0.35 ohm","tolerance":"0.02 ohm","instrument":"loop tester"}"#;
        let reading: Reading<Ohms> = serde_json::from_str(text).unwrap();
        let range = reading.range().unwrap();
        assert!(range.lo().get() <= 0.33 && range.hi().get() >= 0.37 && range.width() < 0.0401);
        assert_eq!(serde_json::to_string(&reading).unwrap(), text);
    }

    #[test]
    fn contradictions_are_refused() {
        for bad in [
            r#"{"known":"unknown","value":"1 ohm"}"#,
            r#"{"known":"label"}"#,
            r#"{"known":"label","value":"1 ohm","between":["1 ohm","2 ohm"]}"#,
            r#"{"known":"label","between":["2 ohm","1 ohm"]}"#,
            r#"{"known":"label","value":"1 ohm","colour":"red"}"#,
            r#"{"known":"measured","value":"1 ohm","tolerance":"-1 ohm"}"#,
        ] {
            assert!(serde_json::from_str::<Reading<Ohms>>(bad).is_err(), "{bad}");
        }
    }
}
