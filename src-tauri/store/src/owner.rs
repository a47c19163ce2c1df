//! Who has a store open: a lock file beside it, and a look at each commit whether the file at its
//! place is still the one that was opened.
//!
//! Everyone who has a store open holds the lock file shared. Only who sets a damaged database
//! aside, recovers it or makes a new one holds it alone. So no one renames a database under
//! another who is writing into it.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::SecondsFormat;
use uuid::Uuid;

use crate::env::{Env, Shown};
use crate::error::StoreError;

/// How often another process is waited for, and how long each time: five seconds together.
const TRIES: usize = 200;
const PAUSE: Duration = Duration::from_millis(25);

/// Beside a database in which something could not be read: it is checked through at the next opening.
pub(crate) const SUSPECT: &str = "-check";

/// How a file beside the database is made: for its owner alone.
pub(crate) fn private() -> OpenOptions {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// What is beside a file: its name with an ending.
pub(crate) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name: OsString = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Which file it is, whatever its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct FileId(u64, u64);

impl FileId {
    fn of(path: &Path) -> std::io::Result<Self> {
        fs::metadata(path).map(|meta| Self::from_meta(&meta))
    }

    #[cfg(unix)]
    fn from_meta(meta: &fs::Metadata) -> Self {
        use std::os::unix::fs::MetadataExt;
        Self(meta.dev(), meta.ino())
    }

    /// Elsewhere an open database cannot be renamed or deleted; when it was made tells one put in
    /// its place from it.
    #[cfg(not(unix))]
    fn from_meta(meta: &fs::Metadata) -> Self {
        Self(0, made(meta))
    }
}

/// When a file was made, in nanoseconds since 1970; 0 where the file system does not keep it.
fn made(meta: &fs::Metadata) -> u64 {
    let made = meta.created().ok().and_then(|made| made.duration_since(std::time::UNIX_EPOCH).ok());
    made.map_or(0, |made| u64::try_from(made.as_nanos()).unwrap_or(u64::MAX))
}

/// What tells a database file from a copy of it: its number in the file system and when it was
/// made. A file that is only renamed keeps both.
pub(crate) fn fingerprint(path: &Path) -> String {
    match fs::metadata(path) {
        Ok(meta) => {
            #[cfg(unix)]
            let number = std::os::unix::fs::MetadataExt::ino(&meta);
            #[cfg(not(unix))]
            let number = 0;
            format!("{number} {}", made(&meta))
        }
        Err(_) => String::new(),
    }
}

/// A process that has a store open.
pub(crate) struct Owner {
    path: PathBuf,
    /// `None` where the file system knows no locks.
    lock: Option<File>,
    /// Marks this opening among others of the same process.
    mark: Uuid,
    line: String,
    shown: Shown,
    /// Nobody else has the store open, and others are kept out.
    pub(crate) is_alone: bool,
    database: Option<FileId>,
    log: Option<FileId>,
}

impl Owner {
    /// Joins those who have the store at this path open. Waits while one of them has it alone;
    /// where there is nobody, others are kept out until [`Self::share`].
    pub(crate) fn join(path: &Path, env: &mut Env) -> Result<Self, StoreError> {
        let file = beside(path, "-lock");
        let failed = |source| StoreError::File { path: file.clone(), source };
        let lock = private().read(true).write(true).create(true).truncate(false).open(&file).map_err(failed)?;
        let mark = env.id();
        let since = env.now().to_rfc3339_opts(SecondsFormat::Secs, true);
        let line = format!("{mark} {} {since} {}\n", std::process::id(), called());
        let mut owner = Self {
            path: path.to_owned(),
            lock: Some(lock),
            mark,
            line,
            shown: env.shown,
            is_alone: false,
            database: None,
            log: None,
        };
        if owner.try_alone()? {
            owner.is_alone = true;
            owner.put_name(true);
        } else {
            owner.share()?;
            owner.put_name(false);
        }
        Ok(owner)
    }

    fn try_alone(&mut self) -> Result<bool, StoreError> {
        let Some(lock) = &self.lock else { return Ok(true) };
        match lock.try_lock() {
            Ok(()) => Ok(true),
            Err(TryLockError::WouldBlock) => Ok(false),
            Err(TryLockError::Error(error)) if error.kind() == ErrorKind::Unsupported => {
                self.lock = None;
                Ok(true)
            }
            Err(TryLockError::Error(source)) => Err(StoreError::File { path: beside(&self.path, "-lock"), source }),
        }
    }

    /// Holds it with others, after having it alone or not at all.
    pub(crate) fn share(&mut self) -> Result<(), StoreError> {
        self.is_alone = false;
        self.let_go();
        for _ in 0..TRIES {
            let Some(lock) = &self.lock else { return Ok(()) };
            match lock.try_lock_shared() {
                Ok(()) => return Ok(()),
                Err(TryLockError::WouldBlock) => std::thread::sleep(PAUSE),
                Err(TryLockError::Error(error)) if error.kind() == ErrorKind::Unsupported => self.lock = None,
                Err(TryLockError::Error(source)) => {
                    return Err(StoreError::File { path: beside(&self.path, "-lock"), source });
                }
            }
        }
        Err(self.held("it is making or recovering the store; wait until it has ended".to_owned()))
    }

    /// Waits until nobody else has the store open, and keeps others out.
    pub(crate) fn alone(&mut self, why: &str) -> Result<(), StoreError> {
        if self.is_alone {
            return Ok(());
        }
        self.let_go();
        for _ in 0..TRIES {
            if self.try_alone()? {
                self.is_alone = true;
                self.put_name(true);
                return Ok(());
            }
            std::thread::sleep(PAUSE);
        }
        Err(self.held(format!("{why} end that one first, then open the store again: nothing was changed")))
    }

    fn let_go(&self) {
        if let Some(lock) = &self.lock {
            // An error here shows at the next lock.
            let _shown_later = lock.unlock();
        }
    }

    fn held(&self, why: String) -> StoreError {
        StoreError::Held { path: self.path.clone(), who: self.others(), why }
    }

    /// Writes down who this is; a name is a help and no more, so that failing to is no error.
    fn put_name(&mut self, alone: bool) {
        let Some(lock) = &mut self.lock else { return };
        if alone {
            let _only_a_help = lock.set_len(0);
        }
        let _only_a_help = lock.seek(std::io::SeekFrom::End(0)).and_then(|_| lock.write_all(self.line.as_bytes()));
    }

    /// The others who wrote their names and have not ended, as far as it can be seen.
    fn others(&self) -> String {
        let mut text = String::new();
        if let Ok(file) = File::open(beside(&self.path, "-lock")) {
            let _only_a_help = file.take(64 * 1024).read_to_string(&mut text);
        }
        let mine = self.mark.to_string();
        let names: Vec<String> = text
            .lines()
            .filter_map(|line| {
                let mut parts = line.splitn(4, ' ');
                let (mark, process, since, what) = (parts.next()?, parts.next()?, parts.next()?, parts.next()?);
                let since = since.parse().map_or_else(|_| since.to_owned(), self.shown);
                (mark != mine && runs(process)).then(|| format!("process {process} ({what}, since {since})"))
            })
            .collect();
        if names.is_empty() { "another process, whose name is not known".to_owned() } else { names.join(" and ") }
    }

    /// Notes which files were opened. To be called once they are in use.
    pub(crate) fn note_files(&mut self) {
        self.database = FileId::of(&self.path).ok();
        self.log = FileId::of(&beside(&self.path, "-wal")).ok();
    }

    /// Whether the files at the store's place are the ones that were opened.
    pub(crate) fn check(&self) -> Result<(), StoreError> {
        let gone = |end: &str, log_replaced| {
            Err(StoreError::Gone { path: beside(&self.path, end), database: end.is_empty(), log_replaced })
        };
        if self.database.is_some() && FileId::of(&self.path).ok() != self.database {
            return gone("", false);
        }
        if self.log.is_some() {
            let now = FileId::of(&beside(&self.path, "-wal")).ok();
            if now != self.log {
                return gone("-wal", now.is_some());
            }
        }
        Ok(())
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }
}

/// The program's name and its first words, as a person started it.
fn called() -> String {
    let name = |arg: &OsString| {
        let shown = Path::new(arg).file_name().unwrap_or(arg).to_string_lossy().into_owned();
        shown.chars().filter(|letter| !letter.is_control()).take(40).collect::<String>()
    };
    std::env::args_os().take(4).map(|arg| name(&arg)).collect::<Vec<_>>().join(" ")
}

/// Whether a process of that number runs; where it cannot be seen, it may.
fn runs(process: &str) -> bool {
    let processes = Path::new("/proc");
    !processes.join("self").exists() || processes.join(process).exists()
}
