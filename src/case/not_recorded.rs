//! An emergency entry while the journal cannot be written: the card is computed and shown all the same, says NOT RECORDED,
//! and what was typed is kept in the reserve until it can be written down.

use std::path::Path;
use std::time::Instant;

use serde::{Deserialize, Serialize};

use crate::card::{EmergencyCard, Provenance};
use crate::formulary::Formulary;
use crate::journal::{Hash, Journal, JournalError, NewEvent, keep_in_reserve};
use crate::quantity::Moment;

use super::Cases;
use super::cards::{CardAnswer, impossible};
use super::code::SetUpCode;
use super::emergency::judge_emergency;
use super::emergency_budget::{AT_ONCE, ONE_IN};
use super::enter::{Author, SubmittedForm, Task, good_form};
use super::error::CaseError;
use super::review::ReviewStage;
use super::state::ENTRY;

const WRITTEN_LATE: &str = "written-late";

/// Why an emergency entry is not in the journal.
enum NotKept<'w> {
    /// It cannot be written.
    Journal(&'w JournalError),
    /// Too many were sent.
    TooMany,
}

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
    /// The request that it was sent with, or one drawn by lot: by it what was written down is found, and written once.
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
        if !self.known.emergencies.take(Instant::now()) {
            let folder = self.journal.folder().to_owned();
            let card = without_a_record((&folder, None), form, author, formulary, now, &NotKept::TooMany)?;
            return Ok(EmergencyEntry::NotRecorded(card));
        }
        let code = match self.seal(task, form, author, formulary, now) {
            Ok(code) => code,
            Err(CaseError::Journal(why)) => {
                let folder = self.journal.folder().to_owned();
                let request = self.journal.request();
                let card = without_a_record((&folder, request), form, author, formulary, now, &NotKept::Journal(&why));
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
            text: kept.form.clone(),
            json: kept.json,
            dose_again: kept.dose_again.clone(),
        };
        let author = Author::Typed { name: &kept.name, role: &kept.role };
        // Two entries of the same second are two; an older program gave them no request.
        let request = kept.request.as_deref().and_then(|request| request.parse().ok());
        let request = request.unwrap_or_else(|| Hash::of(bytes));
        self.journal.for_same_request(Some(request));
        let written = self.write_down_once(&kept, &form, &author, formulary, (at, now), request);
        self.journal.for_same_request(None);
        written
    }

    /// A process that was killed between the event and the mark has written it down already.
    fn write_down_once(
        &mut self,
        kept: &KeptEntry,
        form: &SubmittedForm,
        author: &Author<'_>,
        formulary: &Formulary,
        (at, now): (Moment, Moment),
        request: Hash,
    ) -> Result<(), CaseError> {
        if self.journal.written_for(ENTRY, request)?.is_some() {
            return Ok(());
        }
        // When it was entered, by the clock of then; the event after it says when it was written down.
        let code = self.seal(&Task::emergency_without_a_case(), form, author, formulary, at)?;
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
    without_a_record((folder, None), form, author, formulary, now, &NotKept::Journal(why))
}

fn without_a_record(
    (folder, request): (&Path, Option<Hash>),
    form: &SubmittedForm,
    author: &Author<'_>,
    formulary: &Formulary,
    now: Moment,
    why: &NotKept<'_>,
) -> Result<CardAnswer, CaseError> {
    let task = Task::emergency_without_a_case();
    let entry = good_form(&task, form, author, now)?;
    let judged = judge_emergency(entry, form, formulary, now)?;
    let card = EmergencyCard::of(&judged, now, &Provenance::Files).map_err(|stops| impossible(&stops))?;
    let lines = match why {
        NotKept::TooMany => vec![
            format!(
                "More emergency entries are sent than are kept: {AT_ONCE} at once, and then one in {} s.",
                ONE_IN.as_secs()
            ),
            "The entry is kept nowhere: copy this card and what you do into the notes by hand.".to_owned(),
        ],
        NotKept::Journal(why) => {
            let kept = KeptEntry {
                version: 1,
                name: author.name().to_owned(),
                role: author.role().to_owned(),
                at: now.to_utc(),
                form: form.text.clone(),
                json: form.json,
                dose_again: form.dose_again.clone(),
                why: why.code().to_owned(),
                // Without random numbers its bytes tell it apart.
                request: request.or_else(drawn).map(|request| request.to_string()),
            };
            let is_kept = serde_json::to_vec(&kept).is_ok_and(|bytes| keep_in_reserve(folder, &bytes).is_ok());
            let then = if is_kept {
                "The entry is kept beside it, and is written down when that is possible again. Look then whether it was."
            } else {
                "The entry is kept nowhere: copy this card and what you do into the notes by hand."
            };
            vec![
                format!("The journal cannot be written: {why}."),
                then.to_owned(),
                format!("To make that possible: {}.", why.help()),
            ]
        }
    };
    Ok(CardAnswer::new(card.not_recorded(lines), None, ReviewStage::Unchecked))
}

fn drawn() -> Option<Hash> {
    super::random_id().ok().map(|id| Hash::of(id.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-EMERGENCY
    #[test]
    fn what_waited_is_written_down_once_although_its_mark_was_lost() {
        let folder = std::env::temp_dir().join(format!("countersign-once-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
        let text = std::fs::read_to_string("examples/adult-vasopressor/first.yaml").expect("the example");
        let mut form = String::new();
        let mut inside = false;
        for line in text.lines() {
            inside = line.starts_with("entered_") || (inside && line.starts_with(' '));
            if !inside {
                form.push_str(line);
                form.push('\n');
            }
        }
        let form = SubmittedForm { name: "the example".to_owned(), text: form, json: false, dose_again: None };
        let author = Author::Typed { name: "C. Vance", role: "anaesthetist" };
        let mut cases = Cases::of(journal);
        // Two of the same second are two.
        for _ in 0..2 {
            emergency_not_recorded(&folder, &form, &author, &formulary, now, &JournalError::Full).expect("a card");
        }
        let mut kept = Vec::new();
        let mut keep = |_: &mut Journal, bytes: &[u8]| {
            kept.push(bytes.to_vec());
            false
        };
        cases.journal.empty_reserve(&mut keep).expect("it can be read");
        assert_eq!(kept.len(), 2);
        // The process is killed after the event and before the mark.
        cases.write_down(&kept[0], &formulary, now).expect("room");
        cases.write_down_kept(&formulary, now).expect("it can be read");
        cases.write_down(&kept[1], &formulary, now).expect("found by its key");
        let written = |kind| cases.journal.count(kind).expect("a count");
        assert_eq!((written(ENTRY), written(WRITTEN_LATE)), (2, 2));
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
