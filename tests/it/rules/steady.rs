//! Below 0.5 mL/h a large syringe sticks and slips (Neal & Lin 2009, Pediatr Crit Care Med 10:592, read in source).

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// 60 mcg/h.
fn slow(amount: &str, strength: &str) -> SetUp {
    clean().with("patient.weight", "50 kg").with("dose", "0.02 mcg/kg/min").bought_in(amount, "50 mL", strength)
}

// hazard: H-ARRIVAL
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "rate-unsteady",
            fires: slow("7.5 mg", "150 mcg/mL"),
            says: |found| assert_snapshot!(found, @"
            note: container
            so slow, a syringe of 50 mL sticks and slips: for hours far less than the rate was measured (Neal & Lin 2009)
            do: a smaller syringe, or a weaker solution
            "),
            silent: slow("6 mg", "120 mcg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// It was measured in large syringes: a small one is silent.
// hazard: H-ARRIVAL
#[rstest]
#[case("syringe 50 mL", "7.5 mg", "50 mL", true)]
#[case("syringe 20 mL", "3 mg", "20 mL", true)]
#[case("syringe 10 mL", "1.5 mg", "10 mL", false)]
fn only_a_large_syringe_is_told(#[case] container: &str, #[case] amount: &str, #[case] volume: &str, #[case] told: bool) {
    let set_up = slow(amount, "150 mcg/mL").bought_in(amount, volume, "150 mcg/mL");
    let codes = set_up.with("container", container).with("fill", volume).codes();
    assert_eq!(codes.contains(&"rate-unsteady"), told, "{codes:?}");
}
