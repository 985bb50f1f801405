//! What the driver can be set to, and the step at every rate.

use countersign::quantity::exact_or_about;
use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// Its exact rate in mL/h is 50 times the dose in mcg/kg/min.
fn fifty_times(dose: &str, driver: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", &format!("{dose} mcg/kg/min"))
        .bought_in("3 mg", "50 mL", "60 mcg/mL")
        .with("driver", driver)
}

// hazard: H-ARITHMETIC
pub(crate) fn cases() -> Vec<Case> {
    vec![
        // 0.094 rounds to 0.09, and 0.095 to the smallest rate, 0.1.
        Case {
            code: "rate-below-driver",
            fires: fifty_times("0.00188", "fine"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: driver
                the rate is below the 0.1 mL/h that `fine` can be set to
                do: a weaker solution, or a driver with a smaller rate
                sum: 0.09 mL/h against 0.1 mL/h
                ")
            },
            silent: fifty_times("0.0019", "fine"),
        },
        // 999.5 rounds to 1000, and 999.4 to the largest rate, 999.
        Case {
            code: "rate-above-driver",
            fires: fifty_times("19.99", "bench"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: driver
                the rate is above the 999 mL/h that `bench` can be set to
                do: go back to the order and the label: is the dose or the strength a slip? If both are right, a stronger solution
                sum: 1000 mL/h against 999 mL/h
                ")
            },
            silent: fifty_times("19.988", "bench"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// No rate between two bands is lost: what rounds beyond the first band is rounded by the second one's step.
// hazard: H-ARITHMETIC
#[rstest]
#[case::rounded_within_the_band("bench", "1.998", "99.9", "0.1 mL/h")]
#[case::just_under_the_edge("bench", "1.99898", "99.9", "0.1 mL/h")]
#[case::at_the_edge("bench", "1.999", "100", "1 mL/h")]
#[case::above_it("bench", "2.009", "100", "1 mL/h")]
#[case::half_up_in_the_next_band("bench", "2.01", "101", "1 mL/h")]
#[case::fine_just_under("fine", "0.19988", "9.99", "0.01 mL/h")]
#[case::fine_at_the_edge("fine", "0.1999", "10", "0.1 mL/h")]
#[case::fine_above("fine", "0.201", "10.1", "0.1 mL/h")]
#[case::half_a_step_goes_up("bench", "0.001", "0.1", "0.1 mL/h")]
fn bands_meet(#[case] driver: &str, #[case] dose: &str, #[case] set: &str, #[case] step: &str) {
    let computed = fifty_times(dose, driver).computed();
    let sum = computed.sum().expect("it can be computed");
    assert_eq!((exact_or_about(sum.set), sum.step.to_string()), (set.to_owned(), step.to_owned()));
}
