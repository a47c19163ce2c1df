//! What the tests of the papers share: a board's papers from its checks, and their measurement from outside.

#![allow(dead_code, clippy::unwrap_used, reason = "each test program uses a part; a test stops where it fails")]

use std::path::Path;
use std::process::Command;

use papers::PaperInput;
use plate::Tables;
use serde_json::Value;
use survey::Board;

/// Hands over what the papers of a board are made from.
pub fn with<T>(board: &Board, then: impl FnOnce(&PaperInput) -> T) -> T {
    let tables = circuits::Tables::shipped().unwrap();
    let mut checks = circuits::check_board(board, &tables);
    for (plate, _) in board.live_plates() {
        checks.extend(plate::check_plate(board, plate, Tables::shipped()));
    }
    then(&PaperInput {
        board,
        checks: &checks,
        incomplete: false,
        site: "Test works",
        date: "2026-11-25",
        design_currents: &circuits::design_currents(board, &tables),
        plate_tables: Tables::shipped(),
    })
}

/// Has the papers in a folder measured by outside libraries; `name` is the file that says what they must show.
/// Gives the number of comparisons.
pub fn measured(folder: &Path, name: &str, wanted: &Value) -> usize {
    let file = folder.join(name);
    std::fs::write(&file, wanted.to_string()).unwrap();
    let python = std::env::var_os("WAYWRIGHT_PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside/papers.py");
    let run = Command::new(python).arg(script).arg(folder).arg(&file).output().unwrap();
    let told = format!("{}{}", String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    println!("{told}");
    assert!(run.status.success(), "{told}");
    // "N passed, N failed"
    told.trim().lines().last().unwrap().split(' ').next().unwrap().parse().unwrap()
}
