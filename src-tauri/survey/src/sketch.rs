//! What checks rest on, before it is written: which field of which record, and its value as numbers.
//!
//! A board rests on thousands of inputs, and of most nobody asks to see the words. Paths and values become text when
//! the first of a list is looked at, all of the list at once.

use std::fmt::Write as _;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use crate::check::Input;
use crate::ids::{CableId, CircuitId, DeviceId, WrittenId};
use crate::known::{Known, Shown};
use crate::message::{Argument, Message};
use crate::range::Span;
use crate::say;
use crate::text::Text;

/// An input that is not written yet.
#[derive(Clone, Debug)]
pub struct Sketch {
    /// Where its field stands.
    pub place: Place,
    /// What a person calls it.
    pub label: Label,
    /// Its value.
    pub value: Rough,
    /// How it is known.
    pub known: Known,
}

/// What a person calls a field.
#[derive(Clone, Debug)]
pub enum Label {
    /// The same for every circuit.
    Plain(&'static Message),
    /// The message of this name with what the circuit is called in it, `circuit`.
    OfCircuit(&'static str, Message),
}

impl Label {
    /// Its message.
    #[must_use]
    pub fn written(&self) -> Message {
        match self {
            Self::Plain(message) => (*message).clone(),
            Self::OfCircuit(id, circuit) => Message::said(id, [("circuit", circuit.clone().into())]),
        }
    }
}

impl From<&'static Message> for Label {
    fn from(message: &'static Message) -> Self {
        Self::Plain(message)
    }
}

/// Where a field stands in the board: its name in a record, or its whole path.
#[derive(Clone, Copy, Debug)]
pub enum Place {
    /// A field of the circuit.
    Circuit(&'static str),
    /// A field of another circuit.
    CircuitOf(CircuitId, &'static str),
    /// A field of the circuit's device.
    Device(&'static str),
    /// A field of the circuit's cable.
    Cable(&'static str),
    /// A field of the board, by its path.
    Board(&'static str),
}

/// A value that is not written yet.
#[derive(Clone, Debug)]
pub enum Rough {
    /// A message is made already.
    Said(Message),
    /// A reading as it was entered.
    Read(Shown),
    /// The message of this name with one number in it, `value`, in a unit.
    Number(&'static str, Span, &'static str),
    /// A range that was taken, in a unit, and why.
    Assumed(Span, &'static str, Message),
}

/// The records of a circuit, by which its fields are found.
#[derive(Clone, Copy, Debug)]
pub struct Records {
    /// The circuit itself.
    pub circuit: Option<CircuitId>,
    /// Its device.
    pub device: Option<DeviceId>,
    /// Its cable.
    pub cable: Option<CableId>,
}

impl Records {
    /// Of inputs that belong to no one circuit.
    pub const NONE: Self = Self { circuit: None, device: None, cable: None };
}

impl Place {
    /// Its path, given the circuit's records.
    #[must_use]
    pub fn path(&self, records: &Records) -> Text {
        match self.parts(records) {
            (name, None) => name.into(),
            (name, Some((kind, id))) => Text::joined(&[kind, id.as_str(), "/", name]),
        }
    }

    /// The field's name and where its record stands; without one the name is the whole path.
    fn parts(&self, records: &Records) -> (&'static str, Option<(&'static str, WrittenId)>) {
        let circuit = |id: CircuitId| Some(("/circuits/", id.written()));
        match *self {
            Self::Circuit(name) => (name, records.circuit.and_then(circuit)),
            Self::CircuitOf(id, name) => (name, circuit(id)),
            Self::Device(name) => (name, records.device.map(|id| ("/devices/", id.written()))),
            Self::Cable(name) => (name, records.cable.map(|id| ("/cables/", id.written()))),
            Self::Board(path) => (path, None),
        }
    }
}

/// The inputs of a circuit's checks, or of a check of the board.
#[derive(Debug)]
pub struct Sketches {
    records: Records,
    all: Vec<Sketch>,
    written: OnceLock<Vec<Input>>,
}

impl Sketches {
    /// Inputs of a circuit with these records.
    #[must_use]
    pub const fn new(records: Records, all: Vec<Sketch>) -> Self {
        Self { records, all, written: OnceLock::new() }
    }

    /// The path of one of them.
    #[must_use]
    pub fn path(self: &Arc<Self>, place: usize) -> Text {
        match self.all.get(place).map(|sketch| sketch.place) {
            Some(Place::Board(path)) => path.into(),
            Some(_) => Text::of_sketch(self, place),
            None => Text::default(),
        }
    }

    /// The inputs with their words.
    #[must_use]
    pub fn written(&self) -> &[Input] {
        self.written.get_or_init(|| self.write())
    }

    /// Writes all texts on one page and cuts them out, so that they share one piece of memory.
    fn write(&self) -> Vec<Input> {
        let mut page = String::with_capacity(64 * self.all.len());
        let pieces: Vec<[Range<usize>; 2]> = self
            .all
            .iter()
            .map(|sketch| {
                let start = page.len();
                if let (name, Some((kind, id))) = sketch.place.parts(&self.records) {
                    [kind, id.as_str(), "/", name].into_iter().for_each(|part| page.push_str(part));
                }
                let path = start..page.len();
                if let Rough::Read(shown) = &sketch.value
                    && !shown.has_words()
                {
                    // Writing to a string does not fail.
                    let _ = write!(page, "{shown}");
                }
                [path.clone(), path.end..page.len()]
            })
            .collect();
        let page: Arc<str> = page.into();
        let written = self.all.iter().zip(pieces).map(|(sketch, [path, value])| Input {
            path: match sketch.place {
                Place::Board(path) => path.into(),
                _ => Text::part(&page, path),
            },
            label: sketch.label.written(),
            value: match &sketch.value {
                Rough::Said(message) => message.clone(),
                Rough::Read(shown) if shown.has_words() => shown.said(),
                Rough::Read(_) => Text::part(&page, value).into(),
                Rough::Number(id, span, unit) => Message::said(id, [("value", Argument::span(*span, unit))]),
                Rough::Assumed(span, unit, why) => say!("input-assumed", value = (*span, *unit), why = why.clone()),
            },
            known: sketch.known,
        });
        written.collect()
    }
}

/// Paths of fields of the board that are written when somebody looks at one, all of them at once.
pub fn paths(places: impl Iterator<Item = Place>) -> impl Iterator<Item = Text> {
    const NOTHING: &Message = &Message::fixed("");
    let nothing =
        |place| Sketch { place, label: NOTHING.into(), value: Rough::Said(Message::fixed("")), known: Known::Unknown };
    let all = Arc::new(Sketches::new(Records::NONE, places.map(nothing).collect()));
    (0..all.all.len()).map(move |place| all.path(place))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::check::{Inputs, NextReading};
    use crate::known::{Provenance, Reading};
    use crate::units::Metres;

    const LABEL: &Message = &Message::fixed("label");

    fn sketch(place: Place, value: Rough) -> Sketch {
        Sketch { place, label: LABEL.into(), value, known: Known::Stated }
    }

    #[test]
    fn sketches_are_written_as_their_records_and_readings_say() {
        let id = Uuid::from_u128;
        let records =
            Records { circuit: Some(CircuitId(id(1))), device: Some(DeviceId(id(2))), cable: Some(CableId(id(3))) };
        let length = |reading: Reading<Metres>| (reading.shown(), Rough::Read(reading.to_show()));
        let stated = || Provenance::new(Known::Stated);
        let (one, single) = length(Reading::of(Metres::new(12.5), stated()));
        let (between, range) = length(Reading::between(Metres::new(10.0), Metres::new(20.0), stated()));
        let (about, within) = length(Reading::within(Metres::new(12.0), Metres::new(0.5), stated()));
        let number = Rough::Number("input-value", Span::point(6.0), "A");
        let all = vec![
            sketch(Place::Cable("length"), single),
            sketch(Place::Circuit("kind"), Rough::Said("motor".into())),
            sketch(Place::CircuitOf(CircuitId(id(9)), "kind"), range),
            sketch(Place::Device("rated"), number),
            sketch(Place::Board("/supply/ze"), within),
        ];
        let paths: Vec<String> = all.iter().map(|sketch| sketch.place.path(&records).to_string()).collect();
        let cable = format!("/cables/{}/length", records.cable.unwrap());
        assert_eq!((paths[0].as_str(), paths[4].as_str()), (cable.as_str(), "/supply/ze"));
        let all = Arc::new(Sketches::new(records, all));
        let next: Vec<Text> = (0..6).map(|place| all.path(place)).collect();
        assert!(next[5].is_empty() && next[..5].iter().zip(&paths).all(|(next, path)| next == path), "{next:?}");
        let inputs = Inputs::sketched(&all, 0b11101);
        assert_eq!(inputs.len(), 4);
        let values: Vec<String> = inputs.iter().map(|input| input.value.to_string()).collect();
        assert_eq!(values, [one, between, "6\u{a0}A".to_owned(), about]);
        let shared = Inputs::sketched(&all, 1);
        assert!(std::ptr::eq(shared.iter().next().unwrap(), inputs.iter().next().unwrap()), "written twice");
        let reading = NextReading { path: all.path(0), what: "measure".into(), settles: 0.5 };
        assert!(serde_json::to_string(&reading).unwrap().contains(&paths[0]));
    }
}
