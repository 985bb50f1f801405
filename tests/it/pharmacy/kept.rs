//! Formularies and entries that a journal keeps: compared by fingerprint, replayed once they are settled.

use std::path::PathBuf;

use countersign::case::{Author, Cases, Role, SubmittedForm, Turn, add, unlock};
use countersign::formulary::Formulary;
use countersign::journal::Journal;
use countersign::quantity::Moment;

use crate::common::{example, folder, run};
use crate::pharmacy::house::House;

const PIN: &str = "314159";

fn moment(minute: u8) -> Moment {
    Moment::parse(&format!("2026-03-14T07:{minute}:00+00:00")).expect("a moment")
}

/// A journal with these pairs of examples sealed, one case each; a missing second entry stays missing.
fn journal(name: &str, pairs: &[(&str, Option<&str>)]) -> PathBuf {
    let place = folder(name).join("journal");
    let mut journal = Journal::create(&place, true, moment(40)).expect("our own folder");
    add(&mut journal, moment(40), None, "A. Idowu", Role::Anaesthetist, PIN).expect("the first person");
    let (_, signer) = unlock(&mut journal, moment(40), "A. Idowu", PIN).expect("the PIN is right");
    add(&mut journal, moment(40), Some(&signer), "B. Renner", Role::Anaesthetist, PIN).expect("a second person");
    let mut cases = Cases::of(journal);
    let formulary = Formulary::demonstration().expect("it has no fault");
    for (first, second) in pairs {
        let (_, signer) = unlock(cases.journal_mut(), moment(41), "A. Idowu", PIN).expect("the PIN is right");
        let code = cases.open(moment(41), Some(&signer)).expect("room");
        for (who, turn, file, minute) in
            [("A. Idowu", Turn::First { anew: false }, Some(*first), 45), ("B. Renner", Turn::Second, *second, 50)]
        {
            let Some(file) = file else { continue };
            let (person, signer) = unlock(cases.journal_mut(), moment(minute), who, PIN).expect("the PIN is right");
            let author = Author::Signed(&person, &signer);
            let number = (turn == Turn::Second).then_some(1);
            let task = cases.task((code, number), turn, &author, moment(minute)).expect("their turn");
            let form =
                SubmittedForm { name: file.to_owned(), text: unsigned(&example(file)), json: false, dose_again: None };
            cases.seal(&task, &form, &author, &formulary, moment(minute)).expect("a good form");
        }
    }
    place
}

/// Who enters it is known from who signs it.
fn unsigned(text: &str) -> String {
    let mut within = false;
    let mut kept = String::new();
    for line in text.lines() {
        within = line.starts_with("entered_by") || line.starts_with("entered_at") || (within && line.starts_with(' '));
        if !within {
            kept += line;
            kept.push('\n');
        }
    }
    kept
}

const AGREED: (&str, Option<&str>) = ("adult-vasopressor/first.yaml", Some("adult-vasopressor/second.yaml"));
const STOPPED: (&str, Option<&str>) =
    ("adult-vasopressor/stopped-first.yaml", Some("adult-vasopressor/stopped-second.yaml"));
const WAITING: (&str, Option<&str>) = ("child-sedation/first.yaml", None);

// hazard: H-LIMITS
#[test]
fn a_kept_formulary_is_found_by_its_fingerprint() {
    let journal = journal("kept", &[WAITING]);
    let fingerprint = Formulary::demonstration().expect("it has no fault").fingerprint().to_string();
    let new = House::demonstration()
        .change(
            "drugs/noradrenaline.yaml",
            "hard: {to: 120 mL/h, source: demonstration value}",
            "hard: {to: 110 mL/h, source: demonstration value}",
        )
        .into_folder(folder("kept-new"));
    for digits in [8, 12, 64] {
        let said = run(["formulary", "diff", &fingerprint[..digits]]).arg(&new).arg("--journal").arg(&journal).said();
        assert_eq!(said.code, 0, "{said:?}");
        assert!(said.stdout.split_whitespace().collect::<Vec<_>>().join(" ").contains("one change. Limits that let less through (1) noradrenaline, adult theatre, vasopressor: hard, rate: upper limit 120 -> 110 mL/h"), "{said:?}");
    }
    let none = run(["formulary", "diff", "00000000", "demonstration", "--journal"]).arg(&journal).said();
    assert!(none.is_refused().contains("keeps no formulary"), "{none:?}");
}

// hazard: H-INDEPENDENCE
#[test]
fn only_what_is_settled_is_replayed() {
    let journal = journal("settled", &[AGREED, STOPPED, WAITING]);
    let said =
        run(["formulary", "replay", "demonstration", "--against", "demonstration", "--format", "json", "--journal"])
            .arg(&journal)
            .said();
    assert_eq!(said.code, 0, "{said:?}");
    let data = said.json();
    assert_eq!((data["set_ups"].as_u64(), data["unreadable"].as_u64()), (Some(2), Some(0)), "{data}");
    // A first entry that waits for its second must not be told by its drug.
    assert!(!said.stdout.contains("\"drug\":\"midazolam\""), "{said:?}");
    let stopped = data["verdicts"].as_array().expect("a list");
    assert!(stopped.iter().any(|one| one["now"] == "stopped" && one["set_ups"] == 1), "{data}");
}
