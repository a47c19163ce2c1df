//! Where holes may be: patches darker or brighter than what surrounds them, as round as holes are.
//!
//! Every patch at every threshold is looked at once, by growing the picture's patches level by level
//! (the tree of its level sets, by union and find).

use super::rectify::Flat;

/// A patch that may be a hole, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Candidate {
    pub(super) centre: [f64; 2],
    /// Half the size across and half along.
    pub(super) radius: f64,
    pub(super) half_length: f64,
    /// Turn of the long axis, in radians.
    pub(super) angle: f64,
    /// Darker inside than around.
    pub(super) dark: bool,
}

/// Every how many grey levels patches are looked at.
const LEVELS: u8 = 3;
/// Area of the patch by that of the ellipse of the same second moments: 1 for a disc, 0.95 for a
/// rectangle, much less for anything ragged.
const LEAST_FULLNESS: f64 = 0.86;
/// Longest slot by its width.
const LONGEST: f64 = 7.0;

/// The sums of a patch.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: u32,
    x: u64,
    y: u64,
    xx: u64,
    xy: u64,
    yy: u64,
    border: bool,
}

impl Sums {
    fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.x += other.x;
        self.y += other.y;
        self.xx += other.xx;
        self.xy += other.xy;
        self.yy += other.yy;
        self.border |= other.border;
    }
}

/// Candidates with a size from `least` to `most` millimetres, the likeliest of each place.
pub(super) fn candidates(flat: &Flat, least: f64, most: f64) -> Vec<Candidate> {
    let smooth = smoothed(flat);
    let mut out: Vec<(Candidate, u32)> = Vec::new();
    for dark in [true, false] {
        grow(flat, &smooth, dark, least, most, &mut out);
    }
    // The same patch at neighbouring levels: the one seen at most levels stands for all.
    out.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.centre[0].total_cmp(&b.0.centre[0])));
    out.into_iter().map(|(candidate, _)| candidate).collect()
}

fn grow(flat: &Flat, bytes: &[u8], dark: bool, least: f64, most: f64, out: &mut Vec<(Candidate, u32)>) {
    let (width, height) = (flat.width, flat.height);
    let least_area = (0.6 * std::f64::consts::FRAC_PI_4 * least * least / (flat.scale * flat.scale)).max(20.0) as u32;
    let most_area = (std::f64::consts::FRAC_PI_4 * most * most / (flat.scale * flat.scale) * 1.3) as u32;
    // Pixels in the order of their level (a counting sort).
    let level = |byte: u8| if dark { byte } else { 255 - byte };
    let mut starts = [0usize; 257];
    for byte in bytes {
        starts[usize::from(level(*byte)) + 1] += 1;
    }
    for i in 0..256 {
        starts[i + 1] += starts[i];
    }
    let mut order = vec![0u32; bytes.len()];
    let mut fill = starts;
    for (at, byte) in bytes.iter().enumerate() {
        let slot = &mut fill[usize::from(level(*byte))];
        order[*slot] = at as u32;
        *slot += 1;
    }
    const NONE: u32 = u32::MAX;
    let mut parent = vec![NONE; bytes.len()];
    let mut sums = vec![Sums::default(); bytes.len()];
    let mut stamp = vec![0u8; bytes.len()];
    let mut touched = Vec::new();
    let first_out = out.len();
    for value in 0..=255u8 {
        for at in &order[starts[usize::from(value)]..starts[usize::from(value) + 1]] {
            let at = *at as usize;
            let (x, y) = (at % width, at / width);
            let (fx, fy) = (x as u64, y as u64);
            parent[at] = at as u32;
            sums[at] = Sums {
                count: 1,
                x: fx,
                y: fy,
                xx: fx * fx,
                xy: fx * fy,
                yy: fy * fy,
                border: x == 0 || y == 0 || x + 1 == width || y + 1 == height,
            };
            let mut root = at;
            let near = [(x > 0, -1), (x + 1 < width, 1), (y > 0, -(width as isize)), (y + 1 < height, width as isize)];
            for (inside, offset) in near {
                let next = at.wrapping_add_signed(offset);
                if !inside || parent[next] == NONE {
                    continue;
                }
                let other = root_of(&mut parent, next);
                if other == root {
                    continue;
                }
                let (large, small) = if sums[other].count > sums[root].count { (other, root) } else { (root, other) };
                parent[small] = large as u32;
                let more = sums[small];
                sums[large].add(&more);
                root = large;
            }
            if sums[root].count >= least_area && stamp[root] == 0 {
                stamp[root] = 1;
                touched.push(root);
            }
        }
        if value % LEVELS != 0 {
            continue;
        }
        for at in touched.drain(..) {
            stamp[at] = 0;
            let patch = sums[at];
            if parent[at] as usize != at || patch.border || patch.count > most_area {
                continue;
            }
            let Some(candidate) = candidate_of(flat, &patch, dark) else { continue };
            let same = out[first_out..].iter_mut().find(|(had, _)| alike(had, &candidate));
            match same {
                Some((had, times)) => {
                    *times += 1;
                    // Drift with the level, so that the whole run is one candidate.
                    let share = 1.0 / f64::from(*times).min(4.0);
                    for axis in 0..2 {
                        had.centre[axis] += (candidate.centre[axis] - had.centre[axis]) * share;
                    }
                    had.radius += (candidate.radius - had.radius) * share;
                    had.half_length += (candidate.half_length - had.half_length) * share;
                }
                None => out.push((candidate, 1)),
            }
        }
    }
}

fn alike(a: &Candidate, b: &Candidate) -> bool {
    let off = libm::hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1]);
    let near = |p: f64, q: f64| p < q * 1.2 && q < p * 1.2;
    a.dark == b.dark && off < 0.25 * b.radius && near(a.radius, b.radius) && near(a.half_length, b.half_length)
}

fn root_of(parent: &mut [u32], mut at: usize) -> usize {
    while parent[at] as usize != at {
        parent[at] = parent[parent[at] as usize];
        at = parent[at] as usize;
    }
    at
}

fn candidate_of(flat: &Flat, patch: &Sums, dark: bool) -> Option<Candidate> {
    let count = f64::from(patch.count);
    let (mx, my) = (patch.x as f64 / count, patch.y as f64 / count);
    // A pixel is a square: a twelfth is its own second moment.
    let xx = patch.xx as f64 / count - mx * mx + 1.0 / 12.0;
    let yy = patch.yy as f64 / count - my * my + 1.0 / 12.0;
    let xy = patch.xy as f64 / count - mx * my;
    let (half_sum, half_difference) = ((xx + yy) / 2.0, (xx - yy) / 2.0);
    let root = libm::hypot(half_difference, xy);
    let (large, small) = (half_sum + root, half_sum - root);
    if small <= 0.0 || large > LONGEST * LONGEST * small {
        return None;
    }
    let fullness = count / (4.0 * std::f64::consts::PI * (large * small).sqrt());
    if fullness < LEAST_FULLNESS {
        return None;
    }
    let angle = 0.5 * libm::atan2(2.0 * xy, xx - yy);
    // Of an ellipse the semi-axes are twice the square roots; a slot's ends are blunter.
    let long = (large / small).sqrt() > 1.12;
    let radius = if long { (3.3 * small).sqrt() } else { (count / std::f64::consts::PI).sqrt() };
    let straight = if long { (count / radius - std::f64::consts::PI * radius) / 4.0 } else { 0.0 };
    Some(Candidate {
        centre: flat.plane([mx + 0.5, my + 0.5]),
        radius: radius * flat.scale,
        half_length: (radius + straight.max(0.0)) * flat.scale,
        angle,
        dark,
    })
}

/// The mean of each pixel and its neighbours, against noise.
fn smoothed(flat: &Flat) -> Vec<u8> {
    let (width, height) = (flat.width, flat.height);
    let mut out = flat.bytes.clone();
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let at = y * width + x;
            let row = |at: usize| -> u32 {
                u32::from(flat.bytes[at - 1]) + 2 * u32::from(flat.bytes[at]) + u32::from(flat.bytes[at + 1])
            };
            out[at] = ((row(at - width) + 2 * row(at) + row(at + width) + 8) / 16) as u8;
        }
    }
    out
}
