//! From a photo of a plate to millimetres. Pure: bytes in, answers out.
//!
//! The way of it: the plate's four edges, or the markers of our own sheet, are found to a fraction
//! of a pixel; one adjustment by least squares gives the projective map and the lens's radial
//! distortion together; holes are looked for in a rectified picture and then measured in the photo
//! itself, every rim point by its own step of brightness. A plate seen obliquely shows its thickness
//! beside its edges and in its holes: how much of it is told from the edges, so that the face's own
//! edges and rims are measured. What is not certain is carried along: the scatter of the edges, the
//! adjustment's covariance, sides and walls that cannot be told from the face or from what lies behind,
//! and floors for what cannot be seen (see [`MeasuredHole`]).
//!
//! Places are in millimetres in the plate's plane, from the corner tapped first, x towards the
//! second corner, y towards the fourth. With the corners tapped from the left rear one clockwise as
//! seen from outside, that is how [`survey::board::Entry::at`] counts.

mod adjust;
mod cut;
mod decode;
mod doubt;
mod edge;
mod find;
mod fit;
mod homography;
mod lens;
mod linear;
mod marker;
mod outline;
mod rectify;
mod reference;
mod rim;
mod side;
mod taken;

use survey::message::Argument;
use survey::{Message, say};

use crate::words::{exact, tenth, whole};

pub use decode::{MOST_PIXELS, Photo};
pub use doubt::Doubt;
pub use homography::Homography;
pub use lens::{Lens, PlaneMap};
pub use marker::{CHECK_LINE, MarkerSheet, Patch, marker_sheet};
pub use rectify::Rectified;
pub use reference::{Located, locate};
pub use taken::{measure_with_taps, taken};

/// Smallest and largest plate side that is believed, in millimetres.
pub const PLATE_SIDES: [f64; 2] = [20.0, 3000.0];

/// What gives the photo its scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reference {
    /// The plate itself, of known size.
    Corners {
        /// Its corners in the photo, tapped roughly: left rear, right rear, right front, left front
        /// as seen from outside (that is, clockwise). Pixels of the upright photo,
        /// from 0 to its width and height.
        taps: [[f64; 2]; 4],
        /// Length of the edge from the first corner to the second, in millimetres.
        width: f64,
        /// Length of the edge from the second corner to the third, in millimetres.
        depth: f64,
        /// How far either may be off, in millimetres: half a division of the rule, say. 0 takes
        /// both as exact.
        within: f64,
    },
    /// Our printed sheet, level with the plate's face.
    Sheet {
        /// Length of the printed check line as measured, in millimetres; [`CHECK_LINE`] where the
        /// print is true.
        check_line: f64,
        /// How far that may be off, in millimetres.
        within: f64,
        /// The plate's corners as in [`Reference::Corners`], if its edges are to be measured and
        /// its holes looked for. Without them places are counted from the corner of the sheet's
        /// first marker, and holes are measured only where tapped.
        plate: Option<[[f64; 2]; 4]>,
        /// The plate's size on record: weighed with what the sheet says, and compared with it. Counts
        /// only with `plate`.
        recorded: Option<Recorded>,
    },
}

/// A plate's size on record, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recorded {
    /// Length of the edge from the first corner to the second.
    pub width: f64,
    /// Length of the edge from the second corner to the third.
    pub depth: f64,
    /// How far either may be off.
    pub within: f64,
}

/// A side of the plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From the first corner to the second.
    Width,
    /// From the second corner to the third.
    Depth,
}

/// Two things that give the photo its scale and do not agree beyond their tolerances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Contradiction {
    /// A side on record, and the same side as the marker sheet has it.
    RecordedAgainstSheet {
        /// Which side.
        side: Side,
        /// On record, in millimetres.
        recorded: f64,
        /// By the sheet, and the other side where that agrees, in millimetres.
        by_sheet: f64,
    },
}

impl Contradiction {
    /// By how many millimetres.
    #[must_use]
    pub fn off(&self) -> f64 {
        let Self::RecordedAgainstSheet { recorded, by_sheet, .. } = self;
        (recorded - by_sheet).abs()
    }

    /// What contradicts what, and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        let Self::RecordedAgainstSheet { side, recorded, by_sheet } = self;
        let side = match side {
            Side::Width => "width",
            Side::Depth => "depth",
        };
        say!(
            "photo-contradiction",
            side = Argument::Choice(side),
            recorded = tenth(*recorded),
            sheet = tenth(*by_sheet),
            off = tenth(self.off()),
        )
    }
}

/// Which holes are looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Smallest diameter (of a slot: width) in millimetres. Below some five, screw heads and printed
    /// dots look much like holes.
    pub least: f64,
    /// Largest diameter (of a slot: length) in millimetres.
    pub most: f64,
}

impl Default for Wanted {
    fn default() -> Self {
        Self { least: 6.0, most: 130.0 }
    }
}

/// Shape of an opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HoleKind {
    /// Round.
    Circle,
    /// Two half circles and the straight sides between.
    Slot {
        /// Length over all, in millimetres.
        length: f64,
        /// Turn of its long axis from x towards y, in degrees from -90 to 90.
        angle: f64,
    },
}

/// A hole measured on the photo.
///
/// The uncertainties hold the true value in 95 of 100 cases (expanded, coverage factor 2 for one
/// number, as in JCGM 100:2008, 6.2). They are made up of the rim points' scatter, the covariance
/// of map and lens, the stated play of the plate's size or the check line, what the plate's thickness
/// hides or feigns, and floors of our own choice for what a photo does not show: a systematic shift of an edge by blur and lighting, and
/// what a radial model leaves of a real lens. They hold a sheet that curls or
/// lies up to some 3 mm above or below the face; they do not hold a plate that is not flat.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredHole {
    /// Centre in millimetres from the corner tapped first.
    pub centre: [f64; 2],
    /// Radius in millimetres of the circle about `centre` that holds the true one.
    pub centre_within: f64,
    /// Diameter in millimetres; of a slot its width.
    pub diameter: f64,
    /// How far the diameter may be off, in millimetres.
    pub diameter_within: f64,
    /// Round or slot.
    pub kind: HoleKind,
    /// From 0 to 1: how much it looks like a hole (whole rim seen, even contrast, true shape). Below
    /// 0.5 a person should look.
    pub confidence: f64,
    /// The rim in the photo, in pixels, to be drawn on it.
    pub outline: Vec<[f64; 2]>,
    /// Why it may be no hole, or not where it is said to be; where there is any, a person looks before
    /// it is taken over.
    pub doubts: Vec<Doubt>,
}

/// Confidence from which a hole is believed without a person's look.
const CERTAIN: f64 = 0.5;

impl MeasuredHole {
    /// It looks like a hole and nothing speaks against it.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.confidence >= CERTAIN && self.doubts.is_empty()
    }
}

/// Everything read from one photo.
#[derive(Clone, Debug, PartialEq)]
pub struct PlatePhoto {
    /// Map, lens, refined corners and plate size; keep it for [`measure_at`].
    pub located: Located,
    /// Holes, from the rear left, row by row of 10 mm.
    pub holes: Vec<MeasuredHole>,
    /// Shapes whose rim is seen in part only: a hole with a cable in it, a mark. Each has its doubts.
    pub unsure: Vec<MeasuredHole>,
    /// The plate as seen straight on.
    pub rectified: Rectified,
    /// What a person should know: a strong lens, a coarse picture, a marker not found, a contradiction.
    pub notes: Vec<Message>,
}

/// Why a photo gives no measures, and what would do.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum PhotoError {
    /// Not a picture that can be read.
    Unreadable(Message),
    /// Beyond the limits.
    TooLarge {
        /// What it has.
        what: Message,
        /// What is taken.
        limit: Message,
    },
    /// Too few pixels.
    TooSmall {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Least along each side.
        least: u32,
    },
    /// A number that makes no sense.
    Value {
        /// The field.
        field: Message,
        /// What it holds.
        value: f64,
        /// What it may hold.
        would_do: Message,
    },
    /// The tapped corners make no plate.
    Corners(Message),
    /// Points that fix no map.
    Points(Message),
    /// An edge of the plate was not seen.
    Edge {
        /// Which edge: "rear", "right", "front" or "left".
        edge: &'static str,
    },
    /// Too few markers.
    Markers {
        /// Markers seen.
        found: usize,
    },
    /// Edges and markers contradict each other.
    Misfit {
        /// What was fitted: the plate's "edges", or "markers" and edges.
        what: &'static str,
        /// Typical residual in pixels.
        off: f64,
    },
    /// Nothing round around the tap.
    NoHole,
}

impl PhotoError {
    /// What is wrong and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        match self {
            Self::Unreadable(why) => say!("photo-unreadable", why = why.clone()),
            Self::TooLarge { what, limit } => say!("photo-too-large", what = what.clone(), limit = limit.clone()),
            Self::TooSmall { width, height, least } => {
                say!("photo-too-small", width = *width, height = *height, least = *least)
            }
            Self::Value { field, value, would_do } => {
                say!("photo-value", field = field.clone(), value = exact(*value), would_do = would_do.clone())
            }
            Self::Corners(why) => say!("photo-corners", why = why.clone()),
            Self::Points(why) => why.clone(),
            Self::Edge { edge } => say!("photo-edge", edge = Argument::Choice(edge)),
            Self::Markers { found } => say!("photo-markers", found = *found),
            Self::Misfit { what, off } => say!("photo-misfit", what = Argument::Choice(what), off = whole(*off)),
            Self::NoHole => say!("photo-no-hole"),
        }
    }
}

impl std::fmt::Display for PhotoError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.message().fmt(out)
    }
}
impl std::error::Error for PhotoError {}

/// Measures a plate: the map, its holes, the rectified picture.
///
/// # Errors
/// As [`locate`]; [`PhotoError::Value`] where `wanted` makes no sense.
pub fn measure(photo: &Photo, reference: &Reference, wanted: &Wanted) -> Result<PlatePhoto, PhotoError> {
    check_wanted(wanted)?;
    let located = locate(photo, reference)?;
    let rectified = Rectified::of(photo, &located, None)?;
    let (holes, unsure) = if located.plate { fit::all(photo, &located, wanted) } else { Default::default() };
    let mut notes = located.notes.clone();
    if let Some(doubtful) = holes.iter().map(|hole| hole.confidence).reduce(f64::min).filter(|least| *least < CERTAIN) {
        notes.push(say!("photo-note-uncertain", confidence = tenth(doubtful)));
    }
    let doubtful = holes.iter().filter(|hole| !hole.doubts.is_empty()).count() + unsure.len();
    if doubtful > 0 {
        notes.push(say!("photo-note-doubtful", count = doubtful));
    }
    Ok(PlatePhoto { located, holes, unsure, rectified, notes })
}

/// Measures the one hole around a tap, with more patience than [`measure`] has: for a hole that was
/// not found by itself, or to confirm one.
///
/// # Errors
/// [`PhotoError::NoHole`]; [`PhotoError::Value`] where the tap is no place in the photo or `wanted`
/// makes no sense.
pub fn measure_at(
    photo: &Photo,
    located: &Located,
    tap: [f64; 2],
    wanted: &Wanted,
) -> Result<MeasuredHole, PhotoError> {
    check_wanted(wanted)?;
    let limits = [f64::from(photo.width()), f64::from(photo.height())];
    for (number, limit) in tap.into_iter().zip(limits) {
        if !(0.0..=limit).contains(&number) {
            let would_do = say!("photo-do-tap", limit = exact(limit));
            return Err(PhotoError::Value { field: say!("photo-of-tap"), value: number, would_do });
        }
    }
    fit::at(photo, located, tap, wanted).ok_or(PhotoError::NoHole)
}

fn check_wanted(wanted: &Wanted) -> Result<(), PhotoError> {
    let bad = |field, value| {
        let would_do = say!("photo-do-diameters");
        Err(PhotoError::Value { field, value, would_do })
    };
    if !(1.0..=500.0).contains(&wanted.least) {
        return bad(say!("photo-of-least"), wanted.least);
    }
    if !(wanted.least..=500.0).contains(&wanted.most) {
        return bad(say!("photo-of-most"), wanted.most);
    }
    Ok(())
}
