//! Bytes that changed on the disk: found by their hashes, told, and healed from what still holds them.
//!
//! A change is sound where its bytes give its id, a photo where they give its SHA-256. A change that
//! went bad is written again from the document's snapshot where that is sound, and the snapshot from
//! the changes. What neither holds is lost here until a bundle brings it; the document is read
//! without it and without what builds on it.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::{OptionalExtension, params};
use serde::{Deserialize, Serialize};
use survey::message::Argument;
use survey::{Board, Message, Problem, say};
use uuid::Uuid;

use crate::document::earlier::begins_document;
use crate::document::salvage::deps_of;
use crate::document::{ChangeId, Doc, StoredChange, Unsound};
use crate::error::StoreError;
use crate::own;
use crate::store::{Kind, Loaded, Store};

/// Lines of damage kept of one check.
const MOST_LINES: usize = 200;
/// Where the check keeps how far it is.
const CHECK: &str = "health/check";

/// What the check of all hashes has found so far.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Health {
    /// When it was begun, RFC 3339.
    pub started: String,
    /// When it came to its end; `None` while it is under way.
    pub finished: Option<String>,
    /// Boards and sites read.
    pub documents: u64,
    /// Changes read.
    pub changes: u64,
    /// Photos read.
    pub photos: u64,
    /// Bytes read.
    pub bytes: u64,
    /// What had gone bad and was written again from what was sound.
    pub healed: u64,
    /// What is bad: what, since when, what would heal it.
    pub bad: Vec<String>,
}

/// How far the check is: what was read last.
#[derive(Default, Serialize, Deserialize)]
#[serde(default)]
struct Progress {
    health: Health,
    document: Option<Uuid>,
    photo: Option<String>,
    photos: bool,
}

/// What is found of a document.
struct Found {
    kind: Kind,
    doc: Doc,
    /// Rows to write again: their place, their id, their bytes.
    mended: Vec<(i64, ChangeId, Vec<u8>)>,
    /// The snapshot does not read.
    snapshot_bad: bool,
    /// Changes that lie among another document's.
    astray: Astray,
    read: (u64, u64),
}

/// Changes that lie among another document's.
#[derive(Default)]
struct Astray {
    /// Others' among these: their place, the document they are of.
    away: Vec<(i64, Uuid)>,
    /// These among others'.
    home: Vec<StoredChange>,
}

impl Astray {
    fn count(&self) -> usize {
        self.away.len() + self.home.len()
    }
}

/// The document whose beginning a change builds on, as far as its earlier ones are known.
fn begun_by(change: ChangeId, known: &BTreeMap<ChangeId, Vec<u8>>) -> Option<Uuid> {
    let mut seen: BTreeSet<ChangeId> = BTreeSet::new();
    let mut open = vec![change];
    while let Some(change) = open.pop() {
        let Some(bytes) = known.get(&change).filter(|_| seen.insert(change)) else { continue };
        let deps = deps_of(bytes);
        match begins_document(bytes).filter(|_| deps.is_empty()) {
            Some(owner) => return Some(owner),
            None => open.extend(deps),
        }
    }
    None
}

/// A change and those it builds on, as far as they lie elsewhere.
fn lineage(
    change: ChangeId,
    known: &BTreeMap<ChangeId, Vec<u8>>,
    elsewhere: &mut BTreeMap<ChangeId, StoredChange>,
) -> Vec<StoredChange> {
    let mut found = Vec::new();
    let mut open = vec![change];
    while let Some(change) = open.pop() {
        if let Some(row) = elsewhere.remove(&change) {
            open.extend(known.get(&change).map(|bytes| deps_of(bytes)).unwrap_or_default());
            found.push(row);
        }
    }
    found
}

impl Found {
    fn is_sound(&self) -> bool {
        self.mended.is_empty() && !self.snapshot_bad && self.astray.count() == 0 && self.doc.lost.is_empty()
    }
}

impl Store {
    /// Reads a document from whatever of it is sound, and mends what can be mended.
    pub(crate) fn load_doc(&mut self, id: Uuid) -> Result<Option<(Kind, Doc)>, StoreError> {
        let Some(found) = self.find(id, false)? else { return Ok(None) };
        Ok(Some(self.mend(id, found)))
    }

    /// The changes of a document after that place.
    pub(crate) fn stored_changes(&self, id: Uuid, after: i64) -> Result<Vec<StoredChange>, StoreError> {
        let mut statement = self
            .db
            .prepare_cached("SELECT seq, hash, bytes FROM changes WHERE document = ?1 AND seq > ?2 ORDER BY seq")?;
        let rows = statement.query_map(params![id.as_bytes().as_slice(), after], |row| {
            let hash: Vec<u8> = row.get(1)?;
            // A hash of another length is none: nothing gives it.
            let id = ChangeId(hash.try_into().unwrap_or_default());
            Ok(StoredChange { seq: row.get(0)?, id, bytes: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Reads a document: its snapshot and the changes after it; where that does not do, or where
    /// `all` is wanted, every change.
    fn find(&self, id: Uuid, all: bool) -> Result<Option<Found>, StoreError> {
        let row: Option<(String, Vec<u8>, i64)> = self
            .db
            .prepare_cached("SELECT kind, snapshot, upto FROM documents WHERE id = ?1")?
            .query_row([id.as_bytes().as_slice()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .optional()?;
        let Some((kind, snapshot, upto)) = row else { return Ok(None) };
        let kind =
            Kind::read(&kind).ok_or_else(|| StoreError::Unreadable { id, reason: format!("it is a \"{kind}\"") })?;
        let whole = || match snapshot.is_empty() {
            true => Some(Doc::new(&self.actor)),
            false => Doc::load(&snapshot, &self.actor).ok(),
        };
        let mut start = whole();
        let snapshot_bad = start.is_none();
        if !all && let Some(mut doc) = start.take() {
            let rows = self.stored_changes(id, upto)?;
            let unsound = doc.apply_sound(&rows);
            // A beginning beside another may be of another document.
            let begins = unsound.beginnings.len() + usize::from(!snapshot.is_empty());
            let is_it = || begins == 0 || doc.value("/id").is_none_or(|named| named == id.to_string());
            if unsound.bad.is_empty()
                && unsound.misnamed.is_empty()
                && doc.lost.is_empty()
                && (unsound.beginnings.is_empty() || begins == 1 && is_it())
            {
                let (mended, astray) = (Vec::new(), Astray::default());
                return Ok(Some(Found { kind, doc, mended, snapshot_bad, astray, read: (0, 0) }));
            }
        }
        let fresh = || whole().unwrap_or_else(|| Doc::new(&self.actor));
        let mut doc = fresh();
        let mut rows = self.stored_changes(id, 0)?;
        let read = (rows.len() as u64, (snapshot.len() + rows.iter().map(|row| row.bytes.len()).sum::<usize>()) as u64);
        let mut unsound = doc.apply_sound(&rows);
        let astray = self.astray(id, &rows, &unsound)?;
        if astray.count() > 0 {
            rows.retain(|row| astray.away.iter().all(|(seq, _)| *seq != row.seq));
            rows.extend(astray.home.iter().cloned());
            doc = fresh();
            unsound = doc.apply_sound(&rows);
        }
        let mut mended = Vec::new();
        for index in unsound.bad {
            let Some(row) = rows.get(index) else { continue };
            if let Some(sound) = doc.change(&row.id) {
                mended.push((row.seq, row.id, sound.bytes));
            }
        }
        for (index, own) in unsound.misnamed {
            let Some(row) = rows.get(index) else { continue };
            // Its own bytes are sound: no change of that wrong name is missing.
            doc.lost.retain(|lost| *lost != row.id);
            mended.push((row.seq, own, row.bytes.clone()));
        }
        Ok(Some(Found { kind, doc, mended, snapshot_bad, astray, read }))
    }

    /// Finds sound changes that lie among those of another document: of these rows, those that are
    /// another's, and elsewhere, those that are this one's. Whose a change is says the beginning
    /// that it builds on.
    fn astray(&self, id: Uuid, rows: &[StoredChange], unsound: &Unsound) -> Result<Astray, StoreError> {
        let mut found = Astray::default();
        let mut away: BTreeMap<ChangeId, Uuid> = BTreeMap::new();
        for row in unsound.beginnings.iter().filter_map(|index| rows.get(*index)) {
            if let Some(other) = begins_document(&row.bytes).filter(|other| *other != id) {
                away.insert(row.id, other);
            }
        }
        let mut known: BTreeMap<ChangeId, Vec<u8>> = rows.iter().map(|row| (row.id, row.bytes.clone())).collect();
        let mut seen: BTreeMap<ChangeId, StoredChange> = BTreeMap::new();
        for (index, missing) in &unsound.waiting {
            let Some(row) = rows.get(*index) else { continue };
            for dep in missing {
                if !known.contains_key(dep)
                    && let Some(holder) = self.holder(dep, id)?
                {
                    for row in self.stored_changes(holder, 0)? {
                        known.entry(row.id).or_insert_with(|| row.bytes.clone());
                        seen.insert(row.id, row);
                    }
                }
                match begun_by(*dep, &known) {
                    Some(owner) if owner == id => found.home.extend(lineage(*dep, &known, &mut seen)),
                    Some(owner) => drop(away.insert(row.id, owner)),
                    None => {}
                }
            }
        }
        // What builds on another's is that one's.
        while !away.is_empty() {
            let more: Vec<(ChangeId, Uuid)> = rows
                .iter()
                .filter(|row| !away.contains_key(&row.id))
                .filter_map(|row| Some((row.id, *deps_of(&row.bytes).iter().find_map(|dep| away.get(dep))?)))
                .collect();
            if more.is_empty() {
                break;
            }
            away.extend(more);
        }
        let of_other = |row: &StoredChange| Some((row.seq, *away.get(&row.id)?));
        found.away = rows.iter().filter_map(of_other).collect();
        Ok(found)
    }

    /// Another document among whose changes this one is.
    fn holder(&self, change: &ChangeId, not: Uuid) -> Result<Option<Uuid>, StoreError> {
        let found: Option<Vec<u8>> = self
            .db
            .prepare_cached("SELECT document FROM changes WHERE hash = ?1 AND document <> ?2 LIMIT 1")?
            .query_row(params![change.0.as_slice(), not.as_bytes().as_slice()], |row| row.get(0))
            .optional()?;
        Ok(found.and_then(|id| Uuid::from_slice(&id).ok()))
    }

    /// Puts changes that lay among another document's back to their own, and tells a person.
    /// Where their own has them too, the second copy is laid aside under an id that no document has.
    fn put_back(&mut self, id: Uuid, astray: &Astray) -> Result<(), StoreError> {
        let mut owners: BTreeMap<Uuid, usize> = BTreeMap::new();
        let home = astray.home.iter().map(|row| (row.seq, id));
        for (seq, owner) in astray.away.iter().copied().chain(home) {
            let to = owner.as_bytes().as_slice();
            let moved =
                self.db.execute("UPDATE OR IGNORE changes SET document = ?2 WHERE seq = ?1", params![seq, to])?;
            if moved == 0 {
                let aside = self.env.id();
                self.db.execute(
                    "UPDATE changes SET document = ?2 WHERE seq = ?1",
                    params![seq, aside.as_bytes().as_slice()],
                )?;
            }
            // Read again from there on, also where it was saved whole since.
            self.db.execute("UPDATE documents SET upto = min(upto, ?2 - 1) WHERE id = ?1", params![to, seq])?;
            *owners.entry(owner).or_default() += 1;
        }
        for (owner, count) in owners {
            let changes = if count == 1 { "one change".to_owned() } else { format!("{count} changes") };
            self.put_notice(&format!(
                "on the disk, {changes} of document {owner} lay among those of another: put back, nothing of it is \
                 lost. Something else wrote into the database, or the disk is going bad: look into it"
            ))?;
        }
        // Whoever is in memory may hold another's changes or lack its own.
        self.forget_all();
        Ok(())
    }

    /// Writes again what has gone bad and is sound elsewhere, and notes what is lost. That it is
    /// not written, on a full disk say, does not keep the document from being read.
    fn mend(&mut self, id: Uuid, found: Found) -> (Kind, Doc) {
        let sound = found.is_sound();
        let Found { kind, mut doc, mended, snapshot_bad, astray, .. } = found;
        if sound {
            return (kind, doc);
        }
        let written = self.write(|store| {
            for (seq, change, bytes) in &mended {
                store
                    .db
                    .prepare_cached("UPDATE OR IGNORE changes SET hash = ?2, bytes = ?3 WHERE seq = ?1")?
                    .execute(params![seq, change.0.as_slice(), bytes])?;
            }
            if snapshot_bad {
                store.snapshot(id, &doc)?;
            }
            store.put_back(id, &astray)?;
            store.note_lost(id, &doc.lost)?;
            // The lists show what can be read, not what was.
            match Loaded::new(id, kind, doc.clone()) {
                Ok(loaded) => store.project_as_it_is(&loaded),
                Err(_) => Ok(()),
            }
        });
        // What could not be written is found again at the next reading.
        drop(written);
        if !doc.lost.is_empty() {
            // Another name for what is written from here on: the lost changes may have been made
            // under this one, and a number given twice could never be merged.
            self.actor = *self.env.id().as_bytes();
            doc.write_as(&self.actor);
        }
        (kind, doc)
    }

    /// Notes since when which changes of a document are known to be lost, and forgets those that
    /// are not any more.
    pub(crate) fn note_lost(&mut self, id: Uuid, lost: &[ChangeId]) -> Result<(), StoreError> {
        let names: Vec<String> = lost.iter().map(|change| change_name(id, change)).collect();
        let known: Vec<String> = self
            .db
            .prepare_cached("SELECT name FROM own WHERE name >= ?1 AND name < ?2")?
            .query_map([format!("damaged/{id}/"), format!("damaged/{id}0")], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        for gone in known.iter().filter(|name| !names.contains(name)) {
            own::forget(&self.db, gone)?;
        }
        for name in names.iter().filter(|name| !known.contains(name)) {
            let at = self.env.now().to_rfc3339();
            own::put_if_new(&self.db, name, &at)?;
        }
        Ok(())
    }

    /// Since when it is known, in words.
    fn since_when(&self, since: &str) -> Message {
        if since.is_empty() { say!("problem-since-now") } else { say!("problem-since", when = self.env.show(since)) }
    }

    /// Since when it is known, RFC 3339; empty where it is not noted.
    fn since(&self, name: &str) -> Result<String, StoreError> {
        Ok(own::value(&self.db, name)?.unwrap_or_default())
    }

    pub(crate) fn photo_is_damaged(&self, hash: &str) -> Result<(), StoreError> {
        // The clock is not at hand in a reading; the database has one.
        self.db
            .prepare_cached("INSERT OR IGNORE INTO own VALUES (?1, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))")?
            .execute([photo_name(hash)])?;
        Ok(())
    }

    pub(crate) fn photo_is_sound(&self, hash: &str) -> Result<(), StoreError> {
        Ok(own::forget(&self.db, &photo_name(hash))?)
    }

    /// What is known to be damaged of a document, and of its photos.
    pub(crate) fn damage_of(&self, loaded: &Loaded) -> Result<Vec<Problem>, StoreError> {
        let mut problems = Vec::new();
        let waiting = loaded.doc.waiting;
        for change in &loaded.doc.lost {
            let since = self.since(&change_name(loaded.id, change))?;
            problems.push(Problem::doubt(
                "",
                change,
                say!(
                    "problem-change-lost",
                    change = change.to_string(),
                    kind = Argument::Choice(loaded.kind.key()),
                    since = self.since_when(&since),
                    waiting = waiting,
                ),
                say!("remedy-change-lost"),
            ));
        }
        if let Some(board) = <Board as crate::store::Model>::of(&loaded.content) {
            for (id, photo) in &board.photos {
                let since = self.since(&photo_name(&photo.hash))?;
                if !since.is_empty() {
                    problems.push(Problem::doubt(
                        format!("/photos/{id}"),
                        &photo.hash,
                        say!("problem-photo-lost", photo = photo.hash.clone(), since = self.since_when(&since)),
                        say!("remedy-photo-lost"),
                    ));
                }
            }
        }
        Ok(problems)
    }

    /// What is known to be damaged of a document, and of its photos: what, since when, what would
    /// heal it.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn damage(&mut self, id: Uuid, kind: Kind) -> Result<Vec<Problem>, StoreError> {
        let loaded = self.take(id, kind)?;
        let found = self.damage_of(&loaded);
        self.keep(loaded);
        found
    }

    /// Changes of a document were lost on the disk: it reads as it was before them.
    ///
    /// # Errors
    /// No such document, or the database failed.
    pub fn lacks_changes(&mut self, id: Uuid, kind: Kind) -> Result<bool, StoreError> {
        let loaded = self.take(id, kind)?;
        let lacks = !loaded.doc.lost.is_empty();
        self.keep(loaded);
        Ok(lacks)
    }

    /// What the check of all hashes has found, as far as it is; `None` where none was begun.
    ///
    /// # Errors
    /// The database failed.
    pub fn health(&self) -> Result<Option<Health>, StoreError> {
        Ok(self.progress()?.map(|progress| progress.health))
    }

    fn progress(&self) -> Result<Option<Progress>, StoreError> {
        let text = self.since(CHECK)?;
        // What does not read is begun again.
        Ok(serde_json::from_str(&text).ok())
    }

    /// Begins the check of all hashes, from the first document on.
    ///
    /// # Errors
    /// The database failed.
    pub fn begin_check(&mut self) -> Result<Health, StoreError> {
        let started = self.env.now().to_rfc3339();
        let progress = Progress { health: Health { started, ..Health::default() }, ..Progress::default() };
        self.write(|store| store.put_progress(&progress))?;
        Ok(progress.health)
    }

    fn put_progress(&self, progress: &Progress) -> Result<(), StoreError> {
        let text = serde_json::to_string(progress).unwrap_or_default();
        Ok(own::put(&self.db, CHECK, &text)?)
    }

    /// Reads on in the check of all hashes, until at least so many bytes are read or all of them:
    /// one document or one photo at a time. It goes on where it was, also after a restart. A
    /// document that is sound and has changes after its snapshot is saved whole, so that each of
    /// its changes lies in two places.
    ///
    /// # Errors
    /// The database failed.
    pub fn check_on(&mut self, bytes: u64) -> Result<Health, StoreError> {
        let mut progress = match self.progress()? {
            Some(progress) if progress.health.finished.is_some() => return Ok(progress.health),
            Some(progress) => progress,
            None => Progress { health: self.begin_check()?, ..Progress::default() },
        };
        let until = progress.health.bytes.saturating_add(bytes.max(1));
        while progress.health.bytes < until && progress.health.finished.is_none() {
            let more =
                if progress.photos { self.check_photo(&mut progress)? } else { self.check_document(&mut progress)? };
            match (more, progress.photos) {
                (true, _) => {}
                (false, false) => progress.photos = true,
                (false, true) => progress.health.finished = Some(self.env.now().to_rfc3339()),
            }
        }
        self.write(|store| store.put_progress(&progress))?;
        Ok(progress.health)
    }

    fn check_document(&mut self, progress: &mut Progress) -> Result<bool, StoreError> {
        let after = progress.document.map(|id| *id.as_bytes());
        let next: Option<[u8; 16]> = self
            .db
            .prepare_cached("SELECT id FROM documents WHERE ?1 IS NULL OR id > ?1 ORDER BY id LIMIT 1")?
            .query_row([after.as_ref().map(<[u8; 16]>::as_slice)], |row| row.get(0))
            .optional()?;
        let Some(id) = next.map(Uuid::from_bytes) else { return Ok(false) };
        progress.document = Some(id);
        let health = &mut progress.health;
        health.documents += 1;
        let found = match self.find(id, true) {
            Ok(Some(found)) => found,
            Ok(None) => return Ok(true),
            Err(StoreError::Unreadable { id, reason }) => {
                bad(health, format!("document {id}: {reason}"));
                return Ok(true);
            }
            Err(error) => return Err(error),
        };
        health.changes += found.read.0;
        // An empty document is not free of cost either.
        health.bytes += found.read.1.max(1);
        if !found.is_sound() {
            let put_right = found.mended.len() + found.astray.count();
            health.healed += put_right as u64 + u64::from(found.snapshot_bad && found.doc.lost.is_empty());
            self.forget(id);
        }
        let (kind, doc) = self.mend(id, found);
        if doc.lost.is_empty() {
            self.write(|store| {
                let pending: i64 = store
                    .db
                    .prepare_cached("SELECT pending FROM documents WHERE id = ?1")?
                    .query_row([id.as_bytes().as_slice()], |row| row.get(0))?;
                store.note_lost(id, &[])?;
                if pending > 0 { store.snapshot(id, &doc) } else { Ok(()) }
            })?;
        } else {
            for change in &doc.lost {
                let since = self.since(&change_name(id, change))?;
                bad(
                    health,
                    format!(
                        "{} {id}: the change {change} does not read as it was saved, found{}; import a bundle of its site that holds it",
                        kind.key(),
                        self.since_when(&since)
                    ),
                );
            }
        }
        Ok(true)
    }

    fn check_photo(&mut self, progress: &mut Progress) -> Result<bool, StoreError> {
        let next: Option<(String, i64)> = self
            .db
            .prepare_cached("SELECT hash, length(bytes) FROM photo_bytes WHERE hash > ?1 ORDER BY hash LIMIT 1")?
            .query_row([progress.photo.clone().unwrap_or_default()], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        let Some((hash, length)) = next else { return Ok(false) };
        let health = &mut progress.health;
        health.photos += 1;
        health.bytes += length.unsigned_abs().max(1);
        if self.has_sound_photo(&hash)? {
            self.photo_is_sound(&hash)?;
        } else {
            let since = self.since(&photo_name(&hash))?;
            bad(
                health,
                format!(
                    "photo {hash}: it does not read as it was taken in, found{}; import a bundle that holds it, or take the picture file in again",
                    self.since_when(&since)
                ),
            );
        }
        progress.photo = Some(hash);
        Ok(true)
    }
}

fn bad(health: &mut Health, line: String) {
    if health.bad.len() < MOST_LINES {
        health.bad.push(line);
    }
}

fn change_name(id: Uuid, change: &ChangeId) -> String {
    format!("damaged/{id}/{change}")
}

fn photo_name(hash: &str) -> String {
    format!("damaged/photo/{hash}")
}
