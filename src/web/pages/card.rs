//! The card itself, to read and to print: the same page that the command writes.

use std::sync::Arc;

use axum::extract::State;
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use data_encoding::BASE64;
use maud::html;
use sha2::{Digest as _, Sha256};

use crate::web::answer::Refusal;
use crate::web::sent::SetUpPath;
use crate::web::session::PageSession;
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(_): PageSession,
    SetUpPath(code): SetUpPath,
) -> Result<Response, Refusal> {
    // Each card that is given out is written down.
    let done = site.with_journal(move |desk| Ok(desk.cases.card(code, Some(&*desk.formulary), desk.now)?.html()));
    let way = format!("/case/{}", code.case);
    Ok(given(&done.await?, &[(&way, "Back to the case")]))
}

/// A page that holds its own sheet of styles: that one is allowed, by its hash, and nothing else. Ways onward stand above
/// the card, and are not printed.
pub(in crate::web) fn given(page: &str, ways: &[(&str, &str)]) -> Response {
    let nav = html! { nav.ways aria-label="Onward" { @for (to, says) in ways { a href=(to) { (says) } } } };
    let ways = if ways.is_empty() { String::new() } else { nav.into_string() };
    let page = page.replacen("<body>", &format!("<body>{ways}"), 1);
    let style =
        page.split_once("<style>").and_then(|(_, rest)| rest.split_once("</style>")).map_or("", |(style, _)| style);
    let hash = BASE64.encode(&Sha256::digest(style.as_bytes()));
    let policy = format!("default-src 'none'; style-src 'sha256-{hash}'; frame-ancestors 'none'; base-uri 'none'");
    ([(header::CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response()
}
