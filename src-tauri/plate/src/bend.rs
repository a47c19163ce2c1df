//! How far a cable may be bent, and the depth its bend takes behind the plate.

use survey::{Board, Cable, Construction, Entry, Known, Millimetres, Plate, Range};

use crate::gland::cable_diameters;
use crate::space::{Target, WiringSpace};
use crate::tables::Tables;

/// The least bend of a cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendRadius {
    /// Multiple of the diameter: the maker's, else that of `bend_radius.csv`.
    pub factor: f64,
    /// The diameter it is taken of.
    pub diameter: Range<Millimetres>,
    /// How that is known.
    pub known: Known,
    /// Least internal radius.
    pub radius: Range<Millimetres>,
}

impl BendRadius {
    /// Depth a right-angled bend takes behind the plate: one diameter straight at the gland (from
    /// memory), the radius, and half the cable.
    #[must_use]
    pub fn depth(&self) -> Range<Millimetres> {
        times(self.diameter, 1.5 + self.factor)
    }
}

fn times(range: Range<Millimetres>, by: f64) -> Range<Millimetres> {
    Range::new(Millimetres::new(range.lo().get() * by), Millimetres::new(range.hi().get() * by))
}

/// Factor for a cable of this build, conductor size in mm² and largest overall diameter in mm.
pub(crate) fn factor(armoured: bool, size_mm2: f64, diameter: f64, tables: &Tables) -> Option<f64> {
    let build = if armoured { "armoured" } else { "plain" };
    tables
        .bends
        .iter()
        .filter(|row| row.build == build && row.from_mm2 <= size_mm2 + 1e-9 && diameter <= row.largest_mm + 1e-9)
        .min_by(|a, b| b.from_mm2.total_cmp(&a.from_mm2).then(a.largest_mm.total_cmp(&b.largest_mm)))
        .map(|row| row.factor)
}

/// The least bend of a whole cable, from its measured diameter or the table's; `None` where neither
/// is known. The table's figures are guidance: the maker's own go before them.
#[must_use]
pub fn bend_radius(cable: &Cable, tables: &Tables) -> Option<BendRadius> {
    let (_, overall, known) = cable_diameters(cable, tables);
    radius(cable, overall?, known, tables)
}

fn radius(cable: &Cable, diameter: Range<Millimetres>, known: Known, tables: &Tables) -> Option<BendRadius> {
    let armoured = cable.construction.get() == Some(&Construction::Armoured);
    let size = cable.size.range().map_or(0.0, |range| range.hi().get());
    // The maker's own figure goes before the table's; of a range of it, the larger radius.
    let own = cable.bend_factor.range().map(|factor| factor.hi().get());
    let factor = own.or_else(|| factor(armoured, size, diameter.hi().get(), tables))?;
    Some(BendRadius { factor, diameter, known, radius: times(diameter, factor) })
}

/// The least bend of what goes on behind the plate: the armour ends in its gland, so an armoured
/// cable goes on with the diameter under it.
pub(crate) fn behind(cable: &Cable, entry: &Entry, tables: &Tables) -> Option<BendRadius> {
    let (under, overall, known) = cable_diameters(cable, tables);
    let glanded = entry.kind == Some(survey::EntryKind::ArmouredGland);
    let diameter = if glanded { under.or(overall) } else { overall };
    radius(cable, diameter?, known, tables)
}

/// Stretches of x where the parts behind leave too little depth for a bend of the entry's cables.
pub(crate) fn shallow(
    board: &Board,
    plate: &Plate,
    entry: &Entry,
    space: &WiringSpace,
    target: Option<Target>,
    tables: &Tables,
) -> Vec<(f64, f64)> {
    // A depth given for the plate holds wherever the entry stands.
    if !plate.wiring_depth.is_unknown() {
        return Vec::new();
    }
    let Some(bend) = crate::setting_out::live_cables(board, entry)
        .filter_map(|id| board.cables.get(&id))
        .filter_map(|cable| behind(cable, entry, tables))
        .max_by(|a, b| a.depth().lo().get().total_cmp(&b.depth().lo().get()))
    else {
        return Vec::new();
    };
    let (need, half) = (bend.depth().lo().get(), bend.diameter.lo().get() / 2.0);
    let mut barred = Vec::new();
    for part in space.behind.iter().filter(|part| part.depth < need - 1e-9) {
        let (from, to) = (part.from - half, part.to + half);
        match target {
            // Straight above its terminal it needs no bend.
            Some(target) if target.x > from && target.x < to => {
                barred.push((from, target.x - half));
                barred.push((target.x + half, to));
            }
            _ => barred.push((from, to)),
        }
    }
    barred.retain(|(from, to)| from < to);
    barred
}
