//! Proof that needs nobody's diligence: while a server runs, checkpoints go to the places that the house names, and the
//! journal is verified at the start and every six hours. The first page says what is wrong.

use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

use crate::case::Cases;
use crate::journal::{Checkpoint, CheckpointPlace, Head, Journal, JournalError, Restore};

use super::site::{Site, locked};

const VERIFIED_EVERY: Duration = Duration::from_hours(6);
/// A checkpoint is due at each full hundred of events, whatever the interval.
const EVENTS: u64 = 100;
/// A place that failed is tried again after this time.
const AGAIN: Duration = Duration::from_mins(1);
const LOOK_EVERY: Duration = Duration::from_millis(500);

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
    /// Each restore of late, and each that lost events which a place still names.
    restores: Vec<String>,
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
        broken.chain(state.restores.iter().cloned()).chain(not_sent).collect()
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

    /// Watches until the site is gone.
    pub(super) fn begin(site: &Arc<Site>) {
        let weak = Arc::downgrade(site);
        std::thread::spawn(move || {
            while let Some(site) = weak.upgrade() {
                site.proof.look(&site);
                drop(site);
                std::thread::sleep(LOOK_EVERY);
            }
        });
    }

    fn look(&self, site: &Site) {
        let state = locked(&self.state).clone();
        let last_look = state.broken.as_ref().map(|(_, at)| *at).or(state.verified.map(|(_, at)| at));
        if last_look.is_none_or(|at| at.elapsed() >= VERIFIED_EVERY) {
            self.verify(site, state.verified.map(|(head, _)| head));
        }
        if locked(&self.state).broken.is_none() && !self.places().is_empty() {
            self.send(site);
        }
    }

    fn verify(&self, site: &Site, since: Option<Head>) {
        let found = self.verified(site, since);
        let mut state = locked(&self.state);
        match found {
            Ok((head, restores)) => {
                (state.verified, state.broken, state.restores) = (Some((head, Instant::now())), None, restores);
            }
            Err(why) => state.broken = Some((why, Instant::now())),
        }
    }

    /// The first time every event is read, later those that were written since; each time with what the places hold.
    fn verified(&self, site: &Site, since: Option<Head>) -> Result<(Head, Vec<String>), String> {
        let altered = |why: String| format!("The journal is not as it was written: {why}.");
        let cases = Cases::of(Journal::open(&site.folder).map_err(|error| altered(error.to_string()))?);
        let mut kept = Vec::new();
        for place in self.places() {
            // A place that cannot be read is named when a checkpoint goes there; one that was altered is named here.
            match cases.journal().kept_at(place) {
                Ok(known) => kept.extend(known.into_iter().map(|one| (place, one))),
                Err(JournalError::File { .. }) => {}
                Err(error) => return Err(altered(format!("{}: {error}", place.path().display()))),
            }
        }
        self.verify_accesses(cases.journal()).map_err(altered)?;
        let checkpoints: Vec<Checkpoint> = kept.iter().map(|(_, one)| *one).collect();
        let told = cases.journal().told_apart(&checkpoints).map_err(|error| altered(error.to_string()))?;
        let news = told.restores.iter().filter(|restore| restore.is_news(site.now()));
        let restores = news.map(Restore::in_words).collect();
        let verify = |heads: &[Head]| match since {
            Some(since) => cases.journal().verify_since(since, heads),
            None => cases.verify(heads, &mut |_, _| {}),
        };
        let error = match verify(&told.expected) {
            Ok(verified) => return Ok((verified.head, restores)),
            Err(error) => error,
        };
        // What is here may be whole, and older than what a place knows.
        let Ok(whole) = verify(&[]) else { return Err(altered(error.to_string())) };
        let is_here = |head: Head| cases.journal().verify_since(whole.head, &[head]).is_ok();
        let missing = kept.into_iter().find(|(_, one)| told.expected.contains(&one.head) && !is_here(one.head));
        let Some((place, Checkpoint { head: known, .. })) = missing else { return Ok((whole.head, restores)) };
        let here = match known.seq > whole.head.seq {
            true => format!("and this journal ends with event {}", whole.head.seq),
            false => "and this journal has another event of that number".to_owned(),
        };
        let place = place.path().display();
        Err(format!(
            "Every event here is as it was written, but {place} knows event {}, {here}: events were taken away, or an \
             older copy was put back without `journal restore`, which writes that down. Keep this folder as it is, and \
             restore the last backup into a new one.",
            known.seq
        ))
    }

    fn verify_accesses(&self, journal: &Journal) -> Result<(), String> {
        // Where it cannot be opened now, nobody's reading was lost: what could not be written is counted.
        let Ok(log) = journal.accesses() else { return Ok(()) };
        let kept = self.places().iter().filter_map(|place| journal.accesses_kept_at(place).ok()).flatten();
        let kept: Vec<Checkpoint> = kept.collect();
        let heads = journal.accesses_told_apart(&log, &kept).map_err(|error| error.to_string())?;
        log.verify(&heads).map(|_| ()).map_err(|error| error.to_string())
    }

    fn send(&self, site: &Site) {
        let Some((places, every)) = self.places.get() else { return };
        let Ok(journal) = Journal::open(&site.folder) else { return };
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
        match journal.keep_elsewhere(places, site.now()) {
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
