//! file
