//! The papers of a board: circuit chart, findings, drilling template, order list, as PDF, DXF, SVG, XLSX and CSV.
//!
//! Typst sets the PDF, as a library: it breaks tables over pages with their headers repeated, and it
//! writes tagged PDF. It sees no file and no network; fonts, date and data are handed to it, so the
//! same input gives the same bytes.

#[cfg(feature = "typeset")]
mod chart;
mod curves;
mod drawing;
#[cfg(feature = "typeset")]
mod engine;
#[cfg(feature = "typeset")]
mod findings;
#[cfg(feature = "typeset")]
mod head;
#[cfg(feature = "typeset")]
mod marker;
mod order;
#[cfg(feature = "typeset")]
mod order_page;
#[cfg(feature = "typeset")]
mod pages;
#[cfg(not(feature = "typeset"))]
mod pages {
    use crate::{Kind, PaperError, PaperInput};

    pub(crate) fn pdf(_: &PaperInput, _: Kind) -> Result<Vec<u8>, PaperError> {
        Err(PaperError::NoPages)
    }
    pub(crate) fn svg(_: &PaperInput, _: Kind) -> Result<Vec<String>, PaperError> {
        Err(PaperError::NoPages)
    }
}
mod schedule;
#[cfg(feature = "typeset")]
mod template;
mod text;

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use survey::message::Argument;
use survey::pattern::Face;
use survey::{Amps, Board, Caution, Check, CircuitId, Message, Outlet, PlateId, Range, say};

pub use curves::time_current;
pub use order::{ALLOWANCE_PERCENT, Group, OrderLine, Unit, order_lines};

/// Most sheets a template may take.
pub const MOST_SHEETS: usize = 60;

/// How a template is printed, where not on A4 as the plate is seen from outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Variant {
    /// On A3.
    A3,
    /// Mirrored, for marking out from inside.
    Mirrored,
    /// Both.
    A3Mirrored,
}

impl Variant {
    /// Every variant.
    pub const ALL: [Self; 3] = [Self::A3, Self::Mirrored, Self::A3Mirrored];

    const fn key(self) -> &'static str {
        match self {
            Self::A3 => "a3",
            Self::Mirrored => "mirrored",
            Self::A3Mirrored => "a3-mirrored",
        }
    }

    /// It is printed on A3.
    #[must_use]
    pub const fn is_a3(self) -> bool {
        matches!(self, Self::A3 | Self::A3Mirrored)
    }

    /// It shows the plate from inside.
    #[must_use]
    pub const fn is_mirrored(self) -> bool {
        matches!(self, Self::Mirrored | Self::A3Mirrored)
    }
}

/// A paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The chart of circuits, pole by pole.
    CircuitChart,
    /// Every check with its numbers, and the readings to take next.
    Findings,
    /// The 1:1 template of a gland plate, on A4, seen from outside.
    DrillingTemplate(PlateId),
    /// The same on other paper, or seen from inside.
    TemplateVariant(PlateId, Variant),
    /// The sheet that gives a photo of a plate its scale.
    MarkerSheet,
    /// What to buy.
    OrderList,
    /// Every field in which something stands, as tables.
    Schedule,
}

impl fmt::Display for Kind {
    /// A key: "circuit-chart", "findings", "drilling-template:PLATE-ID", "drilling-template-a3:PLATE-ID", "order-list", "schedule".
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CircuitChart => out.write_str("circuit-chart"),
            Self::Findings => out.write_str("findings"),
            Self::MarkerSheet => out.write_str("marker-sheet"),
            Self::DrillingTemplate(plate) => write!(out, "drilling-template:{plate}"),
            Self::TemplateVariant(plate, variant) => write!(out, "drilling-template-{}:{plate}", variant.key()),
            Self::OrderList => out.write_str("order-list"),
            Self::Schedule => out.write_str("schedule"),
        }
    }
}

impl FromStr for Kind {
    type Err = Message;
    fn from_str(text: &str) -> Result<Self, Message> {
        let wrong = || say!("paper-no-such", paper = text.chars().take(60).collect::<String>());
        match text {
            "circuit-chart" => Ok(Self::CircuitChart),
            "findings" => Ok(Self::Findings),
            "marker-sheet" => Ok(Self::MarkerSheet),
            "order-list" => Ok(Self::OrderList),
            "schedule" => Ok(Self::Schedule),
            _ => {
                let (kind, plate) = text.split_once(':').ok_or_else(wrong)?;
                let plate = plate.parse().map_err(|_| wrong())?;
                let rest = kind.strip_prefix("drilling-template").ok_or_else(wrong)?;
                if rest.is_empty() {
                    return Ok(Self::DrillingTemplate(plate));
                }
                let variant = Variant::ALL.into_iter().find(|variant| rest.strip_prefix('-') == Some(variant.key()));
                variant.map(|variant| Self::TemplateVariant(plate, variant)).ok_or_else(wrong)
            }
        }
    }
}

impl Kind {
    /// What a person calls it: "Drilling template, bottom plate".
    #[must_use]
    pub fn name(self, board: &Board) -> Message {
        match self {
            Self::DrillingTemplate(plate) => say!("paper-template-of", plate = plate::plate_name(board, plate)),
            Self::TemplateVariant(plate, variant) => say!(
                "paper-template-variant",
                paper = Self::DrillingTemplate(plate).name(board),
                variant = Argument::Choice(variant.key())
            ),
            other => other.what(),
        }
    }

    /// The same without the plate it is of.
    pub(crate) const fn what(self) -> Message {
        Message::bare(match self {
            Self::CircuitChart => "paper-circuit-chart",
            Self::Findings => "paper-findings",
            Self::MarkerSheet => "paper-marker-sheet",
            Self::DrillingTemplate(_) | Self::TemplateVariant(..) => "paper-template",
            Self::OrderList => "paper-order-list",
            Self::Schedule => "paper-schedule",
        })
    }

    /// Its part of a file's name: the same in every language.
    fn file_part(self, board: &Board) -> String {
        match self {
            Self::DrillingTemplate(plate) => format!("{}-template", plate_part(board, plate)),
            Self::TemplateVariant(plate, variant) => format!("{}-template-{}", plate_part(board, plate), variant.key()),
            other => other.to_string(),
        }
    }

    /// Where it stands among what owes cautions: they are shown before the paper is used.
    #[must_use]
    pub const fn outlet(self) -> Outlet {
        match self {
            Self::CircuitChart => Outlet::CircuitChart,
            Self::Findings => Outlet::FindingsPaper,
            Self::MarkerSheet => Outlet::MarkerSheet,
            Self::DrillingTemplate(_) | Self::TemplateVariant(..) => Outlet::Drilling,
            Self::OrderList => Outlet::OrderList,
            Self::Schedule => Outlet::Schedule,
        }
    }
}

impl PaperInput<'_> {
    /// What the head of a paper says of a board that lacks saved changes; empty where it lacks none.
    pub(crate) fn lack(&self) -> String {
        if self.incomplete { say!("paper-incomplete").to_string() } else { String::new() }
    }

    /// What the paper is and of which board.
    pub(crate) fn title(&self, kind: Kind) -> String {
        say!("paper-of-board", paper = kind.what(), board = text::line(&self.board.reference)).to_string()
    }

    /// The site's name as a line of a drawing or table, with what the board lacks.
    pub(crate) fn site_line(&self) -> String {
        let parts = [self.lack(), text::line(self.site)];
        parts.iter().filter(|part| !part.is_empty()).map(String::as_str).collect::<Vec<_>>().join(" · ")
    }
}

/// The first caution of a paper or drawing, for its foot.
pub(crate) fn first_caution(outlet: Outlet) -> String {
    outlet.owed().first().map(|caution| caution.message().to_string()).unwrap_or_default()
}

/// The first two, for a drawing that is drilled from.
pub(crate) fn drilling_cautions() -> [String; 2] {
    [Caution::Work, Caution::PlateOff].map(|caution| caution.message().to_string())
}

/// A file format.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Format {
    /// For print.
    Pdf,
    /// For a machine or a drawing program, release 12.
    Dxf,
    /// A drawing in millimetres.
    Svg,
    /// A spreadsheet.
    Xlsx,
    /// Comma-separated values, UTF-8 with a byte order mark.
    Csv,
}

impl Format {
    /// Every format.
    pub const ALL: &'static [Self] = &[Self::Pdf, Self::Dxf, Self::Svg, Self::Xlsx, Self::Csv];

    /// The end of a file name, and the key: "pdf".
    #[must_use]
    pub const fn extension(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Dxf => "dxf",
            Self::Svg => "svg",
            Self::Xlsx => "xlsx",
            Self::Csv => "csv",
        }
    }

    /// The media type.
    #[must_use]
    pub const fn media(self) -> &'static str {
        match self {
            Self::Pdf => "application/pdf",
            Self::Dxf => "image/vnd.dxf",
            Self::Svg => "image/svg+xml",
            Self::Xlsx => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            Self::Csv => "text/csv; charset=utf-8",
        }
    }
}

impl FromStr for Format {
    type Err = Message;
    fn from_str(text: &str) -> Result<Self, Message> {
        Self::ALL
            .iter()
            .copied()
            .find(|format| format.extension() == text)
            .ok_or_else(|| say!("paper-no-such-format", format = text.chars().take(20).collect::<String>()))
    }
}

/// A plate in a file's name: its face, and which of those there where it has several.
fn plate_part(board: &Board, id: PlateId) -> String {
    let Some(plate) = board.plates.get(&id) else { return "plate".to_owned() };
    let face = match plate.face {
        Face::Top => "top",
        Face::Bottom => "bottom",
        Face::Left => "left",
        Face::Right => "right",
        Face::Back => "back",
    };
    let same: Vec<PlateId> =
        board.live_plates().filter(|(_, other)| other.face == plate.face).map(|(other, _)| other).collect();
    match same.iter().position(|other| *other == id) {
        Some(index) if same.len() > 1 => format!("{face}-plate-{}", index + 1),
        _ => format!("{face}-plate"),
    }
}

/// All a paper is made from. The date is text: the caller holds the clock.
#[derive(Clone, Copy, Debug)]
pub struct PaperInput<'a> {
    /// The board.
    pub board: &'a Board,
    /// Its checks, of circuits and plates.
    pub checks: &'a [Check],
    /// Name of the site.
    pub site: &'a str,
    /// Saved changes of the board are lost: every paper says so in its head.
    pub incomplete: bool,
    /// The day it is written, as printed: "2026-11-25".
    pub date: &'a str,
    /// Design currents of its circuits, as far as they are known.
    pub design_currents: &'a BTreeMap<CircuitId, Range<Amps>>,
    /// Tables of glands and holes.
    pub plate_tables: &'a plate::Tables,
}

/// A written paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct File {
    /// A name safe on any file system, from the board's reference.
    pub name: String,
    /// Media type.
    pub media: &'static str,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// Why a paper cannot be written.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum PaperError {
    /// This paper does not come in this format.
    NoSuchFormat {
        /// The paper.
        kind: Kind,
        /// The format asked for.
        format: Format,
    },
    /// The plate cannot be set out.
    NotReady(#[from] plate::NotReady),
    /// The plate is too large for a paper template.
    TooManySheets {
        /// Sheets it would take.
        sheets: usize,
    },
    /// This build has no typesetter.
    NoPages,
    /// The typesetter or a writer refused: a fault of this program.
    Fault(Message),
}

impl PaperError {
    /// What is wrong and what would do.
    #[must_use]
    pub fn message(&self) -> Message {
        match self {
            Self::NoSuchFormat { kind, format } => {
                say!("paper-not-in-format", paper = kind.to_string(), format = format.extension())
            }
            Self::NotReady(error) => say!("paper-plate-not-ready", place = error.place(), why = error.message()),
            Self::TooManySheets { sheets } => say!("paper-too-many-sheets", sheets = *sheets, most = MOST_SHEETS),
            Self::NoPages => say!("paper-no-pages"),
            Self::Fault(why) => why.clone(),
        }
    }
}

/// The papers this board has, with their formats. A template is on offer for each plate whose size
/// is known.
#[must_use]
pub fn offered(board: &Board) -> Vec<(Kind, Vec<Format>)> {
    let mut all = vec![(Kind::CircuitChart, vec![Format::Pdf]), (Kind::Findings, vec![Format::Pdf])];
    let tables = plate::Tables::shipped();
    for (id, _) in board.live_plates().filter(|(id, _)| plate::setting_out(board, *id, tables).is_ok()) {
        all.push((Kind::DrillingTemplate(id), vec![Format::Pdf, Format::Dxf, Format::Svg]));
        all.extend(Variant::ALL.map(|variant| (Kind::TemplateVariant(id, variant), vec![Format::Pdf])));
    }
    if board.live_plates().next().is_some() {
        all.push((Kind::MarkerSheet, vec![Format::Pdf]));
    }
    all.push((Kind::OrderList, vec![Format::Xlsx, Format::Csv, Format::Pdf]));
    all.push((Kind::Schedule, vec![Format::Xlsx, Format::Csv]));
    if cfg!(not(feature = "typeset")) {
        for (_, formats) in &mut all {
            formats.retain(|format| *format != Format::Pdf);
        }
        all.retain(|(_, formats)| !formats.is_empty());
    }
    all
}

/// Writes a paper.
///
/// # Errors
/// [`PaperError`] says what is missing or which format would do.
pub fn write(input: &PaperInput, kind: Kind, format: Format) -> Result<File, PaperError> {
    let bytes = match (kind, format) {
        (_, Format::Pdf) => pages::pdf(input, kind)?,
        (Kind::DrillingTemplate(plate), Format::Dxf) => {
            drawing::dxf(input, &plate::setting_out(input.board, plate, input.plate_tables)?)
        }
        (Kind::DrillingTemplate(plate), Format::Svg) => {
            drawing::svg(input, &plate::setting_out(input.board, plate, input.plate_tables)?).into_bytes()
        }
        (Kind::OrderList, Format::Xlsx) => order::xlsx(input)?,
        (Kind::OrderList, Format::Csv) => order::csv(input),
        (Kind::Schedule, Format::Xlsx) => schedule::xlsx(input)?,
        (Kind::Schedule, Format::Csv) => schedule::csv(input),
        (_, _) => {
            return Err(PaperError::NoSuchFormat { kind, format });
        }
    };
    let (reference, what) = (text::file_stem(&input.board.reference), kind.file_part(input.board));
    let name = format!("{reference}-{what}.{}", format.extension());
    Ok(File { name, media: format.media(), bytes })
}

/// The pages of a paper as SVG for the screen. Letters are outlines; each page carries its text in a
/// `desc` for those who have it read out.
///
/// # Errors
/// As [`write()`].
pub fn preview(input: &PaperInput, kind: Kind) -> Result<Vec<String>, PaperError> {
    pages::svg(input, kind)
}
