//! Dragging an entry by hand: the nearest place that breaks no rule, and why another does.

use std::fmt;

use survey::pattern::Point;
use survey::{Board, EntryId, Message, PlateId, say};

use crate::hole::Hole;
use crate::place::room;
use crate::setting_out::{NotReady, SetEntry, SettingOut, setting_out};
use crate::shape::{BODY_GAP, Shape, TINY, least_metal};
use crate::tables::Tables;
use crate::words::{exact, tenth, whole};

/// How near a row or column draws a dragged entry to itself, mm.
pub const SNAP: f64 = 4.0;

/// What a dragged entry was drawn into line with.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapped {
    /// True for a row (one distance from the rear edge), false for a column.
    pub row: bool,
    /// The distance, mm.
    pub at: f64,
    /// Label of the nearest entry in that line.
    pub with: String,
}

/// Where a dragged entry may go.
#[derive(Clone, Debug, PartialEq)]
pub struct Dragged {
    /// The place that was asked for.
    pub asked: Point,
    /// The nearest place on whole millimetres that breaks no rule; `None` where the plate has none,
    /// or the entry stays where it is.
    pub at: Option<Point>,
    /// The row and column it was drawn into.
    pub snapped: Vec<Snapped>,
    /// Why it cannot go where it was asked to, each reason a sentence; empty where it can.
    pub why: Vec<Message>,
}

/// Why an entry cannot be dragged at all.
#[derive(Clone, Debug, PartialEq)]
pub enum DragError {
    /// The plate itself is not ready.
    NotReady(NotReady),
    /// No such entry, or it is removed.
    NoEntry(PlateId, EntryId),
    /// Its hole is not known, so its room is not either.
    NoHole {
        /// The plate.
        plate: PlateId,
        /// The entry.
        entry: EntryId,
        /// What is missing and what would do.
        why: Message,
    },
    /// The place is no number of millimetres.
    NoPlace(Point),
}

impl DragError {
    /// Path of what is wanting.
    #[must_use]
    pub fn place(&self) -> String {
        match self {
            Self::NotReady(error) => error.place(),
            Self::NoEntry(plate, entry) | Self::NoHole { plate, entry, .. } => {
                format!("/plates/{plate}/entries/{entry}")
            }
            Self::NoPlace(_) => "/".to_owned(),
        }
    }

    /// What is wanting and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        match self {
            Self::NotReady(error) => error.message(),
            Self::NoEntry(..) => say!("plate-entry-not-there"),
            Self::NoHole { why, .. } => why.clone(),
            Self::NoPlace([x, y]) => say!("plate-place-impossible", place = format!("{x}, {y}")),
        }
    }
}

impl fmt::Display for DragError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}", self.place(), self.message())
    }
}
impl std::error::Error for DragError {}
impl From<NotReady> for DragError {
    fn from(error: NotReady) -> Self {
        Self::NotReady(error)
    }
}

struct Field<'a> {
    set: &'a SettingOut,
    hole: Hole,
    others: Vec<&'a SetEntry>,
    metal: f64,
}

impl Field<'_> {
    /// Every reason against this place.
    fn reasons(&self, at: Point) -> Vec<Message> {
        let mut list = Vec::new();
        let body = self.hole.body(at);
        let opening = self.hole.opening.shape(at);
        let room = room(self.set, self.hole.opening.shape([0.0, 0.0]), self.hole.body([0.0, 0.0]));
        if Shape::circle(at, 0.0).inside(room) < -TINY {
            list.push(say!("plate-drag-outside"));
        }
        for rect in &self.set.keep_outs {
            if body.gap(Shape::of(*rect)) < -TINY {
                list.push(say!("plate-drag-keep-out", x = whole(rect.x), y = whole(rect.y)));
            }
        }
        for other in &self.others {
            let gap = body.gap(other.hole.body(other.centre));
            if gap < BODY_GAP - TINY {
                let entry = other.label.clone();
                list.push(if gap < 0.0 {
                    say!("plate-drag-foul", entry = entry)
                } else {
                    say!("plate-drag-near", gap = tenth(gap), entry = entry, least = exact(BODY_GAP))
                });
            } else if opening.gap(other.hole.opening.shape(other.centre)) < self.metal - TINY {
                list.push(say!("plate-drag-metal", least = exact(self.metal), entry = other.label.clone()));
            }
        }
        list
    }

    fn free(&self, at: Point) -> bool {
        self.reasons(at).is_empty()
    }

    /// The free place on whole millimetres nearest to `to`.
    fn nearest(&self, to: Point) -> Option<Point> {
        let body = self.hole.body([0.0, 0.0]);
        let opening = self.hole.opening.shape([0.0, 0.0]);
        let room = room(self.set, opening, body);
        let (left, right) = ((room.x - TINY).ceil(), (room.right() + TINY).floor());
        let (top, bottom) = ((room.y - TINY).ceil(), (room.bottom() + TINY).floor());
        if left > right || top > bottom {
            return None;
        }
        let mut best: Option<(f64, Point)> = None;
        let start = to[1].round().clamp(top, bottom);
        let mut off = 0.0;
        // Rows further and further away, until the row alone is further than the best.
        while start - off >= top || start + off <= bottom {
            let out = [start - off, start + off];
            for y in out.into_iter().take(if off > 0.0 { 2 } else { 1 }).filter(|y| *y >= top && *y <= bottom) {
                if best.is_some_and(|(least, _)| (y - to[1]).abs() >= least) {
                    continue;
                }
                let mut barred: Vec<(f64, f64)> = Vec::new();
                for other in &self.others {
                    barred.extend(body.barred(other.hole.body(other.centre), y, BODY_GAP));
                    barred.extend(opening.barred(other.hole.opening.shape(other.centre), y, self.metal));
                }
                barred.extend(self.set.keep_outs.iter().filter_map(|rect| body.barred(Shape::of(*rect), y, 0.0)));
                let inside = |x: f64| barred.iter().any(|(from, to)| x > from + TINY && x < to - TINY);
                let wanted = to[0].round().clamp(left, right);
                // The place itself, or an end of a barred stretch.
                let ends = barred.iter().flat_map(|(from, to)| [(from + TINY).floor(), (to - TINY).ceil()]);
                for x in std::iter::once(wanted).chain(ends).filter(|x| *x >= left && *x <= right) {
                    let far = libm::hypot(x - to[0], y - to[1]);
                    if best.is_none_or(|(least, _)| far < least - TINY) && !inside(x) && self.free([x, y]) {
                        best = Some((far, [x, y]));
                    }
                }
            }
            off += 1.0;
            if best.is_some_and(|(least, _)| off - 1.0 > least) {
                break;
            }
        }
        best.map(|(_, at)| at)
    }
}

/// Draws a place into line with entries nearby: to their row or column within `within` mm, else to
/// whole millimetres. It looks at no other rule.
#[must_use]
pub fn snap(set: &SettingOut, entry: EntryId, to: Point, within: f64) -> (Point, Vec<Snapped>) {
    let mut at = [to[0].round(), to[1].round()];
    let mut snapped = Vec::new();
    for axis in [1, 0] {
        let line = set
            .entries
            .iter()
            .filter(|other| other.id != entry && (other.centre[axis] - to[axis]).abs() <= within)
            .min_by(|a, b| {
                let off = |one: &SetEntry| (one.centre[axis] - to[axis]).abs();
                let far = |one: &SetEntry| (one.centre[1 - axis] - to[1 - axis]).abs();
                off(a).total_cmp(&off(b)).then(far(a).total_cmp(&far(b)))
            });
        if let Some(other) = line {
            at[axis] = other.centre[axis];
            snapped.push(Snapped { row: axis == 1, at: other.centre[axis], with: other.label.clone() });
        }
    }
    (at, snapped)
}

/// Drags an entry: into line with neighbours where that breaks no rule, else to the nearest place
/// that breaks none. The others stay where they are.
///
/// # Errors
/// [`DragError`] where plate, entry or hole is not known.
pub fn drag(board: &Board, plate: PlateId, entry: EntryId, to: Point, tables: &Tables) -> Result<Dragged, DragError> {
    if !to.iter().all(|number| number.is_finite() && number.abs() <= 1e5) {
        return Err(DragError::NoPlace(to));
    }
    let record = board
        .plates
        .get(&plate)
        .and_then(|plate| plate.entries.get(&entry))
        .filter(|entry| !entry.removed)
        .ok_or(DragError::NoEntry(plate, entry))?;
    let set = setting_out(board, plate, tables)?;
    let hole = crate::hole::hole_of(record, tables).map_err(|why| DragError::NoHole { plate, entry, why })?;
    let others = set.entries.iter().filter(|other| other.id != entry).collect();
    let field = Field { metal: least_metal(set.thickness), set: &set, hole, others };
    let stays = match (record.existing, record.locked) {
        (true, _) => Some(say!("plate-drag-made")),
        (_, true) => Some(say!("plate-drag-locked")),
        _ => None,
    };
    if let Some(why) = stays {
        return Ok(Dragged { asked: to, at: None, snapped: Vec::new(), why: vec![why] });
    }
    let (line, snapped) = snap(&set, entry, to, SNAP);
    if field.free(line) {
        return Ok(Dragged { asked: to, at: Some(line), snapped, why: Vec::new() });
    }
    let near = [to[0].round(), to[1].round()];
    let why = field.reasons(near);
    // A row alone or a column alone may still do.
    for keep in &snapped {
        let at = if keep.row { [near[0], keep.at] } else { [keep.at, near[1]] };
        if field.free(at) {
            return Ok(Dragged { asked: to, at: Some(at), snapped: vec![keep.clone()], why: Vec::new() });
        }
    }
    Ok(Dragged { asked: to, at: field.nearest(to), snapped: Vec::new(), why })
}
