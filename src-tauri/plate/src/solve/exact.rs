//! Every place tried, for few entries on a coarse grid: what this finds is proved.

use survey::pattern::Point;

use super::problem::{Problem, STANCES, State};

/// More places than this, all entries together, are not tried one by one.
const MOST_PLACES: usize = 4000;
/// More entries than this are not tried.
const MOST_ITEMS: usize = 8;

struct Exact<'a> {
    problem: &'a Problem,
    order: Vec<usize>,
    places: Vec<Vec<(f64, Point)>>,
    /// Least cable of the items from here on.
    rest: Vec<f64>,
    best: Option<State>,
    least: f64,
    left: u64,
}

impl Exact<'_> {
    /// False where the effort ran out.
    fn descend(&mut self, state: &mut State, depth: usize, cost: f64) -> bool {
        let Some(&index) = self.order.get(depth) else {
            if cost < self.least - 1e-9 {
                self.least = cost;
                self.best = Some(state.clone());
            }
            return true;
        };
        let mut options: Vec<(f64, Point)> = Vec::new();
        for &(own, at) in &self.places[depth] {
            if cost + own + self.rest[depth + 1] >= self.least - 1e-9 {
                // They are in order of their own length.
                break;
            }
            let added = state.cost(self.problem, index, at);
            if cost + added + self.rest[depth + 1] < self.least - 1e-9 {
                options.push((added, at));
            }
        }
        options.sort_by(|a, b| a.0.total_cmp(&b.0));
        let stances = if self.problem.items[index].ear.is_some() { STANCES.len() } else { 1 };
        for (added, at) in options {
            if cost + added + self.rest[depth + 1] >= self.least - 1e-9 {
                break;
            }
            let mut seen = 0_u8;
            for first in 0..stances {
                if state.spent > self.left {
                    return false;
                }
                let Some(stance) = state.fits(self.problem, index, at, first) else { break };
                if seen & (1 << stance) != 0 {
                    continue;
                }
                seen |= 1 << stance;
                state.put(index, at, stance);
                let whole = self.descend(state, depth + 1, cost + added);
                state.spots[index] = None;
                if !whole {
                    return false;
                }
            }
        }
        true
    }
}

/// Tries every place. Gives the best setting-out better than `known` (of this total), if any, and
/// whether the search was carried to its end, so that nothing better is left; `None` where there are
/// too many places.
pub(crate) fn search(problem: &Problem, known: Option<f64>, effort: u64) -> Option<(Option<State>, bool, u64)> {
    let mut order: Vec<usize> =
        (0..problem.items.len()).filter(|index| problem.items[*index].fixed.is_none()).collect();
    if order.is_empty() || order.len() > MOST_ITEMS {
        return None;
    }
    let mut total = 0;
    let mut places_of = Vec::new();
    for &index in &order {
        let item = &problem.items[index];
        let (left, right) = (problem.up(item.room.x), problem.down(item.room.right()));
        let (top, bottom) = (problem.up(item.room.y), problem.down(item.room.bottom()));
        let count =
            |from: f64, to: f64| if to < from - 1e-6 { 0.0 } else { ((to - from) / problem.grid).round() + 1.0 };
        let many = count(left, right) * count(top, bottom);
        if many > MOST_PLACES as f64 {
            return None;
        }
        total += many as usize;
        if total > MOST_PLACES {
            return None;
        }
        let mut places = Vec::new();
        for column in 0..count(left, right) as usize {
            for row in 0..count(top, bottom) as usize {
                let at = [left + column as f64 * problem.grid, top + row as f64 * problem.grid];
                if problem.alone(index, at) {
                    let own = item.target.map_or(0.0, |target| problem.weights.length * (at[0] - target.x).abs());
                    places.push((own, at));
                }
            }
        }
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        places_of.push((index, places));
    }
    // Fewest places first, then the widest.
    let width = |index: usize| problem.items[index].body.radius + problem.items[index].body.half[0];
    places_of.sort_by(|a, b| a.1.len().cmp(&b.1.len()).then(width(b.0).total_cmp(&width(a.0))));
    order = places_of.iter().map(|(index, _)| *index).collect();
    let places: Vec<Vec<(f64, Point)>> = places_of.into_iter().map(|(_, places)| places).collect();
    let mut rest = vec![0.0; order.len() + 1];
    for depth in (0..order.len()).rev() {
        rest[depth] = rest[depth + 1] + places[depth].first().map_or(0.0, |place| place.0);
    }
    let mut state = State::new(problem);
    for (index, item) in problem.items.iter().enumerate() {
        if let Some(at) = item.fixed {
            let stance = state.fits(problem, index, at, 0).unwrap_or(0);
            state.put(index, at, stance);
        }
    }
    let base = state.score(problem).total;
    state.spent = 0;
    let mut exact =
        Exact { problem, order, places, rest, best: None, least: known.unwrap_or(f64::INFINITY), left: effort };
    let whole = exact.descend(&mut state, 0, base);
    let spent = state.spent;
    Some((exact.best, whole, spent))
}
