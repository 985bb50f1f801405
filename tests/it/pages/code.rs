//! The code on a card: read off paper, held against the data and the journal, and refused where anything was altered.

use std::fs;

use rstest::rstest;
use serde_json::Value;

use super::{Agreed, agreed, scanned};
use crate::common::tools::{PDFTOPPM, ZBARIMG, missing};
use crate::common::{Said, folder};

/// The card as data, changed, and what `case verify` says of it.
fn verified(case: &Agreed, change: impl FnOnce(&mut Value), more: &[&str]) -> Said {
    let mut data: Value = serde_json::from_slice(&fs::read(case.card("json")).expect("just written")).expect("JSON");
    change(&mut data);
    fs::write(case.folder.join("held.json"), serde_json::to_vec_pretty(&data).expect("text keys")).expect("room");
    let words: Vec<&str> = ["case", "verify", "held.json"].into_iter().chain(more.iter().copied()).collect();
    case.command(&words).said()
}

fn code_of(case: &Agreed) -> String {
    let data: Value = serde_json::from_slice(&fs::read(case.card("json")).expect("just written")).expect("JSON");
    data["code"].as_str().expect("a code").to_owned()
}

/// The store's public key, where the option's help says it stands.
fn key(case: &Agreed) -> String {
    let export = case.command(&["journal", "export"]).said().stdout;
    let first = export.lines().next().expect("an event");
    let at = first.find("store\\\":\\\"").map(|at| at + 10).or_else(|| first.find("\"store\":\"").map(|at| at + 9));
    first[at.expect("the key")..].chars().take(64).collect()
}

// hazard: H-CHANGED
#[test]
fn the_code_is_read_off_every_page_and_proves_the_card() {
    if missing(&[PDFTOPPM, ZBARIMG]) {
        return;
    }
    let case = Agreed::new("code-scanned");
    let scanned = scanned(&case.card("pdf"));
    assert_eq!(scanned, code_of(&case));
    assert!(scanned.starts_with(&format!("CARD1:{}/1:", case.code)), "{scanned}");
    // In one mode of a QR code, which holds a letter in 5.5 bits.
    assert!(scanned.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || "-/:".contains(c)), "{scanned}");
    let said = verified(&case, |_| {}, &["--code", &scanned]);
    assert!(said.code == 0 && said.stdout.starts_with(&format!("WHOLE: {}/1", case.code)), "{said:?}");
    // Copied from the page by hand: broken lines, small letters.
    let lines: String = scanned
        .to_lowercase()
        .chars()
        .enumerate()
        .map(|(at, c)| if at % 40 == 39 { format!("{c}\n") } else { c.to_string() })
        .collect();
    fs::write(case.folder.join("copied"), lines).expect("room");
    assert_eq!(verified(&case, |_| {}, &["--code-file", "copied"]).code, 0);
    // The card alone, without what stands around it, and in another order.
    let alone = |data: &mut Value| {
        *data = data["card"].take();
        data.sort_all_objects();
    };
    assert_eq!(verified(&case, alone, &["--code", &scanned]).code, 0);
    assert!(verified(&case, alone, &[]).is_refused().contains("no code is named"));
    let said = verified(&case, |_| {}, &["--format", "json"]);
    assert_eq!(
        (said.json()["verdict"].as_str(), said.json()["differs"].as_array().map(Vec::len)),
        (Some("whole"), Some(0))
    );
}

/// The key is enough where the journal is not at hand.
#[test]
fn the_public_key_is_enough() {
    let case = Agreed::new("code-key");
    let key = key(&case);
    let without = |change: fn(&mut Value), key: &str| {
        let said = verified(&case, change, &["--key", key, "--journal", "nowhere"]);
        (said.code, said.stdout)
    };
    let (code, said) = without(|_| {}, &key);
    assert!(code == 0 && said.contains("the journal was not looked at"), "{said}");
    let (code, said) = without(|data| data["card"]["rate"]["value"] = "51".into(), &key);
    assert!(code == 4 && said.contains("card: its data are not those that were signed"), "{said}");
    let (code, said) = without(|_| {}, &"5".repeat(64));
    assert!(code == 4 && said.contains("signature: it is not that of"), "{said}");
    assert!(verified(&case, |_| {}, &["--key", "12"]).is_refused().contains("64 hex digits"));
}

// hazard: H-CHANGED
#[rstest]
#[case::rate("/card/rate/value", "51", "rate.value: the card says `51`, and the journal `5.1`")]
#[case::patient(
    "/card/patient/weight",
    "48.2 kg (measured)",
    "patient.weight: the card says `48.2 kg (measured)`, and the journal `84.2 kg (measured)`"
)]
#[case::fingerprint("/card/limits/fingerprint", "0", "limits.fingerprint: the card says `0`")]
#[case::head("/card/case/head", "1:0", "case.head: the card says `1:0`")]
#[case::case_code("/card/case/code", "K7M-4QX/1", "case.code: the card says `K7M-4QX/1`")]
#[case::step("/card/setting_up/2", "Nothing", "setting_up.3: the card says `Nothing`")]
#[case::notice("/card/notice", "", "notice: the card says nothing, and the journal `DEMONSTRATION LIMITS")]
#[case::around("/set_up", "K7M-4QX/2", "set_up: beside the card it says \"K7M-4QX/2\"")]
fn an_altered_card_is_refused_with_what_differs(#[case] place: &str, #[case] value: &str, #[case] says: &str) {
    let case = Agreed::new(&format!("altered{}", place.replace('/', "-")));
    let said = verified(&case, |data| *data.pointer_mut(place).expect("a place") = value.into(), &[]);
    assert_eq!(said.code, 4, "{said:?}");
    let squeezed = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(squeezed.starts_with("ALTERED: do not use this card") && squeezed.contains(says), "{said:?}");
    let data = verified(&case, |data| *data.pointer_mut(place).expect("a place") = value.into(), &["--format", "json"]);
    assert_eq!((data.code, data.json()["verdict"].as_str()), (4, Some("altered")));
}

/// Any sign of a code that is changed is found, and a code of another card.
#[test]
fn an_altered_code_is_refused() {
    let case = Agreed::new("code-altered");
    let code = code_of(&case);
    let parts: Vec<&str> = code.split(':').collect();
    for at in 2..parts.len() {
        let mut parts: Vec<String> = parts.iter().map(|part| (*part).to_owned()).collect();
        let first = parts[at].remove(0);
        parts[at].insert(0, if first == '2' { '3' } else { '2' });
        let said = verified(&case, |_| {}, &["--code", &parts.join(":")]);
        assert!(said.code == 4 && said.stdout.contains("signature: it is not that of"), "{at}: {said:?}");
    }
    let other = Agreed::made(folder("code-of-another"));
    let said = verified(&case, |_| {}, &["--code", &code_of(&other)]);
    assert!(said.code == 4 && said.stdout.contains("signature:") && said.stdout.contains("head:"), "{said:?}");
    for (text, why) in [
        ("", "1 parts"),
        (&code[6..], "6 parts"),
        (&code.replace("CARD1", "CARD2"), "newer form"),
        (&code[..code.len() - 1], "its signature is not one"),
    ] {
        let said = verified(&case, |_| {}, &["--code", text]);
        assert!(said.is_refused().contains(why), "{why}: {said:?}");
    }
    let twice = fs::read_to_string(case.card("json")).expect("just written").replacen(
        "\"rate\":",
        "\"rate\":{\"value\":\"51\"},\"rate\":",
        1,
    );
    fs::write(case.folder.join("twice.json"), twice).expect("room");
    assert!(case.command(&["case", "verify", "twice.json"]).said().is_refused().contains("`rate` stands twice"));
}

#[test]
fn a_card_of_two_files_is_unsigned() {
    let case = Agreed::new("code-unsigned");
    fs::write(case.folder.join("files.json"), agreed("adult-vasopressor/", "json").stdout).expect("room");
    let said = case.command(&["case", "verify", "files.json"]).said();
    assert!(said.code == 4 && said.stdout.starts_with("UNSIGNED\n"), "{said:?}");
    let said = case.command(&["case", "verify", "files.json", "--format", "json"]).said();
    assert_eq!((said.code, said.json()["verdict"].as_str()), (4, Some("unsigned")));
    // What it says of itself is so: a card that was altered is answered alike.
    let as_made = case.command(&["case", "verify", "files.json"]).said();
    assert!(as_made.stdout.contains("if it was altered, no check can show it."), "{as_made:?}");
    let text = fs::read_to_string(case.folder.join("files.json")).expect("just written");
    let altered = text.replacen("\"value\":\"5.1\"", "\"value\":\"51\"", 1);
    assert_ne!(altered, text);
    fs::write(case.folder.join("altered.json"), altered).expect("room");
    let altered = case.command(&["case", "verify", "altered.json"]).said();
    assert_eq!((altered.code, altered.stdout), (as_made.code, as_made.stdout));
    fs::write(case.folder.join("no.json"), "{\"a\": \"b\"}").expect("room");
    assert!(case.command(&["case", "verify", "no.json"]).said().is_refused().contains("no card as data"));
}

/// The emergency card is signed as what it is, and stays verifiable after somebody has checked it.
#[test]
fn an_emergency_card_is_signed_and_says_what_it_is() {
    let case = Agreed::new("code-emergency");
    let said = case.says("08:00", &["case", "emergency", "--by", "A. Idowu", "--from", "first"], "");
    let line = said.stdout.lines().find_map(|line| line.strip_prefix("Case  ")).expect("the card names its case");
    let code = line.trim().to_owned();
    assert!(said.stdout.contains("NOT DOUBLE-CHECKED") && said.stdout.contains(&format!("CARD1:{code}:")), "{said:?}");
    let card = case.says("08:01", &["case", "card", &code, "--format", "json", "-o", "emergency.json"], "");
    assert!(card.stdout.contains("emergency.json"));
    let said = case.command(&["case", "verify", "emergency.json"]).said();
    assert_eq!(said.code, 0, "{said:?}");
    let text = fs::read_to_string(case.folder.join("emergency.json")).expect("just written");
    fs::write(case.folder.join("emergency.json"), text.replace("\"double_checked\":false", "\"double_checked\":true"))
        .expect("room");
    let said = case.command(&["case", "verify", "emergency.json"]).said();
    assert!(said.code == 4 && said.stdout.contains("double_checked: beside the card"), "{said:?}");
}
