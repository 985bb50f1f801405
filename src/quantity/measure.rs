//! A number with one plain unit: a volume, a body weight, a time, a length, an amount.

use std::fmt;
use std::marker::PhantomData;

use super::read::Piece;
use super::refused::{Problem, Refused};
use super::show::grouped;
use super::{Number, NumberForm, Product, Ratio, Unit, UnitKind};

/// What a [`Quantity`] measures.
pub trait Dimension {
    /// What to write, for a refusal.
    const EXPECTED: &'static str;
    /// Whether a unit belongs here.
    fn takes(unit: Unit) -> bool;
    /// The unit in which [`Quantity::value`] counts.
    const REFERENCE: Unit;
}

macro_rules! dimensions {
    ($($(#[doc = $doc:literal])+ $name:ident: $reference:ident, $expected:literal, |$unit:ident| $takes:expr;)+) => {$(
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub struct $name;
        impl Dimension for $name {
            const EXPECTED: &'static str = $expected;
            const REFERENCE: Unit = Unit::$reference;
            fn takes($unit: Unit) -> bool { $takes }
        }
    )+};
}

dimensions! {
    /// A volume; counts in mL.
    Volume: Millilitre, "a volume in mL, for example 50 mL", |unit| unit.kind() == UnitKind::Volume;
    /// A body weight; counts in kg.
    BodyMass: Kilogram, "a weight in kg, for example 72.5 kg", |unit| unit.kind() == UnitKind::BodyMass || unit == Unit::Gram;
    /// A time; counts in hours.
    Time: Hour, "a time in s, min, h or day, for example 3 h", |unit| unit.kind() == UnitKind::Time;
    /// A length; counts in cm.
    Length: Centimetre, "a length in cm or m, for example 164 cm", |unit| unit.kind() == UnitKind::Length;
    /// A body surface; counts in m2.
    BodySurface: SquareMetre, "a body surface in m2, for example 1.8 m2", |unit| unit.kind() == UnitKind::Surface;
    /// An amount of drug; counts in the reference unit of its own kind, see [`UnitKind`].
    Amount: Nanogram, "an amount in mg, mcg, nanogram, g, units, mmol or mEq, for example 4 mg", |unit| is_amount(unit.kind());
}

/// A typed number with one unit.
#[derive(Debug)]
pub struct Quantity<D> {
    number: Number,
    unit: Unit,
    /// Worked out once, when it is read.
    value: Ratio,
    dimension: PhantomData<D>,
}

impl<D> Clone for Quantity<D> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<D> Copy for Quantity<D> {}

impl<D: Dimension> Quantity<D> {
    /// Reads a number above zero and its unit.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Measured)
    }

    /// As [`Quantity::parse`], and zero is an answer.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse_or_zero(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::MeasuredOrZero)
    }

    /// As [`Quantity::parse`], by the stricter rules for a dose: `5.0 mg` is refused.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse_dose(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Dose)
    }

    pub(super) fn read(text: &str, form: NumberForm) -> Result<Self, Refused> {
        let whole = Piece::whole(text);
        let (number, rest) = whole.number(form)?;
        if rest.text.is_empty() {
            return Err(whole.refused(Problem::UnitMissing { found: whole.found() }, format!("write {}", D::EXPECTED)));
        }
        let unit = rest.unit(D::EXPECTED)?;
        Self::of(number, unit).ok_or_else(|| {
            let problem = Problem::WrongKind {
                found: whole.found(),
                what: unit.kind().described().to_owned(),
                expected: D::REFERENCE.kind().described().to_owned(),
            };
            whole.refused(problem, format!("write {}", D::EXPECTED))
        })
    }

    pub(super) fn of(number: Number, unit: Unit) -> Option<Self> {
        if !D::takes(unit) {
            return None;
        }
        // Of every kind of amount the reference unit has the size 1, whichever of them stands for them all.
        let value = match unit.tens_of(D::REFERENCE) {
            Some(tens) => Ok(number.times_ten_to(tens)),
            None => Product::ONE.number(number).unit(unit).over_unit(D::REFERENCE).finish(),
        };
        let value = value.expect("at most 9 digits within 10^-9 and 10^9, and factors below 10^14, fit in 10^37");
        Some(Self { number, unit, value, dimension: PhantomData })
    }

    /// The number as typed.
    #[must_use]
    pub const fn number(self) -> Number {
        self.number
    }

    /// The unit as typed.
    #[must_use]
    pub const fn unit(self) -> Unit {
        self.unit
    }

    /// What it measures.
    #[must_use]
    pub const fn kind(self) -> UnitKind {
        self.unit.kind()
    }

    /// The exact value in the dimension's reference unit ([`Dimension::REFERENCE`]; for [`Amount`] that of its kind).
    #[must_use]
    pub const fn value(self) -> Ratio {
        self.value
    }
}

/// By meaning: 0.5 mg is 500 mcg.
impl<D: Dimension> PartialEq for Quantity<D> {
    fn eq(&self, other: &Self) -> bool {
        let same_scale = D::REFERENCE.kind() == UnitKind::BodyMass || self.kind() == other.kind();
        same_scale && self.value == other.value
    }
}

impl<D: Dimension> Eq for Quantity<D> {}

impl<D> fmt::Display for Quantity<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", grouped(&self.number.to_string()), one_or_many(self.number, self.unit))
    }
}

/// `1 unit`, `2 units`.
pub(super) fn one_or_many(number: Number, unit: Unit) -> &'static str {
    match unit {
        Unit::Unit if number.ratio() == Ratio::ONE => "unit",
        Unit::Milliunit if number.ratio() == Ratio::ONE => "milliunit",
        _ => unit.shown(),
    }
}

pub(super) const fn is_amount(kind: UnitKind) -> bool {
    matches!(kind, UnitKind::Mass | UnitKind::Units | UnitKind::Moles | UnitKind::Equivalents)
}

/// A percentage that a policy states, as in `5 %`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Percent(Number);

impl Percent {
    /// Reads a number and a percent sign.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        let (number, rest) = Piece::whole(text).number(NumberForm::Dose)?;
        if rest.text == "%" {
            Ok(Self(number))
        } else {
            Err(rest.refused(Problem::UnitUnknown { found: rest.found() }, "write a percentage, for example 5 %"))
        }
    }

    /// The exact number of hundredths.
    #[must_use]
    pub fn value(self) -> Ratio {
        self.0.ratio()
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Amount, BodyMass, Volume};
    use rstest::rstest;

    fn same<D: Dimension>(one: &str, other: &str) -> bool {
        let read = |text| Quantity::<D>::parse(text).expect("a quantity");
        read(one) == read(other)
    }

    // 1 lb is 0.45359237 kg: International yard and pound agreement, 1959.
    #[test]
    fn quantities_are_the_same_by_meaning() {
        assert!(same::<Amount>("0.5 mg", "500 mcg") && !same::<Amount>("0.5 mg", "5 mg"));
        assert!(!same::<Amount>("1 unit", "1 mmol") && same::<Amount>("1 mmol", "1000 micromol"));
        assert!(same::<BodyMass>("84.2 kg", "84200 g") && !same::<BodyMass>("84.2 kg", "84.3 kg"));
        assert!(same::<BodyMass>("100 lb", "45.359237 kg"));
        assert!(same::<Volume>("0.05 L", "50 mL"));
    }

    #[rstest]
    #[case("1 units", "1 unit")]
    #[case("1.5 unit", "1.5 units")]
    #[case("1 milliunits", "1 milliunit")]
    #[case("2 milliunit", "2 milliunits")]
    #[case("10000 unit", "10 000 units")]
    #[case("1 mg", "1 mg")]
    fn one_is_not_many(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(Quantity::<Amount>::parse(text).map(|amount| amount.to_string()), Ok(shown.to_owned()));
    }

    #[test]
    fn a_percentage_is_shown_with_its_sign() {
        assert_eq!(Percent::parse("5%").map(|percent| percent.to_string()), Ok("5 %".to_owned()));
    }
}
