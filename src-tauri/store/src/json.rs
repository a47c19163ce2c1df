//! JSON as stored: one spelling for equal values, and paths into it.

use serde_json::Value;

/// True where an object is a record of fields, false where it is stored whole: a surveyed value
/// (it says how it is known) or anything that is not an object.
pub(crate) fn is_record(value: &Value) -> bool {
    value.as_object().is_some_and(|object| !object.contains_key("known"))
}

/// The one spelling of a value: keys sorted, no spaces. Equal values give equal text whatever
/// order their keys were written in.
#[must_use]
pub fn canonical(value: &Value) -> String {
    let mut out = String::new();
    write(value, &mut out);
    out
}

fn write(value: &Value, out: &mut String) {
    match value {
        Value::Object(object) => {
            let mut keys: Vec<&String> = object.keys().collect();
            keys.sort();
            out.push('{');
            for (index, key) in keys.into_iter().enumerate() {
                if index > 0 {
                    out.push(',');
                }
                out.push_str(&Value::from(key.as_str()).to_string());
                out.push(':');
                write(&object[key], out);
            }
            out.push('}');
        }
        Value::Array(items) => {
            out.push('[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    out.push(',');
                }
                write(item, out);
            }
            out.push(']');
        }
        plain => out.push_str(&plain.to_string()),
    }
}

/// Most parts of a path, and deepest nesting of maps read from a document. The model has four levels; neither an
/// edit nor a document from outside may exhaust the stack.
pub(crate) const DEEPEST: usize = 32;

/// The parts of a JSON pointer (RFC 6901); `None` where it does not begin with a slash, a part is empty or it leads
/// deeper than documents are read. The empty text is the whole document.
pub(crate) fn parts(path: &str) -> Option<Vec<String>> {
    if path.is_empty() {
        return Some(Vec::new());
    }
    if path.split('/').nth(DEEPEST + 1).is_some() {
        return None;
    }
    let parts: Vec<String> =
        path.strip_prefix('/')?.split('/').map(|part| part.replace("~1", "/").replace("~0", "~")).collect();
    parts.iter().all(|part| !part.is_empty()).then_some(parts)
}

/// A path one step further down.
pub(crate) fn below(path: &str, key: &str) -> String {
    format!("{path}/{}", key.replace('~', "~0").replace('/', "~1"))
}

/// True where `path` leads further down from `above`.
pub(crate) fn is_below(path: &str, above: &str) -> bool {
    path.strip_prefix(above).is_some_and(|rest| rest.starts_with('/'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_have_one_spelling() {
        let a: Value = serde_json::from_str(r#"{"b":[1,{"y":2,"x":"é\n"}],"a":1.5}"#).unwrap();
        let b: Value = serde_json::from_str(r#"{"a":1.5,"b":[1,{"x":"é\n","y":2}]}"#).unwrap();
        assert_eq!(canonical(&a), r#"{"a":1.5,"b":[1,{"x":"é\n","y":2}]}"#);
        assert_eq!(canonical(&a), canonical(&b));
    }

    #[test]
    fn paths_go_both_ways() {
        assert_eq!(parts(&below("/circuits", "a/b~c")), Some(vec!["circuits".to_owned(), "a/b~c".to_owned()]));
        assert_eq!(parts(""), Some(vec![]));
        assert_eq!(parts("circuits"), None);
        assert_eq!(parts("/circuits//x"), None);
        assert_eq!(parts(&"/a".repeat(DEEPEST)).map(|parts| parts.len()), Some(DEEPEST));
        assert_eq!(parts(&"/a".repeat(DEEPEST + 1)), None);
    }
}
