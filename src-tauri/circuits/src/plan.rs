//! What to read next on a whole board, and what a change does to its checks.

use std::collections::BTreeMap;

use survey::{Check, Subject, Verdict};

/// A reading worth taking.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Path of the field in the board.
    pub path: String,
    /// What to measure or read.
    pub what: String,
    /// Undecided ranges it removes, summed over checks: 1.0 is one check's whole range.
    pub settles: f64,
    /// Undecided checks it helps.
    pub checks: usize,
}

/// The readings that settle the most of a board's undecided checks, most useful first.
#[must_use]
pub fn readings(checks: &[Check], most: usize) -> Vec<Reading> {
    let mut by_path: BTreeMap<&str, Reading> = BTreeMap::new();
    for next in checks.iter().filter(|check| check.verdict == Verdict::Undecided).flat_map(|check| &check.next) {
        let reading = by_path.entry(&next.path).or_insert_with(|| Reading {
            path: next.path.to_string(),
            what: next.what.to_string(),
            settles: 0.0,
            checks: 0,
        });
        reading.settles += next.settles;
        reading.checks += 1;
    }
    let mut found: Vec<Reading> = by_path.into_values().collect();
    found.sort_by(|a, b| b.settles.total_cmp(&a.settles).then_with(|| a.path.cmp(&b.path)));
    found.truncate(most);
    found
}

/// A check whose verdict or numbers a change moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What it speaks of.
    pub subject: Subject,
    /// Which rule.
    pub rule: String,
    /// As it stands; `None` where the rule had nothing to say.
    pub before: Option<Check>,
    /// As it would be; `None` where the rule no longer has anything to say.
    pub after: Option<Check>,
}

impl Change {
    /// True where the verdict is another, not only the numbers.
    #[must_use]
    pub fn turns(&self) -> bool {
        self.before.as_ref().map(|check| check.verdict) != self.after.as_ref().map(|check| check.verdict)
    }
}

/// What a change does: checks of the board as it would be against those of the board as it is.
/// Nothing is stored. Checks that read the same on both sides are left out.
#[must_use]
pub fn changes(before: &[Check], after: &[Check]) -> Vec<Change> {
    let key = |check: &Check| (check.subject, check.rule.clone());
    let old: BTreeMap<_, &Check> = before.iter().map(|check| (key(check), check)).collect();
    let new: BTreeMap<_, &Check> = after.iter().map(|check| (key(check), check)).collect();
    let gone = before.iter().filter(|check| !new.contains_key(&key(check))).map(|check| (check, None));
    let kept = after.iter().map(|check| (check, Some(check)));
    kept.chain(gone)
        .filter_map(|(check, after)| {
            let before = old.get(&key(check)).copied();
            let same = before.zip(after).is_some_and(|(a, b)| a.verdict == b.verdict && a.inequality == b.inequality);
            (!same).then(|| Change {
                subject: check.subject,
                rule: check.rule.to_string(),
                before: before.cloned(),
                after: after.cloned(),
            })
        })
        .collect()
}
