//! A restore is an event of the journal: from which backup, and with which event that backup ends. Heads that were kept
//! elsewhere after the backup name events that are lost; they are said, and are not taken for damage.

use serde::{Deserialize, Serialize};

use super::access::AccessLog;
use super::checkpoint::Checkpoint;
use super::event::KIND_RESTORED;
use super::{Head, Journal, JournalError, Of};
use crate::quantity::Moment;

/// For so long a restore of which nothing is known to be lost is said before everything else, in seconds: two weeks.
const SAID_FOR: i64 = 14 * 86_400;

/// What the event of a restore says.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RestoredBody {
    /// When the backup was made; a backup of an earlier program does not say it.
    pub(super) made: Option<String>,
    /// The last event of the backup.
    pub(super) last: String,
    /// The last access of the backup, where there is one.
    pub(super) accesses: Option<String>,
}

/// A journal was put back from a backup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Restore {
    /// When it was put back.
    pub at: Moment,
    /// When the backup was made, where it says so.
    pub made: Option<Moment>,
    /// The last event of the backup.
    pub last: Head,
    /// The newest event that was known elsewhere, written after the backup and before the restore: it is lost.
    pub lost: Option<Checkpoint>,
    /// The number of the last access in the backup.
    accesses: u64,
}

/// Checkpoints that were kept elsewhere, told apart by the restores of a journal.
#[derive(Debug, Clone, Default)]
pub struct KeptHeads {
    /// Each must be among the events.
    pub expected: Vec<Head>,
    /// Every restore, with what it lost.
    pub restores: Vec<Restore>,
}

impl Restore {
    /// In words.
    #[must_use]
    pub fn in_words(&self) -> String {
        let made = self.made.map_or_else(String::new, |made| format!(" made at {}", made.local()));
        let ends = self.last.seq;
        let begins = format!(
            "The journal was restored at {} from a backup{made}, which ends with event {ends}.",
            self.at.local()
        );
        match &self.lost {
            Some(lost) => {
                let (seq, at, count) = (lost.head.seq, lost.at.local(), lost.head.seq - ends);
                let events = if count == 1 { "1 event is" } else { &*format!("{count} events are") };
                format!(
                    "{begins} Event {seq} was known elsewhere at {at}: {events} lost. Go through the cards and the paper, \
                     and record again what is missing."
                )
            }
            None => format!("{begins} What was written after the backup is not in it."),
        }
    }

    /// Whether the first page says it: two weeks long, and as long as a place still names an event that is lost.
    #[must_use]
    pub fn is_news(&self, now: Moment) -> bool {
        self.lost.is_some() || now.seconds_since(self.at) < SAID_FOR
    }

    /// Whether a head that was kept then can only have been of the journal before this restore.
    fn came_before(&self, ends: u64, kept: &Checkpoint) -> bool {
        kept.head.seq > ends && !self.at.is_before(kept.at)
    }
}

impl Journal {
    /// Tells checkpoints that must be among the events from those of events that a restore lost.
    ///
    /// # Errors
    /// [`JournalError`] when the journal cannot be read or is damaged.
    pub fn told_apart(&self, kept: &[Checkpoint]) -> Result<KeptHeads, JournalError> {
        let mut restores = self.restores()?;
        let mut expected = Vec::new();
        for one in kept {
            // What was written in the same second as the restore may be of either side: the events themselves say.
            let is_here = || Ok::<_, JournalError>(self.event(one.head.seq)?.is_some_and(|it| it.head() == one.head));
            match restores.iter_mut().find(|restore| restore.came_before(restore.last.seq, one)) {
                Some(restore) if !is_here()? => {
                    if restore.lost.is_none_or(|known| known.head.seq < one.head.seq) {
                        restore.lost = Some(*one);
                    }
                }
                _ => expected.push(one.head),
            }
        }
        Ok(KeptHeads { expected, restores })
    }

    /// The same of the chain of accesses: those that must be in it.
    ///
    /// # Errors
    /// As for [`Journal::told_apart`].
    pub fn accesses_told_apart(&self, log: &AccessLog, kept: &[Checkpoint]) -> Result<Vec<Head>, JournalError> {
        let restores = self.restores()?;
        let mut expected = Vec::new();
        for one in kept {
            let is_lost = restores.iter().any(|restore| restore.came_before(restore.accesses, one));
            if !is_lost || log.holds(one.head)? {
                expected.push(one.head);
            }
        }
        Ok(expected)
    }

    fn restores(&self) -> Result<Vec<Restore>, JournalError> {
        let mut restores = Vec::new();
        for event in self.events(Of::Kind(KIND_RESTORED))? {
            let damaged = || JournalError::EventDamaged { seq: event.seq(), why: "it names no backup".to_owned() };
            let body: RestoredBody = serde_json::from_value(event.body().clone()).map_err(|_| damaged())?;
            let head = |text: &str| text.parse::<Head>().map_err(|_| damaged());
            restores.push(Restore {
                at: event.at(),
                made: body.made.map(|made| Moment::parse(&made).map_err(|_| damaged())).transpose()?,
                last: head(&body.last)?,
                lost: None,
                accesses: body.accesses.as_deref().map(head).transpose()?.map_or(0, |last| last.seq),
            });
        }
        Ok(restores)
    }
}
