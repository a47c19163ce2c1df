//! Rows of the tables that rest on memory alone: the list can only shrink.
#![allow(clippy::unwrap_used)]

use circuits::TableTexts;

/// Most rows of each table that may be marked "memory". Lower a number when rows are confirmed
/// against the standard; never raise one.
const MOST: &[(&str, usize)] = &[
    ("ampacity", 64),
    ("grouping_factor", 202),
    ("conductor_constant", 2),
    ("protective_device", 6),
    ("fuse_gate", 19),
    ("armour_area", 43),
    ("breaker_let_through", 32),
    ("soil_factor", 3),
    ("insulation_factor", 4),
    ("motor_start", 2),
    ("operating_band", 17),
    ("rcd_time", 1),
    ("diversity_factor", 4),
    ("power_loss", 9),
    ("enclosure_rise", 28),
    ("earthing_size", 4),
];

#[test]
fn rows_from_memory_only_get_fewer() {
    let texts = TableTexts::shipped();
    for name in TableTexts::NAMES {
        let most = MOST.iter().find(|(table, _)| table == name).map_or(0, |(_, most)| *most);
        let rows = texts.text(name).unwrap().lines().filter(|line| !line.starts_with('#') && line.ends_with(",memory"));
        let count = rows.count();
        assert!(count <= most, "{name}: {count} rows from memory, {most} allowed");
        assert!(count >= most, "{name}: {count} rows from memory: lower the number here from {most}");
    }
}
