//! Quantities as this program keeps them to read again: as the text that people read, an exact fraction as two whole
//! numbers. What was read once is read again whatever a form asks of people by then.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{
    Age, BolusDose, Dimension, DoseRate, DoseRateUnit, DoseUnit, FlowRate, Moment, Number, NumberForm, Quantity, Ratio,
    Refused, Stated, Strength, TooLarge,
};

/// A quantity with a text of its own, out of which it is read again.
trait Kept: Sized {
    type Unreadable: fmt::Display;
    fn text(&self) -> String;
    fn read(text: &str) -> Result<Self, Self::Unreadable>;
}

macro_rules! kept {
    ($($type:ty: |$value:ident| $text:expr, |$read:ident| $parsed:expr, $unreadable:ty;)+) => {$(
        impl Kept for $type {
            type Unreadable = $unreadable;
            fn text(&self) -> String {
                let $value = self;
                $text
            }
            fn read($read: &str) -> Result<Self, $unreadable> {
                $parsed
            }
        }
        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(&Kept::text(self))
            }
        }
        impl<'de> Deserialize<'de> for $type {
            fn deserialize<R: Deserializer<'de>>(deserializer: R) -> Result<Self, R::Error> {
                let text = String::deserialize(deserializer)?;
                Kept::read(&text).map_err(|why| de::Error::custom(format_args!("`{text}`: {why}")))
            }
        }
    )+};
}

kept! {
    Ratio: |value| format!("{}/{}", value.numerator(), value.denominator()), |text| fraction(text), TooLarge;
    Number: |value| value.to_string(), |text| Self::parse(text, NumberForm::Kept), Refused;
    FlowRate: |value| value.to_string(), |text| Self::read(text, NumberForm::Kept), Refused;
    DoseUnit: |value| value.to_string(), |text| Self::parse(text), Refused;
    DoseRateUnit: |value| value.to_string(), |text| Self::parse(text), Refused;
    BolusDose: |value| value.to_string(), |text| Self::read(text, NumberForm::Kept), Refused;
    DoseRate: |value| value.to_string(), |text| Self::read(text, NumberForm::Kept), Refused;
    Strength: |value| stated(*value), |text| Self::read(text, NumberForm::Kept), Refused;
    Moment: |value| to_the_second(*value), |text| Self::parse(text), Refused;
    Age: |value| value.to_string(), |text| Self::parse(text), Refused;
}

impl<D: Dimension> Serialize for Quantity<D> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.to_string())
    }
}

impl<'de, D: Dimension> Deserialize<'de> for Quantity<D> {
    fn deserialize<R: Deserializer<'de>>(deserializer: R) -> Result<Self, R::Error> {
        let text = String::deserialize(deserializer)?;
        Self::read(&text, NumberForm::Kept).map_err(|why| de::Error::custom(format_args!("`{text}`: {why}")))
    }
}

fn fraction(text: &str) -> Result<Ratio, TooLarge> {
    let (above, below) = text.split_once('/').ok_or(TooLarge)?;
    let part = |text: &str| text.parse().map_err(|_| TooLarge);
    Ratio::new(part(above)?, part(below)?)
}

fn to_the_second(moment: Moment) -> String {
    let local = moment.offset.to_datetime(moment.instant);
    let (date, time) = (local.date(), local.time());
    format!("{date}T{:02}:{:02}:{:02}{}", time.hour(), time.minute(), time.second(), moment.offset())
}

/// As it was written: a percentage and a ratio are shown to people in mg/mL, which says less.
fn stated(strength: Strength) -> String {
    match strength.stated() {
        Stated::Of { .. } => strength.to_string(),
        Stated::Percent(number) => format!("{number} %"),
        Stated::OneIn(number) => format!("1:{number}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Amount, BodyMass, Time, Volume};
    use proptest::prelude::*;
    use rstest::rstest;

    fn again<T: Serialize + for<'de> Deserialize<'de>>(value: &T) -> T {
        serde_json::from_str(&serde_json::to_string(value).expect("text")).expect("what was kept is read again")
    }

    #[rstest]
    #[case("80 mcg/mL")]
    #[case("4 mg in 50 mL")]
    #[case("25000 units in 50 mL")]
    #[case("1 unit/mL")]
    #[case("10 %")]
    #[case("1:10 000")]
    #[case("40 mmol in 1 L")]
    fn a_strength_is_kept_as_it_was_written(#[case] text: &str) {
        let strength = Strength::parse(text).expect("a strength");
        assert_eq!(again(&strength), strength);
        assert_eq!(again(&strength).to_string(), strength.to_string());
    }

    #[rstest]
    #[case("0.05 mcg/kg/min")]
    #[case("12500 units/h")]
    #[case("1 unit/h")]
    #[case("30 mL/h")]
    #[case("2 mg/m2/day")]
    fn a_dose_is_kept_as_it_was_typed(#[case] text: &str) {
        let dose = DoseRate::parse(text).expect("a dose");
        assert_eq!(again(&dose), dose);
        assert_eq!(again(&dose.unit()), dose.unit());
    }

    #[test]
    fn zero_and_long_numbers_are_kept_too() {
        let zero = Quantity::<Volume>::parse_or_zero("0 mL").expect("a volume");
        assert_eq!(again(&zero), zero);
        let rate = FlowRate::parse_computed("123.456789012 mL/h").expect("a rate");
        assert_eq!(again(&rate), rate);
        let bolus = BolusDose::parse("0.5 mg/kg").expect("a bolus");
        assert_eq!(again(&bolus), bolus);
        for text in ["84200 g", "84.2 kg"] {
            let weight = Quantity::<BodyMass>::parse(text).expect("a weight");
            assert_eq!((again(&weight), again(&weight).to_string()), (weight, weight.to_string()));
        }
        let amount = Quantity::<Amount>::parse("1 units").expect("an amount");
        assert_eq!(again(&amount), amount);
        let time = Quantity::<Time>::parse("2 days").expect("a time");
        assert_eq!(again(&time), time);
        assert!(serde_json::from_str::<Ratio>("\"1/0\"").is_err());
    }

    #[test]
    fn a_moment_is_kept_to_the_second() {
        let moment = Moment::parse("2026-03-14T07:40:31+01:00").expect("a moment");
        assert_eq!((again(&moment), again(&moment).offset()), (moment, "+01:00".to_owned()));
    }

    proptest! {
        #[test]
        fn every_fraction_is_kept_exactly(above in 0_u128..10_u128.pow(30), below in 1_u128..10_u128.pow(30)) {
            let ratio = Ratio::new(above, below).expect("small enough");
            prop_assert_eq!(again(&ratio), ratio);
        }
    }
}
