//! Amount, volume and strength on a label must say the same.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::clean;

// hazard: H-STRENGTH
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "label-inconsistent",
            fires: clean().labelled("4 mg", "50 mL", "8 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: label.strength
            the label says 8 mcg/mL, and 4 mg in 50 mL is 0.08 mg/mL. Perhaps 10 times: a point misplaced, or a zero too many or too few?
            do: read all three off the syringe again; a label that contradicts itself is not used
            ")
            },
            silent: clean().labelled("4 mg", "50 mL", "0.08 mg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Three digits of a strength that needs more are a rounding; anything else contradicts.
// hazard: H-STRENGTH
#[rstest]
#[case("4 mg", "30 mL", "133 mcg/mL", &[])]
#[case("4 mg", "30 mL", "133.3 mcg/mL", &[])]
#[case("4 mg", "30 mL", "0.1333 mg/mL", &[])]
#[case("4 mg", "30 mL", "134 mcg/mL", &["label-inconsistent"])]
#[case("4 mg", "30 mL", "130 mcg/mL", &["label-inconsistent"])]
#[case("10 mg", "60 mL", "167 mcg/mL", &[])]
#[case("1 mg", "6 mL", "0.167 mg/mL", &[])]
#[case("4 mg", "50 mL", "80.01 mcg/mL", &["label-inconsistent"])]
#[case("20 mEq", "30 mL", "0.667 mEq/mL", &[])]
#[case("20 mEq", "30 mL", "0.7 mEq/mL", &["label-inconsistent"])]
#[case("4 mg", "50 mL", "0.008 %", &[])]
#[case("4 mg", "50 mL", "1:12 500", &[])]
#[case("4 mg", "50 mL", "0.08 units/mL", &["label-inconsistent"])]
fn a_rounded_strength_is_told_from_a_wrong_one(
    #[case] amount: &str,
    #[case] volume: &str,
    #[case] strength: &str,
    #[case] expected: &[&str],
) {
    let codes = clean().bought_in(amount, volume, strength).with("fill", "6 mL").codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("label-")).collect();
    assert_eq!(found, expected);
}

// hazard: H-STRENGTH
#[rstest]
#[case("80 mg/mL", "1000 times")]
#[case("80 nanogram/mL", "1000 times")]
#[case("800 mcg/mL", "10 times")]
#[case("0.8 mcg/mL", "100 times")]
fn the_slip_is_named(#[case] strength: &str, #[case] slip: &str) {
    let found = clean().labelled("4 mg", "50 mL", strength).found("label-inconsistent");
    assert!(found.contains(&format!("Perhaps {slip}")), "{found}");
}
