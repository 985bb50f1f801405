//! The weight by which a dose is counted.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

fn remifentanil(weight: &str) -> SetUp {
    clean()
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("2 mg", "40 mL", "50 mcg/mL")
        .with("fill", "40 mL")
        .with("patient.weight", weight)
        .with("dosing_weight", "ideal")
}

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "dosing-weight-not-local",
            fires: clean().with("dosing_weight", "ideal"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: dosing_weight
            this dose is not counted by the ideal weight here
            do: write one of: actual
            from: drugs/noradrenaline.yaml line 44 (local policy)
            ")
            },
            silent: clean().with("dosing_weight", "actual"),
        },
        // A woman of 164 cm has an ideal weight of 56.0 kg.
        Case {
            code: "dosing-weight-capped",
            fires: remifentanil("55.9 kg"),
            says: |found| {
                assert_snapshot!(found, @"
            note: dosing_weight
            dosing weight: ideal body weight (Devine 1974) for 164 cm: 56 kg, above the actual weight: 55.9 kg counts
            do: make sure that this weight is meant by the order
            ")
            },
            silent: remifentanil("56 kg"),
        },
        Case {
            code: "dosing-weight-derived",
            fires: remifentanil("84.2 kg"),
            says: |found| {
                assert_snapshot!(found, @"
            note: dosing_weight
            dosing weight: ideal body weight (Devine 1974) for 164 cm: 56 kg
            do: make sure that this weight is meant by the order
            ")
            },
            silent: remifentanil("84.2 kg").with("dosing_weight", "actual"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

#[test]
fn a_dose_that_no_weight_counts_takes_none() {
    let set_up = clean().with("drug", "phenylephrine").with("dose", "40 mcg/min").with("dosing_weight", "actual");
    assert_snapshot!(set_up.found("dosing-weight-not-local"), @"
    stop, beyond: dosing_weight
    `actual` is named, and this dose is not counted by weight
    do: leave `dosing_weight` out
    from: drugs/phenylephrine.yaml line 27 (local policy)
    ");
}

// hazard: H-WEIGHT
#[rstest]
#[case("84.2 kg", "ideal", "dosing-weight-derived")]
#[case("84.2 kg", "lean", "dosing-weight-derived")]
#[case("50 kg", "ideal", "dosing-weight-capped")]
fn a_weight_that_was_worked_out_is_always_said(#[case] weight: &str, #[case] which: &str, #[case] code: &str) {
    let codes = remifentanil(weight).with("dosing_weight", which).codes();
    let about_weight: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("dosing-weight")).collect();
    assert_eq!(about_weight, [code]);
}
