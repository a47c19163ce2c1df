//! Hole, or only a mark on the plate? A photo from straight above cannot tell a dark sticker from a
//! hole; what it shows of depth can.
//!
//! On the side away from the camera a hole shows its wall between the two rims, so that the step from
//! inside to face is in two parts there and in one on the near side. A stain, a sticker, a drawn ring
//! have the same edge all round; a screw's head or a cable's cut end shows its side on the other side.
//! So the edge's width is taken in twelve sectors round the rim. The half that faces the camera, where no
//! wall can show, tells how much the width varies by itself: a rough stain's varies much, a drilled rim's
//! hardly. A wall is clear where both sides of the far half are wider by three times that, and slight where
//! by one and a half times.
//!
//! A hole is believed by two signs: both sides of a clear wall; or a slight wall and an inside like that
//! of a hole already believed, or like the ground beside the plate; or the ground's own colour, where that
//! is not grey, and its light. A dark inside, however like a hole's, is none of them alone. What is no
//! larger than a fixing screw's head is never believed.
//!
//! Whatever the signs, the rim must be one: seen nearly all round, a true circle or slot, cut into the plate's
//! face in every direction, with no other edge that runs on beside it (see [`super::cut`]).

use std::f64::consts::TAU;

use survey::Message;

use super::cut::{self, Round};
use super::decode::{Grey, Photo};
use super::edge::{Filter, SPACING};
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
    /// It is no larger than a fixing screw's head.
    Small,
    /// Its edge is softer than the plate's own: a stain or a shadow.
    Soft,
    /// A hole, but a shadow's edge or its wall's lies near its rim: its size may be that one's.
    Shadow,
    /// Its rim is seen in part: something stands in it or lies over it.
    Hidden,
    /// What lies right outside its rim is not the plate's face all round.
    Outside,
    /// Its outline is neither a circle nor a slot as drilled and punched ones are.
    Ragged,
    /// Its place or its size is known to no better than 2 mm.
    Loose,
    /// An edge of the plate that its place is counted from was found on the ground beside the plate.
    Edge,
    /// What gives the scale contradicts itself (see [`super::Contradiction`]).
    Scale,
}

impl Doubt {
    /// The words shown.
    #[must_use]
    pub const fn message(self) -> Message {
        Message::bare(match self {
            Self::NoDepth => "photo-doubt-no-depth",
            Self::StandsUp => "photo-doubt-stands-up",
            Self::Uneven => "photo-doubt-uneven",
            Self::Small => "photo-doubt-small",
            Self::Soft => "photo-doubt-soft",
            Self::Shadow => "photo-doubt-shadow",
            Self::Hidden => "photo-doubt-hidden",
            Self::Outside => "photo-doubt-outside",
            Self::Ragged => "photo-doubt-ragged",
            Self::Loose => "photo-doubt-loose",
            Self::Edge => "photo-doubt-edge",
            Self::Scale => "photo-doubt-scale",
        })
    }
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.message().fmt(out)
    }
}

/// Uncertainty, in millimetres, beyond which a hole is noted: a gland's clearance and its locknut take up about
/// as much. Common practice, no source.
pub(super) const KNOWN_TO: f64 = 2.0;
/// Pixels of wall below which it is not told that its place stands up.
const LEAST_WALL: f64 = 1.5;
/// How much narrower the far edge may be than the near one where the ground is seen, in pixels, and the widest
/// near edge from which a wall is told. Ours, as all shares and tolerances below: tried on drawn photos.
const WIDER: f64 = 0.4;
const SHARP: f64 = 1.4;
/// Share of the inside that may differ from its middle where depth is told from the wall, and where the
/// ground is seen (shadows fall through holes).
const UNEVEN: [f64; 2] = [0.08, 0.5];
/// Share of the ground seen beside the plate that looks like the inside.
const LIKE_GROUND: f64 = 0.1;
/// Share of the ground seen that has the colour of the inside, whatever its light.
const COLOURED: f64 = 0.3;
/// Smallest round shape that is believed, in millimetres. Cables come in from M12 on (its hole has 12 mm and
/// more; common practice, no source), and the head of an M5 screw has 9.5 mm (ISO 7045, from memory); a photo's
/// measure may be off by some half a millimetre.
const LEAST_SURE: f64 = 11.0;
/// Two lights are alike within this share of themselves: inside and ground, inside and inside.
const ALIKE: [f64; 2] = [0.08, 0.15];
/// Two colours are alike where their shares of red, green and blue differ by less.
pub(super) const HUE: f64 = 0.04;
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
    rounds: &[Round],
    thickness: f64,
) -> Vec<Option<Doubt>> {
    let ground = ground(photo, located);
    let plate = plate(photo, located);
    let seen: Vec<Option<Looks>> = shapes.iter().map(|shape| looks(photo, located, filter, shape, thickness)).collect();
    // One edge softer than most of the plate's: not the same rim all round, or no rim.
    let mut widths: Vec<f64> = seen.iter().flatten().map(|looks| looks.width).filter(|width| *width > 0.0).collect();
    let usual = if widths.len() < 4 { f64::INFINITY } else { median(&mut widths) };
    let round = |at: usize| {
        let bright = seen[at].as_ref().is_some_and(|looks| looks.inside[1] > looks.face[1]);
        rounds[at].doubt(cut::around(photo, located, filter, shapes, at), bright)
    };
    // A mark, or a hole, or neither said.
    let first: Vec<Result<bool, Doubt>> =
        seen.iter().map(|looks| looks.as_ref().map_or(Ok(false), |looks| judge(looks, &ground, plate))).collect();
    let sure: Vec<[f64; 3]> = seen
        .iter()
        .zip(&first)
        .enumerate()
        .filter(|(at, (_, verdict))| **verdict == Ok(true) && round(*at).is_none())
        .filter_map(|(_, (looks, _))| looks.as_ref().map(|looks| looks.inside))
        .collect();
    seen.iter()
        .zip(first)
        .map(|(looks, verdict)| match (verdict, looks) {
            (Ok(true), Some(looks)) if looks.width > 1.8 * usual => Some(Doubt::Soft),
            (Ok(true), _) => None,
            (Err(doubt), _) => Some(doubt),
            (Ok(false), Some(looks)) => {
                // Alike alone is no sign: a stain of the insides' colour lies beside them as well.
                let same = looks.seen >= Wall::Slight && sure.iter().any(|one| alike(one, &looks.inside, ALIKE[1]));
                if same && looks.is_plain() && looks.width < SHARP && looks.uneven < UNEVEN[0] {
                    None
                } else if looks.uneven >= UNEVEN[0] {
                    Some(Doubt::Uneven)
                } else {
                    Some(Doubt::NoDepth)
                }
            }
            (Ok(false), None) => Some(Doubt::NoDepth),
        })
        .zip(shapes)
        .map(|(doubt, shape)| doubt.or_else(|| is_small(shape).then_some(Doubt::Small)))
        .enumerate()
        .map(|(at, doubt)| doubt.or_else(|| round(at)))
        .collect()
}

/// Whether a fixing screw's head may be as small: a round one, or with a shadow as long as itself.
fn is_small(shape: &Shape) -> bool {
    2.0 * shape.radius < LEAST_SURE && shape.straight < shape.radius
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

pub(super) fn hues_apart(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    let (Some(a), Some(b)) = (hue(a), hue(b)) else { return 0.0 };
    (0..3).map(|i| (a[i] - b[i]).abs()).fold(0.0, f64::max)
}

/// Whether a shape shows that it is a hole, or why it may be none.
fn judge(looks: &Looks, ground: &[[f64; 3]], plate: [f64; 3]) -> Result<bool, Doubt> {
    let Looks { inside, face, uneven, wider, width, wall, seen } = looks;
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
    // The ground's colour is a sign, and one is not enough. Grey things are many: beside a grey ground some of
    // the wall must be seen, and all of it where the inside is uneven as a screw's head or a cable's end is.
    // Of another colour the ground must have the light of the inside somewhere too.
    let walled = *seen >= if *uneven < UNEVEN[0] { Wall::Slight } else { Wall::Clear };
    let grounded =
        if coloured >= COLOURED { walled || same >= LIKE_GROUND / 5.0 } else { same >= LIKE_GROUND && walled };
    if *uneven < UNEVEN[1] && grounded {
        return if looks.is_plain() { Ok(true) } else { Err(Doubt::Shadow) };
    }
    if inside[1] < face[1] && *seen == Wall::Clear && *width < SHARP && *uneven < UNEVEN[0] {
        return if looks.is_plain() { Ok(true) } else { Err(Doubt::Shadow) };
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

/// Sectors of a rim that are looked at each by itself.
const SECTORS: usize = 12;
/// What of a wall counts as clear and as slight: how many times what the edge's width varies where no wall
/// can be, at least how many pixels, and what share of the edge's own width. Three deviations are hardly
/// chance. A tenth of a pixel is what the colour filter before a sensor and the blocks of a JPEG do to an
/// edge's width; a soft edge, as a stain's, varies more the softer it is.
const CLEAR: (f64, f64, f64) = (3.0, 0.1, 0.15);
const SLIGHT: (f64, f64, f64) = (1.5, 0.05, 0.08);
/// Pixels of wall below which none is told: its two edges are then nearer than a lens blurs each.
const LEAST_TOLD: f64 = 0.7;
/// How many times as much one side of the far half may show as the other: the wall is as wide on both, but
/// the light may fall on one of them. Ours.
const LOPSIDED: f64 = 4.0;
/// Least scatter of widths that is believed, in pixels.
const LEAST_VARIES: f64 = 0.025;

/// What is seen of a hole's wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Wall {
    None,
    Slight,
    Clear,
}

impl Wall {
    /// From the widths of the edge round the rim, beginning away from the camera, and the pixels of wall
    /// expected. The left and the right of the far side must both show it, and most where they meet: each is a
    /// sign by itself, and what is no wall, a rough edge or a shadow thrown to one side, mostly widens one.
    fn of(widths: &[Option<f64>; SECTORS], expected: f64) -> Self {
        // Sectors 0, 1 and 10, 11 are within 60 degrees of away from the camera, 3 to 8 face it.
        let [Some(a), Some(b), Some(c), Some(d)] = [0, 1, 10, 11].map(|at| widths[at]) else { return Self::None };
        let Some((middle, varies)) = varies_of(widths) else { return Self::None };
        let varies = varies.max(LEAST_VARIES);
        let widest = widths[3..9].iter().flatten().copied().fold(0.0, f64::max);
        let (left, right) = (f64::midpoint(a, b) - middle, f64::midpoint(c, d) - middle);
        let (least, most) = (left.min(right), left.max(right));
        let away = a.min(d) - middle;
        // One sharp step for two that far apart is off by half of that at most, or by all of it where the
        // wall shines.
        if expected < LEAST_TOLD || most > expected + 0.3 || most > LOPSIDED * least {
            return Self::None;
        }
        let shows =
            |(times, pixels, share): (f64, f64, f64)| least.min(away) >= pixels.max(times * varies).max(share * middle);
        if shows(CLEAR) && least > widest - middle {
            Self::Clear
        } else if shows(SLIGHT) {
            Self::Slight
        } else {
            Self::None
        }
    }
}

/// The middle of the widths of the half that faces the camera, and their standard deviation; `None` of too few.
fn varies_of(widths: &[Option<f64>; SECTORS]) -> Option<(f64, f64)> {
    let mut near: Vec<f64> = widths[3..9].iter().flatten().copied().collect();
    if near.len() < 5 {
        return None;
    }
    let middle = median(&mut near);
    let squares: f64 = near.iter().map(|width| (width - middle) * (width - middle)).sum();
    Some((middle, (squares / (near.len() - 1) as f64).sqrt()))
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
    /// What of the wall shows.
    seen: Wall,
}

impl Looks {
    /// Whether what lies between the two edges of the wall is between inside and face in brightness, so that
    /// one sharp step for both is off by half of their distance at most. What is darker or brighter than both,
    /// a wall in shadow before a bright ground, may have been taken for the rim.
    fn is_plain(&self) -> bool {
        (-WIDER..0.5 * self.wall + 0.3).contains(&self.wider)
    }
}

/// Light by the curve that photos are kept with (sRGB, IEC 61966-2-1).
pub(super) fn light_of(byte: u8) -> f64 {
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

pub(super) fn middle_of(colours: &[[f64; 3]]) -> [f64; 3] {
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
    let mut out = Looks { inside: middle, face, uneven, wider: 0.0, width: 0.0, wall, seen: Wall::None };
    if size < 1e-3 {
        return Some(out);
    }
    let count = ((shape.perimeter() * coarse) as usize).clamp(8 * SECTORS, 400);
    // Lines across the rim where its normal is so far round from away from the camera, from 0 to a whole turn.
    let lines_of = |wanted: &dyn Fn(f64) -> bool| -> Vec<([f64; 2], [f64; 2])> {
        (0..count)
            .filter_map(|i| {
                let (rim, normal) = shape.rim((i as f64 + 0.5) / count as f64);
                let along = normal[0] * slant[0] + normal[1] * slant[1];
                let across = normal[1] * slant[0] - normal[0] * slant[1];
                if !wanted(libm::atan2(across, along).rem_euclid(TAU)) {
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
    let sector = |far: bool| lines_of(&|angle| (if far { 1.0 } else { -1.0 }) * libm::cos(angle) >= 0.75);
    let reach = (wall + 6.0).min(0.8 * shape.radius * coarse).max(5.0);
    let (near, far) = (profile(filter, grey, &sector(false), reach), profile(filter, grey, &sector(true), reach));
    let (Some(near), Some(far)) = (near, far) else { return Some(out) };
    let widths: [Option<f64>; SECTORS] = std::array::from_fn(|sector| {
        let lines = lines_of(&|angle| (angle / TAU * SECTORS as f64) as usize % SECTORS == sector);
        profile(filter, grey, &lines, reach).map(|light| width_of(&light))
    });
    out.seen = Wall::of(&widths, wall);
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Widths round a rim: `edge` all round, and by `wall` more straight away from the camera, falling off as
    /// the wall seen does, by the cosine. Sectors are 30 degrees wide, the first from 0 to 30.
    fn round(edge: f64, wall: f64) -> [Option<f64>; SECTORS] {
        std::array::from_fn(|at| {
            let angle = (30.0 * at as f64 + 15.0).to_radians();
            Some(edge + wall * libm::cos(angle).max(0.0))
        })
    }

    fn with(mut widths: [Option<f64>; SECTORS], changes: &[(usize, f64)]) -> [Option<f64>; SECTORS] {
        for (at, by) in changes {
            widths[*at] = widths[*at].map(|width| width + by);
        }
        widths
    }

    #[test]
    fn a_wall_shows_on_both_sides_of_the_far_half() {
        assert_eq!(Wall::of(&round(0.7, 0.3), 2.0), Wall::Clear);
        assert_eq!(Wall::of(&round(0.7, 0.09), 2.0), Wall::Slight);
        assert_eq!(Wall::of(&round(0.7, 0.0), 2.0), Wall::None);
        // On the near side it is a thing that stands up.
        let near: [_; SECTORS] = std::array::from_fn(|at| round(0.7, 0.3)[(at + SECTORS / 2) % SECTORS]);
        assert_eq!(Wall::of(&near, 2.0), Wall::None);
        // A shadow thrown to one side of the far half is none, however wide.
        assert_eq!(Wall::of(&with(round(0.7, 0.0), &[(0, 0.8), (1, 0.8)]), 2.0), Wall::None);
        assert_eq!(Wall::of(&with(round(0.7, 0.2), &[(0, 1.0), (1, 1.0)]), 2.0), Wall::None);
    }

    #[test]
    fn an_edge_that_varies_where_no_wall_can_be_shows_none() {
        let rough = [(3, 0.2), (4, -0.1), (5, 0.15), (6, -0.15), (7, 0.2), (8, -0.1)];
        assert_eq!(Wall::of(&with(round(0.9, 0.2), &rough), 2.0), Wall::None);
        assert_eq!(Wall::of(&with(round(0.9, 1.2), &rough), 2.0), Wall::Clear);
        // One sector of the near half as wide as the far ones: the rim is rough, or its shape is not known.
        assert!(Wall::of(&with(round(0.9, 0.3), &[(5, 0.3)]), 2.0) < Wall::Clear);
        // A stain whose outline bends on the far side, more to the left than straight away, with a soft edge.
        let stain = [1.15, 1.37, 1.10, 1.08, 1.08, 1.04, 1.07, 1.11, 1.07, 1.10, 1.20, 1.21].map(Some);
        assert!(Wall::of(&stain, 2.2) < Wall::Clear);
        assert!(Wall::of(&round(1.3, 0.2), 2.2) < Wall::Clear);
    }

    #[test]
    fn a_wall_is_no_wider_than_the_plate_is_thick() {
        assert_eq!(Wall::of(&round(0.7, 0.3), 0.5), Wall::None);
        assert_eq!(Wall::of(&round(0.7, 3.0), 2.0), Wall::None);
        let mut few = round(0.7, 0.3);
        few[11] = None;
        assert_eq!(Wall::of(&few, 2.0), Wall::None);
        assert_eq!(Wall::of(&[None; SECTORS], 2.0), Wall::None);
    }

    const GREY: [f64; 3] = [0.2, 0.2, 0.2];
    const FACE: [f64; 3] = [0.5, 0.5, 0.5];
    const WOOD: [f64; 3] = [0.3, 0.17, 0.08];

    fn looks(inside: [f64; 3], seen: Wall) -> Looks {
        Looks { inside, face: FACE, uneven: 0.0, wider: 0.1, width: 0.7, wall: 2.0, seen }
    }

    #[test]
    fn one_sign_is_not_enough() {
        let judged = |looks: &Looks, ground: [f64; 3]| judge(looks, &[ground; 40], FACE);
        // The ground's grey alone, dark or not.
        for grey in [GREY, [0.02; 3]] {
            assert_eq!(judged(&looks(grey, Wall::None), grey), Ok(false));
            assert_eq!(judged(&looks(grey, Wall::Slight), grey), Ok(true));
            assert_eq!(judged(&looks(grey, Wall::Slight), FACE), Ok(false));
            assert_eq!(judged(&looks(grey, Wall::Clear), FACE), Ok(true));
        }
        // As uneven as a screw's head.
        let head = Looks { uneven: 0.2, ..looks(GREY, Wall::Slight) };
        assert_eq!(judged(&head, GREY), Ok(false));
        // The ground's colour and light, its colour alone, and that with some wall.
        assert_eq!(judged(&looks(WOOD, Wall::None), WOOD), Ok(true));
        let darker = WOOD.map(|share| share / 2.0);
        assert_eq!(judged(&looks(darker, Wall::None), WOOD), Ok(false));
        assert_eq!(judged(&looks(darker, Wall::Slight), WOOD), Ok(true));
    }

    #[test]
    fn a_wall_darker_than_inside_and_face_leaves_the_size_unsure() {
        let bright = Looks { wider: 1.9, ..looks([0.7; 3], Wall::Clear) };
        assert_eq!(judge(&bright, &[[0.7; 3]; 40], FACE), Err(Doubt::Shadow));
        let plain = Looks { wider: 0.9, ..bright };
        assert_eq!(judge(&plain, &[[0.7; 3]; 40], FACE), Ok(true));
    }

    #[test]
    fn what_a_screws_head_may_cover_is_small() {
        let shape = |radius, straight| Shape { centre: [50.0, 50.0], radius, straight, angle: 0.0 };
        assert!(is_small(&shape(3.7, 0.0)) && is_small(&shape(4.75, 2.0)));
        // A clearance hole for M12, and a narrow slot.
        assert!(!is_small(&shape(6.1, 0.0)) && !is_small(&shape(4.0, 12.0)));
    }
}
