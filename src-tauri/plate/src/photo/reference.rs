//! Where the plate is in the photo: its edges and the markers, adjusted together.

use survey::message::Argument;
use survey::{Message, say};

use super::adjust::{
    Adjustment, DEPTH, K1, K2, Line, SCALE, SHOWN, STEPS, Seen, TURN, UNKNOWNS, USUAL_LENS, WIDTH, X, Y,
};
use super::decode::Photo;
use super::doubt::KNOWN_TO;
use super::edge::{Filter, noise};
use super::homography::Homography;
use super::lens::{Lens, PlaneMap, Stand};
use super::marker::{self, CHECK_LINE};
use super::outline::{Finder, on_ground};
use super::side;
use super::{Contradiction, PLATE_SIDES, PhotoError, Recorded, Reference, Side};
use crate::words::{exact, tenth, whole};

/// Names of the edges, from the one between the first two corners on.
pub(super) const EDGES: [&str; 4] = ["rear", "right", "front", "left"];

/// Where the plate is in the photo, and how well that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Located {
    /// The map between plate and photo.
    pub map: PlaneMap,
    /// Whether `size` and `corners` are a plate's; otherwise the marker sheet's.
    pub plate: bool,
    /// Width and depth in millimetres: as given, or as measured by the sheet.
    pub size: [f64; 2],
    /// How far each may be off, in millimetres (95 of 100).
    pub size_within: [f64; 2],
    /// The corners refined, in pixels of the photo.
    pub corners: [[f64; 2]; 4],
    /// Markers seen.
    pub markers: usize,
    /// Scatter of the edge points about the fitted edges, in pixels.
    pub scatter: f64,
    /// Pixels of the photo's width and height.
    pub photo: [u32; 2],
    /// What a person should know.
    pub notes: Vec<Message>,
    /// What does not agree; where there is any, no hole is sure.
    pub contradictions: Vec<Contradiction>,
    /// Whether an edge was found on the ground beside the plate, so that no place is sure.
    pub(super) on_ground: bool,
    /// Where the camera stood.
    pub(super) stand: Option<Stand>,
    /// Noise of the photo in grey levels.
    pub(super) noise: f64,
    /// How likely each thickness of the plate is by its edges.
    pub(super) likely: side::Likely,
    /// The map with each free unknown moved up and down by its step.
    wobble: Vec<(PlaneMap, PlaneMap)>,
    /// Covariance of the free unknowns, in steps.
    covariance: Vec<f64>,
}

impl Located {
    /// How far a place may be off by what contradicts, in millimetres: from the first corner on it grows with
    /// the distance.
    pub(super) fn contradicted(&self, [x, y]: [f64; 2]) -> f64 {
        let mut off = [0.0; 2];
        for Contradiction::RecordedAgainstSheet { side, recorded, .. } in &self.contradictions {
            let (axis, place) = if *side == Side::Width { (0, x) } else { (1, y) };
            off[axis] = (recorded / self.size[axis] - 1.0) * place;
        }
        libm::hypot(off[0], off[1])
    }

    /// What the uncertainty of map and lens does to numbers got from places in the plane: variance
    /// of each, for numbers computed by `of` from a map. Linear in the unknowns.
    pub(super) fn covariance_of<const N: usize>(&self, of: impl Fn(&PlaneMap) -> [f64; N]) -> [[f64; N]; N] {
        let n = self.wobble.len();
        let slopes: Vec<[f64; N]> = self
            .wobble
            .iter()
            .map(|(up, down)| {
                let (up, down) = (of(up), of(down));
                std::array::from_fn(|i| (up[i] - down[i]) / 2.0)
            })
            .collect();
        let mut out = [[0.0; N]; N];
        for i in 0..n {
            for j in 0..n {
                let c = self.covariance[i * n + j];
                for a in 0..N {
                    for b in 0..N {
                        out[a][b] += slopes[i][a] * c * slopes[j][b];
                    }
                }
            }
        }
        out
    }
}

/// Finds the plate in a photo.
///
/// # Errors
/// [`PhotoError::Value`] for a size or length that makes no sense, [`PhotoError::Corners`] for taps
/// that make no quadrilateral, [`PhotoError::Edge`] where an edge is not seen,
/// [`PhotoError::Markers`] where too few markers are, [`PhotoError::Misfit`] where what is seen
/// contradicts itself.
pub fn locate(photo: &Photo, reference: &Reference) -> Result<Located, PhotoError> {
    let grey = photo.grey();
    let straight = Lens::straight(photo.width(), photo.height());
    let noise = noise(grey);
    let free = (0.0, f64::INFINITY);
    let fixed = (0.0, 0.0);
    let mut adjustment =
        Adjustment { values: [0.0; UNKNOWNS], before: [free; UNKNOWNS], on_sheet: false, straight, stand: None };
    adjustment.before[K1] = (0.0, USUAL_LENS[0]);
    adjustment.before[K2] = (0.0, USUAL_LENS[1]);
    adjustment.values[SCALE] = 1.0;
    adjustment.before[SHOWN..].fill(fixed);
    let finder = Finder { photo, grey, filter: Filter::new(), least: (1.2 * noise).clamp(3.0, 14.0) };
    let mut notes = Vec::new();
    let mut found = Vec::new();
    let (taps, what) = match *reference {
        Reference::Corners { taps, width, depth, within } => {
            check_side(say!("photo-of-width"), width)?;
            check_side(say!("photo-of-depth"), depth)?;
            check_play(say!("photo-of-play"), within, width.min(depth) / 10.0)?;
            check_taps(&taps, photo)?;
            adjustment.values[..8].copy_from_slice(taps.as_flattened());
            adjustment.values[WIDTH] = width;
            adjustment.values[DEPTH] = depth;
            for unknown in [X, Y, TURN, SCALE] {
                adjustment.before[unknown] = fixed;
            }
            adjustment.before[WIDTH] = (width, within / 2.0);
            adjustment.before[DEPTH] = (depth, within / 2.0);
            (Some(taps), "edges")
        }
        Reference::Sheet { check_line, within, plate, recorded } => {
            if !(CHECK_LINE * 0.5..=CHECK_LINE * 2.0).contains(&check_line) {
                let would_do = say!("photo-do-line", line = exact(CHECK_LINE));
                return Err(PhotoError::Value { field: say!("photo-of-line"), value: check_line, would_do });
            }
            check_play(say!("photo-of-line-play"), within, 10.0)?;
            if let Some(taps) = &plate {
                check_taps(taps, photo)?;
            }
            if let Some(Recorded { width, depth, within }) = recorded {
                check_side(say!("photo-of-recorded-width"), width)?;
                check_side(say!("photo-of-recorded-depth"), depth)?;
                check_play(say!("photo-of-recorded-play"), within, width.min(depth) / 10.0)?;
            }
            found = marker::find(grey);
            let markers = found.len();
            if markers < 2 {
                return Err(PhotoError::Markers { found: markers });
            }
            if markers < 4 {
                notes.push(say!("photo-note-markers", markers = markers));
            }
            let scale = check_line / CHECK_LINE;
            let from: Vec<[f64; 2]> = found
                .iter()
                .flat_map(|one| marker::corners_on_sheet(one.id))
                .map(|corner| corner.map(|number| number * scale))
                .collect();
            let to: Vec<[f64; 2]> = found.iter().flat_map(|one| one.corners).collect();
            let rough = Homography::fit(&from, &to)?;
            adjustment.on_sheet = true;
            adjustment.expect_curl();
            adjustment.values[SCALE] = scale;
            adjustment.before[SCALE] = (scale, within / 2.0 / CHECK_LINE);
            let [left, top, right, bottom] = adjustment.base();
            let corners =
                [[left, top], [right, top], [right, bottom], [left, bottom]].map(|corner| rough.apply(corner));
            adjustment.values[..8].copy_from_slice(corners.as_flattened());
            // The sheet's own frame until the plate is placed on it.
            for unknown in [X, Y, TURN, WIDTH, DEPTH] {
                adjustment.before[unknown] = fixed;
            }
            adjustment.values[X] = left;
            adjustment.values[Y] = top;
            adjustment.values[WIDTH] = right - left;
            adjustment.values[DEPTH] = bottom - top;
            let seen: Vec<Seen> = found
                .iter()
                .flat_map(|one| (0..4).map(move |side| (one, side)))
                .flat_map(|(one, side)| finder.marker_side(one.id, side, &one.corners))
                .collect();
            adjustment.adjust(&seen).ok_or(PhotoError::Markers { found: markers })?;
            if let Some(taps) = &plate {
                let map = adjustment.map().ok_or(PhotoError::Markers { found: markers })?;
                // Counted from the sheet's corner so far; back to the sheet's own frame.
                let on = taps.map(|tap| map.plane(tap)).map(|[x, y]| [x + left, y + top]);
                let length = |p: [f64; 2], q: [f64; 2]| libm::hypot(q[0] - p[0], q[1] - p[1]);
                adjustment.values[X] = on[0][0];
                adjustment.values[Y] = on[0][1];
                adjustment.values[TURN] = libm::atan2(on[1][1] - on[0][1], on[1][0] - on[0][0]);
                adjustment.values[WIDTH] = (length(on[0], on[1]) + length(on[3], on[2])) / 2.0;
                adjustment.values[DEPTH] = (length(on[0], on[3]) + length(on[1], on[2])) / 2.0;
                check_side(say!("photo-of-sheet-width"), adjustment.values[WIDTH])?;
                check_side(say!("photo-of-sheet-depth"), adjustment.values[DEPTH])?;
                for unknown in [X, Y, TURN, WIDTH, DEPTH] {
                    adjustment.before[unknown] = free;
                }
            }
            (plate, "markers")
        }
    };

    let mut seen = Vec::new();
    if let Some(taps) = &taps {
        let size = [adjustment.values[WIDTH], adjustment.values[DEPTH]];
        for edge in 0..4 {
            seen.extend(finder.plate_edge(taps, edge, size[edge % 2])?);
        }
    }
    let misfit = |off| PhotoError::Misfit { what, off };
    let mut known = None;
    // The first round takes the edges as found near the taps; the next ones look again right where the
    // adjusted edges lie.
    let mut settled = None;
    for round in 0..4 {
        if round > 0 || taps.is_none() {
            seen.clear();
        }
        if round > 0 && taps.is_some() {
            let told =
                side::settle(grey, &finder.filter, &adjustment, &side::UNKNOWN).ok_or_else(|| misfit(f64::NAN))?;
            if let Some(edge) = told.lost.first() {
                return Err(PhotoError::Edge { edge });
            }
            for (edge, within) in told.within.iter().enumerate() {
                adjustment.before[SHOWN + edge] = (0.0, *within);
            }
            seen.extend(&told.seen);
            settled = Some(told);
        }
        for one in &found {
            let corners = adjustment.marker_corners(one.id);
            for side in 0..4 {
                seen.extend(finder.marker_side(one.id, side, &corners));
            }
        }
        known = adjustment.adjust(&seen);
    }
    // What the sheet says by itself stands; now the size on record is compared with it and weighed in.
    let mut contradictions = Vec::new();
    let mut widen = 1.0;
    // An edge that lies on the ground measures the ground's grain, and contradicts nothing.
    let edges = adjustment.map().filter(|_| taps.is_some());
    let astray =
        edges.map_or(Vec::new(), |map| on_ground(photo, &adjustment.plate_corners().map(|corner| map.pixel(corner))));
    notes.extend(astray.iter().map(|edge| say!("photo-note-ground", edge = Argument::Choice(EDGES[*edge]))));
    if let (Reference::Sheet { recorded: Some(recorded), .. }, Some(_), Some((_, covariance))) =
        (reference, &taps, &known)
    {
        let Compared { off, chi_square } = compare(&adjustment, covariance, recorded);
        contradictions = if astray.is_empty() { off } else { Vec::new() };
        if contradictions.is_empty() {
            adjustment.before[WIDTH] = (recorded.width, (recorded.within / 2.0).max(LEAST_PLAY));
            adjustment.before[DEPTH] = (recorded.depth, (recorded.within / 2.0).max(LEAST_PLAY));
            // Two numbers were compared: what they are off beyond chance widens everything (Birge's ratio).
            widen = (chi_square / 2.0).max(1.0);
            known = adjustment.adjust(&seen);
        }
    }
    notes.extend(contradictions.iter().map(Contradiction::message));
    let (scatter, mut covariance) = known.ok_or_else(|| misfit(f64::NAN))?;
    for cell in &mut covariance {
        *cell *= widen;
    }
    let map = adjustment.map().ok_or_else(|| misfit(f64::NAN))?;
    // Edges are found to some tenths of a pixel; where they miss by far more, something is not as told.
    let allowed = 1.5 + f64::from(photo.width().max(photo.height())) / 2000.0;
    if scatter > allowed {
        return Err(misfit(scatter));
    }
    for (edge, name) in EDGES.iter().enumerate().take(if taps.is_some() { 4 } else { 0 }) {
        let mut points = seen.iter().filter(|point| matches!(point.line, Line::Plate(at) if at == edge)).count();
        if found.is_empty() {
            // An edge whose points all miss the adjusted line was not the plate's.
            let on: Vec<Seen> =
                seen.iter().copied().filter(|point| matches!(point.line, Line::Plate(at) if at == edge)).collect();
            points = adjustment.residuals(&on).iter().filter(|r| r.abs() < 4.0 * scatter.max(0.5)).count();
        }
        if points < 8 {
            return Err(PhotoError::Edge { edge: name });
        }
    }
    let free = adjustment.free();
    let wobble = free
        .iter()
        .map(|unknown| {
            let up = adjustment.moved(*unknown, STEPS[*unknown]).map();
            let down = adjustment.moved(*unknown, -STEPS[*unknown]).map();
            Some((up?, down?))
        })
        .collect::<Option<Vec<_>>>()
        .ok_or_else(|| misfit(scatter))?;
    let size = [adjustment.values[WIDTH], adjustment.values[DEPTH]];
    let mut size_within = [WIDTH, DEPTH].map(|unknown| {
        let at = free.iter().position(|one| *one == unknown);
        at.map_or(0.0, |at| 2.0 * covariance[at * free.len() + at].max(0.0).sqrt() * STEPS[unknown])
    });
    for Contradiction::RecordedAgainstSheet { side, recorded, .. } in &contradictions {
        let at = if *side == Side::Width { 0 } else { 1 };
        size_within[at] += (recorded - size[at]).abs();
    }
    let corners = adjustment.plate_corners().map(|corner| map.pixel(corner));
    let shift = map.lens.largest_shift() / map.lens.half_diagonal;
    if shift > 0.08 {
        notes.push(say!("photo-note-lens", bend = whole(shift * 100.0)));
    }
    for edge in settled.iter().flat_map(|settled| &settled.doubtful) {
        notes.push(say!("photo-note-thickness", edge = Argument::Choice(edge)));
    }
    let (least, _) = map.pixels_per_mm([size[0] / 2.0, size[1] / 2.0]);
    if least < 2.0 {
        notes.push(say!("photo-note-coarse", pixels = tenth(least)));
    }
    Ok(Located {
        map,
        plate: taps.is_some(),
        size,
        size_within,
        corners,
        markers: found.len(),
        scatter,
        photo: [photo.width(), photo.height()],
        notes,
        contradictions,
        on_ground: !astray.is_empty(),
        stand: Stand::of(&map),
        noise,
        likely: settled.map_or(side::UNKNOWN, |settled| settled.likely),
        wobble,
        covariance,
    })
}

/// Least play of a recorded side, in millimetres (standard deviation): a side that is exact to the
/// hundredth is no reading.
const LEAST_PLAY: f64 = 0.05;
/// By how much a print is longer one way than the other, as a share (standard deviation): rollers and the
/// paper's grain make up to a thousandth. Common practice, no source.
const PRINT: f64 = 5e-4;
/// Most that two numbers compared are off by chance, squared and by their uncertainty: 99 of 100 (χ² of
/// two degrees of freedom; of one, 6.63). From tables of the distribution.
const BY_CHANCE: [f64; 2] = [6.63, 9.21];

/// A size on record beside what the sheet says.
struct Compared {
    off: Vec<Contradiction>,
    chi_square: f64,
}

/// Compares the recorded size with what the adjustment found without it. The sheet's height makes both
/// sides larger or smaller together, so the two are judged together by their covariance.
fn compare(adjustment: &Adjustment, covariance: &[f64], recorded: &Recorded) -> Compared {
    let free = adjustment.free();
    let at = |unknown: usize| free.iter().position(|one| *one == unknown);
    let none = Compared { off: Vec::new(), chi_square: 0.0 };
    let (Some(w), Some(d)) = (at(WIDTH), at(DEPTH)) else { return none };
    let of = |i: usize, j: usize| covariance[i * free.len() + j] * STEPS[free[i]] * STEPS[free[j]];
    let play = recorded.within / 2.0;
    let play = play.max(LEAST_PLAY) * play.max(LEAST_PLAY);
    // The check line tells the print's scale in one direction only.
    let print = PRINT * adjustment.values[DEPTH];
    let (ww, dd, wd) = (of(w, w) + play, of(d, d) + play + print * print, of(w, d));
    let off = [recorded.width - adjustment.values[WIDTH], recorded.depth - adjustment.values[DEPTH]];
    let under = ww * dd - wd * wd;
    if under.is_nan() || under <= 0.0 {
        return none;
    }
    let chi_square = (dd * off[0] * off[0] - 2.0 * wd * off[0] * off[1] + ww * off[1] * off[1]) / under;
    if least_chi_square([ww - play, wd, dd - play], off, recorded.within) <= BY_CHANCE[1] {
        return Compared { off: Vec::new(), chi_square };
    }
    // Is one side wrong, the other would be off no more than by chance.
    let alone = [off[0] * off[0] / ww, off[1] * off[1] / dd];
    let width =
        |by_sheet| Contradiction::RecordedAgainstSheet { side: Side::Width, recorded: recorded.width, by_sheet };
    let depth =
        |by_sheet| Contradiction::RecordedAgainstSheet { side: Side::Depth, recorded: recorded.depth, by_sheet };
    let off = if alone[1] <= alone[0] && alone[1] <= BY_CHANCE[0] {
        vec![width(adjustment.values[WIDTH] + wd / dd * off[1])]
    } else if alone[0] <= BY_CHANCE[0] {
        vec![depth(adjustment.values[DEPTH] + wd / ww * off[0])]
    } else {
        vec![width(adjustment.values[WIDTH]), depth(adjustment.values[DEPTH])]
    };
    // What is off by no more than a hole is known to does not set a person measuring again.
    let off: Vec<Contradiction> = if off.iter().any(|one| one.off() > KNOWN_TO) { off } else { Vec::new() };
    Compared { off, chi_square }
}

/// The least χ² that a recorded size can have against the sheet's where both sides may be off by `within` at
/// most: the stated play is a limit and no chance, so that only what lies beyond it contradicts. `covariance` is
/// the sheet's, of width and width, width and depth, depth and depth.
fn least_chi_square([ww, wd, dd]: [f64; 3], off: [f64; 2], within: f64) -> f64 {
    let (ww, dd) = (ww + LEAST_PLAY * LEAST_PLAY, dd + LEAST_PLAY * LEAST_PLAY);
    let mut left = off;
    // A convex square over a box: each side in turn.
    for _ in 0..1000 {
        left[0] = off[0] - (off[0] - wd / dd * left[1]).clamp(-within, within);
        left[1] = off[1] - (off[1] - wd / ww * left[0]).clamp(-within, within);
    }
    let under = ww * dd - wd * wd;
    (dd * left[0] * left[0] - 2.0 * wd * left[0] * left[1] + ww * left[1] * left[1]) / under
}

fn check_side(field: Message, value: f64) -> Result<(), PhotoError> {
    let [least, most] = PLATE_SIDES;
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(PhotoError::Value { field, value, would_do: say!("photo-do-side", least = exact(least), most = exact(most)) })
}

fn check_play(field: Message, value: f64, most: f64) -> Result<(), PhotoError> {
    if (0.0..=most).contains(&value) {
        return Ok(());
    }
    Err(PhotoError::Value { field, value, would_do: say!("photo-do-play", most = whole(most)) })
}

/// Whether the taps go round a quadrilateral in the right order, inside the photo, large enough.
fn check_taps(taps: &[[f64; 2]; 4], photo: &Photo) -> Result<(), PhotoError> {
    let refuse = |why| Err(PhotoError::Corners(why));
    let limits = [f64::from(photo.width()), f64::from(photo.height())];
    for (at, tap) in taps.iter().enumerate() {
        if !(0..2).all(|axis| (0.0..=limits[axis]).contains(&tap[axis])) {
            return refuse(say!("photo-corner-outside", corner = at + 1, x = whole(tap[0]), y = whole(tap[1])));
        }
    }
    if !marker::is_convex(taps) {
        let [a, b, c, d] = *taps;
        return refuse(if marker::is_convex(&[d, c, b, a]) {
            say!("photo-corners-reversed")
        } else {
            say!("photo-corners-crossed")
        });
    }
    for i in 0..4 {
        let (p, q) = (taps[i], taps[(i + 1) % 4]);
        let length = libm::hypot(q[0] - p[0], q[1] - p[1]);
        if length < 40.0 {
            return refuse(say!("photo-corners-short", edge = Argument::Choice(EDGES[i]), length = whole(length)));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_stated_play_explains_contradicts_nothing() {
        // Three millimetres off a sheet whose height is hardly known, and half a millimetre that it cannot explain.
        let covariance = [1.6, 0.78, 0.4];
        assert!(least_chi_square(covariance, [-3.1, -0.2], 1.0) < BY_CHANCE[1]);
        assert!(least_chi_square(covariance, [-3.1, -0.2], 0.0) > BY_CHANCE[1]);
        // A side that is ten millimetres wrong.
        assert!(least_chi_square(covariance, [9.2, -1.2], 1.0) > 10.0 * BY_CHANCE[1]);
        // Both within the play.
        assert!(least_chi_square(covariance, [0.9, -0.9], 1.0) < 1e-9);
    }
}
