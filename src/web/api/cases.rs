//! The list of cases with what is owed, a new case, and where one stands.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::case::data::{CaseForgotten, CaseOpened, Stands};
use crate::case::{Board, OverCases};
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReading, ForReadingOne, ForWriting};
use super::sent::{ApiSession, Body, CasePath, OpenedBefore, once};

/// A case is opened.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct OpenCase {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
}

/// Where a case stands.
#[derive(Debug, Serialize, ToSchema)]
#[serde(untagged)]
pub(super) enum CaseStands {
    /// With its set-ups.
    Stands(Stands),
    /// Nothing of it can be read any more.
    Forgotten(CaseForgotten),
}

/// Every set-up of the cases that are not over, and of the ten that came to their end last, with what is owed
#[utoipa::path(get, path = "/api/v1/cases", responses((status = 200, description = "In the order in which they were opened", body = Stands), ForReading))]
pub(super) async fn list_cases(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
) -> Result<Json<Stands>, Refused> {
    let done = site.read(|desk| {
        let list = desk.cases.list(OverCases::Recent, Some(&*desk.formulary), desk.now)?;
        Ok(Stands::of_list(&desk.cases, &list))
    });
    Ok(Json(done.await?))
}

/// The cases opened before an event of the journal, over or not, the newest first: at most 50 at once
#[utoipa::path(get, path = "/api/v1/older-cases/{event}", params(OpenedBefore),
    responses((status = 200, description = "From the newest back", body = Stands), ForReadingOne))]
pub(super) async fn older_cases(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    OpenedBefore(event): OpenedBefore,
) -> Result<Json<Stands>, Refused> {
    let done = site.read(move |desk| {
        let list = desk.cases.opened_before(event, Some(&*desk.formulary), desk.now)?;
        Ok(Stands::of_list(&desk.cases, &list))
    });
    Ok(Json(done.await?))
}

/// Open a case
#[utoipa::path(post, path = "/api/v1/cases", request_body = OpenCase,
    responses((status = 201, description = "Opened", body = CaseOpened), ForWriting))]
pub(super) async fn open_case(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    Body(sent): Body<OpenCase>,
) -> Result<(StatusCode, Json<CaseOpened>), Refused> {
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(CaseOpened::of(desk.cases.open(desk.now, Some(&by.signer))?))
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

/// Where a case stands
#[utoipa::path(get, path = "/api/v1/cases/{case}", params(CasePath),
    responses((status = 200, description = "Its set-ups, and what is owed for each", body = CaseStands), ForReadingOne))]
pub(super) async fn case_stands(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    CasePath(code): CasePath,
) -> Result<Json<CaseStands>, Refused> {
    let done = site.with_journal(move |desk| {
        let case = desk.cases.case(code)?;
        if case.forgotten_at.is_some() {
            return Ok(CaseStands::Forgotten(CaseForgotten::of(code)));
        }
        let rows = desk.cases.rows(&case, Some(&*desk.formulary), desk.now)?;
        let board = Board::of_case(&case, &rows, desk.now)?;
        Ok(CaseStands::Stands(Stands::of(&desk.cases, &rows).with_board(&board)))
    });
    Ok(Json(done.await?))
}
