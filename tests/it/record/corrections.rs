//! Corrections: the old line stays readable, and what counts is what really happened.

use countersign::case::{Otherwise, RecordEvent};

use super::*;

fn not(event: u64) -> ReportedAction {
    ReportedAction::Corrected { event, otherwise: None }
}

fn instead(event: u64, what: ReportedAction) -> ReportedAction {
    ReportedAction::Corrected { event, otherwise: Some(Otherwise { what: Some(Box::new(what)), happened: None }) }
}

fn moved(event: u64, clock: &str) -> ReportedAction {
    ReportedAction::Corrected { event, otherwise: Some(Otherwise { what: None, happened: Some(at(clock)) }) }
}

struct Corrected {
    theatre: Theatre,
    code: SetUpCode,
}

impl Corrected {
    /// Started at 08:00 at the card's 4.8 mL/h, and changed to 9 mL/h at 09:00.
    fn new(name: &str) -> (Self, u64, u64) {
        let mut theatre = Theatre::new(name);
        let code = theatre.agreed(SINGLE);
        theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
        let start = theatre.last();
        theatre.did(code, "09:00", ReportedAction::RateChanged(rate("9 mL/h"))).expect("it runs");
        let change = theatre.last();
        (Self { theatre, code }, start, change)
    }

    fn says(&mut self, happening: ReportedAction) -> u64 {
        self.theatre.writes(self.code, &happening, &When::default(), true).expect("it follows");
        self.theatre.last()
    }

    /// Given by 10:00, mL.
    fn given(&self) -> Ratio {
        self.theatre.course(self.code, "10:00").volume().expect("small parts")
    }
}

// hazard: H-RECORD
#[test]
fn a_correction_changes_the_rate_the_time_or_the_kind() {
    let (mut it, start, change) = Corrected::new("correct");
    assert_eq!(it.given(), ratio(138, 10));
    it.says(instead(change, ReportedAction::RateChanged(rate("6 mL/h"))));
    assert_eq!(it.given(), ratio(108, 10));
    // The time alone: the rate of the last correction stays.
    it.says(moved(change, "09:30"));
    assert_eq!(it.given(), ratio(102, 10));
    it.says(instead(change, ReportedAction::BolusGiven(bolus("3 mL"))));
    assert_eq!(it.given(), ratio(126, 10));
    // Another rate of a start leaves it a start.
    it.says(instead(start, ReportedAction::RateChanged(rate("6 mL/h"))));
    assert_eq!(it.given(), Ratio::whole(15));
    let case = it.theatre.cases.case(it.code.case).expect("it was opened");
    let record = &case.set_up(1).expect("it was entered").record;
    assert_eq!(
        record[0].what.what,
        RecordEvent::Start { reading: 1, rate: "4.8 mL/h".to_owned(), said: None, hangs: None },
        "the old line stays"
    );
    assert_eq!(record[1].what.what, RecordEvent::Rate { to: "9 mL/h".to_owned(), dose: None, strength: None });
}

// hazard: H-RECORD
#[test]
fn a_correction_can_be_taken_back_and_corrected() {
    let (mut it, _, change) = Corrected::new("correct-correction");
    let withdrawn = it.says(not(change));
    assert_eq!(it.given(), ratio(96, 10));
    let back = it.says(not(withdrawn));
    assert_eq!(it.given(), ratio(138, 10), "the change is back");
    it.says(not(back));
    assert_eq!(it.given(), ratio(96, 10), "and gone again");
    // What did not happen may have happened otherwise.
    let other = it.says(instead(change, ReportedAction::RateChanged(rate("6 mL/h"))));
    assert_eq!(it.given(), ratio(108, 10));
    it.says(instead(other, ReportedAction::RateChanged(rate("12 mL/h"))));
    assert_eq!(it.given(), ratio(168, 10), "what is said about the correction counts for what it corrects");
    it.says(moved(other, "09:30"));
    assert_eq!(it.given(), ratio(132, 10), "and keeps its rate when its time is put right");
}

// hazard: H-RECORD
#[test]
fn a_start_that_did_not_happen_can_be_taken_back() {
    let mut theatre = Theatre::new("correct-start");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
    let start = theatre.last();
    theatre.writes(code, &not(start), &When::default(), false).expect("nothing was given");
    assert!(theatre.course_at(code, at(NOW)).is_none());
    theatre.did(code, "08:30", ReportedAction::Started(None, Default::default())).expect("it was started later");
    assert_eq!(theatre.course(code, "09:30").volume(), Ok(ratio(48, 10)));
    // The syringe that was taken back is not the one that runs.
    let case = theatre.cases.case(code.case).expect("it was opened");
    assert_eq!(case.set_up(1).expect("it was entered").running_reading(), Some(1));
}

// hazard: H-RECORD
#[test]
fn a_stop_that_was_a_pause_becomes_one() {
    let (mut it, _, _) = Corrected::new("correct-stop");
    it.theatre.did(it.code, "09:20", ReportedAction::Stopped).expect("it runs");
    let stop = it.theatre.last();
    it.says(instead(stop, ReportedAction::Paused));
    it.theatre.did(it.code, "09:40", ReportedAction::Resumed(None)).expect("it is paused");
    assert_eq!(it.given(), ratio(108, 10));
    let said = it.theatre.says("09:59", &[], &["case", "list"]);
    assert!(said.stdout.contains("read the driver back"), "a corrected stop hides nothing: {said:?}");
}

// hazard: H-RECORD
#[test]
fn a_syringe_that_was_not_changed_can_be_changed_later() {
    let (mut it, _, _) = Corrected::new("correct-syringe");
    it.theatre.next(it.code, &double(), "09:05");
    it.theatre
        .did(it.code, "09:10", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("it is there");
    let change = it.theatre.last();
    it.says(not(change));
    assert_eq!(it.given(), ratio(138, 10));
    it.theatre
        .did(it.code, "09:30", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("now it was");
    // 08:00 to 09:00 at 4.8, to 09:30 at 9, and then at half of it, since the strength is double.
    assert_eq!(it.given(), ratio(1155, 100));
}

// hazard: H-RECORD
#[test]
fn a_correction_that_nothing_could_follow_is_refused() {
    let (mut it, start, _) = Corrected::new("correct-refused");
    let refusal = it.theatre.writes(it.code, &not(start), &When::default(), true);
    assert_eq!(refused(refusal), "not-started");
    let refusal = it.theatre.writes(it.code, &moved(start, "09:10"), &When::default(), true);
    assert_eq!(refused(refusal), "not-started");
    let reason = it.says(ReportedAction::Explained { event: start });
    let refusal = it.theatre.writes(it.code, &not(reason), &When::default(), true);
    assert_eq!(refused(refusal), "reason-stays");
    let refusal = it.theatre.writes(it.code, &moved(reason, "09:00"), &When::default(), true);
    assert_eq!(refused(refusal), "correct-by-not");
}

// hazard: H-RECORD
#[test]
fn a_correction_needs_a_reason_and_moves_nothing_into_the_future() {
    let (mut it, _, change) = Corrected::new("correct-reason");
    let by = (&it.theatre.idowu.0, &it.theatre.idowu.1);
    for about in [not(change), ReportedAction::Explained { event: change }] {
        for reason in [None, Some(" ")] {
            let said = it.theatre.cases.record(it.code, by, &about, &When::default(), reason, BOTH, at(NOW));
            assert_eq!(refused(said), "reason-missing");
        }
    }
    let later = it.theatre.writes(it.code, &moved(change, "20:01"), &When::default(), true);
    assert_eq!(refused(later), "time-to-come");
    it.says(moved(change, NOW));
}

// hazard: H-LIMITS
#[test]
fn a_correction_is_marked_by_what_was_so_at_its_time() {
    let (mut it, _, change) = Corrected::new("correct-marked");
    it.theatre.next(it.code, &double(), "09:05");
    it.theatre
        .did(it.code, "09:10", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("it is there");
    // 18 mL/h is the end of the ordered range with the first syringe; with the one of double strength, half of it is.
    let corrected = instead(change, ReportedAction::RateChanged(rate("18 mL/h")));
    let recorded = it.theatre.writes(it.code, &corrected, &When::default(), false).expect("as agreed");
    assert!(recorded.marks.is_empty(), "{recorded:?}");
    let recorded = it.theatre.did(it.code, "09:20", ReportedAction::RateChanged(rate("18 mL/h"))).expect("marked");
    assert!(recorded.marks.iter().any(|mark| mark.code == "outside-ordered-range"), "{recorded:?}");
}
