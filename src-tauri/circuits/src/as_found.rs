//! What stands in the board and should not stand so: recorded as it is, and found.

use survey::range::Span;
use survey::{
    Arrangement, Board, Bond, Check, CpcForm, Input, Known, Message, NextReading, Seen, Subject, SupplyPhases, Verdict,
    YesNo, say, terminal,
};

use crate::cable;
use crate::case::{Case, Feed, Gap};
use crate::field::Field;
use crate::finding::{self, Rule};
use crate::rules::RING_CARRIES;
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const SHARED: Rule = Rule::in_words(
    "terminal-shared",
    Message::fixed(
        "IEC 60364-5-52, 526.2; BS 7671, 526.2 (both from memory): a terminal takes as many conductors as it is made for",
    ),
);

const INCOMER: Rule = Rule::in_words(
    "incomer-supply",
    Message::fixed(
        "IEC 60364-5-53, 536 and 537 (from memory): the device for isolation opens every live conductor of the supply",
    ),
);

const SECOND_EARTH: Rule = Rule::in_words(
    "second-earth",
    Message::fixed(
        "IEC 60364-5-54, 543.7; BS 7671, 543.7.1.203 (both from memory): above 10 mA two protective conductors end at \
             separate terminals",
    ),
);

const UNTRACED: Rule = Rule::in_words(
    "untraced",
    Message::fixed(
        "IEC 60364-5-51, 514.5; BS 7671, 514.9.1 (both from memory): the chart says what each circuit feeds",
    ),
);

const RING_ENDS: Rule = Rule::in_words(
    "ring-ends",
    Message::fixed(
        "BS 7671, 643.2.1 and 433.1.204 (from memory): the conductors of a ring run on from end to end; r1 and rn alike \
             within 0.05 Ω, by guidance on testing (from memory)",
    ),
);

pub(crate) const RING_CABLE: Rule = Rule {
    name: "ring-cable",
    clause: Message::fixed(
        "BS 7671, 433.1.204 (from memory): a ring on 30 or 32 A has conductors of 2.5 mm² and a protective conductor of 1.5 mm² at least, \
             and carries 20 A as it lies",
    ),
    symbols: [Message::fixed("Iz needed"), Message::fixed("Iz")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const INSULATION: Rule = Rule {
    name: "insulation",
    clause: Message::fixed(
        "IEC 60364-6, 6.4.3.3 and table 6.1 (BS 7671, table 64), from memory: 1 MΩ at 500 V d.c. and more, live to earth",
    ),
    symbols: [Message::fixed("least"), Message::fixed("insulation")],
    unit: "MΩ",
    scale: 1e6,
    advice: false,
};

pub(crate) const CORES: Rule = Rule::in_words(
    "cores",
    Message::fixed("IEC 60364-5-52, 521.8.1 (from memory): all conductors of a circuit run together"),
);

const REINFORCED: Rule = Rule::in_words(
    "cpc-reinforced",
    Message::fixed(
        "IEC 60364-5-54, 543.7; BS 7671, 543.7.1.203 (both from memory): above 10 mA a protective conductor of 10 mm² \
             copper or 16 mm² aluminium, or a second one",
    ),
);

const SEEN: Rule = Rule::in_words("seen", Message::fixed(""));

const BONDED: Rule = Rule::in_words(
    "enclosure-bonded",
    Message::fixed(
        "IEC 60364-4-41, 411.3.1.1; IEC 61439-1, 8.4.3.2 (both from memory): metal parts that can be touched are joined to the \
             protective conductor",
    ),
);

const INCOMING_EARTH: Rule = Rule::in_words(
    "incoming-earth",
    Message::fixed("IEC 61439-1, 8.8 (from memory): the assembly has a terminal for the incoming protective conductor"),
);

const TOUCH_CLOSED: Rule = Rule::in_words(
    "touch-closed",
    Message::fixed(
        "IEC 60364-4-41, A.2.1 (BS 7671, 416.2.1), from memory: live parts behind barriers of IP2X or IPXXB at least",
    ),
);

const TOUCH_OPEN: Rule = Rule {
    name: "touch-open",
    clause: Message::fixed(
        "IEC 60364-4-41, A.2.4 (BS 7671, 416.2.4), from memory: behind a cover that opens with a tool, dead first; barriers and \
             shrouds inside are good practice",
    ),
    symbols: [Message::fixed("cover off"), Message::fixed("out of reach")],
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
    let sentence = format!(
        "The incomer is {} and the supply has three lines: the others are not switched off by it, or one of the two was \
         read wrongly. Prove every line dead before work, and look at both again.",
        arrangement.words()
    );
    let inputs = vec![
        finding::chosen("/incomer/arrangement", "incomer", &incomer.arrangement, |one| one.words().to_owned()),
        finding::chosen("/supply/phases", "phases of the supply", &supply.phases, |one| one.words().to_owned()),
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
            let ask = "look whether the terminal is made for two conductors, and which; a neutral shared by two circuits \
                       stays live when one of them is off";
            let sentence = format!(
                "Terminal {terminal} holds conductors of this circuit and of {other}: whether it is made for that is \
                 undecided. Each circuit to a terminal of its own is the usual order. To settle it, {ask}."
            );
            let input = finding::told(path.clone(), "terminal", terminal.clone(), Known::Stated);
            push(&SHARED, *id, Verdict::Undecided, sentence, input, vec![finding::next(path, ask, 1.0)], out);
        }
        for id in &terminals.lacking {
            let path = format!("/circuits/{id}/earth_terminals");
            let sentence =
                "More than 10 mA flow in its protective conductor in normal use, and no earth terminal is left for \
                            a second one: fit one."
                    .to_owned();
            let input = finding::told(path, "earth terminals", "all in use", Known::Stated);
            push(&SECOND_EARTH, *id, Verdict::Fails, sentence, input, Vec::new(), out);
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
        let ask = "trace the circuit: find what it feeds, isolated and proved dead where you have to touch it";
        let sentence = format!(
            "Nothing says what this circuit feeds: until it is traced nobody may rely on it being off. To settle it, {ask}."
        );
        let input = finding::told(path.clone(), "what it feeds", crate::shown::NOT_KNOWN, Known::Unknown);
        push(&UNTRACED, source.id, Verdict::Undecided, sentence, input, vec![finding::next(path, ask, 1.0)], out);
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
    does: &'static str,
    act: &'static str,
    clause: &'static str,
}

/// Severity by what the thing may do to a person: a plain danger fails; what may be right or wrong is undecided until
/// somebody looks; what is only worse than it could be is beyond advice. The clauses are from memory.
const fn meaning(seen: Seen) -> Meaning {
    use Verdict::{Advised, Fails, Undecided};
    let (verdict, does, act, clause) = match seen {
        Seen::BorrowedNeutral => (
            Fails,
            "it stays live when its circuit is off, and may carry two circuits' current",
            "give the circuit a neutral of its own",
            "IEC 60364-5-52, 521.8; BS 7671, 314.4",
        ),
        Seen::UnlinkedPoles => (
            Fails,
            "one line stays live when the other opens",
            "fit one device that opens all lines of the circuit together",
            "IEC 60364-5-53, 530.4 and BS 7671, 530.4.1; IEC 60364-4-43, 431.3",
        ),
        Seen::InterruptedRing => (
            Fails,
            "each leg is a radial on a device too large for its cable",
            "find and mend the break, or put each leg on a device that its cable bears",
            "BS 7671, 433.1.204 and 643.2.1",
        ),
        Seen::Spur => (
            Advised,
            "its single cable may carry more than it bears",
            "fuse the spur at 13 A, or bring the points into the ring",
            "BS 7671, appendix 15 (informative)",
        ),
        Seen::SpareEnd => (
            Undecided,
            "nobody knows whether it is live from its other end",
            "find its other end, prove it dead, and end it in an insulated terminal or take it out",
            "IEC 60364-4-41, A.1; BS 7671, 416.1",
        ),
        Seen::MixedColours => (
            Undecided,
            "blue may be a line or a neutral",
            "prove by test which conductor is which, mark the ends, and put up the notice of mixed colours",
            "IEC 60445; BS 7671, 514.3 and 514.14",
        ),
        Seen::DoubledConductor => (
            Fails,
            "one of the two works loose and the joint heats",
            "give each conductor a terminal of its own",
            "IEC 60364-5-52, 526.2; BS 7671, 526.2",
        ),
        Seen::MissingBlank => {
            (Fails, "a finger reaches live parts", "fit the blank now, dead", "IEC 60364-4-41, A.2.1; BS 7671, 416.2.1")
        }
        Seen::LiveInReach => (
            Fails,
            "a finger reaches live parts with the cover on",
            "isolate, and close it before anything else",
            "IEC 60364-4-41, A.2.1; BS 7671, 416.2.1",
        ),
        Seen::OpenHole => (
            Fails,
            "the enclosure is not what its degree of protection says",
            "close the hole with a stopper of that degree",
            "IEC 60364-4-41, A.2.1; BS 7671, 416.2.1 and 522.3",
        ),
        Seen::BareEntry => (
            Fails,
            "the plate's edge cuts into the cable",
            "fit a gland or a bush",
            "IEC 60364-5-52, 522.8; BS 7671, 522.8.1",
        ),
        Seen::SheathShort => (
            Fails,
            "basic insulation stands open to damage",
            "bring the sheath into the enclosure",
            "IEC 60364-5-52, 526.8; BS 7671, 526.8",
        ),
        Seen::NoEarth => (
            Fails,
            "a fault makes what the circuit feeds live, and nothing opens",
            "isolate the circuit and restore its protective conductor",
            "IEC 60364-4-41, 411.3.1.1; BS 7671, 411.3.1.1",
        ),
        Seen::Loose => (
            Fails,
            "the joint heats and may set the board on fire",
            "isolate, look for heat, make the joint anew to its maker's torque",
            "IEC 60364-5-52, 526.1; BS 7671, 526.1",
        ),
        Seen::Heat => (
            Fails,
            "something was hotter than it bears",
            "find the cause, replace what was burnt",
            "IEC 60364-4-42, 421.1; BS 7671, 421.1",
        ),
        Seen::Damaged => {
            (Fails, "it is no longer what its maker says of it", "replace it", "IEC 60364-6, 6.4.2; BS 7671, 642.2")
        }
        Seen::Wet => (
            Fails,
            "insulation fails and terminals rust",
            "find the way in, close it, dry and test the insulation",
            "IEC 60364-5-51, 512.2; BS 7671, 512.2",
        ),
        Seen::ForeignDevice => (
            Undecided,
            "its fit on the busbar and its short-circuit strength were not shown together",
            "find the board maker's word that it takes this device",
            "IEC 61439-3, 9.6; BS 7671, 536.4.203",
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
        let place = if one.place.is_empty() { String::new() } else { format!(", {}", one.place) };
        let sentence = format!("Seen{place}: {}; {does}. To do: {act}.", what.words());
        let path = format!("/observations/{id}/seen");
        let input = finding::told(path, "seen", what.words(), Known::Stated);
        let next = vec![finding::next(format!("/observations/{id}/put_right"), act, 1.0)];
        let subject = about.map_or(Subject::Board, Subject::Circuit);
        let inequality = format!("seen: {}", what.words());
        out.push(Rule { clause: Message::fixed(clause), ..SEEN }.plain(
            subject,
            verdict,
            sentence,
            inequality,
            None,
            vec![input],
            next,
        ));
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
    let shown = |reading: &survey::Reading<survey::Ohms>| reading.shown();
    let inequality = format!("r1 {}, rn {}, r2 {}", shown(ends[0].2), shown(ends[1].2), shown(ends[2].2));
    let push = |verdict, sentence: String, next, inputs| {
        RING_ENDS.plain(subject, verdict, sentence, inequality, None, inputs, next)
    };
    if let Some((_, name, reading)) =
        ends.iter().find(|(.., reading)| reading.range().is_some_and(|range| range.lo().get() > OPEN))
    {
        let sentence = format!(
            "{name} from end to end reads {}: the ring is interrupted, and each leg is a radial. Find and mend the break.",
            reading.shown()
        );
        out.push(push(Verdict::Fails, sentence, Vec::new(), inputs));
        return;
    }
    if seen {
        let whole = ends.iter().all(|(.., reading)| !reading.is_unknown());
        let ask = "find and mend the break, measure r1, rn and r2 again, and mark what was seen as put right";
        let (verdict, sentence) = if whole {
            let words = "The ring was seen interrupted, and its conductors read as running on from end to end: one of the \
                         two is not so. To settle it, ";
            (Verdict::Undecided, format!("{words}{ask}."))
        } else {
            (Verdict::Fails, format!("The ring was seen interrupted, and each leg is a radial. To do: {ask}."))
        };
        let next = vec![finding::next(source.at("tests/ring_line"), ask, 1.0)];
        out.push(push(verdict, sentence, next, inputs));
        return;
    }
    if let Some((field, name, _)) = ends.iter().find(|(.., reading)| reading.is_unknown()) {
        let ask = "measure r1, rn and r2 from end to end, supply isolated and proved dead";
        let sentence = format!("Whether the ring is whole is undecided: {name} from end to end was not measured.");
        let next = vec![finding::next(source.at(&format!("tests/{field}")), ask, 1.0)];
        out.push(push(Verdict::Undecided, sentence, next, inputs));
        return;
    }
    if let Some((field, name, read, least)) = too_short(common, source) {
        let ask = "measure r1, rn and r2 again between the ends of one conductor each, and look for a bridge in the ring and at \
                   its length";
        let sentence = format!(
            "{name} of {} was read from end to end, and the conductor alone has {} by its length and size: the ring is \
             bridged, or these are not its ends. To settle it, {ask}.",
            read.shown(),
            crate::shown::span(Span::point(least), "Ω")
        );
        let next = vec![finding::next(source.at(&format!("tests/{field}")), ask, 1.0)];
        out.push(push(Verdict::Undecided, sentence, next, inputs));
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
        let ask = "look for a loose joint in the protective conductor of the ring, and at its size; then measure again";
        let sentence = format!("r2 is not what r1 and the sizes of the conductors give: {ask}.");
        let next = vec![finding::next(source.at("tests/ring_cpc"), ask, 1.0)];
        out.push(push(Verdict::Undecided, sentence, next, inputs));
        return;
    }
    if apart.is_some_and(|apart| apart > ALIKE) {
        let ask = "look for a loose joint or a cross-connection in the ring, then measure again";
        let sentence = format!("r1 and rn lie more than 0.05 Ω apart: {ask}.");
        let next = vec![finding::next(source.at("tests/ring_neutral"), ask, 1.0)];
        out.push(push(Verdict::Undecided, sentence, next, inputs));
    } else {
        let sentence = "Line, neutral and protective conductor run on from end to end of the ring.".to_owned();
        out.push(push(Verdict::Holds, sentence, Vec::new(), inputs));
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
    let inputs = vec![finding::input(source.at("tests/insulation"), "insulation resistance", reading)];
    let next = vec![finding::next(source.at("tests/insulation"), "measure the insulation resistance again", 1.0)];
    out.push(INSULATION.judged_in_words(Subject::Circuit(source.id), outcome, inputs, next, |verdict, least, found| match verdict {
        Verdict::Holds => format!("The insulation has {found}, at least the {least} that a test asks for."),
        Verdict::Undecided => format!("The insulation has {found}; whether that is the {least} of a test is undecided."),
        _ => format!(
            "The insulation has only {found}, less than {least}: find the fault before the circuit is made live again."
        ),
    }));
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
            let ask = "count the cores, and look which conductors the circuit has";
            let sentence = format!("The circuit needs {needed} cores and the cable is entered with {cores}: {ask}.");
            let input = finding::chosen(at("cores"), "cores of the cable", &cable.cores, ToString::to_string);
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
        let ask = "look for a second protective conductor, from the board to the load";
        let sentence = format!(
            "{} flow in the protective conductor in normal use: it needs 10 mm² of copper (16 mm² of aluminium), or a second \
             one. To settle it, {ask}.",
            leakage.range().map_or_else(
                || leakage.shown(),
                |range| { crate::shown::span(range.numbers() * Span::point(1000.0), "mA") }
            )
        );
        let input = finding::input(source.at("load/leakage"), "protective conductor current", leakage);
        let next = vec![finding::next(at("cpc_size"), ask, 1.0)];
        out.push(REINFORCED.plain(
            subject,
            Verdict::Undecided,
            sentence,
            "above 10 mA: 10 mm² or two",
            None,
            vec![input, finding::input(at("cpc_size"), "size of the protective conductor", &cable.cpc_size)],
            next,
        ));
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
        finding::input(at("size"), "cable size", &cable.size),
        finding::input(at("cpc_size"), "protective conductor", &cable.cpc_size),
    ];
    if let Some((device, found)) = source.device {
        inputs.push(finding::input(
            format!("/devices/{device}/rated"),
            "rated current of the device, In",
            &found.rated,
        ));
    }
    let rated = source.device.and_then(|(_, device)| device.rated.range()).map(survey::Range::numbers);
    if rated.is_some_and(|rated| rated.lo > 32.0) {
        let sentence = "A ring stands on a device of 32 A at most.".to_owned();
        out.push(RING_CABLE.plain(subject, Verdict::Fails, sentence, "In ≤ 32 A", None, inputs, Vec::new()));
        return;
    }
    if !matches!(case.feed, Ok(Feed::OneLine(_)) | Err(_)) {
        let ask = "look whether both ends of its cable are on one pole of the device, and count the poles";
        let sentence = format!(
            "What BS 7671, 433.1.204 allows is a ring on one line; this device feeds more: as it stands nothing shows that the \
             cable bears it. To settle it, {ask}."
        );
        if let Some((device, found)) = source.device {
            let words = found.poles.map_or(crate::shown::NOT_KNOWN, survey::Poles::words);
            inputs.push(finding::told(format!("/devices/{device}/poles"), "poles of the device", words, Known::Stated));
        }
        let next = vec![finding::next(source.at("ring"), ask, 1.0)];
        out.push(RING_CABLE.plain(subject, Verdict::Undecided, sentence, "ring: one line", None, inputs, next));
        return;
    }
    for (field, tried, least) in [("size", Field::Size, 2.5), ("cpc_size", Field::CpcSize, 1.5)] {
        if field == "cpc_size" && !matches!(case.cpc, Some(CpcForm::Core | CpcForm::Separate)) {
            continue;
        }
        if let Some(size) = case.slots[tried as usize].span.filter(|size| size.hi < least) {
            let size = crate::shown::span(size, "mm²");
            let sentence = format!("The ring's conductor of {size} is thinner than the {least} mm² it needs.");
            out.push(RING_CABLE.plain(
                subject,
                Verdict::Fails,
                sentence,
                format!("S ≥ {least} mm²"),
                None,
                inputs,
                Vec::new(),
            ));
            return;
        }
    }
    match cable::carried(case) {
        Ok(carried) => {
            let outcome = Outcome { value: Span::point(RING_CARRIES), limit: carried.numbers() * flat_in_wall(case) };
            let next =
                vec![finding::next(at("method"), "look how the ring's cable runs and with what it is grouped", 1.0)];
            out.push(RING_CABLE.judged_in_words(subject, outcome, inputs, next, |verdict, _, limit| match verdict {
                Verdict::Holds => {
                    format!("As it lies the ring's cable carries {limit}, at least the 20 A that a ring needs.")
                }
                Verdict::Undecided => {
                    format!("As it lies the ring's cable carries {limit}; whether that is 20 A is undecided.")
                }
                _ => format!("As it lies the ring's cable carries only {limit}; a ring needs 20 A."),
            }));
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
        && case.slots[Field::Size as usize].span == Some(Span::point(2.5));
    Span::point(if flat { 20.0 / 18.5 } else { 1.0 })
}

/// The enclosure against touch.
fn housing(common: &Common, out: &mut Vec<Check>) {
    let housing = &common.board.housing;
    let bonds = [
        ("case_bond", "case", &housing.case_bond),
        ("door_bond", "door or cover", &housing.door_bond),
        ("plates_bond", "gland plates and mounting plate", &housing.plates_bond),
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
                finding::chosen(format!("/housing/{field}"), *label, bond, |one| one.words().to_owned())
            })
            .collect()
    };
    let loose: Vec<&str> =
        bonds.iter().filter(|(.., bond)| bond.get() == Some(&Bond::NotBonded)).map(|(_, label, _)| *label).collect();
    let unseen = bonds.iter().find(|(.., bond)| bond.get().is_none());
    let (verdict, sentence, next) = match (loose.as_slice(), unseen) {
        ([], None) => (
            Verdict::Holds,
            "Case, door and plates are joined to the protective conductor, or not of metal.".to_owned(),
            Vec::new(),
        ),
        ([], Some((field, label, _))) => {
            let ask = "look for the bond and measure it: 0.1 Ω at most (IEC 61439-1, 10.5.2, from memory)";
            let next = vec![finding::next(format!("/housing/{field}"), ask, 1.0)];
            (Verdict::Undecided, format!("Whether the {label} is bonded was not looked at."), next)
        }
        (parts, _) => (
            Verdict::Fails,
            format!("Not joined to the protective conductor: {}. Bond them.", parts.join(", ")),
            Vec::new(),
        ),
    };
    out.push(BONDED.plain(subject, verdict, sentence, "parts: bonded", None, inputs(), next));
    let yes_no = |fact: &survey::Fact<YesNo>, path: &str, label: &'static str| {
        finding::chosen(path.to_owned(), label, fact, |one| one.words().to_owned())
    };
    let input =
        yes_no(&housing.incoming_earth, "/housing/incoming_earth", "terminal of the incoming protective conductor");
    let (verdict, sentence) = match housing.incoming_earth.get() {
        Some(YesNo::Yes) => (Verdict::Holds, "The incoming protective conductor has a terminal of its own."),
        Some(YesNo::No) => (Verdict::Fails, "The incoming protective conductor has no terminal: fit one to its size."),
        None => (Verdict::Undecided, "Whether the incoming protective conductor has a terminal was not looked at."),
    };
    let next = vec![finding::next(
        "/housing/incoming_earth",
        "look for the terminal of the incoming protective conductor",
        1.0,
    )];
    out.push(INCOMING_EARTH.plain(subject, verdict, sentence, "terminal: there", None, vec![input], next));
    let input = finding::chosen("/housing/ip_closed", "degree of protection, cover on", &housing.ip_closed, |one| {
        one.words().to_owned()
    });
    let (verdict, sentence) = match housing.ip_closed.get() {
        Some(ip) if ip.touch() >= 2 => {
            (Verdict::Holds, format!("With the cover on it is {}: no finger reaches live parts.", ip.words()))
        }
        Some(ip) => {
            (Verdict::Fails, format!("With the cover on it is only {}: a finger reaches live parts.", ip.words()))
        }
        None => (Verdict::Undecided, "The degree of protection with the cover on is not known.".to_owned()),
    };
    let next = vec![finding::next("/housing/ip_closed", "read the degree of protection on the enclosure's label", 1.0)];
    out.push(TOUCH_CLOSED.plain(subject, verdict, sentence, "IP ≥ 2X", None, vec![input], next));
    let inputs = vec![
        finding::chosen("/housing/ip_open", "degree of protection, cover off", &housing.ip_open, |one| {
            one.words().to_owned()
        }),
        yes_no(&housing.barriers, "/housing/barriers", "barriers before the busbars"),
        yes_no(&housing.shrouds, "/housing/shrouds", "shrouds over the incoming terminals"),
    ];
    let live = match housing.live_uncovered.as_str() {
        "" => "The incoming terminals stay live with the incomer open".to_owned(),
        words => format!("Live with the cover off and the incomer open: {words}"),
    };
    let out_of_reach = housing.ip_open.get().is_some_and(|ip| ip.touch() >= 2)
        || (housing.barriers.get(), housing.shrouds.get()) == (Some(&YesNo::Yes), Some(&YesNo::Yes));
    let bare = housing.ip_open.get().is_some_and(|ip| ip.touch() < 2)
        || housing.barriers.get() == Some(&YesNo::No)
        || housing.shrouds.get() == Some(&YesNo::No);
    let (verdict, sentence) = match (out_of_reach, bare) {
        (_, true) => (
            Verdict::Fails,
            format!(
                "With the cover off live parts can be touched. {live}. Isolate upstream and prove dead before the cover comes off; fit what is missing."
            ),
        ),
        (true, _) => (Verdict::Holds, format!("With the cover off live parts are out of a finger's reach. {live}.")),
        _ => (Verdict::Undecided, format!("What can be touched with the cover off was not looked at. {live}.")),
    };
    let next = vec![finding::next(
        "/housing/barriers",
        "look, isolated upstream and proved dead, what stands bare behind the cover",
        1.0,
    )];
    out.push(TOUCH_OPEN.plain(subject, verdict, sentence, "cover off: out of reach", None, inputs, next));
}

fn push(
    rule: &Rule,
    circuit: survey::CircuitId,
    verdict: Verdict,
    sentence: String,
    input: Input,
    next: Vec<NextReading>,
    out: &mut Vec<Check>,
) {
    let inequality = format!("{}: {}", input.label, input.value);
    out.push(rule.plain(Subject::Circuit(circuit), verdict, sentence, inequality, None, vec![input], next));
}
