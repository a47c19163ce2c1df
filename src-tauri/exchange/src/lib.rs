//! Change exchange between two stores, by file.
//!
//! A bundle is a zip file: `manifest.json`, a whole document for the site and each of its boards
//! under `documents/`, the photos under `photos/`. Everything in it is checked against the
//! manifest before anything is taken in; then all of it is, or nothing. Taking the same bundle in
//! again does nothing.

mod error;
mod export;
mod import;
mod manifest;

pub use error::ExchangeError;
pub use export::{Summary, export_site};
pub use import::{Checked, DocumentReport, ImportReport, import, import_from};
pub use manifest::{FORMAT, Limits, Manifest, ManifestDocument, ManifestPhoto, VERSION};
