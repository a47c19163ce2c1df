//! The interface in the app's own window, on a display of its own.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use waywright_tests::screen_job::{make_cable_too_small, open_circuit, shown_size, verdict};
use waywright_tests::webdriver::{Failed, Page};

#[test]
fn a_cable_size_changes_the_finding_and_outlives_a_power_cut() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let arguments = ["window", "--demo", "--data", &data];

    let mut page = Page::window(&arguments)?;
    page.wait_for("[data-screen=boards]")?;
    page.shot("window-boards")?;
    open_circuit(&page)?;
    assert_eq!(verdict(&page)?, "holds", "the demo's cable is large enough");
    let before = shown_size(&page)?;
    make_cable_too_small(&page)?;
    let after = shown_size(&page)?;
    assert_ne!(before, after);
    page.shot("window-too-small")?;
    page.kill();

    let page = Page::window(&arguments)?;
    open_circuit(&page)?;
    assert_eq!(shown_size(&page)?, after, "the edit was shown as saved before the power cut");
    assert_eq!(verdict(&page)?, "fails");
    page.shot("window-restarted")?;
    Ok(())
}
