//! A photo's pixels: read from a file within limits and turned upright, or handed over as they are.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageEncoder, ImageFormat, ImageReader, Limits};

use survey::message::Argument;
use survey::{Message, say};

use super::PhotoError;
use crate::words::{exact, whole};

/// Most pixels of a photo that is measured.
pub const MOST_PIXELS: u64 = 60_000_000;
/// Least pixels along each side.
const LEAST_SIDE: u32 = 64;
/// Largest file, in bytes.
const LARGEST_FILE: usize = 64 * 1024 * 1024;
/// Most bytes that reading may take.
const MOST_MEMORY: u64 = 512 * 1024 * 1024;

/// A photo as shown upright, 8 bits a channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    width: u32,
    height: u32,
    /// Three bytes a pixel, or one where the picture is grey.
    colour: Vec<u8>,
    /// Brightness; empty where `colour` is grey already.
    grey: Vec<u8>,
}

impl Photo {
    /// Reads a JPEG or PNG file and turns it the way its EXIF orientation says.
    ///
    /// # Errors
    /// [`PhotoError::TooLarge`] where it has more than [`MOST_PIXELS`] pixels (told from its head,
    /// before anything is unpacked) or needs too much memory; [`PhotoError::Unreadable`] where it
    /// is damaged or of another kind; [`PhotoError::TooSmall`].
    pub fn decode(bytes: &[u8]) -> Result<Self, PhotoError> {
        if bytes.len() > LARGEST_FILE {
            return Err(PhotoError::TooLarge {
                what: say!("photo-file-size", size = megabytes(bytes.len() as u64)),
                limit: say!("photo-megabytes", size = megabytes(LARGEST_FILE as u64)),
            });
        }
        // The decoders are outside code: should one of them panic on a damaged file, that is an answer too.
        catch_unwind(AssertUnwindSafe(|| decode(bytes)))
            .unwrap_or_else(|_| Err(PhotoError::Unreadable(say!("photo-damaged"))))
    }

    /// A photo from red, green and blue bytes, row by row from the top.
    ///
    /// # Errors
    /// [`PhotoError::TooLarge`], [`PhotoError::TooSmall`], or [`PhotoError::Unreadable`] where the
    /// number of bytes does not fit the size.
    pub fn from_rgb(width: u32, height: u32, rgb: Vec<u8>) -> Result<Self, PhotoError> {
        check_size(width, height)?;
        check_length(width, height, 3, rgb.len())?;
        // Brightness as in ITU-R BT.601, in 256ths.
        let grey = rgb
            .chunks_exact(3)
            .map(|p| ((77 * u32::from(p[0]) + 150 * u32::from(p[1]) + 29 * u32::from(p[2]) + 128) >> 8) as u8)
            .collect();
        Ok(Self { width, height, colour: rgb, grey })
    }

    /// A photo from brightness bytes, row by row from the top.
    ///
    /// # Errors
    /// As [`Photo::from_rgb`].
    pub fn from_grey(width: u32, height: u32, grey: Vec<u8>) -> Result<Self, PhotoError> {
        check_size(width, height)?;
        check_length(width, height, 1, grey.len())?;
        Ok(Self { width, height, colour: grey, grey: Vec::new() })
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.height
    }

    /// Brightness, row by row.
    pub(super) fn grey(&self) -> Grey<'_> {
        let bytes = if self.grey.is_empty() { &self.colour } else { &self.grey };
        Grey { width: self.width as usize, height: self.height as usize, bytes }
    }

    /// Bytes a pixel of [`Photo::colour`]: three or one.
    pub(super) fn channels(&self) -> usize {
        if self.grey.is_empty() { 1 } else { 3 }
    }

    pub(super) fn colour(&self) -> &[u8] {
        &self.colour
    }
}

fn check_size(width: u32, height: u32) -> Result<(), PhotoError> {
    let pixels = u64::from(width) * u64::from(height);
    if pixels > MOST_PIXELS {
        return Err(PhotoError::TooLarge {
            what: say!("photo-pixels", width = width, height = height, millions = millions(pixels)),
            limit: say!("photo-millions", size = millions(MOST_PIXELS)),
        });
    }
    if width < LEAST_SIDE || height < LEAST_SIDE {
        return Err(PhotoError::TooSmall { width, height, least: LEAST_SIDE });
    }
    Ok(())
}

fn check_length(width: u32, height: u32, channels: u64, length: usize) -> Result<(), PhotoError> {
    let wanted = u64::from(width) * u64::from(height) * channels;
    if wanted == length as u64 {
        return Ok(());
    }
    let (wanted, length) = (wanted.to_string(), length.to_string());
    Err(PhotoError::Unreadable(say!("photo-bytes", width = width, height = height, wanted = wanted, length = length)))
}

fn megabytes(bytes: u64) -> Argument {
    exact((bytes / 1024 / 1024) as f64)
}

fn millions(pixels: u64) -> Argument {
    whole(pixels as f64 / 1e6)
}

fn decode(bytes: &[u8]) -> Result<Photo, PhotoError> {
    let damaged = |error: image::ImageError| PhotoError::Unreadable(Message::plain(error.to_string()));
    let format = image::guess_format(bytes)
        .ok()
        .filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png))
        .ok_or_else(|| PhotoError::Unreadable(say!("photo-other-kind")))?;
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(damaged)?;
    let (width, height) = decoder.dimensions();
    check_size(width, height)?;
    if decoder.total_bytes() > MOST_MEMORY {
        return Err(PhotoError::TooLarge {
            what: say!("photo-unpacked-size", size = megabytes(decoder.total_bytes())),
            limit: say!("photo-megabytes-bits", size = megabytes(MOST_MEMORY)),
        });
    }
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    picture.apply_orientation(orientation);
    let (width, height) = (picture.width(), picture.height());
    if picture.color().has_color() {
        Photo::from_rgb(width, height, picture.into_rgb8().into_raw())
    } else {
        Photo::from_grey(width, height, picture.into_luma8().into_raw())
    }
}

/// Packs pixels as JPEG.
pub(super) fn jpeg(width: u32, height: u32, channels: usize, bytes: &[u8], quality: u8) -> Result<Vec<u8>, PhotoError> {
    let kind = if channels == 3 { ExtendedColorType::Rgb8 } else { ExtendedColorType::L8 };
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality.clamp(1, 100))
        .write_image(bytes, width, height, kind)
        .map_err(|error| PhotoError::Unreadable(say!("photo-packing", why = error.to_string())))?;
    Ok(out)
}

/// Brightness of a picture.
#[derive(Clone, Copy)]
pub(super) struct Grey<'a> {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) bytes: &'a [u8],
}

impl Grey<'_> {
    /// Brightness at a point, between pixels in proportion; `None` outside.
    #[inline]
    pub(super) fn at(&self, x: f64, y: f64) -> Option<f64> {
        self.at_by(x, y, f64::from)
    }

    /// As [`Grey::at`], of what `worth` makes of each pixel.
    #[inline]
    pub(super) fn at_by(&self, x: f64, y: f64, worth: impl Fn(u8) -> f64) -> Option<f64> {
        let (x, y) = (x - 0.5, y - 0.5);
        // Written so that a number that is none fails too.
        if !(x >= 0.0 && y >= 0.0 && x < (self.width - 1) as f64 && y < (self.height - 1) as f64) {
            return None;
        }
        let (column, row) = (x as usize, y as usize);
        let (fx, fy) = (x - column as f64, y - row as f64);
        let first = row * self.width + column;
        let upper = self.bytes.get(first..first + 2)?;
        let lower = self.bytes.get(first + self.width..first + self.width + 2)?;
        let top = worth(upper[0]) * (1.0 - fx) + worth(upper[1]) * fx;
        let bottom = worth(lower[0]) * (1.0 - fx) + worth(lower[1]) * fx;
        Some(top * (1.0 - fy) + bottom * fy)
    }

    /// The picture at a whole fraction of its size, each pixel the mean of those it replaces.
    pub(super) fn shrunk(&self, factor: usize) -> (usize, usize, Vec<u8>) {
        let (width, height) = (self.width / factor, self.height / factor);
        let mut out = Vec::with_capacity(width * height);
        let mut sums = vec![0u32; width];
        let area = (factor * factor) as u32;
        for row in 0..height {
            sums.fill(0);
            for line in 0..factor {
                let start = (row * factor + line) * self.width;
                let pixels = &self.bytes[start..start + width * factor];
                for (sum, group) in sums.iter_mut().zip(pixels.chunks_exact(factor)) {
                    *sum += group.iter().map(|value| u32::from(*value)).sum::<u32>();
                }
            }
            out.extend(sums.iter().map(|sum| ((sum + area / 2) / area) as u8));
        }
        (width, height, out)
    }
}
