//! The interface in a headless browser, served by the app.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use waywright_tests::screen_job::{make_cable_too_small, open_circuit, shown_size, verdict};
use waywright_tests::webdriver::{Failed, Host, Page};

#[test]
fn a_cable_size_changes_the_finding_and_outlives_a_power_cut() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let arguments = ["--demo", "--data", &data];

    let mut host = Host::start(&arguments)?;
    let page = Page::browser(host.address())?;
    page.wait_for("[data-screen=boards]")?;
    page.shot("browser-boards")?;
    open_circuit(&page)?;
    assert_eq!(verdict(&page)?, "holds", "the demo's cable is large enough");
    let before = shown_size(&page)?;
    make_cable_too_small(&page)?;
    let after = shown_size(&page)?;
    assert_ne!(before, after);
    page.shot("browser-too-small")?;
    host.kill();

    let host = Host::start(&arguments)?;
    page.go(host.address())?;
    open_circuit(&page)?;
    assert_eq!(shown_size(&page)?, after, "the edit was shown as saved before the power cut");
    assert_eq!(verdict(&page)?, "fails");
    page.shot("browser-restarted")?;
    assert_eq!(page.console_errors()?, Vec::<String>::new(), "the page breaks no rule of its own policy");
    Ok(())
}
