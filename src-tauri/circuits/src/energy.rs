//! Energy that a fault lets through, and the conductor that bears it.

use survey::range::Span;
use survey::{Amps, CpcForm, DeviceKind, Range};

use crate::case::{Case, Gap, hull};
use crate::device;
use crate::fault_loop;
use crate::field::{BREAKING, CORES, CPC_SIZE, Field, IPF, LET_THROUGH, RATED, SIZE, VOLTAGE};
use crate::shown;
use crate::tables::{Metal, Use};
use crate::verdict::Outcome;

/// How long a breaker takes at most once its instantaneous release acts, s: IEC 60898-1 table 7.
const INSTANT: f64 = 0.1;

/// Energy let through, A²s.
enum Energy {
    /// What the device lets through.
    Known(Span),
    /// No more than this, and perhaps far less: proves a conductor, but never refutes one.
    Ceiling(f64),
}

/// Energy that the device lets through in a fault it clears in time.
///
/// Where its data sheet was read, that. Else a breaker: no more than its class 3 limit by EN 60898-1 annex ZA (class 3 is assumed), which
/// holds for a fault of its full short-circuit capacity, and no more than the fault current at the
/// board for 0.1 s. A gG fuse: its gate current for the longest disconnection time.
fn energy(case: &Case) -> Result<Energy, Gap> {
    match case.device_kind()? {
        kind if kind.opens_on_overcurrent() && case.given(LET_THROUGH)?.is_some() => {
            Ok(Energy::Known(case.get(LET_THROUGH)?.numbers()))
        }
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => {
            let rated = case.get(RATED)?.numbers();
            let breaking = case.get(BREAKING)?.numbers();
            let by_class = case.curves().iter().try_fold(0.0, |most: f64, curve| {
                let energy = case.tables.let_through(*curve, rated.hi, breaking.hi)?;
                Some(most.max(energy))
            });
            let by_current = |current: Range<Amps>| (current.numbers().square() * Span::point(INSTANT)).hi;
            Ok(Energy::Ceiling(match (by_class, case.given(IPF)?) {
                (Some(by_class), Some(current)) => by_class.min(by_current(current)),
                (Some(by_class), None) => by_class,
                (None, _) => by_current(case.get(IPF)?),
            }))
        }
        DeviceKind::Fuse | DeviceKind::RewirableFuse => {
            let voltage = case.get(VOLTAGE)?.numbers();
            let mut found = None;
            for &system in case.systems() {
                let tt = system == survey::EarthingSystem::Tt;
                let seconds = fault_loop::longest_time(case, tt, voltage)?;
                for seconds in [seconds.lo, seconds.hi] {
                    let time = Span::point(seconds);
                    if let Some(current) = device::opens_within(case, time)? {
                        found = hull(found, current.square() * time);
                    }
                }
            }
            found.map(Energy::Known).ok_or(Gap::Missing(Field::System))
        }
        other => Err(device::not_overcurrent(other)),
    }
}

/// A required size against the one there is.
fn against(energy: &Energy, required: Span, size: Span) -> Result<Outcome, Gap> {
    let outcome = Outcome { value: required, limit: size };
    match energy {
        Energy::Known(_) => Ok(outcome),
        Energy::Ceiling(_) if outcome.verdict() == survey::Verdict::Holds => Ok(outcome),
        Energy::Ceiling(_) => Err(Gap::Unfit(
            Field::LetThrough,
            format!(
                "at worst a fault here needs {} of conductor and there is {}; take the energy let through at this fault current \
                 from the device's own data",
                shown::span(Span::point(required.hi), "mm²"),
                shown::span(size, "mm²")
            )
            .into(),
        )),
    }
}

impl Energy {
    fn span(&self) -> Span {
        match self {
            Self::Known(span) => *span,
            Self::Ceiling(most) => Span { lo: 0.0, hi: *most },
        }
    }
}

/// The line conductor: √(I²t)/k ≤ S, IEC 60364-4-43, 434.5.2.
pub(crate) fn line(case: &Case) -> Result<Outcome, Gap> {
    let size = case.get(SIZE)?.numbers();
    let energy = energy(case)?;
    let mut required = None;
    for &material in case.materials()? {
        for &insulation in case.insulations()? {
            if let Some(k) = case.tables.adiabatic(Use::Line, Metal::Of(material), insulation, size) {
                required = hull(required, energy.span().sqrt() / k);
            }
        }
    }
    against(&energy, required.ok_or_else(no_factor)?, size)
}

/// The protective conductor: √(I²t)/k ≤ S, or its size by the line's, IEC 60364-5-54, 543.1.
///
/// Where the energy is not known the size by the line's stands alone: it may prove a conductor,
/// but a smaller one may do as well.
pub(crate) fn protective(case: &Case) -> Result<Outcome, Gap> {
    let (used_as, metal) = match case.cpc()? {
        CpcForm::Core => (Use::Core, None),
        CpcForm::Separate => (Use::Separate, None),
        CpcForm::Armour => (Use::Armour, Some(Metal::Steel)),
        CpcForm::Conduit | CpcForm::Trunking => (Use::Conduit, Some(Metal::Steel)),
    };
    let line = case.get(SIZE)?.numbers();
    let size = match used_as {
        Use::Armour => {
            let cores = case.get(CORES)?.numbers();
            case.tables
                .armour_area(cores, line)
                .ok_or_else(|| Gap::Unfit(Field::Cpc, "the armour table has no such cable".into()))?
        }
        _ => case.get(CPC_SIZE)?.numbers(),
    };
    let energy = energy(case);
    let mut required = None;
    for &material in case.materials()? {
        for &insulation in case.insulations()? {
            let metal = metal.unwrap_or(Metal::Of(material));
            let k = case.tables.adiabatic(used_as, metal, insulation, size);
            let line_k = case.tables.adiabatic(Use::Line, Metal::Of(material), insulation, line);
            let (Some(k), Some(line_k)) = (k, line_k) else { continue };
            let mut by_line = Span { lo: by_line_size(line.lo), hi: by_line_size(line.hi) };
            if metal == Metal::Steel {
                by_line = by_line * line_k / k;
            }
            // Either way of choosing the size is allowed.
            let least = match &energy {
                Ok(energy) => {
                    let by_energy = energy.span().sqrt() / k;
                    Span { lo: by_energy.lo.min(by_line.lo), hi: by_energy.hi.min(by_line.hi) }
                }
                Err(_) => by_line,
            };
            required = hull(required, least);
        }
    }
    let required = required.ok_or_else(no_factor)?;
    match energy {
        Ok(energy) => against(&energy, required, size),
        Err(gap @ Gap::Unfit(..)) => Err(gap),
        Err(gap) => {
            let outcome = Outcome { value: required, limit: size };
            if outcome.verdict() == survey::Verdict::Holds { Ok(outcome) } else { Err(gap) }
        }
    }
}

fn no_factor() -> Gap {
    Gap::Unfit(Field::Size, "the table of adiabatic factors has no such conductor".into())
}

/// Protective conductor for a line conductor of the same metal, mm²: IEC 60364-5-54 table 54.2.
pub(crate) fn by_line_size(line: f64) -> f64 {
    if line <= 16.0 {
        line
    } else if line <= 35.0 {
        16.0
    } else {
        line / 2.0
    }
}
