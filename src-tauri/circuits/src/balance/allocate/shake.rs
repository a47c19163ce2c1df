//! Descent from allocations that are shaken, for boards with too much to choose from.

use super::problem::{Current, Problem, Score, Sums, most_of, plus, size, square};
use super::search::good_enough;

/// A change of places that is small enough to try thousands of.
#[derive(Clone, Copy, Default)]
struct Change {
    moves: [(usize, usize); 4],
    count: usize,
}

impl Change {
    fn of(moves: &[(usize, usize)]) -> Self {
        let mut change = Self::default();
        moves.iter().take(4).for_each(|one| change.push(*one));
        change
    }

    fn push(&mut self, one: (usize, usize)) {
        self.moves[self.count] = one;
        self.count += 1;
    }

    fn as_slice(&self) -> &[(usize, usize)] {
        &self.moves[..self.count]
    }
}

/// One or two items of a line that may go to another, or none.
#[derive(Clone, Copy)]
struct Packet {
    items: [usize; 2],
    count: usize,
    /// Its part in the direction of all currents together.
    ahead: f64,
}

/// Packets of the other line that are tried with each packet of one.
const NEAR: usize = 3;

/// The same where fewer moves are looked for: any that keeps the currents will do.
const MANY_NEAR: usize = 16;

/// Currents of the lines and the neutral in a row: the inner loop only adds and squares them.
type Flows = [f64; 8];

fn flows(lines: &[Current; 3], neutral: Current) -> Flows {
    let [[a, ra], [b, rb], [c, rc]] = *lines;
    [a, ra, b, rb, c, rc, neutral[0], neutral[1]]
}

/// What is wanted while an allocation descends.
#[derive(Clone, Copy)]
struct Aim {
    /// Line currents up to this are well, A.
    most: f64,
    /// Weight of the neutral beside what lines are above that.
    neutral: f64,
}

impl Aim {
    /// How far from it, A²; nothing where all is well.
    fn miss(self, flows: &Flows) -> f64 {
        let well = self.most * self.most;
        let over = |line: usize| (square([flows[2 * line], flows[2 * line + 1]]) - well).max(0.0);
        // (I − M)² without the root: I² − M² is 2M times that near the limit.
        let line = |over: f64| over * over / (4.0 * well).max(f64::MIN_POSITIVE);
        line(over(0)) + line(over(1)) + line(over(2)) + self.neutral * square([flows[6], flows[7]])
    }
}

/// Shakes allocations and lets them descend. The random numbers are the same on every run, so the
/// answer is too.
pub(super) struct Shaker<'a> {
    problem: &'a Problem,
    /// What each item puts on the board in each of its places.
    flows: Vec<[Flows; 3]>,
    floor: u64,
    /// Ways to place the pairs, the most promising first.
    pair_ways: &'a [Vec<usize>],
    /// Pairs stay where they are.
    frozen: bool,
    state: u64,
    ahead: Current,
    left: u64,
}

/// Ways to place the pairs that the search returns to.
const PAIR_WAYS: usize = 24;

/// Changes looked at for one unit of effort.
const LOOKS: u64 = 8;

impl<'a> Shaker<'a> {
    pub(super) fn new(problem: &'a Problem, floor: u64, pair_ways: &'a [Vec<usize>]) -> Self {
        let total = problem.total();
        let whole = size(total);
        let ahead = if whole > 0.0 { [total[0] / whole, total[1] / whole] } else { [1.0, 0.0] };
        let flows =
            problem.items.iter().map(|item| item.places.map(|place| flows(&place.lines, place.neutral))).collect();
        Self { problem, flows, floor, pair_ways, frozen: false, state: 0x9e37_79b9_7f4a_7c15, ahead, left: 0 }
    }

    fn below(&mut self, limit: usize) -> usize {
        self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 33) as usize % limit.max(1)
    }

    pub(super) fn shake(&mut self, mut best: (Score, Vec<usize>), effort: u64) -> (Score, Vec<usize>) {
        self.left = effort * LOOKS;
        let first = best.1.clone();
        let mut round = 0;
        while self.left > 0 && !good_enough(best.0, self.floor) && self.problem.items.len() > 1 {
            // Now and then from the first allocation again: it asks for fewer moves.
            let mut places = if round % 4 == 3 { first.clone() } else { best.1.clone() };
            // Every other round with the pairs elsewhere, and kept there: alone each would go back.
            self.frozen = round % 2 == 1 && self.pair_ways.len() > 1;
            if self.frozen {
                let among = self.pair_ways.len().min(PAIR_WAYS);
                let way = if round / 2 < among { round / 2 } else { self.below(among) };
                match self.with_pairs(&places, way) {
                    Some(moved) => places = moved,
                    None => {
                        round += 1;
                        self.left = self.left.saturating_sub(LOOKS);
                        continue;
                    }
                }
            }
            let mut sums = self.problem.sums(&places);
            for _ in 0..if round == 0 { 0 } else { 2 + round % 4 } {
                self.jolt(&mut places, &mut sums);
            }
            // Until the largest current is at its floor it is what counts, then at the best so far.
            let aimed = if best.0.0 > self.floor { self.floor.max(best.0.0.saturating_sub(1)) } else { best.0.0 };
            let neutral = [0.0, 0.003, 0.05, 0.5][round / 4 % 4];
            let aim = Aim { most: most_of(aimed.min(best.0.0)), neutral };
            self.settle(&mut places, &mut sums, aim);
            let mut score = self.problem.score(&places);
            if score.0 <= best.0.0 {
                score = self.problem.descend(&mut places);
                let count = self.problem.items.len() as u64;
                self.left = self.left.saturating_sub(count * count);
            }
            // What is as good is taken too: the next shake then begins elsewhere.
            if score <= best.0 {
                best = (score, places);
            }
            round += 1;
        }
        best
    }

    /// Fewer moves for the same currents: exchanges that bring more home than they take away.
    pub(super) fn spare(&mut self, mut places: Vec<usize>) -> (Score, Vec<usize>) {
        let mut score = self.problem.descend(&mut places);
        self.left = u64::MAX;
        loop {
            let sums = self.problem.sums(&places);
            let mut best: Option<(Score, Change)> = None;
            self.exchanges(&places, &sums, MANY_NEAR, |shaker, change| {
                let home = |item: usize, place: usize| shaker.problem.items[item].places[place].today;
                let gone: usize = change.as_slice().iter().map(|(item, _)| home(*item, places[*item])).sum();
                let come: usize = change.as_slice().iter().map(|(item, place)| home(*item, *place)).sum();
                if come <= gone {
                    return;
                }
                let Some(after) = shaker.problem.changed(&sums, &places, change.as_slice()) else { return };
                let next = after.score(score.2 + gone - come);
                if next < best.as_ref().map_or(score, |best| best.0) {
                    best = Some((next, change));
                }
            });
            let Some((_, change)) = best else { return (score, places) };
            change.as_slice().iter().for_each(|(item, place)| places[*item] = *place);
            score = self.problem.descend(&mut places);
        }
    }

    /// An allocation with its pairs placed one of the ways.
    fn with_pairs(&self, places: &[usize], way: usize) -> Option<Vec<usize>> {
        let way = self.pair_ways.get(way)?;
        let mut moved = places.to_vec();
        moved.iter_mut().zip(way).for_each(|(place, to)| *place = *to);
        if self.problem.sums(&moved).fits() { Some(moved) } else { self.problem.greedy(way) }
    }

    fn make(&self, places: &mut [usize], sums: &mut Sums, change: &[(usize, usize)], after: Sums) {
        change.iter().for_each(|(item, place)| places[*item] = *place);
        *sums = after;
    }

    /// A random swap, or a random move where there is room.
    fn jolt(&mut self, places: &mut [usize], sums: &mut Sums) {
        let count = places.len();
        let (a, b) = (self.below(count), self.below(count));
        let swap = [(a, places[b]), (b, places[a])];
        let to = [(a, (places[a] + 1 + self.below(2)) % 3)];
        let change: &[(usize, usize)] = if places[a] == places[b] { &to } else { &swap };
        if self.frozen && change.iter().any(|(item, _)| self.problem.items[*item].pair) {
            return;
        }
        if let Some(after) = self.problem.changed(sums, places, change) {
            self.make(places, sums, change, after);
        }
    }

    /// Descends by moves and swaps, then by exchanges of packets, until neither helps.
    fn settle(&mut self, places: &mut [usize], sums: &mut Sums, aim: Aim) {
        let mut miss = aim.miss(&flows(&sums.lines, sums.neutral));
        while miss > 0.0 && self.left > 0 {
            let found = self.step(places, sums, aim, miss).or_else(|| self.exchange(places, sums, aim, miss));
            let Some((next, change)) = found else { break };
            let Some(after) = self.problem.changed(sums, places, change.as_slice()) else { break };
            self.make(places, sums, change.as_slice(), after);
            miss = next;
        }
        // Sums drift by rounding; the caller judges by fresh ones.
        *sums = self.problem.sums(places);
    }

    /// The miss after a change, where it is less than the best so far and the change is allowed.
    fn better(&self, places: &[usize], sums: &Sums, aim: Aim, change: &[(usize, usize)], best: f64) -> Option<f64> {
        let mut after = flows(&sums.lines, sums.neutral);
        for (item, place) in change {
            let (gone, come) = (&self.flows[*item][places[*item]], &self.flows[*item][*place]);
            after.iter_mut().zip(gone.iter().zip(come)).for_each(|(sum, (gone, come))| *sum += come - gone);
        }
        let miss = aim.miss(&after);
        // A billionth is rounding.
        (miss < best * (1.0 - 1e-9) && self.problem.changed(sums, places, change).is_some()).then_some(miss)
    }

    /// The best move or swap.
    fn step(&mut self, places: &[usize], sums: &Sums, aim: Aim, miss: f64) -> Option<(f64, Change)> {
        let mut best: Option<(f64, Change)> = None;
        let count = places.len();
        let first = if self.frozen { self.problem.items.iter().take_while(|item| item.pair).count() } else { 0 };
        for a in first..count {
            for place in (0..3).filter(|place| *place != places[a]) {
                let least = best.as_ref().map_or(miss, |best| best.0);
                if let Some(found) = self.better(places, sums, aim, &[(a, place)], least) {
                    best = Some((found, Change::of(&[(a, place)])));
                }
            }
            for b in (a + 1..count).filter(|b| places[*b] != places[a]) {
                let least = best.as_ref().map_or(miss, |best| best.0);
                let swap = [(a, places[b]), (b, places[a])];
                if let Some(found) = self.better(places, sums, aim, &swap, least) {
                    best = Some((found, Change::of(&swap)));
                }
            }
        }
        self.left = self.left.saturating_sub((count * (count + 5) / 3) as u64);
        best
    }

    fn packets(&self, places: &[usize], from: usize, to: usize) -> Vec<Packet> {
        let mine: Vec<usize> = (0..places.len())
            .filter(|item| {
                let one = &self.problem.items[*item];
                places[*item] == from && !one.pair && one.places[to].allowed
            })
            .collect();
        let none = self.packet([0; 2], 0, [0.0; 2]);
        let mut found = vec![none];
        for (index, a) in mine.iter().enumerate() {
            let one = self.problem.items[*a].places[from].lines[from];
            found.push(self.packet([*a, 0], 1, one));
            for b in &mine[index + 1..] {
                let both = plus(one, self.problem.items[*b].places[from].lines[from]);
                found.push(self.packet([*a, *b], 2, both));
            }
        }
        found.sort_by(|a, b| a.ahead.total_cmp(&b.ahead).then(a.items.cmp(&b.items)));
        found
    }

    fn packet(&self, items: [usize; 2], count: usize, current: Current) -> Packet {
        Packet { items, count, ahead: current[0] * self.ahead[0] + current[1] * self.ahead[1] }
    }

    /// The best exchange of up to two items of one line with up to two of another.
    fn exchange(&mut self, places: &[usize], sums: &Sums, aim: Aim, miss: f64) -> Option<(f64, Change)> {
        let mut best: Option<(f64, Change)> = None;
        self.exchanges(places, sums, NEAR, |shaker, change| {
            let least = best.as_ref().map_or(miss, |best| best.0);
            if let Some(found) = shaker.better(places, sums, aim, change.as_slice(), least) {
                best = Some((found, change));
            }
        });
        best
    }

    /// Exchanges between two lines: for each packet of one line those of the other that come nearest
    /// to what is to go over.
    fn exchanges(&mut self, places: &[usize], sums: &Sums, near: usize, mut look: impl FnMut(&Self, Change)) {
        for (from, to) in [(0, 1), (1, 2), (2, 0)] {
            let (out, back) = (self.packets(places, from, to), self.packets(places, to, from));
            let over = [0, 1].map(|part| (sums.lines[from][part] - sums.lines[to][part]) / 2.0);
            let over = over[0] * self.ahead[0] + over[1] * self.ahead[1];
            for packet in &out {
                let wanted = packet.ahead - over;
                let middle = back.partition_point(|other| other.ahead < wanted);
                for other in &back[middle.saturating_sub(near)..(middle + near).min(back.len())] {
                    if packet.count + other.count < 2 {
                        continue;
                    }
                    let mut change = Change::default();
                    packet.items[..packet.count].iter().for_each(|item| change.push((*item, to)));
                    other.items[..other.count].iter().for_each(|item| change.push((*item, from)));
                    look(self, change);
                }
            }
            self.left = self.left.saturating_sub((out.len() * 2 * near + back.len() * 4) as u64);
        }
    }
}
