//! Clocks that go back, jump, are changed twice a year or were never set: the order stays, and the event says so.

use std::path::Path;

use countersign::journal::{Journal, Of};
use countersign::quantity::Moment;
use rstest::rstest;
use serde_json::json;

use super::{at, create, given_folder, itself, note, place, write};

// hazard: H-RECORD
#[rstest]
#[case("2026-03-14T08:59:18+01:00", Some("clock uncertain: it went back 42 s"))]
#[case("2026-03-14T08:30:00+01:00", Some("clock uncertain: it went back 30 min"))]
#[case("2026-03-13T09:00:00+01:00", Some("clock uncertain: it went back 24 h"))]
#[case("2026-02-14T09:00:00+01:00", Some("clock uncertain: it went back 28 days"))]
#[case("2026-03-14T09:00:00+01:00", None)]
#[case("2026-03-14T10:00:00+02:00", Some("local time changed from +01:00 to +02:00"))]
#[case("2026-04-13T09:00:00+01:00", None)]
#[case("2026-04-13T09:00:01+01:00", Some("the clock is 30 days ahead of the event before"))]
#[case(
    "1970-01-01T00:00:07+00:00",
    Some("the clock is not set; clock uncertain: it went back 20526 days; local time changed from +01:00 to +00:00")
)]
fn an_odd_clock_is_noted_and_changes_no_order(#[case] then: &str, #[case] says: Option<&str>) {
    let name = format!("clock-{}", then.replace([':', '+'], "-"));
    let mut journal = create(&name);
    write(&mut journal, at(then), vec![note("case-1", None, json!({}))]).expect("room");
    let events = journal.events(Of::All).expect("a journal");
    assert_eq!((events[0].clock(), events[1].clock()), (None, says));
    assert_eq!((events[1].seq(), events[1].at().to_utc()), (2, at(then).to_utc()));
    assert!(journal.verify(&[], &mut |_, _| {}).is_ok());
}

#[test]
fn a_journal_made_before_the_clock_was_set_says_so() {
    let journal = Journal::create(&place("unset"), false, at("1970-01-01T00:00:00Z")).expect("our own folder");
    assert_eq!(journal.events(Of::All).expect("a journal")[0].clock(), Some("the clock is not set"));
    assert!(!journal.is_demonstration());
}

// hazard: H-RECORD
#[test]
fn the_hour_that_comes_twice_stays_two_hours() {
    let paris = if Path::new("/usr/share/zoneinfo/Europe/Paris").exists() {
        "Europe/Paris"
    } else {
        "CET-1CEST,M3.5.0,M10.5.0/3"
    };
    let output = itself("journal::clock::in_paris", &place("paris")).env("TZ", paris).output().expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && said.contains("1 passed"), "{said}");
}

#[test]
#[ignore = "run by another test, in a process with its own time zone"]
fn in_paris() {
    let Some(folder) = given_folder() else { return };
    let mut journal = Journal::create(&folder, true, at("2026-03-29T00:59:58Z").local()).expect("our own folder");
    for then in ["2026-03-29T01:00:00Z", "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"] {
        write(&mut journal, at(then).local(), vec![note("case-1", None, json!({}))]).expect("room");
    }
    let events = journal.events(Of::All).expect("a journal");
    let shown: Vec<String> = events.iter().map(|event| event.at_local().to_string()).collect();
    assert_eq!(
        shown,
        ["2026-03-29 01:59 +01:00", "2026-03-29 03:00 +02:00", "2026-10-25 02:30 +02:00", "2026-10-25 02:30 +01:00"]
    );
    let changed = |event: usize| events[event].clock().unwrap_or_default().to_owned();
    assert_eq!(changed(1), "local time changed from +01:00 to +02:00");
    assert_eq!(changed(2), "the clock is 209 days ahead of the event before");
    assert_eq!(changed(3), "local time changed from +02:00 to +01:00");
    assert_eq!(events[3].at().seconds_since(events[2].at()), 3600);

    let now = at("2026-11-01T12:00:00Z");
    let refused = Moment::parse_local("2026-10-25 02:30", now).expect_err("it came twice");
    assert!(refused.help.ends_with("2026-10-25T02:30:00+01:00 or 2026-10-25T02:30:00+02:00"), "{}", refused.help);
    assert!(
        Moment::parse_local("2026-03-29 02:30", now).expect_err("it never came").to_string().contains("does not come")
    );
    assert_eq!(Moment::parse_local("12:59", now).map(Moment::to_utc), Ok("2026-11-01T11:59:00Z".to_owned()));
    assert!(Moment::parse_local("13:01", now).expect_err("not yet").help.contains("yesterday: 2026-10-31 13:01"));
}
