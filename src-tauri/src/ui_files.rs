//! The built interface, embedded: what the window shows and what the host serves.

/// One file of the interface: path without leading slash, media type, bytes.
pub type UiFile = (&'static str, &'static str, &'static [u8]);

/// Every file of the interface. One page that says how to build it, where it was not built.
pub const UI: &[UiFile] = include!(concat!(env!("OUT_DIR"), "/ui_files.rs"));
