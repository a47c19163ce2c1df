//! Whether a cable's armour is joined to earth where it enters the board.

use survey::{Board, CableId, EntryKind, PlateMaterial};

/// Why the armour of a cable is not shown to be joined to earth by its entry; `None` where the entry is right for it or
/// nobody entered one (IEC 60364-5-54, 543.2.3 and BS 7671, 543.2.1 and 543.3, from memory).
pub(crate) fn not_joined(board: &Board, cable: CableId) -> Option<&'static str> {
    let entries = board.live_plates().flat_map(|(_, plate)| plate.entries.values().map(move |entry| (plate, entry)));
    entries
        .filter(|(_, entry)| !entry.removed && (entry.cable == Some(cable) || entry.others.contains(&cable)))
        .find_map(|(plate, entry)| match (entry.kind, plate.material.get()) {
            (Some(EntryKind::CompressionGland | EntryKind::Bush), _) => {
                Some("its entry neither holds nor bonds the armour, which is its protective conductor")
            }
            (Some(EntryKind::ArmouredGland), Some(PlateMaterial::Plastic)) => Some(
                "its gland stands in a plate of plastic, and only a tag with a lead to the earth bar joins the armour, its \
                 protective conductor, to earth",
            ),
            _ => None,
        })
}
