//! The surveyed board: types, units, ranges, provenance, validation and ids.
//!
//! Pure: no clock, randomness, locale, database or network. The same code runs on the tablet, on
//! the hub and, compiled to wasm, in the interface.

pub mod arrangement;
pub mod board;
pub mod by;
pub mod check;
pub mod drawing;
pub mod errand;
pub mod file;
pub mod housing;
pub mod ids;
pub mod intent;
pub mod known;
pub mod pattern;
pub mod pole;
pub mod problem;
pub mod range;
pub mod terminal;
pub mod text;
pub mod units;
pub mod validate;

pub use board::*;
pub use by::By;
pub use check::{Check, Input, Inputs, InputsIter, NextReading, Subject, Verdict};
pub use ids::*;
pub use known::{Fact, Known, Provenance, Reading};
pub use pattern::Pattern;
pub use pole::{Phase, PoleAt};
pub use problem::{Problem, Severity};
pub use range::Range;
pub use text::Text;
pub use units::*;
