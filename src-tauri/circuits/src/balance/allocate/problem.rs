//! What is to be allocated, and what an allocation is judged by.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use survey::{Amps, CircuitId, PoleAt};

use super::{AllocateError, Loading, RESOLUTION, Wishes};

/// A current against its own line's voltage: in phase, and lagging by a quarter period, A.
pub(super) type Current = [f64; 2];

/// Kinds of room: poles of each line, and pairs that begin on each line.
pub(super) const ROOM: usize = 6;

/// What an item puts on the board in one of its places: a line, or a pair of neighbouring lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// On each line.
    pub(super) lines: [Current; 3],
    /// In the neutral, against the first line's voltage.
    pub(super) neutral: Current,
    /// Poles taken of each line, then pairs of neighbouring poles that begin on each line.
    pub(super) poles: [isize; ROOM],
    /// Members that are here today.
    pub(super) today: usize,
    /// False where wishes with circuits that stay, or the reach of neutral leads, bar it.
    pub(super) allowed: bool,
}

/// What a current that returns by the neutral adds to it from a line.
pub(super) fn in_neutral([active, reactive]: Current, line: usize) -> Current {
    let half_root3 = 3.0_f64.sqrt() / 2.0;
    match line {
        0 => [active, reactive],
        1 => [-active / 2.0 - reactive * half_root3, -reactive / 2.0 + active * half_root3],
        _ => [-active / 2.0 + reactive * half_root3, -reactive / 2.0 - active * half_root3],
    }
}

/// Circuits that move as one.
#[derive(Clone, Debug)]
pub(super) struct Item {
    pub(super) members: Vec<(CircuitId, PoleAt)>,
    /// Two poles between two lines: its place is that of its first pole.
    pub(super) pair: bool,
    /// One for each line.
    pub(super) places: [Place; 3],
    /// Items that must be on other lines.
    pub(super) apart: Vec<usize>,
}

impl Item {
    /// The place where most of it is today.
    pub(super) fn today(&self) -> usize {
        (0..3).max_by_key(|place| self.places[*place].today).unwrap_or(0)
    }

    /// Large currents decide, so they come first; pairs before all others, see `Search`.
    fn order(&self, other: &Self) -> Ordering {
        let drawn = |item: &Self| item.places[0].lines.iter().copied().map(size).fold(0.0, f64::max);
        let lagging = |item: &Self| item.places[0].lines[0][1];
        (other.pair.cmp(&self.pair))
            .then(drawn(other).total_cmp(&drawn(self)))
            .then(lagging(other).total_cmp(&lagging(self)))
            .then_with(|| self.members.cmp(&other.members))
    }
}

/// The search's view: what is movable, what stands, how many poles each line has for it.
pub(super) struct Problem {
    pub(super) items: Vec<Item>,
    pub(super) standing: Sums,
}

/// What an allocation is judged by, smaller first. Currents in steps of the resolution.
pub(super) type Score = (u64, u64, usize);

/// Currents of lines and neutral, and the room that is left.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sums {
    pub(super) lines: [Current; 3],
    pub(super) neutral: Current,
    pub(super) room: [isize; ROOM],
}

pub(super) fn square([active, reactive]: Current) -> f64 {
    active * active + reactive * reactive
}

pub(super) fn size(current: Current) -> f64 {
    square(current).sqrt()
}

pub(super) fn plus(a: Current, b: Current) -> Current {
    [a[0] + b[0], a[1] + b[1]]
}

impl Sums {
    pub(super) fn add(&mut self, place: &Place) {
        for line in 0..3 {
            self.lines[line] = plus(self.lines[line], place.lines[line]);
        }
        self.room.iter_mut().zip(place.poles).for_each(|(room, poles)| *room -= poles);
        self.neutral = plus(self.neutral, place.neutral);
    }

    pub(super) fn take(&mut self, place: &Place) {
        for line in 0..3 {
            let [active, reactive] = place.lines[line];
            self.lines[line] = plus(self.lines[line], [-active, -reactive]);
        }
        self.room.iter_mut().zip(place.poles).for_each(|(room, poles)| *room += poles);
        self.neutral = plus(self.neutral, [-place.neutral[0], -place.neutral[1]]);
    }

    pub(super) fn largest(&self) -> f64 {
        self.lines.iter().copied().map(square).fold(0.0, f64::max).sqrt()
    }

    pub(super) fn neutral(&self) -> f64 {
        size(self.neutral)
    }

    pub(super) fn fits(&self) -> bool {
        self.room.iter().all(|room| *room >= 0)
    }

    pub(super) fn loading(&self) -> Loading {
        Loading { largest: Amps::new(self.largest()), neutral: Amps::new(self.neutral()) }
    }

    pub(super) fn score(&self, moved: usize) -> Score {
        (steps(self.largest()), steps(self.neutral()), moved)
    }
}

/// Steps of the resolution, rounded up; a hair over a step counts as that step.
pub(super) fn steps(current: f64) -> u64 {
    ((current / RESOLUTION.get()) - HAIR).ceil().max(0.0) as u64
}

const HAIR: f64 = 1e-6;

/// The largest current that counts as so many steps, A.
pub(super) fn most_of(steps: u64) -> f64 {
    (steps as f64 + HAIR) * RESOLUTION.get()
}

impl Problem {
    /// Sums with each item in its place.
    pub(super) fn sums(&self, places: &[usize]) -> Sums {
        let mut sums = self.standing;
        self.items.iter().zip(places).for_each(|(item, place)| sums.add(&item.places[*place]));
        sums
    }

    pub(super) fn moved(&self, places: &[usize]) -> usize {
        self.items.iter().zip(places).map(|(item, place)| item.members.len() - item.places[*place].today).sum()
    }

    pub(super) fn score(&self, places: &[usize]) -> Score {
        self.sums(places).score(self.moved(places))
    }

    /// True where wishes and leads allow an item this place beside the others.
    pub(super) fn may(&self, item: usize, place: usize, places: &[usize]) -> bool {
        let item = &self.items[item];
        item.places[place].allowed && item.apart.iter().all(|other| places.get(*other) != Some(&place))
    }

    /// Everything there is, as one current: the lines' currents always add up to it.
    pub(super) fn total(&self) -> Current {
        let all = self.items.iter().map(|item| &item.places[0].lines).chain([&self.standing.lines]);
        all.flatten().fold([0.0; 2], |sum, current| plus(sum, *current))
    }

    /// Sums after a few items change places; `None` where they find no room or break a wish.
    pub(super) fn changed(&self, sums: &Sums, places: &[usize], change: &[(usize, usize)]) -> Option<Sums> {
        let place_of =
            |item: usize| change.iter().find(|(changed, _)| *changed == item).map_or(places[item], |(_, place)| *place);
        let mut after = *sums;
        for (index, place) in change {
            let item = &self.items[*index];
            if !item.places[*place].allowed || item.apart.iter().any(|other| place_of(*other) == *place) {
                return None;
            }
            after.take(&item.places[places[*index]]);
            after.add(&item.places[*place]);
        }
        after.fits().then_some(after)
    }

    /// Puts items in the order of the search and points their wishes at the new places.
    pub(super) fn sort(&mut self) {
        let mut indexed: Vec<(usize, Item)> = self.items.drain(..).enumerate().collect();
        indexed.sort_by(|a, b| a.1.order(&b.1));
        let mut now = vec![0; indexed.len()];
        indexed.iter().enumerate().for_each(|(new, (old, _))| now[*old] = new);
        self.items = indexed
            .into_iter()
            .map(|(_, item)| Item { apart: item.apart.iter().map(|old| now[*old]).collect(), ..item })
            .collect();
    }

    /// Merges circuits that belong together and notes those that must part; a circuit that stays ties
    /// the other to its line, or bars it from there. Wishes speak of circuits on one line.
    pub(super) fn apply(&mut self, wishes: &Wishes, staying: &BTreeMap<CircuitId, usize>) -> Result<(), AllocateError> {
        let holder = |items: &[Item], id: CircuitId| {
            items.iter().position(|item| !item.pair && item.members.iter().any(|one| one.0 == id))
        };
        for [a, b] in &wishes.together {
            let (Some(first), Some(second)) = (holder(&self.items, *a), holder(&self.items, *b)) else { continue };
            if first != second {
                let (keep, gone) = (first.min(second), first.max(second));
                let gone = self.items.remove(gone);
                let kept = &mut self.items[keep];
                kept.members.extend(gone.members);
                for (place, other) in kept.places.iter_mut().zip(gone.places) {
                    for line in 0..3 {
                        place.lines[line] = plus(place.lines[line], other.lines[line]);
                        place.poles[line] += other.poles[line];
                    }
                    place.neutral = plus(place.neutral, other.neutral);
                    place.today += other.today;
                    place.allowed &= other.allowed;
                }
            }
        }
        let pairs =
            wishes.together.iter().map(|pair| (pair, true)).chain(wishes.apart.iter().map(|pair| (pair, false)));
        for ([a, b], together) in pairs {
            let contradiction = AllocateError::Contradiction(*a, *b);
            let (moving, line) = match (holder(&self.items, *a), holder(&self.items, *b)) {
                (Some(_), Some(_)) if together => continue,
                (Some(first), Some(second)) => {
                    if first == second {
                        return Err(contradiction);
                    }
                    self.items[first].apart.push(second);
                    self.items[second].apart.push(first);
                    continue;
                }
                (Some(first), None) => (first, staying.get(b)),
                (None, Some(second)) => (second, staying.get(a)),
                (None, None) => match staying.get(a).zip(staying.get(b)) {
                    Some((first, second)) if (first == second) != together => return Err(contradiction),
                    _ => continue,
                },
            };
            let Some(line) = line else { continue };
            let places = &mut self.items[moving].places;
            (0..3).filter(|other| (other == line) != together).for_each(|other| places[other].allowed = false);
            if places.iter().all(|place| !place.allowed) {
                return Err(contradiction);
            }
        }
        Ok(())
    }
}
