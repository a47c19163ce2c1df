//! What can go wrong in a store.

use std::path::PathBuf;

use survey::{Argument, Problem, say};
use uuid::Uuid;

use crate::document::DocumentError;

/// Why the store did not do what was asked. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The database was written by a newer version of the app.
    #[error("{words}", words = say!("store-newer", path = .path.display().to_string(), found = .found.to_string(), known = .known.to_string()))]
    Newer {
        /// The file, left as it was.
        path: PathBuf,
        /// Format of the file.
        found: u32,
        /// Newest format this version reads.
        known: u32,
    },
    /// The database is older than this version can bring up to date.
    #[error("{words}", words = say!("store-too-old", path = .path.display().to_string(), found = .found.to_string(), oldest = .oldest.to_string()))]
    TooOld {
        /// The file, left as it was.
        path: PathBuf,
        /// Format of the file.
        found: u32,
        /// Oldest format this version reads.
        oldest: u32,
    },
    /// The file is a database of something else.
    #[error("{words}", words = say!("store-foreign", path = .path.display().to_string()))]
    Foreign {
        /// The file, left as it was.
        path: PathBuf,
    },
    /// The database is damaged; opening the store again sets it aside and recovers what it can.
    #[error("{words}", words = say!("store-damaged", why = .0.clone()))]
    Damaged(String),
    /// A damaged database cannot be recovered for want of room.
    #[error("{words}", words = say!(
        "store-no-room",
        path = .path.display().to_string(),
        why = .reason.clone(),
        need = .need.div_ceil(1024 * 1024).to_string()
    ))]
    NoRoom {
        /// The database, left as it was.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
        /// Bytes that will do.
        need: u64,
    },
    /// Another process has the store open.
    #[error("{words}", words = say!("store-held", path = .path.display().to_string(), who = .who.clone(), why = .why.clone()))]
    Held {
        /// The database.
        path: PathBuf,
        /// The other process, or what is known of it.
        who: String,
        /// Why it must end first.
        why: String,
    },
    /// The database or its log was renamed, deleted or replaced while it was open here.
    #[error("{words}", words = say!("store-gone", path = .path.display().to_string()))]
    Gone {
        /// The file.
        path: PathBuf,
        /// It is the database itself, not its log.
        database: bool,
        /// Another log is in its place.
        log_replaced: bool,
    },
    /// There is no such document.
    #[error("{words}", words = say!("store-not-found", kind = choice(.kind), id = .id.to_string()))]
    NotFound {
        /// "board" or "site".
        kind: &'static str,
        /// Its id.
        id: Uuid,
    },
    /// A document of that id is there already.
    #[error("{words}", words = say!("store-exists", kind = choice(.kind), id = .id.to_string()))]
    Exists {
        /// "board" or "site".
        kind: &'static str,
        /// Its id.
        id: Uuid,
    },
    /// A document is there but cannot be read as what it should be.
    #[error("{words}", words = say!("store-unreadable", id = .id.to_string(), why = .reason.clone()))]
    Unreadable {
        /// Its id.
        id: Uuid,
        /// Why.
        reason: String,
    },
    /// The change was refused.
    #[error("{words}", words = say!("store-refused", problems = shown(.0)))]
    Refused(Vec<Problem>),
    /// There is nothing to undo or to redo.
    #[error("{words}", words = say!("store-nothing", what = choice(.0)))]
    Nothing(&'static str),
    /// The conflict is not there, or not with that value: it may have been settled meanwhile.
    #[error("{words}", words = say!("store-no-conflict", path = .path.clone()))]
    NoConflict {
        /// The field.
        path: String,
    },
    /// A photo was refused.
    #[error("{words}", words = say!("store-photo", why = .0.clone()))]
    Photo(survey::Message),
    /// There is no such photo.
    #[error("{words}", words = say!("store-no-photo", hash = .0.clone()))]
    NoPhoto(String),
    /// The bytes of a photo are no longer those that were taken in.
    #[error("{words}", words = say!("store-damaged-photo", hash = .0.clone()))]
    DamagedPhoto(String),
    /// A document refused.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// The database failed: disk full, no permission, in use.
    #[error("{}", of_database(.0))]
    Database(#[source] rusqlite::Error),
    /// The file system failed.
    #[error("{words}", words = say!("store-file", path = .path.display().to_string(), why = .source.to_string()))]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

const fn choice(kind: &&'static str) -> Argument {
    Argument::Choice(kind)
}

/// The disk is full, or no file may grow further.
pub(crate) fn is_no_room(error: &rusqlite::Error) -> bool {
    use rusqlite::ffi::{SQLITE_IOERR_SHMSIZE, SQLITE_IOERR_TRUNCATE, SQLITE_IOERR_WRITE};
    error.sqlite_error_code() == Some(rusqlite::ErrorCode::DiskFull)
        || error.sqlite_error().is_some_and(|error| {
            [SQLITE_IOERR_WRITE, SQLITE_IOERR_TRUNCATE, SQLITE_IOERR_SHMSIZE].contains(&error.extended_code)
        })
}

fn of_database(error: &rusqlite::Error) -> String {
    if is_no_room(error) {
        return say!("store-disk-full", why = error.to_string()).to_string();
    }
    say!("store-failed", why = error.to_string()).to_string()
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        if is_damage(&error) { Self::Damaged(error.to_string()) } else { Self::Database(error) }
    }
}

/// True where the database file itself is at fault, or the disk it is on where it is read.
fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
    use rusqlite::ffi::{SQLITE_IOERR_READ, SQLITE_IOERR_SHORT_READ};
    let reading =
        |error: &rusqlite::ffi::Error| [SQLITE_IOERR_READ, SQLITE_IOERR_SHORT_READ].contains(&error.extended_code);
    matches!(error.sqlite_error_code(), Some(DatabaseCorrupt | NotADatabase))
        || error.sqlite_error().is_some_and(reading)
}

fn shown(problems: &[Problem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_disk_is_told_as_that_with_what_to_do() {
        use rusqlite::ffi::{SQLITE_FULL, SQLITE_IOERR_READ, SQLITE_IOERR_WRITE};
        let said = |code| {
            let cause = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(code), None);
            StoreError::Database(cause).to_string()
        };
        for code in [SQLITE_FULL, SQLITE_IOERR_WRITE] {
            let words = said(code);
            assert!(words.contains("the disk is full") && words.contains("make room"), "{words}");
        }
        assert!(!said(SQLITE_IOERR_READ).contains("full"));
    }
}
