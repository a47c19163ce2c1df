//! `cargo xtask fuzz`: the readers of outside files and bytes under a fuzzer that follows their branches.
//!
//! The fuzzer comes with a library; the marks it follows are the stable compiler's own. A target's inputs are kept in
//! `tests/corpus`, and `cargo xtask test` gives all of them to the same functions.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use crate::shell::{cargo, program, read, root, run, say, target};

/// What the fuzzer can be let loose on, and the largest input made up for it, in bytes: twice or so what its seeds
/// have, since a longer one takes longer and reaches no more.
const TARGETS: &[(&str, u32)] = &[
    ("survey_file", 16_000),
    ("bundle", 12_000),
    ("photo", 4_000),
    ("changes", 12_000),
    ("patterns", 4_000),
    ("tables", 6_000),
    ("intents", 2_000),
];

/// The compiler's marks at every branch, as the fuzzer's library wants them.
const MARKS: &str = "--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
     -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
     -Cllvm-args=-simplifycfg-branch-fold-threshold=0";

/// One input may take so many seconds and so many megabytes.
const LONGEST: u32 = 20;
const MEMORY: u32 = 1500;

/// Runs each target asked for, or all of them, so many times; what was found new and worth it joins the kept inputs.
///
/// # Errors
/// Where it does not build, or an input crashes a target: the input is then kept in the target folder and named.
pub fn fuzz(args: &[String]) -> Result<ExitCode, String> {
    let (mut runs, mut wanted) = (1_000_000_u64, Vec::new());
    let mut rest = args.iter();
    while let Some(arg) = rest.next() {
        match arg.as_str() {
            "--runs" => {
                let number = rest.next().ok_or("--runs wants a number")?;
                runs = number.parse().map_err(|error| format!("--runs {number}: {error}"))?;
            }
            name => match TARGETS.iter().find(|(target, _)| *target == name) {
                Some(target) => wanted.push(*target),
                None => {
                    let names: Vec<&str> = TARGETS.iter().map(|(target, _)| *target).collect();
                    return Err(format!("`fuzz` takes --runs NUMBER and of {}; not `{name}`", names.join(", ")));
                }
            },
        }
    }
    let wanted = if wanted.is_empty() { TARGETS.to_vec() } else { wanted };
    let built = build()?;
    let mut failed = Vec::new();
    for (name, largest) in wanted {
        say(&format!("{name}: {runs} runs"));
        if let Err(error) = one(&built, name, largest, runs) {
            println!("{name}: {error}");
            failed.push(name);
        }
    }
    match failed.as_slice() {
        [] => Ok(ExitCode::SUCCESS),
        names => Err(format!("crashed: {}", names.join(", "))),
    }
}

/// Where the programs are.
fn build() -> Result<PathBuf, String> {
    let folder = target().join("fuzz");
    let host = host()?;
    let manifest = root().join("tests/fuzz/Cargo.toml");
    run(cargo()
        .env("CARGO_TARGET_DIR", &folder)
        .env("RUSTFLAGS", MARKS)
        .args(["build", "--release", "--locked", "--bins", "--target", &host, "--manifest-path"])
        .arg(manifest))?;
    Ok(folder.join(host).join("release"))
}

/// The machine's own target: marks are set only where one is named, so that what runs at build time has none.
fn host() -> Result<String, String> {
    let out = read(program("rustc").arg("-vV"))?;
    let text = String::from_utf8_lossy(&out);
    let host = text.lines().find_map(|line| line.strip_prefix("host: "));
    host.map(str::to_owned).ok_or_else(|| "rustc -vV names no host".to_owned())
}

fn one(built: &Path, name: &str, largest: u32, runs: u64) -> Result<(), String> {
    let kept = root().join("tests/corpus").join(name);
    let found = target().join("fuzz").join("found").join(name);
    let crashes = target().join("fuzz").join("crashes").join(name);
    for folder in [&kept, &found, &crashes] {
        fs::create_dir_all(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    }
    let fuzzer = |command: &mut Command| {
        command
            .arg(format!("-max_len={largest}"))
            .arg(format!("-timeout={LONGEST}"))
            .arg(format!("-rss_limit_mb={MEMORY}"))
            .arg(format!("-artifact_prefix={}/", crashes.display()));
    };
    let mut command = program(built.join(name));
    fuzzer(command.arg(&found).arg(&kept).arg(format!("-runs={runs}")).args(["-print_final_stats=1", "-verbosity=0"]));
    run(&mut command)?;
    // What reaches branches that no kept input reaches.
    let mut command = program(built.join(name));
    fuzzer(command.arg("-merge=1").arg(&kept).arg(&found).args(["-verbosity=0"]));
    run(&mut command)
}
