//! The sum line by line, as a person would write it down.

use crate::quantity::{
    DoseRate, DoseRateUnit, FlowRate, Kind, Per, Product, Ratio, Stated, Strength, TooLarge, Unit, exact_or_about,
    grouped, plain,
};

use super::rate::Body;

/// The lines from a dose to a rate; `rate` is the exact rate in mL/h.
///
/// # Errors
/// [`TooLarge`] where a step between cannot be kept exactly.
pub fn from_dose(dose: DoseRate, body: Body, strength: Option<Strength>, rate: Ratio) -> Result<Vec<String>, TooLarge> {
    let unit = dose.unit();
    let (amount, time) = (unit.dose().amount(), unit.time());
    let mut lines = Vec::new();
    let mut value = dose.number().ratio();
    if let Some((against, name)) = counted(unit.dose().per(), body) {
        value = value.times(against)?;
        lines.push(format!("{dose} x {} {name} = {}", exact_or_about(against), of(value, amount, time)));
    }
    if time != Unit::Hour {
        let (number, shown) = per_hour(time);
        let factor = if number >= Ratio::ONE { number } else { Ratio::ONE.over(number)? };
        let sign = if number >= Ratio::ONE { 'x' } else { '/' };
        let before = of(value, amount, time);
        value = value.times(number)?;
        lines.push(format!("{before} {sign} {} {shown} = {}", exact_or_about(factor), of(value, amount, Unit::Hour)));
    }
    let Some(strength) = strength.filter(|_| amount.kind() != Kind::Volume) else {
        if amount != Unit::Millilitre {
            lines.push(format!("{} = {} mL/h", of(value, amount, Unit::Hour), exact_or_about(rate)));
        } else if lines.is_empty() {
            lines.push(format!("{dose} = {} mL/h", exact_or_about(rate)));
        }
        return Ok(lines.into_iter().map(about_once).collect());
    };
    lines.extend(stated(strength, amount));
    let per_ml = strength.concentration().shown_in(amount);
    lines.push(format!("{} / {per_ml} = {} mL/h", of(value, amount, Unit::Hour), exact_or_about(rate)));
    Ok(lines.into_iter().map(about_once).collect())
}

/// The lines from a rate to a dose; `dose` is the exact number of the unit.
///
/// # Errors
/// [`TooLarge`] where a step between cannot be kept exactly.
pub fn from_rate(
    rate: FlowRate,
    unit: DoseRateUnit,
    body: Body,
    strength: Option<Strength>,
    dose: Ratio,
) -> Result<Vec<String>, TooLarge> {
    let (amount, time) = (unit.dose().amount(), unit.time());
    let mut lines = Vec::new();
    let mut value = rate.value();
    // As printed before, to its last digit: the line goes on from what was typed.
    let mut shown = format!("{} mL/h", grouped(&plain(value)));
    if rate.to_string() != shown {
        lines.push(format!("{rate} = {shown}"));
    }
    let held = strength.filter(|_| amount.kind() != Kind::Volume);
    if let Some(strength) = held {
        lines.extend(stated(strength, amount));
        let concentration = strength.concentration();
        value = Product::ONE.ratio(value).ratio(concentration.per_ml).over_unit(amount).finish()?;
        let after = of(value, amount, Unit::Hour);
        lines.push(format!("{shown} x {} = {after}", concentration.shown_in(amount)));
        shown = after;
    } else if amount != Unit::Millilitre {
        value = Product::ONE.ratio(value).over_unit(amount).finish()?;
        let after = of(value, amount, Unit::Hour);
        lines.push(format!("{shown} = {after}"));
        shown = after;
    }
    if time != Unit::Hour {
        let (number, name) = per_hour(time);
        let factor = if number >= Ratio::ONE { number } else { Ratio::ONE.over(number)? };
        let sign = if number >= Ratio::ONE { '/' } else { 'x' };
        value = value.over(number)?;
        let after = of(value, amount, time);
        lines.push(format!("{shown} {sign} {} {name} = {after}", exact_or_about(factor)));
        shown = after;
    }
    if let Some((against, name)) = counted(unit.dose().per(), body) {
        lines.push(format!("{shown} / {} {name} = {} {unit}", exact_or_about(against), exact_or_about(dose)));
    } else if lines.is_empty() {
        lines.push(format!("{shown} = {} {unit}", exact_or_about(dose)));
    }
    Ok(lines.into_iter().map(about_once).collect())
}

/// The line in which an exact rate is rounded to a driver's step.
#[must_use]
pub fn rounded(exact: Ratio, set: Ratio, step: FlowRate) -> String {
    if exact == set {
        format!("{} mL/h is a whole number of steps of {step}", exact_or_about(set))
    } else {
        format!("{} mL/h to the nearest step of {step}: {} mL/h", exact_or_about(exact), exact_or_about(set))
    }
}

/// The sign for "about" takes the place of the sign for "equals".
pub fn about_once(line: String) -> String {
    line.replace("= ≈", "≈")
}

fn of(value: Ratio, amount: Unit, time: Unit) -> String {
    format!("{} {}/{}", exact_or_about(value), amount.shown(), time.shown())
}

fn counted(per: Per, body: Body) -> Option<(Ratio, &'static str)> {
    match per {
        Per::Patient => None,
        Per::Kilogram => body.weight.map(|weight| (weight, "kg")),
        Per::SquareMetre => body.surface.map(|surface| (surface, "m2")),
    }
}

/// How many of this time are in an hour, and what that number is called.
fn per_hour(time: Unit) -> (Ratio, &'static str) {
    match time {
        Unit::Second => (Ratio::whole(3600), "s/h"),
        Unit::Minute => (Ratio::whole(60), "min/h"),
        Unit::Day => (Ratio::new(1, 24).expect("a small fraction"), "h/day"),
        _ => (Ratio::ONE, "h/h"),
    }
}

/// How a strength comes to be an amount of this unit per mL: the hidden 1000 and the volume, in the open.
fn stated(strength: Strength, amount: Unit) -> Option<String> {
    let per_ml = strength.concentration().shown_in(amount);
    let written = match strength.stated() {
        Stated::Of { volume, .. } if volume.number().ratio() == Ratio::ONE && volume.unit() == Unit::Millilitre => {
            strength.concentration().shown_in(strength.amount_unit())
        }
        Stated::Of { amount: held, volume, .. } if held.unit() != amount => {
            let converted = Product::ONE.ratio(held.value()).over_unit(amount).finish().ok()?;
            format!("{held} in {volume} = {} {} in {volume}", exact_or_about(converted), amount.shown())
        }
        Stated::Of { amount: held, volume, .. } => format!("{held} in {volume}"),
        Stated::Percent(_) | Stated::OneIn(_) => strength.to_string(),
    };
    (written != per_ml).then(|| format!("{written} = {per_ml}"))
}
