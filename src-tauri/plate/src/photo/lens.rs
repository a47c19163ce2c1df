//! From the photo's pixels to the plate's millimetres and back: radial lens distortion, then the
//! projective map.
//!
//! Pixels here and everywhere in this module run from 0 to the picture's width and height: the
//! middle of the first pixel is at 0.5, 0.5.

use super::homography::Homography;

/// Radial distortion about the middle of the picture, as the correction of a seen point:
/// `middle + (seen - middle) · (1 + k1·r² + k2·r⁴)`, where `r` is the distance from the middle in
/// half diagonals (after D. C. Brown, "Close-range camera calibration", Photogrammetric
/// Engineering 37 (1971) 855, radial terms only).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    /// Middle of the picture in pixels.
    pub middle: [f64; 2],
    /// Half the picture's diagonal in pixels.
    pub half_diagonal: f64,
    /// First term; above 0 where the picture's edges bulge (barrel).
    pub k1: f64,
    /// Second term.
    pub k2: f64,
}

impl Lens {
    /// A lens that bends nothing, for a picture of this size.
    #[must_use]
    pub fn straight(width: u32, height: u32) -> Self {
        let (w, h) = (f64::from(width), f64::from(height));
        let half_diagonal = (libm::hypot(w, h) / 2.0).max(1.0);
        Self { middle: [w / 2.0, h / 2.0], half_diagonal, k1: 0.0, k2: 0.0 }
    }

    /// Where the point would be seen through a lens that bends nothing.
    #[must_use]
    pub fn straighten(&self, seen: [f64; 2]) -> [f64; 2] {
        let (x, y) = ((seen[0] - self.middle[0]) / self.half_diagonal, (seen[1] - self.middle[1]) / self.half_diagonal);
        let r2 = x * x + y * y;
        let factor = 1.0 + self.k1 * r2 + self.k2 * r2 * r2;
        [self.middle[0] + (seen[0] - self.middle[0]) * factor, self.middle[1] + (seen[1] - self.middle[1]) * factor]
    }

    /// Where a straight point is seen: [`Lens::straighten`] turned round, by Newton's method.
    #[must_use]
    pub fn bend(&self, straight: [f64; 2]) -> [f64; 2] {
        let x = straight[0] - self.middle[0];
        let y = straight[1] - self.middle[1];
        let target = (x * x + y * y).sqrt() / self.half_diagonal;
        if target < 1e-12 || (self.k1 == 0.0 && self.k2 == 0.0) {
            return straight;
        }
        let mut r = target;
        for _ in 0..8 {
            let r2 = r * r;
            let value = r * (1.0 + self.k1 * r2 + self.k2 * r2 * r2) - target;
            let slope = 1.0 + 3.0 * self.k1 * r2 + 5.0 * self.k2 * r2 * r2;
            let step = value / slope.max(0.2);
            r -= step;
            if step.abs() < 1e-12 {
                break;
            }
        }
        let factor = r / target;
        [self.middle[0] + x * factor, self.middle[1] + y * factor]
    }

    /// Largest shift of a point inside the picture, in pixels.
    #[must_use]
    pub fn largest_shift(&self) -> f64 {
        (1..=20)
            .map(|i| {
                let r = f64::from(i) / 20.0;
                (r * (self.k1 * r * r + self.k2 * r * r * r * r)).abs() * self.half_diagonal
            })
            .fold(0.0, f64::max)
    }
}

/// The whole map between the plate's plane in millimetres and the photo in pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneMap {
    /// Millimetres on the plane to straightened pixels.
    pub to_photo: Homography,
    /// Straightened pixels to millimetres.
    pub to_plane: Homography,
    /// The lens.
    pub lens: Lens,
}

impl PlaneMap {
    /// Where a point of the plane is seen, in pixels.
    #[must_use]
    pub fn pixel(&self, millimetres: [f64; 2]) -> [f64; 2] {
        self.lens.bend(self.to_photo.apply(millimetres))
    }

    /// Which point of the plane is seen at a pixel.
    #[must_use]
    pub fn plane(&self, pixel: [f64; 2]) -> [f64; 2] {
        self.to_plane.apply(self.lens.straighten(pixel))
    }

    /// Pixels per millimetre around a point of the plane, in its most foreshortened direction and
    /// in its least.
    #[must_use]
    pub fn pixels_per_mm(&self, millimetres: [f64; 2]) -> (f64, f64) {
        let [[a, b], [c, d]] = self.to_photo.slope(millimetres);
        // Singular values of a 2 by 2 matrix.
        let sum = libm::hypot(a + d, b - c);
        let difference = libm::hypot(a - d, b + c);
        ((sum - difference).abs() / 2.0, (sum + difference) / 2.0)
    }
}

/// Where the camera stood, in the plate's frame: straight above `foot`, `height` millimetres away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stand {
    pub(super) foot: [f64; 2],
    pub(super) height: f64,
}

impl Stand {
    /// From a map, with the focal length that makes its two axes square and alike (R. Hartley,
    /// A. Zisserman, 2nd ed., section 8.8), held near that of a usual main lens where the tilt is too
    /// small to tell.
    pub(super) fn of(map: &PlaneMap) -> Option<Self> {
        // Six sevenths of the long side: the middle of hand-held main lenses, from memory.
        let usual = 0.85 * 1.6 * map.lens.half_diagonal;
        let [a, b, c] = map.to_photo.rows;
        let [x, y] = map.lens.middle;
        let column = |i: usize| [(a[i] - x * c[i]) / usual, (b[i] - y * c[i]) / usual, c[i]];
        let columns = [column(0), column(1), column(2)];
        let flat = |p: [f64; 3], q: [f64; 3]| p[0] * q[0] + p[1] * q[1];
        let size = (flat(columns[0], columns[0]) + flat(columns[1], columns[1])) / 2.0;
        let terms = [
            (flat(columns[0], columns[1]) / size, columns[0][2] * columns[1][2] / size),
            (
                (flat(columns[0], columns[0]) - flat(columns[1], columns[1])) / size,
                (columns[0][2] * columns[0][2] - columns[1][2] * columns[1][2]) / size,
            ),
        ];
        let hold = 0.003;
        let over: f64 = terms.iter().map(|(p, q)| -p * q).sum::<f64>() + hold;
        let under: f64 = terms.iter().map(|(p, _)| p * p).sum::<f64>() + hold;
        // (usual / focal)².
        let ratio = (over / under).clamp(0.06, 4.0).sqrt();
        let [first, second, third] = columns.map(|[u, v, w]| [u * ratio, v * ratio, w]);
        let dot = |p: [f64; 3], q: [f64; 3]| p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
        let scale = (dot(first, first).sqrt() + dot(second, second).sqrt()) / 2.0;
        let [first, second, third] = [first, second, third].map(|vector| vector.map(|number| number / scale));
        let up = [
            first[1] * second[2] - first[2] * second[1],
            first[2] * second[0] - first[0] * second[2],
            first[0] * second[1] - first[1] * second[0],
        ];
        let foot = [-dot(first, third), -dot(second, third)];
        let height = dot(up, third).abs();
        (foot.iter().all(|number| number.is_finite()) && height.is_finite() && height > 1.0)
            .then_some(Self { foot, height })
    }

    /// How far, along the plane and by millimetre of depth, the line of sight through a point goes on.
    pub(super) fn slant(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [(x - self.foot[0]) / self.height, (y - self.foot[1]) / self.height]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bending_undoes_straightening() {
        let lens = Lens { k1: -0.11, k2: 0.03, ..Lens::straight(1600, 1200) };
        for point in [[0.0, 0.0], [800.0, 600.0], [1600.0, 20.0], [333.3, 1111.0]] {
            let back = lens.bend(lens.straighten(point));
            assert!((back[0] - point[0]).abs() < 1e-8 && (back[1] - point[1]).abs() < 1e-8, "{point:?} {back:?}");
        }
    }
}
