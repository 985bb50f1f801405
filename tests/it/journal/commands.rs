//! The command `journal`, as a person at a terminal or a nightly job uses it.

use std::fs;
use std::path::Path;

use rusqlite::Connection;

use super::{filled, place};
use crate::common::{AT, Run, Said, folder, run};

/// `journal` with these words, about the journal in this folder.
fn journal(folder: &Path, words: &str) -> Run {
    run(["journal"].into_iter().chain(words.split(' '))).env("COUNTERSIGN_JOURNAL", &folder.display().to_string())
}

fn said(folder: &Path, words: &str) -> Said {
    journal(folder, words).said()
}

#[cfg(feature = "backup")]
fn passphrase(folder: &Path, text: &str) -> String {
    let file = folder.with_file_name("passphrase");
    fs::write(&file, text).expect("ours");
    file.display().to_string()
}

#[test]
fn a_journal_is_made_and_proved_whole() {
    let folder = place("commands");
    let made = run(["journal", "create", "--demonstration", "--at", AT]).arg(&folder).said();
    assert_eq!((made.code, made.stderr.as_str()), (0, ""), "{made:?}");
    assert!(made.stdout.starts_with("demonstration journal ") && made.stdout.contains("keep a backup"), "{made:?}");
    let again = run(["journal", "create"]).arg(&folder).said();
    assert!(again.is_refused().contains("is there already"), "{again:?}");

    let verified = said(&folder, "verify");
    assert_eq!((verified.code, verified.stderr.as_str()), (0, ""), "{verified:?}");
    assert!(verified.stdout.starts_with("1 event, each as it was written. The last is\n1:"), "{verified:?}");
    assert!(verified.stdout.contains("an end that was cut off would not show"), "{verified:?}");
    let data = run(["journal", "verify", "--format", "json", "--journal"]).arg(&folder).said().json();
    assert_eq!((&data["verdict"], &data["events"], &data["against"]), (&"whole".into(), &1.into(), &0.into()));
    let head = data["head"].as_str().expect("a text").to_owned();
    let against = said(&folder, &format!("verify --head {head} --head {}", head.to_ascii_uppercase()));
    assert!(against.code == 0 && against.stdout.contains("Held against 2 heads"), "{against:?}");
}

// hazard: H-INDEPENDENCE
#[test]
fn a_house_is_made_with_two_people_who_keep_it() {
    let folder = place("commands-house");
    let create = |names: &[&str], typed: &str| {
        let names: Vec<&str> = names.iter().flat_map(|name| ["--administrator", name]).collect();
        run(["journal", "create"].into_iter().chain(names)).arg(&folder).stdin(typed).said()
    };
    let pins = "603917\n603917\n417093\n417093\n";
    for (names, typed, code) in [
        (&[][..], "", "answer-missing"),
        (&["K. Ruiz"][..], pins, "second-person-needed"),
        (&["K. Ruiz", "Dr K. Ruiz"][..], pins, "person-twice"),
        (&["K. Ruiz", "7"][..], pins, "name-empty"),
        (&["K. Ruiz", "J. Lindqvist"][..], "603917\n603917\n123456\n123456\n", "pin-easy"),
        (&["K. Ruiz", "J. Lindqvist"][..], "603917\n603971\n", "pin-typed-differently"),
    ] {
        let refused = create(names, typed);
        assert!(refused.is_refused().contains(code), "{code}: {refused:?}");
        assert!(!folder.exists(), "{code}: nothing was made");
    }
    // Names and PINs are asked for one after the other.
    let made = create(&[], "K. Ruiz\n603917\n603917\nJ. Lindqvist\n417093\n417093\n");
    assert!(made.code == 0 && made.stdout.contains("Added: J. Lindqvist, administrator."), "{made:?}");
    let listed = run(["people", "list", "--journal"]).arg(&folder).said();
    assert_eq!(listed.stdout.matches("administrator").count(), 2, "{listed:?}");
    assert_eq!(said(&folder, "verify").code, 0);
}

#[test]
fn no_journal_is_ever_assumed() {
    for words in ["verify", "export", "checkpoint"] {
        let refused = run(["journal"].into_iter().chain(words.split(' '))).said();
        assert!(refused.is_refused().contains("--journal DIR, or set COUNTERSIGN_JOURNAL"), "{refused:?}");
        let nowhere = said(&place("nowhere"), words);
        assert!(nowhere.is_refused().contains("there is no journal in"), "{nowhere:?}");
    }
    let folder = filled("commands-malformed", 3);
    for head in ["12", "12:00", "x"] {
        let refused = said(&folder, &format!("verify --head {head}"));
        assert!(refused.is_refused().contains("64 hex digits"), "{refused:?}");
    }
}

// hazard: H-RECORD
#[test]
fn a_broken_chain_ends_with_4_and_names_the_event() {
    let folder = filled("commands-broken", 20);
    let checkpoint = said(&folder, &format!("checkpoint --at {AT}"));
    let export = said(&folder, "export");
    assert_eq!((checkpoint.code, checkpoint.stdout.lines().count()), (0, 1), "{checkpoint:?}");
    assert_eq!((export.code, export.lines().len()), (0, 21), "{export:?}");
    let (kept, exported) = (folder.with_file_name("kept.jsonl"), folder.with_file_name("export.jsonl"));
    fs::write(&kept, checkpoint.stdout.repeat(2)).expect("ours");
    fs::write(&exported, &export.stdout).expect("ours");
    let proofs = format!("verify --checkpoint {} --export {}", kept.display(), exported.display());
    let whole = said(&folder, &proofs);
    assert!(whole.code == 0 && whole.stdout.contains("Held against 22 heads"), "{whole:?}");

    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    let guard: String = database
        .query_row("SELECT sql FROM sqlite_schema WHERE name = 'event_is_not_removed'", [], |row| row.get(0))
        .expect("SQLite");
    database.execute_batch("DROP TRIGGER event_is_not_removed; DELETE FROM event WHERE seq = 20").expect("SQLite");
    database.execute_batch(&guard).expect("SQLite");
    assert_eq!(said(&folder, "verify").code, 4, "the count of events tells");
    let missing = said(&folder, &proofs);
    assert_eq!((missing.code, missing.stderr.as_str()), (4, ""), "{missing:?}");
    assert!(missing.stdout.starts_with("BROKEN: event 20: it is missing"), "{missing:?}");
    let data = said(&folder, &format!("{proofs} --format json"));
    assert_eq!((data.code, &data.json()["event"], &data.json()["verdict"]), (4, &20.into(), &"broken".into()));

    database.execute_batch("DROP TRIGGER event_is_not_removed; DELETE FROM event WHERE seq = 7").expect("SQLite");
    database.execute_batch(&guard).expect("SQLite");
    drop(database);
    let broken = said(&folder, "verify");
    assert_eq!(broken.code, 4);
    assert!(broken.stdout.starts_with("BROKEN: event 7: it is missing"), "{broken:?}");
    // A proof that is none is the proof's fault, not the journal's.
    fs::write(&kept, checkpoint.stdout.replace("\"seq\":20", "\"seq\":19")).expect("ours");
    assert!(said(&folder, &proofs).is_refused().contains("its signature is not the store's"));
    fs::write(&kept, "").expect("ours");
    assert!(said(&folder, &proofs).is_refused().contains("there is no checkpoint in it"));
}

// hazard: H-RECORD
#[cfg(feature = "backup")]
#[test]
fn a_backup_is_made_and_restored() {
    let folder = filled("commands-backup", 5);
    let (file, to) = (folder.with_file_name("backup.age"), folder.with_file_name("restored"));
    let secret = passphrase(&folder, "four words drawn at random\n");
    let (file, to) = (file.display(), to.display());
    let made = said(&folder, &format!("backup {file} --passphrase-file {secret}"));
    assert!(made.code == 0 && made.stdout.starts_with("5 events and every key in "), "{made:?}");
    let back = said(&folder, &format!("restore {file} {to} --passphrase-file {secret} --format json"));
    assert_eq!((back.code, &back.json()["events"], back.stderr.as_str()), (0, &5.into(), ""), "{back:?}");
    // All of before, and that it was restored.
    let verified = said(Path::new(&to.to_string()), "verify");
    assert!(verified.code == 0 && verified.stdout.starts_with("6 events, each as it was written."), "{verified:?}");
    assert!(verified.stdout.contains("RESTORED: The journal was restored at "), "{verified:?}");
    assert_eq!(back.json()["head"], said(&folder, "verify --format json").json()["head"]);
    let again = said(&folder, &format!("backup {file} --passphrase-file {secret}"));
    assert!(again.is_refused().contains("is there already"), "{again:?}");
    for (text, says) in [("", "fewer than 12"), ("short\nfour words drawn at random", "fewer than 12")] {
        let secret = passphrase(&folder, text);
        let refused = said(&folder, &format!("backup {file}.2 --passphrase-file {secret}"));
        assert!(refused.is_refused().contains(says), "{refused:?}");
    }
    let secret = passphrase(&folder, "another one, long enough");
    let refused = said(&folder, &format!("restore {file} {to}.2 --passphrase-file {secret}"));
    assert!(refused.is_refused().contains("the passphrase does not open"), "{refused:?}");
    for words in [format!("backup {file}.3"), format!("restore {file} {to}.3")] {
        let refused = journal(&folder, &words).stdin("four words drawn at random\n").said();
        assert!(refused.is_refused().contains("nobody to ask for the passphrase"), "{refused:?}");
    }
}

/// Nothing is waited for: a pipe that nobody writes into would keep the command for ever.
#[cfg(all(unix, feature = "backup"))]
#[test]
fn a_pipe_is_no_file_with_a_passphrase() {
    let folder = filled("commands-fifo", 3);
    let pipe = folder.with_file_name("passphrase-pipe");
    let _ = fs::remove_file(&pipe);
    rustix::fs::mkfifoat(rustix::fs::CWD, &pipe, rustix::fs::Mode::from_raw_mode(0o600)).expect("a pipe");
    let began = std::time::Instant::now();
    for path in [pipe.as_path(), Path::new("/dev/zero"), folder.as_path()] {
        let words = format!("backup {}/b.age --passphrase-file {}", folder.display(), path.display());
        assert!(said(&folder, &words).is_refused().contains("not-a-file"), "{}", path.display());
    }
    assert!(began.elapsed() < std::time::Duration::from_secs(20));
}

#[test]
fn the_store_key_may_lie_elsewhere() {
    let folder = folder("commands-key-elsewhere");
    let (key, to) = (folder.join("keys.d.key"), folder.join("journal"));
    let with_key = |run: Run| run.env("COUNTERSIGN_STORE_KEY", &key.display().to_string());
    let house = || {
        let two = ["--administrator", "K. Ruiz", "--administrator", "J. Lindqvist"];
        run(["journal", "create"].into_iter().chain(two)).stdin("603917\n603917\n417093\n417093\n")
    };
    let made = with_key(house().arg(&to)).said();
    assert_eq!(made.code, 0, "{made:?}");
    assert!(key.exists() && !to.join("store.key").exists());
    assert_eq!(with_key(journal(&to, "verify")).said().code, 0);
    assert!(said(&to, "verify").is_refused().contains("the store key is missing"));
    // A second journal does not take, or take away, the key of the first.
    let second = with_key(house().arg(folder.join("second"))).said();
    assert!(second.is_refused().contains("is there already"), "{second:?}");
    assert!(key.exists() && !folder.join("second").exists());
    #[cfg(feature = "backup")]
    backed_up_with_the_key_elsewhere(&folder, &to, with_key);
}

#[cfg(feature = "backup")]
fn backed_up_with_the_key_elsewhere(folder: &Path, to: &Path, with_key: impl Fn(Run) -> Run) {
    let secret = passphrase(to, "four words drawn at random");
    let backup = folder.join("backup.age");
    let words = format!("backup {} --passphrase-file {secret}", backup.display());
    assert_eq!(with_key(journal(to, &words)).said().code, 0);
    let words = format!("restore {} {} --passphrase-file {secret}", backup.display(), folder.join("back").display());
    assert_eq!(with_key(journal(to, &words)).said().code, 0);
    assert!(!folder.join("back/store.key").exists(), "the same key is there already");
    assert_eq!(with_key(journal(&folder.join("back"), "verify")).said().code, 0);
}

#[cfg(not(feature = "backup"))]
#[test]
fn a_program_without_backups_says_how_to_get_one_with_them() {
    let folder = filled("commands-no-backup", 3);
    for words in ["backup file.age", "backup file.age --passphrase-file secret", "restore file.age to"] {
        let refused = said(&folder, words);
        let text = refused.is_refused();
        assert!(text.contains("built without backups") && text.contains("--features full"), "{refused:?}");
    }
}
