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
    let answer = browser.seal("/emergency/whole", &fields).await;
    assert!(answer.status == StatusCode::OK && answer.text.contains("NOT DOUBLE-CHECKED"), "{}", answer.text);
    assert!(answer.text.contains("5.1"), "the card: {}", answer.text);
    assert_eq!(ward.events("case-opened"), 1);
}

/// What an emergency asks: no name, and nothing of syringe, line and driver.
const FEW: &[(&str, &str)] = &[
    ("area", "adult theatre"),
    ("drug", "noradrenaline"),
    ("patient.weight", "80 kg"),
    ("dose", "0.05 mcg/kg/min"),
    ("strength", "4 mg in 50 mL"),
];

// hazard: H-EMERGENCY
#[tokio::test]
async fn an_emergency_of_five_answers_is_one_case_however_often_its_form_is_sent() {
    let ward = Ward::new("emergency-once");
    let mut browser = Browser::at(&ward.served(LONG));
    let once = browser.get("/emergency").await.once("/emergency");
    let form = |dose: &'static str| {
        let mut fields = vec![("once", once.as_str()), ("do", "seal")];
        fields.extend(with(FEW, &[("dose", dose)]));
        fields
    };
    let card = browser.post("/emergency", &form("0.05 mcg/kg/min")).await;
    assert_eq!(card.status, StatusCode::OK, "{}", card.text);
    for says in ["NOT DOUBLE-CHECKED", "80 mcg/mL", "ASSUMED, not asked", "name not given", "not told: nobody read"] {
        assert!(card.text.contains(says), "{says}: {}", card.text);
    }
    assert!(card.text.contains("<strong>3</strong>") || card.text.contains(">3<"), "{}", card.text);
    let case =
        card.text.split("href=\"/case/").nth(1).and_then(|rest| rest.split('"').next()).expect("the way on").to_owned();
    // A second press, and the page sent again after a restart: the same card of the same case.
    for again in [browser.post("/emergency", &form("0.05 mcg/kg/min")).await, {
        let mut later = Browser::at(&ward.served(LONG));
        later.post("/emergency", &form("0.05 mcg/kg/min")).await
    }] {
        assert_eq!(again.status, StatusCode::OK, "{}", again.text);
        assert!(again.text.contains(&case), "{}", again.text);
        assert_eq!(again.text, card.text, "the same card");
    }
    assert_eq!(ward.events("case-opened"), 1);
    // Another dose in the same form is never answered with the card of the first.
    let other = browser.post("/emergency", &form("0.5 mcg/kg/min")).await;
    assert!(other.text.contains("[form-sent-before]") && !other.text.contains("ASSUMED"), "{}", other.text);
    assert_eq!(ward.events("case-opened"), 1);
}

/// Neither what is left, nor when it is empty, nor when it arrives is told from what nobody read; and nobody agrees with it.
// hazard: H-EMERGENCY
#[tokio::test]
async fn nothing_is_told_from_what_an_emergency_assumed() {
    let ward = Ward::new("emergency-assumed");
    let router = ward.served(LONG);
    let mut browser = Browser::at(&router);
    let card = browser.seal("/emergency", FEW).await;
    for told in ["16 h", "left to infuse", "mL to infuse", "Dead space", "Drug arriving", "Change by"] {
        assert!(!card.text.contains(told), "{told}: {}", card.text);
    }
    let case =
        card.text.split("href=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("the way on").to_owned();
    let mut tamm = Browser::signed_in(&router, TAMM).await;
    let record = format!("{case}/1/record");
    let once = tamm.get(&record).await.once(&record);
    let started = tamm.post(&record, &[("once", &once), ("did", "start"), ("even_so", "yes")]).await;
    let page = tamm.get(&record).await;
    assert!(page.text.contains("not known: nobody read the volume"), "{}\n{}", started.text, page.text);
    assert!(!page.text.contains("999999") && !page.text.contains("1000000"), "{}", page.text);
    let other = format!("{case}/1/enter/second");
    let read = with(READ, &[("patient.weight", "80 kg"), ("dose", "0.05 mcg/kg/min")]);
    assert_eq!(tamm.seal(&other, &read).await.status, StatusCode::SEE_OTHER);
    let stands = tamm.get(&case).await.text;
    for field in ["phase", "access", "container", "fill", "line", "line_filled", "driver"] {
        assert!(stands.contains(field), "{field} was read by one alone: {stands}");
    }
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

// hazard: H-CHANGED
#[tokio::test]
async fn the_page_names_both_doses_before_the_next_syringe_is_put_in() {
    let ward = Ward::new("page-restart");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let record = format!("{case}/1/record");
    for (did, value) in [("start", ""), ("rate", "12 mL/h")] {
        let once = tamm.get(&record).await.once(&record);
        let sent = [("once", once.as_str()), ("did", did), ("value", value)];
        assert_eq!(tamm.post(&record, &sent).await.status, StatusCode::SEE_OTHER);
    }
    let changes = [
        ("label.amount", "8 mg"),
        ("label.strength", "160 mcg/mL"),
        ("made_from.ampoules", "8"),
        ("line_filled", "already full"),
    ];
    let next = with(READ, &changes);
    let mut next: Vec<_> = next.into_iter().filter(|(path, _)| !path.starts_with("patient.")).collect();
    next.push(("reasons.far-from-running-dose", "the dose that was ordered first"));
    idowu.seal(&format!("{case}/1/enter/anew"), &next).await;
    assert!(!tamm.get(&record).await.text.contains("keeps"), "one entry is sealed");
    tamm.seal(&format!("{case}/1/enter/second"), &next).await;
    let shown = tamm.get(&record).await.text;
    for says in [
        "Change syringe: 6 mL/h keeps",
        "Change syringe and dose: 2.5 mL/h changes the dose from",
        "the line still holds the old strength, 80 mcg/mL",
    ] {
        assert!(shown.contains(says), "{says}: {shown}");
    }
    // Another rate is refused until the box beside it is ticked; what was typed is still there.
    let once = tamm.get(&record).await.once(&record);
    let sent = [("once", once.as_str()), ("did", "syringe"), ("keeps", "6 mL/h"), ("value", "2.5 mL/h")];
    let answer = tamm.post(&record, &sent).await;
    assert!(
        answer.text.contains("[dose-would-change]") && answer.text.contains("value=\"2.5 mL/h\""),
        "{}",
        answer.text
    );
    assert!(
        answer.text.contains("The dose is changed on purpose") && !answer.text.contains("--dose"),
        "{}",
        answer.text
    );
    let once = answer.once(&record);
    let sent = [("once", once.as_str()), ("did", "syringe"), ("keeps", "6 mL/h"), ("value", "")];
    assert_eq!(tamm.post(&record, &sent).await.status, StatusCode::SEE_OTHER);
    let shown = tamm.get(&record).await.text;
    assert!(
        shown.contains("next syringe put in, at 6 mL/h") && shown.contains("the line still holds the old strength"),
        "{shown}"
    );
    let list = tamm.get("/").await.text;
    assert!(list.contains("the line still holds the old strength"), "{list}");
}

// hazard: H-DRIVER
#[tokio::test]
async fn a_display_that_differs_stands_first_on_the_pages_whatever_is_noted() {
    let ward = Ward::new("page-differs");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let other = idowu.open_case().await;
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let back = format!("{case}/1/readback");
    let once = tamm.get(&back).await.once(&back);
    let sent = [("once", once.as_str()), ("shown.rate", "51 mL/h"), ("because", "ok")];
    let answer = tamm.post(&back, &sent).await;
    assert!(answer.text.contains("It stays outstanding until"), "{}", answer.text);
    let list = tamm.get("/").await.text;
    let (first, second) = (list.find(&case).expect("listed"), list.find(&other).expect("listed"));
    assert!(first < second && list.contains("[display-differs]"), "{list}");
    assert!(tamm.get(&format!("{case}/1/record")).await.text.contains("THE DISPLAY DIFFERS"));
}

// hazard: H-EMERGENCY
#[tokio::test]
async fn the_page_shows_a_rate_beyond_the_limits_only_after_the_dose_was_typed_again() {
    let ward = Ward::new("page-dose-again");
    let mut browser = Browser::at(&ward.served(LONG));
    let mut fields = with(READ, &[("dose", "4 mcg/kg/min")]);
    fields.extend([("by", "A. Idowu"), ("role", "anaesthetist")]);
    let answer = browser.seal("/emergency/whole", &fields).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text);
    assert!(answer.text.contains("[dose-again]") && answer.text.contains("name=\"dose_again\""), "{}", answer.text);
    assert!(!answer.text.contains("mL/h</") && ward.events("case-opened") == 0, "{}", answer.text);
    fields.push(("dose_again", "4 mcg/kg/min"));
    let card = browser.seal("/emergency/whole", &fields).await;
    assert_eq!(card.status, StatusCode::OK, "{}", card.text);
    let before = card.text.split("class=\"rate\"").next().expect("a card");
    assert!(before.rsplit("<p").nth(1).is_some_and(|near| near.contains("BEYOND THE LIMITS")), "{}", card.text);
}

#[tokio::test]
async fn a_page_offers_what_can_be_done_now_and_the_steps_of_the_ordered_range() {
    let ward = Ward::new("record-steps");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let range =
        [("titrate.from", "0.02 mcg/kg/min"), ("titrate.to", "0.3 mcg/kg/min"), ("titrate.step", "0.02 mcg/kg/min")];
    let read = [READ, &range[..]].concat();
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), &read).await;
    let record = format!("{case}/1/record");
    assert!(!tamm.get(&record).await.text.contains("noradrenaline"), "one entry is sealed");
    tamm.seal(&format!("{case}/1/enter/second"), &read).await;
    let possible = |text: &str| {
        let now = text.split("Something that was done earlier").next().expect("one").to_owned();
        let buttons = ["start", "rate", "bolus", "pause", "resume", "syringe", "stop"];
        buttons.into_iter().filter(|did| now.contains(&format!("name=\"did\" value=\"{did}\""))).collect::<Vec<_>>()
    };
    let before = tamm.get(&record).await;
    assert!(before.text.contains("<h1>noradrenaline 80 mcg/mL, "), "{}", before.text);
    assert_eq!(possible(&before.text), ["start"]);
    let once = before.once(&record);
    assert_eq!(tamm.post(&record, &[("once", &once), ("did", "start")]).await.status, StatusCode::SEE_OTHER);
    let running = tamm.get(&record).await;
    assert_eq!(possible(&running.text), ["rate", "bolus", "pause", "syringe", "stop"]);
    assert!(running.text.contains("Outstanding: "), "{}", running.text);
    // Ordered in steps of 0.02 from 0.02 to 0.3 mcg/kg/min, and 0.08 runs.
    for step in ["0.04 mcg/kg/min", "0.06 mcg/kg/min", "0.1 mcg/kg/min", "0.12 mcg/kg/min"] {
        assert!(running.text.contains(&format!("name=\"step\" value=\"{step} = ")), "{step}: {}", running.text);
    }
    // A step is asked about once, with the old and the new rate and dose; nothing is recorded by one touch.
    let before = ward.events("record");
    let step = [("did", "rate"), ("value", ""), ("step", "0.1 mcg/kg/min = 6.3 mL/h")];
    let once = tamm.get(&record).await.once(&record);
    let asked = tamm.post(&record, &[&[("once", once.as_str())], &step[..]].concat()).await;
    assert_eq!((asked.status, ward.events("record")), (StatusCode::OK, before), "{}", asked.text);
    for says in ["<dt>From</dt><dd>5.1 mL/h, which gives ", "<strong>6.3 mL/h, which gives ", "Record 6.3 mL/h"] {
        assert!(asked.text.contains(says), "{says}: {}", asked.text);
    }
    // Another rate ran meanwhile than the person was shown.
    let stale = [("once", &*asked.once(&record)), ("runs", "5.2")];
    let stale = tamm.post(&record, &[&stale, &step[..]].concat()).await;
    assert!(stale.text.contains("[rate-changed-meanwhile]"), "{}", stale.text);
    // What stood on a button is held against what runs when it is pressed.
    let once = running.once(&record);
    let other = tamm.post(&record, &[("once", &once), ("did", "rate"), ("step", "0.1 mcg/kg/min = 6.4 mL/h")]).await;
    assert!(other.text.contains("[rate-changed-meanwhile]"), "{}", other.text);
    let once = tamm.get(&record).await.once(&record);
    let asked = tamm.post(&record, &[&[("once", once.as_str())], &step[..]].concat()).await;
    let (once, runs) = (asked.once(&record), asked.hidden("runs"));
    let up = tamm.post(&record, &[&[("once", &*once), ("runs", &*runs)], &step[..]].concat()).await;
    assert_eq!(up.status, StatusCode::SEE_OTHER, "{}", up.text);
    let shown = tamm.get(&record).await.text;
    assert!(shown.contains("for 0.1 mcg/kg/min") && shown.contains("name=\"shown.rate\""), "{shown}");
    let once = tamm.get(&record).await.once(&record);
    assert_eq!(tamm.post(&record, &[("once", &once), ("did", "pause")]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(possible(&tamm.get(&record).await.text), ["resume", "syringe", "stop"]);
}
