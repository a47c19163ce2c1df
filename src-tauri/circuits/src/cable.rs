//! What a cable carries as it lies, Iz, and how warm its conductors get.

use std::cell::OnceCell;

use survey::range::Span;
use survey::{Amps, Insulation, Material, Method, Range, SquareMillimetres};

use crate::case::{Case, Gap, hull};
use crate::field::{AMBIENT, DEPTH, Field, GROUPED, IN_INSULATION, SIZE, SOIL};
use crate::harmonic;
use crate::tables::{Medium, Tables};

/// Conductor temperature that an insulation allows in service, °C: IEC 60364-5-52 table 52.1.
pub(crate) const fn limit_temperature(insulation: Insulation) -> f64 {
    match insulation {
        Insulation::Pvc70 => 70.0,
        Insulation::Xlpe90 => 90.0,
    }
}

/// One way the cable may be, and what follows.
pub(crate) struct Laid {
    pub(crate) material: Material,
    pub(crate) insulation: Insulation,
    pub(crate) method: Method,
    /// Iz and its parts; `None` where the tables have no such cable.
    pub(crate) capacity: Option<Capacity>,
}

/// Capacity of a cable with its factors.
#[derive(Clone, Copy)]
pub(crate) struct Capacity {
    /// Tabulated, It.
    pub(crate) tabulated: Span,
    /// All factors together: surrounding temperature, grouping, ground, thermal insulation, harmonics.
    pub(crate) factor: Span,
    /// Cables side by side.
    pub(crate) parallel: Span,
}

/// A product that stays exact where the factor is one.
fn times(value: Span, factor: Span) -> Span {
    if factor == Span::point(1.0) { value } else { value * factor }
}

impl Capacity {
    /// Iz = n·It·Ca·Cg·…, IEC 60364-5-52 clauses 523 and 523.7: cables in parallel are alike and
    /// share the current evenly.
    pub(crate) fn carried(self) -> Span {
        let carried = times(times(self.tabulated, self.factor), self.parallel);
        Span { lo: carried.lo.max(0.0), hi: carried.hi }
    }
}

/// Every way the cable may be, as far as its material, insulation and method are known.
pub(crate) fn ways(case: &Case) -> Result<Vec<Laid>, Gap> {
    let size = case.get(SIZE)?;
    ways_of(case, size, harmonic::factor(case)?)
}

/// The same for a conductor of another size in the cable, with a factor for its harmonics.
pub(crate) fn ways_of(case: &Case, size: Range<SquareMillimetres>, harmonics: Span) -> Result<Vec<Laid>, Gap> {
    let loaded = case.feed()?.loaded();
    let ambient = case.get(AMBIENT)?.numbers();
    let parallel = case.parallel()?;
    let grouped = case.get(GROUPED)?.numbers();
    // Cables in parallel heat each other like circuits that lie together. Counts add up exactly.
    let grouped = Span { lo: grouped.lo + parallel.lo - 1.0, hi: grouped.hi + parallel.hi - 1.0 };
    let (materials, insulations, methods) = (case.materials()?, case.insulations()?, case.methods()?);
    let mut found = Vec::with_capacity(materials.len() * insulations.len() * methods.len());
    // The temperature's factor does not depend on the material, and on the method only by the medium.
    let factor = |medium| {
        let mut factors = [None; Insulation::ALL.len()];
        for insulation in insulations {
            factors[*insulation as usize] = case.tables.ambient_factor(medium, *insulation, ambient);
        }
        factors
    };
    let (in_air, in_ground) = (OnceCell::new(), OnceCell::new());
    for &method in methods {
        let around = surroundings(case, method, grouped)?.map(|factor| times(factor, harmonics));
        let ambients = match Medium::of(method) {
            Medium::Air => in_air.get_or_init(|| factor(Medium::Air)),
            Medium::Ground => in_ground.get_or_init(|| factor(Medium::Ground)),
        };
        for &material in materials {
            for &insulation in insulations {
                let tabulated = case.tables.capacity(material, insulation, loaded, method, size);
                let capacity = tabulated.zip(around).and_then(|(tabulated, around)| {
                    let ambient = ambients[insulation as usize]?;
                    Some(Capacity { tabulated: tabulated.numbers(), factor: times(ambient, around), parallel })
                });
                found.push(Laid { material, insulation, method, capacity });
            }
        }
    }
    Ok(found)
}

/// Factor for all but the temperature around a cable; `None` where the tables have none.
fn surroundings(case: &Case, method: Method, grouped: Span) -> Result<Option<Span>, Gap> {
    let one = Span::point(1.0);
    let mut grouping = None;
    // One circuit alone is not grouped, however it lies.
    let lies = if grouped == one { Tables::lies(method).get(..1).unwrap_or_default() } else { case.lies(method) };
    let mixed = grouped != one && case.mixed();
    for &lie in lies {
        if let Some(factor) = case.tables.grouping_factor(method, lie, mixed, grouped) {
            grouping = hull(grouping, factor);
        }
    }
    let Some(mut factor) = grouping else { return Ok(None) };
    if Medium::of(method) == Medium::Ground {
        // Unknown ground counts as 2.5 K·m/W and 0.7 m, what the tables are for: B.52.3.
        let off = |field, words: &'static str| Gap::Unfit(field, words.into());
        if let Some(soil) = case.given(SOIL)? {
            let found = case.tables.laid.soil(method, soil.numbers());
            factor = times(factor, found.ok_or_else(|| off(Field::Soil, "the table of soils ends below this ground"))?);
        }
        if let Some(depth) = case.given(DEPTH)? {
            let found = case.tables.laid.depth(method, depth.numbers());
            factor = times(factor, found.ok_or_else(|| off(Field::Depth, "the table of depths ends above this one"))?);
        }
    } else if let Some(length) = case.given(IN_INSULATION)? {
        factor = times(factor, case.tables.laid.insulation(length.numbers()));
    }
    Ok(Some(factor))
}

/// What the cable carries as it lies, Iz.
pub(crate) fn carried(case: &Case) -> Result<Range<Amps>, Gap> {
    most(&ways(case)?)
}

/// The hull of what the ways carry.
pub(crate) fn most(ways: &[Laid]) -> Result<Range<Amps>, Gap> {
    ways.iter()
        .filter_map(|way| way.capacity)
        .fold(None, |found, capacity| hull(found, capacity.carried()))
        .map(Span::of)
        .ok_or_else(|| Gap::Unfit(Field::Size, "the capacity tables have no such cable".into()))
}

impl Laid {
    /// Conductor temperature in °C at a current: θ = θmax − (C² − (Ib/It)²)·(θmax − θref)
    /// with C the product of all factors,
    /// BS 7671 appendix 4, 6.1 (from memory; it follows from a temperature rise as the square of
    /// the current). Never above the limit: a cable that gets hotter fails another check. Without
    /// a tabulated capacity, anything from ambient to the limit.
    pub(crate) fn temperature(&self, current: Span, ambient: Span) -> Span {
        let limit = limit_temperature(self.insulation);
        let Some(capacity) = self.capacity else {
            return Span { lo: ambient.lo.min(limit), hi: limit };
        };
        let rise = Span::point(limit - Medium::of(self.method).reference());
        let each = if capacity.parallel == Span::point(1.0) { current } else { current / capacity.parallel };
        let load = (each / capacity.tabulated).square();
        let reached = Span::point(limit) - (capacity.factor.square() - load) * rise;
        Span { lo: reached.lo.min(limit), hi: reached.hi.min(limit) }
    }
}
