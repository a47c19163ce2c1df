//! What is this store's own and never leaves it with a site: role, settings, own patterns, the device's id, what is
//! known to have gone bad.

use rusqlite::{Connection, OptionalExtension};

use crate::error::StoreError;
use crate::store::Store;

/// The value of a name.
pub(crate) fn value(db: &Connection, name: &str) -> rusqlite::Result<Option<String>> {
    db.prepare_cached("SELECT value FROM own WHERE name = ?1")?.query_row([name], |row| row.get(0)).optional()
}

/// Keeps a value; one that is there already is replaced.
pub(crate) fn put(db: &Connection, name: &str, value: &str) -> rusqlite::Result<()> {
    let sql = "INSERT INTO own VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value";
    db.prepare_cached(sql)?.execute([name, value])?;
    Ok(())
}

/// Keeps a value unless there is one.
pub(crate) fn put_if_new(db: &Connection, name: &str, value: &str) -> rusqlite::Result<()> {
    db.prepare_cached("INSERT OR IGNORE INTO own VALUES (?1, ?2)")?.execute([name, value])?;
    Ok(())
}

/// Forgets a value.
pub(crate) fn forget(db: &Connection, name: &str) -> rusqlite::Result<()> {
    db.prepare_cached("DELETE FROM own WHERE name = ?1")?.execute([name])?;
    Ok(())
}

impl Store {
    /// A value of this store's own; `None` where there is none of that name.
    ///
    /// # Errors
    /// The database failed.
    pub fn own(&self, name: &str) -> Result<Option<String>, StoreError> {
        Ok(value(&self.db, name)?)
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
        self.keep_own(put, rows)
    }

    /// Keeps values, all or none, but those that are there already.
    ///
    /// # Errors
    /// The database failed.
    pub fn put_own_if_new(&mut self, rows: &[(String, String)]) -> Result<(), StoreError> {
        self.keep_own(put_if_new, rows)
    }

    fn keep_own(
        &mut self,
        keep: fn(&Connection, &str, &str) -> rusqlite::Result<()>,
        rows: &[(String, String)],
    ) -> Result<(), StoreError> {
        self.write(|store| Ok(rows.iter().try_for_each(|(name, value)| keep(&store.db, name, value))?))
    }
}
