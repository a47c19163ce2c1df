//! The plate as the solver sees it, and a setting-out in the making.

use survey::pattern::{Point, Rect};
use survey::{Board, EntryId, EntryKind, Message, PlateId, say};

use super::score::{Score, Weights};
use super::{EarthTags, NotReady, Spare, Wishes};
use crate::bend;
use crate::hole::{Hole, Opening, hole_for, hole_of};
use crate::place;
use crate::setting_out::{self, Unplaced};
use crate::shape::{BODY_GAP, EAR_GAP, LEAST_SECTION, Shape, TINY, least_metal};
use crate::space::{self, Target, wiring_space};
use crate::tables::Tables;

/// Directions an earth tag may point, as it is looked for.
pub(crate) const STANCES: [Point; 4] = [[0.0, 1.0], [0.0, -1.0], [1.0, 0.0], [-1.0, 0.0]];

/// The ear of a tag: its end from the centre of the entry, and the radius kept clear around it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ear {
    pub reach: f64,
    pub radius: f64,
}

impl Ear {
    pub fn of(hole: &Hole, metal: f64) -> Option<Self> {
        // The clear circle also leaves the least metal around the bolt's hole.
        hole.tag.map(|tag| Self {
            reach: tag.bolt_at,
            radius: (tag.width / 2.0).max(tag.bolt_hole / 2.0 + metal - EAR_GAP),
        })
    }

    pub fn shape(self, at: Point, stance: usize) -> Shape {
        let [dx, dy] = STANCES[stance % STANCES.len()];
        Shape::circle([at[0] + dx * self.reach, at[1] + dy * self.reach], 2.0 * self.radius)
    }
}

/// An entry, or a spare to keep room for.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    /// None for a spare.
    pub id: Option<EntryId>,
    pub label: Message,
    pub body: Shape,
    pub opening: Shape,
    pub ear: Option<Ear>,
    pub target: Option<Target>,
    /// Hole size, in hundredths of a millimetre.
    pub size: (i64, i64),
    /// The gap its spanner asks for around its body.
    pub gap: f64,
    /// Where it stays.
    pub fixed: Option<Point>,
    /// Existing: whatever it breaks, it is there.
    pub existing: bool,
    /// Where its centre may lie.
    pub room: Rect,
    /// Stretches of x where the space behind is too shallow for it.
    pub shallow: Vec<(f64, f64)>,
}

pub(crate) struct Problem {
    pub items: Vec<Item>,
    pub keep_outs: Vec<Shape>,
    /// Where ears may lie.
    pub ear_room: Rect,
    /// Pairs joined by a slot, and half its width with the least metal beside it.
    pub slots: Vec<(usize, usize, f64)>,
    pub grid: f64,
    pub metal: f64,
    pub outline: Rect,
    pub weights: Weights,
    /// The openings could take more than [`LEAST_SECTION`] leaves, so it must be looked at.
    pub weak: bool,
}

/// What a look at a place costs beside the comparisons, in comparisons.
const OWN_EFFORT: u64 = 8;

/// The nearest place the grid offers.
fn whole(value: f64, grid: f64) -> f64 {
    (value / grid).round() * grid
}

impl Problem {
    pub fn build(
        board: &Board,
        id: PlateId,
        tables: &Tables,
        wishes: &Wishes,
        spares: &[Spare],
    ) -> Result<(Self, Vec<Unplaced>), NotReady> {
        let set = setting_out::setting_out(board, id, tables)?;
        let plate = board.plates.get(&id).ok_or(NotReady::NoPlate(id))?;
        let space = wiring_space(board, id);
        let labels = setting_out::entry_labels(plate);
        let metal = least_metal(set.thickness);
        let mut items = Vec::new();
        let mut left_out = Vec::new();
        let mut of = |item_id: Option<EntryId>, label: Message, hole: &Hole, shallow: Vec<(f64, f64)>| {
            let body = hole.body([0.0, 0.0]);
            let opening = hole.opening.shape([0.0, 0.0]);
            let gap = wishes.spanner.gap(hole);
            let room = place::room(&set, opening, body.grown((gap - BODY_GAP).max(0.0)));
            let hundredths = |value: f64| (value * 100.0).round() as i64;
            items.push(Item {
                id: item_id,
                label,
                body,
                opening,
                ear: match wishes.earth_tags {
                    EarthTags::Locknut => None,
                    EarthTags::Room | EarthTags::IfRoom => Ear::of(hole, metal),
                },
                target: None,
                size: match hole.opening {
                    Opening::Round { diameter } => (hundredths(diameter), 0),
                    Opening::Slot { width, height } => (hundredths(width), hundredths(height)),
                },
                gap,
                fixed: None,
                existing: false,
                room,
                shallow,
            });
            items.len() - 1
        };
        let mut index_of = std::collections::BTreeMap::new();
        let mut later = Vec::new();
        for (entry_id, entry) in plate.entries.iter().filter(|(_, entry)| !entry.removed) {
            let label = labels.get(entry_id).cloned().unwrap_or_default();
            let hole = match hole_of(entry, tables) {
                Ok(hole) => hole,
                Err(why) => {
                    left_out.push(Unplaced { id: *entry_id, label, why });
                    continue;
                }
            };
            let at = entry.at.filter(|at| at.iter().all(|number| number.is_finite() && number.abs() <= 5000.0));
            let stays = entry.existing || entry.locked || wishes.keep_placed;
            if (entry.existing || entry.locked) && at.is_none() {
                let why = say!("plate-lacks-fixed-place");
                left_out.push(Unplaced { id: *entry_id, label, why });
                continue;
            }
            let ends: Vec<Target> =
                setting_out::live_cables(board, entry).filter_map(|cable| space.targets.get(&cable).copied()).collect();
            let target = if entry.kind == Some(EntryKind::Blanked) { None } else { space::mean(&ends) };
            let shallow = if stays && at.is_some() {
                Vec::new()
            } else {
                bend::shallow(board, plate, entry, &space, target.filter(|_| ends.len() == 1), tables)
            };
            let index = of(Some(*entry_id), label.into(), &hole, shallow);
            index_of.insert(*entry_id, index);
            later.push((index, target, if stays { at } else { None }, entry.existing));
        }
        for spare in spares {
            let label = say!("plate-solve-spare-label", kind = spare.kind.words(), size = spare.size.clone());
            if let Some(hole) = hole_for(spare.kind, &spare.size, tables) {
                of(None, label, &hole, Vec::new());
            }
        }
        for (index, target, fixed, existing) in later {
            let item = &mut items[index];
            item.target = target;
            item.fixed = fixed;
            item.existing = existing;
            if existing {
                // Which way an old tag points is not known, and its bolt is there or not.
                item.ear = None;
            }
        }
        let slots = plate
            .slots
            .values()
            .filter(|slot| !slot.removed)
            .filter_map(|slot| {
                let from = *index_of.get(&slot.from?)?;
                let to = *index_of.get(&slot.to?)?;
                let width = slot.width.range().map_or(0.0, |range| range.hi().get()).clamp(0.0, 100.0);
                (from != to).then_some((from, to, width / 2.0 + metal))
            })
            .collect();
        let widest = |axis: usize| -> f64 {
            items.iter().map(|item| 2.0 * (item.opening.half[axis] + item.opening.radius)).sum()
        };
        let weak =
            widest(0) > (1.0 - LEAST_SECTION) * set.outline.w || widest(1) > (1.0 - LEAST_SECTION) * set.outline.h;
        let problem = Self {
            ear_room: set.usable.unwrap_or(set.outline),
            keep_outs: set.keep_outs.iter().map(|rect| Shape::of(*rect)).collect(),
            slots,
            grid: wishes.grid(),
            metal,
            outline: set.outline,
            weights: wishes.weights,
            weak,
            items,
        };
        Ok((problem, left_out))
    }

    /// The gap two bodies need: the wider of what their spanners ask for.
    pub fn gap(&self, a: usize, b: usize) -> f64 {
        self.items[a].gap.max(self.items[b].gap)
    }

    /// The same plate with more room to the right and to the front.
    pub fn grow(&mut self, width: f64, depth: f64) {
        for item in &mut self.items {
            item.room.w += width;
            item.room.h += depth;
        }
        for rect in [&mut self.ear_room, &mut self.outline] {
            rect.w += width;
            rect.h += depth;
        }
    }

    /// The least place of an axis on the grid, not under `value`.
    pub fn up(&self, value: f64) -> f64 {
        let near = whole(value, self.grid);
        if near >= value - TINY { near } else { near + self.grid }
    }

    /// The largest place on the grid, not over `value`.
    pub fn down(&self, value: f64) -> f64 {
        let near = whole(value, self.grid);
        if near <= value + TINY { near } else { near - self.grid }
    }

    /// True where nothing but other entries bars this place.
    pub fn alone(&self, index: usize, at: Point) -> bool {
        let item = &self.items[index];
        let body = Shape { centre: at, ..item.body };
        let opening = Shape { centre: at, ..item.opening };
        Shape::circle(at, 0.0).inside(item.room) >= -TINY
            && item.shallow.iter().all(|(from, to)| at[0] <= from + TINY || at[0] >= to - TINY)
            && self
                .keep_outs
                .iter()
                .all(|rect| body.gap(*rect) >= (item.gap - BODY_GAP).max(0.0) - TINY && opening.gap(*rect) >= -TINY)
    }

    fn ear_alone(&self, ear: Shape) -> bool {
        ear.inside(self.ear_room) >= -TINY && self.keep_outs.iter().all(|rect| ear.gap(*rect) >= -TINY)
    }
}

/// Where an item stands: centre and the direction of its tag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spot {
    pub at: Point,
    pub stance: usize,
}

/// A setting-out in the making.
#[derive(Clone)]
pub(crate) struct State {
    pub spots: Vec<Option<Spot>>,
    /// Comparisons of a place with another entry, the measure of effort.
    pub spent: u64,
}

impl State {
    pub fn new(problem: &Problem) -> Self {
        Self { spots: vec![None; problem.items.len()], spent: 0 }
    }

    pub fn put(&mut self, index: usize, at: Point, stance: usize) {
        self.spots[index] = Some(Spot { at, stance });
    }

    /// The stance in which the item may stand there, its own stances looked at from `first` on.
    pub fn fits(&mut self, problem: &Problem, index: usize, at: Point, first: usize) -> Option<usize> {
        if !problem.alone(index, at) {
            return None;
        }
        let item = &problem.items[index];
        let body = Shape { centre: at, ..item.body };
        let opening = Shape { centre: at, ..item.opening };
        self.spent += self.spots.len() as u64 + OWN_EFFORT;
        for (other, spot) in self.spots.iter().enumerate() {
            let Some(spot) = spot.filter(|_| other != index) else { continue };
            let there = &problem.items[other];
            let stands = Shape { centre: spot.at, ..there.body };
            if body.gap(stands) < problem.gap(index, other) - TINY {
                return None;
            }
            if opening.gap(Shape { centre: spot.at, ..there.opening }) < problem.metal - TINY {
                return None;
            }
            if let Some(ear) = there.ear
                && body.gap(ear.shape(spot.at, spot.stance)) < EAR_GAP - TINY
            {
                return None;
            }
        }
        if !problem.slots.is_empty() && !self.slots_clear(problem, index, at) {
            return None;
        }
        if problem.weak && !self.strong(problem, index, at) {
            return None;
        }
        let Some(ear) = item.ear else { return Some(0) };
        (0..STANCES.len()).map(|turn| (first + turn) % STANCES.len()).find(|stance| {
            let ear = ear.shape(at, *stance);
            problem.ear_alone(ear)
                && self.spots.iter().enumerate().all(|(other, spot)| {
                    let Some(spot) = spot.filter(|_| other != index) else { return true };
                    let there = &problem.items[other];
                    ear.gap(Shape { centre: spot.at, ..there.body }) >= EAR_GAP - TINY
                        && there.ear.is_none_or(|other| ear.gap(other.shape(spot.at, spot.stance)) >= EAR_GAP - TINY)
                })
        })
    }

    /// No third hole lies in the way of a slot.
    fn slots_clear(&self, problem: &Problem, index: usize, at: Point) -> bool {
        let place = |which: usize| if which == index { Some(at) } else { self.spots[which].map(|spot| spot.at) };
        problem.slots.iter().all(|&(from, to, beside)| {
            let Some((a, b)) = place(from).zip(place(to)) else { return true };
            (0..problem.items.len()).filter(|&third| third != from && third != to).all(|third| {
                // Only what the new place changes.
                if index != third && index != from && index != to {
                    return true;
                }
                place(third).is_none_or(|centre| {
                    let opening = Shape { centre, ..problem.items[third].opening };
                    opening.to_segment(a, b) >= beside - TINY
                })
            })
        })
    }

    /// Enough metal is left across the plate along every line through the middle of an opening.
    fn strong(&self, problem: &Problem, index: usize, at: Point) -> bool {
        let opening = |which: usize| {
            let centre = if which == index { at } else { self.spots[which]?.at };
            Some(Shape { centre, ..problem.items[which].opening })
        };
        let all: Vec<Shape> = (0..problem.items.len()).filter_map(opening).collect();
        crate::shape::weakest(&all, problem.outline).is_none_or(|(share, _)| share >= LEAST_SECTION - TINY)
    }

    /// What the item adds to the sum at this place, against all that stand.
    pub fn cost(&mut self, problem: &Problem, index: usize, at: Point) -> f64 {
        let item = &problem.items[index];
        let weights = &problem.weights;
        self.spent += self.spots.len() as u64 + OWN_EFFORT;
        if item.id.is_none() {
            return 0.0;
        }
        let mut cost = item.target.map_or(0.0, |target| weights.length * (at[0] - target.x).abs());
        let (mut row, mut column, mut size, mut crossings) = (false, false, false, 0_u32);
        for (other, spot) in self.spots.iter().enumerate() {
            let Some(spot) = spot.filter(|_| other != index) else { continue };
            let there = &problem.items[other];
            if there.id.is_none() {
                continue;
            }
            if (spot.at[1] - at[1]).abs() < TINY {
                row = true;
                size |= there.size == item.size;
            }
            column |= (spot.at[0] - at[0]).abs() < TINY;
            if let Some((mine, other)) = item.target.zip(there.target)
                && mine.crosses(at[0], other, spot.at[0])
            {
                crossings += 1;
            }
        }
        cost += weights.crossing * f64::from(crossings);
        cost += if row { 0.0 } else { weights.row };
        cost += if size { 0.0 } else { weights.size };
        cost += if column { 0.0 } else { weights.column };
        for &(from, to, _) in &problem.slots {
            let other = if from == index {
                to
            } else if to == index {
                from
            } else {
                continue;
            };
            if let Some(spot) = self.spots[other] {
                cost += weights.slot * libm::hypot(spot.at[0] - at[0], spot.at[1] - at[1]);
            }
        }
        cost
    }

    pub fn score(&self, problem: &Problem) -> Score {
        let mut score = Score::default();
        let placed: Vec<(usize, Point)> = self
            .spots
            .iter()
            .enumerate()
            .filter(|(index, _)| problem.items[*index].id.is_some())
            .filter_map(|(index, spot)| spot.map(|spot| (index, spot.at)))
            .collect();
        for (nth, &(index, at)) in placed.iter().enumerate() {
            let item = &problem.items[index];
            let before = &placed[..nth];
            let same_row = |other: &&(usize, Point)| (other.1[1] - at[1]).abs() < TINY;
            score.length += item.target.map_or(0.0, |target| (at[0] - target.x).abs());
            score.rows += u32::from(!before.iter().any(|other| same_row(&other)));
            score.columns += u32::from(!before.iter().any(|other| (other.1[0] - at[0]).abs() < TINY));
            score.sizes +=
                u32::from(!before.iter().filter(same_row).any(|other| problem.items[other.0].size == item.size));
            score.crossings += before
                .iter()
                .filter(|other| {
                    item.target
                        .zip(problem.items[other.0].target)
                        .is_some_and(|(mine, theirs)| mine.crosses(at[0], theirs, other.1[0]))
                })
                .count() as u32;
        }
        for &(from, to, _) in &problem.slots {
            if let (Some(a), Some(b)) = (self.spots[from], self.spots[to]) {
                score.slots += libm::hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]);
            }
        }
        score.total = score.weighed(&problem.weights);
        score
    }

    /// Items without a place.
    pub fn lacking(&self) -> impl Iterator<Item = usize> + '_ {
        self.spots.iter().enumerate().filter(|(_, spot)| spot.is_none()).map(|(index, _)| index)
    }
}
