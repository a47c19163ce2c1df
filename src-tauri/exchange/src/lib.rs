//! Change exchange between two stores, by file.
