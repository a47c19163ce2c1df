//! Board documents, their history, photos and search on SQLite.
//!
//! A board or a site is one document whose edits merge ([`document`](crate::Conflict)); the database
//! holds every change by its hash, a snapshot now and then, the photos and a projection for lists
//! and search. One writer; each save is one transaction that is on the disk when it returns.
//!
//! Incomplete or contradictory content is never an error here: it is read, and reported beside.

mod damaged;
mod document;
mod edit;
mod env;
mod error;
mod health;
mod json;
mod list;
mod mark;
mod merge;
mod notice;
mod open;
mod own;
mod owner;
mod photo;
mod read_only;
mod recover;
mod store;
mod undo;

pub use document::{ChangeBytes, ChangeId, Conflict, ConflictKind, ConflictValue, DocumentError};
pub use edit::{Differs, Op, Saved};
pub use env::Env;
pub use error::StoreError;
pub use health::Health;
pub use json::canonical;
pub use list::{BoardRow, Find, SiteRow};
pub use merge::{DocumentRow, Incoming, Merged};
pub use notice::Notice;
pub use open::{FORMAT, OLDEST_FORMAT, Opened};
pub use photo::{LARGEST_PHOTO, MOST_PIXELS, PhotoMeta, ReadPhoto, for_screen, is_cut_off};
pub use recover::SetAside;
pub use store::{BoardDoc, Kind, SiteDoc, Store, WARN_SIZE};
