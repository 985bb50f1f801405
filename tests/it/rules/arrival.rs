//! How long the first drug takes through the line and what is beyond it.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// 6 mL/h: ten minutes for each mL, of a drug that is titrated to effect.
fn six(beyond: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", "0.12 mcg/kg/min")
        .bought_in("3 mg", "50 mL", "60 mcg/mL")
        .with("beyond", beyond)
}

pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "arrival-slow",
            fires: six("3 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            note: line_filled
            the first drug takes 30 min through 3 mL of dead space that does not hold it yet
            do: fill the dead space with the drug, or expect the effect that late; the end is as late
            from: formulary.yaml line 7 (local policy)
            ")
            },
            silent: six("2.999 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Nothing follows from the rate of a set-up that is stopped.
#[test]
fn a_stopped_rate_has_no_arrival() {
    let codes = six("5 mL").with("line_filled", "empty").codes();
    assert!(codes.contains(&"line-empty") && !codes.contains(&"arrival-slow"), "{codes:?}");
}

// The line counts with what is beyond it, unless it holds the drug: 0.9 mL of it and 2.1 mL beyond are thirty minutes.
#[rstest]
#[case("with diluent", "2.099 mL", false)]
#[case("with diluent", "2.1 mL", true)]
#[case("already full", "2.999 mL", false)]
#[case("already full", "3 mL", true)]
#[case("from this syringe", "0 mL", false)]
fn dead_space_without_drug_counts(#[case] line: &str, #[case] beyond: &str, #[case] slow: bool) {
    let codes = six(beyond).with("line_filled", line).codes();
    assert_eq!(codes.contains(&"arrival-slow"), slow, "{codes:?}");
}
