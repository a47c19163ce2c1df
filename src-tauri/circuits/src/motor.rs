//! A motor that starts: the voltage that it pulls down, and whether its breaker stays closed.

use survey::range::Span;
use survey::{Range, say};

use crate::case::{Case, Gap, hull};
use crate::demand::{self, Draw};
use crate::device;
use crate::field::{DROP_BEFORE, Field, RATED, START};
use crate::verdict::Outcome;
use crate::volt_drop;

/// Starting current in A: the multiple on the rating plate of the current at full load.
pub(crate) fn current(case: &Case) -> Result<Span, Gap> {
    Ok(demand::full(case)?.current.numbers() * case.get(START)?.numbers())
}

/// Drop from the origin to the motor while it starts, as a share, against what is allowed. Before
/// the board it is the drop of normal use: what the start adds there is not in it.
pub(crate) fn drop(case: &Case) -> Result<Outcome, Gap> {
    let current = current(case)?;
    let factor = if case.direct() { Span::point(1.0) } else { case.tables.laid.start_factor() };
    let draw = Draw {
        current: current.of(),
        active: (current * factor).of(),
        reactive: (current * demand::sine(factor)).of(),
    };
    let along = volt_drop::along(case, &draw)?;
    Ok(Outcome { value: along + case.get(DROP_BEFORE)?.numbers(), limit: case.tables.laid.start_drop() })
}

/// Starting current against what opens a gG fuse within 5 s. What it stays closed to for 10 s it bears; between the two
/// its own curve decides, and how long the motor takes.
fn blows(case: &Case, rated: Span) -> Result<Outcome, Gap> {
    let none = || Gap::Unfit(Field::Rated, say!("gap-no-fuse"));
    let value = current(case)?;
    let [_, opens] = case.tables.fuse_opens(rated, 5.0).ok_or_else(none)?;
    let stays = case.tables.fuse_gate(rated.lo).ok_or_else(none)?.stays_10s;
    if value.hi <= stays {
        return Ok(Outcome { value, limit: Span::point(stays) });
    }
    let outcome = Outcome { value, limit: opens };
    if outcome.verdict() == survey::Verdict::Fails {
        return Ok(outcome);
    }
    let why = say!("gap-start-fuse", value = (value, "A"), stays = (stays, "A"), opens = (opens, "A"));
    Err(Gap::Unfit(Field::Start, why))
}

/// Starting current against the band in which a breaker begins to trip at once, A.
pub(crate) fn trips(case: &Case) -> Result<Outcome, Gap> {
    case.alternating()?;
    if case.device_kind == Some(survey::DeviceKind::AdjustableBreaker) {
        return Ok(Outcome { value: current(case)?, limit: device::begins_to_open(case)? });
    }
    let rated: Span = case.get(RATED).map(Range::numbers)?;
    if case.device_kind == Some(survey::DeviceKind::Fuse) {
        return blows(case, rated);
    }
    let mut band = None;
    for curve in case.curves() {
        band = hull(band, case.tables.instantaneous(*curve));
    }
    let band = band.unwrap_or(Span::point(1.0));
    Ok(Outcome { value: current(case)?, limit: rated * band })
}
