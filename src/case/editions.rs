//! The editions of a journal's formulary: who approved each and when, which were recalled, and what still runs by one.

use serde::{Deserialize, Serialize};

use crate::formulary::{ApprovalStatus, Formulary};
use crate::journal::{Event, JournalError, NewEvent, Of, Signer, WriteView};
use crate::quantity::Moment;

use super::Cases;
use super::error::{CaseError, refuse};
use super::formularies::{Approved, approvals, pharmacist, short};
use super::people::{People, Person};
use super::state::Reading;
use super::typings::TypingShare;
use super::{read_body, to_value};

pub(super) const RECALLED: &str = "formulary-recalled";

#[derive(Debug, Serialize, Deserialize)]
struct Recall {
    fingerprint: String,
    why: String,
}

/// An approved edition.
#[derive(Debug, Clone)]
pub struct Edition {
    /// The SHA-256 of its files.
    pub fingerprint: String,
    /// The version that its files name; nothing where this program cannot read them.
    pub version: Option<String>,
    /// When the second pharmacist approved it.
    pub at: Moment,
    /// The author and the second pharmacist.
    pub by: Vec<String>,
    /// How many values were typed.
    pub typed: usize,
    /// Who typed them; empty where the program of the time did not keep it.
    pub typed_by: Vec<TypingShare>,
    /// How many of them were typed once more before the signature.
    pub typed_again: usize,
    /// When it was recalled after that, by whom and why.
    pub recalled: Option<(Moment, String, String)>,
    /// Whether set-ups are made with it now.
    pub in_use: bool,
}

/// A set-up that was made with an edition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MadeWith {
    /// What people call it.
    pub named: String,
    /// Whether it runs; else it has a card that is not started.
    pub runs: bool,
}

/// What a case has to know of editions.
#[derive(Debug, Clone, Default)]
pub(super) struct EditionsNow {
    /// The fingerprints that were recalled, each since when.
    recalled: Vec<(String, Moment)>,
    /// The fingerprint that was approved last, and when.
    last: Option<(String, Moment)>,
}

impl EditionsNow {
    pub(super) fn read(past: &WriteView<'_>) -> Result<Self, CaseError> {
        let events = |of: Of<'_>| past.events(of);
        let approved = approvals(events)?;
        let last = approved.last().map(|one| (one.about.fingerprint.clone(), one.at));
        let recalled = recalls(events, &approved)?.into_iter().map(|(recall, event)| (recall.fingerprint, event.at()));
        Ok(Self { recalled: recalled.collect(), last })
    }

    /// Since when the edition of a reading is recalled.
    pub(super) fn recalled(&self, reading: &Reading) -> Option<Moment> {
        let fingerprint = fingerprint_of(reading)?;
        self.recalled.iter().find(|(recalled, _)| recalled == fingerprint).map(|(_, since)| *since)
    }

    /// In words, where a reading was made with another edition than the one approved last.
    pub(super) fn older(&self, reading: &Reading) -> Option<String> {
        let (last, at) = self.last.as_ref()?;
        let fingerprint = fingerprint_of(reading).filter(|fingerprint| fingerprint != last)?;
        let (old, new, at) = (short(fingerprint), short(last), at.local());
        Some(format!("the card was made with the formulary {old}; {new} was approved {at}"))
    }
}

/// The fingerprint of the formulary that a reading was first entered with.
fn fingerprint_of(reading: &Reading) -> Option<&str> {
    reading.entries.first().map(|entry| entry.edition.split('+').next().unwrap_or(&entry.edition))
}

/// The recalls that hold: one that was approved again afterwards is good again.
fn recalls(
    events: impl Fn(Of<'_>) -> Result<Vec<Event>, JournalError>,
    approved: &[Approved],
) -> Result<Vec<(Recall, Event)>, CaseError> {
    let mut recalls = Vec::new();
    for event in events(Of::Kind(RECALLED))? {
        let recall: Recall = read_body(&event)?;
        let again = |one: &&Approved| one.about.fingerprint == recall.fingerprint && one.seq > event.seq();
        if !approved.iter().any(|one| again(&one)) {
            recalls.push((recall, event));
        }
    }
    Ok(recalls)
}

impl Cases {
    /// Every edition that was approved, in order.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn editions(&self) -> Result<Vec<Edition>, CaseError> {
        let events = |of: Of<'_>| self.journal.events(of);
        let (approved, people) = (approvals(events)?, self.people()?);
        let recalls = recalls(events, &approved)?;
        let last = approved.len().saturating_sub(1);
        let mut editions = Vec::new();
        for (number, Approved { about, at, .. }) in approved.iter().enumerate() {
            let kept = about.edition.as_deref().map(|edition| self.kept_editions(&[edition])).transpose()?;
            let formulary =
                kept.as_ref().zip(about.edition.as_deref()).and_then(|(kept, edition)| kept.get(edition).ok());
            let by = match formulary.map(Formulary::standing) {
                Some(ApprovalStatus::Approved { by, .. }) => by.clone(),
                _ => Vec::new(),
            };
            let recalled = recalls.iter().find(|(recall, _)| recall.fingerprint == about.fingerprint);
            let recalled =
                recalled.map(|(recall, event)| (event.at(), people.name(event.by()).to_owned(), recall.why.clone()));
            editions.push(Edition {
                fingerprint: about.fingerprint.clone(),
                version: formulary.map(|formulary| formulary.policy().version.clone()),
                at: *at,
                by,
                typed: about.typed.unwrap_or_default(),
                typed_by: about.typed_by.clone(),
                typed_again: about.again.unwrap_or_default(),
                in_use: number == last && recalled.is_none(),
                recalled,
            });
        }
        Ok(editions)
    }

    /// No set-up is made with an edition any more, and no card of it is started. What runs goes on: it is listed.
    ///
    /// # Errors
    /// When nothing of this fingerprint was approved here, it is recalled already, or the person is no pharmacist.
    pub fn recall_formulary(
        &mut self,
        now: Moment,
        person: &Person,
        signer: &Signer,
        fingerprint: &str,
        why: &str,
    ) -> Result<Edition, CaseError> {
        pharmacist(person)?;
        super::pins::signed_now(signer)?;
        if why.trim().is_empty() {
            return Err(refuse(
                "recall-without-reason",
                "no reason is given",
                "write why it is not to be used: --why TEXT",
            ));
        }
        let mut found = self.editions()?;
        found.retain(|edition| edition.fingerprint.starts_with(&fingerprint.to_ascii_lowercase()));
        let Some(edition) = found.pop().filter(|last| found.iter().all(|one| one.fingerprint == last.fingerprint))
        else {
            let says = format!("`{fingerprint}` names no edition, or more than one");
            return Err(refuse("edition-unknown", says, "see `countersign formulary editions`"));
        };
        if let Some((at, by, _)) = &edition.recalled {
            let says = format!("{by} recalled it {}", at.local());
            return Err(refuse("formulary-recalled-before", says, "nothing is left to do"));
        }
        let body = to_value(&Recall { fingerprint: edition.fingerprint.clone(), why: why.trim().to_owned() })?;
        self.journal.write(now, |past| {
            let drafts = vec![NewEvent { kind: RECALLED, scope: None, by: Some(signer), body, introduces: None }];
            super::people::may_sign(&drafts, past)?;
            Ok::<_, CaseError>((drafts, ()))
        })?;
        Ok(edition)
    }

    /// Every set-up made with an edition that runs, or has a card that is not started.
    ///
    /// # Errors
    /// When a case cannot be read.
    pub fn made_with(&self, fingerprint: &str, now: Moment) -> Result<Vec<MadeWith>, CaseError> {
        let mut made = Vec::new();
        for case in self.not_forgotten()? {
            let case = case?;
            for set_up in &case.set_ups {
                let of_edition = |reading: &&Reading| fingerprint_of(reading) == Some(fingerprint);
                let course = case.course(set_up, now)?;
                let running =
                    set_up.running_reading().filter(|_| course.as_ref().is_some_and(super::Course::is_running));
                let named = case.named(set_up)?;
                if running.and_then(|number| set_up.reading(number)).filter(of_edition).is_some() {
                    made.push(MadeWith { named: named.clone(), runs: true });
                }
                let is_over = course.as_ref().is_some_and(|course| !course.is_running());
                let waits =
                    set_up.latest().filter(|latest| !is_over && Some(latest.number) != set_up.running_reading());
                if waits.filter(of_edition).is_some_and(|latest| case.standing(latest).stage.has_card()) {
                    made.push(MadeWith { named, runs: false });
                }
            }
        }
        Ok(made)
    }

    /// The formulary that was approved instead of this one, where there is one: what a server must not go on using.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn replaced_by(&self, formulary: &Formulary) -> Result<Option<Formulary>, CaseError> {
        let fingerprint = formulary.fingerprint().to_string();
        let approved = approvals(|of| self.journal.events(of))?;
        let was_approved = approved.iter().any(|one| one.about.fingerprint == fingerprint);
        let is_last = approved.last().is_none_or(|last| last.about.fingerprint == fingerprint);
        if was_approved && !is_last { self.approved_last() } else { Ok(None) }
    }

    /// Refuses a formulary that was recalled.
    pub(super) fn refuse_recalled(&self, fingerprint: &str) -> Result<(), CaseError> {
        let events = |of: Of<'_>| self.journal.events(of);
        let recalls = recalls(events, &approvals(events)?)?;
        let Some((recall, event)) = recalls.iter().find(|(recall, _)| recall.fingerprint == fingerprint) else {
            return Ok(());
        };
        let people = People::from_events(events)?;
        let says =
            format!("{} recalled this formulary {}: {}", people.name(event.by()), event.at().local(), recall.why);
        let help = "use another approved formulary; an emergency entry, the record and what runs are not held up";
        Err(refuse("formulary-recalled", says, help))
    }
}
