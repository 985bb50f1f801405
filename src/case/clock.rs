//! The clock: what may be written while it is in doubt, and how people say that it is right, or was wrong.
//!
//! What has grown too old is held against the latest time that was written without doubt, so that a clock that is set
//! back brings nothing back ([`crate::journal::Event::floor`]). A clock that was ahead would make everything too old: two
//! people of the house, both administrators where it has two, sign that it was wrong, and time counts from their event on.

use serde_json::json;

use crate::journal::{Journal, KIND_CLOCK_CORRECTED, NewEvent, Signer, WriteView};
use crate::quantity::Moment;

use super::error::{CaseError, refuse};
use super::house::{Vouching, agreed, two_of_the_house};
use super::people::People;
use super::state::{ENTRY, IDENTIFIERS, READ_BACK, RECORD, ROUND, ROUND_SIGNED, WEIGHT, WITNESSED};

const CLOCK_CONFIRMED: &str = "clock-confirmed";

/// What is written however uncertain the clock is, and marked: an emergency, what was done, what a driver shows or a round
/// found, and what two people read of the patient.
pub(super) fn goes_on(draft: &NewEvent<'_>) -> bool {
    let has_no_age = [RECORD, READ_BACK, WITNESSED, WEIGHT, IDENTIFIERS, ROUND, ROUND_SIGNED].contains(&draft.kind);
    has_no_age || (draft.kind == ENTRY && draft.by.is_none())
}

/// What [`goes_on`] is always written. An entry that a person signs waits
/// until somebody has said that the time is right: its age decides later whether it may be started.
pub(super) fn may_be_written(drafts: &[NewEvent<'_>], past: &WriteView<'_>) -> Result<(), CaseError> {
    let Some(why) = past.clock_in_doubt() else { return Ok(()) };
    if drafts.iter().all(goes_on) {
        return Ok(());
    }
    let says = format!("the clock is uncertain: {why}");
    let help = "look at another clock, and confirm the time on the page Journal, or set this machine's clock right; an emergency entry, the record, rounds, weights and identifiers go on meanwhile";
    Err(refuse("clock-uncertain", says, help))
}

/// Writes down that a person looked at another clock, and that this one is right. From here on it is not in doubt.
///
/// # Errors
/// When it cannot be written, or the person is not here any more.
pub fn confirm_clock(journal: &mut Journal, now: Moment, by: &Signer) -> Result<(), CaseError> {
    journal.doubt_clock(None);
    journal.write(now, |past| {
        let draft = NewEvent { kind: CLOCK_CONFIRMED, scope: None, by: Some(by), body: json!({}), introduces: None };
        let people = People::from_events(|of| past.events(of))?;
        if !people.by_id(by.id()).is_some_and(|person| person.is_here(now)) {
            return Err(refuse(
                "person-unknown",
                "the person who signs this is not here",
                "a person who is here signs this",
            ));
        }
        Ok((vec![draft], ()))
    })
}

/// Two people say that the clock was ahead, and that now is right: what follows is not held against later times any more.
/// Entries that the wrong clock sealed stay too uncertain to be started. Gives how far it was ahead, in seconds.
///
/// # Errors
/// When the clock is not behind what was written, or the two may not do it.
pub fn correct_clock(journal: &mut Journal, now: Moment, by: Vouching<'_>) -> Result<u64, CaseError> {
    journal.write_in_steps(now, |writing| {
        let floor = writing.floor();
        if !now.is_before(floor) {
            let says = format!("the clock says {}, and nothing was written later than that", now.local());
            return Err(refuse("clock-not-behind", says, "nothing is to be corrected"));
        }
        let people = People::from_events(|of| writing.events(of))?;
        let first = two_of_the_house(&people, now, by, None, false)?;
        let is_administrator = |signer: &&Signer| people.administrators().any(|one| one.id == signer.id());
        let signing = [by.first, by.second].into_iter().flatten().filter(is_administrator).count();
        if people.administrators().count() > 1 && signing < 2 {
            let help = "both administrators sign it: --as and --and, with their names";
            return Err(refuse("administrator-needed", "two administrators correct the clock", help));
        }
        agreed(writing, by.second, KIND_CLOCK_CORRECTED, "the clock")?;
        let body = json!({"latest": floor.to_utc()});
        writing.append(NewEvent {
            kind: KIND_CLOCK_CORRECTED,
            scope: None,
            by: Some(first),
            body,
            introduces: None,
        })?;
        Ok(floor.seconds_since(now).unsigned_abs())
    })
}
