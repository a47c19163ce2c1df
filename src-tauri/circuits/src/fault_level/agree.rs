//! Whether what was read at the board agrees with what follows from the origin.

use survey::range::Span;
use survey::units::Quantity;
use survey::{Message, Check, Known, Reading, Subject, Verdict};

use crate::finding::{self, Rule};
use crate::shown;
use crate::source::Common;

const IPF: Rule = Rule {
    name: "fault-level",
    clause: Message::fixed("IEC 60364-4-43, 434.1: fault current by calculation or measurement; IEC 60909-0"),
    symbols: [Message::fixed("Ipf"), Message::fixed("Ipf calculated")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

const ZE: Rule = Rule {
    name: "external-loop",
    clause: Message::fixed("IEC 60364-6, 6.4.3.7.3: loop impedance by measurement or calculation"),
    symbols: [Message::fixed("Ze"), Message::fixed("Ze calculated")],
    unit: "Ω",
    scale: 1.0,
    advice: false,
};

const DENY: Rule = Rule {
    name: "supply-readings",
    clause: Message::fixed("IEC 60364-6, 6.4.3.7.3; IEC 60909-0: the largest fault current at a point is not below U0 over its loop"),
    symbols: [Message::fixed("U0/Ze"), Message::fixed("Ipf")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

/// Readings this near may both be right: instruments at such currents are no better. Common practice, no source.
const SAME: f64 = 1.2;

/// Ze and Ipf were read, and cannot both be right: the current is the largest of all faults at the board, so it is not
/// smaller than U0/Ze.
fn deny(supply: &survey::Supply, level: &super::Level) -> bool {
    if beyond_origin(supply, level) {
        return true;
    }
    let numbers = (supply.voltage.range(), supply.ze.range(), supply.ipf.range());
    let (Some(voltage), Some(loop_at), Some(current)) = numbers else { return false };
    let by_loop = voltage.numbers() / loop_at.numbers();
    loop_at.lo().get() > 0.0 && by_loop.lo > current.numbers().hi * SAME
}

/// Ze was read smaller at the board than it can be at its origin.
fn beyond_origin(supply: &survey::Supply, level: &super::Level) -> bool {
    let read = supply.ze.range().map(survey::Range::numbers).filter(|read| read.lo > 0.0);
    read.zip(level.origin_loop()).is_some_and(|(read, origin)| read.hi * SAME < origin.lo)
}

/// The two have values in common.
fn meet(read: Span, calculated: Span) -> bool {
    read.lo <= calculated.hi && calculated.lo <= read.hi
}

/// Readings of the supply deny each other, or one of them what is calculated from the origin.
pub(crate) fn denied(supply: &survey::Supply, level: &super::Level) -> bool {
    fn apart<Q: Quantity>(read: Option<survey::Range<Q>>, calculated: Option<survey::Range<Q>>) -> bool {
        read.zip(calculated).is_some_and(|(read, calculated)| !meet(read.numbers(), calculated.numbers()))
    }
    deny(supply, level) || apart(supply.ipf.range(), level.ipf()) || apart(supply.ze.range(), level.ze())
}

/// The loop at the board was read smaller than it may be: what holds by it may not. One that was read larger than it is
/// calculated holds either way.
pub(crate) fn loop_denied(supply: &survey::Supply, level: &super::Level) -> bool {
    let numbers = (supply.ze.range(), level.ze());
    deny(supply, level)
        || matches!(numbers, (Some(read), Some(calculated)) if read.numbers().hi < calculated.numbers().lo)
}

/// Largest fault current at the board in A that a reading or a calculation which denies Ipf tells of; zero where none
/// does.
pub(crate) fn most_told(supply: &survey::Supply, level: &super::Level) -> f64 {
    let calculated = level.ipf().map(survey::Range::numbers).zip(supply.ipf.range());
    let calculated = calculated.filter(|(calculated, read)| read.numbers().hi < calculated.lo);
    let by_loop = supply.voltage.range().zip(supply.ze.range()).filter(|_| deny(supply, level));
    let by_loop = by_loop.map_or(0.0, |(voltage, loop_at)| (voltage.numbers() / loop_at.numbers()).hi);
    calculated.map_or(0.0, |(calculated, _)| calculated.hi).max(by_loop)
}

/// A check for each of Ipf and Ze that is both read and calculated.
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let level = &common.level;
    compare(&IPF, ("/supply/ipf", &supply.ipf), level.ipf().map(survey::Range::numbers), level.from, out);
    if beyond_origin(supply, level) {
        let amps =
            |current: Option<Span>| current.map_or(shown::NOT_KNOWN.to_owned(), |current| shown::span(current, "A"));
        let sentence = format!(
            "Ze of {} would let more flow at the board than what feeds it gives: {} at most. One of the two is wrong, and \
             what rests on it. Measure Ze again, and look at the data of the origin.",
            supply.ze.shown(),
            amps(level.origin_current().map(|one| Span::point(one.hi)))
        );
        let inputs = vec![
            finding::input("/supply/ze", "loop impedance at the board, Ze", &supply.ze),
            finding::told(
                if supply.origin_ze.is_unknown() { "/supply/transformer" } else { "/supply/origin_ze" },
                "largest fault current at the origin",
                amps(level.origin_current()),
                Known::Assumed,
            ),
        ];
        out.push(DENY.plain(
            Subject::Board,
            Verdict::Fails,
            sentence,
            "Ze ≥ Ze of the origin",
            None,
            inputs,
            Vec::new(),
        ));
    } else if deny(supply, level) {
        let sentence = format!(
            "Ze of {} would let more flow than the Ipf of {} that was read: one of the two is wrong, and what rests on it. \
             Measure both again, at the same terminals.",
            supply.ze.shown(),
            supply.ipf.shown()
        );
        let inputs = vec![
            finding::input("/supply/ze", "loop impedance at the board, Ze", &supply.ze),
            finding::input("/supply/ipf", "fault current at the board, Ipf", &supply.ipf),
        ];
        out.push(DENY.plain(Subject::Board, Verdict::Fails, sentence, "U0/Ze ≤ Ipf", None, inputs, Vec::new()));
    }
    compare(&ZE, ("/supply/ze", &supply.ze), level.ze().map(survey::Range::numbers), level.from, out);
}

fn compare<Q: Quantity>(
    rule: &Rule,
    (path, reading): (&'static str, &Reading<Q>),
    calculated: Option<Span>,
    from: &'static str,
    out: &mut Vec<Check>,
) {
    let Some((read, calculated)) = reading.range().map(survey::Range::numbers).zip(calculated) else { return };
    let agree = meet(read, calculated);
    let scaled = |span: Span| shown::span(Span { lo: span.lo / rule.scale, hi: span.hi / rule.scale }, rule.unit);
    let (read, calculated) = (scaled(read), scaled(calculated));
    let symbol = &rule.symbols[0];
    let (verdict, sentence, sign) = if agree {
        let sentence = format!("{symbol} at the board is {read}; {from} it comes to {calculated}: they agree.");
        (Verdict::Holds, sentence, "within")
    } else {
        let sentence = format!(
            "{symbol} at the board is {read}, but {from} it comes to {calculated}: one of the two is wrong. Take the \
             reading again, then look at the cable and the data of the origin."
        );
        (Verdict::Fails, sentence, "not within")
    };
    let inputs = vec![
        finding::input(path, format!("{symbol} at the board"), reading),
        finding::told(
            "/supply/cable",
            format!("{symbol} from the origin"),
            format!("{calculated}, {from}"),
            Known::Assumed,
        ),
    ];
    let inequality = format!("{symbol} {read} {sign} {calculated}");
    out.push(rule.plain(Subject::Board, verdict, sentence, inequality, None, inputs, Vec::new()));
}
