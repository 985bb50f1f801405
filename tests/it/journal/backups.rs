//! A backup holds everything, opens with its passphrase alone, and comes back whole or not at all.

use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use age::secrecy::SecretString;
use countersign::journal::{
    Access, AccessKind, Journal, JournalError, KIND_FORGOTTEN, KIND_RESTORED, NewEvent, Of, Restored, VerifyError,
    restore,
};
use rusqlite::Connection;
use serde_json::json;

use super::{PIN, add_signer, create, filled, note, now, place, write};

const PASSPHRASE: &str = "four words drawn at random";

fn restored(file: &Path, folder: &Path, passphrase: &str) -> Result<Restored, VerifyError> {
    restore(file, folder, passphrase, None, now(), &mut |_, _| {})
}

// hazard: H-RECORD
#[test]
fn a_backup_brings_everything_back_except_what_was_forgotten() {
    let mut journal = create("backup");
    let (sealed, signer) = add_signer(&mut journal, "p-1");
    for case in ["case-1", "case-2"] {
        let key = journal.keys().new_case(case).expect("room");
        let body = json!({"sealed": key.seal(&[case], case.as_bytes())});
        write(&mut journal, now(), vec![note(case, Some(&signer), body)]).expect("room");
    }
    let forgotten = NewEvent {
        kind: KIND_FORGOTTEN,
        scope: Some("case-2".to_owned()),
        by: None,
        body: json!({}),
        introduces: None,
    };
    write(&mut journal, now(), vec![forgotten]).expect("room");
    // The process ended between the event and the key: the key is in the backup, and must not come out of it.
    assert!(journal.keys().case("case-2").expect("readable").is_some());
    let file = journal.folder().with_file_name("backup.age");
    let head = journal.backup(&file, PASSPHRASE, now()).expect("room").head;
    assert_eq!(head, journal.head().expect("a journal"));
    assert_eq!(beside(&file), ["backup.age", "journal"]);
    assert_eq!(beside(&journal.folder().join("journal.db")).iter().filter(|name| name.contains("snapshot")).count(), 0);
    assert!(matches!(journal.backup(&file, PASSPHRASE, now()), Err(JournalError::AlreadyThere { .. })));
    write(&mut journal, now(), vec![note("case-1", None, json!({"after": "the backup"}))]).expect("room");

    let folder = file.with_file_name("restored");
    let out = restored(&file, &folder, PASSPHRASE).expect("it is whole");
    assert_eq!((out.verified.head, out.case_keys, out.forgotten), (head, 1, 1));
    let mut again = Journal::open(&folder).expect("it is in place");
    let bytes = |journal: &Journal| -> Vec<Vec<u8>> {
        let events = journal.events(Of::All).expect("a journal");
        events.iter().take(5).map(|event| event.bytes().to_vec()).collect()
    };
    assert_eq!((again.id(), bytes(&again)), (journal.id(), bytes(&journal)));
    // That it was restored is its next event.
    let said = again.events(Of::Kind(KIND_RESTORED)).expect("a journal");
    assert_eq!((said.len(), said[0].seq(), said[0].by()), (1, head.seq + 1, "store"));
    assert_eq!(said[0].body()["last"], head.to_string());
    let body = again.events(Of::Scope("case-1")).expect("a journal")[0].body().clone();
    let key = again.keys().case("case-1").expect("readable").expect("it came back");
    assert_eq!(key.open(&["case-1"], body["sealed"].as_str().expect("text")).as_deref(), Ok(&b"case-1"[..]));
    assert!(again.keys().case("case-2").expect("gone is no error").is_none());
    let signer = again.keys().unlock("p-1", &sealed, PIN).expect("the right PIN");
    write(&mut again, now(), vec![note("case-1", Some(&signer), json!({}))]).expect("it goes on");
    assert!(again.verify(&[head], &mut |_, _| {}).is_ok());
    assert!(matches!(
        restored(&file, &folder, PASSPHRASE),
        Err(VerifyError::Journal(JournalError::AlreadyThere { .. }))
    ));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        for path in [file, folder.join("journal.db"), folder.join("store.key")] {
            let mode = fs::metadata(&path).expect("ours").permissions().mode() & 0o777;
            assert_eq!(mode, 0o600, "{}", path.display());
        }
    }
    // The forgetting that was interrupted is completed where the journal is opened next.
    let folder = journal.folder().to_owned();
    drop(journal);
    assert!(Journal::open(&folder).expect("ours").keys().case("case-2").expect("gone is no error").is_none());
}

// hazard: H-RECORD
#[test]
fn what_was_forgotten_after_the_backup_stays_forgotten_with_an_export() {
    let mut journal = create("backup-older");
    for case in ["case-1", "case-2"] {
        journal.keys().new_case(case).expect("room");
        write(&mut journal, now(), vec![note(case, None, json!({}))]).expect("room");
    }
    let file = journal.folder().with_file_name("backup.age");
    journal.backup(&file, PASSPHRASE, now()).expect("room");
    let forgotten = NewEvent {
        kind: KIND_FORGOTTEN,
        scope: Some("case-2".to_owned()),
        by: None,
        body: json!({}),
        introduces: None,
    };
    write(&mut journal, now(), vec![forgotten]).expect("room");
    let mut export = Vec::new();
    journal.export(&mut export).expect("memory");
    let folder = file.with_file_name("restored");
    let restored = |export: &mut &[u8]| restore(&file, &folder, PASSPHRASE, Some(export), now(), &mut |_, _| {});
    let cut = export[..export.len() - 2].to_vec();
    let other = create("backup-older-elsewhere");
    let mut foreign = Vec::new();
    other.export(&mut foreign).expect("memory");
    for mut wrong in [&cut[..], &foreign, b""] {
        assert!(matches!(restored(&mut wrong), Err(VerifyError::Journal(_))));
        assert_eq!(beside(&file), ["backup.age", "journal"]);
    }
    let out = restored(&mut &*export).expect("it is whole");
    assert_eq!((out.case_keys, out.forgotten, out.verified.head.seq), (1, 1, 3));
    let again = Journal::open(&folder).expect("it is in place");
    assert!(again.keys().case("case-1").expect("readable").is_some());
    assert!(again.keys().case("case-2").expect("gone is no error").is_none());
}

// hazard: H-RECORD
#[test]
fn who_looked_comes_back_too_and_a_chain_that_was_changed_is_left_out_and_named() {
    let journal = create("backup-accesses");
    let access = |from: &str| Access {
        kind: AccessKind::SignIn,
        who: Some("p-1".to_owned()),
        scope: None,
        from: from.to_owned(),
    };
    for from in ["10.0.0.5", "10.0.0.7"] {
        journal.accesses().expect("room").note(now(), &access(from)).expect("room");
    }
    let last = journal.accesses().and_then(|log| log.head()).expect("room");
    let file = |name: &str| journal.folder().with_file_name(name);
    let backed_up = |name: &str| journal.backup(&file(name), PASSPHRASE, now()).expect("room");
    assert!(last.is_some() && backed_up("whole.age").accesses_left_out.is_none());
    let out = restored(&file("whole.age"), &file("whole"), PASSPHRASE).expect("it is whole");
    let made = out.made.map(|made| made.to_utc());
    assert_eq!((out.accesses, &out.accesses_left_out, made), (last, &None, Some(now().to_utc())));
    let mut again = Journal::open(&file("whole")).expect("it is in place").accesses().expect("it came back");
    again.note(now(), &access("10.0.0.9")).expect("it goes on");
    assert_eq!(again.verify(&[last.expect("two")]).expect("whole").map(|head| head.seq), Some(3));
    // The record does not wait for it.
    let database = Connection::open(journal.folder().join("access.db")).expect("SQLite");
    database.execute_batch("DROP TRIGGER access_is_not_changed; UPDATE access SET who = 'p-2'").expect("SQLite");
    drop(database);
    assert!(backed_up("changed.age").accesses_left_out.is_none());
    let out = restored(&file("changed.age"), &file("changed"), PASSPHRASE).expect("the record is whole");
    let says = out.accesses_left_out.expect("it is named");
    assert!(out.accesses.is_none() && says.contains("its columns are not those in its bytes"), "{says}");
    assert!(!file("changed").join("access.db").exists());
    fs::write(journal.folder().join("access.db"), "no database ".repeat(500)).expect("ours");
    assert!(backed_up("none.age").accesses_left_out.is_some());
    assert!(restored(&file("none.age"), &file("none"), PASSPHRASE).expect("the record is whole").accesses.is_none());
}

// hazard: H-RECORD
#[test]
fn a_backup_while_others_write_is_of_one_moment() {
    let folder = filled("backup-busy", 50);
    let done = AtomicBool::new(false);
    let file = folder.with_file_name("backup.age");
    let head = thread::scope(|scope| {
        scope.spawn(|| {
            let mut journal = Journal::open(&folder).expect("it was made");
            while !done.load(Ordering::Relaxed) {
                write(&mut journal, now(), vec![note("case-1", None, json!({}))]).expect("room");
            }
        });
        let head = Journal::open(&folder).expect("it was made").backup(&file, PASSPHRASE, now());
        done.store(true, Ordering::Relaxed);
        head.expect("room").head
    });
    let out = restored(&file, &folder.with_file_name("restored"), PASSPHRASE).expect("it is whole");
    assert_eq!(out.verified.head, head);
    let journal = Journal::open(&folder).expect("it was made");
    assert!(journal.head().expect("a journal").seq > head.seq);
    assert!(journal.verify(&[head], &mut |_, _| {}).is_ok());
}

// hazard: H-RECORD
#[test]
fn a_backup_that_is_not_whole_leaves_nothing() {
    let folder = filled("backup-broken", 3);
    let file = folder.with_file_name("backup.age");
    Journal::open(&folder).expect("it was made").backup(&file, PASSPHRASE, now()).expect("room");
    let bytes = fs::read(&file).expect("ours");
    let to = folder.with_file_name("restored");
    let refused = |content: &[u8], passphrase: &str| {
        let broken = folder.with_file_name("broken.age");
        fs::write(&broken, content).expect("ours");
        let error = restored(&broken, &to, passphrase).expect_err("it is not whole");
        fs::remove_file(&broken).expect("ours");
        assert_eq!(beside(&file), ["backup.age", "journal"], "{error}");
        match error {
            VerifyError::Journal(error) => error.code(),
            other => panic!("{other}"),
        }
    };
    for wrong in ["", "four words drawn at randoM", "four words drawn at random "] {
        assert_eq!(refused(&bytes, wrong), "backup-passphrase");
    }
    assert_eq!(refused(b"", PASSPHRASE), "backup-not-one");
    assert_eq!(refused(&b"something else ".repeat(30), PASSPHRASE), "backup-not-one");
    for length in [50, 200, bytes.len() / 2, bytes.len() - 16, bytes.len() - 1] {
        assert_eq!(refused(&bytes[..length], PASSPHRASE), "backup-not-one", "cut at {length}");
    }
    assert_eq!(refused(&[&bytes[..], b"x"].concat(), PASSPHRASE), "backup-not-one");
    for at in [5, 30, 100, 190, 300, bytes.len() / 2, bytes.len() - 1] {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        assert!(["backup-not-one", "backup-passphrase"].contains(&refused(&changed, PASSPHRASE)), "byte {at}");
    }
    assert!(matches!(
        restored(&folder.with_file_name("none"), &to, PASSPHRASE),
        Err(VerifyError::Journal(JournalError::File { .. }))
    ));
}

// hazard: H-RECORD
#[test]
fn a_broken_chain_in_a_backup_is_not_put_in_place() {
    let folder = filled("backup-tampered", 20);
    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    database.execute_batch("DROP TRIGGER event_is_not_removed; DELETE FROM event WHERE seq = 7").expect("SQLite");
    drop(database);
    let file = folder.with_file_name("backup.age");
    Journal::open(&folder).expect("it opens").backup(&file, PASSPHRASE, now()).expect("room");
    let outcome = restored(&file, &folder.with_file_name("restored"), PASSPHRASE);
    assert!(matches!(outcome, Err(VerifyError::Event { seq: 7, .. })), "{outcome:?}");
    assert_eq!(beside(&file), ["backup.age", "journal"]);
}

// Whoever knows the passphrase can pack anything.
#[test]
fn only_the_files_of_a_journal_come_out_of_a_backup() {
    let file = place("backup-foreign");
    let to = file.with_file_name("restored");
    let good = "case-keys/00112233445566778899aabbccddeeff.key";
    for (names, says) in [
        (vec!["journal.db", "../escaped"], "there is `"),
        (vec!["journal.db", "/tmp/escaped"], "there is `"),
        (vec!["case-keys/../../escaped.key"], "there is `"),
        (vec!["case-keys/short.key"], "there is `"),
        (vec!["readme"], "there is `"),
        (vec![good], "there is no database in it"),
        (vec!["journal.db"], "there is no store key in it"),
        (vec!["journal.db", "journal.db"], "is there already"),
        (vec![], "there is no database in it"),
    ] {
        pack(&file, &names);
        let error = restored(&file, &to, PASSPHRASE).expect_err("it is no journal").to_string();
        assert!(error.contains(says), "{names:?}: {error}");
        assert_eq!(beside(&file), ["journal"], "{names:?}");
    }
}

fn pack(file: &Path, names: &[&str]) {
    let mut recipient = age::scrypt::Recipient::new(SecretString::from(PASSPHRASE));
    recipient.set_work_factor(2);
    let encryptor = age::Encryptor::with_recipients(std::iter::once(&recipient as _)).expect("one passphrase");
    let mut out = encryptor.wrap_output(File::create(file).expect("ours")).expect("ours");
    let mut packed = Vec::new();
    for name in names {
        let mut header = tar::Header::new_gnu();
        // The safe way to write a name refuses what is tried here.
        header.as_gnu_mut().expect("it is one").name[..name.len()].copy_from_slice(name.as_bytes());
        header.set_size(0);
        header.set_mode(0o600);
        header.set_entry_type(tar::EntryType::Regular);
        header.set_cksum();
        packed.extend_from_slice(header.as_bytes());
    }
    packed.resize(packed.len() + 1024, 0);
    out.write_all(&packed).expect("ours");
    out.finish().expect("ours");
}

/// What stands in the folder of a path.
fn beside(path: &Path) -> Vec<String> {
    let parent: PathBuf = path.parent().expect("it has one").to_owned();
    let entries = fs::read_dir(parent).expect("ours").map(|entry| entry.expect("it can be listed").file_name());
    let mut names: Vec<String> = entries.map(|name| name.to_string_lossy().into_owned()).collect();
    names.sort();
    names
}
