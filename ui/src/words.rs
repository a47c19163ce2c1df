//! The interface's own words: patterns of the caller's language, asked for once before anything is shown.
//!
//! A message without anything in it is [`t`], one with something in it is [`tr`]. The catalogue is
//! `seed-data/words/<language>/interface.ftl`; a language's own forms for numbers are the browser's to know.

use std::cell::OnceCell;

use api::ApiError;
use js_sys::{Array, Function, Intl, Object, Reflect};
use serde_json::Value;
use survey::Message;
use survey::message::Argument;
use wasm_bindgen::{JsCast, JsValue};

use crate::call::call_as;

/// [`api::Words`], its reply as JSON: a decoder would weigh more.
#[derive(serde::Serialize, serde::Deserialize)]
struct Asked {}

impl api::Call for Asked {
    const NAME: &'static str = api::Words::NAME;
    type Reply = Value;
}

thread_local! {
    static WORDS: OnceCell<&'static Value> = const { OnceCell::new() };
    static FORMS: OnceCell<Option<(JsValue, Function)>> = const { OnceCell::new() };
}

/// Asks for the words and keeps them as long as the page is open.
///
/// # Errors
/// Where the app does not answer, or answers no words.
pub async fn load() -> Result<(), ApiError> {
    let words: Value = call_as(Asked {}).await?;
    let root = web_sys::window().and_then(|window| window.document()).and_then(|document| document.document_element());
    if let (Some(root), Some(language)) = (root, words["language"].as_str()) {
        let _ = root.set_attribute("lang", language);
    }
    keep(words);
    Ok(())
}

/// Keeps the words; those that come first stay.
pub(crate) fn keep(words: Value) {
    let _ = WORDS.with(|kept| kept.set(Box::leak(Box::new(words))));
}

fn words() -> &'static Value {
    WORDS.with(|words| words.get().copied()).unwrap_or(&Value::Null)
}

/// The words of a message in which nothing stands. One that is not there shows as its id; before [`load`] there are
/// none.
pub fn t(id: &'static str) -> &'static str {
    match words() {
        Value::Null => "",
        words => words["messages"][id].as_str().unwrap_or(id),
    }
}

/// The words of a message of the survey's: a choice, how something is known.
pub fn said(message: Message) -> &'static str {
    message.id().map_or("", t)
}

/// The words of a message of the survey's with what stands in it: names, counts, choices and other messages.
pub fn told(message: &Message) -> String {
    let Some(id) = message.id() else { return message.as_plain().unwrap_or_default().to_owned() };
    let arguments: Vec<(&str, Value)> = message
        .arguments()
        .map(|(name, argument)| {
            let value = match argument {
                Argument::Count(count) => (*count).into(),
                Argument::Choice(choice) => (*choice).into(),
                Argument::Name(name) => name.as_str().into(),
                Argument::Message(message) => told(message).into(),
                // Quantities and lists come in words.
                Argument::Span { .. } | Argument::List(_) => Value::Null,
            };
            (name, value)
        })
        .collect();
    tr(id, &arguments)
}

/// The words of a message that need not be there: more about a field.
pub fn maybe(id: &'static str) -> &'static str {
    words()["messages"][id].as_str().unwrap_or_default()
}

/// What a person calls the field at a path.
pub fn label_at(path: &str) -> &'static str {
    survey::field::at(path).map_or("", |field| t(field.label))
}

/// The words of a message with what stands in it, by name.
pub fn tr(id: &'static str, arguments: &[(&str, Value)]) -> String {
    let words = words();
    match words["messages"].get(id) {
        Some(pattern) => {
            let mut out = String::new();
            fill(pattern, arguments, words["decimal"].as_str().unwrap_or("."), &form, &mut out);
            out
        }
        None if words.is_null() => String::new(),
        None => id.to_owned(),
    }
}

/// A yes or no that a message chooses its form by.
pub fn yes(yes: bool) -> Value {
    if yes { "yes" } else { "no" }.into()
}

/// The form of words that a number takes: "one", "other".
fn form(number: f64) -> String {
    FORMS
        .with(|forms| {
            let of_language = || {
                let rules = Intl::PluralRules::new(&Array::of1(&words()["language"].as_str()?.into()), &Object::new());
                let select = Reflect::get(&rules, &"select".into()).ok()?.dyn_into().ok()?;
                Some((rules.into(), select))
            };
            let (rules, select) = forms.get_or_init(of_language).as_ref()?;
            select.call1(rules, &number.into()).ok()?.as_string()
        })
        .unwrap_or_default()
}

fn fill(pattern: &Value, arguments: &[(&str, Value)], decimal: &str, form: &dyn Fn(f64) -> String, out: &mut String) {
    let named = |key: &str| {
        let name = pattern[key].as_str()?;
        arguments.iter().find(|(argument, _)| *argument == name).map(|(_, value)| value)
    };
    match pattern {
        Value::String(text) => out.push_str(text),
        Value::Array(parts) => parts.iter().for_each(|part| fill(part, arguments, decimal, form, out)),
        _ if pattern["by"].is_string() => {
            let forms = &pattern["forms"];
            let value = named("by");
            let chosen = match value.and_then(Value::as_f64) {
                Some(number) => forms.get(number.to_string()).or_else(|| forms.get(form(number))),
                None => value.and_then(Value::as_str).and_then(|word| forms.get(word)),
            };
            let chosen = chosen.unwrap_or(&forms[pattern["else"].as_str().unwrap_or_default()]);
            fill(chosen, arguments, decimal, form, out);
        }
        _ => match named("of") {
            Some(Value::String(text)) => out.push_str(text),
            // No zero behind a whole number, and the language's own sign before tenths.
            Some(value) => out.push_str(&value.as_f64().unwrap_or_default().to_string().replacen('.', decimal, 1)),
            None => {}
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn filled(pattern: &Value, arguments: &[(&str, Value)]) -> String {
        let mut out = String::new();
        let form = |number: f64| if number == 1.0 { "one" } else { "other" }.to_owned();
        fill(pattern, arguments, ",", &form, &mut out);
        out
    }

    #[test]
    fn a_pattern_is_filled_with_what_is_given() {
        assert_eq!(filled(&json!("Try again"), &[]), "Try again");
        let moved = json!(["x ", { "of": "x" }, " mm: ", { "of": "why" }]);
        assert_eq!(filled(&moved, &[("x", 12.5.into()), ("why", "a bar".into())]), "x 12,5 mm: a bar");
        assert_eq!(filled(&moved, &[("x", 12.0.into()), ("why", "2.5".into())]), "x 12 mm: 2.5");
    }

    #[test]
    fn a_number_chooses_its_form_and_an_exact_one_goes_first() {
        let entries = json!([{
            "by": "count",
            "forms": { "0": "no entry", "one": "one entry", "other": [{ "of": "count" }, " entries"] },
            "else": "other",
        }]);
        for (count, said) in [(0, "no entry"), (1, "one entry"), (7, "7 entries")] {
            assert_eq!(filled(&entries, &[("count", count.into())]), said);
        }
        let proven = json!([{ "by": "proven", "forms": { "yes": "Proven", "no": "Not proven" }, "else": "no" }]);
        assert_eq!(filled(&proven, &[("proven", yes(true))]), "Proven");
        assert_eq!(filled(&proven, &[("proven", "maybe".into())]), "Not proven");
        assert_eq!(filled(&proven, &[]), "Not proven");
    }
}
