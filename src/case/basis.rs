//! What a running syringe rests on: the numbers of the entry it was set up with.

use crate::check::Checked;
use crate::delivery::{Circumstances, Purge};
use crate::entry::{Identifiers, LineFilled, Titration};
use crate::formulary::{Band, BolusLimits, Container, DoseLimits, Driver, Line, Microgram, RATE, SoftHard, StepBand};
use crate::infusion::rate::{Body, NoRate, dose_at, rate_for, rate_keeping, volume_of};
use crate::infusion::{BolusSum, Computed, Settable};
use crate::quantity::{
    BodyMass, BolusDose, DoseRate, DoseRateUnit, FlowRate, Moment, Product, Quantity, Ratio, Strength, Unit,
    exact_or_about,
};

use super::error::CaseError;

/// One syringe of a set-up, as its entry says it.
#[derive(Debug, Clone)]
pub struct Basis {
    /// Which reading of the set-up.
    pub reading: u16,
    /// Whether two people agreed on it.
    pub agreed: bool,
    /// Whether its values are still sealed: started before it came to an agreement, and not in an emergency.
    pub sealed: bool,
    /// The drug's name.
    pub drug: String,
    /// Its strength: amount in volume.
    pub strength: Strength,
    /// Its strength, as the label says it and the card.
    pub strength_on_label: String,
    /// The unit of its doses.
    pub unit: DoseRateUnit,
    /// The rate on the card, mL/h.
    pub set: Ratio,
    /// Left to infuse at the start, mL.
    pub left: Ratio,
    /// In the syringe after drawing up, mL.
    pub fill: Ratio,
    /// The driver.
    pub driver: String,
    /// The syringe or bag.
    pub container: String,
    /// The line.
    pub line: String,
    /// What the line holds, mL.
    pub in_line: Ratio,
    /// The weight, as two people agreed on it last.
    pub weight: Quantity<BodyMass>,
    /// The weight that the card was made with.
    pub weight_on_card: Quantity<BodyMass>,
    /// Whether the dose counts by it.
    pub counts_by_size: bool,
    /// Whether the line held none of this syringe's solution when it began.
    pub line_filled_otherwise: bool,
    /// The ordered bolus.
    pub bolus: Option<(BolusDose, BolusSum)>,
    /// When the solution is discarded.
    pub discard_after: Option<Moment>,
    /// Whether identifiers were to follow.
    pub identifiers_pending: bool,
    /// Whether the house writes this drug's micrograms in full.
    pub(super) microgram_in_full: bool,
    /// Which values the driver shows.
    pub shows: Vec<String>,
    pub(super) smallest: FlowRate,
    pub(super) largest: FlowRate,
    pub(super) steps: Vec<StepBand>,
    pub(super) titration: Option<Titration>,
    pub(super) limits: Option<DoseLimits>,
    pub(super) phase: &'static str,
    /// Limits on the rate itself.
    pub(super) flow: SoftHard<FlowRate>,
    /// Limits on a bolus, where one is allowed.
    pub(super) bolus_limits: Option<BolusLimits>,
    /// Rounding that changes a dose by more than these percent needs a reason in this house.
    most_rounding: Ratio,
    /// A change of rate by more than this factor at once is marked.
    pub(super) largest_jump: Option<Ratio>,
    /// What holds it, what it runs through, what pushes.
    pub(super) equipment: (Container, Line, Driver),
    /// How it goes through the line, the driver running.
    pub(super) path: Circumstances,
    body: Body,
}

impl Basis {
    /// Of a checked entry.
    ///
    /// # Errors
    /// When the entry has no sum: it could not have been agreed on.
    pub(super) fn of(checked: &Checked<'_>, reading: u16, agreed: bool) -> Result<Self, CaseError> {
        let computed: &Computed<'_> = checked.computed();
        let (names, entry) = (computed.names(), computed.entry());
        let (Ok(sum), Ok(drug), Some(container), Some(driver), Some(line)) =
            (computed.sum(), &names.drug, names.container, names.driver, names.line)
        else {
            let why = computed.sum().err().map(ToString::to_string).unwrap_or_else(|| "a name is not known".to_owned());
            return Err(super::error::refuse(
                "nothing-to-compute",
                format!("nothing can be computed from this entry: {why}"),
                "enter what is really in the driver, and record that: `countersign case enter … --anew`",
            ));
        };
        let indication = names.indication.as_ref().ok();
        Ok(Self {
            reading,
            agreed,
            sealed: false,
            drug: drug.name.clone(),
            strength: entry.label().content,
            strength_on_label: entry.label().strength.to_string(),
            unit: entry.dose().unit(),
            set: sum.set,
            left: sum.run.left,
            fill: sum.run.fill,
            driver: driver.key.clone(),
            container: entry.container().to_owned(),
            line: line.key.clone(),
            in_line: line.priming_volume.value(),
            weight: entry.patient().weight,
            weight_on_card: entry.patient().weight,
            counts_by_size: computed.counts_by_size(),
            line_filled_otherwise: entry.line_filled() != LineFilled::FromThisSyringe,
            bolus: entry.bolus().map(|bolus| bolus.dose).zip(sum.bolus),
            discard_after: computed.discard_after(),
            identifiers_pending: entry.patient().identifiers == Identifiers::Pending,
            microgram_in_full: drug.microgram == Microgram::Full,
            shows: shows_rate(&driver.shows),
            smallest: driver.smallest,
            largest: driver.largest,
            steps: driver.steps.clone(),
            titration: entry.titration(),
            limits: names.limits.cloned(),
            phase: entry.phase().word(),
            flow: indication.map_or(SoftHard::NONE, |indication| indication.flow.clone()),
            bolus_limits: indication.and_then(|indication| indication.bolus.clone()),
            most_rounding: computed.formulary().policy().rounding_justify.value(),
            largest_jump: indication.and_then(|indication| indication.largest_jump),
            equipment: (container.clone(), line.clone(), driver.clone()),
            path: Circumstances::of(computed, Purge::Running),
            body: sum.body,
        })
    }

    /// The same syringe for a patient who weighs something else now. The card's rate stays the card's.
    pub(super) fn weighing(self, computed: &Computed<'_>) -> Result<Self, CaseError> {
        let weight = computed.entry().patient().weight;
        let body = computed.sum().map_err(|no_sum| {
            let says = format!("at the weight of now nothing can be computed: {no_sum}");
            super::error::refuse("nothing-to-compute", says, "read the weight again: `countersign case weight`")
        })?;
        Ok(Self { weight, body: body.body, ..self })
    }

    /// The dose that a rate in mL/h gives, as a number of [`Basis::unit`].
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub fn dose(&self, rate: Ratio) -> Result<Ratio, CaseError> {
        dose_at(rate, self.unit, self.body, Some(self.strength)).map_err(|error| CaseError::Fault(error.to_string()))
    }

    /// The settable rate nearest to the one that gives a dose of [`Basis::unit`]; nothing where this driver cannot give it,
    /// or only one that is further off than the house takes from rounding without a reason.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub(super) fn rate_keeping(&self, dose: Ratio) -> Result<Option<Ratio>, CaseError> {
        let exact = match rate_keeping(dose, self.unit, self.body, Some(self.strength)) {
            Ok(exact) => exact,
            Err(NoRate::RoutesDiffer(differ)) => return Err(CaseError::Fault(differ.to_string())),
            Err(_) => return Ok(None),
        };
        let settable =
            Settable::with(&self.equipment.2, self.limits.as_ref(), Some(&self.flow), self.body, self.strength)
                .map_err(|error| CaseError::Fault(error.to_string()))?;
        let (rate, _) = settable.rate(exact)?;
        let percent_off = exact.apart(rate)?.times(Ratio::whole(100))?.over(exact)?;
        Ok(Some(rate).filter(|rate| self.can_be_set(*rate) && percent_off <= self.most_rounding))
    }

    /// Whether a rate lies no further from a limit than the driver's rounding of that limit itself.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub(super) fn covers(&self, limit: DoseRate, rate: Ratio) -> Result<bool, CaseError> {
        match rate_for(limit, self.body, Some(self.strength)) {
            Ok(exact) => Ok(self.equipment.2.covers(exact, rate)?),
            Err(NoRate::RoutesDiffer(differ)) => Err(CaseError::Fault(differ.to_string())),
            Err(_) => Ok(false),
        }
    }

    /// Whether doses of the two are the same thing: one drug, in one unit, for the same weight or surface where it counts.
    pub(super) fn doses_like(&self, other: &Self) -> bool {
        let same_body = !(self.counts_by_size || other.counts_by_size) || self.body == other.body;
        self.drug == other.drug && self.unit == other.unit && same_body
    }

    /// Whether it was put onto the line of another strength, and the line stayed.
    pub(super) fn keeps_line_after(&self, earlier: &Self) -> bool {
        let other = earlier.strength.concentration() != self.strength.concentration();
        other && self.path.filled == LineFilled::AlreadyFull
    }

    /// Whether the line held this very solution when it began.
    pub(super) fn line_held_drug(&self) -> bool {
        matches!(self.path.filled, LineFilled::AlreadyFull | LineFilled::FromThisSyringe)
    }

    /// The volume in mL that holds a bolus.
    ///
    /// # Errors
    /// When the bolus counts something else than the syringe holds.
    pub fn volume(&self, bolus: BolusDose) -> Result<Ratio, CaseError> {
        let body = Body { weight: self.body.weight.or(Some(self.weight.value())), ..self.body };
        volume_of(bolus, body, Some(self.strength))
            .map_err(|no| super::error::refuse("bolus-not-computed", no.to_string(), no.help()))
    }

    /// How much drug a volume in mL holds, in the unit of the label.
    ///
    /// # Errors
    /// When the numbers are too far apart to be kept exactly.
    pub fn amount(&self, volume: Ratio) -> Result<Ratio, CaseError> {
        self.amount_in(volume, self.strength.amount_unit())
    }

    pub(super) fn amount_in(&self, volume: Ratio, unit: Unit) -> Result<Ratio, CaseError> {
        let product = Product::ONE.ratio(volume).ratio(self.strength.concentration().per_ml).over_unit(unit);
        Ok(product.finish()?)
    }

    /// The unit in which [`Basis::amount`] counts.
    #[must_use]
    pub const fn amount_unit(&self) -> Unit {
        self.strength.amount_unit()
    }

    /// A dose rate as people read it.
    ///
    /// # Errors
    /// As for [`Basis::dose`].
    pub fn dose_shown(&self, rate: Ratio) -> Result<String, CaseError> {
        Ok(format!("{} {}", exact_or_about(self.dose(rate)?), self.unit))
    }

    pub(super) fn per_kg_unit(&self) -> Unit {
        let dosed_in = self.unit.dose().amount();
        if dosed_in.kind() == self.amount_unit().kind() { dosed_in } else { self.amount_unit() }
    }

    /// Whether the driver can be set to a rate: within its range, and a multiple of its step there.
    pub(super) fn can_be_set(&self, rate: Ratio) -> bool {
        let within = rate >= self.smallest.value() && rate <= self.largest.value();
        let band = self.steps.iter().find(|band| rate <= band.up_to.value());
        within && band.is_none_or(|band| rate.over(band.step.value()).is_ok_and(|steps| steps.denominator() == 1))
    }

    pub(super) fn soft(&self) -> Option<&Band<DoseRate>> {
        self.limits.as_ref()?.beyond.soft.as_ref()
    }

    pub(super) fn hard(&self) -> Option<&Band<DoseRate>> {
        self.limits.as_ref()?.beyond.hard.as_ref()
    }
}

/// What is read back: the rate always, also of a driver that was kept when `shows` might be left out.
fn shows_rate(shows: &[String]) -> Vec<String> {
    let rate = (!shows.iter().any(|value| value == RATE)).then(|| RATE.to_owned());
    rate.into_iter().chain(shows.iter().cloned()).collect()
}
