//! Files that are written whole or not at all.

use std::fs::File;
use std::io::Write;
use std::path::Path;

use api::ApiError;

use crate::error::failed;

/// Writes a file: to a neighbour first, flushed to the disk, then in its place.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), ApiError> {
    let told = |error: std::io::Error| failed(format!("{}: {error}", path.display()));
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(told)?;
    }
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    let part = path.with_file_name(name);
    let mut file = File::create(&part).map_err(told)?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(told)?;
    std::fs::rename(&part, path).map_err(told)
}

/// A name that every file system takes, from words a person typed.
pub(crate) fn safe_name(words: &str) -> String {
    let name: String = words
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '-' })
        .take(60)
        .collect();
    let name = name.trim_matches(['.', '-']).to_owned();
    if name.is_empty() { "unnamed".to_owned() } else { name }
}

/// Takes a file away; one that is not there is gone already.
pub(crate) fn remove(path: &Path) -> Result<(), ApiError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(failed(format!("{}: {error}", path.display())))
        }
        _ => Ok(()),
    }
}
