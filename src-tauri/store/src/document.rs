//! One document: a board or a site as a merging map of fields.
//!
//! The only module that names the merge engine. What it promises to the rest of the crate:
//!
//! - A JSON object is a map of fields, so edits of different fields merge. An object that says how
//!   it is `known`, and any array, is one atom: it changes as a whole.
//! - No key is ever taken out. Taking one out while someone edits inside it would lose that edit
//!   without a trace; records carry `removed` instead.
//! - Where the same map was made twice (one survey file brought in on two tablets), the makings
//!   are read as one map and written to as one, so neither side's fields are hidden.
//! - Whatever stands side by side after a merge is reported with every value, never picked.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::str::FromStr;

use automerge::transaction::CommitOptions;
use automerge::{ActorId, Automerge, AutomergeError, Change, ChangeHash, LoadOptions, ObjId, ROOT, ReadDoc};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use survey::{By, Problem, say};

use crate::json::{DEEPEST, below};

mod conflict;
pub(crate) mod earlier;
mod edit;
pub(crate) mod salvage;
mod view;

use conflict::Clash;
pub use conflict::{Conflict, ConflictKind, ConflictValue};
pub(crate) use conflict::{PICK_KEPT, PICK_REMOVED};
pub(crate) use edit::Edit;
use view::{Removed, View, pick_id, to_json};

/// The id of one change: its SHA-256.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChangeId(pub [u8; 32]);

impl fmt::Display for ChangeId {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&hex::encode(self.0))
    }
}

impl FromStr for ChangeId {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("\"{text:.80}\" is not the id of a change: 64 hexadecimal digits");
        let mut bytes = [0; 32];
        hex::decode_to_slice(text, &mut bytes).map_err(|_| wrong())?;
        Ok(Self(bytes))
    }
}

/// Why a document could not be read, changed or merged.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// The bytes are not a document or a change.
    #[error("{words}", words = say!("document-unreadable", why = .0.clone()))]
    Unreadable(String),
    /// Two different changes carry the same author and number: a store was copied and both copies
    /// were worked on.
    #[error("{words}", words = say!("document-copied", actor = .actor.clone(), number = .seq.to_string()))]
    Copied {
        /// Who made them, in hexadecimal.
        actor: String,
        /// The number both carry.
        seq: u64,
    },
    /// Changes that the given ones build on are not there.
    #[error("{words}", words = say!("document-missing", count = *.0))]
    Missing(usize),
    /// The merge engine broke on these bytes.
    #[error("{words}", words = say!("document-broke"))]
    Broke,
    /// The path is not a path.
    #[error("{words}", words = say!("document-path", path = .0.clone()))]
    Path(String),
    /// The path leads into a value that is stored whole.
    #[error("{words}", words = say!("document-inside", path = .0.clone()))]
    Inside(String),
    /// The path is a record and the new value is not one.
    #[error("{words}", words = say!("document-record", path = .0.clone()))]
    Record(String),
    /// The whole document can only be set to a record.
    #[error("{words}", words = say!("document-whole"))]
    Whole,
}

fn unreadable(error: impl fmt::Display) -> DocumentError {
    let text: String = error.to_string().chars().take(200).collect();
    DocumentError::Unreadable(text)
}

/// Turns a panic of the merge engine into an error: bytes from outside must not end the process.
fn guarded<T>(work: impl FnOnce() -> Result<T, DocumentError>) -> Result<T, DocumentError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(Err(DocumentError::Broke))
}

/// What is written beside a change: what was done, by whom, when.
#[derive(Clone, Debug)]
pub(crate) struct Stamp<'a> {
    pub op: &'a str,
    pub by: By,
    pub at: DateTime<Utc>,
}

#[derive(Default, Serialize, Deserialize)]
#[serde(default)]
struct Message {
    op: String,
    #[serde(flatten)]
    by: By,
}

/// What a change wrote, as undo needs it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Touch {
    /// A field got a value.
    Field(String),
    /// A record was made.
    Record(String),
}

impl Touch {
    pub(crate) fn path(&self) -> &str {
        match self {
            Self::Field(path) | Self::Record(path) => path,
        }
    }
}

/// One change as it is stored and sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeBytes {
    /// Its id.
    pub id: ChangeId,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A document as read.
pub(crate) struct Read {
    pub json: Value,
    /// Values in it that no version of this app writes.
    pub strange: Vec<Problem>,
    /// Paths where different values stand side by side.
    clashes: Vec<Clash>,
}

/// A document.
#[derive(Clone)]
pub(crate) struct Doc {
    inner: Automerge,
    /// Changes that are known to belong to it and whose bytes are no longer sound anywhere here.
    pub lost: Vec<ChangeId>,
    /// Sound changes that build on lost ones: they count again once those are back.
    pub waiting: usize,
}

/// A change as it lies in the store.
#[derive(Clone)]
pub(crate) struct StoredChange {
    /// Its place.
    pub seq: i64,
    /// The id it was stored under.
    pub id: ChangeId,
    /// Its bytes, as they read now.
    pub bytes: Vec<u8>,
}

/// What [`Doc::apply_sound`] found at fault, by the place in the list given.
#[derive(Default)]
pub(crate) struct Unsound {
    /// Bytes that are not those of the id.
    pub bad: Vec<usize>,
    /// Sound bytes under the wrong id, with the right one.
    pub misnamed: Vec<(usize, ChangeId)>,
    /// Sound changes that build on none and were not there yet.
    pub beginnings: Vec<usize>,
    /// Sound changes that wait, with those they wait for.
    pub waiting: Vec<(usize, Vec<ChangeId>)>,
}

impl Doc {
    /// An empty document, written to under this author's name.
    pub(crate) fn new(actor: &[u8]) -> Self {
        Self::of(Automerge::new().with_actor(ActorId::from(actor)))
    }

    fn of(inner: Automerge) -> Self {
        Self { inner, lost: Vec::new(), waiting: 0 }
    }

    /// Reads a saved document, to be written to under this author's name.
    pub(crate) fn load(bytes: &[u8], actor: &[u8]) -> Result<Self, DocumentError> {
        guarded(|| {
            let inner = Automerge::load_with_options(bytes, LoadOptions::new()).map_err(unreadable)?;
            let missing = inner.get_missing_deps(&[]).len();
            if missing > 0 {
                return Err(DocumentError::Missing(missing));
            }
            Ok(Self::of(inner.with_actor(ActorId::from(actor))))
        })
    }

    /// Reads a document from outside. Its columns must not be deflated: a few bytes could unpack to
    /// more than the memory holds.
    pub(crate) fn load_outside(bytes: &[u8], actor: &[u8]) -> Result<Self, DocumentError> {
        if !is_plain(bytes) {
            return Err(DocumentError::Unreadable(say!("document-not-one").to_string()));
        }
        Self::load(bytes, actor)
    }

    /// The whole document, history included.
    pub(crate) fn save(&self) -> Vec<u8> {
        self.inner.save()
    }

    /// The same, its columns not deflated: for a container that deflates.
    pub(crate) fn save_plain(&self) -> Vec<u8> {
        self.inner.save_nocompress()
    }

    /// The latest changes, sorted.
    pub(crate) fn heads(&self) -> Vec<ChangeId> {
        let mut heads: Vec<ChangeId> = self.inner.get_heads().iter().map(id).collect();
        heads.sort();
        heads
    }

    pub(crate) fn has(&self, change: &ChangeId) -> bool {
        self.inner.get_change_meta_by_hash(&hash(change)).is_some()
    }

    /// Ids of all changes, each after those it builds on.
    pub(crate) fn ids(&self) -> Vec<ChangeId> {
        self.inner.get_changes_meta(&[]).iter().map(|meta| id(&meta.hash)).collect()
    }

    /// Every change that is not among `known` or before them. Ids not known here are passed over.
    pub(crate) fn changes_since(&self, known: &[ChangeId]) -> Vec<ChangeBytes> {
        let known: Vec<ChangeHash> = known.iter().filter(|id| self.has(id)).map(hash).collect();
        self.inner.get_changes(&known).into_iter().map(stored).collect()
    }

    pub(crate) fn change(&self, change: &ChangeId) -> Option<ChangeBytes> {
        self.inner.get_change_by_hash(&hash(change)).map(stored)
    }

    /// When a change was made, in seconds since 1970, as its author's clock had it.
    pub(crate) fn time(&self, change: &ChangeId) -> i64 {
        self.inner.get_change_meta_by_hash(&hash(change)).map_or(0, |meta| meta.timestamp)
    }

    /// Applies those of the stored changes whose bytes give their id, and notes which are lost: those
    /// at fault that it does not hold from elsewhere, and those that sound ones build on.
    pub(crate) fn apply_sound(&mut self, rows: &[StoredChange]) -> Unsound {
        let mut unsound = Unsound::default();
        let mut left: Vec<Change> = Vec::new();
        let mut places: BTreeMap<ChangeId, usize> = BTreeMap::new();
        for (index, row) in rows.iter().enumerate() {
            let read = catch_unwind(AssertUnwindSafe(|| Change::from_bytes(row.bytes.clone()).ok())).ok().flatten();
            let Some(change) = read else {
                unsound.bad.push(index);
                continue;
            };
            let own = id(&change.hash());
            // A chunk carries the first four bytes of its hash after four bytes that mark it, in
            // the form published for the engine's format.
            let agrees = row.bytes.get(4..8) == own.0.get(..4);
            if own != row.id && agrees {
                unsound.misnamed.push((index, own));
            } else if own != row.id {
                unsound.bad.push(index);
                continue;
            }
            if !self.has(&own) {
                if change.deps().is_empty() {
                    unsound.beginnings.push(index);
                }
                places.insert(own, index);
                left.push(change);
            }
        }
        let mut ready: Vec<Change> = Vec::new();
        let mut taken: BTreeSet<ChangeHash> = BTreeSet::new();
        loop {
            let before = left.len();
            let mut later = Vec::new();
            for change in left {
                let holds = |dep: &ChangeHash| taken.contains(dep) || self.has(&id(dep));
                if taken.contains(&change.hash()) {
                } else if change.deps().iter().all(holds) {
                    taken.insert(change.hash());
                    ready.push(change);
                } else {
                    later.push(change);
                }
            }
            left = later;
            if left.is_empty() || left.len() == before {
                break;
            }
        }
        let mut lost: BTreeSet<ChangeId> = unsound.bad.iter().filter_map(|index| Some(rows.get(*index)?.id)).collect();
        let at_once = || {
            let mut all = self.inner.clone();
            all.apply_changes(ready.clone()).ok().map(|()| all)
        };
        let at_once = if ready.is_empty() { None } else { catch_unwind(AssertUnwindSafe(at_once)).ok().flatten() };
        if let Some(all) = at_once {
            self.inner = all;
        } else {
            // One of them breaks the engine: it and what builds on it are left out.
            for change in ready {
                let known = change.deps().iter().all(|dep| self.has(&id(dep)));
                let hash = id(&change.hash());
                let mut tried = self.inner.clone();
                let applied =
                    known && catch_unwind(AssertUnwindSafe(|| tried.apply_changes([change]).is_ok())).unwrap_or(false);
                if applied {
                    self.inner = tried;
                } else {
                    lost.insert(hash);
                }
            }
        }
        let waiting: BTreeSet<ChangeId> = left.iter().map(|change| id(&change.hash())).collect();
        lost.extend(left.iter().flat_map(|change| change.deps().iter().map(id)));
        self.lost = lost.into_iter().filter(|change| !self.has(change) && !waiting.contains(change)).collect();
        self.waiting = waiting.len();
        unsound.waiting = left
            .iter()
            .filter_map(|change| {
                let missing = change.deps().iter().map(id).filter(|dep| !self.has(dep)).collect();
                Some((*places.get(&id(&change.hash()))?, missing))
            })
            .collect();
        unsound
    }

    /// From now on, writes are made under this author's name.
    pub(crate) fn write_as(&mut self, actor: &[u8]) {
        self.inner.set_actor(ActorId::from(actor));
    }

    /// The changes a change was made on top of.
    pub(crate) fn before(&self, change: &ChangeId) -> Option<Vec<ChangeId>> {
        self.inner.get_change_meta_by_hash(&hash(change)).map(|meta| meta.deps.iter().map(id).collect())
    }

    /// Applies changes from outside or from the store; returns the ids of those that were new.
    ///
    /// After an error the document may hold a part of them: drop it.
    pub(crate) fn apply<'a>(
        &mut self,
        changes: impl IntoIterator<Item = &'a [u8]>,
    ) -> Result<Vec<ChangeId>, DocumentError> {
        guarded(|| {
            let mut fresh = Vec::new();
            for bytes in changes {
                let change = Change::from_bytes(bytes.to_vec()).map_err(unreadable)?;
                if !self.has(&id(&change.hash())) {
                    fresh.push(change);
                }
            }
            let ids = fresh.iter().map(|change| id(&change.hash())).collect();
            self.inner.apply_changes(fresh).map_err(|error| match error {
                AutomergeError::DuplicateSeqNumber(seq, actor) => {
                    DocumentError::Copied { actor: actor.to_hex_string(), seq }
                }
                AutomergeError::DuplicateActorId(actor) => {
                    DocumentError::Copied { actor: actor.to_hex_string(), seq: 0 }
                }
                other => unreadable(other),
            })?;
            match self.inner.get_missing_deps(&[]).len() {
                0 => Ok(ids),
                missing => Err(DocumentError::Missing(missing)),
            }
        })
    }

    /// The whole content.
    pub(crate) fn read(&self) -> Read {
        View { doc: &self.inner, heads: None }.read()
    }

    /// The content of one field or record as it was at these changes; `None` where it was not.
    pub(crate) fn value_at(&self, path: &str, heads: &[ChangeId]) -> Option<Value> {
        let heads: Vec<ChangeHash> = heads.iter().map(hash).collect();
        View { doc: &self.inner, heads: Some(&heads) }.value(path, &mut Vec::new())
    }

    /// The content of one field or record now.
    pub(crate) fn value(&self, path: &str) -> Option<Value> {
        View { doc: &self.inner, heads: None }.value(path, &mut Vec::new())
    }

    /// Everything in `read` that needs a person's decision.
    pub(crate) fn conflicts(&self, read: &Read) -> Vec<Conflict> {
        let mut conflicts: Vec<Conflict> = read
            .clashes
            .iter()
            .map(|clash| Conflict {
                path: clash.path.clone(),
                kind: ConflictKind::Values,
                values: clash
                    .values
                    .iter()
                    .enumerate()
                    .map(|(index, (json, op))| {
                        let shown = index + 1 == clash.values.len();
                        self.described(json.clone(), pick_id(op), op, shown)
                    })
                    .collect(),
                edited: Vec::new(),
            })
            .collect();
        let removed = self.removed_while_edited();
        // One question about a record is asked once: whether it stays removed.
        conflicts.retain(|clash| removed.iter().all(|removed| removed.path != clash.path));
        conflicts.extend(removed);
        conflicts.sort_by(|a, b| a.path.cmp(&b.path));
        conflicts
    }

    fn described(&self, json: Value, pick_id: String, op: &ObjId, shown: bool) -> ConflictValue {
        let meta = self.inner.hash_for_opid(op).and_then(|hash| self.inner.get_change_meta_by_hash(&hash));
        let message: Message = meta
            .as_ref()
            .and_then(|meta| meta.message.as_deref())
            .and_then(|text| serde_json::from_str(text).ok())
            .unwrap_or_default();
        // A change from a file that names no time has none.
        let at = meta.and_then(|meta| DateTime::from_timestamp(meta.timestamp, 0)).filter(|at| at.timestamp() != 0);
        ConflictValue { json, pick_id, by: message.by, at, shown }
    }

    /// Records removed by one person while another, not knowing, worked on them.
    pub(crate) fn removed_while_edited(&self) -> Vec<Conflict> {
        let view = View { doc: &self.inner, heads: None };
        let mut removed = Vec::new();
        view.removed(&[ROOT], "", 0, &mut removed);
        let mut after: BTreeMap<ChangeHash, BTreeSet<ChangeHash>> = BTreeMap::new();
        let mut not_before = |hash: ChangeHash| -> BTreeSet<ChangeHash> {
            after
                .entry(hash)
                .or_insert_with(|| self.inner.get_changes_meta(&[hash]).iter().map(|meta| meta.hash).collect())
                .clone()
        };
        let mut conflicts = Vec::new();
        for Removed { path, nodes, ops } in removed {
            let removals: Vec<(&ObjId, ChangeHash)> =
                ops.iter().filter_map(|op| Some((op, self.inner.hash_for_opid(op)?))).collect();
            let Some((removal, _)) = removals.last() else { continue };
            let unknown_to: Vec<BTreeSet<ChangeHash>> = removals.iter().map(|(_, hash)| not_before(*hash)).collect();
            if unknown_to.iter().all(BTreeSet::is_empty) {
                continue;
            }
            let mut written = Vec::new();
            view.written(&nodes, &path, 0, &mut written);
            let mut edited = BTreeSet::new();
            let mut last_edit = None;
            for (field, op) in written {
                let Some(edit) = self.inner.hash_for_opid(&op) else { continue };
                if field == below(&path, "removed") || !unknown_to.iter().any(|set| set.contains(&edit)) {
                    continue;
                }
                let blind = not_before(edit);
                if removals.iter().all(|(_, removal)| blind.contains(removal)) {
                    edited.insert(field);
                    last_edit = Some(op);
                }
            }
            if let Some(edit) = last_edit {
                conflicts.push(Conflict {
                    path: below(&path, "removed"),
                    kind: ConflictKind::RemovedWhileEdited,
                    values: vec![
                        self.described(Value::Bool(false), PICK_KEPT.to_owned(), &edit, false),
                        self.described(Value::Bool(true), PICK_REMOVED.to_owned(), removal, true),
                    ],
                    edited: edited.into_iter().collect(),
                });
            }
        }
        conflicts
    }

    /// Writes in one change. An error from `work` rolls everything back; `None` where nothing
    /// differed from what stood there.
    pub(crate) fn edit<T, E>(
        &mut self,
        stamp: &Stamp<'_>,
        work: impl FnOnce(&mut Edit<'_>) -> Result<T, E>,
    ) -> Result<(T, Option<ChangeId>), E> {
        let mut edit = Edit { tx: self.inner.transaction(), touched: Vec::new() };
        let done = work(&mut edit)?;
        if edit.touched.is_empty() {
            edit.tx.rollback();
            return Ok((done, None));
        }
        let message = Message { op: stamp.op.to_owned(), by: stamp.by.clone() };
        let message = serde_json::to_string(&message).unwrap_or_default();
        let options = CommitOptions::default().with_message(message).with_time(stamp.at.timestamp());
        let (hash, _) = edit.tx.commit_with(options);
        Ok((done, hash.as_ref().map(id)))
    }
}

/// True for one whole document whose columns are not deflated, by the form published for the
/// engine's binary format: magic, checksum, kind 0, length; actors; heads; two lists of columns,
/// bit 3 of a column's specification saying that it is deflated.
fn is_plain(bytes: &[u8]) -> bool {
    fn number(rest: &mut &[u8]) -> Option<usize> {
        let mut value = 0_u64;
        for shift in (0..63).step_by(7) {
            let (first, tail) = rest.split_first()?;
            *rest = tail;
            value |= u64::from(first & 0x7f) << shift;
            if first & 0x80 == 0 {
                return usize::try_from(value).ok();
            }
        }
        None
    }
    fn skip(rest: &mut &[u8], count: usize) -> Option<()> {
        *rest = rest.get(count..)?;
        Some(())
    }
    let scan = || {
        let mut rest = bytes;
        if !rest.starts_with(&[0x85, 0x6f, 0x4a, 0x83]) || rest.get(8) != Some(&0) {
            return None;
        }
        skip(&mut rest, 9)?;
        if number(&mut rest)? != rest.len() {
            return None;
        }
        for _ in 0..number(&mut rest)? {
            let length = number(&mut rest)?;
            skip(&mut rest, length)?;
        }
        let heads = number(&mut rest)?;
        skip(&mut rest, heads.checked_mul(32)?)?;
        let mut plain = true;
        for _ in 0..2 {
            for _ in 0..number(&mut rest)? {
                plain &= number(&mut rest)? & 0b1000 == 0;
                number(&mut rest)?;
            }
        }
        Some(plain)
    };
    scan().unwrap_or(false)
}

fn id(hash: &ChangeHash) -> ChangeId {
    ChangeId(hash.0)
}

fn hash(id: &ChangeId) -> ChangeHash {
    ChangeHash(id.0)
}

fn stored(mut change: Change) -> ChangeBytes {
    ChangeBytes { id: id(&change.hash()), bytes: change.bytes().into_owned() }
}
