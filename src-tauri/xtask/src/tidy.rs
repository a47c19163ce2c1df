//! House rules that neither the compiler nor clippy knows: which crate may use which, what a pure
//! crate may not touch, and what may lie where. Each problem names the file, the line and what would do.

use std::path::Path;
use std::{fmt, fs};

use crate::shell::{cargo, program, read, root};
use crate::words::Words;

/// Which workspace crates each crate may depend on. A new crate is added here first.
const EDGES: &[(&str, &[&str])] = &[
    ("api", &["survey"]),
    ("circuits", &["survey"]),
    ("exchange", &["store", "survey"]),
    ("hub", &["api"]),
    ("papers", &["circuits", "plate", "survey"]),
    ("plate", &["survey"]),
    ("store", &["survey"]),
    ("survey", &[]),
    ("waywright", &["api", "circuits", "exchange", "hub", "papers", "plate", "store", "survey"]),
    ("waywright-tests", &["api", "circuits", "exchange", "hub", "papers", "plate", "store", "survey", "waywright"]),
    ("waywright-fuzz", &["circuits", "exchange", "plate", "store", "survey"]),
    ("waywright-ui", &["api", "survey"]),
    ("xtask", &[]),
];

/// Crates that take data in and give data out.
const PURE: &[&str] = &["src-tauri/circuits/src/", "src-tauri/plate/src/", "src-tauri/survey/src/"];

/// What a pure crate may not name, and why.
const IMPURE: &[(&str, &str)] = &[
    ("SystemTime", "a clock: take the time as an argument"),
    ("Instant", "a clock: take the time as an argument"),
    ("Utc::now", "a clock: take the time as an argument"),
    ("Local::now", "a clock and a locale: take the time as an argument"),
    ("HashMap", "an order that changes from run to run: use BTreeMap"),
    ("HashSet", "an order that changes from run to run: use BTreeSet"),
    ("std::fs", "the disk: take the bytes as an argument"),
    ("std::net", "the network: take the bytes as an argument"),
    ("std::env", "the surroundings: take the value as an argument"),
    ("rand", "randomness: take the value as an argument"),
    ("now_v7", "a clock and randomness: take the id as an argument"),
    ("new_v4", "randomness: take the id as an argument"),
];

/// Crates whose commands and handlers hold no SQL.
const NO_SQL: &[&str] = &["src-tauri/src/", "src-tauri/hub/"];

const SQL: &[&str] = &["SELECT ", "INSERT INTO", "DELETE FROM", "CREATE TABLE", "UPDATE OR ", "PRAGMA ", "rusqlite"];

/// What may lie at the top, besides files and folders whose name begins with a dot.
const TOP: &[&str] =
    &["Cargo.lock", "Cargo.toml", "DEVELOPERS.md", "README.md", "seed-data", "src-tauri", "tests", "ui"];

/// Macros that must not be left behind. Split, so that this file does not match itself.
const LEFT_BEHIND: &[&str] = &[concat!("to", "do!"), concat!("unimple", "mented!"), concat!("db", "g!")];

/// Beginnings of paths that exist on one machine only.
const MACHINE_PATHS: &[&str] = &[
    concat!("/ro", "ot/"),
    concat!("/ho", "me/"),
    concat!("/wo", "rk/"),
    concat!("/tm", "p/"),
    concat!("/Us", "ers/"),
];

/// One breach of a rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// The file, from the root.
    pub(crate) path: String,
    /// The line, counted from 1; 0 for the file as a whole.
    pub(crate) line: usize,
    /// What is wrong and what would do.
    pub(crate) text: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => write!(f, "{}: {}", self.path, self.text),
            line => write!(f, "{}:{line}: {}", self.path, self.text),
        }
    }
}

/// Checks every rule and prints each breach.
///
/// # Errors
/// Where a rule is broken, or git or cargo cannot list what is there.
pub fn report() -> Result<(), String> {
    let problems = check(&root())?;
    for problem in &problems {
        println!("{problem}");
    }
    match problems.len() {
        0 => Ok(()),
        1 => Err("one house rule is broken".to_owned()),
        many => Err(format!("house rules are broken in {many} places")),
    }
}

/// Checks every file that git tracks or would add, and what cargo would link.
fn check(root: &Path) -> Result<Vec<Problem>, String> {
    let listed = read(
        program("git")
            .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard", "--deduplicate"])
            .current_dir(root),
    )?;
    let names = String::from_utf8_lossy(&listed);
    let mut problems = Vec::new();
    let mut words = Words::default();
    // A file that is deleted but not yet committed is still listed.
    for path in names.split('\0').filter(|name| !name.is_empty() && root.join(name).exists()) {
        // Bytes that are no text (images, archives) have nothing to read here.
        let Ok(text) = fs::read_to_string(root.join(path)) else {
            problems.extend(top_level(path));
            continue;
        };
        problems.extend(check_file(path, &text));
        words.read(path, &text);
    }
    problems.extend(words.problems());
    let text = |name: &str| fs::read_to_string(root.join(name)).map_err(|error| format!("{name}: {error}"));
    problems.extend(bundler_version(&text("Cargo.toml")?, &text("Cargo.lock")?));
    let tree = read(cargo().current_dir(root).args([
        "tree",
        "--locked",
        "--package=waywright",
        "--no-default-features",
        "--edges=normal,build",
        "--prefix=none",
        "--format={p}",
    ]))?;
    problems.extend(no_window(&String::from_utf8_lossy(&tree)));
    Ok(problems)
}

fn check_file(path: &str, text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    problems.extend(top_level(path));
    problems.extend(machine_paths(path, text));
    if path.ends_with("Cargo.toml") {
        problems.extend(manifest(path, text));
    }
    if path.ends_with(".rs") {
        problems.extend(docs(path, text));
        problems.extend(lines(path, text));
        problems.extend(purity(path, text));
        problems.extend(sql(path, text));
    }
    problems
}

fn top_level(path: &str) -> Option<Problem> {
    let top = path.split('/').next().unwrap_or(path);
    if top.starts_with('.') || TOP.contains(&top) {
        return None;
    }
    Some(Problem {
        path: path.into(),
        line: 0,
        text: format!("`{top}` does not belong at the top; only dot-files and {} do", TOP.join(", ")),
    })
}

fn manifest(path: &str, text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut section = String::new();
    let mut name = String::new();
    let mut licence = false;
    let mut lints = false;
    let mut uses = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.starts_with('[') {
            section = line.trim_matches(['[', ']']).to_owned();
            // `[dependencies.name]` is a dependency of its own.
            if let Some((kind, dependency)) = section.rsplit_once('.')
                && kind.ends_with("dependencies")
                && kind != "workspace.dependencies"
            {
                uses.push((index + 1, dependency.to_owned()));
            }
            continue;
        }
        let Some(end) = line.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_' || c == '-')) else { continue };
        let key = &line[..end];
        if key.is_empty() {
            continue;
        }
        if section == "package" {
            match key {
                "name" => name = line.split('"').nth(1).unwrap_or_default().to_owned(),
                "license" => licence = true,
                _ => {}
            }
        } else if section == "lints" {
            lints |= key == "workspace" && line.ends_with("true");
        } else if section.ends_with("dependencies") && section != "workspace.dependencies" {
            uses.push((index + 1, key.to_owned()));
        }
    }
    if name.is_empty() {
        return problems;
    }
    let report = |line, text| Problem { path: path.into(), line, text };
    if !licence {
        problems.push(report(0, "no licence field; write `license.workspace = true`".into()));
    }
    if !lints {
        problems.push(report(0, "the shared lints are off; write `[lints]` with `workspace = true`".into()));
    }
    let Some((_, allowed)) = EDGES.iter().find(|(crate_name, _)| *crate_name == name) else {
        problems.push(report(0, format!("crate `{name}` is not in the list of allowed edges in xtask/src/tidy.rs")));
        return problems;
    };
    for (line, used) in uses {
        let ours = EDGES.iter().any(|(crate_name, _)| *crate_name == used);
        if ours && !allowed.contains(&used.as_str()) {
            let may = if allowed.is_empty() { "none of the workspace".to_owned() } else { allowed.join(", ") };
            problems.push(report(line, format!("`{name}` may not depend on `{used}`; it may use {may}")));
        }
    }
    problems
}

fn docs(path: &str, text: &str) -> Option<Problem> {
    let first = text.lines().map(str::trim).find(|line| !line.is_empty() && !line.starts_with("#!["));
    match first {
        Some(line) if line.starts_with("//!") => None,
        _ => Some(Problem {
            path: path.into(),
            line: 1,
            text: "no module docs; say in a line of `//!` at the top what the file is for".into(),
        }),
    }
}

fn lines(path: &str, text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let mut report = |text: String| problems.push(Problem { path: path.into(), line: index + 1, text });
        if line.ends_with([' ', '\t']) {
            report("spaces at the end of the line".into());
        }
        if line.contains('\t') {
            report("a tab; use four spaces, or \\t in a text".into());
        }
        for left in LEFT_BEHIND {
            if has_word(code(line), left) {
                report(format!("`{left}` left behind; finish it or return an error"));
            }
        }
    }
    problems
}

fn purity(path: &str, text: &str) -> Vec<Problem> {
    if !PURE.iter().any(|pure| path.starts_with(pure)) {
        return Vec::new();
    }
    let mut problems = Vec::new();
    for (index, line) in shipped(text) {
        for (word, why) in IMPURE {
            if has_word(code(line), word) {
                problems.push(Problem {
                    path: path.into(),
                    line: index + 1,
                    text: format!("`{word}` in a pure crate: {why}"),
                });
            }
        }
    }
    problems
}

fn sql(path: &str, text: &str) -> Vec<Problem> {
    if !NO_SQL.iter().any(|dir| path.starts_with(dir)) {
        return Vec::new();
    }
    let mut problems = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if let Some(found) = SQL.iter().find(|sql| code(line).contains(**sql)) {
            problems.push(Problem {
                path: path.into(),
                line: index + 1,
                text: format!("`{}`: queries belong in the store crate", found.trim()),
            });
        }
    }
    problems
}

fn machine_paths(path: &str, text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, line) in text.lines().enumerate() {
        for machine in MACHINE_PATHS {
            let alone = line.match_indices(machine).any(|(at, _)| {
                // Part of a longer path or address otherwise.
                !line[..at].ends_with(|c: char| c.is_alphanumeric() || ['.', '_', '-', '/', '*', '}', ')'].contains(&c))
            });
            if alone {
                problems.push(Problem {
                    path: path.into(),
                    line: index + 1,
                    text: format!("`{machine}`: a path of one machine; make it relative, or ask the system for it"),
                });
            }
        }
    }
    problems
}

/// The bundler refuses what another version compiled.
fn bundler_version(manifest: &str, lock: &str) -> Option<Problem> {
    let version =
        |line: &str, before: &str| line.strip_prefix(before).map(|rest| rest.trim_end_matches('"').to_owned());
    let pinned = manifest.lines().find_map(|line| version(line, "wasm-bindgen-cli-support = \"="));
    let locked = lock
        .split("[[package]]")
        .find(|package| package.contains("name = \"wasm-bindgen\"\n"))
        .and_then(|package| package.lines().find_map(|line| version(line, "version = \"")));
    if pinned.is_some() && pinned == locked {
        return None;
    }
    let text = format!(
        "wasm-bindgen-cli-support is pinned to {}, Cargo.lock has wasm-bindgen {}; make them the same",
        pinned.as_deref().unwrap_or("no version"),
        locked.as_deref().unwrap_or("in no version")
    );
    Some(Problem { path: "Cargo.toml".into(), line: 0, text })
}

/// The program for a machine with no screen must not link a web view. `tree` is what it is built from, a package a line.
fn no_window(tree: &str) -> Vec<Problem> {
    ["gtk", "tauri", "typst", "webkit2gtk", "wry"]
        .iter()
        .filter(|name| tree.lines().any(|line| line.split(' ').next() == Some(name)))
        .map(|name| Problem {
            path: "src-tauri/Cargo.toml".into(),
            line: 0,
            text: format!("without its features the app still builds on `{name}`; make it optional"),
        })
        .collect()
}

/// The lines before the file's test module, with their index.
fn shipped(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let lines: Vec<&str> = text.lines().collect();
    let end = lines
        .windows(2)
        .position(|pair| pair[0].trim() == "#[cfg(test)]" && pair[1].trim_start().starts_with("mod "))
        .unwrap_or(lines.len());
    lines.into_iter().take(end).enumerate()
}

/// The line without its comment. A `//` inside a text cuts too much, which only misses what follows it.
fn code(line: &str) -> &str {
    line.find("//").map_or(line, |at| &line[..at])
}

/// Whether `word` stands in `line` and is no part of a longer name.
fn has_word(line: &str, word: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(word).any(|(at, _)| !line[..at].ends_with(part) && !line[at + word.len()..].starts_with(part))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(problems: impl IntoIterator<Item = Problem>) -> Vec<String> {
        problems.into_iter().map(|problem| problem.to_string()).collect()
    }

    #[test]
    fn a_crate_that_reaches_up_is_named() {
        let text = "[package]\nname = \"survey\"\nlicense.workspace = true\n[lints]\nworkspace = true\n\
                    [dependencies]\nserde.workspace = true\nstore.workspace = true\n";
        assert_eq!(
            said(manifest("src-tauri/survey/Cargo.toml", text)),
            ["src-tauri/survey/Cargo.toml:8: `survey` may not depend on `store`; it may use none of the workspace"]
        );
        let table = "[package]\nname = \"hub\"\nlicense = \"MIT\"\n[lints]\nworkspace = true\n\
                     [dev-dependencies.store]\nworkspace = true\n";
        assert_eq!(said(manifest("h", table)), ["h:6: `hub` may not depend on `store`; it may use api"]);
    }

    #[test]
    fn allowed_edges_and_outside_crates_pass() {
        let text = "[package]\nname = \"papers\"\nlicense.workspace = true\n[lints]\nworkspace = true\n\
                    [dependencies]\nplate.workspace = true\ntypst.workspace = true\n[dev-dependencies]\nuuid = \"1\"\n";
        assert_eq!(manifest("p", text), []);
        let root = "[workspace]\n[workspace.dependencies]\nstore = { path = \"src-tauri/store\" }\n";
        assert_eq!(manifest("Cargo.toml", root), []);
    }

    #[test]
    fn a_manifest_owes_a_licence_and_a_known_name() {
        let text = "[package]\nname = \"odd\"\n";
        let said = said(manifest("odd/Cargo.toml", text));
        assert!(said[0].contains("no licence field"), "{said:?}");
        assert!(said[1].contains("shared lints"), "{said:?}");
        assert!(said[2].contains("`odd` is not in the list"), "{said:?}");
    }

    #[test]
    fn module_docs_come_first() {
        assert_eq!(docs("a.rs", "#![no_main]\n//! For this.\n"), None);
        assert!(docs("a.rs", "use std::fmt;\n//! Late.\n").is_some());
        assert!(docs("a.rs", "").is_some());
    }

    #[test]
    fn leftovers_are_found_and_comments_are_not() {
        let text = format!("//! x\nfn f() {{ {}() }}\n// {}\nlet a = 1; \n\tb();\n", LEFT_BEHIND[0], LEFT_BEHIND[2]);
        let found: Vec<usize> = lines("a.rs", &text).iter().map(|problem| problem.line).collect();
        assert_eq!(found, [2, 4, 5]);
    }

    #[test]
    fn a_pure_crate_has_no_clock_and_no_hash_order() {
        let text = "use std::collections::HashMap;\nlet t = Instant::now();\nlet brand = operand(); // rand\n\
                    #[cfg(test)]\nmod tests { use std::collections::HashSet; }\n";
        let said = said(purity("src-tauri/plate/src/a.rs", text));
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(said[0].ends_with("use BTreeMap") && said[1].contains(":2: `Instant`"), "{said:?}");
        assert_eq!(purity("src-tauri/store/src/a.rs", text), []);
    }

    #[test]
    fn sql_stays_in_the_store() {
        let text = "let q = \"SELECT id FROM board\";\n";
        assert_eq!(sql("src-tauri/src/commands.rs", text).len(), 1);
        assert_eq!(sql("src-tauri/hub/src/lib.rs", text).len(), 1);
        assert_eq!(sql("src-tauri/store/src/lib.rs", text), []);
    }

    #[test]
    fn strangers_at_the_top_are_named() {
        assert_eq!(top_level("ui/src/main.rs"), None);
        assert_eq!(top_level(".ci/run"), None);
        assert!(top_level("notes/a.txt").is_some_and(|problem| problem.to_string().contains("`notes`")));
    }

    #[test]
    fn paths_of_one_machine_are_found_and_addresses_are_not() {
        let machine = format!("open(\"{}me/x\")", MACHINE_PATHS[1]);
        assert_eq!(machine_paths("README.md", &machine).len(), 1);
        let address = format!("https://example.org{}x and target{}y", MACHINE_PATHS[2], MACHINE_PATHS[3]);
        assert_eq!(machine_paths("README.md", &address), []);
    }

    #[test]
    fn the_bundler_must_be_of_the_locked_version() {
        let lock = "[[package]]\nname = \"wasm-bindgen\"\nversion = \"0.2.9\"\n\n[[package]]\nname = \"x\"\nversion = \"1.0.0\"\n";
        assert_eq!(bundler_version("wasm-bindgen-cli-support = \"=0.2.9\"\n", lock), None);
        assert!(bundler_version("wasm-bindgen-cli-support = \"=0.2.8\"\n", lock).is_some());
        assert!(bundler_version("", "").is_some());
    }

    #[test]
    fn a_web_view_without_the_window_is_found() {
        assert_eq!(no_window("waywright v0.1.0\nserde v1.0.0\ntauri-utils v2.0.0\n"), []);
        assert_eq!(no_window("waywright v0.1.0\nwry v0.57.1\n").len(), 1);
    }
}
