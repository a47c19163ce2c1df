//! What stood at a field before what stands there now.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::ROOT;
use automerge::legacy::{Key, ObjectId, OpType};
use serde_json::Value;

use super::salvage::name;
use super::{Doc, View, to_json};
use crate::json::below;

/// What the history of a field says of a value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Past {
    /// The value stood there once.
    pub stood: bool,
    /// The field was written again after its record was made.
    pub edited: bool,
}

#[derive(Default)]
struct Written {
    values: Vec<Value>,
    /// One of them came with the record itself.
    with_record: bool,
}

impl Doc {
    /// What the history says of each of these fields and values.
    pub(crate) fn past(&self, asked: &[(&str, &Value)]) -> Vec<Past> {
        let mut written: BTreeMap<&str, Written> = asked.iter().map(|(path, _)| (*path, Written::default())).collect();
        let mut places = BTreeMap::from([("_root".to_owned(), String::new())]);
        View { doc: &self.inner, heads: None }.places(&[ROOT], "", 0, &mut places);
        for change in self.inner.get_changes(&[]) {
            let begins = change.deps().is_empty();
            // One that does not decode was read by the engine all the same: it says nothing here.
            let Ok(change) = catch_unwind(AssertUnwindSafe(|| change.decode())) else { continue };
            let mut made: BTreeSet<String> = BTreeSet::new();
            for (index, op) in (0_u64..).zip(&change.operations) {
                let (node, with_record) = match &op.obj {
                    ObjectId::Root => ("_root".to_owned(), begins),
                    ObjectId::Id(op) => {
                        let node = name(op.0, &op.1);
                        let fresh = made.contains(&node);
                        (node, fresh)
                    }
                };
                match (&op.action, &op.key) {
                    (OpType::Make(_), _) => drop(made.insert(name(change.start_op.get() + index, &change.actor_id))),
                    (OpType::Put(scalar), Key::Map(key)) => {
                        let path = places.get(&node).map(|parent| below(parent, key));
                        if let Some(field) = path.and_then(|path| written.get_mut(path.as_str())) {
                            field.values.extend(to_json(scalar));
                            field.with_record |= with_record;
                        }
                    }
                    _ => {}
                }
            }
        }
        asked
            .iter()
            .map(|(path, value)| {
                let Some(field) = written.get(path) else { return Past::default() };
                let late = !field.values.is_empty() && !field.with_record;
                let differ = field.values.iter().any(|other| !alike(other, &field.values[0]));
                Past {
                    // What was not given reads as empty.
                    stood: field.values.iter().any(|other| alike(other, value)) || late && is_empty(value),
                    edited: late || differ,
                }
            })
            .collect()
    }
}

/// The id that a document's first change gives it; `None` for any other change.
pub(crate) fn begins_document(bytes: &[u8]) -> Option<uuid::Uuid> {
    let decoded = catch_unwind(AssertUnwindSafe(|| {
        let change = automerge::Change::from_bytes(bytes.to_vec()).ok().filter(|change| change.deps().is_empty())?;
        Some(change.decode())
    }));
    let change = decoded.ok().flatten()?;
    change.operations.iter().find_map(|op| match (&op.obj, &op.key, &op.action) {
        (ObjectId::Root, Key::Map(key), OpType::Put(scalar)) if *key == "id" => to_json(scalar)?.as_str()?.parse().ok(),
        _ => None,
    })
}

/// Equal as the model reads them: 1 is 1.0, and a part that is not given is empty.
fn alike(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => one == other || one.as_f64() == other.as_f64(),
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| alike(one, other))
        }
        (Value::Object(one), Value::Object(other)) => {
            let keys: BTreeSet<&String> = one.keys().chain(other.keys()).collect();
            keys.into_iter().all(|key| match (one.get(key), other.get(key)) {
                (Some(one), Some(other)) => alike(one, other),
                (one, other) => one.or(other).is_none_or(is_empty),
            })
        }
        _ => one == other,
    }
}

/// What a field reads as that was not given.
fn is_empty(value: &Value) -> bool {
    match value {
        Value::Null | Value::Bool(false) => true,
        Value::String(text) => text.is_empty(),
        Value::Array(items) => items.is_empty(),
        Value::Object(fields) => fields.is_empty() || fields.get("known").is_some_and(|known| known == "unknown"),
        _ => false,
    }
}
