//! Typst as a library: one template, one data file, the shipped fonts, nothing else.

use std::path::PathBuf;
use std::sync::LazyLock;

use serde::Serialize;
use survey::{Message, say};
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::layout::{Frame, FrameItem};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;
use typst_svg::SvgOptions;

use crate::PaperError;
use crate::text::xml;

struct Shared {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static SHARED: LazyLock<Shared> = LazyLock::new(|| {
    let faces: [&'static [u8]; 2] = [
        include_bytes!("../../../seed-data/fonts/DejaVuSans.ttf"),
        include_bytes!("../../../seed-data/fonts/DejaVuSans-Bold.ttf"),
    ];
    let fonts: Vec<Font> = faces.into_iter().flat_map(|face| Font::iter(Bytes::new(face))).collect();
    Shared { library: LazyHash::new(Library::default()), book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
});

struct Press {
    main: Source,
    data: FileId,
    json: Bytes,
}

impl World for Press {
    fn library(&self) -> &LazyHash<Library> {
        &SHARED.library
    }
    fn book(&self) -> &LazyHash<FontBook> {
        &SHARED.book
    }
    fn main(&self) -> FileId {
        self.main.id()
    }
    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(FileError::NotFound(PathBuf::new())) }
    }
    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.data { Ok(self.json.clone()) } else { Err(FileError::NotFound(PathBuf::new())) }
    }
    fn font(&self, index: usize) -> Option<Font> {
        SHARED.fonts.get(index).cloned()
    }
    /// No clock: a date is part of the data.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

/// What the typesetter refused, in its own words.
fn told(errors: impl IntoIterator<Item = SourceDiagnostic>) -> String {
    errors.into_iter().take(3).map(|error| error.message.to_string()).collect::<Vec<_>>().join("; ")
}

fn not_set(why: impl Into<String>) -> PaperError {
    PaperError::Fault(say!("paper-fault-set", why = why.into()))
}

/// A set document. Dropping it empties the typesetter's memory, which would else grow for ever.
pub(crate) struct Document {
    pages: PagedDocument,
}

impl Drop for Document {
    fn drop(&mut self) {
        typst::comemo::evict(0);
    }
}

fn virtual_file(name: &str) -> Result<FileId, PaperError> {
    let path = VirtualPath::new(name).map_err(|error| not_set(error.to_string()))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

/// Sets a template. The data reaches it as the JSON file `data.json`, so that no text in it is ever
/// read as markup.
pub(crate) fn compile(template: &str, data: &impl Serialize) -> Result<Document, PaperError> {
    let json = serde_json::to_vec(data).map_err(|error| not_set(error.to_string()))?;
    let press = Press {
        main: Source::new(virtual_file("/main.typ")?, template.to_owned()),
        data: virtual_file("/data.json")?,
        json: Bytes::new(json),
    };
    let set = typst::compile::<PagedDocument>(&press).output;
    match set {
        Ok(pages) => Ok(Document { pages }),
        Err(errors) => {
            typst::comemo::evict(0);
            Err(not_set(told(errors)))
        }
    }
}

impl Document {
    /// As PDF. `ident` names the document; title and text come from the template.
    pub fn pdf(&self, ident: &str) -> Result<Vec<u8>, PaperError> {
        let options = PdfOptions {
            ident: Smart::Custom(ident.to_owned()),
            creator: Smart::Custom(Some("Waywright".to_owned())),
            ..PdfOptions::default()
        };
        typst_pdf::pdf(&self.pages, &options)
            .map_err(|errors| PaperError::Fault(say!("paper-fault-written", why = told(errors))))
    }

    /// As PDF that asks to be printed true to size: dialogues that heed it offer no scaling
    /// (ISO 32000-1, 12.2, PrintScaling).
    pub fn pdf_true_to_size(&self, ident: &str) -> Result<Vec<u8>, PaperError> {
        unscaled(self.pdf(ident)?).ok_or_else(|| PaperError::Fault(say!("paper-fault-scaling")))
    }

    /// Each page as SVG with its text in a `desc`.
    pub fn svg_pages(&self, name: &Message) -> Vec<String> {
        let pages = self.pages.pages();
        let options = SvgOptions { render_bleed: false, pretty: false };
        pages
            .iter()
            .enumerate()
            .map(|(index, page)| {
                let mut text = String::new();
                words(&page.frame, &mut text);
                let svg = typst_svg::svg(page, &options);
                let title = say!("paper-preview", paper = name.clone(), page = index + 1, pages = pages.len());
                let about = format!("<title>{}</title><desc>{}</desc>", xml(&title.words()), xml(text.trim()));
                match svg.find('>') {
                    Some(end) => format!("{}{about}{}", &svg[..=end], &svg[end + 1..]),
                    None => svg,
                }
            })
            .collect()
    }
}

/// The viewer's preferences as the typesetter writes them, up to where another goes.
const PREFERENCES: &[u8] = b"/ViewerPreferences<</Direction/L2R";
const UNSCALED: &[u8] = b"/PrintScaling/None";

/// Puts the print scaling into the catalogue and moves what the cross-reference table says of all behind it;
/// `None` where the file is not as expected.
fn unscaled(mut pdf: Vec<u8>) -> Option<Vec<u8>> {
    let find = |pdf: &[u8], wanted: &[u8]| pdf.windows(wanted.len()).rposition(|part| part == wanted);
    let number = |bytes: &[u8]| std::str::from_utf8(bytes).ok()?.trim().parse::<usize>().ok();
    let place = find(&pdf, PREFERENCES)? + PREFERENCES.len();
    let start_word = find(&pdf, b"startxref")?;
    let end = find(&pdf, b"%%EOF")?;
    let table = number(pdf.get(start_word + b"startxref".len()..end)?)?;
    if place > table || !pdf.get(table..)?.starts_with(b"xref") {
        return None;
    }
    let more = UNSCALED.len();
    // Entries are 20 bytes: ten digits of where the object begins, its generation, n for one in use.
    let trailer = table + find(pdf.get(table..)?, b"trailer")?;
    let mut at = table;
    while at < trailer {
        let line = at + pdf.get(at..trailer)?.iter().position(|byte| *byte == b'\n')?;
        let entry = pdf.get(at..line)?;
        if entry.len() >= 18 && entry.get(17) == Some(&b'n') {
            let offset = number(entry.get(..10)?)?;
            if offset > place {
                let moved = format!("{:010}", offset + more);
                pdf.get_mut(at..at + 10)?.copy_from_slice(moved.as_bytes());
            }
        }
        at = line + 1;
    }
    let tail = format!("startxref\n{}\n%%EOF", table + more);
    pdf.truncate(start_word);
    pdf.extend_from_slice(tail.as_bytes());
    pdf.splice(place..place, UNSCALED.iter().copied());
    Some(pdf)
}

/// The plain text of a frame. Runs that follow each other on a line are joined as they stand.
fn words(frame: &Frame, out: &mut String) {
    let mut end: Option<(f64, f64)> = None;
    for (place, item) in frame.items() {
        let (x, y) = (place.x.to_pt(), place.y.to_pt());
        match item {
            FrameItem::Group(group) => {
                words(&group.frame, out);
                end = None;
            }
            FrameItem::Text(text) => {
                let follows = end.is_some_and(|(last, line)| (x - last).abs() < 0.5 && (y - line).abs() < 0.5);
                if !follows && !out.ends_with(' ') {
                    out.push(' ');
                }
                out.extend(text.text.chars().filter(|letter| *letter != '\u{200b}'));
                end = Some((x + text.width().to_pt(), y));
            }
            _ => {}
        }
    }
}
