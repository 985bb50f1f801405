//! What one second pharmacist has typed so far: found among their drafts, kept there, and made into the answers of an
//! approval. The proposal itself takes no part in what is kept.

use axum::http::StatusCode;

use super::counted;
use crate::pharmacy::approval::{Answers, Proposal, TypedPlace, fault_of};
use crate::web::answer::Refusal;
use crate::web::drafts::LONG;
use crate::web::sent::TypedFields;
use crate::web::session::Session;
use crate::web::site::Site;

/// What one person has typed so far.
pub(super) struct Mine {
    pub(super) proposal: Proposal,
    /// The files with anything to be typed, in their order.
    pub(super) files: Vec<String>,
    /// For each place to be typed, in the order of the changes.
    pub(super) typed: Vec<String>,
}

impl Mine {
    pub(super) fn found(site: &Site, session: &Session, proposal: Proposal) -> Self {
        let mut files: Vec<String> = Vec::new();
        for place in &proposal.changes.typed {
            if !files.contains(&place.file) {
                files.push(place.file.clone());
            }
        }
        let typed = vec![String::new(); proposal.changes.typed.len()];
        let mut mine = Self { proposal, files, typed };
        for number in 1..=mine.files.len() {
            if let Some(draft) = site.drafts.find(&session.signer, &mine.task(number)) {
                // A number that is not of this file is not in a draft of it.
                let _ = mine.take(number, &draft);
            }
        }
        mine
    }

    pub(super) fn task(&self, number: usize) -> String {
        format!("{LONG}{} {number}", self.proposal.formulary.fingerprint())
    }

    pub(super) fn of_file(&self, number: usize) -> Result<impl Iterator<Item = (usize, &TypedPlace)>, Refusal> {
        let file = number.checked_sub(1).and_then(|at| self.files.get(at)).ok_or_else(|| {
            Refusal::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", "go back to the files")
        })?;
        Ok(self.proposal.changes.typed.iter().enumerate().filter(move |(_, place)| place.file == *file))
    }

    pub(super) fn take(&mut self, number: usize, sent: &TypedFields) -> Result<(), Refusal> {
        let mine: Vec<usize> = self.of_file(number)?.map(|(at, _)| at).collect();
        for at in mine {
            if let Some((_, typed)) = sent.iter().find(|(name, _)| *name == name_of(at)) {
                typed.trim().clone_into(&mut self.typed[at]);
            }
        }
        Ok(())
    }

    pub(super) fn keep(&self, site: &Site, session: &Session, number: usize) -> Result<(), Refusal> {
        let kept: TypedFields = self.of_file(number)?.map(|(at, _)| (name_of(at), self.typed[at].clone())).collect();
        site.drafts.keep(&session.signer, &self.task(number), &kept).map_err(|error| {
            let says = format!("what was typed cannot be kept: {error}");
            Refusal::said(
                StatusCode::SERVICE_UNAVAILABLE,
                "draft-not-kept",
                says,
                "Go back: it stands in the form still. Look at the disk of the server.",
            )
        })
    }

    /// Every place with a value whose writing is right.
    pub(super) fn answers(&self) -> Result<Answers, Refusal> {
        let mut answers = Answers::default();
        let mut wanting: Vec<&str> = Vec::new();
        for (place, typed) in self.proposal.changes.typed.iter().zip(&self.typed) {
            if fault_of(place, typed).is_some() {
                wanting.push(&place.file);
            } else {
                answers.put(place, typed);
            }
        }
        if wanting.is_empty() {
            return Ok(answers);
        }
        let count = wanting.len();
        wanting.dedup();
        let says = format!(
            "{} not typed yet, or typed so that it cannot be read: {}",
            counted(count, "value"),
            wanting.join(", ")
        );
        Err(Refusal::said(StatusCode::CONFLICT, "sheet-short", says, "Go back to these files."))
    }

    /// What differs is read from its source again: it stands empty.
    pub(super) fn again(&mut self, site: &Site, session: &Session, differ: &[TypedPlace]) -> Result<(), Refusal> {
        for (place, typed) in self.proposal.changes.typed.iter().zip(&mut self.typed) {
            if differ.contains(place) {
                typed.clear();
            }
        }
        (1..=self.files.len()).try_for_each(|number| self.keep(site, session, number))
    }
}

/// What a place is called in a form.
pub(super) fn name_of(at: usize) -> String {
    format!("value-{}", at + 1)
}
