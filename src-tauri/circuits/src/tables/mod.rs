//! The published tables that the checks read. Text in, typed look-ups out.

use thiserror::Error;

/// The texts of the tables, one CSV each.
#[derive(Clone, Copy, Debug)]
pub struct TableTexts<'a> {
    /// Current-carrying capacity, IEC 60364-5-52 annex B.
    pub ampacity: &'a str,
}

impl TableTexts<'static> {
    /// The tables that come with the program.
    #[must_use]
    pub const fn shipped() -> Self {
        Self { ampacity: "" }
    }
}

/// What is wrong in a table, and where.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}, row {row}, {column}: \"{value}\": {remedy}")]
pub struct TableError {
    /// Name of the file.
    pub file: &'static str,
    /// Line in the file, from 1.
    pub row: u64,
    /// Column.
    pub column: String,
    /// The value found, shortened.
    pub value: String,
    /// What would do.
    pub remedy: String,
}

/// Every table, read and checked.
#[derive(Clone, Debug)]
pub struct Tables {}

impl Tables {
    /// Reads the tables.
    ///
    /// # Errors
    /// The first thing wrong: file, row, column, value and what would do.
    pub fn parse(texts: &TableTexts) -> Result<Self, TableError> {
        let _ = texts;
        Ok(Self {})
    }
}
