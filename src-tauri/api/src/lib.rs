//! Plain request and reply types: the one contract between ui, shell, command line and hub.
//!
//! Each request is a type that implements [`Call`]: its name on the wire and its reply. A command
//! that is not here does not exist.

mod change;
mod checks;

pub use change::{BoardChange, ChangedCheck, ChecksChange, DrawingChange, ListChange, OtherView, Run, Update};

use std::collections::BTreeMap;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use survey::arrangement::Consequences;
use survey::drawing::Drawing;
use survey::ids::{BoardId, CircuitId, EntryId, PhotoId, PlateId, SiteId, SlotId};
use survey::intent::Intent;
use survey::pattern::{Pattern, Point, Rect};
use survey::problem::Problem;
use survey::{Board, Check, EntryKind, Message};

/// A request with its name on the wire and its reply.
pub trait Call: Serialize + DeserializeOwned {
    /// Name on the wire, lower case with underscores.
    const NAME: &'static str;
    /// What comes back.
    type Reply: Serialize + DeserializeOwned;
}

macro_rules! calls {
    ($($(#[$doc:meta])* $name:ident = $wire:literal -> $reply:ty { $($(#[$fdoc:meta])* $field:ident : $type:ty),* $(,)? })+) => {
        $(
            $(#[$doc])*
            #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
            #[serde(deny_unknown_fields)]
            pub struct $name { $($(#[$fdoc])* pub $field: $type),* }
            impl Call for $name {
                const NAME: &'static str = $wire;
                type Reply = $reply;
            }
        )+
        /// Every call's name, for routing and for tests.
        pub const NAMES: &[&str] = &[$($wire),+];
    };
}

/// What goes with the file of a bundle: nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleFile {}

impl Call for BundleFile {
    const NAME: &'static str = ImportBundle::NAME;
    type Reply = ImportReply;
}

/// What goes with the file of a photo: [`AddPhoto`] without its bytes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoFile {
    /// The board.
    pub board: BoardId,
    /// Caption.
    pub caption: String,
    /// A pole, a plate's id, or empty.
    pub pinned: String,
    /// As for [`AddPhoto`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub have: Option<String>,
}

impl Call for PhotoFile {
    const NAME: &'static str = AddPhoto::NAME;
    type Reply = Edited;
}

/// Asks for a site's bundle as a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteFile {
    /// Which.
    pub site: SiteId,
}

impl Call for SiteFile {
    const NAME: &'static str = ExportSite::NAME;
    type Reply = PaperFile;
}

calls! {
    /// What this installation is: version, role, cautions.
    About = "about" -> AboutReply {}
    /// The words of the interface in the caller's language.
    Words = "words" -> WordsReply {}
    /// Sets the role stamped on readings: "surveyor", "office".
    SetRole = "set_role" -> AboutReply {
        /// The role.
        role: String,
    }
    /// A person has read what is said of the store's recovery, up to this number.
    MarkRead = "mark_read" -> AboutReply {
        /// `recovered_upto` of what was shown.
        upto: i64,
    }
    /// Reads on in the check of all hashes of the store, a bounded piece at a time: call it again until
    /// it says when it finished. A check that is more than a day old is begun afresh.
    CheckStore = "check_store" -> CheckReply {
        /// Begin afresh in any case.
        again: bool,
    }
    /// Sites.
    ListSites = "list_sites" -> Vec<SiteRow> {}
    /// A new site.
    CreateSite = "create_site" -> SiteRow {
        /// Its name.
        name: String,
    }
    /// Boards that match the words; an empty query lists all.
    ListBoards = "list_boards" -> BoardList {
        /// Words to look for in reference, place, site and circuits.
        query: String,
        /// Most rows wanted.
        limit: u32,
    }
    /// A new board.
    CreateBoard = "create_board" -> BoardView {
        /// Its site.
        site: SiteId,
        /// Its reference.
        reference: String,
        /// Where it hangs.
        place: String,
        /// Key of the enclosure pattern, if known.
        pattern: Option<String>,
        /// True for a board that is yet to be built.
        new: bool,
    }
    /// Everything about one board.
    OpenBoard = "open_board" -> BoardView {
        /// Which.
        board: BoardId,
    }
    /// One edit: saved when the reply comes.
    Edit = "edit" -> Edited {
        /// The board.
        board: BoardId,
        /// What is done.
        intent: Intent,
        /// [`BoardView::state`] of the view that the caller has: the reply is then what changed in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        have: Option<String>,
    }
    /// Takes the last edit back.
    Undo = "undo" -> Edited {
        /// The board.
        board: BoardId,
        /// [`BoardView::state`] of the view that the caller has: the reply is then what changed in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        have: Option<String>,
    }
    /// Does it again.
    Redo = "redo" -> Edited {
        /// The board.
        board: BoardId,
        /// [`BoardView::state`] of the view that the caller has: the reply is then what changed in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        have: Option<String>,
    }
    /// Picks one of the values that stand side by side.
    Settle = "settle" -> Edited {
        /// The board.
        board: BoardId,
        /// The field.
        path: String,
        /// The `pick` of the chosen value.
        pick: String,
        /// [`BoardView::state`] of the view that the caller has: the reply is then what changed in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        have: Option<String>,
    }
    /// Enclosure patterns.
    ListPatterns = "list_patterns" -> Vec<PatternRow> {}
    /// Adds enclosure patterns from a TOML text in the form of the shipped list.
    AddPatterns = "add_patterns" -> Vec<Pattern> {
        /// The text.
        toml: String,
    }
    /// The tables that the checks read: whose each is, and how many rows it has.
    ListTables = "list_tables" -> Vec<TableRow> {}
    /// Takes tables of the user's own in the place of ours, all or none; they count at once.
    TakeTables = "take_tables" -> Vec<TableRow> {
        /// Whose they are, for checks and papers to say: a standard and its edition.
        whose: String,
        /// CSV files of the same names and form as ours.
        files: Vec<TableFile>,
    }
    /// Puts the tables that came with the program back in the place of the user's own; they count at once.
    PutBackTables = "put_back_tables" -> Vec<TableRow> {
        /// Their names; none: all.
        tables: Vec<String>,
    }
    /// A table as it counts now, as CSV text: the form to put one's own in.
    TableText = "table_text" -> String {
        /// Its name.
        table: String,
    }
    /// Keeps a photo and puts it on the board.
    AddPhoto = "add_photo" -> Edited {
        /// The board.
        board: BoardId,
        /// The original file, base64.
        base64: String,
        /// Caption.
        caption: String,
        /// A pole, a plate's id, or empty.
        pinned: String,
        /// [`BoardView::state`] of the view that the caller has: the reply is then what changed in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        have: Option<String>,
    }
    /// The picture of a photo.
    PhotoData = "photo_data" -> Blob {
        /// SHA-256 of the original.
        hash: String,
        /// Which rendition.
        size: PhotoSize,
    }
    /// What edits would do to the checks; nothing is saved.
    WhatIf = "what_if" -> WhatIfReply {
        /// The board.
        board: BoardId,
        /// The edits, in order.
        intents: Vec<Intent>,
    }
    /// Which pole each single-pole circuit should take, so that the lines are loaded evenly.
    Allocate = "allocate" -> AllocationReply {
        /// The board.
        board: BoardId,
        /// Circuits that stay where they are.
        fixed: Vec<CircuitId>,
        /// Pairs that must be on one line.
        together: Vec<[CircuitId; 2]>,
        /// Pairs that must be on different lines.
        apart: Vec<[CircuitId; 2]>,
    }
    /// The smallest cable that meets every rule, and why each smaller one does not.
    SizeCable = "size_cable" -> SizingReply {
        /// The board.
        board: BoardId,
        /// The circuit.
        circuit: CircuitId,
    }
    /// Fault currents at the origin, at the board and at the end of every circuit.
    FaultCurrents = "fault_currents" -> FaultTable {
        /// The board.
        board: BoardId,
    }
    /// Time-current bands of the devices that a fault on a circuit passes, as one SVG drawing.
    TimeCurrent = "time_current" -> String {
        /// The board.
        board: BoardId,
        /// The circuit.
        circuit: CircuitId,
    }
    /// A legal place for one more entry.
    NextPlace = "next_place" -> Option<Point> {
        /// The board.
        board: BoardId,
        /// The plate.
        plate: PlateId,
        /// Kind of entry.
        kind: EntryKind,
        /// Trade size.
        size: String,
    }
    /// Entries for the cables that have none yet, each with the gland that takes it.
    EntriesForCables = "entries_for_cables" -> NewEntriesReply {
        /// The board.
        board: BoardId,
        /// The plate.
        plate: PlateId,
    }
    /// A place for every entry of a plate, no rule broken; nothing is saved.
    SetOutPlate = "set_out_plate" -> SetOutReply {
        /// The board.
        board: BoardId,
        /// The plate.
        plate: PlateId,
        /// Trade sizes of blanked spares to keep room for.
        spares: Vec<String>,
        /// Entries with a place stay there.
        keep_placed: bool,
    }
    /// Where a dragged entry may go, and why not where it was asked to.
    DragEntry = "drag_entry" -> DragReply {
        /// The board.
        board: BoardId,
        /// The plate.
        plate: PlateId,
        /// The entry.
        entry: EntryId,
        /// Where it was let go.
        to: Point,
    }
    /// Holes of a plate measured on a photo; nothing is saved.
    MeasurePhoto = "measure_photo" -> MeasuredPlate {
        /// The board.
        board: BoardId,
        /// The plate the photo shows.
        plate: PlateId,
        /// The photo.
        photo: PhotoId,
        /// The plate's corners as tapped: left rear, right rear, right front, left front as seen from
        /// outside, as shares of the upright photo's width and height.
        corners: [Point; 4],
        /// Length of the printed marker sheet's check line in millimetres, where the sheet lies level
        /// with the plate; none: the plate's own size gives the scale.
        check_line: Option<f64>,
        /// Places tapped by hand, as shares of the photo: each hole there is measured too.
        taps: Vec<Point>,
    }
    /// Papers this board has.
    ListPapers = "list_papers" -> Vec<PaperRow> {
        /// The board.
        board: BoardId,
    }
    /// Pages of a paper as SVG, for the screen.
    PreviewPaper = "preview_paper" -> Vec<String> {
        /// The board.
        board: BoardId,
        /// Key of the paper.
        paper: String,
    }
    /// The paper itself.
    WritePaper = "write_paper" -> PaperFile {
        /// The board.
        board: BoardId,
        /// Key of the paper.
        paper: String,
        /// "pdf", "dxf", "svg", "xlsx" or "csv".
        format: String,
        /// Also saves it in the papers folder; the reply says where.
        save: bool,
    }
    /// A site with all its boards and photos as one bundle file.
    ExportSite = "export_site" -> PaperFile {
        /// Which.
        site: SiteId,
        /// Saves it in the exchange folder instead; the reply says where and bears no bytes.
        save: bool,
    }
    /// Merges a bundle from a colleague.
    ImportBundle = "import_bundle" -> ImportReply {
        /// The file, base64.
        base64: String,
    }
    /// One board as a survey file.
    ExportSurvey = "export_survey" -> String {
        /// Which.
        board: BoardId,
    }
    /// A board from a survey file: a new one, or the existing one brought to it.
    ImportSurvey = "import_survey" -> SurveyTaken {
        /// The JSON text.
        text: String,
    }
}

/// What this installation is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AboutReply {
    /// Version of the app.
    pub version: String,
    /// Role stamped on readings.
    pub role: String,
    /// The cautions owed on each screen, by its name; the first of each is not folded away.
    pub cautions: BTreeMap<String, Vec<String>>,
    /// What happened to the store and no person has read yet: damaged and recovered, older than it was.
    pub recovered: Option<String>,
    /// Number of the last of it, for `MarkRead`.
    pub recovered_upto: Option<i64>,
}

/// The words that the interface makes sentences of by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WordsReply {
    /// The language, as BCP 47 names it.
    pub language: String,
    /// What stands between whole numbers and tenths.
    pub decimal: String,
    /// Messages by id, as `survey::words::Catalogue::patterns` has them.
    pub messages: BTreeMap<String, Value>,
}

/// What the check of all hashes has found, as far as it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckReply {
    /// When it was begun, to the minute, as the clock shows it where the device is.
    pub started: String,
    /// When it came to its end; nothing while it is under way.
    pub finished: Option<String>,
    /// Boards and sites read.
    pub documents: u64,
    /// Changes read.
    pub changes: u64,
    /// Photos read.
    pub photos: u64,
    /// What had gone bad and was written again from what was sound.
    pub healed: u64,
    /// What is bad: what, since when, what would heal it.
    pub bad: Vec<String>,
}

/// A table that the checks read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableRow {
    /// Its name; its file is this and `.csv`.
    pub name: String,
    /// Whose it is; none: it came with the program.
    pub whose: Option<String>,
    /// How many rows it has.
    pub rows: u32,
}

/// A table as it is given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TableFile {
    /// The file's name, "ampacity.csv".
    pub name: String,
    /// Its bytes, base64.
    pub base64: String,
}

/// A site in a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SiteRow {
    /// Its id.
    pub id: SiteId,
    /// Its name.
    pub name: String,
    /// Number of boards.
    pub boards: u32,
}

/// Boards found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardList {
    /// The first of them.
    pub rows: Vec<BoardRow>,
    /// How many there are in all.
    pub total: u32,
}

/// A board in a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardRow {
    /// Its id.
    pub id: BoardId,
    /// Its reference.
    pub reference: String,
    /// Where it hangs.
    pub place: String,
    /// Its site.
    pub site: SiteId,
    /// The site's name.
    pub site_name: String,
    /// Number of circuits.
    pub circuits: u32,
    /// Conflicts that wait for a person.
    pub conflicts: u32,
}

/// Everything a screen shows of one board.
///
/// `B` is the board itself. A screen that looks fields up by their path reads it as JSON, which
/// spares it the decoder of every record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardView<B = Board> {
    /// The board.
    pub board: B,
    /// Its site's name.
    pub site_name: String,
    /// What follows from the arrangement.
    pub follows: Consequences,
    /// The board to scale; `None` until the enclosure is known.
    pub drawing: Option<Drawing>,
    /// The plates to scale.
    pub plates: Vec<PlateView>,
    /// Every check.
    #[serde(with = "checks")]
    pub checks: Vec<Check>,
    /// The readings that settle the most, most useful first.
    pub readings: Vec<ReadingRow>,
    /// Currents in the lines.
    pub currents: Currents,
    /// Circuits as rows, in the order of the poles.
    pub rows: Vec<CircuitRow>,
    /// What the survey says that does not go together.
    pub problems: Vec<Problem>,
    /// Values that stand side by side after a merge.
    pub conflicts: Vec<Conflict>,
    /// What undo would take back.
    pub undo: Option<String>,
    /// What redo would do again.
    pub redo: Option<String>,
    /// Changes with every change of the board.
    pub version: String,
    /// Names exactly what is shown here, as long as the program runs: `have` of the next edit.
    pub state: String,
}

/// What edits would do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WhatIfReply {
    /// Checks whose verdict or numbers would change, those whose verdict turns first.
    pub changes: Vec<CheckChange>,
    /// How many checks fail, go beyond advice, are undecided, hold: as it is.
    pub before: [u32; 4],
    /// And as it would be.
    pub after: [u32; 4],
}

/// A check as it is and as it would be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CheckChange {
    /// What it speaks of: "circuit 3L1 press".
    pub subject: String,
    /// The verdict is another.
    pub turns: bool,
    /// As it is; none where the rule has nothing to say yet.
    pub before: Option<Check>,
    /// As it would be; none where the rule would have nothing to say.
    pub after: Option<Check>,
}

/// A reading worth taking next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingRow {
    /// The field; the first of several.
    pub path: String,
    /// Whom it concerns and what a person calls it: "3L1 press: cable length".
    pub label: String,
    /// What to do.
    pub what: String,
    /// How many undecided checks it helps.
    pub checks: u32,
    /// How many circuits those are of.
    pub circuits: u32,
    /// Undecided ranges it removes, summed over checks: 1.0 is one check's whole range.
    pub settles: f64,
}

/// A pattern of an enclosure on offer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatternRow {
    /// Its name as shown.
    pub name: Message,
    /// The pattern itself, to be handed back as it is.
    pub pattern: Pattern,
}

/// Fault currents of a board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FaultTable {
    /// Place by place: the origin where something is known of it, the board, then the far end of every circuit in
    /// the order of the poles.
    pub rows: Vec<FaultRow>,
    /// What those at the board rest on; empty where they were read there.
    pub from: Message,
    /// How the numbers are meant.
    pub notes: Vec<Message>,
}

/// Fault currents at one place: each "smallest to largest" as shown, empty where it is not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FaultRow {
    /// "origin", "board", "end of circuit 3L1 press".
    pub place: Message,
    /// All three lines together.
    pub three_phase: Message,
    /// Line to line.
    pub line_line: Message,
    /// Line to neutral.
    pub line_neutral: Message,
    /// Line to earth.
    pub line_earth: Message,
    /// What would give those that are missing.
    pub next: Vec<Message>,
}

/// An even loading of the lines, and how to come to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AllocationReply {
    /// Largest line current and neutral current today.
    pub before: LoadingView,
    /// After the moves.
    pub after: LoadingView,
    /// No allocation has a smaller largest line current, as shown.
    pub bound: Message,
    /// The answer is proven the best on the currents that it rests on.
    pub proven: bool,
    /// Which currents those are.
    pub rests_on: Message,
    /// What to do, in an order that always finds its pole free.
    pub steps: Vec<Message>,
    /// The same as one [`Intent`], to be sent as it is; none where nothing moves.
    pub intent: Option<Value>,
    /// Shown before the steps are done.
    pub cautions: Vec<String>,
}

/// How a board is loaded, as shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoadingView {
    /// Largest line current.
    pub largest: Message,
    /// Neutral current.
    pub neutral: Message,
}

/// Cable sizes tried, smallest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizingReply {
    /// The smallest with which every check that depends on it holds, as shown.
    pub chosen: Option<String>,
    /// A smaller one that does only if what is not known yet turns out well, as shown.
    pub only_if: Option<String>,
    /// Each size with what speaks against it.
    pub tried: Vec<SizeRow>,
    /// The choice as [`Intent`]s on cable and protective conductor, to be sent as they are; empty where none holds.
    pub intents: Vec<Value>,
}

/// One size tried.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizeRow {
    /// "2.5 mm²".
    pub size: String,
    /// Protective conductor taken with it.
    pub cpc: Option<String>,
    /// Holds; undecided: only if what is open turns out well; fails.
    pub verdict: survey::Verdict,
    /// What speaks against it.
    pub against: Vec<Message>,
    /// What is open.
    pub open: Vec<Message>,
    /// Readings that would settle what is open, the most useful first.
    pub next: Vec<Message>,
}

/// A circuit as one line of text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CircuitRow {
    /// Which.
    pub id: CircuitId,
    /// Reference: its number, else its first pole.
    pub name: String,
    /// Poles it takes, "3L1 3L2 3L3".
    pub poles: String,
    /// What it feeds.
    pub description: String,
    /// "circuit-breaker B32".
    pub device: String,
    /// "2.5 mm² copper, method C, 18 m".
    pub cable: String,
    /// Neutral terminal, or empty.
    pub neutral: String,
    /// Earth terminals.
    pub earth: String,
    /// Design current as shown.
    pub design_current: String,
    /// Worst verdict of its checks.
    pub verdict: Option<survey::Verdict>,
}

/// Currents in the lines and the neutral, as shown: "41.2 to 44.0 A".
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Currents {
    /// Conductor and current, in order.
    pub lines: Vec<(String, String)>,
    /// Neutral current.
    pub neutral: String,
    /// Unbalance.
    pub unbalance: String,
}

/// A plate to scale, in millimetres from its left rear corner, seen from outside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlateView {
    /// Which.
    pub id: PlateId,
    /// "top gland plate".
    pub name: String,
    /// Width and depth; `None` until both are known.
    pub size: Option<[f64; 2]>,
    /// The corner that dimensions run from is at the right, at the front.
    pub datum: [bool; 2],
    /// What may be drilled.
    pub usable: Option<Rect>,
    /// Parts that must stay whole.
    pub keep_outs: Vec<Rect>,
    /// Entries.
    pub entries: Vec<EntryView>,
    /// Slots between holes.
    pub slots: Vec<SlotView>,
    /// Where each entry's cable goes.
    pub fan: Vec<FanLine>,
}

/// An entry to scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EntryView {
    /// Which.
    pub id: EntryId,
    /// "20S gland".
    pub name: String,
    /// The circuit whose cable it takes, as text.
    pub cable: String,
    /// Centre.
    pub at: Option<Point>,
    /// Diameter of the hole, or width of a cut-out.
    pub hole: Option<f64>,
    /// Height of a cut-out.
    pub height: Option<f64>,
    /// Circle that a spanner or locknut needs.
    pub clear: Option<f64>,
    /// Centre and diameter of the hole for the bolt of its earth tag.
    pub tag: Option<(Point, f64)>,
    /// There already.
    pub existing: bool,
    /// Must stay.
    pub locked: bool,
    /// A rule is broken by it or its neighbour.
    pub conflict: bool,
    /// As measured on a photo; empty where it was not.
    pub measured: String,
}

/// The cable of an entry on its way to where it ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FanLine {
    /// The entry.
    pub entry: EntryId,
    /// Where its way lies along the plate, in millimetres from the left rear corner.
    pub to: f64,
    /// The circuit's name.
    pub name: String,
}

/// A slot between two holes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SlotView {
    /// Which.
    pub id: SlotId,
    /// Centre of the hole it starts at.
    pub from: Point,
    /// Centre of the hole it ends at.
    pub to: Point,
    /// Width of the cut in millimetres.
    pub width: f64,
}

/// Entries chosen for cables.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NewEntriesReply {
    /// What was chosen: "3L1 press: armoured-cable gland 20S".
    pub chosen: Vec<String>,
    /// Cables left out, and why.
    pub left: Vec<String>,
    /// The entries as one [`Intent`], to be sent as it is; none where there is nothing to add.
    pub intent: Option<Value>,
}

/// A plate set out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetOutReply {
    /// Each entry and its place: "E3: 120, 60 mm".
    pub places: Vec<String>,
    /// The places as one [`Intent`], to be sent as it is; none where nothing moves.
    pub intent: Option<Value>,
    /// Room kept for the spares asked for.
    pub spares: Vec<String>,
    /// What it is worth today, where every entry has a place, and as set out.
    pub before: Option<PlateScore>,
    /// And as set out.
    pub after: PlateScore,
    /// No setting-out can have a smaller total than this.
    pub bound: f64,
    /// Nothing better exists on whole millimetres.
    pub proven: bool,
    /// Entries that could not be set out, and why.
    pub left: Vec<String>,
    /// What a person should know.
    pub notes: Vec<String>,
    /// Shown before the plate is drilled.
    pub cautions: Vec<String>,
}

/// A setting-out weighed; smaller is better.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlateScore {
    /// Cable along the plate, in millimetres.
    pub length: f64,
    /// Pairs of cables that cross.
    pub crossings: u32,
    /// Rows.
    pub rows: u32,
    /// The sum that was made small, in millimetres of cable.
    pub total: f64,
}

/// Where a dragged entry may go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DragReply {
    /// The nearest place that breaks no rule; none where it stays.
    pub at: Option<Point>,
    /// What it was drawn into line with: "row of E2".
    pub snapped: Vec<String>,
    /// Why it cannot go where it was asked to; empty where it can.
    pub why: Vec<String>,
}

/// A plate as measured on a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeasuredPlate {
    /// Width and depth in millimetres.
    pub size: [f64; 2],
    /// The plate as seen straight on, from corner to corner.
    pub picture: Blob,
    /// The holes, and after them shapes whose rim is seen in part only.
    pub holes: Vec<MeasuredHole>,
    /// What a person should know.
    pub notes: Vec<String>,
}

/// A hole measured on a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeasuredHole {
    /// Centre in millimetres from the left rear corner.
    pub at: Point,
    /// How far the true centre may be from it, 95 times of 100.
    pub at_within: f64,
    /// Diameter; width of a slot.
    pub diameter: f64,
    /// How far the true diameter may be from it, 95 times of 100.
    pub diameter_within: f64,
    /// Length over all of a slot.
    pub length: Option<f64>,
    /// 0 to 1: how much it looks like a hole.
    pub confidence: f64,
    /// It is taken over unless a person says no: it looks like a hole and nothing speaks against it.
    pub sure: bool,
    /// Why it may be no hole, or not where it is said to be; where there is any, it is not taken over
    /// unless a person ticks it.
    pub doubts: Vec<String>,
    /// The entry of the plate that stands there already.
    pub entry: Option<EntryId>,
    /// As a person reads it: "Ø 20.4 ± 0.2 mm at 60.1, 40.0 mm".
    pub words: String,
    /// Part of [`Intent::TakeHoles`] for it, to be sent as it is.
    pub take: Value,
}

/// One field with values that stand side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conflict {
    /// The field.
    pub path: String,
    /// What a person calls it.
    pub label: String,
    /// The values.
    pub values: Vec<ConflictValue>,
}

/// One of the values.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ConflictValue {
    /// Names it in [`Settle`].
    pub pick: String,
    /// The value as shown.
    pub shown: String,
    /// The value itself.
    pub value: Value,
    /// Who entered it, where known: "the surveyor", "Ann Field, surveyor".
    pub by: String,
}

/// Reply to an edit; `B` as in [`BoardView`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Edited<B = Board> {
    /// Paths of the records and fields that changed.
    pub touched: Vec<String>,
    /// The board as it is now.
    pub view: Update<B>,
}

/// A survey that was taken in; `B` as in [`BoardView`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SurveyTaken<B = Board> {
    /// Fields that stay as they are here since the file's values are older, and values worked on here that the file
    /// replaced, a line each.
    pub told: Vec<String>,
    /// The board as it is now.
    pub view: BoardView<B>,
}

/// Rendition of a photo.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PhotoSize {
    /// Small, for lists.
    Thumbnail,
    /// Large enough for a tablet's screen.
    Screen,
    /// The original file.
    Original,
}

/// Bytes with their media type.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Blob {
    /// Media type.
    pub media: String,
    /// The bytes, base64.
    pub base64: String,
}

/// A paper on offer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PaperRow {
    /// Key for [`PreviewPaper`] and [`WritePaper`].
    pub key: String,
    /// "Circuit chart".
    pub name: String,
    /// Formats it comes in.
    pub formats: Vec<String>,
    /// Cautions to show before it is used.
    pub cautions: Vec<String>,
}

/// A written file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PaperFile {
    /// File name.
    pub name: String,
    /// The bytes.
    pub data: Blob,
    /// Where it was saved, if asked.
    pub saved: Option<String>,
    /// What is not in it, and why: a line each.
    #[serde(default)]
    pub notes: Vec<String>,
}

/// What an import did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ImportReply {
    /// Boards that were new here.
    pub new_boards: u32,
    /// Boards that were merged.
    pub merged_boards: u32,
    /// Changes brought in.
    pub changes: u32,
    /// Photos brought in.
    pub photos: u32,
    /// Changes and photos whose bytes had gone bad here and are sound again.
    #[serde(default)]
    pub healed: u32,
    /// Photos its boards speak of that neither the bundle nor this store holds.
    #[serde(default)]
    pub missing_photos: u32,
    /// Conflicts that now wait for a person.
    pub conflicts: u32,
    /// Boards touched.
    pub boards: Vec<BoardId>,
}

/// What kind of error: stable words for code, the message for people.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ErrorKind {
    /// The input is not acceptable; the problems say where and why.
    Refused,
    /// There is no such thing.
    NotFound,
    /// The store or the machine failed, perhaps after something was saved: the message says so where it is known.
    Failed,
}

/// An error as it crosses the boundary.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, thiserror::Error)]
#[error("{message}")]
pub struct ApiError {
    /// What kind.
    pub kind: ErrorKind,
    /// One sentence for a person.
    pub message: String,
    /// Each problem with its place.
    #[serde(default)]
    pub problems: Vec<Problem>,
}

impl ApiError {
    /// Input that is refused, with the problems.
    #[must_use]
    pub fn refused(problems: Vec<Problem>) -> Self {
        let message = problems.first().map(Problem::to_string).unwrap_or_default();
        Self { kind: ErrorKind::Refused, message, problems }
    }
    /// Something that is not there.
    #[must_use]
    pub fn not_found(message: impl Into<String>) -> Self {
        Self { kind: ErrorKind::NotFound, message: message.into(), problems: Vec::new() }
    }
    /// A failure of the machine.
    #[must_use]
    pub fn failed(message: impl Into<String>) -> Self {
        Self { kind: ErrorKind::Failed, message: message.into(), problems: Vec::new() }
    }
}
