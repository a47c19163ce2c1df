//! The findings: every check of a board with its numbers, its clause and the readings to take next.

use std::collections::BTreeMap;

use serde::Serialize;
use survey::shown::capital;
use survey::{Board, Check, Outlet, Subject, Verdict, errand};

use crate::text::{cell, line};
use crate::{PaperInput, first_caution};

/// Readings listed first.
const READINGS: usize = 5;

#[derive(Serialize)]
struct Row {
    mark: &'static str,
    verdict: String,
    sentence: String,
    inequality: String,
    clause: String,
    /// Rows of the tables it looked up, and how far to trust them.
    tables: String,
    next: Vec<String>,
}

#[derive(Serialize)]
struct Group {
    name: String,
    rows: Vec<Row>,
}

/// What the findings' template prints.
#[derive(Serialize)]
pub(crate) struct View {
    title: String,
    site: String,
    lack: String,
    board: String,
    place: String,
    date: String,
    tally: String,
    readings: Vec<String>,
    groups: Vec<Group>,
    caution: String,
}

const fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fails => "!",
        Verdict::Advised => "~",
        Verdict::Undecided => "?",
        Verdict::Holds => "✓",
    }
}

fn name(board: &Board, subject: Subject) -> String {
    cell(&capital(&plate::subject_name(board, subject).words()))
}

fn row(board: &Board, check: &Check) -> Row {
    Row {
        mark: mark(check.verdict),
        verdict: check.verdict.words().to_string(),
        sentence: cell(&check.sentence.words()),
        inequality: cell(&check.inequality.words()),
        clause: cell(&check.clause.words()),
        tables: cell(&check.tables.words()),
        next: errand::errands(board, &check.next)
            .into_iter()
            .take(3)
            .map(|errand| match (check.subject, &*errand.of.words()) {
                (Subject::Circuit(_), _) | (_, "") => cell(&errand.what.words()),
                (_, of) => cell(&format!("{of}: {}", errand.what)),
            })
            .collect(),
    }
}

pub(crate) fn view(input: &PaperInput) -> View {
    let board = input.board;
    let mut order: Vec<Subject> = Vec::new();
    let mut by_subject: BTreeMap<Subject, Vec<&Check>> = BTreeMap::new();
    for check in input.checks {
        let list = by_subject.entry(check.subject).or_default();
        if list.is_empty() {
            order.push(check.subject);
        }
        list.push(check);
    }
    let groups = order
        .into_iter()
        .map(|subject| {
            let mut checks = by_subject.remove(&subject).unwrap_or_default();
            checks.sort_by_key(|check| check.verdict);
            Group { name: name(board, subject), rows: checks.into_iter().map(|check| row(board, check)).collect() }
        })
        .collect();
    let count = |verdict| input.checks.iter().filter(|check| check.verdict == verdict).count();
    View {
        title: format!("Findings {}", line(&board.reference)),
        site: cell(input.site),
        lack: input.lack(),
        board: cell(&board.reference),
        place: cell(&board.place),
        date: line(input.date),
        tally: format!(
            "{} fail, {} go beyond advice, {} undecided, {} hold.",
            count(Verdict::Fails),
            count(Verdict::Advised),
            count(Verdict::Undecided),
            count(Verdict::Holds)
        ),
        readings: circuits::plan::readings(board, input.checks, READINGS)
            .into_iter()
            .map(|errand| {
                let of = if errand.of.is_empty() { "the board".into() } else { errand.of.words() };
                cell(&capital(&format!("{of}: {}.", errand.what)))
            })
            .collect(),
        groups,
        caution: first_caution(Outlet::FindingsPaper),
    }
}
