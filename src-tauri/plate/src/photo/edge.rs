//! Steps of brightness along a short line across the photo, to a fraction of a pixel.
//!
//! A lens blurs light, not grey levels: between dark and bright, the grey level halfway is passed well
//! on the dark side of the edge. So steps are told and their heights given in grey levels, as the eye
//! has them, and their places are found in light.

use super::decode::Grey;

/// Spacing of the samples, in pixels.
pub(super) const SPACING: f64 = 0.5;
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
    /// Whether it is no wider than a lens blurs; a shadow's edge is not sharp.
    pub(super) sharp: bool,
}

/// Share of a step's height that the filter may still answer two pixels beside it, where it is sharp.
const SHARP: f64 = 0.85;
/// Steps between which [`Filter::levels`] is told in proportion.
const LEVEL_STEPS: usize = 4096;

/// The filter: derivative of a Gaussian, scaled so that a sharp step answers with its height.
pub(super) struct Filter {
    weights: [f64; REACH],
    /// The light of each grey level, from 0 to 1.
    light: [f64; 256],
    /// The grey level of each light.
    levels: Vec<f64>,
}

/// Light of a grey level from 0 to 1, by the curve that photos are kept with (sRGB, IEC 61966-2-1).
fn light_of(level: f64) -> f64 {
    if level <= 0.04045 { level / 12.92 } else { libm::pow((level + 0.055) / 1.055, 2.4) }
}

/// [`light_of`] turned round.
fn level_of(light: f64) -> f64 {
    if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * libm::pow(light, 1.0 / 2.4) - 0.055 }
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
        Self {
            weights,
            light: std::array::from_fn(|level| light_of(level as f64 / 255.0)),
            levels: (0..=LEVEL_STEPS + 1).map(|i| 255.0 * level_of(i as f64 / LEVEL_STEPS as f64)).collect(),
        }
    }

    /// The filter's answer at each place of a profile that it reaches.
    fn answer(&self, profile: &[f64]) -> Vec<f64> {
        (REACH..profile.len() - REACH)
            .map(|i| {
                self.weights
                    .iter()
                    .enumerate()
                    .map(|(k, weight)| weight * (profile[i + k + 1] - profile[i - k - 1]))
                    .sum()
            })
            .collect()
    }

    /// The steps along the line from `start` to `end` that are at least `least` grey levels high,
    /// in order. The line is widened by `lanes` pixels to either side and averaged.
    pub(super) fn steps(&self, grey: Grey<'_>, start: [f64; 2], end: [f64; 2], lanes: i32, least: f64) -> Vec<Step> {
        let Some(light) = self.profile(grey, start, end, lanes) else { return Vec::new() };
        self.steps_in(&light, least, 0.0)
    }

    /// The steps of a profile of light that are at least `least` grey levels high, counted from `zero`
    /// pixels after its start.
    pub(super) fn steps_in(&self, light: &[f64], least: f64, zero: f64) -> Vec<Step> {
        if light.len() < 2 * REACH + 3 {
            return Vec::new();
        }
        let grey_levels: Vec<f64> = light
            .iter()
            .map(|light| {
                let at = light.clamp(0.0, 1.0) * LEVEL_STEPS as f64;
                let share = at - at.floor();
                self.levels[at as usize] * (1.0 - share) + self.levels[at as usize + 1] * share
            })
            .collect();
        let answer = self.answer(&grey_levels);
        let mut in_light = None;
        let mut steps: Vec<Step> = Vec::new();
        for i in 1..answer.len() - 1 {
            let (before, here, after) = (answer[i - 1].abs(), answer[i].abs(), answer[i + 1].abs());
            if here < least || here < before || here <= after || answer[i - 1] * answer[i + 1] < 0.0 {
                continue;
            }
            let in_light = in_light.get_or_insert_with(|| self.answer(light));
            let at = peak_near(in_light, i, answer[i].signum()).unwrap_or_else(|| peak_at(&answer, i));
            // Two pixels off, the answer to a sharp step is down to some six tenths.
            let beside = |at: Option<usize>| at.and_then(|at| answer.get(at)).map_or(0.0, |value| value / answer[i]);
            let sharp = beside(i.checked_sub(4)).min(beside(Some(i + 4))) < SHARP;
            steps.push(Step { at: (at + REACH as f64) * SPACING - zero, rise: answer[i], sharp });
        }
        steps
    }

    /// The mean light of lines that run `reach` pixels to either side of a place, along a direction of
    /// length 1; `None` where one leaves the picture too far.
    pub(super) fn mean_light(&self, grey: Grey<'_>, lines: &[([f64; 2], [f64; 2])], reach: f64) -> Option<Vec<f64>> {
        let mut sum: Vec<f64> = Vec::new();
        for (place, direction) in lines {
            let end = |by: f64| [place[0] + direction[0] * by, place[1] + direction[1] * by];
            let light = self.profile(grey, end(-reach), end(reach), 0)?;
            // Rounding may leave one sample more or less.
            sum.resize(if sum.is_empty() { light.len() } else { sum.len().min(light.len()) }, 0.0);
            for (cell, value) in sum.iter_mut().zip(&light) {
                *cell += value / lines.len() as f64;
            }
        }
        Some(sum)
    }

    /// Light along a line every [`SPACING`] pixels, from its start; `None` where it is too long.
    /// Beyond the picture its outermost pixels go on, so that its border is no step.
    fn profile(&self, grey: Grey<'_>, start: [f64; 2], end: [f64; 2], lanes: i32) -> Option<Vec<f64>> {
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
                *value += share * grey.at_by(px, py, |byte| self.light[usize::from(byte)])?;
            }
        }
        Some(out)
    }
}

/// The peak that is uphill from `from`, in samples; `None` where it is too far away to be the same step's.
fn peak_near(answer: &[f64], from: usize, sign: f64) -> Option<f64> {
    let value = |i: usize| sign * answer.get(i).copied().unwrap_or(f64::NEG_INFINITY);
    let mut at = from;
    for _ in 0..4 {
        let next = if value(at + 1) > value(at) {
            at + 1
        } else if at > 0 && value(at - 1) > value(at) {
            at - 1
        } else {
            return (at > 0 && at + 1 < answer.len() && value(at) > 0.0).then(|| peak_at(answer, at));
        };
        at = next;
    }
    None
}

/// The peak of the parabola through a sample that is one and its neighbours.
fn peak_at(answer: &[f64], i: usize) -> f64 {
    let (before, here, after) = (answer[i - 1].abs(), answer[i].abs(), answer[i + 1].abs());
    let bend = before - 2.0 * here + after;
    let offset = if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    i as f64 + offset
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
