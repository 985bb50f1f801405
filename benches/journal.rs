//! What the journal costs: a durable append against a bare insertion with the same durability, and a verification against
//! merely hashing and checking the signatures of the same events. Both pairs in one run.
//!
//! `cargo bench --bench journal -- 100000 1000` sets how many events are verified and how many are appended.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

use std::path::Path;
use std::time::{Duration, Instant};

use countersign::journal::{Draft, Introduced, Journal, JournalError, Of};
use countersign::quantity::Moment;
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use rusqlite::Connection;
use serde_json::json;
use sha2::{Digest as _, Sha256};

fn main() {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|arg| arg.parse().ok()).collect();
    let events = numbers.first().copied().unwrap_or(100_000);
    let appends = numbers.get(1).copied().unwrap_or(1000);
    // Beside the target folder: a temporary folder may be in memory, where nothing is durable.
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-journal-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the target folder can be written");
    let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
    let mut journal = Journal::create(&place.join("journal"), true, now).expect("a fresh folder");
    append(&mut journal, &place, now, appends);
    verify(&mut journal, now, events);
    std::fs::remove_dir_all(place).expect("it is ours");
}

fn body(number: usize) -> serde_json::Value {
    json!({"number": number, "sealed": "c2VhbGVk".repeat(180)})
}

/// Each in turn, so that the disk is as busy for the one as for the other.
fn append(journal: &mut Journal, place: &Path, now: Moment, appends: usize) {
    let bare = Connection::open(place.join("bare.db")).expect("a fresh folder");
    bare.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(())).expect("SQLite");
    bare.pragma_update(None, "synchronous", "FULL").expect("SQLite");
    bare.execute_batch("CREATE TABLE event (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT").expect("SQLite");
    let (_, signer) = journal.keys().new_signer("p-1", "271828").expect("a long PIN");
    let introduces = Some(Introduced { id: "p-1".to_owned(), key: signer.public() });
    let draft = Draft { kind: "added", scope: None, by: None, body: json!({}), introduces };
    journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
    let (mut one, mut other) = (Vec::new(), Vec::new());
    for number in 0..appends {
        let bytes = serde_json::to_vec(&body(number)).expect("JSON");
        let begun = Instant::now();
        bare.execute("INSERT INTO event (bytes) VALUES (?1)", [&bytes]).expect("room");
        one.push(begun.elapsed());
        let body = body(number);
        let begun = Instant::now();
        let draft = Draft {
            kind: "noted",
            scope: Some(format!("case-{}", number % 50)),
            by: Some(&signer),
            body,
            introduces: None,
        };
        journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
        other.push(begun.elapsed());
    }
    report(&format!("{appends} appends, each on the disk"), "bare insertion", median(one), "journal", median(other));
}

fn verify(journal: &mut Journal, now: Moment, events: usize) {
    let (_, signer) = journal.keys().new_signer("p-2", "271828").expect("a long PIN");
    let introduces = Some(Introduced { id: "p-2".to_owned(), key: signer.public() });
    let draft = Draft { kind: "added", scope: None, by: None, body: json!({}), introduces };
    journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
    let mut written = usize::try_from(journal.head().expect("a journal").seq).expect("small");
    while written < events {
        let many = 1000.min(events - written);
        let drafts = (written..written + many).map(|number| Draft {
            kind: "noted",
            scope: Some(format!("case-{}", number % 500)),
            by: (number % 2 == 0).then_some(&signer),
            body: body(number),
            introduces: None,
        });
        let drafts = drafts.collect();
        journal.write(now, |_| Ok::<_, JournalError>((drafts, ()))).expect("room");
        written += many;
    }
    // The same bytes, hashed and signed by a key of our own: what cannot be done without.
    let bytes: Vec<Vec<u8>> =
        journal.events(Of::All).expect("a journal").iter().map(|event| event.bytes().to_vec()).collect();
    let key = SigningKey::from_bytes(&[7; 32]);
    let public: VerifyingKey = key.verifying_key();
    let signatures: Vec<Signature> = bytes.iter().map(|bytes| key.sign(bytes)).collect();
    let (mut merely, mut whole) = (Duration::MAX, Duration::MAX);
    for _ in 0..3 {
        let begun = Instant::now();
        let mut all = 0_u8;
        for (bytes, signature) in bytes.iter().zip(&signatures) {
            all |= Sha256::digest(bytes)[0];
            public.verify_strict(bytes, signature).expect("just signed");
        }
        assert!(std::hint::black_box(all) > 0);
        merely = merely.min(begun.elapsed());
        let begun = Instant::now();
        let verified = journal.verify(&[], &mut |_, _| {}).expect("it is whole");
        whole = whole.min(begun.elapsed());
        assert_eq!(verified.head.seq, bytes.len() as u64);
    }
    report(&format!("{} events verified, best of 3", bytes.len()), "hashes and signatures", merely, "journal", whole);
}

fn report(what: &str, one: &str, took: Duration, other: &str, other_took: Duration) {
    let ratio = other_took.as_secs_f64() / took.as_secs_f64();
    println!("{what}\n  {one}: {took:.2?}\n  {other}: {other_took:.2?}   {ratio:.2} x");
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}
