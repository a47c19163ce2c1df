//! Starting other programs, and telling how long it took.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The top folder of the project.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here).to_path_buf()
}

/// Where cargo builds.
pub fn target() -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(dir) => root().join(dir),
        None => root().join("target"),
    }
}

/// A program in the top folder, without what cargo set for this one.
pub fn program(name: impl AsRef<OsStr>) -> Command {
    let mut command = Command::new(name);
    command.current_dir(root());
    for (key, _) in std::env::vars_os() {
        let own = key.to_str().is_some_and(|key| {
            key.starts_with("CARGO_PKG_") || key.starts_with("CARGO_MANIFEST_") || key == "LD_LIBRARY_PATH"
        });
        if own {
            command.env_remove(key);
        }
    }
    command
}

/// The cargo that runs this program.
pub fn cargo() -> Command {
    program(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

/// A command as it would be typed.
pub fn typed(command: &Command) -> String {
    let name = Path::new(command.get_program()).file_name().unwrap_or_default().to_string_lossy().into_owned();
    let args = command.get_args().map(|arg| arg.to_string_lossy().into_owned());
    std::iter::once(name).chain(args).collect::<Vec<_>>().join(" ")
}

/// Runs to the end, printing what it prints.
///
/// # Errors
/// Where it cannot be started or does not end well.
pub fn run(command: &mut Command) -> Result<(), String> {
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("`{}` ended with {status}", typed(command))),
        Err(error) => Err(format!("`{}` cannot be started: {error}", typed(command))),
    }
}

/// Runs quietly and gives what it printed.
///
/// # Errors
/// Where it cannot be started or does not end well.
pub fn read(command: &mut Command) -> Result<Vec<u8>, String> {
    let output = command.output().map_err(|error| format!("`{}` cannot be started: {error}", typed(command)))?;
    if output.status.success() {
        Ok(output.stdout)
    } else {
        let said = String::from_utf8_lossy(&output.stderr).trim().to_owned();
        Err(format!("`{}` ended with {}: {said}", typed(command), output.status))
    }
}

/// True where it starts and ends well; prints nothing.
pub fn works(command: &mut Command) -> bool {
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Runs to the end and passes on each line of standard output as it comes; `look` sees each, too.
///
/// # Errors
/// Where it cannot be started or does not end well.
pub fn watch(command: &mut Command, mut look: impl FnMut(&str)) -> Result<(), String> {
    let failed = |command: &Command, error| format!("`{}` cannot be run: {error}", typed(command));
    let mut child = command.stdout(Stdio::piped()).spawn().map_err(|error| failed(command, error))?;
    if let Some(stdout) = child.stdout.take() {
        let mut reader = BufReader::new(stdout);
        let mut line = Vec::new();
        // By bytes: a test may print what is not UTF-8.
        while reader.read_until(b'\n', &mut line).map_err(|error| failed(command, error))? > 0 {
            let mut out = std::io::stdout().lock();
            // A closed pipe at our end is no reason to leave the tests half run.
            let _ = out.write_all(&line).and_then(|()| out.flush());
            look(String::from_utf8_lossy(&line).trim_end());
            line.clear();
        }
    }
    match child.wait() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("`{}` ended with {status}", typed(command))),
        Err(error) => Err(failed(command, error)),
    }
}

/// True where `PATH` has such a program.
pub fn has(name: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|path| std::env::split_paths(&path).any(|dir| dir.join(name).is_file()))
}

/// Tells what begins, with the time since the start.
pub struct Clock(Instant);

impl Clock {
    /// Starts now.
    pub fn start() -> Self {
        Clock(Instant::now())
    }

    /// How long it has run, as minutes and seconds.
    pub fn told(&self) -> String {
        minutes(self.0.elapsed())
    }
}

/// Minutes and seconds.
pub fn minutes(time: Duration) -> String {
    format!("{}:{:02}", time.as_secs() / 60, time.as_secs() % 60)
}

/// A line of progress, apart from what the programs print.
pub fn say(line: &str) {
    println!("==> {line}");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_top_folder_is_found() {
        assert!(root().join("src-tauri").join("xtask").join("Cargo.toml").is_file());
    }

    #[test]
    fn a_failing_program_is_an_error_that_names_it() {
        let error = run(program("sh").args(["-c", "exit 3"])).unwrap_err();
        assert!(error.contains("sh -c exit 3") && error.contains('3'), "{error}");
    }

    #[test]
    fn watched_lines_arrive_one_by_one() {
        let mut lines = Vec::new();
        watch(program("printf").arg("a\\nb\\n"), |line| lines.push(line.to_owned())).unwrap();
        assert_eq!(lines, ["a", "b"]);
    }

    #[test]
    fn minutes_have_two_digits_of_seconds() {
        assert_eq!(minutes(Duration::from_secs(605)), "10:05");
    }
}
