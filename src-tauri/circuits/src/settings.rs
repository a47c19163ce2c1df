//! Settings of an adjustable breaker that deny each other: one of them was read wrongly, and nobody knows which.

use survey::DeviceKind;
use survey::range::Span;

use crate::case::{Case, Gap};
use crate::field::{Field, II, IR, ISD, RATED};
use crate::shown;

/// What settings cannot be together, in words, and the one to read again first.
///
/// IEC 60947-2, 4.7 and 5.2 (from memory): the overload release is set to the rated current at most; a short-circuit
/// release opens above what the breaker is to carry for good.
fn denial(rated: Option<Span>, [ir, ii, isd]: [Option<Span>; 3]) -> Option<(Field, String)> {
    let above = |a: Span, b: Span| a.lo > b.hi * (1.0 + 1e-9);
    let amps = |span: Span| shown::span(span, "A");
    if let Some((ir, rated)) = ir.zip(rated)
        && above(ir, rated)
    {
        let words = format!(
            "an overload setting Ir of {} was read on a breaker rated {}: none can be set above its rating; read both again",
            amps(ir),
            amps(rated)
        );
        return Some((Field::Ir, words));
    }
    [(Field::Ii, "Ii", ii), (Field::Isd, "Isd", isd)].into_iter().find_map(|(field, name, short)| {
        let (ir, short) = ir.zip(short)?;
        above(ir, short).then(|| {
            let words = format!(
                "a short-circuit setting {name} of {} was read below the overload setting Ir of {}: the breaker would open \
                 at the current it is to carry; read both again",
                amps(short),
                amps(ir)
            );
            (field, words)
        })
    })
}

/// Nothing is said on settings that deny each other. Only what was read counts; nothing of it is counted as read where
/// it agrees, but the rating that Ir is held against.
pub(crate) fn agree(case: &Case) -> Result<(), Gap> {
    if case.device_kind != Some(DeviceKind::AdjustableBreaker) {
        return Ok(());
    }
    let read = |field: Field| {
        let slot = case.slots[field as usize];
        slot.span.filter(|_| !slot.taken)
    };
    if read(Field::Ir).is_some() {
        let _ = case.given(RATED)?;
    }
    match denial(read(Field::Rated), [Field::Ir, Field::Ii, Field::Isd].map(read)) {
        Some((field, words)) => {
            for key in [IR, II, ISD] {
                let _ = case.given(key)?;
            }
            Err(Gap::Unfit(field, words.into()))
        }
        None => Ok(()),
    }
}

/// What an adjustable breaker lets flow for good by its rating and its setting, A; anything between where they deny
/// each other.
pub(crate) fn lets_flow(rated: Option<Span>, set: Span) -> Span {
    match rated {
        Some(rated) if set.lo > rated.hi => Span { lo: rated.lo, hi: set.hi },
        _ => set,
    }
}
