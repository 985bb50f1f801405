//! The sum line by line, as a person would write it down.

use std::cmp::Ordering;

use crate::quantity::{
    DoseRate, DoseRateUnit, FlowRate, Per, Product, Ratio, Stated, Strength, TooLarge, Unit, UnitKind, exact_or_about,
    grouped, percent, plain,
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
    if let Some((factor, is_shorter, name)) = to_an_hour(time) {
        let before = of(value, amount, time);
        let sign = if is_shorter { 'x' } else { '/' };
        value = if is_shorter { value.times(factor)? } else { value.over(factor)? };
        lines.push(format!("{before} {sign} {} {name} = {}", exact_or_about(factor), of(value, amount, Unit::Hour)));
    }
    let Some(strength) = strength.filter(|_| amount.kind() != UnitKind::Volume) else {
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
    let held = strength.filter(|_| amount.kind() != UnitKind::Volume);
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
    if let Some((factor, is_shorter, name)) = to_an_hour(time) {
        let sign = if is_shorter { '/' } else { 'x' };
        value = if is_shorter { value.over(factor)? } else { value.times(factor)? };
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
    let half = Ratio::new(1, 2).unwrap_or(Ratio::ONE);
    if exact == set {
        format!("{} mL/h is a whole number of steps of {step}", exact_or_about(set))
    } else if exact.less(set).is_ok_and(|off| off.over(step.value()).is_ok_and(|steps| steps > half)) {
        // Where a hard maximum keeps it from the nearest one, or the step changes there.
        format!("{} mL/h down to the next that can be set: {} mL/h", exact_or_about(exact), exact_or_about(set))
    } else {
        format!("{} mL/h to the nearest step of {step}: {} mL/h", exact_or_about(exact), exact_or_about(set))
    }
}

/// A given dose against the ordered one, `off` percent away: `≈ 1.2 % less than ordered`; nothing where it is that dose.
#[must_use]
pub fn off(off: Ratio, given: Ratio, ordered: DoseRate) -> Option<String> {
    let side = match given.cmp(&ordered.number().ratio()) {
        Ordering::Equal => return None,
        Ordering::Greater => "more",
        Ordering::Less => "less",
    };
    Some(format!("{} {side} than ordered", percent(off)))
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

/// By how much this time differs from an hour, whether it is shorter, and what that number is called.
const fn to_an_hour(time: Unit) -> Option<(Ratio, bool, &'static str)> {
    match time {
        Unit::Second => Some((Ratio::whole(3600), true, "s/h")),
        Unit::Minute => Some((Ratio::whole(60), true, "min/h")),
        Unit::Day => Some((Ratio::whole(24), false, "h/day")),
        _ => None,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::infusion::rate::{dose_at, percent_off, rate_for};
    use crate::quantity::{Number, NumberForm};
    use rstest::rstest;

    /// A woman of 84.2 kg and 1.8 m2.
    fn body() -> Body {
        let number = |text| Number::parse(text, NumberForm::Measured).expect("a number").ratio();
        Body { weight: Some(number("84.2")), surface: Some(number("1.8")) }
    }

    fn strength(text: &str) -> Option<Strength> {
        (!text.is_empty()).then(|| Strength::parse(text).expect("a strength"))
    }

    #[rstest]
    #[case("0.08 mcg/kg/min", "80 mcg/mL", &[
        "0.08 mcg/kg/min x 84.2 kg = 6.736 mcg/min",
        "6.736 mcg/min x 60 min/h = 404.16 mcg/h",
        "404.16 mcg/h / 80 mcg/mL = 5.052 mL/h",
    ])]
    #[case("400 mcg/h", "4 mg in 50 mL", &["4 mg in 50 mL = 4000 mcg in 50 mL = 80 mcg/mL", "400 mcg/h / 80 mcg/mL = 5 mL/h"])]
    #[case("5 mg/day", "1 mg/mL", &["5 mg/day / 24 h/day ≈ 0.2083 mg/h", "≈ 0.2083 mg/h / 1 mg/mL ≈ 0.2083 mL/h"])]
    #[case("1 mcg/s", "1 mg/mL", &["1 mcg/s x 3600 s/h = 3600 mcg/h", "1 mg/mL = 1000 mcg/mL", "3600 mcg/h / 1000 mcg/mL = 3.6 mL/h"])]
    #[case("9 mg/m2/h", "1 %", &["9 mg/m2/h x 1.8 m2 = 16.2 mg/h", "10 mg/mL (1 %) = 10 mg/mL", "16.2 mg/h / 10 mg/mL = 1.62 mL/h"])]
    #[case("2 mg/h", "50 mg in 50 mL", &["50 mg in 50 mL = 1 mg/mL", "2 mg/h / 1 mg/mL = 2 mL/h"])]
    #[case("2 mg/h", "500 mg in 1 L", &["500 mg in 1 L = 0.5 mg/mL", "2 mg/h / 0.5 mg/mL = 4 mL/h"])]
    #[case("2 mg/h", "1 mg in 1 mL", &["2 mg/h / 1 mg/mL = 2 mL/h"])]
    #[case("3 mL/h", "", &["3 mL/h = 3 mL/h"])]
    #[case("3 mL/h", "80 mcg/mL", &["3 mL/h = 3 mL/h"])]
    #[case("0.003 L/h", "", &["0.003 L/h = 3 mL/h"])]
    #[case("2 mL/min", "", &["2 mL/min x 60 min/h = 120 mL/h"])]
    #[case("2 mL/kg/h", "", &["2 mL/kg/h x 84.2 kg = 168.4 mL/h"])]
    fn a_rate_is_worked_out_line_by_line(#[case] dose: &str, #[case] of: &str, #[case] lines: &[&str]) {
        let (dose, strength) = (DoseRate::parse(dose).expect("a dose"), strength(of));
        let rate = rate_for(dose, body(), strength).expect("a rate");
        assert_eq!(from_dose(dose, body(), strength, rate).expect("small"), lines);
    }

    #[rstest]
    #[case("5.052 mL/h", "mcg/kg/min", "80 mcg/mL", &[
        "5.052 mL/h x 80 mcg/mL = 404.16 mcg/h",
        "404.16 mcg/h / 60 min/h = 6.736 mcg/min",
        "6.736 mcg/min / 84.2 kg = 0.08 mcg/kg/min",
    ])]
    #[case("5 mL/h", "mg/day", "1 mg/mL", &["5 mL/h x 1 mg/mL = 5 mg/h", "5 mg/h x 24 h/day = 120 mg/day"])]
    #[case("5 mL/h", "mcg/h", "4 mg in 50 mL", &["4 mg in 50 mL = 4000 mcg in 50 mL = 80 mcg/mL", "5 mL/h x 80 mcg/mL = 400 mcg/h"])]
    #[case("0.005 L/h", "mL/h", "", &["0.005 L/h = 5 mL/h"])]
    #[case("5 mL/h", "mL/h", "", &["5 mL/h = 5 mL/h"])]
    #[case("5 mL/h", "mL/h", "80 mcg/mL", &["5 mL/h = 5 mL/h"])]
    #[case("5 mL/h", "L/h", "", &["5 mL/h = 0.005 L/h"])]
    #[case("168.4 mL/h", "mL/kg/h", "", &["168.4 mL/h / 84.2 kg = 2 mL/kg/h"])]
    #[case("1.62 mL/h", "mg/m2/h", "10 mg/mL", &["1.62 mL/h x 10 mg/mL = 16.2 mg/h", "16.2 mg/h / 1.8 m2 = 9 mg/m2/h"])]
    fn a_dose_is_worked_out_line_by_line(
        #[case] rate: &str,
        #[case] unit: &str,
        #[case] of: &str,
        #[case] lines: &[&str],
    ) {
        let (rate, strength) = (FlowRate::parse(rate).expect("a rate"), strength(of));
        let unit = DoseRateUnit::parse(unit).expect("a unit");
        let dose = dose_at(rate.value(), unit, body(), strength).expect("a dose");
        assert_eq!(from_rate(rate, unit, body(), strength, dose).expect("small"), lines);
    }

    #[test]
    fn rounding_to_a_step_is_a_line_of_its_own() {
        let step = FlowRate::parse("0.1 mL/h").expect("a step");
        let rate = |text| FlowRate::parse(text).expect("a rate").value();
        assert_eq!(
            rounded(rate("5.052 mL/h"), rate("5.1 mL/h"), step),
            "5.052 mL/h to the nearest step of 0.1 mL/h: 5.1 mL/h"
        );
        assert_eq!(
            rounded(rate("5.066 mL/h"), rate("5 mL/h"), step),
            "5.066 mL/h down to the next that can be set: 5 mL/h"
        );
        assert_eq!(rounded(rate("5 mL/h"), rate("5 mL/h"), step), "5 mL/h is a whole number of steps of 0.1 mL/h");
    }

    #[test]
    fn what_is_given_is_more_or_less_than_ordered_or_the_same() {
        let ordered = DoseRate::parse("0.5 mcg/kg/min").expect("a dose");
        let said = |given: (u128, u128)| {
            let given = Ratio::new(given.0, given.1).expect("small");
            off(percent_off(given, ordered).expect("small"), given, ordered)
        };
        assert_eq!(said((6, 10)).as_deref(), Some("20 % more than ordered"));
        assert_eq!(said((4, 10)).as_deref(), Some("20 % less than ordered"));
        assert_eq!(said((1, 3)).as_deref(), Some("≈ 33 % less than ordered"));
        assert_eq!(said((1, 2)), None);
    }
}
