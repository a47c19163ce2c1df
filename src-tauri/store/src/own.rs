//! What is this store's own and never leaves it with a site: role, settings, own patterns.

use rusqlite::{OptionalExtension, params};

use crate::error::StoreError;
use crate::store::Store;

impl Store {
    /// A value of this store's own; `None` where there is none of that name.
    ///
    /// # Errors
    /// The database failed.
    pub fn own(&self, name: &str) -> Result<Option<String>, StoreError> {
        let mut statement = self.db.prepare_cached("SELECT value FROM own WHERE name = ?1")?;
        Ok(statement.query_row([name], |row| row.get(0)).optional()?)
    }

    /// Every value whose name begins so, with the rest of its name, in the order of the names.
    ///
    /// # Errors
    /// The database failed.
    pub fn own_under(&self, prefix: &str) -> Result<Vec<(String, String)>, StoreError> {
        let mut statement = self
            .db
            .prepare_cached("SELECT name, value FROM own WHERE substr(name, 1, length(?1)) = ?1 ORDER BY name")?;
        let rows = statement.query_map([prefix], |row| Ok((row.get::<_, String>(0)?, row.get(1)?)))?;
        let rows = rows.collect::<Result<Vec<_>, _>>()?;
        Ok(rows.into_iter().map(|(name, value)| (name[prefix.len()..].to_owned(), value)).collect())
    }

    /// Keeps values, all or none; one that is there already is replaced. Others are left alone, also those that
    /// another process kept meanwhile.
    ///
    /// # Errors
    /// The database failed.
    pub fn put_own(&mut self, rows: &[(String, String)]) -> Result<(), StoreError> {
        self.keep_own("INSERT INTO own VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value", rows)
    }

    /// Keeps values, all or none, but those that are there already.
    ///
    /// # Errors
    /// The database failed.
    pub fn put_own_if_new(&mut self, rows: &[(String, String)]) -> Result<(), StoreError> {
        self.keep_own("INSERT OR IGNORE INTO own VALUES (?1, ?2)", rows)
    }

    fn keep_own(&mut self, sql: &str, rows: &[(String, String)]) -> Result<(), StoreError> {
        self.write(|store| {
            let mut statement = store.db.prepare_cached(sql)?;
            for (name, value) in rows {
                statement.execute(params![name, value])?;
            }
            Ok(())
        })
    }
}
