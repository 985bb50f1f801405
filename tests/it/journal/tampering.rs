//! Whoever changes the file behind the program's back is found, at the first event that is not as it was written.

use std::fs;
use std::path::Path;

use countersign::journal::{Event, Head, Journal, JournalError, Of, Verified, VerifyError};
use rusqlite::Connection;
use serde_json::json;

use crate::common::tools::thorough;

use super::{copied, create, filled, note, now, place, write};

const EVENTS: u64 = 200;

// hazard: H-RECORD
#[test]
fn a_changed_column_is_found_at_its_event() {
    let folder = filled("columns", EVENTS);
    for seq in (1..=EVENTS).step_by(9) {
        let changes = [
            "kind = kind || 'x'".to_owned(),
            "scope = coalesce(scope, '') || 'x'".to_owned(),
            "introduces = coalesce(introduces, '') || 'x'".to_owned(),
            "bytes = CAST(replace(CAST(bytes AS TEXT), '08:00', '08:01') AS BLOB)".to_owned(),
            "hash = zeroblob(32)".to_owned(),
            "hash = x''".to_owned(),
            "signature = zeroblob(64)".to_owned(),
            "signature = (SELECT signature FROM event AS other WHERE other.seq = 3)".to_owned(),
            "seq = seq + 100000".to_owned(),
        ];
        for change in changes.iter().filter(|change| seq != 3 || !change.contains("other.seq")) {
            let broken = tampered(&folder, "columns-changed", &format!("UPDATE event SET {change} WHERE seq = {seq}"));
            assert_eq!(first_bad(broken), seq, "{change}");
        }
    }
}

// hazard: H-RECORD
#[test]
fn events_taken_out_exchanged_or_put_in_are_found() {
    let folder = filled("moved", EVENTS);
    let other = filled("moved-elsewhere", EVENTS);
    let rest = "kind, scope, introduces, bytes, hash, signature";
    let attached = format!("ATTACH '{}' AS other;", other.join("journal.db").display());
    for seq in (2..EVENTS).step_by(23) {
        let next = seq + 1;
        let exchanged = format!(
            "UPDATE event SET seq = -1 WHERE seq = {seq}; UPDATE event SET seq = {seq} WHERE seq = {next};
             UPDATE event SET seq = {next} WHERE seq = -1"
        );
        let replayed =
            format!("UPDATE event SET ({rest}) = (SELECT {rest} FROM event WHERE seq = {next}) WHERE seq = {seq}");
        let foreign = format!(
            "{attached} UPDATE event SET ({rest}) = (SELECT {rest} FROM other.event WHERE seq = {seq}) WHERE seq = {seq}"
        );
        let closed_up = format!(
            "DELETE FROM event WHERE seq = {seq}; UPDATE event SET seq = -seq WHERE seq > {seq};
             UPDATE event SET seq = -seq - 1 WHERE seq < 0"
        );
        for sql in [format!("DELETE FROM event WHERE seq = {seq}"), exchanged, replayed, foreign, closed_up] {
            assert_eq!(first_bad(tampered(&folder, "moved-about", &sql)), seq, "{sql}");
        }
    }
    let appended = format!("INSERT INTO event (seq, {rest}) SELECT {}, {rest} FROM event WHERE seq = 9", EVENTS + 1);
    assert_eq!(first_bad(tampered(&folder, "moved-about", &appended)), EVENTS + 1);
}

// An end that is gone is missed by the count of the events, for whoever lacks the store key cannot make another. An
// earlier copy of the whole file is whole in itself: a head from elsewhere, however it was kept, tells.
// hazard: H-RECORD
#[test]
fn an_end_that_was_cut_off_is_found_and_an_earlier_copy_against_what_was_kept_elsewhere() {
    let folder = filled("cut", 150);
    let earlier = place("cut-earlier");
    copied(&folder, &earlier);
    let mut journal = Journal::open(&folder).expect("it was made");
    let drafts = (151..=EVENTS).map(|number| note("case-1", None, json!({"number": number})));
    write(&mut journal, now(), drafts.collect()).expect("room");
    let head = journal.head().expect("a journal");
    let checkpoints = journal.checkpoint(now()).expect("a journal") + "\n\n";
    let mut export = Vec::new();
    journal.export(&mut export).expect("memory");
    let heads = journal.exported_heads(&mut &*export).expect("just exported");
    assert_eq!((heads.len() as u64, heads.last()), (EVENTS, Some(&head)));
    drop(journal);

    assert_eq!(first_bad(tampered(&folder, "cut-off", "DELETE FROM event WHERE seq > 150")), 151);
    let cut = "DELETE FROM event WHERE seq > 150; DELETE FROM proof WHERE seq > 150";
    assert_eq!(first_bad(tampered(&folder, "cut-off", cut)), 151);
    let copy = place("cut-off-and-written");
    copied(&folder, &copy);
    change(&copy, cut);
    let mut cut = Journal::open(&copy).expect("it opens");
    assert!(matches!(cut.head(), Err(JournalError::EventsMissing { .. })));
    assert!(write(&mut cut, now(), vec![note("case-1", None, json!({}))]).is_err(), "nothing covers up the gap");

    let regrown = place("cut-and-regrown");
    copied(&earlier, &regrown);
    let mut again = Journal::open(&regrown).expect("it opens");
    let drafts = (150..EVENTS).map(|number| note("case-1", None, json!({"other": number})));
    write(&mut again, now(), drafts.collect()).expect("room");
    drop(again);
    for (folder, alone, bad) in [(&folder, EVENTS, None), (&earlier, 150, Some(151)), (&regrown, EVENTS, Some(151))] {
        let journal = Journal::open(folder).expect("it opens");
        assert_eq!(journal.verify(&[], &mut |_, _| {}).expect("whole in itself").head.seq, alone);
        let kept = journal.checkpoints(&checkpoints).expect("signed by the same store")[0];
        assert_eq!((kept.head, kept.at.to_utc()), (head, now().to_utc()));
        let proofs = [vec![head], vec![kept.head], journal.exported_heads(&mut &*export).expect("of the same store")];
        for (proof, names) in proofs.iter().zip([None, None, bad]) {
            match journal.verify(proof, &mut |_, _| {}) {
                Ok(verified) => assert_eq!((verified.against, bad), (proof.len() as u64, None)),
                // One head tells that something is wrong, an export where it begins.
                Err(VerifyError::Event { seq, .. }) => {
                    assert!(bad.is_some_and(|bad| seq >= bad) && names.is_none_or(|bad| seq == bad), "{seq}");
                }
                Err(other) => panic!("{other}"),
            }
        }
    }
    let journal = Journal::open(&folder).expect("it was made");
    for seq in [0, EVENTS + 1, u64::MAX] {
        assert!(journal.verify(&[Head { seq, ..head }], &mut |_, _| {}).is_err(), "event {seq}");
    }
}

// Whoever writes in the database alone can make a hash, and no tag: what reads the event finds it, without a whole
// verification.
// hazard: H-RECORD
#[test]
fn an_event_that_was_changed_with_its_hash_is_found_where_it_is_read() {
    let folder = filled("forged", EVENTS);
    let copy = place("forged-copy");
    for seq in [3, 10, 17] {
        copied(&folder, &copy);
        let database = Connection::open(copy.join("journal.db")).expect("SQLite");
        let sql = "SELECT bytes FROM event WHERE seq = ?1";
        let bytes: Vec<u8> = database.query_row(sql, [seq.to_string()], |row| row.get(0)).expect("it is there");
        let forged = String::from_utf8(bytes).expect("JSON").replace("\"number\":", "\"number\":1");
        let hex = data_encoding::HEXLOWER.encode(countersign::journal::Hash::of(forged.as_bytes()).as_bytes());
        let sql = format!("UPDATE event SET bytes = CAST('{forged}' AS BLOB), hash = x'{hex}' WHERE seq = {seq}");
        drop(database);
        change(&copy, &sql);
        let journal = Journal::open(&copy).expect("it opens");
        let scope = format!("case-{}", seq % 7);
        for of in [Of::Scope(&scope), Of::Kind("noted"), Of::All] {
            match journal.events(of) {
                Err(JournalError::EventDamaged { seq: found, .. }) => assert_eq!(found, seq),
                other => panic!("{of:?}: {other:?}"),
            }
        }
        // The other cases are read as before.
        let other = format!("case-{}", (seq + 1) % 7);
        assert!(journal.events(Of::Scope(&other)).is_ok());
        // The tag of another event does not serve, nor does none.
        for tag in ["tag = (SELECT tag FROM proof AS other WHERE other.seq = 5)", "tag = zeroblob(32)", "tag = x''"] {
            change(&copy, &format!("UPDATE proof SET {tag} WHERE seq = {seq}"));
            assert!(journal.events(Of::Scope(&scope)).is_err(), "{tag}");
        }
    }
}

// hazard: H-RECORD
#[test]
fn an_event_that_is_missing_from_a_case_is_named_where_the_case_is_read() {
    let folder = filled("taken", EVENTS);
    let copy = place("taken-copy");
    // Events 10, 17, 24 … are those of case-3.
    let missing = |sql: &str| {
        copied(&folder, &copy);
        change(&copy, sql);
        let journal = Journal::open(&copy).expect("it opens");
        assert!(journal.events(Of::Scope("case-4")).is_ok(), "{sql}");
        assert!(journal.verify(&[], &mut |_, _| {}).is_err(), "{sql}");
        match journal.events(Of::Scope("case-3")) {
            Err(error @ JournalError::EventsMissing { .. }) => error.to_string(),
            other => panic!("{sql}: {other:?}"),
        }
    };
    let said = missing("DELETE FROM event WHERE seq = 17");
    assert!(said.starts_with("case case-3 is not whole") && said.contains("between event 10 and event 24"), "{said}");
    let last = missing("DELETE FROM event WHERE seq > 192 AND scope = 'case-3'");
    assert!(last.contains("the last as event 199"), "{last}");
    for sql in [
        "DELETE FROM event WHERE scope = 'case-3'",
        "DELETE FROM group_head WHERE name = 'case case-3'",
        "UPDATE group_head SET events = events - 1 WHERE name = 'case case-3'",
        "UPDATE group_head SET (events, seq, hash, tag) = (SELECT events, seq, hash, tag FROM group_head AS other WHERE other.name = 'case case-4') WHERE name = 'case case-3'",
    ] {
        missing(sql);
    }
}

// hazard: H-RECORD
#[test]
fn tags_that_were_taken_away_are_not_made_anew() {
    let folder = filled("untagged", 20);
    change(&folder, "DELETE FROM proof; DELETE FROM group_head");
    let error = Journal::open(&folder).expect_err("an event of it was written with tags");
    assert!(error.is_damage() && error.to_string().contains("were taken away"), "{error}");
}

// hazard: H-RECORD
#[test]
fn proofs_that_were_changed_are_refused() {
    let journal = create("proofs");
    journal.keys().new_case("case-1").expect("room");
    let checkpoint = journal.checkpoint(now()).expect("a journal");
    let mut export = Vec::new();
    journal.export(&mut export).expect("memory");
    let export = String::from_utf8(export).expect("JSON");
    for at in 0..checkpoint.len() {
        let mut changed = checkpoint.clone().into_bytes();
        changed[at] ^= 1;
        assert!(journal.checkpoints(&String::from_utf8(changed).expect("ASCII")).is_err(), "byte {at}");
    }
    for at in 0..export.len() {
        let mut changed = export.clone().into_bytes();
        changed[at] ^= 1;
        // The signature of a single event is the journal's to prove, not the export's.
        let of_event = export[..at].rfind("\"signature\":\"").is_some_and(|from| at < from + 13 + 128)
            && at < export.find('\n').expect("a line");
        assert!(of_event || journal.exported_heads(&mut &*changed).is_err(), "byte {at}: {}", &export[at..]);
        let cut = &export.as_bytes()[..at];
        assert!(journal.exported_heads(&mut &*cut).is_err(), "cut at {at}");
    }
    let other = create("proofs-elsewhere");
    assert!(other.checkpoints(&checkpoint).is_err());
    assert!(other.exported_heads(&mut export.as_bytes()).is_err());
}

// hazard: H-RECORD
#[test]
fn a_flipped_byte_of_the_file_is_found_or_harms_nothing() {
    let folder = filled("bytes", EVENTS);
    let pristine = read(&folder).expect("it is whole");
    let file = folder.join("journal.db");
    let bytes = fs::read(&file).expect("ours");
    let (copy, copied_file) = (place("bytes-flipped"), place("bytes-flipped").join("journal.db"));
    copied(&folder, &copy);
    let (mut found, mut harmless, mut random) = (0, 0, 7_u64);
    let samples = thorough(400, 40);
    let step = bytes.len() / samples;
    // The head of the file byte by byte, the rest by samples.
    for at in (0..120).chain((120..bytes.len()).step_by(step)) {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let at = if at < 120 { at } else { (at + (random >> 33) as usize % step).min(bytes.len() - 1) };
        let mut changed = bytes.clone();
        changed[at] ^= 1 << (random >> 61);
        fs::write(&copied_file, changed).expect("ours");
        for end in ["-wal", "-shm"] {
            let _ = fs::remove_file(copy.join(format!("journal.db{end}")));
        }
        match read(&copy) {
            Err(_) => found += 1,
            Ok(events) => {
                assert_eq!(events, pristine, "byte {at}");
                harmless += 1;
            }
        }
    }
    assert!(found * 2 > samples && found + harmless > samples + 100, "{found} found, {harmless} without harm");
}

// hazard: H-RECORD
#[test]
fn a_guard_that_was_taken_away_is_found() {
    let folder = filled("guards", 10);
    for sql in [
        "DROP TRIGGER event_is_not_changed",
        "DROP INDEX event_of_kind",
        "CREATE TABLE more (a INTEGER)",
        "CREATE TRIGGER more AFTER INSERT ON event BEGIN SELECT 1; END",
    ] {
        let copy = place("guards-taken");
        copied(&folder, &copy);
        Connection::open(copy.join("journal.db")).and_then(|database| database.execute_batch(sql)).expect("SQLite");
        let journal = Journal::open(&copy).expect("it opens");
        assert!(matches!(journal.verify(&[], &mut |_, _| {}), Err(VerifyError::File(_))), "{sql}");
    }
}

#[test]
fn a_table_that_was_taken_away_is_damage_and_no_fault_of_the_program() {
    let folder = filled("no-table", 3);
    Connection::open(folder.join("journal.db"))
        .and_then(|database| database.execute_batch("DROP TABLE event"))
        .expect("SQLite");
    let error = Journal::open(&folder).expect_err("there is nothing in it");
    assert!(error.is_damage(), "{error}");
}

/// A verified journal's events, each of them also by scope; or that it is not whole.
fn read(folder: &Path) -> Result<Vec<Vec<u8>>, String> {
    let journal = Journal::open(folder).map_err(|error| error.to_string())?;
    journal.verify(&[], &mut |_, _| {}).map_err(|error| error.to_string())?;
    let mut all = journal.events(Of::All).map_err(|error| error.to_string())?;
    for scope in (0..7).map(|case| format!("case-{case}")) {
        all.extend(journal.events(Of::Scope(&scope)).map_err(|error| error.to_string())?);
    }
    Ok(all.iter().map(|event: &Event| event.bytes().to_vec()).collect())
}

/// The outcome of a verification after this was done to a copy.
fn tampered(folder: &Path, name: &str, sql: &str) -> Result<Verified, VerifyError> {
    let copy = place(name);
    copied(folder, &copy);
    change(&copy, sql);
    Journal::open(&copy).map_err(VerifyError::from)?.verify(&[], &mut |_, _| {})
}

/// As whoever owns the file can: the guards away, the change, the guards back as they were.
fn change(folder: &Path, sql: &str) {
    let database = Connection::open(folder.join("journal.db")).expect("SQLite");
    let guards: Vec<(String, String)> = database
        .prepare("SELECT name, sql FROM main.sqlite_schema WHERE type = 'trigger'")
        .and_then(|mut guards| guards.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect())
        .expect("SQLite");
    for (name, _) in &guards {
        database.execute_batch(&format!("DROP TRIGGER {name}")).expect("SQLite");
    }
    database.execute_batch(sql).unwrap_or_else(|error| panic!("{error}: {sql}"));
    for (_, guard) in &guards {
        database.execute_batch(guard).expect("SQLite");
    }
}

#[track_caller]
fn first_bad(outcome: Result<Verified, VerifyError>) -> u64 {
    match outcome {
        Err(VerifyError::Event { seq, .. }) => seq,
        Err(VerifyError::Journal(JournalError::EventDamaged { seq, .. })) => seq,
        other => panic!("{other:?}"),
    }
}
