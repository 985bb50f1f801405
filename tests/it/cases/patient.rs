//! Several set-ups of one patient: agreed on once, then left out; another patient or another weight is not let in.

use super::{IDOWU, OKORO, TAMM, Theatre, Who, by_rate, changed, first, refused, second, without_patient};

/// A second set-up of the patient of [`first`], that is not counted by weight.
fn insulin() -> String {
    changed(
        &without_patient(&by_rate()),
        &[("drawn_up_at: 2026-03-14T07:10:00+00:00", "drawn_up_at: 2026-03-14T07:20:00+00:00")],
    )
}

fn owed(theatre: &Theatre, clock: &str, code: &str) -> Vec<String> {
    let rows = theatre.data(clock, &[], &["case", "status", code]);
    let rows = rows["set_ups"].as_array().expect("a list");
    rows.iter().flat_map(|row| row["owed"].as_array().expect("a list")).map(|owed| owed["code"].to_string()).collect()
}

fn weighs(theatre: &Theatre, clock: &str, who: Who, code: &str, weight: &str) -> super::Said {
    theatre.says(clock, &[who.1, weight, "measured"], &["case", "weight", code, "--as", who.0])
}

// hazard: H-PATIENT
#[test]
fn the_patient_is_agreed_on_once_and_left_out_afterwards() {
    let theatre = Theatre::new("left-out");
    let code = theatre.case();
    // Before that nobody may leave the patient out.
    let said = theatre.enters("07:39", IDOWU, "enter", &code, &without_patient(&first()));
    assert!(said.is_refused().contains("patient"), "{said:?}");
    theatre.agree(&code, &first(), &second());
    let said = theatre.enters("08:10", TAMM, "enter", &code, &insulin());
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains(&format!("Sealed for {code}/2.")), "{said:?}");
    let said = theatre.enters("08:12", OKORO, "second", &code, &insulin());
    assert_eq!(said.code, 0, "{said:?}");
    let card = theatre.says("08:13", &[], &["case", "card", &format!("{code}/2")]).stdout;
    assert!(card.contains("1959-08-02 | QM-30417") && card.contains("84.2 kg (measured)"), "{card}");
    // Which of two is meant has to be said.
    let said = theatre.says("08:14", &[], &["case", "card", &code]);
    assert!(refused(&said, "which-set-up").contains(&format!("{code}/1")), "{said:?}");
}

// hazard: H-PATIENT
#[test]
fn another_patient_and_another_weight_are_refused() {
    let theatre = Theatre::new("another-patient");
    let code = theatre.agreed();
    let before = theatre.events();
    let other = changed(&first(), &[("QM-30417", "QM-30471")]);
    let said = theatre.enters("08:10", TAMM, "enter", &code, &other);
    assert!(refused(&said, "patient-not-of-case").contains("wristband"), "{said:?}");
    assert!(!said.stderr.contains("30471") && !said.stderr.contains("30417"), "{said:?}");
    let heavier = changed(&first(), &[("weight: 84.2 kg", "weight: 86.2 kg")]);
    let said = theatre.enters("08:10", TAMM, "enter", &code, &heavier);
    assert!(refused(&said, "weight-not-of-case").contains("case weight"), "{said:?}");
    assert!(!said.stderr.contains("84.2") && !said.stderr.contains("86.2"), "{said:?}");
    assert_eq!(theatre.events(), before);
    // The same patient, written otherwise, is the same patient.
    let same = changed(&first(), &[("weight: 84.2 kg", "weight: 84200 g"), ("QM-30417", "qm 30417")]);
    assert_eq!(theatre.enters("08:11", TAMM, "enter", &code, &same).code, 0);
}

// hazard: H-WEIGHT
#[test]
fn a_weight_in_doubt_holds_back_what_counts_by_it_and_nothing_else() {
    let theatre = Theatre::new("weight-changed");
    let code = theatre.agreed();
    assert_eq!(theatre.enters("08:00", TAMM, "enter", &code, &insulin()).code, 0);
    assert_eq!(theatre.enters("08:01", OKORO, "second", &code, &insulin()).code, 0);
    let (by_weight, by_rate) = (format!("{code}/1"), format!("{code}/2"));
    let card = |clock: &str, code: &str| theatre.says(clock, &[], &["case", "card", code]);
    assert_eq!((card("08:02", &by_weight).code, card("08:02", &by_rate).code), (0, 0));
    let said = weighs(&theatre, "08:10", IDOWU, &code, "86.4 kg");
    assert!(
        said.code == 0 && said.stdout.contains("A second person reads the weight next, without seeing this"),
        "{said:?}"
    );
    // In doubt: neither the old one nor the new one.
    refused(&card("08:11", &by_weight), "weight-in-doubt");
    assert_eq!(card("08:11", &by_rate).code, 0);
    assert!(owed(&theatre, "08:11", &code).contains(&"\"weight\"".to_owned()));
    refused(&weighs(&theatre, "08:12", IDOWU, &code, "86.4 kg"), "same-person");
    // They differ: both again.
    let said = weighs(&theatre, "08:13", TAMM, &code, "84.6 kg");
    assert_eq!(said.code, 5, "{said:?}");
    assert!(!said.stdout.contains("86.4") && !said.stdout.contains("84.6"), "{said:?}");
    refused(&card("08:13", &by_weight), "weight-in-doubt");
    assert_eq!(weighs(&theatre, "08:14", TAMM, &code, "86.4 kg").code, 0);
    let said = weighs(&theatre, "08:15", IDOWU, &code, "86400 g");
    assert!(said.code == 0 && said.stdout.contains("Two people read the same weight"), "{said:?}");
    let counted_again = card("08:16", &by_weight).stdout;
    assert!(counted_again.contains("86.4 kg (measured)"), "{counted_again}");
    assert_eq!(card("08:16", &by_rate).code, 0);
    // Entered again, it counts by the new weight, which nobody types.
    let form = without_patient(&first());
    assert_eq!(theatre.enters_with("08:20", TAMM, &["case", "enter", &by_weight, "--anew"], &form).code, 0);
    assert_eq!(theatre.enters("08:21", OKORO, "second", &by_weight, &form).code, 0);
    let again = card("08:22", &by_weight).stdout;
    assert!(again.contains("86.4 kg (measured)"), "{again}");
    theatre.is_whole();
}

// hazard: H-WEIGHT
#[test]
fn two_equal_readings_of_the_same_weight_void_nothing() {
    let theatre = Theatre::new("weight-unchanged");
    let code = theatre.agreed();
    assert_eq!(weighs(&theatre, "08:10", IDOWU, &code, "84.2 kg").code, 0);
    refused(&theatre.says("08:11", &[], &["case", "card", &code]), "weight-in-doubt");
    assert_eq!(weighs(&theatre, "08:12", TAMM, &code, "84200 g").code, 0);
    let card = theatre.says("08:13", &[], &["case", "card", &code]);
    assert_eq!(card.code, 0, "{card:?}");
}

/// What is agreed while the weight is in doubt rests on a weight that is in doubt.
// hazard: H-WEIGHT
#[test]
fn a_set_up_agreed_while_the_weight_is_in_doubt_is_in_doubt() {
    let theatre = Theatre::new("doubt-before");
    let code = theatre.agreed();
    assert_eq!(weighs(&theatre, "08:00", IDOWU, &code, "86.4 kg").code, 0);
    let (next, form) = (format!("{code}/2"), without_patient(&first()));
    assert_eq!(theatre.enters("08:01", TAMM, "enter", &code, &form).code, 0);
    assert_eq!(theatre.enters("08:02", OKORO, "second", &next, &form).code, 0);
    refused(&theatre.says("08:03", &[], &["case", "card", &next]), "weight-in-doubt");
    assert_eq!(weighs(&theatre, "08:04", TAMM, &code, "86.4 kg").code, 0);
    let card = theatre.says("08:05", &[], &["case", "card", &next]).stdout;
    assert!(card.contains("86.4 kg (measured)"), "{card}");
}

/// A weight that changes between two entries is a difference that both mend by entering again; nobody types it.
// hazard: H-WEIGHT
#[test]
fn a_weight_that_changes_between_two_entries_is_a_difference() {
    let theatre = Theatre::new("weight-between");
    let code = theatre.agreed();
    let (next, form) = (format!("{code}/2"), without_patient(&first()));
    assert_eq!(theatre.enters("08:01", IDOWU, "enter", &code, &form).code, 0);
    assert_eq!(weighs(&theatre, "08:02", IDOWU, &code, "86.4 kg").code, 0);
    assert_eq!(weighs(&theatre, "08:03", TAMM, &code, "86.4 kg").code, 0);
    let said = theatre.enters("08:04", TAMM, "second", &next, &form);
    assert_eq!(said.code, 5, "{said:?}");
    assert!(said.stdout.contains("both people read again, alone: weight."), "{said:?}");
    let said = theatre.says("08:05", &[IDOWU.1, "seal"], &["case", "enter", &next, "--as", IDOWU.0]);
    assert_eq!(said.code, 0, "{said:?}");
    let said = theatre.says("08:06", &[TAMM.1, "seal"], &["case", "second", &next, "--as", TAMM.0]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(theatre.says("08:07", &[], &["case", "card", &next]).stdout.contains("86.4 kg (measured)"));
}

#[test]
fn a_weight_is_read_like_any_other_and_only_after_something_is_agreed() {
    let theatre = Theatre::new("weight-refused");
    let code = theatre.case();
    refused(&weighs(&theatre, "07:35", IDOWU, &code, "84.2 kg"), "nothing-agreed");
    theatre.agree(&code, &first(), &second());
    let before = theatre.events();
    refused(&weighs(&theatre, "08:00", IDOWU, &code, "190 lb"), "weight-in-pounds");
    refused(&weighs(&theatre, "08:00", IDOWU, &code, ".9 kg"), "number-leading-point");
    let said = theatre.says("08:00", &[IDOWU.1, "84 kg", "guessed"], &["case", "weight", &code, "--as", IDOWU.0]);
    refused(&said, "word-unknown");
    assert_eq!(theatre.events(), before);
}

// hazard: H-PATIENT
#[test]
fn identifiers_that_follow_are_read_by_two_people() {
    let theatre = Theatre::new("identifiers");
    let code = theatre.case();
    let pending = changed(&first(), &[("identifiers: [\"1959-08-02\", \"QM-30417\"]", "identifiers: pending")]);
    theatre.agree(&code, &pending, &pending);
    assert!(owed(&theatre, "07:50", &code).contains(&"\"identifiers\"".to_owned()));
    let card = theatre.says("07:50", &[], &["case", "card", &code]).stdout;
    assert!(card.contains("PENDING: needed before the start"), "{card}");
    let reads = |clock: &str, who: Who, two: [&str; 2]| {
        theatre.says(clock, &[who.1, two[0], two[1]], &["case", "identifiers", &code, "--as", who.0])
    };
    refused(&reads("07:51", IDOWU, ["QM-30417", "qm 30417"]), "identifiers-too-few");
    assert_eq!(reads("07:52", IDOWU, ["1959-08-02", "QM-30417"]).code, 0);
    refused(&reads("07:53", IDOWU, ["1959-08-02", "QM-30417"]), "same-person");
    let said = reads("07:54", TAMM, ["QM-30471", "1959-08-02"]);
    assert_eq!(said.code, 5, "{said:?}");
    assert!(!said.stdout.contains("304"), "{said:?}");
    assert_eq!(reads("07:55", IDOWU, ["1959-08-02", "QM-30417"]).code, 0);
    assert_eq!(reads("07:56", TAMM, ["qm30417", "1959-08-02"]).code, 0);
    refused(&reads("07:57", TAMM, ["1959-08-02", "QM-30417"]), "identifiers-known");
    assert!(!owed(&theatre, "07:58", &code).contains(&"\"identifiers\"".to_owned()));
    // The card that was made before them is drawn again with them, at the same rate.
    let card = theatre.says("07:59", &[], &["case", "card", &code]).stdout;
    assert!(card.contains("1959-08-02 | QM-30417") && card.contains("identifiers read"), "{card}");
    assert!(!card.contains("PENDING") && !card.contains("COUNTED AGAIN"), "{card}");
    // They stand for every later set-up; another patient's are refused.
    let other = changed(&first(), &[("QM-30417", "QM-30471")]);
    refused(&theatre.enters("08:00", TAMM, "enter", &code, &other), "patient-not-of-case");
    assert_eq!(theatre.enters("08:00", TAMM, "enter", &code, &insulin()).code, 0);
    assert_eq!(theatre.enters("08:01", OKORO, "second", &format!("{code}/2"), &insulin()).code, 0);
    let card = theatre.says("08:02", &[], &["case", "card", &format!("{code}/2")]).stdout;
    assert!(card.contains("1959-08-02 | QM-30417"), "{card}");
}

#[test]
fn where_several_wait_the_second_person_says_which() {
    let theatre = Theatre::new("several-wait");
    let code = theatre.agreed();
    assert_eq!(theatre.enters("08:00", IDOWU, "enter", &code, &insulin()).code, 0);
    assert_eq!(theatre.enters("08:01", IDOWU, "enter", &code, &without_patient(&first())).code, 0);
    let said = theatre.enters("08:02", TAMM, "second", &code, &insulin());
    assert!(refused(&said, "which-set-up").contains(&format!("{code}/2, {code}/3")), "{said:?}");
    let said = theatre.enters("08:02", TAMM, "second", &format!("{code}/2"), &insulin());
    assert_eq!(said.code, 0, "{said:?}");
}
