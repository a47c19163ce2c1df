//! The plate as seen straight on.

use survey::say;

use super::PhotoError;
use super::decode::{Grey, Photo, jpeg};
use super::reference::Located;
use crate::words::exact;

/// Most pixels along the long side.
const LONGEST: f64 = 1600.0;

/// The plate seen straight on, from corner to corner, 8 bits a channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Rectified {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Millimetres a pixel, the same both ways.
    pub mm_per_pixel: f64,
    /// Bytes a pixel: three (red, green, blue) or one (grey).
    pub channels: usize,
    /// The bytes, row by row.
    pub bytes: Vec<u8>,
}

impl Rectified {
    /// Draws the plate at `mm_per_pixel`, or where that is `None` about as fine as the photo shows
    /// it, no side above 1600 pixels.
    ///
    /// # Errors
    /// [`PhotoError::Value`] where that would make more than 16 million pixels or none.
    pub fn of(photo: &Photo, located: &Located, mm_per_pixel: Option<f64>) -> Result<Self, PhotoError> {
        let [w, d] = located.size;
        let (_, finest) = located.map.pixels_per_mm([w / 2.0, d / 2.0]);
        let scale = mm_per_pixel.unwrap_or_else(|| (1.0 / finest.max(0.05)).max(w.max(d) / LONGEST));
        let (across, down) = ((w / scale).round(), (d / scale).round());
        if !(scale > 0.0 && across >= 1.0 && down >= 1.0 && across * down <= 16e6) {
            let least = ((w * d / 16e6).sqrt() * 1e3).round() / 1e3;
            let would_do = say!("photo-do-scale", least = exact(least));
            return Err(PhotoError::Value { field: say!("photo-of-scale"), value: scale, would_do });
        }
        let (width, height, channels) = (across as usize, down as usize, photo.channels());
        let mut bytes = vec![0; width * height * channels];
        let source = (photo.width() as usize, photo.height() as usize);
        in_rows(&mut bytes, width * channels, |row, out| {
            let y = (row as f64 + 0.5) * scale;
            for (column, pixel) in out.chunks_exact_mut(channels).enumerate() {
                let seen = located.map.pixel([(column as f64 + 0.5) * scale, y]);
                blend(photo.colour(), source, channels, seen, pixel);
            }
        });
        Ok(Self { width: width as u32, height: height as u32, mm_per_pixel: scale, channels, bytes })
    }

    /// Packed as JPEG, for screen and evidence.
    ///
    /// # Errors
    /// [`PhotoError::Unreadable`] where it cannot be packed.
    pub fn jpeg(&self, quality: u8) -> Result<Vec<u8>, PhotoError> {
        jpeg(self.width, self.height, self.channels, &self.bytes, quality)
    }
}

/// Fills a picture row by row on two threads; what each row holds depends on nothing but its number.
pub(super) fn in_rows(bytes: &mut [u8], row_bytes: usize, fill: impl Fn(usize, &mut [u8]) + Sync) {
    let half = bytes.len() / row_bytes / 2;
    let (upper, lower) = bytes.split_at_mut(half * row_bytes);
    let fill = &fill;
    std::thread::scope(|scope| {
        scope.spawn(move || {
            for (row, out) in upper.chunks_exact_mut(row_bytes).enumerate() {
                fill(row, out);
            }
        });
        for (row, out) in lower.chunks_exact_mut(row_bytes).enumerate() {
            fill(half + row, out);
        }
    });
}

/// Colour between pixels in proportion; black outside.
fn blend(bytes: &[u8], (width, height): (usize, usize), channels: usize, [x, y]: [f64; 2], out: &mut [u8]) {
    let (x, y) = (x - 0.5, y - 0.5);
    if !(x >= 0.0 && y >= 0.0 && x < (width - 1) as f64 && y < (height - 1) as f64) {
        return;
    }
    let (column, row) = (x as usize, y as usize);
    let (fx, fy) = (x - column as f64, y - row as f64);
    let first = (row * width + column) * channels;
    let second = first + width * channels;
    for (channel, out) in out.iter_mut().enumerate() {
        let pixel = |at: usize| bytes.get(at + channel).map_or(0.0, |byte| f64::from(*byte));
        let top = pixel(first) * (1.0 - fx) + pixel(first + channels) * fx;
        let bottom = pixel(second) * (1.0 - fx) + pixel(second + channels) * fx;
        *out = (top * (1.0 - fy) + bottom * fy + 0.5) as u8;
    }
}

/// Brightness of part of the plane, straight on.
pub(super) struct Flat {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Millimetres of the upper left corner.
    pub(super) origin: [f64; 2],
    /// Millimetres a pixel.
    pub(super) scale: f64,
    pub(super) bytes: Vec<u8>,
}

impl Flat {
    /// The part of the plane from `origin`, `size` millimetres large, at `scale` millimetres a
    /// pixel, smoothed as far as that is coarser than the photo.
    pub(super) fn of(photo: &Photo, located: &Located, origin: [f64; 2], size: [f64; 2], scale: f64) -> Self {
        let width = ((size[0] / scale) as usize).clamp(8, 4000);
        let height = ((size[1] / scale) as usize).clamp(8, 4000);
        let middle = [origin[0] + size[0] / 2.0, origin[1] + size[1] / 2.0];
        let (_, finest) = located.map.pixels_per_mm(middle);
        let factor = ((finest * scale + 0.3) as usize).clamp(1, 16);
        let grey = photo.grey();
        let shrunk;
        let source = if factor == 1 {
            grey
        } else {
            shrunk = grey.shrunk(factor);
            Grey { width: shrunk.0, height: shrunk.1, bytes: &shrunk.2 }
        };
        let mut bytes = vec![0; width * height];
        let share = 1.0 / factor as f64;
        in_rows(&mut bytes, width, |row, out| {
            let y = origin[1] + (row as f64 + 0.5) * scale;
            for (column, pixel) in out.iter_mut().enumerate() {
                let [px, py] = located.map.pixel([origin[0] + (column as f64 + 0.5) * scale, y]);
                *pixel = source.at(px * share, py * share).map_or(0, |value| (value + 0.5) as u8);
            }
        });
        Self { width, height, origin, scale, bytes }
    }

    /// Millimetres of a place in the picture.
    pub(super) fn plane(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.origin[0] + x * self.scale, self.origin[1] + y * self.scale]
    }
}
