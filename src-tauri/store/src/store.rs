//! The store itself: one connection, the documents in memory, transactions.

use std::collections::{BTreeMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

use rusqlite::{Connection, params};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use sha2::{Digest, Sha256};
use survey::file::UNKNOWN_FIELD;
use survey::{Board, BoardId, Problem, Site, SiteId, say};
use uuid::Uuid;

use crate::document::{ChangeId, Conflict, ConflictKind, Doc};
use crate::env::Env;
use crate::error::StoreError;
use crate::json::below;
use crate::mark::Marking;
use crate::owner::{Owner, SUSPECT, beside, private};

/// Documents kept in memory.
const KEPT: usize = 32;
/// Changes after which a document is saved whole, so that opening it stays quick.
pub(crate) const SNAPSHOT_EVERY: i64 = 64;
/// Size of a document in bytes above which it is a finding: opening it gets slow.
pub const WARN_SIZE: i64 = 768 * 1024;

/// What a document is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A board.
    Board,
    /// A site.
    Site,
}

impl Kind {
    /// The word stored: "board", "site".
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Board => "board",
            Self::Site => "site",
        }
    }

    pub(crate) fn read(text: &str) -> Option<Self> {
        match text {
            "board" => Some(Self::Board),
            "site" => Some(Self::Site),
            _ => None,
        }
    }
}

/// What a document holds once read: a board or a site.
pub(crate) trait Model: Serialize + DeserializeOwned + Clone {
    const KIND: Kind;
    /// Fills in what the frame cannot do without, for a document that arrived in part.
    fn complete(json: &mut Value, id: Uuid);
    fn of(content: &Content) -> Option<&Self>;
    fn wrap(self) -> Content;
}

#[derive(Clone)]
pub(crate) enum Content {
    Board(Box<Board>),
    Site(Box<Site>),
}

impl Model for Board {
    const KIND: Kind = Kind::Board;
    fn complete(json: &mut Value, id: Uuid) {
        let Some(object) = json.as_object_mut() else { return };
        object.insert("id".to_owned(), id.to_string().into());
        object.entry("model").or_insert_with(|| survey::MODEL_VERSION.into());
        object.entry("site").or_insert_with(|| Uuid::nil().to_string().into());
    }
    fn of(content: &Content) -> Option<&Self> {
        match content {
            Content::Board(board) => Some(board),
            Content::Site(_) => None,
        }
    }
    fn wrap(self) -> Content {
        Content::Board(Box::new(self))
    }
}

impl Model for Site {
    const KIND: Kind = Kind::Site;
    fn complete(json: &mut Value, id: Uuid) {
        if let Some(object) = json.as_object_mut() {
            object.insert("id".to_owned(), id.to_string().into());
        }
    }
    fn of(content: &Content) -> Option<&Self> {
        match content {
            Content::Site(site) => Some(site),
            Content::Board(_) => None,
        }
    }
    fn wrap(self) -> Content {
        Content::Site(Box::new(self))
    }
}

/// Reads what a document holds: fields that cannot be read count as not given and are listed.
pub(crate) fn hydrate<T: Model>(json: &Value, id: Uuid) -> Result<(T, Vec<Problem>), StoreError> {
    // The common case first: nothing to complain of.
    if let Ok(model) = T::deserialize(json) {
        return Ok((model, Vec::new()));
    }
    let mut json = json.clone();
    T::complete(&mut json, id);
    match survey::file::lenient::<T>(json) {
        (Some(model), problems) => Ok((model, problems)),
        (None, problems) => Err(StoreError::Unreadable {
            id,
            reason: problems.last().map_or_else(|| "no content".to_owned(), ToString::to_string),
        }),
    }
}

/// A document in memory.
pub(crate) struct Loaded {
    pub id: Uuid,
    pub kind: Kind,
    pub doc: Doc,
    /// The content as stored, read once and kept up to date.
    pub json: Value,
    /// Values in it that no version of this app writes.
    pub strange: Vec<Problem>,
    pub content: Content,
    /// What could not be read of it.
    pub problems: Vec<Problem>,
    pub conflicts: Vec<Conflict>,
}

/// A board as read from its document.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardDoc {
    /// The board.
    pub board: Board,
    /// What could not be read of it, and whether it is getting too large. None of it is lost.
    pub problems: Vec<Problem>,
    /// Fields that need a person's decision.
    pub conflicts: Vec<Conflict>,
    /// Name of the operation that undo would take back, as it was given.
    pub undo: Option<String>,
    /// Name of the operation that redo would bring back, as it was given.
    pub redo: Option<String>,
    /// Changes with every change of the content.
    pub version: String,
}

/// A site as read from its document.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteDoc {
    /// The site.
    pub site: Site,
    /// What could not be read of it.
    pub problems: Vec<Problem>,
    /// Fields that need a person's decision.
    pub conflicts: Vec<Conflict>,
    /// Changes with every change of the content.
    pub version: String,
}

/// The store. One at a time writes to a database; a second one on the same file waits its turn
/// and sees what the first wrote.
pub struct Store {
    pub(crate) db: Connection,
    pub(crate) env: Env,
    /// Under which changes of this opening are made. Fresh at every opening: two copies of a store
    /// that went on under one name could never be merged.
    pub(crate) actor: [u8; 16],
    cache: BTreeMap<Uuid, Loaded>,
    recent: VecDeque<Uuid>,
    depth: u32,
    /// Documents changed in the open transaction.
    dirty: Vec<Uuid>,
    data_version: i64,
    /// Whose undo this is: see `open::device`.
    pub(crate) device: [u8; 16],
    /// Largest number of a change stored in the open transaction.
    highest: Option<i64>,
    /// The same of a photo.
    pub(crate) highest_photo: Option<i64>,
    /// None in memory.
    pub(crate) mark: Option<Marking>,
    /// Last, so that others wait until the database is closed; none in memory.
    pub(crate) owner: Option<Owner>,
}

impl std::fmt::Debug for Store {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Store").field("kept", &self.recent.len()).finish_non_exhaustive()
    }
}

impl Store {
    /// The id of this store as a device: new in a copied folder. None for a store in memory or one that is only read.
    #[must_use]
    pub fn device(&self) -> Option<Uuid> {
        self.owner.as_ref().map(|_| Uuid::from_bytes(self.device))
    }

    pub(crate) fn on(db: Connection, mut env: Env, device: [u8; 16], owner: Option<Owner>) -> Result<Self, StoreError> {
        db.set_prepared_statement_cache_capacity(64);
        let actor = *env.id().as_bytes();
        let data_version = db.query_row("PRAGMA data_version", [], |row| row.get(0))?;
        Ok(Self {
            db,
            env,
            actor,
            cache: BTreeMap::new(),
            recent: VecDeque::new(),
            depth: 0,
            dirty: Vec::new(),
            data_version,
            device,
            highest: None,
            highest_photo: None,
            mark: None,
            owner,
        })
    }

    /// Runs several operations as one: all of them are saved, or none.
    ///
    /// # Errors
    /// The error of `work`, or that of the database.
    pub fn batch<T, E: From<StoreError>>(&mut self, work: impl FnOnce(&mut Self) -> Result<T, E>) -> Result<T, E> {
        self.write(work)
    }

    pub(crate) fn write<T, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E> {
        let outermost = self.depth == 0;
        let (begin, end) = if outermost { ("BEGIN IMMEDIATE", "COMMIT") } else { ("SAVEPOINT part", "RELEASE part") };
        self.db.execute_batch(begin).map_err(StoreError::from)?;
        self.depth += 1;
        let done = catch_unwind(AssertUnwindSafe(|| {
            if outermost {
                self.forget_if_changed()?;
            }
            work(self)
        }));
        self.depth -= 1;
        match done {
            Ok(Ok(done)) => match self.end(end, outermost) {
                Ok(()) => {
                    if outermost {
                        self.dirty.clear();
                        let (changes, photos) = (self.highest.take(), self.highest_photo.take());
                        if let (true, Some(mark)) = (changes.is_some() || photos.is_some(), &mut self.mark) {
                            mark.raise(changes, photos);
                        }
                    }
                    Ok(done)
                }
                Err(error) => {
                    self.roll_back(outermost);
                    self.settle_log(&error);
                    Err(error.into())
                }
            },
            Ok(Err(error)) => {
                self.roll_back(outermost);
                Err(error)
            }
            Err(panic) => {
                self.roll_back(outermost);
                resume_unwind(panic)
            }
        }
    }

    /// Commits, if the file at the store's place is still the one that was opened: what goes into a
    /// file that was renamed or deleted is not saved.
    fn end(&self, end: &str, outermost: bool) -> Result<(), StoreError> {
        if outermost && let Some(owner) = &self.owner {
            owner.check()?;
        }
        Ok(self.db.execute_batch(end)?)
    }

    /// Where the log or the database was taken away, what was saved before goes from the log, which
    /// is still open here, into the database. Not where another log is in use beside it.
    fn settle_log(&self, error: &StoreError) {
        if matches!(error, StoreError::Gone { log_replaced: false, .. }) {
            let _best_that_can_be_done = self.db.execute_batch("PRAGMA wal_checkpoint(TRUNCATE)");
        }
    }

    fn roll_back(&mut self, outermost: bool) {
        let undo = if outermost { "ROLLBACK" } else { "ROLLBACK TO part; RELEASE part" };
        // A failed commit may have rolled back by itself; there is nothing left to do then.
        let _already = self.db.execute_batch(undo);
        if outermost {
            (self.highest, self.highest_photo) = (None, None);
        }
        for id in std::mem::take(&mut self.dirty) {
            self.forget(id);
        }
    }

    /// Another process may have written meanwhile; then what is in memory is old.
    pub(crate) fn forget_if_changed(&mut self) -> Result<(), StoreError> {
        let version: i64 = self.db.prepare_cached("PRAGMA data_version")?.query_row([], |row| row.get(0))?;
        if version != self.data_version {
            self.data_version = version;
            self.forget_all();
        }
        Ok(())
    }

    pub(crate) fn forget_all(&mut self) {
        self.cache.clear();
        self.recent.clear();
    }

    pub(crate) fn forget(&mut self, id: Uuid) {
        self.cache.remove(&id);
        self.recent.retain(|kept| *kept != id);
    }

    /// Takes a document out of memory, or reads it from the database. Whoever takes it keeps it
    /// back with [`Self::keep`], unless it may differ from what is stored.
    pub(crate) fn take(&mut self, id: Uuid, kind: Kind) -> Result<Loaded, StoreError> {
        let loaded = match self.cache.remove(&id) {
            Some(loaded) => loaded,
            None => self
                .load(id)
                .inspect_err(|error| self.suspect(error))?
                .ok_or(StoreError::NotFound { kind: kind.key(), id })?,
        };
        self.recent.retain(|kept| *kept != id);
        if loaded.kind == kind {
            Ok(loaded)
        } else {
            self.keep(loaded);
            Err(StoreError::NotFound { kind: kind.key(), id })
        }
    }

    pub(crate) fn keep(&mut self, loaded: Loaded) {
        self.recent.push_back(loaded.id);
        self.cache.insert(loaded.id, loaded);
        if self.recent.len() > KEPT
            && let Some(oldest) = self.recent.pop_front()
        {
            self.cache.remove(&oldest);
        }
    }

    pub(crate) fn mark_dirty(&mut self, id: Uuid) {
        self.dirty.push(id);
    }

    /// What cannot be read is reason to check the database from end to end at the next opening.
    pub(crate) fn suspect(&self, error: &StoreError) {
        if let (StoreError::Damaged(_) | StoreError::Unreadable { .. }, Some(owner)) = (error, &self.owner) {
            let _only_a_help = private().write(true).create(true).truncate(true).open(beside(owner.path(), SUSPECT));
        }
    }

    /// Moves everything from the log into the database file and empties the log, so that the file
    /// alone is the store. Where another process is writing or reading, what it holds stays.
    ///
    /// # Errors
    /// The database failed, or the file is no longer the one that was opened.
    pub fn settle_file(&mut self) -> Result<(), StoreError> {
        if let Some(owner) = &self.owner {
            owner.check()?;
        }
        let _busy: i64 = self.db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
        Ok(())
    }

    /// Closes the database with everything in its file.
    pub(crate) fn close(mut self) -> Result<Env, StoreError> {
        self.settle_file()?;
        let Self { db, env, owner, .. } = self;
        db.close().map_err(|(_, error)| StoreError::from(error))?;
        drop(owner);
        Ok(env)
    }

    fn load(&mut self, id: Uuid) -> Result<Option<Loaded>, StoreError> {
        let Some((kind, doc)) = self.load_doc(id)? else { return Ok(None) };
        Ok(Some(Loaded::new(id, kind, doc)?))
    }

    pub(crate) fn exists(&self, id: Uuid) -> Result<bool, StoreError> {
        Ok(self.db.prepare_cached("SELECT 1 FROM documents WHERE id = ?1")?.exists([id.as_bytes().as_slice()])?)
    }

    /// Stores changes of a document that is in memory with them, and brings the projection up to
    /// date. Runs inside a transaction.
    pub(crate) fn append(
        &mut self,
        loaded: &Loaded,
        changes: &[crate::document::ChangeBytes],
    ) -> Result<(), StoreError> {
        let id = loaded.id.as_bytes().as_slice();
        self.mark_dirty(loaded.id);
        self.db
            .prepare_cached("INSERT OR IGNORE INTO documents VALUES (?1, ?2, x'', 0, 0, 0)")?
            .execute(params![id, loaded.kind.key()])?;
        let (mut added, mut bytes) = (0_i64, 0_i64);
        {
            // Bytes that went bad here are replaced by sound ones from elsewhere.
            let mut insert = self.db.prepare_cached(
                "INSERT INTO changes (document, hash, bytes) VALUES (?1, ?2, ?3)
                 ON CONFLICT (document, hash) DO UPDATE SET bytes = excluded.bytes WHERE bytes <> excluded.bytes",
            )?;
            for change in changes {
                let new = insert.execute(params![id, change.id.0.as_slice(), change.bytes])?;
                if new > 0 {
                    self.highest = Some(self.db.last_insert_rowid());
                    added += 1;
                    bytes += i64::try_from(change.bytes.len()).unwrap_or(i64::MAX);
                }
            }
        }
        let pending: i64 = self
            .db
            .prepare_cached(
                "UPDATE documents SET pending = pending + ?2, size = size + ?3 WHERE id = ?1 RETURNING pending",
            )?
            .query_row(params![id, added, bytes], |row| row.get(0))?;
        if pending >= SNAPSHOT_EVERY {
            self.snapshot(loaded.id, &loaded.doc)?;
        }
        if loaded.doc.lost.is_empty() || loaded.doc.value("/site").is_some() || loaded.kind == Kind::Site {
            return self.project(loaded);
        }
        // Of a board whose beginning is lost, the lists keep what they knew.
        Ok(())
    }

    /// Saves the document whole, so that opening it does not replay its history. Not one of which
    /// changes are lost: those that wait for them would then be passed over.
    pub(crate) fn snapshot(&self, id: Uuid, doc: &Doc) -> Result<(), StoreError> {
        if !doc.lost.is_empty() {
            return Ok(());
        }
        self.db
            .prepare_cached(include_str!("../sql/snapshot.sql"))?
            .execute(params![id.as_bytes().as_slice(), doc.save()])?;
        Ok(())
    }

    /// Saves every document whole that has changes after its snapshot; returns how many.
    ///
    /// # Errors
    /// The database failed, or a document cannot be read.
    pub fn compact(&mut self) -> Result<usize, StoreError> {
        self.write(|store| {
            let ids = {
                let mut statement = store.db.prepare("SELECT id FROM documents WHERE pending > 0")?;
                let ids = statement.query_map([], |row| row.get::<_, [u8; 16]>(0))?;
                ids.collect::<Result<Vec<_>, _>>()?
            };
            for id in &ids {
                let id = Uuid::from_bytes(*id);
                if let Some((_, doc)) = store.load_doc(id)? {
                    store.snapshot(id, &doc)?;
                }
            }
            Ok(ids.len())
        })
    }

    /// Checks the database file from end to end; an empty list is a sound one. One that is not is recovered at the
    /// next opening.
    ///
    /// # Errors
    /// The database failed.
    pub fn check(&self) -> Result<Vec<String>, StoreError> {
        let mut statement = self.db.prepare("PRAGMA integrity_check")?;
        let lines = statement.query_map([], |row| row.get::<_, String>(0))?.collect::<Result<Vec<_>, _>>()?;
        let bad: Vec<String> = lines.into_iter().filter(|line| line != "ok").collect();
        if let Some(first) = bad.first() {
            self.suspect(&StoreError::Damaged(first.clone()));
        }
        Ok(bad)
    }

    /// A board with its conflicts and what undo would do.
    ///
    /// # Errors
    /// No such board, or the database failed.
    pub fn board(&mut self, id: BoardId) -> Result<BoardDoc, StoreError> {
        if self.depth == 0 {
            self.forget_if_changed()?;
        }
        let loaded = self.take(id.0, Kind::Board)?;
        let read = self.board_of(&loaded);
        self.keep(loaded);
        read
    }

    fn board_of(&self, loaded: &Loaded) -> Result<BoardDoc, StoreError> {
        let board = Board::of(&loaded.content)
            .cloned()
            .ok_or(StoreError::NotFound { kind: Kind::Board.key(), id: loaded.id })?;
        let mut problems = self.damage_of(loaded)?;
        problems.extend(loaded.all_problems());
        let size: i64 = self
            .db
            .prepare_cached("SELECT size FROM documents WHERE id = ?1")?
            .query_row([loaded.id.as_bytes().as_slice()], |row| row.get(0))?;
        if size > WARN_SIZE {
            problems.push(Problem::doubt(
                "",
                format!("{} kB", size / 1024),
                say!("problem-slow", size = (WARN_SIZE / 1024).to_string()),
                say!("remedy-slow"),
            ));
        }
        Ok(BoardDoc {
            board,
            problems,
            conflicts: loaded.conflicts.clone(),
            undo: self.next_undo(loaded.id)?.map(|op| op.name),
            redo: self.next_redo(loaded.id)?.map(|op| op.name),
            version: version(&loaded.doc.heads()),
        })
    }

    /// A site with its conflicts.
    ///
    /// # Errors
    /// No such site, or the database failed.
    pub fn site(&mut self, id: SiteId) -> Result<SiteDoc, StoreError> {
        if self.depth == 0 {
            self.forget_if_changed()?;
        }
        let loaded = self.take(id.0, Kind::Site)?;
        let mut problems = self.damage_of(&loaded)?;
        problems.extend(loaded.all_problems());
        let read = Site::of(&loaded.content).cloned().map(|site| SiteDoc {
            site,
            problems,
            conflicts: loaded.conflicts.clone(),
            version: version(&loaded.doc.heads()),
        });
        self.keep(loaded);
        read.ok_or(StoreError::NotFound { kind: Kind::Site.key(), id: id.0 })
    }
}

impl Loaded {
    /// Reads what the document holds.
    pub(crate) fn new(id: Uuid, kind: Kind, doc: Doc) -> Result<Self, StoreError> {
        let read = doc.read();
        let conflicts = grouped(doc.conflicts(&read), &read.json);
        let (content, problems) = match kind {
            Kind::Board => hydrate::<Board>(&read.json, id).map(|(board, problems)| (board.wrap(), problems))?,
            Kind::Site => hydrate::<Site>(&read.json, id).map(|(site, problems)| (site.wrap(), problems))?,
        };
        Ok(Self { id, kind, doc, json: read.json, strange: read.strange, content, problems, conflicts })
    }

    /// What could not be read of it, in words for its reader.
    fn all_problems(&self) -> Vec<Problem> {
        let mut problems = self.strange.clone();
        problems.extend(self.problems.iter().cloned().map(|mut problem| {
            if problem.message.id() == Some(UNKNOWN_FIELD) {
                problem.message = say!("problem-newer-field");
                problem.remedy = say!("remedy-newer-field");
            }
            problem
        }));
        problems
    }
}

/// The device and the cable that were removed with a circuit, by their paths.
pub(crate) fn parts_of(circuit: &str, board: &Value) -> impl Iterator<Item = String> + use<> {
    let fields = [("device", "devices"), ("cable", "cables")];
    let found = board.pointer(circuit).filter(|_| circuit.starts_with("/circuits/")).and_then(Value::as_object);
    let parts: Vec<String> = fields
        .iter()
        .filter_map(|(field, records)| Some(format!("/{records}/{}", found?.get(*field)?.as_str()?)))
        .filter(|part| board.pointer(part).is_some_and(|record| record["removed"] == true))
        .collect();
    parts.into_iter()
}

/// A circuit is removed with its device and its cable: where one of the three was worked on
/// meanwhile, one question is asked, about the circuit, and it names every field that was.
pub(crate) fn grouped(mut conflicts: Vec<Conflict>, board: &Value) -> Vec<Conflict> {
    let Some(circuits) = board.get("circuits").and_then(Value::as_object) else { return conflicts };
    for (id, circuit) in circuits {
        if conflicts.is_empty() || circuit["removed"] != true {
            continue;
        }
        let path = below("/circuits", id);
        let parts: Vec<String> = parts_of(&path, board).map(|part| below(&part, "removed")).collect();
        let own = below(&path, "removed");
        let of_it = |conflict: &Conflict| {
            conflict.kind == ConflictKind::RemovedWhileEdited
                && (conflict.path == own || parts.contains(&conflict.path))
        };
        let (of_it, mut others): (Vec<Conflict>, Vec<Conflict>) = conflicts.into_iter().partition(of_it);
        // The circuit's own first, where there is one: "/circuits" sorts before "/devices", not before "/cables".
        let first = of_it.iter().find(|conflict| conflict.path == own).or(of_it.first());
        if let Some(mut one) = first.cloned() {
            one.path = own;
            one.edited = of_it.into_iter().flat_map(|conflict| conflict.edited).collect();
            one.edited.sort();
            others.push(one);
        }
        conflicts = others;
    }
    conflicts.sort_by(|a, b| a.path.cmp(&b.path));
    conflicts
}

/// A short text that changes with every change.
pub(crate) fn version(heads: &[ChangeId]) -> String {
    let mut hasher = Sha256::new();
    for head in heads {
        hasher.update(head.0);
    }
    hex::encode(&hasher.finalize()[..8])
}
