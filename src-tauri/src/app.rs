//! What the app holds while it runs.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use api::ApiError;
use store::{Env, Store};
use survey::pattern::PatternList;
use survey::{Message, Pattern, say};
use uuid::Uuid;

use crate::analysis::Kept;
use crate::error::failed;
use crate::own_tables::{self, Counting};
use crate::{clock, files, side_files};

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
    /// Files that come or go, until they are whole.
    #[must_use]
    pub fn on_their_way(&self) -> PathBuf {
        self.folder.join("on-their-way")
    }
    /// A user's own tables.
    fn tables(&self) -> PathBuf {
        self.folder.join("tables")
    }
}

/// Roles are short words.
const LONGEST_ROLE: usize = 40;
/// Name of the role among what is the store's own.
pub(crate) const OWN_ROLE: &str = "role";
/// Before the key of a pattern of one's own there.
pub(crate) const OWN_PATTERN: &str = "pattern/";
/// Most patterns of one's own: a list a person picks from.
const MOST_PATTERNS: usize = 2000;

/// The running app: one store, the tables, the patterns.
pub struct App {
    place: Place,
    store: Mutex<Store>,
    tables: Mutex<Counting>,
    kept: Mutex<Kept>,
    pub(crate) plate_tables: &'static plate::Tables,
    shipped: Vec<Pattern>,
    /// Own patterns read from an earlier version's file where the store cannot be written.
    beside: Vec<Pattern>,
    role: Mutex<String>,
    language: String,
    /// What is so as long as the program runs, such as a store that cannot be written.
    remarks: Vec<String>,
    read_only: bool,
}

/// A panic in one call must not stop the next: what is saved is consistent on the disk.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The word of a role, if it is one.
pub(crate) fn role_word(text: &str) -> Option<&str> {
    let role = text.trim();
    let fits = !role.is_empty() && role.chars().count() <= LONGEST_ROLE && !role.chars().any(char::is_control);
    fits.then_some(role)
}

impl App {
    /// Opens the installation in a folder, which is made if need be. Where the folder holds a store but cannot be
    /// written, the store is read and exported from, and every change of it is refused.
    ///
    /// # Errors
    /// A sentence that names the file and what would do: no access, written by a newer version, a table that does
    /// not read.
    pub fn open(folder: &Path) -> Result<Self, ApiError> {
        let place = Place { folder: folder.to_owned() };
        let read_only = files::cannot_be_written(folder, &place.database());
        let mut remarks: Vec<String> = Vec::new();
        let mut side = side_files::read(folder);
        let env = Env::new(clock::now, clock::new_id).showing(clock::minute);
        let store = if read_only {
            remarks.push(say!("cli-read-only", folder = folder.display().to_string()).to_string());
            remarks.append(&mut side.notes);
            Store::open_read_only(&place.database(), env).map_err(crate::error::from_store)?
        } else {
            files::private_folder(folder)?;
            files::private_database(&place.database())?;
            let opened = Store::open(&place.database(), env).map_err(crate::error::from_store)?;
            files::private_database(&place.database())?;
            files::sweep(&place.on_their_way());
            let mut store = opened.store;
            if opened.waiting > 0 {
                // An earlier version was ended while it took a bundle in: told in the store's notices.
                let _told = store.give_up_waiting().map_err(crate::error::from_store)?;
            }
            side_files::keep(&mut side, &mut store).map_err(crate::error::from_store)?;
            for note in &side.notes {
                store.put_notice(note).map_err(crate::error::from_store)?;
            }
            store
        };
        remarks.extend(clock::doubt(clock::now()));
        let tables = Mutex::new(own_tables::load(&place.tables())?);
        let plate_tables = plate::Tables::shipped();
        let shipped =
            PatternList::parse(include_str!("../../seed-data/patterns.toml")).map_err(|why| failed(why.to_string()))?;
        let side_value = |name: &str| side.rows.iter().find(|(other, _)| other == name).map(|(_, value)| value.clone());
        let role = store.own(OWN_ROLE).map_err(crate::error::from_store)?.or_else(|| side_value(OWN_ROLE));
        let role = role.as_deref().and_then(role_word).unwrap_or("surveyor").to_owned();
        let beside =
            if read_only { side.rows.iter().filter_map(|(_, text)| pattern_of(text)).collect() } else { vec![] };
        Ok(Self {
            place,
            store: Mutex::new(store),
            tables,
            kept: Mutex::default(),
            plate_tables,
            shipped,
            beside,
            role: Mutex::new(role),
            language: "en".to_owned(),
            remarks,
            read_only,
        })
    }

    /// The same app for somebody who reads this language, as BCP 47 names it; one of which there are no words is
    /// answered in English.
    #[must_use]
    pub fn in_language(mut self, language: &str) -> Self {
        language.clone_into(&mut self.language);
        self
    }

    /// The language of whoever sits at this machine.
    pub(crate) fn language(&self) -> &str {
        &self.language
    }

    /// Puts the demo survey into the store.
    ///
    /// # Errors
    /// Where the store refuses it or fails.
    pub fn seed_demo(&self) -> Result<(), ApiError> {
        crate::demo::seed(&self.asked(&self.local_caller()))
    }

    pub(crate) fn place(&self) -> &Place {
        &self.place
    }

    pub(crate) fn store(&self) -> MutexGuard<'_, Store> {
        lock(&self.store)
    }

    /// What was worked out last.
    pub(crate) fn kept(&self) -> MutexGuard<'_, Kept> {
        lock(&self.kept)
    }

    /// The patterns to pick from: ours, and those of one's own, which count before ours of the same key. They are
    /// read from the store each time, since another process may have added some.
    pub(crate) fn patterns(&self) -> Result<Vec<Pattern>, ApiError> {
        let rows = self.store().own_under(OWN_PATTERN).map_err(crate::error::from_store)?;
        let kept: Vec<Pattern> = rows.iter().filter_map(|(_, text)| pattern_of(text)).collect();
        let mut own = self.beside.clone();
        own.retain(|pattern| !kept.iter().any(|other| other.key == pattern.key));
        own.extend(kept);
        let mut patterns = self.shipped.clone();
        patterns.retain(|pattern| !own.iter().any(|other| other.key == pattern.key));
        patterns.extend(own);
        Ok(patterns)
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

    /// What a person must read about the store and has not, and the number of the last of it that can be marked as
    /// read.
    pub(crate) fn unread(&self) -> Result<Option<(String, i64)>, ApiError> {
        let notices = self.store().notices().map_err(crate::error::from_store)?;
        let texts = self.remarks.iter().map(String::as_str).chain(notices.iter().map(|notice| notice.text.as_str()));
        let text = texts.collect::<Vec<_>>().join("; ");
        Ok((!text.is_empty()).then(|| (text, notices.last().map_or(0, |last| last.seq))))
    }

    /// Puts everything that was saved into the database file itself, so that it can be copied alone. Before the
    /// program ends, and after much was taken in at once; what cannot be put there now stays in its log.
    pub(crate) fn settle_file(&self) {
        let _stays_in_its_log = self.store().settle_file();
    }

    /// The folder for files on their way; it is made if need be.
    pub(crate) fn on_their_way(&self) -> Result<PathBuf, ApiError> {
        let folder = if self.read_only {
            std::env::temp_dir().join(format!("waywright-{}", self.new_id()))
        } else {
            self.place.on_their_way()
        };
        files::private_folder(&folder)?;
        Ok(folder)
    }

    pub(crate) fn role(&self) -> String {
        lock(&self.role).clone()
    }

    pub(crate) fn set_role(&self, role: &str) -> Result<(), ApiError> {
        let Some(role) = role_word(role) else {
            return Err(ApiError::refused(vec![survey::Problem::refused(
                "/role",
                role,
                say!("problem-role"),
                say!("remedy-role", most = LONGEST_ROLE),
            )]));
        };
        let row = (OWN_ROLE.to_owned(), role.to_owned());
        self.store().put_own(&[row]).map_err(crate::error::from_store)?;
        role.clone_into(&mut lock(&self.role));
        Ok(())
    }

    /// Adds patterns to the user's own list; one with a key in use replaces that one.
    pub(crate) fn add_patterns(&self, toml: &str) -> Result<Vec<Pattern>, ApiError> {
        let refuse = |message: Message| {
            ApiError::refused(vec![survey::Problem::refused("/toml", "", message, say!("remedy-toml"))])
        };
        let rows: Vec<_> = PatternList::parse(toml).map_err(refuse)?.iter().filter_map(side_files::row).collect();
        {
            let mut store = self.store();
            let there = store.own_under(OWN_PATTERN).map_err(crate::error::from_store)?.len();
            if there + rows.len() > MOST_PATTERNS {
                return Err(refuse(say!("problem-patterns", count = there, most = MOST_PATTERNS)));
            }
            store.put_own(&rows).map_err(crate::error::from_store)?;
        }
        self.patterns()
    }

    pub(crate) fn new_id(&self) -> Uuid {
        clock::new_id()
    }
}

/// A pattern as the store keeps it; none where a newer version wrote it in another form.
fn pattern_of(text: &str) -> Option<Pattern> {
    serde_json::from_str::<Pattern>(text).ok().filter(|pattern| pattern.faults().is_empty())
}
