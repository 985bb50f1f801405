//! Two people, each alone: nothing of the first entry reaches the second person before both are sealed.

use axum::Router;
use axum::http::{StatusCode, header};

use crate::cases::blindness::each_sealed;
use crate::common::tools::thorough;
use crate::web::ward::{Answer, Browser, IDOWU, LONG, READ, TAMM, Ward, with};

/// Everything that the second person is answered until their entry is sealed, without codes and tokens: before and after
/// they started it, where they do.
async fn second_persons_traffic(case: &str, router: &Router, starts: bool) -> String {
    let mut tamm = Browser::signed_in(router, TAMM).await;
    let second = format!("{case}/1/enter/second");
    let record = format!("{case}/1/record");
    let mut traffic = String::new();
    let mut tell = |answer: &Answer| traffic.push_str(&format!("{} {}\n", answer.status, answer.without_tokens()));
    for round in 0..=u8::from(starts) {
        for path in ["", "/follow", "/weight", "/identifiers", "/1/card", "/1/record", "/1/readback", "/1/close"] {
            tell(&tamm.get(&format!("{case}{path}")).await);
        }
        for path in ["/", "/follow", &second] {
            tell(&tamm.get(path).await);
        }
        let once = tamm.get(&second).await.once(&second);
        let mut fields = vec![("once", once.as_str()), ("do", "check")];
        fields.extend(READ);
        tell(&tamm.post(&second, &fields).await);
        let reports: &[(&str, &str)] = match (starts, round) {
            (false, _) => &[("start", ""), ("start", "5 mL/h"), ("stop", "")],
            (true, 0) => &[("start", "5 mL/h")],
            (true, _) => {
                &[("rate", "7 mL/h"), ("bolus", "5 units"), ("bolus", "0.5 mg/kg"), ("bolus", "1 mL"), ("stop", "")]
            }
        };
        for (did, value) in reports {
            let page = tamm.get(&record).await;
            if !page.text.contains(&format!("action=\"{record}\"")) {
                continue;
            }
            let once = page.once(&record);
            let mut fields = vec![("once", once.as_str()), ("did", did), ("value", value), ("reason", "pressure fell")];
            if starts {
                fields.push(("even_so", "yes"));
            }
            tell(&tamm.post(&record, &fields).await);
        }
    }
    traffic.replace(case.trim_start_matches("/case/"), "CODE")
}

// hazard: H-INDEPENDENCE
#[rstest::rstest]
#[case::looks(false)]
#[case::starts(true)]
#[tokio::test]
async fn the_second_person_is_answered_the_same_whatever_the_first_entered(#[case] starts: bool) {
    let mut expected = None;
    for (name, journal, case) in each_sealed(&format!("page {starts}"), thorough(11, 4)) {
        let ward = Ward { journal };
        let traffic = second_persons_traffic(&format!("/case/{case}"), &ward.served(LONG), starts).await;
        assert!(traffic.contains("a second person enters next") && traffic.len() > 10_000, "{name}");
        assert_eq!(traffic.contains("started at 5 mL/h"), starts, "{name}: {traffic}");
        assert!(["ZZ-PLANTED", "0.0731", "91.7"].iter().all(|planted| !traffic.contains(planted)), "{name}: {traffic}");
        let expected = expected.get_or_insert_with(|| traffic.clone());
        for (one, other) in traffic.lines().zip(expected.lines()) {
            assert_eq!(one, other, "{name}: what is sealed shows");
        }
        assert_eq!(traffic.len(), expected.len(), "{name}");
    }
}

#[tokio::test]
async fn two_who_read_the_same_have_a_card() {
    let ward = Ward::new("agree");
    let router = ward.served(LONG);
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    // The same person twice is refused, in the words of the command.
    let twice = idowu.get(&format!("{case}/1/enter/second")).await;
    assert!(twice.status == StatusCode::CONFLICT && twice.text.contains("same-person"), "{twice:?}");
    let mut tamm = Browser::signed_in(&router, TAMM).await;
    let sealed = tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    assert_eq!(sealed.headers[header::LOCATION], case, "{sealed:?}");
    let card = tamm.get(&format!("{case}/1/card")).await;
    assert!(card.status == StatusCode::OK && card.text.contains("5.1") && card.text.contains("mL/h"), "{}", card.text);
}

#[tokio::test]
async fn two_who_differ_are_told_the_field_and_read_it_again() {
    let ward = Ward::new("differ");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), &with(READ, &[("dose", "0.09 mcg/kg/min")])).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let stands = tamm.get(&case).await.text;
    assert!(stands.contains("the entries differ") && stands.contains("dose") && !stands.contains("0.09"), "{stands}");
    let again = format!("{case}/1/enter/first");
    assert!(!idowu.get(&again).await.text.contains("data-question=\"drug\""), "only what differs is read again");
    let dose: Vec<(&str, &str)> = READ.iter().copied().filter(|(path, _)| *path == "dose").collect();
    for (browser, path) in [(&mut idowu, again), (&mut tamm, format!("{case}/1/enter/second"))] {
        let sealed = browser.seal(&path, &dose).await;
        assert_eq!(sealed.status, StatusCode::SEE_OTHER, "{sealed:?}");
    }
    assert_eq!(tamm.get(&format!("{case}/1/card")).await.status, StatusCode::OK);
}

#[tokio::test]
async fn what_was_typed_survives_a_restart_and_is_given_back_to_that_person_only() {
    let ward = Ward::new("draft");
    let path;
    {
        let mut idowu = Browser::signed_in(&ward.served(LONG), IDOWU).await;
        path = format!("{}/enter", idowu.open_case().await);
        let once = idowu.get(&path).await.once(&path);
        let typed =
            [("once", once.as_str()), ("do", "judge"), ("area", "adult theatre"), ("dose", "0.0731 mcg/kg/mim")];
        let judged = idowu.post(&path, &typed).await;
        assert!(judged.text.contains("Look again"), "the field is judged as it is left: {}", judged.text);
    }
    let router = ward.served(LONG);
    let found = Browser::signed_in(&router, IDOWU).await.get(&path).await.text;
    assert!(found.contains("0.0731 mcg/kg/mim") && found.contains("still here"), "{found}");
    assert!(!Browser::signed_in(&router, TAMM).await.get(&path).await.text.contains("0.0731"));
    let drafts: Vec<_> = std::fs::read_dir(ward.journal.join("drafts")).expect("drafts").flatten().collect();
    assert_eq!(drafts.len(), 1);
    let bytes = std::fs::read(drafts[0].path()).expect("a draft");
    assert!(!bytes.windows(6).any(|six| six == b"0.0731"), "it is sealed");
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    assert_eq!(idowu.seal(&path, READ).await.status, StatusCode::SEE_OTHER);
    assert_eq!(std::fs::read_dir(ward.journal.join("drafts")).expect("drafts").count(), 0, "sealed, it is gone");
}
