//! The same work by this crate and by libraries from outside, in one run: a table of times. The
//! libraries need `WAYWRIGHT_PYTHON`, as the tests do; their time is that of the computing alone,
//! without starting Python or reading cases.
#![allow(missing_docs, clippy::unwrap_used, clippy::disallowed_methods)]

#[path = "../tests/common/cases.rs"]
mod cases;
#[path = "../tests/common/mod.rs"]
mod common;

use std::hint::black_box;

use circuits::fault_level::Case;
use circuits::phase_currents;
use common::tables;
use serde_json::Value;

/// Mean time of one pass of work too short for the clock, s.
fn often(mut work: impl FnMut()) -> f64 {
    const PASSES: u32 = 50;
    let ((), seconds) = cases::timed(|| (0..PASSES).for_each(|_| work()));
    seconds / f64::from(PASSES)
}

fn row(what: &str, count: u64, ours: f64, library: &str, theirs: f64) {
    println!("{what:<44} {count:>6} {ours:>12.6} {theirs:>12.3} {:>10.0}  {library}", theirs / ours);
}

fn main() {
    if std::env::var_os("WAYWRIGHT_PYTHON").is_none() {
        println!("comparison with other libraries: left out, set WAYWRIGHT_PYTHON to .venv/bin/python");
        return;
    }
    let tables = tables();
    let number = |report: &Value, name: &str| report[name].as_f64().unwrap();
    println!("{:<44} {:>6} {:>12} {:>12} {:>10}", "work", "cases", "ours s", "theirs s", "ratio");

    let networks = cases::networks(240);
    let ours = often(|| {
        for network in &networks {
            black_box((network.currents(Case::Largest), network.currents(Case::Smallest)));
        }
    });
    let sent: Vec<Value> = networks.iter().map(cases::Network::json).collect();
    let report = cases::compare("faults.py", &sent);
    row("fault currents of radial networks", 240, ours, "pandapower", number(&report, "seconds"));

    let boards = cases::boards(260);
    let ours = often(|| boards.iter().for_each(|one| drop(black_box(phase_currents(&one.board, &tables)))));
    let sent: Vec<Value> = boards.iter().map(|one| one.currents_json(&tables)).collect();
    let report = cases::compare("phasors.py", &sent);
    row("line and neutral currents of boards", 260, ours, "numpy", number(&report, "phasor_seconds"));
    let flows = report["flows"].as_u64().unwrap();
    let of_ours = ours * flows as f64 / 260.0;
    row("the same as a power flow", flows, of_ours, "pandapower", number(&report, "seconds"));

    let sent = cases::solved(&cases::uneven(105), &tables);
    let report = cases::compare("balance.py", &sent);
    let (ours, theirs) = (number(&report, "ours_seconds"), number(&report, "seconds"));
    row("allocations (the solver stopped at 0.4 s each)", 105, ours, "OR-tools CP-SAT", theirs);
}
