//! Events out of the database, in order, each held against its own hash and columns.

use rusqlite::{Connection, Params};

use super::JournalError;
use super::event::{Event, Row};

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

const COLUMNS: &str = "seq, kind, scope, introduces, bytes, hash, signature";

pub(super) fn events(connection: &Connection, journal: &str, of: Of<'_>) -> Result<Vec<Event>, JournalError> {
    match of {
        Of::All => select(connection, journal, "true", []),
        Of::Scope(scope) => select(connection, journal, "scope = ?1", [scope]),
        Of::Unscoped => select(connection, journal, "scope IS NULL", []),
        Of::Kind(kind) => select(connection, journal, "kind = ?1", [kind]),
    }
}

/// The last event. There is always one: the first is written with the journal.
pub(super) fn last(connection: &Connection, journal: &str) -> Result<Event, JournalError> {
    let last = select(connection, journal, "seq = (SELECT max(seq) FROM event)", [])?.pop();
    last.ok_or_else(|| JournalError::Damaged { why: "it has no events".to_owned() })
}

/// The event that introduced this signer, the last where there are more.
pub(super) fn introducing(connection: &Connection, journal: &str, id: &str) -> Result<Option<Event>, JournalError> {
    Ok(select(connection, journal, "introduces = ?1", [id])?.pop())
}

/// The first row as it is, if there is any.
pub(super) fn first_row(connection: &Connection) -> Result<Option<Row>, JournalError> {
    let mut statement = connection.prepare(&format!("SELECT {COLUMNS} FROM event ORDER BY seq LIMIT 1"))?;
    let mut rows = statement.query([])?;
    rows.next()?.map(of_database).transpose()
}

/// Hands on every row in order, until one is refused.
pub(super) fn each_row<E: From<JournalError>>(
    connection: &Connection,
    mut take: impl FnMut(Row) -> Result<(), E>,
) -> Result<(), E> {
    let sql = format!("SELECT {COLUMNS} FROM event ORDER BY seq");
    let mut statement = connection.prepare(&sql).map_err(JournalError::from)?;
    let mut rows = statement.query([]).map_err(JournalError::from)?;
    while let Some(row) = rows.next().map_err(JournalError::from)? {
        take(of_database(row)?)?;
    }
    Ok(())
}

fn select(connection: &Connection, journal: &str, which: &str, with: impl Params) -> Result<Vec<Event>, JournalError> {
    let mut statement =
        connection.prepare_cached(&format!("SELECT {COLUMNS} FROM event WHERE {which} ORDER BY seq"))?;
    let mut rows = statement.query(with)?;
    let mut events = Vec::new();
    while let Some(row) = rows.next()? {
        let row = of_database(row)?;
        let seq = row.seq;
        events.push(Event::of_row(row, journal).map_err(|why| JournalError::EventDamaged { seq, why })?);
    }
    Ok(events)
}

fn of_database(row: &rusqlite::Row<'_>) -> Result<Row, JournalError> {
    let seq: i64 = row.get(0)?;
    let seq =
        u64::try_from(seq).map_err(|_| JournalError::Damaged { why: format!("an event has the number {seq}") })?;
    let damaged = |error: rusqlite::Error| JournalError::EventDamaged { seq, why: error.to_string() };
    Ok(Row {
        seq,
        kind: row.get(1).map_err(damaged)?,
        scope: row.get(2).map_err(damaged)?,
        introduces: row.get(3).map_err(damaged)?,
        bytes: row.get(4).map_err(damaged)?,
        hash: row.get(5).map_err(damaged)?,
        signature: row.get(6).map_err(damaged)?,
    })
}
