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
            do: go back to the order: which weight is meant?
            from: drugs/noradrenaline.yaml line 47 (local policy)
            ")
            },
            silent: clean().with("dosing_weight", "actual"),
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

// A woman of 164 cm has an ideal weight of 56.0 kg. The card says how the weight was worked out, and no note repeats it.
// hazard: H-WEIGHT
#[rstest]
#[case("84.2 kg", "ideal", "56 kg")]
#[case("84.2 kg", "lean", "lean body weight")]
#[case("50 kg", "ideal", "56 kg, above the actual weight: 50 kg counts")]
fn a_weight_that_was_worked_out_is_on_the_card(#[case] weight: &str, #[case] which: &str, #[case] says: &str) {
    let set_up = remifentanil(weight).with("dosing_weight", which);
    let codes = set_up.codes();
    assert!(!codes.iter().any(|code| code.starts_with("dosing-weight")), "{codes:?}");
    let counted = crate::rules::on_the_card::card_of(&set_up).json()["order"]["counted_by"].to_string();
    assert!(counted.contains(says), "{counted}");
}
