//! From lines to poles: who stays, who moves where, and in what order.

use std::collections::{BTreeMap, BTreeSet};

use survey::pattern::{Pattern, Point};
use survey::{CircuitId, Millimetres, Phase, PoleAt, Poles, terminal};

use super::problem::Problem;
use super::{Move, Step};

/// How far neutral leads reach on the drawing.
pub(super) struct Reach<'a> {
    pattern: &'a Pattern,
    terminals: BTreeMap<String, Point>,
    limit: f64,
    /// Circuits with a lead, each with its own terminal where it is not that of its pole.
    pub(super) leads: BTreeMap<CircuitId, Option<String>>,
}

impl<'a> Reach<'a> {
    pub(super) fn of(pattern: &'a Pattern, limit: Millimetres) -> Self {
        let names = terminal::neutrals(pattern);
        let bar = pattern.neutral_bar;
        let count = names.len().max(1) as f64;
        let at = |index: usize| {
            let share = (index as f64 + 0.5) / count;
            if bar.h >= bar.w {
                [bar.x + bar.w / 2.0, bar.y + bar.h * share]
            } else {
                [bar.x + bar.w * share, bar.y + bar.h / 2.0]
            }
        };
        let terminals = names.into_iter().enumerate().map(|(index, name)| (name, at(index))).collect();
        Self { pattern, terminals, limit: limit.get(), leads: BTreeMap::new() }
    }

    /// True where the circuit has no lead, or its lead reaches from this pole.
    pub(super) fn may(&self, circuit: CircuitId, pole: PoleAt) -> bool {
        let Some(own) = self.leads.get(&circuit) else { return true };
        let tied = terminal::neutral_of(pole);
        let terminal = self.terminals.get(own.as_ref().unwrap_or(&tied));
        let Some((&[x, y], (rect, _))) = terminal.zip(self.pattern.pole_rect(pole)) else { return true };
        let [from_x, from_y] = rect.centre();
        (from_x - x).abs() + (from_y - y).abs() <= self.limit
    }
}

/// Where circuits may go.
pub(super) struct Ground<'a> {
    /// Poles that are free, or held by a circuit that may move.
    pub(super) free: &'a BTreeSet<PoleAt>,
    /// Poles whose device stays.
    pub(super) fixed: &'a BTreeSet<PoleAt>,
    pub(super) pattern: &'a Pattern,
    pub(super) reach: &'a Reach<'a>,
}

/// A pair's circuit, its first pole today, and its first pole to be.
type Seated = (CircuitId, PoleAt, PoleAt);

impl Ground<'_> {
    /// Moves that bring the items to their lines, or the circuit that finds no pole in reach.
    pub(super) fn places(&self, problem: &Problem, lines: &[usize], gather: bool) -> Result<Vec<Move>, CircuitId> {
        let pairs = self.pairs(problem, lines)?;
        let plain = self.fill(problem, lines, &pairs, on)?;
        if !gather {
            return Ok(plain);
        }
        let wanted = self.gathered(problem, lines, &pairs);
        match self.fill(problem, lines, &pairs, |at, line| on(at, line) && wanted.contains(at)) {
            Ok(moves) if self.ways_used(problem, &moves) < self.ways_used(problem, &plain) => Ok(moves),
            _ => Ok(plain),
        }
    }

    /// The poles of a device, from its first on; one pole where it is no pair.
    pub(super) fn poles(&self, problem: &Problem, circuit: CircuitId, at: PoleAt) -> Vec<PoleAt> {
        let pair = problem.items.iter().any(|item| item.pair && item.members.iter().any(|one| one.0 == circuit));
        if pair { both(self.pattern, at).to_vec() } else { vec![at] }
    }

    /// Poles held after some moves.
    pub(super) fn held(&self, problem: &Problem, moves: &[Move]) -> BTreeSet<PoleAt> {
        let mut held = self.fixed.clone();
        for (circuit, at) in problem.items.iter().flat_map(|item| &item.members) {
            let to = moves.iter().find(|one| one.circuit == *circuit).map_or(*at, |one| one.to);
            held.extend(self.poles(problem, *circuit, to));
        }
        held
    }

    fn ways_used(&self, problem: &Problem, moves: &[Move]) -> usize {
        self.held(problem, moves).iter().map(|pole| pole.way).collect::<BTreeSet<u16>>().len()
    }

    /// True where a device on two poles may begin here.
    pub(super) fn opens_pair(&self, at: PoleAt) -> bool {
        matches!(both(self.pattern, at).as_slice(), [a, b] if self.free.contains(a) && self.free.contains(b))
    }

    /// Neighbouring poles for every pair: its own where they are on the lines wanted, else where few
    /// others have to make room.
    fn pairs(&self, problem: &Problem, lines: &[usize]) -> Result<Vec<Seated>, CircuitId> {
        let mut vacant = self.free.clone();
        problem.items.iter().flat_map(|item| &item.members).for_each(|(circuit, at)| {
            self.poles(problem, *circuit, *at).iter().for_each(|pole| {
                vacant.remove(pole);
            });
        });
        let pairs = problem.items.iter().zip(lines).filter(|(item, _)| item.pair);
        let mut wanted: Vec<(CircuitId, PoleAt, usize)> =
            pairs.flat_map(|(item, line)| item.members.iter().map(|(circuit, at)| (*circuit, *at, *line))).collect();
        // Who may stay sits first.
        wanted.sort_by_key(|(_, at, line)| (!on(at, *line), *at));
        let mut seated: Vec<Seated> = Vec::new();
        let mut tries = TRIES;
        if self.seat_pairs(&wanted, &mut self.free.clone(), &vacant, &mut seated, &mut tries) {
            return Ok(seated);
        }
        wanted.last().map_or(Ok(seated), |(circuit, ..)| Err(*circuit))
    }

    /// Seats pairs one after the other; steps back where one finds no poles.
    fn seat_pairs(
        &self,
        wanted: &[(CircuitId, PoleAt, usize)],
        open: &mut BTreeSet<PoleAt>,
        vacant: &BTreeSet<PoleAt>,
        seated: &mut Vec<Seated>,
        tries: &mut u32,
    ) -> bool {
        let Some(((circuit, at, line), rest)) = wanted.split_first() else { return true };
        let opens = |pole: &PoleAt| {
            on(pole, *line) && self.opens_pair(*pole) && both(self.pattern, *pole).iter().all(|one| open.contains(one))
        };
        let mut starts: Vec<PoleAt> = open.iter().copied().filter(opens).collect();
        starts.sort_by_key(|pole| {
            let held = both(self.pattern, *pole).iter().filter(|pole| !vacant.contains(pole)).count();
            (pole != at, held, !self.fixed.iter().any(|fixed| fixed.way == pole.way), *pole)
        });
        for start in starts {
            if *tries == 0 {
                return false;
            }
            *tries -= 1;
            let poles = both(self.pattern, start);
            poles.iter().for_each(|pole| {
                open.remove(pole);
            });
            seated.push((*circuit, *at, start));
            if self.seat_pairs(rest, open, vacant, seated, tries) {
                return true;
            }
            seated.pop();
            open.extend(poles);
        }
        false
    }

    /// Poles to use on each line so that as few ways as can be are touched: those of ways whose
    /// devices stay first, then from the first way on.
    fn gathered(&self, problem: &Problem, lines: &[usize], pairs: &[Seated]) -> BTreeSet<PoleAt> {
        let mut wanted = BTreeSet::new();
        let taken: BTreeSet<PoleAt> = pairs.iter().flat_map(|(.., to)| both(self.pattern, *to)).collect();
        let stays = |way| self.fixed.iter().chain(&taken).any(|pole| pole.way == way);
        for line in 0..3 {
            let count: usize = problem
                .items
                .iter()
                .zip(lines)
                .filter(|(item, of)| **of == line && !item.pair)
                .map(|(item, _)| item.members.len())
                .sum();
            let mut poles: Vec<PoleAt> = self.free.difference(&taken).copied().filter(|pole| on(pole, line)).collect();
            poles.sort_by_key(|pole| (!stays(pole.way), *pole));
            wanted.extend(poles.into_iter().take(count));
        }
        wanted
    }

    /// Who may stay by `stays` stays; the others take free poles: first in ways that are used
    /// anyway, then from the first way on. A pole out of a lead's reach is passed over; where that
    /// leaves no pole, those who took the ones in reach make room.
    fn fill(
        &self,
        problem: &Problem,
        lines: &[usize],
        pairs: &[Seated],
        stays: impl Fn(&PoleAt, usize) -> bool,
    ) -> Result<Vec<Move>, CircuitId> {
        let mut vacant = self.free.clone();
        let mut used: BTreeSet<u16> = self.fixed.iter().map(|pole| pole.way).collect();
        for pole in pairs.iter().flat_map(|(.., to)| both(self.pattern, *to)) {
            vacant.remove(&pole);
            used.insert(pole.way);
        }
        let mut leaving: Vec<(CircuitId, PoleAt, usize)> = Vec::new();
        for (item, line) in problem.items.iter().zip(lines).filter(|(item, _)| !item.pair) {
            for (id, at) in &item.members {
                if stays(at, *line) && vacant.remove(at) {
                    used.insert(at.way);
                } else {
                    leaving.push((*id, *at, *line));
                }
            }
        }
        // Leads first: they have the least choice.
        leaving.sort_by_key(|(id, at, _)| (!self.reach.leads.contains_key(id), *at));
        let mut held: BTreeMap<PoleAt, usize> = BTreeMap::new();
        for index in 0..leaving.len() {
            let Some((id, ..)) = leaving.get(index) else { continue };
            let mut tried = BTreeSet::new();
            if !self.seat(index, &leaving, &vacant, &used, &mut held, &mut tried) {
                return Err(*id);
            }
            used = used.into_iter().chain(held.keys().map(|pole| pole.way)).collect();
        }
        let moves = held.into_iter().filter_map(|(to, index)| {
            let (circuit, from, _) = *leaving.get(index)?;
            (from != to).then_some(Move { circuit, from, to })
        });
        let mut moves: Vec<Move> = moves.collect();
        let pairs = pairs.iter().filter(|(_, from, to)| from != to);
        moves.extend(pairs.map(|(circuit, from, to)| Move { circuit: *circuit, from: *from, to: *to }));
        moves.sort_by_key(|one| one.from);
        Ok(moves)
    }

    /// Finds a pole for one who leaves; those who sit on one in reach move up where they can.
    fn seat(
        &self,
        index: usize,
        leaving: &[(CircuitId, PoleAt, usize)],
        vacant: &BTreeSet<PoleAt>,
        used: &BTreeSet<u16>,
        held: &mut BTreeMap<PoleAt, usize>,
        tried: &mut BTreeSet<PoleAt>,
    ) -> bool {
        let Some(&(circuit, _, line)) = leaving.get(index) else { return false };
        let mut poles: Vec<PoleAt> =
            vacant.iter().copied().filter(|pole| on(pole, line) && self.reach.may(circuit, *pole)).collect();
        poles.sort_by_key(|pole| (held.contains_key(pole), !used.contains(&pole.way), *pole));
        for pole in poles {
            if !tried.insert(pole) {
                continue;
            }
            let free = match held.get(&pole).copied() {
                None => true,
                Some(other) => self.seat(other, leaving, vacant, used, held, tried),
            };
            if free {
                held.insert(pole, index);
                return true;
            }
        }
        false
    }
}

/// Pairs of poles tried before a pair counts as one that finds none.
const TRIES: u32 = 10_000;

fn on(pole: &PoleAt, line: usize) -> bool {
    pole.phase.map(Phase::index) == Some(line)
}

/// The two poles of a two-pole device, from its first on; one where it has no neighbour.
pub(super) fn both(pattern: &Pattern, at: PoleAt) -> Vec<PoleAt> {
    terminal::span(pattern, at, Poles::P2).map_or_else(|_| vec![at], |poles| poles.into_vec())
}

/// Puts moves in an order in which each finds its poles free; moves that wait for each other come out
/// as exchanges.
pub(super) fn in_order(mut moves: Vec<Move>, poles: impl Fn(CircuitId, PoleAt) -> Vec<PoleAt>) -> Vec<Step> {
    let mut found = Vec::new();
    while !moves.is_empty() {
        let held: BTreeMap<PoleAt, usize> = moves
            .iter()
            .enumerate()
            .flat_map(|(index, one)| poles(one.circuit, one.from).into_iter().map(move |pole| (pole, index)))
            .collect();
        let waits = |index: usize| {
            let to = moves.get(index).map(|one| poles(one.circuit, one.to)).unwrap_or_default();
            to.into_iter().filter_map(|pole| held.get(&pole).copied()).filter(move |holder| *holder != index)
        };
        if let Some(index) = (0..moves.len()).find(|index| waits(*index).next().is_none()) {
            found.push(Step::Move(moves.remove(index)));
            continue;
        }
        // Every target is held by another mover: follow who waits for whom.
        let mut ring = vec![0];
        let mut next = 0;
        while let Some(index) = ring.get(next).copied() {
            for holder in waits(index) {
                if !ring.contains(&holder) {
                    ring.push(holder);
                }
            }
            next += 1;
        }
        let exchange: Vec<Move> = ring.iter().filter_map(|index| moves.get(*index).copied()).collect();
        moves.retain(|one| !exchange.contains(one));
        found.push(Step::Exchange(exchange));
    }
    found
}
