//! The device's clock, read here and passed in everywhere else.

use std::time::{SystemTime, UNIX_EPOCH};

use chrono::{DateTime, Local, Utc};
use uuid::{NoContext, Timestamp, Uuid};

/// Now. A clock before 1970 is wrong, but no reason to lose what is being recorded.
#[allow(clippy::disallowed_methods, reason = "the app is where the clock is read, to be passed in")]
pub(crate) fn now() -> DateTime<Utc> {
    moment(SystemTime::now())
}

/// A fresh id.
#[allow(clippy::disallowed_methods, reason = "the app is where the clock is read, to be passed in")]
pub(crate) fn new_id() -> Uuid {
    id_at(SystemTime::now())
}

/// What nobody guesses: 64 hexadecimal digits of the system's randomness.
#[allow(clippy::disallowed_methods, reason = "the app is where randomness is read, to be passed in")]
pub(crate) fn secret() -> String {
    format!("{}{}", Uuid::new_v4().simple(), Uuid::new_v4().simple())
}

/// The day where the device is, as papers bear it.
pub(crate) fn day(at: DateTime<Utc>) -> String {
    at.with_timezone(&Local).format("%Y-%m-%d").to_string()
}

/// A moment to the minute, where the device is.
pub(crate) fn minute(at: DateTime<Utc>) -> String {
    at.with_timezone(&Local).format("%Y-%m-%d %H:%M").to_string()
}

/// A sentence where the clock cannot be right.
pub(crate) fn doubt(at: DateTime<Utc>) -> Option<String> {
    /// This version was not there before.
    const FIRST_YEAR: i32 = 2026;
    let year = chrono::Datelike::year(&at);
    (year < FIRST_YEAR).then(|| survey::say!("cli-clock", date = at.format("%Y-%m-%d").to_string()).to_string())
}

fn moment(at: SystemTime) -> DateTime<Utc> {
    // The far ends of the clock are no dates.
    match at.duration_since(UNIX_EPOCH) {
        Ok(after) => i64::try_from(after.as_secs())
            .ok()
            .and_then(|seconds| DateTime::from_timestamp(seconds, after.subsec_nanos()))
            .unwrap_or(DateTime::<Utc>::MAX_UTC),
        Err(before) => i64::try_from(before.duration().as_secs())
            .ok()
            .and_then(|seconds| DateTime::from_timestamp(-seconds, 0))
            .unwrap_or(DateTime::<Utc>::MIN_UTC),
    }
}

/// An id that begins with the time, in order to lie beside its neighbours, and is random in the rest: before 1970 its
/// time is that of 1970.
fn id_at(at: SystemTime) -> Uuid {
    let after = at.duration_since(UNIX_EPOCH).unwrap_or_default();
    Uuid::new_v7(Timestamp::from_unix(NoContext, after.as_secs(), after.subsec_nanos()))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn a_clock_before_1970_is_borne() {
        for seconds in [1, 86_400, 3_000_000_000] {
            let at = UNIX_EPOCH - Duration::from_secs(seconds);
            assert_eq!(moment(at).timestamp(), -i64::try_from(seconds).unwrap());
            assert!(doubt(moment(at)).is_some_and(|words| words.contains("19") || words.contains("18")));
            let (one, two) = (id_at(at), id_at(at));
            assert_ne!(one, two);
            assert_eq!((one.get_version_num(), &one.as_bytes()[..6]), (7, &[0; 6][..]));
        }
        assert_eq!(doubt(moment(UNIX_EPOCH + Duration::from_secs(1_800_000_000))), None);
    }
}
