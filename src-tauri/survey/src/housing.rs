//! The enclosure against touch as it is drawn: its bonds, studs, terminal, barriers, shrouds and degrees of protection,
//! each there, missing, or not looked at. One place for screen and paper.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::board::{Board, Bond, Housing, Ip, YesNo};
use crate::drawing::wrap;
use crate::field;
use crate::known::{Fact, Known};
use crate::message::Message;
use crate::pattern::{Pattern, Point, Rect};
use crate::{say, shown};

/// How a part was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PartState {
    /// It is there; a figure was read.
    There,
    /// It is not there, and the enclosure lacks it.
    Missing,
    /// There is none and need not be one: no metal to bond, no stud outside.
    Without,
    /// Nobody read it; what is only assumed counts so too.
    NotLookedAt,
}

impl PartState {
    /// All of them, in the order of the legend.
    pub const ALL: [Self; 4] = [Self::There, Self::Missing, Self::Without, Self::NotLookedAt];

    /// Its sign on the drawing: a shape, so that colour is never alone.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::There => "✓",
            Self::Missing => "✗",
            Self::Without => "–",
            Self::NotLookedAt => "?",
        }
    }

    /// What the sign means.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::There => "part-there",
            Self::Missing => "part-missing",
            Self::Without => "part-without",
            Self::NotLookedAt => "part-not-looked-at",
        })
    }

    /// Key, for classes and tests.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::There => "there",
            Self::Missing => "missing",
            Self::Without => "without",
            Self::NotLookedAt => "not-looked-at",
        }
    }
}

/// The signs and what they mean, as one line.
#[must_use]
pub fn legend() -> String {
    PartState::ALL.map(|state| format!("{} {}", state.sign(), state.words())).join(", ")
}

/// One part of the enclosure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HousingPart {
    /// Its number on the drawing, from 1.
    pub number: u8,
    /// Its field: "case_bond".
    pub key: String,
    /// What it is.
    pub name: Message,
    /// How it was found.
    pub state: PartState,
    /// The same in words: "bonded", "missing (stated)", "not looked at".
    pub words: Message,
}

impl HousingPart {
    /// As one line: "1 ✓ Case: bonded".
    #[must_use]
    pub fn line(&self) -> String {
        format!("{} {} {}", self.number, self.state.sign(), self.told())
    }

    fn told(&self) -> String {
        shown::capital(&format!("{}: {}", self.name, self.words))
    }
}

/// Every part, in the order of its number.
#[must_use]
pub fn parts(board: &Board) -> Vec<HousingPart> {
    let housing = &board.housing;
    let bond = |bond: &Bond| match bond {
        Bond::Bonded => (PartState::There, bond.words()),
        Bond::NotBonded => (PartState::Missing, bond.words()),
        Bond::NoMetal => (PartState::Without, bond.words()),
    };
    let there = |there: &YesNo| match there {
        YesNo::Yes => (PartState::There, PartState::There.words()),
        YesNo::No => (PartState::Missing, PartState::Missing.words()),
    };
    let fitted = |fitted: &YesNo| match fitted {
        YesNo::Yes => (PartState::There, say!("part-fitted")),
        YesNo::No => (PartState::Missing, PartState::Missing.words()),
    };
    let ip = |ip: &Ip| (PartState::There, ip.words());
    let studs = |count: &u8| match count {
        0 => (PartState::Without, say!("part-none")),
        count => (PartState::There, Message::plain(count.to_string())),
    };
    let found = [
        ("case_bond", found(&housing.case_bond, bond)),
        ("door_bond", found(&housing.door_bond, bond)),
        ("plates_bond", found(&housing.plates_bond, bond)),
        ("incoming_earth", found(&housing.incoming_earth, there)),
        ("outside_studs", found(&housing.outside_studs, studs)),
        ("barriers", found(&housing.barriers, fitted)),
        ("shrouds", found(&housing.shrouds, fitted)),
        ("ip_closed", found(&housing.ip_closed, ip)),
        ("ip_open", found(&housing.ip_open, ip)),
    ];
    (1..)
        .zip(found)
        .map(|(number, (key, (state, words)))| HousingPart {
            number,
            key: key.to_owned(),
            name: Message::bare(field::named(Housing::FIELDS, key).label),
            state,
            words,
        })
        .collect()
}

fn found<T>(fact: &Fact<T>, read: impl Fn(&T) -> (PartState, Message)) -> (PartState, Message) {
    let Some((state, words)) = fact.get().map(read) else {
        return (PartState::NotLookedAt, PartState::NotLookedAt.words());
    };
    match fact.from.known {
        Known::Assumed | Known::Unknown => (PartState::NotLookedAt, say!("part-assumed", words = words)),
        Known::Decided | Known::Stated => (state, say!("part-known", words = words, known = fact.from.known.words())),
        Known::Measured | Known::Label => (state, words),
    }
}

/// What is live with the cover off and the incomer open, as a sentence.
#[must_use]
pub fn live_words(board: &Board) -> Message {
    let words = board.housing.live_uncovered.trim();
    let words = if words.is_empty() { PartState::NotLookedAt.words() } else { Message::plain(words.to_owned()) };
    say!("part-live", words = words)
}

/// A part where it is drawn. Millimetres from the enclosure's top left corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrawnPart {
    /// The part.
    #[serde(flatten)]
    pub part: HousingPart,
    /// What is drawn of it: a stud, a barrier. None where it is a sheet that is drawn anyway.
    pub shapes: Vec<Rect>,
    /// Middles of its mark, each [`MARK`] in size; the first stands in the legend.
    pub marks: Vec<Point>,
}

/// The enclosure around what hangs in it, with the door taken off and laid below.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrawnHousing {
    /// The parts.
    pub parts: Vec<DrawnPart>,
    /// The door, below the enclosure; the legend stands on it.
    pub door: Rect,
    /// The wire from the case to the door, upright.
    pub wire: [Point; 2],
    /// Left end and words of the legend's line of each part, in the order of the parts.
    pub lines: Vec<(Point, String)>,
    /// The same of what is live with the cover off.
    pub live: Vec<(Point, String)>,
    /// The same of what the panel is and what the signs mean.
    pub said: Vec<(Point, String)>,
    /// Height of the legend's letters.
    pub letter: f64,
}

/// Width and height of a mark.
pub const MARK: [f64; 2] = [18.0, 10.0];

/// Height of letters, as on the rest of the drawing.
const LETTER: f64 = 6.0;
/// Width of a letter as a share of its height, on the safe side.
const WIDE: f64 = 0.58;
/// From line to line.
const LINE: f64 = 12.0;
/// Between the enclosure and the door: studs outside stand here.
const GAP: f64 = 26.0;
/// Kept at the door's edge.
const INSET: f64 = 8.0;
/// Diameter of a stud.
const STUD: f64 = 11.0;
/// Most studs drawn; the number says how many there are.
const MOST_STUDS: usize = 6;

/// Where everything is drawn: `ways` is the rectangle around all poles.
#[must_use]
pub fn draw(board: &Board, pattern: &Pattern, ways: Rect, plates: &[Rect]) -> DrawnHousing {
    let (width, height) = (pattern.width.get(), pattern.height.get());
    let parts = parts(board);
    let left = INSET + MARK[0] + 3.0;
    // Two columns where the longest words still have letters that can be read.
    let told: Vec<String> = parts.iter().map(HousingPart::told).collect();
    let longest = told.iter().map(|words| words.chars().count()).max().unwrap_or(1);
    let fit = |columns: f64| (width / columns - left - 2.0) / (longest as f64 * WIDE);
    let columns = if fit(2.0) >= 0.75 * LETTER { 2 } else { 1 };
    let letter = fit(columns as f64).clamp(2.0, LETTER);
    let rows = parts.len().div_ceil(columns);
    let top = height + GAP;
    let line_at = |index: usize| {
        let (column, row) = (index / rows, index % rows);
        [width / columns as f64 * column as f64, top + LINE * (row as f64 + 2.0)]
    };
    let lines: Vec<(Point, String)> = told
        .into_iter()
        .enumerate()
        .map(|(index, words)| {
            let [x, y] = line_at(index);
            ([x + left, y], words)
        })
        .collect();
    let room = ((width - 2.0 * INSET) / (LETTER * WIDE)) as usize;
    let mut y = top + LINE * (rows as f64 + 2.0);
    let mut down = |words: &str| -> Vec<(Point, String)> {
        wrap(words, room)
            .into_iter()
            .map(|words| {
                let at = [INSET, y];
                y += LINE;
                (at, words)
            })
            .collect()
    };
    let live = down(&live_words(board).to_string());
    let mut said = down(&legend());
    said.push(([INSET, top + LINE], say!("part-door").to_string()));
    let door = Rect::new(0.0, top, width, y - top);
    let (incomer, earth) = (pattern.incomer_at, pattern.earth_bar);
    let inside = |[x, y]: Point| {
        let half = [MARK[0] / 2.0 + 1.0, MARK[1] / 2.0 + 1.0];
        [x.clamp(half[0], (width - half[0]).max(half[0])), y.clamp(half[1], (height - half[1]).max(half[1]))]
    };
    let wire_x = width - 30.0;
    let wire = [[wire_x, height], [wire_x, top]];
    let drawn = parts.into_iter().enumerate().map(|(index, part)| {
        let [x, y] = line_at(index);
        let mut marks = vec![[x + INSET + MARK[0] / 2.0, y]];
        let mut shapes = Vec::new();
        match part.key.as_str() {
            "case_bond" => marks.push(inside([0.0, 0.0])),
            "door_bond" => marks.push([wire_x - MARK[0] / 2.0 - 3.0, height + GAP / 2.0]),
            "plates_bond" => marks.extend(plates.iter().map(|plate| {
                let [x, y] = plate.centre();
                let end = MARK[0] / 2.0 + 3.0;
                if plate.h > plate.w { [x, plate.bottom() - end] } else { [plate.right() - end, y] }
            })),
            "incoming_earth" => {
                let [x, y] = earth.centre();
                let (at, mark) = if earth.h >= earth.w {
                    ([x, earth.y - 10.0], [x, earth.y - 24.0])
                } else {
                    ([earth.right() + 8.0, y], [earth.right() + 24.0, y])
                };
                shapes.push(Rect::new(at[0] - STUD / 2.0, at[1] - STUD / 2.0, STUD, STUD));
                marks.push(inside(mark));
            }
            "outside_studs" => {
                // One that nobody looked for has its place all the same.
                let count = match part.state {
                    PartState::There => board.housing.outside_studs.get().map_or(1, |count| usize::from(*count)),
                    PartState::NotLookedAt => 1,
                    PartState::Missing | PartState::Without => 0,
                };
                let count = count.min(MOST_STUDS);
                let step = STUD + 4.0;
                shapes.extend((0..count).map(|at| Rect::new(INSET + step * at as f64, height + 2.0, STUD, STUD)));
                marks.push([INSET + step * count as f64 + MARK[0] / 2.0, height + GAP / 2.0 - 3.0]);
            }
            "barriers" => {
                let between = ways.y - incomer.bottom();
                let bar = if between >= 14.0 {
                    Rect::new(incomer.x, incomer.bottom() + between / 2.0 - 5.0, incomer.w, 10.0)
                } else {
                    Rect::new(ways.x, ways.bottom() + 2.0, ways.w, 10.0)
                };
                marks.push(inside(bar.centre()));
                shapes.push(bar);
            }
            "shrouds" => {
                let upright = incomer.h > 1.5 * incomer.w;
                let (cap, mark) = if upright {
                    (Rect::new(incomer.x - 10.0, incomer.y, 8.0, incomer.h), [incomer.x - 13.0, incomer.y - 8.0])
                } else {
                    (
                        Rect::new(incomer.x, incomer.y - 10.0, incomer.w, 8.0),
                        [incomer.right() + MARK[0] / 2.0 + 3.0, incomer.y - 6.0],
                    )
                };
                marks.push(inside(mark));
                shapes.push(cap);
            }
            _ => {}
        }
        DrawnPart { part, shapes, marks }
    });
    DrawnHousing { parts: drawn.collect(), door, wire, lines, live, said, letter }
}

#[cfg(all(test, feature = "words"))]
mod tests {
    use super::*;
    use crate::arrangement::consequences;
    use crate::known::Provenance;
    use crate::validate::tests::board_with;

    fn seen<T>(value: T, known: Known) -> Fact<T> {
        Fact::of(value, Provenance::new(known))
    }

    fn told(board: &Board) -> Vec<(String, PartState, String)> {
        parts(board).into_iter().map(|part| (part.key, part.state, part.words.to_string())).collect()
    }

    #[test]
    fn what_nobody_read_is_not_looked_at_and_never_missing_or_there() {
        let mut board = board_with("three-phase-12");
        for (key, state, words) in told(&board) {
            assert_eq!((state, words.as_str()), (PartState::NotLookedAt, "not looked at"), "{key}");
        }
        assert!(live_words(&board).to_string().ends_with(": not looked at"));
        // An assumption is no look.
        board.housing.case_bond = seen(Bond::Bonded, Known::Assumed);
        board.housing.barriers = seen(YesNo::No, Known::Assumed);
        let found = told(&board);
        let state = |key: &str| found.iter().find(|(one, ..)| one == key).map(|(_, state, words)| (*state, &words[..]));
        assert_eq!(state("case_bond"), Some((PartState::NotLookedAt, "not looked at (assumed: bonded)")));
        assert_eq!(state("barriers"), Some((PartState::NotLookedAt, "not looked at (assumed: missing)")));
    }

    #[test]
    fn what_was_read_is_told_part_by_part() {
        let mut board = board_with("three-phase-12");
        let housing = &mut board.housing;
        housing.case_bond = seen(Bond::Bonded, Known::Measured);
        housing.door_bond = seen(Bond::NotBonded, Known::Label);
        housing.plates_bond = seen(Bond::NoMetal, Known::Label);
        housing.incoming_earth = seen(YesNo::Yes, Known::Stated);
        housing.outside_studs = seen(0, Known::Label);
        housing.barriers = seen(YesNo::No, Known::Label);
        housing.shrouds = seen(YesNo::Yes, Known::Decided);
        housing.ip_closed = seen(Ip::Ip40, Known::Label);
        housing.live_uncovered = "incoming terminals".to_owned();
        let lines: Vec<String> = parts(&board).iter().map(HousingPart::line).collect();
        assert_eq!(
            lines,
            [
                "1 ✓ Bond of the case: bonded",
                "2 ✗ Bond of the door: not bonded",
                "3 – Bond of the plates: not of metal",
                "4 ✓ Terminal for the incoming protective conductor: there (stated)",
                "5 – Earth studs outside: none",
                "6 ✗ Barriers before the busbars: missing",
                "7 ✓ Shrouds over the incoming terminals: fitted (decided)",
                "8 ✓ Degree of protection, cover on: IP40",
                "9 ? Degree of protection, cover off: not looked at",
            ]
        );
        assert_eq!(live_words(&board).to_string(), "Live with the cover off and the incomer open: incoming terminals");
        assert_eq!(legend(), "✓ there, ✗ missing, – none, or not of metal, ? not looked at");
    }

    #[test]
    fn every_part_is_drawn_apart_from_the_others() {
        for key in ["three-phase-4", "three-phase-24", "single-phase-6", "single-phase-18"] {
            let mut board = board_with(key);
            board.housing.outside_studs = seen(9, Known::Label);
            board.housing.live_uncovered = "incoming terminals and the bars behind the cover ".repeat(6);
            let drawing = crate::drawing::draw(&board, &consequences(&board)).unwrap();
            let housing = &drawing.housing;
            assert_eq!(drawing.height_with_door(), housing.door.bottom(), "{key}");
            let mut marks: Vec<(String, Rect)> = Vec::new();
            for drawn in &housing.parts {
                assert!(!drawn.marks.is_empty(), "{key} {}", drawn.part.key);
                for [x, y] in &drawn.marks {
                    marks.push((
                        drawn.part.key.clone(),
                        Rect::new(x - MARK[0] / 2.0, y - MARK[1] / 2.0, MARK[0], MARK[1]),
                    ));
                }
                let studs = drawn.shapes.len();
                assert!(drawn.part.key != "outside_studs" || studs == MOST_STUDS, "{key}: {studs}");
            }
            let whole = Rect::new(0.0, 0.0, drawing.width, housing.door.bottom());
            let cells = drawing.cells.iter().map(|cell| (format!("way {}", cell.pole), cell.rect));
            let bars = drawing.neutrals.iter().chain(&drawing.earths).map(|bar| (bar.name.clone(), bar.rect));
            let fixed: Vec<(String, Rect)> = cells.chain(bars).collect();
            let apart = |a: Rect, b: Rect| {
                a.right() <= b.x + 1e-9
                    || b.right() <= a.x + 1e-9
                    || a.bottom() <= b.y + 1e-9
                    || b.bottom() <= a.y + 1e-9
            };
            for (at, (name, mark)) in marks.iter().enumerate() {
                assert!(whole.holds(*mark), "{key} {name}: {mark:?}");
                for (other, rect) in marks[at + 1..].iter().chain(&fixed) {
                    assert!(apart(*mark, *rect), "{key}: {name} {mark:?} and {other} {rect:?}");
                }
            }
            let listed = housing.lines.iter().map(|line| (line, housing.letter));
            let below = housing.live.iter().chain(&housing.said).map(|line| (line, LETTER));
            for (([x, y], words), letter) in listed.chain(below) {
                let end = x + words.chars().count() as f64 * letter * WIDE;
                assert!(end <= drawing.width + 1e-9 && *y < housing.door.bottom(), "{key}: {words}");
            }
        }
    }
}
