//! What a journal says where it cannot be opened or written, and that nothing is lost or left behind.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use countersign::journal::{Journal, JournalError};
use rusqlite::Connection;
use serde_json::json;

use super::{copied, create, filled, note, now, place, write};

/// Refused, with this code and something to do.
#[track_caller]
fn refused<T>(outcome: Result<T, JournalError>, code: &str) -> String {
    let Err(error) = outcome else { panic!("it was not refused: {code}") };
    assert_eq!(error.code(), code, "{error}");
    assert!(!error.help().is_empty() && !error.is_fault(), "{error}");
    error.to_string()
}

#[test]
fn what_is_no_journal_is_refused_and_left_alone() {
    let folder = place("no-journal");
    refused(Journal::open(&folder), "journal-not-there");
    assert!(!folder.exists());
    fs::create_dir(&folder).expect("ours");
    refused(Journal::open(&folder), "journal-not-there");
    let file = folder.join("journal.db");
    for content in [&b""[..], b"not a database, but long enough to be taken for one. ".repeat(40).as_slice()] {
        fs::write(&file, content).expect("ours");
        refused(Journal::open(&folder), "journal-not-one");
        assert_eq!(fs::read(&file).expect("ours"), content);
    }
    fs::remove_file(&file).expect("ours");
    Connection::open(&file).and_then(|other| other.execute_batch("CREATE TABLE a (b)")).expect("SQLite");
    let before = fs::read(&file).expect("ours");
    refused(Journal::open(&folder), "journal-not-one");
    assert_eq!(fs::read(&file).expect("ours"), before);
}

#[test]
fn a_newer_schema_is_refused_and_left_alone() {
    let folder = filled("newer", 3);
    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    database.pragma_update(None, "user_version", 4).expect("SQLite");
    drop(database);
    let before = fs::read(folder.join("journal.db")).expect("ours");
    let said = refused(Journal::open(&folder), "journal-newer");
    assert!(said.ends_with("is of schema version 4, and this program knows versions up to 3"), "{said}");
    assert_eq!(fs::read(folder.join("journal.db")).expect("ours"), before);
}

/// Kept from the first version: every later program reads it.
// hazard: H-RECORD
#[test]
fn a_journal_of_the_first_version_opens() {
    let folder = place("version-1");
    copied(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/journal/version-1"), &folder);
    only_ours(&folder);
    let mut journal = Journal::open(&folder).expect("it is kept as it was");
    let head = "4:26b18ff2c53787edfa9188e22d43754f167c39cd34861d2b7408ae2c99328278";
    let verified = journal.verify(&[], &mut |_, _| {}).expect("it is whole");
    assert_eq!(verified.head.to_string(), head);
    let key = journal.keys().case("case-1").expect("readable").expect("kept");
    let events = journal.events(countersign::journal::Of::Scope("case-1")).expect("it can be read");
    let sealed = events[0].body()["sealed"].as_str().expect("a text");
    assert_eq!(key.open(&["case-1", "p-1"], sealed).as_deref(), Ok(&b"0.08 mcg/kg/min"[..]));
    let people = journal.events(countersign::journal::Of::Kind("added")).expect("it can be read");
    let signer = serde_json::from_value(people[0].body()["signer"].clone()).expect("a sealed key");
    let signer = journal.keys().unlock("p-1", &signer, super::PIN).expect("the right PIN");
    write(&mut journal, now(), vec![note("case-1", Some(&signer), json!({}))]).expect("room");
    assert_eq!(journal.verify(&[verified.head], &mut |_, _| {}).expect("whole").head.seq, 5);
}

#[test]
fn a_store_key_that_is_missing_wrong_or_open_to_others_is_refused() {
    let folder = filled("store-key", 3);
    let other = filled("store-key-elsewhere", 3);
    let file = folder.join("store.key");
    let right = fs::read(&file).expect("ours");
    fs::remove_file(&file).expect("ours");
    refused(Journal::open(&folder), "store-key-missing");
    fs::copy(other.join("store.key"), &file).expect("ours");
    refused(Journal::open(&folder), "store-key-wrong");
    for content in [&b""[..], b"00", &right[..63], b"\xff\xfe", &[&right[..], b"00"].concat()] {
        fs::write(&file, content).expect("ours");
        refused(Journal::open(&folder), "store-key-malformed");
    }
    fs::write(&file, &right).expect("ours");
    assert!(Journal::open(&folder).is_ok());
    #[cfg(unix)]
    for mode in [0o644, 0o640, 0o602, 0o610] {
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(&file, fs::Permissions::from_mode(mode)).expect("ours");
        let said = refused(Journal::open(&folder), "key-open-to-others");
        assert!(said.contains(&format!("mode {mode:o}")), "{said}");
    }
}

#[test]
fn a_journal_is_made_once_and_whole() {
    let folder = filled("once", 3);
    let before = fs::read(folder.join("journal.db")).expect("ours");
    refused(Journal::create(&folder, true, now()), "journal-there-already");
    assert_eq!(fs::read(folder.join("journal.db")).expect("ours"), before);
    let file = place("once-a-file");
    fs::write(&file, "a file").expect("ours");
    refused(Journal::create(&file, true, now()), "journal-there-already");
    refused(Journal::create(&file.join("below"), true, now()), "journal-there-already");
    refused(Journal::create(&file.with_file_name("no/such/folder"), true, now()), "journal-file");
    assert_eq!(names(&file), ["journal"], "nothing half made is left");
    let empty = place("once-empty");
    fs::create_dir(&empty).expect("ours");
    assert!(Journal::create(&empty, true, now()).is_ok());
    assert_eq!(names(&empty), ["journal"]);
}

// hazard: H-RECORD
#[test]
fn a_journal_that_another_process_holds_is_waited_for_and_then_refused() {
    let mut journal = create("locked");
    let other = Connection::open(journal.folder().join("journal.db")).expect("SQLite");
    other.execute_batch("BEGIN IMMEDIATE").expect("SQLite");
    let begun = Instant::now();
    let said = refused(write(&mut journal, now(), vec![note("c", None, json!({}))]), "journal-locked");
    assert!(said.contains("nothing was written"), "{said}");
    assert!((Duration::from_secs(4)..Duration::from_secs(60)).contains(&begun.elapsed()), "{:?}", begun.elapsed());
    // Whoever only reads does not wait.
    assert_eq!(journal.head().expect("readable").seq, 1);
    other.execute_batch("ROLLBACK").expect("SQLite");
    write(&mut journal, now(), vec![note("c", None, json!({}))]).expect("its turn");
}

#[cfg(unix)]
mod on_unix {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, chown};
    use std::os::unix::process::CommandExt as _;
    use std::process::{Command, Stdio};

    use super::super::{given_folder, itself};
    use super::*;

    const NOBODY: u32 = 65534;

    // hazard: H-RECORD
    #[test]
    fn what_cannot_be_written_says_so() {
        for (name, path, mode) in [
            ("read-only-file", "journal.db", 0o400),
            ("read-only-folder", "", 0o500),
            ("read-only-keys", "case-keys", 0o500),
        ] {
            let folder = filled(name, 3);
            let path = folder.join(path);
            let root = fs::metadata(&folder).expect("ours").uid() == 0;
            if root {
                // Root may write anything: somebody else tries.
                give_to_nobody(&folder);
            }
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).expect("ours");
            let mut child = itself("journal::places::on_unix::tries_to_write", &folder);
            if root {
                child.uid(NOBODY).gid(NOBODY);
            }
            let output = child.output().expect("it runs");
            let said = String::from_utf8_lossy(&output.stdout).into_owned();
            fs::set_permissions(&path, fs::Permissions::from_mode(0o700)).expect("ours");
            assert!(output.status.success() && said.contains("1 passed"), "{name}: {said}");
            assert!(said.contains("journal-not-writable"), "{name}: {said}");
        }
    }

    #[test]
    #[ignore = "run by another test, as a process of its own that is not root"]
    fn tries_to_write() {
        let Some(folder) = given_folder() else { return };
        let opened = Journal::open(&folder).and_then(|mut journal| {
            journal.keys().new_case("case-9")?;
            write(&mut journal, now(), vec![note("case-9", None, json!({}))])
        });
        println!("{}", opened.expect_err("it cannot be written").code());
    }

    // hazard: H-RECORD
    #[test]
    fn a_full_disk_loses_nothing_that_was_acknowledged() {
        let folder = filled("full", 3);
        let said = with_little_room("journal::places::on_unix::writes_until_it_is_full", &folder, 2000);
        let acknowledged = said.lines().rfind(|line| line.starts_with("acknowledged ")).expect("some were written");
        let head: countersign::journal::Head = acknowledged[13..].parse().expect("a head");
        assert!(head.seq > 10, "{said}");
        let mut journal = Journal::open(&folder).expect("it opens");
        assert_eq!(journal.verify(&[head], &mut |_, _| {}).expect("whole").head, head);
        write(&mut journal, now(), vec![note("case-1", None, json!({}))]).expect("there is room again");
    }

    #[test]
    #[ignore = "run by another test, as a process of its own that may not write much"]
    fn writes_until_it_is_full() {
        let Some(folder) = given_folder() else { return };
        let mut journal = Journal::open(&folder).expect("it was made");
        for number in 0..10_000 {
            let body = json!({"number": number, "fill": "x".repeat(700)});
            match write(&mut journal, now(), vec![note("case-1", None, body)]) {
                Ok(()) => println!("acknowledged {}", journal.head().expect("readable")),
                Err(error) => {
                    assert!(["journal-disk-full", "journal-file"].contains(&error.code()), "{error}");
                    // It can be tried again, and read.
                    assert!(write(&mut journal, now(), vec![note("c", None, json!({"x": "x".repeat(9000)}))]).is_err());
                    assert!(journal.verify(&[], &mut |_, _| {}).is_ok());
                    return;
                }
            }
        }
        panic!("it was never full");
    }

    // hazard: H-RECORD
    #[cfg(feature = "backup")]
    #[test]
    fn a_backup_for_which_there_is_no_room_leaves_nothing() {
        let folder = filled("full-backup", 400);
        let said = with_little_room("journal::places::on_unix::backs_up_without_room", &folder, 200);
        assert!(said.contains("journal-disk-full") || said.contains("journal-file"), "{said}");
        assert_eq!(names(&folder), ["journal"]);
        let left = names(&folder.join("journal.db"));
        assert!(left.iter().all(|name| !name.starts_with('.')), "{left:?}");
    }

    #[cfg(feature = "backup")]
    #[test]
    #[ignore = "run by another test, as a process of its own that may not write much"]
    fn backs_up_without_room() {
        let Some(folder) = given_folder() else { return };
        let journal = Journal::open(&folder).expect("it was made");
        let refused = journal.backup(&folder.with_file_name("backup.age"), "four words drawn at random", now());
        println!("{}", refused.expect_err("there is no room").code());
    }

    /// Runs one of these tests where no file may grow beyond so many blocks, of 512 or 1024 bytes: a write beyond them is an
    /// error, and not the end of the process.
    fn with_little_room(test: &str, folder: &Path, blocks: u32) -> String {
        let child = itself(test, folder);
        let output = Command::new("sh")
            .args(["-c", &format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"")])
            .arg(child.get_program())
            .args(child.get_args())
            .envs(child.get_envs().filter_map(|(name, value)| Some((name, value?))))
            .stdin(Stdio::null())
            .output()
            .expect("there is a shell");
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let erred = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && said.contains("1 passed"), "{said}{erred}");
        said
    }

    fn give_to_nobody(path: &Path) {
        chown(path, Some(NOBODY), Some(NOBODY)).expect("this is root");
        if path.is_dir() {
            for entry in fs::read_dir(path).expect("ours") {
                give_to_nobody(&entry.expect("it can be listed").path());
            }
        }
    }
}

/// What a copy out of a repository has lost: nobody else may read the keys.
fn only_ours(folder: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let keys = fs::read_dir(folder.join("case-keys")).expect("ours").map(|entry| entry.expect("ours").path());
        for path in keys.chain([folder.join("store.key")]) {
            fs::set_permissions(path, fs::Permissions::from_mode(0o600)).expect("ours");
        }
    }
}

/// What stands beside a path.
fn names(path: &Path) -> Vec<String> {
    let parent: PathBuf = path.parent().expect("it has one").to_owned();
    let entries = fs::read_dir(parent).expect("ours").map(|entry| entry.expect("it can be listed").file_name());
    let mut names: Vec<String> = entries.map(|name| name.to_string_lossy().into_owned()).collect();
    names.sort();
    names
}
