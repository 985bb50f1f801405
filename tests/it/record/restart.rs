//! The next syringe, and the rate after a pause, lead with the dose that runs; another dose is a choice of its own.

use super::*;

/// Titrated to 12 mL/h, which is 0.2 mcg/kg/min; the next syringe is of double strength, entered as the order says it.
fn titrated(name: &str) -> (Theatre, SetUpCode) {
    let mut theatre = Theatre::new(name);
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:30", ReportedAction::RateChanged(rate("12 mL/h"))).expect("it runs");
    theatre.next(code, &as_ordered(), "08:50");
    (theatre, code)
}

/// 0.05 mcg/kg/min, which is 1.5 mL/h of this strength.
fn as_ordered() -> String {
    changed(&double(), &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.05 mcg/kg/min")])
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn syringe(theatre: &Theatre, code: SetUpCode, more: &[&str]) -> Said {
    let code = code.to_string();
    theatre.says("09:00", &[PIN], &[&["record", "syringe", &code, "--as", IDOWU], more].concat())
}

// hazard: H-CHANGED
#[test]
fn the_next_syringe_keeps_the_running_dose_and_the_line_gives_the_old_strength_first() {
    let (theatre, code) = titrated("keeps");
    let said = syringe(&theatre, code, &[]);
    assert_eq!(said.code, 0, "{said:?}");
    let text = words(&said.stdout);
    for says in [
        "Until then: 12 mL/h of noradrenaline 80 mcg/mL gives 0.2 mcg/kg/min",
        "next syringe put in, at 6 mL/h",
        "Now: 6 mL/h, which gives 0.2 mcg/kg/min",
        "the line still holds the old strength, 80 mcg/mL: 0.9 mL of it comes first and gives 0.1 mcg/kg/min, for about 9 min",
    ] {
        assert!(text.contains(says), "{says}: {text}");
    }
    let course = theatre.course(code, "09:00");
    assert_eq!(course.rate, Some(ratio(6, 1)));
    // Nothing about it is odd, though its card was made for another dose.
    let case = theatre.cases.case(code.case).expect("a case");
    let last = case.set_up(code.number).expect("a set-up").record.last().expect("a line").clone();
    assert!(last.what.marks.is_empty(), "{last:?}");
    // 0.9 mL of the line are gone after 9 minutes.
    let status = |clock| words(&theatre.says(clock, &[], &["case", "list"]).stdout);
    assert!(status("09:05").contains("the line still holds the old strength"), "{}", status("09:05"));
    assert!(!status("09:10").contains("the line still holds"), "{}", status("09:10"));
}

// hazard: H-CHANGED
#[test]
fn another_dose_with_the_next_syringe_is_named_refused_and_marked_where_it_is_meant() {
    let (theatre, code) = titrated("changes");
    let before = theatre.last();
    let refused = syringe(&theatre, code, &["--rate", "1.5 mL/h"]);
    let stderr = words(refused.is_refused());
    for says in [
        "[dose-would-change]",
        "1.5 mL/h gives 0.05 mcg/kg/min with this syringe, and 0.2 mcg/kg/min ran before; 6 mL/h keeps 0.2 mcg/kg/min",
        "--dose-changes",
    ] {
        assert!(stderr.contains(says), "{says}: {stderr}");
    }
    assert_eq!(theatre.last(), before, "nothing is written");
    // To the rate of its card, where the dose is changed on purpose; a reason is owed for it.
    let said = syringe(&theatre, code, &["--dose-changes", "--format", "json"]);
    assert_eq!(said.code, 0, "{said:?}");
    let data = said.json();
    assert_eq!(data["recorded"]["what"]["rate"], "1.5 mL/h");
    let marks: Vec<_> = data["recorded"]["marks"].as_array().expect("marks").iter().map(|one| &one["code"]).collect();
    assert!(marks.iter().any(|code| *code == "dose-changed-at-restart"), "{marks:?}");
    assert_eq!(data["now"]["line_holds"]["dose"], "0.025 mcg/kg/min");
    assert!(data["owed"].to_string().contains("\"reason\""), "{data}");
}

#[test]
fn a_rate_that_was_typed_and_keeps_the_dose_needs_nothing_more() {
    let (theatre, code) = titrated("typed");
    let said = syringe(&theatre, code, &["--rate", "6 mL/h"]);
    assert!(said.code == 0 && !said.stdout.contains("dose-changed"), "{said:?}");
}

// hazard: H-CHANGED
#[test]
fn the_card_of_the_next_syringe_leads_with_what_runs_in_every_format() {
    let (theatre, code) = titrated("leads");
    let name = code.to_string();
    let drawn = |format: &str| theatre.says("08:55", &[], &["case", "card", &name, "--format", format]);
    let text = words(&drawn("text").stdout);
    let leads = [
        "Running now: 12 mL/h of noradrenaline 80 mcg/mL gives 0.2 mcg/kg/min",
        "6 mL/h keeps 0.2 mcg/kg/min",
        "THE DOSE ON THIS CARD IS NOT THE ONE THAT RUNS: 0.05 mcg/kg/min",
        "The line still holds the old strength, 80 mcg/mL",
    ];
    for says in leads {
        assert!(text.contains(says), "{says}: {text}");
    }
    // The framed rate is the one that keeps the dose; the card's own is a fact among others.
    let framed: Vec<&str> = text.split('|').filter(|part| part.trim().ends_with("mL/h")).map(str::trim).collect();
    assert_eq!(framed, ["6 mL/h"]);
    assert!(text.contains("1.5 mL/h, when the card was made: NOT the rate that runs"), "{text}");
    let html = drawn("html").stdout;
    assert!(html.contains("<strong>6</strong> mL/h") && !html.contains("<strong>1.5</strong>"), "{html}");
    assert!(drawn("svg").stdout.contains("NEXT SYRINGE"));
    let data = drawn("json").json();
    assert_eq!((data["runs"]["rate"].as_str(), data["card"]["rate"]["value"].as_str()), (Some("6 mL/h"), Some("1.5")));
    // What is signed and hashed is what was agreed: drawn again later, and after another rate, it is the same.
    let code_then = data["code"].clone();
    assert_eq!(drawn("json").json()["code"], code_then);
    let said = theatre.says("08:56", &[PIN], &["record", "rate", &name, "9 mL/h", "--as", IDOWU]);
    assert_eq!(said.code, 0, "{said:?}");
    let later = theatre.says("08:57", &[], &["case", "card", &name, "--format", "json"]).json();
    assert_eq!((later["code"].clone(), later["runs"]["rate"].as_str()), (code_then, Some("4.5 mL/h")));
}

// hazard: H-INDEPENDENCE
#[test]
fn nothing_of_the_running_dose_is_said_of_the_next_syringe_before_two_people_agree() {
    let mut theatre = Theatre::new("blind");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let form = changed(&as_ordered(), &[(SINGLE.lines().next().expect("the patient"), "")]);
    theatre.enters((code.case, Some(code.number)), Turn::First { anew: true }, &form, "08:50");
    let name = code.to_string();
    for words in [&["case", "list"][..], &["record", "show", &name], &["case", "status", &name]] {
        let said = theatre.says("08:52", &[], words);
        assert!(said.code == 0 && !said.stdout.contains("keeps"), "{said:?}");
    }
    theatre.enters((code.case, Some(code.number)), Turn::Second, &form, "08:53");
    let said = theatre.says("08:54", &[], &["record", "show", &name]);
    assert!(words(&said.stdout).contains("Next syringe: 2.4 mL/h keeps 0.08 mcg/kg/min."), "{said:?}");
}

/// Beyond the house's factor both are asked, each alone, once both entries are sealed; with a reason of each it is agreed.
// hazard: H-INDEPENDENCE
#[test]
fn a_next_syringe_far_from_what_runs_asks_a_reason_of_each_and_stops_nothing() {
    let mut theatre = Theatre::new("far");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let form = changed(
        SINGLE,
        &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.3 mcg/kg/min"), (SINGLE.lines().next().expect("the patient"), "")],
    );
    let place = (code.case, Some(code.number));
    let judged = |theatre: &Theatre, turn, form: &str| {
        let (person, signer) = if turn == Turn::Second { theatre.tamm } else { theatre.idowu };
        let author = Author::Signed(person, signer);
        let task = theatre.cases.task(place, turn, &author, at("08:55")).expect("their turn");
        let form = SubmittedForm { name: "a form".to_owned(), text: form.to_owned(), json: false, dose_again: None };
        let checked = theatre.cases.judge(&task, &form, &author, &theatre.formulary, at("08:55")).expect("a good form");
        checked.findings().iter().map(|finding| finding.code.id).collect::<Vec<_>>()
    };
    // Nobody who still reads alone learns that the dose is far from what runs.
    assert!(!judged(&theatre, Turn::First { anew: true }, &form).contains(&"far-from-running-dose"));
    theatre.enters(place, Turn::First { anew: true }, &form, "08:50");
    assert!(!judged(&theatre, Turn::Second, &form).contains(&"far-from-running-dose"));
    theatre.enters(place, Turn::Second, &form, "08:51");
    let stage = |theatre: &Theatre| {
        let case = theatre.cases.case(code.case).expect("a case");
        let latest = case.set_up(code.number).expect("a set-up").latest().expect("a reading");
        case.standing(latest).stage.says()
    };
    assert_eq!(stage(&theatre), "the entries say the same, and reasons are missing; both people write theirs, alone");
    assert!(judged(&theatre, Turn::First { anew: false }, &form).contains(&"far-from-running-dose"));
    let reasoned = format!("{form}reasons: {{far-from-running-dose: the pressure fell}}\n");
    theatre.enters(place, Turn::First { anew: false }, &reasoned, "08:56");
    theatre.enters(place, Turn::Second, &reasoned, "08:57");
    assert_eq!(stage(&theatre), "agreed");
    assert_eq!(theatre.cases.audit().expect("it can be read").differ, [""; 0]);
}

/// 7.1 mL/h of 80 mcg/mL is 3.55 mL/h of the double strength: 3.6 on a driver with steps of 0.1, and that is said.
// hazard: H-CHANGED
#[test]
fn the_rate_that_keeps_a_dose_is_rounded_as_rates_are_and_says_what_it_gives() {
    let mut theatre = Theatre::new("rounded");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:30", ReportedAction::RateChanged(rate("7.1 mL/h"))).expect("it runs");
    theatre.next(code, &double(), "08:50");
    let case = theatre.cases.case(code.case).expect("a case");
    let set_up = case.set_up(code.number).expect("it was entered");
    let next = case.next_syringe(set_up, &theatre.course(code, "09:00")).expect("a sum").expect("agreed");
    let keeps = next.keeps.clone().expect("a rate");
    assert_eq!(keeps.rate, ratio(36, 10));
    assert_eq!((next.runs.gives.dose, keeps.dose), (ratio(71, 600), ratio(72, 600)));
    assert!(next.keeps_in_words().ends_with("it gives 0.12 mcg/kg/min"), "{}", next.keeps_in_words());
    let recorded = theatre
        .did(code, "09:00", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("kept");
    assert!(recorded.marks.is_empty(), "{recorded:?}");
}

// hazard: H-CHANGED
#[test]
fn after_a_pause_the_rate_before_leads_and_another_is_a_choice() {
    let (mut theatre, code) = titrated("pause-restart");
    theatre.did(code, "08:52", ReportedAction::Paused).expect("it runs");
    let now = When { happened: Some(at("08:53")), late: Some("no hand was free".to_owned()) };
    let other = ReportedAction::Resumed(Some(rate("4.8 mL/h")));
    assert_eq!(refused(theatre.writes(code, &other, &now, false)), "dose-would-change");
    let recorded = theatre.did(code, "08:53", other).expect("it was meant");
    let says: Vec<&str> = recorded.marks.iter().map(|mark| mark.says.as_str()).collect();
    assert!(
        says.contains(&"4.8 mL/h gives 0.08 mcg/kg/min, and before the pause 12 mL/h gave 0.2 mcg/kg/min"),
        "{says:?}"
    );
    // Put in while it is paused, the next syringe keeps the dose from before the pause.
    theatre.did(code, "08:54", ReportedAction::Paused).expect("it runs");
    let change = ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() };
    theatre.did(code, "08:55", change).expect("it is there");
    assert_eq!(theatre.course(code, "08:56").rate, Some(ratio(24, 10)));
}

// 0.3 mL/h gives 0.005 mcg/kg/min; of double strength the driver gives 0.1 or 0.2 mL/h, a third less or more.
// hazard: H-CHANGED
#[test]
fn a_rate_that_is_far_off_by_rounding_does_not_keep_the_dose() {
    let mut theatre = Theatre::new("far-off");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let confirmed = theatre.says(
        "08:30",
        &[PIN],
        &["record", "rate", &code.to_string(), "0.3 mL/h", "--as", IDOWU, "--even-so", "--reason", "weaned"],
    );
    assert_eq!(confirmed.code, 0, "{confirmed:?}");
    theatre.next(code, &as_ordered(), "08:50");
    let refused = syringe(&theatre, code, &[]);
    assert!(words(refused.is_refused()).contains("no rate of this driver comes near enough"), "{refused:?}");
    let refused = syringe(&theatre, code, &["--rate", "0.2 mL/h"]);
    assert!(refused.is_refused().contains("[dose-would-change]"), "{refused:?}");
}
