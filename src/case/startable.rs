//! What a reading came to, and why it may not be started: for the record, the card, the list and the read-back.

use std::sync::Arc;

use crate::entry::{Identifiers, Patient, WeightFrom};
use crate::quantity::Moment;

use super::basis::SyringeParameters;
use super::decision::{Afterwards, Decision};
use super::error::CaseError;
use super::patient::Weighed;
use super::record_event::Mark;
use super::review::{ReviewStage, StartBlock};
use super::state::{Case, Reading, SetUp};

impl Case {
    /// The syringe of a reading: what two people agreed on, or one entered in an emergency; of any other nothing is known
    /// but what was said when it was put in.
    pub(super) fn basis(&self, set_up: &SetUp, number: u16) -> Result<SyringeParameters, CaseError> {
        self.basis_by(set_up, number, None)
    }

    /// The same by the card that was good at a moment, where one is named.
    pub(super) fn basis_by(
        &self,
        set_up: &SetUp,
        number: u16,
        by: Option<Moment>,
    ) -> Result<SyringeParameters, CaseError> {
        self.basis_weighed(set_up, number, by, self.weights_agreed()?.pop())
    }

    /// The same by the weight that was known at a moment at which something was done, and written down with an event.
    pub(super) fn basis_known(
        &self,
        set_up: &SetUp,
        number: u16,
        (before, at): (u64, Moment),
    ) -> Result<SyringeParameters, CaseError> {
        let was_known = |weighed: &Weighed| weighed.seq < before && !at.is_before(self.known_since(weighed.at));
        let known = self.weights_agreed()?.into_iter().rev().find(was_known);
        self.basis_weighed(set_up, number, None, known)
    }

    /// The same by the weight by which somebody last chose the dose that runs.
    pub(super) fn basis_when_chosen(&self, set_up: &SetUp, number: u16) -> Result<SyringeParameters, CaseError> {
        let Some(chosen) = set_up.dose_chosen()? else { return self.basis(set_up, number) };
        let then = set_up.reading_at(chosen.1)?.unwrap_or(number);
        let then = self.basis_known(set_up, then, chosen)?;
        let mut basis = self.basis_weighed(set_up, number, None, None)?;
        if basis.counts_by_size && then.counts_by_size && basis.weight != then.weight {
            let patient = set_up.reading(number).and_then(|reading| self.patient_of(reading));
            let from = patient.as_ref().map_or(WeightFrom::Stated, |patient| patient.weight_from);
            basis = basis.weighing(patient.as_ref(), &Weighed { seq: 0, at: chosen.1, weight: then.weight, from })?;
        }
        Ok(basis)
    }

    fn patient_of(&self, reading: &Reading) -> Option<Patient> {
        let stage = self.standing(reading).stage;
        let decision = stage.same().or_else(|| reading.alone())?;
        decision.patient.clone()
    }

    fn basis_weighed(
        &self,
        set_up: &SetUp,
        number: u16,
        by: Option<Moment>,
        weighed: Option<Weighed>,
    ) -> Result<SyringeParameters, CaseError> {
        let reading = set_up.reading(number);
        let reading = reading.ok_or_else(|| CaseError::Fault(format!("{} has no reading {number}", set_up.code)))?;
        let stage = by.map_or_else(|| self.standing(reading), |by| self.standing_by(reading, by)).stage;
        let decision = match &stage {
            ReviewStage::Stopped(decision) => Some(decision),
            stage => stage.same(),
        };
        let with_syringe =
            |one: Option<&'_ Arc<Decision>>| one.and_then(|one| Some((Arc::clone(one), one.syringe.clone()?)));
        let Some((decision, syringe)) = with_syringe(decision).or_else(|| with_syringe(reading.alone())) else {
            let (drug, strength) = set_up.said_to_be(number);
            let mut reported = SyringeParameters::reported(drug.as_deref(), strength.as_deref(), self.opened_at);
            reported.reading = number;
            return Ok(reported);
        };
        let mut basis = syringe;
        (basis.reading, basis.agreed) = (number, matches!(stage, ReviewStage::Agreed(_)));
        // A reading that was made with a newer weight counts by its own.
        let begun = reading.entries.first().map_or(0, |entry| entry.head.seq);
        match weighed.filter(|one| basis.counts_by_size && one.weight != basis.weight && one.seq >= begun) {
            Some(weighed) => basis.weighing(decision.patient.as_ref(), &weighed),
            None => Ok(basis),
        }
    }

    /// Why an agreed or unchecked reading would not be started now, in words.
    pub(super) fn not_startable(&self, set_up: &SetUp, now: Moment) -> Result<Vec<Mark>, CaseError> {
        let Some(reading) = set_up.latest() else { return Ok(Vec::new()) };
        self.reading_not_startable(set_up, reading.number, self.age_counts_at(set_up, now))
    }

    pub(super) fn reading_not_startable(
        &self,
        set_up: &SetUp,
        number: u16,
        now: Moment,
    ) -> Result<Vec<Mark>, CaseError> {
        let Some(reading) = set_up.reading(number) else { return Ok(Vec::new()) };
        let standing = self.standing_by(reading, now);
        let mut marks = Vec::new();
        // To the minute, as what happened is kept.
        let by_then = |at: Moment| Moment::parse(&at.to_rfc3339()).is_ok_and(|at| !now.is_before(at));
        match &standing.stage {
            ReviewStage::Agreed(_) | ReviewStage::CheckedAfterwards(..) if !by_then(standing.at) => {
                let says = format!("two people agreed on it only at {}", standing.at.shown_as(now));
                let code = if reading.began_in_an_emergency() { "not-double-checked" } else { "not-agreed" };
                marks.push(Mark::new(code, says));
            }
            ReviewStage::Agreed(_) => {}
            ReviewStage::CheckedAfterwards(_, after) => {
                let says = match after {
                    Afterwards::Emergency => {
                        "one signed entry checked the emergency entry afterwards, and could have seen it"
                    }
                    Afterwards::Start => "it was started before two people agreed, and checked afterwards",
                };
                marks.push(Mark::new("checked-afterwards", says));
            }
            stage if stage.is_unchecked_emergency() => {
                marks.push(Mark::new("not-double-checked", "nobody has checked the emergency entry"))
            }
            _ => marks.push(Mark::new("not-agreed", "two people have not agreed on this set-up")),
        }
        // What was read again only later was not known then.
        let known = |hindered: &StartBlock| match hindered {
            StartBlock::WeightInDoubt | StartBlock::WeightChanged { .. } => {
                self.weights.iter().any(|one| one.head.seq > standing.since && by_then(one.at))
            }
            StartBlock::CardVoid { .. } => {
                self.identifiers.iter().any(|one| one.head.seq > standing.since && by_then(one.at))
            }
            StartBlock::Expired { .. }
            | StartBlock::Discard { .. }
            | StartBlock::ClockWasAhead { .. }
            | StartBlock::ClockUncertain { .. }
            | StartBlock::Recalled { .. } => true,
        };
        // A moment that somebody names lies before the clock; what was sealed later than the floor is held against it.
        let ahead = reading.entries.iter().find(|entry| self.floor.is_before(entry.at) && now.is_before(entry.at));
        let hindered = match ahead {
            Some(entry) => Some(StartBlock::ClockWasAhead { sealed: entry.at }),
            None => self.hindered_at(reading, &standing, now)?.filter(known),
        };
        marks.extend(hindered.map(|hindered| match hindered {
            StartBlock::Expired { since } => Mark::new("entry-expired", format!("the entries expired at {since}")),
            StartBlock::ClockWasAhead { sealed } => {
                let says = format!("it was sealed at {sealed}, by a clock that was ahead and was corrected since");
                Mark::new("entry-expired", says)
            }
            StartBlock::ClockUncertain { says } => Mark::new("entry-expired", says),
            StartBlock::Discard { since } => {
                Mark::new("solution-expired", format!("the solution was to be discarded at {since}"))
            }
            StartBlock::Recalled { since } => {
                Mark::new("formulary-recalled", format!("its formulary was recalled {}", since.local()))
            }
            StartBlock::CardVoid { why } => {
                Mark::new("card-void", format!("the card is void, and two people enter it again: {}", why.join("; ")))
            }
            StartBlock::WeightInDoubt => Mark::new("weight-in-doubt", "the weight is being read again by two people"),
            StartBlock::WeightChanged { now, why } if why.is_empty() => {
                Mark::new("weight-changed", format!("the weight is {now} now, and the dose counts by it"))
            }
            StartBlock::WeightChanged { now, why } => Mark::new(
                "weight-changed",
                format!("the weight is {now} now, and two people enter it again: {}", why.join("; ")),
            ),
        }));
        let pending = match self.patient_before(u64::MAX)? {
            Some(patient) => patient.identifiers == Identifiers::Pending,
            None => reading.alone().and_then(|alone| alone.syringe.as_ref()).is_some_and(|one| one.identifiers_pending),
        };
        if pending {
            marks.push(Mark::new("identifiers-pending", "the patient's identifiers are still pending"));
        }
        Ok(marks)
    }
}
