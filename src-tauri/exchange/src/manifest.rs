//! The bundle's table of contents, its names and its limits.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use store::Kind;
use uuid::Uuid;

/// What the manifest's `format` says.
pub const FORMAT: &str = "waywright-bundle";
/// The version of the bundle this code writes, and the newest it reads.
pub const VERSION: u32 = 1;
/// Name of the manifest.
pub(crate) const MANIFEST: &str = "manifest.json";

/// What a bundle holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// [`FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u32,
    /// Id of the site.
    pub site: Uuid,
    /// Its name, to show before anything is taken in.
    pub site_name: String,
    /// The documents.
    pub documents: Vec<ManifestDocument>,
    /// The photos.
    pub photos: Vec<ManifestPhoto>,
}

/// A document in a bundle, entry `documents/<id>`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ManifestDocument {
    /// Its id.
    pub id: Uuid,
    /// What it is.
    pub kind: Kind,
    /// Its latest changes, sorted, in hexadecimal.
    pub heads: Vec<String>,
    /// Number of its changes.
    pub changes: usize,
    /// SHA-256 of its content as canonical JSON.
    pub content: String,
    /// Bytes of the entry.
    pub length: u64,
    /// SHA-256 of the entry.
    pub sha256: String,
}

impl ManifestDocument {
    pub(crate) fn entry(&self) -> String {
        format!("documents/{}", self.id)
    }
}

/// A photo in a bundle, entry `photos/<sha256>`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ManifestPhoto {
    /// SHA-256 of the original.
    pub sha256: String,
    /// Media type.
    pub media: String,
    /// Bytes of the entry.
    pub length: u64,
}

impl ManifestPhoto {
    pub(crate) fn entry(&self) -> String {
        format!("photos/{}", self.sha256)
    }
}

/// What is refused before it is unpacked: a small file must not fill the disk or the memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most entries.
    pub entries: usize,
    /// Largest manifest, in bytes.
    pub manifest: u64,
    /// Largest document, in bytes.
    pub document: u64,
    /// All documents together, in bytes: they are in memory at once.
    pub documents: u64,
    /// Largest photo, in bytes.
    pub photo: u64,
    /// All photos together, in bytes.
    pub photos: u64,
    /// An entry may be this many times larger than its packed form.
    pub ratio: u64,
}

impl Default for Limits {
    fn default() -> Self {
        const MB: u64 = 1024 * 1024;
        Self {
            entries: 50_000,
            manifest: 16 * MB,
            document: 16 * MB,
            documents: 128 * MB,
            photo: store::LARGEST_PHOTO as u64,
            photos: 32 * 1024 * MB,
            ratio: 200,
        }
    }
}

pub(crate) fn sha256(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}
