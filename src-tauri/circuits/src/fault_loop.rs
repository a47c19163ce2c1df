//! Earth fault loop: its impedance, and the largest that still opens the device in time.

use smallvec::SmallVec;
use survey::range::Span;
use survey::{CpcForm, EarthingSystem, Insulation, LoadKind, Material, RcdDelay, YesNo, say};

use crate::cable::limit_temperature;
use crate::case::{Case, Gap, hull, of_sizes_made};
use crate::demand;
use crate::device::{self, Residual};
use crate::field::{CORES, CPC_SIZE, ELECTRODE, FIRST_FAULT, Field, LENGTH, LOOP_ANGLE, R1_R2, SIZE, VOLTAGE, ZE, ZS};
use crate::residual;
use crate::tables::Tables;
use crate::verdict::Outcome;

/// Lowest voltage to expect, as a share of nominal: Cmin of BS 7671 table 41.3 and CENELEC texts.
pub(crate) const C_MIN: f64 = 0.95;

/// Share of the limit that a loop measured cold may reach, so that the warm loop still fits: BS 7671
/// appendix 3. (IEC 60364-6 annex D takes two thirds of U0/Ia, without Cmin.)
pub(crate) const COLD_SHARE: f64 = 0.8;

/// Multiple of IΔn at which a general RCD opens within 40 ms: IEC 61008-1 table 1; IEC
/// 60364-4-41, 411.4.4 and 411.5 notes.
const RCD_MULTIPLE: f64 = 5.0;

/// Temperature of steel armour before a fault, °C: IEC 60364-5-54 table A.54.5.
pub(crate) const fn armour_temperature(insulation: Insulation) -> f64 {
    match insulation {
        Insulation::Pvc70 => 60.0,
        Insulation::Xlpe90 => 80.0,
    }
}

/// Loop impedance at the far end, Zs = Ze + |R1+R2 + jX|, Ω, conductors at their limit temperature.
///
/// Ze is added as a plain number: its angle is not known, and the sum is never too small. See [`any_angle`].
pub(crate) fn impedance(case: &Case) -> Result<Span, Gap> {
    let [before, resistance, reactance] = parts(case)?;
    Ok(before + size(resistance, reactance))
}

/// The same as |Ze + R1+R2 + jX| at every angle that Ze may have: the plain sum is the most it can be; the least is that
/// with Ze all inductive or all resistive, whichever lies farther from the cable's own angle.
pub(crate) fn any_angle(case: &Case) -> Result<Span, Gap> {
    let [before, resistance, reactance] = parts(case)?;
    let sum = before + size(resistance, reactance);
    if before == Span::point(0.0) || case.direct() {
        return Ok(sum);
    }
    let (inductive, resistive) = (size(resistance, reactance + before), size(resistance + before, reactance));
    let least = Span { lo: inductive.lo.min(resistive.lo), hi: inductive.hi.min(resistive.hi) };
    let share = case.get(LOOP_ANGLE)?.numbers();
    let at = |least: f64, sum: f64, share: f64| if share >= 1.0 { sum } else { least + (sum - least).max(0.0) * share };
    Ok(Span { lo: at(least.lo, sum.lo, share.lo), hi: at(least.hi, sum.hi, share.hi) })
}

fn size(resistance: Span, reactance: Span) -> Span {
    if reactance == Span::point(0.0) { resistance } else { (resistance.square() + reactance.square()).sqrt() }
}

/// Of the loop: the size of the part before the board, resistance and reactance of the cable, Ω.
fn parts(case: &Case) -> Result<[Span; 3], Gap> {
    case.once(|kept| &kept.loop_parts, parts_of)
}

fn parts_of(case: &Case) -> Result<[Span; 3], Gap> {
    let before = before(case)?;
    let resistance = r1_r2(case)?;
    // A measured R1+R2 holds no reactance: it is added where the length is known.
    let length = match case.given(R1_R2)? {
        Some(_) => case.given(LENGTH)?,
        None => Some(case.get(LENGTH)?),
    };
    // Out and back, cables side by side sharing it; one separate protective conductor serves them all.
    let cables = if case.has_cable { case.parallel()? } else { Span::point(1.0) };
    let ways_of_loop = match case.cpc {
        _ if cables == Span::point(1.0) => Span::point(2.0),
        Some(CpcForm::Separate) => Span::point(1.0) / cables + Span::point(1.0),
        _ => Span::point(2.0) / cables,
    };
    let reactance = length.map_or(Span::point(0.0), |length| {
        case.reactance() / Span::point(1000.0) * length.numbers() * case.reach() * ways_of_loop
    });
    Ok([before, resistance, reactance])
}

/// The loop before the board, Ω. Where parts are earthed by an electrode of their own (TT, or IT with parts apart)
/// that electrode is a part of it: a smaller reading was taken some other way round.
fn before(case: &Case) -> Result<Span, Gap> {
    let systems = case.systems();
    let own = |system: &EarthingSystem| match system {
        EarthingSystem::Tt => true,
        EarthingSystem::It => case.earthed_together().contains(&YesNo::No),
        EarthingSystem::TnS | EarthingSystem::TnCS => false,
    };
    let electrode = match systems {
        // 411.6.4 b): RA·Ia, not the loop to the board, is what is held against 50 V.
        [only @ EarthingSystem::It] if own(only) => Some(case.get(ELECTRODE)?),
        _ if systems.iter().any(own) => case.given(ELECTRODE)?,
        _ => None,
    };
    let ze = case.get(ZE)?.numbers();
    let surely = systems.iter().all(own) && (systems != [EarthingSystem::It] || case.earthed_together() == [YesNo::No]);
    Ok(electrode.map_or(ze, |electrode| {
        let electrode = electrode.numbers();
        Span { lo: if surely { ze.lo.max(electrode.lo) } else { ze.lo }, hi: ze.hi.max(electrode.hi) }
    }))
}

/// Least that the loop of a TT system is by its electrode alone, Ω, where nothing is known of the loop before the
/// board: RA is a part of Zs (IEC 60364-4-41, 411.5.4). `None` where the loop is known or no such electrode is.
pub(crate) fn electrode_alone(case: &Case) -> Result<Option<f64>, Gap> {
    if case.systems() != [EarthingSystem::Tt] || case.slots.span(Field::Ze).is_some() {
        return Ok(None);
    }
    Ok(case.given(ELECTRODE)?.map(|electrode| electrode.numbers().lo))
}

/// Least that the line conductor alone has cold, Ω; `None` where its length or size is not known. What another way
/// back takes off a loop, it leaves the line.
pub(crate) fn line_alone(case: &Case) -> Option<f64> {
    let size = case.slots.span(Field::Size)?;
    let length = case.slots.span(Field::Length)?;
    let parallel = case.parallel().ok()?;
    let least = case
        .materials
        .iter()
        .filter_map(|material| case.tables.resistance(*material, case.construction, size))
        .map(|found| found.lo)
        .reduce(f64::min)?;
    // The tables give the largest resistance allowed, at 20 °C: a tenth less for the wire and the cold.
    Some(0.9 * least * length.lo * case.reach().lo / (1000.0 * parallel.hi))
}

/// R1+R2 at limit temperature, Ω: as measured cold, else from length and sizes.
fn r1_r2(case: &Case) -> Result<Span, Gap> {
    let (materials, insulations) = match case.given(R1_R2)? {
        // The sum is known; the cable only tells how far it warms.
        Some(_) if !case.has_cable => (Material::ALL, Insulation::ALL),
        _ => (case.materials()?, case.insulations()?),
    };
    if let (Some(read), Some(line)) = (case.given(R1_R2)?, line_alone(case))
        && read.numbers().hi < line
    {
        let why = say!("gap-r1-r2-below-line", read = (read.numbers(), "Ω"), line = (line, "Ω"));
        return Err(Gap::Unfit(Field::R1R2, why));
    }
    let cold = case.given(R1_R2)?.map(survey::Range::numbers);
    let ways: Vec<_> =
        materials.iter().flat_map(|material| insulations.iter().map(|insulation| (*material, *insulation))).collect();
    let one = |(material, insulation), part| match cold {
        Some(cold) => Ok(cold * case.tables.warmed(material, Span::point(limit_temperature(insulation)))),
        None => from_sizes(case, material, insulation, part),
    };
    let found =
        of_sizes_made(&ways, |way, part| one(way, part).ok()).into_iter().filter_map(|(_, here)| here).fold(None, hull);
    // Why not, in the words of the last way there is; a field that is missing is missing of all.
    found.ok_or(()).or_else(|()| match ways.last() {
        Some(way) => one(*way, false),
        None => Err(Gap::Unfit(Field::Size, say!("gap-no-conductor"))),
    })
}

/// `part`: of a range of sizes those that the table has.
fn from_sizes(case: &Case, material: Material, insulation: Insulation, part: bool) -> Result<Span, Gap> {
    let resistance = |metal, construction, size| case.tables.resistance_of(metal, construction, size, part);
    let size = case.get(SIZE)?.numbers();
    let construction = case.construction()?;
    let no_conductor = || Gap::Unfit(Field::Size, say!("gap-no-conductor"));
    let warm = case.tables.warmed(material, Span::point(limit_temperature(insulation)));
    let line = resistance(material, construction, size).ok_or_else(no_conductor)? * warm;
    let cpc = case.cpc()?;
    let back = match cpc {
        CpcForm::Core | CpcForm::Separate => {
            let size = case.get(CPC_SIZE)?.numbers();
            let metal = case.cpc_metal(material);
            let warm = case.tables.warmed(metal, Span::point(limit_temperature(insulation)));
            resistance(metal, construction, size).ok_or_else(no_conductor)? * warm
        }
        CpcForm::Armour => {
            armoured(case)?;
            let cores = case.get(CORES)?.numbers();
            let temperature = Span::point(armour_temperature(insulation));
            case.tables
                .armour_resistance(cores, size, temperature)
                .ok_or_else(|| Gap::Unfit(Field::Cpc, say!("gap-no-armour-resistance")))?
        }
        CpcForm::Conduit | CpcForm::Trunking => {
            return Err(Gap::Unfit(Field::Cpc, say!("gap-no-conduit-resistance")));
        }
    };
    let cables = case.parallel()?;
    let per_km = match cpc {
        _ if cables == Span::point(1.0) => line + back,
        // One separate conductor serves all cables side by side.
        CpcForm::Separate => line / cables + back,
        _ => (line + back) / cables,
    };
    Ok(per_km * case.get(LENGTH)?.numbers() * case.reach() / Span::point(1000.0))
}

/// Nothing holds by a protective conductor that was seen missing or cut: IEC 60364-4-41, 411.3.1.1.
pub(crate) fn earthed(case: &Case) -> Result<(), Gap> {
    if case.no_earth {
        return Err(Gap::Unfit(Field::Cpc, say!("gap-no-earth")));
    }
    Ok(())
}

/// A cable without armour has none to be its protective conductor.
pub(crate) fn armoured(case: &Case) -> Result<(), Gap> {
    match case.construction()? {
        None | Some(survey::Construction::Armoured) => match &case.armour_not_joined {
            // What was measured through it shows it joined.
            Some(_) if case.given(R1_R2)?.is_some() || case.given(ZS)?.is_some() => Ok(()),
            Some(why) => Err(Gap::Unfit(Field::R1R2, say!("gap-armour-not-joined", why = why.clone()))),
            None => Ok(()),
        },
        Some(other) => Err(Gap::Unfit(Field::Cpc, say!("gap-no-armour-there", construction = other.words()))),
    }
}

/// Touch voltage RA·IΔn, V, against what may stay: IEC 60364-4-41, 411.5.3. RA is the electrode and
/// the protective conductor; the line conductor's share of R1+R2 is taken along at the upper end.
pub(crate) fn touch_voltage(case: &Case) -> Result<Outcome, Gap> {
    earthed(case)?;
    let electrode = case.get(ELECTRODE)?.numbers();
    let conductor = r1_r2(case)?;
    let earth = electrode + Span { lo: 0.0, hi: conductor.hi };
    let seeing = device::least(device::seeing(case)?);
    let residual = seeing.ok_or_else(|| residual::wrong_type_gap(case).unwrap_or(Gap::Missing(Field::Residual)))?;
    if residual.hi.is_infinite() {
        return Err(device::perhaps_blind(case));
    }
    residual::for_direct(case)?;
    // A type B opens on smooth direct current up to 2 IΔn: IEC 62423 (from memory).
    let residual = if case.direct() { Span { lo: residual.lo, hi: residual.hi * 2.0 } } else { residual };
    Ok(Outcome { value: earth * residual, limit: Span::point(case.touch_voltage()) })
}

/// Touch voltage RA·Id of a first fault in an IT system, V: IEC 60364-4-41, 411.6.2.
pub(crate) fn first_fault(case: &Case) -> Result<Outcome, Gap> {
    earthed(case)?;
    let (earth, current) = (case.get(ELECTRODE)?.numbers(), case.get(FIRST_FAULT)?.numbers());
    Ok(Outcome { value: earth * current, limit: Span::point(case.touch_voltage()) })
}

/// What ends an earth fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum EndedBy {
    /// The device on overcurrent.
    Overcurrent,
    /// An RCD.
    Residual,
}

/// Longest disconnection time of a reduced low voltage system, s: BS 7671, 411.8.3 (from memory).
const REDUCED: f64 = 5.0;

/// How a system lets an earth fault be ended.
#[derive(Clone, Copy)]
struct Terms {
    /// Times and touch voltage of a TT system.
    tt: bool,
    /// Voltage that drives the fault through the loop, as a multiple of U0.
    drive: Span,
    /// The product of loop and current stays below the touch voltage, not below the driving one.
    by_touch: bool,
}

/// The terms of a system, each that is possible.
fn terms(case: &Case, system: EarthingSystem) -> [Option<Terms>; 3] {
    let one = Span::point(1.0);
    let together = match system {
        EarthingSystem::TnS | EarthingSystem::TnCS => {
            return [Some(Terms { tt: false, drive: one, by_touch: false }), None, None];
        }
        EarthingSystem::Tt => return [Some(Terms { tt: true, drive: one, by_touch: false }), None, None],
        EarthingSystem::It => case.earthed_together(),
    };
    let distributed: &[YesNo] = if together.contains(&YesNo::Yes) { case.neutral_distributed() } else { &[] };
    // A second fault, 411.6.4: a) parts earthed together, two loops in series between lines or,
    // with a distributed neutral, line and neutral; b) apart, as TT with RA·Ia ≤ 50 V.
    let joined = |answer, drive| distributed.contains(&answer).then_some(Terms { tt: false, drive, by_touch: false });
    let half = Span::point(0.5);
    [
        joined(YesNo::Yes, half),
        joined(YesNo::No, demand::root3() * half),
        together.contains(&YesNo::No).then_some(Terms { tt: true, drive: one, by_touch: true }),
    ]
}

/// The largest loop impedance, Ω, and what sets it.
///
/// TN: Zs ≤ Cmin·U0/Ia (IEC 60364-4-41, 411.4.4). TT with an RCD: Zs·IΔn ≤ 50 V (411.5.3, with Zs
/// for the smaller RA); without: as TN with the times for TT (411.5.4). IT: a second fault, 2·Zs·Ia
/// ≤ Cmin·√3·U0, with a distributed neutral ≤ Cmin·U0 (411.6.4). An RCD counts where its delay
/// leaves the time.
pub(crate) fn limit(case: &Case) -> Result<(Span, EndedBy), Gap> {
    case.once(|kept| &kept.limit, |case| largest(case, device::seeing(case)?))
}

/// The same as if every RCD saw the load's earth fault current.
pub(crate) fn limit_by_any(case: &Case) -> Result<(Span, EndedBy), Gap> {
    largest(case, device::residuals(case)?)
}

fn largest(case: &Case, residuals: [Option<Residual>; 3]) -> Result<(Span, EndedBy), Gap> {
    case.alternating()?;
    if (case.systems(), case.reduced()) == (&[EarthingSystem::It], &[YesNo::Yes]) {
        return Err(Gap::Unfit(Field::Reduced, say!("gap-reduced-it")));
    }
    let voltage = case.get(VOLTAGE)?.numbers();
    let mut found: Option<Span> = None;
    let mut ended = EndedBy::Overcurrent;
    for &system in case.systems() {
        // Of a fault both are the same.
        if system == EarthingSystem::TnCS && case.systems.contains(&EarthingSystem::TnS) {
            continue;
        }
        let of = |terms| case.reduced().iter().map(move |reduced| (terms, *reduced == YesNo::Yes));
        for (terms, reduced) in terms(case, system).into_iter().flatten().flat_map(of) {
            let low = voltage * Span::point(C_MIN);
            let low = if terms.drive == Span::point(1.0) { low } else { low * terms.drive };
            let seconds = if reduced { Span::point(REDUCED) } else { longest_time(case, terms.tt, voltage)? };
            let over = device::opens_within(case, seconds)?.map(|current| {
                let drive = if terms.by_touch { Span::point(case.touch_voltage()) } else { low };
                device::largest_impedance(drive, current).numbers()
            });
            for residual in in_time(case.tables, residuals, seconds) {
                let by_residual = residual.map(|residual| match terms.tt || reduced {
                    true => Span::point(case.touch_voltage()) / residual,
                    false => low / (residual * Span::point(RCD_MULTIPLE)),
                });
                // Either device is enough: the larger limit counts.
                let (span, by) = match (over, by_residual) {
                    (Some(over), Some(residual)) if residual.lo <= over.lo => (over, EndedBy::Overcurrent),
                    (_, Some(residual)) => (residual, EndedBy::Residual),
                    (Some(over), None) => (over, EndedBy::Overcurrent),
                    (None, None) => {
                        if residuals.iter().flatten().any(|one| one.may_be_blind) {
                            return Err(device::perhaps_blind(case));
                        }
                        return Err(residual::wrong_type_gap(case).unwrap_or_else(|| {
                            device::not_overcurrent(case.device_kind.unwrap_or(survey::DeviceKind::Isolator))
                        }));
                    }
                };
                found = hull(found, span);
                ended = by;
            }
        }
    }
    found.map(|span| (span, ended)).ok_or(Gap::Missing(Field::System))
}

/// Rated residual current of the RCDs that open in time, once for each delay they may have; none
/// where no RCD does.
fn in_time(tables: &Tables, residuals: [Option<Residual>; 3], seconds: Span) -> SmallVec<[Option<Span>; 4]> {
    if residuals.iter().all(Option::is_none) {
        return SmallVec::from_iter([None]);
    }
    let choices = |one: Option<Residual>| -> [Option<Option<Span>>; 3] {
        let Some(one) = one else { return [Some(None), None, None] };
        let timely = |delay: &RcdDelay| device::residual_in_time(tables, *delay, seconds).then_some(one.rated);
        let mut delays = one.delays.iter().map(timely);
        let first = delays.next();
        let second = delays.next().filter(|second| Some(*second) != first);
        [first, second, one.may_be_blind.then_some(None)]
    };
    let [own, incomer, upstream] = residuals.map(choices);
    let mut found = SmallVec::new();
    for own in own.into_iter().flatten() {
        for incomer in incomer.into_iter().flatten() {
            let with = |upstream| device::smaller([own, incomer, upstream]);
            found.extend(upstream.into_iter().flatten().map(with));
        }
    }
    found
}

/// Longest disconnection time, s: table 41.1 for final circuits up to 63 A with socket-outlets and
/// up to 32 A with fixed equipment, else the longer time (411.3.2.2 to 411.3.2.4, 2017 scope).
pub(crate) fn longest_time(case: &Case, tt: bool, voltage: Span) -> Result<Span, Gap> {
    let rated = device::setting(case)?;
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
    found.ok_or_else(|| Gap::Unfit(Field::Voltage, say!("gap-no-time")))
}
