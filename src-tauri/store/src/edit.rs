//! Making and changing documents: one change per operation, one transaction per change.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rusqlite::params;
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use survey::intent::Change;
use survey::{Board, BoardId, By, Problem, Site, SiteId, say};
use uuid::Uuid;

use crate::document::{ChangeId, Conflict, ConflictKind, Doc, Edit, PICK_KEPT, PICK_REMOVED, Stamp, Touch};
use crate::env::Env;
use crate::error::StoreError;
use crate::json::{below, canonical};
use crate::store::{Kind, Loaded, Model, Store, grouped, hydrate, parts_of, version};

/// An operation: what is done, by whom.
#[derive(Clone, Debug)]
pub struct Op<'a> {
    /// Name shown with undo, as it is to be kept: that of [`survey::Message::stored`], or plain words.
    pub name: &'a str,
    /// Who does it.
    pub by: By,
}

impl<'a> Op<'a> {
    /// An operation by somebody; a word alone is a role.
    #[must_use]
    pub fn new(name: &'a str, by: impl Into<By>) -> Self {
        Self { name, by: by.into() }
    }
}

/// What a change made here and now, or one taken from a file, is written with.
pub(crate) struct Hand<'a> {
    stamp: Stamp<'a>,
    /// The author it is written under; `None` is this opening of the store.
    author: Option<[u8; 16]>,
}

impl<'a> Hand<'a> {
    /// A change that says what a file says. Everything in it follows from the file and from what
    /// it is written over, so that every store that takes the file in makes the same change, and
    /// what is then worked on apart has one beginning.
    fn of_file(op: &'a str, over: &[ChangeId], content: &Value) -> Self {
        let at = latest(content).unwrap_or_default();
        let mut hasher = Sha256::new();
        hasher.update(b"survey file\0");
        hasher.update(op.as_bytes());
        hasher.update([0]);
        over.iter().for_each(|change| hasher.update(change.0));
        hasher.update([0]);
        hasher.update(canonical(content).as_bytes());
        let mut author = [0; 16];
        author.copy_from_slice(&hasher.finalize()[..16]);
        Self { stamp: Stamp { op, by: By::default(), at }, author: Some(author) }
    }

    /// The id of the settled record of that number.
    fn id(&self, number: usize, env: &mut Env) -> Uuid {
        let Some(author) = self.author else { return env.id() };
        let mut hasher = Sha256::new();
        hasher.update(author);
        hasher.update(number.to_be_bytes());
        let mut bytes = [0; 16];
        bytes.copy_from_slice(&hasher.finalize()[..16]);
        uuid::Builder::from_custom_bytes(bytes).into_uuid()
    }
}

/// The latest time that a content names: when the last of its readings was taken.
fn latest(content: &Value) -> Option<DateTime<Utc>> {
    match content {
        Value::Array(items) => items.iter().filter_map(latest).max(),
        Value::Object(fields) => {
            let own = fields.get("at").and_then(Value::as_str).and_then(|at| at.parse::<DateTime<Utc>>().ok());
            fields.values().filter_map(latest).chain(own).max()
        }
        _ => None,
    }
}

/// The same content with its keys in order, so that it is written in the same order everywhere.
fn in_order(content: &Value) -> Value {
    match content {
        Value::Object(fields) => {
            let sorted: BTreeMap<&String, &Value> = fields.iter().collect();
            sorted.into_iter().map(|(key, value)| (key.clone(), in_order(value))).collect::<Map<_, _>>().into()
        }
        Value::Array(items) => items.iter().map(in_order).collect(),
        plain => plain.clone(),
    }
}

/// What was saved. It is on the disk.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Saved {
    /// Paths of the fields written and the records made; empty where nothing differed.
    pub touched: Vec<String>,
    /// The version the document has now.
    pub version: String,
    /// What undo or redo left as it is, and why.
    pub skipped: Vec<Problem>,
    /// What stands here and what a survey file says instead: the file's stood here before, so that
    /// what stands here is newer and was left.
    pub kept: Vec<Differs>,
    /// What stood here, worked on since its record was made, and what a survey file put in its place.
    pub replaced: Vec<Differs>,
}

/// A field of which a survey file says something else than what stood here.
#[derive(Clone, Debug, PartialEq)]
pub struct Differs {
    /// The field.
    pub path: String,
    /// What stood here.
    pub here: Value,
    /// What the file says.
    pub file: Value,
}

/// What a change wrote, before it is stored.
struct Written<T> {
    touched: Vec<Touch>,
    json: Value,
    strange: Vec<Problem>,
    content: T,
    problems: Vec<Problem>,
}

impl Store {
    /// Stores a new board. `check` sees it as it would be stored and can refuse it.
    ///
    /// # Errors
    /// [`StoreError::Exists`], [`StoreError::Refused`], or the database failed.
    pub fn create_board(
        &mut self,
        op: Op<'_>,
        board: &Board,
        check: impl FnOnce(&Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.create(op, board.id.0, board, false, check)
    }

    /// Stores a board from a survey file. Unlike [`Self::create_board`], the change is the same on
    /// every store that takes the same content in: edits made apart then have one beginning and
    /// meet as edits, not as two boards. It names no role, and the time of the file's last reading.
    ///
    /// # Errors
    /// As for [`Self::create_board`].
    pub fn import_board(
        &mut self,
        op: Op<'_>,
        board: &Board,
        check: impl FnOnce(&Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.create(op, board.id.0, board, true, check)
    }

    /// Stores a site that a survey file names, as [`Self::import_board`] does a board.
    ///
    /// # Errors
    /// As for [`Self::create_site`].
    pub fn import_site(&mut self, op: Op<'_>, id: SiteId, site: &Site) -> Result<Saved, StoreError> {
        let site = Site { id: Some(id), ..site.clone() };
        self.create(op, id.0, &site, true, |_| Ok(()))
    }

    /// Changes a board to what a survey file says, as [`Self::transact`] does, but for fields at
    /// which the file's value stood before what stands there now: of those the file is an older
    /// copy, and they are left and named ([`Saved::kept`]). Values that were worked on here and get
    /// another from the file are named too ([`Saved::replaced`]). The change is the same on every
    /// store whose board has the same history.
    ///
    /// # Errors
    /// As for [`Self::transact`].
    pub fn import_changes(
        &mut self,
        op: Op<'_>,
        board: BoardId,
        changes: &[Change],
        check: impl FnOnce(&Board, &Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.write(|store| {
            let loaded = store.take(board.0, Kind::Board)?;
            let asked: Vec<(&str, &Value)> =
                changes.iter().map(|change| (change.path.as_str(), &change.value)).collect();
            let past = loaded.doc.past(&asked);
            let differs = |change: &Change| Differs {
                path: change.path.clone(),
                here: loaded.doc.value(&change.path).unwrap_or_default(),
                file: change.value.clone(),
            };
            let (mut newer, mut kept, mut replaced) = (Vec::new(), Vec::new(), Vec::new());
            for (change, past) in changes.iter().zip(past) {
                if past.stood {
                    kept.push(differs(change));
                    continue;
                }
                if past.edited {
                    replaced.push(differs(change));
                }
                newer.push(change.clone());
            }
            store.keep(loaded);
            let saved = store.change(op, board.0, &newer, true, check)?;
            Ok(Saved { kept, replaced, ..saved })
        })
    }

    /// Stores a new site under its id, or under a fresh one where it has none; returns the id.
    ///
    /// # Errors
    /// [`StoreError::Exists`], or the database failed.
    pub fn create_site(&mut self, op: Op<'_>, site: &Site) -> Result<(SiteId, Saved), StoreError> {
        let id = site.id.unwrap_or_else(|| SiteId(self.env.id()));
        let site = Site { id: Some(id), ..site.clone() };
        Ok((id, self.create(op, id.0, &site, false, |_| Ok(()))?))
    }

    fn create<T: Model>(
        &mut self,
        op: Op<'_>,
        id: Uuid,
        model: &T,
        from_file: bool,
        check: impl FnOnce(&T) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        let json = in_order(&to_json(model, id)?);
        self.write(|store| {
            if store.exists(id)? {
                return Err(StoreError::Exists { kind: T::KIND.key(), id });
            }
            let hand = match from_file {
                true => Hand::of_file(op.name, &[], &json),
                false => store.hand(&op),
            };
            let mut doc = Doc::new(&hand.author.unwrap_or(store.actor));
            let (written, change) = doc.edit(&hand.stamp, |edit| {
                edit.set("", &json)?;
                let written = written::<T>(edit, id, Value::Null, &[], &[])?;
                check(&written.content).map_err(StoreError::Refused)?;
                Ok::<_, StoreError>(written)
            })?;
            doc.write_as(&store.actor);
            let Written { touched, json, strange, content, problems } = written;
            let content = content.wrap();
            let mut loaded = Loaded { id, kind: T::KIND, doc, json, strange, content, problems, conflicts: vec![] };
            let saved = store.finish(&mut loaded, &touched, change)?;
            if let Some(change) = change {
                store.journal(id, op.name, &touched, change)?;
            }
            store.keep(loaded);
            Ok(saved)
        })
    }

    /// Changes a board: every change, in one transaction, or none. `check` sees the board before
    /// and after and can refuse. A change of a field with a conflict settles it, and says so in
    /// the board's `settled` records.
    ///
    /// # Errors
    /// [`StoreError::Refused`] by `check` or because a value cannot be read as what the field is;
    /// no such board; a path that is none; the database failed. Nothing is written then.
    pub fn transact(
        &mut self,
        op: Op<'_>,
        board: BoardId,
        changes: &[Change],
        check: impl FnOnce(&Board, &Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.change(op, board.0, changes, false, check)
    }

    /// Changes a site.
    ///
    /// # Errors
    /// As for [`Self::transact`].
    pub fn transact_site(&mut self, op: Op<'_>, site: SiteId, changes: &[Change]) -> Result<Saved, StoreError> {
        self.change::<Site>(op, site.0, changes, false, |_, _| Ok(()))
    }

    fn change<T: Model>(
        &mut self,
        op: Op<'_>,
        id: Uuid,
        changes: &[Change],
        from_file: bool,
        check: impl FnOnce(&T, &T) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.write(|store| {
            let hand = match from_file {
                true => {
                    let loaded = store.take(id, T::KIND)?;
                    let heads = loaded.doc.heads();
                    store.keep(loaded);
                    let content = changes.iter().map(|change| json!([change.path, change.value])).collect();
                    Hand::of_file(op.name, &heads, &content)
                }
                false => store.hand(&op),
            };
            let (saved, touched, change) = store.edit_by::<T, _>(&hand, id, check, |edit| {
                changes.iter().try_for_each(|change| edit.set(&change.path, &change.value))
            })?;
            if let Some(change) = change {
                store.journal(id, op.name, &touched, change)?;
            }
            Ok(saved)
        })
    }

    fn hand<'a>(&mut self, op: &Op<'a>) -> Hand<'a> {
        Hand { stamp: Stamp { op: op.name, by: op.by.clone(), at: self.env.now() }, author: None }
    }

    /// Writes into a document that is there, checks the outcome and stores the change. Runs inside
    /// a transaction.
    pub(crate) fn edit<T: Model, E>(
        &mut self,
        op: Op<'_>,
        id: Uuid,
        check: impl FnOnce(&T, &T) -> Result<(), Vec<Problem>>,
        work: impl FnOnce(&mut Edit<'_>) -> Result<(), E>,
    ) -> Result<(Saved, Vec<Touch>, Option<ChangeId>), StoreError>
    where
        StoreError: From<E>,
    {
        let hand = self.hand(&op);
        self.edit_by(&hand, id, check, work)
    }

    fn edit_by<T: Model, E>(
        &mut self,
        hand: &Hand<'_>,
        id: Uuid,
        check: impl FnOnce(&T, &T) -> Result<(), Vec<Problem>>,
        work: impl FnOnce(&mut Edit<'_>) -> Result<(), E>,
    ) -> Result<(Saved, Vec<Touch>, Option<ChangeId>), StoreError>
    where
        StoreError: From<E>,
    {
        let settled_ids: Vec<Uuid> = {
            let loaded = self.take(id, T::KIND)?;
            let count = loaded.conflicts.len();
            self.keep(loaded);
            (0..count).map(|number| hand.id(number, &mut self.env)).collect()
        };
        let mut loaded = self.take(id, T::KIND)?;
        let stamp = &hand.stamp;
        if let Some(author) = &hand.author {
            loaded.doc.write_as(author);
        }
        let Loaded { doc, json, strange, content, problems, conflicts, .. } = &mut loaded;
        let done = doc.edit(stamp, |edit| {
            work(edit)?;
            let fields: Vec<String> = edit.touched().iter().map(|touch| touch.path().to_owned()).collect();
            if T::KIND == Kind::Board {
                for (conflict, id) in conflicts.iter().zip(settled_ids) {
                    if fields.contains(&conflict.path) {
                        let to = edit.value(&conflict.path).unwrap_or_default();
                        edit.set(&below("/settled", &id.to_string()), &settled(conflict, &to, stamp))?;
                    }
                }
            }
            // Taken, not copied: copying it took as long as all the rest of a save.
            let written = written::<T>(edit, id, std::mem::take(json), strange, problems)?;
            if let Some(before) = T::of(content) {
                check(before, &written.content).map_err(StoreError::Refused)?;
            }
            Ok::<_, StoreError>(written)
        });
        doc.write_as(&self.actor);
        match done {
            Ok((written, None)) => {
                loaded.json = written.json;
                let version = version(&loaded.doc.heads());
                self.keep(loaded);
                Ok((Saved { version, ..Saved::default() }, written.touched, None))
            }
            Ok((written, change)) => {
                loaded.json = written.json;
                loaded.strange = written.strange;
                loaded.content = written.content.wrap();
                loaded.problems = written.problems;
                let saved = self.finish(&mut loaded, &written.touched, change)?;
                self.keep(loaded);
                Ok((saved, written.touched, change))
            }
            Err(error) => {
                // Rolled back: what is in memory is what is stored.
                if loaded.json.is_null() {
                    loaded.json = loaded.doc.read().json;
                }
                self.keep(loaded);
                Err(error)
            }
        }
    }

    /// Stores the change just made.
    fn finish(
        &mut self,
        loaded: &mut Loaded,
        touched: &[Touch],
        change: Option<ChangeId>,
    ) -> Result<Saved, StoreError> {
        if let Some(change) = change {
            // A change made here comes after all that is known here: it can clear a conflict but
            // not raise one.
            if !loaded.conflicts.is_empty() {
                let read = loaded.doc.read();
                loaded.conflicts = grouped(loaded.doc.conflicts(&read), &read.json);
            }
            let bytes = loaded.doc.change(&change).ok_or_else(|| StoreError::Unreadable {
                id: loaded.id,
                reason: "the change just made cannot be found in it".to_owned(),
            })?;
            self.append(loaded, &[bytes])?;
        }
        Ok(Saved {
            touched: touched.iter().map(|touch| touch.path().to_owned()).collect(),
            version: version(&loaded.doc.heads()),
            ..Saved::default()
        })
    }

    /// Notes what was done, for undo; what was undone before can then no longer be redone.
    pub(crate) fn journal(&self, id: Uuid, name: &str, touched: &[Touch], change: ChangeId) -> Result<(), StoreError> {
        let touched = serde_json::to_string(touched).unwrap_or_default();
        let id = id.as_bytes().as_slice();
        self.db
            .prepare_cached("UPDATE ops SET state = 'gone' WHERE document = ?1 AND state = 'undone'")?
            .execute([id])?;
        self.db
            .prepare_cached(
                "INSERT INTO ops (document, name, touched, done, state, device) VALUES (?1, ?2, ?3, ?4, 'done', ?5)",
            )?
            .execute(params![id, name, touched, change.0.as_slice(), self.device.as_slice()])?;
        Ok(())
    }

    /// Settles a conflict on a board: writes the value picked and a record of who picked it from
    /// which values, in one change.
    ///
    /// # Errors
    /// [`StoreError::NoConflict`] where no such value stands there (any more).
    pub fn settle(
        &mut self,
        by: impl Into<By>,
        board: BoardId,
        path: &str,
        pick_id: &str,
    ) -> Result<Saved, StoreError> {
        let op = Op::new("settle a conflict", by);
        self.write(|store| {
            let loaded = store.take(board.0, Kind::Board)?;
            let found = loaded.conflicts.iter().find(|conflict| conflict.path == path).and_then(|conflict| {
                let value = conflict.values.iter().find(|value| value.pick_id == pick_id)?;
                Some((conflict.clone(), value.json.clone()))
            });
            // A circuit comes back with its device and its cable, or they all stay removed.
            let mut fields = vec![path.to_owned()];
            if let Some(circuit) = path.strip_suffix("/removed") {
                fields.extend(parts_of(circuit, &loaded.json).map(|part| below(&part, "removed")));
            }
            store.keep(loaded);
            let (conflict, value) = found.ok_or_else(|| StoreError::NoConflict { path: path.to_owned() })?;
            let name = op.name;
            let (saved, touched, change) = store.edit::<Board, StoreError>(
                op,
                board.0,
                |_, _| Ok(()),
                |edit| {
                    match (conflict.kind, pick_id) {
                        (ConflictKind::RemovedWhileEdited, PICK_REMOVED) => {
                            fields.iter().try_for_each(|field| edit.confirm(field, true))?;
                        }
                        (ConflictKind::RemovedWhileEdited, PICK_KEPT) => {
                            fields.iter().try_for_each(|field| edit.set(field, &Value::Bool(false)))?;
                        }
                        _ => edit.set(path, &value)?,
                    }
                    Ok(())
                },
            )?;
            if let Some(change) = change {
                store.journal(board.0, name, &touched, change)?;
            }
            Ok(saved)
        })
    }
}

fn settled(conflict: &Conflict, to: &Value, stamp: &Stamp<'_>) -> Value {
    let from: Vec<String> = conflict.values.iter().map(|value| canonical(&value.json)).collect();
    json!({ "path": conflict.path, "from": from, "to": canonical(to), "role": stamp.by.role, "at": stamp.at })
}

fn to_json<T: Model>(model: &T, id: Uuid) -> Result<Value, StoreError> {
    serde_json::to_value(model).map_err(|error| StoreError::Unreadable { id, reason: error.to_string() })
}

/// Reads the document with what was written, given what it was; refuses what cannot be read and
/// could before.
fn written<T: Model>(
    edit: &Edit<'_>,
    id: Uuid,
    mut json: Value,
    strange_before: &[Problem],
    before: &[Problem],
) -> Result<Written<T>, StoreError> {
    let mut strange = strange_before.to_vec();
    edit.refresh(&mut json, &mut strange);
    let (content, problems) = hydrate::<T>(&json, id).map_err(|error| match error {
        // It could be read before: the edit is at fault, not the document.
        StoreError::Unreadable { reason, .. } => StoreError::Refused(vec![Problem::refused(
            edit.touched().first().map(|touch| touch.path().to_owned()).unwrap_or_default(),
            "",
            say!("problem-document-form", reason = reason),
            say!("remedy-document-form"),
        )]),
        other => other,
    })?;
    let known = |problem: &Problem| before.iter().any(|old| old.path == problem.path && old.value == problem.value);
    let fresh: Vec<Problem> = problems.iter().filter(|problem| !known(problem)).cloned().collect();
    if !fresh.is_empty() {
        return Err(StoreError::Refused(fresh));
    }
    Ok(Written { touched: edit.touched().to_vec(), json, strange, content, problems })
}
