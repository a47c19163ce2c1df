//! The papers as pages: PDF for print, SVG for the screen.

use survey::PlateId;

use crate::{Format, Kind, PaperError, PaperInput, Variant, chart, engine, findings, marker, order_page, template};

/// A paper's template: its data, the head that all share, what it is.
macro_rules! set_with_head {
    ($name:literal) => {
        concat!(
            "#let d = json(\"data.json\")\n",
            include_str!("typ/head.typ"),
            include_str!(concat!("typ/", $name, ".typ"))
        )
    };
}

/// A paper as PDF.
pub(crate) fn pdf(input: &PaperInput, kind: Kind) -> Result<Vec<u8>, PaperError> {
    let (document, ident) = (document(input, kind)?, format!("{}/{kind}", input.board.id));
    match kind {
        // Drilled by, or measured against.
        Kind::DrillingTemplate(_) | Kind::TemplateVariant(..) | Kind::MarkerSheet => document.pdf_true_to_size(&ident),
        Kind::CircuitChart | Kind::Findings | Kind::OrderList | Kind::Schedule => document.pdf(&ident),
    }
}

/// Its pages as SVG.
pub(crate) fn svg(input: &PaperInput, kind: Kind) -> Result<Vec<String>, PaperError> {
    Ok(document(input, kind)?.svg_pages(&kind.name(input.board)))
}

fn document(input: &PaperInput, kind: Kind) -> Result<engine::Document, PaperError> {
    match kind {
        Kind::CircuitChart => engine::compile(set_with_head!("chart"), &chart::view(input)),
        Kind::MarkerSheet => engine::compile(set_with_head!("marker"), &marker::view(input)),
        Kind::Findings => engine::compile(set_with_head!("findings"), &findings::view(input)),
        Kind::DrillingTemplate(plate) => set_out(input, plate, None),
        Kind::TemplateVariant(plate, variant) => set_out(input, plate, Some(variant)),
        Kind::OrderList => engine::compile(set_with_head!("order"), &order_page::view(input)),
        Kind::Schedule => Err(PaperError::NoSuchFormat { kind, format: Format::Pdf }),
    }
}

fn set_out(input: &PaperInput, plate: PlateId, variant: Option<Variant>) -> Result<engine::Document, PaperError> {
    let set = plate::setting_out(input.board, plate, input.plate_tables)?;
    engine::compile(set_with_head!("template"), &template::view(input, &set, variant)?)
}
