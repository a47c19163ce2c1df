//! arrangement
