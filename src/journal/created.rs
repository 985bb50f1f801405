//! How a journal begins: a folder that is filled aside and gets its name at once, and the first event, which says whose
//! store key it is.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, TransactionBehavior};
use serde::Deserialize;
use serde_json::json;

use super::event::KIND_CREATED;
use super::head::Hash;
use super::keys::{self, Keys, StoreKey};
use super::write::{self, NewEvent, WriteView};
use super::{JournalError, files, projection, read, schema};
use crate::quantity::Moment;

/// What the first event says.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct First {
    pub(super) id: String,
    /// The public key of the store.
    store: Hash,
    pub(super) demonstration: bool,
    /// The version of the tables that it was made with.
    pub(super) schema: i64,
}

/// Takes away what is only half made, unless it is kept.
pub(super) struct HalfMade {
    folder: PathBuf,
    named: PathBuf,
    files: Vec<PathBuf>,
    kept: bool,
    /// Locked, so that nobody sweeps the folder while it is filled.
    _held: Option<fs::File>,
}

pub(super) fn create(folder: &Path, demonstration: bool, now: Moment) -> Result<(), JournalError> {
    let mut half_made = HalfMade::beside(folder)?;
    let store = StoreKey::random()?;
    half_made.keep_store_key(&store)?;
    fill(half_made.folder(), store, demonstration, now)?;
    half_made.give_name()
}

fn fill(aside: &Path, store: StoreKey, demonstration: bool, now: Moment) -> Result<(), JournalError> {
    let case_keys = files::case_keys(aside);
    files::create_folder(&case_keys).map_err(JournalError::file(&case_keys))?;
    super::reserve::set_aside(aside)?;
    let path = files::database(aside);
    files::create_new(&path).map_err(JournalError::file(&path))?;
    let mut connection = schema::create(&path)?;
    let keys = Keys::of(store, &case_keys);
    let id = data_encoding::HEXLOWER.encode(&keys::random::<16>()?);
    let body = json!({
        "id": &id, "store": Hash(keys.store_public()), "demonstration": demonstration, "schema": schema::VERSION,
    });
    let draft = NewEvent { kind: KIND_CREATED, scope: None, by: None, body, introduces: None };
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let first = write::append(&transaction, &WriteView::of_nothing(&transaction, &id, &keys, now), None, draft)?;
    projection::follow(&transaction, &id, &keys, first.head(), Vec::new())?;
    transaction.commit()?;
    // The write-ahead log goes into the file: what gets its name is one file.
    connection.close().map_err(|(_, error)| error.into())
}

/// The first event of an open database, signed with this very store key.
pub(super) fn first(connection: &Connection, database: &Path, keys: &Keys) -> Result<First, JournalError> {
    let damaged = |why: &str| JournalError::EventDamaged { seq: 1, why: why.to_owned() };
    let row = read::first_row(connection)?.filter(|row| row.seq == 1).ok_or_else(|| damaged("it is missing"))?;
    let envelope: super::event::Envelope =
        serde_json::from_slice(&row.bytes).map_err(|_| damaged("its bytes are no event"))?;
    let first: First = serde_json::from_value(envelope.body)
        .ok()
        .filter(|_| envelope.kind == KIND_CREATED)
        .ok_or_else(|| damaged("it does not say how the journal was made"))?;
    if first.store.as_bytes() != &keys.store_public() {
        let path = files::store_key(database.parent().unwrap_or(Path::new(".")));
        return Err(JournalError::StoreKeyWrong { path });
    }
    if !write::signed_by(&keys.store_public(), &row.bytes, &row.signature) {
        return Err(damaged("its signature is not the store's"));
    }
    super::Event::of_row(row, &first.id).map_err(|why| damaged(&why))?;
    Ok(first)
}

impl HalfMade {
    /// An empty folder beside the one that is to be made, on the same disk.
    pub(super) fn beside(folder: &Path) -> Result<Self, JournalError> {
        if !files::is_free(folder) {
            return Err(JournalError::AlreadyThere { path: folder.to_owned() });
        }
        // An empty folder may be named as `.`, which cannot be replaced under that name.
        let named = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
        super::sweep::sweep_beside(&named);
        let aside = files::beside(&named, &keys::random::<8>()?);
        files::create_folder(&aside).map_err(JournalError::file(folder))?;
        let held = fs::File::open(&aside).ok().filter(|folder| folder.try_lock().is_ok());
        Ok(Self { folder: aside, named, files: Vec::new(), kept: false, _held: held })
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes the store key where it belongs. One that is there already stays, if it is the same.
    pub(super) fn keep_store_key(&mut self, store: &StoreKey) -> Result<(), JournalError> {
        let elsewhere = files::store_key_elsewhere();
        let path = elsewhere.clone().unwrap_or_else(|| self.folder.join(files::STORE_KEY));
        if elsewhere.is_some() && path.exists() && *StoreKey::read(&path)?.to_hex() == *store.to_hex() {
            return Ok(());
        }
        files::write_new(&path, store.to_hex().as_bytes()).map_err(JournalError::file(&path))?;
        self.files.extend(elsewhere);
        Ok(())
    }

    /// Lets everything reach the disk, then gives the folder its name.
    pub(super) fn give_name(mut self) -> Result<(), JournalError> {
        let done = || {
            for path in [files::database(&self.folder), files::case_keys(&self.folder)] {
                fs::File::open(path)?.sync_all()?;
            }
            files::sync_folder(&self.folder)?;
            // An empty folder of this name is replaced, one with anything in it is not.
            fs::rename(&self.folder, &self.named)
        };
        done().map_err(JournalError::file(&self.named))?;
        self.kept = true;
        files::sync_folder_of(&self.named).map_err(JournalError::file(&self.named))
    }
}

impl Drop for HalfMade {
    fn drop(&mut self) {
        if !self.kept {
            // A folder that cannot be taken away is one that nobody asks for: its name begins with a point.
            let _ = fs::remove_dir_all(&self.folder);
            for file in &self.files {
                let _ = fs::remove_file(file);
            }
        }
    }
}
