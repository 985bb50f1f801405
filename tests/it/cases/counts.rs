//! What is kept for the counts of cases that are over: the same as is worked out from every event, proved where it is read,
//! and unreadable with the rest of a case that is forgotten.

use countersign::case::{CaseCode, Cases};
use countersign::journal::{Of, Scoped};
use countersign::pharmacy::alerts::{Alerts, Selection};

use super::open_cases::NOON;
use super::{Theatre, moment, run};

fn counts(theatre: &Theatre, clock: &str) -> String {
    counted(&theatre.cases(), clock)
}

fn counted(cases: &Cases, clock: &str) -> String {
    format!("{:?}", Alerts::of(cases, Selection::default(), moment(clock)).expect("a journal"))
}

fn kept(theatre: &Theatre) -> i64 {
    let sql = "SELECT count(*) FROM scope_projection";
    theatre.database().query_row(sql, [], |row| row.get(0)).expect("SQLite")
}

fn scope(code: &str) -> String {
    CaseCode::parse(code).expect("a code").scope()
}

// hazard: H-RECORD
#[test]
fn the_counts_of_cases_that_are_over_are_kept_and_are_those_of_every_event() {
    let theatre = Theatre::new("counts");
    for _ in 0..2 {
        theatre.closed();
    }
    theatre.started();
    theatre.reopened();
    let gone = theatre.closed();
    assert_eq!(kept(&theatre), 3, "the closed ones, and none that is not over");
    theatre.forgotten(gone);
    assert_eq!(kept(&theatre), 2);
    let said = [NOON, "08:35"].map(|clock| counts(&theatre, clock));
    theatre.is_whole();
    theatre.tampered("DELETE FROM scope_projection");
    assert_eq!([NOON, "08:35"].map(|clock| counts(&theatre, clock)), said);
    // Nothing is lost with them, and an upgrade keeps them again.
    theatre.is_whole();
    assert_eq!(theatre.says(NOON, &[], &["journal", "upgrade"]).code, 0);
    assert_eq!(kept(&theatre), 2);
    assert_eq!([NOON, "08:35"].map(|clock| counts(&theatre, clock)), said);
}

// hazard: H-RECORD
#[test]
fn what_is_kept_for_the_counts_is_read_and_held_against_the_events() {
    let theatre = Theatre::new("counts-held");
    let (one, other) = (theatre.closed(), theatre.closed());
    let cases = theatre.cases();
    let honest = counted(&cases, NOON);
    let text = cases.journal().look(|past| past.scoped(&scope(&one))).expect("a journal");
    let Scoped::Kept(text) = text else { panic!("{text:?}") };
    // The program itself keeps something else: the counts follow it, and the verification finds it.
    let head = cases.journal().head().expect("a journal");
    let rows = cases.journal().look(|past| past.projection("case")).expect("a journal").expect("it is whole");
    let rows: Vec<_> = rows
        .into_iter()
        .map(|(key, value)| countersign::journal::Projected { name: "case", key, value })
        .chain(edition(&cases))
        .collect();
    let nothing_said = text.split("\"outcomes\":").next().expect("a head").to_owned() + "\"outcomes\":[]}";
    assert_ne!(nothing_said, text);
    let doctored = [(scope(&one), Some(nothing_said)), (scope(&other), None)];
    assert!(cases.journal().replace_projection(head, &rows, &doctored).expect("room"));
    assert_ne!(counted(&cases, NOON), honest);
    let verify = |words: &[&str]| run(words).arg("--journal").arg(&theatre.journal).said();
    let said = verify(&["journal", "verify"]);
    assert!(said.code == 4 && said.stdout.contains(&format!("the counts of case {}", &one[..7])), "{said:?}");
    assert_eq!(verify(&["journal", "verify", "--mend"]).code, 0);
    assert_eq!((counted(&cases, NOON), kept(&theatre)), (honest.clone(), 2));

    // Without the key nobody makes one: another case's, or an earlier one of the same case, does not open.
    let exchanged = format!(
        "UPDATE scope_projection SET sealed = (SELECT sealed FROM scope_projection WHERE scope = '{}')",
        scope(&other)
    );
    theatre.tampered(&format!("{exchanged} WHERE scope = '{}'", scope(&one)));
    assert_eq!(counted(&cases, NOON), honest);
    assert_eq!(verify(&["journal", "verify"]).code, 4);
    assert_eq!(verify(&["journal", "verify", "--mend"]).code, 0);
    theatre.database().execute_batch("CREATE TABLE old AS SELECT * FROM scope_projection").expect("SQLite");
    let event = cases.journal().events(Of::Scope(&scope(&one))).expect("a journal").last().expect("its closing").seq();
    theatre.does("09:10", &["record", "reason", &one, "--event", &event.to_string(), "--reason", "seen again"]);
    let later = counted(&cases, NOON);
    theatre
        .database()
        .execute_batch("DELETE FROM scope_projection; INSERT INTO scope_projection SELECT * FROM old; DROP TABLE old;")
        .expect("SQLite");
    assert_eq!(counted(&cases, NOON), later);
    assert_eq!(verify(&["journal", "verify"]).code, 4);
}

fn edition(cases: &Cases) -> Vec<countersign::journal::Projected> {
    let rows = cases.journal().look(|past| past.projection("edition")).expect("a journal").expect("it is whole");
    let row = |(key, value)| countersign::journal::Projected { name: "edition", key, value };
    rows.into_iter().map(row).collect()
}

// hazard: H-RECORD
#[test]
fn a_verification_goes_on_from_the_last_one_and_the_whole_is_looked_through_on_demand() {
    let theatre = Theatre::new("counts-verified");
    let first = theatre.closed();
    let verify = |words: &[&str]| run(words).arg("--journal").arg(&theatre.journal).said();
    let events = theatre.events();
    let said = verify(&["journal", "verify", "--new"]);
    assert!(said.code == 0 && said.stdout.starts_with(&format!("{events} events,")), "never verified: {said:?}");
    theatre.started();
    let new = theatre.events() - events;
    let said = verify(&["journal", "verify", "--new"]);
    assert!(said.code == 0 && said.stdout.starts_with(&format!("{new} events,")), "{said:?}");
    assert!(said.stdout.contains(&format!("Read from event {} on", events + 1)), "{said:?}");
    // The note is the store's: a checkpoint in its place is none, nor one of another event.
    let note = theatre.journal.join("verified");
    let honest = std::fs::read_to_string(&note).expect("it was written");
    let checkpoint = verify(&["journal", "checkpoint"]).stdout;
    for forged in [checkpoint.as_str(), &honest.replace("\"seq\":", "\"seq\":1")] {
        std::fs::write(&note, forged).expect("ours");
        let said = verify(&["journal", "verify", "--new"]);
        assert!(said.code != 0 && said.stdout.is_empty(), "{forged}: {said:?}");
    }
    std::fs::write(&note, &honest).expect("ours");
    // What is new is held against its signatures and the chain.
    theatre.does("08:50", &["record", "reason", &first, "--event", &theatre.first_closing(), "--reason", "seen again"]);
    let last = theatre.events();
    let tamper = format!(
        "DROP TRIGGER event_is_not_changed; UPDATE event SET signature = zeroblob(64) WHERE seq = {last};
         CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
         BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;"
    );
    theatre.database().execute_batch(&tamper).expect("SQLite");
    let said = verify(&["journal", "verify", "--new"]);
    assert!(said.code == 4 && said.stdout.contains(&format!("event {last}")), "{said:?}");
}

// hazard: H-RECORD
#[cfg(feature = "backup")]
#[test]
fn what_was_backed_up_in_parts_comes_back_with_its_cases_and_counts() {
    use countersign::journal::{Journal, restore_all};
    const WORDS: &str = "four words drawn at random";
    let theatre = Theatre::new("counts-in-parts");
    let (closed, running) = (theatre.closed(), theatre.started());
    let journal = || Journal::open(&theatre.journal).expect("it was made");
    let file = |name: &str| theatre.journal.with_file_name(name);
    let (whole, then, last) = (file("whole.age"), file("then.age"), file("last.age"));
    journal().backup(&whole, WORDS, moment("08:25")).expect("room");
    theatre.does("08:30", &["record", "stop", &running]);
    theatre.closes(&running);
    let added = theatre.case();
    journal().backup_since(&whole, &then, WORDS, moment("08:45")).expect("room");
    theatre.forgotten(closed);
    let (since, made) = journal().backup_since(&then, &last, WORDS, moment("09:01")).expect("room");
    assert!(since.seq < made.head.seq && made.head == journal().head().expect("a journal"));
    let folder = file("restored");
    restore_all(&[whole, then, last], &folder, WORDS, None, moment("09:10"), &mut |_, _| {})
        .expect("they go on one after another");
    let restored = Theatre { journal: folder, formulary: theatre.formulary.clone() };
    restored.is_whole();
    super::open_cases::same_as_every_case(&restored.cases());
    assert_eq!((counts(&restored, NOON), kept(&restored)), (counts(&theatre, NOON), 1));
    let list = restored.says(NOON, &[], &["case", "list"]);
    assert!(list.code == 0 && list.stdout.contains(&added), "{list:?}");
}
