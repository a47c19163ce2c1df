//! Tables of how a cable lies and what its load does: harmonics, ground, insulation, starting.

use survey::range::Span;
use survey::{LoadKind, Method, ResidualForm, say};

use super::sheet::Sheet;
use super::steps::{Steps, Trend};
use super::trace::{self, Mark};
use super::{TableError, follows, trust};
use crate::case::hull;

/// A band of third harmonic and what it does to a four- or five-core cable.
#[derive(Clone, Copy, Debug)]
struct Harmonic {
    over: f64,
    upto: f64,
    factor: f64,
    mark: Mark,
}

/// The tables of this part.
#[derive(Clone, Debug, Default)]
pub(crate) struct Laid {
    harmonics: Vec<Harmonic>,
    /// By method, D1 then D2.
    soil: [Steps; 2],
    depth: [Steps; 2],
    insulation: Steps,
    start_factor: (Span, Mark),
    start_drop: (Span, Mark),
    forms: Vec<(Option<LoadKind>, usize, usize)>,
}

impl Laid {
    /// Puts what a table says in its place. False where no table of this part has this name.
    pub(super) fn read(&mut self, name: &str, text: &str) -> Result<bool, TableError> {
        match name {
            "harmonic_factor" => self.harmonics = harmonics(text)?,
            "soil_factor" => (self.soil, self.depth) = ground(text)?,
            "insulation_factor" => self.insulation = insulation(text)?,
            "motor_start" => (self.start_factor, self.start_drop) = start(text)?,
            "residual_form" => self.forms = forms(text)?,
            _ => return Ok(false),
        }
        Ok(true)
    }

    /// Factor for a third harmonic as a share of the line current, IEC 60364-5-52 table E.52.1.
    pub(crate) fn harmonic(&self, share: Span) -> Option<Span> {
        self.harmonics
            .iter()
            .filter(|band| share.hi * 100.0 > band.over || (band.over == 0.0 && share.hi <= 0.0))
            .filter(|band| share.lo * 100.0 <= band.upto)
            .inspect(|band| trace::note(band.mark))
            .fold(None, |found, band| hull(found, Span::point(band.factor)))
    }

    /// Factor for the ground's thermal resistivity in K·m/W: a straight line between rows. Better
    /// ground than the first row counts as the first; worse than the last has none.
    pub(crate) fn soil(&self, method: Method, resistivity: Span) -> Option<Span> {
        falling(self.soil.get(ground_place(method)?)?, resistivity)
    }

    /// Factor for laying deeper than the capacity tables are for, from a depth in m.
    pub(crate) fn depth(&self, method: Method, depth: Span) -> Option<Span> {
        falling(self.depth.get(ground_place(method)?)?, depth)
    }

    /// Factor for a length in m that runs surrounded by thermal insulation: the next row's, the
    /// last one's beyond.
    pub(crate) fn insulation(&self, length: Span) -> Span {
        let last = self.insulation.last().unwrap_or(1.0);
        let at = |length: f64| if length <= 0.0 { 1.0 } else { self.insulation.next_at(length).unwrap_or(last) };
        Span { lo: at(length.hi), hi: at(length.lo) }
    }

    /// Power factor of a motor while it starts.
    pub(crate) fn start_factor(&self) -> Span {
        trace::note(self.start_factor.1);
        self.start_factor.0
    }

    /// Volt drop allowed while a motor starts, as a share.
    pub(crate) fn start_drop(&self) -> Span {
        trace::note(self.start_drop.1);
        self.start_drop.0
    }

    /// Forms that the earth fault current of a load may take.
    pub(crate) fn residual_forms(&self, kind: Option<LoadKind>) -> &'static [ResidualForm] {
        let row = |kind| self.forms.iter().find(|(one, ..)| *one == kind);
        row(kind)
            .or_else(|| row(None))
            .and_then(|(_, least, most)| ResidualForm::ALL.get(*least..=*most))
            .unwrap_or(ResidualForm::ALL)
    }
}

fn ground_place(method: Method) -> Option<usize> {
    match method {
        Method::D1 => Some(0),
        Method::D2 => Some(1),
        _ => None,
    }
}

fn falling(steps: &Steps, keys: Span) -> Option<Span> {
    Some(Span { lo: steps.line(keys.hi)?.lo, hi: steps.line(keys.lo)?.hi })
}

fn harmonics(text: &str) -> Result<Vec<Harmonic>, TableError> {
    let columns = ["over_percent", "upto_percent", "select_by", "factor", "checked"];
    let sheet = Sheet::read("harmonic_factor", text, &columns)?;
    let mut found: Vec<Harmonic> = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        row.pick("select_by", &[("line", ()), ("neutral", ())])?;
        let over = row.number("over_percent")?;
        if found.last().map_or(0.0, |last| last.upto) != over {
            return Err(row.fault("over_percent", say!("table-begin-where-the-row-before-ends")));
        }
        let upto = row.positive_or_none("upto_percent")?.unwrap_or(f64::INFINITY);
        found.push(Harmonic { over, upto, factor: row.positive("factor")?, mark: row.mark() });
    }
    Ok(found)
}

type Ground = ([Steps; 2], [Steps; 2]);

fn ground(text: &str) -> Result<Ground, TableError> {
    let sheet = Sheet::read("soil_factor", text, &["kind", "method", "value", "factor", "checked"])?;
    let (mut soil, mut depth): Ground = Default::default();
    for row in sheet.rows() {
        trust(row)?;
        let of_soil = row.pick("kind", &[("resistivity", true), ("depth", false)])?;
        let place = row.pick("method", &[("D1", 0_usize), ("D2", 1)])?;
        let into = if of_soil { &mut soil } else { &mut depth };
        if let Some(steps) = into.get_mut(place) {
            steps.insert(row, "value", row.positive("value")?, row.positive("factor")?)?;
        }
    }
    for steps in soil.iter().chain(&depth) {
        if steps.pairs().is_empty() {
            return Err(sheet.fault("kind", "", say!("table-give-rows-of-resistivity-and-of")));
        }
        follows(&sheet, "factor", steps, Trend::Falling, say!("table-drier-or-deeper-ground-allows-no"))?;
    }
    Ok((soil, depth))
}

fn insulation(text: &str) -> Result<Steps, TableError> {
    let sheet = Sheet::read("insulation_factor", text, &["upto_m", "factor", "checked"])?;
    let mut steps = Steps::default();
    for row in sheet.rows() {
        trust(row)?;
        steps.insert(row, "upto_m", row.positive("upto_m")?, row.positive("factor")?)?;
    }
    follows(&sheet, "factor", &steps, Trend::Falling, say!("table-a-longer-length-in-insulation-allows"))?;
    Ok(steps)
}

type Start = ((Span, Mark), (Span, Mark));

fn start(text: &str) -> Result<Start, TableError> {
    let sheet = Sheet::read("motor_start", text, &["item", "low", "high", "checked"])?;
    let mut found = [None; 2];
    for row in sheet.rows() {
        trust(row)?;
        let place = row.pick("item", &[("power_factor", 0_usize), ("drop_limit", 1)])?;
        let span = Span { lo: row.positive("low")?, hi: row.positive("high")? };
        if span.lo > span.hi || span.hi > 1.0 {
            return Err(row.fault("low", say!("table-write-the-smaller-share-under-low")));
        }
        if let Some(place) = found.get_mut(place) {
            *place = Some((span, row.mark()));
        }
    }
    match found {
        [Some(factor), Some(drop)] => Ok((factor, drop)),
        _ => Err(sheet.fault("item", "", say!("table-give-a-row-for-power-factor"))),
    }
}

fn forms(text: &str) -> Result<Vec<(Option<LoadKind>, usize, usize)>, TableError> {
    let sheet = Sheet::read("residual_form", text, &["load", "least", "most", "why", "source", "checked"])?;
    let words = [("sine", 0_usize), ("pulsating", 1), ("mixed", 2), ("smooth", 3)];
    let mut loads: Vec<(&str, Option<LoadKind>)> = vec![("any", None)];
    loads.extend(LoadKind::ALL.iter().map(|kind| (kind.written(), Some(*kind))));
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let (least, most) = (row.pick("least", &words)?, row.pick("most", &words)?);
        if least > most {
            return Err(row.fault("least", say!("table-write-the-less-demanding-form-under")));
        }
        found.push((row.pick("load", &loads)?, least, most));
    }
    Ok(found)
}
