//! An entry that is taken up late.

use countersign::agreement::{Outcome, agree};
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
    }, Case {
        code: "start-after-entry-expires",
        fires: clean().with("starts_at", "2026-03-14T19:41:00+00:00"),
        says: |found| assert_snapshot!(found, @"
        stop, beyond: starts_at
        it is to start at 2026-03-14 19:41 +00:00, and an entry expires before, at 2026-03-14 19:40 +00:00
        do: look at the planned start again; if it is right, both of you enter it again nearer to it
        "),
        silent: clean().with("starts_at", "2026-03-14T19:40:00+00:00"),
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

// The first entry plans no start and expires earlier than the second one's start.
// hazard: H-CHANGED
#[test]
fn a_start_after_the_other_entry_has_expired_stops_both() {
    let second = |starts_at: &str| {
        clean()
            .with("entered_by", "{name: M. Tamm, role: nurse}")
            .with("entered_at", "2026-03-14T08:00:00+00:00")
            .with("starts_at", starts_at)
    };
    for (starts_at, stops) in [("2026-03-14T19:40:00+00:00", false), ("2026-03-14T19:50:00+00:00", true)] {
        let pair = agree(clean().without("starts_at").checked(), second(starts_at).checked()).expect("comparable");
        assert_eq!(matches!(pair, Outcome::Stopped(_)), stops, "{pair:?}");
    }
}
