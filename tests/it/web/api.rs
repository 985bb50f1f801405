//! The actions as JSON: a whole case of two people, what the second of them is not told, and what is refused.

use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request, StatusCode, header};
use countersign::case::actions::{Did, Report, Request as _};
use countersign::case::{Cases, SetUpCode};
use countersign::formulary::Formulary;
use countersign::journal::Journal;
use http_body_util::BodyExt as _;
use serde_json::{Map, Value, json};
use tower::ServiceExt as _;

use crate::cases::blindness::each_sealed;
use crate::common::tools::thorough;
use crate::common::{AT, run};
use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, moment, with};

/// A program at the other end.
pub(super) struct Program {
    router: Router,
    token: Option<String>,
    /// Each thing that happens gets the next.
    once: u32,
}

#[derive(Debug)]
pub(super) struct Got {
    pub(super) status: StatusCode,
    headers: HeaderMap,
    text: String,
}

impl Got {
    pub(super) fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// The code of a refusal, whose shape and status are held to.
    pub(super) fn refused(&self, status: StatusCode) -> String {
        let json = self.json();
        assert_eq!(self.status, status, "{json}");
        assert_eq!(self.headers[header::CONTENT_TYPE], "application/json");
        let keys: Vec<&String> = json.as_object().expect("an object").keys().collect();
        assert_eq!(keys, ["version", "code", "message", "help", "faults"]);
        json["code"].as_str().expect("a code").to_owned()
    }
}

impl Program {
    fn at(router: &Router) -> Self {
        Self { router: router.clone(), token: None, once: 0 }
    }

    pub(super) async fn signed_in(router: &Router, (name, pin): (&str, &str)) -> Self {
        let mut program = Self::at(router);
        let got = program.post("/sign-in", &json!({"name": name, "pin": pin})).await;
        assert_eq!(got.status, StatusCode::OK, "{got:?}");
        program.token = got.json()["token"].as_str().map(str::to_owned);
        program
    }

    async fn send(&self, request: Request<Body>) -> Got {
        let mut request = request;
        if let Some(token) = &self.token {
            let value = format!("Bearer {token}").parse().expect("a header");
            request.headers_mut().insert(header::AUTHORIZATION, value);
        }
        let response = self.router.clone().oneshot(request).await.expect("an answer");
        let (status, headers) = (response.status(), response.headers().clone());
        assert_eq!(headers[header::CACHE_CONTROL], "no-store");
        assert_eq!(headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
        assert!(!headers.contains_key(header::SET_COOKIE), "no cookie is set");
        let bytes = response.into_body().collect().await.expect("a body").to_bytes();
        Got { status, headers, text: String::from_utf8(bytes.to_vec()).expect("UTF-8") }
    }

    pub(super) async fn get(&self, path: &str) -> Got {
        self.send(Request::get(format!("/api/v1{path}")).body(Body::empty()).expect("a request")).await
    }

    pub(super) async fn post(&self, path: &str, body: &Value) -> Got {
        self.post_text(path, "application/json", body.to_string()).await
    }

    async fn post_text(&self, path: &str, content_type: &str, body: String) -> Got {
        let request = Request::post(format!("/api/v1{path}")).header(header::CONTENT_TYPE, content_type);
        self.send(request.body(Body::from(body)).expect("a request")).await
    }

    /// As [`Program::post`], as something that has not happened before.
    pub(super) async fn write(&mut self, path: &str, mut body: Value) -> Got {
        self.once += 1;
        body["idempotency_key"] = json!(format!("something new {:>4}", self.once));
        self.post(path, &body).await
    }

    pub(super) async fn open_case(&mut self) -> String {
        let got = self.write("/cases", json!({})).await;
        assert_eq!(got.status, StatusCode::CREATED, "{got:?}");
        got.json()["case"].as_str().expect("a code").to_owned()
    }

    /// Judges it, reads what was found, and seals it.
    pub(super) async fn seal(&mut self, path: &str, read: &[(&str, &str)]) -> Got {
        let judged =
            self.post(&format!("{path}/judge"), &json!({"answers": answers(read), "whole": true})).await.json();
        assert!(judged["readable"] == true, "{judged}");
        self.write(path, json!({"answers": answers(read), "seen": judged["seen"]})).await
    }
}

pub(super) fn answers(read: &[(&str, &str)]) -> Value {
    Value::Object(read.iter().map(|(path, text)| ((*path).to_owned(), json!(text))).collect::<Map<_, _>>())
}

#[tokio::test]
async fn a_whole_case_of_two_people() {
    let ward = Ward::new("api-whole");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    let at = format!("/cases/{case}/1");
    let asked = idowu.get(&format!("/cases/{case}/enter")).await.json();
    assert!(asked["questions"].as_array().expect("questions").len() > 10 && asked["readable"] == false, "{asked}");
    let first = idowu.seal(&format!("/cases/{case}/enter"), READ).await;
    assert_eq!(first.status, StatusCode::CREATED, "{first:?}");
    assert_eq!(first.json()["agreed"], false);
    // The rate stands on the card, and there is none yet.
    assert_eq!(idowu.get(&format!("{at}/card")).await.refused(StatusCode::CONFLICT), "not-agreed");
    assert_eq!(idowu.get(&format!("{at}/enter/second")).await.refused(StatusCode::CONFLICT), "same-person");
    let second = tamm.seal(&format!("{at}/enter/second"), READ).await;
    assert_eq!((second.status, &second.json()["agreed"]), (StatusCode::CREATED, &json!(true)), "{second:?}");
    assert!(!second.text.contains("mL/h"), "the rate is only on the card: {second:?}");

    let card = tamm.get(&format!("{at}/card")).await.json();
    assert_eq!((&card["double_checked"], &card["card"]["rate"]["value"]), (&json!(true), &json!("5.1")), "{card}");
    let page = tamm.get(&format!("{at}/card/page")).await;
    assert!(page.headers[header::CONTENT_TYPE].to_str().expect("text").starts_with("text/html"));
    let of_command = run(["case", "card", &format!("{case}/1"), "--format", "json", "--at", AT])
        .args(["--formulary", "formulary", "--journal"])
        .arg(&ward.journal)
        .said();
    assert_eq!(of_command.code, 0, "{of_command:?}");
    assert_eq!(tamm.get(&format!("{at}/card")).await.text, of_command.stdout.trim_end(), "the card of the command");

    let values = tamm.get(&format!("{at}/readback")).await.json();
    assert_eq!(values["values"][0]["value"], "rate", "{values}");
    for (typed, differences) in [("51 mL/h", 1), ("5.1 mL/h", 0)] {
        let shown = json!({"shown": [{"value": "rate", "typed": typed}]});
        let got = tamm.write(&format!("{at}/readback"), shown).await;
        let read_back = got.json()["read_back"].clone();
        assert_eq!(read_back["differences"].as_array().map(Vec::len), Some(differences), "{got:?}");
    }

    let record = format!("{at}/record");
    let started = idowu.write(&record, json!({"did": "start"})).await;
    assert_eq!(started.status, StatusCode::CREATED, "{started:?}");
    assert_eq!(started.json()["now"]["rate"], json!({"value": "5.1", "unit": "mL/h"}));
    let more = idowu.write(&record, json!({"did": "pause", "value": "6 mL/h"})).await;
    assert_eq!(more.refused(StatusCode::UNPROCESSABLE_ENTITY), "not-asked");
    let bolus = json!({"did": "bolus", "value": "1 mL", "reason": "as ordered", "even_so": true, "idempotency_key": "one bolus at 07:50"});
    assert_eq!(idowu.post(&record, &bolus).await.status, StatusCode::CREATED);
    assert_eq!(idowu.post(&record, &bolus).await.refused(StatusCode::CONFLICT), "form-not-open");
    let shown = idowu.get(&record).await.json();
    let lines = shown["record"].as_array().expect("lines");
    assert_eq!(lines.len(), 2, "the bolus is written once: {shown}");
    assert_eq!(shown["course"]["last_bolus"]["volume"]["value"], "1");
    assert_eq!(ward.events("form-refused"), 1);
    let event = &lines[1]["event"];
    let otherwise = idowu.write(&format!("{record}/{event}"), json!({"instead": "not", "reason": "a slip"})).await;
    assert_eq!(otherwise.status, StatusCode::CREATED, "{otherwise:?}");
    let of_command = run(["record", "show", &format!("{case}/1"), "--format", "json", "--at", AT])
        .args(["--formulary", "formulary", "--journal"])
        .arg(&ward.journal)
        .said();
    assert_eq!(idowu.get(&record).await.text, of_command.stdout.trim_end(), "the record of the command");
    assert_eq!(idowu.write(&record, json!({"did": "stop"})).await.status, StatusCode::CREATED);
    let account = json!({"in_line": "0 mL", "left": "0 mL", "discarded": "50 mL"});
    let closed = idowu.write(&format!("{at}/close"), account).await;
    assert_eq!((closed.status, &closed.json()["balance"]["same"]), (StatusCode::CREATED, &json!(true)), "{closed:?}");
    let verified = idowu.get("/journal").await.json();
    assert_eq!(verified["verdict"], "whole", "{verified}");
    assert_eq!(tamm.post("/hand-over", &json!({})).await.status, StatusCode::NO_CONTENT);
    assert_eq!(tamm.get("/cases").await.refused(StatusCode::UNAUTHORIZED), "sign-in");
}

/// Everything that a program of the second person is answered until their entry is sealed.
async fn second_programs_traffic(case: &str, router: &Router) -> String {
    let mut tamm = Program::signed_in(router, TAMM).await;
    let (at, set_up) = (format!("/cases/{case}"), format!("/cases/{case}/1"));
    let mut traffic = String::new();
    for round in ["before", "after"] {
        for path in [
            "/cases",
            "/record",
            "/emergency",
            &at,
            &format!("{at}/enter"),
            &format!("{set_up}/card"),
            &format!("{set_up}/card/page"),
            &format!("{set_up}/readback"),
            &format!("{set_up}/record"),
            &format!("{set_up}/enter/second"),
            &format!("{set_up}/enter/first"),
            &format!("{set_up}/enter/anew"),
            "/formulary",
        ] {
            let got = tamm.get(path).await;
            traffic.push_str(&format!("GET {path} {} {}\n", got.status, got.text));
        }
        let judged = json!({"answers": answers(READ), "whole": true});
        for (path, body) in [
            (format!("{set_up}/enter/second/judge"), judged),
            (format!("{set_up}/enter/second"), json!({"answers": {"dose": "0.08"}})),
            (format!("{set_up}/record"), json!({"did": "start"})),
            (format!("{set_up}/record"), json!({"did": "start", "value": "5 mL/h", "even_so": true, "reason": "fell"})),
            (
                format!("{set_up}/record"),
                json!({"did": "bolus", "value": "5 units", "even_so": true, "reason": "fell"}),
            ),
            (format!("{set_up}/record"), json!({"did": "bolus", "value": "1 mL", "even_so": true, "reason": "fell"})),
            (format!("{set_up}/readback"), json!({"shown": [{"value": "rate", "typed": "5 mL/h"}]})),
            (format!("{at}/weight"), json!({"weight": "80 kg", "weight_from": "measured"})),
        ] {
            let got =
                if path.ends_with("/judge") { tamm.post(&path, &body).await } else { tamm.write(&path, body).await };
            traffic.push_str(&format!("POST {path} {round} {} {}\n", got.status, got.text));
        }
    }
    traffic.replace(case, "CODE")
}

// hazard: H-INDEPENDENCE
#[tokio::test]
async fn a_program_of_the_second_person_is_answered_the_same_whatever_the_first_entered() {
    let mut expected: Option<String> = None;
    for (name, journal, case) in each_sealed("api", thorough(11, 4)) {
        let ward = Ward { journal };
        let traffic = second_programs_traffic(&case, &ward.served(LONG)).await;
        assert!(traffic.contains("started at 5 mL/h"), "{name}: {traffic}");
        let expected = expected.get_or_insert_with(|| traffic.clone());
        for (one, other) in traffic.lines().zip(expected.lines()) {
            assert_eq!(one, other, "{name}: what is sealed shows");
        }
        assert_eq!(traffic.len(), expected.len(), "{name}");
    }
}

#[tokio::test]
async fn two_who_differ_are_told_the_field_and_read_it_again() {
    let ward = Ward::new("api-differ");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("/cases/{case}/enter"), &with(READ, &[("dose", "0.09 mcg/kg/min")])).await;
    let second = format!("/cases/{case}/1/enter/second");
    let differ = tamm.seal(&second, READ).await;
    assert_eq!(differ.json()["differ"], json!(["dose"]), "{differ:?}");
    assert!(!differ.text.contains("0.09"), "{differ:?}");
    let again = format!("/cases/{case}/1/enter/first");
    assert_eq!(idowu.get(&again).await.json()["again"], json!(["dose"]));
    // What is not read again is not taken.
    let more = idowu.write(&again, json!({"answers": {"dose": "0.08 mcg/kg/min", "drug": "noradrenaline"}})).await;
    assert_eq!(more.refused(StatusCode::UNPROCESSABLE_ENTITY), "field-unknown");
    assert_eq!(more.json()["faults"][0]["field"], "drug");
    let dose: Vec<(&str, &str)> = READ.iter().copied().filter(|(path, _)| *path == "dose").collect();
    assert_eq!(idowu.seal(&again, &dose).await.json()["agreed"], false);
    assert_eq!(tamm.seal(&second, &dose).await.json()["agreed"], true);
}

#[tokio::test]
async fn an_entry_is_judged_field_by_field_and_kept_for_its_author() {
    let ward = Ward::new("api-judged");
    let router = ward.served(LONG);
    let (mut idowu, tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    let enter = format!("/cases/{case}/enter");
    let typed = json!({"answers": {"area": "adult theatre", "drug": "noradrenaline", "dose": "0.0731 mcg/kg/mim"}});
    let judged = idowu.post(&format!("{enter}/judge"), &typed).await.json();
    let asked = |json: &Value, path: &str| {
        let all = json["questions"].as_array().expect("questions").clone();
        all.into_iter().find(|one| one["path"] == path).unwrap_or_default()
    };
    let dose = asked(&judged, "dose");
    assert!(dose["fault"]["code"].is_string() && dose["unit"].is_null(), "{dose}");
    assert!(asked(&judged, "label.amount")["fault"].is_null(), "what is not answered yet is no fault yet");
    assert_eq!(asked(&idowu.get(&enter).await.json(), "dose")["typed"], "0.0731 mcg/kg/mim");
    assert_eq!(asked(&tamm.get(&enter).await.json(), "dose")["typed"], "");
    let unsealed = idowu.write(&enter, json!({"answers": {"drug": "noradrenaline"}})).await;
    assert_eq!(unsealed.refused(StatusCode::UNPROCESSABLE_ENTITY), "form-not-whole");
    assert!(unsealed.json()["faults"].as_array().expect("faults").len() > 5, "{unsealed:?}");
    // Above the soft limit: it was found, it is read, and it has its reason.
    let high = with(READ, &[("dose", "0.6 mcg/kg/min")]);
    let unseen = idowu.write(&enter, json!({"answers": answers(&high)})).await;
    let code = unseen.refused(StatusCode::UNPROCESSABLE_ENTITY);
    let judged = idowu.post(&format!("{enter}/judge"), &json!({"answers": answers(&high), "whole": true})).await.json();
    if judged["reasons_wait"] == true {
        assert_eq!(code, "reason-missing", "{unseen:?}");
        let field = unseen.json()["faults"][0]["field"].as_str().expect("a field").to_owned();
        assert!(field.starts_with("reasons."), "{field}");
        let mut reasoned = high.clone();
        reasoned.push((&field, "as the order says, read twice"));
        let unread = idowu.write(&enter, json!({"answers": answers(&reasoned)})).await;
        assert_eq!(unread.refused(StatusCode::UNPROCESSABLE_ENTITY), "findings-not-seen");
    } else {
        assert_eq!(code, "findings-not-seen", "{unseen:?}");
    }
    assert_eq!(ward.events("entry-sealed"), 0);
}

#[tokio::test]
async fn an_emergency_needs_no_token_and_its_card_says_that_nobody_checked_it() {
    let ward = Ward::new("api-emergency");
    let program = Program::at(&ward.served(LONG));
    assert_eq!(program.get("/emergency").await.json()["place"], "emergency");
    let mut body =
        json!({"by": "A. Idowu", "role": "anaesthetist", "entry": {"answers": answers(READ), "whole": true}});
    let judged = program.post("/emergency/judge", &body).await.json();
    assert_eq!(judged["readable"], true, "{judged}");
    body["entry"] =
        json!({"answers": answers(READ), "seen": judged["seen"], "idempotency_key": "an emergency at 07:50"});
    let made = program.post("/emergency", &body).await;
    assert_eq!((made.status, &made.json()["double_checked"]), (StatusCode::CREATED, &json!(false)), "{made:?}");
    assert_eq!(program.post("/emergency", &body).await.refused(StatusCode::CONFLICT), "form-not-open");
    assert_eq!(ward.events("case-opened"), 1);
}

// hazard: H-EMERGENCY
#[tokio::test]
async fn an_emergency_beyond_the_limits_is_answered_without_its_rate_until_the_dose_is_sent_again() {
    let ward = Ward::new("api-dose-again");
    let program = Program::at(&ward.served(LONG));
    let beyond = with(READ, &[("dose", "4 mcg/kg/min")]);
    let entry = json!({"answers": answers(&beyond), "whole": true});
    let judged =
        program.post("/emergency/judge", &json!({"by": "A. Idowu", "role": "anaesthetist", "entry": entry})).await;
    let judged = judged.json();
    assert_eq!((&judged["readable"], &judged["dose_again"]), (&json!(true), &json!(true)), "{judged}");
    let mut body = json!({"by": "A. Idowu", "role": "anaesthetist",
        "entry": {"answers": answers(&beyond), "seen": judged["seen"], "idempotency_key": "an emergency at 07:50"}});
    for (again, code) in [(json!(null), "dose-again"), (json!("0.4 mcg/kg/min"), "dose-again-differs")] {
        body["dose_again"] = again;
        let got = program.post("/emergency", &body).await;
        assert_eq!(got.refused(StatusCode::CONFLICT), code);
        assert!(!got.text.contains("--"), "{got:?}");
    }
    assert_eq!(ward.events("case-opened"), 0);
    body["dose_again"] = json!("4 mcg/kg/min");
    let made = program.post("/emergency", &body).await;
    assert_eq!(made.status, StatusCode::CREATED, "{made:?}");
    assert!(made.json()["card"]["rate"]["beyond"][0].as_str().expect("words").contains("HARD LIMIT"), "{made:?}");
}

// hazard: H-DRIVER
#[tokio::test]
async fn a_display_that_differs_stands_first_for_a_program_and_a_reason_does_not_settle_it() {
    let ward = Ward::new("api-differs");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let other = idowu.open_case().await;
    let case = idowu.open_case().await;
    let at = format!("/cases/{case}/1");
    idowu.seal(&format!("/cases/{case}/enter"), READ).await;
    tamm.seal(&format!("{at}/enter/second"), READ).await;
    let shown = json!({"shown": [{"value": "rate", "typed": "51 mL/h"}], "because": "ok"});
    let got = tamm.write(&format!("{at}/readback"), shown).await;
    assert_eq!(got.json()["read_back"]["differences"][0]["expected"], "5.1 mL/h", "{got:?}");
    let rows = tamm.get("/cases").await.json();
    assert_eq!((&rows["set_ups"][0]["case"], &rows["set_ups"][1]["case"]), (&json!(case), &json!(other)), "{rows}");
    assert_eq!(rows["set_ups"][0]["owed"][0]["code"], "display-differs", "{rows}");
}

// hazard: H-CHANGED
#[tokio::test]
async fn a_program_is_told_the_rate_that_keeps_the_running_dose_and_another_needs_its_own_field() {
    let ward = Ward::new("api-restart");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    let at = format!("/cases/{case}/1");
    idowu.seal(&format!("/cases/{case}/enter"), READ).await;
    tamm.seal(&format!("{at}/enter/second"), READ).await;
    let record = format!("{at}/record");
    idowu.write(&record, json!({"did": "start"})).await;
    idowu.write(&record, json!({"did": "rate", "value": "12 mL/h"})).await;
    let changes = [
        ("label.amount", "8 mg"),
        ("label.strength", "160 mcg/mL"),
        ("made_from.ampoules", "8"),
        ("line_filled", "already full"),
    ];
    let next = with(READ, &changes);
    let mut next: Vec<_> = next.into_iter().filter(|(path, _)| !path.starts_with("patient.")).collect();
    next.push(("reasons.far-from-running-dose", "the dose that was ordered first"));
    idowu.seal(&format!("{at}/enter/anew"), &next).await;
    assert!(idowu.get(&record).await.json()["next_syringe"].is_null(), "one entry is sealed");
    tamm.seal(&format!("{at}/enter/second"), &next).await;
    let held = idowu.get(&record).await.json()["next_syringe"].clone();
    assert_eq!(held["keeps"]["rate"], json!({"value": "6", "unit": "mL/h"}), "{held}");
    assert_eq!(held["entered_changes_dose"], true, "{held}");
    let card = idowu.get(&format!("{at}/card")).await.json();
    assert_eq!(card["runs"]["rate"], "6 mL/h", "{card}");
    let refused = idowu.write(&record, json!({"did": "syringe", "value": "2.5 mL/h"})).await;
    assert_eq!(refused.refused(StatusCode::CONFLICT), "dose-would-change");
    assert!(refused.text.contains("`dose_changes`") && !refused.text.contains("--"), "{refused:?}");
    let kept = idowu.write(&record, json!({"did": "syringe"})).await.json();
    assert_eq!(kept["now"]["rate"], json!({"value": "6", "unit": "mL/h"}), "{kept}");
    assert!(kept["now"]["line_holds"]["says"].as_str().expect("words").contains("the old strength"), "{kept}");
}

#[tokio::test]
async fn nothing_is_answered_without_a_token_and_a_cookie_is_none() {
    let ward = Ward::new("api-token");
    let router = ward.served(LONG);
    let mut program = Program::at(&router);
    let got = program.get("/cases").await;
    assert_eq!(got.refused(StatusCode::UNAUTHORIZED), "sign-in");
    assert_eq!(got.headers[header::WWW_AUTHENTICATE], "Bearer");
    program.token = Some("made up".to_owned());
    assert_eq!(program.get("/cases").await.refused(StatusCode::UNAUTHORIZED), "sign-in");
    // A browser that is signed in reaches the pages with its cookie, and nothing here.
    let mut browser = Browser::signed_in(&router, IDOWU).await;
    assert_eq!(browser.get("/").await.status, StatusCode::OK);
    assert_eq!(browser.get("/api/v1/cases").await.status, StatusCode::UNAUTHORIZED);
    let open = Request::post("/api/v1/cases").header(header::CONTENT_TYPE, "application/json");
    let body = json!({"idempotency_key": "a form of another site"}).to_string();
    assert_eq!(browser.send(open.body(Body::from(body)).expect("a request")).await.status, StatusCode::UNAUTHORIZED);
    assert_eq!(ward.events("case-opened"), 0);
    // And a token opens no page.
    let signed = Program::signed_in(&router, IDOWU).await;
    let page = Request::get("/").body(Body::empty()).expect("a request");
    assert_eq!(signed.send(page).await.status, StatusCode::SEE_OTHER);
    let foreign = Request::post("/api/v1/sign-in").header("sec-fetch-site", "cross-site").body(Body::empty());
    assert_eq!(signed.send(foreign.expect("a request")).await.refused(StatusCode::FORBIDDEN), "another-site");
    let short = Program::signed_in(&ward.served(Duration::from_millis(300)), IDOWU).await;
    assert_eq!(short.get("/cases").await.status, StatusCode::OK);
    tokio::time::sleep(Duration::from_millis(400)).await;
    assert_eq!(short.get("/cases").await.refused(StatusCode::UNAUTHORIZED), "sign-in");
    let wrong = Program::at(&router).post("/sign-in", &json!({"name": IDOWU.0, "pin": "190382"})).await;
    assert_eq!(wrong.refused(StatusCode::FORBIDDEN), "not-signed-in");
}

#[tokio::test]
async fn what_cannot_be_read_is_refused_in_one_shape_and_repeats_no_value() {
    let ward = Ward::new("api-odd");
    let program = Program::signed_in(&ward.served(LONG), IDOWU).await;
    let once = "a text of one's own";
    let large = json!({"idempotency_key": "a".repeat(70 * 1024)}).to_string();
    let json_type = "application/json";
    for (content_type, body, status, code, field) in [
        (json_type, large, StatusCode::PAYLOAD_TOO_LARGE, "body-not-read", None),
        ("text/plain", "{}".to_owned(), StatusCode::UNSUPPORTED_MEDIA_TYPE, "not-json", None),
        ("application/x-www-form-urlencoded", String::new(), StatusCode::UNSUPPORTED_MEDIA_TYPE, "not-json", None),
        (json_type, "{\"idempotency_key\":".to_owned(), StatusCode::BAD_REQUEST, "json-malformed", None),
        (json_type, format!("{{\"idempotency_key\":\"{once}\"}} x"), StatusCode::BAD_REQUEST, "json-malformed", None),
        (json_type, "\u{0}".to_owned(), StatusCode::BAD_REQUEST, "json-malformed", None),
        (json_type, format!("[\"{once}\"]"), StatusCode::UNPROCESSABLE_ENTITY, "value-of-another-kind", Some("")),
        (json_type, "{}".to_owned(), StatusCode::UNPROCESSABLE_ENTITY, "field-missing", Some("idempotency_key")),
        (
            json_type,
            "{\"idempotency_key\":5}".to_owned(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "value-of-another-kind",
            Some("idempotency_key"),
        ),
        (
            json_type,
            "{\"idempotency_key\":\"short\"}".to_owned(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "key-length",
            Some("idempotency_key"),
        ),
        (
            json_type,
            json!({"idempotency_key": once, "more": 1}).to_string(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "field-unknown",
            Some("more"),
        ),
        (
            json_type,
            format!("{{\"idempotency_key\":\"{once}\",\"idempotency_key\":\"{once}\"}}"),
            StatusCode::UNPROCESSABLE_ENTITY,
            "field-twice",
            Some("idempotency_key"),
        ),
    ] {
        let shown: String = body.chars().take(60).collect();
        let got = program.post_text("/cases", content_type, body).await;
        assert_eq!(got.refused(status), code, "{shown}");
        assert_eq!(got.json()["faults"][0]["field"].as_str(), field, "{shown}");
    }
    assert_eq!(ward.events("case-opened"), 0);
    let case = program.post("/cases", &json!({"idempotency_key": once})).await.json()["case"]
        .as_str()
        .expect("a code")
        .to_owned();
    // A value about a patient is not repeated, whatever kind it has.
    for answers in [json!({"patient.identifiers[1]": 30417}), json!("QM-30417"), json!({"dose": ["QM-30417"]})] {
        let got = program.post(&format!("/cases/{case}/enter/judge"), &json!({"answers": answers})).await;
        assert_eq!(got.refused(StatusCode::UNPROCESSABLE_ENTITY), "value-of-another-kind");
        assert!(!got.json()["message"].as_str().expect("text").contains("30417"), "{got:?}");
        assert!(!got.json()["faults"][0]["help"].as_str().unwrap_or_default().contains("30417"), "{got:?}");
    }
    let twice = "{\"answers\":{\"dose\":\"1\",\"dose\":\"2\"}}".to_owned();
    let twice = program.post_text(&format!("/cases/{case}/enter/judge"), json_type, twice).await;
    assert_eq!(twice.refused(StatusCode::UNPROCESSABLE_ENTITY), "field-twice");
    for (path, status) in [
        ("/nowhere", StatusCode::NOT_FOUND),
        ("/cases/..%2F..%2Fetc", StatusCode::NOT_FOUND),
        ("/cases/%00", StatusCode::NOT_FOUND),
        ("/cases/%FF", StatusCode::NOT_FOUND),
        ("/cases/K7M-4QX/99999/card", StatusCode::NOT_FOUND),
        ("/cases/K7M-4QX/1/enter/third", StatusCode::NOT_FOUND),
        ("/../journal.db", StatusCode::NOT_FOUND),
        ("/sign-in", StatusCode::METHOD_NOT_ALLOWED),
    ] {
        let got = program.get(path).await;
        got.refused(status);
        assert!(!got.text.contains("/tmp"), "{path}: {got:?}");
    }
}

#[tokio::test]
async fn the_document_names_every_action_and_is_kept() {
    let ward = Ward::new("api-document");
    let got = Program::at(&ward.served(LONG)).get("/openapi.json").await;
    let document = got.json();
    assert_eq!(document["openapi"], "3.1.0");
    let paths = document["paths"].as_object().expect("paths");
    assert!(paths.len() > 20, "{}", paths.len());
    for (path, item) in paths {
        for (method, action) in item.as_object().expect("an item") {
            assert!(action["operationId"].is_string() && action["summary"].is_string(), "{method} {path}");
            let is_open = action["security"] == json!([{}]);
            let door = ["/api/v1/sign-in", "/api/v1/emergency", "/api/v1/emergency/judge", "/api/v1/openapi.json"];
            assert_eq!(is_open, door.contains(&path.as_str()), "{method} {path}");
            assert!(is_open || action["responses"]["401"].is_object(), "{method} {path}");
        }
    }
    let text = format!("{document:#}\n");
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/openapi.json");
    if std::env::var_os("COUNTERSIGN_RENEW").is_some() {
        std::fs::write(path, &text).expect("docs can be written");
    }
    let kept = std::fs::read_to_string(path).unwrap_or_default();
    let renew = "`COUNTERSIGN_RENEW=1 cargo test the_document_names_every_action` renews docs/openapi.json";
    assert!(kept == text, "docs/openapi.json is not what the program serves: {renew}");
    insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!("api-digest", digest(&document));
    });
}

/// One line for each action: what is sent, and what is answered with which status.
fn digest(document: &Value) -> String {
    let schema = |body: &Value| {
        let schema = body["content"].as_object().and_then(|kinds| kinds.values().next()).map(|kind| &kind["schema"]);
        let name = schema.and_then(|schema| schema["$ref"].as_str()).and_then(|path| path.rsplit('/').next());
        name.or_else(|| schema.and_then(|schema| schema["type"].as_str())).unwrap_or("-").to_owned()
    };
    let mut lines = String::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, action) in item.as_object().expect("an item") {
            let answers = action["responses"].as_object().expect("answers");
            let (done, refused): (Vec<_>, Vec<_>) = answers.iter().partition(|(status, _)| status.starts_with('2'));
            let done: Vec<String> = done.iter().map(|(status, body)| format!("{status} {}", schema(body))).collect();
            let refused: Vec<&str> = refused.iter().map(|(status, _)| status.as_str()).collect();
            let request = schema(&action["requestBody"]);
            let method = method.to_uppercase();
            lines += &format!("{method} {path}: {request} -> {}; refused {}\n", done.join(", "), refused.join(" "));
        }
    }
    lines
}

#[tokio::test]
async fn the_card_is_the_card_of_the_journal() {
    let ward = Ward::new("api-card");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("/cases/{case}/enter"), READ).await;
    tamm.seal(&format!("/cases/{case}/1/enter/second"), READ).await;
    let got = tamm.get(&format!("/cases/{case}/1/card")).await.json();
    let cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
    let formulary = Formulary::open(std::path::Path::new("formulary")).expect("the demonstration");
    let (of, number) = SetUpCode::parse(&format!("{case}/1")).expect("a code");
    let code = SetUpCode { case: of, number: number.expect("a number") };
    let card = cases.card(code, Some(&formulary), moment()).expect("a card");
    assert_eq!(got["card"], card.json());
}

// An answer that was lost is asked for again, by a program that signed in anew at a server that was started anew.
// hazard: H-RECORD
#[tokio::test]
async fn a_request_counts_once_after_the_server_was_started_anew() {
    let ward = Ward::new("api-once");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    assert_eq!(idowu.seal(&format!("/cases/{case}/enter"), READ).await.status, StatusCode::CREATED);
    assert_eq!(tamm.seal(&format!("/cases/{case}/1/enter/second"), READ).await.status, StatusCode::CREATED);
    let record = format!("/cases/{case}/1/record");
    assert_eq!(tamm.write(&record, json!({"did": "start"})).await.status, StatusCode::CREATED);
    let bolus = json!({"did": "bolus", "value": "1 mL", "reason": "as ordered", "even_so": true, "idempotency_key": "one bolus at 07:50"});
    let first = tamm.post(&record, &bolus).await;
    assert_eq!(first.status, StatusCode::CREATED, "{first:?}");
    drop(router);
    let router = ward.served(LONG);
    let (idowu, tamm) = (Program::signed_in(&router, IDOWU).await, Program::signed_in(&router, TAMM).await);
    let again = tamm.post(&record, &bolus).await;
    assert!(again.text.contains(&format!("it is event {}", first.json()["event"])), "{again:?}");
    assert_eq!(again.refused(StatusCode::CONFLICT), "form-not-open");
    // Another person who chose the same key did another thing.
    assert_eq!(idowu.post(&record, &bolus).await.status, StatusCode::CREATED);
    let lines = idowu.get(&record).await.json()["record"].as_array().expect("lines").len();
    assert_eq!(lines, 3, "a start, and a bolus by each");
}

// A field is declared once: then a command has an option for it, the interface a property, and a page an input.
#[tokio::test]
async fn a_field_of_a_request_is_asked_by_every_front() {
    let ward = Ward::new("api-fields");
    let router = ward.served(LONG);
    let mut browser = crate::web::ward::Browser::signed_in(&router, IDOWU).await;
    let case = browser.open_case().await;
    browser.seal(&format!("{case}/enter"), READ).await;
    let page = browser.get(&format!("{case}/1/record")).await.text;
    let document = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/openapi.json")).expect("kept");
    let document: Value = serde_json::from_str(&document).expect("JSON");
    let mut asked = 0;
    for one in Did::ALL {
        let help = crate::common::run(["record", one.did.word(), "--help"]).said().stdout;
        for field in Report::FIELDS.iter().filter(|field| field.name != "did" && one.did.asks(field.name)) {
            let label = if field.name == "value" { one.value.expect("it takes one") } else { field.label };
            let plain = help.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(plain.contains(label), "{} {}: {help}", one.did.word(), field.name);
            let property = &document["components"]["schemas"]["Report"]["properties"][field.name];
            assert!(property["description"].as_str().is_some_and(|says| says.contains(field.label)), "{}", field.name);
            // What confirms something is asked once it is needed; a reading is named by programs alone.
            let later = matches!(field.name, "even_so" | "dose_changes" | "reading" | "set_to");
            assert!(later || page.contains(&format!("name=\"{}\"", field.name)), "{}", field.name);
            asked += 1;
        }
    }
    assert!(asked > 30, "{asked}");
}
