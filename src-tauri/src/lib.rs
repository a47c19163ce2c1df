//! The app: commands over the store and the engine, the command line, the shell.
//!
//! A command parses, calls and maps the error; it holds no rule and no query. The same
//! [`App::answer`] serves the window's IPC, the loopback host and the command line.

mod analysis;
mod app;
mod calls;
pub mod cli;
mod clock;
mod demo;
mod drilling;
mod ending;
mod error;
mod files;
mod host;
mod own_tables;
mod proof;
mod side_files;
pub mod ui_files;
mod view;
#[cfg(feature = "window")]
pub mod window;

pub use app::{App, Place};

/// Shown wherever a verdict is.
pub const CAUTIONS: [&str; 3] = [
    "Results are an aid: local rules and a competent person decide.",
    "Before work on a board: isolate, lock off, prove dead at the point of work.",
    "A value marked assumed or unknown is not a reading: measure before you rely on it.",
];
