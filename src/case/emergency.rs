//! What an emergency entry is still asked: a name that is one, a sum that is true, and beyond the limits the dose once more.

use crate::check::{Checked, Severity, Stop};
use crate::entry::Entry;
use crate::formulary::Formulary;
use crate::quantity::{DoseRate, Moment, clip};

use super::enter::{Author, SubmittedForm};
use super::error::{CaseError, refuse};
use super::review::checked;

/// Judges an emergency entry of which a card may be made: a true sum, and beyond the limits the dose typed again.
pub(super) fn judge_emergency<'f>(
    entry: Box<Entry>,
    form: &SubmittedForm,
    formulary: &'f Formulary,
    now: Moment,
) -> Result<Checked<'f>, CaseError> {
    let judged = checked(entry, formulary, now, Checked::in_an_emergency)?;
    refuse_impossible(&judged)?;
    ask_dose_again(&judged, form.dose_again.as_deref())?;
    Ok(judged)
}

/// A name typed in an emergency stands on the card: it is a name, in one line.
pub(super) fn plain_author(author: &Author<'_>) -> Result<(), CaseError> {
    const LONGEST: usize = 200;
    let is_line = |text: &str| super::plain_name::is_plain(text) && text.chars().count() <= LONGEST;
    if author.name().chars().any(char::is_alphabetic) && [author.name(), author.role()].into_iter().all(is_line) {
        return Ok(());
    }
    let says = format!("`{}`, `{}` is not somebody's name and role", clip(author.name()), clip(author.role()));
    Err(refuse("name-empty", says, "write the name of the person who enters this, in one line"))
}

/// Nothing true can be computed from it: there would be no card, and an entry on the list that nobody can use.
fn refuse_impossible(judged: &Checked<'_>) -> Result<(), CaseError> {
    let stops: Vec<_> =
        judged.findings().iter().filter(|one| one.severity() == Severity::Stop(Stop::Impossible)).collect();
    if stops.is_empty() { Ok(()) } else { Err(super::cards::impossible(&stops)) }
}

/// A rate beyond the limits is shown only to somebody who has read the dose off the order twice. It never blocks: the
/// same dose, typed again, is enough.
fn ask_dose_again(judged: &Checked<'_>, again: Option<&str>) -> Result<(), CaseError> {
    let beyond: Vec<&str> = judged.dose_in_doubt().map(|one| one.message.as_str()).collect();
    let again = again.map(str::trim).filter(|again| !again.is_empty());
    if beyond.is_empty() && again.is_none() {
        return Ok(());
    }
    let Some(again) = again else {
        let says = format!("BEYOND THE LIMITS: {}; its rate is shown once the dose is typed again", beyond.join("; "));
        return Err(refuse("dose-again", says, "read the dose off the order once more, and type it with --dose-again"));
    };
    if dose_is_the_same(judged, again)? {
        return Ok(());
    }
    let says = format!("`{}` is not the dose that was entered first", clip(again));
    Err(refuse("dose-again-differs", says, "read the order once more: put right whichever of the two is wrong"))
}

/// Whether a dose that was typed again is the one of the entry, by its meaning.
///
/// # Errors
/// When it cannot be read as a dose.
pub fn dose_is_the_same(judged: &Checked<'_>, again: &str) -> Result<bool, crate::quantity::Refused> {
    Ok(DoseRate::parse(again)?.same_as(judged.computed().entry().dose()))
}
