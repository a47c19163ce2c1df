//! Least squares over everything seen at once: the projective map, the lens, the plate's place on the
//! sheet, its size, and how far the sheet lies off the plane of the plate's face.

use super::homography::Homography;
use super::lens::{Lens, PlaneMap, Stand};
use super::linear::{Normal, median};
use super::marker;

/// Unknowns of the adjustment: four corners of the base in straightened pixels, the lens's two
/// terms, the plate's place and turn on the sheet, its size, the sheet's scale, how far outside the
/// face's edge each edge was seen, how high the sheet as a whole lies above the face, and each
/// marker's own height and two slopes.
pub(super) const UNKNOWNS: usize = 33;
pub(super) const K1: usize = 8;
pub(super) const K2: usize = 9;
pub(super) const X: usize = 10;
pub(super) const Y: usize = 11;
pub(super) const TURN: usize = 12;
pub(super) const WIDTH: usize = 13;
pub(super) const DEPTH: usize = 14;
pub(super) const SCALE: usize = 15;
pub(super) const SHOWN: usize = 16;
pub(super) const LIFT: usize = 20;
pub(super) const CURL: usize = 21;
/// Step for the derivative by each unknown.
pub(super) const STEPS: [f64; UNKNOWNS] = [
    0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 1e-4, 1e-4, 0.01, 0.01, 1e-5, 0.01, 0.01, 1e-6, 0.01, 0.01, 0.01,
    0.01, 0.01, 0.01, 1e-3, 1e-3, 0.01, 1e-3, 1e-3, 0.01, 1e-3, 1e-3, 0.01, 1e-3, 1e-3,
];
/// How high above or below the face the sheet lies as a whole, in millimetres (standard deviation): on
/// the plate, level beside it, or on the ground a sheet's thickness of steel below. Steel of 3.4 mm, the
/// thickest reckoned with, is within two of them. Ours.
const USUAL_LIFT: f64 = 1.7;
/// How much higher or lower one marker lies by the sheet's curl, in millimetres (standard deviation).
/// With [`USUAL_LIFT`] a marker is within some 4 mm of the face 95 times of 100. Ours.
const USUAL_CURL: f64 = 1.0;
/// Slope of a marker by the sheet's curl (standard deviation). Ours.
const USUAL_SLOPE: f64 = 0.04;
/// How strong lenses are before anything is seen (standard deviation of k1 and k2): the lenses of
/// hand-held devices stay well within. Our choice; only a plate small in the photo rests on it.
pub(super) const USUAL_LENS: [f64; 2] = [0.1, 0.03];
/// Least scatter of an edge point that is believed, in pixels.
pub(super) const LEAST_SCATTER: f64 = 0.1;

/// What an edge point lies on.
#[derive(Clone, Copy, Debug)]
pub(super) enum Line {
    Plate(usize),
    Marker(usize, usize),
}

/// A point seen on an edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    pub(super) pixel: [f64; 2],
    pub(super) line: Line,
}

/// The adjustment's state.
#[derive(Clone)]
pub(super) struct Adjustment {
    pub(super) values: [f64; UNKNOWNS],
    /// Standard deviation of what is known beforehand; 0 for what is fixed, infinite for what is free.
    pub(super) before: [(f64, f64); UNKNOWNS],
    pub(super) on_sheet: bool,
    pub(super) straight: Lens,
    /// Where the camera stood in the sheet's frame: what a height does is told from there.
    pub(super) stand: Option<Stand>,
}

impl Adjustment {
    pub(super) fn base(&self) -> [f64; 4] {
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
    pub(super) fn base_map(&self) -> Homography {
        let [left, top, right, bottom] = self.base();
        let (w, h) = (right - left, bottom - top);
        let to_unit = Homography { rows: [[1.0 / w, 0.0, -left / w], [0.0, 1.0 / h, -top / h], [0.0, 0.0, 1.0]] };
        unit_square_to(std::array::from_fn(|i| [self.values[2 * i], self.values[2 * i + 1]])).after(&to_unit)
    }

    /// What is expected of a sheet that nobody weighed down: some height, some curl.
    pub(super) fn expect_curl(&mut self) {
        self.before[LIFT] = (0.0, USUAL_LIFT);
        for (at, before) in self.before[CURL..].iter_mut().enumerate() {
            *before = (0.0, if at % 3 == 0 { USUAL_CURL } else { USUAL_SLOPE });
        }
    }

    /// A marker's corners as the line of sight has them on the plane of the face: a point above it is
    /// seen further from the camera's foot.
    fn marker_on_face(&self, id: usize) -> [[f64; 2]; 4] {
        let s = self.values[SCALE];
        let corners = marker::corners_on_sheet(id).map(|corner| corner.map(|number| number * s));
        let Some(stand) = self.stand else { return corners };
        let middle = [0, 1].map(|axis| f64::midpoint(corners[0][axis], corners[2][axis]));
        let [curl, across, down] = std::array::from_fn(|i| self.values[CURL + 3 * id + i]);
        corners.map(|[x, y]| {
            let height = self.values[LIFT] + curl + across * (x - middle[0]) + down * (y - middle[1]);
            let slant = stand.slant([x, y]);
            [x + height * slant[0], y + height * slant[1]]
        })
    }

    /// Plate to base.
    pub(super) fn pose(&self) -> Homography {
        let (s, c) = (libm::sin(self.values[TURN]), libm::cos(self.values[TURN]));
        Homography { rows: [[c, -s, self.values[X]], [s, c, self.values[Y]], [0.0, 0.0, 1.0]] }
    }

    pub(super) fn lens(&self) -> Lens {
        Lens { k1: self.values[K1], k2: self.values[K2], ..self.straight }
    }

    pub(super) fn plate_corners(&self) -> [[f64; 2]; 4] {
        let (w, d) = (self.values[WIDTH], self.values[DEPTH]);
        [[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]]
    }

    pub(super) fn map(&self) -> Option<PlaneMap> {
        let to_photo = self.base_map().after(&self.pose());
        Some(PlaneMap { to_photo, to_plane: to_photo.inverse()?, lens: self.lens() })
    }

    fn stand_on_sheet(&self) -> Option<Stand> {
        let to_photo = self.base_map();
        let map = PlaneMap { to_photo, to_plane: to_photo.inverse()?, lens: self.lens() };
        Stand::of(&map).filter(|_| self.on_sheet)
    }

    /// All lines in straightened pixels, as (normal, offset): four of the plate, then four a marker.
    pub(super) fn lines(&self) -> [[f64; 3]; 20] {
        let base = self.base_map();
        let plate = base.after(&self.pose());
        let corners = self.plate_corners();
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
                let on = self.marker_on_face(id).map(|corner| base.apply(corner));
                for side in 0..4 {
                    out[4 + id * 4 + side] = line_through(on[side], on[(side + 1) % 4]);
                }
            }
        }
        out
    }

    pub(super) fn residuals(&self, seen: &[Seen]) -> Vec<f64> {
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

    pub(super) fn free(&self) -> Vec<usize> {
        (0..UNKNOWNS).filter(|i| self.before[*i].1 > 0.0).collect()
    }

    pub(super) fn moved(&self, unknown: usize, by: f64) -> Self {
        let mut moved = self.clone();
        moved.values[unknown] += by;
        moved
    }

    /// Runs the adjustment: robust Gauss-Newton with the residuals weighed down as they grow
    /// (Cauchy's weight). Gives the scatter and the covariance of the free unknowns in steps.
    pub(super) fn adjust(&mut self, seen: &[Seen]) -> Option<(f64, Vec<f64>)> {
        let free = self.free();
        let n = free.len();
        let mut out = None;
        for round in 0..10 {
            self.stand = self.stand_on_sheet();
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

impl Adjustment {
    /// A marker's corners in the photo.
    pub(super) fn marker_corners(&self, id: usize) -> [[f64; 2]; 4] {
        let (base, lens) = (self.base_map(), self.lens());
        self.marker_on_face(id).map(|corner| lens.bend(base.apply(corner)))
    }
}
