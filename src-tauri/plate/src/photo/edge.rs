//! Steps of brightness along a short line across the photo, to a fraction of a pixel.

use super::decode::Grey;

/// Spacing of the samples, in pixels.
const SPACING: f64 = 0.5;
/// Width of the smoothing (standard deviation), in pixels: a little more than a sharp lens blurs.
const SMOOTHING: f64 = 1.4;
/// Reach of the filter to either side, in samples.
const REACH: usize = 8;

/// A step of brightness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    /// Distance from the line's start, in pixels.
    pub(super) at: f64,
    /// How much brighter it gets, in grey levels; below 0 where it gets darker.
    pub(super) rise: f64,
}

/// The filter: derivative of a Gaussian, scaled so that a sharp step answers with its height.
pub(super) struct Filter {
    weights: [f64; REACH],
}

impl Filter {
    pub(super) fn new() -> Self {
        let sigma = SMOOTHING / SPACING;
        let mut weights: [f64; REACH] = std::array::from_fn(|i| {
            let x = (i + 1) as f64;
            x * libm::exp(-x * x / (2.0 * sigma * sigma))
        });
        let sum: f64 = weights.iter().sum();
        for weight in &mut weights {
            *weight /= sum;
        }
        Self { weights }
    }

    /// The steps along the line from `start` to `end` that are at least `least` grey levels high,
    /// in order. The line is widened by `lanes` pixels to either side and averaged.
    pub(super) fn steps(&self, grey: Grey<'_>, start: [f64; 2], end: [f64; 2], lanes: i32, least: f64) -> Vec<Step> {
        let Some(profile) = profile(grey, start, end, lanes) else { return Vec::new() };
        let count = profile.len();
        if count < 2 * REACH + 3 {
            return Vec::new();
        }
        let answer: Vec<f64> = (REACH..count - REACH)
            .map(|i| {
                self.weights
                    .iter()
                    .enumerate()
                    .map(|(k, weight)| weight * (profile[i + k + 1] - profile[i - k - 1]))
                    .sum()
            })
            .collect();
        let mut steps = Vec::new();
        for i in 1..answer.len() - 1 {
            let (before, here, after) = (answer[i - 1].abs(), answer[i].abs(), answer[i + 1].abs());
            if here < least || here < before || here <= after || answer[i - 1] * answer[i + 1] < 0.0 {
                continue;
            }
            // The peak of the parabola through the three.
            let bend = before - 2.0 * here + after;
            let offset = if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 };
            steps.push(Step { at: ((i + REACH) as f64 + offset) * SPACING, rise: answer[i] });
        }
        steps
    }
}

/// Brightness along a line every [`SPACING`] pixels, from its start; `None` where it is too long.
/// Beyond the picture its outermost pixels go on, so that its border is no step.
fn profile(grey: Grey<'_>, start: [f64; 2], end: [f64; 2], lanes: i32) -> Option<Vec<f64>> {
    let (dx, dy) = (end[0] - start[0], end[1] - start[1]);
    let length = libm::hypot(dx, dy);
    if !(length.is_finite() && length > 0.0 && length < 4000.0) {
        return None;
    }
    let (dx, dy) = (dx / length, dy / length);
    let count = (length / SPACING) as usize + 1;
    let share = 1.0 / f64::from(2 * lanes + 1);
    let mut out = vec![0.0; count];
    for lane in -lanes..=lanes {
        let lane = f64::from(lane);
        let (x, y) = (start[0] - dy * lane, start[1] + dx * lane);
        for (i, value) in out.iter_mut().enumerate() {
            let along = i as f64 * SPACING;
            let px = (x + dx * along).clamp(0.5, grey.width as f64 - 0.6);
            let py = (y + dy * along).clamp(0.5, grey.height as f64 - 0.6);
            *value += share * grey.at(px, py)?;
        }
    }
    Some(out)
}

/// The point of the line from `start` to `end` that is `at` pixels from its start.
pub(super) fn along(start: [f64; 2], end: [f64; 2], at: f64) -> [f64; 2] {
    let (dx, dy) = (end[0] - start[0], end[1] - start[1]);
    let length = libm::hypot(dx, dy);
    [start[0] + dx / length * at, start[1] + dy / length * at]
}

/// The noise of the picture in grey levels: from how much pixels differ from the mean of their
/// neighbours to left and right, taken as the middle value so that edges do not count.
pub(super) fn noise(grey: Grey<'_>) -> f64 {
    let mut differences = Vec::new();
    let step = (grey.bytes.len() / 20_000).max(1);
    let mut at = 1;
    while at + 1 < grey.bytes.len() {
        let [a, b, c] = [grey.bytes[at - 1], grey.bytes[at], grey.bytes[at + 1]].map(f64::from);
        // Burnt-out and black areas have no noise to show.
        if (4.0..=251.0).contains(&b) {
            differences.push((b - (a + c) / 2.0).abs());
        }
        at += step;
    }
    // For normal noise the middle absolute value is 0.6745 sigma, and b - (a + c) / 2 has sigma · √1.5.
    super::linear::median(&mut differences) / (0.6745 * 1.5f64.sqrt())
}
