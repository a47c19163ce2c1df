//! From measured holes to entries of a plate, and from a plate to what gives its photo the scale.

use survey::intent::TakenHole;
use survey::{Millimetres, Plate, Reading};

use super::{HoleKind, MeasuredHole, Photo, PhotoError, PlatePhoto, Recorded, Reference, Wanted, measure, measure_at};

/// A measured hole is an entry that is there already where its centre is this near, mm. Ours.
const SAME: f64 = 8.0;
/// How far a plate's side may be off where no tolerance was given, mm: half a division of a rule.
const SIDE_WITHIN: f64 = 0.5;

/// A plate's sides as surveyed: width and depth in millimetres, and how far either may be off; or the side
/// that is not known.
fn sides(plate: &Plate) -> Result<([f64; 2], f64), &'static str> {
    let side = |field, reading: &Reading<Millimetres>| {
        let range = reading.range().ok_or(field)?;
        Ok::<_, &'static str>((range.lo().get(), range.hi().get()))
    };
    let (width, depth) = (side("width", &plate.width)?, side("depth", &plate.depth)?);
    let within = ((width.1 - width.0) / 2.0).max((depth.1 - depth.0) / 2.0).max(SIDE_WITHIN);
    Ok(([width, depth].map(|(lo, hi)| f64::midpoint(lo, hi)), within))
}

impl Recorded {
    /// The size on record, where both sides are known.
    #[must_use]
    pub fn of_plate(plate: &Plate) -> Option<Self> {
        let ([width, depth], within) = sides(plate).ok()?;
        Some(Self { width, depth, within })
    }
}

impl Reference {
    /// The plate itself, from its sides as surveyed and its corners as tapped.
    ///
    /// # Errors
    /// The side that is not known: "width" or "depth".
    pub fn of_plate(plate: &Plate, taps: [[f64; 2]; 4]) -> Result<Self, &'static str> {
        let ([width, depth], within) = sides(plate)?;
        Ok(Self::Corners { taps, width, depth, within })
    }
}

/// [`measure`], and the holes tapped by hand besides: each takes the place of one found there by itself.
/// A tap with no hole under it is a note.
///
/// # Errors
/// As [`measure`].
pub fn measure_with_taps(
    photo: &Photo,
    reference: &Reference,
    wanted: &Wanted,
    taps: &[[f64; 2]],
) -> Result<PlatePhoto, PhotoError> {
    let mut found = measure(photo, reference, wanted)?;
    for tap in taps {
        match measure_at(photo, &found.located, *tap, wanted) {
            Ok(hole) => {
                let apart = |other: &MeasuredHole| {
                    distance(other.centre, hole.centre) >= (other.diameter + hole.diameter) / 4.0
                };
                found.holes.retain(apart);
                found.unsure.retain(apart);
                found.holes.push(hole);
            }
            Err(error) => found.notes.push(error.message()),
        }
    }
    Ok(found)
}

/// Holes as entries of the plate, in their order, to be taken over one by one by a person; what has doubts
/// only after a look at them: to a tenth of a millimetre, uncertainties rounded up,
/// each with the entry that stands there already.
#[must_use]
pub fn taken(plate: &Plate, holes: &[MeasuredHole]) -> Vec<TakenHole> {
    let mut all: Vec<TakenHole> = Vec::with_capacity(holes.len());
    for hole in holes {
        let at = hole.centre.map(tenth);
        let diameter = tenth(hole.diameter);
        // Width and height are those of the opening as the plate lies.
        let (across, height) = match hole.kind {
            HoleKind::Circle => (diameter, None),
            HoleKind::Slot { length, angle } if angle.abs() > 45.0 => (diameter, Some(tenth(length))),
            HoleKind::Slot { length, .. } => (tenth(length), Some(diameter)),
        };
        let entry = plate
            .entries
            .iter()
            .filter(|(id, entry)| !entry.removed && all.iter().all(|other| other.entry != Some(**id)))
            .filter_map(|(id, entry)| Some((distance(entry.at?, at), *id)))
            .filter(|(far, _)| *far <= SAME)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, id)| id);
        all.push(TakenHole {
            entry,
            at,
            at_within: Millimetres::new(tenth_up(hole.centre_within)),
            diameter: Millimetres::new(across),
            diameter_within: Millimetres::new(tenth_up(hole.diameter_within)),
            height: height.map(Millimetres::new),
        });
    }
    all
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    libm::hypot(a[0] - b[0], a[1] - b[1])
}

/// A tenth of a millimetre is as fine as a photo goes.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn tenth_up(value: f64) -> f64 {
    (value * 10.0).ceil() / 10.0
}
