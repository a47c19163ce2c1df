//! Which gland takes a cable.

use survey::{Cable, Construction, Insulation, Known, Millimetres, Range};

use crate::tables::{Gland, PlasticGland, Tables};

/// How well a gland takes a cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fit {
    /// The whole range of diameters lies where every listed clamping range holds it.
    Fits,
    /// At the edge: it may fit, but tolerance or the maker's own range decides. Measure first.
    Edge,
    /// It cannot fit.
    No,
}

impl Fit {
    /// Which form of a message speaks of it.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::Edge => "edge",
            Self::No => "no",
        }
    }
}

/// A gland that may take the cable.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Trade size: "20S", "M20".
    pub size: String,
    /// How well it fits.
    pub fit: Fit,
    /// The nominal diameters lie inside, and not within 0.3 mm of a largest one. The margin is a
    /// reading rule of ours, not a standard's.
    pub nominal: bool,
}

/// How far a nominal diameter stays below the largest one a gland takes, mm. Ours.
const MARGIN: f64 = 0.3;
/// Share by which makers' cables differ from the nominal diameters of the table, see
/// `armoured_cable.csv`.
const TABLE_SPREAD: f64 = 0.05;

/// A clamping range that surely holds, and one that may.
#[derive(Clone, Copy)]
struct Clamp {
    sure: (f64, f64),
    may: (f64, f64),
}

impl Clamp {
    fn of(a: (f64, f64), b: Option<(f64, f64)>) -> Self {
        let b = b.unwrap_or(a);
        Self { sure: (a.0.max(b.0), a.1.min(b.1)), may: (a.0.min(b.0), a.1.max(b.1)) }
    }

    fn fit(self, range: Range<Millimetres>) -> Fit {
        let (lo, hi) = (range.lo().get(), range.hi().get());
        // Outward rounding must not push a value off a limit it stands on.
        let tiny = 1e-6;
        if lo >= self.sure.0 - tiny && hi <= self.sure.1 + tiny {
            Fit::Fits
        } else if hi >= self.may.0 - tiny && lo <= self.may.1 + tiny {
            Fit::Edge
        } else {
            Fit::No
        }
    }
}

fn nominal(range: Range<Millimetres>) -> f64 {
    (range.lo().get() + range.hi().get()) / 2.0
}

fn armoured(gland: &Gland) -> (Clamp, Clamp) {
    (
        Clamp::of((gland.a_inner_min, gland.a_inner_max), gland.b_inner_min.zip(gland.b_inner_max)),
        Clamp::of((gland.a_outer_min, gland.a_outer_max), gland.b_outer_min.zip(gland.b_outer_max)),
    )
}

/// How an armoured-cable gland takes a cable of these diameters, under the armour and overall.
pub(crate) fn armoured_fit(
    gland: &Gland,
    under_armour: Option<Range<Millimetres>>,
    overall: Range<Millimetres>,
) -> (Fit, bool) {
    let (inner, outer) = armoured(gland);
    let in_margin = |value: f64, clamp: Clamp| value >= clamp.may.0 && value <= clamp.may.1 - MARGIN;
    let outside = outer.fit(overall);
    let inside = under_armour.map(|range| inner.fit(range));
    let nominal_fits =
        in_margin(nominal(overall), outer) && under_armour.is_none_or(|range| in_margin(nominal(range), inner));
    // Unknown under the armour: what is known decides, but never a firm yes.
    let fit = match inside {
        Some(fit) => fit.max(outside),
        None => outside.max(Fit::Edge),
    };
    (fit, nominal_fits)
}

pub(crate) fn compression_fit(gland: &PlasticGland, overall: Range<Millimetres>) -> (Fit, bool) {
    let main = Clamp::of((gland.min_mm, gland.max_mm), None);
    let other = Clamp::of((gland.alt_min_mm, gland.alt_max_mm), None);
    let value = nominal(overall);
    let inside = |clamp: Clamp| value >= clamp.may.0 && value <= clamp.may.1 - MARGIN;
    (main.fit(overall).min(other.fit(overall)), inside(main) || inside(other))
}

fn sorted(mut all: Vec<Candidate>) -> Vec<Candidate> {
    all.retain(|candidate| candidate.fit != Fit::No);
    // Stable: of two that fit alike the smaller stays first.
    all.sort_by_key(|candidate| (!candidate.nominal, candidate.fit));
    all
}

/// Armoured-cable glands that may take a cable of these diameters, best first: nominal fits before
/// edges, smaller before larger. Empty where none does.
#[must_use]
pub fn choose_gland(
    under_armour: Option<Range<Millimetres>>,
    overall: Range<Millimetres>,
    tables: &Tables,
) -> Vec<Candidate> {
    sorted(
        tables
            .glands
            .iter()
            .map(|gland| {
                let (fit, nominal) = armoured_fit(gland, under_armour, overall);
                Candidate { size: gland.size.clone(), fit, nominal }
            })
            .collect(),
    )
}

/// Compression glands that may take an unarmoured cable of this diameter, best first.
#[must_use]
pub fn choose_compression_gland(overall: Range<Millimetres>, tables: &Tables) -> Vec<Candidate> {
    sorted(
        tables
            .plastic
            .iter()
            .map(|gland| {
                let (fit, nominal) = compression_fit(gland, overall);
                Candidate { size: gland.thread.clone(), fit, nominal }
            })
            .collect(),
    )
}

/// Diameters of a cable under the armour and overall, each as measured, else from
/// `armoured_cable.csv` by cores and size, 5 % either way; and how the overall one is known.
/// `None` where neither says.
#[must_use]
pub fn cable_diameters(
    cable: &Cable,
    tables: &Tables,
) -> (Option<Range<Millimetres>>, Option<Range<Millimetres>>, Known) {
    let row = (cable.construction.get() == Some(&Construction::Armoured)
        && cable.insulation.get().is_none_or(|insulation| *insulation == Insulation::Xlpe90))
    .then(|| {
        let cores = *cable.cores.get()?;
        let size = cable.size.single()?.get();
        tables.armoured.iter().find(|row| row.cores == cores && (row.csa_mm2 - size).abs() < 1e-9)
    })
    .flatten();
    let spread = |value: f64| {
        Range::new(Millimetres::new(value * (1.0 - TABLE_SPREAD)), Millimetres::new(value * (1.0 + TABLE_SPREAD)))
    };
    let under = cable.bedding_diameter.range().or_else(|| row.map(|row| spread(row.under_armour_mm)));
    let (over, known) = match cable.diameter.range() {
        Some(range) => (Some(range), cable.diameter.from.known),
        None => match row {
            Some(row) => (Some(spread(row.overall_mm)), Known::Assumed),
            None => (None, Known::Unknown),
        },
    };
    (under, over, known)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(value: f64) -> Range<Millimetres> {
        Range::point(Millimetres::new(value))
    }

    /// gland_by_cable.csv: two published charts. 58 of 61 sizes agree with one of them; the three that
    /// do not (2 × 95, 3 × 35, 19 × 2.5) stand within 0.4 mm of a limit.
    #[test]
    fn the_nominal_choice_agrees_with_published_charts() {
        let tables = Tables::shipped();
        let charts = include_str!("../../../seed-data/plate/gland_by_cable.csv");
        let (mut agree, mut all, mut apart) = (0, 0, Vec::new());
        for line in charts.lines().filter(|line| line.starts_with(|first: char| first.is_ascii_digit())) {
            let cells: Vec<&str> = line.split(',').collect();
            let (cores, size): (u8, f64) = (cells[0].parse().unwrap(), cells[1].parse().unwrap());
            let Some(row) = tables.armoured.iter().find(|row| row.cores == cores && row.csa_mm2 == size) else {
                continue;
            };
            all += 1;
            let best = choose_gland(Some(point(row.under_armour_mm)), point(row.overall_mm), tables);
            if cells[2..].contains(&best[0].size.as_str()) {
                agree += 1
            } else {
                apart.push((cores, size, best[0].size.clone()))
            }
        }
        assert!(all == 61 && agree == 58, "{agree} of {all}: {apart:?}");
    }

    /// Published worked rows: 4 × 16 takes 25, 4 × 25 is at the edge of 25 and takes 32, 2 × 4 takes
    /// 20S, 4 × 240 takes 63.
    #[test]
    fn published_examples() {
        for (under, over, size, edge) in [
            (17.0, 23.4, "25", None),
            (19.5, 26.1, "32", Some("25")),
            (9.4, 14.7, "20S", None),
            (52.6, 63.0, "63", None),
        ] {
            let found = choose_gland(Some(point(under)), point(over), Tables::shipped());
            assert_eq!((found[0].size.as_str(), found[0].fit), (size, Fit::Fits), "{found:?}");
            if let Some(edge) = edge {
                assert!(found.iter().any(|other| other.size == edge && other.fit == Fit::Edge && !other.nominal));
            }
        }
        assert_eq!(choose_gland(Some(point(80.0)), point(95.0), Tables::shipped()), vec![]);
    }

    #[test]
    fn an_unmeasured_cable_is_never_a_firm_fit_and_a_compression_gland_has_two_ranges() {
        let found = choose_gland(None, point(23.4), Tables::shipped());
        assert!(!found.is_empty() && found.iter().all(|candidate| candidate.fit == Fit::Edge), "{found:?}");
        let found = choose_compression_gland(point(13.0), Tables::shipped());
        assert_eq!(found.iter().map(|one| one.size.as_str()).collect::<Vec<_>>(), ["M20", "M25"]);
    }
}
