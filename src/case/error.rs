//! Why something cannot be done with a case: refused, or the program or the journal at fault.

use crate::diagnostic::{Fault, Source};
use crate::formulary::Faulty;
use crate::journal::JournalError;

/// Why something cannot be done.
#[derive(Debug, thiserror::Error)]
pub enum CaseError {
    /// Something a person must change: what was found, and what to do.
    #[error("{0}")]
    Refused(Refusal),
    /// A form with its faults.
    #[error("the form is refused")]
    Form(Vec<(Source, Vec<Fault>)>),
    /// The journal.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The program is at fault: nothing it says may be used.
    #[error("{0}")]
    Fault(String),
}

/// A refusal of an action.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Refusal {
    /// Kebab-case, stable.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// What to do.
    pub help: String,
    /// The field of the request that it is about; nothing where it is about the whole.
    pub field: Option<&'static str>,
    /// What was typed there, and which part of it is refused.
    pub typed: Option<(String, std::ops::Range<usize>)>,
}

impl Refusal {
    /// About a request as a whole.
    #[must_use]
    pub fn new(code: &'static str, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { code, message: message.into(), help: help.into(), field: None, typed: None }
    }

    /// About one field of it.
    #[must_use]
    pub const fn in_field(mut self, field: &'static str) -> Self {
        self.field = Some(field);
        self
    }
}

/// A refusal.
pub(super) fn refuse(code: &'static str, message: impl Into<String>, help: impl Into<String>) -> CaseError {
    CaseError::Refused(Refusal::new(code, message, help))
}

impl From<Faulty> for CaseError {
    fn from(faulty: Faulty) -> Self {
        Self::Form(faulty.0)
    }
}

/// What was typed outside a form.
impl From<crate::quantity::Refused> for CaseError {
    fn from(refused: crate::quantity::Refused) -> Self {
        refuse(refused.problem.code(), refused.to_string(), refused.help)
    }
}

/// Numbers so far apart that they cannot be kept exactly.
impl From<crate::quantity::TooLarge> for CaseError {
    fn from(too_large: crate::quantity::TooLarge) -> Self {
        refuse("too-large", too_large.to_string(), "go back to what was typed: numbers so far apart are a slip")
    }
}

/// What was typed for one value of a form.
impl From<crate::document::Refusal> for CaseError {
    fn from(refusal: crate::document::Refusal) -> Self {
        refuse(refusal.code, refusal.message, refusal.help.unwrap_or_default())
    }
}
