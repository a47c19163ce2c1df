//! What a case keeps while it is judged: results that several rules work out alike.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use survey::range::Span;
use survey::{Amps, Range};

use super::{Case, Gap};
use crate::cable::Ways;
use crate::demand::Draw;
use crate::fault_loop::EndedBy;
use crate::field::Field;
use crate::tables::trace;

/// What several rules work out alike, kept while a case is judged by all of them, and for the trials made of it
/// meanwhile as far as they change nothing it rests on.
#[derive(Default)]
pub(crate) struct Kept {
    state: Cell<State>,
    pub(crate) ways: Once<Rc<Ways>>,
    pub(crate) draw: Once<Draw>,
    pub(crate) limit: Once<(Span, EndedBy)>,
    pub(crate) loop_parts: Once<[Span; 3]>,
    pub(crate) smallest: Once<Span>,
    pub(crate) at_70: Once<Range<Amps>>,
    pub(crate) per_metre: Once<(Span, Span)>,
}

/// What becomes of a result that may be asked for again.
#[derive(Clone, Copy, Default)]
enum State {
    /// The case may change: nothing is kept.
    #[default]
    Open,
    /// The case is being judged, nothing of it changes: results are kept.
    Judged,
    /// A trial of a case that is being judged, this field of it changed: what rests on others stands.
    Trial(Field),
}

/// A result with the fields it rests on, one bit each; `None`: not worked out yet.
type Place<T> = RefCell<Option<(u128, Result<T, Gap>)>>;

/// A result of the case that is judged, and that of the trial under way.
pub(crate) struct Once<T> {
    judged: Place<T>,
    tried: Place<T>,
}

impl<T> Default for Once<T> {
    fn default() -> Self {
        Self { judged: RefCell::default(), tried: RefCell::default() }
    }
}

impl<T: Clone> Once<T> {
    /// What trials begin with.
    fn for_trials(&self) -> Self {
        let judged = self.judged.borrow();
        let numbers = judged.as_ref().filter(|(_, result)| result.is_ok()).cloned();
        Self { judged: RefCell::new(numbers), tried: RefCell::default() }
    }
}

/// Fields that are read without being counted as read, see [`crate::demand`].
const UNCOUNTED: u128 = 1 << Field::Leading as u128;

impl Clone for Kept {
    /// A copy of a case may be changed: it keeps nothing.
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl Kept {
    /// What trials begin with.
    fn for_trials(&self) -> Self {
        Self {
            state: Cell::default(),
            ways: self.ways.for_trials(),
            draw: self.draw.for_trials(),
            limit: self.limit.for_trials(),
            loop_parts: self.loop_parts.for_trials(),
            smallest: self.smallest.for_trials(),
            at_70: self.at_70.for_trials(),
            per_metre: self.per_metre.for_trials(),
        }
    }

    /// Begins a trial that changes one field: what the one before worked out stands no longer.
    pub(super) fn begin(&self, changed: Field) {
        let Self { state, ways, draw, limit, loop_parts, smallest, at_70, per_metre } = self;
        state.set(State::Trial(changed));
        ways.tried.take();
        draw.tried.take();
        limit.tried.take();
        loop_parts.tried.take();
        smallest.tried.take();
        at_70.tried.take();
        per_metre.tried.take();
    }
}

/// As long as it lives the case it was made from keeps what was worked out.
pub(crate) struct Keeping<'c, 'a>(Option<&'c Case<'a>>);

impl Drop for Keeping<'_, '_> {
    fn drop(&mut self) {
        let Some(case) = self.0 else { return };
        let Kept { state, ways, draw, limit, loop_parts, smallest, at_70, per_metre } = &case.kept;
        state.set(State::Open);
        ways.judged.take();
        draw.judged.take();
        limit.judged.take();
        loop_parts.judged.take();
        smallest.judged.take();
        at_70.judged.take();
        per_metre.judged.take();
    }
}

impl<'a> Case<'a> {
    /// From here to the end of what is returned, what [`Case::once`] works out is kept. Not where somebody asked for
    /// the rows looked up: each check looks up its own. Where it is kept already it is kept as long as it was to be.
    pub(crate) fn keep(&self) -> Keeping<'_, 'a> {
        if trace::on() || matches!(self.kept.state.get(), State::Judged) {
            return Keeping(None);
        }
        self.kept.state.set(State::Judged);
        Keeping(Some(self))
    }

    /// Works out what other rules may have worked out already; it rests on the same fields either way.
    pub(crate) fn once<T: Clone + PartialEq>(
        &self,
        which: fn(&Kept) -> &Once<T>,
        work: impl Fn(&Self) -> Result<T, Gap>,
    ) -> Result<T, Gap> {
        let once = which(&self.kept);
        match self.kept.state.get() {
            State::Open => work(self),
            State::Judged => self.kept_or_anew(&once.judged, work),
            State::Trial(changed) => {
                if let Some((used, result)) = &*once.judged.borrow()
                    && (used | UNCOUNTED) & 1 << changed as u128 == 0
                {
                    debug_assert!(work(self) == *result, "rests on {changed:?} without counting it as read");
                    self.used.set(self.used.get() | used);
                    return result.clone();
                }
                self.kept_or_anew(&once.tried, work)
            }
        }
    }

    /// A result that is kept, or works it out and keeps it, with the fields it rests on.
    fn kept_or_anew<T: Clone>(&self, place: &Place<T>, work: impl Fn(&Self) -> Result<T, Gap>) -> Result<T, Gap> {
        if let Some((used, result)) = &*place.borrow() {
            self.used.set(self.used.get() | used);
            return result.clone();
        }
        let before = self.used.replace(0);
        let result = work(self);
        let used = self.used.get();
        self.used.set(before | used);
        place.replace(Some((used, result.clone())));
        result
    }

    /// A copy for [`Case::settled`]; it takes from what is kept here.
    pub(crate) fn for_trials(&self) -> Self {
        let mut trial = self.clone();
        trial.kept = self.kept.for_trials();
        trial
    }
}
