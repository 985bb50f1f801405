//! An emergency entry while the journal cannot be written: the card is computed and shown all the same, says NOT RECORDED,
//! and what was typed is kept in the reserve until it can be written down.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::card::{EmergencyCard, Provenance};
use crate::formulary::Formulary;
use crate::journal::{Hash, Journal, JournalError, NewEvent, keep_in_reserve};
use crate::quantity::Moment;

use super::Cases;
use super::cards::{CardAnswer, impossible};
use super::code::SetUpCode;
use super::emergency::judge_emergency;
use super::enter::{Author, SubmittedForm, Task, good_form};
use super::error::CaseError;
use super::review::ReviewStage;

const WRITTEN_LATE: &str = "written-late";

/// What an emergency entry comes to.
#[derive(Debug)]
pub enum EmergencyEntry {
    /// It is in the journal.
    Recorded(SetUpCode, CardAnswer),
    /// The journal cannot be written; the card says so.
    NotRecorded(CardAnswer),
    /// It is in the journal, and its card is not given out.
    WithoutCard(SetUpCode, CaseError),
}

/// What is kept in the reserve.
#[derive(Debug, Serialize, Deserialize)]
struct KeptEntry {
    version: u8,
    name: String,
    role: String,
    at: String,
    form: String,
    json: bool,
    dose_again: Option<String>,
    /// Why it could not be written: a code.
    why: String,
    /// The request that it was sent with: written down, the same request makes one case.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    request: Option<String>,
}

impl Cases {
    /// Seals an emergency entry and gives its card. Where the journal cannot be read or written the card is given all the
    /// same, and the entry is kept in the reserve.
    ///
    /// # Errors
    /// When the form is refused, or nothing true can be computed from it.
    pub fn enter_emergency(
        &mut self,
        task: &Task,
        form: &SubmittedForm,
        author: &Author<'_>,
        formulary: &Formulary,
        now: Moment,
    ) -> Result<EmergencyEntry, CaseError> {
        let code = match self.seal(task, form, author, formulary, now) {
            Ok(code) => code,
            Err(CaseError::Journal(why)) => {
                let folder = self.journal.folder().to_owned();
                let request = self.journal.request();
                let card = not_recorded((&folder, request), form, author, formulary, now, &why);
                return card.map(EmergencyEntry::NotRecorded);
            }
            Err(refused) => return Err(refused),
        };
        Ok(self.card_of_emergency(code, now))
    }

    /// The card of an emergency form that was sent before, for the same request; nothing where it made none.
    ///
    /// # Errors
    /// When the journal cannot be read, or the form says something else now.
    pub fn emergency_sent_before(
        &self,
        form: &SubmittedForm,
        author: &Author<'_>,
        now: Moment,
    ) -> Result<Option<EmergencyEntry>, CaseError> {
        let Some(request) = self.journal.request() else { return Ok(None) };
        let found = self.journal.look(|past| super::code_for(request, past))?;
        let Some((code, true)) = found else { return Ok(None) };
        let code = self.case(code)?.made_by_the_same_form(form, author)?;
        Ok(Some(self.card_of_emergency(code, now)))
    }

    fn card_of_emergency(&self, code: SetUpCode, now: Moment) -> EmergencyEntry {
        match self.card(code, None, now) {
            Ok(card) => EmergencyEntry::Recorded(code, card),
            Err(why) => EmergencyEntry::WithoutCard(code, why),
        }
    }

    /// Writes down what was kept in the reserve. What cannot be written down stays there.
    ///
    /// # Errors
    /// When the reserve cannot be read.
    pub fn write_down_kept(&mut self, formulary: &Formulary, now: Moment) -> Result<(), CaseError> {
        let Ok(aside) = Journal::open(self.journal.folder()) else { return Ok(()) };
        let mut aside = Self::knowing(aside, self.known.clone());
        self.journal.empty_reserve(&mut |_, bytes| aside.write_down(bytes, formulary, now).is_ok())?;
        Ok(())
    }

    fn write_down(&mut self, bytes: &[u8], formulary: &Formulary, now: Moment) -> Result<(), CaseError> {
        let fault = |error: &dyn std::fmt::Display| CaseError::Fault(format!("what was kept cannot be read: {error}"));
        let kept: KeptEntry = serde_json::from_slice(bytes).map_err(|error| fault(&error))?;
        let at = Moment::parse(&kept.at).map_err(|error| fault(&error))?.local();
        let form = SubmittedForm {
            name: "an entry of the reserve".to_owned(),
            text: kept.form,
            json: kept.json,
            dose_again: kept.dose_again,
        };
        let author = Author::Typed { name: &kept.name, role: &kept.role };
        // When it was entered, by the clock of then; the event after it says when it was written down.
        self.journal.for_same_request(kept.request.as_deref().and_then(|request| request.parse().ok()));
        let code = self.seal(&Task::emergency_without_a_case(), &form, &author, formulary, at);
        self.journal.for_same_request(None);
        let code = code?;
        let body = serde_json::json!({"set_up": code.to_string(), "entered_at": kept.at, "why": kept.why});
        let noted = NewEvent { kind: WRITTEN_LATE, scope: None, by: None, body, introduces: None };
        // It is in the journal: a note that cannot be written does not write it twice.
        let _ = self.journal.write(now, |_| Ok::<_, CaseError>((vec![noted], ())));
        Ok(())
    }
}

/// The card of an emergency entry for a journal that cannot be written, or not even be opened.
///
/// # Errors
/// When the form is refused, or nothing true can be computed from it.
pub fn emergency_not_recorded(
    folder: &Path,
    form: &SubmittedForm,
    author: &Author<'_>,
    formulary: &Formulary,
    now: Moment,
    why: &JournalError,
) -> Result<CardAnswer, CaseError> {
    not_recorded((folder, None), form, author, formulary, now, why)
}

fn not_recorded(
    (folder, request): (&Path, Option<Hash>),
    form: &SubmittedForm,
    author: &Author<'_>,
    formulary: &Formulary,
    now: Moment,
    why: &JournalError,
) -> Result<CardAnswer, CaseError> {
    let task = Task::emergency_without_a_case();
    let entry = good_form(&task, form, author, now)?;
    let judged = judge_emergency(entry, form, formulary, now)?;
    let card = EmergencyCard::of(&judged, now, &Provenance::Files).map_err(|stops| impossible(&stops))?;
    let kept = KeptEntry {
        version: 1,
        name: author.name().to_owned(),
        role: author.role().to_owned(),
        at: now.to_utc(),
        form: form.text.clone(),
        json: form.json,
        dose_again: form.dose_again.clone(),
        why: why.code().to_owned(),
        request: request.map(|request| request.to_string()),
    };
    let is_kept = serde_json::to_vec(&kept).is_ok_and(|bytes| keep_in_reserve(folder, &bytes).is_ok());
    let lines = vec![
        format!("The journal cannot be written: {why}."),
        if is_kept {
            "The entry is kept beside it, and is written down when that is possible again. Look then whether it was."
        } else {
            "The entry is kept nowhere: copy this card and what you do into the notes by hand."
        }
        .to_owned(),
        format!("To make that possible: {}.", why.help()),
    ];
    Ok(CardAnswer::new(card.not_recorded(lines), None, ReviewStage::Unchecked))
}
