//! How far the rows of all tables may be trusted: what rests on memory alone can only shrink.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::path::Path;

/// Most rows of each table that may be marked "memory". Lower a number when rows are confirmed
/// against the standard; raise one only by rows for what the table did not know at all.
const MOST: &[(&str, usize)] = &[
    ("ampacity", 64),
    ("armour_area", 43),
    ("armour_resistance", 38),
    ("armoured_cable", 6),
    ("assumed_range", 4),
    ("bend_radius", 3),
    ("breaker_let_through", 32),
    ("cable_make", 43),
    ("conductor_constant", 2),
    ("conduit", 7),
    ("diversity_factor", 4),
    ("earth_tag", 7),
    ("earthing_size", 1),
    ("enclosure_rise", 28),
    ("flexible_conduit", 6),
    ("fuse_gate", 26),
    ("fuse_loop", 16),
    ("gland", 12),
    ("gland_plastic", 8),
    ("gland_thread", 9),
    ("grouping_factor", 202),
    ("insulation_factor", 3),
    ("ip_washer", 9),
    ("operating_band", 17),
    ("power_loss", 9),
    ("protective_device", 8),
    ("rcd_time", 1),
    ("soil_factor", 3),
    ("trunking", 1),
];

/// What a row may say of its trust, in the column that ends it.
const TRUST: [&str; 5] = ["read", "derived", "computed", "practice", "memory"];

/// Rows by trust, and the text, of every table of the program.
fn tables() -> BTreeMap<String, ([usize; 5], String)> {
    let mut found = BTreeMap::new();
    for folder in ["tables", "plate"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../seed-data").join(folder);
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let text = std::fs::read_to_string(&path).unwrap();
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
            assert!(lines.next().unwrap().ends_with(",checked"), "{name}: the last column says how far to trust a row");
            let mut counts = [0; 5];
            for line in lines {
                let word = line.rsplit(',').next().unwrap();
                counts[TRUST.iter().position(|one| *one == word).unwrap_or_else(|| panic!("{name}: {line}"))] += 1;
            }
            assert!(found.insert(name.clone(), (counts, text)).is_none(), "{name} is there twice");
        }
    }
    found
}

#[test]
fn rows_from_memory_only_get_fewer() {
    for (name, ([.., count], _)) in &tables() {
        let most = MOST.iter().find(|(table, _)| table == name).map_or(0, |(_, most)| *most);
        assert!(*count <= most, "{name}: {count} rows from memory, {most} allowed");
        assert!(*count >= most, "{name}: {count} rows from memory: lower the number here from {most}");
    }
}

/// Under 35 % of all rows are neither read nor derived: memory and common practice together.
#[test]
fn most_rows_are_confirmed() {
    let mut all = [0; 5];
    println!("{:<22}{}", "table", TRUST.map(|word| format!("{word:>10}")).concat());
    for (name, (counts, _)) in &tables() {
        println!("{name:<22}{}", counts.map(|count| format!("{count:>10}")).concat());
        for (sum, count) in all.iter_mut().zip(counts) {
            *sum += count;
        }
    }
    let [.., practice, memory] = all;
    let rows: usize = all.iter().sum();
    println!("{:<22}{}", "all", all.map(|count| format!("{count:>10}")).concat());
    let share = (practice + memory) as f64 / rows as f64;
    println!("{memory} of {rows} rows from memory, {practice} common practice: {:.1} %", share * 100.0);
    assert!(rows >= 2_300 && share < 0.35, "{memory} and {practice} of {rows}");
}

/// A table names its standard and its source, and no address: a page moves, a copy goes.
#[test]
fn tables_name_their_standard_and_no_address() {
    for (name, (_, text)) in &tables() {
        let head: Vec<&str> = text.lines().filter(|line| line.starts_with('#')).collect();
        for part in ["# What: ", "# Units: ", "# Standard: ", "# Trust, column checked", "# Source: "] {
            assert!(head.iter().any(|line| line.starts_with(part)), "{name}: no line begins with {part}");
        }
        let address = ["://", "www.", "withheld"].iter().find(|part| text.contains(**part));
        assert!(address.is_none(), "{name}: {address:?}: name the standard, table and edition");
    }
}
