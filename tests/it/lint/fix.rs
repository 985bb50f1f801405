//! `--fix`: the spelling of units and numbers, and nothing else, in files that can be used and in those that cannot.

use countersign::formulary::Files;
use countersign::pharmacy::lint::{FixError, mend, write};
use insta::assert_snapshot;
use serde_json::Value;

use crate::lint::small::{Small, remarks};

const FILE: &str = "drugs/noradrenaline.yaml";

/// Slips that the reader understands, and slips that it refuses.
fn misspelled() -> Small {
    Small::new()
        .change("formulary.yaml", "smallest_drawn_up: 0.2 mL", "smallest_drawn_up: \"0.20 ml\"   # measured once")
        .change("equipment.yaml", "stays_behind: 8 mL", "stays_behind: 8.0 ml")
        .change(FILE, "time: 24 h", "time: 24 hr")
        .change(FILE, "{amount: 8 mg, volume: 50 mL", "{amount: '8.0 mg', volume: 50.0 ml")
        .change(
            FILE,
            "soft: {from: 0.04 mcg/kg/min, to: 0.3 mcg/kg/min",
            "soft: {from: .04 mcg/kg/min, to: .30 mcg/kg/min",
        )
        .change(FILE, "section: Dosage", "section: '5.0 ml of 1000 ug, .5 of it'")
}

#[test]
fn only_spelling_is_rewritten_and_every_change_is_told() {
    let before = misspelled().folder();
    let said = before.lint(&["--fix"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert_snapshot!(said.stdout, @"
    drugs/noradrenaline.yaml:8:31: life_after_drawing_up.time: `24 hr` is now `24 h`
    drugs/noradrenaline.yaml:14:21: strengths.double.amount: `8.0 mg` is now `8 mg`
    drugs/noradrenaline.yaml:14:38: strengths.double.volume: `50.0 ml` is now `50 mL`
    drugs/noradrenaline.yaml:30:24: areas.adult theatre.vasopressor.phases.maintenance.soft.from: `.04 mcg/kg/min` is now `0.04 mcg/kg/min`
    drugs/noradrenaline.yaml:30:44: areas.adult theatre.vasopressor.phases.maintenance.soft.to: `.30 mcg/kg/min` is now `0.3 mcg/kg/min`
    equipment.yaml:3:71: containers.bag 250 mL.stays_behind: `8.0 ml` is now `8.0 mL`
    formulary.yaml:7:23: policy.smallest_drawn_up: `0.20 ml` is now `0.2 mL`
    3 drugs, no problems; approved by nobody: it is for demonstration
    ");
    // What people wrote in words stays as it is; so does everything else.
    let expected = Small::new()
        .change("formulary.yaml", "smallest_drawn_up: 0.2 mL", "smallest_drawn_up: \"0.2 mL\"   # measured once")
        .change("equipment.yaml", "stays_behind: 8 mL", "stays_behind: 8.0 mL")
        .change(FILE, "amount: 8 mg", "amount: '8 mg'")
        .change(FILE, "section: Dosage", "section: '5.0 ml of 1000 ug, .5 of it'");
    for (path, text) in expected.files().iter() {
        assert_eq!(before.read(path), text, "{path}");
    }
    let again = before.lint(&["--fix"]);
    assert!(again.code == Some(0) && again.stdout.starts_with("nothing to fix\n"), "{again:?}");
    let left: Vec<String> = std::fs::read_dir(before.path())
        .expect("it is ours")
        .chain(std::fs::read_dir(before.path().join("drugs")).expect("it is ours"))
        .map(|file| file.expect("it can be listed").file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with('.'))
        .collect();
    assert_eq!(left, [""; 0], "nothing is left behind");
}

#[test]
fn the_changes_as_data() {
    let said = misspelled().folder().lint(&["--fix", "--format", "json"]);
    let answer: Value = serde_json::from_str(&said.stdout).expect("one JSON object");
    let changed = answer["changed"].as_array().expect("a list");
    assert_eq!(changed.len(), 7, "{answer}");
    let one = changed.iter().find(|change| change["from"] == ".30 mcg/kg/min").expect("it is among them");
    assert_eq!((&one["to"], &one["file"]), (&Value::from("0.3 mcg/kg/min"), &Value::from(FILE)));
    assert_eq!(answer["counts"]["errors"], 0);
}

// A file that is faulty for another reason is mended too, and its other fault stays.
#[test]
fn what_is_doubtful_is_left_for_a_person() {
    let doubtful = ["1,5 mg", "05 mg", "5. mg", "5 MG", "50 U", "1e3 mg", "O.5 mg"];
    for text in doubtful {
        let house = misspelled().change(
            FILE,
            "recipe: {ampoules: 4, of: 1 mg in 1 mL",
            &format!("recipe: {{ampoules: 4, of: \"{text} in 1 mL\""),
        );
        let folder = house.folder();
        let said = folder.lint(&["--fix"]);
        assert_eq!(said.code, Some(2), "{text} {said:?}");
        let read = folder.read(FILE);
        assert!(read.contains(&format!("of: \"{text} in 1 mL\"")), "{text}: {read}");
        assert!(read.contains("soft: {from: 0.04 mcg/kg/min, to: 0.3 mcg/kg/min"), "{text}: {read}");
    }
}

// hazard: H-LIMITS
#[test]
fn a_mended_house_reads_as_before() {
    let misspelled = misspelled()
        .change(FILE, ".04 mcg/kg/min, to: .30 mcg", "0.04 mcg/kg/min, to: 0.3 mcg")
        .change(FILE, "'8.0 mg'", "8 mg");
    let before = misspelled.lint();
    assert_eq!(before.counts().errors, 0);
    let mended = mend(&misspelled.files()).expect("every change keeps its value");
    let texts = misspelled
        .files()
        .iter()
        .map(|(path, text)| {
            let text = mended.iter().find(|one| one.path == path).map_or(text, |one| &one.text);
            (path.to_owned(), text.to_owned())
        })
        .collect();
    let files = Files::of_texts("HOUSE", texts);
    assert!(mend(&files).expect("nothing is left to mend").is_empty());
    let value = |files: Files| {
        let formulary =
            countersign::formulary::Formulary::of_files(files).unwrap_or_else(|(_, faulty)| panic!("{faulty:?}"));
        let mut values = vec![format!("{:?} {:?}", formulary.policy(), formulary.equipment())];
        formulary.each_drug_file(|file| values.push(format!("{:?}", file.read)));
        values
    };
    assert_eq!(value(files), value(misspelled.files()));
}

// hazard: H-LIMITS
#[test]
fn what_somebody_changed_in_the_meantime_is_not_overwritten() {
    let house = misspelled();
    let folder = house.folder();
    let mended = mend(&house.files()).expect("every change keeps its value");
    let changed = folder.read(FILE).replace("to: 2 mcg/kg/min", "to: 1 mcg/kg/min");
    std::fs::write(folder.path().join(FILE), &changed).expect("it can be written");
    let refused = write(folder.path(), &mended);
    assert!(matches!(refused, Err(FixError::Changed { .. })), "{refused:?}");
    assert_eq!(folder.read(FILE), changed);
}

#[cfg(unix)]
#[test]
fn rights_and_links_are_kept() {
    use std::os::unix::fs::{PermissionsExt as _, symlink};
    let folder = misspelled().folder();
    let (path, real) = (folder.path().join(FILE), folder.path().join("real.txt"));
    std::fs::rename(&path, &real).expect("it is ours");
    std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).expect("it is ours");
    symlink(&real, &path).expect("a link can be made");
    assert_eq!(folder.lint(&["--fix"]).code, Some(0));
    assert!(std::fs::symlink_metadata(&path).expect("it is there").file_type().is_symlink());
    let kept = std::fs::metadata(&real).expect("it is there").permissions().mode() & 0o777;
    assert_eq!(kept, 0o640);
    assert!(folder.read("real.txt").contains("soft: {from: 0.04 mcg/kg/min"));
}

#[test]
fn the_demonstration_inside_is_not_fixed() {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["formulary", "lint", "demonstration", "--fix"])
        .output()
        .expect("the program can be run");
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(2) && stderr.contains("error[fix-not-a-folder]"), "{stderr}");
}

// What `--fix` would write is said with the remark, and a remark that has a fix is gone after it.
#[test]
fn every_fix_that_is_offered_is_made() {
    let house = misspelled()
        .change(FILE, ".04 mcg/kg/min, to: .30 mcg", "0.04 mcg/kg/min, to: 0.3 mcg")
        .change(FILE, "'8.0 mg'", "8 mg");
    let report = house.lint();
    let offered = report.files.iter().flat_map(|file| &file.remarks).filter(|remark| remark.fix.is_some()).count();
    assert!(offered > 3 && offered == remarks(&report).len(), "{:?}", remarks(&report));
    let folder = house.folder();
    let said = folder.lint(&["--fix"]);
    assert_eq!((said.code, &*said.stderr), (Some(0), ""), "{said:?}");
}
