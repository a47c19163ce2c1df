//! The supply side: the cable that feeds the board, the incomer and the busbars, against the device
//! upstream.
//!
//! The supply cable is a circuit whose device is the one upstream and whose load is the board: it is
//! held to the rules of a circuit. What feeds it stands at the origin.

use survey::range::Span;
use survey::{
    Amps, Argument, Arrangement, Cable, CableId, Check, DeviceKind, EarthingSystem, Input, Known, LoadKind, Message,
    NextReading, Range, Reading, Stage, Subject, SupplyPhases, Verdict, say,
};

use crate::balance::{Share, Sums};
use crate::case::{Case, Feed, Gap, fields, taken_as_usual};
use crate::field::{Field, NEUTRAL_SIZE, RATED, ZE, ZS, loop_label};
use crate::finding::{self, Rule};
use crate::rules::undenied;
use crate::source::{Common, Source, line_index};
use crate::verdict::{self, Evaluate, Outcome};
use crate::{cable, device, energy, fault_level, fault_loop, selectivity, settings, volt_drop};

/// A rule of the supply cable.
struct Along {
    /// Its sentence has the rule's key as its name.
    rule: Rule,
    evaluate: Evaluate,
    /// It needs the cable; else it is judged by the device upstream alone.
    of_cable: bool,
}

const fn rule(name: &'static str, clause: Message, symbols: [Message; 2], unit: &'static str) -> Rule {
    let advice = matches!(unit.as_bytes(), [b'%']);
    Rule {
        name,
        clause,
        symbols,
        unit,
        advice,
        scale: if unit.len() == 1 && unit.as_bytes()[0] == b'%' { 0.01 } else { 1.0 },
    }
}

/// Key of the rule of the drop before the board.
const DROP: &str = "supply-drop";

/// The rules in the order their checks are listed.
const ALONG: &[Along] = &[
    Along {
        rule: rule(
            "supply-cable-current",
            say!("supply-cable-current-clause"),
            [say!("supply-symbol-in-upstream"), Message::fixed("Iz")],
            "A",
        ),
        evaluate: |case| {
            Ok(Outcome { value: device::overcurrent_rating(case)?, limit: cable::carried(case)?.numbers() })
        },
        of_cable: true,
    },
    Along {
        rule: rule(
            "supply-overload-trip",
            say!("supply-overload-trip-clause"),
            [say!("supply-symbol-i2-upstream"), Message::fixed("1.45 Iz")],
            "A",
        ),
        evaluate: |case| {
            let limit = cable::carried(case)?.numbers() * Span::point(1.45);
            Ok(Outcome { value: device::conventional(case)?, limit })
        },
        of_cable: true,
    },
    Along {
        rule: rule(
            "supply-disconnection",
            say!("supply-disconnection-clause"),
            [say!("supply-symbol-zs-at-board"), say!("supply-symbol-zs-max")],
            "Ω",
        ),
        evaluate: at_the_board,
        of_cable: false,
    },
    Along {
        rule: rule(
            "supply-line-energy",
            say!("supply-line-energy-clause"),
            [Message::fixed("√(I²t)/k"), Message::fixed("S")],
            "mm²",
        ),
        evaluate: energy::line,
        of_cable: true,
    },
    Along {
        rule: rule(
            "supply-cpc-energy",
            say!("supply-cpc-energy-clause"),
            [say!("supply-symbol-s-needed"), Message::fixed("S")],
            "mm²",
        ),
        evaluate: energy::protective,
        of_cable: true,
    },
    Along {
        rule: rule(DROP, say!("supply-drop-clause"), [Message::fixed("ΔU"), say!("supply-symbol-limit")], "%"),
        evaluate: |case| {
            // The board's own current is in the case already: worked out from its circuits.
            let value = case.get(crate::field::DROP_BEFORE)?.numbers();
            Ok(Outcome { value, limit: volt_drop::limit(case).ok_or(Gap::Missing(Field::Kind))? })
        },
        of_cable: true,
    },
];

const THIN_NEUTRAL: Rule = Rule {
    name: "supply-neutral-size",
    clause: say!("supply-neutral-size-clause"),
    symbols: [say!("supply-symbol-sn-needed"), Message::fixed("SN")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const NEUTRAL: Rule = Rule {
    name: "supply-neutral",
    clause: say!("supply-neutral-clause"),
    symbols: [say!("supply-symbol-in-upstream"), say!("supply-symbol-iz-neutral")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const TERMINALS: Rule = Rule {
    name: "supply-terminals",
    clause: say!("supply-terminals-clause"),
    symbols: [Message::fixed("IL"), say!("supply-symbol-iz-terminals")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const INCOMER_OVERLOAD: Rule = Rule {
    name: "incomer-overload",
    clause: say!("incomer-overload-clause"),
    symbols: [say!("supply-symbol-least-in"), Message::fixed("In")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

static INCOMER_SHORT: Rule = Rule {
    name: "incomer-short-circuit",
    clause: say!("incomer-short-circuit-clause"),
    symbols: [Message::fixed("Ipf"), say!("supply-symbol-incomer-bears")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

static ASSEMBLY_SHORT: Rule = Rule {
    name: "assembly-short-circuit",
    clause: say!("assembly-short-circuit-clause"),
    symbols: [Message::fixed("Ipf"), say!("supply-symbol-busbars-bear")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

const NOT_ENTERED: Rule = Rule::in_words("supply-cable", say!("supply-cable-clause"));

/// Keys of the rules here, for records without words.
pub(crate) const KEYS: &[&str] = &[
    "supply-cable",
    "supply-cable-current",
    "supply-overload-trip",
    "supply-disconnection",
    "supply-line-energy",
    "supply-cpc-energy",
    "supply-drop",
    "supply-neutral",
    "supply-neutral-size",
    "supply-terminals",
    "incomer-overload",
    "incomer-short-circuit",
    "assembly-short-circuit",
    crate::spd::KEY,
];

/// Checks of all that feeds the board.
pub(crate) fn check(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let shares: Vec<Share> = circuits.iter().filter_map(|(_, share)| *share).collect();
    let feeding = common.supply_cable();
    if feeding.is_none() && !circuits.is_empty() {
        out.push(not_entered(common));
    }
    let Some(case) = common.feeding_case() else {
        incomer(common, circuits, out);
        return;
    };
    // Of all that is fed the strictest counts for the drop.
    let lights = circuits.iter().any(|(source, _)| source.circuit.kind.is_none_or(|kind| kind == LoadKind::Lighting));
    let mut loads = case.clone();
    loads.kinds = if lights { &[LoadKind::Lighting] } else { &[LoadKind::FixedEquipment] };
    // Nothing upstream is known to be asked of, and nobody entered a cable: a board that is only begun.
    let supply = &common.board.supply;
    let begun = feeding.is_some() || !supply.upstream.is_unknown() || supply.upstream_kind.get().is_some();
    if begun {
        for along in ALONG {
            if along.of_cable && feeding.is_none() {
                continue;
            }
            if along.rule.name == "supply-cpc-energy" && !has_protective(&case) {
                continue;
            }
            if along.rule.name == DROP {
                if !shares.is_empty() && common.drop_before.is_some() {
                    out.push(judged(common, &loads, along));
                }
                continue;
            }
            out.push(judged(common, &case, along));
        }
        neutral(common, &case, &shares, out);
        terminals(common, &case, circuits, &shares, out);
    }
    incomer(common, circuits, out);
}

/// A board with circuits is fed by something: where nobody entered it, nothing is said of it, and that is told.
fn not_entered(common: &Common) -> Check {
    let supply = &common.board.supply;
    let kind = &supply.upstream_kind;
    let inputs = vec![
        finding::told("/supply/cable", say!("supply-label-cable"), say!("not-known"), Known::Unknown),
        finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream),
        finding::chosen("/supply/upstream_kind", say!("supply-label-upstream-kind"), kind, |one| one.words()),
    ];
    let next = finding::all_of([
        Some(("/supply/cable", say!("supply-ask-cable"))),
        supply.upstream.is_unknown().then_some(("/supply/upstream", say!("supply-ask-upstream"))),
        kind.get().is_none().then_some(("/supply/upstream_kind", say!("supply-ask-upstream-kind"))),
    ]);
    let sentence = match next.len() {
        1 => say!("supply-cable"),
        _ => say!("supply-cable-and-device"),
    };
    let inequality = say!("supply-cable-relation");
    NOT_ENTERED.plain(Subject::Board, Verdict::Undecided, sentence, inequality, None, inputs, next)
}

/// In a TT system the protective conductor of a supply need not come along with it.
fn has_protective(case: &Case) -> bool {
    case.cpc.is_some() || !matches!(case.systems, [EarthingSystem::Tt])
}

/// Loop impedance of a fault at the board against what opens the device upstream in time, Ω. A loop
/// measured cold gets longer as the supply warms: up to 1/[`fault_loop::COLD_SHARE`].
fn at_the_board(case: &Case) -> Result<Outcome, Gap> {
    fault_loop::earthed(case)?;
    if case.pen_behind_rcd {
        return Err(Gap::Unfit(Field::Cpc, say!("supply-disconnection-pen")));
    }
    let measured = case.get(ZS)?.numbers();
    let warm = (measured / Span::point(fault_loop::COLD_SHARE)).hi;
    // What is worked out from the origin has the supply warm already.
    let cold = case.given(ZS)?.is_some();
    let value = if case.has_cable && cold { Span { lo: measured.lo, hi: warm } } else { measured };
    if case.systems == [EarthingSystem::Tt] && !case.device_kind.is_some_and(watches) {
        return Err(Gap::Unfit(Field::DeviceKind, say!("supply-disconnection-tt")));
    }
    let (limit, _) = fault_loop::limit(case)?;
    let outcome = Outcome { value, limit };
    undenied(case, outcome, Field::Zs)?;
    Ok(outcome)
}

const fn watches(kind: DeviceKind) -> bool {
    matches!(kind, DeviceKind::Rcd | DeviceKind::Rcbo)
}

fn judged(common: &Common, case: &Case, along: &Along) -> Check {
    case.forget();
    let result = (along.evaluate)(case);
    let mut used = case.used_mask();
    let rule = &along.rule;
    let subject = Subject::Board;
    match result {
        Ok(outcome) => {
            let next = match outcome.verdict() {
                Verdict::Undecided => {
                    let open = verdict::Open { place: 0, evaluate: along.evaluate, outcome, used };
                    let mut ranked = verdict::Wanted::new();
                    verdict::sensitivity(case, &mut case.clone(), &[open], std::slice::from_mut(&mut ranked));
                    ranked.into_iter().map(|(field, settles)| next(common, field, settles)).collect()
                }
                _ => Vec::new(),
            };
            rule.judged_as(subject, outcome, inputs(common, case, used), next, rule.name, [])
        }
        Err(Gap::Missing(first)) => {
            let mut supposed = case.clone();
            supposed.suppose(first);
            let wanting = verdict::missing(&supposed, along.evaluate, first);
            let share = 1.0 / wanting.len().max(1) as f64;
            used |= wanting.iter().fold(0, |mask, field| mask | 1 << *field as u128);
            let labels = wanting.iter().map(|field| place(common, *field).1).collect();
            let next = wanting.into_iter().map(|field| next(common, field, share)).collect();
            rule.wanting(subject, labels, inputs(common, case, used), next)
        }
        Err(Gap::Unfit(field, words)) => {
            used |= 1 << field as u128;
            rule.open(subject, words, inputs(common, case, used), vec![next(common, field, 1.0)])
        }
    }
}

fn next(common: &Common, field: Field, settles: f64) -> NextReading {
    let (path, label, ..) = place(common, field);
    let what = match field {
        Field::Rated => say!("supply-ask-upstream"),
        Field::DeviceKind | Field::Device => say!("supply-ask-upstream-kind"),
        Field::Curve => say!("supply-ask-upstream-curve"),
        Field::Ir | Field::Ii | Field::Isd | Field::Tsd | Field::DcRated | Field::TimeCurve => {
            say!("supply-ask-of-upstream", ask = finding::ask(field))
        }
        Field::Ipf => say!("supply-ask-origin-ipf"),
        Field::Zs | Field::LoopAngle => say!("supply-ask-ze"),
        Field::Ze => say!("supply-ask-origin-ze"),
        Field::LetThrough => say!("supply-ask-let-through"),
        Field::DropBefore | Field::Cable => say!("supply-ask-cable-entered"),
        Field::EnergyClass | Field::LetThroughAt => say!("supply-ask-read", what = label),
        other => say!("supply-ask-of-cable", ask = finding::ask(other)),
    };
    finding::next(path, what, settles)
}

fn inputs(common: &Common, case: &Case, used: u128) -> Vec<Input> {
    fields(used)
        .filter(|field| *field != Field::Poles)
        .map(|field| {
            let (path, label, value, known) = place(common, field);
            let slot = case.slots[field as usize];
            let (value, known) = match (slot.span, known) {
                (Some(span), Known::Unknown) => {
                    let shown = if field == Field::DropBefore {
                        Argument::span(Span { lo: span.lo * 100.0, hi: span.hi * 100.0 }, "%")
                    } else {
                        Argument::span(span, field.about().unit)
                    };
                    (finding::value(shown), Known::Assumed)
                }
                (None, Known::Unknown) => match taken_as_usual(field) {
                    Some(usual) => (usual, Known::Assumed),
                    None => (value, known),
                },
                _ => (value, known),
            };
            finding::told(path, label, value, known)
        })
        .collect()
}

/// Path, label, value and knowledge of a field of the supply side.
fn place(common: &Common, field: Field) -> (String, Message, Message, Known) {
    let supply = &common.board.supply;
    let unknown = || (say!("not-known"), Known::Unknown);
    fn read<Q: survey::Quantity>(reading: &Reading<Q>) -> (Message, Known) {
        (finding::shown(reading), reading.from.known)
    }
    fn fact<T, W: Into<Message>>(fact: &survey::Fact<T>, words: impl Fn(&T) -> W) -> (Message, Known) {
        fact.get().map_or((say!("not-known"), Known::Unknown), |value| (words(value).into(), fact.from.known))
    }
    let of_cable = |name: &str, label: Message, seen: &dyn Fn(&Cable) -> (Message, Known)| match common.supply_cable() {
        Some((id, cable)) => {
            let (value, known) = seen(cable);
            (cable_path(id, name), label, value, known)
        }
        None => ("/supply/cable".to_owned(), label, say!("not-known"), Known::Unknown),
    };
    let on =
        |name: &str, label: Message, (value, known): (Message, Known)| (format!("/supply/{name}"), label, value, known);
    let label = finding::label(field);
    match field {
        Field::Rated => on("upstream", say!("supply-label-upstream"), read(&supply.upstream)),
        Field::DeviceKind | Field::Device => {
            on("upstream_kind", say!("supply-label-upstream-kind"), fact(&supply.upstream_kind, |one| one.words()))
        }
        Field::Curve => {
            on("upstream_curve", say!("supply-label-upstream-curve"), fact(&supply.upstream_curve, |one| one.words()))
        }
        Field::Residual => {
            on("upstream_residual", say!("supply-label-upstream-residual"), read(&supply.upstream_residual))
        }
        Field::Delay => {
            on("upstream_delay", say!("supply-label-upstream-delay"), fact(&supply.upstream_delay, |one| one.words()))
        }
        Field::Formation => of_cable("formation", label, &|cable| fact(&cable.formation, |one| one.words())),
        Field::CurrentForm => on("current_form", label, fact(&supply.current_form, |one| one.words())),
        Field::DcRated => on("upstream_kind", say!("supply-label-upstream-dc"), unknown()),
        Field::Reduced => on("reduced", label, fact(&supply.reduced, |one| one.words())),
        Field::Ir => on("upstream_ir", say!("supply-label-upstream-ir"), read(&supply.upstream_ir)),
        Field::Ii => on("upstream_ii", say!("supply-label-upstream-ii"), read(&supply.upstream_ii)),
        Field::Isd => on("upstream_isd", say!("supply-label-upstream-isd"), read(&supply.upstream_isd)),
        Field::Tsd => on("upstream_tsd", say!("supply-label-upstream-tsd"), read(&supply.upstream_tsd)),
        Field::OwnBlind => ("/circuits".to_owned(), finding::label(Field::UpstreamBlind), unknown().0, Known::Unknown),
        Field::LoopAngle => ("/supply/ze".to_owned(), label, crate::source::NO_ANGLE, Known::Assumed),
        Field::TimeCurve => (
            "/supply/upstream".to_owned(),
            say!("supply-label-upstream-time-curve"),
            crate::source::NO_CURVE,
            Known::Assumed,
        ),
        Field::Voltage => on("voltage", label, read(&supply.voltage)),
        Field::System => on("system", label, fact(&supply.system, |one| one.words())),
        Field::Network => on("network", label, fact(&supply.network, |one| one.words())),
        Field::Electrode => on("electrode", label, read(&supply.electrode)),
        Field::Zs => on("ze", loop_label(common.board).clone(), read(&supply.ze)),
        Field::Ze => on("origin_ze", say!("supply-label-origin-ze"), read(&supply.origin_ze)),
        Field::Ipf => on("origin_ipf", say!("supply-label-origin-ipf"), read(&supply.origin_ipf)),
        Field::LetThrough => {
            on("upstream_let_through", say!("supply-label-let-through"), read(&supply.upstream_let_through))
        }
        Field::LetThroughAt => {
            on("upstream_let_through_at", say!("supply-label-let-through-at"), read(&supply.upstream_let_through_at))
        }
        Field::EnergyClass => {
            on("upstream_let_through", say!("supply-label-let-through"), read(&supply.upstream_let_through))
        }
        Field::Kind => ("/circuits".to_owned(), say!("supply-label-kinds"), say!("supply-as-entered"), Known::Stated),
        Field::Current | Field::Power | Field::PowerFactor | Field::Demand => {
            ("/circuits".to_owned(), say!("supply-label-loads"), say!("supply-as-entered"), Known::Stated)
        }
        Field::DropBefore => ("/supply/cable".to_owned(), say!("supply-label-drop"), say!("not-known"), Known::Unknown),
        Field::Size => of_cable("size", label, &|cable| read(&cable.size)),
        Field::CpcSize => of_cable("cpc_size", label, &|cable| read(&cable.cpc_size)),
        Field::NeutralSize => of_cable("neutral_size", label, &|cable| read(&cable.neutral_size)),
        Field::Length => of_cable("length", label, &|cable| read(&cable.length)),
        Field::Ambient => of_cable("ambient", label, &|cable| read(&cable.ambient)),
        Field::TouchLimit => on("touch_limit", label, fact(&supply.touch_limit, |one| one.words())),
        Field::Frequency => on("frequency", label, fact(&supply.frequency, |one| one.words())),
        Field::CpcMaterial => of_cable("cpc_material", label, &|cable| fact(&cable.cpc_material, |one| one.words())),
        Field::GroupedLight => {
            of_cable("grouped_light", label, &|cable| fact(&cable.grouped_light, |one| one.to_string()))
        }
        Field::Soil => of_cable("soil", label, &|cable| read(&cable.soil)),
        Field::Depth => of_cable("burial_depth", label, &|cable| read(&cable.burial_depth)),
        Field::InInsulation => of_cable("in_insulation", label, &|cable| read(&cable.in_insulation)),
        Field::Material => of_cable("material", label, &|cable| fact(&cable.material, |one| one.words())),
        Field::Insulation => of_cable("insulation", label, &|cable| fact(&cable.insulation, |one| one.words())),
        Field::Method => of_cable("method", label, &|cable| fact(&cable.method, |one| one.words())),
        Field::Construction => of_cable("construction", label, &|cable| fact(&cable.construction, |one| one.words())),
        Field::Layout => of_cable("layout", label, &|cable| fact(&cable.layout, |one| one.words())),
        Field::MixedSizes => of_cable("mixed_sizes", label, &|cable| fact(&cable.mixed_sizes, |one| one.words())),
        Field::Cpc => of_cable("cpc", label, &|cable| fact(&cable.cpc, |one| one.words())),
        Field::CpcApart => of_cable("cpc_apart", label, &|cable| fact(&cable.cpc_apart, |one| one.words())),
        Field::Grouped => of_cable("grouped", label, &|cable| fact(&cable.grouped, u8::to_string)),
        Field::Cores => of_cable("cores", label, &|cable| fact(&cable.cores, u8::to_string)),
        Field::Parallel => of_cable("parallel", label, &|cable| fact(&cable.parallel, u8::to_string)),
        Field::Cable => {
            let (value, known) = unknown();
            ("/supply/cable".to_owned(), label, value, known)
        }
        _ => {
            let (value, known) = unknown();
            ("/supply".to_owned(), label, value, known)
        }
    }
}

fn cable_path(id: CableId, name: &str) -> String {
    format!("/cables/{id}/{name}")
}

/// The incomer's terminals, where the supply cable may be warmer than they bear.
fn terminals(
    common: &Common,
    case: &Case,
    circuits: &[(Source, Option<Share>)],
    shares: &[Share],
    out: &mut Vec<Check>,
) {
    let Some((id, feeding)) = common.supply_cable() else { return };
    let incomer = &common.board.incomer;
    if !case.insulations.contains(&survey::Insulation::Xlpe90) {
        return;
    }
    case.forget();
    let mut given = vec![finding::chosen(
        "/incomer/terminals_90",
        finding::label(Field::Terminals),
        &incomer.terminals_90,
        |one| one.words(),
    )];
    let carried = cable::carried(case).and_then(|hot| Ok((hot.numbers(), cable::carried_at_70(case)?.numbers())));
    given.extend(inputs(common, case, case.used_mask()));
    let ask = || vec![finding::next("/incomer/terminals_90", say!("supply-terminals-ask"), 1.0)];
    match carried {
        Ok((hot, cool)) => {
            let limit = match incomer.terminals_90.get() {
                Some(survey::YesNo::Yes) => hot,
                Some(survey::YesNo::No) => cool,
                None => Span { lo: cool.lo.min(hot.lo), hi: hot.hi.max(cool.hi) },
            };
            let lines = Sums::of(common.supply, shares).line_sizes();
            let most = lines.into_iter().fold(Span::point(0.0), |a, b| Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) });
            // Loads that nobody knows: no more than the device upstream lets flow.
            let all = circuits.iter().all(|(_, share)| share.is_some());
            let flows = common.board.supply.upstream.range().map_or(f64::INFINITY, |rated| rated.numbers().hi);
            let value = Span { lo: most.lo, hi: if all { most.hi } else { flows } };
            if value.hi.is_infinite() {
                out.push(TERMINALS.open(Subject::Board, say!("supply-terminals-load-unknown"), given, ask()));
                return;
            }
            let outcome = Outcome { value, limit };
            out.push(TERMINALS.judged_as(Subject::Board, outcome, given, ask(), "supply-terminals", []));
        }
        Err(Gap::Missing(field)) => {
            let labels = vec![place(common, field).1];
            out.push(TERMINALS.wanting(Subject::Board, labels, given, vec![next(common, field, 1.0)]));
        }
        Err(Gap::Unfit(..)) => {
            out.push(TERMINALS.open(
                Subject::Board,
                say!("supply-terminals-no-such-cable"),
                given,
                vec![finding::next(
                    cable_path(id, "size"),
                    say!("supply-terminals-ask-cable", size = finding::shown(&feeding.size)),
                    1.0,
                )],
            ));
        }
    }
}

/// A neutral thinner than the lines: 16 mm² of copper or 25 mm² of aluminium at least, and no thinner one at all beside
/// lines up to that.
fn thin_neutral(id: CableId, feeding: &Cable, neutral: Span, out: &mut Vec<Check>) {
    let Some(line) = feeding.size.range().map(Range::numbers) else { return };
    let least = match feeding.material.get() {
        Some(survey::Material::Copper) => Span::point(16.0),
        Some(survey::Material::Aluminium) => Span::point(25.0),
        None => Span { lo: 16.0, hi: 25.0 },
    };
    let needed = Span { lo: line.lo.min(least.lo), hi: line.hi.min(least.hi) };
    let inputs = vec![
        finding::input(cable_path(id, "neutral_size"), finding::label(Field::NeutralSize), &feeding.neutral_size),
        finding::input(cable_path(id, "size"), finding::label(Field::Size), &feeding.size),
        finding::chosen(cable_path(id, "material"), finding::label(Field::Material), &feeding.material, |one| {
            one.words()
        }),
    ];
    let next = vec![finding::next(cable_path(id, "material"), say!("supply-neutral-size-ask"), 1.0)];
    let outcome = Outcome { value: needed, limit: neutral };
    out.push(THIN_NEUTRAL.judged_as(Subject::Board, outcome, inputs, next, "supply-neutral-size", []));
}

/// A neutral of its own size: what the device upstream lets flow, and what surely flows.
fn neutral(common: &Common, case: &Case, shares: &[Share], out: &mut Vec<Check>) {
    let Some((id, feeding)) = common.supply_cable() else { return };
    let Some(size) = feeding.neutral_size.range() else { return };
    if common.supply != Some(SupplyPhases::Three) {
        return;
    }
    thin_neutral(id, feeding, size.numbers(), out);
    case.forget();
    let mut given = vec![
        finding::input("/supply/upstream", say!("supply-label-upstream"), &common.board.supply.upstream),
        finding::input(cable_path(id, "neutral_size"), finding::label(Field::NeutralSize), &feeding.neutral_size),
    ];
    let found = (|| {
        let rated = device::overcurrent_rating(case)?;
        let _ = case.get(NEUTRAL_SIZE)?;
        let carried = cable::most(&cable::ways_of(case, size, Span::point(1.0))?)?.numbers();
        Ok::<_, Gap>((rated, carried))
    })();
    given.extend(inputs(
        common,
        case,
        case.used_mask() & !(1 << Field::NeutralSize as u128 | 1 << Field::Rated as u128),
    ));
    match found {
        Ok((rated, carried)) => {
            let flows = Sums::of(common.supply, shares).neutral();
            let outcome = Outcome { value: Span { lo: flows.lo.min(rated.lo), hi: rated.hi }, limit: carried };
            let ask = finding::next(cable_path(id, "neutral_size"), say!("supply-neutral-ask"), 1.0);
            let most = [("most", Argument::number(rated.hi, "A"))];
            out.push(NEUTRAL.judged_as(Subject::Board, outcome, given, vec![ask], "supply-neutral", most));
        }
        Err(Gap::Missing(field)) => {
            let labels = vec![place(common, field).1];
            out.push(NEUTRAL.wanting(Subject::Board, labels, given, vec![next(common, field, 1.0)]));
        }
        Err(Gap::Unfit(field, words)) => {
            out.push(NEUTRAL.open(Subject::Board, words, given, vec![next(common, field, 1.0)]));
        }
    }
}

/// Checks of the incomer and the busbars.
fn incomer(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let arrangement = board.incomer.arrangement.get().copied();
    if circuits.is_empty() {
        return;
    }
    if arrangement.is_some_and(|one| one != Arrangement::Lugs) {
        overload(common, circuits, out);
        let part = Bearer {
            rule: &INCOMER_SHORT,
            paths: ["/incomer/conditional", "/incomer/short_time"],
            conditional: &board.incomer.conditional,
            short_time: &board.incomer.short_time,
            unknown: say!("incomer-short-circuit-unknown"),
        };
        short_circuit(common, &part, out);
    }
    if board.enclosure.get().is_some() {
        let part = Bearer {
            rule: &ASSEMBLY_SHORT,
            paths: ["/surroundings/conditional", "/surroundings/short_time"],
            conditional: &board.surroundings.conditional,
            short_time: &board.surroundings.short_time,
            unknown: say!("assembly-short-circuit-unknown"),
        };
        short_circuit(common, &part, out);
    }
}

/// What a device lets flow for good, A: its rating; of an adjustable breaker its setting, which may be anything up to
/// its rating where nobody read it.
pub(crate) fn lets_flow(kind: Option<DeviceKind>, rated: &Reading<Amps>, set: &Reading<Amps>) -> Option<Span> {
    let rated = rated.range().map(Range::numbers);
    match (kind, set.range().map(Range::numbers)) {
        (Some(DeviceKind::AdjustableBreaker), None) => rated.map(|rated| Span { lo: 0.0, hi: rated.hi }),
        (Some(DeviceKind::AdjustableBreaker), Some(set)) => Some(settings::lets_flow(rated, set)),
        _ => rated,
    }
}

/// Sum of the outgoing ratings on the most loaded line, A; the upper end is infinite where a rating or
/// what stands on a pole is not known.
fn behind(common: &Common, circuits: &[(Source, Option<Share>)]) -> Span {
    let mut lines = [Span::point(0.0); 3];
    let mut open = false;
    for (source, _) in circuits {
        let Some((_, device)) = source.device else {
            open = true;
            continue;
        };
        let Some(rated) = lets_flow(device.kind, &device.rated, &device.ir) else {
            open = true;
            continue;
        };
        let may = |index: usize| match common.feed(device) {
            Ok(Feed::ThreeLines) => [true, true],
            Ok(Feed::TwoLines(Some(two))) => [two.contains(&index); 2],
            Ok(Feed::OneLine(Some(conductor))) => match line_index(conductor) {
                Some(line) => [line == index; 2],
                None => [index == 0; 2],
            },
            _ => [false, true],
        };
        for (index, line) in lines.iter_mut().enumerate() {
            let [surely, perhaps] = may(index);
            line.lo += if surely { rated.lo } else { 0.0 };
            line.hi += if perhaps { rated.hi } else { 0.0 };
        }
    }
    // On a board that stands already a pole without a record may hold anything.
    open |= common.board.stage == Stage::Existing && common.free_poles > 0;
    let most = lines.into_iter().fold(Span::point(0.0), |a, b| Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) });
    Span { lo: most.lo, hi: if open { f64::INFINITY } else { most.hi } }
}

fn overload(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let supply = &board.supply;
    let mut inputs = vec![
        finding::input("/incomer/rated", say!("supply-label-incomer-rated"), &board.incomer.rated),
        finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream),
        finding::chosen("/supply/upstream_kind", say!("supply-label-upstream-kind"), &supply.upstream_kind, |kind| {
            kind.words()
        }),
    ];
    let sum = behind(common, circuits);
    let told = match sum.hi.is_finite() {
        true => finding::value((sum, "A")),
        false => say!("incomer-overload-sum-or-more", least = (sum.lo, "A")),
    };
    inputs.push(finding::told("/devices", say!("incomer-overload-label-sum"), told, Known::Stated));
    let before = match supply.upstream_kind.get() {
        Some(kind) if !kind.opens_on_overcurrent() => None,
        kind => Some(lets_flow(kind.copied(), &supply.upstream, &supply.upstream_ir)),
    };
    let wanting = finding::all_of([
        board.incomer.rated.is_unknown().then_some(("/incomer/rated", say!("supply-ask-incomer-rated"))),
        matches!(before, Some(None)).then_some(("/supply/upstream", say!("supply-ask-upstream"))),
        supply.upstream_kind.get().is_none().then_some(("/supply/upstream_kind", say!("supply-ask-upstream-kind"))),
        before.is_none().then_some(("/supply/upstream_kind", say!("incomer-overload-ask-before"))),
    ]);
    let Some(rated) = board.incomer.rated.range().map(Range::numbers) else {
        out.push(INCOMER_OVERLOAD.open(Subject::Board, say!("incomer-overload-rated-unknown"), inputs, wanting));
        return;
    };
    // Either is enough: the smaller of the two counts.
    let before = match before {
        Some(Some(before)) if supply.upstream_kind.get().is_some() => before,
        // Whether it opens on overcurrent is not known.
        Some(Some(before)) => Span { lo: before.lo, hi: f64::INFINITY },
        // Not known; or a switch or an RCD, and the device that opens before that was not read.
        Some(None) | None => Span { lo: 0.0, hi: f64::INFINITY },
    };
    let value = Span { lo: before.lo.min(sum.lo), hi: before.hi.min(sum.hi) };
    if value.hi.is_infinite() && value.lo <= rated.hi {
        out.push(INCOMER_OVERLOAD.open(Subject::Board, say!("incomer-overload-unknown"), inputs, wanting));
        return;
    }
    let finite = Span { lo: value.lo, hi: if value.hi.is_finite() { value.hi } else { value.lo } };
    let outcome = Outcome { value: finite, limit: rated };
    out.push(INCOMER_OVERLOAD.judged_as(Subject::Board, outcome, inputs, wanting, "incomer-overload", []));
}

/// A part of the board that a fault at it passes, with what its maker says that it bears.
struct Bearer<'b> {
    /// Its sentence has the rule's key as its name.
    rule: &'static Rule,
    paths: [&'static str; 2],
    conditional: &'b Reading<Amps>,
    short_time: &'b Reading<Amps>,
    /// Said where it is not known what it bears, or of what.
    unknown: Message,
}

/// What to read of a part: its conditional and its short-time rating.
static BEARS: [Message; 2] = [say!("supply-ask-conditional"), say!("supply-ask-short-time")];

impl Bearer<'_> {
    /// Current in A that it bears by its short-time rating and how long the device upstream takes, I²t ≤ Icw²·1 s
    /// (IEC 60947-1, 4.3.6.1).
    ///
    /// A short fault has less energy than Icw for a second, but the peak of its first half-wave is what its size makes
    /// it, n times the current (IEC 61439-1, 9.3.3 and table 7, and IEC 60947-3): beyond Icw only a conditional rating,
    /// which counts with what the device upstream cuts off, tells. That IEC 61439-1, 10.11.2 asks for no test up to 10 kA
    /// raises no rating. All from memory.
    fn by_time(&self, common: &Common, fault: Option<Span>) -> Option<Span> {
        let (bears, fault) = self.short_time.range().map(Range::numbers).zip(fault)?;
        if fault.hi > bears.lo {
            return Some(bears);
        }
        let seconds = selectivity::longest_opening(common.board, fault, common.tables)?;
        Some(bears / Span::point(seconds.max(1.0)).sqrt())
    }

    /// Why its ratings prove nothing, with what to read: those of alternating current on a d.c. supply, or a conditional
    /// one without the device that ends the fault.
    fn unproven(&self, common: &Common, by_time: Option<Span>) -> Option<(Message, NextReading)> {
        let supply = &common.board.supply;
        if crate::source::direct(supply) {
            let why = say!("short-circuit-direct");
            return Some((why.clone(), finding::next(self.paths[0], why, 1.0)));
        }
        let bare = supply.upstream_kind.get().is_some_and(|kind| !kind.opens_on_overcurrent());
        if stands(supply) || self.conditional.is_unknown() || !(bare || by_time.is_none()) {
            return None;
        }
        let why = if bare { say!("short-circuit-behind-none") } else { say!("short-circuit-behind-unread") };
        Some((why, finding::next("/supply/upstream_kind", say!("supply-ask-upstream-kind-rated"), 1.0)))
    }

    /// Fault and ratings as inputs, as far as they count.
    fn inputs(&self, common: &Common, fault: Option<Span>, unproven: bool) -> Vec<Input> {
        let supply = &common.board.supply;
        let known = match (fault, supply.ipf.is_unknown()) {
            (None, _) => Known::Unknown,
            (Some(_), true) => Known::Assumed,
            (Some(_), false) => supply.ipf.from.known,
        };
        let shown = fault.map_or(say!("not-known"), |fault| finding::value(finding::kiloamperes(fault)));
        let mut inputs = vec![
            finding::told("/supply/ipf", finding::label(Field::Ipf), shown, known),
            finding::input(self.paths[0], say!("supply-label-conditional"), self.conditional),
        ];
        let direct = crate::source::direct(supply);
        if unproven && !direct {
            let label = say!("supply-label-upstream-kind");
            inputs.push(finding::chosen("/supply/upstream_kind", label, &supply.upstream_kind, |kind| kind.words()));
        } else if direct || !self.short_time.is_unknown() {
            inputs.push(finding::input(self.paths[1], say!("supply-label-short-time"), self.short_time));
            if !direct {
                inputs.push(finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream));
            }
        }
        inputs
    }
}

/// Somebody read that a device which opens on overcurrent stands upstream, and its rating.
fn stands(supply: &survey::Supply) -> bool {
    supply.upstream_kind.get().is_some_and(|kind| kind.opens_on_overcurrent()) && !supply.upstream.is_unknown()
}

/// A part that a fault at the board passes, by its conditional rating or by its short-time one.
fn short_circuit(common: &Common, part: &Bearer, out: &mut Vec<Check>) {
    let Bearer { rule, unknown, paths, .. } = part;
    let fault = common.level.at_board(common.board).prospective().map(|extent| extent.largest.numbers());
    // Readings that deny each other: what holds must hold by the larger current.
    let most = fault_level::most_told(&common.board.supply, &common.level);
    let fault = fault.map(|fault| Span { lo: fault.lo, hi: fault.hi.max(most) });
    let by_time = part.by_time(common, fault);
    let unproven = part.unproven(common, by_time);
    let inputs = part.inputs(common, fault, unproven.is_some());
    if let Some((why, next)) = unproven {
        out.push(rule.open(Subject::Board, why, inputs, vec![next]));
        return;
    }
    let conditional = part.conditional.range().map(Range::numbers).filter(|_| stands(&common.board.supply));
    let limit = match (conditional, by_time) {
        (Some(a), Some(b)) => Some(Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) }),
        (a, b) => a.or(b),
    };
    let (Some(fault), Some(limit)) = (fault, limit) else {
        let next = finding::all_of([
            fault.is_none().then_some(("/supply/ipf", say!("supply-ask-ipf"))),
            limit.is_none().then_some((paths[0], BEARS[0].clone())),
            limit.is_none().then_some((paths[1], BEARS[1].clone())),
        ]);
        out.push(rule.open(Subject::Board, unknown.clone(), inputs, next));
        return;
    };
    // One of the two figures may allow what the other does not tell.
    let known = !part.conditional.is_unknown() && !part.short_time.is_unknown();
    let outcome = Outcome { value: fault, limit };
    if outcome.verdict() == Verdict::Fails && !known {
        let place = usize::from(!part.conditional.is_unknown());
        let [fault, limit] = [fault, limit].map(finding::kiloamperes);
        let why = say!("short-circuit-partly-known", value = fault, limit = limit);
        out.push(rule.open(Subject::Board, why, inputs, vec![finding::next(paths[place], BEARS[place].clone(), 1.0)]));
        return;
    }
    let next = vec![finding::next("/supply/ipf", say!("supply-ask-ipf"), 1.0)];
    out.push(rule.judged_as(Subject::Board, outcome, inputs, next, rule.name, []));
}

impl<'a> Common<'a> {
    /// The supply cable as a circuit: its device is the one upstream, its origin that of the supply, its
    /// loads those of the board. `None` where the supply's phases are not known.
    fn feeding_case(&self) -> Option<Case<'a>> {
        let supply = &self.board.supply;
        let any = Range::new(survey::Ratio::new(0.0), survey::Ratio::new(1.0));
        let zero = Range::point(Amps::new(0.0));
        let mut case = match self.supply_case(zero, any) {
            Some(case) => case,
            None => self.bare_case()?,
        };
        case.device_kind = supply.upstream_kind.get().copied();
        case.curves =
            crate::case::choices(survey::Curve::ALL, supply.upstream_curve.get().copied(), survey::Curve::ALL);
        case.put(RATED, supply.upstream.range());
        case.put(crate::field::RESIDUAL, supply.upstream_residual.range());
        case.delays =
            crate::case::choices(survey::RcdDelay::ALL, supply.upstream_delay.get().copied(), survey::RcdDelay::ALL);
        // No class of breaker reaches what stands upstream: only its data tell.
        case.energy_classes = &[survey::EnergyClass::One];
        case.put(crate::field::LET_THROUGH, supply.upstream_let_through.range());
        case.put(crate::field::LET_THROUGH_AT, supply.upstream_let_through_at.range());
        self.set(&mut case, [&supply.upstream_ir, &supply.upstream_ii, &supply.upstream_isd], &supply.upstream_tsd);
        case.incomer_rcd = false;
        case.denied = fault_level::loop_denied(supply, &self.level);
        case.incomer_in_doubt = false;
        // It is the device of this case itself.
        case.upstream_rcd = false;
        // Its own RCD is the one upstream.
        case.blinded = [case.blinded[2], crate::case::NO, crate::case::NO];
        case.put(crate::field::IPF, self.level.origin_ipf(self.board));
        case.put(ZE, supply.origin_ze.range());
        case.put(ZS, supply.ze.range());
        case.take(ZS, self.loop_at_board().map(Range::numbers));
        case.kinds = &[LoadKind::Distribution];
        Some(case)
    }
}
