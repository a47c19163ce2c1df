//! The interface.
fn main() {}
