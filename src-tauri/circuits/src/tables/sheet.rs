//! Reading one CSV: every complaint names file, row, column and value.

use survey::{Message, say};

use super::TableError;
use super::trace::{Mark, Trust};

/// One table as text, its rows split and its columns found.
pub(super) struct Sheet {
    file: &'static str,
    columns: Vec<String>,
    rows: Vec<Row>,
}

/// A reader of a table: lines that start with `#` are comments; the first other line names the columns.
fn reader(text: &str) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes())
}

/// How many rows a table has.
pub(super) fn count(text: &str) -> usize {
    reader(text).records().count()
}

/// One row of a table.
pub(super) struct Row {
    file: &'static str,
    line: u64,
    columns: std::rc::Rc<[String]>,
    fields: Vec<String>,
}

impl Sheet {
    /// Splits the text.
    pub(super) fn read(file: &'static str, text: &str, wanted: &[&str]) -> Result<Self, TableError> {
        let fault =
            |row: u64, column: &str, value: &str, remedy: Message| TableError::new(file, row, column, value, remedy);
        let mut reader = reader(text);
        let header = reader.headers().map_err(|error| fault(1, "", "", say!("table-csv", why = error.to_string())))?;
        let columns: std::rc::Rc<[String]> = header.iter().map(str::to_owned).collect();
        for name in wanted {
            if !columns.iter().any(|column| column == name) {
                return Err(fault(1, name, "", say!("table-no-column", columns = wanted.join(", "))));
            }
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| fault(0, "", "", say!("table-csv", why = error.to_string())))?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.len() != columns.len() {
                let remedy = say!("table-values", found = record.len(), wanted = columns.len());
                return Err(fault(line, "", record.get(0).unwrap_or_default(), remedy));
            }
            let fields = record.iter().map(str::to_owned).collect();
            rows.push(Row { file, line, columns: columns.clone(), fields });
        }
        if rows.is_empty() {
            return Err(fault(0, "", "", say!("table-no-rows")));
        }
        Ok(Self { file, columns: columns.to_vec(), rows })
    }

    pub(super) fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// A complaint about the table as a whole.
    pub(super) fn fault(&self, column: &str, value: &str, remedy: impl Into<Message>) -> TableError {
        debug_assert!(column.is_empty() || self.columns.iter().any(|name| name == column));
        TableError::new(self.file, 0, column, value, remedy)
    }
}

impl Row {
    /// Where it stands, and how far it may be trusted; what a column `checked` does not say is from memory.
    pub(super) fn mark(&self) -> Mark {
        let said = self.text("checked");
        let trust = Trust::WORDS.iter().find(|(word, _)| *word == said).map_or(Trust::Memory, |(_, trust)| *trust);
        Mark::new(self.file, trust, self.line)
    }

    /// The text in a column; empty where the table has no such column.
    pub(super) fn text(&self, column: &str) -> &str {
        self.columns
            .iter()
            .position(|name| name == column)
            .and_then(|index| self.fields.get(index))
            .map_or("", String::as_str)
    }

    pub(super) fn fault(&self, column: &str, remedy: impl Into<Message>) -> TableError {
        TableError::new(self.file, self.line, column, self.text(column), remedy)
    }

    /// A finite number.
    pub(super) fn number(&self, column: &str) -> Result<f64, TableError> {
        match self.text(column).parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err(self.fault(column, say!("table-give-a-plain-number-with-a"))),
        }
    }

    /// A number above zero.
    pub(super) fn positive(&self, column: &str) -> Result<f64, TableError> {
        match self.number(column)? {
            number if number > 0.0 => Ok(number),
            _ => Err(self.fault(column, say!("table-give-a-number-above-zero"))),
        }
    }

    /// A number above zero, or none where the field is empty.
    pub(super) fn positive_or_none(&self, column: &str) -> Result<Option<f64>, TableError> {
        if self.text(column).is_empty() { Ok(None) } else { self.positive(column).map(Some) }
    }

    /// One of a few words.
    pub(super) fn pick<T: Copy>(&self, column: &str, choices: &[(&str, T)]) -> Result<T, TableError> {
        let text = self.text(column);
        choices.iter().find(|(word, _)| *word == text).map(|(_, value)| *value).ok_or_else(|| {
            let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
            self.fault(column, say!("table-one-of", words = words.join(", ")))
        })
    }
}
