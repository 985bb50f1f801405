//! Proves where an event is read that this journal accepted it, and that none of its group is missing. In: events and
//! the store's tag key. Out: tags beside the events, and for each group (all, a case, a kind) how many there are and the
//! last of them.
//!
//! Without the store key no tag can be made: an event that was changed, moved or put in is found by its own tag, one that
//! was taken out by the head of its group. An older copy of the whole file still proves itself; only a head kept
//! elsewhere reveals that.

use std::collections::BTreeMap;

use rusqlite::{Connection, OptionalExtension as _, Transaction};

use super::event::{Event, EventRow};
use super::head::{Hash, Head};
use super::keys::Keys;
use super::{JournalError, Of};

/// How many events a group has, and its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct GroupHead {
    pub(super) events: u64,
    pub(super) last: Head,
}

/// The head of every group, as the events themselves make it.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct GroupHeads(BTreeMap<String, GroupHead>);

impl GroupHeads {
    pub(super) fn take(&mut self, event: &Event) {
        for of in groups(event) {
            let head = self.0.entry(name(of)).or_insert(GroupHead { events: 0, last: event.head() });
            *head = GroupHead { events: head.events + 1, last: event.head() };
        }
    }

    pub(super) fn write(&self, transaction: &Transaction<'_>, keys: &Keys) -> Result<(), JournalError> {
        self.0.iter().try_for_each(|(group, head)| put_head(transaction, keys, group, *head))
    }

    /// What the database keeps of every group differs from these: the name of the first that does, and why.
    pub(super) fn differs(&self, view: &Connection, keys: &Keys) -> Result<Option<(String, String)>, JournalError> {
        let mut kept = view.prepare("SELECT name FROM group_head ORDER BY name")?;
        let kept: Vec<String> = kept.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
        for group in kept.iter().chain(self.0.keys()) {
            let why = match (self.0.get(group), head_of(view, keys, group)?) {
                (Some(found), Some(kept)) if *found == kept => continue,
                (found, Some(kept)) => {
                    let there = found.map_or(0, |found| found.events);
                    format!(
                        "{} events were written, the last as event {}, and {there} are there",
                        kept.events, kept.last.seq
                    )
                }
                (_, None) => "its head is missing".to_owned(),
            };
            return Ok(Some((group.clone(), why)));
        }
        Ok(None)
    }
}

/// The group in which an event has its number: its case, or all that is about no case.
pub(super) fn group_of<'a>(scope: Option<&'a str>) -> Of<'a> {
    scope.map_or(Of::Unscoped, Of::Scope)
}

/// The head of a group, held against its tag; none where nothing was written in it.
pub(super) fn head(connection: &Connection, keys: &Keys, of: Of<'_>) -> Result<Option<GroupHead>, JournalError> {
    head_of(connection, keys, &name(of))
}

/// Writes the tag of a new event, and the heads of its groups.
pub(super) fn append(transaction: &Transaction<'_>, keys: &Keys, event: &Event) -> Result<(), JournalError> {
    add_tag(transaction, keys, event.head())?;
    for of in groups(event) {
        let before = head(transaction, keys, of)?.map_or(0, |head| head.events);
        put_head(transaction, keys, &name(of), GroupHead { events: before + 1, last: event.head() })?;
    }
    Ok(())
}

/// Whether a row carries the tag of this journal for this number and this hash.
pub(super) fn is_tagged(row: &EventRow, hash: Hash, keys: &Keys) -> bool {
    let head = Head { seq: row.seq, hash };
    row.tag.as_ref().is_some_and(|tag| keys.is_proof(&event_bytes(head), tag))
}

/// None of a group is missing: as many events as were written, and the last of them.
pub(super) fn is_whole(connection: &Connection, keys: &Keys, of: Of<'_>, events: &[Event]) -> Result<(), JournalError> {
    let written = head(connection, keys, of)?;
    let last = events.last().map(Event::head);
    let count = u64::try_from(events.len()).unwrap_or(u64::MAX);
    if written.map(|head| (head.events, Some(head.last))) == (count > 0).then_some((count, last)) {
        return Ok(());
    }
    let why = match written {
        None => "the count of its events is missing".to_owned(),
        Some(head) => match first_gap(events) {
            Some((before, after)) => format!(
                "{} events were written and {count} are there: one between event {before} and event {after} is missing",
                head.events
            ),
            None => format!(
                "{} events were written, the last as event {}, and {count} are there",
                head.events, head.last.seq
            ),
        },
    };
    Err(JournalError::EventsMissing { group: in_words(of), why })
}

/// Every group that an event belongs to.
fn groups(event: &Event) -> [Of<'_>; 3] {
    [Of::All, group_of(event.scope()), Of::Kind(event.kind())]
}

fn name(of: Of<'_>) -> String {
    match of {
        Of::All => "all".to_owned(),
        Of::Unscoped => "about no case".to_owned(),
        Of::Scope(scope) => format!("case {scope}"),
        Of::Kind(kind) => format!("kind {kind}"),
    }
}

fn in_words(of: Of<'_>) -> String {
    match of {
        Of::All => "the journal".to_owned(),
        Of::Unscoped => "the journal outside its cases".to_owned(),
        Of::Scope(scope) => format!("case {scope}"),
        Of::Kind(kind) => format!("the events `{kind}`"),
    }
}

/// The neighbours of the first event that is missing inside a group, where the events say their numbers.
fn first_gap(events: &[Event]) -> Option<(u64, u64)> {
    events.windows(2).find_map(|pair| {
        let (before, after) = (pair[0].number()?, pair[1].number()?);
        (before + 1 != after).then_some((pair[0].seq(), pair[1].seq()))
    })
}

fn event_bytes(head: Head) -> Vec<u8> {
    [b"event\0", &head.seq.to_be_bytes()[..], head.hash.as_bytes()].concat()
}

fn head_bytes(group: &str, head: GroupHead) -> Vec<u8> {
    let GroupHead { events, last } = head;
    [b"head\0", group.as_bytes(), b"\0", &events.to_be_bytes()[..], &last.seq.to_be_bytes()[..], last.hash.as_bytes()]
        .concat()
}

pub(super) fn add_tag(transaction: &Transaction<'_>, keys: &Keys, head: Head) -> Result<(), JournalError> {
    let mut insert = transaction.prepare_cached("INSERT INTO proof (seq, tag) VALUES (?1, ?2)")?;
    insert.execute((signed(head.seq)?, keys.proof(&event_bytes(head))))?;
    Ok(())
}

fn put_head(transaction: &Transaction<'_>, keys: &Keys, group: &str, head: GroupHead) -> Result<(), JournalError> {
    let sql = "INSERT OR REPLACE INTO group_head (name, events, seq, hash, tag) VALUES (?1, ?2, ?3, ?4, ?5)";
    let tag = keys.proof(&head_bytes(group, head));
    let (events, seq) = (signed(head.events)?, signed(head.last.seq)?);
    transaction.prepare_cached(sql)?.execute((group, events, seq, head.last.hash.as_bytes(), tag))?;
    Ok(())
}

fn head_of(connection: &Connection, keys: &Keys, group: &str) -> Result<Option<GroupHead>, JournalError> {
    let sql = "SELECT events, seq, hash, tag FROM group_head WHERE name = ?1";
    let mut select = connection.prepare_cached(sql)?;
    let kept = select.query_row([group], |row| {
        let (events, seq): (i64, i64) = (row.get(0)?, row.get(1)?);
        Ok((events, seq, row.get::<_, [u8; 32]>(2)?, row.get::<_, Vec<u8>>(3)?))
    });
    let Some((events, seq, hash, tag)) = kept.optional()? else { return Ok(None) };
    let changed = || JournalError::EventsMissing {
        group: format!("`{group}`"),
        why: "the count of its events was changed".to_owned(),
    };
    let (events, seq) = (u64::try_from(events).map_err(|_| changed())?, u64::try_from(seq).map_err(|_| changed())?);
    let head = GroupHead { events, last: Head { seq, hash: Hash(hash) } };
    if keys.is_proof(&head_bytes(group, head), &tag) { Ok(Some(head)) } else { Err(changed()) }
}

/// SQLite's numbers have a sign.
fn signed(number: u64) -> Result<i64, JournalError> {
    i64::try_from(number).map_err(|_| JournalError::Damaged { why: "its numbers are used up".to_owned() })
}
