//! Journals that earlier programs wrote, one for each form that was ever kept: the present program opens every one of
//! them, lists its cases, goes on with them, and closes them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use rstest::rstest;

use super::{IDOWU, TAMM, Theatre, copy, first, second};
use crate::common::{folder, run};

/// A copy of a kept journal, its cases by what they were left as, and the edition of the formulary they were entered with:
/// who enters second names the same.
fn kept(name: &str) -> (Theatre, BTreeMap<String, String>) {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/cases/journals").join(name);
    let journal = folder(name).join("journal");
    copy(&golden, &journal);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let keys = fs::read_dir(journal.join("case-keys")).expect("ours").map(|key| key.expect("ours").path());
        for key in keys.chain([journal.join("store.key")]) {
            fs::set_permissions(key, fs::Permissions::from_mode(0o600)).expect("ours");
        }
    }
    let cases = fs::read_to_string(golden.join("cases.txt")).expect("it is kept with the journal");
    let cases = cases.lines().filter_map(|line| line.split_once(' '));
    let cases = cases.map(|(left_as, code)| (left_as.to_owned(), code.to_owned())).collect();
    if name == "before-late-alarm" {
        // Its folder is not read any more: the house has completed it, which is another edition.
        let formulary = "formulary".to_owned();
        return (Theatre { journal, formulary }, cases);
    }
    // The journal holds the very bytes.
    let theatre = Theatre { journal: journal.clone(), formulary: String::new() };
    let kept = theatre.cases().kept_formularies("").expect("readable").pop().expect("one is kept");
    let edition = journal.with_file_name("formulary");
    for (path, text) in kept.files() {
        let file = edition.join(path);
        fs::create_dir_all(file.parent().expect("a folder")).expect("ours");
        fs::write(file, text).expect("ours");
    }
    (theatre.with_formulary(&edition), cases)
}

// hazard: H-RECORD
#[rstest]
#[case::before_late_alarm("before-late-alarm")]
#[case::schema_1("schema-1")]
#[case::schema_2("schema-2")]
#[case::schema_3("schema-3")]
fn every_case_of_a_kept_journal_goes_on(#[case] name: &str) {
    let (theatre, cases) = kept(name);
    theatre.is_whole();
    let code = |left_as: &str| cases[left_as].as_str();
    let set_up = |left_as: &str| format!("{}/1", code(left_as));
    let good = |clock: &str, typed: &[&str], words: &[&str]| {
        let said = theatre.says(clock, typed, words);
        assert_eq!(said.code, 0, "{words:?}: {said:?}");
        said.stdout
    };

    let list = good("09:10", &[], &["case", "list"]);
    for left_as in ["waiting", "agreed", "running", "emergency"] {
        assert!(list.contains(code(left_as)), "{left_as}: {list}");
    }
    assert!(list.contains("running since 2026-03-14 08:00") && list.contains("at 6 mL/h"), "{list}");
    assert!(!list.contains("CANNOT BE READ"), "{list}");
    assert!(!list.contains(code("closed")) && list.contains("1 case is over"), "{list}");
    assert_eq!(cases.get("forgotten").filter(|gone| list.contains(gone.as_str())), None, "{list}");
    // The index was worked out once, when the list was first asked for.
    super::open_cases::same_as_every_case(&theatre.cases());

    let shown = good("09:10", &[], &["record", "show", &set_up("running")]);
    assert!(shown.contains("6 mL/h"), "{shown}");
    good("09:10", &[], &["case", "card", &set_up("running")]);
    good("09:11", &[IDOWU.1], &["record", "rate", &set_up("running"), "7 mL/h", "--as", IDOWU.0]);
    good("09:12", &[IDOWU.1], &["record", "pause", &set_up("running"), "--as", IDOWU.0]);
    good("09:13", &[IDOWU.1], &["record", "resume", &set_up("running"), "--as", IDOWU.0]);
    good("09:14", &[IDOWU.1], &["record", "stop", &set_up("running"), "--as", IDOWU.0]);
    let found = ["--left", "40 mL", "--in-line", "0.9 mL", "--discarded", "0 mL", "--reason", "as found"];
    let close = |left_as: &str| {
        let code = set_up(left_as);
        good("09:20", &[IDOWU.1], &[&["record", "close", &code, "--as", IDOWU.0][..], &found].concat());
    };
    close("running");

    let mut entered = theatre.enters("09:15", TAMM, "second", code("waiting"), &second());
    if name == "before-late-alarm" {
        assert!(entered.code == 2 && entered.stderr.contains("--anew"), "{entered:?}");
        entered = theatre.enters_with("09:15", IDOWU, &["case", "enter", &set_up("waiting"), "--anew"], &first());
        assert_eq!(entered.code, 0, "{entered:?}");
        entered = theatre.enters("09:15", TAMM, "second", code("waiting"), &second());
    }
    assert_eq!(entered.code, 0, "{entered:?}");
    for left_as in ["waiting", "agreed"] {
        good("09:16", &[], &["case", "card", &set_up(left_as)]);
        good("09:17", &[IDOWU.1], &["record", "start", &set_up(left_as), "--as", IDOWU.0]);
        good("09:18", &[IDOWU.1], &["record", "stop", &set_up(left_as), "--as", IDOWU.0]);
        close(left_as);
    }

    let entered = theatre.enters("09:15", TAMM, "second", code("emergency"), &second());
    let is_another_edition = name == "before-late-alarm" && entered.stderr.contains("formulary-changed");
    assert!(is_another_edition || [0, 5].contains(&entered.code), "{entered:?}");
    good("09:16", &[IDOWU.1], &["record", "start", &set_up("emergency"), "--as", IDOWU.0]);
    good("09:18", &[IDOWU.1], &["record", "stop", &set_up("emergency"), "--as", IDOWU.0]);
    close("emergency");

    let shown = good("09:30", &[], &["record", "show", &set_up("closed")]);
    assert!(shown.contains("closed") || shown.contains("Closed"), "{shown}");
    super::open_cases::same_as_every_case(&theatre.cases());
    theatre.is_whole();
}

// Every decision is written down before a later program would have to work it out; what was there stays as it was.
// hazard: H-RECORD
#[rstest]
#[case::before_late_alarm("before-late-alarm")]
#[case::schema_1("schema-1")]
#[case::schema_2("schema-2")]
fn an_upgrade_writes_every_decision_once(#[case] name: &str) {
    let (theatre, cases) = kept(name);
    let copied = folder(&format!("{name}-upgraded"));
    copy(&theatre.journal, &copied.join("journal"));
    let theatre = Theatre { journal: copied.join("journal"), ..theatre };
    let card = |clock| {
        theatre.says(clock, &[], &["case", "card", &format!("{}/1", cases["agreed"]), "--format", "json"]).stdout
    };
    let exported = || run(["journal", "export", "--journal"]).arg(&theatre.journal).said().stdout;
    let (before, events) = (card("09:10"), exported());
    let said = theatre.says("09:10", &[], &["journal", "upgrade"]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.starts_with("4 decisions written down, 0 were kept before"), "{said:?}");
    let again = theatre.says("09:11", &[], &["journal", "upgrade"]);
    assert!(again.stdout.starts_with("0 decisions written down"), "{again:?}");
    let after = exported();
    let kept = events.lines().take(events.lines().count() - 1);
    assert!(kept.zip(after.lines()).all(|(before, after)| before == after), "an event was changed");
    assert_eq!(card("09:10"), before);
    theatre.is_whole();
}
