//! Which rows a check looked up, and how far each may be trusted.
//!
//! Off unless a caller asks for it on this thread: most checks are made for many boards at once, and nobody reads
//! where each figure came from.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

use survey::{Argument, Message, say};

/// How far a row may be trusted, as its column `checked` says; what is least sure comes last.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Trust {
    Read,
    Computed,
    Derived,
    Practice,
    #[default]
    Memory,
}

impl Trust {
    pub(super) const WORDS: [(&'static str, Self); 5] = [
        ("read", Self::Read),
        ("computed", Self::Computed),
        ("derived", Self::Derived),
        ("practice", Self::Practice),
        ("memory", Self::Memory),
    ];

    /// The form of the message that says so.
    const fn key(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Computed => "computed",
            Self::Derived => "derived",
            Self::Practice => "practice",
            Self::Memory => "memory",
        }
    }
}

/// A row of a table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Mark {
    file: &'static str,
    trust: Trust,
    line: u64,
}

impl Mark {
    pub(super) const fn new(file: &'static str, trust: Trust, line: u64) -> Self {
        Self { file, trust, line }
    }
}

thread_local! {
    static ON: Cell<bool> = const { Cell::new(false) };
    static SEEN: RefCell<Vec<Mark>> = const { RefCell::new(Vec::new()) };
}

/// A row was looked up.
#[inline]
pub(crate) fn note(mark: Mark) {
    if ON.get() {
        SEEN.with_borrow_mut(|seen| seen.push(mark));
    }
}

/// Somebody on this thread asked for what is looked up.
pub(crate) fn on() -> bool {
    ON.get()
}

/// Forgets what was looked up so far.
pub(crate) fn clear() {
    if ON.get() {
        SEEN.with_borrow_mut(Vec::clear);
    }
}

/// What a table's file is called behind its name.
pub(super) const FILE: &str = ".csv";

/// The rows looked up since the last time; empty where none was or nobody asked. A row of the file is named by its
/// line.
pub(crate) fn take() -> Message {
    if !ON.get() {
        return Message::default();
    }
    let mut tables: BTreeMap<(&'static str, Trust), Vec<u64>> = BTreeMap::new();
    for mark in SEEN.with_borrow_mut(std::mem::take) {
        tables.entry((mark.file, mark.trust)).or_default().push(mark.line);
    }
    let tables: Vec<Message> = tables.into_iter().map(|((file, trust), lines)| rows(file, trust, lines)).collect();
    if tables.is_empty() { Message::default() } else { say!("tables-looked-up", tables = tables) }
}

fn rows(file: &str, trust: Trust, mut lines: Vec<u64>) -> Message {
    lines.sort_unstable();
    lines.dedup();
    let (form, rows) = match lines.as_slice() {
        [one] => ("one", one.to_string()),
        // Where much is unknown, a whole column was looked through.
        [_, .., _] if lines.len() > 6 => ("many", String::new()),
        _ => ("some", lines.iter().map(u64::to_string).collect::<Vec<_>>().join(", ")),
    };
    let end = |line: Option<&u64>| line.copied().unwrap_or_default().to_string();
    say!(
        "table-rows",
        table = format!("{file}{FILE}"),
        form = Argument::Choice(form),
        rows = rows,
        count = lines.len(),
        first = end(lines.first()),
        last = end(lines.last()),
        trust = Argument::Choice(trust.key())
    )
}

/// Runs something that has its look-ups told.
pub(crate) fn told<T>(run: impl FnOnce() -> T) -> T {
    /// Off again, also where what runs stops short.
    struct Off;
    impl Drop for Off {
        fn drop(&mut self) {
            ON.set(false);
            SEEN.with_borrow_mut(Vec::clear);
        }
    }
    let off = Off;
    ON.set(true);
    let result = run();
    drop(off);
    result
}
