//! What the journal promises to whoever writes in it: order, keys, seals, and that of two at once one is first.
#![cfg(feature = "journal")]

mod common;

use std::fs;
use std::path::PathBuf;

use countersign::journal::{Draft, Introduced, Journal, JournalError, Of, Signer};
use countersign::quantity::Moment;
use serde_json::json;

const PIN: &str = "271828";

fn at(text: &str) -> Moment {
    Moment::parse(text).expect("a moment")
}

fn now() -> Moment {
    at("2026-03-14T09:00:00+01:00")
}

fn place(name: &str) -> PathBuf {
    common::folder(name).join("journal")
}

fn create(name: &str) -> Journal {
    Journal::create(&place(name), true, now()).expect("our own folder")
}

fn note<'s>(scope: &str, by: Option<&'s Signer>, body: serde_json::Value) -> Draft<'s> {
    Draft { kind: "note", scope: Some(scope.to_owned()), by, body, introduces: None }
}

fn write(journal: &mut Journal, now: Moment, drafts: Vec<Draft<'_>>) -> Result<(), JournalError> {
    journal.write(now, |_| Ok((drafts, ())))
}

// hazard: H-RECORD
#[test]
fn events_are_read_as_they_were_written() {
    let mut journal = create("as-written");
    let folder = journal.folder().to_owned();
    let (sealed, signer) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let introduced = Introduced { id: "p-1".to_owned(), key: signer.public() };
    let added = Draft {
        kind: "person-added",
        scope: None,
        by: None,
        body: json!({"signer": sealed}),
        introduces: Some(introduced.clone()),
    };
    write(&mut journal, now(), vec![added, note("case-1", Some(&signer), json!({"a": 1}))]).expect("room");
    write(&mut journal, at("2026-03-14T09:00:05+01:00"), vec![note("case-2", None, json!({}))]).expect("room");
    let head = journal.head().expect("a journal");
    drop(journal);

    let journal = Journal::open(&folder).expect("it was made");
    assert!(journal.is_demonstration());
    assert_eq!(journal.head().expect("a journal"), head);
    let events = journal.events(Of::All).expect("a journal");
    assert_eq!(events.iter().map(|event| event.seq()).collect::<Vec<_>>(), [1, 2, 3, 4]);
    assert_eq!(events.iter().map(|event| event.by()).collect::<Vec<_>>(), ["store", "store", "p-1", "store"]);
    assert_eq!(events[1].introduces(), Some(introduced));
    assert_eq!((events[2].scope(), events[2].body()), (Some("case-1"), &json!({"a": 1})));
    assert_eq!((events[3].at().to_utc().as_str(), events[3].local_offset()), ("2026-03-14T08:00:05Z", "+01:00"));
    assert_eq!(events[3].at_local().to_string(), "2026-03-14 09:00 +01:00");
    assert_eq!(events[3].clock(), None);
    let count = |of| journal.events(of).expect("a journal").len();
    assert_eq!([count(Of::Scope("case-1")), count(Of::Unscoped), count(Of::Kind("note"))], [1, 2, 2]);
    let text = String::from_utf8(events[2].bytes().to_vec()).expect("JSON");
    let begins = format!(
        r#"{{"v":1,"journal":"{}","seq":3,"previous":"{}","at":"2026-03-14T08:00:00Z","offset":"+01:00","by":"p-1","kind":"note","scope":"case-1","body":"#,
        journal.id(),
        events[1].hash()
    );
    assert!(text.starts_with(&begins), "{text}");
    assert!(fs::read_dir(&folder).expect("it was made").count() >= 3);
}
