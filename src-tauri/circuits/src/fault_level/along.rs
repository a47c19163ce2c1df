//! Fault currents of a board: at the origin, at its busbars, at the end of every circuit.
//!
//! What was measured or declared at a place is a loop of which the size is known and the angle is
//! not; conductors after it are known by both. The sum is worked out for every angle that the
//! first part may have, so the range holds the true current.

use survey::range::Span;
use survey::{
    Amps, Board, Cable, CircuitId, CpcForm, EarthingSystem, Insulation, Material, Message, Method, Ohms, Range,
    SupplyPhases, YesNo, say,
};

use super::Case;
use crate::cable::limit_temperature;
use crate::case::{Feed, hull, reactance_times};
use crate::demand::root3;
use crate::fault_loop::armour_temperature;
use crate::source::{Common, Source, direct, reduced};
use crate::tables::Tables;

/// Largest and smallest current of one kind of fault at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// To break: cold conductors, highest voltage.
    pub largest: Range<Amps>,
    /// To trip on: warm conductors, lowest voltage.
    pub smallest: Range<Amps>,
}

/// Fault currents at one place; `None` where what is known does not give one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Currents {
    /// All three lines together.
    pub three_phase: Option<Extent>,
    /// Line to line.
    pub line_line: Option<Extent>,
    /// Line to neutral.
    pub line_neutral: Option<Extent>,
    /// Line to earth.
    pub line_earth: Option<Extent>,
}

/// A field that would give a current that is missing.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanting {
    /// Path of the field in the board.
    pub path: String,
    /// What to measure or read.
    pub what: Message,
}

/// Fault currents at the far end of a circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// The circuit.
    pub circuit: CircuitId,
    /// The currents there.
    pub currents: Currents,
    /// What would give those that are missing.
    pub wanting: Vec<Wanting>,
}

/// Fault currents of a board from its origin to the ends of its circuits.
#[derive(Clone, Debug, PartialEq)]
pub struct Along {
    /// At the origin of the incoming cable.
    pub origin: Currents,
    /// At the board's incoming terminals, calculated from the origin.
    pub calculated: Currents,
    /// At the board: as read there, else calculated.
    pub board: Currents,
    /// What the calculation rests on, in words: "calculated from …"; empty where there is none.
    pub from: Message,
    /// What would give currents at the board that are missing.
    pub wanting: Vec<Wanting>,
    /// At the far end of every circuit, in the order of the poles.
    pub circuits: Vec<End>,
}

impl Currents {
    /// The larger of three-phase and line to neutral: what Ipf means at a board.
    #[must_use]
    pub fn prospective(&self) -> Option<Extent> {
        match (self.three_phase, self.line_neutral) {
            (Some(a), Some(b)) => {
                Some(Extent { largest: larger(a.largest, b.largest), smallest: larger(a.smallest, b.smallest) })
            }
            (a, b) => a.or(b),
        }
    }
}

fn larger(a: Range<Amps>, b: Range<Amps>) -> Range<Amps> {
    Range::new(a.lo().max(b.lo()), a.hi().max(b.hi()))
}

/// Works out the fault currents of a board, by the method of IEC 60909-0 on ranges.
///
/// At the origin: what was read there, else a delta-star transformer with its rating and
/// short-circuit voltage on a grid of 100 MVA or more, the resistive part of the voltage up to 0.6 of
/// it (common practice, no source: about what 50 kVA has, larger ones have less). Where only the
/// three-phase current of a three-phase supply is known, the line to neutral loop is one to two
/// times as long: the neutral is taken to be no smaller than a line.
#[must_use]
pub fn along(board: &Board, tables: &Tables) -> Along {
    let common = Common::of(board, tables);
    let level = &common.level;
    let circuits = common.circuits().iter().map(|source| level.end(&common, source)).collect();
    Along {
        origin: level.origin.currents(level.voltage),
        calculated: level.calculated.currents(level.voltage),
        board: level.at_board(board),
        from: level.from.clone(),
        wanting: level.wanting.clone(),
        circuits,
    }
}

/// Resistive part of a transformer's short-circuit voltage, at most; see [`along`].
const MOST_RESISTIVE: f64 = 0.6;

/// Short-circuit power of the grid before a transformer, at least, VA; see [`along`].
const LEAST_GRID: f64 = 100e6;

/// A loop: a first part of which the size is known and the cosine of its angle lies between two
/// numbers, then resistance and reactance.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Loop {
    size: Span,
    cos: [f64; 2],
    /// What drives a largest and a smallest current, over the nominal voltage.
    factor: [Span; 2],
    /// Resistance cold and warm.
    resistance: [Span; 2],
    reactance: Span,
}

const NOTHING: Span = Span::point(0.0);

impl Loop {
    /// As measured or declared: nobody says whether the voltage factor is in it, so both are.
    fn read(size: Span) -> Self {
        let factor = [Span { lo: 1.0, hi: Case::Largest.factor() }, Span { lo: Case::Smallest.factor(), hi: 1.0 }];
        Self { size, cos: [0.0, 1.0], factor, resistance: [NOTHING; 2], reactance: NOTHING }
    }

    fn transformer(size: Span) -> Self {
        let factor = [Case::Largest, Case::Smallest].map(|case| Span::point(case.factor()));
        Self { size, cos: [0.0, MOST_RESISTIVE], factor, resistance: [NOTHING; 2], reactance: NOTHING }
    }

    fn longer(self, by: Span) -> Self {
        Self { size: self.size * by, ..self }
    }

    fn with(self, resistance: [Span; 2], reactance: Span) -> Self {
        let [cold, warm] = self.resistance;
        Self { resistance: [cold + resistance[0], warm + resistance[1]], reactance: self.reactance + reactance, ..self }
    }

    /// Size of the whole, Ω; 0: cold, 1: warm.
    fn whole(&self, state: usize) -> Span {
        let (r, x) = (self.resistance[state], self.reactance);
        if r == NOTHING && x == NOTHING {
            return self.size;
        }
        // |a·e^jθ + r + jx|² = a² + 2a·(r·cos θ + x·sin θ) + r² + x². The bracket is smallest at an
        // end of θ; largest where θ is the angle of r + jx, or else at the nearer end.
        let sine = |cos: f64| (1.0 - cos * cos).max(0.0).sqrt();
        let along = |cos: f64| Span::point(cos) * r + Span::point(sine(cos)).monotone(|sin| sin) * x;
        let ends = self.cos.map(along);
        let own = r.square() + x.square();
        let (least_cos, most_cos) = (cosine(r.lo, x.hi), cosine(r.hi, x.lo));
        let reaches = least_cos <= self.cos[1] + 1e-9 && most_cos >= self.cos[0] - 1e-9;
        let most = if reaches { own.sqrt().hi } else { ends[0].hi.max(ends[1].hi) };
        let bracket = Span { lo: ends[0].lo.min(ends[1].lo).max(0.0), hi: most };
        // Both the first part and the bracket only add: the ends of each go together.
        (self.size.square() + Span::point(2.0) * self.size * bracket + own).sqrt()
    }

    fn extent(&self, voltage: Span) -> Extent {
        let current = |state: usize| (voltage * self.factor[state] / self.whole(state)).of();
        Extent { largest: current(0), smallest: current(1) }
    }
}

fn cosine(r: f64, x: f64) -> f64 {
    let size = (r * r + x * x).sqrt();
    if size > 0.0 { r / size } else { 1.0 }
}

/// The loops at one place.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Loops {
    three_phase: Option<Loop>,
    line_neutral: Option<Loop>,
    line_earth: Option<Loop>,
}

/// A length of cable: resistances cold and warm, reactance of one conductor, Ω.
#[derive(Clone, Copy, Debug, Default)]
struct Leg {
    line: Option<[Span; 2]>,
    neutral: Option<[Span; 2]>,
    protective: Option<[Span; 2]>,
    reactance: Option<Span>,
}

impl Loops {
    fn along(&self, leg: &Leg) -> Self {
        let add = |to: Option<Loop>, back: Option<Option<[Span; 2]>>| {
            let (line, x) = leg.line.zip(leg.reactance)?;
            Some(match back {
                None => to?.with(line, x),
                Some(back) => {
                    let back = back?;
                    to?.with([line[0] + back[0], line[1] + back[1]], x + x)
                }
            })
        };
        Self {
            three_phase: add(self.three_phase, None),
            line_neutral: add(self.line_neutral, Some(leg.neutral)),
            line_earth: add(self.line_earth, Some(leg.protective)),
        }
    }

    fn currents(&self, voltage: Span) -> Currents {
        let extent = |one: Option<Loop>| one.map(|one| one.extent(voltage));
        let three_phase = extent(self.three_phase);
        let part = |range: Range<Amps>| (range.numbers() * root3() * Span::point(0.5)).of();
        Currents {
            three_phase,
            line_line: three_phase
                .map(|extent| Extent { largest: part(extent.largest), smallest: part(extent.smallest) }),
            line_neutral: extent(self.line_neutral),
            line_earth: extent(self.line_earth),
        }
    }

    fn or(self, other: Self) -> Self {
        Self {
            three_phase: self.three_phase.or(other.three_phase),
            line_neutral: self.line_neutral.or(other.line_neutral),
            line_earth: self.line_earth.or(other.line_earth),
        }
    }
}

/// The fault level of a board, as its checks need it.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    voltage: Span,
    origin: Loops,
    calculated: Loops,
    board: Loops,
    /// "calculated from …"; empty where the origin gives nothing.
    pub(crate) from: Message,
    wanting: Vec<Wanting>,
}

impl Level {
    pub(crate) fn of(
        board: &Board,
        tables: &Tables,
        supply: Option<SupplyPhases>,
        voltage: Span,
        system: Option<EarthingSystem>,
    ) -> Self {
        let given = &board.supply;
        // Between the two lines of a centre-tapped supply stands twice the voltage to earth, and nothing here tells how
        // its transformer's loops share their impedance: there only readings count.
        let centre_tapped =
            supply != Some(SupplyPhases::Three) && reduced(given).contains(&YesNo::Yes) || direct(given);
        let read_current = |reading: &survey::Reading<Amps>| {
            reading
                .range()
                .map(Range::numbers)
                .filter(|current| current.lo > 0.0)
                .map(|current| Loop::read(voltage / current))
        };
        let read_loop = |reading: &survey::Reading<Ohms>| {
            let loop_of = |size: Span| Loop::read(Span { lo: size.lo.max(0.0), hi: size.hi });
            reading.range().map(Range::numbers).filter(|size| size.hi > 0.0).map(loop_of)
        };
        // A first earth fault of an IT system draws next to nothing; a second one is looked at apart.
        let earthed = system != Some(EarthingSystem::It);
        let place = |ipf: Option<Loop>, ze: Option<Loop>| {
            let three = supply == Some(SupplyPhases::Three);
            let single = supply == Some(SupplyPhases::Single);
            let shared = ze.filter(|_| system == Some(EarthingSystem::TnCS));
            Loops {
                three_phase: ipf.filter(|_| three),
                line_neutral: ipf
                    .filter(|_| single)
                    .or(shared)
                    .or(ipf.filter(|_| three).map(|one| one.longer(Span { lo: 1.0, hi: 2.0 }))),
                line_earth: ze.filter(|_| earthed),
            }
        };
        let at_origin = place(read_current(&given.origin_ipf), read_loop(&given.origin_ze));
        let transformer = given
            .transformer
            .range()
            .zip(given.transformer_voltage.range())
            .filter(|_| !centre_tapped)
            .and_then(|(rated, uk)| transformer(rated.numbers(), uk.numbers(), voltage));
        let by_transformer = transformer.map_or(Loops::default(), |one| Loops {
            three_phase: Some(one).filter(|_| supply == Some(SupplyPhases::Three)),
            line_neutral: Some(one).filter(|_| supply.is_some()),
            line_earth: Some(one)
                .filter(|_| matches!(system, Some(EarthingSystem::TnS | EarthingSystem::TnCS)) && supply.is_some()),
        });
        // A neutral that is only bounded by Ipf gives way to one that is calculated.
        let bounded = |ze: &survey::Reading<Ohms>| {
            supply != Some(SupplyPhases::Single) && (system != Some(EarthingSystem::TnCS) || ze.is_unknown())
        };
        let choose = |read: Option<Loop>, other: Option<Loop>, bounded: bool| {
            if bounded { other.or(read) } else { read.or(other) }
        };
        let origin = Loops {
            line_neutral: choose(at_origin.line_neutral, by_transformer.line_neutral, bounded(&given.origin_ze)),
            ..at_origin.or(by_transformer)
        };
        let cable = given
            .cable
            .filter(|_| !centre_tapped)
            .and_then(|id| Some((id, board.cables.get(&id).filter(|cable| !cable.removed)?)));
        let calculated = match cable {
            Some((_, cable)) if origin != Loops::default() => origin.along(&leg(tables, cable)),
            _ => Loops::default(),
        };
        let read = place(read_current(&given.ipf), read_loop(&given.ze));
        let better = calculated.line_neutral.filter(|_| transformer.is_some() || read.line_neutral.is_none());
        let neutral = choose(read.line_neutral, better, bounded(&given.ze));
        let at_board = Loops { line_neutral: neutral, ..read.or(calculated) };
        let from = match (calculated == Loops::default(), read_current(&given.origin_ipf).is_some(), transformer) {
            (true, ..) => Message::default(),
            (false, true, _) => say!("calculated-from-origin-current"),
            (false, false, Some(_)) => say!("calculated-from-transformer"),
            (false, false, None) => say!("calculated-from-origin-loop"),
        };
        let wanting = if at_board.three_phase.is_some() && at_board.line_earth.is_some() {
            Vec::new()
        } else {
            wanting_at_board(&at_board, supply, earthed)
        };
        Self { voltage, origin, calculated, board: at_board, from, wanting }
    }

    /// Ipf at the board, calculated from the origin: from warm conductors and the lowest voltage to
    /// cold ones and the highest, as both the largest and the smallest current are judged by it.
    pub(crate) fn ipf(&self) -> Option<Range<Amps>> {
        let extent = self.calculated.currents(self.voltage).prospective()?;
        hull(Some(extent.largest.numbers()), extent.smallest.numbers()).map(Span::of)
    }

    /// Ze at the board, calculated from the origin: from cold to warm.
    pub(crate) fn ze(&self) -> Option<Range<Ohms>> {
        let one = self.calculated.line_earth?;
        hull(Some(one.whole(0)), one.whole(1)).map(Span::of)
    }

    /// Loop to earth at the origin, cold, Ω: as read, else by the transformer.
    pub(crate) fn origin_loop(&self) -> Option<Span> {
        self.origin.line_earth.map(|one| one.whole(0))
    }

    /// Largest line to earth current at the origin, A.
    pub(crate) fn origin_current(&self) -> Option<Span> {
        self.origin.line_earth.map(|one| one.extent(self.voltage).largest.numbers())
    }

    /// Ipf at the origin of the supply cable, the largest: as read, else by the transformer.
    pub(crate) fn origin_ipf(&self, board: &Board) -> Option<Range<Amps>> {
        let calculated = || self.origin.currents(self.voltage).prospective().map(|extent| extent.largest);
        board.supply.origin_ipf.range().or_else(calculated)
    }

    /// Currents at the board; what was read there stands as it was read.
    pub(crate) fn at_board(&self, board: &Board) -> Currents {
        let mut currents = self.board.currents(self.voltage);
        let read = board.supply.ipf.range();
        let place = if currents.three_phase.is_some() { &mut currents.three_phase } else { &mut currents.line_neutral };
        if let Some((read, extent)) = read.zip(place.as_mut()) {
            extent.largest = read;
        }
        currents
    }

    /// Largest current of a fault right after the device of a circuit.
    pub(crate) fn largest(&self, board: &Board, feed: Option<Feed>) -> Option<Span> {
        let currents = self.at_board(board);
        let of = |extent: Option<Extent>| extent.map(|extent| extent.largest.numbers());
        match feed {
            Some(Feed::OneLine(_)) => match (of(currents.line_neutral), of(currents.line_earth)) {
                (Some(a), Some(b)) => Some(Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) }),
                (Some(a), None) => Some(a),
                (None, _) => None,
            },
            _ => of(currents.three_phase).or(of(currents.line_neutral)),
        }
    }

    /// Smallest and largest line to earth current at the board.
    pub(crate) fn to_earth(&self) -> Option<Extent> {
        self.board.line_earth.map(|one| one.extent(self.voltage))
    }

    fn end(&self, common: &Common, source: &Source) -> End {
        let case = common.case(source);
        let leg = source.cable.map(|(_, cable)| leg(common.tables, cable)).unwrap_or_default();
        let mut loops = self.board.along(&leg);
        if let Some(sum) = source.circuit.tests.r1_r2.range() {
            loops.line_earth = self.board.line_earth.map(|before| {
                let warm = Material::ALL
                    .iter()
                    .flat_map(|material| Insulation::ALL.iter().map(move |insulation| (*material, *insulation)))
                    .filter(|pair| {
                        case.materials.contains(&pair.0) && case.insulations.contains(&pair.1) || source.cable.is_none()
                    })
                    .fold(None, |found, (material, insulation)| {
                        let factor = common.tables.warmed(material, Span::point(limit_temperature(insulation)));
                        hull(found, sum.numbers() * factor)
                    });
                let x = leg.reactance.map_or(NOTHING, |x| x + x);
                before.with([sum.numbers(), warm.unwrap_or(sum.numbers())], x)
            });
        }
        let mut currents = loops.currents(self.voltage);
        let feed = case.feed.clone().ok();
        match feed {
            Some(Feed::OneLine(_)) => {
                if case.across() != Span::point(1.0) || case.direct() {
                    currents.line_neutral = None;
                }
                currents.three_phase = None;
                currents.line_line = None;
            }
            Some(Feed::TwoLines(_)) => {
                currents.three_phase = None;
                currents.line_neutral = None;
            }
            Some(Feed::ThreeLines) | None => {}
        }
        End { circuit: source.id, wanting: self.wanting_at_end(source, &currents, feed), currents }
    }

    fn wanting_at_end(&self, source: &Source, currents: &Currents, feed: Option<Feed>) -> Vec<Wanting> {
        let mut found = Vec::new();
        let mut want = |path: String, what: Message| found.push(Wanting { path, what });
        match source.cable {
            None => want(source.at("cable").into(), say!("fault-ask-cable")),
            Some((id, cable)) => {
                if cable.size.is_unknown() {
                    want(format!("/cables/{id}/size"), say!("fault-ask-size"));
                }
                if cable.length.is_unknown() {
                    want(format!("/cables/{id}/length"), say!("fault-ask-length"));
                }
                if self.board.line_earth.is_some()
                    && currents.line_earth.is_none()
                    && !cable.size.is_unknown()
                    && !cable.length.is_unknown()
                {
                    let path = source.at("tests/r1_r2").into();
                    want(path, say!("fault-ask-r1-r2"));
                }
            }
        }
        let by_line = !matches!(feed, Some(Feed::OneLine(_)));
        if by_line && self.board.three_phase.is_none() || !by_line && self.board.line_neutral.is_none() {
            want("/supply/ipf".to_owned(), say!("supply-ask-ipf"));
        }
        found
    }
}

/// A transformer's loop: U²/S times its short-circuit voltage, with its correction KT for the
/// largest current (IEC 60909-0, 6.3.3), behind a grid that may be as strong as any.
fn transformer(rated: Span, uk: Span, voltage: Span) -> Option<Loop> {
    if rated.lo <= 0.0 || uk.lo <= 0.0 {
        return None;
    }
    let base = (voltage * root3()).square();
    let own = uk * base / rated;
    let grid = base / Span::point(LEAST_GRID);
    // KT lies between 0.95·c/(1 + 0.6·uk) and 1, whatever the resistive part.
    let least = Span::point(0.95 * Case::Largest.factor()) / (Span::point(1.0) + Span::point(0.6) * uk);
    let size = Span { lo: (own * Span { lo: least.lo.min(1.0), hi: 1.0 }).lo, hi: (own + grid).hi };
    Some(Loop::transformer(size))
}

fn leg(tables: &Tables, cable: &Cable) -> Leg {
    let one = |known: Option<Material>, all: &'static [Material]| match known {
        Some(material) => vec![material],
        None => all.to_vec(),
    };
    let materials = one(cable.material.get().copied(), Material::ALL);
    let insulations = cable.insulation.get().map_or(Insulation::ALL.to_vec(), |one| vec![*one]);
    let construction = cable.construction.get().copied();
    let Some((length, size)) = cable.length.range().zip(cable.size.range()) else { return Leg::default() };
    let count = Span::point(f64::from(cable.parallel.get().copied().unwrap_or(1).max(1)));
    let kilometres = length.numbers() / Span::point(1000.0);
    let kilometres = Span { lo: kilometres.lo.max(0.0), hi: kilometres.hi } / count;
    let methods = cable.method.get().map_or(Method::ALL, std::slice::from_ref);
    let times = reactance_times(methods, cable.formation.get().copied());
    let conductor = |size: Span| -> Option<[Span; 2]> {
        let (mut cold, mut warm) = (None, None);
        for &material in &materials {
            let Some(resistance) = tables.resistance(material, construction, size) else { continue };
            cold = hull(cold, resistance * kilometres);
            for &insulation in &insulations {
                let factor = tables.warmed(material, Span::point(limit_temperature(insulation)));
                warm = hull(warm, resistance * kilometres * factor);
            }
        }
        cold.zip(warm).map(|(cold, warm)| [cold, warm])
    };
    let size = size.numbers();
    let neutral = cable.neutral_size.range().map_or(size, Range::numbers);
    let protective = match cable.cpc.get() {
        Some(CpcForm::Core | CpcForm::Separate) => cable.cpc_size.range().and_then(|size| conductor(size.numbers())),
        Some(CpcForm::Armour) => cable.cores.get().and_then(|cores| {
            let cores = Span::point(f64::from(*cores));
            let at = |temperature: f64| tables.armour_resistance(cores, size, Span::point(temperature));
            let cold = at(20.0)? * kilometres;
            let warm = insulations
                .iter()
                .filter_map(|insulation| at(armour_temperature(*insulation)))
                .fold(None, |found, ohms| hull(found, ohms * kilometres))?;
            Some([cold, warm])
        }),
        _ => None,
    };
    Leg {
        line: conductor(size),
        neutral: conductor(neutral),
        protective,
        reactance: Some(Span::point(tables.reactance()) * times * kilometres),
    }
}

fn wanting_at_board(at_board: &Loops, supply: Option<SupplyPhases>, earthed: bool) -> Vec<Wanting> {
    let mut found = Vec::new();
    let mut want = |path: &str, what: Message| found.push(Wanting { path: path.to_owned(), what });
    if supply.is_none() {
        want("/supply/phases", say!("supply-ask-phases"));
    }
    if at_board.three_phase.is_none() && at_board.line_neutral.is_none() {
        want("/supply/ipf", say!("supply-ask-ipf"));
    }
    if at_board.line_earth.is_none() && earthed {
        want("/supply/ze", say!("supply-ask-ze"));
    }
    found
}
