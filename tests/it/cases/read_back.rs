//! The driver's display, held against the card or the record: what differs is named, with what it may come from.

use countersign::case::ReportedAction;
use countersign::quantity::{BolusDose, FlowRate};
use serde_json::Value;

use super::{IDOWU, TAMM, Theatre, changed, first, refused, second};
use crate::common::house::House;

/// The display of the demonstration's driver: rate, volume given, time left.
fn reads(theatre: &Theatre, clock: &str, code: &str, rate: &str) -> super::Said {
    theatre.says(clock, &[TAMM.1, rate, "", ""], &["case", "readback", code, "--as", TAMM.0])
}

#[track_caller]
fn differs(said: &super::Said, tells: &str) {
    assert_eq!(said.code, 5, "{said:?}");
    let text = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.starts_with("THE DISPLAY DIFFERS") && text.contains(tells), "{tells}: {text}");
}

#[track_caller]
fn right(said: &super::Said) {
    assert!(said.code == 0 && said.stdout.starts_with("WHAT WAS COMPARED IS RIGHT"), "{said:?}");
}

fn owed(theatre: &Theatre, clock: &str, code: &str) -> Vec<String> {
    let status = theatre.data(clock, &[], &["case", "status", code]);
    let owed = status["set_ups"][0]["owed"].as_array().expect("a list").iter();
    owed.filter(|owed| owed["code"] == "read-back")
        .map(|owed| owed["says"].as_str().expect("text").to_owned())
        .collect()
}

// hazard: H-DRIVER
#[test]
fn the_rate_on_the_display_is_held_against_the_card() {
    let theatre = Theatre::new("rate-read-back");
    let code = theatre.case();
    refused(&reads(&theatre, "07:35", &code, "5.1 mL/h"), "which-set-up");
    theatre.agree(&code, &first(), &second());
    differs(&reads(&theatre, "07:50", &code, "51 mL/h"), "rate: it shows 51 mL/h; expected 5.1 mL/h. Perhaps 10 times");
    differs(&reads(&theatre, "07:50", &code, "0.51 mL/h"), "Perhaps 10 times");
    differs(&reads(&theatre, "07:50", &code, "122.4 mL/h"), "Perhaps 24 times");
    differs(&reads(&theatre, "07:50", &code, "429.42 mL/h"), "84.2 times, which is the weight");
    differs(&reads(&theatre, "07:50", &code, "5.2 mL/h"), "expected 5.1 mL/h");
    for (typed, code_of) in [
        ("", "value-missing"),
        ("5.1", "unit-missing"),
        ("5,1 mL/h", "number-comma"),
        (".5 mL/h", "number-leading-point"),
    ] {
        let said = reads(&theatre, "07:50", &code, typed);
        assert!(said.is_refused().contains(code_of), "{typed}: {said:?}");
    }
    right(&reads(&theatre, "07:51", &code, "5.10 mL/h"));
    // As the display says it: a trailing zero is no slip here.
    right(&reads(&theatre, "07:51", &code, "5.1 ml/h"));
}

// hazard: H-DRIVER
#[test]
fn a_whole_rate_is_displayed_with_its_zero() {
    let theatre = Theatre::new("five-point-nought");
    let code = theatre.case();
    // 0.0792 x 84.2 x 60 / 80 = 5.0015: 5 mL/h on the driver.
    let form = |form: &str| changed(form, &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.0792 mcg/kg/min")]);
    theatre.agree(&code, &form(&first()), &form(&second()));
    right(&reads(&theatre, "07:50", &code, "5.0 mL/h"));
    right(&reads(&theatre, "07:50", &code, "5 mL/h"));
    differs(&reads(&theatre, "07:50", &code, "50 mL/h"), "10 times");
}

/// What the case owes first, by its code.
fn first_owed(theatre: &Theatre, clock: &str, code: &str) -> Value {
    theatre.data(clock, &[], &["case", "status", code])["set_ups"][0]["owed"][0].clone()
}

// hazard: H-DRIVER
#[test]
fn no_word_takes_a_display_that_differs_off_the_list_before_it_is_read_again_equal() {
    let theatre = Theatre::new("explained");
    let code = theatre.agreed();
    assert_eq!(theatre.says("07:48", &[], &["case", "card", &code]).code, 0);
    assert_eq!(owed(&theatre, "07:49", &code).len(), 1);
    let words = ["case", "readback", &code, "--as", TAMM.0, "--because", "ok"];
    let said = theatre.says("07:51", &[TAMM.1, "51 mL/h", "", ""], &words);
    differs(&said, "Noted: ok");
    let first = first_owed(&theatre, "07:52", &code);
    assert_eq!(first["code"], "display-differs", "{first}");
    assert!(
        first["says"].as_str().expect("text").contains("rate showed 51 mL/h, and 5.1 mL/h was expected then"),
        "{first}"
    );
    // A card, another case and a start at the card's rate leave it where it is: before everything else.
    let start = ["record", "start", &format!("{code}/1"), "--as", TAMM.0];
    refused(&theatre.says("08:00", &[TAMM.1], &start), "not-as-agreed");
    assert_eq!(theatre.says("08:00", &[TAMM.1], &[&start[..], &["--even-so"]].concat()).code, 0);
    let other = theatre.agreed();
    let list = theatre.data("08:01", &[], &["case", "list"]);
    let rows: Vec<&Value> = list["set_ups"].as_array().expect("rows").iter().map(|row| &row["case"]).collect();
    assert_eq!(rows, [&Value::from(code.as_str()), &Value::from(other.as_str())]);
    assert_eq!(list["set_ups"][0]["owed"][0]["code"], "display-differs");
    assert!(list["set_ups"][0]["stands"].as_str().expect("text").starts_with("THE DISPLAY DIFFERS"), "{list}");
    right(&reads(&theatre, "08:05", &code, "5.1 mL/h"));
    assert!(!theatre.data("08:06", &[], &["case", "list"]).to_string().contains("display-differs"));
}

// hazard: H-DRIVER
#[test]
fn a_display_that_differs_is_settled_by_a_record_of_what_it_showed_within_its_limits() {
    let theatre = Theatre::new("display-recorded");
    // Another case that came before it does not stand before it.
    let earlier = theatre.agreed();
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    let said = reads(&theatre, "08:10", &code, "510 mL/h");
    differs(&said, "BEYOND A HARD LIMIT");
    let list = theatre.data("08:11", &[], &["case", "list"]);
    assert_eq!(
        (&list["set_ups"][0]["case"], &list["set_ups"][1]["case"]),
        (&Value::from(code.as_str()), &Value::from(earlier.as_str()))
    );
    // Another rate than the one that was displayed settles nothing.
    theatre.records("08:12", &set_up, &ReportedAction::RateChanged(FlowRate::parse("6.4 mL/h").expect("a rate")));
    assert_eq!(first_owed(&theatre, "08:13", &code)["code"], "display-differs");
    // Recorded, it goes through the limits as any rate does.
    let record = |more: &[&str]| {
        let words = ["record", "rate", &code, "510 mL/h", "--as", TAMM.0];
        theatre.says("08:14", &[TAMM.1], &[&words[..], more].concat())
    };
    refused(&record(&[]), "not-as-agreed");
    assert_eq!(first_owed(&theatre, "08:14", &code)["code"], "display-differs");
    assert_eq!(record(&["--even-so", "--reason", "found so"]).code, 0);
    assert!(!theatre.data("08:15", &[], &["case", "status", &code]).to_string().contains("display-differs"));
    // It stays settled when the rate is put right: eighty times less is asked about, and taken.
    let right = |more: &[&str]| {
        let words = ["record", "rate", &code, "6.4 mL/h", "--as", TAMM.0];
        theatre.says("08:16", &[TAMM.1], &[&words[..], more].concat())
    };
    assert!(refused(&right(&[]), "not-as-agreed").contains("ten times?"));
    assert_eq!(right(&["--even-so"]).code, 0);
    assert!(!theatre.data("08:17", &[], &["case", "status", &code]).to_string().contains("display-differs"));
}

// Seen standing still: a pause and a resumption later say nothing of the time before them.
// hazard: H-DRIVER
#[test]
fn a_later_pause_does_not_settle_a_display_that_showed_nothing_running() {
    let theatre = Theatre::new("display-paused");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    differs(&reads(&theatre, "08:40", &code, "0 mL/h"), "DIFFERS");
    theatre.records("09:00", &set_up, &ReportedAction::Paused);
    assert_eq!(first_owed(&theatre, "09:01", &code)["code"], "display-differs");
    theatre.records("09:05", &set_up, &ReportedAction::Resumed(None));
    assert_eq!(first_owed(&theatre, "09:06", &code)["code"], "display-differs");
}

// hazard: H-DRIVER
#[test]
fn a_stop_does_not_hide_a_display_that_differed() {
    let theatre = Theatre::new("differed-and-stopped");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    differs(&reads(&theatre, "08:10", &code, "51 mL/h"), "expected 5.1 mL/h");
    theatre.records("08:12", &set_up, &ReportedAction::Stopped);
    assert_eq!(first_owed(&theatre, "08:13", &code)["code"], "display-differs");
    // What it really ran at is written down for its time, and the volumes count by it.
    let words =
        ["record", "rate", &code, "51 mL/h", "--time", "08:09", "--late", "found later", "--even-so", "--as", TAMM.0];
    let said = theatre.says("08:14", &[TAMM.1], &words);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(!theatre.data("08:15", &[], &["case", "status", &code]).to_string().contains("display-differs"));
}

/// A driver of a formulary that was kept before `shows` was asked for: nothing was read back of it, and that was right.
// hazard: H-DRIVER
#[test]
fn the_rate_is_asked_of_a_driver_whose_display_an_older_formulary_does_not_tell() {
    use countersign::case::{Author, Shown, Turn};
    use countersign::formulary::Formulary;
    let demonstration = Formulary::demonstration().expect("it has no fault");
    let older = demonstration.files().iter().map(|(path, text)| {
        let lines = text.lines().filter(|line| !line.trim_start().starts_with("shows:"));
        (path.clone(), lines.map(|line| format!("{line}\n")).collect::<String>())
    });
    let older: Vec<(String, String)> = older.collect();
    let written = older.iter().find(|(path, _)| path == "equipment.yaml").expect("it is there");
    assert!(!written.1.contains("shows"));
    let older = Formulary::kept("an older one", older).expect("it stays readable");
    let theatre = Theatre::new("older-formulary");
    let code = theatre.case();
    let (case, _) = countersign::case::SetUpCode::parse(&code).expect("a code");
    let mut cases = theatre.cases();
    for (who, turn, form, clock) in
        [(IDOWU, Turn::First { anew: false }, first(), "07:40"), (TAMM, Turn::Second, second(), "07:46")]
    {
        let (person, signer) = theatre.unlocked(clock, who);
        let author = Author::Signed(&person, &signer);
        let task = cases.task((case, None), turn, &author, super::moment(clock)).expect("their turn");
        let form =
            countersign::case::SubmittedForm { name: "a form".to_owned(), text: form, json: false, dose_again: None };
        cases.seal(&task, &form, &author, &older, super::moment(clock)).expect("a good form");
    }
    let set_up = countersign::case::SetUpCode { case, number: 1 };
    assert_eq!(cases.to_read_back(set_up, super::moment("07:50")).expect("agreed"), ["rate"]);
    let (person, signer) = theatre.unlocked("07:50", TAMM);
    let nothing = cases.read_back(set_up, (&person, &signer), &[], None, super::moment("07:50"));
    assert!(nothing.is_err_and(|error| error.to_string().contains("the rate was not read back")));
    let shown = [Shown { value: "rate".to_owned(), typed: "51 mL/h".to_owned() }];
    let read = cases.read_back(set_up, (&person, &signer), &shown, None, super::moment("07:51")).expect("it is read");
    assert_eq!(read.differences.len(), 1);
}

/// A driver that shows everything that is held against something.
fn talkative() -> House {
    let shows = "bolus_rate: 999 mL/h\n    shows: [rate, volume given, time left]";
    let all = "bolus_rate: 999 mL/h\n    shows: [rate, dose, strength, weight, drug, syringe, volume given]";
    House::new().change("equipment.yaml", shows, all)
}

// hazard: H-DRIVER
#[test]
fn every_kind_of_value_is_held_against_what_was_agreed() {
    let house = talkative();
    let theatre = Theatre::new("every-value").with_formulary(house.folder());
    let code = theatre.agreed();
    let right_ones =
        ["5.1 mL/h", "0.081 mcg/kg/min", "80.0 mcg/mL", "84.20 kg", "Noradrenaline", "Syringe  50 mL", "12 mL"];
    let with = |at: usize, typed: &'static str| {
        let mut values = right_ones;
        values[at] = typed;
        let typed: Vec<&str> = std::iter::once(TAMM.1).chain(values).collect();
        theatre.says("07:50", &typed, &["case", "readback", &code, "--as", TAMM.0])
    };
    right(&with(0, "5.1 mL/h"));
    for (at, typed, tells) in [
        (0, "51 mL/h", "rate: it shows 51 mL/h; expected 5.1 mL/h. Perhaps 10 times"),
        (1, "0.8 mcg/kg/min", "dose: it shows 0.8 mcg/kg/min; expected ≈ 0.08076 mcg/kg/min"),
        (1, "0.08 mcg/min", "another unit: this drug is dosed in mcg/kg/min"),
        (2, "8 mcg/mL", "strength: it shows 8 mcg/mL; expected 80 mcg/mL. Perhaps 10 times"),
        (2, "80 mg/mL", "1000 times"),
        (2, "160 mcg/mL", "expected 80 mcg/mL"),
        (3, "48.2 kg", "weight: it shows 48.2 kg; expected the weight on the card"),
        (3, "8.42 kg", "10 times"),
        (4, "adrenaline", "drug: it shows adrenaline; expected noradrenaline"),
        (5, "syringe 20 mL", "another syringe size: the driver moves another volume for each mm"),
    ] {
        differs(&with(at, typed), tells);
    }
    // Rounded as a display rounds.
    right(&with(1, "0.0808 mcg/kg/min"));
    right(&with(1, "0.08 mcg/kg/min"));
    right(&with(2, "0.08 mg/mL"));
    // What the driver shows is demanded, and what nothing is held against is not.
    for at in 0..6 {
        refused(&with(at, ""), "value-missing");
    }
    right(&with(6, ""));
}

// hazard: H-ALARMS
#[test]
fn what_the_driver_does_not_show_is_never_demanded() {
    let theatre = Theatre::new("not-shown");
    let code = theatre.agreed();
    // Two lines are enough for two questions beside the rate: no dose, weight, drug or strength is asked.
    let said = reads(&theatre, "07:50", &code, "5.1 mL/h");
    right(&said);
    for word in ["dose", "strength", "weight", "drug"] {
        assert!(!said.stderr.contains(word), "{said:?}");
    }
    let data =
        theatre.data("07:51", &[TAMM.1, "5.1 mL/h", "2 mL", "9 h"], &["case", "readback", &code, "--as", TAMM.0]);
    let shown: Vec<&Value> =
        data["read_back"]["shown"].as_array().expect("a list").iter().map(|one| &one["value"]).collect();
    assert_eq!(shown, ["rate", "volume given", "time left"]);
}

// hazard: H-DRIVER
#[test]
fn an_old_rate_is_named() {
    let theatre = Theatre::new("old-rate");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    right(&reads(&theatre, "07:55", &code, "5.1 mL/h"));
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    // Read back between programming and start: nothing is owed for the start.
    assert_eq!(owed(&theatre, "08:01", &code), Vec::<String>::new());
    theatre.records("08:10", &set_up, &ReportedAction::RateChanged(FlowRate::parse("6.4 mL/h").expect("a rate")));
    assert_eq!(owed(&theatre, "08:11", &code), ["read the driver back: the rate was changed"]);
    let said = reads(&theatre, "08:12", &code, "5.1 mL/h");
    differs(&said, "held against the latest recorded rate");
    differs(&said, "Perhaps an old rate, from before the last change");
    right(&reads(&theatre, "08:13", &code, "6.4 mL/h"));
    assert_eq!(owed(&theatre, "08:14", &code), Vec::<String>::new());
}

// hazard: H-DRIVER
#[test]
fn a_read_back_is_owed_after_everything_that_changes_what_the_driver_should_do() {
    let theatre = Theatre::new("owed");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.says("07:48", &[], &["case", "card", &code]).code, 0);
    assert_eq!(owed(&theatre, "07:49", &code), ["read the driver back: once it is programmed"]);
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    assert_eq!(owed(&theatre, "08:01", &code), ["read the driver back: it was started"]);
    right(&reads(&theatre, "08:02", &code, "5.1 mL/h"));
    assert_eq!(owed(&theatre, "08:03", &code), Vec::<String>::new());
    // The next syringe, entered by two while the first runs.
    let drawn_up = |form: &str, from: &str| {
        let form = super::without_patient(form);
        changed(&form, &[(from, "drawn_up_at: 2026-03-14T09:00:00+00:00")])
    };
    let next = changed(
        &drawn_up(&first(), "drawn_up_at: 2026-03-14T07:35:00+00:00"),
        &[("starts_at: 2026-03-14T08:00:00+00:00", "starts_at: 2026-03-14T10:00:00+00:00")],
    );
    assert_eq!(theatre.enters("09:10", IDOWU, "enter", &set_up, &next).code, 0);
    assert_eq!(theatre.enters("09:12", TAMM, "second", &set_up, &next).code, 0);
    theatre.records(
        "10:00",
        &set_up,
        &ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() },
    );
    assert_eq!(owed(&theatre, "10:01", &code), ["read the driver back: the syringe was changed"]);
    right(&reads(&theatre, "10:02", &code, "5.1 mL/h"));
    // The weight, read again by two while it runs.
    let weighs = |clock: &str, who: super::Who, weight: &str| {
        let said = theatre.says(clock, &[who.1, weight, "measured"], &["case", "weight", &code, "--as", who.0]);
        assert_eq!(said.code, 0, "{said:?}");
    };
    weighs("10:10", IDOWU, "84.2 kg");
    weighs("10:11", TAMM, "84.2 kg");
    assert_eq!(owed(&theatre, "10:12", &code), Vec::<String>::new(), "the same weight changes nothing");
    weighs("10:20", IDOWU, "86.4 kg");
    weighs("10:21", TAMM, "86.4 kg");
    assert_eq!(owed(&theatre, "10:22", &code), ["read the driver back: the weight has changed"]);
    right(&reads(&theatre, "10:23", &code, "5.1 mL/h"));
    assert_eq!(owed(&theatre, "10:24", &code), Vec::<String>::new());
}

// hazard: H-DRIVER
#[test]
fn a_paused_driver_shows_nothing_or_nought() {
    let theatre = Theatre::new("paused");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    theatre.records("08:05", &set_up, &ReportedAction::Paused);
    let said = reads(&theatre, "08:06", &code, "5.1 mL/h");
    differs(&said, "held against the record: paused or stopped");
    right(&reads(&theatre, "08:07", &code, "0 mL/h"));
    theatre.records("08:08", &set_up, &ReportedAction::Resumed(None));
    right(&reads(&theatre, "08:09", &code, "5.1 mL/h"));
}

/// The driver gives a bolus at a rate of its own; left behind, it is an overdose: 100 mcg/kg over 5 min are 1.8 mL for
/// 18 kg, given at 21.6 mL/h.
// hazard: H-DRIVER
#[test]
fn the_rate_of_a_bolus_left_behind_is_named() {
    let theatre = Theatre::new("bolus-rate");
    let code = theatre.case();
    let form = super::without_author(&super::example("child-sedation/first.yaml"));
    theatre.agree(&code, &form, &form);
    let set_up = format!("{code}/1");
    theatre.records("08:15", &set_up, &ReportedAction::Started(None, Default::default()));
    theatre.records("08:16", &set_up, &ReportedAction::BolusGiven(BolusDose::parse("100 mcg/kg").expect("as ordered")));
    assert_eq!(owed(&theatre, "08:17", &code), ["read the driver back: a bolus leaves another rate behind"]);
    let shows = |rate| {
        let words = ["case", "readback", &code, "--as", TAMM.0];
        theatre.says("08:18", &[TAMM.1, rate, "", "", ""], &words)
    };
    differs(&shows("21.6 mL/h"), "expected 2.16 mL/h. Perhaps the bolus's rate, left behind");
    right(&shows("2.16 mL/h"));
    assert_eq!(owed(&theatre, "08:19", &code), Vec::<String>::new());
}

// hazard: H-DRIVER
#[test]
fn what_is_kept_as_read_is_a_volume_and_a_time_all_the_same() {
    let theatre = Theatre::new("kept-as-read");
    let code = theatre.agreed();
    let reads = |volume: &str, time: &str| {
        theatre.says("07:50", &[TAMM.1, "5.1 mL/h", volume, time], &["case", "readback", &code, "--as", TAMM.0])
    };
    for (volume, time) in [("40 mg", ""), ("40", ""), ("", "syringe 50 mL")] {
        let said = reads(volume, time);
        assert!(said.code == 2 && said.stdout.is_empty(), "{volume} {time}: {said:?}");
    }
    for (volume, time) in [("0 mL", "9 h 36 min"), ("2.40 mL", "17:48")] {
        right(&reads(volume, time));
    }
}
