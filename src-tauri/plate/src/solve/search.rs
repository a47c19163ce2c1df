//! The search: put entries in one by one, then take some out and put them back better, over and
//! over, until the effort is spent. Every step follows from the one before, so the same plate gives
//! the same setting-out on every machine.

use survey::pattern::Point;

use super::problem::{Problem, State};
use crate::shape::{EAR_GAP, TINY};

/// An entry left out costs more than any place.
const LEFT_OUT: f64 = 1e5;

/// A stretch of fewer grid steps than this is tried place by place.
const FEW: f64 = 12.0;

/// Numbers that look thrown and are the same on every run (splitmix64).
pub(crate) struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    pub fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit.max(1) as u64) as usize
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Rows worth a try for an item: those begun, those just clear of a neighbour, the ends of its room.
fn rows(problem: &Problem, state: &State, index: usize, out: &mut Vec<f64>) {
    let item = &problem.items[index];
    let (top, bottom) = (problem.up(item.room.y), problem.down(item.room.bottom()));
    out.clear();
    if top > bottom + TINY {
        return;
    }
    // A coarse grid has few rows: all of them are tried.
    if bottom - top < FEW * problem.grid {
        let steps = ((bottom - top) / problem.grid).round() as usize;
        out.extend((0..=steps).map(|step| top + step as f64 * problem.grid));
        return;
    }
    out.extend([top, bottom, problem.down((top + bottom) / 2.0)]);
    let mine = item.body.half[1] + item.body.radius;
    for (other, spot) in state.spots.iter().enumerate() {
        let Some(spot) = spot.filter(|_| other != index) else { continue };
        let there = &problem.items[other];
        let theirs = there.body.half[1] + there.body.radius;
        let y = spot.at[1];
        out.push(problem.down(y));
        let mut off = |distance: f64| out.extend([problem.up(y + distance), problem.down(y - distance)]);
        off(mine + theirs + problem.gap(index, other));
        let reach = |ear: super::problem::Ear| ear.reach + ear.radius + EAR_GAP;
        if let Some(ear) = there.ear {
            off(mine + reach(ear));
        }
        if let Some(ear) = item.ear {
            off(theirs + reach(ear));
        }
    }
    out.retain(|y| *y >= top - TINY && *y <= bottom + TINY);
    out.sort_by(f64::total_cmp);
    out.dedup_by(|a, b| (*a - *b).abs() < TINY);
}

/// The cheapest place for an item, the stance in which it stands there, and what it adds.
struct Found {
    at: Point,
    stance: usize,
    cost: f64,
}

pub(crate) struct Search<'a> {
    problem: &'a Problem,
    dice: Dice,
    rows: Vec<f64>,
    barred: Vec<(f64, f64)>,
    tries: Vec<f64>,
}

impl<'a> Search<'a> {
    pub fn new(problem: &'a Problem) -> Self {
        Self { problem, dice: Dice(7), rows: Vec::new(), barred: Vec::new(), tries: Vec::new() }
    }

    /// Looks along the rows for the cheapest place. `blink` skips a place now and then, so that the
    /// search does not always fall into the same hollow.
    fn best(&mut self, state: &mut State, index: usize, blink: bool) -> Option<Found> {
        let problem = self.problem;
        let item = &problem.items[index];
        if let Some(at) = item.fixed {
            // It stays whatever it breaks, but its tag may still turn.
            let stance = state.fits(problem, index, at, 0).unwrap_or(0);
            return Some(Found { at, stance, cost: 0.0 });
        }
        let (from, to) = (problem.up(item.room.x), problem.down(item.room.right()));
        if from > to + TINY {
            return None;
        }
        let first = self.dice.below(4);
        let mut list = std::mem::take(&mut self.rows);
        rows(problem, state, index, &mut list);
        let mut found: Option<Found> = None;
        for &y in &list {
            self.free(state, index, y);
            let mut x = from;
            let mut at = 0;
            // Walk over the free stretches between the barred ones.
            loop {
                while at < self.barred.len() && self.barred[at].0 < x + TINY {
                    if self.barred[at].1 > x + TINY {
                        x = problem.up(self.barred[at].1);
                    }
                    at += 1;
                }
                if x > to + TINY {
                    break;
                }
                let end = if at < self.barred.len() { problem.down(self.barred[at].0).min(to) } else { to };
                if end >= x - TINY {
                    self.along(state, index, x, end);
                    let tries = std::mem::take(&mut self.tries);
                    for &place in &tries {
                        let cost = state.cost(problem, index, [place, y]);
                        if found.as_ref().is_some_and(|best| cost >= best.cost - 1e-9)
                            || (blink && self.dice.below(20) == 0)
                        {
                            continue;
                        }
                        if let Some(stance) = state.fits(problem, index, [place, y], first) {
                            found = Some(Found { at: [place, y], stance, cost });
                        }
                    }
                    self.tries = tries;
                }
                if at >= self.barred.len() {
                    break;
                }
                x = x.max(problem.up(self.barred[at].1));
                at += 1;
            }
        }
        self.rows = list;
        found
    }

    /// Stretches of x that others bar at this height, in order.
    fn free(&mut self, state: &mut State, index: usize, y: f64) {
        let problem = self.problem;
        let item = &problem.items[index];
        self.barred.clear();
        state.spent += state.spots.len() as u64;
        for (other, spot) in state.spots.iter().enumerate() {
            let Some(spot) = spot.filter(|_| other != index) else { continue };
            let there = &problem.items[other];
            let stands = crate::shape::Shape { centre: spot.at, ..there.body };
            self.barred.extend(item.body.barred(stands, y, problem.gap(index, other)));
            let hole = crate::shape::Shape { centre: spot.at, ..there.opening };
            self.barred.extend(item.opening.barred(hole, y, problem.metal));
            if let Some(ear) = there.ear {
                self.barred.extend(item.body.barred(ear.shape(spot.at, spot.stance), y, EAR_GAP));
            }
        }
        for rect in &problem.keep_outs {
            self.barred.extend(item.body.barred(*rect, y, 0.0));
        }
        self.barred.extend(item.shallow.iter().copied());
        self.barred.sort_by(|a, b| a.0.total_cmp(&b.0));
    }

    /// Places worth a try in a free stretch: its ends, the one nearest to the target, those in line
    /// with others, one step either side of them, and the middle.
    fn along(&mut self, state: &State, index: usize, from: f64, to: f64) {
        let problem = self.problem;
        self.tries.clear();
        let tries = &mut self.tries;
        if let Some(target) = problem.items[index].target {
            tries.push(problem.down(target.x.clamp(from, to)).max(from));
            tries.push(problem.up(target.x.clamp(from, to)).min(to));
        }
        tries.extend([from, to]);
        if to - from < FEW * problem.grid {
            let steps = ((to - from) / problem.grid).round() as usize;
            tries.extend((1..steps).map(|step| from + step as f64 * problem.grid));
        }
        for spot in state.spots.iter().flatten() {
            let x = problem.down(spot.at[0]);
            if x >= from - TINY && x <= to + TINY {
                tries.push(x);
            }
        }
        if problem.items[index].ear.is_some() {
            tries.push(problem.down((from + to) / 2.0).max(from));
        }
        tries.sort_by(f64::total_cmp);
        tries.dedup_by(|a, b| (*a - *b).abs() < TINY);
    }

    /// Puts the items in by this order; those that find no place stay out.
    fn fill(&mut self, state: &mut State, order: &[usize], blink: bool) {
        for &index in order {
            if let Some(found) = self.best(state, index, blink) {
                state.put(index, found.at, found.stance);
            }
        }
    }

    /// Lets entries of one body change places wherever that makes the sum smaller, until none does.
    fn exchange(&self, state: &mut State, mobile: &[usize]) {
        let problem = self.problem;
        let alike = |a: usize, b: usize| {
            let (a, b) = (&problem.items[a], &problem.items[b]);
            let ear = |item: &super::problem::Item| item.ear.map(|ear| (ear.reach, ear.radius));
            a.body == b.body
                && a.opening == b.opening
                && a.room == b.room
                && (a.gap - b.gap).abs() < TINY
                && ear(a) == ear(b)
        };
        let mut better = problem.slots.is_empty();
        while better {
            better = false;
            for (nth, &a) in mobile.iter().enumerate() {
                for &b in &mobile[nth + 1..] {
                    let (Some(spot_a), Some(spot_b)) = (state.spots[a], state.spots[b]) else { continue };
                    if !alike(a, b) || !problem.alone(a, spot_b.at) || !problem.alone(b, spot_a.at) {
                        continue;
                    }
                    state.spots[a] = None;
                    state.spots[b] = None;
                    let mut sum = |first: Point, second: Point| {
                        let one = state.cost(problem, a, first);
                        state.put(a, first, 0);
                        let two = state.cost(problem, b, second);
                        state.spots[a] = None;
                        one + two
                    };
                    let (stay, swap) = (sum(spot_a.at, spot_b.at), sum(spot_b.at, spot_a.at));
                    if swap < stay - 1e-9 {
                        better = true;
                        state.spots[a] = Some(spot_b);
                        state.spots[b] = Some(spot_a);
                    } else {
                        state.spots[a] = Some(spot_a);
                        state.spots[b] = Some(spot_b);
                    }
                }
            }
        }
    }

    fn total(&self, state: &State) -> f64 {
        state.score(self.problem).total + LEFT_OUT * state.lacking().count() as f64
    }

    /// Orders in which entries may be put in: 0 largest first, 1 by target, 2 by target backwards,
    /// 3 from the middle outwards, 4 as thrown.
    fn order(&mut self, items: &mut [usize], kind: usize) {
        let problem = self.problem;
        let reach = |index: usize| {
            let item = &problem.items[index];
            let (w, h) = (item.body.half[0] + item.body.radius, item.body.half[1] + item.body.radius);
            w * h + item.ear.map_or(0.0, |ear| ear.radius * ear.radius)
        };
        let wants =
            |index: usize| problem.items[index].target.map_or((f64::MAX, 0.0), |target| (target.x, target.lane));
        let middle = problem.outline.w / 2.0;
        items.sort_unstable();
        match kind {
            0 => items.sort_by(|a, b| reach(*b).total_cmp(&reach(*a))),
            1 => items.sort_by(|a, b| wants(*a).0.total_cmp(&wants(*b).0).then(wants(*a).1.total_cmp(&wants(*b).1))),
            2 => items.sort_by(|a, b| wants(*b).0.total_cmp(&wants(*a).0).then(wants(*b).1.total_cmp(&wants(*a).1))),
            3 => items.sort_by(|a, b| (wants(*a).0 - middle).abs().total_cmp(&(wants(*b).0 - middle).abs())),
            _ => {
                for index in (1..items.len()).rev() {
                    let other = self.dice.below(index + 1);
                    items.swap(index, other);
                }
            }
        }
    }

    /// Which to take out this time.
    fn taken(&mut self, state: &State, mobile: &[usize]) -> Vec<usize> {
        let seed = mobile[self.dice.below(mobile.len())];
        let most = mobile.len().min(8);
        let count = 1 + self.dice.below(most);
        let near = |index: usize, axis: usize| {
            let place = |index: usize| state.spots[index].map(|spot| spot.at[axis]);
            place(index).zip(place(seed)).map_or(0.0, |(a, b)| (a - b).abs())
        };
        let mut some = mobile.to_vec();
        match self.dice.below(5) {
            // Neighbours along the plate.
            0 | 1 => some.sort_by(|a, b| near(*a, 0).total_cmp(&near(*b, 0))),
            // A row, nearest in it first.
            2 => some.sort_by(|a, b| {
                (near(*a, 1), near(*a, 0)).partial_cmp(&(near(*b, 1), near(*b, 0))).unwrap_or(std::cmp::Ordering::Equal)
            }),
            // Those that want the same place.
            3 => {
                let wants = |index: usize| self.problem.items[index].target.map_or(f64::MAX / 4.0, |target| target.x);
                some.sort_by(|a, b| (wants(*a) - wants(seed)).abs().total_cmp(&(wants(*b) - wants(seed)).abs()));
            }
            _ => self.order(&mut some, 4),
        }
        some.truncate(count);
        // Whatever lacks a place is always among them.
        some.extend(state.lacking().filter(|index| mobile.contains(index)));
        some.sort_unstable();
        some.dedup();
        some
    }

    /// Searches until `effort` is spent, the bound is met, or, where only a place for all is wanted,
    /// all have one.
    pub fn run(&mut self, effort: u64, bound: f64, any: bool) -> State {
        let problem = self.problem;
        let fixed: Vec<usize> =
            (0..problem.items.len()).filter(|index| problem.items[*index].fixed.is_some()).collect();
        let mobile: Vec<usize> =
            (0..problem.items.len()).filter(|index| problem.items[*index].fixed.is_none()).collect();
        let mut start = State::new(problem);
        self.fill(&mut start, &fixed, false);
        if mobile.is_empty() {
            return start;
        }
        let mut spent = 0;
        let mut best: Option<(State, f64)> = None;
        for kind in 0..4 {
            let mut order = mobile.clone();
            self.order(&mut order, kind);
            let mut state = start.clone();
            state.spent = 0;
            self.fill(&mut state, &order, false);
            self.exchange(&mut state, &mobile);
            spent += state.spent;
            let total = self.total(&state);
            if best.as_ref().is_none_or(|(_, least)| total < *least - 1e-9) {
                best = Some((state, total));
            }
            if spent > effort {
                break;
            }
        }
        let Some((mut best, mut least)) = best else { return start };
        let mut now = best.clone();
        let mut at = least;
        let mut stale = 0_u32;
        while spent < effort && least > bound + 1e-6 {
            let lacks = best.lacking().next().is_some();
            // What a third of the effort finds no place for is given up: a larger plate is looked for.
            if (any && !lacks) || (!any && lacks && spent > effort / 3) {
                break;
            }
            let mut next = now.clone();
            next.spent = 0;
            let mut out = self.taken(&now, &mobile);
            for &index in &out {
                next.spots[index] = None;
            }
            let kind = self.dice.below(5);
            self.order(&mut out, kind);
            self.fill(&mut next, &out, true);
            let mut total = self.total(&next);
            // A promising one is worth the comparisons of all pairs.
            if total < at + 60.0 {
                self.exchange(&mut next, &mobile);
                total = self.total(&next);
            }
            spent += next.spent.max(1);
            // Worse is taken now and then, less and less as the effort runs out.
            let heat = 12.0 * (1.0 - spent as f64 / effort as f64).max(0.0);
            let luck = -heat * libm::log(self.dice.share().max(1e-12));
            if total < at + luck.min(60.0) || total <= at {
                now = next;
                at = total;
            }
            if at < least - 1e-9 {
                best = now.clone();
                least = at;
                stale = 0;
            } else {
                stale += 1;
                if stale > 400 {
                    now = best.clone();
                    at = least;
                    stale = 0;
                }
            }
        }
        best.spent = spent;
        best
    }
}
