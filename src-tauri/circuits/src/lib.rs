//! The electrical checks of a board. Pure: tables and board in, check records out.
//!
//! Everything runs on ranges. A check holds or fails whatever the unknowns turn out to be, or it
//! is undecided and names the readings that would settle it, most useful first. An answer is an
//! aid: a competent person and the local rules decide.
//!
//! Units are part of the types. Like goes with like:
//!
//! ```
//! let current = survey::Amps::new(1.0) + survey::Amps::new(2.0);
//! let share: f64 = survey::Ohms::new(0.5) / survey::Ohms::new(2.0);
//! let row = survey::Range::point(survey::SquareMillimetres::new(2.5));
//! # assert_eq!((current.get(), share, row.lo().get()), (3.0, 0.25, 2.5));
//! ```
//!
//! A current plus a voltage does not compile,
//!
//! ```compile_fail,E0308
//! let wrong = survey::Amps::new(1.0) + survey::Volts::new(2.0);
//! ```
//!
//! nor does a current compared with a resistance,
//!
//! ```compile_fail,E0308
//! let wrong = survey::Amps::new(1.0) < survey::Ohms::new(2.0);
//! ```
//!
//! millimetres taken for metres,
//!
//! ```compile_fail,E0308
//! let length: survey::Metres = survey::Millimetres::new(2500.0);
//! ```
//!
//! a cross-section less a diameter,
//!
//! ```compile_fail,E0308
//! let wrong = survey::SquareMillimetres::new(2.5) - survey::Millimetres::new(1.8);
//! ```
//!
//! or a range of one unit where another is wanted.
//!
//! ```compile_fail,E0308
//! let ze: survey::Range<survey::Ohms> = survey::Range::point(survey::Amps::new(0.2));
//! ```

use std::collections::BTreeMap;

use survey::range::Span;
use survey::{Amps, Board, Check, CircuitId, Range, Subject, Verdict};

mod armour;
mod as_found;
mod as_laid;
pub mod balance;
mod before;
mod board_checks;
mod cable;
mod case;
mod conductors;
mod demand;
mod device;
mod direct;
mod earthing;
mod energy;
pub mod fault_level;
mod fault_loop;
mod field;
mod finding;
mod harmonic;
mod motor;
mod pen;
pub mod plan;
mod rcd;
mod residual;
mod rules;
pub mod selectivity;
mod settings;
mod short_circuit;
mod sizing;
mod source;
mod spd;
mod supply;
mod supply_form;
pub mod tables;
mod temperature;
mod verdict;
mod volt_drop;

pub use balance::{LineCurrent, PhaseCurrents};
pub use sizing::{Candidate, Sizing, SizingError, size_cable};
pub use tables::{TableError, TableTexts, Tables};

pub(crate) use survey::shown;

use balance::Share;
use case::Case;
use source::{Common, Source};

/// A board as its checks see it.
struct Gathered<'a> {
    common: Common<'a>,
    /// Its circuits in the order of their poles, each with what it draws.
    circuits: Vec<(Source<'a>, Option<Share>)>,
    /// Their cases in the same order.
    cases: Vec<Case<'a>>,
}

fn gather<'a>(board: &'a Board, tables: &'a Tables) -> Gathered<'a> {
    let mut common = Common::of(board, tables);
    let sources = common.circuits();
    let mut cases = common.cases(&sources);
    let circuits: Vec<(Source, Option<Share>)> =
        sources.into_iter().zip(&cases).map(|(source, case)| (source, Share::of(case))).collect();
    let shares: Vec<Share> = circuits.iter().filter_map(|(_, share)| *share).collect();
    common.drop_before = board_checks::drop_before(&common, &shares);
    common.thermal = temperature::thermal(&common, &circuits);
    common.inside = common.thermal.as_ref().and_then(|thermal| thermal.inside()).map(Span::of);
    common.diversity = temperature::carried_together(&common, &circuits);
    cases.iter_mut().for_each(|case| common.put_worked_out(case));
    Gathered { common, circuits, cases }
}

/// What is worked out from one version of a board, each thing once: the checks, the verdicts and the currents
/// share what they begin with.
pub struct Analysis<'a> {
    gathered: Gathered<'a>,
}

impl<'a> Analysis<'a> {
    /// Takes a board in. Nothing is judged yet.
    #[must_use]
    pub fn of(board: &'a Board, tables: &'a Tables) -> Self {
        Self { gathered: gather(board, tables) }
    }

    /// Every check of the board, in a fixed order: those of the board, then circuit by circuit in the
    /// order of the poles, those without a place last.
    #[must_use]
    pub fn checks(&self) -> Vec<Check> {
        let Gathered { common, circuits, cases } = &self.gathered;
        // A list that grows beyond its room is copied.
        let mut checks = Vec::with_capacity(128 + 12 * circuits.len());
        board_checks::check(common, circuits, &mut checks);
        whole(common, circuits, &mut checks);
        let mut writer = rules::Writer::default();
        for ((source, _), case) in circuits.iter().zip(cases) {
            writer.check(common, source, case, &mut checks);
        }
        checks
    }

    /// The same, each check with the rows of the tables it looked up in [`Check::tables`]: for a person to read, of
    /// one board.
    #[must_use]
    pub fn checks_told(&self) -> Vec<Check> {
        let mut checks = tables::trace::told(|| self.checks());
        for check in &mut checks {
            check.tables = self.gathered.common.tables.say_whose(std::mem::take(&mut check.tables));
        }
        checks
    }

    /// The verdicts of every check, in the order of [`Self::checks`] and by the same judgement: for overviews of
    /// many boards, which show no sentences.
    #[must_use]
    pub fn verdicts(&self) -> Vec<Finding> {
        let Gathered { common, circuits, cases } = &self.gathered;
        let mut found = Vec::with_capacity(64 + 12 * circuits.len());
        found.extend(board_checks::judge(common, circuits).map(|(rule, outcome)| Finding {
            rule,
            subject: Subject::Board,
            verdict: outcome.map_or(Verdict::Undecided, verdict::Outcome::verdict),
            margin: outcome.and_then(verdict::Outcome::margin),
        }));
        let mut checks = Vec::with_capacity(64 + circuits.len());
        whole(common, circuits, &mut checks);
        found.extend(checks.iter().map(|check| Finding {
            rule: finding::key(&check.rule),
            subject: check.subject,
            verdict: check.verdict,
            margin: check.margin,
        }));
        for ((source, _), case) in circuits.iter().zip(cases) {
            found.extend(rules::judge(case).map(|judged| Finding {
                rule: judged.name(),
                subject: Subject::Circuit(source.id),
                verdict: judged.verdict(),
                margin: judged.margin(),
            }));
        }
        found
    }

    /// Design currents, Ib, of every circuit whose load is known.
    #[must_use]
    pub fn design_currents(&self) -> BTreeMap<CircuitId, Range<Amps>> {
        let Gathered { circuits, cases, .. } = &self.gathered;
        let drawn = circuits.iter().zip(cases).map(|((source, _), case)| (source.id, demand::draw(case)));
        drawn.filter_map(|(id, draw)| Some((id, draw.ok()?.current))).collect()
    }

    /// Currents of the lines and the neutral, as phasors, with the unbalance of the lines.
    #[must_use]
    pub fn phase_currents(&self) -> PhaseCurrents {
        balance::currents(&self.gathered.common, &self.gathered.circuits)
    }
}

/// As [`Analysis::checks`].
#[must_use]
pub fn check_board(board: &Board, tables: &Tables) -> Vec<Check> {
    Analysis::of(board, tables).checks()
}

/// As [`Analysis::verdicts`].
#[must_use]
pub fn verdicts(board: &Board, tables: &Tables) -> Vec<Finding> {
    Analysis::of(board, tables).verdicts()
}

/// Checks of the board as a whole that come after those of what carries its current.
fn whole(common: &Common, circuits: &[(Source, Option<Share>)], out: &mut Vec<Check>) {
    // What was looked up before belongs to no check of these.
    tables::trace::clear();
    fault_level::check(common, out);
    supply::check(common, circuits, out);
    temperature::check(common, circuits, out);
    earthing::check(common, out);
    pen::check(common, circuits, out);
    direct::check(common, circuits, out);
    rcd::check(common, circuits, out);
    selectivity::check(common, circuits, out);
    spd::check(common, out);
    as_found::check(common, circuits, out);
    conductors::check(common, circuits, out);
    as_laid::check(common, circuits, out);
    supply_form::check(common, out);
}

/// What a check finds, without its words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// Which rule: "cable-current".
    pub rule: &'static str,
    /// What it speaks of.
    pub subject: Subject,
    /// The answer.
    pub verdict: Verdict,
    /// As in [`Check::margin`].
    pub margin: Option<[f64; 2]>,
}

/// Design current of a circuit, Ib; `None` where its load is not known or it is not there.
#[must_use]
pub fn design_current(board: &Board, circuit: CircuitId, tables: &Tables) -> Option<Range<Amps>> {
    let common = Common::of(board, tables);
    let source = common.circuits().into_iter().find(|source| source.id == circuit)?;
    demand::draw(&common.case(&source)).ok().map(|draw| draw.current)
}

/// As [`Analysis::design_currents`].
#[must_use]
pub fn design_currents(board: &Board, tables: &Tables) -> BTreeMap<CircuitId, Range<Amps>> {
    Analysis::of(board, tables).design_currents()
}

/// As [`Analysis::phase_currents`].
#[must_use]
pub fn phase_currents(board: &Board, tables: &Tables) -> PhaseCurrents {
    Analysis::of(board, tables).phase_currents()
}
