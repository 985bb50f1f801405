//! PINs: what opens somebody's key, how guesses are slowed down, and a new PIN for the same key.

use crate::journal::{Event, Journal, NewEvent, Signer};
use crate::quantity::Moment;

use super::error::{CaseError, refuse};
use super::people::{KeyChange, PIN_CHANGED, People, Person};
use super::{read_body, to_value};

/// The shortest PIN, in characters.
pub const SHORTEST_PIN: usize = 6;

/// How long a wrong PIN is remembered, in minutes, and slows down the next.
const REMEMBERED: i64 = 15;

/// No answer waits longer after a wrong PIN.
const LONGEST_DELAY: std::time::Duration = std::time::Duration::from_secs(30);

const PIN_REFUSED: &str = "pin-refused";

/// Gives somebody a new PIN for the same key.
///
/// # Errors
/// When the PIN is too easy, or a session holds the key open.
pub fn change_pin(journal: &mut Journal, now: Moment, signer: &Signer, pin: &str) -> Result<(), CaseError> {
    good_pin(pin)?;
    signed_now(signer)?;
    let sealed = Some(journal.keys().reseal(signer, pin)?);
    let body = to_value(&KeyChange { id: signer.id().to_owned(), sealed })?;
    let draft = NewEvent { kind: PIN_CHANGED, scope: None, by: Some(signer), body, introduces: None };
    journal.write(now, |_| Ok((vec![draft], ())))
}

/// Opens somebody's key with their PIN. Wrong ones are journaled, at most one a minute for each person, and each makes
/// the next answer slower; nobody is ever locked out of an emergency.
///
/// # Errors
/// When the name or the PIN is wrong.
pub fn unlock(journal: &mut Journal, now: Moment, name: &str, pin: &str) -> Result<(Person, Signer), CaseError> {
    let person = People::of(journal)?.active(name, now)?.clone();
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
        let body = to_value(&KeyChange { id: id.to_owned(), sealed: None })?;
        let draft = NewEvent { kind: PIN_REFUSED, scope: None, by: None, body, introduces: None };
        journal.write(now, |_| Ok::<_, CaseError>((vec![draft], ())))?;
    }
    Ok(recent)
}

/// What weighs most is signed with a PIN that was typed for it: the key that a session holds open does not sign it, so
/// that a tablet which somebody left signs nothing of it for another person.
///
/// # Errors
/// When a session holds the key open.
pub(super) fn signed_now(signer: &Signer) -> Result<(), CaseError> {
    if signer.is_held() {
        let says = "this is signed with your PIN, and a session alone does not sign it";
        return Err(refuse("pin-needed", says, "type your PIN with it"));
    }
    Ok(())
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
        if read_body::<KeyChange>(&event).is_ok_and(|about| about.id == id) {
            recent += 1;
            within_a_minute |= ago < 1;
        }
        recent < ENOUGH && read < MOST_READ
    })?;
    Ok((recent, within_a_minute))
}

/// How long an answer waits after a wrong PIN, by the number of wrong ones that are remembered.
#[must_use]
pub fn slowed(remembered: usize) -> std::time::Duration {
    let longest = LONGEST_DELAY.as_secs();
    let seconds = 1_u64.checked_shl(u32::try_from(remembered).unwrap_or(u32::MAX)).map_or(longest, |s| s.min(longest));
    std::time::Duration::from_secs(seconds)
}

/// Held until dropped: the file is locked, and the lock goes with it.
fn one_at_a_time(journal: &Journal, id: &str) -> Result<std::fs::File, CaseError> {
    let path = journal.folder().join(format!("pin-{id}.lock"));
    let failed = |error| CaseError::Fault(format!("`{}` cannot be locked: {error}", path.display()));
    let file = std::fs::OpenOptions::new().create(true).truncate(false).write(true).open(&path).map_err(failed)?;
    file.lock().map_err(failed)?;
    Ok(file)
}

/// A PIN that is not guessed at once.
///
/// # Errors
/// When it is short, or one character again and again, or a run.
pub fn good_pin(pin: &str) -> Result<(), CaseError> {
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
