//! What a setting-out is worth: the sum the solver makes small, in millimetres of cable.

use survey::{Board, PlateId};

use super::problem::{Problem, State};
use super::{NotReady, Wishes};
use crate::tables::Tables;

/// What each thing counts, in millimetres of cable. Ours: no standard weighs them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// A millimetre of cable along the plate, from the entry to where its way lies.
    pub length: f64,
    /// A pair of cables that cross in the wiring space.
    pub crossing: f64,
    /// A row: entries with one distance from the rear edge.
    pub row: f64,
    /// A column: entries with one distance from the left edge.
    pub column: f64,
    /// A hole size in a row: each is marked and drilled by itself.
    pub size: f64,
    /// A millimetre of slot between joined holes.
    pub slot: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self { length: 1.0, crossing: 60.0, row: 40.0, column: 4.0, size: 12.0, slot: 2.0 }
    }
}

/// A setting-out weighed: the counts, and their sum by [`Weights`]. Smaller is better.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Score {
    /// Cable along the plate, mm.
    pub length: f64,
    /// Pairs of cables that cross.
    pub crossings: u32,
    /// Rows.
    pub rows: u32,
    /// Columns.
    pub columns: u32,
    /// Hole sizes, row by row.
    pub sizes: u32,
    /// Slots, mm.
    pub slots: f64,
    /// The sum, in millimetres of cable.
    pub total: f64,
}

impl Score {
    /// The sum by these weights.
    #[must_use]
    pub fn weighed(&self, weights: &Weights) -> f64 {
        weights.length * self.length
            + weights.crossing * f64::from(self.crossings)
            + weights.row * f64::from(self.rows)
            + weights.column * f64::from(self.columns)
            + weights.size * f64::from(self.sizes)
            + weights.slot * self.slots
    }
}

/// Weighs the plate as it is now; entries without a place do not count.
///
/// # Errors
/// [`NotReady`] where there is no such plate or its size is not known.
pub fn score(board: &Board, plate: PlateId, tables: &Tables, weights: &Weights) -> Result<Score, NotReady> {
    let wishes = Wishes { weights: *weights, keep_placed: true, ..Wishes::default() };
    let (problem, _) = Problem::build(board, plate, tables, &wishes, &[])?;
    let mut state = State::new(&problem);
    for (index, item) in problem.items.iter().enumerate() {
        if let Some(at) = item.fixed {
            state.put(index, at, 0);
        }
    }
    Ok(state.score(&problem))
}
