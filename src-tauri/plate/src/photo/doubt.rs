//! Hole, or only a mark on the plate? A photo from straight above cannot tell a dark sticker from a
//! hole; what it shows of depth can.
//!
//! On the side away from the camera a hole shows its wall between the two rims, so that the step from
//! inside to face is in two parts there and in one on the near side. A stain, a sticker, a drawn ring
//! have the same edge all round; a screw's head or a cable's cut end shows its side on the other side.
//! Where too little of the wall is seen, a hole is believed that shows the same inside as one whose
//! wall is seen, or the colour of the ground beside the plate where no mark is likely to have it.

use super::decode::{Grey, Photo};
use super::edge::{Filter, SPACING};
use super::linear::{Normal, median};
use super::reference::Located;
use super::rim::Shape;

/// Why a shape is not believed to be a hole, or its place not to be as said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// No wall is seen, nor the ground: a stain, a sticker, a cap or a screw's head looks like that too.
    NoDepth,
    /// It stands up from the plate: its side is seen where a hole's wall would not be.
    StandsUp,
    /// Its inside is of several colours: a cable's cut end, a label, a hole with something in it.
    Uneven,
    /// Its edge is softer than the plate's own: a stain or a shadow.
    Soft,
    /// Its rim is seen in part: something stands in it or lies over it.
    Hidden,
    /// What gives the scale contradicts itself (see [`super::Contradiction`]).
    Scale,
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::NoDepth => {
                "cannot say whether it is a hole: no depth is seen. A stain, a sticker or a cap looks like that too; look, or take a photo more from the side"
            }
            Self::StandsUp => "cannot say whether it is a hole: it looks as if it stood up from the plate",
            Self::Uneven => {
                "cannot say whether it is a hole: its inside is of several colours, as of a cable's end or a label"
            }
            Self::Soft => "cannot say whether it is a hole: its edge is soft, as of a stain",
            Self::Hidden => "its rim is seen in part only: something stands in it or lies over it",
            Self::Scale => "its place rests on sizes that contradict each other",
        })
    }
}

/// What a shape shows, in light from 0 to 1.
#[derive(Clone, Debug)]
pub(super) struct Looks {
    /// Colour of its inside and of the face around it.
    pub(super) inside: [f64; 3],
    pub(super) face: [f64; 3],
    /// Share of its inside that differs from the middle in brightness, and largest spread of colour.
    pub(super) uneven: f64,
    /// How much the far edge differs in form from the near one, as a share of the step.
    pub(super) two_steps: f64,
    /// Width of the far edge less that of the near one, in pixels.
    pub(super) wider: f64,
    /// Width of the nearer edge in pixels.
    pub(super) width: f64,
    /// Pixels of wall expected.
    pub(super) wall: f64,
}

/// Light by the curve that photos are kept with (sRGB, IEC 61966-2-1).
fn light_of(byte: u8) -> f64 {
    let level = f64::from(byte) / 255.0;
    if level <= 0.04045 { level / 12.92 } else { libm::pow((level + 0.055) / 1.055, 2.4) }
}

/// Colour of a pixel as light; grey photos have the same thrice.
pub(super) fn colour_at(photo: &Photo, [x, y]: [f64; 2]) -> Option<[f64; 3]> {
    let (width, height) = (photo.width() as usize, photo.height() as usize);
    if !(x >= 0.0 && y >= 0.0 && x < width as f64 && y < height as f64) {
        return None;
    }
    let channels = photo.channels();
    let at = (y as usize * width + x as usize) * channels;
    let bytes = photo.colour().get(at..at + channels)?;
    Some(std::array::from_fn(|i| light_of(bytes[i.min(channels - 1)])))
}

fn middle_of(colours: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|i| median(&mut colours.iter().map(|colour| colour[i]).collect::<Vec<_>>()))
}

/// What a shape shows; `None` where too few pixels are seen.
pub(super) fn looks(
    photo: &Photo,
    located: &Located,
    filter: &Filter,
    shape: &Shape,
    thickness: f64,
) -> Option<Looks> {
    let grey = photo.grey();
    let map = &located.map;
    let slant = located.stand.map_or([0.0; 2], |stand| stand.slant(shape.centre));
    let size = libm::hypot(slant[0], slant[1]);
    let (coarse, _) = map.pixels_per_mm(shape.centre);
    let place = |share: f64, depth: f64| {
        let (rim, normal) = shape.rim(share);
        [rim[0] + normal[0] * depth, rim[1] + normal[1] * depth]
    };
    // The inside that is seen past the wall, without what blur brings in.
    let mut inside = Vec::new();
    let margin = 2.5 / coarse;
    for ring in 0..10 {
        let depth = -shape.radius * (f64::from(ring) + 0.5) / 10.0;
        let count = (48.0 * (1.0 + depth / shape.radius)).max(4.0) as i32;
        for i in 0..count {
            let point = place(f64::from(i) / f64::from(count), depth);
            let behind = [point[0] + 1.3 * thickness * slant[0], point[1] + 1.3 * thickness * slant[1]];
            if shape.distance(point).max(shape.distance(behind)) < -margin {
                inside.extend(colour_at(photo, map.pixel(point)));
            }
        }
    }
    let face: Vec<[f64; 3]> = (0..48)
        .filter_map(|i| colour_at(photo, map.pixel(place(f64::from(i) / 48.0, 0.15 * shape.radius + margin))))
        .collect();
    if inside.len() < 12 || face.len() < 24 {
        return None;
    }
    let (middle, face) = (middle_of(&inside), middle_of(&face));
    let contrast = (0..3).map(|i| (middle[i] - face[i]).abs()).fold(0.0, f64::max);
    let noise = 1.5 * located.noise / 255.0 + 0.008;
    // Far from the middle both in a share of the contrast and of itself.
    let uneven = inside
        .iter()
        .filter(|colour| {
            (0..3).any(|i| (colour[i] - middle[i]).abs() > (0.3 * contrast).max(2.5 * noise))
        })
        .count() as f64
        / inside.len() as f64;
    let wall = thickness * size * coarse;
    let mut out = Looks { inside: middle, face, uneven, two_steps: 0.0, wider: 0.0, width: 0.0, wall };
    if size < 1e-3 {
        return Some(out);
    }
    let count = ((shape.perimeter() * coarse) as usize).clamp(48, 400);
    let sector = |far: bool| -> Vec<([f64; 2], [f64; 2])> {
        (0..count)
            .filter_map(|i| {
                let (rim, normal) = shape.rim((i as f64 + 0.5) / count as f64);
                let along = (normal[0] * slant[0] + normal[1] * slant[1]) / size;
                if (if far { along } else { -along }) < 0.75 {
                    return None;
                }
                let on = map.pixel(rim);
                let out = map.pixel([rim[0] + 0.2 * normal[0], rim[1] + 0.2 * normal[1]]);
                let (dx, dy) = (out[0] - on[0], out[1] - on[1]);
                let length = libm::hypot(dx, dy);
                (length > 0.0).then_some((on, [dx / length, dy / length]))
            })
            .collect()
    };
    let reach = (wall + 6.0).min(0.8 * shape.radius * coarse).max(5.0);
    let (near, far) = (profile(filter, grey, &sector(false), reach), profile(filter, grey, &sector(true), reach));
    let (Some(near), Some(far)) = (near, far) else { return Some(out) };
    (out.width, out.wider) = {
        let (n, f) = (width_of(&near), width_of(&far));
        (n.min(f), f - n)
    };
    // A far edge that is wider is told from the near one's form, and the other way round.
    let (form, seen) = if out.wider >= 0.0 { (&near, &far) } else { (&far, &near) };
    out.two_steps = misfit(form, seen);
    Some(out)
}

/// Mean light across a part of the rim, brought to 0 inside and 1 outside.
fn profile(filter: &Filter, grey: Grey<'_>, lines: &[([f64; 2], [f64; 2])], reach: f64) -> Option<Vec<f64>> {
    if lines.len() < 6 {
        return None;
    }
    let light = filter.mean_light(grey, lines, reach)?;
    let n = light.len();
    let (inner, outer) = (mean(&light[..4.min(n)]), mean(&light[n.saturating_sub(4)..]));
    let step = outer - inner;
    (step.abs() > 0.004).then(|| light.iter().map(|value| (value - inner) / step).collect())
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Width of an edge in pixels: how far its light differs from the sharpest step at its best place.
fn width_of(profile: &[f64]) -> f64 {
    let mut best = f64::INFINITY;
    for at in 0..=profile.len() {
        let off: f64 = profile
            .iter()
            .enumerate()
            .map(|(i, value)| (value - f64::from(u8::from(i >= at))).abs())
            .sum();
        best = best.min(off);
    }
    best * SPACING
}

/// Root mean square that is left of a profile when another, moved and scaled, is fitted to it.
fn misfit(form: &[f64], seen: &[f64]) -> f64 {
    let n = form.len().min(seen.len());
    let mut best = f64::INFINITY;
    let most = (n / 2) as i32;
    for off in -most..=most {
        let mut normal = Normal::new(2);
        let mut squares = 0.0;
        for (i, value) in seen.iter().take(n).enumerate() {
            let at = (i as i32 - off).clamp(0, n as i32 - 1) as usize;
            normal.add(&[1.0, form[at]], *value, 1.0);
            squares += value * value;
        }
        let Some(found) = normal.solve() else { continue };
        if found[1] < 0.3 {
            continue;
        }
        let explained: f64 = found.iter().zip(&normal.right).map(|(x, b)| x * b).sum();
        best = best.min((squares - explained).max(0.0) / n as f64);
    }
    if best.is_finite() { best.sqrt() } else { 1.0 }
}

/// Colours of the ground along the plate's edges, some millimetres beyond them.
pub(super) fn ground(photo: &Photo, located: &Located) -> Vec<[f64; 3]> {
    let [w, d] = located.size;
    let mut out = Vec::new();
    for i in 0..40 {
        let share = (f64::from(i) + 0.5) / 40.0;
        for beyond in [7.0, 10.0, 13.0] {
            let around = [
                [w * share, -beyond],
                [w * share, d + beyond],
                [-beyond, d * share],
                [w + beyond, d * share],
            ];
            out.extend(around.iter().filter_map(|point| colour_at(photo, located.map.pixel(*point))));
        }
    }
    out
}
