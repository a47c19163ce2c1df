//! Many short texts written one after another and cut out at the end, so that they share one piece
//! of memory.

use std::ops::Range;
use std::sync::Arc;

use survey::Text;

/// Where a text stands on its page, in bytes.
pub(crate) type Piece = Range<usize>;

/// A page being written.
#[derive(Default)]
pub(crate) struct Page(String);

impl Page {
    /// Writes a text after the last one.
    pub(crate) fn write(&mut self, words: &str) -> Piece {
        let start = self.0.len();
        self.0.push_str(words);
        start..self.0.len()
    }

    /// Writes a text from its parts.
    pub(crate) fn write_all(&mut self, parts: &[&str]) -> Piece {
        let start = self.0.len();
        parts.iter().for_each(|part| self.0.push_str(part));
        start..self.0.len()
    }

    /// Nothing more is written.
    pub(crate) fn close(self) -> Written {
        Written(self.0.into())
    }
}

/// A page that is written.
pub(crate) struct Written(Arc<str>);

impl Written {
    /// A text as it stands on the page.
    pub(crate) fn cut(&self, piece: Piece) -> Text {
        Text::part(&self.0, piece)
    }
}
