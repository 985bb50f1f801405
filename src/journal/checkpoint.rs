//! A signed statement of where the journal stood, to be kept elsewhere. In: the journal. Out: one line of JSON, and back.

use data_encoding::HEXLOWER;
use serde::{Deserialize, Serialize};

use super::head::{Hash, Head};
use super::{Journal, JournalError, keys};
use crate::quantity::Moment;

pub(super) const WHAT: &str = "checkpoint";

/// A checkpoint of this journal, whose signature was found good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Checkpoint {
    /// The last event then.
    pub head: Head,
    /// When it was made.
    pub at: Moment,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CheckpointLine {
    v: u8,
    kind: String,
    journal: String,
    seq: u64,
    hash: Hash,
    at: String,
    signature: String,
}

impl Journal {
    /// One line of JSON, signed by the store: which event is the last now.
    ///
    /// # Errors
    /// [`JournalError`] when the journal cannot be read or is damaged.
    pub fn checkpoint(&self, now: Moment) -> Result<String, JournalError> {
        Ok(self.signed_head(self.head()?, now))
    }

    /// Reads checkpoints, one a line, as [`Journal::checkpoint`] made them.
    ///
    /// # Errors
    /// [`JournalError`] for the first line that is not one of this journal, or not as the store signed it.
    pub fn checkpoints(&self, text: &str) -> Result<Vec<Checkpoint>, JournalError> {
        let lines = text.lines().zip(1..).filter(|(line, _)| !line.trim().is_empty());
        lines.map(|(line, number)| self.read_checkpoint(line, WHAT, number)).collect()
    }

    pub(super) fn signed_head(&self, head: Head, at: Moment) -> String {
        self.signed_head_of(&self.id, head, at)
    }

    /// The head of a chain of this journal that has a name of its own.
    pub(super) fn signed_head_of(&self, chain: &str, head: Head, at: Moment) -> String {
        let mut line = CheckpointLine {
            v: 1,
            kind: WHAT.to_owned(),
            journal: chain.to_owned(),
            seq: head.seq,
            hash: head.hash,
            at: at.to_utc(),
            signature: String::new(),
        };
        line.signature = HEXLOWER.encode(&self.keys.sign_checkpoint(line.signed().as_bytes()));
        serde_json::to_string(&line).expect("every key is a string")
    }

    pub(super) fn read_checkpoint(
        &self,
        text: &str,
        what: &'static str,
        number: u64,
    ) -> Result<Checkpoint, JournalError> {
        self.read_checkpoint_of(&self.id, text, what, number)
    }

    pub(super) fn read_checkpoint_of(
        &self,
        chain: &str,
        text: &str,
        what: &'static str,
        number: u64,
    ) -> Result<Checkpoint, JournalError> {
        let altered = |why: &str| JournalError::Altered { what, line: number, why: why.to_owned() };
        let line: CheckpointLine = serde_json::from_str(text).map_err(|error| altered(&error.to_string()))?;
        if line.v != 1 || line.kind != WHAT {
            return Err(altered("it is no checkpoint of a version that this program knows"));
        }
        if line.journal != chain {
            return Err(JournalError::OfAnother { what, found: line.journal });
        }
        let signature = HEXLOWER.decode(line.signature.as_bytes()).ok().and_then(|bytes| bytes.try_into().ok());
        let signed = |signature| keys::verify_checkpoint(&self.store_public(), line.signed().as_bytes(), signature);
        if !signature.as_ref().is_some_and(signed) {
            return Err(altered("its signature is not the store's"));
        }
        let at = Moment::parse(&line.at).map_err(|refused| altered(&refused.to_string()))?;
        Ok(Checkpoint { head: Head { seq: line.seq, hash: line.hash }, at })
    }
}

impl CheckpointLine {
    /// What the signature is about: everything else, in a form that JSON has no say in.
    fn signed(&self) -> String {
        format!("{}\n{}\n{}\n{}\n", self.journal, self.seq, self.hash, self.at)
    }
}
