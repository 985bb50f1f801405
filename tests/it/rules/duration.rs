//! For how long a use may be planned.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::clean;

// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    let both = House::new()
        .change(
            "drugs/noradrenaline.yaml",
            "      flow:\n",
            "      longest: {from: 2 h, to: 24 h, source: label}\n      flow:\n",
        )
        
        .leak();
    let planned = |time: &str| clean().against(both).with("planned_for", time);
    vec![
        Case {
            code: "planned-too-long",
            fires: planned("1441 min"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: planned_for
            1441 min is planned, more than 24 h for this use
            do: go back to the order; if it is meant, write the reason
            from: drugs/noradrenaline.yaml line 65 (Prescribing information, norepinephrine injection, Diluted solution, 24 h)
            ")
            },
            silent: planned("1 day"),
        },
        Case {
            code: "planned-too-short",
            fires: planned("119 min"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: planned_for
            119 min is planned, less than 2 h for this use
            do: go back to the order; if it is meant, write the reason
            from: drugs/noradrenaline.yaml line 65 (Prescribing information, norepinephrine injection, Diluted solution, 24 h)
            ")
            },
            silent: planned("2 h"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Esmolol, at most 24 h.
#[rstest]
#[case("24 h", false)]
#[case("24.1 h", true)]
fn the_demonstration_limits_some(#[case] planned: &str, #[case] fires: bool) {
    let set_up = clean().with("drug", "esmolol").with("indication", "heart rate control");
    let set_up = set_up.with("dose", "50 mcg/kg/min").bought_in("500 mg", "50 mL", "10 mg/mL");
    assert_eq!(set_up.with("planned_for", planned).codes().contains(&"planned-too-long"), fires);
}

#[test]
fn without_a_plan_nothing_is_said() {
    let codes = clean().without("planned_for").codes();
    assert!(!codes.iter().any(|code| code.starts_with("planned")), "{codes:?}");
}
