//! Opening: new, old, newer, foreign and damaged databases.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fmt;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::types::FromSql;
use rusqlite::{Connection, OpenFlags, Row};
use uuid::Uuid;

use crate::document::Doc;
use crate::env::Env;
use crate::error::{StoreError, is_damage};
use crate::store::{Kind, Loaded, Store};

/// Format of a database that is still empty.
const START_FORMAT: u32 = 0;
/// Oldest format that is brought up to date.
pub const OLDEST_FORMAT: u32 = 1;
/// Format written by this version.
pub const FORMAT: u32 = 2;

/// Steps from one format to the next. Never altered once released.
const MIGRATIONS: [(u32, &str); FORMAT as usize] =
    [(1, include_str!("../migrations/001_init.sql")), (2, include_str!("../migrations/002_own.sql"))];

/// Marks a database as ours ("WAYW").
const APPLICATION_ID: u32 = 0x5741_5957;

/// Databases up to this many bytes are checked through at every opening; a larger one only where
/// it is asked for, since photos make that slow.
const CHECKED_SIZE: i64 = 32 * 1024 * 1024;

/// What is found of a document: its kind, its snapshot, its changes.
type Pieces = (Option<Kind>, Vec<u8>, Vec<Vec<u8>>);

/// A store just opened.
#[derive(Debug)]
pub struct Opened {
    /// The store.
    pub store: Store,
    /// A damaged database was found in its place, and this was done about it.
    pub set_aside: Option<SetAside>,
    /// Documents that were being taken in when the app was last ended: see
    /// [`Store::merge_waiting`].
    pub waiting: usize,
}

/// A damaged database, and what was recovered from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Where it is now, byte by byte as it was.
    pub path: PathBuf,
    /// What is wrong with it.
    pub reason: String,
    /// Documents recovered.
    pub documents: usize,
    /// Changes recovered.
    pub changes: usize,
    /// Photos recovered.
    pub photos: usize,
    /// What could be seen but not recovered, a line each.
    pub lost: Vec<String>,
}

impl fmt::Display for SetAside {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { path, reason, documents, changes, photos, lost } = self;
        write!(
            out,
            "the database was damaged ({reason}) and is now {}; {documents} boards and sites with {changes} changes \
             and {photos} photos were recovered from it",
            path.display()
        )?;
        if !lost.is_empty() {
            let first: Vec<&str> = lost.iter().take(5).map(String::as_str).collect();
            write!(out, "; not recovered: {}", first.join(", "))?;
            if lost.len() > first.len() {
                write!(out, " and {} more", lost.len() - first.len())?;
            }
        }
        Ok(())
    }
}

impl Store {
    /// Opens a store, or makes a new one. A damaged database is renamed, left as it is, and what
    /// can be read of it is brought into a fresh one.
    ///
    /// # Errors
    /// [`StoreError::Newer`], [`StoreError::TooOld`], [`StoreError::Foreign`]: the file is left as
    /// it is. [`StoreError::File`], [`StoreError::Database`]: no permission, disk full, in use.
    pub fn open(path: &Path, env: Env) -> Result<Opened, StoreError> {
        Self::open_with(path, env, false)
    }

    /// The same, checking the database from end to end however large it is.
    ///
    /// # Errors
    /// As for [`Self::open`].
    pub fn open_checked(path: &Path, env: Env) -> Result<Opened, StoreError> {
        Self::open_with(path, env, true)
    }

    fn open_with(path: &Path, mut env: Env, thorough: bool) -> Result<Opened, StoreError> {
        let reason = match look(path)? {
            Look::Damaged(reason) => Some(reason),
            Look::Fine => match connect(path, thorough) {
                Ok(db) => {
                    let store = Self::on(db, env)?;
                    let waiting = store.waiting()?;
                    return Ok(Opened { store, set_aside: None, waiting });
                }
                Err(StoreError::Damaged(reason)) => Some(reason),
                Err(error) => return Err(error),
            },
        };
        let aside = set_aside(path, &mut env)?;
        let mut store = Self::on(connect(path, false)?, env)?;
        let mut report = SetAside {
            path: aside,
            reason: reason.unwrap_or_default(),
            documents: 0,
            changes: 0,
            photos: 0,
            lost: Vec::new(),
        };
        let copy = beside(path, ".recovering");
        store.recover(&copy, &mut report);
        for end in ["", "-wal", "-shm"] {
            // A scratch copy; if it cannot be taken away it does no harm.
            let _left = fs::remove_file(beside(&copy, end));
        }
        Ok(Opened { store, set_aside: Some(report), waiting: 0 })
    }

    /// A store that lives in memory and is gone with the process.
    ///
    /// # Errors
    /// The database failed.
    pub fn in_memory(env: Env) -> Result<Self, StoreError> {
        let db = Connection::open_in_memory()?;
        configure(&db)?;
        migrate(&db, Path::new("memory"))?;
        Self::on(db, env)
    }

    /// Brings what can be read of a damaged database in here.
    fn recover(&mut self, copy: &Path, report: &mut SetAside) {
        let aside = report.path.clone();
        for end in ["", "-wal"] {
            let from = beside(&aside, end);
            if from.exists()
                && let Err(error) = fs::copy(&from, beside(copy, end))
            {
                report.lost.push(format!("nothing could be recovered: {error}"));
                return;
            }
        }
        let old = match Connection::open(copy) {
            Ok(old) => old,
            Err(error) => {
                report.lost.push(format!("nothing could be recovered: {error}"));
                return;
            }
        };
        let mut documents: BTreeMap<Uuid, Pieces> = BTreeMap::new();
        let lost = rows(&old, "documents", "id, kind, snapshot", |row| {
            let (id, kind, snapshot) = (id_of(row, 1)?, row.get::<_, String>(2)?, get(row, 3)?);
            documents.insert(id, (Kind::read(&kind), snapshot, Vec::new()));
            Ok(())
        });
        report.lost.extend(lost);
        let lost = rows(&old, "changes", "document, bytes", |row| {
            documents.entry(id_of(row, 1)?).or_default().2.push(get(row, 2)?);
            Ok(())
        });
        report.lost.extend(lost);
        for (id, (kind, snapshot, changes)) in documents {
            match self.recover_document(id, kind, &snapshot, changes) {
                Ok((changes, lost)) => {
                    report.documents += 1;
                    report.changes += changes;
                    if lost > 0 {
                        report.lost.push(format!("document {id}: {lost} changes"));
                    }
                }
                Err(error) => report.lost.push(error.to_string()),
            }
        }
        let mut seen = BTreeSet::new();
        let lost = rows(&old, "photo_bytes", "hash, bytes", |row| {
            let (hash, bytes): (String, Vec<u8>) = (row.get(1)?, get(row, 2)?);
            seen.insert(hash.clone());
            // A photo whose bytes no longer give its hash is not that photo.
            if crate::photo::sha256(&bytes) == hash && self.add_photo(&bytes).is_ok() {
                report.photos += 1;
                seen.remove(&hash);
            }
            Ok(())
        });
        report.lost.extend(lost);
        report.lost.extend(seen.iter().map(|hash| format!("photo {hash}")));
    }

    fn recover_document(
        &mut self,
        id: Uuid,
        kind: Option<Kind>,
        snapshot: &[u8],
        changes: Vec<Vec<u8>>,
    ) -> Result<(usize, usize), StoreError> {
        let mut doc = Doc::new(&self.actor);
        if let Ok(whole) = Doc::load(snapshot, &self.actor)
            && !snapshot.is_empty()
        {
            doc = whole;
        }
        let all: Vec<&[u8]> = changes.iter().map(Vec::as_slice).collect();
        let mut tried = doc.clone();
        let lost = match tried.apply(all) {
            Ok(_) => {
                doc = tried;
                0
            }
            Err(_) => doc.apply_what_can(changes),
        };
        let kind = kind.unwrap_or_else(|| if doc.value("/supply").is_some() { Kind::Board } else { Kind::Site });
        let changes = doc.changes_since(&[]);
        let loaded = Loaded::new(id, kind, doc)?;
        self.write(|store| store.append(&loaded, &changes))?;
        Ok((changes.len(), lost))
    }
}

enum Look {
    Fine,
    Damaged(String),
}

/// Looks at the head of the file without opening it as a database, so a file that is not for this
/// version is not touched at all.
fn look(path: &Path) -> Result<Look, StoreError> {
    let failed = |source| StoreError::File { path: path.to_owned(), source };
    let mut head = Vec::new();
    match fs::File::open(path) {
        Ok(file) => file.take(100).read_to_end(&mut head).map_err(failed)?,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Look::Fine),
        Err(error) => return Err(failed(error)),
    };
    if head.is_empty() {
        return Ok(Look::Fine);
    }
    if head.len() < 100 || !head.starts_with(b"SQLite format 3\0") {
        return Ok(Look::Damaged("its beginning is not that of a database".to_owned()));
    }
    let number = |at: usize| u32::from_be_bytes([head[at], head[at + 1], head[at + 2], head[at + 3]]);
    // Offsets 60 and 68: user version and application id, SQLite file format, section 1.3.
    known_format(path, number(60), number(68), number(68) == 0)?;
    Ok(Look::Fine)
}

fn known_format(path: &Path, format: u32, application: u32, empty: bool) -> Result<(), StoreError> {
    let path = path.to_owned();
    if application != APPLICATION_ID && !(empty && application == 0 && format == START_FORMAT) {
        return Err(StoreError::Foreign { path });
    }
    if format > FORMAT {
        return Err(StoreError::Newer { path, found: format, known: FORMAT });
    }
    if format != START_FORMAT && format < OLDEST_FORMAT {
        return Err(StoreError::TooOld { path, found: format, oldest: OLDEST_FORMAT });
    }
    Ok(())
}

fn connect(path: &Path, thorough: bool) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(path, flags)?;
    // Until it is known to be sound, closing it must not write into it.
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    db.busy_timeout(Duration::from_secs(5))?;
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    known_format(path, pragma(&db, "user_version")?, pragma(&db, "application_id")?, tables == 0)?;
    let pages: i64 = db.query_row("PRAGMA page_count", [], |row| row.get(0))?;
    let page: i64 = db.query_row("PRAGMA page_size", [], |row| row.get(0))?;
    if thorough || pages.saturating_mul(page) <= CHECKED_SIZE {
        let found: String = db.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
        if found != "ok" {
            return Err(StoreError::Damaged(found));
        }
    }
    configure(&db)?;
    migrate(&db, path)?;
    // A column is missing where a page of the schema went bad without breaking its form.
    db.prepare("SELECT id, kind, snapshot, upto, pending, size FROM documents")
        .and_then(|_| db.prepare("SELECT seq, document, hash, bytes FROM changes").map(drop))
        .map_err(|error| StoreError::Damaged(error.to_string()))?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
    Ok(db)
}

fn pragma(db: &Connection, name: &str) -> Result<u32, StoreError> {
    let value: i32 = db.query_row(&format!("PRAGMA {name}"), [], |row| row.get(0))?;
    Ok(value.cast_unsigned())
}

fn configure(db: &Connection) -> Result<(), StoreError> {
    db.busy_timeout(Duration::from_secs(5))?;
    // In memory the answer is "memory".
    let _mode: String = db.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))?;
    db.execute_batch(include_str!("../sql/configure.sql"))?;
    Ok(())
}

/// Brings a database to [`FORMAT`], each step in its own transaction.
fn migrate(db: &Connection, path: &Path) -> Result<(), StoreError> {
    loop {
        db.execute_batch("BEGIN IMMEDIATE")?;
        let step = || -> Result<bool, StoreError> {
            // Read inside the transaction: another process may be doing the same.
            let found = pragma(db, "user_version")?;
            let Some((to, sql)) = MIGRATIONS.iter().find(|(to, _)| *to > found) else { return Ok(false) };
            db.execute_batch(sql)?;
            db.execute_batch(&format!("PRAGMA user_version = {to}; PRAGMA application_id = {APPLICATION_ID}"))?;
            Ok(true)
        };
        match step() {
            Ok(more) => {
                db.execute_batch("COMMIT")?;
                if !more {
                    break;
                }
            }
            Err(error) => {
                let _already = db.execute_batch("ROLLBACK");
                return Err(error);
            }
        }
    }
    known_format(path, pragma(db, "user_version")?, pragma(db, "application_id")?, false)
}

/// Renames the database and what belongs to it.
fn set_aside(path: &Path, env: &mut Env) -> Result<PathBuf, StoreError> {
    let stamp = env.now().format("%Y%m%d-%H%M%S");
    let aside = (1..)
        .map(|count: u32| {
            beside(path, &if count == 1 { format!(".damaged-{stamp}") } else { format!(".damaged-{stamp}-{count}") })
        })
        .find(|aside| !aside.exists())
        .unwrap_or_else(|| beside(path, ".damaged"));
    for end in ["", "-wal", "-shm"] {
        let from = beside(path, end);
        if from.exists() {
            fs::rename(&from, beside(&aside, end)).map_err(|source| StoreError::File { path: from, source })?;
        }
    }
    Ok(aside)
}

pub(crate) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name: OsString = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

fn get<T: FromSql>(row: &Row<'_>, index: usize) -> rusqlite::Result<T> {
    row.get(index)
}

fn id_of(row: &Row<'_>, index: usize) -> rusqlite::Result<Uuid> {
    Ok(Uuid::from_bytes(row.get(index)?))
}

/// Reads every row of a table that can be read, passing over damaged pages; returns what was seen
/// to be lost.
fn rows(
    db: &Connection,
    table: &str,
    columns: &str,
    mut each: impl FnMut(&Row<'_>) -> rusqlite::Result<()>,
) -> Vec<String> {
    /// Damaged places passed over before the rest of a table is given up.
    const MOST_GAPS: usize = 10_000;
    let mut lost = Vec::new();
    let sql = format!("SELECT rowid, {columns} FROM {table} WHERE rowid > ?1 ORDER BY rowid");
    let readable = |after: i64| -> rusqlite::Result<()> {
        db.prepare_cached(&sql)?.query([after])?.next()?;
        Ok(())
    };
    let mut at = 0_i64;
    for _ in 0..MOST_GAPS {
        let mut read = || -> rusqlite::Result<()> {
            let mut statement = db.prepare_cached(&sql)?;
            let mut rows = statement.query([at])?;
            while let Some(row) = rows.next()? {
                let here = row.get(0)?;
                if let Err(error) = each(row) {
                    if is_damage(&error) {
                        return Err(error);
                    }
                    lost.push(format!("a row of {table}: {error}"));
                }
                at = here;
            }
            Ok(())
        };
        let Err(error) = read() else { return lost };
        lost.push(format!("a part of {table}: {error}"));
        // How far the gap reaches: in ever longer strides, then halving the last one.
        let (mut bad, mut stride) = (at, 1_i64);
        let mut good = loop {
            let next = at.saturating_add(stride);
            if readable(next).is_ok() {
                break next;
            }
            if next == i64::MAX {
                return lost;
            }
            (bad, stride) = (next, stride.saturating_mul(2));
        };
        while good - bad > 1 {
            let middle = bad + (good - bad) / 2;
            if readable(middle).is_ok() { good = middle } else { bad = middle }
        }
        at = good;
    }
    lost.push(format!("the rest of {table}"));
    lost
}
