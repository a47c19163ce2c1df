//! Cases that other libraries work out again: made here, answered through the crate's doors, and
//! sent with the answers to a script under `tests/outside/`.
#![allow(dead_code, clippy::unwrap_used, clippy::disallowed_methods)]

use std::collections::BTreeSet;
use std::path::Path as File;
use std::process::Command;
use std::time::Instant;

use circuits::Tables;
use circuits::balance::{Allocation, Step, Wishes, allocate};
use circuits::fault_level::{Case, Path, Run, Transformer};
use circuits::phase_currents;
use serde_json::{Value, json};
use survey::{
    Board, CircuitId, Metres, Ohms, OhmsPerKilometre, PoleAt, Poles, Quantity, Range, Ratio, SupplyPhases, Volts,
    Watts, terminal,
};

use crate::common::{Job, add, board, r};

/// Numbers that look random and are the same on every run (SplitMix64).
pub struct Rolls(pub u64);

impl Rolls {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ z >> 31
    }

    /// A number of `lo..hi`.
    pub fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * ((self.next() >> 11) as f64 / (1_u64 << 53) as f64)
    }

    /// The same with so many decimals.
    pub fn rounded(&mut self, lo: f64, hi: f64, scale: f64) -> f64 {
        (self.between(lo, hi) * scale).round() / scale
    }

    pub fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    pub fn pick<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}

fn point<Q: Quantity>(value: f64) -> Range<Q> {
    Range::point(Q::of(value))
}

/// Both ends of a range, for the script to look between.
fn ends<Q: Quantity>(range: Range<Q>) -> Value {
    json!([range.lo().get(), range.hi().get()])
}

/// A grid with one radial run of cables, and perhaps a transformer between.
pub struct Network {
    /// Nominal voltage between lines, V.
    pub nominal: f64,
    /// Short-circuit power of the grid, VA: largest, smallest.
    pub grid: [f64; 2],
    pub r_over_x: f64,
    /// X0/X1 of a grid at low voltage; its R0/X0 is its R1/X1.
    pub x0_over_x1: f64,
    pub transformer: Option<Transformer>,
    pub runs: Vec<Run>,
    /// End temperature of each run, °C.
    pub warm: Vec<f64>,
}

/// Temperature coefficient that IEC 60909-0 (equation 32) gives copper and aluminium, 1/K.
const PER_KELVIN: f64 = 0.004;

impl Network {
    pub fn random(rolls: &mut Rolls) -> Self {
        let low = rolls.chance(0.35);
        let nominal = rolls.pick(&[400.0, 400.0, 415.0, 380.0]);
        let transformer = (!low).then(|| {
            let uk = rolls.rounded(0.035, 0.065, 1e4);
            Transformer {
                rated: Watts::new(rolls.pick(&[100e3, 160e3, 250e3, 400e3, 500e3, 630e3, 800e3, 1000e3, 1600e3])),
                voltage: Volts::new(nominal * rolls.pick(&[1.0, 1.0, 1.05])),
                uk: Ratio::new(uk),
                ukr: Ratio::new(rolls.rounded(0.009, 0.022, 1e4).min(uk * 0.9)),
            }
        });
        let largest = if low { rolls.between(1e6, 30e6) } else { rolls.between(80e6, 500e6) };
        let count = 1 + rolls.below(4);
        let mut warm = Vec::new();
        let runs = (0..count)
            .map(|_| {
                let line = rolls.rounded(0.05, 12.1, 1e4);
                let end = rolls.pick(&[20.0, 70.0, 90.0, 160.0]);
                warm.push(end);
                Run {
                    line: point::<OhmsPerKilometre>(line),
                    back: point::<OhmsPerKilometre>(line * rolls.pick(&[1.0, 1.0, 1.67, 2.0, 0.8])),
                    reactance: point::<OhmsPerKilometre>(rolls.rounded(0.06, 0.11, 1e3)),
                    length: point::<Metres>(rolls.rounded(1.0, 120.0, 10.0)),
                    warm: Ratio::new(1.0 + PER_KELVIN * (end - 20.0)),
                }
            })
            .collect();
        Self {
            nominal,
            grid: [largest, largest * rolls.between(0.4, 1.0)],
            r_over_x: rolls.pick(&[0.1, 0.15, 0.3, 0.6]),
            x0_over_x1: rolls.rounded(1.0, 3.0, 10.0),
            transformer,
            runs,
            warm,
        }
    }

    fn start(&self, case: Case) -> Path {
        let power = self.grid[usize::from(case == Case::Smallest)];
        match &self.transformer {
            Some(transformer) => Path::behind(transformer, point::<Watts>(power), Ratio::new(self.r_over_x), case),
            None => {
                // IEC 60909-0, 6.2: Z = c·Un²/S.
                let size = case.factor() * self.nominal * self.nominal / power;
                let x1 = size / (1.0 + self.r_over_x * self.r_over_x).sqrt();
                let x0 = x1 * self.x0_over_x1;
                let ohms = |value| point::<Ohms>(value);
                Path { r1: ohms(x1 * self.r_over_x), x1: ohms(x1), r0: ohms(x0 * self.r_over_x), x0: ohms(x0) }
            }
        }
    }

    /// Three-phase, line-line and line-earth current in kA: at the start, and after each run.
    pub fn currents(&self, case: Case) -> Vec<[f64; 3]> {
        let voltage = point::<Volts>(self.nominal / 3.0_f64.sqrt());
        let mut path = self.start(case);
        let mut found = Vec::with_capacity(self.runs.len() + 1);
        for step in 0..=self.runs.len() {
            if let Some(run) = step.checked_sub(1).map(|before| &self.runs[before]) {
                path = path.along(run, case);
            }
            let all = [path.three_phase(voltage, case), path.line_line(voltage, case), path.line_earth(voltage, case)];
            found.push(all.map(|range| {
                assert!(range.width() < 1e-9 * range.hi().get(), "a range from points: {range:?}");
                range.hi().get() / 1000.0
            }));
        }
        found
    }

    pub fn json(&self) -> Value {
        let runs: Vec<Value> = self
            .runs
            .iter()
            .zip(&self.warm)
            .map(|(run, end)| {
                json!({
                    "line": run.line.lo().get(), "back": run.back.lo().get(), "x": run.reactance.lo().get(),
                    "m": run.length.lo().get(), "end": end,
                })
            })
            .collect();
        let transformer = self.transformer.as_ref().map(|one| {
            json!({
                "va": one.rated.get(), "v": one.voltage.get(), "uk": one.uk.get(), "ukr": one.ukr.get(),
            })
        });
        json!({
            "nominal": self.nominal, "grid_va": self.grid, "r_over_x": self.r_over_x, "x0_over_x1": self.x0_over_x1,
            "transformer": transformer, "runs": runs,
            "ours": { "max": self.currents(Case::Largest), "min": self.currents(Case::Smallest) },
        })
    }
}

pub fn networks(count: usize) -> Vec<Network> {
    let mut rolls = Rolls(60_909);
    (0..count).map(|_| Network::random(&mut rolls)).collect()
}

/// A board and what the script is told of its loads.
pub struct Loaded {
    pub board: Board,
    pub ids: Vec<CircuitId>,
    pub told: Vec<Value>,
    /// Poles of each circuit's device.
    pub taken: Vec<Vec<PoleAt>>,
    pub single: bool,
}

/// What kind of boards to make.
pub struct Mix {
    pub patterns: &'static [&'static str],
    /// Share of poles that stay empty.
    pub empty: f64,
    /// Shares of two- and three-pole devices.
    pub two: f64,
    pub three: f64,
    /// Share of boards whose loads have a power factor below one.
    pub lagging: f64,
    /// Share of boards on a single-phase supply by a phase link.
    pub linked: f64,
}

fn still<T: ToString>(text: T) -> &'static str {
    Box::leak(text.to_string().into_boxed_str())
}

impl Loaded {
    pub fn random(rolls: &mut Rolls, mix: &Mix) -> Self {
        let single = rolls.chance(mix.linked);
        let phases = if single { SupplyPhases::Single } else { SupplyPhases::Three };
        let mut board = board(rolls.pick(mix.patterns), phases);
        let pattern = board.enclosure.get().unwrap().clone();
        let lagging = rolls.chance(mix.lagging);
        let mut full: BTreeSet<PoleAt> = BTreeSet::new();
        let (mut ids, mut told, mut taken) = (Vec::new(), Vec::new(), Vec::new());
        for at in pattern.poles() {
            if full.contains(&at) || rolls.chance(mix.empty) {
                continue;
            }
            let roll = rolls.between(0.0, 1.0);
            let wanted = match roll {
                _ if single => Poles::P1,
                _ if roll < mix.two => Poles::P2,
                _ if roll < mix.two + mix.three => rolls.pick(&[Poles::P3, Poles::P3N]),
                _ => rolls.pick(&[Poles::P1, Poles::P1N]),
            };
            let fits = |poles| {
                terminal::span(&pattern, at, poles).ok().filter(|span| span.iter().all(|pole| !full.contains(pole)))
            };
            let (poles, span) = match fits(wanted) {
                Some(span) => (wanted, span.into_vec()),
                None => (Poles::P1, vec![at]),
            };
            full.extend(&span);
            let power_factor = if lagging && rolls.chance(0.7) { rolls.rounded(0.6, 1.0, 100.0) } else { 1.0 };
            let lines = if span.len() == 3 { 3.0 } else { 1.0 };
            let given = rolls.chance(0.5);
            let current = rolls.rounded(0.5, 32.0, 100.0);
            let power = (rolls.between(100.0, 7000.0) * lines).round();
            let number = ids.len() as u128 + 1;
            let job =
                Job { at: still(at), poles, current: given.then_some(current), power, power_factor, ..Job::default() };
            let id = add(&mut board, number, &job);
            let load = &mut board.circuits.get_mut(&id).unwrap().load;
            let mut factor = |share: f64, lo: f64| rolls.chance(share).then(|| rolls.rounded(lo, 1.0, 100.0));
            let (demand, efficiency) = if given { (None, None) } else { (factor(0.3, 0.3), factor(0.2, 0.7)) };
            if let Some(demand) = demand {
                load.demand = r::<Ratio>(demand);
            }
            if let Some(efficiency) = efficiency {
                load.efficiency = r::<Ratio>(efficiency);
            }
            let names: Vec<String> = span.iter().map(ToString::to_string).collect();
            told.push(json!({
                "poles": names, "amps": given.then_some(current), "watts": (!given).then_some(power),
                "factor": power_factor, "demand": demand, "efficiency": efficiency,
            }));
            ids.push(id);
            taken.push(span);
        }
        // The scripts know no harmonics.
        crate::common::sinusoidal(&mut board);
        Self { board, ids, told, taken, single }
    }

    /// The board with our line and neutral currents.
    pub fn currents_json(&self, tables: &Tables) -> Value {
        let found = phase_currents(&self.board, tables);
        let lines: Vec<Value> = found
            .lines
            .iter()
            .map(|line| json!({ "size": ends(line.current), "active": ends(line.active), "reactive": ends(line.reactive) }))
            .collect();
        json!({
            "single": self.single, "volts": 230.0, "circuits": self.told,
            "ours": { "lines": lines, "neutral": ends(found.neutral), "unbalance": found.unbalance },
        })
    }
}

pub fn boards(count: usize) -> Vec<Loaded> {
    let mut rolls = Rolls(60_364);
    let mix = Mix {
        patterns: &["three-phase-4", "three-phase-6", "three-phase-8", "three-phase-12", "three-phase-24"],
        empty: 0.3,
        two: 0.12,
        three: 0.15,
        lagging: 0.85,
        linked: 0.1,
    };
    (0..count).map(|_| Loaded::random(&mut rolls, &mix)).collect()
}

/// A board to even out, with what has to be kept.
pub struct Uneven {
    pub loaded: Loaded,
    pub wishes: Wishes,
}

impl Uneven {
    pub fn random(rolls: &mut Rolls, mix: &Mix) -> Self {
        let loaded = Loaded::random(rolls, mix);
        let mut wishes = Wishes::default();
        for (id, taken) in loaded.ids.iter().zip(&loaded.taken) {
            if taken.len() == 1 && rolls.chance(0.1) {
                wishes.fixed.insert(*id);
            }
        }
        let singles: Vec<CircuitId> =
            loaded.ids.iter().zip(&loaded.taken).filter(|(_, taken)| taken.len() == 1).map(|(id, _)| *id).collect();
        // Each circuit is in one wish at most, so that the wishes never exclude each other.
        let mut order = singles.clone();
        for index in (1..order.len()).rev() {
            order.swap(index, rolls.below(index + 1));
        }
        let pairs = singles.len() / 12;
        for pair in order.chunks_exact(2).take(2 * pairs).enumerate() {
            let (index, [a, b]) = (pair.0, [pair.1[0], pair.1[1]]);
            if index % 2 == 1 {
                wishes.apart.push([a, b]);
            } else if !wishes.fixed.contains(&a) || !wishes.fixed.contains(&b) {
                wishes.together.push([a, b]);
            }
        }
        wishes.apart.retain(|[a, b]| !wishes.fixed.contains(a) || !wishes.fixed.contains(b));
        Self { loaded, wishes }
    }

    pub fn solve(&self, tables: &Tables) -> Allocation {
        allocate(&self.loaded.board, tables, &self.wishes).unwrap()
    }

    /// Carries the moves out and measures what comes of them, then tells the script all.
    pub fn json(&self, found: &Allocation, tables: &Tables, seconds: f64) -> Value {
        let mut board = self.loaded.board.clone();
        let place = |board: &Board, id: &CircuitId| board.devices[&board.circuits[id].device.unwrap()].at.unwrap();
        let mut held: BTreeSet<PoleAt> = self.loaded.taken.iter().flatten().copied().collect();
        let pattern = board.enclosure.get().unwrap().clone();
        let poles = |board: &Board, id: &CircuitId, at| {
            terminal::span(&pattern, at, board.devices[&board.circuits[id].device.unwrap()].poles.unwrap()).unwrap()
        };
        for step in &found.steps {
            let moves = match step {
                Step::Move(one) => vec![*one],
                Step::Exchange(ring) => ring.clone(),
            };
            let out = moves.iter().flat_map(|one| poles(&board, &one.circuit, one.from));
            out.for_each(|pole| assert!(held.remove(&pole), "{pole}: {moves:?}"));
            let back = moves.iter().flat_map(|one| poles(&board, &one.circuit, one.to));
            back.for_each(|pole| assert!(held.insert(pole), "{pole}: {moves:?}"));
            for one in &moves {
                let device = board.circuits[&one.circuit].device.unwrap();
                board.devices.get_mut(&device).unwrap().at = Some(one.to);
            }
        }
        let after = phase_currents(&board, tables);
        let index = |id: &CircuitId| self.loaded.ids.iter().position(|other| other == id).unwrap();
        let pairs = |pairs: &[[CircuitId; 2]]| -> Vec<[usize; 2]> {
            pairs.iter().map(|pair| pair.each_ref().map(index)).collect()
        };
        let fixed: Vec<usize> = self.wishes.fixed.iter().map(index).collect();
        let all: Vec<String> = pattern.poles().map(|pole| pole.to_string()).collect();
        let neighbours: Vec<[String; 2]> = pattern
            .poles()
            .filter_map(|pole| terminal::span(&pattern, pole, Poles::P2).ok())
            .filter_map(|span| <[PoleAt; 2]>::try_from(span.as_slice()).ok())
            .map(|two| two.map(|pole| pole.to_string()))
            .collect();
        let places: Vec<String> = self.loaded.ids.iter().map(|id| place(&board, id).to_string()).collect();
        json!({
            "all_poles": all, "neighbours": neighbours, "volts": 230.0, "circuits": self.loaded.told, "fixed": fixed,
            "together": pairs(&self.wishes.together), "apart": pairs(&self.wishes.apart),
            "ours": {
                "places": places,
                "largest": found.after.largest.get(),
                "neutral": found.after.neutral.get(),
                "bound": found.bound.get(),
                "largest_proven": found.largest_proven,
                "neutral_proven": found.neutral_proven,
                "moves": found.moves().count(),
                "lines_measured": after.lines.iter().map(|line| ends(line.current)).collect::<Vec<_>>(),
                "neutral_measured": ends(after.neutral),
                "seconds": seconds,
            },
        })
    }
}

/// A fixed set of boards to even out, small to full.
pub fn uneven(count: usize) -> Vec<Uneven> {
    let mut rolls = Rolls(61_439);
    const SIZES: [&[&str]; 7] = [
        &["three-phase-4"],
        &["three-phase-6"],
        &["three-phase-8"],
        &["three-phase-12"],
        &["three-phase-16"],
        &["three-phase-18"],
        &["three-phase-24"],
    ];
    (0..count)
        .map(|index| {
            let patterns = SIZES[index % SIZES.len()];
            let empty = rolls.pick(&[0.0, 0.15, 0.3, 0.5]);
            let (two, three) = rolls.pick(&[(0.0, 0.0), (0.0, 0.15), (0.08, 0.1)]);
            Uneven::random(&mut rolls, &Mix { patterns, empty, two, three, lagging: 0.5, linked: 0.0 })
        })
        .collect()
}

/// Uneven boards with our answers and the time they took.
pub fn solved(boards: &[Uneven], tables: &Tables) -> Vec<Value> {
    let one = |board: &Uneven| {
        let (found, seconds) = timed(|| board.solve(tables));
        board.json(&found, tables, seconds)
    };
    boards.iter().map(one).collect()
}

/// Runs `tests/outside/<script>` on cases with our answers; what it reports once it agrees.
///
/// # Panics
/// Where the Python is not named, the script disagrees, or it compared fewer cases than were sent.
pub fn compare(script: &str, cases: &[Value]) -> Value {
    let python = std::env::var_os("WAYWRIGHT_PYTHON").expect(
        "WAYWRIGHT_PYTHON does not name the Python with tests/requirements.txt installed: run `cargo xtask test`, or \
         set it to .venv/bin/python",
    );
    let sent = File::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{script}.{}.json", std::process::id()));
    std::fs::write(&sent, serde_json::to_vec(cases).unwrap()).unwrap();
    let script = File::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside").join(script);
    let run = Command::new(python).arg(&script).arg(&sent).output().unwrap();
    std::fs::remove_file(&sent).unwrap();
    let (said, told) = (String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    assert!(run.status.success(), "{}:\n{said}\n{told}", script.display());
    let report: Value = serde_json::from_str(said.lines().last().unwrap_or_default()).unwrap();
    assert_eq!(report["compared"], cases.len(), "{said}");
    report
}

/// A result and how long it took, s.
pub fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed().as_secs_f64())
}
