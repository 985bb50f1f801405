//! The people of a journal: who may sign, in which role, under which key. State is a fold over events.

use serde::{Deserialize, Serialize};

use crate::formulary::{is_same_person, words};
use crate::journal::{Event, Introduced, Journal, JournalError, NewEvent, Of, SealedSigner, Signer, WriteView};
use crate::quantity::{Moment, clip};

use super::error::{CaseError, refuse};
use super::plain_name::good_name;

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
        /// Keeps the people of the journal, and enters and records nothing.
        Administrator = "administrator",
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

/// No answer waits longer after a wrong PIN.
const LONGEST_DELAY: std::time::Duration = std::time::Duration::from_secs(30);

#[derive(Debug, Serialize, Deserialize)]
struct Added {
    id: String,
    name: String,
    role: String,
    sealed: SealedSigner,
    /// The second of the two who named the first administrator.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    also: Option<String>,
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

impl Role {
    /// Whether somebody of this role enters, reads and records at the bedside.
    #[must_use]
    pub fn is_at_the_bedside(self) -> bool {
        self != Self::Administrator
    }
}

impl Person {
    /// Their unlocked key; nothing where the PIN is another. Takes about a twentieth of a second either way, writes
    /// nothing and waits for nobody: whoever calls it keeps guesses slow.
    #[must_use]
    pub fn unlock(&self, journal: &Journal, pin: &str) -> Option<Signer> {
        journal.keys().unlock(&self.id, &self.sealed, pin).ok()
    }

    /// The sealed form of their key as text: another one after each new PIN.
    #[must_use]
    pub fn sealed_as(&self) -> String {
        serde_json::to_string(&self.sealed).unwrap_or_default()
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
                    let Added { id, name, role, sealed, also: _ } = body(event)?;
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

    /// The administrators who are here.
    fn administrators(&self) -> impl Iterator<Item = &Person> {
        self.0.iter().filter(|person| person.role == Role::Administrator && person.retired_at.is_none())
    }

    /// How often somebody was retired or got a new PIN: while it stays the same, everybody may do what they could.
    ///
    /// # Errors
    /// [`CaseError`] when the journal cannot be read.
    pub fn changes(journal: &Journal) -> Result<u64, CaseError> {
        Ok(journal.count(RETIRED)? + journal.count(PIN_CHANGED)?)
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

/// Adds somebody. The first person is added by whoever made the journal; everybody later by an administrator, or, in a
/// journal without one, by somebody who is here. Administrators after the first person see [`add_administrator`].
///
/// # Errors
/// When the name is or was here, is no name, the PIN is too easy, or nobody vouches who may.
pub fn add(
    journal: &mut Journal,
    now: Moment,
    vouched_by: Option<&Signer>,
    name: &str,
    role: Role,
    pin: &str,
) -> Result<Person, CaseError> {
    add_with(journal, now, (vouched_by, None), name, role, pin)
}

/// Adds an administrator: by one who is here, or, in a journal without any, by two people of it.
///
/// # Errors
/// As for [`add`]; when one of the two is nobody else than the other.
pub fn add_administrator(
    journal: &mut Journal,
    now: Moment,
    vouched_by: (Option<&Signer>, Option<&Signer>),
    name: &str,
    pin: &str,
) -> Result<Person, CaseError> {
    add_with(journal, now, vouched_by, name, Role::Administrator, pin)
}

fn add_with(
    journal: &mut Journal,
    now: Moment,
    vouched_by: (Option<&Signer>, Option<&Signer>),
    name: &str,
    role: Role,
    pin: &str,
) -> Result<Person, CaseError> {
    let name = good_name(name)?;
    good_pin(pin)?;
    let id = super::random_id()?;
    let (sealed, signer) = journal.keys().new_signer(&id, pin)?;
    let also = vouched_by.1.map(|signer| signer.id().to_owned());
    let added =
        Added { id: id.clone(), name: name.clone(), role: role.word().to_owned(), sealed: sealed.clone(), also };
    journal.write(now, |past| {
        let people = People::from_events(|of| past.events(of))?;
        if let Some(known) = people.iter().find(|person| is_same_person(&person.name, &name)) {
            let says = match known.retired_at {
                None => format!("`{name}` is here already"),
                Some(_) => format!("`{name}` was here and is retired: a name stands for one person for ever"),
            };
            return Err(refuse("person-twice", says, "two people need two names: write a middle name or a number too"));
        }
        may_add(&people, vouched_by, role)?;
        let introduces = Some(Introduced { id: id.clone(), key: signer.public() });
        let draft = NewEvent { kind: ADDED, scope: None, by: vouched_by.0, body: json(&added)?, introduces };
        Ok::<_, CaseError>((vec![draft], ()))
    })?;
    Ok(Person { id, name, role, added_at: now, retired_at: None, sealed })
}

/// Retires somebody: they sign nothing any more, and what they signed stays.
///
/// # Errors
/// When nobody of that name is here, or whoever does it may not.
pub fn retire(journal: &mut Journal, now: Moment, by: &Signer, name: &str) -> Result<Person, CaseError> {
    journal.write(now, |past| {
        let people = People::from_events(|of| past.events(of))?;
        let person = people.active(name)?.clone();
        may_keep_people(&people, by)?;
        let is_last = people.administrators().all(|one| one.id == person.id);
        if person.role == Role::Administrator
            && is_last
            && people.iter().any(|one| one.retired_at.is_none() && one.id != person.id)
        {
            let says = format!("{} is the last administrator", person.name);
            return Err(refuse("last-administrator", says, "add another administrator first"));
        }
        let body = json(&About { id: person.id.clone(), sealed: None })?;
        Ok((vec![NewEvent { kind: RETIRED, scope: None, by: Some(by), body, introduces: None }], person))
    })
}

/// Gives somebody else a new key under a new PIN, for one who has lost theirs. What they signed stays, and verifies with
/// the key of that time.
///
/// # Errors
/// When nobody of that name is here, the PIN is too easy, or whoever does it is no administrator.
pub fn renew_pin(journal: &mut Journal, now: Moment, by: &Signer, name: &str, pin: &str) -> Result<Person, CaseError> {
    good_pin(pin)?;
    let id = People::of(journal)?.active(name)?.id.clone();
    let (sealed, signer) = journal.keys().new_signer(&id, pin)?;
    journal.write(now, |past| {
        let people = People::from_events(|of| past.events(of))?;
        let person = people.active(name)?.clone();
        let is_administrator = people.administrators().any(|one| one.id == by.id());
        if !is_administrator || person.id != id {
            let says = format!("a new PIN for {} is given by an administrator", person.name);
            return Err(refuse("administrator-needed", says, NEEDS_ADMINISTRATOR));
        }
        let body = json(&About { id: id.clone(), sealed: Some(sealed) })?;
        let introduces = Some(Introduced { id: id.clone(), key: signer.public() });
        Ok((vec![NewEvent { kind: PIN_CHANGED, scope: None, by: Some(by), body, introduces }], person))
    })
}

const NEEDS_ADMINISTRATOR: &str = "an administrator does this; where a journal has none, two people of it name one at the \
                                   command line: people add, with --role administrator, --as and --and";

/// Who may add somebody of this role.
fn may_add(people: &People, (first, second): (Option<&Signer>, Option<&Signer>), role: Role) -> Result<(), CaseError> {
    if people.iter().all(|person| person.retired_at.is_some()) {
        return Ok(());
    }
    let Some(first) = first else {
        let says = "people are here already, and nobody vouches for the new one";
        let help = "add --as and the name of somebody who is here; their PIN is asked";
        return Err(refuse("nobody-vouches", says, help));
    };
    may_keep_people(people, first)?;
    if role != Role::Administrator || people.administrators().next().is_some() {
        return Ok(());
    }
    let is_here = |signer: &&Signer| people.by_id(signer.id()).is_some_and(|person| person.retired_at.is_none());
    if second.filter(is_here).is_none_or(|second| second.id() == first.id()) {
        let says = "this journal has no administrator yet: one person alone names none";
        let help = "add --and and the name of a second person who is here; both PINs are asked";
        return Err(refuse("two-name-an-administrator", says, help));
    }
    Ok(())
}

/// People are kept by administrators; in a journal without one, by everybody who is here.
fn may_keep_people(people: &People, by: &Signer) -> Result<(), CaseError> {
    let Some(person) = people.by_id(by.id()).filter(|person| person.retired_at.is_none()) else {
        return Err(refuse("person-unknown", "whoever signs this is retired here", "somebody who is here signs this"));
    };
    if person.role == Role::Administrator || people.administrators().next().is_none() {
        return Ok(());
    }
    let says = format!("{}, {}, adds and retires nobody", person.name, person.role);
    Err(refuse("administrator-needed", says, NEEDS_ADMINISTRATOR))
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
    // Where the refusal cannot be written down, the next is not known to be one more: each waits the longest.
    let slow = match note_refused_pin(journal, now, &person.id) {
        Ok(recent) => slowed(recent),
        Err(_) => LONGEST_DELAY,
    };
    std::thread::sleep(slow);
    Err(refuse(
        "pin-wrong",
        format!("this is not the PIN of {}", person.name),
        "type it again; after a wrong one the answer takes longer",
    ))
}

/// Writes down that somebody's PIN was refused, at most once a minute for each person. Gives how many were of late.
///
/// # Errors
/// When the journal cannot be read or written.
pub fn note_refused_pin(journal: &mut Journal, now: Moment, id: &str) -> Result<usize, CaseError> {
    let (recent, within_a_minute) = refused_lately(journal, now, id)?;
    if !within_a_minute {
        let body = json(&About { id: id.to_owned(), sealed: None })?;
        let draft = NewEvent { kind: PIN_REFUSED, scope: None, by: None, body, introduces: None };
        journal.write(now, |_| Ok::<_, CaseError>((vec![draft], ())))?;
    }
    Ok(recent)
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
    let longest = LONGEST_DELAY.as_secs();
    let seconds = 1_u64.checked_shl(u32::try_from(remembered).unwrap_or(u32::MAX)).map_or(longest, |s| s.min(longest));
    std::time::Duration::from_secs(seconds)
}

/// Nobody signs who was retired since their key was opened.
pub(super) fn refuse_retired(drafts: &[NewEvent<'_>], past: &WriteView<'_>) -> Result<(), CaseError> {
    let people = People::from_events(|of| past.events(of))?;
    for (draft, signer) in drafts.iter().filter_map(|draft| Some((draft, draft.by?))) {
        let Some(person) = people.by_id(signer.id()) else { continue };
        if person.retired_at.is_some() {
            let says = format!("{} is retired here", person.name);
            return Err(refuse("person-unknown", says, "somebody who is here signs this"));
        }
        if !person.role.is_at_the_bedside() && draft.kind != super::state::FORGOTTEN {
            let says = format!("{} is an administrator, who enters and records nothing", person.name);
            return Err(refuse("role-does-not-fit", says, "a clinician does this"));
        }
    }
    Ok(())
}

/// As [`refuse_retired`], for whoever opens a case.
pub(super) fn refuse_retired_signer(signer: &Signer, past: &WriteView<'_>) -> Result<(), CaseError> {
    let draft = NewEvent {
        kind: super::state::OPENED,
        scope: None,
        by: Some(signer),
        body: serde_json::Value::Null,
        introduces: None,
    };
    refuse_retired(std::slice::from_ref(&draft), past)
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
