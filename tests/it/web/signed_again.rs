//! What weighs most is signed with the PIN at that moment: the key that a session holds open signs none of it.

use std::path::Path;

use axum::Router;
use axum::http::StatusCode;
use countersign::case::{Cases, Role, add, admit_guest, rename, renew_pin, retire, unlock};
use countersign::formulary::Formulary;
use countersign::journal::{Journal, Signer};
use countersign::web::{Clock, Site, router};
use serde_json::json;

use crate::common::copy;
use crate::web::api::{Program, answers};
use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, moment, with};

/// A controlled drug: 50 mcg/mL, 40 mL.
const OPIOID: &[(&str, &str)] = &[
    ("drug", "remifentanil"),
    ("indication", "anaesthesia"),
    ("dose", "0.1 mcg/kg/min"),
    ("label.amount", "2 mg"),
    ("label.volume", "40 mL"),
    ("label.strength", "50 mcg/mL"),
    ("made_from.ampoules", "1"),
    ("made_from.of", "2 mg in 2 mL"),
    ("made_from.diluent", "sodium chloride 0.9 %"),
    ("fill", "40 mL"),
];

/// A controlled drug that was started and stopped at once.
async fn stopped_opioid(router: &Router) -> (Browser, String) {
    let (mut idowu, mut tamm) = (Browser::signed_in(router, IDOWU).await, Browser::signed_in(router, TAMM).await);
    let (case, read) = (idowu.open_case().await, with(READ, OPIOID));
    let first = idowu.seal(&format!("{case}/enter"), &read).await;
    assert_eq!(first.status, StatusCode::SEE_OTHER, "{}", first.text);
    let second = tamm.seal(&format!("{case}/1/enter/second"), &read).await;
    assert_eq!(second.status, StatusCode::SEE_OTHER, "{}", second.text);
    let record = format!("{case}/1/record");
    for did in ["start", "stop"] {
        let once = tamm.get(&record).await.once(&record);
        let done = tamm.post(&record, &[("once", &once), ("did", did), ("value", "")]).await;
        assert_eq!(done.status, StatusCode::SEE_OTHER, "{did}: {}", done.text);
    }
    (tamm, case)
}

// hazard: H-RECORD
#[tokio::test]
async fn a_session_alone_discards_no_controlled_drug_at_the_page() {
    let ward = Ward::new("discards");
    let (mut tamm, case) = stopped_opioid(&ward.served(LONG)).await;
    let close = format!("{case}/1/close");
    let volumes = [("in_line", "0 mL"), ("left", "0 mL"), ("discarded", "40 mL")];
    let witness = [("witness", IDOWU.0), ("witness_pin", IDOWU.1)];
    for (pin, says, status) in [
        ("", "[pin-needed]", StatusCode::UNPROCESSABLE_ENTITY),
        ("190382", "[not-signed-in]", StatusCode::FORBIDDEN),
        // The witness's PIN is not one's own.
        (IDOWU.1, "[not-signed-in]", StatusCode::FORBIDDEN),
    ] {
        let once = tamm.get(&close).await.once(&close);
        let fields = [&[("once", once.as_str()), ("pin", pin)], &volumes[..], &witness].concat();
        let refused = tamm.post(&close, &fields).await;
        assert!(refused.status == status && refused.text.contains(says), "{}", refused.text);
        assert!(refused.text.contains("value=\"40 mL\""), "what was typed stays: {}", refused.text);
        assert!(!refused.text.contains(IDOWU.1) && !refused.text.contains("190382"), "{}", refused.text);
    }
    let once = tamm.get(&close).await.once(&close);
    let fields = [&[("once", once.as_str()), ("pin", TAMM.1)], &volumes[..], &witness].concat();
    let closed = tamm.post(&close, &fields).await;
    assert!(closed.status == StatusCode::OK && closed.text.contains("Discarded"), "{}", closed.text);
}

// hazard: H-RECORD
#[tokio::test]
async fn a_session_alone_discards_no_controlled_drug_for_a_program() {
    let ward = Ward::new("discards-api");
    let router = ward.served(LONG);
    let (_, case) = stopped_opioid(&router).await;
    let close = format!("/cases/{}/1/close", case.trim_start_matches("/case/"));
    let mut tamm = Program::signed_in(&router, TAMM).await;
    let witness = json!({"name": IDOWU.0, "pin": IDOWU.1});
    let mut account = json!({"in_line": "0 mL", "left": "0 mL", "discarded": "40 mL", "witness": witness});
    assert_eq!(tamm.write(&close, account.clone()).await.refused(StatusCode::CONFLICT), "pin-needed");
    account["pin"] = json!("190382");
    assert_eq!(tamm.write(&close, account.clone()).await.refused(StatusCode::FORBIDDEN), "not-signed-in");
    account["pin"] = json!(TAMM.1);
    let closed = tamm.write(&close, account).await;
    assert_eq!((closed.status, &closed.json()["balance"]["same"]), (StatusCode::CREATED, &json!(true)), "{closed:?}");
}

// hazard: H-RECORD
#[test]
fn a_session_alone_does_nothing_with_people_and_makes_nothing_unreadable() {
    let ward = Ward::new("deeds");
    let (mut journal, now) = (Journal::open(&ward.journal).expect("the journal"), moment());
    let opened = |journal: &mut Journal, who: (&str, &str)| unlock(journal, now, who.0, who.1).expect("a PIN").1;
    let (idowu, tamm) = (opened(&mut journal, IDOWU), opened(&mut journal, TAMM));
    add(&mut journal, now, (&idowu, &tamm), "K. Ruiz", Role::Administrator, "603917").expect("two name one");
    let ruiz = opened(&mut journal, ("K. Ruiz", "603917"));
    let held = |journal: &mut Journal, who| opened(journal, who).hold();
    let (held_ruiz, held_idowu) = (held(&mut journal, ("K. Ruiz", "603917")), held(&mut journal, IDOWU));
    for two in [(&held_ruiz, &idowu), (&ruiz, &held_idowu)] {
        let deeds: [(&str, Result<(), _>); 4] = [
            ("add", add(&mut journal, now, two, "P. Harm", Role::Nurse, "603917").map(|_| ())),
            ("retire", retire(&mut journal, now, two, TAMM.0).map(|_| ())),
            ("rename", rename(&mut journal, now, two, TAMM.0, "M. Kask").map(|_| ())),
            ("new PIN", renew_pin(&mut journal, now, two, TAMM.0, "417093").map(|_| ())),
        ];
        for (deed, done) in deeds {
            let says = done.expect_err(deed).to_string();
            assert!(says.contains("signed with your PIN"), "{deed}: {says}");
        }
    }
    for two in [(&held_idowu, &tamm), (&tamm, &held_idowu)] {
        let admitted = admit_guest(&mut journal, now, two, "G. Moss", Role::Nurse, "603917");
        assert!(admitted.expect_err("a guest").to_string().contains("signed with your PIN"));
    }
    let events = journal.head().expect("a journal").seq;
    let mut cases = Cases::of(journal);
    let code = cases.open(now, Some(&idowu)).expect("a case");
    let forgets = |cases: &mut Cases, two: (&Signer, &Signer)| cases.forget(now, two, code);
    for two in [(&held_idowu, &tamm), (&tamm, &held_idowu)] {
        let says = forgets(&mut cases, two).expect_err("a session alone").to_string();
        assert!(says.contains("signed with your PIN"), "{says}");
    }
    assert_eq!(cases.journal().head().expect("a journal").seq, events + 1, "nothing but the case was written");
    forgets(&mut cases, (&idowu, &tamm)).expect("both typed their PINs");
}

/// A server of a house that asks for the PIN with each entry.
fn asks_for_the_pin(ward: &Ward) -> Router {
    let folder = ward.journal.parent().expect("its folder").join("formulary");
    copy(Path::new("formulary"), &folder);
    let file = folder.join("formulary.yaml");
    let text = std::fs::read_to_string(&file).expect("the policy");
    let asks = text.replace("policy:\n", "policy:\n  sealing_asks_pin: true\n");
    assert_ne!(asks, text);
    std::fs::write(&file, asks).expect("room");
    let formulary = Formulary::open(&folder).expect("a formulary");
    let cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
    router(Site::new(cases, formulary, Clock::Stands(moment()), LONG, false))
}

#[tokio::test]
async fn a_house_that_asks_for_it_seals_no_entry_without_the_pin() {
    let ward = Ward::new("seals");
    let router = asks_for_the_pin(&ward);
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    let enter = format!("{}/enter", idowu.open_case().await);
    for (pin, says) in [("", "[pin-needed]"), ("190382", "[not-signed-in]")] {
        let refused = idowu.seal(&enter, &[READ, &[("pin", pin)]].concat()).await;
        assert!(refused.text.contains(says), "{}", refused.text);
        assert!(refused.text.contains("value=\"84.2 kg\"") && !refused.text.contains("190382"), "{}", refused.text);
    }
    assert_eq!(ward.events("entry-sealed"), 0);
    let kept = idowu.get(&enter).await.text;
    assert!(kept.contains("value=\"84.2 kg\"") && !kept.contains("190382"), "{kept}");
    let sealed = idowu.seal(&enter, &[READ, &[("pin", IDOWU.1)]].concat()).await;
    assert_eq!(sealed.status, StatusCode::SEE_OTHER, "{}", sealed.text);

    let mut program = Program::signed_in(&router, TAMM).await;
    let enter = format!("/cases/{}/enter", program.open_case().await);
    let entry = |pin: Option<&str>, seen: &str| json!({"answers": answers(READ), "seen": seen, "pin": pin});
    let judged = program.post(&format!("{enter}/judge"), &json!({"answers": answers(READ), "whole": true})).await;
    let seen = judged.json()["seen"].as_str().expect("a text").to_owned();
    assert_eq!(program.write(&enter, entry(None, &seen)).await.refused(StatusCode::CONFLICT), "pin-needed");
    let wrong = program.write(&enter, entry(Some("190382"), &seen)).await;
    assert_eq!(wrong.refused(StatusCode::FORBIDDEN), "not-signed-in");
    assert_eq!(program.write(&enter, entry(Some(TAMM.1), &seen)).await.status, StatusCode::CREATED);
    assert_eq!(ward.events("entry-sealed"), 2);

    // An emergency waits for no PIN.
    let mut anybody = Browser::at(&router);
    let mut fields = with(READ, &[]);
    fields.extend([("by", "A. Idowu"), ("role", "anaesthetist")]);
    let card = anybody.seal("/emergency/whole", &fields).await;
    assert!(card.status == StatusCode::OK && card.text.contains("NOT DOUBLE-CHECKED"), "{}", card.text);
}
