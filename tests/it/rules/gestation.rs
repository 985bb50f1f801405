//! Weeks of pregnancy at birth: within their bounds, while they mean something, and what a weight is held against then.

use countersign::document::{ENTRY_LIMIT, Path, read_yaml};
use countersign::entry::EntryForm;
use insta::assert_snapshot;
use rstest::rstest;

use crate::common::set_up::{SetUp, clean};
use crate::rules::Case;

fn infant(born: &str, gestation: &str, weight: &str) -> SetUp {
    clean()
        .with("area", "paediatric theatre")
        .with("patient.born", born)
        .with("patient.gestation", gestation)
        .with("patient.weight", weight)
        .without("patient.height")
}

// hazard: H-WEIGHT
pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "gestation-too-old",
        fires: infant("2024-03-13", "34 weeks", "12 kg"),
        says: |found| {
            assert_snapshot!(found, @"
            stop, impossible: patient.gestation
            `gestation` is given, and the patient is older than 2 years: a weight is no longer judged by it
            do: leave `gestation` out; or read the date of birth again
            ")
        },
        silent: infant("2024-03-14", "34 weeks", "12 kg"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-WEIGHT
#[rstest]
// Four weeks old, 34 weeks after the last period: 1.86 kg in the middle of the girls (Villar 2015, appendix 8).
#[case::right("2026-02-14", "30 weeks", "2 kg", false)]
#[case::in_pounds("2026-02-14", "30 weeks", "4.4 kg", true)]
#[case::tenfold("2026-02-14", "30 weeks", "20 kg", true)]
#[case::as_born_at_term("2026-02-14", "40 weeks", "2 kg", true)]
// The day of a birth at 24 weeks: 0.602 kg in the middle (Villar 2016).
#[case::smallest("2026-03-14", "24 weeks", "600 g", false)]
#[case::smallest_in_pounds("2026-03-14", "24 weeks", "1.35 kg", true)]
#[case::before_any_figure("2026-03-14", "22 weeks", "480 g", false)]
// The day of a birth at 28 weeks: 1.01 kg in the middle at birth, less afterwards.
#[case::at_28_weeks("2026-03-14", "28 weeks", "1.05 kg", false)]
#[case::at_28_weeks_tenfold("2026-03-14", "28 weeks", "10.5 kg", true)]
// Born at term and a year old: 9.5 kg in the middle of the girls (CDC 2000).
#[case::at_term("2025-03-14", "40 weeks", "9.5 kg", false)]
#[case::at_term_in_pounds("2025-03-14", "40 weeks", "21 kg", true)]
// After two years a weight is judged as ever, beside the stop.
#[case::five_years("2021-03-14", "28 weeks", "180 kg", true)]
fn a_weight_after_a_preterm_birth_is_judged(
    #[case] born: &str,
    #[case] gestation: &str,
    #[case] weight: &str,
    #[case] asked: bool,
) {
    let codes = infant(born, gestation, weight).codes();
    assert_eq!(codes.contains(&"weight-unlikely-for-age"), asked, "{codes:?}");
}

// hazard: H-WEIGHT
#[rstest]
#[case("22 weeks", true)]
#[case("44 weeks", true)]
#[case("154 days", true)]
#[case("21 weeks", false)]
#[case("153 days", false)]
#[case("45 weeks", false)]
#[case("5 years", false)]
#[case("0 weeks", false)]
fn weeks_of_pregnancy_have_bounds(#[case] gestation: &str, #[case] read: bool) {
    let text = infant("2026-02-14", gestation, "2 kg").yaml();
    let mut faults = Vec::new();
    let root = read_yaml(&text, ENTRY_LIMIT, &mut faults).expect("it is a form");
    let entry = EntryForm::at(&root, Path::Root).read(&mut faults);
    assert_eq!(entry.is_some(), read, "{faults:?}");
    if !read {
        let fault = faults.first().expect("it says why");
        assert_eq!((fault.code, fault.field.as_str()), ("gestation-outside", "patient.gestation"));
        assert!(!fault.message.contains(gestation), "{}", fault.message);
    }
}
