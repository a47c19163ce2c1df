//! The inputs that a fuzzer found worth keeping, given once more to what it was let loose on.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

#[path = "../fuzz/src/targets.rs"]
mod fuzzed;

use std::path::Path;

fn all(target: &str, feed: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(target);
    let mut count = 0;
    for entry in std::fs::read_dir(&folder).unwrap() {
        feed(&std::fs::read(entry.unwrap().path()).unwrap());
        count += 1;
    }
    assert!(count > 0, "no inputs in {}", folder.display());
    println!("{target}: {count} inputs");
}

macro_rules! targets {
    ($($target:ident),+ $(,)?) => {$(
        #[test]
        fn $target() {
            all(stringify!($target), fuzzed::$target);
        }
    )+};
}

targets!(survey_file, bundle, photo, changes, patterns, tables, intents);
