//! The board as it hangs, to scale: every rectangle a screen or paper draws, worked out once.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::arrangement::{Conductor, Consequences, DirectNeutralTerminal};
use crate::board::{Arrangement, Board};
use crate::housing::{self, DrawnHousing};
use crate::ids::{CircuitId, DeviceId, PlateId};
use crate::message::Message;
use crate::pattern::{Face, Pattern, Rect};
use crate::say;
use crate::terminal;

/// A pole or the poles of one device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cell {
    /// First pole, "3L2".
    pub pole: String,
    /// Where it is, in millimetres from the enclosure's top left corner.
    pub rect: Rect,
    /// Column, from 0.
    pub column: usize,
    /// What each of its poles carries, in order.
    pub conductors: Vec<Option<Conductor>>,
    /// The device, if any: else a blank is owed.
    pub device: Option<DeviceId>,
    /// Its circuit.
    pub circuit: Option<CircuitId>,
    /// Short text on the device: "B32", "C16 30 mA".
    pub rating: Message,
    /// What the circuit feeds.
    pub description: String,
}

/// A neutral or earth terminal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Terminal {
    /// Its name, "3N2".
    pub name: String,
    /// Where it is.
    pub rect: Rect,
    /// The circuit that uses it.
    pub circuit: Option<CircuitId>,
}

/// A plate at the edge of the enclosure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateEdge {
    /// Which.
    pub plate: PlateId,
    /// The face.
    pub face: Face,
    /// Where its edge shows from the front.
    pub rect: Rect,
    /// Number of entries.
    pub entries: usize,
}

/// Everything drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Drawing {
    /// Width of the enclosure in millimetres.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Poles and devices, way by way.
    pub cells: Vec<Cell>,
    /// The incomer's place.
    pub incomer: Rect,
    /// What it is.
    pub incomer_text: Message,
    /// Neutral bar.
    pub neutral_bar: Rect,
    /// Earth bar.
    pub earth_bar: Rect,
    /// Neutral terminals.
    pub neutrals: Vec<Terminal>,
    /// Earth terminals.
    pub earths: Vec<Terminal>,
    /// What to do with the direct neutral terminal, in words; empty where there is none.
    pub direct_neutral: Message,
    /// Plates.
    pub plates: Vec<PlateEdge>,
    /// The enclosure against touch.
    pub housing: DrawnHousing,
}

impl Drawing {
    /// Height of all that is drawn: the enclosure and the door laid below it.
    #[must_use]
    pub fn height_with_door(&self) -> f64 {
        self.housing.door.bottom()
    }
}

/// Works out the drawing; `None` where the enclosure is not known or not drawable.
#[must_use]
pub fn draw(board: &Board, follows: &Consequences) -> Option<Drawing> {
    let pattern = board.enclosure.get()?;
    if !pattern.faults().is_empty() {
        return None;
    }
    let (width, height) = (pattern.width.get(), pattern.height.get());
    let terminals = terminal::terminals(board, pattern);
    let neutral_user = |name: &str| terminals.neutral.iter().find(|(_, used)| *used == name).map(|(id, _)| *id);
    let earth_user =
        |name: &str| terminals.earth.iter().find(|(_, used)| used.iter().any(|u| u == name)).map(|(id, _)| *id);
    let cells = cells(board, pattern, follows);
    let plates: Vec<PlateEdge> = board
        .live_plates()
        .map(|(id, plate)| PlateEdge {
            plate: id,
            face: plate.face,
            rect: edge(plate.face, width, height),
            entries: plate.entries.values().filter(|entry| !entry.removed).count(),
        })
        .collect();
    let edges: Vec<Rect> = plates.iter().map(|plate| plate.rect).collect();
    let ways = cells.iter().map(|cell| cell.rect).reduce(around).unwrap_or(pattern.incomer_at);
    Some(Drawing {
        width,
        height,
        housing: housing::draw(board, pattern, ways, &edges),
        cells,
        incomer: pattern.incomer_at,
        incomer_text: follows.arrangement.map_or(say!("incomer-not-known"), Arrangement::words),
        neutral_bar: pattern.neutral_bar,
        earth_bar: pattern.earth_bar,
        neutrals: along(pattern.neutral_bar, terminal::neutrals(pattern), neutral_user),
        earths: along(pattern.earth_bar, terminal::earths(pattern), earth_user),
        direct_neutral: match follows.direct_neutral_terminal {
            DirectNeutralTerminal::CarriesIncoming => say!("direct-neutral-carries"),
            DirectNeutralTerminal::LeaveEmpty => say!("direct-neutral-empty"),
            DirectNeutralTerminal::None => Message::default(),
            DirectNeutralTerminal::Unknown => say!("direct-neutral-unknown"),
        },
        plates,
    })
}

/// The rectangle around two.
fn around(a: Rect, b: Rect) -> Rect {
    let (x, y) = (a.x.min(b.x), a.y.min(b.y));
    Rect::new(x, y, a.right().max(b.right()) - x, a.bottom().max(b.bottom()) - y)
}

/// At most so many letters, with an ellipsis where some are left off.
#[must_use]
pub fn clip(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(room.saturating_sub(1)).collect();
    short.truncate(short.trim_end_matches([' ', '…']).len());
    short.push('…');
    short
}

/// Breaks a text into lines of at most so many letters.
#[must_use]
pub fn wrap(text: &str, room: usize) -> Vec<String> {
    let room = room.max(4);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let length = word.chars().count();
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + length <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(clip(word, room)),
        }
    }
    lines
}

fn cells(board: &Board, pattern: &Pattern, follows: &Consequences) -> Vec<Cell> {
    let occupancy = terminal::occupancy(board, pattern);
    let conductors = follows.conductors();
    let mut cells: Vec<Cell> = Vec::new();
    for pole in pattern.poles() {
        let Some((rect, column)) = pattern.pole_rect(pole) else { continue };
        let device = occupancy.poles.get(&pole).copied();
        if let Some(id) = device
            && let Some(cell) = cells.iter_mut().find(|cell| cell.device == Some(id))
        {
            cell.rect = around(cell.rect, rect);
            cell.conductors.push(conductors.get(&pole).copied());
            continue;
        }
        let circuit = device.and_then(|id| board.circuit_of(id));
        cells.push(Cell {
            pole: pole.to_string(),
            rect,
            column,
            conductors: vec![conductors.get(&pole).copied()],
            device,
            circuit: circuit.map(|(id, _)| id),
            rating: device.and_then(|id| board.devices.get(&id)).map(rating).unwrap_or_default(),
            description: circuit.map(|(_, circuit)| circuit.description.clone()).unwrap_or_default(),
        });
    }
    cells
}

/// Short text of a device: "B32", "C16 30 mA", "gG 20 A".
#[must_use]
pub fn rating(device: &crate::board::Device) -> Message {
    use crate::board::DeviceKind;
    let amps = device.rated.single().map(|rated| rated.get().to_string());
    let residual = match device.residual.single() {
        Some(residual) => format!(" {} mA", (residual.get() * 1000.0 * 10.0).round() / 10.0),
        None => String::new(),
    };
    let text = match (device.kind, device.curve.get(), amps) {
        (Some(DeviceKind::RewirableFuse), _, Some(amps)) => {
            return say!("rating-wire", rated = format!("{amps} A{residual}"));
        }
        (Some(DeviceKind::Fuse), _, Some(amps)) => format!("gG {amps} A"),
        (_, Some(curve), Some(amps)) => format!("{}{amps}", curve.words()),
        (_, None, Some(amps)) => format!("{amps} A"),
        (_, Some(curve), None) => format!("{}?", curve.words()),
        (_, None, None) => "?".to_owned(),
    };
    Message::plain(text + &residual)
}

fn along(bar: Rect, names: Vec<String>, user: impl Fn(&str) -> Option<CircuitId>) -> Vec<Terminal> {
    let count = names.len().max(1) as f64;
    names
        .into_iter()
        .enumerate()
        .map(|(index, name)| {
            let at = index as f64;
            let rect = if bar.h >= bar.w {
                Rect::new(bar.x, bar.y + bar.h * at / count, bar.w, bar.h / count)
            } else {
                Rect::new(bar.x + bar.w * at / count, bar.y, bar.w / count, bar.h)
            };
            let circuit = user(&name);
            Terminal { name, rect, circuit }
        })
        .collect()
}

/// Thickness of a plate's edge on the drawing, in millimetres: a finger must hit it.
const EDGE: f64 = 26.0;

fn edge(face: Face, width: f64, height: f64) -> Rect {
    match face {
        Face::Top => Rect::new(width * 0.1, 0.0, width * 0.8, EDGE),
        Face::Bottom => Rect::new(width * 0.1, height - EDGE, width * 0.8, EDGE),
        Face::Left => Rect::new(0.0, height * 0.2, EDGE, height * 0.6),
        Face::Right => Rect::new(width - EDGE, height * 0.2, EDGE, height * 0.6),
        Face::Back => Rect::new(width * 0.3, height - 3.0 * EDGE, width * 0.4, EDGE),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arrangement::consequences;
    use crate::board::Poles;
    use crate::validate::tests::{board_with, put};

    #[test]
    fn cells_and_terminals_cover_the_board_without_overlap() {
        for key in ["three-phase-4", "three-phase-24", "single-phase-12"] {
            let mut board = board_with(key);
            let first = if key.starts_with("three") { "2L1" } else { "2" };
            put(&mut board, first, if key.starts_with("three") { Poles::P3 } else { Poles::P2 });
            let drawing = draw(&board, &consequences(&board)).unwrap();
            let whole = Rect::new(0.0, 0.0, drawing.width, drawing.height);
            let pattern = board.enclosure.get().unwrap();
            let poles: usize = drawing.cells.iter().map(|cell| cell.conductors.len()).sum();
            assert_eq!(poles, pattern.poles().count(), "{key}");
            for (index, cell) in drawing.cells.iter().enumerate() {
                assert!(whole.holds(cell.rect), "{key} {}", cell.pole);
                for other in &drawing.cells[index + 1..] {
                    let (a, b) = (cell.rect, other.rect);
                    let apart = a.right() <= b.x + 1e-9
                        || b.right() <= a.x + 1e-9
                        || a.bottom() <= b.y + 1e-9
                        || b.bottom() <= a.y + 1e-9;
                    assert!(apart, "{key}: {} and {}", cell.pole, other.pole);
                }
            }
            assert_eq!(drawing.neutrals.len(), pattern.poles().count() + usize::from(pattern.spare_neutrals));
        }
    }
}
