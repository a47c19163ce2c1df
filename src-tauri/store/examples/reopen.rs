//! Opens a store and says what had to be done about it, so that a test can kill it on the way.

mod common;

use std::error::Error;
use std::path::Path;

use store::Store;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args().nth(1).ok_or("give the database")?;
    let opened = Store::open(Path::new(&path), common::env()?)?;
    for notice in opened.store.notices()? {
        println!("{}", notice.text);
    }
    Ok(())
}
