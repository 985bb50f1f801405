//! `prepare` and `strengths` as people use them, through the real program.

use crate::common::run;
use insta::assert_snapshot;
use rstest::rstest;

const DEMONSTRATION: [&str; 2] = ["--formulary", "demonstration"];

fn says(words: &[&str]) -> String {
    let said = run(words).args(DEMONSTRATION).said();
    assert_eq!(said.code, 0, "{said:?}");
    said.stdout
}

fn refused(words: &[&str]) -> String {
    let said = run(words).args(DEMONSTRATION).said();
    assert!(said.code == 2 && said.stdout.is_empty(), "{said:?}");
    said.stderr
}

// hazard: H-STRENGTH
#[test]
fn a_recipe_of_the_formulary() {
    assert_snapshot!(says(&["prepare", "noradrenaline", "--strength", "single"]), @"
    DEMONSTRATION LIMITS, NOT FOR PATIENTS

    Drug          noradrenaline, 4 mg in 50 mL (single)
    Open          4 ampoules of 1 mg in 1 mL
    Draw up       4 mL of drug (4 ampoules)
    Make up to    50 mL with glucose 5 %: 46 mL of it
    Label         4 mg | 50 mL | 80 mcg/mL
    Discard       nothing is left in the ampoules
    Measured in   the drug: a syringe of 5 mL; the whole: a syringe of 50 mL
                  (assumed; say otherwise with --draw-with, --whole-in)

    - Made up to 50 mL is not added to 50 mL: that would be 54 mL of ≈ 74.07 mcg/mL.
    - By the tolerances of the syringes alone the strength may be from 7.7 % below
      to 8.4 % above what the label says, mostly within 6.6 % (k = 2). On wards it
      is further off. (ISO 7886-1:1993, Table 1, from memory.)

    Mix after diluting. A second person reads ampoules, volumes and label from the things themselves.
    One person's sum: not double-checked.
    ");
}

// hazard: H-STRENGTH
#[test]
fn half_of_it() {
    assert_snapshot!(says(&["prepare", "noradrenaline", "--strength", "single", "--volume", "25 mL", "--format", "json"]), @r#"{"version":1,"notice":"DEMONSTRATION LIMITS, NOT FOR PATIENTS","drug":"noradrenaline","strength":"single","ampoule":{"amount":"1 mg","volume":"1 mL"},"opened":"2","used":"2","draw_up":{"value":"2","unit":"mL"},"how":"made up to","diluent":{"name":"glucose 5 %","volume":{"value":"23","unit":"mL"}},"label":{"amount":"2 mg","volume":"25 mL","strength":"80 mcg/mL"},"left_over":{"value":"0","unit":"mL"},"measured_in":{"drug":{"value":"2","unit":"mL"},"rest":{"value":"50","unit":"mL"}},"tolerance":{"basis":"tolerances of syringes only, ISO 7886-1:1993, from memory","worst_below":"8.7 %","worst_above":"9.4 %","k2":"7.4 %"},"notes":["Made up to 25 mL is not added to 25 mL: that would be 27 mL of ≈ 74.07 mcg/mL.","By the tolerances of the syringes alone the strength may be from 8.7 % below to 9.4 % above what the label says, mostly within 7.4 % (k = 2). On wards it is further off. (ISO 7886-1:1993, Table 1, from memory.)"]}"#);
}

// Starship newborn drug guideline: noradrenaline 0.3 mg/kg in 50 mL.
// hazard: H-STRENGTH
#[test]
fn a_strength_for_a_weight() {
    let words = ["prepare", "noradrenaline", "--strength", "per kg", "--weight", "3.2 kg", "--ampoule", "4 mg in 4 mL"];
    assert_snapshot!(says(&words), @"
    DEMONSTRATION LIMITS, NOT FOR PATIENTS

    Drug          noradrenaline, 0.3 mg/kg in 50 mL (per kg)
    Open          1 ampoule of 4 mg in 4 mL
    Draw up       0.96 mL of drug (0.24 ampoules)
    Make up to    50 mL with diluent: 49.04 mL of it
    Label         960 mcg | 50 mL | 19.2 mcg/mL
    Discard       3.04 mL left in the last ampoule (3.04 mg)
    Measured in   the drug: a syringe of 1 mL; the whole: a syringe of 50 mL
                  (assumed; say otherwise with --draw-with, --whole-in)

    - Made up to 50 mL is not added to 50 mL: that would be 50.96 mL of ≈
      18.84 mcg/mL.
    - By the tolerances of the syringes alone the strength may be from 8.7 % below
      to 9.4 % above what the label says, mostly within 7.4 % (k = 2). On wards it
      is further off. (ISO 7886-1:1993, Table 1, from memory.)

    Mix after diluting. A second person reads ampoules, volumes and label from the things themselves.
    One person's sum: not double-checked.
    ");
}

// US prescribing information, dopamine vial, dilution chart: 200 mg in a bottle of 500 mL; the label does not count the
// 5 mL, and prints 400 mcg/mL.
// hazard: H-STRENGTH
#[test]
fn added_to_is_not_made_up_to() {
    let words = [
        "prepare",
        "--ampoule",
        "200 mg in 5 mL",
        "--ampoules",
        "1",
        "--added-to",
        "500 mL",
        "--diluent",
        "glucose 5 %",
    ];
    let said = says(&words);
    assert!(said.contains("≈ 396 mcg/mL") && said.contains("500 mL of 400 mcg/mL"), "{said}");
    assert_snapshot!(said, @"
    Open          1 ampoule of 200 mg in 5 mL
    Draw up       5 mL of drug (1 ampoule)
    Add to        500 mL of glucose 5 %: 505 mL in all
    Label         200 mg | 505 mL | ≈ 396 mcg/mL
    Discard       nothing is left in the ampoules
    Measured in   no syringe that is named or common holds it: its accuracy is not
                  known

    - Added to 500 mL is not made up to 500 mL: that would be 500 mL of 400 mcg/mL.

    Mix after diluting. A second person reads ampoules, volumes and label from the things themselves.
    One person's sum: not double-checked.
    ");
}

// hazard: H-STRENGTH
#[test]
fn too_little_to_be_drawn_up() {
    let words = ["prepare", "--ampoule", "100 units in 1 mL", "--amount", "5 units", "--made-up-to", "50 mL"];
    assert_snapshot!(says(&words), @"
    Open          1 ampoule of 100 units in 1 mL
    Draw up       0.05 mL of drug (0.05 ampoules)
    Make up to    50 mL with diluent: 49.95 mL of it
    Label         5 units | 50 mL | 0.1 units/mL
    Discard       0.95 mL left in the last ampoule (95 units)
    Measured in   the drug: a syringe of 1 mL; the whole: a syringe of 50 mL
                  (assumed; say otherwise with --draw-with, --whole-in)

    - Made up to 50 mL is not added to 50 mL: that would be 50.05 mL of ≈
      0.0999 units/mL.
    - 0.05 mL is too little to be measured (less than 0.2 mL). In two steps: make
      one ampoule up to 10 mL, mix, and draw up 0.5 mL of that instead.
    - By the tolerances of the syringes alone the strength may be from 35 % below to
      38 % above what the label says. On wards it is further off. (ISO 7886-1:1993,
      Table 1, from memory.)

    Mix after diluting. A second person reads ampoules, volumes and label from the things themselves.
    One person's sum: not double-checked.
    ");
}

// hazard: H-DRUG
#[rstest]
#[case("text")]
#[case("json")]
#[case("html")]
fn a_label(#[case] format: &str) {
    let words = [
        "prepare",
        "noradrenaline",
        "--strength",
        "single",
        "--label",
        "--by",
        "M. Tamm",
        "--at",
        "2026-03-14T07:40:00+00:00",
    ];
    let said = says(&[&words[..], &["--format", format]].concat());
    let fetches = ["http:", "https:", "url(", "<script", "src="];
    assert!(fetches.iter().all(|word| !said.contains(word)), "{said}");
    assert_snapshot!(format!("label-{format}"), said);
}

const FOR_ONE: [&str; 13] = [
    "prepare",
    "noradrenaline",
    "--strength",
    "per kg",
    "--weight",
    "3.2 kg",
    "--ampoule",
    "1 mg in 1 mL",
    "--diluent",
    "glucose 5 %",
    "--label",
    "--by",
    "M. Tamm",
];

// A syringe that is made for one weight must not go to the next patient.
// hazard: H-PATIENT
#[rstest]
#[case("text", &["Only for        2026-03-05 | KL-01188", "Made for weight 3.2 kg"])]
#[case("html", &["only for 2026-03-05 | KL-01188 | made for 3.2 kg"])]
#[case("json", &["\"identifiers\":[\"2026-03-05\",\"KL-01188\"]", "\"weight\":\"3.2 kg\""])]
fn the_label_of_a_syringe_for_one_patient_says_for_whom(#[case] format: &str, #[case] expected: &[&str]) {
    let whose = ["--identifier", "2026-03-05", "--identifier", "KL-01188", "--format", format];
    let said = says(&[&FOR_ONE[..], &whose].concat());
    for words in expected {
        assert!(said.contains(words), "{words}: {said}");
    }
    for too_few in [&[][..], &["--identifier", "KL-01188"], &["--identifier", "KL-01188", "--identifier", " kl-01188 "]]
    {
        let said = refused(&[&FOR_ONE[..], too_few].concat());
        assert!(said.contains("error[identifiers-too-few]") && said.contains("help: read them"), "{said}");
    }
}

// hazard: H-STRENGTH
#[rstest]
#[case(&["prepare", "noradrenalin", "--strength", "single"], "drug-unknown")]
#[case(&["prepare", "noradrenaline"], "strength-unknown")]
#[case(&["prepare", "noradrenaline", "--strength", "simple"], "strength-unknown")]
#[case(&["prepare", "noradrenaline", "--strength", "per kg"], "weight-missing")]
#[case(&["prepare", "noradrenaline", "--strength", "per kg", "--weight", "3 kg"], "preparation-no-recipe")]
#[case(&["prepare", "noradrenaline", "--strength", "per kg", "--weight", "7 lb"], "weight-in-pounds")]
#[case(&["prepare", "--ampoule", "1 mg/mL", "--ampoules", "1", "--undiluted"], "ampoule-without-volume")]
#[case(&["prepare", "--ampoule", "1 mg in 1 mL", "--ampoules", "1"], "preparation-how-missing")]
#[case(&["prepare", "--ampoule", "1 mg in 1 mL", "--ampoules", ".5", "--undiluted"], "number-leading-point")]
#[case(&["prepare", "--ampoule", "1 mg in 1 mL", "--amount", "5 units", "--undiluted"], "preparation-kinds-differ")]
#[case(&["prepare", "--ampoule", "1 mg in 30 mL", "--ampoules", "2", "--made-up-to", "50 mL"], "preparation-more-than-whole")]
#[case(&["prepare", "--ampoule", "1 mg in 1 mL", "--ampoules", "1", "--undiluted", "--format", "html"], "format-for-labels")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.05 mg/h", "--weight", "70 kg"], "dose-unit-wrong")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "5 mcg/kg/min", "--weight", "70 kg"], "dose-beyond-hard-limit")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.05 mcg/kg/min"], "no-rate")]
#[case(&["strengths", "noradrenaline", "--area", "theatre", "--dose", "0.05 mcg/kg/min"], "area-unknown")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.05 mcg/kg/min", "--weight", "70 kg", "--container", "bag 50 mL"], "driver-does-not-take-container")]
fn what_cannot_be_made_is_refused(#[case] words: &[&str], #[case] code: &str) {
    let said = refused(words);
    assert!(said.contains(&format!("error[{code}]")) && said.contains("help:"), "{said}");
}

// hazard: H-STRENGTH
#[test]
fn strengths_that_suit_and_those_that_do_not() {
    let words =
        ["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.05 mcg/kg/min", "--weight", "70 kg"];
    assert_snapshot!(says(&words), @"
    DEMONSTRATION LIMITS, NOT FOR PATIENTS

    noradrenaline, adult theatre, vasopressor, maintenance: 0.05 mcg/kg/min for
    70 kg (actual weight), `syringe 50 mL` in `bench`

    Suits:
      - single: 4 mg in 50 mL, 80 mcg/mL: 2.6 mL/h, gives ≈ 0.04952 mcg/kg/min, a
        full `syringe 50 mL` lasts 19 h 11 min
      - double: 8 mg in 50 mL, 160 mcg/mL: 1.3 mL/h, gives ≈ 0.04952 mcg/kg/min, a
        full `syringe 50 mL` lasts 38 h 23 min (it keeps 24 h)

    One person's sum: not double-checked.
    ");
    let words = [
        "strengths",
        "noradrenaline",
        "--area",
        "adult theatre",
        "--dose",
        "0.02 mcg/kg/min",
        "--weight",
        "45 kg",
        "--access",
        "peripheral",
    ];
    assert_snapshot!(says(&words), @"
    DEMONSTRATION LIMITS, NOT FOR PATIENTS

    noradrenaline, adult theatre, vasopressor, maintenance: 0.02 mcg/kg/min for
    45 kg (actual weight), `syringe 50 mL` in `bench`

    Does not suit:
      - single: 4 mg in 50 mL, 80 mcg/mL: 0.7 mL/h, gives ≈ 0.02074 mcg/kg/min, a
        full `syringe 50 mL` lasts 71 h 17 min (it keeps 24 h); stronger than
        20 mcg/mL, the limit for a peripheral vein
      - double: 8 mg in 50 mL, 160 mcg/mL: 0.3 mL/h, gives ≈ 0.01778 mcg/kg/min, a
        full `syringe 50 mL` lasts 166 h 20 min (it keeps 24 h); so slow that a
        syringe of 50 mL sticks and slips; too strong for the driver's step of
        0.1 mL/h: the dose changes by ≈ 11 %; stronger than 20 mcg/mL, the limit for
        a peripheral vein
    No stocked strength suits: another syringe or driver, or the pharmacist is asked
    for a strength. None is made up that the formulary does not list.

    One person's sum: not double-checked.
    ");
    let words = [
        "strengths",
        "noradrenaline",
        "--area",
        "paediatric theatre",
        "--dose",
        "0.05 mcg/kg/min",
        "--weight",
        "3.2 kg",
        "--format",
        "json",
    ];
    assert_snapshot!(says(&words), @r#"{"version":1,"notice":"DEMONSTRATION LIMITS, NOT FOR PATIENTS","fingerprint":"f707ebd7e5d2dec7045b5bb6e1f35dd123fd417e51132b8f1eeb5e5275c7c607","dose":"0.05 mcg/kg/min","driver":"fine","container":"syringe 50 mL","strengths":[{"strength":"per kg","made_of":"0.3 mg/kg in 50 mL","per_ml":"19.2 mcg/mL","suits":true,"rate":{"value":"0.5","unit":"mL/h"},"given":{"value":"0.05","unit":"mcg/kg/min"},"lasts":{"value":"99.8","unit":"h"},"outlasts_its_life":true,"against":[]},{"strength":"weak","made_of":"2.5 mg in 50 mL","per_ml":"50 mcg/mL","suits":false,"rate":{"value":"0.19","unit":"mL/h"},"given":{"value":"0.0494791666667","unit":"mcg/kg/min"},"lasts":{"value":"262.631578947","unit":"h"},"outlasts_its_life":true,"against":["so slow that a syringe of 50 mL sticks and slips"]}]}"#);
}

// What the label says of a diluent is never guessed, and another ampoule makes no other strength under the same name.
// hazard: H-STRENGTH
#[rstest]
#[case(&["prepare", "noradrenaline", "--strength", "per kg", "--weight", "3.2 kg", "--ampoule", "1 mg in 1 mL", "--label", "--by", "M. Tamm"], "diluent-missing")]
#[case(&["prepare", "propofol", "--strength", "single", "--ampoule", "1000 mg in 50 mL", "--volume", "50 mL"], "preparation-other-strength")]
#[case(&["prepare", "noradrenaline", "--strength", "single", "--diluent", "water"], "diluent-of-recipe")]
#[case(&["strengths", "noradrenaline", "--area", "paediatric theatre", "--dose", "0.1 mcg/kg/min", "--weight", "70 kg"], "weight-beyond-hard-limit")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.1 mcg/kg/min", "--weight", "70 kg", "--dosing-weight", "lean", "--height", "170 cm", "--sex", "female"], "dosing-weight-not-local")]
#[case(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "0.1 mcg/kg/min", "--weight", "154 lb"], "weight-in-pounds")]
fn what_would_be_told_wrongly_is_refused(#[case] words: &[&str], #[case] code: &str) {
    let said = refused(words);
    assert!(said.contains(&format!("error[{code}]")) && said.contains("help:"), "{said}");
}

// Two steps only where they come to the same syringe.
// hazard: H-STRENGTH
#[rstest]
#[case(&["--ampoule", "1 mg in 1 mL", "--amount", "0.1 mg", "--added-to", "2 mL"], false)]
#[case(&["--ampoule", "5 mg in 1 mL", "--amount", "0.5 mg", "--undiluted"], false)]
#[case(&["--ampoule", "1 mg in 1 mL", "--amount", "0.15 mg", "--made-up-to", "1 mL"], false)]
#[case(&["--ampoule", "1 mg in 0.1 mL", "--ampoules", "1.5", "--made-up-to", "50 mL"], false)]
#[case(&["--ampoule", "1 mg in 1 mL", "--amount", "0.001 mg", "--made-up-to", "2 mL"], false)]
#[case(&["--ampoule", "1 mg in 1 mL", "--amount", "0.05 mg", "--made-up-to", "10 mL"], true)]
fn two_steps_are_told_where_they_come_to_the_same(#[case] words: &[&str], #[case] told: bool) {
    let said = says(&[&["prepare"], words].concat());
    assert!(said.contains("too little to be measured"), "{said}");
    assert_eq!(said.contains("In two steps"), told, "{said}");
    assert!(!said.contains("1500 %"), "{said}");
}

// A dose that asks for a reason suits with none.
// hazard: H-LIMITS
#[test]
fn a_dose_beyond_a_soft_limit_does_not_simply_suit() {
    let said =
        says(&["strengths", "noradrenaline", "--area", "adult theatre", "--dose", "2 mcg/kg/min", "--weight", "70 kg"]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!said.contains("Suits:") && said.contains("a soft limit: a written reason"), "{said}");
}
