//! The search: descent from several starts, branch and bound where there is little to choose from,
//! descent from shaken allocations where there is much.

use super::RESOLUTION;
use super::bound::Goal;
use super::problem::{Current, Item, Place, Problem, Score, Sums, most_of, plus, size, square, steps};
use super::shake::Shaker;

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
    let today: Vec<usize> = problem.items.iter().map(Item::today).collect();
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
    let mut left = effort;
    let shaken = |best, effort| Shaker::new(problem, floor, &pair_ways).shake(best, effort);
    if !good_enough(score, floor) {
        (score, places) = shaken((score, places), left / 8);
        left -= left / 8;
    }
    // First whether less is to be had at all, then the neutral.
    let (mut largest_complete, mut complete) = (false, false);
    if problem.items.len() <= MANY && !good_enough(score, floor) {
        let mut search = Search::new(problem, Some((score, places)), floor, left / 2);
        largest_complete = search.run(true);
        left -= left / 2 - search.left;
        if largest_complete {
            search.left = left / 2;
            complete = search.run(false);
            left -= left / 2 - search.left;
        }
        (score, places) = search.best?;
    }
    if !complete && !good_enough(score, floor) {
        (_, places) = shaken((score, places), left);
    }
    // The search looks at currents; now fewer moves for the same.
    (score, places) = Shaker::new(problem, floor, &pair_ways).spare(places);
    let sums = problem.sums(&places);
    let near = |value: f64, bound: f64| value <= bound + RESOLUTION.get();
    let largest_proven = largest_complete || score.0 <= floor || near(sums.largest(), bound);
    let neutral_proven = largest_proven
        && (complete || near(sums.neutral(), 0.0) || {
            let least = problem.bound(Goal::Neutral(most_of(score.0)), sums.neutral());
            near(sums.neutral(), least)
        });
    // A search that looked at all there is proves more than the bound it began with.
    let bound = if largest_complete { bound.max(sums.largest() - RESOLUTION.get()) } else { bound };
    Some(Solved { places, bound, largest_proven, neutral_proven })
}

/// Nothing better is to be had, or to be read from a meter.
pub(super) fn good_enough(score: Score, floor: u64) -> bool {
    score.0 <= floor && score.1 <= 1
}

/// Items beyond which branch and bound never ends.
const MANY: usize = 30;

impl Problem {
    /// The largest load first onto the line that then carries least; `None` where it finds no room.
    /// The first items have places already.
    pub(super) fn greedy(&self, first: &[usize]) -> Option<Vec<usize>> {
        let mut sums = self.standing;
        let mut places: Vec<usize> = Vec::with_capacity(self.items.len());
        for (index, item) in self.items.iter().enumerate() {
            if let Some(place) = first.get(index) {
                sums.add(&item.places[*place]);
                places.push(*place);
                continue;
            }
            let best = self
                .open(&sums, index, &places)
                .into_iter()
                .flatten()
                .min_by(|a, b| a.1.total_cmp(&b.1).then(item.places[b.0].today.cmp(&item.places[a.0].today)))?;
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
    pub(super) fn descend(&self, places: &mut [usize]) -> Score {
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
            let alike = |(a, b): (&Place, &Place)| {
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
