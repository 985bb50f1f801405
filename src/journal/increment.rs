//! What is new in a journal since an earlier backup. Out: a small database of the events after its last one, with their
//! tags, counts and keys. In: the same, onto what was restored before, if it ends with the very event that this one follows.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, TransactionBehavior};
use serde::{Deserialize, Serialize};

use super::keys::Keys;
use super::{Head, Journal, JournalError, read};

/// What is new since the backup before, in a backup.
pub(super) const NEW: &str = "new.db";

/// Which events a backup holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BackupContents {
    pub(super) v: u8,
    pub(super) journal: String,
    /// The last event of the backup that it goes on after; nothing where it holds every event.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) after: Option<String>,
    /// Its last event.
    pub(super) head: String,
}

/// The tables of a journal, and which rows of each are new. `?1` is the last event that is not.
const NEW_ROWS: &[(&str, &str)] = &[
    ("event", "seq > ?1"),
    ("proof", "seq > ?1"),
    ("group_head", "seq > ?1"),
    ("scope_projection", "scope IN (SELECT scope FROM main.event WHERE seq > ?1)"),
    ("projection", "?1 IS NOT NULL"),
    ("projection_whole", "?1 IS NOT NULL"),
];

/// Puts new rows beside those that are there, or in the place of those that they follow.
const TAKE_IN: &str = "
INSERT INTO main.event (seq, kind, scope, introduces, bytes, hash, signature)
    SELECT seq, kind, scope, introduces, bytes, hash, signature FROM new.event ORDER BY seq;
INSERT INTO main.proof (seq, tag) SELECT seq, tag FROM new.proof ORDER BY seq;
INSERT OR REPLACE INTO main.group_head (name, events, seq, hash, tag)
    SELECT name, events, seq, hash, tag FROM new.group_head;
DELETE FROM main.scope_projection WHERE scope IN (SELECT scope FROM new.event);
INSERT INTO main.scope_projection (scope, sealed) SELECT scope, sealed FROM new.scope_projection;
DELETE FROM main.projection;
INSERT INTO main.projection (name, key, value, tag) SELECT name, key, value, tag FROM new.projection;
DELETE FROM main.projection_whole;
INSERT INTO main.projection_whole (id, tag) SELECT id, tag FROM new.projection_whole;
";

impl BackupContents {
    pub(super) fn new(journal: &Journal, after: Option<Head>, head: Head) -> Self {
        let after = after.map(|after| after.to_string());
        Self { v: 1, journal: journal.id().to_owned(), after, head: head.to_string() }
    }

    /// The last event that it holds.
    pub(super) fn last(&self) -> Option<Head> {
        self.head.parse().ok()
    }
}

impl Journal {
    /// The new rows in an empty file, as of one moment; the last event, and the files of the keys of the scopes that are in it.
    pub(super) fn new_since(&self, since: Head, file: &Path) -> Result<(Head, Vec<PathBuf>), JournalError> {
        let name = file.to_str().ok_or_else(|| JournalError::NotWritable { path: file.to_owned() })?;
        self.connection.execute("ATTACH ?1 AS new", [name])?;
        let copied = self.copy_new_rows(since);
        self.connection.execute_batch("DETACH new")?;
        copied
    }

    fn copy_new_rows(&self, since: Head) -> Result<(Head, Vec<PathBuf>), JournalError> {
        let view = self.view()?;
        let head = read::last(&view, &self.id, &self.keys)?.head();
        let after = i64::try_from(since.seq).unwrap_or(i64::MAX);
        for (table, which) in NEW_ROWS {
            view.execute(
                &format!("CREATE TABLE new.{table} AS SELECT * FROM main.{table} WHERE {which} LIMIT 0"),
                [after],
            )?;
            view.execute(&format!("INSERT INTO new.{table} SELECT * FROM main.{table} WHERE {which}"), [after])?;
        }
        let scopes: Vec<String> = {
            let mut select =
                view.prepare("SELECT DISTINCT scope FROM new.event WHERE scope IS NOT NULL ORDER BY scope")?;
            let rows = select.query_map([], |row| row.get(0))?;
            rows.collect::<Result<_, _>>()?
        };
        view.commit()?;
        Ok((head, scopes.iter().map(|scope| self.keys.path(scope)).collect()))
    }

    /// Whether this event is in the journal as it was.
    pub(super) fn still_has(&self, head: Head) -> Result<bool, JournalError> {
        let event = read::event(&self.connection, &self.id, &self.keys, head.seq)?;
        Ok(event.is_some_and(|event| event.head() == head))
    }
}

/// Takes new rows in, onto a journal that ends with the event that they follow.
pub(super) fn take_in(
    connection: &mut Connection,
    (journal, keys): (&str, &Keys),
    increment: (&Path, &BackupContents),
    file: &Path,
) -> Result<(), JournalError> {
    let (named, contents) = increment;
    let refuse = |why: String| JournalError::NotABackup { path: named.to_owned(), why };
    let last = read::last(connection, journal, keys)?.head();
    if contents.journal != journal {
        return Err(refuse(format!(
            "it is of the journal {}, and the backup before it of {journal}",
            contents.journal
        )));
    }
    match contents.after.as_ref().map(|after| (after, after.parse::<Head>())) {
        Some((_, Ok(after))) if after == last => {}
        Some((after, _)) => {
            let after = after.split(':').next().unwrap_or(after);
            let why = format!(
                "it goes on after event {after}, and what was restored before it ends with event {}: name the backups in \
                 the order in which they were made, none left out",
                last.seq
            );
            return Err(refuse(why));
        }
        None => return Err(refuse("it does not say which event it goes on after".to_owned())),
    }
    let name = file.to_str().ok_or_else(|| JournalError::NotWritable { path: file.to_owned() })?;
    connection.execute("ATTACH ?1 AS new", [name])?;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let taken = transaction.execute_batch(TAKE_IN).map_err(|error| refuse(error.to_string()));
    taken.and_then(|()| Ok(transaction.commit()?))?;
    connection.execute_batch("DETACH new")?;
    let last = read::last(connection, journal, keys)?.head();
    if contents.last() == Some(last) {
        return Ok(());
    }
    Err(refuse(format!("it says that it ends with event {}, and ends with event {}", contents.head, last.seq)))
}
