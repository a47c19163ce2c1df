//! The marker sheet: four square markers of our own on A4, and a line to check the print by.
//!
//! A marker is a black square of six by six cells. The outer ring is black all round; the inner four
//! by four cells carry one of four fixed patterns, one for each corner of the sheet. The patterns
//! were searched so that any two, in any of the four turns, and each and its own turns, differ in at
//! least eight of the sixteen cells: a reader that puts up with two wrong cells cannot take one for
//! another, nor see one the wrong way round. A margin of a cell's width stays white around each.

use survey::{Message, say};

use super::decode::Grey;
use super::homography::Homography;

/// Cells along a marker's side, the black ring included.
const CELLS: usize = 6;
/// The patterns, black cells as ones, row by row from the top left; in the order top left, top
/// right, bottom right, bottom left of the sheet.
const PATTERNS: [u16; 4] = [0xbd30, 0x7484, 0x7aba, 0x939c];
/// Wrong cells that are put up with: fewer than half of the eight by which patterns differ.
const WRONG_CELLS: u32 = 2;
/// Side of a marker in millimetres.
const SIDE: f64 = 30.0;
/// Where each marker's top left corner is on the sheet, in millimetres.
const PLACES: [[f64; 2]; 4] = [[12.0, 12.0], [255.0, 12.0], [255.0, 168.0], [12.0, 168.0]];
/// The line to check the print by: its length when printed true to size, in millimetres.
pub const CHECK_LINE: f64 = 200.0;
/// Pixels along a marker's side below which it is not read.
const LEAST_PIXELS: f64 = 14.0;
/// Long side of the picture that markers are looked for in, in pixels.
const SEARCH_SIDE: usize = 2000;

/// A rectangle to be printed, in millimetres from the sheet's top left corner, y downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Left edge.
    pub x: f64,
    /// Upper edge.
    pub y: f64,
    /// Size across.
    pub width: f64,
    /// Size down.
    pub height: f64,
    /// Black, or white on top of a black one printed before.
    pub black: bool,
}

/// What is printed on the marker sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkerSheet {
    /// Paper size across and down, in millimetres: A4 lying.
    pub size: [f64; 2],
    /// The rectangles, in the order to be printed.
    pub patches: Vec<Patch>,
    /// Ends of the line to check the print by (the inner faces of its two end strokes).
    pub check_line: [[f64; 2]; 2],
    /// Its length when printed true to size: [`CHECK_LINE`].
    pub check_length: f64,
    /// Lines to be printed for whoever uses it: where each begins (its baseline's left end).
    pub words: Vec<([f64; 2], Message)>,
}

/// The marker sheet's geometry, for printing. Print it at 100 %, measure the check line with a rule
/// and give the length measured as [`super::Reference::Sheet`]'s `check_line`.
#[must_use]
pub fn marker_sheet() -> MarkerSheet {
    let mut patches = Vec::new();
    let cell = SIDE / CELLS as f64;
    for (pattern, [x, y]) in PATTERNS.iter().zip(PLACES) {
        patches.push(Patch { x, y, width: SIDE, height: SIDE, black: true });
        for row in 0..CELLS - 2 {
            // White cells in a row are printed as one, so that no hairline shows between them.
            let mut column = 0;
            while column < CELLS - 2 {
                let run = (column..CELLS - 2).take_while(|at| !is_black(*pattern, row, *at)).count();
                if run > 0 {
                    let left = x + cell * (column + 1) as f64;
                    let top = y + cell * (row + 1) as f64;
                    patches.push(Patch { x: left, y: top, width: cell * run as f64, height: cell, black: false });
                }
                column += run.max(1);
            }
        }
    }
    let [left, right, line] = [48.5, 48.5 + CHECK_LINE, 186.0];
    patches.push(Patch { x: left, y: line - 0.15, width: CHECK_LINE, height: 0.3, black: true });
    patches.push(Patch { x: left - 0.3, y: line - 4.0, width: 0.3, height: 8.0, black: true });
    patches.push(Patch { x: right, y: line - 4.0, width: 0.3, height: 8.0, black: true });
    MarkerSheet {
        size: [297.0, 210.0],
        patches,
        check_line: [[left, line], [right, line]],
        check_length: CHECK_LINE,
        words: vec![
            ([60.0, 24.0], say!("photo-sheet-print")),
            ([60.0, 31.0], say!("photo-sheet-lay")),
            ([60.0, 38.0], say!("photo-sheet-show")),
            ([60.0, 180.0], say!("photo-sheet-line")),
        ],
    }
}

fn is_black(pattern: u16, row: usize, column: usize) -> bool {
    pattern >> (15 - (row * (CELLS - 2) + column)) & 1 == 1
}

/// A marker found in the photo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// Which corner of the sheet: 0 to 3.
    pub(super) id: usize,
    /// Its corners in the photo, in the sheet's order from its top left, roughly.
    pub(super) corners: [[f64; 2]; 4],
}

/// A marker's corners on the sheet, from its top left clockwise.
pub(super) fn corners_on_sheet(id: usize) -> [[f64; 2]; 4] {
    let [x, y] = PLACES[id % 4];
    [[x, y], [x + SIDE, y], [x + SIDE, y + SIDE], [x, y + SIDE]]
}

/// The markers in a photo, at most one of each.
pub(super) fn find(grey: Grey<'_>) -> Vec<Found> {
    let factor = (grey.width.max(grey.height) / SEARCH_SIDE).max(1);
    let shrunk;
    let small = if factor == 1 {
        grey
    } else {
        shrunk = grey.shrunk(factor);
        Grey { width: shrunk.0, height: shrunk.1, bytes: &shrunk.2 }
    };
    let mut best: [Option<(u32, f64, Found)>; 4] = [None; 4];
    for quad in dark_quads(small) {
        let Some((id, wrong, corners)) = read(small, quad) else { continue };
        let size = libm::hypot(corners[0][0] - corners[2][0], corners[0][1] - corners[2][1]);
        let scaled = corners.map(|corner| corner.map(|number| number * factor as f64));
        let better = best[id].is_none_or(|(had, had_size, _)| wrong < had || (wrong == had && size > had_size));
        if better {
            best[id] = Some((wrong, size, Found { id, corners: scaled }));
        }
    }
    best.into_iter().flatten().map(|(_, _, found)| found).collect()
}

/// Dark patches, told by a threshold that follows the light, whose outline is a quadrilateral:
/// corners clockwise as seen.
fn dark_quads(grey: Grey<'_>) -> Vec<[[f64; 2]; 4]> {
    let (width, height) = (grey.width, grey.height);
    let mask = dark_mask(grey, (width.max(height) / 24).max(8), 8.0);
    let mut seen = vec![false; mask.len()];
    let mut quads = Vec::new();
    let mut queue = Vec::new();
    for start in 0..mask.len() {
        if !mask[start] || seen[start] {
            continue;
        }
        let mut pixels = Vec::new();
        let mut at_border = false;
        seen[start] = true;
        queue.push(start);
        while let Some(at) = queue.pop() {
            pixels.push(at);
            let (x, y) = (at % width, at / width);
            at_border |= x == 0 || y == 0 || x + 1 == width || y + 1 == height;
            let near = [(x > 0, -1), (x + 1 < width, 1), (y > 0, -(width as isize)), (y + 1 < height, width as isize)];
            for (inside, offset) in near {
                let next = at.wrapping_add_signed(offset);
                if inside && mask[next] && !seen[next] {
                    seen[next] = true;
                    queue.push(next);
                }
            }
        }
        if at_border || (pixels.len() as f64) < LEAST_PIXELS * LEAST_PIXELS * 0.3 || pixels.len() > mask.len() / 8 {
            continue;
        }
        quads.extend(quad_of(&pixels, width));
    }
    quads
}

/// Which pixels are darker than the mean around them by `by` grey levels.
fn dark_mask(grey: Grey<'_>, reach: usize, by: f64) -> Vec<bool> {
    let (width, height) = (grey.width, grey.height);
    let stride = width + 1;
    let mut sums = vec![0u64; stride * (height + 1)];
    for y in 0..height {
        let mut row = 0;
        for x in 0..width {
            row += u64::from(grey.bytes[y * width + x]);
            sums[(y + 1) * stride + x + 1] = sums[y * stride + x + 1] + row;
        }
    }
    let mut mask = Vec::with_capacity(width * height);
    for y in 0..height {
        let (top, bottom) = (y.saturating_sub(reach), (y + reach + 1).min(height));
        for x in 0..width {
            let (left, right) = (x.saturating_sub(reach), (x + reach + 1).min(width));
            let sum = sums[bottom * stride + right] + sums[top * stride + left]
                - sums[top * stride + right]
                - sums[bottom * stride + left];
            let mean = sum as f64 / ((bottom - top) * (right - left)) as f64;
            mask.push(f64::from(grey.bytes[y * width + x]) < mean - by);
        }
    }
    mask
}

/// The four outermost corners of a patch of pixels: the ends of its longest diagonal and the points
/// farthest from it on either side.
fn quad_of(pixels: &[usize], width: usize) -> Option<[[f64; 2]; 4]> {
    let place = |at: usize| [(at % width) as f64 + 0.5, (at / width) as f64 + 0.5];
    let count = pixels.len() as f64;
    let middle = pixels.iter().fold([0.0, 0.0], |sum, at| {
        let [x, y] = place(*at);
        [sum[0] + x / count, sum[1] + y / count]
    });
    let farthest = |from: [f64; 2]| {
        let far = |at: &usize| {
            let [x, y] = place(*at);
            (x - from[0]) * (x - from[0]) + (y - from[1]) * (y - from[1])
        };
        pixels.iter().copied().max_by(|p, q| far(p).total_cmp(&far(q))).map(place)
    };
    let first = farthest(middle)?;
    let third = farthest(first)?;
    let side = |at: &usize| {
        let [x, y] = place(*at);
        (third[0] - first[0]) * (y - first[1]) - (third[1] - first[1]) * (x - first[0])
    };
    let second = pixels.iter().copied().min_by(|p, q| side(p).total_cmp(&side(q))).map(place)?;
    let fourth = pixels.iter().copied().max_by(|p, q| side(p).total_cmp(&side(q))).map(place)?;
    // Seen with y downwards, the points with the smaller side come after `first` clockwise.
    let corners = [first, second, third, fourth];
    // From the outermost pixels' middles to their outer edges.
    let grown = corners.map(|[x, y]| {
        let (dx, dy) = (x - middle[0], y - middle[1]);
        let length = libm::hypot(dx, dy).max(1.0);
        [x + dx / length * 0.7, y + dy / length * 0.7]
    });
    let sides: [f64; 4] = std::array::from_fn(|i| {
        let (p, q) = (grown[i], grown[(i + 1) % 4]);
        libm::hypot(q[0] - p[0], q[1] - p[1])
    });
    let shortest = sides.iter().copied().fold(f64::INFINITY, f64::min);
    let longest = sides.iter().copied().fold(0.0, f64::max);
    (shortest >= LEAST_PIXELS && longest < 3.0 * shortest && is_convex(&grown)).then_some(grown)
}

/// Whether the corners go round clockwise as seen, with no corner dented or flat.
pub(super) fn is_convex(corners: &[[f64; 2]; 4]) -> bool {
    (0..4).all(|i| {
        let [p, q, r] = [corners[i], corners[(i + 1) % 4], corners[(i + 2) % 4]];
        let (a, b) = ([q[0] - p[0], q[1] - p[1]], [r[0] - q[0], r[1] - q[1]]);
        let cross = a[0] * b[1] - a[1] * b[0];
        cross > 0.08 * libm::hypot(a[0], a[1]) * libm::hypot(b[0], b[1])
    })
}

/// Reads the cells of a quadrilateral: the marker it is, the number of wrong cells, and its corners
/// from the marker's top left.
fn read(grey: Grey<'_>, quad: [[f64; 2]; 4]) -> Option<(usize, u32, [[f64; 2]; 4])> {
    let side = CELLS as f64;
    let map = Homography::fit(&[[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]], &quad).ok()?;
    let cell = |column: f64, row: f64| -> Option<f64> {
        let mut sum = 0.0;
        for (dx, dy) in [(0.0, 0.0), (0.2, 0.2), (-0.2, 0.2), (0.2, -0.2), (-0.2, -0.2)] {
            let [x, y] = map.apply([column + 0.5 + dx, row + 0.5 + dy]);
            sum += grey.at(x, y)?;
        }
        Some(sum / 5.0)
    };
    let mut ring = Vec::new();
    let mut margin = Vec::new();
    for i in 0..CELLS {
        let at = i as f64;
        for (column, row) in [(at, 0.0), (at, side - 1.0), (0.0, at), (side - 1.0, at)] {
            ring.push(cell(column, row)?);
        }
        for (column, row) in [(at, -0.8), (at, side - 0.2), (-0.8, at), (side - 0.2, at)] {
            margin.push(cell(column, row)?);
        }
    }
    let black = super::linear::median(&mut ring);
    let white = super::linear::median(&mut margin);
    if white - black < 20.0 {
        return None;
    }
    let level = (black + white) / 2.0;
    if ring.iter().filter(|value| **value > level).count() > 2
        || margin.iter().filter(|value| **value < level).count() > 4
    {
        return None;
    }
    let mut pattern = 0u16;
    for row in 0..CELLS - 2 {
        for column in 0..CELLS - 2 {
            let black = cell(column as f64 + 1.0, row as f64 + 1.0)? < level;
            pattern = pattern << 1 | u16::from(black);
        }
    }
    let mut best: Option<(usize, u32, [[f64; 2]; 4])> = None;
    for turn in 0..4 {
        for (id, known) in PATTERNS.iter().enumerate() {
            let wrong = (pattern ^ known).count_ones();
            if wrong <= WRONG_CELLS && best.is_none_or(|(_, had, _)| wrong < had) {
                best = Some((id, wrong, std::array::from_fn(|i| quad[(i + turn) % 4])));
            }
        }
        pattern = turned(pattern);
    }
    best
}

/// The pattern as read with the quadrilateral's next corner taken for its top left one.
fn turned(pattern: u16) -> u16 {
    let size = CELLS - 2;
    let mut out = 0;
    for row in 0..size {
        for column in 0..size {
            out = out << 1 | u16::from(is_black(pattern, column, size - 1 - row));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sheet drawn straight on at some pixels a millimetre, on a grey ground.
    fn drawn(scale: f64, flipped: bool) -> (usize, usize, Vec<u8>) {
        let sheet = marker_sheet();
        let (width, height) = ((sheet.size[0] * scale) as usize + 80, (sheet.size[1] * scale) as usize + 80);
        let mut bytes = vec![120u8; width * height];
        let page = Patch { x: 0.0, y: 0.0, width: sheet.size[0], height: sheet.size[1], black: false };
        for patch in std::iter::once(&page).chain(&sheet.patches) {
            for y in (patch.y * scale) as usize..((patch.y + patch.height) * scale) as usize {
                for x in (patch.x * scale) as usize..((patch.x + patch.width) * scale) as usize {
                    let at = (y + 40) * width + x + 40;
                    let at = if flipped { width * height - 1 - at } else { at };
                    bytes[at] = if patch.black { 25 } else { 230 };
                }
            }
        }
        (width, height, bytes)
    }

    #[test]
    fn every_marker_is_read_the_right_way_round() {
        for flipped in [false, true] {
            let (width, height, bytes) = drawn(2.0, flipped);
            let found = find(Grey { width, height, bytes: &bytes });
            assert_eq!(found.len(), 4, "{flipped}");
            for marker in found {
                for (seen, on_sheet) in marker.corners.iter().zip(corners_on_sheet(marker.id)) {
                    let mut expected = on_sheet.map(|number| number * 2.0 + 40.0);
                    if flipped {
                        expected = [width as f64 - expected[0], height as f64 - expected[1]];
                    }
                    let off = libm::hypot(seen[0] - expected[0], seen[1] - expected[1]);
                    assert!(off < 1.5, "{flipped} {} {seen:?} {expected:?}", marker.id);
                }
            }
        }
    }

    #[test]
    fn patterns_differ_in_eight_cells_in_every_turn() {
        for (i, a) in PATTERNS.iter().enumerate() {
            for (j, b) in PATTERNS.iter().enumerate() {
                let mut other = *b;
                for turn in 0..4 {
                    assert!((i == j && turn == 0) || (a ^ other).count_ones() >= 8, "{i} {j} {turn}");
                    other = turned(other);
                }
                assert_eq!(other, *b);
            }
        }
    }
}
