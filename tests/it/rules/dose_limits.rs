//! The dose against the limits of its phase, both sides, and the slip that its size tells.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

fn at(phase: &str, dose: &str) -> SetUp {
    clean().with("phase", phase).with("dose", dose)
}

// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    let lower = House::with_a_hard_lower_limit();
    vec![
        Case {
            code: "dose-far-below",
            fires: clean().with("dose", "0.00099 mcg/kg/min"),
            says: |found| assert_snapshot!(found, @"
            stop, beyond: dose
            0.00099 mcg/kg/min is less than a tenth of 0.01 mcg/kg/min, the soft lower limit for maintenance. Perhaps 60 times: per min and per h taken for each other? or 100 times: a point misplaced by two places?
            do: go back to the order
            from: drugs/noradrenaline.yaml line 58 (demonstration value)
            "),
            silent: clean().with("dose", "0.001 mcg/kg/min"),
        },
        Case {
            code: "dose-above-hard-limit",
            fires: at("maintenance", "3.01 mcg/kg/min"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: dose
                3.01 mcg/kg/min is above the hard limit of 3 mcg/kg/min for maintenance. Perhaps 60 times: per min and per h taken for each other? or 100 times: a point misplaced by two places?
                do: go back to the order
                from: drugs/noradrenaline.yaml line 59 (Society of Critical Care Medicine, dosing of vasopressors, Norepinephrine, 0.01 to 3 mcg/kg/min)
                ")
            },
            silent: at("maintenance", "3 mcg/kg/min"),
        },
        Case {
            code: "dose-below-hard-limit",
            fires: at("maintenance", "0.0049 mcg/kg/min").against(lower),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: dose
                0.0049 mcg/kg/min is below the hard limit of 0.005 mcg/kg/min for maintenance. Perhaps 10 times: a point misplaced, or a zero too many or too few? or 60 times: per min and per h taken for each other?
                do: go back to the order
                from: drugs/noradrenaline.yaml line 59 (Society of Critical Care Medicine, dosing of vasopressors, Norepinephrine, 0.01 to 3 mcg/kg/min)
                ")
            },
            silent: at("maintenance", "0.005 mcg/kg/min").against(lower),
        },
        Case {
            code: "dose-above-soft-limit",
            fires: at("maintenance", "0.36 mcg/kg/min"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: dose
                0.36 mcg/kg/min is above the soft limit of 0.35 mcg/kg/min for maintenance
                do: go back to the order; if it is meant, write the reason
                from: drugs/noradrenaline.yaml line 58 (demonstration value)
                ")
            },
            silent: at("maintenance", "0.35 mcg/kg/min"),
        },
        Case {
            code: "dose-below-soft-limit",
            fires: at("maintenance", "0.0099 mcg/kg/min"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: dose
                0.0099 mcg/kg/min is below the soft limit of 0.01 mcg/kg/min for maintenance. Perhaps 10 times: a point misplaced, or a zero too many or too few?
                do: go back to the order; if it is meant, write the reason
                from: drugs/noradrenaline.yaml line 58 (demonstration value)
                ")
            },
            silent: at("maintenance", "0.01 mcg/kg/min"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// The limit itself is allowed, the next digit is not. Weaning has its floor like every phase.
// hazard: H-LIMITS
#[rstest]
#[case("start", "0.02", None)]
#[case("start", "0.01999", Some("dose-below-soft-limit"))]
#[case("start", "0.15", None)]
#[case("start", "0.15001", Some("dose-above-soft-limit"))]
#[case("start", "0.9", Some("dose-above-soft-limit"))]
#[case("start", "0.900000001", Some("dose-above-hard-limit"))]
#[case("maintenance", "0.3", None)]
#[case("maintenance", "0.350000001", Some("dose-above-soft-limit"))]
#[case("maintenance", "3", Some("dose-above-soft-limit"))]
#[case("maintenance", "3.00000001", Some("dose-above-hard-limit"))]
#[case("weaning", "0.099", None)]
#[case("weaning", "0.01", None)]
#[case("weaning", "0.0991", Some("dose-above-soft-limit"))]
#[case("weaning", "0.51", Some("dose-above-hard-limit"))]
#[case("weaning", "0.0099", Some("dose-below-soft-limit"))]
#[case("weaning", "0.00099", Some("dose-far-below"))]
fn each_phase_has_its_own_limits(#[case] phase: &str, #[case] number: &str, #[case] expected: Option<&str>) {
    let codes = at(phase, &format!("{number} mcg/kg/min")).codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.starts_with("dose-")).collect();
    assert_eq!(found, expected.into_iter().collect::<Vec<_>>());
}

// Usual is 0.02 to 0.3 mcg/kg/min; 84.2 kg.
// hazard: H-UNIT
#[rstest]
#[case("80", "1000 times: mg, mcg and nanogram taken for each other?")]
#[case("4.8", "60 times: per min and per h taken for each other?")]
#[case("115.2", "1440 times: per min and per day taken for each other?")]
#[case("0.8", "10 times: a point misplaced, or a zero too many or too few?")]
#[case("0.0003", "1000 times: mg, mcg and nanogram taken for each other?")]
#[case("0.002", "10 times: a point misplaced, or a zero too many or too few?")]
fn the_slip_is_named(#[case] number: &str, #[case] slip: &str) {
    let checked = at("maintenance", &format!("{number} mcg/kg/min")).checked();
    let message = checked.findings().iter().find(|one| one.code.id.starts_with("dose-")).map(|one| &*one.message);
    assert!(
        message.is_some_and(|message| message.split_once("Perhaps ").is_some_and(|(_, says)| says.contains(slip))),
        "{message:?}"
    );
}

// Where neither a unit nor a point explains it, the weight may: 30 mcg/min of 12 kg, say.
// hazard: H-WEIGHT
#[test]
fn a_dose_for_the_whole_patient_is_named() {
    let set_up = clean()
        .with("area", "paediatric theatre")
        .with("drug", "rocuronium")
        .with("indication", "muscle relaxation")
        .with("patient.born", "2021-03-14")
        .with("patient.weight", "18 kg")
        .with("dose", "162 mcg/kg/min")
        .with("driver", "fine")
        .bought_in("50 mg", "50 mL", "1 mg/mL");
    assert_snapshot!(set_up.found("dose-above-hard-limit"), @"
    stop, beyond: dose
    162 mcg/kg/min is above the hard limit of 20 mcg/kg/min for maintenance. Perhaps 18 times, which is the weight: per kg and per patient taken for each other?
    do: go back to the order
    from: drugs/rocuronium.yaml line 43 (demonstration value)
    ");
}

// A dose that no slip explains is not explained: usual is 1 to 2 mcg/kg/min.
#[test]
fn no_slip_is_invented() {
    let set_up = clean().with("drug", "cisatracurium").with("indication", "muscle relaxation");
    let found = set_up.with("dose", "6 mcg/kg/min").found("dose-above-soft-limit");
    assert!(!found.is_empty() && !found.contains("Perhaps"), "{found}");
}

// A hard lower limit is named as what it is, however far below it the dose is.
// hazard: H-LIMITS
#[test]
fn a_dose_far_below_a_hard_limit_is_below_that_limit() {
    let codes = at("maintenance", "0.0009 mcg/kg/min").against(House::with_a_hard_lower_limit()).codes();
    assert!(codes.contains(&"dose-below-hard-limit") && !codes.contains(&"dose-far-below"), "{codes:?}");
}
