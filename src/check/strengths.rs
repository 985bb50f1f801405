//! Which of the stocked strengths makes a dose run at a rate that the driver can hold. In: a use, a dose, a body, a
//! syringe and a driver. Out: every stocked strength with its rate and how long a syringe lasts, or why it does not suit.

use crate::delivery::sticks_and_slips;
use crate::entry::Access;
use crate::formulary::{Composition, Container, Driver, Policy, Side, Stocked, Use};
use crate::infusion::rate::{Body, RateError, dose_at, rate_for};
use crate::infusion::{Settable, beyond_flow};
use crate::quantity::{
    Amount, Concentration, DoseRate, Product, Quantity, Ratio, Strength, TooLarge, exact_or_about, percent, plain,
};

/// What a strength is wanted for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'f> {
    /// The use.
    pub used: Use<'f>,
    /// The house rules.
    pub policy: &'f Policy,
    /// The dose, in the dose unit of the use.
    pub dose: DoseRate,
    /// What the dose is counted against.
    pub body: Body,
    /// What holds the solution.
    pub container: &'f Container,
    /// What pushes.
    pub driver: &'f Driver,
    /// Into which vessel, where it is said.
    pub access: Option<Access>,
}

/// A stocked strength, and how the dose runs with it.
#[derive(Debug, Clone)]
pub struct Strong<'f> {
    /// The strength.
    pub stocked: &'f Stocked,
    /// What is in each mL, for this patient.
    pub content: Concentration,
    /// The rate to the driver's step; nothing where it cannot be set.
    pub rate: Option<Ratio>,
    /// The dose that this rate gives, in the dose unit.
    pub given: Option<Ratio>,
    /// How long a full syringe lasts, in hours, the line filled otherwise.
    pub lasts: Option<Ratio>,
    /// Whether the solution is to be discarded before that.
    pub outlasts_its_life: bool,
    /// Why it does not suit; empty where it does.
    pub against: Vec<String>,
}

/// Why none can be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotJudged {
    /// Another unit than the one of this use.
    #[error("the dose is in {found}, and this use is dosed in {expected}")]
    DoseUnit {
        /// As typed.
        found: String,
        /// The unit of the use.
        expected: String,
    },
    /// No driver is to run at such a dose.
    #[error("{dose} is {side} the hard limit, {limit}")]
    DoseStopped {
        /// As typed.
        dose: String,
        /// Above or below.
        side: &'static str,
        /// The limit.
        limit: String,
    },
    /// The driver does not take the container.
    #[error("`{driver}` does not take `{container}`")]
    DoesNotFit {
        /// The driver's key.
        driver: String,
        /// The container's key.
        container: String,
    },
    /// Not for a patient of this weight.
    #[error("{weight} kg is beyond a hard limit of the weight for this use")]
    Weight {
        /// In kg.
        weight: String,
    },
    /// A strength that is made for each weight.
    #[error("one of the strengths is made for the patient's weight, and no weight is given")]
    WeightMissing,
    /// A rate that cannot be worked out.
    #[error(transparent)]
    RateError(#[from] RateError),
    /// The numbers do not fit.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
}

impl NotJudged {
    /// Kebab-case, stable.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::DoseUnit { .. } => "dose-unit-wrong",
            Self::DoseStopped { .. } => "dose-beyond-hard-limit",
            Self::DoesNotFit { .. } => "driver-does-not-take-container",
            Self::Weight { .. } => "weight-beyond-hard-limit",
            Self::WeightMissing => "weight-missing",
            Self::RateError(_) => "no-rate",
            Self::TooLarge(_) => "too-large",
        }
    }

    /// What to do.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::DoseUnit { expected, .. } => format!("go back to the order; write the dose in {expected}"),
            Self::DoseStopped { .. } => "go back to the order: no strength makes this dose right".to_owned(),
            Self::DoesNotFit { .. } => "name a syringe that goes into the driver: --container".to_owned(),
            Self::Weight { .. } => {
                "look at the scales again, in kg; or name the area and use for this patient".to_owned()
            }
            Self::WeightMissing => "give the weight: --weight \"70 kg\"".to_owned(),
            Self::RateError(no_rate) => no_rate.help(),
            Self::TooLarge(_) => "look at the numbers: they are too far apart to be a set-up".to_owned(),
        }
    }
}

/// Every strength that is stocked for a use, in the order of the formulary.
///
/// # Errors
/// [`NotJudged`], when the dose is not to be run with any.
pub fn strengths<'f>(wanted: &Wanted<'f>) -> Result<Vec<Strong<'f>>, NotJudged> {
    let Use { drug, indication, phase, .. } = wanted.used;
    let (found, expected) = (wanted.dose.unit(), indication.dose_unit);
    if found != expected {
        return Err(NotJudged::DoseUnit { found: found.to_string(), expected: expected.to_string() });
    }
    if !wanted.driver.takes(wanted.container) {
        let (driver, container) = (wanted.driver.key.clone(), wanted.container.key.clone());
        return Err(NotJudged::DoesNotFit { driver, container });
    }
    let hard = indication.limits(phase).and_then(|limits| limits.beyond.hard.as_ref());
    if let Some(outside) = hard.and_then(|band| band.outside(wanted.dose.number().ratio())) {
        let side = if outside.side == Side::Above { "above" } else { "below" };
        let dose = wanted.dose.to_string();
        return Err(NotJudged::DoseStopped { dose, side, limit: outside.limit.to_string() });
    }
    if let Some(weight) = wanted.body.weight.filter(|weight| wanted.weight_beyond(*weight, true)) {
        return Err(NotJudged::Weight { weight: exact_or_about(weight) });
    }
    let listed = indication.strengths.iter().filter_map(|at| drug.strengths.get(*at));
    listed.map(|stocked| wanted.strong(stocked)).collect()
}

impl Wanted<'_> {
    fn strong<'f>(&self, stocked: &'f Stocked) -> Result<Strong<'f>, NotJudged> {
        let strength = self.strength(stocked)?;
        let content = strength.concentration();
        let exact = rate_for(self.dose, self.body, Some(strength))?;
        let limits = self.used.indication.limits(self.used.phase);
        let flow = &self.used.indication.flow;
        let settable = Settable::with(self.driver, limits, Some(flow), self.body, strength)?;
        let (set, step) = settable.rate(exact)?;
        let mut against = Vec::new();
        let without = |against| Strong {
            stocked,
            content,
            rate: None,
            given: None,
            lasts: None,
            outlasts_its_life: false,
            against,
        };
        if set < self.driver.smallest.value() || set.is_zero() {
            let smallest = self.driver.smallest;
            return Ok(without(vec![format!("too strong: the rate is below {smallest}, the driver's smallest")]));
        }
        if set > self.driver.largest.value() {
            let largest = self.driver.largest;
            return Ok(without(vec![format!("too weak: the rate is above {largest}, the driver's largest")]));
        }
        if let Some(outside) = flow.hard.as_ref().and_then(|band| beyond_flow(set, band, true, self.driver)) {
            return Ok(without(vec![format!("the rate is beyond {}, a hard limit", outside.limit)]));
        }
        if let Some(outside) = flow.soft.as_ref().and_then(|band| beyond_flow(set, band, false, self.driver)) {
            against.push(format!("the rate is beyond {}, a soft limit: a written reason", outside.limit));
        }
        if sticks_and_slips(self.container, set) {
            against.push(format!("so slow that a syringe of {} sticks and slips", self.container.size));
        }
        let off = exact.apart(set)?.over(exact)?.times(Ratio::whole(100))?;
        if off > self.policy.rounding_justify.value() {
            let off = percent(off);
            against.push(format!("too strong for the driver's step of {step}: the dose changes by {off}"));
        }
        against.extend(self.asked_reasons());
        if let Some(limit) = self.too_strong_for_the_vein(content) {
            against.push(format!("stronger than {limit}, the limit for a peripheral vein"));
        }
        let given = dose_at(set, self.dose.unit(), self.body, Some(strength))?;
        let usable = self.container.usable.value().less(self.container.stays_behind.value())?;
        let lasts = usable.over(set)?;
        let outlasts_its_life = lasts > self.used.drug.life.value();
        Ok(Strong {
            stocked,
            content,
            rate: Some(set),
            given: Some(given),
            lasts: Some(lasts),
            outlasts_its_life,
            against,
        })
    }

    /// Whether a weight lies outside the limits of area or use.
    fn weight_beyond(&self, weight: Ratio, hard: bool) -> bool {
        [&self.used.area.weight, &self.used.indication.weight].into_iter().any(|limits| {
            let band = if hard { &limits.hard } else { &limits.soft };
            band.as_ref().is_some_and(|band| band.outside(weight).is_some())
        })
    }

    /// What a written reason is asked for, whatever the strength.
    fn asked_reasons(&self) -> Vec<String> {
        let limits = self.used.indication.limits(self.used.phase);
        let soft = limits.and_then(|limits| limits.beyond.soft.as_ref());
        let dose = soft.and_then(|band| band.outside(self.dose.number().ratio()));
        let dose = dose.map(|outside| format!("the dose is beyond {}, a soft limit: a written reason", outside.limit));
        let weight = self.body.weight.filter(|weight| self.weight_beyond(*weight, false));
        let weight = weight.map(|_| "the weight is beyond a soft limit: a written reason".to_owned());
        dose.into_iter().chain(weight).collect()
    }

    fn strength(&self, stocked: &Stocked) -> Result<Strength, NotJudged> {
        match stocked.composition {
            Composition::Fixed { amount, volume, .. } => Ok(Strength::of(amount, volume)),
            Composition::PerKilogram { amount, volume } => {
                let weight = self.body.weight.ok_or(NotJudged::WeightMissing)?;
                let product = Product::ONE.number(amount.number()).ratio(weight).finish()?;
                let text = format!("{} {}", plain(product), amount.unit().amount().shown());
                let amount = Quantity::<Amount>::parse(&text).map_err(|_| TooLarge)?;
                Ok(Strength::of(amount, volume))
            }
        }
    }

    /// The hard or else the soft limit that is passed.
    fn too_strong_for_the_vein(&self, content: Concentration) -> Option<String> {
        let maximum = &self.used.drug.peripheral_maximum;
        let passed = [&maximum.hard, &maximum.soft].into_iter().flatten();
        let mut limits = passed.filter_map(|band| band.to).filter(|limit| {
            let limit = limit.concentration();
            limit.kind == content.kind && content.per_ml > limit.per_ml
        });
        (self.access == Some(Access::Peripheral)).then(|| limits.next())?.map(|limit| limit.to_string())
    }
}

/// A rate as it is shown: `5.1 mL/h`.
#[must_use]
pub fn shown(rate: Ratio) -> String {
    format!("{} mL/h", exact_or_about(rate))
}
