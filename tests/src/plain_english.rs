//! Plain English on a screen that is shown in the lengthened language: words that did not come from the catalogue.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::webdriver::{Failed, Page};

/// Fields of the survey whose words are the survey's own.
const OWN: [&str; 13] = [
    "caption",
    "description",
    "fed_from",
    "instrument",
    "by",
    "live_uncovered",
    "name",
    "place",
    "reference",
    "role",
    "rule",
    "site_name",
    "text",
];

/// Units, symbols, names of standards and of forms of files: the same in every language.
const SAME: &[&str] = &[
    "mm", "mm²", "kA", "mA", "kW", "kVA", "ms", "Ib", "In", "Iz", "IL", "IN", "InA", "Ia", "Icn", "Ik", "Ipf", "IΔn",
    "Zs", "Ze", "RDF", "PE", "AC", "min", "max", "IEC", "HD", "BS", "EN", "PDF", "SVG", "DXF", "CSV", "XLSX",
];

/// Says which texts of the page can be seen or heard, each with where it is.
const COLLECT: &str = r"
    const found = [];
    const add = (element, text, what) => {
        text = text.trim();
        if (text) found.push([text, at(element) + what]);
    };
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
        const element = walker.currentNode.parentElement;
        if (element.tagName === 'OPTION' || element.checkVisibility({ visibilityProperty: true })) add(element, walker.currentNode.data, '');
    }
    for (const name of ['alt', 'aria-label', 'placeholder', 'title'])
        document.querySelectorAll(`[${name}]`).forEach(element => add(element, element.getAttribute(name), ' ' + name));
    return found;
";

/// Reads screens and keeps what is in plain English on them.
#[derive(Default)]
pub struct Reader {
    /// Words that may stand anywhere, longest first where it matters.
    names: BTreeSet<String>,
    found: BTreeSet<String>,
}

impl Reader {
    /// A reader who knows the words of these survey files, and these of elsewhere.
    ///
    /// # Panics
    /// Where a survey file is no JSON.
    #[must_use]
    pub fn of(surveys: &[&str], others: &[&str]) -> Self {
        let mut reader = Self::default();
        for survey in surveys {
            reader.know(&serde_json::from_str(survey).expect("a survey file is JSON"), "");
        }
        reader.names.extend(others.iter().map(|name| (*name).to_owned()));
        reader
    }

    fn know(&mut self, value: &Value, key: &str) {
        match value {
            Value::Object(fields) => fields.iter().for_each(|(key, value)| self.know(value, key)),
            Value::Array(list) => list.iter().for_each(|value| self.know(value, key)),
            Value::String(words) if OWN.contains(&key) => drop(self.names.insert(words.clone())),
            _ => {}
        }
    }

    /// Reads what a page shows and says now.
    ///
    /// # Errors
    /// Where the page does not answer.
    pub fn read(&mut self, page: &Page, screen: &str) -> Result<(), Failed> {
        let found = page.look(COLLECT)?;
        for text in found.as_array().map(Vec::as_slice).unwrap_or_default() {
            let words = text[0].as_str().unwrap_or_default();
            if plain(&self.without_names(words)) {
                self.found.insert(format!("{screen}: {} ({})", words, text[1].as_str().unwrap_or_default()));
            }
        }
        Ok(())
    }

    /// Words without the names that may stand in them.
    #[must_use]
    pub fn without_names(&self, words: &str) -> String {
        // A name that did not fit is the beginning, or a line, of one.
        let clipped = words.trim_end_matches('…');
        if !clipped.is_empty() && self.names.iter().any(|name| name.contains(clipped)) {
            return String::new();
        }
        let mut rest = words.to_owned();
        let mut names: Vec<&String> = self.names.iter().filter(|name| plain(name)).collect();
        names.sort_by_key(|name| std::cmp::Reverse(name.len()));
        for name in names {
            for form in [
                name.clone(),
                first(name, |letter| letter.to_lowercase().collect()),
                first(name, |letter| letter.to_uppercase().collect()),
            ] {
                rest = rest.replace(&form, "");
            }
        }
        rest
    }

    /// What was found in plain English.
    #[must_use]
    pub fn told(self) -> Vec<String> {
        self.found.into_iter().collect()
    }
}

fn first(name: &str, form: impl Fn(char) -> String) -> String {
    let mut letters = name.chars();
    letters.next().map(|letter| form(letter) + letters.as_str()).unwrap_or_default()
}

/// Two plain letters in a row, in a word that is not the same in every language and has no digit: the lengthened
/// language has none.
#[must_use]
pub fn plain(words: &str) -> bool {
    let in_word = |letter: char| letter.is_alphanumeric() || letter == '_' || letter == '.' || letter == '-';
    words.split(|letter| !in_word(letter)).any(|word| {
        let word = word.trim_matches('.');
        let letters: Vec<bool> = word.chars().map(|letter| letter.is_ascii_alphabetic()).collect();
        letters.windows(2).any(|pair| pair == [true, true])
            && !word.contains(|letter: char| letter.is_ascii_digit())
            && !word.ends_with(".csv")
            && !SAME.contains(&word)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_english_is_told_from_the_lengthened_language() {
        let reader =
            Reader::of(&[r#"{"board": {"reference": "PH-DB1", "description": "Yard lighting"}}"#], &["Waywright"]);
        for english in ["Saved", "[Šáṽéð~] as PH-DB1", "12 poles", "Yard", "a.c. circuit", "not-known", "rows 1, 2"]
        {
            let named = reader.without_names(english);
            assert_eq!(plain(&named), english != "Yard", "{english}");
        }
        for strange in
            ["[Šáṽéð~]: 20.6 A", "3L2 Yard lighting", "Yard lig…", "mm²", "IEC 60364-4-41", "C32", "rcd_time.csv"]
        {
            assert!(!plain(&reader.without_names(strange)), "{strange}");
        }
    }
}
