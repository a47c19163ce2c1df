//! The board as an assembly: how far its outgoing circuits may be loaded together, and how warm it
//! gets inside.

use std::sync::Arc;

use survey::arrangement::incomer_poles;
use survey::range::Span;
use survey::sketch::{self, Place, Records, Sketch, Sketches};
use survey::{
    Argument, Arrangement, Celsius, Check, Input, Inputs, Known, LoadKind, Message, Mounting, Pattern, Poles, Range,
    Ratio, Subject, Text, Verdict, Watts, say,
};

use crate::balance::{Share, Sums};
use crate::case::hull;
use crate::field::Field;
use crate::finding::{self, Rule};
use crate::source::{Common, Source, reading};
use crate::tables::{Assumable, trace};
use crate::verdict::Outcome;

const LOADING: Rule = Rule {
    name: "outgoing-loading",
    clause: Message::bare("outgoing-loading-clause"),
    symbols: [Message::fixed("Ib/In"), Message::fixed("RDF")],
    unit: "%",
    scale: 0.01,
    advice: false,
};

const WARMTH: Rule = Rule {
    name: "enclosure-temperature",
    clause: Message::bare("enclosure-temperature-clause"),
    symbols: [Message::bare("symbol-air-inside"), Message::bare("symbol-limit")],
    unit: "°C",
    scale: 1.0,
    advice: false,
};

const ZERO: Span = Span::point(0.0);

/// Checks of the assembly.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    loading(common, circuits, out);
    warmth(common, circuits, out);
}

/// Loads that run for hours. Others may stop before the board gets warm.
const fn lasting(kind: Option<LoadKind>) -> bool {
    matches!(
        kind,
        Some(
            LoadKind::Heating
                | LoadKind::VehicleCharging
                | LoadKind::Lighting
                | LoadKind::Motor
                | LoadKind::Distribution
        )
    )
}

fn loading(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let diversity = &common.board.surroundings.diversity;
    let outgoing: Vec<(&Source, Share, Span)> = circuits
        .iter()
        .filter_map(|(source, share)| {
            let (_, device) = source.device?;
            Some((source, (*share)?, device.rated.range()?.numbers()))
        })
        .filter(|(.., rated)| rated.lo > 0.0)
        .collect();
    let count = devices(circuits);
    let stated = common.tables.assembly.diversity(count);
    let factor = factor(common, circuits);
    let judged = |(source, share, rated): &(&Source, Share, Span)| {
        let value = common.of_a_pole(source, share.draw.current.numbers()) / *rated;
        // A load that stops by itself may carry anything less for long.
        let lo = if lasting(source.circuit.kind) { value.lo.max(0.0) } else { 0.0 };
        Outcome { value: Span { lo, hi: value.hi.max(0.0) }, limit: factor }
    };
    let worst = outgoing
        .iter()
        .map(|one| (one, judged(one)))
        .min_by(|a, b| a.1.verdict().cmp(&b.1.verdict()).then(b.1.value.hi.total_cmp(&a.1.value.hi)));
    let Some(((source, share, _), outcome)) = worst else { return };
    let against: Vec<&Source> =
        outgoing.iter().filter(|one| judged(one).verdict() != Verdict::Holds).map(|(source, ..)| *source).collect();
    let told = match diversity.is_unknown() {
        true => finding::told(
            "/surroundings/diversity",
            finding::label(Field::Diversity),
            say!("loading-diversity", value = (Span { lo: stated, hi: 1.0 }, ""), circuits = count),
            Known::Assumed,
        ),
        false => finding::input("/surroundings/diversity", finding::label(Field::Diversity), diversity),
    };
    let loads = match against.is_empty() {
        true => vec![load_input(source)],
        false => against.iter().map(|source| load_input(source)).collect(),
    };
    let loads = Arc::new(Sketches::new(Records::NONE, loads));
    let inputs = Inputs::from(vec![told]).then(Inputs::all_sketched(&loads));
    let mut next = Vec::with_capacity(1 + against.len());
    if diversity.is_unknown() {
        next.push(finding::next("/surroundings/diversity", finding::ask(Field::Diversity), 0.5));
    }
    let demands = sketch::paths(against.iter().map(|source| Place::CircuitOf(source.id, "load/demand")));
    next.extend(demands.map(|path| finding::next(path, say!("loading-ask"), 0.5)));
    let more = match (against.len().saturating_sub(1), outcome.verdict()) {
        (0, _) => Message::default(),
        (more, Verdict::Undecided) => say!("loading-more-are", more = more),
        (more, _) => say!("loading-more-do", more = more),
    };
    out.push(LOADING.judged(Subject::Board, outcome, inputs, next, |verdict, compared| {
        let own = [
            ("circuits", count.into()),
            ("circuit", source.name().into()),
            ("draws", (share.draw.current.numbers(), "A").into()),
        ];
        let sentence = compared.said("loading", verdict, own);
        match verdict {
            Verdict::Holds => sentence,
            _ => Message::several([sentence, more, advice(common)]),
        }
    }));
}

/// Devices of circuits.
fn devices(circuits: &[(Source, Option<Share>)]) -> usize {
    circuits.iter().filter(|(source, _)| source.device.is_some()).count()
}

/// Rated diversity factor: as read, else from the standard's own figure up. The maker may state more, never more than one.
fn factor(common: &Common, circuits: &[(Source, Option<Share>)]) -> Span {
    let read = common.board.surroundings.diversity.range().map(Range::numbers);
    read.unwrap_or_else(|| Span { lo: common.tables.assembly.diversity(devices(circuits)), hi: 1.0 })
}

/// Share of its rating that each circuit of the board carries together with all others: IEC 61439-1, 5.4 and 10.10 (from
/// memory) prove it with the devices where they are, for a room of up to 40 °C (7.1.1). `None` where the room is hotter.
pub(crate) fn carried_together(common: &Common, circuits: &[(Source, Option<Share>)]) -> Option<Range<Ratio>> {
    let room = common.board.surroundings.ambient.range().map(Range::numbers);
    room.is_none_or(|room| room.hi <= DEVICES).then(|| factor(common, circuits).of())
}

/// What to do where neighbours warm each other.
fn advice(common: &Common) -> Message {
    match common.free_poles {
        0 => say!("loading-no-spacer"),
        free => say!("loading-spacer", free = free),
    }
}

fn load_input(source: &Source) -> Sketch {
    let load = &source.circuit.load;
    if load.current.is_unknown() {
        source.named("load/power", "load-of", reading(&load.power))
    } else {
        source.named("load/current", "load-of", reading(&load.current))
    }
}

/// All that warms the enclosure and what it gives off.
#[derive(Clone)]
pub(crate) struct Thermal<'a> {
    tables: &'a crate::tables::Tables,
    /// Height, width and depth, m.
    size: [f64; 3],
    mountings: Vec<Mounting>,
    ambient: Span,
    incomer: Span,
    /// Devices of the circuits, W.
    devices: Vec<Span>,
    /// Conductors and busbars, W.
    conductors: Span,
}

/// Air temperature up to which breakers carry their rating, °C: the upper end of the normal
/// conditions of IEC 60898-1, and of IEC 61439-1 for the room.
pub(crate) const DEVICES: f64 = 40.0;

/// Air temperature at which PVC-insulated conductors carry nothing more, °C: IEC 60364-5-52 table 52.1.
const CONDUCTORS: f64 = 70.0;

/// Exponent of the losses for an enclosure without openings, IEC TR 60890.
const EXPONENT: f64 = 0.804;

/// Largest effective surface that the factors are for, m².
const MOST_SURFACE: f64 = 1.25;

/// Temperature rise in K beyond which the method tells nothing: devices and wiring have long failed. Common practice, no
/// source.
const MOST_RISE: f64 = 100.0;

/// Resistivity of warm copper, Ω·mm²/m: IEC 60364-5-52 annex G.
const COPPER: f64 = 0.0225;

/// Largest current density in wiring of unknown size, A/mm² (common practice, no source).
const WIRE_DENSITY: f64 = 8.0;

/// The same in busbars at their rating.
const BUSBAR_DENSITY: f64 = 2.0;

impl<'a> Thermal<'a> {
    /// What warms a board whose loads and ratings are known, see [`wanting`].
    fn of(common: &Common<'a>, circuits: &[(Source, Option<Share>)], pattern: &Pattern) -> Self {
        let board = common.board;
        let surroundings = &board.surroundings;
        let arrangement = board.incomer.arrangement.get().copied();
        let lugs = arrangement == Some(Arrangement::Lugs);
        let shares: Vec<Share> = circuits.iter().filter_map(|(_, share)| *share).collect();
        let lines = Sums::of(common.supply, &shares).line_sizes();
        let metres = |length: survey::Millimetres| length.get() / 1000.0;
        let [h, w, d] = [metres(pattern.height), metres(pattern.width), metres(pattern.depth)];
        let ambient = surroundings.ambient.range().map(Range::numbers);
        let assumed = common.tables.assumed(Assumable::AmbientAir, None);
        let mountings = match surroundings.mounting.get() {
            Some(one) => vec![*one],
            None => vec![Mounting::Free, Mounting::OnWall, Mounting::OnWallBetween],
        };
        let mut thermal = Thermal {
            tables: common.tables,
            size: [h, w, d],
            mountings,
            ambient: ambient.or(assumed.map(|assumed| assumed.span)).unwrap_or(Span { lo: 10.0, hi: 40.0 }),
            incomer: ZERO,
            devices: Vec::with_capacity(circuits.len()),
            conductors: ZERO,
        };
        let reach = h + w;
        for (source, share) in circuits {
            let Some(share) = share else { continue };
            let current = share.draw.current.numbers();
            let of_a_pole = common.of_a_pole(source, current);
            let poles = source.device.and_then(|(_, device)| device.poles);
            let [least, most] = match poles {
                Some(Poles::P1) => [1.0, 1.0],
                Some(Poles::P1N) => [1.0, 2.0],
                Some(Poles::P2) => [2.0, 2.0],
                Some(Poles::P3 | Poles::P3N) => [3.0, 3.0],
                None => [1.0, 3.0],
            };
            thermal.devices.push(source.device.map_or(ZERO, |(_, device)| {
                let per_pole = per_pole(common, &device.loss, device.rated.range());
                match device.rated.range().map(Range::numbers).filter(|rated| rated.lo > 0.0) {
                    Some(rated) => Span { lo: least, hi: most } * per_pole * (of_a_pole / rated).square(),
                    None => ZERO,
                }
            }));
            // Each wire runs from its entry to its pole: no farther than half around the enclosure.
            let wires = if most < 3.0 { 2.0 } else { 3.0 };
            let each = match source.cable.and_then(|(_, cable)| cable.size.range()).map(Range::numbers) {
                Some(size) if size.lo > 0.0 => current.square() * Span::point(COPPER) / size,
                _ => current * Span::point(COPPER * WIRE_DENSITY),
            };
            thermal.conductors = thermal.conductors + Span { lo: 0.0, hi: (each.hi * wires * reach).max(0.0) };
        }
        let incomer_rated = board.incomer.rated.range();
        let incomer_pole = per_pole(common, &board.incomer.loss, incomer_rated);
        for line in &lines {
            // Busbars and incoming tails are chosen for their rating: at less they warm by the square.
            let part = |rated: f64, density: f64| line.hi * line.hi / rated * COPPER * density * h;
            let tails = incomer_rated.map_or(pattern.rated.get(), |rated| rated.lo().get().max(1.0));
            let bars = part(pattern.rated.get().max(1.0), BUSBAR_DENSITY) + part(tails, WIRE_DENSITY);
            thermal.conductors = thermal.conductors + Span { lo: 0.0, hi: bars.max(0.0) };
            if let Some(rated) = incomer_rated.map(Range::numbers).filter(|rated| rated.lo > 0.0 && !lugs) {
                thermal.incomer = thermal.incomer + incomer_pole * (*line / rated).square();
            }
        }
        // A switched neutral carries no more than a line.
        if arrangement.is_some_and(|one| usize::from(incomer_poles(one)) > lines.len()) && !lines.is_empty() {
            let share = 1.0 + 1.0 / lines.len() as f64;
            thermal.incomer.hi *= share;
        }
        thermal
    }

    /// Effective cooling surface, m²: IEC TR 60890. The bottom does not count.
    fn surface(&self, mounting: Mounting) -> f64 {
        let [h, w, d] = self.size;
        let rise = &self.tables.assembly.rise;
        let rear = if mounting == Mounting::Free { rise.exposed } else { rise.covered };
        let side = if mounting == Mounting::OnWallBetween { rise.covered } else { rise.exposed };
        rise.top * w * d + (rise.exposed + rear) * w * h + 2.0 * side * h * d
    }

    fn losses(&self) -> Span {
        let sum = self.devices.iter().copied().fold(self.incomer + self.conductors, |a, b| a + b);
        Span { lo: sum.lo.max(0.0), hi: sum.hi }
    }

    /// Temperature of the air at the top of the enclosure, °C; `None` beyond the tables.
    pub(crate) fn inside(&self) -> Option<Span> {
        let [h, w, _] = self.size;
        let power = self.losses().monotone(|watts| libm::pow(watts.max(0.0), EXPONENT));
        let power = Span { lo: power.lo.max(0.0), hi: power.hi };
        let c = self.tables.assembly.rise.c(h / w)?;
        let mut found = None;
        for &mounting in &self.mountings {
            let k = self.tables.assembly.rise.k(self.surface(mounting))?;
            found = hull(found, self.ambient + c * k * power);
        }
        found
    }
}

/// What is not known of all that warms the board: where to find it, and what to do.
fn wanting(common: &Common, circuits: &[(Source, Option<Share>)]) -> impl Iterator<Item = (Text, Message)> {
    let incomer = &common.board.incomer;
    let lugs = incomer.arrangement.get() == Some(&Arrangement::Lugs);
    let rating = (!lugs && incomer.rated.is_unknown()).then(|| Text::fixed("/incomer/rated"));
    circuits
        .iter()
        .filter(|(_, share)| share.is_none())
        .map(|(source, _)| (source.at("load/power"), say!("enclosure-temperature-ask-load")))
        .chain(rating.map(|path| (path, say!("enclosure-temperature-ask-incomer"))))
}

/// What warms the enclosure; `None` where the enclosure, how it stands or what warms it is beyond the method, or not
/// known.
pub(crate) fn thermal<'a>(common: &Common<'a>, circuits: &[(Source, Option<Share>)]) -> Option<Thermal<'a>> {
    let pattern = common.board.enclosure.get()?;
    let recessed = common.board.surroundings.mounting.get() == Some(&Mounting::Recessed);
    if circuits.is_empty() || recessed || wanting(common, circuits).next().is_some() {
        return None;
    }
    Some(Thermal::of(common, circuits, pattern))
}

fn warmth(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let surroundings = &board.surroundings;
    let Some(pattern) = board.enclosure.get() else { return };
    if circuits.is_empty() {
        return;
    }
    let mut inputs =
        vec![finding::chosen("/surroundings/mounting", say!("enclosure-mounting"), &surroundings.mounting, |one| {
            one.words()
        })];
    if surroundings.mounting.get() == Some(&Mounting::Recessed) {
        let (why, ask) = (say!("enclosure-temperature-recessed"), say!("enclosure-temperature-recessed-ask"));
        out.push(WARMTH.open(Subject::Board, why, inputs, vec![finding::next("/surroundings/mounting", ask, 1.0)]));
        return;
    }
    let wanting: Vec<_> = wanting(common, circuits).collect();
    if !wanting.is_empty() {
        let why = say!("enclosure-temperature-wanting", count = wanting.len());
        let share = 1.0 / wanting.len() as f64;
        let next = wanting.into_iter().map(|(path, what)| finding::next(path, what, share)).collect();
        out.push(WARMTH.open(Subject::Board, why, inputs, next));
        return;
    }
    let lugs = board.incomer.arrangement.get() == Some(&Arrangement::Lugs);
    let ambient = surroundings.ambient.range().map(Range::numbers);
    let assumed = common.tables.assumed(Assumable::AmbientAir, None);
    let incomer_pole = per_pole(common, &board.incomer.loss, board.incomer.rated.range());
    // Where somebody asked for the rows looked up, this check looks up its own.
    let known = common.thermal.clone().filter(|_| !trace::on());
    let mut thermal = known.unwrap_or_else(|| Thermal::of(common, circuits, pattern));
    inputs.push(finding::told(
        "/enclosure",
        say!("enclosure-label"),
        say!(
            "enclosure-size",
            height = millimetres(pattern.height),
            width = millimetres(pattern.width),
            depth = millimetres(pattern.depth),
        ),
        board.enclosure.from.known,
    ));
    inputs.push(match (ambient, assumed) {
        (None, Some(assumed)) => finding::told(
            "/surroundings/ambient",
            say!("enclosure-room"),
            say!("input-assumed", value = (thermal.ambient, "°C"), why = assumed.why.clone()),
            Known::Assumed,
        ),
        _ => finding::input::<Celsius>("/surroundings/ambient", say!("enclosure-room"), &surroundings.ambient),
    });
    if !lugs {
        inputs.push(loss_input("/incomer/loss", say!("enclosure-incomer-loss"), &board.incomer.loss, incomer_pole));
    }
    let losses = thermal.losses();
    inputs.push(finding::told(
        "/devices",
        say!("enclosure-losses"),
        say!("enclosure-losses-from", value = (losses, "W")),
        Known::Assumed,
    ));
    let surfaces: Vec<f64> = thermal.mountings.iter().map(|one| thermal.surface(*one)).collect();
    let Some(inside) = thermal.inside() else {
        let most = surfaces.iter().copied().fold(0.0, f64::max);
        let why = match most > MOST_SURFACE {
            true => say!("enclosure-temperature-surface", surface = (most, "m²")),
            false => say!("enclosure-temperature-form"),
        };
        let ask = say!("enclosure-temperature-form-ask");
        out.push(WARMTH.open(Subject::Board, why, inputs, vec![finding::next("/surroundings/ambient", ask, 1.0)]));
        return;
    };
    let outcome = Outcome { value: inside, limit: Span { lo: DEVICES, hi: CONDUCTORS } };
    let next = match outcome.verdict() {
        Verdict::Undecided => readings(&mut thermal, inside, circuits, board.incomer.loss.is_unknown() && !lugs),
        _ => Vec::new(),
    };
    let rise = inside - thermal.ambient;
    if outcome.verdict() == Verdict::Undecided && rise.hi > MOST_RISE {
        let why = say!("enclosure-temperature-wide", losses = (losses, "W"));
        out.push(WARMTH.open(Subject::Board, why, inputs, next));
        return;
    }
    let more = [("losses", (losses, "W").into()), ("rise", (rise.hi.max(0.0), "K").into())];
    out.push(WARMTH.judged_as(Subject::Board, outcome, inputs, next, "enclosure-temperature", more));
}

/// A side of the enclosure as it was entered.
fn millimetres(length: survey::Millimetres) -> Argument {
    Argument::Span { span: Span::point(length.get()), unit: "", digits: 6 }
}

/// What one pole gives off at its rated current, W: as read, else up to the standard's largest.
fn per_pole(common: &Common, loss: &survey::Reading<Watts>, rated: Option<Range<survey::Amps>>) -> Span {
    let read = loss.range().map(Range::numbers);
    read.unwrap_or_else(|| {
        let most = rated.and_then(|rated| common.tables.assembly.loss(rated.numbers()));
        // Beyond the table a pole of the largest rating stands in, by the square of the current.
        let beyond = || rated.map_or(0.0, |rated| 20.0 * (rated.hi().get() / 125.0) * (rated.hi().get() / 125.0));
        Span { lo: 0.0, hi: most.unwrap_or_else(beyond) }
    })
}

fn loss_input(path: &'static str, label: Message, loss: &survey::Reading<Watts>, taken: Span) -> Input {
    if loss.is_unknown() {
        let value = say!("enclosure-loss-up-to", most = (taken.hi, "W"));
        finding::told(path, label, value, Known::Assumed)
    } else {
        finding::input(path, label, loss)
    }
}

/// How much of the width each reading would remove, the most first.
fn readings(
    thermal: &mut Thermal,
    inside: Span,
    circuits: &[(Source, Option<Share>)],
    incomer_open: bool,
) -> Vec<survey::NextReading> {
    let width = inside.hi - inside.lo;
    let settles = |left: Option<Span>| {
        let left = left.map_or(width, |span| span.hi - span.lo);
        if width > 0.0 { (1.0 - left / width).clamp(0.0, 1.0) } else { 0.0 }
    };
    let middle = |span: Span| Span::point(span.lo / 2.0 + span.hi / 2.0);
    let mut found: Vec<(String, Message, f64)> = Vec::new();
    let ambient = thermal.ambient;
    thermal.ambient = middle(ambient);
    found.push(("/surroundings/ambient".to_owned(), say!("enclosure-temperature-ask-room"), settles(thermal.inside())));
    thermal.ambient = ambient;
    if thermal.mountings.len() > 1 {
        let all = thermal.mountings.clone();
        let mut sum = 0.0;
        for one in &all {
            thermal.mountings = vec![*one];
            sum += settles(thermal.inside());
        }
        found.push((
            "/surroundings/mounting".to_owned(),
            say!("enclosure-temperature-ask-mounting"),
            sum / all.len() as f64,
        ));
        thermal.mountings = all;
    }
    let incomer = thermal.incomer;
    thermal.incomer = middle(incomer);
    if incomer_open {
        found.push((
            "/incomer/loss".to_owned(),
            say!("enclosure-temperature-ask-incomer-loss"),
            settles(thermal.inside()),
        ));
    }
    thermal.incomer = incomer;
    let sources = circuits.iter().filter(|(_, share)| share.is_some()).map(|(source, _)| source);
    let mut by_device: Vec<(usize, &Source)> = sources.enumerate().collect();
    by_device.sort_by(|a, b| {
        let width = |index: usize| thermal.devices.get(index).map_or(0.0, |span| span.hi - span.lo);
        width(b.0).total_cmp(&width(a.0)).then(a.0.cmp(&b.0))
    });
    for (index, source) in by_device.into_iter().take(3) {
        let (Some(own), Some((id, device))) = (thermal.devices.get(index).copied(), source.device) else { continue };
        if !device.loss.is_unknown() {
            continue;
        }
        thermal.devices[index] = middle(own);
        let ask = say!("enclosure-temperature-ask-loss");
        found.push((format!("/devices/{id}/loss"), ask, settles(thermal.inside())));
        thermal.devices[index] = own;
    }
    found.retain(|(.., settles)| *settles >= 0.01);
    if found.is_empty() {
        let ask = say!("enclosure-temperature-ask-devices");
        found.push(("/enclosure".to_owned(), ask, 1.0));
    }
    found.sort_by(|a, b| b.2.total_cmp(&a.2).then_with(|| a.0.cmp(&b.0)));
    crate::verdict::readings(found)
}
