//! Tables of the board as an assembly: operating bands, RCD times, diversity, losses, earthing.

use survey::range::Span;
use survey::{Curve, say};

use super::sheet::{Row, Sheet};
use super::steps::{Steps, Trend};
use super::trace::{self, Mark};
use super::{CURVES, TableError, follows, trust};

/// What a test of a device asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asked {
    /// Stays closed for the longest time.
    NoTrip,
    /// Opens within the longest time.
    Trip,
    /// Opens after the shortest and within the longest time.
    Between,
}

/// One test of a device: a current and its times.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BandTest {
    breaker: bool,
    curve: Option<Curve>,
    over: f64,
    upto: f64,
    /// Multiple of the rated current.
    pub(crate) multiple: f64,
    /// Shortest time, s; zero where none is given.
    pub(crate) shortest: f64,
    /// Longest time, s.
    pub(crate) longest: f64,
    /// What the test asks for.
    pub(crate) asked: Asked,
    mark: Mark,
}

/// Times of an RCD at a multiple of its rated residual current.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ResidualTime {
    pub(crate) delayed: bool,
    pub(crate) multiple: f64,
    /// Shortest time, s; zero where none is given.
    pub(crate) shortest: f64,
    /// Longest time, s.
    pub(crate) longest: f64,
    mark: Mark,
}

/// Factors of the enclosure's temperature rise, IEC TR 60890.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rise {
    /// Exposed top.
    pub(crate) top: f64,
    /// Covered top.
    pub(crate) top_covered: f64,
    /// Exposed front, rear or side.
    pub(crate) exposed: f64,
    /// Side or rear against something.
    pub(crate) covered: f64,
    marks: Vec<Mark>,
    k: Steps,
    c: Steps,
}

/// Bounds of earthing and bonding conductors of copper, mm².
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct EarthingSizes {
    /// Smallest earthing conductor.
    pub(crate) least: f64,
    /// Smallest bare one in the ground.
    pub(crate) buried_bare: f64,
    /// Smallest main bonding conductor.
    pub(crate) bonding_least: f64,
    /// A main bonding conductor need not be larger.
    pub(crate) bonding_most: f64,
    marks: [Mark; 4],
}

/// Largest loss of one pole, W, in a band of ratings.
#[derive(Clone, Copy, Debug)]
struct Loss {
    over: f64,
    upto: f64,
    watts: f64,
    mark: Mark,
}

/// Every table of this module.
#[derive(Clone, Debug, Default)]
pub(crate) struct Assembly {
    tests: Vec<BandTest>,
    /// RCD times, multiples rising.
    residual: Vec<ResidualTime>,
    diversity: Steps,
    loss: Vec<Loss>,
    /// The enclosure's temperature rise.
    pub(crate) rise: Rise,
    earthing: EarthingSizes,
}

impl Assembly {
    /// Puts what a table says in its place. False where no table of this part has this name.
    pub(super) fn read(&mut self, name: &str, text: &str) -> Result<bool, TableError> {
        match name {
            "operating_band" => self.tests = tests(text)?,
            "rcd_time" => self.residual = residual(text)?,
            "diversity_factor" => self.diversity = diversity(text)?,
            "power_loss" => self.loss = loss(text)?,
            "enclosure_rise" => self.rise = rise(text)?,
            "earthing_size" => self.earthing = earthing(text)?,
            _ => return Ok(false),
        }
        Ok(true)
    }

    /// Tests of a device of a rating, multiples rising; `None` as curve: a gG fuse.
    pub(crate) fn tests(&self, curve: Option<Curve>, rated: f64) -> impl Iterator<Item = &BandTest> {
        self.tests
            .iter()
            .filter(move |test| {
                test.breaker == curve.is_some()
                    && (test.curve.is_none() || test.curve == curve)
                    && rated > test.over
                    && rated <= test.upto
            })
            .inspect(|test| trace::note(test.mark))
    }

    /// Bounds of earthing and bonding conductors.
    pub(crate) fn earthing(&self) -> EarthingSizes {
        self.earthing.marks.into_iter().for_each(trace::note);
        self.earthing
    }

    /// Times of RCDs, delayed or not, multiples rising.
    pub(crate) fn residual(&self, delayed: bool) -> impl Iterator<Item = &ResidualTime> {
        self.residual.iter().filter(move |row| row.delayed == delayed).inspect(|row| trace::note(row.mark))
    }

    /// Rated diversity factor where the maker states none, IEC 61439-3 table 101.
    pub(crate) fn diversity(&self, circuits: usize) -> f64 {
        self.diversity.next_at(circuits.max(1) as f64).or(self.diversity.last()).unwrap_or(1.0)
    }

    /// Largest loss of one pole at its rated current, W; `None` beyond the table.
    pub(crate) fn loss(&self, rated: Span) -> Option<f64> {
        self.loss
            .iter()
            .filter(|row| rated.hi > row.over && rated.lo <= row.upto)
            .inspect(|row| trace::note(row.mark))
            .map(|row| row.watts)
            .reduce(f64::max)
            .filter(|_| self.loss.last().is_some_and(|row| rated.hi <= row.upto))
    }
}

impl Rise {
    /// Constant k of the enclosure for an effective surface in m²; `None` beyond the table.
    pub(crate) fn k(&self, surface: f64) -> Option<Span> {
        self.marks.iter().copied().for_each(trace::note);
        let (first, last) = (self.k.pairs().first()?.0, self.k.pairs().last()?.0);
        (surface >= first && surface <= last).then(|| self.k.line(surface)).flatten()
    }

    /// Temperature distribution factor c for height over width; `None` beyond the table.
    pub(crate) fn c(&self, height_over_width: f64) -> Option<Span> {
        self.c.line(height_over_width)
    }
}

fn tests(text: &str) -> Result<Vec<BandTest>, TableError> {
    let columns =
        ["device", "type", "test", "multiple", "in_over", "in_upto", "t_min_s", "t_max_s", "result", "checked"];
    let sheet = Sheet::read("operating_band", text, &columns)?;
    let mut found: Vec<BandTest> = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let asked =
            row.pick("result", &[("no_trip", Asked::NoTrip), ("trip", Asked::Trip), ("between", Asked::Between)])?;
        let one = BandTest {
            breaker: row.pick("device", &[("breaker", true), ("fuse", false)])?,
            curve: row.pick("type", CURVES)?,
            over: row.number("in_over")?,
            upto: row.positive("in_upto")?,
            multiple: row.positive("multiple")?,
            shortest: row.positive_or_none("t_min_s")?.unwrap_or(0.0),
            longest: row.positive("t_max_s")?,
            asked,
            mark: row.mark(),
        };
        if one.shortest > one.longest {
            return Err(row.fault("t_min_s", say!("table-write-the-shorter-time-under-t")));
        }
        found.push(one);
    }
    found.sort_by(|a, b| a.multiple.total_cmp(&b.multiple));
    Ok(found)
}

fn residual(text: &str) -> Result<Vec<ResidualTime>, TableError> {
    let sheet = Sheet::read("rcd_time", text, &["delay", "multiple", "t_min_s", "t_max_s", "checked"])?;
    let mut found: Vec<ResidualTime> = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        found.push(ResidualTime {
            delayed: row.pick("delay", &[("general", false), ("S", true)])?,
            multiple: row.positive("multiple")?,
            shortest: row.positive_or_none("t_min_s")?.unwrap_or(0.0),
            longest: row.positive("t_max_s")?,
            mark: row.mark(),
        });
    }
    found.sort_by(|a, b| a.multiple.total_cmp(&b.multiple));
    Ok(found)
}

fn diversity(text: &str) -> Result<Steps, TableError> {
    let sheet = Sheet::read("diversity_factor", text, &["circuits_upto", "factor", "checked"])?;
    let mut steps = Steps::default();
    for row in sheet.rows() {
        trust(row)?;
        let factor = row.positive("factor")?;
        if factor > 1.0 {
            return Err(row.fault("factor", say!("table-give-a-factor-up-to-1")));
        }
        steps.insert(row, "circuits_upto", row.positive("circuits_upto")?, factor)?;
    }
    follows(&sheet, "factor", &steps, Trend::Falling, say!("table-more-circuits-carry-no-more-each"))?;
    Ok(steps)
}

fn loss(text: &str) -> Result<Vec<Loss>, TableError> {
    let sheet = Sheet::read("power_loss", text, &["in_over", "in_upto", "watts", "checked"])?;
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let (over, upto) = (row.number("in_over")?, row.positive("in_upto")?);
        if over >= upto {
            return Err(row.fault("in_over", say!("table-write-the-smaller-rating-under-in")));
        }
        found.push(Loss { over, upto, watts: row.positive("watts")?, mark: row.mark() });
    }
    found.sort_by(|a, b| a.upto.total_cmp(&b.upto));
    Ok(found)
}

fn rise(text: &str) -> Result<Rise, TableError> {
    let sheet = Sheet::read("enclosure_rise", text, &["item", "key", "value", "checked"])?;
    let mut found = Rise::default();
    for row in sheet.rows() {
        trust(row)?;
        let value = row.positive("value")?;
        match row.pick("item", &[("b", 0_u8), ("k", 1), ("c", 2)])? {
            0 => {
                let faces = [("top", 0_u8), ("top_covered", 1), ("exposed", 2), ("covered", 3)];
                let face = match row.pick("key", &faces)? {
                    0 => &mut found.top,
                    1 => &mut found.top_covered,
                    2 => &mut found.exposed,
                    _ => &mut found.covered,
                };
                *face = value;
                found.marks.push(row.mark());
            }
            1 => found.k.insert(row, "key", row.positive("key")?, value)?,
            _ => found.c.insert(row, "key", row.number("key")?, value)?,
        }
    }
    if [found.top, found.top_covered, found.exposed, found.covered].contains(&0.0)
        || found.k.pairs().is_empty()
        || found.c.pairs().is_empty()
    {
        return Err(sheet.fault("item", "", say!("table-give-b-for-top-top-covered")));
    }
    follows(&sheet, "value", &found.k, Trend::Falling, say!("table-a-larger-surface-gets-no-warmer"))?;
    follows(&sheet, "value", &found.c, Trend::Rising, say!("table-a-taller-enclosure-is-no-cooler"))?;
    Ok(found)
}

fn earthing(text: &str) -> Result<EarthingSizes, TableError> {
    let sheet = Sheet::read("earthing_size", text, &["item", "mm2", "checked"])?;
    let names = ["earthing_least", "buried_bare", "bonding_least", "bonding_most"];
    let choices: Vec<(&str, usize)> = names.iter().enumerate().map(|(index, name)| (*name, index)).collect();
    let mut found = [None; 4];
    let mut read = |row: &Row| -> Result<(), TableError> {
        trust(row)?;
        found[row.pick("item", &choices)?] = Some((row.positive("mm2")?, row.mark()));
        Ok(())
    };
    for row in sheet.rows() {
        read(row)?;
    }
    match found {
        [Some((least, a)), Some((buried_bare, b)), Some((bonding_least, c)), Some((bonding_most, d))]
            if bonding_least <= bonding_most =>
        {
            Ok(EarthingSizes { least, buried_bare, bonding_least, bonding_most, marks: [a, b, c, d] })
        }
        _ => Err(sheet.fault("item", "", say!("table-row-each", names = names.join(", ")))),
    }
}
