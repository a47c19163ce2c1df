//! Third harmonics of a three-phase load: they add up in the neutral, IEC 60364-5-52 annex E.

use survey::range::Span;
use survey::{Amps, Range, say};

use crate::cable;
use crate::case::{Case, Feed, Gap, hull};
use crate::demand::{self, Draw};
use crate::field::{Field, NEUTRAL_SIZE, SIZE, THIRD_HARMONIC};
use crate::verdict::Outcome;

/// Above this share the neutral carries more than a line: three times a third.
const NEUTRAL_LEADS: f64 = 1.0 / 3.0;

/// Factor that the cable's capacity takes for a loaded neutral; one where there is no neutral or
/// the circuit is not three-phase.
pub(crate) fn factor(case: &Case) -> Result<Span, Gap> {
    let one = Span::point(1.0);
    if case.feed()? != Feed::ThreeLines {
        return Ok(one);
    }
    let neutral = case.neutral();
    if neutral == [false] {
        return Ok(one);
    }
    let share = case.get(THIRD_HARMONIC)?.numbers();
    let loaded =
        case.tables.laid.harmonic(share).ok_or_else(|| Gap::Unfit(Field::ThirdHarmonic, say!("gap-no-harmonic")))?;
    Ok(if neutral == [true] { loaded } else { hull(Some(one), loaded).unwrap_or(loaded) })
}

/// True where the neutral's own load is to be looked at: it may lead the lines, or is of another size.
pub(crate) fn neutral_counts(case: &Case) -> bool {
    let share = case.slots.span(Field::ThirdHarmonic);
    case.feed == Ok(Feed::ThreeLines)
        && case.neutral == [true]
        && (share.is_some_and(|share| share.hi > NEUTRAL_LEADS) || neutral_given(case))
}

/// True where the neutral's size is given apart.
pub(crate) fn neutral_given(case: &Case) -> bool {
    case.slots.span(Field::NeutralSize).is_some()
}

/// Neutral current by the third harmonic, 3·h·Ib, A.
pub(crate) fn neutral_current(case: &Case) -> Result<Range<Amps>, Gap> {
    let share = case.get(THIRD_HARMONIC)?.numbers();
    let current = demand::draw(case)?.current.numbers();
    Ok((Span::point(3.0) * share * current).of())
}

/// True where the load has a neutral, or may have one, to send a current into.
pub(crate) fn returns(case: &Case, feed: Feed) -> bool {
    !matches!((feed, case.neutral), (Feed::TwoLines(_), _) | (Feed::ThreeLines, [false]))
}

/// Third harmonic that a load sends into the neutral of a three-phase board, A: its share of the
/// line current, from each line it is on. Nothing where it uses no neutral.
pub(crate) fn returned(case: &Case, feed: Feed, draw: &Draw) -> Span {
    let nothing = Span::point(0.0);
    let share = case.slots.span(Field::ThirdHarmonic).filter(|share| *share != nothing);
    let Some(share) = share else { return nothing };
    let one = draw.current.numbers() * Span { lo: share.lo.clamp(0.0, 1.0), hi: share.hi.clamp(0.0, 1.0) };
    match (feed, case.neutral) {
        _ if !returns(case, feed) => nothing,
        (Feed::ThreeLines, [true]) => Span::point(3.0) * one,
        (Feed::ThreeLines, _) => Span { lo: 0.0, hi: (Span::point(3.0) * one).hi },
        _ => one,
    }
}

/// The neutral's current against what it carries.
pub(crate) fn neutral(case: &Case) -> Result<Outcome, Gap> {
    let current = neutral_current(case)?;
    let size = match case.given(NEUTRAL_SIZE)? {
        Some(size) => size,
        None => case.get(SIZE)?,
    };
    let ways = cable::ways_of(case, size, factor(case)?)?;
    Ok(Outcome { value: current.numbers(), limit: cable::most(&ways)?.numbers() })
}

/// Least size of a neutral in mm² against the one there is, IEC 60364-5-52, 524.2: as the line in a
/// circuit with one line, up to 16 mm² of copper or 25 mm² of aluminium, and with harmonics above
/// 15 %; else at least those sizes.
pub(crate) fn neutral_size(case: &Case) -> Result<Outcome, Gap> {
    let line = case.get(SIZE)?.numbers();
    let size = case.get(NEUTRAL_SIZE)?.numbers();
    let three = case.feed()? == Feed::ThreeLines;
    let share = if three { case.get(THIRD_HARMONIC)?.numbers() } else { Span::point(1.0) };
    let mut needed = None;
    for material in case.materials()? {
        let may_shrink = match material {
            survey::Material::Copper => 16.0,
            survey::Material::Aluminium => 25.0,
        };
        if share.hi > 0.15 || !three {
            needed = hull(needed, line);
        }
        if three && share.lo <= 0.15 {
            needed = hull(needed, Span { lo: line.lo.min(may_shrink), hi: line.hi.min(may_shrink) });
        }
    }
    let value = needed.ok_or(Gap::Missing(Field::Material))?;
    Ok(Outcome { value, limit: size })
}
