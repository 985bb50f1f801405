//! Who may sign what now: by role, by the time that a guest has, and by a clock that may be in doubt.

use crate::journal::{NewEvent, Signer, WriteView};

use super::FORGETTING_AGREED;
use super::clock::{goes_on, may_be_written};
use super::error::{CaseError, refuse};
use super::people::People;
use super::state::{FORGOTTEN, OPENED};

/// Nobody signs who was retired since their key was opened, whose time as a guest is over, or whose role does not fit; and
/// while the clock is in doubt nothing is signed that has to be of a certain age later.
pub(super) fn may_sign(drafts: &[NewEvent<'_>], past: &WriteView<'_>) -> Result<(), CaseError> {
    may_be_written(drafts, past)?;
    let people = People::from_events(|of| past.events(of))?;
    for (draft, signer) in drafts.iter().filter_map(|draft| Some((draft, draft.by?))) {
        let Some(person) = people.by_id(signer.id()) else { continue };
        // A guest whose time is over does not come back with a clock that was set back, and records what happens all the
        // same: that goes by the clock, and its event says that the clock was uncertain.
        let by_floor = !goes_on(draft) && past.now().is_before(past.floor());
        if !person.is_here(if by_floor { past.floor() } else { past.now() }) {
            let why = if person.retired_at.is_some() { "is retired here" } else { "was a guest, and the time is over" };
            return Err(refuse("person-unknown", format!("{} {why}", person.name), "a person who is here signs this"));
        }
        if !person.role.is_at_the_bedside() && draft.kind != FORGOTTEN && draft.kind != FORGETTING_AGREED {
            let says = format!("{} is an administrator, who enters and records nothing", person.name);
            return Err(refuse("role-does-not-fit", says, "a clinician does this"));
        }
    }
    Ok(())
}

/// As [`may_sign`], for a person who opens a case.
pub(super) fn may_open(signer: &Signer, past: &WriteView<'_>) -> Result<(), CaseError> {
    let draft =
        NewEvent { kind: OPENED, scope: None, by: Some(signer), body: serde_json::Value::Null, introduces: None };
    may_sign(std::slice::from_ref(&draft), past)
}
