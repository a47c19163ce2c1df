//! Lengths and lists as they stand in messages.

use survey::message::Argument;
use survey::range::Span;
use survey::{Message, Millimetres, Range, say};

/// Significant digits that show a length to far under what can be measured, and nothing of how it was worked out.
const DIGITS: u8 = 8;

fn shown(lo: f64, hi: f64) -> Argument {
    Argument::Span { span: Span { lo, hi }, unit: "", digits: DIGITS }
}

/// A number as it is.
pub(crate) fn exact(value: f64) -> Argument {
    shown(value, value)
}

/// A number with at most one decimal that says something.
pub(crate) fn tenth(value: f64) -> Argument {
    tenths(value, value)
}

/// The same of a range.
pub(crate) fn tenths(lo: f64, hi: f64) -> Argument {
    let rounded = |value: f64| (value * 10.0).round() / 10.0;
    shown(rounded(lo), rounded(hi))
}

/// A range of lengths, mm: "22.2 to 24.6".
pub(crate) fn lengths(range: Range<Millimetres>) -> Argument {
    tenths(range.lo().get(), range.hi().get())
}

/// A number without decimals.
pub(crate) fn whole(value: f64) -> Argument {
    exact(value.round())
}

/// Several in a row, with commas between.
pub(crate) fn listed(all: impl IntoIterator<Item = Message>) -> Message {
    all.into_iter().reduce(|before, last| say!("plate-list", before = before, last = last)).unwrap_or_default()
}
