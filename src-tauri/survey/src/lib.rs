//! The surveyed board: types, units, ranges, provenance, validation and ids.
//!
//! Pure: no clock, randomness, locale, database or network. The same code runs on the tablet, on
//! the hub and, compiled to wasm, in the interface.

pub mod arrangement;
pub mod board;
pub mod by;
pub mod caution;
pub mod check;
pub mod drawing;
pub mod errand;
pub mod field;
pub mod file;
pub mod housing;
pub mod ids;
pub mod intent;
pub mod known;
pub mod message;
pub mod pattern;
pub mod pole;
pub mod problem;
pub mod range;
pub mod shown;
pub mod sketch;
pub mod table;
pub mod terminal;
pub mod text;
pub mod units;
pub mod validate;
pub mod words;

pub use board::*;
pub use by::By;
pub use caution::{Caution, Outlet};
pub use check::{Check, Input, Inputs, InputsIter, NextReading, Subject, Verdict};
pub use field::Field;
pub use ids::*;
pub use known::{Fact, Known, Provenance, Reading};
pub use message::{Argument, Message};
pub use pattern::Pattern;
pub use pole::{Phase, PoleAt};
pub use problem::{Problem, Severity};
pub use range::Range;
pub use text::Text;
pub use units::*;
