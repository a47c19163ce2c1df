//! What a field holds, and how typed text becomes the value that is sent.

use serde_json::{Value, json};
use survey::Field;
use survey::field::Holds;
use survey::known::Known;
use survey::units::Quantity;

use crate::state::Draft;
use crate::words::{said, tr};

/// Kind of a field's value.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A number with a unit.
    Quantity {
        /// The unit shown beside the field and added to a bare number.
        unit: &'static str,
        /// Units that can be typed, each with its factor.
        units: &'static [(&'static str, f64)],
    },
    /// One of several.
    Choice(Vec<(&'static str, &'static str)>),
    /// A whole number.
    Count,
    /// Words.
    Text,
}

/// A quantity, shown in `unit`.
pub fn quantity<Q: Quantity>(unit: &'static str) -> Kind {
    Kind::Quantity { unit, units: Q::ACCEPTED }
}

impl Kind {
    /// What a field of the catalogue holds.
    pub fn of(field: &Field) -> Self {
        match field.holds {
            Holds::Quantity { units, .. } => {
                let own = units.first().map_or("", |(unit, _)| unit);
                Self::Quantity { unit: field.unit.unwrap_or(own), units }
            }
            Holds::Choice(list) => Self::Choice(list().into_iter().map(|(key, words)| (key, said(words))).collect()),
            Holds::Count => Self::Count,
            _ => Self::Text,
        }
    }
}

/// The six ways of knowing, in the order they are offered, with the key of each.
pub const KNOWN: [(&str, Known); 6] = [
    ("measured", Known::Measured),
    ("label", Known::Label),
    ("decided", Known::Decided),
    ("stated", Known::Stated),
    ("assumed", Known::Assumed),
    ("unknown", Known::Unknown),
];

/// Words of a way of knowing.
pub fn known_words(key: &str) -> &'static str {
    let known = KNOWN.iter().find(|(known, _)| *known == key).map_or(Known::Unknown, |(_, known)| *known);
    said(known.words())
}

impl Kind {
    /// The unit as it is shown.
    pub fn unit(&self) -> &'static str {
        match self {
            Self::Quantity { unit, .. } => match *unit {
                "mm2" => "mm²",
                "degC" => "°C",
                "ohm" => "Ω",
                "Mohm" => "MΩ",
                "ohm.m" => "Ω·m",
                "K.m/W" => "K·m/W",
                "A2s" => "A²s",
                unit => unit,
            },
            _ => "",
        }
    }

    /// A stored value as it stands in the field.
    pub fn shown(&self, value: &Value) -> String {
        match (self, value) {
            (Self::Quantity { unit, units }, Value::String(text)) => in_unit(text, unit, units),
            (_, Value::String(text)) => text.clone(),
            (_, Value::Null) => String::new(),
            (_, other) => other.to_string(),
        }
    }

    /// The value to send for what was typed. What makes no sense is sent as it is: the answer says
    /// what would do.
    pub fn typed(&self, text: &str) -> Value {
        let text = text.trim();
        match self {
            Self::Quantity { unit, .. } => Value::String(with_unit(text, unit)),
            Self::Count => text.parse::<i64>().map_or_else(|_| Value::String(text.to_owned()), Value::from),
            Self::Choice(_) | Self::Text => Value::String(text.to_owned()),
        }
    }
}

/// A number as people write it: a minus sign of print, a decimal comma before one or two digits. More digits after
/// a comma could be thousands, so they stay, and no reader takes them.
fn as_written(text: &str) -> String {
    let text = text.trim().replace('\u{2212}', "-");
    let Some((whole, rest)) = text.split_once(',') else { return text };
    let digits = rest.chars().take_while(char::is_ascii_digit).count();
    if (1..=2).contains(&digits) && !rest.contains(['.', ',']) { format!("{whole}.{rest}") } else { text }
}

/// A typed number that a screen needs as one, in its unit, which may be written after it. None where it is no number
/// or could be two: every screen reads what is typed by this rule.
pub fn number(text: &str, unit: &str) -> Option<f64> {
    let text = as_written(text);
    let bare = text.strip_suffix(unit).unwrap_or(&text).trim_end();
    bare.parse::<f64>().ok().filter(|number| number.is_finite())
}

/// Adds the unit to a bare number.
fn with_unit(text: &str, unit: &str) -> String {
    let text = as_written(text);
    if text.parse::<f64>().is_ok_and(f64::is_finite) && !unit.is_empty() { format!("{text} {unit}") } else { text }
}

/// "0.03 A" in milliamperes: "30". What cannot be read is shown as it is.
fn in_unit(text: &str, unit: &str, units: &[(&str, f64)]) -> String {
    let (number, written) = text.split_once(' ').unwrap_or((text, ""));
    let factor = |name: &str| units.iter().find(|(other, _)| *other == name).map(|(_, factor)| *factor);
    match (number.parse::<f64>(), factor(written), factor(unit)) {
        (Ok(number), Some(from), Some(to)) if from == to => number.to_string(),
        // Fifteen digits hide the noise of the two factors and nothing a person typed.
        (Ok(number), Some(from), Some(to)) => {
            let shown = format!("{:.14e}", number * from / to);
            shown.parse::<f64>().map_or(shown, |number| number.to_string())
        }
        _ => text.to_owned(),
    }
}

/// A stored surveyed value as a person reads it; `None` where nothing is known.
pub fn reading_words(stored: &Value, kind: &Kind) -> Option<String> {
    let draft = Draft::surveyed(stored, kind);
    let unit = kind.unit();
    match (draft.two, draft.text.as_str()) {
        (true, _) => {
            Some(tr("ui-field-range", &[("low", draft.low.into()), ("high", draft.high.into()), ("unit", unit.into())]))
        }
        (false, "") => None,
        (false, text) => Some(format!("{text}\u{a0}{unit}")),
    }
}

impl Draft {
    /// What a stored surveyed value looks like in its field.
    pub fn surveyed(stored: &Value, kind: &Kind) -> Self {
        let text = |key: &str| stored[key].as_str().unwrap_or_default().to_owned();
        let bound = |index: usize| kind.shown(&stored["between"][index]);
        Self {
            text: kind.shown(&stored["value"]),
            two: stored["between"].is_array(),
            low: bound(0),
            high: bound(1),
            known: stored["known"].as_str().unwrap_or("unknown").to_owned(),
            tolerance: kind.shown(&stored["tolerance"]),
            instrument: text("instrument"),
            by: text("by"),
            rule: text("rule"),
            error: None,
        }
    }

    /// What a stored plain value looks like in its field.
    pub fn plain(stored: &Value, kind: &Kind) -> Self {
        Self { text: kind.shown(stored), ..Self::default() }
    }

    /// True where there is no value in the field.
    pub fn is_empty(&self) -> bool {
        if self.two { self.low.trim().is_empty() && self.high.trim().is_empty() } else { self.text.trim().is_empty() }
    }

    /// True where a surveyed value stands in the field and nobody has said how it is known.
    pub fn is_unsaid(&self) -> bool {
        !self.is_empty() && self.known == "unknown"
    }

    /// True where there is enough to save: both bounds or none, a value for a way of knowing, and a way of knowing
    /// for a value: none is taken for granted.
    pub fn is_whole(&self) -> bool {
        if self.is_empty() {
            return self.known == "unknown";
        }
        if self.is_unsaid() {
            return false;
        }
        !self.two || (!self.low.trim().is_empty() && !self.high.trim().is_empty())
    }

    /// The surveyed value to send.
    pub fn to_value(&self, kind: &Kind) -> Value {
        if self.is_empty() || self.known == "unknown" {
            return json!({"known": "unknown"});
        }
        let mut value = json!({"known": self.known});
        if self.two {
            value["between"] = json!([kind.typed(&self.low), kind.typed(&self.high)]);
        } else {
            value["value"] = kind.typed(&self.text);
        }
        let mut add = |key: &str, text: &str, typed: Value| {
            if !text.trim().is_empty() {
                value[key] = typed;
            }
        };
        match self.known.as_str() {
            "measured" => {
                add("instrument", &self.instrument, json!(self.instrument.trim()));
                if !self.two && matches!(kind, Kind::Quantity { .. }) {
                    add("tolerance", &self.tolerance, kind.typed(&self.tolerance));
                }
            }
            "stated" => add("by", &self.by, json!(self.by.trim())),
            "assumed" => add("rule", &self.rule, json!(self.rule.trim())),
            _ => {}
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use survey::units::{Amps, SquareMillimetres};

    #[test]
    fn a_bare_number_gets_the_unit_of_its_field() {
        let size = quantity::<SquareMillimetres>("mm2");
        for (typed, sent) in [
            ("2.5", "2.5 mm2"),
            (" 16 ", "16 mm2"),
            ("2,5", "2.5 mm2"),
            ("1,500", "1,500"),
            ("4 mm²", "4 mm²"),
            ("thick", "thick"),
            ("nan", "nan"),
            ("", ""),
        ] {
            assert_eq!(size.typed(typed), json!(sent), "{typed}");
        }
    }

    #[test]
    fn a_stored_value_is_shown_in_the_unit_of_its_field() {
        let residual = quantity::<Amps>("mA");
        for (stored, shown) in [("0.03 A", "30"), ("0.1 A", "100"), ("30 mA", "30"), ("odd", "odd")] {
            assert_eq!(residual.shown(&json!(stored)), shown);
        }
        assert_eq!(quantity::<Amps>("kA").shown(&json!("6000 A")), "6");
    }

    #[test]
    fn what_is_sent_reads_as_a_reading() {
        let kind = quantity::<SquareMillimetres>("mm2");
        let typed = Draft { text: "2.5".into(), known: "measured".into(), tolerance: "0.1".into(), ..Draft::default() };
        let value = typed.to_value(&kind);
        let reading: survey::Reading<SquareMillimetres> = serde_json::from_value(value.clone()).unwrap();
        assert_eq!(reading.shown(), "2.5 ± 0.1\u{a0}mm²");
        assert_eq!(Draft::surveyed(&value, &kind), typed);
        let between =
            Draft { two: true, low: "1.5".into(), high: "2.5".into(), known: "stated".into(), ..Draft::default() };
        let reading: survey::Reading<SquareMillimetres> = serde_json::from_value(between.to_value(&kind)).unwrap();
        assert_eq!(reading.shown(), "1.5 to 2.5\u{a0}mm²");
    }

    #[test]
    fn half_a_range_waits() {
        let half = Draft { two: true, low: "1".into(), known: "stated".into(), ..Draft::default() };
        assert!(!half.is_whole() && Draft { high: "2".into(), ..half }.is_whole());
        assert!(!Draft { known: "label".into(), ..Draft::default() }.is_whole());
        assert!(Draft { known: "unknown".into(), ..Draft::default() }.is_whole());
    }

    #[test]
    fn a_value_waits_until_somebody_says_how_it_is_known() {
        let kind = quantity::<SquareMillimetres>("mm2");
        // A field that was never filled, a number typed into it, nothing else touched.
        let new = Draft { text: "2.5".into(), ..Draft::surveyed(&Value::Null, &kind) };
        assert!(!new.is_whole() && new.is_unsaid());
        let between = Draft { two: true, low: "1".into(), high: "2".into(), ..Draft::surveyed(&Value::Null, &kind) };
        assert!(!between.is_whole() && between.is_unsaid());
        let said = Draft { known: "stated".into(), ..new };
        assert!(said.is_whole());
        assert_eq!(said.to_value(&kind), json!({"known": "stated", "value": "2.5 mm2"}));
    }

    #[test]
    fn a_number_is_read_alike_wherever_it_is_typed() {
        for (typed, read) in [
            (" 12,5 mm", Some(12.5)),
            ("120", Some(120.0)),
            ("12.5mm", Some(12.5)),
            ("\u{2212}3", Some(-3.0)),
            // Fifteen hundred or one and a half: nobody but the person knows.
            ("1,500", None),
            ("1,500 mm", None),
            ("1,5,0", None),
            ("far", None),
            ("", None),
            ("NaN", None),
            ("inf", None),
        ] {
            assert_eq!(number(typed, "mm"), read, "{typed}");
            // A field with a unit takes and refuses the same.
            let sent = quantity::<survey::Millimetres>("mm").typed(typed);
            let taken = serde_json::from_value::<survey::Millimetres>(sent).ok().map(Quantity::get);
            assert_eq!(taken, read, "{typed}");
        }
    }
}
