//! Embeds the built interface (`ui/dist`) and, for the window, reads the shell's configuration.

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs};

/// Shown in place of an interface that is not built yet, so that the crate compiles from a clean clone.
const PLACEHOLDER: &str = "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<title>Waywright</title>\n\
     <p>The interface is not built into this program. Run: cargo xtask run</p>\n</html>\n";

fn main() -> Result<(), Box<dyn Error>> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("..");
    let dist = root.join("ui").join("dist");
    if !dist.join("index.html").is_file() {
        fs::create_dir_all(&dist)?;
        fs::write(dist.join("index.html"), PLACEHOLDER)?;
    }
    embed(&dist.canonicalize()?, &PathBuf::from(env::var("OUT_DIR")?).join("ui.rs"))?;

    #[cfg(feature = "window")]
    tauri_build::try_build(
        tauri_build::Attributes::new()
            .app_manifest(tauri_build::AppManifest::new().commands(&["call", "part", "take"])),
    )?;
    Ok(())
}

/// Writes `ui.rs`: the table of files that the host and the window serve.
fn embed(dist: &Path, table: &Path) -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed={}", dist.display());
    let mut files = Vec::new();
    walk(dist, &mut files)?;
    files.sort();
    let mut text = String::from(
        "/// The interface: path without leading slash, media type, bytes.\npub static UI: &[(&str, &str, &[u8])] = &[\n",
    );
    for file in files {
        let Some(name) = file.strip_prefix(dist)?.to_str().map(|name| name.replace('\\', "/")) else { continue };
        // The stamp of the last bundling is for the build alone.
        if name.starts_with('.') {
            continue;
        }
        let media = match file.extension().and_then(|end| end.to_str()) {
            Some("html") => "text/html; charset=utf-8",
            Some("js") => "text/javascript; charset=utf-8",
            Some("css") => "text/css; charset=utf-8",
            Some("wasm") => "application/wasm",
            Some("svg") => "image/svg+xml",
            Some("png") => "image/png",
            Some("ttf") => "font/ttf",
            Some("woff2") => "font/woff2",
            _ => "application/octet-stream",
        };
        writeln!(text, "    ({name:?}, {media:?}, include_bytes!({:?})),", file.display().to_string())?;
    }
    text.push_str("];\n");
    fs::write(table, text)?;
    Ok(())
}

fn walk(dir: &Path, files: &mut Vec<PathBuf>) -> Result<(), Box<dyn Error>> {
    for entry in fs::read_dir(dir)? {
        let path = entry?.path();
        if path.is_dir() { walk(&path, files)? } else { files.push(path) }
    }
    Ok(())
}
