//! Whole-job tests live in `tests/tests`; this library holds their shared helpers.

// Tests time what they wait for; the bans are for code that must give the same answer everywhere.
#![allow(clippy::disallowed_methods)]

mod bench;
pub mod fits;
pub mod plain_english;
pub mod screen_job;
pub mod webdriver;

pub use bench::{Bench, call};
