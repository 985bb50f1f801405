//! The weight within the limits of area and use.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

fn adult(weight: &str) -> SetUp {
    clean().with("patient.weight", weight)
}

fn newborn(weight: &str) -> SetUp {
    adult(weight).with("area", "paediatric theatre").with("patient.born", "2026-03-10")
}

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "weight-beyond-hard-limit",
            fires: adult("250.1 kg"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: patient.weight
                the weight of 250.1 kg is above the limit of 250 kg for `adult theatre`. Perhaps pounds taken for kg?
                do: look at the scales again, in kg; or choose the area for this patient
                from: areas.yaml line 4 (demonstration value)
                ")
            },
            silent: adult("250 kg"),
        },
        Case {
            code: "weight-beyond-soft-limit",
            fires: adult("150.1 kg"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: patient.weight
                the weight of 150.1 kg is above the limit of 150 kg for `adult theatre`. Perhaps pounds taken for kg?
                do: look at the scales again, in kg; or choose the area for this patient
                from: areas.yaml line 3 (demonstration value)
                ")
            },
            silent: adult("150 kg"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Adults: soft 40 to 150 kg, hard 30 to 250 kg. Noradrenaline for newborns: soft 3 to 5 kg, hard 1.5 to 6 kg.
// hazard: H-WEIGHT
#[rstest]
#[case(adult("40 kg"), None)]
#[case(adult("39.9 kg"), Some("weight-beyond-soft-limit"))]
#[case(adult("30 kg"), Some("weight-beyond-soft-limit"))]
#[case(adult("29.9 kg"), Some("weight-beyond-hard-limit"))]
#[case(adult("200 kg"), Some("weight-beyond-soft-limit"))]
#[case(adult("0.5 kg"), Some("weight-beyond-hard-limit"))]
#[case(newborn("0.5 kg"), Some("weight-beyond-hard-limit"))]
#[case(newborn("500 g"), Some("weight-beyond-hard-limit"))]
#[case(newborn("1.49 kg"), Some("weight-beyond-hard-limit"))]
#[case(newborn("1.5 kg"), Some("weight-beyond-soft-limit"))]
#[case(newborn("2999 g"), Some("weight-beyond-soft-limit"))]
#[case(newborn("3 kg"), None)]
#[case(newborn("5 kg"), None)]
#[case(newborn("5001 g"), Some("weight-beyond-soft-limit"))]
#[case(newborn("6 kg"), Some("weight-beyond-soft-limit"))]
#[case(newborn("6.01 kg"), Some("weight-beyond-hard-limit"))]
#[case(newborn("200 kg"), Some("weight-beyond-hard-limit"))]
fn the_narrower_of_area_and_use_counts(#[case] set_up: SetUp, #[case] expected: Option<&str>) {
    let codes = set_up.codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("weight-beyond")).collect();
    assert_eq!(found, expected.into_iter().collect::<Vec<_>>());
}

// hazard: H-WEIGHT
#[rstest]
#[case(newborn("3200 kg"), "Perhaps g and kg taken for each other?")]
#[case(newborn("3.2 g"), "Perhaps g and kg taken for each other?")]
#[case(adult("286 kg"), "Perhaps pounds taken for kg?")]
#[case(newborn("7 kg"), "Perhaps pounds taken for kg?")]
fn the_slip_is_named(#[case] set_up: SetUp, #[case] slip: &str) {
    let found = set_up.found("weight-beyond-hard-limit");
    assert!(found.contains(slip), "{found}");
}
