//! The ordered range of doses.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

fn range(from: &str, to: &str) -> SetUp {
    clean().with("titrate", &format!("{{from: {from} mcg/kg/min, to: {to} mcg/kg/min}}"))
}

fn stepped(from: &str, to: &str, step: &str) -> SetUp {
    let range = format!("{{from: {from} mcg/kg/min, to: {to} mcg/kg/min, step: {step} mcg/kg/min}}");
    clean().with("titrate", &range)
}

// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    let lower = House::with_a_hard_lower_limit();
    vec![
        Case {
            code: "titration-above-hard-limit",
            fires: range("0.02", "3.01"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: titrate.to
                3.01 mcg/kg/min is above the hard limit of 3 mcg/kg/min for maintenance. Perhaps 60 times: per min and per h taken for each other? or 100 times: a point misplaced by two places?
                do: go back to the order
                from: drugs/noradrenaline.yaml line 59 (Society of Critical Care Medicine, dosing of vasopressors, Norepinephrine, 0.01 to 3 mcg/kg/min)
                ")
            },
            silent: range("0.02", "3"),
        },
        Case {
            code: "titration-below-hard-limit",
            fires: range("0.0049", "0.3").against(lower),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: titrate.from
                0.0049 mcg/kg/min is below the hard limit of 0.005 mcg/kg/min for maintenance. Perhaps 10 times: a point misplaced, or a zero too many or too few? or 60 times: per min and per h taken for each other?
                do: go back to the order
                from: drugs/noradrenaline.yaml line 59 (Society of Critical Care Medicine, dosing of vasopressors, Norepinephrine, 0.01 to 3 mcg/kg/min)
                ")
            },
            silent: range("0.005", "0.3").against(lower),
        },
        Case {
            code: "titration-above-soft-limit",
            fires: range("0.02", "0.36"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: titrate.to
                0.36 mcg/kg/min is above the soft limit of 0.35 mcg/kg/min for maintenance
                do: go back to the order; if it is meant, write the reason
                from: drugs/noradrenaline.yaml line 58 (demonstration value)
                ")
            },
            silent: range("0.02", "0.35"),
        },
        Case {
            code: "titration-below-soft-limit",
            fires: range("0.0099", "0.3"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: titrate.from
                0.0099 mcg/kg/min is below the soft limit of 0.01 mcg/kg/min for maintenance. Perhaps 10 times: a point misplaced, or a zero too many or too few?
                do: go back to the order; if it is meant, write the reason
                from: drugs/noradrenaline.yaml line 58 (demonstration value)
                ")
            },
            silent: range("0.01", "0.3"),
        },
        Case {
            code: "titration-in-another-unit",
            fires: clean().with("titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 20 nanogram/kg/min}"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: titrate
            the range is in nanogram/kg/min, and the dose is in mcg/kg/min
            do: write both in the unit of the order
            ")
            },
            silent: clean().with("titrate", "{from: 0.02 ug/kg/min, to: 0.3 microgram/kg/min, step: 0.02 mcg/kg/min}"),
        },
        Case {
            code: "titration-out-of-order",
            fires: range("0.3", "0.02"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: titrate
            the range begins at 0.3 mcg/kg/min and ends at 0.02 mcg/kg/min
            do: write the smaller dose in `from`
            ")
            },
            silent: range("0.08", "0.08"),
        },
        Case {
            code: "dose-outside-titration",
            fires: range("0.081", "0.3"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: dose
            the dose of 0.08 mcg/kg/min lies outside the ordered range, 0.081 mcg/kg/min to 0.3 mcg/kg/min
            do: go back to the order
            ")
            },
            silent: range("0.08", "0.3"),
        },
        Case {
            code: "titration-step-too-large",
            fires: stepped("0.02", "0.3", "0.281"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: titrate.step
            a step of 0.281 mcg/kg/min is wider than the range from 0.02 mcg/kg/min to 0.3 mcg/kg/min
            do: go back to the order: is the step a slip? If it is meant, write the reason
            ")
            },
            silent: stepped("0.02", "0.3", "0.08"),
        },
        // Ten times 0.02, of a dose of 0.08.
        Case {
            code: "titration-step-too-large",
            fires: stepped("0.02", "0.3", "0.2"),
            says: |found| {
                assert_snapshot!(found, @"
            justify: titrate.step
            a step of 0.2 mcg/kg/min would more than double the dose of 0.08 mcg/kg/min
            do: go back to the order: is the step a slip? If it is meant, write the reason
            ")
            },
            silent: stepped("0.02", "0.3", "0.13"),
        },
        // 0.0015 mcg/kg/min is 0.095 mL/h, which the driver rounds to its smallest rate, 0.1; 0.0007 is nothing.
        Case {
            code: "titration-beyond-flow-limit",
            fires: clean().with("titrate", "{from: 0.02 mcg/kg/min, to: 0.5 mcg/kg/min}").labelled("2 mg", "50 mL", "40 mcg/mL"),
            says: |found| assert_snapshot!(found, @"
            justify: titrate.to
            0.5 mcg/kg/min would need a rate beyond a limit that this use sets on the rate itself
            do: look at the upper end and at the strength; if it is meant, write the reason
            sum: 0.5 mcg/kg/min is 63.15 mL/h against 60 mL/h
            from: drugs/noradrenaline.yaml line 66 (demonstration value)
            "),
            silent: clean().with("titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min}").labelled("2 mg", "50 mL", "40 mcg/mL"),
        },
        Case {
            code: "titration-outside-driver",
            fires: range("0.0007", "0.3"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: titrate.from
                0.0007 mcg/kg/min would need a rate lower than the driver's smallest rate
                do: another strength or another driver; if it is meant, write the reason
                sum: 0.0007 mcg/kg/min is 0.044205 mL/h
                ")
            },
            silent: range("0.0015", "0.3"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Both ends are held against the limits, not only the upper one.
// hazard: H-LIMITS
#[rstest]
#[case("0.001", "3.5", &["titration-above-hard-limit", "titration-below-soft-limit", "titration-beyond-flow-limit"])]
#[case("0.6", "0.7", &["dose-outside-titration", "titration-above-soft-limit", "titration-above-soft-limit"])]
#[case("0.02", "0.08", &[])]
#[case("0.02", "0.079", &["dose-outside-titration"])]
#[case("0.08", "0.3", &[])]
#[case("0.081", "0.3", &["dose-outside-titration"])]
#[case("0.08", "0.08", &[])]
fn both_ends_count(#[case] from: &str, #[case] to: &str, #[case] expected: &[&str]) {
    let codes = range(from, to).codes();
    let found: Vec<&str> = codes.into_iter().filter(|code| code.contains("titration")).collect();
    assert_eq!(found, expected);
}

// Weaning has its floor, and so has its range.
#[rstest]
#[case("0.01", false)]
#[case("0.0099", true)]
fn a_weaning_range_has_a_floor(#[case] from: &str, #[case] below: bool) {
    let codes = range(from, "0.09").with("phase", "weaning").codes();
    assert_eq!(codes.iter().any(|code| code.starts_with("titration-below")), below, "{codes:?}");
}

#[test]
fn an_end_above_the_driver_is_said() {
    let found = range("0.02", "20").found("titration-outside-driver");
    assert!(found.contains("higher than the driver's largest rate"), "{found}");
}

// 15.82 mcg/kg/min is 999.03 mL/h, set as the driver's largest rate, 999 mL/h; 15.83 would be set as 1000 mL/h.
#[rstest]
#[case("15.82", false)]
#[case("15.83", true)]
fn the_largest_rate_itself_is_not_above_the_driver(#[case] to: &str, #[case] above: bool) {
    let codes = range("0.02", to).codes();
    assert_eq!(codes.contains(&"titration-outside-driver"), above, "{codes:?}");
}
