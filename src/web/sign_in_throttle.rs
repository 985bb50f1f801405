//! Trying name and PIN. A device on which a person has signed in before has a budget of its own for that person; all other
//! devices share a small one. Both slow a try down before any key is derived, and nothing waits behind somebody else's
//! slips: a right PIN at a known device is tried at once, whatever is guessed elsewhere. All of it is kept in memory, and
//! so holds where nothing can be written.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;
use zeroize::Zeroizing;

use crate::case::{People, Person, note_refused_pin, slowed};
use crate::journal::{AccessKind, Journal, SignIns, Signer};
use crate::quantity::Moment;

use super::answer::Refusal;
use super::device::Device;
use super::session::Session;
use super::site::{Site, locked};

/// For so long wrong tries under a name are remembered.
const REMEMBERED: Duration = Duration::from_mins(15);
/// A try that would have to wait longer for its turn is refused instead.
const LONGEST_WAIT: Duration = Duration::from_secs(30);
/// Each try derives a key in 19 MiB. Known devices never wait for the others.
const KNOWN_AT_ONCE: usize = 2;
const STRANGE_AT_ONCE: usize = 2;
/// Number of strange tries that wait at the same time; more are refused at once.
const STRANGE_WAITING: usize = 32;
/// Number of names that are looked up at the same time.
const LOOKUPS: usize = 4;
/// What strange devices may try together: a number at once, then a number a second.
const STRANGE_BURST: u32 = 30;
const STRANGE_A_SECOND: u32 = 5;
/// More names than can be tried within the time that a try is remembered.
const MOST_NAMES: usize = 10_000;
/// However the time of an answer is made up, it ends on a full one of these.
const ROUNDED: Duration = Duration::from_millis(500);

/// The tries that are remembered, and how many may be under way.
#[derive(Debug)]
pub(super) struct SignInThrottle {
    budgets: Mutex<HashMap<String, Budget>>,
    strange: Mutex<Shared>,
    strange_waiting: Arc<Semaphore>,
    lookups: Arc<Semaphore>,
    known_at_once: Arc<Semaphore>,
    strange_at_once: Arc<Semaphore>,
}

/// The tries of one device under one name, or of all strange devices under it.
#[derive(Debug, Default)]
struct Budget {
    /// When each that was not right was tried; also those that are under way.
    tries: Vec<Instant>,
    /// Nothing is tried before.
    next: Option<Instant>,
}

/// What strange devices have left together.
#[derive(Debug)]
struct Shared {
    left: u32,
    filled: Instant,
}

impl Default for SignInThrottle {
    fn default() -> Self {
        Self {
            budgets: Mutex::default(),
            strange: Mutex::new(Shared { left: STRANGE_BURST, filled: Instant::now() }),
            lookups: Arc::new(Semaphore::new(LOOKUPS)),
            strange_waiting: Arc::new(Semaphore::new(STRANGE_WAITING)),
            known_at_once: Arc::new(Semaphore::new(KNOWN_AT_ONCE)),
            strange_at_once: Arc::new(Semaphore::new(STRANGE_AT_ONCE)),
        }
    }
}

impl SignInThrottle {
    /// Opens a key. A name that nobody has takes as long, and is refused in the same words.
    pub(super) async fn opened(
        &self,
        site: &Site,
        device: &Device,
        name: &str,
        pin: &str,
    ) -> Result<(Person, Signer), Refusal> {
        self.opened_for(AccessKind::SignIn, site, device, name, pin).await
    }

    /// Opens a key for one thing that is signed beside a session: a witness's, or the person's own once more.
    pub(super) async fn signs(
        &self,
        site: &Site,
        session: &Session,
        name: &str,
        pin: &str,
    ) -> Result<(Person, Signer), Refusal> {
        self.opened_for(AccessKind::PinGiven, site, &Device::beside(session), name, pin).await
    }

    /// The person's own key, opened with the PIN that they typed for one thing; nothing where they typed none.
    pub(super) async fn signs_again(
        &self,
        site: &Site,
        session: &Session,
        pin: Option<&str>,
    ) -> Result<Option<Signer>, Refusal> {
        let Some(pin) = pin else { return Ok(None) };
        self.signs(site, session, &session.person.name, pin).await.map(|(_, signer)| Some(signer))
    }

    async fn opened_for(
        &self,
        kind: AccessKind,
        site: &Site,
        device: &Device,
        name: &str,
        pin: &str,
    ) -> Result<(Person, Signer), Refusal> {
        let began = Instant::now();
        let opened = self.tried(kind, site, device, name, pin).await;
        if opened.as_ref().is_err_and(|refusal| refusal.status() == StatusCode::FORBIDDEN) {
            let over = began.elapsed().as_millis() % ROUNDED.as_millis();
            let rest = u64::try_from(ROUNDED.as_millis() - over).unwrap_or_default();
            tokio::time::sleep(Duration::from_millis(rest)).await;
        }
        opened
    }

    async fn tried(
        &self,
        kind: AccessKind,
        site: &Site,
        device: &Device,
        name: &str,
        pin: &str,
    ) -> Result<(Person, Signer), Refusal> {
        // A device that says nothing of earlier sign-ins is strange, whatever the name: it waits before anything is looked up.
        if device.is_strange() && !self.strange_may_try() {
            return Err(too_many());
        }
        let lookup =
            Arc::clone(&self.lookups).acquire_owned().await.map_err(|error| Refusal::fault(&error.to_string()))?;
        let (folder, now) = (site.folder.clone(), site.now());
        let (typed, of_device) = (name.to_owned(), device.clone());
        // Which budget it is follows from the person whom the name means, before anything dear is done.
        let found = tokio::task::spawn_blocking(move || {
            let _lookup = lookup;
            found(&folder, &typed, &of_device, now)
        });
        let (person, known_as) = found.await.map_err(|error| Refusal::fault(&error.to_string()))??;
        let budget = match (&person, &known_as) {
            (Some(person), Some(known_as)) => format!("{}\0{known_as}", person.id),
            (Some(person), None) => person.id.clone(),
            // A long name is kept short.
            (None, _) => crate::journal::Hash::of(name.trim().to_lowercase().as_bytes()).to_string(),
        };
        let is_known = known_as.is_some();
        if !is_known && !device.is_strange() && !self.strange_may_try() {
            return Err(too_many());
        }
        let (at, waits) = self.reserve(&budget, Instant::now()).ok_or_else(too_many)?;
        let permit = match self.turn(is_known, waits).await {
            Ok(permit) => permit,
            Err(refusal) => {
                self.give_back(&budget, at);
                return Err(refusal);
            }
        };
        let (folder, pin, now) = (site.folder.clone(), Zeroizing::new(pin.to_owned()), site.now());
        let who = person.as_ref().map(|person| person.id.clone());
        let tried = tokio::task::spawn_blocking(move || {
            let _permit = permit;
            unlocked(&folder, person, &pin, now)
        });
        match tried.await.map_err(|error| Refusal::fault(&error.to_string()))? {
            Ok(Some((person, signer, before))) => {
                self.give_back(&budget, at);
                if let Some(before) = before.filter(|_| kind == AccessKind::SignIn) {
                    site.accesses.signed_in(&person.id, before);
                }
                site.accesses.note(now, kind, Some(&person.id), None);
                Ok((person, signer))
            }
            Ok(None) => {
                site.accesses.note(now, AccessKind::SignInRefused, who.as_deref(), None);
                Err(not_known())
            }
            Err(refusal) => {
                self.give_back(&budget, at);
                Err(refusal)
            }
        }
    }

    /// Waits for its turn, and then for a place among those whose key is derived; never long.
    async fn turn(&self, is_known: bool, waits: Duration) -> Result<OwnedSemaphorePermit, Refusal> {
        let at_once = Arc::clone(if is_known { &self.known_at_once } else { &self.strange_at_once });
        let waiting = if is_known {
            None
        } else {
            Some(Arc::clone(&self.strange_waiting).try_acquire_owned().map_err(|_| too_many())?)
        };
        tokio::time::sleep(waits).await;
        let permit = timeout(LONGEST_WAIT, at_once.acquire_owned()).await;
        drop(waiting);
        permit.map_err(|_| too_many())?.map_err(|error| Refusal::fault(&error.to_string()))
    }

    /// Takes the next turn of a budget: when it counts from, and how long it waits. Nothing where that is too long.
    fn reserve(&self, budget: &str, now: Instant) -> Option<(Instant, Duration)> {
        let mut budgets = locked(&self.budgets);
        if !budgets.contains_key(budget) && budgets.len() >= MOST_NAMES {
            budgets.retain(|_, one| one.tries.iter().any(|at| now.duration_since(*at) < REMEMBERED));
            // What strange devices may try together fills the table only where this many names were tried of late.
            (budgets.len() < MOST_NAMES).then_some(())?;
        }
        let one = budgets.entry(budget.to_owned()).or_default();
        one.tries.retain(|at| now.saturating_duration_since(*at) < REMEMBERED);
        let turn = one.next.filter(|_| !one.tries.is_empty()).map_or(now, |next| next.max(now));
        let waits = turn.saturating_duration_since(now);
        (waits <= LONGEST_WAIT).then_some(())?;
        one.next = Some(turn + slowed(one.tries.len()));
        one.tries.push(turn);
        Some((turn, waits))
    }

    /// A try that was right, or never made, slows nothing down.
    fn give_back(&self, budget: &str, turn: Instant) {
        let mut budgets = locked(&self.budgets);
        if let Some(one) = budgets.get_mut(budget)
            && let Some(at) = one.tries.iter().position(|at| *at == turn)
        {
            one.tries.remove(at);
        }
    }

    fn strange_may_try(&self) -> bool {
        let mut shared = locked(&self.strange);
        let seconds = u32::try_from(shared.filled.elapsed().as_secs()).unwrap_or(u32::MAX);
        if seconds > 0 {
            shared.left = shared.left.saturating_add(seconds.saturating_mul(STRANGE_A_SECOND)).min(STRANGE_BURST);
            shared.filled = Instant::now();
        }
        let may = shared.left > 0;
        shared.left = shared.left.saturating_sub(1);
        may
    }
}

/// Whom a name means, if anybody, and as what this device is known for them.
fn found(
    folder: &std::path::Path,
    name: &str,
    device: &Device,
    now: Moment,
) -> Result<(Option<Person>, Option<String>), Refusal> {
    let journal = Journal::open(folder)?;
    let person = People::of(&journal)?.active(name, now).ok().cloned();
    let known_as = person.as_ref().and_then(|person| device.known_as(person, &journal.store_public()));
    Ok((person, known_as))
}

/// With a journal of its own: a slow answer to one person keeps nobody else waiting.
fn unlocked(
    folder: &std::path::Path,
    person: Option<Person>,
    pin: &str,
    now: Moment,
) -> Result<Option<(Person, Signer, Option<SignIns>)>, Refusal> {
    let mut journal = Journal::open(folder)?;
    let Some(person) = person else {
        // The same work as for a PIN that is wrong.
        let padded = Zeroizing::new(format!("{pin:0<6}"));
        journal.keys().new_signer("nobody", &padded)?;
        return Ok(None);
    };
    if let Some(signer) = person.unlock(&journal, pin) {
        // Nobody is kept out because their last sign-in cannot be read.
        let before = journal.accesses().and_then(|log| log.sign_ins_of(&person.id)).ok();
        return Ok(Some((person, signer, before)));
    }
    // A journal that cannot be written makes no guess cheaper: the delay is kept in memory.
    let _ = note_refused_pin(&mut journal, now, &person.id);
    Ok(None)
}

fn not_known() -> Refusal {
    let help = "type both again; after a wrong one the answer takes longer";
    Refusal::said(StatusCode::FORBIDDEN, "not-signed-in", "name and PIN do not belong together", help)
}

fn too_many() -> Refusal {
    let says = "too many wrong tries were made of late from devices on which nobody of this name has signed in";
    let help = "wait half a minute, or sign in at a device on which you have signed in before; an emergency entry needs no PIN";
    Refusal::said(StatusCode::TOO_MANY_REQUESTS, "too-many-tries", says, help)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn guesses_under_a_name_wait_longer_and_longer_and_another_budget_waits_for_none() {
        let throttle = SignInThrottle::default();
        let now = Instant::now();
        let waits: Vec<u64> =
            std::iter::from_fn(|| throttle.reserve("a", now)).map(|(_, wait)| wait.as_secs()).collect();
        assert_eq!(waits, [0, 1, 3, 7, 15]);
        assert!(throttle.reserve("a", now).is_none(), "what would wait longer is refused");
        assert_eq!(throttle.reserve("a\0device", now).map(|(_, wait)| wait), Some(Duration::ZERO));
        // What was not wrong is not counted.
        let (turn, _) = throttle.reserve("b", now).expect("the first");
        throttle.give_back("b", turn);
        assert_eq!(throttle.reserve("b", now).map(|(_, wait)| wait), Some(Duration::ZERO));
    }

    #[test]
    fn strange_devices_share_a_small_budget() {
        let throttle = SignInThrottle::default();
        let may = (0..1_000).filter(|_| throttle.strange_may_try()).count();
        assert!((30..=45).contains(&may), "{may}");
    }
}
