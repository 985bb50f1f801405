//! A clock that is set back brings nothing back, and one that was ahead does not make everything too old.

use super::{IDOWU, TAMM, Theatre, first, refused, second};

/// Agreed at 07:46, expired since 19:40, and written on at 19:59.
fn expired(name: &str) -> (Theatre, String) {
    let theatre = Theatre::new(name);
    let code = theatre.agreed();
    assert_eq!(theatre.says("19:40", &[], &["case", "card", &code]).code, 0);
    let said = theatre.says("19:59", &[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
    assert_eq!(said.code, 0, "{said:?}");
    (theatre, code)
}

// hazard: H-CHANGED
#[test]
fn a_clock_set_back_brings_no_expired_card_back() {
    let (theatre, code) = expired("set-back");
    for clock in ["07:50", "07:00", "07:51"] {
        let said = theatre.says(clock, &[], &["case", "card", &code]);
        assert!(refused(&said, "entry-expired").contains("2026-03-14 19:40 +00:00"), "{clock}: {said:?}");
        let status = theatre.data(clock, &[], &["case", "status", &code]);
        let stands = status["set_ups"][0]["stands"].as_str().expect("text");
        assert!(stands.contains("the entries expired at"), "{clock}: {stands}");
        // What is written meanwhile, by the clock that is behind, moves the floor nowhere.
        assert_eq!(theatre.says(clock, &[IDOWU.1], &["case", "open", "--as", IDOWU.0]).code, 0);
    }
    let set_up = format!("{code}/1");
    let start = ["record", "start", &set_up, "--as", IDOWU.0];
    let said = theatre.says("07:52", &[IDOWU.1], &start);
    assert!(refused(&said, "not-as-agreed").contains("the entries expired at"), "{said:?}");
    // What really happened is written all the same, and the event says that its time is uncertain.
    let said = theatre.says("07:52", &[IDOWU.1], &[&start[..], &["--even-so"]].concat());
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(theatre.says("07:53", &[IDOWU.1], &["record", "stop", &set_up, "--as", IDOWU.0]).code, 0);
    let shown = theatre.data("07:54", &[], &["journal", "show", &code]);
    let clocks: Vec<_> =
        shown["events"].as_array().expect("events").iter().filter_map(|one| one["clock"].as_str()).collect();
    assert_eq!(clocks, ["clock uncertain: 12 h behind the latest event"; 2], "{shown}");
    assert!(shown.to_string().contains("entry-expired"), "{shown}");
    theatre.is_whole();
}

// hazard: H-CHANGED
#[test]
fn two_people_correct_a_clock_that_was_ahead_and_what_it_sealed_is_not_started() {
    let theatre = Theatre::new("was-ahead");
    let code = theatre.agreed();
    let other = theatre.case();
    let form =
        super::changed(&first(), &[("starts_at: 2026-03-14T08:00:00+00:00", "starts_at: 2026-03-14T21:00:00+00:00")]);
    assert_eq!(theatre.enters("20:30", IDOWU, "enter", &other, &form).code, 0);
    let said = theatre.enters("20:31", TAMM, "second", &other, &second());
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    refused(&theatre.says("08:00", &[], &["case", "card", &code]), "entry-expired");
    assert_eq!(theatre.says("08:00", &[], &["case", "card", &other]).code, 0, "it counts from the floor");
    // One person alone corrects nothing, and one of the same name twice neither.
    refused(&theatre.says("08:00", &[IDOWU.1], &["journal", "clock", "--as", IDOWU.0]), "two-name-an-administrator");
    let twice = ["journal", "clock", "--as", IDOWU.0, "--and", IDOWU.0];
    refused(&theatre.says("08:00", &[IDOWU.1, IDOWU.1], &twice), "two-name-an-administrator");
    let both = ["journal", "clock", "--as", IDOWU.0, "--and", TAMM.0];
    let said = theatre.says("08:00", &[IDOWU.1, TAMM.1], &both);
    assert!(said.code == 0 && said.stdout.contains("751 min ahead"), "{said:?}");
    refused(&theatre.says("08:00", &[IDOWU.1, TAMM.1], &both), "clock-not-behind");
    assert_eq!(theatre.says("08:01", &[], &["case", "card", &code]).code, 0, "it is good for what is left of its time");
    let said = theatre.says("08:01", &[], &["case", "card", &other]);
    assert!(refused(&said, "entry-expired").contains("by a clock that was ahead"), "{said:?}");
    theatre.is_whole();
}

// hazard: H-INDEPENDENCE
#[test]
fn where_a_house_has_two_administrators_both_correct_the_clock() {
    let (theatre, code) = expired("two-administrators");
    let (ruiz, lindqvist) = (("K. Ruiz", "603917"), ("J. Lindqvist", "417093"));
    let named = ["--role", "administrator", "--as", IDOWU.0, "--and", TAMM.0];
    let added =
        theatre.says("20:00", &[IDOWU.1, TAMM.1, ruiz.1, ruiz.1], &[&["people", "add", ruiz.0][..], &named].concat());
    assert_eq!(added.code, 0, "{added:?}");
    let named = ["--role", "administrator", "--as", ruiz.0, "--and", TAMM.0];
    let words = [&["people", "add", lindqvist.0][..], &named].concat();
    let added = theatre.says("20:00", &[ruiz.1, TAMM.1, lindqvist.1, lindqvist.1], &words);
    assert_eq!(added.code, 0, "{added:?}");
    let corrects = |one: (&str, &str), other: (&str, &str)| {
        theatre.says("08:00", &[one.1, other.1], &["journal", "clock", "--as", one.0, "--and", other.0])
    };
    refused(&corrects((IDOWU.0, IDOWU.1), (TAMM.0, TAMM.1)), "administrator-needed");
    refused(&corrects(ruiz, (TAMM.0, TAMM.1)), "administrator-needed");
    refused(&theatre.says("08:00", &[], &["case", "card", &code]), "entry-expired");
    let said = corrects(ruiz, lindqvist);
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(theatre.says("08:01", &[], &["case", "card", &code]).code, 0);
    theatre.is_whole();
}
