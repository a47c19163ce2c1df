//! Sentences as data: which one, and the quantities, ranges and names in it.
//!
//! Rules make messages; words are made of them where they are shown, from a catalogue (`seed-data/words`). Two
//! messages are equal where they say the same with the same numbers, in whatever language.

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
#[cfg(feature = "words")]
use serde_json::{Map, Value, json};

use crate::check::Verdict;
use crate::range::Span;
use crate::text::Text;
use crate::words;

/// A sentence, a label or another piece of language before it has words.
///
/// Written to a file or a reply it is a string in the language that is spoken there (`words::speaking`); read back it
/// is those words.
#[derive(Clone)]
pub struct Message(Repr);

#[derive(Clone)]
enum Repr {
    /// Words as they are: a person's own, a citation, or of a text that came from elsewhere.
    Plain(Text),
    /// A message without anything in it.
    Bare(&'static str),
    Said(Arc<Said>),
    /// The same with as many things in it as turned out.
    SaidOf(Arc<Said<Vec<Named>>>),
    /// The inequality of a sentence, see [`Message::relation`].
    Relation(Arc<Said>, &'static Symbols),
    /// An inequality without numbers.
    BareRelation(&'static Symbols),
    /// A sentence, and what to read to settle it.
    Settled(Arc<Said>, &'static Message),
    /// Several, one after the other.
    Several(Arc<[Message]>),
}

/// What stands in a message, with its name there.
type Named = (&'static str, Argument);

/// Symbols of a value and of its limit.
pub type Symbols = [Argument; 2];

struct Said<A: ?Sized = [Named]> {
    id: &'static str,
    arguments: A,
}

/// The inequality of a value and its limit, as it turned out.
const RELATION: &str = "relation";
/// The same where there are no numbers.
const BARE_RELATION: &str = "relation-bare";
/// What to read to settle what a sentence before it leaves open.
const TO_SETTLE: &str = "to-settle-it";

/// What holds the name of a message that a store keeps, and the form of one that a choice names.
#[cfg(feature = "words")]
const SAY: &str = "say";
#[cfg(feature = "words")]
const CHOICE: &str = "choice";

/// What it shares with the sentence.
const SHARED: [&str; 3] = ["verdict", "value", "limit"];

/// What stands in a message.
#[derive(Clone, Debug, PartialEq)]
pub enum Argument {
    /// A range with its unit, shown to so many significant digits, rounded outward only by how it was worked out.
    Span {
        /// The range in the unit.
        span: Span,
        /// The unit's symbol; empty for a plain number.
        unit: &'static str,
        /// Significant digits.
        digits: u8,
    },
    /// A count: the language may choose its form by it.
    Count(u32),
    /// Which of the message's forms is meant; never shown itself.
    Choice(&'static str),
    /// A name, a symbol, a person's words: the same in every language.
    Name(Text),
    /// A part that has words of its own.
    Message(Message),
    /// Several of them in a row, as a list in a sentence.
    List(Vec<Message>),
}

/// Significant digits where nothing else is said.
const DIGITS: u8 = 3;

impl Message {
    /// Words that are the same in every language, or come from outside; also what is not in the catalogue yet.
    #[must_use]
    pub fn plain(words: impl Into<Text>) -> Self {
        Self(Repr::Plain(words.into()))
    }

    /// Words that never change, as [`Message::plain`]: for constants.
    #[must_use]
    pub const fn fixed(words: &'static str) -> Self {
        Self(Repr::Plain(Text::fixed(words)))
    }

    /// Words of a file that is shipped in English and may be a person's own: the message among these that says them in
    /// English, else the words as they are.
    #[must_use]
    pub fn shipped(words: &str, among: &[&'static str]) -> Self {
        #[cfg(feature = "words")]
        {
            let english = |id| words::speaking(words::Catalogue::english(), || Self::bare(id).to_string());
            if let Some(id) = among.iter().find(|id| english(**id) == words) {
                return Self::bare(id);
            }
        }
        // Without a catalogue nothing is said in any language.
        let _ = among;
        Self::plain(words.to_owned())
    }

    /// Several in a row as one name: "3L1, 3L2".
    #[must_use]
    pub fn listed(messages: impl IntoIterator<Item = Message>) -> Self {
        let joined = |before: Self, next: Self| crate::say!("listed", before = before, next = next);
        messages.into_iter().filter(|message| !message.is_empty()).reduce(joined).unwrap_or_default()
    }

    /// A message of the catalogue with nothing in it.
    #[must_use]
    pub const fn bare(id: &'static str) -> Self {
        Self(Repr::Bare(id))
    }

    /// A message of the catalogue with what stands in it: see [`say!`](crate::say).
    #[must_use]
    pub fn said<const N: usize>(id: &'static str, arguments: [(&'static str, Argument); N]) -> Self {
        Self(Repr::Said(Arc::new(Said { id, arguments })))
    }

    /// The same where how much stands in it turns out as it is made.
    #[must_use]
    pub fn said_of(id: &'static str, arguments: impl IntoIterator<Item = (&'static str, Argument)>) -> Self {
        Self(Repr::SaidOf(Arc::new(Said { id, arguments: arguments.into_iter().collect() })))
    }

    /// The inequality of a sentence that names verdict, value and limit, with their symbols. It shares what stands in the
    /// sentence: a board has hundreds of both.
    #[must_use]
    pub fn relation(&self, symbols: &'static Symbols) -> Option<Self> {
        match &self.0 {
            Repr::Said(said) | Repr::Settled(said, _) => Some(Self(Repr::Relation(Arc::clone(said), symbols))),
            Repr::Several(messages) => messages.first()?.relation(symbols),
            _ => None,
        }
    }

    /// The inequality of a check that has no numbers.
    #[must_use]
    pub const fn bare_relation(symbols: &'static Symbols) -> Self {
        Self(Repr::BareRelation(symbols))
    }

    /// This sentence, then what to read to settle it: `ask` as an order.
    #[must_use]
    pub fn settled_by(self, ask: &'static Self) -> Self {
        match self.0 {
            Repr::Said(said) => Self(Repr::Settled(said, ask)),
            other => Self::several([Self(other), Self::to_settle(ask.clone())]),
        }
    }

    /// What to read to settle what a sentence leaves open: `ask` as an order.
    #[must_use]
    pub fn to_settle(ask: Self) -> Self {
        Self::said(TO_SETTLE, [("ask", ask.into())])
    }

    /// Several messages one after the other; those that are empty are left out.
    #[must_use]
    pub fn several(messages: impl IntoIterator<Item = Message>) -> Self {
        let mut messages = messages.into_iter().filter(|message| !message.is_empty());
        match [messages.next(), messages.next(), messages.next()] {
            [None, ..] => Self::default(),
            [Some(one), None, _] => one,
            // Most of several are two.
            [Some(one), Some(other), None] => Self(Repr::Several(Arc::new([one, other]))),
            [Some(a), Some(b), Some(c)] => Self(Repr::Several([a, b, c].into_iter().chain(messages).collect())),
        }
    }

    /// Nothing is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        matches!(&self.0, Repr::Plain(words) if words.is_empty())
    }

    /// Its name in the catalogue; `None` for plain words and for several messages.
    #[must_use]
    pub fn id(&self) -> Option<&'static str> {
        match &self.0 {
            Repr::Bare(id) => Some(id),
            Repr::Said(said) => Some(said.id),
            Repr::SaidOf(said) => Some(said.id),
            Repr::Relation(..) => Some(RELATION),
            Repr::BareRelation(_) => Some(BARE_RELATION),
            Repr::Plain(_) | Repr::Several(_) | Repr::Settled(..) => None,
        }
    }

    /// What stands in it, each with its name.
    pub fn arguments(&self) -> impl Iterator<Item = (&'static str, &Argument)> {
        let (arguments, symbols): (&[Named], _) = match &self.0 {
            Repr::Said(said) => (&said.arguments, None),
            Repr::SaidOf(said) => (&said.arguments, None),
            Repr::Relation(said, symbols) => (&said.arguments, Some(*symbols)),
            Repr::BareRelation(symbols) => (&[], Some(*symbols)),
            Repr::Plain(_) | Repr::Bare(_) | Repr::Several(_) | Repr::Settled(..) => (&[], None),
        };
        let of_both = move |(name, _): &(&'static str, &Argument)| symbols.is_none() || SHARED.contains(name);
        let symbols = symbols.into_iter().flat_map(|[left, right]| [("left", left), ("right", right)]);
        arguments.iter().map(|(name, argument)| (*name, argument)).filter(of_both).chain(symbols)
    }

    /// The messages it is made of: itself, or several.
    #[must_use]
    pub fn parts(&self) -> Cow<'_, [Message]> {
        match &self.0 {
            Repr::Several(messages) => Cow::Borrowed(messages),
            Repr::Settled(said, ask) => {
                Cow::Owned(vec![Self(Repr::Said(Arc::clone(said))), Self::to_settle((*ask).clone())])
            }
            _ => Cow::Borrowed(std::slice::from_ref(self)),
        }
    }

    /// Its words where it is plain.
    #[must_use]
    pub fn as_plain(&self) -> Option<&str> {
        match &self.0 {
            Repr::Plain(words) => Some(words),
            _ => None,
        }
    }

    /// Its words in the language that is spoken here.
    #[must_use]
    pub fn words(&self) -> Cow<'_, str> {
        match &self.0 {
            Repr::Plain(words) => Cow::Borrowed(words),
            _ => Cow::Owned(self.to_string()),
        }
    }

    /// What a store keeps of a message: its name and what stands in it, as JSON; words stay as they are. Only names,
    /// counts, choices and messages can be kept: of a message with anything else, its words are.
    #[cfg(feature = "words")]
    #[must_use]
    pub fn stored(&self) -> String {
        match self.data() {
            Some(Value::String(words)) => words,
            Some(data) => data.to_string(),
            None => self.to_string(),
        }
    }

    /// A message as a store kept it. Words are words; a message that this version has not got is one that says so.
    #[cfg(feature = "words")]
    #[must_use]
    pub fn restored(stored: &str) -> Self {
        match serde_json::from_str::<Value>(stored) {
            Ok(Value::Object(data)) if data.contains_key(SAY) => {
                Self::of_data(&Value::Object(data)).unwrap_or(Self::bare("act-unknown"))
            }
            _ => Self::plain(stored.to_owned()),
        }
    }

    #[cfg(feature = "words")]
    fn data(&self) -> Option<Value> {
        if let Some(words) = self.as_plain() {
            return Some(words.into());
        }
        let id = self.id().filter(|id| *id != RELATION)?;
        let mut data = Map::new();
        data.insert(SAY.to_owned(), id.into());
        for (name, argument) in self.arguments() {
            let value = match argument {
                Argument::Count(count) => (*count).into(),
                Argument::Choice(choice) => json!({ CHOICE: choice }),
                Argument::Name(name) => name.as_str().into(),
                Argument::Message(message) => message.data()?,
                Argument::Span { .. } | Argument::List(_) => return None,
            };
            data.insert(name.to_owned(), value);
        }
        Some(Value::Object(data))
    }

    #[cfg(feature = "words")]
    fn of_data(data: &Value) -> Option<Self> {
        let Value::Object(data) = data else { return Some(Self::plain(data.as_str()?.to_owned())) };
        let id = words::name(data.get(SAY)?.as_str()?).filter(|id| words::Catalogue::english().has(id))?;
        let mut arguments = Vec::new();
        for (name, value) in data.iter().filter(|(name, _)| *name != SAY) {
            let argument = match value {
                Value::Number(count) => Argument::Count(u32::try_from(count.as_u64()?).ok()?),
                Value::String(name) => name.clone().into(),
                Value::Object(choice) if choice.contains_key(CHOICE) => {
                    Argument::Choice(words::name(choice[CHOICE].as_str()?)?)
                }
                other => Argument::Message(Self::of_data(other)?),
            };
            arguments.push((words::name(name)?, argument));
        }
        Some(if arguments.is_empty() { Self::bare(id) } else { Self::said_of(id, arguments) })
    }

    /// True where its words contain these: for tests.
    #[must_use]
    pub fn contains(&self, words: &str) -> bool {
        self.words().contains(words)
    }
}

/// A message of the catalogue: its id, then what stands in it.
///
/// ```
/// use survey::{Message, range::Span, say};
/// let message = say!("input-value", value = "18 A");
/// assert_eq!(message, survey::say!("input-value", value = "18 A"));
/// # let _ = (Span::point(1.0), Message::bare("x"));
/// ```
#[macro_export]
macro_rules! say {
    ($id:literal) => { $crate::Message::bare($id) };
    ($id:literal, $($name:ident = $value:expr),+ $(,)?) => {
        $crate::Message::said($id, [$((stringify!($name), $crate::message::Argument::from($value))),+])
    };
}

impl Argument {
    /// A range in a unit, to three significant digits.
    #[must_use]
    pub const fn span(span: Span, unit: &'static str) -> Self {
        Self::Span { span, unit, digits: DIGITS }
    }

    /// One number in a unit, to three significant digits.
    #[must_use]
    pub const fn number(value: f64, unit: &'static str) -> Self {
        Self::Span { span: Span::point(value), unit, digits: DIGITS }
    }
}

impl From<(Span, &'static str)> for Argument {
    fn from((span, unit): (Span, &'static str)) -> Self {
        Self::span(span, unit)
    }
}
impl From<(f64, &'static str)> for Argument {
    fn from((value, unit): (f64, &'static str)) -> Self {
        Self::number(value, unit)
    }
}
impl From<Message> for Argument {
    fn from(message: Message) -> Self {
        Self::Message(message)
    }
}
impl From<Vec<Message>> for Argument {
    fn from(messages: Vec<Message>) -> Self {
        Self::List(messages)
    }
}
impl From<Verdict> for Argument {
    fn from(verdict: Verdict) -> Self {
        Self::Choice(verdict.key())
    }
}
impl From<bool> for Argument {
    fn from(yes: bool) -> Self {
        Self::Choice(if yes { "yes" } else { "no" })
    }
}
impl From<u32> for Argument {
    fn from(count: u32) -> Self {
        Self::Count(count)
    }
}
impl From<usize> for Argument {
    fn from(count: usize) -> Self {
        Self::Count(u32::try_from(count).unwrap_or(u32::MAX))
    }
}
impl From<Text> for Argument {
    fn from(name: Text) -> Self {
        Self::Name(name)
    }
}
impl From<&'static str> for Argument {
    fn from(name: &'static str) -> Self {
        Self::Name(name.into())
    }
}
impl From<String> for Argument {
    fn from(name: String) -> Self {
        Self::Name(name.into())
    }
}

impl PartialEq for Message {
    fn eq(&self, other: &Self) -> bool {
        match (&self.0, &other.0) {
            (Repr::Plain(one), Repr::Plain(other)) => one == other,
            (Repr::Several(_) | Repr::Settled(..), Repr::Several(_) | Repr::Settled(..)) => {
                self.parts() == other.parts()
            }
            _ => self.id().is_some() && self.id() == other.id() && self.arguments().eq(other.arguments()),
        }
    }
}

impl Default for Message {
    fn default() -> Self {
        Self::plain("")
    }
}
impl From<&'static str> for Message {
    fn from(words: &'static str) -> Self {
        Self::plain(words)
    }
}
impl From<String> for Message {
    fn from(words: String) -> Self {
        Self::plain(words)
    }
}
impl From<Text> for Message {
    fn from(words: Text) -> Self {
        Self::plain(words)
    }
}

impl fmt::Display for Message {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Repr::Plain(words) => out.pad(words),
            _ => {
                let mut words = String::new();
                words::write(self, &mut words);
                out.pad(&words)
            }
        }
    }
}

impl fmt::Debug for Message {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&*self.words(), out)
    }
}

impl Serialize for Message {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(&self.words())
    }
}
impl<'de> Deserialize<'de> for Message {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Text::deserialize(from).map(Self::plain)
    }
}
impl JsonSchema for Message {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        String::schema_name()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        String::json_schema(generator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    static SYMBOLS: Symbols = [Argument::Message(Message::fixed("Ib")), Argument::Message(Message::fixed("In"))];

    #[test]
    fn an_inequality_holds_the_numbers_of_its_sentence_and_no_more() {
        let number = |value| Argument::number(value, "A");
        let own = || [("verdict", Verdict::Holds.into()), ("value", number(6.0)), ("limit", number(10.0))];
        let [verdict, value, limit] = own();
        let sentence = Message::said("input-value", [verdict, value, limit, ("inside", number(50.0))]);
        let relation = Message::several([sentence.clone(), "more".into()]).relation(&SYMBOLS).unwrap();
        let [left, right] = SYMBOLS.clone();
        let wanted = Message::said_of("relation", own().into_iter().chain([("left", left), ("right", right)]));
        assert_eq!((&relation, relation.id()), (&wanted, Some("relation")));
        assert_ne!(relation, sentence);
        assert_eq!(Message::plain("words").relation(&SYMBOLS), None);
    }

    #[cfg(feature = "words")]
    #[test]
    fn what_a_store_keeps_comes_back_as_the_same_message() {
        for message in [
            say!("act-note"),
            say!("act-set", field = crate::field::label("/supply/ze")),
            say!("act-moves", count = 3_usize),
            say!("act-entry", size = "{\"say\": \"20S\"}"),
            say!("problem-exists", kind = Argument::Choice("site")),
            "import of {a} \"survey\"".into(),
        ] {
            let stored = message.stored();
            assert_eq!(Message::restored(&stored), message, "{stored}");
        }
        // What a span says is kept in words.
        let span = say!("input-value", value = (18.0, "A"));
        assert_eq!(Message::restored(&span.stored()), Message::plain(span.to_string()));
    }

    #[cfg(feature = "words")]
    #[test]
    fn a_stored_step_of_another_version_is_words_or_says_so() {
        for words in ["change of cable size", "", "{", "[1]", "{\"act\": 1}"] {
            assert_eq!(Message::restored(words), Message::plain(words));
        }
        for stranger in [
            r#"{"say": "act-of-tomorrow"}"#,
            r#"{"say": "count"}"#,
            r#"{"say": "act-moves", "count": -1}"#,
            r#"{"say": "act-moves", "no name of ours": 1}"#,
            r#"{"say": "act-set", "field": {"say": 7}}"#,
        ] {
            assert_eq!(Message::restored(stranger), say!("act-unknown"), "{stranger}");
        }
    }

    #[test]
    fn several_leave_out_what_is_empty() {
        let of = |words: &[&'static str]| Message::several(words.iter().map(|one| Message::plain(*one)));
        for (words, parts) in [(&["", "a", ""][..], 1), (&["a", "", "b"], 2), (&["a", "b", "c"], 3), (&["a"; 5], 5)] {
            assert_eq!(of(words).parts().len(), parts, "{words:?}");
        }
        assert!(of(&["", ""]).is_empty());
    }
}
