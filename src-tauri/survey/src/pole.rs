//! Phases and poles: the positions a device can take.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::say;

/// A busbar of the board. On a single-phase supply through a phase link all three carry the one line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
pub enum Phase {
    /// First phase.
    L1,
    /// Second phase.
    L2,
    /// Third phase.
    L3,
}

impl Phase {
    /// All three in order.
    pub const ALL: [Self; 3] = [Self::L1, Self::L2, Self::L3];
    /// 0, 1 or 2.
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Self::L1 => 0,
            Self::L2 => 1,
            Self::L3 => 2,
        }
    }
}

impl fmt::Display for Phase {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "L{}", self.index() + 1)
    }
}

/// One pole position: `"3L2"` on a three-phase board (way 3, second phase), `"5"` on a
/// single-phase one. One string in a file, so a move is one edit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PoleAt {
    /// Way number, from 1.
    pub way: u16,
    /// Phase within the way; `None` on a single-phase board, where a way is one pole.
    pub phase: Option<Phase>,
}

impl PoleAt {
    /// A pole of a three-phase board.
    #[must_use]
    pub const fn three(way: u16, phase: Phase) -> Self {
        Self { way, phase: Some(phase) }
    }
    /// A pole of a single-phase board.
    #[must_use]
    pub const fn single(way: u16) -> Self {
        Self { way, phase: None }
    }
}

impl fmt::Display for PoleAt {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.phase {
            Some(phase) => write!(out, "{}{phase}", self.way),
            None => write!(out, "{}", self.way),
        }
    }
}

impl FromStr for PoleAt {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let shown: String = text.chars().take(40).collect();
        let wrong = || say!("value-no-pole", value = shown.clone()).to_string();
        let split = text.find('L').unwrap_or(text.len());
        let (way, phase) = text.split_at(split);
        if way.is_empty() || !way.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(wrong());
        }
        let way: u16 = way.parse().map_err(|_| wrong())?;
        let phase = match phase {
            "" => None,
            "L1" => Some(Phase::L1),
            "L2" => Some(Phase::L2),
            "L3" => Some(Phase::L3),
            _ => return Err(wrong()),
        };
        if way == 0 { Err(say!("value-way-from-1", value = shown).to_string()) } else { Ok(Self { way, phase }) }
    }
}

impl Serialize for PoleAt {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for PoleAt {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Cow::<'de, str>::deserialize(from)?.parse().map_err(de::Error::custom)
    }
}

impl JsonSchema for PoleAt {
    fn schema_name() -> Cow<'static, str> {
        "PoleAt".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "description": "A pole: way and phase (\"3L2\"), or the way alone on a single-phase board (\"5\")",
            "pattern": "^[1-9][0-9]*(L[123])?$",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn poles_read_as_they_are_written() {
        for text in ["1L1", "24L3", "5"] {
            assert_eq!(text.parse::<PoleAt>().unwrap().to_string(), text);
        }
        for bad in ["", "L1", "0", "0L1", "3L4", "3N", "-1", "+1L1", "99999L1", "3L1x", "é"] {
            assert!(bad.parse::<PoleAt>().is_err(), "{bad}");
        }
    }
}
