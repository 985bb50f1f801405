//! Every mark fires where it should, and is silent at its limit.

use std::collections::BTreeSet;

use countersign::case::{IdentifiersRead, MARKS, Task, WeightRead};

use super::*;
use crate::common::house::House;

/// The demonstration with a hard lower limit and a largest jump for noradrenaline in adult theatres.
fn stricter() -> Formulary {
    let file = "drugs/noradrenaline.yaml";
    let soft = "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min, source: demonstration value}\n          hard: {";
    House::new()
        .change(file, soft, &format!("{soft}from: 0.005 mcg/kg/min, "))
        .change(
            file,
            "      flow:\n        soft: {to: 60 mL/h",
            "      largest_jump: {times: 4, source: demonstration value}\n      flow:\n        soft: {to: 60 mL/h",
        )
        .opened()
}

struct Marked {
    theatre: Theatre,
    seen: BTreeSet<String>,
}

impl Marked {
    /// Says that a mark fires for the one and not for the other.
    #[track_caller]
    fn holds(&mut self, mark: &str, fires: &Recorded, silent: &Recorded) {
        let has = |recorded: &Recorded| recorded.marks.iter().any(|one| one.code == mark);
        assert!(has(fires), "{mark} in {fires:?}");
        assert!(!has(silent), "{mark} in {silent:?}");
        self.seen.insert(mark.to_owned());
    }

    fn running(&mut self) -> SetUpCode {
        let code = self.theatre.agreed(SINGLE);
        self.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
        code
    }

    /// Two rates, each of a set-up of its own that runs at the card's rate, or at another one before.
    #[track_caller]
    fn rates(&mut self, mark: &str, before: Option<&str>, fires: &str, silent: &str) {
        let [fires, silent] = [fires, silent].map(|to| {
            let code = self.running();
            if let Some(before) = before {
                self.theatre.did(code, "08:10", ReportedAction::RateChanged(rate(before))).expect("it runs");
            }
            self.theatre.did(code, "08:20", ReportedAction::RateChanged(rate(to))).expect("it runs")
        });
        self.holds(mark, &fires, &silent);
    }

    #[track_caller]
    fn starts(&mut self, mark: &str, form: &str, fires: &str, silent: &str) {
        let [fires, silent] = [fires, silent].map(|clock| {
            let code = self.theatre.agreed(form);
            self.theatre.did(code, clock, ReportedAction::Started(None, Default::default())).expect("even so")
        });
        self.holds(mark, &fires, &silent);
    }

    fn weigh(&mut self, code: SetUpCode, kilograms: &str, people: usize) {
        let read = WeightRead { weight: kilograms.to_owned(), from: "measured".to_owned() };
        for (_, signer) in [self.theatre.idowu, self.theatre.tamm].into_iter().take(people) {
            self.theatre.cases.read_weight(code.case, signer, &read, at("07:50")).expect("their turn");
        }
    }
}

// hazard: H-LIMITS
#[test]
fn every_mark_fires_once_and_is_silent_at_its_limit() {
    let mut it = Marked { theatre: Theatre::with("marks", stricter()), seen: BTreeSet::new() };

    // A sixtieth of a mcg/kg/min for each mL/h: ordered 0.02 to 0.3, soft 0.01 to 0.35, hard 0.005 to 3.
    it.rates("outside-ordered-range", None, "18.1 mL/h", "18 mL/h");
    it.rates("outside-ordered-range", None, "1.1 mL/h", "1.2 mL/h");
    it.rates("dose-above-soft-limit", None, "21.1 mL/h", "21 mL/h");
    it.rates("dose-below-soft-limit", None, "0.5 mL/h", "0.6 mL/h");
    it.rates("dose-above-hard-limit", None, "181 mL/h", "180 mL/h");
    it.rates("dose-below-hard-limit", None, "0.2 mL/h", "0.3 mL/h");
    it.rates("flow-beyond-soft-limit", None, "60.1 mL/h", "60 mL/h");
    it.rates("flow-beyond-soft-limit", None, "120 mL/h", "121 mL/h");
    it.rates("flow-beyond-hard-limit", None, "121 mL/h", "120 mL/h");
    it.rates("jump", Some("10 mL/h"), "40.1 mL/h", "40 mL/h");
    it.rates("jump", Some("4 mL/h"), "0.9 mL/h", "1 mL/h");
    it.rates("tenfold-change", Some("3 mL/h"), "30 mL/h", "29.9 mL/h");
    it.rates("tenfold-change", Some("11.5 mL/h"), "1.1 mL/h", "1.16 mL/h");
    // From one end of the ordered range to near the other: both rates are ordered, and so is each step between them.
    it.rates("tenfold-change", Some("1.2 mL/h"), "12 mL/h", "11.9 mL/h");
    it.rates("tenfold-change", Some("18 mL/h"), "1.8 mL/h", "1.9 mL/h");
    // Ten times in two steps: from 3 mL/h, within ten minutes and after them.
    let [fires, less, later] =
        [("08:19", "30 mL/h"), ("08:19", "29.9 mL/h"), ("08:25", "30 mL/h")].map(|(clock, to)| {
            let code = it.running();
            for (clock, step) in [("08:10", "3 mL/h"), ("08:15", "10 mL/h")] {
                it.theatre.did(code, clock, ReportedAction::RateChanged(rate(step))).expect("it runs");
            }
            it.theatre.did(code, clock, ReportedAction::RateChanged(rate(to))).expect("it runs")
        });
    it.holds("tenfold-change", &fires, &less);
    it.holds("tenfold-change", &fires, &later);
    let [differs, equal] = ["48 mL/h", "4.8 mL/h"].map(|display| {
        let code = it.theatre.agreed(SINGLE);
        it.theatre.reads(code, display, "07:50");
        it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("even so")
    });
    it.holds("display-differs", &differs, &equal);
    it.rates("not-a-driver-rate", None, "4.85 mL/h", "4.9 mL/h");
    it.rates("not-a-driver-rate", None, "100.5 mL/h", "100 mL/h");
    it.rates("not-a-driver-rate", None, "1000 mL/h", "999 mL/h");

    let [other, card] = ["4.9 mL/h", "4.8 mL/h"].map(|to| {
        let code = it.theatre.agreed(SINGLE);
        it.theatre.did(code, "08:00", ReportedAction::Started(Some(rate(to)), Default::default())).expect("taken")
    });
    it.holds("not-the-card-rate", &other, &card);

    // Entered at 07:40, kept for 12 h; drawn up at 10:00 the day before, good for 24 h.
    it.starts("entry-expired", SINGLE, "19:41", "19:40");
    let old = changed(
        SINGLE,
        &[("drawn_up_at: 2026-03-14T07:35", "drawn_up_at: 2026-03-13T10:00"), ("planned_for: 3 h", "planned_for: 1 h")],
    );
    it.starts("solution-expired", &old, "10:01", "10:00");

    let pending = changed(SINGLE, &[(r#"identifiers: ["1959-08-02", "QM-30417"]"#, "identifiers: pending")]);
    let [fires, silent] = [false, true].map(|known| {
        let code = it.theatre.agreed(&pending);
        let read = IdentifiersRead { identifiers: vec!["1959-08-02".to_owned(), "QM-30417".to_owned()] };
        for (_, signer) in [it.theatre.idowu, it.theatre.tamm].into_iter().filter(|_| known) {
            it.theatre.cases.read_identifiers(code.case, signer, &read, at("07:50")).expect("their turn");
        }
        it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("even so")
    });
    it.holds("identifiers-pending", &fires, &silent);

    let [doubted, changed_weight, same] = [("92 kg", 1), ("92 kg", 2), ("80.0 kg", 2)].map(|(weight, people)| {
        let code = it.theatre.agreed(SINGLE);
        it.weigh(code, weight, people);
        it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("even so")
    });
    it.holds("weight-in-doubt", &doubted, &same);
    it.holds("weight-changed", &changed_weight, &same);

    // Twice the same drug in one patient; the first of them alone.
    let one = it.theatre.agreed(SINGLE);
    let other = it.theatre.enters((one.case, None), Turn::First { anew: false }, SINGLE, "07:42");
    it.theatre.enters((one.case, Some(other.number)), Turn::Second, SINGLE, "07:43");
    let [first, second] = [one, other].map(|code| {
        it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed")
    });
    it.holds("same-drug-runs", &second, &first);

    let case = it.theatre.cases.open(at("07:30"), None).expect("room");
    let alone = it.theatre.enters((case, None), Turn::First { anew: false }, SINGLE, "07:40");
    let alone = it
        .theatre
        .did(alone, "08:00", ReportedAction::Started(Some(rate("4.8 mL/h")), Default::default()))
        .expect("even so");
    it.holds("not-agreed", &alone, &card);
    let author = Author::Typed { name: IDOWU, role: "anaesthetist" };
    let task =
        it.theatre.cases.task((case, None), Turn::Emergency, &author, at("07:40")).expect("nothing stands in the way");
    let form = SubmittedForm { name: "a form".to_owned(), text: SINGLE.to_owned(), json: false, dose_again: None };
    let code = it.theatre.cases.seal(&task, &form, &author, &it.theatre.formulary, at("07:40")).expect("a good form");
    // An emergency is not asked twice: no --even-so is needed.
    let when = When { happened: Some(at("08:00")), late: Some("an emergency".to_owned()) };
    let unchecked =
        it.theatre.writes(code, &ReportedAction::Started(None, Default::default()), &when, false).expect("taken");
    it.holds("not-double-checked", &unchecked, &card);
    // Checked afterwards by one who signs: that is less than two who do.
    let code = it.theatre.cases.seal(&task, &form, &author, &it.theatre.formulary, at("07:40")).expect("a good form");
    it.theatre.enters((code.case, Some(code.number)), Turn::Second, SINGLE, "07:41");
    let afterwards = it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("taken");
    it.holds("checked-afterwards", &afterwards, &card);

    // 12 mL/h run; of double strength 6 mL/h is the same dose.
    let [changes, keeps] = ["6.1 mL/h", "6 mL/h"].map(|to| {
        let code = it.running();
        it.theatre.did(code, "08:10", ReportedAction::RateChanged(rate("12 mL/h"))).expect("it runs");
        it.theatre.next(code, &double(), "08:20");
        let change = ReportedAction::SyringeChanged { rate: Some(rate(to)), reading: None, said: Default::default() };
        it.theatre.did(code, "08:30", change).expect("it is there")
    });
    it.holds("dose-changed-at-restart", &changes, &keeps);

    let [unordered, more, all] = ["1 mL", "49.1 mL", "49 mL"].map(|given| {
        let code = it.running();
        it.theatre.did(code, "08:00", ReportedAction::BolusGiven(bolus(given))).expect("taken")
    });
    it.holds("bolus-more-than-left", &more, &all);
    let [ordered, same_volume, another] = ["1 mcg/kg", "1.6 mL", "1.7 mL"].map(|given| {
        let code = it.theatre.agreed(&super::closing::opioid());
        it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
        it.theatre.did(code, "08:10", ReportedAction::BolusGiven(bolus(given))).expect("taken")
    });
    it.holds("bolus-not-ordered", &unordered, &ordered);
    // Soft to 1 mcg/kg, hard to 2 mcg/kg; 80 kg and 50 mcg/mL. As a dose and as a volume.
    for (mark, fires, silent) in [
        ("bolus-beyond-soft-limit", "1.1 mcg/kg", "1 mcg/kg"),
        ("bolus-beyond-soft-limit", "1.7 mL", "1.5 mL"),
        ("bolus-beyond-hard-limit", "2.1 mcg/kg", "2 mcg/kg"),
        ("bolus-beyond-hard-limit", "3.3 mL", "3.2 mL"),
    ] {
        let [fires, silent] = [fires, silent].map(|given| {
            let code = it.theatre.agreed(&super::closing::opioid());
            it.theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
            it.theatre.did(code, "08:10", ReportedAction::BolusGiven(bolus(given))).expect("taken")
        });
        it.holds(mark, &fires, &silent);
    }
    it.holds("bolus-not-ordered", &another, &same_volume);
    it.holds("bolus-without-limits", &unordered, &another);

    // Half an hour at 4.8 mL/h: 2.4 mL are given. Of 45 mL, 1.8 mL can be the scale of the syringe.
    let [fires, silent] = ["44.9 mL", "45 mL"].map(|discarded| {
        let code = it.running();
        it.theatre.did(code, "08:30", ReportedAction::Stopped).expect("it runs");
        it.theatre.closes(code, "0.9 mL", "0 mL", discarded, None).expect("taken");
        let case = it.theatre.cases.case(code.case).expect("it was opened");
        case.set_up(1).expect("it was entered").record.last().expect("the closing").what.clone()
    });
    it.holds("balance-differs", &fires, &silent);

    // These two need a journal in which formularies are approved: `cases::editions` tries them.
    it.seen.extend(["formulary-recalled", "older-edition"].map(str::to_owned));
    let all: BTreeSet<String> = MARKS.iter().map(|code| (*code).to_owned()).collect();
    assert_eq!(it.seen, all, "every mark was looked at");
}

// hazard: H-ALARMS
#[test]
fn within_the_ordered_range_only_a_tenfold_change_is_asked_about() {
    let mut theatre = Theatre::with("quiet", stricter());
    let code = theatre.agreed(SINGLE);
    let when = |clock| When { happened: Some(at(clock)), late: Some("no hand was free".to_owned()) };
    theatre.writes(code, &ReportedAction::Started(None, Default::default()), &when("08:00"), false).expect("as agreed");
    // Nearly from one end of it to the other, which is more than the largest jump.
    for (clock, to) in [("08:10", "1.9 mL/h"), ("08:20", "18 mL/h"), ("08:30", "1.9 mL/h"), ("08:40", "1.2 mL/h")] {
        let recorded =
            theatre.writes(code, &ReportedAction::RateChanged(rate(to)), &when(clock), false).expect("as agreed");
        assert!(recorded.marks.is_empty(), "{to}: {recorded:?}");
    }
    let tenfold = ReportedAction::RateChanged(rate("12 mL/h"));
    assert_eq!(refused(theatre.writes(code, &tenfold, &when("08:50"), false)), "not-as-agreed");
    let recorded = theatre.writes(code, &tenfold, &when("08:50"), true).expect("it really happened");
    assert_eq!(recorded.marks.iter().map(|mark| &*mark.code).collect::<Vec<_>>(), ["tenfold-change"]);
}

// hazard: H-LIMITS
#[test]
fn what_is_not_as_agreed_is_taken_only_when_somebody_says_that_it_happened() {
    let mut theatre = Theatre::new("even-so");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let events = theatre.last();
    let too_much = ReportedAction::RateChanged(rate("200 mL/h"));
    assert_eq!(refused(theatre.writes(code, &too_much, &When::default(), false)), "not-as-agreed");
    assert_eq!(theatre.last(), events, "nothing was written");
    let recorded = theatre.writes(code, &too_much, &When::default(), true).expect("it really happened");
    assert!(recorded.marks.iter().any(|mark| mark.code == "dose-above-hard-limit"), "{recorded:?}");
}

// hazard: H-LIMITS
#[test]
fn a_start_from_before_the_agreement_says_so() {
    let mut theatre = Theatre::new("before-agreement");
    let code = theatre.agreed(SINGLE);
    let [before, after] = ["07:40", "07:41"].map(|clock| {
        let when = When { happened: Some(at(clock)), late: Some("no hand was free".to_owned()) };
        let code = if clock == "07:40" { code } else { theatre.agreed(SINGLE) };
        theatre.writes(code, &ReportedAction::Started(None, Default::default()), &when, false)
    });
    assert_eq!(refused(before), "not-as-agreed", "the second entry was sealed at 07:41");
    assert!(after.expect("within the minute of the agreement").marks.is_empty());
    let recorded =
        theatre.did(code, "07:40", ReportedAction::Started(None, Default::default())).expect("it really happened");
    assert_eq!(recorded.marks.iter().map(|mark| mark.code.as_str()).collect::<Vec<_>>(), ["not-agreed"]);
}

// hazard: H-LIMITS
#[test]
fn a_weight_read_again_after_the_start_marks_no_start_that_is_written_down_late() {
    let mut it = Marked { theatre: Theatre::new("weight-later"), seen: BTreeSet::new() };
    let code = it.theatre.agreed(SINGLE);
    it.weigh(code, "92 kg", 2);
    let [before, after] = ["07:49", "07:50"].map(|clock| {
        it.theatre.did(code, clock, ReportedAction::Started(None, Default::default())).inspect(|_| {
            let event = it.theatre.last();
            let taken_back = ReportedAction::Corrected { event, otherwise: None };
            it.theatre.writes(code, &taken_back, &When::default(), true).expect("nothing was given");
        })
    });
    it.holds("weight-changed", &after.expect("even so"), &before.expect("as agreed"));
}

// hazard: H-LIMITS
#[test]
fn an_emergency_is_marked_beyond_its_limits_and_asked_nothing() {
    let mut theatre = Theatre::with("emergency", stricter());
    // 4 mcg/kg/min, above the hard limit of 3, and a wristband that nobody has read.
    let form = changed(
        SINGLE,
        &[
            ("\ndose: 0.08 mcg/kg/min", "\ndose: 4 mcg/kg/min"),
            ("titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}\n", ""),
            (r#"identifiers: ["1959-08-02", "QM-30417"]"#, "identifiers: pending"),
            ("planned_for: 3 h", "planned_for: 10 min"),
        ],
    );
    let author = Author::Typed { name: IDOWU, role: "anaesthetist" };
    let task = Task::emergency_without_a_case();
    let form = SubmittedForm {
        name: "a form".to_owned(),
        text: form,
        json: false,
        dose_again: Some("4 mcg/kg/min".to_owned()),
    };
    let code = theatre.cases.seal(&task, &form, &author, &theatre.formulary, at("07:40")).expect("it must not block");
    let when = When { happened: Some(at("07:45")), late: Some("an emergency".to_owned()) };
    let recorded = theatre
        .writes(code, &ReportedAction::Started(None, Default::default()), &when, false)
        .expect("it must not block");
    let marks: Vec<&str> = recorded.marks.iter().map(|mark| mark.code.as_str()).collect();
    for mark in ["not-double-checked", "dose-above-hard-limit", "flow-beyond-hard-limit", "identifiers-pending"] {
        assert!(marks.contains(&mark), "{mark}: {marks:?}");
    }
    // Another rate than the one on the card is asked about.
    let when = When { happened: Some(at("07:50")), late: Some("an emergency".to_owned()) };
    let more = theatre.writes(code, &ReportedAction::RateChanged(rate("300 mL/h")), &when, false);
    assert_eq!(refused(more), "not-as-agreed");
}

// 82.6 kg x 60 / 80 mcg/mL: 61.95 mL/h for each mcg/kg/min. The upper end of the range, 0.3, is 18.585 mL/h and set as 18.6;
// the soft limit, 0.35, is 21.6825 and set as 21.7; the hard limit, 3, is 185.85, and 186 would give more.
// hazard: H-LIMITS
#[test]
fn an_end_of_a_range_and_a_soft_limit_cover_their_own_nearest_rate() {
    let mut theatre = Theatre::with("rounded-ends", stricter());
    let form = changed(SINGLE, &[("weight: 80 kg", "weight: 82.6 kg")]);
    let mut has = |mark: &str, to: &str| {
        let code = theatre.agreed(&form);
        theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
        let recorded = theatre.did(code, "08:20", ReportedAction::RateChanged(rate(to))).expect("it runs");
        recorded.marks.iter().any(|one| one.code == mark)
    };
    assert!(!has("outside-ordered-range", "18.6 mL/h") && has("outside-ordered-range", "18.7 mL/h"));
    assert!(!has("dose-above-soft-limit", "21.7 mL/h") && has("dose-above-soft-limit", "21.8 mL/h"));
    assert!(!has("dose-above-hard-limit", "185 mL/h") && has("dose-above-hard-limit", "186 mL/h"));
}
