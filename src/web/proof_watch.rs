//! Proof that needs nobody's diligence: while a server runs, checkpoints go to the places that the house names, and the
//! journal is verified at the start and every six hours. The first page says what is wrong.

use std::path::Path;
use std::sync::{Mutex, OnceLock};
use std::time::{Duration, Instant};

use crate::case::Cases;
use crate::journal::{CheckpointPlace, Head, Journal, JournalError};
use crate::quantity::Moment;

use super::locked::locked;

const VERIFIED_EVERY: Duration = Duration::from_hours(6);
/// A checkpoint is due at each full hundred of events, whatever the interval.
const EVENTS: u64 = 100;
/// A place that failed is tried again after this time.
const AGAIN: Duration = Duration::from_mins(1);
pub(super) const LOOK_EVERY: Duration = Duration::from_millis(500);

/// What was verified and sent.
#[derive(Debug, Default)]
pub(super) struct ProofWatch {
    places: OnceLock<(Vec<CheckpointPlace>, Duration)>,
    state: Mutex<ProofState>,
}

#[derive(Debug, Default, Clone)]
struct ProofState {
    /// Up to where every event is as it was written, and when that was found.
    verified: Option<(Head, Instant)>,
    /// What is not, as a sentence, and when that was found.
    broken: Option<(String, Instant)>,
    sent: Option<(Head, Instant)>,
    not_sent: Vec<String>,
}

impl ProofWatch {
    pub(super) fn send_to(&self, places: Vec<CheckpointPlace>, every: Duration) {
        let _ = self.places.set((places, every));
    }

    /// What the first page says.
    pub(super) fn warnings(&self) -> Vec<String> {
        let state = locked(&self.state);
        let broken = state.broken.iter().map(|(says, _)| says.clone());
        let not_sent = state.not_sent.iter().map(|why| format!("No checkpoint was taken by {why}."));
        broken.chain(not_sent).collect()
    }

    /// Whether the journal was found whole; nothing before it was looked through.
    pub(super) fn is_whole(&self) -> Option<bool> {
        let state = locked(&self.state);
        if state.broken.is_some() { Some(false) } else { state.verified.map(|_| true) }
    }

    /// How long ago the journal was verified, and a checkpoint sent.
    pub(super) fn ages(&self) -> (Option<Duration>, Option<Duration>) {
        let state = locked(&self.state);
        (state.verified.map(|(_, at)| at.elapsed()), state.sent.map(|(_, at)| at.elapsed()))
    }

    /// In how many places checkpoints are kept.
    pub(super) fn places(&self) -> &[CheckpointPlace] {
        self.places.get().map_or(&[], |(places, _)| places)
    }

    /// Verifies and sends what is due of the journal in a folder.
    pub(super) fn look(&self, journal: &Path, now: Moment) {
        let state = locked(&self.state).clone();
        let last_look = state.broken.as_ref().map(|(_, at)| *at).or(state.verified.map(|(_, at)| at));
        if last_look.is_none_or(|at| at.elapsed() >= VERIFIED_EVERY) {
            self.verify(journal, state.verified.map(|(head, _)| head));
        }
        if locked(&self.state).broken.is_none() && !self.places().is_empty() {
            self.send(journal, now);
        }
    }

    fn verify(&self, journal: &Path, since: Option<Head>) {
        let found = self.verified(journal, since);
        let mut state = locked(&self.state);
        match found {
            Ok(head) => (state.verified, state.broken) = (Some((head, Instant::now())), None),
            Err(why) => state.broken = Some((why, Instant::now())),
        }
    }

    /// The first time every event is read, later those that were written since; each time with what the places hold.
    fn verified(&self, journal: &Path, since: Option<Head>) -> Result<Head, String> {
        let altered = |why: String| format!("The journal is not as it was written: {why}.");
        let cases = Cases::of(Journal::open(journal).map_err(|error| altered(error.to_string()))?);
        let mut heads = Vec::new();
        for place in self.places() {
            // A place that cannot be read is named when a checkpoint goes there; one that was altered is named here.
            match cases.journal().kept_at(place) {
                Ok(kept) => heads.extend(kept.into_iter().map(|one| (place, one.head))),
                Err(JournalError::File { .. }) => {}
                Err(error) => return Err(altered(format!("{}: {error}", place.path().display()))),
            }
        }
        let verify = |heads: &[Head]| match since {
            Some(since) => cases.journal().verify_since(since, heads),
            None => cases.verify(heads, &mut |_, _| {}),
        };
        let all: Vec<Head> = heads.iter().map(|(_, head)| *head).collect();
        let error = match verify(&all) {
            // A copy that is older as a whole lacks accesses too: its events say so first.
            Ok(verified) => return self.verify_accesses(cases.journal()).map(|()| verified.head).map_err(altered),
            Err(error) => error,
        };
        // What is here may be whole, and older than what a place knows.
        let Ok(whole) = verify(&[]) else { return Err(altered(error.to_string())) };
        let is_here = |head: Head| cases.journal().verify_since(whole.head, &[head]).is_ok();
        let Some((place, known)) = heads.into_iter().find(|(_, head)| !is_here(*head)) else {
            return Err(altered(error.to_string()));
        };
        let here = match known.seq > whole.head.seq {
            true => format!("and this journal ends with event {}", whole.head.seq),
            false => "and this journal has another event of that number".to_owned(),
        };
        let place = place.path().display();
        Err(format!(
            "Every event here is as it was written, but {place} knows event {}, {here}: it was restored from an older \
             backup, or events were taken away. Restored: name a new folder for its checkpoints, and write down again \
             what is missing since then. Not restored: keep this folder as it is, and restore the last backup into a new one.",
            known.seq
        ))
    }

    fn verify_accesses(&self, journal: &Journal) -> Result<(), String> {
        // Where it cannot be opened now, nobody's reading was lost: what could not be written is counted.
        let Ok(log) = journal.accesses() else { return Ok(()) };
        let kept = self.places().iter().filter_map(|place| journal.accesses_kept_at(place).ok()).flatten();
        let heads: Vec<Head> = kept.map(|one| one.head).collect();
        log.verify(&heads).map(|_| ()).map_err(|error| error.to_string())
    }

    fn send(&self, journal: &Path, now: Moment) {
        let Some((places, every)) = self.places.get() else { return };
        let Ok(journal) = Journal::open(journal) else { return };
        let state = locked(&self.state).clone();
        let is_due = match (state.sent, journal.head()) {
            (None, _) => true,
            (Some((_, at)), _) if !state.not_sent.is_empty() && at.elapsed() >= AGAIN => true,
            (Some((sent, at)), Ok(head)) => at.elapsed() >= *every || head.seq / EVENTS > sent.seq / EVENTS,
            (Some(_), Err(_)) => false,
        };
        if !is_due {
            return;
        }
        match journal.keep_elsewhere(places, now) {
            Ok((head, failed)) => {
                let mut state = locked(&self.state);
                state.sent = Some((head, Instant::now()));
                state.not_sent =
                    failed.into_iter().map(|(path, error)| format!("{}: {error}", path.display())).collect();
            }
            Err(error) => {
                let says = format!("The journal cannot be read: {error}.");
                locked(&self.state).broken = Some((says, Instant::now()));
            }
        }
    }
}
