//! Rates of volume: what a driver is set to, and its smallest step.

use std::fmt;

use super::read::Piece;
use super::refused::{Problem, Refused};
use super::show::grouped;
use super::{Number, NumberForm, Product, Ratio, Unit, UnitKind};

/// A typed rate in volume per time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FlowRate {
    number: Number,
    volume: Unit,
    time: Unit,
    /// In mL/h, worked out once, when it is read.
    value: Ratio,
}

impl FlowRate {
    /// Reads a rate as a person types it.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Measured)
    }

    /// Reads a rate that may have been printed by this program: up to twelve significant digits.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse_computed(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Computed)
    }

    pub(super) fn read(text: &str, form: NumberForm) -> Result<Self, Refused> {
        const EXPECTED: &str = "a rate in mL/h, for example 3.6 mL/h";
        let whole = Piece::whole(text);
        let (number, rest) = whole.number(form)?;
        let help = format!("write {EXPECTED}");
        if rest.text.is_empty() {
            return Err(whole.refused(Problem::UnitMissing { found: whole.found() }, help));
        }
        let (volume, time) = rest.cut();
        let unit = volume.unit(EXPECTED)?;
        if unit.kind() != UnitKind::Volume {
            let problem = Problem::WrongKind {
                found: rest.found(),
                what: unit.kind().described().to_owned(),
                expected: "a volume per time".to_owned(),
            };
            return Err(rest.refused(problem, help));
        }
        let Some(time) = time else {
            return Err(rest.refused(Problem::TimeMissing { found: rest.found() }, help));
        };
        let time_unit = time.unit(EXPECTED)?;
        if time_unit.kind() != UnitKind::Time {
            return Err(time.refused(Problem::DivisorUnknown { found: time.found() }, help));
        }
        let product = Product::ONE.number(number).unit(unit).unit(Unit::Hour).over_unit(time_unit);
        let value = product.finish().expect("at most 12 digits and unit factors below 10^7 fit in 10^37");
        Ok(Self { number, volume: unit, time: time_unit, value })
    }

    /// The exact value in mL/h.
    #[must_use]
    pub const fn value(self) -> Ratio {
        self.value
    }
}

impl fmt::Display for FlowRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}/{}", grouped(&self.number.to_string()), self.volume.shown(), self.time.shown())
    }
}

/// The step in which a driver's rate is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Multiples of this rate.
    Of(FlowRate),
    /// Not rounded: a sum on paper.
    None,
}

impl Step {
    /// Reads a rate, or the word `none`.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        if text.trim() == "none" { Ok(Self::None) } else { FlowRate::parse(text).map(Self::Of) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_a_rate_or_none() {
        assert_eq!(Step::parse(" none "), Ok(Step::None));
        assert_eq!(Step::parse("0.1 mL/h"), FlowRate::parse("0.1 mL/h").map(Step::Of));
        assert!(Step::parse("0.1").is_err());
    }

    #[test]
    fn a_rate_is_shown_by_the_rules() {
        assert_eq!(FlowRate::parse("12500 ml/h").map(|rate| rate.to_string()), Ok("12 500 mL/h".to_owned()));
    }
}
