//! What rounding to the driver's step does to the dose.

use countersign::check::Audience;
use countersign::document::{LINE_LIMIT, Path, read_json};
use countersign::entry::EntryForm;
use countersign::formulary::Formulary;
use countersign::infusion::Computed;
use countersign::quantity::{Ratio, exact_or_about};
use countersign::pharmacy::survey;
use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::{NOW, SetUp, clean, demonstration, moment};

fn of_fifty(dose: &str, amount: &str, strength: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", &format!("{dose} mcg/kg/min"))
        .bought_in(amount, "50 mL", strength)
}

/// Noradrenaline whose dose does not follow its effect.
fn fixed() -> &'static Formulary {
    House::new()
        .change(
            "drugs/noradrenaline.yaml",
            "      titrated_to_effect: true\n      strengths: [single, double]",
            "      strengths: [single, double]",
        )
        
        .leak()
}

// hazard: H-ARITHMETIC
pub(crate) fn cases() -> Vec<Case> {
    let fixed = fixed();
    vec![
        // 1/3 mL/h set to 0.3 is 10 % less; a little more than 1/3 is off by more.
        Case {
            code: "rounding-large",
            fires: of_fifty("0.0101", "4.5 mg", "90 mcg/mL").against(fixed),
            says: |found| {
                assert_snapshot!(found, @"
                justify: dose
                rounded to the driver's step, 0.009 mcg/kg/min is given instead of 0.0101 mcg/kg/min: ≈ 11 % off
                do: another driver here has a finer step; or write the reason
                from: formulary.yaml line 7 (local policy)
                ")
            },
            silent: of_fifty("0.01", "4.5 mg", "90 mcg/mL").against(fixed),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// A dose that follows its effect asks for no reason, however coarse the step.
// hazard: H-ALARMS
#[rstest]
#[case("0.01", false, &[])]
#[case("0.01", true, &[])]
#[case("0.0101", false, &["rounding-large"])]
#[case("0.0101", true, &[])]
fn a_titrated_dose_needs_no_reason(#[case] dose: &str, #[case] titrated: bool, #[case] expected: &[&str]) {
    let set_up = of_fifty(dose, "4.5 mg", "90 mcg/mL");
    let set_up = if titrated { set_up } else { set_up.against(fixed()) };
    let found: Vec<&str> = set_up.codes().into_iter().filter(|code| code.starts_with("rounding-")).collect();
    assert_eq!(found, expected);
}

// hazard: H-ARITHMETIC
#[test]
fn a_reader_is_told_of_a_cure_and_two_who_agree_its_name() {
    let checked = of_fifty("0.0101", "4.5 mg", "90 mcg/mL").against(fixed()).checked();
    let found = checked.findings().iter().find(|finding| finding.code.id == "rounding-large").expect("11 % off");
    assert!(!found.help.contains("`fine`") && !found.message.contains("`fine`"), "{}", found.help);
    assert!(found.message_for(Audience::Agreed).ends_with("; the driver `fine` has a finer step"), "{found:?}");
}

// A finer driver whose smallest rate is above this one.
#[test]
fn a_driver_that_cannot_run_so_slowly_is_no_cure() {
    let fine = "smallest_rate: 0.1 mL/h\n    largest_rate: 999 mL/h\n    steps:\n      - {up_to: 9.99 mL/h";
    let slow_at_least = fine.replace("smallest_rate: 0.1 mL/h", "smallest_rate: 1 mL/h");
    let house = House::new()
        .change("equipment.yaml", fine, &slow_at_least)
        .change(
            "drugs/noradrenaline.yaml",
            "      titrated_to_effect: true\n      strengths: [single, double]",
            "      strengths: [single, double]",
        )
        .leak();
    let checked = of_fifty("0.0101", "4.5 mg", "90 mcg/mL").against(house).checked();
    let found = checked.findings().iter().find(|finding| finding.code.id == "rounding-large").expect("11 % off");
    assert!(!found.message_for(Audience::Agreed).contains("the driver `fine`"), "{found:?}");
}

// Whole steps, and steps that are small against the rate, are quiet.
#[rstest]
#[case("0.06")]
#[case("0.08")]
fn a_small_rounding_is_quiet(#[case] dose: &str) {
    let codes = of_fifty(dose, "3 mg", "60 mcg/mL").codes();
    assert!(!codes.iter().any(|code| code.starts_with("rounding-")), "{codes:?}");
}

// 3 mcg/kg/min, the hard maximum, for 50 kg and a syringe of 70 mcg/mL: 128.57 mL/h, which 129 mL/h would pass.
// hazard: H-ARITHMETIC
#[test]
fn a_hard_maximum_rounds_down_and_everything_else_to_the_nearest() {
    let set = |dose: &str, amount: &str, strength: &str| {
        let computed = of_fifty(dose, amount, strength).with("driver", "bench").computed();
        let sum = computed.sum().expect("a rate");
        (exact_or_about(sum.set), exact_or_about(sum.given))
    };
    let (rate, given) = set("3", "7.5 mg", "150 mcg/mL");
    assert_eq!((rate.as_str(), given.as_str()), ("60", "3"));
    // 45.2 mL/h exactly is a step; 62.937 is not, and its nearest, 62.9, gives less.
    let every_dose_at_most = |amount: &str, strength: &str| {
        let computed = of_fifty("3", amount, strength).computed();
        let sum = computed.sum().expect("a rate");
        assert!(sum.given <= Ratio::whole(3), "{amount}: {} mL/h gives {}", exact_or_about(sum.set), exact_or_about(sum.given));
        sum.set < sum.exact
    };
    let mut down = 0;
    for tenths in 70_u32..130 {
        let (amount, strength) = (format!("{}.{} mg", tenths / 10, tenths % 10), format!("{} mcg/mL", tenths * 2));
        let (amount, strength) = (amount.replace(".0 ", " "), strength);
        down += usize::from(every_dose_at_most(&amount, &strength));
    }
    assert!(down > 40, "{down} of 60 were rounded down");
    // Below the maximum the nearest counts, though it gives a little more.
    let (_, given) = set("0.0995", "4.5 mg", "90 mcg/mL");
    assert_eq!(given, "0.099");
}

// 732 of 1,923 doses at a hard maximum were given as up to 0.6 % more: none of the demonstration may be.
// hazard: H-LIMITS
#[test]
fn no_rate_of_the_demonstration_gives_more_than_a_hard_maximum() {
    let mut held = 0;
    for line in survey::lines(demonstration(), moment(NOW)).expect("the demonstration can be surveyed") {
        let mut form: serde_json::Value = serde_json::from_str(&line).expect("written by a JSON writer");
        let checked = entry_of(&form);
        let Some(most) = checked.names().limits.and_then(|limits| limits.beyond.hard.as_ref()?.to) else { continue };
        form["dose"] = most.to_string().into();
        let computed = entry_of(&form);
        let Ok(sum) = computed.sum() else { continue };
        assert!(sum.given <= most.number().ratio(), "{form}");
        held += 1;
    }
    assert!(held > 1000, "{held} doses");
}

fn entry_of(form: &serde_json::Value) -> Computed<'static> {
    let text = form.to_string();
    let mut faults = Vec::new();
    let root = read_json(&text, LINE_LIMIT, &mut faults).expect("it is JSON");
    let entry = EntryForm::at(&root, Path::Root).read(&mut faults).expect("a whole entry");
    Computed::of(entry, demonstration(), moment(NOW)).expect("the demonstration has no fault")
}
