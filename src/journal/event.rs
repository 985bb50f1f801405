//! One event: what is written, and the bytes in which it stays for ever.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::head::{Hash, Head};
use crate::quantity::Moment;

/// The first event of every journal.
pub const KIND_CREATED: &str = "journal-created";

/// An event of this kind takes the key of its scope away, here and in every journal restored from a backup.
pub const KIND_FORGOTTEN: &str = "forgotten";

/// A restore from a backup: the store writes it, and what comes after it was written in the restored journal.
pub const KIND_RESTORED: &str = "journal-restored";

/// From an event of this kind on, time is counted from its own: those who sign it say that the clock was wrong before.
pub const KIND_CLOCK_CORRECTED: &str = "clock-corrected";

/// Events of the first version do not say their number in the case.
pub(super) const FIRST_VERSION: u8 = 1;
const VERSION: u8 = 2;
/// Events of this version say the floor of time themselves, because it is not their own time.
const WITH_FLOOR: u8 = 3;

/// One event, as it was read: its bytes have the hash that is kept with them.
#[derive(Debug, Clone)]
pub struct Event {
    envelope: Envelope,
    at: Moment,
    floor: Moment,
    hash: Hash,
    bytes: Vec<u8>,
}

/// A new signer and its public key: what it signs is accepted from the next event on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Introduced {
    /// The name under which it signs.
    pub id: String,
    /// Ed25519.
    pub key: [u8; 32],
}

/// What is written, in this order.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Envelope {
    pub(super) v: u8,
    pub(super) journal: String,
    pub(super) seq: u64,
    pub(super) previous: Hash,
    pub(super) at: String,
    pub(super) offset: String,
    pub(super) by: String,
    pub(super) kind: String,
    pub(super) scope: Option<String>,
    /// Its number among the events of its case, from 1; events about no case are numbered together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) number: Option<u64>,
    /// The last events of its case that its author saw: one, while one machine writes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) follows: Vec<Hash>,
    /// The key of the request that it was written for, under a key of the journal: who sends it again is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) request: Option<Hash>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) clock: Option<String>,
    /// The floor of time after this event, where that is not its own time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) floor: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) introduces: Option<IntroducedHex>,
    pub(super) body: Value,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct IntroducedHex {
    pub(super) id: String,
    pub(super) key: Hash,
}

/// A row as the database keeps it.
#[derive(Debug, Clone)]
pub(super) struct EventRow {
    pub(super) seq: u64,
    pub(super) kind: String,
    pub(super) scope: Option<String>,
    pub(super) introduces: Option<String>,
    pub(super) bytes: Vec<u8>,
    pub(super) hash: Vec<u8>,
    pub(super) signature: Vec<u8>,
    pub(super) tag: Option<Vec<u8>>,
}

impl Event {
    /// Its number; the first is 1. Order is always by this, never by time.
    #[must_use]
    pub const fn seq(&self) -> u64 {
        self.envelope.seq
    }

    /// What the clock said, in UTC, to the second.
    #[must_use]
    pub const fn at(&self) -> Moment {
        self.at
    }

    /// It is never taken to be earlier than this after it: the latest time that an event has whose clock was not in doubt,
    /// since the clock was corrected last.
    #[must_use]
    pub const fn floor(&self) -> Moment {
        self.floor
    }

    /// When it was written, shown with the offset from UTC that held there.
    #[must_use]
    pub fn at_local(&self) -> Moment {
        let shown = Moment::parse(&format!("2000-01-01T00:00:00{}", self.envelope.offset));
        shown.map_or(self.at, |offset| self.at.in_offset_of(offset))
    }

    /// The offset from UTC where it was written: `+01:00`.
    #[must_use]
    pub fn local_offset(&self) -> &str {
        &self.envelope.offset
    }

    /// Who signed it: `store`, or the name of a signer.
    #[must_use]
    pub fn by(&self) -> &str {
        &self.envelope.by
    }

    /// What kind of event it is.
    #[must_use]
    pub fn kind(&self) -> &str {
        &self.envelope.kind
    }

    /// What it is about; the key of that scope seals what is private in it.
    #[must_use]
    pub fn scope(&self) -> Option<&str> {
        self.envelope.scope.as_deref()
    }

    /// Its number among the events of its case, where it says it.
    #[must_use]
    pub const fn number(&self) -> Option<u64> {
        self.envelope.number
    }

    /// The request that it was written for, where its sender named one.
    #[must_use]
    pub const fn request(&self) -> Option<Hash> {
        self.envelope.request
    }

    pub(super) const fn version(&self) -> u8 {
        self.envelope.v
    }

    /// What was odd about the clock.
    #[must_use]
    pub fn clock(&self) -> Option<&str> {
        self.envelope.clock.as_deref()
    }

    /// The signer that it introduces.
    #[must_use]
    pub fn introduces(&self) -> Option<Introduced> {
        let introduced = self.envelope.introduces.as_ref()?;
        Some(Introduced { id: introduced.id.clone(), key: *introduced.key.as_bytes() })
    }

    /// What was written.
    #[must_use]
    pub const fn body(&self) -> &Value {
        &self.envelope.body
    }

    /// The SHA-256 of its bytes.
    #[must_use]
    pub const fn hash(&self) -> Hash {
        self.hash
    }

    /// The bytes as they were written, hashed and signed.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Its number and hash.
    #[must_use]
    pub const fn head(&self) -> Head {
        Head { seq: self.envelope.seq, hash: self.hash }
    }

    pub(super) const fn envelope(&self) -> &Envelope {
        &self.envelope
    }

    /// Reads a row, and holds every column against the bytes.
    pub(super) fn of_row(row: EventRow, journal: &str) -> Result<Self, String> {
        let hash = Hash::of(&row.bytes);
        if row.hash != hash.as_bytes() {
            return Err(format!("its bytes have the hash {hash}, and another is kept with them"));
        }
        let envelope: Envelope =
            serde_json::from_slice(&row.bytes).map_err(|error| format!("its bytes are no event: {error}"))?;
        let differs = |what: &str| Err(format!("the {what} in its bytes is not the one kept with them"));
        if !(FIRST_VERSION..=WITH_FLOOR).contains(&envelope.v) {
            return Err(format!("it is written in version {}, and this program knows up to {WITH_FLOOR}", envelope.v));
        }
        if envelope.journal != journal {
            return Err(format!("it is from another journal: {}", envelope.journal));
        }
        if envelope.seq != row.seq {
            return differs("number");
        }
        if envelope.kind != row.kind {
            return differs("kind");
        }
        if envelope.scope != row.scope {
            return differs("scope");
        }
        if envelope.introduces.as_ref().map(|introduced| &introduced.id) != row.introduces.as_ref() {
            return differs("signer it introduces");
        }
        let time = |text: &str| Moment::parse(text).map_err(|refused| format!("its time cannot be read: {refused}"));
        let at = time(&envelope.at)?;
        let floor = envelope.floor.as_deref().map_or(Ok(at), time)?;
        Ok(Self { envelope, at, floor, hash, bytes: row.bytes })
    }
}

impl Envelope {
    /// Older programs read every event but those that say the floor of time.
    pub(super) const fn version(says_the_floor: bool) -> u8 {
        if says_the_floor { WITH_FLOOR } else { VERSION }
    }

    /// The bytes: one line of JSON without a line end.
    pub(super) fn bytes(&self) -> Vec<u8> {
        serde_json::to_vec(self).expect("every key is a string")
    }
}
