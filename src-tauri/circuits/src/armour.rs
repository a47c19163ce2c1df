//! Whether a cable's armour is joined to earth where it enters the board.

use survey::{Board, CableId, EntryKind, Message, PlateMaterial, say};

/// Why the armour of a cable is not shown to be joined to earth by its entry; `None` where the entry is right for it or
/// nobody entered one (IEC 60364-5-54, 543.2.3 and BS 7671, 543.2.1 and 543.3, from memory).
pub(crate) fn not_joined(board: &Board, cable: CableId) -> Option<Message> {
    let entries = board.live_plates().flat_map(|(_, plate)| plate.entries.values().map(move |entry| (plate, entry)));
    entries
        .filter(|(_, entry)| !entry.removed && (entry.cable == Some(cable) || entry.others.contains(&cable)))
        .find_map(|(plate, entry)| match (entry.kind, plate.material.get()) {
            (Some(EntryKind::CompressionGland | EntryKind::Bush), _) => Some(say!("armour-entry")),
            (Some(EntryKind::ArmouredGland), Some(PlateMaterial::Plastic)) => Some(say!("armour-plastic")),
            _ => None,
        })
}
