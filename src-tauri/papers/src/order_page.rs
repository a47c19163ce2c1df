//! The order list as a page.

use serde::Serialize;
use survey::Outlet;

use crate::order::{fitted_words, order_lines};
use crate::text::{cell, line, number};
use crate::{PaperInput, first_caution};

#[derive(Serialize)]
struct Row {
    needed: String,
    fitted: String,
    group: &'static str,
    item: String,
    quantity: String,
    unit: &'static str,
    purpose: String,
    note: String,
}

/// What the order list's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    title: String,
    site: String,
    lack: String,
    board: String,
    place: String,
    date: String,
    caution: String,
    rows: Vec<Row>,
}

pub(crate) fn view(input: &PaperInput) -> View {
    View {
        title: format!("Order list {}", line(&input.board.reference)),
        site: line(input.site),
        lack: input.lack(),
        board: line(&input.board.reference),
        place: line(&input.board.place),
        date: line(input.date),
        caution: first_caution(Outlet::OrderList),
        rows: order_lines(input.board, input.plate_tables)
            .into_iter()
            .map(|row| Row {
                group: row.group.words(),
                item: cell(&row.item),
                quantity: number(row.quantity),
                unit: row.unit.words(),
                needed: number(row.needed),
                fitted: fitted_words(row.fitted),
                purpose: cell(&row.purpose),
                note: cell(&row.note),
            })
            .collect(),
    }
}
