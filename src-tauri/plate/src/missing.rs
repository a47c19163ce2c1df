//! Entries for the cables that have none yet.

use std::collections::BTreeSet;

use survey::intent::NewEntry;
use survey::{Board, Cable, CableId, Construction, EntryKind, Message, say};

use crate::gland::{Fit, cable_diameters, choose_compression_gland, choose_gland};
use crate::setting_out::circuit_label;
use crate::tables::Tables;

/// An entry chosen for a cable.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// What the cable feeds: "3L1 press", "incoming cable".
    pub name: Message,
    /// The entry, without a place.
    pub entry: NewEntry,
    /// How well its gland takes the cable: never [`Fit::No`].
    pub fit: Fit,
}

/// Entries for cables.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Missing {
    /// Those that could be chosen.
    pub chosen: Vec<Chosen>,
    /// What the other cables feed, and why no entry could be chosen.
    pub left: Vec<(Message, Message)>,
}

/// Chooses an entry for every cable of supply and circuits that goes through none yet.
#[must_use]
pub fn missing_entries(board: &Board, tables: &Tables) -> Missing {
    let mut found = Missing::default();
    for (id, cable, name) in without_entry(board) {
        match gland_for(cable, tables) {
            Ok((kind, size, fit)) => {
                found.chosen.push(Chosen { name, entry: NewEntry { kind, size, at: None, cable: Some(id) }, fit });
            }
            Err(why) => found.left.push((name, why)),
        }
    }
    found
}

fn without_entry(board: &Board) -> Vec<(CableId, &Cable, Message)> {
    let used: BTreeSet<CableId> = board
        .live_plates()
        .flat_map(|(_, plate)| plate.entries.values())
        .filter(|entry| !entry.removed)
        .flat_map(|entry| entry.cable.iter().chain(&entry.others))
        .copied()
        .collect();
    let circuits = board.live_circuits().filter_map(|(_, circuit)| {
        let (id, cable) = board.cable_of(circuit)?;
        let (label, description) = (circuit_label(board, circuit), circuit.description.trim_end());
        let name = if description.is_empty() {
            label
        } else {
            say!("plate-circuit-described", circuit = label, description = description.to_owned())
        };
        Some((id, cable, name))
    });
    let supply = board.supply.cable.and_then(|id| {
        let cable = board.cables.get(&id).filter(|cable| !cable.removed)?;
        Some((id, cable, say!("plate-incoming-cable")))
    });
    let mut seen = BTreeSet::new();
    supply.into_iter().chain(circuits).filter(|(id, ..)| !used.contains(id) && seen.insert(*id)).collect()
}

/// Kind and size of the gland for a cable, and how well it takes it.
fn gland_for(cable: &Cable, tables: &Tables) -> Result<(EntryKind, String, Fit), Message> {
    let kind = match cable.construction.get() {
        Some(Construction::Armoured) => EntryKind::ArmouredGland,
        Some(Construction::Multicore | Construction::FlatTwinEarth | Construction::Flexible) => {
            EntryKind::CompressionGland
        }
        Some(Construction::SingleCore) => {
            return Err(say!("plate-missing-one-opening"));
        }
        None => return Err(say!("plate-missing-construction")),
    };
    let (under, overall, _) = cable_diameters(cable, tables);
    let overall = overall.ok_or(say!("plate-missing-diameter"))?;
    let found = match kind {
        EntryKind::ArmouredGland => choose_gland(under, overall, tables),
        _ => choose_compression_gland(overall, tables),
    };
    let best = [Fit::Fits, Fit::Edge].into_iter().find_map(|fit| found.iter().find(|one| one.fit == fit));
    let best = best.ok_or(say!("plate-missing-gland"))?;
    Ok((kind, best.size.clone(), best.fit))
}
