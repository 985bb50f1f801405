use super::*;
use crate::journal::event::EventRow;
use crate::journal::{Introduced, NewEvent};
use crate::quantity::Moment;

const EVENTS: u64 = 200;

/// A journal of that many events by three signers and the store, and its rows.
fn rows(name: &str) -> (Journal, Vec<EventRow>) {
    let folder = std::env::temp_dir().join(format!("countersign-verify-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
    let mut journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
    let mut signers = Vec::new();
    for id in ["p-1", "p-2", "p-3"] {
        let (_, signer) = journal.keys().new_signer(id, "271828").expect("a long PIN");
        let introduces = Some(Introduced { id: id.to_owned(), key: signer.public() });
        let draft = NewEvent { kind: "added", scope: None, by: None, body: serde_json::json!({}), introduces };
        journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
        signers.push(signer);
    }
    let drafts = (4..EVENTS).map(|number| {
        let by = signers.get(usize::try_from(number % 4).expect("small"));
        let scope = (number % 3 > 0).then(|| format!("case-{}", number % 7));
        NewEvent { kind: "noted", scope, by, body: serde_json::json!({"number": number}), introduces: None }
    });
    let drafts = drafts.collect();
    journal.write(now, |_| Ok::<_, JournalError>((drafts, ()))).expect("room");
    let mut rows = Vec::new();
    let collected = read::each_row(&journal.connection, |row| {
        rows.push(row);
        Ok::<(), JournalError>(())
    });
    collected.expect("just written");
    assert_eq!(rows.len() as u64, EVENTS);
    std::fs::remove_dir_all(&folder).expect("it is ours");
    (journal, rows)
}

fn same(row: &EventRow) -> EventRow {
    EventRow {
        seq: row.seq,
        kind: row.kind.clone(),
        scope: row.scope.clone(),
        introduces: row.introduces.clone(),
        bytes: row.bytes.clone(),
        hash: row.hash.clone(),
        signature: row.signature.clone(),
        tag: row.tag.clone(),
    }
}

fn flipped(bytes: &[u8], at: usize) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    bytes[at] ^= 1;
    bytes
}

/// Each in turn: one byte of one column, everything else as it was.
fn faulty(row: &EventRow) -> Vec<(String, EventRow)> {
    let mut faulty = Vec::new();
    for at in 0..row.bytes.len() {
        faulty.push((format!("byte {at}"), EventRow { bytes: flipped(&row.bytes, at), ..same(row) }));
        // Whoever changes the bytes can change their hash too; the signature they cannot make.
        let bytes = flipped(&row.bytes, at);
        let hash = Hash::of(&bytes).as_bytes().to_vec();
        faulty.push((format!("byte {at} and the hash"), EventRow { bytes, hash, ..same(row) }));
    }
    for at in 0..row.hash.len() {
        faulty.push((format!("hash {at}"), EventRow { hash: flipped(&row.hash, at), ..same(row) }));
    }
    for at in 0..row.signature.len() {
        faulty.push((format!("signature {at}"), EventRow { signature: flipped(&row.signature, at), ..same(row) }));
    }
    let text = |text: &str, at| String::from_utf8(flipped(text.as_bytes(), at)).expect("the lowest bit of ASCII");
    for at in 0..row.kind.len() {
        faulty.push((format!("kind {at}"), EventRow { kind: text(&row.kind, at), ..same(row) }));
    }
    for at in 0..row.scope.as_ref().map_or(0, String::len) {
        let scope = row.scope.as_ref().map(|scope| text(scope, at));
        faulty.push((format!("scope {at}"), EventRow { scope, ..same(row) }));
    }
    for at in 0..row.introduces.as_ref().map_or(0, String::len) {
        let introduces = row.introduces.as_ref().map(|id| text(id, at));
        faulty.push((format!("introduces {at}"), EventRow { introduces, ..same(row) }));
    }
    for bit in 0..63 {
        faulty.push((format!("number, bit {bit}"), EventRow { seq: row.seq ^ (1 << bit), ..same(row) }));
    }
    faulty.push(("no scope".to_owned(), EventRow { scope: row.scope.is_none().then(String::new), ..same(row) }));
    let introduces = row.introduces.is_none().then(|| "p-1".to_owned());
    faulty.push(("another introduced".to_owned(), EventRow { introduces, ..same(row) }));
    for (what, signature) in [("no signature", Vec::new()), ("a short signature", row.signature[..63].to_vec())] {
        faulty.push((what.to_owned(), EventRow { signature, ..same(row) }));
    }
    faulty
}

// hazard: H-RECORD
#[test]
fn every_flipped_byte_of_every_column_is_found_at_its_event() {
    let (journal, rows) = rows("flipped");
    let mut chain = Chain::new(&journal, &[]);
    let mut tried = 0;
    for row in &rows {
        let before = chain.last;
        for (what, faulty) in faulty(row) {
            tried += 1;
            match chain.next(faulty) {
                Err(VerifyError::Event { seq, .. }) => assert_eq!(seq, row.seq, "{what}"),
                other => panic!("event {}, {what}: {other:?}", row.seq),
            }
            assert_eq!(chain.last, before);
        }
        chain.next(same(row)).expect("it is as it was written");
    }
    assert!(tried > 100_000, "{tried} flips");
    assert_eq!(chain.end().expect("all are there").seq, EVENTS);
}

// hazard: H-RECORD
#[test]
fn events_that_are_missing_doubled_or_exchanged_are_found() {
    let (journal, rows) = rows("order");
    let run = |order: &[usize]| {
        let mut chain = Chain::new(&journal, &[]);
        order.iter().try_for_each(|at| chain.next(same(&rows[*at])).map(|_| ())).and_then(|()| chain.end())
    };
    let all: Vec<usize> = (0..rows.len()).collect();
    assert!(run(&all).is_ok());
    for at in 0..rows.len() - 1 {
        let (mut missing, mut doubled, mut exchanged) = (all.clone(), all.clone(), all.clone());
        missing.remove(at);
        doubled.insert(at, at);
        exchanged.swap(at, at + 1);
        for (order, first) in [(missing, at + 1), (doubled, at + 2), (exchanged, at + 1)] {
            match run(&order) {
                Err(VerifyError::Event { seq, .. }) => assert_eq!(seq, first as u64),
                other => panic!("at {at}: {other:?}"),
            }
        }
        // The same with numbers that fit: only links and bytes tell.
        let renumbered = |at: usize, as_if: usize| EventRow { seq: rows[as_if].seq, ..same(&rows[at]) };
        let mut chain = Chain::new(&journal, &[]);
        all[..at].iter().for_each(|at| assert!(chain.next(same(&rows[*at])).is_ok()));
        assert!(matches!(chain.next(renumbered(at + 1, at)), Err(VerifyError::Event { .. })));
    }
}
