//! Who looked: sign-ins and readings as events of a chain of their own, in a file of its own beside the journal.
//!
//! A reading never waits for it: another file is another lock, and who looks is written down after the answer. Each event
//! is one line of JSON that names the hash of the one before, with a tag under a key from the store key. It holds no
//! value, and no name that nobody here has.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension as _, TransactionBehavior};
use serde::{Deserialize, Serialize};

use super::head::{Hash, Head};
use super::keys::Keys;
use super::{Journal, JournalError, files};
use crate::quantity::Moment;

pub(super) const DATABASE: &str = "access.db";

/// Apart from everything else of which the journal makes a proof.
const ACCESS: &[u8] = b"countersign access 1\0";

/// How long one access waits for another process that writes; then it is left out, and counted.
const PATIENCE: Duration = Duration::from_millis(500);

const SCHEMA: &str = "
CREATE TABLE IF NOT EXISTS access (
    seq INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    who TEXT,
    bytes BLOB NOT NULL,
    tag BLOB NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS access_of_person ON access (who, kind);
CREATE TRIGGER IF NOT EXISTS access_is_the_next BEFORE INSERT ON access
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM access)
BEGIN SELECT RAISE(ABORT, 'an access is appended after the last'); END;
CREATE TRIGGER IF NOT EXISTS access_is_not_changed BEFORE UPDATE ON access
BEGIN SELECT RAISE(ABORT, 'an access is never changed'); END;
CREATE TRIGGER IF NOT EXISTS access_is_not_removed BEFORE DELETE ON access
BEGIN SELECT RAISE(ABORT, 'an access is never removed'); END;
";

/// What somebody did who looked, or tried to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AccessKind {
    /// Signed in.
    SignIn,
    /// Typed a PIN for what is signed with it, beside a session.
    PinGiven,
    /// Tried a PIN that was wrong, or a name that nobody here has.
    SignInRefused,
    /// Read a case.
    Case,
    /// Read a card.
    Card,
    /// Read a record.
    Record,
    /// Read what the journal holds.
    Journal,
    /// Took every event out.
    Export,
    /// Some accesses could not be written down.
    Missed,
}

/// One access, as it is written down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Access {
    /// What was done.
    pub kind: AccessKind,
    /// Which person of the journal; nothing where it is not known.
    pub who: Option<String>,
    /// Which case.
    pub scope: Option<String>,
    /// From where: an address, or the command line.
    pub from: String,
}

/// One access that was written down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccessEvent {
    /// Its number in the chain of accesses.
    pub seq: u64,
    /// The hash of its bytes.
    pub hash: Hash,
    /// When.
    pub at: Moment,
    /// What.
    pub access: Access,
}

/// What a person should know about sign-ins under their name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignIns {
    /// The last one that was right, and from where.
    pub last: Option<(Moment, String)>,
    /// How many wrong tries there were since.
    pub wrong_since: u64,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct AccessLine {
    v: u8,
    journal: String,
    seq: u64,
    previous: Hash,
    at: String,
    kind: AccessKind,
    who: Option<String>,
    scope: Option<String>,
    from: String,
}

/// The chain of accesses of one journal.
#[derive(Debug)]
pub struct AccessLog {
    connection: Connection,
    keys: Keys,
    journal: String,
}

impl AccessKind {
    const fn word(self) -> &'static str {
        match self {
            Self::SignIn => "sign-in",
            Self::PinGiven => "pin-given",
            Self::SignInRefused => "sign-in-refused",
            Self::Case => "case",
            Self::Card => "card",
            Self::Record => "record",
            Self::Journal => "journal",
            Self::Export => "export",
            Self::Missed => "missed",
        }
    }

    /// In words.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::SignIn => "signed in",
            Self::PinGiven => "signed something with the PIN",
            Self::SignInRefused => "refused: name and PIN",
            Self::Case => "read the case",
            Self::Card => "read the card",
            Self::Record => "read the record",
            Self::Journal => "read the journal",
            Self::Export => "exported the journal",
            Self::Missed => "some accesses were not written down",
        }
    }
}

impl Journal {
    /// The chain of accesses of this journal; it is made where there is none.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be opened or made.
    pub fn accesses(&self) -> Result<AccessLog, JournalError> {
        AccessLog::open(&self.folder, &self.id)
    }
}

impl AccessLog {
    fn open(folder: &Path, journal: &str) -> Result<Self, JournalError> {
        let path = folder.join(DATABASE);
        let refuse = JournalError::database(&path);
        if !path.exists() {
            match files::create_new(&path) {
                Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => {
                    return Err(JournalError::file(&path)(error));
                }
                _ => {}
            }
        }
        let connection = Connection::open(&path).map_err(&refuse)?;
        connection.busy_timeout(PATIENCE).map_err(&refuse)?;
        connection.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(())).map_err(&refuse)?;
        connection.pragma_update(None, "trusted_schema", false).map_err(&refuse)?;
        connection.execute_batch(SCHEMA).map_err(&refuse)?;
        let keys = Keys::open(&files::store_key(folder), &files::case_keys(folder))?;
        Ok(Self { connection, keys, journal: journal.to_owned() })
    }

    /// Writes one access down.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be written now.
    pub fn note(&mut self, now: Moment, access: &Access) -> Result<(), JournalError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let last: Option<(i64, Vec<u8>)> = transaction
            .query_row("SELECT seq, bytes FROM access ORDER BY seq DESC LIMIT 1", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()?;
        let (seq, previous) = last.map_or((0, Hash::NONE), |(seq, bytes)| (seq, Hash::of(&bytes)));
        let line = AccessLine {
            v: 1,
            journal: self.journal.clone(),
            seq: u64::try_from(seq).unwrap_or_default() + 1,
            previous,
            at: now.to_utc(),
            kind: access.kind,
            who: access.who.clone(),
            scope: access.scope.clone(),
            from: access.from.clone(),
        };
        let bytes = serde_json::to_vec(&line).expect("every key is a string");
        let tag = self.keys.proof(&[ACCESS, &bytes].concat());
        transaction.execute(
            "INSERT INTO access (seq, kind, who, bytes, tag) VALUES (?1, ?2, ?3, ?4, ?5)",
            (seq + 1, access.kind.word(), &access.who, &bytes, tag),
        )?;
        transaction.commit()?;
        Ok(())
    }

    /// Hands on every access in order, each held against its tag, its columns and the one before. Gives the last.
    ///
    /// # Errors
    /// [`JournalError`] for the first that is not as it was written.
    pub fn each(&self, mut take: impl FnMut(AccessEvent)) -> Result<Option<Head>, JournalError> {
        let mut statement = self.connection.prepare("SELECT seq, kind, who, bytes, tag FROM access ORDER BY seq")?;
        let mut rows = statement.query([])?;
        let mut last: Option<Head> = None;
        while let Some(row) = rows.next()? {
            let (expected, previous) = last.map_or((1, Hash::NONE), |last| (last.seq + 1, last.hash));
            let damaged = |why: &str| JournalError::Damaged { why: format!("access {expected}: {why}") };
            let unreadable = |error: rusqlite::Error| damaged(&error.to_string());
            let (seq, kind): (i64, String) = (row.get(0).map_err(unreadable)?, row.get(1).map_err(unreadable)?);
            let who: Option<String> = row.get(2).map_err(unreadable)?;
            let (bytes, tag): (Vec<u8>, Vec<u8>) = (row.get(3).map_err(unreadable)?, row.get(4).map_err(unreadable)?);
            if !self.keys.is_proof(&[ACCESS, &bytes].concat(), &tag) {
                return Err(damaged("its tag is not the store's"));
            }
            let line: AccessLine = serde_json::from_slice(&bytes).map_err(|error| damaged(&error.to_string()))?;
            if line.seq != expected || u64::try_from(seq) != Ok(expected) {
                return Err(damaged("it is missing"));
            }
            if line.previous != previous || line.journal != self.journal {
                return Err(damaged("it does not follow the one before"));
            }
            if line.kind.word() != kind || line.who != who {
                return Err(damaged("its columns are not those in its bytes"));
            }
            let at = Moment::parse(&line.at).map_err(|refused| damaged(&refused.to_string()))?;
            let hash = Hash::of(&bytes);
            last = Some(Head { seq: line.seq, hash });
            let access = Access { kind: line.kind, who: line.who, scope: line.scope, from: line.from };
            take(AccessEvent { seq: line.seq, hash, at, access });
        }
        Ok(last)
    }

    /// Number and hash of the last access; nothing before the first.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be read.
    pub fn head(&self) -> Result<Option<Head>, JournalError> {
        let sql = "SELECT seq, bytes FROM access ORDER BY seq DESC LIMIT 1";
        let last: Option<(i64, Vec<u8>)> =
            self.connection.query_row(sql, [], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
        Ok(last.map(|(seq, bytes)| Head { seq: u64::try_from(seq).unwrap_or_default(), hash: Hash::of(&bytes) }))
    }

    /// Whether it holds this very access.
    pub(super) fn holds(&self, head: Head) -> Result<bool, JournalError> {
        let seq = i64::try_from(head.seq).unwrap_or(i64::MAX);
        let sql = "SELECT bytes FROM access WHERE seq = ?1";
        let bytes: Option<Vec<u8>> = self.connection.query_row(sql, [seq], |row| row.get(0)).optional()?;
        Ok(bytes.is_some_and(|bytes| Hash::of(&bytes) == head.hash))
    }

    /// Writes a copy of one moment into an empty file.
    #[cfg(feature = "backup")]
    pub(super) fn copy_into(&self, path: &Path) -> Result<(), JournalError> {
        let name = path.to_str().ok_or_else(|| JournalError::NotWritable { path: path.to_owned() })?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        Ok(())
    }

    /// Reads every access, and that each head that was kept elsewhere is among them.
    ///
    /// # Errors
    /// [`JournalError`] for the first that is not as it was written.
    pub fn verify(&self, against: &[Head]) -> Result<Option<Head>, JournalError> {
        let mut kept: BTreeMap<u64, Vec<Hash>> = BTreeMap::new();
        against.iter().for_each(|head| kept.entry(head.seq).or_default().push(head.hash));
        let mut differs = None;
        let last = self.each(|one| {
            if kept.remove(&one.seq).is_some_and(|known| known.iter().any(|hash| *hash != one.hash)) {
                differs = differs.or(Some(one.seq));
            }
        })?;
        match differs
            .map(|seq| (seq, "another was kept elsewhere"))
            .or_else(|| kept.first_key_value().map(|(seq, _)| (*seq, "it is missing: it was known elsewhere")))
        {
            Some((seq, why)) => Err(JournalError::Damaged { why: format!("access {seq}: {why}") }),
            None => Ok(last),
        }
    }

    /// The last right sign-in of a person, and the wrong tries since.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be read.
    pub fn sign_ins_of(&self, who: &str) -> Result<SignIns, JournalError> {
        let right = AccessKind::SignIn.word();
        let sql = "SELECT seq, bytes FROM access WHERE who = ?1 AND kind = ?2 ORDER BY seq DESC LIMIT 1";
        let last: Option<(i64, Vec<u8>)> =
            self.connection.query_row(sql, (who, right), |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
        let since = last.as_ref().map_or(0, |(seq, _)| *seq);
        let sql = "SELECT count(*) FROM access WHERE who = ?1 AND kind = ?2 AND seq > ?3";
        let wrong: i64 =
            self.connection.query_row(sql, (who, AccessKind::SignInRefused.word(), since), |row| row.get(0))?;
        let read = |bytes: &[u8]| {
            let line: AccessLine = serde_json::from_slice(bytes).ok()?;
            Some((Moment::parse(&line.at).ok()?, line.from))
        };
        let last = last.and_then(|(_, bytes)| read(&bytes));
        Ok(SignIns { last, wrong_since: u64::try_from(wrong).unwrap_or_default() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-RECORD
    #[test]
    fn accesses_are_a_chain_of_their_own_and_a_change_is_found() {
        let folder = std::env::temp_dir().join(format!("countersign-access-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let mut log = journal.accesses().expect("it is made");
        let access = |kind, from: &str| Access { kind, who: Some("a".to_owned()), scope: None, from: from.to_owned() };
        for (kind, from) in [
            (AccessKind::SignInRefused, "10.0.0.9"),
            (AccessKind::SignIn, "10.0.0.5"),
            (AccessKind::Card, "10.0.0.5"),
            (AccessKind::SignInRefused, "10.0.0.7"),
            (AccessKind::SignInRefused, "10.0.0.7"),
        ] {
            // While the journal itself is held by another writer.
            let other = Connection::open(files::database(&folder)).expect("the database");
            other.execute_batch("BEGIN IMMEDIATE").expect("nobody writes");
            log.note(now, &access(kind, from)).expect("nothing is waited for");
        }
        let signed_in = log.sign_ins_of("a").expect("it can be read");
        assert_eq!(signed_in.wrong_since, 2);
        assert_eq!(signed_in.last.map(|(_, from)| from).as_deref(), Some("10.0.0.5"));
        let mut seen = Vec::new();
        let head = log.each(|one| seen.push(one.access.kind)).expect("whole").expect("a head");
        assert_eq!((head.seq, seen.len(), seen[2]), (5, 5, AccessKind::Card));
        assert_eq!(log.head().expect("it can be read"), Some(head));
        assert!(log.verify(&[head]).is_ok());
        let other = Head { seq: 6, hash: head.hash };
        assert!(log.verify(&[other]).is_err() && log.verify(&[Head { seq: 2, ..head }]).is_err());
        for change in [
            "DROP TRIGGER access_is_not_removed; DELETE FROM access WHERE seq = 2",
            "DROP TRIGGER access_is_not_changed; UPDATE access SET who = 'b' WHERE seq = 4",
            "DROP TRIGGER access_is_not_changed; UPDATE access SET bytes = x'7b7d' WHERE seq = 5",
        ] {
            log.connection.execute_batch("BEGIN").expect("SQLite");
            log.connection.execute_batch(change).expect("the file can be changed");
            assert!(log.each(|_| {}).is_err(), "{change}");
            log.connection.execute_batch("ROLLBACK").expect("SQLite");
            assert!(log.each(|_| {}).is_ok());
        }
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
