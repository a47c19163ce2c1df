//! Opening: new, old, newer, foreign and damaged databases.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use uuid::Uuid;

use crate::damaged::{HEAD, HEAD_LENGTH, Image, big_endian};
use crate::env::Env;
use crate::error::{StoreError, is_no_room};
use crate::mark::{Mark, Marking};
use crate::notice::leave;
use crate::own;
use crate::owner::{Owner, SUSPECT, beside, fingerprint};
use crate::recover::{self, BUILDING, SetAside};
use crate::store::Store;

/// Format of a database that is still empty.
const START_FORMAT: u32 = 0;
/// Oldest format that is brought up to date.
pub const OLDEST_FORMAT: u32 = 1;
/// Format written by this version.
pub const FORMAT: u32 = 2;
/// How long one who reads or writes waits for another.
pub(crate) const PATIENCE: Duration = Duration::from_secs(5);

/// Steps from one format to the next, each with a change of the schema: by that a damaged number is
/// known from a newer one. Never altered once released.
const MIGRATIONS: [(u32, &str); FORMAT as usize] =
    [(1, include_str!("../migrations/001_init.sql")), (2, include_str!("../migrations/002_own.sql"))];

/// Marks a database as ours ("WAYW").
const APPLICATION_ID: u32 = 0x5741_5957;

/// Databases up to this many bytes are checked through at every opening; a larger one only where
/// it is asked for, since photos make that slow.
const CHECKED_SIZE: i64 = 32 * 1024 * 1024;

/// A store just opened.
#[derive(Debug)]
pub struct Opened {
    /// The store.
    pub store: Store,
    /// A damaged database was found in its place, and this was done about it.
    pub set_aside: Option<SetAside>,
    /// Documents that an earlier version was taking in when it was ended: see
    /// [`Store::give_up_waiting`].
    pub waiting: usize,
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
        if let Look::Leave(error) = look(path)? {
            return Err(error);
        }
        let mut owner = Owner::join(path, &mut env)?;
        let thorough = thorough || beside(path, SUSPECT).exists();
        let unfinished = recover::waiting(path).is_some();
        if !unfinished && let State::Sound(db) = examine(path, thorough, owner.is_alone)? {
            if owner.is_alone {
                owner.share()?;
            }
            return Self::opened(db, env, owner);
        }
        // Damaged, or not there yet: nobody else may have it open while that is put right. Another
        // process may have done it meanwhile.
        let there = fs::metadata(path).is_ok_and(|meta| meta.len() > 0);
        owner.alone(match (unfinished, there) {
            (false, false) => {
                "the database is not in its place any more: it was renamed, moved or deleted while it was in use \
                 there. Put it back, or"
            }
            _ => "the database is damaged and must be set aside:",
        })?;
        if let Some(moment) = recover::waiting(path) {
            recover::put_in_place(path, &moment)?;
        }
        recover::clear(path);
        let reason = match examine(path, thorough, true)? {
            State::Sound(db) => {
                owner.share()?;
                return Self::opened(db, env, owner);
            }
            State::Missing => {
                let db = connect(path, false)?;
                if let Some(mark) = Mark::read(path).filter(Mark::is_of_something) {
                    let Mark { count, photos, .. } = mark;
                    tell(
                        &db,
                        &mut env,
                        &format!(
                            "the database {} is not there any more: {count} changes and {photos} photos were saved in it, all of them fewer now. A new, \
                         empty one was made. Was it moved or renamed? Then close the app, put it back and open it again",
                            path.display()
                        ),
                    )?;
                    own::put(&db, "mark told", &mark.told())?;
                }
                // The file alone is a store from its first moment on.
                let _busy: i64 = db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
                owner.share()?;
                return Self::opened(db, env, owner);
            }
            State::Damaged(reason) => reason,
        };
        let moment = recover::moment(path, env.now());
        let mut report = SetAside { path: recover::aside(path, &moment), reason, ..SetAside::default() };
        let env = match Self::build(path, env, &mut report) {
            Ok(env) => env,
            Err(error) => {
                // What is half made would only take room; the next opening begins again.
                recover::clear(path);
                return Err(match error {
                    StoreError::Database(cause) if is_no_room(&cause) => {
                        StoreError::NoRoom { path: path.to_owned(), reason: report.reason, need: size_with_log(path) }
                    }
                    other => other,
                });
            }
        };
        recover::built(path, &moment)?;
        recover::put_in_place(path, &moment)?;
        let _gone = fs::remove_file(beside(path, SUSPECT));
        let db = connect(path, false)?;
        owner.share()?;
        let opened = Self::opened(db, env, owner)?;
        Ok(Opened { set_aside: Some(report), ..opened })
    }

    /// Builds what can be read of a damaged database into a file beside it.
    fn build(path: &Path, mut env: Env, report: &mut SetAside) -> Result<Env, StoreError> {
        let mark = Mark::read(path);
        let side = beside(path, BUILDING);
        let db = connect(&side, false)?;
        let device = device(&db, &side, &mut env)?;
        let mut store = Self::on(db, env, device, None)?;
        store.recover(path, mark, report)?;
        store.close()
    }

    fn opened(db: Connection, mut env: Env, mut owner: Owner) -> Result<Opened, StoreError> {
        owner.note_files();
        let device = device(&db, owner.path(), &mut env)?;
        let marking = marking(&db, owner.path(), &mut env)?;
        // The log is made with the first write.
        owner.note_files();
        let mut store = Self::on(db, env, device, Some(owner))?;
        store.mark = Some(marking);
        let waiting = store.waiting()?;
        Ok(Opened { store, set_aside: None, waiting })
    }

    /// A store that lives in memory and is gone with the process.
    ///
    /// # Errors
    /// The database failed.
    pub fn in_memory(mut env: Env) -> Result<Self, StoreError> {
        let db = Connection::open_in_memory()?;
        configure(&db)?;
        migrate(&db, Path::new("memory"))?;
        let device = *env.id().as_bytes();
        Self::on(db, env, device, None)
    }
}

enum Look {
    Fine,
    Missing,
    Damaged(String),
    /// Not for this version, or not ours: it is not touched.
    Leave(StoreError),
}

enum State {
    Sound(Connection),
    Missing,
    Damaged(String),
}

/// Opens what is there and sound. `alone`: nobody else writes, so that the log can be judged.
fn examine(path: &Path, thorough: bool, alone: bool) -> Result<State, StoreError> {
    match look(path)? {
        Look::Leave(error) => return Err(error),
        Look::Missing => return Ok(State::Missing),
        Look::Damaged(reason) => return Ok(State::Damaged(reason)),
        Look::Fine => {}
    }
    // A power cut leaves the last, unfinished save torn in the log, and that is no damage: by the mark it shows, once
    // the database is open, that nothing saved is missing. Without a mark a torn log is judged by itself.
    if alone
        && fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0)
        && Mark::read(path).is_none()
        && image(path)?.log_is_broken()
    {
        return Ok(State::Damaged("its log is damaged".to_owned()));
    }
    match connect(path, thorough) {
        Ok(db) => {
            // What the log's last pages held may still be found there, as long as nothing writes.
            if alone
                && fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0)
                && let Some(mark) = Mark::read(path)
                && own::value(&db, "store")?.is_some_and(|store| store == mark.store.to_string())
                && own::value(&db, "mark told")? != Some(mark.told())
                && (count(&db)? < mark.count || count_photos(&db)? < mark.photos)
            {
                db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
                return Ok(State::Damaged("the end of its log is damaged".to_owned()));
            }
            if thorough {
                let _gone = fs::remove_file(beside(path, SUSPECT));
            }
            Ok(State::Sound(db))
        }
        Err(StoreError::Damaged(reason)) => Ok(State::Damaged(reason)),
        Err(error) => Err(error),
    }
}

fn image(path: &Path) -> Result<Image, StoreError> {
    Image::open(path).map_err(|source| StoreError::File { path: path.to_owned(), source })
}

/// Bytes of a database and its log.
fn size_with_log(path: &Path) -> u64 {
    ["", "-wal"].iter().map(|end| fs::metadata(beside(path, end)).map_or(0, |meta| meta.len())).sum()
}

fn count(db: &Connection) -> Result<i64, StoreError> {
    Ok(db.query_row("SELECT coalesce(max(seq), 0) FROM changes", [], |row| row.get(0))?)
}

/// Photos are never deleted: the number of the last is how many there are.
fn count_photos(db: &Connection) -> Result<i64, StoreError> {
    Ok(db.query_row("SELECT coalesce(max(rowid), 0) FROM photos", [], |row| row.get(0))?)
}

/// Leaves words for a person.
fn tell(db: &Connection, env: &mut Env, text: &str) -> Result<(), StoreError> {
    Ok(leave(db, &env.now().to_rfc3339(), text)?)
}

/// Compares the database with the mark beside it, tells what does not fit, and goes on marking.
fn marking(db: &Connection, path: &Path, env: &mut Env) -> Result<Marking, StoreError> {
    let (there, photos) = (count(db)?, count_photos(db)?);
    let known = own::value(db, "store")?.and_then(|text| Uuid::parse_str(&text).ok());
    let mark = Mark::read(path);
    let now = |store| Mark { store, count: there, photos };
    if let (Some(store), Some(mark)) = (known, mark)
        && store == mark.store
        && mark.count <= there
        && mark.photos <= photos
    {
        return Ok(Marking::begin(path, now(store)));
    }
    let store = known.unwrap_or_else(|| env.id());
    let told = own::value(db, "mark told")?;
    db.execute_batch("BEGIN IMMEDIATE")?;
    let mut write = || -> Result<(), StoreError> {
        if let Some(mark) = mark.filter(|mark| mark.is_of_something() && told.as_ref() != Some(&mark.told())) {
            let Mark { count, photos: marked_photos, .. } = mark;
            let name = path.display();
            if known.is_some_and(|known| known != mark.store) {
                tell(
                    db,
                    env,
                    &format!(
                        "another store's database is in the place of {name}: it has {there} changes and {photos} photos, the \
                         one that was here had {count} and {marked_photos}. If that is not what was meant, close the app and \
                         put the other one back"
                    ),
                )?;
            } else {
                let (fewer, photos) = ((count - there).max(0), (marked_photos - photos).max(0));
                tell(
                    db,
                    env,
                    &format!(
                        "the database {name} holds {fewer} changes and {photos} photos fewer than were saved in it: an older \
                         copy was put in its place, or its log ({}) was lost. If you have the newer one, close the app and \
                         put it back with its log",
                        beside(path, "-wal").display()
                    ),
                )?;
            }
            own::put(db, "mark told", &mark.told())?;
        }
        own::put(db, "store", &store.to_string())?;
        Ok(db.execute_batch("COMMIT")?)
    };
    if let Err(error) = write() {
        let _already = db.execute_batch("ROLLBACK");
        return Err(error);
    }
    Ok(Marking::begin(path, now(store)))
}

/// Whose undo this is: an id that goes with this very database file. A copy of the file gets
/// another, so that two people who went on from one store do not take back each other's work.
fn device(db: &Connection, path: &Path, env: &mut Env) -> Result<[u8; 16], StoreError> {
    let (known, file) =
        (own::value(db, "device")?.and_then(|text| Uuid::parse_str(&text).ok()), own::value(db, "device file")?);
    let here = fingerprint(path);
    if let Some(known) = known
        && file.as_deref() == Some(&here)
    {
        return Ok(*known.as_bytes());
    }
    let fresh = env.id();
    db.execute_batch("BEGIN IMMEDIATE")?;
    let write = || -> rusqlite::Result<()> {
        if known.is_none() {
            // Done before devices were told apart, and so here.
            db.execute("UPDATE ops SET device = ?1 WHERE device IS NULL", [fresh.as_bytes().as_slice()])?;
        }
        for (name, value) in [("device", &fresh.to_string()), ("device file", &here)] {
            own::put(db, name, value)?;
        }
        db.execute_batch("COMMIT")
    };
    if let Err(error) = write() {
        let _already = db.execute_batch("ROLLBACK");
        return Err(error.into());
    }
    Ok(*fresh.as_bytes())
}

/// Looks at the head of the file without opening it as a database, so a file that is not for this
/// version is not touched at all.
fn look(path: &Path) -> Result<Look, StoreError> {
    let failed = |source| StoreError::File { path: path.to_owned(), source };
    let mut head = Vec::new();
    if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        return Err(failed(std::io::Error::other("it is no file: choose another place for the store")));
    }
    match fs::File::open(path) {
        Ok(file) => drop(file.take(HEAD_LENGTH as u64).read_to_end(&mut head).map_err(failed)?),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => return Err(failed(error)),
    }
    if head.is_empty() {
        // A log has pages only beside a database that was written.
        let log = fs::metadata(beside(path, "-wal")).map_or(0, |log| log.len());
        return Ok(match log > 1024 {
            true => Look::Damaged("it is gone or empty, its log is still there".to_owned()),
            false => Look::Missing,
        });
    }
    if head.len() < HEAD_LENGTH || !head.starts_with(HEAD) {
        return Ok(Look::Damaged("its beginning is not that of a database".to_owned()));
    }
    let numbers = |head: &[u8]| (big_endian(head, 60).unwrap_or_default(), big_endian(head, 68).unwrap_or_default());
    // Offsets 60 and 68: user version and application id, SQLite file format, section 1.3.
    let (format, application) = numbers(&head);
    if format != FORMAT || application != APPLICATION_ID {
        // An older, a newer, another's, a new one whose beginning is still in the log; or one of
        // ours whose number is damaged. A step from one format to the next always changes the
        // schema, so that the schema tells.
        let mut image = image(path)?;
        let (format, application) = image.head().map_or((format, application), |head| numbers(&head));
        let schema: Option<BTreeMap<_, _>> =
            image.schema().map(|schema| schema.into_iter().map(|(name, (_, sql))| (name, sql)).collect());
        let is_of = |step: u32| -> Result<bool, StoreError> { Ok(schema == Some(schema_of(step)?)) };
        let of = (0..=FORMAT).find_map(|step| match is_of(step) {
            Ok(true) => Some(Ok(step)),
            Ok(false) => None,
            Err(error) => Some(Err(error)),
        });
        match (of.transpose()?, schema.is_some()) {
            (Some(0), _) => {}
            (Some(step), _) if step == format && application == APPLICATION_ID => {}
            (Some(step), _) => {
                return Ok(Look::Damaged(format!(
                    "its beginning says format {format} of program {application:08x}, its content is format {step} of ours"
                )));
            }
            (None, true) => {}
            (None, false) => return Ok(Look::Damaged("its beginning and its schema cannot be read".to_owned())),
        }
        if let Err(error) = known_format(path, format, application, schema.is_some_and(|schema| schema.is_empty())) {
            return Ok(Look::Leave(error));
        }
    }
    Ok(fault(&head).map_or(Look::Fine, |what| Look::Damaged(format!("its beginning is damaged: {what}"))))
}

/// What in the header is as SQLite never writes it for us; section 1.3. It would refuse some of
/// these with an error that does not speak of damage.
fn fault(head: &[u8]) -> Option<&'static str> {
    let size = usize::from(u16::from_be_bytes([head[16], head[17]]));
    match head {
        _ if size != 1 && (size < 512 || !size.is_power_of_two()) => Some("size of a page"),
        _ if !matches!((head[18], head[19]), (1, 1) | (2, 2)) => Some("way of writing"),
        _ if head[20..24] != [0, 64, 32, 32] => Some("shares of a page"),
        _ if !(1..=4).contains(&big_endian(head, 44)?) && big_endian(head, 44)? != 0 => Some("form of the schema"),
        _ if !matches!(big_endian(head, 56)?, 0 | 1) => Some("encoding of text"),
        _ if big_endian(head, 52)? != 0 || big_endian(head, 64)? != 0 => Some("way of emptying"),
        _ => None,
    }
}

/// What a database of a format has in its schema: type, name, and text. In the first form of each
/// as [`Image::schema`] gives it, without where a table begins.
fn schema_of(format: u32) -> Result<BTreeMap<(String, String), String>, StoreError> {
    let db = Connection::open_in_memory()?;
    for (to, sql) in MIGRATIONS {
        if to <= format {
            db.execute_batch(sql)?;
        }
    }
    let mut statement = db.prepare("SELECT type, name, coalesce(sql, '') FROM sqlite_schema")?;
    let rows = statement.query_map([], |row| Ok(((row.get(0)?, row.get(1)?), row.get(2)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
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
    db.busy_timeout(PATIENCE)?;
    let length = fs::metadata(path).map_or(0, |meta| meta.len());
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    known_format(path, pragma(&db, "user_version")?, pragma(&db, "application_id")?, tables == 0)?;
    let pages: i64 = db.query_row("PRAGMA page_count", [], |row| row.get(0))?;
    let page: i64 = db.query_row("PRAGMA page_size", [], |row| row.get(0))?;
    if thorough || pages.saturating_mul(page) <= CHECKED_SIZE {
        // Bytes that rotted within a sound structure are no reason to set the store aside: see `health`.
        let check = if thorough { "PRAGMA integrity_check(1)" } else { "PRAGMA quick_check(1)" };
        let found: String = db.query_row(check, [], |row| row.get(0)).map_err(found_damage)?;
        if found != "ok" {
            return Err(StoreError::Damaged(found));
        }
    }
    configure(&db)?;
    migrate(&db, path)?;
    if tables == 0 && length > 0 {
        // Ours is written with its tables from the first moment on: this one has lost its log, or
        // its first opening was cut short.
        db.execute(
            "INSERT INTO notices (at, text) VALUES (strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?1)",
            [format!(
                "the database {} was there and held nothing. If it was copied from elsewhere, what was saved is in the \
                 file of the same name with \"-wal\" beside the original: close the app there and copy again",
                path.display()
            )],
        )?;
    }
    // A column is missing where a page of the schema went bad without breaking its form.
    db.prepare("SELECT id, kind, snapshot, upto, pending, size FROM documents")
        .and_then(|_| db.prepare("SELECT seq, document, hash, bytes FROM changes").map(drop))
        .map_err(|error| StoreError::Damaged(error.to_string()))?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
    Ok(db)
}

/// The check itself fails on some damage, such as in the search index, with an error that names none.
fn found_damage(error: rusqlite::Error) -> StoreError {
    match error.sqlite_error_code() {
        Some(rusqlite::ErrorCode::Unknown) => StoreError::Damaged(error.to_string()),
        _ => error.into(),
    }
}

fn pragma(db: &Connection, name: &str) -> Result<u32, StoreError> {
    let value: i32 = db.query_row(&format!("PRAGMA {name}"), [], |row| row.get(0))?;
    Ok(value.cast_unsigned())
}

fn configure(db: &Connection) -> Result<(), StoreError> {
    db.busy_timeout(PATIENCE)?;
    db.execute_batch(include_str!("../sql/configure.sql"))?;
    // In memory the answer is "memory".
    let _mode: String = db.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))?;
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
