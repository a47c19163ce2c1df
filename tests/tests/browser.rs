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

/// Tables of one's own are refused by file and line with nothing taken, taken together with whose they are, count for the
/// findings at once, and ours are put back.
#[test]
fn tables_of_ones_own_are_taken_on_the_settings_screen() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let host = Host::start(&["--demo", "--data", &data])?;
    let page = Page::browser(host.address())?;
    page.wait_for("[data-screen=boards]")?;
    let files = tempfile::tempdir().expect("a folder for the tables");
    let drop = files.path().join("voltage_drop_limit.csv");
    let rcd = files.path().join("rcd_time.csv");
    let limits = include_str!("../../seed-data/tables/voltage_drop_limit.csv");
    let write = |text: &str| std::fs::write(&drop, text).expect("a table is written");
    write(&limits.replace("A,other,5,", "A,other,five,"));
    std::fs::write(&rcd, include_str!("../../seed-data/tables/rcd_time.csv")).expect("a table is written");
    let settings = format!("{}#/settings", host.address());
    page.go(&settings)?;
    page.wait_for("[data-no-own-table]")?;
    let take = || -> Result<(), Failed> {
        page.choose("[data-import=tables]", &[&drop, &rcd])?;
        page.wait_for("[data-chosen]")?;
        page.fill("[data-whose]", "National table, 2030")?;
        page.click("[data-tables-take]:enabled")
    };
    take()?;
    page.wait_for("[data-tables-refused]")?;
    let refused = page.text("[data-tables-refused]")?;
    assert!(refused.contains("voltage_drop_limit.csv, line ") && refused.contains("five"), "{refused}");
    assert!(refused.contains("No table was taken"), "{refused}");
    page.wait_for("[data-no-own-table]")?;
    page.shot("browser-tables-refused")?;

    write(&limits.replace("A,other,5,", "A,other,0.1,"));
    take()?;
    page.wait_for("[data-own-table=voltage_drop_limit]")?;
    let own = page.text("[data-own-table=rcd_time]")?;
    assert!(own.contains("of National table, 2030") && own.contains(" rows"), "{own}");
    assert!(page.attribute("[data-tables-refused]", "role")?.is_none(), "what was refused is put right");
    page.shot("browser-tables-taken")?;
    let findings = format!("{}#/board/01a0c450-73d0-7b72-bc6e-f372fe94f82a/findings", host.address());
    let own_rows = || {
        page.run("return document.body.textContent.includes('own table: National table, 2030')", serde_json::json!([]))
    };
    page.go(&findings)?;
    page.wait_until("the findings to name the table's owner", || Ok((own_rows()? == true).then_some(())))?;

    page.go(&settings)?;
    page.click("[data-tables-back]")?;
    page.wait_for("[data-no-own-table]")?;
    page.go(&findings)?;
    page.wait_for("[data-rule=volt-drop]")?;
    page.wait_until("the findings to rest on our tables", || Ok((own_rows()? == false).then_some(())))?;
    // The one answer that refused is told by the browser; the page breaks no rule of its own policy.
    let told = page.console_errors()?;
    assert!(told.len() == 1 && told[0].contains("/api/take_tables") && told[0].contains("422"), "{told:?}");
    Ok(())
}
