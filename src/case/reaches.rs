//! When what was changed reaches the patient: an estimate of physics beside the record, which counts what left the syringe.

use crate::delivery::statements::{Range, time};
use crate::delivery::{Circumstances, Delivery, DeliverySetUp, NotModelled, Purge};
use crate::entry::LineFilled;
use crate::quantity::{Moment, Ratio};

use super::accounting::Course;

/// A change that has not wholly reached the patient yet, or may not have.
#[derive(Debug, Clone)]
pub struct Reaches {
    /// What was changed.
    pub change: DeliveryChange,
    /// When.
    pub at: Moment,
    /// How long afterwards, from the first of it to nearly all; or why nothing is told.
    pub after: Result<Range, NotModelled>,
}

/// What was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeliveryChange {
    /// The drug was started: it comes through what does not hold it yet.
    Start,
    /// A syringe of another strength: the line holds the earlier one.
    Strength,
    /// The rate: at once where the drug is alone; with a carrier, after what they share.
    Rate,
}

impl DeliveryChange {
    /// In words.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Start => "the drug, from the first of it to 95 % of its rate",
            Self::Strength => "the other strength",
            Self::Rate => "the rate of now: at once where the drug is alone in its line; with a carrier, up to",
        }
    }
}

impl Course {
    /// What may not have reached the patient yet, the latest change of each kind. Nothing while nothing flows.
    #[must_use]
    pub fn reaches(&self) -> Vec<Reaches> {
        let Some(rate) = self.flowing() else { return Vec::new() };
        let now = self.syringe();
        let earlier = self.syringes.len().checked_sub(2).and_then(|at| self.syringes.get(at));
        let other = earlier.is_some_and(|one| one.basis.concentration() != now.basis.concentration());
        let mut all = Vec::new();
        let Some((container, line, driver)) = now.basis.equipment_read() else { return Vec::new() };
        let estimate = |purge, filled| {
            let how = Circumstances { purge, filled, ..now.basis.path() };
            Delivery::of(DeliverySetUp { container, line, driver, rate }, &how).ok()
        };
        let arrival = |purge, filled| {
            let delivery = estimate(purge, filled)?;
            Some(delivery.arrival.and_then(|arrival| Ok(time(&arrival.whole()?))))
        };
        // By the rate of now: told only where it has run so since the change, without a pause, another rate or a bolus.
        let as_since = |at: Moment| {
            self.since.seconds_since(at) <= 0 && !self.boluses.iter().any(|(bolus, _)| bolus.seconds_since(at) >= 0)
        };
        if other && as_since(now.since) {
            let after = arrival(Purge::Running, LineFilled::WithDiluent);
            all.extend(after.map(|after| Reaches { change: DeliveryChange::Strength, at: now.since, after }));
        } else if self.syringes.len() == 1 && as_since(self.started) {
            let after = arrival(Purge::OnTheDriver, now.basis.line_filled);
            all.extend(after.map(|after| Reaches { change: DeliveryChange::Start, at: self.started, after }));
        }
        if self.since.seconds_since(now.since) > 0 {
            let shared = estimate(Purge::Running, LineFilled::AlreadyFull).map(|delivery| delivery.shared(Ratio::ZERO));
            let after = shared.map(|space| space.map(|space| time(&space.onset())));
            all.extend(after.map(|after| Reaches { change: DeliveryChange::Rate, at: self.since, after }));
        }
        all.retain(|one| one.after.as_ref().map_or(true, |range| !range.is_past(self.until.seconds_since(one.at))));
        all
    }
}
