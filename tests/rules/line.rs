//! The line: full, narrow, and how long the first drug takes through it.

use insta::assert_snapshot;
use rstest::rstest;

use crate::Case;
use crate::set_up::{SetUp, clean};

/// 6 mL/h: ten minutes for each mL.
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
            code: "line-empty",
            fires: clean().with("line_filled", "empty"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: line_filled
            the line is empty: it holds air
            do: fill the line until no air is left, then write how it was filled: from this syringe, or with diluent
            ")
            },
            silent: clean().with("line_filled", "with diluent"),
        },
        Case {
            code: "line-wide",
            fires: clean().with("line", "standard-180"),
            says: |found| {
                assert_snapshot!(found, @"
            note: line
            `standard-180` is a standard line and holds 15 mL: a change of the rate arrives late
            do: use a narrow line with a syringe driver
            ")
            },
            silent: clean().with("line", "narrow-200"),
        },
        Case {
            code: "arrival-slow",
            fires: six("1.001 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            note: line_filled
            the first drug takes 10 min through 1.001 mL of dead space that does not hold it yet
            do: fill the dead space with the drug, or expect the effect that late; the end is as late
            from: formulary.yaml line 7 (local policy)
            ")
            },
            silent: six("1 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::say(cases());
}

#[test]
fn a_standard_line_belongs_to_a_pump() {
    let codes = clean().with("line", "standard-180").with("container", "bag 50 mL").with("driver", "bag pump").codes();
    assert!(!codes.contains(&"line-wide"), "{codes:?}");
}

// The line counts with what is beyond it, unless it holds the drug: 0.9 mL of it and 0.1 mL beyond are ten minutes.
#[rstest]
#[case("with diluent", "0.1 mL", false)]
#[case("with diluent", "0.101 mL", true)]
#[case("empty", "0.101 mL", true)]
#[case("already full", "1 mL", false)]
#[case("already full", "1.001 mL", true)]
#[case("from this syringe", "0 mL", false)]
fn dead_space_without_drug_counts(#[case] line: &str, #[case] beyond: &str, #[case] slow: bool) {
    let codes = six(beyond).with("line_filled", line).codes();
    assert_eq!(codes.contains(&"arrival-slow"), slow, "{codes:?}");
}
