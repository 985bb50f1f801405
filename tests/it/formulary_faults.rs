//! Faulty formularies, through the program itself: every fault of a file at once, each with its place and what to write
//! instead; and what a faulty file stops.

#[path = "faulty/slips.rs"]
mod slips;

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output};

use countersign::formulary::{ApprovalStatus, Formulary};
use insta::assert_snapshot;
use rstest::rstest;
use serde_json::Value;

use crate::common::house::House;
use crate::common::set_up::{NOW, SetUp, clean};
use crate::common::tools::thorough;
use slips::{DOBUTAMINE, ESMOLOL, INSULIN, NORADRENALINE, SLIPS, Slip};

fn run(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    command.args(arguments).env_remove("COUNTERSIGN_FORMULARY");
    command.output().expect("the program can be run")
}

fn lint(folder: &Path, format: &str) -> (Option<i32>, String, String) {
    let folder = folder.display().to_string();
    let output = run(&["formulary", "lint", "--formulary", &folder, "--format", format]);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text").replace(&folder, "HOUSE");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn faults(house: &House) -> Vec<Value> {
    let (code, stdout, stderr) = lint(house.folder(), "json");
    assert_eq!((code, &*stdout), (Some(2), ""), "{stderr}");
    let answer: Value = serde_json::from_str(&stderr).expect("one JSON object");
    answer["faults"].as_array().expect("a list").clone()
}

// hazard: H-LIMITS
#[test]
fn every_slip_is_found_in_its_place() {
    let wrong: Vec<String> = SLIPS.iter().step_by(thorough(1, 5)).filter_map(missed).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is wrong with the report of a slip.
fn missed(slip: &Slip) -> Option<String> {
    let house = House::new().change(slip.file, slip.from, slip.to);
    let faults = faults(&house);
    let found = faults.iter().find(|fault| fault["code"] == slip.code && fault["field"] == slip.field);
    let Some(found) = found else { return Some(format!("{} {} is not among {faults:#?}", slip.code, slip.field)) };
    let text = std::fs::read_to_string(house.folder().join(slip.file)).expect("it was written");
    let line = found["line"].as_u64().and_then(|line| text.lines().nth(usize::try_from(line).ok()? - 1));
    let in_its_line = slip.line.is_empty() || line.is_some_and(|line| line.trim_start().starts_with(slip.line));
    let in_its_file = found["file"] == format!("HOUSE/{}", slip.file);
    let helps = found["help"].as_str().is_some_and(|help| !help.is_empty());
    // A slip in one file is not reported all over the house.
    let alone = faults.iter().all(|fault| fault["file"] == found["file"]);
    let right = in_its_line && in_its_file && helps && alone;
    (!right).then(|| format!("{found} stands in {line:?}, not in {:?}, among {faults:#?}", slip.line))
}

// A new kind of fault must have its slip above.
#[test]
fn every_fault_of_the_reader_has_its_slip() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/formulary/read");
    let mut known = BTreeSet::new();
    for file in std::fs::read_dir(folder).expect("the reader is there") {
        let text = std::fs::read_to_string(file.expect("it can be listed").path()).expect("it is text");
        for call in text.split("Refusal::new(").skip(1) {
            let code = call.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next());
            known.insert(code.expect("a refusal begins with its code").to_owned());
        }
    }
    let mut made: BTreeSet<String> = SLIPS.iter().map(|slip| slip.code.to_owned()).collect();
    // One word in one file makes this one in many others: see below.
    made.insert("demonstration-value".to_owned());
    assert!(known.len() > 25, "{known:?}");
    assert_eq!(known.difference(&made).collect::<Vec<_>>(), [""; 0], "codes without a slip");
}

// hazard: H-LIMITS
#[test]
fn a_value_that_was_chosen_for_a_demonstration_stays_in_one() {
    let house = House::new().change("formulary.yaml", "demonstration: true", "demonstration: false");
    let (code, stdout, stderr) = lint(house.folder(), "text");
    assert_eq!((code, &*stdout), (Some(2), ""));
    assert!(stderr.contains("error[demonstration-value]") && stderr.contains("areas.yaml"), "{stderr}");
}

// hazard: H-LIMITS
#[test]
fn a_file_that_nothing_reads_is_told() {
    let house =
        House::new().write("drugs/lidocaine.yml", "drug: lidocaine\n").write("drugs/new/other.yaml", "drug: other\n");
    let (code, stdout, stderr) = lint(house.folder(), "text");
    assert_eq!((code, &*stdout), (Some(2), ""));
    let told = stderr.contains("drugs/lidocaine.yml") && stderr.contains("drugs/new");
    assert!(told && stderr.contains("error[file-not-read]"), "{stderr}");
}

// hazard: H-LIMITS
#[test]
fn all_faults_of_a_drug_are_said_at_once() {
    let house = House::new().write(NORADRENALINE, include_str!("faulty/noradrenaline.yaml"));
    let (code, stdout, stderr) = lint(house.folder(), "text");
    assert_eq!((code, &*stdout), (Some(2), ""));
    assert_snapshot!(stderr, @"
    error[field-doubled]: the field `single` is written twice, first at line 15, column 3
      --> HOUSE/drugs/noradrenaline.yaml:16:3
       |
    16 |   single: …
       |   ^^^^^^
       |
       = help: keep the one that is right, and take the other away

    error[name-not-small]: `Norepinephrine` would never be found
     --> HOUSE/drugs/noradrenaline.yaml:3:15
      |
    3 | other_names: [Norepinephrine]
      |               ^^^^^^^^^^^^^^
      |
      = help: write `norepinephrine`: names are looked up in small letters, with single spaces

    error[field-missing]: the field `class` is missing
    --> HOUSE/drugs/noradrenaline.yaml
     |
     = help: write `class:` and its value

    error[word-unknown]: `yes` is neither `true` nor `false`
     --> HOUSE/drugs/noradrenaline.yaml:5:13
      |
    5 | high_alert: yes
      |             ^^^
      |
      = help: write `true` or `false`

    error[word-unknown]: `ug` is not a way of writing micrograms that is known here
     --> HOUSE/drugs/noradrenaline.yaml:6:16
      |
    6 | mass_shown_as: ug
      |                ^^
      |
      = help: write one of: mcg, microgram

    error[unit-wrong-kind]: `24 mL` is a volume, where a time is expected
     --> HOUSE/drugs/noradrenaline.yaml:7:31
      |
    7 | life_after_drawing_up: {time: 24 mL, source: label}
      |                               ^^^^^
      |
      = help: write a time in s, min, h or day, for example 3 h

    error[review-out-of-order]: a reason is asked for before the review is due
     --> HOUSE/drugs/noradrenaline.yaml:8:40
      |
    8 | review: {by: 2099-12-31, justify_from: 2099-06-30}
      |                                        ^^^^^^^^^^
      |
      = help: write a day that is not before `by`

    error[number-trailing-zero]: `4.0` ends with a zero after the point: if the point is overlooked it is ten times as much
      --> HOUSE/drugs/noradrenaline.yaml:15:20
       |
    15 |   single: {amount: 4.0 mg, volume: 50 mL, source: label}
       |                    ^^^
       |
       = help: write 4

    error[source-unknown]: the source `lable` is not in this file's `sources`
      --> HOUSE/drugs/noradrenaline.yaml:16:49
       |
    16 |   single: {amount: 4 mg, volume: 50 ml, source: lable}
       |                                                 ^^^^^
       |
       = help: write one of: label, nowhere-used; or demonstration value

    error[unit-missing]: `50` has no unit
      --> HOUSE/drugs/noradrenaline.yaml:17:34
       |
    17 |   double: {amount: 8 mg, volume: 50, source: demonstration value, recipe: {ampoules: 8, of: 1 mg/mL, diluent: glucose 5 %, how: filled up}}
       |                                  ^^
       |
       = help: write a volume in mL, for example 50 mL

    error[word-unknown]: `filled up` is not a way of making up that is known here
      --> HOUSE/drugs/noradrenaline.yaml:17:129
       |
    17 |   double: {amount: 8 mg, volume: 50, source: demonstration value, recipe: {ampoules: 8, of: 1 mg/mL, diluent: glucose 5 %, how: filled up}}
       |                                                                                                                                 ^^^^^^^^^
       |
       = help: write one of: made up to, added to, undiluted

    error[limits-out-of-order]: the soft maximum is above the hard one
      --> HOUSE/drugs/noradrenaline.yaml:18:28
       |
    18 | peripheral_maximum: {soft: 20 mcg/mL, hard: 10 mcg/mL, source: demonstration value}
       |                            ^^^^^^^^^
       |
       = help: write the weaker solution in `soft`

    error[dosing-weight-missing]: the dose is per kg, and no weight is named to count it by
      --> HOUSE/drugs/noradrenaline.yaml:22:7
       |
    22 |       dose_unit: mcg/kg/min
       |       ^
       |
       = help: write `dosing_weights: [actual]`, the usual one first

    error[limits-out-of-order]: `from` is more than `to`
      --> HOUSE/drugs/noradrenaline.yaml:26:25
       |
    26 |           usual: {from: 0.3 mcg/kg/min, to: 0.02 mcg/kg/min, source: demonstration value}
       |                         ^^^^^^^^^^^^^^
       |
       = help: write the smaller value in `from`

    error[number-leading-point]: `.5` begins with a point, which is easily overlooked
      --> HOUSE/drugs/noradrenaline.yaml:27:22
       |
    27 |           soft: {to: .5 mcg/kg/min, source: demonstration value}
       |                      ^^
       |
       = help: write 0.5

    error[limit-in-another-unit]: the limit is in mcg/min, and the dose unit here is mcg/kg/min
      --> HOUSE/drugs/noradrenaline.yaml:28:22
       |
    28 |           hard: {to: 3 mcg/min, source: label}
       |                      ^^^^^^^^^
       |
       = help: write it in mcg/kg/min

    error[word-unknown]: `holding` is not a phase that is known here
      --> HOUSE/drugs/noradrenaline.yaml:29:9
       |
    29 |         holding:
       |         ^^^^^^^
       |
       = help: write one of: start, maintenance, weaning, load

    error[area-unknown]: the area `ward` is not in areas.yaml
      --> HOUSE/drugs/noradrenaline.yaml:31:3
       |
    31 |   ward:
       |   ^^^^
       |
       = help: write one of: adult theatre, paediatric theatre, adult intensive care, obstetrics, newborn intensive care, paediatric intensive care

    error[source-unused]: nothing in this file rests on the source `nowhere-used`
      --> HOUSE/drugs/noradrenaline.yaml:10:3
       |
    10 |   label:
       |   ^^^^^^
       |
       = help: name it beside a value, or take it away

    error[field-unknown]: the field `classs` is not known here
     --> HOUSE/drugs/noradrenaline.yaml:4:1
      |
    4 | classs: …
      | ^^^^^^
      |
      = help: did you mean `class`? The fields here are `accepted`, `amounts_as`, `areas`, `class`, `codes`, `controlled`, `drug`, `equivalents`, `exceptions`, `high_alert`, `in_the_line`, `life_after_drawing_up`, `looks_like`, `mass_shown_as`, `other_names`, `peripheral_maximum`, `review`, `sources`, `strengths`, `vasoactive`
    ");
}

#[test]
fn all_faults_of_the_equipment_are_said_at_once() {
    let house = House::new().write("equipment.yaml", include_str!("faulty/equipment.yaml"));
    let (code, stdout, stderr) = lint(house.folder(), "text");
    assert_eq!((code, &*stdout), (Some(2), ""));
    assert_snapshot!(stderr, @"
    error[container-holds-nothing]: all of the usable volume stays behind
     --> HOUSE/equipment.yaml:2:77
      |
    2 |   syringe 50 mL: {kind: syringe, size: 50 mL, usable: 0.1 mL, stays_behind: 0.1 mL}
      |                                                                             ^^^^^^
      |
      = help: write the volume that cannot be pushed out

    error[word-unknown]: `sack` is not a kind of container that is known here
     --> HOUSE/equipment.yaml:3:21
      |
    3 |   bag 50 mL: {kind: sack, size: 50 mL, usable: 50 mL, stays_behind: 3 mL}
      |                     ^^^^
      |
      = help: write one of: syringe, bag

    error[unit-wrong-kind]: `150 mL` is a volume, where a length is expected
     --> HOUSE/equipment.yaml:5:38
      |
    5 |   narrow-150: {kind: narrow, length: 150 mL, priming_volume: 0 mL}
      |                                      ^^^^^^
      |
      = help: write a length in cm or m, for example 164 cm

    error[number-zero]: `0` is zero
     --> HOUSE/equipment.yaml:5:62
      |
    5 |   narrow-150: {kind: narrow, length: 150 mL, priming_volume: 0 mL}
      |                                                              ^
      |
      = help: write a number above zero, or leave the field out

    error[dose-time-missing]: `mL` has no time: how much in what time?
      --> HOUSE/equipment.yaml:15:21
       |
    15 |     bolus_rate: 999 mL
       |                     ^^
       |
       = help: write a rate in mL/h, for example 3.6 mL/h

    error[shows-no-rate]: the rate is not among what this driver shows
      --> HOUSE/equipment.yaml:16:12
       |
    16 |     shows: [volume given]
       |            ^^^^^^^^^^^^^^
       |
       = help: write `rate` too: every read-back holds it against the card or the record

    error[driver-steps]: the smallest rate is not below the largest
      --> HOUSE/equipment.yaml:10:20
       |
    10 |     smallest_rate: 100 mL/h
       |                    ^^^^^^^^
       |
       = help: write the smaller rate here

    error[driver-steps]: the bands are not in rising order: a later one can never be reached
      --> HOUSE/equipment.yaml:13:7
       |
    13 |       - {up_to: 99.9 mL/h, step: 0.7 mL/h}
       |       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
       |
       = help: sort them by `up_to`

    error[driver-steps]: the last band does not end at the largest rate
      --> HOUSE/equipment.yaml:13:7
       |
    13 |       - {up_to: 99.9 mL/h, step: 0.7 mL/h}
       |       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
       |
       = help: let its `up_to` be the largest rate

    error[driver-steps]: a band does not end at a whole number of its steps
      --> HOUSE/equipment.yaml:13:7
       |
    13 |       - {up_to: 99.9 mL/h, step: 0.7 mL/h}
       |       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
       |
       = help: let each `up_to` be a multiple of its `step`
    ");
}

#[test]
fn a_text_that_cannot_be_read_is_said_alone() {
    let house = House::new().change(INSULIN, "class: miscellaneous", "class: [miscellaneous");
    let (code, _, stderr) = lint(house.folder(), "text");
    assert_eq!(code, Some(2));
    assert_snapshot!(stderr, @"
    error[yaml-syntax]: this is not YAML: a colon stands where no field can begin
     --> HOUSE/drugs/insulin.yaml:8:11
      |
    8 | high_alert: true
      |           ^
      |
      = help: one field a line, its name, a colon, a space and the value; a value with `: ` or ` #` in it belongs in quotes; look at the line before as well
    ");
}

// Faults in several files are all said, and each file is named.
#[test]
fn every_faulty_drug_is_said() {
    let house = House::new().change(INSULIN, "drug: insulin", "drug: insuline").change(
        ESMOLOL,
        "to: 300 mcg/kg/min, source: reference}\n        weaning",
        "to: 100 mcg/kg/min, source: reference}\n        weaning",
    );
    let files: BTreeSet<String> = faults(&house).iter().map(|fault| fault["file"].to_string()).collect();
    assert_eq!(files.into_iter().collect::<Vec<_>>(), ["\"HOUSE/drugs/esmolol.yaml\"", "\"HOUSE/drugs/insulin.yaml\""]);
}

#[test]
fn three_strengths_need_an_explanation() {
    let explained = House::new()
        .change(
            DOBUTAMINE,
            "strengths:\n  weak:",
            "strengths:\n  middle: {amount: 100 mg, volume: 50 mL, source: demonstration value}\n  weak:",
        )
        .change(
            DOBUTAMINE,
            "strengths: [weak, single]",
            "strengths: [weak, middle, single]\n      more_than_two: the weak one is for a peripheral line",
        );
    let (code, stdout, stderr) = lint(explained.folder(), "text");
    assert_eq!(code, Some(0), "{stdout}{stderr}");
}

#[rstest]
#[case("formulary.yaml")]
#[case("areas.yaml")]
#[case("equipment.yaml")]
fn a_file_that_every_house_needs(#[case] file: &str) {
    let house = House::new().remove(file);
    let found = faults(&house);
    let codes: Vec<&str> = found.iter().filter_map(|fault| fault["code"].as_str()).collect();
    assert_eq!(codes, ["formulary-file-missing"]);
    assert!(found[0]["message"].as_str().is_some_and(|message| message.contains(file)), "{found:?}");
}

#[rstest]
#[case::not_there("no-such-folder", "formulary-folder")]
#[case::a_file("Cargo.toml", "formulary-folder")]
#[case::without_drugs("src", "formulary-folder")]
fn what_is_no_formulary_is_refused(#[case] path: &str, #[case] code: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    let (exit, stdout, stderr) = lint(&path, "json");
    let answer: Value = serde_json::from_str(&stderr).expect("one JSON object");
    assert_eq!((exit, &*stdout, &answer["faults"][0]["code"]), (Some(2), "", &Value::from(code)), "{stderr}");
}

#[test]
fn no_formulary_is_ever_assumed() {
    let house = House::new();
    let entry = written(&house, &clean());
    let output = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["check", &entry, "--at", NOW])
        .env_remove("COUNTERSIGN_FORMULARY")
        .current_dir(house.folder())
        .output()
        .expect("the program can be run");
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!((output.status.code(), output.stdout.is_empty()), (Some(2), true), "{stderr}");
    assert!(stderr.starts_with("error[formulary-not-named]"), "{stderr}");
}

fn written(house: &House, set_up: &SetUp) -> String {
    let path = house.folder().join("entry.txt");
    std::fs::write(&path, set_up.yaml()).expect("it can be written");
    path.display().to_string()
}

fn check(house: &House, set_up: &SetUp) -> (Option<i32>, String, String) {
    let (entry, folder) = (written(house, set_up), house.folder().display().to_string());
    let output = run(&["check", &entry, "--at", NOW, "--formulary", &folder]);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text").replace(&folder, "HOUSE");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

// An emergency does not wait for another drug's file.
#[test]
fn a_broken_file_of_another_drug_stops_nothing() {
    let house = House::new().write("drugs/propofol.yaml", "drug: propofol\nclass: [");
    let (code, stdout, stderr) = check(&house, &clean());
    assert_eq!(code, Some(0), "{stdout}{stderr}");
    assert!(stdout.contains("\n5.1 mL/h\n"), "{stdout}");
}

// hazard: H-LIMITS
#[test]
fn a_broken_file_of_the_drug_is_refused_with_its_faults() {
    let house = House::new().change(NORADRENALINE, "class: vasopressor\n", "").change(
        NORADRENALINE,
        "to: 120 mL/h",
        "to: 12 mL/h",
    );
    let (code, stdout, stderr) = check(&house, &clean());
    assert_eq!((code, &*stdout), (Some(2), ""), "{stderr}");
    assert_snapshot!(stderr, @"
    error[field-missing]: the field `class` is missing
    --> HOUSE/drugs/noradrenaline.yaml
     |
     = help: write `class:` and its value

    error[limits-out-of-order]: `hard` lies inside `soft`, which it should enclose: some of that can never be reached
      --> HOUSE/drugs/noradrenaline.yaml:66:15
       |
    66 |         hard: {to: 12 mL/h, source: demonstration value}
       |               ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
       |
       = help: the order is hard from, soft from, usual from, usual to, soft to, hard to
    ");
}

// By its other name too: the name stands in the file, and the file is asked.
#[test]
fn a_broken_file_is_found_by_another_name() {
    let house = House::new().change(NORADRENALINE, "to: 120 mL/h", "to: 12 mL/h");
    let (code, stdout, stderr) = check(&house, &clean().with("drug", "norepinephrine"));
    assert_eq!(code, Some(2), "{stdout}{stderr}");
    assert!(stderr.contains("limits-out-of-order"), "{stderr}");
}

#[test]
fn the_demonstration_is_clean() {
    for (source, name) in [("demonstration", "inside"), (concat!(env!("CARGO_MANIFEST_DIR"), "/formulary"), "folder")] {
        let (code, stdout, stderr) = lint(Path::new(source), "text");
        assert_eq!(code, Some(0), "{name}: {stderr}");
        let (begins, ends) = ("39 drugs, no problems", "\n");
        assert!(
            stdout.starts_with(begins) && stdout.contains("; approved by nobody: it is for ") && stdout.ends_with(ends),
            "{name}: {stdout}"
        );
    }
}

#[test]
fn the_demonstration_inside_is_the_folder() {
    let inside = Formulary::demonstration().expect("linted above");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary");
    let folder = Formulary::open(&folder).expect("linted above");
    assert_eq!(inside.fingerprint(), folder.fingerprint());
    assert_eq!(folder.standing(), &ApprovalStatus::Demonstration);
}

// What was approved are bytes: one more line in any file, and it is another formulary.
// hazard: H-LIMITS
#[test]
fn lint_says_what_was_altered() {
    let house = House::hospital().approve().change("areas.yaml", "adult theatre:\n", "# a remark\nadult theatre:\n");
    let (code, stdout, _) = lint(house.folder(), "text");
    assert_eq!(code, Some(0));
    assert!(
        stdout.ends_with("approved by NOBODY AS IT IS: altered after its approval: areas.yaml (changed)\n"),
        "{stdout}"
    );
    let (code, stdout, _) = lint(House::hospital().folder(), "text");
    assert_eq!(code, Some(0));
    assert!(stdout.ends_with("; approved by NOBODY\n"), "{stdout}");
}

/// An approval with text replaced: what is said of it.
fn approved_otherwise(from: &str, to: &str) -> Result<ApprovalStatus, Vec<&'static str>> {
    let house = House::hospital().approve().change("approval.yaml", from, to);
    match Formulary::open(house.folder()) {
        Ok(formulary) => Ok(formulary.standing().clone()),
        Err(faulty) => Err(faulty.0.iter().flat_map(|(_, faults)| faults).map(|fault| fault.code).collect()),
    }
}

// hazard: H-LIMITS
#[rstest]
#[case("name: \"S. Naidoo\"", "name: \"Achterberg, r\"", "approval-by-one")]
#[case("name: \"S. Naidoo\"", "name: \".\"", "approval-unreadable")]
#[case("second:\n  name: \"S. Naidoo\"", "second:\n  nom: \"S. Naidoo\"", "field-unknown")]
#[case("author:\n", "writer:\n", "field-missing")]
fn an_approval_that_is_none_is_refused(#[case] from: &str, #[case] to: &str, #[case] code: &str) {
    let codes = approved_otherwise(from, to).expect_err("it is no approval");
    assert!(codes.contains(&code), "{codes:?}");
}

// Each signature is of the names, the day and the sums of the files, and the second's is of the author's key too.
// hazard: H-LIMITS
#[rstest]
#[case("S. Naidoo", "S. Naidu")]
#[case("R. Achterberg", "R. Achterborg")]
#[case("author:\n  name: \"R. Achterberg\"\n  on: 2026-01-16", "author:\n  name: \"R. Achterberg\"\n  on: 2026-01-17")]
#[case("author:", "since: \"0000000000000000000000000000000000000000000000000000000000000000\"\nauthor:")]
fn a_signature_that_does_not_fit_is_no_approval(#[case] from: &str, #[case] to: &str) {
    let standing = approved_otherwise(from, to).expect("it can be read");
    assert!(
        matches!(&standing, ApprovalStatus::Altered { changed } if changed.len() == 1 && changed[0].contains("signature")),
        "{standing:?}"
    );
}

// hazard: H-LIMITS
#[test]
fn what_the_author_signed_is_not_approved() {
    let house = House::hospital();
    let text = house.author().text();
    let house = house.write("approval.yaml", &text);
    assert!(matches!(house.opened().standing(), ApprovalStatus::Signed { by, .. } if by == "R. Achterberg"));
}

// A limit that collides with two others says so twice, each time with which.
// hazard: H-LIMITS
#[test]
fn a_limit_inside_two_others_names_both() {
    let soft = "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min, source: demonstration value}\n          hard: {to: ";
    let house = House::new().change("drugs/noradrenaline.yaml", &format!("{soft}3 "), &format!("{soft}0.1 "));
    let (code, _, stderr) = check(&house, &clean());
    assert_eq!(code, Some(2), "{stderr}");
    for inner in ["`soft`", "`usual`"] {
        assert_eq!(stderr.matches(&format!("`hard` lies inside {inner}")).count(), 1, "{inner}: {stderr}");
    }
}
