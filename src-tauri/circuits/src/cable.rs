//! What a cable carries as it lies, Iz, and how warm its conductors get.

use std::cell::OnceCell;
use std::rc::Rc;

use smallvec::SmallVec;
use survey::range::Span;
use survey::{Amps, Insulation, Layout, Material, Method, Range, SquareMillimetres, YesNo, say};

use crate::case::{Case, Gap, hull, of_sizes_made};
use crate::demand;
use crate::field::{AMBIENT, DEPTH, Field, GROUPED, GROUPED_LIGHT, IN_INSULATION, SIZE, SOIL};
use crate::harmonic;
use crate::tables::{Medium, Steps, Tables};
use crate::verdict::Outcome;

/// Conductor temperature that an insulation allows in service, °C: IEC 60364-5-52 table 52.1.
pub(crate) const fn limit_temperature(insulation: Insulation) -> f64 {
    match insulation {
        Insulation::Pvc70 => 70.0,
        Insulation::Xlpe90 => 90.0,
    }
}

/// One way the cable may be, and what follows.
#[derive(PartialEq)]
pub(crate) struct Laid {
    pub(crate) material: Material,
    pub(crate) insulation: Insulation,
    pub(crate) method: Method,
    /// Iz and its parts; `None` where the tables have no such cable.
    pub(crate) capacity: Option<Capacity>,
}

/// The ways a cable may be: mostly one.
pub(crate) type Ways = SmallVec<[Laid; 1]>;

/// Capacity of a cable with its factors.
#[derive(Clone, Copy, PartialEq)]
pub(crate) struct Capacity {
    /// Tabulated, It.
    pub(crate) tabulated: Span,
    /// Factor for the temperature around the cable, Ca.
    pub(crate) ambient: Span,
    /// Factor for circuits beside it, Cg.
    pub(crate) grouping: Span,
    /// Factor for what its own heat meets: ground, thermal insulation, a neutral loaded by harmonics.
    pub(crate) passage: Span,
    /// Cables side by side.
    pub(crate) parallel: Span,
}

/// A product that stays exact where the factor is one.
pub(crate) fn times(value: Span, factor: Span) -> Span {
    if factor == Span::point(1.0) { value } else { value * factor }
}

impl Capacity {
    /// Iz = n·It·Ca·Cg·…, IEC 60364-5-52 clauses 523 and 523.7: cables in parallel are alike and
    /// share the current evenly.
    pub(crate) fn carried(self) -> Span {
        let around = times(self.grouping, self.passage);
        let carried = times(times(self.tabulated, times(self.ambient, around)), self.parallel);
        Span { lo: carried.lo.max(0.0), hi: carried.hi }
    }
}

/// Every way the cable may be, as far as its material, insulation and method are known.
pub(crate) fn ways(case: &Case) -> Result<Rc<Ways>, Gap> {
    case.once(|kept| &kept.ways, |case| Ok(ways_of(case, case.get(SIZE)?, harmonic::factor(case)?)?.into()))
}

/// The same for a conductor of another size in the cable, with a factor for its harmonics.
pub(crate) fn ways_of(case: &Case, size: Range<SquareMillimetres>, harmonics: Span) -> Result<Ways, Gap> {
    ways_with(case, size, harmonics, case.insulations()?)
}

/// What the circuit draws against what the cable may carry where it meets the device: all of Iz where the
/// terminals are stated for conductors at 90 °C, else the capacity at 70 °C.
pub(crate) fn at_terminals(case: &Case) -> Result<Outcome, Gap> {
    let value = demand::draw_or_rating(case)?.current.numbers();
    let mut limit = None;
    for stated in case.terminals_90() {
        let here = match stated {
            YesNo::Yes => carried(case)?,
            YesNo::No => carried_at_70(case)?,
        };
        limit = hull(limit, here.numbers());
    }
    Ok(Outcome { value, limit: limit.ok_or(Gap::Missing(Field::Terminals))? })
}

/// What the cable carries with its conductors no warmer than 70 °C, whatever its insulation allows: the
/// capacity of the same conductors under thermoplastic insulation.
pub(crate) fn carried_at_70(case: &Case) -> Result<Range<Amps>, Gap> {
    case.once(
        |kept| &kept.at_70,
        |case| most(&ways_with(case, case.get(SIZE)?, harmonic::factor(case)?, &[Insulation::Pvc70])?),
    )
}

fn ways_with(
    case: &Case,
    size: Range<SquareMillimetres>,
    harmonics: Span,
    insulations: &[Insulation],
) -> Result<Ways, Gap> {
    let feed = case.feed()?;
    // No table counts three lines on one phase with the neutral that carries their sum: as two loaded conductors or
    // as three.
    let counted: &[u8] = if case.linked() { &[2, 3] } else { &[feed.loaded()] };
    let ambient = case.get(AMBIENT)?.numbers();
    let parallel = case.parallel()?;
    let grouped = case.get(GROUPED)?.numbers();
    // Those that carry no more than 30 % of what they may carry in the group heat nobody: IEC 60364-5-52, 523.5.
    let light = case.given(GROUPED_LIGHT)?.map_or(Span::point(0.0), Range::numbers);
    let grouped = Span { lo: (grouped.lo - light.hi).max(1.0), hi: (grouped.hi - light.lo).max(1.0) };
    // Cables in parallel heat each other like circuits that lie together. Counts add up exactly.
    let grouped = Span { lo: grouped.lo + parallel.lo - 1.0, hi: grouped.hi + parallel.hi - 1.0 };
    let (materials, methods) = (case.materials()?, case.methods()?);
    // The temperature's factor does not depend on the material, and on the method only by the medium.
    let factor = |medium| {
        let mut factors = [None; Insulation::ALL.len()];
        for insulation in insulations {
            factors[*insulation as usize] = case.tables.ambient_factor(medium, *insulation, ambient);
        }
        factors
    };
    let formed = |method| if method == Method::F { case.formation() } else { None };
    let (in_air, in_ground) = (OnceCell::new(), OnceCell::new());
    let mut arounds = [None; Method::ALL.len()];
    let mut columns = SmallVec::<[_; 8]>::new();
    for &method in methods {
        arounds[method as usize] = surroundings(case, method, grouped)?;
        for &material in materials {
            columns.extend(insulations.iter().map(|insulation| (material, *insulation, method)));
        }
    }
    let capacity = |(material, insulation, method): (Material, Insulation, Method), part: bool| {
        let look = |steps: &Steps| if part { steps.around_part(size.numbers()) } else { steps.around(size.numbers()) };
        let tabulated = tabulate(counted, |loaded| {
            case.tables.capacity_formed((material, insulation, loaded, method, formed(method)), look)
        })?;
        let around = arounds[method as usize]?;
        let ambients = match Medium::of(method) {
            Medium::Air => in_air.get_or_init(|| factor(Medium::Air)),
            Medium::Ground => in_ground.get_or_init(|| factor(Medium::Ground)),
        };
        let ambient = ambients[insulation as usize]?;
        let (grouping, passage) = (around.grouping, times(around.passage, harmonics));
        Some(Capacity { tabulated, ambient, grouping, passage, parallel })
    };
    let laid = |((material, insulation, method), capacity)| Laid { material, insulation, method, capacity };
    Ok(of_sizes_made(&columns, capacity).into_iter().map(laid).collect())
}

/// What the tables give for each number of loaded conductors that may count; `None` where they have none for one.
fn tabulate(counted: &[u8], look: impl Fn(u8) -> Option<Range<Amps>>) -> Option<Span> {
    let mut found = None;
    for &loaded in counted {
        found = hull(found, look(loaded)?.numbers());
    }
    found
}

/// What takes from a cable's capacity beside the temperature around it.
#[derive(Clone, Copy)]
struct Around {
    grouping: Span,
    passage: Span,
}

/// Factors for all but the temperature around a cable; `None` where the tables have none.
fn surroundings(case: &Case, method: Method, grouped: Span) -> Result<Option<Around>, Gap> {
    let one = Span::point(1.0);
    let mut grouping = None;
    // One circuit alone is not grouped, however it lies.
    // Circuits that share a cable lie bunched in it, however the cable lies.
    let shared = f64::from(case.in_cable);
    let grouped = Span { lo: grouped.lo.max(shared), hi: grouped.hi.max(shared) };
    let lies = if grouped == one { Tables::lies(method).get(..1).unwrap_or_default() } else { case.lies(method) };
    let mixed = grouped != one && case.mixed();
    for &lie in lies {
        if let Some(factor) = case.tables.grouping_factor(method, lie, mixed, grouped) {
            grouping = hull(grouping, factor);
        }
    }
    if case.in_cable > 1
        && let Some(factor) = case.tables.grouping_factor(method, Layout::Bunched, mixed, grouped)
    {
        grouping = hull(grouping, factor);
    }
    let Some(grouping) = grouping else { return Ok(None) };
    let mut passage = one;
    if Medium::of(method) == Medium::Ground {
        // Unknown ground counts as 2.5 K·m/W and 0.7 m, what the tables are for: B.52.3.
        if let Some(soil) = case.given_or_usual(SOIL)? {
            let found = case.tables.laid.soil(method, soil.numbers());
            passage = times(passage, found.ok_or_else(|| Gap::Unfit(Field::Soil, say!("gap-no-soil")))?);
        }
        if let Some(depth) = case.given_or_usual(DEPTH)? {
            let found = case.tables.laid.depth(method, depth.numbers());
            passage = times(passage, found.ok_or_else(|| Gap::Unfit(Field::Depth, say!("gap-no-depth")))?);
        }
    } else if let Some(length) = case.given_or_usual(IN_INSULATION)? {
        passage = times(passage, case.tables.laid.insulation(length.numbers()));
    }
    Ok(Some(Around { grouping, passage }))
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
        .ok_or_else(|| Gap::Unfit(Field::Size, say!("gap-no-capacity")))
}

impl Laid {
    /// Conductor temperature in °C at a current: what is around it, warmed by its neighbours, plus
    /// its own heat, (θmax − θref)·(Ib/(It·C))². C is the factor for what its own heat meets: good
    /// ground lets the heat off and warms nothing, so it never cools what is around the cable.
    ///
    /// How far the neighbours are loaded is not surveyed, so both ends are in the range. Idle, they leave
    /// the surroundings as they are: IEC 60287-1-1, 1.4.1 (from memory), the own rise in proportion to the
    /// thermal resistance it passes. All carrying what they may, they leave θ = θmax − (Ca²·Cg² −
    /// (Ib/It)²)·(θmax − θref): BS 7671 appendix 4, 6.1 (from memory; it follows from a temperature rise as
    /// the square of the current).
    ///
    /// Never below what surrounds it, and never above the limit: a cable that gets hotter fails
    /// another check. Without a tabulated capacity, anything from ambient to the limit.
    pub(crate) fn temperature(&self, current: Span, ambient: Span) -> Span {
        let limit = limit_temperature(self.insulation);
        let Some(capacity) = self.capacity else {
            return Span { lo: ambient.lo.min(limit), hi: limit };
        };
        let rise = Span::point(limit - Medium::of(self.method).reference());
        let each = if capacity.parallel == Span::point(1.0) { current } else { current / capacity.parallel };
        let own = (each / times(capacity.tabulated, capacity.passage)).square();
        // Not by way of Ca: the tables round it, and hold its first row for all that is colder.
        let idle = ambient + own * rise;
        let loaded = if capacity.grouping == Span::point(1.0) {
            idle
        } else {
            Span::point(limit) - (times(capacity.ambient, capacity.grouping).square() - own) * rise
        };
        Span { lo: idle.lo.min(limit), hi: loaded.hi.max(idle.hi).min(limit) }
    }
}
