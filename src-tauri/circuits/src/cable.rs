//! What a cable carries as it lies, Iz, and how warm its conductors get.

use survey::range::Span;
use survey::{Amps, Insulation, Material, Method, Range};

use crate::case::{Case, Gap, hull};
use crate::field::{AMBIENT, Field, GROUPED, SIZE};
use crate::tables::Medium;

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
    /// It·Ca·Cg and its parts; `None` where the tables have no such cable.
    pub(crate) capacity: Option<Capacity>,
}

/// Capacity of a cable with its factors.
#[derive(Clone, Copy)]
pub(crate) struct Capacity {
    /// Tabulated, It.
    pub(crate) tabulated: Span,
    /// For the temperature around it, Ca.
    pub(crate) ambient: Span,
    /// For grouping, Cg.
    pub(crate) grouping: Span,
}

impl Capacity {
    /// Iz = It·Ca·Cg, IEC 60364-5-52 clause 523.
    pub(crate) fn carried(self) -> Span {
        let mut carried = self.tabulated;
        for factor in [self.ambient, self.grouping] {
            if factor != Span::point(1.0) {
                carried = carried * factor;
            }
        }
        Span { lo: carried.lo.max(0.0), hi: carried.hi }
    }
}

/// Every way the cable may be, as far as its material, insulation and method are known.
pub(crate) fn ways(case: &Case) -> Result<Vec<Laid>, Gap> {
    let loaded = case.feed()?.loaded();
    let size = case.get(SIZE)?;
    let ambient = case.get(AMBIENT)?.numbers();
    let grouped = case.get(GROUPED)?.numbers();
    let (materials, insulations, methods) = (case.materials()?, case.insulations()?, case.methods()?);
    let mut found = Vec::with_capacity(materials.len() * insulations.len() * methods.len());
    for &material in materials {
        for &insulation in insulations {
            for &method in methods {
                let medium = Medium::of(method);
                let capacity = case.tables.capacity(material, insulation, loaded, method, size).and_then(|tabulated| {
                    Some(Capacity {
                        tabulated: tabulated.numbers(),
                        ambient: case.tables.ambient_factor(medium, insulation, ambient)?,
                        grouping: case.tables.grouping_factor(method, grouped)?,
                    })
                });
                found.push(Laid { material, insulation, method, capacity });
            }
        }
    }
    Ok(found)
}

/// What the cable carries as it lies, Iz.
pub(crate) fn carried(case: &Case) -> Result<Range<Amps>, Gap> {
    ways(case)?
        .iter()
        .filter_map(|way| way.capacity)
        .fold(None, |found, capacity| hull(found, capacity.carried()))
        .map(Span::of)
        .ok_or_else(|| Gap::Unfit(Field::Size, "the capacity tables have no such cable".into()))
}

impl Laid {
    /// Conductor temperature in °C at a current: θ = θmax − (Ca²·Cg² − (Ib/It)²)·(θmax − θref),
    /// BS 7671 appendix 4, 6.1 (from memory; it follows from a temperature rise as the square of
    /// the current). Never above the limit: a cable that gets hotter fails another check. Without
    /// a tabulated capacity, anything from ambient to the limit.
    pub(crate) fn temperature(&self, current: Span, ambient: Span) -> Span {
        let limit = limit_temperature(self.insulation);
        let Some(capacity) = self.capacity else {
            return Span { lo: ambient.lo.min(limit), hi: limit };
        };
        let rise = Span::point(limit - Medium::of(self.method).reference());
        let load = (current / capacity.tabulated).square();
        let reached = Span::point(limit) - ((capacity.ambient * capacity.grouping).square() - load) * rise;
        Span { lo: reached.lo.min(limit), hi: reached.hi.min(limit) }
    }
}
