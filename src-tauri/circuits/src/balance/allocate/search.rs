//! The search: descent from several starts, branch and bound where there is little to choose from,
//! descent from shaken allocations where there is much.

use super::bound::Goal;
use super::problem::{Current, Problem, Score, Sums, most_of, plus, size, square, steps};
use super::RESOLUTION;

/// An answer and what is known of it.
pub(super) struct Solved {
    /// The place of each item.
    pub(super) places: Vec<usize>,
    /// No allocation has a smaller largest line current, A.
    pub(super) bound: f64,
    pub(super) largest_proven: bool,
    pub(super) neutral_proven: bool,
}

/// The best places for the items; `None` where none was found that keeps all wishes.
pub(super) fn solve(problem: &Problem, effort: u64) -> Option<Solved> {
    let today: Vec<usize> = problem.items.iter().map(super::problem::Item::today).collect();
    let stands = problem.sums(&today).fits() && (0..today.len()).all(|item| problem.may(item, today[item], &today));
    let mut starts: Vec<Vec<usize>> = Vec::new();
    if stands {
        starts.push(today);
    }
    starts.extend(problem.greedy(&[]));
    let mut best: Option<(Score, Vec<usize>)> = None;
    for mut places in starts {
        let score = problem.descend(&mut places);
        if best.as_ref().is_none_or(|(other, _)| score < *other) {
            best = Some((score, places));
        }
    }
    let (pair_ways, least) = problem.pair_ways();
    let mut bound = problem.plain_bound().max(least);
    if best.is_none() {
        // Wishes and poles leave so little that only trying finds a place for all.
        let mut search = Search::new(problem, None, 0, effort);
        search.run(false);
        best = search.best;
    }
    let (mut score, mut places) = best?;
    if score.0 > steps(bound) {
        bound = bound.max(problem.bound(Goal::Largest, problem.sums(&places).largest()));
    }
    let floor = steps(bound);
    let mut complete = [false; 2];
    let mut left = effort;
    for round in 0..2 {
        if !good_enough(score, floor) && round == 0 {
            (score, places) = Shaker::new(problem, floor, &pair_ways, left).shake((score, places), left / 8);
        }
        if good_enough(score, floor) || problem.items.len() > MANY {
            break;
        }
        // First whether less is to be had at all, then the neutral.
        let mut search = Search::new(problem, Some((score, places)), floor, left / 2);
        complete[round] = search.run(round == 0);
        left -= left / 2 - search.left;
        (score, places) = search.best?;
        if !complete[0] {
            break;
        }
        complete[0] |= complete[round];
    }
    let settled = |score: Score| complete[1] || good_enough(score, floor);
    if !settled(score) {
        (_, places) = Shaker::new(problem, floor, &pair_ways, left).shake((score, places), left);
    }
    // The search looks at currents; fewer moves for the same currents are found by descent.
    score = problem.descend(&mut places);
    let sums = problem.sums(&places);
    let near = |value: f64, bound: f64| value <= bound + RESOLUTION.get();
    let largest_proven = complete[0] || score.0 <= floor || near(sums.largest(), bound);
    let neutral_proven = largest_proven
        && (complete[1] || near(sums.neutral(), 0.0) || {
            let least = problem.bound(Goal::Neutral(most_of(score.0)), sums.neutral());
            near(sums.neutral(), least)
        });
    Some(Solved { places, bound, largest_proven, neutral_proven })
}

/// Nothing better is to be had, or to be read from a meter.
fn good_enough(score: Score, floor: u64) -> bool {
    score.0 <= floor && score.1 <= 1
}

/// Items beyond which branch and bound never ends.
const MANY: usize = 30;

impl Problem {
    /// The largest load first onto the line that then carries least; `None` where it finds no room.
    /// The first items have places already.
    fn greedy(&self, first: &[usize]) -> Option<Vec<usize>> {
        let mut sums = self.standing;
        let mut places: Vec<usize> = Vec::with_capacity(self.items.len());
        for (index, item) in self.items.iter().enumerate() {
            if let Some(place) = first.get(index) {
                sums.add(&item.places[*place]);
                places.push(*place);
                continue;
            }
            let best = self.open(&sums, index, &places).into_iter().flatten().min_by(|a, b| {
                a.1.total_cmp(&b.1).then(item.places[b.0].today.cmp(&item.places[a.0].today))
            })?;
            sums.add(&item.places[best.0]);
            places.push(best.0);
        }
        Some(places)
    }

    /// Places an item may take next, each with the largest current there would then be.
    fn open(&self, sums: &Sums, index: usize, places: &[usize]) -> [Option<(usize, f64)>; 3] {
        [0, 1, 2].map(|place| {
            if !self.may(index, place, places) {
                return None;
            }
            let one = &self.items[index].places[place];
            let mut after = *sums;
            after.add(one);
            let touched = (0..3).filter(|line| one.poles[*line] > 0);
            after.fits().then(|| (place, touched.map(|line| square(after.lines[line])).fold(0.0, f64::max)))
        })
    }

    /// Moves one item or swaps two as long as that improves the score.
    fn descend(&self, places: &mut [usize]) -> Score {
        let mut sums = self.sums(places);
        let mut score = sums.score(self.moved(places));
        loop {
            let mut best = (score, [(0, 0); 2], 0);
            let mut look = |change: &[(usize, usize)]| {
                let Some(after) = self.changed(&sums, places, change) else { return };
                let moved = change.iter().fold(score.2, |moved, (item, place)| {
                    let item = (&self.items[*item], places[*item]);
                    moved + item.0.places[item.1].today - item.0.places[*place].today
                });
                let next = after.score(moved);
                if next < best.0 {
                    best.0 = next;
                    best.1[..change.len()].copy_from_slice(change);
                    best.2 = change.len();
                }
            };
            for a in 0..self.items.len() {
                (0..3).filter(|place| *place != places[a]).for_each(|place| look(&[(a, place)]));
                for b in (a + 1..self.items.len()).filter(|b| places[*b] != places[a]) {
                    look(&[(a, places[b]), (b, places[a])]);
                }
            }
            let (next, change, count) = best;
            if count == 0 {
                return score;
            }
            change[..count].iter().for_each(|(item, place)| places[*item] = *place);
            sums = self.sums(places);
            score = next;
        }
    }
}

/// Depth-first search with bounds.
struct Search<'a> {
    problem: &'a Problem,
    best: Option<(Score, Vec<usize>)>,
    floor: u64,
    left: u64,
    /// Direction of all currents together, and how much of it the items from each on still bring.
    ahead: Current,
    coming: Vec<f64>,
    whole: f64,
    /// Items before this are pairs, which may also take off a line's current.
    pairs: usize,
    /// Only a smaller largest line current is of interest.
    only_largest: bool,
}

impl<'a> Search<'a> {
    fn new(problem: &'a Problem, best: Option<(Score, Vec<usize>)>, floor: u64, effort: u64) -> Self {
        let total = problem.total();
        let whole = size(total);
        let ahead = if whole > 0.0 { [total[0] / whole, total[1] / whole] } else { [1.0, 0.0] };
        let mut coming = vec![0.0; problem.items.len() + 1];
        for (index, item) in problem.items.iter().enumerate().rev() {
            let most = item.places[0].lines.iter().fold([0.0; 2], |sum, current| plus(sum, *current));
            coming[index] = coming[index + 1] + most[0] * ahead[0] + most[1] * ahead[1];
        }
        let pairs = problem.items.iter().filter(|item| item.pair).count();
        Self { problem, best, floor, left: effort, ahead, coming, whole, pairs, only_largest: false }
    }

    /// True where the search came to its end, false where it ran out of effort.
    fn run(&mut self, only_largest: bool) -> bool {
        self.only_largest = only_largest;
        let mut places = Vec::with_capacity(self.problem.items.len());
        self.place(&mut self.problem.standing.clone(), &mut places)
    }

    fn done(&self) -> bool {
        let Some((score, _)) = &self.best else { return false };
        score.0 <= self.floor && (self.only_largest || score.1 == 0)
    }

    /// The largest line current that is still of interest, A.
    fn most(&self) -> f64 {
        match &self.best {
            Some((score, _)) => most_of(score.0.saturating_sub(u64::from(self.only_largest))),
            None => f64::INFINITY,
        }
    }

    fn place(&mut self, sums: &mut Sums, places: &mut Vec<usize>) -> bool {
        if self.done() {
            return true;
        }
        if self.left == 0 {
            return false;
        }
        self.left -= 1;
        let index = places.len();
        let Some(item) = self.problem.items.get(index) else {
            let score = sums.score(self.problem.moved(places));
            if self.best.as_ref().is_none_or(|(best, _)| score < *best) {
                self.best = Some((score, places.clone()));
            }
            return true;
        };
        let mut open: Vec<(usize, f64)> = self.problem.open(sums, index, places).into_iter().flatten().collect();
        open.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        // Of equal loads in a row the later ones never take an earlier line: the rest is the same
        // allocation with names exchanged. Loads with wishes are not exchangeable.
        let twin = index.checked_sub(1).filter(|before| {
            let other = &self.problem.items[*before];
            let alike = |(a, b): (&super::problem::Place, &super::problem::Place)| {
                a.lines == b.lines && a.poles == b.poles && a.neutral == b.neutral && a.allowed == b.allowed
            };
            other.apart.is_empty() && item.apart.is_empty() && other.places.iter().zip(&item.places).all(alike)
        });
        let least = twin.map_or(0, |twin| places[twin]);
        let mut complete = true;
        for (place, _) in open {
            if place < least {
                continue;
            }
            let most = self.most();
            let one = &item.places[place];
            sums.add(one);
            if self.hopeful(sums, index + 1, most) {
                places.push(place);
                complete &= self.place(sums, places);
                places.pop();
            }
            sums.take(one);
            if !complete && self.left == 0 {
                break;
            }
        }
        complete
    }

    /// False where no way to place the items that are left keeps all lines within a limit.
    fn hopeful(&self, sums: &Sums, next: usize, most: f64) -> bool {
        if most.is_infinite() || next < self.pairs {
            return true;
        }
        // Single-phase loads only add in both parts: what a line carries now, it carries in the end.
        // And if no line goes beyond the limit, none stays below what the other two leave to it.
        let least = self.whole - 2.0 * most - HAIR;
        sums.lines.iter().all(|[active, reactive]| {
            square([active.max(0.0), reactive.max(0.0)]) <= most * most
                && active * self.ahead[0] + reactive * self.ahead[1] + self.coming[next] >= least
        })
    }
}

/// Room for rounding, A.
const HAIR: f64 = 1e-9;

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
    fn miss(self, sums: &Sums) -> f64 {
        let well = self.most * self.most;
        let lines = sums.lines.iter().map(|line| {
            let over = (square(*line) - well).max(0.0);
            // (I − M)² without the root: I² − M² is 2M times that near the limit.
            if well > 0.0 { over * over / (4.0 * well) } else { over }
        });
        lines.sum::<f64>() + self.neutral * square(sums.neutral)
    }
}

/// Shakes allocations and lets them descend. The random numbers are the same on every run, so the
/// answer is too.
struct Shaker<'a> {
    problem: &'a Problem,
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
    fn new(problem: &'a Problem, floor: u64, pair_ways: &'a [Vec<usize>], seed: u64) -> Self {
        let total = problem.total();
        let whole = size(total);
        let ahead = if whole > 0.0 { [total[0] / whole, total[1] / whole] } else { [1.0, 0.0] };
        Self { problem, floor, pair_ways, frozen: false, state: seed ^ 0x9e37_79b9_7f4a_7c15, ahead, left: 0 }
    }

    fn below(&mut self, limit: usize) -> usize {
        self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 33) as usize % limit.max(1)
    }

    fn shake(&mut self, mut best: (Score, Vec<usize>), effort: u64) -> (Score, Vec<usize>) {
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
        let mut miss = aim.miss(sums);
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
        let mut after = *sums;
        for (item, place) in change {
            let item = (&self.problem.items[*item], places[*item]);
            after.take(&item.0.places[item.1]);
            after.add(&item.0.places[*place]);
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

    /// The best exchange of up to two items of one line with up to two of another: for each packet of
    /// one line those of the other that come nearest to what is to go over.
    fn exchange(&mut self, places: &[usize], sums: &Sums, aim: Aim, miss: f64) -> Option<(f64, Change)> {
        let mut best: Option<(f64, Change)> = None;
        for (from, to) in [(0, 1), (1, 2), (2, 0)] {
            let (out, back) = (self.packets(places, from, to), self.packets(places, to, from));
            let over = [0, 1].map(|part| (sums.lines[from][part] - sums.lines[to][part]) / 2.0);
            let over = over[0] * self.ahead[0] + over[1] * self.ahead[1];
            for packet in &out {
                let wanted = packet.ahead - over;
                let middle = back.partition_point(|other| other.ahead < wanted);
                for other in &back[middle.saturating_sub(NEAR)..(middle + NEAR).min(back.len())] {
                    if packet.count + other.count < 2 {
                        continue;
                    }
                    let mut change = Change::default();
                    packet.items[..packet.count].iter().for_each(|item| change.push((*item, to)));
                    other.items[..other.count].iter().for_each(|item| change.push((*item, from)));
                    let least = best.as_ref().map_or(miss, |best| best.0);
                    if let Some(found) = self.better(places, sums, aim, change.as_slice(), least) {
                        best = Some((found, change));
                    }
                }
            }
            self.left = self.left.saturating_sub((out.len() * 2 * NEAR + back.len() * 4) as u64);
        }
        best
    }
}
