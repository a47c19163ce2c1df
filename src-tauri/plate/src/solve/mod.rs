//! Setting out a whole plate: a place for every entry, no rule broken, cables short and uncrossed,
//! few rows, columns and hole changes.
//!
//! The sum made small is [`Score::total`], by [`Weights`]. The search is any-time: more effort never
//! gives a worse answer of another kind, and the answer comes with a lower bound. Nothing depends on
//! a clock, so the same plate gives the same answer everywhere.

mod bound;
mod exact;
mod problem;
mod score;
mod search;

use std::fmt;

use survey::intent::EntryPlace;
use survey::pattern::Point;
use survey::{Board, EntryId, EntryKind, Message, PlateId, say};

pub use score::{Score, Weights, score};

pub(crate) use problem::{Ear, STANCES};

use problem::{Problem, State};
use search::Search;

use crate::hole::{Hole, hole_for};
use crate::setting_out::{NotReady, Unplaced};
use crate::shape::BODY_GAP;
use crate::tables::Tables;
use crate::words::{exact, listed};

/// Most entries set out at once.
pub const MOST_ENTRIES: usize = 200;
/// Effort spent unless another is asked for: comparisons of a place with an entry.
pub const EFFORT: u64 = 2_500_000;

/// The spanner every entry must leave room for. From memory, not checked: an open spanner's head is
/// about 2.1 times as wide as the flats, a tubular one's 1.4 times, and 1 mm is left beside it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Spanner {
    /// A thin one, from above, neighbours tightened one after another: bodies leave [`BODY_GAP`].
    #[default]
    Thin,
    /// A tubular one or socket.
    Tubular,
    /// An open one.
    Open,
}

impl Spanner {
    /// Which form of a message speaks of it.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Thin => "thin",
            Self::Tubular => "tubular",
            Self::Open => "open",
        }
    }

    /// Width of its head as a multiple of the flats.
    const fn head(self) -> Option<f64> {
        match self {
            Self::Thin => None,
            Self::Tubular => Some(1.4),
            Self::Open => Some(2.1),
        }
    }

    /// Gap it asks for around the body of an entry, mm.
    pub(crate) fn gap(self, hole: &Hole) -> f64 {
        let (Some(head), Some(flats), Some(corners)) = (self.head(), hole.across_flats, hole.across_corners) else {
            return BODY_GAP;
        };
        // Half the head with 1 mm play either side, and 1 mm to the neighbour, less the body itself.
        ((head * flats + 2.0) / 2.0 + 1.0 - corners / 2.0).max(BODY_GAP)
    }
}

/// What to do about the ears of earth tags under armoured-cable glands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum EarthTags {
    /// Room for all ears where that is possible, else for none, and the answer says so.
    #[default]
    IfRoom,
    /// Room for every ear, or no answer.
    Room,
    /// Earthing locknuts are used: no ears.
    Locknut,
}

/// A spare to keep room for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spare {
    /// Kind.
    pub kind: EntryKind,
    /// Trade size.
    pub size: String,
}

/// What is asked of a setting-out.
#[derive(Clone, Debug, PartialEq)]
pub struct Wishes {
    /// Places lie on multiples of this, in whole millimetres; 1 unless a coarser grid is wanted.
    pub grid: u32,
    /// Effort: comparisons of a place with an entry.
    pub effort: u64,
    /// Room kept for these.
    pub spares: Vec<Spare>,
    /// The spanner there must be room for.
    pub spanner: Spanner,
    /// Earth tags.
    pub earth_tags: EarthTags,
    /// Entries with a place stay there; only the others are set out.
    pub keep_placed: bool,
    /// What each thing counts.
    pub weights: Weights,
}

impl Default for Wishes {
    fn default() -> Self {
        Self {
            grid: 1,
            effort: EFFORT,
            spares: Vec::new(),
            spanner: Spanner::default(),
            earth_tags: EarthTags::default(),
            keep_placed: false,
            weights: Weights::default(),
        }
    }
}

impl Wishes {
    fn grid(&self) -> f64 {
        f64::from(self.grid.clamp(1, 100))
    }
}

/// Room kept for a spare.
#[derive(Clone, Debug, PartialEq)]
pub struct SparePlace {
    /// The spare.
    pub spare: Spare,
    /// Where its centre would be.
    pub at: Point,
}

/// A setting-out of the whole plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// A place for every entry that does not stay, ready for [`survey::intent::Intent::PlaceEntries`].
    pub places: Vec<EntryPlace>,
    /// Room kept for the spares asked for, in their order.
    pub spares: Vec<SparePlace>,
    /// What it is worth; the same as [`score()`] gives once the places are taken over.
    pub score: Score,
    /// No setting-out can have a smaller total than this.
    pub bound: f64,
    /// True where nothing better exists on this grid.
    pub proven: bool,
    /// Effort spent.
    pub spent: u64,
    /// Entries that could not be set out because something about them is not known.
    pub left_out: Vec<Unplaced>,
    /// What a person should know.
    pub notes: Vec<Message>,
}

/// Why a plate was not set out.
#[derive(Clone, Debug, PartialEq)]
pub enum SolveError {
    /// The plate itself is not ready.
    NotReady(NotReady),
    /// Too many entries.
    TooMany {
        /// How many there are.
        count: usize,
    },
    /// A spare of a size that no table lists.
    NoSuchSpare(Spare),
    /// No room was found.
    NoRoom {
        /// Labels of the entries that found no place.
        lacking: Vec<Message>,
        /// The least plate found that would do, width and depth in mm, the part that may be drilled
        /// growing with it; `None` where none up to three metres does.
        least: Option<[f64; 2]>,
        /// Depth behind the plate, mm, with which there would be room: the depth of the pattern, which nobody measured,
        /// forbids bends; `None` where the depth is not what stands in the way.
        depth: Option<f64>,
        /// True where every place was tried.
        proven: bool,
    },
}

impl SolveError {
    /// Path of what is wanting.
    #[must_use]
    pub fn place(&self) -> String {
        match self {
            Self::NotReady(error) => error.place(),
            Self::TooMany { .. } | Self::NoSuchSpare(_) | Self::NoRoom { .. } => "/".to_owned(),
        }
    }

    /// What is wanting and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        match self {
            Self::NotReady(error) => error.message(),
            Self::TooMany { count } => say!("plate-solve-too-many", count = *count, most = MOST_ENTRIES),
            Self::NoSuchSpare(spare) => {
                say!("plate-solve-no-spare", kind = spare.kind.words(), size = spare.size.clone())
            }
            Self::NoRoom { lacking, least, depth, proven } => no_room(lacking, *least, *depth, *proven),
        }
    }
}

impl fmt::Display for SolveError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotReady(error) => error.fmt(out),
            _ => self.message().fmt(out),
        }
    }
}
impl std::error::Error for SolveError {}
impl From<NotReady> for SolveError {
    fn from(error: NotReady) -> Self {
        Self::NotReady(error)
    }
}

fn no_room(lacking: &[Message], least: Option<[f64; 2]>, depth: Option<f64>, proven: bool) -> Message {
    let what = if lacking.is_empty() { say!("plate-solve-all") } else { listed(lacking.iter().cloned()) };
    match (depth, least) {
        (Some(depth), _) => say!("plate-solve-deeper", proven = proven, what = what, depth = exact(depth)),
        (None, Some([width, depth])) => {
            say!("plate-solve-larger", proven = proven, what = what, width = exact(width), depth = exact(depth))
        }
        (None, None) => say!("plate-solve-never", proven = proven, what = what),
    }
}

/// Sets a plate out: a place for every entry that is neither there already nor locked.
///
/// Kept in every answer: bodies (hexagon, locknut, bush) on the part that may be drilled, clear of
/// parts kept whole and of each other by what the spanner needs, the least metal between holes and
/// across the plate, room for earth tags, slots free of other holes, and no bend over a part behind
/// that is surely too near.
///
/// # Errors
/// [`SolveError`] where the plate's size is not known, there are too many entries, or no room was
/// found; then it names the least plate found that would do.
pub fn solve(board: &Board, plate: PlateId, tables: &Tables, wishes: &Wishes) -> Result<Solution, SolveError> {
    if let Some(record) = board.plates.get(&plate) {
        let count = record.entries.values().filter(|entry| !entry.removed).count() + wishes.spares.len();
        if count > MOST_ENTRIES {
            return Err(SolveError::TooMany { count });
        }
    }
    if let Some(spare) = wishes.spares.iter().find(|spare| hole_for(spare.kind, &spare.size, tables).is_none()) {
        return Err(SolveError::NoSuchSpare(spare.clone()));
    }
    let attempt = |earth_tags: EarthTags| {
        let wishes = Wishes { earth_tags, ..wishes.clone() };
        one(board, plate, tables, &wishes)
    };
    match attempt(wishes.earth_tags) {
        Err(SolveError::NoRoom { .. }) if wishes.earth_tags == EarthTags::IfRoom => {
            let mut without = attempt(EarthTags::Locknut)?;
            without.notes.push(say!("plate-solve-locknuts"));
            Ok(without)
        }
        other => other,
    }
}

fn one(board: &Board, plate: PlateId, tables: &Tables, wishes: &Wishes) -> Result<Solution, SolveError> {
    let (mut problem, left_out) = Problem::build(board, plate, tables, wishes, &wishes.spares)?;
    let mut notes = Vec::new();
    // Where the space behind is too shallow everywhere, the check says so; the place cannot help.
    for item in &mut problem.items {
        if item.shallow.is_empty() {
            continue;
        }
        let (mut x, end) = (problem_up(item.room.x, wishes.grid()), item.room.right());
        while x <= end && item.shallow.iter().any(|(from, to)| x > *from && x < *to) {
            x += wishes.grid();
        }
        if x > end {
            item.shallow.clear();
            let depth = item.id.and_then(|id| deep_enough(board, plate, [id], tables));
            notes.push(match depth {
                Some(depth) => {
                    say!("plate-solve-shallow-pattern", entry = item.label.clone(), depth = exact(depth))
                }
                None => say!("plate-solve-shallow", entry = item.label.clone()),
            });
        }
    }
    notes.extend(clashes(&problem));
    let least = bound::bound(&problem);
    let mut state = Search::new(&problem).run(wishes.effort, least, false);
    let mut spent = state.spent;
    let mut proven = false;
    let mut known = state.lacking().next().is_none().then(|| state.score(&problem).total);
    if known.is_none_or(|total| total > least + 1e-6)
        && let Some((better, whole, more)) = exact::search(&problem, known, wishes.effort.saturating_mul(2))
    {
        spent += more;
        proven = whole;
        if let Some(better) = better {
            known = Some(better.score(&problem).total);
            state = better;
        }
    }
    if known.is_none() {
        let lacking = state.lacking().map(|index| problem.items[index].label.clone()).collect();
        // Without the bends that the pattern's depth forbids there may be room: then that depth is to be measured.
        let barred: Vec<EntryId> =
            problem.items.iter().filter(|item| !item.shallow.is_empty()).filter_map(|item| item.id).collect();
        // Named is only a depth with which the plate was set out: no bend is barred then, so this ends.
        let depth = match barred.is_empty() {
            true => None,
            false => deep_enough(board, plate, barred, tables).filter(|depth| {
                let mut deeper = board.clone();
                if let Some(record) = deeper.plates.get_mut(&plate) {
                    let from = survey::Provenance::new(survey::Known::Assumed);
                    record.wiring_depth = survey::Reading::of(survey::Millimetres::new(*depth), from);
                }
                one(&deeper, plate, tables, wishes).is_ok()
            }),
        };
        let least = least_plate(&problem, wishes.effort / 40);
        return Err(SolveError::NoRoom { lacking, least, depth, proven });
    }
    let score = state.score(&problem);
    let bound = if proven { score.total } else { least.min(score.total) };
    let mut places = Vec::new();
    let mut spares = Vec::new();
    let mut wanted = wishes.spares.iter();
    for (item, spot) in problem.items.iter().zip(&state.spots) {
        let Some(spot) = spot else { continue };
        match item.id {
            Some(entry) if item.fixed.is_none() => places.push(EntryPlace { entry, at: spot.at }),
            Some(_) => {}
            None => spares.extend(wanted.next().map(|spare| SparePlace { spare: spare.clone(), at: spot.at })),
        }
    }
    Ok(Solution { places, spares, score, bound, proven: proven || score.total <= least + 1e-6, spent, left_out, notes })
}

/// Depth behind the plate, whole mm, that is enough for the bends of these entries wherever they stand.
fn deep_enough(
    board: &Board,
    plate: PlateId,
    entries: impl IntoIterator<Item = EntryId>,
    tables: &Tables,
) -> Option<f64> {
    let record = board.plates.get(&plate)?;
    entries
        .into_iter()
        .filter_map(|id| record.entries.get(&id))
        .flat_map(|entry| {
            crate::setting_out::live_cables(board, entry)
                .filter_map(|id| board.cables.get(&id))
                .filter_map(|cable| crate::bend::behind(cable, entry, tables))
                .map(|bend| bend.depth().hi().get().ceil())
        })
        .reduce(f64::max)
}

fn problem_up(value: f64, grid: f64) -> f64 {
    (value / grid - 1e-9).ceil() * grid
}

/// Entries that stay although they break a rule among themselves.
fn clashes(problem: &Problem) -> Vec<Message> {
    let mut state = State::new(problem);
    let mut list = Vec::new();
    for (index, item) in problem.items.iter().enumerate() {
        let Some(at) = item.fixed else { continue };
        if !item.existing && state.fits(problem, index, at, 0).is_none() {
            list.push(say!("plate-solve-clash", entry = item.label.clone()));
        }
        state.put(index, at, 0);
    }
    list
}

/// The least plate found that takes all: wider, deeper, or a little of both, by steps of 5 mm.
fn least_plate(problem: &Problem, effort: u64) -> Option<[f64; 2]> {
    const STEP: f64 = 5.0;
    const MOST: f64 = 3000.0;
    let takes = |width: f64, depth: f64| {
        let mut larger = Problem {
            items: problem.items.clone(),
            keep_outs: problem.keep_outs.clone(),
            slots: problem.slots.clone(),
            ..*problem
        };
        larger.grow(width, depth);
        Search::new(&larger).run(effort, f64::NEG_INFINITY, true).lacking().next().is_none()
    };
    let least = |grow: &dyn Fn(f64) -> (f64, f64)| {
        let mut enough = STEP;
        while enough < MOST {
            let (w, h) = grow(enough);
            if takes(w, h) {
                break;
            }
            enough *= 2.0;
        }
        if enough >= MOST {
            return None;
        }
        let (mut lo, mut hi) = (enough / 2.0, enough);
        while hi - lo > STEP {
            let middle = ((lo + hi) / 2.0 / STEP).ceil() * STEP;
            if middle >= hi {
                break;
            }
            let (w, h) = grow(middle);
            if takes(w, h) { hi = middle } else { lo = middle }
        }
        let (w, h) = grow(hi);
        Some([problem.outline.w + w, problem.outline.h + h])
    };
    let grown = [least(&|by| (by, 0.0)), least(&|by| (0.0, by)), least(&|by| (by, by))];
    grown.into_iter().flatten().min_by(|a, b| (a[0] * a[1]).total_cmp(&(b[0] * b[1])))
}
