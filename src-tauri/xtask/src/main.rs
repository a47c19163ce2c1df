//! Build helper behind `cargo xtask`: sets a machine up, builds, runs, tests and keeps the house rules.
//!
//! It needs nothing but the standard library, so that it starts at once on a bare machine.

// A build helper measures time; the bans are for code that must give the same answer everywhere.
#![allow(clippy::disallowed_methods)]

use std::process::ExitCode;

#[cfg(feature = "bundle")]
mod bundle;
mod fuzz;
mod machine;
mod run;
mod shell;
mod steps;
mod tidy;
mod ui;
mod words;

const HELP: &str = "\
cargo xtask COMMAND

  run [-- ARGS]     Installs what is missing, builds the interface and the app, and starts it on the demo survey.
                    With a display (DISPLAY or WAYLAND_DISPLAY) a window opens; without, the same interface is
                    served on a loopback address, which is printed. ARGS go to the app: `--data DIR` keeps its
                    data there instead of the user's data folder.
  serve [-- ARGS]   The same, but serves even where there is a display.
  test              Installs what is missing and runs every check, in this order:STEPS
                    Closes with the line `N passed, N failed` and fails when anything failed.
    --only STEP     Runs one step (may be given several times) and whatever it needs built.
    --skip STEP     Leaves a step out (may be given several times).
  tidy              The house rules alone: crate edges, licences, module docs, banned words, top level.
  ui                Builds the interface alone, into ui/dist, and prints its size.
  bench [-- ARGS]   Runs the benchmarks; ARGS go to criterion, for instance a part of a name.
  fuzz [TARGET…]    Lets a fuzzer loose on the readers of files and bytes from outside, a million inputs each; what it
                    found joins tests/corpus. `--runs NUMBER` takes another number.
  setup             Installs what `run` and `test` need, and no more.
  help              This text.

Missing Debian packages are installed without a question as root or with CI=true. Otherwise the one line to run is
printed. The interface is compiled with rustup's wasm32-unknown-unknown where that can be added, else with Debian's
compiler and its own source of the standard library. Environment:

  WAYWRIGHT_WASM    rustup | debian: which of the two compilers builds the interface.
  WAYWRIGHT_WHOLE   Set: `test --only jobs` runs the tests that have a long form whole, and shows what they measured.
  CARGO_TARGET_DIR  Where everything but the interface's bundle (ui/dist) and the tests' Python (.venv) is built.
";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match dispatch(&args) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("xtask: {error}");
            ExitCode::FAILURE
        }
    }
}

fn dispatch(args: &[String]) -> Result<ExitCode, String> {
    let (command, rest) = match args.split_first() {
        Some((command, rest)) => (command.as_str(), rest),
        None => ("help", args),
    };
    let (own, passed) = match rest.iter().position(|arg| arg == "--") {
        Some(at) => (&rest[..at], &rest[at + 1..]),
        None => (rest, &rest[rest.len()..]),
    };
    if own.iter().any(|arg| arg == "--help" || arg == "-h") {
        help();
        return Ok(ExitCode::SUCCESS);
    }
    if !["test", "bundle", "fuzz"].contains(&command) && !own.is_empty() {
        return Err(format!("`{command}` takes no `{}`; what is meant for the app goes after `--`", own[0]));
    }
    match command {
        "run" => run::run(passed, false),
        "serve" => run::run(passed, true),
        "test" => steps::test(own),
        "tidy" => tidy::report().map(|()| ExitCode::SUCCESS),
        "ui" => {
            machine::ready(&[machine::BUILD])?;
            ui::build()?.print();
            Ok(ExitCode::SUCCESS)
        }
        "bench" => steps::bench(passed),
        "fuzz" => fuzz::fuzz(own),
        "setup" => {
            machine::ready(&[machine::BUILD, machine::TEST])?;
            ui::compiler()?;
            machine::components()?;
            machine::python()?;
            Ok(ExitCode::SUCCESS)
        }
        "bundle" => bundle(own),
        "help" | "--help" | "-h" => {
            help();
            Ok(ExitCode::SUCCESS)
        }
        other => Err(format!("there is no command `{other}`; `cargo xtask help` lists them")),
    }
}

fn help() {
    let names: Vec<&str> = steps::STEPS.iter().map(|step| step.name).collect();
    print!("{}", HELP.replace("STEPS\n", &format!("\n                    {}.\n", names.join(", "))));
}

#[cfg(feature = "bundle")]
fn bundle(args: &[String]) -> Result<ExitCode, String> {
    match args {
        [wasm, out] => bundle::make(wasm.as_ref(), out.as_ref()).map(|()| ExitCode::SUCCESS),
        _ => Err("`bundle` takes the compiled interface and the folder to write to".to_owned()),
    }
}

#[cfg(not(feature = "bundle"))]
fn bundle(_args: &[String]) -> Result<ExitCode, String> {
    Err("`bundle` is a part of `cargo xtask ui`".to_owned())
}
