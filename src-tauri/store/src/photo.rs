//! Photos: the original as it came, by its SHA-256, and smaller pictures made from it.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use rusqlite::{OptionalExtension, params};
use sha2::{Digest, Sha256};
use survey::SiteId;

use crate::error::StoreError;
use crate::store::Store;

/// Largest photo taken in, in bytes.
pub const LARGEST_PHOTO: usize = 64 * 1024 * 1024;
/// Most pixels of a photo taken in.
pub const MOST_PIXELS: u64 = 100_000_000;
/// Most bytes of memory used while reading one.
const MOST_MEMORY: u64 = 640 * 1024 * 1024;
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
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
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
        if bytes.len() > LARGEST_PHOTO {
            return Err(refused(format!(
                "it has {} MB; up to {} MB will do",
                bytes.len() / 1024 / 1024,
                LARGEST_PHOTO / 1024 / 1024
            )));
        }
        let (format, picture) = decode(bytes)?;
        let meta = PhotoMeta {
            hash: sha256(bytes),
            media: format.to_mime_type().to_owned(),
            width: picture.width(),
            height: picture.height(),
            length: bytes.len() as u64,
        };
        let cut_off = format == ImageFormat::Jpeg && !has_end(bytes);
        Ok(Self { meta, cut_off, thumbnail: jpeg(&picture, THUMBNAIL, 80)? })
    }
}

impl Store {
    /// Takes in a photo, JPEG or PNG. The original is kept byte by byte; taking it in again does
    /// nothing.
    ///
    /// # Errors
    /// As for [`ReadPhoto::of`]; the database failed.
    pub fn add_photo(&mut self, bytes: &[u8]) -> Result<PhotoMeta, StoreError> {
        let hash = sha256(bytes);
        if let Some(meta) = self.photo_meta(&hash)?
            && self.has_sound_photo(&hash)?
        {
            return Ok(meta);
        }
        self.add_read_photo(&ReadPhoto::of(bytes)?, bytes)
    }

    /// Takes in a photo that was read before, with the bytes it was read from. Damaged bytes of the
    /// same photo are replaced.
    ///
    /// # Errors
    /// [`StoreError::Photo`] where these are other bytes; the database failed.
    pub fn add_read_photo(&mut self, read: &ReadPhoto, bytes: &[u8]) -> Result<PhotoMeta, StoreError> {
        let ReadPhoto { meta, thumbnail, .. } = read.clone();
        if meta.hash != sha256(bytes) {
            return Err(refused("its bytes changed while it was read; take it in again"));
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
        let (_, picture) = decode(&self.photo(hash)?)?;
        jpeg(&picture, longest.clamp(16, 8192), 85)
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

fn refused(reason: impl Into<String>) -> StoreError {
    StoreError::Photo(reason.into())
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

/// Reads a picture and turns it upright, within limits: neither a huge picture nor a small file
/// that unpacks to one may exhaust the memory.
fn decode(bytes: &[u8]) -> Result<(ImageFormat, DynamicImage), StoreError> {
    let work = || {
        let damaged =
            |error: image::ImageError| refused(format!("it cannot be read ({error}); take or export it again"));
        let format = image::guess_format(bytes)
            .ok()
            .filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png))
            .ok_or_else(|| refused("it is neither JPEG nor PNG: export it as one of these"))?;
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = Limits::default();
        limits.max_alloc = Some(MOST_MEMORY);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(damaged)?;
        let (width, height) = decoder.dimensions();
        if u64::from(width) * u64::from(height) > MOST_PIXELS {
            return Err(refused(format!(
                "it has {width} by {height} pixels; up to {} million will do",
                MOST_PIXELS / 1_000_000
            )));
        }
        if decoder.total_bytes() > MOST_MEMORY {
            return Err(refused("it needs too much memory: export it with 8 bits a channel"));
        }
        let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
        let mut picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
        picture.apply_orientation(orientation);
        Ok((format, picture))
    };
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(refused("it is damaged; take or export it again")))
}

fn jpeg(picture: &DynamicImage, longest: u32, quality: u8) -> Result<Vec<u8>, StoreError> {
    let small = if picture.width().max(picture.height()) > longest {
        picture.thumbnail(longest, longest)
    } else {
        picture.clone()
    };
    let mut out = Vec::new();
    small
        .into_rgb8()
        .write_with_encoder(JpegEncoder::new_with_quality(&mut out, quality))
        .map_err(|error| refused(format!("a smaller picture of it cannot be made ({error})")))?;
    Ok(out)
}
