//! The strengths that are stocked, and how far another one is from them.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{SetUp, clean};

fn insulin(amount: &str, strength: &str) -> SetUp {
    clean()
        .with("drug", "insulin")
        .with("indication", "variable rate")
        .with("dose", "2 units/h")
        .bought_in(amount, "50 mL", strength)
}

/// A newborn of 3 kg: 0.3 mg/kg in 50 mL is 0.9 mg in 50 mL, 18 mcg/mL.
fn newborn(amount: &str, strength: &str) -> SetUp {
    clean()
        .with("area", "paediatric theatre")
        .with("patient.weight", "3 kg")
        .with("patient.born", "2026-03-10")
        .with("dose", "0.1 mcg/kg/min")
        .with("driver", "fine")
        .bought_in(amount, "50 mL", strength)
}

/// Insulin ordered by volume for each kg: the dose itself says nothing of units.
fn by_volume(amount: &str, strength: &str) -> SetUp {
    let house = House::new().everywhere("drugs/insulin.yaml", "units/h", "mL/kg/h");
    let unit = "dose_unit: mL/kg/h\n      dosing_weights: [actual]";
    let house = house.change("drugs/insulin.yaml", "dose_unit: mL/kg/h", unit);
    insulin(amount, strength).with("dose", "1 mL/kg/h").against(house.leak())
}

// hazard: H-STRENGTH
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "strength-off-by-a-factor",
            fires: clean().bought_in("0.4 mg", "50 mL", "8 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: label.strength
                8 mcg/mL is not stocked for vasopressor. Perhaps 10 times: a point misplaced, or a zero too many or too few?
                do: read the label again; a strength typed too low is an overdose, too high an underdose
                from: drugs/noradrenaline.yaml line 38 (Intensive Care Society and Faculty of Intensive Care Medicine, Medication Concentrations in Adult Critical Care Areas, V2.2, 2016)
                ")
            },
            silent: clean().bought_in("8 mg", "50 mL", "160 mcg/mL"),
        },
        Case {
            code: "label-of-another-kind",
            fires: by_volume("5 mg", "0.1 mg/mL"),
            says: |found| assert_snapshot!(found, @"
            stop, impossible: label.amount
            the label counts a mass, and the stocked strengths do not
            do: read the label again: is it this drug?
            "),
            silent: by_volume("50 units", "1 unit/mL"),
        },
        Case {
            code: "strength-not-listed",
            fires: insulin("49 units", "0.98 units/mL"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: label.strength
                0.98 units/mL is not stocked for variable rate
                do: make up a listed strength
                from: drugs/insulin.yaml line 27 (local policy)
                ")
            },
            silent: insulin("50 units", "1 unit/mL"),
        },
        Case {
            code: "strength-not-stocked",
            fires: clean().bought_in("4.01 mg", "50 mL", "80.2 mcg/mL"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: label.strength
                80.2 mcg/mL is not stocked for vasopressor
                do: make up a stocked strength; if that is not possible, write the reason
                from: drugs/noradrenaline.yaml line 47 (local policy)
                ")
            },
            silent: clean().bought_in("2 mg", "25 mL", "0.008 %").with("fill", "25 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

fn about_strength(set_up: &SetUp) -> Vec<&'static str> {
    set_up.codes().into_iter().filter(|code| code.starts_with("strength-")).collect()
}

// Stocked are 80 and 160 mcg/mL.
// hazard: H-STRENGTH
#[rstest]
#[case("40 mg", "0.8 mg/mL", "Perhaps 10 times: ")]
#[case("400 mg", "8 mg/mL", "Perhaps 100 times: ")]
#[case("4 g", "80 mg/mL", "1000 times: mcg and mg taken for each other?")]
#[case("240 mg", "4.8 mg/mL", "60 times: per min and per h taken for each other?")]
#[case("0.4 mg", "8 mcg/mL", "Perhaps 10 times: ")]
#[case("0.04 mg", "0.8 mcg/mL", "Perhaps 100 times: ")]
#[case("4 mcg", "80 nanogram/mL", "Perhaps 1000 times: ")]
#[case("0.8 mg", "16 mcg/mL", "Perhaps 10 times: ")]
fn a_power_of_ten_or_sixty_is_a_slip(#[case] amount: &str, #[case] strength: &str, #[case] says: &str) {
    let set_up = clean().bought_in(amount, "50 mL", strength);
    assert_eq!(about_strength(&set_up), ["strength-off-by-a-factor"]);
    assert!(set_up.found("strength-off-by-a-factor").contains(says), "{}", set_up.found("strength-off-by-a-factor"));
}

// The amount drawn up for a newborn is rounded: 1 % either way is allowed.
// hazard: H-STRENGTH
#[rstest]
#[case("0.9 mg", "18 mcg/mL", &[])]
#[case("0.909 mg", "18.18 mcg/mL", &[])]
#[case("0.90901 mg", "18.1802 mcg/mL", &["strength-not-stocked"])]
#[case("0.891 mg", "17.82 mcg/mL", &[])]
#[case("0.89 mg", "17.8 mcg/mL", &["strength-not-stocked"])]
#[case("9 mg", "180 mcg/mL", &["strength-off-by-a-factor"])]
#[case("0.9 mcg", "18 nanogram/mL", &["strength-off-by-a-factor"])]
#[case::rounded_too("0.905 mcg", "18.1 nanogram/mL", &["strength-off-by-a-factor"])]
#[case("2.5 mg", "50 mcg/mL", &[])]
fn a_recipe_per_kg_is_met_within_one_percent(#[case] amount: &str, #[case] strength: &str, #[case] expected: &[&str]) {
    assert_eq!(about_strength(&newborn(amount, strength)), expected);
}

// A fixed strength is met exactly; a strength that is stocked for another use is known, and no slip.
#[rstest]
#[case("3.99 mg", "79.8 mcg/mL", "strength-not-stocked")]
#[case("2.5 mg", "50 mcg/mL", "strength-not-stocked")]
fn a_fixed_strength_is_met_exactly(#[case] amount: &str, #[case] strength: &str, #[case] code: &str) {
    assert_eq!(about_strength(&clean().bought_in(amount, "50 mL", strength)), [code]);
}

// hazard: H-STRENGTH
#[rstest]
#[case("5 units", "0.1 units/mL", "strength-off-by-a-factor")]
#[case("40 units", "0.8 units/mL", "strength-not-listed")]
fn only_what_is_listed_may_run(#[case] amount: &str, #[case] strength: &str, #[case] code: &str) {
    assert_eq!(about_strength(&insulin(amount, strength)), [code]);
}
