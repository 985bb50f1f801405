//! Which driver takes which container.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::clean;

pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "container-not-taken",
        fires: clean().with("container", "syringe 3 mL").with("fill", "3 mL"),
        says: |found| {
            assert_snapshot!(found, @"
        stop, beyond: container
        the syringe driver `bench` does not take a syringe 3 mL
        do: it takes: syringe 5 mL, syringe 10 mL, syringe 20 mL, syringe 30 mL, syringe 50 mL, syringe 60 mL
        ")
        },
        silent: clean().with("container", "syringe 5 mL").with("fill", "5 mL"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

#[rstest]
#[case("bag 50 mL", "bench", true)]
#[case("bag 50 mL", "bag pump", false)]
#[case("syringe 50 mL", "bag pump", true)]
#[case("syringe 60 mL", "fine", true)]
#[case("syringe 3 mL", "fine", false)]
fn a_pump_takes_bags_and_a_driver_syringes(#[case] container: &str, #[case] driver: &str, #[case] fires: bool) {
    let codes = clean().with("container", container).with("fill", "3 mL").with("driver", driver).codes();
    assert_eq!(codes.contains(&"container-not-taken"), fires, "{codes:?}");
}
