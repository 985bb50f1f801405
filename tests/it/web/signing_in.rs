//! Who comes in, and how it ends.

use std::time::{Duration, Instant};

use axum::http::{StatusCode, header};

use crate::web::ward::{Browser, IDOWU, LONG, Ward};

#[tokio::test]
async fn nobody_sees_a_page_without_signing_in() {
    let ward = Ward::new("closed");
    let mut browser = Browser::at(&ward.served(LONG));
    for path in ["/", "/case/K7M-4QX", "/case/K7M-4QX/1/card", "/journal", "/formulary", "/case/K7M-4QX/follow"] {
        let answer = browser.get(path).await;
        assert_eq!(
            (answer.status, &answer.headers[header::LOCATION]),
            (StatusCode::SEE_OTHER, &"/sign-in".parse().expect("a path")),
            "{path}"
        );
    }
}

#[tokio::test]
async fn a_wrong_pin_and_an_unknown_name_are_answered_alike_and_as_slowly() {
    let ward = Ward::new("alike");
    let router = ward.served(LONG);
    let mut said = Vec::new();
    for name in [IDOWU.0, "Z. Nobody"] {
        let mut browser = Browser::at(&router);
        // The wait counts from within the first try: on a slow machine its answer comes a little later.
        let began = Instant::now();
        let answer = browser.sign_in((name, "190382")).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN);
        assert_eq!(browser.sign_in((name, "190382")).await.status, StatusCode::FORBIDDEN);
        assert!(began.elapsed() >= Duration::from_secs(1), "after a wrong PIN the next is tried later");
        said.push(answer.without_tokens().replace(name, "NAME"));
    }
    assert_eq!(said[0], said[1]);
    assert_eq!(ward.events("pin-refused"), 1, "the wrong PIN is journaled, and the name that nobody has is not");
    // Never locked: the right PIN opens in its turn.
    Browser::signed_in(&router, IDOWU).await;
}

#[tokio::test]
async fn handing_over_ends_the_session_and_so_does_being_idle() {
    let ward = Ward::new("ends");
    let router = ward.served(Duration::from_millis(300));
    let mut browser = Browser::signed_in(&router, IDOWU).await;
    let once = browser.get("/").await.once("/hand-over");
    assert_eq!(browser.post("/hand-over", &[("once", &once)]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(browser.get("/").await.status, StatusCode::SEE_OTHER);
    let mut idle = Browser::signed_in(&router, IDOWU).await;
    assert_eq!(idle.get("/").await.status, StatusCode::OK);
    tokio::time::sleep(Duration::from_millis(400)).await;
    assert_eq!(idle.get("/").await.status, StatusCode::SEE_OTHER);
}
