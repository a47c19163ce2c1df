//! The electrical checks of a board. Pure: tables and board in, check records out.
//!
//! An answer is an aid. A competent person and the local rules decide.

use survey::{Amps, Board, Check, CircuitId, Range};

pub mod tables;

pub use tables::{TableError, TableTexts, Tables};

/// Currents in the lines and the neutral of a board, each with its phase angle.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseCurrents {
    /// The lines: three, or one on a single-phase supply.
    pub lines: Vec<Range<Amps>>,
    /// The neutral.
    pub neutral: Range<Amps>,
}

/// Every check of a board, in a fixed order: those of the board, then circuit by circuit.
#[must_use]
pub fn check_board(board: &Board, tables: &Tables) -> Vec<Check> {
    let _ = (board, tables);
    Vec::new()
}

/// Design current of a circuit, Ib; `None` where its load is not known.
#[must_use]
pub fn design_current(board: &Board, circuit: CircuitId, tables: &Tables) -> Option<Range<Amps>> {
    let _ = (board, circuit, tables);
    None
}

/// Currents of the lines and the neutral.
#[must_use]
pub fn phase_currents(board: &Board, tables: &Tables) -> PhaseCurrents {
    let _ = (board, tables);
    PhaseCurrents { lines: Vec::new(), neutral: Range::point(Amps::ZERO) }
}
