//! Caches rendered fragments. An entry is valid for one journal head and one second, so nothing stale is
//! shown: a new event or a new second empties the cache.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::quantity::Moment;

use super::site::locked;

/// A place for one drawing: one request draws, and others that want the same wait for it.
pub(super) type Cell = Arc<tokio::sync::Mutex<Option<String>>>;

/// From which journal and when: the number of its last event, and the moment.
type Stamp = (u64, Moment);

#[derive(Debug, Default)]
pub(super) struct FragmentCache(Mutex<(Option<Stamp>, HashMap<String, Cell>)>);

impl FragmentCache {
    /// Something else has changed that drawings follow from.
    pub(super) fn forget(&self) {
        locked(&self.0).1.clear();
    }

    /// The place for what a key names, as things are by this stamp.
    pub(super) fn cell(&self, head: u64, now: Moment, key: String) -> Cell {
        let mut kept = locked(&self.0);
        let (stamp, cells) = &mut *kept;
        if !stamp.is_some_and(|(known, at)| known == head && at.seconds_since(now) == 0) {
            *stamp = Some((head, now));
            cells.clear();
        }
        Arc::clone(cells.entry(key).or_default())
    }
}
