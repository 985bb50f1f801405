//! The formularies of a journal: the bytes of each that was used, who approved which, and whether one may be used.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use serde::{Deserialize, Serialize};

use crate::formulary::{Approval, ApprovalStatus, Formulary, PERSON_STATEMENT, Signing};
use crate::journal::{Event, JournalError, NewEvent, Of, Projected, Signer, WriteView};
use crate::quantity::Moment;

use super::editions::EditionsNow;
use super::error::{CaseError, refuse};
use super::people::{People, Person, Role};
use super::pins::signed_now;
use super::state::{Case, EntryTurn};
use super::typings::TypingShare;
use super::{Cases, read_body, to_value};

/// The table of the index that says which event keeps an edition.
pub(super) const EDITION: &str = "edition";

pub(super) const KEPT: &str = "formulary-kept";
const SIGNED: &str = "formulary-signed";
const APPROVED: &str = "formulary-approved";
pub(super) const NOT_APPROVED: &str = "formulary-not-approved";

/// What is done about an entry that waits across a change of the edition, whichever of the two is named for the second.
pub(super) const ENTER_ANEW: &str = "use the edition approved last (`countersign formulary editions`); a set-up whose first entry was made with the old one is entered again by both: `case enter CODE --anew`";

#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    edition: String,
    files: Vec<(String, String)>,
}

/// What the events of an approval hold: nobody's private content.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct About {
    pub(super) fingerprint: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    since: Option<String>,
    /// The edition that was approved.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) edition: Option<String>,
    /// How many values were typed, and how many places read.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) typed: Option<usize>,
    /// Who typed them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub(super) typed_by: Vec<TypingShare>,
    /// How many of them the second pharmacist typed once more before signing.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) again: Option<usize>,
    /// Where the two did not come to the same.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub(super) differ: Vec<String>,
}

impl Cases {
    /// The kept formularies whose fingerprint begins so, one of each fingerprint: the one kept last.
    ///
    /// # Errors
    /// When the journal cannot be read, or one of them cannot be used any more.
    pub fn kept_formularies(&self, fingerprint: &str) -> Result<Vec<Formulary>, CaseError> {
        let mut found: Vec<Formulary> = Vec::new();
        for event in self.journal.events(Of::Kind(KEPT))? {
            let Kept { edition, files } = read_body(&event)?;
            if edition.starts_with(fingerprint) {
                let kept = Formulary::kept(&format!("kept formulary of event {}", event.seq()), files)?;
                found.retain(|other| other.fingerprint() != kept.fingerprint());
                found.push(kept);
            }
        }
        Ok(found)
    }

    /// The formulary that was approved last in this journal.
    ///
    /// # Errors
    /// When the journal cannot be read, or it cannot be used any more.
    pub fn approved_last(&self) -> Result<Option<Formulary>, CaseError> {
        let Some(last) = approved(|of| self.journal.events(of))?.pop() else { return Ok(None) };
        let mut kept = self.kept_formularies(last.edition.as_deref().unwrap_or(&last.fingerprint))?;
        kept.pop().map(Some).ok_or_else(|| CaseError::Fault(format!("the approved {} was not kept", last.fingerprint)))
    }

    /// The author signs a proposed formulary: changed since the one approved last. Its approval is to be written beside
    /// its files.
    ///
    /// # Errors
    /// When it is for demonstration, or the author is no pharmacist.
    pub fn sign_formulary(
        &mut self,
        now: Moment,
        author: &Person,
        signer: &Signer,
        formulary: &Formulary,
    ) -> Result<Approval, CaseError> {
        for_patients(formulary)?;
        self.fits(formulary)?;
        pharmacist(author)?;
        signed_now(signer)?;
        let fingerprint = formulary.fingerprint().to_string();
        self.journal.write(now, |past| {
            let approved = approved(|of| past.events(of))?;
            let since = approved.last().map(|about| about.fingerprint.clone());
            if since.as_ref() == Some(&fingerprint) {
                let says = "these very bytes are approved already";
                return Err(refuse("formulary-approved-before", says, "nothing is to be signed"));
            }
            let about = About { fingerprint, since: since.clone(), ..About::default() };
            let draft =
                NewEvent { kind: SIGNED, scope: None, by: Some(signer), body: to_value(&about)?, introduces: None };
            let drafts = vec![draft];
            super::people::may_sign(&drafts, past)?;
            let sign = |said: &[u8]| signer.sign_statement(PERSON_STATEMENT, said);
            let signing = Signing { name: &author.name, on: now.date(), key: signer.public(), sign: &sign };
            Ok((drafts, Approval::by_author(&signing, since, formulary.fingerprint())))
        })
    }

    /// Whether somebody may read the changes of a signed formulary, as the second: the author's approval.
    ///
    /// # Errors
    /// When it is not signed, or altered since; when they are its author, or no pharmacist; when another one was
    /// approved meanwhile.
    pub fn to_be_approved<'f>(&self, second: &Person, formulary: &'f Formulary) -> Result<&'f Approval, CaseError> {
        for_patients(formulary)?;
        self.fits(formulary)?;
        pharmacist(second)?;
        awaits(second, formulary, |of| self.journal.events(of))
    }

    /// The second pharmacist came to the same at every place: the approval with both signatures.
    ///
    /// # Errors
    /// As [`Cases::to_be_approved`].
    pub fn approve_formulary(
        &mut self,
        now: Moment,
        second: &Person,
        signer: &Signer,
        formulary: &Formulary,
        typed_by: Vec<TypingShare>,
        again: usize,
    ) -> Result<Approval, CaseError> {
        let author = self.to_be_approved(second, formulary)?.clone();
        signed_now(signer)?;
        let sign = |said: &[u8]| signer.sign_statement(PERSON_STATEMENT, said);
        let signing = Signing { name: &second.name, on: now.date(), key: signer.public(), sign: &sign };
        let both = author
            .and_second(&signing)
            .ok_or_else(|| CaseError::Fault("the author was about to approve".to_owned()))?;
        let mut files = formulary.files().to_vec();
        files.retain(|(path, _)| path != "approval.yaml");
        files.push(("approval.yaml".to_owned(), both.text()));
        let approved = Formulary::kept("the approved formulary", files)?;
        if !matches!(approved.standing(), ApprovalStatus::Approved { .. }) {
            return Err(CaseError::Fault("the approval does not verify".to_owned()));
        }
        let about = About {
            fingerprint: formulary.fingerprint().to_string(),
            since: author.since().map(str::to_owned),
            edition: Some(approved.edition()),
            typed: Some(typed_by.iter().map(|share| share.values).sum()),
            typed_by,
            again: Some(again).filter(|again| *again > 0),
            differ: Vec::new(),
        };
        let body = to_value(&about)?;
        self.journal.write(now, |past| {
            awaits(second, formulary, |of| past.events(of))?;
            let mut drafts: Vec<NewEvent<'_>> = keep(&approved, past)?.into_iter().collect();
            drafts.push(NewEvent { kind: APPROVED, scope: None, by: Some(signer), body, introduces: None });
            super::people::may_sign(&drafts, past)?;
            Ok::<_, CaseError>((drafts, ()))
        })?;
        Ok(both)
    }

    /// The second pharmacist came to something else: the places, and no value, are written down.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn formulary_differs(
        &mut self,
        now: Moment,
        signer: &Signer,
        formulary: &Formulary,
        differ: Vec<String>,
    ) -> Result<(), CaseError> {
        let fingerprint = formulary.fingerprint().to_string();
        let body = to_value(&About { fingerprint, differ, ..About::default() })?;
        let draft = NewEvent { kind: NOT_APPROVED, scope: None, by: Some(signer), body, introduces: None };
        self.journal.write(now, |past| {
            let drafts = vec![draft];
            super::people::may_sign(&drafts, past)?;
            Ok((drafts, ()))
        })
    }

    /// Whether a formulary may be looked at with this journal: a demonstration only with one that is for demonstration.
    pub(super) fn fits(&self, formulary: &Formulary) -> Result<(), CaseError> {
        match (formulary.policy().demonstration, self.journal.is_demonstration()) {
            (true, false) => Err(refuse(
                "formulary-demonstration",
                "this formulary is for demonstration, and this journal is for patients",
                "name the hospital's own formulary, or try out in a journal made with `journal create --demonstration`",
            )),
            (false, true) => Err(refuse(
                "journal-demonstration",
                "this journal is for demonstration, and this formulary is not",
                "use a journal for patients: `countersign journal create DIR`",
            )),
            _ => Ok(()),
        }
    }

    /// Whether a set-up may be entered with it: approved here, and replaced by none that followed it. One that nobody
    /// approved, or that was altered, is no fault of the entry: the checks stop it. An emergency is never held up by that.
    pub(super) fn may_enter_with(&self, formulary: &Formulary, place: EntryTurn) -> Result<(), CaseError> {
        self.fits(formulary)?;
        let ApprovalStatus::Approved { by, .. } = formulary.standing() else { return Ok(()) };
        if place == EntryTurn::Emergency {
            return Ok(());
        }
        let fingerprint = formulary.fingerprint().to_string();
        let approved = approved(|of| self.journal.events(of))?;
        let edition = formulary.edition();
        let Some(at) = approved.iter().rposition(|about| about.edition.as_deref() == Some(&*edition)) else {
            let says = format!("this formulary was approved by {}, and not in this journal", by.join(" and "));
            let help = "use the formulary whose approval this journal knows, or let two pharmacists of this journal approve it: `countersign formulary sign`, then `approve`";
            return Err(refuse("formulary-approved-elsewhere", says, help));
        };
        // One that was approved again after others, as before, is good again.
        match approved[at + 1..].iter().find(|about| about.since.as_deref() == Some(&*fingerprint)) {
            Some(later) => Err(refuse(
                "formulary-superseded",
                format!("a new edition was approved instead of this one: {}", short(&later.fingerprint)),
                ENTER_ANEW,
            )),
            None => self.refuse_recalled(&fingerprint),
        }
    }
}

/// Formularies that entries of a case were made with, by their editions.
#[derive(Debug, Default)]
pub(super) struct Formularies(HashMap<String, KeptFormulary>);

/// A kept formulary; or why this program cannot read it, which matters only to what needs its limits.
type KeptFormulary = Result<Arc<Formulary>, Arc<str>>;

impl Formularies {
    pub(super) fn get(&self, edition: &str) -> Result<&Formulary, CaseError> {
        match self.0.get(edition) {
            Some(Ok(formulary)) => Ok(formulary),
            Some(Err(why)) => Err(refuse(
                "formulary-unreadable",
                format!("the formulary that this was entered with cannot be read by this program: {why}"),
                "go on by the driver, the order and the paper card; report this",
            )),
            None => Err(CaseError::Fault(format!("the formulary {edition} was not kept"))),
        }
    }
}

/// A head of the journal, and the editions as of it.
type EditionsAtHead = (u64, Arc<EditionsNow>);

/// Kept formularies that were read before, by their edition: their bytes never change, and to read one takes longer than
/// all else that a case is worked out from. Every handle of one journal shares them.
#[derive(Debug, Default, Clone)]
pub(super) struct Known {
    formularies: Arc<Mutex<HashMap<String, KeptFormulary>>>,
    /// How many emergency entries may still be kept.
    pub(super) emergencies: Arc<super::not_recorded::Budget>,
    /// What a case has to know of editions, as of a head of the journal.
    editions: Arc<Mutex<Option<EditionsAtHead>>>,
}

impl Known {
    /// What a case has to know of editions: read once for each head, since a list reads many cases of one head.
    pub(super) fn editions_now(&self, past: &WriteView<'_>) -> Result<Arc<EditionsNow>, CaseError> {
        let mut kept = self.editions.lock().unwrap_or_else(PoisonError::into_inner);
        let head = past.head().seq;
        if let Some((_, editions)) = kept.as_ref().filter(|(seq, _)| *seq == head) {
            return Ok(Arc::clone(editions));
        }
        let editions = Arc::new(EditionsNow::read(past)?);
        *kept = Some((head, Arc::clone(&editions)));
        Ok(editions)
    }

    /// Every formulary that the entries of a case were made with; `read` gives those that were not read before.
    pub(super) fn of_case(
        &self,
        case: &Case,
        read: impl FnOnce(&[&str]) -> Result<Vec<(String, KeptFormulary)>, CaseError>,
    ) -> Result<Formularies, CaseError> {
        let readings = case.set_ups.iter().flat_map(|set_up| &set_up.readings);
        let mut needed: Vec<&str> =
            readings.flat_map(|reading| &reading.entries).map(|entry| entry.edition.as_str()).collect();
        needed.sort_unstable();
        needed.dedup();
        self.of_editions(&needed, read)
    }

    /// The formularies of these editions; `read` gives those that were not read before.
    pub(super) fn of_editions(
        &self,
        needed: &[&str],
        read: impl FnOnce(&[&str]) -> Result<Vec<(String, KeptFormulary)>, CaseError>,
    ) -> Result<Formularies, CaseError> {
        let known = || self.formularies.lock().unwrap_or_else(PoisonError::into_inner);
        let missing: Vec<&str> = {
            let known = known();
            needed.iter().copied().filter(|edition| !known.contains_key(*edition)).collect()
        };
        if !missing.is_empty() {
            let read = read(&missing)?;
            known().extend(read);
        }
        let known = known();
        let found = needed.iter().filter_map(|edition| Some(((*edition).to_owned(), known.get(*edition)?.clone())));
        Ok(Formularies(found.collect()))
    }
}

/// These editions, each out of the event that the index names for it. Where it names none (an earlier program wrote the
/// journal, or the index was changed), every kept formulary is looked through.
pub(super) fn kept_editions(
    past: &WriteView<'_>,
    editions: &[&str],
) -> Result<Vec<(String, KeptFormulary)>, CaseError> {
    let mut found = Vec::new();
    let mut elsewhere = editions.to_vec();
    for edition in editions {
        let named = past.projected(EDITION, edition)?.and_then(|event| event.parse().ok());
        let Some(event) = named.map(|event| past.event(event)).transpose()?.flatten() else { continue };
        if let Some(Kept { edition, files }) = edition_kept(&event)?.filter(|kept| kept.edition == *edition) {
            elsewhere.retain(|missing| *missing != edition);
            let formulary = read_kept(event.seq(), &edition, files);
            found.push((edition, formulary));
        }
    }
    if elsewhere.is_empty() {
        return Ok(found);
    }
    for event in past.events(Of::Kind(KEPT))? {
        let Kept { edition, files } = read_body(&event)?;
        if elsewhere.contains(&edition.as_str()) {
            elsewhere.retain(|missing| *missing != edition);
            let formulary = read_kept(event.seq(), &edition, files);
            found.push((edition, formulary));
        }
    }
    Ok(found)
}

/// What the index says of an event: where the edition is that it keeps, if it keeps one.
pub(super) fn indexed(event: &Event) -> Result<Option<Projected>, CaseError> {
    let row = |kept: Kept| Projected { name: EDITION, key: kept.edition, value: event.seq().to_string() };
    Ok(edition_kept(event)?.map(row))
}

/// The edition and the files that an event keeps.
fn edition_kept(event: &Event) -> Result<Option<Kept>, CaseError> {
    if event.kind() == KEPT { read_body(event).map(Some) } else { Ok(None) }
}

/// The formulary that an event keeps, if its bytes are those of its edition and this program can read them.
fn read_kept(event: u64, edition: &str, files: Vec<(String, String)>) -> KeptFormulary {
    let name = format!("kept formulary of event {event}");
    let formulary = Formulary::kept(&name, files).map_err(|faulty| {
        let codes =
            faulty.0.iter().flat_map(|(_, faults)| faults).map(|fault| format!("{} ({})", fault.field, fault.code));
        Arc::from(format!("event {event}: {}", codes.collect::<Vec<_>>().join(", ")))
    })?;
    if formulary.edition() == edition {
        return Ok(Arc::new(formulary));
    }
    Err(Arc::from(format!("event {event} keeps other bytes than those of the edition {edition}")))
}

/// The event that keeps a formulary, where it is not kept yet.
pub(super) fn keep(formulary: &Formulary, past: &WriteView<'_>) -> Result<Option<NewEvent<'static>>, CaseError> {
    let edition = formulary.edition();
    if past.projected(EDITION, &edition)?.is_some() {
        return Ok(None);
    }
    // A new edition; or the index does not know it.
    for event in past.events(Of::Kind(KEPT))? {
        if event.body().get("edition").and_then(|kept| kept.as_str()) == Some(&edition) {
            return Ok(None);
        }
    }
    let body = to_value(&Kept { edition, files: formulary.files().to_vec() })?;
    Ok(Some(NewEvent { kind: KEPT, scope: None, by: None, body, introduces: None }))
}

/// Whether the second pharmacist may read the changes now, in sight of these events.
pub(super) fn awaits<'f>(
    second: &Person,
    formulary: &'f Formulary,
    events: impl Fn(Of<'_>) -> Result<Vec<Event>, JournalError>,
) -> Result<&'f Approval, CaseError> {
    let sign = "its author signs it first: `countersign formulary sign`";
    let author = match (formulary.standing(), formulary.approval()) {
        (ApprovalStatus::Signed { .. }, Some(author)) => author,
        (ApprovalStatus::Altered { changed }, _) => {
            let says = format!("this is not what its author signed: {}", changed.join(", "));
            return Err(refuse("formulary-altered-since", says, "its author looks at it and signs it anew"));
        }
        (ApprovalStatus::Approved { by, on }, _) => {
            let says = format!("it was approved by {} on {on}", by.join(" and "));
            return Err(refuse("formulary-approved-before", says, "nothing is to be done"));
        }
        _ => return Err(refuse("formulary-not-signed", "nobody signed this formulary", sign)),
    };
    let people = People::from_events(&events)?;
    let known = people.iter().find(|person| person.key() == Some(author.author().key));
    if known.is_none_or(|person| person.role != Role::Pharmacist || person.name != author.author().name) {
        let says = format!("{} signed it with a key that is no pharmacist's of this journal", author.author().name);
        return Err(refuse("formulary-author-unknown", says, "a pharmacist of this journal signs it"));
    }
    if second.key().is_none_or(|key| author.is_authors(&second.name, &key)) {
        let says = format!("{} is its author", second.name);
        let help = "another pharmacist reads the changes in their sources";
        return Err(refuse("formulary-second-is-author", says, help));
    }
    let last = approved(&events)?.pop().map(|about| about.fingerprint);
    if last.as_deref() == Some(formulary.fingerprint().to_string().as_str()) {
        let says = "the journal holds its approval already";
        return Err(refuse(
            "formulary-approved-before",
            says,
            "nothing is to be done: it stands beside the files again",
        ));
    }
    if last.as_deref() != author.since() {
        let says = "another formulary was approved since its author signed";
        return Err(refuse("formulary-signed-before", says, "its author looks at what changed and signs it anew"));
    }
    Ok(author)
}

/// Every approval, in order.
fn approved(events: impl Fn(Of<'_>) -> Result<Vec<Event>, JournalError>) -> Result<Vec<About>, CaseError> {
    Ok(approvals(events)?.into_iter().map(|one| one.about).collect())
}

/// An approval, and its event.
pub(super) struct Approved {
    pub(super) about: About,
    pub(super) seq: u64,
    pub(super) at: Moment,
}

/// Every approval with its event, in order.
pub(super) fn approvals(
    events: impl Fn(Of<'_>) -> Result<Vec<Event>, JournalError>,
) -> Result<Vec<Approved>, CaseError> {
    let approved = events(Of::Kind(APPROVED))?;
    approved.iter().map(|event| Ok(Approved { about: read_body(event)?, seq: event.seq(), at: event.at() })).collect()
}

fn for_patients(formulary: &Formulary) -> Result<(), CaseError> {
    if formulary.policy().demonstration {
        let says = "a formulary for demonstration needs no approval";
        return Err(refuse("formulary-for-trying-out", says, "nothing is to be signed; it is never used for patients"));
    }
    Ok(())
}

pub(super) fn pharmacist(person: &Person) -> Result<(), CaseError> {
    if person.role == Role::Pharmacist {
        return Ok(());
    }
    let says = format!("{} is here as {}", person.name, person.role);
    Err(refuse("formulary-not-a-pharmacist", says, "two pharmacists sign and approve a formulary"))
}

pub(super) fn short(fingerprint: &str) -> &str {
    fingerprint.get(..16).unwrap_or(fingerprint)
}
