//! An entry with everything that follows from it: the rate, what is given after rounding, how long it lasts.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::entry::{Entry, Patient};
use crate::formulary::{DosingWeight, Driver, Faulty, Formulary, SurfaceFormula};
use crate::quantity::{DoseRate, FlowRate, Moment, Per, Ratio, Strength};

use super::body_size::{Derived, NoSize, Sex, Size, body_surface, dosing_weight};
use super::names::Names;
use super::rate::{Body, RateError, dose_at, percent_off, rate_for, volume_of};
use super::run::Run;
use super::settable::Settable;

/// One entry against one formulary at one moment.
#[derive(Debug)]
pub struct Computed<'f> {
    entry: Box<Entry>,
    formulary: &'f Formulary,
    now: Moment,
    names: Names<'f>,
    sum: Result<Sum, ComputeError>,
}

/// Everything numeric that follows from an entry.
#[derive(Debug, Clone)]
pub struct Sum {
    /// What the dose is counted against.
    pub body: Body,
    /// The weight or surface that was worked out, where one was.
    pub derived: Option<Derived>,
    /// Amount in volume, as the label states both.
    pub strength: Strength,
    /// The exact rate in mL/h.
    pub exact: Ratio,
    /// The rate that the driver can be set to, in mL/h.
    pub set: Ratio,
    /// The driver's step at that rate.
    pub step: FlowRate,
    /// The dose that the set rate gives, as a number of the ordered unit.
    pub given: Ratio,
    /// By how many percent that is off the ordered dose.
    pub off: Ratio,
    /// The bolus, where one was ordered.
    pub bolus: Option<BolusSum>,
    /// How long the syringe lasts, and when the drug arrives.
    pub run: Run,
}

/// A bolus as volume and time.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub struct BolusSum {
    /// In mL.
    pub volume: Ratio,
    /// In hours.
    pub over: Ratio,
}

/// Why there is no sum.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ComputeError {
    /// A name leads nowhere, which is a finding of its own.
    #[error("a name is not known")]
    NameUnknown,
    /// The rate.
    #[error(transparent)]
    Rate(#[from] RateError),
    /// The bolus.
    #[error(transparent)]
    Bolus(RateError),
    /// The dosing weight or the body surface.
    #[error(transparent)]
    Size(#[from] NoSize),
}

impl From<crate::quantity::TooLarge> for ComputeError {
    fn from(too_large: crate::quantity::TooLarge) -> Self {
        Self::Rate(too_large.into())
    }
}

impl ComputeError {
    /// True where two independent routes disagree: the program is at fault, and nothing it says may be used.
    #[must_use]
    pub const fn is_fault_of_the_program(&self) -> bool {
        matches!(self, Self::Rate(RateError::RoutesDiffer(_)) | Self::Bolus(RateError::RoutesDiffer(_)))
    }
}

impl<'f> Computed<'f> {
    /// Computes everything that follows from an entry.
    ///
    /// # Errors
    /// [`Faulty`] when the drug's file cannot be used.
    pub fn of(entry: Box<Entry>, formulary: &'f Formulary, now: Moment) -> Result<Self, Faulty> {
        let names = Names::of(&entry, formulary)?;
        let sum = sum(&entry, &names);
        Ok(Self { entry, formulary, now, names, sum })
    }

    /// The entry.
    #[must_use]
    pub fn entry(&self) -> &Entry {
        &self.entry
    }

    /// The formulary.
    #[must_use]
    pub const fn formulary(&self) -> &'f Formulary {
        self.formulary
    }

    /// The moment of the check.
    #[must_use]
    pub const fn now(&self) -> Moment {
        self.now
    }

    /// What the names lead to.
    #[must_use]
    pub const fn names(&self) -> &Names<'f> {
        &self.names
    }

    /// The numbers, or why there are none.
    ///
    /// # Errors
    /// [`ComputeError`].
    pub const fn sum(&self) -> Result<&Sum, &ComputeError> {
        self.sum.as_ref()
    }

    /// The moment after which the solution is discarded: as a bought-in syringe says, else drawing up and the drug's life.
    #[must_use]
    pub fn discard_after(&self) -> Option<Moment> {
        self.discarded(Moment::after)
    }

    /// The same instant, to be compared and not shown.
    #[must_use]
    pub fn discard_instant(&self) -> Option<Moment> {
        self.discarded(Moment::later)
    }

    fn discarded(&self, after: fn(Moment, Ratio) -> Option<Moment>) -> Option<Moment> {
        let by_life = || {
            let drug = self.names.drug.as_ref().ok()?;
            after(self.entry.drawn_up_at()?, drug.life.value())
        };
        match (self.entry.use_before(), by_life()) {
            (Some(stated), Some(life)) if life.is_before(stated) => Some(life),
            (stated, life) => stated.or(life),
        }
    }

    /// Whether the entry is older at the moment of the check than an unstarted one may be in its area.
    #[must_use]
    pub fn is_stale(&self) -> bool {
        self.expiry_instant().is_some_and(|end| end.is_before(self.now))
    }

    /// Until when the entry may be started in its area.
    #[must_use]
    pub fn expires_at(&self) -> Option<Moment> {
        self.entry.entered_at().after(self.names.area?.unstarted_entry_expires.value())
    }

    /// The same instant, to be compared and not shown.
    #[must_use]
    pub fn expiry_instant(&self) -> Option<Moment> {
        self.entry.entered_at().later(self.names.area?.unstarted_entry_expires.value())
    }

    /// Whether the planned start lies further before the entry than an unstarted entry may be old in its area.
    #[must_use]
    pub fn starts_long_before_entry(&self) -> bool {
        let expires = self.names.area.map(|area| area.unstarted_entry_expires.value());
        let latest = self.entry.starts_at().zip(expires).and_then(|(start, expires)| start.later(expires));
        latest.is_some_and(|latest| latest.is_before(self.entry.entered_at()))
    }

    /// The exact rate in mL/h that gives another dose with this syringe, and the one that the driver is set to for it; nothing
    /// where there is no sum, or the dose counts something else.
    #[must_use]
    pub fn rates_of(&self, dose: DoseRate) -> Option<(Ratio, Ratio)> {
        let (sum, driver) = (self.sum.as_ref().ok()?, self.names.driver?);
        let exact = rate_for(dose, sum.body, Some(sum.strength)).ok()?;
        let (set, _) = settable(&self.names, driver, sum.body, sum.strength).ok()?.rate(exact).ok()?;
        Some((exact, set))
    }

    /// Whether the dose or the bolus is counted by the patient's size.
    #[must_use]
    pub fn counts_by_size(&self) -> bool {
        let by_size = |per: Per| per != Per::Patient;
        let bolus = self.entry.bolus().map(|bolus| bolus.dose.unit().per());
        by_size(self.entry.dose().unit().dose().per()) || bolus.is_some_and(by_size)
    }

    /// By what its doses are counted.
    #[must_use]
    pub fn counting(&self) -> Counting {
        Counting::of(&self.entry, &self.names)
    }

    /// The weight that counts a dose per kg: as entered, else the indication's first.
    #[must_use]
    pub fn weight_choice(&self) -> DosingWeight {
        weight_choice(&self.entry, &self.names)
    }
}

fn weight_choice(entry: &Entry, names: &Names<'_>) -> DosingWeight {
    let usual = names.indication.as_ref().ok().and_then(|indication| indication.dosing_weights.first().copied());
    entry.dosing_weight().or(usual).unwrap_or(DosingWeight::Actual)
}

fn sum(entry: &Entry, names: &Names<'_>) -> Result<Sum, ComputeError> {
    let (Ok(_), Ok(_), Some(container), Some(line), Some(driver)) =
        (&names.drug, &names.indication, names.container, names.line, names.driver)
    else {
        return Err(ComputeError::NameUnknown);
    };
    let (body, derived) = Counting::of(entry, names).body(entry.patient(), entry.entered_at().date())?;
    let label = entry.label();
    let strength = label.content;
    let dose = entry.dose();
    let exact = rate_for(dose, body, Some(strength))?;
    let (set, step) = settable(names, driver, body, strength)?.rate(exact)?;
    if set.is_zero() {
        return Err(RateError::RoundsToNothing { step: step.to_string() }.into());
    }
    let given = dose_at(set, dose.unit(), body, Some(strength))?;
    let off = percent_off(given, dose)?;
    let bolus = match entry.bolus() {
        None => None,
        Some(bolus) => {
            let volume = volume_of(bolus.dose, body, Some(strength)).map_err(ComputeError::Bolus)?;
            Some(BolusSum { volume, over: bolus.over.value() })
        }
    };
    let run = Run::of(entry, container, line, set, bolus.map_or(Ratio::ZERO, |bolus| bolus.volume))?;
    Ok(Sum { body, derived, strength, exact, set, step, given, off, bolus, run })
}

fn settable<'f>(
    names: &Names<'f>,
    driver: &'f Driver,
    body: Body,
    strength: Strength,
) -> Result<Settable<'f>, RateError> {
    let flow = names.indication.as_ref().ok().map(|indication| &indication.flow);
    Settable::with(driver, names.limits, flow, body, strength)
}

/// By what the doses of an entry are counted: for another weight it can be counted again without its formulary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counting {
    per_kg: bool,
    per_m2: bool,
    weight: DosingWeight,
    surface: SurfaceFormula,
}

impl Counting {
    /// Whether the actual weight alone counts, and neither another dosing weight nor the body surface.
    #[must_use]
    pub fn is_by_actual_weight(self) -> bool {
        !self.per_m2 && (!self.per_kg || self.weight == DosingWeight::Actual)
    }

    fn of(entry: &Entry, names: &Names<'_>) -> Self {
        let counts = |per| {
            entry.dose().unit().dose().per() == per || entry.bolus().is_some_and(|bolus| bolus.dose.unit().per() == per)
        };
        let formula = names.indication.as_ref().ok().and_then(|indication| indication.body_surface);
        Self {
            per_kg: counts(Per::Kilogram),
            per_m2: counts(Per::SquareMetre),
            weight: weight_choice(entry, names),
            surface: formula.unwrap_or(SurfaceFormula::Mosteller),
        }
    }

    /// What a patient's doses are counted against on a day, and the weight or surface that was worked out for it.
    ///
    /// # Errors
    /// [`NoSize`] where something about the patient is missing.
    pub fn body(self, patient: &Patient, on: Date) -> Result<(Body, Option<Derived>), NoSize> {
        let size = size(patient, on);
        let (mut body, mut derived) = (Body::default(), None);
        if self.per_kg && self.weight == DosingWeight::Actual {
            body.weight = Some(size.weight);
        } else if self.per_kg {
            let found = dosing_weight(self.weight, size)?;
            body.weight = Some(found.value);
            derived = Some(found);
        }
        if self.per_m2 {
            let found = body_surface(self.surface, size)?;
            body.surface = Some(found.value);
            derived = Some(found);
        }
        Ok((body, derived))
    }
}

fn size(patient: &Patient, on: Date) -> Size {
    let age = patient.age_in_days(on);
    Size {
        weight: patient.weight.value(),
        height: patient.height.map(crate::quantity::Quantity::value),
        sex: patient.sex.map(|sex| match sex {
            crate::entry::Sex::Female => Sex::Female,
            crate::entry::Sex::Male => Sex::Male,
        }),
        adult: age.map(Size::is_adult),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::infusion::second_route::confirm_rate;

    #[test]
    fn only_two_routes_that_differ_are_a_fault_of_the_program() {
        let millilitres = DoseRate::parse("3 mL/h").expect("a dose rate");
        let differ = confirm_rate(Ratio::whole(4), millilitres, Body::default(), None).expect_err("3 is not 4");
        assert!(ComputeError::Rate(differ.clone().into()).is_fault_of_the_program());
        assert!(ComputeError::Bolus(differ.into()).is_fault_of_the_program());
        let missing = RateError::WeightMissing { dose: "1 mg/kg".to_owned() };
        assert!(!ComputeError::Rate(missing.clone()).is_fault_of_the_program());
        assert!(!ComputeError::Bolus(missing).is_fault_of_the_program());
        assert!(!ComputeError::NameUnknown.is_fault_of_the_program());
    }
}
