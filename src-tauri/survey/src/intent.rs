//! intent
