//! The same number in two fields, said only beside another finding.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// Above the hard limit of the dose, whatever the weight.
fn beside(weight: &str) -> SetUp {
    clean().with("dose", "66 mcg/kg/min").with("patient.weight", weight)
}

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "same-number-twice",
        fires: beside("66 kg"),
        says: |found| assert_snapshot!(found, @"
        note: dose
        the dose has the number of the weight
        do: look whether a number stands in the wrong field
        "),
        silent: beside("67 kg"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// A woman of 66 years.
// hazard: H-ALARMS
#[rstest]
#[case(clean().with("patient.weight", "66 kg"), false)]
#[case(clean().with("patient.weight", "66 kg").with("dose", "4 mcg/kg/min"), true)]
#[case(clean().with("patient.weight", "164 kg"), true)]
fn it_is_said_beside_another_finding_only(#[case] set_up: SetUp, #[case] said: bool) {
    let codes = set_up.codes();
    assert_eq!(codes.contains(&"same-number-twice"), said, "{codes:?}");
}
