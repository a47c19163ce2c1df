//! What a load draws: design current Ib and its parts in and out of phase with the voltage.

use survey::range::Span;
use survey::{Amps, LoadKind, Range, YesNo, say};

use crate::case::{Case, Feed, Gap, hull};
use crate::field::{CURRENT, DEMAND, EFFICIENCY, Field, POWER, POWER_FACTOR, VOLTAGE};

/// A load's line current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Draw {
    /// The current itself, Ib.
    pub(crate) current: Range<Amps>,
    /// Its part in phase with the voltage that drives it.
    pub(crate) active: Range<Amps>,
    /// Its part a quarter period behind; below zero where it leads.
    pub(crate) reactive: Range<Amps>,
}

impl Draw {
    /// True where nothing of it is open.
    pub(crate) fn is_point(&self) -> bool {
        self.current.is_point() && self.active.is_point() && self.reactive.is_point()
    }
}

const ONE: Span = Span::point(1.0);

/// Square root of three, rounded outward.
pub(crate) fn root3() -> Span {
    Span::point(3.0).sqrt()
}

/// What the load draws by its power or its current.
///
/// From power: Ib = P·g / (k·U·cos φ·η) with k = 1 and U = U0 for one line, U = √3·U0 between two
/// lines, k = 3 and U = U0 for three; g is the demand factor (1 where none is given or the load
/// runs on), η the
/// efficiency: of a motor a range where it is not given, of other loads 1, as their power is
/// electrical. A current that is given is
/// the design current already: neither factor applies again.
pub(crate) fn draw(case: &Case) -> Result<Draw, Gap> {
    case.once(|kept| &kept.draw, |case| drawn(case, false))
}

/// A current and a power that both were entered: where the power, with its demand, draws far more than the current, one
/// of the two is wrong.
pub(crate) fn agreed(case: &Case) -> Result<(), Gap> {
    const FAR: f64 = 1.5;
    if case.given(CURRENT)?.is_none() || case.given(POWER)?.is_none() {
        return Ok(());
    }
    let mut by_power = case.clone();
    by_power.put(CURRENT, None);
    let (Ok(by_power), current) = (draw(&by_power), draw(case)?) else { return Ok(()) };
    if by_power.current.numbers().lo > current.current.numbers().hi * FAR {
        let (current, power) = (current.current.numbers(), by_power.current.numbers());
        let why = say!("gap-current-and-power", current = (current, "A"), power = (power, "A"));
        return Err(Gap::Unfit(Field::Current, why));
    }
    Ok(())
}

/// What the load draws when all of it runs.
pub(crate) fn full(case: &Case) -> Result<Draw, Gap> {
    drawn(case, true)
}

/// True for loads that run for hours: no demand factor counts for them. Vehicle charging: IEC
/// 60364-7-722, 722.311; heating: common practice, no source.
pub(crate) const fn runs_on(kind: LoadKind) -> bool {
    matches!(kind, LoadKind::VehicleCharging | LoadKind::Heating)
}

/// The demand factor that counts: one where none is given, or where the load runs on.
fn demand_factor(case: &Case) -> Result<Span, Gap> {
    let Some(given) = case.given(DEMAND)?.map(Range::numbers).filter(|given| *given != ONE) else { return Ok(ONE) };
    let mut found = None;
    for kind in case.kinds() {
        found = hull(found, if runs_on(*kind) { ONE } else { given });
    }
    Ok(found.unwrap_or(given))
}

/// The power factor; of direct current there is none.
fn factor(case: &Case) -> Result<Span, Gap> {
    if case.direct() { Ok(ONE) } else { Ok(case.get(POWER_FACTOR)?.numbers()) }
}

fn drawn(case: &Case, full: bool) -> Result<Draw, Gap> {
    if let Some(current) = case.given(CURRENT)? {
        let factor = factor(case)?;
        return Ok(split(case, current, factor));
    }
    let power = case.get(POWER)?.numbers();
    let efficiency = match case.slots.span(Field::Efficiency) {
        Some(_) => case.get(EFFICIENCY)?.numbers(),
        None => ONE,
    };
    let demand = if full { ONE } else { demand_factor(case)? };
    let factor = factor(case)?;
    let voltage = case.get(VOLTAGE)?.numbers();
    let driving = match case.feed()? {
        Feed::OneLine(_) => case.between(voltage),
        Feed::TwoLines(_) => voltage * root3(),
        Feed::ThreeLines => voltage * Span::point(3.0),
    };
    // The active part does not depend on the power factor: kept apart, it stays narrow.
    let active = unless_one(power, demand, |a, b| a * b);
    let active = unless_one(active, efficiency, |a, b| a / b) / driving;
    Ok(Draw {
        current: unless_one(active, factor, |a, b| a / b).of(),
        active: active.of(),
        reactive: lagging_or_not(case, active * tangent(factor)).of(),
    })
}

/// What the load draws, or, where no load is known, anything up to its device's rating: the
/// device would not stay closed on more.
pub(crate) fn draw_or_rating(case: &Case) -> Result<Draw, Gap> {
    match draw(case) {
        Err(Gap::Missing(Field::Power)) => {
            let rated = crate::device::setting(case)?;
            let factor = factor(case)?;
            let poles = if case.linked() { 3.0 } else { 1.0 };
            Ok(split(case, Span { lo: 0.0, hi: rated.hi * poles }.of(), factor))
        }
        other => other,
    }
}

/// A current by its power factor.
fn split(case: &Case, current: Range<Amps>, factor: Span) -> Draw {
    let numbers = current.numbers();
    let reactive = lagging_or_not(case, numbers * sine(factor));
    Draw { current, active: unless_one(numbers, factor, |a, b| a * b).of(), reactive: reactive.of() }
}

/// The part out of phase with its sign: lagging counts as positive. A load of which nobody said whether
/// it leads may do either.
fn lagging_or_not(case: &Case, size: Span) -> Span {
    if size == Span::point(0.0) {
        return size;
    }
    let negative = Span { lo: -size.hi, hi: -size.lo };
    // Not counted as read here: only who uses the reactive part rests on it.
    match case.leading {
        [YesNo::No] => size,
        [YesNo::Yes] => negative,
        _ => Span { lo: negative.lo, hi: size.hi },
    }
}

/// Leaves a value as it is where the factor is exactly one: no rounding is due.
fn unless_one(value: Span, factor: Span, with: impl Fn(Span, Span) -> Span) -> Span {
    if factor == ONE { value } else { with(value, factor) }
}

/// sin φ from cos φ.
pub(crate) fn sine(factor: Span) -> Span {
    if factor == ONE { Span::point(0.0) } else { (ONE - factor.square()).sqrt() }
}

/// tan φ from cos φ.
fn tangent(factor: Span) -> Span {
    if factor == ONE { Span::point(0.0) } else { (ONE / factor.square() - ONE).sqrt() }
}
