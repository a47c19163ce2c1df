//! What a bare Debian machine lacks: packages, parts of the toolchain, the tests' Python.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;
use std::process::Command;

use crate::shell::{has, program, read, root, run, say, works};

/// Debian packages that the app and the interface are built with.
pub const BUILD: &[&str] =
    &["build-essential", "ca-certificates", "libwebkit2gtk-4.1-dev", "librsvg2-dev", "pkg-config"];

/// Debian packages that the tests use besides.
pub const TEST: &[&str] =
    &["chromium", "chromium-driver", "fonts-dejavu-core", "poppler-utils", "python3-venv", "webkit2gtk-driver", "xvfb"];

/// Installs the packages that are missing.
///
/// # Errors
/// Where something is missing and may not be installed without asking: the error is the line to run.
pub fn ready(groups: &[&[&str]]) -> Result<(), String> {
    if !has("dpkg-query") {
        say("no Debian here: what is missing will show as a failing step (packages are listed in DEVELOPERS.md)");
        return Ok(());
    }
    let missing: Vec<&str> =
        groups.iter().flat_map(|group| group.iter().copied()).filter(|name| !installed(name)).collect();
    if missing.is_empty() {
        return Ok(());
    }
    install(&missing)
}

fn installed(package: &str) -> bool {
    read(program("dpkg-query").args(["-W", "-f", "${db:Status-Status}", package]))
        .is_ok_and(|status| status == b"installed")
}

fn install(packages: &[&str]) -> Result<(), String> {
    let list = packages.join(" ");
    let root_user = read(program("id").arg("-u")).is_ok_and(|id| id.trim_ascii() == b"0");
    let ci = std::env::var("CI").is_ok_and(|value| value == "true");
    if !root_user && !ci {
        return Err(format!(
            "some packages are missing. Run this line, then the same command again:\n  \
             sudo apt-get update && sudo apt-get install -y --no-install-recommends {list}"
        ));
    }
    say(&format!("installing {list}"));
    run(apt(root_user).args(["-q", "update"]))?;
    run(apt(root_user).args(["-q", "-y", "--no-install-recommends", "install"]).args(packages))
}

fn apt(root_user: bool) -> Command {
    if root_user {
        let mut command = program("apt-get");
        command.env("DEBIAN_FRONTEND", "noninteractive");
        command
    } else {
        let mut command = program("sudo");
        command.args(["-n", "DEBIAN_FRONTEND=noninteractive", "apt-get"]);
        command
    }
}

/// Adds the formatter and the linter where the toolchain came without them.
///
/// # Errors
/// Where they are missing and rustup cannot add them.
pub fn components() -> Result<(), String> {
    for (name, tool) in [("rustfmt", "fmt"), ("clippy", "clippy")] {
        if !works(crate::shell::cargo().args([tool, "--version"])) {
            say(&format!("adding {name}"));
            run(program("rustup").args(["component", "add", name]))?;
        }
    }
    Ok(())
}

/// The Python that the tests check papers with: `.venv`, made anew when `tests/requirements.txt` changes.
///
/// # Errors
/// Where there is no Python, or a package cannot be installed.
pub fn python() -> Result<PathBuf, String> {
    let venv = root().join(".venv");
    let python = venv.join("bin").join("python");
    let wanted = std::fs::read(root().join("tests").join("requirements.txt")).unwrap_or_default();
    let mut hash = DefaultHasher::new();
    wanted.hash(&mut hash);
    let stamp = format!("{:016x}", hash.finish());
    let stamp_file = venv.join(".requirements");
    if python.exists() && std::fs::read_to_string(&stamp_file).is_ok_and(|old| old == stamp) {
        return Ok(python);
    }
    say("making .venv for tests/requirements.txt");
    // Debian splits the part that makes environments off; any other python3 that is first in the path has it.
    if !works(program("python3").args(["-c", "import ensurepip, venv"])) {
        install(&["python3", "python3-venv"])?;
    }
    run(program("python3").args(["-m", "venv", "--clear"]).arg(&venv))?;
    if !wanted.is_empty() {
        run(program(&python).args(["-m", "pip", "install", "--quiet", "--requirement", "tests/requirements.txt"]))?;
    }
    std::fs::write(&stamp_file, stamp).map_err(|error| format!(".venv cannot be written: {error}"))?;
    Ok(python)
}
