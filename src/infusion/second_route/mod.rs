//! The second entry of the machine itself: every rate, dose and volume is computed again, through a small system of
//! units ([`system`]) in which a wrong formula does not compile, with unit factors of its own and in `f64`, so that it
//! shares no arithmetic with the exact route. Both must agree to 1 part in 10^9, or nothing is shown.
#![expect(clippy::float_arithmetic, reason = "an independent route, compared and then dropped")]

mod system;

use crate::quantity::{
    BolusDose, DoseRate, DoseRateUnit, DoseUnit, Number, Per, Quantity, Ratio, Stated, Strength, Unit, UnitKind, Volume,
};

use super::body::Body;
use system::counted::{
    BodyMass, BodySurface, DrugCharge, DrugMass, DrugMoles, DrugUnits, ElapsedTime, Flow, SolutionVolume,
};
use system::{body_mass, body_surface, drug_charge, drug_mass, drug_moles, drug_units, flow, time, volume};

/// The two routes found different numbers: a fault of the program.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "two independent computations of one {what} disagree ({exact} and {other}): a fault of the program, nothing is shown"
)]
pub struct RoutesDiffer {
    what: &'static str,
    exact: String,
    other: String,
}

/// Confirms a rate in mL/h.
///
/// # Errors
/// [`RoutesDiffer`] when this route finds another number.
pub(super) fn confirm_rate(
    rate: Ratio,
    dose: DoseRate,
    body: Body,
    strength: Option<Strength>,
) -> Result<(), RoutesDiffer> {
    let unit = dose.unit();
    let found: Flow = solution(dose.number().approximate(), unit.dose(), body, strength) / elapsed(unit.time());
    agree("rate", rate, found.get::<flow::millilitre_per_hour>())
}

/// Confirms a dose rate, as a number of its unit.
///
/// # Errors
/// [`RoutesDiffer`] when this route finds another number.
pub(super) fn confirm_dose(
    dose: Ratio,
    rate: Ratio,
    unit: DoseRateUnit,
    body: Body,
    strength: Option<Strength>,
) -> Result<(), RoutesDiffer> {
    // How often one unit of the dose fits into what flows.
    let one: Flow = solution(1.0, unit.dose(), body, strength) / elapsed(unit.time());
    let flows = Flow::new::<flow::millilitre_per_hour>(rate.approximate());
    agree("dose", dose, (flows / one).value)
}

/// Confirms the volume of a bolus in mL.
///
/// # Errors
/// [`RoutesDiffer`] when this route finds another number.
pub(super) fn confirm_volume(
    found: Ratio,
    bolus: BolusDose,
    body: Body,
    strength: Option<Strength>,
) -> Result<(), RoutesDiffer> {
    let other = solution(bolus.number().approximate(), bolus.unit(), body, strength);
    agree("volume", found, other.get::<volume::millilitre>())
}

fn agree(what: &'static str, exact: Ratio, other: f64) -> Result<(), RoutesDiffer> {
    const CLOSE: f64 = 1e-9;
    let first = exact.approximate();
    if (first - other).abs() <= CLOSE * first.abs() {
        return Ok(());
    }
    Err(RoutesDiffer { what, exact: format!("{first:e}"), other: format!("{other:e}") })
}

/// The volume of solution that holds an amount for this body. NaN, which agrees with nothing, where something is missing.
fn solution(number: f64, unit: DoseUnit, body: Body, strength: Option<Strength>) -> SolutionVolume {
    let amount = unit.amount();
    // What one unit of "per kg" or "per m2" makes of the whole patient: a plain number, since kg/kg is one.
    let times = match unit.per() {
        Per::Patient => 1.0,
        Per::Kilogram => {
            let weight = BodyMass::new::<body_mass::kilogram>(body.weight.map_or(f64::NAN, Ratio::approximate));
            (weight / BodyMass::new::<body_mass::kilogram>(1.0)).value
        }
        Per::SquareMetre => {
            let surface =
                BodySurface::new::<body_surface::square_metre>(body.surface.map_or(f64::NAN, Ratio::approximate));
            (surface / BodySurface::new::<body_surface::square_metre>(1.0)).value
        }
    };
    let number = number * times;
    if amount.kind() == UnitKind::Volume {
        return volume_of(number, amount);
    }
    let Some((drug, in_unit, held)) = strength.map(stated) else { return nothing() };
    match amount.kind() {
        UnitKind::Mass => held * (mass(number, amount) / mass(drug, in_unit)),
        UnitKind::Units => held * (units(number, amount) / units(drug, in_unit)),
        UnitKind::Moles => held * (moles(number, amount) / moles(drug, in_unit)),
        UnitKind::Equivalents => held * (charge(number, amount) / charge(drug, in_unit)),
        _ => nothing(),
    }
}

/// A strength as the label states it: so much drug, in this unit, in so much solution.
fn stated(strength: Strength) -> (f64, Unit, SolutionVolume) {
    let hundred = SolutionVolume::new::<volume::millilitre>(100.0);
    match strength.stated() {
        Stated::Of { amount, volume, .. } => (amount.number().approximate(), amount.unit(), typed_volume(volume)),
        Stated::Percent(grams) => (grams.approximate(), Unit::Gram, hundred),
        Stated::OneIn(millilitres) => {
            (1.0, Unit::Gram, SolutionVolume::new::<volume::millilitre>(Number::approximate(millilitres)))
        }
    }
}

fn typed_volume(typed: Quantity<Volume>) -> SolutionVolume {
    volume_of(typed.number().approximate(), typed.unit())
}

fn nothing() -> SolutionVolume {
    SolutionVolume::new::<volume::millilitre>(f64::NAN)
}

fn volume_of(number: f64, unit: Unit) -> SolutionVolume {
    match unit {
        Unit::Microlitre => SolutionVolume::new::<volume::microlitre>(number),
        Unit::Millilitre => SolutionVolume::new::<volume::millilitre>(number),
        Unit::Litre => SolutionVolume::new::<volume::litre>(number),
        _ => nothing(),
    }
}

fn mass(number: f64, unit: Unit) -> DrugMass {
    match unit {
        Unit::Nanogram => DrugMass::new::<drug_mass::nanogram>(number),
        Unit::Microgram => DrugMass::new::<drug_mass::microgram>(number),
        Unit::Milligram => DrugMass::new::<drug_mass::milligram>(number),
        Unit::Gram => DrugMass::new::<drug_mass::gram>(number),
        _ => DrugMass::new::<drug_mass::milligram>(f64::NAN),
    }
}

fn units(number: f64, unit: Unit) -> DrugUnits {
    match unit {
        Unit::Milliunit => DrugUnits::new::<drug_units::milliunit>(number),
        Unit::Unit => DrugUnits::new::<drug_units::unit>(number),
        _ => DrugUnits::new::<drug_units::unit>(f64::NAN),
    }
}

fn moles(number: f64, unit: Unit) -> DrugMoles {
    match unit {
        Unit::Micromole => DrugMoles::new::<drug_moles::micromole>(number),
        Unit::Millimole => DrugMoles::new::<drug_moles::millimole>(number),
        Unit::Mole => DrugMoles::new::<drug_moles::mole>(number),
        _ => DrugMoles::new::<drug_moles::millimole>(f64::NAN),
    }
}

fn charge(number: f64, unit: Unit) -> DrugCharge {
    let number = if unit == Unit::Milliequivalent { number } else { f64::NAN };
    DrugCharge::new::<drug_charge::milliequivalent>(number)
}

fn elapsed(unit: Unit) -> ElapsedTime {
    match unit {
        Unit::Second => ElapsedTime::new::<time::second>(1.0),
        Unit::Minute => ElapsedTime::new::<time::minute>(1.0),
        Unit::Hour => ElapsedTime::new::<time::hour>(1.0),
        Unit::Day => ElapsedTime::new::<time::day>(1.0),
        _ => ElapsedTime::new::<time::second>(f64::NAN),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(numerator: u128, denominator: u128) -> Ratio {
        Ratio::new(numerator, denominator).expect("small parts")
    }

    fn case() -> (DoseRate, Body, Option<Strength>) {
        let body = Body { weight: Some(Ratio::whole(60)), surface: None };
        (
            DoseRate::parse("0.5 mcg/kg/min").expect("a dose"),
            body,
            Some(Strength::parse("500 mcg/mL").expect("a strength")),
        )
    }

    // Prescribing information, dobutamine in 5% dextrose, Recommended Dosage, Example 1: 3.6 mL/h.
    #[test]
    fn the_right_rate_is_confirmed() {
        let (dose, body, strength) = case();
        assert_eq!(confirm_rate(rate(18, 5), dose, body, strength), Ok(()));
        assert_eq!(confirm_dose(rate(1, 2), rate(18, 5), dose.unit(), body, strength), Ok(()));
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn a_rate_that_is_off_by_one_part_in_a_hundred_million_is_a_fault() {
        let (dose, body, strength) = case();
        let off = rate(18 * 100_000_001, 5 * 100_000_000);
        assert!(confirm_rate(off, dose, body, strength).is_err());
        assert!(confirm_dose(rate(50_000_001, 100_000_000), rate(18, 5), dose.unit(), body, strength).is_err());
    }

    #[test]
    fn a_volume_per_time_needs_no_strength() {
        let confirmed = |dose, rate| confirm_rate(rate, DoseRate::parse(dose).expect("a dose"), Body::default(), None);
        assert_eq!(confirmed("500 microlitre/h", rate(1, 2)), Ok(()));
        assert_eq!(confirmed("0.5 mL/h", rate(1, 2)), Ok(()));
        assert_eq!(confirmed("0.0005 L/h", rate(1, 2)), Ok(()));
        assert!(confirmed("0.5 mL/h", rate(1, 3)).is_err());
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn a_volume_is_confirmed_or_is_a_fault() {
        let (_, body, strength) = case();
        let bolus = BolusDose::parse("50 mcg/kg").expect("a bolus");
        assert_eq!(confirm_volume(rate(6, 1), bolus, body, strength), Ok(()));
        let differ = confirm_volume(rate(7, 1), bolus, body, strength).expect_err("3000 mcg are 6 mL");
        assert!(differ.to_string().contains("one volume disagree"), "{differ}");
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn what_is_missing_is_never_confirmed() {
        let (dose, body, strength) = case();
        assert!(confirm_rate(rate(18, 5), dose, Body::default(), strength).is_err());
        assert!(confirm_rate(rate(18, 5), dose, body, None).is_err());
        assert!(confirm_rate(Ratio::ZERO, dose, body, None).is_err());
        let units = Strength::parse("500 units/mL").ok();
        assert!(confirm_rate(rate(18, 5), dose, body, units).is_err());
    }
}
