//! The tables of the database, version by version. In: a path. Out: a connection to a journal of the present schema.

use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::JournalError;

/// In the head of the file: `coun`.
const APPLICATION: i64 = 0x636f_756e;

/// How long another process is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// Each brings a journal from the version before to its own, which is its place in the list; none is ever changed.
///
/// Triggers forbid change and removal; the one on insertion also stops `INSERT OR REPLACE`, for which SQLite does not
/// ask the trigger on removal.
const MIGRATIONS: &[&str] = &[
    "
CREATE TABLE event (
    seq INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    scope TEXT,
    introduces TEXT,
    bytes BLOB NOT NULL,
    hash BLOB NOT NULL,
    signature BLOB NOT NULL
) STRICT;
CREATE INDEX event_of_scope ON event (scope);
CREATE INDEX event_of_kind ON event (kind);
CREATE INDEX event_introducing ON event (introduces) WHERE introduces IS NOT NULL;
CREATE TRIGGER event_is_the_next BEFORE INSERT ON event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM event)
BEGIN SELECT RAISE(ABORT, 'an event is appended after the last'); END;
CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER event_is_not_removed BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never removed'); END;
",
    "
CREATE TABLE proof (
    seq INTEGER PRIMARY KEY,
    tag BLOB NOT NULL
) STRICT;
CREATE TRIGGER proof_is_not_changed BEFORE UPDATE ON proof
BEGIN SELECT RAISE(ABORT, 'a tag is never changed'); END;
CREATE TRIGGER proof_is_not_removed BEFORE DELETE ON proof
BEGIN SELECT RAISE(ABORT, 'a tag is never removed'); END;
CREATE TABLE group_head (
    name TEXT PRIMARY KEY,
    events INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    hash BLOB NOT NULL,
    tag BLOB NOT NULL
) STRICT, WITHOUT ROWID;
",
    "
CREATE TABLE projection (
    name TEXT NOT NULL,
    key TEXT NOT NULL,
    value TEXT NOT NULL,
    tag BLOB NOT NULL,
    PRIMARY KEY (name, key)
) STRICT, WITHOUT ROWID;
CREATE TABLE projection_whole (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    tag BLOB NOT NULL
) STRICT;
CREATE TABLE forgetting (
    scope TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;
INSERT OR IGNORE INTO forgetting SELECT scope FROM event WHERE kind = 'forgotten' AND scope IS NOT NULL;
CREATE TRIGGER event_forgets AFTER INSERT ON event WHEN NEW.kind = 'forgotten' AND NEW.scope IS NOT NULL
BEGIN INSERT OR IGNORE INTO forgetting (scope) VALUES (NEW.scope); END;
",
    "
CREATE TABLE scope_projection (
    scope TEXT PRIMARY KEY,
    sealed TEXT NOT NULL
) STRICT;
",
];

/// The version that this program writes.
pub(super) const VERSION: i64 = MIGRATIONS.len() as i64;

/// Opens the database of a journal and brings it to the present version.
pub(super) fn open(path: &Path) -> Result<Connection, JournalError> {
    let refuse = JournalError::database(path);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags).map_err(&refuse)?;
    connection.busy_timeout(PATIENCE).map_err(&refuse)?;
    let application = number(&connection, "PRAGMA application_id").map_err(&refuse)?;
    if application != APPLICATION {
        let why = "it is a database of something else, or an empty one".to_owned();
        return Err(JournalError::NotAJournal { path: path.to_owned(), why });
    }
    let found = number(&connection, "PRAGMA user_version").map_err(&refuse)?;
    if found > VERSION {
        return Err(JournalError::Newer { path: path.to_owned(), found, known: VERSION });
    }
    if found < 1 {
        return Err(JournalError::Damaged { why: format!("its schema has the version {found}") });
    }
    if connection.is_readonly("main").map_err(&refuse)? {
        return Err(JournalError::NotWritable { path: path.to_owned() });
    }
    settle(&connection).map_err(&refuse)?;
    migrate(&mut connection, MIGRATIONS).map_err(&refuse)?;
    Ok(connection)
}

/// Opens the database of a journal where nothing can be written. Nothing beside it is looked at, so nothing may wait there.
pub(super) fn open_to_read(path: &Path) -> Result<Connection, JournalError> {
    let refuse = JournalError::database(path);
    let log = path.with_extension("db-wal");
    if std::fs::metadata(&log).is_ok_and(|known| known.len() > 0) {
        let why = "events wait in the write-ahead log beside it, which can only be taken in where it can be written";
        return Err(JournalError::File { path: log, error: std::io::Error::other(why) });
    }
    // An address of a file: what has a meaning in one is written by its number.
    let mut address = String::from("file:");
    let text = path.to_str().ok_or_else(|| JournalError::NotWritable { path: path.to_owned() })?;
    address.push_str(&text.replace('%', "%25").replace('?', "%3f").replace('#', "%23"));
    address.push_str("?immutable=1");
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(address, flags).map_err(&refuse)?;
    let application = number(&connection, "PRAGMA application_id").map_err(&refuse)?;
    let found = number(&connection, "PRAGMA user_version").map_err(&refuse)?;
    if application != APPLICATION || found != VERSION {
        let why = "it is no journal of this program's version: copy it to where it can be written, and open it there";
        return Err(JournalError::NotAJournal { path: path.to_owned(), why: why.to_owned() });
    }
    Ok(connection)
}

/// A new database in an empty file.
pub(super) fn create(path: &Path) -> Result<Connection, JournalError> {
    let refuse = JournalError::database(path);
    let mut connection = Connection::open(path).map_err(&refuse)?;
    settle(&connection).map_err(&refuse)?;
    connection.pragma_update(None, "application_id", APPLICATION).map_err(&refuse)?;
    migrate(&mut connection, MIGRATIONS).map_err(&refuse)?;
    Ok(connection)
}

/// Everything that the schema defines, as it stands in this database: a trigger that was taken away shows here.
pub(super) fn definition(connection: &Connection) -> Result<Vec<(String, String, String)>, rusqlite::Error> {
    let sql = "SELECT type, name, coalesce(sql, '') FROM sqlite_schema ORDER BY type, name";
    let mut statement = connection.prepare(sql)?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    rows.collect()
}

/// The same of a fresh database.
pub(super) fn expected_definition() -> Result<Vec<(String, String, String)>, rusqlite::Error> {
    let mut fresh = Connection::open_in_memory()?;
    migrate(&mut fresh, MIGRATIONS)?;
    definition(&fresh)
}

fn settle(connection: &Connection) -> Result<(), rusqlite::Error> {
    // A commit is on the disk when it returns; readers and one writer do not wait for each other.
    let mode: String = connection.query_row("PRAGMA journal_mode", [], |row| row.get(0))?;
    if mode != "wal" {
        connection.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))?;
    }
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "fullfsync", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)
}

fn migrate(connection: &mut Connection, migrations: &[&str]) -> Result<(), rusqlite::Error> {
    let newest = i64::try_from(migrations.len()).unwrap_or(i64::MAX);
    if number(connection, "PRAGMA user_version")? == newest {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another process may have done it while this one waited.
    let found = number(&transaction, "PRAGMA user_version")?;
    for (sql, version) in migrations.iter().zip(1..).filter(|(_, version)| *version > found) {
        transaction.execute_batch(sql)?;
        transaction.pragma_update(None, "user_version", version)?;
    }
    transaction.commit()
}

fn number(connection: &Connection, pragma: &str) -> Result<i64, rusqlite::Error> {
    connection.query_row(pragma, [], |row| row.get(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-RECORD
    #[test]
    fn an_older_schema_is_brought_up_step_by_step_or_left_as_it_was() {
        let mut database = Connection::open_in_memory().expect("memory");
        let steps =
            [MIGRATIONS[0], "CREATE TABLE second (a INTEGER) STRICT;", "CREATE TABLE third (a INTEGER) STRICT;"];
        for upto in [1, 3] {
            migrate(&mut database, &steps[..upto]).expect("they fit");
            assert_eq!(number(&database, "PRAGMA user_version"), Ok(i64::try_from(upto).expect("small")));
        }
        let before = definition(&database).expect("memory");
        let faulty =
            [steps[0], steps[1], steps[2], "CREATE TABLE fourth (a INTEGER) STRICT;", "CREATE TABLE third (a);"];
        assert!(migrate(&mut database, &faulty).is_err());
        assert_eq!(definition(&database), Ok(before));
        assert_eq!(number(&database, "PRAGMA user_version"), Ok(3));
    }
}
