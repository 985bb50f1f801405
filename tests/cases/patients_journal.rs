//! A journal for patients: the clock says when, and no demonstration limits come near it.

use std::path::PathBuf;

use countersign::quantity::Moment;

use super::house::House;
use super::{IDOWU, TAMM, Theatre, at, changed, common, first, folder, refused, run};

struct Ward {
    journal: PathBuf,
    house: House,
}

impl Ward {
    fn new(name: &str) -> Self {
        let journal = folder(name).join("journal");
        let made = run(["journal", "create"]).arg(&journal).said();
        assert_eq!(made.code, 0, "{made:?}");
        let house = hospital();
        let ward = Self { journal, house };
        let words = ["people", "add", IDOWU.0, "--role", "anaesthetist"];
        assert_eq!(ward.says(&[IDOWU.1, IDOWU.1], &words).code, 0);
        let words = ["people", "add", TAMM.0, "--role", "nurse", "--as", IDOWU.0];
        assert_eq!(ward.says(&[IDOWU.1, TAMM.1, TAMM.1], &words).code, 0);
        ward
    }

    fn run(&self, typed: &[&str], words: &[&str]) -> common::Run {
        let typed: String = typed.iter().map(|line| format!("{line}\n")).collect();
        run(words).arg("--journal").arg(&self.journal).stdin(typed)
    }

    fn says(&self, typed: &[&str], words: &[&str]) -> super::Said {
        self.run(typed, words).env("COUNTERSIGN_FORMULARY", &self.house.folder().display().to_string()).said()
    }
}

/// A formulary that is not for demonstration: one area, one drug, and every limit with its source.
fn hospital() -> House {
    let mut house = House::new().change("formulary.yaml", "demonstration: true", "demonstration: false");
    let drugs = std::fs::read_dir(house.folder().join("drugs")).expect("it was copied");
    for drug in drugs.map(|drug| drug.expect("it can be listed").file_name()) {
        if drug != "noradrenaline.yaml" {
            house = house.remove(&format!("drugs/{}", drug.display()));
        }
    }
    let areas = "adult theatre:
  age: {from: 16 years}
  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench}
  unstarted_entry_expires: 12 h
";
    let drug = "drug: noradrenaline
other_names: [norepinephrine]
class: vasopressor
mass_shown_as: mcg
life_after_drawing_up: {time: 24 h, source: house}
review: {by: 2099-12-31, justify_from: 2099-12-31}
sources:
  house:
    title: Paper of an invented hospital
    section: Vasopressors
strengths:
  single: {amount: 4 mg, volume: 50 mL, source: house, recipe: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}}
areas:
  adult theatre:
    vasopressor:
      dose_unit: mcg/kg/min
      dosing_weights: [actual]
      strengths: [single]
      phases:
        maintenance:
          usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: house}
          soft: {from: 0.01 mcg/kg/min, to: 0.5 mcg/kg/min, source: house}
          hard: {to: 3 mcg/kg/min, source: house}
";
    house.write("areas.yaml", areas).write("drugs/noradrenaline.yaml", drug).approve()
}

/// A form of a syringe that was just drawn up.
fn form() -> String {
    let now = Moment::now().to_rfc3339();
    changed(
        &first(),
        &[
            ("drawn_up_at: 2026-03-14T07:35:00+00:00", &format!("drawn_up_at: {now}")),
            ("starts_at: 2026-03-14T08:00:00+00:00\n", ""),
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
    let house = hospital();
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
