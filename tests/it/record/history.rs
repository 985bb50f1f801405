//! `journal show`: everything of a case in order, and nothing that a second person must not have seen.

use countersign::case::WeightRead;

use super::*;

fn shown(theatre: &Theatre, code: SetUpCode, format: &str) -> String {
    let said = theatre.says(NOW, &[], &["journal", "show", &code.case.to_string(), "--format", format]);
    assert_eq!(said.code, 0, "{said:?}");
    said.stdout
}

// hazard: H-INDEPENDENCE
#[test]
fn no_value_is_shown_before_two_people_have_come_to_an_end() {
    let mut theatre = Theatre::new("blind");
    let case = theatre.cases.open(at("07:30"), Some(&theatre.idowu.1)).expect("room");
    let code = theatre.enters((case, None), Turn::First { anew: false }, SINGLE, "07:40");
    let secrets = ["80 kg", "QM-30417", "noradrenaline", "0.08", "syringe 50 mL"];
    for format in ["text", "json"] {
        let text = shown(&theatre, code, format);
        assert!(text.contains("first entry sealed") && text.contains("until two people"), "{text}");
        assert!(secrets.iter().all(|secret| !text.contains(secret)), "{text}");
    }
    // They differ: each reads it again, and neither sees the other's.
    let other = changed(SINGLE, &[("dose: 0.08", "dose: 0.06")]);
    theatre.enters((case, Some(1)), Turn::Second, &other, "07:41");
    let text = shown(&theatre, code, "text");
    assert!(["0.08", "0.06", "QM-30417"].iter().all(|secret| !text.contains(secret)), "{text}");
    theatre.enters((case, Some(1)), Turn::First { anew: false }, SINGLE, "07:42");
    theatre.enters((case, Some(1)), Turn::Second, SINGLE, "07:43");
    let text = shown(&theatre, code, "text");
    assert!(["0.08", "0.06", "QM-30417"].iter().all(|secret| text.contains(secret)), "{text}");
}

// hazard: H-INDEPENDENCE
#[test]
fn a_weight_that_one_person_read_stays_closed() {
    let mut theatre = Theatre::new("blind-weight");
    let code = theatre.agreed(SINGLE);
    let read = WeightRead { weight: "77.7 kg".to_owned(), from: "measured".to_owned() };
    theatre.cases.read_weight(code.case, &theatre.idowu.1, &read, at("09:00")).expect("the first");
    assert!(!shown(&theatre, code, "text").contains("77.7") && !shown(&theatre, code, "json").contains("77.7"));
    theatre.cases.read_weight(code.case, &theatre.tamm.1, &read, at("09:05")).expect("the second");
    assert_eq!(shown(&theatre, code, "text").matches("77.7 kg").count(), 3);
}

// hazard: H-RECORD
#[test]
fn a_forgotten_case_keeps_what_happened_when_and_by_whom() {
    let mut theatre = Theatre::new("forgotten");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "09:00", ReportedAction::Stopped).expect("it runs");
    theatre.cases.forget(at(NOW), (&theatre.idowu.1, &theatre.tamm.1), code.case).expect("it has stopped");
    insta::assert_snapshot!("history-forgotten", settled(&shown(&theatre, code, "text")));
    insta::assert_snapshot!("history-forgotten-json", settled(&shown(&theatre, code, "json")));
    let said = theatre.says(NOW, &[], &["record", "show", &code.to_string()]);
    assert!(said.is_refused().contains("case-forgotten"), "{said:?}");
}

#[test]
fn a_case_is_told_in_order() {
    let mut theatre = Theatre::new("told");
    let code = theatre.agreed(SINGLE);
    let card = theatre.says("07:50", &[], &["case", "card", &code.to_string()]);
    assert_eq!(card.code, 0, "{card:?}");
    let back =
        theatre.says("07:55", &[PIN, "4.8 mL/h", "0 mL", ""], &["case", "readback", &code.to_string(), "--as", IDOWU]);
    assert_eq!(back.code, 0, "{back:?}");
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "09:00", ReportedAction::RateChanged(rate("20 mL/h"))).expect("marked");
    theatre.did(code, "09:30", ReportedAction::Stopped).expect("it runs");
    theatre.closes(code, "0.9 mL", "0 mL", "34.3 mL", Some(true)).expect("taken");
    insta::assert_snapshot!("history", settled(&shown(&theatre, code, "text")));
    insta::assert_snapshot!("history-json", settled(&shown(&theatre, code, "json")));
}

// hazard: H-RECORD
#[test]
fn times_are_kept_as_the_clock_on_the_wall_shows_them() {
    let journal = folder("on-the-wall").join("journal");
    let say = |typed: &str, words: &[&str]| {
        let run = run(words).env("TZ", "IST-5:30").env("COUNTERSIGN_JOURNAL", &journal.display().to_string());
        let said = run.stdin(typed).said();
        assert_eq!(said.code, 0, "{said:?}");
        said
    };
    let two = ["--administrator", "K. Ruiz", "--administrator", "J. Lindqvist"];
    let pins = format!("{PIN}\n").repeat(4);
    say(&pins, &[&["journal", "create", &journal.display().to_string()], &two[..]].concat());
    let add = ["people", "add", IDOWU, "--role", "anaesthetist", "--as", "K. Ruiz", "--and", "J. Lindqvist"];
    say(&pins, &add);
    let code = say(&format!("{PIN}\n"), &["case", "open", "--as", IDOWU]).stdout;
    let code = code.lines().next().expect("its code");
    let told = say("", &["journal", "show", code, "--format", "json"]).json();
    let opened = &told["events"][0];
    assert!(opened["at"].as_str().expect("a moment").ends_with("+05:30"), "{told}");
    assert!(opened["clock"].is_null(), "the zone is the one in which the journal was made: {told}");
}
