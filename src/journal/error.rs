//! What can go wrong with a journal, each with what to do now.

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Why the journal could not be used. Nothing that was acknowledged before is lost by any of these.
#[derive(Debug, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's message says what it is")]
pub enum JournalError {
    #[error("there is no journal in {}", folder.display())]
    NotThere { folder: PathBuf },
    #[error("{} is there already", path.display())]
    AlreadyThere { path: PathBuf },
    #[error("{} is not a journal: {why}", path.display())]
    NotAJournal { path: PathBuf, why: String },
    #[error("{} is of schema version {found}, and this program knows versions up to {known}", path.display())]
    Newer { path: PathBuf, found: i64, known: i64 },
    #[error("the store key is missing: there is no {}", path.display())]
    StoreKeyMissing { path: PathBuf },
    #[error("{} is not a store key: 64 hex digits are expected", path.display())]
    StoreKeyMalformed { path: PathBuf },
    #[error("the store key in {} is that of another journal", path.display())]
    StoreKeyWrong { path: PathBuf },
    #[error("{} can be read or written by others (mode {mode:03o})", path.display())]
    OpenToOthers { path: PathBuf, mode: u32 },
    #[error("the key {} is damaged, or was made under another store key", path.display())]
    KeyDamaged { path: PathBuf },
    #[error("there is a key for {scope} already")]
    KeyThere { scope: String },
    #[error("a PIN has at least {least} characters")]
    PinTooShort { least: usize },
    #[error("another process has held the journal for 5 seconds: nothing was written")]
    Locked,
    #[error("the disk is full: nothing was written")]
    Full,
    #[error("{} cannot be written", path.display())]
    NotWritable { path: PathBuf },
    #[error("{}: {error}", path.display())]
    File { path: PathBuf, error: io::Error },
    #[error("event {seq} is damaged: {why}")]
    EventDamaged { seq: u64, why: String },
    #[error("{group} is not whole: {why}")]
    EventsMissing { group: String, why: String },
    #[error("the file of the journal is damaged: {why}")]
    Damaged { why: String },
    #[error("{path} is not a backup of a journal: {why}", path = path.display())]
    NotABackup { path: PathBuf, why: String },
    #[error("the passphrase does not open {}", path.display())]
    WrongPassphrase { path: PathBuf },
    #[error("line {line} of the {what} is not as it was written: {why}")]
    Altered { what: &'static str, line: u64, why: String },
    #[error("the {what} is of another journal: {found}")]
    OfAnother { what: &'static str, found: String },
    #[error("`{id}` signs, and the journal knows no such key")]
    SignerUnknown { id: String },
    #[error("`{id}` cannot be the name of a person who signs")]
    SignerName { id: String },
    #[error("the machine gives no random numbers: {0}")]
    NoRandomness(#[from] getrandom::Error),
    #[error("the database refused: {0}")]
    Database(rusqlite::Error),
}

impl JournalError {
    /// The stable code: kebab-case.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NotThere { .. } => "journal-not-there",
            Self::AlreadyThere { .. } => "journal-there-already",
            Self::NotAJournal { .. } => "journal-not-one",
            Self::Newer { .. } => "journal-newer",
            Self::StoreKeyMissing { .. } => "store-key-missing",
            Self::StoreKeyMalformed { .. } => "store-key-malformed",
            Self::StoreKeyWrong { .. } => "store-key-wrong",
            Self::OpenToOthers { .. } => "key-open-to-others",
            Self::KeyDamaged { .. } => "key-damaged",
            Self::KeyThere { .. } => "key-there-already",
            Self::PinTooShort { .. } => "pin-too-short",
            Self::Locked => "journal-locked",
            Self::Full => "journal-disk-full",
            Self::NotWritable { .. } => "journal-not-writable",
            Self::File { .. } => "journal-file",
            Self::EventDamaged { .. } => "event-damaged",
            Self::EventsMissing { .. } => "events-missing",
            Self::Damaged { .. } => "journal-damaged",
            Self::NotABackup { .. } => "backup-not-one",
            Self::WrongPassphrase { .. } => "backup-passphrase",
            Self::Altered { .. } => "proof-altered",
            Self::OfAnother { .. } => "proof-of-another",
            Self::SignerUnknown { .. } => "signer-unknown",
            Self::SignerName { .. } => "signer-name",
            Self::NoRandomness(_) => "no-randomness",
            Self::Database(_) => "journal-database",
        }
    }

    /// What to do now.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::NotThere { .. } => "name the folder of one, or make one: countersign journal create DIR".to_owned(),
            Self::AlreadyThere { .. } => "name a folder that does not exist yet; nothing was changed".to_owned(),
            Self::NotAJournal { .. } => "name the folder of a journal; nothing was changed".to_owned(),
            Self::Newer { .. } => "use the newer program that wrote it; nothing was changed".to_owned(),
            Self::StoreKeyMissing { .. } | Self::StoreKeyMalformed { .. } | Self::StoreKeyWrong { .. } => {
                "bring the journal's own key back (every backup holds it), or name its place in COUNTERSIGN_STORE_KEY"
                    .to_owned()
            }
            Self::OpenToOthers { path, .. } => format!("chmod 600 {}", path.display()),
            Self::KeyDamaged { .. } => "bring the file back from a backup: countersign journal restore".to_owned(),
            Self::KeyThere { .. } => "a key is made once for each".to_owned(),
            Self::PinTooShort { .. } => "choose a longer one".to_owned(),
            Self::Locked => "do it again; if it stays so, look for a process that has stopped in the middle".to_owned(),
            Self::Full => "make room, and do it again".to_owned(),
            Self::NotWritable { .. } => {
                "the folder and everything in it must belong to the account that runs this, and be writable".to_owned()
            }
            Self::File { .. } => "look at the path, its rights and the space left".to_owned(),
            Self::EventDamaged { .. } | Self::EventsMissing { .. } | Self::Damaged { .. } => {
                "keep the folder as it is; run `countersign journal verify`; restore the last backup into a new folder"
                    .to_owned()
            }
            Self::NotABackup { .. } => "name a file that `countersign journal backup` wrote".to_owned(),
            Self::WrongPassphrase { .. } => "type the passphrase of that backup".to_owned(),
            Self::Altered { .. } => "take another copy of it".to_owned(),
            Self::OfAnother { .. } => "name one of this journal".to_owned(),
            Self::SignerUnknown { .. } => "an event that introduces the key comes first".to_owned(),
            Self::SignerName { .. } => "choose another".to_owned(),
            Self::NoRandomness(_) => "restart the machine".to_owned(),
            Self::Database(_) => "nothing was written; report this".to_owned(),
        }
    }

    /// Whether the program is at fault, rather than what it was given or where it runs.
    #[must_use]
    pub const fn is_fault(&self) -> bool {
        matches!(self, Self::SignerUnknown { .. } | Self::SignerName { .. } | Self::KeyThere { .. } | Self::Database(_))
    }

    /// Whether no journal is where one was named: another place was meant, rather than this one being unusable.
    #[must_use]
    pub const fn is_another_place(&self) -> bool {
        matches!(self, Self::NotThere { .. } | Self::NotAJournal { .. } | Self::Newer { .. })
    }

    /// Whether the record itself is not as it was written.
    #[must_use]
    pub const fn is_damage(&self) -> bool {
        matches!(self, Self::EventDamaged { .. } | Self::EventsMissing { .. } | Self::Damaged { .. })
    }

    pub(super) fn file(path: &Path) -> impl Fn(io::Error) -> Self + '_ {
        move |error| match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => Self::Full,
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Self::NotWritable { path: path.to_owned() }
            }
            io::ErrorKind::AlreadyExists | io::ErrorKind::DirectoryNotEmpty => {
                Self::AlreadyThere { path: path.to_owned() }
            }
            _ => Self::File { path: path.to_owned(), error },
        }
    }

    pub(super) fn database(path: &Path) -> impl Fn(rusqlite::Error) -> Self + '_ {
        move |error| match error.sqlite_error_code() {
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                Self::NotWritable { path: path.to_owned() }
            }
            Some(ErrorCode::NotADatabase) => {
                Self::NotAJournal { path: path.to_owned(), why: "it is no database".to_owned() }
            }
            _ => error.into(),
        }
    }
}
