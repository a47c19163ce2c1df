//! Undo and redo, taken from the history of a document, so they outlive a restart.
//!
//! Only what still stands as the operation left it is put back: a field that someone else has
//! changed meanwhile keeps their value, and the reply says so.

use rusqlite::{OptionalExtension, Row, params};
use serde_json::Value;
use survey::{Board, BoardId, By, Problem, say};
use uuid::Uuid;

use crate::document::{ChangeId, Touch};
use crate::edit::{Op, Saved};
use crate::error::StoreError;
use crate::json::{below, canonical, is_below};
use crate::store::{Kind, Loaded, Store, hydrate};

pub(crate) struct OpRow {
    seq: i64,
    pub(crate) name: String,
    touched: Vec<Touch>,
    done: ChangeId,
    undone: Option<ChangeId>,
}

fn op_row(row: &Row<'_>) -> rusqlite::Result<OpRow> {
    let touched: String = row.get(2)?;
    Ok(OpRow {
        seq: row.get(0)?,
        name: row.get(1)?,
        touched: serde_json::from_str(&touched).unwrap_or_default(),
        done: ChangeId(row.get(3)?),
        undone: row.get::<_, Option<[u8; 32]>>(4)?.map(ChangeId),
    })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    Undo,
    Redo,
}

/// What to write for one thing an operation touched.
enum Step {
    Write(String, Value),
    Leave,
    Skip(Problem),
}

impl Store {
    pub(crate) fn next_undo(&self, id: Uuid) -> Result<Option<OpRow>, StoreError> {
        Ok(self
            .db
            .prepare_cached(include_str!("../sql/next_undo.sql"))?
            .query_row([id.as_bytes().as_slice(), self.device.as_slice()], op_row)
            .optional()?)
    }

    pub(crate) fn next_redo(&self, id: Uuid) -> Result<Option<OpRow>, StoreError> {
        Ok(self
            .db
            .prepare_cached(include_str!("../sql/next_redo.sql"))?
            .query_row([id.as_bytes().as_slice(), self.device.as_slice()], op_row)
            .optional()?)
    }

    /// Takes back the last operation made on this device on a board. Fields changed by others meanwhile stay
    /// as they are and are listed in [`Saved::skipped`]; where all are, the operation is passed
    /// over and the next undo takes the one before it.
    ///
    /// # Errors
    /// [`StoreError::Nothing`]; [`StoreError::Refused`] by `check`; the database failed.
    pub fn undo(
        &mut self,
        by: impl Into<By>,
        board: BoardId,
        check: impl FnOnce(&Board, &Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.go(Way::Undo, by.into(), board, check)
    }

    /// Brings back the operation last undone.
    ///
    /// # Errors
    /// As for [`Self::undo`].
    pub fn redo(
        &mut self,
        by: impl Into<By>,
        board: BoardId,
        check: impl FnOnce(&Board, &Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.go(Way::Redo, by.into(), board, check)
    }

    fn go(
        &mut self,
        way: Way,
        by: By,
        board: BoardId,
        check: impl FnOnce(&Board, &Board) -> Result<(), Vec<Problem>>,
    ) -> Result<Saved, StoreError> {
        self.write(|store| {
            let (op, word) = match way {
                Way::Undo => (store.next_undo(board.0)?, "undo"),
                Way::Redo => (store.next_redo(board.0)?, "redo"),
            };
            let op = op.ok_or(StoreError::Nothing(word))?;
            let loaded = store.take(board.0, Kind::Board)?;
            let steps = steps(&loaded, &op, way);
            store.keep(loaded);
            let (mut writes, mut skipped) = (Vec::new(), Vec::new());
            for step in steps? {
                match step {
                    Step::Write(path, value) => writes.push((path, value)),
                    Step::Skip(problem) => skipped.push(problem),
                    Step::Leave => {}
                }
            }
            let name = format!("{word}: {}", op.name);
            let (mut saved, _, change) = store.edit::<Board, _>(Op::new(&name, by), board.0, check, |edit| {
                writes.iter().try_for_each(|(path, value)| edit.set(path, value))
            })?;
            saved.skipped = skipped;
            let state = match (way, change) {
                (Way::Undo, Some(_)) => "undone",
                (Way::Redo, Some(_)) => "done",
                (_, None) => "gone",
            };
            store
                .db
                .prepare_cached(match way {
                    Way::Undo => "UPDATE ops SET state = ?2, undone = coalesce(?3, undone) WHERE seq = ?1",
                    Way::Redo => "UPDATE ops SET state = ?2, done = coalesce(?3, done) WHERE seq = ?1",
                })?
                .execute(params![op.seq, state, change.as_ref().map(|change| change.0.as_slice())])?;
            Ok(saved)
        })
    }
}

fn steps(loaded: &Loaded, op: &OpRow, way: Way) -> Result<Vec<Step>, StoreError> {
    let doc = &loaded.doc;
    if !doc.has(&op.done) || way == Way::Redo && op.undone.is_some_and(|undone| !doc.has(&undone)) {
        // What was before it is not known: that change does not read any more.
        return Err(StoreError::Nothing(if way == Way::Undo { "undo" } else { "redo" }));
    }
    let before = doc.before(&op.done).unwrap_or_default();
    // What stands now if nobody else came between, and what is to stand.
    let (left, wanted) = match (way, op.undone) {
        (Way::Undo, _) => (vec![op.done], before),
        (Way::Redo, Some(undone)) => (vec![undone], vec![op.done]),
        (Way::Redo, None) => return Err(StoreError::Nothing("redo")),
    };
    let mut defaults: Option<Value> = None;
    let mut steps = Vec::new();
    for touch in &op.touched {
        let path = touch.path();
        if path.starts_with("/settled/") {
            steps.push(Step::Leave);
            continue;
        }
        let now = doc.value(path);
        let stood = doc.value_at(path, &left);
        let clashes = |conflict: &crate::Conflict| conflict.path == path || is_below(&conflict.path, path);
        let as_left = match (&now, &stood) {
            (Some(now), Some(stood)) => same(now, stood),
            (now, stood) => now == stood,
        };
        let meddled = !as_left || loaded.conflicts.iter().any(clashes);
        let target = match touch {
            Touch::Record(_) => {
                let hidden = Value::Bool(way == Way::Undo);
                let has_removed = now.as_ref().is_some_and(|now| now.get("removed").is_some());
                has_removed.then(|| (below(path, "removed"), hidden))
            }
            Touch::Field(_) => match doc.value_at(path, &wanted) {
                Some(value) => Some((path.to_owned(), value)),
                None => {
                    // The field was not there yet: it goes back to what the model takes it for.
                    if defaults.is_none() {
                        let root = doc.value_at("", &wanted).unwrap_or_default();
                        let (board, _) = hydrate::<Board>(&root, loaded.id)?;
                        defaults = serde_json::to_value(board).ok();
                    }
                    let value = defaults.as_ref().and_then(|defaults| defaults.pointer(path)).cloned();
                    value.map(|value| (path.to_owned(), value))
                }
            },
        };
        steps.push(match target {
            None => Step::Leave,
            Some(_) if meddled => Step::Skip(Problem::doubt(
                path,
                now.as_ref().map(canonical).unwrap_or_default(),
                say!("problem-changed-since", step = survey::intent::step(&op.name)),
                say!("remedy-changed-since"),
            )),
            Some((path, value)) => Step::Write(path, value),
        });
    }
    Ok(steps)
}

/// True where everything that stood still does. A record made later and hidden again is no
/// difference: what is undone leaves hidden records behind.
fn same(now: &Value, stood: &Value) -> bool {
    let (Some(now), Some(stood)) = (now.as_object(), stood.as_object()) else {
        return canonical(now) == canonical(stood);
    };
    stood.iter().all(|(key, stood)| now.get(key).is_some_and(|now| same(now, stood)))
        && now.iter().all(|(key, now)| stood.contains_key(key) || now["removed"] == true || key == "settled")
}
