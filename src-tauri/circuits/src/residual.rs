//! Residual current devices: the type that a load's earth fault current needs.

use survey::range::Span;
use survey::{Circuit, DeviceKind, LoadKind, RcdType, ResidualForm, YesNo};

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
pub(crate) fn words(place: f64) -> &'static str {
    RcdType::ALL.iter().rev().find(|one| rank(**one) <= place + 0.5).map_or("AC", |one| one.words())
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

/// Field of the RCD that smooth direct current blinds, or may.
pub(crate) fn blinded(case: &Case) -> Option<Field> {
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
    let (needed, fitted) = (ends(needed), ends(types));
    if needed.lo > fitted.hi {
        &[YesNo::Yes]
    } else if needed.hi <= fitted.lo {
        crate::case::NO
    } else {
        YesNo::ALL
    }
}

fn own(case: &Case) -> bool {
    matches!(case.device_kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd))
}

fn span(types: impl Iterator<Item = RcdType>) -> Option<Span> {
    types.fold(None, |found, one| hull(found, Span::point(rank(one))))
}

/// Type needed against the least able type that the circuit's current passes: smooth direct
/// current blinds every RCD on its way.
pub(crate) fn of_type(case: &Case) -> Result<Outcome, Gap> {
    let mut value = None;
    for kind in case.kinds() {
        let here = match kind {
            // On a supply of direct current every residual current is smooth: IEC 62423.
            _ if case.direct() => span([RcdType::B].into_iter()),
            // IEC 60364-7-722, 722.531.3.101: type B, or type A where 6 mA of smooth d.c. is cut off.
            LoadKind::VehicleCharging => span(case.dc_detection().iter().map(|detects| match detects {
                YesNo::Yes => RcdType::A,
                YesNo::No => RcdType::B,
            })),
            _ => span(case.residual_forms().iter().map(|form| needed(*form))),
        };
        value = here.and_then(|here| hull(value, here)).or(value);
    }
    let own = if own(case) { span(case.rcd_types().iter().copied()) } else { None };
    let incomer = if case.incomer_rcd { span(case.incomer_rcd_types().iter().copied()) } else { None };
    let limit = crate::device::smaller([own, incomer]).ok_or(Gap::Missing(Field::RcdType))?;
    Ok(Outcome { value: value.ok_or(Gap::Missing(Field::Kind))?, limit })
}
