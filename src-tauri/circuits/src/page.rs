//! Many short texts written one after another and cut out at the end, so that they share one piece
//! of memory.

use std::fmt::{self, Write as _};
use std::ops::Range;
use std::sync::Arc;

use survey::{Message, Text};

/// Where a text stands on its page, in bytes.
pub(crate) type Piece = Range<usize>;

/// A text that is fixed, stands on a page, or gets its words later.
pub(crate) enum Ink {
    Fixed(&'static str),
    On(Piece),
    Said(Message),
}

impl From<Piece> for Ink {
    fn from(piece: Piece) -> Self {
        Self::On(piece)
    }
}

/// A page being written.
#[derive(Default)]
pub(crate) struct Page(String);

impl Page {
    /// Writes a text from its parts.
    pub(crate) fn write_all(&mut self, parts: &[&str]) -> Piece {
        let start = self.0.len();
        parts.iter().for_each(|part| self.0.push_str(part));
        start..self.0.len()
    }

    /// Writes a value as it is shown.
    pub(crate) fn write_shown(&mut self, value: &dyn fmt::Display) -> Piece {
        let start = self.0.len();
        // Writing to a string does not fail.
        let _ = write!(self.0, "{value}");
        start..self.0.len()
    }

    /// The page as it is written; the next text begins a new one.
    pub(crate) fn close(&mut self) -> Written {
        let written = Written(self.0.as_str().into());
        self.0.clear();
        written
    }
}

/// A page that is written.
pub(crate) struct Written(Arc<str>);

impl Written {
    /// A text as it stands on the page.
    pub(crate) fn cut(&self, piece: Piece) -> Text {
        Text::part(&self.0, piece)
    }

    /// A text that is fixed or stands on the page.
    pub(crate) fn text(&self, ink: Ink) -> Text {
        match ink {
            Ink::Fixed(words) => words.into(),
            Ink::On(piece) => self.cut(piece),
            Ink::Said(message) => message.to_string().into(),
        }
    }

    /// The same as a message.
    pub(crate) fn message(&self, ink: Ink) -> Message {
        match ink {
            Ink::Said(message) => message,
            other => self.text(other).into(),
        }
    }
}
