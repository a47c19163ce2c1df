//! The devices that a fault on a circuit passes, with their bands: what a plot of them shows.

use survey::{Amps, Board, CircuitId, DeviceKind, Range};

use super::check::{Upstream, forms, name, opens_on_overcurrent, upstream};
use super::{Band, band};
use crate::fault_level;
use crate::tables::Tables;

/// A device on the way of a fault current.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// What a person calls it: "C16 breaker".
    pub name: String,
    /// It feeds the board.
    pub upstream: bool,
    /// When it opens.
    pub band: Band,
}

/// The devices that a fault on a circuit passes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chain {
    /// Those upstream of the board first. A device of which the type is not known is there once in each
    /// form it may have.
    pub links: Vec<Link>,
    /// Prospective fault current at the board, where it is known.
    pub fault: Option<Range<Amps>>,
    /// Devices that are not in it, and why.
    pub missing: Vec<String>,
}

/// The chain of a circuit.
#[must_use]
pub fn chain(board: &Board, circuit: CircuitId, tables: &Tables) -> Chain {
    let mut out = Chain {
        fault: fault_level::along(board, tables).board.prospective().map(|extent| extent.largest),
        ..Chain::default()
    };
    let mut add = |device, upstream: bool, missing: &mut Vec<String>| match band(device, tables) {
        Some(band) => out.links.push(Link { name: name(device), upstream, band }),
        None => missing.push(format!("the tables have no band for a {}", name(device))),
    };
    let mut missing = Vec::new();
    match upstream(board) {
        Upstream::Devices(devices) => devices.into_iter().for_each(|device| add(device, true, &mut missing)),
        Upstream::None => missing.push("nothing upstream opens on overcurrent".to_owned()),
        Upstream::Unknown => missing.push("the device upstream: its kind or its rating is not known".to_owned()),
    }
    let device = board.circuits.get(&circuit).and_then(|circuit| board.device_of(circuit));
    match device.map(|(_, device)| (device, device.rated.range())) {
        Some((device, _)) if device.kind == Some(DeviceKind::RewirableFuse) => {
            missing.push("the tables have no band for a rewirable fuse".to_owned());
        }
        Some((device, _)) if !opens_on_overcurrent(device) => {
            missing.push("the circuit's device does not open on overcurrent".to_owned());
        }
        Some((device, Some(rated))) => {
            for device in forms(device, rated.hi()) {
                add(device, false, &mut missing);
            }
        }
        Some((_, None)) => missing.push("the circuit's device: its rating is not known".to_owned()),
        None => missing.push("the circuit has no device yet".to_owned()),
    }
    out.missing = missing;
    out
}
