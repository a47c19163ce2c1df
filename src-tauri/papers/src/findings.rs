//! The findings: every check of a board with its numbers, its clause and the readings to take next.

use std::collections::BTreeMap;

use serde::Serialize;
use survey::shown::capital;
use survey::{Board, Check, Subject, Verdict, errand, say};

use crate::head::{Head, Words, words};
use crate::text::cell;
use crate::{Kind, PaperInput};

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
    head: Head,
    words: Words,
    tally: String,
    readings: Vec<String>,
    groups: Vec<Group>,
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
        sentence: cell(&check.sentence),
        inequality: cell(&check.inequality),
        clause: cell(&check.clause),
        tables: tables(check),
        next: errand::errands(board, &check.next)
            .into_iter()
            .take(3)
            .map(|errand| match check.subject {
                Subject::Circuit(_) => cell(&errand.what),
                _ if errand.of.is_empty() => cell(&errand.what),
                _ => cell(&say!("findings-next-of", of = errand.of, what = errand.what)),
            })
            .collect(),
    }
}

/// Which rows of which tables it looked up; empty where it looked up none.
fn tables(check: &Check) -> String {
    if check.tables.is_empty() {
        return String::new();
    }
    cell(&say!("findings-tables", tables = check.tables.clone()))
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
        head: Head::of(input, Kind::Findings),
        words: words([
            ("readings", say!("findings-readings")),
            ("first", say!("findings-readings-first")),
            ("verdict", say!("findings-verdict")),
            ("finding", say!("findings-finding")),
            ("numbers", say!("findings-numbers")),
            ("next", say!("findings-next")),
        ]),
        tally: say!(
            "findings-tally",
            fail = count(Verdict::Fails),
            advised = count(Verdict::Advised),
            undecided = count(Verdict::Undecided),
            hold = count(Verdict::Holds)
        )
        .to_string(),
        readings: circuits::plan::readings(board, input.checks, READINGS)
            .into_iter()
            .map(|errand| {
                let of = if errand.of.is_empty() { say!("subject-board") } else { errand.of };
                cell(&capital(&say!("findings-reading", of = of, what = errand.what).to_string()))
            })
            .collect(),
        groups,
    }
}
