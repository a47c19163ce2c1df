//! What can go wrong with a bundle.

use store::StoreError;
use survey::{Message, say};

/// Why a bundle was not written or not taken in. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExchangeError {
    /// The file is no bundle.
    #[error("{words}", words = say!("bundle-none", why = .0.clone()))]
    NotABundle(String),
    /// The bundle was written by a newer version of the app.
    #[error("{words}", words = say!("bundle-newer", found = .found.to_string(), known = .known.to_string()))]
    Newer {
        /// Version of the bundle.
        found: u32,
        /// Newest version this app reads.
        known: u32,
    },
    /// One entry is at fault.
    #[error("{words}", words = say!("bundle-entry", entry = .entry.clone(), why = .reason.clone()))]
    Entry {
        /// Its name in the bundle.
        entry: String,
        /// What is wrong and what would do.
        reason: Message,
    },
    /// The store refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The file could not be written.
    #[error("{words}", words = say!("bundle-not-written", why = .0.clone()))]
    Write(String),
}

pub(crate) fn entry(entry: impl Into<String>, reason: impl Into<Message>) -> ExchangeError {
    ExchangeError::Entry { entry: entry.into(), reason: reason.into() }
}
