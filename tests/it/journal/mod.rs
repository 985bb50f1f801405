//! What the journal promises, module by module, against real files and real processes.
#![cfg(feature = "journal")]
#![allow(clippy::print_stdout, reason = "processes that are killed or out of room say how far they came")]

#[cfg(feature = "backup")]
mod backups;
mod clock;
mod commands;
mod crash;
mod keys;
mod leftovers;
mod places;
mod tampering;
mod together;
mod written;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use countersign::journal::{Introduced, Journal, JournalError, NewEvent, SealedSigner, Signer};
use countersign::quantity::Moment;
use serde_json::json;

const PIN: &str = "271828";

fn at(text: &str) -> Moment {
    Moment::parse(text).expect("a moment")
}

fn now() -> Moment {
    at("2026-03-14T09:00:00+01:00")
}

/// Where a journal may be made, in a fresh folder of this test's own.
fn place(name: &str) -> PathBuf {
    crate::common::folder(name).join("journal")
}

fn create(name: &str) -> Journal {
    Journal::create(&place(name), true, now()).expect("our own folder")
}

fn note<'s>(scope: &str, by: Option<&'s Signer>, body: serde_json::Value) -> NewEvent<'s> {
    NewEvent { kind: "noted", scope: Some(scope.to_owned()), by, body, introduces: None }
}

fn write(journal: &mut Journal, now: Moment, drafts: Vec<NewEvent<'_>>) -> Result<(), JournalError> {
    journal.write(now, |_| Ok((drafts, ())))
}

/// A new signer whom the journal knows.
fn add_signer(journal: &mut Journal, id: &str) -> (SealedSigner, Signer) {
    let (sealed, signer) = journal.keys().new_signer(id, PIN).expect("a long PIN");
    let introduces = Some(Introduced { id: id.to_owned(), key: signer.public() });
    let draft = NewEvent { kind: "added", scope: None, by: None, body: json!({"signer": sealed}), introduces };
    write(journal, now(), vec![draft]).expect("room");
    (sealed, signer)
}

/// A journal of exactly so many events, closed.
fn filled(name: &str, events: u64) -> PathBuf {
    let mut journal = create(name);
    let (_, signer) = add_signer(&mut journal, "p-1");
    let drafts = (3..=events).map(|number| {
        let by = (number % 2 == 0).then_some(&signer);
        note(&format!("case-{}", number % 7), by, json!({"number": number}))
    });
    let drafts = drafts.collect();
    write(&mut journal, now(), drafts).expect("room");
    assert_eq!(journal.head().expect("just written").seq, events);
    journal.folder().to_owned()
}

/// A copy of a closed journal, file by file.
fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("our own folder");
    for entry in fs::read_dir(from).expect("it was made") {
        let entry = entry.expect("it can be listed");
        let to = to.join(entry.file_name());
        if entry.path().is_dir() {
            copied(&entry.path(), &to);
        } else {
            fs::copy(entry.path(), to).expect("our own folder");
        }
    }
}

/// This very program, running one of its ignored tests with the folder of a journal: a process of its own.
fn itself(test: &str, folder: &Path) -> Command {
    let mut command = Command::new(std::env::current_exe().expect("it runs"));
    command.args(["--exact", test, "--ignored", "--nocapture", "--test-threads=1"]).env(FOLDER, folder);
    command
}

/// The folder that [`itself`] was given; nothing when a person runs the ignored tests.
fn given_folder() -> Option<PathBuf> {
    std::env::var_os(FOLDER).map(PathBuf::from)
}

const FOLDER: &str = "JOURNAL_TEST_FOLDER";
