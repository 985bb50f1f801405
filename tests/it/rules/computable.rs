//! What cannot be computed truthfully is never passable.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

/// Its exact rate in mL/h is 50 times the dose in mcg/kg/min.
fn slow(dose: &str) -> SetUp {
    clean().with("patient.weight", "50 kg").with("dose", dose).bought_in("3 mg", "50 mL", "60 mcg/mL")
}

fn propofol() -> SetUp {
    clean()
        .with("drug", "propofol")
        .with("indication", "anaesthesia")
        .with("dose", "6 mg/kg/h")
        .bought_in("500 mg", "50 mL", "10 mg/mL")
        .with("dosing_weight", "lean")
}

fn by_surface() -> SetUp {
    let house = House::new()
        .everywhere("drugs/dobutamine.yaml", "mcg/kg/min,", "mcg/m2/min,")
        .everywhere(
            "drugs/dobutamine.yaml",
            "dose_unit: mcg/kg/min\n      dosing_weights: [actual]",
            "dose_unit: mcg/m2/min\n      body_surface: mosteller",
        )
        
        .leak();
    clean()
        .against(house)
        .with("drug", "dobutamine")
        .with("indication", "inotrope")
        .with("dose", "5 mcg/m2/min")
        .bought_in("50 mg", "50 mL", "1 mg/mL")
}

// hazard: H-ARITHMETIC
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "dose-and-strength-differ-in-kind",
            fires: clean().bought_in("4 units", "50 mL", "0.08 units/mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: dose
            the dose 0.08 mcg/kg/min counts a mass, and the strength counts an amount in units
            do: dose and strength must both be a mass, or units, or moles, or mEq: go back to the order and the label (nothing is converted without a molar mass or a valence)
            ")
            },
            silent: clean().bought_in("4000 mcg", "50 mL", "0.08 mg/mL"),
        },
        Case {
            code: "size-missing",
            fires: propofol().without("patient.height"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: patient.height
            the lean body weight (Janmahasatian 2005) needs the height, and none is given
            do: measure the height and give it in cm
            ")
            },
            silent: propofol(),
        },
        Case {
            code: "rate-rounds-to-nothing",
            fires: slow("0.00099 mcg/kg/min"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: dose
            the rate rounds to nothing at a step of 0.1 mL/h
            do: a weaker solution, or a driver with a finer step
            ")
            },
            silent: slow("0.001 mcg/kg/min"),
        },
        Case {
            code: "numbers-too-far-apart",
            fires: clean().with("patient.weight", "987654321 kg").with("dose", "987654321 g/kg/s").bought_in(
                "0.000000123 nanogram",
                "987654321 L",
                "0.000000123 nanogram in 987654321 L",
            ),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: dose
            the numbers are too far apart to be computed exactly
            do: go back to the order and the label: numbers so far apart are a slip
            ")
            },
            silent: clean().with("patient.weight", "987654321 kg").with("dose", "987654321 g/kg/s"),
        },
        // 0.9 mL fills the line, and 0.1 mL stays behind.
        Case {
            code: "nothing-left-to-infuse",
            fires: clean().with("fill", "1 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: fill
            after filling the line and leaving what cannot be pushed out, nothing is left to infuse
            do: fill more, or use a line that holds less
            ")
            },
            silent: clean().with("fill", "1.001 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-WEIGHT
#[rstest]
#[case::height(propofol().without("patient.height"), "patient.height")]
#[case::sex(propofol().without("patient.sex"), "patient.sex")]
#[case::age(propofol().without("patient.born"), "patient.born")]
#[case::child(propofol().with("patient.born", "2010-03-15"), "patient.born")]
#[case::too_short(propofol().with("patient.height", "152.3 cm"), "patient.height")]
#[case::surface(by_surface().without("patient.height"), "patient.height")]
fn what_is_missing_is_named(#[case] set_up: SetUp, #[case] field: &str) {
    let found = set_up.found("size-missing");
    assert!(found.starts_with(&format!("stop, impossible: {field}\n")), "{found}");
}

#[rstest]
#[case(propofol().with("patient.height", "152.4 cm"))]
#[case(propofol().with("patient.born", "2010-03-14"))]
#[case(by_surface().without("patient.sex").without("patient.born"))]
fn what_is_there_is_enough(#[case] set_up: SetUp) {
    assert_eq!(set_up.found("size-missing"), "");
}

#[rstest]
#[case("1.001 mL", "already full", false)]
#[case("0.1 mL", "already full", true)]
#[case("0.101 mL", "already full", false)]
#[case("0.1 mL", "with diluent", true)]
#[case("0.5 mL", "from this syringe", true)]
fn what_the_line_takes_depends_on_how_it_was_filled(#[case] fill: &str, #[case] line: &str, #[case] nothing: bool) {
    let codes = clean().with("fill", fill).with("line_filled", line).codes();
    assert_eq!(codes.contains(&"nothing-left-to-infuse"), nothing, "{codes:?}");
}
