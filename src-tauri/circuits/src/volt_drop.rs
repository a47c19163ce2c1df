//! Voltage lost on the way to the load.

use survey::range::Span;
use survey::{Material, Range, YesNo, say};

use crate::cable;
use crate::case::{Case, Feed, Gap, hull, of_sizes_made};
use crate::demand::{self, Draw};
use crate::field::{AMBIENT, DROP_BEFORE, Field, LENGTH, SIZE, VOLTAGE};

/// Drop along the circuit's cable as a share of the nominal voltage between its conductors.
///
/// u = b·(R·cos φ + X·sin φ)·Ib with b = 2 for two conductors and 1 per phase for three: IEC
/// 60364-5-52 annex G, with the resistance of IEC 60228 at the conductor's working temperature.
pub(crate) fn along(case: &Case, draw: &Draw) -> Result<Span, Gap> {
    lost(case, draw, per_metre_ohms(case, draw)?)
}

/// The same by resistance and reactance of one conductor, Ω/m.
fn lost(case: &Case, draw: &Draw, (resistance, reactance): (Span, Span)) -> Result<Span, Gap> {
    let voltage = case.get(VOLTAGE)?.numbers();
    let (there_and_back, voltage) = match case.feed()? {
        // A third of the current there on each line, all of it back.
        Feed::OneLine(_) if case.linked() => (Span::point(4.0) / Span::point(3.0), case.between(voltage)),
        Feed::OneLine(_) => (Span::point(2.0), case.between(voltage)),
        Feed::TwoLines(_) => (Span::point(2.0), voltage * demand::root3()),
        Feed::ThreeLines => (Span::point(1.0), voltage),
    };
    if draw.reactive.numbers() != Span::point(0.0) {
        let _ = case.leading();
    }
    let volts = draw.active.numbers() * resistance + draw.reactive.numbers() * reactance;
    let length = case.get(LENGTH)?.numbers() * spread(case);
    let share = there_and_back * volts * length / voltage;
    Ok(Span { lo: share.lo.max(0.0), hi: share.hi })
}

/// Share of a ring's length that counts: a quarter where the whole load hangs at its far point, an eighth where it
/// is spread evenly; of a radial all. From the division of a current over two ways; BS 7671 appendix 15 shows
/// the circuit.
fn spread(case: &Case) -> Span {
    let reach = case.reach();
    if reach == Span::point(1.0) { reach } else { Span { lo: 0.125, hi: reach.hi } }
}

/// Resistance at working temperature and reactance of one conductor, Ω/m.
pub(crate) fn per_metre_ohms(case: &Case, draw: &Draw) -> Result<(Span, Span), Gap> {
    let ways = cable::ways(case)?;
    let ambient = case.get(AMBIENT)?.numbers();
    let (construction, size) = (case.construction()?, case.get(SIZE)?.numbers());
    // The cold resistance does not depend on how the cable lies.
    let mut cold = [None; Material::ALL.len()];
    let look = |material, part| case.tables.resistance_of(material, construction, size, part);
    for (material, resistance) in of_sizes_made(case.materials()?, look) {
        cold[material as usize] = resistance;
    }
    let mut found = None;
    for way in ways.iter() {
        if let Some(cold) = cold[way.material as usize] {
            let current = draw.current.numbers();
            // Each half of a ring carries its share.
            let current =
                if case.rings().contains(&YesNo::Yes) { Span { lo: current.lo / 2.0, ..current } } else { current };
            // The lines stay cooler than the neutral.
            let current = Span { lo: case.of_a_pole(current).lo, ..current };
            let temperature = way.temperature(current, ambient);
            found = hull(found, cold * case.tables.warmed(way.material, temperature));
        }
    }
    let resistance: Span = found.ok_or_else(|| Gap::Unfit(Field::Size, say!("gap-no-conductor")))?;
    // Cables in parallel share the current.
    let cables = case.parallel()?;
    let metre = if cables == Span::point(1.0) { Span::point(1000.0) } else { Span::point(1000.0) * cables };
    Ok((resistance / metre, case.reactance() / metre))
}

/// Drop from the origin to the load, as a share.
pub(crate) fn total(case: &Case) -> Result<Span, Gap> {
    let draw = demand::draw_or_rating(case)?;
    let per_metre = case.once(|kept| &kept.per_metre, |case| per_metre_ohms(case, &demand::draw_or_rating(case)?))?;
    let along = lost(case, &draw, per_metre)?;
    Ok(along + case.get(DROP_BEFORE)?.numbers())
}

/// The limit by kind of load, as a share.
pub(crate) fn limit(case: &Case) -> Option<Span> {
    let network = case.network();
    case.kinds().iter().fold(None, |found, kind| hull(found, Span::point(case.tables.drop_limit(network, *kind))))
}

/// Drop in volts for a share, as the practitioner measures it.
pub(crate) fn volts(case: &Case, share: Span) -> Option<Span> {
    let voltage = case.get(VOLTAGE).map(Range::numbers).ok()?;
    match case.feed().ok()? {
        Feed::TwoLines(_) => Some(share * voltage * demand::root3()),
        Feed::OneLine(_) => Some(share * case.between(voltage)),
        Feed::ThreeLines => Some(share * voltage),
    }
}
