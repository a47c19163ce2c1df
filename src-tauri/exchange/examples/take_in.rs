//! Takes a bundle in, so that a test can kill it in the middle and look what is there.
//!
//! Arguments: the database, the bundle. Prints "begun" once the store is open and "done" at the end.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

#[path = "../../store/examples/common/mod.rs"]
mod common;

use std::error::Error;
use std::io::Write;
use std::path::Path;

use store::Store;

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, path, bundle] = args.as_slice() else {
        return Err("give the database and the bundle".into());
    };
    let mut store = Store::open(Path::new(path), common::env()?)?.store;
    let bytes = std::fs::read(bundle)?;
    let mut out = std::io::stdout().lock();
    writeln!(out, "begun")?;
    out.flush()?;
    exchange::import(&mut store, &bytes)?;
    writeln!(out, "done")?;
    Ok(())
}
