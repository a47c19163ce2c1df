//! What the app holds while it runs.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use api::ApiError;
use chrono::Utc;
use store::{Env, Store};
use survey::Pattern;
use survey::intent::Stamp;
use survey::pattern::PatternList;
use uuid::Uuid;

use crate::error::failed;
use crate::files;
use crate::own_tables::{self, Counting};

/// Where the app keeps what.
#[derive(Clone, Debug)]
pub struct Place {
    /// The folder of this installation.
    pub folder: PathBuf,
}

impl Place {
    /// The database.
    #[must_use]
    pub fn database(&self) -> PathBuf {
        self.folder.join("waywright.db")
    }
    /// Papers that were saved.
    #[must_use]
    pub fn papers(&self) -> PathBuf {
        self.folder.join("papers")
    }
    /// Bundles that were saved.
    #[must_use]
    pub fn bundles(&self) -> PathBuf {
        self.folder.join("bundles")
    }
    fn patterns(&self) -> PathBuf {
        self.folder.join("patterns.toml")
    }
    /// A user's own tables.
    fn tables(&self) -> PathBuf {
        self.folder.join("tables")
    }
    fn role(&self) -> PathBuf {
        self.folder.join("role.txt")
    }
}

/// Roles are short words.
const LONGEST_ROLE: usize = 40;

/// The running app: one store, the tables, the patterns.
pub struct App {
    place: Place,
    store: Mutex<Store>,
    tables: Mutex<Counting>,
    pub(crate) plate_tables: &'static plate::Tables,
    patterns: Mutex<Vec<Pattern>>,
    role: Mutex<String>,
}

/// A panic in one call must not stop the next: what is saved is consistent on the disk.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[allow(clippy::disallowed_methods, reason = "the app is where the clock is read, to be passed in")]
fn now() -> chrono::DateTime<Utc> {
    Utc::now()
}

impl App {
    /// Opens the installation in a folder, which is made if need be.
    ///
    /// # Errors
    /// A sentence that names the file and what would do: no access, written by a newer version,
    /// a table or pattern that does not read.
    pub fn open(folder: &Path) -> Result<Self, ApiError> {
        let place = Place { folder: folder.to_owned() };
        std::fs::create_dir_all(folder).map_err(|error| failed(format!("{}: {error}", folder.display())))?;
        let opened = Store::open(&place.database(), Env::new(now, Uuid::now_v7)).map_err(crate::error::from_store)?;
        let mut store = opened.store;
        if opened.waiting > 0 {
            // An earlier version was ended while it took a bundle in: told in the store's notices.
            let _told = store.give_up_waiting().map_err(crate::error::from_store)?;
        }
        let tables = Mutex::new(own_tables::load(&place.tables())?);
        let plate_tables = plate::Tables::shipped();
        let mut patterns = PatternList::parse(include_str!("../../seed-data/patterns.toml")).map_err(failed)?;
        if let Ok(own) = std::fs::read_to_string(place.patterns()) {
            let own =
                PatternList::parse(&own).map_err(|error| failed(format!("{}: {error}", place.patterns().display())))?;
            patterns.retain(|pattern| !own.iter().any(|other| other.key == pattern.key));
            patterns.extend(own);
        }
        let role = std::fs::read_to_string(place.role()).unwrap_or_default();
        let role = if role.trim().is_empty() { "surveyor".to_owned() } else { role.trim().to_owned() };
        Ok(Self {
            place,
            store: Mutex::new(store),
            tables,
            plate_tables,
            patterns: Mutex::new(patterns),
            role: Mutex::new(role),
        })
    }

    /// Puts the demo survey into the store.
    ///
    /// # Errors
    /// Where the store refuses it or fails.
    pub fn seed_demo(&self) -> Result<(), ApiError> {
        crate::demo::seed(self)
    }

    pub(crate) fn place(&self) -> &Place {
        &self.place
    }

    pub(crate) fn store(&self) -> MutexGuard<'_, Store> {
        lock(&self.store)
    }

    pub(crate) fn patterns(&self) -> Vec<Pattern> {
        lock(&self.patterns).clone()
    }

    /// The electrical tables that count now. One answer takes them once, so that all of it is from the same.
    pub(crate) fn circuit_tables(&self) -> Arc<circuits::Tables> {
        lock(&self.tables).circuits.clone()
    }

    /// The tables that count now, as a person asks for them.
    pub(crate) fn table_rows(&self) -> Vec<api::TableRow> {
        lock(&self.tables).rows.clone()
    }

    /// A table as it counts now.
    pub(crate) fn table_text_of(&self, table: &str) -> Result<String, ApiError> {
        // No table is changed while it is read.
        let _counting = lock(&self.tables);
        own_tables::text(table, &self.place.tables())
    }

    /// Changes which tables count: on the disk, then here; where that fails, those of before count.
    pub(crate) fn change_tables(
        &self,
        change: impl FnOnce(&Path) -> Result<Counting, ApiError>,
    ) -> Result<Vec<api::TableRow>, ApiError> {
        let mut counting = lock(&self.tables);
        *counting = change(&self.place.tables())?;
        Ok(counting.rows.clone())
    }

    /// What a person must read about the store and has not, and the number of the last of it.
    pub(crate) fn unread(&self) -> Result<Option<(String, i64)>, ApiError> {
        let notices = self.store().notices().map_err(crate::error::from_store)?;
        let texts: Vec<&str> = notices.iter().map(|notice| notice.text.as_str()).collect();
        Ok(notices.last().map(|last| (texts.join("; "), last.seq)))
    }

    /// Puts everything that was saved into the database file itself, so that it can be copied alone. Before the
    /// program ends, and after much was taken in at once; what cannot be put there now stays in its log.
    pub(crate) fn settle_file(&self) {
        let _stays_in_its_log = self.store().settle_file();
    }

    pub(crate) fn role(&self) -> String {
        lock(&self.role).clone()
    }

    pub(crate) fn set_role(&self, role: &str) -> Result<(), ApiError> {
        let role = role.trim();
        if role.is_empty() || role.chars().count() > LONGEST_ROLE || role.chars().any(char::is_control) {
            return Err(ApiError::refused(vec![survey::Problem::refused(
                "/role",
                role,
                "not a role",
                format!("give a word such as \"surveyor\" or \"office\", up to {LONGEST_ROLE} letters"),
            )]));
        }
        files::write(&self.place.role(), role.as_bytes())?;
        role.clone_into(&mut lock(&self.role));
        Ok(())
    }

    /// Adds patterns to the user's own list; one with a key in use replaces that one.
    pub(crate) fn add_patterns(&self, toml: &str) -> Result<Vec<Pattern>, ApiError> {
        let refuse = |message: String| {
            ApiError::refused(vec![survey::Problem::refused(
                "/toml",
                "",
                message,
                "give [[pattern]] tables as in the shipped list",
            )])
        };
        PatternList::parse(toml).map_err(refuse)?;
        let mut own = std::fs::read_to_string(self.place.patterns()).unwrap_or_default();
        if !own.is_empty() {
            own.push('\n');
        }
        own.push_str(toml);
        let added = PatternList::parse(&own).map_err(refuse)?;
        files::write(&self.place.patterns(), own.as_bytes())?;
        let mut patterns = lock(&self.patterns);
        patterns.retain(|pattern| !added.iter().any(|other| other.key == pattern.key));
        patterns.extend(added);
        Ok(patterns.clone())
    }

    pub(crate) fn stamp(&self) -> Stamp {
        Stamp { role: self.role(), at: now() }
    }

    pub(crate) fn new_id(&self) -> Uuid {
        Uuid::now_v7()
    }
}
