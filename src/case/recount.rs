//! A set-up counted again after two people agreed on another weight or on identifiers that followed. In: the sealed
//! readings, what was agreed, and the formulary of the entries; out: an event with a new card, or why both enter it again.
//!
//! The readings stay as they were sealed. Only what two people agreed on about the patient is put in, and every rule
//! judges the result. A recount made after the syringe was put in changes nothing that runs: the record says what runs.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::agreement::{Outcome as Compared, agree_beside};
use crate::card::{Independence, Provenance};
use crate::check::{Checked, RunningInfusion, Severity, made_for_weight};
use crate::entry::{Entry, Identifiers, Patient};
use crate::journal::{Head, NewEvent};
use crate::quantity::{Moment, Ratio, exact_or_about, grouped, plain};

use super::accounting::Course;
use super::basis::Weighed;
use super::code::SetUpCode;
use super::decision::{Afterwards, Decision, Outcome, agreed_on};
use super::error::CaseError;
use super::formularies::Formularies;
use super::patient::RecountStatement;
use super::restart::RateAndDose;
use super::review::{ReviewState, checked};
use super::state::{Case, Header, RECOUNT, Reading, Sealed, SetUp};

/// A weight that is further off than this many percent of the weight that was entered is read with everything else by
/// both (our own choice, no source).
const MOST_PERCENT: u64 = 10;

const VERSION: u8 = 1;

/// What is sealed cannot be read by this program: nothing is counted by it, and nothing waits for it.
const NOT_READABLE: &str = "DECISION NOT READABLE: ";

/// A set-up counted again.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Recount {
    /// The form in which it is kept.
    version: u8,
    /// The event with which two people agreed on what is put in.
    pub(super) because: u64,
    /// The weight of the card before and the one that is put in, each with where it comes from.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) weights: Option<[String; 2]>,
    /// Whether identifiers were put in that had been pending.
    #[serde(default)]
    pub(super) identifiers: bool,
    /// The rate of the card before, mL/h.
    pub(super) rate_before: Option<Ratio>,
    /// What ran beside it then, where it is the next syringe.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) runs: Option<RunningInfusion>,
    /// What came of it.
    pub(super) outcome: RecountOutcome,
}

/// What came of a recount.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RecountOutcome {
    /// Every rule passes: the readings have this decision, and its card, from now on.
    NewCard(Box<Decision>),
    /// Two people enter it again: why.
    BackToBoth(Vec<String>),
}

/// A recount in its place.
#[derive(Debug, Clone)]
pub(super) struct KeptRecount {
    /// Its event.
    pub(super) seq: u64,
    /// When.
    pub(super) at: Moment,
    /// What it says; why it cannot be read, where a newer program wrote it.
    pub(super) recount: Result<Arc<Recount>, Arc<str>>,
    /// Its decision, where it has one.
    pub(super) decision: Option<Arc<Decision>>,
}

/// What two people agreed on about the patient after the entries of a reading.
struct PatientUpdate {
    weighed: Option<Weighed>,
    identifiers: Option<Vec<String>>,
}

impl PatientUpdate {
    /// What two people have read again.
    fn read_since(&self) -> Vec<&'static str> {
        let weight = self.weighed.as_ref().map(|_| "weight");
        weight.into_iter().chain(self.identifiers.as_ref().map(|_| "identifiers")).collect()
    }

    fn put_into(&self, patient: &Patient) -> Patient {
        let mut patient = patient.clone();
        if let Some(weighed) = &self.weighed {
            (patient.weight, patient.weight_from) = (weighed.weight, weighed.from);
        }
        if let (Identifiers::Pending, Some(known)) = (&patient.identifiers, &self.identifiers) {
            patient.identifiers = Identifiers::Known(known.clone());
        }
        patient
    }
}

impl Recount {
    pub(super) fn read(plain: &[u8]) -> Result<Self, Arc<str>> {
        #[derive(Deserialize)]
        struct Versioned {
            version: u8,
        }
        let unreadable = |error: serde_json::Error| Arc::from(error.to_string());
        match serde_json::from_slice::<Versioned>(plain).map_err(unreadable)?.version {
            VERSION => serde_json::from_slice(plain).map_err(unreadable),
            version => Err(Arc::from(format!("it is kept in version {version}, and this program reads {VERSION}"))),
        }
    }

    /// The rate before and after, `64 -> 62.7 mL/h`; the one rate where it stays.
    #[must_use]
    pub fn rates_in_words(&self) -> Option<String> {
        let RecountOutcome::NewCard(decision) = &self.outcome else { return None };
        let shown = |rate: Ratio| grouped(&plain(rate));
        match (self.rate_before, decision.rate()?) {
            (Some(before), now) if before != now => Some(format!("{} -> {} mL/h", shown(before), shown(now))),
            (_, now) => Some(format!("{} mL/h, as before", shown(now))),
        }
    }

    /// What was put in, in words.
    fn because_in_words(&self) -> String {
        let weight = self.weights.as_ref().map(|[before, now]| match before == now {
            true => format!("weight {now}, as on the card before"),
            false => format!("weight {before} -> {now}"),
        });
        let identifiers = self.identifiers.then(|| "identifiers read".to_owned());
        weight.into_iter().chain(identifiers).collect::<Vec<_>>().join("; ")
    }

    /// In words.
    #[must_use]
    pub fn says(&self) -> String {
        let because = self.because_in_words();
        match &self.outcome {
            RecountOutcome::NewCard(_) => {
                let rates = self.rates_in_words().map(|rates| format!(": {rates}")).unwrap_or_default();
                format!("counted again{rates}; {because}")
            }
            RecountOutcome::BackToBoth(why) => {
                format!("not counted again, two people enter it again: {}; {because}", why.join("; "))
            }
        }
    }

    /// Why it could not be counted again at all, where it was so.
    pub(super) fn not_readable(&self) -> Option<&str> {
        match &self.outcome {
            RecountOutcome::BackToBoth(why) => why.iter().find_map(|why| why.strip_prefix(NOT_READABLE)),
            RecountOutcome::NewCard(_) => None,
        }
    }

    /// In what another recount with the same weight and identifiers comes to something else.
    pub(super) fn differs_from(&self, other: &Self) -> Option<String> {
        match (&self.outcome, &other.outcome) {
            (RecountOutcome::NewCard(then), RecountOutcome::NewCard(now)) => then.differs_from(now),
            (RecountOutcome::BackToBoth(then), RecountOutcome::BackToBoth(now)) if then == now => None,
            _ => Some(format!("it was {}; this program says: {}", self.says(), other.says())),
        }
    }
}

impl Case {
    /// The recounts of a reading that its card follows: all that were made before its syringe was put in, as known by a
    /// moment where one is named; then those that only put in identifiers, and leave weight and rate as they are.
    pub(super) fn recounts_in_force<'r>(&self, reading: &'r Reading, by: Option<Moment>) -> Vec<&'r KeptRecount> {
        let mut in_force = self.recounts_before_put_in(reading, by);
        if in_force.len() == reading.recounts.len() {
            return in_force;
        }
        let entries = self.standing_of_entries(reading);
        let last = in_force.iter().rev().find_map(|one| one.decision.as_ref());
        let Some(card) = last.or_else(|| entries.stage.same()).cloned() else { return in_force };
        let after = in_force.last().map_or(0, |last| last.seq);
        let only_identifies = |one: &&KeptRecount| {
            let identifies = one.recount.as_ref().is_ok_and(|recount| recount.identifiers && recount.weights.is_none());
            let weight = |decision: &Decision| decision.patient.as_ref().map(|patient| patient.weight);
            let same = |new: &Arc<Decision>| new.rate() == card.rate() && weight(new) == weight(&card);
            one.seq > after && identifies && self.is_known(one, by) && one.decision.as_ref().is_some_and(same)
        };
        in_force.extend(reading.recounts.iter().filter(only_identifies));
        in_force
    }

    /// Whether a recount was made by a moment.
    fn is_known(&self, recount: &KeptRecount, by: Option<Moment>) -> bool {
        by.is_none_or(|by| !by.is_before(self.known_since(recount.at)))
    }

    /// Since when something counts that two people agreed on, to the minute, as what happened is kept. What a clock sealed
    /// that was ahead is not later than the latest time without doubt.
    pub(super) fn known_since(&self, at: Moment) -> Moment {
        let at = if self.floor.is_before(at) { self.floor } else { at };
        Moment::parse(&at.to_rfc3339()).unwrap_or(at)
    }

    fn recounts_before_put_in<'r>(&self, reading: &'r Reading, by: Option<Moment>) -> Vec<&'r KeptRecount> {
        if reading.recounts.is_empty() {
            return Vec::new();
        }
        let put_in = self.set_up(reading.of_set_up).ok().and_then(|set_up| set_up.put_in(reading.number));
        let before = |one: &&KeptRecount| {
            put_in.is_none_or(|(seq, at)| one.seq < seq && !at.is_before(self.known_since(one.at)))
        };
        reading.recounts.iter().filter(before).filter(|one| self.is_known(one, by)).collect()
    }

    /// The state of a reading with the last recount that its card follows. What was put in before is agreed on since then,
    /// and not since its identifiers followed.
    pub(super) fn as_recounted(&self, reading: &Reading, state: ReviewState, by: Option<Moment>) -> ReviewState {
        if state.stage.same().is_none() || reading.recounts.is_empty() {
            return state;
        }
        let in_force = self.recounts_in_force(reading, by);
        let Some(decision) = in_force.iter().rev().find_map(|one| one.decision.as_ref()) else { return state };
        let before_put_in = self.recounts_before_put_in(reading, by);
        let since = before_put_in.iter().rev().find(|one| one.decision.is_some());
        let (since, at) = since.map_or((state.since, state.at), |one| (one.seq, one.at));
        ReviewState { stage: state.stage.with_decision(decision), since, at }
    }

    /// Why two people enter a reading again that could not be counted again; empty where the last recount has a card.
    pub(super) fn back_to_both(&self, reading: &Reading) -> Vec<String> {
        match self.recounts_in_force(reading, None).last().map(|last| &last.recount) {
            Some(Ok(recount)) => match &recount.outcome {
                RecountOutcome::BackToBoth(why) => why.clone(),
                RecountOutcome::NewCard(_) => Vec::new(),
            },
            Some(Err(why)) => vec![format!("its recount cannot be read by this program: {why}")],
            None => Vec::new(),
        }
    }

    /// What a recount that came after the syringe was put in says against going on: nothing of a new rate.
    pub(super) fn recount_while_it_runs(&self, reading: &Reading) -> Vec<String> {
        let after = reading.recounts.last().filter(|last| {
            self.recounts_in_force(reading, None).last().is_none_or(|in_force| in_force.seq != last.seq)
        });
        match after.map(|last| &last.recount) {
            Some(Ok(recount)) => match &recount.outcome {
                RecountOutcome::BackToBoth(why) => why.clone(),
                RecountOutcome::NewCard(_) => Vec::new(),
            },
            _ => Vec::new(),
        }
    }

    /// When the rate on the card of a reading was counted again after a moment at which it was put in.
    pub(super) fn is_recounted_since(&self, reading: &Reading, happened: Moment) -> Option<Moment> {
        let other_rate = |one: &KeptRecount| {
            let before = one.recount.as_ref().ok().and_then(|recount| recount.rate_before);
            one.decision.as_ref().is_some_and(|decision| decision.rate() != before)
        };
        let all = self.recounts_in_force(reading, None);
        let known = self.recounts_in_force(reading, Some(happened));
        let later = all.iter().filter(|one| known.iter().all(|known| known.seq != one.seq));
        later.filter(|one| other_rate(one)).map(|one| one.at).next()
    }

    /// Counts again what the last event made due: an event of the store for each reading.
    pub(super) fn drafts_of_recounts(
        &self,
        because: Head,
        now: Moment,
        kept: &Formularies,
    ) -> Result<Vec<NewEvent<'static>>, CaseError> {
        let mut drafts = Vec::new();
        for set_up in &self.set_ups {
            // A record that cannot be followed stands in nobody's way here.
            let is_over = self.course(set_up, now).ok().flatten().is_some_and(|course| !course.is_running());
            let running = set_up.running_reading().filter(|_| !is_over);
            for reading in &set_up.readings {
                let waits = set_up.latest().is_some_and(|latest| latest.number == reading.number)
                    && !set_up.has_run(reading.number);
                if !waits && running != Some(reading.number) {
                    continue;
                }
                let runs = self.runs_beside(set_up, reading, now);
                if let Some(recount) = self.recounted((reading, &reading.recounts), (because, now), runs, kept)? {
                    let header =
                        Header { set_up: Some(set_up.code.number), reading: Some(reading.number), ..Header::default() };
                    drafts.push(self.draft(RECOUNT, None, header, Some(&recount))?);
                }
            }
        }
        Ok(drafts)
    }

    /// What a reading comes to with what two people had agreed on by an event, beside what ran then; nothing where its card
    /// says that already.
    pub(super) fn recounted(
        &self,
        (reading, earlier): (&Reading, &[KeptRecount]),
        (because, at): (Head, Moment),
        runs: Option<RunningInfusion>,
        kept: &Formularies,
    ) -> Result<Option<Recount>, CaseError> {
        let entries = self.standing_of_entries(reading);
        let Some(original) = entries.stage.same().filter(|_| entries.since < because.seq) else { return Ok(None) };
        let agreed_since = |seq: u64| seq > entries.since && seq <= because.seq;
        let update = PatientUpdate {
            weighed: self.weights_agreed()?.into_iter().rev().find(|one| agreed_since(one.seq)),
            identifiers: self.identifiers_agreed()?.into_iter().rev().find(|one| agreed_since(one.0)).map(|one| one.1),
        };
        let before = earlier.iter().rev().find_map(|one| one.decision.as_ref()).unwrap_or(original);
        let Some(patient) = &before.patient else { return Ok(None) };
        let now = update.put_into(patient);
        let is_void = earlier.last().is_some_and(|last| last.decision.is_none());
        let other_weight = now.weight != patient.weight || now.weight_from != patient.weight_from;
        let other_identifiers = now.identifiers != patient.identifiers;
        if !(other_weight || other_identifiers || is_void) {
            return Ok(None);
        }
        let weight = |patient: &Patient| format!("{} ({})", patient.weight, patient.weight_from);
        let recount = |outcome| Recount {
            version: VERSION,
            because: because.seq,
            weights: (other_weight || is_void).then(|| [weight(patient), weight(&now)]),
            identifiers: other_identifiers,
            rate_before: before.rate(),
            runs: runs.clone(),
            outcome,
        };
        let pair: Vec<&Sealed> = reading.entries_of(original).collect();
        let &[first, second] = &pair[..] else { return Ok(None) };
        let outcome =
            match self.counted_with(&update, (original, [first, second]), [patient, &now], runs.as_ref(), kept) {
                Ok(Counted::Again(compared)) => match compared {
                    Compared::Agreed(agreed) => {
                        let independence = match original.outcome {
                            Outcome::CheckedAfterwards(Afterwards::Emergency) => Independence::AfterEmergency,
                            Outcome::CheckedAfterwards(Afterwards::Start) => Independence::AfterStart,
                            _ => Independence::Two,
                        };
                        let provenance = Provenance::Case {
                            code: SetUpCode { case: self.code, number: reading.of_set_up }.to_string(),
                            journal: self.journal_id().to_owned(),
                            head: because.to_string(),
                            independence,
                        };
                        let mut decision = agreed_on(&[first, second], &agreed, at, &provenance, independence);
                        decision.runs.clone_from(&runs);
                        // The order was held against the entries, and is not held against the weight that was read since.
                        let held = original.order.clone().map(|held| held.before_a_recount(&update.read_since()));
                        let mut decision = decision.with_order(held, None);
                        let recount = recount(RecountOutcome::NewCard(Box::new(decision.clone())));
                        let replaces = earlier.iter().rev().find(|one| one.decision.is_some());
                        let replaced =
                            replaces.and_then(|one| one.recount.as_ref().ok()).map_or(entries.since, |one| one.because);
                        let headline = recount.rates_in_words().filter(|_| recount.rate_before != decision.rate());
                        decision.card = decision
                            .card
                            .map(|card| card.counted_again(headline.as_deref(), &recount.because_in_words(), replaced));
                        RecountOutcome::NewCard(Box::new(decision))
                    }
                    Compared::Stopped(pair) => {
                        let stops =
                            pair.findings().into_iter().filter(|one| matches!(one.severity(), Severity::Stop(_)));
                        back(stops.map(|one| format!("it stops: {}", one.message)))
                    }
                    Compared::ReasonsMissing(pair) => {
                        back(pair.unreasoned().into_iter().map(|one| format!("a reason is needed: {}", one.message)))
                    }
                    Compared::Differ(differ) => {
                        back([format!("the entries differ then: {}", differ.fields().join(", "))])
                    }
                },
                Ok(Counted::BackToBoth(why)) => RecountOutcome::BackToBoth(why),
                Err(CaseError::Journal(error)) => return Err(error.into()),
                Err(why) => back([format!("{NOT_READABLE}{why}")]),
            };
        Ok(Some(recount(outcome)))
    }

    fn counted_with<'f>(
        &self,
        update: &PatientUpdate,
        (original, [first, second]): (&Decision, [&Sealed; 2]),
        [before, now]: [&Patient; 2],
        runs: Option<&RunningInfusion>,
        kept: &'f Formularies,
    ) -> Result<Counted<'f>, CaseError> {
        let at = if second.at.is_before(first.at) { first.at } else { second.at };
        let as_entered = self.checked(first, at, kept)?;
        let mut why = Vec::new();
        let computed = as_entered.computed();
        if computed.counts_by_size() && before.weight != now.weight {
            let entered = computed.entry().patient().weight;
            for old in [entered, before.weight] {
                let percent = old.value().apart(now.weight.value())?.times(Ratio::whole(100))?.over(old.value())?;
                if percent > Ratio::whole(MOST_PERCENT) && why.is_empty() {
                    let percent = exact_or_about(percent);
                    why.push(format!(
                        "the weight changed by {percent} % from {old}, and more than {MOST_PERCENT} % is entered anew"
                    ));
                }
            }
            if !computed.counting().is_by_actual_weight() {
                why.push(format!("the dose is not based on the actual weight but on the {}", computed.weight_choice()));
            }
            if made_for_weight(computed) {
                why.push(format!("the syringe was made for {entered}: its label says so"));
            }
        }
        if !why.is_empty() {
            return Ok(Counted::BackToBoth(why));
        }
        let with = |sealed: &Sealed| -> Result<Checked<'f>, CaseError> {
            let entry: Entry = *self.entry(sealed)?;
            let patient = update.put_into(entry.patient());
            checked(Box::new(entry.of_patient(patient)), kept.get(&sealed.edition)?, at, Checked::of)
        };
        let compared =
            agree_beside(with(first)?, with(second)?, runs).map_err(|fault| CaseError::Fault(fault.to_string()))?;
        // A reason that was written for something else is no reason for what is new.
        if let Compared::Agreed(agreed) = &compared {
            let known =
                |code: &str, field: &str| original.findings.iter().any(|one| one.code == code && one.field == field);
            let asks = agreed.pair().findings().into_iter().filter(|one| one.severity() == Severity::Justify);
            let new: Vec<String> = asks
                .filter(|one| !known(one.code.id, one.field))
                .map(|one| format!("a reason is needed: {}", one.message))
                .collect();
            if !new.is_empty() {
                return Ok(Counted::BackToBoth(new));
            }
        }
        Ok(Counted::Again(compared))
    }

    /// What a recount means for each set-up, for the people who have just agreed.
    pub(super) fn recounts_in_words(&self, since: u64, now: Moment) -> Result<Vec<RecountStatement>, CaseError> {
        let mut statements = Vec::new();
        for set_up in &self.set_ups {
            for reading in &set_up.readings {
                let Some(kept) = reading.recounts.last().filter(|last| last.seq > since) else { continue };
                let in_force = self.recounts_in_force(reading, None).last().is_some_and(|last| last.seq == kept.seq);
                let says = match (&kept.recount, self.course(set_up, now)) {
                    (Ok(recount), _) if in_force => match &recount.outcome {
                        RecountOutcome::NewCard(_) => {
                            let rates = recount.rates_in_words().unwrap_or_default();
                            format!("{rates}: new card, the old one is void; read the driver back")
                        }
                        RecountOutcome::BackToBoth(why) => {
                            format!("the card is void, and two people enter it again: {}", why.join("; "))
                        }
                    },
                    (_, Ok(None)) => continue,
                    (_, course) => match course.and_then(|course| self.weight_of_course(set_up, course.as_ref())) {
                        Ok(Some(says)) => says,
                        Ok(None) => continue,
                        Err(CaseError::Journal(error)) => return Err(error.into()),
                        Err(why) => format!("{NOT_READABLE}{why}; read the order and the driver"),
                    },
                };
                // Each syringe is told by its own name: a rate under another strength would be set on the wrong driver.
                let named = if in_force { self.named_reading(set_up, reading) } else { self.named(set_up) };
                let named = named.unwrap_or_else(|_| set_up.code.to_string());
                statements.push(RecountStatement { set_up: set_up.code, named, says });
            }
        }
        Ok(statements)
    }

    fn weight_of_course(&self, set_up: &SetUp, course: Option<&Course>) -> Result<Option<String>, CaseError> {
        course.map_or(Ok(None), |course| self.weight_while_it_runs(set_up, course))
    }

    /// What a weight that changed while it runs means: what the rate gives now, and which rate keeps the dose. Outstanding
    /// until somebody sets another rate or syringe.
    pub(super) fn weight_while_it_runs(&self, set_up: &SetUp, course: &Course) -> Result<Option<String>, CaseError> {
        let basis = &course.syringe().basis;
        let Some(rate) = course.flowing().filter(|_| basis.counts_by_size) else { return Ok(None) };
        let then = self.basis_when_chosen(set_up, basis.reading)?;
        if then.weight == basis.weight {
            return Ok(None);
        }
        let gives = RateAndDose::given_by(basis, rate)?;
        let was = RateAndDose::given_by(&then, rate)?;
        let keeps = match basis.rate_keeping(was.dose)? {
            Some(keeps) if keeps == rate => "the nearest rate to the dose before is the same".to_owned(),
            Some(keeps) => {
                let keeps = RateAndDose::given_by(basis, keeps)?;
                let rates = format!("{} -> {}", exact_or_about(rate), keeps.rate_shown());
                let exactly =
                    if keeps.dose == was.dose { String::new() } else { format!(", and gives {}", keeps.dose_shown()) };
                format!("{rates} keeps {}{exactly}", was.dose_shown())
            }
            None => format!("no rate of this driver comes near enough to {}", was.dose_shown()),
        };
        let reading = set_up.reading(basis.reading);
        let why = reading.map(|reading| self.recount_while_it_runs(reading)).unwrap_or_default();
        let why = if why.is_empty() { String::new() } else { format!("; ask first: {}", why.join("; ")) };
        Ok(Some(format!(
            "the weight is {} now, and {} was counted by {}: this rate gives {}; {keeps}; read the order, set the driver, and \
             record the rate{why}",
            basis.weight,
            gives.rate_shown(),
            then.weight,
            gives.dose_shown(),
        )))
    }
}

/// What became of counting again.
enum Counted<'f> {
    Again(Compared<'f>),
    BackToBoth(Vec<String>),
}

fn back(why: impl IntoIterator<Item = String>) -> RecountOutcome {
    let mut why: Vec<String> = why.into_iter().collect();
    if why.is_empty() {
        why.push("it does not come to a card any more".to_owned());
    }
    RecountOutcome::BackToBoth(why)
}
