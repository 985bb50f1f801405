//! The people of a house, kept by two: adding, retiring, renaming, new PINs, guests. Who does it signs, and so does a
//! second person, each with their own key; one person makes no second person of themselves.

use serde_json::json;

use crate::formulary::is_same_person;
use crate::journal::{Introduced, Journal, NewEvent, Signer, Writing};
use crate::quantity::{Moment, Ratio, clip};

use super::error::{CaseError, refuse};
use super::people::{
    ADDED, ADMINISTRATORS_GONE, Added, KeyChange, PIN_CHANGED, People, Person, RENAMED, RETIRED, Renamed, Role,
};
use super::pins::{good_pin, signed_now};
use super::plain_name::good_name;
use super::to_value;

const AGREED: &str = "person-agreed";

/// How long a guest is here, in hours.
const GUEST_HOURS: u128 = 12;

/// Who stands for what is done with the people of a house: the one who does it, and a second person who signs too.
#[derive(Debug, Clone, Copy, Default)]
pub struct Vouching<'s> {
    /// The person who does it.
    pub first: Option<&'s Signer>,
    /// The second person.
    pub second: Option<&'s Signer>,
}

impl<'s> From<Option<&'s Signer>> for Vouching<'s> {
    fn from(first: Option<&'s Signer>) -> Self {
        Self { first, second: None }
    }
}

impl<'s> From<&'s Signer> for Vouching<'s> {
    fn from(first: &'s Signer) -> Self {
        Some(first).into()
    }
}

impl<'s> From<(&'s Signer, &'s Signer)> for Vouching<'s> {
    fn from((first, second): (&'s Signer, &'s Signer)) -> Self {
        Self { first: Some(first), second: Some(second) }
    }
}

impl<'s> From<(Option<&'s Signer>, Option<&'s Signer>)> for Vouching<'s> {
    fn from((first, second): (Option<&'s Signer>, Option<&'s Signer>)) -> Self {
        Self { first, second }
    }
}

/// Adds somebody. The first person of a journal needs nobody; everybody later an administrator and a second person. In a
/// journal without an administrator two people of it add, and in a demonstration one is enough.
///
/// # Errors
/// When the name is or was here, is no name, the PIN is too easy, or the two may not do it.
pub fn add<'s>(
    journal: &mut Journal,
    now: Moment,
    vouched_by: impl Into<Vouching<'s>>,
    name: &str,
    role: Role,
    pin: &str,
) -> Result<Person, CaseError> {
    let (by, is_demonstration) = (vouched_by.into(), journal.is_demonstration());
    introduce(journal, now, (by, false), (name, role, None), pin, |people| {
        if people.iter().all(|person| !person.is_here(now)) {
            return Ok(());
        }
        // One person alone names no administrator, also for trying out.
        let easy = is_demonstration && role != Role::Administrator;
        two_of_the_house(people, now, by, None, easy).map(|_| ())
    })
}

/// Names an administrator where those of the house are gone, or have lost their PINs: two clinicians of it sign that they
/// are. It is an event of its own, and is said on the first page and in the list of people as long as the one they named
/// is here.
///
/// # Errors
/// As for [`add`]; when the house has no administrator to be gone, or the two are not two clinicians of it.
pub fn add_as_administrators_are_gone(
    journal: &mut Journal,
    now: Moment,
    by: (&Signer, &Signer),
    name: &str,
    pin: &str,
) -> Result<Person, CaseError> {
    introduce(journal, now, (by.into(), true), (name, Role::Administrator, None), pin, |people| {
        if people.administrators().next().is_none() {
            let says = "this journal has no administrator who could be gone";
            return Err(refuse("administrators-not-gone", says, "leave --administrators-gone out"));
        }
        two_clinicians(people, now, by, "names an administrator")
    })
}

fn two_clinicians(people: &People, now: Moment, by: (&Signer, &Signer), does: &str) -> Result<(), CaseError> {
    for signer in [by.0, by.1] {
        let person = here(people, now, signer)?;
        if !person.role.is_at_the_bedside() {
            let says = format!("{}, {}, is no clinician", person.name, person.role);
            return Err(refuse("role-does-not-fit", says, "two clinicians do this"));
        }
    }
    if by.0.id() == by.1.id() { Err(second_missing(does)) } else { Ok(()) }
}

/// Admits a guest for 12 hours: two clinicians of the house do it, and it is listed for review.
///
/// # Errors
/// As for [`add`]; when the guest would be an administrator, or one of the two is no clinician of the house.
pub fn admit_guest(
    journal: &mut Journal,
    now: Moment,
    by: (&Signer, &Signer),
    name: &str,
    role: Role,
    pin: &str,
) -> Result<Person, CaseError> {
    if role == Role::Administrator {
        let says = "a guest is no administrator";
        return Err(refuse("role-does-not-fit", says, "an administrator and a second person add one"));
    }
    let until = Ratio::new(GUEST_HOURS, 1).ok().and_then(|hours| now.after(hours));
    let until = Some(until.ok_or_else(|| CaseError::Fault("the time of a guest cannot be counted".to_owned()))?);
    introduce(journal, now, (by.into(), false), (name, role, until), pin, |people| {
        two_clinicians(people, now, by, "admits a guest")
    })
}

fn introduce(
    journal: &mut Journal,
    now: Moment,
    (by, administrators_gone): (Vouching<'_>, bool),
    (name, role, guest_until): (&str, Role, Option<Moment>),
    pin: &str,
    may: impl FnOnce(&People) -> Result<(), CaseError>,
) -> Result<Person, CaseError> {
    let name = good_name(name)?;
    good_pin(pin)?;
    let id = super::random_id()?;
    let (sealed, signer) = journal.keys().new_signer(&id, pin)?;
    let until = guest_until.map(Moment::to_utc);
    let added =
        Added { id: id.clone(), name: name.clone(), role: role.word().to_owned(), sealed: sealed.clone(), until };
    let added_by = by.first.map_or(crate::journal::STORE, Signer::id).to_owned();
    journal.write_in_steps(now, |writing| {
        let people = People::from_events(|of| writing.events(of))?;
        refuse_known_name(&people, &name, None)?;
        may(&people)?;
        agreed(writing, by.second, ADDED, &id)?;
        let introduces = Some(Introduced { id: id.clone(), key: signer.public() });
        writing.append(NewEvent { kind: ADDED, scope: None, by: by.first, body: to_value(&added)?, introduces })?;
        if administrators_gone {
            let body = to_value(&KeyChange { id: id.clone(), sealed: None })?;
            let draft = NewEvent { kind: ADMINISTRATORS_GONE, scope: None, by: by.first, body, introduces: None };
            writing.append(draft)?;
        }
        Ok::<_, CaseError>(())
    })?;
    let former_names = Vec::new();
    Ok(Person {
        id,
        name,
        former_names,
        role,
        added_at: now,
        retired_at: None,
        guest_until,
        added_by,
        administrators_gone,
        sealed,
    })
}

/// A name stands for one person for ever, whatever they are called later.
fn refuse_known_name(people: &People, name: &str, but: Option<&str>) -> Result<(), CaseError> {
    let mut others = people.iter().filter(|person| Some(person.id.as_str()) != but);
    let Some(known) = others.find(|person| person.goes_or_went_by(name)) else { return Ok(()) };
    let says = if known.retired_at.is_some() {
        format!("`{name}` was here and is retired: a name stands for one person for ever")
    } else if is_same_person(&known.name, name) {
        format!("`{name}` is here already")
    } else {
        format!("`{name}` was the name of {}: a name stands for one person for ever", known.name)
    };
    Err(refuse("person-twice", says, "two people need two names: write a middle name or a number too"))
}

/// Retires somebody: they sign nothing any more, their sessions end, and what they signed stays.
///
/// # Errors
/// When nobody of that name is here, or the two may not do it.
pub fn retire<'s>(
    journal: &mut Journal,
    now: Moment,
    by: impl Into<Vouching<'s>>,
    name: &str,
) -> Result<Person, CaseError> {
    change(journal, now, by.into(), name, |writing, people, person, first| {
        let is_last = people.administrators().all(|one| one.id == person.id);
        if person.role == Role::Administrator
            && is_last
            && people.iter().any(|one| one.retired_at.is_none() && one.id != person.id)
        {
            let says = format!("{} is the last administrator", person.name);
            return Err(refuse("last-administrator", says, "add another administrator first"));
        }
        let body = to_value(&KeyChange { id: person.id.clone(), sealed: None })?;
        writing.append(NewEvent { kind: RETIRED, scope: None, by: Some(first), body, introduces: None })?;
        Ok(())
    })
}

/// Gives somebody another name. Their key and what they signed stay theirs, and the old name is nobody else's ever.
///
/// # Errors
/// When nobody of that name is here, the new one is or was another person's, or the two may not do it.
pub fn rename<'s>(
    journal: &mut Journal,
    now: Moment,
    by: impl Into<Vouching<'s>>,
    name: &str,
    new: &str,
) -> Result<Person, CaseError> {
    let new = good_name(new)?;
    let mut renamed = change(journal, now, by.into(), name, |writing, people, person, first| {
        refuse_known_name(people, &new, Some(&person.id))?;
        let body = to_value(&Renamed { id: person.id.clone(), name: new.clone() })?;
        writing.append(NewEvent { kind: RENAMED, scope: None, by: Some(first), body, introduces: None })?;
        Ok(())
    })?;
    renamed.former_names.push(std::mem::replace(&mut renamed.name, new));
    Ok(renamed)
}

/// Gives somebody else a new key under a new PIN, for one who has lost theirs. What they signed stays, and verifies with
/// the key of that time; their sessions end.
///
/// # Errors
/// When nobody of that name is here, the PIN is too easy, or the two may not do it.
pub fn renew_pin<'s>(
    journal: &mut Journal,
    now: Moment,
    by: impl Into<Vouching<'s>>,
    name: &str,
    pin: &str,
) -> Result<Person, CaseError> {
    good_pin(pin)?;
    let id = People::of(journal)?.active(name, now)?.id.clone();
    let (sealed, signer) = journal.keys().new_signer(&id, pin)?;
    change(journal, now, by.into(), name, |writing, people, person, first| {
        if people.administrators().next().is_none() || person.id != id {
            let says = format!("a new PIN for {} is given by an administrator", person.name);
            return Err(refuse("administrator-needed", says, NEEDS_ADMINISTRATOR));
        }
        let body = to_value(&KeyChange { id: id.clone(), sealed: Some(sealed.clone()) })?;
        let introduces = Some(Introduced { id: id.clone(), key: signer.public() });
        writing.append(NewEvent { kind: PIN_CHANGED, scope: None, by: Some(first), body, introduces })?;
        Ok(())
    })
}

/// What two people do with one who is here. The second person's signature is written first, with what it is about.
fn change(
    journal: &mut Journal,
    now: Moment,
    by: Vouching<'_>,
    name: &str,
    act: impl FnOnce(&mut Writing<'_>, &People, &Person, &Signer) -> Result<(), CaseError>,
) -> Result<Person, CaseError> {
    let is_demonstration = journal.is_demonstration();
    journal.write_in_steps(now, |writing| {
        let people = People::from_events(|of| writing.events(of))?;
        let person = people.active(name, now)?.clone();
        let first = two_of_the_house(&people, now, by, Some(&person.id), is_demonstration)?;
        agreed(writing, by.second, "person", &person.id)?;
        act(writing, &people, &person, first)?;
        Ok(person)
    })
}

/// The second person signs that they agree to the event that is written next.
pub(super) fn agreed(
    writing: &mut Writing<'_>,
    second: Option<&Signer>,
    to: &str,
    about: &str,
) -> Result<(), CaseError> {
    let Some(second) = second else { return Ok(()) };
    let body = json!({"to": to, "about": about});
    writing.append(NewEvent { kind: AGREED, scope: None, by: Some(second), body, introduces: None })?;
    Ok(())
}

const NEEDS_ADMINISTRATOR: &str = "an administrator and a second person do this; where a journal has no administrator, two people of it name one at the \
                                   command line: people add, with --role administrator, --as and --and; where no administrator is left who can, two \
                                   clinicians name one there, with --administrators-gone too";

/// Two people who may keep the people of a house: both are here and no guests, one is an administrator where there is one,
/// and the second is not the person whom it is about. Where nobody else is here the first is enough, so that no house is
/// ever locked out; in a demonstration without an administrator too (`easy`). Gives the first.
pub(super) fn two_of_the_house<'s>(
    people: &People,
    now: Moment,
    by: Vouching<'s>,
    subject: Option<&str>,
    easy: bool,
) -> Result<&'s Signer, CaseError> {
    let Some(first) = by.first else {
        let says = "people are here already, and nobody vouches for the new one";
        let help = "add --as and the name of somebody who is here; their PIN is asked";
        return Err(refuse("nobody-vouches", says, help));
    };
    let one = here(people, now, first)?;
    let other = by.second.map(|second| here(people, now, second)).transpose()?;
    let is_administrator = |person: &Person| person.role == Role::Administrator;
    let has_administrator = people.administrators().next().is_some();
    if has_administrator && !is_administrator(one) && !other.is_some_and(is_administrator) {
        let says = format!("{}, {}, adds and retires nobody", one.name, one.role);
        return Err(refuse("administrator-needed", says, NEEDS_ADMINISTRATOR));
    }
    let may_be_second = |person: &Person| {
        person.id != one.id
            && Some(person.id.as_str()) != subject
            && person.is_here(now)
            && person.guest_until.is_none()
    };
    let nobody_else = !people.iter().any(may_be_second);
    match other {
        Some(other) if may_be_second(other) => Ok(first),
        None if nobody_else || (easy && !has_administrator) => Ok(first),
        _ if !has_administrator && subject.is_none() => {
            let says = "this journal has no administrator yet: one person alone names none, and adds nobody";
            let help = "add --and and the name of a second person who is here; both PINs are asked";
            Err(refuse("two-name-an-administrator", says, help))
        }
        _ => Err(second_missing("does this")),
    }
}

fn second_missing(does: &str) -> CaseError {
    let says = format!("one person alone {does}");
    let help =
        "add --and and the name of a second person who is here, and not the one whom it is about; their PIN is asked";
    refuse("second-person-needed", says, help)
}

/// A person who is here and no guest, and who has typed their PIN for this.
fn here<'p>(people: &'p People, now: Moment, signer: &Signer) -> Result<&'p Person, CaseError> {
    signed_now(signer)?;
    let person = people.by_id(signer.id()).filter(|person| person.is_here(now) && person.guest_until.is_none());
    person.ok_or_else(|| {
        let name = people.name(signer.id());
        let says = format!("`{}` is retired here, or a guest", clip(name));
        refuse("person-unknown", says, "a person of this house who is here signs this")
    })
}

/// Whether one person alone may make something unreadable: nobody else is here to sign it too.
pub(super) fn two_who_forget(
    people: &People,
    now: Moment,
    first: &Signer,
    second: Option<&Signer>,
) -> Result<(), CaseError> {
    let one = here(people, now, first)?;
    match second.map(|second| here(people, now, second)).transpose()? {
        Some(other) if other.id != one.id => Ok(()),
        None if !people
            .iter()
            .any(|person| person.id != one.id && person.is_here(now) && person.guest_until.is_none()) =>
        {
            Ok(())
        }
        _ => Err(second_missing("makes nothing unreadable")),
    }
}
