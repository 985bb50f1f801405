//! What can follow what, and when it may be written down.

use rstest::rstest;

use super::*;

// hazard: H-RECORD
#[rstest]
#[case::before_the_start(&[], ReportedAction::Paused, "not-started")]
#[case::started_twice(&["start"], ReportedAction::Started(None, Default::default()), "started-before")]
#[case::paused_twice(&["start", "pause"], ReportedAction::Paused, "record-order")]
#[case::changed_while_paused(&["start", "pause"], ReportedAction::RateChanged(rate("5 mL/h")), "record-order")]
#[case::resumed_while_running(&["start"], ReportedAction::Resumed(None), "record-order")]
#[case::stopped_twice(&["start", "stop"], ReportedAction::Stopped, "record-order")]
#[case::given_after_the_stop(&["start", "stop"], ReportedAction::BolusGiven(bolus("1 mL")), "record-order")]
#[case::no_next_syringe(&["start"], ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() }, "next-syringe-not-entered")]
#[case::no_such_reading(&["start"], ReportedAction::SyringeChanged { rate: None, reading: Some(7), said: Default::default() }, "reading-unknown")]
#[case::no_such_event(&["start"], ReportedAction::Explained { event: 9999 }, "event-unknown")]
#[case::nothing_to_correct(&["start"], ReportedAction::Corrected { event: 9999, otherwise: None }, "event-unknown")]
fn what_cannot_follow_is_refused(#[case] before: &[&str], #[case] then: ReportedAction, #[case] code: &str) {
    let mut theatre = Theatre::new(&format!("order-{code}-{}", before.len() * 10 + format!("{then:?}").len()));
    let set_up = theatre.agreed(SINGLE);
    for (minute, word) in before.iter().enumerate() {
        let happening = match *word {
            "start" => ReportedAction::Started(None, Default::default()),
            "pause" => ReportedAction::Paused,
            _ => ReportedAction::Stopped,
        };
        theatre.did(set_up, &format!("08:0{minute}"), happening).expect("it follows");
    }
    let events = theatre.last();
    assert_eq!(refused(theatre.did(set_up, "09:00", then)), code);
    assert_eq!(theatre.last(), events, "nothing was written");
}

// hazard: H-RECORD
#[test]
fn what_comes_late_must_fit_what_came_after_it() {
    let mut theatre = Theatre::new("late-between");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
    theatre.did(code, "09:00", ReportedAction::Paused).expect("it runs");
    theatre.did(code, "09:30", ReportedAction::Resumed(None)).expect("it is paused");
    assert_eq!(refused(theatre.did(code, "09:10", ReportedAction::Paused)), "record-order");
    assert_eq!(refused(theatre.did(code, "07:59", ReportedAction::RateChanged(rate("5 mL/h")))), "not-started");
    theatre.did(code, "08:30", ReportedAction::RateChanged(rate("6 mL/h"))).expect("it fits");
    // 08:00 to 08:30 at 4.8, to 09:00 at 6, to 09:30 not at all, to 10:00 at 6 mL/h.
    assert_eq!(theatre.course(code, "10:00").volume(), Ok(ratio(84, 10)));
}

// hazard: H-RECORD
#[test]
fn a_pause_that_nobody_had_written_down_finds_its_place_before_what_came_later() {
    let mut theatre = Theatre::new("forgotten-pause");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
    theatre.did(code, "09:00", ReportedAction::RateChanged(rate("6 mL/h"))).expect("it runs");
    let change = theatre.last();
    theatre.did(code, "09:30", ReportedAction::Paused).expect("it runs");
    let pause = theatre.last();
    theatre.did(code, "09:40", ReportedAction::Resumed(None)).expect("it is paused");
    theatre.did(code, "08:30", ReportedAction::Paused).expect("it was forgotten");
    // As long as nobody says when it went on, the later lines contradict it, stay, and are owed a line.
    let course = theatre.course(code, "10:00");
    assert_eq!(course.contradictions.iter().map(|one| one.event).collect::<Vec<_>>(), [change, pause]);
    assert_eq!((course.volume(), course.rate), (Ok(ratio(44, 10)), Some(Ratio::whole(6))));
    let said = theatre.says("10:00", &[], &["record", "show", &code.to_string()]);
    assert!(said.stdout.contains(&format!("Outstanding: event {change} contradicts")), "{said:?}");
    theatre.did(code, "08:45", ReportedAction::Resumed(None)).expect("and so was this");
    let course = theatre.course(code, "10:00");
    assert_eq!(course.contradictions, []);
    // 30 min and 15 min at 4.8, 30 min and 20 min at 6 mL/h.
    assert_eq!((course.volume(), course.rate), (Ok(ratio(86, 10)), Some(Ratio::whole(6))));
    // Taken back one after the other, in whichever order.
    let not = |event| ReportedAction::Corrected { event, otherwise: None };
    theatre.writes(code, &not(pause), &When::default(), true).expect("it did not happen");
    assert_eq!(theatre.course(code, "10:00").contradictions.len(), 1, "it went on without a pause");
    assert_eq!(theatre.course(code, "10:00").volume(), Ok(ratio(96, 10)));
    theatre.writes(code, &not(pause + 1), &When::default(), true).expect("nor did this");
    assert_eq!(theatre.course(code, "10:00").contradictions, []);
}

// hazard: H-RECORD
#[test]
fn what_happened_in_the_minute_of_the_stop_came_before_it() {
    let mut theatre = Theatre::new("minute-of-the-stop");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
    theatre.did(code, "09:00", ReportedAction::Stopped).expect("it runs");
    theatre.did(code, "09:00", ReportedAction::BolusGiven(bolus("1 mL"))).expect("given just before");
    assert_eq!(theatre.course(code, "10:00").volume(), Ok(ratio(58, 10)));
    assert_eq!(refused(theatre.did(code, "09:01", ReportedAction::BolusGiven(bolus("1 mL")))), "record-order");
}

// hazard: H-RECORD
#[rstest]
#[case("rate", ReportedAction::RateChanged(rate("5 mL/h")))]
#[case("bolus", ReportedAction::BolusGiven(bolus("1 mL")))]
#[case("pause", ReportedAction::Paused)]
fn what_happens_now_comes_after_a_stop_of_this_minute(#[case] name: &str, #[case] happening: ReportedAction) {
    let mut theatre = Theatre::new(&format!("now-after-the-stop-{name}"));
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
    theatre.did(code, "09:00", ReportedAction::Stopped).expect("it runs");
    let (by, confirmed) = ((&theatre.idowu.0, &theatre.idowu.1), Confirmed { even_so: true, dose_changes: true });
    let now = theatre.cases.record(code, by, &happening, &When::default(), None, confirmed, at("09:00"));
    assert_eq!(refused(now), "record-order");
}

#[test]
fn within_one_minute_the_order_of_writing_counts() {
    let mut theatre = Theatre::new("same-minute");
    let code = theatre.agreed(SINGLE);
    for happening in [
        ReportedAction::Started(None, Default::default()),
        ReportedAction::RateChanged(rate("9 mL/h")),
        ReportedAction::BolusGiven(bolus("1 mL")),
        ReportedAction::Paused,
        ReportedAction::Resumed(None),
    ] {
        theatre.did(code, "08:00", happening).expect("it follows in the order of writing");
    }
    let course = theatre.course(code, "09:00");
    assert_eq!((course.volume(), course.rate), (Ok(Ratio::whole(10)), Some(Ratio::whole(9))));
}

// hazard: H-RECORD
#[test]
fn what_is_late_needs_its_reason_and_nothing_comes_from_the_future() {
    let mut theatre = Theatre::new("late");
    let code = theatre.agreed(SINGLE);
    let mut start = |clock: &str, late: Option<&str>| {
        let when = When { happened: Some(at(clock)), late: late.map(str::to_owned) };
        theatre.writes(code, &ReportedAction::Started(None, Default::default()), &when, true)
    };
    assert_eq!(refused(start("20:01", Some("in a minute"))), "time-to-come");
    assert_eq!(refused(start("19:49", None)), "late-without-reason");
    assert_eq!(refused(start("19:49", Some(" "))), "late-without-reason");
    // Ten minutes are not late.
    start("19:50", None).expect("not late");
}

// hazard: H-RECORD
#[test]
fn a_start_written_down_late_is_of_the_reading_that_was_there_by_then() {
    let mut theatre = Theatre::new("late-start");
    let code = theatre.agreed(SINGLE);
    theatre.next(code, &double(), "09:00");
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first syringe");
    assert_eq!(theatre.course(code, "08:30").syringe().basis.reading, 1);
    theatre
        .did(code, "10:00", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("the second");
    let course = theatre.course(code, "11:00");
    assert_eq!(course.syringes.iter().map(|one| one.basis.reading).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(
        refused(theatre.did(
            code,
            "10:30",
            ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() }
        )),
        "next-syringe-not-entered"
    );
}

// hazard: H-RECORD
#[test]
fn a_clock_that_was_ahead_does_not_make_the_record_contradict_itself() {
    let mut theatre = Theatre::new("clock-ahead");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "19:00", ReportedAction::Started(None, Default::default())).expect("by a clock that was ahead");
    // The clock was put right: now it is 18:00, and the start lies in the future.
    let by = (&theatre.idowu.0, &theatre.idowu.1);
    let again = theatre.cases.record(
        code,
        by,
        &ReportedAction::Started(None, Default::default()),
        &When::default(),
        None,
        BOTH,
        at("18:00"),
    );
    assert_eq!(refused(again), "started-before");
    let event = theatre.last();
    let otherwise = countersign::case::Otherwise { what: None, happened: Some(at("17:55")) };
    let corrected = ReportedAction::Corrected { event, otherwise: Some(otherwise) };
    let by = (&theatre.idowu.0, &theatre.idowu.1);
    theatre
        .cases
        .record(code, by, &corrected, &When::default(), Some("the clock was ahead"), BOTH, at("18:00"))
        .expect("its time is put right");
    assert_eq!(theatre.course(code, "18:55").volume(), Ok(ratio(48, 10)));
}
