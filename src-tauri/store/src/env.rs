//! Time and randomness, handed in.

use std::fmt;

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// The clock and the source of ids that a store uses.
pub struct Env {
    now: Box<dyn FnMut() -> DateTime<Utc> + Send>,
    new_id: Box<dyn FnMut() -> Uuid + Send>,
}

impl Env {
    /// A clock, and a source of ids that never gives one twice, on any machine.
    pub fn new(
        now: impl FnMut() -> DateTime<Utc> + Send + 'static,
        new_id: impl FnMut() -> Uuid + Send + 'static,
    ) -> Self {
        Self { now: Box::new(now), new_id: Box::new(new_id) }
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
