//! What is left to infuse, how long it lasts, how many syringes are needed, and when the first drug arrives.

use crate::entry::{Entry, LineFilled};
use crate::formulary::{Container, Line};
use crate::quantity::{Quantity, Ratio, TooLarge};

/// The course of one syringe at the set rate.
#[derive(Debug, Clone)]
pub struct Run {
    /// In the container after drawing up, mL.
    pub fill: Ratio,
    /// Goes into the line before the start, mL; nothing where the line is filled otherwise.
    pub priming: Ratio,
    /// Cannot be pushed out, mL.
    pub stays_behind: Ratio,
    /// Left to infuse, mL: fill less the two above.
    pub left: Ratio,
    /// How long that lasts, hours: an ordered bolus is taken off once.
    pub lasts: Ratio,
    /// Containers for the planned time, where it is known.
    pub containers: Option<u128>,
    /// Dead space that does not hold the drug yet, mL.
    pub empty_of_drug: Ratio,
    /// How long the first drug takes through it at the set rate, hours.
    pub arrives_after: Ratio,
}

impl Run {
    /// Computes the course; `rate` is the set rate in mL/h, above zero, and `bolus` what an ordered bolus takes, in mL.
    pub(super) fn of(
        entry: &Entry,
        container: &Container,
        line: &Line,
        rate: Ratio,
        bolus: Ratio,
    ) -> Result<Self, TooLarge> {
        let in_line = line.priming_volume.value();
        let (priming, line_without_drug) = match entry.line_filled() {
            LineFilled::FromThisSyringe => (in_line, Ratio::ZERO),
            LineFilled::AlreadyFull => (Ratio::ZERO, Ratio::ZERO),
            LineFilled::WithDiluent | LineFilled::Empty => (Ratio::ZERO, in_line),
        };
        let (fill, stays_behind) = (entry.fill().value(), container.stays_behind.value());
        let each = fill.less(stays_behind)?;
        let left = each.less(priming)?;
        let empty_of_drug = line_without_drug.plus(entry.beyond().map_or(Ratio::ZERO, Quantity::value))?;
        let containers = match entry.planned_for() {
            None => None,
            Some(planned) => Some(containers(planned.value().times(rate)?.plus(bolus)?, left, each)?),
        };
        Ok(Self {
            fill,
            priming,
            stays_behind,
            left,
            lasts: left.less(bolus)?.over(rate)?,
            containers,
            empty_of_drug,
            arrives_after: empty_of_drug.over(rate)?,
        })
    }
}

/// The first container fills the line; each later one brings all but what stays behind.
fn containers(needed: Ratio, first: Ratio, each: Ratio) -> Result<u128, TooLarge> {
    if needed <= first || each.is_zero() {
        return Ok(1);
    }
    Ok(1 + needed.less(first)?.over(each)?.ceiling())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_syringe_is_counted_from_what_the_first_leaves() {
        let ml = Ratio::whole;
        assert_eq!(containers(ml(49), ml(49), ml(50)), Ok(1));
        assert_eq!(containers(ml(50), ml(49), ml(50)), Ok(2));
        assert_eq!(containers(ml(99), ml(49), ml(50)), Ok(2));
        assert_eq!(containers(ml(100), ml(49), ml(50)), Ok(3));
    }
}
