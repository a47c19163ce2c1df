//! Which line is the edge of the plate's face: on the sides towards the camera the plate's thickness
//! shows beside it, and the eye-catching step may be the one from the side to the ground.
//!
//! The photo is averaged along each edge, so that even a faint step stands out of the noise, and two
//! steps are fitted to the average, as far apart as each thickness would show. The blur is that of the
//! opposite edge, where no side is seen. All places that fit are weighed (Bayes' rule, flat in place,
//! even over usual thicknesses), and the thickness is the plate's own: one for all edges. What comes out
//! is the face's edge and how far it may be off: little where two steps are seen, much where the side
//! looks like the face or like the ground. On an edge that faces away no side shows; a strip beside it is a
//! shadow on the ground, and the face ends at its inner step.

use super::adjust::{Adjustment, Line, Seen};
use super::decode::Grey;
use super::edge::{Filter, SPACING, Step};
use super::lens::Stand;
use super::linear::{Normal, median};
use super::reference::EDGES;

/// Thinnest and thickest plate that is reckoned with, in millimetres. Ours: sheet for gland plates.
const THICKNESSES: [f64; 2] = [0.7, 3.4];
/// Thicknesses tried.
const TRIED: usize = 28;
/// Parts of an edge that are needed to know it.
const LEAST_PARTS: usize = 8;
/// Faintest step of an average that counts, in grey levels.
const FAINTEST: f64 = 1.5;
/// How well a blurred step is one of a Gaussian blur: share of its height that the fit may leave.
const MISMATCH: f64 = 0.006;
/// Uncertainty, in millimetres along the plate, from which a side is told to be doubtful.
const DOUBTFUL: f64 = 0.35;
/// How wide a strip of shadow beside an edge is reckoned with, in millimetres, and how high its inner step
/// is at least, as a share of the outer one's. Beside a plate that lies hollow its shadow on the ground shows
/// as a strip like a side's. Ours.
const STRIP: f64 = 4.0;
const STRIP_RISE: f64 = 0.25;
/// Blurs tried for an edge, in pixels (standard deviation).
const BLURS: [f64; 2] = [0.45, 3.2];

/// How likely each thickness is.
pub(super) type Likely = [f64; TRIED];

/// Nothing known of the thickness.
pub(super) const UNKNOWN: Likely = [1.0; TRIED];

/// The thickness of a place in [`Likely`], in millimetres.
fn thickness(at: usize) -> f64 {
    THICKNESSES[0] + (THICKNESSES[1] - THICKNESSES[0]) * at as f64 / (TRIED - 1) as f64
}

/// The middle and the standard deviation of what is likely.
pub(super) fn told(likely: &Likely) -> (f64, f64) {
    let whole: f64 = likely.iter().sum();
    let mean = likely.iter().enumerate().map(|(at, share)| thickness(at) * share).sum::<f64>() / whole;
    let square = likely
        .iter()
        .enumerate()
        .map(|(at, share)| (thickness(at) - mean) * (thickness(at) - mean) * share)
        .sum::<f64>()
        / whole;
    (mean, square.max(0.0025).sqrt())
}

/// A plate's edge averaged along its length.
struct View {
    /// Millimetres of side seen by millimetre of thickness; 0 where it faces away.
    shown: f64,
    /// Pixels a millimetre across the edge.
    scale: f64,
    /// Pixels from a profile's start to where the adjustment has the edge.
    reach: f64,
    /// Parts along the edge: a place on it, the direction outwards, light across.
    parts: Vec<([f64; 2], [f64; 2], Vec<f64>)>,
    /// The middle of all parts.
    whole: Vec<f64>,
    /// Its clearest sharp step near where the edge should be.
    main: Option<Step>,
    /// The step within that, where a strip of another brightness lies between.
    inner: Option<Step>,
}

/// What the edges were settled as.
pub(super) struct Settled {
    /// Points on the edges.
    pub(super) seen: Vec<Seen>,
    /// How far each edge may be off across, in millimetres (standard deviation).
    pub(super) within: [f64; 4],
    /// How likely each thickness is.
    pub(super) likely: Likely,
    /// Edges whose side is not told from face or ground though it should be seen.
    pub(super) doubtful: Vec<&'static str>,
    /// Edges where nothing sharp is seen.
    pub(super) lost: Vec<&'static str>,
}

/// Looks at the four edges, right where the adjustment has them. `before` is how likely each thickness
/// is without them.
pub(super) fn settle(grey: Grey<'_>, filter: &Filter, adjustment: &Adjustment, before: &Likely) -> Option<Settled> {
    let views: Vec<View> = (0..4).map(|edge| view(grey, filter, adjustment, edge)).collect::<Option<_>>()?;
    let alone: Vec<Option<(f64, f64)>> = views.iter().map(one_step).collect();
    let fits: Vec<Option<Fits>> = (0..4)
        .map(|edge| {
            let view = &views[edge];
            let side = view.shown * view.scale;
            if side * THICKNESSES[1] < 0.6 {
                return None;
            }
            // The opposite edge faces away, and what blurs it blurs this one.
            let blur = alone[(edge + 2) % 4].or(alone[edge])?.1;
            Fits::of(view, side, blur)
        })
        .collect();
    let mut likely = *before;
    for fits in fits.iter().flatten() {
        let seen = fits.likely();
        for (at, share) in likely.iter_mut().enumerate() {
            *share *= seen[at];
        }
    }
    let mut out = Settled { seen: Vec::new(), within: [0.0; 4], likely, doubtful: Vec::new(), lost: Vec::new() };
    for (edge, view) in views.iter().enumerate() {
        let Some(main) = view.main else {
            out.lost.push(EDGES[edge]);
            continue;
        };
        let mut face = alone[edge].map_or(main.at, |(at, _)| at);
        if let Some(fits) = &fits[edge] {
            let spread;
            (face, spread) = fits.face(&likely);
            out.within[edge] = spread / view.scale;
        } else if let Some(inner) = view.inner {
            // No side is expected here, so that the strip is a shadow on the ground and the face ends at its
            // inner step; or it is a line along the face's edge. Anywhere between alike is the strip's width by
            // √12 (JCGM 100:2008, 4.3.7).
            out.within[edge] = (main.at - inner.at) / 12f64.sqrt() / view.scale;
            face = inner.at;
        }
        if out.within[edge] > DOUBTFUL {
            out.doubtful.push(EDGES[edge]);
        }
        // Where a part is off the average, the edge is by as much. Where hardly any part can be compared
        // with the average, the average stands for all.
        let offs: Vec<Option<f64>> =
            view.parts.iter().map(|(_, _, light)| offset(light, &view.whole, view.reach + main.at)).collect();
        let few = offs.iter().flatten().count() < LEAST_PARTS;
        for ((place, outward, _), off) in view.parts.iter().zip(offs) {
            let Some(off) = (if few { Some(0.0) } else { off }) else { continue };
            let at = face + off;
            let pixel = [place[0] + outward[0] * at, place[1] + outward[1] * at];
            out.seen.push(Seen { pixel, line: Line::Plate(edge) });
        }
    }
    Some(out)
}

/// The edge averaged, part by part and as a whole.
fn view(grey: Grey<'_>, filter: &Filter, adjustment: &Adjustment, edge: usize) -> Option<View> {
    let map = adjustment.map()?;
    let corners = adjustment.plate_corners();
    let (p, q) = (corners[edge], corners[(edge + 1) % 4]);
    let length = libm::hypot(q[0] - p[0], q[1] - p[1]);
    let outward = [(q[1] - p[1]) / length, -(q[0] - p[0]) / length];
    let shown = Stand::of(&map).map_or(0.0, |stand| {
        let [x, y] = stand.slant([(p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0]);
        (-(x * outward[0] + y * outward[1])).max(0.0)
    });
    let (a, b) = (map.pixel(p), map.pixel(q));
    let pixels = libm::hypot(b[0] - a[0], b[1] - a[1]);
    let ray = |share: f64| {
        let on = [p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share];
        let place = map.pixel(on);
        let beyond = map.pixel([on[0] + outward[0], on[1] + outward[1]]);
        let (dx, dy) = (beyond[0] - place[0], beyond[1] - place[1]);
        let scale = libm::hypot(dx, dy);
        (place, [dx / scale, dy / scale], scale)
    };
    let scale = ray(0.5).2;
    let reach = (THICKNESSES[1] * shown * scale + 14.0).min(120.0);
    if !(pixels.is_finite() && reach.is_finite()) {
        return None;
    }
    let count = ((pixels / 30.0) as usize).clamp(12, 60);
    let rays = ((0.96 * pixels / count as f64 / 1.5) as usize).clamp(4, 60);
    let mut parts: Vec<([f64; 2], [f64; 2], Vec<f64>)> = Vec::new();
    for part in 0..count {
        let share = |within: f64| 0.02 + 0.96 * (part as f64 + within) / count as f64;
        let lines: Vec<([f64; 2], [f64; 2])> = (0..rays)
            .map(|i| {
                let (place, outward, _) = ray(share((i as f64 + 0.5) / rays as f64));
                (place, outward)
            })
            .collect();
        let Some(light) = filter.mean_light(grey, &lines, reach) else { continue };
        let (place, outward, _) = ray(share(0.5));
        parts.push((place, outward, light));
    }
    let samples = parts.iter().map(|(_, _, light)| light.len()).min()?;
    if parts.len() < LEAST_PARTS {
        return None;
    }
    // The middle value of the parts at each place: what crosses the edge somewhere does not count.
    let whole: Vec<f64> =
        (0..samples).map(|i| median(&mut parts.iter().map(|(_, _, light)| light[i]).collect::<Vec<_>>())).collect();
    let window = 6.0 + THICKNESSES[1] * shown * scale;
    // A shadow's edge is soft, the plate's is not; but a side's two steps may be seen as a wide one.
    let near: Vec<Step> =
        filter.steps_in(&whole, FAINTEST, reach).into_iter().filter(|step| step.at.abs() < window).collect();
    let highest = |steps: &mut dyn Iterator<Item = Step>| steps.max_by(|a, b| a.rise.abs().total_cmp(&b.rise.abs()));
    let sharp = highest(&mut near.iter().copied().filter(|step| step.sharp));
    let wide = THICKNESSES[1] * shown * scale > 2.0;
    let main = if wide { sharp.or_else(|| highest(&mut near.iter().copied())) } else { sharp };
    let inner = main.and_then(|main| {
        // Down into the strip and up out of it, or the other way round.
        let apart = 2.5..=(STRIP * scale).max(3.0);
        let strip = near.iter().filter(|step| {
            apart.contains(&(main.at - step.at))
                && step.rise * main.rise < 0.0
                && step.rise.abs() > STRIP_RISE * main.rise.abs()
        });
        highest(&mut strip.copied().filter(|step| step.sharp))
    });
    Some(View { shown, scale, reach, parts, whole, main, inner })
}

/// Least squares of blurred steps at `places` (samples from the start) to part of a profile, with the
/// light sloping before the first and after the last: the sum of squares left, and the steps' heights.
fn left_over(light: &[f64], part: std::ops::Range<usize>, places: &[f64], blur: f64) -> Option<(f64, [f64; 2])> {
    let (first, last) = (places[0], places[places.len() - 1]);
    let n = 3 + places.len();
    let mut normal = Normal::new(n);
    let mut row = [0.0; 5];
    let mut squares = 0.0;
    for i in part {
        let x = i as f64;
        row[0] = 1.0;
        row[1] = (x - first).min(0.0);
        row[2] = (x - last).max(0.0);
        for (cell, place) in row[3..].iter_mut().zip(places) {
            *cell = smooth_step((x - place) / blur);
        }
        normal.add(&row[..n], light[i], 1.0);
        squares += light[i] * light[i];
    }
    let found = normal.solve()?;
    // For the least squares, Σr² = Σy² − x·(Aᵀy).
    let explained: f64 = found.iter().zip(&normal.right).map(|(x, b)| x * b).sum();
    let heights = [found[3], found.get(4).copied().unwrap_or(0.0)];
    Some(((squares - explained).max(0.0), heights))
}

/// A step blurred by a Gaussian.
fn smooth_step(x: f64) -> f64 {
    // Beyond four deviations nothing is left of it.
    if x.abs() > 4.0 {
        f64::from(u8::from(x > 0.0))
    } else {
        0.5 * (1.0 + libm::erf(x * std::f64::consts::FRAC_1_SQRT_2))
    }
}

/// The part of a profile some pixels around a place, in samples.
fn part_of(view: &View, from: f64, to: f64) -> std::ops::Range<usize> {
    let sample = |at: f64| ((at + view.reach) / SPACING).clamp(0.0, view.whole.len() as f64) as usize;
    sample(from)..sample(to)
}

/// One step fitted to the whole edge: its place in pixels outwards and its blur.
fn one_step(view: &View) -> Option<(f64, f64)> {
    let main = view.main?;
    let part = part_of(view, main.at - 9.0, main.at + 9.0);
    let cost = |at: f64, blur: f64| {
        let place = (at + view.reach) / SPACING;
        left_over(&view.whole, part.clone(), &[place], blur / SPACING).map_or(f64::INFINITY, |(left, _)| left)
    };
    let mut best = (f64::INFINITY, main.at, 1.0);
    let mut span = [1.0, 1.0];
    let mut middle = [main.at, 1.4];
    for _ in 0..4 {
        for i in -4..=4 {
            for j in -4..=4 {
                let at = middle[0] + span[0] * f64::from(i) / 4.0;
                let blur = (middle[1] + span[1] * f64::from(j) / 4.0).clamp(BLURS[0], BLURS[1]);
                let left = cost(at, blur);
                if left < best.0 {
                    best = (left, at, blur);
                }
            }
        }
        middle = [best.1, best.2];
        span = span.map(|span| span / 3.0);
    }
    best.0.is_finite().then_some((best.1, best.2))
}

/// How well two steps fit an edge, by thickness and place of the first.
struct Fits {
    /// Place of the first step in pixels outwards, for each row of `weights`.
    places: Vec<f64>,
    /// Weight of each thickness at each place.
    weights: Vec<Likely>,
}

impl Fits {
    fn of(view: &View, side: f64, blur: f64) -> Option<Self> {
        let main = view.main?;
        let most = THICKNESSES[1] * side;
        let part = part_of(view, main.at - most - 8.0, main.at + most + 8.0);
        let count = (((most + 2.0) / 0.15) as usize).clamp(12, 120);
        let places: Vec<f64> = (0..=count).map(|i| main.at + 1.0 - (most + 2.0) * i as f64 / count as f64).collect();
        let mut left = Vec::with_capacity(places.len());
        let mut least = (f64::INFINITY, 0.0f64);
        for place in &places {
            let mut row = [f64::INFINITY; TRIED];
            for (at, cell) in row.iter_mut().enumerate() {
                let second = place + thickness(at) * side;
                if second < main.at - 1.5 {
                    continue;
                }
                let both = [place, &second].map(|at| (at + view.reach) / SPACING);
                if let Some((squares, heights)) = left_over(&view.whole, part.clone(), &both, blur / SPACING) {
                    *cell = squares;
                    if squares < least.0 {
                        least = (squares, heights[0].abs().max(heights[1].abs()));
                    }
                }
            }
            left.push(row);
        }
        let (least, height) = least;
        // Neighbouring samples share pixels: about one in four is its own. What is left of a perfect fit
        // tells the noise; what a Gaussian leaves of a real blur is allowed for.
        let noise = (least / part.len() as f64).max(MISMATCH * MISMATCH * height * height);
        let weights =
            left.iter().map(|row| row.map(|squares| libm::exp(-(squares - least) / (2.0 * 4.0 * noise)))).collect();
        (least.is_finite() && noise > 0.0).then_some(Self { places, weights })
    }

    /// How likely each thickness is by this edge alone, blurred by what the camera's stand is uncertain.
    fn likely(&self) -> Likely {
        let sums: Likely = std::array::from_fn(|at| self.weights.iter().map(|row| row[at]).sum());
        let whole: f64 = sums.iter().sum();
        std::array::from_fn(|at| {
            let (mut sum, mut weights) = (0.0, 0.0);
            for (other, share) in sums.iter().enumerate() {
                let off = (thickness(other) - thickness(at)) / (0.1 + 0.12 * thickness(at));
                let weight = libm::exp(-0.5 * off * off);
                sum += weight * share;
                weights += weight;
            }
            // No edge alone rules a thickness out.
            sum / weights / whole + 0.02 / TRIED as f64
        })
    }

    /// The face's edge in pixels outwards and its standard deviation.
    fn face(&self, likely: &Likely) -> (f64, f64) {
        let (mut whole, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for (place, row) in self.places.iter().zip(&self.weights) {
            let weight: f64 = row.iter().zip(likely).map(|(weight, share)| weight * share).sum();
            whole += weight;
            sum += weight * place;
            squares += weight * place * place;
        }
        let mean = sum / whole;
        (mean, (squares / whole - mean * mean).max(0.0).sqrt())
    }
}

/// By how many pixels a part of an edge lies outwards of the average, seen near `around` (pixels from
/// the start): by least squares, with the part's own brightness and contrast. `None` where it does not fit.
fn offset(light: &[f64], whole: &[f64], around: f64) -> Option<f64> {
    let middle = around / SPACING;
    let window = 9.0 / SPACING;
    let range = (middle - window).max(2.0) as usize..((middle + window) as usize).min(whole.len().saturating_sub(2));
    let mut off = 0.0;
    for _ in 0..6 {
        let mut normal = Normal::new(3);
        for i in range.clone() {
            let x = i as f64 - off;
            let at = (x.max(1.0) as usize).min(whole.len() - 3);
            let share = x - at as f64;
            let value = whole[at] * (1.0 - share) + whole[at + 1] * share;
            let slope =
                (whole[at + 1] - whole[at - 1]) * 0.5 * (1.0 - share) + (whole[at + 2] - whole[at]) * 0.5 * share;
            normal.add(&[1.0, value, -slope], light.get(i).copied()?, 1.0);
        }
        let found = normal.solve()?;
        // Contrast the wrong way round or lost: something lies across the edge here.
        if !(0.3..3.0).contains(&found[1]) {
            return None;
        }
        let step = found[2] / found[1];
        off += step.clamp(-2.0, 2.0);
        if off.abs() > 10.0 {
            return None;
        }
        if step.abs() < 0.01 {
            break;
        }
    }
    Some(off * SPACING)
}
