//! One person, no PIN, a card at once: it says everywhere that nobody checked it, and it is owed a second person.

use super::{IDOWU, OKORO, TAMM, Theatre, changed, first, refused, run, second};

const NOT: &str = "NOT DOUBLE-CHECKED";

fn emergency(theatre: &Theatre, words: &[&str], form: &str) -> super::Said {
    let file = theatre.file("emergency.yaml", form);
    theatre.says("07:40", &[], &[&["case", "emergency", "--by", "A. Idowu", "--from", &file], words].concat())
}

fn code_on(card: &str) -> String {
    let line = card.lines().find(|line| line.starts_with("Case  ")).expect("the card names its case");
    line.split_whitespace().last().expect("a code").to_owned()
}

fn owes_a_second_check(theatre: &Theatre, code: &str) -> bool {
    let rows = theatre.data("08:00", &[], &["case", "list", "--owed"]);
    rows["set_ups"].as_array().expect("a list").iter().any(|row| {
        row["set_up"] == code && row["owed"].to_string().contains("second-check") && row["stands"].as_str().is_some()
    })
}

// hazard: H-EMERGENCY
#[test]
fn an_emergency_needs_no_case_no_pin_and_no_second_person() {
    let theatre = Theatre::new("emergency");
    let said = emergency(&theatre, &[], &first());
    assert_eq!(said.code, 0, "{said:?}");
    let mut lines = said.stdout.lines();
    assert_eq!(lines.next(), Some("DEMONSTRATION LIMITS, NOT FOR PATIENTS"));
    assert_eq!(lines.next(), Some("NOT DOUBLE-CHECKED: ONE PERSON'S ENTRY"));
    assert!(said.stdout.contains("EMERGENCY CARD") && said.stdout.contains("5.1 mL/h"), "{said:?}");
    assert!(said.stdout.contains("NONE: nobody checked this"), "{said:?}");
    let code = code_on(&said.stdout);
    assert!(owes_a_second_check(&theatre, &code));
    // Printed again it is the same, and still says so; as data too.
    assert_eq!(theatre.says("07:50", &[], &["case", "card", &code]).stdout, said.stdout);
    let data = theatre.data("07:50", &[], &["case", "card", &code]);
    assert_eq!(data["double_checked"], false);
    assert!(data.to_string().contains(NOT), "{data}");
    let file = theatre.file("emergency.yaml", &first());
    let data = theatre.data("07:50", &[], &["case", "emergency", "--by", "B. Okoro", "--from", &file]);
    assert_eq!(data["double_checked"], false);
    assert!(data.to_string().contains(NOT), "{data}");
    // The same person by name cannot be the second.
    refused(&theatre.enters("07:55", IDOWU, "second", &code, &second()), "same-person");
}

/// Anybody can type a colleague's name and then sign the second entry: these are never two independent ones.
// hazard: H-INDEPENDENCE
#[test]
fn an_emergency_entry_and_one_signed_entry_are_never_two_independent_ones() {
    let theatre = Theatre::new("emergency-afterwards");
    let code = code_on(&emergency(&theatre, &[], &first()).stdout);
    let checked = theatre.enters("07:56", TAMM, "second", &code, &second());
    assert_eq!(checked.code, 0, "{checked:?}");
    assert!(
        words(&checked.stdout).contains("checked afterwards by one signed entry: NOT DOUBLE-CHECKED"),
        "{checked:?}"
    );
    assert!(!owes_a_second_check(&theatre, &code), "it was checked");
    let card = words(&theatre.says("07:57", &[], &["case", "card", &code]).stdout);
    for says in [
        "NOT DOUBLE-CHECKED: EMERGENCY ENTRY, CHECKED AFTERWARDS BY M. Tamm, WHO COULD HAVE SEEN IT",
        "EMERGENCY CARD",
        "Checked afterwards by M. Tamm",
        "the first as typed, signed by nobody; the second signed under their own PIN, and could have seen the first",
    ] {
        assert!(card.contains(says), "{says}: {card}");
    }
    assert!(!card.contains("SET-UP CARD") && !card.to_lowercase().contains("entered independently by"), "{card}");
    let data = theatre.data("07:57", &[], &["case", "card", &code]);
    assert_eq!((&data["double_checked"], &data["checked_afterwards_by"]), (&false.into(), &TAMM.0.into()));
    let history = theatre.says("07:58", &[], &["journal", "show", code.split('/').next().expect("a case")]);
    assert!(words(&history.stdout).contains("it agrees with the emergency entry before it"), "{history:?}");
    // It runs, and every list still says what it is.
    theatre.records("08:00", &code, &countersign::case::ReportedAction::Started(None, Default::default()));
    let list = theatre.says("08:01", &[], &["case", "list"]);
    assert!(list.stdout.contains(NOT), "{list:?}");
    theatre.is_whole();
}

/// Two people who each sign, in a reading of their own, make it double-checked; and read the patient themselves.
// hazard: H-INDEPENDENCE
#[test]
fn two_signed_entries_after_an_emergency_are_double_checked_and_name_the_patient_themselves() {
    let theatre = Theatre::new("emergency-two-signed");
    let set_up = code_on(&emergency(&theatre, &[], &first()).stdout);
    assert_eq!(theatre.enters("07:56", TAMM, "second", &set_up, &second()).code, 0);
    // One signature makes no patient known: the form says who it is.
    let without = super::without_patient(&first());
    assert!(theatre.enters("08:00", IDOWU, "enter", &set_up, &without).is_refused().contains("patient"));
    assert_eq!(theatre.enters("08:00", IDOWU, "enter", &set_up, &first()).code, 0);
    assert_eq!(theatre.enters("08:02", TAMM, "second", &set_up, &second()).code, 0);
    let data = theatre.data("08:03", &[], &["case", "card", &set_up]);
    assert_eq!(data["double_checked"], true, "{data}");
    assert!(data["checked_afterwards_by"].is_null() && !data.to_string().contains(NOT), "{data}");
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A rate beyond a hard limit is shown to somebody who has read the dose twice, beside the words of what it is beyond.
// hazard: H-EMERGENCY
#[test]
fn a_rate_beyond_the_limits_is_shown_only_after_the_dose_was_typed_again() {
    let theatre = Theatre::new("emergency-dose-again");
    let beyond = changed(
        &first(),
        &[
            ("\ndose: 0.08 mcg/kg/min", "\ndose: 4 mcg/kg/min"),
            ("titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}\n", ""),
        ],
    );
    let before = theatre.events();
    for (again, code) in [
        (&[][..], "dose-again"),
        (&["--dose-again", ""], "dose-again"),
        (&["--dose-again", "0.4 mcg/kg/min"], "dose-again-differs"),
        (&["--dose-again", "4 mcg/min"], "dose-again-differs"),
        (&["--dose-again", "4"], "unit-missing"),
    ] {
        let said = emergency(&theatre, again, &beyond);
        refused(&said, code);
        assert!(!said.stdout.contains("mL/h"), "no rate: {said:?}");
        assert_eq!(theatre.events(), before, "nothing is written");
    }
    // By its meaning: 0.24 mg/kg/h is 4 mcg/kg/min.
    for again in ["4 mcg/kg/min", "0.24 mg/kg/h"] {
        let said = emergency(&theatre, &["--dose-again", again], &beyond);
        assert_eq!(said.code, 0, "{said:?}");
        // What it lies beyond stands in the frame with it.
        let framed = framed(&said.stdout);
        assert!(
            framed.starts_with("BEYOND THE LIMITS: 4 mcg/kg/min IS ABOVE") && framed.ends_with(" mL/h"),
            "{framed}"
        );
    }
    let file = theatre.file("emergency.yaml", &beyond);
    let words = ["case", "emergency", "--by", "B. Okoro", "--from", &file, "--dose-again", "4 mcg/kg/min"];
    let data = theatre.data("07:41", &[], &words);
    assert!(data["card"]["rate"]["beyond"].to_string().contains("BEYOND THE LIMITS: 4 mcg/kg/min"), "{data}");
    assert!(data["code"].is_string(), "the code that signs it: {data}");
    // What is impossible cannot pass by it.
    let impossible = changed(&beyond, &[("strength: 80 mcg/mL", "strength: 8 mcg/mL")]);
    refused(&emergency(&theatre, &["--dose-again", "4 mcg/kg/min"], &impossible), "impossible");
    // Within the limits nothing more is asked.
    assert_eq!(emergency(&theatre, &[], &first()).code, 0);
}

#[test]
fn an_emergency_in_a_case_uses_its_patient() {
    let theatre = Theatre::new("emergency-in-case");
    let code = theatre.agreed();
    let said = emergency(&theatre, &[&code], &super::without_patient(&first()));
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(code_on(&said.stdout), format!("{code}/2"));
    assert!(said.stdout.contains("1959-08-02 | QM-30417"), "{said:?}");
}

/// Stops first, in capitals; a unit in capitals would be another unit.
// hazard: H-EMERGENCY
#[test]
fn what_lies_beyond_the_limits_stands_first_in_capitals_with_its_units_as_they_are() {
    let theatre = Theatre::new("emergency-beyond");
    let form = changed(
        &first(),
        &[
            ("\ndose: 0.08 mcg/kg/min", "\ndose: 4 mcg/kg/min"),
            ("to: 0.3 mcg/kg/min", "to: 5 mcg/kg/min"),
            ("access: central", "access: peripheral"),
            ("syringe 50 mL", "syringe 20 mL"),
        ],
    );
    let said = emergency(&theatre, &["--dose-again", "4 mcg/kg/min"], &form);
    assert_eq!(said.code, 0, "{said:?}");
    let head = framed(&said.stdout);
    assert!(head.contains("BEYOND THE LIMITS: 4 mcg/kg/min IS ABOVE THE HARD LIMIT"), "{head}");
    // Before anything but the warnings of the whole card and the drug.
    let frame = said.stdout.lines().position(|line| line.starts_with("  |")).expect("a frame");
    assert!(frame < 8, "{said:?}");
    assert!(head.contains("mcg/kg/min") && head.contains("mcg/mL") && head.contains("20 mL"), "{head}");
    for changed in ["MCG", "ML", "MG", "Mcg", "MIN", "KG"] {
        assert!(!head.split(|c: char| !c.is_alphanumeric()).any(|word| word == changed), "{changed}: {head}");
    }
    // Everything else is in capitals.
    let units = ["mcg", "kg", "min", "mL", "h"];
    for word in head.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty() && !units.contains(word)) {
        assert_eq!(word, word.to_uppercase(), "{head}");
    }
    let form_in_mg = changed(
        &first(),
        &[
            ("\ndose: 0.08 mcg/kg/min", "\ndose: 0.3 mg/kg/h"),
            ("titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}\n", ""),
        ],
    );
    let in_mg = emergency(&theatre, &["--dose-again", "0.3 mg/kg/h"], &form_in_mg).stdout;
    // The letters of the case and of the code are drawn by lot.
    let in_mg = in_mg.split("\nEntered by").next().unwrap_or_default();
    assert!(in_mg.contains("BEYOND THE LIMITS") && in_mg.contains("mg/kg/h") && !in_mg.contains("MG"), "{in_mg}");
    // Limits in mcg/kg/min do not stand beside a dose in mg/kg/h as if they were of its unit.
    assert!(!in_mg.contains("usual 0.02"), "{in_mg}");
    // A second person who reads the same finds that it stops: never a checked card.
    let code = code_on(&said.stdout);
    let said = theatre.enters("07:50", TAMM, "second", &code, &form);
    assert_eq!(said.code, 4, "{said:?}");
    assert!(owes_a_second_check(&theatre, &code));
    refused(&theatre.says("07:51", &[], &["case", "card", &code]), "not-agreed");
}

/// What stands in the frame of the rate, in one line.
fn framed(card: &str) -> String {
    let inside = card.lines().filter_map(|line| line.trim_start().strip_prefix('|'));
    let words = inside.flat_map(|line| line.trim_end_matches('|').split_whitespace());
    words.collect::<Vec<_>>().join(" ")
}

/// What cannot be computed truthfully has no card, and leaves no case and no entry behind.
// hazard: H-EMERGENCY
#[test]
fn what_is_impossible_is_refused_and_nothing_is_written() {
    let theatre = Theatre::new("emergency-impossible");
    let (before, keys) = (theatre.events(), key_files(&theatre));
    for (from, to, tells) in [
        ("strength: 80 mcg/mL", "strength: 8 mcg/mL", "label"),
        ("drug: noradrenaline", "drug: noradrenalin", "formulary"),
        ("ampoules: 4", "ampoules: 2", "2 x 1 mg is 2 mg"),
    ] {
        let said = emergency(&theatre, &[], &changed(&first(), &[(from, to)]));
        assert!(refused(&said, "impossible").contains(tells), "{said:?}");
        assert_eq!((theatre.events(), key_files(&theatre)), (before, keys), "{to}");
    }
    // Nor does a form with faults, or a name that is none.
    let said = emergency(&theatre, &[], &changed(&first(), &[("fill: 50 mL", "fill: 50 cc")]));
    said.is_refused();
    let file = theatre.file("emergency.yaml", &first());
    for name in ["", " . ", "A. Idowu\nNOT"] {
        let said = theatre.says("07:40", &[], &["case", "emergency", "--by", name, "--from", &file]);
        refused(&said, "name-empty");
    }
    // Left in the middle of the questions.
    theatre.says("07:40", &["adult theatre", "noradrenaline"], &["case", "emergency", "--by", "A. Idowu"]).is_refused();
    assert_eq!((theatre.events(), key_files(&theatre)), (before, keys));
}

fn key_files(theatre: &Theatre) -> usize {
    fn count(folder: &std::path::Path) -> usize {
        let items = std::fs::read_dir(folder).expect("it was made").map(|item| item.expect("it can be listed").path());
        items
            .map(
                |path| {
                    if path.is_dir() { count(&path) } else { usize::from(path.extension().is_some_and(|e| e == "key")) }
                },
            )
            .sum()
    }
    count(&theatre.journal)
}

// hazard: H-EMERGENCY
#[test]
fn a_second_entry_that_differs_is_mended_by_two_signed_people() {
    let theatre = Theatre::new("emergency-differs");
    let code = code_on(&emergency(&theatre, &[], &first()).stdout);
    let said = theatre.enters("07:50", TAMM, "second", &code, &changed(&second(), &[("\ndose: 0.08", "\ndose: 0.06")]));
    assert_eq!(said.code, 5, "{said:?}");
    assert!(owes_a_second_check(&theatre, &code));
    refused(&theatre.says("07:51", &[], &["case", "card", &code]), "not-agreed");
    // Not the second person in both turns.
    refused(&theatre.enters("07:52", TAMM, "enter", &code, &first()), "entry-under-way");
    // The second person reads the dose again; whoever stands for the first reads everything.
    let said = theatre.says("07:53", &[TAMM.1, "0.08 mcg/kg/min", "seal"], &["case", "second", &code, "--as", TAMM.0]);
    assert_eq!(said.code, 0, "{said:?}");
    let said = theatre.enters("07:54", OKORO, "enter", &code, &first());
    assert_eq!(said.code, 0, "{said:?}");
    assert!(!owes_a_second_check(&theatre, &code));
    let card = theatre.says("07:55", &[], &["case", "card", &code]).stdout;
    assert!(card.contains("B. Okoro") && card.contains("each signed under their own PIN"), "{card}");
}

/// Somebody else is quicker with another set-up of the case: the emergency entry is taken all the same.
// hazard: H-EMERGENCY
#[test]
fn an_emergency_entry_is_never_told_that_somebody_was_first() {
    use countersign::case::{Author, CaseCode, SubmittedForm, Turn};
    use countersign::formulary::Formulary;
    let theatre = Theatre::new("emergency-second-to-none");
    let code = theatre.case();
    let case = CaseCode::parse(&code).expect("a code");
    let formulary = Formulary::demonstration().expect("it has no fault");
    let author = Author::Typed { name: "A. Idowu", role: "anaesthetist" };
    let mut cases = theatre.cases();
    let task = cases.task((case, None), Turn::Emergency, &author, super::moment("07:40")).expect("always");
    assert_eq!(theatre.enters("07:40", TAMM, "enter", &code, &first()).code, 0);
    let form = SubmittedForm { name: "the form".to_owned(), text: first(), json: false, dose_again: None };
    let sealed = cases.seal(&task, &form, &author, &formulary, super::moment("07:41")).expect("it is taken");
    assert_eq!(sealed.to_string(), format!("{code}/2"));
}

#[test]
fn an_emergency_says_in_its_help_that_nobody_checks() {
    let help = run(["case", "emergency", "--help"]).said();
    assert!(help.stdout.contains("not double-checked") && help.stdout.contains("no PIN is asked"), "{help:?}");
}

#[test]
fn whoever_is_known_is_printed_in_their_own_role() {
    let theatre = Theatre::new("emergency-role");
    let file = theatre.file("emergency.yaml", &first());
    for (by, printed) in [("M. Tamm", "M. Tamm, nurse"), ("Z. Locum", "Z. Locum, role not said")] {
        let said = theatre.says("07:40", &[], &["case", "emergency", "--by", by, "--from", &file]);
        assert!(said.stdout.contains(printed), "{said:?}");
    }
}

/// The set-up of which nobody read the syringe, the line or the driver.
fn with_assumed_volumes() -> String {
    format!("{}assumed: [container, fill, line, line_filled, driver]\n", first())
}

// hazard: H-EMERGENCY
#[test]
fn nothing_is_said_of_when_a_syringe_is_empty_whose_volume_nobody_read() {
    let theatre = Theatre::new("emergency-no-end");
    let code = code_on(&emergency(&theatre, &[], &with_assumed_volumes()).stdout);
    theatre.records("08:00", &code, &countersign::case::ReportedAction::Started(None, Default::default()));
    let shown = words(&theatre.says("09:00", &[], &["record", "show", &code]).stdout);
    assert!(shown.contains("not known: nobody read the volume in the syringe"), "{shown}");
    assert!(shown.contains("Left to infuse: not drawn"), "{shown}");
    assert!(!shown.contains("Empty at") && !shown.contains("Next syringe by"), "{shown}");
    let data = theatre.data("09:00", &[], &["record", "show", &code]).to_string();
    assert!(data.contains(r#""empty_at":null"#) && data.contains(r#""next_ready_by":null"#), "{data}");
}

// hazard: H-EMERGENCY
#[test]
fn an_emergency_card_stays_while_only_what_nobody_read_is_open() {
    let theatre = Theatre::new("emergency-unread");
    let code = code_on(&emergency(&theatre, &[], &with_assumed_volumes()).stdout);
    let case = code.split('/').next().expect("a case");
    let checked = theatre.enters("07:50", TAMM, "second", &code, &second());
    assert_eq!(checked.code, 5, "never agreed on silently: {checked:?}");
    let card = theatre.says("07:51", &[], &["case", "card", &code]);
    assert!(card.code == 0 && card.stdout.contains(NOT) && card.stdout.contains("5.1 mL/h"), "{card:?}");
    let status = words(&theatre.says("07:51", &[], &["case", "status", case]).stdout);
    assert!(status.contains("not read in the emergency") && !status.contains("the entries differ"), "{status}");
    theatre.records("08:00", &code, &countersign::case::ReportedAction::Started(None, Default::default()));
    let card = words(&theatre.says("08:01", &[], &["case", "card", &code]).stdout);
    assert!(card.contains("NOT READ IN THE EMERGENCY:") && !card.contains("THE ENTRIES DIFFER"), "{card}");
    // Where something that was read differs too, nothing but a difference is said, and there is no card.
    let code = code_on(&emergency(&theatre, &[], &with_assumed_volumes()).stdout);
    let other = changed(&second(), &[("\ndose: 0.08", "\ndose: 0.06")]);
    let differs = words(&theatre.enters("08:05", TAMM, "second", &code, &other).stdout);
    assert!(differs.contains("the entries differ"), "{differs}");
    refused(&theatre.says("08:06", &[], &["case", "card", &code]), "not-agreed");
}

// hazard: H-EMERGENCY
#[test]
fn an_emergency_is_not_held_up_by_the_age_of_a_solution() {
    let theatre = Theatre::new("emergency-age");
    let made = "made_from: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}\n";
    let bought = |age: &str| {
        let drawn_up = "drawn_up_at: 2026-03-14T07:35:00+00:00\n";
        changed(&first(), &[(made, "made_from: not seen\n"), (drawn_up, age)])
    };
    let old = emergency(&theatre, &[], &bought("use_before: 2026-03-14T07:30:00+00:00\n"));
    assert_eq!(old.code, 0, "{old:?}");
    let text = words(&old.stdout);
    assert!(text.contains("THE SOLUTION WAS TO BE DISCARDED AT") && text.contains("5.1 mL/h"), "{text}");
    let again = theatre.says("07:55", &[], &["case", "card", &code_on(&old.stdout)]);
    assert!(again.code == 0 && again.stdout.contains(NOT), "{again:?}");
    // Half a day later it is still one person's card, and says what is true of it.
    let late = theatre.says("22:00", &[], &["case", "card", &code_on(&old.stdout)]);
    let text = words(&late.stdout);
    assert!(late.code == 0 && text.contains("THE SOLUTION WAS TO BE DISCARDED AT"), "{late:?}");
    assert!(text.contains("THIS ENTRY EXPIRED AT") && text.contains(NOT) && text.contains("5.1 mL/h"), "{late:?}");
    let unknown = emergency(&theatre, &[], &bought("assumed: [drawn_up_at]\n"));
    assert!(unknown.code == 0 && unknown.stdout.contains("5.1 mL/h"), "{unknown:?}");
}
