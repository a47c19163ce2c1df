//! Opens a store and says what had to be done about it, so that a test can kill it on the way.

#![allow(clippy::disallowed_methods, reason = "a program reads the clock")]

use std::error::Error;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

use chrono::DateTime;
use store::{Env, Store};
use uuid::Uuid;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args().nth(1).ok_or("give the database")?;
    let since = SystemTime::now().duration_since(UNIX_EPOCH)?;
    let mut next = since.as_nanos() << 32;
    let env = Env::new(
        move || DateTime::from_timestamp(i64::try_from(since.as_secs()).unwrap_or(0), 0).unwrap_or_default(),
        move || {
            next += 1;
            Uuid::from_u128(next)
        },
    );
    let opened = Store::open(Path::new(&path), env)?;
    for notice in opened.store.notices()? {
        println!("{}", notice.text);
    }
    Ok(())
}
