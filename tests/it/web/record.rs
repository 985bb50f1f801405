//! From the card to the last drop, and an emergency.

use axum::http::StatusCode;

use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, with};

#[tokio::test]
async fn a_read_back_that_differs_is_put_right_and_the_record_goes_to_its_close() {
    let ward = Ward::new("record");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let back = format!("{case}/1/readback");
    for (shown, says) in [("51 mL/h", "THE DISPLAY DIFFERS"), ("5.1 mL/h", "WHAT WAS COMPARED IS RIGHT")] {
        let once = tamm.get(&back).await.once(&back);
        let answer = tamm.post(&back, &[("once", &once), ("shown.rate", shown)]).await;
        assert!(answer.text.contains(says), "{}", answer.text);
    }
    let record = format!("{case}/1/record");
    // Nothing is lost where a value is refused.
    let once = tamm.get(&record).await.once(&record);
    let refused = tamm.post(&record, &[("once", &once), ("did", "rate"), ("value", "seven")]).await;
    assert!(refused.status == StatusCode::UNPROCESSABLE_ENTITY && refused.text.contains("value=\"seven\""));
    for (did, value) in [("start", ""), ("rate", "6 mL/h"), ("bolus", "1 mL"), ("stop", "")] {
        let once = tamm.get(&record).await.once(&record);
        let fields = [("once", once.as_str()), ("did", did), ("value", value)];
        let mut answer = tamm.post(&record, &fields).await;
        if answer.text.contains("[not-as-agreed]") {
            let once = answer.once(&record);
            answer = tamm
                .post(
                    &record,
                    &[("once", &once), ("did", did), ("value", value), ("even_so", "yes"), ("reason", "as ordered")],
                )
                .await;
        }
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{did}: {}", answer.text);
        // A second press of the same button writes nothing.
        assert_eq!(tamm.post(&record, &fields).await.status, StatusCode::CONFLICT);
    }
    let shown = tamm.get(&record).await.text;
    assert!(shown.contains("rate changed to 6 mL/h") && shown.contains("does not control the driver"), "{shown}");
    let close = format!("{case}/1/close");
    let once = tamm.get(&close).await.once(&close);
    let fields = [("once", once.as_str()), ("in_line", "0 mL"), ("left", "0 mL"), ("discarded", "49 mL")];
    let closed = tamm.post(&close, &fields).await;
    assert!(closed.status == StatusCode::OK && closed.text.contains("Drawn up"), "{}", closed.text);
}

#[tokio::test]
async fn an_emergency_card_needs_no_pin_and_says_that_nobody_checked_it() {
    let ward = Ward::new("emergency");
    let mut browser = Browser::at(&ward.served(LONG));
    let mut fields = with(READ, &[]);
    fields.extend([("by", "A. Idowu"), ("role", "anaesthetist")]);
    let answer = browser.seal("/emergency", &fields).await;
    assert!(answer.status == StatusCode::OK && answer.text.contains("NOT DOUBLE-CHECKED"), "{}", answer.text);
    assert!(answer.text.contains("5.1"), "the card: {}", answer.text);
    assert_eq!(ward.events("case-opened"), 1);
}

#[tokio::test]
async fn a_line_of_the_record_is_corrected_and_explained_and_stays_readable() {
    let ward = Ward::new("corrected");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let record = format!("{case}/1/record");
    let once = tamm.get(&record).await.once(&record);
    assert_eq!(tamm.post(&record, &[("once", &once), ("did", "start")]).await.status, StatusCode::SEE_OTHER);
    let once = tamm.get(&record).await.once(&record);
    let rate = [("once", once.as_str()), ("did", "rate"), ("value", "5.5 mL/h")];
    assert_eq!(tamm.post(&record, &rate).await.status, StatusCode::SEE_OTHER);
    let shown = tamm.get(&record).await.text;
    let about = shown.split("href=\"").filter_map(|part| part.split_once('"')).map(|(link, _)| link);
    let about = about.filter(|link| link.starts_with(&format!("{record}/"))).last().expect("a link").to_owned();
    let once = tamm.get(&about).await.once(&about);
    let wrong = [("once", once.as_str()), ("did", "correct"), ("instead", "rate"), ("value", "5.4 mL/h")];
    let answer = tamm.post(&about, &wrong).await;
    assert!(answer.status == StatusCode::CONFLICT || answer.text.contains("[reason-missing]"), "{}", answer.text);
    assert!(answer.text.contains("value=\"5.4 mL/h\"") && !answer.text.contains("--reason"), "{}", answer.text);
    let once = answer.once(&about);
    let fields = [
        ("once", once.as_str()),
        ("did", "correct"),
        ("instead", "rate"),
        ("value", "5.4 mL/h"),
        ("reason", "read off again"),
    ];
    assert_eq!(tamm.post(&about, &fields).await.status, StatusCode::SEE_OTHER);
    let once = tamm.get(&about).await.once(&about);
    let fields = [("once", once.as_str()), ("did", "explain"), ("reason", "pressure fell")];
    assert_eq!(tamm.post(&about, &fields).await.status, StatusCode::SEE_OTHER);
    let shown = tamm.get(&record).await.text;
    for says in ["rate changed to 5.5 mL/h", "WAS OTHERWISE", "5.4 mL/h", "read off again", "pressure fell"] {
        assert!(shown.contains(says), "{says}: {shown}");
    }
    assert_eq!(tamm.get(&format!("{record}/99999")).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_weight_is_read_again_by_two_each_alone() {
    let ward = Ward::new("weighed");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    let weight = format!("{case}/weight");
    let once = idowu.get(&weight).await.once(&weight);
    let sent = [("once", once.as_str()), ("weight", "86 kg"), ("from", "measured")];
    let early = idowu.post(&weight, &sent).await;
    assert!(early.text.contains("[nothing-agreed]") && !early.text.contains("`countersign"), "{}", early.text);
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    for (browser, kilograms, says) in
        [(&mut idowu, "86 kg", "A second person reads the weight next"), (&mut tamm, "68 kg", "DISAGREE")]
    {
        let once = browser.get(&weight).await.once(&weight);
        let sent = [("once", once.as_str()), ("weight", kilograms), ("from", "measured")];
        let answer = browser.post(&weight, &sent).await;
        assert!(answer.text.contains(says), "{}", answer.text);
    }
    for (browser, says) in [(&mut tamm, "A second person reads"), (&mut idowu, "Two people read the same")] {
        let once = browser.get(&weight).await.once(&weight);
        let sent = [("once", once.as_str()), ("weight", "86 kg"), ("from", "measured")];
        let answer = browser.post(&weight, &sent).await;
        assert!(answer.text.contains(says), "{}", answer.text);
    }
}
