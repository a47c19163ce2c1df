//! Problems in a survey: each names the place, the value and what would do.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;

use crate::message::Message;

/// How bad a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Contradicts itself or the enclosure: refused when entered or imported.
    Refused,
    /// Worth a person's attention; it is kept.
    Doubt,
}

/// One problem with its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Problem {
    /// How bad.
    pub severity: Severity,
    /// Path of the field, `/devices/<id>/at`.
    pub path: String,
    /// The value found there, as text, shortened.
    pub value: String,
    /// What is wrong; in a file or a reply shortened.
    #[serde(serialize_with = "briefly")]
    pub message: Message,
    /// What would do.
    pub remedy: Message,
}

impl Problem {
    /// A problem that is refused. `value` is shortened to 60 letters.
    #[must_use]
    pub fn refused(
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<Message>,
        remedy: impl Into<Message>,
    ) -> Self {
        Self::with(Severity::Refused, path, value, message, remedy)
    }

    /// A problem that is kept but shown.
    #[must_use]
    pub fn doubt(
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<Message>,
        remedy: impl Into<Message>,
    ) -> Self {
        Self::with(Severity::Doubt, path, value, message, remedy)
    }

    fn with(
        severity: Severity,
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<Message>,
        remedy: impl Into<Message>,
    ) -> Self {
        Self {
            severity,
            path: shortened(path.into(), 400),
            value: shortened(value.to_string(), 60),
            message: message.into(),
            remedy: remedy.into(),
        }
    }

    /// What is wrong, in words, shortened to 600 letters.
    #[must_use]
    pub fn brief(&self) -> Cow<'_, str> {
        in_brief(&self.message)
    }
}

fn in_brief(message: &Message) -> Cow<'_, str> {
    let words = message.words();
    if words.len() > LETTERS { Cow::Owned(shortened(words.into_owned(), LETTERS)) } else { words }
}

fn briefly<S: Serializer>(message: &Message, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(&in_brief(message))
}

/// Letters of a message that are shown.
const LETTERS: usize = 600;

/// A path or a message can repeat what somebody sent: nobody reads megabytes of it.
fn shortened(mut text: String, letters: usize) -> String {
    if let Some((end, _)) = text.char_indices().nth(letters) {
        text.truncate(end);
        text.push('…');
    }
    text
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.path.is_empty() {
            write!(out, "{}: ", self.path)?;
        }
        out.write_str(&self.brief())?;
        if !self.value.is_empty() {
            write!(out, " ({})", found(&self.value))?;
        }
        if self.remedy.is_empty() { Ok(()) } else { write!(out, "; {}", self.remedy) }
    }
}

/// The value that was found, as it stands behind a problem.
fn found(value: &str) -> String {
    #[cfg(feature = "words")]
    return crate::say!("problem-found", value = value.to_owned()).to_string();
    // Without a catalogue a message has no words.
    #[cfg(not(feature = "words"))]
    format!("found {value}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_message_is_shown_and_written_in_brief() {
        let long = Problem::refused("/x".repeat(1000), "v".repeat(1000), "ä".repeat(1000), "do");
        assert_eq!(long.brief().chars().count(), LETTERS + 1);
        let written = serde_json::to_value(&long).expect("a problem");
        assert_eq!(written["message"], *long.brief());
        assert_eq!((written["path"].as_str().map(str::len), long.value.chars().count()), (Some(403), 61));
        assert!(long.to_string().chars().count() < 1100);
        let read: Problem = serde_json::from_value(written).expect("a problem");
        assert_eq!((read.message.words(), &read.remedy), (long.brief(), &long.remedy));
    }
}
