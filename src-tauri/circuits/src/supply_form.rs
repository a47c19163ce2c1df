//! Readings of the supply that cannot both be true of it: three phases of direct current, a voltage that its breakers
//! are not made for.

use survey::{Argument, Board, Check, DeviceKind, Known, Message, Subject, SupplyPhases, Verdict, say};

use crate::finding::{self, Rule};
use crate::source::{Common, direct};

const VOLTAGE: Rule = Rule::in_words("supply-voltage", say!("supply-voltage-clause"));

/// Largest voltage between lines that breakers and RCDs of installations are made for, V: IEC 60898-1, clause 1;
/// IEC 61008-1 and IEC 61009-1 alike (all from memory).
const BETWEEN_LINES: f64 = 440.0;

/// Kinds of device that are made up to that voltage. Fuses and adjustable breakers are made for more.
pub(crate) const fn bound(kind: DeviceKind) -> bool {
    matches!(kind, DeviceKind::CircuitBreaker | DeviceKind::Rcbo | DeviceKind::Rcd)
}

/// The voltage to earth, as read, is beyond what such devices are made for.
pub(crate) fn beyond(supply: &survey::Supply) -> bool {
    // Between two lines it is √3 times that to earth.
    let most = BETWEEN_LINES / 3.0_f64.sqrt();
    !direct(supply) && supply.voltage.range().is_some_and(|voltage| voltage.lo().get() > most)
}

/// Phases of the supply, unless its current is direct and they are said to be three.
pub(crate) fn phases(board: &Board, implied: Option<SupplyPhases>) -> Option<SupplyPhases> {
    implied.filter(|phases| *phases == SupplyPhases::Single || !direct(&board.supply))
}

/// What is wrong with phases and current; the words for it.
pub(crate) const NO_PHASES: Message = say!("supply-voltage-no-phases");

/// Findings of such readings.
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    if direct(supply) && supply.phases.get() == Some(&SupplyPhases::Three) {
        let current = &supply.current_form;
        let form =
            finding::chosen("/supply/current_form", say!("supply-voltage-label-form"), current, |one| one.words());
        let ask = say!("supply-voltage-ask-form");
        let sentence = say!("supply-voltage-phases", form = form.value.clone(), why = NO_PHASES, ask = ask.clone());
        let phases = finding::chosen("/supply/phases", say!("supply-label-phases"), &supply.phases, |one| one.words());
        let next = vec![finding::next("/supply/current_form", ask, 1.0)];
        let relation = say!("supply-voltage-agree");
        let inputs = vec![phases, form];
        out.push(VOLTAGE.plain(Subject::Board, Verdict::Undecided, sentence, relation, None, inputs, next));
    } else if beyond(supply) {
        let many = common.board.live_devices().filter(|(_, device)| device.kind.is_some_and(bound)).count();
        if many == 0 {
            return;
        }
        let ask = say!("supply-voltage-ask");
        let voltage = finding::shown(&supply.voltage);
        let most = Argument::number(BETWEEN_LINES, "V");
        let sentence = say!("supply-voltage-beyond", voltage = voltage.clone(), most = most.clone(), ask = ask.clone());
        let inputs = vec![
            finding::input("/supply/voltage", say!("supply-voltage-label"), &supply.voltage),
            finding::told("/devices", say!("supply-voltage-label-devices"), many.to_string(), Known::Stated),
        ];
        let next = vec![finding::next("/supply/voltage", ask, 1.0)];
        let relation = say!("supply-voltage-relation", voltage = voltage, most = most);
        out.push(VOLTAGE.plain(Subject::Board, Verdict::Undecided, sentence, relation, None, inputs, next));
    }
}
