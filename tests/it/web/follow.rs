//! What is pushed: where a case stands as soon as somebody does something, and the end of a session.

use axum::http::StatusCode;

use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward};

#[tokio::test]
async fn a_page_follows_what_somebody_else_does_and_says_state_only() {
    let ward = Ward::new("follow");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    let first = tamm.get(&format!("{case}/follow")).await.text;
    assert!(first.starts_with("event: stands\ndata: ") && first.contains("nothing entered yet"), "{first}");
    idowu.seal(&format!("{case}/enter"), READ).await;
    let news = tamm.event().await.expect("news");
    assert!(news.contains("a second person enters next") && news.contains("enter/second"), "{news}");
    for (path, value) in READ.iter().filter(|(path, _)| ["dose", "patient.weight", "label.strength"].contains(path)) {
        assert!(!news.contains(value), "{path}");
    }
}

#[tokio::test]
async fn a_command_that_writes_is_followed_too() {
    let ward = Ward::new("follow-command");
    let mut idowu = Browser::signed_in(&ward.served(LONG), IDOWU).await;
    let list = idowu.get("/follow").await.text;
    assert!(list.contains("No case is open"), "{list}");
    let journal = countersign::journal::Journal::open(&ward.journal).expect("the journal");
    let code = countersign::case::Cases::of(journal).open(crate::web::ward::moment(), None).expect("a case");
    assert!(idowu.event().await.expect("news").contains(&code.to_string()));
}

#[tokio::test]
async fn a_tablet_that_is_handed_over_is_told_and_so_is_one_that_nobody_touches() {
    let ward = Ward::new("follow-ends");
    let router = ward.served(LONG);
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    idowu.get("/follow").await;
    let once = idowu.get("/").await.once("/hand-over");
    assert_eq!(idowu.post("/hand-over", &[("once", &once)]).await.status, StatusCode::SEE_OTHER);
    assert!(idowu.event().await.expect("word of it").starts_with("event: ended"));
    assert_eq!(idowu.event().await, None, "and nothing more");
    let router = ward.served(std::time::Duration::from_secs(1));
    let mut idle = Browser::signed_in(&router, IDOWU).await;
    // What the page asks by itself keeps no session awake.
    idle.get("/follow").await;
    assert!(idle.event().await.expect("word of it").starts_with("event: ended"));
    assert_eq!(idle.get("/session").await.status, StatusCode::SEE_OTHER);
}
