//! Strengths in percent and as a ratio, and the standard concentrations of intensive care: each is the printed number
//! of mg or mcg in a mL.

use std::collections::BTreeSet;

use crate::published::{exact, strength, strength_in, table};
use countersign::infusion::rate::{Body, volume_of};
use countersign::quantity::{BolusDose, DoseRateUnit, Strength, Unit, UnitKind};
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct Row {
    id: String,
    check: String,
    text: String,
    value: String,
    as_printed: String,
    #[expect(dead_code, reason = "shown with a failure")]
    cite: String,
}

#[test]
fn percent_and_ratio_are_grams_in_millilitres() {
    let rows: Vec<Row> = table("strengths_percent_ratio");
    for row in &rows {
        let read = Strength::parse(&row.text);
        match row.check.as_str() {
            "mg/mL" => {
                let read = read.expect("a strength");
                assert_eq!(strength_in(read, "mg/mL"), exact(&row.value), "{row:?}");
                assert_eq!(Some(read), strength(&format!("{} mg/mL", row.value)), "{row:?}");
            }
            "same" => assert_eq!(read.ok(), strength(&row.value), "{row:?}"),
            "holds" => {
                let (amount, volume) = row.value.split_once(" in ").expect("an amount in a volume");
                let bolus = BolusDose::parse(amount).expect("an amount");
                let found = volume_of(bolus, Body::default(), read.ok()).expect("a volume");
                assert_eq!(format!("{} mL", countersign::quantity::plain(found)), volume, "{row:?}");
            }
            // A salt and its base are two amounts, and no quantity is converted between them.
            "refused" => assert_eq!(read.expect_err("refused").problem.code(), row.value, "{row:?}"),
            other => panic!("{other} is not a check: {row:?}"),
        }
        match row.as_printed.as_str() {
            "" => {}
            printed if printed.contains(',') => {
                let refused = Strength::parse(printed).expect_err("a comma may be a decimal sign");
                assert_eq!(refused.problem.code(), "number-comma", "{row:?}");
            }
            printed => assert_eq!(Strength::parse(printed).ok(), strength(&row.text), "{row:?}"),
        }
    }
    assert_eq!(rows.len(), 26, "figures checked");
    assert_eq!(rows.iter().map(|row| &row.id).collect::<BTreeSet<_>>().len(), 22, "published rows");
}

#[derive(Debug, Deserialize)]
struct Standard {
    drug: String,
    state: String,
    composition: String,
    concentration: String,
    dose_unit: String,
    #[expect(dead_code, reason = "shown with a failure")]
    cite: String,
}

#[test]
fn every_standard_composition_has_its_printed_concentration() {
    let rows: Vec<Standard> = table("standard_concentrations");
    let (mut compositions, mut concentrations) = (0, 0);
    for row in rows.iter().filter(|row| row.state != "not seen") {
        let (number, unit) = row.concentration.split_once(' ').expect("a number and a unit");
        let printed = Strength::parse(&row.concentration).unwrap_or_else(|refused| panic!("{refused}: {row:?}"));
        assert_eq!(strength_in(printed, unit), exact(number), "{row:?}");
        assert_eq!(printed.to_string(), row.concentration, "shown as printed: {row:?}");
        concentrations += 1;
        if row.state == "checked" {
            for composition in row.composition.split("; ") {
                let made = Strength::parse(composition).unwrap_or_else(|refused| panic!("{refused}: {row:?}"));
                assert_eq!(strength_in(made, unit), exact(number), "{row:?}");
                assert_eq!(made.to_string(), composition, "shown as written: {row:?}");
                compositions += 1;
            }
        }
        if !row.dose_unit.is_empty() {
            let unit = DoseRateUnit::parse(&row.dose_unit).expect("a dose unit");
            assert_eq!(unit.dose().kind(), printed.concentration().kind, "{row:?}");
        }
    }
    // 44 rows, one of which names two syringes of one strength.
    assert_eq!((rows.len(), concentrations, compositions), (50, 49, 45), "figures checked");
    let left_out: Vec<_> =
        rows.iter().filter(|row| row.state != "checked").map(|row| (&*row.drug, &*row.state)).collect();
    assert_eq!(
        left_out,
        [
            ("heparin, magnesium sulfate, phosphate, insulin, epoprostenol", "not seen"),
            ("alteplase", "no composition"),
            ("argatroban", "no composition"),
            ("bumetanide", "no composition"),
            ("cisatracurium", "no composition"),
            ("dexmedetomidine", "no composition"),
        ]
    );
}

// Therapeutic Guidelines Box 14.4: 0.1 % is 1 in 1000; a person reads mg/mL.
#[test]
fn a_ratio_is_echoed_in_mg() {
    let read = Strength::parse("1:10 000").expect("a strength");
    assert_eq!(read.to_string(), "0.1 mg/mL (1:10 000)");
    assert_eq!((read.concentration().kind, read.amount_unit()), (UnitKind::Mass, Unit::Milligram));
}
