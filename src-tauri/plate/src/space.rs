//! The wiring space behind a plate: where its cables end, and how deep it is.
//!
//! A plate lies centred on its face (an assumption: patterns do not say). Places count from its left
//! rear corner seen from outside with the rear edge up, so along a bottom or back plate the numbers run
//! against those of the front view, along a left side plate upwards, along a right side plate down.

use std::collections::BTreeMap;

use survey::drawing::Drawing;
use survey::pattern::{Face, Numbering, Pattern, Rect};
use survey::{Board, CableId, PlateId, arrangement, drawing};

/// Where a cable ends, along its plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Place along the plate's width, mm from the left rear corner; it may lie beyond the plate's ends.
    pub x: f64,
    /// Order among cables that rise in one gutter: the one that goes further lies further out. A
    /// cable with a smaller lane lies at smaller x. Zero where there is no gutter.
    pub lane: f64,
}

impl Target {
    /// True where cables at places `a` (this one's) and `b` cross on their way.
    #[must_use]
    pub fn crosses(self, a: f64, other: Self, b: f64) -> bool {
        let order = if (self.x - other.x).abs() > 1.0 { self.x - other.x } else { self.lane - other.lane };
        order * (a - b) < -1e-9
    }
}

/// A part of the board behind a plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Behind {
    /// What it is: "incomer", "neutral-bar", "earth-bar" or "devices".
    pub what: &'static str,
    /// From here along the plate, mm.
    pub from: f64,
    /// To here.
    pub to: f64,
    /// Free depth between plate and part, mm.
    pub depth: f64,
}

/// The space behind a plate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WiringSpace {
    /// Where each cable ends.
    pub targets: BTreeMap<CableId, Target>,
    /// The parts behind, from the pattern's drawing; none for a plate in the back.
    pub behind: Vec<Behind>,
}

impl WiringSpace {
    /// The nearest part behind the stretch from `from` to `to`.
    #[must_use]
    pub fn nearest(&self, from: f64, to: f64) -> Option<&Behind> {
        self.behind.iter().filter(|part| part.from < to && part.to > from).min_by(|a, b| a.depth.total_cmp(&b.depth))
    }
}

/// From the front view to the plate: place along it, its direction, distance from it.
struct Along {
    face: Face,
    /// Half of the plate, half of the enclosure across and down.
    half: [f64; 3],
}

impl Along {
    fn new(face: Face, plate: f64, pattern: &Pattern) -> Self {
        Self { face, half: [plate / 2.0, pattern.width.get() / 2.0, pattern.height.get() / 2.0] }
    }

    /// Place along the plate of a point of the front view.
    fn at(&self, x: f64, y: f64) -> f64 {
        let [plate, across, down] = self.half;
        match self.face {
            Face::Top => plate + (x - across),
            Face::Bottom | Face::Back => plate - (x - across),
            Face::Left => plate - (y - down),
            Face::Right => plate + (y - down),
        }
    }

    fn depth(&self, rect: Rect) -> f64 {
        match self.face {
            Face::Top => rect.y,
            Face::Bottom => 2.0 * self.half[2] - rect.bottom(),
            Face::Left => rect.x,
            Face::Right => 2.0 * self.half[1] - rect.right(),
            Face::Back => 0.0,
        }
    }

    fn behind(&self, what: &'static str, rect: Rect) -> Behind {
        let (a, b) = (self.at(rect.x, rect.y), self.at(rect.right(), rect.bottom()));
        Behind { what, from: a.min(b), to: a.max(b), depth: self.depth(rect).max(0.0) }
    }
}

/// Works out the space behind a plate; empty where the enclosure or the plate's width is not known.
#[must_use]
pub fn wiring_space(board: &Board, plate: PlateId) -> WiringSpace {
    wiring_space_in(board, plate, drawing::draw(board, &arrangement::consequences(board)).as_ref())
}

/// The same of a board that is drawn already.
#[must_use]
pub fn wiring_space_in(board: &Board, plate: PlateId, drawing: Option<&Drawing>) -> WiringSpace {
    let Some((record, pattern)) = board.plates.get(&plate).zip(board.enclosure.get()) else {
        return WiringSpace::default();
    };
    let Ok((width, _)) = crate::setting_out::size(record, plate) else { return WiringSpace::default() };
    let Some(drawing) = drawing else { return WiringSpace::default() };
    let along = Along::new(record.face, width, pattern);
    let sideways = matches!(record.face, Face::Left | Face::Right);
    let middle = drawing.width / 2.0;
    let target = |rect: Rect| {
        let [x, y] = rect.centre();
        let depth = along.depth(Rect::new(x, y, 0.0, 0.0));
        if sideways || pattern.numbering == Numbering::Along {
            return Target { x: along.at(x, y), lane: 0.0 };
        }
        // Outgoing terminals of a column lie on its outer side, at the gutter.
        let (edge, out) = if x < middle { (rect.x, -1.0) } else { (rect.right(), 1.0) };
        let mirrored = if record.face == Face::Top { 1.0 } else { -1.0 };
        Target { x: along.at(edge, y), lane: out * mirrored * depth }
    };
    let mut ends: BTreeMap<CableId, Vec<Target>> = BTreeMap::new();
    if let Some(cable) = board.supply.cable {
        let [x, y] = drawing.incomer.centre();
        ends.entry(cable).or_default().push(Target { x: along.at(x, y), lane: 0.0 });
    }
    for cell in &drawing.cells {
        if let Some(cable) = cell.circuit.and_then(|id| board.circuits.get(&id)).and_then(|circuit| circuit.cable) {
            ends.entry(cable).or_default().push(target(cell.rect));
        }
    }
    let targets = ends.into_iter().filter_map(|(cable, ends)| mean(&ends).map(|target| (cable, target))).collect();
    let mut behind = Vec::new();
    if record.face != Face::Back {
        behind.push(along.behind("incomer", drawing.incomer));
        behind.push(along.behind("neutral-bar", drawing.neutral_bar));
        behind.push(along.behind("earth-bar", drawing.earth_bar));
        behind.extend(drawing.cells.iter().map(|cell| along.behind("devices", cell.rect)));
    }
    WiringSpace { targets, behind }
}

/// One target in place of several.
pub(crate) fn mean(ends: &[Target]) -> Option<Target> {
    let count = ends.len() as f64;
    let of = |part: fn(&Target) -> f64| ends.iter().map(part).sum::<f64>() / count;
    (!ends.is_empty()).then(|| Target { x: of(|end| end.x), lane: of(|end| end.lane) })
}
