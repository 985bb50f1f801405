//! Whether the limits themselves may be used.

use insta::assert_snapshot;
use rstest::rstest;

use countersign::formulary::Formulary;

use crate::rules::Case;
use crate::common::house::House;
use crate::common::set_up::clean;

const REVIEW: &str = "review: {by: 2099-12-31, justify_from: 2099-12-31}";

fn reviewed(by: &str, justify_from: &str) -> &'static Formulary {
    let dates = format!("review: {{by: {by}, justify_from: {justify_from}}}");
    House::new().change("drugs/noradrenaline.yaml", REVIEW, &dates).leak()
}

// The check is on 2026-03-14.
// hazard: H-LIMITS
pub(crate) fn cases() -> Vec<Case> {
    let unapproved = House::hospital().leak();
    let signed = {
        let house = House::hospital();
        let text = house.author().text();
        house.write("approval.yaml", &text).leak()
    };
    let approved = House::hospital().approve().leak();
    let altered = House::hospital().approve().change("drugs/noradrenaline.yaml", "hard: {to: 2.9 mcg", "hard: {to: 29 mcg").leak();
    let forged = {
        let house = House::hospital().approve();
        let text = std::fs::read_to_string(house.folder().join("approval.yaml")).expect("just written");
        house.write("approval.yaml", &text.replace("S. Naidoo", "S. Nobody")).leak()
    };
    vec![
        Case {
            code: "formulary-unapproved",
            fires: clean().against(unapproved),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: drug
            nobody has approved this formulary
            do: its author signs it and a second pharmacist approves it, or the approved one is used
            ")
            },
            silent: clean().against(approved),
        },
        Case {
            code: "formulary-unapproved",
            fires: clean().against(signed),
            says: |found| assert_snapshot!(found, @"
            stop, beyond: drug
            this formulary is signed by its author, R. Achterberg, and approved by no one else
            do: a second pharmacist approves it, or the approved one is used
            "),
            silent: clean().against(approved),
        },
        Case {
            code: "formulary-altered",
            fires: clean().against(forged),
            says: |found| assert_snapshot!(found, @"
            stop, beyond: drug
            this formulary is not the one that was approved: approval.yaml (the signature of S. Nobody is not of its files)
            do: tell the pharmacist; use the approved formulary until it is approved again
            "),
            silent: clean().against(approved),
        },
        Case {
            code: "formulary-altered",
            fires: clean().against(altered),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: drug
            this formulary is not the one that was approved: drugs/noradrenaline.yaml (changed)
            do: tell the pharmacist; use the approved formulary until it is approved again
            ")
            },
            silent: clean().against(approved),
        },
        Case {
            code: "review-overdue",
            fires: clean().against(reviewed("2026-03-13", "2026-03-14")),
            says: |found| {
                assert_snapshot!(found, @"
                justify: drug
                the limits of noradrenaline were to be reviewed by 2026-03-13, and today is 2026-03-14 (a reason is asked for from 2026-03-14)
                do: write why these limits are still used, and tell the pharmacist
                from: drugs/noradrenaline.yaml line 11 (local policy)
                ")
            },
            silent: clean().against(reviewed("2026-03-14", "2026-03-14")),
        },
        Case {
            code: "review-past",
            fires: clean().against(reviewed("2026-03-13", "2026-03-15")),
            says: |found| {
                assert_snapshot!(found, @"
                note: drug
                the limits of noradrenaline were to be reviewed by 2026-03-13, and today is 2026-03-14 (a reason will be asked for from 2026-03-15)
                do: tell the pharmacist
                from: drugs/noradrenaline.yaml line 11 (local policy)
                ")
            },
            silent: clean().against(reviewed("2026-03-14", "2026-03-15")),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// A changed comment is a changed file: what was approved are bytes.
// hazard: H-LIMITS
#[test]
fn every_file_that_is_not_the_approved_one_is_named() {
    let house = House::hospital().write("drugs/another.yaml", "drug: another\n").approve();
    let house = house
        .change("equipment.yaml", "# Every volume", "# Each volume")
        .change("drugs/noradrenaline.yaml", "hard: {to: 2.9 mcg", "hard: {to: 29 mcg")
        .remove("drugs/another.yaml")
        .write("drugs/other.yaml", "drug: other\n");
    let formulary: &'static Formulary = Box::leak(Box::new(house.opened()));
    let found = clean().against(formulary).found("formulary-altered");
    assert_snapshot!(found, @"
    stop, beyond: drug
    this formulary is not the one that was approved: drugs/noradrenaline.yaml (changed), drugs/other.yaml (added), equipment.yaml (changed), drugs/another.yaml (taken away)
    do: tell the pharmacist; use the approved formulary until it is approved again
    ");
}

#[rstest]
#[case::by_the_clock_of_the_check("2026-03-14T23:59:00+00:00", "2026-03-14", "2026-03-14", &[])]
#[case::a_day_later("2026-03-15T00:00:00+00:00", "2026-03-14", "2026-03-14", &["review-overdue"])]
#[case::both_dates_passed("2026-03-20T00:00:00+00:00", "2026-03-14", "2026-03-18", &["review-overdue"])]
#[case::between_the_dates("2026-03-17T23:59:00+00:00", "2026-03-14", "2026-03-18", &["review-past"])]
fn the_day_of_review_itself_is_in_time(
    #[case] now: &str,
    #[case] by: &str,
    #[case] justify_from: &str,
    #[case] expected: &[&str],
) {
    let mut codes = clean().against(reviewed(by, justify_from)).at(now).codes();
    codes.retain(|code| *code != "entry-old");
    assert_eq!(codes, expected);
}

// Another drug's review is another drug's.
#[test]
fn the_review_of_the_drug_counts() {
    let house =
        House::new().change("drugs/propofol.yaml", REVIEW, "review: {by: 2020-01-01, justify_from: 2020-01-01}");
    assert_eq!(clean().against(house.leak()).codes(), [""; 0]);
}
