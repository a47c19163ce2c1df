//! The screens.

pub mod board;
pub mod boards;
pub mod circuit;
pub mod findings;
pub mod notes;
pub mod papers;
pub mod photos;
pub mod plate;
pub mod settings;
pub mod supply;
