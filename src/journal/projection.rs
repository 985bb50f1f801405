//! A small table beside the events: what a reader would have to work out from every event there ever was. In: rows by name
//! and key, written in the transaction of the events that they follow from. Out: the same rows, each held against its own
//! tag, and all of them against one tag with the number and hash of the last event.
//!
//! What the rows say is the projector's to know. Without the store key no tag can be made: a row that was changed is named,
//! one that was taken out or put in is noticed, and rows of another time do not fit the last event.

use std::collections::BTreeSet;

use rusqlite::{Connection, OptionalExtension as _, Transaction, TransactionBehavior};

use super::event::Event;
use super::head::Head;
use super::keys::Keys;
use super::write::WriteView;
use super::{Journal, JournalError, read, scoped};

/// One row: a table, and what it says under a key.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Projected {
    /// The table.
    pub name: &'static str,
    /// The key, which is there once in its table.
    pub key: String,
    /// What it says.
    pub value: String,
}

/// What new events change: a row that is put under its key, or a key that goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ProjectedChange {
    /// The row, whatever was under its key before.
    Put(Projected),
    /// Table and key.
    Remove(&'static str, String),
    /// A scope, and the text that is kept of it: see [`Scoped`](super::Scoped).
    OfScope(String, Option<String>),
}

/// Works out what events that were just appended change.
pub type Projector = Box<dyn Fn(&WriteView<'_>, &[Event]) -> Result<Vec<ProjectedChange>, JournalError> + Send + Sync>;

/// The rows of one table, as they were found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Projection {
    /// Every row, as key and value, as it was written with the last event.
    Whole(Vec<(String, String)>),
    /// An earlier program wrote this journal, and no row was ever worked out.
    NotFilled,
    /// They are not as they were written.
    Altered {
        /// How.
        why: String,
        /// Those that carry this journal's tag.
        rows: Vec<(String, String)>,
    },
}

/// The first schema with the table: journals that were made with it were never without its tag.
pub(super) const SINCE_SCHEMA: i64 = 3;

impl Journal {
    /// Works every later event into the projection, in the same transaction.
    pub fn project_with(&mut self, projector: Projector) {
        self.projector = Some(projector);
    }

    /// The rows of one table.
    ///
    /// # Errors
    /// [`JournalError`] when the database cannot be read.
    pub fn projection(&self, name: &str) -> Result<Projection, JournalError> {
        let view = self.view()?;
        let head = read::last(&view, &self.id, &self.keys)?.head();
        let of_table = |rows: Vec<Kept>| -> Vec<(String, String)> {
            rows.into_iter().filter(|row| row.name == name).map(|row| (row.key, row.value)).collect()
        };
        Ok(match stored(&view, &self.keys, head, self.is_projected)? {
            Stored::NotFilled => Projection::NotFilled,
            Stored::Altered(why, rows) => Projection::Altered { why, rows: of_table(rows) },
            Stored::Whole(rows) => Projection::Whole(of_table(rows)),
        })
    }

    /// Puts these rows, and what is kept of scopes, in the place of all, if the journal still ends with the event that they
    /// were worked out to.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be written.
    pub fn replace_projection(
        &self,
        head: Head,
        rows: &[Projected],
        of_scopes: &[(String, Option<String>)],
    ) -> Result<bool, JournalError> {
        let transaction = Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
        if read::last(&transaction, &self.id, &self.keys)?.head() != head {
            return Ok(false);
        }
        transaction.execute("DELETE FROM projection", [])?;
        for row in rows {
            put(&transaction, &self.keys, row)?;
        }
        transaction.execute("DELETE FROM scope_projection", [])?;
        for (scope, text) in of_scopes {
            scoped::put(&transaction, &self.id, &self.keys, scope, text.as_deref())?;
        }
        seal(&transaction, &self.keys, head)?;
        transaction.commit()?;
        Ok(true)
    }

    /// The scopes of the events after one, and the number of the last event.
    ///
    /// # Errors
    /// [`JournalError`] when the database cannot be read.
    pub fn scopes_after(&self, seq: u64) -> Result<(u64, BTreeSet<String>), JournalError> {
        let mut select = self.connection.prepare_cached("SELECT seq, scope FROM event WHERE seq > ?1 ORDER BY seq")?;
        let (mut last, mut scopes) = (seq, BTreeSet::new());
        let mut rows = select.query([i64::try_from(seq).unwrap_or(i64::MAX)])?;
        while let Some(row) = rows.next()? {
            last = u64::try_from(row.get::<_, i64>(0)?).unwrap_or(last);
            scopes.extend(row.get::<_, Option<String>>(1)?);
        }
        Ok((last, scopes))
    }
}

/// The table as it is kept.
enum Stored {
    Whole(Vec<Kept>),
    NotFilled,
    Altered(String, Vec<Kept>),
}

struct Kept {
    name: String,
    key: String,
    value: String,
}

/// The value under a key, if its row carries this journal's tag.
pub(super) fn value(
    connection: &Connection,
    keys: &Keys,
    name: &str,
    key: &str,
) -> Result<Option<String>, JournalError> {
    let sql = "SELECT value, tag FROM projection WHERE name = ?1 AND key = ?2";
    let mut select = connection.prepare_cached(sql)?;
    let kept = select.query_row([name, key], |row| Ok((row.get::<_, String>(0)?, row.get::<_, Vec<u8>>(1)?)));
    let kept = kept.optional()?.filter(|(value, tag)| keys.is_proof(&row_bytes(name, key, value), tag));
    Ok(kept.map(|(value, _)| value))
}

/// The rows of one table inside a transaction that writes; nothing where they are not whole.
pub(super) fn rows(
    connection: &Connection,
    keys: &Keys,
    head: Head,
    name: &str,
) -> Result<Option<Vec<(String, String)>>, JournalError> {
    let Stored::Whole(rows) = stored(connection, keys, head, false)? else { return Ok(None) };
    Ok(Some(rows.into_iter().filter(|row| row.name == name).map(|row| (row.key, row.value)).collect()))
}

/// Whether the table was as it was written with this event. Only such a one goes on: a tag that does not fit is evidence,
/// and is not covered up by another.
pub(super) fn is_whole(connection: &Connection, keys: &Keys, head: Head) -> Result<bool, JournalError> {
    Ok(matches!(stored(connection, keys, head, false)?, Stored::Whole(_)))
}

/// Works the changes in, and tags the whole with the new last event.
pub(super) fn follow(
    transaction: &Transaction<'_>,
    journal: &str,
    keys: &Keys,
    head: Head,
    changes: Vec<ProjectedChange>,
) -> Result<(), JournalError> {
    for change in changes {
        match change {
            ProjectedChange::Put(row) => put(transaction, keys, &row)?,
            ProjectedChange::Remove(name, key) => {
                let sql = "DELETE FROM projection WHERE name = ?1 AND key = ?2";
                transaction.prepare_cached(sql)?.execute([name, &*key])?;
            }
            ProjectedChange::OfScope(scope, text) => scoped::put(transaction, journal, keys, &scope, text.as_deref())?,
        }
    }
    seal(transaction, keys, head)
}

/// What is not as it was written, if anything.
pub(super) fn altered(
    connection: &Connection,
    keys: &Keys,
    head: Head,
    must_be: bool,
) -> Result<Option<String>, JournalError> {
    Ok(match stored(connection, keys, head, must_be)? {
        Stored::Altered(why, _) => Some(why),
        Stored::Whole(_) | Stored::NotFilled => None,
    })
}

fn stored(connection: &Connection, keys: &Keys, head: Head, must_be: bool) -> Result<Stored, JournalError> {
    let whole = connection.prepare_cached("SELECT tag FROM projection_whole")?.query_row([], |row| row.get(0));
    let whole: Option<Vec<u8>> = whole.optional()?;
    let mut select = connection.prepare_cached("SELECT name, key, value, tag FROM projection ORDER BY name, key")?;
    let mut rows = select.query([])?;
    let (mut kept, mut altered) = (Vec::new(), None);
    while let Some(row) = rows.next()? {
        let (name, key, value): (String, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        if keys.is_proof(&row_bytes(&name, &key, &value), &row.get::<_, Vec<u8>>(3)?) {
            kept.push(Kept { name, key, value });
        } else {
            altered = altered.or_else(|| Some(format!("the row of `{key}` was changed or put in")));
        }
    }
    if let Some(why) = altered {
        return Ok(Stored::Altered(why, kept));
    }
    Ok(match whole {
        None if must_be => Stored::Altered("its tag was taken out".to_owned(), kept),
        None => Stored::NotFilled,
        Some(tag) if keys.is_proof(&whole_bytes(head, &kept), &tag) => Stored::Whole(kept),
        Some(_) => {
            let why = "a row was taken out or put back, or an event was written past it".to_owned();
            Stored::Altered(why, kept)
        }
    })
}

fn put(transaction: &Transaction<'_>, keys: &Keys, row: &Projected) -> Result<(), JournalError> {
    let tag = keys.proof(&row_bytes(row.name, &row.key, &row.value));
    let sql = "INSERT OR REPLACE INTO projection (name, key, value, tag) VALUES (?1, ?2, ?3, ?4)";
    transaction.prepare_cached(sql)?.execute((row.name, &row.key, &row.value, tag))?;
    Ok(())
}

fn seal(transaction: &Transaction<'_>, keys: &Keys, head: Head) -> Result<(), JournalError> {
    let mut select = transaction.prepare_cached("SELECT name, key, value FROM projection ORDER BY name, key")?;
    let rows = select.query_map([], |row| Ok(Kept { name: row.get(0)?, key: row.get(1)?, value: row.get(2)? }))?;
    let rows: Vec<Kept> = rows.collect::<Result<_, _>>()?;
    let tag = keys.proof(&whole_bytes(head, &rows));
    let sql = "INSERT OR REPLACE INTO projection_whole (id, tag) VALUES (1, ?1)";
    transaction.prepare_cached(sql)?.execute([tag])?;
    Ok(())
}

fn row_bytes(name: &str, key: &str, value: &str) -> Vec<u8> {
    let mut bytes = b"projection row\0".to_vec();
    with_lengths(&mut bytes, &[name, key, value]);
    bytes
}

fn whole_bytes(head: Head, rows: &[Kept]) -> Vec<u8> {
    let mut bytes = [b"projection\0", &head.seq.to_be_bytes()[..], head.hash.as_bytes()].concat();
    for Kept { name, key, value } in rows {
        with_lengths(&mut bytes, &[name, key, value]);
    }
    bytes
}

/// With the length in front, so that no two lists of texts give the same bytes.
fn with_lengths(bytes: &mut Vec<u8>, texts: &[&str]) {
    for text in texts {
        bytes.extend(u64::try_from(text.len()).unwrap_or(u64::MAX).to_be_bytes());
        bytes.extend(text.as_bytes());
    }
}
