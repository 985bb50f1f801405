//! Where a reading stands: read off what was decided about its entries, and never worked out anew.

use std::sync::Arc;

use crate::check::Checked;
use crate::document::{Path, read_form};
use crate::entry::{Entry, EntryForm, FormContext, Identifiers, Patient};
use crate::formulary::Formulary;
use crate::infusion::Computed;
use crate::quantity::Moment;

use super::decision::{Afterwards, Decided, Decision, Outcome, fields_named};
use super::error::CaseError;
use super::formularies::Formularies;
use super::patient::{Weighed, WeightState};
use super::state::{Case, EntryTurn, Opened, Reading, Sealed};

/// How far a reading has come.
#[derive(Debug, Clone)]
pub enum ReviewStage {
    /// The first entry is sealed; a second person enters next.
    AwaitsSecond,
    /// One entry made in an emergency, which nobody has checked.
    Unchecked,
    /// They read something differently, or reasons are missing: each enters these fields again, alone.
    AwaitsAgain {
        /// Which fields.
        fields: Vec<&'static str>,
        /// In which round.
        round: u8,
        /// Whether the first person still has to.
        first: bool,
        /// Whether the second person still has to.
        second: bool,
        /// Whether nothing is open but what an emergency did not ask: what was read is the same.
        unread: bool,
    },
    /// They differ twice: a third person goes back to the order.
    AwaitsThird {
        /// Which fields.
        fields: Vec<&'static str>,
    },
    /// Three people read it, and no two agree, or the two that do lack reasons.
    NotAgreed {
        /// Which fields the third reads differently from either.
        fields: Vec<&'static str>,
    },
    /// Two say the same, and it stops.
    Stopped(Arc<Decision>),
    /// Two people, each of whom signed a blind entry, say the same, and nothing stands in the way.
    Agreed(Arc<Decision>),
    /// One signed entry says the same as an emergency entry, or as one that was started before: its author could have
    /// seen the card, or the rate. Two people have not entered it independently.
    CheckedAfterwards(Arc<Decision>, Afterwards),
    /// What was decided cannot be read by this program. The case goes on by what people say.
    NotReadable {
        /// Why.
        why: Arc<str>,
    },
}

impl ReviewStage {
    /// In words that say where it stands, and nothing else.
    #[must_use]
    pub fn says(&self) -> String {
        let listed = |fields: &[&str]| fields.join(", ");
        match self {
            Self::AwaitsSecond => "the first entry is sealed; a second person enters next".to_owned(),
            Self::Unchecked => {
                "NOT DOUBLE-CHECKED: one person's emergency entry; a second person enters next".to_owned()
            }
            Self::AwaitsAgain { fields, unread: true, .. } => format!(
                "NOT DOUBLE-CHECKED: one person's emergency entry; the second entry says the same of what was read, and \
                 these were not read in the emergency: {}; both people read them, each alone",
                listed(fields)
            ),
            Self::AwaitsAgain { fields, first, second, .. } => {
                let who = match (first, second) {
                    (true, true) => "both people",
                    (true, false) => "the first person",
                    _ => "the second person",
                };
                let (reads, writes) = if *first && *second { ("read", "write") } else { ("reads", "writes") };
                if fields.as_slice() == ["reasons"] {
                    format!("the entries say the same, and reasons are missing; {who} {writes} theirs, alone")
                } else {
                    format!("the entries differ; {who} {reads} again, alone: {}", listed(fields))
                }
            }
            Self::AwaitsThird { fields } => {
                format!("the entries differ twice; a third person goes back to the order: {}", listed(fields))
            }
            Self::NotAgreed { fields } if fields.as_slice() == ["reasons"] => {
                "the third person agrees with one of the two, and reasons are missing".to_owned()
            }
            Self::NotAgreed { fields } => format!("three people read it, and no two agree: {}", listed(fields)),
            Self::Stopped(_) => "both entries say the same, and it stops".to_owned(),
            Self::Agreed(_) => "agreed".to_owned(),
            Self::CheckedAfterwards(_, Afterwards::Emergency) => {
                "emergency entry, checked afterwards by one signed entry: NOT DOUBLE-CHECKED".to_owned()
            }
            Self::CheckedAfterwards(_, Afterwards::Start) => {
                "started before two people agreed, checked afterwards: NOT DOUBLE-CHECKED".to_owned()
            }
            Self::NotReadable { why } => format!("DECISION NOT READABLE: {why}; go by the driver and the order"),
        }
    }

    /// What two entries that say the same came to, however independent they are.
    pub(super) fn same(&self) -> Option<&Arc<Decision>> {
        match self {
            Self::Agreed(decision) | Self::CheckedAfterwards(decision, _) => Some(decision),
            _ => None,
        }
    }

    /// The same stage with what its entries came to when they were counted again.
    pub(super) fn with_decision(&self, decision: &Arc<Decision>) -> Self {
        match self {
            Self::CheckedAfterwards(_, after) => Self::CheckedAfterwards(Arc::clone(decision), *after),
            _ => Self::Agreed(Arc::clone(decision)),
        }
    }

    /// The fields that entries read differently, and that are read again.
    pub(super) fn fields_that_differ(&self) -> Option<&[&'static str]> {
        match self {
            Self::AwaitsAgain { fields, .. } | Self::AwaitsThird { fields } | Self::NotAgreed { fields } => {
                Some(fields)
            }
            _ => None,
        }
    }

    /// Whether two people have come to an end with it: nothing of it is blind any more.
    #[must_use]
    pub const fn is_settled(&self) -> bool {
        matches!(self, Self::Agreed(_) | Self::CheckedAfterwards(..) | Self::Stopped(_) | Self::NotAgreed { .. })
    }

    /// Whether it has a card.
    #[must_use]
    pub const fn has_card(&self) -> bool {
        self.is_unchecked_emergency() || matches!(self, Self::Agreed(_) | Self::CheckedAfterwards(..))
    }

    /// Whether the card of one person's emergency entry is the one that counts: nobody has read anything else.
    pub(super) const fn is_unchecked_emergency(&self) -> bool {
        matches!(self, Self::Unchecked | Self::AwaitsAgain { unread: true, .. })
    }
}

/// A reading and what came of it.
#[derive(Debug, Clone)]
pub struct ReviewState {
    /// How far it has come.
    pub stage: ReviewStage,
    /// The last event that made it so.
    pub since: u64,
    /// When that was.
    pub at: Moment,
}

/// Why an agreed reading may not be started now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StartBlock {
    /// It is too old.
    Expired {
        /// Since when.
        since: Moment,
    },
    /// The weight has changed, and the dose is counted by it.
    WeightChanged {
        /// The weight now.
        now: String,
        /// Why it was not counted again; empty where an earlier program left it void.
        why: Vec<String>,
    },
    /// It was counted again with identifiers that followed, and did not come to a card.
    CardVoid {
        /// Why.
        why: Vec<String>,
    },
    /// The weight is being read again.
    WeightInDoubt,
    /// It was sealed by a clock that was ahead, and that was corrected since.
    ClockWasAhead {
        /// When, by that clock.
        sealed: Moment,
    },
    /// By the clock it is not too old, and by what was written already it is.
    ClockUncertain {
        /// Both times, and what is too old.
        says: String,
    },
    /// The solution may not be used any more.
    Discard {
        /// Since when.
        since: Moment,
    },
    /// The formulary that it was made with was recalled.
    Recalled {
        /// Since when.
        since: Moment,
    },
}

impl Case {
    /// Where a reading stands, counted again where two people agreed on another weight or on identifiers since.
    #[must_use]
    pub fn standing(&self, reading: &Reading) -> ReviewState {
        self.as_recounted(reading, self.standing_of_entries(reading), None)
    }

    /// The same with the recounts alone that were made by a moment.
    pub(super) fn standing_by(&self, reading: &Reading, by: Moment) -> ReviewState {
        self.as_recounted(reading, self.standing_of_entries(reading), Some(by))
    }

    /// Where a reading stands by its entries alone.
    pub(super) fn standing_of_entries(&self, reading: &Reading) -> ReviewState {
        let (mut round, mut disagreements, mut fields) = (1_u8, 0, Vec::new());
        loop {
            let (first, second) = (reading.entry(EntryTurn::First, round), reading.entry(EntryTurn::Second, round));
            let (Some(first), Some(second)) = (first, second) else {
                let stage = match (round, reading.began_in_an_emergency()) {
                    (1, true) => ReviewStage::Unchecked,
                    (1, false) => ReviewStage::AwaitsSecond,
                    _ => {
                        let unread = round == 2 && self.are_unread(reading, &fields);
                        let (first, second) = (first.is_none(), second.is_none());
                        ReviewStage::AwaitsAgain { fields, round, first, second, unread }
                    }
                };
                return ReviewState::of(stage, &reading.entries.iter().collect::<Vec<_>>());
            };
            let both = [first, second];
            let decision = match reading.decided_after(first.head.seq.max(second.head.seq)) {
                Some(Decided { decision: Ok(decision), .. }) => decision,
                unreadable => return ReviewState::of(ReviewStage::not_readable(unreadable), &both),
            };
            match &decision.outcome {
                Outcome::ReasonsMissing => fields = vec!["reasons"],
                Outcome::Differ(differ) => {
                    disagreements += 1;
                    fields = fields_named(differ);
                    if disagreements == ROUNDS {
                        return with_a_third(reading, both, fields);
                    }
                }
                _ => return ReviewState::of(ReviewStage::of(decision), &both),
            }
            round += 1;
        }
    }

    /// Whether nobody read any of these fields when an emergency entry was made.
    fn are_unread(&self, reading: &Reading, fields: &[&'static str]) -> bool {
        let first = reading.alone().and_then(|alone| reading.first_of(alone));
        let entry = first.and_then(|first| self.entry(first).ok());
        entry.is_some_and(|entry| fields.iter().all(|field| entry.assumes(field)))
    }

    /// A sealed entry, read and checked against the formulary it was made with, as of a moment.
    pub(super) fn checked<'f>(
        &self,
        sealed: &Sealed,
        at: Moment,
        kept: &'f Formularies,
    ) -> Result<Checked<'f>, CaseError> {
        self.checked_by(sealed, at, kept, Checked::of)
    }

    pub(super) fn checked_by<'f>(
        &self,
        sealed: &Sealed,
        at: Moment,
        kept: &'f Formularies,
        judge: impl FnOnce(Computed<'f>) -> Checked<'f>,
    ) -> Result<Checked<'f>, CaseError> {
        checked(self.entry(sealed)?, kept.get(&sealed.edition)?, at, judge)
    }

    /// A sealed entry, read: only where two people have come to an end with it, or for the comparison.
    pub(super) fn entry(&self, sealed: &Sealed) -> Result<Box<Entry>, CaseError> {
        let opened = self.open(sealed)?;
        let given = FormContext {
            name: opened.name.clone(),
            role: opened.role.clone(),
            entered_at: sealed.at,
            patient: match opened.patient {
                true => None,
                false => self.patient_known(sealed.head.seq, opened.patient_of_two)?,
            },
            may_assume: sealed.place == EntryTurn::Emergency,
        };
        read(&opened, &given).map_err(|faults| {
            let first = faults.into_iter().next().map(|fault| fault.code).unwrap_or_default();
            CaseError::Fault(format!("event {} held a good form once, and now: {first}", sealed.head.seq))
        })
    }

    /// What stands in the way of starting an agreed reading, or an emergency entry, now. Nothing does once it runs. A clock
    /// that was set back brings nothing back.
    pub(super) fn hindered(
        &self,
        reading: &Reading,
        standing: &ReviewState,
        now: Moment,
    ) -> Result<Option<StartBlock>, CaseError> {
        let by_floor = self.not_before_floor(now);
        // Sealed by a clock that was ahead and was corrected since: how old it is, nobody knows.
        let ahead = reading.entries.iter().find(|entry| by_floor.is_before(entry.at));
        let ahead = ahead.map(|entry| StartBlock::ClockWasAhead { sealed: entry.at });
        let is_emergency = standing.stage.is_unchecked_emergency();
        if ahead.is_some() && !is_emergency {
            return Ok(ahead);
        }
        let hindered = self.hindered_at(reading, standing, by_floor)?;
        let grown_old = match &hindered {
            Some(StartBlock::Expired { since }) => format!("the entries expired at {since}"),
            Some(StartBlock::Discard { since }) => format!("the solution is discarded since {since}"),
            _ => return Ok(hindered.or(ahead)),
        };
        let by_clock = self.hindered_at(reading, standing, now)?;
        // No clock keeps a rate from one person in an emergency: its card is marked.
        if is_emergency || by_clock == hindered {
            return Ok(by_clock.or(ahead));
        }
        let (clock, latest) = (now.local(), self.floor.local());
        let says = format!(
            "the clock is uncertain: it says {clock}, and the journal was written at {latest}; by that, {grown_old}"
        );
        Ok(Some(StartBlock::ClockUncertain { says }))
    }

    /// Where the clock is behind what was written already: how, for a card that goes by the clock all the same.
    pub(super) fn clock_behind(&self, now: Moment) -> Option<String> {
        let (clock, latest) = (now.local(), self.floor.local());
        now.is_before(self.floor).then(|| {
            format!("CLOCK UNCERTAIN: IT SAYS {clock}, AND THE JOURNAL WAS WRITTEN AT {latest}: LOOK AT ANOTHER CLOCK")
        })
    }

    /// The moment by which it is decided how old a reading is: never before what was written already, but for an emergency
    /// entry that nobody checked, which goes by the clock.
    pub(super) fn age_counts_at(&self, set_up: &super::state::SetUp, at: Moment) -> Moment {
        let unchecked =
            set_up.latest().is_some_and(|latest| matches!(self.standing(latest).stage, ReviewStage::Unchecked));
        if unchecked { at } else { self.not_before_floor(at) }
    }

    /// The same at a moment that somebody named.
    pub(super) fn hindered_at(
        &self,
        reading: &Reading,
        standing: &ReviewState,
        now: Moment,
    ) -> Result<Option<StartBlock>, CaseError> {
        let decision = match &standing.stage {
            stage if stage.is_unchecked_emergency() => reading.alone(),
            stage => stage.same(),
        };
        let Some(syringe) = decision.and_then(|decision| decision.syringe.as_ref()) else { return Ok(None) };
        // An emergency is never held up by a recall.
        let is_emergency = standing.stage.is_unchecked_emergency();
        // To the minute, as what happened is kept.
        let by_now = |since: &Moment| Moment::parse(&since.to_rfc3339()).is_ok_and(|since| !now.is_before(since));
        if let Some(since) = self.editions.recalled(reading).filter(|since| !is_emergency && by_now(since)) {
            return Ok(Some(StartBlock::Recalled { since }));
        }
        let expired = syringe.expires.filter(|end| end.is_before(now)).map(|since| StartBlock::Expired { since });
        let discard = syringe.discard_after.filter(|discard| discard.is_before(now));
        let age = expired.or(discard.map(|since| StartBlock::Discard { since }));
        // An emergency is not held up by any age: what else hinders it must not hide behind that.
        if age.is_some() && !is_emergency {
            return Ok(age);
        }
        let why = self.back_to_both(reading);
        if !syringe.counts_by_size {
            return Ok(if why.is_empty() { age } else { Some(StartBlock::CardVoid { why }) });
        }
        Ok(match self.weight_since(standing.since)? {
            WeightState::Unchanged if why.is_empty() => age,
            WeightState::Unchanged => Some(StartBlock::CardVoid { why }),
            WeightState::InDoubt => Some(StartBlock::WeightInDoubt),
            WeightState::Agreed(Weighed { weight, .. }) if weight == syringe.weight && why.is_empty() => age,
            WeightState::Agreed(Weighed { weight, .. }) => {
                Some(StartBlock::WeightChanged { now: weight.to_string(), why })
            }
        })
    }

    /// The patient that two people had agreed on before an event: from the first agreed set-up, with what was agreed on
    /// later put in.
    pub(super) fn patient_before(&self, seq: u64) -> Result<Option<Patient>, CaseError> {
        self.patient_known(seq, false)
    }

    /// The patient that two people had agreed on before an event, each of whom signed it where `of_two` says so: an
    /// emergency entry that one person checked makes no patient known for what two people enter next.
    pub(super) fn patient_known(&self, seq: u64, of_two: bool) -> Result<Option<Patient>, CaseError> {
        let begun = |reading: &Reading| reading.entries.first().map_or(0, |entry| entry.head.seq);
        let mut readings: Vec<&Reading> = self.set_ups.iter().flat_map(|set_up| &set_up.readings).collect();
        // In this order the first agreement is found early, and nothing begun after it needs a look.
        readings.sort_by_key(|reading| begun(reading));
        let mut earliest: Option<(u64, Patient)> = None;
        for reading in readings {
            let two = reading.entries.iter().filter(|entry| entry.head.seq < seq).count() > 1;
            if !two || earliest.as_ref().is_some_and(|(since, _)| begun(reading) > *since) {
                continue;
            }
            let standing = self.standing_of_entries(reading);
            let signed = !matches!(standing.stage, ReviewStage::CheckedAfterwards(_, Afterwards::Emergency));
            let Some(agreed) = standing.stage.same().filter(|_| signed || !of_two) else { continue };
            if standing.since < seq
                && earliest.as_ref().is_none_or(|(since, _)| standing.since < *since)
                && let Some(patient) = &agreed.patient
            {
                earliest = Some((standing.since, patient.clone()));
            }
        }
        let Some((_, mut patient)) = earliest else { return Ok(None) };
        if let Some(weighed) = self.weights_agreed()?.into_iter().rev().find(|weighed| weighed.seq < seq) {
            patient.weight = weighed.weight;
            patient.weight_from = weighed.from;
        }
        if patient.identifiers == Identifiers::Pending
            && let Some(known) = self.identifiers_agreed()?.into_iter().rev().find(|known| known.0 < seq)
        {
            patient.identifiers = Identifiers::Known(known.1);
        }
        Ok(Some(patient))
    }
}

/// After so many rounds in which two people differ, a third is asked.
const ROUNDS: u8 = 2;

fn with_a_third(reading: &Reading, both: [&Sealed; 2], fields: Vec<&'static str>) -> ReviewState {
    let Some(third) = reading.entry(EntryTurn::Third, 1) else {
        return ReviewState::of(ReviewStage::AwaitsThird { fields }, &both);
    };
    match reading.decided_after(third.head.seq) {
        Some(Decided { decision: Ok(decision), .. }) => ReviewState::of(ReviewStage::of(decision), &[third]),
        unreadable => ReviewState::of(ReviewStage::not_readable(unreadable), &[third]),
    }
}

impl ReviewStage {
    /// Of a decision that ends a reading.
    fn of(decision: &Arc<Decision>) -> Self {
        match &decision.outcome {
            Outcome::Agreed => Self::Agreed(Arc::clone(decision)),
            Outcome::CheckedAfterwards(after) => Self::CheckedAfterwards(Arc::clone(decision), *after),
            Outcome::Stopped => Self::Stopped(Arc::clone(decision)),
            Outcome::NotAgreed(fields) => Self::NotAgreed { fields: fields_named(fields) },
            Outcome::Alone => Self::Unchecked,
            Outcome::ReasonsMissing => Self::NotAgreed { fields: vec!["reasons"] },
            Outcome::Differ(fields) => Self::NotAgreed { fields: fields_named(fields) },
        }
    }

    fn not_readable(decided: Option<&Decided>) -> Self {
        let why = decided.and_then(|decided| decided.decision.as_ref().err().map(Arc::clone));
        Self::NotReadable { why: why.unwrap_or_else(|| Arc::from("nothing was decided about these entries")) }
    }
}

impl ReviewState {
    fn of(stage: ReviewStage, entries: &[&Sealed]) -> Self {
        let last = entries.iter().max_by_key(|entry| entry.head.seq);
        let (since, at) = last.map_or_else(|| (0, Moment::now()), |entry| (entry.head.seq, entry.at));
        Self { stage, since, at }
    }
}

/// Reads a form where its author, its moment and perhaps the patient are known.
pub(super) fn read(opened: &Opened, given: &FormContext) -> Result<Box<Entry>, Vec<crate::diagnostic::Fault>> {
    let mut faults = Vec::new();
    let root = read_form(&opened.form, opened.json, &mut faults);
    let entry = root.and_then(|root| EntryForm::at(&root, Path::Root).given(given).read(&mut faults));
    match entry {
        Some(entry) if faults.is_empty() => Ok(entry),
        _ => Err(faults),
    }
}

/// Computes and checks an entry.
pub(super) fn checked<'f>(
    entry: Box<Entry>,
    formulary: &'f Formulary,
    at: Moment,
    judge: impl FnOnce(Computed<'f>) -> Checked<'f>,
) -> Result<Checked<'f>, CaseError> {
    let computed = Computed::of(entry, formulary, at)?;
    match computed.sum() {
        Err(no_sum) if no_sum.is_fault_of_the_program() => Err(CaseError::Fault(no_sum.to_string())),
        _ => Ok(judge(computed)),
    }
}
