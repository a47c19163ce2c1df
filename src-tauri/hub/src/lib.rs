//! HTTP host of the same interface.
