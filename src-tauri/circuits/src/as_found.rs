//! What stands in the board and should not stand so: recorded as it is, and found.

use survey::range::Span;
use survey::{
    Argument, Arrangement, Board, Bond, Check, CpcForm, Input, Known, Message, NextReading, Seen, Subject,
    SupplyPhases, Verdict, YesNo, say, terminal,
};

use crate::cable;
use crate::case::{Case, Feed, Gap};
use crate::field::Field;
use crate::finding::{self, Rule, settled_by};
use crate::rules::RING_CARRIES;
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const SHARED: Rule = Rule::in_words("terminal-shared", Message::bare("terminal-shared-clause"));

const INCOMER: Rule = Rule::in_words("incomer-supply", Message::bare("incomer-supply-clause"));

const SECOND_EARTH: Rule = Rule::in_words("second-earth", Message::bare("second-earth-clause"));

const UNTRACED: Rule = Rule::in_words("untraced", Message::bare("untraced-clause"));

const RING_ENDS: Rule = Rule::in_words("ring-ends", Message::bare("ring-ends-clause"));

pub(crate) const RING_CABLE: Rule = Rule {
    name: "ring-cable",
    clause: Message::bare("ring-cable-clause"),
    symbols: [Message::bare("symbol-iz-needed"), Message::fixed("Iz")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const INSULATION: Rule = Rule {
    name: "insulation",
    clause: Message::bare("insulation-clause"),
    symbols: [Message::bare("symbol-least"), Message::bare("symbol-insulation")],
    unit: "MΩ",
    scale: 1e6,
    advice: false,
};

pub(crate) const CORES: Rule = Rule::in_words("cores", Message::bare("cores-clause"));

const REINFORCED: Rule = Rule::in_words("cpc-reinforced", Message::bare("cpc-reinforced-clause"));

const SEEN: Rule = Rule::in_words("seen", Message::fixed(""));

const BONDED: Rule = Rule::in_words("enclosure-bonded", Message::bare("enclosure-bonded-clause"));

const INCOMING_EARTH: Rule = Rule::in_words("incoming-earth", Message::bare("incoming-earth-clause"));

const TOUCH_CLOSED: Rule = Rule::in_words("touch-closed", Message::bare("touch-closed-clause"));

const TOUCH_OPEN: Rule = Rule {
    name: "touch-open",
    clause: Message::bare("touch-open-clause"),
    symbols: [Message::bare("symbol-cover-off"), Message::bare("symbol-out-of-reach")],
    unit: "",
    scale: 1.0,
    advice: true,
};

/// Keys of the rules here, for records without words.
pub(crate) const KEYS: &[&str] = &[
    "terminal-shared",
    "second-earth",
    "incomer-supply",
    "untraced",
    "ring-ends",
    "insulation",
    "cores",
    "cpc-apart",
    "cpc-reinforced",
    "ring-cable",
    "seen",
    "enclosure-bonded",
    "incoming-earth",
    "touch-closed",
    "touch-open",
    "neutral-shared",
    "safety-apart",
    "neutral-fuse",
    "least-size",
    "buried",
    "cable-readings",
    "supply-voltage",
    "pen-size",
    "pen-rcd",
    "charging-earth",
    "dc-poles",
];

/// An incomer with poles for one line on a supply of three: one of the two was read wrongly, or two lines go past it.
fn incomer(common: &Common, out: &mut Vec<Check>) {
    let (supply, incomer) = (&common.board.supply, &common.board.incomer);
    let Some(arrangement @ (Arrangement::TwoPole | Arrangement::TwoPoleRcd)) = incomer.arrangement.get().copied()
    else {
        return;
    };
    if supply.phases.get() != Some(&SupplyPhases::Three) {
        return;
    }
    let sentence = say!("incomer-supply", incomer = arrangement.words());
    let inputs = vec![
        finding::chosen("/incomer/arrangement", say!("found-incomer"), &incomer.arrangement, |one| one.words()),
        finding::chosen("/supply/phases", say!("found-phases"), &supply.phases, |one| one.words()),
    ];
    out.push(INCOMER.plain(Subject::Board, Verdict::Fails, sentence, "", None, inputs, Vec::new()));
}

/// Findings of what was recorded as it stands.
pub(crate) fn check<S>(common: &Common, circuits: &[(Source, S)], out: &mut Vec<Check>) {
    let board = common.board;
    let name = |id| circuits.iter().find(|(source, _)| source.id == id).map(|(source, _)| source.name());
    if said_of_terminals(common, circuits)
        && let Some(pattern) = board.enclosure.get().filter(|pattern| pattern.faults().is_empty())
    {
        let terminals = terminal::terminals(board, pattern);
        for (id, terminal, holder) in &terminals.shared {
            let path = match terminals.neutral.get(id) {
                Some(own) if own == terminal => format!("/circuits/{id}/neutral_terminal"),
                _ => format!("/circuits/{id}/earth_terminals"),
            };
            let other = name(*holder).unwrap_or_else(|| say!("another-circuit"));
            let sentence = say!("terminal-shared", terminal = terminal.clone(), other = other);
            let input = finding::told(path.clone(), say!("found-terminal"), terminal.clone(), Known::Stated);
            let next = finding::next(path, say!("terminal-shared-ask"), 1.0);
            push(&SHARED, *id, Verdict::Undecided, settled_by(sentence, &next), input, vec![next], out);
        }
        for id in &terminals.lacking {
            let path = format!("/circuits/{id}/earth_terminals");
            let input =
                finding::told(path, say!("found-earth-terminals"), say!("found-earth-terminals-used"), Known::Stated);
            push(&SECOND_EARTH, *id, Verdict::Fails, say!("second-earth"), input, Vec::new(), out);
        }
    }
    housing(common, out);
    incomer(common, out);
    seen(common, out);
    for (source, _) in circuits {
        ring_ends(common, source, out);
        conductors(common, source, out);
        insulation(source, out);
        if source.circuit.ring.get() == Some(&YesNo::Yes) {
            ring_cable(common, source, &common.case(source), out);
        }
    }
    for (source, _) in circuits.iter().filter(|(source, _)| source.circuit.description.is_empty()) {
        let path = source.at("description");
        let input = finding::told(path.clone(), say!("found-feeds"), say!("not-known"), Known::Unknown);
        let next = finding::next(path, say!("untraced-ask"), 1.0);
        let sentence = settled_by(say!("untraced"), &next);
        push(&UNTRACED, source.id, Verdict::Undecided, sentence, input, vec![next], out);
    }
}

/// Terminals can be shared or lacking: somebody said which a circuit uses, or two circuits start at one place. Where
/// each circuit has those of its own first pole there is nothing to look for.
fn said_of_terminals<S>(common: &Common, circuits: &[(Source, S)]) -> bool {
    let said = |circuit: &survey::Circuit| {
        circuit.neutral_terminal.is_some() || !circuit.earth_terminals.is_empty() || circuit.high_protective_current
    };
    // In the order of their poles, so those of one place stand side by side.
    let place = |source: &Source| source.device.and_then(|(_, device)| device.at);
    common.board.live_circuits().any(|(_, circuit)| said(circuit))
        || circuits.windows(2).any(|pair| match pair {
            [(a, _), (b, _)] => place(a).is_some() && place(a) == place(b),
            _ => false,
        })
}

/// What a thing seen means: the verdict, what it does, what to do about it, and the clause.
struct Meaning {
    verdict: Verdict,
    does: Message,
    act: Message,
    clause: Message,
}

/// Severity by what the thing may do to a person: a plain danger fails; what may be right or wrong is undecided until
/// somebody looks; what is only worse than it could be is beyond advice. The clauses are from memory.
fn meaning(seen: Seen) -> Meaning {
    use Verdict::{Advised, Fails, Undecided};
    let (verdict, does, act, clause) = match seen {
        Seen::BorrowedNeutral => (
            Fails,
            say!("seen-borrowed-neutral-does"),
            say!("seen-borrowed-neutral-act"),
            say!("seen-borrowed-neutral-clause"),
        ),
        Seen::UnlinkedPoles => (
            Fails,
            say!("seen-unlinked-poles-does"),
            say!("seen-unlinked-poles-act"),
            say!("seen-unlinked-poles-clause"),
        ),
        Seen::InterruptedRing => (
            Fails,
            say!("seen-interrupted-ring-does"),
            say!("seen-interrupted-ring-act"),
            say!("seen-interrupted-ring-clause"),
        ),
        Seen::Spur => (Advised, say!("seen-spur-does"), say!("seen-spur-act"), say!("seen-spur-clause")),
        Seen::SpareEnd => {
            (Undecided, say!("seen-spare-end-does"), say!("seen-spare-end-act"), say!("seen-spare-end-clause"))
        }
        Seen::MixedColours => (
            Undecided,
            say!("seen-mixed-colours-does"),
            say!("seen-mixed-colours-act"),
            say!("seen-mixed-colours-clause"),
        ),
        Seen::DoubledConductor => (
            Fails,
            say!("seen-doubled-conductor-does"),
            say!("seen-doubled-conductor-act"),
            say!("seen-doubled-conductor-clause"),
        ),
        Seen::MissingBlank => {
            (Fails, say!("seen-missing-blank-does"), say!("seen-missing-blank-act"), say!("seen-missing-blank-clause"))
        }
        Seen::LiveInReach => {
            (Fails, say!("seen-live-in-reach-does"), say!("seen-live-in-reach-act"), say!("seen-live-in-reach-clause"))
        }
        Seen::OpenHole => {
            (Fails, say!("seen-open-hole-does"), say!("seen-open-hole-act"), say!("seen-open-hole-clause"))
        }
        Seen::BareEntry => {
            (Fails, say!("seen-bare-entry-does"), say!("seen-bare-entry-act"), say!("seen-bare-entry-clause"))
        }
        Seen::SheathShort => {
            (Fails, say!("seen-sheath-short-does"), say!("seen-sheath-short-act"), say!("seen-sheath-short-clause"))
        }
        Seen::NoEarth => (Fails, say!("seen-no-earth-does"), say!("seen-no-earth-act"), say!("seen-no-earth-clause")),
        Seen::Loose => (Fails, say!("seen-loose-does"), say!("seen-loose-act"), say!("seen-loose-clause")),
        Seen::Heat => (Fails, say!("seen-heat-does"), say!("seen-heat-act"), say!("seen-heat-clause")),
        Seen::Damaged => (Fails, say!("seen-damaged-does"), say!("seen-damaged-act"), say!("seen-damaged-clause")),
        Seen::Wet => (Fails, say!("seen-wet-does"), say!("seen-wet-act"), say!("seen-wet-clause")),
        Seen::ForeignDevice => (
            Undecided,
            say!("seen-foreign-device-does"),
            say!("seen-foreign-device-act"),
            say!("seen-foreign-device-clause"),
        ),
    };
    Meaning { verdict, does, act, clause }
}

/// What was seen and is not yet put right.
fn seen(common: &Common, out: &mut Vec<Check>) {
    for (id, one) in common.board.open_observations() {
        let Some(what) = one.seen else { continue };
        let Meaning { verdict, does, act, clause } = meaning(what);
        let about = common.board.circuit_at(&one.about);
        let sentence = match one.place.is_empty() {
            true => say!("seen", what = what.words(), does = does, act = act.clone()),
            false => say!("seen-at", place = one.place.clone(), what = what.words(), does = does, act = act.clone()),
        };
        let path = format!("/observations/{id}/seen");
        let input = finding::told(path, say!("seen-label"), what.words(), Known::Stated);
        let next = vec![finding::next(format!("/observations/{id}/put_right"), act, 1.0)];
        let subject = about.map_or(Subject::Board, Subject::Circuit);
        let inequality = say!("seen-relation", what = what.words());
        out.push(Rule { clause, ..SEEN }.plain(subject, verdict, sentence, inequality, None, vec![input], next));
    }
}

/// A resistance from end to end above this is an open conductor, Ω: a ring of 2.5 mm² and 500 m has 4 Ω.
const OPEN: f64 = 100.0;
/// How far r1 and rn of a ring may lie apart, Ω: guidance on testing to BS 7671, from memory.
const ALIKE: f64 = 0.05;

/// The ring of this circuit was found interrupted: seen, or by its readings.
pub(crate) fn interrupted(board: &Board, source: &Source) -> bool {
    let tests = &source.circuit.tests;
    let open = [&tests.ring_line, &tests.ring_neutral, &tests.ring_cpc];
    open.iter().any(|reading| reading.range().is_some_and(|range| range.lo().get() > OPEN))
        || seen_interrupted(board, source)
}

fn seen_interrupted(board: &Board, source: &Source) -> bool {
    board
        .open_observations()
        .any(|(_, one)| one.seen == Some(Seen::InterruptedRing) && board.circuit_at(&one.about) == Some(source.id))
}

/// The protective conductor of this circuit was seen missing or cut.
pub(crate) fn without_earth(board: &Board, source: &Source) -> bool {
    let of = |about: &str, records: &str, id: String| {
        about.strip_prefix(records).and_then(|rest| rest.split('/').next()).is_some_and(|found| found == id)
    };
    board.open_observations().filter(|(_, one)| one.seen == Some(Seen::NoEarth)).any(|(_, one)| {
        of(&one.about, "/circuits/", source.id.to_string())
            || source.device.is_some_and(|(id, _)| of(&one.about, "/devices/", id.to_string()))
            || source.cable.is_some_and(|(id, _)| of(&one.about, "/cables/", id.to_string()))
    })
}

/// One was seen missing or cut before all circuits of the board: on its supply, or nobody said where.
pub(crate) fn supply_without_earth(board: &Board) -> bool {
    let cable = board.supply.cable.map(|id| format!("/cables/{id}"));
    board.open_observations().any(|(_, one)| {
        one.seen == Some(Seen::NoEarth)
            && (one.about.is_empty()
                || one.about.starts_with("/supply")
                || cable.as_ref().is_some_and(|cable| one.about.starts_with(cable.as_str())))
    })
}

/// The ends of a ring against each other.
fn ring_ends(common: &Common, source: &Source, out: &mut Vec<Check>) {
    let tests = &source.circuit.tests;
    let ends = [
        ("ring_line", "r1", &tests.ring_line),
        ("ring_neutral", "rn", &tests.ring_neutral),
        ("ring_cpc", "r2", &tests.ring_cpc),
    ];
    let is_ring = source.circuit.ring.get() == Some(&YesNo::Yes);
    let seen = seen_interrupted(common.board, source);
    if !is_ring && !seen && ends.iter().all(|(.., reading)| reading.is_unknown()) {
        return;
    }
    let inputs: Vec<Input> = ends
        .iter()
        .map(|(field, label, reading)| finding::input(source.at(&format!("tests/{field}")), *label, reading))
        .collect();
    let subject = Subject::Circuit(source.id);
    let [r1, rn, r2] = ends.map(|(.., reading)| finding::shown(reading));
    let inequality = say!("ring-ends-relation", r1 = r1, rn = rn, r2 = r2);
    let push = |verdict, sentence: Message, next, inputs| {
        RING_ENDS.plain(subject, verdict, sentence, inequality, None, inputs, next)
    };
    let next = |field: &str, ask: Message| finding::next(source.at(&format!("tests/{field}")), ask, 1.0);
    if let Some((_, name, reading)) =
        ends.iter().find(|(.., reading)| reading.range().is_some_and(|range| range.lo().get() > OPEN))
    {
        let sentence = say!("ring-ends-open", name = *name, read = finding::shown(reading));
        out.push(push(Verdict::Fails, sentence, Vec::new(), inputs));
        return;
    }
    if seen {
        let whole = ends.iter().all(|(.., reading)| !reading.is_unknown());
        let next = next("ring_line", say!("ring-ends-seen-ask"));
        let (verdict, sentence) = match whole {
            true => (Verdict::Undecided, settled_by(say!("ring-ends-seen-whole"), &next)),
            false => (Verdict::Fails, say!("ring-ends-seen", ask = next.what.clone())),
        };
        out.push(push(verdict, sentence, vec![next], inputs));
        return;
    }
    if let Some((field, name, _)) = ends.iter().find(|(.., reading)| reading.is_unknown()) {
        let next = next(field, say!("ring-ends-unread-ask"));
        out.push(push(Verdict::Undecided, say!("ring-ends-unread", name = *name), vec![next], inputs));
        return;
    }
    if let Some((field, name, read, least)) = too_short(common, source) {
        let next = next(field, say!("ring-ends-short-ask"));
        let sentence = say!("ring-ends-short", name = name, read = finding::shown(read), least = (least, "Ω"));
        out.push(push(Verdict::Undecided, settled_by(sentence, &next), vec![next], inputs));
        return;
    }
    let apart = tests
        .ring_line
        .range()
        .zip(tests.ring_neutral.range())
        .map(|(line, neutral)| (line.lo().get() - neutral.hi().get()).max(neutral.lo().get() - line.hi().get()));
    // r2 follows from r1 by the sizes, of one metal: r1·S/Scpc. A quarter off is a joint or another conductor.
    let sizes = source.cable.and_then(|(_, cable)| {
        let core = cable.cpc.get() == Some(&CpcForm::Core);
        core.then(|| cable.size.range().zip(cable.cpc_size.range())).flatten()
    });
    let unlike =
        tests.ring_line.range().zip(tests.ring_cpc.range()).zip(sizes).is_some_and(|((r1, r2), (line, cpc))| {
            let expected = r1.numbers() * line.numbers() / cpc.numbers();
            r2.lo().get() > expected.hi * 1.25 + ALIKE || r2.hi().get() < expected.lo * 0.75 - ALIKE
        });
    if unlike {
        let next = next("ring_cpc", say!("ring-ends-unlike-ask"));
        let sentence = say!("ring-ends-unlike", ask = next.what.clone());
        out.push(push(Verdict::Undecided, sentence, vec![next], inputs));
        return;
    }
    if apart.is_some_and(|apart| apart > ALIKE) {
        let next = next("ring_neutral", say!("ring-ends-apart-ask"));
        let sentence = say!("ring-ends-apart", ask = next.what.clone());
        out.push(push(Verdict::Undecided, sentence, vec![next], inputs));
    } else {
        out.push(push(Verdict::Holds, say!("ring-ends-whole"), Vec::new(), inputs));
    }
}

/// A conductor of a ring that reads less from end to end than its length and size leave it, with that least in Ω.
fn too_short<'a>(
    common: &Common,
    source: &Source<'a>,
) -> Option<(&'static str, &'static str, &'a survey::Reading<survey::Ohms>, f64)> {
    let (_, cable) = source.cable?;
    let length = cable.length.range()?.numbers().lo;
    let tests = &source.circuit.tests;
    let line = cable.size.range();
    let neutral = cable.neutral_size.range().or(line);
    let own = matches!(cable.cpc.get(), Some(CpcForm::Core | CpcForm::Separate));
    let metal = cable.material.get().copied();
    let back = match cable.cpc.get() {
        Some(CpcForm::Separate) => cable.cpc_material.get().copied().or(metal),
        _ => metal,
    };
    [
        ("ring_line", "r1", &tests.ring_line, line, metal),
        ("ring_neutral", "rn", &tests.ring_neutral, neutral, metal),
        ("ring_cpc", "r2", &tests.ring_cpc, cable.cpc_size.range().filter(|_| own), back),
    ]
    .into_iter()
    .find_map(|(field, name, reading, size, metal)| {
        let per_km = common.tables.resistance(metal?, cable.construction.get().copied(), size?.numbers())?;
        // The tables give the largest resistance allowed, at 20 °C: a tenth less for the wire and the cold.
        let least = 0.9 * per_km.lo * length / 1000.0;
        (reading.range()?.hi().get() < least).then_some((field, name, reading, least))
    })
}

/// Insulation resistance as read, against the least that a test allows.
fn insulation(source: &Source, out: &mut Vec<Check>) {
    let reading = &source.circuit.tests.insulation;
    let Some(range) = reading.range() else { return };
    let outcome = Outcome { value: Span::point(LEAST_INSULATION), limit: range.numbers() };
    let inputs = vec![finding::input(source.at("tests/insulation"), say!("found-insulation"), reading)];
    let next = vec![finding::next(source.at("tests/insulation"), say!("insulation-ask"), 1.0)];
    out.push(INSULATION.judged_as(Subject::Circuit(source.id), outcome, inputs, next, "insulation", []));
}

/// Least insulation resistance at 500 V d.c., circuits up to 500 V, Ω: IEC 60364-6, table 6.1, from memory.
const LEAST_INSULATION: f64 = 1e6;

/// What a circuit's cable lacks in conductors: a core for each that the circuit needs; a protective conductor thick
/// enough to be laid on its own, or to carry more than 10 mA in normal use.
fn conductors(common: &Common, source: &Source, out: &mut Vec<Check>) {
    let (Some((id, cable)), subject) = (source.cable, Subject::Circuit(source.id)) else { return };
    let at = |field: &str| format!("/cables/{id}/{field}");
    let multicore = matches!(
        cable.construction.get(),
        Some(survey::Construction::Multicore | survey::Construction::Armoured | survey::Construction::Flexible)
    );
    let feed = source.device.and_then(|(_, device)| common.feed(device).ok().map(|feed| (feed, device.poles)));
    if let (true, Some(cores), Some((feed, poles))) = (multicore, cable.cores.get(), feed) {
        let live = match feed {
            Feed::ThreeLines => 3 + u8::from(poles == Some(survey::Poles::P3N)),
            _ if common.linked(source) => 4,
            _ => 2,
        };
        let needed = live + u8::from(cable.cpc.get() == Some(&CpcForm::Core));
        if *cores < needed {
            let ask = say!("cores-ask");
            let (needs, has) = (u32::from(needed), u32::from(*cores));
            let sentence = say!("cores", needed = needs, cores = has, ask = ask.clone());
            let input = finding::chosen(at("cores"), finding::label(Field::Cores), &cable.cores, ToString::to_string);
            push(
                &CORES,
                source.id,
                Verdict::Undecided,
                sentence,
                input,
                vec![finding::next(at("cores"), ask, 1.0)],
                out,
            );
        }
    }
    let leakage = &source.circuit.load.leakage;
    let carries = leakage.range().is_some_and(|range| range.lo().get() > 0.01);
    let copper = cable.material.get() == Some(&survey::Material::Copper);
    let thick = cable.cpc_size.range().is_some_and(|size| size.lo().get() >= if copper { 10.0 } else { 16.0 });
    if carries && !thick && matches!(cable.cpc.get(), Some(CpcForm::Core | CpcForm::Separate) | None) {
        let current = leakage.range().map_or_else(
            || finding::shown(leakage).into(),
            |range| Argument::span(range.numbers() * Span::point(1000.0), "mA"),
        );
        let next = finding::next(at("cpc_size"), say!("cpc-reinforced-ask"), 1.0);
        let sentence = settled_by(say!("cpc-reinforced", current = current), &next);
        let inputs = vec![
            finding::input(source.at("load/leakage"), say!("found-leakage"), leakage),
            finding::input(at("cpc_size"), finding::label(Field::CpcSize), &cable.cpc_size),
        ];
        let inequality = say!("cpc-reinforced-relation");
        out.push(REINFORCED.plain(subject, Verdict::Undecided, sentence, inequality, None, inputs, vec![next]));
    }
}

/// The ring's cable: its sizes and what it carries, against what BS 7671 asks of one on 30 or 32 A.
pub(crate) fn ring_cable(common: &Common, source: &Source, case: &Case, out: &mut Vec<Check>) {
    if source.circuit.ring.get() != Some(&YesNo::Yes) || case.rings != [YesNo::Yes] {
        return;
    }
    let subject = Subject::Circuit(source.id);
    let Some((id, cable)) = source.cable else { return };
    let at = |field: &str| format!("/cables/{id}/{field}");
    let mut inputs = vec![
        finding::input(at("size"), finding::label(Field::Size), &cable.size),
        finding::input(at("cpc_size"), finding::label(Field::CpcSize), &cable.cpc_size),
    ];
    if let Some((device, found)) = source.device {
        inputs.push(finding::input(format!("/devices/{device}/rated"), finding::label(Field::Rated), &found.rated));
    }
    let rated = source.device.and_then(|(_, device)| device.rated.range()).map(survey::Range::numbers);
    if rated.is_some_and(|rated| rated.lo > 32.0) {
        let (sentence, inequality) = (say!("ring-cable-device"), say!("ring-cable-device-relation"));
        out.push(RING_CABLE.plain(subject, Verdict::Fails, sentence, inequality, None, inputs, Vec::new()));
        return;
    }
    if !matches!(case.feed, Ok(Feed::OneLine(_)) | Err(_)) {
        if let Some((device, found)) = source.device {
            let words = found.poles.map_or(say!("not-known"), |poles| poles.words());
            let path = format!("/devices/{device}/poles");
            inputs.push(finding::told(path, finding::label(Field::Poles), words, Known::Stated));
        }
        let next = finding::next(source.at("ring"), say!("ring-cable-lines-ask"), 1.0);
        let sentence = settled_by(say!("ring-cable-lines"), &next);
        let inequality = say!("ring-cable-lines-relation");
        out.push(RING_CABLE.plain(subject, Verdict::Undecided, sentence, inequality, None, inputs, vec![next]));
        return;
    }
    for (field, tried, least) in [("size", Field::Size, 2.5), ("cpc_size", Field::CpcSize, 1.5)] {
        if field == "cpc_size" && !matches!(case.cpc, Some(CpcForm::Core | CpcForm::Separate)) {
            continue;
        }
        if let Some(size) = case.slots.span(tried).filter(|size| size.hi < least) {
            let sentence = say!("ring-cable-thin", size = (size, "mm²"), least = (least, "mm²"));
            let inequality = say!("ring-cable-thin-relation", least = (least, "mm²"));
            out.push(RING_CABLE.plain(subject, Verdict::Fails, sentence, inequality, None, inputs, Vec::new()));
            return;
        }
    }
    match cable::carried(case) {
        Ok(carried) => {
            let outcome = Outcome { value: Span::point(RING_CARRIES), limit: carried.numbers() * flat_in_wall(case) };
            let next = vec![finding::next(at("method"), say!("ring-cable-ask"), 1.0)];
            out.push(RING_CABLE.judged_as(subject, outcome, inputs, next, "ring-cable", []));
        }
        Err(gap) => {
            let field = match gap {
                Gap::Missing(field) | Gap::Unfit(field, _) => field,
            };
            let next = vec![finding::next(common.path(source, field), finding::ask(field), 1.0)];
            out.push(RING_CABLE.wanting(subject, vec![finding::label(field)], inputs, next));
        }
    }
}

/// What BS 7671 gives a flat twin and earth cable of 2.5 mm² in conduit in an insulated wall over what method A2 gives
/// multicore cables: 20 A over 18.5 A. Source: BS 7671 table 4D5, method A, from memory; IEC 60364-5-52 table B.52.2. The
/// rule of rings is of BS 7671, so are the capacities it is held against.
fn flat_in_wall(case: &Case) -> Span {
    let flat = case.construction == Some(survey::Construction::FlatTwinEarth)
        && case.methods == [survey::Method::A2]
        && case.materials == [survey::Material::Copper]
        && case.insulations == [survey::Insulation::Pvc70]
        && case.slots.span(Field::Size) == Some(Span::point(2.5));
    Span::point(if flat { 20.0 / 18.5 } else { 1.0 })
}

/// The enclosure against touch.
fn housing(common: &Common, out: &mut Vec<Check>) {
    let housing = &common.board.housing;
    let bonds = [
        ("case_bond", say!("housing-case"), &housing.case_bond),
        ("door_bond", say!("housing-door"), &housing.door_bond),
        ("plates_bond", say!("housing-plates"), &housing.plates_bond),
    ];
    let begun = bonds.iter().any(|(.., bond)| bond.get().is_some())
        || housing.incoming_earth.get().is_some()
        || housing.ip_closed.get().is_some()
        || housing.ip_open.get().is_some()
        || housing.barriers.get().is_some()
        || housing.shrouds.get().is_some();
    if !begun {
        return;
    }
    let subject = Subject::Board;
    let inputs = || -> Vec<Input> {
        bonds
            .iter()
            .map(|(field, label, bond)| {
                finding::chosen(format!("/housing/{field}"), label.clone(), bond, |one| one.words())
            })
            .collect()
    };
    let not_bonded = bonds.iter().filter(|(.., bond)| bond.get() == Some(&Bond::NotBonded));
    let loose: Vec<Message> = not_bonded.map(|(_, label, _)| label.clone()).collect();
    let unseen = bonds.iter().find(|(.., bond)| bond.get().is_none());
    let (verdict, sentence, next) = match (loose.as_slice(), unseen) {
        ([], None) => (Verdict::Holds, say!("enclosure-bonded"), Vec::new()),
        ([], Some((field, label, _))) => {
            let next = vec![finding::next(format!("/housing/{field}"), say!("enclosure-bonded-ask"), 1.0)];
            (Verdict::Undecided, say!("enclosure-bonded-unseen", part = label.clone()), next)
        }
        _ => (Verdict::Fails, say!("enclosure-bonded-not", parts = loose), Vec::new()),
    };
    let inequality = say!("enclosure-bonded-relation");
    out.push(BONDED.plain(subject, verdict, sentence, inequality, None, inputs(), next));
    let yes_no = |fact: &survey::Fact<YesNo>, path: &'static str, label: Message| {
        finding::chosen(path, label, fact, |one| one.words())
    };
    let input = yes_no(&housing.incoming_earth, "/housing/incoming_earth", say!("housing-incoming-earth"));
    let (verdict, sentence) = match housing.incoming_earth.get() {
        Some(YesNo::Yes) => (Verdict::Holds, say!("incoming-earth")),
        Some(YesNo::No) => (Verdict::Fails, say!("incoming-earth-none")),
        None => (Verdict::Undecided, say!("incoming-earth-unseen")),
    };
    let next = vec![finding::next("/housing/incoming_earth", say!("incoming-earth-ask"), 1.0)];
    let inequality = say!("incoming-earth-relation");
    out.push(INCOMING_EARTH.plain(subject, verdict, sentence, inequality, None, vec![input], next));
    let input = finding::chosen("/housing/ip_closed", say!("housing-ip-closed"), &housing.ip_closed, |one| one.words());
    let (verdict, sentence) = match housing.ip_closed.get() {
        Some(ip) if ip.touch() >= 2 => (Verdict::Holds, say!("touch-closed", ip = ip.words())),
        Some(ip) => (Verdict::Fails, say!("touch-closed-reached", ip = ip.words())),
        None => (Verdict::Undecided, say!("touch-closed-unread")),
    };
    let next = vec![finding::next("/housing/ip_closed", say!("touch-closed-ask"), 1.0)];
    let inequality = say!("touch-closed-relation");
    out.push(TOUCH_CLOSED.plain(subject, verdict, sentence, inequality, None, vec![input], next));
    let inputs = vec![
        finding::chosen("/housing/ip_open", say!("housing-ip-open"), &housing.ip_open, |one| one.words()),
        yes_no(&housing.barriers, "/housing/barriers", say!("housing-barriers")),
        yes_no(&housing.shrouds, "/housing/shrouds", say!("housing-shrouds")),
    ];
    let live = match housing.live_uncovered.as_str() {
        "" => say!("touch-open-live"),
        words => say!("touch-open-live-said", words = words.to_owned()),
    };
    let out_of_reach = housing.ip_open.get().is_some_and(|ip| ip.touch() >= 2)
        || (housing.barriers.get(), housing.shrouds.get()) == (Some(&YesNo::Yes), Some(&YesNo::Yes));
    let bare = housing.ip_open.get().is_some_and(|ip| ip.touch() < 2)
        || housing.barriers.get() == Some(&YesNo::No)
        || housing.shrouds.get() == Some(&YesNo::No);
    let verdict = match (out_of_reach, bare) {
        (_, true) => Verdict::Fails,
        (true, _) => Verdict::Holds,
        _ => Verdict::Undecided,
    };
    let sentence = say!("touch-open", verdict = verdict, live = live);
    let next = vec![finding::next("/housing/barriers", say!("touch-open-ask"), 1.0)];
    let inequality = say!("touch-open-relation");
    out.push(TOUCH_OPEN.plain(subject, verdict, sentence, inequality, None, inputs, next));
}

fn push(
    rule: &Rule,
    circuit: survey::CircuitId,
    verdict: Verdict,
    sentence: Message,
    input: Input,
    next: Vec<NextReading>,
    out: &mut Vec<Check>,
) {
    let inequality = say!("found-relation", what = input.label.clone(), value = input.value.clone());
    out.push(rule.plain(Subject::Circuit(circuit), verdict, sentence, inequality, None, vec![input], next));
}
