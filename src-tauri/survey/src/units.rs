//! Quantities that carry their unit in the type.
//!
//! A quantity keeps the number in the unit people write on the drawing (2.5 mm² stays `2.5`), so a
//! table lookup by size and a printed value have no conversion noise; mixing two units does not
//! compile. `uom` was tried on paper and set aside for that reason: it stores SI base units, and
//! 2.5 mm² comes back as 2.4999999999999996.
//!
//! In a file a quantity is one string, number and unit: `"2.5 mm2"`.

use std::borrow::Cow;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::message::Message;
use crate::say;

/// A number with one fixed unit.
pub trait Quantity: Copy + PartialOrd + fmt::Debug + fmt::Display + Send + Sync + 'static {
    /// What is measured: "current", "length".
    const WHAT: &'static str;
    /// The unit's symbol as it is printed: "A", "mm²".
    const SYMBOL: &'static str;
    /// Units accepted in a file or typed by a person, each with the factor to this type's unit.
    /// The first one is written.
    const ACCEPTED: &'static [(&'static str, f64)];
    /// From a number in this type's unit.
    fn of(value: f64) -> Self;
    /// The number in this type's unit.
    fn get(self) -> f64;

    /// Reads `"2.5 mm2"`.
    ///
    /// # Errors
    /// A sentence that names the value and what would do: no number, not finite, an unknown unit.
    fn parse(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let wants = || {
            let units: Vec<&str> = Self::ACCEPTED.iter().map(|(symbol, _)| *symbol).collect();
            let unit = units.first().copied().unwrap_or_default();
            if units.iter().all(|unit| unit.is_empty()) {
                say!("value-plain-number", what = name(Self::WHAT))
            } else {
                say!("value-in-unit", what = name(Self::WHAT), units = units.join(", "), unit = unit)
            }
        };
        let split = text
            .char_indices()
            .find(|(index, letter)| {
                let exponent = matches!(letter, 'e' | 'E')
                    && *index > 0
                    && text[index + 1..].starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+');
                !(letter.is_ascii_digit() || matches!(letter, '.' | '-' | '+') || exponent)
            })
            .map_or(text.len(), |(index, _)| index);
        let (number, unit) = text.split_at(split);
        let unit = unit.trim();
        let shown: String = text.chars().take(60).collect();
        let number: f64 = number
            .trim()
            .parse()
            .map_err(|_| say!("value-no-number", value = shown.clone(), wanted = wants()).to_string())?;
        let factor =
            Self::ACCEPTED.iter().find(|(symbol, _)| *symbol == unit).map(|(_, factor)| *factor).ok_or_else(|| {
                say!("value-other-unit", value = shown.clone(), what = name(Self::WHAT), wanted = wants()).to_string()
            })?;
        let value = number * factor;
        if value.is_finite() { Ok(Self::of(value)) } else { Err(say!("value-too-large", value = shown).to_string()) }
    }
}

/// Writes a number as `{}` does; at once where it has three decimals at most, as read from a label.
fn write_number(out: &mut fmt::Formatter<'_>, value: f64) -> fmt::Result {
    let thousandths = value * 1000.0;
    let whole = thousandths.round();
    // Two decimals of fifteen digits never stand for one number: the one found is the shortest.
    if !(1.0..1e12).contains(&whole) || whole / 1000.0 != value {
        return write!(out, "{value}");
    }
    let (mut left, mut decimals) = (whole as u64, 3);
    while decimals > 0 && left.is_multiple_of(10) {
        left /= 10;
        decimals -= 1;
    }
    // From the last digit to the first, with the point.
    let mut letters = [0_u8; 16];
    let (mut start, mut written) = (letters.len(), 0);
    while left > 0 || written <= decimals {
        if written == decimals && decimals > 0 {
            start -= 1;
            letters[start] = b'.';
        }
        start -= 1;
        letters[start] = b'0' + (left % 10) as u8;
        left /= 10;
        written += 1;
    }
    out.write_str(std::str::from_utf8(&letters[start..]).unwrap_or_default())
}

/// Writes a number with its unit's symbol.
pub(crate) fn write_quantity(out: &mut fmt::Formatter<'_>, value: f64, symbol: &str) -> fmt::Result {
    write_number(out, value)?;
    out.write_str(if symbol.is_empty() { "" } else { "\u{a0}" })?;
    out.write_str(symbol)
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $what:literal, $symbol:literal, [$(($unit:literal, $factor:expr)),+ $(,)?]) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Zero.
            pub const ZERO: Self = Self(0.0);
            /// From a number in this unit.
            #[must_use]
            pub const fn new(value: f64) -> Self { Self(value) }
            /// The number in this unit.
            #[must_use]
            pub const fn get(self) -> f64 { self.0 }
            /// The larger of two.
            #[must_use]
            pub fn max(self, other: Self) -> Self { Self(self.0.max(other.0)) }
            /// The smaller of two.
            #[must_use]
            pub fn min(self, other: Self) -> Self { Self(self.0.min(other.0)) }
            /// Without its sign.
            #[must_use]
            pub fn abs(self) -> Self { Self(self.0.abs()) }
        }
        impl Quantity for $name {
            const WHAT: &'static str = $what;
            const SYMBOL: &'static str = $symbol;
            const ACCEPTED: &'static [(&'static str, f64)] = &[$(($unit, $factor)),+];
            fn of(value: f64) -> Self { Self(value) }
            fn get(self) -> f64 { self.0 }
        }
        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                let space = if $symbol.is_empty() { "" } else { "\u{a0}" };
                match out.precision() {
                    Some(digits) => write!(out, "{:.*}{space}{}", digits, self.0, $symbol),
                    None => write_quantity(out, self.0, $symbol),
                }
            }
        }
        impl Add for $name { type Output = Self; fn add(self, other: Self) -> Self { Self(self.0 + other.0) } }
        impl Sub for $name { type Output = Self; fn sub(self, other: Self) -> Self { Self(self.0 - other.0) } }
        impl Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl Mul<f64> for $name { type Output = Self; fn mul(self, factor: f64) -> Self { Self(self.0 * factor) } }
        impl Div<f64> for $name { type Output = Self; fn div(self, factor: f64) -> Self { Self(self.0 / factor) } }
        impl Div for $name { type Output = f64; fn div(self, other: Self) -> f64 { self.0 / other.0 } }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self { items.fold(Self::ZERO, Add::add) }
        }
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
                let unit = Self::ACCEPTED[0].0;
                if unit.is_empty() { out.collect_str(&self.0) } else { out.collect_str(&format_args!("{} {unit}", self.0)) }
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = Cow::<'de, str>::deserialize(from)?;
                Self::parse(&text).map_err(de::Error::custom)
            }
        }
        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> { stringify!($name).into() }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                let units: Vec<&str> = Self::ACCEPTED.iter().map(|(unit, _)| *unit).collect();
                json_schema!({
                    "type": "string",
                    "description": format!("{}: a number and its unit ({})", Self::WHAT, units.join(", ")),
                    "pattern": format!("^-?[0-9.]+([eE][+-]?[0-9]+)? ?({})$", units.join("|")),
                })
            }
        }
    };
}

/// What a person calls a quantity, by its [`Quantity::WHAT`].
#[must_use]
pub fn name(what: &'static str) -> Message {
    Message::bare(match what {
        "current" => "quantity-current",
        "voltage" => "quantity-voltage",
        "impedance" => "quantity-impedance",
        "impedance per length" => "quantity-impedance-per-length",
        "power" => "quantity-power",
        "apparent power" => "quantity-apparent-power",
        "let-through energy" => "quantity-let-through",
        "thermal resistivity" => "quantity-thermal-resistivity",
        "resistivity" => "quantity-resistivity",
        "length" => "quantity-length",
        "cross-section" => "quantity-cross-section",
        "temperature" => "quantity-temperature",
        "time" => "quantity-time",
        "ratio" => "quantity-ratio",
        other => return Message::fixed(other),
    })
}

quantity!(/// Electric current in amperes.
    Amps, "current", "A", [("A", 1.0), ("mA", 1e-3), ("kA", 1e3)]);
quantity!(/// Electric potential difference in volts.
    Volts, "voltage", "V", [("V", 1.0), ("kV", 1e3)]);
quantity!(/// Resistance, reactance or impedance in ohms.
    Ohms, "impedance", "Ω", [("ohm", 1.0), ("Ω", 1.0), ("mohm", 1e-3), ("Mohm", 1e6)]);
quantity!(/// Resistance or reactance per length in ohms per kilometre.
    OhmsPerKilometre, "impedance per length", "Ω/km", [("ohm/km", 1.0), ("mohm/m", 1.0)]);
quantity!(/// Active power in watts.
    Watts, "power", "W", [("W", 1.0), ("kW", 1e3)]);
quantity!(/// Apparent power in volt-amperes.
    VoltAmperes, "apparent power", "VA", [("VA", 1.0), ("kVA", 1e3), ("MVA", 1e6)]);
quantity!(/// Energy let through per ohm, the Joule integral, in ampere squared seconds.
    AmpsSquaredSeconds, "let-through energy", "A²s", [("A2s", 1.0), ("A²s", 1.0), ("kA2s", 1e6), ("kA²s", 1e6)]);
quantity!(/// Thermal resistivity in kelvin metres per watt.
    KelvinMetresPerWatt, "thermal resistivity", "K·m/W", [("K.m/W", 1.0), ("K·m/W", 1.0)]);
quantity!(/// Electrical resistivity of the ground in ohm metres.
    OhmMetres, "resistivity", "Ω·m", [("ohm.m", 1.0), ("Ω·m", 1.0)]);
quantity!(/// Cable length in metres.
    Metres, "length", "m", [("m", 1.0), ("mm", 1e-3)]);
quantity!(/// Length on the enclosure in millimetres.
    Millimetres, "length", "mm", [("mm", 1.0), ("m", 1e3)]);
quantity!(/// Conductor cross-section in square millimetres.
    SquareMillimetres, "cross-section", "mm²", [("mm2", 1.0), ("mm²", 1.0)]);
quantity!(/// Temperature in degrees Celsius.
    Celsius, "temperature", "°C", [("degC", 1.0), ("°C", 1.0), ("C", 1.0)]);
quantity!(/// Time in seconds.
    Seconds, "time", "s", [("s", 1.0), ("ms", 1e-3)]);
quantity!(/// A ratio: power factor, efficiency, demand factor. Percent is accepted.
    Ratio, "ratio", "", [("", 1.0), ("%", 1e-2)]);

macro_rules! product {
    ($left:ident * $right:ident = $out:ident, $scale:expr) => {
        impl Mul<$right> for $left {
            type Output = $out;
            fn mul(self, other: $right) -> $out {
                $out(self.0 * other.0 * $scale)
            }
        }
        impl Mul<$left> for $right {
            type Output = $out;
            fn mul(self, other: $left) -> $out {
                $out(self.0 * other.0 * $scale)
            }
        }
        impl Div<$right> for $out {
            type Output = $left;
            fn div(self, other: $right) -> $left {
                $left(self.0 / $scale / other.0)
            }
        }
    };
}
product!(Amps * Ohms = Volts, 1.0);
product!(Amps * Volts = Watts, 1.0);
product!(OhmsPerKilometre * Metres = Ohms, 1e-3);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_accepted_units_and_writes_the_first() {
        assert_eq!(Amps::parse("6 kA"), Ok(Amps::new(6000.0)));
        assert_eq!(Ohms::parse("1e-1Ω"), Ok(Ohms::new(0.1)));
        assert_eq!(Ratio::parse("85 %"), Ok(Ratio::new(0.85)));
        assert_eq!(serde_json::to_string(&SquareMillimetres::new(2.5)).unwrap(), "\"2.5 mm2\"");
    }

    /// The quick way writes what the standard library writes.
    #[test]
    fn numbers_are_written_in_full() {
        let mut values = vec![0.0, -0.0, -2.5, 0.1 + 0.2, 1e-4, 0.0005, 9_007_199_254_740_993.0, 1e300, f64::NAN];
        values.extend([999_999_999.999, 1e9, 1.0 / 3.0, 2.4999999999999996, f64::INFINITY, f64::MIN_POSITIVE]);
        for thousandths in (0..20_000_u32).chain((0..3000).map(|n| n * 331_999)) {
            let value = f64::from(thousandths) / 1000.0;
            values.extend([value, value.next_up(), value.next_down()]);
        }
        for value in values {
            assert_eq!(Ratio::new(value).to_string(), format!("{value}"));
        }
    }

    #[test]
    fn refuses_with_the_value_and_what_would_do() {
        let error = SquareMillimetres::parse("10 AWG").unwrap_err();
        assert!(error.contains("10 AWG") && error.contains("mm2"), "{error}");
        for bad in ["NaN A", "inf A", "", "A", "1e999 A", "--3 A", "3 A A", "é", "1é"] {
            assert!(Amps::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn products_carry_units() {
        let drop: Volts = Amps::new(10.0) * (OhmsPerKilometre::new(7.41) * Metres::new(20.0));
        assert!((drop.get() - 1.482).abs() < 1e-12);
        let current: Amps = Volts::new(230.0) / Ohms::new(0.5);
        assert_eq!(current, Amps::new(460.0));
    }
}
