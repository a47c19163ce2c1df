//! Glands, holes and setting out on a gland plate. Pure.
