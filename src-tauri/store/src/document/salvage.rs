//! What can still be made of changes out of a damaged store.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Read as _;
use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::legacy::{Key, ObjectId, OpType};
use automerge::{Automerge, Change, ExpandedChange, ROOT, ScalarValue};
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::{ChangeId, DEEPEST, Doc, Stamp, View, id, pick_id, to_json};
use crate::json::{below, parts};

/// The first bytes of everything the engine writes.
pub(crate) const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];

/// A change that unpacks to more than this is none of ours, in bytes.
const LARGEST_CHANGE: u64 = 256 * 1024 * 1024;

/// A piece as its own beginning tells it: magic, the first four bytes of its hash, its kind, its
/// length (LEB128), its content.
struct Piece<'a> {
    check: [u8; 4],
    kind: u8,
    content: &'a [u8],
    /// All of it, its beginning included.
    length: usize,
}

fn piece_length(bytes: &[u8]) -> Option<(usize, usize)> {
    if !bytes.starts_with(&MAGIC) {
        return None;
    }
    let mut length = 0_u64;
    for (index, byte) in bytes.get(9..)?.iter().take(9).enumerate() {
        length |= u64::from(byte & 0x7f) << (7 * index);
        if byte & 0x80 == 0 {
            let begin = 10 + index;
            return Some((begin, begin.checked_add(usize::try_from(length).ok()?)?));
        }
    }
    None
}

/// How long a change is by what it says itself; the bytes may hold only its beginning.
pub(crate) fn said_length(bytes: &[u8]) -> Option<usize> {
    let kind = *bytes.get(8)?;
    let (_, length) = piece_length(bytes)?;
    matches!(kind, 1 | 2).then_some(length)
}

fn piece(bytes: &[u8]) -> Option<Piece<'_>> {
    let (begin, length) = piece_length(bytes)?;
    let content = bytes.get(begin..length)?;
    Some(Piece { check: bytes.get(4..8)?.try_into().ok()?, kind: *bytes.get(8)?, content, length })
}

fn hashed(kind: u8, content: &[u8]) -> [u8; 32] {
    let mut hasher = Sha256::new();
    hasher.update([kind]);
    let mut left = content.len();
    while left >= 0x80 {
        hasher.update([u8::try_from(left & 0x7f).unwrap_or_default() | 0x80]);
        left >>= 7;
    }
    hasher.update([u8::try_from(left).unwrap_or_default()]);
    hasher.update(content);
    hasher.finalize().into()
}

/// The hash of a stored change, worked out from its bytes; `None` where they are not one whole
/// change, or not the bytes it was stored with. A deflated change has the hash of what it unpacks
/// to (engine's binary format: chunk kinds 1 and 2).
pub(crate) fn hash_of(bytes: &[u8]) -> Option<ChangeId> {
    let piece = piece(bytes)?;
    if piece.length != bytes.len() {
        return None;
    }
    let hash = match piece.kind {
        1 => hashed(1, piece.content),
        2 => {
            let mut content = Vec::new();
            flate2::read::DeflateDecoder::new(piece.content).take(LARGEST_CHANGE).read_to_end(&mut content).ok()?;
            hashed(1, &content)
        }
        _ => return None,
    };
    hash.starts_with(&piece.check).then_some(ChangeId(hash))
}

/// True for a saved document whose bytes are those it was saved with.
pub(crate) fn is_whole_document(bytes: &[u8]) -> bool {
    piece(bytes).is_some_and(|piece| {
        piece.kind == 0 && piece.length == bytes.len() && hashed(0, piece.content).starts_with(&piece.check)
    })
}

/// The changes a change builds on. To be asked only of bytes whose hash is right.
pub(crate) fn deps_of(bytes: &[u8]) -> Vec<ChangeId> {
    read(bytes).map(|change| change.deps().iter().map(id).collect()).unwrap_or_default()
}

/// The id of the document, where a change writes it: the one that made the document does. To be
/// asked only of bytes whose hash is right.
pub(crate) fn said_id(bytes: &[u8]) -> Option<Uuid> {
    let change = decoded(bytes)?;
    change.operations.iter().find_map(|op| match (&op.obj, &op.key, &op.action) {
        (ObjectId::Root, Key::Map(key), OpType::Put(ScalarValue::Str(id))) if *key == "id" => id.parse().ok(),
        _ => None,
    })
}

/// What a change did, operation by operation.
fn decoded(bytes: &[u8]) -> Option<ExpandedChange> {
    catch_unwind(AssertUnwindSafe(|| Some(Change::from_bytes(bytes.to_vec()).ok()?.decode()))).ok()?
}

fn read(bytes: &[u8]) -> Option<Change> {
    catch_unwind(AssertUnwindSafe(|| Change::from_bytes(bytes.to_vec()))).ok()?.ok()
}

/// What came of the changes of one document.
pub(crate) struct Gathered {
    /// Those whose earlier ones are all there.
    pub doc: Doc,
    /// The others, by their hash.
    pub orphans: BTreeMap<ChangeId, Vec<u8>>,
}

impl Doc {
    /// A document of all the changes that can be put together.
    pub(crate) fn gather(mut changes: BTreeMap<ChangeId, Vec<u8>>, actor: &[u8]) -> Gathered {
        let deps: BTreeMap<ChangeId, Vec<ChangeId>> =
            changes.iter().map(|(hash, bytes)| (*hash, deps_of(bytes))).collect();
        let mut after: BTreeMap<ChangeId, Vec<ChangeId>> = BTreeMap::new();
        let mut open: BTreeMap<ChangeId, usize> = BTreeMap::new();
        let mut ready: Vec<ChangeId> = Vec::new();
        for (hash, deps) in &deps {
            open.insert(*hash, deps.len());
            if deps.is_empty() {
                ready.push(*hash);
            }
            for dep in deps {
                after.entry(*dep).or_default().push(*hash);
            }
        }
        let mut order: Vec<ChangeId> = Vec::new();
        while let Some(hash) = ready.pop() {
            order.push(hash);
            for next in after.get(&hash).into_iter().flatten() {
                if let Some(count) = open.get_mut(next) {
                    *count -= 1;
                    if *count == 0 {
                        ready.push(*next);
                    }
                }
            }
        }
        let mut doc = Self::new(actor);
        let taken = |changes: &BTreeMap<ChangeId, Vec<u8>>, order: &[ChangeId]| {
            let mut tried = Self::new(actor);
            let bytes = order.iter().filter_map(|hash| changes.get(hash)).map(Vec::as_slice);
            tried.apply(bytes).map(|_| tried)
        };
        if let Ok(whole) = taken(&changes, &order) {
            doc = whole;
        } else {
            // One that the engine refuses takes along what builds on it, no more.
            for hash in &order {
                let mut tried = doc.clone();
                if changes.get(hash).is_some_and(|bytes| tried.apply([bytes.as_slice()]).is_ok()) {
                    doc = tried;
                }
            }
        }
        changes.retain(|hash, _| !doc.has(hash));
        Gathered { doc, orphans: changes }
    }

    /// Writes what orphaned changes wrote, as far as the records they wrote in are there, in one
    /// change; returns how many of them came in whole and that change. Their history cannot be
    /// had: a change that builds on a lost one means nothing to the engine.
    ///
    /// `touched`: the paths that changes are known to have written, from what undo keeps. They tell
    /// where a record stands whose making is lost.
    pub(crate) fn replant(
        &mut self,
        orphans: &BTreeMap<ChangeId, Vec<u8>>,
        touched: &BTreeMap<ChangeId, Vec<String>>,
        stamp: &Stamp<'_>,
    ) -> (BTreeSet<ChangeId>, Option<ChangeId>) {
        let mut places = BTreeMap::from([("_root".to_owned(), String::new())]);
        View { doc: &self.inner, heads: None }.places(&[ROOT], "", 0, &mut places);
        let mut writes: Vec<Write> = Vec::new();
        let mut whole: BTreeSet<ChangeId> = BTreeSet::new();
        let mut read_all: Vec<(ChangeId, ExpandedChange)> = Vec::new();
        for (hash, bytes) in orphans {
            if let Some(change) = decoded(bytes) {
                whole.insert(*hash);
                read_all.push((*hash, change));
            }
        }
        // In the order of the engine's clock: each after those it was made on top of.
        read_all
            .sort_by(|(_, a), (_, b)| (a.start_op, a.actor_id.to_bytes()).cmp(&(b.start_op, b.actor_id.to_bytes())));
        for (hash, change) in &read_all {
            for op in &change.operations {
                let (ObjectId::Id(of), Key::Map(key)) = (&op.obj, &op.key) else { continue };
                let ends =
                    |path: &&String| parts(path).is_some_and(|parts| parts.last().is_some_and(|last| *last == **key));
                let mut paths = touched.get(hash).into_iter().flatten().filter(ends);
                if let (Some(path), None) = (paths.next(), paths.next())
                    && let Some((parent, _)) = path.rsplit_once('/')
                {
                    places.entry(name(of.0, &of.1)).or_insert_with(|| parent.to_owned());
                }
            }
        }
        for (hash, change) in read_all {
            for (index, op) in (0_u64..).zip(&change.operations) {
                let parent = match &op.obj {
                    ObjectId::Root => Some(String::new()),
                    ObjectId::Id(op) => places.get(&name(op.0, &op.1)).cloned(),
                };
                let (Some(parent), Key::Map(key)) = (parent, &op.key) else {
                    whole.remove(&hash);
                    continue;
                };
                let path = below(&parent, key);
                match &op.action {
                    OpType::Make(automerge::ObjType::Map) => {
                        places.insert(name(change.start_op.get() + index, &change.actor_id), path.clone());
                        writes.push(Write { path, value: Value::Object(Map::new()), of: hash });
                    }
                    OpType::Put(scalar) => match to_json(scalar) {
                        Some(value) => writes.push(Write { path, value, of: hash }),
                        None => drop(whole.remove(&hash)),
                    },
                    _ => drop(whole.remove(&hash)),
                }
            }
        }
        // Only the last value of a field counts: a write on the way to it would be no one's.
        let mut last: BTreeMap<&str, usize> = BTreeMap::new();
        for (index, write) in writes.iter().enumerate() {
            last.insert(&write.path, index);
        }
        let kept: Vec<&Write> = writes
            .iter()
            .enumerate()
            .filter(|(index, write)| last.get(write.path.as_str()) == Some(index))
            .map(|(_, write)| write)
            .collect();
        let mut refused = BTreeSet::new();
        let done = self.edit(stamp, |edit| {
            for write in &kept {
                if edit.set(&write.path, &write.value).is_err() {
                    refused.insert(write.of);
                }
            }
            Ok::<_, std::convert::Infallible>(())
        });
        whole.retain(|hash| !refused.contains(hash));
        (whole, done.ok().and_then(|((), change)| change))
    }
}

struct Write {
    path: String,
    value: Value,
    of: ChangeId,
}

pub(super) fn name(counter: u64, actor: &automerge::ActorId) -> String {
    format!("{counter}@{}", actor.to_hex_string())
}

impl View<'_, Automerge> {
    /// Where each map of the document stands, by the operation that made it.
    pub(super) fn places(
        &self,
        nodes: &[automerge::ObjId],
        path: &str,
        depth: usize,
        out: &mut BTreeMap<String, String>,
    ) {
        if depth > DEEPEST {
            return;
        }
        for key in self.keys(nodes) {
            let path = below(path, &key);
            let maps = self.field(nodes, &key, &path, &mut Vec::new()).maps;
            for map in &maps {
                out.insert(pick_id(map), path.clone());
            }
            self.places(&maps, &path, depth + 1, out);
        }
    }
}
