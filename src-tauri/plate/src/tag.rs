//! Which way the ears of earth tags point.

use survey::pattern::Point;

use crate::setting_out::{SettingOut, TagAt};
use crate::shape::{EAR_GAP, Shape, TINY, least_metal};
use crate::solve::{Ear, STANCES};

/// Steps of the search for directions that suit all tags.
const STEPS: usize = 20_000;

/// A way one ear may point: the entry's index, the ear, where its bolt goes.
struct Way {
    entry: usize,
    ear: Shape,
    bolt: Point,
}

/// Points the tags of all new armoured-cable glands, as many as there is room for.
pub(crate) fn point(set: &mut SettingOut) {
    let metal = least_metal(set.thickness);
    let room = set.usable.unwrap_or(set.outline);
    let keep_outs: Vec<Shape> = set.keep_outs.iter().map(|rect| Shape::of(*rect)).collect();
    let bodies: Vec<Shape> = set.entries.iter().map(|entry| entry.hole.body(entry.centre)).collect();
    let mut open: Vec<Vec<Way>> = Vec::new();
    for (index, entry) in set.entries.iter().enumerate() {
        let Some(ear) = Ear::of(&entry.hole, metal).filter(|_| !entry.existing) else { continue };
        let ways = (0..STANCES.len())
            .map(|stance| {
                let shape = ear.shape(entry.centre, stance);
                Way { entry: index, ear: shape, bolt: shape.centre }
            })
            .filter(|way| {
                way.ear.inside(room) >= -TINY
                    && keep_outs.iter().all(|rect| way.ear.gap(*rect) >= -TINY)
                    && bodies
                        .iter()
                        .enumerate()
                        .all(|(other, body)| other == index || way.ear.gap(*body) >= EAR_GAP - TINY)
            })
            .collect::<Vec<_>>();
        if !ways.is_empty() {
            open.push(ways);
        }
    }
    // Those with the fewest ways first.
    open.sort_by_key(Vec::len);
    let mut chosen: Vec<Option<usize>> = vec![None; open.len()];
    if !search(&open, &mut chosen) {
        // No choice suits all: one after another, and the rest use earthing locknuts.
        chosen.fill(None);
        for index in 0..open.len() {
            chosen[index] = (0..open[index].len()).find(|way| clear(&open, &chosen, index, *way));
        }
    }
    let found: Vec<(usize, Point)> = open
        .iter()
        .zip(&chosen)
        .filter_map(|(ways, chosen)| chosen.and_then(|way| ways.get(way)).map(|way| (way.entry, way.bolt)))
        .collect();
    for (index, bolt) in found {
        let entry = &mut set.entries[index];
        entry.tag = entry.hole.tag.map(|tag| TagAt { bolt, hole: tag.bolt_hole, ear: tag.width });
    }
}

fn clear(open: &[Vec<Way>], chosen: &[Option<usize>], index: usize, way: usize) -> bool {
    let ear = open[index][way].ear;
    chosen.iter().enumerate().all(|(other, taken)| {
        other == index || taken.is_none_or(|taken| ear.gap(open[other][taken].ear) >= EAR_GAP - TINY)
    })
}

/// A way for every tag, by trying and going back.
fn search(open: &[Vec<Way>], chosen: &mut [Option<usize>]) -> bool {
    let mut steps = 0;
    let mut index = 0;
    let mut from = 0;
    while index < open.len() {
        steps += 1;
        if steps > STEPS {
            return false;
        }
        chosen[index] = None;
        match (from..open[index].len()).find(|way| clear(open, &chosen[..index], index, *way)) {
            Some(way) => {
                chosen[index] = Some(way);
                index += 1;
                from = 0;
            }
            None if index == 0 => return false,
            None => {
                index -= 1;
                from = chosen[index].map_or(0, |way| way + 1);
            }
        }
    }
    true
}
