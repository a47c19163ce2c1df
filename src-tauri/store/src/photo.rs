//! Photos: the original as it came, by its SHA-256, and smaller pictures made from it.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};
use rusqlite::{OptionalExtension, params};
use sha2::{Digest, Sha256};
use survey::{Argument, Message, SiteId, say};

use crate::error::StoreError;
use crate::store::Store;

/// Largest photo taken in, in bytes.
pub const LARGEST_PHOTO: usize = 64 * 1024 * 1024;
/// Most pixels of a photo taken in.
pub const MOST_PIXELS: u64 = 100_000_000;
/// Most bytes of memory for one photo while it is read: its file, the picture, what the reader needs beside. With the
/// rest of the program that stays below 300 MB.
const MOST_MEMORY: u64 = 240 * 1024 * 1024;
/// Longest side of a thumbnail, in pixels.
const THUMBNAIL: u32 = 320;

/// A photo in the store.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhotoMeta {
    /// SHA-256 of the original, in hexadecimal.
    pub hash: String,
    /// Media type of the original.
    pub media: String,
    /// Pixels across, as shown upright.
    pub width: u32,
    /// Pixels down, as shown upright.
    pub height: u32,
    /// Bytes of the original.
    pub length: u64,
}

/// The SHA-256 of some bytes, in hexadecimal.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

/// A photo that has been read and made small, ready to be put into a store. Making it is the slow
/// part and needs no store.
#[derive(Clone, Debug)]
pub struct ReadPhoto {
    /// What is known of it.
    pub meta: PhotoMeta,
    /// The file ends before the picture does: the rest of it is grey.
    pub cut_off: bool,
    thumbnail: Vec<u8>,
}

impl ReadPhoto {
    /// Reads a photo, JPEG or PNG.
    ///
    /// # Errors
    /// [`StoreError::Photo`] where it is too large, of another kind or damaged.
    pub fn of(bytes: &[u8]) -> Result<Self, StoreError> {
        Self::read(bytes, false)
    }

    /// The same for a photo that a board speaks of already: one that needs more memory than is used for a photo is
    /// kept too, with a grey picture in the place of its small one.
    ///
    /// # Errors
    /// As for [`Self::of`].
    pub fn kept(bytes: &[u8]) -> Result<Self, StoreError> {
        Self::read(bytes, true)
    }

    fn read(bytes: &[u8], unseen: bool) -> Result<Self, StoreError> {
        if bytes.len() > LARGEST_PHOTO {
            let megabytes = |bytes: usize| (bytes / 1024 / 1024).to_string();
            let (size, most) = (megabytes(bytes.len()), megabytes(LARGEST_PHOTO));
            return Err(refused(say!("picture-large", size = size, most = most)));
        }
        let seen = match look(bytes, THUMBNAIL) {
            Ok(seen) => seen,
            Err(Trouble::Heavy(head, _)) if unseen => {
                let grey = RgbImage::from_pixel(THUMBNAIL, THUMBNAIL * 3 / 4, image::Rgb([200; 3]));
                Seen { head, small: grey.into() }
            }
            Err(trouble) => return Err(trouble.into()),
        };
        let meta = PhotoMeta {
            hash: sha256(bytes),
            media: seen.head.format.to_mime_type().to_owned(),
            width: seen.head.width,
            height: seen.head.height,
            length: bytes.len() as u64,
        };
        Ok(Self { meta, cut_off: is_cut_off(bytes), thumbnail: jpeg(seen.small, 80)? })
    }
}

impl Store {
    /// Takes in a photo, JPEG or PNG. The original is kept byte by byte; taking it in again does
    /// nothing.
    ///
    /// # Errors
    /// As for [`ReadPhoto::of`]; the database failed.
    pub fn add_photo(&mut self, bytes: &[u8]) -> Result<PhotoMeta, StoreError> {
        self.take_photo(bytes, ReadPhoto::of)
    }

    /// The same for a photo that a board speaks of already.
    ///
    /// # Errors
    /// As for [`ReadPhoto::kept`]; the database failed.
    pub fn keep_photo(&mut self, bytes: &[u8]) -> Result<PhotoMeta, StoreError> {
        self.take_photo(bytes, ReadPhoto::kept)
    }

    fn take_photo(
        &mut self,
        bytes: &[u8],
        read: fn(&[u8]) -> Result<ReadPhoto, StoreError>,
    ) -> Result<PhotoMeta, StoreError> {
        let hash = sha256(bytes);
        if let Some(meta) = self.photo_meta(&hash)?
            && self.has_sound_photo(&hash)?
        {
            return Ok(meta);
        }
        self.add_read_photo(&read(bytes)?, bytes)
    }

    /// Takes in a photo that was read before, with the bytes it was read from. Damaged bytes of the
    /// same photo are replaced.
    ///
    /// # Errors
    /// [`StoreError::Photo`] where these are other bytes; the database failed.
    pub fn add_read_photo(&mut self, read: &ReadPhoto, bytes: &[u8]) -> Result<PhotoMeta, StoreError> {
        let ReadPhoto { meta, thumbnail, .. } = read.clone();
        if meta.hash != sha256(bytes) {
            return Err(refused(say!("picture-changed")));
        }
        self.write(|store| {
            let length = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
            let new = store
                .db
                .prepare_cached(
                    "INSERT INTO photos VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (hash) DO UPDATE SET media = excluded.media,
                     width = excluded.width, height = excluded.height, length = excluded.length, thumbnail = excluded.thumbnail",
                )?
                .execute(params![meta.hash, meta.media, meta.width, meta.height, length, thumbnail])?;
            if new > 0 {
                store.highest_photo = Some(store.db.last_insert_rowid());
            }
            store
                .db
                .prepare_cached(
                    "INSERT INTO photo_bytes VALUES (?1, ?2) ON CONFLICT (hash) DO UPDATE SET bytes = excluded.bytes",
                )?
                .execute(params![meta.hash, bytes])?;
            store.photo_is_sound(&meta.hash)?;
            Ok(meta)
        })
    }

    /// What is known of a photo; `None` where it is not in this store.
    ///
    /// # Errors
    /// The database failed.
    pub fn photo_meta(&self, hash: &str) -> Result<Option<PhotoMeta>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT hash, media, width, height, length FROM photos WHERE hash = ?1")?;
        let meta = statement.query_row([hash], |row| {
            Ok(PhotoMeta {
                hash: row.get(0)?,
                media: row.get(1)?,
                width: row.get(2)?,
                height: row.get(3)?,
                length: row.get::<_, i64>(4)?.unsigned_abs(),
            })
        });
        Ok(meta.optional()?)
    }

    /// The original, byte by byte.
    ///
    /// # Errors
    /// [`StoreError::NoPhoto`]; [`StoreError::DamagedPhoto`] where its bytes no longer give its hash;
    /// the database failed.
    pub fn photo(&self, hash: &str) -> Result<Vec<u8>, StoreError> {
        let bytes = self.photo_column("SELECT bytes FROM photo_bytes WHERE hash = ?1", hash)?;
        if sha256(&bytes) == hash {
            return Ok(bytes);
        }
        // It is told in any case, also where it cannot be noted since when.
        drop(self.photo_is_damaged(hash));
        Err(StoreError::DamagedPhoto(hash.to_owned()))
    }

    /// True where the photo is here and its bytes give its hash.
    ///
    /// # Errors
    /// The database failed.
    pub fn has_sound_photo(&self, hash: &str) -> Result<bool, StoreError> {
        match self.photo(hash) {
            Ok(_) => Ok(true),
            Err(StoreError::NoPhoto(_) | StoreError::DamagedPhoto(_)) => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// A small JPEG of it, upright.
    ///
    /// # Errors
    /// [`StoreError::NoPhoto`], or the database failed.
    pub fn thumbnail(&self, hash: &str) -> Result<Vec<u8>, StoreError> {
        self.photo_column("SELECT thumbnail FROM photos WHERE hash = ?1", hash)
    }

    /// A JPEG of it, upright, no side longer than `longest` pixels; made when asked for.
    ///
    /// # Errors
    /// [`StoreError::NoPhoto`], or the database failed.
    pub fn photo_for_screen(&self, hash: &str, longest: u32) -> Result<Vec<u8>, StoreError> {
        for_screen(&self.photo(hash)?, longest)
    }

    fn photo_column(&self, sql: &str, hash: &str) -> Result<Vec<u8>, StoreError> {
        let bytes = self.db.prepare_cached(sql)?.query_row([hash], |row| row.get(0)).optional();
        let bytes = bytes.map_err(StoreError::from).inspect_err(|error| self.suspect(error))?;
        bytes.ok_or_else(|| StoreError::NoPhoto(hash.chars().take(80).collect()))
    }

    /// Hashes of photos that boards speak of and this store does not hold, with the boards' ids.
    ///
    /// # Errors
    /// The database failed.
    pub fn missing_photos(&self) -> Result<Vec<(survey::BoardId, String)>, StoreError> {
        let mut statement = self.db.prepare_cached(include_str!("../sql/missing_photos.sql"))?;
        let rows =
            statement.query_map([], |row| Ok((survey::BoardId(uuid::Uuid::from_bytes(row.get(0)?)), row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The photos of a site's boards that this store holds.
    ///
    /// # Errors
    /// The database failed.
    pub fn photos_of_site(&self, site: SiteId) -> Result<Vec<PhotoMeta>, StoreError> {
        let hashes: Vec<String> = self
            .db
            .prepare_cached(include_str!("../sql/photos_of_site.sql"))?
            .query_map([site.0.as_bytes().as_slice()], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        let mut photos = Vec::new();
        for hash in hashes {
            photos.extend(self.photo_meta(&hash)?);
        }
        Ok(photos)
    }
}

fn refused(reason: Message) -> StoreError {
    StoreError::Photo(reason)
}

/// True for a JPEG that ends before its picture does.
#[must_use]
pub fn is_cut_off(bytes: &[u8]) -> bool {
    image::guess_format(bytes).is_ok_and(|format| format == ImageFormat::Jpeg) && !has_end(bytes)
}

/// True where a JPEG's picture data come to their end marker (ITU-T T.81, annex B: segments with
/// their lengths, and after each start of scan data in which FF is followed by 00 or a restart
/// marker). Pictures within segments, such as a preview, are stepped over.
fn has_end(bytes: &[u8]) -> bool {
    let mut at = 2;
    let mut in_scan = false;
    while let Some(&byte) = bytes.get(at) {
        if byte != 0xff {
            // Between segments only markers stand; whoever wrote other bytes there is passed over.
            at += 1;
            continue;
        }
        let Some(&marker) = bytes.get(at + 1) else { return false };
        match marker {
            0xff => at += 1,
            0x00 | 0x01 | 0xd0..=0xd8 => at += 2,
            0xd9 => return in_scan,
            _ => {
                in_scan |= marker == 0xda;
                let length = bytes.get(at + 2..at + 4).map_or(0, |two| usize::from(two[0]) << 8 | usize::from(two[1]));
                at += 2 + length.max(2);
            }
        }
    }
    false
}

/// What the head of a picture says.
#[derive(Clone, Copy)]
struct Head {
    format: ImageFormat,
    /// Pixels across and down, as shown upright.
    width: u32,
    height: u32,
}

/// A picture as it is shown.
struct Seen {
    head: Head,
    /// Upright, no side longer than was asked for.
    small: DynamicImage,
}

/// Why a picture was not read.
enum Trouble {
    /// It needs more memory than is used for one.
    Heavy(Head, Message),
    /// It is none, or damaged.
    Bad(Message),
}

impl From<Trouble> for StoreError {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::Heavy(_, reason) | Trouble::Bad(reason) => refused(reason),
        }
    }
}

/// A JPEG of a photo that was read from the store, upright, no side longer than `longest` pixels.
///
/// # Errors
/// [`StoreError::Photo`] where it cannot be read as a picture.
pub fn for_screen(photo: &[u8], longest: u32) -> Result<Vec<u8>, StoreError> {
    jpeg(look(photo, longest.clamp(16, 8192))?.small, 85)
}

/// Reads a picture, makes it small, turns it upright, within limits: neither a huge picture nor a small file that
/// unpacks to one may exhaust the memory. The small one is turned, not the whole: turning takes the room of two.
fn look(bytes: &[u8], longest: u32) -> Result<Seen, Trouble> {
    let work = || {
        let damaged = |error: image::ImageError| Trouble::Bad(say!("picture-unreadable", why = error.to_string()));
        let format = image::guess_format(bytes)
            .ok()
            .filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png))
            .ok_or_else(|| Trouble::Bad(say!("picture-other-kind")))?;
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = Limits::default();
        limits.max_alloc = Some(MOST_MEMORY);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(damaged)?;
        let (across, down) = decoder.dimensions();
        let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
        let turned = matches!(
            orientation,
            Orientation::Rotate90 | Orientation::Rotate270 | Orientation::Rotate90FlipH | Orientation::Rotate270FlipH
        );
        let (width, height) = if turned { (down, across) } else { (across, down) };
        let head = Head { format, width, height };
        let pixels = u64::from(across) * u64::from(down);
        if pixels > MOST_PIXELS {
            let most = (MOST_PIXELS / 1_000_000).to_string();
            let (across, down) = (across.to_string(), down.to_string());
            return Err(Trouble::Bad(say!("picture-pixels", across = across, down = down, most = most)));
        }
        let room = MOST_MEMORY.saturating_sub(bytes.len() as u64);
        let mut small = match rows(bytes, format)? {
            Some(reader) => by_rows(reader, longest)?,
            None => {
                let need = decoder.total_bytes().saturating_add(coefficients(bytes, format));
                if need > room {
                    return Err(Trouble::Heavy(head, too_heavy(format, across, down, need, room)));
                }
                let whole = DynamicImage::from_decoder(decoder).map_err(damaged)?;
                if across.max(down) > longest { whole.thumbnail(longest, longest) } else { whole }
            }
        };
        small.apply_orientation(orientation);
        Ok(Seen { head, small })
    };
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(Trouble::Bad(say!("picture-damaged"))))
}

/// What would do in the place of a picture that needs too much memory.
fn too_heavy(format: ImageFormat, across: u32, down: u32, need: u64, room: u64) -> Message {
    const MB: u64 = 1024 * 1024;
    let pixels = u64::from(across) * u64::from(down);
    let fit = (pixels.saturating_mul(room) / need.max(1)) / 1_000_000;
    say!(
        "picture-heavy",
        across = across.to_string(),
        down = down.to_string(),
        need = (need / MB).to_string(),
        room = (room / MB).to_string(),
        format = Argument::Choice(if format == ImageFormat::Png { "png" } else { "jpeg" }),
        fit = fit.to_string(),
    )
}

/// A reader row by row, where the format allows it: a PNG that is not interlaced.
fn rows(bytes: &[u8], format: ImageFormat) -> Result<Option<png::Reader<Cursor<&[u8]>>>, Trouble> {
    if format != ImageFormat::Png {
        return Ok(None);
    }
    let limits = png::Limits { bytes: usize::try_from(MOST_MEMORY / 4).unwrap_or(usize::MAX) };
    let mut decoder = png::Decoder::new_with_limits(Cursor::new(bytes), limits);
    // Palettes become colours, 16 bits a channel become 8.
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    let reader = decoder.read_info().map_err(|error| broken_png(&error))?;
    Ok((!reader.info().interlaced).then_some(reader))
}

fn broken_png(error: &png::DecodingError) -> Trouble {
    Trouble::Bad(say!("picture-unreadable", why = error.to_string()))
}

/// Makes a picture small while it is read: each of its pixels is the mean of those it stands for.
fn by_rows(mut reader: png::Reader<Cursor<&[u8]>>, longest: u32) -> Result<DynamicImage, Trouble> {
    let (across, down) = (reader.info().width, reader.info().height);
    let longer = across.max(down).max(1);
    let scaled = |side: u32| {
        let side = u64::from(side);
        let small = if longer > longest { (side * u64::from(longest)).div_ceil(u64::from(longer)) } else { side };
        u32::try_from(small.max(1)).unwrap_or(1)
    };
    let (width, height) = (scaled(across), scaled(down));
    let (colour, _) = reader.output_color_type();
    let channels = colour.samples();
    let colours = if channels >= 3 { [0, 1, 2] } else { [0; 3] };
    let mut out = RgbImage::new(width, height);
    let mut sums = vec![[0_u32; 4]; width as usize];
    let columns: Vec<usize> =
        (0..across).map(|x| (u64::from(x) * u64::from(width) / u64::from(across)) as usize).collect();
    let mut line = 0;
    for y in 0..down {
        let here = u32::try_from(u64::from(y) * u64::from(height) / u64::from(down)).unwrap_or(line);
        if here != line {
            put(&mut out, line, &mut sums);
            line = here;
        }
        let row = reader.next_row().map_err(|error| broken_png(&error))?;
        let row = row.ok_or_else(|| Trouble::Bad(say!("picture-short")))?;
        for (pixel, column) in row.data().chunks_exact(channels).zip(&columns) {
            let sum = &mut sums[*column];
            for (sum, channel) in sum.iter_mut().zip(colours) {
                *sum += u32::from(pixel[channel]);
            }
            sum[3] += 1;
        }
    }
    put(&mut out, line, &mut sums);
    reader.finish().map_err(|error| broken_png(&error))?;
    Ok(out.into())
}

fn put(out: &mut RgbImage, line: u32, sums: &mut [[u32; 4]]) {
    for (x, sum) in (0..out.width()).zip(sums) {
        let [red, green, blue, count] = *sum;
        let mean = |sum: u32| u8::try_from(sum / count.max(1)).unwrap_or(u8::MAX);
        out.put_pixel(x, line, image::Rgb([mean(red), mean(green), mean(blue)]));
        *sum = [0; 4];
    }
}

/// Bytes that a reader of a JPEG keeps beside the picture. A progressive one comes in several passes over all of it:
/// two bytes for every sample until the last (ITU-T T.81, clause G). Told by the head of its frame (B.2.2).
fn coefficients(bytes: &[u8], format: ImageFormat) -> u64 {
    if format != ImageFormat::Jpeg {
        return 0;
    }
    let mut at = 2;
    while let Some([0xff, kind, high, low]) = bytes.get(at..at + 4) {
        match kind {
            // Fill before a marker, and markers that stand alone.
            0xff => at += 1,
            0x01 | 0xd0..=0xd8 => at += 2,
            // Frames of other kinds than these come in one pass.
            0xc2 | 0xc6 | 0xca | 0xce => {
                let number =
                    |at: usize| bytes.get(at..at + 2).map_or(0, |two| u64::from(two[0]) << 8 | u64::from(two[1]));
                let (down, across) = (number(at + 5), number(at + 7));
                let components = bytes.get(at + 9).map_or(0, |count| usize::from(*count));
                let factors = (0..components).filter_map(|index| bytes.get(at + 11 + 3 * index));
                let factors: Vec<(u64, u64)> =
                    factors.map(|byte| (u64::from(byte >> 4).max(1), u64::from(byte & 15).max(1))).collect();
                let widest = factors.iter().map(|(h, _)| *h).max().unwrap_or(1);
                let tallest = factors.iter().map(|(_, v)| *v).max().unwrap_or(1);
                // Blocks of eight by eight, whole units of all components.
                let (units, lines) = (across.div_ceil(8 * widest), down.div_ceil(8 * tallest));
                return factors.iter().map(|(h, v)| units * lines * h * v * 64 * 2).sum();
            }
            0xc0 | 0xc1 | 0xc3 | 0xc5 | 0xc7 | 0xc9 | 0xcb | 0xcd | 0xcf | 0xd9 | 0xda => return 0,
            _ => at += 2 + (usize::from(*high) << 8 | usize::from(*low)),
        }
    }
    0
}

fn jpeg(small: DynamicImage, quality: u8) -> Result<Vec<u8>, StoreError> {
    let mut out = Vec::new();
    small
        .into_rgb8()
        .write_with_encoder(JpegEncoder::new_with_quality(&mut out, quality))
        .map_err(|error| refused(say!("picture-no-smaller", why = error.to_string())))?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{GrayImage, ImageEncoder, Rgba, RgbaImage};

    fn png(picture: impl Into<DynamicImage>) -> Vec<u8> {
        let mut out = Cursor::new(Vec::new());
        picture.into().write_to(&mut out, ImageFormat::Png).unwrap();
        out.into_inner()
    }

    fn seen(bytes: &[u8], longest: u32) -> RgbImage {
        let Ok(seen) = look(bytes, longest) else { panic!("it is not read") };
        seen.small.into_rgb8()
    }

    #[test]
    fn row_by_row_a_picture_is_what_it_is_whole() {
        let colour = RgbaImage::from_fn(301, 203, |x, y| Rgba([(x / 2) as u8, y as u8, ((x + y) / 4) as u8, 255]));
        let deep = DynamicImage::from(colour.clone()).into_rgb16();
        let grey: GrayImage = DynamicImage::from(colour.clone()).into_luma8();
        let both = DynamicImage::from(colour.clone()).into_luma_alpha16();
        for picture in [DynamicImage::from(colour), deep.into(), grey.into(), both.into()] {
            let bytes = png(picture.clone());
            let (whole, wanted) = (seen(&bytes, 1000), picture.to_rgb8());
            assert_eq!(whole.dimensions(), wanted.dimensions());
            // Of 16 bits the upper 8 are taken, not the nearest.
            assert!(whole.iter().zip(wanted.iter()).all(|(a, b)| a.abs_diff(*b) <= 1));
            let (small, wanted) = (seen(&bytes, 50), picture.thumbnail(50, 50).into_rgb8());
            assert_eq!(small.dimensions(), wanted.dimensions());
            let apart = small.iter().zip(wanted.iter()).map(|(a, b)| a.abs_diff(*b)).max().unwrap();
            assert!(apart <= 8, "{apart}");
        }
    }

    #[test]
    fn what_needs_too_much_is_told_before_it_is_read() {
        // The head of a progressive frame: 9000 by 8000, three components, the first twice as fine both ways.
        let mut head = vec![0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xc2, 0, 17, 8];
        head.extend([0x1f, 0x40, 0x23, 0x28, 3, 1, 0x22, 0, 2, 0x11, 0, 3, 0x11, 0]);
        let blocks = 563 * 500;
        assert_eq!(coefficients(&head, ImageFormat::Jpeg), blocks * 6 * 64 * 2);
        head[9] = 0xc0;
        assert_eq!(coefficients(&head, ImageFormat::Jpeg), 0);
        assert_eq!(coefficients(&head[..20], ImageFormat::Jpeg), 0);
        let words = too_heavy(ImageFormat::Jpeg, 9000, 8000, 400 << 20, 200 << 20);
        assert!(words.contains("up to 36 million pixels") && words.contains("400 MB"), "{words}");
    }

    #[test]
    fn a_grey_jpeg_is_read_too() {
        let grey = GrayImage::from_fn(64, 48, |x, _| image::Luma([x as u8 * 4]));
        let mut out = Vec::new();
        JpegEncoder::new(&mut out).write_image(&grey, 64, 48, image::ExtendedColorType::L8).unwrap();
        assert_eq!(seen(&out, 32).dimensions(), (32, 24));
    }
}
