//! The people of a journal: who may sign, in which role, under which key. State is a fold over events.

use serde::{Deserialize, Serialize};

use crate::formulary::{is_same_person, words};
use crate::journal::{Event, Introduced, Journal, JournalError, NewEvent, Of, SealedSigner, Signer, WriteView};
use crate::quantity::{Moment, clip};

use super::error::{CaseError, refuse};

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
        /// Whoever else checks.
        SecondClinician = "second clinician",
    }
}

/// Somebody who may sign, or once could.
#[derive(Debug, Clone)]
pub struct Person {
    /// As events name them.
    pub id: String,
    /// As typed when they were added.
    pub name: String,
    /// In which role.
    pub role: Role,
    /// Since when.
    pub added_at: Moment,
    /// Until when; past signatures stay.
    pub retired_at: Option<Moment>,
    sealed: SealedSigner,
}

/// Everybody, in the order they were added.
#[derive(Debug, Clone, Default)]
pub struct People(Vec<Person>);

/// The shortest PIN, in characters.
pub const SHORTEST_PIN: usize = 6;

/// For so long a wrong PIN is remembered, in minutes, and slows down the next.
const REMEMBERED: i64 = 15;

#[derive(Debug, Serialize, Deserialize)]
struct Added {
    id: String,
    name: String,
    role: String,
    sealed: SealedSigner,
}

#[derive(Debug, Serialize, Deserialize)]
struct About {
    id: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    sealed: Option<SealedSigner>,
}

const ADDED: &str = "person-added";
const RETIRED: &str = "person-retired";
const PIN_CHANGED: &str = "pin-changed";
const PIN_REFUSED: &str = "pin-refused";

impl Person {
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
        for kind in [ADDED, RETIRED, PIN_CHANGED] {
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
                    let Added { id, name, role, sealed } = body(event)?;
                    let role = Role::written(&role)
                        .ok_or_else(|| CaseError::Fault(format!("event {} holds no role", event.seq())))?;
                    people.0.push(Person { id, name, role, added_at: event.at(), retired_at: None, sealed });
                }
                RETIRED => people.change(event, |person, _| person.retired_at = Some(event.at()))?,
                PIN_CHANGED => people.change(event, |person, about| {
                    if let Some(sealed) = about.sealed {
                        person.sealed = sealed;
                    }
                })?,
                _ => {}
            }
        }
        Ok(people)
    }

    fn change(&mut self, event: &Event, change: impl FnOnce(&mut Person, About)) -> Result<(), CaseError> {
        let about: About = body(event)?;
        if let Some(person) = self.0.iter_mut().find(|person| person.id == about.id) {
            change(person, about);
        }
        Ok(())
    }

    /// Everybody, the retired too.
    pub fn iter(&self) -> impl Iterator<Item = &Person> {
        self.0.iter()
    }

    /// Whoever an event names.
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
    /// When nobody of that name is here, or they are retired. A wrong PIN and an unknown name are told apart only here,
    /// at the machine; see [`unlock`].
    pub fn active(&self, name: &str) -> Result<&Person, CaseError> {
        let of_name = || self.0.iter().filter(|person| is_same_person(&person.name, name));
        of_name().find(|person| person.retired_at.is_none()).ok_or_else(|| {
            let says = if of_name().next().is_some() { "is retired here" } else { "is not known here" };
            refuse("person-unknown", format!("`{}` {says}", clip(name)), "see `countersign people list`")
        })
    }
}

/// Adds somebody. The first person is added by whoever made the journal, everybody later by somebody who is here.
///
/// # Errors
/// When the name is here already, the PIN is too easy, or nobody vouches.
pub fn add(
    journal: &mut Journal,
    now: Moment,
    vouched_by: Option<&Signer>,
    name: &str,
    role: Role,
    pin: &str,
) -> Result<Person, CaseError> {
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    if !name.chars().any(char::is_alphabetic) || name.chars().any(char::is_control) {
        return Err(refuse("name-empty", format!("`{}` is not a name", clip(&name)), "write the person's name"));
    }
    good_pin(pin)?;
    let id = super::random_id()?;
    let (sealed, signer) = journal.keys().new_signer(&id, pin)?;
    let added = Added { id: id.clone(), name: name.clone(), role: role.word().to_owned(), sealed: sealed.clone() };
    journal.write(now, |past| {
        let people = People::from_events(|of| past.events(of))?;
        if people.active(&name).is_ok() {
            let says = format!("`{name}` is here already");
            return Err(refuse("person-twice", says, "two people need two names: write a middle name or a number too"));
        }
        let anybody = people.iter().any(|person| person.retired_at.is_none());
        if anybody && vouched_by.is_none() {
            let says = "people are here already, and nobody vouches for the new one";
            return Err(refuse(
                "nobody-vouches",
                says,
                "add --as and the name of somebody who is here; their PIN is asked",
            ));
        }
        let introduces = Some(Introduced { id: id.clone(), key: signer.public() });
        let draft = NewEvent { kind: ADDED, scope: None, by: vouched_by, body: json(&added)?, introduces };
        Ok::<_, CaseError>((vec![draft], ()))
    })?;
    Ok(Person { id, name, role, added_at: now, retired_at: None, sealed })
}

/// Retires somebody: they sign nothing any more, and what they signed stays.
///
/// # Errors
/// When nobody of that name is here.
pub fn retire(journal: &mut Journal, now: Moment, by: &Signer, name: &str) -> Result<Person, CaseError> {
    journal.write(now, |past| {
        let people = People::from_events(|of| past.events(of))?;
        let person = people.active(name)?.clone();
        let body = json(&About { id: person.id.clone(), sealed: None })?;
        Ok((vec![NewEvent { kind: RETIRED, scope: None, by: Some(by), body, introduces: None }], person))
    })
}

/// Gives somebody a new PIN for the same key.
///
/// # Errors
/// When the PIN is too easy.
pub fn change_pin(journal: &mut Journal, now: Moment, signer: &Signer, pin: &str) -> Result<(), CaseError> {
    good_pin(pin)?;
    let sealed = Some(journal.keys().reseal(signer, pin)?);
    let body = json(&About { id: signer.id().to_owned(), sealed })?;
    let draft = NewEvent { kind: PIN_CHANGED, scope: None, by: Some(signer), body, introduces: None };
    journal.write(now, |_| Ok((vec![draft], ())))
}

/// Opens somebody's key with their PIN. Wrong ones are journaled, at most one a minute for each person, and each makes
/// the next answer slower; nobody is ever locked out of an emergency.
///
/// # Errors
/// When the name or the PIN is wrong.
pub fn unlock(journal: &mut Journal, now: Moment, name: &str, pin: &str) -> Result<(Person, Signer), CaseError> {
    let person = People::of(journal)?.active(name)?.clone();
    // One try at a time for each person: many at once would not be slowed down, and nobody waits for another's slips.
    let _turn = one_at_a_time(journal, &person.id)?;
    if let Ok(signer) = journal.keys().unlock(&person.id, &person.sealed, pin) {
        return Ok((person, signer));
    }
    let (recent, within_a_minute) = refused_lately(journal, now, &person.id)?;
    if !within_a_minute {
        let body = json(&About { id: person.id.clone(), sealed: None })?;
        journal.write(now, |_| {
            Ok::<_, CaseError>((
                vec![NewEvent { kind: PIN_REFUSED, scope: None, by: None, body, introduces: None }],
                (),
            ))
        })?;
    }
    std::thread::sleep(slowed(recent));
    Err(refuse(
        "pin-wrong",
        format!("this is not the PIN of {}", person.name),
        "type it again; after a wrong one the answer takes longer",
    ))
}

/// How often somebody's PIN was refused of late, and whether within this minute. Only the refusals that are still
/// remembered are read, and no more than make an answer as slow as it gets.
fn refused_lately(journal: &Journal, now: Moment, id: &str) -> Result<(usize, bool), CaseError> {
    const ENOUGH: usize = 8;
    // At most one a minute is written down for each person, so this many are some hours of many people.
    const MOST_READ: usize = 500;
    let minutes_ago =
        |event: &Event| now.hours_since(event.at()).map_or(0, |hours| hours.numerator() * 60 / hours.denominator());
    let (mut recent, mut within_a_minute, mut read) = (0, false, 0);
    journal.newest(PIN_REFUSED, None, |event| {
        read += 1;
        let ago = minutes_ago(&event);
        if ago >= REMEMBERED as u128 {
            return false;
        }
        if body::<About>(&event).is_ok_and(|about| about.id == id) {
            recent += 1;
            within_a_minute |= ago < 1;
        }
        recent < ENOUGH && read < MOST_READ
    })?;
    Ok((recent, within_a_minute))
}

/// For so long an answer waits after a wrong PIN, when so many wrong ones are remembered.
#[must_use]
pub fn slowed(remembered: usize) -> std::time::Duration {
    const LONGEST: u64 = 30;
    let seconds = 1_u64.checked_shl(u32::try_from(remembered).unwrap_or(u32::MAX)).map_or(LONGEST, |s| s.min(LONGEST));
    std::time::Duration::from_secs(seconds)
}

/// Nobody signs who was retired since their key was opened.
pub(super) fn refuse_retired(drafts: &[NewEvent<'_>], past: &WriteView<'_>) -> Result<(), CaseError> {
    let people = People::from_events(|of| past.events(of))?;
    for signer in drafts.iter().filter_map(|draft| draft.by) {
        if let Some(person) = people.by_id(signer.id()).filter(|person| person.retired_at.is_some()) {
            let says = format!("{} is retired here", person.name);
            return Err(refuse("person-unknown", says, "somebody who is here signs this"));
        }
    }
    Ok(())
}

/// Held until dropped: the file is locked, and the lock goes with it.
fn one_at_a_time(journal: &Journal, id: &str) -> Result<std::fs::File, CaseError> {
    let path = journal.folder().join(format!("pin-{id}.lock"));
    let failed = |error| CaseError::Fault(format!("`{}` cannot be locked: {error}", path.display()));
    let file = std::fs::OpenOptions::new().create(true).truncate(false).write(true).open(&path).map_err(failed)?;
    file.lock().map_err(failed)?;
    Ok(file)
}

fn good_pin(pin: &str) -> Result<(), CaseError> {
    let help = "take six digits or more that nobody guesses, or a passphrase";
    let characters: Vec<char> = pin.chars().collect();
    if characters.len() < SHORTEST_PIN {
        return Err(refuse("pin-short", format!("the PIN has fewer than {SHORTEST_PIN} characters"), help));
    }
    let steps: Vec<i64> =
        characters.windows(2).map(|two| i64::from(u32::from(two[1])) - i64::from(u32::from(two[0]))).collect();
    if steps.iter().all(|step| *step == steps[0]) && (-1..=1).contains(&steps[0]) {
        return Err(refuse("pin-easy", "the PIN is one character again and again, or a run like 123456", help));
    }
    Ok(())
}

fn body<T: for<'de> Deserialize<'de>>(event: &Event) -> Result<T, CaseError> {
    super::read_body(event)
}

fn json(value: &impl Serialize) -> Result<serde_json::Value, CaseError> {
    super::to_value(value)
}

#[cfg(test)]
mod tests {
    use super::good_pin;
    use rstest::rstest;

    #[rstest]
    #[case("12345", false)]
    #[case("123456", false)]
    #[case("654321", false)]
    #[case("777777", false)]
    #[case("281940", true)]
    #[case("quiet harbour", true)]
    fn an_easy_pin_is_refused(#[case] pin: &str, #[case] good: bool) {
        assert_eq!(good_pin(pin).is_ok(), good);
    }
}
