//! A user's own tables in the place of ours: CSV files of the same form, in the folder `tables` beside the store.

use std::collections::BTreeMap;
use std::path::Path;

use api::ApiError;
use circuits::{TableTexts, Tables};
use survey::Problem;

use crate::error::failed;
use crate::files;

/// End of the name of the file that says whose a table is, beside it: `ampacity.whose.txt`.
const WHOSE: &str = "whose.txt";

/// A table as text, and whose it is.
#[derive(Clone)]
struct Own {
    text: String,
    whose: String,
}

/// Largest table read, bytes: ours have up to a hundred thousand.
const LARGEST: u64 = 4 * 1024 * 1024;

/// The tables that count: ours, and those of the folder in their place.
///
/// # Errors
/// Where a file there does not read: it is named with row, column and value. Nothing is calculated with half of it.
pub(crate) fn load(folder: &Path) -> Result<Tables, ApiError> {
    parse(&taken(folder)?).map_err(|problem| failed(format!("{}: {problem}; or take the file away", folder.display())))
}

/// Takes the tables of a folder as the user's own; they count from the next start. Gives their names.
///
/// # Errors
/// Where a file is no table or does not read: then none is taken.
pub(crate) fn add(from: &Path, whose: &str, folder: &Path) -> Result<Vec<String>, ApiError> {
    if whose.trim().is_empty() || whose.len() > 200 || whose.contains(['\n', '\r']) {
        let remedy = "say in one line whose tables they are: a standard and its edition";
        return Err(ApiError::refused(vec![Problem::refused("--whose", whose, "not told", remedy)]));
    }
    let found = texts(from)?;
    if found.is_empty() {
        let remedy = format!("give a folder with one or more of: {}", names());
        return Err(ApiError::refused(vec![Problem::refused("folder", from.display(), "no table is in it", remedy)]));
    }
    let whose = whose.trim();
    let found: BTreeMap<String, Own> =
        found.into_iter().map(|(name, text)| (name, Own { text, whose: whose.to_owned() })).collect();
    // With those already taken: they count together.
    let mut all = taken(folder)?;
    all.extend(found.clone());
    parse(&all).map_err(|problem| ApiError::refused(vec![problem]))?;
    for (name, own) in &found {
        // Whose it is comes first: broken off between the two, the old table bears the new name, not the new the old.
        files::write(&folder.join(format!("{name}.{WHOSE}")), own.whose.as_bytes())?;
        files::write(&folder.join(format!("{name}.csv")), own.text.as_bytes())?;
    }
    Ok(found.into_keys().collect())
}

fn names() -> String {
    TableTexts::NAMES.iter().map(|name| format!("{name}.csv")).collect::<Vec<_>>().join(", ")
}

/// The tables taken before.
fn taken(folder: &Path) -> Result<BTreeMap<String, Own>, ApiError> {
    let found = if folder.is_dir() { texts(folder)? } else { BTreeMap::new() };
    let whose = |name: &str| {
        let words = std::fs::read_to_string(folder.join(format!("{name}.{WHOSE}"))).unwrap_or_default();
        if words.trim().is_empty() { "the user".to_owned() } else { words.trim().to_owned() }
    };
    Ok(found.into_iter().map(|(name, text)| (name.clone(), Own { text, whose: whose(&name) })).collect())
}

/// The CSV files of a folder by name.
fn texts(folder: &Path) -> Result<BTreeMap<String, String>, ApiError> {
    let told = |path: &Path, error: std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => ApiError::not_found(format!("{}: there is no such folder", path.display())),
        std::io::ErrorKind::InvalidData => {
            let remedy = "save the table as UTF-8";
            ApiError::refused(vec![Problem::refused("folder", path.display(), "the file is no text", remedy)])
        }
        _ => failed(format!("{}: {error}", path.display())),
    };
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).map_err(|error| told(folder, error))? {
        let path = entry.map_err(|error| told(folder, error))?.path();
        if path.extension().is_none_or(|end| end != "csv") {
            continue;
        }
        let name = path.file_stem().and_then(|name| name.to_str()).unwrap_or_default();
        if !TableTexts::NAMES.contains(&name) {
            let remedy = format!("give one of: {}", names());
            return Err(ApiError::refused(vec![Problem::refused("folder", path.display(), "no such table", remedy)]));
        }
        if std::fs::metadata(&path).map_err(|error| told(&path, error))?.len() > LARGEST {
            let remedy = format!("up to {} MB will do", LARGEST / 1024 / 1024);
            return Err(ApiError::refused(vec![Problem::refused("folder", path.display(), "too large", remedy)]));
        }
        let text = std::fs::read_to_string(&path).map_err(|error| told(&path, error))?;
        found.insert(name.to_owned(), text);
    }
    Ok(found)
}

fn parse(own: &BTreeMap<String, Own>) -> Result<Tables, Problem> {
    let mut all = TableTexts::shipped();
    for (name, own) in own {
        all.replace(name, &own.text);
    }
    let tables = Tables::parse(&all).map_err(|error| {
        let place = format!("{}.csv, row {}, column \"{}\"", error.file, error.row, error.column);
        Problem::refused(place, &error.value, "the table does not read", error.remedy)
    })?;
    Ok(tables.owned(own.iter().map(|(name, own)| (name.clone(), own.whose.clone()))))
}
