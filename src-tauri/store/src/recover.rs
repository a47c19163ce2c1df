//! Recovering a damaged database: what can be read of it is built into a file beside it, and that
//! takes its place last of all. A process killed at any moment leaves either the damaged database
//! where it was, to be begun again with, or the finished file, to be put in its place.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::types::Value;
use rusqlite::{params, params_from_iter};
use survey::By;
use uuid::Uuid;

use crate::damaged::{Found, Image, Table};
use crate::document::salvage::{Gathered, deps_of, said_id};
use crate::document::{ChangeId, Doc, Stamp, Touch};
use crate::error::StoreError;
use crate::mark::Mark;
use crate::own;
use crate::owner::{beside, fingerprint};
use crate::store::{Content, Kind, Loaded, Store};

/// While it is built.
pub(crate) const BUILDING: &str = ".recovering";
/// Once it is whole: this and the moment the damaged one is named after.
const BUILT: &str = ".recovered-";
/// What the damaged one is called then: this and the moment.
const ASIDE: &str = ".damaged-";

/// A damaged database, and what was recovered from it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SetAside {
    /// Where it is now, byte by byte as it was.
    pub path: PathBuf,
    /// What is wrong with it.
    pub reason: String,
    /// Documents recovered.
    pub documents: usize,
    /// Changes recovered, with their place in the history.
    pub changes: usize,
    /// Changes whose earlier ones are lost: what they wrote was brought back, as one new change of each document.
    pub by_value: usize,
    /// Photos recovered.
    pub photos: usize,
    /// What could be seen but not recovered, a line each.
    pub lost: Vec<String>,
}

impl fmt::Display for SetAside {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { path, reason, documents, changes, by_value, photos, lost } = self;
        write!(
            out,
            "the database was damaged ({reason}) and is now {}; {documents} boards and sites with {changes} changes \
             and {photos} photos were recovered from it",
            path.display()
        )?;
        if *by_value > 0 {
            write!(
                out,
                "; {by_value} changes build on lost ones: their values are there, but not their history: look them over"
            )?;
        }
        if lost.is_empty() {
            write!(out, "; nothing is missing as far as can be seen")
        } else {
            let first: Vec<&str> = lost.iter().take(20).map(String::as_str).collect();
            write!(out, "; not recovered: {}", first.join(", "))?;
            if lost.len() > first.len() {
                write!(out, " and {} more", lost.len() - first.len())?;
            }
            Ok(())
        }
    }
}

fn failed(path: &Path) -> impl Fn(std::io::Error) -> StoreError {
    let path = path.to_owned();
    move |source| StoreError::File { path: path.clone(), source }
}

/// A recovered file that is whole and waits to take its place: its name's end.
pub(crate) fn waiting(path: &Path) -> Option<String> {
    let begin = format!("{}{BUILT}", path.file_name()?.to_string_lossy());
    let names = fs::read_dir(folder(path)).ok()?.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    let mut found: Vec<String> = names.filter_map(|name| name.strip_prefix(&begin).map(str::to_owned)).collect();
    // One that still has a log or a journal is not whole.
    found.retain(|end| !end.contains("-wal") && !end.contains("-shm") && !end.contains("-journal"));
    found.sort();
    found.pop()
}

fn folder(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// A moment that no damaged or recovered file is named after yet.
pub(crate) fn moment(path: &Path, now: chrono::DateTime<chrono::Utc>) -> String {
    let stamp = now.format("%Y%m%d-%H%M%S");
    (1..)
        .map(|count: u32| if count == 1 { stamp.to_string() } else { format!("{stamp}-{count}") })
        .find(|moment| {
            [ASIDE, BUILT]
                .iter()
                .all(|what| ["", "-wal"].iter().all(|end| !beside(path, &format!("{what}{moment}{end}")).exists()))
        })
        .unwrap_or_else(|| stamp.to_string())
}

pub(crate) fn aside(path: &Path, moment: &str) -> PathBuf {
    beside(path, &format!("{ASIDE}{moment}"))
}

/// Takes away what a recovery that was broken off left.
pub(crate) fn clear(path: &Path) {
    let side = beside(path, BUILDING);
    for end in ["", "-wal", "-shm", "-journal"] {
        // What cannot be taken away now shows when the next one is built.
        let _left = fs::remove_file(beside(&side, end));
    }
}

/// The file built is whole: it gets a name that says so.
pub(crate) fn built(path: &Path, moment: &str) -> Result<(), StoreError> {
    let side = beside(path, BUILDING);
    File::open(&side).and_then(|file| file.sync_all()).map_err(failed(&side))?;
    let to = beside(path, &format!("{BUILT}{moment}"));
    fs::rename(&side, &to).map_err(failed(&to))?;
    sync_folder(path)
}

/// Puts the recovered file in the place of the damaged one, which is renamed; to be called again
/// where it was broken off.
pub(crate) fn put_in_place(path: &Path, moment: &str) -> Result<(), StoreError> {
    let aside = aside(path, moment);
    for end in ["-wal", "-shm", ""] {
        let (from, mut to) = (beside(path, end), beside(&aside, end));
        if from.exists() {
            if to.exists() {
                to = beside(&aside, &format!("-later{end}"));
            }
            fs::rename(&from, &to).map_err(failed(&from))?;
        }
    }
    sync_folder(path)?;
    let from = beside(path, &format!("{BUILT}{moment}"));
    fs::rename(&from, path).map_err(failed(&from))?;
    sync_folder(path)
}

/// A new name is on the disk only once its folder is.
fn sync_folder(path: &Path) -> Result<(), StoreError> {
    if cfg!(unix) {
        let folder = folder(path);
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(failed(folder))?;
    }
    Ok(())
}

/// All that is known of one document.
#[derive(Default)]
struct Pieces {
    kind: Option<Kind>,
    changes: BTreeMap<ChangeId, Vec<u8>>,
}

impl Store {
    /// Brings what can be read of a damaged database in here, which is new, and writes down what
    /// that was. `mark`: what is known of it beside.
    pub(crate) fn recover(&mut self, path: &Path, mark: Option<Mark>, report: &mut SetAside) -> Result<(), StoreError> {
        let count = mark.map_or(0, |mark| mark.count);
        let mut image = Image::open(path).map_err(failed(path))?;
        let mut found = image.read();
        let by_document = sorted(&mut found, &self.actor);
        let touched = touched(&found);
        let mut names: BTreeMap<Uuid, String> = BTreeMap::new();
        let mut here: BTreeSet<ChangeId> = BTreeSet::new();
        let at = self.env.now();
        let mut photos: BTreeSet<String> = std::mem::take(&mut found.expected_photos);
        let mut shown: BTreeSet<String> = BTreeSet::new();
        self.write(|store| {
            let mut missing: BTreeMap<Uuid, (usize, usize)> = BTreeMap::new();
            for (id, pieces) in by_document {
                let Gathered { mut doc, orphans } = Doc::gather(pieces.changes, &store.actor);
                let whole = doc.ids();
                here.extend(&whole);
                report.changes += whole.len();
                if !orphans.is_empty() {
                    let stamp = Stamp { op: "recovered from a damaged store", by: By::default(), at };
                    let (kept, _) = doc.replant(&orphans, &touched, &stamp);
                    report.by_value += kept.len();
                    missing.entry(id).or_default().1 += orphans.len() - kept.len();
                    here.extend(orphans.keys());
                }
                if doc.ids().is_empty() {
                    continue;
                }
                if doc.value("/id").is_none() {
                    let stamp = Stamp { op: "recovered from a damaged store", by: By::default(), at };
                    let named = serde_json::json!({ "id": id.to_string() });
                    let _shown_as_nameless = doc.edit(&stamp, |edit| edit.set("", &named));
                }
                let kind = pieces.kind.unwrap_or_else(|| {
                    let board = ["/supply", "/reference", "/site"].iter().any(|path| doc.value(path).is_some());
                    if board { Kind::Board } else { Kind::Site }
                });
                let changes = doc.changes_since(&[]);
                for change in &changes {
                    here.insert(change.id);
                }
                match Loaded::new(id, kind, doc) {
                    Ok(loaded) => {
                        shown.extend(photos_of(&loaded));
                        names.insert(id, name_of(&loaded));
                        store.append(&loaded, &changes)?;
                    }
                    Err(error) => {
                        report.lost.push(error.to_string());
                        store.put_unread(id, kind, &changes)?;
                    }
                }
                report.documents += 1;
            }
            for (hash, document) in &found.expected {
                if !here.contains(hash) {
                    missing.entry(*document).or_default().0 += 1;
                }
            }
            let seen: usize = missing.values().map(|(lost, _)| lost).sum();
            for (id, (lost, unplaced)) in &missing {
                let name = names.get(id).cloned().unwrap_or_else(|| format!("document {id}"));
                if *lost > 0 {
                    report.lost.push(format!("{name}: {lost} changes"));
                }
                if *unplaced > 0 {
                    report.lost.push(format!(
                        "{name}: {unplaced} changes that wrote into records which are lost, some of their values"
                    ));
                }
            }
            let known = usize::try_from(found.highest.max(count)).unwrap_or_default();
            if known > here.len() + seen {
                report.lost.push(format!("{} changes of which only the number is known", known - here.len() - seen));
            }
            store.put_rows(&found, path)?;
            if let Some(mark) = mark {
                // The same store still; and what it has fewer than the mark says is told here.
                own::put(&store.db, "store", &mark.store.to_string())?;
                own::put(&store.db, "mark told", &mark.told())?;
            }
            Ok::<_, StoreError>(())
        })?;
        for (hash, place) in &found.photos {
            if let Some(bytes) = image.photo(hash, place)
                && self.put_photo(hash, &bytes, found.photo_rows.get(hash))?
            {
                report.photos += 1;
                photos.remove(hash);
            }
        }
        report.lost.extend(photos.iter().map(|hash| format!("photo {hash:.12}")));
        let known = usize::try_from(mark.map_or(0, |mark| mark.photos)).unwrap_or_default();
        if known > report.photos + photos.len() {
            report
                .lost
                .push(format!("{} photos of which only the number is known", known - report.photos - photos.len()));
        }
        // What a board only speaks of may never have been here.
        shown.retain(|hash| !photos.contains(hash) && !found.photos.contains_key(hash));
        report.lost.extend(shown.iter().map(|hash| format!("photo {hash:.12}, if it was here")));
        if found.broken > 0 || found.cut_off > 0 {
            let Found { pages, broken, cut_off, .. } = found;
            report.lost.push(format!(
                "what stood on {broken} of {pages} pages that cannot be read and on {cut_off} that are cut off, where it is not counted above"
            ));
        }
        let text = report.to_string();
        self.put_notice(&text)
    }

    /// A photo that was here is kept even where it would not be taken in any more: then with its
    /// small picture as it was.
    fn put_photo(&mut self, hash: &str, bytes: &[u8], row: Option<&Vec<Value>>) -> Result<bool, StoreError> {
        match self.keep_photo(bytes) {
            Ok(_) => Ok(true),
            Err(StoreError::Photo(_)) => self.write(|store| {
                let Some(row) = row else { return Ok(false) };
                store
                    .db
                    .execute("INSERT OR IGNORE INTO photos VALUES (?1, ?2, ?3, ?4, ?5, ?6)", params_from_iter(row))?;
                store.db.execute("INSERT OR IGNORE INTO photo_bytes VALUES (?1, ?2)", params![hash, bytes])?;
                Ok(true)
            }),
            Err(error) => Err(error),
        }
    }

    /// Keeps the changes of a document that cannot be shown.
    fn put_unread(&mut self, id: Uuid, kind: Kind, changes: &[crate::document::ChangeBytes]) -> Result<(), StoreError> {
        let id = id.as_bytes().as_slice();
        self.db.execute("INSERT OR IGNORE INTO documents VALUES (?1, ?2, x'', 0, 0, 0)", params![id, kind.key()])?;
        for change in changes {
            self.db.execute(
                "INSERT OR IGNORE INTO changes (document, hash, bytes) VALUES (?1, ?2, ?3)",
                params![id, change.id.0.as_slice(), change.bytes],
            )?;
        }
        Ok(())
    }

    /// The rows that are no document: what undo needs, what is the store's own, what must be read,
    /// what was being taken in.
    fn put_rows(&mut self, found: &Found, path: &Path) -> Result<(), StoreError> {
        let (mut device, mut file, mut last_device) = (None, None, None);
        for ((table, number), row) in &found.rows {
            let row = row.clone();
            match table {
                Table::Ops => {
                    let mut row = row;
                    row.resize(8, Value::Null);
                    if let Value::Blob(device) = &row[7] {
                        last_device = Uuid::from_slice(device).ok();
                    }
                    row[0] = Value::Integer(*number);
                    self.db.execute(
                        "INSERT OR IGNORE INTO ops (seq, document, name, touched, done, undone, state, device)
                         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                        params_from_iter(row),
                    )?;
                }
                Table::Own => match row.as_slice() {
                    [Value::Text(name), Value::Text(value)] if name == "device" => device = Some(value.clone()),
                    [Value::Text(name), Value::Text(value)] if name == "device file" => file = Some(value.clone()),
                    _ => drop(self.db.execute("INSERT OR REPLACE INTO own VALUES (?1, ?2)", params_from_iter(row))?),
                },
                Table::Notices => {
                    let mut row = row;
                    row[0] = Value::Integer(*number);
                    self.db.execute("INSERT OR IGNORE INTO notices VALUES (?1, ?2, ?3, ?4)", params_from_iter(row))?;
                }
                Table::Incoming => {
                    let mut row = row;
                    row[0] = Value::Integer(*number);
                    self.db
                        .execute("INSERT OR IGNORE INTO incoming VALUES (?1, ?2, ?3, ?4, ?5)", params_from_iter(row))?;
                }
                _ => {}
            }
        }
        // The device it was, unless the damaged file was a copy of another's.
        let was_here = file.as_ref().is_none_or(|file| *file == fingerprint(path));
        let device = device.or_else(|| last_device.map(|device| device.to_string()));
        if let (true, Some(device)) = (was_here, device) {
            let side = self.db.path().map(fingerprint_of).unwrap_or_default();
            for (name, value) in [("device", &device), ("device file", &side)] {
                own::put(&self.db, name, value)?;
            }
        }
        Ok(())
    }
}

fn fingerprint_of(path: &str) -> String {
    fingerprint(Path::new(path))
}

/// The changes by document: from rows, from documents saved whole, and each with the document that
/// those it hangs together with belong to.
fn sorted(found: &mut Found, actor: &[u8]) -> BTreeMap<Uuid, Pieces> {
    for (id, snapshot) in std::mem::take(&mut found.snapshots) {
        let Ok(doc) = Doc::load(&snapshot, actor) else { continue };
        for change in doc.changes_since(&[]) {
            found
                .changes
                .entry(change.id)
                .or_insert_with(|| crate::damaged::FoundChange { document: id, bytes: change.bytes });
        }
    }
    // What a row left over in a corner of a page names as its document may be written over in part.
    for change in found.changes.values_mut().filter(|change| !found.kinds.contains_key(&change.document)) {
        change.document = said_id(&change.bytes).unwrap_or(change.document);
    }
    // Changes that build on each other are of one document, whatever became of the id beside one.
    let all: Vec<ChangeId> = found.changes.keys().copied().collect();
    let number: BTreeMap<ChangeId, usize> = all.iter().enumerate().map(|(index, hash)| (*hash, index)).collect();
    let mut group: Vec<usize> = (0..all.len()).collect();
    fn root(group: &mut [usize], mut at: usize) -> usize {
        while group[at] != at {
            group[at] = group[group[at]];
            at = group[at];
        }
        at
    }
    for (index, hash) in all.iter().enumerate() {
        let Some(change) = found.changes.get(hash) else { continue };
        for dep in deps_of(&change.bytes) {
            found.expected.entry(dep).or_insert(change.document);
            if let Some(other) = number.get(&dep) {
                let (one, other) = (root(&mut group, index), root(&mut group, *other));
                group[one] = other;
            }
        }
    }
    let mut votes: BTreeMap<usize, BTreeMap<Uuid, (usize, bool)>> = BTreeMap::new();
    for (index, hash) in all.iter().enumerate() {
        let of = root(&mut group, index);
        if let Some(change) = found.changes.get(hash) {
            let vote = votes.entry(of).or_default().entry(change.document).or_default();
            vote.0 += 1;
            vote.1 = found.kinds.contains_key(&change.document);
        }
    }
    let mut documents: BTreeMap<Uuid, Pieces> = BTreeMap::new();
    for (id, kind) in &found.kinds {
        documents.entry(*id).or_default().kind = Kind::read(kind);
    }
    for (index, hash) in all.iter().enumerate() {
        let of = root(&mut group, index);
        let id = votes.get(&of).and_then(|votes| votes.iter().max_by_key(|(_, (count, known))| (*known, *count)));
        if let (Some((id, _)), Some(change)) = (id, found.changes.remove(hash)) {
            documents.entry(*id).or_default().changes.insert(*hash, change.bytes);
        }
    }
    documents
}

/// Which paths a change wrote, by what undo keeps.
fn touched(found: &Found) -> BTreeMap<ChangeId, Vec<String>> {
    let rows = found.rows.iter().filter(|((table, _), _)| *table == Table::Ops);
    rows.filter_map(|(_, row)| match (row.get(3)?, row.get(4)?) {
        (Value::Text(touched), Value::Blob(done)) => {
            let touched: Vec<Touch> = serde_json::from_str(touched).ok()?;
            let paths = touched.iter().map(|touch| touch.path().to_owned()).collect();
            Some((ChangeId(done.as_slice().try_into().ok()?), paths))
        }
        _ => None,
    })
    .collect()
}

fn name_of(loaded: &Loaded) -> String {
    match &loaded.content {
        Content::Board(board) if board.reference.is_empty() => format!("the board {} without a reference", loaded.id),
        Content::Board(board) => format!("board {}", board.reference),
        Content::Site(site) if site.name.is_empty() => format!("the site {} without a name", loaded.id),
        Content::Site(site) => format!("site {}", site.name),
    }
}

fn photos_of(loaded: &Loaded) -> Vec<String> {
    match &loaded.content {
        Content::Board(board) => board.photos.values().map(|photo| photo.hash.clone()).collect(),
        Content::Site(_) => Vec::new(),
    }
}
