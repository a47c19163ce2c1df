//! The projective map between two planes, by least squares over any number of points.
//!
//! Method: direct linear transform on points moved and scaled to the origin (R. Hartley, "In
//! defense of the eight-point algorithm", IEEE Trans. PAMI 19 (1997) 580), then Gauss-Newton on the
//! sum of squared distances in the target plane (R. Hartley, A. Zisserman, "Multiple View Geometry
//! in Computer Vision", 2nd ed., algorithm 4.2 and section 4.5).

use survey::say;

use super::PhotoError;
use super::linear::{Normal, eigen9};

/// A projective map of one plane to another; the last number is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography {
    /// The matrix, row by row.
    pub rows: [[f64; 3]; 3],
}

impl Homography {
    /// The map that changes nothing.
    pub const IDENTITY: Self = Self { rows: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]] };

    /// The map that brings each `from` point nearest to its `to` point, in the sense of least
    /// squares in the target plane. Four points in general position fix it; more are averaged.
    ///
    /// # Errors
    /// [`PhotoError::Points`] where there are fewer than four pairs, a number is not finite, or
    /// the points lie on a line (or all but one do).
    pub fn fit(from: &[[f64; 2]], to: &[[f64; 2]]) -> Result<Self, PhotoError> {
        let refuse = |why| Err(PhotoError::Points(why));
        if from.len() != to.len() || from.len() < 4 {
            return refuse(say!("photo-points-few"));
        }
        if from.iter().chain(to).flatten().any(|number| !number.is_finite()) {
            return refuse(say!("photo-points-number"));
        }
        let (Some(source), Some(target)) = (Frame::of(from), Frame::of(to)) else {
            return refuse(say!("photo-points-one"));
        };
        let near: Vec<[f64; 2]> = from.iter().map(|point| source.enter(*point)).collect();
        let far: Vec<[f64; 2]> = to.iter().map(|point| target.enter(*point)).collect();
        let Some(start) = direct(&near, &far) else {
            return refuse(say!("photo-points-line"));
        };
        let refined = refine(start, &near, &far);
        // Back out of the two frames: T⁻¹ · H · S.
        let inner = Self { rows: refined };
        let whole = target.leave_map().after(&inner).after(&source.enter_map());
        whole.scaled().ok_or_else(|| PhotoError::Points(say!("photo-points-no-map")))
    }

    /// Where a point goes. Points on the horizon give numbers that are not finite.
    #[must_use]
    pub fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [a, b, c] = self.rows;
        let w = c[0] * x + c[1] * y + c[2];
        [(a[0] * x + a[1] * y + a[2]) / w, (b[0] * x + b[1] * y + b[2]) / w]
    }

    /// The map back; `None` where there is none.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let [a, b, c] = self.rows;
        let cofactor = |p: f64, q: f64, r: f64, s: f64| p * s - q * r;
        let rows = [
            [cofactor(b[1], b[2], c[1], c[2]), cofactor(a[2], a[1], c[2], c[1]), cofactor(a[1], a[2], b[1], b[2])],
            [cofactor(b[2], b[0], c[2], c[0]), cofactor(a[0], a[2], c[0], c[2]), cofactor(a[2], a[0], b[2], b[0])],
            [cofactor(b[0], b[1], c[0], c[1]), cofactor(a[1], a[0], c[1], c[0]), cofactor(a[0], a[1], b[0], b[1])],
        ];
        Self { rows }.scaled()
    }

    /// This map after another.
    #[must_use]
    pub fn after(&self, first: &Self) -> Self {
        let rows = std::array::from_fn(|i| {
            std::array::from_fn(|j| (0..3).map(|k| self.rows[i][k] * first.rows[k][j]).sum::<f64>())
        });
        Self { rows }
    }

    /// Scaled so that the last number is 1.
    fn scaled(&self) -> Option<Self> {
        let last = self.rows[2][2];
        let rows = self.rows.map(|row| row.map(|number| number / last));
        rows.iter().flatten().all(|number| number.is_finite()).then_some(Self { rows })
    }

    /// How the target moves with the source, at a point: rows are d(u, v) by d(x, y).
    pub(super) fn slope(&self, [x, y]: [f64; 2]) -> [[f64; 2]; 2] {
        let [a, b, c] = self.rows;
        let w = c[0] * x + c[1] * y + c[2];
        let [u, v] = self.apply([x, y]);
        [[(a[0] - u * c[0]) / w, (a[1] - u * c[1]) / w], [(b[0] - v * c[0]) / w, (b[1] - v * c[1]) / w]]
    }
}

/// A frame in which the points have their middle at the origin and a mean distance of √2 from it.
struct Frame {
    middle: [f64; 2],
    scale: f64,
}

impl Frame {
    fn of(points: &[[f64; 2]]) -> Option<Self> {
        let count = points.len() as f64;
        let middle = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count);
        let spread =
            points.iter().map(|point| libm::hypot(point[0] - middle[0], point[1] - middle[1])).sum::<f64>() / count;
        let scale = std::f64::consts::SQRT_2 / spread;
        (scale.is_finite() && scale > 0.0).then_some(Self { middle, scale })
    }

    fn enter(&self, point: [f64; 2]) -> [f64; 2] {
        [(point[0] - self.middle[0]) * self.scale, (point[1] - self.middle[1]) * self.scale]
    }

    fn enter_map(&self) -> Homography {
        let (s, [x, y]) = (self.scale, self.middle);
        Homography { rows: [[s, 0.0, -s * x], [0.0, s, -s * y], [0.0, 0.0, 1.0]] }
    }

    fn leave_map(&self) -> Homography {
        let (s, [x, y]) = (1.0 / self.scale, self.middle);
        Homography { rows: [[s, 0.0, x], [0.0, s, y], [0.0, 0.0, 1.0]] }
    }
}

/// The direct linear transform: the vector that the equations shrink most.
fn direct(from: &[[f64; 2]], to: &[[f64; 2]]) -> Option<[[f64; 3]; 3]> {
    let mut normal = [[0.0; 9]; 9];
    for ([x, y], [u, v]) in from.iter().zip(to) {
        let rows = [[*x, *y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u], [0.0, 0.0, 0.0, *x, *y, 1.0, -v * x, -v * y, -v]];
        for row in rows {
            for i in 0..9 {
                for j in 0..9 {
                    normal[i][j] += row[i] * row[j];
                }
            }
        }
    }
    let (values, vectors) = eigen9(&normal);
    // A second vector as good as the first means that the points do not fix the map.
    if values[1] < 1e-9 * values[8] {
        return None;
    }
    let h: [f64; 9] = std::array::from_fn(|i| vectors[i][0]);
    let rows = [[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], h[8]]];
    // In these frames the origin lies amid the points, so it is never on the horizon of a sound map.
    Homography { rows }.scaled().map(|map| map.rows)
}

/// Gauss-Newton on the distances in the target plane, damped where a step would make it worse.
fn refine(start: [[f64; 3]; 3], from: &[[f64; 2]], to: &[[f64; 2]]) -> [[f64; 3]; 3] {
    let cost = |rows: &[[f64; 3]; 3]| -> f64 {
        let map = Homography { rows: *rows };
        from.iter()
            .zip(to)
            .map(|(source, target)| {
                let [u, v] = map.apply(*source);
                (u - target[0]) * (u - target[0]) + (v - target[1]) * (v - target[1])
            })
            .sum()
    };
    let mut best = start;
    let mut least = cost(&best);
    let mut damping = 0.0;
    for _ in 0..60 {
        let mut normal = Normal::new(8);
        let map = Homography { rows: best };
        for ([x, y], target) in from.iter().zip(to) {
            let w = best[2][0] * x + best[2][1] * y + 1.0;
            let [u, v] = map.apply([*x, *y]);
            normal.add(&[x / w, y / w, 1.0 / w, 0.0, 0.0, 0.0, -u * x / w, -u * y / w], target[0] - u, 1.0);
            normal.add(&[0.0, 0.0, 0.0, x / w, y / w, 1.0 / w, -v * x / w, -v * y / w], target[1] - v, 1.0);
        }
        for i in 0..8 {
            normal.matrix[i * 9] *= 1.0 + damping;
        }
        let Some(step) = normal.solve() else { break };
        let mut next = best;
        for (i, change) in step.iter().enumerate() {
            next[i / 3][i % 3] += change;
        }
        let reached = cost(&next);
        if reached <= least {
            best = next;
            least = reached;
            damping *= 0.1;
            if step.iter().all(|change| change.abs() < 1e-15) {
                break;
            }
        } else if step.iter().all(|change| change.abs() < 1e-9) {
            break;
        } else {
            damping = if damping == 0.0 { 1e-6 } else { damping * 10.0 };
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [300.0, 0.0], [300.0, 120.0], [0.0, 120.0]];

    #[test]
    fn four_points_are_met() {
        let seen = [[410.0, 300.0], [1610.0, 260.0], [1550.0, 800.0], [450.0, 770.0]];
        let map = Homography::fit(&SQUARE, &seen).unwrap();
        for (source, target) in SQUARE.iter().zip(seen) {
            let [u, v] = map.apply(*source);
            assert!((u - target[0]).abs() < 1e-9 && (v - target[1]).abs() < 1e-9);
            let back = map.inverse().unwrap().apply(target);
            assert!((back[0] - source[0]).abs() < 1e-9 && (back[1] - source[1]).abs() < 1e-9);
        }
    }

    #[test]
    fn points_that_fix_no_map_are_refused() {
        let line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]];
        let nan = [[f64::NAN, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        for bad in [&line[..], &nan[..], &[[5.0, 5.0]; 4][..], &SQUARE[..3]] {
            assert!(Homography::fit(bad, &SQUARE[..bad.len()]).is_err(), "{bad:?}");
            assert!(Homography::fit(&SQUARE[..bad.len()], bad).is_err(), "{bad:?}");
        }
    }
}
