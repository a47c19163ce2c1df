//! A hole measured: steps of brightness around its rim in the photo, brought to millimetres, and a
//! circle or slot through them.

use std::f64::consts::TAU;

use super::cut::Round;
use super::decode::Photo;
use super::doubt::{self, Doubt};
use super::edge::{Filter, along};
use super::find::{Candidate, candidates};
use super::lens::PlaneMap;
use super::linear::median;
use super::rectify::Flat;
use super::reference::Located;
use super::rim::{Ray, RimPoint, Shape, circle_of, least_squares, scatter_of, sound, weight_of};
use super::side;
use super::{HoleKind, MeasuredHole, Wanted};

/// Most pixels of the rectified picture that holes are looked for in.
const SEARCH_PIXELS: f64 = 0.9e6;
/// Shift that an edge may have as a whole through blur, lighting and the picture's brightness curve:
/// standard uncertainty in pixels. Our choice.
const EDGE_SHIFT: f64 = 0.2;
/// What a radial model leaves of a real lens: standard uncertainty of a place in pixels. Our choice.
const LENS_REST: f64 = 0.25;
/// Radius, in standard deviations along the longer axis, of the circle that holds 95 of 100 points
/// of a two-dimensional normal scatter: √(-2·ln 0.05).
const CIRCLE_95: f64 = 2.448;

/// Weight of a rim point on the side of the wall where one of the wall's two edges is seen alone.
const ALONE: f64 = 0.02;
/// What of the wall's width seen is left in a diameter, as a share (standard uncertainty). Ours.
const WALL_REST: f64 = 0.12;
/// Where, from the rim to the far rim, the one step of a narrow wall is seen: the wall is of the plate's
/// own stuff and mostly nearer to it in brightness than to what lies behind. Ours, with its standard
/// deviation.
const MERGED: [f64; 2] = [0.7, 0.25];
/// Largest head of a screw, in millimetres (M8 of ISO 7045: 16 mm, from memory).
pub(super) const LARGEST_HEAD: f64 = 16.5;
/// Wall below which its two edges are seen as one step, in pixels.
const APART: f64 = 4.5;

/// How much is asked of a hole.
struct Demands {
    /// Least share of the rim that is seen.
    support: f64,
    /// Longest part of the rim in one piece that is not seen, as a share.
    gap: f64,
    /// Least share of the inside that is on the inside's side of brightness.
    inside: f64,
    /// Most that the outline may deviate from its shape, as a share of the radius.
    shape: f64,
    /// Faintest tenth of the rim by its middle.
    evenness: f64,
    /// Most of the inside of a small hole that may differ from its middle brightness: a screw's head has
    /// a recess, a label has letters. What is seen through a small hole is mostly even.
    uneven: f64,
}

const BY_ITSELF: Demands =
    Demands { support: 0.82, gap: 0.13, inside: 0.72, shape: 0.035, evenness: 0.2, uneven: 0.08 };
/// As by itself, but for small holes through which wood or a shadow's edge is seen.
const GRAINED: Demands = Demands { uneven: 1.0, ..BY_ITSELF };
/// For what is shown as "cannot say": half of the rim will do.
const PARTLY: Demands = Demands { support: 0.55, gap: 0.4, inside: 0.5, shape: 0.06, evenness: 0.05, uneven: 1.0 };
/// Smallest diameter and largest number of shapes shown as "cannot say" whose rim is seen in part: what is
/// smaller are letters and scratches more often than holes. Ours.
const LEAST_PARTLY: f64 = 10.0;
const MOST_PARTLY: usize = 12;
const TAPPED: Demands = Demands { support: 0.55, gap: 0.3, inside: 0.5, shape: 0.06, evenness: 0.05, uneven: 1.0 };

/// All holes of the plate, each with its doubts, and shapes whose rim is seen in part.
pub(super) fn all(photo: &Photo, located: &Located, wanted: &Wanted) -> (Vec<MeasuredHole>, Vec<MeasuredHole>) {
    let [w, d] = located.size;
    let (_, finest) = located.map.pixels_per_mm([w / 2.0, d / 2.0]);
    let scale = (1.0 / finest.max(0.05)).max((w * d / SEARCH_PIXELS).sqrt());
    let flat = Flat::of(photo, located, [0.0, 0.0], [w, d], scale);
    let found = candidates(&flat, wanted.least, wanted.most);
    let probe = Probe::new(photo, located);
    let probe = &probe;
    let work = |part: &[Candidate]| -> Vec<Fitted> {
        part.iter().filter_map(|candidate| probe.fit(candidate, &BY_ITSELF, wanted)).collect()
    };
    let (first, second) = found.split_at(found.len() / 2);
    let mut fitted = std::thread::scope(|scope| {
        let other = scope.spawn(|| work(first));
        let mut here = work(second);
        here.extend(other.join().unwrap_or_default());
        here
    });
    // Of several in one place the surest; of two alike the larger.
    fitted.sort_by(|a, b| {
        b.quality
            .total_cmp(&a.quality)
            .then(b.shape.radius.total_cmp(&a.shape.radius))
            .then(a.shape.centre[0].total_cmp(&b.shape.centre[0]))
    });
    let mut kept: Vec<Fitted> = Vec::new();
    for one in fitted {
        let clear = kept.iter().all(|had| {
            let off = libm::hypot(had.shape.centre[0] - one.shape.centre[0], had.shape.centre[1] - one.shape.centre[1]);
            off > 0.5 * (had.shape.radius + one.shape.radius) && had.shape.distance(one.shape.centre) > 0.0
        });
        if clear {
            kept.push(one);
        }
    }
    let mut holes: Vec<MeasuredHole> = kept.iter().map(|one| probe.measured(one)).collect();
    // Of small holes, those that are uneven are taken only where they show depth or the ground.
    let grained: Vec<Fitted> = apart(
        found.iter().filter_map(|candidate| probe.fit(candidate, &GRAINED, wanted)).collect(),
        &kept,
        MOST_PARTLY,
    );
    let shapes: Vec<Shape> = kept.iter().chain(&grained).map(|one| one.shape).collect();
    let rounds: Vec<Round> = kept.iter().chain(&grained).map(|one| one.round).collect();
    let doubts = doubt::of_all(photo, located, &probe.filter, &shapes, &rounds, probe.thickness.0);
    let (of_kept, of_grained) = doubts.split_at(kept.len());
    for (hole, doubts) in holes.iter_mut().zip(of_kept) {
        hole.doubts.extend(doubts);
    }
    let mut unsure = Vec::new();
    for (one, doubt) in grained.into_iter().zip(of_grained) {
        let mut hole = probe.measured(&one);
        if let Some(doubt) = doubt {
            hole.doubts.push(*doubt);
            if 2.0 * one.shape.radius >= LEAST_PARTLY {
                unsure.push(hole);
                kept.push(one);
            }
        } else {
            holes.push(hole);
            kept.push(one);
        }
    }
    let partly = |part: &[Candidate]| -> Vec<Fitted> {
        part.iter().filter_map(|candidate| probe.fit(candidate, &PARTLY, wanted)).collect()
    };
    let mut more = partly(&found);
    more.retain(|one| one.shape.radius >= LEAST_PARTLY / 2.0);
    unsure.extend(apart(more, &kept, MOST_PARTLY).iter().map(|one| {
        let mut hole = probe.measured(one);
        hole.doubts.insert(0, Doubt::Hidden);
        hole
    }));
    holes.sort_by(|a, b| {
        let row = |hole: &MeasuredHole| (hole.centre[1] / 10.0).floor();
        row(a).total_cmp(&row(b)).then(a.centre[0].total_cmp(&b.centre[0]))
    });
    (holes, unsure)
}

/// The surest of some fits, up to `most`, that overlap neither each other nor what there is.
fn apart(mut some: Vec<Fitted>, there: &[Fitted], most: usize) -> Vec<Fitted> {
    some.sort_by(|a, b| b.quality.total_cmp(&a.quality).then(a.shape.centre[0].total_cmp(&b.shape.centre[0])));
    let mut out: Vec<Fitted> = Vec::new();
    for one in some {
        let clear = there.iter().chain(&out).all(|had| {
            let off = libm::hypot(had.shape.centre[0] - one.shape.centre[0], had.shape.centre[1] - one.shape.centre[1]);
            off > 0.7 * (had.shape.radius + one.shape.radius)
        });
        if clear && out.len() < most {
            out.push(one);
        }
    }
    out
}

/// The hole around a tap.
pub(super) fn at(photo: &Photo, located: &Located, tap: [f64; 2], wanted: &Wanted) -> Option<MeasuredHole> {
    let middle = located.map.plane(tap);
    let (_, finest) = located.map.pixels_per_mm(middle);
    let around = (wanted.most * 0.75).clamp(10.0, 120.0);
    let scale = (1.0 / finest.max(0.05)).max(2.0 * around / 700.0);
    if !(middle.iter().all(|number| number.is_finite()) && scale.is_finite()) {
        return None;
    }
    let flat = Flat::of(photo, located, [middle[0] - around, middle[1] - around], [2.0 * around, 2.0 * around], scale);
    let probe = Probe::new(photo, located);
    let mut tries = candidates(&flat, wanted.least, wanted.most);
    tries.retain(|one| {
        let off = libm::hypot(one.centre[0] - middle[0], one.centre[1] - middle[1]);
        off < one.half_length * 1.2 + 1.0
    });
    tries.truncate(24);
    // No patch stands out: circles of every size around the tap itself.
    let mut radius = wanted.least / 2.0;
    while radius <= wanted.most / 2.0 {
        for dark in [true, false] {
            tries.push(Candidate { centre: middle, radius, half_length: radius, angle: 0.0, dark });
        }
        radius *= 1.4;
    }
    tries
        .iter()
        .filter_map(|one| probe.fit(one, &TAPPED, wanted))
        .filter(|one| one.shape.distance(middle) < 0.15 * one.shape.radius)
        .max_by(|a, b| a.quality.total_cmp(&b.quality))
        .map(|one| probe.measured(&one))
}

/// A shape fitted to a rim.
#[derive(Clone, Debug)]
struct Fitted {
    shape: Shape,
    /// Scatter of the rim points in millimetres.
    scatter: f64,
    /// Covariance of the shape's unknowns, row by row.
    covariance: Vec<f64>,
    /// What is common to many rim points: what the thickness and the wall's brightness do to the unknowns.
    common: [Vec<f64>; 2],
    /// Sum of the rim points' weights.
    weight: f64,
    quality: f64,
    /// How well the rim is known all round.
    round: Round,
}

struct Probe<'a> {
    photo: &'a Photo,
    located: &'a Located,
    filter: Filter,
    /// Thickness of the plate and its standard deviation, in millimetres.
    thickness: (f64, f64),
}

impl<'a> Probe<'a> {
    fn new(photo: &'a Photo, located: &'a Located) -> Self {
        Self { photo, located, filter: Filter::new(), thickness: side::told(&located.likely) }
    }

    /// Fits a candidate; `None` where it does not meet the demands.
    fn fit(&self, candidate: &Candidate, demands: &Demands, wanted: &Wanted) -> Option<Fitted> {
        let seen = Shape {
            centre: candidate.centre,
            radius: candidate.radius,
            straight: candidate.half_length - candidate.radius,
            angle: candidate.angle,
        };
        // What is seen through the hole is what both its rims leave: of the wall's width smaller along the
        // line of sight, and moved.
        let slant = self.slant(&seen);
        let (s, c) = (libm::sin(seen.angle), libm::cos(seen.angle));
        let half = self.thickness.0 / 2.0;
        let (along, across) = ((c * slant[0] + s * slant[1]).abs() * half, (c * slant[1] - s * slant[0]).abs() * half);
        let whole = Shape {
            centre: [seen.centre[0] + half * slant[0], seen.centre[1] + half * slant[1]],
            radius: seen.radius + across,
            straight: seen.straight + along - across,
            angle: seen.angle,
        };
        let dark = candidate.dark;
        let walled = along.max(across) > 0.05 * seen.radius;
        let starts = [Some(seen), walled.then_some(whole)];
        let circle = starts.iter().flatten().find_map(|shape| {
            let radius = (shape.radius * (shape.radius + shape.straight)).max(0.0).sqrt();
            let round = Shape { radius, straight: 0.0, ..*shape };
            if shape.straight.abs() < 0.35 * shape.radius { self.fit_shape(round, dark, demands, wanted) } else { None }
        });
        if circle.is_some() {
            return circle;
        }
        // Of two slots as long as each other but for the wall, the one with more of both its edges.
        let slots = starts.iter().flatten().filter_map(|shape| {
            if shape.straight < 0.08 * shape.radius {
                return None;
            }
            let straight = shape.straight.max(0.1 * shape.radius);
            self.fit_shape(Shape { straight, ..*shape }, dark, demands, wanted)
        });
        slots.max_by(|a, b| a.weight.total_cmp(&b.weight))
    }

    fn fit_shape(&self, start: Shape, dark: bool, demands: &Demands, wanted: &Wanted) -> Option<Fitted> {
        let size = |shape: &Shape| 2.0 * (shape.radius + shape.straight);
        let (coarse, _) = self.located.map.pixels_per_mm(start.centre);
        let least_rise = (4.0 * self.located.noise).clamp(6.0, 16.0);
        // First wide, to tell the rim from what is near it.
        let reach = (0.4 * start.radius).max(4.0 / coarse);
        let rays = self.rays(&start, 64, reach.min(0.8 * start.radius), reach, dark, least_rise / 2.0);
        let mut shape = if start.straight > 0.0 {
            let nearest = self.observed(&start, &rays, reach, coarse);
            let (fitted, ..) = least_squares(start, &nearest, 0.15 * start.radius)?;
            let nearest = self.observed(&fitted, &rays, reach, coarse);
            least_squares(fitted, &nearest, 0.06 * start.radius)?.0
        } else {
            circle_of(&rays, &start, (1.2 / coarse).max(0.02 * start.radius))?
        };
        // Then close by, finely.
        let mut last = None;
        for gate in [5.0, 3.0, 2.0] {
            if !sound(&shape, &start) {
                return None;
            }
            let count = ((shape.perimeter() * coarse / 2.5) as usize).clamp(48, 240);
            let close = (3.0 / coarse).max(0.03 * shape.radius);
            let rays = self.rays(&shape, count, close, close, dark, least_rise / 2.0);
            let points: Vec<Option<RimPoint>> =
                rays.iter().map(|ray| ray.points.first().or(ray.others.first()).copied()).collect();
            let found = self.observed(&shape, &rays, gate / coarse, coarse);
            if found.len() * 2 < count {
                return None;
            }
            let scatter = scatter_of(&shape, &found, coarse);
            let (fitted, covariance, common) = least_squares(shape, &found, 2.5 * scatter)?;
            shape = fitted;
            let weight = found.iter().map(|point| point.weight).sum();
            let halves = halves(&shape, &found, 2.5 * scatter);
            last = Some((points, scatter, covariance, common, weight, halves));
        }
        let (points, scatter, covariance, common, weight, halves) = last?;
        if !sound(&shape, &start) || 2.0 * shape.radius < wanted.least || size(&shape) > wanted.most {
            return None;
        }
        if start.straight > 0.0 && shape.straight < 0.06 * shape.radius {
            return None;
        }
        let (quality, round) = self.judge(&shape, &points, dark, demands, coarse, least_rise)?;
        let round = Round { scatter, halves, ..round };
        Some(Fitted { shape, scatter, covariance, common, weight, quality, round })
    }

    /// The steps along `count` rays through the outline, from `inner` millimetres inside it to `outer`
    /// outside; only those that get brighter (for a dark hole) on the way out.
    fn rays(&self, shape: &Shape, count: usize, inner: f64, outer: f64, dark: bool, least: f64) -> Vec<Ray> {
        let grey = self.photo.grey();
        let map = &self.located.map;
        let slant = self.slant(shape);
        let (thick, spread) = self.thickness;
        (0..count)
            .map(|i| {
                let (rim, normal) = shape.rim((i as f64 + 0.5) / count as f64);
                // On the side away from the camera the wall is seen between the rim and what lies behind.
                let wall = (slant[0] * normal[0] + slant[1] * normal[1]).max(0.0);
                let slack = ((thick + 2.0 * spread) * wall).min(0.6 * shape.radius);
                let by_wall = MERGED[1] * thick * wall;
                let by_thickness = MERGED[0] * spread * wall;
                let inner = inner.max(slack);
                let first = map.pixel([rim[0] - normal[0] * inner, rim[1] - normal[1] * inner]);
                let last = map.pixel([rim[0] + normal[0] * outer, rim[1] + normal[1] * outer]);
                let length = libm::hypot(last[0] - first[0], last[1] - first[1]);
                if !(length.is_finite() && length > 0.0) {
                    return Ray { wall, points: Vec::new(), others: Vec::new() };
                }
                // The filter needs some pixels more at either end.
                let more = 5.0 / length;
                let (dx, dy) = ((last[0] - first[0]) * more, (last[1] - first[1]) * more);
                let (start, end) = ([first[0] - dx, first[1] - dy], [last[0] + dx, last[1] + dy]);
                let steps = self.filter.steps(grey, start, end, 1, least);
                let side = |agree: bool| {
                    let mut points: Vec<RimPoint> = steps
                        .iter()
                        .filter(|step| ((step.rise > 0.0) == dark) == agree)
                        .map(|step| RimPoint {
                            plane: map.plane(along(start, end, step.at)),
                            rise: step.rise.abs(),
                            weight: weight_of(libm::hypot(by_wall, by_thickness)),
                            slack,
                            // One step for the wall's two.
                            target: -MERGED[0] * thick * wall,
                            by_thickness: -by_thickness,
                            by_wall,
                        })
                        .collect();
                    points.sort_by(|a, b| b.rise.total_cmp(&a.rise));
                    points.truncate(4);
                    points
                };
                Ray { wall, points: side(true), others: side(false) }
            })
            .collect()
    }

    /// What the rays say of the rim. Where the wall shows wide enough, its two edges are told apart: the
    /// rim itself, and the rim of the far face, which is the same shape moved along the line of sight.
    /// `gate` is how far either may be from where the shape has it, in millimetres.
    fn observed(&self, shape: &Shape, rays: &[Ray], gate: f64, coarse: f64) -> Vec<RimPoint> {
        let slant = self.slant(shape);
        let (thick, spread) = self.thickness;
        let moved = |[x, y]: [f64; 2]| [x + thick * slant[0], y + thick * slant[1]];
        let mut out = Vec::with_capacity(rays.len());
        for ray in rays {
            let wall = thick * ray.wall;
            if wall * coarse < APART {
                out.extend(ray.points.first());
                continue;
            }
            let all = || ray.points.iter().chain(&ray.others);
            let nearest = |off: &dyn Fn(&RimPoint) -> f64, gate: f64| {
                let near = all().filter(|point| off(point) < gate.min(0.45 * wall));
                near.min_by(|a, b| off(a).total_cmp(&off(b))).copied()
            };
            let rim = nearest(&|point| shape.distance(point.plane).abs(), gate);
            let doubt = spread * ray.wall;
            let back = nearest(&|point| shape.distance(moved(point.plane)).abs(), libm::hypot(gate, 2.0 * doubt));
            // One alone may be the other, were the shape that far off.
            let both = rim.is_some() && back.is_some();
            let by_wall = if both { 0.0 } else { 0.5 * wall };
            let alone = if both { 1.0 } else { ALONE };
            if let Some(rim) = rim {
                out.push(RimPoint { weight: alone, target: 0.0, by_thickness: 0.0, by_wall, ..rim });
            }
            if let Some(back) = back {
                let plane = moved(back.plane);
                let weight = alone * weight_of(doubt);
                out.push(RimPoint { plane, weight, target: 0.0, by_thickness: -doubt, by_wall: -by_wall, ..back });
            }
        }
        out
    }

    /// How far, along the plate and by millimetre of depth, the line of sight into a hole goes on.
    fn slant(&self, shape: &Shape) -> [f64; 2] {
        self.located.stand.map_or([0.0; 2], |stand| stand.slant(shape.centre))
    }

    /// How much the fitted shape looks like a hole, from 0 to 1; `None` where it does not meet the
    /// demands.
    fn judge(
        &self,
        shape: &Shape,
        points: &[Option<RimPoint>],
        dark: bool,
        demands: &Demands,
        coarse: f64,
        least_rise: f64,
    ) -> Option<(f64, Round)> {
        let count = points.len() as f64;
        let tolerance = (1.0 / coarse).max(0.03 * shape.radius);
        let on_rim = |point: &Option<RimPoint>| {
            let on = |point: &RimPoint| (-tolerance - point.slack..tolerance).contains(&shape.distance(point.plane));
            point.filter(on).map(|point| point.rise)
        };
        let seen: Vec<Option<f64>> = points.iter().map(on_rim).collect();
        let on = seen.iter().flatten().count();
        if on < 12 {
            return None;
        }
        // A wall has a brightness of its own: the rim's contrast is told where none is seen.
        let bare = |(rise, point): (&Option<f64>, &Option<RimPoint>)| {
            rise.filter(|_| point.is_some_and(|p| p.slack < tolerance))
        };
        let mut rises: Vec<f64> = seen.iter().zip(points).filter_map(bare).collect();
        if rises.len() * 3 < on {
            rises = seen.iter().flatten().copied().collect();
        }
        let typical = median(&mut rises);
        rises.sort_by(f64::total_cmp);
        let faint = rises[rises.len() / 10];
        let support = on as f64 / count;
        let gap = longest_gap(&seen) as f64 / count;
        if support < demands.support || gap > demands.gap || typical < least_rise || faint < demands.evenness * typical
        {
            return None;
        }
        // Rims are circles and slots: what is left after the fit must not follow the outline round.
        let mut waves = [0.0f64; 3];
        for (harmonic, wave) in waves.iter_mut().enumerate() {
            let turns = (harmonic + 2) as f64;
            let (mut s, mut c) = (0.0, 0.0);
            for (i, point) in points.iter().enumerate() {
                if let Some(point) = point.filter(|_| seen[i].is_some()) {
                    let angle = TAU * turns * (i as f64 + 0.5) / count;
                    let off = point.off(shape) * point.weight;
                    s += off * libm::sin(angle);
                    c += off * libm::cos(angle);
                }
            }
            *wave = 2.0 * libm::hypot(s, c) / on as f64;
        }
        let wave = waves.iter().copied().fold(0.0, f64::max);
        let allowed = (demands.shape * shape.radius).max(0.45 / coarse);
        if wave > allowed {
            return None;
        }
        // The inside as a whole must differ from the plate as the rim does.
        let (inside, uneven) = self.inside_share(shape, dark)?;
        if inside < demands.inside || uneven > demands.uneven {
            return None;
        }
        let score = |value: f64, least: f64, full: f64| ((value - least) / (full - least)).clamp(0.0, 1.0);
        let quality = score(support, 0.5, 0.97)
            * score(inside, 0.4, 0.9)
            * score(typical, 0.5 * least_rise, 2.0 * least_rise)
            * score(faint / typical, 0.0, 0.4)
            * score(2.0 * allowed - wave, 0.0, 1.2 * allowed);
        Some((libm::sqrt(quality), Round { support, gap, wave, coarse, ..Round::default() }))
    }

    /// The share of the inside that is nearer to the inside's middle brightness than to the plate's, and
    /// of a small hole the share that differs from that middle much either way.
    fn inside_share(&self, shape: &Shape, dark: bool) -> Option<(f64, f64)> {
        let grey = self.photo.grey();
        let slant = self.slant(shape);
        let place = |share: f64, depth: f64| {
            let (rim, normal) = shape.rim(share);
            [rim[0] + normal[0] * depth, rim[1] + normal[1] * depth]
        };
        // The mean of five pixels, against noise.
        let look = |point: [f64; 2]| {
            let [x, y] = self.located.map.pixel(point);
            let mut sum = 0.0;
            for (dx, dy) in [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
                sum += grey.at(x + dx, y + dy)?;
            }
            Some(sum / 5.0)
        };
        let mut around: Vec<f64> =
            (0..48).filter_map(|i| look(place(f64::from(i) / 48.0, 0.18 * shape.radius + 0.4))).collect();
        let mut points = Vec::new();
        for ring in 1..=8 {
            let depth = -shape.radius * (0.12 + 0.85 * f64::from(ring) / 8.0);
            // Fewer on the inner rings, so that each stands for as much of the area.
            let count = (40.0 * (1.0 + depth / shape.radius)).max(4.0) as i32;
            points.extend((0..count).map(|i| place(f64::from(i) / f64::from(count), depth)));
        }
        // Not where the wall may be seen, as far as that leaves enough.
        let (thick, spread) = self.thickness;
        let mut within: Vec<f64> = Vec::new();
        let mut deep: Vec<f64> = Vec::new();
        let mut clear = true;
        let (coarse, _) = self.located.map.pixels_per_mm(shape.centre);
        for thickness in [thick + 2.0 * spread, thick + spread, thick, 0.5 * thick, 0.0] {
            let behind = |point: &[f64; 2]| [point[0] + thickness * slant[0], point[1] + thickness * slant[1]];
            let reached = |margin: f64| -> Vec<f64> {
                let inside = |point: &&[f64; 2]| shape.distance(**point).max(shape.distance(behind(point))) < -margin;
                points.iter().filter(inside).filter_map(|point| look(*point)).collect()
            };
            within = reached(0.0);
            // Beyond what blur and the mean of five pixels bring in from the rim.
            deep = reached(3.3 / coarse);
            if within.len() * 4 > points.len() {
                break;
            }
            clear = thickness > thick;
        }
        if around.len() < 24 || within.len() < 30 {
            return None;
        }
        let plate = median(&mut around);
        let inner = median(&mut within);
        if (inner < plate) != dark {
            return Some((0.0, 1.0));
        }
        let level = (plate + inner) / 2.0;
        let count = within.len() as f64;
        let good = within.iter().filter(|value| (**value < level) == dark).count() as f64;
        if !clear || deep.len() < 6 || 2.0 * shape.radius > LARGEST_HEAD {
            return Some((good / count, 0.0));
        }
        let allowed = (0.18 * (inner - plate).abs()).max(1.2 * self.located.noise + 2.0);
        let inner = median(&mut deep);
        let uneven = deep.iter().filter(|value| (**value - inner).abs() > allowed).count() as f64;
        Some((good / count, uneven / deep.len() as f64))
    }

    /// The hole with its uncertainty.
    fn measured(&self, fitted: &Fitted) -> MeasuredHole {
        let shape = &fitted.shape;
        let map = &self.located.map;
        let (coarse, _) = map.pixels_per_mm(shape.centre);
        let n = shape.unknowns();
        let outline: Vec<[f64; 2]> = (0..48).map(|i| map.pixel(shape.rim(f64::from(i) / 48.0).0)).collect();
        // The same pixels through another map: where their middle goes, and how their size changes.
        let nominal = spread(map, &outline).1;
        let by_map = self.located.covariance_of(|map| {
            let (middle, size) = spread(map, &outline);
            [middle[0], middle[1], size / nominal * 2.0 * shape.radius]
        });
        // Rim points two and a half pixels apart share some of their pixels.
        let by_rim = |i: usize, j: usize| {
            let common: f64 = fitted.common.iter().map(|by| by[i] * by[j]).sum();
            1.5 * fitted.covariance[i * n + j] * fitted.scatter * fitted.scatter + common
        };
        let floor = (LENS_REST / coarse) * (LENS_REST / coarse);
        let xx = by_map[0][0] + by_rim(0, 0) + floor;
        let yy = by_map[1][1] + by_rim(1, 1) + floor;
        let xy = by_map[0][1] + by_rim(0, 1);
        let larger = (xx + yy) / 2.0 + libm::hypot((xx - yy) / 2.0, xy);
        let shift = 2.0 * EDGE_SHIFT / coarse;
        let slant = self.slant(shape);
        let rest = WALL_REST * self.thickness.0 * libm::hypot(slant[0], slant[1]);
        let diameter = by_map[2][2] + 4.0 * by_rim(2, 2) + shift * shift + rest * rest;
        let kind = if shape.straight > 0.0 {
            let mut angle = shape.angle.to_degrees() % 180.0;
            if angle > 90.0 {
                angle -= 180.0;
            } else if angle <= -90.0 {
                angle += 180.0;
            }
            HoleKind::Slot { length: 2.0 * (shape.radius + shape.straight), angle }
        } else {
            HoleKind::Circle
        };
        let centre_within = CIRCLE_95 * larger.max(0.0).sqrt() + self.located.contradicted(shape.centre);
        let diameter_within = 2.0 * diameter.max(0.0).sqrt();
        let loose = centre_within.max(diameter_within) > doubt::KNOWN_TO;
        let wrong = !self.located.contradictions.is_empty();
        MeasuredHole {
            centre: shape.centre,
            centre_within,
            diameter: 2.0 * shape.radius,
            diameter_within,
            kind,
            confidence: fitted.quality,
            outline,
            doubts: [(wrong, Doubt::Scale), (self.located.on_ground, Doubt::Edge), (loose, Doubt::Loose)]
                .into_iter()
                .filter_map(|(is_so, doubt)| is_so.then_some(doubt))
                .collect(),
        }
    }
}

/// Most that the circle through one half of the rim points differs in diameter from the whole, of four halves.
fn halves(shape: &Shape, points: &[RimPoint], far: f64) -> f64 {
    if shape.straight > 0.0 {
        return 0.0;
    }
    let mut most = 0.0f64;
    for quarter in 0..4 {
        let from = TAU / 4.0 * f64::from(quarter);
        let half: Vec<RimPoint> = points
            .iter()
            .copied()
            .filter(|point| {
                let (x, y) = (point.plane[0] - shape.centre[0], point.plane[1] - shape.centre[1]);
                libm::cos(libm::atan2(y, x) - from) > 0.0
            })
            .collect();
        let off =
            least_squares(*shape, &half, far).map_or(f64::INFINITY, |(part, ..)| (part.radius - shape.radius).abs());
        most = most.max(2.0 * off);
    }
    most
}

/// The middle of some pixels in the plane and their mean distance from it.
fn spread(map: &PlaneMap, pixels: &[[f64; 2]]) -> ([f64; 2], f64) {
    let count = pixels.len() as f64;
    let points: Vec<[f64; 2]> = pixels.iter().map(|pixel| map.plane(*pixel)).collect();
    let middle = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count);
    let size = points.iter().map(|point| libm::hypot(point[0] - middle[0], point[1] - middle[1])).sum::<f64>() / count;
    (middle, size)
}

/// Longest run of rays without a rim, going round.
fn longest_gap(seen: &[Option<f64>]) -> usize {
    let (mut longest, mut run) = (0, 0);
    for one in seen.iter().chain(seen) {
        run = if one.is_some() { 0 } else { run + 1 };
        longest = longest.max(run);
    }
    longest.min(seen.len())
}
