//! What no allocation can beat: items may be split between their places, and a plane that cuts off
//! all splits cuts off all allocations (Lagrangian dual; Held, Wolfe and Crowder 1974 for the step).

use super::problem::{Current, Place, Problem, plus, size, square};

/// What is to be bounded from below.
#[derive(Clone, Copy)]
pub(super) enum Goal {
    /// The largest line current.
    Largest,
    /// The neutral current where no line current is above this, A.
    Neutral(f64),
}

/// Prices of what an item uses: any of them give a bound, some the best one.
#[derive(Clone, Copy, Default)]
struct Prices {
    /// Of current on each line.
    lines: [Current; 3],
    /// Of current in the neutral.
    neutral: Current,
    /// Of a pole on each line; not negative.
    poles: [f64; 3],
}

fn dot(a: Current, b: Current) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn scaled([a, b]: Current, by: f64) -> Current {
    [a * by, b * by]
}

impl Prices {
    fn of(&self, place: &Place) -> f64 {
        let lines: f64 = (0..3)
            .map(|line| dot(self.lines[line], place.lines[line]) + self.poles[line] * place.poles[line] as f64)
            .sum();
        lines + dot(self.neutral, place.neutral)
    }

    /// Brings prices back to where they give a bound: together no longer than one.
    fn hold(&mut self, goal: Goal) {
        self.poles = self.poles.map(|price| price.max(0.0));
        let shorten = |length: f64| if length > 1.0 { 1.0 / length } else { 1.0 };
        match goal {
            Goal::Largest => {
                let by = shorten(self.lines.iter().copied().map(size).sum());
                self.lines = self.lines.map(|price| scaled(price, by));
                self.neutral = [0.0; 2];
            }
            Goal::Neutral(_) => self.neutral = scaled(self.neutral, shorten(size(self.neutral))),
        }
    }
}

/// Steps of the ascent.
const ASCENT: usize = 400;

impl Problem {
    /// The mean of three is never less than a third of their sum; lines that stand are what they are.
    pub(super) fn plain_bound(&self) -> f64 {
        let standing = self.standing.lines.iter().map(|[active, reactive]| {
            // Single-phase loads only add in both parts; two-pole devices may take off.
            if self.items.iter().any(|item| item.pair) { 0.0 } else { size([active.max(0.0), reactive.max(0.0)]) }
        });
        standing.fold(size(self.total()) / 3.0, f64::max)
    }

    /// No allocation has less than this, A. `found` is what one allocation has.
    pub(super) fn bound(&self, goal: Goal, found: f64) -> f64 {
        let mut prices = Prices::default();
        match goal {
            Goal::Largest => {
                let total = self.total();
                let length = size(total);
                if length > 0.0 {
                    prices.lines = [scaled(total, 1.0 / (3.0 * length)); 3];
                }
            }
            Goal::Neutral(_) => {
                let standing = self.standing.neutral;
                let length = size(standing);
                prices.neutral = if length > 0.0 { scaled(standing, 1.0 / length) } else { [1.0, 0.0] };
            }
        }
        // A pole's price is in amperes, a current's is a plain number: steps are taken in like units.
        let per_pole =
            self.items.iter().map(|item| size(item.places[0].lines[0])).sum::<f64>() / self.items.len().max(1) as f64;
        let mut best = 0.0_f64;
        let mut share = 1.0;
        let mut since = 0;
        for _ in 0..ASCENT {
            let (value, way) = self.priced(&prices, goal);
            if value > best + 1e-9 {
                (best, since) = (value, 0);
            } else {
                since += 1;
                if since == 8 {
                    (share, since) = (share / 2.0, 0);
                }
            }
            let steep: f64 = way.lines.iter().copied().map(square).sum::<f64>()
                + square(way.neutral)
                + way.poles.iter().map(|one| one * one * per_pole * per_pole).sum::<f64>();
            let gap = found - value;
            if gap <= 0.0 || steep <= 1e-18 || share < 1e-4 {
                break;
            }
            let step = share * gap / steep;
            for line in 0..3 {
                prices.lines[line] = plus(prices.lines[line], scaled(way.lines[line], step));
                prices.poles[line] += step * way.poles[line] * per_pole * per_pole;
            }
            prices.neutral = plus(prices.neutral, scaled(way.neutral, step));
            prices.hold(goal);
        }
        best
    }

    /// The bound that prices give, and the way in which it rises.
    fn priced(&self, prices: &Prices, goal: Goal) -> (f64, Prices) {
        let standing = &self.standing;
        let mut value = dot(prices.neutral, standing.neutral);
        let mut way = Prices { lines: standing.lines, neutral: standing.neutral, poles: [0.0; 3] };
        for line in 0..3 {
            value += dot(prices.lines[line], standing.lines[line]) - prices.poles[line] * standing.room[line] as f64;
            way.poles[line] = -standing.room[line] as f64;
        }
        for item in &self.items {
            let open = item.places.iter().filter(|place| place.allowed);
            let costs = open.map(|place| (prices.of(place), place));
            let mut least = f64::INFINITY;
            let mut ties: [Option<&Place>; 3] = [None; 3];
            let mut count = 0;
            for (cost, place) in costs {
                if cost < least - 1e-9 {
                    (least, count) = (cost, 0);
                    ties = [None; 3];
                }
                if cost <= least + 1e-9 {
                    ties[count] = Some(place);
                    count += 1;
                }
            }
            if count == 0 {
                continue;
            }
            value += least - 1e-9;
            for place in ties.into_iter().flatten() {
                let part = 1.0 / count as f64;
                for line in 0..3 {
                    way.lines[line] = plus(way.lines[line], scaled(place.lines[line], part));
                    way.poles[line] += part * place.poles[line] as f64;
                }
                way.neutral = plus(way.neutral, scaled(place.neutral, part));
            }
        }
        if let Goal::Neutral(most) = goal {
            for line in 0..3 {
                let length = size(prices.lines[line]);
                value -= most * length;
                let back = if length > 0.0 { scaled(prices.lines[line], -most / length) } else { [0.0; 2] };
                let current = way.lines[line];
                way.lines[line] = if length > 0.0 {
                    plus(current, back)
                } else {
                    // At a price of nothing only a current beyond the limit asks for one.
                    let over = size(current);
                    if over > most { scaled(current, 1.0 - most / over) } else { [0.0; 2] }
                };
            }
        }
        (value, way)
    }
}
