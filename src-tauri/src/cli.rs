//! The command line: open a store, import, export, findings, papers.
//!
//! Exit codes: 0 done; 1 the machine failed; 2 the command line does not read; 3 the input was
//! refused, each problem on its own line; 4 there is no such thing; 5 `findings --fail` found a
//! check that fails.

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use api::{ApiError, BoardView, ErrorKind, ImportSurvey, ListBoards, ListSites, OpenBoard};
use clap::{Parser, Subcommand};
use survey::{BoardId, Severity, SiteId, Subject, Verdict, file};

use crate::calls::paper_error;
use crate::error::failed;
use crate::{App, CAUTIONS, demo, files, host};

/// Distribution boards: survey, decide, prove, set out, order, label, hand over.
///
/// Exit codes: 0 done; 1 the machine failed; 2 the command line does not read; 3 the input was
/// refused; 4 there is no such thing; 5 `findings --fail` found a check that fails.
#[derive(Parser)]
#[command(name = "waywright", version)]
struct Line {
    /// Folder of the store; else WAYWRIGHT_DATA, else the user's own data folder.
    #[arg(long, global = true, value_name = "FOLDER")]
    data: Option<PathBuf>,
    #[command(subcommand)]
    command: Option<Command>,
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
    /// Print the JSON schema of a survey file.
    Schema,
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    let line = Line::parse();
    match execute(line) {
        Ok(code) => code,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "{}", told(&error));
            ExitCode::from(match error.kind {
                ErrorKind::Failed => 1,
                ErrorKind::Refused => 3,
                ErrorKind::NotFound => 4,
            })
        }
    }
}

fn told(error: &ApiError) -> String {
    if error.problems.is_empty() {
        return error.message.clone();
    }
    error.problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn data_folder(given: Option<PathBuf>) -> Result<PathBuf, ApiError> {
    given
        .or_else(|| std::env::var_os("WAYWRIGHT_DATA").filter(|value| !value.is_empty()).map(PathBuf::from))
        .or_else(|| dirs::data_dir().map(|folder| folder.join("waywright")))
        .ok_or_else(|| failed("no place for the store: give --data FOLDER"))
}

fn execute(line: Line) -> Result<ExitCode, ApiError> {
    if matches!(line.command, Some(Command::Schema)) {
        print(&pretty(&file::schema())?)?;
        return Ok(ExitCode::SUCCESS);
    }
    let app = App::open(&data_folder(line.data)?)?;
    if let Some(note) = app.recovered() {
        let _ = writeln!(std::io::stderr(), "{note}");
    }
    match line.command.unwrap_or(Command::Window { demo: false }) {
        Command::Window { demo } => {
            seed(&app, demo)?;
            window(app)?;
        }
        Command::Serve { demo, port } => {
            seed(&app, demo)?;
            host::serve(Arc::new(app), port)?;
        }
        Command::Demo => seed(&app, true)?,
        Command::Boards { words, json } => {
            let list = app.list_boards(ListBoards { query: words.join(" "), limit: 1000 })?;
            if json {
                print(&pretty(&list.rows)?)?;
            } else {
                for row in list.rows {
                    print(&format!(
                        "{}\t{}\t{}\t{} circuits\t{}\n",
                        row.reference, row.site_name, row.place, row.circuits, row.id
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
            let (name, bytes) = app.bundle(find_site(&app, &site)?)?;
            let path = if out.is_dir() { out.join(name) } else { out };
            files::write(&path, &bytes)?;
            print(&format!("{}\n", path.display()))?;
        }
        Command::Papers { board, out } => papers(&app, &board, &out)?,
        Command::Photo { board, file, pin, caption } => {
            let id = find_board(&app, &board)?;
            app.add_photo_bytes(id, &read(&file)?, &caption, &pin)?;
        }
        Command::AddPatterns { file } => {
            let toml = text(read(&file)?)?;
            for pattern in app.add_patterns(&toml)? {
                print(&format!("{}\t{}\n", pattern.key, pattern.name))?;
            }
        }
        Command::Schema => {}
    }
    Ok(ExitCode::SUCCESS)
}

fn seed(app: &App, wanted: bool) -> Result<(), ApiError> {
    if wanted && app.list_sites(ListSites {})?.is_empty() { demo::seed(app) } else { Ok(()) }
}

#[cfg(feature = "window")]
fn window(app: App) -> Result<(), ApiError> {
    crate::window::open(move |name, body| app.answer(name, body)).map_err(|error| failed(error.to_string()))
}

#[cfg(not(feature = "window"))]
fn window(_app: App) -> Result<(), ApiError> {
    Err(failed("this program was built without the window: use \"waywright serve\""))
}

fn print(text: &str) -> Result<(), ApiError> {
    std::io::stdout().lock().write_all(text.as_bytes()).map_err(|error| failed(format!("standard output: {error}")))
}

fn pretty(value: &impl serde::Serialize) -> Result<String, ApiError> {
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(|error| failed(error.to_string()))
}

/// Largest file read, in bytes: a bundle with its photos.
const LARGEST_FILE: u64 = 2 * 1024 * 1024 * 1024;

fn read(path: &Path) -> Result<Vec<u8>, ApiError> {
    let told = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => ApiError::not_found(format!("{}: there is no such file", path.display())),
        _ => failed(format!("{}: {error}", path.display())),
    };
    if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        std::io::stdin().lock().take(file::LARGEST as u64 + 1).read_to_end(&mut bytes).map_err(told)?;
        return Ok(bytes);
    }
    let length = fs::metadata(path).map_err(told)?.len();
    let limit = if is_bundle(path) { LARGEST_FILE } else { (file::LARGEST as u64).max(store::LARGEST_PHOTO as u64) };
    if length > limit {
        return Err(ApiError::refused(vec![survey::Problem::refused(
            path.display().to_string(),
            format!("{length} bytes"),
            "the file is too large",
            format!("up to {} MB will do", limit / 1024 / 1024),
        )]));
    }
    fs::read(path).map_err(told)
}

fn is_bundle(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip"))
}

fn import(app: &App, path: &Path) -> Result<(), ApiError> {
    let bytes = read(path)?;
    if is_bundle(path) || bytes.starts_with(b"PK") {
        let report = app.import_bundle_bytes(&bytes)?;
        return print(&pretty(&report)?);
    }
    let view = app.import_survey(ImportSurvey { text: text(bytes)? })?;
    print(&format!("{} {}\n", view.board.reference, view.board.id))
}

fn text(bytes: Vec<u8>) -> Result<String, ApiError> {
    String::from_utf8(bytes).map_err(|error| {
        ApiError::refused(vec![survey::Problem::refused(
            format!("byte {}", error.utf8_error().valid_up_to()),
            "",
            "the file is not UTF-8 text",
            "give a text file",
        )])
    })
}

fn find_board(app: &App, wanted: &str) -> Result<BoardId, ApiError> {
    if let Ok(id) = wanted.parse() {
        return Ok(id);
    }
    let rows = app.list_boards(ListBoards { query: wanted.to_owned(), limit: 1000 })?.rows;
    let mut named = rows.iter().filter(|row| row.reference == wanted);
    match (named.next(), named.next()) {
        (Some(row), None) => Ok(row.id),
        (Some(_), Some(_)) => Err(ApiError::not_found(format!(
            "several boards are called {wanted}: give the id, see \"waywright boards\""
        ))),
        (None, _) => Err(ApiError::not_found(format!("there is no board {wanted}: see \"waywright boards\""))),
    }
}

fn find_site(app: &App, wanted: &str) -> Result<SiteId, ApiError> {
    let sites = app.list_sites(ListSites {})?;
    let id = wanted.parse().ok();
    sites
        .iter()
        .find(|site| Some(site.id) == id || site.name == wanted)
        .map(|site| site.id)
        .ok_or_else(|| ApiError::not_found(format!("there is no site \"{wanted}\"")))
}

fn open(app: &App, wanted: &str) -> Result<BoardView, ApiError> {
    app.open_board(OpenBoard { board: find_board(app, wanted)? })
}

fn findings(view: &BoardView) -> String {
    let mut text = format!("{} {}\n", view.board.reference, view.board.place);
    for caution in CAUTIONS {
        text.push_str(&format!("  {caution}\n"));
    }
    for check in &view.checks {
        let subject = match check.subject {
            Subject::Board => "board".to_owned(),
            Subject::Circuit(id) => {
                let row = view.rows.iter().find(|row| row.id == id);
                row.map(|row| format!("circuit {} {}", row.name, row.description)).unwrap_or_default()
            }
            Subject::Plate(id) => {
                view.plates.iter().find(|plate| plate.id == id).map(|plate| plate.name.clone()).unwrap_or_default()
            }
        };
        text.push_str(&format!("{:<9} {subject}: {}\n", check.verdict.words(), check.sentence));
        text.push_str(&format!("          {}   [{}]\n", check.inequality, check.clause));
        for next in &check.next {
            text.push_str(&format!("          next: {} (settles {:.0} %)\n", next.what, next.settles * 100.0));
        }
    }
    for conflict in &view.conflicts {
        let values: Vec<&str> = conflict.values.iter().map(|value| value.shown.as_str()).collect();
        text.push_str(&format!("conflict  {} ({}): {}\n", conflict.label, conflict.path, values.join(" / ")));
    }
    for problem in &view.problems {
        let word = if problem.severity == Severity::Refused { "wrong" } else { "doubt" };
        text.push_str(&format!("{word:<9} {problem}\n"));
    }
    text
}

fn papers(app: &App, wanted: &str, folder: &Path) -> Result<(), ApiError> {
    let board = find_board(app, wanted)?;
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
