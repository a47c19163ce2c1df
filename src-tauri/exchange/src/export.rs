//! Writing a site as one bundle.

use std::io::{Seek, Write};

use store::{Store, StoreError};
use survey::SiteId;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::error::ExchangeError;
use crate::manifest::{FORMAT, MANIFEST, Manifest, ManifestDocument, ManifestPhoto, VERSION, sha256};

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Summary {
    /// Boards in the bundle, hidden ones too.
    pub boards: usize,
    /// Photos in the bundle.
    pub photos: usize,
    /// Photos the boards speak of that this store does not hold either, by hash.
    pub missing_photos: Vec<String>,
    /// What is damaged in this store and therefore not in the bundle, a line each.
    pub damaged: Vec<String>,
}

fn failed(error: impl std::fmt::Display) -> ExchangeError {
    ExchangeError::Write(error.to_string())
}

/// Writes a site, its boards with their whole history, and their photos as one file. The same
/// content gives the same bytes.
///
/// # Errors
/// No such site; the store failed; `out` cannot be written.
pub fn export_site(store: &mut Store, site: SiteId, out: impl Write + Seek) -> Result<Summary, ExchangeError> {
    // One transaction: the manifest and what it speaks of are of one moment.
    store.batch(|store| write(store, site, out))
}

fn write(store: &mut Store, site: SiteId, out: impl Write + Seek) -> Result<Summary, ExchangeError> {
    let site_name = match store.site(site) {
        Ok(found) => found.site.name,
        // Its boards can arrive before the site itself does.
        Err(StoreError::NotFound { .. }) => String::new(),
        Err(error) => return Err(error.into()),
    };
    let ids = store.documents_of_site(site)?;
    if ids.is_empty() {
        return Err(StoreError::NotFound { kind: "site", id: site.0 }.into());
    }
    let mut zip = ZipWriter::new(out);
    let packed = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    let plain = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let mut manifest = Manifest {
        format: FORMAT.to_owned(),
        version: VERSION,
        site: site.0,
        site_name,
        documents: Vec::new(),
        photos: Vec::new(),
    };
    let mut damaged = Vec::new();
    for (id, kind) in ids {
        let found = store.damage(id, kind)?;
        damaged.extend(found.iter().map(|problem| {
            let survey::Problem { path, remedy, .. } = problem;
            format!("{} {id}{path}: {}; {remedy}", kind.key(), problem.brief())
        }));
        // Nothing of it is sound: others would refuse it.
        if !found.is_empty() && store.document(id, kind)?.changes == 0 {
            damaged.push(format!("{} {id} is left out: nothing of it can be read", kind.key()));
            continue;
        }
        let bytes = store.document_bytes(id, kind)?;
        let row = store.document(id, kind)?;
        let document = ManifestDocument {
            id,
            kind,
            heads: row.heads.iter().map(ToString::to_string).collect(),
            changes: row.changes,
            content: row.content,
            length: bytes.len() as u64,
            sha256: sha256(&bytes),
        };
        zip.start_file(document.entry(), packed).map_err(failed)?;
        zip.write_all(&bytes).map_err(failed)?;
        manifest.documents.push(document);
    }
    for photo in store.photos_of_site(site)? {
        let bytes = match store.photo(&photo.hash) {
            Ok(bytes) => bytes,
            Err(error @ StoreError::DamagedPhoto(_)) => {
                // A board may have named it already.
                if !damaged.iter().any(|line: &String| line.contains(&photo.hash)) {
                    damaged.push(error.to_string());
                }
                continue;
            }
            Err(error) => return Err(error.into()),
        };
        if store::is_cut_off(&bytes) {
            // An earlier version took it in; others would refuse it.
            damaged.push(format!("photo {} is left out: it ends before the picture does", photo.hash));
            continue;
        }
        let photo = ManifestPhoto { sha256: photo.hash, media: photo.media, length: bytes.len() as u64 };
        // A picture does not get smaller by packing it again.
        zip.start_file(photo.entry(), plain).map_err(failed)?;
        zip.write_all(&bytes).map_err(failed)?;
        manifest.photos.push(photo);
    }
    zip.start_file(MANIFEST, packed).map_err(failed)?;
    zip.write_all(&serde_json::to_vec_pretty(&manifest).map_err(failed)?).map_err(failed)?;
    zip.finish().map_err(failed)?.flush().map_err(failed)?;
    let boards: Vec<_> = manifest.documents.iter().map(|document| document.id).collect();
    let mut missing: Vec<String> = store
        .missing_photos()?
        .into_iter()
        .filter(|(board, _)| boards.contains(&board.0))
        .map(|(_, hash)| hash)
        .collect();
    missing.sort();
    missing.dedup();
    Ok(Summary {
        boards: manifest.documents.iter().filter(|document| document.kind == store::Kind::Board).count(),
        photos: manifest.photos.len(),
        missing_photos: missing,
        damaged,
    })
}
