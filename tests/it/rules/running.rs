//! A next syringe beside what runs: at most twice the dose or the strength, and no less than half, asks for nothing.

use countersign::agreement::{Outcome, agree_beside};
use countersign::check::{RunningInfusion, Verdict};
use countersign::quantity::{DoseRateUnit, Ratio};
use insta::assert_snapshot;
use rstest::rstest;

use crate::common::set_up::{SetUp, clean};
use crate::rules::Case;

/// Hundredths of a mcg/kg/min, and of a mL/h.
fn runs(dose: u128, rate: u128) -> RunningInfusion {
    let part = |hundredths| Ratio::new(hundredths, 100).expect("small");
    let unit = DoseRateUnit::parse("mcg/kg/min").expect("a unit");
    RunningInfusion { drug: "noradrenaline".to_owned(), dose: part(dose), unit, rate: part(rate) }
}

/// 0.08 mcg/kg/min is 5.1 mL/h.
fn next(dose: u128, rate: u128) -> SetUp {
    clean().beside(runs(dose, rate))
}

// hazard: H-RECORD
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "far-from-running-dose",
            fires: clean().with("dose", "0.17 mcg/kg/min").beside(runs(8, 510)),
            says: |found| assert_snapshot!(found, @"
            justify: dose
            0.17 mcg/kg/min is 2.1 times the 0.08 mcg/kg/min that runs by the record
            do: read back the driver that runs, and the order; if the change is meant, each of you writes why
            from: formulary.yaml line 7 (local policy)
            "),
            silent: clean().with("dose", "0.16 mcg/kg/min").beside(runs(8, 510)),
        },
        Case {
            code: "far-from-running-dose",
            fires: next(17, 1080),
            says: |found| assert_snapshot!(found, @"
            justify: dose
            0.08 mcg/kg/min is 2.1 times less than the 0.17 mcg/kg/min that runs by the record
            do: read back the driver that runs, and the order; if the change is meant, each of you writes why
            from: formulary.yaml line 7 (local policy)
            "),
            silent: next(16, 1020),
        },
        // 0.08 mcg/kg/min is 5.052 mL/h of this label, and was 2.4 or 2.53 of the one that runs.
        Case {
            code: "far-from-running-strength",
            fires: next(8, 240),
            says: |found| assert_snapshot!(found, @"
            justify: label.strength
            the strength on this label is 2.1 times less than the one that runs by the record
            do: read both labels again; if another strength is meant, each of you writes so
            from: formulary.yaml line 7 (local policy)
            "),
            silent: next(8, 253),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

fn second(set_up: &SetUp) -> SetUp {
    set_up.clone().with("entered_by", "{name: M. Tamm, role: nurse anaesthetist}")
}

// It is said when both entries are sealed, and asks a reason of each; one reader is never told.
// hazard: H-INDEPENDENCE
#[rstest]
#[case::ten_times("0.8 mcg/kg/min", "mcg/kg/min", Some(Verdict::Justify))]
#[case::the_same("0.08 mcg/kg/min", "mcg/kg/min", None)]
fn a_pair_is_held_against_what_runs(#[case] dose: &str, #[case] unit: &str, #[case] asked: Option<Verdict>) {
    let first = clean().with("dose", dose).with("reasons", "{dose-above-soft-limit: needs more than usual}");
    let first = if asked.is_none() { clean() } else { first };
    let runs = RunningInfusion { unit: DoseRateUnit::parse(unit).expect("a unit"), ..runs(8, 510) };
    assert!(!first.codes().iter().any(|code| code.starts_with("far-from")), "{:?}", first.codes());
    let came = agree_beside(first.checked(), second(&first).checked(), Some(&runs)).expect("two people");
    match came {
        Outcome::ReasonsMissing(pair) => {
            assert_eq!(asked, Some(Verdict::Justify));
            let codes: Vec<&str> = pair.unreasoned().iter().map(|finding| finding.code.id).collect();
            assert_eq!(codes, ["far-from-running-dose"]);
        }
        Outcome::Agreed(_) => assert_eq!(asked, None),
        other => panic!("{other:?}"),
    }
}

// With a reason of each it is agreed: what runs stops nothing, since the record may be behind.
// hazard: H-INDEPENDENCE
#[test]
fn with_a_reason_of_each_there_is_a_card() {
    let reasons = "{dose-above-soft-limit: needs more than usual, far-from-running-dose: the pressure fell}";
    let first = clean().with("dose", "0.8 mcg/kg/min").with("reasons", reasons);
    assert!(!first.codes().contains(&"reason-without-finding"), "{:?}", first.codes());
    let came = agree_beside(first.checked(), second(&first).checked(), Some(&runs(8, 510))).expect("two people");
    assert!(matches!(came, Outcome::Agreed(_)), "{came:?}");
    // Another drug, or another unit: nothing is compared.
    let other = RunningInfusion { drug: "adrenaline".to_owned(), ..runs(8, 510) };
    let far = clean().with("dose", "0.3 mcg/kg/min").beside(other);
    assert!(!far.codes().iter().any(|code| code.starts_with("far-from")), "{:?}", far.codes());
}
