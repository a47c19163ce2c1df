//! Residual current devices: the type that a load's earth fault current needs.

use survey::range::Span;
use survey::{Circuit, DeviceKind, LoadKind, Message, RcdType, ResidualForm, YesNo, say};

use crate::case::{Case, Gap, hull};
use crate::field::Field;
use crate::verdict::Outcome;

/// Place of a type in the order in which each detects what those before it do.
const fn rank(one: RcdType) -> f64 {
    match one {
        RcdType::Ac => 1.0,
        RcdType::A => 2.0,
        RcdType::F => 3.0,
        RcdType::B => 4.0,
    }
}

/// The type at a place in that order.
pub(crate) fn words(place: f64) -> Message {
    RcdType::ALL.iter().rev().find(|one| rank(**one) <= place + 0.5).map_or(RcdType::Ac.words(), |one| one.words())
}

/// Type that a form of current needs, IEC 60364-5-53, 531.3.3.
const fn needed(form: ResidualForm) -> RcdType {
    match form {
        ResidualForm::Sine => RcdType::Ac,
        ResidualForm::Pulsating => RcdType::A,
        ResidualForm::MixedFrequency => RcdType::F,
        ResidualForm::SmoothDc => RcdType::B,
    }
}

/// True where an RCD watches the circuit.
pub(crate) fn watched(case: &Case) -> bool {
    case.incomer_rcd || own(case)
}

/// The same by one that smooth direct current from another circuit does not surely blind.
pub(crate) fn sighted(case: &Case) -> bool {
    let blind = |which: usize| case.blinded[which] == [YesNo::Yes];
    (own(case) && !blind(0)) || (case.incomer_rcd && !blind(1))
}

/// Smooth direct current surely blinds the RCD upstream.
pub(crate) fn blinds_upstream(case: &Case) -> bool {
    case.blinded[2] == [YesNo::Yes]
}

/// Field of the RCD that smooth direct current blinds, or may.
pub(crate) fn blinded_by_another(case: &Case) -> Option<Field> {
    let on_the_way = [own(case), case.incomer_rcd, case.upstream_rcd];
    let found = case.blinded.iter().zip(on_the_way).position(|(blinded, there)| there && blinded.contains(&YesNo::Yes));
    found.and_then(|which| crate::case::BLIND.get(which).copied())
}

/// Smooth direct current of one circuit saturates an RCD that is not made for it, and then it sees no fault of any
/// circuit behind it: types A and F bear 6 mA, type AC none, type B what comes (IEC 61008-1, IEC 62423; IEC
/// 60364-5-53, 531.3.3 and 60364-7-722, 722.531.3.101; figures from memory).
///
/// Only what somebody said of a load counts: that it is smooth, or that it is a charging point. Whether another holds a
/// converter is a question of that circuit's own RCD check.
pub(crate) fn blinds(circuit: &Circuit, types: &[RcdType]) -> &'static [YesNo] {
    let needed: &[RcdType] = match (circuit.kind, circuit.load.dc_detection.get(), circuit.load.residual_form.get()) {
        (Some(LoadKind::VehicleCharging), Some(YesNo::Yes), _) => &[RcdType::A],
        (Some(LoadKind::VehicleCharging), Some(YesNo::No), _) => &[RcdType::B],
        (Some(LoadKind::VehicleCharging), None, _) => &[RcdType::A, RcdType::B],
        (.., Some(ResidualForm::SmoothDc)) => &[RcdType::B],
        _ => return crate::case::NO,
    };
    let ends = |types: &[RcdType]| span(types.iter().copied()).unwrap_or(Span::point(rank(RcdType::B)));
    match suits(ends(needed), ends(types)) {
        [YesNo::Yes] => crate::case::NO,
        [YesNo::No] => &[YesNo::Yes],
        open => open,
    }
}

/// Whether a type that is fitted is the one that is needed or abler, each answer that is possible.
fn suits(needed: Span, fitted: Span) -> &'static [YesNo] {
    if needed.hi <= fitted.lo {
        &[YesNo::Yes]
    } else if needed.lo > fitted.hi {
        crate::case::NO
    } else {
        YesNo::ALL
    }
}

fn own(case: &Case) -> bool {
    matches!(case.device_kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd))
}

/// Whether an RCD's type is for the load's earth fault current, each answer that is possible: one that is not may not see
/// it, or be blinded by it. What nobody said of a load's current speaks against no RCD here: a fault in its cable is of the
/// supply's own form, and the rule of the RCD's type asks for it.
pub(crate) fn fits(case: &Case, fitted: &'static [RcdType], read: Field) -> &'static [YesNo] {
    let ends = span(fitted.iter().copied());
    let (Some(needed), Some(fitted)) = (needs(case), ends) else { return YesNo::ALL };
    let found = suits(needed, fitted);
    let said = matches!(case.kinds, [LoadKind::VehicleCharging]) || case.residual_forms.len() == 1;
    if found == [YesNo::Yes] || (found.len() > 1 && !said) {
        return &[YesNo::Yes];
    }
    mark_needs(case);
    case.mark(read);
    found
}

fn wrong_type(case: &Case, fitted: &'static [RcdType], read: Field) -> bool {
    fits(case, fitted, read) == crate::case::NO
}

/// Field that tells whether the type of an RCD on the way is for the load.
pub(crate) fn open_type(case: &Case) -> Option<Field> {
    let open = [
        (own(case), case.rcd_types, Field::RcdType),
        (case.incomer_rcd, case.incomer_rcd_types, Field::IncomerRcdType),
    ];
    let (_, types, field) =
        open.into_iter().find(|(there, types, field)| *there && fits(case, types, *field).len() > 1)?;
    Some(match case.kinds {
        _ if types.len() > 1 => field,
        [LoadKind::VehicleCharging] => Field::DcDetection,
        [_] => Field::ResidualForm,
        _ => Field::Kind,
    })
}

/// RCDs of types AC to B are for circuits of alternating current (IEC 62423, 1); those for direct current have a standard
/// of their own (IEC TS 63053, from memory). Only the device's data tell otherwise.
pub(crate) fn for_direct(case: &Case) -> Result<(), Gap> {
    if !case.direct() || !watched(case) || own(case) && case.dc_rated() == [YesNo::Yes] {
        return Ok(());
    }
    Err(Gap::Unfit(if own(case) { Field::DcRated } else { Field::IncomerRcdType }, say!("gap-rcd-direct")))
}

/// Which RCD of those on the circuit's way is the least able.
pub(crate) fn whose(case: &Case) -> Message {
    let most = |types: &[RcdType]| types.iter().map(|one| rank(*one)).fold(0.0, f64::max);
    match (own(case), case.incomer_rcd) {
        (true, false) => say!("rcd-of-circuit-own"),
        (false, _) => say!("rcd-of-incomer"),
        (true, true) => match most(case.rcd_types).total_cmp(&most(case.incomer_rcd_types)) {
            std::cmp::Ordering::Less => say!("rcd-of-circuit-own"),
            std::cmp::Ordering::Greater => say!("rcd-of-incomer"),
            std::cmp::Ordering::Equal => say!("rcd-of-both"),
        },
    }
}

/// What to say where an RCD of the circuit is blind and nothing else protects; `None` where none is.
pub(crate) fn wrong_type_gap(case: &Case) -> Option<Gap> {
    let [own, incomer] = [
        own(case) && wrong_type(case, case.rcd_types, Field::RcdType),
        case.incomer_rcd && wrong_type(case, case.incomer_rcd_types, Field::IncomerRcdType),
    ];
    let (field, fitted, whose) = match (own, incomer, case.rcd_types, case.incomer_rcd_types) {
        (true, _, [fitted], _) => (Field::RcdType, fitted, say!("rcd-of-circuit")),
        (_, true, _, [fitted]) => (Field::IncomerRcdType, fitted, say!("rcd-of-incomer")),
        _ => return None,
    };
    let needed = needs(case).map_or(RcdType::B.words(), |needed| words(needed.lo));
    let why = say!("gap-rcd-wrong-type", whose = whose, fitted = fitted.words(), needed = needed);
    Some(Gap::Unfit(field, why))
}

fn span(types: impl Iterator<Item = RcdType>) -> Option<Span> {
    types.fold(None, |found, one| hull(found, Span::point(rank(one))))
}

/// Type that the load's earth fault current needs, each that is possible; nothing is counted as read.
fn needs(case: &Case) -> Option<Span> {
    let mut value = None;
    let direct = case.current_form.is_some_and(|form| form != survey::CurrentForm::Ac);
    for kind in case.kinds {
        let here = match kind {
            // On a supply of direct current every residual current is smooth: IEC 62423.
            _ if direct => span([RcdType::B].into_iter()),
            // IEC 60364-7-722, 722.531.3.101: type B, or type A where 6 mA of smooth d.c. is cut off.
            LoadKind::VehicleCharging => span(case.dc_detection.iter().map(|detects| match detects {
                YesNo::Yes => RcdType::A,
                YesNo::No => RcdType::B,
            })),
            _ => span(case.residual_forms.iter().map(|form| needed(*form))),
        };
        value = here.and_then(|here| hull(value, here)).or(value);
    }
    value
}

/// Counts as read what [`needs`] rests on.
fn mark_needs(case: &Case) {
    let direct = case.direct();
    for kind in case.kinds() {
        match kind {
            _ if direct => {}
            LoadKind::VehicleCharging => {
                case.dc_detection();
            }
            _ => {
                case.residual_forms();
            }
        }
    }
}

/// Type needed against the least able type that the circuit's current passes: smooth direct
/// current blinds every RCD on its way.
pub(crate) fn of_type(case: &Case) -> Result<Outcome, Gap> {
    mark_needs(case);
    let value = needs(case);
    let own = if own(case) { span(case.rcd_types().iter().copied()) } else { None };
    let incomer = if case.incomer_rcd { span(case.incomer_rcd_types().iter().copied()) } else { None };
    let limit = crate::device::smaller([own, incomer]).ok_or(Gap::Missing(Field::RcdType))?;
    let outcome = Outcome { value: value.ok_or(Gap::Missing(Field::Kind))?, limit };
    if outcome.verdict() != survey::Verdict::Fails {
        for_direct(case)?;
    }
    Ok(outcome)
}
