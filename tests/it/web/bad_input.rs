//! Forged, replayed, oversized and misplaced requests: a refusal each, and nothing in the journal.

use axum::body::Body;
use axum::http::{Request, StatusCode, header};

use crate::web::ward::{Browser, IDOWU, LONG, Ward};

#[tokio::test]
async fn a_form_that_is_forged_or_sent_twice_opens_nothing() {
    let ward = Ward::new("forged");
    let mut browser = Browser::signed_in(&ward.served(LONG), IDOWU).await;
    assert_eq!(browser.post("/", &[("once", "made up")]).await.status, StatusCode::CONFLICT);
    assert_eq!(browser.post("/", &[]).await.status, StatusCode::CONFLICT);
    assert_eq!(ward.events("case-opened"), 0);
    let once = browser.get("/").await.once("/");
    assert_eq!(browser.post("/", &[("once", &once)]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(browser.post("/", &[("once", &once)]).await.status, StatusCode::CONFLICT);
    assert_eq!(ward.events("case-opened"), 1);
    // Written down once a minute, without what was in it.
    assert_eq!(ward.events("form-refused"), 1);
}

#[tokio::test]
async fn another_site_is_refused_and_so_is_a_form_at_the_door_without_its_cookie() {
    let ward = Ward::new("foreign");
    let router = ward.served(LONG);
    let mut browser = Browser::at(&router);
    let foreign = Request::post("/sign-in").header("sec-fetch-site", "cross-site").body(Body::empty());
    assert_eq!(browser.send(foreign.expect("a request")).await.status, StatusCode::FORBIDDEN);
    assert_eq!(ward.events("form-refused"), 1);
    let once = browser.get("/sign-in").await.once("/sign-in");
    let mut other = Browser::at(&router);
    let answer = other.post("/sign-in", &[("once", &once), ("name", IDOWU.0), ("pin", IDOWU.1)]).await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
}

#[tokio::test]
async fn too_much_the_wrong_type_and_odd_paths_are_refused() {
    let ward = Ward::new("odd");
    let mut browser = Browser::signed_in(&ward.served(LONG), IDOWU).await;
    let large = "a".repeat(70 * 1024);
    assert_eq!(browser.post("/", &[("once", &large)]).await.status, StatusCode::PAYLOAD_TOO_LARGE);
    let json = Request::post("/").header(header::CONTENT_TYPE, "application/json").body(Body::from("{}"));
    assert_eq!(browser.send(json.expect("a request")).await.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    for path in [
        "/case/..%2F..%2Fetc",
        "/case/K7M-4QX/99999/card",
        "/case/%00/enter",
        "/own/../journal.db",
        "/case/K7M-4QX/1/enter/third",
    ] {
        let answer = browser.get(path).await;
        assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        assert!(!answer.text.contains("/tmp"), "{path}: {}", answer.text);
    }
}

#[tokio::test]
async fn every_answer_forbids_to_keep_frame_or_load_anything() {
    let ward = Ward::new("headers");
    let mut browser = Browser::signed_in(&ward.served(LONG), IDOWU).await;
    for path in [
        "/",
        "/sign-in",
        "/emergency",
        "/formulary",
        "/formulary/lint",
        "/journal",
        "/own/style.css",
        "/own/script.js",
        "/nowhere",
    ] {
        let answer = browser.get(path).await;
        let policy = answer.headers[header::CONTENT_SECURITY_POLICY].to_str().expect("text");
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(answer.headers[header::CACHE_CONTROL], "no-store", "{path}");
        assert!(!answer.text.contains(" style=\"") && !answer.text.contains(" onclick"), "{path}");
    }
}
