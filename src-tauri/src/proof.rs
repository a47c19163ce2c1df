//! Calls that weigh the proof of a board: what would change, which pole, which cable size.

use api::*;
use circuits::balance::{Loading, Move, Step, Wishes};
use circuits::fault_level::{self, Extent, Wanting};
use circuits::plan;
use serde_json::json;
use survey::intent::{self, DeviceMove, Intent, Stamp};
use survey::range::Span;
use survey::{Argument, Board, By, Check, CircuitId, Message, Outlet, Range, Subject, Verdict, say};

use crate::App;
use crate::analysis::Analysed;
use crate::clock;
use crate::error::{from_store, not_found};

/// Most edits weighed in one go.
const MOST_EDITS: usize = 200;

type Reply<C> = Result<<C as Call>::Reply, ApiError>;

impl App {
    pub(crate) fn read_board(&self, board: survey::BoardId) -> Result<Board, ApiError> {
        Ok(self.store().board(board).map_err(from_store)?.board)
    }

    pub(crate) fn what_if(&self, request: WhatIf) -> Reply<WhatIf> {
        if request.intents.is_empty() || request.intents.len() > MOST_EDITS {
            return Err(ApiError::refused(vec![survey::Problem::refused(
                "/intents",
                request.intents.len(),
                say!("problem-weigh"),
                say!("remedy-weigh", most = MOST_EDITS),
            )]));
        }
        let analysed = self.analysed_board(request.board)?;
        let before = &analysed.board;
        // Nothing of it is saved.
        let stamp = Stamp { by: By::default(), at: clock::now() };
        let mut after = before.clone();
        for intent in &request.intents {
            let changes = intent::lower(&after, intent, &stamp, &mut || self.new_id())
                .map_err(|problem| ApiError::refused(vec![problem]))?;
            after = intent::apply(&after, &changes).map_err(ApiError::refused)?;
        }
        let after = Analysed::of(after, String::new(), analysed.tables.clone(), self.plate_tables);
        let (old, new) = (&analysed.checks, &after.checks);
        let mut changes: Vec<CheckChange> = plan::changes(old, new)
            .into_iter()
            .map(|change| CheckChange {
                subject: plate::subject_name(&after.board, change.subject).to_string(),
                turns: change.turns(),
                before: change.before,
                after: change.after,
            })
            .collect();
        changes.sort_by_key(|change| (!change.turns, change.after.as_ref().map(|check| check.verdict)));
        Ok(WhatIfReply { changes, before: counts(old), after: counts(new) })
    }

    pub(crate) fn allocate(&self, request: Allocate) -> Reply<Allocate> {
        let analysed = self.analysed_board(request.board)?;
        let board = &analysed.board;
        let wishes = Wishes {
            fixed: request.fixed.into_iter().collect(),
            together: request.together,
            apart: request.apart,
            ..Wishes::default()
        };
        let found = circuits::balance::allocate(board, &analysed.tables, &wishes).map_err(refused)?;
        let name = |circuit| plate::subject_name(board, Subject::Circuit(circuit));
        let steps = found
            .steps
            .iter()
            .map(|step| match step {
                Step::Move(one) => {
                    let (from, to) = (one.from.to_string(), one.to.to_string());
                    say!("allocate-move", circuit = name(one.circuit), from = from, to = to)
                }
                Step::Exchange(ring) => {
                    let part = |one: &Move| {
                        let (from, to) = (one.from.to_string(), one.to.to_string());
                        say!("allocate-part", circuit = name(one.circuit), from = from, to = to)
                    };
                    say!("allocate-exchange", parts = ring.iter().map(part).collect::<Vec<_>>())
                }
            })
            .collect();
        let moves: Vec<DeviceMove> = found
            .moves()
            .filter_map(|one| Some(DeviceMove { device: board.circuits.get(&one.circuit)?.device?, to: one.to }))
            .collect();
        Ok(AllocationReply {
            before: loading(found.before),
            after: loading(found.after),
            bound: tenths(found.bound),
            proven: found.largest_proven && found.neutral_proven,
            rests_on: currents_counted(&analysed),
            steps,
            intent: (!moves.is_empty()).then(|| json!(Intent::MoveDevices { moves })),
            cautions: crate::cautions(Outlet::Weighed),
        })
    }

    pub(crate) fn fault_currents(&self, request: FaultCurrents) -> Reply<FaultCurrents> {
        let analysed = self.analysed_board(request.board)?;
        let board = &analysed.board;
        let found = fault_level::along(board, &analysed.tables);
        let mut rows = Vec::new();
        if found.origin != fault_level::Currents::default() {
            rows.push(fault_row(say!("fault-at-origin"), &found.origin, &[]));
        }
        rows.push(fault_row(say!("fault-at-board"), &found.board, &found.wanting));
        rows.extend(found.circuits.iter().map(|end| {
            let place = say!("fault-at-end", circuit = plate::subject_name(board, Subject::Circuit(end.circuit)));
            fault_row(place, &end.currents, &end.wanting)
        }));
        Ok(FaultTable { rows, from: found.from, notes: vec![say!("fault-note-range"), say!("fault-note-motors")] })
    }

    pub(crate) fn time_current(&self, request: TimeCurrent) -> Reply<TimeCurrent> {
        let analysed = self.analysed_board(request.board)?;
        let board = &analysed.board;
        if !board.live_circuits().any(|(id, _)| id == request.circuit) {
            return Err(not_found(&say!("cli-no-circuit-here", circuit = request.circuit.to_string())));
        }
        let chain = circuits::selectivity::chain(board, request.circuit, &analysed.tables);
        let circuit = plate::subject_name(board, Subject::Circuit(request.circuit));
        let title = say!("curve-title", board = board.reference.clone(), circuit = circuit);
        Ok(papers::time_current(&chain, &title))
    }

    pub(crate) fn size_cable(&self, request: SizeCable) -> Reply<SizeCable> {
        let analysed = self.analysed_board(request.board)?;
        let board = &analysed.board;
        let found = circuits::size_cable(board, request.circuit, &analysed.tables).map_err(refused)?;
        let sentences = |checks: &[Check]| checks.iter().map(|check| check.sentence.clone()).collect();
        let tried: Vec<SizeRow> = found
            .tried
            .iter()
            .map(|one| SizeRow {
                size: one.size.to_string(),
                cpc: one.cpc.map(|cpc| cpc.to_string()),
                verdict: one.verdict(),
                against: sentences(&one.against),
                open: sentences(&one.open),
                next: survey::errand::errands(board, one.open.iter().flat_map(|check| &check.next))
                    .into_iter()
                    .take(2)
                    .map(|errand| errand.what)
                    .collect(),
            })
            .collect();
        let chosen = found.tried.iter().find(|one| one.verdict() == Verdict::Holds);
        let intents = chosen
            .zip(cable_of(board, request.circuit))
            .map(|(one, cable)| {
                let set = |field: &str, value: survey::SquareMillimetres| {
                    json!(Intent::Set {
                        path: format!("/cables/{cable}/{field}"),
                        value: json!({ "known": "decided", "value": value }),
                    })
                };
                std::iter::once(set("size", one.size)).chain(one.cpc.map(|cpc| set("cpc_size", cpc))).collect()
            })
            .unwrap_or_default();
        Ok(SizingReply {
            chosen: chosen.map(|one| one.size.to_string()),
            only_if: found.only_if.map(|size| size.to_string()),
            tried,
            intents,
        })
    }
}

/// Which currents a balance rests on: those that are ranges count at their middle.
fn currents_counted(analysed: &Analysed) -> Message {
    let Analysed { board, design_currents: known, .. } = analysed;
    let all = board.live_circuits().count();
    let exact = board.live_circuits().filter(|(id, _)| known.get(id).is_some_and(|current| current.is_point())).count();
    match all - exact {
        0 => say!("allocate-rests-entered"),
        ranges => say!("allocate-rests-ranges", ranges = ranges, all = all),
    }
}

fn extent(found: Option<Extent>) -> Message {
    let Some(Extent { largest, smallest }) = found else { return Message::default() };
    // A calculated bound may lie a rounding beside the other.
    let lo = smallest.lo().min(largest.lo());
    let (low, high) = (amps(lo.get(), f64::floor), amps(largest.hi().get(), f64::ceil));
    if !largest.hi().get().is_finite() {
        say!("fault-from", low = low)
    } else if low == high {
        say!("input-value", value = low)
    } else {
        say!("fault-between", low = low, high = high)
    }
}

/// A fault current to three digits or so, rounded outward: a device has to open on no more than the least
/// shown and to break no less than the most.
fn amps(current: f64, outward: fn(f64) -> f64) -> Argument {
    let step = if current < 1000.0 {
        1.0
    } else if current < 10_000.0 {
        10.0
    } else {
        100.0
    };
    // What outward rounding of the calculation added is no reading.
    let steps = current / step;
    let near = steps.round();
    let steps = if (steps - near).abs() <= 1e-9 * near { near } else { outward(steps) };
    let rounded = steps * step;
    let (value, unit) = if rounded < 1000.0 { (rounded, "A") } else { (rounded / 1000.0, "kA") };
    // More digits than the step leaves: nothing is rounded again.
    Argument::Span { span: Span::point(value), unit, digits: 6 }
}

fn fault_row(place: Message, currents: &fault_level::Currents, wanting: &[Wanting]) -> FaultRow {
    FaultRow {
        place,
        three_phase: extent(currents.three_phase),
        line_line: extent(currents.line_line),
        line_neutral: extent(currents.line_neutral),
        line_earth: extent(currents.line_earth),
        next: wanting.iter().map(|wanting| wanting.what.clone()).collect(),
    }
}

fn cable_of(board: &Board, circuit: CircuitId) -> Option<survey::CableId> {
    board.circuits.get(&circuit)?.cable
}

fn counts(checks: &[Check]) -> [u32; 4] {
    Verdict::ALL.map(|verdict| {
        u32::try_from(checks.iter().filter(|check| check.verdict == verdict).count()).unwrap_or(u32::MAX)
    })
}

fn loading(found: Loading) -> LoadingView {
    LoadingView { largest: tenths(found.largest), neutral: tenths(found.neutral) }
}

fn tenths(current: survey::Amps) -> Message {
    crate::view::current(Range::point(current))
}

/// Errors of the engine read "/path: what would do".
pub(crate) fn refused(error: impl std::error::Error) -> ApiError {
    let text = error.to_string();
    let (path, words) = match text.split_once(": ") {
        Some((path, words)) if path.starts_with('/') => (path.to_owned(), words.to_owned()),
        _ => ("/".to_owned(), text.clone()),
    };
    wanting(path, words.into())
}

/// What cannot be worked out for want of something, and what would do.
pub(crate) fn wanting(path: impl Into<String>, words: Message) -> ApiError {
    ApiError::refused(vec![survey::Problem::refused(path, "", say!("problem-cannot-be-worked-out"), words)])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rounding a fault current inward would promise a trip, or a breaking capacity, that is not there.
    #[test]
    fn fault_currents_are_rounded_outward() {
        let said = |current, outward| say!("input-value", value = amps(current, outward)).to_string();
        for (current, down, up) in [
            (396.0, "396 A", "396 A"),
            (396.4, "396 A", "397 A"),
            (999.6, "999 A", "1 kA"),
            (1234.0, "1.23 kA", "1.24 kA"),
            (5996.0, "5.99 kA", "6 kA"),
            (6000.0 * (1.0 + 1e-12), "6 kA", "6 kA"),
            (10_040.0, "10 kA", "10.1 kA"),
            (123_460.0, "123.4 kA", "123.5 kA"),
        ] {
            assert_eq!(said(current, f64::floor), down.replace(' ', "\u{a0}"));
            assert_eq!(said(current, f64::ceil), up.replace(' ', "\u{a0}"));
        }
    }
}
