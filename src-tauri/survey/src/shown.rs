//! Numbers as a person reads them.

use std::fmt::Write as _;

use std::borrow::Cow;

use crate::range::Span;

/// With a capital first letter, but for a symbol: "r1 of the ring" stays.
#[must_use]
pub fn capital(text: &str) -> String {
    let symbol = text.split(' ').next().is_some_and(|word| word.chars().any(|letter| letter.is_ascii_digit()));
    let mut letters = text.chars();
    match letters.next() {
        Some(first) if !symbol => first.to_uppercase().chain(letters).collect(),
        _ => text.to_owned(),
    }
}

/// How a language writes numbers and ranges.
#[derive(Clone, Debug)]
pub struct Style {
    /// Between whole and part.
    pub decimal: char,
    /// Between the ends of a range, with its blanks.
    pub between: Cow<'static, str>,
    /// An end that is not limited.
    pub endless: Cow<'static, str>,
    /// An end that is not limited below.
    pub nothing: Cow<'static, str>,
}

impl Style {
    /// Numbers as English writes them.
    pub const ENGLISH: Self = Self {
        decimal: '.',
        between: Cow::Borrowed(" to "),
        endless: Cow::Borrowed("any amount"),
        nothing: Cow::Borrowed("nothing"),
    };
}

impl Default for Style {
    fn default() -> Self {
        Self::ENGLISH
    }
}

/// Writes a number to a few significant digits, without trailing zeros.
fn write_number(out: &mut String, value: f64, digits: usize, style: &Style) {
    if !value.is_finite() {
        out.push_str(if value > 0.0 { &style.endless } else { &style.nothing });
        return;
    }
    let start = out.len();
    write_plain(out, value, digits);
    if style.decimal != '.'
        && let Some(point) = out[start..].find('.').map(|place| start + place)
    {
        out.replace_range(point..=point, style.decimal.encode_utf8(&mut [0; 4]));
    }
}

fn write_plain(out: &mut String, value: f64, digits: usize) {
    let (mut whole, mut rest) = (1_usize, value.abs());
    while rest >= 10.0 && whole < 12 {
        rest /= 10.0;
        whole += 1;
    }
    let mut lead = 0;
    while rest < 1.0 && rest > 0.0 && lead < 6 {
        rest *= 10.0;
        lead += 1;
    }
    let places = if lead > 0 { digits - 1 + lead } else { digits.saturating_sub(whole) };
    if !write_quickly(out, value, places) {
        write_exactly(out, value, places);
    }
}

/// Powers of ten that are exact.
const TENS: [f64; 14] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13];

/// Writes a number whose digits one multiplication surely settles; false where it does not, and
/// then nothing is written.
///
/// Below a thousand million the product is off by less than 2e-7, so a digit that stands farther
/// than a millionth from the half where it would round the other way is right.
fn write_quickly(out: &mut String, value: f64, places: usize) -> bool {
    let Some(ten) = TENS.get(places) else { return false };
    let scaled = value.abs() * ten;
    let below = scaled.floor();
    let part = scaled - below;
    if scaled >= 1e9 || (part - 0.5).abs() < 1e-6 {
        return false;
    }
    let mut left = below as u64 + u64::from(part > 0.5);
    if left == 0 {
        out.push('0');
        return true;
    }
    let mut places = places;
    while places > 0 && left.is_multiple_of(10) {
        left /= 10;
        places -= 1;
    }
    // From the last digit to the first: ten digits or the zeros before them, and the point.
    let mut reversed = [0_u8; 32];
    let mut count = 0;
    let mut digits = 0;
    while left > 0 || digits <= places {
        if digits == places && places > 0 {
            reversed[count] = b'.';
            count += 1;
        }
        reversed[count] = b'0' + (left % 10) as u8;
        left /= 10;
        count += 1;
        digits += 1;
    }
    if value < 0.0 {
        out.push('-');
    }
    out.extend(reversed[..count].iter().rev().map(|digit| char::from(*digit)));
    true
}

fn write_exactly(out: &mut String, value: f64, places: usize) {
    let start = out.len();
    // Writing to a string does not fail.
    let _ = write!(out, "{value:.places$}");
    if out[start..].contains('.') {
        let end = out.trim_end_matches('0').trim_end_matches('.').len();
        out.truncate(end.max(start));
    }
    if &out[start..] == "-0" {
        out.truncate(start);
        out.push('0');
    }
}

/// A range to a few significant digits with its unit: "21.7 A", "18 to 21.7 A".
///
/// Bounds a billionth apart are one number: outward rounding put them there.
#[must_use]
pub fn span_to(span: Span, unit: &str, digits: usize) -> String {
    let mut out = String::with_capacity(32);
    write_span(&mut out, span, unit, digits, &Style::ENGLISH);
    out
}

/// The same after what is written already.
pub fn write_span(out: &mut String, span: Span, unit: &str, digits: usize, style: &Style) {
    let near = span.hi - span.lo <= 1e-9 * span.hi.abs();
    let span = if near { Span::point(span.lo / 2.0 + span.hi / 2.0) } else { span };
    let start = out.len();
    write_number(out, span.lo, digits, style);
    if span.lo != span.hi {
        let (end, between) = (out.len(), style.between.len());
        out.push_str(&style.between);
        write_number(out, span.hi, digits, style);
        if out[start..end] == out[end + between..] {
            out.truncate(end);
        }
    }
    if !unit.is_empty() {
        out.push('\u{a0}');
    }
    out.push_str(unit);
}

/// A range to three significant digits with its unit.
#[must_use]
pub fn span(span: Span, unit: &str) -> String {
    span_to(span, unit, 3)
}

/// A share as a percentage.
#[must_use]
pub fn percent(share: Span) -> String {
    span(Span { lo: share.lo * 100.0, hi: share.hi * 100.0 }, "%")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number(value: f64, digits: usize) -> String {
        let mut out = String::new();
        write_number(&mut out, value, digits, &Style::ENGLISH);
        out
    }

    /// Every value as it would be written by the standard library alone.
    fn by_the_library(value: f64, places: usize) -> String {
        let text = format!("{value:.places$}");
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        if text == "-0" { "0".to_owned() } else { text.to_owned() }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn the_quick_way_writes_what_the_library_writes(
            value in prop_oneof![
                -2000.0..2000.0_f64,
                (-2_000_000..2_000_000_i64).prop_map(|n| n as f64 / 1000.0),
                (-20_000..20_000_i64).prop_map(|n| n as f64 / 16.0),
                (-2000..2000_i64, -9..9_i32).prop_map(|(n, power)| n as f64 * libm::pow(10.0, f64::from(power))),
                any::<f64>().prop_filter("finite", |value| value.is_finite()),
            ],
            places in 0..16_usize,
        ) {
            let mut quick = "x".to_owned();
            let mut exact = "x".to_owned();
            if write_quickly(&mut quick, value, places) {
                prop_assert_eq!(&quick[1..], by_the_library(value, places));
            } else {
                prop_assert_eq!(quick, "x");
            }
            write_exactly(&mut exact, value, places);
            prop_assert_eq!(&exact[1..], by_the_library(value, places));
        }
    }

    #[test]
    fn numbers_read_as_written_by_hand() {
        for (value, text) in [
            (0.0, "0"),
            (21.739, "21.7"),
            (25.000_000_001, "25"),
            (0.0376, "0.0376"),
            (0.5, "0.5"),
            (1456.7, "1457"),
            (-0.000_000_001, "0"),
            (999.99, "1000"),
        ] {
            assert_eq!(number(value, 3), text);
        }
        assert_eq!(span(Span { lo: 18.04, hi: 21.74 }, "A"), "18 to 21.7\u{a0}A");
    }
}
