//! The survey file: one board as JSON, and the schema published from the types.

use std::collections::BTreeSet;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_path_to_error::Segment;

use crate::board::Board;
use crate::field::{Field, Holds};
use crate::message::Message;
use crate::problem::{Problem, Severity};
use crate::say;
use crate::validate::{LONGEST_TEXT, lengths, validate};

/// What the `format` field of a survey file says.
pub const FORMAT: &str = "waywright-survey";
/// The version of the file this code writes.
pub const VERSION: u32 = 1;
/// Largest survey file read, in bytes.
pub const LARGEST: usize = 32 * 1024 * 1024;
/// Most values in a JSON text that is read: a few bytes each in the text, but many times that in memory.
pub const MOST_VALUES: usize = 1_000_000;

/// True where a JSON text has more values than are read. A look at the bytes alone: nothing is built for it.
#[must_use]
pub fn too_many_values(json: &[u8]) -> bool {
    let (mut count, mut quoted, mut escaped) = (0_usize, false, false);
    for byte in json {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if quoted => escaped = true,
            b'"' => quoted = !quoted,
            b',' | b'[' | b'{' if !quoted => count += 1,
            _ => {}
        }
    }
    count > MOST_VALUES
}

#[derive(Serialize)]
struct Out<'a> {
    format: &'static str,
    version: u32,
    site_name: &'a str,
    board: &'a Board,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Head {
    format: String,
    version: u32,
    #[serde(default)]
    site_name: String,
    board: Value,
}

/// A survey read from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct SurveyFile {
    /// Name of the site, may be empty.
    pub site_name: String,
    /// The board.
    pub board: Board,
    /// Doubts worth showing; none of them stops an import.
    pub doubts: Vec<Problem>,
}

/// Writes a board as a survey file.
///
/// # Errors
/// Only where a value cannot be written as JSON, which no board holds.
pub fn write(board: &Board, site_name: &str) -> Result<String, serde_json::Error> {
    let out = Out { format: FORMAT, version: VERSION, site_name, board };
    let text = serde_json::to_string_pretty(&out)?;
    // What is written must be read again: the largest boards go without their line breaks.
    let text = if text.len() < LARGEST { text } else { serde_json::to_string(&out)? };
    Ok(text + "\n")
}

/// Reads a survey file strictly.
///
/// # Errors
/// Every problem found, each with its place; nothing is half read.
pub fn read(text: &str) -> Result<SurveyFile, Vec<Problem>> {
    // Some editors put a byte order mark first.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.len() > LARGEST {
        return Err(vec![Problem::refused(
            "/",
            say!("value-bytes", count = text.len()),
            say!("problem-file-large"),
            say!("remedy-file-large", size = LARGEST / 1024 / 1024),
        )]);
    }
    if too_many_values(text.as_bytes()) {
        return Err(vec![Problem::refused(
            "/",
            say!("value-bytes", count = text.len()),
            say!("problem-file-values", most = MOST_VALUES),
            say!("remedy-file-values"),
        )]);
    }
    // Some editors put the mark of UTF-8 before a text (RFC 8259, section 8.1: a reader may pass over it).
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let head: Head = serde_json::from_str(text).map_err(|error| {
        let remedy = if error.is_eof() { say!("remedy-file-short") } else { say!("remedy-file-form") };
        let place = say!("place-line-column", line = error.line().to_string(), column = error.column().to_string());
        let near: String =
            text.lines().nth(error.line().saturating_sub(1)).unwrap_or_default().trim().chars().take(60).collect();
        vec![Problem::refused(place.to_string(), near, say!("problem-file-json", why = error.to_string()), remedy)]
    })?;
    if head.format != FORMAT {
        return Err(vec![Problem::refused(
            "/format",
            head.format,
            say!("problem-file-format"),
            say!("remedy-file-format", format = FORMAT),
        )]);
    }
    if head.version > VERSION {
        return Err(vec![Problem::refused(
            "/version",
            head.version,
            say!("problem-file-version", version = VERSION),
            say!("remedy-newer-file"),
        )]);
    }
    if head.site_name.chars().count() > LONGEST_TEXT {
        let remedy = say!("remedy-too-long", most = LONGEST_TEXT);
        return Err(vec![Problem::refused("/site_name", head.site_name, say!("problem-too-long"), remedy)]);
    }
    let (board, mut problems) = lenient::<Board>(head.board);
    for problem in &mut problems {
        problem.severity = Severity::Refused;
    }
    if let Some(board) = &board {
        problems.extend(validate(board));
        problems.extend(lengths(board));
    }
    for problem in &mut problems {
        problem.path.insert_str(0, "/board");
    }
    let (refused, doubts): (Vec<_>, Vec<_>) =
        problems.into_iter().partition(|problem| problem.severity == Severity::Refused);
    match board {
        Some(board) if refused.is_empty() => Ok(SurveyFile { site_name: head.site_name, board, doubts }),
        _ => {
            // A file that is no survey at all has as many as it has fields.
            let mut refused = refused;
            refused.truncate(MOST_PROBLEMS);
            Err(refused)
        }
    }
}

/// The JSON schema of a survey file, published from the types.
#[must_use]
pub fn schema() -> Value {
    let board = schemars::schema_for!(Board);
    let mut board = serde_json::to_value(board).unwrap_or_default();
    let mut definitions = board.as_object_mut().and_then(|object| object.remove("$defs")).unwrap_or_default();
    bound(Board::FIELDS, &mut definitions);
    if let Some(object) = board.as_object_mut() {
        object.remove("$schema");
    }
    serde_json::json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Waywright survey file",
        "type": "object",
        "required": ["format", "version", "board"],
        "additionalProperties": false,
        "properties": {
            "format": { "const": FORMAT },
            "version": { "const": VERSION },
            "site_name": { "type": "string" },
            "board": board,
        },
        "$defs": definitions,
    })
}

/// Puts the catalogue's bounds beside the fields: `x-within`, in the unit of `x-unit`, both ends allowed.
fn bound(fields: &'static [Field], definitions: &mut Value) {
    for field in fields {
        if let Holds::Record(inner) | Holds::Records(inner) = field.holds {
            bound(inner(), definitions);
        }
        if let Some((lo, hi)) = field.within
            && let Some(property) = definitions.get_mut(field.record).and_then(|record| record.get_mut("properties"))
            && let Some(property) = property.get_mut(field.name).and_then(Value::as_object_mut)
        {
            property.insert("x-within".to_owned(), serde_json::json!([lo, hi]));
            if let Holds::Quantity { units: [(unit, _), ..], .. } = field.holds {
                property.insert("x-unit".to_owned(), serde_json::json!(unit));
            }
        }
    }
}

/// Most problems that a person is told of a survey file.
const MOST_PROBLEMS: usize = 200;
/// Values that may be gone through, all readings of one document together: a document made to be read for ever is given
/// up. One of a newer version, with a thousand fields unknown here, takes a hundredth of it.
const MOST_STEPS: usize = 50_000_000;

/// Reads a value and puts every field that cannot be read on a list instead of stopping at the
/// first: the field counts as not given. `None` where not even the frame can be read.
///
/// A document from a newer version is read this way too: fields this code does not know are kept
/// in the document and only passed over here.
///
/// The frame is read first, then every record by itself in a frame without others: a field that cannot be read costs
/// one more reading of its record, and not of the document.
pub fn lenient<T: DeserializeOwned>(mut value: Value) -> (Option<T>, Vec<Problem>) {
    let mut reader = Reader { problems: Vec::new(), steps: 0 };
    // The common case first, and where it is small nothing else is worth its while.
    if let Ok(read) = T::deserialize(&value) {
        return (Some(read), reader.problems);
    }
    if value.is_object() {
        let mut frame = value.clone();
        without_records(&mut frame, 0);
        if reader.mend::<T>(&mut frame, &mut value).is_none() {
            return (None, reader.problems);
        }
        // Records of the frame that is left; the parts of a record after the record.
        for depth in 1..=DEEPEST_RECORD {
            for path in records(&value, depth) {
                let mut alone = alone(&value, &path);
                reader.mend::<T>(&mut alone, &mut value);
            }
        }
    }
    let read = reader.mend(&mut value, &mut Value::Null);
    (read, reader.problems)
}

/// Levels of records within records: an entry in a plate, a mark in a photo.
const DEEPEST_RECORD: usize = 2;

struct Reader {
    problems: Vec<Problem>,
    steps: usize,
}

impl Reader {
    /// Reads a part, takes out of it and of the whole what cannot be read, and reads again, until it reads.
    fn mend<T: DeserializeOwned>(&mut self, part: &mut Value, whole: &mut Value) -> Option<T> {
        let size = values_in(part);
        loop {
            self.steps = self.steps.saturating_add(size);
            let error = match serde_path_to_error::deserialize::<_, T>(&*part) {
                Ok(read) => return Some(read),
                Err(error) => error,
            };
            let mut path: Vec<String> = error
                .path()
                .iter()
                .filter_map(|segment| match segment {
                    Segment::Map { key } => Some(key.clone()),
                    Segment::Seq { index } => Some(index.to_string()),
                    Segment::Enum { .. } | Segment::Unknown => None,
                })
                .collect();
            let message = error.inner().to_string();
            let strangers = strangers(part, &mut path, &message);
            let pointer_of = pointer(&path);
            let found = part.pointer(&pointer_of).map(Value::to_string).unwrap_or_default();
            self.problems.push(unreadable(pointer_of, found, message));
            if self.steps > MOST_STEPS || !take_out(part, &path) {
                return None;
            }
            take_out(whole, &path);
            for (path, message) in strangers {
                let pointer_of = pointer(&path);
                let found = part.pointer(&pointer_of).map(Value::to_string).unwrap_or_default();
                if take_out(part, &path) {
                    take_out(whole, &path);
                    self.problems.push(unreadable(pointer_of, found, message));
                }
            }
        }
    }
}

/// The message of a field that this version does not know.
pub const UNKNOWN_FIELD: &str = "problem-unknown-field";

/// A field that cannot be read, by what its reader says of it.
fn unreadable(path: String, found: String, message: String) -> Problem {
    match unknown_field(&message) {
        Some((field, known)) => {
            let message =
                Message::said(UNKNOWN_FIELD, [("field", field.to_owned().into()), ("known", known.to_owned().into())]);
            Problem::doubt(path, found, message, say!("remedy-unknown-field"))
        }
        None => Problem::doubt(path, found, say!("problem-unreadable", why = message), say!("remedy-unreadable")),
    }
}

/// The field that a reader does not know, and what it says of those that it knows.
fn unknown_field(message: &str) -> Option<(&str, &str)> {
    message.strip_prefix("unknown field `").and_then(|rest| rest.split_once("`, "))
}

/// Where a field is unknown: completes the path to it, and finds the other unknown ones of the same record. Which are
/// known the message says, so that a record of many unknown fields is read twice and not once for each.
fn strangers(part: &Value, path: &mut Vec<String>, message: &str) -> Vec<(Vec<String>, String)> {
    let Some((field, known)) = unknown_field(message) else { return Vec::new() };
    if path.last().map(String::as_str) != Some(field) {
        path.push(field.to_owned());
    }
    let Some((_, record)) = path.split_last() else { return Vec::new() };
    let Some(Value::Object(object)) = part.pointer(&pointer(record)) else { return Vec::new() };
    // An atom is taken out as a whole.
    if object.contains_key("known") && !record.is_empty() {
        return Vec::new();
    }
    let known: BTreeSet<&str> = known.split('`').skip(1).step_by(2).collect();
    let others = object.keys().filter(|key| *key != field && !known.contains(key.as_str()));
    others
        .map(|key| {
            let path = record.iter().cloned().chain([key.clone()]).collect();
            (path, message.replacen(field, key, 1))
        })
        .collect()
}

/// A map of records: its keys are ids.
fn is_records(value: &Value) -> bool {
    value.as_object().is_some_and(|object| {
        !object.contains_key("known")
            && object.iter().next().is_some_and(|(key, record)| is_id(key) && record.is_object())
    })
}

fn is_id(key: &str) -> bool {
    uuid::Uuid::try_parse(key).is_ok()
}

/// Takes the records out of a record, or of the whole.
fn without_records(value: &mut Value, depth: usize) {
    let Value::Object(object) = value else { return };
    for inner in object.values_mut() {
        if is_records(inner) {
            if let Value::Object(records) = inner {
                records.retain(|key, _| !is_id(key));
            }
        } else if depth < DEEPEST_RECORD && inner.get("known").is_none() {
            without_records(inner, depth + 1);
        }
    }
}

/// Paths of the records at a depth: 1 for those of the whole, 2 for those in other records.
fn records(value: &Value, depth: usize) -> Vec<Vec<String>> {
    let mut found = vec![Vec::new()];
    for _ in 0..depth {
        found = found
            .into_iter()
            .flat_map(|path: Vec<String>| {
                let maps = value.pointer(&pointer(&path)).and_then(Value::as_object).into_iter().flatten();
                let maps = maps.filter(|(_, map)| is_records(map));
                let ids = maps.flat_map(|(name, map)| {
                    map.as_object().into_iter().flatten().map(move |(id, _)| [name.clone(), id.clone()])
                });
                ids.filter(|[_, id]| is_id(id))
                    .map(|step| path.iter().cloned().chain(step).collect())
                    .collect::<Vec<Vec<String>>>()
            })
            .collect();
    }
    found
}

/// A document with this record alone, without those in it: of what stands around it only plain values, which its frame
/// may not do without.
fn alone(value: &Value, path: &[String]) -> Value {
    let [name, id, rest @ ..] = path else {
        let mut record = value.clone();
        without_records(&mut record, 0);
        return record;
    };
    let plain = |value: &Value| !value.is_object() && !value.is_array();
    let around = value.as_object().into_iter().flatten().filter(|(_, value)| plain(value));
    let mut frame: serde_json::Map<String, Value> = around.map(|(key, value)| (key.clone(), value.clone())).collect();
    let record = value.get(name).and_then(|map| map.get(id)).map(|record| alone(record, rest)).unwrap_or_default();
    frame.insert(name.clone(), Value::Object([(id.clone(), record)].into_iter().collect()));
    Value::Object(frame)
}

fn values_in(value: &Value) -> usize {
    1 + match value {
        Value::Object(object) => object.values().map(values_in).sum(),
        Value::Array(items) => items.iter().map(values_in).sum(),
        _ => 0,
    }
}

/// Fields of a document that its typed reading does not hold: what a newer version wrote. In the order of their paths.
#[must_use]
pub fn unread(document: &Value, read: &Value) -> Vec<String> {
    fn compare(document: &Value, read: &Value, path: &mut Vec<String>, found: &mut Vec<String>) {
        let (Value::Object(document), Value::Object(read)) = (document, read) else { return };
        for (key, value) in document {
            path.push(key.clone());
            match read.get(key) {
                _ if value.is_null() => {}
                // Not known, though something stands there: it could not be read.
                None => found.push(pointer(path)),
                Some(Value::Object(atom)) if atom.contains_key("known") && atom.get("known") != value.get("known") => {
                    found.push(pointer(path));
                }
                Some(inner) => compare(value, inner, path, found),
            }
            path.pop();
        }
    }
    let mut found = Vec::new();
    compare(document, read, &mut Vec::new(), &mut found);
    found
}

/// A JSON pointer from its parts (RFC 6901).
#[must_use]
pub fn pointer(parts: &[String]) -> String {
    parts.iter().map(|part| format!("/{}", part.replace('~', "~0").replace('/', "~1"))).collect()
}

/// Removes the field at the path, or the whole atom (an object with `known`, an array) around it.
fn take_out(value: &mut Value, path: &[String]) -> bool {
    let mut length = path.len();
    let mut here = &*value;
    for (depth, part) in path.iter().enumerate() {
        let atom = here.is_array() || here.get("known").is_some();
        if atom && depth > 0 {
            length = depth;
            break;
        }
        let Some(next) = here.get(part) else { break };
        here = next;
    }
    let Some((last, parents)) = path[..length].split_last() else { return false };
    match value.pointer_mut(&pointer(parents)) {
        Some(Value::Object(object)) => object.remove(last).is_some(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::validate::tests::{board_with, put};

    #[test]
    fn a_board_goes_through_a_file_whole() {
        let mut board = board_with("three-phase-8");
        put(&mut board, "2L2", crate::board::Poles::P1);
        let text = write(&board, "Somewhere").unwrap();
        let read = read(&text).unwrap();
        assert_eq!((&read.board, read.site_name.as_str()), (&board, "Somewhere"));
        // As some editors write it.
        assert_eq!(super::read(&format!("\u{feff}{text}")).unwrap().board, board);
    }

    #[test]
    fn every_problem_is_listed_with_its_place() {
        let mut board = board_with("three-phase-8");
        let circuit = put(&mut board, "2L2", crate::board::Poles::P1);
        let mut value: Value = serde_json::from_str(&write(&board, "").unwrap()).unwrap();
        value["board"]["colour"] = "red".into();
        value["board"]["supply"]["ze"] = serde_json::json!({"known": "measured", "value": "0.3 V"});
        value["board"]["circuits"][circuit.to_string()]["load"]["power"] =
            serde_json::json!({"known": "label", "value": 5});
        value["board"]["circuits"][circuit.to_string()]["number"] = 7.into();
        let problems = read(&value.to_string()).unwrap_err();
        let paths: Vec<&str> = problems.iter().map(|problem| problem.path.as_str()).collect();
        assert_eq!(paths.len(), 4, "{problems:#?}");
        for (start, end) in [
            ("/board/colour", ""),
            ("/board/supply/ze", ""),
            ("/board/circuits/", "/number"),
            ("/board/circuits/", "/load/power/value"),
        ] {
            assert!(
                paths.iter().any(|path| path.starts_with(start) && path.ends_with(end)),
                "{start} {end}: {paths:?}"
            );
        }
    }

    #[test]
    fn many_fields_of_a_newer_version_are_passed_over_wherever_they_stand() {
        let mut board = board_with("three-phase-8");
        for at in 0..600_u128 {
            let circuit = crate::board::Circuit { number: at.to_string(), ..crate::board::Circuit::default() };
            board.circuits.insert(crate::ids::CircuitId(uuid::Uuid::from_u128(at + 1)), circuit);
        }
        let plate = crate::board::Plate {
            entries: (1..=50)
                .map(|at| (crate::ids::EntryId(uuid::Uuid::from_u128(at)), crate::board::Entry::default()))
                .collect(),
            ..crate::board::Plate::default()
        };
        board.plates.insert(crate::ids::PlateId(uuid::Uuid::from_u128(5)), plate);
        let mut value = serde_json::to_value(&board).unwrap();
        let (mut fields, mut paths) = (0, BTreeSet::new());
        let mut add = |path: String, value: &mut Value, field: Value| {
            let (parent, last) = path.rsplit_once('/').unwrap();
            value.pointer_mut(parent).unwrap()[last] = field;
            fields += 1;
            paths.insert(path);
        };
        for at in 0..600_u128 {
            let id = uuid::Uuid::from_u128(at + 1);
            add(format!("/circuits/{id}/lamp_{at}"), &mut value, "LED".into());
            add(format!("/circuits/{id}/load/mood_{at}"), &mut value, at.to_string().into());
            // A choice that is not known yet.
            add(format!("/circuits/{id}/kind"), &mut value, "Refrigeration".into());
            add(format!("/new_{at}"), &mut value, serde_json::json!({"known": "label", "value": 1}));
            add(format!("/supply/new_{at}"), &mut value, serde_json::json!([1, 2]));
        }
        for at in 1..=50_u128 {
            let id = uuid::Uuid::from_u128(at);
            let entry = format!("/plates/{}/entries/{id}", uuid::Uuid::from_u128(5));
            add(format!("{entry}/thread"), &mut value, 7.into());
            add(format!("{entry}/seal"), &mut value, 7.into());
        }
        let meters = (1..=50_u128).map(|at| (uuid::Uuid::from_u128(at).to_string(), serde_json::json!({"reads": 1})));
        add("/meters".to_owned(), &mut value, Value::Object(meters.collect()));
        let (read, problems) = lenient::<Board>(value.clone());
        let read = read.unwrap();
        assert_eq!(read, board, "all that is known is read");
        let told: BTreeSet<String> = problems.iter().map(|problem| problem.path.clone()).collect();
        assert_eq!((problems.len(), &told), (fields, &paths));
        let lost = unread(&value, &serde_json::to_value(&read).unwrap());
        assert!(lost.len() >= 2400 && lost.contains(&"/meters".to_owned()), "{}", lost.len());
        assert_eq!(unread(&serde_json::to_value(&board).unwrap(), &serde_json::to_value(&board).unwrap()), [""; 0]);
    }

    #[test]
    fn values_are_counted_outside_of_texts() {
        let full = format!("[{}1]", "1,".repeat(MOST_VALUES - 1));
        assert!(!too_many_values(full.as_bytes()));
        assert!(too_many_values(format!("[{full}]").as_bytes()));
        assert!(!too_many_values(format!("\"\\\"{}\"", "[,{".repeat(MOST_VALUES)).as_bytes()));
        let problems = read(&format!("[{full}]")).unwrap_err();
        assert!(problems[0].message.contains("values"), "{problems:?}");
    }

    #[test]
    fn the_largest_board_that_is_taken_is_read_again() {
        let mut board = board_with("three-phase-8");
        for at in 0..2000_u128 {
            let photo = crate::board::Photo { hash: "a".repeat(64), ..crate::board::Photo::default() };
            board.photos.insert(crate::ids::PhotoId(uuid::Uuid::from_u128(at)), photo);
        }
        for photo in board.photos.values_mut() {
            let mark = crate::board::Mark { points: vec![[0.125, 0.25]; 400], ..crate::board::Mark::default() };
            photo.marks.insert(crate::ids::MarkId(uuid::Uuid::from_u128(7)), mark);
        }
        let refused = lengths(&board);
        assert!(refused.iter().any(|problem| problem.message.contains("too large")), "{refused:?}");
        for photo in board.photos.values_mut().skip(400) {
            photo.marks.clear();
        }
        assert_eq!(lengths(&board), vec![]);
        let text = write(&board, "").unwrap();
        assert!(text.len() < LARGEST);
        assert_eq!(read(&text).unwrap().board, board);
    }

    #[test]
    fn nesting_and_truncation_are_errors_with_a_place() {
        let deep = "[".repeat(100_000);
        for text in [deep.as_str(), "{", "", "null", "{\"format\":\"waywright-survey\",\"version\":1,\"board\":{}}"] {
            let problems = read(text).unwrap_err();
            assert!(!problems.is_empty() && !problems[0].path.is_empty(), "{problems:?}");
        }
    }
}
