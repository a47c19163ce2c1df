//! Makes edits one after another and prints the number of each once it is saved, so that a test
//! can kill it at any moment and look whether a printed edit is ever missing.
//!
//! Arguments: the database, the first number, the number of edits. The edits are notes on
//! ten new boards in turn, whose ids count from the first number; a note's id is its own number.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::error::Error;
use std::io::Write;
use std::path::Path;

use store::{Op, Store};
use survey::intent::Change;
use survey::{Board, BoardId, Note, NoteId, SiteId};
use uuid::Uuid;

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, path, first, count] = args.as_slice() else {
        return Err("give the database, the first number and the number of edits".into());
    };
    let (first, count): (u128, u128) = (first.parse()?, count.parse()?);
    let mut store = Store::open(Path::new(path), common::env()?)?.store;
    let boards: Vec<BoardId> = (first..first + 10).map(|number| BoardId(Uuid::from_u128(number))).collect();
    for id in &boards {
        let board = Board::new(*id, SiteId(Uuid::nil()), "DB1");
        store.create_board(Op::new("new board", "tester"), &board, |_| Ok(()))?;
    }
    let mut out = std::io::stdout().lock();
    for (number, board) in (first..first + count).zip(boards.iter().cycle()) {
        let id = NoteId(Uuid::from_u128(number));
        let note = Note { text: format!("edit {number}"), ..Note::default() };
        let change = Change { path: format!("/notes/{id}"), value: serde_json::to_value(note)? };
        store.transact(Op::new("add note", "tester"), *board, &[change], |_, _| Ok(()))?;
        writeln!(out, "{number}")?;
        out.flush()?;
    }
    Ok(())
}
