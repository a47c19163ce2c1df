//! Files that an earlier version kept beside the store: own patterns and the role. They are taken into the store once
//! and kept beside under another name. What of them does not read is told by its line and stops nothing.

use std::path::{Path, PathBuf};

use store::{Store, StoreError};
use survey::pattern::PatternList;
use survey::{Message, Pattern, say};

use crate::app::{OWN_PATTERN, OWN_ROLE, role_word};
use crate::error::wrong_file;

/// Largest side file taken in, in bytes.
const LARGEST: u64 = 16 * 1024 * 1024;

/// What was found in the files.
#[derive(Debug, Default)]
pub(crate) struct Found {
    /// Rows for the store's own table.
    pub(crate) rows: Vec<(String, String)>,
    /// What does not read, a sentence each.
    pub(crate) notes: Vec<String>,
    /// The files, to be put aside once their rows are kept.
    files: Vec<PathBuf>,
}

/// Reads the files of a store's folder.
pub(crate) fn read(folder: &Path) -> Found {
    let mut found = Found::default();
    let path = folder.join("patterns.toml");
    if let Some(bytes) = bytes(&path, &mut found) {
        let (patterns, notes) = patterns(&bytes);
        let of_file = |note| say!("side-note", file = path.display().to_string(), note = note).to_string();
        found.notes.extend(notes.into_iter().map(of_file));
        found.rows.extend(patterns.iter().filter_map(row));
        found.files.push(path);
    }
    let path = folder.join("role.txt");
    if let Some(bytes) = bytes(&path, &mut found) {
        let text = String::from_utf8_lossy(&bytes);
        match role_word(&text) {
            Some(role) => found.rows.push((OWN_ROLE.to_owned(), role.to_owned())),
            None if text.trim().is_empty() => {}
            None => {
                found.notes.push(say!("side-no-role", file = path.display().to_string()).to_string());
            }
        }
        found.files.push(path);
    }
    found
}

/// Keeps what was found and puts the files aside. What the store holds already is newer than any file.
pub(crate) fn keep(found: &mut Found, store: &mut Store) -> Result<(), StoreError> {
    store.put_own_if_new(&found.rows)?;
    for path in std::mem::take(&mut found.files) {
        let aside = aside(&path);
        match std::fs::rename(&path, &aside) {
            Ok(()) => {
                let (file, now) = (path.display().to_string(), aside.display().to_string());
                found.notes.push(say!("side-taken", file = file, now = now).to_string());
            }
            // It is read again next time, to no effect.
            Err(error) => {
                let (file, why) = (path.display().to_string(), error.to_string());
                found.notes.push(say!("side-not-renamed", file = file, why = why).to_string());
            }
        }
    }
    Ok(())
}

/// A pattern as a row of the store's own table.
pub(crate) fn row(pattern: &Pattern) -> Option<(String, String)> {
    Some((format!("{OWN_PATTERN}{}", pattern.key), serde_json::to_string(pattern).ok()?))
}

fn bytes(path: &Path, found: &mut Found) -> Option<Vec<u8>> {
    let length = std::fs::metadata(path).ok()?.len();
    if length > LARGEST {
        let (file, length, most) = (path.display().to_string(), length.to_string(), LARGEST.to_string());
        found.notes.push(say!("side-large", file = file, length = length, most = most).to_string());
        return None;
    }
    match std::fs::read(path) {
        Ok(bytes) => Some(bytes),
        Err(error) => {
            found.notes.push(wrong_file(path, &error).message);
            None
        }
    }
}

fn aside(path: &Path) -> PathBuf {
    let named = |end: &str| {
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(end);
        path.with_file_name(name)
    };
    let numbered = (2..1000).map(|count| named(&format!(".taken-in-{count}")));
    std::iter::once(named(".taken-in")).chain(numbered).find(|aside| !aside.exists()).unwrap_or_else(|| named(".old"))
}

/// The patterns of a list that read, and what of it does not, each by the line it begins at.
fn patterns(bytes: &[u8]) -> (Vec<Pattern>, Vec<Message>) {
    let mut notes = Vec::new();
    let mut patterns: Vec<Pattern> = Vec::new();
    for (line, piece) in pieces(bytes) {
        let text = String::from_utf8_lossy(piece);
        if let std::borrow::Cow::Owned(_) = text {
            let at = line
                + piece.split(|byte| *byte == b'\n').position(|row| std::str::from_utf8(row).is_err()).unwrap_or(0);
            notes.push(say!("side-byte", line = at, letter = "\u{fffd}"));
        }
        match PatternList::parse(&text) {
            Ok(read) => {
                for pattern in read {
                    // The later of two of one key counts, as it did.
                    patterns.retain(|other| other.key != pattern.key);
                    patterns.push(pattern);
                }
            }
            Err(_) if text.lines().all(|line| line.trim().is_empty() || line.trim().starts_with('#')) => {}
            Err(error) => {
                // The reader's own picture of the place spans several lines, counted from the piece's beginning.
                let shown: String = error.words().lines().last().unwrap_or_default().chars().take(200).collect();
                notes.push(say!("side-pattern", line = line, why = shown));
            }
        }
    }
    (patterns, notes)
}

/// The list cut where each pattern begins, with the number of the line, from 1.
fn pieces(bytes: &[u8]) -> Vec<(usize, &[u8])> {
    let mut cuts = vec![(1, 0)];
    let mut at = 0;
    for (index, line) in bytes.split_inclusive(|byte| *byte == b'\n').enumerate() {
        if line.trim_ascii_start().starts_with(b"[[pattern]]") && at > 0 {
            cuts.push((index + 1, at));
        }
        at += line.len();
    }
    let ends = cuts.iter().skip(1).map(|(_, at)| *at).chain([bytes.len()]);
    cuts.iter().zip(ends).map(|((line, from), to)| (*line, &bytes[*from..to])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHIPPED: &str = include_str!("../../seed-data/patterns.toml");

    #[test]
    fn one_odd_byte_costs_one_letter_and_one_broken_pattern_itself() {
        let (all, notes) = patterns(SHIPPED.as_bytes());
        assert!(all.len() > 2 && notes.is_empty(), "{notes:?}");
        let mut bytes = SHIPPED.as_bytes().to_vec();
        let at = SHIPPED.find("name = \"").unwrap() + 9;
        bytes[at] = 0xff;
        let (read, notes) = patterns(&bytes);
        assert_eq!(read.len(), all.len());
        let line = SHIPPED[..at].lines().count();
        assert!(notes.len() == 1 && notes[0].words().starts_with(&format!("line {line}: ")), "{notes:?}");
        let second = SHIPPED.match_indices("[[pattern]]").nth(1).unwrap().0;
        let broken = format!("{}[[pattern]]\nkey = = 3\n{}", &SHIPPED[..second], &SHIPPED[second..]);
        let (read, notes) = patterns(broken.as_bytes());
        assert_eq!(read, all);
        assert!(
            notes.len() == 1 && notes[0].words().starts_with("line ") && notes[0].contains("add it again"),
            "{notes:?}"
        );
    }
}
