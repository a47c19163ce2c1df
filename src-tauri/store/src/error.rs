//! What can go wrong in a store.

use std::path::PathBuf;

use survey::Problem;
use uuid::Uuid;

use crate::document::DocumentError;

/// Why the store did not do what was asked. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The database was written by a newer version of the app.
    #[error("{path} was written by a newer version (format {found}; this version reads up to {known}): update the app")]
    Newer {
        /// The file, left as it was.
        path: PathBuf,
        /// Format of the file.
        found: u32,
        /// Newest format this version reads.
        known: u32,
    },
    /// The database is older than this version can bring up to date.
    #[error("{path} has format {found}; this version reads {oldest} and later: open it with an earlier version first")]
    TooOld {
        /// The file, left as it was.
        path: PathBuf,
        /// Format of the file.
        found: u32,
        /// Oldest format this version reads.
        oldest: u32,
    },
    /// The file is a database of something else.
    #[error("{path} is a database of another program: choose another place for the store")]
    Foreign {
        /// The file, left as it was.
        path: PathBuf,
    },
    /// The database is damaged; opening the store again sets it aside and recovers what it can.
    #[error("the database is damaged ({0}): close the app and open it again to recover what can be read")]
    Damaged(String),
    /// A damaged database cannot be recovered for want of room.
    #[error(
        "{path} is damaged ({reason}), and there is no room on its disk to recover it: make room for {} MB, then open it again. Nothing was changed",
        need.div_ceil(1024 * 1024)
    )]
    NoRoom {
        /// The database, left as it was.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
        /// Bytes that will do.
        need: u64,
    },
    /// Another process has the store open.
    #[error("{path} is open in {who}: {why}")]
    Held {
        /// The database.
        path: PathBuf,
        /// The other process, or what is known of it.
        who: String,
        /// Why it must end first.
        why: String,
    },
    /// The database or its log was renamed, deleted or replaced while it was open here.
    #[error(
        "{path} is no longer the file that was opened: it was renamed, deleted or replaced. This was not saved; what was saved before is in the file that was opened. Close the app, put the file back and open it again"
    )]
    Gone {
        /// The file.
        path: PathBuf,
        /// It is the database itself, not its log.
        database: bool,
        /// Another log is in its place.
        log_replaced: bool,
    },
    /// There is no such document.
    #[error("there is no {kind} {id} in this store")]
    NotFound {
        /// "board" or "site".
        kind: &'static str,
        /// Its id.
        id: Uuid,
    },
    /// A document of that id is there already.
    #[error("{kind} {id} is in this store already")]
    Exists {
        /// "board" or "site".
        kind: &'static str,
        /// Its id.
        id: Uuid,
    },
    /// A document is there but cannot be read as what it should be.
    #[error("document {id} cannot be read: {reason}")]
    Unreadable {
        /// Its id.
        id: Uuid,
        /// Why.
        reason: String,
    },
    /// The change was refused.
    #[error("refused: {}", shown(.0))]
    Refused(Vec<Problem>),
    /// There is nothing to undo or to redo.
    #[error("nothing to {0}")]
    Nothing(&'static str),
    /// The conflict is not there, or not with that value: it may have been settled meanwhile.
    #[error("no such value stands at {path}: look at the field again, it may be settled already")]
    NoConflict {
        /// The field.
        path: String,
    },
    /// A photo was refused.
    #[error("the photo cannot be taken in: {0}")]
    Photo(String),
    /// There is no such photo.
    #[error("the photo {0} is not in this store")]
    NoPhoto(String),
    /// The bytes of a photo are no longer those that were taken in.
    #[error("the photo {0} is damaged in this store: import a bundle that holds it, or take the picture file in again")]
    DamagedPhoto(String),
    /// A document refused.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// The database failed: disk full, no permission, in use.
    #[error("{}", of_database(.0))]
    Database(#[source] rusqlite::Error),
    /// The file system failed.
    #[error("{path}: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
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
        return format!(
            "the disk is full, or the store's files may not grow further ({error}): make room, then do it again. What was saved before is there"
        );
    }
    format!("the database failed: {error}")
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
