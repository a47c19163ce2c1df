//! A change of a document while it is written.

use automerge::transaction::{Transactable, Transaction};
use automerge::{ObjId, ObjType, ROOT, ReadDoc, ScalarValue};
use serde_json::{Map, Value};
use survey::Problem;

use super::view::{Field, View};
use super::{DocumentError, Touch, unreadable};
use crate::json::{below, canonical, is_below, is_record, parts};

/// A change being written.
pub(crate) struct Edit<'a> {
    pub(super) tx: Transaction<'a>,
    pub(super) touched: Vec<Touch>,
}

impl Edit<'_> {
    /// What was written so far, only where it differed.
    pub(crate) fn touched(&self) -> &[Touch] {
        &self.touched
    }

    /// The content of one field or record with what was written so far.
    pub(crate) fn value(&self, path: &str) -> Option<Value> {
        View { doc: &self.tx, heads: None }.value(path, &mut Vec::new())
    }

    /// Brings a content read before the edit up to date with what was written: only that is read.
    /// Adds to the list what in it cannot be read.
    pub(crate) fn refresh(&self, json: &mut Value, strange: &mut Vec<Problem>) {
        let view = View { doc: &self.tx, heads: None };
        for touch in &self.touched {
            let path = touch.path();
            strange.retain(|problem| !(problem.path == path || is_below(&problem.path, path)));
            let Some(value) = view.value(path, strange) else { continue };
            let Some(parts) = parts(path) else { continue };
            let mut here = &mut *json;
            for part in parts {
                if !here.is_object() {
                    *here = Value::Object(Map::new());
                }
                let Some(object) = here.as_object_mut() else { return };
                here = object.entry(part).or_insert(Value::Null);
            }
            *here = value;
        }
    }

    /// Sets a field, or a record field by field. Fields that the value does not name stay as they
    /// are; maps on the way are made where they are missing.
    pub(crate) fn set(&mut self, path: &str, value: &Value) -> Result<(), DocumentError> {
        let parts = parts(path).ok_or_else(|| DocumentError::Path(path.chars().take(200).collect()))?;
        let Some((key, parents)) = parts.split_last() else {
            if !is_record(value) {
                return Err(DocumentError::Whole);
            }
            let made = self.tx.keys(ROOT).next().is_none();
            if made {
                self.touched.push(Touch::Record(String::new()));
            }
            return self.fill(&[ROOT], "", value, made);
        };
        let mut nodes = vec![ROOT];
        let mut here = String::new();
        for part in parents {
            here = below(&here, part);
            let field = self.field(&nodes, part);
            nodes = if field.is_map() {
                field.maps
            } else if field.plain.iter().all(|(value, _)| value.is_null()) {
                vec![self.make(&nodes, part)?]
            } else {
                return Err(DocumentError::Inside(path.to_owned()));
            };
        }
        self.put(&nodes, key, path, value, false)
    }

    /// Writes a field again although it holds the value already, so that the write is known to
    /// come after everything seen here.
    pub(crate) fn confirm(&mut self, path: &str, value: bool) -> Result<(), DocumentError> {
        // An equal value alone is not recorded.
        self.set(path, &Value::Bool(!value))?;
        self.set(path, &Value::Bool(value))
    }

    fn field(&self, nodes: &[ObjId], key: &str) -> Field {
        View { doc: &self.tx, heads: None }.field(nodes, key, "", &mut Vec::new())
    }

    fn make(&mut self, nodes: &[ObjId], key: &str) -> Result<ObjId, DocumentError> {
        let node = nodes.first().unwrap_or(&ROOT);
        self.tx.put_object(node, key, ObjType::Map).map_err(unreadable)
    }

    fn fill(&mut self, nodes: &[ObjId], path: &str, value: &Value, made: bool) -> Result<(), DocumentError> {
        let Some(object) = value.as_object() else { return Ok(()) };
        for (key, value) in object {
            let path = below(path, key);
            if key.is_empty() {
                return Err(DocumentError::Path(path));
            }
            self.put(nodes, key, &path, value, made)?;
        }
        Ok(())
    }

    fn put(&mut self, nodes: &[ObjId], key: &str, path: &str, value: &Value, made: bool) -> Result<(), DocumentError> {
        // Nothing stands in a record just made: looking would only cost time.
        let field = if made { Field { maps: Vec::new(), plain: Vec::new() } } else { self.field(nodes, key) };
        if is_record(value) {
            if field.is_map() {
                return self.fill(&field.maps, path, value, made);
            }
            let node = self.make(nodes, key)?;
            if !made {
                self.touched.push(Touch::Record(path.to_owned()));
            }
            return self.fill(&[node], path, value, true);
        }
        if field.is_map() {
            return Err(DocumentError::Record(path.to_owned()));
        }
        let text = canonical(value);
        if !field.is_empty() && field.maps.is_empty() && field.plain.iter().all(|(old, _)| canonical(old) == text) {
            return Ok(());
        }
        // Where several values stand and this is one of them, the engine would only strike out the
        // others: a write elsewhere over that one would then beat this decision unnoticed. Another
        // value in between makes it a write of its own.
        let afresh = field.maps.len() + field.plain.len() > 1;
        let other = if value.is_null() { ScalarValue::Boolean(true) } else { ScalarValue::Null };
        for node in nodes {
            if afresh {
                self.tx.put(node, key, other.clone()).map_err(unreadable)?;
            }
            self.tx.put(node, key, to_scalar(value)).map_err(unreadable)?;
        }
        if !made {
            self.touched.push(Touch::Field(path.to_owned()));
        }
        Ok(())
    }
}

fn to_scalar(value: &Value) -> ScalarValue {
    match value {
        Value::Null => ScalarValue::Null,
        Value::Bool(value) => ScalarValue::Boolean(*value),
        Value::Number(number) => match (number.as_i64(), number.as_u64(), number.as_f64()) {
            (Some(value), _, _) => ScalarValue::Int(value),
            (_, Some(value), _) => ScalarValue::Uint(value),
            (_, _, Some(value)) => ScalarValue::F64(value),
            _ => ScalarValue::Bytes(number.to_string().into_bytes()),
        },
        Value::String(text) => ScalarValue::Str(text.as_str().into()),
        atom => ScalarValue::Bytes(canonical(atom).into_bytes()),
    }
}
