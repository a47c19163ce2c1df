//! The smallest short-circuit current between live conductors at the far end of a cable.

use survey::range::Span;
use survey::{DeviceKind, Range, arrangement::Conductor, say};

use crate::cable::limit_temperature;
use crate::case::{Case, Feed, Gap, hull, of_sizes_made};
use crate::demand::root3;
use crate::device;
use crate::fault_loop::C_MIN;
use crate::field::{Field, IPF, LENGTH, NEUTRAL_SIZE, SIZE, VOLTAGE};
use crate::rules::undenied;
use crate::selectivity::INSTANT;
use crate::tables::{Metal, Use};
use crate::verdict::Outcome;

/// Longest time in s for which the adiabatic equation of IEC 60364-4-43, 434.5.2 is written.
pub(crate) const LONGEST: f64 = 5.0;

/// Current in A that surely opens the device at once (a fuse: within 5 s), against the smallest
/// short-circuit current at the far end.
pub(crate) fn opens(case: &Case) -> Result<Outcome, Gap> {
    // A breaker that opens on its overload release alone is what this asks about.
    let seconds = match case.device_kind {
        Some(DeviceKind::CircuitBreaker | DeviceKind::Rcbo) => INSTANT,
        _ => LONGEST,
    };
    let needed = device::opens_within(case, Span::point(seconds))?
        .ok_or_else(|| device::not_overcurrent(case.device_kind.unwrap_or(DeviceKind::Isolator)))?;
    let outcome = Outcome { value: needed, limit: smallest(case)? };
    undenied(case, outcome, IPF.field)?;
    Ok(outcome)
}

/// Smallest short-circuit current at the far end, A: Cmin·U0 over the loop, conductors at their
/// limit temperature (IEC 60909-0, 2.5; IEC 60364-4-43, 434.5). Line to neutral where the circuit
/// has a neutral, else √3/2 of the three-phase fault between two lines.
///
/// Before the board: U0/Ipf for each line. On a three-phase supply the neutral's way back adds
/// nothing at least and as much again at most: a neutral no thinner than the lines.
pub(crate) fn smallest(case: &Case) -> Result<Span, Gap> {
    case.once(|kept| &kept.smallest, at_far_end)
}

fn at_far_end(case: &Case) -> Result<Span, Gap> {
    let voltage = case.get(VOLTAGE)?.numbers();
    let voltage = if matches!(case.feed()?, Feed::OneLine(_)) { case.between(voltage) } else { voltage };
    let before = voltage / case.get(IPF)?.numbers();
    let doubled = Span { lo: before.lo, hi: before.hi * 2.0 };
    let low = voltage * Span::point(C_MIN);
    match case.feed()? {
        Feed::OneLine(Some(Conductor::L)) => Ok(low / (before + loop_of(case, true)?)),
        Feed::OneLine(_) => Ok(low / (doubled + loop_of(case, true)?)),
        Feed::TwoLines(_) => between_lines(case, low, before),
        Feed::ThreeLines => {
            let mut found = None;
            for neutral in case.neutral() {
                let here = match neutral {
                    true => low / (doubled + loop_of(case, true)?),
                    false => between_lines(case, low, before)?,
                };
                found = hull(found, here);
            }
            found.ok_or(Gap::Missing(Field::Poles))
        }
    }
}

fn between_lines(case: &Case, low: Span, before: Span) -> Result<Span, Gap> {
    Ok(low * root3() / (Span::point(2.0) * before + loop_of(case, false)?))
}

/// Impedance of the cable there and back, warm, Ω.
fn loop_of(case: &Case, by_neutral: bool) -> Result<Span, Gap> {
    let size = case.get(SIZE)?.numbers();
    let back = match by_neutral {
        true => case.given(NEUTRAL_SIZE)?.map_or(size, Range::numbers),
        false => size,
    };
    let construction = case.construction()?;
    let mut found = None;
    let look = |material, part| {
        let resistance = |size| case.tables.resistance_of(material, construction, size, part);
        resistance(size).zip(resistance(back)).map(|(line, back)| line + back)
    };
    for (material, both) in of_sizes_made(case.materials()?, look) {
        let Some(both) = both else { continue };
        for &insulation in case.insulations()? {
            found = hull(found, both * case.tables.warmed(material, Span::point(limit_temperature(insulation))));
        }
    }
    let per_km = found.ok_or_else(|| Gap::Unfit(Field::Size, say!("gap-no-conductor")))?;
    let length = case.get(LENGTH)?.numbers() * case.reach() / (Span::point(1000.0) * case.parallel()?);
    let reactance = Span::point(2.0) * case.reactance() * length;
    Ok(((per_km * length).square() + reactance.square()).sqrt())
}

/// Time in s for which the line conductor bears a current at most, (k·S/I)²: IEC 60364-4-43,
/// 434.5.2; `None` where its factor is not known.
pub(crate) fn borne(case: &Case, current: Span) -> Option<Span> {
    let size = case.get(SIZE).ok()?;
    let mut found = None;
    for &material in case.materials().ok()? {
        for &insulation in case.insulations().ok()? {
            let k = case.tables.adiabatic(Use::Line, Metal::Of(material), insulation, size.numbers())?;
            found = hull(found, (k * size.numbers() / current).square());
        }
    }
    found
}
