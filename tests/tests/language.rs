//! Papers and command line in the lengthened language: what shows plain English there did not come from the catalogue,
//! and what leaves its page or is cut had no room for another language.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use waywright_tests::plain_english::{Reader, plain};
use waywright_tests::webdriver::waywright;

const LONG: [&str; 2] = ["--language", "en-x-long"];

/// The demo's surveys.
const SURVEYS: [&str; 3] = [
    include_str!("../../seed-data/demo/bl-db2.json"),
    include_str!("../../seed-data/demo/br-db3.json"),
    include_str!("../../seed-data/demo/ph-db1.json"),
];
const BOARDS: [&str; 3] = ["BL-DB2", "BR-DB3", "PH-DB1"];

/// Words of papers and command line that are the same in every language.
const SAME: &[&str] = &["Waywright", "waywright", "Zdb"];

/// Runs the program; what it printed, to standard output and to standard error.
fn run(data: &Path, words: &[&str]) -> [String; 2] {
    let output = Command::new(waywright()).arg("--data").arg(data).args(words).output().unwrap();
    [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).unwrap())
}

/// The words of a text that are plain English, each with what stands around it.
fn english(reader: &Reader, text: &str) -> Vec<String> {
    let text: String = text.chars().filter(|letter| *letter != '\u{200b}').collect();
    // Names of files may break at their point.
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ").replace(". csv", ".csv");
    let rest = reader.without_names(&text);
    let words: Vec<&str> = rest.split(' ').collect();
    let found = words.iter().enumerate().filter(|(_, word)| plain(word));
    found.map(|(at, _)| words[at.saturating_sub(3)..(at + 4).min(words.len())].join(" ")).collect()
}

/// What a program of this system prints of a file.
fn told(program: &str, arguments: &[&str], file: &Path) -> String {
    let output = Command::new(program).args(arguments).arg(file).arg("-").output().unwrap();
    assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// What stands between the tags of a text in XML.
fn between_tags(xml: &str) -> String {
    let texts = xml.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text);
    let text = texts.filter(|text| !text.trim().is_empty()).collect::<Vec<_>>().join("\n");
    [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&amp;", "&")]
        .iter()
        .fold(text, |text, (a, b)| text.replace(a, b))
}

/// All words of a paper, as a person sees or hears them.
fn words(file: &Path) -> String {
    let name = file.display().to_string();
    match file.extension().unwrap().to_str().unwrap() {
        // As it is written, cell by cell.
        "pdf" => told("pdftotext", &["-raw"], file),
        "csv" => std::fs::read_to_string(file).unwrap().replace('"', ""),
        "svg" => between_tags(&std::fs::read_to_string(file).unwrap()),
        // Lines by twos: a group's code and its value. Code 1 of an entity is its text.
        "dxf" => {
            let text = String::from_utf8_lossy(&std::fs::read(file).unwrap()).into_owned();
            let lines: Vec<&str> = text.lines().map(str::trim).collect();
            let (mut texts, mut entity) = (Vec::new(), "");
            for pair in lines.chunks_exact(2) {
                match pair[0] {
                    "0" => entity = pair[1],
                    "1" if matches!(entity, "TEXT" | "MTEXT") => texts.push(pair[1].replace("%%c", "Ø")),
                    _ => {}
                }
            }
            assert!(texts.len() >= 5, "{name}: {texts:?}");
            texts.join("\n")
        }
        "xlsx" => {
            let mut book = zip::ZipArchive::new(std::fs::File::open(file).unwrap()).unwrap();
            let mut part = |name: &str| {
                let mut text = String::new();
                book.by_name(name).unwrap().read_to_string(&mut text).unwrap();
                text
            };
            let sheets = part("xl/workbook.xml");
            let sheets = sheets.split("<sheet name=\"").skip(1).map(|rest| rest.split('"').next().unwrap_or_default());
            let title = part("docProps/core.xml");
            let title = title.split("<dc:title>").nth(1).unwrap().split('<').next().unwrap();
            format!(
                "{}\n{title}\n{}",
                sheets.collect::<Vec<_>>().join("\n"),
                between_tags(&part("xl/sharedStrings.xml"))
            )
        }
        other => panic!("{name}: what is in {other}?"),
    }
}

/// Words on a page with their boxes, in points.
struct Page {
    size: [f64; 2],
    words: Vec<(String, [f64; 4])>,
}

fn pages(file: &Path) -> Vec<Page> {
    let text = told("pdftotext", &["-bbox"], file);
    let value = |line: &str, name: &str| -> f64 {
        line.split_once(&format!(" {name}=\"")).unwrap().1.split('"').next().unwrap().parse().unwrap()
    };
    let mut pages: Vec<Page> = Vec::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page ") {
            pages.push(Page { size: [value(line, "width"), value(line, "height")], words: Vec::new() });
        } else if line.starts_with("<word ") {
            let edges = ["xMin", "yMin", "xMax", "yMax"].map(|name| value(line, name));
            pages.last_mut().unwrap().words.push((between_tags(line), edges));
        }
    }
    assert!(pages.iter().any(|page| !page.words.is_empty()), "{}", file.display());
    pages
}

/// Every paper of the demo in every format, in English and in the lengthened language: paths by file name.
struct Papers {
    usual: BTreeMap<String, PathBuf>,
    long: BTreeMap<String, PathBuf>,
    _folder: tempfile::TempDir,
}

/// They are written once.
fn papers() -> &'static Papers {
    static PAPERS: OnceLock<Papers> = OnceLock::new();
    PAPERS.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let data = folder.path().join("data");
        run(&data, &["demo"]);
        let usual = written(&data, &folder.path().join("usual"), &[]);
        Papers { usual, long: written(&data, &folder.path().join("long"), &LONG), _folder: folder }
    })
}

fn written(data: &Path, folder: &Path, language: &[&str]) -> BTreeMap<String, PathBuf> {
    for board in BOARDS {
        let mut words = vec!["papers", board, "--out", folder.to_str().unwrap()];
        words.extend(language);
        let [printed, told] = run(data, &words);
        assert!(printed.lines().all(|line| Path::new(line).is_file()) && told.is_empty(), "{printed}{told}");
    }
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files.map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), path)).collect()
}

/// A reader who knows the demo's words, and what is not moved to the catalogue yet.
fn reader() -> Reader {
    Reader::of(&SURVEYS, SAME)
}

#[test]
fn no_paper_shows_plain_english_in_another_language() {
    let Papers { usual, long, .. } = papers();
    assert_eq!(usual.keys().collect::<Vec<_>>(), long.keys().collect::<Vec<_>>(), "file names are keys");
    for format in ["pdf", "dxf", "svg", "csv", "xlsx"] {
        assert!(long.keys().any(|name| name.ends_with(format)), "{format}");
    }
    let reader = reader();
    let mut faults = Vec::new();
    for (name, path) in long {
        let (text, before) = (words(path), words(&usual[name]));
        assert!(plain(&before) && text.contains('['), "{name}");
        faults.extend(english(&reader, &text).into_iter().map(|words| format!("{name}: {words}")));
        let cuts = [&text, &before].map(|text| text.matches('…').count());
        if cuts[0] > cuts[1] {
            faults.push(format!("{name}: {} texts are cut, in English {}", cuts[0], cuts[1]));
        }
    }
    assert!(faults.is_empty(), "{} in plain English:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn no_word_leaves_its_page_or_lies_on_another() {
    let Papers { usual, long, .. } = papers();
    let mut faults = Vec::new();
    for (language, files) in [("English", usual), ("lengthened", long)] {
        for (name, path) in files.iter().filter(|(name, _)| name.ends_with(".pdf")) {
            for (number, page) in (1..).zip(pages(path)) {
                let [width, height] = page.size;
                for (word, [left, top, right, bottom]) in &page.words {
                    if *left < 0.0 || *top < 0.0 || *right > width || *bottom > height {
                        faults.push(format!("{language} {name} page {number}: {word} leaves the page"));
                    }
                }
                faults.extend(
                    on_each_other(&page).into_iter().map(|both| format!("{language} {name} page {number}: {both}")),
                );
            }
        }
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn words_on_each_other_are_told() {
    let word = |name: &str, left: f64, top: f64| (name.to_owned(), [left, top, left + 10.0, top + 4.0]);
    let words = vec![word("a", 0.0, 0.0), word("b", 9.0, 0.0), word("c", 0.0, 3.5), word("d", 7.0, 0.0)];
    assert_eq!(on_each_other(&Page { size: [20.0, 20.0], words }), ["a lies on d", "b lies on d"]);
}

/// Words of which one covers more than a fifth of the other.
fn on_each_other(page: &Page) -> Vec<String> {
    let mut found = Vec::new();
    for (at, (one, a)) in page.words.iter().enumerate() {
        for (other, b) in &page.words[at + 1..] {
            let [wide, high] = [a[2].min(b[2]) - a[0].max(b[0]), a[3].min(b[3]) - a[1].max(b[1])];
            let area = |edges: &[f64; 4]| (edges[2] - edges[0]) * (edges[3] - edges[1]);
            if wide > 0.0 && high > 0.0 && wide * high > 0.2 * area(a).min(area(b)) {
                found.push(format!("{one} lies on {other}"));
            }
        }
    }
    found
}

/// A command and what it printed.
struct Printed {
    command: String,
    text: String,
}

/// Runs commands one after the other on one store and keeps what each printed.
struct Line<'a> {
    data: &'a Path,
    printed: Vec<Printed>,
}

impl Line<'_> {
    fn say(&mut self, words: &[&str]) -> String {
        let all: Vec<&str> = words.iter().chain(&LONG).copied().collect();
        let [printed, told] = run(self.data, &all);
        let text = format!("{printed}{told}");
        assert!(!text.contains("panicked"), "{text}");
        self.printed.push(Printed { command: words.join(" "), text });
        printed
    }
}

/// A line without the paths of files and fields in it, and the names of tables.
fn without_files(line: &str) -> String {
    let is_file = |word: &&str| {
        let word = word.trim_matches(['(', ')', '[', ']', '"', ':', ',', ';']);
        word.starts_with('/') || circuits::TableTexts::NAMES.contains(&word)
    };
    line.split_whitespace().filter(|word| !is_file(word)).collect::<Vec<_>>().join(" ")
}

#[test]
fn no_command_prints_plain_english_in_another_language() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let data = folder.path().join("data");
    let mut line = Line { data: &data, printed: Vec::new() };
    line.say(&["demo"]);
    // JSON is for programs: keys and choices are the same in every language, and its sentences stand in the text too.
    let survey = line.say(&["export", "PH-DB1"]);
    let survey_json: serde_json::Value = serde_json::from_str(&survey).unwrap();
    let circuit = survey_json["board"]["circuits"].as_object().unwrap();
    let (_, circuit) = circuit.iter().find(|(_, circuit)| circuit["description"] == "Yard lighting").unwrap();
    let cable = circuit["cable"].as_str().unwrap();
    line.printed.clear();

    line.say(&["check"]);
    line.say(&["boards"]);
    for board in BOARDS {
        for command in ["findings", "balance", "fault-currents"] {
            line.say(&[command, board]);
        }
        for circuit in ["1L1", "3L2", "6L2"] {
            line.say(&["size", board, circuit]);
        }
    }
    let set = format!("/cables/{cable}/size={{\"known\":\"decided\",\"value\":\"16 mm2\"}}");
    line.say(&["what-if", "PH-DB1", "--set", &set]);
    line.say(&["what-if", "PH-DB1", "--set", "/supply/ze={\"known\":\"unknown\"}"]);
    line.say(&["balance", "PH-DB1", "--enter"]);
    std::fs::write(at("old.json"), &survey).unwrap();
    line.say(&["import", &at("old.json")]);
    line.say(&["export-site", "Harrow Mere Cider Works", "--out", &at("site.zip")]);
    line.say(&["tables", "--out", &at("tables")]);
    std::fs::create_dir(at("own")).unwrap();
    std::fs::copy(at("tables/cable_make.csv"), at("own/cable_make.csv")).unwrap();
    line.say(&["add-tables", &at("own"), "--whose", "4711"]);
    line.say(&["tables"]);
    line.say(&["size", "PH-DB1", "3L2"]);
    line.say(&["findings", "PH-DB1"]);
    line.say(&["use-our-tables"]);
    // What is refused, or not there.
    std::fs::create_dir(at("none")).unwrap();
    std::fs::write(at("own/cable_make.csv"), "1,2\n").unwrap();
    std::fs::write(at("broken.json"), "{").unwrap();
    std::fs::write(at("latin.json"), [0xff, 0xfe]).unwrap();
    std::fs::write(at("empty.zip"), "PK").unwrap();
    std::fs::write(at("4711.toml"), "[[pattern]]\nkey = 3\n").unwrap();
    for words in [
        &["findings", "4711"][..],
        &["size", "PH-DB1", "99L9"],
        &["export-site", "4711", "--out", &at("4711.zip")],
        &["what-if", "PH-DB1", "--set", "/supply/ze"],
        &["what-if", "PH-DB1", "--set", "/supply/ze={\"known\":\"measured\",\"value\":\"3 bar\"}"],
        &["balance", "BR-DB3"],
        &["import", &at("4711.json")],
        &["import", &at("latin.json")],
        &["add-tables", &at("none"), "--whose", "4711"],
        &["add-tables", &at("4711"), "--whose", "4711"],
        &["add-tables", &at("own"), "--whose", "4711"],
        &["add-tables", &at("tables"), "--whose", ""],
        &["use-our-tables", "4711"],
        &["photo", "PH-DB1", &at("broken.json")],
    ] {
        line.say(words);
    }
    // Names of options, commands and columns, units as they are typed, and what a person typed are the same in every
    // language.
    let same = [
        "--data",
        "--set",
        "PATH=VALUE",
        "3 bar",
        "waywright boards",
        "mohm",
        "Mohm",
        "ohm",
        "construction",
        "checked",
    ];
    let same: Vec<&str> = SAME.iter().copied().chain(same).collect();
    let reader = Reader::of(&SURVEYS, &same);
    let mut faults = Vec::new();
    for Printed { command, text } in &line.printed {
        for line in text.lines() {
            let line = without_files(line);
            faults.extend(english(&reader, &line).into_iter().map(|words| format!("{command}: {words}")));
        }
        let silent = ["photo", "import", "export-site"].iter().any(|one| command.starts_with(one));
        assert!(silent || text.contains('['), "{command}: {text}");
    }
    assert!(faults.is_empty(), "{} in plain English:\n{}", faults.len(), faults.join("\n"));
}
