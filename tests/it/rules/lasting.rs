//! Whether one syringe is enough.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// 5 mL/h; 49 mL are left when the line is full and 0.1 mL stays behind: 9 h 48 min.
fn planned(time: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("3 mg", "50 mL", "60 mcg/mL")
        .with("planned_for", time)
}

pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "runs-empty-early",
        fires: planned("589 min"),
        says: |found| {
            assert_snapshot!(found, @"
        note: planned_for
        it runs empty after 9 h 48 min, and 589 min is planned: 2 syringes or bags
        do: have the next one ready in time, in the same strength
        ")
        },
        silent: planned("588 min"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Each later syringe brings 49.9 mL: the line is full by then.
#[rstest]
#[case("1186.8 min", "2 syringes")]
#[case("1187 min", "3 syringes")]
fn later_syringes_find_the_line_full(#[case] time: &str, #[case] count: &str) {
    let found = planned(time).found("runs-empty-early");
    assert!(found.contains(count), "{found}");
}

#[rstest]
#[case("already full", "598.8 min", false)]
#[case("already full", "599 min", true)]
#[case("with diluent", "598.8 min", false)]
fn a_line_filled_otherwise_takes_nothing(#[case] line: &str, #[case] time: &str, #[case] fires: bool) {
    let codes = planned(time).with("line_filled", line).codes();
    assert_eq!(codes.contains(&"runs-empty-early"), fires, "{codes:?}");
}

// 500 mcg/kg of esmolol for 84.2 kg are 4.21 mL of 10 mg/mL: the bolus is taken off once.
#[test]
fn a_bolus_is_taken_off() {
    let esmolol = |planned: &str| {
        clean()
            .with("drug", "esmolol")
            .with("indication", "heart rate control")
            .with("dose", "50 mcg/kg/min")
            .bought_in("500 mg", "50 mL", "10 mg/mL")
            .with("planned_for", planned)
    };
    let bolus = "{dose: 500 mcg/kg, over: 1 min}";
    // 49 mL at 25.3 mL/h last 1 h 56 min; less 4.21 mL, 1 h 46 min.
    assert!(!esmolol("110 min").codes().contains(&"runs-empty-early"));
    let found = esmolol("110 min").with("bolus", bolus).found("runs-empty-early");
    assert!(found.contains("1 h 46 min") && found.contains("2 syringes"), "{found}");
}
