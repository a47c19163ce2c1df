//! A store on a medium that cannot be written: read, searched and exported from, never changed.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags};

use crate::env::Env;
use crate::error::StoreError;
use crate::open::{FORMAT, PATIENCE};
use crate::owner::{Owner, beside};
use crate::store::Store;

impl Store {
    /// Opens a store whose folder cannot be written. Nothing is written beside it; where its last changes are still
    /// in its journal, or it is of an older format, a copy in the system's own folder for such is brought up to date
    /// and read instead.
    ///
    /// # Errors
    /// As for [`Store::open`]; a damaged database is not set aside but told.
    pub fn open_read_only(path: &Path, mut env: Env) -> Result<Self, StoreError> {
        let journal = beside(path, "-wal");
        let settled = fs::metadata(&journal).map_or(0, |journal| journal.len()) == 0;
        if settled && let Some(db) = as_it_lies(path)? {
            return Self::on(db, env, [0; 16], None);
        }
        let folder = std::env::temp_dir().join(format!("waywright-{}", env.id()));
        let opened = copied(path, &journal, &folder, env);
        // Where it is still in use it stays until the system sweeps its folder.
        let _left = fs::remove_dir_all(&folder);
        opened
    }
}

impl Store {
    /// A second store on the same database, to read from at leisure while this one goes on being written; `None` where
    /// this one cannot be written either. What is read in one [`Store::batch`] is of one moment.
    ///
    /// # Errors
    /// The database cannot be opened a second time, or is no longer the one at its path.
    pub fn reader(&self) -> Result<Option<Self>, StoreError> {
        let Some(path) = self.db.path().filter(|path| !path.is_empty()) else { return Ok(None) };
        if self.db.is_readonly("main")? {
            return Ok(None);
        }
        let still_there = || self.owner.as_ref().map_or(Ok(()), Owner::check);
        still_there()?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(path, flags)?;
        db.execute_batch(include_str!("../sql/configure.sql"))?;
        db.busy_timeout(PATIENCE)?;
        // What was opened by its path is this database only if that is still at the path now.
        still_there()?;
        let now = chrono::DateTime::UNIX_EPOCH;
        Self::on(db, Env::new(move || now, uuid::Uuid::nil), [0; 16], None).map(Some)
    }
}

fn copied(path: &Path, journal: &Path, folder: &Path, env: Env) -> Result<Store, StoreError> {
    let failed = |source| StoreError::File { path: folder.to_owned(), source };
    let mut made = fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut made, 0o700);
    made.create(folder).map_err(failed)?;
    let copy = folder.join("waywright.db");
    fs::copy(path, &copy).map_err(failed)?;
    writable(&copy).map_err(failed)?;
    if journal.exists() {
        let copy = beside(&copy, "-wal");
        fs::copy(journal, &copy).map_err(failed)?;
        writable(&copy).map_err(failed)?;
    }
    // Opened and closed once, the journal is in the database and its format is ours.
    let now = chrono::DateTime::UNIX_EPOCH;
    drop(Store::open(&copy, Env::new(move || now, uuid::Uuid::nil))?);
    match as_it_lies(&copy)? {
        Some(db) => Store::on(db, env, [0; 16], None),
        None => Err(StoreError::Damaged("it is in no form that this version reads".to_owned())),
    }
}

/// A copy has the rights of what it was copied from.
fn writable(copy: &Path) -> std::io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(copy, fs::Permissions::from_mode(0o600))
    }
    #[cfg(not(unix))]
    {
        let mut rights = fs::metadata(copy)?.permissions();
        #[allow(clippy::permissions_set_readonly_false, reason = "the only way where there are no modes")]
        rights.set_readonly(false);
        fs::set_permissions(copy, rights)
    }
}

/// Opens a database that nobody changes; `None` where it is not of this version's format.
fn as_it_lies(path: &Path) -> Result<Option<Connection>, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    // The error names the address, which is nobody's name of the file.
    let db = Connection::open_with_flags(address(path), flags).map_err(|error| {
        let reason =
            error.sqlite_error_code().map_or_else(|| "cannot be opened".to_owned(), |code| format!("{code:?}"));
        StoreError::File { path: path.to_owned(), source: std::io::Error::other(reason) }
    })?;
    let found: i64 = db.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if found > i64::from(FORMAT) {
        let found = u32::try_from(found).unwrap_or(u32::MAX);
        return Err(StoreError::Newer { path: path.to_owned(), found, known: FORMAT });
    }
    if found < i64::from(FORMAT) {
        return Ok(None);
    }
    db.execute_batch(include_str!("../sql/configure.sql"))?;
    Ok(Some(db))
}

/// The path as SQLite's own kind of address, which says that the file does not change.
fn address(path: &Path) -> PathBuf {
    let mut address = String::from("file:");
    for byte in path.to_string_lossy().bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'_' | b'-' | b':' => address.push(byte.into()),
            // Writing into a String does not fail.
            _ => drop(write!(address, "%{byte:02x}")),
        }
    }
    address.push_str("?mode=ro&immutable=1");
    address.into()
}
