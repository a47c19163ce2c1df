//! A board's checks as they cross the boundary. Hundreds of them rest on the same readings: each reading
//! is sent once, and the checks name it by its number, which makes the reply a good deal smaller.
//!
//! For `#[serde(with = "checks")]`.

use std::collections::HashMap;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use survey::check::{Input, NextReading};
use survey::text::Text;
use survey::{Check, Message, Subject, Verdict};

#[derive(Serialize)]
struct Sent<'a> {
    inputs: Vec<&'a Input>,
    checks: Vec<SentCheck<'a>>,
}

#[derive(Serialize)]
struct SentCheck<'a> {
    rule: &'a Text,
    subject: Subject,
    verdict: Verdict,
    sentence: &'a Message,
    inequality: &'a Message,
    clause: &'a Message,
    margin: Option<[f64; 2]>,
    inputs: Vec<usize>,
    next: &'a [NextReading],
    #[serde(skip_serializing_if = "Message::is_empty")]
    tables: &'a Message,
}

#[derive(Deserialize)]
struct Received {
    inputs: Vec<Input>,
    checks: Vec<ReceivedCheck>,
}

#[derive(Deserialize)]
struct ReceivedCheck {
    rule: Text,
    subject: Subject,
    verdict: Verdict,
    sentence: Message,
    inequality: Message,
    clause: Message,
    margin: Option<[f64; 2]>,
    inputs: Vec<usize>,
    next: Vec<NextReading>,
    #[serde(default)]
    tables: Message,
}

/// Writes checks.
pub(crate) fn serialize<S: Serializer>(checks: &[Check], out: S) -> Result<S::Ok, S::Error> {
    let mut inputs: Vec<&Input> = Vec::new();
    // By where it is in memory: checks share their inputs, and looking for equal ones would take longer.
    let mut numbers: HashMap<*const Input, usize> = HashMap::new();
    let checks = checks
        .iter()
        .map(|check| SentCheck {
            rule: &check.rule,
            subject: check.subject,
            verdict: check.verdict,
            sentence: &check.sentence,
            inequality: &check.inequality,
            clause: &check.clause,
            margin: check.margin,
            inputs: check
                .inputs
                .iter()
                .map(|input| {
                    *numbers.entry(std::ptr::from_ref(input)).or_insert_with(|| {
                        inputs.push(input);
                        inputs.len() - 1
                    })
                })
                .collect(),
            next: &check.next,
            tables: &check.tables,
        })
        .collect();
    Sent { inputs, checks }.serialize(out)
}

/// Reads checks.
pub(crate) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Check>, D::Error> {
    let Received { inputs, checks } = Received::deserialize(from)?;
    checks
        .into_iter()
        .map(|check| {
            let of = |number: usize| {
                let named = inputs.get(number).cloned();
                named.ok_or_else(|| {
                    de::Error::custom(format_args!("a check rests on input {number}, which is not there"))
                })
            };
            Ok(Check {
                rule: check.rule,
                subject: check.subject,
                verdict: check.verdict,
                sentence: check.sentence,
                inequality: check.inequality,
                clause: check.clause,
                margin: check.margin,
                inputs: check.inputs.into_iter().map(of).collect::<Result<Vec<Input>, _>>()?.into(),
                next: check.next,
                tables: check.tables,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

    use std::sync::Arc;

    use serde_json::json;
    use survey::Known;
    use survey::check::Inputs;

    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct View {
        #[serde(with = "super")]
        checks: Vec<Check>,
    }

    fn check(inputs: Inputs) -> Check {
        Check {
            rule: "cable-current".into(),
            subject: Subject::Board,
            verdict: Verdict::Undecided,
            sentence: "So".into(),
            inequality: "Ib ≤ In".into(),
            clause: "433.1".into(),
            margin: Some([-0.5, 0.25]),
            inputs,
            next: vec![NextReading { path: "/a".into(), what: "measure".into(), settles: 0.5 }],
            tables: "ampacity row 12, read".into(),
        }
    }

    #[test]
    fn shared_inputs_are_sent_once_and_arrive_with_each_check() {
        let input = |path: &'static str| Input {
            path: path.into(),
            label: "length".into(),
            value: "3 m".into(),
            known: Known::Stated,
        };
        let shared: Arc<[Input]> = vec![input("/a"), input("/b"), input("/c")].into();
        let sent = View {
            checks: vec![
                check(Inputs::chosen(&shared, 0b011)),
                check(Inputs::chosen(&shared, 0b110)),
                check(Inputs::default()),
                check(vec![input("/d")].into()),
            ],
        };
        let text = serde_json::to_value(&sent).unwrap();
        assert_eq!(text["checks"]["inputs"].as_array().unwrap().len(), 4);
        assert_eq!(text["checks"]["checks"][1]["inputs"], json!([1, 2]));
        assert_eq!(serde_json::from_value::<View>(text.clone()).unwrap(), sent);
        let mut wrong = text;
        wrong["checks"]["checks"][2]["inputs"] = json!([9]);
        assert!(serde_json::from_value::<View>(wrong).unwrap_err().to_string().contains("input 9"));
    }
}
