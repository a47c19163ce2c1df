//! Who does something.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Who does something: the same on an operation, on the stamp of a value and on a value that stands in a conflict.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct By {
    /// Role: "surveyor", "office". Empty for what a file says and the app does by itself.
    pub role: String,
    /// The person's name; empty where nobody said it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub person: String,
    /// The device, by the id of its store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<Uuid>,
}

impl By {
    /// Somebody of whom nothing but the role is known.
    #[must_use]
    pub fn role(role: impl Into<String>) -> Self {
        Self { role: role.into(), ..Self::default() }
    }

    /// "Ann Field, surveyor", "the surveyor"; empty where nothing is known.
    #[must_use]
    pub fn words(&self) -> String {
        match (self.person.as_str(), self.role.as_str()) {
            ("", "") => String::new(),
            ("", role) => format!("the {role}"),
            (person, "") => person.to_owned(),
            (person, role) => format!("{person}, {role}"),
        }
    }
}

impl From<&str> for By {
    fn from(role: &str) -> Self {
        Self::role(role)
    }
}

impl From<&By> for By {
    fn from(by: &By) -> Self {
        by.clone()
    }
}
