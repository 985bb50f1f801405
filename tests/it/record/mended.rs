//! Faults that readers found, each with the number or the word that was wrong.

use countersign::case::{DeliveryChange, WeightRead};

use super::*;

fn weigh(theatre: &mut Theatre, code: SetUpCode, kilograms: &str, clock: &str) {
    let read = WeightRead { weight: kilograms.to_owned(), from: "measured".to_owned() };
    for (_, signer) in [theatre.idowu, theatre.tamm] {
        theatre.cases.read_weight(code.case, signer, &read, at(clock)).expect("their turn");
    }
}

// hazard: H-WEIGHT
#[test]
fn a_weight_agreed_while_it_runs_counts_from_then_on() {
    let mut theatre = Theatre::new("weight");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    // 4.8 mL/h of 80 mcg/mL: 0.08 mcg/kg/min at 80 kg, and twice as much at 40 kg.
    let dose = |theatre: &Theatre| {
        let course = theatre.course(code, "09:30");
        course.syringe().basis.dose_shown(course.rate.expect("it runs")).expect("a dose")
    };
    assert_eq!(dose(&theatre), "0.08 mcg/kg/min");
    weigh(&mut theatre, code, "40 kg", "09:00");
    assert_eq!(dose(&theatre), "0.16 mcg/kg/min");
    // The hard limit of 3 mcg/kg/min is 90 mL/h at 40 kg, and 180 mL/h at 80 kg.
    let marks = theatre.did(code, "09:20", ReportedAction::RateChanged(rate("95 mL/h"))).expect("even so").marks;
    assert!(marks.iter().any(|mark| mark.code == "dose-above-hard-limit"), "{marks:?}");
    let case = theatre.cases.case(code.case).expect("it is there");
    let owed = |now| {
        let rows = theatre.cases.rows(&case, None, at(now)).expect("rows");
        rows[0].owed.iter().map(|owed| owed.code).collect::<Vec<_>>()
    };
    assert!(owed("09:30").contains(&"read-back"), "{:?}", owed("09:30"));
}

#[test]
fn a_changed_weight_asks_whether_the_rate_is_still_ordered() {
    let mut theatre = Theatre::new("ordered");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    weigh(&mut theatre, code, "40 kg", "09:00");
    let case = theatre.cases.case(code.case).expect("it is there");
    let rows = theatre.cases.rows(&case, None, at("09:10")).expect("rows");
    let says = rows[0].owed.iter().find(|owed| owed.code == "weight-changed").map(|owed| owed.says.as_str());
    assert_eq!(
        says,
        Some(
            "the weight is 40 kg now, and 4.8 mL/h was counted by 80 kg: this rate gives 0.16 mcg/kg/min; 4.8 -> 2.4 mL/h \
             keeps 0.08 mcg/kg/min; read the order, set the driver, and record the rate; ask first: the weight changed by \
             50 % from 80 kg, and more than 10 % is entered anew"
        )
    );
}

// hazard: H-INDEPENDENCE
#[test]
fn what_runs_before_an_agreement_tells_a_second_person_nothing() {
    let mut theatre = Theatre::new("sealed");
    let case = theatre.cases.open(at("07:30"), None).expect("room");
    let code = theatre.enters((case, None), Turn::First { anew: false }, SINGLE, "07:40");
    let refused = theatre
        .did(code, "08:00", ReportedAction::Started(None, Default::default()))
        .expect_err("no card says the rate");
    assert!(refused.to_string().contains("has no card"), "{refused}");
    let marks = theatre
        .did(code, "08:00", ReportedAction::Started(Some(rate("99 mL/h")), Default::default()))
        .expect("even so")
        .marks;
    assert_eq!(marks.iter().map(|mark| mark.code.as_str()).collect::<Vec<_>>(), ["not-agreed"]);
    let folded = theatre.cases.case(case).expect("it is there");
    let rows = theatre.cases.rows(&folded, None, at("08:10")).expect("rows");
    let told = format!("{rows:?}");
    assert!(!told.contains("noradrenaline") && !told.contains("80 mcg/mL"), "{told}");
    let by = (&theatre.tamm.0, &theatre.tamm.1);
    let shown = [Shown { value: "rate".to_owned(), typed: "1 mL/h".to_owned() }];
    // It is held against what was recorded, and against nothing that was entered.
    let differs = theatre.cases.read_back(code, by, &shown, None, at("08:10")).expect("it runs").differences;
    assert_eq!(differs.iter().map(|one| one.expected.as_str()).collect::<Vec<_>>(), ["99 mL/h"]);
}

// hazard: H-RECORD
#[test]
fn a_clock_that_is_behind_does_not_let_a_running_case_be_forgotten() {
    let mut theatre = Theatre::new("behind");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let both = (&theatre.idowu.1, &theatre.tamm.1);
    assert!(theatre.cases.forget(at("07:58"), both, code.case).is_err());
    theatre.did(code, "08:05", ReportedAction::Stopped).expect("it runs");
    assert!(theatre.cases.forget(at("08:06"), &theatre.idowu.1, code.case).is_err(), "one person alone");
    assert!(theatre.cases.forget(at("08:06"), both, code.case).is_ok());
}

#[test]
fn a_pause_written_down_after_the_next_rate_is_taken() {
    let mut theatre = Theatre::new("pause");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "09:00", ReportedAction::RateChanged(rate("6 mL/h"))).expect("it runs");
    theatre.did(code, "08:30", ReportedAction::Paused).expect("it really happened");
    theatre.did(code, "09:00", ReportedAction::Resumed(Some(rate("6 mL/h")))).expect("it went on");
    // Half an hour at 4.8 mL/h, half an hour of nothing, half an hour at 6 mL/h.
    let volume = theatre.course(code, "09:30").volume().expect("small");
    assert_eq!(volume, countersign::quantity::Ratio::new(54, 10).expect("small"));
    theatre.did(code, "09:40", ReportedAction::Paused).expect("it runs");
    assert!(theatre.did(code, "09:50", ReportedAction::RateChanged(rate("7 mL/h"))).is_err(), "it is paused");
}

// hazard: H-DRIVER
#[test]
fn a_read_back_that_differs_is_owed_until_it_is_put_right() {
    let mut theatre = Theatre::new("differs");
    let code = theatre.agreed(SINGLE);
    let reads = |theatre: &mut Theatre, typed: &str, clock: &str| theatre.reads(code, typed, clock);
    let owed = |theatre: &Theatre| {
        let case = theatre.cases.case(code.case).expect("it is there");
        let outstanding = case.outstanding_difference(case.set_up(1).expect("one")).expect("read");
        outstanding.map(|differs| differs.what.differences_in_words())
    };
    assert!(reads(&mut theatre, "4.8 mL/h", "07:50"));
    assert_eq!(owed(&theatre), None);
    assert!(!reads(&mut theatre, "48 mL/h", "07:51"));
    assert_eq!(owed(&theatre).as_deref(), Some("rate showed 48 mL/h, and 4.8 mL/h was expected then"));
    assert!(reads(&mut theatre, "4.8 mL/h", "07:52"));
    assert_eq!(owed(&theatre), None);
}

// hazard: H-LIMITS
#[test]
fn an_emergency_entry_is_held_against_the_limits_at_its_start() {
    let mut theatre = Theatre::new("emergency");
    let case = theatre.cases.open(at("07:30"), None).expect("room");
    let author = Author::Typed { name: IDOWU, role: "anaesthetist" };
    let task = theatre.cases.task((case, None), Turn::Emergency, &author, at("07:40")).expect("nothing in the way");
    let text = changed(SINGLE, &[("dose: 0.08 mcg/kg/min", "dose: 4 mcg/kg/min")]);
    let form =
        SubmittedForm { name: "a form".to_owned(), text, json: false, dose_again: Some("4 mcg/kg/min".to_owned()) };
    let code = theatre.cases.seal(&task, &form, &author, &theatre.formulary, at("07:40")).expect("a good form");
    let marks = theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("even so").marks;
    let codes: Vec<&str> = marks.iter().map(|mark| mark.code.as_str()).collect();
    assert!(codes.contains(&"dose-above-hard-limit") && codes.contains(&"not-double-checked"), "{codes:?}");
}

// hazard: H-STRENGTH
#[test]
fn the_line_holds_the_earlier_strength_after_a_change() {
    let mut theatre = Theatre::new("in-line");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.next(code, &double(), "08:40");
    theatre
        .did(code, "09:00", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("as agreed");
    // 0.9 mL of the line at 2.4 mL/h: 0.375 h.
    let held = theatre.course(code, "09:00").still_in_the_line().expect("a sum").expect("another strength");
    assert_eq!((held.volume.as_deref(), held.lasts), (Some("0.9 mL"), Some(ratio(3, 8))));
    // What it gives until then is half of what the record says of the new syringe.
    assert_eq!(held.dose.as_deref(), Some("0.04 mcg/kg/min"));
    assert_eq!(theatre.course(code, "09:30").still_in_the_line().expect("a sum"), None);
}

// hazard: H-STRENGTH
#[test]
fn a_line_that_nobody_read_still_holds_the_old_strength_after_an_emergency() {
    let mut theatre = Theatre::new("unread-line");
    let case = theatre.cases.open(at("07:30"), None).expect("room");
    let author = Author::Typed { name: IDOWU, role: "anaesthetist" };
    let task = theatre.cases.task((case, None), Turn::Emergency, &author, at("07:40")).expect("nothing in the way");
    let text = format!("{SINGLE}assumed: [container, fill, line, line_filled]\n");
    let form = SubmittedForm { name: "a form".to_owned(), text, json: false, dose_again: None };
    let code = theatre.cases.seal(&task, &form, &author, &theatre.formulary, at("07:40")).expect("a good form");
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("it really happened");
    theatre.enters((code.case, Some(code.number)), Turn::First { anew: true }, &double(), "08:40");
    theatre.enters((code.case, Some(code.number)), Turn::Second, &double(), "08:41");
    let lead = theatre.cases.card(code, None, at("08:50")).expect("a card").text();
    let lead = lead.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(lead.contains("still holds the old strength, 80 mcg/mL; HOW MUCH IS NOT KNOWN"), "{lead}");
    theatre
        .did(code, "09:00", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("as agreed");
    let held = theatre.course(code, "09:01").still_in_the_line().expect("a sum").expect("another strength");
    assert_eq!((&held.volume, &held.dose), (&None, &None));
    assert!(held.says().contains("80 mcg/mL; HOW MUCH IS NOT KNOWN"), "{}", held.says());
    // 2.4 mL/h have passed the 0.9 mL that the line holds by the entry of two people.
    assert_eq!(theatre.course(code, "09:30").still_in_the_line().expect("a sum"), None);
}

// hazard: H-RECORD
#[test]
fn a_line_filled_with_diluent_is_accounted_for_once() {
    let mut theatre = Theatre::new("diluent");
    let code = theatre.agreed(&changed(SINGLE, &[("line_filled: from this syringe", "line_filled: with diluent")]));
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "09:00", ReportedAction::Stopped).expect("it runs");
    // 4.8 mL were pushed, 0.9 mL of them into the line: 3.9 + 0.9 + 45.2 is 50.
    let balance = theatre.closes(code, "0.9 mL", "0 mL", "45.2 mL", None).expect("taken");
    assert!(!balance.differs(), "{balance:?}");
    assert_eq!(balance.given, countersign::quantity::Ratio::new(39, 10).expect("small"));
}

// hazard: H-INDEPENDENCE
#[test]
fn somebody_retired_since_their_key_was_opened_signs_nothing() {
    let mut theatre = Theatre::new("retired");
    let code = theatre.agreed(SINGLE);
    let by = &theatre.idowu.1;
    countersign::case::retire(theatre.cases.journal_mut(), at("07:45"), by, TAMM).expect("she is here");
    let read = WeightRead { weight: "82 kg".to_owned(), from: "measured".to_owned() };
    let refused = theatre.cases.read_weight(code.case, &theatre.tamm.1, &read, at("07:50")).expect_err("retired");
    assert!(refused.to_string().contains("is retired here"), "{refused}");
}

/// An arrival is reckoned by the rate of now: it is told only where nothing was changed since, and by no other rate.
#[rstest::rstest]
#[case::as_started("as_started", &[], &[DeliveryChange::Start])]
#[case::another_rate("another_rate", &[("08:02", ReportedAction::RateChanged(rate("6 mL/h")))], &[DeliveryChange::Rate])]
#[case::a_pause_and_on("a_pause_and_on", &[("08:02", ReportedAction::Paused), ("08:03", ReportedAction::Resumed(None))], &[DeliveryChange::Rate])]
#[case::a_bolus("a_bolus", &[("08:02", ReportedAction::BolusGiven(bolus("1 mL")))], &[])]
#[case::paused_still("paused_still", &[("08:02", ReportedAction::Paused)], &[])]
fn an_arrival_is_told_only_where_nothing_was_changed_since(
    #[case] name: &str,
    #[case] then: &[(&str, ReportedAction)],
    #[case] told: &[DeliveryChange],
) {
    let mut theatre = Theatre::new(&format!("arrives-{name}"));
    let code = theatre.agreed(&changed(SINGLE, &[("from this syringe", "with diluent")]));
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    for (clock, happening) in then {
        theatre.did(code, clock, happening.clone()).expect("even so");
    }
    let reaches: Vec<DeliveryChange> = theatre.course(code, "08:04").reaches().iter().map(|one| one.change).collect();
    assert_eq!(reaches, told);
}

/// When it runs empty and what is left over tell what a sealed entry says of its syringe.
// hazard: H-INDEPENDENCE
#[test]
fn what_runs_unagreed_is_not_accounted_for_and_nothing_of_its_syringe_is_owed() {
    let mut theatre = Theatre::new("sealed-close");
    let case = theatre.cases.open(at("07:30"), None).expect("room");
    let code = theatre.enters((case, None), Turn::First { anew: false }, SINGLE, "07:40");
    theatre.did(code, "08:00", ReportedAction::Started(Some(rate("5 mL/h")), Default::default())).expect("even so");
    let row = |theatre: &Theatre, clock| {
        let case = theatre.cases.case(code.case).expect("it is there");
        theatre.cases.rows(&case, None, at(clock)).expect("rows").remove(0)
    };
    for clock in ["17:30", "18:30"] {
        let row = row(&theatre, clock);
        let owed: Vec<&str> = row.owed.iter().map(|owed| owed.code).collect();
        assert!(!owed.contains(&"next-syringe") && !owed.contains(&"discard"), "{owed:?}");
        assert!(!row.stands.contains("EMPTY"), "{}", row.stands);
        assert!(row.runs.is_none_or(|runs| !runs.driver.contains("bench")));
    }
    theatre.did(code, "19:00", ReportedAction::Stopped).expect("it runs");
    // What nobody agreed on may be a controlled drug; and no account of it would be true.
    assert_eq!(refused(theatre.closes_somehow(code, ("0 mL", "0 mL", "0 mL"), None)), "witness-needed");
    assert!(theatre.closes_somehow(code, ("0 mL", "0 mL", "0 mL"), Some(true)).expect("two people saw it").is_none());
}

/// What was started all the same is no near miss, whatever was said of it.
#[test]
fn a_stopped_set_up_that_was_started_all_the_same_is_counted_so() {
    use countersign::case::Ended;
    let mut theatre = Theatre::new("ran-stopped");
    let case = theatre.cases.open(at("07:30"), None).expect("room");
    let much = changed(
        SINGLE,
        &[
            ("dose: 0.08 mcg/kg/min", "dose: 4 mcg/kg/min"),
            ("titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}\n", ""),
        ],
    );
    let code = theatre.enters((case, None), Turn::First { anew: false }, &much, "07:40");
    theatre.enters((case, Some(code.number)), Turn::Second, &much, "07:41");
    let ended = |theatre: &Theatre| {
        let mut all = Vec::new();
        theatre.cases.each_judged(at("20:00"), |judged| all.push(judged.ended)).expect("counted");
        all
    };
    assert_eq!(ended(&theatre), [Ended::Stopped]);
    theatre.did(code, "08:00", ReportedAction::Started(Some(rate("5 mL/h")), Default::default())).expect("even so");
    assert_eq!(ended(&theatre), [Ended::Ran]);
}

fn for_dose(dose: &str) -> ReportedAction {
    let dose = countersign::quantity::DoseRate::parse(dose).expect("a dose");
    ReportedAction::DoseChanged { dose, set_to: None }
}

// Nobody typed the rate: where another syringe ran then, the display may show another.
// hazard: H-DRIVER
#[test]
fn a_rate_that_was_worked_out_for_a_dose_contradicts_a_syringe_of_another_strength() {
    let mut theatre = Theatre::new("dose-then-syringe");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.next(code, &double(), "08:05");
    let (by, now) = ((&theatre.idowu.0, &theatre.idowu.1), at("08:30"));
    theatre
        .cases
        .record(code, by, &for_dose("0.1 mcg/kg/min"), &When::default(), None, Default::default(), now)
        .expect("6 mL/h of 80 mcg/mL");
    assert!(theatre.course(code, "08:40").contradictions.is_empty());
    // The change of the syringe is recorded late: it was before.
    let late = ReportedAction::SyringeChanged { rate: Some(rate("3 mL/h")), reading: None, said: Default::default() };
    theatre.did(code, "08:20", late).expect("it happened");
    let contradictions = theatre.course(code, "08:40").contradictions;
    assert_eq!(contradictions.len(), 1, "{contradictions:?}");
    assert!(contradictions[0].says.contains("another strength"), "{contradictions:?}");
}

// The same strength, spelled otherwise on the next label, is the same strength.
#[test]
fn a_strength_in_another_unit_contradicts_nothing() {
    let mut theatre = Theatre::new("dose-then-same");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let label = "amount: 4 mg, volume: 50 mL, strength: 80 mcg/mL";
    theatre.next(code, &changed(SINGLE, &[(label, "amount: 4 mg, volume: 50 mL, strength: 0.08 mg/mL")]), "08:05");
    let (by, now) = ((&theatre.idowu.0, &theatre.idowu.1), at("08:30"));
    let dose = for_dose("0.1 mcg/kg/min");
    theatre.cases.record(code, by, &dose, &When::default(), None, Default::default(), now).expect("6 mL/h");
    let late = ReportedAction::SyringeChanged { rate: Some(rate("6 mL/h")), reading: None, said: Default::default() };
    theatre.did(code, "08:20", late).expect("it happened");
    assert_eq!(theatre.course(code, "08:40").contradictions, []);
}

// hazard: H-WEIGHT
#[test]
fn a_dose_that_was_set_earlier_or_while_the_weight_is_in_doubt_is_recorded_in_ml_per_hour() {
    let mut theatre = Theatre::new("dose-late");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    let refused = theatre.did(code, "08:10", for_dose("0.1 mcg/kg/min")).expect_err("recorded at 20:00");
    assert!(refused.to_string().contains("what was set earlier"), "{refused}");
    let read = WeightRead { weight: "40 kg".to_owned(), from: "measured".to_owned() };
    theatre.cases.read_weight(code.case, &theatre.idowu.1, &read, at("08:20")).expect("their turn");
    let by = (&theatre.idowu.0, &theatre.idowu.1);
    let set = theatre.cases.record(
        code,
        by,
        &for_dose("0.1 mcg/kg/min"),
        &When::default(),
        None,
        Default::default(),
        at("08:30"),
    );
    assert!(set.expect_err("in doubt").to_string().contains("the weight is being read again"));
}

// hazard: H-WEIGHT
#[test]
fn a_bolus_that_was_given_stays_what_it_was_when_the_patient_is_weighed() {
    let mut theatre = Theatre::new("bolus-weighed");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:10", ReportedAction::BolusGiven(bolus("0.5 mcg/kg"))).expect("it happened");
    let given = |theatre: &Theatre| theatre.course(code, "08:11").boluses[0].1;
    let before = given(&theatre);
    weigh(&mut theatre, code, "40 kg", "20:05");
    assert_eq!(given(&theatre), before);
    assert_eq!(countersign::quantity::exact_or_about(before).to_string(), "0.5", "0.5 mcg/kg of 80 kg in 80 mcg/mL");
}
