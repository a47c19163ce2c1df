//! House rules of the catalogue of words: what the code says is in it, and what is in it is said.

use std::collections::{BTreeMap, BTreeSet};

use crate::tidy::Problem;

/// Where the catalogue in English lies.
const CATALOGUE: &str = "seed-data/words/en/";
/// What begins the name of a message in code.
const CALLS: [&str; 5] = ["say!(", "Message::bare(", "Message::said(", "Message::said_of(", ".say("];

/// What was found so far.
#[derive(Default)]
pub(crate) struct Words {
    /// Messages of the catalogue, each with its file and line.
    written: BTreeMap<String, (String, usize)>,
    /// Names that code asks for, each with the first file and line that does.
    asked: BTreeMap<String, (String, usize)>,
    /// Every text in quotes that could be a name.
    quoted: BTreeSet<String>,
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
        }
    }

    fn read_code(&mut self, path: &str, text: &str) {
        for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim_start().starts_with("//")) {
            let mut parts = line.split('"');
            let mut before = parts.next().unwrap_or_default();
            while let (Some(quoted), after) = (parts.next(), parts.next()) {
                if is_id(quoted) {
                    self.quoted.insert(quoted.to_owned());
                    if CALLS.iter().any(|call| before.ends_with(call)) {
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
        missing.chain(unsaid).collect()
    }
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
    fn a_name_on_one_side_alone_is_found() {
        let found = said("one = x\n", "f(say!(\"two\"))");
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].contains("x.rs:1") && found[0].contains("`two`"), "{found:?}");
        assert!(found[1].contains("x.ftl:1") && found[1].contains("nothing says `one`"), "{found:?}");
    }
}
