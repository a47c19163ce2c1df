//! Currents of the lines and the neutral, as phasors, and how evenly the lines are loaded.

mod allocate;

use smallvec::SmallVec;
use survey::arrangement::Conductor;
use survey::range::Span;
use survey::{Amps, CircuitId, Range, SupplyPhases};

use crate::case::{Case, Feed};
use crate::demand::{self, Draw};
use crate::harmonic;
use crate::source::{Common, Source, line_index};

pub use allocate::{AllocateError, Allocation, LEAD_REACH, Loading, Move, RESOLUTION, Step, Wishes, allocate};

/// Current of one line of the supply.
#[derive(Clone, Debug, PartialEq)]
pub struct LineCurrent {
    /// Which line.
    pub conductor: Conductor,
    /// Magnitude.
    pub current: Range<Amps>,
    /// Part in phase with the line's own voltage.
    pub active: Range<Amps>,
    /// Part that lags the line's own voltage by a quarter period.
    pub reactive: Range<Amps>,
}

/// Currents in the lines and the neutral of a board.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseCurrents {
    /// The lines: three, one on a single-phase supply, none where the supply's phases are not known.
    pub lines: Vec<LineCurrent>,
    /// The neutral: the phasor sum of the loads between line and neutral and, at right angles to it,
    /// their third harmonics, which are in phase on all lines and add up as numbers; those of
    /// different loads may also cancel, so the least is one load's or nothing.
    pub neutral: Range<Amps>,
    /// Unbalance in percent: largest deviation of a line's current from the mean of the three,
    /// over that mean (the definition that NEMA MG 1, 14.36, gives for voltages, used for
    /// currents: common practice). `None` on a single-phase supply or an idle board.
    pub unbalance: Option<[f64; 2]>,
    /// Circuits whose load is not known: each counts as anything up to its device's rating.
    pub without_load: Vec<CircuitId>,
    /// Circuits that may be on any line: their device has no place, or they have none.
    pub unplaced: Vec<CircuitId>,
    /// Circuits that count for nothing here, because neither load nor rating is known.
    pub uncounted: Vec<CircuitId>,
}

/// What one circuit adds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Share {
    pub(crate) draw: Draw,
    pub(crate) feed: Feed,
    pub(crate) known: bool,
    /// Third harmonic that it sends into the neutral of a three-phase board, A.
    pub(crate) third: Span,
    /// It has a neutral, or may have one.
    pub(crate) returns: bool,
}

impl Share {
    /// The share of a circuit; `None` where neither its load nor its device's rating is known.
    pub(crate) fn of(case: &Case) -> Option<Self> {
        let feed = case.feed().unwrap_or(Feed::OneLine(None));
        // A surge protective device carries no load.
        if case.device_kind == Some(survey::DeviceKind::Spd) {
            let zero = Range::point(Amps::new(0.0));
            let draw = Draw { current: zero, active: zero, reactive: zero };
            return Some(Self { draw, feed, known: true, third: Span::point(0.0), returns: false });
        }
        let known = demand::draw(case);
        let draw = known.clone().or_else(|_| demand::draw_or_rating(case));
        let draw = draw.or_else(|_| {
            // Without a device the load may be on one line, which draws the most from each.
            let mut one = case.clone();
            one.feed = Ok(Feed::OneLine(None));
            demand::draw(&one)
        });
        draw.ok().map(|draw| {
            let (third, returns) = (harmonic::returned(case, feed, &draw), harmonic::returns(case, feed));
            Self { draw, feed, known: known.is_ok(), third, returns }
        })
    }

    /// The same with its current at the middle of its range.
    pub(crate) fn at_middle(mut self) -> Self {
        let middle = |range: Range<Amps>| Range::point((range.lo() + range.hi()) / 2.0);
        let (current, active) = (middle(self.draw.current), middle(self.draw.active));
        let reactive = match (self.draw.reactive.lo().get() < 0.0, self.draw.reactive.hi().get() > 0.0) {
            // Whether it leads is open: most loads lag.
            (true, true) => {
                let (all, part) = (current.lo().get(), active.lo().get());
                Range::point(Amps::new((all * all - part * part).max(0.0).sqrt()))
            }
            _ => middle(self.draw.reactive),
        };
        self.draw = Draw { current, active, reactive };
        self.third = Span::point(self.third.lo / 2.0 + self.third.hi / 2.0);
        self
    }
}

/// A current against its own line's voltage: in phase, and lagging by a quarter period.
#[derive(Clone, Copy, Debug)]
struct Phasor {
    active: Span,
    reactive: Span,
}

const ZERO: Span = Span::point(0.0);
const NOTHING: Phasor = Phasor { active: ZERO, reactive: ZERO };

impl Phasor {
    fn of(draw: &Draw) -> Self {
        Self { active: draw.active.numbers(), reactive: draw.reactive.numbers() }
    }

    fn plus(self, other: Self) -> Self {
        Self { active: sum(self.active, other.active), reactive: sum(self.reactive, other.reactive) }
    }

    /// Anything between nothing and this.
    fn or_nothing(self) -> Self {
        let reach = |span: Span| Span { lo: span.lo.min(0.0), hi: span.hi.max(0.0) };
        Self { active: reach(self.active), reactive: reach(self.reactive) }
    }

    /// Turned forward by an angle of which cosine and sine are given.
    fn turned(self, cos: Span, sin: Span) -> Self {
        // The current is a − jr; times (c + js) it is (ac + rs) − j(rc − as).
        Self { active: self.active * cos + self.reactive * sin, reactive: self.reactive * cos - self.active * sin }
    }

    fn size(self) -> Span {
        match (self.active == ZERO, self.reactive == ZERO) {
            (_, true) => magnitude(self.active),
            (true, _) => magnitude(self.reactive),
            _ => (self.active.square() + self.reactive.square()).sqrt(),
        }
    }
}

/// A sum that stays exact where one side is nothing.
fn sum(a: Span, b: Span) -> Span {
    if a == ZERO {
        b
    } else if b == ZERO {
        a
    } else {
        a + b
    }
}

fn magnitude(span: Span) -> Span {
    if span.lo >= 0.0 {
        span
    } else if span.hi <= 0.0 {
        Span { lo: -span.hi, hi: -span.lo }
    } else {
        Span { lo: 0.0, hi: span.hi.max(-span.lo) }
    }
}

/// Half the root of three, rounded outward.
fn half_root3() -> Span {
    demand::root3() * Span::point(0.5)
}

/// What a share puts on one line.
#[derive(Clone, Copy, Debug)]
struct Put {
    line: usize,
    phasor: Phasor,
    /// It returns by the neutral.
    returns: bool,
}

/// What a share puts on each of its lines.
fn puts(supply: Option<SupplyPhases>, share: &Share) -> SmallVec<[Put; 3]> {
    let own = Phasor::of(&share.draw);
    let one = |line: usize| SmallVec::from_iter([Put { line, phasor: own, returns: true }]);
    let on_each = |phasor: Phasor, returns: bool| (0..3).map(|line| Put { line, phasor, returns }).collect();
    match share.feed {
        _ if supply == Some(SupplyPhases::Single) => one(0),
        Feed::OneLine(Some(conductor)) => one(line_index(conductor).unwrap_or(0)),
        Feed::OneLine(None) => on_each(own.or_nothing(), true),
        Feed::ThreeLines => on_each(own, false),
        Feed::TwoLines(Some([a, b])) => {
            // The voltage between two lines leads that of the earlier one by 30°; the current
            // comes back in the later line, 30° behind that line's voltage.
            let (earlier, later) = if (a + 1) % 3 == b { (a, b) } else { (b, a) };
            let (cos, sin) = (half_root3(), Span::point(0.5));
            let turned = |line, sin| Put { line, phasor: own.turned(cos, sin), returns: false };
            SmallVec::from_iter([turned(earlier, sin), turned(later, Span::point(-0.5))])
        }
        Feed::TwoLines(None) => {
            let current = share.draw.current.numbers();
            let any = Span { lo: -current.hi, hi: current.hi };
            on_each(Phasor { active: any, reactive: any }, false)
        }
    }
}

/// What comes after the share of this place, in a list by place.
fn after<T>(list: &[(usize, T)], place: usize) -> impl Iterator<Item = &T> {
    let from = list.partition_point(|(of, _)| *of <= place);
    list.iter().skip(from).map(|(_, one)| one)
}

/// Sums of a board's loads.
#[derive(Clone, Debug)]
pub(crate) struct Sums {
    supply: Option<SupplyPhases>,
    /// Current of each line.
    lines: [Phasor; 3],
    /// Its part that returns by the neutral.
    returning: [Phasor; 3],
    /// Third harmonics in the neutral.
    third: Span,
}

impl Sums {
    pub(crate) fn of<'s>(supply: Option<SupplyPhases>, shares: impl IntoIterator<Item = &'s Share>) -> Self {
        let mut sums = Self { supply, lines: [NOTHING; 3], returning: [NOTHING; 3], third: ZERO };
        for share in shares {
            sums.add(share);
        }
        sums
    }

    fn add(&mut self, share: &Share) {
        self.add_third(share.third);
        puts(self.supply, share).iter().for_each(|put| self.add_to(put));
    }

    fn add_third(&mut self, third: Span) {
        if third != ZERO {
            // One source alone is what it is; two may be out of step.
            let lo = if self.third == ZERO { third.lo } else { 0.0 };
            self.third = Span { lo, hi: sum(self.third, third).hi };
        }
    }

    fn add_to(&mut self, put: &Put) {
        let lines = self.lines.get_mut(put.line).zip(self.returning.get_mut(put.line));
        let Some((total, returning)) = lines else { return };
        *total = total.plus(put.phasor);
        if put.returns {
            *returning = returning.plus(put.phasor);
        }
    }

    /// The sums of shares with one of them shrunk to its middle, for each that is a range; `None`
    /// for the others. Added up in the same order as [`Sums::of`] does, so to the last digit.
    pub(crate) fn at_middles(supply: Option<SupplyPhases>, shares: &[Share]) -> Vec<Option<Self>> {
        let all = Self::of(supply, shares);
        let mut before = Self::of(supply, []);
        let mut found = Vec::with_capacity(shares.len());
        // What each line gets, in the order of the shares, and of which: those that come later on the same line are
        // added to what came before, many times over.
        let mut of_lines: [Vec<(usize, Put)>; 3] = Default::default();
        for (index, share) in shares.iter().enumerate() {
            for put in puts(supply, share) {
                of_lines[put.line].push((index, put));
            }
        }
        // Of a line from which all returns, both sums are the same.
        let alike = [0, 1, 2].map(|line: usize| of_lines[line].iter().all(|(_, put)| put.returns));
        let thirds: Vec<(usize, Span)> =
            shares.iter().map(|share| share.third).enumerate().filter(|(_, third)| *third != ZERO).collect();
        for (index, share) in shares.iter().enumerate() {
            found.push((!share.draw.is_point() || share.third.lo != share.third.hi).then(|| {
                let middle = share.at_middle();
                let mut sums = all.clone();
                sums.third = before.third;
                sums.add_third(middle.third);
                after(&thirds, index).for_each(|third| sums.add_third(*third));
                let own = puts(supply, &middle);
                for line in (0..3).filter(|line| own.iter().any(|put| put.line == *line)) {
                    (sums.lines[line], sums.returning[line]) = (before.lines[line], before.returning[line]);
                    let puts = own.iter().filter(|put| put.line == line).chain(after(&of_lines[line], index));
                    if alike[line] {
                        let total = puts.fold(sums.lines[line], |total, put| total.plus(put.phasor));
                        (sums.lines[line], sums.returning[line]) = (total, total);
                    } else {
                        puts.for_each(|put| sums.add_to(put));
                    }
                }
                sums
            }));
            before.add(share);
        }
        found
    }

    /// Magnitude of each line's current.
    pub(crate) fn line_sizes(&self) -> SmallVec<[Span; 3]> {
        self.shown_lines().iter().map(|(_, phasor)| phasor.size()).collect()
    }

    fn shown_lines(&self) -> SmallVec<[(Conductor, Phasor); 3]> {
        let conductors: &[Conductor] = match self.supply {
            None => &[],
            Some(SupplyPhases::Single) => &[Conductor::L],
            Some(SupplyPhases::Three) => &[Conductor::L1, Conductor::L2, Conductor::L3],
        };
        conductors.iter().copied().zip(self.lines).collect()
    }

    /// Magnitude of the neutral current: the lines' returning parts, 120° apart, and third harmonics.
    pub(crate) fn neutral(&self) -> Span {
        let [first, second, third] = self.returning;
        if self.supply == Some(SupplyPhases::Single) {
            return first.size();
        }
        let (cos, sin) = (Span::point(-0.5), half_root3());
        let minus = Span { lo: -sin.hi, hi: -sin.lo };
        let plain = first.plus(second.turned(cos, minus)).plus(third.turned(cos, sin)).size();
        if self.third == ZERO { plain } else { (plain.square() + self.third.square()).sqrt() }
    }

    /// Unbalance in percent; see [`PhaseCurrents::unbalance`].
    pub(crate) fn unbalance(&self) -> Option<[f64; 2]> {
        let sizes = self.line_sizes();
        let [a, b, c] = sizes.as_slice() else { return None };
        let deviation = |one: Span, p: Span, q: Span| {
            // One line over the mean of three rises with that line and falls with the others.
            let low = 3.0 * one.lo / (one.lo + p.hi + q.hi);
            let high = 3.0 * one.hi / (one.hi + p.lo + q.lo);
            magnitude(Span::around(&[low - 1.0, high - 1.0]))
        };
        let all = [deviation(*a, *b, *c), deviation(*b, *a, *c), deviation(*c, *a, *b)];
        let lo = all.iter().map(|span| span.lo).fold(0.0, f64::max);
        let hi = all.iter().map(|span| span.hi).fold(0.0, f64::max);
        (lo.is_finite() && hi.is_finite()).then_some([lo * 100.0, hi * 100.0])
    }
}

/// Works out the currents of a board from its circuits' cases.
pub(crate) fn currents(common: &Common, circuits: &[(Source, Option<Share>)]) -> PhaseCurrents {
    let sums = Sums::of(common.supply, circuits.iter().filter_map(|(_, share)| share.as_ref()));
    let ids = |wanted: &dyn Fn(&Option<Share>) -> bool| {
        circuits.iter().filter(|(_, share)| wanted(share)).map(|(source, _)| source.id).collect()
    };
    let lines = sums
        .shown_lines()
        .into_iter()
        .map(|(conductor, phasor)| LineCurrent {
            conductor,
            current: phasor.size().of(),
            active: phasor.active.of(),
            reactive: phasor.reactive.of(),
        })
        .collect();
    let adrift = |share: &Option<Share>| {
        common.supply != Some(SupplyPhases::Single)
            && share.is_some_and(|share| matches!(share.feed, Feed::OneLine(None) | Feed::TwoLines(None)))
    };
    PhaseCurrents {
        lines,
        neutral: sums.neutral().of(),
        unbalance: sums.unbalance(),
        without_load: ids(&|share| share.is_some_and(|share| !share.known)),
        unplaced: ids(&adrift),
        uncounted: ids(&Option::is_none),
    }
}
