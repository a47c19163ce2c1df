//! The built interface, embedded: what the window shows and what the host serves. Where it was not
//! built, one page that says how to build it.

include!(concat!(env!("OUT_DIR"), "/ui.rs"));
