//! Values that stand side by side until a person picks one.

use std::collections::BTreeSet;

use automerge::ObjId;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use survey::By;

use crate::json::canonical;

/// One value of several that stand side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ConflictValue {
    /// The value.
    pub json: Value,
    /// Give this to pick it.
    pub pick_id: String,
    /// Who wrote it, as far as it is known.
    #[serde(flatten)]
    pub by: By,
    /// When it was written.
    pub at: Option<DateTime<Utc>>,
    /// The board shows this one until a person picks.
    pub shown: bool,
}

/// Why a field needs a person's decision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConflictKind {
    /// Two people wrote different values without knowing of each other's.
    Values,
    /// One person removed the record while another, not knowing, worked on it.
    RemovedWhileEdited,
}

/// A field that needs a person's decision.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conflict {
    /// The field.
    pub path: String,
    /// Why.
    pub kind: ConflictKind,
    /// The values, oldest first as far as an order exists; the order is the same everywhere.
    pub values: Vec<ConflictValue>,
    /// For a removed record: the fields that were worked on.
    pub edited: Vec<String>,
}

/// Picks a removed record back up.
pub(crate) const PICK_KEPT: &str = "kept";

/// Leaves it removed.
pub(crate) const PICK_REMOVED: &str = "removed";

pub(super) struct Clash {
    pub(super) path: String,
    /// Distinct values, by the order of their operations, the shown one last.
    pub(super) values: Vec<(Value, ObjId)>,
}

/// The value shown of several; different ones are put on the list, equal ones are one.
pub(super) fn clash(path: &str, values: Vec<(Value, ObjId)>, clashes: &mut Vec<Clash>) -> Value {
    let Some((shown, _)) = values.last().cloned() else { return Value::Null };
    if values.len() > 1 {
        let mut seen = BTreeSet::new();
        // From the back, so that the shown value keeps the last place.
        let mut distinct: Vec<(Value, ObjId)> =
            values.into_iter().rev().filter(|(value, _)| seen.insert(canonical(value))).collect();
        distinct.reverse();
        if distinct.len() > 1 {
            clashes.push(Clash { path: path.to_owned(), values: distinct });
        }
    }
    shown
}
