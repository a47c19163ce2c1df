//! Line and neutral currents of random boards, worked out again with complex numbers by `numpy`, and
//! as an unbalanced power flow by `pandapower`.

#[path = "common/cases.rs"]
mod cases;
mod common;

use common::tables;
use serde_json::Value;

/// 260 boards against phasor sums, and the first 32 of those on three phases against a power flow
/// behind a stiff source (tolerances and reasons in the script).
#[test]
fn line_and_neutral_currents_agree_with_phasors_and_power_flow() {
    let tables = tables();
    let sent: Vec<Value> = cases::boards(260).iter().map(|one| one.currents_json(&tables)).collect();
    let report = cases::compare("phasors.py", &sent);
    println!("{report}");
    assert!(report["flows"].as_u64().is_some_and(|count| count >= 32), "{report}");
}
