//! Names that lead nowhere.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

fn propofol() -> SetUp {
    clean()
        .with("drug", "propofol")
        .with("indication", "anaesthesia")
        .with("dose", "6 mg/kg/h")
        .bought_in("500 mg", "50 mL", "10 mg/mL")
}

// hazard: H-DRUG
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "drug-unknown",
            fires: clean().with("drug", "noradrenalin"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, impossible: drug
                the drug `noradrenalin` is not in this formulary
                do: read the order again, and write the generic name. A drug without local limits cannot be checked
                ")
            },
            silent: clean().with("drug", "Norepinephrine"),
        },
        Case {
            code: "area-unknown",
            fires: clean().with("area", "theatre"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, impossible: area
                the area `theatre` is not in this formulary
                do: write one of: adult theatre, paediatric theatre, adult intensive care, obstetrics, newborn intensive care, paediatric intensive care
                ")
            },
            silent: clean().with("area", "Adult  Theatre"),
        },
        Case {
            code: "drug-not-in-area",
            fires: propofol().with("area", "paediatric theatre"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, impossible: area
                propofol has no limits in paediatric theatre
                do: it has limits in: adult theatre, adult intensive care; ask the pharmacist
                ")
            },
            silent: propofol(),
        },
        Case {
            code: "indication-unknown",
            fires: clean().with("indication", "vasopresor"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: indication
            noradrenaline has no indication `vasopresor` in adult theatre
            do: write one of: vasopressor
            ")
            },
            silent: clean().with("indication", "Vasopressor"),
        },
        Case {
            code: "indication-not-named",
            fires: propofol().without("indication"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: indication
            propofol is used for 2 things in adult theatre
            do: write `indication:` and one of: anaesthesia, sedation
            ")
            },
            silent: clean().without("indication"),
        },
        Case {
            code: "phase-without-limits",
            fires: clean().with("phase", "load"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: phase
            noradrenaline for vasopressor in adult theatre has no limits for the phase load
            do: write one of: start, maintenance, weaning
            from: drugs/noradrenaline.yaml line 47 (local policy)
            ")
            },
            silent: clean().with("phase", "start"),
        },
        Case {
            code: "container-unknown",
            fires: clean().with("container", "syringe 50"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: container
            `syringe 50` is not in this formulary's equipment
            do: write one of: syringe 3 mL, syringe 5 mL, syringe 10 mL, syringe 20 mL, syringe 30 mL, syringe 50 mL, syringe 60 mL, bag 50 mL, bag 100 mL, bag 250 mL, bag 500 mL
            ")
            },
            silent: clean().with("container", "syringe 60 mL"),
        },
        Case {
            code: "line-unknown",
            fires: clean().with("line", "narrow-250"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: line
            `narrow-250` is not in this formulary's equipment
            do: write one of: narrow-100, narrow-150, narrow-200, standard-180
            ")
            },
            silent: clean().with("line", "narrow-200"),
        },
        Case {
            code: "driver-unknown",
            fires: clean().with("driver", "Bench"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: driver
            `Bench` is not in this formulary's equipment
            do: write one of: bench, fine, bag pump
            ")
            },
            silent: clean().with("driver", "fine"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// A drug that nothing is near to is not guessed at.
// hazard: H-DRUG
#[test]
fn no_drug_is_guessed() {
    assert_snapshot!(clean().with("drug", "aspirin").found("drug-unknown"), @"
    stop, impossible: drug
    the drug `aspirin` is not in this formulary
    do: read the order again, and write the generic name. A drug without local limits cannot be checked
    ");
}

// Each unknown name is said, all at once, and none of them gives a rate.
// hazard: H-DRUG
#[rstest]
#[case(&[("drug", "aspirin")])]
#[case(&[("drug", "aspirin"), ("area", "ward"), ("container", "jar"), ("line", "hose"), ("driver", "hand")])]
#[case(&[("driver", "hand"), ("line", "hose")])]
fn an_unknown_name_has_no_rate(#[case] changed: &[(&str, &str)]) {
    let set_up = changed.iter().fold(clean(), |set_up, (field, value)| set_up.with(field, value));
    let codes = set_up.codes();
    for (field, _) in changed {
        assert!(codes.contains(&&*format!("{field}-unknown")), "{codes:?}");
    }
    assert!(set_up.computed().sum().is_err());
}

// The house writes small letters; a person may type as they like.
#[rstest]
#[case("Ward 4")]
#[case("ward  4")]
fn an_area_with_capitals_is_found(#[case] typed: &str) {
    let text = "ward 4:\n  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench}\n  unstarted_entry_expires: 12 h\nadult theatre:\n";
    let house = House::new().change("areas.yaml", "adult theatre:\n", text);
    assert_eq!(clean().against(house.leak()).with("area", typed).codes(), ["drug-not-in-area"]);
}
