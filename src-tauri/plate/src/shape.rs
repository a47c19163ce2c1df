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

/// Gap kept around the ear of an earth tag, mm. Ours.
pub const EAR_GAP: f64 = 1.0;
/// Share of a plate's width, and of its depth, that stays metal along any straight line from edge to
/// edge: a strip's stiffness goes with its width, so the plate keeps at least this share of its own.
/// Ours: no standard fixes it.
pub const LEAST_SECTION: f64 = 0.25;

/// Least metal between two holes in a plate of this thickness, mm.
pub(crate) fn least_metal(thickness: Option<f64>) -> f64 {
    LEAST_METAL.max(1.5 * thickness.unwrap_or(0.0))
}

/// A line across a plate, along one of its edges.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// How far it runs from that edge, mm.
    pub at: f64,
    /// The edge: "rear" or "left".
    pub edge: &'static str,
}

/// The line across the plate with the least metal: the share left, and the line. Lines are
/// taken through the middle of every opening and along the edges of cut-outs.
pub(crate) fn weakest(openings: &[Shape], outline: Rect) -> Option<(f64, Line)> {
    let mut worst: Option<(f64, Line)> = None;
    for (axis, whole, edge) in [(1, outline.w, "rear"), (0, outline.h, "left")] {
        let other = 1 - axis;
        for level in openings.iter().map(|shape| shape.centre[axis]) {
            let mut cut: Vec<(f64, f64)> = openings
                .iter()
                .filter_map(|shape| {
                    let off = ((level - shape.centre[axis]).abs() - shape.half[axis]).max(0.0);
                    let chord = shape.radius * shape.radius - off * off;
                    let half =
                        shape.half[other] + if off > 0.0 && chord <= 0.0 { return None } else { chord.max(0.0).sqrt() };
                    Some((shape.centre[other] - half, shape.centre[other] + half))
                })
                .collect();
            cut.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (mut lost, mut end) = (0.0, 0.0_f64);
            for (from, to) in cut {
                let (from, to) = (from.max(end), to.min(whole));
                lost += (to - from).max(0.0);
                end = end.max(to);
            }
            let share = 1.0 - lost / whole;
            if worst.as_ref().is_none_or(|(least, _)| share < *least) {
                worst = Some((share, Line { at: level, edge }));
            }
        }
    }
    worst
}

/// Lengths closer than this count as equal: far under what a drill can show, far over rounding.
pub(crate) const TINY: f64 = 1e-6;

fn point_to_segment(point: Point, a: Point, b: Point) -> f64 {
    let run = [b[0] - a[0], b[1] - a[1]];
    let length = run[0] * run[0] + run[1] * run[1];
    let along = if length > 0.0 {
        (((point[0] - a[0]) * run[0] + (point[1] - a[1]) * run[1]) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    libm::hypot(point[0] - a[0] - along * run[0], point[1] - a[1] - along * run[1])
}

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
        // No `hypot`: the setting-out asks millions of times, and lengths on a plate overflow nothing.
        let (x, y) = (out(0), out(1));
        (x * x + y * y).sqrt() - self.radius - other.radius
    }

    /// Free distance to the straight line from `a` to `b`; negative where the line runs through it.
    pub fn to_segment(self, a: Point, b: Point) -> f64 {
        let [w, h] = self.half;
        let near = |from: Point| {
            let out = |axis: usize| ((from[axis] - self.centre[axis]).abs() - self.half[axis]).max(0.0);
            libm::hypot(out(0), out(1))
        };
        if w <= 0.0 && h <= 0.0 {
            return point_to_segment(self.centre, a, b) - self.radius;
        }
        // The core is crossed where the line's stretch inside its width and that inside its height meet.
        let stretch = |axis: usize| {
            let (from, to) = (self.centre[axis] - self.half[axis], self.centre[axis] + self.half[axis]);
            let run = b[axis] - a[axis];
            if run.abs() < TINY {
                return (from..=to).contains(&a[axis]).then_some((0.0, 1.0));
            }
            let (s, t) = ((from - a[axis]) / run, (to - a[axis]) / run);
            Some((s.min(t).max(0.0), s.max(t).min(1.0)))
        };
        if let (Some(x), Some(y)) = (stretch(0), stretch(1))
            && x.0.max(y.0) <= x.1.min(y.1)
        {
            return -self.radius - w.min(h);
        }
        let [x, y] = self.centre;
        let corners = [[x - w, y - h], [x + w, y - h], [x - w, y + h], [x + w, y + h]];
        let least =
            corners.into_iter().map(|corner| point_to_segment(corner, a, b)).fold(near(a).min(near(b)), f64::min);
        least - self.radius
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
