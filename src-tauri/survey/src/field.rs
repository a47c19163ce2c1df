//! The catalogue of fields: what is to be known about every field of the survey, beside the field itself.
//!
//! `record!` in [`crate::board`] makes each record's list from its definition. Validation, labels, the editor's rows,
//! the schema of the survey file, tables and the bounds of the calculation all read it; there is no other list. The
//! words of a field (label, hint, how to get it) are messages named after it: `Cable-size`, `Cable-size-hint`,
//! `Cable-size-ask`.

use std::collections::BTreeMap;
use std::fmt::Display;

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::board::Board;
use crate::ids;
use crate::known::{Fact, Known, Reading};
use crate::message::Message;
use crate::pattern::{Face, Pattern, Point, Rect};
use crate::pole::PoleAt;
use crate::units::{Millimetres, Quantity};

/// A field of a record.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// The record it stands in: "Cable".
    pub record: &'static str,
    /// Its name in the file: "size".
    pub name: &'static str,
    /// Message of what a person calls it.
    pub label: &'static str,
    /// Message of more about it, in a sentence; not every field has one.
    pub hint: &'static str,
    /// Message of a short order that gets it; only what calculation rests on has one.
    pub ask: &'static str,
    /// What it holds.
    pub holds: Holds,
    /// A surveyed value: it says how it is known.
    pub surveyed: bool,
    /// Bounds beyond which a number makes no sense, in the quantity's own unit; both are allowed themselves.
    pub within: Option<(f64, f64)>,
    /// The unit it is shown and typed in, as a file writes it: "kA" where the quantity's own is "A".
    pub unit: Option<&'static str>,
    /// How it usually comes to be known.
    pub usual: Known,
    /// Where it applies; everywhere where nothing is said.
    pub when: Option<When>,
    /// Where a screen shows it among the record's fields.
    pub section: Section,
    /// Its place there; fields of one place stand in the order of the record.
    pub place: u8,
    /// A text of sentences, not a name.
    pub long: bool,
    /// Values that are usual, in the unit it is typed in, from least to most.
    pub offers: &'static [&'static str],
}

/// What a field holds.
#[derive(Clone, Copy, Debug)]
pub enum Holds {
    /// A number with a unit.
    Quantity {
        /// What is measured.
        what: &'static str,
        /// The unit's symbol.
        symbol: &'static str,
        /// Units that are read, each with its factor; the first is written.
        units: &'static [(&'static str, f64)],
    },
    /// One of several: the key in a file and what a person calls it.
    Choice(fn() -> Vec<(&'static str, Message)>),
    /// A whole number.
    Count,
    /// Yes or no, always one of them.
    Flag,
    /// Words.
    Text,
    /// Something of its own form: an id, a place, a date, an enclosure.
    Own,
    /// A record within.
    Record(fn() -> &'static [Field]),
    /// Records by their ids.
    Records(fn() -> &'static [Field]),
}

/// Where a field applies: where another field of its record, or of the one around it, is one of some choices.
#[derive(Clone, Copy, Debug)]
pub struct When {
    /// That field's name.
    pub field: &'static str,
    /// Keys of the choices.
    pub keys: &'static [&'static str],
}

impl When {
    /// Where `field` is one of `keys`.
    #[must_use]
    pub const fn is(field: &'static str, keys: &'static [&'static str]) -> Self {
        Self { field, keys }
    }
}

/// Where a screen shows a field among the record's fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Section {
    /// With the first.
    First,
    /// With the further ones.
    More,
    /// The size of a cable, which can be worked out.
    Size,
    /// The device upstream.
    Upstream,
    /// The origin of the supply.
    Origin,
    /// Earthing and bonding.
    Earthing,
    /// Colours of conductors.
    Colours,
    /// By a control of its own, or not at all.
    Apart,
}

/// What a field of this type holds.
pub trait Form {
    /// What it holds.
    const HOLDS: Holds;
    /// It says how it is known.
    const SURVEYED: bool = false;
}

/// What a field holds, seen without its type.
pub trait Held {
    /// Its least value as entered, without tolerance, and the most it may be, where it is a number.
    fn number(&self) -> Option<(f64, f64)> {
        None
    }
    /// Its words, where it holds such.
    fn text(&self) -> Option<&str> {
        None
    }
    /// How many it holds, where it is a list.
    fn count(&self) -> Option<usize> {
        None
    }
    /// It is a yes.
    fn is_set(&self) -> bool {
        false
    }
    /// The value as a person reads it.
    fn shown(&self) -> String {
        String::new()
    }
    /// Goes through the records within: the id, where they have one, and the record.
    fn within(&self, _each: &mut dyn FnMut(Option<String>, &dyn Record)) {}
}

/// A record of the survey: its fields, and its values beside them.
pub trait Record {
    /// Its fields.
    fn fields(&self) -> &'static [Field];
    /// Goes through its fields with what they hold.
    fn each(&self, each: &mut dyn FnMut(&'static Field, &dyn Held));
    /// It is hidden.
    fn is_removed(&self) -> bool {
        let mut removed = false;
        self.each(&mut |field, held| removed |= field.name == "removed" && held.is_set());
        removed
    }
}

impl Field {
    /// Message of what a person calls it on a board: the loop impedance at a sub-board's terminals is Zdb.
    #[must_use]
    pub fn label_on(&self, sub_board: bool) -> &'static str {
        match (sub_board, self.record, self.name) {
            (true, "Supply", "ze") => "field-zdb",
            _ => self.label,
        }
    }

    /// A field as its type has it.
    #[must_use]
    pub const fn new(
        record: &'static str,
        name: &'static str,
        words: [&'static str; 3],
        holds: Holds,
        surveyed: bool,
    ) -> Self {
        let [label, hint, ask] = words;
        Self {
            record,
            name,
            label,
            hint,
            ask,
            holds,
            surveyed,
            within: None,
            unit: None,
            usual: Known::Label,
            when: None,
            section: if surveyed { Section::First } else { Section::Apart },
            place: 10,
            long: false,
            offers: &[],
        }
    }

    /// Its bounds, or those of any number.
    #[must_use]
    pub const fn bounds(&self) -> (f64, f64) {
        match self.within {
            Some(bounds) => bounds,
            None => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// The symbol of its own unit; empty without one.
    #[must_use]
    pub const fn symbol(&self) -> &'static str {
        match self.holds {
            Holds::Quantity { symbol, .. } => symbol,
            _ => "",
        }
    }
}

/// A field of a record by its name, for constants: a name that is not there does not compile.
///
/// # Panics
/// In a constant, where the record has no such field.
#[must_use]
pub const fn named(fields: &'static [Field], name: &str) -> &'static Field {
    let mut at = 0;
    while at < fields.len() {
        if same(fields[at].name, name) {
            return &fields[at];
        }
        at += 1;
    }
    panic!("the record has no such field")
}

const fn same(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    if a.len() != b.len() {
        return false;
    }
    let mut at = 0;
    while at < a.len() {
        if a[at] != b[at] {
            return false;
        }
        at += 1;
    }
    true
}

/// The field at a path in the board, or the one that holds what stands there: that of `/cables/<id>/size/value` is the
/// size. None for a path that leads nowhere.
#[must_use]
pub fn at(path: &str) -> Option<&'static Field> {
    let mut fields = Board::FIELDS;
    let mut parts = path.split('/').skip(1);
    let mut found: Option<&'static Field> = None;
    while let Some(part) = parts.next() {
        let field = fields.iter().find(|field| field.name == part)?;
        found = Some(field);
        match field.holds {
            Holds::Record(inner) => fields = inner(),
            Holds::Records(inner) => {
                fields = inner();
                if parts.next().is_none() {
                    break;
                }
            }
            _ => break,
        }
    }
    found
}

/// What a person calls the field at a path: "cable size". A path that leads nowhere is its last part.
#[must_use]
pub fn label(path: &str) -> Message {
    at(path).map_or_else(
        || Message::plain(path.rsplit('/').next().unwrap_or_default().replace('_', " ")),
        |field| Message::bare(field.label),
    )
}

/// The same on a board, where it depends on what feeds it.
#[must_use]
pub fn label_on(board: &Board, path: &str) -> Message {
    at(path).map_or_else(|| label(path), |field| Message::bare(field.label_on(board.is_sub_board())))
}

/// Goes through every record of a board that is not removed, with its path.
pub fn walk(board: &Board, each: &mut dyn FnMut(&str, &dyn Record)) {
    fn inner(path: &str, record: &dyn Record, each: &mut dyn FnMut(&str, &dyn Record)) {
        if record.is_removed() {
            return;
        }
        each(path, record);
        record.each(&mut |field, held| {
            held.within(&mut |id, record| {
                let mut path = format!("{path}/{}", field.name);
                if let Some(id) = id {
                    path.push('/');
                    path.push_str(&id);
                }
                inner(&path, record, each);
            });
        });
    }
    inner("", board, each);
}

impl<Q: Quantity> Form for Reading<Q> {
    const HOLDS: Holds = Holds::Quantity { what: Q::WHAT, symbol: Q::SYMBOL, units: Q::ACCEPTED };
    const SURVEYED: bool = true;
}
impl<Q: Quantity> Held for Reading<Q> {
    fn number(&self) -> Option<(f64, f64)> {
        let range = self.range()?;
        Some((self.single().map_or(range.lo().get(), Quantity::get), range.hi().get()))
    }
    fn shown(&self) -> String {
        Reading::shown(self)
    }
}

/// What a surveyed choice, or a plain one, is of.
pub trait Plain {
    /// What it is.
    const HOLDS: Holds;
    /// Its number, where it is one.
    fn number(&self) -> Option<(f64, f64)> {
        None
    }
    /// Its words, where it is a person's.
    fn text(&self) -> Option<&str> {
        None
    }
    /// As a person reads it.
    fn shown(&self) -> String;
}

impl<T: Plain> Form for Fact<T> {
    const HOLDS: Holds = T::HOLDS;
    const SURVEYED: bool = true;
}
impl<T: Plain> Held for Fact<T> {
    fn number(&self) -> Option<(f64, f64)> {
        self.get().and_then(Plain::number)
    }
    fn shown(&self) -> String {
        self.get().map(Plain::shown).unwrap_or_default()
    }
}

impl<T: Plain> Form for Option<T> {
    const HOLDS: Holds = T::HOLDS;
}
impl<T: Plain> Held for Option<T> {
    fn number(&self) -> Option<(f64, f64)> {
        self.as_ref().and_then(Plain::number)
    }
    fn text(&self) -> Option<&str> {
        self.as_ref().and_then(Plain::text)
    }
    fn shown(&self) -> String {
        self.as_ref().map(Plain::shown).unwrap_or_default()
    }
}

macro_rules! plain {
    ($($type:ty: $holds:ident $(, $number:expr)?;)+) => {$(
        impl Plain for $type {
            const HOLDS: Holds = Holds::$holds;
            $(fn number(&self) -> Option<(f64, f64)> {
                let number: fn(&$type) -> f64 = $number;
                Some((number(self), number(self)))
            })?
            fn shown(&self) -> String { written(self) }
        }
    )+};
}
plain! {
    u8: Count, |number| f64::from(*number);
    u32: Count, |number| f64::from(*number);
    Rect: Own;
    Point: Own;
    PoleAt: Own;
    DateTime<Utc>: Own;
    ids::SiteId: Own;
    ids::BoardId: Own;
    ids::PhotoId: Own;
    ids::CableId: Own;
    ids::DeviceId: Own;
    ids::EntryId: Own;
}
impl Plain for Millimetres {
    const HOLDS: Holds = Holds::Quantity { what: Self::WHAT, symbol: Self::SYMBOL, units: Self::ACCEPTED };
    fn number(&self) -> Option<(f64, f64)> {
        Some((self.get(), self.get()))
    }
    fn shown(&self) -> String {
        self.to_string()
    }
}
impl Plain for String {
    const HOLDS: Holds = Holds::Text;
    fn text(&self) -> Option<&str> {
        Some(self)
    }
    fn shown(&self) -> String {
        self.clone()
    }
}
impl Plain for Pattern {
    const HOLDS: Holds = Holds::Own;
    fn shown(&self) -> String {
        self.name.clone()
    }
}

/// A value as a file writes it.
fn written(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(text)) => text,
        Ok(other) => other.to_string(),
        Err(_) => String::new(),
    }
}

macro_rules! held {
    ($($type:ty: $holds:ident;)+) => {$(
        impl Form for $type {
            const HOLDS: Holds = Holds::$holds;
        }
        impl Held for $type {
            fn shown(&self) -> String { written(self) }
        }
    )+};
}
held! {
    u32: Own;
    Face: Own;
    ids::BoardId: Own;
    ids::SiteId: Own;
}
impl Form for bool {
    const HOLDS: Holds = Holds::Flag;
}
impl Held for bool {
    fn is_set(&self) -> bool {
        *self
    }
    fn shown(&self) -> String {
        written(self)
    }
}
impl Form for String {
    const HOLDS: Holds = Holds::Text;
}
impl Held for String {
    fn text(&self) -> Option<&str> {
        Some(self)
    }
    fn shown(&self) -> String {
        self.clone()
    }
}
impl<T: Serialize> Form for Vec<T> {
    const HOLDS: Holds = Holds::Own;
}
impl<T: Serialize> Held for Vec<T> {
    fn count(&self) -> Option<usize> {
        Some(self.len())
    }
    fn shown(&self) -> String {
        if self.is_empty() { String::new() } else { written(self) }
    }
}
impl<K, R: Listed> Form for BTreeMap<K, R> {
    const HOLDS: Holds = Holds::Records(R::list);
}
impl<K: Display, R: Record> Held for BTreeMap<K, R> {
    fn count(&self) -> Option<usize> {
        Some(self.len())
    }
    fn within(&self, each: &mut dyn FnMut(Option<String>, &dyn Record)) {
        for (id, record) in self {
            each(Some(id.to_string()), record);
        }
    }
}

/// A record's fields without a record at hand.
pub trait Listed {
    /// Its fields.
    fn list() -> &'static [Field];
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every(fields: &'static [Field], each: &mut dyn FnMut(&'static Field)) {
        for field in fields {
            each(field);
            if let Holds::Record(inner) | Holds::Records(inner) = field.holds {
                every(inner(), each);
            }
        }
    }

    #[test]
    fn a_path_leads_to_its_field_and_no_further() {
        let cable = "01a0c450-73d0-7b72-bc6e-f372fe94f82a";
        let size = at(&format!("/cables/{cable}/size")).unwrap();
        assert_eq!((size.record, size.name, size.symbol()), ("Cable", "size", "mm²"));
        assert_eq!(at(&format!("/cables/{cable}/size/between/0")).unwrap().name, "size");
        assert_eq!(at("/supply/ze").unwrap().record, "Supply");
        let mut board = crate::validate::tests::board_with("three-phase-4");
        assert_eq!(label_on(&board, "/supply/ze"), Message::bare("Supply-ze"));
        let cable = ids::CableId(uuid::Uuid::from_u128(7));
        board.cables.insert(cable, crate::board::Cable::default());
        board.supply.cable = Some(cable);
        assert_eq!(label_on(&board, "/supply/ze"), Message::bare("field-zdb"));
        assert_eq!(label_on(&board, "/supply/ipf"), label("/supply/ipf"));
        assert_eq!(at(&format!("/circuits/{cable}/load/power")).unwrap().record, "Load");
        assert_eq!(at(&format!("/cables/{cable}")).unwrap().name, "cables");
        for nowhere in ["", "/", "/nothing", "/supply/nothing", "/circuits/x/load/nothing"] {
            assert!(at(nowhere).is_none(), "{nowhere}");
        }
        assert_eq!(label("/supply/no_such_field").as_plain(), Some("no such field"));
    }

    #[test]
    fn bounds_stand_where_a_number_is_read_and_hold_together() {
        every(Board::FIELDS, &mut |field| {
            let number = matches!(field.holds, Holds::Quantity { .. })
                || (field.surveyed && matches!(field.holds, Holds::Count));
            assert!(!number || field.within.is_some(), "{}.{} has no bounds", field.record, field.name);
            if let Some((lo, hi)) = field.within {
                assert!(lo < hi, "{}.{}", field.record, field.name);
            }
            if let (Some(unit), Holds::Quantity { units, .. }) = (field.unit, field.holds) {
                assert!(units.iter().any(|(known, _)| *known == unit), "{}.{}: {unit}", field.record, field.name);
            }
        });
    }

    #[test]
    fn a_condition_names_a_field_and_choices_that_are_there() {
        let mut all = Vec::new();
        every(Board::FIELDS, &mut |field| all.push(field));
        for field in &all {
            let Some(when) = field.when else { continue };
            // The field itself stands in the same record, or for load and readings in the circuit around them.
            let around = if matches!(field.record, "Load" | "Tests") { "Circuit" } else { field.record };
            let other = all.iter().find(|other| other.record == around && other.name == when.field);
            let other = other.unwrap_or_else(|| panic!("{}.{} asks for {}", field.record, field.name, when.field));
            let Holds::Choice(choices) = other.holds else { panic!("{} is no choice", when.field) };
            for key in when.keys {
                assert!(choices().iter().any(|(known, _)| known == key), "{}.{}: {key}", field.record, field.name);
            }
        }
    }

    #[cfg(feature = "words")]
    #[test]
    fn every_field_has_a_label_and_no_label_lacks_its_field() {
        let catalogue = crate::words::Catalogue::english();
        let mut ids = std::collections::BTreeSet::new();
        let mut lacking = Vec::new();
        every(Board::FIELDS, &mut |field| {
            ids.extend([field.label, field.hint, field.ask]);
            let choices = if let Holds::Choice(list) = field.holds { list() } else { Vec::new() };
            let choices: Vec<_> = choices.iter().filter_map(|(_, words)| words.id()).collect();
            ids.extend(&choices);
            lacking.extend(choices.into_iter().chain([field.label]).filter(|id| !catalogue.has(id)));
        });
        ids.extend(crate::board::Site::FIELDS.iter().flat_map(|field| [field.label, field.hint, field.ask]));
        assert!(lacking.is_empty(), "no label: {lacking:?}");
        let all = crate::words::ids();
        let of_fields = all.iter().filter(|id| id.starts_with(|letter: char| letter.is_ascii_uppercase()));
        let astray: Vec<_> = of_fields.filter(|id| !ids.contains(id.as_str())).collect();
        assert!(astray.is_empty(), "no field: {astray:?}");
    }
}
