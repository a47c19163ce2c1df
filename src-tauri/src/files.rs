//! Files that are written whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use api::ApiError;

use survey::say;

use crate::error::{not_found, wrong_file};

/// Writes a file: to a neighbour first, flushed to the disk, then in its place.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), ApiError> {
    write_by(path, |file| file.write_all(bytes).map_err(|error| wrong_file(path, &error)))
}

/// The same for what is never whole in memory. A failure leaves what was there before, and no neighbour.
pub(crate) fn write_by<T>(path: &Path, work: impl FnOnce(&mut File) -> Result<T, ApiError>) -> Result<T, ApiError> {
    let told = |error: std::io::Error| wrong_file(path, &error);
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(told)?;
    }
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    let part = path.with_file_name(name);
    let mut file = File::create(&part).map_err(told)?;
    let written = work(&mut file).and_then(|done| {
        file.sync_all().map_err(told)?;
        fs::rename(&part, path).map_err(told)?;
        Ok(done)
    });
    if written.is_err() {
        let _left = fs::remove_file(&part);
    }
    written
}

/// True where a store is there and its folder or file cannot be written: another's, or on a medium that takes nothing.
pub(crate) fn cannot_be_written(folder: &Path, database: &Path) -> bool {
    let refused =
        |error: &std::io::Error| matches!(error.kind(), ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem);
    if !database.exists() {
        return false;
    }
    if OpenOptions::new().write(true).open(database).is_err_and(|error| refused(&error)) {
        return true;
    }
    // The journal is made beside it.
    let probe = folder.join(format!(".writable-{}", std::process::id()));
    let made = File::create(&probe);
    let _gone = fs::remove_file(&probe);
    made.is_err_and(|error| refused(&error))
}

/// Makes a folder that its owner alone can look into. One that is there stays as its owner made it.
pub(crate) fn private_folder(folder: &Path) -> Result<(), ApiError> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|error| wrong_file(folder, &error))
}

/// Leaves a database, made if need be, and what belongs to it to its owner alone; its journal gets the same rights.
pub(crate) fn private_database(database: &Path) -> Result<(), ApiError> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
        // One that was here and is gone is not replaced by an empty one: the store tells what is missing.
        let was_here = ["-wal", "-mark"].iter().any(|end| neighbour(database, end).exists());
        if database.exists() || !was_here {
            let made = OpenOptions::new().append(true).create(true).mode(0o600).open(database);
            made.map_err(|error| wrong_file(database, &error))?;
        }
        for end in ["", "-wal", "-shm", "-lock", "-mark", "-check"] {
            let path = neighbour(database, end);
            if let Ok(found) = fs::metadata(&path)
                && found.permissions().mode() & 0o077 != 0
            {
                // A file system without such rights has none to take.
                let _without = fs::set_permissions(&path, fs::Permissions::from_mode(0o600));
            }
        }
    }
    #[cfg(not(unix))]
    let _ = database;
    Ok(())
}

#[cfg(unix)]
fn neighbour(database: &Path, end: &str) -> PathBuf {
    let mut name = database.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Whether the process that a file on its way is named after has ended. One of our own number, too: this process has
/// made none yet. Where it cannot be seen, it may still run.
fn owner_is_dead(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let Some(process) = name.split_once('-').and_then(|(process, _)| process.parse::<u32>().ok()) else { return false };
    let processes = Path::new("/proc");
    processes.join("self").exists() && (process == std::process::id() || !processes.join(process.to_string()).exists())
}

/// Takes away what was left on its way by programs that have ended; where that cannot be seen, what is a day old.
pub(crate) fn sweep(folder: &Path) {
    const OLD: std::time::Duration = std::time::Duration::from_secs(24 * 3600);
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.flatten().map(|entry| entry.path()) {
        let age = fs::metadata(&path).and_then(|found| found.modified()).ok().and_then(|at| at.elapsed().ok());
        if owner_is_dead(&path) || age.is_some_and(|age| age > OLD) {
            // The next opening tries again.
            let _left = fs::remove_file(&path);
        }
    }
}

/// Reads a file of up to so many bytes; of a larger one, or of one without end, no more than that is read.
pub(crate) fn read(path: &Path, most: u64) -> Result<Vec<u8>, ApiError> {
    let file = File::open(path).map_err(|error| match error.kind() {
        ErrorKind::NotFound => not_found(&say!("cli-no-file", file = path.display().to_string())),
        _ => wrong_file(path, &error),
    })?;
    let length = file.metadata().map_err(|error| wrong_file(path, &error))?.len();
    let mut bytes = Vec::new();
    if length <= most {
        bytes.reserve_exact(usize::try_from(length).unwrap_or_default());
        file.take(most + 1).read_to_end(&mut bytes).map_err(|error| wrong_file(path, &error))?;
    }
    if length > most || bytes.len() as u64 > most {
        return Err(ApiError::refused(vec![survey::Problem::refused(
            path.display().to_string(),
            format!("{} bytes", length.max(bytes.len() as u64)),
            survey::say!("problem-large"),
            survey::say!("remedy-large", size = (most / 1024 / 1024).to_string()),
        )]));
    }
    Ok(bytes)
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
    match fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(wrong_file(path, &error)),
        _ => Ok(()),
    }
}
