//! Events out of the database, in order, each held against its own hash, its columns and its tag, and a group of them
//! against its head.

use rusqlite::{Connection, Params};

use super::event::{Event, EventRow};
use super::head::Hash;
use super::keys::Keys;
use super::{JournalError, proof};

/// Which events.
#[derive(Debug, Clone, Copy)]
pub enum Of<'a> {
    /// Every one.
    All,
    /// Those about this.
    Scope(&'a str),
    /// Those about nothing in particular.
    Unscoped,
    /// Those of this kind.
    Kind(&'a str),
}

const ROWS: &str =
    "SELECT seq, kind, scope, introduces, bytes, hash, signature, tag FROM event LEFT JOIN proof USING (seq)";

/// Every event of a group. None was changed, and none is missing.
pub(super) fn events(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    of: Of<'_>,
) -> Result<Vec<Event>, JournalError> {
    let select =
        |which: &str, with: &[&str]| select(connection, journal, keys, which, rusqlite::params_from_iter(with));
    let events = match of {
        Of::All => select("true", &[]),
        Of::Scope(scope) => select("scope = ?1", &[scope]),
        Of::Unscoped => select("scope IS NULL", &[]),
        Of::Kind(kind) => select("kind = ?1", &[kind]),
    }?;
    proof::is_whole(connection, keys, of, &events)?;
    Ok(events)
}

/// The last event. There is always one: the first is written with the journal.
pub(super) fn last(connection: &Connection, journal: &str, keys: &Keys) -> Result<Event, JournalError> {
    let last = select(connection, journal, keys, "seq = (SELECT max(seq) FROM event)", [])?.pop();
    let last = last.ok_or_else(|| JournalError::Damaged { why: "it has no events".to_owned() })?;
    match proof::head(connection, keys, Of::All)? {
        Some(head) if head.last == last.head() && head.events == last.seq() => Ok(last),
        head => {
            let written = head.map_or(0, |head| head.events);
            let why = format!("{written} events were written, and it ends with event {}", last.seq());
            Err(JournalError::EventsMissing { group: "the journal".to_owned(), why })
        }
    }
}

/// The event of this number, if there is one.
pub(super) fn event(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    seq: u64,
) -> Result<Option<Event>, JournalError> {
    let seq = i64::try_from(seq).unwrap_or(i64::MAX);
    Ok(select(connection, journal, keys, "seq = ?1", [seq])?.pop())
}

/// Hands on the events of a kind from the newest back, from before this number where one is given, until `take` has
/// enough. The newest of all is held against its group.
pub(super) fn newest(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    kind: &str,
    before: Option<u64>,
    mut take: impl FnMut(Event) -> bool,
) -> Result<(), JournalError> {
    let below = before.map_or(i64::MAX, |before| i64::try_from(before).unwrap_or(i64::MAX));
    let mut statement = connection.prepare_cached(&format!("{ROWS} WHERE kind = ?1 AND seq < ?2 ORDER BY seq DESC"))?;
    let mut rows = statement.query((kind, below))?;
    let mut expected = match before {
        None => Some(proof::head(connection, keys, Of::Kind(kind))?.map(|head| head.last)),
        Some(_) => None,
    };
    loop {
        let event = rows.next()?.map(of_database).transpose()?.map(|row| proved(row, journal, keys)).transpose()?;
        if let Some(written) = expected.take()
            && written != event.as_ref().map(Event::head)
        {
            let why = match written {
                Some(head) => format!("the last was written as event {}, and it is not there", head.seq),
                None => "the count of them is missing".to_owned(),
            };
            return Err(JournalError::EventsMissing { group: format!("the events `{kind}`"), why });
        }
        if !event.is_some_and(&mut take) {
            return Ok(());
        }
    }
}

/// The event that introduced this signer, the last where there are more.
pub(super) fn introducing(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    id: &str,
) -> Result<Option<Event>, JournalError> {
    Ok(select(connection, journal, keys, "introduces = ?1", [id])?.pop())
}

/// Every event up to one that introduced a signer, in order.
pub(super) fn introductions(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    upto: u64,
) -> Result<Vec<Event>, JournalError> {
    let upto = i64::try_from(upto).unwrap_or(i64::MAX);
    select(connection, journal, keys, "introduces IS NOT NULL AND seq <= ?1", [upto])
}

/// The event of a row, which this journal accepted under this number.
pub(super) fn proved(row: EventRow, journal: &str, keys: &Keys) -> Result<Event, JournalError> {
    let seq = row.seq;
    let is_tagged = proof::is_tagged(&row, Hash::of(&row.bytes), keys);
    let event = Event::of_row(row, journal).map_err(|why| JournalError::EventDamaged { seq, why })?;
    if is_tagged {
        return Ok(event);
    }
    Err(JournalError::EventDamaged { seq, why: "this journal did not write it so: its tag does not fit".to_owned() })
}

/// The first row as it is, if there is any.
pub(super) fn first_row(connection: &Connection) -> Result<Option<EventRow>, JournalError> {
    let mut statement = connection.prepare(&format!("{ROWS} ORDER BY seq LIMIT 1"))?;
    let mut rows = statement.query([])?;
    rows.next()?.map(of_database).transpose()
}

/// Hands on every row in order, until one is refused.
pub(super) fn each_row<E: From<JournalError>>(
    connection: &Connection,
    take: impl FnMut(EventRow) -> Result<(), E>,
) -> Result<(), E> {
    each_row_after(connection, i64::MIN, take)
}

/// The same after the event of this number.
pub(super) fn each_row_after<E: From<JournalError>>(
    connection: &Connection,
    after: i64,
    mut take: impl FnMut(EventRow) -> Result<(), E>,
) -> Result<(), E> {
    let sql = format!("{ROWS} WHERE seq > ?1 ORDER BY seq");
    let mut statement = connection.prepare(&sql).map_err(JournalError::from)?;
    let mut rows = statement.query([after]).map_err(JournalError::from)?;
    while let Some(row) = rows.next().map_err(JournalError::from)? {
        take(of_database(row)?)?;
    }
    Ok(())
}

fn select(
    connection: &Connection,
    journal: &str,
    keys: &Keys,
    which: &str,
    with: impl Params,
) -> Result<Vec<Event>, JournalError> {
    let mut statement = connection.prepare_cached(&format!("{ROWS} WHERE {which} ORDER BY seq"))?;
    let mut rows = statement.query(with)?;
    let mut events = Vec::new();
    while let Some(row) = rows.next()? {
        events.push(proved(of_database(row)?, journal, keys)?);
    }
    Ok(events)
}

fn of_database(row: &rusqlite::Row<'_>) -> Result<EventRow, JournalError> {
    let seq: i64 = row.get(0)?;
    let seq =
        u64::try_from(seq).map_err(|_| JournalError::Damaged { why: format!("an event has the number {seq}") })?;
    let damaged = |error: rusqlite::Error| JournalError::EventDamaged { seq, why: error.to_string() };
    Ok(EventRow {
        seq,
        kind: row.get(1).map_err(damaged)?,
        scope: row.get(2).map_err(damaged)?,
        introduces: row.get(3).map_err(damaged)?,
        bytes: row.get(4).map_err(damaged)?,
        hash: row.get(5).map_err(damaged)?,
        signature: row.get(6).map_err(damaged)?,
        tag: row.get(7).map_err(damaged)?,
    })
}
