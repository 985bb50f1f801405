//! The editions of a journal, each with what it changed in the one before it and the set-ups that are made with it.

use crate::case::{CaseError, Cases, Edition, MadeWith};
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::diff::{Risk, diff};
use super::replay::runs_outside;

/// One edition.
#[derive(Debug)]
pub struct EditionReport {
    /// Who approved it, and whether it is in use.
    pub edition: Edition,
    /// How many changes of each kind it brought.
    pub changed: Vec<(Risk, usize)>,
    /// What runs by it, and which cards of it are not started.
    pub made: Vec<MadeWith>,
}

/// Every edition, in order; and what runs now outside the limits of the one in use.
///
/// # Errors
/// When the journal cannot be read.
pub fn editions(cases: &Cases, now: Moment) -> Result<(Vec<EditionReport>, Vec<String>), CaseError> {
    let (mut editions, mut outside) = (Vec::new(), Vec::new());
    let mut before: Option<Formulary> = None;
    for edition in cases.editions()? {
        let kept = cases.kept_formularies(&edition.fingerprint).unwrap_or_default().pop();
        let changed = before.as_ref().zip(kept.as_ref()).and_then(|(old, new)| diff(old, new).ok());
        let changed = Risk::ALL
            .into_iter()
            .map(|risk| (risk, changed.iter().flatten().filter(|change| change.risk == risk).count()))
            .filter(|(_, count)| *count > 0)
            .collect();
        let made = cases.made_with(&edition.fingerprint, now)?;
        if let Some(kept) = kept.as_ref().filter(|_| edition.in_use) {
            outside = runs_outside(kept, &cases.running_now(now)?);
        }
        editions.push(EditionReport { edition, changed, made });
        before = kept.or(before);
    }
    Ok((editions, outside))
}

impl Edition {
    /// Whether it is in use, replaced or recalled, in words.
    #[must_use]
    pub fn stands(&self) -> String {
        match &self.recalled {
            Some((at, by, why)) => format!("RECALLED {} by {by}: {why}", at.local()),
            None if self.in_use => "in use".to_owned(),
            None => "replaced".to_owned(),
        }
    }

    /// Who approved it and when, and who typed its values.
    #[must_use]
    pub fn approved(&self) -> String {
        let (at, by) = (self.at.local(), self.by.join(" and "));
        let mut approved = format!("approved {at} by {by}; {} values typed", self.typed);
        if !self.typed_by.is_empty() {
            approved += &format!(" by {}", super::approval::shares_in_words(&self.typed_by));
        }
        if self.typed_again > 0 {
            approved += &format!("; {} of them typed once more", self.typed_again);
        }
        approved
    }
}
