//! drawing
