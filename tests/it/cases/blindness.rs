//! Whatever the first person has sealed, everybody else reads the same until a second one has sealed theirs.

use rstest::rstest;

use super::{IDOWU, OKORO, TAMM, Theatre, by_rate, changed, first, without_author};
use crate::common::{example, tools::thorough};

/// First entries that differ in every way that could show: the kind of amount, what it counts by, what is missing, what
/// stops, what needs a reason.
fn entries() -> Vec<(&'static str, String)> {
    let plain = first();
    let with = |changes: &[(&str, &str)]| changed(&plain, changes);
    vec![
        ("as ordered", plain.clone()),
        ("tenfold", with(&[("\ndose: 0.08", "\ndose: 0.8")])),
        ("beyond the hard limit", with(&[("\ndose: 0.08", "\ndose: 8")])),
        ("uncomputable", with(&[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.08 units/kg/min")])),
        (
            "another strength",
            with(&[
                ("amount: 4 mg", "amount: 8 mg"),
                ("strength: 80 mcg/mL", "strength: 160 mcg/mL"),
                ("ampoules: 4", "ampoules: 8"),
            ]),
        ),
        ("pending identifiers", with(&[("identifiers: [\"1959-08-02\", \"QM-30417\"]", "identifiers: pending")])),
        ("units, not by weight", by_rate()),
        ("a child, with reasons", without_author(&example("child-sedation/first.yaml"))),
        ("no such drug", with(&[("drug: noradrenaline", "drug: noradrenalin")])),
        ("planted", with(&[("QM-30417", "ZZ-PLANTED"), ("\ndose: 0.08", "\ndose: 0.0731"), ("84.2 kg", "91.7 kg")])),
        ("soon discarded", with(&[("drawn_up_at: 2026-03-14T07:35", "drawn_up_at: 2026-03-13T09:05")])),
    ]
}

/// What anybody may try while the second entry is awaited.
pub(super) fn tries(
    set_up: &str,
    case: &str,
    starter: Option<super::Who>,
) -> Vec<(&'static str, Vec<String>, Vec<String>)> {
    let mut all: Vec<(&str, Vec<&str>, Vec<&str>)> = Vec::new();
    let looks = |all: &mut Vec<(&'static str, Vec<&'static str>, Vec<&str>)>, clock| {
        for words in [
            vec!["case", "status", "CASE"],
            vec!["case", "list"],
            vec!["case", "list", "--owed"],
            vec!["case", "list", "--format", "json"],
            vec!["case", "card", "SETUP"],
            vec!["record", "show", "SETUP"],
            vec!["record", "show", "SETUP", "--format", "json"],
            vec!["dose", "--case", "SETUP"],
            vec!["journal", "show", "CASE"],
        ] {
            all.push((clock, Vec::new(), words));
        }
    };
    looks(&mut all, "07:42");
    for who in [TAMM, OKORO, IDOWU] {
        let by = |words: &[&'static str]| [words, &["--as", who.0]].concat();
        all.push(("07:43", vec![who.1], by(&["record", "start", "SETUP"])));
        all.push(("07:43", vec![who.1], by(&["record", "start", "SETUP", "--rate", "5 mL/h"])));
        all.push(("07:43", vec![who.1], by(&["record", "stop", "SETUP"])));
        all.push(("07:43", vec![who.1, "5 mL/h", "", ""], by(&["case", "readback", "SETUP"])));
        all.push(("07:43", vec![who.1, "80 kg", "measured", "seal"], by(&["case", "weight", "CASE"])));
    }
    if let Some(who) = starter {
        let by = |words: &[&'static str]| [words, &["--as", who.0]].concat();
        for (clock, words) in [
            ("07:50", vec!["record", "start", "SETUP", "--rate", "5 mL/h", "--even-so", "--reason", "pressure fell"]),
            ("07:51", vec!["record", "rate", "SETUP", "7 mL/h"]),
            ("07:52", vec!["record", "bolus", "SETUP", "5 units", "--even-so"]),
            ("07:52", vec!["record", "bolus", "SETUP", "0.5 mg/kg", "--even-so"]),
            ("07:53", vec!["record", "bolus", "SETUP", "1 mL", "--even-so"]),
            ("07:54", vec!["record", "rate", "SETUP", "400 mL/h", "--even-so"]),
            ("07:55", vec!["record", "rate", "SETUP", "6 mL/h", "--even-so"]),
        ] {
            all.push((clock, vec![who.1], by(&words)));
        }
        all.push(("07:56", vec![who.1, "6 mL/h", "", ""], by(&["case", "readback", "SETUP"])));
        all.push(("07:56", vec![who.1, "80 kg", "measured", "seal"], by(&["case", "weight", "CASE"])));
        looks(&mut all, "19:30");
        for (clock, words) in [
            ("19:31", vec!["record", "pause", "SETUP"]),
            ("19:32", vec!["record", "resume", "SETUP"]),
            ("19:33", vec!["record", "stop", "SETUP"]),
        ] {
            all.push((clock, vec![who.1], by(&words)));
        }
        let close = ["record", "close", "SETUP", "--left", "1 mL", "--in-line", "0 mL", "--discarded", "0 mL"];
        all.push(("19:34", vec![who.1], by(&close)));
        looks(&mut all, "19:40");
    }
    let named = |words: Vec<&str>| {
        let name = |word: &str| match word {
            "CASE" => case.to_owned(),
            "SETUP" => set_up.to_owned(),
            other => other.to_owned(),
        };
        words.into_iter().map(name).collect()
    };
    let own = |typed: Vec<&str>| typed.into_iter().map(str::to_owned).collect();
    all.into_iter().map(|(clock, typed, words)| (clock, own(typed), named(words))).collect()
}

/// A journal in which the first person has sealed an entry of this form, and its case.
fn sealed(name: &str, form: &str) -> (Theatre, String) {
    let theatre = Theatre::new(&format!("blind-{}", name.replace([' ', ','], "-")));
    let case = theatre.case();
    let sealed = theatre.enters("07:40", IDOWU, "enter", &case, form);
    assert!([0, 3, 4].contains(&sealed.code), "{name}: {sealed:?}");
    assert!(sealed.stdout.contains("a second person enters next"), "{name}: {sealed:?}");
    (theatre, case)
}

/// For the pages and for programs: each kind of first entry, the folder of a journal in which it was sealed, and its case.
#[cfg(feature = "web")]
pub(crate) fn each_sealed(
    prefix: &str,
    some: usize,
) -> impl Iterator<Item = (&'static str, std::path::PathBuf, String)> {
    entries().into_iter().take(some).map(move |(name, form)| {
        let (theatre, case) = sealed(&format!("{prefix} {name}"), &form);
        (name, theatre.journal, case)
    })
}

/// Every answer to every try, without the code that is drawn by lot for each case.
fn answers(name: &str, form: &str, starter: Option<super::Who>) -> Vec<(String, i32, String, String)> {
    let (theatre, case) = sealed(name, form);
    let set_up = format!("{case}/1");
    let tries = tries(&set_up, &case, starter);
    let answer = |(clock, typed, words): &(&str, Vec<String>, Vec<String>)| {
        let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let said = theatre.says(clock, &typed, &words);
        let same = |text: &str| text.replace(&case, "CASE-ONE");
        (same(&words.join(" ")), said.code, same(&said.stdout), same(&said.stderr))
    };
    let sizes = sizes(&theatre.journal);
    let mut answers: Vec<_> = tries.iter().map(answer).collect();
    answers.push(("the sizes of all files".to_owned(), 0, sizes, String::new()));
    theatre.is_whole();
    answers
}

/// How large each file of a journal is, in some order that tells nothing.
pub(super) fn sizes(journal: &std::path::Path) -> String {
    let files = |folder: &std::path::Path| -> Vec<u64> {
        let entries = std::fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").metadata());
        entries
            .map(|metadata| metadata.expect("a file"))
            .filter(std::fs::Metadata::is_file)
            .map(|file| file.len())
            .collect()
    };
    let mut sizes = files(journal);
    sizes.extend(files(&journal.join("case-keys")));
    sizes.sort_unstable();
    format!("{sizes:?}")
}

// hazard: H-INDEPENDENCE
#[rstest]
#[case::by_nobody(None)]
#[case::by_the_second(Some(TAMM))]
#[case::by_a_third(Some(OKORO))]
fn no_answer_depends_on_what_is_sealed(#[case] starter: Option<super::Who>) {
    // In part of the run only the second person starts; the others differ in the name alone.
    let all = if starter == Some(TAMM) { 11 } else { thorough(11, 3) };
    let mut entries = entries().into_iter().take(all);
    let (name, form) = entries.next().expect("one");
    let who = starter.map_or("nobody", |who| who.0);
    let expected = answers(&format!("{name} {who}"), &form, starter);
    assert!(expected.iter().any(|(words, code, ..)| words.starts_with("record start") && *code == 2));
    assert!(starter.is_none() || expected.iter().any(|(words, code, ..)| words.contains("--even-so") && *code == 0));
    for (name, form) in entries {
        for (one, other) in answers(&format!("{name} {who}"), &form, starter).iter().zip(&expected) {
            assert_eq!(one, other, "{name}: what is sealed shows");
        }
    }
}
