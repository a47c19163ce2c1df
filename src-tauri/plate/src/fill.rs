//! How full conduit and trunking are: the terms method for single cores, 45 % of the area else.

use survey::{Cable, Construction, Insulation};

use crate::gland::cable_diameters;
use crate::tables::Tables;

/// Share of the inside that cables may take, guidance to BS 7671 (on-site guide).
pub const SPACE_FACTOR: f64 = 0.45;
/// Wall taken off each side of trunking of a size that is not listed, mm: 50 × 50 is 48 × 48 inside
/// in the published table.
const TRUNKING_WALL: f64 = 1.0;

/// Cables set against room, both in terms (or mm² for areas).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fill {
    /// Least and most the cables take.
    pub used: (f64, f64),
    /// What there is room for.
    pub room: f64,
}

/// The term of a single-core cable in conduit: of a straight run up to 3 m, or of any other.
#[must_use]
pub fn cable_term(size_mm2: f64, stranded: bool, short: bool, tables: &Tables) -> Option<f64> {
    let kind = if short { "cable_short" } else { "cable_long" };
    let form = if stranded { "stranded" } else { "solid" };
    tables
        .conduit_terms
        .iter()
        .find(|row| row.kind == kind && (row.b - size_mm2).abs() < 1e-9 && row.a.contains(form))
        .map(|row| row.c16)
}

/// The term of a conduit of size 16, 20, 25 or 32: straight up to 3 m, else the listed run that is as
/// long or longer with as many bends.
#[must_use]
pub fn conduit_term(size: &str, length_m: f64, bends: u8, tables: &Tables) -> Option<f64> {
    let rows = tables.conduit_terms.iter();
    let row = if bends == 0 && length_m <= 3.0 {
        rows.into_iter().find(|row| row.kind == "conduit_short")
    } else {
        rows.filter(|row| row.kind == "run" && (row.b - f64::from(bends)).abs() < 1e-9)
            .filter_map(|row| Some((row.a.parse::<f64>().ok()?, row)))
            .filter(|(length, _)| *length >= length_m - 1e-9)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, row)| row)
    }?;
    match size {
        "16" => Some(row.c16),
        "20" => row.c20,
        "25" => row.c25,
        "32" => row.c32,
        _ => None,
    }
}

/// The term of trunking: of its listed size, else 45 % of the area inside.
#[must_use]
pub fn trunking_term(width: f64, height: f64, tables: &Tables) -> f64 {
    let (wide, high) = (width.max(height), width.min(height));
    let listed = tables.trunking_terms.iter().find(|row| {
        let other: f64 = row.b.parse().unwrap_or(0.0);
        row.kind == "trunk" && (row.a - wide).abs() < 1e-9 && (other - high).abs() < 1e-9
    });
    listed
        .and_then(|row| row.v3)
        .unwrap_or_else(|| SPACE_FACTOR * (wide - 2.0 * TRUNKING_WALL).max(0.0) * (high - 2.0 * TRUNKING_WALL).max(0.0))
}

/// The term of a single-core cable in trunking, mm².
#[must_use]
pub fn trunking_cable_term(size_mm2: f64, stranded: bool, thermosetting: bool, tables: &Tables) -> Option<f64> {
    let form = if stranded { "stranded" } else { "solid" };
    tables
        .trunking_terms
        .iter()
        .find(|row| row.kind == "cable" && (row.a - size_mm2).abs() < 1e-9 && row.b == form)
        .and_then(|row| if thermosetting { row.v3 } else { row.v2.or(row.v3) })
}

/// Area of a cable over its sheath, mm², from its measured or listed diameter.
fn area(cable: &Cable, tables: &Tables) -> Option<(f64, f64)> {
    let (_, over, _) = cable_diameters(cable, tables);
    let of = |diameter: f64| core::f64::consts::PI * diameter * diameter / 4.0;
    over.map(|range| (of(range.lo().get()), of(range.hi().get())))
}

fn singles(cable: &Cable) -> Option<(f64, f64)> {
    let single = cable.construction.get() == Some(&Construction::SingleCore);
    let cores = f64::from(*cable.cores.get()?);
    let size = cable.size.single()?.get();
    single.then_some((cores, size))
}

/// A conduit's run to the next box, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Run {
    /// Least and greatest length, m.
    pub length: Option<(f64, f64)>,
    /// Right-angled bends.
    pub bends: Option<u8>,
}

/// Lengths and bends of the runs that the published terms know: of more, a draw box belongs into the run.
const LENGTHS: [f64; 5] = [1.0, 2.5, 3.5, 5.0, 10.0];
const BENDS: [u8; 5] = [0, 1, 2, 3, 4];

/// Cables in a conduit, stranded conductors: terms where all are single cores, else areas against 45 % of the bore. Two
/// answers: of the best that the run may be, and of the worst; with the run known both are the same. A run that the
/// terms do not reach has no room in its worst. `None` where a cable or the conduit is not listed.
#[must_use]
pub fn conduit_fill(size: &str, bore: Option<f64>, cables: &[&Cable], run: Run, tables: &Tables) -> Option<[Fill; 2]> {
    let terms = |short: bool| -> Option<f64> {
        cables
            .iter()
            .map(|cable| {
                let (cores, size) = singles(cable)?;
                Some(cores * cable_term(size, true, short, tables)?)
            })
            .sum()
    };
    // The terms of cables and of conduit go together: those of a straight run up to 3 m, or those of any other.
    let of = |length: f64, bends: u8| -> Option<Fill> {
        let used = terms(bends == 0 && length <= 3.0)?;
        Some(Fill { used: (used, used), room: conduit_term(size, length, bends, tables)? })
    };
    if conduit_term(size, 3.0, 0, tables).is_some() && terms(true).is_some() {
        let lengths = |known: Option<f64>| known.map_or(LENGTHS.to_vec(), |length| vec![length]);
        let bends = run.bends.map_or(BENDS.to_vec(), |bends| vec![bends]);
        let share = |fill: &Fill| fill.used.1 / fill.room;
        let all = |length| {
            lengths(length)
                .into_iter()
                .flat_map(|length| bends.iter().filter_map(move |bends| of(length, *bends)))
                .collect()
        };
        let shortest: Vec<Fill> = all(run.length.map(|(least, _)| least));
        let longest: Vec<Fill> = all(run.length.map(|(_, most)| most));
        let best = shortest.into_iter().min_by(|a, b| share(a).total_cmp(&share(b)));
        let worst = longest.into_iter().max_by(|a, b| share(a).total_cmp(&share(b)));
        let beyond = Fill { used: terms(true).map_or((0.0, 0.0), |used| (used, used)), room: 0.0 };
        let best = best.unwrap_or(Fill { room: conduit_term(size, 3.0, 0, tables).unwrap_or(0.0), ..beyond });
        return Some([best, worst.unwrap_or(beyond)]);
    }
    let bore = bore?;
    let room = SPACE_FACTOR * core::f64::consts::PI * bore * bore / 4.0;
    sum(cables.iter().map(|cable| area(cable, tables))).map(|used| [Fill { used, room }; 2])
}

/// Cables in trunking of this size: listed terms of single cores, areas of other cables.
#[must_use]
pub fn trunking_fill(width: f64, height: f64, cables: &[&Cable], tables: &Tables) -> Option<Fill> {
    let one = |cable: &&Cable| match singles(cable) {
        Some((cores, size)) => {
            let thermosetting = cable.insulation.get() == Some(&Insulation::Xlpe90);
            let term = cores * trunking_cable_term(size, true, thermosetting, tables)?;
            Some((term, term))
        }
        None => area(cable, tables),
    };
    sum(cables.iter().map(one)).map(|used| Fill { used, room: trunking_term(width, height, tables) })
}

fn sum(parts: impl Iterator<Item = Option<(f64, f64)>>) -> Option<(f64, f64)> {
    let mut total = (0.0, 0.0);
    for part in parts {
        let (lo, hi) = part?;
        total = (total.0 + lo, total.1 + hi);
    }
    Some(total)
}
