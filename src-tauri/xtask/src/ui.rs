//! The interface: compiled to wasm, bundled into `ui/dist`.

use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::machine;
use crate::shell::{cargo, has, program, read, root, run, say, target, works};

const TRIPLE: &str = "wasm32-unknown-unknown";

/// Largest bundle that a test run accepts, in bytes after gzip.
pub const LARGEST: usize = 600_000;

/// Sizes of the bundle, in bytes.
pub struct Sizes {
    /// The compiled interface.
    pub wasm: usize,
    /// All files, after gzip.
    pub packed: usize,
}

impl Sizes {
    /// One line for a person.
    pub fn print(&self) {
        say(&format!(
            "interface: {} kB of wasm, {} kB for all files after gzip (at most {} kB)",
            self.wasm.div_ceil(1000),
            self.packed.div_ceil(1000),
            LARGEST / 1000
        ));
    }
}

/// Which compiler makes wasm.
pub enum Compiler {
    /// The toolchain in use, with rustup's standard library for wasm.
    Rustup,
    /// Debian's compiler, with a linker that is of the same LLVM.
    Debian {
        /// The linker.
        linker: PathBuf,
    },
}

/// Finds or installs a compiler for wasm.
///
/// # Errors
/// Where there is neither, or `WAYWRIGHT_WASM` is not one of its two words.
pub fn compiler() -> Result<Compiler, String> {
    match std::env::var("WAYWRIGHT_WASM").as_deref() {
        Ok("rustup") => rustup().map(|()| Compiler::Rustup),
        Ok("debian") => debian(),
        Ok(other) => Err(format!("WAYWRIGHT_WASM is `{other}`; it may be `rustup` or `debian`")),
        Err(_) => match rustup() {
            Ok(()) => Ok(Compiler::Rustup),
            Err(why) => {
                say(&format!("{why}; using Debian's compiler"));
                debian()
            }
        },
    }
}

fn sysroot() -> Result<PathBuf, String> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let path = read(program(rustc).args(["--print", "sysroot"]))?;
    Ok(PathBuf::from(String::from_utf8_lossy(&path).trim()))
}

fn rustup() -> Result<(), String> {
    let sysroot = sysroot()?;
    if sysroot.join("lib/rustlib").join(TRIPLE).join("lib").is_dir() {
        return Ok(());
    }
    if !has("rustup") {
        return Err(format!("there is no rustup to add {TRIPLE} with"));
    }
    // A machine that cannot fetch it today will not at the next run: ask once for each toolchain.
    let memo = target().join("xtask").join("no-wasm-target");
    let name = sysroot.display().to_string();
    if fs::read_to_string(&memo).is_ok_and(|known| known == name) {
        return Err(format!("rustup could not add {TRIPLE} before ({} remembers it)", memo.display()));
    }
    say(&format!("adding {TRIPLE} with rustup"));
    if works(program("timeout").args(["120", "rustup", "target", "add", TRIPLE])) {
        return Ok(());
    }
    if let Some(dir) = memo.parent() {
        fs::create_dir_all(dir).map_err(|error| format!("{} cannot be made: {error}", dir.display()))?;
    }
    fs::write(&memo, name).map_err(|error| format!("{} cannot be written: {error}", memo.display()))?;
    Err(format!("rustup could not add {TRIPLE}"))
}

fn debian() -> Result<Compiler, String> {
    let ours = sysroot()?.join("lib/rustlib/x86_64-unknown-linux-gnu/bin/rust-lld");
    let linker = if ours.is_file() { Some(ours) } else { None };
    let mut packages = vec!["rustc-web", "cargo-web", "rust-web-src"];
    if linker.is_none() {
        packages.push("lld-22");
    }
    machine::ready(&[&packages])?;
    Ok(Compiler::Debian { linker: linker.unwrap_or_else(|| PathBuf::from("/usr/bin/lld-22")) })
}

/// Compiles and bundles; leaves everything alone that did not change.
///
/// # Errors
/// Where the interface does not compile, or `ui/dist` cannot be written.
pub fn build() -> Result<Sizes, String> {
    let compiler = compiler()?;
    say("compiling the interface");
    // Two compilers do not share a folder: each would rebuild what the other left.
    let (mut command, dir) = match &compiler {
        Compiler::Rustup => (cargo(), target().join("wasm")),
        Compiler::Debian { linker } => (debian_cargo(linker), target().join("wasm-debian")),
    };
    run(command
        .args(["build", "--package", "waywright-ui", "--target", TRIPLE, "--profile", "wasm-release", "--locked"])
        .arg("--target-dir")
        .arg(&dir))?;
    bundle(&dir.join(TRIPLE).join("wasm-release").join("waywright-ui.wasm"))
}

fn debian_cargo(linker: &Path) -> Command {
    let mut command = program("/usr/bin/cargo");
    for key in ["CARGO", "RUSTUP_TOOLCHAIN", "RUSTUP_HOME", "RUSTFLAGS", "CARGO_ENCODED_RUSTFLAGS", "RUSTDOC"] {
        command.env_remove(key);
    }
    command
        .env("RUSTC", "/usr/bin/rustc")
        // Building the standard library from source is not stable; this compiler comes without one for wasm.
        .env("RUSTC_BOOTSTRAP", "1")
        .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", linker)
        .arg("-Zbuild-std=std,panic_abort");
    command
}

/// Files of the page that are used as they are, with their names in the bundle.
fn pages() -> Result<Vec<(String, PathBuf)>, String> {
    let ui = root().join("ui");
    let mut files = Vec::new();
    let entries = fs::read_dir(&ui).map_err(|error| format!("ui cannot be read: {error}"))?;
    for entry in entries.flatten() {
        let path = entry.path();
        let used =
            path.extension().is_some_and(|end| ["html", "js", "css", "svg", "png"].iter().any(|kind| end == *kind));
        if let (true, Some(name)) = (used, path.file_name().and_then(|name| name.to_str())) {
            files.push((name.to_owned(), path));
        }
    }
    files.sort();
    Ok(files)
}

fn bundle(wasm: &Path) -> Result<Sizes, String> {
    let dist = root().join("ui").join("dist");
    let stamp_file = dist.join(".stamp");
    let bytes = |path: &Path| fs::read(path).map_err(|error| format!("{} cannot be read: {error}", path.display()));

    let pages = pages()?;
    let mut hash = DefaultHasher::new();
    bytes(wasm)?.hash(&mut hash);
    bytes(&root().join("src-tauri/xtask/Cargo.toml"))?.hash(&mut hash);
    bytes(&root().join("src-tauri/xtask/src/bundle.rs"))?.hash(&mut hash);
    for (name, path) in &pages {
        (name, bytes(path)?).hash(&mut hash);
    }
    let stamp = format!("{:016x}", hash.finish());
    let made = fs::read_to_string(&stamp_file).unwrap_or_default();
    if let Some(sizes) = made.strip_prefix(&format!("{stamp}\n")).and_then(read_sizes) {
        return Ok(sizes);
    }

    say("bundling the interface");
    let fresh = target().join("xtask").join("dist");
    let failed = |error: std::io::Error| format!("the bundle cannot be written: {error}");
    if fresh.exists() {
        fs::remove_dir_all(&fresh).map_err(failed)?;
    }
    fs::create_dir_all(&fresh).map_err(failed)?;
    // In a folder of its own: it neither waits for a build nor replaces this program while it runs.
    run(cargo()
        .args(["run", "--quiet", "--locked", "--package", "xtask", "--features", "bundle", "--target-dir"])
        .arg(target().join("xtask"))
        .args(["--", "bundle"])
        .args([wasm, &fresh]))?;
    for (name, path) in &pages {
        fs::copy(path, fresh.join(name)).map_err(failed)?;
    }
    let sizes = measure(&fresh)?;
    place(&fresh, &dist).map_err(failed)?;
    fs::write(&stamp_file, format!("{stamp}\n{} {}\n", sizes.wasm, sizes.packed)).map_err(failed)?;
    Ok(sizes)
}

fn read_sizes(text: &str) -> Option<Sizes> {
    let (wasm, packed) = text.trim().split_once(' ')?;
    Some(Sizes { wasm: wasm.parse().ok()?, packed: packed.parse().ok()? })
}

fn measure(dir: &Path) -> Result<Sizes, String> {
    let mut sizes = Sizes { wasm: 0, packed: 0 };
    for entry in fs::read_dir(dir).map_err(|error| format!("{} cannot be read: {error}", dir.display()))?.flatten() {
        let path = entry.path();
        sizes.packed += read(program("gzip").args(["-9", "-c"]).arg(&path))?.len();
        if path.extension().is_some_and(|end| end == "wasm") {
            sizes.wasm += entry.metadata().map_or(0, |data| usize::try_from(data.len()).unwrap_or(usize::MAX));
        }
    }
    Ok(sizes)
}

/// Makes `dist` equal to `fresh` and writes only what differs: the app is built anew where a file is newer.
fn place(fresh: &Path, dist: &Path) -> std::io::Result<()> {
    fs::create_dir_all(dist)?;
    for entry in fs::read_dir(dist)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            fs::remove_dir_all(entry.path())?;
        } else if !fresh.join(entry.file_name()).exists() {
            fs::remove_file(entry.path())?;
        }
    }
    place_files(fresh, dist)
}

fn place_files(fresh: &Path, dist: &Path) -> std::io::Result<()> {
    fs::create_dir_all(dist)?;
    for entry in fs::read_dir(fresh)? {
        let entry = entry?;
        let to = dist.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            place_files(&entry.path(), &to)?;
        } else {
            let bytes = fs::read(entry.path())?;
            if fs::read(&to).ok().as_deref() != Some(&bytes) {
                fs::write(&to, bytes)?;
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placing_drops_the_old_keeps_the_same_and_writes_the_new() {
        let dir = tempfile::tempdir().unwrap();
        let (fresh, dist) = (dir.path().join("fresh"), dir.path().join("dist"));
        fs::create_dir_all(fresh.join("snippets")).unwrap();
        fs::create_dir_all(&dist).unwrap();
        fs::write(fresh.join("same"), "1").unwrap();
        fs::write(fresh.join("changed"), "2").unwrap();
        fs::write(fresh.join("snippets/deep"), "3").unwrap();
        fs::write(dist.join("same"), "1").unwrap();
        fs::write(dist.join("changed"), "0").unwrap();
        fs::write(dist.join("gone"), "0").unwrap();
        let before = fs::metadata(dist.join("same")).unwrap().modified().unwrap();

        place(&fresh, &dist).unwrap();

        assert_eq!(fs::read_to_string(dist.join("changed")).unwrap(), "2");
        assert_eq!(fs::read_to_string(dist.join("snippets/deep")).unwrap(), "3");
        assert!(!dist.join("gone").exists());
        assert_eq!(fs::metadata(dist.join("same")).unwrap().modified().unwrap(), before);
    }

    #[test]
    fn sizes_are_read_back_from_the_stamp() {
        let sizes = read_sizes("1200 340\n").unwrap();
        assert_eq!((sizes.wasm, sizes.packed), (1200, 340));
        assert!(read_sizes("1200").is_none());
    }
}
