//! What can go wrong with a bundle.

use store::StoreError;

/// Why a bundle was not written or not taken in. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExchangeError {
    /// The file is no bundle.
    #[error("this is not a bundle of a site ({0}): give a file made by \"export site\"")]
    NotABundle(String),
    /// The bundle was written by a newer version of the app.
    #[error(
        "the bundle was written by a newer version (format {found}; this version reads up to {known}): update the app"
    )]
    Newer {
        /// Version of the bundle.
        found: u32,
        /// Newest version this app reads.
        known: u32,
    },
    /// One entry is at fault.
    #[error("{entry} in the bundle: {reason}")]
    Entry {
        /// Its name in the bundle.
        entry: String,
        /// What is wrong and what would do.
        reason: String,
    },
    /// The store refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The file could not be written.
    #[error("the bundle cannot be written: {0}")]
    Write(String),
}

pub(crate) fn entry(entry: impl Into<String>, reason: impl Into<String>) -> ExchangeError {
    ExchangeError::Entry { entry: entry.into(), reason: reason.into() }
}
