//! What a reading came to, and why it may not be started: for the record, the card, the list and the read-back.

use crate::check::Checked;
use crate::formulary::Lookup;
use crate::infusion::Computed;
use crate::quantity::Moment;

use super::basis::Basis;
use super::error::CaseError;
use super::fold::{Case, Place, SetUp};
use super::standing::{Formularies, Hindered, Stage};
use super::written::Mark;

impl Case {
    /// What a reading of a set-up rests on: what two people agreed on, or one entered in an emergency.
    pub(super) fn basis(&self, set_up: &SetUp, reading: u16, kept: &Formularies) -> Result<Basis, CaseError> {
        let number = reading;
        let reading = set_up.reading(number);
        let sealed = match reading {
            Some(reading) => {
                !reading.began_in_an_emergency()
                    && !matches!(
                        self.standing(reading, kept)?.stage,
                        Stage::Agreed(_) | Stage::CheckedAfterwards(_) | Stage::Stopped(_) | Stage::NotAgreed { .. }
                    )
            }
            None => false,
        };
        let weighed = self.weights_agreed()?.pop();
        self.with_reading(set_up, number, kept, |checked, agreed| {
            let mut basis = Basis::of(checked, number, agreed)?;
            basis.sealed = sealed;
            let Some(weighed) = weighed.filter(|weighed| basis.counts_by_size && weighed.weight != basis.weight) else {
                return Ok(basis);
            };
            // A reading that was made with a newer weight counts by its own.
            let begun = reading.and_then(|reading| reading.entries.first()).map_or(0, |entry| entry.head.seq);
            if weighed.seq < begun {
                return Ok(basis);
            }
            let entry = checked.computed().entry().clone().weighing(weighed.weight, weighed.from);
            let computed = Computed::of(Box::new(entry), checked.computed().formulary(), checked.computed().now())?;
            basis.weighing(&computed)
        })
    }

    pub(super) fn is_controlled(&self, set_up: &SetUp, reading: u16, kept: &Formularies) -> Result<bool, CaseError> {
        self.with_reading(set_up, reading, kept, |checked, _| {
            let entry = checked.computed().entry();
            let drug = checked.computed().formulary().drug(entry.drug());
            Ok(matches!(drug, Lookup::Found(drug) if drug.controlled))
        })
    }

    /// Looks at what a reading came to: the first of two entries that agree, else the first entry that can be computed.
    pub(super) fn with_reading<T>(
        &self,
        set_up: &SetUp,
        number: u16,
        kept: &Formularies,
        look: impl FnOnce(&Checked<'_>, bool) -> Result<T, CaseError>,
    ) -> Result<T, CaseError> {
        let reading = set_up.reading(number);
        let reading = reading.ok_or_else(|| CaseError::Fault(format!("{} has no reading {number}", set_up.code)))?;
        let standing = self.standing(reading, kept)?;
        if let Some(agreed) = standing.stage.same() {
            return look(agreed.pair().first(), matches!(standing.stage, Stage::Agreed(_)));
        }
        // Not agreed, and started even so: in an emergency what its card said, which was no secret; else the first
        // person's latest entry is what was in their hands.
        let in_an_emergency = |entry: &&super::fold::Sealed| entry.place == Place::Emergency;
        let mine = |entry: &&super::fold::Sealed| entry.place == Place::First;
        let entry = reading.entries.iter().find(in_an_emergency).or_else(|| reading.entries.iter().rev().find(mine));
        let entry = entry.ok_or_else(|| CaseError::Fault(format!("{} holds no entry", set_up.code)))?;
        look(&self.checked(entry, entry.at, kept)?, false)
    }

    /// Why an agreed or unchecked reading would not be started now, in words.
    pub(super) fn not_startable(
        &self,
        set_up: &SetUp,
        now: Moment,
        kept: &Formularies,
    ) -> Result<Vec<Mark>, CaseError> {
        let Some(reading) = set_up.latest() else { return Ok(Vec::new()) };
        self.reading_not_startable(set_up, reading.number, now, kept)
    }

    pub(super) fn reading_not_startable(
        &self,
        set_up: &SetUp,
        number: u16,
        now: Moment,
        kept: &Formularies,
    ) -> Result<Vec<Mark>, CaseError> {
        let Some(reading) = set_up.reading(number) else { return Ok(Vec::new()) };
        let standing = self.standing(reading, kept)?;
        let mut marks = Vec::new();
        // To the minute, as what happened is kept.
        let by_then = |at: Moment| Moment::parse(&at.to_rfc3339()).is_ok_and(|at| !now.is_before(at));
        match &standing.stage {
            Stage::Agreed(_) | Stage::CheckedAfterwards(_) if !by_then(standing.at) => {
                let says = format!("two people agreed on it only at {}", standing.at.shown_as(now));
                let code = if reading.began_in_an_emergency() { "not-double-checked" } else { "not-agreed" };
                marks.push(Mark::new(code, says));
            }
            Stage::Agreed(_) => {}
            Stage::CheckedAfterwards(_) => {
                let says = "one signed entry checked the emergency entry afterwards, and could have seen it";
                marks.push(Mark::new("checked-afterwards", says));
            }
            Stage::Unchecked => marks.push(Mark::new("not-double-checked", "nobody has checked the emergency entry")),
            _ => marks.push(Mark::new("not-agreed", "two people have not agreed on this set-up")),
        }
        // What was read again only later was not known then.
        let known = |hindered: &Hindered| match hindered {
            Hindered::WeightInDoubt | Hindered::WeightChanged { .. } => {
                self.weights.iter().any(|one| one.seq > standing.since && by_then(one.at))
            }
            Hindered::Expired { .. } | Hindered::Discard { .. } => true,
        };
        let hindered = self.hindered(reading, &standing, now, kept)?.filter(known);
        marks.extend(hindered.map(|hindered| match hindered {
            Hindered::Expired { since } => Mark::new("entry-expired", format!("the entries expired at {since}")),
            Hindered::Discard { since } => {
                Mark::new("solution-expired", format!("the solution was to be discarded at {since}"))
            }
            Hindered::WeightInDoubt => Mark::new("weight-in-doubt", "the weight is being read again by two people"),
            Hindered::WeightChanged { now } => {
                Mark::new("weight-changed", format!("the weight is {now} now, and the dose counts by it"))
            }
        }));
        let patient = self.patient_before(u64::MAX, kept)?;
        let pending = patient.map_or_else(
            || self.basis(set_up, reading.number, kept).map(|basis| basis.identifiers_pending),
            |patient| Ok(patient.identifiers == crate::entry::Identifiers::Pending),
        );
        if pending.unwrap_or(false) {
            marks.push(Mark::new("identifiers-pending", "the patient's identifiers are still pending"));
        }
        Ok(marks)
    }
}
