//! What comes in has an end: nothing a person or a file says breaks the program or what it keeps.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::path::Path;
use std::process::{Command, Output};

use api::{CreateSite, ErrorKind, ExportSurvey, ImportSurvey, ListBoards, OpenBoard};
use serde_json::{Value, json};
use survey::BoardId;
use waywright_tests::webdriver::waywright;
use waywright_tests::{Bench, call};

const DEMO: [&str; 3] = [
    include_str!("../../seed-data/demo/ph-db1.json"),
    include_str!("../../seed-data/demo/bl-db2.json"),
    include_str!("../../seed-data/demo/br-db3.json"),
];

fn whole() -> bool {
    std::env::var_os("WAYWRIGHT_WHOLE").is_some()
}

/// A stream of numbers that is the same in every run.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (self.0 ^ (self.0 >> 33)).wrapping_mul(0xff51_afd7_ed55_8ccd);
        mixed ^ (mixed >> 33)
    }
    fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }
    fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}

/// Values that some code somewhere does not expect.
fn odd(dice: &mut Dice) -> Value {
    let long = "x".repeat(5000);
    let deep = (0..60).fold(json!(1), |inner, _| json!({ "a": inner }));
    let all = [
        json!(null),
        json!(true),
        json!(-1),
        json!(0),
        json!(1e308),
        json!(u64::MAX),
        json!(i64::MIN),
        json!(""),
        json!("\u{0}"),
        json!("\u{1b}[2J"),
        json!(long),
        json!([]),
        json!([[], {}]),
        json!({}),
        json!({ "known": "measured" }),
        json!({ "known": "measured", "value": "1e999 mm2" }),
        json!({ "known": "assumed", "between": ["9 m", "3 m"] }),
        json!({ "known": "label", "value": "2.5 mm2", "instrument": "i".repeat(100_000) }),
        json!("01900000-0000-7000-8000-000000000000"),
        json!("3L2"),
        json!("65535L3"),
        deep,
    ];
    dice.pick(&all).clone()
}

/// Pointers of everything in a value.
fn places(value: &Value, here: &str, out: &mut Vec<String>) {
    out.push(here.to_owned());
    match value {
        Value::Object(object) => object.iter().for_each(|(key, inner)| {
            places(inner, &format!("{here}/{}", key.replace('~', "~0").replace('/', "~1")), out)
        }),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(at, inner)| places(inner, &format!("{here}/{at}"), out))
        }
        _ => {}
    }
}

/// The value with one thing in it changed, taken out or doubled.
fn spoilt(mut value: Value, dice: &mut Dice) -> Value {
    for _ in 0..=dice.below(2) {
        let mut all = Vec::new();
        places(&value, "", &mut all);
        let place = dice.pick(&all).clone();
        match (dice.below(4), place.rsplit_once('/')) {
            (0, Some((parent, last))) => {
                if let Some(Value::Object(object)) = value.pointer_mut(parent) {
                    object.remove(last);
                }
            }
            (1, Some((parent, _))) => {
                let new = odd(dice);
                if let Some(Value::Object(object)) = value.pointer_mut(parent) {
                    object.insert("elsewhere".to_owned(), new);
                }
            }
            _ => {
                let new = odd(dice);
                if let Some(found) = value.pointer_mut(&place) {
                    *found = new;
                }
            }
        }
    }
    value
}

/// An edit as a screen sends it, of a field that is there.
fn edit(board: &Value, dice: &mut Dice) -> Value {
    let mut all = Vec::new();
    places(board, "", &mut all);
    let path = dice.pick(&all).clone();
    let value = board.pointer(&path).cloned().unwrap_or_default();
    let record = |kind: &str, dice: &mut Dice| {
        let ids: Vec<String> = board[kind].as_object().map(|all| all.keys().cloned().collect()).unwrap_or_default();
        if ids.is_empty() { String::new() } else { dice.pick(&ids).clone() }
    };
    match dice.below(9) {
        0 => {
            json!({"add_circuit": {"at": "6L2", "poles": "P1", "device": "CircuitBreaker", "load": "Lighting", "description": "lights"}})
        }
        1 => json!({"move_device": {"device": record("devices", dice), "to": "7L1"}}),
        2 => json!({"add_note": {"text": "a word", "about": "/supply"}}),
        3 => {
            json!({"add_entry": {"plate": record("plates", dice), "kind": "Conduit", "size": "20", "at": [30.0, 40.0], "cable": null}})
        }
        4 => json!({"set": {"path": format!("{path}/a"), "value": odd(dice)}}),
        5 => json!({"set": {"path": path, "value": odd(dice)}}),
        _ => json!({"set": {"path": path, "value": value}}),
    }
}

#[test]
fn mutated_edits_are_refused_by_name_or_taken_and_never_break() {
    let count = if whole() { 3500 } else { 300 };
    let bench = Bench::with_demo();
    let boards = ["PH-DB1", "BL-DB2", "BR-DB3"].map(|reference| bench.board(reference));
    let mut dice = Dice(20);
    let (mut taken, mut refused) = (0, 0);
    for step in 0..count {
        let board = *dice.pick(&boards);
        let content: Value = serde_json::from_str(&call(&bench.app, ExportSurvey { board }).unwrap()).unwrap();
        let body = json!({ "board": board, "intent": edit(&content["board"], &mut dice) });
        let body = if dice.below(3) == 0 { spoilt(body, &mut dice) } else { body };
        match bench.app.answer(&bench.app.local_caller(), "edit", body.clone()) {
            Ok(_) => {
                taken += 1;
                comes_back(&bench, board, &body);
            }
            Err(error) => {
                refused += 1;
                let shown: String = body.to_string().chars().take(400).collect();
                assert_ne!(error["kind"], "failed", "edit {step}: {shown}\n{error}");
                assert!(error.to_string().len() < 200_000, "edit {step}: an answer nobody reads: {shown}");
            }
        }
    }
    println!("{count} edits: {taken} taken, {refused} refused by name, 0 broken off");
    assert!(taken > count / 20 && refused > count / 20);
}

/// What the store holds goes out and comes in again.
fn comes_back(bench: &Bench, board: BoardId, why: &Value) {
    let text = call(&bench.app, ExportSurvey { board }).unwrap();
    if let Err(problems) = survey::file::read(&text) {
        let shown: String = why.to_string().chars().take(400).collect();
        panic!("what was exported is not read after {shown}\n{problems:#?}");
    }
}

#[test]
fn mutated_survey_files_are_refused_by_place_or_taken() {
    let count = if whole() { 2300 } else { 200 };
    let mut bench = Bench::empty();
    let mut dice = Dice(21);
    let (mut taken, mut refused) = (0, 0);
    for step in 0..count {
        let survey = *dice.pick(&DEMO);
        let text = if dice.below(2) == 0 {
            spoilt(serde_json::from_str(survey).unwrap(), &mut dice).to_string()
        } else {
            let mut bytes = survey.as_bytes().to_vec();
            let at = dice.below(bytes.len());
            match dice.below(4) {
                0 => bytes.truncate(at),
                1 => bytes[at] = *dice.pick(b"\"{}[],:0-e\\\x7fn "),
                2 => drop(bytes.drain(at..(at + 40).min(survey.len()))),
                _ => {
                    let piece = bytes[at..(at + 40).min(survey.len())].to_vec();
                    bytes.splice(at..at, piece);
                }
            }
            String::from_utf8_lossy(&bytes).into_owned()
        };
        if step % 50 == 0 {
            bench = Bench::empty();
        }
        match call(&bench.app, ImportSurvey { text }) {
            Ok(api::SurveyTaken { view, .. }) => {
                taken += 1;
                comes_back(&bench, view.board.id, &json!(step));
            }
            Err(error) => {
                refused += 1;
                assert_eq!(error.kind, ErrorKind::Refused, "file {step}: {error:?}");
                assert!(error.problems.iter().all(|problem| problem.to_string().len() < 4000), "file {step}");
            }
        }
    }
    println!("{count} files: {taken} taken, {refused} refused by place, 0 broken off");
    assert!(taken > 0 && refused > count / 4);
}

#[test]
fn a_path_of_a_thousand_parts_is_refused() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    for parts in [20, 40, 1500, 100_000] {
        for start in ["/supply", "/elsewhere", "/circuits/01900000-0000-7000-8000-000000000000"] {
            let path = format!("{start}{}", "/a".repeat(parts));
            for body in [
                json!({"board": board, "intent": {"set": {"path": path, "value": 1}}}),
                json!({"board": board, "path": path, "pick": "1@00"}),
            ] {
                let name = if body.get("pick").is_some() { "settle" } else { "edit" };
                let error = bench.app.answer(&bench.app.local_caller(), name, body).unwrap_err();
                assert_eq!(error["kind"], "refused", "{parts} parts: {error}");
                assert!(error.to_string().len() < 4000);
            }
        }
    }
}

#[test]
fn every_text_has_a_longest() {
    let bench = Bench::with_demo();
    let board = bench.board("PH-DB1");
    let view = call(&bench.app, OpenBoard { board }).unwrap();
    let cable = view.board.cables.keys().next().unwrap();
    let circuit = view.board.circuits.keys().next().unwrap();
    let before = bench.surveys();
    let long = "m".repeat(2_000_000);
    let mut pattern = serde_json::to_value(view.board.enclosure.get().unwrap()).unwrap();
    pattern["name"] = json!(long);
    let reading = |field: &str| json!({"known": "measured", "value": "2.5 mm2", field: long});
    for (path, value) in [
        (format!("/cables/{cable}/size"), reading("instrument")),
        (format!("/cables/{cable}/size"), reading("by")),
        (format!("/cables/{cable}/size"), reading("rule")),
        (format!("/circuits/{circuit}/number"), json!(long)),
        (format!("/circuits/{circuit}/neutral_terminal"), json!(long)),
        (format!("/circuits/{circuit}/earth_terminals"), json!([long])),
        ("/place".to_owned(), json!(long)),
        ("/reference".to_owned(), json!(long)),
        ("/housing/labels_fitted".to_owned(), json!([long])),
        ("/enclosure".to_owned(), json!({"known": "label", "value": pattern})),
        ("/supply/system".to_owned(), json!({"known": "label", "value": "TnS", "instrument": long})),
    ] {
        let body = json!({"board": board, "intent": {"set": {"path": path, "value": value}}});
        let error = bench.app.answer(&bench.app.local_caller(), "edit", body).expect_err(&path);
        assert_eq!(error["kind"], "refused", "{path}: {error:.300}");
        assert!(error.to_string().len() < 10_000, "{path}: the refusal repeats what it refuses");
    }
    for body in [
        json!({"board": board, "intent": {"pick_enclosure": {"pattern": pattern, "known": "label"}}}),
        json!({"board": board, "intent": {"add_note": {"text": "n", "about": long}}}),
        json!({"board": board, "intent": {"add_note": {"text": long, "about": ""}}}),
        json!({"board": board, "intent": {"add_observation": {"seen": "Spur", "about": long, "place": ""}}}),
    ] {
        let error = bench.app.answer(&bench.app.local_caller(), "edit", body).unwrap_err();
        assert_eq!(error["kind"], "refused", "{:.300}", error.to_string());
    }
    assert!(call(&bench.app, CreateSite { name: long.clone() }).is_err());
    let mut survey: Value = serde_json::from_str(DEMO[1]).unwrap();
    survey["site_name"] = json!("m".repeat(1_000_000));
    let error = call(&bench.app, ImportSurvey { text: survey.to_string() }).unwrap_err();
    assert!(error.problems.iter().any(|problem| problem.path.contains("site_name")), "{error:?}");
    assert_eq!(bench.surveys(), before);
    assert_eq!(call(&bench.app, ListBoards { query: long, limit: 10 }).unwrap().rows.len(), 0);
}

fn run(data: &Path, words: &[&str], zone: &str) -> Output {
    let mut command = Command::new(waywright());
    command.arg("--data").arg(data).args(words).env("TZ", zone).output().unwrap()
}

#[test]
fn nothing_a_survey_says_steers_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    let mut survey: Value = serde_json::from_str(DEMO[0]).unwrap();
    let bad = "\u{1b}]0;owned\u{7}\u{9b}2J\u{202e}x\r\nDB9\tforged";
    survey["board"]["reference"] = json!(format!("PH{bad}"));
    survey["board"]["place"] = json!(bad);
    survey["site_name"] = json!(bad);
    for circuit in survey["board"]["circuits"].as_object_mut().unwrap().values_mut() {
        circuit["description"] = json!(bad);
    }
    let file = folder.path().join("bad.json");
    std::fs::write(&file, survey.to_string()).unwrap();
    let id = survey["board"]["id"].as_str().unwrap().to_owned();
    let path = format!("/circuits/{bad}=1");
    for words in [
        vec!["import", file.to_str().unwrap()],
        vec!["boards"],
        vec!["boards", "--json"],
        vec!["findings", &id],
        vec!["findings", &id, "--json"],
        vec!["fault-currents", &id],
        vec!["balance", &id],
        vec!["export", &id],
        vec!["what-if", &id, "--set", &path],
        vec!["size", &id, bad],
    ] {
        let output = run(&data, &words, "UTC");
        for text in [&output.stdout, &output.stderr] {
            let text = String::from_utf8(text.clone()).unwrap();
            let steering = text.chars().find(|letter| {
                (letter.is_control() && !matches!(letter, '\n' | '\t')) || matches!(letter, '\u{202a}'..='\u{202e}')
            });
            assert_eq!(steering, None, "{words:?}");
        }
        if words == ["boards"] {
            assert_eq!(String::from_utf8_lossy(&output.stdout).lines().count(), 1);
        }
    }
    let back = run(&data, &["export", &id], "UTC").stdout;
    assert_eq!(serde_json::from_slice::<Value>(&back).unwrap()["board"]["place"], bad, "what goes out is what came in");
}

#[cfg(unix)]
#[test]
fn the_store_is_its_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["demo"], "UTC").status.success());
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&data), 0o700);
    let mut files = 0;
    for entry in std::fs::read_dir(&data).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            files += 1;
            assert_eq!(mode(&path), 0o600, "{}", path.display());
        }
    }
    assert!(files > 0);
    // A store of an earlier version is closed to others when it is opened.
    let database = data.join("waywright.db");
    std::fs::set_permissions(&database, std::fs::Permissions::from_mode(0o644)).unwrap();
    assert!(run(&data, &["boards"], "UTC").status.success());
    assert_eq!(mode(&database), 0o600);
}

#[cfg(target_os = "linux")]
#[test]
fn papers_bear_the_date_of_the_place() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["demo"], "UTC").status.success());
    // 26 hours apart: never the same day.
    let texts = ["<+14>-14", "<-12>12"].map(|zone| {
        let out = folder.path().join(zone);
        let output = run(&data, &["papers", "BR-DB3", "--out", out.to_str().unwrap()], zone);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let mut files: Vec<_> = std::fs::read_dir(&out)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|end| end == "pdf"))
            .map(|path| std::fs::read(path).unwrap())
            .collect();
        files.sort();
        files
    });
    // The marker sheet is the same on every day.
    let same = texts[0].iter().filter(|file| texts[1].contains(file)).count();
    assert!(texts[0].len() > 3 && same <= 1, "{same} of {} papers", texts[0].len());
}

const SHIPPED: &str = include_str!("../../seed-data/patterns.toml");

/// A pattern of one's own: the first shipped one under another key.
fn own_pattern(key: &str) -> String {
    let end = SHIPPED.match_indices("[[pattern]]").nth(1).map_or(SHIPPED.len(), |(at, _)| at);
    let first = &SHIPPED[SHIPPED.find("[[pattern]]").unwrap()..end];
    first
        .lines()
        .map(|line| if line.starts_with("key") { format!("key = \"{key}\"") } else { line.to_owned() })
        .collect::<Vec<_>>()
        .join("\n")
        + "\n"
}

fn keys(bench: &Bench) -> Vec<String> {
    call(&bench.app, api::ListPatterns {}).unwrap().into_iter().map(|row| row.pattern.key).collect()
}

#[test]
fn a_damaged_list_of_patterns_stops_nothing_and_costs_only_what_is_damaged() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["demo"], "UTC").status.success());
    let mut list = own_pattern("mine-1").into_bytes();
    list.extend_from_slice(b"[[pattern]]\nkey = \"broken\"\nways = \xff\n");
    list.extend_from_slice(own_pattern("mine-2").as_bytes());
    std::fs::write(data.join("patterns.toml"), &list).unwrap();
    std::fs::write(data.join("role.txt"), "office\n").unwrap();
    let output = run(&data, &["boards"], "UTC");
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{told}");
    let line = own_pattern("mine-1").lines().count() + 1;
    assert!(told.contains(&format!("line {line}: ")), "{told}");
    // Kept beside, byte by byte; told until a person has read it, and no more often than once a call.
    assert_eq!(std::fs::read(data.join("patterns.toml.taken-in")).unwrap(), list);
    assert_eq!(String::from_utf8_lossy(&run(&data, &["boards"], "UTC").stderr), told);
    let file = folder.path().join("one.toml");
    std::fs::write(&file, own_pattern("mine-3")).unwrap();
    let listed = run(&data, &["add-patterns", file.to_str().unwrap()], "UTC").stdout;
    let listed = String::from_utf8(listed).unwrap();
    for key in ["mine-1", "mine-2", "mine-3"] {
        assert!(listed.lines().any(|line| line.starts_with(&format!("{key}\t"))), "{key}:\n{listed}");
    }
}

#[test]
fn two_processes_keep_all_patterns_of_both() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["boards"], "UTC").status.success());
    let add = |name: &str| {
        for at in 0..10 {
            let file = folder.path().join(format!("{name}-{at}.toml"));
            std::fs::write(&file, own_pattern(&format!("{name}-{at}"))).unwrap();
            let output = run(&data, &["add-patterns", file.to_str().unwrap()], "UTC");
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(|| add("one"));
        scope.spawn(|| add("two"));
    });
    let file = folder.path().join("last.toml");
    std::fs::write(&file, own_pattern("last")).unwrap();
    let listed = run(&data, &["add-patterns", file.to_str().unwrap()], "UTC").stdout;
    let listed = String::from_utf8(listed).unwrap();
    let own = listed.lines().filter(|line| line.starts_with("one-") || line.starts_with("two-")).count();
    assert_eq!(own, 20, "{listed}");
}

#[test]
fn role_and_patterns_are_there_again() {
    let mut bench = Bench::with_demo();
    call(&bench.app, api::SetRole { role: "office".to_owned() }).unwrap();
    call(&bench.app, api::AddPatterns { toml: own_pattern("mine") }).unwrap();
    assert!(
        bench
            .app
            .answer(&bench.app.local_caller(), "add_patterns", json!({"toml": own_pattern(&"k".repeat(300))}))
            .is_err()
    );
    bench.restart();
    assert_eq!(call(&bench.app, api::About {}).unwrap().role, "office");
    assert_eq!(keys(&bench).iter().filter(|key| *key == "mine").count(), 1);
}

#[cfg(unix)]
#[test]
fn a_medium_that_cannot_be_written_is_read_and_exported_from() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    assert!(run(&data, &["demo"], "UTC").status.success());
    let set = |path: &Path, mode| std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    let out = folder.path().join("out");
    std::fs::create_dir(&out).unwrap();
    set(&out, 0o777);
    set(folder.path(), 0o755);
    // Where no right is refused to this process, another user's is tried.
    let root = std::fs::metadata(folder.path()).unwrap().uid() == 0;
    let program = folder.path().join("waywright");
    std::fs::copy(waywright(), &program).unwrap();
    set(&program, 0o755);
    for journal in [false, true] {
        if journal {
            // As after a crash: the last changes are in the journal alone. Here it is one of no changes.
            std::fs::write(data.join("waywright.db-wal"), [0; 32]).unwrap();
        }
        let names = || {
            let mut names: Vec<_> = std::fs::read_dir(&data).unwrap().map(|entry| entry.unwrap().file_name()).collect();
            names.sort();
            names
        };
        for entry in std::fs::read_dir(&data).unwrap().map(|entry| entry.unwrap().path()) {
            set(&entry, if entry.is_dir() { 0o555 } else { 0o444 });
        }
        set(&data, 0o555);
        let before = names();
        let read = |words: &[&str]| {
            let mut command = Command::new(&program);
            command.arg("--data").arg(&data).args(words).env("HOME", &out).env_remove("WAYWRIGHT_DATA");
            if root {
                command.uid(65534).gid(65534);
            }
            command.output().unwrap()
        };
        let boards = read(&["boards"]);
        assert!(boards.status.success(), "{}", String::from_utf8_lossy(&boards.stderr));
        assert_eq!(String::from_utf8_lossy(&boards.stdout).lines().count(), 3);
        assert!(String::from_utf8_lossy(&boards.stderr).contains("cannot be written"));
        let site = read(&["export-site", "Harrow Mere Cider Works", "--out", out.to_str().unwrap()]);
        assert!(site.status.success(), "{}", String::from_utf8_lossy(&site.stderr));
        assert!(read(&["export", "PH-DB1"]).status.success());
        let list = out.join("own.toml");
        std::fs::write(&list, own_pattern("mine")).unwrap();
        let refused = read(&["add-patterns", list.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(3), "{}", String::from_utf8_lossy(&refused.stderr));
        assert_eq!(names(), before, "nothing was written");
        set(&data, 0o755);
    }
}
