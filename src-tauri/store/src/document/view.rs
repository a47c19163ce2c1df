//! A document read as JSON: maps that were made side by side are one, of values that stand side by side one is shown.

use std::collections::BTreeSet;

use automerge::{ChangeHash, ObjId, ObjType, ROOT, ReadDoc, ScalarValue};
use serde_json::{Map, Number, Value};
use survey::{Problem, say};

use super::Read;
use super::conflict::{Clash, clash};
use crate::json::{DEEPEST, below, parts};

pub(super) struct View<'a, D> {
    pub(super) doc: &'a D,
    pub(super) heads: Option<&'a [ChangeHash]>,
}

impl<D: ReadDoc> View<'_, D> {
    pub(super) fn keys(&self, nodes: &[ObjId]) -> BTreeSet<String> {
        nodes
            .iter()
            .flat_map(|node| match self.heads {
                None => self.doc.keys(node),
                Some(heads) => self.doc.keys_at(node, heads),
            })
            .collect()
    }

    pub(super) fn field(&self, nodes: &[ObjId], key: &str, path: &str, strange: &mut Vec<Problem>) -> Field {
        let mut field = Field { maps: Vec::new(), plain: Vec::new() };
        for node in nodes {
            let all = match self.heads {
                None => self.doc.get_all(node, key),
                Some(heads) => self.doc.get_all_at(node, key, heads),
            };
            for (value, op) in all.unwrap_or_default() {
                match value {
                    automerge::Value::Object(ObjType::Map | ObjType::Table) => field.maps.push(op),
                    automerge::Value::Object(other) => {
                        strange.push(unknown(path, &other.to_string()));
                        field.plain.push((Value::Null, op));
                    }
                    automerge::Value::Scalar(scalar) => {
                        let value = to_json(&scalar).unwrap_or_else(|| {
                            strange.push(unknown(path, &scalar.to_string()));
                            Value::Null
                        });
                        field.plain.push((value, op));
                    }
                }
            }
        }
        field.maps.sort_by(|a, b| rank(a).cmp(&rank(b)));
        field.plain.sort_by(|(_, a), (_, b)| rank(a).cmp(&rank(b)));
        field
    }

    pub(super) fn read(&self) -> Read {
        let mut read = Read { json: Value::Null, strange: Vec::new(), clashes: Vec::new() };
        read.json = self.map(&[ROOT], "", 0, &mut read.strange, &mut read.clashes);
        read
    }

    pub(super) fn map(
        &self,
        nodes: &[ObjId],
        path: &str,
        depth: usize,
        strange: &mut Vec<Problem>,
        clashes: &mut Vec<Clash>,
    ) -> Value {
        if depth > DEEPEST {
            strange.push(unknown(path, "a map nested too deeply"));
            return Value::Object(Map::new());
        }
        let mut object = Map::new();
        for key in self.keys(nodes) {
            let path = below(path, &key);
            let field = self.field(nodes, &key, &path, strange);
            let is_map = field.is_map();
            let mut values = field.plain;
            let value = if let Some(last) = field.maps.last() {
                let map = self.map(&field.maps, &path, depth + 1, strange, clashes);
                if values.is_empty() {
                    map
                } else {
                    let at = if is_map { values.len() } else { values.len() - 1 };
                    values.insert(at, (map, last.clone()));
                    clash(&path, values, clashes)
                }
            } else {
                clash(&path, values, clashes)
            };
            object.insert(key, value);
        }
        Value::Object(object)
    }

    /// The record at a path, or the value shown there.
    pub(super) fn value(&self, path: &str, strange: &mut Vec<Problem>) -> Option<Value> {
        let parts = parts(path)?;
        let mut clashes = Vec::new();
        let mut nodes = vec![ROOT];
        let mut here = String::new();
        for (index, part) in parts.iter().enumerate() {
            here = below(&here, part);
            let field = self.field(&nodes, part, &here, strange);
            if !field.is_map() {
                let (value, _) = field.plain.into_iter().next_back()?;
                return (index + 1 == parts.len()).then_some(value);
            }
            nodes = field.maps;
        }
        Some(self.map(&nodes, &here, parts.len(), strange, &mut clashes))
    }

    /// Records whose `removed` is set.
    pub(super) fn removed(&self, nodes: &[ObjId], path: &str, depth: usize, out: &mut Vec<Removed>) {
        if depth > DEEPEST {
            return;
        }
        let mut strange = Vec::new();
        for key in self.keys(nodes) {
            let field = self.field(nodes, &key, path, &mut strange);
            if field.is_map() {
                self.removed(&field.maps, &below(path, &key), depth + 1, out);
            } else if key == "removed" && field.plain.last().is_some_and(|(value, _)| value == &Value::Bool(true)) {
                let ops = field.plain.into_iter().filter(|(value, _)| value == &Value::Bool(true));
                out.push(Removed {
                    path: path.to_owned(),
                    nodes: nodes.to_vec(),
                    ops: ops.map(|(_, op)| op).collect(),
                });
            }
        }
    }

    /// Every write that still stands in a record and below it.
    pub(super) fn written(&self, nodes: &[ObjId], path: &str, depth: usize, out: &mut Vec<(String, ObjId)>) {
        if depth > DEEPEST {
            return;
        }
        let mut strange = Vec::new();
        for key in self.keys(nodes) {
            let path = below(path, &key);
            let field = self.field(nodes, &key, &path, &mut strange);
            self.written(&field.maps, &path, depth + 1, out);
            out.extend(field.plain.into_iter().map(|(_, op)| (path.clone(), op)));
        }
    }
}

/// What stands under one key.
pub(super) struct Field {
    /// The maps made there, in order.
    pub(super) maps: Vec<ObjId>,
    /// The plain values and atoms there, in order.
    pub(super) plain: Vec<(Value, ObjId)>,
}

impl Field {
    pub(super) fn is_empty(&self) -> bool {
        self.maps.is_empty() && self.plain.is_empty()
    }

    /// True where the latest thing written is a map.
    pub(super) fn is_map(&self) -> bool {
        match (self.maps.last(), self.plain.last()) {
            (Some(map), Some((_, plain))) => rank(map) > rank(plain),
            (map, _) => map.is_some(),
        }
    }
}

pub(super) struct Removed {
    pub(super) path: String,
    pub(super) nodes: Vec<ObjId>,
    pub(super) ops: Vec<ObjId>,
}

/// Order of operations that is the same on every tablet.
pub(super) fn rank(op: &ObjId) -> (u64, &[u8]) {
    match op {
        ObjId::Root => (0, &[]),
        ObjId::Id(counter, actor, _) => (*counter, actor.to_bytes()),
    }
}

pub(super) fn pick_id(op: &ObjId) -> String {
    match op {
        ObjId::Root => String::new(),
        ObjId::Id(counter, actor, _) => format!("{counter}@{}", actor.to_hex_string()),
    }
}

fn unknown(path: &str, found: &str) -> Problem {
    Problem::doubt(path, found, say!("problem-unknown-kind"), say!("remedy-unknown-kind"))
}

pub(super) fn to_json(scalar: &ScalarValue) -> Option<Value> {
    Some(match scalar {
        ScalarValue::Null => Value::Null,
        ScalarValue::Boolean(value) => Value::Bool(*value),
        ScalarValue::Int(value) => Value::from(*value),
        ScalarValue::Uint(value) => Value::from(*value),
        ScalarValue::F64(value) => Value::Number(Number::from_f64(*value)?),
        ScalarValue::Str(value) => Value::from(value.as_str()),
        ScalarValue::Bytes(bytes) => serde_json::from_slice(bytes).ok()?,
        _ => return None,
    })
}
