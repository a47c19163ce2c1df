//! Where the plate is in the photo: its edges and the markers, adjusted together.

use super::decode::{Grey, Photo};
use super::edge::{Filter, Step, along, noise};
use super::homography::Homography;
use super::lens::{Lens, PlaneMap, Stand};
use super::linear::{Normal, median};
use super::marker::{self, CHECK_LINE};
use super::{PLATE_SIDES, PhotoError, Reference};

/// A usual thickness of plates in millimetres, where it matters how much of a side is seen.
pub(super) const USUAL_THICKNESS: f64 = 1.5;
/// Names of the edges, from the one between the first two corners on.
const EDGES: [&str; 4] = ["rear", "right", "front", "left"];
/// Unknowns of the adjustment: four corners of the base in straightened pixels, the lens's two
/// terms, the plate's place and turn on the sheet, its size, the sheet's scale, and how far outside
/// the face's edge each edge was seen.
const UNKNOWNS: usize = 20;
const K1: usize = 8;
const K2: usize = 9;
const X: usize = 10;
const Y: usize = 11;
const TURN: usize = 12;
const WIDTH: usize = 13;
const DEPTH: usize = 14;
const SCALE: usize = 15;
const SHOWN: usize = 16;
/// Step for the derivative by each unknown.
const STEPS: [f64; UNKNOWNS] = [
    0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 1e-4, 1e-4, 0.01, 0.01, 1e-5, 0.01, 0.01, 1e-6, 0.01, 0.01, 0.01,
    0.01,
];
/// How strong lenses are before anything is seen (standard deviation of k1 and k2): the lenses of
/// hand-held devices stay well within. Our choice; only a plate small in the photo rests on it.
const USUAL_LENS: [f64; 2] = [0.1, 0.03];
/// Least scatter of an edge point that is believed, in pixels.
const LEAST_SCATTER: f64 = 0.1;
/// Where the side of the sheet can show beyond the face's edge, in millimetres: plates are seldom
/// thicker. The inner of two such lines is the face's.
const VISIBLE_SIDE: f64 = 4.0;

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
    pub notes: Vec<String>,
    /// Where the camera stood.
    pub(super) stand: Option<Stand>,
    /// Noise of the photo in grey levels.
    pub(super) noise: f64,
    /// The map with each free unknown moved up and down by its step.
    wobble: Vec<(PlaneMap, PlaneMap)>,
    /// Covariance of the free unknowns, in steps.
    covariance: Vec<f64>,
}

impl Located {
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

/// What an edge point lies on.
#[derive(Clone, Copy, Debug)]
enum Line {
    Plate(usize),
    Marker(usize, usize),
}

/// A point seen on an edge.
#[derive(Clone, Copy, Debug)]
struct Seen {
    pixel: [f64; 2],
    line: Line,
}

/// The adjustment's state.
#[derive(Clone)]
struct Adjustment {
    values: [f64; UNKNOWNS],
    /// Standard deviation of what is known beforehand; 0 for what is fixed, infinite for what is free.
    before: [(f64, f64); UNKNOWNS],
    on_sheet: bool,
    straight: Lens,
}

impl Adjustment {
    fn base(&self) -> [f64; 4] {
        if self.on_sheet {
            let [left, top] = marker::corners_on_sheet(0)[0];
            let [right, bottom] = marker::corners_on_sheet(2)[2];
            let s = self.values[SCALE];
            [left * s, top * s, right * s, bottom * s]
        } else {
            [0.0, 0.0, self.values[WIDTH], self.values[DEPTH]]
        }
    }

    /// Base plane (sheet or plate) to straightened pixels.
    fn base_map(&self) -> Homography {
        let [left, top, right, bottom] = self.base();
        let (w, h) = (right - left, bottom - top);
        let to_unit = Homography { rows: [[1.0 / w, 0.0, -left / w], [0.0, 1.0 / h, -top / h], [0.0, 0.0, 1.0]] };
        unit_square_to(std::array::from_fn(|i| [self.values[2 * i], self.values[2 * i + 1]])).after(&to_unit)
    }

    /// Plate to base.
    fn pose(&self) -> Homography {
        let (s, c) = (libm::sin(self.values[TURN]), libm::cos(self.values[TURN]));
        Homography { rows: [[c, -s, self.values[X]], [s, c, self.values[Y]], [0.0, 0.0, 1.0]] }
    }

    fn lens(&self) -> Lens {
        Lens { k1: self.values[K1], k2: self.values[K2], ..self.straight }
    }

    fn plate_corners(&self) -> [[f64; 2]; 4] {
        let (w, d) = (self.values[WIDTH], self.values[DEPTH]);
        [[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]]
    }

    fn map(&self) -> Option<PlaneMap> {
        let to_photo = self.base_map().after(&self.pose());
        Some(PlaneMap { to_photo, to_plane: to_photo.inverse()?, lens: self.lens() })
    }

    /// All lines in straightened pixels, as (normal, offset): four of the plate, then four a marker.
    fn lines(&self) -> [[f64; 3]; 20] {
        let base = self.base_map();
        let plate = base.after(&self.pose());
        let corners = self.plate_corners();
        let s = self.values[SCALE];
        let mut out = [[0.0; 3]; 20];
        for i in 0..4 {
            let shown = self.values[SHOWN + i];
            let outward = [[0.0, -shown], [shown, 0.0], [0.0, shown], [-shown, 0.0]][i];
            let ends = [corners[i], corners[(i + 1) % 4]]
                .map(|corner| plate.apply([corner[0] + outward[0], corner[1] + outward[1]]));
            out[i] = line_through(ends[0], ends[1]);
        }
        if self.on_sheet {
            for id in 0..4 {
                let on = marker::corners_on_sheet(id).map(|corner| base.apply(corner.map(|number| number * s)));
                for side in 0..4 {
                    out[4 + id * 4 + side] = line_through(on[side], on[(side + 1) % 4]);
                }
            }
        }
        out
    }

    fn residuals(&self, seen: &[Seen]) -> Vec<f64> {
        let lines = self.lines();
        let lens = self.lens();
        seen.iter()
            .map(|point| {
                let at = match point.line {
                    Line::Plate(edge) => edge,
                    Line::Marker(id, side) => 4 + id * 4 + side,
                };
                let [a, b, c] = lines[at];
                let [x, y] = lens.straighten(point.pixel);
                a * x + b * y + c
            })
            .collect()
    }

    fn free(&self) -> Vec<usize> {
        (0..UNKNOWNS).filter(|i| self.before[*i].1 > 0.0).collect()
    }

    fn moved(&self, unknown: usize, by: f64) -> Self {
        let mut moved = self.clone();
        moved.values[unknown] += by;
        moved
    }

    /// Runs the adjustment: robust Gauss-Newton with the residuals weighed down as they grow
    /// (Cauchy's weight). Gives the scatter and the covariance of the free unknowns in steps.
    fn adjust(&mut self, seen: &[Seen]) -> Option<(f64, Vec<f64>)> {
        let free = self.free();
        let n = free.len();
        let mut out = None;
        for round in 0..10 {
            let residuals = self.residuals(seen);
            let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
            let scatter = (median(&mut sizes) / 0.6745).max(LEAST_SCATTER);
            let columns: Vec<Vec<f64>> = free
                .iter()
                .map(|unknown| {
                    let up = self.moved(*unknown, STEPS[*unknown]).residuals(seen);
                    let down = self.moved(*unknown, -STEPS[*unknown]).residuals(seen);
                    up.iter().zip(&down).map(|(u, d)| (u - d) / 2.0).collect()
                })
                .collect();
            let mut normal = Normal::new(n);
            let mut row = vec![0.0; n];
            for (at, residual) in residuals.iter().enumerate() {
                for (cell, column) in row.iter_mut().zip(&columns) {
                    *cell = column[at];
                }
                let ratio = residual / (2.0 * scatter);
                normal.add(&row, -residual, 1.0 / (1.0 + ratio * ratio) / (scatter * scatter));
            }
            for (at, unknown) in free.iter().enumerate() {
                let (mean, sigma) = self.before[*unknown];
                if sigma.is_finite() {
                    row.fill(0.0);
                    row[at] = STEPS[*unknown];
                    normal.add(&row, mean - self.values[*unknown], 1.0 / (sigma * sigma));
                }
            }
            let step = normal.solve()?;
            out = Some((scatter, normal.inverse()?));
            for (unknown, change) in free.iter().zip(&step) {
                self.values[*unknown] += change * STEPS[*unknown];
            }
            self.values[K1] = self.values[K1].clamp(-0.4, 0.4);
            self.values[K2] = self.values[K2].clamp(-0.2, 0.2);
            if self.values.iter().any(|value| !value.is_finite()) {
                return None;
            }
            if round > 2 && step.iter().all(|change| change.abs() < 1e-3) {
                break;
            }
        }
        out
    }
}

/// The line through two points as (normal, offset), the normal of length 1.
fn line_through(p: [f64; 2], q: [f64; 2]) -> [f64; 3] {
    let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
    let length = libm::hypot(dx, dy);
    let (a, b) = (-dy / length, dx / length);
    [a, b, -(a * p[0] + b * p[1])]
}

/// The map of the unit square to four corners (P. S. Heckbert, "Fundamentals of texture mapping and
/// image warping", 1989, section 2.2.3).
fn unit_square_to([p0, p1, p2, p3]: [[f64; 2]; 4]) -> Homography {
    let d1 = [p1[0] - p2[0], p1[1] - p2[1]];
    let d2 = [p3[0] - p2[0], p3[1] - p2[1]];
    let s = [p0[0] - p1[0] + p2[0] - p3[0], p0[1] - p1[1] + p2[1] - p3[1]];
    let under = d1[0] * d2[1] - d2[0] * d1[1];
    let g = (s[0] * d2[1] - d2[0] * s[1]) / under;
    let h = (d1[0] * s[1] - s[0] * d1[1]) / under;
    Homography {
        rows: [
            [p1[0] - p0[0] + g * p1[0], p3[0] - p0[0] + h * p3[0], p0[0]],
            [p1[1] - p0[1] + g * p1[1], p3[1] - p0[1] + h * p3[1], p0[1]],
            [g, h, 1.0],
        ],
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
    let mut adjustment = Adjustment { values: [0.0; UNKNOWNS], before: [free; UNKNOWNS], on_sheet: false, straight };
    adjustment.before[K1] = (0.0, USUAL_LENS[0]);
    adjustment.before[K2] = (0.0, USUAL_LENS[1]);
    adjustment.values[SCALE] = 1.0;
    adjustment.before[SHOWN..].fill(fixed);
    let finder = Finder { grey, filter: Filter::new(), least: (4.0 * noise).clamp(4.0, 14.0) };
    let mut notes = Vec::new();
    let mut found = Vec::new();
    let (taps, what) = match *reference {
        Reference::Corners { taps, width, depth, within } => {
            check_side("the plate's width", width)?;
            check_side("the plate's depth", depth)?;
            check_play("the play of the plate's size", within, width.min(depth) / 10.0)?;
            check_taps(&taps, photo)?;
            adjustment.values[..8].copy_from_slice(taps.as_flattened());
            adjustment.values[WIDTH] = width;
            adjustment.values[DEPTH] = depth;
            for unknown in [X, Y, TURN, SCALE] {
                adjustment.before[unknown] = fixed;
            }
            adjustment.before[WIDTH] = (width, within / 2.0);
            adjustment.before[DEPTH] = (depth, within / 2.0);
            (Some(taps), "plate's edges")
        }
        Reference::Sheet { check_line, within, plate } => {
            if !(CHECK_LINE * 0.5..=CHECK_LINE * 2.0).contains(&check_line) {
                let would_do = format!("it is {CHECK_LINE} mm where the print is true; measure it with a steel rule");
                return Err(PhotoError::Value { field: "the check line", value: check_line, would_do });
            }
            check_play("the play of the check line", within, 10.0)?;
            if let Some(taps) = &plate {
                check_taps(taps, photo)?;
            }
            found = marker::find(grey);
            let markers = found.len();
            if markers < 2 {
                return Err(PhotoError::Markers { found: markers });
            }
            if markers < 4 {
                notes.push(format!(
                    "{markers} of the sheet's 4 markers are seen: places far from them are less certain"
                ));
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
                check_side("the plate's width by the sheet", adjustment.values[WIDTH])?;
                check_side("the plate's depth by the sheet", adjustment.values[DEPTH])?;
                for unknown in [X, Y, TURN, WIDTH, DEPTH] {
                    adjustment.before[unknown] = free;
                }
            }
            (plate, "markers and edges")
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
    for round in 0..3 {
        if round > 0 || taps.is_none() {
            seen = finder.plate_again(&adjustment, taps.is_some()).ok_or_else(|| misfit(f64::NAN))?;
        }
        for one in &found {
            let corners = adjustment.marker_corners(one.id);
            for side in 0..4 {
                seen.extend(finder.marker_side(one.id, side, &corners));
            }
        }
        known = adjustment.adjust(&seen);
        if taps.is_some() && round == 0 {
            adjustment.expect_sides();
        }
    }
    let (scatter, covariance) = known.ok_or_else(|| misfit(f64::NAN))?;
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
    let size_within = [WIDTH, DEPTH].map(|unknown| {
        let at = free.iter().position(|one| *one == unknown);
        at.map_or(0.0, |at| 2.0 * covariance[at * free.len() + at].max(0.0).sqrt() * STEPS[unknown])
    });
    let corners = adjustment.plate_corners().map(|corner| map.pixel(corner));
    let shift = map.lens.largest_shift() / map.lens.half_diagonal;
    if shift > 0.08 {
        notes.push(format!(
            "the lens bends strongly ({:.0} % at the picture's corners): stand back and use the main lens",
            shift * 100.0
        ));
    }
    let (least, _) = map.pixels_per_mm([size[0] / 2.0, size[1] / 2.0]);
    if least < 2.0 {
        notes.push(format!(
            "the photo shows the plate with {least:.1} pixels a millimetre: go nearer for finer measures"
        ));
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
        stand: Stand::of(&map),
        noise,
        wobble,
        covariance,
    })
}

fn check_side(field: &'static str, value: f64) -> Result<(), PhotoError> {
    let [least, most] = PLATE_SIDES;
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(PhotoError::Value {
        field,
        value,
        would_do: format!("{least} to {most} mm is read: measure the plate and enter its size"),
    })
}

fn check_play(field: &'static str, value: f64, most: f64) -> Result<(), PhotoError> {
    if (0.0..=most).contains(&value) {
        return Ok(());
    }
    Err(PhotoError::Value { field, value, would_do: format!("0 to {most:.0} mm makes sense") })
}

/// Whether the taps go round a quadrilateral in the right order, inside the photo, large enough.
fn check_taps(taps: &[[f64; 2]; 4], photo: &Photo) -> Result<(), PhotoError> {
    let refuse = |why: String| Err(PhotoError::Corners(why));
    let limits = [f64::from(photo.width()), f64::from(photo.height())];
    for (at, tap) in taps.iter().enumerate() {
        if !(0..2).all(|axis| (0.0..=limits[axis]).contains(&tap[axis])) {
            return refuse(format!("corner {} is at {:.0}, {:.0}, outside the photo", at + 1, tap[0], tap[1]));
        }
    }
    if !marker::is_convex(taps) {
        let [a, b, c, d] = *taps;
        return refuse(
            if marker::is_convex(&[d, c, b, a]) {
                "the corners were tapped the other way round"
            } else {
                "the corners form no convex quadrilateral"
            }
            .into(),
        );
    }
    for i in 0..4 {
        let (p, q) = (taps[i], taps[(i + 1) % 4]);
        let length = libm::hypot(q[0] - p[0], q[1] - p[1]);
        if length < 40.0 {
            return refuse(format!("the {} edge is only {length:.0} pixels long", EDGES[i]));
        }
    }
    Ok(())
}

/// Looks for edges in the photo.
struct Finder<'a> {
    grey: Grey<'a>,
    filter: Filter,
    /// Least step in grey levels that counts.
    least: f64,
}

/// Profiles across an edge: where each starts, ends, and its steps.
struct Across {
    start: [f64; 2],
    end: [f64; 2],
    /// Place along the edge, from -1 to 1.
    place: f64,
    steps: Vec<Step>,
}

impl Finder<'_> {
    /// The plate's edge near the line between two taps: of all gentle curves near it the one that
    /// most profiles have a step on. `length` is the edge's in millimetres.
    fn plate_edge(&self, taps: &[[f64; 2]; 4], edge: usize, length: f64) -> Result<Vec<Seen>, PhotoError> {
        let missing = PhotoError::Edge { edge: EDGES[edge] };
        let (p, q) = (taps[edge], taps[(edge + 1) % 4]);
        let pixels = libm::hypot(q[0] - p[0], q[1] - p[1]);
        let (dx, dy) = ((q[0] - p[0]) / pixels, (q[1] - p[1]) / pixels);
        // With the corners clockwise as seen, the inside is to the right of the way from one to the next.
        let inward = [-dy, dx];
        let longest = (0..4)
            .map(|i| libm::hypot(taps[(i + 1) % 4][0] - taps[i][0], taps[(i + 1) % 4][1] - taps[i][1]))
            .fold(0.0, f64::max);
        // Fingers miss by some millimetres; a bent edge bulges by a share of its length.
        let reach = (0.03 * longest).max(14.0);
        let count = ((pixels / 6.0) as usize).clamp(40, 160);
        let profiles: Vec<Across> = (0..count)
            .map(|i| {
                let share = 0.03 + 0.94 * i as f64 / (count - 1) as f64;
                let middle = [p[0] + dx * pixels * share, p[1] + dy * pixels * share];
                let start = [middle[0] + inward[0] * reach, middle[1] + inward[1] * reach];
                let end = [middle[0] - inward[0] * reach, middle[1] - inward[1] * reach];
                let mut steps = self.filter.steps(self.grey, start, end, 2, self.least);
                // The eight strongest will do.
                steps.sort_by(|a, b| b.rise.abs().total_cmp(&a.rise.abs()));
                steps.truncate(8);
                Across { start, end, place: 2.0 * share - 1.0, steps }
            })
            .collect();
        let side = VISIBLE_SIDE * pixels / length;
        let curve = consensus(&profiles, reach, pixels, side).ok_or(missing.clone())?;
        let mut seen = Vec::new();
        for profile in &profiles {
            let wanted = at_place(&curve, profile.place);
            let near = profile.steps.iter().min_by(|a, b| (a.at - wanted).abs().total_cmp(&(b.at - wanted).abs()));
            if let Some(step) = near.filter(|step| (step.at - wanted).abs() < 2.5) {
                seen.push(Seen { pixel: along(profile.start, profile.end, step.at), line: Line::Plate(edge) });
            }
        }
        if seen.len() * 3 < profiles.len() { Err(missing) } else { Ok(seen) }
    }

    /// The plate's edges again, right where the adjustment has them.
    fn plate_again(&self, adjustment: &Adjustment, plate: bool) -> Option<Vec<Seen>> {
        let mut seen = Vec::new();
        if !plate {
            return Some(seen);
        }
        let map = adjustment.map()?;
        let corners = adjustment.plate_corners();
        for edge in 0..4 {
            let (p, q) = (corners[edge], corners[(edge + 1) % 4]);
            let (a, b) = (map.pixel(p), map.pixel(q));
            let pixels = libm::hypot(b[0] - a[0], b[1] - a[1]);
            let length = libm::hypot(q[0] - p[0], q[1] - p[1]);
            let inward = [-(q[1] - p[1]) / length, (q[0] - p[0]) / length];
            let count = ((pixels / 5.0) as usize).clamp(40, 400);
            for i in 0..count {
                let share = 0.02 + 0.96 * i as f64 / (count - 1) as f64;
                let on = [p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share];
                let middle = map.pixel(on);
                let inside = map.pixel([on[0] + inward[0], on[1] + inward[1]]);
                // The nearest, not the strongest: the plate's side may stand out more than its face.
                let pixel =
                    self.step_near(
                        middle,
                        inside,
                        4.0,
                        2,
                        |step, off, top| {
                            if step.rise.abs() < 0.12 * top { 0.0 } else { 5.0 - off }
                        },
                    );
                seen.extend(pixel.map(|pixel| Seen { pixel, line: Line::Plate(edge) }));
            }
        }
        Some(seen)
    }

    /// A marker's side: dark inside, bright outside.
    fn marker_side(&self, id: usize, side: usize, corners: &[[f64; 2]; 4]) -> Vec<Seen> {
        let (p, q) = (corners[side], corners[(side + 1) % 4]);
        let pixels = libm::hypot(q[0] - p[0], q[1] - p[1]);
        let (dx, dy) = ((q[0] - p[0]) / pixels, (q[1] - p[1]) / pixels);
        let count = ((pixels / 3.0) as usize).clamp(6, 60);
        (0..count)
            .filter_map(|i| {
                let share = 0.06 + 0.88 * i as f64 / (count - 1) as f64;
                let middle = [p[0] + dx * pixels * share, p[1] + dy * pixels * share];
                let inside = [middle[0] - dy, middle[1] + dx];
                let pixel =
                    self.step_near(middle, inside, 4.0, 1, |step, off, _| step.rise * (1.0 - off * off / 25.0))?;
                Some(Seen { pixel, line: Line::Marker(id, side) })
            })
            .collect()
    }

    /// The step that is worth most within `reach` pixels of `middle`, on the line from `inside` out.
    fn step_near(
        &self,
        middle: [f64; 2],
        inside: [f64; 2],
        reach: f64,
        lanes: i32,
        worth: impl Fn(&Step, f64, f64) -> f64,
    ) -> Option<[f64; 2]> {
        let (dx, dy) = (inside[0] - middle[0], inside[1] - middle[1]);
        let length = libm::hypot(dx, dy);
        let half = reach + 5.0;
        let (dx, dy) = (dx / length * half, dy / length * half);
        let (start, end) = ([middle[0] + dx, middle[1] + dy], [middle[0] - dx, middle[1] - dy]);
        let steps = self.filter.steps(self.grey, start, end, lanes, self.least);
        let top = steps.iter().map(|step| step.rise.abs()).fold(0.0, f64::max);
        let best = steps
            .iter()
            .map(|step| (step, (step.at - half).abs()))
            .filter(|(_, off)| *off <= reach)
            .map(|(step, off)| (step, worth(step, off, top)))
            .filter(|(_, worth)| *worth > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(along(start, end, best.0.at))
    }
}

impl Adjustment {
    /// Lets the edges whose side faces the camera lie a little outside: where the side is too narrow
    /// to be told from the face, the step seen is somewhere between its two edges.
    fn expect_sides(&mut self) {
        let Some(stand) = self.map().and_then(|map| Stand::of(&map)) else { return };
        let corners = self.plate_corners();
        for edge in 0..4 {
            let (p, q) = (corners[edge], corners[(edge + 1) % 4]);
            let [x, y] = stand.slant([(p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0]);
            let shown = -[-y, x, y, -x][edge];
            if shown > 0.02 {
                self.before[SHOWN + edge] = (0.0, (0.5 * USUAL_THICKNESS * shown).min(0.6));
            }
        }
    }

    /// A marker's corners in the photo.
    fn marker_corners(&self, id: usize) -> [[f64; 2]; 4] {
        let (base, lens, s) = (self.base_map(), self.lens(), self.values[SCALE]);
        marker::corners_on_sheet(id).map(|corner| lens.bend(base.apply(corner.map(|number| number * s))))
    }
}

/// Offset of a curve (middle, slope, bulge) at a place from -1 to 1.
fn at_place(curve: &[f64; 3], place: f64) -> f64 {
    curve[0] + curve[1] * place + curve[2] * (1.0 - place * place)
}

/// The curve across the profiles that most of them have a step on; of two as good within a plate's
/// visible side (`side`, in pixels), the inner one.
fn consensus(profiles: &[Across], reach: f64, pixels: f64, side: f64) -> Option<[f64; 3]> {
    let usable: Vec<&Across> = profiles.iter().filter(|profile| !profile.steps.is_empty()).collect();
    if usable.len() < 12 {
        return None;
    }
    // The same choices every time: a fixed sequence (Knuth's MMIX multiplier).
    let mut state = 0x5851_f42d_4c95_7f2du64;
    let mut next = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as usize) % below.max(1)
    };
    let mut tried: Vec<(f64, [f64; 3])> = Vec::new();
    let third = usable.len() / 3;
    for _ in 0..700 {
        let picks = [next(third), third + next(third), 2 * third + next(usable.len() - 2 * third)];
        let points = picks.map(|pick| {
            let profile = usable[pick];
            let step = profile.steps[next(profile.steps.len().min(4))];
            (profile.place, step.at)
        });
        let Some(curve) = curve_through(points) else { continue };
        // A lens bulges an edge by a few hundredths of its length at most, and taps miss by the reach.
        if curve[2].abs() > 0.035 * pixels || curve[1].abs() > reach || (curve[0] + curve[2] - reach).abs() > reach {
            continue;
        }
        tried.push((worth(profiles, &curve, 2.0), curve));
    }
    let best = tried.iter().map(|(worth, _)| *worth).reduce(f64::max)?;
    // The line runs from inside out: the smaller offset is the inner one.
    let outer = tried.iter().filter(|(worth, _)| *worth == best).map(|(_, curve)| *curve).next()?;
    let middle = |curve: &[f64; 3]| curve[0] + curve[2] * 0.67;
    let inner = tried
        .iter()
        .filter(|(worth, curve)| {
            let inside = middle(&outer) - middle(curve);
            let ends = [-1.0, 1.0].map(|place| at_place(&outer, place) - at_place(curve, place));
            *worth > 0.6 * best && (2.5..=side.max(3.0)).contains(&inside) && ends.iter().all(|end| *end > 1.0)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, curve)| *curve);
    let mut curve = inner.unwrap_or(outer);
    for _ in 0..3 {
        let mut normal = Normal::new(3);
        for profile in profiles {
            let wanted = at_place(&curve, profile.place);
            for step in &profile.steps {
                let off = step.at - wanted;
                if off.abs() < 2.5 {
                    let place = profile.place;
                    normal.add(&[1.0, place, 1.0 - place * place], off, 1.0);
                }
            }
        }
        let Some(change) = normal.solve() else { break };
        for (value, change) in curve.iter_mut().zip(change) {
            *value += change;
        }
    }
    (worth(profiles, &curve, 2.0) > 0.3 * profiles.len() as f64).then_some(curve)
}

/// How many profiles have a step on the curve, each counted by nearness and, for faint ones, height.
fn worth(profiles: &[Across], curve: &[f64; 3], within: f64) -> f64 {
    profiles
        .iter()
        .map(|profile| {
            let wanted = at_place(curve, profile.place);
            profile
                .steps
                .iter()
                .map(|step| {
                    let off = (step.at - wanted) / within;
                    (1.0 - off * off).max(0.0) * (step.rise.abs() / 12.0).min(1.0)
                })
                .fold(0.0, f64::max)
        })
        .sum()
}

/// The curve through three points of different places.
fn curve_through([(x0, y0), (x1, y1), (x2, y2)]: [(f64, f64); 3]) -> Option<[f64; 3]> {
    if x1 - x0 < 0.1 || x2 - x1 < 0.1 {
        return None;
    }
    // y = a + b·x + c·(1 - x²), by divided differences.
    let first = (y1 - y0) / (x1 - x0);
    let second = ((y2 - y1) / (x2 - x1) - first) / (x2 - x0);
    let c = -second;
    let b = first - second * (x0 + x1);
    let a = y0 - b * x0 - c * (1.0 - x0 * x0);
    Some([a, b, c])
}
