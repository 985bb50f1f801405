//! A clock that is set back brings nothing back, and one that was ahead does not make everything too old.

use countersign::quantity::Moment;

use super::{IDOWU, OKORO, TAMM, Theatre, first, moment, refused, second};
use countersign::case::{SetUpCode, Twice, WeightRead};

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
        let said = refused(&said, "clock-uncertain").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains("2026-03-14 19:40 +00:00") && said.contains("journal clock"), "{clock}: {said}");
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
    refused(&theatre.says("08:00", &[], &["case", "card", &code]), "clock-uncertain");
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
    refused(&theatre.says("08:00", &[], &["case", "card", &code]), "clock-uncertain");
    let said = corrects(ruiz, lindqvist);
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(theatre.says("08:01", &[], &["case", "card", &code]).code, 0);
    theatre.is_whole();
}

/// The journal holds an event of two years ahead; the clock is right again, and nobody has corrected anything.
fn two_years_ahead(theatre: &Theatre) {
    let later = Moment::parse("2028-03-14T07:00:00+00:00").expect("a moment");
    let (_, signer) = theatre.unlocked("06:30", IDOWU);
    theatre.cases().open(later, Some(&signer)).expect("a clock that is ahead");
}

// hazard: H-EMERGENCY
#[test]
fn no_clock_keeps_a_rate_from_an_emergency() {
    let theatre = Theatre::new("emergency-behind");
    two_years_ahead(&theatre);
    let file = theatre.file("emergency.yaml", &first());
    let given = theatre.says("07:10", &[], &["case", "emergency", "--by", IDOWU.0, "--from", &file]);
    assert!(given.code == 0 && given.stdout.contains("5.1 mL/h"), "{given:?}");
    let banner: String = given.stdout.lines().take(5).collect::<Vec<_>>().join(" ");
    assert!(banner.contains("CLOCK UNCERTAIN") && banner.contains("2028-03-14"), "{given:?}");
    let line = given.stdout.lines().find(|line| line.starts_with("Case  ")).expect("the card names its case");
    let code = line.split_whitespace().last().expect("a code");
    assert!(theatre.says("07:20", &[], &["case", "card", code]).stdout.contains("CLOCK UNCERTAIN"));
    let data = theatre.data("07:20", &[], &["case", "card", code]);
    assert!(data["clock"].as_str().is_some_and(|clock| clock.contains("CLOCK UNCERTAIN")), "{data}");
    // Nor does it stop the start; by its own time it grows old all the same.
    let start = theatre.says("07:21", &[IDOWU.1], &["record", "start", code, "--as", IDOWU.0, "--even-so"]);
    assert!(start.code == 0 && !start.stdout.contains("expired"), "{start:?}");
    let said = theatre.says("07:10", &[], &["case", "emergency", "--by", IDOWU.0, "--from", &file]);
    let line = said.stdout.lines().find(|line| line.starts_with("Case  ")).expect("the card names its case");
    let other = line.split_whitespace().last().expect("a code");
    let old = theatre.says("23:10", &[], &["case", "card", other]);
    assert!(old.code == 0 && old.stdout.contains("THIS ENTRY EXPIRED AT"), "{old:?}");
    theatre.is_whole();
}

/// 84.2 kg -> 80 kg: 5.1 -> 4.8 mL/h. The clock is three hours ahead, and nobody has said yet which time is right.
// hazard: H-WEIGHT
#[test]
fn a_weight_is_read_while_the_clock_is_in_doubt_and_counts_when_it_is_right_again() {
    let theatre = Theatre::new("doubt-weight");
    let code = theatre.agreed();
    let (case, _) = SetUpCode::parse(&code).expect("a code");
    let mut cases = theatre.cases();
    cases.journal_mut().doubt_clock(Some("it jumped by 3 h".to_owned()));
    let weight = WeightRead { weight: "80 kg".to_owned(), from: "measured".to_owned() };
    let [idowu, tamm] = [IDOWU, TAMM].map(|who| theatre.unlocked("07:50", who).1);
    assert!(cases.open(moment("10:50"), Some(&idowu)).is_err(), "what a person signs and what grows old waits");
    let read = |cases: &mut countersign::case::Cases, by| cases.read_weight(case, by, &weight, moment("10:51"));
    read(&mut cases, &idowu).expect("their turn");
    let done = read(&mut cases, &tamm).expect("their turn");
    assert_eq!(done.stands, Twice::Quiet);
    assert!(done.clock.as_ref().is_some_and(|clock| clock.contains("3 h")), "{done:?}");
    assert!(done.recounts[0].says.contains("5.1 -> 4.8 mL/h"), "{done:?}");
    cases.journal_mut().doubt_clock(None);
    let shown = theatre.data("08:00", &[], &["journal", "show", &code]);
    let marked = shown["events"].as_array().expect("events").iter().filter(|one| one["clock"].is_string()).count();
    assert!(marked >= 2, "{shown}");
    assert!(theatre.says("08:00", &[], &["case", "card", &code]).stdout.contains("4.8 mL/h"));
    let start = theatre.says("08:01", &[IDOWU.1], &["record", "start", &code, "--as", IDOWU.0]);
    assert!(start.code == 0 && start.stdout.contains("4.8 mL/h") && !start.stdout.contains("5.1"), "{start:?}");
    theatre.is_whole();
}

#[test]
fn an_entry_held_up_by_the_clock_alone_names_the_clock_and_not_another_entry() {
    let theatre = Theatre::new("two-behind");
    let code = theatre.agreed();
    two_years_ahead(&theatre);
    let said = theatre.says("07:50", &[], &["case", "card", &code]);
    let says = refused(&said, "clock-uncertain");
    assert!(says.contains("journal clock") && !says.contains("case enter"), "{says}");
}

// hazard: H-RECORD
#[test]
fn a_guest_records_a_stop_while_the_clock_is_behind_and_enters_nothing() {
    let theatre = Theatre::new("guest-behind");
    let code = format!("{}/1", theatre.agreed());
    theatre.records("07:50", &code, &countersign::case::ReportedAction::Started(None, Default::default()));
    let guest = ("G. Moss", "603917");
    let admit = ["people", "guest", guest.0, "--role", "nurse", "--as", IDOWU.0, "--and", OKORO.0];
    let said = theatre.says("07:51", &[IDOWU.1, OKORO.1, guest.1, guest.1], &admit);
    assert_eq!(said.code, 0, "{said:?}");
    two_years_ahead(&theatre);
    refused(&theatre.says("07:55", &[guest.1], &["case", "open", "--as", guest.0]), "person-unknown");
    let said = theatre.says("07:56", &[guest.1], &["record", "stop", &code, "--as", guest.0]);
    assert_eq!(said.code, 0, "{said:?}");
    let shown = theatre.data("07:57", &[], &["journal", "show", code.split('/').next().expect("a case")]);
    assert!(shown.to_string().contains("clock uncertain"), "{shown}");
    assert!(countersign::case::unlock(theatre.cases().journal_mut(), moment("20:30"), guest.0, guest.1).is_err());
}

/// One administrator retired, the other without a PIN: two clinicians name one, and everybody sees it.
// hazard: H-INDEPENDENCE
#[test]
fn a_house_whose_administrators_are_gone_is_opened_again_by_two_clinicians_and_says_so() {
    let theatre = Theatre::new("administrators-gone");
    let (ruiz, lindqvist, vance) = (("K. Ruiz", "603917"), ("J. Lindqvist", "417093"), ("C. Vance", "820461"));
    let add = |who: (&str, &str), one: (&str, &str), other: (&str, &str), more: &[&str]| {
        let words = ["people", "add", who.0, "--role", "administrator", "--as", one.0, "--and", other.0];
        theatre.says("06:10", &[one.1, other.1, who.1, who.1], &[&words[..], more].concat())
    };
    let (idowu, tamm) = ((IDOWU.0, IDOWU.1), (TAMM.0, TAMM.1));
    let gone = ["--administrators-gone"];
    refused(&add(ruiz, idowu, tamm, &gone), "administrators-not-gone");
    assert_eq!(add(ruiz, idowu, tamm, &[]).code, 0);
    assert_eq!(add(lindqvist, ruiz, tamm, &[]).code, 0);
    let retire = |whom: &str, by: (&str, &str)| {
        let words = ["people", "retire", whom, "--as", by.0, "--and", TAMM.0];
        theatre.says("06:20", &[by.1, TAMM.1], &words)
    };
    let said = retire(ruiz.0, lindqvist);
    assert!(said.code == 0 && said.stdout.contains("ONE ADMINISTRATOR IS LEFT: J. Lindqvist"), "{said:?}");
    refused(&retire(lindqvist.0, lindqvist), "last-administrator");
    // The last one has lost the PIN.
    refused(&add(vance, idowu, tamm, &[]), "administrator-needed");
    refused(&add(vance, idowu, idowu, &gone), "second-person-needed");
    refused(&add(vance, lindqvist, tamm, &gone), "role-does-not-fit");
    let said = add(vance, idowu, tamm, &gone);
    assert_eq!(said.code, 0, "{said:?}");
    let list = theatre.says("06:30", &[], &["people", "list"]).stdout;
    assert!(list.contains("C. Vance, administrator") && list.contains("AS ADMINISTRATORS WERE GONE: review"), "{list}");
    assert_eq!(list.matches("AS ADMINISTRATORS WERE GONE").count(), 1, "{list}");
    let pin = ["people", "pin", "--of", lindqvist.0, "--as", vance.0, "--and", TAMM.0];
    let said = theatre.says("06:40", &[vance.1, TAMM.1, "903518", "903518"], &pin);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(theatre.exported().contains("administrators-gone"));
    theatre.is_whole();
}
