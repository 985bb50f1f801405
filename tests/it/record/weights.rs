//! Another weight while a syringe runs, and with the next one: by which weight each number was counted.

use countersign::case::{Otherwise, ReadAgainDone, WeightRead};

use super::*;

fn weigh(theatre: &mut Theatre, code: SetUpCode, kilograms: &str, clock: &str) -> ReadAgainDone {
    let read = WeightRead { weight: kilograms.to_owned(), from: "measured".to_owned() };
    theatre.cases.read_weight(code.case, &theatre.idowu.1, &read, at(clock)).expect("their turn");
    theatre.cases.read_weight(code.case, &theatre.tamm.1, &read, at(clock)).expect("their turn")
}

fn running(name: &str, form: &str) -> (Theatre, SetUpCode) {
    let mut theatre = Theatre::new(name);
    let code = theatre.agreed(form);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    (theatre, code)
}

/// What is outstanding of a kind.
fn owed(theatre: &Theatre, code: SetUpCode, kind: &str, clock: &str) -> Option<String> {
    let case = theatre.cases.case(code.case).expect("it is there");
    let rows = theatre.cases.rows(&case, None, at(clock)).expect("rows");
    rows[0].owed.iter().find(|owed| owed.code == kind).map(|owed| owed.says.clone())
}

/// As it is done at the bedside: now, with nothing confirmed.
fn now(theatre: &mut Theatre, code: SetUpCode, clock: &str, action: &ReportedAction) -> Recorded {
    let by = (&theatre.idowu.0, &theatre.idowu.1);
    let done = theatre.cases.record(code, by, action, &When::default(), None, Confirmed::default(), at(clock));
    done.expect("nothing is odd about it").0
}

fn next_syringe() -> ReportedAction {
    ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() }
}

// hazard: H-WEIGHT
#[test]
fn a_weight_that_comes_back_asks_for_the_rate_again() {
    let (mut theatre, code) = running("comes-back", SINGLE);
    weigh(&mut theatre, code, "60 kg", "09:00");
    let dose = countersign::quantity::DoseRate::parse("0.08 mcg/kg/min").expect("a dose");
    // 3.6 mL/h at 60 kg.
    now(&mut theatre, code, "09:30", &ReportedAction::DoseChanged { dose, set_to: None });
    theatre.reads(code, "3.6 mL/h", "09:31");
    assert_eq!(owed(&theatre, code, "weight-changed", "09:32"), None);
    weigh(&mut theatre, code, "80 kg", "10:00");
    let says = owed(&theatre, code, "weight-changed", "10:01").expect("the card's weight, and not the rate's");
    assert!(says.starts_with("the weight is 80 kg now, and 3.6 mL/h was counted by 60 kg"), "{says}");
    assert!(says.contains("3.6 -> 4.8 mL/h keeps 0.08 mcg/kg/min"), "{says}");
    assert!(owed(&theatre, code, "read-back", "10:01").is_some());
}

// hazard: H-WEIGHT
#[test]
fn the_next_syringe_keeps_what_runs_after_another_weight_and_the_question_stays() {
    let (mut theatre, code) = running("next-after-weight", SINGLE);
    weigh(&mut theatre, code, "60 kg", "09:00");
    theatre.next(code, &double(), "09:10");
    // 4.8 mL/h of 80 mcg/mL go on as 2.4 mL/h of 160 mcg/mL, and not as the 1.8 mL/h that were ordered.
    let recorded = now(&mut theatre, code, "09:20", &next_syringe());
    assert!(format!("{:?}", recorded.what).contains("2.4 mL/h"), "{recorded:?}");
    let says = owed(&theatre, code, "weight-changed", "09:21").expect("nobody has chosen a dose since");
    assert!(says.contains("2.4 mL/h was counted by 80 kg") && says.contains("2.4 -> 1.8 mL/h"), "{says}");
}

// hazard: H-WEIGHT
#[test]
fn a_recount_of_the_next_syringe_is_said_of_its_own_strength_and_asks_for_no_reason_of_its_own() {
    let (mut theatre, code) = running("recount-of-next", SINGLE);
    theatre.next(code, &double(), "08:10");
    let done = weigh(&mut theatre, code, "77 kg", "09:00");
    let said: Vec<String> = done.recounts.iter().map(|one| format!("{}: {}", one.named, one.says)).collect();
    let next = said.iter().find(|one| one.contains("160 mcg/mL")).expect("the next syringe");
    assert!(next.starts_with("next syringe, noradrenaline 160 mcg/mL") && next.contains("2.4 -> 2.3 mL/h"), "{said:?}");
    assert!(said.iter().any(|one| one.starts_with("noradrenaline 80 mcg/mL") && one.contains("4.8")), "{said:?}");
}

// hazard: H-WEIGHT
#[test]
fn another_time_of_a_start_does_not_take_the_weight_back_that_was_known() {
    let mut theatre = Theatre::new("start-corrected");
    let code = theatre.agreed(SINGLE);
    weigh(&mut theatre, code, "76 kg", "08:00");
    now(&mut theatre, code, "08:10", &ReportedAction::Started(None, Default::default()));
    let start = theatre.last();
    let earlier = Otherwise { what: None, happened: Some(at("07:58")) };
    theatre
        .did(code, "08:20", ReportedAction::Corrected { event: start, otherwise: Some(earlier) })
        .expect("the clock was read wrongly");
    assert_eq!(owed(&theatre, code, "weight-changed", "08:21"), None);
}

// hazard: H-WEIGHT
#[test]
fn a_bolus_recorded_late_is_counted_by_the_weight_of_then() {
    let (mut theatre, code) = running("late-bolus", &super::closing::opioid());
    weigh(&mut theatre, code, "84 kg", "09:00");
    // 1 mcg/kg of 50 mcg/mL: 1.6 mL at 80 kg.
    let recorded = theatre.did(code, "08:30", ReportedAction::BolusGiven(bolus("1 mcg/kg"))).expect("it was given");
    assert!(format!("{:?}", recorded.what).contains("1.6 mL"), "{recorded:?}");
    assert!(recorded.marks.iter().all(|mark| mark.code != "bolus-not-ordered"), "{recorded:?}");
}

// hazard: H-WEIGHT
#[test]
fn the_card_of_what_runs_says_that_the_weight_is_in_doubt() {
    let (mut theatre, code) = running("in-doubt", SINGLE);
    let read = WeightRead { weight: "60 kg".to_owned(), from: "measured".to_owned() };
    theatre.cases.read_weight(code.case, &theatre.idowu.1, &read, at("09:00")).expect("their turn");
    let card = theatre.cases.card(code, None, at("09:01")).expect("it runs").text();
    let said = card.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("THE WEIGHT IS BEING READ AGAIN: 80 kg IS IN DOUBT"), "{card}");
}

// What lies beyond the line holds the old strength too.
// hazard: H-STRENGTH
#[test]
fn the_old_strength_comes_out_of_line_and_catheter() {
    let beyond = |form: &str| format!("{form}beyond: 0.3 mL\n");
    let (mut theatre, code) = running("beyond", &beyond(SINGLE));
    theatre.next(code, &beyond(&double()), "08:40");
    theatre.did(code, "09:00", next_syringe()).expect("as agreed");
    // 1.2 mL at 2.4 mL/h.
    let held = theatre.course(code, "09:00").still_in_the_line().expect("a sum").expect("another strength");
    assert_eq!((held.volume.as_deref(), held.lasts), (Some("1.2 mL"), Some(ratio(1, 2))));
}
