//! What is worked out from one version of a board, once, and what was last shown of it.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use api::{ApiError, BoardView, Edited, Update};
use circuits::PhaseCurrents;
use plate::{NotReady, SettingOut, WiringSpace};
use store::{BoardDoc, Saved, Store};
use survey::arrangement::{Consequences, consequences};
use survey::drawing::{Drawing, draw};
use survey::{Amps, Board, BoardId, Check, CircuitId, PlateId, Problem, Range, validate};

use crate::App;
use crate::error::from_store;
use crate::{calls, view};

/// Boards whose analysis is kept.
const KEPT: usize = 4;
/// Views kept that a screen may still show: a change is told as a difference to one of them.
const VIEWS: usize = 6;

/// Everything that follows from one version of a board with the tables that count. Nothing of it changes.
pub(crate) struct Analysed {
    /// The version of its document; empty for a board that is none.
    pub(crate) version: String,
    pub(crate) tables: Arc<circuits::Tables>,
    pub(crate) board: Board,
    /// What follows from the arrangement.
    pub(crate) follows: Consequences,
    /// The board to scale.
    pub(crate) drawing: Option<Drawing>,
    /// What the survey says that does not go together.
    pub(crate) problems: Vec<Problem>,
    /// Every check with the table rows it read: electrical, then plate by plate.
    pub(crate) checks: Vec<Check>,
    pub(crate) phase_currents: PhaseCurrents,
    pub(crate) design_currents: BTreeMap<CircuitId, Range<Amps>>,
    pub(crate) plates: BTreeMap<PlateId, PlateWork>,
}

/// What is worked out of one plate.
pub(crate) struct PlateWork {
    /// The plate set out.
    pub(crate) set: Result<SettingOut, NotReady>,
    /// The space behind it.
    pub(crate) space: WiringSpace,
}

impl Analysed {
    /// Works a board out.
    pub(crate) fn of(
        board: Board,
        version: String,
        tables: Arc<circuits::Tables>,
        plate_tables: &plate::Tables,
    ) -> Self {
        let follows = consequences(&board);
        let drawing = draw(&board, &follows);
        let (mut checks, phase_currents, design_currents) = {
            let analysis = circuits::Analysis::of(&board, &tables);
            (analysis.checks_told(), analysis.phase_currents(), analysis.design_currents())
        };
        let plates: BTreeMap<PlateId, PlateWork> = board
            .live_plates()
            .map(|(id, _)| {
                let set = plate::setting_out(&board, id, plate_tables);
                let space = plate::wiring_space_in(&board, id, drawing.as_ref());
                (id, PlateWork { set, space })
            })
            .collect();
        for (id, work) in &plates {
            checks.extend(plate::check_set(&board, *id, &work.set, &work.space, plate_tables));
        }
        let mut problems = validate::validate(&board);
        problems.extend(follows.problems.iter().cloned());
        Self { version, tables, follows, drawing, problems, checks, phase_currents, design_currents, plates, board }
    }

    fn is_of(&self, board: BoardId, version: &str, tables: &Arc<circuits::Tables>) -> bool {
        self.board.id == board && self.version == version && Arc::ptr_eq(&self.tables, tables)
    }
}

/// A board and what belongs to it as they were read under the store's lock: everything else is done without it.
pub(crate) struct Snapshot {
    pub(crate) doc: BoardDoc,
    pub(crate) site_name: String,
}

impl Snapshot {
    /// Reads a board.
    pub(crate) fn of(store: &mut Store, board: BoardId) -> Result<Self, ApiError> {
        let doc = store.board(board).map_err(from_store)?;
        let site_name = store.site(doc.board.site).map(|site| site.site.name).unwrap_or_default();
        Ok(Self { doc, site_name })
    }
}

/// The newest of what was worked out, the newest last.
#[derive(Default)]
pub(crate) struct Kept {
    analyses: VecDeque<Arc<Analysed>>,
    /// What was handed out, with what it was made of.
    views: VecDeque<(Arc<Analysed>, Arc<BoardView>)>,
}

impl Kept {
    fn find(&mut self, board: BoardId, version: &str, tables: &Arc<circuits::Tables>) -> Option<Arc<Analysed>> {
        let at = self.analyses.iter().position(|one| one.is_of(board, version, tables))?;
        let found = self.analyses.remove(at)?;
        self.analyses.push_back(found.clone());
        Some(found)
    }

    fn keep(&mut self, analysed: Arc<Analysed>) {
        // Of one board the newest is enough.
        self.analyses.retain(|one| one.board.id != analysed.board.id);
        self.analyses.push_back(analysed);
        if self.analyses.len() > KEPT {
            self.analyses.pop_front();
        }
    }

    fn view(&mut self, is: impl Fn(&Arc<Analysed>, &BoardView) -> bool) -> Option<Arc<BoardView>> {
        let at = self.views.iter().position(|(analysed, view)| is(analysed, view))?;
        let found = self.views.remove(at)?;
        let view = found.1.clone();
        self.views.push_back(found);
        Some(view)
    }

    fn keep_view(&mut self, analysed: Arc<Analysed>, view: Arc<BoardView>) {
        self.views.push_back((analysed, view));
        if self.views.len() > VIEWS {
            self.views.pop_front();
        }
    }
}

/// True where two views of one analysis say the same.
fn alike(one: &BoardView, other: &BoardView) -> bool {
    let parts = |view: &BoardView| (view.site_name.clone(), view.undo.clone(), view.redo.clone());
    parts(one) == parts(other) && one.problems == other.problems && one.conflicts == other.conflicts
}

impl App {
    /// What follows from a board as its document says it. Worked out once for each version and the tables that count.
    pub(crate) fn analysed(&self, board: Board, version: &str) -> Arc<Analysed> {
        let tables = self.circuit_tables();
        if let Some(found) = self.kept().find(board.id, version, &tables) {
            return found;
        }
        // Nobody waits while it is worked out; two who ask at once both do it.
        let analysed = Arc::new(Analysed::of(board, version.to_owned(), tables, self.plate_tables));
        self.kept().keep(analysed.clone());
        analysed
    }

    /// What follows from a board as it is stored.
    pub(crate) fn analysed_board(&self, board: BoardId) -> Result<Arc<Analysed>, ApiError> {
        let doc = self.store().board(board).map_err(from_store)?;
        Ok(self.analysed(doc.board, &doc.version))
    }

    /// What a screen shows of a board; `skipped` is what an undo or redo left alone.
    pub(crate) fn shown(&self, snapshot: Snapshot, skipped: Vec<Problem>) -> Arc<BoardView> {
        let Snapshot { doc, site_name } = snapshot;
        let BoardDoc { board, problems, conflicts, undo, redo, version } = doc;
        let analysed = self.analysed(board, &version);
        let mut unread = skipped;
        unread.extend(problems);
        let mut view = view::view(
            self,
            &analysed,
            unread,
            conflicts,
            [undo, redo].map(|step| step.map(|step| survey::intent::step(&step).to_string())),
            site_name,
        );
        let mut kept = self.kept();
        if let Some(known) = kept.view(|of, known| Arc::ptr_eq(of, &analysed) && alike(known, &view)) {
            return known;
        }
        view.state = self.new_id().simple().to_string();
        let view = Arc::new(view);
        kept.keep_view(analysed, view.clone());
        view
    }

    /// Changes a board and says what it is then: as a difference where the caller names the view that it has. The
    /// store is held while the change is written and the board read, and not while the reply is worked out.
    pub(crate) fn changed(
        &self,
        board: BoardId,
        have: Option<&str>,
        work: impl FnOnce(&mut Store) -> Result<Saved, ApiError>,
    ) -> Result<Edited, ApiError> {
        let (saved, snapshot) = {
            let mut store = self.store();
            let saved = work(&mut store)?;
            (saved, Snapshot::of(&mut store, board))
        };
        let Saved { touched, skipped, .. } = saved;
        let view = calls::saved(|| {
            let had = have.and_then(|have| self.kept().view(|_, view| view.state == have && view.board.id == board));
            let view = self.shown(snapshot?, skipped);
            Ok(match had {
                Some(had) => Update::Changed(Box::new(had.changes_to(&view))),
                None => Update::Whole(Box::new(Arc::unwrap_or_clone(view))),
            })
        })?;
        Ok(Edited { touched, view })
    }
}
