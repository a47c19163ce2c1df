//! The supply side: the cable that feeds the board, the incomer and the busbars, against the device
//! upstream.
//!
//! The supply cable is a circuit whose device is the one upstream and whose load is the board: it is
//! held to the rules of a circuit. What feeds it stands at the origin.

use survey::range::Span;
use survey::{Message, Amps, Arrangement, Cable, CableId, Check, DeviceKind, EarthingSystem, Input, Known, LoadKind, NextReading, Range,
    Reading, Stage, Subject, SupplyPhases, Verdict, terminal,
};

use crate::balance::{Share, Sums};
use crate::case::{Case, Feed, Gap, fields, taken_as_usual};
use crate::field::{Field, NEUTRAL_SIZE, RATED, ZE, ZS};
use crate::finding::{self, Rule};
use crate::rules::undenied;
use crate::source::{Common, Source, line_index};
use crate::verdict::{self, Evaluate, Outcome};
use crate::{cable, device, energy, fault_level, fault_loop, selectivity, settings, shown, volt_drop};

/// A rule of the supply cable.
struct Along {
    rule: Rule,
    evaluate: Evaluate,
    /// It needs the cable; else it is judged by the device upstream alone.
    of_cable: bool,
    /// What the sentence speaks of: "The supply cable".
    holds: &'static str,
    fails: &'static str,
    undecided: &'static str,
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

/// The rules in the order their checks are listed. In a sentence `{v}` stands for the value, `{l}` for
/// the limit.
const ALONG: &[Along] = &[
    Along {
        rule: rule(
            "supply-cable-current",
            Message::fixed("IEC 60364-4-43, 433.1: In ≤ Iz, with Iz by IEC 60364-5-52, 523"),
            [Message::fixed("In upstream"), Message::fixed("Iz")],
            "A",
        ),
        evaluate: |case| {
            Ok(Outcome { value: device::overcurrent_rating(case)?, limit: cable::carried(case)?.numbers() })
        },
        of_cable: true,
        holds: "The supply cable carries {l}, enough for the {v} device upstream.",
        fails: "The supply cable carries only {l}; the {v} device upstream is too large for it.",
        undecided: "The supply cable carries {l}; whether that suits the {v} device upstream is undecided.",
    },
    Along {
        rule: rule(
            "supply-overload-trip",
            Message::fixed("IEC 60364-4-43, 433.1: I2 ≤ 1.45 Iz, for the cable that feeds the board"),
            [Message::fixed("I2 upstream"), Message::fixed("1.45 Iz")],
            "A",
        ),
        evaluate: |case| {
            let limit = cable::carried(case)?.numbers() * Span::point(1.45);
            Ok(Outcome { value: device::conventional(case)?, limit })
        },
        of_cable: true,
        holds: "The device upstream surely opens at {v}, before the supply cable's overload limit of {l}.",
        fails: "The device upstream may carry {v} for an hour or more, beyond the supply cable's overload limit of {l}.",
        undecided: "The device upstream surely opens at {v}; the supply cable's overload limit lies at {l}: undecided.",
    },
    Along {
        rule: rule(
            "supply-disconnection",
            Message::fixed("IEC 60364-4-41, 411.3.2.3 and 411.4.4: a fault at the board itself, in the time of a distribution circuit; a \
             fuse by BS 7671, table 41.4, where it prints one, else by the gates of IEC 60269-1 (both from memory)"),
            [Message::fixed("Zs at the board"), Message::fixed("Zs max")],
            "Ω",
        ),
        evaluate: at_the_board,
        of_cable: false,
        holds: "A fault to earth at the board meets {v}; the device upstream opens in time up to {l}.",
        fails: "A fault to earth at the board meets {v}; the device upstream opens in time only up to {l}.",
        undecided: "A fault to earth at the board meets {v}; the device upstream opens in time up to {l}: undecided.",
    },
    Along {
        rule: rule(
            "supply-line-energy",
            Message::fixed("IEC 60364-4-43, 434.5.2: I²t ≤ k²S² for every fault from the origin to the board"),
            [Message::fixed("√(I²t)/k"), Message::fixed("S")],
            "mm²",
        ),
        evaluate: energy::line,
        of_cable: true,
        holds: "A short circuit along the supply cable needs {v} of conductor; it has {l}.",
        fails: "A short circuit along the supply cable needs {v} of conductor; it has only {l}.",
        undecided: "A short circuit along the supply cable needs {v} of conductor; it has {l}: undecided.",
    },
    Along {
        rule: rule(
            "supply-cpc-energy",
            Message::fixed("IEC 60364-5-54, 543.1: S ≥ √(I²t)/k or table 54.2, for the supply cable's protective conductor"),
            [Message::fixed("S needed"), Message::fixed("S")],
            "mm²",
        ),
        evaluate: energy::protective,
        of_cable: true,
        holds: "The supply cable's protective conductor needs {v}; it has {l}.",
        fails: "The supply cable's protective conductor needs {v}; it has only {l}.",
        undecided: "The supply cable's protective conductor needs {v}; it has {l}: undecided.",
    },
    Along {
        rule: rule(
            DROP,
            Message::fixed("IEC 60364-5-52, annex G, table G.52.1: the drop before the board leaves none for its circuits"),
            [Message::fixed("ΔU"), Message::fixed("limit")],
            "%",
        ),
        evaluate: |case| {
            // The board's own current is in the case already: worked out from its circuits.
            let value = case.get(crate::field::DROP_BEFORE)?.numbers();
            Ok(Outcome { value, limit: volt_drop::limit(case).ok_or(Gap::Missing(Field::Kind))? })
        },
        of_cable: true,
        holds: "The supply cable loses {v} of the voltage under the board's load; {l} is allowed up to the loads.",
        fails: "The supply cable alone loses {v} of the voltage under the board's load; {l} is all that is allowed.",
        undecided: "The supply cable loses {v} of the voltage under the board's load, against {l}: undecided.",
    },
];

const THIN_NEUTRAL: Rule = Rule {
    name: "supply-neutral-size",
    clause: Message::fixed("IEC 60364-5-52, 524.2: the neutral as thick as the lines, or 16 mm² Cu, 25 mm² Al at least"),
    symbols: [Message::fixed("SN needed"), Message::fixed("SN")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const NEUTRAL: Rule = Rule {
    name: "supply-neutral",
    clause: Message::fixed("IEC 60364-4-43, 431.2.1: a neutral thinner than its lines carries In, or surely less flows in it"),
    symbols: [Message::fixed("In upstream"), Message::fixed("Iz of the neutral")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const TERMINALS: Rule = Rule {
    name: "supply-terminals",
    clause: Message::fixed("IEC 60364-5-52, table 52.1, note on conductors above 70 °C; BS 7671, 512.1.5 (both from memory): the \
             incomer's terminals bear the conductor's temperature"),
    symbols: [Message::fixed("IL"), Message::fixed("Iz with what the terminals bear")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

const INCOMER_OVERLOAD: Rule = Rule {
    name: "incomer-overload",
    clause: Message::fixed("IEC 60364-5-53, 536.4.3: a switch or RCD is protected by the device before it or by those behind it \
             (clause from memory)"),
    symbols: [Message::fixed("least of In upstream and Σ In behind"), Message::fixed("In")],
    unit: "A",
    scale: 1.0,
    advice: false,
};

static INCOMER_SHORT: Rule = Rule {
    name: "incomer-short-circuit",
    clause: Message::fixed("IEC 60364-5-53, 536.4.2 (clause from memory); IEC 60947-3 (Icw, conditional) or IEC 61008-1 (Inc): the \
             incomer bears a fault at the board"),
    symbols: [Message::fixed("Ipf"), Message::fixed("what the incomer bears")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

static ASSEMBLY_SHORT: Rule = Rule {
    name: "assembly-short-circuit",
    clause: Message::fixed("IEC 61439-3 with IEC 61439-1, 5.3.4 to 5.3.6 and 9.3: the busbars bear a fault at the board (Icc or Icw)"),
    symbols: [Message::fixed("Ipf"), Message::fixed("what the busbars bear")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

const NOT_ENTERED: Rule = Rule::in_words(
    "supply-cable",
    Message::fixed("IEC 60364-4-43, 433.1 and 434.5.2, and IEC 60364-4-41, 411.3.2.3: the cable that feeds the board and what protects it"),
);

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
        finding::told("/supply/cable", "supply cable", shown::NOT_KNOWN, Known::Unknown),
        finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream),
        finding::chosen("/supply/upstream_kind", "upstream device", kind, |one| one.words().to_owned()),
    ];
    let ask = "enter the cable that feeds the board: its size, length and how it lies";
    let next = finding::all_of([
        Some(("/supply/cable", ask)),
        supply.upstream.is_unknown().then_some(("/supply/upstream", "read the rating of the device upstream")),
        kind.get().is_none().then_some(("/supply/upstream_kind", "read what the device upstream is and its type")),
    ]);
    let also = match next.len() {
        1 => "",
        _ => ", nor all of the device that protects it",
    };
    let sentence = format!(
        "The cable that feeds the board is not entered{also}: whether it bears its load and a fault, and what it loses of \
         the voltage, is undecided."
    );
    let inequality = "In upstream ≤? Iz of the supply cable";
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
        let words = "the RCD upstream sees no fault to earth where the supply cable's neutral is its protective conductor too: \
                     look what its protective conductor is";
        return Err(Gap::Unfit(Field::Cpc, words.into()));
    }
    let measured = case.get(ZS)?.numbers();
    let warm = (measured / Span::point(fault_loop::COLD_SHARE)).hi;
    // What is worked out from the origin has the supply warm already.
    let cold = case.given(ZS)?.is_some();
    let value = if case.has_cable && cold { Span { lo: measured.lo, hi: warm } } else { measured };
    if case.systems == [EarthingSystem::Tt] && !case.device_kind.is_some_and(watches) {
        let words = "in a TT system all before the board's own RCD needs an RCD upstream, or double or reinforced \
                     insulation: look which it has";
        return Err(Gap::Unfit(Field::DeviceKind, words.into()));
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
                    let open = verdict::Open { evaluate: along.evaluate, outcome, used };
                    let ranked = verdict::sensitivity(case, &mut case.clone(), &[open]);
                    ranked.into_iter().flatten().map(|(field, settles)| next(common, field, settles)).collect()
                }
                _ => Vec::new(),
            };
            rule.judged_in_words(subject, outcome, inputs(common, case, used), next, |verdict, value, limit| {
                let words = match verdict {
                    Verdict::Holds => along.holds,
                    Verdict::Fails | Verdict::Advised => along.fails,
                    Verdict::Undecided => along.undecided,
                };
                words.replace("{v}", value).replace("{l}", limit)
            })
        }
        Err(Gap::Missing(first)) => {
            let mut supposed = case.clone();
            supposed.suppose(first);
            let wanting = verdict::missing(&supposed, along.evaluate, first);
            let share = 1.0 / wanting.len().max(1) as f64;
            used |= wanting.iter().fold(0, |mask, field| mask | 1 << *field as u128);
            let labels: Vec<String> = wanting.iter().map(|field| place(common, *field).1.to_string()).collect();
            let why = format!("for want of: {}", labels.join("; "));
            let next = wanting.into_iter().map(|field| next(common, field, share)).collect();
            rule.open(subject, why, inputs(common, case, used), next)
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
        Field::Rated => "read the rating of the device upstream".to_owned(),
        Field::DeviceKind | Field::Device => "read what the device upstream is and its type".to_owned(),
        Field::Curve => "read the type letter on the device upstream".to_owned(),
        Field::Ir | Field::Ii | Field::Isd | Field::Tsd | Field::DcRated | Field::TimeCurve => {
            format!("device upstream: {}", field.about().ask)
        }
        Field::Ipf => "measure the prospective fault current at the origin of the supply cable".to_owned(),
        Field::Zs | Field::LoopAngle => "measure the loop impedance at the board's incoming terminals".to_owned(),
        Field::Ze => "measure the loop impedance at the origin of the supply cable".to_owned(),
        Field::LetThrough => "take the let-through energy of the device upstream from its data".to_owned(),
        Field::DropBefore | Field::Cable => "enter the supply cable".to_owned(),
        Field::EnergyClass | Field::LetThroughAt => format!("read the {label}"),
        other => format!("supply cable: {}", other.about().ask),
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
                        shown::percent(span)
                    } else {
                        shown::span(span, field.about().unit)
                    };
                    (shown, Known::Assumed)
                }
                (None, Known::Unknown) => match taken_as_usual(field) {
                    Some(usual) => (usual.to_owned(), Known::Assumed),
                    None => (value, known),
                },
                _ => (value, known),
            };
            finding::told(path, label, value, known)
        })
        .collect()
}

/// Path, label, value and knowledge of a field of the supply side.
fn place(common: &Common, field: Field) -> (String, &'static str, String, Known) {
    let supply = &common.board.supply;
    let unknown = || (shown::NOT_KNOWN.to_owned(), Known::Unknown);
    fn read<Q: survey::Quantity>(reading: &Reading<Q>) -> (String, Known) {
        (reading.shown(), reading.from.known)
    }
    fn fact<T>(fact: &survey::Fact<T>, words: impl Fn(&T) -> String) -> (String, Known) {
        fact.get().map_or((shown::NOT_KNOWN.to_owned(), Known::Unknown), |value| (words(value), fact.from.known))
    }
    let of_cable =
        |name: &str, label: &'static str, seen: &dyn Fn(&Cable) -> (String, Known)| match common.supply_cable() {
            Some((id, cable)) => {
                let (value, known) = seen(cable);
                (cable_path(id, name), label, value, known)
            }
            None => ("/supply/cable".to_owned(), label, shown::NOT_KNOWN.to_owned(), Known::Unknown),
        };
    let on = |name: &str, label: &'static str, (value, known): (String, Known)| {
        (format!("/supply/{name}"), label, value, known)
    };
    let label = field.about().label;
    match field {
        Field::Rated => on("upstream", "rated current of the upstream device", read(&supply.upstream)),
        Field::DeviceKind | Field::Device => {
            on("upstream_kind", "upstream device", fact(&supply.upstream_kind, |one| one.words().to_owned()))
        }
        Field::Curve => {
            on("upstream_curve", "type of the upstream device", fact(&supply.upstream_curve, |one| one.words().into()))
        }
        Field::Residual => {
            on("upstream_residual", "residual current of the upstream device", read(&supply.upstream_residual))
        }
        Field::Delay => {
            on("upstream_delay", "delay of the upstream RCD", fact(&supply.upstream_delay, |one| one.words().into()))
        }
        Field::Formation => of_cable("formation", label, &|cable| fact(&cable.formation, |one| one.words().into())),
        Field::CurrentForm => on("current_form", label, fact(&supply.current_form, |one| one.words().into())),
        Field::DcRated => on("upstream_kind", "upstream device for direct current", unknown()),
        Field::Reduced => on("reduced", label, fact(&supply.reduced, |one| one.words().into())),
        Field::Ir => on("upstream_ir", "overload setting of the upstream device, Ir", read(&supply.upstream_ir)),
        Field::Ii => on("upstream_ii", "instantaneous setting of the upstream device, Ii", read(&supply.upstream_ii)),
        Field::Isd => on("upstream_isd", "short-time setting of the upstream device, Isd", read(&supply.upstream_isd)),
        Field::Tsd => on("upstream_tsd", "opening time of the upstream short-time release", read(&supply.upstream_tsd)),
        Field::OwnBlind => ("/circuits".to_owned(), Field::UpstreamBlind.about().label, unknown().0, Known::Unknown),
        Field::LoopAngle => ("/supply/ze".to_owned(), label, crate::source::NO_ANGLE.to_string(), Known::Assumed),
        Field::TimeCurve => (
            "/supply/upstream".to_owned(),
            "time/current curve of the upstream device",
            crate::source::NO_CURVE.to_string(),
            Known::Assumed,
        ),
        Field::Voltage => on("voltage", label, read(&supply.voltage)),
        Field::System => on("system", label, fact(&supply.system, |one| one.words().into())),
        Field::Network => on("network", label, fact(&supply.network, |one| one.words().into())),
        Field::Electrode => on("electrode", label, read(&supply.electrode)),
        Field::Zs => on("ze", "loop impedance at the board, Ze", read(&supply.ze)),
        Field::Ze => on("origin_ze", "loop impedance at the origin of the supply cable", read(&supply.origin_ze)),
        Field::Ipf => on("origin_ipf", "fault current at the origin of the supply cable", read(&supply.origin_ipf)),
        Field::LetThrough => {
            on("upstream_let_through", "let-through energy of the upstream device", read(&supply.upstream_let_through))
        }
        Field::LetThroughAt => on(
            "upstream_let_through_at",
            "fault current that its let-through energy is said of",
            read(&supply.upstream_let_through_at),
        ),
        Field::EnergyClass => {
            on("upstream_let_through", "let-through energy of the upstream device", read(&supply.upstream_let_through))
        }
        Field::Kind => ("/circuits".to_owned(), "kinds of load", "as entered".to_owned(), Known::Stated),
        Field::Current | Field::Power | Field::PowerFactor | Field::Demand => {
            ("/circuits".to_owned(), "loads of the board", "as entered".to_owned(), Known::Stated)
        }
        Field::DropBefore => {
            ("/supply/cable".to_owned(), "drop in the supply cable", shown::NOT_KNOWN.to_owned(), Known::Unknown)
        }
        Field::Size => of_cable("size", label, &|cable| read(&cable.size)),
        Field::CpcSize => of_cable("cpc_size", label, &|cable| read(&cable.cpc_size)),
        Field::NeutralSize => of_cable("neutral_size", label, &|cable| read(&cable.neutral_size)),
        Field::Length => of_cable("length", label, &|cable| read(&cable.length)),
        Field::Ambient => of_cable("ambient", label, &|cable| read(&cable.ambient)),
        Field::TouchLimit => on("touch_limit", label, fact(&supply.touch_limit, |one| one.words().into())),
        Field::Frequency => on("frequency", label, fact(&supply.frequency, |one| one.words().into())),
        Field::CpcMaterial => {
            of_cable("cpc_material", label, &|cable| fact(&cable.cpc_material, |one| one.words().into()))
        }
        Field::GroupedLight => {
            of_cable("grouped_light", label, &|cable| fact(&cable.grouped_light, |one| one.to_string()))
        }
        Field::Soil => of_cable("soil", label, &|cable| read(&cable.soil)),
        Field::Depth => of_cable("burial_depth", label, &|cable| read(&cable.burial_depth)),
        Field::InInsulation => of_cable("in_insulation", label, &|cable| read(&cable.in_insulation)),
        Field::Material => of_cable("material", label, &|cable| fact(&cable.material, |one| one.words().into())),
        Field::Insulation => of_cable("insulation", label, &|cable| fact(&cable.insulation, |one| one.words().into())),
        Field::Method => of_cable("method", label, &|cable| fact(&cable.method, |one| one.words().into())),
        Field::Construction => {
            of_cable("construction", label, &|cable| fact(&cable.construction, |one| one.words().into()))
        }
        Field::Layout => of_cable("layout", label, &|cable| fact(&cable.layout, |one| one.words().into())),
        Field::MixedSizes => {
            of_cable("mixed_sizes", label, &|cable| fact(&cable.mixed_sizes, |one| one.words().into()))
        }
        Field::Cpc => of_cable("cpc", label, &|cable| fact(&cable.cpc, |one| one.words().into())),
        Field::CpcApart => of_cable("cpc_apart", label, &|cable| fact(&cable.cpc_apart, |one| one.words().into())),
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
    let mut given =
        vec![finding::chosen("/incomer/terminals_90", Field::Terminals.about().label, &incomer.terminals_90, |one| {
            one.words().to_owned()
        })];
    let carried = cable::carried(case).and_then(|hot| Ok((hot.numbers(), cable::carried_at_70(case)?.numbers())));
    given.extend(inputs(common, case, case.used_mask()));
    let ask = "read on the incomer or in its data whether its terminals take conductors at 90 °C";
    let ask = || vec![finding::next("/incomer/terminals_90", ask, 1.0)];
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
                out.push(TERMINALS.open(Subject::Board, "what the board draws is not known", given, ask()));
                return;
            }
            let outcome = Outcome { value, limit };
            out.push(TERMINALS.judged_in_words(Subject::Board, outcome, given, ask(), |verdict, value, limit| match verdict {
                Verdict::Holds => {
                    format!("The lines carry {value} at most; the incomer's terminals bear the supply cable at {limit}.")
                }
                Verdict::Fails | Verdict::Advised => format!(
                    "The lines carry {value}; beyond {limit} the supply cable is warmer than 70 °C, and the incomer's \
                     terminals are not for that."
                ),
                Verdict::Undecided => format!(
                    "The lines carry {value}; the supply cable may be warmer than the incomer's terminals bear ({limit}): \
                     undecided."
                ),
            }));
        }
        Err(Gap::Missing(field)) => {
            let why = format!("for want of: {}", place(common, field).1);
            out.push(TERMINALS.open(Subject::Board, why, given, vec![next(common, field, 1.0)]));
        }
        Err(Gap::Unfit(..)) => {
            let why = "the capacity tables have no such cable";
            out.push(TERMINALS.open(
                Subject::Board,
                why,
                given,
                vec![finding::next(
                    cable_path(id, "size"),
                    format!("check what was entered for the supply cable ({})", feeding.size.shown()),
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
        finding::input(cable_path(id, "neutral_size"), Field::NeutralSize.about().label, &feeding.neutral_size),
        finding::input(cable_path(id, "size"), Field::Size.about().label, &feeding.size),
        finding::chosen(cable_path(id, "material"), Field::Material.about().label, &feeding.material, |one| {
            one.words().to_owned()
        }),
    ];
    let next =
        vec![finding::next(cable_path(id, "material"), "look at the supply's conductors: copper or aluminium", 1.0)];
    let outcome = Outcome { value: needed, limit: neutral };
    out.push(THIN_NEUTRAL.judged_in_words(
        Subject::Board,
        outcome,
        inputs,
        next,
        |verdict, needed, found| match verdict {
            Verdict::Holds => {
                format!("The supply's neutral of {found} is no thinner than the {needed} it needs at least.")
            }
            Verdict::Undecided => format!("The supply's neutral is of {found}; it needs {needed} at least: undecided."),
            _ => format!("The supply's neutral of {found} is too thin: {needed} at least."),
        },
    ));
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
        finding::input("/supply/upstream", "rated current of the upstream device", &common.board.supply.upstream),
        finding::input(cable_path(id, "neutral_size"), Field::NeutralSize.about().label, &feeding.neutral_size),
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
            let ask = finding::next(
                cable_path(id, "neutral_size"),
                "show that the neutral's largest current stays below what it carries, or fit a device that watches it",
                1.0,
            );
            out
                .push(NEUTRAL.judged_in_words(Subject::Board, outcome, given, vec![ask], |verdict, value, limit| match verdict {
                Verdict::Holds => {
                    format!("The supply's neutral carries {limit}, all that the device upstream lets flow.")
                }
                Verdict::Fails | Verdict::Advised => {
                    format!("The supply's neutral carries only {limit}, and {value} flow in it.")
                }
                Verdict::Undecided => format!(
                    "The supply's neutral carries {limit}; the device upstream lets up to {} flow in it: undecided.",
                    shown::span(Span::point(rated.hi), "A")
                ),
            }));
        }
        Err(Gap::Missing(field)) => {
            let why = format!("for want of: {}", place(common, field).1);
            out.push(NEUTRAL.open(Subject::Board, why, given, vec![next(common, field, 1.0)]));
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
            what: "incomer bears",
        };
        short_circuit(common, &part, out);
    }
    if board.enclosure.get().is_some() {
        let part = Bearer {
            rule: &ASSEMBLY_SHORT,
            paths: ["/surroundings/conditional", "/surroundings/short_time"],
            conditional: &board.surroundings.conditional,
            short_time: &board.surroundings.short_time,
            what: "busbars bear",
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
    if common.board.stage == Stage::Existing
        && let Some(pattern) = common.board.enclosure.get()
    {
        open |= terminal::occupancy(common.board, pattern).poles.len() < pattern.poles().count();
    }
    let most = lines.into_iter().fold(Span::point(0.0), |a, b| Span { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi) });
    Span { lo: most.lo, hi: if open { f64::INFINITY } else { most.hi } }
}

fn overload(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    let board = common.board;
    let supply = &board.supply;
    let mut inputs = vec![
        finding::input("/incomer/rated", "rated current of the incomer", &board.incomer.rated),
        finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream),
        finding::chosen("/supply/upstream_kind", "upstream device", &supply.upstream_kind, |kind| {
            kind.words().to_owned()
        }),
    ];
    let sum = behind(common, circuits);
    let told = match sum.hi.is_finite() {
        true => shown::span(sum, "A"),
        false => {
            format!("{} or more: a rating or what stands on a pole is not known", shown::span(Span::point(sum.lo), "A"))
        }
    };
    inputs.push(finding::told("/devices", "sum of the ratings behind it, per line", told, Known::Stated));
    let before = match supply.upstream_kind.get() {
        Some(kind) if !kind.opens_on_overcurrent() => None,
        kind => Some(lets_flow(kind.copied(), &supply.upstream, &supply.upstream_ir)),
    };
    let wanting = finding::all_of([
        board.incomer.rated.is_unknown().then_some(("/incomer/rated", "read the rating on the incomer")),
        matches!(before, Some(None)).then_some(("/supply/upstream", "read the rating of the device upstream")),
        supply
            .upstream_kind
            .get()
            .is_none()
            .then_some(("/supply/upstream_kind", "read what the device upstream is and its type")),
        before.is_none().then_some((
            "/supply/upstream_kind",
            "find the device that opens on overcurrent before the one upstream, and read its kind and its rating",
        )),
    ]);
    let Some(rated) = board.incomer.rated.range().map(Range::numbers) else {
        out.push(INCOMER_OVERLOAD.open(
            Subject::Board,
            "the rated current of the incomer is not known",
            inputs,
            wanting,
        ));
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
        let why = "neither the device upstream nor the sum of those behind is known well enough";
        out.push(INCOMER_OVERLOAD.open(Subject::Board, why, inputs, wanting));
        return;
    }
    let finite = Span { lo: value.lo, hi: if value.hi.is_finite() { value.hi } else { value.lo } };
    let outcome = Outcome { value: finite, limit: rated };
    out
        .push(INCOMER_OVERLOAD.judged_in_words(Subject::Board, outcome, inputs, wanting, |verdict, value, limit| match verdict {
        Verdict::Holds => format!("No more than {value} can flow for long through the incomer, rated {limit}."),
        Verdict::Fails | Verdict::Advised => format!(
            "{value} can flow for long through the incomer, rated only {limit}: neither the device upstream nor those \
             behind it open before."
        ),
        Verdict::Undecided => format!("{value} can flow for long through the incomer, rated {limit}: undecided."),
    }));
}

/// A part of the board that a fault at it passes, with what its maker says that it bears.
struct Bearer<'b> {
    rule: &'static Rule,
    paths: [&'static str; 2],
    conditional: &'b Reading<Amps>,
    short_time: &'b Reading<Amps>,
    /// With its verb: "busbars bear".
    what: &'static str,
}

/// What to read of a part: its conditional and its short-time rating.
const BEARS: [&str; 2] = [
    "read the conditional short-circuit current, and with which device upstream, in the maker's data",
    "read the short-time withstand current (1 s) on the rating plate",
];

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
    fn unproven(&self, common: &Common, by_time: Option<Span>) -> Option<(&'static str, NextReading)> {
        let supply = &common.board.supply;
        if crate::source::direct(supply) {
            let why = "the ratings are read as of alternating current: read in the maker's data what it bears of direct \
                       current";
            return Some((why, finding::next(self.paths[0], why, 1.0)));
        }
        let bare = supply.upstream_kind.get().is_some_and(|kind| !kind.opens_on_overcurrent());
        if stands(supply) || self.conditional.is_unknown() || !(bare || by_time.is_none()) {
            return None;
        }
        let why = if bare {
            "the conditional rating stands only behind a device that opens on overcurrent, and the one upstream does not"
        } else {
            "the conditional rating stands only behind the device that its maker names: read what the one upstream is"
        };
        Some((why, finding::next("/supply/upstream_kind", "read what the device upstream is, and its rating", 1.0)))
    }

    /// Fault and ratings as inputs, as far as they count.
    fn inputs(&self, common: &Common, fault: Option<Span>, unproven: bool) -> Vec<Input> {
        let supply = &common.board.supply;
        let shown = |fault: Span| shown::span(Span { lo: fault.lo / 1000.0, hi: fault.hi / 1000.0 }, "kA");
        let known = match (fault, supply.ipf.is_unknown()) {
            (None, _) => Known::Unknown,
            (Some(_), true) => Known::Assumed,
            (Some(_), false) => supply.ipf.from.known,
        };
        let label = "conditional short-circuit current, with the device upstream";
        let mut inputs = vec![
            finding::told(
                "/supply/ipf",
                Field::Ipf.about().label,
                fault.map_or(shown::NOT_KNOWN.to_owned(), shown),
                known,
            ),
            finding::input(self.paths[0], label, self.conditional),
        ];
        let direct = crate::source::direct(supply);
        if unproven && !direct {
            inputs.push(finding::chosen("/supply/upstream_kind", "upstream device", &supply.upstream_kind, |kind| {
                kind.words().to_owned()
            }));
        } else if direct || !self.short_time.is_unknown() {
            inputs.push(finding::input(self.paths[1], "short-time withstand current, 1 s", self.short_time));
            if !direct {
                inputs.push(finding::input(
                    "/supply/upstream",
                    "rated current of the upstream device",
                    &supply.upstream,
                ));
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
    let Bearer { rule, what, paths, .. } = part;
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
            fault.is_none().then_some(("/supply/ipf", "measure the prospective fault current at the board")),
            limit.is_none().then_some((paths[0], BEARS[0])),
            limit.is_none().then_some((paths[1], BEARS[1])),
        ]);
        let why = format!("what the {what} of a fault is not known");
        out.push(rule.open(Subject::Board, why, inputs, next));
        return;
    };
    // One of the two figures may allow what the other does not tell.
    let known = !part.conditional.is_unknown() && !part.short_time.is_unknown();
    let outcome = Outcome { value: fault, limit };
    if outcome.verdict() == Verdict::Fails && !known {
        let place = usize::from(!part.conditional.is_unknown());
        let shown = [fault, limit].map(|span| shown::span(Span { lo: span.lo / 1000.0, hi: span.hi / 1000.0 }, "kA"));
        let why = format!("a fault at the board draws {}, by what is known it may be {}", shown[0], shown[1]);
        out.push(rule.open(Subject::Board, why, inputs, vec![finding::next(paths[place], BEARS[place], 1.0)]));
        return;
    }
    let next = vec![finding::next("/supply/ipf", "measure the prospective fault current at the board", 1.0)];
    out.push(rule.judged_in_words(Subject::Board, outcome, inputs, next, |verdict, value, limit| match verdict {
        Verdict::Holds => format!("A fault at the board draws {value}; by the maker's figure the {what} {limit}."),
        Verdict::Fails | Verdict::Advised => format!("A fault at the board draws {value}; the {what} only {limit}."),
        Verdict::Undecided => format!("A fault at the board draws {value}, and the {what} {limit}: undecided."),
    }));
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
