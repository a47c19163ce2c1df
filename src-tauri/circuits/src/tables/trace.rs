//! Which rows a check looked up, and how far each may be trusted.
//!
//! Off unless a caller asks for it on this thread: most checks are made for many boards at once, and nobody reads
//! where each figure came from.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::fmt::Write as _;

use survey::Text;

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

    const fn said(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Computed => "computed",
            Self::Derived => "derived another way",
            Self::Practice => "common practice",
            Self::Memory => "from memory: confirm before relying on it",
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

/// The rows looked up since the last time, in words; empty where none was or nobody asked. A row of the file is
/// named by its line.
pub(crate) fn take() -> Text {
    if !ON.get() {
        return Text::default();
    }
    let mut tables: BTreeMap<(&'static str, Trust), Vec<u64>> = BTreeMap::new();
    for mark in SEEN.with_borrow_mut(std::mem::take) {
        tables.entry((mark.file, mark.trust)).or_default().push(mark.line);
    }
    let mut text = String::new();
    for ((file, trust), mut lines) in tables {
        lines.sort_unstable();
        lines.dedup();
        if !text.is_empty() {
            text.push_str("; ");
        }
        let rows = match lines.as_slice() {
            [one] => format!("row {one}"),
            // Where much is unknown, a whole column was looked through.
            [first, .., last] if lines.len() > 6 => format!("{} rows from {first} to {last}", lines.len()),
            _ => format!("rows {}", lines.iter().map(u64::to_string).collect::<Vec<_>>().join(", ")),
        };
        // Writing to a string does not fail.
        let _ = write!(text, "{} {rows}, {}", file.replace('_', " "), trust.said());
    }
    text.into()
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
