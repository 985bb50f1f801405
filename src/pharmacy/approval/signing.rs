//! Signing and approving a proposed formulary, the same for a command and for a page. In: an unlocked pharmacist and the
//! proposal. Out: the events of the journal, and `approval.yaml` beside the files that were signed.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::case::{CaseError, Cases, Person, TypingShare};
use crate::diagnostic::Fault;
use crate::formulary::{Approval, ApprovalStatus, Files, Formulary};
use crate::journal::Signer;
use crate::pharmacy::lint::lint;
use crate::quantity::Moment;

use super::{Answers, Changes, Progress, TypedPlace, shares_in_words};

/// A proposed formulary in its folder.
#[derive(Debug)]
pub struct Proposal {
    /// The folder.
    pub folder: PathBuf,
    /// What stands in it.
    pub formulary: Formulary,
    /// What differs from the one that was approved before.
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
    /// So many values are not typed yet.
    #[error("values that nobody has typed yet: {0}")]
    Left(usize),
    /// Somebody signs who filled the values in faster than anybody types.
    #[error("values were filled in at once: {}", shares_in_words(.0))]
    AtOnce(Vec<TypingShare>),
    /// What was typed once more came to something else, at these places.
    #[error("typed once more, these differ: {}", .0.join("; "))]
    Again(Vec<String>),
    /// `approval.yaml` cannot be written.
    #[error("{path}: {why}")]
    File {
        /// Where.
        path: PathBuf,
        /// Why.
        why: std::io::Error,
    },
}

/// Who signs what was filled in at once.
const THIRD: &str = "a third pharmacist, neither the author nor the one who filled them in, types some of them from their sources and signs: `countersign formulary approve`, or the page";

impl ApprovalError {
    /// Its code, where it is no refusal of its own.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Case(_) => "",
            Self::Rows(_) => "sheet-not-written",
            Self::Unanswered(_) => "lint-errors-unanswered",
            Self::Left(_) => "values-not-typed",
            Self::AtOnce(_) => "filled-at-once",
            Self::Again(_) => "typed-again-differs",
            Self::File { .. } => "file-not-written",
        }
    }

    /// What a row or a file needs; a refusal says so itself.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::Case(_) => "",
            Self::Rows(_) => "run `countersign formulary lint`",
            Self::Unanswered(_) => "mend each, or let a pharmacist answer it by name under `exceptions` of its file",
            Self::Left(_) => "type them: `countersign formulary approve --state` says in which files they are",
            Self::AtOnce(_) => THIRD,
            Self::Again(_) => "type these places from their sources, and hold them against the proposal again",
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

    /// How far its typing is.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn progress(&self, cases: &Cases) -> Result<Progress, CaseError> {
        Progress::read(cases, self)
    }

    /// Holds what somebody typed within these seconds against the proposal, at every place with an answer. What comes to
    /// the same is kept as typed by them; where it comes to something else, the places are written down and given back,
    /// and no value is.
    ///
    /// # Errors
    /// [`CaseError`], as [`Cases::to_be_approved`].
    pub fn take(
        &self,
        cases: &mut Cases,
        now: Moment,
        typist: (&Person, &Signer),
        answers: &Answers,
        seconds: u64,
    ) -> Result<Vec<&TypedPlace>, CaseError> {
        cases.to_be_approved(typist.0, &self.formulary)?;
        let typed = self.changes.typed.iter().filter(|place| answers.of(place).is_some());
        let (same, differ): (Vec<_>, Vec<_>) = typed.partition(|place| self.changes.agrees(place, answers));
        let mut files: BTreeMap<&str, BTreeMap<String, String>> = BTreeMap::new();
        for place in &same {
            files.entry(&place.file).or_default().insert(place.says(), place.digest());
        }
        let all = (same.len() as u64).max(1);
        for (_, values) in files {
            // Each file gets its part of the time.
            let seconds = seconds.saturating_mul(values.len() as u64) / all;
            cases.formulary_typed(now, typist, &self.formulary, values, seconds)?;
        }
        if !differ.is_empty() {
            let named = differ.iter().map(|place| place.says()).collect();
            cases.formulary_differs(now, typist.1, &self.formulary, named)?;
        }
        Ok(differ)
    }

    /// Somebody else than the author signs: every value was typed and came to the same, the person has typed some of them
    /// once more, and has read the words.
    ///
    /// # Errors
    /// [`ApprovalError`], as [`Cases::approve_formulary`]; a value is not typed yet, or differs when it is typed once more;
    /// the values were filled in at once by the same person; the lint finds an error that is not answered; or the file
    /// cannot be written.
    pub fn approve(
        &self,
        cases: &mut Cases,
        now: Moment,
        second: (&Person, &Signer),
        again: &Answers,
    ) -> Result<Approval, ApprovalError> {
        self.answered(now)?;
        cases.to_be_approved(second.0, &self.formulary)?;
        let progress = self.progress(cases)?;
        progress.may_be_signed_by(second.0)?;
        let wanted = progress.again(&self.changes);
        let differ = wanted.iter().filter(|place| !self.changes.agrees(place, again));
        let differ: Vec<String> = differ.map(|place| place.says()).collect();
        if !differ.is_empty() {
            cases.formulary_differs(now, second.1, &self.formulary, differ.clone())?;
            return Err(ApprovalError::Again(differ));
        }
        let (by, again) = (progress.shares(), wanted.len());
        let approval = cases.approve_formulary(now, second.0, second.1, &self.formulary, by, again)?;
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
