//! Up to which event the journal was verified last: one line beside the database, signed by the store under a name that no
//! checkpoint bears. In: a head that was verified. Out: the same, if it is of this journal.

use std::fs;
use std::io;

use crate::quantity::Moment;

use super::{Checkpoint, Head, Journal, JournalError, files, keys};

const FILE: &str = "verified";
const WHAT: &str = "verified head";

impl Journal {
    /// Notes that every event up to this one was found as it was written.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be written.
    pub fn keep_verified(&self, head: Head, at: Moment) -> Result<(), JournalError> {
        let path = self.folder.join(FILE);
        let refuse = JournalError::file(&path);
        let beside = files::beside(&path, &keys::random::<8>()?);
        let line = self.signed_head_of(&self.verified_chain(), head, at) + "\n";
        files::write_new(&beside, line.as_bytes()).and_then(|()| fs::rename(&beside, &path)).map_err(refuse)
    }

    /// Up to which event every event was found as it was written, and when; nothing where it never was.
    ///
    /// # Errors
    /// [`JournalError`] when the note cannot be read, or is not this journal's.
    pub fn verified_last(&self) -> Result<Option<Checkpoint>, JournalError> {
        let path = self.folder.join(FILE);
        match fs::read_to_string(&path) {
            Ok(line) => self.read_checkpoint_of(&self.verified_chain(), line.trim(), WHAT, 1).map(Some),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(JournalError::file(&path)(error)),
        }
    }

    fn verified_chain(&self) -> String {
        format!("verified {}", self.id)
    }
}
