//! Checks of the board as a whole: what its lines and neutral carry against what may carry it.

use std::cell::OnceCell;
use std::sync::Arc;

use survey::range::Span;
use survey::sketch::{self, Label, Place, Records, Rough, Sketch, Sketches};
use survey::{
    Amps, Argument, Arrangement, Check, Input, Inputs, Known, Message, Range, Ratio, Reading, Subject, SupplyPhases,
    Text, Verdict, say,
};

use crate::balance::{Share, Sums};
use crate::demand;
use crate::field::Field;
use crate::finding;
use crate::rules::{Compared, bare_relation};
use crate::source::{Common, Source, harmonic_of, reading};
use crate::tables::Assumable;
use crate::verdict::Outcome;
use crate::volt_drop;

/// A rating as it was entered.
#[derive(Clone, Copy)]
enum Shown<'a> {
    Reading(&'a Reading<Amps>),
    Plain(Amps),
}

impl Shown<'_> {
    fn words(self) -> Message {
        match self {
            Self::Reading(reading) => finding::shown(reading),
            Self::Plain(rated) => rated.to_string().into(),
        }
    }
}

/// One thing that carries the board's current.
#[derive(Clone)]
struct Bearer<'a> {
    rule: &'static str,
    clause: Message,
    symbols: [&'static str; 2],
    /// What it is, after "the".
    what: Message,
    /// What a person calls its rating.
    label: Message,
    path: &'static str,
    ask: Message,
    rated: Option<Range<Amps>>,
    shown: Shown<'a>,
    known: Known,
    /// The current that counts.
    current: Current,
}

/// A current of the board.
#[derive(Clone, Copy, PartialEq)]
enum Current {
    LargestLine,
    Neutral,
}

impl Current {
    fn of(self, common: &Common, sums: &Sums) -> Option<Span> {
        match self {
            Self::LargestLine => largest_line(sums),
            Self::Neutral => common.supply.map(|_| sums.neutral()),
        }
    }
}

/// Largest line current.
fn largest_line(sums: &Sums) -> Option<Span> {
    sums.line_sizes().into_iter().reduce(|a, b| Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) })
}

/// Everything that carries the board's current.
fn bearers<'a>(common: &'a Common) -> Vec<Bearer<'a>> {
    let incomer = &common.board.incomer;
    let enclosure = &common.board.enclosure;
    let lugs = incomer.arrangement.get() == Some(&Arrangement::Lugs);
    let mut bearers = Vec::with_capacity(4);
    if !lugs {
        let lines = Bearer {
            rule: "incomer-current",
            clause: say!("incomer-current-clause"),
            symbols: ["IL", "In"],
            what: say!("bearer-incomer"),
            label: say!("supply-label-incomer-rated"),
            path: "/incomer/rated",
            ask: say!("supply-ask-incomer-rated"),
            rated: incomer.rated.range(),
            shown: Shown::Reading(&incomer.rated),
            known: incomer.rated.from.known,
            current: Current::LargestLine,
        };
        bearers.push(lines.clone());
        bearers.push(Bearer {
            rule: "neutral-current",
            clause: say!("neutral-current-clause"),
            symbols: ["IN", "In"],
            current: Current::Neutral,
            ..lines
        });
    }
    if let Some(pattern) = enclosure.get() {
        bearers.push(Bearer {
            rule: "busbar-current",
            clause: say!("busbar-current-clause"),
            symbols: ["IL", "InA"],
            what: say!("bearer-busbars"),
            label: say!("supply-label-busbars-rated"),
            path: "/enclosure",
            ask: say!("supply-ask-busbars-rated"),
            rated: Some(Range::point(pattern.rated)),
            shown: Shown::Plain(pattern.rated),
            known: enclosure.from.known,
            current: Current::LargestLine,
        });
    }
    let upstream = &common.board.supply.upstream;
    bearers.push(Bearer {
        rule: "upstream-current",
        clause: say!("upstream-current-clause"),
        symbols: ["IL", "In"],
        what: say!("bearer-upstream"),
        label: say!("supply-label-upstream"),
        path: "/supply/upstream",
        ask: say!("supply-ask-upstream"),
        rated: upstream.range(),
        shown: Shown::Reading(upstream),
        known: upstream.from.known,
        current: Current::LargestLine,
    });
    bearers
}

/// The numbers of a bearer's check; `None` where some are missing.
fn outcome(common: &Common, circuits: &[(Source, Option<Share>)], bearer: &Bearer, sums: &Sums) -> Option<Outcome> {
    let value = bearer.current.of(common, sums)?;
    let limit = bearer.rated?.numbers();
    circuits.iter().all(|(_, share)| share.is_some()).then_some(Outcome { value, limit })
}

fn sums(common: &Common, circuits: &[(Source, Option<Share>)]) -> Sums {
    Sums::of(common.supply, circuits.iter().filter_map(|(_, share)| share.as_ref()))
}

/// The board's own checks, numbers only: `None` where some are missing.
pub(crate) fn judge<'a>(
    common: &'a Common,
    circuits: &'a [(Source, Option<Share>)],
) -> impl Iterator<Item = (&'static str, Option<Outcome>)> + 'a {
    let sums = sums(common, circuits);
    bearers(common).into_iter().map(move |bearer| (bearer.rule, outcome(common, circuits, &bearer, &sums)))
}

/// The board's own checks.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let sums = sums(common, circuits);
    let loads = Arc::new(Sketches::new(Records::NONE, circuits.iter().map(load_input).collect()));
    let middles = OnceCell::new();
    for bearer in bearers(common) {
        out.push(one(common, circuits, &bearer, &sums, &loads, &middles));
    }
}

/// What the load of a circuit is called.
const LOAD: &str = "board-label-design-current";

/// What a circuit draws, as an input.
pub(crate) fn load_input((source, share): &(Source, Option<Share>)) -> Sketch {
    let load = &source.circuit.load;
    let (field, known) = if load.current.is_unknown() {
        ("load/power", load.power.from.known)
    } else {
        ("load/current", load.current.from.known)
    };
    let seen = match share {
        None => (Rough::Said(say!("not-known")), Known::Unknown),
        Some(share) if share.known => (Rough::Number("input-value", share.draw.current.numbers(), "A"), known),
        Some(share) => (Rough::Number("input-up-to-device", share.draw.current.numbers(), "A"), Known::Assumed),
    };
    source.named(field, LOAD, seen)
}

/// Third harmonic that a load sends into the neutral, as read or as taken.
fn harmonic_input(common: &Common, (source, share): &(Source, Option<Share>)) -> Option<Sketch> {
    share.filter(|share| share.returns)?;
    let harmonic = &source.circuit.load.third_harmonic;
    let seen = match harmonic.range().map(Range::numbers) {
        Some(read) if !read.lo.is_finite() && !read.hi.is_finite() => {
            (Rough::Said(say!("input-no-share")), Known::Unknown)
        }
        Some(_) => reading(harmonic),
        None => {
            let taken = common.tables.assumed(Assumable::ThirdHarmonic, harmonic_of(source))?;
            let share = Span { lo: taken.span.lo * 100.0, hi: taken.span.hi * 100.0 };
            (Rough::Assumed(share, "%", taken.why.clone()), Known::Assumed)
        }
    };
    Some(source.named("load/third_harmonic", "board-label-third-harmonic", seen))
}

fn one(
    common: &Common,
    circuits: &[(Source, Option<Share>)],
    bearer: &Bearer,
    sums: &Sums,
    loads: &Arc<Sketches>,
    middles: &OnceCell<Vec<Option<Sums>>>,
) -> Check {
    let rating = Input {
        path: bearer.path.into(),
        label: bearer.label.clone(),
        value: bearer.shown.words(),
        known: bearer.known,
    };
    let mut inputs = Inputs::from(vec![rating]).then(Inputs::all_sketched(loads));
    if bearer.current == Current::Neutral && common.supply == Some(SupplyPhases::Three) {
        let harmonics = circuits.iter().filter_map(|one| harmonic_input(common, one)).collect();
        inputs = inputs.then(Inputs::all_sketched(&Arc::new(Sketches::new(Records::NONE, harmonics))));
    }
    let mut check = Check {
        rule: bearer.rule.into(),
        subject: Subject::Board,
        verdict: Verdict::Undecided,
        sentence: Message::default(),
        inequality: bare_relation(bearer.symbols),
        clause: bearer.clause.clone(),
        margin: None,
        inputs,
        next: Vec::new(),
        tables: Message::default(),
    };
    let mut wanting: Vec<(Text, Message, f64)> = Vec::new();
    let mut labels: Vec<Message> = Vec::new();
    if common.supply.is_none() {
        wanting.push(("/supply/phases".into(), say!("supply-ask-phases"), 1.0));
        labels.push(say!("supply-label-phases"));
    }
    if bearer.rated.is_none() {
        wanting.push((bearer.path.into(), bearer.ask.clone(), 1.0));
        labels.push(bearer.label.clone());
    }
    for (source, _) in circuits.iter().filter(|(_, share)| share.is_none()) {
        wanting.push((source.at("load/power"), ASK_LOAD, 1.0));
        labels.push(Label::OfCircuit(LOAD, source.name()).written());
    }
    let Some(outcome) = outcome(common, circuits, bearer, sums) else {
        let share = 1.0 / wanting.len().max(1) as f64;
        let more = labels.len().saturating_sub(3);
        labels.truncate(3);
        check.sentence = match more {
            0 => say!("not-settled-for-want-of", what = labels),
            more => say!("not-settled-for-want-of-more", what = labels, more = more),
        };
        check.next = crate::verdict::readings(wanting.into_iter().map(|(path, ask, _)| (path, ask, share)));
        return check;
    };
    check.verdict = outcome.verdict();
    check.margin = outcome.margin();
    let compared = Compared::of(outcome, check.verdict, "A", 1.0);
    check.sentence = sentence(bearer, sums, compared.clone(), check.verdict);
    check.inequality = compared.relation(bearer.symbols, check.verdict);
    if check.verdict == Verdict::Undecided {
        let shares = || circuits.iter().filter_map(|(_, share)| *share).collect::<Vec<Share>>();
        let middles = middles.get_or_init(|| Sums::at_middles(common.supply, &shares()));
        check.next = sensitivity(common, circuits, bearer, outcome, middles);
    }
    check
}

const ASK_LOAD: Message = say!("board-ask-load");

fn sentence(bearer: &Bearer, sums: &Sums, compared: Compared, verdict: Verdict) -> Message {
    let Compared { value, limit } = compared;
    let carries = match (bearer.current, sums.line_sizes().as_slice()) {
        (Current::Neutral, _) => say!("neutral-carries", value = value),
        (_, [a, b, c]) => {
            let [a, b, c] = [a, b, c].map(|span| Argument::span(*span, "A"));
            match sums.unbalance() {
                Some([lo, hi]) => {
                    let unbalance = Argument::Span { span: Span { lo, hi }, unit: "%", digits: 2 };
                    say!("lines-carry-unbalanced", a = a, b = b, c = c, unbalance = unbalance)
                }
                None => say!("lines-carry", a = a, b = b, c = c),
            }
        }
        _ => say!("line-carries", value = value),
    };
    say!("bearer-carries", verdict = verdict, carries = carries, what = bearer.what.clone(), limit = limit)
}

/// How much each circuit's load, shrunk to its middle, takes off the width.
fn sensitivity(
    common: &Common,
    circuits: &[(Source, Option<Share>)],
    bearer: &Bearer,
    outcome: Outcome,
    middles: &[Option<Sums>],
) -> Vec<survey::NextReading> {
    let width = outcome.value.hi - outcome.value.lo;
    let mut found = Vec::new();
    let sources = circuits.iter().filter(|(_, share)| share.is_some());
    for ((source, share), sums) in sources.zip(middles) {
        let Some(sums) = sums else { continue };
        let left = bearer.current.of(common, sums).map_or(width, |span| span.hi - span.lo);
        let settles = if width > 0.0 { (1.0 - left / width).clamp(0.0, 1.0) } else { 0.0 };
        if settles >= 0.01 {
            let load = &source.circuit.load;
            let exact = share.is_some_and(|share| share.draw.current.is_point() && share.draw.active.is_point());
            let harmonic = share.is_some_and(|share| share.third.lo != share.third.hi);
            let (field, ask) = match (exact, load.current.is_unknown()) {
                (true, _) if harmonic => ("load/third_harmonic", finding::ask(Field::ThirdHarmonic)),
                (true, _) => ("load/leading", finding::ask(Field::Leading)),
                (false, true) => ("load/power", ASK_LOAD),
                (false, false) => ("load/current", ASK_LOAD),
            };
            found.push((source.id, field, ask, settles));
        }
    }
    found.sort_by(|a, b| b.3.total_cmp(&a.3).then(a.0.cmp(&b.0)));
    let paths = sketch::paths(found.iter().map(|(id, field, ..)| Place::CircuitOf(*id, field)));
    paths.zip(&found).map(|(path, (_, _, ask, settles))| finding::next(path, ask.clone(), *settles)).collect()
}

/// Drop in the supply cable under the board's own load, as a share of U0; `None` where the cable
/// is not known well enough. The neutral's share of the drop is in the range's upper end.
///
/// The least is nothing, and honestly so: a design current is the most that a load draws, not what all draw at once, so
/// while one circuit runs the others may be idle; and on a light line the current in the neutral may even raise the
/// voltage. What is surely lost of a circuit's own current is little beside that and not counted.
pub(crate) fn drop_before(common: &Common, shares: &[Share]) -> Option<Range<Ratio>> {
    let sums = Sums::of(common.supply, shares);
    let current = largest_line(&sums)?;
    let any = Range::new(Ratio::new(0.0), Ratio::new(1.0));
    let case = common.supply_case(current.of(), any)?;
    let draw = demand::draw(&case).ok()?;
    let lines = volt_drop::along(&case, &draw).ok()?;
    let spread = sums.neutral();
    let neutral = if sums.line_sizes().len() == 3 && current.hi > 0.0 { spread.hi / current.hi } else { 0.0 };
    let hi = Span::point(lines.hi) * (Span::point(1.0) + Span::point(neutral));
    Some(Span { lo: lines.lo, hi: hi.hi }.of())
}
