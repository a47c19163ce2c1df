//! Where devices between two lines go: they tilt the lines' currents against each other, which no
//! load on one line makes good, so their places are weighed first.

use super::problem::{Current, Problem, plus, size};

/// Most ways to place the pairs that are all looked at.
const ALL: usize = 6561;

impl Problem {
    /// Ways to place the pairs, those that leave the lines most alike first, and what no allocation
    /// can beat, A. Without pairs one way that places none.
    pub(super) fn pair_ways(&self) -> (Vec<Vec<usize>>, f64) {
        let pairs = self.items.iter().take_while(|item| item.pair).count();
        let mut ways = vec![(Vec::new(), self.standing.lines)];
        for item in self.items.iter().take(pairs) {
            let more = |(way, lines): &(Vec<usize>, [Current; 3])| {
                let open = item.places.iter().enumerate().filter(|(_, place)| place.allowed);
                let more = open.map(|(index, place)| {
                    let way: Vec<usize> = way.iter().copied().chain([index]).collect();
                    (way, [0, 1, 2].map(|line| plus(lines[line], place.lines[line])))
                });
                more.collect::<Vec<_>>()
            };
            ways = ways.iter().flat_map(more).collect();
            if ways.len() > ALL {
                // Too many to look at: the search moves pairs as it moves other items.
                return (Vec::new(), 0.0);
            }
        }
        let mut rest = [0.0; 2];
        for item in &self.items[pairs..] {
            rest = item.places[0].lines.iter().fold(rest, |sum, current| plus(sum, *current));
        }
        let mut weighed: Vec<(f64, Vec<usize>)> =
            ways.into_iter().map(|(way, lines)| (least(lines, rest), way)).collect();
        weighed.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        let bound = weighed.first().map_or(0.0, |(bound, _)| *bound);
        (weighed.into_iter().map(|(_, way)| way).collect(), bound)
    }
}

/// What the largest line current cannot be below where the rest may go to the lines in any parts,
/// A. It only adds, in phase and lagging.
fn least(lines: [Current; 3], [active, reactive]: Current) -> f64 {
    // The lagging parts, made as equal as can be.
    let mut lagging = lines.map(|line| line[1]);
    lagging.sort_by(f64::total_cmp);
    let mut left = reactive.max(0.0);
    for level in 1..3 {
        let rise = (lagging[level] - lagging[0]).min(left / level as f64);
        lagging[..level].iter_mut().for_each(|one| *one += rise);
        left -= rise * level as f64;
    }
    lagging.iter_mut().for_each(|one| *one += left / 3.0);
    // Then each line may carry √(M² − Q²) in phase, and together they carry it all.
    let whole = lines.iter().map(|line| line[0]).sum::<f64>() + active;
    let carried = |most: f64| lagging.iter().map(|one| (most * most - one * one).max(0.0).sqrt()).sum::<f64>();
    let mut low = lagging.iter().fold(whole.max(0.0) / 3.0, |most, one| most.max(one.abs()));
    let mut high = low + lagging.iter().map(|one| one.abs()).sum::<f64>() + whole.abs();
    for _ in 0..60 {
        let middle = low / 2.0 + high / 2.0;
        if carried(middle) < whole { low = middle } else { high = middle }
    }
    lines.iter().fold(low, |most, [active, reactive]| most.max(size([active.max(0.0), reactive.max(0.0)])))
}
