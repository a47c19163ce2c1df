//! The devices that a fault on a circuit passes, with their bands: what a plot of them shows.

use survey::{Amps, Board, CircuitId, DeviceKind, Message, Range, say};

use super::check::{Upstream, forms, has_band, name, set_by_hand, upstream};
use super::{Band, Overcurrent, band};
use crate::source::Common;
use crate::tables::Tables;

/// A device on the way of a fault current.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// What a person calls it: "C16 breaker".
    pub name: Message,
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
    pub missing: Vec<Message>,
}

/// The chain of a circuit.
#[must_use]
pub fn chain(board: &Board, circuit: CircuitId, tables: &Tables) -> Chain {
    let common = Common::of(board, tables);
    let fault = common.level.at_board(board).prospective().map(|extent| extent.largest);
    let mut out = Chain { fault, ..Chain::default() };
    match upstream(board) {
        Upstream::BySetting => out.lacks(say!("chain-upstream-by-data")),
        Upstream::Devices(devices) => out.add(devices, true, tables),
        Upstream::None => out.lacks(say!("chain-upstream-none")),
        Upstream::Unknown => out.lacks(say!("chain-upstream-unknown")),
    }
    let device = board.circuits.get(&circuit).and_then(|circuit| board.device_of(circuit));
    match device.map(|(_, device)| (device, device.rated.range())) {
        Some((device, _)) if device.kind == Some(DeviceKind::RewirableFuse) => {
            out.lacks(say!("chain-rewirable"));
        }
        Some((device, _)) if set_by_hand(device) => out.lacks(say!("chain-adjustable")),
        Some((device, _)) if !has_band(device) => out.lacks(say!("chain-no-overcurrent")),
        Some((device, Some(rated))) => out.add(forms(device, rated.hi()), false, tables),
        Some((_, None)) => out.lacks(say!("chain-rating-unknown")),
        None => out.lacks(say!("chain-no-device")),
    }
    out
}

impl Chain {
    fn add(&mut self, devices: Vec<Overcurrent>, upstream: bool, tables: &Tables) {
        for device in devices {
            match band(device, tables) {
                Some(band) => self.links.push(Link { name: name(device), upstream, band }),
                None => self.lacks(say!("chain-no-band", device = name(device))),
            }
        }
    }

    fn lacks(&mut self, why: Message) {
        self.missing.push(why);
    }
}
