//! An entry that is taken up late.

use insta::assert_snapshot;

use crate::rules::Case;
use crate::common::set_up::clean;

pub(crate) fn cases() -> Vec<Case> {
    vec![Case {
        code: "entry-old",
        fires: clean().at("2026-03-14T19:40:01+00:00"),
        says: |found| assert_snapshot!(found, @"
        note: entered_at
        entered at 2026-03-14 07:40 +00:00, more than 12 h before this check
        do: nothing is started from it: read the order, the syringe and the line again
        "),
        silent: clean().at("2026-03-14T19:40:00+00:00"),
    }, Case {
        code: "entry-after-check",
        fires: clean().at("2026-03-14T07:39:59+00:00"),
        says: |found| assert_snapshot!(found, @"
        note: entered_at
        entered at 2026-03-14 07:40 +00:00, which is after this check at 2026-03-14 07:39 +00:00
        do: look at the time of the entry and at the clock
        "),
        silent: clean().at("2026-03-14T07:40:00+00:00"),
    }]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

#[test]
fn a_solution_that_is_too_old_by_now_is_named() {
    let old = clean().at("2026-03-15T07:35:01+00:00").found("entry-old");
    assert!(old.contains("by now the solution is too old"), "{old}");
    let fresh = clean().at("2026-03-15T07:35:00+00:00").found("entry-old");
    assert!(!fresh.contains("too old"), "{fresh}");
}
