//! A hole measured: steps of brightness around its rim in the photo, brought to millimetres, and a
//! circle or slot through them.

use std::f64::consts::{PI, TAU};

use super::decode::Photo;
use super::edge::{Filter, along};
use super::find::{Candidate, candidates};
use super::lens::PlaneMap;
use super::linear::{Normal, median};
use super::rectify::Flat;
use super::reference::{Located, USUAL_THICKNESS};
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

/// Thickest plate whose wall is reckoned with, in millimetres.
const THICKEST: f64 = 3.2;
/// Shift of a rim point by a wall seen beside it at which the point counts half, in millimetres.
const WALL_SHIFT: f64 = 0.04;

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
    /// Most of the inside that may differ from its middle brightness away from the plate's: a screw's
    /// head has a recess darker than itself.
    recess: f64,
}

const BY_ITSELF: Demands =
    Demands { support: 0.82, gap: 0.13, inside: 0.72, shape: 0.035, evenness: 0.2, recess: 0.05 };
const TAPPED: Demands = Demands { support: 0.55, gap: 0.3, inside: 0.5, shape: 0.06, evenness: 0.05, recess: 1.0 };

/// All holes of the plate.
pub(super) fn all(photo: &Photo, located: &Located, wanted: &Wanted) -> Vec<MeasuredHole> {
    let [w, d] = located.size;
    let (_, finest) = located.map.pixels_per_mm([w / 2.0, d / 2.0]);
    let scale = (1.0 / finest.max(0.05)).max((w * d / SEARCH_PIXELS).sqrt());
    let flat = Flat::of(photo, located, [0.0, 0.0], [w, d], scale);
    let found = candidates(&flat, wanted.least, wanted.most);
    let probe = Probe { photo, located, filter: Filter::new() };
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
    holes.sort_by(|a, b| {
        let row = |hole: &MeasuredHole| (hole.centre[1] / 10.0).floor();
        row(a).total_cmp(&row(b)).then(a.centre[0].total_cmp(&b.centre[0]))
    });
    holes
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
    let probe = Probe { photo, located, filter: Filter::new() };
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

/// A circle, or a slot where `straight` is above 0; in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Shape {
    centre: [f64; 2],
    radius: f64,
    /// Half the length of the straight sides.
    straight: f64,
    angle: f64,
}

impl Shape {
    /// Distance of a point from the outline, below 0 inside.
    fn distance(&self, point: [f64; 2]) -> f64 {
        let (dx, dy) = (point[0] - self.centre[0], point[1] - self.centre[1]);
        let (s, c) = (libm::sin(self.angle), libm::cos(self.angle));
        let (u, v) = (c * dx + s * dy, c * dy - s * dx);
        let over = u - u.clamp(-self.straight, self.straight);
        libm::hypot(over, v) - self.radius
    }

    /// The point of the outline at a share of the way round, with the normal outwards.
    fn rim(&self, share: f64) -> ([f64; 2], [f64; 2]) {
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

    fn perimeter(&self) -> f64 {
        TAU * self.radius + 4.0 * self.straight
    }

    fn unknowns(&self) -> usize {
        if self.straight > 0.0 { 5 } else { 3 }
    }

    fn changed(&self, unknown: usize, by: f64) -> Self {
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
struct RimPoint {
    plane: [f64; 2],
    /// Height of the step.
    rise: f64,
    /// How much it counts: less where the hole's wall is seen beside it.
    weight: f64,
    /// How far inside the rim it may lie because the wall hides the rim, in millimetres.
    slack: f64,
}

/// A shape fitted to a rim.
#[derive(Clone, Debug)]
struct Fitted {
    shape: Shape,
    /// Scatter of the rim points in millimetres.
    scatter: f64,
    /// Covariance of the shape's unknowns, row by row.
    covariance: Vec<f64>,
    quality: f64,
}

struct Probe<'a> {
    photo: &'a Photo,
    located: &'a Located,
    filter: Filter,
}

impl Probe<'_> {
    /// Fits a candidate; `None` where it does not meet the demands.
    fn fit(&self, candidate: &Candidate, demands: &Demands, wanted: &Wanted) -> Option<Fitted> {
        let round = Shape {
            centre: candidate.centre,
            radius: (candidate.radius * candidate.half_length).sqrt(),
            straight: 0.0,
            angle: 0.0,
        };
        let straight = candidate.half_length - candidate.radius;
        let circle = if straight < 0.35 * candidate.radius {
            self.fit_shape(round, candidate.dark, demands, wanted)
        } else {
            None
        };
        if circle.is_some() || straight < 0.08 * candidate.radius {
            return circle;
        }
        let slot = Shape {
            centre: candidate.centre,
            radius: candidate.radius,
            straight: straight.max(0.1 * candidate.radius),
            angle: candidate.angle,
        };
        self.fit_shape(slot, candidate.dark, demands, wanted)
    }

    fn fit_shape(&self, start: Shape, dark: bool, demands: &Demands, wanted: &Wanted) -> Option<Fitted> {
        let size = |shape: &Shape| 2.0 * (shape.radius + shape.straight);
        let (coarse, _) = self.located.map.pixels_per_mm(start.centre);
        let least_rise = (4.0 * self.located.noise).clamp(6.0, 16.0);
        // First wide, to tell the rim from what is near it.
        let reach = (0.4 * start.radius).max(4.0 / coarse);
        let rays = self.rays(&start, 64, reach.min(0.8 * start.radius), reach, dark, least_rise / 2.0);
        let mut shape = if start.straight > 0.0 {
            let nearest: Vec<RimPoint> = rays.iter().filter_map(|ray| strongest(ray)).collect();
            let fitted = least_squares(start, &nearest, 0.15 * start.radius)?;
            least_squares(fitted.0, &nearest, 0.06 * start.radius)?.0
        } else {
            circle_of(&rays, &start, (1.2 / coarse).max(0.02 * start.radius))?
        };
        // Then close by, finely.
        let mut last = None;
        for _ in 0..2 {
            if !sound(&shape, &start) {
                return None;
            }
            let count = ((shape.perimeter() * coarse / 2.5) as usize).clamp(48, 240);
            let close = (3.0 / coarse).max(0.03 * shape.radius);
            let rays = self.rays(&shape, count, close, close, dark, least_rise / 2.0);
            let points: Vec<Option<RimPoint>> = rays.iter().map(|ray| strongest(ray)).collect();
            let found: Vec<RimPoint> = points.iter().flatten().copied().collect();
            if found.len() * 2 < count {
                return None;
            }
            let scatter = scatter_of(&shape, &found, coarse);
            let (fitted, covariance) = least_squares(shape, &found, 2.5 * scatter)?;
            shape = fitted;
            last = Some((points, covariance));
        }
        let (points, covariance) = last?;
        if !sound(&shape, &start) || 2.0 * shape.radius < wanted.least || size(&shape) > wanted.most {
            return None;
        }
        if start.straight > 0.0 && shape.straight < 0.06 * shape.radius {
            return None;
        }
        let quality = self.judge(&shape, &points, dark, demands, coarse, least_rise)?;
        let found: Vec<RimPoint> = points.iter().flatten().copied().collect();
        let scatter = scatter_of(&shape, &found, coarse);
        Some(Fitted { shape, scatter, covariance, quality })
    }

    /// The steps along `count` rays through the outline, from `inner` millimetres inside it to `outer`
    /// outside; only those that get brighter (for a dark hole) on the way out.
    fn rays(&self, shape: &Shape, count: usize, inner: f64, outer: f64, dark: bool, least: f64) -> Vec<Vec<RimPoint>> {
        let grey = self.photo.grey();
        let map = &self.located.map;
        let slant = self.located.stand.map_or([0.0; 2], |stand| stand.slant(shape.centre));
        (0..count)
            .map(|i| {
                let (rim, normal) = shape.rim((i as f64 + 0.5) / count as f64);
                // On the side away from the camera the wall is seen between the rim and what lies behind.
                let wall = (slant[0] * normal[0] + slant[1] * normal[1]).max(0.0);
                let slack = (THICKEST * wall).min(0.6 * shape.radius);
                let ratio = USUAL_THICKNESS * wall / WALL_SHIFT;
                let weight = 1.0 / (1.0 + ratio * ratio);
                let inner = inner.max(slack);
                let first = map.pixel([rim[0] - normal[0] * inner, rim[1] - normal[1] * inner]);
                let last = map.pixel([rim[0] + normal[0] * outer, rim[1] + normal[1] * outer]);
                let length = libm::hypot(last[0] - first[0], last[1] - first[1]);
                if !(length.is_finite() && length > 0.0) {
                    return Vec::new();
                }
                // The filter needs some pixels more at either end.
                let more = 5.0 / length;
                let (dx, dy) = ((last[0] - first[0]) * more, (last[1] - first[1]) * more);
                let (start, end) = ([first[0] - dx, first[1] - dy], [last[0] + dx, last[1] + dy]);
                let mut points: Vec<RimPoint> = self
                    .filter
                    .steps(grey, start, end, 1, least)
                    .into_iter()
                    .filter(|step| (step.rise > 0.0) == dark)
                    .map(|step| RimPoint {
                        plane: map.plane(along(start, end, step.at)),
                        rise: step.rise.abs(),
                        weight,
                        slack,
                    })
                    .collect();
                points.sort_by(|a, b| b.rise.total_cmp(&a.rise));
                points.truncate(4);
                points
            })
            .collect()
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
    ) -> Option<f64> {
        let count = points.len() as f64;
        let tolerance = (1.0 / coarse).max(0.03 * shape.radius);
        let on_rim = |point: &Option<RimPoint>| {
            let on = |point: &RimPoint| (-tolerance - point.slack..tolerance).contains(&shape.distance(point.plane));
            point.filter(on).map(|point| point.rise)
        };
        let seen: Vec<Option<f64>> = points.iter().map(on_rim).collect();
        let mut rises: Vec<f64> = seen.iter().flatten().copied().collect();
        if rises.len() < 12 {
            return None;
        }
        let typical = median(&mut rises);
        rises.sort_by(f64::total_cmp);
        let faint = rises[rises.len() / 10];
        let support = rises.len() as f64 / count;
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
                    let off = shape.distance(point.plane) * point.weight;
                    s += off * libm::sin(angle);
                    c += off * libm::cos(angle);
                }
            }
            *wave = 2.0 * libm::hypot(s, c) / rises.len() as f64;
        }
        let wave = waves.iter().copied().fold(0.0, f64::max);
        let allowed = (demands.shape * shape.radius).max(0.45 / coarse);
        if wave > allowed {
            return None;
        }
        // The inside as a whole must differ from the plate as the rim does.
        let (inside, recess) = self.inside_share(shape, dark)?;
        if inside < demands.inside || recess > demands.recess {
            return None;
        }
        let score = |value: f64, least: f64, full: f64| ((value - least) / (full - least)).clamp(0.0, 1.0);
        let quality = score(support, 0.5, 0.97)
            * score(inside, 0.4, 0.9)
            * score(typical, 0.5 * least_rise, 2.0 * least_rise)
            * score(faint / typical, 0.0, 0.4)
            * score(2.0 * allowed - wave, 0.0, 1.2 * allowed);
        Some(libm::sqrt(quality))
    }

    /// The share of the inside that is nearer to the inside's middle brightness than to the plate's,
    /// and the share that differs from that middle much the other way.
    fn inside_share(&self, shape: &Shape, dark: bool) -> Option<(f64, f64)> {
        let grey = self.photo.grey();
        let slant = self.located.stand.map_or([0.0; 2], |stand| stand.slant(shape.centre));
        let place = |share: f64, depth: f64| {
            let (rim, normal) = shape.rim(share);
            [rim[0] + normal[0] * depth, rim[1] + normal[1] * depth]
        };
        let look = |point: [f64; 2]| {
            let [x, y] = self.located.map.pixel(point);
            grey.at(x, y)
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
        let mut within = Vec::new();
        for thickness in [THICKEST, THICKEST / 2.0, 0.0] {
            let behind = |point: &[f64; 2]| [point[0] + thickness * slant[0], point[1] + thickness * slant[1]];
            within =
                points.iter().filter(|point| shape.distance(behind(point)) < 0.0).filter_map(|p| look(*p)).collect();
            if within.len() * 3 > points.len() {
                break;
            }
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
        let beyond = inner + 0.35 * (inner - plate);
        let recess = within.iter().filter(|value| (**value < beyond) == dark).count() as f64;
        Some((good / count, recess / count))
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
        let by_rim = |i: usize, j: usize| 1.5 * fitted.covariance[i * n + j] * fitted.scatter * fitted.scatter;
        let floor = (LENS_REST / coarse) * (LENS_REST / coarse);
        let xx = by_map[0][0] + by_rim(0, 0) + floor;
        let yy = by_map[1][1] + by_rim(1, 1) + floor;
        let xy = by_map[0][1] + by_rim(0, 1);
        let larger = (xx + yy) / 2.0 + libm::hypot((xx - yy) / 2.0, xy);
        let shift = 2.0 * EDGE_SHIFT / coarse;
        let diameter = by_map[2][2] + 4.0 * by_rim(2, 2) + shift * shift;
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
        MeasuredHole {
            centre: shape.centre,
            centre_within: CIRCLE_95 * larger.max(0.0).sqrt(),
            diameter: 2.0 * shape.radius,
            diameter_within: 2.0 * diameter.max(0.0).sqrt(),
            kind,
            confidence: fitted.quality,
            outline,
        }
    }
}

/// The scatter of the clear rim points about a shape, in millimetres.
fn scatter_of(shape: &Shape, points: &[RimPoint], coarse: f64) -> f64 {
    let clear = points.iter().filter(|point| point.weight > 0.3);
    let mut offs: Vec<f64> = clear.map(|point| shape.distance(point.plane).abs()).collect();
    (median(&mut offs) / 0.6745).max(0.08 / coarse)
}

/// The middle of some pixels in the plane and their mean distance from it.
fn spread(map: &PlaneMap, pixels: &[[f64; 2]]) -> ([f64; 2], f64) {
    let count = pixels.len() as f64;
    let points: Vec<[f64; 2]> = pixels.iter().map(|pixel| map.plane(*pixel)).collect();
    let middle = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count);
    let size = points.iter().map(|point| libm::hypot(point[0] - middle[0], point[1] - middle[1])).sum::<f64>() / count;
    (middle, size)
}

fn strongest(ray: &[RimPoint]) -> Option<RimPoint> {
    ray.first().copied()
}

/// Whether a fit stayed near where it started.
fn sound(shape: &Shape, start: &Shape) -> bool {
    let off = libm::hypot(shape.centre[0] - start.centre[0], shape.centre[1] - start.centre[1]);
    let size = start.radius + start.straight;
    shape.radius.is_finite()
        && off < 0.6 * size
        && (0.5 * start.radius..2.0 * start.radius).contains(&shape.radius)
        && shape.straight >= 0.0
        && shape.straight < 2.0 * size
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

/// The circle that most rays have a step on.
fn circle_of(rays: &[Vec<RimPoint>], start: &Shape, tolerance: f64) -> Option<Shape> {
    let usable: Vec<&Vec<RimPoint>> = rays.iter().filter(|ray| !ray.is_empty()).collect();
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
                        let off = shape.distance(point.plane) / tolerance;
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
            let off = |point: &RimPoint| shape.distance(point.plane).abs();
            ray.iter().copied().filter(|point| off(point) < tolerance).min_by(|a, b| off(a).total_cmp(&off(b)))
        })
        .collect();
    least_squares(shape, &near, tolerance).map(|(shape, _)| shape)
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

/// Fits a shape to points by geometric distance, far points weighed down (Cauchy's weight at `far`).
/// Gives the covariance for unit scatter too.
fn least_squares(start: Shape, points: &[RimPoint], far: f64) -> Option<(Shape, Vec<f64>)> {
    let n = start.unknowns();
    if points.len() < 3 * n {
        return None;
    }
    let mut shape = start;
    let mut covariance = None;
    for _ in 0..8 {
        let mut normal = Normal::new(n);
        let mut row = vec![0.0; n];
        for point in points {
            let off = shape.distance(point.plane);
            for (unknown, cell) in row.iter_mut().enumerate() {
                let step = if unknown == 4 { 1e-5 } else { 1e-4 };
                let up = shape.changed(unknown, step).distance(point.plane);
                let down = shape.changed(unknown, -step).distance(point.plane);
                *cell = (up - down) / (2.0 * step);
            }
            let ratio = off / far;
            normal.add(&row, -off, point.weight / (1.0 + ratio * ratio));
        }
        let step = normal.solve()?;
        covariance = normal.inverse();
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
    Some((shape, covariance?))
}
