//! `formulary lint` as a pharmacist and a pipeline use it: what is said where, and how it ends.

use insta::assert_snapshot;
use serde_json::Value;

use crate::lint::small::{Folder, Small};

const FILE: &str = "drugs/noradrenaline.yaml";

/// A warning in one file, a note in another.
fn with_remarks() -> Small {
    Small::new().change(FILE, "{ampoules: 4, of: 1 mg in 1 mL", "{ampoules: 0.1, of: 40 mg in 1 mL").change(
        "drugs/ketamine.yaml",
        "class:",
        "looks_like: [esketamine]\nclass:",
    )
}

fn json(text: &str) -> Value {
    assert_eq!(text.lines().count(), 1, "{text}");
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

#[track_caller]
fn ends(folder: &Folder, words: &[&str], code: i32) {
    let said = folder.lint(words);
    assert_eq!(said.code, Some(code), "{words:?} {said:?}");
}

#[test]
fn a_house_without_a_remark_ends_with_0() {
    let said = Small::new().folder().lint(&["--deny-warnings"]);
    assert_eq!((said.code, &*said.stderr), (Some(0), ""));
    assert_eq!(said.stdout, "3 drugs, no problems; approved by nobody: it is for demonstration\n");
}

#[test]
fn remarks_go_to_stderr_and_the_summary_to_stdout() {
    let said = with_remarks().folder().lint(&[]);
    assert_eq!(said.code, Some(0));
    assert_eq!(said.stdout, "3 drugs, 1 warning, 1 note; approved by nobody: it is for demonstration\n");
    assert_snapshot!(said.stderr, @"
    note[look-alike-unknown]: no drug here is called `esketamine`
     --> HOUSE/drugs/ketamine.yaml:2:14
      |
    2 | looks_like: [esketamine]
      |              ^^^^^^^^^^
      |
      = help: look at the spelling; leave it where the other drug is in the house and not in the formulary

    warning[recipe-too-small-to-draw-up]: the recipe of `single` draws up 0.1 mL, less than 0.2 mL
      --> HOUSE/drugs/noradrenaline.yaml:13:75
       |
    13 |   single: {amount: 4 mg, volume: 50 mL, source: label, recipe: {ampoules: 0.1, of: 40 mg in 1 mL, diluent: glucose 5 %, how: made up to}}
       |                                                                           ^^^
       |
       = help: make up a larger volume, start from a weaker ampoule, or dilute in two steps
    ");
}

#[test]
fn warnings_are_denied_when_asked_and_notes_are_not() {
    let folder = with_remarks().folder();
    ends(&folder, &[], 0);
    ends(&folder, &["--deny-warnings"], 3);
    ends(&folder, &["--deny-warnings", "--format", "json"], 3);
    let note = Small::new().change("drugs/ketamine.yaml", "class:", "looks_like: [esketamine]\nclass:").folder();
    ends(&note, &["--deny-warnings"], 0);
    let reason = "accepted: {recipe-too-small-to-draw-up: a finer syringe is kept for it}\nclass:";
    ends(&with_remarks().change(FILE, "class:", reason).folder(), &["--deny-warnings"], 0);
}

// An error outweighs every remark, and no note hides it.
#[test]
fn an_error_ends_with_2_and_leaves_the_notes_for_later() {
    let folder = with_remarks().change(FILE, "to: 120 mL/h", "to: 12 mL/h").folder();
    let said = folder.lint(&["--deny-warnings"]);
    assert_eq!((said.code, &*said.stdout), (Some(2), ""));
    assert!(said.stderr.contains("error[limits-out-of-order]"), "{said:?}");
    assert!(!said.stderr.contains("note["), "{said:?}");
    let said = folder.lint(&["--format", "json"]);
    assert_eq!((said.code, &*said.stdout), (Some(2), ""));
    let answer = json(&said.stderr);
    assert_eq!((&answer["verdict"], &answer["counts"]["errors"]), (&Value::from("refused"), &Value::from(1)));
    assert_eq!(answer["faults"][0]["file"], format!("HOUSE/{FILE}"));
    assert_eq!(answer["remarks"].as_array().map(Vec::len), Some(1), "the drug that cannot be used has none: {answer}");
}

// A faulty file hides nothing of the others.
#[test]
fn faults_and_remarks_of_several_files_are_said_at_once() {
    let folder = with_remarks()
        .change("drugs/ketamine.yaml", "amount: 500 mg", "amount: .5 g")
        .change("drugs/adrenaline.yaml", "class: vasopressor", "class: [")
        .folder();
    let said = folder.lint(&[]);
    assert_eq!(said.code, Some(2));
    for told in ["error[number-leading-point]", "error[yaml-syntax]", "warning[recipe-too-small-to-draw-up]"] {
        assert!(said.stderr.contains(told), "{told}: {said:?}");
    }
}

#[test]
fn a_file_that_is_no_text_hides_nothing() {
    let folder = with_remarks().change("drugs/ketamine.yaml", "amount: 500 mg", "amount: .5 g").folder();
    std::fs::write(folder.path().join("drugs/adrenaline.yaml"), b"\xff\xfen\0a\0").expect("a folder to write to");
    let said = folder.lint(&[]);
    assert_eq!(said.code, Some(2));
    for told in ["error[file-not-utf8]", "error[number-leading-point]", "warning[recipe-too-small-to-draw-up]"] {
        assert!(said.stderr.contains(told), "{told}: {said:?}");
    }
    let answer = json(&folder.lint(&["--format", "json"]).stderr);
    let remarks = answer["remarks"].to_string();
    assert!(
        !remarks.contains("no drug here is called `adrenaline`"),
        "it is there, though nobody can read it: {remarks}"
    );
    // Nothing is mended then.
    let before = folder.read("drugs/ketamine.yaml");
    let said = folder.lint(&["--fix"]);
    assert!(said.code == Some(2) && said.stderr.contains("file-not-utf8"), "{said:?}");
    assert_eq!(folder.read("drugs/ketamine.yaml"), before);
    // Nor is it taken for a file that is not there.
    std::fs::write(folder.path().join("areas.yaml"), b"\xff\xfen\0a\0").expect("a folder to write to");
    let said = folder.lint(&[]);
    assert_eq!((said.code, said.stderr.matches("file-not-utf8").count()), (Some(2), 2), "{said:?}");
    assert!(!said.stderr.contains("formulary-file-missing"), "{said:?}");
}

#[test]
fn an_approval_that_is_no_text_hides_nothing() {
    let folder = with_remarks().change("formulary.yaml", "demonstration: true", "demonstration: false").folder();
    std::fs::write(folder.path().join("approval.yaml"), b"\xff\xfen\0a\0").expect("a folder to write to");
    let said = folder.lint(&[]);
    assert_eq!(said.code, Some(2));
    let told = ["error[file-not-utf8]", "error[demonstration-value]"];
    assert!(told.iter().all(|told| said.stderr.contains(told)), "{said:?}");
}

#[test]
fn a_faulty_small_file_leaves_the_spelling_of_the_others() {
    let folder = Small::new()
        .change("areas.yaml", "unstarted_entry_expires: 12 h\npaediatric", "unstarted_entry_expires: 12\npaediatric")
        .change(FILE, "hard: {to: 120 mL/h", "hard: {to: 120 ml/h")
        .folder();
    let answer = json(&folder.lint(&["--format", "json"]).stderr);
    assert_eq!(answer["faults"][0]["code"], "unit-missing");
    assert_eq!(answer["remarks"][0]["code"], "unit-spelling");
    assert_eq!(answer["standing"], Value::Null);
}

#[test]
fn a_faulty_approval_hides_nothing() {
    let approval = "author: {name: R. Achterberg, on: 2026-01-16, key: none, signature: none}\nfiles: {}\n";
    let folder = with_remarks()
        .change("formulary.yaml", "demonstration: true", "demonstration: false")
        .write("approval.yaml", approval)
        .folder();
    let said = folder.lint(&[]);
    assert_eq!(said.code, Some(2));
    let told = ["error[approval-unreadable]", "error[demonstration-value]"];
    assert!(told.iter().all(|told| said.stderr.contains(told)), "{said:?}");
}

#[test]
fn the_answer_as_data() {
    let said =
        with_remarks().change(FILE, "hard: {to: 120 mL/h", "hard: {to: 120 ml/h").folder().lint(&["--format", "json"]);
    assert_eq!((said.code, &*said.stderr), (Some(0), ""));
    let answer: Value = json(&said.stdout);
    assert_snapshot!(serde_json::to_string_pretty(&answer).expect("it was JSON"), @r#"
    {
      "version": 1,
      "faults": [],
      "remarks": [
        {
          "code": "look-alike-unknown",
          "field": "looks_like[0]",
          "message": "no drug here is called `esketamine`",
          "help": "look at the spelling; leave it where the other drug is in the house and not in the formulary",
          "line": 2,
          "column": 14,
          "file": "HOUSE/drugs/ketamine.yaml",
          "severity": "note",
          "fix": null,
          "accepted": null
        },
        {
          "code": "recipe-too-small-to-draw-up",
          "field": "strengths.single.recipe.ampoules",
          "message": "the recipe of `single` draws up 0.1 mL, less than 0.2 mL",
          "help": "make up a larger volume, start from a weaker ampoule, or dilute in two steps",
          "line": 13,
          "column": 75,
          "file": "HOUSE/drugs/noradrenaline.yaml",
          "severity": "warning",
          "fix": null,
          "accepted": null
        },
        {
          "code": "unit-spelling",
          "field": "areas.adult theatre.vasopressor.flow.hard.to",
          "message": "`120 ml/h` spells its unit otherwise than the card does",
          "help": "write it as the card does; `--fix` does it",
          "line": 38,
          "column": 20,
          "file": "HOUSE/drugs/noradrenaline.yaml",
          "severity": "note",
          "fix": "120 mL/h",
          "accepted": null
        }
      ],
      "counts": {
        "errors": 0,
        "warnings": 1,
        "notes": 2,
        "accepted": 0
      },
      "drugs": 3,
      "standing": "nobody: it is for demonstration"
    }
    "#);
}

#[test]
fn a_name_that_leads_to_two_drugs_is_shown_in_its_line() {
    let said =
        Small::new().change("drugs/ketamine.yaml", "class:", "other_names: [epinephrine]\nclass:").folder().lint(&[]);
    assert_eq!(said.code, Some(2));
    assert_snapshot!(said.stderr, @"
    error[name-twice]: the name `epinephrine` also leads to drugs/adrenaline.yaml
     --> HOUSE/drugs/ketamine.yaml:2:15
      |
    2 | other_names: [epinephrine]
      |               ^^^^^^^^^^^
      |
      = help: let each name lead to one drug
    ");
}
