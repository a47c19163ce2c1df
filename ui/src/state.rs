//! What the screens share: the open board, what was typed and not yet saved, messages.

use std::cell::RefCell;
use std::collections::{BTreeMap, VecDeque};
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use api::{AboutReply, ApiError, ErrorKind};
use leptos::prelude::*;
use leptos::task::spawn_local;
use serde_json::Value;
use survey::Verdict;
use survey::ids::{BoardId, CircuitId};
use survey::intent::{self, Intent};
pub use survey::shown::capital;
use wasm_bindgen::JsCast;

use crate::call::{call_as, read, sent, sent_with, written};
use crate::route::{Part, Screen};
use crate::sheet::{self, Edited, View};
use crate::words::{label_at, t, told, tr, yes};

/// What a person typed in a field and what became of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Draft {
    /// The value, or the key of the choice.
    pub text: String,
    /// Two bounds instead of one value.
    pub two: bool,
    /// Lower bound.
    pub low: String,
    /// Upper bound.
    pub high: String,
    /// How it is known, as the file says it.
    pub known: String,
    /// Tolerance of the instrument.
    pub tolerance: String,
    /// Instrument.
    pub instrument: String,
    /// Who stated it.
    pub by: String,
    /// Rule of an assumption.
    pub rule: String,
    /// Why it could not be saved.
    pub error: Option<String>,
}

/// A message for the person.
#[derive(Clone, Debug, PartialEq)]
pub struct Message {
    /// One sentence.
    pub text: String,
    /// More of it, one line each.
    pub lines: Vec<String>,
    /// For words on the store's recovery: the number they have been read up to once they are dismissed.
    pub upto: Option<i64>,
}

/// Everything the screens share. Cheap to copy: it holds signals only.
#[derive(Clone, Copy)]
pub struct App {
    /// The screen shown.
    pub screen: RwSignal<Screen>,
    /// What this installation is.
    pub about: RwSignal<Option<AboutReply>>,
    /// The open board.
    pub view: RwSignal<Option<Arc<View>>>,
    /// Why the board could not be opened.
    pub load_error: RwSignal<Option<ApiError>>,
    /// Typed and not yet saved, by board and path.
    pub drafts: RwSignal<BTreeMap<(BoardId, String), Draft>>,
    /// Good news.
    pub status: RwSignal<Option<Message>>,
    /// Bad news; stays until it is dismissed.
    pub alert: RwSignal<Option<Message>>,
    /// Pixels per millimetre of the board's drawing.
    pub zoom: RwSignal<f64>,
    /// Which part of the drawing is in sight.
    pub scroll: RwSignal<Option<(i32, i32)>>,
}

/// [`api::Edit`] with an intent that came with a reply: the screen need not be able to read it.
#[derive(serde::Serialize, serde::Deserialize)]
struct ReadyEdit {
    board: BoardId,
    intent: Value,
}

impl api::Call for ReadyEdit {
    const NAME: &'static str = api::Edit::NAME;
    type Reply = api::Edited;
}

/// [`api::ListPatterns`] with patterns as JSON: the screen shows their names and hands one back.
#[derive(serde::Serialize, serde::Deserialize)]
pub struct Patterns {}

impl api::Call for Patterns {
    const NAME: &'static str = api::ListPatterns::NAME;
    type Reply = Vec<Value>;
}

type Reader = Box<dyn FnOnce(&str) -> Result<(), ApiError>>;
type Heard = Box<dyn FnOnce(Result<&Edited, &ApiError>)>;
type Job = Pin<Box<dyn Future<Output = ()>>>;

#[derive(Default)]
struct Queue {
    waiting: VecDeque<Job>,
    running: bool,
}

thread_local! {
    // Edits go one after another: the view in a reply is then never older than the one shown.
    static QUEUE: RefCell<Queue> = RefCell::default();
}

fn enqueue(job: Job) {
    let start = QUEUE.with_borrow_mut(|queue| {
        queue.waiting.push_back(job);
        !std::mem::replace(&mut queue.running, true)
    });
    if start {
        spawn_local(async {
            while let Some(job) = QUEUE.with_borrow_mut(|queue| {
                let job = queue.waiting.pop_front();
                queue.running = job.is_some();
                job
            }) {
                job.await;
            }
        });
    }
}

impl App {
    /// The state of a session that starts on the screen in the address.
    pub fn new(screen: Screen) -> Self {
        Self {
            screen: RwSignal::new(screen),
            about: RwSignal::new(None),
            view: RwSignal::new(None),
            load_error: RwSignal::new(None),
            drafts: RwSignal::new(BTreeMap::new()),
            status: RwSignal::new(None),
            alert: RwSignal::new(None),
            zoom: RwSignal::new(crate::parts::board_drawing::THUMB),
            scroll: RwSignal::new(None),
        }
    }

    /// The board on the screen.
    pub fn board(self) -> Option<BoardId> {
        self.screen.try_with_untracked(Screen::board).flatten()
    }

    /// Something about the open board, tracked.
    pub fn of_view<T>(self, what: impl FnOnce(&View) -> T) -> Option<T> {
        self.view.with(|view| view.as_deref().map(what))
    }

    /// Something at a path of the open board, tracked; null where there is nothing.
    pub fn at<T>(self, path: &str, what: impl FnOnce(&Value) -> T) -> T {
        self.view.with(|view| {
            let found = view.as_ref().and_then(|view| view.board.pointer(path));
            what(found.unwrap_or(&Value::Null))
        })
    }

    /// Address of a part of the open board.
    pub fn href(self, part: Part) -> String {
        self.board().map_or_else(|| Screen::Boards.href(), |board| Screen::Board(board, part).href())
    }

    /// Shows another screen.
    pub fn go(self, screen: &Screen) {
        if let Some(window) = web_sys::window() {
            let _ = window.location().set_hash(&screen.href());
        }
    }

    /// Shows a part of the open board.
    pub fn go_to(self, part: Part) {
        if let Some(board) = self.board() {
            self.go(&Screen::Board(board, part));
        }
    }

    /// Says that something went well.
    pub fn say(self, text: impl Into<String>) {
        self.status.set(Some(Message { text: text.into(), lines: Vec::new(), upto: None }));
    }

    /// Says that something went wrong.
    pub fn warn(self, before: &str, error: &ApiError) {
        let lines = error.problems.iter().map(problem_words).collect::<Vec<_>>();
        let text = if lines.is_empty() { format!("{before} {}", error.message) } else { before.to_owned() };
        self.status.set(None);
        self.alert.set(Some(Message { text: text.trim().to_owned(), lines, upto: None }));
    }

    /// Says what a person must know beside what went well.
    pub fn point_out(self, text: String, lines: Vec<String>) {
        self.alert.set(Some(Message { text, lines, upto: None }));
    }

    /// Takes the bad news away; what was said of the store's recovery has then been read.
    pub fn dismiss(self, upto: Option<i64>) {
        self.alert.set(None);
        if let Some(upto) = upto {
            self.ask_json(api::MarkRead { upto }, |_| ());
        }
    }

    /// Asks for something; what fails is shown.
    pub fn ask<C: api::Call + 'static>(self, request: C, then: impl FnOnce(C::Reply) + 'static) {
        self.ask_or(request, then, || ());
    }

    /// Asks for something; what fails is shown, and `fallen` is told.
    pub fn ask_or<C: api::Call + 'static>(
        self,
        request: C,
        then: impl FnOnce(C::Reply) + 'static,
        fallen: impl FnOnce() + 'static,
    ) {
        let then = move |text: &str| read(text).map(then);
        self.ask_text(C::NAME, written(&request), Box::new(then), Box::new(fallen));
    }

    /// Asks for something and reads the reply as JSON: a decoder for each reply weighs more than looking
    /// its few fields up.
    pub fn ask_json<C: api::Call + 'static>(self, request: C, then: impl FnOnce(Value) + 'static) {
        let then = move |text: &str| read::<Value>(text).map(then);
        self.ask_text(C::NAME, written(&request), Box::new(then), Box::new(|| ()));
    }

    fn ask_text(self, name: &'static str, body: Result<String, ApiError>, then: Reader, fallen: Box<dyn FnOnce()>) {
        spawn_local(async move {
            if let Err(error) = sent(name, body).await.and_then(|text| then(&text)) {
                self.warn("", &error);
                fallen();
            }
        });
    }

    /// Opens a board, or reads it again.
    pub fn open(self, board: BoardId) {
        self.load_error.set(None);
        if self.view.with_untracked(|view| view.as_ref().is_some_and(|view| sheet::id_of(&view.board) != Some(board))) {
            self.view.set(None);
            self.scroll.set(None);
        }
        spawn_local(async move {
            let reply = call_as(api::OpenBoard { board }).await;
            if self.board() != Some(board) {
                return;
            }
            match reply {
                Ok(view) => self.view.set(Some(Arc::new(view))),
                Err(error) => self.load_error.set(Some(error)),
            }
        });
    }

    /// Takes what came of the open board with a reply: all of it, or what changed in the view that is held. Where
    /// that is another one by now, the board is read anew.
    pub fn take(self, update: sheet::Update) {
        let Some(open) = self.board() else { return };
        match update {
            sheet::Update::Whole(view) => {
                if sheet::id_of(&view.board) == Some(open) {
                    self.view.set(Some(Arc::new(*view)));
                }
            }
            sheet::Update::Changed(change) => {
                let mut applied = false;
                self.view.update(|held| {
                    applied = held.as_mut().is_some_and(|held| Arc::make_mut(held).apply(*change).is_ok());
                });
                if !applied {
                    self.open(open);
                }
            }
        }
    }

    /// The request of a change with the name of the view that is held: the reply then says what changed in it.
    fn with_held(self, mut body: String) -> String {
        let held = self.view.with_untracked(|view| view.as_ref().map(|view| view.state.clone()));
        if let Some(held) = held.filter(|_| body.ends_with('}')) {
            // A field more at the end of the object; the name is of letters and digits only.
            body.pop();
            body.push_str(",\"have\":\"");
            body.push_str(&held);
            body.push_str("\"}");
        }
        body
    }

    /// Sends one request that changes the open board; `after` hears how it went.
    pub fn change<C>(self, request: C, done: String, after: impl FnOnce(Result<&Edited, &ApiError>) + 'static)
    where
        C: api::Call<Reply = api::Edited> + 'static,
    {
        self.change_text(C::NAME, written(&request), None, done, Box::new(after));
    }

    /// The same for a change that comes with a file.
    pub fn change_with<C>(
        self,
        request: C,
        file: web_sys::File,
        done: String,
        after: impl FnOnce(Result<&Edited, &ApiError>) + 'static,
    ) where
        C: api::Call<Reply = api::Edited> + 'static,
    {
        self.change_text(C::NAME, written(&request), Some(file), done, Box::new(after));
    }

    fn change_text(
        self,
        name: &'static str,
        body: Result<String, ApiError>,
        file: Option<web_sys::File>,
        done: String,
        after: Heard,
    ) {
        enqueue(Box::pin(async move {
            // Now, not before: the edit that was waited for changed the view.
            let body = body.map(|body| self.with_held(body));
            let reply = match file {
                Some(file) => sent_with(name, body, file).await,
                None => sent(name, body).await,
            };
            match reply.and_then(|text| read::<Edited>(&text)) {
                Ok(edited) => {
                    self.alert.set(None);
                    self.say(done);
                    after(Ok(&edited));
                    self.take(edited.view);
                }
                Err(error) => {
                    self.warn(of_an_edit(&error), &error);
                    after(Err(&error));
                }
            }
        }));
    }

    /// Sends one edit of the open board.
    pub fn edit_then(self, intent: Intent, after: impl FnOnce(Result<&Edited, &ApiError>) + 'static) {
        let Some(board) = self.board() else { return };
        let done = tr("ui-saved-what", &[("what", told(&intent::name(&intent)).into())]);
        self.change(api::Edit { board, intent, have: None }, done, after);
    }

    /// Sends an edit that came ready made with a reply.
    pub fn edit_ready(self, intent: Value, after: impl FnOnce(Result<&Edited, &ApiError>) + 'static) {
        let Some(board) = self.board() else { return };
        self.change(ReadyEdit { board, intent }, t("ui-saved").to_owned(), after);
    }

    /// Sends one edit of the open board.
    pub fn edit(self, intent: Intent) {
        self.edit_then(intent, |_| ());
    }

    /// Sets one field.
    pub fn set(self, path: impl Into<String>, value: Value) {
        self.edit(Intent::Set { path: path.into(), value });
    }

    /// Takes the last edit back.
    pub fn undo(self) {
        let Some(board) = self.board() else { return };
        let what = self.view.with_untracked(|view| view.as_ref().and_then(|view| view.undo.clone()));
        let Some(what) = what else { return self.say(t("ui-undo-nothing")) };
        self.change(api::Undo { board, have: None }, tr("ui-undone", &[("what", what.into())]), |_| ());
    }

    /// Does it again.
    pub fn redo(self) {
        let Some(board) = self.board() else { return };
        let what = self.view.with_untracked(|view| view.as_ref().and_then(|view| view.redo.clone()));
        let Some(what) = what else { return self.say(t("ui-redo-nothing")) };
        self.change(api::Redo { board, have: None }, tr("ui-done-again", &[("what", what.into())]), |_| ());
    }

    /// The screen on which a field is edited.
    pub fn part_of(self, path: &str) -> Part {
        let mut parts = path.split('/').filter(|part| !part.is_empty());
        let (record, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
        let found = self.view.with_untracked(|view| {
            let board = &view.as_deref()?.board;
            match record {
                "circuits" => id.parse().ok().map(Part::Circuit),
                "devices" => sheet::circuit_of(board, "device", id).map(Part::Circuit),
                "cables" => sheet::circuit_of(board, "cable", id).map(Part::Circuit),
                "plates" => id.parse().ok().map(|id| Part::Plate(Some(id))),
                "photos" => Some(Part::Photos),
                "notes" | "observations" => Some(Part::Notes),
                _ => None,
            }
        });
        found.unwrap_or(Part::Supply)
    }

    /// Goes to the field at a path and puts the cursor in it.
    pub fn jump(self, path: &str) {
        self.go_to(self.part_of(path));
        let path = path.to_owned();
        // The screen has to be there first; a slow tablet gets a second try.
        for wait in [60, 400] {
            let path = path.clone();
            set_timeout(move || focus_field(&path), Duration::from_millis(wait));
        }
    }

    /// A circuit's name, what it feeds and its worst verdict.
    pub fn circuit_name(self, id: CircuitId) -> String {
        self.of_view(|view| {
            view.rows.iter().find(|row| row.id == id).map_or_else(String::new, |row| {
                if row.description.is_empty() { row.name.clone() } else { format!("{} {}", row.name, row.description) }
            })
        })
        .unwrap_or_default()
    }
}

/// Puts the cursor in the field at a path, or in the nearest one that holds it.
fn focus_field(path: &str) {
    let Some(document) = web_sys::window().and_then(|window| window.document()) else { return };
    let mut path = path;
    loop {
        let found = document.query_selector(&format!("[data-field=\"{path}\"]")).ok().flatten();
        if let Some(element) = found.and_then(|element| element.dyn_into::<web_sys::HtmlElement>().ok()) {
            open_around(&element);
            if document.active_element().as_ref() != Some(element.as_ref()) {
                let options = web_sys::ScrollIntoViewOptions::new();
                options.set_block(web_sys::ScrollLogicalPosition::Center);
                element.scroll_into_view_with_scroll_into_view_options(&options);
                let _ = element.focus();
            }
            return;
        }
        match path.rsplit_once('/') {
            Some((shorter, _)) if !shorter.is_empty() => path = shorter,
            _ => return,
        }
    }
}

/// Unfolds whatever the element is folded away in.
fn open_around(element: &web_sys::Element) {
    let mut inner = element.parent_element();
    while let Some(folded) = inner.and_then(|one| one.closest("details").ok().flatten()) {
        let _ = folded.set_attribute("open", "");
        inner = folded.parent_element();
    }
}

/// True where the field at this path is on the screen.
pub fn field_on_screen(path: &str) -> bool {
    let document = web_sys::window().and_then(|window| window.document());
    document
        .is_some_and(|document| document.query_selector(&format!("[data-field=\"{path}\"]")).ok().flatten().is_some())
}

/// A problem as a person reads it, without the path.
pub fn problem_words(problem: &survey::Problem) -> String {
    // A surveyed value is one field to a person: the fault is in the field.
    let path = ["/value", "/between", "/known", "/tolerance"].iter().find_map(|end| problem.path.strip_suffix(end));
    let field = label_at(path.unwrap_or(&problem.path));
    tr(
        "ui-problem",
        &[
            ("field", capital(field).into()),
            ("message", problem.message.to_string().into()),
            ("found", yes(!problem.value.is_empty())),
            ("value", problem.value.to_string().into()),
            ("mended", yes(!problem.remedy.is_empty())),
            ("remedy", problem.remedy.to_string().into()),
        ],
    )
}

/// What a screen may say of an edit that got this answer: only what was refused is surely not saved.
pub fn of_an_edit(error: &ApiError) -> &'static str {
    match error.kind {
        ErrorKind::Refused | ErrorKind::NotFound => t("ui-not-saved"),
        ErrorKind::Failed => t("ui-look-whether-saved"),
    }
}

/// Sign of a verdict: a shape, so that colour is never alone.
pub const fn sign(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Holds) => "✓",
        Some(Verdict::Fails) => "✗",
        Some(Verdict::Undecided) => "?",
        Some(Verdict::Advised) => "~",
        None => "–",
    }
}

/// The word of a verdict.
pub fn verdict_words(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Holds) => t("ui-verdict-holds"),
        Some(Verdict::Fails) => t("ui-verdict-fails"),
        Some(Verdict::Undecided) => t("ui-verdict-undecided"),
        Some(Verdict::Advised) => t("ui-verdict-advised"),
        None => t("ui-verdict-none"),
    }
}

/// Key of a verdict, for classes and tests.
pub const fn verdict_key(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(verdict) => verdict.key(),
        None => "none",
    }
}

/// The shared state.
pub fn app() -> App {
    expect_context::<App>()
}
