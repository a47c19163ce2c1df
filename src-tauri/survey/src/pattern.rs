//! Enclosure patterns: what a kind of board looks like, as data.
//!
//! The shipped patterns are `seed-data/patterns.toml`; a user adds one in the same form. A board
//! keeps its own copy, so a survey file is whole by itself.

use std::borrow::Cow;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::message::Message;
use crate::pole::{Phase, PoleAt};
use crate::say;
use crate::units::{Amps, Millimetres};

/// A point in millimetres from the top left corner: `[x, y]`, y downwards.
pub type Point = [f64; 2];

/// A rectangle in millimetres: `[x, y, width, height]`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(from = "[f64; 4]", into = "[f64; 4]")]
#[schemars(with = "[f64; 4]")]
pub struct Rect {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl From<[f64; 4]> for Rect {
    fn from([x, y, w, h]: [f64; 4]) -> Self {
        Self { x, y, w, h }
    }
}
impl From<Rect> for [f64; 4] {
    fn from(rect: Rect) -> Self {
        [rect.x, rect.y, rect.w, rect.h]
    }
}
impl Rect {
    /// From corner and size.
    #[must_use]
    pub const fn new(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x, y, w, h }
    }
    /// Right edge.
    #[must_use]
    pub fn right(self) -> f64 {
        self.x + self.w
    }
    /// Bottom edge.
    #[must_use]
    pub fn bottom(self) -> f64 {
        self.y + self.h
    }
    /// The middle.
    #[must_use]
    pub fn centre(self) -> Point {
        [self.x + self.w / 2.0, self.y + self.h / 2.0]
    }
    /// True where `inner` lies wholly inside.
    #[must_use]
    pub fn holds(self, inner: Self) -> bool {
        inner.x >= self.x && inner.y >= self.y && inner.right() <= self.right() && inner.bottom() <= self.bottom()
    }
}

/// How many phases the busbars have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Phases {
    /// One: a way is one pole.
    Single,
    /// Three: a way is three poles.
    Three,
}

/// How the ways run through the columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Numbering {
    /// Odd ways in the first column, even in the second.
    Across,
    /// Down the first column, then down the next.
    Down,
    /// Along one row, from the incomer outwards.
    Along,
}

/// Which face of the enclosure a plate closes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// Top.
    #[default]
    Top,
    /// Bottom.
    Bottom,
    /// Left side.
    Left,
    /// Right side.
    Right,
    /// Back.
    Back,
}

impl Face {
    /// The word shown.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::Top => "face-top",
            Self::Bottom => "face-bottom",
            Self::Left => "face-left",
            Self::Right => "face-right",
            Self::Back => "face-back",
        })
    }
}

/// A plate of the enclosure as delivered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PatternPlate {
    /// The face it closes.
    pub face: Face,
    /// Size across the front.
    pub width: Millimetres,
    /// Size from front to back.
    pub depth: Millimetres,
    /// Sheet thickness.
    pub thickness: Millimetres,
    /// The part that may be drilled, from the left rear corner, seen from outside.
    pub usable: Rect,
}

/// A kind of enclosure: columns, numbering, terminals, plates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pattern {
    /// Short key, unique among patterns.
    pub key: String,
    /// What a person picks from a list.
    pub name: String,
    /// Phases of the busbars.
    pub phases: Phases,
    /// Number of ways.
    pub ways: u16,
    /// Number of columns of poles (two for the usual three-phase board, one row for a single-phase one).
    pub columns: u8,
    /// How ways are numbered.
    pub numbering: Numbering,
    /// Phase of each pole within a way, in order; empty on a single-phase board.
    #[serde(default)]
    pub phase_order: Vec<Phase>,
    /// Outside width of the enclosure.
    pub width: Millimetres,
    /// Outside height.
    pub height: Millimetres,
    /// Outside depth.
    pub depth: Millimetres,
    /// Size of one pole along the column or row: one module, usually 18 mm (common practice).
    pub pole_pitch: Millimetres,
    /// Size of a device across the column or row.
    pub device_length: Millimetres,
    /// Top left corner of the first pole of each column.
    pub columns_at: Vec<Point>,
    /// Where the incomer sits.
    pub incomer_at: Rect,
    /// Modules of room the incomer space has; those its device leaves free need blanks.
    pub incomer_modules: u8,
    /// Current rating of the busbars.
    pub rated: Amps,
    /// Neutral terminals beside those tied to poles.
    pub spare_neutrals: u8,
    /// Earth terminals beside those tied to poles.
    pub spare_earths: u8,
    /// True where the neutral bar has a terminal for the incoming neutral itself.
    pub direct_neutral_terminal: bool,
    /// Where the neutral bar is drawn; terminals spread along its longer side.
    pub neutral_bar: Rect,
    /// Where the earth bar is drawn.
    pub earth_bar: Rect,
    /// Its plates.
    pub plates: Vec<PatternPlate>,
}

/// The largest number of ways a pattern may have.
pub const MOST_WAYS: u16 = 96;
/// Longest key or name of a pattern, in letters.
const LONGEST: usize = 200;
/// An enclosure has five faces that a plate closes, and seldom more than one in each.
const MOST_PLATES: usize = 20;

/// Names of the shipped patterns.
const NAMES: &[&str] = &[
    "pattern-three-phase-4",
    "pattern-three-phase-6",
    "pattern-three-phase-8",
    "pattern-three-phase-12",
    "pattern-three-phase-16",
    "pattern-three-phase-18",
    "pattern-three-phase-24",
    "pattern-single-phase-6",
    "pattern-single-phase-12",
    "pattern-single-phase-18",
];

impl Pattern {
    /// What a person picks from a list: a shipped pattern's name is a message, a person's own stays as it is.
    #[must_use]
    pub fn named(&self) -> Message {
        Message::shipped(&self.name, NAMES)
    }

    /// Poles of one way.
    #[must_use]
    pub fn poles_per_way(&self) -> usize {
        match self.phases {
            Phases::Single => 1,
            Phases::Three => 3,
        }
    }

    /// All poles, way by way, in the order of the busbar.
    pub fn poles(&self) -> impl Iterator<Item = PoleAt> + '_ {
        (1..=self.ways).flat_map(move |way| -> Box<dyn Iterator<Item = PoleAt> + '_> {
            match self.phases {
                Phases::Single => Box::new(std::iter::once(PoleAt::single(way))),
                Phases::Three => Box::new(self.phase_order.iter().map(move |&phase| PoleAt::three(way, phase))),
            }
        })
    }

    /// True where the enclosure has this pole.
    #[must_use]
    pub fn has(&self, pole: PoleAt) -> bool {
        (1..=self.ways).contains(&pole.way) && pole.phase.is_some() == (self.phases == Phases::Three)
    }

    /// Where a pole is drawn, and its column (from 0). `None` where the enclosure has no such pole.
    #[must_use]
    pub fn pole_rect(&self, pole: PoleAt) -> Option<(Rect, usize)> {
        if !self.has(pole) {
            return None;
        }
        let way = usize::from(pole.way) - 1;
        let columns = usize::from(self.columns).max(1);
        let (column, row) = match self.numbering {
            Numbering::Across => (way % columns, way / columns),
            Numbering::Down | Numbering::Along => {
                let per_column = usize::from(self.ways).div_ceil(columns);
                (way / per_column, way % per_column)
            }
        };
        let slot = match pole.phase {
            Some(phase) => self.phase_order.iter().position(|&other| other == phase)?,
            None => 0,
        };
        let [x, y] = *self.columns_at.get(column)?;
        let along = (row * self.poles_per_way() + slot) as f64 * self.pole_pitch.get();
        let (pitch, length) = (self.pole_pitch.get(), self.device_length.get());
        let rect = match self.numbering {
            Numbering::Along => Rect::new(x + along, y, pitch, length),
            Numbering::Across | Numbering::Down => Rect::new(x, y + along, length, pitch),
        };
        Some((rect, column))
    }

    /// Everything wrong with the pattern itself, as sentences that say what would do.
    #[must_use]
    pub fn faults(&self) -> Vec<(Cow<'static, str>, Message)> {
        let mut faults: Vec<(Cow<'static, str>, Message)> = Vec::new();
        let mut fault = |field: &'static str, text: Message| faults.push((Cow::Borrowed(field), text));
        if self.key.trim().is_empty() {
            fault("key", say!("pattern-key"));
        }
        for (field, name) in [("key", &self.key), ("name", &self.name)] {
            if name.chars().count() > LONGEST {
                fault(field, say!("pattern-too-long", most = LONGEST));
            }
        }
        if self.plates.len() > MOST_PLATES {
            fault("plates", say!("pattern-plates", count = self.plates.len(), most = MOST_PLATES));
        }
        if !(1..=MOST_WAYS).contains(&self.ways) {
            fault("ways", say!("pattern-ways", count = u32::from(self.ways), most = u32::from(MOST_WAYS)));
        }
        if self.columns == 0 || usize::from(self.columns) != self.columns_at.len() {
            fault(
                "columns_at",
                say!("pattern-columns", columns = u32::from(self.columns), corners = self.columns_at.len()),
            );
        }
        let mut order = self.phase_order.clone();
        order.sort_unstable();
        let wanted: &[Phase] = match self.phases {
            Phases::Single => &[],
            Phases::Three => &Phase::ALL,
        };
        if order != wanted {
            fault("phase_order", say!("pattern-phases"));
        }
        for (field, size) in [
            ("width", self.width),
            ("height", self.height),
            ("depth", self.depth),
            ("pole_pitch", self.pole_pitch),
            ("device_length", self.device_length),
        ] {
            if !(1.0..=5000.0).contains(&size.get()) {
                fault(field, say!("pattern-size", size = size.to_string()));
            }
        }
        let numbers = self.columns_at.iter().flatten().copied().chain(
            [self.incomer_at, self.neutral_bar, self.earth_bar]
                .into_iter()
                .chain(self.plates.iter().map(|plate| plate.usable))
                .flat_map(<[f64; 4]>::from),
        );
        if numbers.into_iter().any(|number| !number.is_finite() || number.abs() > 1e4) {
            fault("columns_at", say!("pattern-far"));
        }
        for plate in &self.plates {
            let whole = Rect::new(0.0, 0.0, plate.width.get(), plate.depth.get());
            if !(whole.w > 0.0 && whole.h > 0.0 && whole.holds(plate.usable)) {
                fault("plates", say!("pattern-usable", face = plate.face.words()));
            }
        }
        faults
    }
}

/// A list of patterns as it stands in a TOML file: `[[pattern]]` tables.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PatternList {
    /// The patterns.
    pub pattern: Vec<Pattern>,
}

impl PatternList {
    /// Reads and checks a TOML list.
    ///
    /// # Errors
    /// A sentence that names the pattern, the field and what would do.
    pub fn parse(text: &str) -> Result<Vec<Pattern>, Message> {
        let list: Self = toml::from_str(text).map_err(|error| Message::plain(error.to_string()))?;
        for (index, pattern) in list.pattern.iter().enumerate() {
            if let Some((field, fault)) = pattern.faults().first() {
                return Err(say!(
                    "pattern-fault",
                    number = index + 1,
                    key = pattern.key.clone(),
                    field = field.to_string(),
                    fault = fault.clone(),
                ));
            }
            if list.pattern[..index].iter().any(|other| other.key == pattern.key) {
                return Err(say!("pattern-twice", number = index + 1, key = pattern.key.clone()));
            }
        }
        Ok(list.pattern)
    }
}

#[cfg(all(test, feature = "words"))]
mod tests {
    use super::*;

    #[test]
    fn a_shipped_pattern_has_its_name_from_the_catalogue_and_an_own_one_keeps_it() {
        for mut pattern in PatternList::parse(include_str!("../../../seed-data/patterns.toml")).unwrap() {
            assert!(pattern.named().id().is_some(), "{} is not in NAMES", pattern.name);
            pattern.name.push_str(", ours");
            assert_eq!(pattern.named().as_plain(), Some(pattern.name.as_str()));
        }
    }
}
