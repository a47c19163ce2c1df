//! Whether a rim is one rim, and cut into the plate's face all round.
//!
//! A drilled or punched rim is a circle or a slot, seen all round, and what lies right outside it is the plate's
//! own face, in every direction: a cable's core has its insulation there, the foot of a cable that stands up the
//! cable's own end, a shadow's edge inside a hole the shadow. And between the rim and the next thing no other edge
//! runs on beside it: where one does, one of the two is not the hole's. Two halves of a true rim make the same
//! circle. What fails here may be a hole all the same; but its size or its place is then not to be believed.

use super::decode::Photo;
use super::doubt::{Doubt, HUE, KNOWN_TO, colour_at, hues_apart, middle_of};
use super::edge::{Filter, along};
use super::reference::Located;
use super::rim::Shape;

/// How well a rim is known all round.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Round {
    /// Share of the rim that is seen, and the longest part in one piece that is not.
    pub(super) support: f64,
    pub(super) gap: f64,
    /// What of the deviations from the shape follows the outline round, and their scatter, in millimetres.
    pub(super) wave: f64,
    pub(super) scatter: f64,
    /// Most that a circle through one half of the rim differs in diameter from that through all, in millimetres.
    pub(super) halves: f64,
    /// Pixels a millimetre.
    pub(super) coarse: f64,
}

/// What is seen around a rim.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Around {
    /// Share of the directions in which what lies right outside is not the face.
    pub(super) strange: f64,
    /// Share of the directions, in one piece, in which another edge runs on beside the rim.
    pub(super) beyond: f64,
}

/// Least share of the rim that is seen, and longest part of it in one piece that is not. Ours, as all numbers
/// below: on drawn photos 19 of 20 open holes are well within each, and cables' ends and stains mostly are not.
const SUPPORT: f64 = 0.95;
const GAP: f64 = 0.04;
/// Most that an outline deviates from its shape: in pixels, as edges are found, or in millimetres, as burrs and
/// paint make it.
const TRUE_TO: (f64, f64) = (0.3, 0.1);
/// Most of the directions in which the face is not seen outside, and in which another edge runs on.
const STRANGE: f64 = 0.1;
const BEYOND: f64 = 0.15;

impl Round {
    /// Why the rim is not believed. Where the inside is brighter than the face, the wall and its shadow are mostly
    /// darker than both, so that the edge of the right sense is not the rim all round: half as much is allowed.
    pub(super) fn doubt(&self, around: Around, bright: bool) -> Option<Doubt> {
        let share = if bright { 0.5 } else { 1.0 };
        let true_to = share * (TRUE_TO.0 / self.coarse).max(TRUE_TO.1);
        if self.support < SUPPORT || self.gap > GAP {
            Some(Doubt::Hidden)
        } else if around.strange > STRANGE {
            Some(Doubt::Outside)
        } else if self.wave.max(self.scatter) > true_to {
            Some(Doubt::Ragged)
        } else if around.beyond > BEYOND || self.halves > share * KNOWN_TO {
            Some(Doubt::Shadow)
        } else {
            None
        }
    }
}

/// Pixels outside the rim where blur has left nothing of it.
const CLEAR_OF: f64 = 3.0;
/// Light of the face in one direction by that in the middle of them: the least leaves room for a shadow's.
const LIT: [f64; 2] = [0.35, 1.6];
/// How far beside the rim another edge is looked for: as a share of the radius, at most in millimetres, at least
/// in pixels.
const REACH: (f64, f64, f64) = (0.6, 6.0, 8.0);
/// Its lowest step: as a share of the face's grey level, and by the noise.
const STEP: (f64, f64) = (0.04, 3.0);
/// How many pixels it runs outwards or inwards from one direction to the next, at most.
const RUNS: f64 = 2.5;
/// Edges this near to another shape's rim are that one's, in millimetres.
const OTHERS: f64 = 1.5;

/// What is seen around the rim of one of the shapes.
pub(super) fn around(photo: &Photo, located: &Located, filter: &Filter, shapes: &[Shape], at: usize) -> Around {
    let shape = shapes[at];
    let map = &located.map;
    let (coarse, _) = map.pixels_per_mm(shape.centre);
    let count = ((shape.perimeter() * coarse / 2.5) as usize).clamp(48, 200);
    let place = |i: usize, by: f64| {
        let (rim, normal) = shape.rim((i as f64 + 0.5) / count as f64);
        map.pixel([rim[0] + normal[0] * by, rim[1] + normal[1] * by])
    };
    let outside: Vec<Option<[f64; 3]>> = (0..count)
        .map(|i| {
            let colours: Vec<[f64; 3]> =
                (0..3).filter_map(|more| colour_at(photo, place(i, (CLEAR_OF + f64::from(more)) / coarse))).collect();
            (colours.len() == 3).then(|| middle_of(&colours))
        })
        .collect();
    let seen: Vec<[f64; 3]> = outside.iter().flatten().copied().collect();
    if seen.len() * 2 < count {
        return Around { strange: 1.0, beyond: 0.0 };
    }
    let face = middle_of(&seen);
    let own = |colour: &[f64; 3]| {
        (LIT[0] * face[1] - 0.004..LIT[1] * face[1] + 0.004).contains(&colour[1]) && hues_apart(colour, &face) < HUE
    };
    let strange = outside.iter().filter(|colour| !colour.as_ref().is_some_and(own)).count();
    let reach = (REACH.0 * shape.radius).min(REACH.1).max(REACH.2 / coarse);
    let level = 255.0 * libm::pow(face[1].max(0.0), 1.0 / 2.2);
    let least = (STEP.0 * level).max(STEP.1 * located.noise).max(2.0);
    let clear = |point: [f64; 2]| {
        shapes.iter().enumerate().all(|(other, shape)| other == at || shape.distance(point).abs() > OTHERS)
    };
    let steps: Vec<Vec<f64>> = (0..count)
        .map(|i| {
            let (start, end) = (place(i, 0.0), place(i, reach));
            let length = libm::hypot(end[0] - start[0], end[1] - start[1]);
            if !(length.is_finite() && length > 0.0) {
                return Vec::new();
            }
            // The filter needs some pixels more.
            let end = along(start, end, length + 5.0);
            let all = filter.steps(photo.grey(), start, end, 1, least);
            all.iter()
                .filter(|step| step.sharp && step.at > CLEAR_OF + 1.0 && clear(map.plane(along(start, end, step.at))))
                .map(|step| step.at)
                .collect()
        })
        .collect();
    Around { strange: strange as f64 / count as f64, beyond: longest_run(&steps) as f64 / count as f64 }
}

/// The longest run of neighbouring directions, going round, with a step that goes on from the one before.
fn longest_run(steps: &[Vec<f64>]) -> usize {
    let (mut longest, mut live) = (0, Vec::<(f64, usize)>::new());
    for here in steps.iter().chain(steps) {
        live = here
            .iter()
            .map(|at| {
                let before = live.iter().filter(|(had, _)| (had - at).abs() < RUNS).map(|(_, run)| *run).max();
                (*at, before.unwrap_or(0) + 1)
            })
            .collect();
        longest = longest.max(live.iter().map(|(_, run)| *run).max().unwrap_or(0));
    }
    longest.min(steps.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    const DRILLED: Round = Round { support: 1.0, gap: 0.0, wave: 0.01, scatter: 0.03, halves: 0.3, coarse: 3.0 };

    #[test]
    fn a_drilled_rim_is_believed_and_others_are_not() {
        let face = Around::default();
        assert_eq!(DRILLED.doubt(face, false), None);
        assert_eq!(Round { support: 0.84, ..DRILLED }.doubt(face, false), Some(Doubt::Hidden));
        assert_eq!(Round { gap: 0.06, ..DRILLED }.doubt(face, false), Some(Doubt::Hidden));
        assert_eq!(Round { scatter: 0.4, ..DRILLED }.doubt(face, false), Some(Doubt::Ragged));
        assert_eq!(Round { wave: 0.15, ..DRILLED }.doubt(face, false), Some(Doubt::Ragged));
        assert_eq!(Round { halves: 2.5, ..DRILLED }.doubt(face, false), Some(Doubt::Shadow));
        // Through a hole in a dark plate a bright ground is seen, its wall in shadow.
        let shadowed = Round { scatter: 0.08, ..DRILLED };
        assert_eq!(shadowed.doubt(face, false), None);
        assert_eq!(shadowed.doubt(face, true), Some(Doubt::Ragged));
        assert_eq!(Round { halves: 1.3, ..DRILLED }.doubt(face, true), Some(Doubt::Shadow));
        // A cable's foot: a third of what lies outside is the cable's own end.
        assert_eq!(DRILLED.doubt(Around { strange: 0.33, ..face }, false), Some(Doubt::Outside));
        // A shadow's edge inside a hole: the hole's rim runs on outside it.
        assert_eq!(DRILLED.doubt(Around { beyond: 0.3, ..face }, false), Some(Doubt::Shadow));
    }

    #[test]
    fn an_edge_runs_on_round_the_end_of_the_count() {
        let mut steps = vec![Vec::new(); 40];
        for (at, place) in [(38, 5.0), (39, 6.0), (0, 7.0), (1, 8.0), (2, 20.0), (20, 3.0)] {
            steps[at] = vec![place, 30.0 + f64::from(at as u32) * 5.0];
        }
        assert_eq!(longest_run(&steps), 4);
        assert_eq!(longest_run(&vec![vec![4.0]; 40]), 40);
        assert_eq!(longest_run(&[]), 0);
    }
}
