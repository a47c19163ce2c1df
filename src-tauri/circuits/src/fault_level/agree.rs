//! Whether what was read at the board agrees with what follows from the origin.

use survey::range::Span;
use survey::units::Quantity;
use survey::{Check, Known, Reading, Subject, Verdict};

use crate::finding::{self, Rule};
use crate::shown;
use crate::source::Common;

const IPF: Rule = Rule {
    name: "fault-level",
    clause: "IEC 60364-4-43, 434.1: fault current by calculation or measurement; IEC 60909-0",
    symbols: ["Ipf", "Ipf calculated"],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

const ZE: Rule = Rule {
    name: "external-loop",
    clause: "IEC 60364-6, 6.4.3.7.3: loop impedance by measurement or calculation",
    symbols: ["Ze", "Ze calculated"],
    unit: "Ω",
    scale: 1.0,
    advice: false,
};

/// A check for each of Ipf and Ze that is both read and calculated.
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let level = &common.level;
    compare(&IPF, ("/supply/ipf", &supply.ipf), level.ipf().map(survey::Range::numbers), level.from, out);
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
    let meet = read.lo <= calculated.hi && calculated.lo <= read.hi;
    let scaled = |span: Span| shown::span(Span { lo: span.lo / rule.scale, hi: span.hi / rule.scale }, rule.unit);
    let (read, calculated) = (scaled(read), scaled(calculated));
    let symbol = rule.symbols[0];
    let (verdict, sentence, sign) = if meet {
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
