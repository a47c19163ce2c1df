//! Whether the device nearest a fault opens alone: time-current bands against each other.
//!
//! A band is what the standard of a device allows: no point of a true curve lies outside it.
//! Between the standard's points the bounds follow from one fact: heat is lost while time passes,
//! so a slower opening never takes less I²t than a faster one. At a test's own current the time of that test
//! stands, whatever the test before it would leave.

mod chain;
mod check;

use smallvec::SmallVec;
use survey::{Amps, AmpsSquaredSeconds, Curve, Range, RcdDelay, Seconds, Verdict};

use crate::tables::{Asked, Tables};

pub use chain::{Chain, Link, chain};
pub(crate) use check::{Upstream, check, upstream};

/// A device that opens on overcurrent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Overcurrent {
    /// A circuit-breaker, or the breaker in an RCBO.
    Breaker {
        /// Its instantaneous type.
        curve: Curve,
        /// Its rated current.
        rated: Amps,
    },
    /// A gG fuse.
    Fuse {
        /// Its rated current.
        rated: Amps,
    },
}

/// A device that opens on residual current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Its rated residual current, IΔn.
    pub rated: Amps,
    /// Whether it waits.
    pub delay: RcdDelay,
}

/// One point of a bound, for a plot on logarithmic scales.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPoint {
    /// Current.
    pub current: Amps,
    /// Time; [`AT_ONCE`] stands for at once.
    pub time: Seconds,
}

/// What the standard allows a device: it opens no earlier and no later.
///
/// Points run from small to large currents, joined by straight lines on logarithmic scales; two
/// points with one current are a vertical line. Left of the first point the device stays closed
/// (earliest) or need not open (latest).
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Earliest opening.
    pub earliest: Vec<BandPoint>,
    /// Latest opening.
    pub latest: Vec<BandPoint>,
}

/// Shown for an opening that has no shortest time.
pub const AT_ONCE: Seconds = Seconds::new(0.001);

/// Largest current of a plot.
const END: f64 = 100_000.0;

/// Why two devices may open together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum OverlapKind {
    /// Both are slow here: their curves on their data sheets decide.
    Slow,
    /// Both may open at once: the energy let through, or the makers' table, decides.
    AtOnce,
    /// The upstream device surely opens first, or no later.
    Wrong,
}

/// Currents at which both devices may open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlap {
    /// From this current.
    pub from: Amps,
    /// Up to this one; infinite where it never ends.
    pub to: Amps,
    /// Why.
    pub kind: OverlapKind,
}

/// How two devices in series stand to each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Selectivity {
    /// Holds: the downstream device opens alone up to the fault current given.
    pub verdict: Verdict,
    /// It opens alone up to this current, slow openings aside; `None`: whatever the current.
    pub limit: Option<Amps>,
    /// Where both may open, currents rising.
    pub overlaps: Vec<Overlap>,
    /// Band of the upstream device.
    pub upstream: Band,
    /// Band of the downstream device.
    pub downstream: Band,
}

/// Part of a bound: from one current to another, at one time or falling with the square.
#[derive(Clone, Copy, Debug)]
struct Piece {
    from: f64,
    to: f64,
    /// Time, or I²t where it falls.
    amount: f64,
    falls: bool,
}

impl Piece {
    const fn falling(from: f64, to: f64, energy: f64) -> Self {
        Self { from, to, amount: energy, falls: true }
    }

    const fn level(from: f64, to: f64, time: f64) -> Self {
        Self { from, to, amount: time, falls: false }
    }

    fn time(&self, current: f64) -> f64 {
        if self.falls { self.amount / (current * current) } else { self.amount }
    }
}

/// Earliest and latest opening in pieces; without a piece it stays closed, or need not open.
struct Bounds {
    earliest: SmallVec<[Piece; 4]>,
    latest: SmallVec<[Piece; 4]>,
    /// From here on it may open at once.
    at_once: f64,
}

impl Overcurrent {
    fn rated(self) -> f64 {
        match self {
            Self::Breaker { rated, .. } | Self::Fuse { rated } => rated.get(),
        }
    }

    /// `None` where the tables have no such rating.
    fn tested(self, tables: &Tables) -> Option<Tested> {
        let rated = self.rated();
        let curve = match self {
            Self::Breaker { curve, .. } => Some(curve),
            Self::Fuse { .. } => None,
        };
        let gate = match self {
            Self::Fuse { rated } => Some(tables.fuse_gate(rated.get())?),
            Self::Breaker { .. } => None,
        };
        // Points it stays closed to for a time, and points by which it has opened.
        let (mut stays, mut opened) = (SmallVec::<[_; 4]>::new(), SmallVec::<[_; 4]>::new());
        let (mut closed_to, mut instant) = (0.0_f64, f64::INFINITY);
        for test in tables.assembly.tests(curve, rated) {
            let current = test.multiple * rated;
            match test.asked {
                Asked::NoTrip => closed_to = closed_to.max(current),
                Asked::Between => {
                    stays.push((current, test.shortest));
                    opened.push((current, test.longest));
                }
                // The last one of a breaker is its instantaneous release: it has no I²t.
                Asked::Trip if curve.is_some() && test.longest < 1.0 => instant = current,
                Asked::Trip => opened.push((current, test.longest)),
            }
        }
        if let Some(gate) = gate {
            stays.extend([(gate.stays_10s, 10.0), (gate.stays_0_1s, 0.1)]);
            opened.extend([(gate.clears_5s, 5.0), (gate.clears_0_1s, 0.1)]);
        }
        if closed_to <= 0.0 || opened.is_empty() {
            return None;
        }
        Some(Tested { stays, opened, closed_to, instant, least_energy: gate.map(|gate| gate.least_energy) })
    }

    /// `None` where the tables have no such rating.
    fn bounds(self, tables: &Tables) -> Option<Bounds> {
        let tested = self.tested(tables)?;
        let latest = tested.latest();
        let Tested { stays, closed_to, least_energy, .. } = tested;
        let least = least_energy.unwrap_or(0.0);
        let mut earliest = SmallVec::new();
        let mut from = closed_to;
        for (index, (to, _)) in stays.iter().enumerate() {
            let energy = stays.iter().skip(index).map(|(current, time)| time * current * current).fold(least, f64::max);
            if *to > from {
                earliest.push(Piece::falling(from, *to, energy));
                from = *to;
            }
        }
        earliest.push(match least_energy {
            Some(_) => Piece::falling(from, f64::INFINITY, least),
            None => Piece::level(from, f64::INFINITY, 0.0),
        });
        Some(Bounds { earliest, latest, at_once: from })
    }
}

/// What the tables tell of a device.
struct Tested {
    /// Currents that it stays closed to for a time in s.
    stays: SmallVec<[(f64, f64); 4]>,
    /// Currents by which it has opened within a time in s.
    opened: SmallVec<[(f64, f64); 4]>,
    /// Current that it stays closed to for good.
    closed_to: f64,
    /// Current at which it opens at once.
    instant: f64,
    /// Of a fuse: least energy by which it melts, A²s.
    least_energy: Option<f64>,
}

impl Tested {
    fn latest(&self) -> SmallVec<[Piece; 4]> {
        let mut latest = SmallVec::<[Piece; 4]>::new();
        let instant = self.instant;
        for (index, (current, time)) in self.opened.iter().enumerate() {
            let to = self.opened.get(index + 1).map_or(instant, |(next, _)| *next).min(instant);
            if to > *current {
                // The longest time that a test allows at its own current stands, also where I²t of the test before is
                // less: of types B and D test d takes more than test c.
                latest.push(Piece::falling(*current, to, time * current * current));
            }
        }
        if instant.is_finite() {
            latest.push(Piece::level(instant, f64::INFINITY, INSTANT));
        }
        latest
    }
}

/// Longest time of an instantaneous opening, s: IEC 60898-1 table 7, test e.
pub(crate) const INSTANT: f64 = 0.1;

/// Ratio of ratings from which two gG fuses from 16 A up are selective: IEC 60269-2 (from memory).
const FUSE_RATIO: f64 = 1.6;

fn points(pieces: &[Piece]) -> Vec<BandPoint> {
    let shown = |current: f64, time: f64| BandPoint {
        current: Amps::new(current),
        time: Seconds::new(time.max(AT_ONCE.get())),
    };
    pieces
        .iter()
        .filter(|piece| piece.from < END)
        .flat_map(|piece| {
            let end = piece.to.min(END);
            // A falling line meets the bottom of the plot before its end.
            let bottom = if piece.falls { (piece.amount / AT_ONCE.get()).sqrt() } else { f64::INFINITY };
            let bend = (bottom > piece.from && bottom < end).then(|| shown(bottom, AT_ONCE.get()));
            [Some(shown(piece.from, piece.time(piece.from))), bend, Some(shown(end, piece.time(end)))]
        })
        .flatten()
        .collect()
}

/// Band of a device alone; `None` where the tables have no such rating.
#[must_use]
pub fn band(device: Overcurrent, tables: &Tables) -> Option<Band> {
    let bounds = device.bounds(tables)?;
    Some(Band { earliest: points(&bounds.earliest), latest: points(&bounds.latest) })
}

/// Largest energy by the standard that flows before a device opens, A²s, for currents in a range;
/// `None` where it need not open within 5 s. An opening at once counts as its longest time.
pub(crate) fn energy_before(device: Overcurrent, lo: f64, hi: f64, tables: &Tables) -> Option<f64> {
    let bounds = device.bounds(tables)?;
    // I²t falls with the current as long as the opening is slow, and rises with it at once: the
    // ends of the range are the worst.
    let at = |current: f64| {
        let piece = bounds.latest.iter().find(|piece| current >= piece.from && current < piece.to)?;
        let time = piece.time(current);
        (time <= 5.0).then(|| time.max(INSTANT) * current * current)
    };
    Some(at(lo)?.max(at(hi)?))
}

/// Most energy that a breaker lets through of a fault between a current and its instantaneous release,
/// A²s: nothing where it releases at once, without end where it need not open at all. `None` where the
/// tables have no such rating.
///
/// Between the tests of IEC 60898-1 table 7 no more is taken than that a larger current never opens it later: the longest
/// time of a test, up to the current of the next. How I²t goes between them no standard says.
pub(crate) fn slow_energy(curve: Curve, rated: f64, current: f64, tables: &Tables) -> Option<f64> {
    let latest = Overcurrent::Breaker { curve, rated: Amps::new(rated) }.tested(tables)?.latest();
    let first = latest.first()?;
    if current < first.from {
        return Some(f64::INFINITY);
    }
    let slow = latest.iter().filter(|piece| piece.falls && current < piece.to);
    Some(slow.map(|piece| piece.time(piece.from) * piece.to * piece.to).fold(0.0, f64::max))
}

/// Longest time in s until the device upstream opens on a fault current; `None` where it is not known
/// what is upstream, or it need not open.
pub(crate) fn longest_opening(board: &survey::Board, fault: survey::range::Span, tables: &Tables) -> Option<f64> {
    let Upstream::Devices(devices) = upstream(board) else { return None };
    devices.into_iter().try_fold(0.0_f64, |longest, device| {
        let bounds = device.bounds(tables)?;
        let piece = bounds.latest.iter().find(|piece| fault.lo >= piece.from && fault.lo < piece.to)?;
        // Of a breaker nothing is said between its tests but that a larger current never opens it later.
        let tested = if matches!(device, Overcurrent::Breaker { .. }) { piece.from } else { fault.lo };
        Some(longest.max(piece.time(tested)))
    })
}

/// Where the latest opening of one is not before the earliest of the other: `test` tells for one
/// pair of pieces over a range of currents.
fn regions(earliest: &[Piece], latest: &[Piece], may: impl Fn(f64, f64) -> bool) -> Vec<(f64, f64)> {
    let mut cuts: Vec<f64> =
        earliest.iter().chain(latest).flat_map(|piece| [piece.from, piece.to]).chain([0.0]).collect();
    // Where a falling line crosses a level one.
    for level in earliest.iter().chain(latest).filter(|piece| !piece.falls && piece.amount > 0.0) {
        for falling in earliest.iter().chain(latest).filter(|piece| piece.falls) {
            cuts.push((falling.amount / level.amount).sqrt());
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let time = |pieces: &[Piece], current: f64| {
        pieces
            .iter()
            .find(|piece| current >= piece.from && current < piece.to)
            .map_or(f64::INFINITY, |piece| piece.time(current))
    };
    let mut found: Vec<(f64, f64)> = Vec::new();
    for pair in cuts.windows(2) {
        let [a, b] = pair else { continue };
        let middle = if b.is_finite() { (a * b).sqrt().clamp(*a, *b) } else { a * 2.0 + 1.0 };
        if !may(time(earliest, middle), time(latest, middle)) {
            continue;
        }
        match found.last_mut() {
            Some(last) if last.1 == *a => last.1 = *b,
            _ => found.push((*a, *b)),
        }
    }
    found
}

/// How two overcurrent devices in series stand to each other, for faults up to a current (`None`:
/// any). `let_through`: what the downstream device lets through at that current, where its data
/// say so; `breaking`: its short-circuit capacity, where it is of energy-limiting class 3. `None` where the tables have no such rating.
///
/// Two gG fuses from 16 A up are selective from a ratio of 1.6 on (IEC 60269-2). A breaker under a
/// fuse is so where it lets less through than melts the fuse: by its own data, else by its class 3
/// limit of EN 60898-1 annex ZA for a short-circuit capacity of `breaking`.
#[must_use]
pub fn pair(
    upstream: Overcurrent,
    downstream: Overcurrent,
    fault: Option<Range<Amps>>,
    let_through: Option<Range<AmpsSquaredSeconds>>,
    breaking: Option<Amps>,
    tables: &Tables,
) -> Option<Selectivity> {
    let (above, below) = (upstream.bounds(tables)?, downstream.bounds(tables)?);
    let overlaps = overlaps(upstream, downstream, &above, &below, let_through, breaking, tables);
    let limit = overlaps
        .iter()
        .filter(|overlap| overlap.kind != OverlapKind::Slow)
        .map(|overlap| overlap.from)
        .reduce(Amps::min);
    let [lo, hi] = fault.map_or([f64::INFINITY; 2], |fault| [fault.lo().get(), fault.hi().get()]);
    let verdict = if overlaps.iter().any(|one| one.kind == OverlapKind::Wrong && one.from.get() <= lo) {
        Verdict::Fails
    } else if overlaps.iter().all(|one| one.from.get() >= hi && hi.is_finite()) {
        Verdict::Holds
    } else {
        Verdict::Undecided
    };
    Some(Selectivity {
        verdict,
        limit,
        overlaps,
        upstream: Band { earliest: points(&above.earliest), latest: points(&above.latest) },
        downstream: Band { earliest: points(&below.earliest), latest: points(&below.latest) },
    })
}

fn overlaps(
    upstream: Overcurrent,
    downstream: Overcurrent,
    above: &Bounds,
    below: &Bounds,
    let_through: Option<Range<AmpsSquaredSeconds>>,
    breaking: Option<Amps>,
    tables: &Tables,
) -> Vec<Overlap> {
    use Overcurrent::{Breaker, Fuse};
    if let (Fuse { rated: a }, Fuse { rated: b }) = (upstream, downstream)
        && a.get() >= FUSE_RATIO * b.get() - 1e-9
        && b.get() >= 16.0
    {
        return Vec::new();
    }
    let mut found: Vec<Overlap> = Vec::new();
    let wrong = regions(&below.earliest, &above.latest, |down, up| up.is_finite() && up <= down);
    let mut add = |from: f64, to: f64, kind: OverlapKind| {
        if to > from {
            found.push(Overlap { from: Amps::new(from), to: Amps::new(to), kind });
        }
    };
    for (from, to) in &wrong {
        add(*from, *to, OverlapKind::Wrong);
    }
    // Both release at once from where the downstream one surely does.
    let sudden = below.latest.iter().find(|piece| !piece.falls).map_or(f64::INFINITY, |piece| piece.from);
    let melts = match upstream {
        Fuse { rated } => tables.fuse_gate(rated.get()).map(|gate| gate.least_energy),
        Breaker { .. } => None,
    };
    let lets = match (let_through, downstream) {
        (Some(range), _) => Some(range.hi().get()),
        (None, Breaker { curve, rated }) => {
            breaking.and_then(|breaking| tables.let_through(curve, rated.get(), breaking.get()))
        }
        (None, Fuse { .. }) => None,
    };
    let spared = melts.zip(lets).is_some_and(|(melts, lets)| lets < melts);
    for (from, to) in regions(&above.earliest, &below.latest, |up, down| up.is_finite() && down >= up) {
        // What is surely wrong was said; what the fuse does not feel is no overlap.
        let cut = wrong.first().map_or(f64::INFINITY, |(from, _)| *from);
        let to = if spared { to.min(cut).min(sudden) } else { to.min(cut) };
        let edge = above.at_once.max(from).min(to);
        add(from, edge, OverlapKind::Slow);
        add(edge, to, OverlapKind::AtOnce);
    }
    found.sort_by(|a, b| a.from.get().total_cmp(&b.from.get()).then(a.kind.cmp(&b.kind)));
    found
}

impl Residual {
    fn band(self, tables: &Tables) -> Band {
        let delayed = self.delay == RcdDelay::S;
        let rated = self.rated.get();
        let rows: Vec<_> = tables.assembly.residual(delayed).collect();
        let at = |multiple: f64, time: f64| BandPoint {
            current: Amps::new(multiple * rated),
            time: Seconds::new(time.max(AT_ONCE.get())),
        };
        // A time holds from its multiple to the next one: longest, downwards; shortest, upwards.
        let mut latest = Vec::new();
        let mut earliest = Vec::new();
        let mut from = HALF;
        for (index, row) in rows.iter().enumerate() {
            let next = rows.get(index + 1).map_or(END / rated, |next| next.multiple);
            latest.extend([at(row.multiple, row.longest), at(next, row.longest)]);
            let last = index + 1 == rows.len();
            let to = if last { END / rated } else { row.multiple };
            earliest.extend([at(from, row.shortest), at(to, row.shortest)]);
            from = to;
        }
        Band { earliest, latest }
    }
}

/// Multiple of IΔn up to which no RCD opens: IEC 61008-1.
const HALF: f64 = 0.5;

/// Ratio of rated residual currents that two RCDs in series need: IEC 60364-5-53, 535.3.
const RESIDUAL_RATIO: f64 = 3.0;

/// How two RCDs in series stand to each other: the upstream one must be of type S and its IΔn at
/// least three times the downstream one's (IEC 60364-5-53, 535.3).
#[must_use]
pub fn residual_pair(upstream: Residual, downstream: Residual, tables: &Tables) -> Selectivity {
    let waits = upstream.delay == RcdDelay::S && downstream.delay != RcdDelay::S;
    let coarse = upstream.rated.get() >= RESIDUAL_RATIO * downstream.rated.get() * (1.0 - 1e-9);
    let from = Amps::new(upstream.rated.get() * HALF);
    let overlap = Overlap { from, to: Amps::new(f64::INFINITY), kind: OverlapKind::AtOnce };
    let good = waits && coarse;
    Selectivity {
        verdict: if good { Verdict::Holds } else { Verdict::Fails },
        limit: (!good).then_some(from),
        overlaps: if good { Vec::new() } else { vec![overlap] },
        upstream: upstream.band(tables),
        downstream: downstream.band(tables),
    }
}
