//! What stands before the board, for a circuit that has nothing of its own.

use survey::range::Span;
use survey::{DeviceKind, EarthingSystem, LoadKind, Supply};

use crate::case::{Case, Gap};
use crate::device;
use crate::field::{IPF, UPSTREAM, VOLTAGE, ZE};
use crate::supply;

/// What the device upstream lets flow for good, A; `None` where it opens on no overcurrent or nobody read it.
pub(crate) fn lets_flow(supply: &Supply) -> Option<Span> {
    let kind = supply.upstream_kind.get().copied().filter(|kind| kind.opens_on_overcurrent())?;
    supply::lets_flow(Some(kind), &supply.upstream, &supply.upstream_ir)
}

/// The circuit's own device opens on no overcurrent: what protects it stands before the board. Not so of what feeds
/// another board: what stands there may protect its cable from overload (IEC 60364-4-43, 433.2.2).
pub(crate) fn alone(case: &Case) -> bool {
    matches!(case.device_kind, Some(DeviceKind::Isolator | DeviceKind::Rcd))
        && case.behind_overcurrent
        && !case.kinds.contains(&LoadKind::Distribution)
}

/// What the device that protects the circuit from overload lets flow for good, A: its own, or the one upstream where it
/// has none (IEC 60364-4-43, 433.1).
pub(crate) fn overcurrent_rating(case: &Case) -> Result<Span, Gap> {
    if alone(case) {
        let _ = case.device_kind()?;
        return Ok(case.get(UPSTREAM)?.numbers());
    }
    device::overcurrent_rating(case)
}

/// Least that a fault at the board surely draws where Ipf is not known, A: that to earth, U0/Ze. The fault current that
/// counts is the largest of all (IEC 60364-4-43, 434.1). `None` where the loop was not read either, and in an IT system,
/// whose first fault draws next to nothing.
pub(crate) fn least_fault(case: &Case) -> Result<Option<f64>, Gap> {
    if case.slots.span(IPF.field).is_some()
        || case.systems().contains(&EarthingSystem::It)
        || case.direct()
        || case.denied
    {
        return Ok(None);
    }
    let (Some(loop_at), Some(voltage)) = (case.given(ZE)?, case.given(VOLTAGE)?) else { return Ok(None) };
    let current = voltage.lo().get() / loop_at.hi().get();
    Ok(Some(current).filter(|current| current.is_finite()))
}
