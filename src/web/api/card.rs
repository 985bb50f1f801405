//! The card, as data and as the page that is printed.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::response::Response;

use crate::case::data::CardShown;
use crate::web::pages::card::given;
use crate::web::site::Site;

use super::Refused;
use super::refused::ForReadingOne;
use super::sent::{ApiSession, SetUpPath};

/// The card as data
///
/// The only answer with the rate of a set-up that was not started.
#[utoipa::path(get, path = "/api/v1/cases/{case}/{number}/card", params(SetUpPath),
    responses((status = 200, description = "The card", body = CardShown), ForReadingOne))]
pub(super) async fn card(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    SetUpPath(code): SetUpPath,
) -> Result<Json<CardShown>, Refused> {
    let done = site
        .with_journal(move |desk| Ok(CardShown::of(code, &desk.cases.card(code, Some(&*desk.formulary), desk.now)?)));
    Ok(Json(done.await?))
}

/// The card as a page
#[utoipa::path(get, path = "/api/v1/cases/{case}/{number}/card/page", params(SetUpPath),
    responses((status = 200, description = "To read and to print", body = String, content_type = "text/html"), ForReadingOne))]
pub(super) async fn card_page(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    SetUpPath(code): SetUpPath,
) -> Result<Response, Refused> {
    let done = site.with_journal(move |desk| Ok(desk.cases.card(code, Some(&*desk.formulary), desk.now)?.html()));
    Ok(given(&done.await?, &[]))
}
