//! Settings of an adjustable breaker that deny each other: one of them was read wrongly, and nobody knows which.

use survey::range::Span;
use survey::{DeviceKind, Message, say};

use crate::case::{Case, Gap};
use crate::field::{Field, II, IR, ISD, RATED};

/// What settings cannot be together, and the one to read again first.
///
/// IEC 60947-2, 4.7 and 5.2 (from memory): the overload release is set to the rated current at most; a short-circuit
/// release opens above what the breaker is to carry for good.
fn denial(rated: Option<Span>, [ir, ii, isd]: [Option<Span>; 3]) -> Option<(Field, Message)> {
    let above = |a: Span, b: Span| a.lo > b.hi * (1.0 + 1e-9);
    if let Some((ir, rated)) = ir.zip(rated)
        && above(ir, rated)
    {
        return Some((Field::Ir, say!("gap-ir-above-rating", set = (ir, "A"), rated = (rated, "A"))));
    }
    let below = |short: Option<Span>| ir.zip(short).filter(|(ir, short)| above(*ir, *short));
    if let Some((ir, ii)) = below(ii) {
        return Some((Field::Ii, say!("gap-ii-below-ir", short = (ii, "A"), set = (ir, "A"))));
    }
    let (ir, isd) = below(isd)?;
    Some((Field::Isd, say!("gap-isd-below-ir", short = (isd, "A"), set = (ir, "A"))))
}

/// Nothing is said on settings that deny each other. Only what was read counts; nothing of it is counted as read where
/// it agrees, but the rating that Ir is held against.
pub(crate) fn agree(case: &Case) -> Result<(), Gap> {
    if case.device_kind != Some(DeviceKind::AdjustableBreaker) {
        return Ok(());
    }
    let read = |field: Field| {
        let slot = case.slots.get(field);
        slot.span.filter(|_| !slot.taken)
    };
    if read(Field::Ir).is_some() {
        let _ = case.given(RATED)?;
    }
    match denial(read(Field::Rated), [Field::Ir, Field::Ii, Field::Isd].map(read)) {
        Some((field, why)) => {
            for key in [IR, II, ISD] {
                let _ = case.given(key)?;
            }
            Err(Gap::Unfit(field, why))
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
