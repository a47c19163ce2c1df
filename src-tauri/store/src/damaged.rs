//! Reads a database file page by page where SQLite no longer does, and its write-ahead log.
//!
//! By the published description of SQLite's file format (sections 1.3 the header, 1.6 b-tree pages,
//! 1.7 overflow pages, 2.1 records, 2.6 the schema table, 4 the write-ahead log). A row is known for what it is by the
//! types of its columns, so that it is found on whatever page it stands; what has a hash is taken
//! where its bytes give it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use rusqlite::types::Value;
use uuid::Uuid;

use crate::document::ChangeId;
use crate::document::salvage::{MAGIC, hash_of, said_length};
use crate::owner::beside;
use crate::photo::sha256;

/// First bytes of a database.
pub(crate) const HEAD: &[u8; 16] = b"SQLite format 3\0";
/// Bytes of the header, on page 1 before the b-tree.
pub(crate) const HEAD_LENGTH: usize = 100;
/// The page size that SQLite gives a new database, and so ours.
const OUR_PAGE: usize = 4096;
/// Beginning of the log and of each page in it.
const LOG_HEAD: usize = 32;
const FRAME_HEAD: usize = 24;
/// Deepest b-tree followed; a sound one of this depth would be larger than any disk.
const DEEPEST: usize = 20;
/// Bytes hashed at most while trying out where the pages of a broken chain may be.
const MOST_TRIED: usize = 512 * 1024 * 1024;

pub(crate) fn big_endian(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn short(bytes: &[u8], at: usize) -> Option<usize> {
    Some(usize::from(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?)))
}

/// A number as SQLite writes it, and how many bytes it has.
fn varint(bytes: &[u8], at: usize) -> Option<(u64, usize)> {
    let mut value = 0_u64;
    for index in 0..9 {
        let byte = *bytes.get(at.checked_add(index)?)?;
        if index == 8 {
            return Some(((value << 8) | u64::from(byte), 9));
        }
        value = (value << 7) | u64::from(byte & 0x7f);
        if byte & 0x80 == 0 {
            return Some((value, index + 1));
        }
    }
    None
}

fn varint_length(value: u64) -> usize {
    (1..9).find(|count| value < 1 << (7 * count)).unwrap_or(9)
}

/// The types of a record's columns and the length of its head.
fn types(record: &[u8]) -> Option<(Vec<u64>, usize)> {
    let (head, mut at) = varint(record, 0)?;
    let head = usize::try_from(head).ok().filter(|head| *head <= 128 && *head <= record.len())?;
    let mut types = Vec::new();
    while at < head {
        let (kind, length) = varint(record, at)?;
        types.push(kind);
        at += length;
    }
    (at == head).then_some((types, head))
}

fn width(kind: u64) -> Option<usize> {
    Some(match kind {
        0 | 8 | 9 => 0,
        1..=4 => usize::try_from(kind).ok()?,
        5 => 6,
        6 | 7 => 8,
        10 | 11 => return None,
        longer => usize::try_from((longer - 12) / 2).ok()?,
    })
}

fn is_whole(kind: u64) -> bool {
    matches!(kind, 1..=6 | 8 | 9)
}
fn is_text(kind: u64) -> bool {
    kind >= 13 && kind % 2 == 1
}
fn is_blob(kind: u64) -> bool {
    kind >= 12 && kind.is_multiple_of(2)
}
/// A blob of 16 bytes: the id of a document.
const ID: u64 = 44;
/// A blob of 32 bytes: the hash of a change.
const HASH: u64 = 76;
/// A text of 64 letters: the hash of a photo.
const PHOTO: u64 = 141;

/// What a record is by the types of its columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Table {
    Documents,
    Changes,
    Photos,
    PhotoBytes,
    Ops,
    Own,
    Notices,
    Incoming,
    Schema,
}

fn table_of(types: &[u64]) -> Option<Table> {
    Some(match *types {
        [ID, 21 | 23, snapshot, upto, pending, size]
            if is_blob(snapshot) && [upto, pending, size].into_iter().all(is_whole) =>
        {
            Table::Documents
        }
        [0, ID, HASH, bytes] if is_blob(bytes) => Table::Changes,
        [PHOTO, media, width, height, length, small]
            if is_text(media) && [width, height, length].into_iter().all(is_whole) && is_blob(small) =>
        {
            Table::Photos
        }
        [PHOTO, bytes] if is_blob(bytes) => Table::PhotoBytes,
        [0, ID, name, touched, HASH, 0 | HASH, state] | [0, ID, name, touched, HASH, 0 | HASH, state, 0 | ID]
            if is_text(name) && is_text(touched) && is_text(state) =>
        {
            Table::Ops
        }
        [name, value] if is_text(name) && is_text(value) => Table::Own,
        [0, at, text, read] if is_text(at) && is_text(text) && (read == 0 || is_text(read)) => Table::Notices,
        [0, ID, kind, bytes, at] if is_text(kind) && is_blob(bytes) && is_text(at) => Table::Incoming,
        [kind, name, of, root, sql]
            if is_text(kind) && is_text(name) && is_text(of) && is_whole(root) && (sql == 0 || is_text(sql)) =>
        {
            Table::Schema
        }
        _ => return None,
    })
}

fn values(record: &[u8]) -> Option<Vec<Value>> {
    let (types, mut at) = types(record)?;
    let mut values = Vec::new();
    for kind in types {
        let bytes = record.get(at..at.checked_add(width(kind)?)?)?;
        at += bytes.len();
        values.push(match kind {
            0 => Value::Null,
            8 => Value::Integer(0),
            9 => Value::Integer(1),
            1..=6 => {
                let start = if bytes[0] & 0x80 == 0 { 0 } else { -1 };
                Value::Integer(bytes.iter().fold(start, |value: i64, byte| (value << 8) | i64::from(*byte)))
            }
            7 => Value::Real(f64::from_be_bytes(bytes.try_into().ok()?)),
            text if is_text(text) => Value::Text(String::from_utf8(bytes.to_vec()).ok()?),
            _ => Value::Blob(bytes.to_vec()),
        });
    }
    Some(values)
}

fn blob<const N: usize>(value: Option<&Value>) -> Option<[u8; N]> {
    match value? {
        Value::Blob(bytes) => bytes.as_slice().try_into().ok(),
        _ => None,
    }
}

/// Which of several versions of a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum View {
    /// As the database has it with what is committed in the log.
    Now,
    /// As the file has it.
    File,
    /// As it was when this page of the log was written.
    Log(usize),
}

struct Frame {
    page: u32,
    /// Ends a transaction.
    ends: bool,
    /// Its checksum holds, and it is of the log's present round.
    good: bool,
}

/// Where a row begins.
#[derive(Clone, Copy, Debug)]
struct Cell {
    view: View,
    page: u32,
    start: usize,
    /// Bytes of the record's head; its columns follow.
    head: usize,
    length: usize,
    row: Option<i64>,
    table: Table,
}

/// A photo that is there, and where.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PhotoPlace(Cell, Swap);

/// Two pages that changed places, as far as a row is concerned.
type Swap = Option<(u32, u32)>;

/// A change found.
pub(crate) struct FoundChange {
    pub document: Uuid,
    pub bytes: Vec<u8>,
}

/// What was found in a damaged database.
#[derive(Default)]
pub(crate) struct Found {
    pub changes: BTreeMap<ChangeId, FoundChange>,
    pub kinds: BTreeMap<Uuid, String>,
    /// Documents saved whole, each bytes once.
    pub snapshots: BTreeSet<(Uuid, Vec<u8>)>,
    pub photos: BTreeMap<String, PhotoPlace>,
    /// Rows of `ops`, `own`, `notices` and `incoming`, each with its number.
    pub rows: BTreeMap<(Table, i64), Vec<Value>>,
    /// Changes that must have been there, by what else speaks of them.
    pub expected: BTreeMap<ChangeId, Uuid>,
    pub expected_photos: BTreeSet<String>,
    /// Rows of `photos`, by their hash.
    pub photo_rows: BTreeMap<String, Vec<Value>>,
    /// Largest number of a change.
    pub highest: i64,
    pub pages: u32,
    /// Pages that the header or the log speaks of and that are not there.
    pub cut_off: u32,
    /// Pages of the tables that cannot be read.
    pub broken: usize,
}

pub(crate) struct Image {
    file: Option<File>,
    log: Option<File>,
    size: usize,
    pages: u32,
    said_pages: u32,
    frames: Vec<Frame>,
    latest: BTreeMap<u32, usize>,
    log_broken: bool,
    next: BTreeMap<u32, u32>,
    tried: usize,
    swaps: Vec<(u32, u32)>,
}

fn read_at(file: &mut File, at: u64, buffer: &mut [u8]) -> io::Result<usize> {
    file.seek(SeekFrom::Start(at))?;
    let mut done = 0;
    while done < buffer.len() {
        match file.read(&mut buffer[done..]) {
            Ok(0) => break,
            Ok(count) => done += count,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            // A place of the disk that cannot be read is as good as zeros.
            Err(_) => break,
        }
    }
    Ok(done)
}

fn open_existing(path: &Path) -> io::Result<Option<File>> {
    match File::open(path) {
        Ok(file) => Ok(Some(file)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}

fn page_size(said: usize) -> Option<usize> {
    let size = if said == 1 { 65536 } else { said };
    (size.is_power_of_two() && (512..=65536).contains(&size)).then_some(size)
}

/// Checksum of the log, section 4.2.
fn checksum(mut sums: [u32; 2], bytes: &[u8], big: bool) -> [u32; 2] {
    let word = |four: &[u8]| {
        let four = [four[0], four[1], four[2], four[3]];
        if big { u32::from_be_bytes(four) } else { u32::from_le_bytes(four) }
    };
    for eight in bytes.chunks_exact(8) {
        sums[0] = sums[0].wrapping_add(word(eight)).wrapping_add(sums[1]);
        sums[1] = sums[1].wrapping_add(word(&eight[4..])).wrapping_add(sums[0]);
    }
    sums
}

impl Image {
    pub(crate) fn open(path: &Path) -> io::Result<Self> {
        let mut file = open_existing(path)?;
        let mut log = open_existing(&beside(path, "-wal"))?;
        let length = file.as_ref().map_or(Ok(0), |file| file.metadata().map(|meta| meta.len()))?;
        let mut head = [0; HEAD_LENGTH];
        if let Some(file) = &mut file {
            read_at(file, 0, &mut head)?;
        }
        let mut log_head = [0; LOG_HEAD];
        if let Some(log) = &mut log {
            read_at(log, 0, &mut log_head)?;
        }
        let said = page_size(short(&head, 16).unwrap_or_default());
        let of_log = big_endian(&log_head, 8).and_then(|size| page_size(usize::try_from(size).ok()?));
        let mut image = Self {
            file,
            log,
            size: OUR_PAGE,
            pages: 0,
            said_pages: if head.starts_with(HEAD) { big_endian(&head, 28).unwrap_or_default() } else { 0 },
            frames: Vec::new(),
            latest: BTreeMap::new(),
            log_broken: false,
            next: BTreeMap::new(),
            tried: 0,
            swaps: Vec::new(),
        };
        // The size with which most pages look like pages; ours where none does better.
        let mut best = 0;
        let sizes: BTreeSet<usize> = [Some(OUR_PAGE), said, of_log].into_iter().flatten().collect();
        if sizes.len() > 1 {
            for size in sizes {
                image.size = size;
                image.pages = pages_of(length, size);
                let alike = (1..=image.pages.min(2000)).filter(|page| image.looks_like_page(*page)).count() * size;
                if alike > best || (alike == best && size == OUR_PAGE) {
                    best = alike;
                    head[16..18].copy_from_slice(&u16::try_from(size).unwrap_or(1).to_be_bytes());
                }
            }
            image.size = short(&head, 16).and_then(page_size).unwrap_or(OUR_PAGE);
        }
        image.pages = pages_of(length, image.size);
        image.read_log()?;
        Ok(image)
    }

    fn looks_like_page(&mut self, page: u32) -> bool {
        let Some(bytes) = self.page(page, View::File) else { return false };
        let at = if page == 1 { HEAD_LENGTH } else { 0 };
        let count = short(&bytes, at + 3).unwrap_or(usize::MAX);
        matches!(bytes[at], 2 | 5 | 10 | 13) && count > 0 && at + 8 + 2 * count < bytes.len()
    }

    /// Finds the pages in the log. A page's checksum goes on from that of the page before it, so
    /// that each can be judged by itself.
    fn read_log(&mut self) -> io::Result<()> {
        let Some(log) = &mut self.log else { return Ok(()) };
        let length = log.metadata()?.len();
        let mut head = [0; LOG_HEAD];
        if read_at(log, 0, &mut head)? < LOG_HEAD {
            return Ok(());
        }
        let number = |bytes: &[u8], at| big_endian(bytes, at).unwrap_or_default();
        let magic = number(&head, 0);
        let big = magic & 1 == 1;
        let sums = checksum([0, 0], &head[..24], big);
        let head_good = magic >> 1 == 0x377f_0682 >> 1 && sums == [number(&head, 24), number(&head, 28)];
        let mut salts = [number(&head, 16), number(&head, 20)];
        let mut before = [number(&head, 24), number(&head, 28)];
        let whole = FRAME_HEAD + self.size;
        let count = (length.saturating_sub(LOG_HEAD as u64)) / whole as u64;
        let mut frame = vec![0; whole];
        for index in 0..count {
            read_at(log, LOG_HEAD as u64 + index * whole as u64, &mut frame)?;
            if index == 0 && !head_good {
                salts = [number(&frame, 8), number(&frame, 12)];
            }
            let said = [number(&frame, 16), number(&frame, 20)];
            let sums = checksum(checksum(before, &frame[..8], big), &frame[FRAME_HEAD..], big);
            let good = sums == said && salts == [number(&frame, 8), number(&frame, 12)];
            before = said;
            self.frames.push(Frame { page: number(&frame, 0), ends: number(&frame, 4) != 0, good });
        }
        let end = self.frames.iter().rposition(|frame| frame.good && frame.ends).map_or(0, |last| last + 1);
        for (index, frame) in self.frames[..end].iter().enumerate() {
            if frame.good && frame.page > 0 {
                self.latest.insert(frame.page, index);
                self.said_pages = self.said_pages.max(frame.page);
            }
        }
        self.log_broken = (end > 0 && !head_good)
            || self.frames[..end].iter().any(|frame| !frame.good)
            || (!head_good && count > 0 && magic != 0);
        Ok(())
    }

    /// A page of the log that is followed by pages committed after it does not hold: SQLite would
    /// pass over all of them without a word.
    pub(crate) fn log_is_broken(&self) -> bool {
        self.log_broken
    }

    fn page(&mut self, page: u32, view: View) -> Option<Vec<u8>> {
        let frame = match view {
            View::File => None,
            View::Now => self.latest.get(&page).copied(),
            View::Log(at) => {
                let till = (at..self.frames.len()).find(|index| self.frames[*index].ends).unwrap_or(at);
                (0..=till)
                    .rev()
                    .find(|index| self.frames[*index].page == page && (self.frames[*index].good || *index == at))
            }
        };
        let mut bytes = vec![0; self.size];
        if let Some(frame) = frame {
            let at = LOG_HEAD + frame * (FRAME_HEAD + self.size) + FRAME_HEAD;
            read_at(self.log.as_mut()?, at as u64, &mut bytes).ok()?;
            return Some(bytes);
        }
        if page == 0 || page > self.pages {
            return None;
        }
        read_at(self.file.as_mut()?, u64::from(page - 1) * self.size as u64, &mut bytes).ok()?;
        Some(bytes)
    }

    fn top(&self) -> u32 {
        self.pages.max(self.latest.keys().next_back().copied().unwrap_or_default())
    }

    /// How much of a row of a table stands on its leaf page; section 1.6.
    fn local(&self, length: usize) -> usize {
        let (most, least) = (self.size - 35, (self.size - 12) * 32 / 255 - 23);
        if length <= most {
            return length;
        }
        let some = least + (length - least) % (self.size - 4);
        if some <= most { some } else { least }
    }

    /// The bytes of a row, and where their check fails, those tried with pages taken from elsewhere.
    fn row(&mut self, cell: &Cell, right: &dyn Fn(&[u8]) -> bool, search: bool) -> Option<(Vec<u8>, Swap)> {
        for view in [cell.view, View::Now, View::File] {
            if let Some(bytes) = self.follow(cell, view, None).filter(|bytes| right(bytes)) {
                return Some((bytes, None));
            }
        }
        if !search || cell.length <= self.local(cell.length) {
            return None;
        }
        for swap in self.swaps.clone() {
            if let Some(bytes) = self.follow(cell, View::Now, Some(swap)).filter(|bytes| right(bytes)) {
                return Some((bytes, Some(swap)));
            }
        }
        // Two pages may have changed places: each page of the chain is tried with each other one.
        if self.next.is_empty() {
            for page in 1..=self.top() {
                if let Some(next) = self.page(page, View::Now).and_then(|bytes| big_endian(&bytes, 0)) {
                    self.next.insert(page, next);
                }
            }
        }
        let (mut chain, count) = (Vec::new(), self.overflow_pages(cell));
        let mut page = self.first_overflow(cell)?;
        while chain.len() < count && page > 0 && page <= self.top() && !chain.contains(&page) {
            chain.push(page);
            page = self.next.get(&page).copied().unwrap_or_default();
        }
        for one in chain {
            for other in 1..=self.top() {
                if !self.fits(cell, (one, other)) {
                    continue;
                }
                self.tried += cell.length;
                if self.tried > MOST_TRIED {
                    return None;
                }
                if let Some(bytes) = self.follow(cell, View::Now, Some((one, other))).filter(|bytes| right(bytes)) {
                    self.swaps.push((one, other));
                    return Some((bytes, Some((one, other))));
                }
            }
        }
        None
    }

    fn overflow_pages(&self, cell: &Cell) -> usize {
        (cell.length - self.local(cell.length)).div_ceil(self.size - 4)
    }

    fn first_overflow(&mut self, cell: &Cell) -> Option<u32> {
        let local = self.local(cell.length);
        let view = cell.view;
        big_endian(&self.page(cell.page, view)?, cell.start + local)
    }

    /// Whether the chain has the right number of pages with two pages exchanged.
    fn fits(&mut self, cell: &Cell, (one, other): (u32, u32)) -> bool {
        let Some(mut page) = self.first_overflow(cell) else { return false };
        let count = self.overflow_pages(cell);
        for index in 0..count {
            let real = exchanged(page, Some((one, other)));
            let Some(next) = self.next.get(&real).copied() else { return false };
            if (next == 0) != (index + 1 == count) {
                return false;
            }
            page = next;
        }
        true
    }

    fn follow(&mut self, cell: &Cell, view: View, swap: Swap) -> Option<Vec<u8>> {
        let page = self.page(cell.page, cell.view)?;
        let local = self.local(cell.length);
        let mut bytes = page.get(cell.start..cell.start.checked_add(local)?)?.to_vec();
        if local == cell.length {
            return Some(bytes);
        }
        if cell.length > self.most_bytes() {
            return None;
        }
        let mut next = big_endian(&page, cell.start + local)?;
        while bytes.len() < cell.length {
            let page = self.page(exchanged(next, swap), view)?;
            next = big_endian(&page, 0)?;
            let take = (cell.length - bytes.len()).min(self.size - 4);
            bytes.extend_from_slice(page.get(4..4 + take)?);
        }
        Some(bytes)
    }

    /// No row has more bytes than there are.
    fn most_bytes(&self) -> usize {
        (self.pages as usize + self.frames.len()) * self.size
    }

    /// The rows of a leaf page of a table, by its list of cells.
    fn cells(&self, bytes: &[u8], page: u32, view: View) -> Vec<Cell> {
        let at = if page == 1 { HEAD_LENGTH } else { 0 };
        let mut cells = Vec::new();
        if bytes.get(at) != Some(&13) {
            return cells;
        }
        let count = short(bytes, at + 3).unwrap_or_default().min(self.size / 2);
        for index in 0..count {
            let Some(begin) = short(bytes, at + 8 + 2 * index) else { break };
            cells.extend(self.cell(bytes, begin, page, view));
        }
        cells
    }

    fn cell(&self, bytes: &[u8], begin: usize, page: u32, view: View) -> Option<Cell> {
        let (length, first) = varint(bytes, begin)?;
        let (row, second) = varint(bytes, begin + first)?;
        let start = begin + first + second;
        let length = usize::try_from(length).ok().filter(|length| *length <= self.most_bytes())?;
        let record = bytes.get(start..(start + self.local(length)).min(bytes.len()))?;
        let (types, head) = types(record)?;
        let said = types.iter().try_fold(head, |sum, kind| sum.checked_add(width(*kind)?))?;
        let table = table_of(&types)?;
        // The head says it again; where the two differ, the head is checked by what it describes.
        let _either = length == said;
        Some(Cell { view, page, start, head, length: said.min(self.most_bytes()), row: Some(row.cast_signed()), table })
    }

    /// Rows on a page that its list of cells does not lead to: left over from before rows moved, or
    /// on a page whose beginning is gone. Changes and photos are known by their own beginnings,
    /// whatever became of what stands before them.
    fn strays(&self, bytes: &[u8], page: u32, view: View, lengths: &BTreeMap<String, u64>, out: &mut Vec<Cell>) {
        let begin = |content: usize, before: usize, inside: usize| {
            let kind = u64::try_from(inside).unwrap_or_default() * 2 + 12;
            let head = before + varint_length(kind);
            let fixed = if before == 4 { 48 } else { 64 };
            let start = content.checked_sub(fixed)?.checked_sub(head)?;
            Some((start, head, head + fixed + inside))
        };
        for at in 0..bytes.len().saturating_sub(10) {
            let rest = &bytes[at..];
            let found = if rest.starts_with(&MAGIC) {
                said_length(rest).and_then(|inside| begin(at, 4, inside)).map(|found| (found, Table::Changes))
            } else if rest.starts_with(&[0xff, 0xd8, 0xff]) || rest.starts_with(b"\x89PNG") {
                let name = at.checked_sub(64).and_then(|from| std::str::from_utf8(&bytes[from..at]).ok());
                let length = name.and_then(|name| lengths.get(name)).and_then(|length| usize::try_from(*length).ok());
                length.and_then(|inside| begin(at, 3, inside)).map(|found| (found, Table::PhotoBytes))
            } else {
                None
            };
            if let Some(((start, head, length), table)) = found
                && length <= self.most_bytes()
                && start + self.local(length) <= bytes.len()
            {
                out.push(Cell { view, page, start, head, length, row: None, table });
            }
        }
    }

    /// Leaf pages a table's tree leads to, and how many pages of it cannot be read.
    fn walk(&mut self, root: u32) -> (BTreeSet<u32>, usize) {
        let (mut leaves, mut broken, mut seen) = (BTreeSet::new(), 0, BTreeSet::new());
        let mut open = vec![(root, 0)];
        while let Some((page, depth)) = open.pop() {
            if depth > DEEPEST || !seen.insert(page) {
                broken += 1;
                continue;
            }
            let Some(bytes) = self.page(page, View::Now) else {
                broken += 1;
                continue;
            };
            let at = if page == 1 { HEAD_LENGTH } else { 0 };
            let count = short(&bytes, at + 3).unwrap_or_default();
            match bytes.get(at) {
                Some(13) => {
                    leaves.insert(page);
                    // A list of cells that is not one.
                    let sound = (0..count).all(|index| {
                        short(&bytes, at + 8 + 2 * index).is_some_and(|begin| begin >= at + 8 && begin < bytes.len())
                    });
                    broken += usize::from(!sound);
                }
                Some(5) if count <= self.size / 4 => {
                    open.extend(big_endian(&bytes, at + 8).map(|page| (page, depth + 1)));
                    for index in 0..count {
                        let child = short(&bytes, at + 12 + 2 * index).and_then(|begin| big_endian(&bytes, begin));
                        match child {
                            Some(child) => open.push((child, depth + 1)),
                            None => broken += 1,
                        }
                    }
                }
                _ => broken += 1,
            }
        }
        (leaves, broken)
    }

    /// The schema: type, name and text of each thing in it, and where the tables begin. `None`
    /// where it cannot be read as a whole.
    pub(crate) fn schema(&mut self) -> Option<BTreeMap<(String, String), (u32, String)>> {
        let (leaves, broken) = self.walk(1);
        if broken > 0 {
            return None;
        }
        let mut schema = BTreeMap::new();
        for page in leaves {
            let bytes = self.page(page, View::Now)?;
            let at = if page == 1 { HEAD_LENGTH } else { 0 };
            let cells = self.cells(&bytes, page, View::Now);
            if cells.len() != short(&bytes, at + 3)? {
                return None;
            }
            for cell in cells {
                let record = self.follow(&cell, View::Now, None)?;
                let mut values = values(&record)?.into_iter();
                let (Some(Value::Text(kind)), Some(Value::Text(name)), Some(_), Some(Value::Integer(root))) =
                    (values.next(), values.next(), values.next(), values.next())
                else {
                    return None;
                };
                let sql = match values.next() {
                    Some(Value::Text(sql)) => sql,
                    _ => String::new(),
                };
                schema.insert((kind, name), (u32::try_from(root).ok()?, sql));
            }
        }
        Some(schema)
    }

    /// The header as it stands with what is committed in the log.
    pub(crate) fn head(&mut self) -> Option<Vec<u8>> {
        self.page(1, View::Now).map(|mut page| {
            page.truncate(HEAD_LENGTH);
            page
        })
    }

    /// Reads everything that can be.
    pub(crate) fn read(&mut self) -> Found {
        let mut found = Found {
            pages: self.pages,
            cut_off: if self.said_pages > self.top() && self.said_pages / 4 <= self.top().max(64) {
                self.said_pages - self.top()
            } else {
                0
            },
            ..Found::default()
        };
        let roots = self.schema().unwrap_or_default();
        let mut reached: BTreeSet<u32> = BTreeSet::new();
        let mut sure = true;
        for table in ["documents", "changes", "photos", "photo_bytes", "ops", "own", "notices", "incoming"] {
            let root = roots.get(&("table".to_owned(), table.to_owned())).map(|(root, _)| *root);
            if let Some(root) = root {
                let (leaves, broken) = self.walk(root);
                reached.extend(leaves);
                found.broken += broken;
                sure &= broken == 0;
            } else {
                // Made by a later step than this database has, or its place is not known.
                sure &= !roots.is_empty();
            }
        }
        let mut failed: Vec<Cell> = Vec::new();
        let mut strays: Vec<(u32, View)> = Vec::new();
        for page in 1..=self.top() {
            strays.push((page, View::Now));
        }
        for page in self.latest.keys().copied().collect::<Vec<_>>() {
            strays.push((page, View::File));
        }
        for index in 0..self.frames.len() {
            if self.latest.get(&self.frames[index].page) != Some(&index) {
                strays.push((self.frames[index].page, View::Log(index)));
            }
        }
        let mut lengths: BTreeMap<String, u64> = BTreeMap::new();
        for (page, view) in &strays {
            let Some(bytes) = self.page(*page, *view) else { continue };
            self.expect(&bytes, *page, &mut found);
            for cell in self.cells(&bytes, *page, *view) {
                let current = *view == View::Now && (!sure || reached.contains(page));
                if !self.take(&cell, current, &mut found, &mut lengths, false) {
                    failed.push(cell);
                }
            }
        }
        for (page, view) in &strays {
            let Some(bytes) = self.page(*page, *view) else { continue };
            let mut cells = Vec::new();
            self.strays(&bytes, *page, *view, &lengths, &mut cells);
            for cell in cells {
                if !self.take(&cell, false, &mut found, &mut lengths, false) {
                    failed.push(cell);
                }
            }
        }
        for cell in failed {
            self.take(&cell, false, &mut found, &mut lengths, true);
        }
        found
    }

    /// Takes a row in; false where its bytes are not what they should be.
    fn take(
        &mut self,
        cell: &Cell,
        current: bool,
        found: &mut Found,
        lengths: &mut BTreeMap<String, u64>,
        search: bool,
    ) -> bool {
        match cell.table {
            Table::Changes => {
                found.highest =
                    found.highest.max(cell.row.filter(|row| (1..1 << 40).contains(row)).unwrap_or_default());
                let (id, content) = (cell.head, cell.head + 48);
                if let Some(page) = self.page(cell.page, cell.view)
                    && let Some(hash) = page.get(cell.start + id + 16..cell.start + content)
                    && let Ok(hash) = hash.try_into()
                    && found.changes.contains_key(&ChangeId(hash))
                {
                    return true;
                }
                let right = |row: &[u8]| row.get(content..).is_some_and(|bytes| hash_of(bytes).is_some());
                let Some((row, _)) = self.row(cell, &right, search) else { return false };
                let bytes = row[content..].to_vec();
                let (Some(hash), Ok(document)) = (hash_of(&bytes), Uuid::from_slice(&row[id..id + 16])) else {
                    return false;
                };
                let same = row[id + 16..content] == hash.0;
                if same || !found.changes.contains_key(&hash) {
                    found.changes.insert(hash, FoundChange { document, bytes });
                }
                true
            }
            Table::Documents => {
                let right = |row: &[u8]| values(row).is_some();
                let Some((row, _)) = self.row(cell, &right, false) else { return false };
                let mut row = values(&row).unwrap_or_default().into_iter();
                if let (Some(Value::Blob(id)), Some(Value::Text(kind)), Some(Value::Blob(snapshot))) =
                    (row.next(), row.next(), row.next())
                    && let Ok(id) = Uuid::from_slice(&id)
                {
                    if current || !found.kinds.contains_key(&id) {
                        found.kinds.insert(id, kind);
                    }
                    if !snapshot.is_empty() {
                        if crate::document::salvage::is_whole_document(&snapshot) {
                            found.snapshots.insert((id, snapshot));
                        } else if !search {
                            return false;
                        }
                    }
                }
                true
            }
            Table::Photos => {
                let Some(row) = self.follow(cell, cell.view, None).and_then(|row| values(&row)) else { return false };
                if let (Some(Value::Text(hash)), Some(Value::Integer(length))) =
                    (row.first().cloned(), row.get(4).cloned())
                {
                    found.expected_photos.insert(hash.clone());
                    lengths.insert(hash.clone(), length.unsigned_abs());
                    found.photo_rows.insert(hash.clone(), row);
                }
                true
            }
            Table::PhotoBytes => {
                let content = cell.head + 64;
                let named = self.page(cell.page, cell.view).and_then(|bytes| {
                    String::from_utf8(bytes.get(cell.start + cell.head..cell.start + content)?.to_vec()).ok()
                });
                if named.as_ref().is_some_and(|named| found.photos.contains_key(named)) {
                    return true;
                }
                let known = found.expected_photos.clone();
                let right = |row: &[u8]| {
                    row.get(content..).is_some_and(|bytes| {
                        let hash = sha256(bytes);
                        row[cell.head..content] == *hash.as_bytes() || known.contains(&hash)
                    })
                };
                let Some((row, swap)) = self.row(cell, &right, search) else {
                    found
                        .expected_photos
                        .extend(named.filter(|name| name.bytes().all(|byte| byte.is_ascii_hexdigit())));
                    return false;
                };
                found.photos.insert(sha256(&row[content..]), PhotoPlace(*cell, swap));
                true
            }
            Table::Ops | Table::Own | Table::Notices | Table::Incoming => {
                let (true, Some(number)) = (current, cell.row) else { return true };
                let Some(row) = self.follow(cell, cell.view, None).and_then(|row| values(&row)) else { return false };
                if cell.table == Table::Ops
                    && let (Some(document), Some(done)) = (blob(row.get(1)), blob(row.get(4)))
                {
                    found.expected.insert(ChangeId(done), Uuid::from_bytes(document));
                }
                found.rows.entry((cell.table, number)).or_insert(row);
                true
            }
            Table::Schema => true,
        }
    }

    /// What the indexes say was there.
    fn expect(&self, bytes: &[u8], page: u32, found: &mut Found) {
        let at = if page == 1 { HEAD_LENGTH } else { 0 };
        let (list, child) = match bytes.get(at) {
            Some(10) => (at + 8, 0),
            Some(2) => (at + 12, 4),
            _ => return,
        };
        for index in 0..short(bytes, at + 3).unwrap_or_default().min(self.size / 2) {
            let Some(begin) = short(bytes, list + 2 * index) else { break };
            let Some((length, used)) = varint(bytes, begin + child) else { continue };
            let start = begin + child + used;
            let Some(record) =
                usize::try_from(length).ok().and_then(|length| bytes.get(start..start.checked_add(length)?))
            else {
                continue;
            };
            let Some(row) = values(record) else { continue };
            match row.as_slice() {
                [Value::Blob(document), Value::Blob(hash), Value::Integer(_)] => {
                    if let (Ok(document), Ok(hash)) = (Uuid::from_slice(document), hash.as_slice().try_into()) {
                        found.expected.insert(ChangeId(hash), document);
                    }
                }
                [Value::Text(hash), Value::Integer(_)] if hash.len() == 64 => {
                    found.expected_photos.insert(hash.clone());
                }
                [Value::Blob(document), Value::Integer(seq), Value::Integer(_)] if document.len() == 16 => {
                    found.highest = found.highest.max(if *seq < 1 << 40 { *seq } else { 0 });
                }
                _ => {}
            }
        }
    }

    /// The bytes of a photo found.
    pub(crate) fn photo(&mut self, hash: &str, place: &PhotoPlace) -> Option<Vec<u8>> {
        let PhotoPlace(cell, swap) = place;
        let content = cell.head + 64;
        let right = |row: &[u8]| row.get(content..).is_some_and(|bytes| sha256(bytes) == hash);
        let row = match swap {
            Some(swap) => self.follow(cell, View::Now, Some(*swap)).filter(|row| right(row)),
            None => self.row(cell, &right, false).map(|(row, _)| row),
        }?;
        Some(row[content..].to_vec())
    }
}

fn exchanged(page: u32, swap: Swap) -> u32 {
    match swap {
        Some((one, other)) if page == one => other,
        Some((one, other)) if page == other => one,
        _ => page,
    }
}

fn pages_of(length: u64, size: usize) -> u32 {
    u32::try_from(length.div_ceil(size as u64)).unwrap_or(u32::MAX)
}
