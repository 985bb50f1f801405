//! The ages that an area and a use are meant for.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

// hazard: H-PATIENT
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "age-outside",
            fires: clean().with("patient.born", "2010-03-15"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: patient.born
            `adult theatre` is for patients from 16 years, and this patient is younger
            do: choose the area and indication for this patient
            from: areas.yaml line 5 (local policy)
            ")
            },
            silent: clean().with("patient.born", "2010-03-14"),
        },
        Case {
            code: "age-not-given",
            fires: clean().without("patient.born"),
            says: |found| {
                assert_snapshot!(found, @"
            note: patient.born
            `adult theatre` is for patients from 16 years, and no age is given
            do: give the date of birth, or make sure by asking
            from: areas.yaml line 5 (local policy)
            ")
            },
            silent: clean().without("patient.born").with("patient.age", "66 years"),
        },
        Case {
            code: "age-before-birth",
            fires: clean().with("patient.born", "2026-03-15"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: patient.born
            the date of birth lies after this entry
            do: look at the date of birth and at the clock
            ")
            },
            silent: clean().with("patient.born", "2026-03-14"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

fn newborn() -> SetUp {
    clean()
        .with("area", "paediatric theatre")
        .with("patient.weight", "3 kg")
        .with("dose", "0.1 mcg/kg/min")
        .with("driver", "fine")
        .bought_in("0.9 mg", "50 mL", "18 mcg/mL")
}

fn child() -> SetUp {
    clean()
        .with("area", "paediatric theatre")
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("patient.weight", "10 kg")
        .with("dose", "0.1 mcg/kg/min")
        .with("driver", "fine")
        .bought_in("1 mg", "40 mL", "25 mcg/mL")
        .with("fill", "40 mL")
}

// hazard: H-PATIENT
#[rstest]
#[case::last_day(newborn(), "2026-02-14", false)]
#[case::too_old(newborn(), "2026-02-13", true)]
#[case::on_the_sixteenth_birthday(newborn().with("drug", "adrenaline").with("indication", "small child vasopressor"), "2010-03-14", false)]
#[case::after_it(newborn().with("drug", "adrenaline").with("indication", "small child vasopressor"), "2010-03-13", true)]
#[case::day_before_the_first_birthday(child(), "2025-03-15", true)]
#[case::first_birthday(child(), "2025-03-14", false)]
#[case::twelfth_birthday(child(), "2014-03-14", false)]
#[case::day_after_the_twelfth_birthday(child(), "2014-03-13", true)]
fn both_ends_are_allowed(#[case] set_up: SetUp, #[case] born: &str, #[case] outside: bool) {
    assert_eq!(set_up.with("patient.born", born).codes().contains(&"age-outside"), outside);
}

// Not the day of the check, which may be years later, and not the day in another country.
#[rstest]
#[case("2026-03-13T23:59:00+00:00", true)]
#[case("2026-03-14T00:00:00+00:00", false)]
#[case("2026-03-13T23:59:00-05:00", true)]
#[case("2026-03-14T00:00:00+05:00", false)]
fn the_day_is_that_of_the_entry_where_it_was_made(#[case] entered_at: &str, #[case] outside: bool) {
    let set_up = clean().with("patient.born", "2010-03-14").with("entered_at", entered_at).without("drawn_up_at");
    let set_up = set_up.without("made_from").with("use_before", "2026-03-20T00:00:00+00:00");
    assert_eq!(set_up.at("2031-01-01T00:00:00+00:00").codes().contains(&"age-outside"), outside);
}

#[test]
fn a_use_for_every_age_asks_for_none() {
    let set_up = clean().with("drug", "fentanyl").with("indication", "analgesia").with("dose", "1 mcg/kg/h");
    let outside = set_up.with("area", "paediatric theatre").with("patient.born", "2009-01-01").found("age-outside");
    assert_eq!(outside.matches("paediatric theatre").count(), 1, "{outside}");
}
