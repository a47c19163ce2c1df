//! The electrical checks of a board. Pure.
