//! The order list as a page.

use serde::Serialize;
use survey::say;

use crate::head::{Head, Words, words};
use crate::order::{HEADINGS, fitted_words, order_lines};
use crate::text::{cell, number};
use crate::{Kind, PaperInput};

#[derive(Serialize)]
struct Row {
    needed: String,
    fitted: String,
    group: String,
    item: String,
    quantity: String,
    unit: String,
    purpose: String,
    note: String,
}

/// What the order list's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    head: Head,
    words: Words,
    headings: [String; 8],
    rows: Vec<Row>,
}

pub(crate) fn view(input: &PaperInput) -> View {
    View {
        head: Head::of(input, Kind::OrderList),
        words: words([("nothing", say!("order-nothing"))]),
        headings: HEADINGS.map(|heading| cell(&heading)),
        rows: order_lines(input.board, input.plate_tables)
            .into_iter()
            .map(|row| Row {
                group: cell(&row.group.words()),
                item: cell(&row.item),
                quantity: number(row.quantity),
                unit: cell(&row.unit.words()),
                needed: number(row.needed),
                fitted: fitted_words(row.fitted),
                purpose: cell(&row.purpose),
                note: cell(&row.note),
            })
            .collect(),
    }
}
