//! From a value and its limit to a verdict, a margin and the readings to take next.

use smallvec::SmallVec;
use survey::range::Span;
use survey::{NextReading, Text, Verdict};

use crate::case::{Case, Gap, fields};
use crate::field::Field;

/// A value and what it must not exceed, in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Outcome {
    pub(crate) value: Span,
    pub(crate) limit: Span,
}

/// A billionth of the limit is beyond any reading: within it numbers count as equal, so that
/// decimals written by people and standards compare as written, whatever outward rounding adds.
const SLACK: f64 = 1e-9;

/// Beyond ten times the limit one failure is like another; keeps widths finite.
const FARTHEST: f64 = -10.0;

impl Outcome {
    /// Holds, fails or undecided.
    pub(crate) fn verdict(self) -> Verdict {
        let slack = |limit: f64| limit + limit.abs() * SLACK;
        if self.value.hi <= slack(self.limit.lo) {
            Verdict::Holds
        } else if self.value.lo > slack(self.limit.hi) {
            Verdict::Fails
        } else {
            Verdict::Undecided
        }
    }

    /// Distance to the limit as a share of the limit, smallest and largest; `None` at a limit of zero.
    pub(crate) fn margin(self) -> Option<[f64; 2]> {
        let part = |value: f64, limit: f64| {
            // Written so that rounding never makes a larger limit leave a smaller margin.
            let share = if limit.is_finite() { 1.0 - value / limit } else { f64::NAN };
            if share.abs() < SLACK { 0.0 } else { share }
        };
        let (lo, hi) = (part(self.value.hi, self.limit.lo), part(self.value.lo, self.limit.hi));
        (self.limit.lo > 0.0 && lo.is_finite() && hi.is_finite()).then_some([lo, hi])
    }

    /// Width of the margin with both ends kept within reason.
    fn width(self) -> f64 {
        let share = |value: f64, limit: f64| {
            if limit > 0.0 && !limit.is_nan() { ((limit - value) / limit).clamp(FARTHEST, 1.0) } else { FARTHEST }
        };
        let (lo, hi) = (share(self.value.hi, self.limit.lo), share(self.value.lo, self.limit.hi));
        if lo.is_nan() || hi.is_nan() { 1.0 - FARTHEST } else { (hi - lo).max(0.0) }
    }
}

/// How a check works out its numbers.
pub(crate) type Evaluate = fn(&Case) -> Result<Outcome, Gap>;

/// Readings that a check waits for, most useful first, with the share each settles. Most wait for few.
pub(crate) type Wanted = SmallVec<[(Field, f64); 4]>;

/// An undecided check whose readings are to be ranked.
#[derive(Clone, Copy)]
pub(crate) struct Open {
    /// Its place among the checks of its circuit.
    pub(crate) place: usize,
    pub(crate) evaluate: Evaluate,
    pub(crate) outcome: Outcome,
    /// Fields it read, one bit each.
    pub(crate) used: u128,
}

/// How much of each undecided check's width each reading would remove, largest first: the field is
/// shrunk to its middle, or tried at each of its choices, and the checks worked out again. `trial` is a copy of
/// the case, and is one again afterwards. What is found goes to the check's place in `wanted`.
pub(crate) fn sensitivity<'a>(case: &Case<'a>, trial: &mut Case<'a>, open: &[Open], wanted: &mut [Wanted]) {
    let mut tried: SmallVec<[(f64, u32); 16]> = SmallVec::from_elem((0.0, 0), open.len());
    let used = open.iter().fold(0, |used, one| used | one.used);
    for field in fields(used).filter(|field| !case.is_settled(*field)) {
        let rests = |one: &Open| one.used & 1 << field as u128 != 0;
        tried.iter_mut().for_each(|one| *one = (0.0, 0));
        case.settled(trial, field, |trial| {
            for (one, (sum, count)) in open.iter().zip(&mut tried) {
                if rests(one)
                    && let Ok(outcome) = (one.evaluate)(trial)
                {
                    *sum += outcome.width();
                    *count += 1;
                }
            }
        });
        for (one, (sum, count)) in open.iter().zip(&tried).filter(|(one, _)| rests(one)) {
            let (width, mean) = (one.outcome.width(), sum / f64::from(*count));
            let settles = if width > 0.0 { (1.0 - mean / width).clamp(0.0, 1.0) } else { 0.0 };
            if settles >= LEAST {
                wanted[one.place].push((field, settles));
            }
        }
    }
    for one in open {
        wanted[one.place].sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    }
}

/// A reading that removes less than this share is not worth the walk.
const LEAST: f64 = 0.01;

/// Every field that is missing to a check that lacks the first: each is supposed in turn until the check has
/// numbers or stops for another reason. `supposed` is the case with the first supposed.
pub(crate) fn missing(supposed: &Case, evaluate: Evaluate, first: Field) -> SmallVec<[Field; 4]> {
    let mut found = SmallVec::from_iter([first]);
    let mut further: Option<Case> = None;
    while let Err(Gap::Missing(field)) = evaluate(further.as_ref().unwrap_or(supposed)) {
        if found.contains(&field) {
            break;
        }
        found.push(field);
        further.get_or_insert_with(|| supposed.clone()).suppose(field);
    }
    found
}

/// Readings as the check record lists them.
pub(crate) fn readings(
    ranked: impl IntoIterator<Item = (impl Into<Text>, impl Into<survey::Message>, f64)>,
) -> Vec<NextReading> {
    ranked
        .into_iter()
        .map(|(path, what, settles)| NextReading { path: path.into(), what: what.into(), settles })
        .collect()
}
