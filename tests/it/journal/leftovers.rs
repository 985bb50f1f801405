//! What is left behind, and what can only be read.

use std::fs;
use std::time::{Duration, SystemTime};

use countersign::journal::{Journal, sweep_half_made};
use serde_json::json;

use super::{create, note, now, write};

fn aged(path: &std::path::Path) {
    let file = fs::File::options().write(true).open(path).expect("it is there");
    file.set_modified(SystemTime::now() - Duration::from_hours(1)).expect("it is ours");
}

#[test]
fn copies_that_a_killed_process_left_are_swept_and_those_in_use_stay() {
    let journal = create("leftovers");
    let folder = journal.folder();
    let [left, held, young, other] =
        [".snapshot.00112233aabbccdd", ".snapshot.0011223344556677", ".snapshot.8899aabbccddeeff", ".snapshot.mine"]
            .map(|name| folder.join(name));
    for path in [&left, &held, &young, &other] {
        fs::write(path, "a database").expect("room");
    }
    let key = folder.join("case-keys/0123.new");
    fs::write(&key, "a key").expect("room");
    [&left, &held, &other, &key].into_iter().for_each(|path| aged(path));
    let lock = fs::File::open(&held).expect("it is there");
    lock.try_lock().expect("nobody else has it");
    sweep_half_made(folder);
    assert_eq!([&left, &held, &young, &other, &key].map(|path| path.exists()), [false, true, true, true, false]);
}

#[test]
fn a_journal_on_a_read_only_medium_is_verified() {
    let mut journal = create("read-only");
    write(&mut journal, now(), vec![note("K7M4QX", None, json!({"number": 1}))]).expect("room");
    let (folder, head) = (journal.folder().to_owned(), journal.head().expect("a journal"));
    // While events wait in the log beside the file, a reader of the file alone would miss them.
    assert!(Journal::open_to_read(&folder).is_err());
    drop(journal);
    let journal = Journal::open_to_read(&folder).expect("it was closed");
    assert_eq!(journal.verify(&[], &mut |_, _| {}).expect("it is whole").head, head);
    let mut journal = journal;
    assert!(write(&mut journal, now(), vec![note("K7M4QX", None, json!({}))]).is_err());
}
