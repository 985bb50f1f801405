//! Where a reading stands: sealed entries in, compared once all of a round are sealed. Worked out anew each time it is
//! asked for, from the entries and the very formulary they were made with; nothing of it is ever read back.

use std::collections::HashMap;
use std::sync::Arc;

use crate::agreement::{Agreed, NotComparable, Outcome, Pair, agree};
use crate::check::Checked;
use crate::document::{Path, read_form};
use crate::entry::{Entry, EntryForm, Given, Identifiers, Patient};
use crate::formulary::Formulary;
use crate::infusion::Computed;
use crate::quantity::Moment;

use super::error::{CaseError, refuse};
use super::fold::{Case, Opened, Place, Reading, Sealed};
use super::patient::{Weighed, WeightState};

/// Every formulary that the entries of a case were made with, by its edition.
#[derive(Debug, Default)]
pub struct Formularies(pub(super) HashMap<String, KeptFormulary>);

/// A kept formulary; or why this program cannot read it, which matters only to what needs its limits.
pub(super) type KeptFormulary = Result<Arc<Formulary>, Arc<str>>;

impl Formularies {
    pub(super) fn get(&self, edition: &str) -> Result<&Formulary, CaseError> {
        match self.0.get(edition) {
            Some(Ok(formulary)) => Ok(formulary),
            Some(Err(why)) => Err(refuse(
                "formulary-unreadable",
                format!("the formulary that this was entered with cannot be read by this program: {why}"),
                "go on by the driver, the order and the paper card; report this",
            )),
            None => Err(CaseError::Fault(format!("the formulary {edition} was not kept"))),
        }
    }
}

/// How far a reading has come.
#[derive(Debug)]
pub enum Stage<'f> {
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
    Stopped(Box<Pair<'f>>),
    /// Two people, each of whom signed a blind entry, say the same, and nothing stands in the way.
    Agreed(Box<Agreed<'f>>),
    /// One signed entry says the same as an emergency entry that nobody signed. Its author could have seen the emergency
    /// card, and may have made it under a colleague's name: two people have not entered it independently.
    CheckedAfterwards(Box<Agreed<'f>>),
}

impl Stage<'_> {
    /// In words that say where it stands, and nothing else.
    #[must_use]
    pub fn says(&self) -> String {
        let listed = |fields: &[&str]| fields.join(", ");
        match self {
            Self::AwaitsSecond => "the first entry is sealed; a second person enters next".to_owned(),
            Self::Unchecked => {
                "NOT DOUBLE-CHECKED: one person's emergency entry; a second person enters next".to_owned()
            }
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
            Self::CheckedAfterwards(_) => {
                "emergency entry, checked afterwards by one signed entry: NOT DOUBLE-CHECKED".to_owned()
            }
        }
    }
}

impl<'f> Stage<'f> {
    /// What two entries that say the same came to, however independent they are.
    pub(super) fn same(&self) -> Option<&Agreed<'f>> {
        match self {
            Self::Agreed(agreed) | Self::CheckedAfterwards(agreed) => Some(agreed),
            _ => None,
        }
    }

    fn agreed(agreed: Box<Agreed<'f>>, entries: [&Sealed; 2]) -> Self {
        if entries.iter().any(|entry| entry.place == Place::Emergency) {
            Self::CheckedAfterwards(agreed)
        } else {
            Self::Agreed(agreed)
        }
    }
}

/// A reading and what came of it.
#[derive(Debug)]
pub struct Standing<'f> {
    /// How far it has come.
    pub stage: Stage<'f>,
    /// The last event that made it so.
    pub since: u64,
    /// When that was.
    pub at: Moment,
    /// The entries that were held against each other last: first, second.
    pub(super) pair: Option<(u64, u64)>,
}

/// Why an agreed reading may not be started now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hindered {
    /// It is too old.
    Expired {
        /// Since when.
        since: Moment,
    },
    /// The weight has changed, and the dose is counted by it.
    WeightChanged {
        /// The weight now.
        now: String,
    },
    /// The weight is being read again.
    WeightInDoubt,
    /// The solution may not be used any more.
    Discard {
        /// Since when.
        since: Moment,
    },
}

impl Case {
    /// Where a reading stands.
    ///
    /// # Errors
    /// [`CaseError`] when a sealed entry cannot be opened, or two routes of a sum disagree.
    pub fn standing<'f>(&self, reading: &Reading, kept: &'f Formularies) -> Result<Standing<'f>, CaseError> {
        let (mut round, mut disagreements, mut fields) = (1_u8, 0, Vec::new());
        loop {
            let (first, second) = (reading.entry(Place::First, round), reading.entry(Place::Second, round));
            let (Some(first), Some(second)) = (first, second) else {
                let stage = match (round, reading.began_in_an_emergency()) {
                    (1, true) => Stage::Unchecked,
                    (1, false) => Stage::AwaitsSecond,
                    _ => Stage::AwaitsAgain { fields, round, first: first.is_none(), second: second.is_none() },
                };
                return Ok(Standing::of(stage, reading.entries.iter().collect(), None));
            };
            let both = vec![first, second];
            let pair = Some((first.head.seq, second.head.seq));
            match self.compare(first, second, kept)? {
                Compared::Agreed(agreed) => {
                    return Ok(Standing::of(Stage::agreed(agreed, [first, second]), both, pair));
                }
                Compared::Stopped(stopped) => return Ok(Standing::of(Stage::Stopped(stopped), both, pair)),
                Compared::ReasonsMissing => fields = vec!["reasons"],
                Compared::Differ(differ) => {
                    disagreements += 1;
                    fields = differ;
                    if disagreements == ROUNDS {
                        return self.with_a_third(reading, first, second, fields, kept);
                    }
                }
            }
            round += 1;
        }
    }

    fn with_a_third<'f>(
        &self,
        reading: &Reading,
        first: &Sealed,
        second: &Sealed,
        fields: Vec<&'static str>,
        kept: &'f Formularies,
    ) -> Result<Standing<'f>, CaseError> {
        let Some(third) = reading.entry(Place::Third, 1) else {
            return Ok(Standing::of(Stage::AwaitsThird { fields }, vec![first, second], None));
        };
        let mut differ = Vec::new();
        for other in [first, second] {
            let both = vec![other, third];
            let pair = Some((other.head.seq, third.head.seq));
            match self.compare(other, third, kept)? {
                Compared::Agreed(agreed) => {
                    return Ok(Standing::of(Stage::agreed(agreed, [other, third]), both, pair));
                }
                Compared::Stopped(stopped) => return Ok(Standing::of(Stage::Stopped(stopped), both, pair)),
                Compared::ReasonsMissing => differ.push("reasons"),
                Compared::Differ(fields) => differ.extend(fields),
            }
        }
        differ.sort_unstable();
        differ.dedup();
        Ok(Standing::of(Stage::NotAgreed { fields: differ }, vec![third], None))
    }

    fn compare<'f>(&self, first: &Sealed, second: &Sealed, kept: &'f Formularies) -> Result<Compared<'f>, CaseError> {
        let at = if second.at.is_before(first.at) { first.at } else { second.at };
        match agree(self.checked(first, at, kept)?, self.checked(second, at, kept)?) {
            Ok(Outcome::Agreed(agreed)) => Ok(Compared::Agreed(agreed)),
            Ok(Outcome::Stopped(pair)) => Ok(Compared::Stopped(pair)),
            Ok(Outcome::ReasonsMissing(_)) => Ok(Compared::ReasonsMissing),
            Ok(Outcome::Differ(differ)) => Ok(Compared::Differ(differ.fields().to_vec())),
            Err(NotComparable::TwoPatients) => Ok(Compared::Differ(vec!["identifiers"])),
            // People are told apart when they seal; names that are alike now were not then.
            Err(fault) => Err(CaseError::Fault(fault.to_string())),
        }
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
        let opened = self.open(sealed)?;
        let given = Given {
            name: opened.name.clone(),
            role: opened.role.clone(),
            entered_at: sealed.at,
            patient: match opened.patient {
                true => None,
                false => self.patient_known(sealed.head.seq, opened.patient_of_two, kept)?,
            },
        };
        let entry = read(&opened, &given).map_err(|faults| {
            let first = faults.into_iter().next().map(|fault| fault.code).unwrap_or_default();
            CaseError::Fault(format!("event {} held a good form once, and now: {first}", sealed.head.seq))
        })?;
        checked(entry, kept.get(&sealed.edition)?, at, judge)
    }

    /// What stands in the way of starting an agreed reading, or an emergency entry, now. Nothing does once it runs.
    pub(super) fn hindered(
        &self,
        reading: &Reading,
        standing: &Standing<'_>,
        now: Moment,
        kept: &Formularies,
    ) -> Result<Option<Hindered>, CaseError> {
        let alone;
        let both: Vec<&Computed<'_>> = match &standing.stage {
            Stage::Agreed(agreed) | Stage::CheckedAfterwards(agreed) => {
                [agreed.pair().first(), agreed.pair().second()].map(Checked::computed).to_vec()
            }
            Stage::Unchecked => {
                let Some(entry) = reading.entry(Place::First, 1) else { return Ok(None) };
                alone = self.checked(entry, entry.at, kept)?;
                vec![alone.computed()]
            }
            _ => return Ok(None),
        };
        let since = standing.since;
        for computed in &both {
            let expires = computed.names().area.map(|area| area.unstarted_entry_expires.value());
            let end = expires.and_then(|expires| computed.entry().entered_at().after(expires));
            if let Some(since) = end.filter(|end| end.is_before(now)) {
                return Ok(Some(Hindered::Expired { since }));
            }
            if let Some(since) = computed.discard_after().filter(|discard| discard.is_before(now)) {
                return Ok(Some(Hindered::Discard { since }));
            }
        }
        if !both[0].counts_by_size() {
            return Ok(None);
        }
        Ok(match self.weight_since(since)? {
            WeightState::Unchanged => None,
            WeightState::InDoubt => Some(Hindered::WeightInDoubt),
            WeightState::Agreed(Weighed { weight, .. }) if weight == both[0].entry().patient().weight => None,
            WeightState::Agreed(Weighed { weight, .. }) => Some(Hindered::WeightChanged { now: weight.to_string() }),
        })
    }

    /// The patient that two people had agreed on before an event: from the first agreed set-up, with what was agreed on
    /// later put in.
    pub(super) fn patient_before(&self, seq: u64, kept: &Formularies) -> Result<Option<Patient>, CaseError> {
        self.patient_known(seq, false, kept)
    }

    /// The patient that two people had agreed on before an event, each of whom signed it where `of_two` says so: an
    /// emergency entry that one person checked makes no patient known for what two people enter next.
    pub(super) fn patient_known(
        &self,
        seq: u64,
        of_two: bool,
        kept: &Formularies,
    ) -> Result<Option<Patient>, CaseError> {
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
            let standing = self.standing(reading, kept)?;
            let independent = matches!(standing.stage, Stage::Agreed(_));
            let Some(agreed) = standing.stage.same().filter(|_| independent || !of_two) else { continue };
            if standing.since < seq && earliest.as_ref().is_none_or(|(since, _)| standing.since < *since) {
                earliest = Some((standing.since, agreed.pair().first().computed().entry().patient().clone()));
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

enum Compared<'f> {
    Agreed(Box<Agreed<'f>>),
    Stopped(Box<Pair<'f>>),
    ReasonsMissing,
    Differ(Vec<&'static str>),
}

impl<'f> Standing<'f> {
    fn of(stage: Stage<'f>, entries: Vec<&Sealed>, pair: Option<(u64, u64)>) -> Self {
        let last = entries.iter().max_by_key(|entry| entry.head.seq);
        let (since, at) = last.map_or_else(|| (0, Moment::now()), |entry| (entry.head.seq, entry.at));
        Self { stage, since, at, pair }
    }
}

/// Reads a form where its author, its moment and perhaps the patient are known.
pub(super) fn read(opened: &Opened, given: &Given) -> Result<Box<Entry>, Vec<crate::diagnostic::Fault>> {
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
