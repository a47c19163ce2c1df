//! At what currents a protective device operates.

use survey::range::Span;
use survey::{DeviceKind, Ohms, Range, RcdDelay};

use crate::case::{Case, Gap, hull};
use crate::field::{Field, INCOMER_RESIDUAL, RATED, RESIDUAL};
use crate::tables::Tables;

/// Current at which a semi-enclosed (rewirable) fuse surely melts, by its rated current: it asks for
/// In ≤ 0.725 Iz, which is 1.45 over two. Source: BS 7671 regulation 433.1.202, for fuses to BS 3036; from memory.
const REWIRABLE: f64 = 2.0;

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
        DeviceKind::RewirableFuse => Ok(rated * Span::point(REWIRABLE)),
        other => Err(not_overcurrent(other)),
    }
}

/// The device opens on no overcurrent.
pub(crate) fn not_overcurrent(kind: DeviceKind) -> Gap {
    Gap::Unfit(Field::DeviceKind, format!("this kind of device ({}) opens on no overcurrent", kind.words()).into())
}

/// A rewirable fuse has no curve in the tables.
pub(crate) fn no_curve() -> Gap {
    Gap::Unfit(
        Field::DeviceKind,
        "the tables have no curve of a rewirable fuse: put a fuse or breaker of a known curve in its place".into(),
    )
}

/// Rated current of a device that protects against overcurrent.
pub(crate) fn overcurrent_rating(case: &Case) -> Result<Span, Gap> {
    match case.device_kind()? {
        kind if kind.opens_on_overcurrent() => Ok(case.get(RATED)?.numbers()),
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
                .fold(None, |found, curve| hull(found, Span::point(case.tables.instantaneous(*curve).hi)));
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
        DeviceKind::RewirableFuse => Err(no_curve()),
        DeviceKind::Rcd | DeviceKind::Isolator | DeviceKind::Spd => Ok(None),
    }
}

/// An RCD that watches the circuit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Residual {
    /// Rated residual current IΔn, A.
    pub(crate) rated: Span,
    /// Delays it may have.
    pub(crate) delays: &'static [RcdDelay],
}

/// Largest IΔn of which no type S is made, A: IEC 61008-1 table 1 and 5.3.8.
const NEVER_DELAYED: f64 = 0.03;

/// The circuit's own RCD and the incomer, as far as each is one.
pub(crate) fn residuals(case: &Case) -> Result<[Option<Residual>; 2], Gap> {
    let general = RcdDelay::ALL.get(..1).unwrap_or_default();
    let with = |rated: Span, delays: &dyn Fn() -> &'static [RcdDelay]| {
        let delays = if rated.hi <= NEVER_DELAYED { general } else { delays() };
        Residual { rated, delays }
    };
    let own = match case.device_kind()? {
        DeviceKind::Rcbo | DeviceKind::Rcd => Some(with(case.get(RESIDUAL)?.numbers(), &|| case.delays())),
        _ => None,
    };
    let incomer = match case.incomer_rcd {
        true => Some(with(case.get(INCOMER_RESIDUAL)?.numbers(), &|| case.incomer_delays())),
        false => None,
    };
    Ok([own, incomer])
}

/// Rated residual current in A of whatever RCD watches the circuit, the smaller of two; `None`
/// where none does.
pub(crate) fn residual(case: &Case) -> Result<Option<Span>, Gap> {
    Ok(smaller(residuals(case)?.map(|one| one.map(|one| one.rated))))
}

/// The smaller of two ranges that may be there.
pub(crate) fn smaller([a, b]: [Option<Span>; 2]) -> Option<Span> {
    match (a, b) {
        (Some(a), Some(b)) => Some(Span { lo: a.lo.min(b.lo), hi: a.hi.min(b.hi) }),
        (a, b) => a.or(b),
    }
}

/// True where an RCD of this delay opens within a time in s at five times IΔn
/// (IEC 61008-1 table 1, `rcd_time.csv`).
pub(crate) fn residual_in_time(tables: &Tables, delay: RcdDelay, seconds: Span) -> bool {
    let delayed = delay == RcdDelay::S;
    let row = tables.assembly.residual(delayed).find(|row| row.multiple == 5.0);
    row.is_some_and(|row| row.longest <= seconds.lo)
}

/// A range of impedances that a voltage drives a current through at most.
pub(crate) fn largest_impedance(voltage: Span, current: Span) -> Range<Ohms> {
    (voltage / current).of()
}
