//! Time and randomness, handed in.

use std::fmt;

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// The clock and the source of ids that a store uses.
pub struct Env {
    now: Box<dyn FnMut() -> DateTime<Utc> + Send>,
    new_id: Box<dyn FnMut() -> Uuid + Send>,
    pub(crate) shown: Shown,
}

/// How a time is shown to a person.
pub(crate) type Shown = fn(DateTime<Utc>) -> String;

fn in_utc(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M UTC").to_string()
}

impl Env {
    /// A clock, and a source of ids that never gives one twice, on any machine.
    pub fn new(
        now: impl FnMut() -> DateTime<Utc> + Send + 'static,
        new_id: impl FnMut() -> Uuid + Send + 'static,
    ) -> Self {
        Self { now: Box::new(now), new_id: Box::new(new_id), shown: in_utc }
    }

    /// Shows times to a person in another way than in UTC to the minute.
    #[must_use]
    pub fn showing(self, shown: fn(DateTime<Utc>) -> String) -> Self {
        Self { shown, ..self }
    }

    /// A time in RFC 3339 as a person reads it.
    pub(crate) fn show(&self, at: &str) -> String {
        at.parse::<DateTime<Utc>>().map_or_else(|_| at.to_owned(), self.shown)
    }

    pub(crate) fn now(&mut self) -> DateTime<Utc> {
        (self.now)()
    }

    pub(crate) fn id(&mut self) -> Uuid {
        (self.new_id)()
    }
}

impl fmt::Debug for Env {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Env")
    }
}
