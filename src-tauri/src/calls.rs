//! One function per call: parse, call, map the error.

use std::fs::File;
use std::io::{BufReader, BufWriter, Cursor, Read, Seek, SeekFrom, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

use api::*;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use exchange::{Checked, Limits};
use papers::PaperInput;
use serde_json::Value;
use store::{Find, Op, ReadPhoto, Store};
use survey::file::{self, SurveyFile};
use survey::intent::{self, Intent};
use survey::validate::newly_refused;
use survey::words::{Catalogue, speaking};
use survey::{Board, BoardId, By, Fact, Known, Message, Outlet, Photo, Problem, Provenance, Site, SiteId, Stage, say};

use crate::analysis::Snapshot;
use crate::caller::{Asked, Caller};
use crate::error::{failed, from_store};
use crate::{App, clock, files, own_tables, view};

/// A screen-size rendition is at most this many pixels on its longer side.
const SCREEN_PIXELS: u32 = 1600;

/// Bytes that one step of the check reads, or one document or photo where that is larger: others wait
/// meanwhile.
const CHECKED_AT_A_TIME: u64 = 4 * 1024 * 1024;
/// Largest bundle handed out inside a reply; a larger one goes as a file.
const LARGEST_REPLY: u64 = 48 * 1024 * 1024;

/// Largest bundle taken in, in bytes.
pub(crate) const LARGEST_BUNDLE: u64 = 34 * 1024 * 1024 * 1024;

/// Longest words looked for in a list, in letters.
const LONGEST_QUERY: usize = 200;

type Reply<C> = Result<<C as Call>::Reply, ApiError>;

impl App {
    /// Answers a caller's call by its name and JSON body: for the window's IPC and the loopback host. The reply
    /// is the text of its JSON, so that a large board is written once and copied nowhere.
    ///
    /// # Errors
    /// An [`ApiError`] as JSON. A panic inside becomes one too: the app goes on, and what was
    /// saved stays saved.
    pub fn answer(&self, caller: &Caller, name: &str, body: Value) -> Result<String, Value> {
        guarded(&caller.locale, name, || self.asked(caller).route(name, body))
    }

    /// Answers a call by its name and the text of its body: for the loopback host. A text that would take far more
    /// memory than it has bytes is refused before it is read.
    ///
    /// # Errors
    /// As for [`Self::answer`].
    pub fn answer_text(&self, caller: &Caller, name: &str, body: &[u8]) -> Result<String, Value> {
        self.answer(caller, name, json(body)?)
    }

    /// Largest body of a call, in bytes: photos and bundles come as files instead.
    #[must_use]
    pub fn largest_body(name: &str) -> usize {
        const MB: usize = 1024 * 1024;
        match name {
            // A survey is sent as a text inside a text: every quote takes two.
            ImportSurvey::NAME => 2 * file::LARGEST + MB,
            ImportBundle::NAME | AddPhoto::NAME | TakeTables::NAME => 48 * MB,
            _ => 4 * MB,
        }
    }

    /// Largest file that a call takes, in bytes; none where it takes no file.
    #[must_use]
    pub fn largest_file(name: &str) -> Option<u64> {
        match name {
            ImportBundle::NAME => Some(LARGEST_BUNDLE),
            AddPhoto::NAME => Some(store::LARGEST_PHOTO as u64),
            _ => None,
        }
    }

    /// Answers a call that came with a file: its name, the JSON of the rest of it, the file.
    ///
    /// # Errors
    /// As for [`Self::answer`].
    pub fn take_file(&self, caller: &Caller, name: &str, request: &[u8], path: &Path) -> Result<String, Value> {
        let asked = self.asked(caller);
        guarded(&caller.locale, name, || match name {
            ImportBundle::NAME => run::<BundleFile>(json_of(request)?, |_| asked.import_bundle_file(path)),
            AddPhoto::NAME => run::<PhotoFile>(json_of(request)?, |request| {
                let bytes = files::read(path, store::LARGEST_PHOTO as u64)?;
                asked.add_photo_bytes(request.board, bytes, &request.caption, &request.pinned, request.have)
            }),
            _ => Err(no_call(name)),
        })
    }

    /// Answers a call whose reply is a file: writes it there and says its name and media type.
    ///
    /// # Errors
    /// As for [`Self::answer`].
    pub fn give_file(
        &self,
        caller: &Caller,
        name: &str,
        request: &[u8],
        path: &Path,
    ) -> Result<(String, String), Value> {
        let asked = self.asked(caller);
        guarded(&caller.locale, name, || match name {
            ExportSite::NAME => {
                let request: SiteFile = parse(json_of(request)?)?;
                let name = asked.bundle_name(request.site)?;
                let mut out = File::create(path).map_err(|error| failed(format!("{}: {error}", path.display())))?;
                asked.bundle(request.site, &mut out)?;
                Ok((name, BUNDLE_MEDIA.to_owned()))
            }
            _ => Err(no_call(name)),
        })
    }
}

impl Asked<'_> {
    fn route(&self, name: &str, body: Value) -> Result<String, ApiError> {
        macro_rules! routes {
            ($($call:ident => $function:ident),+ $(,)?) => {
                match name {
                    $($call::NAME => run::<$call>(body, |request| self.$function(request)),)+
                    _ => Err(no_call(name)),
                }
            };
        }
        routes! {
            About => about,
            Words => words,
            SetRole => set_role_call,
            MarkRead => mark_read,
            CheckStore => check_store,
            ListSites => list_sites,
            CreateSite => create_site,
            ListBoards => list_boards,
            CreateBoard => create_board,
            OpenBoard => open_board,
            Edit => edit,
            Undo => undo,
            Redo => redo,
            Settle => settle,
            ListPatterns => list_patterns,
            AddPatterns => add_patterns_call,
            ListTables => list_tables,
            TakeTables => take_tables,
            PutBackTables => put_back_tables,
            TableText => table_text,
            AddPhoto => add_photo,
            PhotoData => photo_data,
            WhatIf => what_if,
            Allocate => allocate,
            SizeCable => size_cable,
            FaultCurrents => fault_currents,
            TimeCurrent => time_current,
            NextPlace => next_place,
            EntriesForCables => entries_for_cables,
            SetOutPlate => set_out_plate,
            DragEntry => drag_entry,
            MeasurePhoto => measure_photo,
            ListPapers => list_papers,
            PreviewPaper => preview_paper,
            WritePaper => write_paper,
            ExportSite => export_site,
            ImportBundle => import_bundle,
            ExportSurvey => export_survey,
            ImportSurvey => import_survey,
        }
    }

    fn about(&self, _: About) -> Reply<About> {
        self.about_for(self.caller.role.clone())
    }

    fn words(&self, _: Words) -> Reply<Words> {
        let catalogue = spoken(&self.caller.locale);
        Ok(WordsReply {
            language: catalogue.name().to_owned(),
            decimal: catalogue.decimal().to_string(),
            messages: catalogue.patterns(),
        })
    }

    fn about_for(&self, role: String) -> Reply<About> {
        let (recovered, recovered_upto) = self.unread()?.unzip();
        Ok(AboutReply {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            role,
            cautions: Outlet::ALL.iter().map(|outlet| (outlet.key().to_owned(), crate::cautions(*outlet))).collect(),
            recovered,
            recovered_upto,
        })
    }

    pub(crate) fn check_store(&self, request: CheckStore) -> Reply<CheckStore> {
        let old = clock::now() - chrono::Duration::days(1);
        let mut store = self.store();
        let ended = store.health().map_err(from_store)?.and_then(|health| health.finished);
        let is_old = ended.and_then(|at| at.parse::<chrono::DateTime<chrono::Utc>>().ok()).is_some_and(|at| at < old);
        if request.again || is_old {
            store.begin_check().map_err(from_store)?;
        }
        let store::Health { started, finished, documents, changes, photos, healed, bad, .. } =
            store.check_on(CHECKED_AT_A_TIME).map_err(from_store)?;
        let shown = |at: &str| at.parse().map_or_else(|_| at.to_owned(), clock::minute);
        let (started, finished) = (shown(&started), finished.as_deref().map(shown));
        Ok(CheckReply { started, finished, documents, changes, photos, healed, bad })
    }

    fn set_role_call(&self, request: SetRole) -> Reply<SetRole> {
        self.set_role(&request.role)?;
        self.about_for(self.role())
    }

    fn mark_read(&self, request: MarkRead) -> Reply<MarkRead> {
        self.store().mark_read(request.upto).map_err(from_store)?;
        self.about(About {})
    }

    pub(crate) fn list_sites(&self, _: ListSites) -> Reply<ListSites> {
        let rows = self.store().sites(false).map_err(from_store)?;
        Ok(rows.into_iter().map(|row| SiteRow { id: row.id, name: row.name, boards: row.boards }).collect())
    }

    pub(crate) fn create_site(&self, request: CreateSite) -> Reply<CreateSite> {
        let name = request.name.trim().to_owned();
        if name.is_empty() || name.chars().count() > 200 {
            return Err(refused("/name", &name, say!("problem-site-name"), say!("remedy-site-name")));
        }
        let site = Site { name: name.clone(), ..Site::default() };
        let (id, _) = self.store().create_site(Op::new("new site", self.caller.by()), &site).map_err(from_store)?;
        Ok(SiteRow { id, name, boards: 0 })
    }

    pub(crate) fn list_boards(&self, request: ListBoards) -> Reply<ListBoards> {
        let store = self.store();
        let limit = request.limit.clamp(1, 1000);
        let words: String = request.query.chars().take(LONGEST_QUERY).collect();
        let find = Find { words: &words, limit, ..Find::default() };
        let rows = store.boards(&find).map_err(from_store)?;
        let total = store.count_boards(&find).map_err(from_store)?;
        let rows = rows
            .into_iter()
            .map(|row| BoardRow {
                id: row.id,
                reference: row.reference,
                place: row.place,
                site: row.site,
                site_name: row.site_name,
                circuits: row.circuits,
                conflicts: row.conflicts,
            })
            .collect();
        Ok(BoardList { rows, total })
    }

    pub(crate) fn create_board(&self, request: CreateBoard) -> Reply<CreateBoard> {
        let reference = request.reference.trim();
        if reference.is_empty() {
            return Err(refused("/reference", reference, say!("problem-reference"), say!("remedy-reference")));
        }
        let stamp = self.caller.stamp();
        let mut board = Board::new(BoardId(self.new_id()), request.site, reference);
        request.place.trim().clone_into(&mut board.place);
        board.stage = if request.new { Stage::New } else { Stage::Existing };
        if let Some(key) = &request.pattern {
            let Some(pattern) = self.patterns()?.into_iter().find(|pattern| pattern.key == *key) else {
                return Err(refused("/pattern", key, say!("problem-no-pattern"), say!("remedy-of-list")));
            };
            let known = if request.new { Known::Decided } else { Known::Stated };
            let intent = Intent::PickEnclosure { pattern: Box::new(pattern), known };
            let changes = intent::lower(&board, &intent, &stamp, &mut || self.new_id()).map_err(one)?;
            board = intent::apply(&board, &changes).map_err(ApiError::refused)?;
        }
        if request.new {
            board.incomer.arrangement = Fact { value: None, from: Provenance::default() };
        }
        let made = {
            let mut store = self.store();
            store.site(request.site).map_err(from_store)?;
            store.create_board(Op::new("new board", &stamp.by), &board, acceptable).map_err(from_store)?;
            Snapshot::of(&mut store, board.id)
        };
        saved(|| Ok(Arc::unwrap_or_clone(self.shown(made?, Vec::new()))))
    }

    pub(crate) fn open_board(&self, request: OpenBoard) -> Reply<OpenBoard> {
        let snapshot = Snapshot::of(&mut self.store(), request.board)?;
        Ok(Arc::unwrap_or_clone(self.shown(snapshot, Vec::new())))
    }

    pub(crate) fn edit(&self, request: Edit) -> Reply<Edit> {
        let stamp = self.caller.stamp();
        let name = intent::name(&request.intent).stored();
        self.changed(request.board, request.have.as_deref(), |store| {
            let before = store.board(request.board).map_err(from_store)?.board;
            let changes = intent::lower(&before, &request.intent, &stamp, &mut || self.new_id()).map_err(one)?;
            store.transact(Op::new(&name, &stamp.by), request.board, &changes, refuse_new).map_err(from_store)
        })
    }

    pub(crate) fn undo(&self, request: Undo) -> Reply<Undo> {
        self.changed(request.board, request.have.as_deref(), |store| {
            store.undo(self.caller.by(), request.board, refuse_new).map_err(from_store)
        })
    }

    pub(crate) fn redo(&self, request: Redo) -> Reply<Redo> {
        self.changed(request.board, request.have.as_deref(), |store| {
            store.redo(self.caller.by(), request.board, refuse_new).map_err(from_store)
        })
    }

    pub(crate) fn settle(&self, request: Settle) -> Reply<Settle> {
        self.changed(request.board, request.have.as_deref(), |store| {
            store.settle(self.caller.by(), request.board, &request.path, &request.pick).map_err(from_store)
        })
    }

    pub(crate) fn list_patterns(&self, _: ListPatterns) -> Reply<ListPatterns> {
        let row = |pattern: survey::Pattern| PatternRow { name: pattern.named(), pattern };
        Ok(self.patterns()?.into_iter().map(row).collect())
    }

    fn add_patterns_call(&self, request: AddPatterns) -> Reply<AddPatterns> {
        self.add_patterns(&request.toml)
    }

    pub(crate) fn list_tables(&self, _: ListTables) -> Reply<ListTables> {
        Ok(self.table_rows())
    }

    pub(crate) fn take_tables(&self, request: TakeTables) -> Reply<TakeTables> {
        let given = request
            .files
            .into_iter()
            .map(|file| Ok((file.name, decode(&file.base64)?)))
            .collect::<Result<Vec<_>, ApiError>>()?;
        self.change_tables(|folder| own_tables::take(given, &request.whose, folder))
    }

    pub(crate) fn put_back_tables(&self, request: PutBackTables) -> Reply<PutBackTables> {
        self.change_tables(|folder| own_tables::put_back(&request.tables, folder))
    }

    pub(crate) fn table_text(&self, request: TableText) -> Reply<TableText> {
        self.table_text_of(&request.table)
    }

    pub(crate) fn add_photo(&self, request: AddPhoto) -> Reply<AddPhoto> {
        let bytes = decode(&request.base64)?;
        self.add_photo_bytes(request.board, bytes, &request.caption, &request.pinned, request.have)
    }

    /// Keeps the original first, then puts it on the board.
    pub(crate) fn add_photo_bytes(
        &self,
        board: BoardId,
        bytes: Vec<u8>,
        caption: &str,
        pinned: &str,
        have: Option<String>,
    ) -> Result<Edited, ApiError> {
        self.store().board(board).map_err(from_store)?;
        // The store is free while the picture is read and made small.
        let read = ReadPhoto::of(&bytes).map_err(from_store)?;
        if read.cut_off {
            return Err(refused("/photo", "", say!("problem-picture-short"), say!("remedy-picture-short")));
        }
        let meta = self.store().add_read_photo(&read, &bytes).map_err(from_store)?;
        drop(bytes);
        let photo = Photo {
            hash: meta.hash,
            media: meta.media,
            width: meta.width,
            height: meta.height,
            caption: caption.trim().to_owned(),
            pinned: pinned.to_owned(),
            ..Photo::default()
        };
        self.edit(Edit { board, intent: Intent::AddPhoto { photo: Box::new(photo) }, have })
    }

    pub(crate) fn photo_data(&self, request: PhotoData) -> Reply<PhotoData> {
        let jpeg = "image/jpeg".to_owned();
        let (media, bytes) = match request.size {
            PhotoSize::Thumbnail => (jpeg, self.store().thumbnail(&request.hash)),
            PhotoSize::Screen => {
                let original = self.store().photo(&request.hash).map_err(from_store)?;
                // The store is free while the picture is made small.
                (jpeg, store::for_screen(&original, SCREEN_PIXELS))
            }
            PhotoSize::Original => {
                let store = self.store();
                let meta = store.photo_meta(&request.hash).map_err(from_store)?;
                (meta.map_or(jpeg, |meta| meta.media), store.photo(&request.hash))
            }
        };
        Ok(Blob { media, base64: STANDARD.encode(bytes.map_err(from_store)?) })
    }

    pub(crate) fn next_place(&self, request: NextPlace) -> Reply<NextPlace> {
        let board = self.read_board(request.board)?;
        Ok(plate::next_place(&board, request.plate, request.kind, &request.size, self.plate_tables))
    }

    pub(crate) fn list_papers(&self, request: ListPapers) -> Reply<ListPapers> {
        let board = self.read_board(request.board)?;
        Ok(papers::offered(&board)
            .into_iter()
            .map(|(kind, formats)| PaperRow {
                key: kind.to_string(),
                name: kind.name(&board).to_string(),
                formats: formats.into_iter().map(|format| format.extension().to_owned()).collect(),
                cautions: crate::cautions(kind.outlet()),
            })
            .collect())
    }

    pub(crate) fn preview_paper(&self, request: PreviewPaper) -> Reply<PreviewPaper> {
        let kind = parsed("/paper", &request.paper)?;
        self.with_papers(request.board, |input| papers::preview(input, kind).map_err(paper_error))
    }

    pub(crate) fn write_paper(&self, request: WritePaper) -> Reply<WritePaper> {
        let kind = parsed("/paper", &request.paper)?;
        let format = parsed("/format", &request.format)?;
        let file = self.with_papers(request.board, |input| papers::write(input, kind, format).map_err(paper_error))?;
        let paper = self.deliver(&self.place().papers(), file.name, file.media, &file.bytes, request.save)?;
        Ok(PaperFile { notes: self.damage(request.board)?, ..paper })
    }

    /// What of a board went bad on the disk, a line each: whatever is made of it lacks that.
    pub(crate) fn damage(&self, board: BoardId) -> Result<Vec<String>, ApiError> {
        let found = self.store().damage(board.0, store::Kind::Board).map_err(from_store)?;
        let line =
            |problem: Problem| say!("problem-in-full", message = problem.message, remedy = problem.remedy).to_string();
        Ok(found.into_iter().map(line).collect())
    }

    /// Gives the papers what they are made from. The store is free again while they are set.
    pub(crate) fn with_papers<T>(
        &self,
        board: BoardId,
        work: impl FnOnce(&PaperInput) -> Result<T, ApiError>,
    ) -> Result<T, ApiError> {
        let (Snapshot { doc, site_name: site }, incomplete) = {
            let mut store = self.store();
            let read = Snapshot::of(&mut store, board)?;
            (read, store.lacks_changes(board.0, store::Kind::Board).map_err(from_store)?)
        };
        let analysed = self.analysed(doc.board, &doc.version);
        work(&PaperInput {
            board: &analysed.board,
            checks: &analysed.checks,
            site: &site,
            incomplete,
            date: &clock::day(clock::now()),
            design_currents: &analysed.design_currents,
            plate_tables: self.plate_tables,
        })
    }

    fn deliver(
        &self,
        folder: &Path,
        name: String,
        media: &str,
        bytes: &[u8],
        save: bool,
    ) -> Result<PaperFile, ApiError> {
        let saved = if save {
            let path = folder.join(&name);
            files::write(&path, bytes)?;
            Some(path.display().to_string())
        } else {
            None
        };
        Ok(PaperFile {
            name,
            data: Blob { media: media.to_owned(), base64: STANDARD.encode(bytes) },
            saved,
            notes: Vec::new(),
        })
    }

    pub(crate) fn export_site(&self, request: ExportSite) -> Reply<ExportSite> {
        let name = self.bundle_name(request.site)?;
        let media = BUNDLE_MEDIA.to_owned();
        if request.save {
            // However large it is, it goes to the disk as it is made, and nowhere else.
            let path = self.place().bundles().join(&name);
            let notes = self.bundle_to(request.site, &path)?.damaged;
            let data = Blob { media, base64: String::new() };
            return Ok(PaperFile { name, data, saved: Some(path.display().to_string()), notes });
        }
        let mut out = Capped(Cursor::new(Vec::new()));
        let notes = self.bundle(request.site, &mut out)?.damaged;
        Ok(PaperFile { name, data: Blob { media, base64: STANDARD.encode(out.0.into_inner()) }, saved: None, notes })
    }

    /// A site's bundle as a file: whole, or what was there before.
    pub(crate) fn bundle_to(&self, site: SiteId, path: &Path) -> Result<exchange::Summary, ApiError> {
        files::write_by(path, |file| self.bundle(site, file))
    }

    /// File name of a site's bundle.
    pub(crate) fn bundle_name(&self, site: SiteId) -> Result<String, ApiError> {
        let name = self.store().site(site).map_err(from_store)?.site.name;
        Ok(format!("{}.waywright.zip", files::safe_name(&name)))
    }

    /// Writes a site's bundle, read beside the store: edits go on meanwhile.
    fn bundle(&self, site: SiteId, out: &mut (impl Write + Seek)) -> Result<exchange::Summary, ApiError> {
        let mut out = BufWriter::with_capacity(256 * 1024, out);
        let reader = self.store().reader().map_err(from_store)?;
        match reader {
            Some(mut reader) => exchange::export_site(&mut reader, site, &mut out),
            None => exchange::export_site(&mut self.store(), site, &mut out),
        }
        .map_err(exchange_error)
    }

    pub(crate) fn import_bundle(&self, request: ImportBundle) -> Reply<ImportBundle> {
        self.take_bundle(Cursor::new(decode(&request.base64)?))
    }

    /// Takes a bundle in from a file, which is never whole in memory.
    pub(crate) fn import_bundle_file(&self, path: &Path) -> Result<ImportReply, ApiError> {
        let file = File::open(path).map_err(|error| failed(format!("{}: {error}", path.display())))?;
        self.take_bundle(BufReader::with_capacity(64 * 1024, file))
    }

    fn take_bundle(&self, reader: impl Read + Seek) -> Result<ImportReply, ApiError> {
        let mut bundle = Checked::open(reader, Limits::default()).map_err(exchange_error)?;
        // The store is free between one photo's check and the next, and while pictures are made small.
        let mut lacking = Vec::new();
        for photo in bundle.photos() {
            if !self.store().has_sound_photo(&photo).map_err(from_store)? {
                lacking.push(photo);
            }
        }
        bundle.read_photos(&lacking).map_err(exchange_error)?;
        let report = bundle.take_in(&mut self.store()).map_err(exchange_error)?;
        self.settle_file();
        Ok(import_reply(&report))
    }

    pub(crate) fn export_survey(&self, request: ExportSurvey) -> Reply<ExportSurvey> {
        let (Snapshot { doc, site_name }, lacks, whole) = {
            let mut store = self.store();
            let lacks = store.lacks_changes(request.board.0, store::Kind::Board).map_err(from_store)?;
            let whole = store.document_json(request.board.0, store::Kind::Board);
            (Snapshot::of(&mut store, request.board)?, lacks, whole)
        };
        if lacks {
            // Without its history it would put older values in the place of newer ones elsewhere.
            return Err(refused("/board", &doc.board.reference, say!("problem-lost"), say!("remedy-lost")));
        }
        let whole = whole.map_err(from_store)?;
        let read = serde_json::to_value(&doc.board).map_err(|error| failed(error.to_string()))?;
        let newer = file::unread(&whole, &read);
        if !newer.is_empty() {
            let named = newer.iter().take(3).map(String::as_str).collect::<Vec<_>>().join(", ");
            return Err(refused(
                "/board",
                &doc.board.reference,
                say!("problem-newer-fields", count = newer.len(), fields = named),
                say!("remedy-newer-fields"),
            ));
        }
        file::write(&doc.board, &site_name).map_err(|error| failed(error.to_string()))
    }

    pub(crate) fn import_survey(&self, request: ImportSurvey) -> Reply<ImportSurvey> {
        let survey = file::read(&request.text).map_err(ApiError::refused)?;
        let by = self.caller.by();
        let (written, taken) = {
            let mut store = self.store();
            let written = store.batch(|store| take_survey(store, &by, &survey)).map_err(from_store)?;
            (written, Snapshot::of(&mut store, survey.board.id))
        };
        let view = saved(|| Ok(Arc::unwrap_or_clone(self.shown(taken?, Vec::new()))))?;
        Ok(SurveyTaken { told: view::told(&view.board, &written), view })
    }
}

/// Takes a survey in: a new board with its site, or what differs on a board that is here. Every
/// store that takes in the same file writes the same history.
pub(crate) fn take_survey(store: &mut Store, by: &By, survey: &SurveyFile) -> Result<store::Saved, store::StoreError> {
    let SurveyFile { site_name, board, .. } = survey;
    if let Err(store::StoreError::NotFound { .. }) = store.site(board.site) {
        let site = Site { name: site_name.clone(), ..Site::default() };
        store.import_site(Op::new("site of an imported survey", by), board.site, &site)?;
    }
    let op = Op::new("import of a survey", by);
    match store.board(board.id) {
        Ok(known) => {
            let changes = intent::difference(&known.board, board);
            // What is there is recorded; refused is only what cannot exist beside what this store holds.
            store.import_changes(op, board.id, &changes, refuse_new)
        }
        Err(store::StoreError::NotFound { .. }) => store.import_board(op, board, acceptable),
        Err(error) => Err(error),
    }
}

fn run<C: Call>(body: Value, function: impl FnOnce(C) -> Reply<C>) -> Result<String, ApiError> {
    serde_json::to_string(&function(parse(body)?)?).map_err(|error| failed(error.to_string()))
}

fn parse<C: Call>(body: Value) -> Result<C, ApiError> {
    serde_json::from_value(body).map_err(|error| {
        let message = format!("the call \"{}\": {error}", C::NAME);
        refused("/", "", message, say!("remedy-contract"))
    })
}

/// The words of a locale; English where there are none.
fn spoken(locale: &str) -> &'static Catalogue {
    Catalogue::named(locale).unwrap_or(Catalogue::english())
}

/// Runs a call in the language of a locale. A panic inside becomes an error: the app goes on, and what was saved stays
/// saved.
fn guarded<T>(locale: &str, name: &str, work: impl FnOnce() -> Result<T, ApiError>) -> Result<T, Value> {
    let result = catch_unwind(AssertUnwindSafe(|| speaking(spoken(locale), work))).unwrap_or_else(|_| {
        Err(failed(format!("the call \"{name}\" broke off: open the board again to see whether it was saved; what was saved before is safe")))
    });
    result.map_err(|error| serde_json::to_value(error).unwrap_or(Value::Null))
}

/// Runs what comes after a save. What goes wrong in it undoes nothing.
pub(crate) fn saved<T>(work: impl FnOnce() -> Result<T, ApiError>) -> Result<T, ApiError> {
    let why = match catch_unwind(AssertUnwindSafe(work)) {
        Ok(Ok(done)) => return Ok(done),
        Ok(Err(error)) => error.message,
        Err(_) => "the answer broke off".to_owned(),
    };
    Err(failed(format!("this was saved, but cannot be shown ({why}): open the board again")))
}

fn json(body: &[u8]) -> Result<Value, Value> {
    json_of(body).map_err(|error| serde_json::to_value(error).unwrap_or(Value::Null))
}

/// A body's JSON, if it is one and not of more values than are read.
fn json_of(body: &[u8]) -> Result<Value, ApiError> {
    if file::too_many_values(body) {
        let message = say!("problem-call-values", most = file::MOST_VALUES);
        return Err(refused("/", "", message, say!("remedy-contract")));
    }
    serde_json::from_slice(body)
        .map_err(|error| refused("/", "", say!("problem-call-json", why = error.to_string()), say!("remedy-contract")))
}

fn no_call(name: &str) -> ApiError {
    ApiError::not_found(format!("there is no call \"{}\"", name.chars().take(40).collect::<String>()))
}

const BUNDLE_MEDIA: &str = "application/zip";

/// Bytes in memory, up to what a reply bears.
struct Capped(Cursor<Vec<u8>>);

impl Write for Capped {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if self.0.position() + bytes.len() as u64 > LARGEST_REPLY {
            let most = LARGEST_REPLY / 1024 / 1024;
            return Err(std::io::Error::other(format!("it is larger than {most} MB: save it as a file")));
        }
        self.0.write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl Seek for Capped {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.0.seek(to)
    }
}

fn refused(path: &str, value: &str, message: impl Into<Message>, remedy: Message) -> ApiError {
    one(Problem::refused(path, value, message, remedy))
}

fn one(problem: Problem) -> ApiError {
    ApiError::refused(vec![problem])
}

fn acceptable(board: &Board) -> Result<(), Vec<Problem>> {
    let refused = survey::validate::refused(board);
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}

fn refuse_new(before: &Board, after: &Board) -> Result<(), Vec<Problem>> {
    let refused = newly_refused(before, after);
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}

fn decode(base64: &str) -> Result<Vec<u8>, ApiError> {
    STANDARD
        .decode(base64)
        .map_err(|error| refused("/base64", "", say!("problem-base64", why = error.to_string()), say!("remedy-base64")))
}

fn parsed<T: std::str::FromStr<Err = Message>>(path: &str, text: &str) -> Result<T, ApiError> {
    text.parse().map_err(|message| refused(path, text, message, say!("remedy-of-list")))
}

pub(crate) fn paper_error(error: papers::PaperError) -> ApiError {
    match error {
        papers::PaperError::Fault(why) => failed(why.to_string()),
        other => refused("/paper", "", other.message(), say!("remedy-paper")),
    }
}

fn exchange_error(error: exchange::ExchangeError) -> ApiError {
    use exchange::ExchangeError;
    match error {
        ExchangeError::Store(error) => from_store(error),
        ExchangeError::Write(_) => failed(error.to_string()),
        ExchangeError::Entry { ref entry, .. } => refused(entry, "", error.to_string(), say!("remedy-fetch-bundle")),
        other => refused("bundle", "", other.to_string(), say!("remedy-bundle")),
    }
}

fn import_reply(report: &exchange::ImportReport) -> ImportReply {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    ImportReply {
        new_boards: count(report.boards().filter(|(_, board)| board.new).count()),
        merged_boards: count(report.boards().filter(|(_, board)| !board.new && board.added > 0).count()),
        changes: count(report.changes_added()),
        photos: count(report.photos_added),
        healed: count(report.healed),
        conflicts: count(report.conflicts()),
        missing_photos: count(report.missing_photos.len()),
        boards: report.boards().map(|(id, _)| id).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_saved_is_never_said_not_to_be() {
        let broken = saved::<()>(|| panic!("a view that cannot be made")).unwrap_err();
        let failing = saved::<()>(|| Err(failed("no room"))).unwrap_err();
        for error in [broken, failing] {
            assert!(error.message.starts_with("this was saved, but cannot be shown"), "{error}");
        }
        let outside = guarded::<()>("en", "edit", || panic!("somewhere")).unwrap_err().to_string();
        assert!(outside.contains("broke off") && !outside.contains("nothing of it was saved"), "{outside}");
    }
}
