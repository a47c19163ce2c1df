//! Plane geometry of entries: an axis-aligned core with a radius around it, so that a round body, a
//! cut-out and a keep-out are one kind of thing.

use survey::pattern::{Point, Rect};

/// Gap kept between the bodies of neighbouring entries, mm. Ours: no standard fixes it.
pub const BODY_GAP: f64 = 3.0;
/// Edging kept whole around a trunking cut-out, mm. Ours.
pub const CUT_OUT_EDGE: f64 = 5.0;
/// Least metal between two holes, mm, or one and a half plate thicknesses where that is more.
/// Sheet-metal practice, from memory.
pub const LEAST_METAL: f64 = 5.0;
/// Metal kept between a hole and the free edge of a plate whose usable part is not known, mm. From
/// memory.
pub const EDGE_WITHOUT_USABLE: f64 = 10.0;

/// Lengths closer than this count as equal: far under what a drill can show, far over rounding.
pub(crate) const TINY: f64 = 1e-6;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shape {
    pub centre: Point,
    /// Half width and half height of the core; zero for a circle.
    pub half: Point,
    pub radius: f64,
}

impl Shape {
    pub fn circle(centre: Point, diameter: f64) -> Self {
        Self { centre, half: [0.0, 0.0], radius: diameter / 2.0 }
    }

    pub fn rect(centre: Point, width: f64, height: f64) -> Self {
        Self { centre, half: [width / 2.0, height / 2.0], radius: 0.0 }
    }

    pub fn of(rect: Rect) -> Self {
        Self::rect(rect.centre(), rect.w, rect.h)
    }

    /// Grown by `edge` all round.
    pub fn grown(self, edge: f64) -> Self {
        Self { radius: self.radius + edge, ..self }
    }

    /// Free distance between the two; negative where they overlap.
    pub fn gap(self, other: Self) -> f64 {
        let out = |axis: usize| {
            ((self.centre[axis] - other.centre[axis]).abs() - self.half[axis] - other.half[axis]).max(0.0)
        };
        libm::hypot(out(0), out(1)) - self.radius - other.radius
    }

    /// Smallest distance from its outline to the sides of a rectangle it should lie in; negative
    /// where it reaches out.
    pub fn inside(self, rect: Rect) -> f64 {
        let [x, y] = self.centre;
        let [w, h] = [self.half[0] + self.radius, self.half[1] + self.radius];
        (x - w - rect.x).min(rect.right() - x - w).min(y - h - rect.y).min(rect.bottom() - y - h)
    }

    /// The open interval of x where this shape, centred on height `y`, would come nearer than `gap`
    /// to `other`.
    pub fn barred(self, other: Self, y: f64, gap: f64) -> Option<(f64, f64)> {
        let reach = self.radius + other.radius + gap;
        let dy = ((y - other.centre[1]).abs() - self.half[1] - other.half[1]).max(0.0);
        if dy >= reach - TINY {
            return (reach <= TINY && dy <= 0.0 && (y - other.centre[1]).abs() + TINY < self.half[1] + other.half[1])
                .then(|| {
                    let half = self.half[0] + other.half[0];
                    (other.centre[0] - half, other.centre[0] + half)
                });
        }
        let half = self.half[0] + other.half[0] + (reach * reach - dy * dy).max(0.0).sqrt();
        Some((other.centre[0] - half, other.centre[0] + half))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_between_circles_and_rectangles() {
        let circle = Shape::circle([0.0, 0.0], 20.0);
        assert!((circle.gap(Shape::circle([30.0, 40.0], 20.0)) - 30.0).abs() < 1e-12);
        assert!((circle.gap(Shape::of(Rect::new(15.0, -5.0, 10.0, 10.0))) - 5.0).abs() < 1e-12);
        assert!(circle.gap(Shape::of(Rect::new(5.0, -5.0, 10.0, 10.0))) < 0.0);
        assert!((circle.inside(Rect::new(-12.0, -11.0, 40.0, 40.0)) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn barred_interval_ends_where_the_gap_is_kept() {
        let body = Shape::circle([0.0, 0.0], 30.0);
        let other = Shape::circle([100.0, 10.0], 40.0);
        let (from, to) = body.barred(other, 5.0, 3.0).unwrap();
        for x in [from, to] {
            assert!((Shape { centre: [x, 5.0], ..body }.gap(other) - 3.0).abs() < 1e-9);
        }
        assert_eq!(body.barred(other, 60.0, 3.0), None);
    }
}
