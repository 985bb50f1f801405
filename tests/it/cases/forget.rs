//! Forgetting a case: what was sealed in it is gone for ever, and everything else still stands.

use std::fs;
use std::path::PathBuf;

#[cfg(feature = "backup")]
use crate::common;

use super::{IDOWU, TAMM, Theatre, Who, first, holds, refused, second};
#[cfg(feature = "backup")]
use super::{OKORO, run};

fn forgets(theatre: &Theatre, clock: &str, code: &str, typed: &str) -> super::Said {
    let words = ["case", "forget", code, "--as", IDOWU.0, "--and", TAMM.0];
    theatre.says(clock, &[IDOWU.1, TAMM.1, typed], &words)
}

fn keys(theatre: &Theatre) -> Vec<PathBuf> {
    fn gather(folder: &std::path::Path, into: &mut Vec<PathBuf>) {
        for item in fs::read_dir(folder).expect("it was made") {
            let path = item.expect("it can be listed").path();
            if path.is_dir() {
                gather(&path, into);
            } else if path.extension().is_some_and(|extension| extension == "key") && !path.ends_with("store.key") {
                into.push(path);
            }
        }
    }
    let mut keys = Vec::new();
    gather(&theatre.journal, &mut keys);
    keys.sort();
    keys
}

// hazard: H-PATIENT
#[test]
fn a_forgotten_case_cannot_be_read_and_the_rest_still_stands() {
    let theatre = Theatre::new("forgotten");
    let kept = theatre.agreed();
    let before = keys(&theatre);
    let code = theatre.agreed();
    let its_key: Vec<PathBuf> = keys(&theatre).into_iter().filter(|key| !before.contains(key)).collect();
    let [its_key] = &its_key[..] else { panic!("one key: {its_key:?}") };
    let key_bytes = fs::read(its_key).expect("ours");
    assert_eq!(theatre.says("07:50", &[], &["case", "card", &code]).code, 0);
    // Not by mistake: the code is typed again.
    let events = theatre.events();
    refused(&forgets(&theatre, "08:00", &code, &kept), "code-differs");
    assert_eq!(theatre.events(), events);
    let said = forgets(&theatre, "08:00", &code, &code.to_lowercase());
    assert_eq!(
        (said.code, said.stdout.clone()),
        (0, format!("Forgotten: {code}. What was sealed in it cannot be read any more.\n")),
        "{said:?}"
    );
    assert!(!its_key.exists());
    let bytes = theatre.bytes();
    assert!(!holds(&bytes, std::str::from_utf8(&key_bytes).expect("base64").trim()), "the key lies about");
    for text in ["QM-30417", "1959-08-02", "84.2"] {
        assert!(!holds(&bytes, text), "{text}");
        assert!(!theatre.exported().contains(text), "{text}");
    }
    theatre.is_whole();
    // Status and list go on; the other case is untouched.
    let status = theatre.says("08:01", &[], &["case", "status", &code]);
    assert_eq!(status.code, 0, "{status:?}");
    assert!(status.stdout.contains("forgotten at 2026-03-14 08:00"), "{status:?}");
    let list = theatre.says("08:01", &[], &["case", "list", "--all"]);
    assert!(list.code == 0 && list.stdout.contains(&kept) && !list.stdout.contains(&code), "{list:?}");
    assert_eq!(theatre.says("08:01", &[], &["case", "card", &kept]).code, 0);
    for said in [
        theatre.says("08:01", &[], &["case", "card", &format!("{code}/1")]),
        theatre.enters("08:01", TAMM, "enter", &code, &first()),
        theatre.enters("08:01", TAMM, "second", &code, &second()),
        theatre.says("08:01", &[TAMM.1, "80 kg", "measured"], &["case", "weight", &code, "--as", TAMM.0]),
        forgets(&theatre, "08:01", &code, &code),
    ] {
        assert!(refused(&said, "case-forgotten").contains("forgotten"), "{said:?}");
    }
    theatre.is_whole();
}

// hazard: H-RECORD
#[test]
fn what_runs_is_not_forgotten() {
    let theatre = Theatre::new("runs-still");
    let code = theatre.agreed();
    theatre.records(
        "08:00",
        &format!("{code}/1"),
        &countersign::case::ReportedAction::Started(None, Default::default()),
    );
    refused(&forgets(&theatre, "08:05", &code, &code), "set-up-runs");
    assert_eq!(theatre.says("08:06", &[], &["case", "card", &code]).code, 0);
}

/// A key that came back by hand, or was in a copy: restoring takes it away again.
// hazard: H-PATIENT
#[cfg(feature = "backup")]
#[test]
fn a_restored_backup_has_forgotten_too() {
    let theatre = Theatre::new("backup-forgets");
    let code = theatre.agreed();
    let [key] = &keys(&theatre)[..] else { panic!("one key") };
    let bytes = fs::read(key).expect("ours");
    let permissions = fs::metadata(key).expect("ours").permissions();
    assert_eq!(forgets(&theatre, "08:00", &code, &code).code, 0);
    fs::write(key, bytes).expect("ours");
    fs::set_permissions(key, permissions).expect("ours");
    let backup = theatre.journal.with_file_name("backup.age");
    let passphrase = theatre.file("passphrase", "four words drawn at random\n");
    let said = run(["journal", "backup", "--passphrase-file", &passphrase, "--journal"])
        .arg(&theatre.journal)
        .arg(&backup)
        .said();
    assert_eq!(said.code, 0, "{said:?}");
    let folder = common::folder("backup-forgets-restored").join("journal");
    let said = run(["journal", "restore", "--passphrase-file", &passphrase]).arg(&backup).arg(&folder).said();
    assert!(said.code == 0 && said.stdout.contains("1 forgotten stay forgotten"), "{said:?}");
    let restored = Theatre { journal: folder, formulary: theatre.formulary.clone() };
    assert_eq!(keys(&restored), Vec::<PathBuf>::new());
    refused(&restored.says("08:10", &[], &["case", "card", &format!("{code}/1")]), "case-forgotten");
    restored.is_whole();
    // It goes on in the restored one, with everybody's PIN.
    let next = restored.case();
    assert_eq!(restored.enters("08:20", OKORO, "enter", &next, &first()).code, 0);
}

/// One key is lost, and nobody asked for it: the others are still in view.
// hazard: H-RECORD
#[test]
fn a_lost_key_does_not_hide_the_other_cases() {
    let theatre = Theatre::new("lost-key");
    let code = theatre.agreed();
    let [key] = &keys(&theatre)[..] else { panic!("one key") };
    fs::remove_file(key).expect("ours");
    let other = theatre.agreed();
    let list = theatre.says("08:00", &[], &["case", "list"]);
    assert_eq!(list.code, 0, "{list:?}");
    assert!(list.stdout.contains(&format!("{code}     CANNOT BE READ: its key is missing")), "{list:?}");
    assert!(list.stdout.contains(&format!("{other}/1   noradrenaline 80 mcg/mL: agreed, not started")), "{list:?}");
}

#[test]
fn only_somebody_who_signs_forgets() {
    let theatre = Theatre::new("who-forgets");
    let code = theatre.agreed();
    let before = theatre.events();
    let Who(name, _) = TAMM;
    let said = theatre.says("08:00", &["not the pin", &code], &["case", "forget", &code, "--as", name]);
    refused(&said, "pin-wrong");
    // The wrong PIN is written down, and nothing else.
    assert_eq!(theatre.events(), before + 1);
    for words in [&["--as", name][..], &["--as", name, "--and", name][..]] {
        let pins: Vec<&str> = words.iter().filter(|word| **word == name).map(|_| TAMM.1).collect();
        let typed = [&pins[..], &[code.as_str()]].concat();
        let said = theatre.says("08:00", &typed, &[&["case", "forget", code.as_str()], words].concat());
        refused(&said, "second-person-needed");
    }
    assert_eq!(theatre.events(), before + 1);
    assert_eq!(theatre.says("08:01", &[], &["case", "card", &code]).code, 0);
}
