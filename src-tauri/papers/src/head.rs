//! What the pages of all papers share: their head, their foot, the words of their templates.

use std::collections::BTreeMap;

use serde::Serialize;
use survey::words::spoken;
use survey::{Message, say};

use crate::text::line;
use crate::{Kind, PaperInput, first_caution};

/// Places of the numbers in the words at the foot, which only the typesetter knows.
const PAGE: [&str; 2] = ["{page}", "{pages}"];

/// What stands at the head and at the foot of every page.
#[derive(Serialize)]
pub(crate) struct Head {
    /// In the properties of the document.
    title: String,
    /// The language of its words, as typesetters name it.
    language: &'static str,
    /// What the paper is.
    paper: String,
    /// What the board lacks; empty where it lacks nothing.
    lack: String,
    site: String,
    board: String,
    place: String,
    date: String,
    /// "page 1 of 3" with [`PAGE`] in it.
    page: String,
    caution: String,
}

impl Head {
    pub(crate) fn of(input: &PaperInput, kind: Kind) -> Self {
        Self {
            title: input.title(kind),
            language: language(),
            paper: kind.what().to_string(),
            lack: input.lack(),
            site: line(input.site),
            board: line(&input.board.reference),
            place: line(&input.board.place),
            date: line(input.date),
            page: say!("paper-page", page = PAGE[0], pages = PAGE[1]).to_string(),
            caution: first_caution(kind.outlet()),
        }
    }

    /// The same under a title of its own and with other words at its foot.
    pub(crate) fn with(self, title: &Message, caution: String) -> Self {
        Self { title: title.to_string(), caution, ..self }
    }
}

/// The language of the words, as typesetters name it.
pub(crate) fn language() -> &'static str {
    spoken().name().split('-').next().unwrap_or_default()
}

/// The words of a template, each by the name that it has there.
pub(crate) type Words = BTreeMap<&'static str, String>;

pub(crate) fn words<const N: usize>(all: [(&'static str, Message); N]) -> Words {
    all.into_iter().map(|(name, message)| (name, message.to_string())).collect()
}
