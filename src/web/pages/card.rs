//! The card itself, to read and to print: the same page that the command writes.

use std::sync::Arc;

use axum::extract::State;
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use data_encoding::BASE64;
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
    Ok(given(done.await?))
}

/// A page that holds its own sheet of styles: that one is allowed, by its hash, and nothing else.
pub(in crate::web) fn given(page: String) -> Response {
    let style =
        page.split_once("<style>").and_then(|(_, rest)| rest.split_once("</style>")).map_or("", |(style, _)| style);
    let hash = BASE64.encode(&Sha256::digest(style.as_bytes()));
    let policy = format!("default-src 'none'; style-src 'sha256-{hash}'; frame-ancestors 'none'; base-uri 'none'");
    ([(header::CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response()
}
