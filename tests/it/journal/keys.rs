//! Keys: what is sealed opens with the same key, names and PIN alone, and nothing shows a key.

use std::fs;
use std::path::Path;

use countersign::journal::{JournalError, SealedSigner, Unsealable, WrongPin, verify_store_signature};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;

use super::{PIN, create};

const BOUND: &[&str] = &["case-1", "p-1", "round 1"];

// hazard: H-INDEPENDENCE
#[test]
fn a_seal_opens_for_the_same_case_person_and_round_alone() {
    let journal = create("bound");
    let key = journal.keys().new_case("case-1").expect("room");
    let other = journal.keys().new_case("case-2").expect("room");
    let sealed = key.seal(BOUND, b"0.08 mcg/kg/min");
    assert_eq!(key.open(BOUND, &sealed).as_deref(), Ok(&b"0.08 mcg/kg/min"[..]));
    let elsewhere: &[&[&str]] = &[
        &["case-2", "p-1", "round 1"],
        &["case-1", "p-2", "round 1"],
        &["case-1", "p-1", "round 2"],
        &["p-1", "case-1", "round 1"],
        &["case-1", "p-1"],
        &["case-1", "p-1", "round 1", ""],
        &["case-1p-1", "", "round 1"],
        &["case-", "1p-1", "round 1"],
        &[],
    ];
    for names in elsewhere {
        assert_eq!(key.open(names, &sealed), Err(Unsealable), "{names:?}");
    }
    assert_eq!(other.open(BOUND, &sealed), Err(Unsealable));
    assert_ne!(key.seal(BOUND, b"0.08 mcg/kg/min"), sealed, "the same twice tells that it is the same");
    for at in 0..sealed.len() {
        let mut changed = sealed.clone().into_bytes();
        changed[at] = if changed[at] == b'A' { b'B' } else { b'A' };
        let changed = String::from_utf8(changed).expect("ASCII");
        assert_eq!(key.open(BOUND, &changed), Err(Unsealable), "byte {at}");
    }
    for text in ["", "AAAA", "not base64"] {
        assert_eq!(key.open(BOUND, text), Err(Unsealable));
    }
}

// hazard: H-INDEPENDENCE
#[test]
fn a_seal_tells_neither_the_length_nor_the_content() {
    let journal = create("padded");
    let key = journal.keys().new_case("case-1").expect("room");
    let length = |plain: usize| key.seal(BOUND, &vec![b'7'; plain]).len();
    for plain in [1, 100, 1022, 1023] {
        assert_eq!(length(plain), length(0), "{plain}");
    }
    assert!(length(1024) > length(1023) && length(1024) == length(2047));
    assert_eq!(key.salted_hash(b"84.2 kg"), key.salted_hash(b"84.2 kg"));
    assert_ne!(key.salted_hash(b"84.2 kg"), key.salted_hash(b"84.3 kg"));
    let other = journal.keys().new_case("case-2").expect("room");
    assert_ne!(key.salted_hash(b"84.2 kg"), other.salted_hash(b"84.2 kg"));
}

#[test]
fn whatever_is_sealed_comes_out() {
    let journal = create("sealing");
    let key = journal.keys().new_case("case-1").expect("room");
    // Zeros at the end are also what fills a page.
    let plain = (proptest::collection::vec(any::<u8>(), 0..3000), 0..3_usize)
        .prop_map(|(plain, zeros)| [plain, vec![0; zeros]].concat());
    let law = TestRunner::default().run(&plain, |plain| {
        prop_assert_eq!(key.open(BOUND, &key.seal(BOUND, &plain)), Ok(plain));
        Ok(())
    });
    law.expect("for any bytes");
}

#[test]
fn a_wrong_pin_opens_nothing() {
    let journal = create("pin");
    let keys = journal.keys();
    let (sealed, signer) = keys.new_signer("p-1", PIN).expect("a long PIN");
    assert_eq!(keys.unlock("p-1", &sealed, PIN).map(|opened| opened.public()).ok(), Some(signer.public()));
    for pin in ["271829", "", "27182", "2718280", "２７１８２８"] {
        assert_eq!(keys.unlock("p-1", &sealed, pin).map(|_| ()), Err(WrongPin), "{pin}");
    }
    // Another name, another store: the right PIN is of no use.
    assert_eq!(keys.unlock("p-2", &sealed, PIN).map(|_| ()), Err(WrongPin));
    let elsewhere = create("pin-elsewhere");
    assert_eq!(elsewhere.keys().unlock("p-1", &sealed, PIN).map(|_| ()), Err(WrongPin));
    for pin in ["", "27182", "ééééé"] {
        assert!(matches!(keys.new_signer("p-3", pin), Err(JournalError::PinTooShort { .. })), "{pin}");
        assert!(matches!(keys.reseal(&signer, pin), Err(JournalError::PinTooShort { .. })), "{pin}");
    }
    let renewed = keys.reseal(&signer, "314159").expect("a long PIN");
    assert_eq!(keys.unlock("p-1", &renewed, "314159").map(|opened| opened.public()).ok(), Some(signer.public()));
    assert_eq!(keys.unlock("p-1", &renewed, PIN).map(|_| ()), Err(WrongPin));
    assert_eq!((renewed.public(), sealed.public()), (Some(signer.public()), Some(signer.public())));
}

/// It comes out of an event: what it asks of the machine is bounded, and nothing in it can be exchanged.
#[test]
fn a_sealed_key_that_was_written_by_another_hand_opens_nothing() {
    let journal = create("pin-forged");
    let (sealed, _) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let (other, _) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let text = serde_json::to_value(&sealed).expect("it is data");
    let other = serde_json::to_value(&other).expect("it is data");
    assert_eq!(serde_json::from_value::<SealedSigner>(text.clone()).expect("as written"), sealed);
    for (field, value) in [
        ("memory_kib", 4_000_000_000_u32.into()),
        ("memory_kib", 0.into()),
        ("passes", 4_000_000_000_u32.into()),
        ("lanes", 0.into()),
        ("lanes", 200.into()),
        ("salt", "00".into()),
        ("salt", other["salt"].clone()),
        ("sealed", other["sealed"].clone()),
        ("public", other["public"].clone()),
        ("public", "".into()),
    ] {
        let mut forged = text.clone();
        forged[field] = value;
        let forged: SealedSigner = serde_json::from_value(forged).expect("the same shape");
        assert_eq!(journal.keys().unlock("p-1", &forged, PIN).map(|_| ()), Err(WrongPin), "{field}");
    }
}

// hazard: H-RECORD
#[test]
fn a_case_key_is_kept_found_again_and_forgotten() {
    let journal = create("case-keys");
    let keys = journal.keys();
    let sealed = keys.new_case("../../Odd name/\u{e9}").expect("any text").seal(BOUND, b"x");
    let again = keys.case("../../Odd name/\u{e9}").expect("readable").expect("made");
    assert_eq!(again.open(BOUND, &sealed).as_deref(), Ok(&b"x"[..]));
    assert!(matches!(keys.new_case("../../Odd name/\u{e9}"), Err(JournalError::KeyThere { .. })));
    keys.new_case("case-2").expect("room");
    // A key moved to another name is not taken for that of the name.
    let files = files(&journal.folder().join("case-keys"));
    assert_eq!(files.len(), 2);
    let swapped = fs::read(&files[0]).expect("ours");
    fs::write(&files[0], fs::read(&files[1]).expect("ours")).expect("ours");
    fs::write(&files[1], swapped).expect("ours");
    assert!(matches!(keys.case("case-2"), Err(JournalError::KeyDamaged { .. })));
    for _ in 0..2 {
        keys.forget("case-2").expect("writable");
        assert!(keys.case("case-2").expect("gone is no error").is_none());
    }
    assert!(keys.case("case-3").expect("never made is no error").is_none());
}

#[cfg(unix)]
#[test]
fn nobody_else_may_read_anything() {
    use std::os::unix::fs::PermissionsExt as _;
    let mut journal = create("rights");
    super::add_signer(&mut journal, "p-1");
    journal.keys().new_case("case-1").expect("room");
    let mode = |path: &Path| fs::metadata(path).expect("it was made").permissions().mode() & 0o777;
    let folder = journal.folder();
    assert_eq!(mode(folder), 0o700);
    let case_keys = folder.join("case-keys");
    assert_eq!(mode(&case_keys), 0o700);
    let every = [files(folder), files(&case_keys)].concat();
    assert!(every.len() >= 5, "{every:?}");
    for file in every {
        assert_eq!(mode(&file), 0o600, "{}", file.display());
    }
    let key = files(&case_keys).remove(0);
    fs::set_permissions(&key, fs::Permissions::from_mode(0o640)).expect("ours");
    let refused = journal.keys().case("case-1").expect_err("others can read it");
    assert!(refused.to_string().contains("mode 640") && refused.help().starts_with("chmod 600 "), "{refused}");
}

#[test]
fn nothing_that_is_shown_shows_a_key() {
    let journal = create("shown");
    let store = fs::read_to_string(journal.folder().join("store.key")).expect("ours");
    let (_, signer) = journal.keys().new_signer("p-1", PIN).expect("a long PIN");
    let case = journal.keys().new_case("case-1").expect("room");
    let shown = [format!("{case:?}"), format!("{signer:?}"), format!("{:?}", journal.keys()), format!("{journal:?}")];
    assert_eq!(shown[0], "CaseKey");
    assert_eq!(shown[1], "Signer { id: \"p-1\", .. }");
    for text in shown {
        assert!(!text.contains(store.trim()) && !text.contains("key:") && !text.contains('['), "{text}");
    }
}

#[test]
fn the_store_signs_statements_that_are_no_events() {
    let journal = create("statements");
    let public = journal.store_public();
    let signature = journal.sign_as_store(b"a card");
    assert!(verify_store_signature(&public, b"a card", &signature));
    assert!(!verify_store_signature(&public, b"another card", &signature));
    assert!(!verify_store_signature(&create("statements-elsewhere").store_public(), b"a card", &signature));
    // The store's signature of an event is none of the same bytes as a statement.
    let database = rusqlite::Connection::open(journal.folder().join("journal.db")).expect("SQLite");
    let (bytes, signed): (Vec<u8>, [u8; 64]) = database
        .query_row("SELECT bytes, signature FROM event WHERE seq = 1", [], |row| Ok((row.get(0)?, row.get(1)?)))
        .expect("the first event");
    assert!(!verify_store_signature(&public, &bytes, &signed));
}

fn files(folder: &Path) -> Vec<std::path::PathBuf> {
    let entries = fs::read_dir(folder).expect("it was made").map(|entry| entry.expect("it can be listed").path());
    let mut files: Vec<_> = entries.filter(|path| path.is_file()).collect();
    files.sort();
    files
}
