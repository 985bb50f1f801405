//! An append-only record. In: events as JSON, who signs each, and the time. Out: the same events in order, proved whole.
//!
//! Every event's bytes are stored, hashed and signed as they were written, and name the hash of the event before. The
//! journal knows nothing of doses or people: it keeps events of some kind and scope, the public keys that sign them, one
//! sealing key per scope, and can show that nothing was changed, moved or taken out. Not protected against: a person
//! who holds both the database and the store key.

mod access;
#[cfg(feature = "backup")]
mod backup;
mod checkpoint;
mod created;
mod error;
mod event;
mod export;
mod files;
mod head;
mod kept_elsewhere;
mod keys;
mod projection;
mod proof;
mod read;
mod reserve;
mod restored;
mod schema;
mod sweep;
mod tagging;
mod tally;
mod verify;
mod write;

use std::fmt;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use crate::quantity::Moment;

pub use access::{Access, AccessEvent, AccessKind, AccessLog, SignIns};
#[cfg(feature = "backup")]
pub use backup::{BackedUp, Restored, restore};
pub use checkpoint::Checkpoint;
pub use error::JournalError;
pub use event::{Event, Introduced, KIND_CLOCK_CORRECTED, KIND_CREATED, KIND_FORGOTTEN, KIND_RESTORED};
pub use files::{DRAFTS, drafts_of, is_free as folder_is_free, open_to_others};
pub use head::{Hash, Head, NotAHead};
pub use kept_elsewhere::CheckpointPlace;
pub use keys::{CaseKey, Keys, SealedSigner, Signer, Unsealable, WrongPin, verify_store_signature};
pub use projection::{Projected, ProjectedChange, Projection, Projector};
pub use read::Of;
pub use reserve::keep_in_reserve;
pub use restored::{KeptHeads, Restore};
pub use sweep::sweep_half_made;
pub use tally::Tally;
pub use verify::{Verified, VerifyError};
pub use write::{NewEvent, WriteView, Writing};

/// The name under which the store signs; no person may have it.
pub const STORE: &str = "store";

/// An open journal: a folder with `journal.db` (SQLite, write-ahead log, every commit on the disk before it returns),
/// `store.key` (32 random bytes as hex, mode 0600; elsewhere by `COUNTERSIGN_STORE_KEY`) and `case-keys/` (one small
/// file per scope, mode 0600).
pub struct Journal {
    folder: PathBuf,
    connection: Connection,
    id: String,
    demonstration: bool,
    keys: Keys,
    /// Whether it was made with a projection: one without it was never filled.
    is_projected: bool,
    projector: Option<Projector>,
    request: Option<Hash>,
    /// Why the clock is in doubt.
    doubt: Option<String>,
}

impl Journal {
    /// Makes a journal with its first event. The folder must not exist yet, or be empty; after an error it is as before.
    ///
    /// # Errors
    /// [`JournalError`], with what to do.
    pub fn create(folder: &Path, demonstration: bool, now: Moment) -> Result<Self, JournalError> {
        created::create(folder, demonstration, now)?;
        Self::open(folder)
    }

    /// Opens a journal, brings an older schema up to date, and completes a forgetting that was interrupted.
    ///
    /// # Errors
    /// [`JournalError`], with what to do: not a journal, a newer schema, no store key or a wrong one, one that others
    /// can read.
    pub fn open(folder: &Path) -> Result<Self, JournalError> {
        let database = files::database(folder);
        if !database.is_file() {
            return Err(JournalError::NotThere { folder: folder.to_owned() });
        }
        let connection = schema::open(&database)?;
        let keys = Keys::open(&files::store_key(folder), &files::case_keys(folder))?;
        let journal = Self::opened(folder.to_owned(), connection, keys)?;
        journal.complete_forgetting()?;
        Ok(journal)
    }

    /// Opens a journal that nobody can write, such as one on a read-only medium. It must be of the present schema, and
    /// nothing of it may wait in a write-ahead log: a part would be missing.
    ///
    /// # Errors
    /// As for [`Journal::open`].
    pub fn open_to_read(folder: &Path) -> Result<Self, JournalError> {
        let database = files::database(folder);
        let connection = schema::open_to_read(&database)?;
        let keys = Keys::open(&files::store_key(folder), &files::case_keys(folder))?;
        let first = created::first(&connection, &database, &keys)?;
        Ok(Self::assembled(folder.to_owned(), connection, first, keys))
    }

    /// A journal of the present schema in this folder, held against its store key.
    fn opened(folder: PathBuf, mut connection: Connection, keys: Keys) -> Result<Self, JournalError> {
        let first = created::first(&connection, &files::database(&folder), &keys)?;
        tagging::tag_all(&mut connection, &first.id, &keys)?;
        let keys = keys.of_a(first.demonstration);
        Ok(Self::assembled(folder, connection, first, keys))
    }

    fn assembled(folder: PathBuf, connection: Connection, first: created::First, keys: Keys) -> Self {
        let created::First { id, demonstration, schema, .. } = first;
        let is_projected = schema >= projection::SINCE_SCHEMA;
        Self { folder, connection, id, demonstration, keys, is_projected, projector: None, request: None, doubt: None }
    }

    /// Drawn at random when it was made; stands in every event.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Whether it was made for trying out.
    #[must_use]
    pub const fn is_demonstration(&self) -> bool {
        self.demonstration
    }

    /// Where it is.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its keys.
    #[must_use]
    pub const fn keys(&self) -> &Keys {
        &self.keys
    }

    /// Number and hash of the last event.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be read or is damaged.
    pub fn head(&self) -> Result<Head, JournalError> {
        read::last(&*self.view()?, &self.id, &self.keys).map(|event| event.head())
    }

    /// The events in question, in order. Each is held against its own hash and tag, and all of them against their
    /// number; signatures and the whole chain are [`Journal::verify`]'s.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged.
    pub fn events(&self, of: Of<'_>) -> Result<Vec<Event>, JournalError> {
        read::events(&*self.view()?, &self.id, &self.keys, of)
    }

    /// Hands on the events of a kind from the newest back, from before this number where one is given, until `take` has
    /// enough: what is read does not grow with what was written long before.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged, or the newest is missing.
    pub fn newest(&self, kind: &str, before: Option<u64>, take: impl FnMut(Event) -> bool) -> Result<(), JournalError> {
        read::newest(&*self.view()?, &self.id, &self.keys, kind, before, take)
    }

    /// The event of a kind that was written for a request, as [`Journal::request`] names it; looked for from the newest
    /// back.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged.
    pub fn written_for(&self, kind: &str, request: Hash) -> Result<Option<Event>, JournalError> {
        let mut found = None;
        self.newest(kind, None, |event| {
            if event.request() == Some(request) {
                found = Some(event);
            }
            found.is_none()
        })?;
        Ok(found)
    }

    /// How many events of a kind were written.
    ///
    /// # Errors
    /// [`JournalError`] when the count was changed, or cannot be read.
    pub fn count(&self, kind: &str) -> Result<u64, JournalError> {
        Ok(proof::head(&self.connection, &self.keys, Of::Kind(kind))?.map_or(0, |head| head.events))
    }

    /// The event of this number.
    fn event(&self, seq: u64) -> Result<Option<Event>, JournalError> {
        read::event(&*self.view()?, &self.id, &self.keys, seq)
    }

    /// One view of the file, whatever is written meanwhile: events and the count of them are read apart.
    fn view(&self) -> Result<rusqlite::Transaction<'_>, JournalError> {
        Ok(self.connection.unchecked_transaction()?)
    }

    /// Signs in the store's name. No signature for an event or a checkpoint can be had in this way.
    #[must_use]
    pub fn sign_as_store(&self, bytes: &[u8]) -> [u8; 64] {
        self.keys.sign_as_store(bytes)
    }

    /// The key that verifies what the store signed; see [`verify_store_signature`].
    #[must_use]
    pub fn store_public(&self) -> [u8; 32] {
        self.keys.store_public()
    }

    /// Overwrites the key of a forgotten scope and takes its file away.
    ///
    /// # Errors
    /// [`JournalError`] when the file cannot be changed; opening the journal completes it.
    pub fn remove_forgotten_key(&self, scope: &str) -> Result<(), JournalError> {
        self.keys.forget(scope)?;
        files::remove_drafts(&self.folder, scope)?;
        self.connection.execute("DELETE FROM forgetting WHERE scope = ?1", [scope])?;
        Ok(())
    }

    /// A key that outlived the event of its forgetting goes now. Only those are looked at whose removal was not completed.
    fn complete_forgetting(&self) -> Result<(), JournalError> {
        let mut select = self.connection.prepare("SELECT scope FROM forgetting")?;
        let pending: Vec<String> = select.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
        for scope in pending {
            // The event decides: a row that somebody put in takes no key away.
            if self.events(Of::Scope(&scope))?.iter().any(|event| event.kind() == KIND_FORGOTTEN) {
                self.remove_forgotten_key(&scope)?;
            }
        }
        Ok(())
    }
}

/// Nothing of a key.
impl fmt::Debug for Journal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Journal").field("folder", &self.folder).field("id", &self.id).finish_non_exhaustive()
    }
}
