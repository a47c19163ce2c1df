//! Whole-job tests live in `tests/tests`; this library holds their shared helpers.
