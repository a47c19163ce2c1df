//! Supplies of direct current: what stands in which pole.

use survey::{Check, CurrentForm, DeviceKind, EarthingSystem, Known, Message, Poles, Subject, Verdict};

use crate::finding::{self, Rule};
use crate::source::{Common, Source};

const POLES: Rule = Rule::in_words(
    "dc-poles",
    Message::fixed(
        "IEC 60364-4-43, 431.1 and IEC 60364-4-46, 461.2 (both from memory): overcurrent is detected in every line conductor, \
             and a one-pole device stands in none that is earthed",
    ),
);

/// Overcurrent devices of one pole on a supply of direct current.
pub(crate) fn check<S>(common: &Common, circuits: &[(Source, S)], out: &mut Vec<Check>) {
    let supply = &common.board.supply;
    let Some(form @ (CurrentForm::Dc | CurrentForm::DcMidpoint)) = supply.current_form.get().copied() else { return };
    for (source, _) in circuits {
        let Some((id, device)) = source.device else { continue };
        if device.poles != Some(Poles::P1) || !device.kind.is_some_and(DeviceKind::opens_on_overcurrent) {
            continue;
        }
        let path = format!("/devices/{id}/poles");
        let inputs = vec![
            finding::chosen("/supply/current_form", "form of the current", &supply.current_form, |one| {
                one.words().to_owned()
            }),
            finding::chosen("/supply/system", "earthing system", &supply.system, |one| one.words().to_owned()),
            finding::told(path.clone(), "poles of the device", Poles::P1.words(), Known::Stated),
        ];
        let (verdict, sentence, ask) = match (form, supply.system.get()) {
            (CurrentForm::DcMidpoint, _) => (
                Verdict::Undecided,
                "One pole does for a load between a pole and the midpoint; between the poles each of them needs its device. \
                 Which this circuit is, is undecided.",
                "look whether the circuit goes to the midpoint or to the other pole; to the midpoint the device is entered as \
                 1P+N",
            ),
            (_, Some(EarthingSystem::It)) => (
                Verdict::Fails,
                "No pole of the supply is earthed, and one of the two has no device that opens on overcurrent: it takes two \
                 poles.",
                "",
            ),
            _ => (
                Verdict::Undecided,
                "A one-pole device protects only in the pole that is not earthed: which that is, is undecided.",
                "find which pole of the supply is earthed, if any, and whether the device stands in the other",
            ),
        };
        let next = vec![finding::next(path, ask, 1.0)];
        out.push(POLES.plain(Subject::Circuit(source.id), verdict, sentence, "poles: 1P", None, inputs, next));
    }
}
