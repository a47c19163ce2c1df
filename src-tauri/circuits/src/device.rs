//! At what currents a protective device operates.

use survey::range::Span;
use survey::{DeviceKind, Ohms, Range, RcdDelay, say};

use crate::case::{Case, Gap, hull};
use crate::field::{
    DERATING, DIVERSITY, Field, II, INCOMER_RESIDUAL, INSIDE, IR, ISD, RATED, RESIDUAL, TIME_CURVE, TSD,
    UPSTREAM_RESIDUAL,
};
use crate::tables::Tables;
use crate::temperature::DEVICES;
use crate::{residual, settings};

/// Current at which a semi-enclosed (rewirable) fuse surely melts, by its rated current: it asks for
/// In ≤ 0.725 Iz, which is 1.45 over two. Source: BS 7671 regulation 433.1.202, for fuses to BS 3036; from memory.
const REWIRABLE: f64 = 2.0;

/// Conventional operating current I2 in A: the one at which the device surely opens within its
/// conventional time.
pub(crate) fn conventional(case: &Case) -> Result<Span, Gap> {
    let kind = case.device_kind()?;
    if !kind.opens_on_overcurrent() {
        return Err(not_overcurrent(kind));
    }
    let rated = setting(case)?;
    match kind {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => Ok(rated * Span::point(case.tables.breaker_conventional())),
        DeviceKind::Fuse => {
            let multiple =
                case.tables.fuse_conventional(rated).ok_or_else(|| Gap::Unfit(Field::Rated, say!("gap-no-fuse")))?;
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
        Some(DeviceKind::AdjustableBreaker) => {
            settings::agree(case)?;
            Ok(case.get(IR)?.numbers())
        }
        _ => Ok(case.get(RATED)?.numbers()),
    }
}

/// Current in A that surely opens an adjustable breaker within a time: its instantaneous release, or its short-time
/// release where that is known to open in this time.
fn opens_by_setting(case: &Case, seconds: Span) -> Result<Span, Gap> {
    settings::agree(case)?;
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

/// Current in A from which the short-time release of an adjustable breaker surely opens it, and in which time in s, where
/// that was read and is longer than short circuits are looked at for. Words only: nothing is counted as read.
pub(crate) fn opens_later(case: &Case) -> Option<(Span, Span)> {
    let of = |field: Field| case.slots.span(field);
    let (short, time) = of(Field::Isd).zip(of(Field::Tsd))?;
    let late = case.device_kind == Some(DeviceKind::AdjustableBreaker) && time.hi > crate::short_circuit::LONGEST;
    late.then(|| (short * Span::point(1.0 + TOLERANCE), time))
}

/// Current in A at which an adjustable breaker begins to open on a current that lasts for seconds, as a motor's start.
pub(crate) fn begins_to_open(case: &Case) -> Result<Span, Gap> {
    settings::agree(case)?;
    let (at_once, short) = (case.get(II)?.numbers(), case.get(ISD)?.numbers());
    let set = Span { lo: at_once.lo.min(short.lo), hi: at_once.hi.min(short.hi) };
    Ok(set * Span { lo: 1.0 - TOLERANCE, hi: 1.0 + TOLERANCE })
}

/// The device opens on no overcurrent.
pub(crate) fn not_overcurrent(kind: DeviceKind) -> Gap {
    Gap::Unfit(Field::Device, say!("gap-not-overcurrent", kind = kind.words()))
}

/// A rewirable fuse has no curve in the tables.
pub(crate) fn no_curve() -> Gap {
    Gap::Unfit(Field::DeviceKind, say!("gap-rewirable"))
}

/// Rated current of a device that protects against overcurrent.
pub(crate) fn overcurrent_rating(case: &Case) -> Result<Span, Gap> {
    match case.device_kind()? {
        kind if kind.opens_on_overcurrent() => setting(case),
        other => Err(not_overcurrent(other)),
    }
}

/// What the device carries for good where it stands, A: all of [`overcurrent_rating`] in air of up to 40 °C, see
/// [`DEVICES`]; in warmer air what its maker says, but in a room that assemblies are made for no less than the share that
/// all circuits carry at once (IEC 61439-3, see [`crate::temperature::carried_together`]). Where no heat was worked
/// out, as much as in the air it is made for.
pub(crate) fn carries(case: &Case) -> Result<Span, Gap> {
    let rated = overcurrent_rating(case)?;
    let Some(inside) = case.given(INSIDE)?.map(Range::numbers).filter(|inside| inside.hi > DEVICES) else {
        return Ok(rated);
    };
    let loses = case.get(DERATING)?.numbers();
    let left = |over: f64, share: f64| (1.0 - over.max(0.0) * share).max(0.0);
    let together = case.given(DIVERSITY)?.map_or(0.0, |share| share.numbers().lo);
    Ok(rated
        * Span {
            lo: left(inside.hi - DEVICES, loses.hi).max(together),
            hi: left(inside.lo - DEVICES, loses.lo).max(together),
        })
}

/// Current in A that opens the device on overcurrent within a time; `None` where the device opens on none.
///
/// A range also where the device is known: below it nothing published lets the device open in time, above it the
/// device surely does; between, its maker's time/current curve tells.
pub(crate) fn opens_within(case: &Case, seconds: Span) -> Result<Option<Span>, Gap> {
    if case.device_kind()?.opens_on_overcurrent() {
        case.alternating()?;
    }
    match case.device_kind()? {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => {
            let rated = case.get(RATED)?.numbers();
            let mut found = None;
            for curve in case.curves() {
                let ends = [rated.lo, rated.hi];
                for rated_as in ends.into_iter().take(if rated.lo == rated.hi { 1 } else { 2 }) {
                    let late = case.tables.breaker_opens(*curve, rated_as, seconds.hi);
                    let soon = match seconds.lo == seconds.hi {
                        true => late,
                        false => case.tables.breaker_opens(*curve, rated_as, seconds.lo),
                    };
                    let (may, surely) = (late.lo, soon.hi);
                    found = hull(found, by_curve(case, Span::point(may), Span::point(surely))?);
                }
            }
            Ok(found.map(|multiple| rated * multiple))
        }
        DeviceKind::Fuse => {
            let rated = case.get(RATED)?.numbers();
            let opens = |seconds| {
                case.tables.fuse_opens(rated, seconds).ok_or_else(|| Gap::Unfit(Field::Rated, say!("gap-no-fuse")))
            };
            let mut found = None;
            for [may, surely] in [opens(seconds.lo)?, opens(seconds.hi)?] {
                found = hull(found, by_curve(case, may, surely)?);
            }
            Ok(found)
        }
        DeviceKind::RewirableFuse => Err(no_curve()),
        DeviceKind::AdjustableBreaker => opens_by_setting(case, seconds).map(Some),
        DeviceKind::Rcd | DeviceKind::Isolator | DeviceKind::Spd => Ok(None),
    }
}

/// Between what may open a device in time and what surely does: where its own curve lies.
fn by_curve(case: &Case, may: Span, surely: Span) -> Result<Span, Gap> {
    if may == surely {
        return Ok(surely);
    }
    let share = case.get(TIME_CURVE)?.numbers();
    let at = |may: f64, surely: f64, share: f64| may + (surely - may) * share;
    Ok(Span { lo: at(may.lo, surely.lo, share.lo), hi: at(may.hi, surely.hi, share.hi) })
}

/// An RCD that watches the circuit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Residual {
    /// Rated residual current IΔn, A.
    pub(crate) rated: Span,
    /// Delays it may have.
    pub(crate) delays: &'static [RcdDelay],
    /// Smooth direct current from another circuit may blind it, or its type may not be for the load.
    pub(crate) may_be_blind: bool,
}

/// Largest IΔn of which no type S is made, A: IEC 61008-1 table 1 and 5.3.8.
const NEVER_DELAYED: f64 = 0.03;

/// The circuit's own RCD, the incomer and the device upstream, as far as each is one and smooth direct current does not
/// surely blind it. One upstream counts where its rated residual current was read: some let far more pass than those of
/// boards.
pub(crate) fn residuals(case: &Case) -> Result<[Option<Residual>; 3], Gap> {
    let general = RcdDelay::ALL.get(..1).unwrap_or_default();
    let with = |rated: Span, delays: &dyn Fn() -> &'static [RcdDelay]| {
        let delays = if rated.hi <= NEVER_DELAYED { general } else { delays() };
        Residual { rated, delays, may_be_blind: false }
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
    let seen = |which: usize, one: Option<Residual>| {
        let one = one?;
        match case.blinded(which) {
            [survey::YesNo::Yes] => None,
            blinded => Some(Residual { may_be_blind: blinded.len() > 1, ..one }),
        }
    };
    Ok([seen(0, own), seen(1, incomer), seen(2, upstream)])
}

/// The same without those whose type is surely not for the load's earth fault current; those that may not be for it
/// may be blind. Fault protection by an RCD needs one that sees the fault (IEC 60364-5-53, 531.3.3).
pub(crate) fn seeing(case: &Case) -> Result<[Option<Residual>; 3], Gap> {
    let [own, incomer, upstream] = residuals(case)?;
    let fits = |one: Option<Residual>, types, read| {
        let one = one?;
        match residual::fits(case, types, read) {
            [survey::YesNo::No] => None,
            fits => Some(Residual { may_be_blind: one.may_be_blind || fits.len() > 1, ..one }),
        }
    };
    Ok([
        fits(own, case.rcd_types, Field::RcdType),
        fits(incomer, case.incomer_rcd_types, Field::IncomerRcdType),
        upstream,
    ])
}

/// Rated residual current in A of whatever RCD watches the circuit, the smallest of them; `None`
/// where none does. Infinite at its upper end where they may be blind.
pub(crate) fn residual(case: &Case) -> Result<Option<Span>, Gap> {
    Ok(least(residuals(case)?))
}

/// The smallest rated residual current of those, A; infinite at its upper end where they may be blind.
pub(crate) fn least(all: [Option<Residual>; 3]) -> Option<Span> {
    let rated = |one: Residual| Span { hi: if one.may_be_blind { f64::INFINITY } else { one.rated.hi }, ..one.rated };
    smaller(all.map(|one| one.map(rated)))
}

/// Why nothing is said that rests on an RCD which may be blind.
pub(crate) fn perhaps_blind(case: &Case) -> Gap {
    if let Some(field) = residual::blinded_by_another(case) {
        return Gap::Unfit(field, say!("gap-rcd-blinded"));
    }
    Gap::Unfit(residual::open_type(case).unwrap_or(Field::RcdType), say!("gap-rcd-type"))
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
