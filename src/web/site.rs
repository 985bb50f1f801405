//! What every page shares: the journal, the formulary, the clock, and who is signed in.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError, TryLockError};
use std::time::Duration;

use crate::case::actions::Actor;
use crate::case::{CaseError, Cases, Person, note_refused_form};
use crate::formulary::Formulary;
use crate::journal::{CheckpointPlace, Journal};
use crate::quantity::Moment;

use maud::{Markup, PreEscaped};
use tokio::sync::Semaphore;

use super::accesses::Accesses;
use super::answer::Refusal;
use super::clock_watch::ClockWatch;
use super::device::Device;
use super::door_tokens::DoorTokens;
use super::drafts::Drafts;
use super::follow::Beat;
use super::form_tokens::FormTokens;
use super::fragment_cache::FragmentCache;
use super::hosts::Hosts;
use super::kept_answers::KeptAnswers;
use super::metrics::Metrics;
use super::proof_watch::ProofWatch;
use super::proposed::Proposed;
use super::session::{Session, Sessions};
use super::sign_in_throttle::SignInThrottle;

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
    desks: Vec<Arc<Mutex<JournalWorker>>>,
    /// As many as there are desks.
    free: Arc<Semaphore>,
    /// As many as may be used at once for what everybody reads.
    for_reading: Semaphore,
    /// The one formulary that every request uses.
    in_use: Arc<Mutex<Arc<Formulary>>>,
    clock: Clock,
    pub(super) watch: Arc<ClockWatch>,
    pub(super) accesses: Accesses,
    pub(super) metrics: Metrics,
    pub(super) proof: ProofWatch,
    /// Cookies are for TLS only.
    pub(super) over_tls: bool,
    pub(super) demonstration: bool,
    pub(super) folder: PathBuf,
    pub(super) sessions: Sessions,
    pub(super) threshold: DoorTokens,
    /// What programs at the door chose.
    pub(super) chosen: FormTokens,
    pub(super) answers: KeptAnswers,
    pub(super) tries: SignInThrottle,
    pub(super) drafts: Drafts,
    pub(super) beat: Beat,
    memo: FragmentCache,
    /// Only asked for the last event.
    last: Mutex<Option<Journal>>,
    pub(super) proposed: Proposed,
    /// Under which names it is asked; any, where no address was taken for it.
    pub(super) hosts: OnceLock<Hosts>,
    /// Long jobs are done one after the other.
    background: Arc<Semaphore>,
}

/// Number of journal connections. Of two that write, the journal lets one
/// go first, as with two commands.
const DESKS: usize = 4;

/// Number of connections kept free of lists and of what is pushed: an entry, a change of rate and the emergency
/// page find one free, however many people look at the list.
const KEPT_FREE: usize = 2;

/// So long a job waits for the ones before it.
const LONG_WAIT: Duration = Duration::from_secs(60);

/// A journal handle and the formulary, used by one request at a time.
#[derive(Debug)]
pub(super) struct JournalWorker {
    pub(super) cases: Cases,
    pub(super) formulary: Arc<Formulary>,
    pub(super) now: Moment,
}

/// A journal handle of its own and the formulary in use, for one request.
#[derive(Debug)]
pub(super) struct Aside {
    pub(super) cases: Cases,
    pub(super) in_use: Arc<Formulary>,
    pub(super) now: Moment,
}

impl JournalWorker {
    /// What a signed-in person does, under the formulary in use.
    pub(super) fn acts<T>(
        &mut self,
        by: &Session,
        act: impl FnOnce(&mut Cases, Actor<'_>) -> Result<T, CaseError>,
    ) -> Result<T, Refusal> {
        let actor = Actor { person: &by.person, signer: &by.signer, current: Some(&self.formulary), now: self.now };
        Ok(act(&mut self.cases, actor)?)
    }
}

impl Site {
    /// A server for one journal and one formulary, whose sessions end after `idle` without a request.
    #[must_use]
    pub fn new(cases: Cases, formulary: Formulary, clock: Clock, idle: Duration, over_tls: bool) -> Arc<Self> {
        let demonstration = cases.journal().is_demonstration();
        let folder = cases.journal().folder().to_owned();
        let clock = if demonstration { clock } else { Clock::Machine };
        let (now, formulary) = (clock.now(), Arc::new(formulary));
        let mut handles: Vec<Cases> = (1..DESKS).filter_map(|_| cases.another().ok()).collect();
        handles.push(cases);
        let last = Journal::open(&folder).ok();
        // Where there is no room for it now, an emergency entry tries once more.
        let _ = last.as_ref().map(Journal::set_reserve_aside);
        let drafts = Drafts::beside(&folder);
        drafts.sweep();
        crate::journal::sweep_half_made(&folder);
        let desk = |cases| Arc::new(Mutex::new(JournalWorker { cases, formulary: Arc::clone(&formulary), now }));
        let desks: Vec<Arc<Mutex<JournalWorker>>> = handles.into_iter().map(desk).collect();
        Arc::new(Self {
            free: Arc::new(Semaphore::new(desks.len())),
            for_reading: Semaphore::new(desks.len().saturating_sub(KEPT_FREE).max(1)),
            desks,
            in_use: Arc::new(Mutex::new(formulary)),
            clock,
            watch: Arc::new(ClockWatch::begun()),
            accesses: Accesses::beside(folder.clone()),
            metrics: Metrics::default(),
            proof: ProofWatch::default(),
            over_tls,
            demonstration,
            drafts,
            folder,
            sessions: Sessions::idle(idle),
            threshold: DoorTokens::default(),
            chosen: FormTokens::default(),
            answers: KeptAnswers::default(),
            tries: SignInThrottle::default(),
            beat: Beat::default(),
            memo: FragmentCache::default(),
            last: Mutex::new(last),
            proposed: Proposed::default(),
            hosts: OnceLock::new(),
            background: Arc::new(Semaphore::new(1)),
        })
    }

    /// A formulary under discussion, in a folder of its own: pharmacists look at it, sign it and approve it here.
    pub fn propose(&self, folder: PathBuf) {
        self.proposed.set(folder);
    }

    /// From now on only requests under these names are answered. The first that are given stay.
    pub fn answer_only(&self, hosts: Hosts) {
        let _ = self.hosts.set(hosts);
    }

    /// Ends the sessions of people who were retired, renamed or got a new PIN, and of guests whose time is over. Where the journal cannot be read nothing is signed
    /// either, so no session does harm.
    pub(super) fn follow_people(&self) {
        if let Some(journal) = &*locked(&self.last) {
            let _ = self.sessions.follow_people(journal, self.now());
        }
    }

    /// Writes down what was kept while the journal could not be written.
    pub(super) fn write_down_kept(&self) {
        let formulary = Arc::clone(&locked(&self.in_use));
        if let Ok(journal) = Journal::open(&self.folder) {
            // What cannot be written down yet stays where it is.
            let _ = Cases::of(journal).write_down_kept(&formulary, self.now());
        }
    }

    /// What a device keeps on which somebody has just signed in for the first time; nothing where it is known, or the
    /// journal cannot be read now.
    pub(super) async fn statement_for(&self, device: &Device, person: &Person) -> Option<String> {
        let (device, person) = (device.clone(), person.clone());
        let said = self.with_journal(move |desk| {
            let journal = desk.cases.journal();
            let is_known = device.known_as(&person, &journal.store_public()).is_some();
            Ok((!is_known).then(|| Device::statement(&person, journal)))
        });
        said.await.ok().flatten()
    }

    /// Why the time is in doubt, where it is.
    pub(super) fn clock_in_doubt(&self) -> Option<String> {
        self.clock.in_doubt(&self.watch)
    }

    /// What the first page says before everything else.
    pub(super) fn warnings(&self) -> Vec<String> {
        let clock = self.clock_in_doubt().map(|why| format!("The clock is uncertain: {why}."));
        clock.into_iter().chain(self.proof.warnings()).collect()
    }

    /// Sends checkpoints to these places from now on: after each interval, and at every hundredth event.
    pub fn send_checkpoints(&self, places: Vec<CheckpointPlace>, every: Duration) {
        self.proof.send_to(places, every);
    }

    /// Verifies the journal now and every six hours, and sends checkpoints, as long as the site is there.
    pub fn keep_watch(self: &Arc<Self>) {
        ProofWatch::begin(self);
    }

    /// The moment.
    pub(super) fn now(&self) -> Moment {
        self.clock.now()
    }

    /// Writes down that a form was refused which did not come from a page of its sender's session.
    pub(super) async fn refuses(&self, who: Option<&Session>, refusal: Refusal) -> Refusal {
        let (who, why) = (who.map(|session| session.person.id.clone()), refusal.code().to_owned());
        let noted = self
            .with_journal(move |desk| Ok(note_refused_form(desk.cases.journal_mut(), desk.now, who.as_deref(), &why)?));
        // It is refused in any case, and in the same words where that cannot be written down.
        let _ = noted.await;
        refusal
    }

    /// Draws a part of a page that follows from the journal and the moment alone, once for all who ask for it. The key
    /// names all else that it follows from.
    pub(super) async fn drawn(
        &self,
        key: String,
        draw: impl FnOnce(&mut JournalWorker) -> Result<Markup, Refusal> + Send + 'static,
    ) -> Result<Markup, Refusal> {
        let head = locked(&self.last).as_ref().map(Journal::head).transpose()?;
        let Some(head) = head else { return self.read(draw).await };
        let cell = self.memo.cell(head.seq, self.now(), key);
        let mut kept = cell.lock().await;
        if let Some(kept) = &*kept {
            return Ok(PreEscaped(kept.clone()));
        }
        let drawn = self.read(draw).await?;
        *kept = Some(drawn.0.clone());
        Ok(drawn)
    }

    /// Every request from now on uses another formulary.
    pub(super) fn uses(&self, formulary: Formulary) {
        *locked(&self.in_use) = Arc::new(formulary);
        self.memo.forget();
        self.beat.anything();
    }

    /// Does something long with a journal handle of its own: no desk is taken for it. One such thing is done at a time,
    /// however many people ask, and it keeps its turn when the one who asked has gone.
    pub(super) async fn run_in_background<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Aside) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let (in_use, now, folder) = (Arc::clone(&locked(&self.in_use)), self.now(), self.folder.clone());
        let turn = tokio::time::timeout(LONG_WAIT, Arc::clone(&self.background).acquire_owned()).await;
        let turn = turn.map_err(|_| Refusal::busy())?.map_err(|error| Refusal::fault(&error.to_string()))?;
        let done = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            let cases = Cases::of(Journal::open(&folder)?);
            what(&mut Aside { cases, in_use, now })
        });
        done.await.unwrap_or_else(|error| Err(Refusal::fault(&error.to_string())))
    }

    /// Reads what many people look at. However many they are, [`KEPT_FREE`] desks stay free for everything else.
    pub(super) async fn read<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut JournalWorker) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let _permit = self.for_reading.acquire().await;
        self.with_journal(what).await
    }

    /// Does something with the journal, aside from the threads that answer: it blocks.
    pub(super) async fn with_journal<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut JournalWorker) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let (permit, clock) = (Arc::clone(&self.free).acquire_owned().await, self.clock);
        let watch = Arc::clone(&self.watch);
        let (desks, in_use) = (self.desks.clone(), Arc::clone(&self.in_use));
        let done = tokio::task::spawn_blocking(move || {
            // Held until the work is done, also where the one who asked has gone.
            let _permit = permit;
            let free = desks.iter().find_map(|desk| match desk.try_lock() {
                Ok(desk) => Some(desk),
                Err(TryLockError::Poisoned(left)) => Some(left.into_inner()),
                Err(TryLockError::WouldBlock) => None,
            });
            let mut desk = free.unwrap_or_else(|| locked(&desks[0]));
            desk.cases.journal_mut().for_request(None);
            desk.cases.journal_mut().doubt_clock(clock.in_doubt(&watch));
            desk.now = clock.now();
            desk.formulary = Arc::clone(&locked(&in_use));
            what(&mut desk)
        });
        done.await.unwrap_or_else(|error| Err(Refusal::fault(&error.to_string())))
    }
}

impl Clock {
    /// Why the time is in doubt. A moment that stands is none that a machine gives.
    fn in_doubt(self, watch: &ClockWatch) -> Option<String> {
        match self {
            Self::Machine => watch.doubt(),
            Self::Stands(_) => None,
        }
    }

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

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::mpsc;

    use super::*;

    // hazard: H-EMERGENCY
    #[tokio::test(flavor = "multi_thread")]
    async fn however_many_look_at_the_list_the_others_find_a_desk() {
        let folder = std::env::temp_dir().join(format!("countersign-desks-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
        let site = Site::new(Cases::of(journal), formulary, Clock::Stands(now), Duration::from_mins(5), false);
        let (entered, holding) = mpsc::channel();
        let mut readers = Vec::new();
        let mut ends = Vec::new();
        for _ in 0..8 {
            let (end, ended) = mpsc::channel::<()>();
            let (site, entered) = (Arc::clone(&site), entered.clone());
            ends.push(end);
            readers.push(tokio::spawn(async move {
                site.read(move |_| {
                    entered.send(()).expect("the test waits");
                    // Until the test drops its end.
                    let _ = ended.recv();
                    Ok(())
                })
                .await
            }));
        }
        for _ in 0..DESKS - KEPT_FREE {
            holding.recv_timeout(Duration::from_secs(20)).expect("the first readers hold a desk");
        }
        let opened = site.with_journal(move |desk| Ok(desk.cases.open(now, None)?));
        let opened = tokio::time::timeout(Duration::from_secs(20), opened).await;
        assert!(opened.expect("a desk is free").is_ok());
        assert!(holding.try_recv().is_err(), "no reader more holds one");
        drop(ends);
        for reader in readers {
            assert!(reader.await.expect("no panic").is_ok());
        }
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn long_jobs_are_done_one_at_a_time() {
        use std::sync::atomic::{AtomicUsize, Ordering};
        static UNDER_WAY: AtomicUsize = AtomicUsize::new(0);
        let folder = std::env::temp_dir().join(format!("countersign-long-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
        let site = Site::new(Cases::of(journal), formulary, Clock::Stands(now), Duration::from_mins(5), false);
        let job = |_: &mut Aside| {
            let others = UNDER_WAY.fetch_add(1, Ordering::SeqCst);
            std::thread::sleep(Duration::from_millis(20));
            UNDER_WAY.fetch_sub(1, Ordering::SeqCst);
            Ok(others)
        };
        let jobs: Vec<_> = (0..8)
            .map(|_| {
                let site = Arc::clone(&site);
                tokio::spawn(async move { site.run_in_background(job).await })
            })
            .collect();
        for job in jobs {
            assert_eq!(job.await.expect("no panic").ok(), Some(0));
        }
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
