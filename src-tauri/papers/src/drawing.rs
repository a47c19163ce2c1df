//! The plate as a drawing file: DXF release 12 and SVG, both in millimetres.
//!
//! The DXF is written here, group by group: `dxf` 0.6 puts subclass markers of later releases and
//! unnamed table entries into release 12, which readers refuse, and the machine's clock into the
//! header. A drawing of circles, closed polylines, lines and texts needs little.

use std::fmt::Write as _;

use plate::{Opening, SetEntry, SettingOut};
use survey::pattern::{Face, Rect};
use survey::{Message, say};

use crate::text::{line, number, xml};
use crate::{PaperInput, drilling_cautions};

/// Layers with their colour numbers. Holes made already stand apart, so that no machine cuts them
/// again.
const LAYERS: [(&str, u8); 7] =
    [("OUTLINE", 7), ("HOLES", 1), ("SLOTS", 3), ("EXISTING", 8), ("CENTRES", 5), ("TAGS", 6), ("TEXT", 2)];
/// Half length of a centre cross, mm.
const CROSS: f64 = 4.0;

/// Group codes and values, line by line. The left rear corner is the drawing's origin, and what runs down the
/// paper is negative.
struct Groups(String);

impl Groups {
    fn word(&mut self, code: u16, value: &str) {
        // Writing to a String cannot fail.
        let _ = write!(self.0, "{code:>3}\r\n{value}\r\n");
    }

    fn words(&mut self, pairs: &[(u16, &str)]) {
        for (code, value) in pairs {
            self.word(*code, value);
        }
    }

    fn number(&mut self, code: u16, value: f64) {
        // Six decimals: a nanometre. Adding zero turns -0 into 0.
        let _ = write!(self.0, "{code:>3}\r\n{:.6}\r\n", value + 0.0);
    }

    /// A point, its x under `code` and its y under the tenth code after.
    fn point(&mut self, code: u16, x: f64, y: f64) {
        self.number(code, x);
        self.number(code + 10, -y);
        self.number(code + 20, 0.0);
    }

    fn circle(&mut self, layer: &str, x: f64, y: f64, diameter: f64) {
        self.words(&[(0, "CIRCLE"), (8, layer)]);
        self.point(10, x, y);
        self.number(40, diameter / 2.0);
    }

    fn line(&mut self, layer: &str, from: [f64; 2], to: [f64; 2]) {
        self.words(&[(0, "LINE"), (8, layer)]);
        self.point(10, from[0], from[1]);
        self.point(11, to[0], to[1]);
    }

    fn rect(&mut self, layer: &str, rect: Rect) {
        let (right, bottom) = (rect.right(), rect.bottom());
        self.closed(layer, &[[rect.x, rect.y], [right, rect.y], [right, bottom], [rect.x, bottom]]);
    }

    fn closed(&mut self, layer: &str, corners: &[[f64; 2]]) {
        self.words(&[(0, "POLYLINE"), (8, layer), (66, "1"), (70, "1")]);
        self.point(10, 0.0, 0.0);
        for &[x, y] in corners {
            self.words(&[(0, "VERTEX"), (8, layer)]);
            self.point(10, x, y);
        }
        self.words(&[(0, "SEQEND"), (8, layer)]);
    }

    fn text(&mut self, x: f64, y: f64, height: f64, words: &str) {
        // Release 12 knows the letters of the code page that its header names; "%%c" is its diameter sign, "^" and
        // other "%%" would begin a control.
        let words: String = line(words)
            .replace("%%", "% %")
            .replace('Ø', "%%c")
            .replace('×', "x")
            .replace('²', "2")
            .chars()
            .map(|letter| if ansi(letter).is_some() && letter != '^' { letter } else { '?' })
            .collect();
        self.words(&[(0, "TEXT"), (8, "TEXT")]);
        self.point(10, x, y);
        self.number(40, height);
        self.word(1, &words);
    }
}

/// Corners of a slot's cut, from the centre of one hole to that of the other; `None` where its width is
/// not known.
pub(crate) fn slot_corners(slot: &plate::SetSlot) -> Option<[[f64; 2]; 4]> {
    let ([[x1, y1], [x2, y2]], half) = (slot.ends, slot.width? / 2.0);
    let (dx, dy) = (x2 - x1, y2 - y1);
    let length = (dx * dx + dy * dy).sqrt();
    if length < 1e-6 {
        return None;
    }
    let (nx, ny) = (-dy / length * half, dx / length * half);
    Some([[x1 + nx, y1 + ny], [x2 + nx, y2 + ny], [x2 - nx, y2 - ny], [x1 - nx, y1 - ny]])
}

/// A letter in the code page that the header names, Windows-1252 (IANA registry of character sets); none where it has
/// no such letter.
fn ansi(letter: char) -> Option<u8> {
    /// Letters from 0x80 on, those that do not stand at their own number; a blank where none stands.
    const MOVED: &str = "€ ‚ƒ„…†‡ˆ‰Š‹Œ Ž  ‘’“”•–—˜™š›œ žŸ";
    match u32::from(letter) {
        own @ (0x20..=0x7e | 0xa0..=0xff) => u8::try_from(own).ok(),
        _ => MOVED.chars().position(|other| other == letter).and_then(|place| u8::try_from(0x80 + place).ok()),
    }
}

pub(crate) fn dxf(input: &PaperInput, set: &SettingOut) -> Vec<u8> {
    let mut out = Groups(String::new());
    out.words(&[(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"), (9, "$DWGCODEPAGE"), (3, "ANSI_1252")]);
    for (name, x, y) in [("$EXTMIN", 0.0, set.outline.h), ("$EXTMAX", set.outline.w, 0.0)] {
        out.word(9, name);
        out.point(10, x, y);
    }
    out.words(&[(0, "ENDSEC"), (0, "SECTION"), (2, "TABLES")]);
    out.words(&[(0, "TABLE"), (2, "LTYPE"), (70, "1"), (0, "LTYPE"), (2, "CONTINUOUS"), (70, "0")]);
    out.words(&[(3, "Solid line"), (72, "65"), (73, "0"), (40, "0.0"), (0, "ENDTAB")]);
    out.words(&[(0, "TABLE"), (2, "LAYER"), (70, &(LAYERS.len() + 1).to_string())]);
    for (name, colour) in [("0", 7)].into_iter().chain(LAYERS) {
        out.words(&[(0, "LAYER"), (2, name), (70, "0"), (62, &colour.to_string()), (6, "CONTINUOUS")]);
    }
    out.words(&[(0, "ENDTAB"), (0, "TABLE"), (2, "STYLE"), (70, "1"), (0, "STYLE"), (2, "STANDARD"), (70, "0")]);
    out.words(&[(40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0"), (42, "2.5"), (3, "txt"), (4, ""), (0, "ENDTAB")]);
    out.words(&[(0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]);
    out.rect("OUTLINE", set.outline);
    for entry in &set.entries {
        let [x, y] = entry.centre;
        let half = match entry.hole.opening {
            Opening::Round { diameter } => {
                out.circle(if entry.existing { "EXISTING" } else { "HOLES" }, x, y, diameter);
                diameter / 2.0
            }
            Opening::Slot { width, height } => {
                let rect = Rect::new(x - width / 2.0, y - height / 2.0, width, height);
                out.rect(if entry.existing { "EXISTING" } else { "SLOTS" }, rect);
                height / 2.0
            }
        };
        out.line("CENTRES", [x - CROSS, y], [x + CROSS, y]);
        out.line("CENTRES", [x, y - CROSS], [x, y + CROSS]);
        out.text(x + 1.0, y - 1.0, 3.0, &entry.label);
        if let Some(tag) = entry.tag {
            let [x, y] = tag.bolt;
            out.circle("TAGS", x, y, tag.hole);
            out.line("CENTRES", [x - CROSS, y], [x + CROSS, y]);
            out.line("CENTRES", [x, y - CROSS], [x, y + CROSS]);
            out.text(
                x + tag.hole / 2.0 + 0.5,
                y - 0.5,
                2.0,
                &say!("drawing-bolt", entry = entry.label.clone()).words(),
            );
        }
        out.text(x - half, y + half + 3.5, 2.0, &hole_words(entry));
    }
    for slot in &set.slots {
        if let Some(corners) = slot_corners(slot) {
            out.closed("SLOTS", &corners);
        }
    }
    let (near, _) = edges(set.face);
    let mut y = set.outline.bottom() + 15.0;
    for words in [
        say!("drawing-title", site = input.site_line(), board = line(&input.board.reference), plate = set.name.clone()),
        say!("drawing-how", near = near),
        say!("drawing-plate", width = number(set.outline.w), depth = number(set.outline.h), date = line(input.date)),
    ]
    .map(|message| message.to_string())
    .into_iter()
    .chain(drilling_cautions())
    {
        out.text(0.0, y, 4.0, &words);
        y += 7.0;
    }
    out.words(&[(0, "ENDSEC"), (0, "EOF")]);
    // Line ends stand at their own number, and nothing else is here that is no letter of the page.
    out.0.chars().map(|letter| ansi(letter).unwrap_or_else(|| u8::try_from(letter).unwrap_or(b'?'))).collect()
}

/// Which edges of the drawing are which edges of the plate, and how to hold it.
pub(crate) const fn edges(face: Face) -> (Message, Message) {
    match face {
        Face::Top | Face::Bottom | Face::Left | Face::Right => {
            (Message::bare("template-rear-edge"), Message::bare("template-front-edge"))
        }
        Face::Back => (Message::bare("template-upper-edge"), Message::bare("template-lower-edge")),
    }
}

/// What stands at a hole: its size, what it is for, whether it is made already.
fn hole_words(entry: &SetEntry) -> String {
    let hole = entry.hole.opening.words();
    let hole = if entry.existing { say!("template-made-already", hole = hole) } else { hole };
    line(&say!("drawing-hole", hole = hole, serves = entry.serves.clone()))
}

pub(crate) fn svg(input: &PaperInput, set: &SettingOut) -> String {
    const PAD: f64 = 12.0;
    let (w, h) = (set.outline.w + 2.0 * PAD, set.outline.h + 2.0 * PAD + 24.0);
    let (near, far) = edges(set.face);
    let board = line(&input.board.reference);
    let title = say!("drawing-title-first", board = board, plate = set.name.clone(), site = input.site_line());
    let foot = say!("drawing-foot", title = title.clone(), date = line(input.date));
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
        title = xml(&title.words()),
        pw = n(set.outline.w),
        ph = n(set.outline.h),
    );
    let _ = writeln!(out, "<path id=\"origin\" d=\"M0 12V0H12\" stroke-width=\"1.2\"/>");
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
        if let Some(tag) = entry.tag {
            let [x, y] = tag.bolt;
            let _ = writeln!(
                out,
                "<circle class=\"tag\" id=\"{}T\" cx=\"{}\" cy=\"{}\" r=\"{}\"/><path d=\"M{} {}h{c}M{} {}v{c}\"/><text x=\"{}\" y=\"{}\" font-size=\"2\" fill=\"#000\" stroke=\"none\">{}T</text>",
                entry.label,
                n(x),
                n(y),
                n(tag.hole / 2.0),
                n(x - CROSS),
                n(y),
                n(x),
                n(y - CROSS),
                n(x + tag.hole / 2.0 + 0.5),
                n(y - 0.5),
                entry.label,
                c = n(2.0 * CROSS),
            );
        }
        let _ = writeln!(
            out,
            "<path d=\"M{} {}h{c}M{} {}v{c}\"/><text x=\"{}\" y=\"{}\" font-size=\"3.5\" fill=\"#000\" stroke=\"none\">{}</text><text x=\"{}\" y=\"{}\" font-size=\"2.5\" text-anchor=\"middle\" fill=\"#000\" stroke=\"none\">{}</text>",
            n(x - CROSS),
            n(y),
            n(x),
            n(y - CROSS),
            n(x + 1.0),
            n(y - 1.5),
            entry.label,
            n(x),
            n(y + below + 3.5),
            xml(&hole_words(entry)),
            c = n(2.0 * CROSS),
        );
    }
    for slot in &set.slots {
        if let Some(corners) = slot_corners(slot) {
            let points: Vec<String> = corners.iter().map(|[x, y]| format!("{},{}", n(*x), n(*y))).collect();
            let _ = writeln!(out, "<polygon class=\"slot\" points=\"{}\"/>", points.join(" "));
        }
    }
    let bottom = set.outline.bottom();
    let [work, off] = drilling_cautions();
    let _ = write!(
        out,
        "<g font-size=\"3.5\" fill=\"#000\" stroke=\"none\"><text x=\"{mid}\" y=\"-3\" text-anchor=\"middle\">{near}</text><text x=\"{mid}\" y=\"{front}\" text-anchor=\"middle\">{far}</text><text x=\"0\" y=\"{one}\">{foot}</text><text x=\"0\" y=\"{two}\">{work}</text><text x=\"0\" y=\"{three}\">{off}</text></g>\n</svg>\n",
        mid = n(set.outline.w / 2.0),
        front = n(bottom + 5.0),
        one = n(bottom + 13.0),
        two = n(bottom + 19.0),
        three = n(bottom + 25.0),
        work = xml(&work),
        off = xml(&off),
        foot = xml(&foot.words()),
        near = xml(&near.words()),
        far = xml(&far.words()),
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the table of Windows-1252.
    #[test]
    fn letters_of_the_code_page_are_their_bytes() {
        let of = |text: &str| text.chars().map(ansi).collect::<Vec<_>>();
        assert_eq!(of("Aé°ÿ"), [0x41, 0xe9, 0xb0, 0xff].map(Some));
        assert_eq!(of("€‚ŒŽ‘’–šœžŸ"), [0x80, 0x82, 0x8c, 0x8e, 0x91, 0x92, 0x96, 0x9a, 0x9c, 0x9e, 0x9f].map(Some));
        assert_eq!(of("Ωť日\u{81}"), [None; 4]);
    }
}
