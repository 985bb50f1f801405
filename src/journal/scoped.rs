//! What a reader would have to work out from every event of one scope. In: one text for each scope, written in the
//! transaction of the scope's last event. Out: the same text, as long as no later event of the scope was written.
//!
//! It is sealed under the scope's key and bound to the scope's count and last event: one that was changed, exchanged or put
//! back does not open, one that was taken out is worked out again, and forgetting the scope makes it unreadable.

use rusqlite::{Connection, OptionalExtension as _, Transaction};

use super::keys::Keys;
use super::proof::GroupHead;
use super::{JournalError, Of, proof};

/// What is kept of a scope.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Scoped {
    /// Nothing.
    NotKept,
    /// The text, as it was written with the scope's last event.
    Kept(String),
    /// It is not the text of the last event.
    Altered,
}

pub(super) fn read(connection: &Connection, journal: &str, keys: &Keys, scope: &str) -> Result<Scoped, JournalError> {
    let mut select = connection.prepare_cached("SELECT sealed FROM scope_projection WHERE scope = ?1")?;
    let Some(sealed) = select.query_row([scope], |row| row.get::<_, String>(0)).optional()? else {
        return Ok(Scoped::NotKept);
    };
    // Without its key nothing of the scope can be read.
    let Some(key) = keys.case(scope)? else { return Ok(Scoped::NotKept) };
    let Some(head) = proof::head(connection, keys, Of::Scope(scope))? else { return Ok(Scoped::Altered) };
    let bound_to = bound_to(journal, scope, head);
    let opened = key.open(&bound_to.each_ref().map(String::as_str), &sealed);
    Ok(opened.ok().and_then(|plain| String::from_utf8(plain).ok()).map_or(Scoped::Altered, Scoped::Kept))
}

/// Keeps a text of a scope, whose last event is written; none takes away what was kept.
pub(super) fn put(
    transaction: &Transaction<'_>,
    journal: &str,
    keys: &Keys,
    scope: &str,
    text: Option<&str>,
) -> Result<(), JournalError> {
    let head = proof::head(transaction, keys, Of::Scope(scope))?;
    let key = if text.is_some() { keys.case(scope)? } else { None };
    let Some(((text, head), key)) = text.zip(head).zip(key) else {
        transaction.prepare_cached("DELETE FROM scope_projection WHERE scope = ?1")?.execute([scope])?;
        return Ok(());
    };
    let sealed = key.seal(&bound_to(journal, scope, head).each_ref().map(String::as_str), text.as_bytes());
    let sql = "INSERT OR REPLACE INTO scope_projection (scope, sealed) VALUES (?1, ?2)";
    transaction.prepare_cached(sql)?.execute([scope, &sealed])?;
    Ok(())
}

fn bound_to(journal: &str, scope: &str, head: GroupHead) -> [String; 5] {
    let (events, last) = (head.events.to_string(), head.last.to_string());
    ["scope projection".to_owned(), journal.to_owned(), scope.to_owned(), events, last]
}
