//! terminal
