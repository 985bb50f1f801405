//! A journal that was written before there were tags gets them, when it is opened for the first time.

use rusqlite::{Connection, TransactionBehavior};

use super::event::{Event, FIRST_VERSION};
use super::head::{Hash, Head};
use super::keys::Keys;
use super::proof::{GroupHeads, add_tag};
use super::verify::Chain;
use super::{JournalError, read};

/// Tags every event of a journal that was written before there were tags. Each is held against its signature and the
/// chain first; one that does not fit gets no tag, so that only what needs it cannot be read.
///
/// Nothing is tagged where an event was written with tags: then they were taken away.
pub(super) fn tag_all(connection: &mut Connection, journal: &str, keys: &Keys) -> Result<(), JournalError> {
    let tagged = |connection: &Connection| {
        connection.query_row("SELECT EXISTS (SELECT 1 FROM proof)", [], |row| row.get::<_, bool>(0))
    };
    if tagged(connection)? {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another process may have done it while this one waited.
    if tagged(&transaction)? {
        return Ok(());
    }
    let mut heads = GroupHeads::default();
    let mut chain = Chain::untagged(journal, keys);
    let mut sound = Vec::new();
    read::each_row(&transaction, |row| {
        let seq = row.seq;
        if let Ok(event) = Event::of_row(row.clone(), journal) {
            if event.version() != FIRST_VERSION {
                let why = "the tags that prove its events were taken away".to_owned();
                return Err(JournalError::Damaged { why });
            }
            heads.take(&event);
            match chain.next(row) {
                Ok(_) => sound.push(event.head()),
                Err(_) => chain.go_on_after(event.head()),
            }
        } else {
            chain.go_on_after(Head { seq, hash: Hash::of(&row.bytes) });
        }
        Ok(())
    })?;
    for head in sound {
        add_tag(&transaction, keys, head)?;
    }
    heads.write(&transaction, keys)?;
    Ok(transaction.commit()?)
}
