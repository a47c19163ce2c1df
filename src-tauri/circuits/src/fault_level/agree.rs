//! Whether what was read at the board agrees with what follows from the origin.

use survey::range::Span;
use survey::units::Quantity;
use survey::{Argument, Check, Known, Message, Reading, Subject, Verdict, say};

use crate::field::loop_label;
use crate::finding::{self, Rule};
use crate::source::Common;

const IPF: Rule = Rule {
    name: "fault-level",
    clause: say!("fault-level-clause"),
    symbols: [Message::fixed("Ipf"), say!("supply-symbol-ipf-calculated")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

const ZE: Rule = Rule {
    name: "external-loop",
    clause: say!("external-loop-clause"),
    symbols: [Message::fixed("Ze"), say!("supply-symbol-ze-calculated")],
    unit: "Ω",
    scale: 1.0,
    advice: false,
};

const DENY: Rule = Rule {
    name: "supply-readings",
    clause: say!("supply-readings-clause"),
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
    compare(&IPF, ("/supply/ipf", &supply.ipf), level.ipf().map(survey::Range::numbers), &level.from, out);
    if beyond_origin(supply, level) {
        let origin = level.origin_current();
        let most = origin.map_or(say!("not-known"), |origin| finding::value((origin.hi, "A")));
        let sentence = say!("supply-readings-beyond-origin", ze = finding::shown(&supply.ze), most = most);
        let inputs = vec![
            finding::input("/supply/ze", loop_label(common.board).clone(), &supply.ze),
            finding::told(
                if supply.origin_ze.is_unknown() { "/supply/transformer" } else { "/supply/origin_ze" },
                say!("supply-readings-label-origin"),
                origin.map_or(say!("not-known"), |origin| finding::value((origin, "A"))),
                Known::Assumed,
            ),
        ];
        out.push(DENY.plain(
            Subject::Board,
            Verdict::Fails,
            sentence,
            say!("supply-readings-relation-origin"),
            None,
            inputs,
            Vec::new(),
        ));
    } else if deny(supply, level) {
        let [ze, ipf] = [finding::shown(&supply.ze), finding::shown(&supply.ipf)];
        let sentence = say!("supply-readings-deny-each-other", ze = ze, ipf = ipf);
        let inputs = vec![
            finding::input("/supply/ze", loop_label(common.board).clone(), &supply.ze),
            finding::input("/supply/ipf", say!("supply-label-ipf"), &supply.ipf),
        ];
        out.push(DENY.plain(
            Subject::Board,
            Verdict::Fails,
            sentence,
            Message::fixed("U0/Ze ≤ Ipf"),
            None,
            inputs,
            Vec::new(),
        ));
    }
    compare(&ZE, ("/supply/ze", &supply.ze), level.ze().map(survey::Range::numbers), &level.from, out);
}

fn compare<Q: Quantity>(
    rule: &Rule,
    (path, reading): (&'static str, &Reading<Q>),
    calculated: Option<Span>,
    from: &Message,
    out: &mut Vec<Check>,
) {
    let Some((read, calculated)) = reading.range().map(survey::Range::numbers).zip(calculated) else { return };
    let verdict = if meet(read, calculated) { Verdict::Holds } else { Verdict::Fails };
    let scaled = |span: Span| Argument::span(Span { lo: span.lo / rule.scale, hi: span.hi / rule.scale }, rule.unit);
    let (read, calculated) = (scaled(read), scaled(calculated));
    let symbol = &rule.symbols[0];
    let said = |id: &'static str| {
        let parts = [
            ("verdict", verdict.into()),
            ("symbol", symbol.clone().into()),
            ("read", read.clone()),
            ("calculated", calculated.clone()),
            ("from", from.clone().into()),
        ];
        Message::said(id, parts)
    };
    let inputs = vec![
        finding::input(path, say!("fault-level-label-read", symbol = symbol.clone()), reading),
        finding::told(
            "/supply/cable",
            say!("fault-level-label-calculated", symbol = symbol.clone()),
            say!("input-calculated", value = calculated.clone(), from = from.clone()),
            Known::Assumed,
        ),
    ];
    let (sentence, relation) = (said("fault-level"), said("fault-level-relation"));
    out.push(rule.plain(Subject::Board, verdict, sentence, relation, None, inputs, Vec::new()));
}
