//! Events are read as they were written, in order, by whoever signed them.

use countersign::journal::{Event, Hash, Introduced, Journal, JournalError, NewEvent, Of};
use rusqlite::Connection;
use serde_json::json;

use super::{PIN, add_signer, at, create, filled, note, now, write};

// hazard: H-RECORD
#[test]
fn events_are_read_as_they_were_written() {
    let mut journal = create("as-written");
    let folder = journal.folder().to_owned();
    let (_, signer) = add_signer(&mut journal, "p-1");
    write(&mut journal, now(), vec![note("case-1", Some(&signer), json!({"a": "1.50 µg"}))]).expect("room");
    write(&mut journal, at("2026-03-14T09:00:05+01:00"), vec![note("case-2", None, json!({}))]).expect("room");
    let head = journal.head().expect("a journal");
    drop(journal);

    let journal = Journal::open(&folder).expect("it was made");
    assert!(journal.is_demonstration());
    assert_eq!(journal.head().expect("a journal"), head);
    let events = journal.events(Of::All).expect("a journal");
    assert_eq!(events.iter().map(Event::seq).collect::<Vec<_>>(), [1, 2, 3, 4]);
    assert_eq!(events.iter().map(Event::by).collect::<Vec<_>>(), ["store", "store", "p-1", "store"]);
    assert_eq!(events[1].introduces(), Some(Introduced { id: "p-1".to_owned(), key: signer.public() }));
    assert_eq!((events[2].scope(), events[2].body()), (Some("case-1"), &json!({"a": "1.50 µg"})));
    assert_eq!((events[3].at().to_utc().as_str(), events[3].local_offset()), ("2026-03-14T08:00:05Z", "+01:00"));
    assert_eq!(events[3].at_local().to_string(), "2026-03-14 09:00 +01:00");
    assert_eq!(events[3].clock(), None);
    let count = |of| journal.events(of).expect("a journal").len();
    assert_eq!([count(Of::Scope("case-1")), count(Of::Unscoped), count(Of::Kind("noted"))], [1, 2, 2]);
    assert_eq!([count(Of::Scope("case")), count(Of::Kind("note"))], [0, 0]);
    let expected = format!(
        r#"{{"v":2,"journal":"{}","seq":3,"previous":"{}","at":"2026-03-14T08:00:00Z","offset":"+01:00","by":"p-1","kind":"noted","scope":"case-1","number":1,"body":{{"a":"1.50 µg"}}}}"#,
        journal.id(),
        events[1].hash()
    );
    assert_eq!(String::from_utf8_lossy(events[2].bytes()), expected);
    assert_eq!(events[2].hash(), Hash::of(expected.as_bytes()));
}

// hazard: H-RECORD
#[test]
fn what_is_decided_is_written_together_or_not_at_all() {
    let mut journal = create("together-or-not");
    let before = journal.head().expect("a journal");
    let refused: Result<(), JournalError> = journal.write(now(), |past| {
        assert_eq!((past.head(), past.now()), (before, now()));
        assert_eq!(past.events(Of::All)?.len(), 1);
        Err(JournalError::PinTooShort { least: 6 })
    });
    assert!(matches!(refused, Err(JournalError::PinTooShort { .. })));
    // The second of the two cannot be signed: the first is not written either.
    let (_, stranger) = journal.keys().new_signer("p-9", PIN).expect("a long PIN");
    let drafts = vec![note("case-1", None, json!({})), note("case-1", Some(&stranger), json!({}))];
    assert!(matches!(write(&mut journal, now(), drafts), Err(JournalError::SignerUnknown { id }) if id == "p-9"));
    assert_eq!(journal.head().expect("a journal"), before);
    let answer = journal.write(now(), |_| Ok::<_, JournalError>((vec![], 7)));
    assert_eq!((answer.expect("nothing to write"), journal.head().expect("a journal")), (7, before));
}

// A signature counts from the event after the one that introduces its key, and only with that key.
// hazard: H-RECORD
#[test]
fn only_an_introduced_key_signs() {
    let mut journal = create("introduced");
    let (_, signer) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let introducing = |by| {
        let introduces = Some(Introduced { id: "p-1".to_owned(), key: signer.public() });
        NewEvent { kind: "added", scope: None, by, body: json!({}), introduces }
    };
    let itself = write(&mut journal, now(), vec![introducing(Some(&signer))]);
    assert!(matches!(itself, Err(JournalError::SignerUnknown { .. })));
    write(&mut journal, now(), vec![introducing(None), note("c", Some(&signer), json!({}))]).expect("in order");
    // Another key under the same name: the old one signs no more.
    let (_, renewed) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let imposter = write(&mut journal, now(), vec![note("c", Some(&renewed), json!({}))]);
    assert!(matches!(imposter, Err(JournalError::SignerUnknown { .. })));
    let introduces = Some(Introduced { id: "p-1".to_owned(), key: renewed.public() });
    let draft = NewEvent { kind: "renewed", scope: None, by: Some(&signer), body: json!({}), introduces };
    write(&mut journal, now(), vec![draft, note("c", Some(&renewed), json!({}))]).expect("in order");
    assert!(write(&mut journal, now(), vec![note("c", Some(&signer), json!({}))]).is_err());
    for name in ["store", ""] {
        let introduces = Some(Introduced { id: name.to_owned(), key: signer.public() });
        let draft = NewEvent { kind: "added", scope: None, by: None, body: json!({}), introduces };
        assert!(matches!(write(&mut journal, now(), vec![draft]), Err(JournalError::SignerName { .. })));
        assert!(matches!(journal.keys().new_signer(name, PIN), Err(JournalError::SignerName { .. })));
    }
    assert_eq!(journal.verify(&[], &mut |_, _| {}).expect("whole").head.seq, 5);
}

// hazard: H-RECORD
#[test]
fn the_database_itself_refuses_change_removal_and_replacement() {
    let folder = filled("triggers", 10);
    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    let row = "kind, scope, introduces, bytes, hash, signature FROM event WHERE seq = 5";
    for (sql, says) in [
        ("UPDATE event SET scope = 'case-9' WHERE seq = 5".to_owned(), "never changed"),
        ("DELETE FROM event WHERE seq = 10".to_owned(), "never removed"),
        (format!("INSERT OR REPLACE INTO event SELECT 5, {row}"), "after the last"),
        (format!("INSERT OR REPLACE INTO event SELECT 10, {row}"), "after the last"),
        (format!("INSERT INTO event SELECT 12, {row}"), "after the last"),
        (format!("INSERT INTO event SELECT 0, {row}"), "after the last"),
        (format!("INSERT INTO event SELECT -1, {row}"), "after the last"),
        (format!("INSERT INTO event SELECT NULL, {row}"), "after the last"),
        (format!("INSERT INTO event SELECT 5, {row} ON CONFLICT DO UPDATE SET kind = 'x'"), ""),
    ] {
        let refused = database.execute_batch(&sql).expect_err(&sql).to_string();
        assert!(refused.contains(says), "{sql}: {refused}");
    }
    drop(database);
    assert!(Journal::open(&folder).expect("it was made").verify(&[], &mut |_, _| {}).is_ok());
}

// What is read does not grow with what was written long before; the newest cannot be taken away unseen.
// hazard: H-RECORD
#[test]
fn the_newest_of_a_kind_are_read_back_to_where_they_matter() {
    let folder = filled("newest", 60);
    let journal = Journal::open(&folder).expect("it was made");
    let read = |journal: &Journal, before, enough: usize| {
        let mut read = Vec::new();
        let newest = journal.newest("noted", before, |event| {
            read.push(event.seq());
            read.len() < enough
        });
        newest.map(|()| read)
    };
    assert_eq!(read(&journal, None, 3).expect("they are there"), [60, 59, 58]);
    assert_eq!(read(&journal, Some(58), 2).expect("they are there"), [57, 56]);
    assert_eq!(read(&journal, Some(5), 9).expect("they are there"), [4, 3]);
    assert_eq!(journal.count("noted").expect("it is whole"), 58);
    let mut none = 0;
    journal
        .newest("never", None, |_| {
            none += 1;
            true
        })
        .expect("there are none");
    assert_eq!((none, journal.count("never").expect("it is whole")), (0, 0));
    drop(journal);
    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    database.execute_batch("DROP TRIGGER event_is_not_removed; DELETE FROM event WHERE seq = 60").expect("SQLite");
    let journal = Journal::open(&folder).expect("it opens");
    let missing = read(&journal, None, 3).expect_err("the newest is gone").to_string();
    assert!(missing.contains("the last was written as event 60"), "{missing}");
}
