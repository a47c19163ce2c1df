//! Readings of the supply that cannot both be true of it: three phases of direct current, a voltage that its breakers
//! are not made for.

use survey::{Message, Board, Check, DeviceKind, Known, Subject, SupplyPhases, Verdict};

use crate::finding::{self, Rule};
use crate::source::{Common, direct};

const VOLTAGE: Rule = Rule::in_words(
    "supply-voltage",
    Message::fixed("IEC 60898-1, clause 1, and IEC 61008-1 (both from memory): for at most 440 V between lines; direct current has no phases"),
);

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
pub(crate) const NO_PHASES: &str = "direct current has no three phases: one of the two was read wrongly";

/// Findings of such readings.
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let form = finding::chosen("/supply/current_form", "form of the current", &supply.current_form, |one| {
        one.words().to_owned()
    });
    if direct(supply) && supply.phases.get() == Some(&SupplyPhases::Three) {
        let ask = "find whether the supply is a.c. or d.c., and count its lines";
        let sentence =
            format!("The supply is entered as three-phase and as {}: {NO_PHASES}. To settle it, {ask}.", form.value);
        let phases =
            finding::chosen("/supply/phases", "phases of the supply", &supply.phases, |one| one.words().to_owned());
        let next = vec![finding::next("/supply/current_form", ask, 1.0)];
        let inputs = vec![phases, form];
        out.push(VOLTAGE.plain(Subject::Board, Verdict::Undecided, sentence, "readings: agree", None, inputs, next));
    } else if beyond(supply) {
        let many = common.board.live_devices().filter(|(_, device)| device.kind.is_some_and(bound)).count();
        if many == 0 {
            return;
        }
        let ask = "measure the voltage between line and earth, and read the rated voltage on the devices";
        let voltage = supply.voltage.shown();
        let sentence = format!(
            "{voltage} to earth is far more than the breakers and RCDs on the ways are made for, {BETWEEN_LINES} V between lines: \
             the voltage between lines may have been entered for that to earth. To settle it, {ask}."
        );
        let inputs = vec![
            finding::input("/supply/voltage", "voltage to earth", &supply.voltage),
            finding::told("/devices", "breakers and RCDs", many.to_string(), Known::Stated),
        ];
        let next = vec![finding::next("/supply/voltage", ask, 1.0)];
        let inequality = format!("√3 · {voltage} ≤? {BETWEEN_LINES} V");
        out.push(VOLTAGE.plain(Subject::Board, Verdict::Undecided, sentence, inequality, None, inputs, next));
    }
}
