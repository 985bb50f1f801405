//! The examples that travel inside the program: at any moment they are answered as `agree` answers their files.

use std::collections::BTreeSet;
use std::path::Path;

use crate::common::{Said, run};
use regex::Regex;
use rstest::rstest;
use serde_json::Value;

/// Four minutes after the later entry of each scenario's pairs: there nothing is moved.
const THEN: &[(&str, &str)] = &[
    ("adult-vasopressor", "07:50"),
    ("adult-vasopressor/disagree", "07:50"),
    ("adult-vasopressor/reasons-missing", "07:51"),
    ("adult-vasopressor/reasons", "07:51"),
    ("adult-vasopressor/stopped", "07:50"),
    ("child-sedation", "07:42"),
    ("child-sedation/disagree", "07:42"),
    ("child-sedation/reasons-missing", "07:44"),
    ("child-sedation/reasons", "07:44"),
    ("child-sedation/stopped", "07:42"),
    ("insulin", "07:26"),
    ("insulin/disagree", "07:26"),
    ("insulin/reasons-missing", "07:26"),
    ("insulin/reasons", "07:26"),
    ("insulin/stopped", "07:26"),
];

fn then(clock: &str) -> String {
    format!("2026-03-14T{clock}:00+00:00")
}

fn example(name: &str, at: &str, format: &str) -> Said {
    run(["example", name, "--at", at, "--format", format]).said()
}

/// The answer of `agree` to the files themselves.
fn agree(name: &str, clock: &str, format: &str) -> Said {
    let files = ["first", "second"].map(|which| match name.split_once('/') {
        Some((folder, pair)) => format!("examples/{folder}/{pair}-{which}.yaml"),
        None => format!("examples/{name}/{which}.yaml"),
    });
    let [first, second] = &files;
    run(["agree", first, second, "--formulary", "demonstration", "--at", &then(clock), "--format", format]).said()
}

#[test]
fn at_the_moment_of_the_files_the_answer_is_that_of_agree() {
    for (name, clock) in THEN {
        let (shown, known) = (example(name, &then(clock), "text"), agree(name, clock, "text"));
        assert_eq!((shown.code, shown.stderr.as_str()), (known.code, ""), "{name}");
        let (before, answer) = shown.stdout.split_once("\n\n").expect("an introduction");
        assert_eq!(answer, known.stdout, "{name}");
        assert!(before.starts_with(&format!("Example {name}: ")), "{before}");
        let moved = before.lines().last().expect("a line");
        assert!(moved.starts_with("DEMONSTRATION: invented people; times moved to now"), "{before}");
        let data = example(name, &then(clock), "json");
        assert_eq!((data.code, data.json()), (known.code, agree(name, clock, "json").json()), "{name}");
        assert!(data.stderr.contains("times moved to now"), "{data:?}");
    }
}

/// The verdict, and every finding by its code.
fn findings(said: &Said) -> (Value, Vec<Value>) {
    let data = said.json();
    let codes = data["findings"].as_array().into_iter().flatten().map(|finding| finding["code"].clone()).collect();
    (data["verdict"].clone(), codes)
}

#[rstest]
fn as_years_pass_the_answers_stay(
    #[values(
        "2026-11-30T23:59:00+01:00",
        "2028-02-29T12:00:00+00:00",
        "2031-07-01T00:02:00+00:00",
        // One entry on each side of midnight.
        "2033-05-01T00:05:00+00:00",
        "2040-02-29T09:00:00-05:00",
        "2040-12-31T23:59:00+00:00"
    )]
    at: &str,
) {
    let time = Regex::new(r"\d{4}[- ]\d\d[- ]\d\d( \d\d:\d\d [+-]\d\d:\d\d)?|\b\d\d:\d\d\b").expect("a pattern");
    for (name, clock) in THEN {
        let (shown, known) = (example(name, at, "json"), agree(name, clock, "json"));
        assert_eq!(shown.code, known.code, "{name}: {shown:?}");
        assert_eq!(findings(&shown), findings(&known), "{name}");
        let text = example(name, at, "text").stdout;
        assert!(!text.contains("OLD ENTRIES"), "{text}");
        if *name == "adult-vasopressor" {
            let answer = text.split_once("\n\n").expect("an introduction").1;
            let known = agree(name, clock, "text").stdout;
            let without = |text: &str| time.replace_all(text, "TIME").split_whitespace().collect::<Vec<_>>().join(" ");
            assert_eq!(without(answer), without(&known), "only times differ");
        }
    }
}

#[test]
fn without_a_name_and_a_moment_a_card_appears_from_which_one_would_start() {
    let said = run(["example"]).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    assert!(said.stdout.contains("noradrenaline") && said.stdout.contains("5.1 mL/h"), "{}", said.stdout);
    assert!(said.stdout.contains("DEMONSTRATION LIMITS, NOT FOR PATIENTS") && !said.stdout.contains("OLD ENTRIES"));
}

#[test]
fn the_list_names_every_pair_of_the_folder() {
    let said = run(["example", "--list"]).said();
    assert_eq!(said.code, 0, "{said:?}");
    let named: BTreeSet<String> =
        said.stdout.lines().filter_map(|line| line.split_whitespace().next()).map(str::to_owned).collect();
    assert_eq!(named.len(), said.stdout.lines().count());
    let mut found = BTreeSet::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for folder in std::fs::read_dir(root).expect("it is there").map(|entry| entry.expect("a name").path()) {
        let Ok(files) = std::fs::read_dir(&folder) else { continue };
        let folder = folder.file_name().and_then(|name| name.to_str()).expect("a name").to_owned();
        for file in files.map(|entry| entry.expect("a name").file_name().into_string().expect("a name")) {
            let pair = file.strip_suffix("first.yaml").or_else(|| file.strip_suffix("second.yaml"));
            let pair = pair.unwrap_or_else(|| panic!("{file} belongs to no pair")).trim_end_matches('-');
            found.insert(if pair.is_empty() { folder.clone() } else { format!("{folder}/{pair}") });
        }
    }
    assert_eq!(named, found);
    assert_eq!(named, THEN.iter().map(|(name, _)| (*name).to_owned()).collect());
}

#[test]
fn nothing_else_can_be_moved() {
    for name in ["examples/insulin/first.yaml", "../insulin", "insulin/first", "", "Insulin"] {
        let said = run(["example", name]).said();
        assert!(said.is_refused().contains("example --list"), "{said:?}");
    }
    run(["example", "insulin", "examples/insulin/second.yaml"]).said().is_refused();
    let said = run(["example", "--at", "9999-12-30T12:00:00+00:00"]).said();
    assert!(said.is_refused().contains("cannot be moved"), "{said:?}");
    run(["example", "insulin", "--list"]).said().is_refused();
}

#[test]
fn a_card_drawn_for_a_page_is_that_page_alone() {
    let said = run(["example", "--format", "html"]).said();
    assert!(said.code == 0 && said.stdout.starts_with("<!DOCTYPE html>"), "{said:?}");
    assert!(said.stderr.contains("times moved to now"), "{said:?}");
}
