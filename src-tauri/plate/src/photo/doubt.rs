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
use super::fit::LARGEST_HEAD;
use super::linear::median;
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
    /// The ground is seen, but a shadow's edge lies near its rim: its size may be the shadow's.
    Shadow,
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
            Self::Shadow => "its size is not sure: a shadow's edge lies near its rim",
            Self::Hidden => "its rim is seen in part only: something stands in it or lies over it",
            Self::Scale => "its place rests on sizes that contradict each other",
        })
    }
}

/// Pixels of wall below which nothing is told from it.
const LEAST_WALL: f64 = 1.5;
/// How much wider the far edge is than the near one where a wall is seen, in pixels, and the widest near
/// edge from which that is told. Ours, as all shares and tolerances below: tried on drawn photos.
const WIDER: f64 = 0.4;
const SHARP: f64 = 1.4;
/// Share of the inside that may differ from its middle where depth is told from the wall, and where the
/// ground is seen (shadows fall through holes).
const UNEVEN: [f64; 2] = [0.08, 0.5];
/// Share of the ground seen beside the plate that looks like the inside.
const LIKE_GROUND: f64 = 0.1;
/// Two lights are alike within this share of themselves: inside and ground, inside and inside.
const ALIKE: [f64; 2] = [0.08, 0.15];
/// How many insides alike that show half as much of their wall stand for one that shows it. Ours.
const TOGETHER: usize = 3;
/// Light below which an inside is dark: black paint, ink, plastics and shadow are alike.
const DARK: f64 = 0.06;
/// Two colours are alike where their shares of red, green and blue differ by less.
const HUE: f64 = 0.04;
/// Inside and face differ by less than this share of the face: it is the plate's own paint.
const OWN_PAINT: f64 = 0.1;
/// The face around a hole is at least this bright by the plate's middle.
const PLATE_LIGHT: f64 = 0.3;

/// The doubts about each of the shapes.
pub(super) fn of_all(
    photo: &Photo,
    located: &Located,
    filter: &Filter,
    shapes: &[Shape],
    thickness: f64,
) -> Vec<Option<Doubt>> {
    let ground = ground(photo, located);
    let plate = plate(photo, located);
    let seen: Vec<Option<Looks>> = shapes.iter().map(|shape| looks(photo, located, filter, shape, thickness)).collect();
    // One edge softer than most of the plate's: not the same rim all round, or no rim.
    let mut widths: Vec<f64> = seen.iter().flatten().map(|looks| looks.width).filter(|width| *width > 0.0).collect();
    let usual = if widths.len() < 4 { f64::INFINITY } else { median(&mut widths) };
    // A mark, or a hole, or neither said.
    let first: Vec<Result<bool, Doubt>> =
        seen.iter().map(|looks| looks.as_ref().map_or(Ok(false), |looks| judge(looks, &ground, plate))).collect();
    // Of several insides alike each may show little of its wall, and all together enough.
    let some_wall = |looks: &Looks| {
        looks.inside[1] < looks.face[1]
            && looks.wall >= 1.0
            && (WIDER / 2.0..1.2 * looks.wall + 0.5).contains(&looks.wider)
            && looks.width < SHARP
            && looks.uneven < UNEVEN[0]
    };
    let together = |looks: &Looks| {
        let like = seen.iter().flatten().filter(|one| some_wall(one) && alike(&one.inside, &looks.inside, 0.5));
        some_wall(looks) && like.count() >= TOGETHER
    };
    let first: Vec<Result<bool, Doubt>> = first
        .into_iter()
        .zip(&seen)
        .map(|(verdict, looks)| verdict.map(|hole| hole || looks.as_ref().is_some_and(together)))
        .collect();
    let sure: Vec<[f64; 3]> = seen
        .iter()
        .zip(&first)
        .filter(|(_, verdict)| **verdict == Ok(true))
        .filter_map(|(looks, _)| looks.as_ref().map(|looks| looks.inside))
        .collect();
    seen.iter()
        .zip(first)
        .map(|(looks, verdict)| match (verdict, looks) {
            (Ok(true), Some(looks)) if looks.width > 1.8 * usual => Some(Doubt::Soft),
            (Ok(true), _) => None,
            (Err(doubt), _) => Some(doubt),
            (Ok(false), Some(looks)) => {
                let same = (looks.inside[1] >= DARK || looks.wider >= WIDER / 8.0)
                    && sure.iter().any(|one| alike(one, &looks.inside, ALIKE[1]));
                if same && looks.width < SHARP && looks.uneven < UNEVEN[0] {
                    None
                } else if looks.uneven >= UNEVEN[0] {
                    Some(Doubt::Uneven)
                } else {
                    Some(Doubt::NoDepth)
                }
            }
            (Ok(false), None) => Some(Doubt::NoDepth),
        })
        .collect()
}

fn alike(a: &[f64; 3], b: &[f64; 3], share: f64) -> bool {
    // Below a two hundred and fiftieth of full light nothing is told from noise.
    (0..3).all(|i| (a[i] - b[i]).abs() < share * a[i].max(b[i]) + 0.004)
}

/// Shares of red, green and blue; `None` where too dark to tell.
fn hue(colour: &[f64; 3]) -> Option<[f64; 3]> {
    let sum: f64 = colour.iter().sum();
    (sum > 0.03).then(|| colour.map(|one| one / sum))
}

fn hues_apart(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    let (Some(a), Some(b)) = (hue(a), hue(b)) else { return 0.0 };
    (0..3).map(|i| (a[i] - b[i]).abs()).fold(0.0, f64::max)
}

/// Whether a shape shows that it is a hole, or why it may be none.
fn judge(looks: &Looks, ground: &[[f64; 3]], plate: [f64; 3]) -> Result<bool, Doubt> {
    let Looks { inside, face, uneven, wider, width, wall, small } = looks;
    let from_face = (0..3).map(|i| (inside[i] - face[i]).abs() / face[i].max(0.01)).fold(0.0, f64::max);
    if from_face < OWN_PAINT {
        return Err(Doubt::NoDepth);
    }
    // A core in a cable's end, a letter on a label: what is around it is not the plate.
    if face[1] < PLATE_LIGHT * plate[1] || hues_apart(face, &plate) > 1.5 * HUE {
        return Err(Doubt::Uneven);
    }
    if *width > 2.2 {
        return Err(Doubt::Soft);
    }
    let share = |of: &dyn Fn(&[f64; 3]) -> bool| {
        ground.iter().filter(|one| of(one)).count() as f64 / ground.len().max(1) as f64
    };
    let same = share(&|one| alike(one, inside, ALIKE[0]));
    // A shadow on the ground leaves its colour, where that is another than the plate's.
    let own = hues_apart(inside, face) > 2.0 * HUE;
    let coloured = if own { share(&|one| hue(inside).is_some() && hues_apart(one, inside) < HUE) } else { 0.0 };
    // Many things are dark: where the ground is, that alone is no sign of it, and some wall must be seen.
    let dark_ground = inside[1] < DARK && (*uneven >= UNEVEN[0] || *wider < WIDER / 4.0);
    // A screw's head is grey as grounds are, and its recess makes it uneven: only another colour is a sign.
    let same = if *small && *uneven >= UNEVEN[0] { 0.0 } else { same };
    if *uneven < UNEVEN[1] && !dark_ground && (same >= LIKE_GROUND || coloured >= 0.3) {
        let plain = (-WIDER..1.2 * wall + 1.0).contains(wider);
        return if plain { Ok(true) } else { Err(Doubt::Shadow) };
    }
    let dark = inside[1] < face[1];
    let walled = *wall >= LEAST_WALL && *width < SHARP && (WIDER..1.2 * wall + 0.5).contains(wider);
    if dark && walled && *uneven < UNEVEN[0] {
        return Ok(true);
    }
    if *wider < -0.6 && *width < SHARP && *wall >= LEAST_WALL {
        return Err(Doubt::StandsUp);
    }
    Ok(false)
}

/// The middle colour of the plate's face.
fn plate(photo: &Photo, located: &Located) -> [f64; 3] {
    let [w, d] = located.size;
    let colours: Vec<[f64; 3]> = (0..40 * 40)
        .filter_map(|i| {
            let (x, y) = (f64::from(i % 40) + 0.5, f64::from(i / 40) + 0.5);
            colour_at(photo, located.map.pixel([w * x / 40.0, d * y / 40.0]))
        })
        .collect();
    middle_of(&colours)
}

/// What a shape shows, in light from 0 to 1.
#[derive(Clone, Debug)]
struct Looks {
    /// Colour of its inside and of the face around it.
    inside: [f64; 3],
    face: [f64; 3],
    /// Share of its inside that differs from the middle.
    uneven: f64,
    /// Width of the far edge less that of the near one, in pixels.
    wider: f64,
    /// Width of the nearer edge in pixels.
    width: f64,
    /// Pixels of wall expected.
    wall: f64,
    /// No larger than a screw's head.
    small: bool,
}

/// Light by the curve that photos are kept with (sRGB, IEC 61966-2-1).
fn light_of(byte: u8) -> f64 {
    let level = f64::from(byte) / 255.0;
    if level <= 0.04045 { level / 12.92 } else { libm::pow((level + 0.055) / 1.055, 2.4) }
}

/// Colour of a pixel as light; grey photos have the same thrice.
fn colour_at(photo: &Photo, [x, y]: [f64; 2]) -> Option<[f64; 3]> {
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
fn looks(photo: &Photo, located: &Located, filter: &Filter, shape: &Shape, thickness: f64) -> Option<Looks> {
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
        .filter(|colour| (0..3).any(|i| (colour[i] - middle[i]).abs() > (0.3 * contrast).max(2.5 * noise)))
        .count() as f64
        / inside.len() as f64;
    let wall = thickness * size * coarse;
    let small = 2.0 * shape.radius <= LARGEST_HEAD;
    let mut out = Looks { inside: middle, face, uneven, wider: 0.0, width: 0.0, wall, small };
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
        let off: f64 = profile.iter().enumerate().map(|(i, value)| (value - f64::from(u8::from(i >= at))).abs()).sum();
        best = best.min(off);
    }
    best * SPACING
}

/// Colours of the ground along the plate's edges, some millimetres beyond them.
fn ground(photo: &Photo, located: &Located) -> Vec<[f64; 3]> {
    let [w, d] = located.size;
    let mut out = Vec::new();
    for i in 0..40 {
        let share = (f64::from(i) + 0.5) / 40.0;
        for beyond in [7.0, 10.0, 13.0] {
            let around = [[w * share, -beyond], [w * share, d + beyond], [-beyond, d * share], [w + beyond, d * share]];
            out.extend(around.iter().filter_map(|point| colour_at(photo, located.map.pixel(*point))));
        }
    }
    out
}
