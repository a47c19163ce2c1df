//! The high-water mark beside a database: which store was here and how many changes it had.
//!
//! It is written after a commit, so that it never claims more than is on the disk. Where the
//! database later holds fewer, or is not there, an older copy is in its place or its log was lost,
//! and a person is told.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::owner::{beside, private};

const END: &str = "-mark";

/// What the mark says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Mark {
    /// The store's own id.
    pub store: Uuid,
    /// Changes it had.
    pub count: i64,
    /// Photos it had.
    pub photos: i64,
}

impl Mark {
    /// `None` where there is none, or it was not written to its end.
    pub(crate) fn read(path: &Path) -> Option<Self> {
        let mut text = String::new();
        File::open(beside(path, END)).ok()?.take(200).read_to_string(&mut text).ok()?;
        let (said, check) = text.trim_end().rsplit_once(' ')?;
        let mut parts = said.splitn(3, ' ');
        let (store, count, photos) = (parts.next()?, parts.next()?, parts.next()?);
        let mark = Self { store: store.parse().ok()?, count: count.parse().ok()?, photos: photos.parse().ok()? };
        (checked(said) == check).then_some(mark)
    }

    /// Something was ever saved.
    pub(crate) fn is_of_something(&self) -> bool {
        self.count > 0 || self.photos > 0
    }

    /// By this it is remembered that what this mark says was told.
    pub(crate) fn told(&self) -> String {
        format!("{} {}", self.count, self.photos)
    }

    /// Always of the same length, so that it is written over in one piece.
    fn text(self) -> String {
        let said = format!("{} {:020} {:020}", self.store, self.count, self.photos);
        format!("{said} {}\n", checked(&said))
    }
}

fn checked(said: &str) -> String {
    hex::encode(&Sha256::digest(said)[..4])
}

/// The mark of a store that is open.
pub(crate) struct Marking {
    file: Option<File>,
    mark: Mark,
}

impl Marking {
    /// Without a file, where none can be made: then only the mark is missing.
    pub(crate) fn begin(path: &Path, mark: Mark) -> Self {
        let file = private().write(true).create(true).truncate(false).open(beside(path, END)).ok();
        let mut marking = Self { file, mark };
        marking.write();
        marking
    }

    /// So many changes and photos are on the disk, where their number has grown.
    pub(crate) fn raise(&mut self, count: Option<i64>, photos: Option<i64>) {
        self.mark.count = count.unwrap_or(self.mark.count);
        self.mark.photos = photos.unwrap_or(self.mark.photos);
        self.write();
    }

    fn write(&mut self) {
        if let Some(file) = &mut self.file {
            let text = self.mark.text();
            // A mark that is too low misleads nobody.
            let _too_low = file.seek(SeekFrom::Start(0)).and_then(|_| file.write_all(text.as_bytes()));
        }
    }
}
