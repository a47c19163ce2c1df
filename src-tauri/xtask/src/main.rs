//! Build helper.
fn main() {}
