//! Taking in a bundle: everything is checked before anything is applied.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Cursor, Read, Seek, SeekFrom};

use sha2::{Digest, Sha256};
use store::{ChangeId, Incoming, Kind, Merged, ReadPhoto, Store, StoreError};
use survey::{BoardId, SiteId, say};
use uuid::Uuid;
use zip::ZipArchive;

use crate::error::{ExchangeError, entry};
use crate::manifest::{FORMAT, Limits, MANIFEST, Manifest, VERSION, sha256};

/// What was taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportReport {
    /// The site.
    pub site: SiteId,
    /// Its name.
    pub site_name: String,
    /// What happened to each document.
    pub documents: Vec<DocumentReport>,
    /// Photos that were not here before.
    pub photos_added: usize,
    /// Changes and photos whose bytes had gone bad here and are sound again.
    pub healed: usize,
    /// Photos the boards speak of that neither the bundle nor this store holds, by hash.
    pub missing_photos: Vec<String>,
}

/// What happened to a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DocumentReport {
    /// Its id.
    pub id: Uuid,
    /// What it is.
    pub kind: Kind,
    /// It was not here before.
    pub new: bool,
    /// Changes that were not here before.
    pub added: usize,
    /// Fields that now need a person's decision.
    pub conflicts: usize,
    /// Both stores hold the same now. Otherwise this one holds more: send a bundle back.
    pub same: bool,
    /// The other store is a copy of this one and both were worked on: its values were taken in
    /// beside ours, its history was not.
    pub copied: bool,
}

impl ImportReport {
    /// Changes that were not here before.
    #[must_use]
    pub fn changes_added(&self) -> usize {
        self.documents.iter().map(|document| document.added).sum()
    }

    /// Fields that now need a person's decision.
    #[must_use]
    pub fn conflicts(&self) -> usize {
        self.documents.iter().map(|document| document.conflicts).sum()
    }

    /// The boards in the bundle.
    pub fn boards(&self) -> impl Iterator<Item = (BoardId, &DocumentReport)> {
        let boards = self.documents.iter().filter(|document| document.kind == Kind::Board);
        boards.map(|document| (BoardId(document.id), document))
    }
}

/// Takes in a bundle: all of it, or nothing.
///
/// # Errors
/// [`ExchangeError::Entry`] names the entry at fault; [`ExchangeError::Newer`]; the store failed.
/// The store is then as it was.
pub fn import(store: &mut Store, bytes: &[u8]) -> Result<ImportReport, ExchangeError> {
    import_from(store, Cursor::new(bytes), Limits::default())
}

/// Takes in a bundle from a file, within limits of the caller's choice.
///
/// # Errors
/// As for [`import`].
pub fn import_from(store: &mut Store, reader: impl Read + Seek, limits: Limits) -> Result<ImportReport, ExchangeError> {
    let mut bundle = Checked::open(reader, limits)?;
    let lacking = bundle.lacking(store)?;
    bundle.read_photos(&lacking)?;
    bundle.take_in(store)
}

/// A bundle whose every entry was checked against its manifest. All that is slow is done before
/// the store is needed: see [`Checked::read_photos`].
pub struct Checked<R> {
    bundle: Bundle<R>,
    incoming: Vec<Incoming>,
    photos: BTreeMap<String, ReadPhoto>,
}

impl<R: Read + Seek> Checked<R> {
    /// Opens a bundle and checks it; nothing is taken in yet.
    ///
    /// # Errors
    /// As for [`import`].
    pub fn open(reader: R, limits: Limits) -> Result<Self, ExchangeError> {
        let mut bundle = Bundle::open(reader, limits)?;
        let incoming = bundle.documents()?;
        bundle.check_photos()?;
        Ok(Self { bundle, incoming, photos: BTreeMap::new() })
    }

    /// The photos in it, by hash.
    #[must_use]
    pub fn photos(&self) -> Vec<String> {
        self.bundle.manifest.photos.iter().map(|photo| photo.sha256.clone()).collect()
    }

    /// The photos in it that the store does not hold, or whose bytes went bad there, by hash.
    ///
    /// # Errors
    /// The store failed.
    pub fn lacking(&self, store: &Store) -> Result<Vec<String>, ExchangeError> {
        let mut lacking = Vec::new();
        for photo in &self.bundle.manifest.photos {
            if !store.has_sound_photo(&photo.sha256)? {
                lacking.push(photo.sha256.clone());
            }
        }
        Ok(lacking)
    }

    /// Reads these photos and makes them small, which takes the longest and needs no store.
    ///
    /// # Errors
    /// [`ExchangeError::Entry`] names the one that is no photo.
    pub fn read_photos(&mut self, hashes: &[String]) -> Result<(), ExchangeError> {
        for hash in hashes {
            let Some(photo) = self.bundle.manifest.photos.iter().find(|photo| photo.sha256 == *hash) else { continue };
            let name = photo.entry();
            let bytes = self.bundle.read(&name, self.bundle.limits.photo)?;
            let read = whole(name, &bytes)?;
            self.photos.insert(hash.clone(), read);
        }
        Ok(())
    }

    /// Takes it in: all of it in one transaction, or nothing.
    ///
    /// # Errors
    /// As for [`import`]. The store is then as it was.
    pub fn take_in(self, store: &mut Store) -> Result<ImportReport, ExchangeError> {
        let Self { mut bundle, incoming, photos } = self;
        let manifest = bundle.manifest.clone();
        let (mut photos_added, mut photos_healed) = (0, 0);
        let merged = store.merge(&incoming, |store, merged| {
            for photo in &manifest.photos {
                let known = store.photo_meta(&photo.sha256)?.is_some();
                // Whatever was found lacking was read already.
                if !known || photos.contains_key(&photo.sha256) {
                    let name = photo.entry();
                    let bytes = bundle.read(&name, bundle.limits.photo)?;
                    // Read twice: whoever writes the file meanwhile must not get other bytes in.
                    if sha256(&bytes) != photo.sha256 {
                        return Err(entry(name, say!("bundle-changed")));
                    }
                    let read = match photos.get(&photo.sha256) {
                        Some(read) => read,
                        None => &whole(name.clone(), &bytes)?,
                    };
                    store.add_read_photo(read, &bytes).map_err(|error| named(name, error))?;
                    if known { photos_healed += 1 } else { photos_added += 1 }
                }
            }
            compare(store, &manifest, merged)
        });
        let merged = merged.map_err(|error| match error {
            ExchangeError::Store(StoreError::Unreadable { id, reason }) => {
                entry(format!("documents/{id}"), say!("bundle-again", why = reason))
            }
            other => other,
        })?;
        let documents: Vec<DocumentReport> =
            merged.iter().zip(&manifest.documents).map(|(merged, sent)| report(merged, sent)).collect();
        let mut missing_photos: Vec<String> = store
            .missing_photos()?
            .into_iter()
            .filter(|(board, _)| documents.iter().any(|document| document.id == board.0))
            .map(|(_, hash)| hash)
            .collect();
        missing_photos.sort();
        missing_photos.dedup();
        Ok(ImportReport {
            site: SiteId(manifest.site),
            site_name: manifest.site_name,
            documents,
            photos_added,
            healed: photos_healed + merged.iter().map(|merged| merged.healed).sum::<usize>(),
            missing_photos,
        })
    }
}

/// Reads a photo that must be one to its end.
fn whole(name: String, bytes: &[u8]) -> Result<ReadPhoto, ExchangeError> {
    let read = ReadPhoto::kept(bytes).map_err(|error| named(name.clone(), error))?;
    if read.cut_off {
        return Err(entry(name, say!("bundle-picture-short")));
    }
    Ok(read)
}

fn named(name: String, error: StoreError) -> ExchangeError {
    match error {
        StoreError::Photo(reason) => entry(name, reason),
        other => other.into(),
    }
}

fn report(merged: &Merged, sent: &crate::ManifestDocument) -> DocumentReport {
    DocumentReport {
        id: merged.id,
        kind: merged.kind,
        new: merged.new,
        added: merged.added,
        conflicts: merged.conflicts,
        same: merged.heads.iter().map(ToString::to_string).eq(sent.heads.iter().cloned()),
        copied: merged.copied,
    }
}

/// Both sides count: what came reads as it did where it was written, and all of it is here.
fn compare(store: &mut Store, manifest: &Manifest, merged: &[Merged]) -> Result<(), ExchangeError> {
    for (merged, named) in merged.iter().zip(&manifest.documents) {
        let heads = named.heads.iter().map(|head| head.parse()).collect::<Result<Vec<ChangeId>, _>>();
        let heads = heads.map_err(|error| entry(MANIFEST, error))?;
        let sent = &merged.sent;
        if (&sent.heads, sent.changes, &sent.content) != (&heads, named.changes, &named.content) {
            return Err(entry(named.entry(), say!("bundle-reads-otherwise")));
        }
        // The history of a copied store is not taken over.
        if !merged.copied && !store.holds(merged.id, merged.kind, &heads)? {
            return Err(entry(named.entry(), say!("bundle-not-all")));
        }
    }
    Ok(())
}

struct Bundle<R> {
    zip: ZipArchive<R>,
    manifest: Manifest,
    limits: Limits,
}

fn not_a_bundle(error: impl std::fmt::Display) -> ExchangeError {
    ExchangeError::NotABundle(error.to_string())
}

/// Refuses a zip file whose table of contents alone would fill the memory: it is read whole before anything in it is.
/// What the end of the file says of it is looked at by itself first (APPNOTE.TXT 6.3.10, sections 4.3.14 to 4.3.16).
fn modest(reader: &mut (impl Read + Seek), limits: Limits) -> Result<(), ExchangeError> {
    /// The last record with the longest comment, and the two before it.
    const TAIL: u64 = 22 + 65_535 + 20 + 56;
    /// Bytes of an entry in the table, name and all; ours have under 200.
    const LONGEST_ENTRY: u64 = 600;
    let length = reader.seek(SeekFrom::End(0)).map_err(not_a_bundle)?;
    reader.seek(SeekFrom::Start(length.saturating_sub(TAIL))).map_err(not_a_bundle)?;
    let mut tail = Vec::new();
    reader.by_ref().take(TAIL).read_to_end(&mut tail).map_err(not_a_bundle)?;
    reader.seek(SeekFrom::Start(0)).map_err(not_a_bundle)?;
    let most = limits.entries as u64;
    let number = |at: usize, bytes: usize| -> Option<u64> {
        let found = tail.get(at..at + bytes)?;
        Some(found.iter().rev().fold(0, |number, byte| (number << 8) | u64::from(*byte)))
    };
    for at in 0..tail.len().saturating_sub(3) {
        // Entries, bytes and place of the table: in the plain record, and in the one for large files. Fields of ones
        // alone say that the other record has the number, and then so few entries do no harm.
        let found = match tail.get(at..at + 4) {
            Some(b"PK\x05\x06") => (number(at + 10, 2), number(at + 12, 4), number(at + 16, 4)),
            Some(b"PK\x06\x06") => (number(at + 32, 8), number(at + 40, 8), number(at + 48, 8)),
            _ => continue,
        };
        // A photo may hold these four letters by chance, but no table of contents.
        if let (Some(entries), Some(bytes), Some(place)) = found
            && place.saturating_add(bytes) <= length
            && (entries > most || bytes > most.saturating_mul(LONGEST_ENTRY))
        {
            return Err(not_a_bundle(format!("{entries} entries in {bytes} bytes; up to {most} entries are read")));
        }
    }
    // The large record lies right before its pointer, which lies right before the plain one: elsewhere nobody puts it.
    let large = tail.windows(4).any(|four| four == b"PK\x06\x07");
    if large && !tail.windows(4).any(|four| four == b"PK\x06\x06") {
        return Err(not_a_bundle("the end of its table of contents is not at its end"));
    }
    Ok(())
}

/// An entry's name that the table of contents has twice: of such a pair the reader sees only one (APPNOTE.TXT 6.3.10,
/// section 4.3.12).
fn named_twice(reader: &mut (impl Read + Seek), start: u64, limits: Limits) -> std::io::Result<Option<String>> {
    const HEAD: usize = 46;
    reader.seek(SeekFrom::Start(start))?;
    let mut table = std::io::BufReader::new(reader);
    let mut names: BTreeSet<Vec<u8>> = BTreeSet::new();
    let mut head = [0; HEAD];
    for _ in 0..=limits.entries {
        if table.read_exact(&mut head).is_err() || !head.starts_with(b"PK\x01\x02") {
            break;
        }
        let length = |at: usize| usize::from(u16::from_le_bytes([head[at], head[at + 1]]));
        let mut name = vec![0; length(28)];
        table.read_exact(&mut name)?;
        let rest = length(30) + length(32);
        table.read_exact(&mut vec![0; rest])?;
        if !names.insert(name.clone()) {
            return Ok(Some(String::from_utf8_lossy(&name).chars().take(80).collect()));
        }
    }
    Ok(None)
}

impl<R: Read + Seek> Bundle<R> {
    fn open(mut reader: R, limits: Limits) -> Result<Self, ExchangeError> {
        modest(&mut reader, limits)?;
        let start = ZipArchive::new(&mut reader).map_err(not_a_bundle)?.central_directory_start();
        if let Some(name) = named_twice(&mut reader, start, limits).map_err(not_a_bundle)? {
            return Err(entry(name, say!("bundle-twice")));
        }
        let zip = ZipArchive::new(reader).map_err(not_a_bundle)?;
        if zip.len() > limits.entries {
            return Err(not_a_bundle(format!("{} entries; up to {} are read", zip.len(), limits.entries)));
        }
        let manifest = Manifest {
            format: String::new(),
            version: 0,
            site: Uuid::nil(),
            site_name: String::new(),
            documents: Vec::new(),
            photos: Vec::new(),
        };
        let mut bundle = Self { zip, manifest, limits };
        let bytes = match bundle.read(MANIFEST, limits.manifest) {
            Err(ExchangeError::Entry { reason, .. }) => return Err(not_a_bundle(format!("{MANIFEST}: {reason}"))),
            other => other?,
        };
        // The version first: the rest of a newer manifest may look different.
        #[derive(serde::Deserialize)]
        struct Head {
            format: String,
            version: u32,
        }
        let head: Head = serde_json::from_slice(&bytes).map_err(not_a_bundle)?;
        if head.format != FORMAT {
            return Err(not_a_bundle(format!("{MANIFEST} says \"{:.40}\"", head.format)));
        }
        if head.version == 0 {
            return Err(entry(MANIFEST, say!("bundle-version-0", version = VERSION)));
        }
        if head.version > VERSION {
            return Err(ExchangeError::Newer { found: head.version, known: VERSION });
        }
        bundle.manifest = serde_json::from_slice(&bytes)
            .map_err(|error| entry(MANIFEST, say!("bundle-manifest", why = error.to_string())))?;
        bundle.check_names()?;
        Ok(bundle)
    }

    /// Every entry is named by the manifest, once, and the other way round.
    fn check_names(&self) -> Result<(), ExchangeError> {
        let mut named: BTreeMap<String, usize> = BTreeMap::new();
        let documents = self.manifest.documents.iter().map(crate::ManifestDocument::entry);
        let photos = self.manifest.photos.iter().map(crate::ManifestPhoto::entry);
        for name in documents.chain(photos).chain([MANIFEST.to_owned()]) {
            *named.entry(name).or_default() += 1;
        }
        if let Some((name, _)) = named.iter().find(|(_, count)| **count > 1) {
            return Err(entry(name, say!("bundle-named-twice")));
        }
        for found in self.zip.file_names_raw() {
            let found = String::from_utf8_lossy(found);
            if named.remove(found.as_ref()).is_none() {
                let shown: String = found.chars().take(80).collect();
                return Err(entry(shown, say!("bundle-not-named")));
            }
        }
        match named.into_keys().next() {
            None => Ok(()),
            Some(name) => Err(entry(name, say!("bundle-missing"))),
        }
    }

    /// An entry's bytes, never more than `largest`.
    fn read(&mut self, name: &str, largest: u64) -> Result<Vec<u8>, ExchangeError> {
        let mut bytes = Vec::new();
        self.stream(name, largest, |part| bytes.extend_from_slice(part))?;
        Ok(bytes)
    }

    fn stream(&mut self, name: &str, largest: u64, mut each: impl FnMut(&[u8])) -> Result<(), ExchangeError> {
        let damaged = |error: String| entry(name, say!("bundle-unreadable", why = error));
        let mut file = self.zip.by_name(name).map_err(|error| damaged(error.to_string()))?;
        if file.size() > largest {
            return Err(entry(name, say!("bundle-large", size = file.size().to_string(), most = largest.to_string())));
        }
        // Small entries may be all of one letter; they do no harm.
        let unpacked = file.size().saturating_sub(64 * 1024);
        if unpacked > file.compressed_size().saturating_mul(self.limits.ratio) {
            return Err(entry(name, say!("bundle-unpacks")));
        }
        let mut buffer = vec![0; 64 * 1024];
        let mut total = 0_u64;
        loop {
            let count = file.read(&mut buffer).map_err(|error| damaged(error.to_string()))?;
            if count == 0 {
                return Ok(());
            }
            total += count as u64;
            if total > largest {
                return Err(entry(name, say!("bundle-longer", most = largest.to_string())));
            }
            each(&buffer[..count]);
        }
    }

    fn documents(&mut self) -> Result<Vec<Incoming>, ExchangeError> {
        let mut incoming = Vec::new();
        let mut total = 0_u64;
        for document in self.manifest.documents.clone() {
            let name = document.entry();
            if (document.kind == Kind::Site) != (document.id == self.manifest.site) {
                return Err(entry(name, say!("bundle-one-site")));
            }
            total = total.saturating_add(document.length);
            if total > self.limits.documents {
                return Err(entry(name, say!("bundle-documents", most = self.limits.documents.to_string())));
            }
            let bytes = self.read(&name, self.limits.document)?;
            if bytes.len() as u64 != document.length || sha256(&bytes) != document.sha256 {
                return Err(entry(name, say!("bundle-bytes-manifest")));
            }
            incoming.push(Incoming { id: document.id, kind: document.kind, bytes });
        }
        Ok(incoming)
    }

    fn check_photos(&mut self) -> Result<(), ExchangeError> {
        let mut total = 0_u64;
        for photo in self.manifest.photos.clone() {
            let name = photo.entry();
            total = total.saturating_add(photo.length);
            if total > self.limits.photos {
                return Err(entry(name, say!("bundle-photos", most = self.limits.photos.to_string())));
            }
            let (mut hasher, mut length) = (Sha256::new(), 0_u64);
            self.stream(&name, self.limits.photo, |part| {
                hasher.update(part);
                length += part.len() as u64;
            })?;
            if length != photo.length || hex::encode(hasher.finalize()) != photo.sha256 {
                return Err(entry(name, say!("bundle-bytes-name")));
            }
        }
        Ok(())
    }
}
