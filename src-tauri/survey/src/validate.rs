//! validate
