//! The command line: open a store, import, export, findings, papers.
//!
//! Exit codes: 0 done; 1 the machine failed, or `check` found something bad; 2 the command line does not read; 3 the input was
//! refused, each problem on its own line; 4 there is no such thing; 5 `findings --fail` found a
//! check that fails.

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use api::{ApiError, BoardView, ErrorKind, ImportSurvey, ListBoards, ListSites, OpenBoard, SurveyTaken};
use clap::{Parser, Subcommand};
use survey::words::{Catalogue, speaking};
use survey::{BoardId, Message, Outlet, Severity, SiteId, Subject, Verdict, errand, file, say};

use crate::caller::Asked;
use crate::calls::{LARGEST_BUNDLE, paper_error};
use crate::error::{failed, not_found, wrong_file};
use crate::{App, demo, ending, files, host, own_tables};

/// Distribution boards: survey, decide, prove, set out, order, label, hand over.
///
/// Exit codes: 0 done; 1 the machine failed, or `check` found something bad; 2 the command line does not read; 3 the input was
/// refused; 4 there is no such thing; 5 `findings --fail` found a check that fails.
#[derive(Parser)]
#[command(name = "waywright", version)]
struct Line {
    /// Folder of the store; else WAYWRIGHT_DATA, else the user's own data folder.
    #[arg(long, global = true, value_name = "FOLDER")]
    data: Option<PathBuf>,
    /// Language of what is shown and printed.
    #[arg(long, global = true, value_name = "NAME", default_value = "en", value_parser = language)]
    language: &'static Catalogue,
    #[command(subcommand)]
    command: Option<Command>,
}

fn language(name: &str) -> Result<&'static Catalogue, String> {
    Catalogue::named(name).ok_or_else(|| say!("cli-no-language", language = name.to_owned()).to_string())
}

#[derive(Subcommand)]
enum Command {
    /// Open the window (what happens with no command).
    Window {
        /// Put the demo survey into an empty store first.
        #[arg(long)]
        demo: bool,
    },
    /// Serve the same interface on a loopback address and print it.
    Serve {
        /// Put the demo survey into an empty store first.
        #[arg(long)]
        demo: bool,
        /// Port; 0 takes a free one.
        #[arg(long, default_value_t = 0)]
        port: u16,
    },
    /// Put the demo survey into an empty store.
    Demo,
    /// Check every stored change and photo by its hash, mend what can be mended, and say what is bad. Exits with 1 where
    /// something is.
    Check,
    /// List boards, those that match the words if any are given.
    Boards {
        /// Words in reference, place, site or circuits.
        words: Vec<String>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Print what the checks of a board find.
    Findings {
        /// Reference or id of the board.
        board: String,
        /// As JSON: every check record.
        #[arg(long)]
        json: bool,
        /// Exit with 5 where a check fails.
        #[arg(long)]
        fail: bool,
    },
    /// Print what edits would do to the checks of a board; nothing is saved.
    WhatIf {
        /// Reference or id of the board.
        board: String,
        /// A field and its value in the form of the survey file, a bare word or JSON:
        /// `/cables/ID/size={"known":"decided","value":"4 mm2"}`. May be given several times.
        #[arg(long = "set", value_name = "PATH=VALUE", required = true)]
        sets: Vec<String>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Print which circuits to move so that the lines are loaded evenly.
    Balance {
        /// Reference or id of the board.
        board: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
        /// Enter the moves, as one edit that can be undone.
        #[arg(long)]
        enter: bool,
    },
    /// Print the smallest cable with which every check holds, and what each smaller one lacks.
    Size {
        /// Reference or id of the board.
        board: String,
        /// The circuit: its number, its first pole, or its id.
        circuit: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Print the fault currents at the origin, at the board and at the end of every circuit.
    FaultCurrents {
        /// Reference or id of the board.
        board: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Bring in a survey file (.json) or a site's bundle (.zip); "-" reads a survey from standard input.
    Import {
        /// The file.
        file: PathBuf,
    },
    /// Write a board as a survey file.
    Export {
        /// Reference or id of the board.
        board: String,
        /// The file; standard output if left out.
        #[arg(long)]
        out: Option<PathBuf>,
    },
    /// Write a site with its boards and photos as one bundle.
    ExportSite {
        /// Name or id of the site.
        site: String,
        /// The file, or a folder to put it in.
        #[arg(long)]
        out: PathBuf,
    },
    /// Write every paper of a board, in every format, to a folder.
    Papers {
        /// Reference or id of the board.
        board: String,
        /// The folder.
        #[arg(long)]
        out: PathBuf,
    },
    /// Put a photo on a board.
    Photo {
        /// Reference or id of the board.
        board: String,
        /// JPEG or PNG file.
        file: PathBuf,
        /// What it shows: a pole such as 3L2, or a plate's id.
        #[arg(long, default_value = "")]
        pin: String,
        /// Caption.
        #[arg(long, default_value = "")]
        caption: String,
    },
    /// Add enclosure patterns of your own from a TOML file in the form of the shipped list.
    AddPatterns {
        /// The file.
        file: PathBuf,
    },
    /// List the tables that the checks read: name, rows, whose.
    Tables {
        /// Also write them to this folder as CSV: the form to put your own in.
        #[arg(long)]
        out: Option<PathBuf>,
    },
    /// Take tables of your own in the place of the shipped ones: CSV files of the same names and form. A window or host
    /// that is running counts with them from its next start.
    AddTables {
        /// The folder they are in.
        folder: PathBuf,
        /// Whose they are, for checks and papers to say: a standard and its edition.
        #[arg(long)]
        whose: String,
    },
    /// Use the tables that came with the program again: in the place of the named ones of your own, or of all.
    UseOurTables {
        /// Names as `waywright tables` lists them.
        names: Vec<String>,
    },
    /// Print the JSON schema of a survey file.
    Schema,
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    let line = Line::parse();
    // What goes wrong is told in the same language.
    speaking(line.language, || match execute(line) {
        Ok(code) => code,
        Err(error) => {
            tell(&told(&error));
            ExitCode::from(match error.kind {
                ErrorKind::Failed => 1,
                ErrorKind::Refused => 3,
                ErrorKind::NotFound => 4,
            })
        }
    })
}

fn told(error: &ApiError) -> String {
    if error.problems.is_empty() {
        return error.message.clone();
    }
    error.problems.iter().map(|problem| flat(&problem.to_string())).collect::<Vec<_>>().join("\n")
}

fn data_folder(given: Option<PathBuf>) -> Result<PathBuf, ApiError> {
    given
        .or_else(|| std::env::var_os("WAYWRIGHT_DATA").filter(|value| !value.is_empty()).map(PathBuf::from))
        .or_else(|| dirs::data_dir().map(|folder| folder.join("waywright")))
        .ok_or_else(|| failed(say!("cli-no-place")))
}

fn execute(line: Line) -> Result<ExitCode, ApiError> {
    if matches!(line.command, Some(Command::Schema)) {
        print(&pretty(&file::schema())?)?;
        return Ok(ExitCode::SUCCESS);
    }
    ending::bear_full_files();
    let shared = Arc::new(App::open(&data_folder(line.data)?)?.in_language(line.language.name()));
    ending::watch(&shared);
    let caller = shared.local_caller();
    let app = shared.asked(&caller);
    // Printed by every call until a person has dismissed it on the screen: a script may have run this one.
    if let Some((note, _)) = app.unread()? {
        tell(&note);
    }
    match line.command.unwrap_or(Command::Window { demo: false }) {
        Command::Window { demo } => {
            seed(&app, demo)?;
            window(&shared)?;
        }
        Command::Serve { demo, port } => {
            seed(&app, demo)?;
            host::serve(Arc::clone(&shared), port)?;
        }
        Command::Demo => seed(&app, true)?,
        Command::Check => return check(&app),
        Command::Boards { words, json } => {
            let list = app.list_boards(ListBoards { query: words.join(" "), limit: 1000 })?;
            if json {
                print(&pretty(&list.rows)?)?;
            } else {
                for row in list.rows {
                    print(&format!(
                        "{}\t{}\t{}\t{}\t{}\n",
                        flat(&row.reference),
                        flat(&row.site_name),
                        flat(&row.place),
                        say!("cli-circuits", count = row.circuits),
                        row.id
                    ))?;
                }
            }
        }
        Command::Findings { board, json, fail } => {
            let view = open(&app, &board)?;
            print(&if json { pretty(&view.checks)? } else { findings(&view) })?;
            let fails = view.checks.iter().any(|check| check.verdict == Verdict::Fails);
            if fail && fails {
                return Ok(ExitCode::from(5));
            }
        }
        Command::WhatIf { board, sets, json } => {
            let intents = sets.iter().map(|set| set_intent(set)).collect::<Result<_, _>>()?;
            let found = app.what_if(api::WhatIf { board: find_board(&app, &board)?, intents })?;
            print(&if json { pretty(&found)? } else { what_if(&found) })?;
        }
        Command::Balance { board, json, enter } => balance(&app, find_board(&app, &board)?, json, enter)?,
        Command::Size { board, circuit, json } => {
            let view = open(&app, &board)?;
            let wanted = view
                .rows
                .iter()
                .find(|row| row.id.to_string() == circuit || row.name == circuit || first_pole(&row.poles) == circuit)
                .ok_or_else(|| not_found(&say!("cli-no-circuit", circuit = circuit, board = board)))?;
            let found = app.size_cable(api::SizeCable { board: view.board.id, circuit: wanted.id })?;
            print(&if json { pretty(&found)? } else { sizes(&found) })?;
        }
        Command::FaultCurrents { board, json } => {
            let found = app.fault_currents(api::FaultCurrents { board: find_board(&app, &board)? })?;
            print(&if json { pretty(&found)? } else { fault_table(&found) })?;
        }
        Command::Import { file } => import(&app, &file)?,
        Command::Export { board, out } => {
            let id = find_board(&app, &board)?;
            let text = app.export_survey(api::ExportSurvey { board: id })?;
            match out {
                Some(path) => files::write(&path, text.as_bytes())?,
                None => print(&text)?,
            }
        }
        Command::ExportSite { site, out } => {
            let site = find_site(&app, &site)?;
            let path = if out.is_dir() { out.join(app.bundle_name(site)?) } else { out };
            let damaged = app.bundle_to(site, &path)?.damaged;
            print(&format!("{}\n", path.display()))?;
            for line in damaged {
                tell(&line);
            }
        }
        Command::Papers { board, out } => papers(&app, &board, &out)?,
        Command::Photo { board, file, pin, caption } => {
            let id = find_board(&app, &board)?;
            app.add_photo_bytes(id, files::read(&file, store::LARGEST_PHOTO as u64)?, &caption, &pin, None)?;
        }
        Command::AddPatterns { file } => {
            let toml = text(files::read(&file, LARGEST_LIST)?)?;
            for pattern in app.add_patterns(&toml)? {
                print(&format!("{}\t{}\n", flat(&pattern.key), flat(&pattern.name)))?;
            }
        }
        Command::AddTables { folder, whose } => {
            let given = own_tables::of_folder(&folder)?;
            if given.is_empty() {
                return Err(ApiError::refused(vec![survey::Problem::refused(
                    folder.display().to_string(),
                    "",
                    say!("problem-no-tables"),
                    say!("remedy-no-tables"),
                )]));
            }
            let names: Vec<String> = given.iter().map(|(name, _)| name.to_ascii_lowercase()).collect();
            for row in app.change_tables(|place| own_tables::take(given, &whose, place))? {
                if names.contains(&format!("{}.csv", row.name)) {
                    let (rows, whose) = (table_rows(row.rows), row.whose.unwrap_or_default());
                    print_line(&say!("cli-table-counts", table = row.name, rows = rows, whose = whose))?;
                }
            }
        }
        Command::UseOurTables { names } => {
            let before = app.table_rows();
            let now = app.put_back_tables(api::PutBackTables { tables: names })?;
            for (before, now) in before.iter().zip(now) {
                if before.whose != now.whose {
                    print_line(&say!("cli-table-put-back", table = now.name, rows = table_rows(now.rows)))?;
                }
            }
        }
        Command::Tables { out } => {
            for row in app.table_rows() {
                if let Some(out) = &out {
                    let text = app.table_text_of(&row.name)?;
                    files::write(&out.join(format!("{}.csv", row.name)), text.as_bytes())?;
                }
                let whose = row.whose.map_or(say!("cli-table-ours"), Message::plain);
                print(&format!("{}\t{}\t{whose}\n", row.name, table_rows(row.rows)))?;
            }
        }
        Command::Schema => {}
    }
    Ok(ExitCode::SUCCESS)
}

fn check(app: &Asked) -> Result<ExitCode, ApiError> {
    let mut file = app.store().check().map_err(crate::error::from_store)?;
    let mut found = app.check_store(api::CheckStore { again: true })?;
    while found.finished.is_none() {
        found = app.check_store(api::CheckStore { again: false })?;
    }
    print_line(&say!(
        "cli-checked",
        documents = found.documents.to_string(),
        changes = found.changes.to_string(),
        photos = found.photos.to_string(),
        healed = found.healed.to_string()
    ))?;
    file.extend(found.bad);
    for line in &file {
        print_line(&say!("cli-bad", what = line.clone()))?;
    }
    if file.is_empty() {
        print_line(&say!("cli-sound"))?;
        return Ok(ExitCode::SUCCESS);
    }
    Ok(ExitCode::FAILURE)
}

fn seed(app: &Asked, wanted: bool) -> Result<(), ApiError> {
    if wanted && (app.list_sites(ListSites {})?.is_empty() || demo::is_begun(app)?) {
        demo::seed(app)?;
        app.settle_file();
    }
    Ok(())
}

#[cfg(feature = "window")]
fn window(app: &Arc<App>) -> Result<(), ApiError> {
    crate::window::open(Arc::clone(app)).map_err(|error| failed(error.to_string()))
}

#[cfg(not(feature = "window"))]
fn window(_app: &Arc<App>) -> Result<(), ApiError> {
    Err(failed(say!("cli-no-window")))
}

/// What a person or a program reads: the one place where words of a survey reach a terminal. Marks that steer it, or
/// turn the reading direction, are shown as they are written in JSON, so that JSON stays what it is.
fn harmless(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        let steers = (letter.is_control() && !matches!(letter, '\n' | '\t'))
            || matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}' | '\u{2029}');
        if steers { out.push_str(&format!("\\u{:04x}", u32::from(letter))) } else { out.push(letter) }
    }
    out
}

/// Words of a survey that are to stay in one line and one column.
fn flat(text: &str) -> String {
    text.replace(['\n', '\r', '\t'], " ")
}

fn tell(text: &str) {
    // Nobody may listen.
    let _unheard = writeln!(std::io::stderr(), "{}", harmless(text));
}

fn print(text: &str) -> Result<(), ApiError> {
    std::io::stdout()
        .lock()
        .write_all(harmless(text).as_bytes())
        .map_err(|error| failed(say!("cli-standard-output", why = error.to_string())))
}

/// A sentence on a line of its own.
fn print_line(words: &Message) -> Result<(), ApiError> {
    print(&format!("{}\n", flat(&words.words())))
}

/// How many rows a table has.
fn table_rows(count: u32) -> Message {
    say!("cli-table-rows", count = count)
}

fn pretty(value: &impl serde::Serialize) -> Result<String, ApiError> {
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(|error| failed(error.to_string()))
}

/// Largest list of patterns read, in bytes.
const LARGEST_LIST: u64 = 4 * 1024 * 1024;

fn is_bundle(path: &Path) -> Result<bool, ApiError> {
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip")) {
        return Ok(true);
    }
    let mut start = Vec::new();
    match fs::File::open(path).and_then(|file| file.take(2).read_to_end(&mut start)) {
        Ok(_) => Ok(start == b"PK"),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            Err(not_found(&say!("cli-no-file", file = path.display().to_string())))
        }
        Err(error) => Err(wrong_file(path, &error)),
    }
}

fn import(app: &Asked, path: &Path) -> Result<(), ApiError> {
    let bytes = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let mut input = std::io::stdin().lock().take(file::LARGEST as u64 + 1);
        input.read_to_end(&mut bytes).map_err(|error| failed(say!("cli-standard-input", why = error.to_string())))?;
        bytes
    } else if is_bundle(path)? {
        let length = fs::metadata(path).map_err(|error| wrong_file(path, &error))?.len();
        if length > LARGEST_BUNDLE {
            return Err(ApiError::refused(vec![survey::Problem::refused(
                path.display().to_string(),
                say!("cli-bytes", bytes = length.to_string()),
                say!("problem-large"),
                say!("remedy-bundle-large", size = (LARGEST_BUNDLE / 1024 / 1024).to_string()),
            )]));
        }
        return print(&pretty(&app.import_bundle_file(path)?)?);
    } else {
        files::read(path, file::LARGEST as u64)?
    };
    let SurveyTaken { told, view } = app.import_survey(ImportSurvey { text: text(bytes)? })?;
    told.iter().for_each(|line| tell(&flat(line)));
    print(&format!("{} {}\n", flat(&view.board.reference), view.board.id))
}

fn text(bytes: Vec<u8>) -> Result<String, ApiError> {
    String::from_utf8(bytes).map_err(|error| {
        ApiError::refused(vec![survey::Problem::refused(
            say!("cli-byte", place = error.utf8_error().valid_up_to()).to_string(),
            "",
            say!("problem-no-utf8"),
            say!("remedy-no-utf8"),
        )])
    })
}

fn find_board(app: &Asked, wanted: &str) -> Result<BoardId, ApiError> {
    if let Ok(id) = wanted.parse() {
        return Ok(id);
    }
    let rows = app.list_boards(ListBoards { query: wanted.to_owned(), limit: 1000 })?.rows;
    let mut named = rows.iter().filter(|row| row.reference == wanted);
    match (named.next(), named.next()) {
        (Some(row), None) => Ok(row.id),
        (Some(_), Some(_)) => Err(not_found(&say!("cli-several-boards", board = wanted.to_owned()))),
        (None, _) => Err(not_found(&say!("cli-no-board", board = wanted.to_owned()))),
    }
}

fn find_site(app: &Asked, wanted: &str) -> Result<SiteId, ApiError> {
    let sites = app.list_sites(ListSites {})?;
    let id = wanted.parse().ok();
    sites
        .iter()
        .find(|site| Some(site.id) == id || site.name == wanted)
        .map(|site| site.id)
        .ok_or_else(|| not_found(&say!("cli-no-site", site = wanted.to_owned())))
}

fn open(app: &Asked, wanted: &str) -> Result<BoardView, ApiError> {
    app.open_board(OpenBoard { board: find_board(app, wanted)? })
}

/// The cautions owed by what is printed, a line each.
fn cautions(outlet: Outlet) -> String {
    crate::cautions(outlet).iter().map(|caution| format!("  {caution}\n")).collect()
}

fn findings(view: &BoardView) -> String {
    let mut text = format!("{} {}\n", flat(&view.board.reference), flat(&view.board.place));
    text.push_str(&cautions(Outlet::Findings));
    for check in &view.checks {
        let subject = plate::subject_name(&view.board, check.subject);
        let finding = say!("cli-finding", subject = subject, sentence = check.sentence.clone());
        text.push_str(&format!("{:<13} {}\n", check.verdict.words(), flat(&finding.words())));
        text.push_str(&format!("              {}   [{}]\n", check.inequality, check.clause));
        if !check.tables.is_empty() {
            let tables = say!("findings-tables", tables = check.tables.clone());
            text.push_str(&format!("              {}\n", flat(&tables.words())));
        }
        for errand in errand::errands(&view.board, &check.next) {
            let what = match check.subject {
                Subject::Circuit(_) => errand.what,
                _ if errand.of.is_empty() => errand.what,
                _ => say!("cli-next-of", of = errand.of, what = errand.what),
            };
            let share = format!("{:.0}", (errand.settles * 100.0).min(100.0));
            let next = say!("cli-next-settles", what = what, share = share);
            text.push_str(&format!("              {}\n", flat(&next.words())));
        }
    }
    for (index, reading) in view.readings.iter().enumerate() {
        let line = say!(
            "cli-reading",
            number = index + 1,
            label = reading.label.clone(),
            what = reading.what.clone(),
            count = reading.checks
        );
        text.push_str(&format!("{}\n", flat(&line.words())));
    }
    for conflict in &view.conflicts {
        let values: Vec<&str> = conflict.values.iter().map(|value| value.shown.as_str()).collect();
        let line = say!(
            "cli-conflict-values",
            field = conflict.label.clone(),
            path = conflict.path.clone(),
            values = values.join(" / ")
        );
        text.push_str(&format!("{:<9} {}\n", say!("cli-conflict"), flat(&line.words())));
    }
    for problem in &view.problems {
        let word = if problem.severity == Severity::Refused { say!("cli-wrong") } else { say!("cli-doubt") };
        text.push_str(&format!("{word:<9} {}\n", flat(&problem.to_string())));
    }
    text
}

fn first_pole(poles: &str) -> &str {
    poles.split(' ').next().unwrap_or_default()
}

fn set_intent(text: &str) -> Result<survey::intent::Intent, ApiError> {
    let Some((path, value)) = text.split_once('=') else {
        return Err(ApiError::refused(vec![survey::Problem::refused(
            "--set",
            text,
            say!("problem-no-set"),
            say!("remedy-no-set"),
        )]));
    };
    let value = serde_json::from_str(value).unwrap_or_else(|_| serde_json::Value::String(value.to_owned()));
    Ok(survey::intent::Intent::Set { path: path.to_owned(), value })
}

fn what_if(found: &api::WhatIfReply) -> String {
    let tally = |[fail, advised, undecided, hold]: [u32; 4]| {
        say!("findings-tally", fail = fail, advised = advised, undecided = undecided, hold = hold)
    };
    let mut text = cautions(Outlet::Weighed);
    let (now, then) = (tally(found.before), tally(found.after));
    text.push_str(&format!("{}\n{}\n", say!("cli-now", tally = now), say!("cli-then", tally = then)));
    let word =
        |check: &Option<survey::Check>| check.as_ref().map_or(Message::plain("-"), |check| check.verdict.words());
    for change in &found.changes {
        let sentence = change.after.as_ref().or(change.before.as_ref()).map(|check| check.sentence.clone());
        let finding = say!("cli-finding", subject = change.subject.clone(), sentence = sentence.unwrap_or_default());
        let (before, after) = (word(&change.before), word(&change.after));
        text.push_str(&format!("{before:<13} -> {after:<13} {}\n", flat(&finding.words())));
    }
    text
}

fn balance(app: &Asked, board: BoardId, json: bool, enter: bool) -> Result<(), ApiError> {
    let request = api::Allocate { board, fixed: Vec::new(), together: Vec::new(), apart: Vec::new() };
    let found = app.allocate(request)?;
    if json {
        print(&pretty(&found)?)?;
    } else {
        let mut text = cautions(Outlet::Weighed);
        let line = say!(
            "cli-balance",
            largest_before = found.before.largest,
            largest = found.after.largest,
            neutral_before = found.before.neutral,
            neutral = found.after.neutral,
            bound = found.bound,
            proven = found.proven
        );
        text.push_str(&format!("{line}\n"));
        text.push_str(&format!("{}\n", found.rests_on));
        for (index, step) in found.steps.iter().enumerate() {
            text.push_str(&format!("{}. {}\n", index + 1, flat(&step.words())));
        }
        print(&text)?;
    }
    if let Some(intent) = found.intent.filter(|_| enter) {
        let intent = serde_json::from_value(intent).map_err(|error| failed(error.to_string()))?;
        app.edit(api::Edit { board, intent, have: None })?;
    }
    Ok(())
}

fn sizes(found: &api::SizingReply) -> String {
    let mut text = cautions(Outlet::Weighed);
    for row in &found.tried {
        let word = match row.verdict {
            Verdict::Holds => say!("cli-size-holds"),
            Verdict::Fails | Verdict::Advised => say!("cli-size-no"),
            Verdict::Undecided if row.next.is_empty() => say!("cli-size-only-if"),
            Verdict::Undecided => say!("cli-size-only-if-read", next = row.next.clone()),
        };
        let line = match &row.cpc {
            Some(cpc) => say!("cli-size-with-cpc", size = row.size.clone(), cpc = cpc.clone(), verdict = word),
            None => say!("cli-size", size = row.size.clone(), verdict = word),
        };
        text.push_str(&format!("{line}\n"));
        for why in row.against.iter().chain(&row.open) {
            text.push_str(&format!("    {why}\n"));
        }
    }
    if found.chosen.is_none() {
        text.push_str(&format!("{}\n", say!("cli-size-none")));
    }
    text
}

fn fault_table(found: &api::FaultTable) -> String {
    let mut text = cautions(Outlet::Weighed);
    if !found.from.is_empty() {
        text.push_str(&format!("{}\n", say!("cli-fault-from", from = found.from.clone())));
    }
    for row in &found.rows {
        text.push_str(&format!("{}\n", flat(&row.place.words())));
        for (current, line) in [
            (&row.three_phase, say!("cli-fault-three-phase", current = row.three_phase.clone())),
            (&row.line_line, say!("cli-fault-line-line", current = row.line_line.clone())),
            (&row.line_neutral, say!("cli-fault-line-neutral", current = row.line_neutral.clone())),
            (&row.line_earth, say!("cli-fault-line-earth", current = row.line_earth.clone())),
        ] {
            if !current.is_empty() {
                text.push_str(&format!("    {line}\n"));
            }
        }
        for next in &row.next {
            text.push_str(&format!("    {}\n", say!("cli-next", what = next.clone())));
        }
    }
    for note in &found.notes {
        text.push_str(&format!("{note}\n"));
    }
    text
}

fn papers(app: &Asked, wanted: &str, folder: &Path) -> Result<(), ApiError> {
    let board = find_board(app, wanted)?;
    app.damage(board)?.iter().for_each(|line| tell(line));
    app.with_papers(board, |input| {
        for (kind, formats) in papers::offered(input.board) {
            for format in formats {
                let file = papers::write(input, kind, format).map_err(paper_error)?;
                let path = folder.join(&file.name);
                files::write(&path, &file.bytes)?;
                print(&format!("{}\n", path.display()))?;
            }
        }
        Ok(())
    })
}
