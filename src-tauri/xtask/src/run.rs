//! `cargo xtask run`: from a clone to the app on the demo survey.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::shell::{Clock, cargo, program, run as run_program, say, target};
use crate::{machine, ui};

/// Builds the app as the tests build it, so that neither waits for the other's work again.
///
/// # Errors
/// Where it does not compile.
pub fn app() -> Result<PathBuf, String> {
    say("building the app");
    // `--workspace` although only one program is wanted: features of shared crates are then the same in every step.
    run_program(cargo().args(["build", "--workspace", "--bin", "waywright", "--locked"]))?;
    Ok(target().join("debug").join("waywright"))
}

/// Sets the machine up, builds, and starts the app.
///
/// # Errors
/// Where any of it fails.
pub fn run(args: &[String], serve: bool) -> Result<ExitCode, String> {
    let clock = Clock::start();
    machine::ready(&[machine::BUILD])?;
    ui::build()?.print();
    let app = app()?;
    let set = |key| std::env::var_os(key).is_some_and(|value| !value.is_empty());
    let display = set("DISPLAY") || set("WAYLAND_DISPLAY");
    let mut command = program(&app);
    if display && !serve {
        say(&format!("built in {}; opening the window", clock.told()));
        command.args(["window", "--demo"]);
    } else {
        say(&format!("built in {}; serving in a browser's reach (Ctrl-C ends it)", clock.told()));
        command.args(["serve", "--demo", "--port", "0"]);
    }
    let status =
        command.args(args).status().map_err(|error| format!("{} cannot be started: {error}", app.display()))?;
    Ok(if status.success() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
