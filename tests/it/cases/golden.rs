//! Journals that earlier programs wrote, one for each form that was ever kept: the present program opens every one of
//! them, lists its cases, goes on with them, and closes them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use rstest::rstest;

use super::{IDOWU, TAMM, Theatre, Who, copy, first, refused, second};
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
#[case::envelope_3("envelope-3")]
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
#[case::envelope_3("envelope-3")]
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
    // Since decisions are kept, there are none to be written down.
    let expected = match name {
        "envelope-3" => "0 decisions written down, 6 were kept before",
        _ => "4 decisions written down, 0 were kept before",
    };
    assert!(said.stdout.starts_with(expected), "{said:?}");
    let again = theatre.says("09:11", &[], &["journal", "upgrade"]);
    assert!(again.stdout.starts_with("0 decisions written down"), "{again:?}");
    let after = exported();
    let kept = events.lines().take(events.lines().count() - 1);
    assert!(kept.zip(after.lines()).all(|(before, after)| before == after), "an event was changed");
    assert_eq!(card("09:10"), before);
    theatre.is_whole();
}

/// Two people read the same weight.
fn weighed(theatre: &Theatre, code: &str, weight: &str) {
    for (clock, Who(name, pin)) in [("08:20", IDOWU), ("08:21", TAMM)] {
        let said = theatre.says(clock, &[pin, weight, "measured"], &["case", "weight", code, "--as", name]);
        assert_eq!(said.code, 0, "{said:?}");
    }
}

/// A journal with a case of every kind, as this program writes it; also its cases by what they are left as.
fn present(name: &str) -> (Theatre, Vec<(&'static str, String)>) {
    let theatre = Theatre::new(name);
    let good = |clock: &str, words: &[&str]| {
        let said = theatre.says(clock, &[IDOWU.1], &[words, &["--as", IDOWU.0]].concat());
        assert_eq!(said.code, 0, "{words:?}: {said:?}");
    };
    let waiting = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &waiting, &first()).code, 0);
    let [agreed, running, closed, recounted, back, forgotten] = [(); 6].map(|()| theatre.agreed());
    let file = theatre.file("emergency.yaml", &first());
    let said = theatre.says("07:50", &[], &["case", "emergency", "--by", "B. Okoro", "--from", &file]);
    let line = said.stdout.lines().find(|line| line.starts_with("Case  ")).expect("the card names its case");
    let emergency = line.split_whitespace().last().and_then(|code| code.split('/').next()).expect("a code").to_owned();
    for code in [&running, &closed] {
        good("08:00", &["record", "start", code]);
    }
    good("08:02", &["record", "stop", &closed]);
    good(
        "08:04",
        &[
            "record",
            "close",
            &closed,
            "--left",
            "48.9 mL",
            "--in-line",
            "0.9 mL",
            "--discarded",
            "0 mL",
            "--reason",
            "as found",
        ],
    );
    good("08:05", &["record", "rate", &running, "6 mL/h"]);
    let driver = "1: noradrenaline, 80 mcg/mL, 6 mL/h";
    let round = ["case", "round", &running, "--driver", driver, "--as", TAMM.0];
    let said = theatre.says("08:10", &[TAMM.1], &round);
    assert_eq!(said.code, 0, "{said:?}");
    good("08:11", &["case", "sign-round", &running]);
    weighed(&theatre, &recounted, "80 kg");
    weighed(&theatre, &back, "95 kg");
    let said = theatre.says(
        "08:30",
        &[IDOWU.1, TAMM.1, forgotten.as_str()],
        &["case", "forget", &forgotten, "--as", IDOWU.0, "--and", TAMM.0],
    );
    assert_eq!(said.code, 0, "{said:?}");
    // By a clock that is behind: such an event says the floor of time itself.
    good("08:15", &["record", "pause", &running]);
    good("08:16", &["record", "resume", &running]);
    theatre.is_whole();
    let cases = vec![
        ("waiting", waiting),
        ("agreed", agreed),
        ("running", running),
        ("closed", closed),
        ("recounted", recounted),
        ("back", back),
        ("forgotten", forgotten),
        ("emergency", emergency),
    ];
    (theatre, cases)
}

/// With `COUNTERSIGN_GOLDEN=FOLDER` the journal of the present form is left there, to be kept for later programs.
#[test]
fn a_journal_of_the_present_form_can_be_kept() {
    let (theatre, cases) = present("present-form");
    let list: String = cases.iter().map(|(left_as, code)| format!("{left_as} {code}\n")).collect();
    fs::write(theatre.journal.join("cases.txt"), list).expect("ours");
    assert!(theatre.exported().contains(r#"{\"v\":3"#), "one event says the floor of time");
    if let Some(folder) = std::env::var_os("COUNTERSIGN_GOLDEN") {
        copy(&theatre.journal, Path::new(&folder));
    }
}

/// A weight that was counted in, one that was not, and a round: all are read as they were written.
// hazard: H-WEIGHT
#[test]
fn what_was_counted_again_and_read_on_a_round_is_read_still() {
    let (theatre, cases) = kept("envelope-3");
    let copied = folder("envelope-3-recounts");
    copy(&theatre.journal, &copied.join("journal"));
    let theatre = Theatre { journal: copied.join("journal"), ..theatre };
    let card = |left_as: &str| theatre.says("09:10", &[], &["case", "card", &format!("{}/1", cases[left_as])]);
    let counted = card("recounted");
    assert!(counted.stdout.contains("COUNTED AGAIN: 5.1 -> 4.8 mL/h"), "{counted:?}");
    refused(&card("back"), "weight-changed");
    let set_up = format!("{}/1", cases["recounted"]);
    let start = theatre.says("09:11", &[IDOWU.1], &["record", "start", &set_up, "--as", IDOWU.0]);
    assert!(start.code == 0 && start.stdout.contains("4.8 mL/h"), "{start:?}");
    let shown = theatre.says("09:12", &[], &["journal", "show", &cases["running"]]).stdout;
    assert!(shown.contains("round") && shown.contains("clock uncertain"), "{shown}");
    let audit = run(["journal", "verify", "--decisions", "--journal"]).arg(&theatre.journal).said();
    assert_eq!(audit.code, 0, "{audit:?}");
    theatre.is_whole();
}
