//! A sum no setting-out of the plate can stay under.

use super::problem::{Item, Problem};

/// The lower bound: cable length with only the room of each entry and the crowding of entries with
/// one target, plus the fewest rows, columns and hole sizes. Crossings and slots count nothing.
pub(crate) fn bound(problem: &Problem) -> f64 {
    let weights = &problem.weights;
    if [weights.length, weights.crossing, weights.row, weights.column, weights.size, weights.slot]
        .iter()
        .any(|weight| *weight < 0.0)
    {
        return f64::NEG_INFINITY;
    }
    let counted: Vec<&Item> = problem.items.iter().filter(|item| item.id.is_some()).collect();
    if counted.is_empty() {
        return 0.0;
    }
    let mut length = 0.0;
    let mut free: Vec<(f64, &Item)> = Vec::new();
    for item in &counted {
        let Some(target) = item.target else { continue };
        match item.fixed {
            Some(at) => length += (at[0] - target.x).abs(),
            None => free.push((target.x, item)),
        }
    }
    free.sort_by(|a, b| a.0.total_cmp(&b.0));
    for group in free.chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9) {
        length += group_length(problem, group);
    }
    let (count, sizes) = (counted.len() as f64, distinct(&counted) as f64);
    let fewest = (1..=counted.len())
        .map(|rows| {
            let rows = rows as f64;
            weights.row * rows + weights.size * rows.max(sizes) + weights.column * (count / rows).ceil()
        })
        .fold(f64::INFINITY, f64::min);
    weights.length * length + fewest
}

fn distinct(items: &[&Item]) -> usize {
    let mut sizes: Vec<(i64, i64)> = items.iter().map(|item| item.size).collect();
    sizes.sort_unstable();
    sizes.dedup();
    sizes.len()
}

/// Least cable of entries that all want one place. In a stretch narrower than two neighbours stand
/// apart, only so many can be over one another, so the rest lie further out.
fn group_length(problem: &Problem, group: &[(f64, &Item)]) -> f64 {
    let own = |(x, item): &(f64, &Item)| {
        let (from, to) = (problem.up(item.room.x), problem.down(item.room.right()));
        (from - x).max(x - to).max(0.0)
    };
    let alone: f64 = group.iter().map(own).sum();
    let apart = group.iter().map(|(_, item)| 2.0 * item.body.radius).fold(f64::INFINITY, f64::min)
        + group.iter().map(|(_, item)| item.gap).fold(f64::INFINITY, f64::min);
    // Cut-outs are no circles: leave them to the simple sum.
    if group.iter().any(|(_, item)| item.body.half != [0.0, 0.0]) || !apart.is_finite() || apart <= 0.0 {
        return alone;
    }
    let height = group.iter().map(|(_, item)| item.room.h.max(0.0)).fold(0.0, f64::max);
    let mut best = alone;
    for tenths in 1..10 {
        let stretch = apart * f64::from(tenths) / 10.0;
        let above = (apart * apart - stretch * stretch).max(0.0).sqrt();
        let over = (height / above + 1e-9).floor() + 1.0;
        // At most `over` in every stretch: within a distance d on both sides lie over * (floor(2 d / stretch) + 1).
        let crowded: f64 =
            (1..=group.len()).map(|nth| ((nth as f64 / over).ceil() - 1.0).max(0.0) * stretch / 2.0).sum();
        best = best.max(crowded);
    }
    best
}
