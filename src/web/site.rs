//! What every page shares: the journal, the formulary, the clock, and who is signed in.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::case::{Cases, note_refused_form};
use crate::formulary::Formulary;
use crate::journal::Journal;
use crate::quantity::Moment;

use super::answer::Refusal;
use super::drafts::Drafts;
use super::follow::Beat;
use super::once::Once;
use super::proposed::Proposed;
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
    desk: Arc<Mutex<Desk>>,
    clock: Clock,
    /// Cookies are for TLS only.
    pub(super) over_tls: bool,
    pub(super) demonstration: bool,
    pub(super) folder: PathBuf,
    pub(super) sessions: Sessions,
    pub(super) threshold: Once,
    pub(super) tries: Tries,
    pub(super) drafts: Drafts,
    pub(super) beat: Beat,
    pub(super) proposed: Proposed,
}

/// The journal and the formulary, used by one request at a time.
#[derive(Debug)]
pub(super) struct Desk {
    pub(super) cases: Cases,
    pub(super) formulary: Formulary,
    pub(super) now: Moment,
}

/// A journal handle and a copy of the formulary in use, for one request.
#[derive(Debug)]
pub(super) struct Aside {
    pub(super) cases: Cases,
    pub(super) in_use: Formulary,
    pub(super) now: Moment,
}

impl Site {
    /// A server for one journal and one formulary, whose sessions end after `idle` without a request.
    #[must_use]
    pub fn new(cases: Cases, formulary: Formulary, clock: Clock, idle: Duration, over_tls: bool) -> Arc<Self> {
        let demonstration = cases.journal().is_demonstration();
        let folder = cases.journal().folder().to_owned();
        let clock = if demonstration { clock } else { Clock::Machine };
        let now = clock.now();
        Arc::new(Self {
            desk: Arc::new(Mutex::new(Desk { cases, formulary, now })),
            clock,
            over_tls,
            demonstration,
            drafts: Drafts::beside(&folder),
            folder,
            sessions: Sessions::idle(idle),
            threshold: Once::default(),
            tries: Tries::default(),
            beat: Beat::default(),
            proposed: Proposed::default(),
        })
    }

    /// A formulary under discussion, in a folder of its own: pharmacists look at it, sign it and approve it here.
    pub fn propose(&self, folder: PathBuf) {
        self.proposed.set(folder);
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

    /// Does something long with a journal handle of its own and the files of the formulary in use: nobody waits for it.
    pub(super) async fn aside<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Aside) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let (in_use, now) = self.with(|desk| Ok((desk.formulary.files().to_vec(), desk.now))).await?;
        let folder = self.folder.clone();
        let done = tokio::task::spawn_blocking(move || {
            let cases = Cases::of(Journal::open(&folder)?);
            what(&mut Aside { cases, in_use: Formulary::kept("formulary", in_use)?, now })
        });
        done.await.unwrap_or_else(|error| Err(Refusal::fault(&error.to_string())))
    }

    /// Does something with the journal, aside from the threads that answer: it blocks.
    pub(super) async fn with<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Desk) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let (desk, clock) = (Arc::clone(&self.desk), self.clock);
        let done = tokio::task::spawn_blocking(move || {
            let mut desk = locked(&desk);
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
