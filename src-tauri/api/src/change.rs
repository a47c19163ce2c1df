//! What an edit changed of what is shown: the difference of two views, and how it is applied.
//!
//! A list goes as runs: so many of the old list from a number on, then so many of what is new. Items are found again
//! by their key (a check by subject and rule); what is sent of a changed check is what differs from the old one.

use std::collections::{BTreeMap, HashMap};

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use survey::arrangement::Consequences;
use survey::check::{Input, Inputs, NextReading};
use survey::drawing::{Cell, Drawing};
use survey::problem::Problem;
use survey::text::Text;
use survey::{Board, Check, Message, Subject, Verdict};

use crate::{BoardView, CircuitRow, Conflict, Currents, PlateView, ReadingRow};

/// What is shown after an edit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Update<B = Board> {
    /// All of it: the caller named no view, or one that is no longer known.
    Whole(Box<BoardView<B>>),
    /// What differs from the view that the caller named.
    Changed(Box<BoardChange>),
}

impl<B> Update<B> {
    /// The view where it came whole.
    #[must_use]
    pub fn whole(self) -> Option<BoardView<B>> {
        match self {
            Self::Whole(view) => Some(*view),
            Self::Changed(_) => None,
        }
    }
}

/// Difference between two views of a board. What is not named is as it was.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct BoardChange {
    /// [`BoardView::state`] of the view that it is a difference to.
    pub from: String,
    /// [`BoardView::state`] of the view that it leads to.
    pub state: String,
    /// Version of the board then.
    pub version: String,
    /// What undo would take back then.
    pub undo: Option<String>,
    /// What redo would do again then.
    pub redo: Option<String>,
    /// Name of the site.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub site_name: Option<String>,
    /// Fields and records of the board by their path, with their new value.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub set: Vec<(String, Value)>,
    /// Paths of what the board no longer has.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gone: Vec<String>,
    /// What follows from the arrangement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub follows: Option<Consequences>,
    /// The drawing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawing: Option<DrawingChange>,
    /// The plates.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plates: Option<ListChange<PlateView>>,
    /// The checks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub checks: Option<ChecksChange>,
    /// The readings that settle the most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub readings: Option<Vec<ReadingRow>>,
    /// Currents in the lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currents: Option<Currents>,
    /// Circuits as rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<ListChange<CircuitRow>>,
    /// What does not go together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub problems: Option<ListChange<Problem>>,
    /// Values that stand side by side.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conflicts: Option<Vec<Conflict>>,
}

/// A part of a list as it became: from which number of the old list, how many of it, and how many new ones after
/// them.
pub type Run = [u32; 3];

/// A list as it became.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ListChange<T> {
    /// Its parts in order.
    pub runs: Vec<Run>,
    /// What is new or another, in order.
    pub fresh: Vec<T>,
}

/// The drawing as it became.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DrawingChange {
    /// There is none any more.
    Gone,
    /// Another one.
    Whole(Box<Drawing>),
    /// The same with other cells, by their number.
    Cells(Vec<(u32, Cell)>),
}

/// The checks as they became.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChecksChange {
    /// The list's parts in order.
    pub runs: Vec<Run>,
    /// Values that new or changed checks rest on and those of before did not.
    pub inputs: Vec<Input>,
    /// Checks that are new or others, in order.
    pub fresh: Vec<ChangedCheck>,
}

/// A check that is new or another: what is not there is as in the old one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChangedCheck {
    /// Number of the old check; none: it is new, and everything is there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub old: Option<u32>,
    /// Its rule and what it speaks of, for a new one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key: Option<(Text, Subject)>,
    /// The answer.
    pub verdict: Verdict,
    /// Its sentence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sentence: Option<Message>,
    /// The inequality.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inequality: Option<Message>,
    /// The clause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clause: Option<Message>,
    /// The margin.
    pub margin: Option<[f64; 2]>,
    /// What it rests on: parts of the old one's inputs and of [`ChecksChange::inputs`] by their numbers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inputs: Option<(Vec<Run>, Vec<usize>)>,
    /// The readings to take next.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next: Option<Vec<NextReading>>,
    /// The rows of the tables it looked up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tables: Option<Message>,
}

/// A difference that is not one to this view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the difference is to another view of the board: open the board again")]
pub struct OtherView;

impl BoardView {
    /// What leads from this view to a later one of the same board.
    #[must_use]
    pub fn changes_to(&self, after: &Self) -> BoardChange {
        let mut change = BoardChange {
            from: self.state.clone(),
            state: after.state.clone(),
            version: after.version.clone(),
            undo: after.undo.clone(),
            redo: after.redo.clone(),
            site_name: other(&self.site_name, &after.site_name),
            follows: other(&self.follows, &after.follows),
            drawing: drawing_change(self.drawing.as_ref(), after.drawing.as_ref()),
            plates: list_change(&self.plates, &after.plates, |plate| plate.id),
            checks: checks_change(&self.checks, &after.checks),
            readings: other(&self.readings, &after.readings),
            currents: other(&self.currents, &after.currents),
            rows: list_change(&self.rows, &after.rows, |row| row.id),
            problems: list_change(&self.problems, &after.problems, |problem| {
                (&problem.path, problem.message.id(), problem.message.as_plain())
            }),
            conflicts: other(&self.conflicts, &after.conflicts),
            ..BoardChange::default()
        };
        board_change(&self.board, &after.board, &mut change);
        change
    }
}

impl BoardView<Value> {
    /// Makes this view what it became. Where that fails, the view is no longer one: open the board again.
    ///
    /// # Errors
    /// [`OtherView`] where the difference is not one to this view.
    pub fn apply(&mut self, change: BoardChange) -> Result<(), OtherView> {
        if change.from != self.state {
            return Err(OtherView);
        }
        if let Some(checks) = change.checks {
            self.checks = checks.rebuilt(&self.checks)?;
        }
        if let Some(plates) = change.plates {
            self.plates = plates.rebuilt(&self.plates)?;
        }
        if let Some(rows) = change.rows {
            self.rows = rows.rebuilt(&self.rows)?;
        }
        if let Some(problems) = change.problems {
            self.problems = problems.rebuilt(&self.problems)?;
        }
        for path in &change.gone {
            let (parent, key) = place(&mut self.board, path)?;
            parent.remove(&key).ok_or(OtherView)?;
        }
        for (path, value) in change.set {
            let (parent, key) = place(&mut self.board, &path)?;
            parent.insert(key, value);
        }
        match change.drawing {
            None => {}
            Some(DrawingChange::Gone) => self.drawing = None,
            Some(DrawingChange::Whole(drawing)) => self.drawing = Some(*drawing),
            Some(DrawingChange::Cells(cells)) => {
                let drawing = self.drawing.as_mut().ok_or(OtherView)?;
                for (number, cell) in cells {
                    *drawing.cells.get_mut(number as usize).ok_or(OtherView)? = cell;
                }
            }
        }
        put(&mut self.site_name, change.site_name);
        put(&mut self.follows, change.follows);
        put(&mut self.readings, change.readings);
        put(&mut self.currents, change.currents);
        put(&mut self.conflicts, change.conflicts);
        (self.undo, self.redo) = (change.undo, change.redo);
        (self.state, self.version) = (change.state, change.version);
        Ok(())
    }
}

fn other<T: PartialEq + Clone>(before: &T, after: &T) -> Option<T> {
    (before != after).then(|| after.clone())
}

fn put<T>(field: &mut T, new: Option<T>) {
    if let Some(new) = new {
        *field = new;
    }
}

/// The record that holds what a path names, and its key there.
fn place<'a>(board: &'a mut Value, path: &str) -> Result<(&'a mut Map<String, Value>, String), OtherView> {
    let (parent, key) = path.rsplit_once('/').ok_or(OtherView)?;
    let parent = board.pointer_mut(parent).and_then(Value::as_object_mut).ok_or(OtherView)?;
    Ok((parent, key.replace("~1", "/").replace("~0", "~")))
}

/// A list against what it was.
struct Compared<'a, T> {
    runs: Vec<Run>,
    /// What is new or another, each with the number of the old one of its key.
    fresh: Vec<(&'a T, Option<usize>)>,
}

fn number(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

/// Finds a list's items again in what it was; `None` where it is the same.
fn compared<'a, T: PartialEq, K: Ord>(
    before: &'a [T],
    after: &'a [T],
    key: impl Fn(&'a T) -> K,
) -> Option<Compared<'a, T>> {
    let mut places: Option<BTreeMap<K, Vec<usize>>> = None;
    let mut found = Compared { runs: Vec::new(), fresh: Vec::new() };
    // Mostly the next one is the next one of before.
    let mut next = 0;
    for item in after {
        let own = key(item);
        let old = if before.get(next).is_some_and(|old| key(old) == own) {
            Some(next)
        } else {
            let places = places.get_or_insert_with(|| {
                let mut places: BTreeMap<K, Vec<usize>> = BTreeMap::new();
                for (at, old) in before.iter().enumerate() {
                    places.entry(key(old)).or_default().push(at);
                }
                places
            });
            places.get(&own).and_then(|at| at.iter().find(|at| **at >= next).or(at.last())).copied()
        };
        if let Some(at) = old {
            next = at + 1;
        }
        match (old.filter(|at| before[*at] == *item), found.runs.last_mut()) {
            (Some(at), Some([from, kept, 0])) if *from + *kept == number(at) => *kept += 1,
            (Some(at), _) => found.runs.push([number(at), 1, 0]),
            (None, last) => {
                found.fresh.push((item, old));
                match last {
                    Some([_, _, fresh]) => *fresh += 1,
                    None => found.runs.push([0, 0, 1]),
                }
            }
        }
    }
    let same = match found.runs.as_slice() {
        [] => before.is_empty(),
        [only] => *only == [0, number(before.len()), 0],
        _ => false,
    };
    (!same).then_some(found)
}

/// Puts a list together from what it was and what is new.
fn rebuilt<T: Clone>(
    old: &[T],
    runs: &[Run],
    mut fresh: impl Iterator<Item = Result<T, OtherView>>,
) -> Result<Vec<T>, OtherView> {
    let mut list = Vec::with_capacity(old.len());
    for [from, kept, new] in runs.iter().map(|run| run.map(|number| number as usize)) {
        list.extend_from_slice(from.checked_add(kept).and_then(|to| old.get(from..to)).ok_or(OtherView)?);
        for _ in 0..new {
            list.push(fresh.next().ok_or(OtherView)??);
        }
    }
    Ok(list)
}

fn list_change<'a, T: PartialEq + Clone, K: Ord>(
    before: &'a [T],
    after: &'a [T],
    key: impl Fn(&'a T) -> K,
) -> Option<ListChange<T>> {
    let Compared { runs, fresh } = compared(before, after, key)?;
    Some(ListChange { runs, fresh: fresh.into_iter().map(|(item, _)| item.clone()).collect() })
}

impl<T: Clone> ListChange<T> {
    fn rebuilt(self, old: &[T]) -> Result<Vec<T>, OtherView> {
        rebuilt(old, &self.runs, self.fresh.into_iter().map(Ok))
    }
}

fn drawing_change(before: Option<&Drawing>, after: Option<&Drawing>) -> Option<DrawingChange> {
    if before == after {
        return None;
    }
    let Some(after) = after else { return Some(DrawingChange::Gone) };
    if let Some(before) = before.filter(|before| before.cells.len() == after.cells.len()) {
        let as_before = Drawing { cells: before.cells.clone(), ..after.clone() };
        if as_before == *before {
            let cells = before.cells.iter().zip(&after.cells).enumerate();
            let others = cells.filter(|(_, (old, new))| old != new).map(|(at, (_, new))| (number(at), new.clone()));
            return Some(DrawingChange::Cells(others.collect()));
        }
    }
    Some(DrawingChange::Whole(Box::new(after.clone())))
}

/// What new and changed checks rest on, each once.
#[derive(Default)]
struct Pool<'a> {
    inputs: Vec<&'a Input>,
    places: HashMap<&'a str, Vec<usize>>,
}

impl<'a> Pool<'a> {
    fn number(&mut self, input: &'a Input) -> usize {
        let places = self.places.entry(&input.path).or_default();
        if let Some(at) = places.iter().find(|at| self.inputs[**at] == input) {
            return *at;
        }
        places.push(self.inputs.len());
        self.inputs.push(input);
        self.inputs.len() - 1
    }
}

fn checks_change(before: &[Check], after: &[Check]) -> Option<ChecksChange> {
    let Compared { runs, fresh } = compared(before, after, |check| (check.subject, &*check.rule))?;
    let mut pool = Pool::default();
    let fresh = fresh
        .into_iter()
        .map(|(check, at)| {
            let old = at.map(|at| &before[at]);
            let olds: Vec<&Input> = old.iter().flat_map(|old| &old.inputs).collect();
            let news: Vec<&Input> = check.inputs.iter().collect();
            ChangedCheck {
                old: at.map(number),
                key: old.is_none().then(|| (check.rule.clone(), check.subject)),
                verdict: check.verdict,
                sentence: unlike(old.map(|old| &old.sentence), &check.sentence),
                inequality: unlike(old.map(|old| &old.inequality), &check.inequality),
                clause: unlike(old.map(|old| &old.clause), &check.clause),
                margin: check.margin,
                inputs: inputs_change(&olds, &news, &mut pool),
                next: unlike(old.map(|old| &old.next), &check.next),
                tables: unlike(old.map(|old| &old.tables), &check.tables),
            }
        })
        .collect();
    Some(ChecksChange { runs, inputs: pool.inputs.into_iter().cloned().collect(), fresh })
}

fn unlike<T: PartialEq + Clone>(old: Option<&T>, new: &T) -> Option<T> {
    (old != Some(new)).then(|| new.clone())
}

fn inputs_change<'a>(olds: &[&'a Input], news: &[&'a Input], pool: &mut Pool<'a>) -> Option<(Vec<Run>, Vec<usize>)> {
    let Compared { runs, fresh } = compared(olds, news, |input| &*input.path)?;
    Some((runs, fresh.into_iter().map(|(input, _)| pool.number(input)).collect()))
}

impl ChecksChange {
    fn rebuilt(self, old: &[Check]) -> Result<Vec<Check>, OtherView> {
        let inputs = self.inputs;
        let fresh = self.fresh.into_iter().map(|change| {
            let base = change.old.map(|at| old.get(at as usize).ok_or(OtherView)).transpose()?;
            let mut check = match (base, change.key) {
                (Some(base), _) => base.clone(),
                (None, Some((rule, subject))) => Check {
                    rule,
                    subject,
                    verdict: change.verdict,
                    sentence: Message::default(),
                    inequality: Message::default(),
                    clause: Message::default(),
                    margin: None,
                    inputs: Inputs::default(),
                    next: Vec::new(),
                    tables: Message::default(),
                },
                (None, None) => return Err(OtherView),
            };
            (check.verdict, check.margin) = (change.verdict, change.margin);
            put(&mut check.sentence, change.sentence);
            put(&mut check.inequality, change.inequality);
            put(&mut check.clause, change.clause);
            put(&mut check.next, change.next);
            put(&mut check.tables, change.tables);
            if let Some((runs, numbers)) = change.inputs {
                let own: Vec<Input> = check.inputs.iter().cloned().collect();
                let fresh = numbers.into_iter().map(|number| inputs.get(number).cloned().ok_or(OtherView));
                check.inputs = rebuilt(&own, &runs, fresh)?.into();
            }
            Ok(check)
        });
        rebuilt(old, &self.runs, fresh)
    }
}

/// Fields and records that differ. Records that are the same are not written to JSON.
fn board_change(before: &Board, after: &Board, change: &mut BoardChange) {
    macro_rules! fields {
        (plain: $($plain:ident),+; records: $($records:ident),+) => {
            // Whoever adds a field to the board is told here.
            let Board { $($plain: _,)+ $($records: _),+ } = after;
            $(
                if before.$plain != after.$plain {
                    differ(concat!("/", stringify!($plain)), &json(&before.$plain), &json(&after.$plain), change);
                }
            )+
            $(
                for (id, new) in &after.$records {
                    let old = before.$records.get(id);
                    if old != Some(new) {
                        let path = format!(concat!("/", stringify!($records), "/{}"), id);
                        match old {
                            Some(old) => differ(&path, &json(old), &json(new), change),
                            None => change.set.push((path, json(new))),
                        }
                    }
                }
                for id in before.$records.keys().filter(|id| !after.$records.contains_key(*id)) {
                    change.gone.push(format!(concat!("/", stringify!($records), "/{}"), id));
                }
            )+
        };
    }
    fields! {
        plain: model, id, site, reference, place, stage, removed, supply, enclosure, incomer, surroundings, housing;
        records: devices, circuits, cables, plates, photos, observations, notes, settled
    }
}

fn json(value: &impl Serialize) -> Value {
    // A view that cannot be written fails where it is written.
    serde_json::to_value(value).unwrap_or_default()
}

/// Notes where two values differ. A surveyed value is one, as in the document.
fn differ(path: &str, before: &Value, after: &Value, change: &mut BoardChange) {
    let (Value::Object(old), Value::Object(new)) = (before, after) else {
        if before != after {
            change.set.push((path.to_owned(), after.clone()));
        }
        return;
    };
    if old.contains_key("known") || new.contains_key("known") {
        if old != new {
            change.set.push((path.to_owned(), after.clone()));
        }
        return;
    }
    let below = |key: &str| format!("{path}/{}", key.replace('~', "~0").replace('/', "~1"));
    for (key, value) in new {
        match old.get(key) {
            Some(old) => differ(&below(key), old, value, change),
            None => change.set.push((below(key), value.clone())),
        }
    }
    change.gone.extend(old.keys().filter(|key| !new.contains_key(*key)).map(|key| below(key)));
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

    use super::*;

    /// Every list of up to four of these, which share keys (the first letter) and repeat.
    fn lists() -> Vec<Vec<&'static str>> {
        let mut all = vec![Vec::new()];
        let mut from = 0;
        for _ in 0..4 {
            let to = all.len();
            for at in from..to {
                for one in ["a1", "a2", "b1", "c1"] {
                    let mut longer: Vec<&str> = all[at].clone();
                    longer.push(one);
                    all.push(longer);
                }
            }
            from = to;
        }
        all
    }

    #[test]
    fn every_list_comes_of_every_other() {
        let all = lists();
        assert_eq!(all.len(), 341);
        for before in &all {
            for after in &all {
                let change = list_change(before, after, |item| &item[..1]);
                assert_eq!(change.is_none(), before == after, "{before:?} {after:?}");
                let Some(change) = change else { continue };
                let fresh: u32 = change.runs.iter().map(|run| run[2]).sum();
                assert_eq!(fresh as usize, change.fresh.len());
                assert_eq!(&change.rebuilt(before).unwrap(), after, "{before:?}");
            }
        }
    }

    #[test]
    fn what_stayed_is_not_sent() {
        let before: Vec<u32> = (0..100).collect();
        let mut after = before.clone();
        after[40] = 1040;
        after.swap(3, 80);
        after.remove(60);
        let change = list_change(&before, &after, |item| item % 1000).unwrap();
        assert_eq!(change.fresh, [1040]);
        assert_eq!(change.rebuilt(&before).unwrap(), after);
    }

    #[test]
    fn runs_that_are_not_of_the_list_are_refused() {
        for runs in
            [vec![[0, 4, 0]], vec![[u32::MAX, u32::MAX, 0]], vec![[4, 0, 0]], vec![[0, 0, 2]], vec![[0, 0, u32::MAX]]]
        {
            let change = ListChange { runs: runs.clone(), fresh: vec![9] };
            assert_eq!(change.rebuilt(&[1, 2, 3]), Err(OtherView), "{runs:?}");
        }
    }

    #[test]
    fn paths_of_changed_fields_lead_where_they_should() {
        let before = serde_json::json!({"a/b": {"x~": 1, "gone": 2}, "r": {"known": "label", "value": 1}, "l": [1, 2]});
        let after = serde_json::json!({"a/b": {"x~": 3, "new": null}, "r": {"known": "unknown"}, "l": [2]});
        let mut change = BoardChange::default();
        differ("", &before, &after, &mut change);
        let mut board = before;
        for path in &change.gone {
            let (parent, key) = place(&mut board, path).unwrap();
            parent.remove(&key).unwrap();
        }
        for (path, value) in change.set {
            let (parent, key) = place(&mut board, &path).unwrap();
            parent.insert(key, value);
        }
        assert_eq!(board, after);
    }
}
