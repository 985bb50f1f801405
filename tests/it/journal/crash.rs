//! A process that is killed in the middle of writing loses nothing that it was told was written.

use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::Path;
use std::process::Stdio;
use std::thread;
use std::time::Duration;

use countersign::journal::{Event, Journal, Of};
use serde_json::json;

use crate::common::tools::thorough;

use super::{create, given_folder, itself, note, now, write};

/// How often one journal is written to and its writer killed.
fn kills() -> u64 {
    thorough(50, 8)
}

// hazard: H-RECORD
#[test]
fn what_was_acknowledged_outlives_the_process() {
    let acknowledged = kill_again_and_again("killed", 1);
    println!("{} kills, {acknowledged} acknowledged events, none lost", kills());
    assert!(acknowledged > kills(), "the writers were killed too early to write: {acknowledged} events");
}

#[test]
#[ignore = "a thousand kills: takes minutes"]
fn what_was_acknowledged_outlives_a_thousand_processes() {
    let acknowledged: u64 =
        (0..1000 / kills()).map(|round| kill_again_and_again(&format!("killed-{round}"), round + 2)).sum();
    println!("1000 kills, {acknowledged} acknowledged events, none lost");
}

#[test]
#[ignore = "run by another test, as a process of its own, and killed"]
fn writer() {
    let Some(folder) = given_folder() else { return };
    let mut journal = Journal::open(&folder).expect("it was made");
    for number in 0.. {
        // More than a page of the database, so that a write has many places to be ended in.
        let body = json!({"number": number, "fill": "x".repeat(number % 9000)});
        write(&mut journal, now(), vec![note("case-1", None, body)]).expect("there is room");
        // The rest of the program may act on it only after this.
        println!("acknowledged {}", journal.head().expect("just written"));
    }
}

/// Gives how many events were acknowledged in all.
fn kill_again_and_again(name: &str, seed: u64) -> u64 {
    let folder = create(name).folder().to_owned();
    let mut known: BTreeMap<u64, String> = BTreeMap::new();
    let mut random = seed;
    for kill in 0..kills() {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let written = write_and_kill(&folder, Duration::from_micros((random >> 33) % 90_000));
        known.extend(written);
        let journal = Journal::open(&folder).expect("it opens after a kill");
        let verified = journal.verify(&[], &mut |_, _| {}).expect("it is whole after a kill");
        let events = journal.events(Of::All).expect("it can be read after a kill");
        let hashes: BTreeMap<u64, String> =
            events.iter().map(|event: &Event| (event.seq(), event.hash().to_string())).collect();
        for (seq, hash) in &known {
            assert_eq!(hashes.get(seq), Some(hash), "event {seq} after kill {kill}");
        }
        assert!(verified.head.seq >= known.keys().last().copied().unwrap_or(1));
    }
    known.len() as u64
}

fn write_and_kill(folder: &Path, after: Duration) -> Vec<(u64, String)> {
    let mut child = itself("journal::crash::writer", folder).stdout(Stdio::piped()).spawn().expect("it runs");
    let mut stdout = child.stdout.take().expect("piped");
    let reader = thread::spawn(move || {
        let mut said = String::new();
        stdout.read_to_string(&mut said).map(|_| said)
    });
    thread::sleep(Duration::from_millis(15) + after);
    // SIGKILL on unix: it can do nothing about it.
    child.kill().expect("it is our child");
    assert!(!child.wait().expect("it is our child").success());
    let said = reader.join().expect("it only reads").expect("it is text");
    let whole = said.rfind('\n').map_or("", |end| &said[..end]);
    let acknowledged = whole.lines().filter_map(|line| line.split("acknowledged ").nth(1)?.split_once(':'));
    acknowledged.map(|(seq, hash)| (seq.parse().expect("a number"), hash.to_owned())).collect()
}
