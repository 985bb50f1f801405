//! Limits on the rate itself. What is held against them is the rate that is set, after rounding.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

/// Its exact rate in mL/h is 50 times the dose in mcg/kg/min.
fn fifty_times(dose: &str) -> SetUp {
    clean().with("patient.weight", "50 kg").with("dose", &format!("{dose} mcg/kg/min")).bought_in(
        "3 mg",
        "50 mL",
        "60 mcg/mL",
    )
}

// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    vec![
        // 120.5 is set to 121, and 120.45 to the limit, 120.
        Case {
            code: "flow-beyond-hard-limit",
            fires: fifty_times("2.41"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: dose
            the rate is above the hard limit that this use sets on the rate itself
            do: go back to the order and the label: is the dose or the strength a slip?
            sum: 121 mL/h against 120 mL/h
            from: drugs/noradrenaline.yaml line 67 (demonstration value)
            ")
            },
            silent: fifty_times("2.409"),
        },
        // 60.05 is set to 60.1, and 60.04 to the limit, 60.
        Case {
            code: "flow-beyond-soft-limit",
            fires: fifty_times("1.201"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: dose
            the rate is above the soft limit that this use sets on the rate itself
            do: go back to the order and the label; if it is meant, write the reason
            sum: 60.1 mL/h against 60 mL/h
            from: drugs/noradrenaline.yaml line 66 (demonstration value)
            ")
            },
            silent: fifty_times("1.2008"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-LIMITS
#[rstest]
#[case("0.04", None)]
#[case("0.0389", Some("flow-beyond-soft-limit"))]
#[case("0.02", Some("flow-beyond-soft-limit"))]
#[case("0.018", Some("flow-beyond-hard-limit"))]
fn a_rate_may_be_too_low_as_well(#[case] dose: &str, #[case] expected: Option<&str>) {
    let house = House::new()
        .change(
            "drugs/noradrenaline.yaml",
            "soft: {to: 60 mL/h, source: demonstration value}\n        hard: {to",
            "soft: {from: 2 mL/h, to: 60 mL/h, source: demonstration value}\n        hard: {from: 1 mL/h, to",
        )
        
        .leak();
    let codes = fifty_times(dose).against(house).codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("flow-")).collect();
    assert_eq!(found, expected.into_iter().collect::<Vec<_>>());
}
