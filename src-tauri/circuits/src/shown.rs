//! Numbers as a person reads them.

use survey::range::Span;

/// Shown where nothing is known.
pub(crate) const NOT_KNOWN: &str = "not known";

/// A number to a few significant digits, without trailing zeros.
pub(crate) fn number(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return if value > 0.0 { "any amount".to_owned() } else { "nothing".to_owned() };
    }
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
    let mut text = format!("{value:.places$}");
    if text.contains('.') {
        let end = text.trim_end_matches('0').trim_end_matches('.').len();
        text.truncate(end);
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// A range to a few significant digits with its unit: "21.7 A", "18 to 21.7 A".
///
/// Bounds a billionth apart are one number: outward rounding put them there.
pub(crate) fn span_to(span: Span, unit: &str, digits: usize) -> String {
    let near = span.hi - span.lo <= 1e-9 * span.hi.abs();
    let span = if near { Span::point(span.lo / 2.0 + span.hi / 2.0) } else { span };
    let lo = number(span.lo, digits);
    let hi = if span.lo == span.hi { lo.clone() } else { number(span.hi, digits) };
    let space = if unit.is_empty() { "" } else { "\u{a0}" };
    if lo == hi { format!("{lo}{space}{unit}") } else { format!("{lo} to {hi}{space}{unit}") }
}

/// A range to three significant digits with its unit.
pub(crate) fn span(span: Span, unit: &str) -> String {
    span_to(span, unit, 3)
}

/// A share as a percentage.
pub(crate) fn percent(share: Span) -> String {
    span(Span { lo: share.lo * 100.0, hi: share.hi * 100.0 }, "%")
}

#[cfg(test)]
mod tests {
    use super::*;

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
