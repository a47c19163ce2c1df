//! What the programs that tests kill share.

use std::time::{SystemTime, SystemTimeError, UNIX_EPOCH};

use chrono::DateTime;
use store::Env;
use uuid::Uuid;

/// The moment at which the program began as its clock, and ids that count up from it: no two runs share any.
///
/// # Errors
/// The machine's clock stands before 1970.
#[allow(clippy::disallowed_methods, reason = "a program reads the clock")]
pub fn env() -> Result<Env, SystemTimeError> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH)?;
    let mut next = since.as_nanos() << 32;
    Ok(Env::new(
        move || DateTime::from_timestamp(i64::try_from(since.as_secs()).unwrap_or(0), 0).unwrap_or_default(),
        move || {
            next += 1;
            Uuid::from_u128(next)
        },
    ))
}
