//! The app: commands over the store and the engine, the command line, the shell.
//!
//! A command parses, calls and maps the error; it holds no rule and no query. The same
//! [`App::answer`] serves the window's IPC, the loopback host and the command line.

mod analysis;
mod app;
mod caller;
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
pub use caller::Caller;

/// The cautions owed at an outlet, in words.
pub(crate) fn cautions(outlet: survey::Outlet) -> Vec<String> {
    outlet.owed().iter().map(|caution| caution.message().to_string()).collect()
}
