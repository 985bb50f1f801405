//! Which journal a command is about, and what is said when it cannot be used. No journal is ever assumed.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::case::CaseError;
use crate::diagnostic::Fault;
use crate::journal::{Journal, JournalError, VerifyError};

use super::answer::Answer;
use super::input::Refused;
use super::{Exit, Format};

#[derive(Debug, Args)]
pub(super) struct JournalArg {
    /// The folder of the journal
    #[arg(long, value_name = "DIR", env = "COUNTERSIGN_JOURNAL", hide_env_values = true)]
    journal: Option<PathBuf>,
}

/// Why a command that uses the journal gives no result.
#[derive(Debug)]
pub(super) enum JournalCommandError {
    /// What was typed is refused.
    Refused(Refused),
    /// The journal cannot be used.
    Journal(JournalError),
    /// The record is not as it was written.
    Broken(VerifyError),
}

impl JournalArg {
    /// Whether one is named.
    pub(super) fn is_named(&self) -> bool {
        self.journal.as_ref().is_some_and(|folder| !folder.as_os_str().is_empty())
    }

    /// The folder that is named.
    pub(super) fn folder(&self) -> Option<&std::path::Path> {
        self.journal.as_deref()
    }

    /// Opens it to be looked through, also where nothing can be written.
    pub(super) fn open_to_verify(&self) -> Result<Journal, JournalCommandError> {
        match (self.open(), self.folder()) {
            (Err(JournalCommandError::Journal(JournalError::NotWritable { .. })), Some(folder)) => {
                Ok(Journal::open_to_read(folder)?)
            }
            (opened, _) => opened,
        }
    }

    pub(super) fn open(&self) -> Result<Journal, JournalCommandError> {
        let Some(folder) = self.journal.as_ref().filter(|folder| !folder.as_os_str().is_empty()) else {
            let fault = Fault::new("journal-not-named", "no journal is named")
                .help("name its folder: --journal DIR, or set COUNTERSIGN_JOURNAL; `countersign journal create DIR` makes one");
            return Err(Refused::one("--journal", fault).into());
        };
        Ok(Journal::open(folder)?)
    }
}

impl JournalCommandError {
    pub(super) fn answer(self, format: Format) -> Answer {
        match self {
            Self::Refused(refused) => Answer::refused(&refused, format),
            Self::Journal(error) | Self::Broken(VerifyError::Journal(error)) if !error.is_damage() => {
                if error.is_fault() {
                    return Answer::fault(&error.to_string());
                }
                let fault = Fault::new(error.code(), error.to_string()).help(error.help());
                Answer::refused(&Refused::one("journal", fault), format)
            }
            Self::Journal(error) => Self::Broken(error.into()).answer(format),
            Self::Broken(error) => {
                let (event, place, why) = match &error {
                    VerifyError::Event { seq, why } | VerifyError::Journal(JournalError::EventDamaged { seq, why }) => {
                        (Some(*seq), format!("event {seq}"), why.clone())
                    }
                    VerifyError::File(why) => (None, "the file".to_owned(), why.clone()),
                    VerifyError::Index(why) => (None, "the index beside the events".to_owned(), why.clone()),
                    VerifyError::Journal(error) => (None, "the file".to_owned(), error.to_string()),
                };
                broken(event, &place, &error, &why, format)
            }
        }
    }
}

/// The record is not as it was written: exit 4, whatever was asked.
fn broken(event: Option<u64>, place: &str, error: &VerifyError, why: &str, format: Format) -> Answer {
    match format {
        Format::Json => {
            let data = json!({"version": 1, "verdict": "broken", "event": event, "place": place, "why": why});
            Answer::json(&data, Exit::Stopped)
        }
        Format::Text => Answer::text(format!("BROKEN: {place}: {why}\n{}\n", error.help()), Exit::Stopped),
    }
}

impl From<Refused> for JournalCommandError {
    fn from(refused: Refused) -> Self {
        Self::Refused(refused)
    }
}

impl From<JournalError> for JournalCommandError {
    fn from(error: JournalError) -> Self {
        Self::Journal(error)
    }
}

impl From<CaseError> for JournalCommandError {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::Journal(error) => Self::Journal(error),
            CaseError::Refused(refusal) => {
                Refused::one("journal", Fault::new(refusal.code, refusal.message).help(refusal.help)).into()
            }
            CaseError::Form(faults) => Self::Refused(Refused(faults)),
            CaseError::Fault(message) => Self::Broken(VerifyError::File(message)),
        }
    }
}

impl From<VerifyError> for JournalCommandError {
    fn from(error: VerifyError) -> Self {
        Self::Broken(error)
    }
}
