//! Rates worked out beforehand in exact fractions and to thirty digits by another program, over every unit of dose; and
//! entries that must be refused, each for its own reason.

use std::collections::BTreeMap;

use crate::published::{body, exact, strength, table, why};
use countersign::infusion::rate::{Body, RateError, dose_at, rate_for};
use countersign::quantity::{BolusDose, DoseRate, Ratio, Strength, plain};
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct Entry {
    id: String,
    weight_value: String,
    weight_unit: String,
    bsa_m2: String,
    conc_amount: String,
    conc_amount_unit: String,
    conc_volume: String,
    conc_volume_unit: String,
    dose_value: String,
    dose_unit: String,
    #[serde(default)]
    reason: String,
    #[serde(default, rename = "rate_mL_per_h_num")]
    rate_num: u128,
    #[serde(default, rename = "rate_mL_per_h_den")]
    rate_den: u128,
    #[serde(default)]
    rate_decimal_30: String,
    #[serde(default)]
    rate_2dp_half_up: String,
    #[serde(default)]
    rate_1dp_half_up: String,
}

impl Entry {
    fn dose(&self, spelled: fn(&str) -> String) -> String {
        format!("{} {}", self.dose_value, spelled(&self.dose_unit))
    }

    fn strength(&self, spelled: fn(&str) -> String) -> String {
        if self.conc_amount.is_empty() {
            return String::new();
        }
        let (amount, volume) = (spelled(&self.conc_amount_unit), spelled(&self.conc_volume_unit));
        format!("{} {amount} in {} {volume}", self.conc_amount, self.conc_volume)
    }

    fn body(&self, spelled: fn(&str) -> String) -> Body {
        let typed = |value: &str, unit: &str| {
            if value.is_empty() { String::new() } else { format!("{value} {}", spelled(unit)) }
        };
        body(&typed(&self.weight_value, &self.weight_unit), &typed(&self.bsa_m2, "m2"))
    }
}

#[test]
fn every_rate_is_exact_in_both_directions_and_both_spellings() {
    let rows: Vec<Entry> = table("rate_cases");
    for row in &rows {
        let expected = Ratio::new(row.rate_num, row.rate_den).expect("a published fraction");
        for spelled in [as_written, ucum] {
            let text = row.dose(spelled);
            let dose = DoseRate::parse(&text).unwrap_or_else(|refused| panic!("{text}: {refused}, {}", row.id));
            let (body, strength) = (row.body(spelled), strength(&row.strength(spelled)));
            assert_eq!(rate_for(dose, body, strength), Ok(expected), "{text}, {}", row.id);
            let back = dose_at(expected, dose.unit(), body, strength);
            assert_eq!(back, Ok(exact(&row.dose_value)), "{text} back from its rate, {}", row.id);
        }
        assert_eq!(plain(expected), twelve_digits(&row.rate_decimal_30), "{row:?}");
        assert_eq!(expected.to_nearest(exact("0.01")), Ok(exact(&row.rate_2dp_half_up)), "{row:?}");
        assert_eq!(expected.to_nearest(exact("0.1")), Ok(exact(&row.rate_1dp_half_up)), "{row:?}");
    }
    assert_eq!(rows.len(), 954, "rows checked");
}

#[test]
fn every_faulty_entry_is_refused_for_its_own_reason() {
    let rows: Vec<Entry> = table("refused_cases");
    let mut checked: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &rows {
        let expected = match row.reason.as_str() {
            "amount/volume swapped" => "strength-swapped",
            "dose without time" => "dose-time-missing",
            "dose kind differs from concentration kind"
            | "mEq vs mmol without valence"
            | "mol vs mass without molar mass" => "kinds differ",
            "per-kg dose without weight" => "weight missing",
            "per-m2 dose without BSA" => "surface missing",
            other => panic!("{other} is not a reason: {row:?}"),
        };
        for spelled in [as_written, ucum] {
            assert_eq!(outcome(row, spelled), expected, "{row:?}");
        }
        mended(row);
        *checked.entry(&row.reason).or_default() += 1;
    }
    assert_eq!(rows.len(), 197, "rows checked");
    let counted = [
        ("amount/volume swapped", 51),
        ("dose kind differs from concentration kind", 26),
        ("dose without time", 76),
        ("mEq vs mmol without valence", 5),
        ("mol vs mass without molar mass", 2),
        ("per-kg dose without weight", 35),
        ("per-m2 dose without BSA", 2),
    ];
    assert_eq!(checked, BTreeMap::from(counted));
}

/// The one thing that is wrong with an entry, which is read in the order strength, dose, sum.
fn outcome(row: &Entry, spelled: fn(&str) -> String) -> &'static str {
    let text = row.strength(spelled);
    let strength = match (!text.is_empty()).then(|| Strength::parse(&text)).transpose() {
        Ok(strength) => strength,
        Err(refused) => return refused.problem.code(),
    };
    match DoseRate::parse(&row.dose(spelled)) {
        Ok(dose) => match rate_for(dose, row.body(spelled), strength) {
            Ok(_) => "a rate",
            Err(no_rate) => why(&no_rate),
        },
        Err(refused) => refused.problem.code(),
    }
}

/// With the one fault mended, the entry has a rate: so nothing else was at fault.
fn mended(row: &Entry) {
    let body = Body { weight: Some(Ratio::ONE), surface: Some(Ratio::ONE) };
    let dose = row.dose(as_written);
    let found: Result<Ratio, RateError> = match row.reason.as_str() {
        "amount/volume swapped" => {
            let turned =
                format!("{} {} in {} {}", row.conc_volume, row.conc_volume_unit, row.conc_amount, row.conc_amount_unit);
            rate_for(DoseRate::parse(&dose).expect("a dose"), body, strength(&turned))
        }
        "dose without time" => {
            assert!(BolusDose::parse(&dose).is_ok(), "it is a bolus: {row:?}");
            let dose = DoseRate::parse(&format!("{dose}/h")).expect("a dose");
            rate_for(dose, body, strength(&row.strength(as_written)))
        }
        "per-kg dose without weight" | "per-m2 dose without BSA" => {
            rate_for(DoseRate::parse(&dose).expect("a dose"), body, strength(&row.strength(as_written)))
        }
        // No mend: the kinds differ, and neither a molar mass nor a valence is taken.
        _ => return,
    };
    assert!(found.is_ok(), "{found:?}: {row:?}");
}

fn as_written(unit: &str) -> String {
    unit.to_owned()
}

/// The same unit in the Unified Code for Units of Measure.
fn ucum(unit: &str) -> String {
    let code = |part| match part {
        "mcg" => "ug",
        "milliunits" => "m[IU]",
        "units" => "[IU]",
        "mcmol" => "umol",
        "mEq" => "meq",
        "mL" => "ml",
        "L" => "l",
        "day" => "d",
        "lb" => "[lb_av]",
        same => same,
    };
    unit.split('/').map(code).collect::<Vec<_>>().join("/")
}

/// A long decimal to twelve significant digits, halves up, worked on its digits alone.
fn twelve_digits(text: &str) -> String {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let digits: u128 = format!("{whole}{fraction}").parse().expect("digits");
    let surplus = u32::try_from(digits.to_string().len().saturating_sub(12)).expect("short");
    let scale = u32::try_from(fraction.len()).expect("short");
    assert!(surplus <= scale, "{text} has at most twelve digits before the point");
    let power = 10_u128.pow(surplus);
    let kept = digits / power + u128::from(digits % power * 2 >= power);
    let places = usize::try_from(scale - surplus).expect("short");
    let padded = format!("{kept:0>width$}", width = places + 1);
    let (whole, fraction) = padded.split_at(padded.len() - places);
    let fraction = fraction.trim_end_matches('0');
    if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") }
}
