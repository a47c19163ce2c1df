//! Board documents, their history, photos and search on SQLite.
