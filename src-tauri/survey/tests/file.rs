//! The survey file as outsiders meet it: its published schema, and files that are spoilt.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use survey::file;

const SURVEY: &str = include_str!("../../../seed-data/demo/ph-db1.json");

/// The form of the file is a promise: a change of it is a decision, not an accident.
/// After such a decision: `waywright schema > seed-data/survey.schema.json`.
#[test]
fn the_schema_is_the_published_one() {
    let published: serde_json::Value =
        serde_json::from_str(include_str!("../../../seed-data/survey.schema.json")).unwrap();
    assert!(file::schema() == published, "the types no longer say what seed-data/survey.schema.json says");
}

/// Numbers that look random and are the same on every run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit
    }
}

/// Whatever is done to the bytes, the answer is a survey or a list of problems with places.
#[test]
fn spoilt_files_are_answered() {
    let pieces = [
        "null",
        "-1",
        "1e999",
        "\"\"",
        "[]",
        "{}",
        "\"3L2\"",
        "true",
        "\"NaN A\"",
        "{\"known\":\"label\"}",
        "\u{fffd}",
        "\\u0000",
    ];
    let small: serde_json::Value = serde_json::from_str(SURVEY).unwrap();
    let small = small.to_string();
    let mut dice = Dice(7);
    let mut refused = 0;
    for _ in 0..400 {
        let mut bytes = small.clone().into_bytes();
        for _ in 0..=dice.below(4) {
            let at = dice.below(bytes.len());
            match dice.below(4) {
                0 => bytes[at] = dice.below(256) as u8,
                1 => bytes.truncate(at.max(1)),
                2 => {
                    let to = (at + dice.below(80)).min(bytes.len());
                    bytes.drain(at..to);
                    if bytes.is_empty() {
                        bytes.push(b'{');
                    }
                }
                _ => {
                    let piece = pieces[dice.below(pieces.len())].bytes();
                    bytes.splice(at..at, piece);
                }
            }
        }
        let Err(problems) = file::read(&String::from_utf8_lossy(&bytes)) else { continue };
        refused += 1;
        assert!(
            !problems.is_empty()
                && problems.iter().all(|problem| !problem.path.is_empty() && !problem.remedy.is_empty())
        );
    }
    assert!(refused > 200, "only {refused} of 400 were refused: is the file read at all?");
}
