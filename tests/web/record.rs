//! From the card to the last drop, and an emergency.

use axum::http::StatusCode;

use crate::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, with};

#[tokio::test]
async fn a_read_back_that_differs_is_put_right_and_the_record_goes_to_its_close() {
    let ward = Ward::new("record");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let back = format!("{case}/1/readback");
    for (shown, says) in [("51 mL/h", "THE DISPLAY DIFFERS"), ("5.1 mL/h", "THE DISPLAY IS RIGHT")] {
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
