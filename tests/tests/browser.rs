//! The interface in a headless browser, served by the app.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use waywright_tests::fits::Room;
use waywright_tests::plain_english::Reader;
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
    for part in ["", "supply", "findings", "plate", "photos", "papers"] {
        page.go(&address(part))?;
        page.wait_until("the first caution, not folded away", || {
            Ok(page.text(".cautions > p")?.contains("Isolate, lock off and prove dead").then_some(()))
        })?;
    }
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

const DEMO_BOARD: &str = "/board/01a0c450-73d0-7b72-bc6e-f372fe94f82a";

/// What to press on a screen, and what comes of it.
type Press = (&'static str, &'static str);

/// Every screen: its part of the address, what shows that it is there, what to press on it.
const SCREENS: [(&str, &str, &[Press]); 11] = [
    ("", "[data-board]", &[]),
    ("/settings", "[data-table-text]", &[]),
    (
        DEMO_BOARD,
        "[data-pole]",
        &[("[data-balance=ask]", "[data-balance=table]"), ("[data-zoom=thumb]", "[data-pole]")],
    ),
    ("/plate", "[data-entry]", &[("[data-set-out=solve]", "[data-set-out=enter], [data-open=set-out] table")]),
    ("/supply", "[data-field='/supply/ze']", &[("[data-surveyed='/supply/ze'] .how", ".known fieldset")]),
    ("/findings", "[data-rule]", &[("[data-faults=ask]", "[data-fault]")]),
    ("/papers", "[data-paper]", &[("[data-paper]", ".pages img")]),
    ("/photos", "[data-photo]", &[("[data-photo]", "[data-photo-open]"), ("[data-tool=Text]", "[data-mark-text]")]),
    ("/notes", "[data-note]", &[]),
    ("/add", "[data-add=make]", &[]),
    ("/circuit/01a0c451-17e0-7bcc-b188-ebe1e0cd539c", "#section-terminals", &[("[data-size=ask]", "[data-sizes]")]),
];

/// Opens every screen of the demo, wide and narrow, with all that unfolds; `look` is told which it is.
fn every_screen(host: &Host, page: &Page, mut look: impl FnMut(&str) -> Result<(), Failed>) -> Result<(), Failed> {
    page.wait_for("[data-screen=boards]")?;
    for (width, height) in [(1280, 800), (390, 844)] {
        page.resize(width, height)?;
        for (part, there, presses) in SCREENS {
            let whole = matches!(part, "" | "/settings" | DEMO_BOARD);
            let part = if whole { part.to_owned() } else { format!("{DEMO_BOARD}{part}") };
            page.go(&format!("{}#{part}", host.address()))?;
            page.wait_for(there)?;
            page.run(
                "document.querySelectorAll('details').forEach(one => { one.open = true; })",
                serde_json::json!([]),
            )?;
            for (press, then) in presses {
                page.wait_for(press)?;
                // Whatever lies over it on a small screen: this is about words.
                page.run("document.querySelector(arguments[0]).click()", serde_json::json!([press]))?;
                page.wait_for(then)?;
            }
            look(&format!("{part} at {width}"))?;
        }
    }
    Ok(())
}

/// In the lengthened language no screen shows or says a plain English word: all come from the catalogue. And nothing
/// has too little room.
#[test]
fn every_screen_speaks_the_language_of_the_command_line() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let host = Host::start(&["--demo", "--data", &data, "--language", "en-x-long"])?;
    let page = Page::browser(host.address())?;
    let demo = [
        include_str!("../../seed-data/demo/ph-db1.json"),
        include_str!("../../seed-data/demo/bl-db2.json"),
        include_str!("../../seed-data/demo/br-db3.json"),
    ];
    let mut reader = Reader::of(&demo, &["Press hall board, cover off, as found (drawn for the demo)"]);
    let mut room = Room::default();
    every_screen(&host, &page, |screen| {
        reader.read(&page, screen)?;
        room.look(&page, screen)?;
        page.shot(&format!("browser-long-{}", screen.replace(['/', ' '], "-")))?;
        Ok(())
    })?;
    assert_eq!(page.run("return document.documentElement.lang", serde_json::json!([]))?, "en-x-long");
    let told = [reader.told(), room.told()].concat();
    assert!(told.is_empty(), "{told:#?}");
    Ok(())
}

/// What looks for words without room finds each way of having none, and nothing where there is enough.
#[test]
fn too_little_room_is_found() -> Result<(), Failed> {
    const PAGE: &str = "data:text/html,<style>body{margin:0;font:16px sans-serif}div{width:90px;white-space:nowrap}</style>\
        <div style='overflow:hidden'>cut off at its end</div><div style='overflow:hidden'>whole</div>\
        <select style='width:60px'><option>longer than the list</option></select><select><option>short</option></select>\
        <svg viewBox='0 0 100 50' width='200' height='100' style='overflow:visible'>\
        <text x='5' y='10' font-size='6'>one</text><text x='9' y='12' font-size='6'>other</text>\
        <text x='80' y='40' font-size='6'>out of the drawing</text>\
        <a><rect x='5' y='30' width='20' height='8'/><text x='6' y='36' font-size='6'>out of its box</text></a></svg>";
    let page = Page::browser(PAGE)?;
    let mut room = Room::default();
    room.look(&page, "here")?;
    let told = room.told();
    for wanted in ["cut off by", "no room in a list", "one over the other", "leaves its drawing", "leaves its frame"] {
        assert_eq!(told.iter().filter(|line| line.contains(wanted)).count(), 1, "{wanted}: {told:#?}");
    }
    assert_eq!(told.len(), 5, "{told:#?}");
    page.go("data:text/html,<body style='margin:0'><p style='width:3000px'>wide</p>")?;
    let mut room = Room::default();
    room.look(&page, "there")?;
    assert!(room.told().iter().any(|line| line.contains("the page is 3000 px wide")));
    Ok(())
}

#[test]
fn no_screen_has_too_little_room_for_its_words() -> Result<(), Failed> {
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let host = Host::start(&["--demo", "--data", &data])?;
    let page = Page::browser(host.address())?;
    let mut room = Room::default();
    every_screen(&host, &page, |screen| {
        room.look(&page, screen)?;
        page.shot(&format!("browser-{}", screen.replace(['/', ' '], "-")))?;
        Ok(())
    })?;
    let told = room.told();
    assert!(told.is_empty(), "{told:#?}");
    Ok(())
}

/// A page from elsewhere, open in the same browser, tries whatever a page can: nothing of the store is read, nothing
/// is written.
#[test]
fn a_hostile_page_neither_reads_nor_writes() -> Result<(), Failed> {
    use std::io::{Read, Write};
    let folder = tempfile::tempdir().expect("a folder for the store");
    let data = folder.path().to_string_lossy();
    let host = Host::start(&["--demo", "--data", &data])?;
    let (ours, _) = host.address().split_once("/?key=").expect("an address with its key");
    let ours = ours.to_owned();
    // The same machine under another name and on another port: as near as another page can come.
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let theirs = format!("http://localhost:{}/", listener.local_addr().expect("an address").port());
    let page = HOSTILE.replace("OURS", &ours);
    std::thread::spawn(move || {
        for mut stream in listener.incoming().flatten() {
            let page = page.clone();
            std::thread::spawn(move || {
                let _asked = stream.read(&mut [0; 4096]);
                let head = format!(
                    "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
                    page.len()
                );
                let _sent = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(page.as_bytes()));
            });
        }
    });
    let browser = Page::browser(&theirs)?;
    let told = browser.wait_until("the page to have tried everything", || {
        let told = browser.run("return window.told || null", serde_json::json!([]))?;
        Ok(told.as_array().cloned())
    })?;
    println!("{told:#?}");
    assert!(told.len() >= 10, "{told:?}");
    for line in &told {
        let line = line.as_str().unwrap_or_default();
        assert!(line.ends_with(": refused") || line.ends_with(": sent, answer hidden"), "{line}");
    }
    // A page of our own that was not given the key shows nothing of the store, and says what to open.
    browser.go(&format!("{ours}/"))?;
    browser.wait_until("the page to say what to open", || {
        let shown = browser.run("return document.body.textContent", serde_json::json!([]))?.to_string();
        assert!(!shown.contains("PH-DB1"), "{shown}");
        Ok(shown.contains("open the whole address that was printed").then_some(()))
    })?;
    browser.go(host.address())?;
    browser.wait_for("[data-screen=boards]")?;
    let address = browser.run("return location.href", serde_json::json!([]))?.to_string();
    assert!(!address.contains("key="), "the key stays on the screen: {address}");
    let shown = browser.run("return document.body.textContent", serde_json::json!([]))?.to_string();
    assert!(shown.contains("PH-DB1") && !shown.contains("Hostile"), "{shown}");
    let sites = browser.run(
        "return fetch('/api/list_sites', {method: 'POST', headers: {'Content-Type': 'application/json', 'Waywright-Key': waywrightKey}, body: '{}'})
             .then(answer => answer.json()).then(sites => sites.length)",
        serde_json::json!([]),
    )?;
    assert_eq!(sites, 1, "a site was made");
    Ok(())
}

/// What a page from elsewhere can try, each way on its own; `told` says how each ended once all did.
const HOSTILE: &str = r#"<!doctype html><meta charset="utf-8"><title>x</title><body><script>
const ours = 'OURS', site = JSON.stringify({name: 'Hostile', note: ''});
const ask = (what, path, options) => fetch(ours + path, options)
    .then(answer => answer.type === 'opaque' ? what + ': sent, answer hidden' : answer.text().then(text => what + ': read ' + text.slice(0, 80)))
    .catch(() => what + ': refused');
const json = {'Content-Type': 'application/json'};
const frame = (what, src) => new Promise(done => {
    const frame = document.createElement('iframe');
    frame.onload = () => {
        let seen = 'refused';
        try { seen = frame.contentDocument && frame.contentDocument.body.textContent.includes('PH-DB1') ? 'read' : 'refused'; } catch (e) {}
        done(what + ': ' + seen);
    };
    frame.src = src;
    document.body.append(frame);
    setTimeout(() => done(what + ': refused'), 3000);
});
const form = (what, type) => new Promise(done => {
    const target = document.createElement('iframe');
    target.name = 'f' + Math.random();
    document.body.append(target);
    const form = document.createElement('form');
    Object.assign(form, {method: 'post', action: ours + '/api/create_site', enctype: type, target: target.name});
    const field = document.createElement('input');
    field.name = site.slice(0, -1) + ',"x":"';
    field.value = '"}';
    form.append(field);
    document.body.append(form);
    form.submit();
    setTimeout(() => done(what + ': sent, answer hidden'), 1500);
});
const socket = what => new Promise(done => {
    const socket = new WebSocket(ours.replace('http', 'ws') + '/api/list_sites');
    socket.onopen = () => done(what + ': opened');
    socket.onerror = () => done(what + ': refused');
});
const picture = (what, path) => new Promise(done => {
    const picture = new Image();
    picture.onload = () => done(what + ': read');
    picture.onerror = () => done(what + ': refused');
    picture.src = ours + path;
});
const script = (what, path) => new Promise(done => {
    const script = document.createElement('script');
    script.onload = () => done(what + ': read');
    script.onerror = () => done(what + ': refused');
    script.src = ours + path;
    document.body.append(script);
});
Promise.all([
    ask('call in JSON', '/api/create_site', {method: 'POST', headers: json, body: site}),
    ask('call with a guessed key', '/api/create_site', {method: 'POST', headers: {...json, 'Waywright-Key': '0'.repeat(64)}, body: site}),
    ask('call as text', '/api/create_site', {method: 'POST', headers: {'Content-Type': 'text/plain'}, body: site}),
    ask('call unseen', '/api/create_site', {method: 'POST', mode: 'no-cors', body: site}),
    ask('reading the sites', '/api/list_sites', {method: 'POST', headers: json, body: '{}'}),
    ask('reading the page', '/', {}),
    ask('a file in', '/files/import_bundle/%7B%7D', {method: 'POST', mode: 'no-cors', body: 'PK'}),
    ask('a file out', '/files/export_site/%7B%7D', {}),
    frame('a frame', ours + '/'),
    form('a form', 'text/plain'),
    socket('a socket'),
    picture('a picture', '/files/export_site/%7B%7D'),
    script('a script', '/api/list_sites'),
]).then(told => { window.told = told; });
</script>"#;
