//! `cargo xtask test` and `cargo xtask bench`: every check, in order, with the time each takes.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use crate::shell::{Clock, cargo, root, run, say, target, watch};
use crate::{machine, tidy, ui};

/// One step of `cargo xtask test`.
pub struct Step {
    /// What `--only` and `--skip` call it.
    pub name: &'static str,
    what: &'static str,
    needs: Needs,
    run: fn(&mut Count) -> Result<(), String>,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Needs {
    Nothing,
    Interface,
    App,
}

/// The steps, quick ones first.
pub const STEPS: &[Step] = &[
    Step { name: "tidy", what: "house rules", needs: Needs::Nothing, run: |_| tidy::report() },
    Step { name: "fmt", what: "formatting", needs: Needs::Nothing, run: |_| fmt() },
    Step { name: "ui", what: "the interface's bundle and its size", needs: Needs::Nothing, run: |_| bundle() },
    Step { name: "clippy", what: "lints of all crates", needs: Needs::Interface, run: |_| clippy() },
    Step { name: "doc", what: "the crates' documentation", needs: Needs::Interface, run: |_| doc() },
    Step { name: "build", what: "the app and all tests", needs: Needs::Interface, run: |_| build() },
    Step { name: "unit", what: "tests beside the code", needs: Needs::App, run: unit },
    Step { name: "jobs", what: "whole jobs, outside references, faults", needs: Needs::App, run: jobs },
    Step {
        name: "browser",
        what: "the interface in a browser",
        needs: Needs::App,
        run: |count| screen(count, "browser"),
    },
    Step {
        name: "window",
        what: "the interface in its window",
        needs: Needs::App,
        run: |count| screen(count, "window"),
    },
];

/// Tests passed, failed and left out.
#[derive(Default)]
pub struct Count {
    passed: u64,
    failed: u64,
    skipped: u64,
}

impl Count {
    /// Adds up a line in which a test program tells its result; other lines change nothing.
    fn read(&mut self, line: &str) {
        let Some(result) = line.strip_prefix("test result: ") else { return };
        let Some((_, counts)) = result.split_once(". ") else { return };
        for part in counts.split("; ") {
            if let Some((number, word)) = part.trim().split_once(' ')
                && let Ok(number) = number.parse::<u64>()
            {
                match word {
                    "passed" => self.passed += number,
                    "failed" => self.failed += number,
                    "ignored" => self.skipped += number,
                    _ => {}
                }
            }
        }
    }

    fn line(&self) -> String {
        let line = format!("{} passed, {} failed", self.passed, self.failed);
        if self.skipped == 0 { line } else { format!("{line}, {} skipped", self.skipped) }
    }
}

/// Runs the steps asked for.
///
/// # Errors
/// Where a step's name is not known, or the machine cannot be set up.
pub fn test(args: &[String]) -> Result<ExitCode, String> {
    let (steps, whole) = chosen(args)?;
    let clock = Clock::start();
    let mut count = Count::default();
    let mut table = Vec::new();

    let most = steps.iter().map(|step| step.needs).max().unwrap_or(Needs::Nothing);
    if most > Needs::Nothing || steps.iter().any(|step| step.name == "ui") {
        machine::ready(&[machine::BUILD, machine::TEST])?;
    }
    machine::components()?;
    // A part of the steps asks for what the others would have made.
    if !whole {
        if most >= Needs::Interface {
            ui::build()?.print();
        }
        if most >= Needs::App && !steps.iter().any(|step| step.name == "build") {
            build()?;
        }
    }

    let mut built = true;
    for step in &steps {
        say(&format!("[{}] {}: {}", clock.told(), step.name, step.what));
        let own = Clock::start();
        let failed_before = count.failed;
        let result = if built || step.needs < Needs::App {
            (step.run)(&mut count)
        } else {
            Err("not run, because `build` failed".to_owned())
        };
        built &= step.name != "build" || result.is_ok();
        let word = match &result {
            Ok(()) => "ok",
            Err(_) => "FAILED",
        };
        match result {
            Ok(()) => count.passed += 1,
            Err(error) => {
                println!("{}: {error}", step.name);
                // The tests that failed are counted already.
                if count.failed == failed_before {
                    count.failed += 1;
                }
            }
        }
        let line = format!("{:<8} {word:<6} {:>6}", step.name, own.told());
        say(&line);
        table.push(line);
    }
    say(&format!("all steps, {} in all", clock.told()));
    println!("{}\n{}", table.join("\n"), count.line());
    Ok(if count.failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

fn chosen(args: &[String]) -> Result<(Vec<&'static Step>, bool), String> {
    let (mut only, mut skip) = (BTreeSet::new(), BTreeSet::new());
    let mut rest = args.iter();
    while let Some(arg) = rest.next() {
        let list = match arg.as_str() {
            "--only" => &mut only,
            "--skip" => &mut skip,
            other => return Err(format!("`test` takes no `{other}`; it takes --only STEP and --skip STEP")),
        };
        let name = rest.next().ok_or_else(|| format!("{arg} wants the name of a step"))?;
        if !STEPS.iter().any(|step| step.name == name) {
            let names: Vec<&str> = STEPS.iter().map(|step| step.name).collect();
            return Err(format!("there is no step `{name}`; the steps are {}", names.join(", ")));
        }
        list.insert(name.as_str());
    }
    let steps = STEPS
        .iter()
        .filter(|step| (only.is_empty() || only.contains(step.name)) && !skip.contains(step.name))
        .collect();
    Ok((steps, only.is_empty() && skip.is_empty()))
}

fn fmt() -> Result<(), String> {
    run(cargo().args(["fmt", "--all", "--check"]))
}

fn bundle() -> Result<(), String> {
    let sizes = ui::build()?;
    sizes.print();
    if sizes.packed <= ui::LARGEST {
        Ok(())
    } else {
        Err(format!("the interface is {} bytes after gzip; at most {} are wanted", sizes.packed, ui::LARGEST))
    }
}

// Every step below builds the whole workspace, so that shared crates have the same features and are built once.

fn clippy() -> Result<(), String> {
    run(cargo().args(["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"]))?;
    // Papers without the typesetter, which no build of the whole workspace leaves out.
    run(cargo().args(["clippy", "--package=papers", "--no-default-features", "--locked", "--", "-D", "warnings"]))
}

fn doc() -> Result<(), String> {
    run(cargo().env("RUSTDOCFLAGS", "-D warnings").args(["doc", "--workspace", "--no-deps", "--locked"]))
}

/// Examples too: a test kills one of them in the middle of its work.
fn build() -> Result<(), String> {
    run(cargo().args(["build", "--workspace", "--lib", "--bins", "--tests", "--examples", "--locked"]))
}

/// A test run of the whole workspace, with what the tests need to know.
fn tests() -> Result<Command, String> {
    let mut command = cargo();
    command
        .env("WAYWRIGHT_BIN", target().join("debug").join("waywright"))
        .env("WAYWRIGHT_PYTHON", machine::python()?)
        .args(["test", "--workspace", "--locked", "--no-fail-fast"]);
    Ok(command)
}

fn unit(count: &mut Count) -> Result<(), String> {
    let code = watch(tests()?.args(["--lib", "--bins"]), |line| count.read(line));
    let docs = watch(tests()?.arg("--doc"), |line| count.read(line));
    code.and(docs)
}

fn jobs(count: &mut Count) -> Result<(), String> {
    let mut command = tests()?;
    for name in test_programs(&root())?.iter().filter(|name| !SCREENS.contains(&name.as_str())) {
        command.args(["--test", name]);
    }
    if std::env::var_os(WHOLE).is_some() {
        // What was measured is what a long run is for.
        command.args(["--", "--show-output"]);
    }
    watch(&mut command, |line| count.read(line))
}

/// Where it is set, tests that have a long form run whole and show their figures.
const WHOLE: &str = "WAYWRIGHT_WHOLE";

/// Tests that need a display, and run one at a time.
const SCREENS: &[&str] = &["browser", "window"];

fn screen(count: &mut Count, name: &str) -> Result<(), String> {
    if !test_programs(&root())?.iter().any(|known| known == name) {
        return Err(format!("there is no tests/tests/{name}.rs"));
    }
    watch(tests()?.args(["--test", name, "--", "--test-threads", "1", "--nocapture"]), |line| count.read(line))
}

/// Names of the test programs of all crates.
fn test_programs(top: &Path) -> Result<BTreeSet<String>, String> {
    let failed = |error| format!("the tests cannot be listed: {error}");
    let mut dirs: Vec<PathBuf> = vec![top.join("tests/tests"), top.join("ui/tests"), top.join("src-tauri/tests")];
    for entry in fs::read_dir(top.join("src-tauri")).map_err(failed)? {
        dirs.push(entry.map_err(failed)?.path().join("tests"));
    }
    let mut names = BTreeSet::new();
    for dir in dirs.iter().filter(|dir| dir.is_dir()) {
        for entry in fs::read_dir(dir).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            let program = path.extension().is_some_and(|end| end == "rs") || path.join("main.rs").is_file();
            if let (true, Some(name)) = (program, path.file_stem().and_then(|name| name.to_str())) {
                names.insert(name.to_owned());
            }
        }
    }
    Ok(names)
}

/// Runs the benchmarks.
///
/// # Errors
/// Where one does not build or fails.
pub fn bench(args: &[String]) -> Result<ExitCode, String> {
    machine::ready(&[machine::BUILD, machine::TEST])?;
    ui::build()?.print();
    run(cargo().args(["build", "--release", "--workspace", "--bin", "waywright", "--locked"]))?;
    let app = target().join("release").join("waywright");
    let mut command = cargo();
    command.env("WAYWRIGHT_BIN", app).env("WAYWRIGHT_PYTHON", machine::python()?);
    run(command.args(["bench", "--workspace", "--benches", "--locked", "--"]).args(args))?;
    Ok(ExitCode::SUCCESS)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strings(args: &[&str]) -> Vec<String> {
        args.iter().map(|arg| (*arg).to_owned()).collect()
    }

    #[test]
    fn results_of_test_programs_add_up() {
        let mut count = Count::default();
        count.read("test result: ok. 12 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out; finished in 0.02s");
        count.read("test result: FAILED. 3 passed; 2 failed; 0 ignored; 0 measured; 0 filtered out; finished in 1s");
        count.read("test survey::a ... ok");
        assert_eq!(count.line(), "15 passed, 2 failed, 1 skipped");
    }

    #[test]
    fn steps_are_chosen_by_name_and_keep_their_order() {
        let names =
            |args: &[&str]| -> Vec<&str> { chosen(&strings(args)).unwrap().0.iter().map(|step| step.name).collect() };
        assert_eq!(names(&["--only", "fmt", "--only", "tidy"]), ["tidy", "fmt"]);
        assert_eq!(names(&["--skip", "window"]).len(), STEPS.len() - 1);
        assert!(chosen(&strings(&[])).unwrap().1);
        assert!(chosen(&strings(&["--only", "fuzz"])).is_err_and(|error| error.contains("`fuzz`")));
        assert!(chosen(&strings(&["--only"])).is_err());
    }

    #[test]
    fn test_programs_are_found_by_file_and_by_folder() {
        let dir = tempfile::tempdir().unwrap();
        fs::create_dir_all(dir.path().join("tests/tests/folder")).unwrap();
        fs::create_dir_all(dir.path().join("src-tauri/store/tests")).unwrap();
        fs::write(dir.path().join("tests/tests/folder/main.rs"), "").unwrap();
        fs::write(dir.path().join("tests/tests/browser.rs"), "").unwrap();
        fs::write(dir.path().join("src-tauri/store/tests/kill.rs"), "").unwrap();
        let names: Vec<String> = test_programs(dir.path()).unwrap().into_iter().collect();
        assert_eq!(names, ["browser", "folder", "kill"]);
    }
}
