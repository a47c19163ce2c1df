//! Pieces that several screens use.

pub mod board_drawing;
pub mod checks;
pub mod conflict;
pub mod faults;
pub mod field;
pub mod measure;
pub mod plain;
pub mod plate_drawing;
pub mod set_out;
pub mod shell;
pub mod slots;
pub mod surveyed;
pub mod weigh;
