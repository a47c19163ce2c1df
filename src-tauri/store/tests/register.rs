//! Random edits on three stores against a plain multi-value register: every value that nobody has
//! knowingly replaced is there, and no other.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::collections::{BTreeMap, BTreeSet};

use common::*;
use proptest::prelude::*;
use serde_json::Value;
use store::Store;

#[derive(Clone, Debug)]
enum Step {
    Write { store: usize, field: usize, value: u8 },
    Send { from: usize, to: usize },
    Settle { store: usize, pick: usize },
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => (0..3_usize, 0..4_usize, 0..3_u8).prop_map(|(store, field, value)| Step::Write { store, field, value }),
        4 => (0..3_usize, 1..3_usize).prop_map(|(from, by)| Step::Send { from, to: (from + by) % 3 }),
        1 => (0..3_usize, 0..3_usize).prop_map(|(store, pick)| Step::Settle { store, pick }),
    ]
}

fn fields() -> [String; 4] {
    ["/place".to_owned(), "/reference".to_owned(), circuit("description"), circuit("number")]
}

#[derive(Clone)]
struct Write {
    field: usize,
    value: String,
    /// Writes its author knew of.
    seen: BTreeSet<usize>,
}

/// A register that keeps every value not yet replaced by someone who had seen it.
#[derive(Default)]
struct Model {
    writes: Vec<Write>,
    known: [BTreeSet<usize>; 3],
}

impl Model {
    fn standing(&self, store: usize, field: usize) -> BTreeSet<String> {
        let known: Vec<usize> =
            self.known[store].iter().copied().filter(|write| self.writes[*write].field == field).collect();
        let replaced = |write: &usize| known.iter().any(|other| self.writes[*other].seen.contains(write));
        known.iter().filter(|write| !replaced(write)).map(|write| self.writes[*write].value.clone()).collect()
    }

    fn write(&mut self, store: usize, field: usize, value: &str) {
        if self.standing(store, field).iter().eq([value]) {
            return;
        }
        self.writes.push(Write { field, value: value.to_owned(), seen: self.known[store].clone() });
        self.known[store].insert(self.writes.len() - 1);
    }
}

fn standing(store: &mut Store) -> BTreeMap<String, BTreeSet<String>> {
    let read = store.board(BOARD).unwrap();
    let json = serde_json::to_value(&read.board).unwrap();
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    fields()
        .into_iter()
        .map(|field| {
            let conflict = read.conflicts.iter().find(|conflict| conflict.path == field);
            let values = match conflict {
                Some(conflict) => conflict.values.iter().map(|value| text(&value.json)).collect(),
                None => BTreeSet::from([text(json.pointer(&field).unwrap())]),
            };
            (field, values)
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn stores_agree_with_a_plain_register(steps in prop::collection::vec(step(), 1..30)) {
        let mut stores = [memory(1), memory(2), memory(3)];
        let mut model = Model::default();
        create(&mut stores[0], &board(1));
        for to in 1..3 {
            let (first, rest) = stores.split_at_mut(1);
            send(&mut first[0], &mut rest[to - 1]);
        }
        for (field, value) in ["press hall", "PH-DB1", "socket 0", ""].iter().enumerate() {
            model.write(0, field, value);
        }
        model.known = [model.known[0].clone(), model.known[0].clone(), model.known[0].clone()];
        let fields = fields();
        for step in steps {
            match step {
                Step::Write { store, field, value } => {
                    let value = format!("value {value}");
                    set(&mut stores[store], fields[field].clone(), value.clone());
                    model.write(store, field, &value);
                }
                Step::Send { from, to } => {
                    let [one, two] = stores.get_disjoint_mut([from, to]).unwrap();
                    send(one, two);
                    let sent = model.known[from].clone();
                    model.known[to].extend(sent);
                }
                Step::Settle { store, pick } => {
                    let conflicts = stores[store].board(BOARD).unwrap().conflicts;
                    if let Some(conflict) = conflicts.first() {
                        let value = &conflict.values[pick % conflict.values.len()];
                        stores[store].settle("office", BOARD, &conflict.path, &value.pick_id).unwrap();
                        let field = fields.iter().position(|field| *field == conflict.path).unwrap();
                        model.write(store, field, value.json.as_str().unwrap());
                    }
                }
            }
            for (index, store) in stores.iter_mut().enumerate() {
                let expected: BTreeMap<String, BTreeSet<String>> = fields
                    .iter()
                    .enumerate()
                    .map(|(field, path)| (path.clone(), model.standing(index, field)))
                    .collect();
                prop_assert_eq!(standing(store), expected, "store {}", index);
                prop_assert!(is_current(store));
            }
        }
        // Once all is sent round, all hold the same and show the same.
        for (from, to) in [(0, 1), (1, 2), (2, 0), (0, 1)] {
            let [one, two] = stores.get_disjoint_mut([from, to]).unwrap();
            send(one, two);
        }
        let [one, two, three] = &mut stores;
        let version = |store: &mut Store| { let read = store.board(BOARD).unwrap(); (read.board, read.conflicts, read.version) };
        prop_assert_eq!(version(one), version(two));
        prop_assert_eq!(version(two), version(three));
    }
}
