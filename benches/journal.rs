//! What the journal costs: a durable append against a bare insertion with the same durability, and a verification against
//! merely hashing and checking the signatures of the same events. Both pairs in one run.
//!
//! `cargo bench --bench journal -- 100000 1000` sets how many events are verified and how many are appended; `--small`
//! does less of both and fails beyond its limits.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

mod common;

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use common::{Arguments, Held, built, median, timed};

use countersign::journal::{Introduced, Journal, JournalError, NewEvent, Of};
use countersign::quantity::Moment;
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use rusqlite::Connection;
use serde_json::json;
use sha2::{Digest as _, Sha256};

/// From 1.0 to 1.2 on a quiet machine, up to 2.4 with other processes busy on two cores: both wait for the same disk, so this
/// one is measured on the clock, and the busier the machine, the more it sways.
const APPEND_LIMIT: f64 = 5.0;
/// From 1.0 to 1.3; 1.8 where nothing but the ciphers is optimised.
const VERIFY_LIMIT: f64 = 2.5;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let (events, appends) = (arguments.count(0, 5_000, 100_000), arguments.count(1, 300, 1000));
    // Beside the target folder: a temporary folder may be in memory, where nothing is durable.
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-journal-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the target folder can be written");
    let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
    let mut journal = Journal::create(&place.join("journal"), true, now).expect("a fresh folder");
    let appended = append(&mut journal, &place, now, appends);
    let verified = verify(&mut journal, now, events, arguments.small());
    std::fs::remove_dir_all(place).expect("it is ours");
    if arguments.small() {
        let verdicts = [
            appended.verdict("journal append, on the clock", APPEND_LIMIT),
            verified.verdict("journal verify", VERIFY_LIMIT),
        ];
        return verdicts.into_iter().find(|one| *one != ExitCode::SUCCESS).unwrap_or(ExitCode::SUCCESS);
    }
    println!("profile {}", built());
    report(&format!("{appends} appends, each on the disk"), "bare insertion", appended);
    report(&format!("{events} events verified, best of 3"), "hashes and signatures", verified);
    ExitCode::SUCCESS
}

fn body(number: usize) -> serde_json::Value {
    json!({"number": number, "sealed": "c2VhbGVk".repeat(180)})
}

/// Each in turn, so that the disk is as busy for the one as for the other.
fn append(journal: &mut Journal, place: &Path, now: Moment, appends: usize) -> Held {
    let bare = Connection::open(place.join("bare.db")).expect("a fresh folder");
    bare.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(())).expect("SQLite");
    bare.pragma_update(None, "synchronous", "FULL").expect("SQLite");
    bare.execute_batch("CREATE TABLE event (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT").expect("SQLite");
    let (_, signer) = journal.keys().new_signer("p-1", "271828").expect("a long PIN");
    let introduces = Some(Introduced { id: "p-1".to_owned(), key: signer.public() });
    let draft = NewEvent { kind: "added", scope: None, by: None, body: json!({}), introduces };
    journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
    let (mut one, mut other) = (Vec::new(), Vec::new());
    for number in 0..appends {
        let bytes = serde_json::to_vec(&body(number)).expect("JSON");
        let begun = Instant::now();
        bare.execute("INSERT INTO event (bytes) VALUES (?1)", [&bytes]).expect("room");
        one.push(begun.elapsed());
        let body = body(number);
        let begun = Instant::now();
        let draft = NewEvent {
            kind: "noted",
            scope: Some(format!("case-{}", number % 50)),
            by: Some(&signer),
            body,
            introduces: None,
        };
        journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
        other.push(begun.elapsed());
    }
    Held { reference: median(one), measured: median(other) }
}

fn verify(journal: &mut Journal, now: Moment, events: usize, small: bool) -> Held {
    let (_, signer) = journal.keys().new_signer("p-2", "271828").expect("a long PIN");
    let introduces = Some(Introduced { id: "p-2".to_owned(), key: signer.public() });
    let draft = NewEvent { kind: "added", scope: None, by: None, body: json!({}), introduces };
    journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
    let mut written = usize::try_from(journal.head().expect("a journal").seq).expect("small");
    while written < events {
        let many = 1000.min(events - written);
        let drafts = (written..written + many).map(|number| NewEvent {
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
    let merely = || {
        let (took, all) = timed(|| {
            bytes.iter().zip(&signatures).fold(0_u8, |all, (bytes, signature)| {
                public.verify_strict(bytes, signature).expect("just signed");
                all | Sha256::digest(bytes)[0]
            })
        });
        assert!(all > 0);
        took
    };
    let whole = || {
        let (took, verified) = timed(|| journal.verify(&[], &mut |_, _| {}).expect("it is whole"));
        assert_eq!(verified.head.seq, bytes.len() as u64);
        took
    };
    if small { Held::in_processor_time(3, || _ = merely(), || _ = whole()) } else { Held::shortest(3, merely, whole) }
}

fn report(what: &str, reference: &str, held: Held) {
    let Held { reference: took, measured } = held;
    println!("{what}\n  {reference}: {took:.2?}\n  journal: {measured:.2?}   {:.2} x", held.ratio());
}
