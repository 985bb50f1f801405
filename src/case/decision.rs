//! What followed when the last needed entry was sealed: written down with it, and from then on read. In: sealed entries
//! and the formulary they were made with; out: a [`Decision`]. Another program, or other rules, change no decision.

use serde::{Deserialize, Serialize};
use std::sync::Arc;

use crate::agreement::{Agreed, COMPARED, NotComparable, Outcome as Compared, Pair, agree_beside};
use crate::card::{Blocks, Card, EmergencyCard, Independence, Provenance};
use crate::check::{Checked, Finding, RunningInfusion};
use crate::entry::Patient;
use crate::journal::NewEvent;
use crate::quantity::{Moment, Ratio, plain};

use super::basis::SyringeParameters;
use super::error::CaseError;
use super::formularies::Formularies;
use super::restart::{RateAndDose, RunningDose};
use super::state::{Case, DECISION, EntryTurn, Header, Reading, Sealed, SetUp};

/// What followed from one or two sealed entries.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Decision {
    /// The form in which it is kept.
    version: u8,
    /// The program that decided.
    program: String,
    /// The entries it is about, by turn and round: two that were held against each other, or one of an emergency.
    pub(super) entries: Vec<(EntryTurn, u8)>,
    /// What came of it.
    pub outcome: Outcome,
    /// By whom the second entry is, where they say the same.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) second_by: Option<String>,
    /// Every finding about it; none where the entries differ, since a finding carries values.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub findings: Vec<KeptFinding>,
    /// What the rest of the case counts by; nothing where no sum could be worked out, or the entries differ.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) syringe: Option<SyringeParameters>,
    /// How many identifiers the house asks for.
    #[serde(default)]
    pub(super) identifiers_needed: usize,
    /// The patient, as the first of the entries has them.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) patient: Option<Patient>,
    /// What ran by the record when a next syringe was decided.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) runs: Option<RunningInfusion>,
    /// The card, where there is one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) card: Option<Blocks>,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// One entry, made in an emergency: nobody has entered it too.
    Alone,
    /// Two people, each of whom signed a blind entry, say the same, and nothing stands in the way.
    Agreed,
    /// Two entries say the same, and one of their authors could have known: they are not independent.
    CheckedAfterwards(Afterwards),
    /// Both say the same, and it stops.
    Stopped,
    /// Both say the same, and written reasons are missing.
    ReasonsMissing,
    /// They read these fields differently.
    Differ(Vec<String>),
    /// Three people read it, and no two agree on these fields, or the two that do lack reasons.
    NotAgreed(Vec<String>),
}

impl Outcome {
    /// In words.
    #[must_use]
    pub fn says(&self) -> String {
        match self {
            Self::Alone => "one entry, made in an emergency: nobody has checked it".to_owned(),
            Self::Agreed => "the entries agree".to_owned(),
            Self::CheckedAfterwards(Afterwards::Emergency) => "it agrees with the emergency entry before it".to_owned(),
            Self::CheckedAfterwards(Afterwards::Start) => "the entries agree, after the start".to_owned(),
            Self::Stopped => "the entries agree, and it stops".to_owned(),
            Self::ReasonsMissing => "the entries agree, and reasons are missing".to_owned(),
            Self::Differ(fields) => format!("the entries differ: {}", fields.join(", ")),
            Self::NotAgreed(fields) => format!("no two of three agree: {}", fields.join(", ")),
        }
    }
}

/// After what the second entry was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Afterwards {
    /// An emergency entry, whose card anybody could have seen.
    Emergency,
    /// The start: its rate stood in the record.
    Start,
}

/// A finding as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptFinding {
    /// Its kind.
    pub code: String,
    /// In one word.
    pub severity: String,
    /// The field that it is about.
    pub field: String,
    /// What was found.
    pub message: String,
    /// What to do.
    pub help: String,
    /// Formulary file, line and published source, where it rests on one.
    pub source: Option<String>,
}

/// A decision in its place: after which entry, and whether it is written down.
#[derive(Debug, Clone)]
pub(super) struct Decided {
    /// The event of the entry that was the last one needed.
    pub(super) after: u64,
    /// What followed; or why this program cannot tell.
    pub(super) decision: Result<Arc<Decision>, Arc<str>>,
    /// Whether the journal holds it: what was decided before decisions were kept is worked out once more, and written
    /// with the next event of the case.
    pub(super) is_kept: bool,
}

const VERSION: u8 = 1;

impl From<&Finding> for KeptFinding {
    fn from(finding: &Finding) -> Self {
        Self {
            code: finding.code.id.to_owned(),
            severity: finding.severity().word().to_owned(),
            field: finding.field.to_owned(),
            message: finding.message.clone(),
            help: finding.help.clone(),
            source: finding.source.clone(),
        }
    }
}

impl Decision {
    fn new(entries: &[&Sealed], outcome: Outcome) -> Self {
        Self {
            version: VERSION,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            entries: entries.iter().map(|entry| (entry.place, entry.round)).collect(),
            outcome,
            second_by: None,
            findings: Vec::new(),
            syringe: None,
            identifiers_needed: 0,
            patient: None,
            runs: None,
            card: None,
        }
    }

    fn with_findings<'c>(mut self, findings: impl IntoIterator<Item = &'c Finding>) -> Self {
        self.findings = findings.into_iter().map(KeptFinding::from).collect();
        self
    }

    /// The rate of its card, mL/h.
    pub(super) fn rate(&self) -> Option<Ratio> {
        self.syringe.as_ref().map(|syringe| syringe.set)
    }

    /// In what another decision about the same entries comes to something else.
    pub(super) fn differs_from(&self, other: &Self) -> Option<String> {
        if self.outcome != other.outcome {
            let (then, now) = (self.outcome.says(), other.outcome.says());
            return Some(format!("it was decided that {then}; this program decides that {now}"));
        }
        if self.rate() != other.rate() {
            let shown = |decision: &Self| {
                decision.rate().map_or_else(|| "no rate".to_owned(), |rate| format!("{} mL/h", plain(rate)))
            };
            return Some(format!("it was decided on {}; this program comes to {}", shown(self), shown(other)));
        }
        let codes = |decision: &Self| decision.findings.iter().map(|one| one.code.clone()).collect::<Vec<_>>();
        let (then, now) = (codes(self), codes(other));
        if then != now {
            return Some(format!("its findings were {}; now {}", listed(&then), listed(&now)));
        }
        let data = |decision: &Self| [serde_json::to_value(&decision.syringe), serde_json::to_value(&decision.card)];
        let which = data(self).into_iter().zip(data(other)).map(|(then, now)| then.ok() == now.ok());
        let named = ["what the rest of the case counts by", "its card"].into_iter().zip(which);
        named.into_iter().find(|(_, same)| !same).map(|(name, _)| format!("{name} is another one now"))
    }

    /// Reads a kept decision.
    pub(super) fn read(plain: &[u8]) -> Result<Self, Arc<str>> {
        #[derive(Deserialize)]
        struct Versioned {
            version: u8,
        }
        match serde_json::from_slice::<Versioned>(plain) {
            Ok(Versioned { version: VERSION }) => {
                serde_json::from_slice(plain).map_err(|error| Arc::from(error.to_string()))
            }
            Ok(Versioned { version }) => {
                Err(Arc::from(format!("it is kept in version {version}, and this program reads version {VERSION}")))
            }
            Err(error) => Err(Arc::from(error.to_string())),
        }
    }
}

impl Case {
    /// Works out every decision that is due, in the order in which the entries were sealed, since a later one may rest on
    /// the patient of an earlier one. `now` says whether it is decided for the first time: what was decided by an earlier
    /// program is not held against a rule that it did not know.
    ///
    /// # Errors
    /// When two routes of a sum disagree; for what is decided now, whatever stands in its way.
    pub(super) fn decide_what_is_due(&mut self, kept: &Formularies, now: bool) -> Result<(), CaseError> {
        while let Some((set_up, reading, after)) = self.due() {
            let runs = if now { self.ran_beside_entry(set_up, reading, after) } else { None };
            let decision = match self.decide((set_up, reading, after), runs, kept, now) {
                Ok(decision) => Ok(Arc::new(decision)),
                Err(error) if now => return Err(error),
                Err(error) => Err(Arc::from(error.to_string())),
            };
            self.set_ups[set_up].readings[reading].decisions.push(Decided { after, decision, is_kept: false });
        }
        Ok(())
    }

    /// An event of the store for each decision that is not kept yet.
    pub(super) fn drafts_of_decisions(&self) -> Result<Vec<NewEvent<'static>>, CaseError> {
        let mut drafts = Vec::new();
        for set_up in &self.set_ups {
            for reading in &set_up.readings {
                for decided in reading.decisions.iter().filter(|decided| !decided.is_kept) {
                    drafts.extend(self.draft_of(set_up.code.number, reading, decided)?);
                }
            }
        }
        Ok(drafts)
    }

    fn draft_of(
        &self,
        set_up: u16,
        reading: &Reading,
        decided: &Decided,
    ) -> Result<Option<NewEvent<'static>>, CaseError> {
        let after = reading.entries.iter().find(|entry| entry.head.seq == decided.after);
        let (Ok(decision), Some(after)) = (&decided.decision, after) else { return Ok(None) };
        let (place, round) = (Some(after.place), Some(after.round));
        let header = Header { set_up: Some(set_up), reading: Some(reading.number), place, round, ..Header::default() };
        self.draft(DECISION, None, header, Some(&**decision)).map(Some)
    }

    /// Whether a decision is due that is not kept.
    pub(super) fn has_decisions_due(&self) -> bool {
        self.due().is_some()
    }

    /// The first entry after which a decision is due, by set-up and reading.
    fn due(&self) -> Option<(usize, usize, u64)> {
        let mut all = Vec::new();
        for (at, set_up) in self.set_ups.iter().enumerate() {
            for (number, reading) in set_up.readings.iter().enumerate() {
                let open = reading.entries.iter().filter(|entry| {
                    reading.decided_after(entry.head.seq).is_none() && !reading.held_against(entry).is_empty()
                });
                all.extend(open.map(|entry| (at, number, entry.head.seq)));
            }
        }
        all.into_iter().min_by_key(|(_, _, seq)| *seq)
    }

    /// What follows from an entry that was the last one needed.
    pub(super) fn decide(
        &self,
        (set_up, reading, after): (usize, usize, u64),
        runs: Option<RunningInfusion>,
        kept: &Formularies,
        now: bool,
    ) -> Result<Decision, CaseError> {
        let decision = self.decide_beside((set_up, reading, after), runs.as_ref(), kept, now)?;
        Ok(Decision { runs, ..decision })
    }

    fn ran_beside_entry(&self, set_up: usize, reading: usize, after: u64) -> Option<RunningInfusion> {
        let set_up = &self.set_ups[set_up];
        let reading = &set_up.readings[reading];
        let last = reading.entries.iter().find(|entry| entry.head.seq == after)?;
        self.runs_beside(set_up, reading, last.at)
    }

    /// What runs at a moment by the record, in the set-up of a reading that is not the one that runs.
    pub(super) fn runs_beside(&self, set_up: &SetUp, reading: &Reading, at: Moment) -> Option<RunningInfusion> {
        set_up.running_reading().filter(|running| *running < reading.number)?;
        // A record that cannot be followed stands in nobody's way here.
        let course = self.course(set_up, at).ok().flatten()?;
        let runs = RunningDose::at_the_end(&course).ok().flatten()?;
        let RateAndDose { rate, dose, unit } = runs.gives;
        Some(RunningInfusion { drug: runs.drug, dose, unit, rate })
    }

    fn decide_beside(
        &self,
        (set_up, reading, after): (usize, usize, u64),
        runs: Option<&RunningInfusion>,
        kept: &Formularies,
        now: bool,
    ) -> Result<Decision, CaseError> {
        let set_up = &self.set_ups[set_up];
        let reading = &set_up.readings[reading];
        let lost = || CaseError::Fault(format!("event {after} is no entry of {}", set_up.code));
        let last = reading.entries.iter().find(|entry| entry.head.seq == after).ok_or_else(lost)?;
        let started = now && set_up.was_put_in_before(reading.number, after);
        let provenance = |independence| Provenance::Case {
            code: set_up.code.to_string(),
            journal: self.journal_id().to_owned(),
            head: last.head.to_string(),
            independence,
        };
        if last.place == EntryTurn::Emergency {
            let checked = self.checked_by(last, last.at, kept, Checked::in_an_emergency)?;
            let card = EmergencyCard::of(&checked, last.at, &provenance(Independence::AfterEmergency)).ok();
            return Ok(Decision {
                syringe: SyringeParameters::of(&checked).ok(),
                identifiers_needed: checked.computed().formulary().policy().identifiers_needed,
                patient: Some(checked.computed().entry().patient().clone()),
                card: card.map(|card| Blocks::clone(&card)),
                ..Decision::new(&[last], Outcome::Alone).with_findings(checked.findings())
            });
        }
        let mut not_agreed = Vec::new();
        for other in reading.held_against(last) {
            let pair = match last.place {
                EntryTurn::First => [last, other],
                _ => [other, last],
            };
            let independence = match () {
                () if pair.iter().any(|entry| entry.place == EntryTurn::Emergency) => Independence::AfterEmergency,
                () if started => Independence::AfterStart,
                () => Independence::Two,
            };
            match self.compare(pair, runs, kept)? {
                Some(Compared::Agreed(agreed)) => {
                    return Ok(agreed_on(&pair, &agreed, last.at, &provenance(independence), independence));
                }
                Some(Compared::Stopped(stopped)) => {
                    let first = stopped.first();
                    return Ok(Decision {
                        syringe: SyringeParameters::of(first).ok().map(|basis| basis.and_by(stopped.second())),
                        identifiers_needed: first.computed().formulary().policy().identifiers_needed,
                        patient: Some(first.computed().entry().patient().clone()),
                        ..Decision::new(&pair, Outcome::Stopped).with_findings(stopped.findings())
                    });
                }
                Some(Compared::ReasonsMissing(_)) if last.place == EntryTurn::Third => not_agreed.push("reasons"),
                Some(Compared::ReasonsMissing(_)) => return Ok(Decision::new(&pair, Outcome::ReasonsMissing)),
                Some(Compared::Differ(differ)) if last.place == EntryTurn::Third => not_agreed.extend(differ.fields()),
                Some(Compared::Differ(differ)) => {
                    let fields = differ.fields().iter().map(ToString::to_string).collect();
                    return Ok(Decision::new(&pair, Outcome::Differ(fields)));
                }
                None if last.place == EntryTurn::Third => not_agreed.push("identifiers"),
                None => return Ok(Decision::new(&pair, Outcome::Differ(vec!["identifiers".to_owned()]))),
            }
        }
        not_agreed.sort_unstable();
        not_agreed.dedup();
        Ok(Decision::new(&[last], Outcome::NotAgreed(not_agreed.into_iter().map(str::to_owned).collect())))
    }

    /// Two entries held against each other; nothing where they are for two patients.
    fn compare<'f>(
        &self,
        pair: [&Sealed; 2],
        runs: Option<&RunningInfusion>,
        kept: &'f Formularies,
    ) -> Result<Option<Compared<'f>>, CaseError> {
        let [first, second] = pair;
        let at = if second.at.is_before(first.at) { first.at } else { second.at };
        match agree_beside(self.checked(first, at, kept)?, self.checked(second, at, kept)?, runs) {
            Ok(compared) => Ok(Some(compared)),
            Err(NotComparable::TwoPatients) => Ok(None),
            // People are told apart when they seal; names that are alike now were not then.
            Err(fault) => Err(CaseError::Fault(fault.to_string())),
        }
    }

    /// Compares the two entries of a decision once more, for the reports about rules.
    ///
    /// # Errors
    /// When an entry cannot be read or its formulary is missing.
    pub(super) fn compared_again<'f>(
        &self,
        reading: &Reading,
        decision: &Decision,
        kept: &'f Formularies,
    ) -> Result<Option<Box<Pair<'f>>>, CaseError> {
        let entries: Vec<&Sealed> = reading.entries_of(decision).collect();
        let [first, second] = entries[..] else { return Ok(None) };
        Ok(match self.compare([first, second], decision.runs.as_ref(), kept)? {
            Some(Compared::Agreed(agreed)) => Some(Box::new(agreed.into_pair())),
            Some(Compared::Stopped(pair) | Compared::ReasonsMissing(pair)) => Some(pair),
            Some(Compared::Differ(_)) | None => None,
        })
    }
}

fn listed(codes: &[String]) -> String {
    if codes.is_empty() { "none".to_owned() } else { codes.join(", ") }
}

pub(super) fn agreed_on(
    pair: &[&Sealed; 2],
    agreed: &Agreed<'_>,
    at: Moment,
    provenance: &Provenance,
    independence: Independence,
) -> Decision {
    let outcome = match independence {
        Independence::Two => Outcome::Agreed,
        Independence::AfterEmergency => Outcome::CheckedAfterwards(Afterwards::Emergency),
        Independence::AfterStart => Outcome::CheckedAfterwards(Afterwards::Start),
    };
    let (first, second) = (agreed.pair().first(), agreed.pair().second());
    Decision {
        second_by: Some(second.computed().entry().name().to_owned()),
        syringe: SyringeParameters::of(first).ok().map(|basis| basis.and_by(second)),
        identifiers_needed: first.computed().formulary().policy().identifiers_needed,
        patient: Some(first.computed().entry().patient().clone()),
        card: Some(Blocks::clone(&Card::of(agreed, at, provenance))),
        ..Decision::new(pair, outcome).with_findings(agreed.pair().findings())
    }
}

impl Reading {
    /// What was decided after an entry, where anything was.
    pub(super) fn decided_after(&self, seq: u64) -> Option<&Decided> {
        self.decisions.iter().find(|decided| decided.after == seq)
    }

    /// The entries before it that an entry is held against; itself for one made in an emergency, which is decided alone.
    /// None while another one is waited for.
    fn held_against(&self, entry: &Sealed) -> Vec<&Sealed> {
        let before = |other: &&Sealed| other.head.seq < entry.head.seq;
        match entry.place {
            EntryTurn::Emergency => self.entries.iter().filter(|one| one.head.seq == entry.head.seq).collect(),
            EntryTurn::First => self.entry(EntryTurn::Second, entry.round).filter(before).into_iter().collect(),
            EntryTurn::Second => self.entry(EntryTurn::First, entry.round).filter(before).into_iter().collect(),
            EntryTurn::Third => {
                let last = self.entries.iter().filter(before).map(|one| one.round).max().unwrap_or(1);
                let both = [EntryTurn::First, EntryTurn::Second].into_iter();
                both.filter_map(|place| self.entry(place, last)).filter(before).collect()
            }
        }
    }

    /// The entries that a decision is about, in its order.
    pub(super) fn entries_of<'r>(&'r self, decision: &'r Decision) -> impl Iterator<Item = &'r Sealed> {
        let find = |(place, round): &(EntryTurn, u8)| {
            self.entries.iter().find(|entry| (entry.place, entry.round) == (*place, *round))
        };
        decision.entries.iter().filter_map(find)
    }

    /// The first of the entries that a decision is about.
    pub(super) fn first_of<'r>(&'r self, decision: &'r Decision) -> Option<&'r Sealed> {
        self.entries_of(decision).next()
    }

    /// What was decided of an entry that was made alone, in an emergency.
    pub(super) fn alone(&self) -> Option<&Arc<Decision>> {
        let is_alone = |decided: &&Decided| matches!(&decided.decision, Ok(one) if one.outcome == Outcome::Alone);
        self.decisions.iter().find(is_alone).and_then(|decided| decided.decision.as_ref().ok())
    }
}

/// Fields of the form by their kept names; all of them where this program does not know one.
pub(super) fn fields_named(kept: &[String]) -> Vec<&'static str> {
    let known = |name: &String| match name.as_str() {
        "reasons" => Some("reasons"),
        name => COMPARED.iter().map(|compared| compared.name).find(|known| *known == name),
    };
    let fields: Option<Vec<&'static str>> = kept.iter().map(known).collect();
    fields.unwrap_or_else(|| COMPARED.iter().map(|compared| compared.name).collect())
}
