//! Typed ids: UUIDv7, made by whoever holds a clock and randomness, only carried here.

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);
        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result { self.0.fmt(out) }
        }
        impl $name {
            /// The id as it is written, without a piece of memory of its own.
            #[must_use]
            pub fn written(self) -> WrittenId { WrittenId::of(self.0) }
        }
        impl FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, uuid::Error> { text.parse().map(Self) }
        }
    };
}
id!(/// A site: one customer's place with its boards.
    SiteId);
id!(/// A distribution board.
    BoardId);
id!(/// A protective device on the board's ways.
    DeviceId);
id!(/// An outgoing circuit.
    CircuitId);
id!(/// A cable.
    CableId);
id!(/// A gland plate.
    PlateId);
id!(/// An entry in a plate.
    EntryId);
id!(/// A slot between two holes of a plate.
    SlotId);
id!(/// A photo on a board.
    PhotoId);
id!(/// A mark on a photo.
    MarkId);
id!(/// A note.
    NoteId);
id!(/// Something seen that should not stay so.
    ObservationId);
id!(/// One reading, so that "tested again, same value" is seen.
    ReadingId);

/// An id as it is written.
#[derive(Clone, Copy, Debug)]
pub struct WrittenId([u8; uuid::fmt::Hyphenated::LENGTH]);

impl WrittenId {
    fn of(id: Uuid) -> Self {
        let mut letters = [0; uuid::fmt::Hyphenated::LENGTH];
        id.hyphenated().encode_lower(&mut letters);
        Self(letters)
    }

    /// Its letters.
    #[must_use]
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

/// Makes new ids. The caller passes one in: the pure crates hold no clock and no randomness.
pub trait NewId {
    /// A fresh UUIDv7.
    fn next(&mut self) -> Uuid;
}

impl<F: FnMut() -> Uuid> NewId for F {
    fn next(&mut self) -> Uuid {
        self()
    }
}
