//! A patient with several drivers: the board, the same drug twice, and the round at a handover.

use serde_json::Value;

use super::{IDOWU, OKORO, TAMM, Theatre, first, refused, without_patient};
use crate::common::Said;

fn board(theatre: &Theatre, clock: &str, code: &str) -> Value {
    theatre.data(clock, &[], &["case", "status", code])["board"].clone()
}

fn owes(theatre: &Theatre, clock: &str, code: &str) -> Vec<String> {
    let status = theatre.data(clock, &[], &["case", "status", code]);
    let rows = status["set_ups"].as_array().expect("a list").clone();
    let owed = rows.iter().flat_map(|row| row["owed"].as_array().expect("a list").clone());
    owed.map(|one| one["code"].as_str().expect("a code").to_owned()).collect()
}

fn record(theatre: &Theatre, clock: &str, words: &[&str]) -> Said {
    theatre.says(clock, &[IDOWU.1], &[&["record"], words, &["--as", IDOWU.0]].concat())
}

/// The example at 84.2 kg runs at 5.1 mL/h: 5.1 x 24 / 84.2 is about 1.454 mL/kg/day.
fn running(name: &str) -> (Theatre, String) {
    let theatre = Theatre::new(name);
    let code = theatre.agreed();
    let said = record(&theatre, "08:00", &["start", &format!("{code}/1")]);
    assert_eq!(said.code, 0, "{said:?}");
    (theatre, code)
}

/// A second syringe driver of the same drug in the same patient.
fn another(theatre: &Theatre, code: &str) -> String {
    let (next, form) = (format!("{code}/2"), without_patient(&first()));
    assert_eq!(theatre.enters("08:01", TAMM, "enter", code, &form).code, 0);
    assert_eq!(theatre.enters("08:02", OKORO, "second", &next, &form).code, 0);
    next
}

#[test]
fn the_board_shows_every_driver_as_it_hangs() {
    let (theatre, code) = running("board");
    let shown = board(&theatre, "08:10", &code);
    let driver = &shown["drivers"][0];
    assert_eq!((&driver["state"], &driver["rate"]), (&"RUNNING".into(), &"5.1 mL/h".into()), "{shown}");
    assert!(driver["dose"].as_str().expect("a dose").ends_with("mcg/kg/min"), "{shown}");
    assert!(driver["left_percent"].as_u64().is_some_and(|percent| (90..100).contains(&percent)), "{shown}");
    assert_eq!(shown["fluid"], "5.1 mL/h, ≈ 1.454 mL/kg/day", "{shown}");
    assert!(shown["next"].as_str().expect("a sentence").contains("read back noradrenaline"), "{shown}");
    assert_eq!(record(&theatre, "08:11", &["pause", &format!("{code}/1")]).code, 0);
    let paused = board(&theatre, "08:12", &code);
    assert_eq!((&paused["drivers"][0]["state"], &paused["fluid"]), (&"PAUSED".into(), &Value::Null), "{paused}");
}

// hazard: H-DRIVER
#[test]
fn the_same_drug_in_two_drivers_is_asked_about_and_added_up() {
    let (theatre, code) = running("same-drug");
    let next = another(&theatre, &code);
    let said = record(&theatre, "08:05", &["start", &next]);
    assert!(said.code == 0 && said.stdout.contains("runs in this patient already"), "{said:?}");
    assert!(owes(&theatre, "08:06", &code).contains(&"reason".to_owned()));
    let shown = board(&theatre, "08:06", &code);
    assert_eq!(shown["fluid"], "10.2 mL/h, ≈ 2.907 mL/kg/day", "{shown}");
    assert!(shown["same_drug"][0].as_str().expect("words").contains("together"), "{shown}");
    // 95 mL/h is about 1.504 mcg/kg/min: below the hard limit of 3 alone, and above it twice.
    let one = format!("{code}/1");
    for (clock, set_up, rate) in [("08:07", &one, "40 mL/h"), ("08:07", &next, "40 mL/h"), ("08:18", &one, "95 mL/h")] {
        let said = record(&theatre, clock, &["rate", set_up, rate, "--reason", "as ordered"]);
        assert_eq!(said.code, 0, "{said:?}");
    }
    let said = record(&theatre, "08:18", &["rate", &next, "95 mL/h", "--reason", "as ordered"]);
    assert!(refused(&said, "not-as-agreed").contains("hard limit"), "{said:?}");
    let said = record(&theatre, "08:18", &["rate", &next, "95 mL/h", "--reason", "as ordered", "--even-so"]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(owes(&theatre, "08:19", &code).contains(&"same-drug".to_owned()));
    theatre.is_whole();
}

// hazard: H-DRIVER
#[test]
fn the_round_is_read_blind_and_signed_by_both() {
    let (theatre, code) = running("round");
    let round = |clock: &str, drivers: &[&str]| {
        let drivers: Vec<&str> = drivers.iter().flat_map(|driver| ["--driver", driver]).collect();
        theatre.says(clock, &[TAMM.1], &[&["case", "round", &code, "--as", TAMM.0][..], &drivers].concat())
    };
    let sign =
        |clock: &str, who: super::Who| theatre.says(clock, &[who.1], &["case", "sign-round", &code, "--as", who.0]);
    refused(&sign("08:10", IDOWU), "nothing-waits");
    let before = theatre.events();
    assert_eq!(round("08:10", &["noradrenaline, 80 mcg/mL, 5,1 mL/h"]).code, 2);
    assert_eq!(round("08:10", &["noradrenaline 80 mcg/mL"]).code, 2);
    assert_eq!(theatre.events(), before);
    let said = round("08:10", &["1: noradrenaline, 80 mcg/mL, 5.1 mL/h"]);
    assert!(said.code == 0 && said.stdout.contains("Every driver is as the record says"), "{said:?}");
    assert!(owes(&theatre, "08:11", &code).contains(&"round".to_owned()));
    refused(&sign("08:11", TAMM), "same-person");
    assert_eq!(sign("08:12", IDOWU).code, 0);
    assert!(!owes(&theatre, "08:13", &code).contains(&"round".to_owned()));

    // One driver at another rate, in another slot, and a bag that nobody knows.
    let said = round("09:00", &["2: noradrenaline, 80 mcg/mL, 51 mL/h", "3: propofol, 10 mg/mL, 0 mL/h"]);
    let text = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(said.code, 5, "{said:?}");
    assert!(text.contains("runs at 51 mL/h; recorded 5.1 mL/h"), "{text}");
    assert!(text.contains("hangs in slot 2"), "{text}");
    assert!(text.contains("propofol, slot 3, 0 mL/h hangs, does not run and is in no case"), "{text}");
    let owed = owes(&theatre, "09:01", &code);
    assert!(
        ["display-differs", "round", "round-differs"].iter().all(|one| owed.iter().any(|owed| owed == one)),
        "{owed:?}"
    );
    assert!(
        board(&theatre, "09:01", &code)["next"].as_str().expect("words").contains("its display is not as recorded")
    );
    assert_eq!(sign("09:02", OKORO).code, 5);
    // Signed, and still outstanding: until the display is read again equal, and the next round finds nothing.
    assert!(owes(&theatre, "09:03", &code).contains(&"display-differs".to_owned()));
    assert_eq!(round("09:05", &["2: noradrenaline, 80 mcg/mL, 5.1 mL/h"]).code, 0);
    assert_eq!(sign("09:06", IDOWU).code, 0);
    let owed = owes(&theatre, "09:07", &code);
    assert!(owed.iter().all(|one| !one.starts_with("round") && one != "display-differs"), "{owed:?}");
    theatre.is_whole();
}

/// What a driver was found at on a round is settled where it is recorded as the rate.
// hazard: H-DRIVER
#[test]
fn what_differed_on_a_round_is_settled_by_recording_it() {
    let (theatre, code) = running("round-recorded");
    let words = ["case", "round", &code, "--as", TAMM.0, "--driver", "noradrenaline, 80 mcg/mL, 6 mL/h"];
    assert_eq!(theatre.says("09:00", &[TAMM.1], &words).code, 5);
    assert!(owes(&theatre, "09:01", &code).contains(&"display-differs".to_owned()));
    assert_eq!(record(&theatre, "09:02", &["rate", &format!("{code}/1"), "6 mL/h"]).code, 0);
    assert!(!owes(&theatre, "09:03", &code).contains(&"display-differs".to_owned()));
    theatre.is_whole();
}

/// Of a syringe whose entry is still sealed, what was said when it was put in is compared; never the rate alone.
// hazard: H-DRIVER
#[test]
fn a_wrong_drug_at_the_rate_of_a_sealed_syringe_is_named() {
    let (theatre, code) = running("round-sealed");
    let set_up = format!("{code}/1");
    let entered =
        theatre.enters_with("08:50", IDOWU, &["case", "enter", &set_up, "--anew"], &without_patient(&first()));
    assert_eq!(entered.code, 0, "{entered:?}");
    let put_in = ["syringe", &set_up, "--drug", "noradrenaline", "--strength", "80 mcg/mL", "--rate", "3.6 mL/h"];
    let said = record(&theatre, "09:00", &[&put_in[..], &["--even-so", "--reason", "the old one was empty"]].concat());
    assert_eq!(said.code, 0, "{said:?}");
    let round = |clock: &str, driver: &str| {
        let said = theatre.says(clock, &[TAMM.1], &["case", "round", &code, "--as", TAMM.0, "--driver", driver]);
        let text = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(theatre.says(clock, &[IDOWU.1], &["case", "sign-round", &code, "--as", IDOWU.0]).code, said.code);
        (said.code, text)
    };
    let (exit, text) = round("09:10", "potassium chloride, 1 mmol/mL, 3.6 mL/h");
    assert_eq!(exit, 5, "{text}");
    assert!(text.contains("potassium chloride, 3.6 mL/h RUNS AND IS IN NO CASE") && text.contains("MISSING"), "{text}");
    let (exit, text) = round("09:20", "noradrenaline, 160 mcg/mL, 3.6 mL/h");
    assert!(exit == 5 && text.contains("ANOTHER STRENGTH is on the syringe"), "{text}");
    assert!(owes(&theatre, "09:21", &code).contains(&"round-differs".to_owned()));
    let (exit, text) = round("09:30", "noradrenaline, 80 mcg/mL, 3.6 mL/h");
    assert!(exit == 0 && text.contains("Every driver is as the record says"), "{text}");
    assert!(!owes(&theatre, "09:31", &code).contains(&"round-differs".to_owned()));
    theatre.is_whole();
}
