//! Documents from other stores: whole, or change by change. Taking the same in twice does nothing.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

use sha2::{Digest, Sha256};
use survey::{By, SiteId};
use uuid::Uuid;

use crate::document::{ChangeBytes, ChangeId, Doc, DocumentError, Stamp};
use crate::error::StoreError;
use crate::json::canonical;
use crate::notice::leave;
use crate::photo::sha256;
use crate::store::{Kind, Loaded, Store, version};

/// A document from outside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incoming {
    /// Its id.
    pub id: Uuid,
    /// What it is.
    pub kind: Kind,
    /// The document, saved whole.
    pub bytes: Vec<u8>,
}

/// What taking in a document did.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    /// Its id.
    pub id: Uuid,
    /// What it is.
    pub kind: Kind,
    /// It was not here before.
    pub new: bool,
    /// Changes that were not here before.
    pub added: usize,
    /// Changes whose bytes had gone bad here and are sound again.
    pub healed: usize,
    /// Fields that now need a person's decision.
    pub conflicts: usize,
    /// The other store was a copy of this one and both were worked on: its values were taken in
    /// beside ours, its history was not.
    pub copied: bool,
    /// The document as it came.
    pub sent: DocumentRow,
    /// The document's latest changes, sorted.
    pub heads: Vec<ChangeId>,
    /// The version it has now.
    pub version: String,
}

/// A document in the store.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DocumentRow {
    /// Its id.
    pub id: Uuid,
    /// What it is.
    pub kind: Kind,
    /// Number of its changes.
    pub changes: usize,
    /// Its latest changes, sorted.
    pub heads: Vec<ChangeId>,
    /// SHA-256 of its content as canonical JSON.
    pub content: String,
}

impl DocumentRow {
    fn of(id: Uuid, kind: Kind, doc: &Doc) -> Self {
        let content = sha256(canonical(&doc.read().json).as_bytes());
        Self { id, kind, changes: doc.ids().len(), heads: doc.heads(), content }
    }
}

impl Store {
    /// Ids of all documents: sites first.
    ///
    /// # Errors
    /// The database failed.
    pub fn document_ids(&self) -> Result<Vec<(Uuid, Kind)>, StoreError> {
        let mut statement = self.db.prepare_cached("SELECT id, kind FROM documents ORDER BY kind DESC, id")?;
        let rows = statement.query_map([], |row| Ok((Uuid::from_bytes(row.get(0)?), row.get::<_, String>(1)?)))?;
        let rows = rows.collect::<Result<Vec<_>, _>>()?;
        Ok(rows.into_iter().filter_map(|(id, kind)| Some((id, Kind::read(&kind)?))).collect())
    }

    /// Ids of the documents of a site: the site itself, where it is here, and its boards, hidden
    /// ones too.
    ///
    /// # Errors
    /// The database failed.
    pub fn documents_of_site(&self, site: SiteId) -> Result<Vec<(Uuid, Kind)>, StoreError> {
        let mut ids = Vec::new();
        if self.exists(site.0)? {
            ids.push((site.0, Kind::Site));
        }
        let mut statement = self.db.prepare_cached("SELECT id FROM boards WHERE site = ?1 ORDER BY id")?;
        let boards = statement.query_map([site.0.as_bytes().as_slice()], |row| row.get::<_, [u8; 16]>(0))?;
        for board in boards {
            ids.push((Uuid::from_bytes(board?), Kind::Board));
        }
        Ok(ids)
    }

    /// A document: how many changes it has, its heads, a hash of its content.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn document(&mut self, id: Uuid, kind: Kind) -> Result<DocumentRow, StoreError> {
        self.with_doc(id, kind, |doc| DocumentRow::of(id, kind, doc))
    }

    /// A document's content as it is stored, fields this version does not know included.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn document_json(&mut self, id: Uuid, kind: Kind) -> Result<serde_json::Value, StoreError> {
        self.with_doc(id, kind, |doc| doc.read().json)
    }

    /// A document saved whole, for a container that compresses.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn document_bytes(&mut self, id: Uuid, kind: Kind) -> Result<Vec<u8>, StoreError> {
        self.with_doc(id, kind, Doc::save_plain)
    }

    /// The changes of a document that are not among `known` or before them, each after those it
    /// builds on.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn changes_since(&mut self, id: Uuid, kind: Kind, known: &[ChangeId]) -> Result<Vec<ChangeBytes>, StoreError> {
        self.with_doc(id, kind, |doc| doc.changes_since(known))
    }

    fn with_doc<T>(&mut self, id: Uuid, kind: Kind, read: impl FnOnce(&Doc) -> T) -> Result<T, StoreError> {
        let loaded = self.take(id, kind)?;
        let value = read(&loaded.doc);
        self.keep(loaded);
        Ok(value)
    }

    /// Takes in documents from outside: all of them, with whatever `also` does, in one transaction,
    /// or nothing, also where the process ends in the middle.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`] names the document that cannot be taken in; the error of `also`;
    /// the database failed.
    pub fn merge<E: From<StoreError>>(
        &mut self,
        incoming: &[Incoming],
        also: impl FnOnce(&mut Self, &[Merged]) -> Result<(), E>,
    ) -> Result<Vec<Merged>, E> {
        self.write(|store| {
            let mut merged = Vec::new();
            for incoming in incoming {
                merged.push(store.merge_one(incoming)?);
            }
            also(store, &merged)?;
            Ok(merged)
        })
    }

    /// Applies changes to a document, which is made where it is not here yet.
    ///
    /// # Errors
    /// As for [`Self::merge`]; also where earlier changes are missing.
    pub fn apply_changes(&mut self, id: Uuid, kind: Kind, changes: &[Vec<u8>]) -> Result<Merged, StoreError> {
        let mut doc = match self.load_doc(id)? {
            Some((known, _)) if known != kind => return Err(wrong_kind(id, known)),
            Some((_, doc)) => doc,
            None => Doc::new(&self.actor),
        };
        doc.apply(changes.iter().map(Vec::as_slice)).map_err(|error| unreadable(id, error.to_string()))?;
        let incoming = Incoming { id, kind, bytes: doc.save_plain() };
        let merged = self.merge(&[incoming], |_, _| Ok::<_, StoreError>(()))?;
        merged.into_iter().next().ok_or_else(|| unreadable(id, "nothing was taken in".to_owned()))
    }

    /// Number of documents that an earlier version was taking in when it was ended. Of their
    /// bundle, neither the photos nor what it is checked by are here.
    ///
    /// # Errors
    /// The database failed.
    pub fn waiting(&self) -> Result<usize, StoreError> {
        let count: i64 = self.db.query_row("SELECT count(*) FROM incoming", [], |row| row.get(0))?;
        Ok(usize::try_from(count).unwrap_or_default())
    }

    /// Gives up the imports that an earlier version was broken off in: nothing of them is taken
    /// in, since what a bundle is checked by and its photos are not here. Returns a sentence for
    /// each, which is also left among what a person must read.
    ///
    /// # Errors
    /// The database failed.
    pub fn give_up_waiting(&mut self) -> Result<Vec<String>, StoreError> {
        self.write(|store| {
            let mut imports: BTreeMap<String, Vec<Uuid>> = BTreeMap::new();
            {
                let mut statement = store.db.prepare("SELECT at, document FROM incoming ORDER BY seq")?;
                let mut rows = statement.query([])?;
                while let Some(row) = rows.next()? {
                    // A document that names no proper id is given up like the others.
                    let id = Uuid::from_slice(&row.get::<_, Vec<u8>>(1)?).unwrap_or_default();
                    imports.entry(row.get(0)?).or_default().push(id);
                }
            }
            let now = store.env.now().to_rfc3339();
            let mut told = Vec::new();
            for (at, ids) in imports {
                let ids: Vec<String> = ids.iter().map(Uuid::to_string).collect();
                let begun = if at.is_empty() { String::new() } else { format!(" begun on {}", store.env.show(&at)) };
                let text = format!(
                    "an import{begun} was broken off; nothing of it was taken in (documents {}): import the bundle again",
                    ids.join(", ")
                );
                leave(&store.db, &now, &text)?;
                told.push(text);
            }
            store.db.execute("DELETE FROM incoming", [])?;
            Ok(told)
        })
    }

    fn merge_one(&mut self, incoming: &Incoming) -> Result<Merged, StoreError> {
        let Incoming { id, kind, bytes } = incoming;
        let (id, kind) = (*id, *kind);
        let actor = self.actor;
        let (theirs, sent) = guarded(id, || {
            let doc = Doc::load_outside(bytes, &actor).map_err(|error| unreadable(id, error.to_string()))?;
            let sent = DocumentRow::of(id, kind, &doc);
            Ok((Loaded::new(id, kind, doc)?, sent))
        })?;
        let named = theirs.doc.value("/id");
        if named.as_ref().and_then(serde_json::Value::as_str) != Some(id.to_string().as_str()) {
            let named = named.map(|named| named.to_string()).unwrap_or_default();
            return Err(unreadable(id, format!("it says it is {named:.60}")));
        }
        let new = !self.exists(id)?;
        let ours = match new {
            true => Doc::new(&self.actor),
            false => match self.load_doc(id)? {
                Some((known, _)) if known != kind => return Err(wrong_kind(id, known)),
                Some((_, doc)) => doc,
                None => Doc::new(&self.actor),
            },
        };
        let rows = if ours.lost.is_empty() { Vec::new() } else { self.stored_changes(id, 0)? };
        let (loaded, added, copied) = guarded(id, || {
            let mut merged = ours.clone();
            let changes = theirs.doc.changes_since(&ours.heads());
            let (added, copied) = match merged.apply(changes.iter().map(|change| change.bytes.as_slice())) {
                Ok(added) => (added, false),
                Err(DocumentError::Copied { .. }) => {
                    merged = ours.clone();
                    let rescued = rescue(&ours, &theirs.doc).map_err(|error| unreadable(id, error.to_string()))?;
                    let rescued = rescued.iter().map(|change| change.bytes.as_slice());
                    (merged.apply(rescued).map_err(|error| unreadable(id, error.to_string()))?, true)
                }
                Err(error) => return Err(unreadable(id, error.to_string())),
            };
            if !ours.lost.is_empty() {
                // What waited here for a change that came is applied too.
                let _still_bad = merged.apply_sound(&rows);
            }
            Ok((Loaded::new(id, kind, merged)?, added, copied))
        })?;
        let bytes: Vec<ChangeBytes> = added.iter().filter_map(|change| loaded.doc.change(change)).collect();
        if bytes.len() != added.len() {
            return Err(unreadable(id, "a change taken in cannot be found again".to_owned()));
        }
        if !bytes.is_empty() {
            self.append(&loaded, &bytes)?;
        }
        let healed = ours.lost.iter().filter(|change| !loaded.doc.lost.contains(change)).count();
        if healed > 0 {
            self.note_lost(id, &loaded.doc.lost)?;
        }
        let merged = Merged {
            id,
            kind,
            new,
            added: bytes.len(),
            healed,
            conflicts: loaded.conflicts.len(),
            copied,
            sent,
            heads: loaded.doc.heads(),
            version: version(&loaded.doc.heads()),
        };
        self.forget(id);
        self.keep(loaded);
        Ok(merged)
    }

    /// Whether a document here holds all of these changes.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn holds(&mut self, id: Uuid, kind: Kind, changes: &[ChangeId]) -> Result<bool, StoreError> {
        self.with_doc(id, kind, |doc| changes.iter().all(|change| doc.has(change)))
    }
}

/// Recovers what another store holds that is a copy of this one: the engine cannot hold both
/// histories, so what differs from the part both share is written as one change by an author named
/// after that history. The same bytes taken in again give the same change, and so nothing new.
fn rescue(ours: &Doc, theirs: &Doc) -> Result<Vec<ChangeBytes>, DocumentError> {
    let (mut shared, mut other, mut last) = (Vec::new(), Vec::new(), 0);
    for change in theirs.changes_since(&[]) {
        if ours.has(&change.id) {
            shared.push(change.bytes);
        } else {
            last = last.max(theirs.time(&change.id));
            other.push(change.id);
        }
    }
    other.sort();
    let mut hasher = Sha256::new();
    hasher.update(b"copied store");
    other.iter().for_each(|change| hasher.update(change.0));
    let author = hasher.finalize();
    let mut base = Doc::new(&author[..16]);
    base.apply(shared.iter().map(Vec::as_slice))?;
    let at = chrono::DateTime::from_timestamp(last, 0).unwrap_or_default();
    let json = theirs.read().json;
    let stamp = Stamp { op: "taken in from a copied store", by: By::default(), at };
    let ((), change) = base.edit(&stamp, |edit| edit.set("", &json))?;
    Ok(change.and_then(|change| base.change(&change)).into_iter().collect())
}

/// Reading what came from outside must not end the process, whatever it breaks.
fn guarded<T>(id: Uuid, work: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(unreadable(id, DocumentError::Broke.to_string())))
}

fn unreadable(id: Uuid, reason: String) -> StoreError {
    StoreError::Unreadable { id, reason }
}

fn wrong_kind(id: Uuid, known: Kind) -> StoreError {
    unreadable(id, format!("here it is a {}", known.key()))
}
