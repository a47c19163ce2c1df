//! Takes a bundle in, so that a test can kill it in the middle and look what is there.
//!
//! Arguments: the database, the bundle. Prints "begun" once the store is open and "done" at the end.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::error::Error;
use std::io::Write;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

use chrono::DateTime;
use store::{Env, Store};
use uuid::Uuid;

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, path, bundle] = args.as_slice() else {
        return Err("give the database and the bundle".into());
    };
    let since = SystemTime::now().duration_since(UNIX_EPOCH)?;
    let mut next = since.as_nanos() << 32;
    let env = Env::new(
        move || DateTime::from_timestamp(i64::try_from(since.as_secs()).unwrap_or(0), 0).unwrap_or_default(),
        move || {
            next += 1;
            Uuid::from_u128(next)
        },
    );
    let mut store = Store::open(Path::new(path), env)?.store;
    let bytes = std::fs::read(bundle)?;
    let mut out = std::io::stdout().lock();
    writeln!(out, "begun")?;
    out.flush()?;
    exchange::import(&mut store, &bytes)?;
    writeln!(out, "done")?;
    Ok(())
}
