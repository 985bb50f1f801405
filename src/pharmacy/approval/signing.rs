//! Signing and approving a proposed formulary, the same for a command and for a page. In: an unlocked pharmacist and the
//! proposal. Out: the events of the journal, and `approval.yaml` beside the files that were signed.

use std::path::{Path, PathBuf};

use crate::case::{CaseError, Cases, Person};
use crate::diagnostic::Fault;
use crate::formulary::{Approval, ApprovalStatus, Files, Formulary};
use crate::journal::Signer;
use crate::pharmacy::lint::lint;
use crate::quantity::Moment;

use super::{Answers, Changes, TypedPlace};

/// A proposed formulary in its folder.
#[derive(Debug)]
pub struct Proposal {
    /// The folder.
    pub folder: PathBuf,
    /// What stands in it.
    pub formulary: Formulary,
    /// What is otherwise than in the one that was approved before.
    pub changes: Changes,
}

/// Why a proposal cannot be looked at, signed or approved.
#[derive(Debug, thiserror::Error)]
pub enum ApprovalError {
    /// It is refused, or the journal cannot be used.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// A file cannot be taken apart into rows.
    #[error("{0}")]
    Rows(String),
    /// The lint finds errors that nobody answers for.
    #[error("the lint finds what nobody answers for: {}", .0.join("; "))]
    Unanswered(Vec<String>),
    /// `approval.yaml` cannot be written.
    #[error("{path}: {why}")]
    File {
        /// Where.
        path: PathBuf,
        /// Why.
        why: std::io::Error,
    },
}

impl ApprovalError {
    /// What a row or a file needs; a refusal says so itself.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::Case(_) => "",
            Self::Rows(_) => "run `countersign formulary lint`",
            Self::Unanswered(_) => "mend each, or let a pharmacist answer it by name under `exceptions` of its file",
            Self::File { .. } => "look at the permissions of the folder, and do it once more",
        }
    }
}

impl Proposal {
    /// The formulary of a folder, read whole, as proposed to this journal.
    ///
    /// # Errors
    /// [`ApprovalError`] when the journal cannot be read, a file cannot be taken apart, or the approval that the journal holds
    /// already cannot be written beside the files.
    pub fn of(cases: &Cases, folder: &Path, formulary: Formulary) -> Result<Self, ApprovalError> {
        let approved = cases.approved_last()?;
        let changes = Changes::between(approved.as_ref(), &formulary).map_err(ApprovalError::Rows)?;
        let proposal = Self { folder: folder.to_owned(), formulary, changes };
        // The journal comes first, the file after it: where the file could not be written then, it is now.
        let both = approved.as_ref().filter(|approved| approved.fingerprint() == proposal.formulary.fingerprint());
        if let (Some(both), ApprovalStatus::Signed { .. }) =
            (both.and_then(Formulary::approval), proposal.formulary.standing())
        {
            proposal.write(both)?;
        }
        Ok(proposal)
    }

    /// Refuses a proposal in which the lint finds an error that is not answered, by file, line and code: the message holds
    /// values, which the second pharmacist has yet to type.
    ///
    /// # Errors
    /// [`ApprovalError::Unanswered`].
    pub fn answered(&self, now: Moment) -> Result<(), ApprovalError> {
        self.answered_or(now, |place, fault| format!("{place} [{}]", fault.code))
    }

    fn answered_or(&self, now: Moment, says: impl Fn(&str, &Fault) -> String) -> Result<(), ApprovalError> {
        let report = lint(Files::of_texts("formulary", self.formulary.files().to_vec()), now);
        let errors: Vec<String> = report.unanswered_errors().map(|(place, fault)| says(&place, fault)).collect();
        if errors.is_empty() { Ok(()) } else { Err(ApprovalError::Unanswered(errors)) }
    }

    /// Its author signs exactly these bytes.
    ///
    /// # Errors
    /// [`ApprovalError`], as [`Cases::sign_formulary`]; the lint finds an error that is not answered; or the file cannot be
    /// written.
    pub fn sign(&self, cases: &mut Cases, now: Moment, author: (&Person, &Signer)) -> Result<Approval, ApprovalError> {
        self.answered_or(now, |place, fault| format!("{place}: {} [{}]", fault.message, fault.code))?;
        let approval = cases.sign_formulary(now, author.0, author.1, &self.formulary)?;
        self.write(&approval)?;
        Ok(approval)
    }

    /// Holds what the second pharmacist typed against the proposal. Where it comes to something else, the places are
    /// written down and given back, and no value is.
    ///
    /// # Errors
    /// [`CaseError`], as [`Cases::to_be_approved`].
    pub fn compare(
        &self,
        cases: &mut Cases,
        now: Moment,
        second: (&Person, &Signer),
        answers: &Answers,
    ) -> Result<Vec<&TypedPlace>, CaseError> {
        cases.to_be_approved(second.0, &self.formulary)?;
        let differ = self.changes.differ(answers);
        if !differ.is_empty() {
            let named = differ.iter().map(|place| place.says()).collect();
            cases.formulary_differs(now, second.1, &self.formulary, named)?;
        }
        Ok(differ)
    }

    /// The second pharmacist came to the same at every place, and has read the words.
    ///
    /// # Errors
    /// [`ApprovalError`], as [`Cases::approve_formulary`]; the lint finds an error that is not answered; or the file cannot
    /// be written.
    pub fn approve(
        &self,
        cases: &mut Cases,
        now: Moment,
        second: (&Person, &Signer),
    ) -> Result<Approval, ApprovalError> {
        self.answered(now)?;
        let typed = self.changes.typed.len();
        let approval = cases.approve_formulary(now, second.0, second.1, &self.formulary, typed)?;
        self.write(&approval)?;
        Ok(approval)
    }

    /// Writes the approval beside the files, whole or not at all.
    fn write(&self, approval: &Approval) -> Result<(), ApprovalError> {
        let (path, beside) = (self.folder.join("approval.yaml"), self.folder.join(".approval.new"));
        std::fs::write(&beside, approval.text())
            .and_then(|()| std::fs::rename(&beside, &path))
            .map_err(|why| ApprovalError::File { path, why })
    }
}
