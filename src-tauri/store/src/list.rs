//! The projection: what lists and search read. Derived from the documents.

use std::collections::BTreeSet;

use rusqlite::{OptionalExtension, Row, named_params, params};
use survey::{Board, BoardId, Site, SiteId, Stage};
use uuid::Uuid;

use crate::error::StoreError;
use crate::store::{Content, Loaded, Store};

/// A board in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardRow {
    /// Its id.
    pub id: BoardId,
    /// The site it stands on.
    pub site: SiteId,
    /// Name of the site; empty where the site has not arrived here yet.
    pub site_name: String,
    /// Its reference.
    pub reference: String,
    /// Where it hangs.
    pub place: String,
    /// Existing or new.
    pub stage: Stage,
    /// Hidden.
    pub removed: bool,
    /// Number of circuits that are not removed.
    pub circuits: u32,
    /// Fields that need a person's decision.
    pub conflicts: u32,
    /// When a change was last made or taken in here, RFC 3339.
    pub changed: String,
}

/// A site in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteRow {
    /// Its id.
    pub id: SiteId,
    /// Name.
    pub name: String,
    /// Free text.
    pub note: String,
    /// Hidden.
    pub removed: bool,
    /// Boards that are not removed.
    pub boards: u32,
    /// Fields of the site that need a person's decision.
    pub conflicts: u32,
}

/// Which boards to list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Find<'a> {
    /// Words typed; each must begin a word of the reference, place, site name or a circuit's
    /// description. Empty: all boards.
    pub words: &'a str,
    /// Only boards of this site.
    pub site: Option<SiteId>,
    /// The removed boards instead of the others.
    pub removed: bool,
    /// Most rows given.
    pub limit: u32,
}

impl Default for Find<'_> {
    fn default() -> Self {
        Self { words: "", site: None, removed: false, limit: 200 }
    }
}

impl<'a> Find<'a> {
    /// Boards with these words, at most 200.
    #[must_use]
    pub fn words(words: &'a str) -> Self {
        Self { words, ..Self::default() }
    }
}

fn board_row(row: &Row<'_>) -> rusqlite::Result<BoardRow> {
    let stage: String = row.get(5)?;
    Ok(BoardRow {
        id: BoardId(Uuid::from_bytes(row.get(0)?)),
        site: SiteId(Uuid::from_bytes(row.get(1)?)),
        site_name: row.get(2)?,
        reference: row.get(3)?,
        place: row.get(4)?,
        stage: Stage::ALL.iter().copied().find(|known| known.key() == stage).unwrap_or(Stage::Existing),
        removed: row.get(6)?,
        circuits: row.get(7)?,
        conflicts: row.get(8)?,
        changed: row.get(9)?,
    })
}

impl Store {
    /// Boards, by site and reference; with words typed, the best match first.
    ///
    /// # Errors
    /// The database failed.
    pub fn boards(&self, find: &Find<'_>) -> Result<Vec<BoardRow>, StoreError> {
        let words = match match_text(find.words) {
            Some(words) => words,
            None if find.words.trim().is_empty() => String::new(),
            // Nothing in it that any word could begin with.
            None => return Ok(Vec::new()),
        };
        let sql = match (words.is_empty(), find.site.is_some()) {
            (true, false) => include_str!("../sql/list_boards.sql"),
            (true, true) => include_str!("../sql/list_boards_of_site.sql"),
            (false, _) => include_str!("../sql/search_boards.sql"),
        };
        let mut statement = self.db.prepare_cached(sql)?;
        let site = find.site.map(|site| *site.0.as_bytes());
        let rows = match (words.is_empty(), &site) {
            (true, None) => statement
                .query_map(named_params! { ":removed": find.removed, ":limit": find.limit }, board_row)?
                .collect(),
            (true, Some(site)) => statement
                .query_map(
                    named_params! { ":removed": find.removed, ":limit": find.limit, ":site": site.as_slice() },
                    board_row,
                )?
                .collect(),
            (false, site) => statement
                .query_map(
                    named_params! {
                        ":removed": find.removed,
                        ":limit": find.limit,
                        ":site": site.as_ref().map(<[u8; 16]>::as_slice),
                        ":words": words,
                    },
                    board_row,
                )?
                .collect::<Result<Vec<_>, _>>(),
        };
        Ok(rows?)
    }

    /// How many boards [`Self::boards`] would give without a limit.
    ///
    /// # Errors
    /// The database failed.
    pub fn count_boards(&self, find: &Find<'_>) -> Result<u32, StoreError> {
        let site = find.site.map(|site| *site.0.as_bytes());
        let site = site.as_ref().map(<[u8; 16]>::as_slice);
        let count = match match_text(find.words) {
            Some(words) => self
                .db
                .prepare_cached(include_str!("../sql/count_found_boards.sql"))?
                .query_row(named_params! { ":removed": find.removed, ":site": site, ":words": words }, |row| {
                    row.get(0)
                })?,
            None if find.words.trim().is_empty() => self
                .db
                .prepare_cached(include_str!("../sql/count_boards.sql"))?
                .query_row(named_params! { ":removed": find.removed, ":site": site }, |row| row.get(0))?,
            None => 0,
        };
        Ok(count)
    }

    /// Sites by name; the removed ones only where asked for.
    ///
    /// # Errors
    /// The database failed.
    pub fn sites(&self, removed: bool) -> Result<Vec<SiteRow>, StoreError> {
        let mut statement = self.db.prepare_cached(include_str!("../sql/list_sites.sql"))?;
        let rows = statement.query_map([removed], |row| {
            Ok(SiteRow {
                id: SiteId(Uuid::from_bytes(row.get(0)?)),
                name: row.get(1)?,
                note: row.get(2)?,
                removed: row.get(3)?,
                conflicts: row.get(4)?,
                boards: row.get(5)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Writes what lists and search show of a document. Runs inside a transaction.
    pub(crate) fn project(&mut self, loaded: &Loaded) -> Result<(), StoreError> {
        match &loaded.content {
            Content::Board(board) => self.project_board(loaded, board),
            Content::Site(site) => self.project_site(loaded, site),
        }
    }

    /// The same without a change having been made: after something was lost on the disk or found again. Of a board
    /// whose beginning is lost, the lists keep what they knew. Runs inside a transaction.
    pub(crate) fn project_as_it_is(&mut self, loaded: &Loaded) -> Result<(), StoreError> {
        if matches!(loaded.content, Content::Board(_)) && loaded.doc.value("/site").is_none() {
            return Ok(());
        }
        let id = loaded.id.as_bytes().as_slice();
        let changed: Option<String> = self
            .db
            .prepare_cached("SELECT changed FROM boards WHERE id = ?1")?
            .query_row([id], |row| row.get(0))
            .optional()?;
        self.project(loaded)?;
        if let Some(changed) = changed {
            self.db.prepare_cached("UPDATE boards SET changed = ?2 WHERE id = ?1")?.execute(params![id, changed])?;
        }
        Ok(())
    }

    fn project_board(&mut self, loaded: &Loaded, board: &Board) -> Result<(), StoreError> {
        let id = loaded.id.as_bytes().as_slice();
        let site = board.site.0.as_bytes().as_slice();
        let site_name: String = self
            .db
            .prepare_cached("SELECT coalesce((SELECT name FROM sites WHERE id = ?1), '')")?
            .query_row([site], |row| row.get(0))?;
        let words: BTreeSet<&str> = board
            .live_circuits()
            .map(|(_, circuit)| circuit.description.as_str())
            .filter(|text| !text.is_empty())
            .collect();
        let words = words.into_iter().collect::<Vec<_>>().join("\n");
        let circuits = u32::try_from(board.live_circuits().count()).unwrap_or(u32::MAX);
        let conflicts = u32::try_from(loaded.conflicts.len()).unwrap_or(u32::MAX);
        let changed = self.env.now().to_rfc3339();
        let same_text: bool = self.db.prepare_cached(include_str!("../sql/board_text_same.sql"))?.exists(params![
            id,
            board.reference,
            board.place,
            site_name,
            words
        ])?;
        let row: i64 = self.db.prepare_cached(include_str!("../sql/put_board.sql"))?.query_row(
            named_params! {
                ":id": id,
                ":site": site,
                ":site_name": site_name,
                ":reference": board.reference,
                ":place": board.place,
                ":stage": board.stage.key(),
                // While it is disputed whether it stays removed, a person must come across it.
                ":removed": board.removed && loaded.conflicts.iter().all(|conflict| conflict.path != "/removed"),
                ":circuits": circuits,
                ":words": words,
                ":conflicts": conflicts,
                ":changed": changed,
                ":sort_key": sort_key(&site_name, &board.reference),
            },
            |row| row.get(0),
        )?;
        if !same_text {
            self.index(row)?;
        }
        self.project_photos(id, board)
    }

    fn project_photos(&self, id: &[u8], board: &Board) -> Result<(), StoreError> {
        // Hidden photos too: undo may show them again.
        let hashes: BTreeSet<&str> = board.photos.values().map(|photo| photo.hash.as_str()).collect();
        let known: BTreeSet<String> = self
            .db
            .prepare_cached("SELECT hash FROM board_photos WHERE board = ?1")?
            .query_map([id], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        if known.iter().map(String::as_str).eq(hashes.iter().copied()) {
            return Ok(());
        }
        self.db.prepare_cached("DELETE FROM board_photos WHERE board = ?1")?.execute([id])?;
        let mut insert = self.db.prepare_cached("INSERT INTO board_photos VALUES (?1, ?2)")?;
        for hash in hashes {
            insert.execute(params![id, hash])?;
        }
        Ok(())
    }

    fn index(&self, row: i64) -> Result<(), StoreError> {
        self.db.prepare_cached("DELETE FROM board_search WHERE rowid = ?1")?.execute([row])?;
        self.db.prepare_cached(include_str!("../sql/index_board.sql"))?.execute([row])?;
        Ok(())
    }

    fn project_site(&self, loaded: &Loaded, site: &Site) -> Result<(), StoreError> {
        let id = loaded.id.as_bytes().as_slice();
        let conflicts = u32::try_from(loaded.conflicts.len()).unwrap_or(u32::MAX);
        self.db.prepare_cached(include_str!("../sql/put_site.sql"))?.execute(params![
            id,
            site.name,
            site.note,
            site.removed,
            conflicts
        ])?;
        let stale: Vec<(i64, String)> = self
            .db
            .prepare_cached("SELECT row, reference FROM boards WHERE site = ?1 AND site_name <> ?2")?
            .query_map(params![id, site.name], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect::<Result<_, _>>()?;
        for (row, reference) in stale {
            self.db
                .prepare_cached("UPDATE boards SET site_name = ?2, sort_key = ?3 WHERE row = ?1")?
                .execute(params![row, site.name, sort_key(&site.name, &reference)])?;
            self.index(row)?;
        }
        Ok(())
    }

    /// Builds lists and search again from the documents; returns how many documents were read and
    /// the ids of those that could not be.
    ///
    /// # Errors
    /// The database failed.
    pub fn rebuild_projection(&mut self) -> Result<(usize, Vec<Uuid>), StoreError> {
        self.write(|store| {
            store.db.execute_batch(include_str!("../sql/clear_projection.sql"))?;
            let ids: Vec<[u8; 16]> = {
                let mut statement = store.db.prepare("SELECT id FROM documents ORDER BY kind DESC, id")?;
                statement.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?
            };
            let (mut read, mut unread) = (0, Vec::new());
            for id in ids {
                let id = Uuid::from_bytes(id);
                let loaded = match store.load_doc(id) {
                    Ok(Some((kind, doc))) => Loaded::new(id, kind, doc),
                    Ok(None) => continue,
                    Err(error) => Err(error),
                };
                match loaded {
                    Ok(loaded) if !loaded.doc.lost.is_empty() && loaded.doc.heads().is_empty() => unread.push(id),
                    Ok(loaded) => {
                        store.project(&loaded)?;
                        read += 1;
                    }
                    Err(StoreError::Unreadable { .. }) => unread.push(id),
                    Err(error) => return Err(error),
                }
            }
            Ok((read, unread))
        })
    }
}

/// What was typed as a full-text query: every word as a quoted beginning, so nothing in it is
/// taken for an operator. `None` where no word has a letter or digit.
fn match_text(typed: &str) -> Option<String> {
    let words: Vec<String> = typed
        .split(|letter: char| letter.is_whitespace() || letter == '\0')
        .filter(|word| word.chars().any(char::is_alphanumeric))
        .take(16)
        .map(|word| format!("\"{}\"*", word.replace('"', " ")))
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// Sorts "DB2" before "DB10", whatever the case.
fn sort_key(site: &str, reference: &str) -> String {
    let mut key = String::new();
    for text in [site, reference] {
        let mut digits = String::new();
        for letter in text.to_lowercase().chars().chain(['\u{1}']) {
            if letter.is_ascii_digit() {
                digits.push(letter);
                continue;
            }
            if !digits.is_empty() {
                key.push_str(&format!("{digits:0>12}"));
                digits.clear();
            }
            key.push(letter);
        }
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_text_is_never_syntax() {
        assert_eq!(match_text("  PH-DB  press \"hall").as_deref(), Some("\"PH-DB\"* \"press\"* \" hall\"*"));
        assert_eq!(match_text("NEAR( -- *"), Some("\"NEAR(\"*".to_owned()));
        assert_eq!(match_text(" \" * -"), None);
    }

    #[test]
    fn numbers_sort_as_numbers() {
        let mut references = ["DB10", "db2", "DB1-3", "DB1"];
        references.sort_by_key(|reference| sort_key("Site", reference));
        assert_eq!(references, ["DB1", "DB1-3", "db2", "DB10"]);
    }
}
