//! The schedule of a board: every field of the survey in which something stands, as tables for a spreadsheet.
//!
//! Columns, labels and units come from the catalogue of fields: a new field stands here without a line of its own.

use rust_xlsxwriter::{DocProperties, Format as Style, FormatBorder, Workbook, Worksheet, XlsxError};
use survey::table::{self, Cell, Column, Table};
use survey::{Outlet, say};

use crate::order::{day, harmless, not_written, quoted, sheet_name};
use crate::text::line;
use crate::{Kind, PaperError, PaperInput, first_caution};
use survey::shown::capital;

fn heading(column: &Column) -> String {
    let label = capital(&column.label.to_string());
    if column.unit.is_empty() { label } else { format!("{label} [{}]", column.unit) }
}

/// The circuits: a row each, the names of the columns first and the caution last.
pub(crate) fn csv(input: &PaperInput) -> Vec<u8> {
    let table = table::circuits(input.board);
    let headings: Vec<String> = table.columns.iter().map(|column| quoted(&heading(column))).collect();
    // Spreadsheets take a file without the mark for a national code page and spoil "mm²".
    let mut file = format!("\u{feff}{}\n", headings.join(","));
    for row in &table.rows {
        let cells: Vec<String> = row
            .iter()
            .map(|cell| match cell {
                Cell::Empty => String::new(),
                Cell::Number(number) => number.to_string(),
                Cell::Text(text) => quoted(&harmless(&line(text))),
            })
            .collect();
        file.push_str(&cells.join(","));
        file.push('\n');
    }
    let caution = [input.lack(), first_caution(Outlet::Schedule)];
    let caution = quoted(&harmless(caution.join(" ").trim_start()));
    let rest = ",".repeat(table.columns.len().saturating_sub(1));
    file.push_str(&format!("{caution}{rest}\n"));
    file.into_bytes()
}

pub(crate) fn xlsx(input: &PaperInput) -> Result<Vec<u8>, PaperError> {
    workbook(input).map_err(|error| not_written(&error))
}

fn workbook(input: &PaperInput) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let title = input.title(Kind::Schedule);
    book.set_properties(&DocProperties::new().set_title(&title).set_creation_datetime(&day(input.date)?));
    let about: Vec<String> = [input.site_line(), line(&input.board.place), line(input.date)]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect();
    let top = [title, about.join(" · "), first_caution(Outlet::Schedule)];
    let circuits = table::circuits(input.board);
    let entries = table::entries(input.board);
    for (name, table) in [(say!("schedule-circuits"), &circuits), (say!("schedule-entries"), &entries)] {
        let sheet = book.add_worksheet();
        sheet.set_name(sheet_name(&name))?;
        rows(sheet, &top, table)?;
    }
    let sheet = book.add_worksheet();
    sheet.set_name(sheet_name(&say!("schedule-board")))?;
    let head = head(sheet, &top)?;
    for (at, name) in (0..).zip([say!("schedule-field"), say!("schedule-value"), say!("schedule-known")]) {
        sheet.write_string_with_format(4, at, capital(&name.to_string()), &head)?;
        sheet.set_column_width(at, if at == 0 { 52.0 } else { 28.0 })?;
    }
    for (at, (column, value, known)) in (5..).zip(table::board(input.board)) {
        sheet.write_string(at, 0, heading(&column))?;
        write(sheet, at, 1, &value)?;
        write(sheet, at, 2, &known)?;
    }
    sheet.set_freeze_panes(5, 1)?;
    book.save_to_buffer()
}

/// Title, place and caution above a table; the style of its head.
fn head(sheet: &mut Worksheet, top: &[String; 3]) -> Result<Style, XlsxError> {
    sheet.write_string_with_format(0, 0, &top[0], &Style::new().set_bold())?;
    sheet.write_string(1, 0, &top[1])?;
    sheet.write_string(2, 0, &top[2])?;
    sheet.set_landscape();
    sheet.set_paper_size(9);
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_repeat_rows(4, 4)?;
    Ok(Style::new().set_bold().set_text_wrap().set_border_bottom(FormatBorder::Medium))
}

fn rows(sheet: &mut Worksheet, top: &[String; 3], table: &Table) -> Result<(), XlsxError> {
    let head = head(sheet, top)?;
    for (at, column) in (0_u16..).zip(&table.columns) {
        sheet.write_string_with_format(4, at, heading(column), &head)?;
        sheet.set_column_width(at, 18.0)?;
    }
    for (at, row) in (5..).zip(&table.rows) {
        for (column, cell) in (0_u16..).zip(row) {
            write(sheet, at, column, cell)?;
        }
    }
    sheet.set_freeze_panes(5, 1)?;
    Ok(())
}

fn write(sheet: &mut Worksheet, row: u32, column: u16, cell: &Cell) -> Result<(), XlsxError> {
    match cell {
        Cell::Empty => {}
        Cell::Number(number) => drop(sheet.write_number(row, column, *number)?),
        // A string cell is never taken for a formula.
        Cell::Text(text) => drop(sheet.write_string(row, column, line(text))?),
    }
    Ok(())
}
