//! Glands, holes and setting out on a gland plate. Pure: tables and board in, answers out.
//!
//! No standard fixes how far entries stand from each other or from an edge. The rules here are
//! geometry, said to be ours wherever they are shown: the body of every entry (the widest across
//! corners of its hexagon, locknut or bush) stays on the usable part of the plate, and neighbours'
//! bodies leave [`BODY_GAP`] between them.

mod bend;
mod checks;
mod drag;
mod fill;
mod fitting;
mod gland;
mod hole;
mod missing;
pub mod photo;
mod place;
mod rules;
mod setting_out;
mod shape;
mod solve;
mod space;
mod tables;
mod tag;
mod words;

pub use bend::{BendRadius, bend_radius};
pub use checks::{check_plate, check_set, from_left_rear, sized};
pub use drag::{DragError, Dragged, SNAP, Snapped, drag, snap};
pub use fill::{
    Fill, Run, SPACE_FACTOR, cable_term, conduit_fill, conduit_term, trunking_cable_term, trunking_fill, trunking_term,
};
pub use fitting::{Fittings, Locknut, Part, fittings, parts};
pub use gland::{Candidate, Fit, cable_diameters, choose_compression_gland, choose_gland};
pub use hole::{Hole, Opening, Tag, Tool, hole_for};
pub use missing::{Chosen, Missing, missing_entries};
pub use place::next_place;
pub use rules::spanner_for;
pub use setting_out::{
    Dimensions, DrillStep, FromCorner, NotReady, SetEntry, SetSlot, SettingOut, Stop, TagAt, ToolUse, Unplaced,
    circuit_label, entry_labels, plate_name, setting_out, subject_name,
};
pub use shape::{BODY_GAP, CUT_OUT_EDGE, EAR_GAP, EDGE_WITHOUT_USABLE, LEAST_METAL, LEAST_SECTION};
pub use solve::{
    EFFORT, EarthTags, MOST_ENTRIES, Score, Solution, SolveError, Spanner, Spare, SparePlace, Weights, Wishes, score,
    solve,
};
pub use space::{Behind, Target, WiringSpace, wiring_space, wiring_space_in};
pub use tables::{
    Conduit, EarthTag, FlexibleConduit, Gland, PlasticGland, TableError, TableTexts, Tables, Thread, Washer,
};
