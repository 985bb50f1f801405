//! Two people, each alone: nothing of the first entry reaches the second person before both are sealed.

use axum::http::{StatusCode, header};

use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, with};

/// Everything that the second person is answered until their entry is sealed, without codes and tokens.
async fn second_persons_traffic(name: &str, first: &[(&str, &str)]) -> String {
    let ward = Ward::new(name);
    let router = ward.served(LONG);
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    let case = idowu.open_case().await;
    let sealed = idowu.seal(&format!("{case}/enter"), first).await;
    assert_eq!(sealed.status, StatusCode::SEE_OTHER, "{sealed:?}");
    let mut tamm = Browser::signed_in(&router, TAMM).await;
    let second = format!("{case}/1/enter/second");
    let mut traffic = String::new();
    for path in [
        "/",
        "/follow",
        &case,
        &format!("{case}/follow"),
        &second,
        &format!("{case}/1/card"),
        &format!("{case}/1/record"),
        &format!("{case}/1/readback"),
    ] {
        let answer = tamm.get(path).await;
        traffic.push_str(&format!("{} {}\n", answer.status, answer.without_tokens()));
    }
    let once = tamm.get(&second).await.once(&second);
    let mut fields = vec![("once", once.as_str()), ("do", "check")];
    fields.extend(READ);
    let answer = tamm.post(&second, &fields).await;
    traffic.push_str(&answer.without_tokens());
    traffic.replace(case.trim_start_matches("/case/"), "CODE")
}

// hazard: H-INDEPENDENCE
#[tokio::test]
async fn the_second_person_is_answered_the_same_whatever_the_first_entered() {
    let one = second_persons_traffic("one", READ).await;
    let planted =
        [("patient.identifiers[1]", "ZZ-PLANTED"), ("dose", "0.0731 mcg/kg/min"), ("patient.weight", "91.7 kg")];
    let other = second_persons_traffic("other", &with(READ, &planted)).await;
    assert_eq!(one, other);
    assert!(one.contains("a second person enters next") && one.len() > 10_000);
    for (_, text) in planted {
        assert!(!other.contains(text), "{text}");
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
