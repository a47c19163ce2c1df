//! The quantities of a case, side by side: a case is copied for each circuit and for each trial of it.

use survey::range::Span;

use crate::field::Field;

const COUNT: usize = Field::ALL.len();

/// A quantity as it stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Slot {
    /// Its range; `None` where nothing is known or taken.
    pub(crate) span: Option<Span>,
    /// The range was taken for lack of a reading.
    pub(crate) taken: bool,
}

/// A slot for each field.
#[derive(Clone)]
pub(crate) struct Slots {
    spans: [Span; COUNT],
    /// Those that have a range, one bit each, and those whose range was taken.
    filled: u128,
    taken: u128,
}

impl Slots {
    /// Nothing is known.
    pub(crate) const EMPTY: Self = Self { spans: [Span { lo: 0.0, hi: 0.0 }; COUNT], filled: 0, taken: 0 };

    /// The quantity of a field.
    #[inline]
    pub(crate) fn get(&self, field: Field) -> Slot {
        Slot { span: self.span(field), taken: self.taken(field) }
    }

    /// Its range.
    #[inline]
    pub(crate) fn span(&self, field: Field) -> Option<Span> {
        (self.filled & bit(field) != 0).then(|| self.spans[field as usize])
    }

    /// Its range was taken for lack of a reading.
    #[inline]
    pub(crate) fn taken(&self, field: Field) -> bool {
        self.taken & bit(field) != 0
    }

    /// Puts a quantity in.
    pub(crate) fn set(&mut self, field: Field, slot: Slot) {
        let Slot { span, taken } = slot;
        let put = |mask: u128, on: bool| if on { mask | bit(field) } else { mask & !bit(field) };
        (self.filled, self.taken) = (put(self.filled, span.is_some()), put(self.taken, taken));
        self.spans[field as usize] = span.unwrap_or_default();
    }
}

const fn bit(field: Field) -> u128 {
    1 << field as u128
}
