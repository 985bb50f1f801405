//! What a blocked line would do: a late alarm, and what the release sets free.

use insta::assert_snapshot;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// At 0.6 and 0.7 mL/h up to 2.6 mL are displaced before the alarm: more and less than four hours.
fn slow(dose: &str, amount: &str, strength: &str) -> SetUp {
    clean().with("patient.weight", "50 kg").with("dose", dose).bought_in(amount, "50 mL", strength)
}

/// The soft limit of a bolus is 1 mcg/kg, 84.2 mcg.
fn remifentanil(amount: &str, strength: &str) -> SetUp {
    clean()
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in(amount, "50 mL", strength)
}

// hazard: H-ARRIVAL
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "alarm-late",
            fires: slow("0.02 mcg/kg/min", "5 mg", "100 mcg/mL"),
            says: |found| assert_snapshot!(found, @"
            note: driver
            if the line is blocked, the driver may alarm only after 0.51 to 4.4 h
            do: look at the line and at the effect; a smaller syringe or a weaker solution alarms sooner
            from: formulary.yaml line 7 (local policy)
            "),
            silent: slow("0.021 mcg/kg/min", "4.5 mg", "90 mcg/mL"),
        },
        Case {
            code: "stored-bolus-above-limit",
            fires: remifentanil("2.5 mg", "50 mcg/mL"),
            says: |found| assert_snapshot!(found, @"
            note: driver
            a blocked line may set free up to 2.6 mL when it is released, and the soft limit of a bolus is 1.684 mL
            do: after an alarm, take the line off the patient before the block is released
            from: drugs/remifentanil.yaml line 48 (Prescribing information, remifentanil, dosing tables, Adults, 0.05 to 2 mcg/kg/min, 1 mcg/kg over 30 to 60 s; after surgery 0.025 to 0.2 mcg/kg/min)
            "),
            silent: remifentanil("1 mg", "20 mcg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// What a syringe too slow for its size does is not known: no alarm time is told of it.
// hazard: H-ARRIVAL
#[test]
fn where_nothing_is_known_no_alarm_is_told() {
    let codes = slow("0.02 mcg/kg/min", "7.5 mg", "150 mcg/mL").codes();
    assert!(codes.contains(&"rate-unsteady") && !codes.contains(&"alarm-late"), "{codes:?}");
}
