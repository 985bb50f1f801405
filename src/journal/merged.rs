//! The events of one case out of several chains, as one history. In: events in whatever order they arrived, each with the
//! events of its case that its author saw. Out: the same events in one order that every server comes to, what is missing,
//! and where one chain says two things under one number.
//!
//! An event has the place of its own time, but never before one that its author saw. That depends on the event and on what
//! it follows alone, so one that arrives later is put in, and moves no two others.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use crate::quantity::Moment;

use super::event::Event;
use super::head::Hash;

/// An event of a case, as far as its place is concerned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChainEvent {
    /// The chain that it is in.
    pub journal: String,
    /// Its number there.
    pub seq: u64,
    /// The SHA-256 of its bytes.
    pub hash: Hash,
    /// The last events of its case that its author saw. The event before it in its own chain is among them unsaid.
    pub follows: Vec<Hash>,
    /// What its author's clock said.
    pub at: Moment,
}

/// One chain says two things under one number: somebody wrote it at two places, or changed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SecondHash {
    /// The chain.
    pub journal: String,
    /// The number.
    pub seq: u64,
    /// Every hash that is there under it.
    pub hashes: BTreeSet<Hash>,
}

/// One history of a case.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CaseHistory {
    /// Every event once.
    pub events: Vec<ChainEvent>,
    /// Those that no other follows. Where there is more than one, their authors did not see each other, and the next event
    /// follows all of them.
    pub heads: Vec<Hash>,
    /// What an author saw and is not here yet.
    pub missing: BTreeSet<Hash>,
    /// Chains that are not to be believed from a number on. Their events are in the history all the same: nothing is lost
    /// before somebody has looked at it.
    pub second_hashes: Vec<SecondHash>,
}

impl From<&Event> for ChainEvent {
    fn from(event: &Event) -> Self {
        let envelope = event.envelope();
        Self {
            journal: envelope.journal.clone(),
            seq: envelope.seq,
            hash: event.hash(),
            follows: envelope.follows.clone(),
            at: event.at(),
        }
    }
}

/// The place of an event: its time and no earlier than any that it follows, how many come before it in a row, and then
/// what tells any two events apart.
type PlaceInTime<'e> = (i64, u64, &'e str, u64, Hash);

/// Merges the events of one case out of any number of chains. The same events give the same history, in whatever order and
/// however often they arrive.
pub fn merge_chains(events: impl IntoIterator<Item = ChainEvent>) -> CaseHistory {
    let mut known: BTreeMap<(String, u64), BTreeMap<Hash, ChainEvent>> = BTreeMap::new();
    for event in events {
        known.entry((event.journal.clone(), event.seq)).or_default().insert(event.hash, event);
    }
    let second_hashes = known.iter().filter(|(_, under)| under.len() > 1).map(|((journal, seq), under)| SecondHash {
        journal: journal.clone(),
        seq: *seq,
        hashes: under.keys().copied().collect(),
    });
    let second_hashes = second_hashes.collect();
    let before = what_comes_before(&known);
    let all: HashMap<Hash, &ChainEvent> = known.values().flatten().map(|(hash, event)| (*hash, event)).collect();
    let missing = before.values().flatten().filter(|hash| !all.contains_key(hash)).copied().collect();
    let followed: HashSet<Hash> = before.values().flatten().copied().collect();
    let places = places(&all, &before);
    let mut events: Vec<&ChainEvent> = all.values().copied().collect();
    events.sort_by(|one, other| place(one, &places).cmp(&place(other, &places)));
    let heads = events.iter().map(|event| event.hash).filter(|hash| !followed.contains(hash)).collect();
    CaseHistory { events: events.into_iter().cloned().collect(), heads, missing, second_hashes }
}

/// What each event follows: what it says, and the event of its case before it in its own chain.
fn what_comes_before(known: &BTreeMap<(String, u64), BTreeMap<Hash, ChainEvent>>) -> HashMap<Hash, BTreeSet<Hash>> {
    let mut before: HashMap<Hash, BTreeSet<Hash>> = HashMap::new();
    let mut previous: Option<(&str, Vec<Hash>)> = None;
    for ((journal, _), under) in known {
        let own = previous.filter(|(chain, _)| chain == journal).map(|(_, hashes)| hashes).unwrap_or_default();
        for (hash, event) in under {
            before.insert(*hash, own.iter().chain(&event.follows).copied().collect());
        }
        previous = Some((journal, under.keys().copied().collect()));
    }
    before
}

/// The time of each event, in seconds, and how many come before it in a row; from those that follow nothing on.
fn places(all: &HashMap<Hash, &ChainEvent>, before: &HashMap<Hash, BTreeSet<Hash>>) -> HashMap<Hash, (i64, u64)> {
    let epoch = Moment::parse("1970-01-01T00:00:00Z").expect("it is a moment");
    let mut waits_for: HashMap<Hash, usize> = HashMap::new();
    let mut after: HashMap<Hash, Vec<Hash>> = HashMap::new();
    for hash in all.keys() {
        let here: Vec<Hash> = before[hash].iter().filter(|one| all.contains_key(one)).copied().collect();
        waits_for.insert(*hash, here.len());
        here.into_iter().for_each(|one| after.entry(one).or_default().push(*hash));
    }
    let own = |event: &ChainEvent| (event.at.seconds_since(epoch), 0);
    let mut places: HashMap<Hash, (i64, u64)> = all.iter().map(|(hash, event)| (*hash, own(event))).collect();
    let mut ready: Vec<Hash> = waits_for.iter().filter(|(_, count)| **count == 0).map(|(hash, _)| *hash).collect();
    while let Some(done) = ready.pop() {
        let (at, depth) = places[&done];
        for next in after.get(&done).into_iter().flatten() {
            let place = places.entry(*next).or_insert((at, 0));
            *place = (place.0.max(at), place.1.max(depth + 1));
            let waits = waits_for.entry(*next).or_default();
            *waits -= 1;
            if *waits == 0 {
                ready.push(*next);
            }
        }
    }
    places
}

fn place<'e>(event: &'e ChainEvent, places: &HashMap<Hash, (i64, u64)>) -> PlaceInTime<'e> {
    let (at, depth) = places[&event.hash];
    (at, depth, &event.journal, event.seq, event.hash)
}

#[cfg(test)]
mod tests;
