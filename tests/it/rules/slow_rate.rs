//! A rate that is slow for its syringe: it sticks and slips below 0.5 mL/h (Neal & Lin 2009, Pediatr Crit Care Med 10:592, read in
//! source), and is not steady in the first hour up to 1 mL/h (Schmidt 2010). A late alarm alone is no note.

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
        // 0.4 mL/h.
        Case {
            code: "rate-slow",
            fires: slow("7.5 mg", "150 mcg/mL"),
            says: |found| assert_snapshot!(found, @"
            note: driver
            at so low a rate a syringe of 50 mL sticks and slips: for hours far less than the rate was measured (Neal & Lin 2009)
            do: a smaller syringe or a weaker solution; look at the line and at the effect; after an alarm, take the line off the patient before the block is released
            from: formulary.yaml line 7 (local policy)
            "),
            silent: slow("2.7 mg", "54 mcg/mL"),
        },
        // At 0.6 mL/h up to 2.6 mL are displaced before the alarm: more than four hours. 1.1 mL/h is not slow.
        Case {
            code: "rate-slow",
            fires: slow("5 mg", "100 mcg/mL").with("phase", "start"),
            says: |found| assert_snapshot!(found, @"
            note: driver
            at so low a rate a syringe of 50 mL had no steady flow in the first hour (Schmidt 2010): the effect may begin that late; if the line is blocked, the driver may alarm only after 0.51 to 4.4 h
            do: let the driver push fluid out of the line before it is connected; a smaller syringe or a weaker solution; no step up before the first hour is over
            from: formulary.yaml line 7 (local policy)
            "),
            silent: slow("5 mg", "100 mcg/mL"),
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
    assert_eq!(codes.contains(&"rate-slow"), told, "{codes:?}");
}

// What a syringe too slow for its size does is not known: no alarm time is told of it.
// hazard: H-ARRIVAL
#[test]
fn where_nothing_is_known_no_alarm_is_told() {
    let found = slow("7.5 mg", "150 mcg/mL").found("rate-slow");
    assert!(found.contains("sticks and slips") && !found.contains("alarm only after"), "{found}");
}
