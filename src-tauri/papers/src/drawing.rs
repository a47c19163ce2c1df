//! The plate as a drawing file: DXF release 12 and SVG, both in millimetres.

use std::fmt::Write as _;
use std::io::Cursor;

use dxf::entities::{Circle, Entity, EntityType, Line, Polyline, Text, Vertex};
use dxf::enums::AcadVersion;
use dxf::tables::Layer;
use dxf::{Color, Drawing, Point};
use plate::{Opening, SettingOut};
use survey::pattern::Rect;

use crate::template::edges;
use crate::text::{line, number, xml};
use crate::{PaperError, PaperInput};

/// Layers with their colour numbers. Holes made already stand apart, so that no machine cuts them
/// again.
const LAYERS: [(&str, u8); 6] =
    [("OUTLINE", 7), ("HOLES", 1), ("SLOTS", 3), ("EXISTING", 8), ("CENTRES", 5), ("TEXT", 2)];
/// Half length of a centre cross, mm.
const CROSS: f64 = 4.0;

struct Sheet(Drawing);

impl Sheet {
    fn add(&mut self, layer: &str, what: EntityType) {
        let mut entity = Entity::new(what);
        entity.common.layer = layer.to_owned();
        self.0.add_entity(entity);
    }

    fn rect(&mut self, layer: &str, rect: Rect) {
        let mut outline = Polyline::default();
        outline.set_is_closed(true);
        for (x, y) in [(rect.x, rect.y), (rect.right(), rect.y), (rect.right(), rect.bottom()), (rect.x, rect.bottom())]
        {
            outline.add_vertex(&mut self.0, Vertex::new(at(x, y)));
        }
        self.add(layer, EntityType::Polyline(outline));
    }

    fn text(&mut self, x: f64, y: f64, height: f64, words: &str) {
        // Release 12 knows plain letters only; "%%c" is its diameter sign, "^" would begin a control.
        let words: String = line(words)
            .replace('Ø', "%%c")
            .replace('×', "x")
            .replace('²', "2")
            .chars()
            .map(|letter| if letter.is_ascii() && letter != '^' { letter } else { '?' })
            .collect();
        let text = Text { location: at(x, y), text_height: height, value: words, ..Text::default() };
        self.add("TEXT", EntityType::Text(text));
    }
}

/// A point of the drawing: the datum is the origin, and what runs down the paper is negative.
fn at(x: f64, y: f64) -> Point {
    Point::new(x, if y == 0.0 { 0.0 } else { -y }, 0.0)
}

pub(crate) fn dxf(input: &PaperInput, set: &SettingOut) -> Result<Vec<u8>, PaperError> {
    let mut sheet = Sheet(Drawing::new());
    sheet.0.header.version = AcadVersion::R12;
    for (name, colour) in LAYERS {
        let layer = Layer { name: name.to_owned(), color: Color::from_index(colour), ..Layer::default() };
        sheet.0.add_layer(layer);
    }
    sheet.rect("OUTLINE", set.outline);
    for entry in &set.entries {
        let [x, y] = entry.centre;
        let (layer, half) = match entry.hole.opening {
            Opening::Round { diameter } => {
                let layer = if entry.existing { "EXISTING" } else { "HOLES" };
                sheet.add(layer, EntityType::Circle(Circle::new(at(x, y), diameter / 2.0)));
                (layer, diameter / 2.0)
            }
            Opening::Slot { width, height } => {
                let layer = if entry.existing { "EXISTING" } else { "SLOTS" };
                sheet.rect(layer, Rect::new(x - width / 2.0, y - height / 2.0, width, height));
                (layer, height / 2.0)
            }
        };
        for (from, to) in [([x - CROSS, y], [x + CROSS, y]), ([x, y - CROSS], [x, y + CROSS])] {
            sheet.add("CENTRES", EntityType::Line(Line::new(at(from[0], from[1]), at(to[0], to[1]))));
        }
        let made = if layer == "EXISTING" { ", made already" } else { "" };
        sheet.text(x + CROSS + 1.0, y - 1.0, 3.0, &entry.label);
        sheet.text(x - half, y + half + 3.5, 2.5, &format!("{}{made}, {}", entry.hole.opening.words(), entry.serves));
    }
    let (near, _) = edges(set.face);
    let mut y = set.outline.bottom() + 15.0;
    for words in [
        format!("{} {} {}", input.site, input.board.reference, set.name),
        format!("Millimetres. Seen from outside, {near} up. Datum: upper left corner, 0,0."),
        format!("Plate {} x {} mm. {}", number(set.outline.w), number(set.outline.h), input.date),
        "Isolate and prove dead. Take the plate off before drilling.".to_owned(),
    ] {
        sheet.text(0.0, y, 4.0, &words);
        y += 7.0;
    }
    let mut bytes = Cursor::new(Vec::new());
    sheet.0.save(&mut bytes).map_err(|error| PaperError::Fault(format!("the DXF could not be written: {error}")))?;
    let text = String::from_utf8(bytes.into_inner())
        .map_err(|error| PaperError::Fault(format!("the DXF could not be written: {error}")))?;
    Ok(without_clock(&text).into_bytes())
}

/// Takes the header's time stamps out: the writer fills them from the machine's clock, and the same
/// input must give the same bytes. They are optional.
fn without_clock(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut pairs = text.split_inclusive("\r\n").collect::<Vec<_>>().into_iter();
    let mut skip = 0;
    while let (Some(code), value) = (pairs.next(), pairs.next().unwrap_or_default()) {
        if code.trim() == "9" {
            skip = usize::from(value.trim().starts_with("$TD"));
        } else if code.trim() == "0" {
            skip = 0;
        }
        if skip == 0 {
            out.push_str(code);
            out.push_str(value);
        }
    }
    out
}

pub(crate) fn svg(input: &PaperInput, set: &SettingOut) -> String {
    const PAD: f64 = 12.0;
    let (w, h) = (set.outline.w + 2.0 * PAD, set.outline.h + 2.0 * PAD + 18.0);
    let (near, far) = edges(set.face);
    let title = format!("{} {}, {}", line(&input.board.reference), set.name, line(input.site));
    let mut out = String::new();
    let n = number;
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{x} {y} {w} {h}\" font-family=\"sans-serif\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.25\">\n<title>{title}</title>\n<rect id=\"outline\" x=\"0\" y=\"0\" width=\"{pw}\" height=\"{ph}\" stroke-width=\"0.5\"/>\n",
        w = n(w),
        h = n(h),
        x = n(-PAD),
        y = n(-PAD),
        title = xml(&title),
        pw = n(set.outline.w),
        ph = n(set.outline.h),
    );
    let _ = writeln!(out, "<path id=\"datum\" d=\"M0 12V0H12\" stroke-width=\"1.2\"/>");
    let mut dashed = |class: &str, rect: Rect| {
        let _ = writeln!(
            out,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" stroke-dasharray=\"2 1.5\"/>",
            n(rect.x),
            n(rect.y),
            n(rect.w),
            n(rect.h)
        );
    };
    if let Some(usable) = set.usable {
        dashed("usable", usable);
    }
    for rect in &set.keep_outs {
        dashed("keep-out", *rect);
    }
    for entry in &set.entries {
        let [x, y] = entry.centre;
        let class = if entry.existing { "existing" } else { "hole" };
        let below = match entry.hole.opening {
            Opening::Round { diameter } => {
                let _ = writeln!(
                    out,
                    "<circle class=\"{class}\" id=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
                    entry.label,
                    n(x),
                    n(y),
                    n(diameter / 2.0)
                );
                diameter / 2.0
            }
            Opening::Slot { width, height } => {
                let _ = writeln!(
                    out,
                    "<rect class=\"{class}\" id=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
                    entry.label,
                    n(x - width / 2.0),
                    n(y - height / 2.0),
                    n(width),
                    n(height)
                );
                height / 2.0
            }
        };
        let made = if entry.existing { ", made already" } else { "" };
        let _ = writeln!(
            out,
            "<path d=\"M{} {}h{c}M{} {}v{c}\"/><text x=\"{}\" y=\"{}\" font-size=\"3.5\" fill=\"#000\" stroke=\"none\">{}</text><text x=\"{}\" y=\"{}\" font-size=\"2.5\" text-anchor=\"middle\" fill=\"#000\" stroke=\"none\">{}{made}, {}</text>",
            n(x - CROSS),
            n(y),
            n(x),
            n(y - CROSS),
            n(x + 1.0),
            n(y - 1.5),
            entry.label,
            n(x),
            n(y + below + 3.5),
            xml(&entry.hole.opening.words()),
            xml(&line(&entry.serves)),
            c = n(2.0 * CROSS),
        );
    }
    let bottom = set.outline.bottom();
    let _ = write!(
        out,
        "<g font-size=\"3.5\" fill=\"#000\" stroke=\"none\"><text x=\"{mid}\" y=\"-3\" text-anchor=\"middle\">{near}</text><text x=\"{mid}\" y=\"{front}\" text-anchor=\"middle\">{far}</text><text x=\"0\" y=\"{one}\">{title}, {date}. Seen from outside; datum upper left; millimetres.</text><text x=\"0\" y=\"{two}\">Isolate and prove dead. Take the plate off before drilling.</text></g>\n</svg>\n",
        mid = n(set.outline.w / 2.0),
        front = n(bottom + 5.0),
        one = n(bottom + 13.0),
        two = n(bottom + 19.0),
        title = xml(&title),
        date = xml(&line(input.date)),
    );
    out
}
