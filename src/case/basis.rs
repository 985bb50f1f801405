//! What a running syringe rests on: the numbers of the entry it was set up with.

use serde::{Deserialize, Serialize};

use crate::check::Checked;
use crate::delivery::{Circumstances, Purge, Solution};
use crate::entry::{Access, Identifiers, LineFilled, Patient, Titration, WeightFrom};
use crate::formulary::{Band, BolusLimits, Container, DoseLimits, Driver, Line, Microgram, Phase, RATE, SoftHard};
use crate::infusion::rate::{Body, RateError, dose_at, rate_for, rate_keeping, volume_of};
use crate::infusion::{BolusSum, Computed, Counting, Settable};
use crate::quantity::{
    BodyMass, BolusDose, Concentration, DoseRate, DoseRateUnit, FlowRate, Moment, Product, Quantity, Ratio, Strength,
    TooLarge, Unit, Volume, exact_or_about,
};

use super::error::{CaseError, refuse};
use super::lumen::LumenRules;

/// One syringe of a set-up: as two people agreed on it, as one entered it in an emergency, or as it was reported by
/// somebody who started it without an agreement.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SyringeParameters {
    /// Which reading of the set-up.
    #[serde(skip)]
    pub reading: u16,
    /// Whether two people agreed on it.
    #[serde(skip)]
    pub agreed: bool,
    /// Whether nothing is known of it but what was reported: what was entered is still sealed, or no two agree.
    #[serde(skip)]
    pub sealed: bool,
    /// Whether nobody read how much is in it, or through what it runs: an emergency asks neither, and nothing is counted from
    /// an assumption.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub volumes_assumed: bool,
    /// The drug's name.
    pub drug: String,
    /// Its strength: amount in volume; nothing where it was only reported.
    pub strength: Option<Strength>,
    /// Its strength, as the label says it and the card.
    pub strength_on_label: String,
    /// The unit of its doses.
    pub unit: DoseRateUnit,
    /// The dose that was ordered; nothing where it was only reported.
    ordered: Option<DoseRate>,
    /// The rate on the card, mL/h.
    pub set: Ratio,
    /// Left to infuse at the start, mL.
    pub left: Ratio,
    /// In the syringe after drawing up, mL.
    pub fill: Ratio,
    /// The weight, as two people agreed on it last.
    pub weight: Quantity<BodyMass>,
    /// The weight that the card was made with.
    pub weight_on_card: Quantity<BodyMass>,
    /// Whether the dose counts by it.
    pub counts_by_size: bool,
    /// The ordered bolus.
    pub bolus: Option<(BolusDose, BolusSum)>,
    /// When the solution is discarded, by the stricter of both entries.
    pub discard_after: Option<Moment>,
    /// When what was not started may no longer be, by the older of both entries.
    pub(super) expires: Option<Moment>,
    /// Whether identifiers were to follow.
    pub identifiers_pending: bool,
    /// Whether it is a controlled drug, whose end needs a witness.
    pub(super) controlled: bool,
    /// Whether the house writes this drug's micrograms in full.
    pub(super) microgram_in_full: bool,
    pub(super) titration: Option<Titration>,
    pub(super) limits: Option<DoseLimits>,
    pub(super) phase: Option<Phase>,
    /// Limits on the rate itself.
    pub(super) flow: SoftHard<FlowRate>,
    /// Limits on a bolus, where one is allowed.
    pub(super) bolus_limits: Option<BolusLimits>,
    /// Rounding that changes a dose by more than these percent needs a reason in this house.
    most_rounding: Ratio,
    /// A change of rate by more than this factor at once is marked.
    pub(super) largest_jump: Option<Ratio>,
    /// What holds it, what it runs through, what pushes; nothing where it was only reported.
    pub(super) equipment: Option<(Container, Line, Driver)>,
    /// What the formulary says of its lumen.
    #[serde(skip_serializing_if = "LumenRules::are_silent", default)]
    pub(super) lumen: LumenRules,
    /// With what the line was filled.
    pub(super) line_filled: LineFilled,
    access: Access,
    beyond: Option<Quantity<Volume>>,
    solution: Solution,
    counting: Option<Counting>,
    body: Body,
    /// When its first entry was sealed: the age of the patient counts from then.
    entered_at: Moment,
}

/// A weight that two people agree on.
#[derive(Debug, Clone, Copy)]
pub struct Weighed {
    /// With which event.
    pub seq: u64,
    /// When.
    pub at: Moment,
    /// The weight.
    pub weight: Quantity<BodyMass>,
    /// Where it comes from.
    pub from: WeightFrom,
}

impl SyringeParameters {
    /// Whether its label says this strength, by meaning: `80 mcg/mL` is `0.08 mg/mL`.
    pub(super) fn has_strength(&self, label: &str) -> bool {
        let own = &self.strength_on_label;
        own == label
            || matches!((Strength::parse_label(own), Strength::parse_label(label)), (Ok(own), Ok(label)) if own == label)
    }

    /// Of a checked entry.
    ///
    /// # Errors
    /// When the entry has no sum: it could not have been agreed on.
    pub(super) fn of(checked: &Checked<'_>) -> Result<Self, CaseError> {
        let computed: &Computed<'_> = checked.computed();
        let (names, entry) = (computed.names(), computed.entry());
        let (Ok(sum), Ok(drug), Some(container), Some(driver), Some(line)) =
            (computed.sum(), &names.drug, names.container, names.driver, names.line)
        else {
            let why = computed.sum().err().map(ToString::to_string).unwrap_or_else(|| "a name is not known".to_owned());
            return Err(refuse(
                "nothing-to-compute",
                format!("nothing can be computed from this entry: {why}"),
                "enter what is really in the driver, and record that: `countersign case enter … --anew`",
            ));
        };
        let indication = names.indication.as_ref().ok();
        let expires = names.area.and_then(|area| entry.entered_at().after(area.unstarted_entry_expires.value()));
        let volumes_assumed = entry.assumes_volumes();
        Ok(Self {
            reading: 1,
            agreed: false,
            sealed: false,
            volumes_assumed,
            drug: drug.name.clone(),
            strength: Some(entry.label().content),
            strength_on_label: entry.label().strength.to_string(),
            unit: entry.dose().unit(),
            ordered: Some(entry.dose()),
            set: sum.set,
            left: if volumes_assumed { ENDLESS } else { sum.run.left },
            fill: if volumes_assumed { Ratio::ZERO } else { sum.run.fill },
            weight: entry.patient().weight,
            weight_on_card: entry.patient().weight,
            counts_by_size: computed.counts_by_size(),
            bolus: entry.bolus().map(|bolus| bolus.dose).zip(sum.bolus),
            discard_after: computed.discard_after(),
            expires,
            identifiers_pending: entry.patient().identifiers == Identifiers::Pending,
            controlled: drug.controlled,
            microgram_in_full: drug.microgram == Microgram::Full,
            titration: entry.titration(),
            limits: names.limits.cloned(),
            phase: Some(entry.phase()),
            flow: indication.map_or(SoftHard::NONE, |indication| indication.flow.clone()),
            bolus_limits: indication.and_then(|indication| indication.bolus.clone()),
            most_rounding: computed.formulary().policy().rounding_justify.value(),
            largest_jump: indication.and_then(|indication| indication.largest_jump),
            equipment: Some((container.clone(), line.clone(), driver.clone())),
            lumen: LumenRules::of_drug(drug, computed.formulary().policy()),
            line_filled: entry.line_filled(),
            access: entry.access(),
            beyond: entry.beyond(),
            solution: Solution::of(computed),
            counting: Some(computed.counting()),
            body: sum.body,
            entered_at: entry.entered_at(),
        })
    }

    /// The same with the stricter of both entries' times.
    pub(super) fn and_by(mut self, second: &Checked<'_>) -> Self {
        let names = second.computed().names();
        let entered_at = second.computed().entry().entered_at();
        let expires = names.area.and_then(|area| entered_at.after(area.unstarted_entry_expires.value()));
        self.expires = earlier(self.expires, expires);
        self.discard_after = earlier(self.discard_after, second.computed().discard_after());
        self
    }

    /// Of what somebody put in without an agreement, as far as they said what it is. Nothing of any entry is in it.
    pub(super) fn reported(drug: Option<&str>, strength: Option<&str>, at: Moment) -> Self {
        let not_said = |said: Option<&str>| said.map_or_else(|| NOT_SAID.to_owned(), str::to_owned);
        let kilogram = Quantity::<BodyMass>::parse("1 kg").expect("a weight");
        Self {
            reading: 1,
            agreed: false,
            sealed: true,
            volumes_assumed: false,
            drug: not_said(drug),
            strength: None,
            strength_on_label: not_said(strength),
            unit: DoseRateUnit::parse("mL/h").expect("a unit"),
            ordered: None,
            set: Ratio::ZERO,
            left: ENDLESS,
            fill: Ratio::ZERO,
            weight: kilogram,
            weight_on_card: kilogram,
            counts_by_size: false,
            bolus: None,
            discard_after: None,
            expires: None,
            identifiers_pending: false,
            controlled: false,
            microgram_in_full: false,
            titration: None,
            limits: None,
            phase: None,
            flow: SoftHard::NONE,
            bolus_limits: None,
            most_rounding: Ratio::ZERO,
            largest_jump: None,
            equipment: None,
            lumen: LumenRules::default(),
            line_filled: LineFilled::Empty,
            access: Access::Central,
            beyond: None,
            solution: Solution::SmallMolecules,
            counting: None,
            body: Body::default(),
            entered_at: at,
        }
    }

    /// The same syringe for a patient who weighs something else now. The card's rate stays the card's.
    pub(super) fn weighing(mut self, patient: Option<&Patient>, weighed: &Weighed) -> Result<Self, CaseError> {
        self.weight = weighed.weight;
        let (Some(counting), Some(patient)) = (self.counting, patient) else { return Ok(self) };
        let patient = Patient { weight: weighed.weight, weight_from: weighed.from, ..patient.clone() };
        let counted = counting.body(&patient, self.entered_at.date()).map_err(|no_size| {
            let says = format!("at the weight of now nothing can be computed: {no_size}");
            refuse("nothing-to-compute", says, "read the weight again: `countersign case weight`")
        })?;
        self.body = counted.0;
        Ok(self)
    }

    /// What its doses are counted against.
    pub(super) const fn body(&self) -> Body {
        self.body
    }

    /// Whether nothing is known of how much is in it.
    #[must_use]
    pub const fn volumes_unknown(&self) -> bool {
        self.sealed || self.volumes_assumed
    }

    /// Syringe, line and driver as somebody read them; nothing of what was assumed.
    pub(super) fn equipment_read(&self) -> Option<&(Container, Line, Driver)> {
        self.equipment.as_ref().filter(|_| !self.volumes_assumed)
    }

    /// The syringe or bag.
    #[must_use]
    pub fn container(&self) -> &str {
        self.equipment_read().map_or(NOT_SAID, |(container, ..)| &container.key)
    }

    /// The line.
    #[must_use]
    pub fn line(&self) -> &str {
        self.equipment_read().map_or(NOT_SAID, |(_, line, _)| &line.key)
    }

    /// The driver.
    #[must_use]
    pub fn driver(&self) -> &str {
        self.equipment_read().map_or(NOT_SAID, |(.., driver)| &driver.key)
    }

    /// What the line holds, mL.
    #[must_use]
    pub fn in_line(&self) -> Ratio {
        self.equipment_read().map_or(Ratio::ZERO, |(_, line, _)| line.priming_volume.value())
    }

    /// What line and all beyond it hold, mL: so much of an earlier strength comes first.
    pub(super) fn dead_space(&self) -> Result<Ratio, TooLarge> {
        let beyond = self.equipment_read().and(self.beyond).map_or(Ratio::ZERO, Quantity::value);
        self.in_line().plus(beyond)
    }

    /// Which values the driver shows: the rate first, also where it was kept when `shows` might be left out.
    #[must_use]
    pub fn shows(&self) -> Vec<String> {
        let shows = self.equipment_read().map_or(&[][..], |(.., driver)| &driver.shows);
        let others = shows.iter().filter(|value| *value != RATE);
        std::iter::once(RATE.to_owned()).chain(others.cloned()).collect()
    }

    /// How it goes through the line, the driver running.
    pub(super) fn path(&self) -> Circumstances {
        let (beyond, solution) = (self.beyond, self.solution);
        Circumstances { beyond, solution, ..Circumstances::plain(Purge::Running, self.line_filled, self.access) }
    }

    /// What its strength means.
    pub(super) fn concentration(&self) -> Option<Concentration> {
        self.strength.map(Strength::concentration)
    }

    /// The phase that its limits hold for, in a word.
    pub(super) fn phase(&self) -> &'static str {
        self.phase.map_or("this use", Phase::word)
    }

    /// The dose that a rate in mL/h gives, as a number of [`SyringeParameters::unit`].
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub fn dose(&self, rate: Ratio) -> Result<Ratio, CaseError> {
        dose_at(rate, self.unit, self.body, self.strength).map_err(|error| CaseError::Fault(error.to_string()))
    }

    /// The settable rate nearest to the one that gives a dose of [`SyringeParameters::unit`]; nothing where this driver cannot give it,
    /// or only one that is further off than the house takes from rounding without a reason.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub(super) fn rate_keeping(&self, dose: Ratio) -> Result<Option<Ratio>, CaseError> {
        let exact = match rate_keeping(dose, self.unit, self.body, self.strength) {
            Ok(exact) => exact,
            Err(RateError::RoutesDiffer(differ)) => return Err(CaseError::Fault(differ.to_string())),
            Err(_) => return Ok(None),
        };
        let Some((.., driver)) = &self.equipment else { return Ok(None) };
        let Some(strength) = self.strength else { return Ok(None) };
        let settable = Settable::with(driver, self.limits.as_ref(), Some(&self.flow), self.body, strength)
            .map_err(|error| CaseError::Fault(error.to_string()))?;
        let (rate, _) = settable.rate(exact)?;
        let percent_off = exact.apart(rate)?.times(Ratio::whole(100))?.over(exact)?;
        Ok(Some(rate).filter(|rate| self.can_be_set(*rate) && percent_off <= self.most_rounding))
    }

    /// The settable rate nearest to the one that gives a dose.
    ///
    /// # Errors
    /// When it cannot be told, or the driver cannot give the dose within what the house takes from rounding.
    pub(super) fn rate_giving(&self, dose: DoseRate) -> Result<Ratio, CaseError> {
        let in_ml = "record the rate that the driver is set to, in mL/h";
        let (Some(strength), Some((.., driver))) = (self.strength, &self.equipment) else {
            let says = "two people have not agreed on what is in this syringe: the rate for a dose cannot be told";
            return Err(refuse("dose-not-computed", says, in_ml));
        };
        let exact = match rate_for(dose, self.body, Some(strength)) {
            Ok(exact) => exact,
            Err(RateError::RoutesDiffer(differ)) => return Err(CaseError::Fault(differ.to_string())),
            Err(no) => return Err(refuse("dose-not-computed", no.to_string(), in_ml)),
        };
        let settable = Settable::with(driver, self.limits.as_ref(), Some(&self.flow), self.body, strength)
            .map_err(|error| CaseError::Fault(error.to_string()))?;
        let (rate, _) = settable.rate(exact)?;
        let percent_off = exact.apart(rate)?.times(Ratio::whole(100))?.over(exact)?;
        if !self.can_be_set(rate) || percent_off > self.most_rounding {
            let (smallest, largest) = self.rates();
            let says = format!(
                "{dose} needs {} mL/h, which this driver cannot be set to: it goes from {smallest} to {largest}, in its steps",
                exact_or_about(exact)
            );
            return Err(refuse("dose-not-settable", says, in_ml));
        }
        Ok(rate)
    }

    /// Whether the same dose was ordered of both: then rounding to the driver's step is no change of dose.
    pub(super) fn is_ordered_like(&self, other: &Self) -> bool {
        self.doses_like(other) && self.ordered.zip(other.ordered).is_some_and(|(one, other)| one.same_as(other))
    }

    /// Whether a rate lies no further from a limit on the rate itself than the driver's rounding of that limit.
    pub(super) fn covers_flow(&self, limit: Ratio, rate: Ratio) -> bool {
        self.equipment.as_ref().is_some_and(|(.., driver)| driver.covers(limit, rate).is_ok_and(|covers| covers))
    }

    /// Whether a rate lies no further from a limit than the driver's rounding of that limit itself.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub(super) fn covers(&self, limit: DoseRate, rate: Ratio) -> Result<bool, CaseError> {
        let Some((.., driver)) = &self.equipment else { return Ok(false) };
        match rate_for(limit, self.body, self.strength) {
            Ok(exact) => Ok(driver.covers(exact, rate)?),
            Err(RateError::RoutesDiffer(differ)) => Err(CaseError::Fault(differ.to_string())),
            Err(_) => Ok(false),
        }
    }

    /// Whether doses of the two are the same thing: one drug, in one unit, for the same weight or surface where it counts.
    pub(super) fn doses_like(&self, other: &Self) -> bool {
        let same_body = !(self.counts_by_size || other.counts_by_size) || self.body == other.body;
        self.drug == other.drug && self.unit == other.unit && same_body
    }

    /// Whether it was put onto the line of another drug or strength, and the line stayed.
    pub(super) fn keeps_line_after(&self, earlier: &Self) -> bool {
        let other = earlier.drug != self.drug || earlier.concentration() != self.concentration();
        other && self.line_filled == LineFilled::AlreadyFull
    }

    /// Whether the line held this very solution when it began.
    pub(super) fn line_held_drug(&self) -> bool {
        matches!(self.line_filled, LineFilled::AlreadyFull | LineFilled::FromThisSyringe)
    }

    /// The volume in mL that holds a bolus.
    ///
    /// # Errors
    /// When the bolus counts something else than the syringe holds, or nobody has agreed on what it holds.
    pub fn volume(&self, bolus: BolusDose) -> Result<Ratio, CaseError> {
        let body = Body { weight: self.body.weight.or(Some(self.weight.value())), ..self.body };
        volume_of(bolus, body, self.strength).map_err(|no| match self.strength {
            Some(_) => refuse("bolus-not-computed", no.to_string(), no.help()),
            None => {
                let says = "nobody has agreed on what is in this syringe: how much a dose of it is cannot be told";
                refuse("bolus-not-computed", says, "record the bolus by its volume, in mL")
            }
        })
    }

    /// How much drug a volume in mL holds, in the unit of the label; in mL where nobody has agreed on a strength.
    ///
    /// # Errors
    /// When the numbers are too far apart to be kept exactly.
    pub fn amount(&self, volume: Ratio) -> Result<Ratio, CaseError> {
        self.amount_in(volume, self.amount_unit())
    }

    pub(super) fn amount_in(&self, volume: Ratio, unit: Unit) -> Result<Ratio, CaseError> {
        let Some(strength) = self.concentration() else { return Ok(volume) };
        let product = Product::ONE.ratio(volume).ratio(strength.per_ml).over_unit(unit);
        Ok(product.finish()?)
    }

    /// The unit in which [`SyringeParameters::amount`] counts.
    #[must_use]
    pub fn amount_unit(&self) -> Unit {
        self.strength.map_or(Unit::Millilitre, Strength::amount_unit)
    }

    /// A dose rate as people read it.
    ///
    /// # Errors
    /// As for [`SyringeParameters::dose`].
    pub fn dose_shown(&self, rate: Ratio) -> Result<String, CaseError> {
        Ok(format!("{} {}", exact_or_about(self.dose(rate)?), self.unit))
    }

    pub(super) fn per_kg_unit(&self) -> Unit {
        let dosed_in = self.unit.dose().amount();
        if dosed_in.kind() == self.amount_unit().kind() { dosed_in } else { self.amount_unit() }
    }

    /// The smallest and the largest rate that the driver can be set to, as people read them.
    pub(super) fn rates(&self) -> (String, String) {
        let rates =
            self.equipment.as_ref().map(|(.., driver)| (driver.smallest.to_string(), driver.largest.to_string()));
        rates.unwrap_or_else(|| (NOT_SAID.to_owned(), NOT_SAID.to_owned()))
    }

    /// Whether the driver can be set to a rate: within its range, and a multiple of its step there.
    pub(super) fn can_be_set(&self, rate: Ratio) -> bool {
        let Some((.., driver)) = &self.equipment else { return true };
        let within = rate >= driver.smallest.value() && rate <= driver.largest.value();
        let band = driver.steps.iter().find(|band| rate <= band.up_to.value());
        within && band.is_none_or(|band| rate.over(band.step.value()).is_ok_and(|steps| steps.denominator() == 1))
    }

    pub(super) fn soft(&self) -> Option<&Band<DoseRate>> {
        self.limits.as_ref()?.beyond.soft.as_ref()
    }

    pub(super) fn hard(&self) -> Option<&Band<DoseRate>> {
        self.limits.as_ref()?.beyond.hard.as_ref()
    }
}

/// More than any driver gives: when it is empty is not known.
const ENDLESS: Ratio = Ratio::whole(1_000_000_000);

/// Of a syringe that was only reported.
const NOT_SAID: &str = "not said";

pub(super) fn earlier(first: Option<Moment>, second: Option<Moment>) -> Option<Moment> {
    match (first, second) {
        (Some(first), Some(second)) => Some(if second.is_before(first) { second } else { first }),
        (first, second) => first.or(second),
    }
}
