//! At what currents a protective device operates.

use survey::range::Span;
use survey::{DeviceKind, Ohms, Range, RcdDelay};

use crate::case::{Case, Gap, hull};
use crate::field::{Field, II, INCOMER_RESIDUAL, IR, ISD, RATED, RESIDUAL, TSD, UPSTREAM_RESIDUAL};
use crate::residual;
use crate::tables::Tables;

/// Current at which a semi-enclosed (rewirable) fuse surely melts, by its rated current: it asks for
/// In ≤ 0.725 Iz, which is 1.45 over two. Source: BS 7671 regulation 433.1.202, for fuses to BS 3036; from memory.
const REWIRABLE: f64 = 2.0;

/// Conventional operating current I2 in A: the one at which the device surely opens within its
/// conventional time.
pub(crate) fn conventional(case: &Case) -> Result<Span, Gap> {
    let kind = case.device_kind()?;
    let rated = setting(case)?;
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
        DeviceKind::AdjustableBreaker => Ok(rated * Span::point(ADJUSTABLE)),
        other => Err(not_overcurrent(other)),
    }
}

/// Multiple of its overload setting at which an adjustable breaker surely opens, within 1 h up to 63 A and 2 h above:
/// IEC 60947-2 table 6 (from memory).
const ADJUSTABLE: f64 = 1.3;

/// How far a short-circuit release may open from its setting, each way: IEC 60947-2, 8.3.3.1.2 (from memory).
pub(crate) const TOLERANCE: f64 = 0.2;

/// What the device lets flow for good, A: its rated current; of an adjustable breaker its overload setting, which
/// IEC 60364-4-43, 433.1 counts as In.
pub(crate) fn setting(case: &Case) -> Result<Span, Gap> {
    match case.device_kind {
        Some(DeviceKind::AdjustableBreaker) => Ok(case.get(IR)?.numbers()),
        _ => Ok(case.get(RATED)?.numbers()),
    }
}

/// Current in A that surely opens an adjustable breaker within a time: its instantaneous release, or its short-time
/// release where that is known to open in this time.
fn opens_by_setting(case: &Case, seconds: Span) -> Result<Span, Gap> {
    let (at_once, short) = (case.get(II)?.numbers(), case.get(ISD)?.numbers());
    let time = case.given(TSD)?.map(Range::numbers);
    let surely = time.is_some_and(|time| time.hi <= seconds.lo);
    let perhaps = time.is_none_or(|time| time.lo <= seconds.hi);
    let needed = Span {
        lo: if perhaps { at_once.lo.min(short.lo) } else { at_once.lo },
        hi: if surely { at_once.hi.min(short.hi) } else { at_once.hi },
    };
    Ok(needed * Span::point(1.0 + TOLERANCE))
}

/// Current in A at which an adjustable breaker begins to open on a current that lasts for seconds, as a motor's start.
pub(crate) fn begins_to_open(case: &Case) -> Result<Span, Gap> {
    let (at_once, short) = (case.get(II)?.numbers(), case.get(ISD)?.numbers());
    let set = Span { lo: at_once.lo.min(short.lo), hi: at_once.hi.min(short.hi) };
    Ok(set * Span { lo: 1.0 - TOLERANCE, hi: 1.0 + TOLERANCE })
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
        kind if kind.opens_on_overcurrent() => setting(case),
        other => Err(not_overcurrent(other)),
    }
}

/// Current in A that surely opens the device on overcurrent within a time; `None` where the
/// device opens on none.
pub(crate) fn opens_within(case: &Case, seconds: Span) -> Result<Option<Span>, Gap> {
    if case.device_kind()?.opens_on_overcurrent() {
        case.alternating()?;
    }
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
        DeviceKind::AdjustableBreaker => opens_by_setting(case, seconds).map(Some),
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

/// The circuit's own RCD, the incomer and the device upstream, as far as each is one. One upstream counts where its
/// rated residual current was read: some let far more pass than those of boards.
pub(crate) fn residuals(case: &Case) -> Result<[Option<Residual>; 3], Gap> {
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
    let upstream = case
        .given(UPSTREAM_RESIDUAL)?
        .filter(|_| case.upstream_rcd)
        .map(|rated| with(rated.numbers(), &|| case.upstream_delays));
    Ok([own, incomer, upstream])
}

/// The same without those whose type is surely not for the load's earth fault current: fault protection by an RCD
/// needs one that sees the fault (IEC 60364-5-53, 531.3.3).
pub(crate) fn seeing(case: &Case) -> Result<[Option<Residual>; 3], Gap> {
    let [own, incomer, upstream] = residuals(case)?;
    Ok([
        own.filter(|_| !residual::wrong_type(case, case.rcd_types, Field::RcdType)),
        incomer.filter(|_| !residual::wrong_type(case, case.incomer_rcd_types, Field::IncomerRcdType)),
        upstream,
    ])
}

/// Rated residual current in A of whatever RCD watches the circuit, the smallest of them; `None`
/// where none does.
pub(crate) fn residual(case: &Case) -> Result<Option<Span>, Gap> {
    Ok(smaller(residuals(case)?.map(|one| one.map(|one| one.rated))))
}

/// The smallest of ranges that may be there.
pub(crate) fn smaller<const N: usize>(all: [Option<Span>; N]) -> Option<Span> {
    all.into_iter().flatten().reduce(|a, b| Span { lo: a.lo.min(b.lo), hi: a.hi.min(b.hi) })
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
