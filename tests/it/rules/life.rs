//! How old the solution is, at the start and until the end.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

/// It starts at 08:00, lasts 9 h 48 min, and keeps for 24 h.
fn drawn_up(at: &str) -> SetUp {
    clean()
        .with("patient.weight", "50 kg")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("3 mg", "50 mL", "60 mcg/mL")
        .with("drawn_up_at", at)
}

pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "times-contradict",
            fires: drawn_up("2026-03-14T08:00:01+00:00"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, impossible: drawn_up_at
                it was drawn up at 2026-03-14 08:00 +00:00, after the start at 2026-03-14 08:00 +00:00
                do: look at the times again
                ")
            },
            silent: drawn_up("2026-03-14T08:00:00+00:00"),
        },
        Case {
            code: "solution-expired",
            fires: drawn_up("2026-03-13T07:59:59+00:00"),
            says: |found| {
                assert_snapshot!(found, @"
                stop, beyond: drawn_up_at
                it is to be discarded after 2026-03-14 07:59 +00:00, and starts at 2026-03-14 08:00 +00:00
                do: draw up a fresh one
                from: drugs/noradrenaline.yaml line 10 (Prescribing information, norepinephrine injection, Diluted solution, 24 h)
                ")
            },
            silent: drawn_up("2026-03-13T08:00:00+00:00"),
        },
        Case {
            code: "solution-expires-in-plan",
            fires: drawn_up("2026-03-13T10:59:59+00:00"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: planned_for
                it is to be discarded after 2026-03-14 10:59 +00:00, before the end of the plan or of the syringe (2026-03-14 11:00 +00:00)
                do: plan to change the syringe by then, and write so
                from: drugs/noradrenaline.yaml line 10 (Prescribing information, norepinephrine injection, Diluted solution, 24 h)
                ")
            },
            silent: drawn_up("2026-03-13T11:00:00+00:00"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

fn of_time(set_up: &SetUp) -> Vec<&'static str> {
    let codes = set_up.codes().into_iter();
    codes.filter(|code| code.starts_with("solution-") || *code == "times-contradict").collect()
}

// A plan that is longer than the syringe ends, for this solution, with the syringe.
#[rstest]
#[case("2026-03-13T17:48:00+00:00", &[])]
#[case("2026-03-13T17:47:59+00:00", &["solution-expires-in-plan"])]
fn the_solution_ends_with_the_plan_or_the_syringe(#[case] drawn: &str, #[case] expected: &[&str]) {
    assert_eq!(of_time(&drawn_up(drawn).with("planned_for", "20 h")), expected);
}

#[rstest]
#[case("2026-03-14T07:59:59+00:00", &["solution-expired"])]
#[case("2026-03-14T08:00:00+00:00", &["solution-expires-in-plan"])]
#[case("2026-03-14T10:59:59+00:00", &["solution-expires-in-plan"])]
#[case("2026-03-14T11:00:00+00:00", &[])]
fn a_bought_in_syringe_says_until_when(#[case] use_before: &str, #[case] expected: &[&str]) {
    let set_up = drawn_up("2026-03-14T07:00:00+00:00").without("drawn_up_at").with("use_before", use_before);
    assert_eq!(of_time(&set_up), expected);
    let checked = set_up.checked();
    let about_life = checked.findings().iter().filter(|finding| expected.contains(&finding.code.id));
    assert!(about_life.into_iter().all(|finding| finding.source.is_none()), "the syringe says so, no file");
}

// Both given: the earlier end counts.
#[rstest]
#[case("2026-03-13T08:30:00+00:00", "2026-03-20T00:00:00+00:00", &["solution-expires-in-plan"])]
#[case("2026-03-14T07:00:00+00:00", "2026-03-14T07:30:00+00:00", &["solution-expired"])]
fn the_earlier_end_counts(#[case] drawn: &str, #[case] use_before: &str, #[case] expected: &[&str]) {
    assert_eq!(of_time(&drawn_up(drawn).with("use_before", use_before)), expected);
}

#[rstest]
#[case("2026-03-14T07:40:00+00:00", &[])]
#[case("2026-03-14T07:40:01+00:00", &["times-contradict"])]
#[case("2026-03-13T07:39:59+00:00", &["solution-expired"])]
fn without_a_start_the_entry_counts(#[case] drawn: &str, #[case] expected: &[&str]) {
    assert_eq!(of_time(&drawn_up(drawn).without("starts_at")), expected);
}

// An unstarted entry of the adult theatre expires after 12 h.
#[rstest]
#[case("2026-03-13T19:40:00+00:00", &[])]
#[case("2026-03-13T19:39:59+00:00", &["times-contradict"])]
fn a_start_long_before_the_entry_is_another_day(#[case] starts: &str, #[case] expected: &[&str]) {
    assert_eq!(of_time(&clean().with("drawn_up_at", "2026-03-13T19:00:00+00:00").with("starts_at", starts)), expected);
}

// Instants are compared, not the digits of the clock.
#[rstest]
#[case("2026-03-14T09:00:00+01:00", &[])]
#[case("2026-03-14T07:30:00-01:00", &["times-contradict"])]
#[case("2026-03-13T08:59:59+01:00", &["solution-expired"])]
fn offsets_count(#[case] drawn: &str, #[case] expected: &[&str]) {
    assert_eq!(of_time(&drawn_up(drawn)), expected);
}

// A fresh entry whose solution is too old by now is stopped; of an old entry, nothing is started at all.
#[rstest]
#[case("2026-03-14T11:35:00+00:00", false)]
#[case("2026-03-14T11:35:01+00:00", true)]
#[case("2026-03-14T19:40:00+00:00", true)]
#[case("2026-03-14T19:40:01+00:00", false)]
fn the_moment_of_the_check_counts(#[case] now: &str, #[case] stops: bool) {
    let drug = clean()
        .with("drug", "adrenaline")
        .with("dose", "0.08 mcg/kg/min")
        .with("planned_for", "1 h")
        .without("made_from");
    let codes = drug.at(now).codes();
    assert_eq!(codes.contains(&"solution-expired"), stops, "{codes:?}");
}
