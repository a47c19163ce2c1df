//! What stands in the board and should not stand so: recorded as it is, and found.

use survey::{Check, Input, Known, NextReading, Subject, Verdict, terminal};

use crate::finding::{self, Rule};
use crate::source::{Common, Source};

const SHARED: Rule = Rule {
    name: "terminal-shared",
    clause: "IEC 60364-5-52, 526.2; BS 7671, 526.2 (both from memory): a terminal takes as many conductors as it is made for",
    symbols: ["circuits", "one terminal"],
    unit: "",
    scale: 1.0,
    advice: false,
};

const SECOND_EARTH: Rule = Rule {
    name: "second-earth",
    clause: "IEC 60364-5-54, 543.7; BS 7671, 543.7.1.203 (both from memory): above 10 mA two protective conductors end at \
             separate terminals",
    symbols: ["terminals left", "one more"],
    unit: "",
    scale: 1.0,
    advice: false,
};

const UNTRACED: Rule = Rule {
    name: "untraced",
    clause: "IEC 60364-5-51, 514.5; BS 7671, 514.9.1 (both from memory): the chart says what each circuit feeds",
    symbols: ["chart", "circuit"],
    unit: "",
    scale: 1.0,
    advice: false,
};

/// Keys of the rules here, for records without words.
pub(crate) const KEYS: &[&str] = &["terminal-shared", "second-earth", "untraced"];

/// Findings of what was recorded as it stands.
pub(crate) fn check<S>(common: &Common, circuits: &[(Source, S)], out: &mut Vec<Check>) {
    let board = common.board;
    let name = |id| circuits.iter().find(|(source, _)| source.id == id).map(|(source, _)| source.name().into_owned());
    if let Some(pattern) = board.enclosure.get().filter(|pattern| pattern.faults().is_empty()) {
        let terminals = terminal::terminals(board, pattern);
        for (id, terminal, holder) in &terminals.shared {
            let path = match terminals.neutral.get(id) {
                Some(own) if own == terminal => format!("/circuits/{id}/neutral_terminal"),
                _ => format!("/circuits/{id}/earth_terminals"),
            };
            let other = name(*holder).unwrap_or_else(|| "another circuit".to_owned());
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
