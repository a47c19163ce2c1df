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

/// A missing blank is picked from the list, becomes a finding of the board, and is gone once it is put right.
#[test]
fn what_is_seen_becomes_a_finding_until_it_is_put_right() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let host = Host::start(&["--demo", "--data", &data])?;
    let page = Page::browser(host.address())?;
    page.wait_for("[data-screen=boards]")?;
    open_circuit(&page)?;
    let address = |part: &str| format!("{}#/board/01a0c450-73d0-7b72-bc6e-f372fe94f82a/{part}", host.address());
    page.go(&address("notes"))?;
    page.click("[data-seen-new] option[value=MissingBlank]")?;
    page.fill("[data-seen-place]", "over way 4")?;
    page.click("[data-seen-add]")?;
    page.wait_for("[data-seen]")?;
    page.shot("browser-seen")?;
    page.go(&address("findings"))?;
    page.wait_for("[data-rule=seen][data-verdict=fails]")?;
    assert!(page.text("[data-rule=seen] .sentence")?.contains("over way 4"));
    page.shot("browser-seen-finding")?;
    page.go(&address("notes"))?;
    page.click("[data-seen] input[type=checkbox]")?;
    page.go(&address("findings"))?;
    page.wait_until("the finding to go", || {
        Ok(page.attribute("[data-rule=seen]", "data-rule")?.is_none().then_some(()))
    })?;
    assert_eq!(page.console_errors()?, Vec::<String>::new(), "the page breaks no rule of its own policy");
    Ok(())
}
