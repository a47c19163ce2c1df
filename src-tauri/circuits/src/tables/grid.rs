//! Rows found by their place: what is looked up for every circuit is not searched for.

use std::collections::BTreeMap;

/// A value, or none, at each place.
#[derive(Clone, Debug)]
pub(super) struct Grid<V>(Vec<Option<V>>);

impl<V> Default for Grid<V> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<V> Grid<V> {
    /// The rows of a map, each at the place of its key.
    pub(super) fn of<K>(rows: BTreeMap<K, V>, place: impl Fn(&K) -> usize) -> Self {
        let mut found = Vec::new();
        for (key, value) in rows {
            let place = place(&key);
            if place >= found.len() {
                found.resize_with(place + 1, || None);
            }
            found[place] = Some(value);
        }
        Self(found)
    }

    pub(super) fn get(&self, place: usize) -> Option<&V> {
        self.0.get(place)?.as_ref()
    }
}
