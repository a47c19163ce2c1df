//! Text from a survey, made fit for paper, drawings and file names.

use std::fmt::Display;

/// Longest text printed in one cell.
const LONGEST: usize = 600;
#[cfg(feature = "typeset")]
/// Letters after which an unbroken word may be split.
const LONGEST_WORD: usize = 16;
#[cfg(feature = "typeset")]
const ZERO_WIDTH_SPACE: char = '\u{200b}';

/// True for marks that turn the reading direction: they could make a paper read otherwise than the
/// screen.
const fn turns(letter: char) -> bool {
    matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// One line: control characters become spaces, the end of an overlong text three dots.
pub(crate) fn line(text: &(impl Display + ?Sized)) -> String {
    let mut out = String::new();
    for (count, letter) in text.to_string().trim().chars().enumerate() {
        if count == LONGEST {
            out.push('…');
            break;
        }
        if turns(letter) {
            continue;
        }
        out.push(if letter.is_control() || matches!(letter, '\u{2028}' | '\u{2029}') { ' ' } else { letter });
    }
    out
}

#[cfg(feature = "typeset")]
/// [`line`], with places to break inside overlong words so that they stay in their cell.
pub(crate) fn cell(text: &(impl Display + ?Sized)) -> String {
    let mut out = String::new();
    let mut run = 0;
    for letter in line(text).chars() {
        run = if letter.is_whitespace() || letter == ZERO_WIDTH_SPACE { 0 } else { run + 1 };
        if run > LONGEST_WORD {
            out.push(ZERO_WIDTH_SPACE);
            run = 1;
        }
        out.push(letter);
    }
    out
}

/// Part of a file name any file system takes: ASCII letters, digits and hyphens, never empty.
pub(crate) fn file_stem(text: &str) -> String {
    let mut out = String::new();
    for letter in text.chars() {
        if letter.is_ascii_alphanumeric() || letter == '_' {
            out.push(letter);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.len() >= 60 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { "board".to_owned() } else { out.to_owned() }
}

/// Text inside XML.
pub(crate) fn xml(text: &str) -> String {
    let mut out = String::new();
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // No XML 1.0 document may hold these.
            '\u{fffe}' | '\u{ffff}' => {}
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
    out
}

/// A number with at most three decimals and no idle zeros.
pub(crate) fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_safe_whatever_the_reference_is() {
        for (reference, stem) in [
            ("PH-DB1", "PH-DB1"),
            ("../../etc/passwd", "etc-passwd"),
            ("a/b\\c:d*?\"<>|", "a-b-c-d"),
            ("  ", "board"),
            ("日本", "board"),
            ("DB 1. ", "DB-1"),
        ] {
            assert_eq!(file_stem(reference), stem);
        }
        assert!(file_stem(&"x".repeat(500)).len() <= 60);
    }

    #[test]
    fn lines_hold_no_control_characters_and_long_words_may_break() {
        assert_eq!(line("a\nb\u{0}c\u{2028}\u{202e}d"), "a b c d");
        #[cfg(feature = "typeset")]
        assert_eq!(cell(&"w".repeat(40)).split(ZERO_WIDTH_SPACE).count(), 3);
        assert_eq!(line(&"w".repeat(4000)).chars().count(), LONGEST + 1);
    }
}
