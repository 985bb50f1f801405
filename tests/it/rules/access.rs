//! How strong a solution may be for a peripheral vein.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

fn peripheral(amount: &str, strength: &str) -> SetUp {
    clean().bought_in(amount, "50 mL", strength).with("access", "peripheral")
}

// hazard: H-STRENGTH
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "peripheral-above-hard-maximum",
            fires: peripheral("1.01 mg", "20.2 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: access
            20.2 mcg/mL is above the maximum of 20 mcg/mL for a peripheral vein
            do: use a central vein, or a weaker solution
            from: drugs/noradrenaline.yaml line 43 (demonstration value)
            ")
            },
            silent: peripheral("1 mg", "20 mcg/mL"),
        },
        Case {
            code: "peripheral-above-soft-maximum",
            fires: peripheral("0.51 mg", "10.2 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: access
            10.2 mcg/mL is above the maximum of 10 mcg/mL for a peripheral vein
            do: use a central vein or a weaker solution, or write the reason
            from: drugs/noradrenaline.yaml line 43 (demonstration value)
            ")
            },
            silent: peripheral("0.5 mg", "10 mcg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-STRENGTH
#[rstest]
#[case("20 mg", "0.4 mg/mL", &["peripheral-above-hard-maximum"])]
#[case("1 mg", "0.02 mg/mL", &["peripheral-above-soft-maximum"])]
#[case("1 mg", "0.002 %", &["peripheral-above-soft-maximum"])]
#[case("0.5 mg", "1:100 000", &[])]
fn one_finding_at_most_whatever_the_unit(#[case] amount: &str, #[case] strength: &str, #[case] expected: &[&str]) {
    let codes = peripheral(amount, strength).codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("peripheral-")).collect();
    assert_eq!(found, expected);
}

#[test]
fn a_central_vein_takes_any_strength() {
    let codes = peripheral("8 mg", "160 mcg/mL").with("access", "central").codes();
    assert!(!codes.iter().any(|code| code.starts_with("peripheral-")), "{codes:?}");
}

// Vasopressin, 20 units in 50 mL, is printed for a central or a peripheral line: the maximum itself is allowed.
#[rstest]
#[case("20 units", "0.4 units/mL", false)]
#[case("20.1 units", "0.402 units/mL", true)]
fn units_have_their_maximum_too(#[case] amount: &str, #[case] strength: &str, #[case] fires: bool) {
    let set_up = peripheral(amount, strength)
        .with("drug", "vasopressin")
        .with("indication", "septic shock")
        .with("dose", "0.03 units/min");
    assert_eq!(set_up.codes().contains(&"peripheral-above-soft-maximum"), fires, "{:?}", set_up.codes());
}
