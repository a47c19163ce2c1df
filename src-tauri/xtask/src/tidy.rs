//! The house rules, as checks over the project's files. Each finding names the file, the line and what would do.

use std::fs;
use std::path::{Path, PathBuf};

use crate::shell::{program, read, root};

/// Each crate with its path and the crates of this project that it may build on: arrows point down only.
const CRATES: &[(&str, &str, &[&str])] = &[
    ("survey", "src-tauri/survey", &[]),
    ("api", "src-tauri/api", &["survey"]),
    ("circuits", "src-tauri/circuits", &["survey"]),
    ("plate", "src-tauri/plate", &["survey"]),
    ("store", "src-tauri/store", &["survey"]),
    ("exchange", "src-tauri/exchange", &["store", "survey"]),
    ("papers", "src-tauri/papers", &["circuits", "plate", "survey"]),
    ("hub", "src-tauri/hub", &["api"]),
    ("waywright", "src-tauri", &["api", "circuits", "exchange", "hub", "papers", "plate", "store", "survey"]),
    ("waywright-ui", "ui", &["api", "survey"]),
    (
        "waywright-tests",
        "tests",
        &["api", "circuits", "exchange", "hub", "papers", "plate", "store", "survey", "waywright"],
    ),
    ("xtask", "src-tauri/xtask", &[]),
];

/// Crates that do no input or output and give the same digits everywhere.
const PURE: &[&str] = &["src-tauri/survey/src/", "src-tauri/circuits/src/", "src-tauri/plate/src/"];

/// What a pure crate must not name. Transcendental functions are banned in `.clippy.toml`.
const IMPURE: &[&str] = &[
    "SystemTime",
    "Instant",
    "HashMap",
    "HashSet",
    "Utc::now",
    "Local::now",
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "rand",
    "thread_rng",
    "rusqlite",
];

/// Statements of the database's language, which belong to the store alone.
const SQL: &[&str] =
    &["SELECT ", "INSERT INTO", "INSERT OR ", "UPDATE ", "DELETE FROM", "CREATE TABLE", "DROP TABLE", "PRAGMA "];

/// Where those statements must not be.
const NO_SQL: &[&str] = &["src-tauri/src/", "src-tauri/hub/", "src-tauri/api/", "ui/"];

/// All that the top folder holds, besides names that begin with a dot.
const TOP: &[&str] =
    &["Cargo.toml", "Cargo.lock", "README.md", "DEVELOPERS.md", "src-tauri", "ui", "tests", "seed-data"];

/// Checks every house rule.
///
/// # Errors
/// Where a rule is broken; each finding is printed.
pub fn report() -> Result<(), String> {
    let findings = check(&root())?;
    for finding in &findings {
        println!("{finding}");
    }
    match findings.len() {
        0 => Ok(()),
        1 => Err("one house rule is broken".to_owned()),
        many => Err(format!("house rules are broken in {many} places")),
    }
}

/// Everything that breaks a rule under `top`.
fn check(top: &Path) -> Result<Vec<String>, String> {
    let listed =
        read(program("git").arg("-C").arg(top).args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"]))?;
    let listed = String::from_utf8(listed).map_err(|_| "a file's name is not UTF-8".to_owned())?;
    let files: Vec<&str> = listed.split('\0').filter(|name| !name.is_empty() && top.join(name).is_file()).collect();

    let mut findings = top_level(&files);
    for (name, dir, allowed) in CRATES {
        match fs::read_to_string(top.join(dir).join("Cargo.toml")) {
            Ok(manifest) => findings.extend(manifest_rules(name, &format!("{dir}/Cargo.toml"), &manifest, allowed)),
            Err(_) => findings.push(format!("{dir}: there is no Cargo.toml for the crate `{name}`")),
        }
        findings.extend(crate_docs(top, dir));
    }
    for file in files.iter().filter(|file| file.ends_with("Cargo.toml")) {
        let dir = file.trim_end_matches("Cargo.toml").trim_end_matches('/');
        if !dir.is_empty() && !CRATES.iter().any(|(_, known, _)| *known == dir) {
            findings.push(format!("{file}: a new crate; give it its place in xtask's list of crates (src/tidy.rs)"));
        }
    }
    for file in &files {
        // Fonts and pictures are no text.
        if let Ok(text) = fs::read_to_string(top.join(file)) {
            findings.extend(text_rules(file, &text));
        }
    }
    let text =
        |name: &str| fs::read_to_string(top.join(name)).map_err(|error| format!("{name} cannot be read: {error}"));
    findings.extend(bundler_version(&text("Cargo.toml")?, &text("Cargo.lock")?));
    findings.extend(no_window_links(top)?);
    Ok(findings)
}

fn top_level(files: &[&str]) -> Vec<String> {
    let mut names: Vec<&str> = files.iter().map(|file| file.split('/').next().unwrap_or(file)).collect();
    names.sort_unstable();
    names.dedup();
    names
        .into_iter()
        .filter(|name| !name.starts_with('.') && !TOP.contains(name))
        .map(|name| format!("{name}: the top folder holds only {} and names with a dot", TOP.join(", ")))
        .collect()
}

/// Rules of one `Cargo.toml`: licence, lints, and arrows that point down.
fn manifest_rules(name: &str, file: &str, manifest: &str, allowed: &[&str]) -> Vec<String> {
    let mut findings = Vec::new();
    let mut section = "";
    let mut seen = Vec::new();
    let (mut licence, mut lints, mut described) = (false, false, false);
    for line in manifest.lines().map(str::trim).filter(|line| !line.starts_with('#')) {
        if let Some(header) = line.strip_prefix('[') {
            section = header.trim_matches(['[', ']']);
            // `[dependencies.name]` is a dependency, too.
            if let Some((kind, key)) = section.rsplit_once('.').filter(|(kind, _)| builds_on(kind)) {
                let _ = kind;
                seen.push(key.to_owned());
            }
            continue;
        }
        let Some((key, value)) = line.split_once('=') else { continue };
        let (key, value) = (key.trim(), value.trim());
        let first = key.split('.').next().unwrap_or(key);
        match section {
            "package" => {
                licence |= first == "license";
                described |= first == "description";
            }
            "lints" => lints |= first == "workspace" && value == "true",
            _ if builds_on(section) => seen.push(first.trim_matches('"').to_owned()),
            _ => {}
        }
    }
    if !licence {
        findings.push(format!("{file}: no licence; add `license.workspace = true`"));
    }
    if !described {
        findings.push(format!("{file}: no description"));
    }
    if !lints {
        findings.push(format!("{file}: the shared lints are off; add `[lints]` with `workspace = true`"));
    }
    for dependency in seen {
        let ours = CRATES.iter().any(|(known, ..)| *known == dependency);
        if ours && !allowed.contains(&dependency.as_str()) {
            findings.push(format!("{file}: `{name}` may not build on `{dependency}`; it may on: {}", list(allowed)));
        }
    }
    findings
}

/// Tests may use anything that exists; only what is built into the crate counts.
fn builds_on(section: &str) -> bool {
    let kind = section.rsplit('.').next().unwrap_or(section);
    kind == "dependencies" || kind == "build-dependencies"
}

fn list(names: &[&str]) -> String {
    if names.is_empty() { "none of this project's".to_owned() } else { names.join(", ") }
}

fn crate_docs(top: &Path, dir: &str) -> Vec<String> {
    let roots: Vec<PathBuf> = ["src/lib.rs", "src/main.rs"].iter().map(|name| top.join(dir).join(name)).collect();
    roots
        .iter()
        .filter_map(|path| fs::read_to_string(path).ok().map(|text| (path, text)))
        .filter(|(_, text)| !text.starts_with("//! "))
        .map(|(path, _)| {
            let name = path.strip_prefix(top).unwrap_or(path).display();
            format!("{name}: the crate does not say what it is; begin with `//! `")
        })
        .collect()
}

/// Rules of one text file, line by line.
fn text_rules(file: &str, text: &str) -> Vec<String> {
    let mut findings = Vec::new();
    let rust = file.ends_with(".rs");
    let own = file.starts_with("src-tauri/xtask/");
    let pure = PURE.iter().any(|dir| file.starts_with(dir)) && !file.ends_with("/tests.rs");
    let no_sql = NO_SQL.iter().any(|dir| file.starts_with(dir)) && rust;
    let mut in_tests = false;
    for (number, line) in (1..).zip(text.lines()) {
        let mut found = |what: &str| findings.push(format!("{file}:{number}: {what}"));
        for path in machine_paths() {
            if line.match_indices(&path).any(|(at, _)| begins_a_path(line, at)) {
                found(&format!("`{path}` is a path of one machine"));
            }
        }
        if !rust {
            continue;
        }
        if line.ends_with([' ', '\t', '\r']) {
            found("blanks at the end of the line");
        }
        if line.contains('\t') {
            found("a tab; indent with blanks");
        }
        let code = line.trim_start();
        if code.starts_with("//") {
            continue;
        }
        in_tests |= code.starts_with("#[cfg(test)]");
        if !own {
            for unfinished in ["todo!", "unimplemented!", "dbg!"] {
                if has_word(code, unfinished) {
                    found(&format!("`{unfinished}` is for work that is not done"));
                }
            }
        }
        if pure && !in_tests {
            for word in IMPURE.iter().filter(|word| has_word(code, word)) {
                found(&format!("`{word}` in a pure crate; take what it gives as an argument"));
            }
        }
        if no_sql && !in_tests {
            for statement in SQL.iter().filter(|statement| has_word(code, statement)) {
                found(&format!("`{}` belongs to the store", statement.trim()));
            }
        }
    }
    findings
}

/// Put together here, so that this file does not break its own rule.
fn machine_paths() -> [String; 4] {
    ["work", "root", "tmp", "home"].map(|dir| format!("/{dir}/"))
}

/// A path of a machine begins at its first slash; `a/tmp/b` and `..//tmp/` are not such.
fn begins_a_path(line: &str, at: usize) -> bool {
    !line[..at]
        .ends_with(|before: char| before.is_alphanumeric() || matches!(before, '/' | '.' | '_' | '-' | '}' | ')'))
}

/// True where `word` stands in `line` and is no part of a longer one.
fn has_word(line: &str, word: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    let opens = word.starts_with(part);
    let closes = word.ends_with(part);
    line.match_indices(word)
        .any(|(at, _)| !(opens && line[..at].ends_with(part)) && !(closes && line[at + word.len()..].starts_with(part)))
}

/// The bundler refuses what another version compiled.
fn bundler_version(manifest: &str, lock: &str) -> Vec<String> {
    let pinned = manifest
        .lines()
        .find_map(|line| line.strip_prefix("wasm-bindgen-cli-support = \"="))
        .map(|rest| rest.trim_end_matches('"'));
    let locked = lock
        .split("[[package]]")
        .find(|package| package.contains("name = \"wasm-bindgen\"\n"))
        .and_then(|package| package.lines().find_map(|line| line.strip_prefix("version = \"")))
        .map(|rest| rest.trim_end_matches('"'));
    if pinned.is_some() && pinned == locked {
        Vec::new()
    } else {
        let told = |version: Option<&str>| version.unwrap_or("none").to_owned();
        vec![format!(
            "Cargo.toml: wasm-bindgen-cli-support is pinned to {}, Cargo.lock has wasm-bindgen {}; they must be the same",
            told(pinned),
            told(locked)
        )]
    }
}

/// The program for a machine with no screen must not link a web view.
fn no_window_links(top: &Path) -> Result<Vec<String>, String> {
    let tree = read(crate::shell::cargo().current_dir(top).args([
        "tree",
        "--locked",
        "--package",
        "waywright",
        "--no-default-features",
        "--edges",
        "normal,build",
        "--prefix",
        "none",
        "--format",
        "{p}",
    ]))?;
    let tree = String::from_utf8_lossy(&tree);
    Ok(["tauri", "wry", "webkit2gtk", "gtk"]
        .iter()
        .filter(|name| tree.lines().any(|line| line.split(' ').next() == Some(name)))
        .map(|name| format!("src-tauri/Cargo.toml: without the feature `window` the app still builds on `{name}`"))
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str =
        "[package]\nname = \"plate\"\ndescription = \"x\"\nlicense.workspace = true\n[lints]\nworkspace = true\n";

    #[test]
    fn an_arrow_that_points_up_is_found_in_every_spelling() {
        for spelling in [
            "[dependencies]\nstore.workspace = true\n",
            "[dependencies]\nstore = { path = \"../store\" }\n",
            "[build-dependencies]\nstore = \"1\"\n",
            "[dependencies.store]\npath = \"../store\"\n",
            "[target.'cfg(unix)'.dependencies]\nstore.workspace = true\n",
        ] {
            let found = manifest_rules("plate", "p/Cargo.toml", &format!("{GOOD}{spelling}"), &["survey"]);
            assert_eq!(found.len(), 1, "{spelling}: {found:?}");
            assert!(found[0].contains("`plate` may not build on `store`"), "{found:?}");
        }
    }

    #[test]
    fn allowed_outside_and_test_dependencies_pass() {
        let manifest = format!(
            "{GOOD}[dependencies]\nsurvey.workspace = true\nserde = \"1\"\n[dev-dependencies]\nstore.workspace = true\n"
        );
        assert_eq!(manifest_rules("plate", "p/Cargo.toml", &manifest, &["survey"]), Vec::<String>::new());
    }

    #[test]
    fn a_manifest_without_licence_description_and_lints_is_found() {
        assert_eq!(manifest_rules("plate", "p/Cargo.toml", "[package]\nname = \"plate\"\n", &[]).len(), 3);
    }

    #[test]
    fn only_listed_names_stand_at_the_top() {
        assert_eq!(top_level(&["Cargo.toml", ".ci/run", "ui/src/main.rs"]), Vec::<String>::new());
        assert!(top_level(&["notes.md"])[0].starts_with("notes.md: "));
    }

    #[test]
    fn a_pure_crate_may_not_name_the_clock_but_may_speak_of_it() {
        let file = "src-tauri/survey/src/a.rs";
        assert_eq!(text_rules(file, "use std::time::Instant;\n").len(), 1);
        assert_eq!(text_rules(file, "let m: HashMap<u8, u8> = x;\n").len(), 1);
        assert_eq!(text_rules(file, "// No Instant here.\nlet Instantly = operand;\n"), Vec::<String>::new());
        assert_eq!(text_rules(file, "#[cfg(test)]\nmod tests {\n    use std::fs;\n}\n"), Vec::<String>::new());
        assert_eq!(text_rules("src-tauri/store/src/a.rs", "use std::time::Instant;\n"), Vec::<String>::new());
    }

    #[test]
    fn a_statement_outside_the_store_is_found() {
        let line = "db.execute(\"INSERT INTO boards\");\n";
        assert_eq!(text_rules("src-tauri/src/commands.rs", line).len(), 1);
        assert_eq!(text_rules("src-tauri/store/src/lib.rs", line), Vec::<String>::new());
    }

    #[test]
    fn unfinished_work_blanks_and_tabs_are_found() {
        assert_eq!(text_rules("ui/src/a.rs", &["to", "do!()\n"].concat()).len(), 1);
        assert_eq!(text_rules("ui/src/a.rs", "let a = 1; \n").len(), 1);
        assert_eq!(text_rules("ui/src/a.rs", "\tlet a = 1;\n").len(), 1);
        assert_eq!(text_rules("README.md", "two blanks  \n"), Vec::<String>::new());
    }

    #[test]
    fn a_path_of_one_machine_is_found_in_any_file() {
        for path in machine_paths() {
            assert_eq!(text_rules("README.md", &format!("see {path}main\n")).len(), 1, "{path}");
            assert_eq!(text_rules("README.md", &format!("see target{path}main\n")), Vec::<String>::new());
        }
    }

    #[test]
    fn the_bundler_must_be_of_the_locked_version() {
        let lock = "[[package]]\nname = \"wasm-bindgen\"\nversion = \"0.2.9\"\n\n[[package]]\nname = \"x\"\nversion = \"1.0.0\"\n";
        assert!(bundler_version("wasm-bindgen-cli-support = \"=0.2.9\"\n", lock).is_empty());
        assert_eq!(bundler_version("wasm-bindgen-cli-support = \"=0.2.8\"\n", lock).len(), 1);
        assert_eq!(bundler_version("", lock).len(), 1);
    }
}
