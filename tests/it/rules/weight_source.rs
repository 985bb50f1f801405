//! Where the weight comes from.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

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
    crate::rules::say(cases());
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

#[rstest]
#[case("0.08 mcg/kg/min", "", true)]
#[case("0.08 mcg/m2/min", "", true)]
#[case("7 mcg/min", "", false)]
#[case("7 mcg/min", "{dose: 1 mcg/kg, over: 1 min}", true)]
#[case("7 mcg/min", "{dose: 50 mcg, over: 1 min}", false)]
#[case("0.08 mcg/kg/min", "{dose: 50 mcg, over: 1 min}", true)]
fn a_dose_or_a_bolus_may_count_by_size(#[case] dose: &str, #[case] bolus: &str, #[case] counts: bool) {
    let set_up = clean().with("dose", dose);
    let set_up = if bolus.is_empty() { set_up } else { set_up.with("bolus", bolus) };
    assert_eq!(set_up.computed().counts_by_size(), counts);
}
