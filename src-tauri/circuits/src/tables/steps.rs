//! A column of published values over rising keys, such as sizes.

use survey::range::Span;
use survey::say;

use super::TableError;
use super::sheet::Row;
use super::trace::{self, Mark};

/// Which way values may run as keys grow.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Trend {
    Rising,
    Falling,
}

/// Published pairs, keys rising.
#[derive(Clone, Debug, Default)]
pub(crate) struct Steps(Vec<(f64, f64)>, Vec<Mark>);

impl Steps {
    /// Adds a pair; keys may come in any order, none twice.
    pub(super) fn insert(&mut self, row: &Row, key_column: &str, key: f64, value: f64) -> Result<(), TableError> {
        match self.0.binary_search_by(|(other, _)| other.total_cmp(&key)) {
            Ok(_) => Err(row.fault(key_column, say!("table-this-row-is-given-twice-keep"))),
            Err(place) => {
                self.0.insert(place, (key, value));
                self.1.insert(place, row.mark());
                Ok(())
            }
        }
    }

    /// The first key whose value runs against the trend: a slip of the pen.
    pub(super) fn against(&self, trend: Trend) -> Option<(f64, f64)> {
        self.0.windows(2).find_map(|pair| match (pair, trend) {
            ([(_, a), (key, b)], Trend::Rising) if b < a => Some((*key, *b)),
            ([(_, a), (key, b)], Trend::Falling) if b > a => Some((*key, *b)),
            _ => None,
        })
    }

    /// Pairs, keys rising.
    pub(crate) fn pairs(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// The range of values for keys in a range. A key between two published ones takes both
    /// neighbours' values; beyond the table there is none.
    pub(crate) fn around(&self, keys: Span) -> Option<Span> {
        let first = self.0.partition_point(|(key, _)| *key <= keys.lo).checked_sub(1)?;
        // Mostly one published key is asked for.
        let &(key, value) = self.0.get(first)?;
        if key == keys.hi {
            self.tell(first);
            return Some(Span::point(value));
        }
        let last = self.0.partition_point(|(key, _)| *key < keys.hi);
        let values = self.0.get(first..=last)?;
        self.1.get(first..=last)?.iter().copied().for_each(trace::note);
        let lo = values.iter().map(|(_, value)| *value).fold(f64::INFINITY, f64::min);
        let hi = values.iter().map(|(_, value)| *value).fold(f64::NEG_INFINITY, f64::max);
        Some(Span { lo, hi })
    }

    /// The same for the part of the range that the table covers: of a thing that may be several, only such sizes are
    /// made of this one.
    pub(crate) fn around_part(&self, keys: Span) -> Option<Span> {
        let (first, last) = (self.0.first()?.0, self.0.last()?.0);
        (keys.lo <= last && keys.hi >= first)
            .then(|| Span { lo: keys.lo.max(first), hi: keys.hi.min(last) })
            .and_then(|covered| self.around(covered))
    }

    /// A straight line between published pairs; the first value before the table, none after it.
    pub(crate) fn line(&self, key: f64) -> Option<Span> {
        let next = self.0.partition_point(|(other, _)| *other < key);
        let &(key_b, b) = self.0.get(next)?;
        self.tell(next);
        let Some(&(key_a, a)) = next.checked_sub(1).and_then(|index| self.0.get(index)) else {
            return Some(Span::point(b));
        };
        if key_b == key {
            return Some(Span::point(b));
        }
        if let Some(before) = next.checked_sub(1) {
            self.tell(before);
        }
        let share = (Span::point(key) - Span::point(key_a)) / (Span::point(key_b) - Span::point(key_a));
        Some(Span::point(a) + share * (Span::point(b) - Span::point(a)))
    }

    /// The value of the first key not below the one asked for.
    pub(crate) fn next_at(&self, key: f64) -> Option<f64> {
        let next = self.0.partition_point(|(other, _)| *other < key);
        self.tell(next);
        self.0.get(next).map(|(_, value)| *value)
    }

    /// The last value.
    pub(crate) fn last(&self) -> Option<f64> {
        self.0.last().map(|(_, value)| *value)
    }

    fn tell(&self, index: usize) {
        if let Some(mark) = self.1.get(index) {
            trace::note(*mark);
        }
    }
}
