//! What rounding to the driver's step does to the dose.

use countersign::formulary::Formulary;
use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

fn of_fifty(dose: &str, amount: &str, strength: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", &format!("{dose} mcg/kg/min"))
        .bought_in(amount, "50 mL", strength)
}

/// Noradrenaline whose dose does not follow its effect.
fn fixed() -> &'static Formulary {
    House::new()
        .change(
            "drugs/noradrenaline.yaml",
            "      titrated_to_effect: true\n      strengths: [single, double]",
            "      strengths: [single, double]",
        )
        
        .leak()
}

// hazard: H-ARITHMETIC
pub(crate) fn cases() -> Vec<Case> {
    let fixed = fixed();
    vec![
        // 1/3 mL/h set to 0.3 is 10 % less; a little more than 1/3 is off by more.
        Case {
            code: "rounding-large",
            fires: of_fifty("0.0101", "4.5 mg", "90 mcg/mL").against(fixed),
            says: |found| {
                assert_snapshot!(found, @"
                justify: dose
                rounded to the driver's step, 0.009 mcg/kg/min is given instead of 0.0101 mcg/kg/min: ≈ 11 % off
                do: the driver `fine` has a finer step; or write the reason
                from: formulary.yaml line 7 (local policy)
                ")
            },
            silent: of_fifty("0.01", "4.5 mg", "90 mcg/mL").against(fixed),
        },
        // 6/19 mL/h set to 0.3 is 5 % less.
        Case {
            code: "rounding-noticeable",
            fires: of_fifty("0.00401", "1.9 mg", "38 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
                note: dose
                rounded to the driver's step, 0.0038 mcg/kg/min is given instead of 0.00401 mcg/kg/min: ≈ 5.2 % off
                do: the driver `fine` has a finer step
                from: formulary.yaml line 7 (local policy)
                ")
            },
            silent: of_fifty("0.004", "1.9 mg", "38 mcg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// A dose that follows its effect asks for no reason, however coarse the step.
// hazard: H-ALARMS
#[rstest]
#[case("0.01", false, "rounding-noticeable")]
#[case("0.01", true, "rounding-noticeable")]
#[case("0.0101", false, "rounding-large")]
#[case("0.0101", true, "rounding-noticeable")]
fn a_titrated_dose_needs_no_reason(#[case] dose: &str, #[case] titrated: bool, #[case] code: &str) {
    let set_up = of_fifty(dose, "4.5 mg", "90 mcg/mL");
    let set_up = if titrated { set_up } else { set_up.against(fixed()) };
    let found: Vec<&str> = set_up.codes().into_iter().filter(|code| code.starts_with("rounding-")).collect();
    assert_eq!(found, [code]);
}

// hazard: H-ARITHMETIC
#[rstest]
#[case::another_driver("syringe 50 mL", "0.01", "the driver `fine` has a finer step")]
#[case::no_driver_takes_it("syringe 60 mL", "0.0107", "the step is small enough")]
#[case::nothing_helps("syringe 60 mL", "0.0018", "nothing stocked here comes nearer")]
fn the_cure_is_named(#[case] container: &str, #[case] dose: &str, #[case] cure: &str) {
    let set_up = of_fifty(dose, "4.5 mg", "90 mcg/mL").with("container", container);
    let found = set_up.found("rounding-noticeable");
    assert!(found.contains(cure), "{found}");
}

// With the single strength it were a whole number of steps, 0.06 mL/h, and below the driver's smallest rate.
#[test]
fn a_strength_that_the_driver_cannot_run_is_no_cure() {
    let limits = "{note_above: 1 %, justify_above: 10 %}";
    let house = House::new().change("formulary.yaml", "{note_above: 5 %, justify_above: 10 %}", limits).leak();
    let found = of_fifty("0.0016", "2.3 mg", "46 mcg/mL").with("driver", "fine").against(house).found("rounding-noticeable");
    assert!(found.contains("nothing stocked here comes nearer"), "{found}");
}

// A finer driver whose smallest rate is above this one.
#[test]
fn a_driver_that_cannot_run_so_slowly_is_no_cure() {
    let fine = "smallest_rate: 0.1 mL/h\n    largest_rate: 999 mL/h\n    steps:\n      - {up_to: 9.99 mL/h";
    let slow_at_least = fine.replace("smallest_rate: 0.1 mL/h", "smallest_rate: 1 mL/h");
    let house = House::new().change("equipment.yaml", fine, &slow_at_least).leak();
    let found = of_fifty("0.01", "4.5 mg", "90 mcg/mL").against(house).found("rounding-noticeable");
    assert!(!found.is_empty() && !found.contains("the driver `fine`"), "{found}");
}

// Whole steps, and steps that are small against the rate, are quiet.
#[rstest]
#[case("0.06")]
#[case("0.08")]
fn a_small_rounding_is_quiet(#[case] dose: &str) {
    let codes = of_fifty(dose, "3 mg", "60 mcg/mL").codes();
    assert!(!codes.iter().any(|code| code.starts_with("rounding-")), "{codes:?}");
}
