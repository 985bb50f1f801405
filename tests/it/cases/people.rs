//! Who may sign: everybody but the first is vouched for, PINs are hard to guess, and a retired person signs nothing more.

use std::time::{Duration, Instant};

use crate::common;

use super::{IDOWU, OKORO, TAMM, Theatre, at, first, holds, refused, run};

fn empty(name: &str) -> Theatre {
    let journal = common::folder(name).join("journal");
    let made = run(["journal", "create"]).arg(&journal).arg("--demonstration").arg("--at").arg(at("06:00")).said();
    assert_eq!(made.code, 0, "{made:?}");
    Theatre { journal, formulary: "formulary".to_owned() }
}

// hazard: H-INDEPENDENCE
#[test]
fn the_first_person_needs_nobody_and_everybody_later_needs_somebody() {
    let theatre = empty("vouching");
    let words = ["people", "add", "A. Idowu", "--role", "anaesthetist"];
    let said = theatre.says("06:01", &["281940", "281940"], &words);
    assert_eq!((said.code, said.stdout.as_str()), (0, "Added: A. Idowu, anaesthetist.\n"), "{said:?}");
    let words = ["people", "add", "M. Tamm", "--role", "nurse"];
    let said = theatre.says("06:02", &["391857", "391857"], &words);
    assert!(refused(&said, "nobody-vouches").contains("--as"), "{said:?}");
    let by_stranger = [&words[..], &["--as", "P. Nobody"]].concat();
    refused(&theatre.says("06:02", &["391857", "391857", "391857"], &by_stranger), "person-unknown");
    // By a name as it is heard, with the right PIN.
    let vouched = [&words[..], &["--as", "dr idowu, a"]].concat();
    let said = theatre.says("06:02", &["281940", "391857", "391857"], &vouched);
    assert_eq!(said.code, 0, "{said:?}");
    let list = theatre.data("06:03", &[], &["people", "list"]);
    let names: Vec<_> = list["people"].as_array().expect("a list").iter().map(|one| &one["name"]).collect();
    assert_eq!(names, ["A. Idowu", "M. Tamm"]);
}

#[test]
fn an_easy_or_short_pin_a_pin_typed_differently_and_an_unknown_role_are_refused() {
    let theatre = Theatre::new("pins");
    let before = theatre.events();
    for (pin, again, code) in [
        ("12345", "12345", "pin-short"),
        ("123456", "123456", "pin-easy"),
        ("987654", "987654", "pin-easy"),
        ("444444", "444444", "pin-easy"),
        ("603917", "603971", "pin-typed-differently"),
        ("", "", "pin-short"),
    ] {
        let words = ["people", "add", "C. Vance", "--role", "nurse", "--as", IDOWU.0];
        let said = theatre.says("06:10", &[IDOWU.1, pin, again], &words);
        refused(&said, code);
    }
    let words = ["people", "add", "C. Vance", "--role", "surgeon", "--as", IDOWU.0];
    assert!(refused(&theatre.says("06:10", &[IDOWU.1], &words), "word-unknown").contains("nurse anaesthetist"));
    let long = "x".repeat(81);
    for (name, code) in [
        ("", "name-empty"),
        ("  ", "name-empty"),
        ("7", "name-empty"),
        ("C.\u{1b}[2J Vance", "name-not-plain"),
        ("C. \u{202e}Vance", "name-not-plain"),
        (&long, "name-long"),
    ] {
        let words = ["people", "add", name, "--role", "nurse", "--as", IDOWU.0];
        refused(&theatre.says("06:10", &[IDOWU.1, "603917", "603917"], &words), code);
    }
    assert_eq!(theatre.events(), before);
}

// hazard: H-INDEPENDENCE
#[test]
fn the_same_name_is_one_person() {
    let theatre = Theatre::new("one-name");
    for name in ["A. Idowu", "a idowu", "Idowu, A.", "Dr  A. Ídowu", "А. Idowu"] {
        let words = ["people", "add", name, "--role", "nurse", "--as", TAMM.0];
        let said = theatre.says("06:10", &[TAMM.1, "603917", "603917"], &words);
        refused(&said, "person-twice");
    }
}

// hazard: H-INDEPENDENCE
#[test]
fn a_retired_person_signs_nothing_more_and_what_they_signed_stays() {
    let theatre = Theatre::new("retired");
    let code = theatre.case();
    assert_eq!(theatre.enters("07:40", TAMM, "enter", &code, &first()).code, 0);
    let retire = ["people", "retire", TAMM.0, "--as", IDOWU.0];
    let said = theatre.says("07:41", &[IDOWU.1], &retire);
    assert_eq!((said.code, said.stdout.as_str()), (0, "Retired: M. Tamm. What they signed stays.\n"), "{said:?}");
    refused(&theatre.says("07:41", &[IDOWU.1], &retire), "person-unknown");
    let said = theatre.enters("07:42", TAMM, "second", &code, &first());
    assert!(refused(&said, "person-unknown").contains("retired"), "{said:?}");
    refused(&theatre.says("07:42", &[TAMM.1], &["case", "open", "--as", TAMM.0]), "person-unknown");
    theatre.is_whole();
    // A name stands for one key for ever.
    let words = ["people", "add", "M. Tamm", "--role", "nurse", "--as", IDOWU.0];
    refused(&theatre.says("07:43", &[IDOWU.1, "603917", "603917"], &words), "person-twice");
    let said = theatre.enters("07:45", OKORO, "second", &code, &super::second());
    assert_eq!(said.code, 0, "{said:?}");
    theatre.is_whole();
    assert!(theatre.says("07:46", &[], &["people", "list"]).stdout.contains("M. Tamm, nurse anaesthetist, since"));
}

// hazard: H-INDEPENDENCE
#[test]
fn a_wrong_pin_is_written_down_once_a_minute_and_slows_the_next() {
    let theatre = Theatre::new("wrong-pin");
    let wrong = |clock: &str| {
        let (events, begun) = (theatre.events(), Instant::now());
        let said = theatre.says(clock, &["281941"], &["case", "open", "--as", IDOWU.0]);
        let took = begun.elapsed();
        assert!(refused(&said, "pin-wrong").contains("A. Idowu"), "{said:?}");
        assert!(!said.stderr.contains("281941"), "{said:?}");
        (theatre.events() - events, took)
    };
    let (written, took) = wrong("07:00");
    assert_eq!(written, 1);
    assert!(took >= Duration::from_secs(1), "{took:?}");
    // In the same minute nothing more is written, and the answer comes later than the first one did.
    let (written, took) = wrong("07:00");
    assert_eq!(written, 0);
    assert!(took >= Duration::from_secs(2), "{took:?}");
    // Somebody else does not wait for it, and the right PIN is not slowed down.
    for who in [TAMM, IDOWU] {
        let begun = Instant::now();
        let said = theatre.says("07:01", &[who.1], &["case", "open", "--as", who.0]);
        assert_eq!(said.code, 0, "{said:?}");
        assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
    }
    theatre.is_whole();
}

#[test]
fn a_changed_pin_is_the_only_one_that_opens() {
    let theatre = Theatre::new("changed-pin");
    let words = ["people", "pin", "--as", OKORO.0];
    refused(&theatre.says("06:10", &[OKORO.1, "111111", "111111"], &words), "pin-easy");
    let said = theatre.says("06:10", &[OKORO.1, "a far green hill", "a far green hill"], &words);
    assert_eq!((said.code, said.stdout.as_str()), (0, "The PIN of B. Okoro is changed.\n"), "{said:?}");
    refused(&theatre.says("06:11", &[OKORO.1], &["case", "open", "--as", OKORO.0]), "pin-wrong");
    let said = theatre.says("06:12", &["a far green hill"], &["case", "open", "--as", OKORO.0]);
    assert_eq!(said.code, 0, "{said:?}");
    theatre.is_whole();
}

#[test]
fn no_pin_is_kept_or_said_or_taken_from_the_command_line() {
    let theatre = Theatre::new("no-pin");
    let code = theatre.case();
    let said = theatre.enters("07:40", TAMM, "enter", &code, &first());
    assert_eq!(said.code, 0, "{said:?}");
    let exported = theatre.exported();
    for text in [exported.as_bytes(), &theatre.bytes(), said.stdout.as_bytes(), said.stderr.as_bytes()] {
        assert!(!holds(text, TAMM.1));
    }
    for command in ["case open", "case enter", "case second", "case weight", "case forget", "people add", "people pin"]
    {
        let help = run(command.split(' ').chain(["--help"])).said().stdout;
        assert!(!help.contains("--pin"), "{help}");
    }
}

/// Each is built whole to explain itself: two arguments of one name, for one, end the program.
#[test]
fn every_command_explains_itself() {
    fn explains(words: &[String], seen: &mut Vec<String>) {
        let said = run(words.iter().map(String::as_str).chain(["--help"])).said();
        assert!(said.code == 0 && said.stderr.is_empty(), "{words:?}: {said:?}");
        seen.push(words.join(" "));
        let listed = said.stdout.lines().skip_while(|line| *line != "Commands:").skip(1);
        for line in listed.take_while(|line| line.starts_with("  ")).filter(|line| !line.starts_with("   ")) {
            let name = line.split_whitespace().next().expect("a name").to_owned();
            explains(&[words, &[name]].concat(), seen);
        }
    }
    let mut seen = Vec::new();
    explains(&[], &mut seen);
    for command in ["people retire", "case second", "journal verify"] {
        assert!(seen.iter().any(|one| one == command), "{command}: {seen:?}");
    }
}

// hazard: H-EMERGENCY
#[test]
fn an_emergency_card_is_shown_for_a_journal_that_cannot_be_opened() {
    let theatre = Theatre::new("damaged");
    let database = theatre.journal.join("journal.db");
    let whole = std::fs::read(&database).expect("it was made");
    let words = ["case", "emergency", "--by", "C. Vance", "--role", "anaesthetist", "--from"];
    let file = theatre.file("emergency.yaml", &first());
    let words = [&words[..], &[file.as_str()]].concat();
    let mut damaged = whole.clone();
    damaged[4_096..8_192].fill(7);
    std::fs::write(&database, damaged).expect("room");
    let said = theatre.says("07:50", &[], &words);
    assert_eq!(said.code, 0, "{said:?}");
    let shown = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for says in ["NOT RECORDED", "NOT DOUBLE-CHECKED", "5.1 mL/h", "is written down when that is possible again"] {
        assert!(shown.contains(says), "{says}: {said:?}");
    }
    std::fs::write(&database, whole).expect("room");
    let before = theatre.events();
    // The next command that enters anything writes it down first.
    assert_eq!(theatre.says("07:55", &[], &words).code, 0);
    let listed = theatre.data("07:56", &[], &["case", "list"]);
    assert_eq!(listed["set_ups"].as_array().map(Vec::len), Some(2), "{listed}");
    assert!(theatre.events() > before);
    theatre.is_whole();
}
