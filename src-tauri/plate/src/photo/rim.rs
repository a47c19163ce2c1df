//! The shape of a rim, and its fit to rim points by least squares.

use std::f64::consts::{PI, TAU};

use super::linear::{Normal, median, solve};

/// Uncertainty of a rim point by a wall seen beside it at which the point counts half, in millimetres.
const WALL_SHIFT: f64 = 0.04;

/// A circle, or a slot where `straight` is above 0; in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shape {
    pub(super) centre: [f64; 2],
    pub(super) radius: f64,
    /// Half the length of the straight sides.
    pub(super) straight: f64,
    pub(super) angle: f64,
}

impl Shape {
    /// Distance of a point from the outline, below 0 inside.
    pub(super) fn distance(&self, point: [f64; 2]) -> f64 {
        let (dx, dy) = (point[0] - self.centre[0], point[1] - self.centre[1]);
        let (s, c) = (libm::sin(self.angle), libm::cos(self.angle));
        let (u, v) = (c * dx + s * dy, c * dy - s * dx);
        let over = u - u.clamp(-self.straight, self.straight);
        libm::hypot(over, v) - self.radius
    }

    /// The point of the outline at a share of the way round, with the normal outwards.
    pub(super) fn rim(&self, share: f64) -> ([f64; 2], [f64; 2]) {
        let (arc, side) = (PI * self.radius, 2.0 * self.straight);
        let mut way = share.fract() * 2.0 * (arc + side);
        // Along: lower side, right end, upper side, left end.
        let (u, v, nu, nv);
        let end = |angle: f64| (libm::cos(angle), libm::sin(angle));
        if way < side {
            (u, v, nu, nv) = (-self.straight + way, self.radius, 0.0, 1.0);
        } else if way < side + arc {
            way -= side;
            let (c, s) = end(PI / 2.0 - way / self.radius);
            (u, v, nu, nv) = (self.straight + self.radius * c, self.radius * s, c, s);
        } else if way < 2.0 * side + arc {
            way -= side + arc;
            (u, v, nu, nv) = (self.straight - way, -self.radius, 0.0, -1.0);
        } else {
            way -= 2.0 * side + arc;
            let (c, s) = end(-PI / 2.0 - way / self.radius);
            (u, v, nu, nv) = (-self.straight + self.radius * c, self.radius * s, c, s);
        }
        let (s, c) = (libm::sin(self.angle), libm::cos(self.angle));
        ([self.centre[0] + c * u - s * v, self.centre[1] + s * u + c * v], [c * nu - s * nv, s * nu + c * nv])
    }

    pub(super) fn perimeter(&self) -> f64 {
        TAU * self.radius + 4.0 * self.straight
    }

    pub(super) fn unknowns(&self) -> usize {
        if self.straight > 0.0 { 5 } else { 3 }
    }

    pub(super) fn changed(&self, unknown: usize, by: f64) -> Self {
        let mut out = *self;
        match unknown {
            0 => out.centre[0] += by,
            1 => out.centre[1] += by,
            2 => out.radius += by,
            3 => out.straight += by,
            _ => out.angle += by,
        }
        out
    }
}

/// A step on the way out through the rim.
#[derive(Clone, Copy, Debug)]
pub(super) struct RimPoint {
    pub(super) plane: [f64; 2],
    /// Height of the step.
    pub(super) rise: f64,
    /// How much it counts: less where the hole's wall is seen beside it.
    pub(super) weight: f64,
    /// How far inside the rim it may lie because the wall is seen there, in millimetres.
    pub(super) slack: f64,
    /// Where it is expected: distance from the outline, below 0 inside, in millimetres.
    pub(super) target: f64,
    /// What one standard deviation of the thickness does to `target`, in millimetres.
    pub(super) by_thickness: f64,
    /// What the wall's brightness may do to `target`, in millimetres (standard deviation).
    pub(super) by_wall: f64,
}

impl RimPoint {
    pub(super) fn off(&self, shape: &Shape) -> f64 {
        shape.distance(self.plane) - self.target
    }
}

/// A way out through the rim.
pub(super) struct Ray {
    /// Millimetres of wall seen by millimetre of thickness; 0 on the side towards the camera.
    pub(super) wall: f64,
    /// Its steps of the hole's sense (brighter outside for a dark one), the highest first.
    pub(super) points: Vec<RimPoint>,
    /// Its steps of the other sense: edges of a wall brighter or darker than both.
    pub(super) others: Vec<RimPoint>,
}

/// The scatter of the clear rim points about a shape, in millimetres.
pub(super) fn scatter_of(shape: &Shape, points: &[RimPoint], coarse: f64) -> f64 {
    let clear = points.iter().filter(|point| point.weight > 0.3);
    let mut offs: Vec<f64> = clear.map(|point| point.off(shape).abs()).collect();
    (median(&mut offs) / 0.6745).max(0.08 / coarse)
}

/// Whether a fit stayed near where it started.
pub(super) fn sound(shape: &Shape, start: &Shape) -> bool {
    let off = libm::hypot(shape.centre[0] - start.centre[0], shape.centre[1] - start.centre[1]);
    let size = start.radius + start.straight;
    shape.radius.is_finite()
        && off < 0.6 * size
        && (0.5 * start.radius..2.0 * start.radius).contains(&shape.radius)
        && shape.straight >= 0.0
        && shape.straight < 2.0 * size
}

/// The circle that most rays have a step on.
pub(super) fn circle_of(rays: &[Ray], start: &Shape, tolerance: f64) -> Option<Shape> {
    let rays: Vec<&Vec<RimPoint>> = rays.iter().map(|ray| &ray.points).collect();
    let usable: Vec<&Vec<RimPoint>> = rays.iter().copied().filter(|ray| !ray.is_empty()).collect();
    if usable.len() * 2 < rays.len() {
        return None;
    }
    let mut tops: Vec<f64> = usable.iter().map(|ray| ray[0].rise).collect();
    let full = 0.3 * median(&mut tops);
    let mut state = 0x9e37_79b9_7f4a_7c15u64;
    let mut next = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as usize) % below.max(1)
    };
    let mut best: Option<(f64, Shape)> = None;
    let sure: Vec<&Vec<RimPoint>> = usable.iter().copied().filter(|ray| ray[0].weight > 0.3).collect();
    if sure.len() < 12 {
        return None;
    }
    let part = sure.len() / 6;
    for _ in 0..200 {
        // Three rays apart from each other, all with a clear rim.
        let first = next(sure.len());
        let second = first + part + next(part);
        let third = second + part + next(part);
        let [p, q, r] = [first, second, third].map(|pick| {
            let ray = sure[pick % sure.len()];
            ray[next(ray.len().min(3))].plane
        });
        let Some((centre, radius)) = circle_through(p, q, r) else { continue };
        let shape = Shape { centre, radius, straight: 0.0, angle: 0.0 };
        if !sound(&shape, start) {
            continue;
        }
        let worth: f64 = rays
            .iter()
            .map(|ray| {
                ray.iter()
                    .map(|point| {
                        let off = point.off(&shape) / tolerance;
                        (1.0 - off * off).max(0.0) * (point.rise / full).min(1.0) * point.weight
                    })
                    .fold(0.0, f64::max)
            })
            .sum();
        if best.is_none_or(|(had, _)| worth > had) {
            best = Some((worth, shape));
        }
    }
    let (worth, shape) = best?;
    let whole: f64 = usable.iter().map(|ray| ray[0].weight).sum();
    if worth < 0.4 * whole {
        return None;
    }
    let near: Vec<RimPoint> = rays
        .iter()
        .filter_map(|ray| {
            let off = |point: &RimPoint| point.off(&shape).abs();
            ray.iter().copied().filter(|point| off(point) < tolerance).min_by(|a, b| off(a).total_cmp(&off(b)))
        })
        .collect();
    least_squares(shape, &near, tolerance).map(|(shape, ..)| shape)
}

fn circle_through(p: [f64; 2], q: [f64; 2], r: [f64; 2]) -> Option<([f64; 2], f64)> {
    let (ax, ay, bx, by) = (q[0] - p[0], q[1] - p[1], r[0] - p[0], r[1] - p[1]);
    let under = 2.0 * (ax * by - ay * bx);
    if under.abs() < 1e-9 {
        return None;
    }
    let (a, b) = (ax * ax + ay * ay, bx * bx + by * by);
    let (x, y) = ((by * a - ay * b) / under, (ax * b - bx * a) / under);
    Some(([p[0] + x, p[1] + y], libm::hypot(x, y)))
}

/// Weight of a rim point that may be off by this much, in millimetres (standard deviation).
pub(super) fn weight_of(doubt: f64) -> f64 {
    let ratio = doubt / WALL_SHIFT;
    1.0 / (1.0 + ratio * ratio)
}

/// A fit: the shape, its covariance for unit scatter, and what the thickness and the wall's brightness,
/// common to many points, do to its unknowns.
pub(super) type Fit = (Shape, Vec<f64>, [Vec<f64>; 2]);

/// Fits a shape to points by geometric distance, far points weighed down (Cauchy's weight at `far`).
pub(super) fn least_squares(start: Shape, points: &[RimPoint], far: f64) -> Option<Fit> {
    let n = start.unknowns();
    if points.len() < 3 * n {
        return None;
    }
    let mut shape = start;
    let mut last = None;
    for _ in 0..8 {
        let mut normal = Normal::new(n);
        let mut row = vec![0.0; n];
        let mut common = [vec![0.0; n], vec![0.0; n]];
        for point in points {
            let off = point.off(&shape);
            for (unknown, cell) in row.iter_mut().enumerate() {
                let step = if unknown == 4 { 1e-5 } else { 1e-4 };
                let up = shape.changed(unknown, step).distance(point.plane);
                let down = shape.changed(unknown, -step).distance(point.plane);
                *cell = (up - down) / (2.0 * step);
            }
            let ratio = off / far;
            let weight = point.weight / (1.0 + ratio * ratio);
            normal.add(&row, -off, weight);
            for (sum, by) in common.iter_mut().zip([point.by_thickness, point.by_wall]) {
                for (cell, slope) in sum.iter_mut().zip(&row) {
                    *cell += weight * slope * by;
                }
            }
        }
        let step = normal.solve()?;
        let common = common.map(|right| solve(&normal.matrix, &right).unwrap_or(vec![0.0; n]));
        last = Some((normal.inverse()?, common));
        for (unknown, change) in step.iter().enumerate() {
            shape = shape.changed(unknown, *change);
        }
        if !(shape.radius > 0.0 && shape.radius < 1e4) {
            return None;
        }
        shape.straight = if n == 5 { shape.straight.max(1e-3) } else { 0.0 };
        if step.iter().all(|change| change.abs() < 1e-7) {
            break;
        }
    }
    let (covariance, common) = last?;
    Some((shape, covariance, common))
}
