//! Text that is cheap to copy: a board's checks share most of their words.

use std::borrow::{Borrow, Cow};
use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::ops::{Deref, Range};
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::sketch::Sketches;

/// A text that never changes: fixed words of the program, or a part of a longer text that others
/// share. In a file it is a string like any other.
#[derive(Clone)]
pub struct Text(Repr);

#[derive(Clone)]
enum Repr {
    Fixed(&'static str),
    Part {
        whole: Arc<str>,
        from: u32,
        to: u32,
    },
    /// The path of an input.
    Path {
        of: Arc<Sketches>,
        place: u32,
    },
}

impl Text {
    /// Fixed words.
    #[must_use]
    pub const fn fixed(words: &'static str) -> Self {
        Self(Repr::Fixed(words))
    }

    /// A part of a shared text, in bytes; empty where the range is none of it or cuts a letter.
    #[must_use]
    pub fn part(whole: &Arc<str>, range: Range<usize>) -> Self {
        // Whether the range is one of whole letters shows when it is read.
        match (u32::try_from(range.start), u32::try_from(range.end)) {
            (Ok(from), Ok(to)) => Self(Repr::Part { whole: Arc::clone(whole), from, to }),
            _ => Self::fixed(""),
        }
    }

    /// The path of an input that is not written yet.
    pub(crate) fn of_sketch(of: &Arc<Sketches>, place: usize) -> Self {
        u32::try_from(place).map_or_else(|_| Self::default(), |place| Self(Repr::Path { of: Arc::clone(of), place }))
    }

    /// Its parts one after the other.
    #[must_use]
    pub fn joined(parts: &[&str]) -> Self {
        parts.concat().into()
    }

    /// There are no words in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.as_str().is_empty()
    }

    /// The text itself.
    #[must_use]
    pub fn as_str(&self) -> &str {
        match &self.0 {
            Repr::Fixed(words) => words,
            Repr::Part { whole, from, to } => whole.get(*from as usize..*to as usize).unwrap_or_default(),
            Repr::Path { of, place } => of.written().get(*place as usize).map_or("", |input| input.path.as_str()),
        }
    }
}

impl Deref for Text {
    type Target = str;
    fn deref(&self) -> &str {
        self.as_str()
    }
}
impl AsRef<str> for Text {
    fn as_ref(&self) -> &str {
        self
    }
}
impl Borrow<str> for Text {
    fn borrow(&self) -> &str {
        self
    }
}
impl fmt::Display for Text {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.pad(self)
    }
}
impl fmt::Debug for Text {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), out)
    }
}
impl Default for Text {
    fn default() -> Self {
        Self::fixed("")
    }
}
impl From<&'static str> for Text {
    fn from(words: &'static str) -> Self {
        Self::fixed(words)
    }
}
impl From<String> for Text {
    fn from(words: String) -> Self {
        let range = 0..words.len();
        Self::part(&words.into(), range)
    }
}
impl From<Cow<'static, str>> for Text {
    fn from(words: Cow<'static, str>) -> Self {
        match words {
            Cow::Borrowed(words) => words.into(),
            Cow::Owned(words) => words.into(),
        }
    }
}
impl From<Text> for String {
    fn from(text: Text) -> Self {
        text.as_str().to_owned()
    }
}

impl PartialEq for Text {
    fn eq(&self, other: &Self) -> bool {
        self.as_str() == other.as_str()
    }
}
impl Eq for Text {}
impl PartialOrd for Text {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Text {
    fn cmp(&self, other: &Self) -> Ordering {
        self.as_str().cmp(other)
    }
}
impl Hash for Text {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.as_str().hash(state);
    }
}

macro_rules! equal {
    ($($other:ty),+) => {$(
        impl PartialEq<$other> for Text {
            fn eq(&self, other: &$other) -> bool {
                let other: &str = other;
                self.as_str() == other
            }
        }
        impl PartialEq<Text> for $other {
            fn eq(&self, other: &Text) -> bool {
                other == self
            }
        }
    )+};
}
equal!(str, &str, String);

impl Serialize for Text {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(self)
    }
}

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Words;
        impl de::Visitor<'_> for Words {
            type Value = Text;
            fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
                out.write_str("a string")
            }
            fn visit_str<E: de::Error>(self, words: &str) -> Result<Text, E> {
                Ok(words.to_owned().into())
            }
            fn visit_string<E: de::Error>(self, words: String) -> Result<Text, E> {
                Ok(words.into())
            }
        }
        from.deserialize_string(Words)
    }
}

impl JsonSchema for Text {
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

    #[test]
    fn parts_are_what_they_were_cut_from() {
        let whole: Arc<str> = "Ib 21.7 A ≤ In 25 A".into();
        assert_eq!(Text::part(&whole, 0..2), "Ib");
        assert_eq!(Text::part(&whole, 3..whole.len()), "21.7 A ≤ In 25 A");
        let sign = whole.find('≤').unwrap();
        for wrong in [sign + 1..sign + 3, 0..whole.len() + 1, 5..usize::MAX] {
            assert_eq!(Text::part(&whole, wrong), "");
        }
        let later = Text::from("b".to_owned());
        assert!(Text::fixed("a") < later);
    }

    #[test]
    fn a_file_holds_a_plain_string() {
        let text = Text::from("say \"when\"".to_owned());
        let written = serde_json::to_string(&text).unwrap();
        assert_eq!(written, r#""say \"when\"""#);
        assert_eq!(serde_json::from_str::<Text>(&written).unwrap(), text);
        assert_eq!(format!("{text:>12}|{text:?}"), "  say \"when\"|\"say \\\"when\\\"\"");
    }
}
