//! The command line as a person types it: what it prints, and how it ends.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Instant;

use waywright_tests::webdriver::waywright;

fn run(data: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(waywright());
    command.arg("--data").arg(data).args(words).output().unwrap()
}

/// What it printed, where it ended well.
fn said(data: &Path, words: &[&str]) -> String {
    let output = run(data, words);
    assert!(output.status.success(), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn boards_are_listed_weighed_and_changed() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    assert_eq!(said(data, &["boards"]).lines().count(), 3);

    let findings = said(data, &["findings", "PH-DB1"]);
    for words in [
        "Isolate, lock off and prove dead",
        "competent person",
        "Live readings",
        "reading 1 ",
        "fails ",
        "undecided ",
        "IEC 60364",
    ] {
        assert!(findings.contains(words), "{words} is not in:\n{findings}");
    }
    let checks: serde_json::Value = serde_json::from_str(&said(data, &["findings", "PH-DB1", "--json"])).unwrap();
    assert!(checks.as_array().unwrap().iter().all(|check| check["verdict"].is_string()));
    assert_eq!(run(data, &["findings", "PH-DB1", "--fail"]).status.code(), Some(5));

    let sizes = said(data, &["size", "PH-DB1", "3L2"]);
    assert!(sizes.lines().last().unwrap().ends_with(": holds"), "{sizes}");
    let survey: serde_json::Value = serde_json::from_str(&said(data, &["export", "PH-DB1"])).unwrap();
    let (_, circuit) = survey["board"]["circuits"]
        .as_object()
        .unwrap()
        .iter()
        .find(|(_, circuit)| circuit["description"] == "Yard lighting")
        .unwrap();
    let set =
        format!("/cables/{}/size={{\"known\":\"decided\",\"value\":\"16 mm2\"}}", circuit["cable"].as_str().unwrap());
    let weighed = said(data, &["what-if", "PH-DB1", "--set", &set]);
    assert!(weighed.lines().any(|line| line.starts_with("beyond advice -> holds")), "{weighed}");

    let faults = said(data, &["fault-currents", "PH-DB1"]);
    assert!(faults.contains("\nboard\n    three-phase: "), "{faults}");
    assert!(faults.contains("end of circuit 3L2 Yard lighting"), "{faults}");

    let balance = said(data, &["balance", "PH-DB1", "--enter"]);
    assert!(balance.contains("\n1. Move "), "{balance}");
    assert!(!said(data, &["balance", "PH-DB1"]).contains("\n1. Move "), "the moves are entered");
    for printed in [&sizes, &weighed, &faults, &balance] {
        assert!(printed.starts_with("  Isolate, lock off and prove dead before work."), "{printed}");
    }
}

#[test]
fn what_is_printed_is_in_the_language_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    let (usual, long) =
        (said(data, &["findings", "PH-DB1"]), said(data, &["findings", "PH-DB1", "--language", "en-x-long"]));
    assert!(usual.contains("Isolate, lock off") && !usual.contains("Íšóĺáťé"), "{usual}");
    assert!(long.contains("[Íšóĺáťé, ĺóçķ óƒƒ") && !long.contains("Isolate"), "{long}");
}

#[test]
fn an_older_survey_reverts_nothing_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    let old = said(data, &["export", "PH-DB1"]);
    said(data, &["balance", "PH-DB1", "--enter"]);
    let new = said(data, &["export", "PH-DB1"]);
    assert_ne!(old, new);
    // Also where an editor put the mark of UTF-8 before it.
    for (name, begin) in [("old.json", ""), ("marked.json", "\u{feff}")] {
        let file = data.join(name);
        std::fs::write(&file, format!("{begin}{old}")).unwrap();
        let output = run(data, &["import", file.to_str().unwrap()]);
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{told}");
        assert_eq!(said(data, &["export", "PH-DB1"]), new);
        assert!(told.contains(" stays; ") && told.contains("stood here before"), "{told}");
    }
}

#[test]
fn what_does_not_fit_ends_with_its_own_code_and_names_the_field() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    for (words, code, part) in [
        (vec!["findings", "NO-DB"], 4, "NO-DB"),
        (vec!["size", "PH-DB1", "99L9"], 4, "99L9"),
        (vec!["what-if", "PH-DB1", "--set", "/supply/ze"], 3, "PATH=VALUE"),
        (vec!["what-if", "PH-DB1", "--set", "/supply/ze={\"known\":\"measured\",\"value\":\"3 bar\"}"], 3, "3 bar"),
        (vec!["balance", "BR-DB3"], 3, "three-phase"),
        (vec!["import", "no-such-file.json"], 4, "no-such-file.json"),
        (vec!["fly"], 2, "fly"),
        (vec!["boards", "--language", "tlh"], 2, "\"tlh\""),
    ] {
        let output = run(data, &words);
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{words:?}: {error}");
        assert!(error.contains(part), "{words:?}: {error}");
    }
}

/// A table of the user's own takes the place of ours, is named with its owner beside every check that looked it up, and
/// one that does not read is refused by line, with nothing taken.
#[test]
fn tables_of_ones_own_count_and_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    let own = tempfile::tempdir().unwrap();
    let place = own.path().to_string_lossy().into_owned();
    let shipped = include_str!("../../seed-data/tables/voltage_drop_limit.csv");
    let write = |text: &str| std::fs::write(own.path().join("voltage_drop_limit.csv"), text).unwrap();
    write(&shipped.replace("A,other,5,", "A,other,five,"));
    let refused = run(data, &["add-tables", &place, "--whose", "National table, 2030"]);
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(3), "{words}");
    assert!(words.contains("voltage_drop_limit.csv, line ") && words.contains("five"), "{words}");
    assert!(!said(data, &["findings", "PH-DB1"]).contains("own table"));
    write(&shipped.replace("A,other,5,", "A,other,0.1,"));
    let taken = said(data, &["add-tables", &place, "--whose", "National table, 2030"]);
    assert!(taken.starts_with("voltage_drop_limit: "), "{taken}");
    let findings = said(data, &["findings", "PH-DB1"]);
    assert!(findings.contains("(own table: National table, 2030)"), "{findings}");
    assert!(findings.contains("more than 0.1") && findings.contains("beyond advice"), "{findings}");
    // Tables of another owner, taken later, leave those before with theirs.
    let other = tempfile::tempdir().unwrap();
    let text = include_str!("../../seed-data/tables/ampacity.csv");
    std::fs::write(other.path().join("ampacity.csv"), text).unwrap();
    said(data, &["add-tables", &other.path().to_string_lossy(), "--whose", "Another standard"]);
    let findings = said(data, &["findings", "PH-DB1"]);
    for words in ["(own table: National table, 2030)", "(own table: Another standard)"] {
        assert!(findings.contains(words), "{words} is not in:\n{findings}");
    }
    // Ours count again, one by one or all.
    let listed = said(data, &["tables"]);
    assert!(
        listed.lines().any(|line| line.starts_with("ampacity\t") && line.ends_with("\tAnother standard")),
        "{listed}"
    );
    said(data, &["use-our-tables", "ampacity"]);
    assert!(!said(data, &["findings", "PH-DB1"]).contains("Another standard"));
    assert_eq!(run(data, &["use-our-tables", "ampacity"]).status.code(), Some(3), "it is ours already");
    said(data, &["use-our-tables"]);
    assert!(!said(data, &["findings", "PH-DB1"]).contains("own table"));
    // A file of another name is no table.
    std::fs::write(own.path().join("prices.csv"), "a,b\n").unwrap();
    assert_eq!(run(data, &["add-tables", &place, "--whose", "x"]).status.code(), Some(3));
}

/// The demo brought in and ended in the middle: nothing of it is there, or all, and the next start
/// brings it in whole.
#[test]
fn a_killed_seeding_leaves_all_or_nothing() {
    let begun = Instant::now();
    said(tempfile::tempdir().unwrap().path(), &["demo"]);
    let takes = begun.elapsed();
    let rounds: u32 = if std::env::var_os("WAYWRIGHT_WHOLE").is_some() { 40 } else { 5 };
    let (mut nothing, mut all) = (0, 0);
    for round in 1..=rounds {
        let folder = tempfile::tempdir().unwrap();
        let data = folder.path();
        let mut child = Command::new(waywright())
            .arg("--data")
            .arg(data)
            .arg("demo")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // Most of the time goes by before the first write.
        std::thread::sleep(takes / 3 + takes * 2 * round / (3 * rounds));
        let _gone = child.kill();
        child.wait().unwrap();
        match said(data, &["boards"]).lines().count() {
            0 => nothing += 1,
            3 => all += 1,
            part => panic!("round {round}: {part} of 3 boards"),
        }
        said(data, &["demo"]);
        assert_eq!(said(data, &["boards"]).lines().count(), 3);
        assert!(said(data, &["check"]).contains(", 1 photos"), "with its photo");
    }
    println!("{rounds} seedings killed: {nothing} left nothing, {all} all, 0 a part; each was seeded again, whole");
}

/// A bit of the demo's photo flipped in the file, as a worn disk does.
#[test]
fn check_says_what_is_sound_and_what_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path();
    said(data, &["demo"]);
    let sound = said(data, &["check"]);
    assert!(sound.contains("4 boards and sites") && sound.contains("all of it is sound"), "{sound}");
    let bundle = data.join("good.zip");
    said(data, &["export-site", "Harrow Mere Cider Works", "--out", bundle.to_str().unwrap()]);

    let photo = std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/../seed-data/demo/ph-db1.jpg")).unwrap();
    let file = data.join("waywright.db");
    let mut bytes = std::fs::read(&file).unwrap();
    let piece = &photo[photo.len() / 2..photo.len() / 2 + 32];
    let at = bytes.windows(piece.len()).position(|window| window == piece).unwrap();
    bytes[at] ^= 1;
    std::fs::write(&file, bytes).unwrap();

    let output = run(data, &["check"]);
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("bad: photo ") && told.contains("import a bundle"), "{told}");
    assert!(said(data, &["findings", "PH-DB1"]).contains("does not read as it was taken in"));
    // The rest is handed on, and it is said what is not in it.
    let part = data.join("part.zip");
    let output = run(data, &["export-site", "Harrow Mere Cider Works", "--out", part.to_str().unwrap()]);
    assert!(output.status.success());
    assert!(String::from_utf8(output.stderr).unwrap().contains("does not read as it was taken in"));
    let other = tempfile::tempdir().unwrap();
    said(other.path(), &["import", part.to_str().unwrap()]);
    // A good bundle heals it.
    assert!(said(data, &["import", bundle.to_str().unwrap()]).contains("\"healed\": 1"));
    assert!(said(data, &["check"]).contains("all of it is sound"));
}

/// A board that lost a change on the disk: no survey file passes its older values off as the newest, and its papers
/// say that they are incomplete.
#[test]
fn what_is_made_of_a_board_that_lost_changes_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["demo"]).status.success());
    let survey = run(&data, &["export", "BR-DB3"]);
    assert!(survey.status.success());
    // A second edit of the board, which then rots.
    let mut text = String::from_utf8(survey.stdout).unwrap();
    text = text.replacen("Boiler room", "Boiler house", 1);
    let file = folder.path().join("later.json");
    std::fs::write(&file, text).unwrap();
    assert!(run(&data, &["import", file.to_str().unwrap()]).status.success());
    let database = data.join("waywright.db");
    let mut bytes = std::fs::read(&database).unwrap();
    let words = b"Boiler house";
    let places: Vec<usize> = (0..bytes.len() - words.len()).filter(|at| bytes[*at..].starts_with(words)).collect();
    assert!(!places.is_empty());
    for at in places {
        bytes[at + 8] ^= 1;
    }
    std::fs::write(&database, bytes).unwrap();
    let told = |output: &Output| String::from_utf8_lossy(&output.stderr).into_owned();
    let export = run(&data, &["export", "BR-DB3"]);
    assert_eq!(export.status.code(), Some(3), "{}", told(&export));
    assert!(told(&export).contains("older values off as the newest"), "{}", told(&export));
    let out = folder.path().join("papers");
    let papers = run(&data, &["papers", "BR-DB3", "--out", out.to_str().unwrap()]);
    assert!(papers.status.success() && told(&papers).contains("does not read as it was saved"), "{}", told(&papers));
    let csv = std::fs::read_dir(&out).unwrap().flatten().map(|entry| entry.path());
    let marked = csv.filter(|path| path.extension().is_some_and(|end| end == "svg" || end == "csv" || end == "dxf"));
    let marked =
        marked.filter(|path| String::from_utf8_lossy(&std::fs::read(path).unwrap()).contains("INCOMPLETE")).count();
    assert!(marked >= 4, "{marked} plain-text papers are marked");
    assert!(
        run(&data, &["export-site", "Harrow Mere Cider Works", "--out", folder.path().to_str().unwrap()])
            .status
            .success()
    );
}
