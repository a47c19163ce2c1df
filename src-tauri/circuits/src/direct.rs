//! Supplies of direct current: what stands in which pole.

use survey::{Check, CurrentForm, DeviceKind, EarthingSystem, Known, Message, Poles, Subject, Verdict, say};

use crate::field::Field;
use crate::finding::{self, Rule};
use crate::source::{Common, Source};

const POLES: Rule = Rule::in_words("dc-poles", Message::bare("dc-poles-clause"));

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
            finding::chosen("/supply/current_form", finding::label(Field::CurrentForm), &supply.current_form, |one| {
                one.words()
            }),
            finding::chosen("/supply/system", finding::label(Field::System), &supply.system, |one| one.words()),
            finding::told(path.clone(), finding::label(Field::Poles), Poles::P1.words(), Known::Stated),
        ];
        let (verdict, sentence, ask) = match (form, supply.system.get()) {
            (CurrentForm::DcMidpoint, _) => {
                (Verdict::Undecided, say!("dc-poles-midpoint"), say!("dc-poles-midpoint-ask"))
            }
            (_, Some(EarthingSystem::It)) => (Verdict::Fails, say!("dc-poles-it"), Message::default()),
            _ => (Verdict::Undecided, say!("dc-poles-earthed"), say!("dc-poles-earthed-ask")),
        };
        let next = vec![finding::next(path, ask, 1.0)];
        out.push(POLES.plain(
            Subject::Circuit(source.id),
            verdict,
            sentence,
            say!("dc-poles-relation"),
            None,
            inputs,
            next,
        ));
    }
}
