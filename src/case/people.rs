//! The people of a journal: who may sign, in which role, under which key. State is a fold over events.

use serde::{Deserialize, Serialize};

use crate::formulary::{is_same_person, words};
use crate::journal::{Event, Journal, JournalError, Of, SealedSigner, Signer};
use crate::quantity::{Moment, clip};

use super::error::{CaseError, refuse};
use super::read_body;

words! {
    /// What somebody is at the bedside.
    Role {
        /// Physician who gives anaesthesia.
        Anaesthetist = "anaesthetist",
        /// Nurse who gives anaesthesia.
        NurseAnaesthetist = "nurse anaesthetist",
        /// Another physician.
        Physician = "physician",
        /// Nurse.
        Nurse = "nurse",
        /// Pharmacist.
        Pharmacist = "pharmacist",
        /// Another person who checks.
        SecondClinician = "second clinician",
        /// Keeps the people of the journal, and enters and records nothing.
        Administrator = "administrator",
    }
}

/// Somebody who may sign, or once could.
#[derive(Debug, Clone)]
pub struct Person {
    /// As events name them.
    pub id: String,
    /// As typed when they were added, or renamed.
    pub name: String,
    /// What they were called before: no name is ever another person's.
    pub former_names: Vec<String>,
    /// In which role.
    pub role: Role,
    /// Since when.
    pub added_at: Moment,
    /// Until when; past signatures stay.
    pub retired_at: Option<Moment>,
    /// A guest is here until then, and is listed for review.
    pub guest_until: Option<Moment>,
    /// Who signed that they were added: a person, or the store.
    pub added_by: String,
    /// An administrator whom two clinicians named while the house had none who could: to be reviewed.
    pub administrators_gone: bool,
    pub(super) sealed: SealedSigner,
}

/// Everybody, in the order they were added.
#[derive(Debug, Clone, Default)]
pub struct People(Vec<Person>);

#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Added {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) role: String,
    pub(super) sealed: SealedSigner,
    /// A guest is here until then.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) until: Option<String>,
}

/// A person's key, newly sealed; or whom an event is about.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct KeyChange {
    pub(super) id: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) sealed: Option<SealedSigner>,
}

#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Renamed {
    pub(super) id: String,
    pub(super) name: String,
}

pub(super) const ADDED: &str = "person-added";
pub(super) const RETIRED: &str = "person-retired";
pub(super) const PIN_CHANGED: &str = "pin-changed";
pub(super) const RENAMED: &str = "person-renamed";
/// Two clinicians named an administrator, and said that the house has none who can.
pub(super) const ADMINISTRATORS_GONE: &str = "administrators-gone";

impl Role {
    /// Whether a person of this role enters, reads and records at the bedside.
    #[must_use]
    pub fn is_at_the_bedside(self) -> bool {
        self != Self::Administrator
    }
}

impl Person {
    /// Their unlocked key; nothing where the PIN is another. Takes about a twentieth of a second either way, writes
    /// nothing and waits for nobody: its caller keeps guesses slow.
    #[must_use]
    pub fn unlock(&self, journal: &Journal, pin: &str) -> Option<Signer> {
        journal.keys().unlock(&self.id, &self.sealed, pin).ok()
    }

    /// The sealed form of their key as text: another one after each new PIN.
    #[must_use]
    pub fn sealed_as(&self) -> String {
        serde_json::to_string(&self.sealed).unwrap_or_default()
    }

    /// Whether they may sign at a moment: not retired, and as a guest not longer than admitted.
    #[must_use]
    pub fn is_here(&self, now: Moment) -> bool {
        self.retired_at.is_none() && self.guest_until.is_none_or(|until| now.is_before(until))
    }

    /// Whether a name is theirs, or was.
    #[must_use]
    pub fn goes_or_went_by(&self, name: &str) -> bool {
        std::iter::once(&self.name).chain(&self.former_names).any(|known| is_same_person(known, name))
    }

    /// What verifies their signatures: Ed25519.
    #[must_use]
    pub fn key(&self) -> Option<[u8; 32]> {
        self.sealed.public()
    }
}

impl People {
    /// Everybody in a journal.
    ///
    /// # Errors
    /// [`CaseError`] when the journal cannot be read.
    pub fn of(journal: &Journal) -> Result<Self, CaseError> {
        Self::from_events(|of| journal.events(of))
    }

    /// Only the events about people: formularies are kept beside them, and are long.
    pub(super) fn from_events(events: impl Fn(Of<'_>) -> Result<Vec<Event>, JournalError>) -> Result<Self, CaseError> {
        let mut all = Vec::new();
        for kind in [ADDED, RETIRED, PIN_CHANGED, RENAMED, ADMINISTRATORS_GONE] {
            all.extend(events(Of::Kind(kind))?);
        }
        all.sort_by_key(Event::seq);
        Self::fold(&all)
    }

    fn fold(events: &[Event]) -> Result<Self, CaseError> {
        let mut people = Self::default();
        for event in events {
            match event.kind() {
                ADDED => {
                    let Added { id, name, role, sealed, until } = read_body(event)?;
                    let role = Role::written(&role)
                        .ok_or_else(|| CaseError::Fault(format!("event {} holds no role", event.seq())))?;
                    let guest_until = until.as_deref().map(Moment::parse).transpose()?;
                    let (added_at, added_by) = (event.at(), event.by().to_owned());
                    let (former_names, retired_at) = (Vec::new(), None);
                    let administrators_gone = false;
                    people.0.push(Person {
                        id,
                        name,
                        former_names,
                        role,
                        added_at,
                        retired_at,
                        guest_until,
                        added_by,
                        administrators_gone,
                        sealed,
                    });
                }
                RETIRED => people.change(event, |person, _| person.retired_at = Some(event.at()))?,
                ADMINISTRATORS_GONE => people.change(event, |person, _| person.administrators_gone = true)?,
                PIN_CHANGED => people.change(event, |person, about| {
                    if let Some(sealed) = about.sealed {
                        person.sealed = sealed;
                    }
                })?,
                RENAMED => {
                    let Renamed { id, name } = read_body(event)?;
                    if let Some(person) = people.0.iter_mut().find(|person| person.id == id) {
                        person.former_names.push(std::mem::replace(&mut person.name, name));
                    }
                }
                _ => {}
            }
        }
        Ok(people)
    }

    fn change(&mut self, event: &Event, change: impl FnOnce(&mut Person, KeyChange)) -> Result<(), CaseError> {
        let about: KeyChange = read_body(event)?;
        if let Some(person) = self.0.iter_mut().find(|person| person.id == about.id) {
            change(person, about);
        }
        Ok(())
    }

    /// The administrators who are here.
    pub fn administrators(&self) -> impl Iterator<Item = &Person> {
        self.0.iter().filter(|person| person.role == Role::Administrator && person.retired_at.is_none())
    }

    /// Everybody whom two clinicians named administrator because the house had none who could.
    pub fn named_without_administrator(&self) -> impl Iterator<Item = &Person> {
        self.administrators().filter(|person| person.administrators_gone)
    }

    /// How often somebody was retired, renamed or got a new PIN: while it stays the same, everybody may do what they could.
    ///
    /// # Errors
    /// [`CaseError`] when the journal cannot be read.
    pub fn changes(journal: &Journal) -> Result<u64, CaseError> {
        Ok(journal.count(RETIRED)? + journal.count(PIN_CHANGED)? + journal.count(RENAMED)?)
    }

    /// Everybody, the retired too.
    pub fn iter(&self) -> impl Iterator<Item = &Person> {
        self.0.iter()
    }

    /// The person whom an event names.
    #[must_use]
    pub fn by_id(&self, id: &str) -> Option<&Person> {
        self.0.iter().find(|person| person.id == id)
    }

    /// The name that an event's author goes by.
    #[must_use]
    pub fn name<'p>(&'p self, id: &'p str) -> &'p str {
        self.by_id(id).map_or(id, |person| person.name.as_str())
    }

    /// Somebody who may sign now, by name.
    ///
    /// # Errors
    /// When nobody of that name is here, they are retired, or a guest whose time is over. A wrong PIN and an unknown name are told apart only here,
    /// at the machine; see [`unlock`](super::unlock).
    pub fn active(&self, name: &str, now: Moment) -> Result<&Person, CaseError> {
        let named = || self.0.iter().filter(|person| is_same_person(&person.name, name));
        named().find(|person| person.is_here(now)).ok_or_else(|| {
            let says = match named().next() {
                Some(person) if person.retired_at.is_none() => "was a guest, and the time is over",
                Some(_) => "is retired here",
                None => "is not known here",
            };
            refuse("person-unknown", format!("`{}` {says}", clip(name)), "see `countersign people list`")
        })
    }
}
