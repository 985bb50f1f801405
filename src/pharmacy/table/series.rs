//! The doses and weights of a table: round numbers that a person reads, with the limits themselves among them.

use crate::formulary::{Area, DoseLimits, Indication};
use crate::quantity::{BodyMass, DoseRate, DoseRateUnit, Quantity, Ratio, TooLarge, plain};

/// Largest number of doses in steps of one size.
const MOST: u64 = 14;

/// From this width on, steps grow with the dose.
const WIDE: u64 = 12;

/// The doses from the lower soft limit (or the usual range, where there is none) to the upper one, with both usual ends:
/// equal round steps over a narrow range, 1, 1.5, 2, 3, 5, 7 of each power of ten over a wide one.
///
/// # Errors
/// [`TooLarge`] when they cannot be kept exactly.
pub fn doses(limits: &DoseLimits, unit: DoseRateUnit) -> Result<Vec<DoseRate>, TooLarge> {
    let number = |dose: DoseRate| dose.number().ratio();
    let soft = limits.beyond.soft.as_ref();
    let ends = [limits.usual.from, limits.usual.to, soft.and_then(|band| band.from), soft.and_then(|band| band.to)];
    let ends: Vec<Ratio> = ends.into_iter().flatten().map(number).collect();
    let (Some(from), Some(to)) = (ends.iter().min().copied(), ends.iter().max().copied()) else {
        return Ok(Vec::new());
    };
    let mut values = ends;
    if from.is_zero() || to.over(from)? > Ratio::whole(WIDE) {
        growing(if from.is_zero() { to.over(Ratio::whole(1000))? } else { from }, to, &mut values)?;
    } else {
        equal(from, to, &mut values)?;
    }
    values.sort_unstable();
    values.dedup();
    let read = |value: Ratio| DoseRate::parse(&format!("{} {unit}", crate::quantity::grouped(&plain(value))));
    values.into_iter().filter(|value| !value.is_zero()).map(|value| read(value).map_err(|_| TooLarge)).collect()
}

/// Common weights within the soft limits of area and use, at most nine.
#[must_use]
pub fn weights(area: &Area, indication: &Indication) -> Vec<Quantity<BodyMass>> {
    let fits = |weight: &Quantity<BodyMass>| {
        [&area.weight.soft, &indication.weight.soft]
            .into_iter()
            .flatten()
            .all(|band| band.outside(weight.value()).is_none())
    };
    let common = COMMON.iter().filter_map(|kg| Quantity::<BodyMass>::parse(&format!("{kg} kg")).ok());
    let all: Vec<Quantity<BodyMass>> = common.filter(fits).collect();
    let every = all.len().div_ceil(COLUMNS).max(1);
    all.into_iter().step_by(every).collect()
}

const COLUMNS: usize = 9;

/// Weights in kg from a small newborn to a heavy adult.
const COMMON: [&str; 28] = [
    "1", "1.5", "2", "2.5", "3", "3.5", "4", "4.5", "5", "6", "8", "10", "12", "15", "20", "25", "30", "35", "40",
    "50", "60", "70", "80", "90", "100", "120", "140", "160",
];

fn equal(from: Ratio, to: Ratio, values: &mut Vec<Ratio>) -> Result<(), TooLarge> {
    let width = to.less(from)?;
    if width.is_zero() {
        return Ok(());
    }
    let mut step = power_below(width)?.over(Ratio::whole(100))?;
    for factor in [2, 5, 10, 20, 50, 100, 200] {
        if width.over(step)? <= Ratio::whole(MOST) {
            break;
        }
        step = power_below(width)?.times(Ratio::whole(factor))?.over(Ratio::whole(100))?;
    }
    let mut value = step.times(Ratio::new(from.over(step)?.ceiling(), 1)?)?;
    while value <= to {
        values.push(value);
        value = value.plus(step)?;
    }
    Ok(())
}

fn growing(from: Ratio, to: Ratio, values: &mut Vec<Ratio>) -> Result<(), TooLarge> {
    let mut power = power_below(from)?;
    while power <= to {
        for tenths in [10, 15, 20, 30, 50, 70] {
            let value = power.times(Ratio::whole(tenths))?.over(Ratio::whole(10))?;
            if value >= from && value <= to {
                values.push(value);
            }
        }
        power = power.times(Ratio::whole(10))?;
    }
    Ok(())
}

/// The largest power of ten that is not above a value.
fn power_below(value: Ratio) -> Result<Ratio, TooLarge> {
    let ten = Ratio::whole(10);
    let mut power = Ratio::ONE;
    while power > value {
        power = power.over(ten)?;
    }
    while power.times(ten)? <= value {
        power = power.times(ten)?;
    }
    Ok(power)
}
