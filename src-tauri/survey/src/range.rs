//! Closed intervals of a quantity, rounded outward.
//!
//! Every bound computed here moves one representable number outward, so the true value is never
//! lost to rounding: an interval result always contains the point result.

use std::ops::{Add, Mul, Sub};

use crate::units::Quantity;

/// A closed interval `[lo, hi]` with `lo <= hi`, both finite or infinite, never NaN.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range<Q> {
    lo: Q,
    hi: Q,
}

/// True of the bits of a finite number above zero, which most are: its neighbours are the next numbers of bits.
#[inline]
const fn usual(bits: u64) -> bool {
    bits.wrapping_sub(1) < f64::INFINITY.to_bits() - 1
}

#[inline]
fn down(value: f64) -> f64 {
    let bits = value.to_bits();
    if usual(bits) { f64::from_bits(bits - 1) } else { unusual_down(value) }
}
#[inline(never)]
fn unusual_down(value: f64) -> f64 {
    if value.is_nan() { f64::NEG_INFINITY } else { value.next_down() }
}
#[inline]
fn up(value: f64) -> f64 {
    let bits = value.to_bits();
    if usual(bits) { f64::from_bits(bits + 1) } else { unusual_up(value) }
}
#[inline(never)]
fn unusual_up(value: f64) -> f64 {
    if value.is_nan() { f64::INFINITY } else { value.next_up() }
}

impl<Q: Quantity> Range<Q> {
    /// The interval from the smaller to the larger of two values; a NaN opens that side.
    #[must_use]
    pub fn new(a: Q, b: Q) -> Self {
        let (a, b) = (a.get(), b.get());
        if a.is_nan() || b.is_nan() {
            return Self { lo: Q::of(f64::NEG_INFINITY), hi: Q::of(f64::INFINITY) };
        }
        Self { lo: Q::of(a.min(b)), hi: Q::of(a.max(b)) }
    }

    /// One exact value.
    #[must_use]
    pub fn point(value: Q) -> Self {
        Self::new(value, value)
    }

    /// The lower bound.
    #[must_use]
    pub fn lo(self) -> Q {
        self.lo
    }

    /// The upper bound.
    #[must_use]
    pub fn hi(self) -> Q {
        self.hi
    }

    /// True where both bounds are the same number, as written by a person.
    #[must_use]
    pub fn is_point(self) -> bool {
        self.lo == self.hi
    }

    /// Width of the interval, in the quantity's unit.
    #[must_use]
    pub fn width(self) -> f64 {
        self.hi.get() - self.lo.get()
    }

    /// True where the value lies inside.
    #[must_use]
    pub fn contains(self, value: Q) -> bool {
        self.lo <= value && value <= self.hi
    }

    /// The smallest interval that holds both.
    #[must_use]
    pub fn hull(self, other: Self) -> Self {
        Self {
            lo: if other.lo < self.lo { other.lo } else { self.lo },
            hi: if other.hi > self.hi { other.hi } else { self.hi },
        }
    }

    /// The values of the plain numbers, unit dropped, for a formula that has no unit product.
    #[must_use]
    pub fn numbers(self) -> Span {
        Span { lo: self.lo.get(), hi: self.hi.get() }
    }
}

impl<Q: Quantity> Add for Range<Q> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        (self.numbers() + other.numbers()).of()
    }
}

impl<Q: Quantity> Sub for Range<Q> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        (self.numbers() - other.numbers()).of()
    }
}

impl<A: Quantity, B: Quantity> Mul<Range<B>> for Range<A>
where
    A: Mul<B>,
    <A as Mul<B>>::Output: Quantity,
{
    type Output = Range<<A as Mul<B>>::Output>;
    fn mul(self, other: Range<B>) -> Self::Output {
        let products =
            [self.lo * other.lo, self.lo * other.hi, self.hi * other.lo, self.hi * other.hi].map(Quantity::get);
        Span::around(&products).of()
    }
}

/// An interval of a plain number, for formulas; turn it back into a [`Range`] with [`Span::of`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Span {
    /// Lower bound.
    pub lo: f64,
    /// Upper bound.
    pub hi: f64,
}

impl Span {
    /// One exact number.
    #[must_use]
    pub const fn point(value: f64) -> Self {
        Self { lo: value, hi: value }
    }

    /// The outward-rounded hull of computed corner values; a NaN among them opens both sides.
    #[must_use]
    pub fn around(values: &[f64]) -> Self {
        if values.is_empty() || values.iter().any(|value| value.is_nan()) {
            return Self { lo: f64::NEG_INFINITY, hi: f64::INFINITY };
        }
        let lo = values.iter().copied().fold(f64::INFINITY, f64::min);
        let hi = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { lo: down(lo), hi: up(hi) }
    }

    /// As a quantity in that quantity's unit.
    #[must_use]
    pub fn of<Q: Quantity>(self) -> Range<Q> {
        Range::new(Q::of(self.lo), Q::of(self.hi))
    }

    /// The image under a monotone function, moved out by two representable numbers: `libm`'s
    /// functions are off by less than one.
    #[must_use]
    pub fn monotone(self, function: impl Fn(f64) -> f64) -> Self {
        let ends = Self::around(&[function(self.lo), function(self.hi)]);
        Self { lo: down(ends.lo), hi: up(ends.hi) }
    }

    /// Square root; negative parts count as zero.
    #[must_use]
    pub fn sqrt(self) -> Self {
        let root = |value: f64| value.max(0.0).sqrt();
        Self { lo: down(root(self.lo)).max(0.0), hi: up(root(self.hi)) }
    }

    /// The square, which is never negative.
    #[must_use]
    pub fn square(self) -> Self {
        let (a, b) = (self.lo * self.lo, self.hi * self.hi);
        let lo = if self.lo <= 0.0 && self.hi >= 0.0 { 0.0 } else { down(a.min(b)).max(0.0) };
        Self { lo, hi: up(a.max(b)) }
    }
}

impl Add for Span {
    type Output = Self;
    #[inline]
    fn add(self, other: Self) -> Self {
        Self { lo: down(self.lo + other.lo), hi: up(self.hi + other.hi) }
    }
}

impl Sub for Span {
    type Output = Self;
    #[inline]
    fn sub(self, other: Self) -> Self {
        Self { lo: down(self.lo - other.hi), hi: up(self.hi - other.lo) }
    }
}

impl Mul for Span {
    type Output = Self;
    #[inline]
    fn mul(self, other: Self) -> Self {
        // Of numbers above zero, which most are, the outer corners are known.
        if self.lo > 0.0 && other.lo > 0.0 && self.lo <= self.hi && other.lo <= other.hi {
            return Self { lo: down(self.lo * other.lo), hi: up(self.hi * other.hi) };
        }
        Self::around(&[self.lo * other.lo, self.lo * other.hi, self.hi * other.lo, self.hi * other.hi])
    }
}

impl std::ops::Div for Span {
    type Output = Self;
    /// A divisor that reaches zero opens the result on both sides.
    #[inline]
    fn div(self, other: Self) -> Self {
        if self.lo > 0.0 && other.lo > 0.0 && self.hi < f64::INFINITY && other.hi < f64::INFINITY {
            return Self { lo: down(self.lo / other.hi), hi: up(self.hi / other.lo) };
        }
        if other.lo <= 0.0 && other.hi >= 0.0 {
            return Self { lo: f64::NEG_INFINITY, hi: f64::INFINITY };
        }
        Self::around(&[self.lo / other.lo, self.lo / other.hi, self.hi / other.lo, self.hi / other.hi])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Amps, Ohms};

    #[test]
    fn bounds_move_to_the_neighbouring_number() {
        let above = [0.0, f64::from_bits(1), f64::MIN_POSITIVE, 0.1, 1.0, 1e300, f64::MAX, f64::INFINITY];
        for value in above.into_iter().flat_map(|value| [value, -value]) {
            assert_eq!((down(value), up(value)), (value.next_down(), value.next_up()), "{value}");
        }
        assert_eq!((down(f64::NAN), up(f64::NAN)), (f64::NEG_INFINITY, f64::INFINITY));
    }

    #[test]
    fn sums_contain_what_rounding_would_lose() {
        let tenth = Range::point(Amps::new(0.1));
        let sum = tenth + tenth + tenth;
        assert!(sum.lo().get() < 0.3 && sum.hi().get() > 0.3);
    }

    #[test]
    fn products_take_the_outer_corners() {
        let volts = Range::new(Amps::new(-2.0), Amps::new(3.0)) * Range::new(Ohms::new(1.0), Ohms::new(4.0));
        assert!(volts.lo().get() <= -8.0 && volts.hi().get() >= 12.0 && volts.width() < 20.001);
    }

    #[test]
    fn dividing_by_a_range_over_zero_knows_nothing() {
        let all = Span::point(1.0) / Span { lo: -1.0, hi: 1.0 };
        assert_eq!((all.lo, all.hi), (f64::NEG_INFINITY, f64::INFINITY));
    }
}
