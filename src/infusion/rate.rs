//! The sum itself, in both directions: dose x weight x time / strength. Multiply first, divide once.

use crate::quantity::{
    BolusDose, Concentration, DoseRate, DoseRateUnit, DoseUnit, Per, Product, Ratio, Strength, TooLarge, Unit, UnitKind,
};

pub use super::body::Body;

/// Why a rate cannot be worked out truthfully.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's message says what it is")]
pub enum RateError {
    #[error("the dose {dose} counts {dose_kind}, and the strength counts {strength_kind}")]
    KindsDiffer { dose: String, dose_kind: &'static str, strength_kind: &'static str },
    #[error("the dose {dose} is per kg, and no weight is given")]
    WeightMissing { dose: String },
    #[error("the dose {dose} is per m2, and no body surface is given")]
    SurfaceMissing { dose: String },
    #[error("the dose {dose} needs a strength, and none is given")]
    StrengthMissing { dose: String },
    #[error("the rate rounds to nothing at a step of {step}")]
    RoundsToNothing { step: String },
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
    #[error(transparent)]
    RoutesDiffer(#[from] super::second_route::RoutesDiffer),
}

impl RateError {
    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::KindsDiffer { .. } => {
                "dose and strength must both be a mass, or units, or moles, or mEq: go back to the order and the label (nothing is converted without a molar mass or a valence)"
                    .to_owned()
            }
            Self::WeightMissing { .. } => "give the weight in kg".to_owned(),
            Self::SurfaceMissing { .. } => "give the body surface in m2, or height and weight".to_owned(),
            Self::StrengthMissing { .. } => "give the strength, for example 80 mcg/mL or 4 mg in 50 mL".to_owned(),
            Self::RoundsToNothing { .. } => "a weaker solution, or a driver with a finer step".to_owned(),
            Self::TooLarge(_) => "go back to the order and the label: numbers so far apart are a slip".to_owned(),
            Self::RoutesDiffer(_) => "this is a fault of the program: do not use the number".to_owned(),
        }
    }
}

/// The rate in mL/h that gives a dose rate: dose x weight or surface x (1 h / time) / strength.
///
/// # Errors
/// [`RateError`] when something is missing or of another kind, or when the second route finds another number.
pub fn rate_for(dose: DoseRate, body: Body, strength: Option<Strength>) -> Result<Ratio, RateError> {
    let rate = forward(dose.number().into(), dose.unit(), body, strength, dose)?;
    super::second_route::confirm_rate(rate, dose, body, strength)?;
    Ok(rate)
}

/// The rate in mL/h that gives a dose which was worked out before, as a number of its unit: what another strength has
/// given until now.
///
/// # Errors
/// As for [`rate_for`].
pub fn rate_keeping(
    dose: Ratio,
    unit: DoseRateUnit,
    body: Body,
    strength: Option<Strength>,
) -> Result<Ratio, RateError> {
    let rate = forward(Product::ONE.ratio(dose), unit, body, strength, unit)?;
    super::second_route::confirm_dose(dose, rate, unit, body, strength)?;
    Ok(rate)
}

fn forward(
    number: Product,
    unit: DoseRateUnit,
    body: Body,
    strength: Option<Strength>,
    dose: impl std::fmt::Display + Copy,
) -> Result<Ratio, RateError> {
    let per_time = amount_of(number, unit.dose(), body, dose)?;
    let per_hour = per_time.unit(Unit::Hour).over_unit(unit.time());
    Ok(over_strength(per_hour, unit.dose().kind(), strength, dose)?.finish()?)
}

/// By how many percent a given dose, a number of the ordered unit, is off the ordered one.
///
/// # Errors
/// [`TooLarge`] where it cannot be kept exactly.
pub fn percent_off(given: Ratio, ordered: DoseRate) -> Result<Ratio, TooLarge> {
    let ordered = ordered.number().ratio();
    given.apart(ordered)?.over(ordered)?.times(Ratio::whole(100))
}

/// The dose rate that a rate in mL/h gives, as a number of the wanted unit.
///
/// # Errors
/// As for [`rate_for`].
pub fn dose_at(rate: Ratio, unit: DoseRateUnit, body: Body, strength: Option<Strength>) -> Result<Ratio, RateError> {
    let product = times_strength(Product::ONE.ratio(rate), unit.dose().kind(), strength, unit)?;
    let product = product.unit(unit.time()).over_unit(Unit::Hour).over_unit(unit.dose().amount());
    let dose = match against(unit.dose().per(), body, unit)? {
        Some(against) => product.over_ratio(against),
        None => product,
    }
    .finish()?;
    super::second_route::confirm_dose(dose, rate, unit, body, strength)?;
    Ok(dose)
}

/// The volume in mL that holds a bolus dose.
///
/// # Errors
/// As for [`rate_for`].
pub fn volume_of(bolus: BolusDose, body: Body, strength: Option<Strength>) -> Result<Ratio, RateError> {
    let amount = amount_of(bolus.number().into(), bolus.unit(), body, bolus)?;
    let volume = over_strength(amount, bolus.unit().kind(), strength, bolus)?.finish()?;
    super::second_route::confirm_volume(volume, bolus, body, strength)?;
    Ok(volume)
}

fn amount_of(number: Product, unit: DoseUnit, body: Body, dose: impl std::fmt::Display) -> Result<Product, RateError> {
    let amount = number.unit(unit.amount());
    Ok(match against(unit.per(), body, dose)? {
        Some(against) => amount.ratio(against),
        None => amount,
    })
}

fn against(per: Per, body: Body, dose: impl std::fmt::Display) -> Result<Option<Ratio>, RateError> {
    match per {
        Per::Patient => Ok(None),
        Per::Kilogram => body.weight.map(Some).ok_or_else(|| RateError::WeightMissing { dose: dose.to_string() }),
        Per::SquareMetre => body.surface.map(Some).ok_or_else(|| RateError::SurfaceMissing { dose: dose.to_string() }),
    }
}

/// A dose that is a volume needs no strength; every other needs one of its own kind.
fn over_strength(
    amount: Product,
    kind: UnitKind,
    strength: Option<Strength>,
    dose: impl std::fmt::Display,
) -> Result<Product, RateError> {
    Ok(match needed(kind, strength, dose)? {
        Some(strength) => amount.over_ratio(strength.per_ml),
        None => amount,
    })
}

fn times_strength(
    volume: Product,
    kind: UnitKind,
    strength: Option<Strength>,
    dose: impl std::fmt::Display,
) -> Result<Product, RateError> {
    Ok(match needed(kind, strength, dose)? {
        Some(strength) => volume.ratio(strength.per_ml),
        None => volume,
    })
}

fn needed(
    kind: UnitKind,
    strength: Option<Strength>,
    dose: impl std::fmt::Display,
) -> Result<Option<Concentration>, RateError> {
    match (kind, strength.map(Strength::concentration)) {
        (UnitKind::Volume, _) => Ok(None),
        (_, None) => Err(RateError::StrengthMissing { dose: dose.to_string() }),
        (_, Some(strength)) if strength.kind != kind => Err(RateError::KindsDiffer {
            dose: dose.to_string(),
            dose_kind: kind.described(),
            strength_kind: strength.kind.described(),
        }),
        (_, strength) => Ok(strength),
    }
}
