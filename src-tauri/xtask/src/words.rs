//! House rules of the catalogue of words: what the code says is in it, what is in it is said, and the interface says
//! nothing that is not.

use std::collections::{BTreeMap, BTreeSet};

use crate::tidy::Problem;

/// Where the catalogue in English lies.
const CATALOGUE: &str = "seed-data/words/en/";
/// What begins the name of a message in code.
const CALLS: [&str; 5] = ["say!(", "Message::bare(", "Message::said(", "Message::said_of(", ".say("];

/// What begins it in the interface.
const CALLS_OF_THE_INTERFACE: [&str; 2] = ["t(", "tr("];

/// The interface, and how names of its own messages begin.
const INTERFACE: (&str, &str) = ("ui/src/", "ui-");
/// Attributes that a person reads or hears.
const HEARD: [&str; 4] = ["alt=", "aria-label=", "placeholder=", "title="];
/// What may stand in the interface as it is: units and symbols, sizes of the trade, names of keys.
const AS_IT_IS: [&str; 10] =
    ["ArrowDown", "ArrowLeft", "ArrowRight", "ArrowUp", "Enter", "Escape", "Ib", "M20, M25", "Mohm", "mm"];

/// What was found so far.
#[derive(Default)]
pub(crate) struct Words {
    /// Messages of the catalogue, each with its file and line.
    written: BTreeMap<String, (String, usize)>,
    /// Names that code asks for, each with the first file and line that does.
    asked: BTreeMap<String, (String, usize)>,
    /// Every text in quotes that could be a name.
    quoted: BTreeSet<String>,
    /// English in the interface.
    english: Vec<Problem>,
}

impl Words {
    /// Takes in one file of the project.
    pub(crate) fn read(&mut self, path: &str, text: &str) {
        if path.starts_with(CATALOGUE) && path.ends_with(".ftl") {
            for (index, line) in text.lines().enumerate() {
                if let Some((id, _)) = line.split_once(" =").filter(|(id, _)| is_id(id)) {
                    self.written.insert(id.to_owned(), (path.to_owned(), index + 1));
                }
            }
        } else if path.ends_with(".rs") && !path.contains("/xtask/") {
            self.read_code(path, text);
            if path.starts_with(INTERFACE.0) {
                self.english.extend(english(path, text));
            }
        }
    }

    fn read_code(&mut self, path: &str, text: &str) {
        let interface = path.starts_with(INTERFACE.0);
        for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim_start().starts_with("//")) {
            let mut parts = line.split('"');
            let mut before = parts.next().unwrap_or_default();
            while let (Some(quoted), after) = (parts.next(), parts.next()) {
                if is_id(quoted) {
                    self.quoted.insert(quoted.to_owned());
                    let own = interface
                        && (quoted.starts_with(INTERFACE.1)
                            || CALLS_OF_THE_INTERFACE.iter().any(|call| ends_with_word(before, call)));
                    if own || CALLS.iter().any(|call| before.ends_with(call)) {
                        self.asked.entry(quoted.to_owned()).or_insert_with(|| (path.to_owned(), index + 1));
                    }
                }
                before = after.unwrap_or_default();
            }
        }
    }

    /// What is asked for and not there, and what nobody says.
    pub(crate) fn problems(&self) -> Vec<Problem> {
        let missing = self.asked.iter().filter(|(id, _)| !self.written.contains_key(*id)).map(|(id, (path, line))| {
            Problem { path: path.clone(), line: *line, text: format!("`{id}` is in no file of {CATALOGUE}") }
        });
        let unsaid = self.written.iter().filter(|(id, _)| !self.quoted.contains(*id)).map(|(id, (path, line))| {
            Problem { path: path.clone(), line: *line, text: format!("nothing says `{id}`") }
        });
        let english = self.english.iter().cloned();
        missing.chain(unsaid).chain(english).collect()
    }
}

/// Whether a text ends with this and no longer name does.
fn ends_with_word(text: &str, word: &str) -> bool {
    let part = |letter: char| letter.is_alphanumeric() || letter == '_';
    text.strip_suffix(word).is_some_and(|before| !before.ends_with(part))
}

/// What the interface says in English by itself: a text on the page, an attribute that a person reads or hears, or
/// anything that begins like a sentence. Tests may.
fn english(path: &str, text: &str) -> Vec<Problem> {
    let tests = ["#[cfg(test)]\nmod ", "#![cfg(test)]"];
    let text = tests.iter().fold(text, |text, tests| text.split_once(tests).map_or(text, |(shipped, _)| shipped));
    let mut problems = Vec::new();
    for (start, end) in literals(text) {
        let literal = &text[start..end];
        let (before, after) = (text[..start - 1].trim_end(), text[end + 1..].trim_start());
        let node = (before.ends_with(['>', '}', '"']) && !before.ends_with("=>") && !before.ends_with("->"))
            && after.starts_with(['<', '{', '"', '}']);
        let heard = HEARD.iter().any(|name| {
            let value = before.strip_suffix("format!(").unwrap_or(before).trim_end();
            value.strip_suffix("move ||").unwrap_or(value).trim_end().ends_with(name)
        });
        let words = without_holes(literal);
        let said = ((node || heard) && two_letters(&words)) || begins_like_a_sentence(&words);
        if said && !AS_IT_IS.contains(&words.trim()) {
            problems.push(Problem {
                path: path.to_owned(),
                line: text[..start].matches('\n').count() + 1,
                text: format!("\"{literal}\" is said by the interface itself; put it into {CATALOGUE}interface.ftl"),
            });
        }
    }
    problems
}

/// Where the texts in quotes begin and end, without their quotes; comments have none.
fn literals(text: &str) -> Vec<(usize, usize)> {
    let bytes = text.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        match bytes[at] {
            b'/' if bytes.get(at + 1) == Some(&b'/') => {
                at += text[at..].find('\n').unwrap_or(text.len() - at);
            }
            // A quote as a character: no text begins.
            b'\'' if bytes.get(at + 1) == Some(&b'"') => at += 3,
            b'"' => {
                let start = at + 1;
                at = start;
                while at < bytes.len() && bytes[at] != b'"' {
                    at += if bytes[at] == b'\\' { 2 } else { 1 };
                }
                if at < bytes.len() {
                    found.push((start, at));
                }
                at += 1;
            }
            _ => at += 1,
        }
    }
    found
}

/// A text without what is put into it.
fn without_holes(text: &str) -> String {
    let mut out = String::new();
    let mut depth = 0_usize;
    for letter in text.chars() {
        match letter {
            '{' => depth += 1,
            '}' => depth = depth.saturating_sub(1),
            _ if depth == 0 => out.push(letter),
            _ => {}
        }
    }
    out
}

fn two_letters(text: &str) -> bool {
    let letters: Vec<bool> = text.chars().map(char::is_alphabetic).collect();
    letters.windows(2).any(|pair| pair == [true, true])
}

fn begins_like_a_sentence(text: &str) -> bool {
    let mut letters = text.trim_start().chars();
    letters.next().is_some_and(char::is_uppercase)
        && letters.take(2).filter(|letter| letter.is_lowercase()).count() == 2
}

fn is_id(text: &str) -> bool {
    text.starts_with(|letter: char| letter.is_ascii_lowercase())
        && text.chars().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(catalogue: &str, code: &str) -> Vec<String> {
        let mut words = Words::default();
        words.read("seed-data/words/en/x.ftl", catalogue);
        words.read("src-tauri/circuits/src/x.rs", code);
        words.problems().iter().map(ToString::to_string).collect()
    }

    #[test]
    fn what_is_said_and_written_passes() {
        let catalogue = "# A word.\none = { $verdict ->\n    [holds] One.\n   *[fails] Two.\n }\ntwo-three = x\n";
        assert!(said(catalogue, "say!(\"one\", a = b); let id = [\"two-three\"];").is_empty());
    }

    #[test]
    fn what_the_interface_says_is_in_the_catalogue() {
        let mut words = Words::default();
        words.read("seed-data/words/en/interface.ftl", "ui-here = x\nui-nobody = x\n");
        words.read("ui/src/x.rs", "t(\"ui-here\"), tr(\"gone\", &[]), [\"ui-gone\"], set(\"other\")");
        let found: Vec<String> = words.problems().iter().map(ToString::to_string).collect();
        assert_eq!(found.len(), 3, "{found:?}");
        for name in ["`gone`", "`ui-gone`", "`ui-nobody`"] {
            assert!(found.iter().any(|problem| problem.contains(name)), "{found:?}");
        }
    }

    #[test]
    fn english_in_the_interface_is_found() {
        for said in [
            "view! { <p class=\"box wide\">\"too thin\"</p> }",
            "view! { <p>{count} \"boards\"</p> }",
            "<a aria-label=\"back\">",
            "<a title=move || format!(\"{name} again\")>",
            "<img alt=\"\" placeholder=\"words\">",
            "app.say(\"Saved.\")",
            "<TextField path=of(\"size\") label=\"Size of it\" />",
            "Row(\"size\", \"Size of the conductor\", f)",
            "let words = format!(\"Saved as {name}\");",
        ] {
            assert_eq!(english("ui/src/x.rs", said).len(), 1, "{said}");
        }
        for passes in [
            "view! { <p class=\"box wide\" data-x=\"place\">{t(\"ui-x\")}</p> }",
            "// \"Saved.\"",
            "match key { 'a' => \"left\", '\"' => \"right\" }",
            "<span class=\"unit\">\"mm\"</span> <b>\"⇄ \"</b>",
            "if event.key() == \"Enter\" { commit() }",
            "#[cfg(test)]\nmod tests { const X: &str = \"Saved.\"; }",
            "#![cfg(test)]\nconst X: &str = \"Saved.\";",
        ] {
            assert_eq!(english("ui/src/x.rs", passes), [], "{passes}");
        }
    }

    #[test]
    fn a_name_on_one_side_alone_is_found() {
        let found = said("one = x\n", "f(say!(\"two\"))");
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].contains("x.rs:1") && found[0].contains("`two`"), "{found:?}");
        assert!(found[1].contains("x.ftl:1") && found[1].contains("nothing says `one`"), "{found:?}");
    }
}
