//! Energy that a fault lets through, and the conductor that bears it, over every fault from the
//! board to the far end.

use survey::range::Span;
use survey::{CpcForm, DeviceKind, EarthingSystem, EnergyClass, Message, Method, YesNo, say};

use crate::case::{Case, Gap, hull};
use crate::demand::root3;
use crate::device;
use crate::fault_level;
use crate::fault_loop;
use crate::field::{
    BREAKING, CORES, CPC_SIZE, Field, II, IPF, ISD, LET_THROUGH, LET_THROUGH_AT, NEUTRAL_SIZE, RATED, SIZE, TSD,
    VOLTAGE, ZE, ZS,
};
use crate::rules::undenied;
use crate::selectivity::{self, INSTANT};
use crate::short_circuit;
use crate::tables::{Metal, Use};
use crate::verdict::Outcome;

/// Fault currents that a conductor may carry, A.
#[derive(Clone, Copy)]
struct Faults {
    /// At the far end, conductors warm.
    least: Span,
    /// At the board.
    most: Span,
    /// An RCD ends them too.
    to_earth: bool,
}

/// Energy let through by the worst fault, A²s.
struct Energy {
    /// From what is surely reached to what is surely not exceeded.
    span: Span,
    /// Why no less can be said, where the device alone could tell: the field, and what to do.
    wants: Option<(Field, Message)>,
}

const ASK_CLASS: Message = Message::bare("energy-ask-class");
const ASK_ENERGY: Message = Message::bare("energy-ask-energy");
const ASK_AT: Message = Message::bare("energy-ask-at");
const ASK_SETTING: Message = Message::bare("energy-ask-setting");
const ASK_DELAY: Message = Message::bare("energy-ask-delay");
const ASK_NO_DELAY: Message = Message::bare("energy-ask-no-delay");
const ASK_SLOW: Message = Message::bare("energy-ask-slow");

/// Shortest time in s in which a short-time release opens: IEC 60947-2, 4.3.6.4 (from memory) has none below. Without a
/// delay the breaker opens at once, and that too takes some time, which no standard tells.
const SHORTEST: f64 = 0.05;

/// Outward rounding of ranges: a current worked out to be the one that was read is that one.
const ROUNDING: f64 = 1e-9;

/// Short circuits between live conductors: from the far end to the board.
fn between_live(case: &Case) -> Result<Faults, Gap> {
    Ok(Faults { least: short_circuit::smallest(case)?, most: case.get(IPF)?.numbers(), to_earth: false })
}

/// Earth faults: from the far end to the board.
///
/// At the far end Cmin·U over the warm loop, worked out or, where that cannot be, as measured cold
/// ([`fault_loop::COLD_SHARE`]). At the board 1.05·U0/Ze (voltage factor of IEC 60909-0 table 1), or Ipf
/// where Ze is not known. A second fault of an IT system is driven by half of U0 or of the voltage
/// between lines (IEC 60364-4-41, 411.6.4).
fn to_earth(case: &Case) -> Result<Faults, Gap> {
    let voltage = case.get(VOLTAGE)?.numbers();
    // What a breaker lets through rests on the longest loop alone.
    let around = match case.device_kind {
        Some(DeviceKind::Fuse) => fault_loop::any_angle(case),
        _ => fault_loop::impedance(case),
    };
    let around = match (around, case.given(ZS)?) {
        (Ok(worked_out), _) => worked_out,
        (Err(_), Some(cold)) => {
            let cold = cold.numbers();
            Span { lo: cold.lo, hi: (cold / Span::point(fault_loop::COLD_SHARE)).hi }
        }
        (Err(gap), None) => return Err(gap),
    };
    let one = Span::point(1.0);
    let drive = match case.systems() {
        [EarthingSystem::It] => Span { lo: 0.5, hi: (root3() * Span::point(0.5)).hi },
        _ => one,
    };
    let low = voltage * Span::point(fault_loop::C_MIN);
    let low = if drive == one { low } else { low * drive };
    let before = case.given(ZE)?.map(survey::Range::numbers).filter(|before| before.lo > 0.0);
    let most = match before {
        Some(before) => {
            let high = Span { lo: voltage.lo, hi: (voltage * Span::point(fault_level::Case::Largest.factor())).hi };
            let drive = Span { lo: drive.lo, hi: drive.hi.max(1.0) };
            high * drive / before
        }
        None => case.get(IPF)?.numbers(),
    };
    Ok(Faults { least: low / around, most, to_earth: true })
}

/// Energy of the worst of the faults until the device opens.
///
/// A breaker that releases at once: no more than the current for 0.1 s (IEC 60898-1 table 7), than its
/// class 3 limit where that class was read on it (EN 60898-1 annex ZA, up to its short-circuit
/// capacity), and than its data sheet says, up to the current that is said of. A breaker that is slow:
/// what its table lets it, see [`selectivity::slow_energy`]. A gG fuse: its gates, see
/// [`crate::tables::Tables::fuse_energy`]. An earth fault under an RCD: no more than until that opens.
fn energy(case: &Case, faults: Faults) -> Result<Energy, Gap> {
    case.alternating()?;
    let energy = match case.device_kind()? {
        DeviceKind::CircuitBreaker | DeviceKind::Rcbo => breaker(case, faults)?,
        DeviceKind::Fuse => fuse(case, faults)?,
        DeviceKind::RewirableFuse => return Err(device::no_curve()),
        DeviceKind::AdjustableBreaker => adjustable(case, faults)?,
        other => match by_residual(case, faults)? {
            Some(most) if most.is_infinite() => return Err(device::perhaps_blind(case)),
            Some(most) => Energy { span: Span { lo: 0.0, hi: most }, wants: None },
            None => return Err(device::not_overcurrent(other)),
        },
    };
    Ok(match by_residual(case, faults)? {
        Some(most) if most < energy.span.hi => Energy { span: Span { lo: 0.0, hi: most }, wants: energy.wants },
        Some(_) => Energy { span: Span { lo: 0.0, hi: energy.span.hi }, wants: energy.wants },
        None => energy,
    })
}

fn breaker(case: &Case, Faults { least, most, .. }: Faults) -> Result<Energy, Gap> {
    let rated = case.get(RATED)?.numbers();
    let (mut slow, mut sudden) = (0.0_f64, (most.square() * Span::point(INSTANT)).hi);
    let mut limited = Some(0.0_f64);
    let not_limited = case.energy_classes() != [EnergyClass::Three];
    for &curve in case.curves() {
        let found = selectivity::slow_energy(curve, rated.hi, least.lo, case.tables)
            .ok_or_else(|| Gap::Unfit(Field::Rated, say!("gap-no-breaker")))?;
        slow = slow.max(found);
        if !not_limited {
            let breaking = case.get(BREAKING)?.numbers();
            let limit = case.tables.let_through(curve, rated.hi, breaking.hi).filter(|_| most.hi <= breaking.lo);
            limited = limited.zip(limit).map(|(a, b)| a.max(b));
        }
    }
    if !not_limited {
        sudden = limited.map_or(sudden, |limited| sudden.min(limited));
    }
    let mut lo = 0.0;
    let read = case.given(LET_THROUGH)?.is_some();
    let at = if read { case.given(LET_THROUGH_AT)? } else { None };
    if let Some(at) = at {
        let (energy, at) = (case.get(LET_THROUGH)?.numbers(), at.numbers());
        if at.lo >= most.hi {
            sudden = sudden.min(energy.hi);
        }
        if at.hi <= most.lo * (1.0 + ROUNDING) {
            lo = energy.lo.max(0.0).min(sudden);
        }
    }
    let wants = if slow > sudden {
        (Field::LetThrough, ASK_SLOW)
    } else if read && at.is_none() {
        (Field::LetThroughAt, ASK_AT)
    } else if not_limited && !read {
        (Field::EnergyClass, ASK_CLASS)
    } else {
        (Field::LetThrough, ASK_ENERGY)
    };
    Ok(Energy { span: Span { lo, hi: slow.max(sudden) }, wants: Some(wants) })
}

fn fuse(case: &Case, Faults { least, .. }: Faults) -> Result<Energy, Gap> {
    let rated = case.get(RATED)?.numbers();
    let span = case.tables.fuse_energy(rated, least).ok_or_else(|| Gap::Unfit(Field::Rated, say!("gap-no-fuse")))?;
    Ok(Energy { span, wants: None })
}

/// An adjustable breaker: no standard limits what it lets through. Its data tell it where it opens at once, the time of
/// its short-time release where that opens it.
fn adjustable(case: &Case, Faults { least, most, .. }: Faults) -> Result<Energy, Gap> {
    crate::settings::agree(case)?;
    let surely = |set: Span| (set * Span::point(1.0 + device::TOLERANCE)).hi;
    let (at_once, short) = (surely(case.get(II)?.numbers()), surely(case.get(ISD)?.numbers()));
    let told = case.given(TSD)?.map(|time| time.numbers().hi);
    let time = told.filter(|time| *time >= SHORTEST);
    let delayed = |most: f64| match time.filter(|_| least.lo >= short) {
        Some(time) => (Span::point(most).square() * Span::point(time)).hi,
        None => f64::INFINITY,
    };
    let slow = if least.lo >= at_once { 0.0 } else { delayed(most.hi.min(at_once)) };
    let mut sudden = delayed(most.hi);
    let read = case.given(LET_THROUGH)?.is_some();
    let at = if read { case.given(LET_THROUGH_AT)? } else { None };
    let mut lo = 0.0;
    if let Some(at) = at {
        let (energy, at) = (case.get(LET_THROUGH)?.numbers(), at.numbers());
        if at.lo >= most.hi {
            sudden = sudden.min(energy.hi);
        }
        // A fault no smaller than that of the data sheet lets no less through, whatever opens it.
        if at.hi <= most.lo * (1.0 + ROUNDING) {
            lo = energy.lo.max(0.0).min(sudden);
        }
    }
    let far = slow > sudden || slow.is_infinite();
    let wants = if far && case.given(II)?.is_none() {
        (Field::Ii, ASK_SETTING)
    } else if far && case.given(ISD)?.is_none() {
        (Field::Isd, ASK_SETTING)
    } else if far && time.is_none() {
        (Field::Tsd, if told.is_some() { ASK_NO_DELAY } else { ASK_DELAY })
    } else if read && at.is_none() {
        (Field::LetThroughAt, ASK_AT)
    } else if far {
        (Field::LetThrough, ASK_SLOW)
    } else {
        (Field::LetThrough, ASK_ENERGY)
    };
    Ok(Energy { span: Span { lo, hi: slow.max(sudden) }, wants: Some(wants) })
}

/// Most that an RCD lets through of an earth fault, A²s: its longest time at five times IΔn, below that
/// its longest time at all (IEC 61008-1 table 1). `None` where no RCD watches the circuit, infinite where
/// the one that does may be blind.
fn by_residual(case: &Case, Faults { most, to_earth, .. }: Faults) -> Result<Option<f64>, Gap> {
    if !to_earth {
        return Ok(None);
    }
    let mut least: Option<f64> = None;
    for residual in device::seeing(case)?.into_iter().flatten() {
        let energy = |multiple: f64, current: f64| {
            let times = residual.delays.iter().filter_map(|delay| {
                let delayed = *delay == survey::RcdDelay::S;
                let mut rows = case.tables.assembly.residual(delayed);
                rows.find(|row| row.multiple == multiple).map(|row| row.longest)
            });
            times.reduce(f64::max).map(|time| (Span::point(current).square() * Span::point(time)).hi)
        };
        if residual.may_be_blind {
            least = least.or(Some(f64::INFINITY));
            continue;
        }
        let quick = 5.0 * residual.rated.hi;
        if let Some((slow, quick)) = energy(1.0, quick.min(most.hi)).zip(energy(5.0, most.hi)) {
            let energy = slow.max(quick);
            least = Some(least.map_or(energy, |least| least.min(energy)));
        }
    }
    Ok(least)
}

/// A required size against the one there is. Where the device's own data could prove it, that is what
/// to take next: the largest energy that a standard allows never refutes a conductor.
fn against(energy: &Energy, required: Span, size: Span) -> Result<Outcome, Gap> {
    let outcome = Outcome { value: required, limit: size };
    match &energy.wants {
        Some((field, ask)) if outcome.verdict() == survey::Verdict::Undecided => {
            let (size, ask) = ((size, "mm²"), ask.clone());
            let why = match required.hi.is_finite() {
                true => say!("gap-energy", needed = (required.hi, "mm²"), size = size, ask = ask),
                false => say!("gap-energy-endless", size = size, ask = ask),
            };
            Err(Gap::Unfit(*field, why))
        }
        _ => Ok(outcome),
    }
}

/// The line conductor: √(I²t)/k ≤ S, IEC 60364-4-43, 434.5.2.
pub(crate) fn line(case: &Case) -> Result<Outcome, Gap> {
    live(case, case.get(SIZE)?.numbers())
}

/// The same for a neutral of its own size.
pub(crate) fn neutral(case: &Case) -> Result<Outcome, Gap> {
    live(case, case.get(NEUTRAL_SIZE)?.numbers())
}

fn live(case: &Case, size: Span) -> Result<Outcome, Gap> {
    let energy = energy(case, between_live(case)?)?;
    // Cables in parallel share a fault at the far end, but one at the board's end of one of them is
    // that one's alone: each has to bear it.
    let mut required = None;
    for &material in case.materials()? {
        for &insulation in case.insulations()? {
            if let Some(k) = case.tables.adiabatic(Use::Line, Metal::Of(material), insulation, size) {
                required = hull(required, energy.span.sqrt() / k);
            }
        }
    }
    let outcome = against(&energy, required.ok_or_else(no_factor)?, size)?;
    undenied(case, outcome, IPF.field)?;
    Ok(outcome)
}

/// How a separate protective conductor may be laid: bunched with the lines, apart, or either.
///
/// In one conduit with them (methods A1 and B1) it is bunched and as warm as they are, unless it was
/// seen apart; elsewhere only looking tells.
fn separate_uses(case: &Case) -> Result<&'static [Use], Gap> {
    const BOTH: [Use; 2] = [Use::Core, Use::Separate];
    let in_conduit =
        case.methods()?.iter().all(|method| matches!(method, Method::A1 | Method::A2 | Method::B1 | Method::B2));
    Ok(match case.cpc_apart() {
        [YesNo::Yes] => &BOTH[1..],
        [YesNo::No] => &BOTH[..1],
        _ if in_conduit => &BOTH[..1],
        _ => &BOTH,
    })
}

/// The protective conductor: √(I²t)/k ≤ S, or its size by the line's, IEC 60364-5-54, 543.1.
///
/// Where the energy is not known the size by the line's stands alone: it may prove a conductor,
/// but a smaller one may do as well.
pub(crate) fn protective(case: &Case) -> Result<Outcome, Gap> {
    protected(case).map(|(outcome, _)| outcome)
}

/// The protective conductor holds by the size of its line alone.
pub(crate) fn by_table(case: &Case) -> bool {
    protected(case).is_ok_and(|(_, by_table)| by_table)
}

/// The same, and whether it is by the line's size.
fn protected(case: &Case) -> Result<(Outcome, bool), Gap> {
    fault_loop::earthed(case)?;
    let (uses, metal): (&[Use], _) = match case.cpc()? {
        CpcForm::Core => (&[Use::Core], None),
        CpcForm::Separate => (separate_uses(case)?, None),
        CpcForm::Armour => (&[Use::Armour], Some(Metal::Steel)),
        CpcForm::Conduit | CpcForm::Trunking => (&[Use::Conduit], Some(Metal::Steel)),
    };
    let line = case.get(SIZE)?.numbers();
    let size = match uses {
        [Use::Armour] => {
            fault_loop::armoured(case)?;
            let cores = case.get(CORES)?.numbers();
            case.tables.armour_area(cores, line).ok_or_else(|| Gap::Unfit(Field::Cpc, say!("gap-no-armour")))?
        }
        _ => case.get(CPC_SIZE)?.numbers(),
    };
    let energy = to_earth(case).and_then(|faults| energy(case, faults));
    let mut ways = Vec::with_capacity(4);
    for &used_as in uses {
        for &material in case.materials()? {
            for &insulation in case.insulations()? {
                let metal = metal.unwrap_or_else(|| Metal::Of(case.cpc_metal(material)));
                let k = case.tables.adiabatic(used_as, metal, insulation, size);
                let line_k = case.tables.adiabatic(Use::Line, Metal::Of(material), insulation, line);
                let (Some(k), Some(line_k)) = (k, line_k) else { continue };
                let mut by_line = Span { lo: by_line_size(line.lo), hi: by_line_size(line.hi) };
                if metal != Metal::Of(material) {
                    by_line = by_line * line_k / k;
                }
                ways.push((by_line, energy.as_ref().ok().map(|energy| energy.span.sqrt() / k)));
            }
        }
    }
    // Either way of choosing the size is allowed; but the table sizes the conductor by its line, and says nothing where
    // that does not bear the fault itself.
    let asks_less = |(by_line, by_energy): &(Span, Option<Span>)| {
        by_energy.is_none_or(|energy| by_line.lo < energy.lo || by_line.hi < energy.hi)
    };
    let by_table = ways.iter().any(asks_less) && !line_in_doubt(case);
    let least = |(by_line, by_energy): (Span, Option<Span>)| match by_energy {
        Some(energy) if by_table => Span { lo: energy.lo.min(by_line.lo), hi: energy.hi.min(by_line.hi) },
        Some(energy) => energy,
        None => by_line,
    };
    let would_do = ways.iter().map(|(by_line, _)| *by_line).fold(None, hull).ok_or_else(no_factor)?;
    let required = ways.into_iter().map(least).fold(None, hull).ok_or_else(no_factor)?;
    let outcome = match energy {
        Ok(energy) => against(&energy, required, size).map_err(|gap| match gap {
            Gap::Unfit(field, why) if would_do.hi <= size.lo => {
                Gap::Unfit(field, say!("gap-energy-by-table", why = why, least = (would_do, "mm²")))
            }
            gap => gap,
        })?,
        // A value without sense proves nothing; a loop that is not tabulated leaves the size by the line's.
        Err(gap @ Gap::Unfit(field, _)) if field != Field::Cpc => return Err(gap),
        Err(gap) => {
            let outcome = Outcome { value: required, limit: size };
            if outcome.verdict() != survey::Verdict::Holds || !by_table {
                return Err(gap);
            }
            outcome
        }
    };
    if !by_table {
        undenied(case, outcome, Field::Ze)?;
    }
    Ok((outcome, by_table))
}

/// What a fault is known to let through says that the line conductor may not bear it: a protective conductor sized by
/// that line proves nothing. Where a reading is wanting nothing is known against it.
fn line_in_doubt(case: &Case) -> bool {
    match line(case) {
        Ok(outcome) => outcome.verdict() != survey::Verdict::Holds,
        // Nor where the poles deny the supply: that is another matter.
        Err(Gap::Missing(_) | Gap::Unfit(Field::Poles, _)) => false,
        Err(Gap::Unfit(..)) => true,
    }
}

fn no_factor() -> Gap {
    Gap::Unfit(Field::Size, say!("gap-no-factor"))
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
