//! A weight that hardly anybody of this age, sex and height has.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// A girl of eight years, by the growth charts of the CDC (2000; NCHS Series 11 No. 246): 25.6 kg in the middle.
fn girl(weight: &str) -> SetUp {
    clean()
        .with("area", "paediatric theatre")
        .with("drug", "morphine")
        .with("patient.born", "2018-03-14")
        .with("patient.weight", weight)
        .without("patient.height")
}

/// 164 cm: a body-mass index of 50 is 134.48 kg.
fn woman(weight: &str) -> SetUp {
    clean().with("patient.weight", weight)
}

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "weight-unlikely-for-age",
            fires: girl("46.2 kg"),
            says: |found| assert_snapshot!(found, @"
            justify: patient.weight
            hardly anybody of this age weighs 46.2 kg. Perhaps pounds taken for kg?
            do: look at the scales again, in kg, and at the date of birth; if it is right, write the reason
            "),
            silent: girl("46.1 kg"),
        },
        Case {
            code: "weight-unlikely-for-height",
            fires: woman("134.5 kg"),
            says: |found| assert_snapshot!(found, @"
            justify: patient.weight
            hardly anybody of this height weighs 134.5 kg. Perhaps pounds taken for kg?
            do: look at the scales again, in kg, and at the date of birth; if it is right, write the reason
            "),
            silent: woman("134.4 kg"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-WEIGHT
#[rstest]
#[case(girl("25.6 kg"), false)]
// Two and a half standard deviations are 46.1 kg; four below the middle 15.4 kg.
#[case(girl("58 kg"), true)]
#[case(girl("13 kg"), true)]
#[case(girl("256 kg"), true)]
// A heavy child whom no slip would make usual.
#[case(girl("38 kg"), false)]
// Seen, though a slip would make her usual.
#[case(girl("45 kg"), false)]
// Without her sex both must say so.
#[case(girl("58 kg").without("patient.sex"), true)]
// Weeks of pregnancy change nothing at this age.
#[case(girl("58 kg").with("patient.gestation", "30 weeks"), true)]
// Beyond twenty years age says nothing, and without a height nothing does.
#[case(woman("134.5 kg").without("patient.height"), false)]
#[case(woman("84.2 kg"), false)]
#[case(woman("34 kg"), true)]
// A body-mass index of 45 is seen, though a slip would make it usual; and no slip makes one of 14 usual.
#[case(woman("121 kg"), false)]
#[case(woman("37.7 kg"), false)]
// From the twentieth birthday on the height counts.
#[case(woman("45 kg").with("patient.height", "190 cm").with("patient.born", "2006-03-14"), true)]
#[case(woman("45 kg").with("patient.height", "190 cm").with("patient.born", "2006-03-15"), false)]
fn it_is_asked_where_hardly_anybody_weighs_that(#[case] set_up: SetUp, #[case] asked: bool) {
    let codes = set_up.codes();
    assert_eq!(codes.iter().any(|code| code.starts_with("weight-unlikely")), asked, "{codes:?}");
}
