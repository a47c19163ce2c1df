//! One function per call: parse, call, map the error.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use api::*;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use exchange::{Checked, Limits};
use papers::PaperInput;
use serde_json::Value;
use store::{Find, Op, ReadPhoto, Store};
use survey::file::{self, SurveyFile};
use survey::intent::{self, Intent};
use survey::validate::{newly_refused, validate};
use survey::{Board, BoardId, Fact, Known, Photo, Problem, Provenance, Severity, Site, SiteId, Stage};

use crate::error::{failed, from_store};
use crate::{App, files, own_tables, view};

/// A screen-size rendition is at most this many pixels on its longer side.
const SCREEN_PIXELS: u32 = 1600;

/// Bytes that one step of the check reads, or one document or photo where that is larger: others wait
/// meanwhile.
const CHECKED_AT_A_TIME: u64 = 4 * 1024 * 1024;

type Reply<C> = Result<<C as Call>::Reply, ApiError>;

impl App {
    /// Answers a call by its name and JSON body: for the window's IPC and the loopback host. The reply
    /// is the text of its JSON, so that a large board is written once and copied nowhere.
    ///
    /// # Errors
    /// An [`ApiError`] as JSON. A panic inside becomes one too: the app goes on, and what was
    /// saved stays saved.
    pub fn answer(&self, name: &str, body: Value) -> Result<String, Value> {
        let answered = catch_unwind(AssertUnwindSafe(|| self.route(name, body)));
        let result = answered.unwrap_or_else(|_| {
            Err(failed(format!(
                "the call \"{name}\" broke off; nothing of it was saved, what was saved before is safe"
            )))
        });
        result.map_err(|error| serde_json::to_value(error).unwrap_or(Value::Null))
    }

    fn route(&self, name: &str, body: Value) -> Result<String, ApiError> {
        macro_rules! routes {
            ($($call:ident => $function:ident),+ $(,)?) => {
                match name {
                    $($call::NAME => run::<$call>(body, |request| self.$function(request)),)+
                    _ => Err(ApiError::not_found(format!("there is no call \"{}\"", name.chars().take(40).collect::<String>()))),
                }
            };
        }
        routes! {
            About => about,
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

    pub(crate) fn about(&self, _: About) -> Reply<About> {
        let (recovered, recovered_upto) = self.unread()?.unzip();
        Ok(AboutReply {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            role: self.role(),
            cautions: crate::CAUTIONS.map(str::to_owned).to_vec(),
            recovered,
            recovered_upto,
        })
    }

    pub(crate) fn check_store(&self, request: CheckStore) -> Reply<CheckStore> {
        let old = self.stamp().at - chrono::Duration::days(1);
        let mut store = self.store();
        let ended = store.health().map_err(from_store)?.and_then(|health| health.finished);
        let is_old = ended.and_then(|at| at.parse::<chrono::DateTime<chrono::Utc>>().ok()).is_some_and(|at| at < old);
        if request.again || is_old {
            store.begin_check().map_err(from_store)?;
        }
        let store::Health { started, finished, documents, changes, photos, healed, bad, .. } =
            store.check_on(CHECKED_AT_A_TIME).map_err(from_store)?;
        Ok(CheckReply { started, finished, documents, changes, photos, healed, bad })
    }

    fn set_role_call(&self, request: SetRole) -> Reply<SetRole> {
        self.set_role(&request.role)?;
        self.about(About {})
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
            return Err(refused("/name", &name, "a site needs a name", "give up to 200 letters"));
        }
        let role = self.role();
        let site = Site { name: name.clone(), ..Site::default() };
        let (id, _) = self.store().create_site(Op::new("new site", &role), &site).map_err(from_store)?;
        Ok(SiteRow { id, name, boards: 0 })
    }

    pub(crate) fn list_boards(&self, request: ListBoards) -> Reply<ListBoards> {
        let store = self.store();
        let limit = request.limit.clamp(1, 1000);
        let find = Find { words: &request.query, limit, ..Find::default() };
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
            return Err(refused("/reference", reference, "a board needs a reference", "give one such as \"DB1\""));
        }
        let stamp = self.stamp();
        let mut board = Board::new(BoardId(self.new_id()), request.site, reference);
        request.place.trim().clone_into(&mut board.place);
        board.stage = if request.new { Stage::New } else { Stage::Existing };
        if let Some(key) = &request.pattern {
            let Some(pattern) = self.patterns().into_iter().find(|pattern| pattern.key == *key) else {
                return Err(refused("/pattern", key, "there is no such pattern", "pick one of the list"));
            };
            let known = if request.new { Known::Decided } else { Known::Stated };
            let intent = Intent::PickEnclosure { pattern: Box::new(pattern), known };
            let changes = intent::lower(&board, &intent, &stamp, &mut || self.new_id()).map_err(one)?;
            board = intent::apply(&board, &changes).map_err(ApiError::refused)?;
        }
        if request.new {
            board.incomer.arrangement = Fact { value: None, from: Provenance::default() };
        }
        let mut store = self.store();
        store.site(request.site).map_err(from_store)?;
        store.create_board(Op::new("new board", &stamp.role), &board, acceptable).map_err(from_store)?;
        self.view_of(&mut store, board.id)
    }

    pub(crate) fn open_board(&self, request: OpenBoard) -> Reply<OpenBoard> {
        self.view_of(&mut self.store(), request.board)
    }

    fn view_of(&self, store: &mut Store, board: BoardId) -> Result<BoardView, ApiError> {
        let doc = store.board(board).map_err(from_store)?;
        let site_name = store.site(doc.board.site).map(|site| site.site.name).unwrap_or_default();
        Ok(view::view(self, doc, site_name))
    }

    pub(crate) fn edit(&self, request: Edit) -> Reply<Edit> {
        let stamp = self.stamp();
        let mut store = self.store();
        let before = store.board(request.board).map_err(from_store)?.board;
        let changes = intent::lower(&before, &request.intent, &stamp, &mut || self.new_id()).map_err(one)?;
        let name = intent::name(&request.intent);
        let saved =
            store.transact(Op::new(&name, &stamp.role), request.board, &changes, refuse_new).map_err(from_store)?;
        Ok(Edited { touched: saved.touched, view: self.view_of(&mut store, request.board)? })
    }

    pub(crate) fn undo(&self, request: Undo) -> Reply<Undo> {
        let mut store = self.store();
        let saved = store.undo(&self.role(), request.board, refuse_new).map_err(from_store)?;
        self.stepped(&mut store, request.board, saved)
    }

    pub(crate) fn redo(&self, request: Redo) -> Reply<Redo> {
        let mut store = self.store();
        let saved = store.redo(&self.role(), request.board, refuse_new).map_err(from_store)?;
        self.stepped(&mut store, request.board, saved)
    }

    /// An undo or redo tells what it left alone among the board's problems.
    fn stepped(&self, store: &mut Store, board: BoardId, saved: store::Saved) -> Result<Edited, ApiError> {
        let mut view = self.view_of(store, board)?;
        view.problems.splice(0..0, saved.skipped);
        Ok(Edited { touched: saved.touched, view })
    }

    pub(crate) fn settle(&self, request: Settle) -> Reply<Settle> {
        let mut store = self.store();
        let saved = store.settle(&self.role(), request.board, &request.path, &request.pick).map_err(from_store)?;
        Ok(Edited { touched: saved.touched, view: self.view_of(&mut store, request.board)? })
    }

    pub(crate) fn list_patterns(&self, _: ListPatterns) -> Reply<ListPatterns> {
        Ok(self.patterns())
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
        self.add_photo_bytes(request.board, &bytes, &request.caption, &request.pinned)
    }

    /// Keeps the original first, then puts it on the board.
    pub(crate) fn add_photo_bytes(
        &self,
        board: BoardId,
        bytes: &[u8],
        caption: &str,
        pinned: &str,
    ) -> Result<Edited, ApiError> {
        self.store().board(board).map_err(from_store)?;
        // The store is free while the picture is read and made small.
        let read = ReadPhoto::of(bytes).map_err(from_store)?;
        if read.cut_off {
            return Err(refused(
                "/photo",
                "",
                "the file ends before the picture does: a part of it is missing",
                "copy the picture from the camera again, or take it again",
            ));
        }
        let meta = self.store().add_read_photo(&read, bytes).map_err(from_store)?;
        let photo = Photo {
            hash: meta.hash,
            media: meta.media,
            width: meta.width,
            height: meta.height,
            caption: caption.trim().to_owned(),
            pinned: pinned.to_owned(),
            ..Photo::default()
        };
        self.edit(Edit { board, intent: Intent::AddPhoto { photo: Box::new(photo) } })
    }

    pub(crate) fn photo_data(&self, request: PhotoData) -> Reply<PhotoData> {
        let store = self.store();
        let jpeg = "image/jpeg".to_owned();
        let (media, bytes) = match request.size {
            PhotoSize::Thumbnail => (jpeg, store.thumbnail(&request.hash)),
            PhotoSize::Screen => (jpeg, store.photo_for_screen(&request.hash, SCREEN_PIXELS)),
            PhotoSize::Original => {
                let meta = store.photo_meta(&request.hash).map_err(from_store)?;
                (meta.map_or(jpeg, |meta| meta.media), store.photo(&request.hash))
            }
        };
        Ok(Blob { media, base64: STANDARD.encode(bytes.map_err(from_store)?) })
    }

    pub(crate) fn next_place(&self, request: NextPlace) -> Reply<NextPlace> {
        let board = self.store().board(request.board).map_err(from_store)?.board;
        Ok(plate::next_place(&board, request.plate, request.kind, &request.size, self.plate_tables))
    }

    pub(crate) fn list_papers(&self, request: ListPapers) -> Reply<ListPapers> {
        let board = self.store().board(request.board).map_err(from_store)?.board;
        Ok(papers::offered(&board)
            .into_iter()
            .map(|(kind, formats)| PaperRow {
                key: kind.to_string(),
                name: kind.name(&board),
                formats: formats.into_iter().map(|format| format.extension().to_owned()).collect(),
                cautions: kind.cautions().iter().map(|caution| (*caution).to_owned()).collect(),
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
        self.deliver(&self.place().papers(), file.name, file.media, &file.bytes, request.save)
    }

    /// Gives the papers what they are made from. The store is free again while they are set.
    pub(crate) fn with_papers<T>(
        &self,
        board: BoardId,
        work: impl FnOnce(&PaperInput) -> Result<T, ApiError>,
    ) -> Result<T, ApiError> {
        let (board, site) = {
            let mut store = self.store();
            let board = store.board(board).map_err(from_store)?.board;
            let site = store.site(board.site).map(|site| site.site.name).unwrap_or_default();
            (board, site)
        };
        let tables = self.circuit_tables();
        let checks = view::checks(self, &board, &tables);
        work(&PaperInput {
            board: &board,
            checks: &checks,
            site: &site,
            date: &self.stamp().at.format("%Y-%m-%d").to_string(),
            circuit_tables: &tables,
            plate_tables: self.plate_tables,
        })
    }

    fn deliver(
        &self,
        folder: &std::path::Path,
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
        let (name, bytes, notes) = self.bundle(request.site)?;
        let file = self.deliver(&self.place().bundles(), name, "application/zip", &bytes, request.save)?;
        Ok(PaperFile { notes, ..file })
    }

    /// A site's bundle: file name, bytes, and what is damaged here and not in it.
    pub(crate) fn bundle(&self, site: SiteId) -> Result<(String, Vec<u8>, Vec<String>), ApiError> {
        let mut store = self.store();
        let name = store.site(site).map_err(from_store)?.site.name;
        let mut out = Cursor::new(Vec::new());
        let summary = exchange::export_site(&mut store, site, &mut out).map_err(exchange_error)?;
        Ok((format!("{}.waywright.zip", files::safe_name(&name)), out.into_inner(), summary.damaged))
    }

    pub(crate) fn import_bundle(&self, request: ImportBundle) -> Reply<ImportBundle> {
        let report = self.import_bundle_bytes(&decode(&request.base64)?)?;
        self.settle_file();
        Ok(report)
    }

    pub(crate) fn import_bundle_bytes(&self, bytes: &[u8]) -> Result<ImportReply, ApiError> {
        let mut bundle = Checked::open(Cursor::new(bytes), Limits::default()).map_err(exchange_error)?;
        // The store is free between one photo's check and the next, and while pictures are made small.
        let mut lacking = Vec::new();
        for photo in bundle.photos() {
            if !self.store().has_sound_photo(&photo).map_err(from_store)? {
                lacking.push(photo);
            }
        }
        bundle.read_photos(&lacking).map_err(exchange_error)?;
        let report = bundle.take_in(&mut self.store()).map_err(exchange_error)?;
        Ok(import_reply(&report))
    }

    pub(crate) fn export_survey(&self, request: ExportSurvey) -> Reply<ExportSurvey> {
        let mut store = self.store();
        let board = store.board(request.board).map_err(from_store)?.board;
        let site = store.site(board.site).map(|site| site.site.name).unwrap_or_default();
        file::write(&board, &site).map_err(|error| failed(error.to_string()))
    }

    pub(crate) fn import_survey(&self, request: ImportSurvey) -> Reply<ImportSurvey> {
        let survey = file::read(&request.text).map_err(ApiError::refused)?;
        let role = self.role();
        let mut store = self.store();
        store.batch(|store| take_survey(store, &role, &survey)).map_err(from_store)?;
        self.view_of(&mut store, survey.board.id)
    }
}

/// Takes a survey in: a new board with its site, or what differs on a board that is here. Every
/// store that takes in the same file writes the same history.
pub(crate) fn take_survey(store: &mut Store, role: &str, survey: &SurveyFile) -> Result<(), store::StoreError> {
    let SurveyFile { site_name, board, .. } = survey;
    if let Err(store::StoreError::NotFound { .. }) = store.site(board.site) {
        let site = Site { name: site_name.clone(), ..Site::default() };
        store.import_site(Op::new("site of an imported survey", role), board.site, &site)?;
    }
    let op = Op::new("import of a survey", role);
    match store.board(board.id) {
        Ok(known) => {
            let changes = intent::difference(&known.board, board);
            store.import_changes(op, board.id, &changes, |_, _| Ok(()))?;
        }
        Err(store::StoreError::NotFound { .. }) => {
            store.import_board(op, board, acceptable)?;
        }
        Err(error) => return Err(error),
    }
    Ok(())
}

fn run<C: Call>(body: Value, function: impl FnOnce(C) -> Reply<C>) -> Result<String, ApiError> {
    let request: C = serde_json::from_value(body).map_err(|error| {
        ApiError::refused(vec![Problem::refused(
            "/",
            "",
            format!("the call \"{}\": {error}", C::NAME),
            "send what the contract says",
        )])
    })?;
    serde_json::to_string(&function(request)?).map_err(|error| failed(error.to_string()))
}

fn refused(path: &str, value: &str, message: &str, remedy: &str) -> ApiError {
    one(Problem::refused(path, value, message, remedy))
}

fn one(problem: Problem) -> ApiError {
    ApiError::refused(vec![problem])
}

fn acceptable(board: &Board) -> Result<(), Vec<Problem>> {
    let refused: Vec<Problem> =
        validate(board).into_iter().filter(|problem| problem.severity == Severity::Refused).collect();
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}

fn refuse_new(before: &Board, after: &Board) -> Result<(), Vec<Problem>> {
    let refused = newly_refused(before, after);
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}

fn decode(base64: &str) -> Result<Vec<u8>, ApiError> {
    STANDARD
        .decode(base64)
        .map_err(|error| refused("/base64", "", &format!("not base64: {error}"), "send the whole file"))
}

fn parsed<T: std::str::FromStr<Err = String>>(path: &str, text: &str) -> Result<T, ApiError> {
    text.parse().map_err(|message: String| refused(path, text, &message, "pick one of the list"))
}

pub(crate) fn paper_error(error: papers::PaperError) -> ApiError {
    match error {
        papers::PaperError::Fault(_) => failed(error.to_string()),
        other => refused("/paper", "", &other.to_string(), "see what the paper needs"),
    }
}

fn exchange_error(error: exchange::ExchangeError) -> ApiError {
    use exchange::ExchangeError;
    match error {
        ExchangeError::Store(error) => from_store(error),
        ExchangeError::Write(_) => failed(error.to_string()),
        ExchangeError::Entry { ref entry, .. } => refused(entry, "", &error.to_string(), "fetch the bundle again"),
        other => refused("/base64", "", &other.to_string(), "give a bundle made by this app"),
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
        boards: report.boards().map(|(id, _)| id).collect(),
    }
}
