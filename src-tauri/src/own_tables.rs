//! A user's own tables in the place of ours: CSV files of the same form, in the folder `tables` beside the store.
//! Command line and screen come here through the same calls.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use api::{ApiError, TableRow};
use circuits::{TableTexts, Tables};
use survey::{Message, Problem, say};

use crate::error::{failed, not_found, wrong_file};
use crate::files;

/// End of the name of the file that says whose a table is, beside it: `ampacity.whose.txt`.
const WHOSE: &str = "whose.txt";

/// Most letters of whose they are: the words stand beside every check.
const LONGEST_WHOSE: usize = 200;

/// Largest table read, bytes: ours have up to a hundred thousand.
const LARGEST: usize = 4 * 1024 * 1024;

/// A table as text, and whose it is.
#[derive(Clone)]
struct Own {
    text: String,
    whose: String,
}

/// The tables that count: read, and row by row as a person asks for them.
#[derive(Clone)]
pub(crate) struct Counting {
    pub(crate) circuits: Arc<Tables>,
    pub(crate) rows: Vec<TableRow>,
}

/// A file as it was given: its name and its bytes.
pub(crate) type Given = (String, Vec<u8>);

/// The tables that count: ours, and those of the folder in their place.
///
/// # Errors
/// Where a file there does not read: it is named with line, column and value. Nothing is calculated with half of it.
pub(crate) fn load(folder: &Path) -> Result<Counting, ApiError> {
    parse(&taken(folder)?).map_err(|problem| {
        let folder = folder.display().to_string();
        failed(say!("cli-table-wrong", folder = folder, problem = problem.to_string()))
    })
}

/// Takes files as the user's own tables. Gives the tables that count from now on.
///
/// # Errors
/// Where a file is no table or does not read, or nobody says whose they are: then none is taken.
pub(crate) fn take(given: Vec<Given>, whose: &str, folder: &Path) -> Result<Counting, ApiError> {
    let whose = whose.trim();
    if whose.is_empty() || whose.chars().count() > LONGEST_WHOSE || whose.contains(char::is_control) {
        let remedy = say!("remedy-not-told", most = LONGEST_WHOSE);
        return Err(refused(&say!("cli-table-whose").words(), whose, say!("problem-not-told"), remedy));
    }
    if given.is_empty() {
        return Err(refused(
            &say!("cli-table-files").words(),
            "",
            say!("problem-no-table"),
            say!("remedy-names", names = names()),
        ));
    }
    let mut new = BTreeMap::new();
    for (file, bytes) in given {
        let (name, text) = table(&file, bytes)?;
        if new.insert(name, Own { text, whose: whose.to_owned() }).is_some() {
            return Err(refused(&file, "", say!("problem-table-twice"), say!("remedy-table-twice")));
        }
    }
    // With those already taken: they count together.
    let mut all = taken(folder)?;
    all.extend(new.clone());
    let counting = parse(&all).map_err(|problem| ApiError::refused(vec![problem]))?;
    for (name, own) in &new {
        // Whose it is comes first: broken off between the two, the old table bears the new name, not the new the old.
        files::write(&folder.join(format!("{name}.{WHOSE}")), own.whose.as_bytes())?;
        files::write(&folder.join(format!("{name}.csv")), own.text.as_bytes())?;
    }
    Ok(counting)
}

/// Puts ours back in the place of the user's own tables of these names; no name: of all. Gives the tables that count
/// from now on.
///
/// # Errors
/// Where a name is no table of the user's own: then all stay.
pub(crate) fn put_back(tables: &[String], folder: &Path) -> Result<Counting, ApiError> {
    let mut all = taken(folder)?;
    let mut gone: Vec<String> = Vec::new();
    for name in tables {
        let name = name.strip_suffix(".csv").unwrap_or(name);
        if !all.contains_key(name) {
            let own: Vec<&str> = all.keys().map(String::as_str).collect();
            let remedy =
                if own.is_empty() { say!("remedy-none-own") } else { say!("remedy-names", names = own.join(", ")) };
            return Err(refused(&say!("cli-table-table").words(), name, say!("problem-not-own"), remedy));
        }
        gone.push(name.to_owned());
    }
    if tables.is_empty() {
        gone = all.keys().cloned().collect();
    }
    all.retain(|name, _| !gone.contains(name));
    let counting = parse(&all).map_err(|problem| ApiError::refused(vec![problem]))?;
    for name in gone {
        // The table first: broken off between the two, a name without a table is left, and nobody reads it.
        files::remove(&folder.join(format!("{name}.csv")))?;
        files::remove(&folder.join(format!("{name}.{WHOSE}")))?;
    }
    Ok(counting)
}

/// The text of a table that counts.
///
/// # Errors
/// Where there is no table of this name.
pub(crate) fn text(name: &str, folder: &Path) -> Result<String, ApiError> {
    let own = taken(folder)?.remove(name).map(|own| own.text);
    own.or_else(|| TableTexts::shipped().text(name).map(str::to_owned))
        .ok_or_else(|| not_found(&say!("cli-table-none", table = name.chars().take(60).collect::<String>())))
}

/// The CSV files of a folder, as they would be picked by hand.
///
/// # Errors
/// Where there is no such folder, or a file in it cannot be read.
pub(crate) fn of_folder(folder: &Path) -> Result<Vec<Given>, ApiError> {
    let told = |path: &Path, error: &std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => not_found(&say!("cli-no-folder", folder = path.display().to_string())),
        _ => wrong_file(path, error),
    };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|error| told(folder, &error))? {
        let path = entry.map_err(|error| told(folder, &error))?.path();
        if path.extension().is_none_or(|end| !end.eq_ignore_ascii_case("csv")) {
            continue;
        }
        let length = std::fs::metadata(&path).map_err(|error| told(&path, &error))?.len();
        if length > LARGEST as u64 {
            return Err(too_large(&path.display().to_string()));
        }
        let bytes = std::fs::read(&path).map_err(|error| told(&path, &error))?;
        found.push((path.file_name().unwrap_or_default().to_string_lossy().into_owned(), bytes));
    }
    found.sort();
    Ok(found)
}

fn names() -> String {
    TableTexts::NAMES.iter().map(|name| format!("{name}.csv")).collect::<Vec<_>>().join(", ")
}

fn refused(place: &str, value: &str, message: Message, remedy: Message) -> ApiError {
    ApiError::refused(vec![Problem::refused(place, value, message, remedy)])
}

fn too_large(file: &str) -> ApiError {
    refused(file, "", say!("problem-too-large"), say!("remedy-large", size = LARGEST / 1024 / 1024))
}

/// Name and text of one file.
fn table(file: &str, bytes: Vec<u8>) -> Result<(String, String), ApiError> {
    let name = file.to_ascii_lowercase();
    let name = name.strip_suffix(".csv").unwrap_or_default();
    if !TableTexts::NAMES.contains(&name) {
        return Err(refused(file, "", say!("problem-no-such-table"), say!("remedy-names", names = names())));
    }
    if bytes.len() > LARGEST {
        return Err(too_large(file));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let right = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + right.iter().filter(|byte| **byte == b'\n').count();
        let place = say!("cli-table-line", file = file.to_owned(), line = line).to_string();
        refused(&place, "", say!("problem-table-utf8"), say!("remedy-table-utf8"))
    })?;
    // A spreadsheet puts a mark before the text; the first column's name would begin with it.
    let text = text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned);
    Ok((name.to_owned(), text))
}

/// The tables taken before.
fn taken(folder: &Path) -> Result<BTreeMap<String, Own>, ApiError> {
    let found = if folder.is_dir() { of_folder(folder)? } else { Vec::new() };
    let whose = |name: &str| {
        let words = std::fs::read_to_string(folder.join(format!("{name}.{WHOSE}"))).unwrap_or_default();
        if words.trim().is_empty() { say!("cli-table-users").to_string() } else { words.trim().to_owned() }
    };
    found
        .into_iter()
        .map(|(file, bytes)| {
            let (name, text) = table(&file, bytes)?;
            let whose = whose(&name);
            Ok((name, Own { text, whose }))
        })
        .collect()
}

fn parse(own: &BTreeMap<String, Own>) -> Result<Counting, Problem> {
    let mut all = TableTexts::shipped();
    for (name, own) in own {
        all.replace(name, &own.text);
    }
    let tables = Tables::parse(&all)
        .map_err(|error| Problem::refused(error.place(), &error.value, say!("problem-table"), error.remedy))?;
    let rows = TableTexts::NAMES
        .iter()
        .map(|name| TableRow {
            name: (*name).to_owned(),
            whose: own.get(*name).map(|own| own.whose.clone()),
            rows: u32::try_from(all.rows(name)).unwrap_or(u32::MAX),
        })
        .collect();
    let tables = tables.owned(own.iter().map(|(name, own)| (name.clone(), own.whose.clone())));
    Ok(Counting { circuits: Arc::new(tables), rows })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where it fails")]
mod tests {
    use super::*;

    const DROP: &str = include_str!("../../seed-data/tables/voltage_drop_limit.csv");

    fn given(name: &str, text: impl AsRef<[u8]>) -> Given {
        (name.to_owned(), text.as_ref().to_vec())
    }

    fn own(counting: &Counting) -> Vec<(String, String)> {
        counting.rows.iter().filter_map(|row| Some((row.name.clone(), row.whose.clone()?))).collect()
    }

    fn words(error: &ApiError) -> String {
        let problem = error.problems.first().unwrap();
        format!("{} | {} | {} | {}", problem.path, problem.value, problem.message, problem.remedy)
    }

    fn left(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .map(|list| list.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect())
            .unwrap_or_default();
        names.sort();
        names
    }

    #[test]
    fn a_refusal_names_file_line_and_remedy_and_changes_nothing() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("tables");
        let good = || given("rcd_time.csv", include_str!("../../seed-data/tables/rcd_time.csv"));
        let line = 1 + DROP.lines().position(|line| line.starts_with("A,other,5,")).unwrap();
        let wrong = DROP.replace("A,other,5,", "A,other,five,");
        let error = take(vec![good(), given("voltage_drop_limit.csv", wrong)], "X", &folder).err().unwrap();
        let said = words(&error);
        assert!(said.starts_with(&format!("voltage_drop_limit.csv, line {line}, column ")), "{said}");
        assert!(said.contains("| five |") && said.contains("give a plain number"), "{said}");
        let mut latin = DROP.as_bytes().to_vec();
        let at = DROP.find("A,other,5,").unwrap();
        latin[at] = 0xb0;
        for (files, whose, part) in [
            (vec![good(), given("prices.csv", "a,b\n1,2\n")], "X", "prices.csv"),
            (vec![good(), given("voltage_drop_limit.csv", latin)], "X", &format!("line {line} | ")[..]),
            (vec![good(), given("RCD_TIME.CSV", "")], "X", "twice"),
            (vec![good()], " ", "whose tables these are"),
            (vec![good()], "two\nlines", "whose tables these are"),
            (vec![], "X", "no table"),
            (vec![given("rcd_time.csv", vec![b' '; LARGEST + 1])], "X", "too large"),
        ] {
            let said = words(&take(files, whose, &folder).err().unwrap());
            assert!(said.contains(part), "{part} is not in: {said}");
        }
        assert_eq!(left(&folder), Vec::<String>::new());
        assert_eq!(own(&load(&folder).unwrap()), []);
    }

    #[test]
    fn ones_own_table_counts_with_its_rows_until_ours_is_put_back() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("tables");
        let ours = load(&folder).unwrap().rows;
        assert_eq!(ours.len(), TableTexts::NAMES.len());
        assert!(ours.iter().all(|row| row.whose.is_none() && row.rows > 0), "{ours:?}");
        // As a spreadsheet saves it, with a mark before the text, and a row less.
        let short: Vec<&str> = include_str!("../../seed-data/tables/cable_make.csv").lines().collect();
        let short = format!("\u{feff}{}\n", short[..short.len() - 1].join("\n"));
        let counting = take(
            vec![given("Cable_make.CSV", short), given("voltage_drop_limit.csv", DROP)],
            " National, 2030 ",
            &folder,
        )
        .unwrap();
        let national = |name: &str| (name.to_owned(), "National, 2030".to_owned());
        assert_eq!(own(&counting), [national("voltage_drop_limit"), national("cable_make")]);
        let rows = |rows: &[TableRow]| rows.iter().find(|row| row.name == "cable_make").map(|row| row.rows).unwrap();
        assert_eq!(rows(&counting.rows) + 1, rows(&ours));
        assert!(text("voltage_drop_limit", &folder).unwrap() == DROP && text("prices", &folder).is_err());
        assert!(text("cable_make", &folder).unwrap().starts_with('#'), "without the mark");
        assert_eq!(load(&folder).unwrap().rows, counting.rows, "the next start finds what counted before");

        let said = words(&put_back(&["ampacity".to_owned(), "cable_make".to_owned()], &folder).err().unwrap());
        assert!(said.contains("ampacity") && said.contains("cable_make, voltage_drop_limit"), "{said}");
        assert_eq!(own(&load(&folder).unwrap()).len(), 2, "refused as a whole");
        let counting = put_back(&["cable_make".to_owned()], &folder).unwrap();
        assert_eq!(own(&counting), [national("voltage_drop_limit")]);
        assert_eq!(put_back(&[], &folder).unwrap().rows, ours);
        assert_eq!(put_back(&[], &folder).unwrap().rows, ours, "twice is no fault");
        assert_eq!(load(&folder).unwrap().rows, ours);
        assert_eq!(left(&folder), Vec::<String>::new());
    }
}
