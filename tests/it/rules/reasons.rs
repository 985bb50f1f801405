//! Written reasons: each answers a finding that was made.

use countersign::check::Verdict;
use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::clean;

pub(crate) fn cases() -> Vec<Case> {
    let high = || clean().with("dose", "0.51 mcg/kg/min");
    vec![Case {
        code: "reason-without-finding",
        fires: high().with("reasons", "{dose-below-soft-limit: needs less than usual}"),
        says: |found| {
            assert_snapshot!(found, @"
        note: reasons
        a reason is written for `dose-below-soft-limit`, and nothing of that name needs one
        do: take it away, or look whether another finding was meant
        ")
        },
        silent: high().with("reasons", "{dose-above-soft-limit: needs more than usual}"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// hazard: H-ALARMS
#[rstest]
#[case("0.35", "{}", Verdict::Proceed)]
#[case("0.51", "{}", Verdict::Justify)]
#[case("0.51", "{dose-above-soft-limit: needs more than usual}", Verdict::Proceed)]
#[case("0.51", "{dose-below-soft-limit: needs less than usual}", Verdict::Justify)]
#[case("3.01", "{dose-above-hard-limit: needs more than usual}", Verdict::Stop)]
fn a_reason_answers_its_own_finding_and_never_a_stop(
    #[case] dose: &str,
    #[case] reasons: &str,
    #[case] verdict: Verdict,
) {
    let set_up = clean().with("dose", &format!("{dose} mcg/kg/min")).with("reasons", reasons);
    assert_eq!(set_up.checked().verdict(), verdict, "{:?}", set_up.codes());
}

// A reason for a stop is said to answer nothing.
#[test]
fn a_reason_for_a_stop_is_no_reason() {
    let set_up = clean().with("dose", "3.01 mcg/kg/min").with("reasons", "{dose-above-hard-limit: needs more}");
    let codes = set_up.codes();
    assert!(codes.contains(&"dose-above-hard-limit") && codes.contains(&"reason-without-finding"), "{codes:?}");
}
