//! What to read next on a whole board, and what a change does to its checks.

use std::collections::{BTreeMap, BTreeSet};

use survey::errand::{self, Errand};
use survey::{
    Amps, Board, Check, CircuitId, Curve, DeviceKind, Fact, Known, Message, PoleAt, Provenance, Reading as Surveyed,
    SquareMillimetres, Subject, Verdict, say, terminal,
};

/// The errands that settle the most of a board's undecided checks, most useful first: readings that one
/// table, one data sheet or one walk brings home are one.
#[must_use]
pub fn readings(board: &Board, checks: &[Check], most: usize) -> Vec<Errand> {
    let undecided = checks.iter().filter(|check| check.verdict == Verdict::Undecided);
    let mut found = errand::errands(board, undecided.flat_map(|check| &check.next));
    found.truncate(most);
    found
}

/// A check whose verdict or numbers a change moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What it speaks of.
    pub subject: Subject,
    /// Which rule.
    pub rule: String,
    /// As it stands; `None` where the rule had nothing to say.
    pub before: Option<Check>,
    /// As it would be; `None` where the rule no longer has anything to say.
    pub after: Option<Check>,
}

impl Change {
    /// True where the verdict is another, not only the numbers.
    #[must_use]
    pub fn turns(&self) -> bool {
        self.before.as_ref().map(|check| check.verdict) != self.after.as_ref().map(|check| check.verdict)
    }
}

/// What a change does: checks of the board as it would be against those of the board as it is.
/// Nothing is stored. Checks that read the same on both sides are left out.
#[must_use]
pub fn changes(before: &[Check], after: &[Check]) -> Vec<Change> {
    fn by_rule(checks: &[Check]) -> BTreeMap<(Subject, &str), Vec<usize>> {
        let mut found: BTreeMap<_, Vec<usize>> = BTreeMap::new();
        for (place, check) in checks.iter().enumerate() {
            found.entry((check.subject, check.rule.as_str())).or_default().push(place);
        }
        found
    }
    let (mut old, new) = (by_rule(before), by_rule(after));
    let mut found_again = vec![false; before.len()];
    let mut pairs: Vec<(Option<&Check>, Option<&Check>)> = Vec::new();
    for check in after {
        let key = (check.subject, check.rule.as_str());
        let was = old.get_mut(&key).and_then(|all| {
            // One of its rule before and after is the same check, whatever it rests on by now.
            let place = match (all.len(), new.get(&key).map_or(0, Vec::len)) {
                (1, 1) => 0,
                _ => all.iter().position(|place| records(&before[*place]) == records(check))?,
            };
            Some(all.remove(place))
        });
        if let Some(place) = was {
            found_again[place] = true;
        }
        pairs.push((was.map(|place| &before[place]), Some(check)));
    }
    pairs.extend(before.iter().zip(found_again).filter(|(_, again)| !again).map(|(check, _)| (Some(check), None)));
    pairs
        .into_iter()
        .filter(|(before, after)| {
            !before.zip(*after).is_some_and(|(a, b)| a.verdict == b.verdict && reads_the_same(a, b))
        })
        .filter_map(|(before, after)| {
            let check = after.or(before)?;
            Some(Change {
                subject: check.subject,
                rule: check.rule.to_string(),
                before: before.cloned(),
                after: after.cloned(),
            })
        })
        .collect()
}

/// The records that a check of several of its rule speaks of: those that lie deepest of all it rests on, so of a
/// plate's checks its entries.
fn records(check: &Check) -> BTreeSet<&str> {
    let all = || check.inputs.iter().filter_map(|input| input.path.rsplit_once('/').map(|(record, _)| record));
    let depth = |record: &str| record.matches('/').count();
    let deepest = all().map(depth).max().unwrap_or_default();
    all().filter(|record| depth(record) == deepest).collect()
}

/// As a person sees them: numbers that differ by less than is shown are the same.
fn reads_the_same(a: &Check, b: &Check) -> bool {
    a.inequality == b.inequality || a.inequality.words() == b.inequality.words()
}

/// A change worth weighing before it is decided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trial {
    /// Another size of the circuit's cable; `None` leaves the protective conductor as it is.
    CableSize {
        /// The circuit.
        circuit: CircuitId,
        /// Size of the line conductors.
        size: SquareMillimetres,
        /// Size of the protective conductor.
        cpc: Option<SquareMillimetres>,
    },
    /// Another device; `None` leaves a property as it is.
    Device {
        /// The circuit.
        circuit: CircuitId,
        /// Kind.
        kind: Option<DeviceKind>,
        /// Rated current.
        rated: Option<Amps>,
        /// Instantaneous type.
        curve: Option<Curve>,
    },
    /// Another pole, and so perhaps another line; whoever sits there changes places where that fits.
    Place {
        /// The circuit.
        circuit: CircuitId,
        /// Its new first pole.
        to: PoleAt,
    },
}

/// Why a change cannot be tried.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TrialError {
    /// The circuit is not on the board.
    #[error("/circuits/{0}: {words}", words = say!("trial-no-circuit"))]
    NoCircuit(CircuitId),
    /// The circuit has no cable.
    #[error("/circuits/{0}/cable: {words}", words = say!("trial-no-cable"))]
    NoCable(CircuitId),
    /// The circuit has no device.
    #[error("/circuits/{0}/device: {words}", words = say!("trial-no-device"))]
    NoDevice(CircuitId),
    /// It does not fit there.
    #[error("/devices: {0}")]
    NoPlace(Message),
}

/// The board as it would be; the new values count as decided.
///
/// # Errors
/// Where the circuit, its cable or its device is not there, or the device does not fit the pole.
pub fn with(board: &Board, trial: &Trial) -> Result<Board, TrialError> {
    let mut changed = board.clone();
    let decided = || Provenance::new(Known::Decided);
    let of =
        |id: CircuitId| board.circuits.get(&id).filter(|circuit| !circuit.removed).ok_or(TrialError::NoCircuit(id));
    match *trial {
        Trial::CableSize { circuit, size, cpc } => {
            let cable = board.cable_of(of(circuit)?).map(|(id, _)| id).and_then(|id| changed.cables.get_mut(&id));
            let cable = cable.ok_or(TrialError::NoCable(circuit))?;
            cable.size = Surveyed::of(size, decided());
            if let Some(cpc) = cpc {
                cable.cpc_size = Surveyed::of(cpc, decided());
            }
        }
        Trial::Device { circuit, kind, rated, curve } => {
            let device = board.device_of(of(circuit)?).map(|(id, _)| id).and_then(|id| changed.devices.get_mut(&id));
            let device = device.ok_or(TrialError::NoDevice(circuit))?;
            device.kind = kind.or(device.kind);
            if let Some(rated) = rated {
                device.rated = Surveyed::of(rated, decided());
            }
            if let Some(curve) = curve {
                device.curve = Fact::of(curve, decided());
            }
            // What a data sheet said of the old device says nothing of the new one.
            device.energy_class = Fact::default();
            device.let_through = Surveyed::unknown();
            device.let_through_at = Surveyed::unknown();
            device.selective = Surveyed::unknown();
            device.loss = Surveyed::unknown();
            [&mut device.ir, &mut device.ii, &mut device.isd].into_iter().for_each(|set| *set = Surveyed::unknown());
            device.tsd = Surveyed::unknown();
            device.dc_rated = Fact::default();
        }
        Trial::Place { circuit, to } => {
            let (id, device) = board.device_of(of(circuit)?).ok_or(TrialError::NoDevice(circuit))?;
            let from = device.at;
            let holder = board.enclosure.get().and_then(|pattern| {
                terminal::occupancy(board, pattern).poles.get(&to).copied().filter(|holder| *holder != id)
            });
            if let Some(device) = changed.devices.get_mut(&id) {
                device.at = Some(to);
            }
            if let Some(other) = holder.and_then(|holder| changed.devices.get_mut(&holder)) {
                other.at = from;
            }
            if let Some(pattern) = changed.enclosure.get() {
                let found = terminal::occupancy(&changed, pattern);
                if let Some((_, reason)) = found.misfits.into_iter().find(|(one, _)| *one == id || Some(*one) == holder)
                {
                    return Err(TrialError::NoPlace(reason));
                }
                if let Some((pole, ..)) = found
                    .clashes
                    .into_iter()
                    .find(|(_, a, b)| *a == id || *b == id || Some(*a) == holder || Some(*b) == holder)
                {
                    return Err(TrialError::NoPlace(say!("trial-pole-taken", pole = pole.to_string())));
                }
            }
        }
    }
    Ok(changed)
}
