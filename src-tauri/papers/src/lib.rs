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

use survey::{Amps, Board, Caution, Check, CircuitId, Outlet, PlateId, Range, say};

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

    const fn words(self) -> &'static str {
        match self {
            Self::A3 => "on A3",
            Self::Mirrored => "mirrored for the inside",
            Self::A3Mirrored => "on A3, mirrored for the inside",
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
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let shown: String = text.chars().take(60).collect();
        let wrong = || {
            format!(
                "\"{shown}\" is no paper: write circuit-chart, findings, marker-sheet, drilling-template:<plate id>, order-list or schedule"
            )
        };
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
    pub fn name(self, board: &Board) -> String {
        match self {
            Self::CircuitChart => "Circuit chart".to_owned(),
            Self::DrillingTemplate(plate) => {
                let words = plate::plate_name(board, plate);
                format!("Drilling template, {words}")
            }
            Self::TemplateVariant(plate, variant) => {
                format!("{}, {}", Self::DrillingTemplate(plate).name(board), variant.words())
            }
            Self::Findings => "Findings".to_owned(),
            Self::MarkerSheet => "Marker sheet for photos".to_owned(),
            Self::OrderList => "Order list".to_owned(),
            Self::Schedule => say!("paper-schedule").to_string(),
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
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let shown: String = text.chars().take(20).collect();
        Self::ALL
            .iter()
            .copied()
            .find(|format| format.extension() == text)
            .ok_or_else(|| format!("\"{shown}\" is no format: write pdf, dxf, svg, xlsx or csv"))
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
pub enum PaperError {
    /// This paper does not come in this format.
    #[error("a {kind} does not come as {}: pick another format", format.extension())]
    NoSuchFormat {
        /// The paper's key.
        kind: String,
        /// The format asked for.
        format: Format,
    },
    /// The plate cannot be set out.
    #[error(transparent)]
    NotReady(#[from] plate::NotReady),
    /// The plate is too large for a paper template.
    #[error("the template would take {sheets} sheets, {MOST_SHEETS} at most: use the DXF or SVG")]
    TooManySheets {
        /// Sheets it would take.
        sheets: usize,
    },
    /// This build has no typesetter.
    #[error(
        "this build sets no pages: drawings and tables are written by it, papers by one with the feature `typeset`"
    )]
    NoPages,
    /// The typesetter or a writer refused: a fault of this program.
    #[error("{0}")]
    Fault(String),
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
            drawing::dxf(input, &plate::setting_out(input.board, plate, input.plate_tables)?).into_bytes()
        }
        (Kind::DrillingTemplate(plate), Format::Svg) => {
            drawing::svg(input, &plate::setting_out(input.board, plate, input.plate_tables)?).into_bytes()
        }
        (Kind::OrderList, Format::Xlsx) => order::xlsx(input)?,
        (Kind::OrderList, Format::Csv) => order::csv(input),
        (Kind::Schedule, Format::Xlsx) => schedule::xlsx(input)?,
        (Kind::Schedule, Format::Csv) => schedule::csv(input),
        (_, _) => {
            return Err(PaperError::NoSuchFormat { kind: kind.to_string(), format });
        }
    };
    let what = match kind {
        Kind::CircuitChart => "circuit-chart".to_owned(),
        Kind::Findings => "findings".to_owned(),
        Kind::MarkerSheet => "marker-sheet".to_owned(),
        Kind::DrillingTemplate(plate) => format!("{}-template", plate::plate_name(input.board, plate)),
        Kind::TemplateVariant(plate, variant) => {
            format!("{}-template-{}", plate::plate_name(input.board, plate), variant.key())
        }
        Kind::OrderList => "order-list".to_owned(),
        Kind::Schedule => "schedule".to_owned(),
    };
    let name = format!("{}-{}.{}", text::file_stem(&input.board.reference), text::file_stem(&what), format.extension());
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
