//! At what currents a protective device operates.

use survey::range::Span;
use survey::{DeviceKind, Ohms, Range};

use crate::case::{Case, Gap, hull};
use crate::field::{Field, INCOMER_RESIDUAL, RATED, RESIDUAL};

/// Conventional operating current I2 in A: the one at which the device surely opens within its
/// conventional time.
pub(crate) fn conventional(case: &Case) -> Result<Span, Gap> {
    let kind = case.device_kind()?;
    let rated = case.get(RATED)?.numbers();
    match kind {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => Ok(rated * Span::point(case.tables.breaker_conventional())),
        DeviceKind::Fuse => {
            let multiple = case
                .tables
                .fuse_conventional(rated)
                .ok_or_else(|| Gap::Unfit(Field::Rated, "the fuse table has no such rating".into()))?;
            Ok(rated * multiple)
        }
        other => Err(not_overcurrent(other)),
    }
}

/// The device opens on no overcurrent.
pub(crate) fn not_overcurrent(kind: DeviceKind) -> Gap {
    Gap::Unfit(Field::DeviceKind, format!("this kind of device ({}) opens on no overcurrent", kind.words()).into())
}

/// Rated current of a device that protects against overcurrent.
pub(crate) fn overcurrent_rating(case: &Case) -> Result<Span, Gap> {
    match case.device_kind()? {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo | DeviceKind::Fuse => Ok(case.get(RATED)?.numbers()),
        other => Err(not_overcurrent(other)),
    }
}

/// Current in A that surely opens the device on overcurrent within a time; `None` where the
/// device opens on none.
pub(crate) fn opens_within(case: &Case, seconds: Span) -> Result<Option<Span>, Gap> {
    match case.device_kind()? {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => {
            let rated = case.get(RATED)?.numbers();
            let multiple = case
                .curves()
                .iter()
                .fold(None, |found, curve| hull(found, Span::point(case.tables.instantaneous(*curve))));
            Ok(multiple.map(|multiple| rated * multiple))
        }
        DeviceKind::Fuse => {
            let rated = case.get(RATED)?.numbers();
            let melts = |seconds| {
                case.tables
                    .fuse_melts(rated, seconds)
                    .ok_or_else(|| Gap::Unfit(Field::Rated, "the fuse table has no such rating".into()))
            };
            Ok(hull(Some(melts(seconds.lo)?), melts(seconds.hi)?))
        }
        DeviceKind::Rcd | DeviceKind::Isolator | DeviceKind::Spd => Ok(None),
    }
}

/// Rated residual current in A of whatever RCD watches the circuit, the smaller of two; `None`
/// where none does.
pub(crate) fn residual(case: &Case) -> Result<Option<Span>, Gap> {
    let own = match case.device_kind()? {
        DeviceKind::Rcbo | DeviceKind::Rcd => Some(case.get(RESIDUAL)?.numbers()),
        _ => None,
    };
    let incomer = if case.incomer_rcd { Some(case.get(INCOMER_RESIDUAL)?.numbers()) } else { None };
    Ok(match (own, incomer) {
        (Some(own), Some(incomer)) => Some(Span { lo: own.lo.min(incomer.lo), hi: own.hi.min(incomer.hi) }),
        (own, incomer) => own.or(incomer),
    })
}

/// A range of impedances that a voltage drives a current through at most.
pub(crate) fn largest_impedance(voltage: Span, current: Span) -> Range<Ohms> {
    (voltage / current).of()
}
