//! What a person must read: kept in the store until one has.

use rusqlite::{Connection, OptionalExtension, params};

use crate::error::StoreError;
use crate::store::Store;

/// Something a person must have read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Its number.
    pub seq: i64,
    /// When it came, RFC 3339.
    pub at: String,
    /// What it says.
    pub text: String,
}

/// Leaves words for a person, at a time in RFC 3339.
pub(crate) fn leave(db: &Connection, at: &str, text: &str) -> rusqlite::Result<()> {
    db.prepare_cached("INSERT INTO notices (at, text) VALUES (?1, ?2)")?.execute([at, text])?;
    Ok(())
}

impl Store {
    /// What a person must read and has not, oldest first.
    ///
    /// # Errors
    /// The database failed.
    pub fn notices(&self) -> Result<Vec<Notice>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT seq, at, text FROM notices WHERE read_at IS NULL ORDER BY seq")?;
        let rows = statement
            .query_map([], |row| Ok(Notice { seq: row.get(0)?, at: row.get(1)?, text: row.get(2)? }))?
            .collect::<Result<_, _>>()?;
        Ok(rows)
    }

    /// A person has read the notices up to this number.
    ///
    /// # Errors
    /// The database failed.
    pub fn mark_read(&mut self, upto: i64) -> Result<(), StoreError> {
        let at = self.env.now().to_rfc3339();
        self.write(|store| {
            store
                .db
                .prepare_cached("UPDATE notices SET read_at = ?2 WHERE seq <= ?1 AND read_at IS NULL")?
                .execute(params![upto, at])?;
            Ok(())
        })
    }

    /// Leaves something for a person to read; the same words are not left twice unread.
    ///
    /// # Errors
    /// The database failed.
    pub fn put_notice(&mut self, text: &str) -> Result<(), StoreError> {
        let at = self.env.now().to_rfc3339();
        self.write(|store| {
            let there: Option<i64> = store
                .db
                .prepare_cached("SELECT seq FROM notices WHERE text = ?1 AND read_at IS NULL")?
                .query_row([text], |row| row.get(0))
                .optional()?;
            if there.is_none() {
                leave(&store.db, &at, text)?;
            }
            Ok(())
        })
    }
}
