//! What every page shares: the journal, the formulary, the clock, and who is signed in.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};
use std::time::Duration;

use crate::case::{Cases, note_refused_form};
use crate::formulary::Formulary;
use crate::journal::Journal;
use crate::quantity::Moment;

use tokio::sync::Semaphore;

use super::answer::Refusal;
use super::drafts::Drafts;
use super::follow::Beat;
use super::once::Once;
use super::session::{Session, Sessions};
use super::tries::Tries;

/// Which moment it is.
#[derive(Debug, Clone, Copy)]
pub enum Clock {
    /// As the machine says, in its own time zone.
    Machine,
    /// Always this one; in a demonstration only.
    Stands(Moment),
}

/// The server, as every page sees it.
#[derive(Debug)]
pub struct Site {
    desks: Vec<Arc<Mutex<Desk>>>,
    /// As many as there are desks.
    free: Semaphore,
    clock: Clock,
    /// Cookies are for TLS only.
    pub(super) over_tls: bool,
    pub(super) demonstration: bool,
    pub(super) folder: PathBuf,
    pub(super) sessions: Sessions,
    pub(super) threshold: Once,
    /// What programs at the door chose.
    pub(super) chosen: Once,
    pub(super) tries: Tries,
    pub(super) drafts: Drafts,
    pub(super) beat: Beat,
}

/// So many requests use the journal at the same time, each at a desk of its own. Of two that write, the journal lets one
/// go first, as with two commands.
const DESKS: usize = 4;

/// A journal handle and the formulary, used by one request at a time.
#[derive(Debug)]
pub(super) struct Desk {
    pub(super) cases: Cases,
    pub(super) formulary: Arc<Formulary>,
    pub(super) now: Moment,
}

impl Site {
    /// A server for one journal and one formulary, whose sessions end after `idle` without a request.
    #[must_use]
    pub fn new(cases: Cases, formulary: Formulary, clock: Clock, idle: Duration, over_tls: bool) -> Arc<Self> {
        let demonstration = cases.journal().is_demonstration();
        let folder = cases.journal().folder().to_owned();
        let clock = if demonstration { clock } else { Clock::Machine };
        let (now, formulary) = (clock.now(), Arc::new(formulary));
        let mut handles = vec![cases];
        handles.extend((1..DESKS).filter_map(|_| Journal::open(&folder).ok()).map(Cases::of));
        let desk = |cases| Arc::new(Mutex::new(Desk { cases, formulary: Arc::clone(&formulary), now }));
        let desks: Vec<Arc<Mutex<Desk>>> = handles.into_iter().map(desk).collect();
        Arc::new(Self {
            free: Semaphore::new(desks.len()),
            desks,
            clock,
            over_tls,
            demonstration,
            drafts: Drafts::beside(&folder),
            folder,
            sessions: Sessions::idle(idle),
            threshold: Once::default(),
            chosen: Once::default(),
            tries: Tries::default(),
            beat: Beat::default(),
        })
    }

    /// The moment.
    pub(super) fn now(&self) -> Moment {
        self.clock.now()
    }

    /// Writes down that a form was refused which did not come from a page of its sender's session.
    pub(super) async fn refuses(&self, who: Option<&Session>, refusal: Refusal) -> Refusal {
        let (who, why) = (who.map(|session| session.person.id.clone()), refusal.code().to_owned());
        let noted =
            self.with(move |desk| Ok(note_refused_form(desk.cases.journal_mut(), desk.now, who.as_deref(), &why)?));
        // It is refused in any case; a journal that cannot be written says so itself.
        noted.await.err().unwrap_or(refusal)
    }

    /// Does something with the journal, aside from the threads that answer: it blocks.
    pub(super) async fn with<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Desk) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let (_permit, clock) = (self.free.acquire().await, self.clock);
        let desks = self.desks.clone();
        let done = tokio::task::spawn_blocking(move || {
            let free = desks.iter().find_map(|desk| match desk.try_lock() {
                Ok(desk) => Some(desk),
                Err(TryLockError::Poisoned(left)) => Some(left.into_inner()),
                Err(TryLockError::WouldBlock) => None,
            });
            let mut desk = free.unwrap_or_else(|| locked(&desks[0]));
            desk.now = clock.now();
            what(&mut desk)
        });
        done.await.unwrap_or_else(|error| Err(Refusal::fault(&error.to_string())))
    }
}

impl Clock {
    fn now(self) -> Moment {
        match self {
            Self::Machine => Moment::now().local(),
            Self::Stands(moment) => moment,
        }
    }
}

/// What a panicking request has left is as it was written: the journal holds no half of an event.
pub(super) fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
