//! The record with its corrections applied. In: what was written down, in that order. Out: what happened, in its order.
//!
//! A correction may itself be corrected: of two that stand, the later one counts; one that is taken back never was.

use std::collections::HashMap;

use crate::quantity::Moment;

use super::error::CaseError;
use super::record_event::{DOSE_CHANGED, RecordEvent, Recorded};
use super::state::{SetUp, Signed};

/// Something that happened.
#[derive(Debug, Clone)]
pub(super) struct TimelineEvent {
    /// The event; the largest number where it is not written yet.
    pub(super) seq: u64,
    /// When it happened.
    pub(super) at: Moment,
    /// What.
    pub(super) what: RecordEvent,
}

/// What a correction that stands says about an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// The event of the correction.
    pub by: u64,
    /// What happened instead; nothing did where this is empty.
    pub instead: Option<RecordEvent>,
    happened: Option<String>,
}

impl SetUp {
    /// The correction of an event that counts, if there is one.
    #[must_use]
    pub fn correction(&self, event: u64) -> Option<Correction> {
        corrections(self.record.iter().map(|signed| (signed.seq, &signed.what))).remove(&event)
    }

    /// Whether it was started and not stopped, whatever the clock says now.
    pub(super) fn is_running_by_the_record(&self) -> Result<bool, CaseError> {
        let steps = steps(&self.record, None)?;
        let started = steps.iter().any(|step| matches!(step.what, RecordEvent::Start { .. }));
        Ok(started && !steps.iter().any(|step| matches!(step.what, RecordEvent::Stop)))
    }

    /// What an event of the record says now, and when; nothing where it did not happen.
    pub(super) fn says_now(&self, event: u64) -> Result<Option<(RecordEvent, Moment)>, CaseError> {
        let Some(signed) = self.record.iter().find(|signed| signed.seq == event) else { return Ok(None) };
        let own = signed.what.happened()?;
        Ok(match self.correction(event) {
            Some(Correction { instead, happened, .. }) => {
                let happened = happened.map(|text| Moment::parse(&text)).transpose()?;
                instead.map(|what| (what, happened.unwrap_or(own)))
            }
            None => Some((signed.what.what.clone(), own)),
        })
    }
}

impl SetUp {
    /// The reading that was started or put in last, by the record with its corrections.
    #[must_use]
    pub fn running_reading(&self) -> Option<u16> {
        self.last_reading(|_| true)
    }

    /// The reading that ran at a moment.
    pub(super) fn reading_at(&self, moment: Moment) -> Result<Option<u16>, CaseError> {
        // Events that cannot be read were refused before they were written; if one is not, that is said here.
        steps(&self.record, None)?;
        Ok(self.last_reading(|at| !moment.is_before(at)))
    }

    /// Whether a reading was written down as started or put in before an event. A correction does not undo that its rate
    /// could be read.
    pub(super) fn was_put_in_before(&self, number: u16, seq: u64) -> bool {
        let puts_in = |what: &RecordEvent| match what {
            RecordEvent::Start { reading, .. } | RecordEvent::Syringe { reading, .. } => *reading == number,
            RecordEvent::Correct { instead: Some(what), .. } => {
                matches!(&**what, RecordEvent::Start { reading, .. } | RecordEvent::Syringe { reading, .. } if *reading == number)
            }
            _ => false,
        };
        self.record.iter().any(|signed| signed.seq < seq && puts_in(&signed.what.what))
    }

    /// What somebody said about the syringe of a reading when they put it in: drug and strength.
    pub(super) fn said_to_be(&self, number: u16) -> (Option<String>, Option<String>) {
        let steps = steps(&self.record, None).unwrap_or_default();
        let said = steps.into_iter().rev().find(|step| step.puts_in(number)).and_then(|step| match step.what {
            RecordEvent::Start { said, .. } | RecordEvent::Syringe { said, .. } => said,
            _ => None,
        });
        said.map_or((None, None), |said| (said.drug, said.strength))
    }

    /// Whether somebody gave a reason for the event that put a reading in.
    pub(super) fn is_explained_since_put_in(&self, number: u16) -> bool {
        let steps = steps(&self.record, None).unwrap_or_default();
        let event = steps.iter().rev().find(|step| step.puts_in(number)).map(|step| step.seq);
        self.record
            .iter()
            .any(|signed| matches!(signed.what.what, RecordEvent::Reason { event: about } if Some(about) == event))
    }

    /// The event that put a reading in, and when that was, by the record with its corrections.
    pub(super) fn put_in(&self, number: u16) -> Option<(u64, Moment)> {
        let steps = steps(&self.record, None).unwrap_or_default();
        steps.iter().find(|step| step.puts_in(number)).map(|step| (step.seq, step.at))
    }

    /// Whether a reading was ever started or put in, by the record with its corrections.
    pub(super) fn has_run(&self, number: u16) -> bool {
        let steps = steps(&self.record, None).unwrap_or_default();
        steps.iter().any(|step| step.puts_in(number))
    }

    fn last_reading(&self, counts: impl Fn(Moment) -> bool) -> Option<u16> {
        let steps = steps(&self.record, None).ok()?;
        steps.iter().rev().filter(|step| counts(step.at)).find_map(|step| match step.what {
            RecordEvent::Start { reading, .. } | RecordEvent::Syringe { reading, .. } => Some(reading),
            _ => None,
        })
    }

    /// The event that set the rate of now, by the record with its corrections.
    fn rate_set(&self) -> Result<Option<u64>, CaseError> {
        Ok(steps(&self.record, None)?.iter().rev().find(|step| step.sets_a_rate()).map(|step| step.seq))
    }

    /// The event with which somebody last chose the dose of now, and when it happened as it was first written down: another
    /// time that a correction gives it makes nobody know more. The next syringe that keeps the dose chooses none.
    pub(super) fn dose_chosen(&self) -> Result<Option<(u64, Moment)>, CaseError> {
        for step in steps(&self.record, None)?.iter().rev().filter(|step| step.sets_a_rate()) {
            let Some(written) = self.record.iter().find(|signed| signed.seq == step.seq) else { continue };
            let keeps = matches!(step.what, RecordEvent::Syringe { .. })
                && self.correction(step.seq).is_none()
                && written.what.marks.iter().all(|mark| mark.code != DOSE_CHANGED);
            if !keeps {
                return Ok(Some((step.seq, written.what.happened()?)));
            }
        }
        Ok(None)
    }

    /// The event that set the rate of now, by the record with its corrections: an event that a correction put right counts
    /// as the correction.
    pub(super) fn last_rate_event(&self) -> Result<Option<u64>, CaseError> {
        Ok(self.rate_set()?.map(|seq| self.correction(seq).map_or(seq, |correction| correction.by)))
    }

    /// The rate that was recorded last, by the record with its corrections.
    #[must_use]
    pub fn last_rate(&self) -> Option<String> {
        let steps = steps(&self.record, None).ok()?;
        steps.into_iter().rev().find_map(|step| match step.what {
            RecordEvent::Start { rate, .. }
            | RecordEvent::Syringe { rate, .. }
            | RecordEvent::Rate { to: rate, .. } => Some(rate),
            RecordEvent::Resume { rate } => rate,
            _ => None,
        })
    }
}

impl TimelineEvent {
    /// Whether it is about to be written. What is written already stays, whatever is written down later for before it.
    pub(super) const fn is_new(&self) -> bool {
        self.seq == u64::MAX
    }

    const fn sets_a_rate(&self) -> bool {
        matches!(
            self.what,
            RecordEvent::Start { .. }
                | RecordEvent::Syringe { .. }
                | RecordEvent::Rate { .. }
                | RecordEvent::Resume { rate: Some(_) }
        )
    }

    const fn puts_in(&self, number: u16) -> bool {
        matches!(self.what, RecordEvent::Start { reading, .. } | RecordEvent::Syringe { reading, .. } if reading == number)
    }

    /// Nothing comes before a start, and nothing but the closing after a stop: within their minute they go first, and last.
    const fn rank(&self) -> u8 {
        match self.what {
            RecordEvent::Start { .. } => 0,
            RecordEvent::Stop => 2,
            RecordEvent::Close { .. } | RecordEvent::ClosingRead { .. } => 3,
            _ => 1,
        }
    }

    /// Why this cannot have come after the steps before it.
    pub(super) fn does_not_follow(&self, why: &str) -> String {
        match self.seq {
            _ if self.is_new() => format!("at {} {why}", self.at),
            seq => format!("event {seq}, at {}, would not follow: {why}", self.at),
        }
    }
}

/// What happened, in the order in which it did. `next` is what is about to be written.
pub(super) fn steps(record: &[Signed<Recorded>], next: Option<&Recorded>) -> Result<Vec<TimelineEvent>, CaseError> {
    let all = || record.iter().map(|signed| (signed.seq, &signed.what)).chain(next.map(|next| (u64::MAX, next)));
    let mut corrections = corrections(all());
    let mut steps = Vec::new();
    for (seq, recorded) in all() {
        if matches!(recorded.what, RecordEvent::Correct { .. } | RecordEvent::Reason { .. }) {
            continue;
        }
        let own = recorded.happened()?;
        match corrections.remove(&seq) {
            Some(Correction { instead: None, .. }) => {}
            Some(Correction { instead: Some(what), happened, .. }) => {
                let at = happened.map(|text| Moment::parse(&text)).transpose()?.unwrap_or(own);
                steps.push(TimelineEvent { seq, at, what });
            }
            None => steps.push(TimelineEvent { seq, at: own, what: recorded.what.clone() }),
        }
    }
    // Things recorded later may have happened earlier; within the same minute they stay as they were written down.
    steps.sort_by(|one, other| {
        let by_time = one.at.seconds_since(other.at).cmp(&0);
        by_time.then(one.rank().cmp(&other.rank())).then(one.seq.cmp(&other.seq))
    });
    Ok(steps)
}

/// For each event that is corrected, the last correction that stands.
fn corrections<'r>(record: impl DoubleEndedIterator<Item = (u64, &'r Recorded)>) -> HashMap<u64, Correction> {
    let mut standing: HashMap<u64, Correction> = HashMap::new();
    // From the last one back: what is said about a correction is known before the correction is met.
    for (seq, recorded) in record.rev() {
        let RecordEvent::Correct { event, instead, happened } = &recorded.what else { continue };
        let correction = match standing.get(&seq) {
            Some(Correction { instead: None, .. }) => continue,
            Some(corrected) => {
                Correction { happened: corrected.happened.clone().or_else(|| happened.clone()), ..corrected.clone() }
            }
            None => Correction { by: seq, instead: instead.as_deref().cloned(), happened: happened.clone() },
        };
        standing.entry(*event).or_insert(correction);
    }
    standing
}
