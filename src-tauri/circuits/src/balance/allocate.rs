//! Which pole each single-pole circuit should take, so that the lines are loaded evenly.
//!
//! First the largest line current is made as small as can be, then the neutral current, then the
//! number of circuits that move. Branch and bound with a limit on its effort: stopped early, it
//! still gives the best allocation found and the bound that no allocation can beat.

use std::collections::{BTreeMap, BTreeSet};

use survey::pattern::{Pattern, Point};
use survey::{Amps, Board, CircuitId, Millimetres, Phase, PoleAt, Poles, SupplyPhases, terminal};

use super::Share;
use crate::case::Feed;
use crate::gather;
use crate::source::line_index;
use crate::tables::Tables;

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
    /// Nodes the search may visit; a few million a second.
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

/// One circuit's move to another pole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// The circuit.
    pub circuit: CircuitId,
    /// Its pole today.
    pub from: PoleAt,
    /// Its new pole.
    pub to: PoleAt,
}

/// Moves that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// To a pole that is free by then.
    Move(Move),
    /// A ring: each takes the pole of the next, so all come out before any goes in.
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
    /// Circuits that stay because they take more than one pole, have no place, or are fixed.
    pub kept: Vec<CircuitId>,
    /// Circuits kept on their line because their neutral lead reaches no free pole that was wanted.
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
    #[error("/supply/phases: only a three-phase supply can be balanced")]
    NotThreePhase,
    /// The enclosure is not known.
    #[error("/enclosure: pick the enclosure's pattern first")]
    NoEnclosure,
    /// Wishes that exclude each other.
    #[error("circuits {0} and {1} cannot be kept as wished: drop one of the wishes")]
    Contradiction(CircuitId, CircuitId),
    /// No allocation keeps all wishes, or none was found within the effort allowed.
    #[error("no allocation keeps all wishes: drop one, or allow more effort")]
    NoRoom,
}

/// Circuits that move as one.
#[derive(Clone, Debug)]
struct Item {
    members: Vec<(CircuitId, PoleAt)>,
    active: f64,
    reactive: f64,
    /// Members on each line today.
    today: [usize; 3],
    apart: Vec<usize>,
    /// Lines that the wishes with circuits that stay, and the reach of neutral leads, leave it.
    allowed: [bool; 3],
}

impl Item {
    fn poles(&self) -> isize {
        isize::try_from(self.members.len()).unwrap_or(isize::MAX / 4)
    }
}

/// The search's view: what is movable, what stands, how many poles each line has for it.
struct Problem {
    items: Vec<Item>,
    lines: [[f64; 2]; 3],
    returning: [[f64; 2]; 3],
    room: [isize; 3],
}

/// What an allocation is judged by, smaller first. Currents in steps of the resolution.
type Score = (u64, u64, usize);

#[derive(Clone, Copy)]
struct Sums {
    lines: [[f64; 2]; 3],
    returning: [[f64; 2]; 3],
    room: [isize; 3],
}

fn size([active, reactive]: [f64; 2]) -> f64 {
    (active * active + reactive * reactive).sqrt()
}

impl Sums {
    fn add(&mut self, item: &Item, line: usize) {
        for sums in [&mut self.lines, &mut self.returning] {
            sums[line][0] += item.active;
            sums[line][1] += item.reactive;
        }
        self.room[line] -= item.poles();
    }

    fn take(&mut self, item: &Item, line: usize) {
        for sums in [&mut self.lines, &mut self.returning] {
            sums[line][0] -= item.active;
            sums[line][1] -= item.reactive;
        }
        self.room[line] += item.poles();
    }

    fn largest(&self) -> f64 {
        self.lines.iter().map(|line| size(*line)).fold(0.0, f64::max)
    }

    fn neutral(&self) -> f64 {
        let half_root3 = 3.0_f64.sqrt() / 2.0;
        let [[a, ra], [b, rb], [c, rc]] = self.returning;
        size([
            a - b / 2.0 - rb * half_root3 - c / 2.0 + rc * half_root3,
            ra - rb / 2.0 + b * half_root3 - rc / 2.0 - c * half_root3,
        ])
    }

    fn loading(&self) -> Loading {
        Loading { largest: Amps::new(self.largest()), neutral: Amps::new(self.neutral()) }
    }
}

/// Steps of the resolution, rounded up; a hair over a step counts as that step.
fn steps(current: f64) -> u64 {
    steps_of(current, RESOLUTION.get())
}

fn steps_of(current: f64, unit: f64) -> u64 {
    ((current / unit) - 1e-6).ceil().max(0.0) as u64
}

/// Steps in which a shaken allocation descends first: a tenth of a step less is progress there.
const FINE: f64 = 0.005;

impl Problem {
    fn empty(&self) -> Sums {
        Sums { lines: self.lines, returning: self.returning, room: self.room }
    }

    fn sums(&self, lines: &[usize]) -> Sums {
        let mut sums = self.empty();
        for (item, line) in self.items.iter().zip(lines) {
            sums.add(item, *line);
        }
        sums
    }

    fn moved(&self, lines: &[usize]) -> usize {
        self.items.iter().zip(lines).map(|(item, line)| item.members.len() - item.today[*line]).sum()
    }

    fn score(&self, sums: &Sums, lines: &[usize]) -> Score {
        self.score_in(sums, lines, RESOLUTION.get())
    }

    fn score_in(&self, sums: &Sums, lines: &[usize], unit: f64) -> Score {
        (steps_of(sums.largest(), unit), steps_of(sums.neutral(), unit), self.moved(lines))
    }

    fn may(&self, item: usize, line: usize, lines: &[usize]) -> bool {
        let item = &self.items[item];
        item.allowed[line] && item.apart.iter().all(|other| lines.get(*other) != Some(&line))
    }

    /// No allocation has a smaller largest line current: the mean of three is never less than a
    /// third of their sum.
    fn bound(&self) -> f64 {
        let mut total = [0.0; 2];
        for line in self.lines {
            total = [total[0] + line[0], total[1] + line[1]];
        }
        for item in &self.items {
            total = [total[0] + item.active, total[1] + item.reactive];
        }
        self.lines.iter().map(|line| size(*line)).fold(size(total) / 3.0, f64::max)
    }

    /// The largest load first onto the line that then carries least; `None` where it finds no room.
    fn greedy(&self) -> Option<Vec<usize>> {
        let mut sums = self.empty();
        let mut lines: Vec<usize> = Vec::with_capacity(self.items.len());
        for (index, item) in self.items.iter().enumerate() {
            let best = self
                .open(&sums, index, item, &lines)
                .min_by(|a, b| a.1.total_cmp(&b.1).then(item.today[b.0].cmp(&item.today[a.0])))?;
            sums.add(item, best.0);
            lines.push(best.0);
        }
        Some(lines)
    }

    /// Lines an item may take next, each with the current it would then carry.
    fn open<'a>(
        &'a self,
        sums: &'a Sums,
        index: usize,
        item: &'a Item,
        lines: &'a [usize],
    ) -> impl Iterator<Item = (usize, f64)> + 'a {
        (0..3).filter(move |line| sums.room[*line] >= item.poles() && self.may(index, *line, lines)).map(move |line| {
            let [active, reactive] = sums.lines[line];
            (line, size([active + item.active, reactive + item.reactive]))
        })
    }

    /// The score after a few items change lines; `None` where they find no room or break a wish.
    fn changed(
        &self,
        sums: &Sums,
        lines: &[usize],
        moved: usize,
        change: &[(usize, usize)],
        unit: f64,
    ) -> Option<Score> {
        let line_of =
            |item: usize| change.iter().find(|(changed, _)| *changed == item).map_or(lines[item], |(_, line)| *line);
        let (mut after, mut moved) = (*sums, moved);
        for (item, _) in change {
            after.take(&self.items[*item], lines[*item]);
        }
        for (index, line) in change {
            let item = &self.items[*index];
            let open = item.allowed[*line] && after.room[*line] >= item.poles();
            if !open || item.apart.iter().any(|other| line_of(*other) == *line) {
                return None;
            }
            after.add(item, *line);
            moved = moved + item.today[lines[*index]] - item.today[*line];
        }
        Some((steps_of(after.largest(), unit), steps_of(after.neutral(), unit), moved))
    }

    /// Moves one item or swaps two as long as that improves the score.
    fn descend(&self, lines: &mut [usize]) -> Score {
        self.descend_in(lines, RESOLUTION.get())
    }

    fn descend_in(&self, lines: &mut [usize], unit: f64) -> Score {
        let mut sums = self.sums(lines);
        let mut score = self.score_in(&sums, lines, unit);
        loop {
            let mut best = (score, [(0, 0); 2], 0);
            for a in 0..self.items.len() {
                for line in 0..3 {
                    if line == lines[a] {
                        continue;
                    }
                    match self.changed(&sums, lines, score.2, &[(a, line)], unit) {
                        Some(next) if next < best.0 => best = (next, [(a, line), (0, 0)], 1),
                        _ => {}
                    }
                }
                for b in a + 1..self.items.len() {
                    let swap = [(a, lines[b]), (b, lines[a])];
                    if lines[a] == lines[b] {
                        continue;
                    }
                    match self.changed(&sums, lines, score.2, &swap, unit) {
                        Some(next) if next < best.0 => best = (next, swap, 2),
                        _ => {}
                    }
                }
            }
            let (next, change, count) = best;
            if count == 0 {
                return score;
            }
            for (item, line) in &change[..count] {
                lines[*item] = *line;
            }
            sums = self.sums(lines);
            score = next;
        }
    }
}

/// Times a stopped search's answer is shaken, as a share of the effort.
const EFFORT_PER_SHAKE: u64 = 1500;
/// Most swaps in a shake: enough to leave where descent ended, few enough to stay near.
const SWAPS: usize = 4;

impl Problem {
    /// Swaps a few items at random and descends again, many times; keeps what is better. The random
    /// numbers are the same on every run, so the answer is too.
    fn shaken(&self, mut best: (Score, Vec<usize>), floor: u64, effort: u64) -> (Score, Vec<usize>) {
        let count = self.items.len();
        let mut state = 0x9e37_79b9_7f4a_7c15_u64;
        let mut below = |limit: usize| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as usize % limit.max(1)
        };
        for round in 0..effort / EFFORT_PER_SHAKE {
            if best.0.0 <= floor || count < 2 {
                break;
            }
            let mut lines = best.1.clone();
            for _ in 0..2 + round as usize % (SWAPS - 1) {
                let (a, b) = (below(count), below(count));
                let (sums, moved) = (self.sums(&lines), self.moved(&lines));
                let swap = [(a, lines[b]), (b, lines[a])];
                if lines[a] != lines[b] && self.changed(&sums, &lines, moved, &swap, FINE).is_some() {
                    lines.swap(a, b);
                }
            }
            self.descend_in(&mut lines, FINE);
            let score = self.descend(&mut lines);
            // What is as good is taken too: the next shake then begins elsewhere.
            if score <= best.0 {
                best = (score, lines);
            }
        }
        best
    }
}

/// Depth-first search with bounds.
struct Search<'a> {
    problem: &'a Problem,
    best: Vec<usize>,
    score: Score,
    floor: u64,
    left: u64,
}

impl Search<'_> {
    /// True where the search came to its end, false where it ran out of effort.
    fn run(&mut self, sums: &mut Sums, lines: &mut Vec<usize>) -> bool {
        if self.score.0 <= self.floor && self.score.1 == 0 {
            return true;
        }
        if self.left == 0 {
            return false;
        }
        self.left -= 1;
        let index = lines.len();
        let Some(item) = self.problem.items.get(index) else {
            let score = self.problem.score(sums, lines);
            if score < self.score {
                self.score = score;
                self.best.clone_from(lines);
            }
            return true;
        };
        let mut open: Vec<(usize, f64)> = self.problem.open(sums, index, item, lines).collect();
        open.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        // Of equal loads in a row the later ones never take an earlier line: the rest is the same
        // allocation with names exchanged. Loads with wishes are not exchangeable.
        let twin = index.checked_sub(1).filter(|before| {
            let other = &self.problem.items[*before];
            other.active == item.active
                && other.reactive == item.reactive
                && other.members.len() == item.members.len()
                && other.apart.is_empty()
                && item.apart.is_empty()
                && other.allowed == item.allowed
        });
        let least = twin.map_or(0, |twin| lines[twin]);
        let mut complete = true;
        for (line, carried) in open {
            // Lagging loads only add: what a line carries now, it carries in the end.
            if line < least || steps(carried) > self.score.0 {
                continue;
            }
            sums.add(item, line);
            lines.push(line);
            complete &= self.run(sums, lines);
            lines.pop();
            sums.take(item, line);
            if !complete && self.left == 0 {
                break;
            }
        }
        complete
    }
}

/// Finds the best allocation of single-pole circuits to poles.
///
/// Loads count at the middle of their range; a circuit whose load is not known counts at half its
/// device's rating. Circuits on two or three poles stay where they are, as blocks. A 1P+N device only
/// moves to poles from which its neutral lead reaches its terminal. Who must move takes a pole in a
/// way that is used anyway, so that whole spare ways stay together.
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
    let (common, circuits) = gather(board, tables);
    if common.supply != Some(SupplyPhases::Three) {
        return Err(AllocateError::NotThreePhase);
    }
    let taken = terminal::occupancy(board, pattern);
    let mut free: BTreeSet<PoleAt> = pattern.poles().filter(|pole| !taken.poles.contains_key(pole)).collect();
    let mut problem = Problem { items: Vec::new(), lines: [[0.0; 2]; 3], returning: [[0.0; 2]; 3], room: [0; 3] };
    let mut kept = Vec::new();
    let mut standing = Vec::new();
    let mut staying = BTreeMap::new();
    let mut reach = Reach::of(pattern, wishes.lead_reach);
    for (source, share) in &circuits {
        let Some(share) = share.map(Share::at_middle) else {
            kept.push(source.id);
            continue;
        };
        let place = source.device.and_then(|(id, device)| {
            let at = device.at.filter(|at| taken.poles.get(at) == Some(&id))?;
            matches!(device.poles, Some(Poles::P1 | Poles::P1N)).then_some(at)
        });
        match (place, share.feed) {
            (Some(at), Feed::OneLine(Some(conductor))) if !wishes.fixed.contains(&source.id) => {
                let mut today = [0; 3];
                today[line_index(conductor).unwrap_or(0)] = 1;
                problem.items.push(Item {
                    members: vec![(source.id, at)],
                    active: share.draw.active.lo().get(),
                    reactive: share.draw.reactive.lo().get(),
                    today,
                    apart: Vec::new(),
                    allowed: [true; 3],
                });
                if source.device.is_some_and(|(_, device)| device.poles == Some(Poles::P1N)) {
                    let own = source.circuit.neutral_terminal.clone().filter(|name| !name.is_empty());
                    reach.leads.insert(source.id, own);
                }
                free.insert(at);
            }
            (_, feed) => {
                kept.push(source.id);
                standing.push(share);
                if let Feed::OneLine(Some(conductor)) = feed {
                    staying.insert(source.id, line_index(conductor).unwrap_or(0));
                }
            }
        }
    }
    let base = super::Sums::of(common.supply, &standing);
    let middle = |phasor: super::Phasor| [phasor.active, phasor.reactive].map(|span| span.lo / 2.0 + span.hi / 2.0);
    problem.lines = base.lines.map(middle);
    problem.returning = base.returning.map(middle);
    for pole in &free {
        if let Some(phase) = pole.phase {
            problem.room[phase.index()] += 1;
        }
    }
    for item in &mut problem.items {
        item.allowed = [0, 1, 2].map(|line| {
            let reachable = |pole: &PoleAt| pole.phase.map(Phase::index) == Some(line);
            item.members
                .iter()
                .all(|(id, at)| reachable(at) || free.iter().any(|pole| reachable(pole) && reach.may(*id, *pole)))
        });
    }
    apply(wishes, &staying, &mut problem)?;
    // Large loads first: they decide.
    let order = |a: &Item, b: &Item| {
        size([b.active, b.reactive])
            .total_cmp(&size([a.active, a.reactive]))
            .then(b.reactive.total_cmp(&a.reactive))
            .then_with(|| a.members.cmp(&b.members))
    };
    sort_items(&mut problem.items, order);
    let today: Vec<usize> =
        problem.items.iter().map(|item| (0..3).max_by_key(|line| item.today[*line]).unwrap_or(0)).collect();
    let before = {
        let mut sums = Sums { room: [isize::MAX / 2; 3], ..problem.empty() };
        for item in &problem.items {
            for line in 0..3 {
                let part = item.today[line] as f64 / item.members.len() as f64;
                let one = Item {
                    active: item.active * part,
                    reactive: item.reactive * part,
                    members: Vec::new(),
                    ..item.clone()
                };
                sums.add(&one, line);
            }
        }
        sums.loading()
    };
    let (best, largest_proven, neutral_proven) = solve(&problem, &today, wishes.effort).ok_or(AllocateError::NoRoom)?;
    let after = problem.sums(&best).loading();
    let bound = Amps::new(problem.bound());
    let movable: BTreeSet<PoleAt> = problem.items.iter().flat_map(|item| &item.members).map(|(_, at)| *at).collect();
    let fixed: BTreeSet<PoleAt> = taken.poles.keys().filter(|pole| !movable.contains(pole)).copied().collect();
    let ground = Ground { free: &free, fixed: &fixed, reach: &reach };
    let moves = match ground.places(&problem, &best, wishes.gather_spare) {
        Ok(moves) => moves,
        Err(circuit) => return Ok((Err(circuit), bound)),
    };
    let used = |poles: &BTreeSet<PoleAt>| poles.iter().map(|pole| pole.way).collect::<BTreeSet<u16>>().len();
    let ways = usize::from(pattern.ways);
    let mut later: BTreeSet<PoleAt> = taken.poles.keys().copied().collect();
    let today_used = used(&later);
    for one in &moves {
        later.remove(&one.from);
    }
    later.extend(moves.iter().map(|one| one.to));
    let free_ways = [ways.saturating_sub(today_used), ways.saturating_sub(used(&later))];
    let steps = in_order(moves);
    let found = Allocation {
        before,
        after,
        bound,
        largest_proven,
        neutral_proven,
        steps,
        kept,
        out_of_reach: Vec::new(),
        free_ways,
    };
    Ok((Ok(found), bound))
}

/// How far neutral leads reach on the drawing.
struct Reach<'a> {
    pattern: &'a Pattern,
    terminals: BTreeMap<String, Point>,
    limit: f64,
    /// Circuits with a lead, each with its own terminal where it is not that of its pole.
    leads: BTreeMap<CircuitId, Option<String>>,
}

impl<'a> Reach<'a> {
    fn of(pattern: &'a Pattern, limit: Millimetres) -> Self {
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
    fn may(&self, circuit: CircuitId, pole: PoleAt) -> bool {
        let Some(own) = self.leads.get(&circuit) else { return true };
        let tied = terminal::neutral_of(pole);
        let terminal = self.terminals.get(own.as_ref().unwrap_or(&tied));
        let Some((&[x, y], (rect, _))) = terminal.zip(self.pattern.pole_rect(pole)) else { return true };
        let [from_x, from_y] = rect.centre();
        (from_x - x).abs() + (from_y - y).abs() <= self.limit
    }
}

/// Where circuits may go.
struct Ground<'a> {
    /// Poles that are free, or held by a circuit that may move.
    free: &'a BTreeSet<PoleAt>,
    /// Poles whose device stays.
    fixed: &'a BTreeSet<PoleAt>,
    reach: &'a Reach<'a>,
}

impl Ground<'_> {
    /// Moves that bring the items to their lines, or the circuit that finds no pole in reach.
    fn places(&self, problem: &Problem, lines: &[usize], gather: bool) -> Result<Vec<Move>, CircuitId> {
        let plain = self.fill(problem, lines, |_, at, line| on(at, line))?;
        if !gather {
            return Ok(plain);
        }
        let wanted = self.gathered(problem, lines);
        match self.fill(problem, lines, |_, at, line| on(at, line) && wanted.contains(at)) {
            Ok(moves) if self.ways_used(problem, &moves) < self.ways_used(problem, &plain) => Ok(moves),
            _ => Ok(plain),
        }
    }

    fn ways_used(&self, problem: &Problem, moves: &[Move]) -> usize {
        let mut held = self.fixed.clone();
        held.extend(problem.items.iter().flat_map(|item| &item.members).map(|(_, at)| *at));
        moves.iter().for_each(|one| {
            held.remove(&one.from);
        });
        held.extend(moves.iter().map(|one| one.to));
        held.iter().map(|pole| pole.way).collect::<BTreeSet<u16>>().len()
    }

    /// Poles to use on each line so that as few ways as can be are touched: those of ways whose
    /// devices stay first, then from the first way on.
    fn gathered(&self, problem: &Problem, lines: &[usize]) -> BTreeSet<PoleAt> {
        let mut wanted = BTreeSet::new();
        for line in 0..3 {
            let count: usize = problem
                .items
                .iter()
                .zip(lines)
                .filter(|(_, of)| **of == line)
                .map(|(item, _)| item.members.len())
                .sum();
            let mut poles: Vec<PoleAt> = self.free.iter().copied().filter(|pole| on(pole, line)).collect();
            poles.sort_by_key(|pole| (!self.fixed.iter().any(|fixed| fixed.way == pole.way), *pole));
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
        stays: impl Fn(CircuitId, &PoleAt, usize) -> bool,
    ) -> Result<Vec<Move>, CircuitId> {
        let mut vacant = self.free.clone();
        let mut used: BTreeSet<u16> = self.fixed.iter().map(|pole| pole.way).collect();
        let mut leaving: Vec<(CircuitId, PoleAt, usize)> = Vec::new();
        for (item, line) in problem.items.iter().zip(lines) {
            for (id, at) in &item.members {
                if stays(*id, at, *line) {
                    vacant.remove(at);
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

fn on(pole: &PoleAt, line: usize) -> bool {
    pole.phase.map(Phase::index) == Some(line)
}

/// Sorts items and points their wishes at the new places.
fn sort_items(items: &mut [Item], order: impl Fn(&Item, &Item) -> std::cmp::Ordering) {
    let mut indexed: Vec<(usize, Item)> = items.iter().cloned().enumerate().collect();
    indexed.sort_by(|a, b| order(&a.1, &b.1));
    let mut now = vec![0; indexed.len()];
    for (new, (old, _)) in indexed.iter().enumerate() {
        now[*old] = new;
    }
    for (slot, (_, item)) in items.iter_mut().zip(indexed) {
        let apart = item.apart.iter().map(|old| now[*old]).collect();
        *slot = Item { apart, ..item };
    }
}

/// Merges circuits that belong together and notes those that must part; a circuit that stays ties
/// the other to its line, or bars it from there.
fn apply(wishes: &Wishes, staying: &BTreeMap<CircuitId, usize>, problem: &mut Problem) -> Result<(), AllocateError> {
    let holder =
        |items: &[Item], id: CircuitId| items.iter().position(|item| item.members.iter().any(|one| one.0 == id));
    for [a, b] in &wishes.together {
        let (Some(first), Some(second)) = (holder(&problem.items, *a), holder(&problem.items, *b)) else { continue };
        if first != second {
            let (keep, gone) = (first.min(second), first.max(second));
            let gone = problem.items.remove(gone);
            let kept = &mut problem.items[keep];
            kept.active += gone.active;
            kept.reactive += gone.reactive;
            kept.members.extend(gone.members);
            for line in 0..3 {
                kept.today[line] += gone.today[line];
                kept.allowed[line] &= gone.allowed[line];
            }
        }
    }
    let pairs = wishes.together.iter().map(|pair| (pair, true)).chain(wishes.apart.iter().map(|pair| (pair, false)));
    for ([a, b], together) in pairs {
        let contradiction = AllocateError::Contradiction(*a, *b);
        let (moving, line) = match (holder(&problem.items, *a), holder(&problem.items, *b)) {
            (Some(_), Some(_)) if together => continue,
            (Some(first), Some(second)) => {
                if first == second {
                    return Err(contradiction);
                }
                problem.items[first].apart.push(second);
                problem.items[second].apart.push(first);
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
        let allowed = &mut problem.items[moving].allowed;
        (0..3).filter(|other| (other == line) != together).for_each(|other| allowed[other] = false);
        if *allowed == [false; 3] {
            return Err(contradiction);
        }
    }
    Ok(())
}

/// The best lines for the items, and what is proven of them: the largest line current, the neutral.
fn solve(problem: &Problem, today: &[usize], effort: u64) -> Option<(Vec<usize>, bool, bool)> {
    let floor = steps(problem.bound());
    let stands = {
        let mut room = problem.room;
        problem.items.iter().zip(today).for_each(|(item, line)| room[*line] -= item.poles());
        room.iter().all(|room| *room >= 0) && (0..today.len()).all(|item| problem.may(item, today[item], today))
    };
    let mut starts: Vec<Vec<usize>> = Vec::new();
    if stands {
        starts.push(today.to_vec());
    }
    starts.extend(problem.greedy());
    let best = starts
        .into_iter()
        .map(|mut lines| (problem.descend(&mut lines), lines))
        .min_by(|a, b| a.0.cmp(&b.0))
        .unwrap_or(((u64::MAX, u64::MAX, usize::MAX), today.to_vec()));
    let mut search = Search { problem, score: best.0, best: best.1, floor, left: effort };
    let complete = search.run(&mut problem.empty(), &mut Vec::with_capacity(problem.items.len()));
    let (mut lines, mut score) = (search.best, search.score);
    if score.0 == u64::MAX {
        return None;
    }
    // The search looks at currents; fewer moves for the same currents are found by descent.
    score = problem.descend(&mut lines);
    if !complete {
        (score, lines) = problem.shaken((score, lines), floor, effort);
    }
    let largest_proven = complete || score.0 <= floor;
    Some((lines, largest_proven, complete || (score.0 <= floor && score.1 == 0)))
}

/// Puts moves in an order in which each finds its pole free; rings come out as exchanges.
fn in_order(mut moves: Vec<Move>) -> Vec<Step> {
    let mut found = Vec::new();
    while !moves.is_empty() {
        let held: BTreeSet<PoleAt> = moves.iter().map(|one| one.from).collect();
        if let Some(index) = moves.iter().position(|one| !held.contains(&one.to)) {
            found.push(Step::Move(moves.remove(index)));
            continue;
        }
        // Every target is held by another mover: follow the ring.
        let by_pole: BTreeMap<PoleAt, Move> = moves.iter().map(|one| (one.from, *one)).collect();
        let mut ring = vec![moves[0]];
        while let Some(next) = ring.last().and_then(|last| by_pole.get(&last.to)).filter(|next| **next != ring[0]) {
            ring.push(*next);
        }
        moves.retain(|one| !ring.contains(one));
        found.push(Step::Exchange(ring));
    }
    found
}
