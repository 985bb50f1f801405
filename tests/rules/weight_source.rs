//! Where the weight comes from.

use insta::assert_snapshot;
use rstest::rstest;

use crate::Case;
use crate::set_up::{SetUp, clean};

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    let weighed = |how: &str| clean().with("patient.weight_from", how);
    vec![
        Case {
            code: "weight-estimated",
            fires: weighed("estimated"),
            says: |found| {
                assert_snapshot!(found, @"
            note: patient.weight_from
            the dose depends on the weight, and the weight is estimated
            do: weigh the patient as soon as that is possible
            ")
            },
            silent: weighed("stated"),
        },
        Case {
            code: "weight-provisional",
            fires: weighed("provisional"),
            says: |found| {
                assert_snapshot!(found, @"
            note: patient.weight_from
            the dose depends on the weight, and the weight is provisional
            do: confirm the weight before the start: another weight voids this card
            ")
            },
            silent: weighed("measured"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::say(cases());
}

// hazard: H-ALARMS
#[rstest]
#[case("40 mcg/min", None, false)]
#[case("40 mcg/min", Some("{dose: 1 mcg/kg, over: 1 min}"), true)]
#[case("40 mcg/min", Some("{dose: 100 mcg, over: 1 min}"), false)]
#[case("0.5 mcg/kg/min", None, true)]
fn only_where_the_dose_depends_on_it(#[case] dose: &str, #[case] bolus: Option<&str>, #[case] fires: bool) {
    let set_up: SetUp = clean().with("drug", "phenylephrine").with("dose", dose);
    let set_up = set_up.bought_in("5 mg", "50 mL", "100 mcg/mL").with("patient.weight_from", "estimated");
    let set_up = bolus.map_or(set_up.clone(), |bolus| set_up.with("bolus", bolus));
    assert_eq!(set_up.codes().contains(&"weight-estimated"), fires, "{:?}", set_up.codes());
}
