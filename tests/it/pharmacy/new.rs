//! A folder to begin with: it lints clean, nothing is overwritten, and a fault that stands at many places is said once.

use std::fs;

use crate::common::{folder, run};

#[test]
fn a_new_folder_lints_clean_and_is_never_written_over() {
    let path = folder("new-house");
    let name = path.join("house").display().to_string();
    let said = run(["formulary", "new", &name]).said();
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains("invented values, for demonstration"), "{}", said.stdout);
    let lint = run(["formulary", "lint", &name, "--deny-warnings", "--at", "2026-03-14T08:00:00+00:00"]).said();
    assert_eq!((lint.code, lint.stderr.as_str()), (0, ""));
    assert_eq!(lint.stdout, "1 drug, no problems; approved by nobody: it is for demonstration\n");
    let again = run(["formulary", "new", &name]).said();
    assert_eq!(again.code, 2);
    assert!(again.stderr.contains("folder-is-there"), "{}", again.stderr);
}

#[test]
fn one_typo_is_one_message_with_the_lines_of_the_others() {
    let path = folder("one-typo").join("house");
    let name = path.display().to_string();
    run(["formulary", "new", &name]).said();
    let drug = path.join("drugs/dobutamine.yaml");
    let change = |from: &str, to: &str| {
        let text = fs::read_to_string(&drug).expect("it was written");
        assert!(text.contains(from), "{from}");
        fs::write(&drug, text.replace(from, to)).expect("it can be written");
        run(["formulary", "lint", &name]).said().stderr
    };
    let said = change("dose_unit: mcg/kg/min", "dose_unit: mcg/kg/h");
    assert_eq!(said.matches("error[").count(), 1, "{said}");
    assert!(said.contains("the same 4 times more: lines "), "{said}");
    let said = change("dose_unit: mcg/kg/h", "dose_unit: mcg/kg/min").is_empty();
    assert!(said, "it is as it was");
    for (from, to, message) in [
        ("to: 15 mcg", "to: 1,5 mcg", "`1,5` has a comma"),
        ("to: 1,5 mcg", "to:15 mcg", "a space is missing after the colon of `to`"),
        ("to:15 mcg", "to: 15 mcg", ""),
        (
            "ampoules: 1,",
            "ampoules: 40,",
            "the strength says 250 mg, and the recipe 40 ampoules of 250 mg, 40 times that",
        ),
    ] {
        let said = change(from, to);
        assert_eq!(said.contains("error["), !message.is_empty(), "{said}");
        assert!(said.contains(message), "{said}");
    }
}

#[test]
fn a_house_without_a_drug_is_no_house() {
    let path = folder("no-drug").join("house");
    let name = path.display().to_string();
    run(["formulary", "new", &name]).said();
    fs::remove_file(path.join("drugs/dobutamine.yaml")).expect("it was written");
    let said = run(["formulary", "lint", &name]).said();
    assert_eq!(said.code, 2);
    assert!(said.stderr.contains("error[drug-none]: the folder `drugs` holds no drug"), "{}", said.stderr);
}
