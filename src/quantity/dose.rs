//! Doses: an amount per patient, per kg or per m2, with a time (a rate) or without one (a bolus).

use std::fmt;

use super::measure::{is_amount, one_or_many};
use super::read::Piece;
use super::refused::{Problem, Refused};
use super::show::grouped;
use super::{Number, NumberForm, Product, Ratio, Unit, UnitKind};

/// What a dose is counted against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Per {
    /// The whole patient.
    Patient,
    /// Each kg of the dosing weight.
    Kilogram,
    /// Each m2 of body surface.
    SquareMetre,
}

impl Per {
    const fn shown(self) -> &'static str {
        match self {
            Self::Patient => "",
            Self::Kilogram => "/kg",
            Self::SquareMetre => "/m2",
        }
    }
}

/// The unit of a bolus: `mg/kg`, `units`, `mL`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DoseUnit {
    amount: Unit,
    per: Per,
}

/// The unit of a dose rate: `mcg/kg/min`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DoseRateUnit {
    dose: DoseUnit,
    time: Unit,
}

/// A typed bolus dose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BolusDose {
    number: Number,
    unit: DoseUnit,
}

/// A typed dose rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DoseRate {
    number: Number,
    unit: DoseRateUnit,
}

impl DoseUnit {
    /// Reads a unit without a number: `mg/kg`.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(Piece::whole(text))
    }

    fn read(piece: Piece<'_>) -> Result<Self, Refused> {
        let (dose, time) = parts(piece)?;
        match time {
            None => Ok(dose),
            Some((_, place)) => Err(place.refused(
                Problem::TimeTooMany { found: piece.found() },
                format!("write {dose}, and the time of a bolus apart from it"),
            )),
        }
    }

    /// The unit of the amount.
    #[must_use]
    pub const fn amount(self) -> Unit {
        self.amount
    }

    /// What it is counted against.
    #[must_use]
    pub const fn per(self) -> Per {
        self.per
    }

    /// What kind of amount it is.
    #[must_use]
    pub const fn kind(self) -> UnitKind {
        self.amount.kind()
    }
}

impl DoseRateUnit {
    /// Reads a unit without a number: `mcg/kg/min`.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(Piece::whole(text))
    }

    fn read(piece: Piece<'_>) -> Result<Self, Refused> {
        let (dose, time) = parts(piece)?;
        match time {
            Some((time, _)) => Ok(Self { dose, time }),
            None => {
                let help = format!("write the time too: {dose}/min, {dose}/h or {dose}/day");
                Err(piece.refused(Problem::TimeMissing { found: piece.found() }, help))
            }
        }
    }

    /// The amount and what it is counted against.
    #[must_use]
    pub const fn dose(self) -> DoseUnit {
        self.dose
    }

    /// The unit of time.
    #[must_use]
    pub const fn time(self) -> Unit {
        self.time
    }
}

impl BolusDose {
    /// Reads a number and a unit without a time.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Dose)
    }

    pub(super) fn read(text: &str, form: NumberForm) -> Result<Self, Refused> {
        let (number, rest) = number_and_unit(text, form, "0.5 mg/kg")?;
        Ok(Self { number, unit: DoseUnit::read(rest)? })
    }

    /// The same by meaning: 0.5 mg/kg is 500 mcg/kg.
    #[must_use]
    pub fn same_as(self, other: Self) -> bool {
        let meaning = |dose: Self| (dose.unit.kind(), dose.unit.per, dose.amount());
        meaning(self) == meaning(other)
    }

    /// The exact amount, in the reference unit of its kind, per patient, kg or m2 as typed.
    #[must_use]
    pub fn amount(self) -> Ratio {
        let amount = Product::ONE.number(self.number).unit(self.unit.amount);
        amount.finish().expect("nine digits within 10^-9 and 10^9 and a unit below 10^10 fit in 10^37")
    }

    /// The number as typed.
    #[must_use]
    pub const fn number(self) -> Number {
        self.number
    }

    /// The unit as typed.
    #[must_use]
    pub const fn unit(self) -> DoseUnit {
        self.unit
    }
}

impl DoseRate {
    /// Reads a number and a unit with a time.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Dose)
    }

    /// Reads a dose rate off a display, where `5.0` states how finely it shows.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse_displayed(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Measured)
    }

    pub(super) fn read(text: &str, form: NumberForm) -> Result<Self, Refused> {
        let (number, rest) = number_and_unit(text, form, "0.05 mcg/kg/min")?;
        Ok(Self { number, unit: DoseRateUnit::read(rest)? })
    }

    /// The same by meaning: 0.06 mg/kg/h is 1 mcg/kg/min.
    #[must_use]
    pub fn same_as(self, other: Self) -> bool {
        let meaning = |dose: Self| (dose.unit.dose.kind(), dose.unit.dose.per, dose.amount_per_hour());
        meaning(self) == meaning(other)
    }

    /// The exact amount in an hour, in the reference unit of its kind, per patient, kg or m2 as typed.
    #[must_use]
    pub fn amount_per_hour(self) -> Ratio {
        let amount = Product::ONE.number(self.number).unit(self.unit.dose.amount);
        let per_hour = amount.unit(Unit::Hour).over_unit(self.unit.time);
        per_hour.finish().expect("nine digits within 10^-9 and 10^9 and units below 10^14 fit in 10^37")
    }

    /// The number as typed.
    #[must_use]
    pub const fn number(self) -> Number {
        self.number
    }

    /// The unit as typed.
    #[must_use]
    pub const fn unit(self) -> DoseRateUnit {
        self.unit
    }
}

impl fmt::Display for DoseUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.amount.shown(), self.per.shown())
    }
}

impl fmt::Display for DoseRateUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.dose, self.time.shown())
    }
}

impl fmt::Display for BolusDose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let amount = one_or_many(self.number, self.unit.amount);
        write!(f, "{} {amount}{}", grouped(&self.number.to_string()), self.unit.per.shown())
    }
}

impl fmt::Display for DoseRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let amount = one_or_many(self.number, self.unit.dose.amount);
        write!(
            f,
            "{} {amount}{}/{}",
            grouped(&self.number.to_string()),
            self.unit.dose.per.shown(),
            self.unit.time.shown()
        )
    }
}

fn number_and_unit<'t>(text: &'t str, form: NumberForm, example: &str) -> Result<(Number, Piece<'t>), Refused> {
    let whole = Piece::whole(text);
    let (number, rest) = whole.number(form)?;
    if rest.text.is_empty() {
        let help = format!("write the unit too, for example {example}");
        return Err(whole.refused(Problem::UnitMissing { found: whole.found() }, help));
    }
    Ok((number, rest))
}

/// The amount, what it is counted against, and the time if there is one, with its place.
fn parts(whole: Piece<'_>) -> Result<(DoseUnit, Option<(Unit, Piece<'_>)>), Refused> {
    let (first, mut rest) = whole.cut();
    if first.text.starts_with('%') {
        let problem = Problem::UnitUnknown { found: first.found() };
        return Err(first.refused(problem, "a percentage is a strength, not a dose: write mg, mcg or units"));
    }
    let amount = first.unit("a dose as amount, per kg or m2, per time: mcg/kg/min, mg/h, units/h, mL/kg/h")?;
    if !(is_amount(amount.kind()) || amount.kind() == UnitKind::Volume) {
        let problem = Problem::WrongKind {
            found: first.found(),
            what: amount.kind().described().to_owned(),
            expected: "an amount of drug".to_owned(),
        };
        return Err(first.refused(problem, "write the amount first: mg, mcg, nanogram, g, units, mmol, mEq or mL"));
    }
    let (mut per, mut time) = (Per::Patient, None);
    while let Some(piece) = rest {
        let (divisor, after) = piece.cut();
        rest = after;
        match divisor_of(divisor)? {
            Divisor::Per(found) if per == Per::Patient => per = found,
            Divisor::Time(found) if time.is_none() => time = Some((found, divisor)),
            _ => {
                let problem = Problem::DivisorTwice { found: whole.found() };
                return Err(divisor.refused(problem, "write it once: mcg/kg/min"));
            }
        }
    }
    Ok((DoseUnit { amount, per }, time))
}

enum Divisor {
    Per(Per),
    Time(Unit),
}

fn divisor_of(piece: Piece<'_>) -> Result<Divisor, Refused> {
    const EXPECTED: &str = "kg, m2, min, h or day after the `/`";
    if piece.text.is_empty() {
        return Err(piece.refused(Problem::UnitMissing { found: "/".to_owned() }, format!("write {EXPECTED}")));
    }
    if matches!(piece.text, "m" | "M") {
        let problem = Problem::TwoReadings { found: piece.found(), one: "min".to_owned(), other: "m2".to_owned() };
        return Err(piece.refused(problem, "write min, or m2"));
    }
    if piece.text.starts_with(|c: char| c.is_ascii_digit()) {
        let problem = Problem::DivisorUnknown { found: piece.found() };
        return Err(piece.refused(problem, "write one number, before the unit, per one min, h or day"));
    }
    let unit = piece.unit(EXPECTED)?;
    match unit {
        Unit::Kilogram => Ok(Divisor::Per(Per::Kilogram)),
        Unit::SquareMetre => Ok(Divisor::Per(Per::SquareMetre)),
        Unit::Second | Unit::Minute | Unit::Hour | Unit::Day => Ok(Divisor::Time(unit)),
        _ => Err(piece.refused(Problem::DivisorUnknown { found: piece.found() }, format!("write {EXPECTED}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("0.06 mg/kg/h", "1 mcg/kg/min", true)]
    #[case("24 mg/day", "1 mg/h", true)]
    #[case("1 mg/h", "1 mg/h", true)]
    #[case("1 mg/h", "2 mg/h", false)]
    #[case("1 mg/h", "1 mg/kg/h", false)]
    #[case("1 mg/h", "1 mL/h", false)]
    #[case("1 mg/kg/h", "1 mg/m2/h", false)]
    fn rates_are_the_same_by_meaning(#[case] one: &str, #[case] other: &str, #[case] same: bool) {
        let read = |text| DoseRate::parse(text).expect("a dose rate");
        assert_eq!(read(one).same_as(read(other)), same);
        assert_eq!(read(other).same_as(read(one)), same);
    }

    #[rstest]
    #[case("mcg/kg/min")]
    #[case("units/h")]
    #[case("mg/m2/day")]
    fn a_unit_is_shown_as_it_is_written(#[case] unit: &str) {
        assert_eq!(DoseRateUnit::parse(unit).expect("a unit").to_string(), unit);
    }

    #[rstest]
    #[case("0.5 mg/kg", "500 mcg/kg", true)]
    #[case("0.5 mg", "0.5 mg", true)]
    #[case("0.5 mg", "5 mg", false)]
    #[case("0.5 mg", "0.5 mg/kg", false)]
    #[case("1 unit", "1 mmol", false)]
    fn boluses_are_the_same_by_meaning(#[case] one: &str, #[case] other: &str, #[case] same: bool) {
        let read = |text| BolusDose::parse(text).expect("a bolus");
        assert_eq!(read(one).same_as(read(other)), same);
        assert_eq!(read(other).same_as(read(one)), same);
    }

    #[rstest]
    #[case("mcg/kg/kg/min", "write it once: mcg/kg/min")]
    #[case("mcg/kg/m2/min", "write it once: mcg/kg/min")]
    #[case("mcg/min/h", "write it once: mcg/kg/min")]
    #[case("mcg/kg", "write the time too: mcg/kg/min, mcg/kg/h or mcg/kg/day")]
    #[case("%/h", "a percentage is a strength, not a dose: write mg, mcg or units")]
    #[case("kg/h", "write the amount first: mg, mcg, nanogram, g, units, mmol, mEq or mL")]
    #[case("mcg/m", "write min, or m2")]
    #[case("mcg/", "write kg, m2, min, h or day after the `/`")]
    #[case("mcg/24 h", "write one number, before the unit, per one min, h or day")]
    #[case("mcg/mL", "write kg, m2, min, h or day after the `/`")]
    fn other_units_are_refused(#[case] unit: &str, #[case] help: &str) {
        assert_eq!(DoseRateUnit::parse(unit).expect_err("refused").help, help);
    }

    #[rstest]
    #[case("1 units/kg/h", "1 unit/kg/h")]
    #[case("12500 mcg/m2/h", "12 500 mcg/m2/h")]
    #[case("0.5 ml/h", "0.5 mL/h")]
    fn a_rate_is_shown_by_the_rules(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(DoseRate::parse(text).map(|dose| dose.to_string()), Ok(shown.to_owned()));
    }

    #[rstest]
    #[case("1 units/kg", "1 unit/kg")]
    #[case("12500 mcg", "12 500 mcg")]
    fn a_bolus_is_shown_by_the_rules(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(BolusDose::parse(text).map(|dose| dose.to_string()), Ok(shown.to_owned()));
    }
}
