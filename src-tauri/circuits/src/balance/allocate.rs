//! Which pole each circuit on one or two poles should take, so that the lines are loaded evenly.
//!
//! First the largest line current is made as small as can be, then the neutral current, then the
//! number of circuits that move. The search has a limit on its effort: stopped early, it still gives
//! the best allocation found and the bound that no allocation can beat.

mod bound;
mod pairs;
mod places;
mod problem;
mod search;
mod shake;

use std::collections::{BTreeMap, BTreeSet};

use survey::pattern::Pattern;
use survey::{Amps, Board, CircuitId, Millimetres, Phase, PoleAt, Poles, SupplyPhases, say, terminal};

use super::Share;
use crate::case::Feed;
use crate::gather;
use crate::source::{Common, line_index};
use crate::tables::Tables;

use places::{Ground, Reach, both, in_order};
use problem::{Current, Item, Place, Problem, ROOM, Sums, in_neutral, plus, steps};

/// Currents closer than this count as equal: a clamp meter tells no more.
pub const RESOLUTION: Amps = Amps::new(0.1);

/// Reach of a flying neutral lead where nobody says otherwise; see [`Wishes::lead_reach`].
pub const LEAD_REACH: Millimetres = Millimetres::new(700.0);

/// What the person who decides wants kept.
#[derive(Clone, Debug)]
pub struct Wishes {
    /// Circuits that stay where they are.
    pub fixed: BTreeSet<CircuitId>,
    /// Pairs that must be on one line.
    pub together: Vec<[CircuitId; 2]>,
    /// Pairs that must be on different lines.
    pub apart: Vec<[CircuitId; 2]>,
    /// How long the search may go on, in units of its own; some ten million a second.
    pub effort: u64,
    /// How far the neutral lead of a 1P+N device reaches from the middle of its pole to its
    /// terminal, run square along the drawing: a rule of this program, no source.
    pub lead_reach: Millimetres,
    /// Circuits may also move along their own line, so that more whole ways come free.
    pub gather_spare: bool,
}

impl Default for Wishes {
    fn default() -> Self {
        Self {
            fixed: BTreeSet::new(),
            together: Vec::new(),
            apart: Vec::new(),
            effort: 500_000,
            lead_reach: LEAD_REACH,
            gather_spare: false,
        }
    }
}

/// One circuit's move to another pole; a device on two poles moves with both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// The circuit.
    pub circuit: CircuitId,
    /// Its pole today, the first of two.
    pub from: PoleAt,
    /// Its new pole.
    pub to: PoleAt,
}

/// Moves that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// To a pole that is free by then.
    Move(Move),
    /// Moves that wait for each other, such as a ring where each takes the pole of the next: all come
    /// out before any goes in.
    Exchange(Vec<Move>),
}

/// How a board is loaded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loading {
    /// Largest line current.
    pub largest: Amps,
    /// Neutral current.
    pub neutral: Amps,
}

/// An allocation of circuits to poles.
#[derive(Clone, Debug, PartialEq)]
pub struct Allocation {
    /// Today.
    pub before: Loading,
    /// After the moves.
    pub after: Loading,
    /// No allocation has a smaller largest line current than this.
    pub bound: Amps,
    /// The largest line current is proven to be the smallest there is, within [`RESOLUTION`].
    pub largest_proven: bool,
    /// So is the neutral current among allocations with that line current.
    pub neutral_proven: bool,
    /// What to do, in an order that always finds its pole free. Isolate, prove dead, then move.
    pub steps: Vec<Step>,
    /// Circuits that stay because they take three poles, have no place, or are fixed.
    pub kept: Vec<CircuitId>,
    /// Circuits kept on their line because their neutral lead reaches no free pole that was wanted, or
    /// no two neighbouring poles could be made free for them.
    pub out_of_reach: Vec<CircuitId>,
    /// Ways with no device at all, today and after the moves.
    pub free_ways: [usize; 2],
}

impl Allocation {
    /// Every single move, in order.
    pub fn moves(&self) -> impl Iterator<Item = &Move> {
        self.steps.iter().flat_map(|step| match step {
            Step::Move(one) => std::slice::from_ref(one),
            Step::Exchange(ring) => ring.as_slice(),
        })
    }
}

/// Why there is nothing to allocate.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AllocateError {
    /// The supply is not known to be three-phase.
    #[error("/supply/phases: {words}", words = say!("allocate-three-phase"))]
    NotThreePhase,
    /// The enclosure is not known.
    #[error("/enclosure: {words}", words = say!("allocate-enclosure"))]
    NoEnclosure,
    /// Wishes that exclude each other.
    #[error("{words}", words = say!("allocate-contradiction", one = .0.to_string(), other = .1.to_string()))]
    Contradiction(CircuitId, CircuitId),
    /// No allocation keeps all wishes, or none was found within the effort allowed.
    #[error("{words}", words = say!("allocate-no-room"))]
    NoRoom,
}

/// Finds the best allocation of circuits to poles.
///
/// Loads count at the middle of their range; a circuit whose load is not known counts at half its
/// device's rating. A circuit between two lines moves as a block to two neighbouring poles; one on
/// three poles loads all lines alike and stays. A 1P+N device only moves to poles from which its
/// neutral lead reaches its terminal. Who must move takes a pole in a way that is used anyway, so
/// that whole spare ways stay together. Wishes for pairs of circuits speak of those on one line.
///
/// # Errors
/// Where the supply is not three-phase, the enclosure is not known, or wishes contradict.
pub fn allocate(board: &Board, tables: &Tables, wishes: &Wishes) -> Result<Allocation, AllocateError> {
    let mut wishes = wishes.clone();
    let mut first: Option<Amps> = None;
    let mut out_of_reach = Vec::new();
    // Each round pins one circuit more, so the rounds end.
    loop {
        match attempt(board, tables, &wishes)? {
            (Ok(mut found), bound) => {
                if let Some(bound) = first {
                    // What was proven of the rest is not proven of the whole.
                    found.bound = bound;
                    found.largest_proven = steps(found.after.largest.get()) <= steps(bound.get());
                    found.neutral_proven = found.largest_proven && steps(found.after.neutral.get()) == 0;
                    found.kept.retain(|id| !out_of_reach.contains(id));
                } else {
                    found.bound = bound;
                }
                found.out_of_reach = out_of_reach;
                return Ok(found);
            }
            (Err(circuit), bound) => {
                first.get_or_insert(bound);
                out_of_reach.push(circuit);
                wishes.fixed.insert(circuit);
            }
        }
    }
}

/// An allocation, or the circuit whose lead reaches no pole of its new line; with the bound.
type Attempt = (Result<Allocation, CircuitId>, Amps);

fn attempt(board: &Board, tables: &Tables, wishes: &Wishes) -> Result<Attempt, AllocateError> {
    let pattern = board.enclosure.get().ok_or(AllocateError::NoEnclosure)?;
    let crate::Gathered { common, circuits, .. } = gather(board, tables);
    if common.supply != Some(SupplyPhases::Three) {
        return Err(AllocateError::NotThreePhase);
    }
    let taken = terminal::occupancy(board, pattern);
    let mut free: BTreeSet<PoleAt> = pattern.poles().filter(|pole| !taken.poles.contains_key(pole)).collect();
    let second = second_lines(pattern);
    let mut items: Vec<Item> = Vec::new();
    let mut kept = Vec::new();
    let mut standing = Vec::new();
    let mut staying = BTreeMap::new();
    let mut reach = Reach::of(pattern, wishes.lead_reach);
    let mut movable: BTreeSet<PoleAt> = BTreeSet::new();
    for (source, share) in &circuits {
        let Some(share) = share.map(Share::at_middle) else {
            kept.push(source.id);
            continue;
        };
        let place = source.device.and_then(|(id, device)| {
            let at = device.at.filter(|_| !wishes.fixed.contains(&source.id))?;
            let poles = match device.poles? {
                Poles::P1 | Poles::P1N => vec![at],
                Poles::P2 => both(pattern, at),
                Poles::P3 | Poles::P3N => return None,
            };
            poles
                .iter()
                .all(|pole| taken.poles.get(pole) == Some(&id) && !movable.contains(pole))
                .then_some((at, poles))
        });
        let item = place.and_then(|(at, poles)| {
            let places = match (share.feed, at.phase) {
                (Feed::OneLine(Some(_)), _) => [0, 1, 2].map(|line| Some(on_one(&share, line))),
                (Feed::TwoLines(Some(_)), Some(_)) => {
                    [0, 1, 2].map(|first| second.map(|second| on_two(&common, &share, first, second[first])))
                }
                _ => return None,
            };
            let [Some(a), Some(b), Some(c)] = places else { return None };
            let mut places = [a, b, c];
            places[at.phase?.index()].today = 1;
            let pair = poles.len() == 2;
            Some((Item { members: vec![(source.id, at)], pair, places, apart: Vec::new() }, poles))
        });
        match item {
            Some((item, poles)) => {
                items.push(item);
                if source.device.is_some_and(|(_, device)| device.poles == Some(Poles::P1N)) {
                    let own = source.circuit.neutral_terminal.clone().filter(|name| !name.is_empty());
                    reach.leads.insert(source.id, own);
                }
                movable.extend(&poles);
                free.extend(poles);
            }
            None => {
                kept.push(source.id);
                standing.push(share);
                if let Feed::OneLine(Some(conductor)) = share.feed {
                    staying.insert(source.id, line_index(conductor).unwrap_or(0));
                }
            }
        }
    }
    let fixed: BTreeSet<PoleAt> = taken.poles.keys().filter(|pole| !movable.contains(pole)).copied().collect();
    let ground = Ground { free: &free, fixed: &fixed, pattern, reach: &reach };
    for item in &mut items {
        let allowed = [0, 1, 2].map(|line| {
            let here = |pole: &PoleAt| pole.phase.map(Phase::index) == Some(line);
            let opens = |id: CircuitId, pole: &PoleAt| match item.pair {
                true => ground.opens_pair(*pole),
                false => reach.may(id, *pole),
            };
            item.members.iter().all(|(id, at)| here(at) || free.iter().any(|pole| here(pole) && opens(*id, pole)))
        });
        item.places.iter_mut().zip(allowed).for_each(|(place, allowed)| place.allowed = allowed);
    }
    let mut problem = Problem { items, standing: standing_sums(&common, &standing, &ground) };
    let before = {
        let mut sums = problem.standing;
        problem.items.iter().for_each(|item| sums.add(&item.places[item.today()]));
        sums.loading()
    };
    problem.apply(wishes, &staying)?;
    problem.sort();
    let found = search::solve(&problem, wishes.effort).ok_or(AllocateError::NoRoom)?;
    let after = problem.sums(&found.places).loading();
    let bound = Amps::new(found.bound);
    let moves = match ground.places(&problem, &found.places, wishes.gather_spare) {
        Ok(moves) => moves,
        Err(circuit) => return Ok((Err(circuit), bound)),
    };
    let free_ways = [&[], moves.as_slice()].map(|moves| {
        let held: BTreeSet<u16> = ground.held(&problem, moves).iter().map(|pole| pole.way).collect();
        usize::from(pattern.ways).saturating_sub(held.len())
    });
    let steps = in_order(moves, |circuit, at| ground.poles(&problem, circuit, at));
    let found = Allocation {
        before,
        after,
        bound,
        largest_proven: found.largest_proven,
        neutral_proven: found.neutral_proven,
        steps,
        kept,
        out_of_reach: Vec::new(),
        free_ways,
    };
    Ok((Ok(found), bound))
}

/// The line of the second pole for each line that the first of two neighbouring poles is on; `None`
/// where that is not the same all over the enclosure.
fn second_lines(pattern: &Pattern) -> Option<[usize; 3]> {
    let mut found = [None; 3];
    for pole in pattern.poles() {
        let [Some(first), Some(second)] = (match both(pattern, pole).as_slice() {
            [a, b] => [a, b].map(|pole| pole.phase.map(Phase::index)),
            _ => continue,
        }) else {
            return None;
        };
        if *found[first].get_or_insert(second) != second {
            return None;
        }
    }
    let [a, b, c] = found;
    Some([a?, b?, c?])
}

/// A load between line and neutral.
fn on_one(share: &Share, line: usize) -> Place {
    let current = [share.draw.active.lo().get(), share.draw.reactive.lo().get()];
    let mut place =
        Place { lines: [[0.0; 2]; 3], neutral: in_neutral(current, line), poles: [0; ROOM], today: 0, allowed: true };
    place.lines[line] = current;
    place.poles[line] = 1;
    place
}

/// A load between two lines: nothing of it returns by the neutral.
fn on_two(common: &Common, share: &Share, first: usize, second: usize) -> Place {
    let there = Share { feed: Feed::TwoLines(Some([first, second])), ..*share };
    let lines = middles(super::Sums::of(common.supply, [&there]).lines);
    let mut place = Place { lines, neutral: [0.0; 2], poles: [0; ROOM], today: 0, allowed: true };
    place.poles[first] += 1;
    place.poles[second] += 1;
    place.poles[3 + first] += 1;
    place
}

fn middles(lines: [super::Phasor; 3]) -> [Current; 3] {
    lines.map(|phasor| [phasor.active, phasor.reactive].map(|span| span.lo / 2.0 + span.hi / 2.0))
}

/// What stays on the lines whatever moves, and the room that is open.
fn standing_sums(common: &Common, standing: &[Share], ground: &Ground) -> Sums {
    let base = super::Sums::of(common.supply, standing);
    let returning = middles(base.returning);
    let neutral = (0..3).fold([0.0; 2], |sum, line| plus(sum, in_neutral(returning[line], line)));
    let mut room = [0; ROOM];
    for pole in ground.free {
        let Some(line) = pole.phase.map(Phase::index) else { continue };
        room[line] += 1;
        room[3 + line] += isize::from(ground.opens_pair(*pole));
    }
    Sums { lines: middles(base.lines), neutral, room }
}
