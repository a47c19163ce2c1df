//! One job at the screen, the same in a browser and in the window: open a board of the demo, change a
//! cable's size, see the finding change, and find the edit again after a restart.

use crate::webdriver::{Failed, Page};

/// PH-DB1 in `seed-data/demo`.
const BOARD: &str = "01a0c450-73d0-7b72-bc6e-f372fe94f82a";

/// First pole of its circuit "Belt press": 11 kW behind a 32 A circuit-breaker.
const POLE: &str = "1L1";

/// That circuit's cable: armoured, 6 mm², and it carries what it must.
const CABLE: &str = "01a0c451-1bc8-7185-8fc0-659b6017cfb1";

/// The check that Ib ≤ In ≤ Iz.
const RULE: &str = "cable-current";

/// In mm². No cable of this size carries 32 A, whatever the way it is laid.
/// Source: HD 60364-5-52, tables of current-carrying capacity.
const TOO_SMALL: &str = "1.5";

fn size_field() -> String {
    format!("[data-field=\"/cables/{CABLE}/size\"]")
}

/// Opens the board and the circuit as a person does: board, then pole.
///
/// # Errors
/// Where a screen does not come.
pub fn open_circuit(page: &Page) -> Result<(), Failed> {
    page.click(&format!("[data-board=\"{BOARD}\"]"))?;
    // On the drawn device: WebKit has no point to press for a link in a drawing as a whole.
    page.click(&format!("[data-pole=\"{POLE}\"] .body"))?;
    page.wait_for("[data-screen=circuit]")?;
    page.wait_for(&size_field()).map(drop)
}

/// What the check of the cable's current says on the circuit's screen.
///
/// # Errors
/// Where the page does not show the check.
pub fn verdict(page: &Page) -> Result<String, Failed> {
    page.wait_until(&format!("the check {RULE}"), || page.attribute(&format!("[data-rule=\"{RULE}\"]"), "data-verdict"))
}

/// Makes the cable too small and waits until the check says so.
///
/// # Errors
/// Where the field takes no value or the finding does not change.
pub fn make_cable_too_small(page: &Page) -> Result<(), Failed> {
    page.fill(&size_field(), TOO_SMALL)?;
    page.wait_until("the check to fail", || {
        Ok(page.attribute(&format!("[data-rule=\"{RULE}\"]"), "data-verdict")?.filter(|word| word == "fails"))
    })
    .map(drop)
}

/// The size the field shows.
///
/// # Errors
/// Where the field is not shown.
pub fn shown_size(page: &Page) -> Result<String, Failed> {
    page.value(&size_field())
}
