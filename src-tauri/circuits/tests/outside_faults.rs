//! Fault currents of random radial networks, worked out again by `pandapower` (IEC 60909-0).

#[path = "common/cases.rs"]
mod cases;
mod common;

use serde_json::Value;

/// 240 networks, each at the start and after every run: three faults, largest and smallest, within
/// 0.5 % (the script says how the two models are matched).
#[test]
fn fault_currents_agree_with_pandapower() {
    let sent: Vec<Value> = cases::networks(240).iter().map(cases::Network::json).collect();
    let report = cases::compare("faults.py", &sent);
    println!("{report}");
    assert!(report["currents"].as_u64().is_some_and(|count| count >= 240 * 12), "{report}");
}
