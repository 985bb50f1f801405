//! Several at once: threads and processes each append, one after another, and of two who send the same one is first.

use std::io::Read as _;
use std::process::Stdio;
use std::thread;

use countersign::journal::{Event, Journal, JournalError, Of};
use serde_json::json;

use super::{create, given_folder, itself, note, now, place, write};

const EACH: usize = 60;

// hazard: H-RECORD
#[test]
fn threads_and_processes_append_one_after_another() {
    let folder = create("appenders").folder().to_owned();
    let processes: Vec<_> = (0..2)
        .map(|_| itself("journal::together::appender", &folder).stdout(Stdio::piped()).spawn().expect("it runs"))
        .collect();
    thread::scope(|scope| {
        for thread in 0..2 {
            let folder = &folder;
            scope.spawn(move || append(folder, &format!("thread-{thread}")));
        }
        // A reader sees a whole journal each time: no event that is written in between looks like a gap.
        let folder = &folder;
        scope.spawn(move || {
            let journal = Journal::open(folder).expect("it was made");
            for of in [Of::Scope("thread-0"), Of::Kind("noted"), Of::All].into_iter().cycle().take(400) {
                journal.events(of).expect("it is whole");
                journal.head().expect("it is whole");
            }
        });
    });
    for mut process in processes {
        let mut said = String::new();
        process.stdout.take().expect("piped").read_to_string(&mut said).expect("it is text");
        assert!(process.wait().expect("it is our child").success(), "{said}");
    }
    let journal = Journal::open(&folder).expect("it was made");
    assert_eq!(journal.verify(&[], &mut |_, _| {}).expect("whole").head.seq, 1 + 4 * EACH as u64);
    let events = journal.events(Of::Kind("noted")).expect("a journal");
    let mut writers: Vec<&str> = events.iter().filter_map(Event::scope).collect();
    writers.sort_unstable();
    writers.dedup();
    assert_eq!(writers.len(), 4);
    // What each of them wrote is there whole, in the order in which it was written.
    for writer in writers {
        let own =
            events.iter().filter(|event| event.scope() == Some(writer)).map(|event| event.body()["number"].clone());
        assert_eq!(own.collect::<Vec<_>>(), (0..EACH).map(|number| json!(number)).collect::<Vec<_>>(), "{writer}");
    }
}

#[test]
#[ignore = "run by another test, as a process of its own"]
fn appender() {
    if let Some(folder) = given_folder() {
        append(&folder, &format!("process-{}", std::process::id()));
    }
}

fn append(folder: &std::path::Path, name: &str) {
    let mut journal = Journal::open(folder).expect("it was made");
    for number in 0..EACH {
        write(&mut journal, now(), vec![note(name, None, json!({"number": number}))]).expect("each gets its turn");
    }
}

// hazard: H-RECORD
#[test]
fn of_those_who_send_the_same_one_is_first() {
    let folder = create("claims").folder().to_owned();
    let won: Vec<bool> = thread::scope(|scope| {
        let claim = || {
            let mut journal = Journal::open(&folder).expect("it was made");
            (0..20).map(|case| claimed(&mut journal, &format!("case-{case}"))).collect::<Vec<bool>>()
        };
        let threads: Vec<_> = (0..4).map(|_| scope.spawn(claim)).collect();
        threads.into_iter().flat_map(|thread| thread.join().expect("it only writes")).collect()
    });
    assert_eq!((won.len(), won.iter().filter(|won| **won).count()), (80, 20));
    let journal = Journal::open(&folder).expect("it was made");
    for case in 0..20 {
        assert_eq!(journal.events(Of::Scope(&format!("case-{case}"))).expect("a journal").len(), 1);
    }
}

#[test]
fn of_those_who_make_the_same_journal_one_does() {
    let folder = place("made-twice");
    let made = thread::scope(|scope| {
        let make = || Journal::create(&folder, true, now()).map(|journal| journal.id().to_owned());
        let threads: Vec<_> = (0..4).map(|_| scope.spawn(make)).collect();
        threads.into_iter().map(|thread| thread.join().expect("it only makes")).collect::<Vec<_>>()
    });
    let ids: Vec<&String> = made.iter().filter_map(|made| made.as_ref().ok()).collect();
    let journal = Journal::open(&folder).expect("one was made");
    assert_eq!(ids, [journal.id()]);
    let there = |made: &Result<String, JournalError>| matches!(made, Err(JournalError::AlreadyThere { .. }));
    assert_eq!(made.iter().filter(|made| there(made)).count(), 3, "{made:?}");
    let beside = std::fs::read_dir(folder.parent().expect("it has one")).expect("ours");
    assert_eq!(beside.count(), 1, "nothing half made is left");
}

/// It may be handed from thread to thread.
const _: fn() = || {
    fn is_send<T: Send>() {}
    is_send::<Journal>();
};

fn claimed(journal: &mut Journal, case: &str) -> bool {
    let claim = journal.write(now(), |past| {
        let taken = !past.events(Of::Scope(case))?.is_empty();
        Ok::<_, JournalError>((if taken { vec![] } else { vec![note(case, None, json!({}))] }, !taken))
    });
    claim.expect("each gets its turn")
}
