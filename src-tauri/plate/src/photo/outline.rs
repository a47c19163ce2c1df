//! The plate's edges and the markers' sides in the photo, point by point.

use super::PhotoError;
use super::adjust::{Line, Seen};
use super::decode::{Grey, Photo};
use super::doubt::{HUE, colour_at, hues_apart, middle_of};
use super::edge::{Filter, Step, along};
use super::linear::Normal;
use super::reference::EDGES;

/// How far a finger may miss a corner, in millimetres. Ours.
const FINGER: f64 = 7.0;
/// Where the side of the sheet can show beyond the face's edge, in millimetres: plates are seldom
/// thicker. The inner of two such lines is the face's.
const VISIBLE_SIDE: f64 = 4.0;

/// Looks for edges in the photo.
pub(super) struct Finder<'a> {
    pub(super) photo: &'a Photo,
    pub(super) grey: Grey<'a>,
    pub(super) filter: Filter,
    /// Least step in grey levels that counts.
    pub(super) least: f64,
}

/// Profiles across an edge: where each starts, ends, and its steps.
struct Across {
    start: [f64; 2],
    end: [f64; 2],
    /// Place along the edge, from -1 to 1.
    place: f64,
    steps: Vec<Step>,
    /// For every pixel from its start on whether it has another colour than the plate's face.
    strange: Vec<bool>,
}

/// Pixels inside an edge where its blur has left nothing, and a photo's coarser colour.
const INSIDE: usize = 4;
/// Share of an edge's length along which another colour than the face's may lie inside it: labels, rust.
const STRANGE: f64 = 0.25;
/// What is left of a line's worth as an edge where all inside it has another colour than the face.
const ON_GROUND: f64 = 0.2;

impl Finder<'_> {
    /// The plate's edge near the line between two taps: of all gentle curves near it the one that
    /// most profiles have a step on. `length` is the edge's in millimetres.
    pub(super) fn plate_edge(&self, taps: &[[f64; 2]; 4], edge: usize, length: f64) -> Result<Vec<Seen>, PhotoError> {
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
        let reach = (0.03 * longest).max(14.0).max((FINGER * pixels / length).min(80.0));
        let count = ((pixels / 6.0) as usize).clamp(40, 160);
        let face = face_between(self.photo, taps);
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
                let strange = (0..(2.0 * reach) as usize)
                    .map(|at| is_strange(self.photo, face, along(start, end, at as f64 + 0.5)))
                    .collect();
                Across { start, end, place: 2.0 * share - 1.0, steps, strange }
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

    /// A marker's side: dark inside, bright outside.
    pub(super) fn marker_side(&self, id: usize, side: usize, corners: &[[f64; 2]; 4]) -> Vec<Seen> {
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

/// The middle colour of what lies between four taps.
fn face_between(photo: &Photo, taps: &[[f64; 2]; 4]) -> [f64; 3] {
    let between = |a: [f64; 2], b: [f64; 2], share: f64| [0, 1].map(|i| a[i] + (b[i] - a[i]) * share);
    let colours: Vec<[f64; 3]> = (0..40 * 40)
        .filter_map(|i| {
            let (across, down) = ((f64::from(i % 40) + 0.5) / 40.0, (f64::from(i / 40) + 0.5) / 40.0);
            colour_at(photo, between(between(taps[0], taps[1], across), between(taps[3], taps[2], across), down))
        })
        .collect();
    middle_of(&colours)
}

/// Whether there is another colour than the face's. Its light does not count: shadows fall on the face.
fn is_strange(photo: &Photo, face: [f64; 3], place: [f64; 2]) -> bool {
    colour_at(photo, place).is_some_and(|colour| hues_apart(&colour, &face) > HUE)
}

/// Share of the profiles that have another colour than the face's right inside the curve.
fn strange_inside(profiles: &[Across], curve: &[f64; 3]) -> f64 {
    let strange = profiles.iter().filter(|profile| {
        let at = at_place(curve, profile.place) as usize;
        let near = profile.strange.get(at.saturating_sub(INSIDE + 2)..at.saturating_sub(INSIDE - 1)).unwrap_or(&[]);
        near.iter().filter(|strange| **strange).count() * 2 > near.len()
    });
    strange.count() as f64 / profiles.len().max(1) as f64
}

/// Edges of the plate, by number, that lie on the ground and not on the plate's face: what is right inside them
/// has another colour than the face.
pub(super) fn on_ground(photo: &Photo, corners: &[[f64; 2]; 4]) -> Vec<usize> {
    let face = face_between(photo, corners);
    (0..4)
        .filter(|edge| {
            let (p, q) = (corners[*edge], corners[(edge + 1) % 4]);
            let length = libm::hypot(q[0] - p[0], q[1] - p[1]).max(1.0);
            let (dx, dy) = ((q[0] - p[0]) / length, (q[1] - p[1]) / length);
            let strange = (0..200).filter(|i| {
                let way = length * (0.05 + 0.9 * (f64::from(*i) + 0.5) / 200.0);
                let inside = (INSIDE as f64) + f64::from(i % 3) - 1.0;
                is_strange(photo, face, [p[0] + dx * way - dy * inside, p[1] + dy * way + dx * inside])
            });
            strange.count() as f64 > 200.0 * STRANGE
        })
        .collect()
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
        // A grain line of the ground is as straight as an edge, but what lies inside it is not the face.
        let own = ON_GROUND + (1.0 - ON_GROUND) * (1.0 - strange_inside(profiles, &curve));
        tried.push((own * worth(profiles, &curve, 2.0), curve));
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

#[cfg(test)]
mod tests {
    use super::*;

    const CORNERS: [[f64; 2]; 4] = [[60.0, 60.0], [460.0, 60.0], [460.0, 300.0], [60.0, 300.0]];

    /// A grey plate on wood of the same brightness, whose grain runs along the plate's front and rear edges.
    fn on_wood() -> Photo {
        let mut rgb = Vec::new();
        for y in 0..360u32 {
            for x in 0..520u32 {
                let inside = (60..460).contains(&x) && (60..300).contains(&y);
                let grain = 1.0 + 0.25 * libm::sin(f64::from(y) * 0.5 + f64::from(x) * 0.004);
                rgb.extend(if inside { [96; 3] } else { [140.0, 86.0, 40.0].map(|level| (level * grain) as u8) });
            }
        }
        Photo::from_rgb(520, 360, rgb).expect("a photo")
    }

    #[test]
    fn an_edge_with_the_grounds_colour_inside_it_lies_on_the_ground() {
        let photo = on_wood();
        assert!(on_ground(&photo, &CORNERS).is_empty());
        let mut out = CORNERS;
        out[2][1] += 9.0;
        out[3][1] += 12.0;
        assert_eq!(on_ground(&photo, &out), [2]);
        // Inside the face nothing is told from its colour.
        out[2][1] = 290.0;
        out[3][1] = 290.0;
        assert!(on_ground(&photo, &out).is_empty());
    }

    #[test]
    fn a_grain_line_beside_the_plate_is_not_its_edge() {
        let photo = on_wood();
        let finder = Finder { photo: &photo, grey: photo.grey(), filter: Filter::new(), least: 4.0 };
        let taps = [[58.0, 57.0], [463.0, 62.0], [462.0, 309.0], [57.0, 307.0]];
        for (edge, middle) in [(0, 60.0), (2, 300.0)] {
            let seen = finder.plate_edge(&taps, edge, 200.0).expect("an edge");
            let mut off: Vec<f64> = seen.iter().map(|point| (point.pixel[1] - middle).abs()).collect();
            assert!(super::super::linear::median(&mut off) < 1.5, "edge {edge}: {off:?}");
        }
    }
}
