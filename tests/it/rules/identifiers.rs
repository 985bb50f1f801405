//! By how many identifiers the patient is known.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::clean;

// hazard: H-PATIENT
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "identifiers-pending",
            fires: clean().with("patient.identifiers", "pending"),
            says: |found| {
                assert_snapshot!(found, @"
            note: patient.identifiers
            the identifiers are pending
            do: read 2 identifiers off the wristband before the start
            ")
            },
            silent: clean(),
        },
        Case {
            code: "identifiers-too-few",
            fires: clean().with("patient.identifiers", r#"["QM-30417"]"#),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: patient.identifiers
            1 different identifiers are given, and 2 are needed
            do: write name and date of birth or number, as on the wristband
            from: formulary.yaml line 7 (local policy)
            ")
            },
            silent: clean().with("patient.identifiers", r#"["QM-30417", "QM-30418"]"#),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// One identifier written twice is one identifier.
// hazard: H-PATIENT
#[rstest]
#[case(r#"["QM-30417", "QM-30417"]"#, true)]
#[case(r#"["QM-30417", "qm-30417"]"#, true)]
#[case(r#"["QM-30417", "QM 30417"]"#, true)]
#[case(r#"["QM-30417", "QM30417 "]"#, true)]
#[case(r#"["QM-30417", "--"]"#, true)]
#[case("[]", true)]
#[case(r#"["QM-30417", "1959-08-02", "1959-08-02"]"#, false)]
fn only_different_identifiers_count(#[case] identifiers: &str, #[case] too_few: bool) {
    let codes = clean().with("patient.identifiers", identifiers).codes();
    assert_eq!(codes.contains(&"identifiers-too-few"), too_few, "{codes:?}");
}

#[rstest]
#[case(r#"["QM-30417", "1959-08-02"]"#, true)]
#[case(r#"["QM-30417", "1959-08-02", "Ward 4"]"#, false)]
fn the_house_says_how_many(#[case] identifiers: &str, #[case] too_few: bool) {
    let house = House::new().change("formulary.yaml", "identifiers_needed: 2", "identifiers_needed: 3");
    let codes = clean().against(house.leak()).with("patient.identifiers", identifiers).codes();
    assert_eq!(codes.contains(&"identifiers-too-few"), too_few, "{codes:?}");
}
