//! One dose unit for each drug, area and use; any other is stopped.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

// hazard: H-UNIT
pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "dose-unit-not-local",
        fires: clean().with("dose", "0.08 mcg/min"),
        says: |found| {
            assert_snapshot!(found, @"
        stop, beyond: dose
        the dose is in mcg/min, and for vasopressor in adult theatre it is ordered in another unit. Perhaps per kg, per m2 or per patient?
        do: go back to the order, and read the unit again
        from: drugs/noradrenaline.yaml line 47 (local policy)
        ")
        },
        silent: clean().with("dose", "0.08 microgram/kg/minute"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

fn phenylephrine(dose: &str) -> SetUp {
    clean().with("drug", "phenylephrine").with("dose", dose).with("planned_for", "1 h").bought_in(
        "5 mg",
        "50 mL",
        "100 mcg/mL",
    )
}

// The same amount in another unit is another order: it is not converted silently.
// hazard: H-UNIT
#[rstest]
#[case(clean(), "80 nanogram/kg/min", "Perhaps the amount in it (g, mg, mcg, nanogram, units)?")]
#[case(clean(), "4.8 mcg/kg/h", "Perhaps per min, per h or per day?")]
#[case(clean(), "0.08 mg/kg/min", "Perhaps the amount in it (g, mg, mcg, nanogram, units)?")]
#[case(clean(), "5 mL/h", "Perhaps per min, per h or per day; and per kg, per m2 or per patient; and the amount in it")]
#[case(phenylephrine("1 mcg/kg/min"), "0.5 mcg/kg/min", "Perhaps per kg, per m2 or per patient?")]
#[case(phenylephrine("1 mcg/kg/min"), "40 mcg/kg/min", "Perhaps per kg, per m2 or per patient?")]
fn every_other_unit_is_stopped(#[case] set_up: SetUp, #[case] dose: &str, #[case] asks: &str) {
    let set_up = set_up.with("dose", dose);
    let found = set_up.found("dose-unit-not-local");
    assert!(found.contains(asks) && !found.contains("only"), "{found}");
    assert!(
        !set_up.codes().iter().any(|code| code.starts_with("dose-above") || code.starts_with("dose-below")),
        "limits are in one unit only"
    );
}

#[test]
fn the_local_unit_is_quiet() {
    assert_eq!(phenylephrine("40 mcg/min").codes(), [""; 0]);
}
