//! A journal for patients: the clock says when, and no demonstration limits come near it.

use countersign::quantity::Moment;

use super::ward::Ward;
use super::{IDOWU, TAMM, Theatre, at, changed, first, refused};
use crate::common::house::House;

/// A form of a syringe that was just drawn up.
pub(super) fn form() -> String {
    let now = Moment::now().to_rfc3339();
    changed(
        &first(),
        &[
            ("drawn_up_at: 2026-03-14T07:35:00+00:00", &format!("drawn_up_at: {now}")),
            ("starts_at: 2026-03-14T08:00:00+00:00\n", ""),
            ("titrate: {from: 0.02 mcg", "titrate: {from: 0.06 mcg"),
        ],
    )
}

// hazard: H-LIMITS
#[test]
fn a_journal_for_patients_takes_a_hospitals_formulary_only() {
    let ward = Ward::new("for-patients");
    let said = ward.says(&[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
    let code = said.stdout.lines().next().expect("its code").to_owned();
    let file = ward.journal.with_file_name("form.yaml");
    std::fs::write(&file, form()).expect("ours");
    let file = file.display().to_string();
    let enter = ["case", "enter", &code, "--as", IDOWU.0, "--from", &file];
    for demonstration in ["demonstration", "formulary"] {
        let said = ward.run(&[IDOWU.1], &enter).env("COUNTERSIGN_FORMULARY", demonstration).said();
        assert!(refused(&said, "formulary-demonstration").contains("the hospital's own"), "{said:?}");
    }
    let said = ward.run(&[], &["case", "emergency", "--by", "A. Idowu", "--from", &file]);
    refused(&said.env("COUNTERSIGN_FORMULARY", "demonstration").said(), "formulary-demonstration");
    let said = ward.says(&[IDOWU.1], &enter);
    assert!(said.code == 0 && !said.stdout.contains("DEMONSTRATION"), "{said:?}");
    let said = ward.says(&[TAMM.1], &["case", "second", &code, "--as", TAMM.0, "--from", &file]);
    assert_eq!(said.code, 0, "{said:?}");
    let card = ward.says(&[], &["case", "card", &code]);
    assert!(card.code == 0 && !card.stdout.contains("DEMONSTRATION"), "{card:?}");
    // What is altered afterwards gives no card.
    let altered = House::hospital().approve().change("areas.yaml", "from: 16 years", "from: 15 years");
    let altered = Ward { journal: ward.journal.clone(), house: altered };
    refused(&altered.says(&[], &["case", "card", &code]), "new-formulary-stops");
    // Nor do demonstration limits judge what was agreed before.
    for words in [["case", "card", &code], ["case", "status", &code]] {
        let said = ward.run(&[], &words).env("COUNTERSIGN_FORMULARY", "demonstration").said();
        refused(&said, "formulary-demonstration");
    }
    let list = ward.says(&[], &["case", "list"]);
    assert!(list.code == 0 && !list.stdout.contains("DEMONSTRATION"), "{list:?}");
}

// hazard: H-LIMITS
#[test]
fn a_demonstration_journal_takes_a_demonstration_formulary_only() {
    let house = House::hospital().approve();
    let theatre = Theatre::new("for-demonstration").with_formulary(house.folder());
    let code = theatre.case();
    refused(&theatre.enters("07:40", IDOWU, "enter", &code, &first()), "journal-demonstration");
}

// hazard: H-RECORD
#[test]
fn in_a_journal_for_patients_the_clock_says_when() {
    let ward = Ward::new("clock-only");
    for words in [
        vec!["case", "open", "--as", IDOWU.0],
        vec!["case", "list"],
        vec!["people", "add", "C. Vance", "--role", "nurse", "--as", IDOWU.0],
        vec!["case", "emergency", "--by", "A. Idowu"],
    ] {
        let said = ward.run(&[IDOWU.1, "603917", "603917"], &words).arg("--at").arg(at("07:40")).said();
        assert!(refused(&said, "time-is-the-clock").contains("leave --at out"), "{said:?}");
    }
}
