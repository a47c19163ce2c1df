//! The open board as it came: JSON that is looked up by path.
//!
//! The screen shows fields and sends edits by path, so it needs no record types; leaving their
//! decoders out takes a fifth off what a tablet loads.

use serde_json::Value;
use survey::ids::{BoardId, CircuitId};

/// What is shown of a board.
pub type View = api::BoardView<Value>;
/// Reply to an edit.
pub type Edited = api::Edited<Value>;
/// What came of the board with it.
pub type Update = api::Update<Value>;

/// The board's id.
pub fn id_of(board: &Value) -> Option<BoardId> {
    board["id"].as_str()?.parse().ok()
}

/// The words at a path; empty where there are none.
pub fn text<'a>(board: &'a Value, path: &str) -> &'a str {
    board.pointer(path).and_then(Value::as_str).unwrap_or_default()
}

/// The list of words under a key.
pub fn words(value: &Value, key: &str) -> Vec<String> {
    value[key].as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect()
}

/// The words under a key.
pub fn word(value: &Value, key: &str) -> String {
    value[key].as_str().unwrap_or_default().to_owned()
}

/// The records under a key.
pub fn each<'a>(value: &'a Value, key: &str) -> impl Iterator<Item = &'a Value> {
    value[key].as_array().into_iter().flatten()
}

/// The edit that a reply offers, if any.
pub fn intent(reply: &Value) -> Option<Value> {
    Some(reply["intent"].clone()).filter(|intent| !intent.is_null())
}

fn is_live(record: &Value) -> bool {
    record["removed"] != true
}

/// The records of a kind that are not removed, by id.
pub fn live<'a>(board: &'a Value, records: &str) -> impl DoubleEndedIterator<Item = (&'a str, &'a Value)> {
    let all = board[records].as_object().into_iter().flatten();
    all.filter(|(_, record)| is_live(record)).map(|(id, record)| (id.as_str(), record))
}

/// One record, unless it is removed.
pub fn one<'a>(board: &'a Value, records: &str, id: impl ToString) -> Option<&'a Value> {
    board[records].get(id.to_string()).filter(|record| is_live(record))
}

/// The id that a record names under `key`, where that record is there and not removed.
pub fn named<T: std::str::FromStr>(board: &Value, records: &str, record: &Value, key: &str) -> Option<T> {
    let id = record[key].as_str()?;
    one(board, records, id)?;
    id.parse().ok()
}

/// The circuit that names this id under `key`: "device" or "cable".
pub fn circuit_of(board: &Value, key: &str, id: &str) -> Option<CircuitId> {
    live(board, "circuits").find(|(_, circuit)| circuit[key] == id).and_then(|(id, _)| id.parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn removed_records_are_not_there() {
        let (circuit, cable) = ("01900000-0000-7000-8000-000000000001", "01900000-0000-7000-8000-000000000002");
        let mut board = json!({"circuits": {circuit: {"cable": cable}}, "cables": {cable: {"removed": false}}});
        let found =
            |board: &Value| named::<survey::ids::CableId>(board, "cables", &board["circuits"][circuit], "cable");
        assert_eq!(found(&board).map(|id| id.to_string()).as_deref(), Some(cable));
        assert_eq!(circuit_of(&board, "cable", cable).map(|id| id.to_string()).as_deref(), Some(circuit));
        board["cables"][cable]["removed"] = true.into();
        assert_eq!(found(&board), None);
        board["circuits"][circuit]["removed"] = true.into();
        assert_eq!((live(&board, "circuits").count(), circuit_of(&board, "cable", cable)), (0, None));
    }
}
