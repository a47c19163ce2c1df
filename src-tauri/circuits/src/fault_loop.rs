//! Earth fault loop: its impedance, and the largest that still opens the device in time.

use survey::range::Span;
use survey::{CpcForm, EarthingSystem, Insulation, LoadKind, Material};

use crate::cable::limit_temperature;
use crate::case::{Case, Gap, hull};
use crate::device;
use crate::field::{CORES, CPC_SIZE, Field, LENGTH, R1_R2, RATED, SIZE, VOLTAGE, ZE};

/// Lowest voltage to expect, as a share of nominal: Cmin of BS 7671 table 41.3 and CENELEC texts.
pub(crate) const C_MIN: f64 = 0.95;

/// Share of the limit that a loop measured cold may reach, so that the warm loop still fits: IEC
/// 60364-6 annex D, BS 7671 appendix 3.
pub(crate) const COLD_SHARE: f64 = 0.8;

/// Touch voltage that may stay in a TT system, V: IEC 60364-4-41, 411.5.3.
const TOUCH_VOLTAGE: f64 = 50.0;

/// Multiple of IΔn at which a general RCD opens within 40 ms: IEC 61008-1 table 1; IEC
/// 60364-4-41, 411.4.4 and 411.5 notes.
const RCD_MULTIPLE: f64 = 5.0;

/// Temperature of steel armour before a fault, °C: IEC 60364-5-54 table A.54.5.
const fn armour_temperature(insulation: Insulation) -> f64 {
    match insulation {
        Insulation::Pvc70 => 60.0,
        Insulation::Xlpe90 => 80.0,
    }
}

/// Loop impedance at the far end, Zs = Ze + |R1+R2 + jX|, Ω, conductors at their limit temperature.
///
/// Ze is added as a plain number: its angle is not known, and the sum is never too small.
pub(crate) fn impedance(case: &Case) -> Result<Span, Gap> {
    let before = case.get(ZE)?.numbers();
    let resistance = r1_r2(case)?;
    // A measured R1+R2 holds no reactance: it is added where the length is known.
    let length = match case.given(R1_R2)? {
        Some(_) => case.given(LENGTH)?,
        None => Some(case.get(LENGTH)?),
    };
    let along = length.map_or(resistance, |length| {
        let reactance = Span::point(2.0 * case.tables.reactance() / 1000.0) * length.numbers();
        (resistance.square() + reactance.square()).sqrt()
    });
    Ok(before + along)
}

/// R1+R2 at limit temperature, Ω: as measured cold, else from length and sizes.
fn r1_r2(case: &Case) -> Result<Span, Gap> {
    let (materials, insulations) = match case.given(R1_R2)? {
        // The sum is known; the cable only tells how far it warms.
        Some(_) if !case.has_cable => (Material::ALL, Insulation::ALL),
        _ => (case.materials()?, case.insulations()?),
    };
    let mut found = None;
    let mut gap = Gap::Unfit(Field::Size, "the resistance table has no such conductor".into());
    for &material in materials {
        for &insulation in insulations {
            let here = match case.given(R1_R2)? {
                Some(cold) => {
                    let warm = Span::point(limit_temperature(insulation));
                    Ok(cold.numbers() * case.tables.warmed(material, warm))
                }
                None => from_sizes(case, material, insulation),
            };
            match here {
                Ok(here) => found = hull(found, here),
                Err(Gap::Missing(field)) => return Err(Gap::Missing(field)),
                Err(other) => gap = other,
            }
        }
    }
    found.ok_or(gap)
}

fn from_sizes(case: &Case, material: Material, insulation: Insulation) -> Result<Span, Gap> {
    let size = case.get(SIZE)?.numbers();
    let construction = case.construction()?;
    let no_conductor = || Gap::Unfit(Field::Size, "the resistance table has no such conductor".into());
    let warm = case.tables.warmed(material, Span::point(limit_temperature(insulation)));
    let line = case.tables.resistance(material, construction, size).ok_or_else(no_conductor)? * warm;
    let back = match case.cpc()? {
        CpcForm::Core | CpcForm::Separate => {
            let size = case.get(CPC_SIZE)?.numbers();
            case.tables.resistance(material, construction, size).ok_or_else(no_conductor)? * warm
        }
        CpcForm::Armour => {
            let cores = case.get(CORES)?.numbers();
            let temperature = Span::point(armour_temperature(insulation));
            case.tables
                .armour_resistance(cores, size, temperature)
                .ok_or_else(|| Gap::Unfit(Field::Cpc, "the armour table has no such cable: measure R1+R2".into()))?
        }
        CpcForm::Conduit | CpcForm::Trunking => {
            return Err(Gap::Unfit(
                Field::Cpc,
                "the resistance of conduit or trunking is not tabulated: measure R1+R2".into(),
            ));
        }
    };
    Ok((line + back) * case.get(LENGTH)?.numbers() / Span::point(1000.0))
}

/// What ends an earth fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum EndedBy {
    /// The device on overcurrent.
    Overcurrent,
    /// An RCD.
    Residual,
}

/// The largest loop impedance, Ω, and what sets it.
///
/// TN: Zs ≤ Cmin·U0/Ia (IEC 60364-4-41, 411.4.4). TT with an RCD: Zs·IΔn ≤ 50 V (411.5.3, with Zs
/// for the smaller RA); without: as TN with the times for TT (411.5.4).
pub(crate) fn limit(case: &Case) -> Result<(Span, EndedBy), Gap> {
    let voltage = case.get(VOLTAGE)?.numbers();
    let residual = device::residual(case)?;
    let mut found: Option<Span> = None;
    let mut ended = EndedBy::Overcurrent;
    for &system in case.systems() {
        let tt = match system {
            EarthingSystem::TnS | EarthingSystem::TnCS => false,
            EarthingSystem::Tt => true,
            EarthingSystem::It => {
                return Err(Gap::Unfit(
                    Field::System,
                    "first and second faults of an IT system are looked at apart".into(),
                ));
            }
        };
        let low = voltage * Span::point(C_MIN);
        let mut limits = Vec::with_capacity(2);
        let seconds = longest_time(case, tt, voltage)?;
        if let Some(current) = device::opens_within(case, seconds)? {
            limits.push((device::largest_impedance(low, current).numbers(), EndedBy::Overcurrent));
        }
        if let Some(residual) = residual {
            let allowed = match tt {
                true => Span::point(TOUCH_VOLTAGE) / residual,
                false => low / (residual * Span::point(RCD_MULTIPLE)),
            };
            limits.push((allowed, EndedBy::Residual));
        }
        // Either device is enough: the larger limit counts.
        let best = limits.into_iter().reduce(|a, b| if b.0.lo > a.0.lo { b } else { a });
        let (span, by) =
            best.ok_or_else(|| device::not_overcurrent(case.device_kind.unwrap_or(survey::DeviceKind::Isolator)))?;
        found = hull(found, span);
        ended = by;
    }
    found.map(|span| (span, ended)).ok_or(Gap::Missing(Field::System))
}

/// Longest disconnection time, s: table 41.1 for final circuits up to 63 A with socket-outlets and
/// up to 32 A with fixed equipment, else the longer time (411.3.2.2 to 411.3.2.4, 2017 scope).
pub(crate) fn longest_time(case: &Case, tt: bool, voltage: Span) -> Result<Span, Gap> {
    let rated = case.get(RATED)?.numbers();
    let mut found = None;
    for kind in case.kinds() {
        let reach = match kind {
            LoadKind::Distribution => 0.0,
            LoadKind::Sockets => 63.0,
            _ => 32.0,
        };
        for (last_part, possible) in [(true, rated.lo <= reach), (false, rated.hi > reach)] {
            if let Some(seconds) = case.tables.disconnection(tt, last_part, voltage).filter(|_| possible) {
                found = hull(found, seconds);
            }
        }
    }
    found.ok_or_else(|| Gap::Unfit(Field::Voltage, "the table of disconnection times has no such voltage".into()))
}
