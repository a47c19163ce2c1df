//! Problems in a survey: each names the place, the value and what would do.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

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
    /// What is wrong.
    pub message: String,
    /// What would do.
    pub remedy: String,
}

impl Problem {
    /// A problem that is refused. `value` is shortened to 60 letters.
    #[must_use]
    pub fn refused(
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self::with(Severity::Refused, path, value, message, remedy)
    }

    /// A problem that is kept but shown.
    #[must_use]
    pub fn doubt(
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self::with(Severity::Doubt, path, value, message, remedy)
    }

    fn with(
        severity: Severity,
        path: impl Into<String>,
        value: impl fmt::Display,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            severity,
            path: shortened(path.into(), 400),
            value: shortened(value.to_string(), 60),
            message: shortened(message.into(), 600),
            remedy: remedy.into(),
        }
    }
}

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
        write!(out, "{}", self.message)?;
        if !self.value.is_empty() {
            write!(out, " (found {})", self.value)?;
        }
        if self.remedy.is_empty() { Ok(()) } else { write!(out, "; {}", self.remedy) }
    }
}
