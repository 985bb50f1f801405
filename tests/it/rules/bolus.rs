//! A bolus from the driver.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

/// 84.2 mcg, which is 1.684 mL of 50 mcg/mL.
fn remifentanil(bolus: &str, over: &str) -> SetUp {
    clean()
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("2 mg", "40 mL", "50 mcg/mL")
        .with("fill", "40 mL")
        .with("bolus", &format!("{{dose: {bolus}, over: {over}}}"))
}

fn esmolol(bolus: &str) -> SetUp {
    clean()
        .with("drug", "esmolol")
        .with("indication", "heart rate control")
        .with("dose", "50 mcg/kg/min")
        .bought_in("500 mg", "50 mL", "10 mg/mL")
        .with("planned_for", "1 h")
        .with("bolus", &format!("{{dose: {bolus}, over: 1 min}}"))
}

// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    let lower = House::new()
        .change("drugs/esmolol.yaml", "hard: {to: 1000 mcg/kg,", "hard: {from: 100 mcg/kg, to: 1000 mcg/kg,")
        .leak();
    // 1.684 mL in one minute.
    let slow = House::new()
        .change(
            "equipment.yaml",
            "    bolus_rate: 999 mL/h\n    shows: [rate, volume given, time left]\n",
            "    bolus_rate: 101.04 mL/h\n    shows: [rate, volume given, time left]\n",
        )
        .leak();
    vec![
        Case {
            code: "bolus-not-allowed",
            fires: clean().with("bolus", "{dose: 1 mcg/kg, over: 1 min}"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: bolus
            for vasopressor in adult theatre no bolus is given from the driver
            do: leave the bolus out, or ask the pharmacist
            from: drugs/noradrenaline.yaml line 47 (local policy)
            ")
            },
            silent: remifentanil("1 mcg/kg", "1 min"),
        },
        Case {
            code: "bolus-unit-not-local",
            fires: remifentanil("84.2 mcg", "1 min"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: bolus.dose
                the bolus is in mcg, and here it is ordered in another unit
                do: go back to the order, and read the unit again
                from: drugs/remifentanil.yaml line 50 (Prescribing information, remifentanil, dosing tables, Adults, 0.05 to 2 mcg/kg/min, 1 mcg/kg over 30 to 60 s; after surgery 0.025 to 0.2 mcg/kg/min)
                ")
            },
            silent: remifentanil("1 microgram/kg", "1 min"),
        },
        Case {
            code: "bolus-above-hard-limit",
            fires: remifentanil("2.01 mcg/kg", "1 min"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: bolus.dose
                a bolus of 2.01 mcg/kg is above the hard limit of 2 mcg/kg
                do: go back to the order
                from: drugs/remifentanil.yaml line 49 (demonstration value)
                ")
            },
            silent: remifentanil("2 mcg/kg", "1 min"),
        },
        Case {
            code: "bolus-below-hard-limit",
            fires: esmolol("99 mcg/kg").against(lower),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: bolus.dose
                a bolus of 99 mcg/kg is below the hard limit of 100 mcg/kg
                do: go back to the order
                from: drugs/esmolol.yaml line 40 (demonstration value)
                ")
            },
            silent: esmolol("100 mcg/kg").against(lower),
        },
        Case {
            code: "bolus-above-soft-limit",
            fires: remifentanil("1.01 mcg/kg", "1 min"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: bolus.dose
                a bolus of 1.01 mcg/kg is above the soft limit of 1 mcg/kg
                do: go back to the order; if it is meant, write the reason
                from: drugs/remifentanil.yaml line 48 (Prescribing information, remifentanil, dosing tables, Adults, 0.05 to 2 mcg/kg/min, 1 mcg/kg over 30 to 60 s; after surgery 0.025 to 0.2 mcg/kg/min)
                ")
            },
            silent: remifentanil("1 mcg/kg", "1 min"),
        },
        Case {
            code: "bolus-below-soft-limit",
            fires: esmolol("249 mcg/kg"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: bolus.dose
                a bolus of 249 mcg/kg is below the soft limit of 250 mcg/kg
                do: go back to the order; if it is meant, write the reason
                from: drugs/esmolol.yaml line 39 (demonstration value)
                ")
            },
            silent: esmolol("250 mcg/kg"),
        },
        Case {
            code: "bolus-too-fast",
            fires: remifentanil("1 mcg/kg", "29.9 s"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: bolus.over
                the bolus is given over 29.9 s, less than 30 s
                do: go back to the order: too fast is another dose
                from: drugs/remifentanil.yaml line 50 (Prescribing information, remifentanil, dosing tables, Adults, 0.05 to 2 mcg/kg/min, 1 mcg/kg over 30 to 60 s; after surgery 0.025 to 0.2 mcg/kg/min)
                ")
            },
            silent: remifentanil("1 mcg/kg", "30 s"),
        },
        Case {
            code: "bolus-too-slow",
            fires: remifentanil("1 mcg/kg", "61 s"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: bolus.over
                the bolus is given over 61 s, more than 60 s
                do: go back to the order; if it is meant, write the reason
                from: drugs/remifentanil.yaml line 50 (Prescribing information, remifentanil, dosing tables, Adults, 0.05 to 2 mcg/kg/min, 1 mcg/kg over 30 to 60 s; after surgery 0.025 to 0.2 mcg/kg/min)
                ")
            },
            silent: remifentanil("1 mcg/kg", "1 min"),
        },
        Case {
            code: "bolus-outside-driver",
            fires: remifentanil("1 mcg/kg", "59 s").against(slow),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: bolus.over
            1 mcg/kg over 59 s is faster than this driver gives a bolus (101.04 mL/h)
            do: a longer time, a stronger solution, or another driver
            ")
            },
            silent: remifentanil("1 mcg/kg", "1 min").against(slow),
        },
        // 1 mL fills the line or stays behind.
        Case {
            code: "bolus-more-than-left",
            fires: remifentanil("1 mcg/kg", "1 min").with("fill", "2.683 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: bolus.dose
            a bolus of 1 mcg/kg is more than is left to infuse
            do: go back to the order, or fill more
            ")
            },
            silent: remifentanil("1 mcg/kg", "1 min").with("fill", "2.684 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-UNIT
#[rstest]
#[case("1 mg/kg", &["bolus-unit-not-local", "bolus-outside-driver", "bolus-more-than-left"])]
#[case("1 nanogram/kg", &["bolus-unit-not-local"])]
#[case("1 mL", &["bolus-unit-not-local"])]
fn another_unit_is_stopped_whatever_it_amounts_to(#[case] bolus: &str, #[case] expected: &[&str]) {
    let found = remifentanil(bolus, "1 min").codes();
    assert!(expected.iter().all(|code| found.contains(code)), "{found:?}");
    assert!(!found.iter().any(|code| code.ends_with("-limit")), "{found:?}");
}

#[test]
fn a_bolus_of_another_kind_has_no_sum() {
    let found = remifentanil("1 unit/kg", "1 min").found("dose-and-strength-differ-in-kind");
    assert!(found.starts_with("stop, impossible: bolus.dose\n"), "{found}");
}

// One bolus beyond both limits is one finding.
#[test]
fn hard_hides_soft() {
    let codes = remifentanil("2.01 mcg/kg", "1 min").codes();
    assert_eq!(codes.iter().filter(|code| code.starts_with("bolus-")).count(), 1, "{codes:?}");
}

#[test]
fn a_usual_bolus_is_quiet() {
    assert_eq!(remifentanil("0.5 mcg/kg", "60 s").codes(), [""; 0]);
    assert_eq!(esmolol("500 mcg/kg").codes(), [""; 0]);
}
