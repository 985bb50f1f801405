//! The running record: what was done, and what follows from it. Nothing here reaches a driver.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Serialize;
use utoipa::ToSchema;

use crate::case::actions::{Correction, Did, Report, Reportable};
use crate::case::data::{RecordShown, RecordWritten, owed_for};
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReading, ForReadingOne, ForWriting};
use super::sent::{ApiSession, Body, Keyed, LinePath, SetUpPath, once};

/// What can be reported.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct WhatIsRecorded {
    version: u8,
    reports: &'static [Reportable],
}

/// What can be reported
#[utoipa::path(get, path = "/api/v1/record",
    responses((status = 200, description = "Each with its field", body = WhatIsRecorded), ForReading))]
pub(super) async fn what_is_recorded(ApiSession(_): ApiSession) -> Json<WhatIsRecorded> {
    Json(WhatIsRecorded { version: 1, reports: Did::ALL })
}

/// What happened, what is given now, what is left
///
/// By the record, not read off the driver. Before two people agree nothing that is given is shown.
#[utoipa::path(get, path = "/api/v1/cases/{case}/{number}/record", params(SetUpPath),
    responses((status = 200, description = "The record", body = RecordShown), ForReadingOne))]
pub(super) async fn show_record(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    SetUpPath(code): SetUpPath,
) -> Result<Json<RecordShown>, Refused> {
    let done = site.with_journal(move |desk| {
        let case = desk.cases.case(code.case)?;
        let set_up = case.set_up(code.number)?;
        let course = case.course(set_up, desk.now)?;
        let people = desk.cases.people()?;
        let owed = owed_for(&desk.cases, code, Some(&*desk.formulary), desk.now)?;
        let next = course.as_ref().map(|course| case.next_syringe(set_up, course)).transpose()?.flatten();
        let what = (course.as_ref(), next.as_ref());
        Ok(RecordShown::of(&desk.cases, set_up, what, &people, &owed, desk.now)?)
    });
    Ok(Json(done.await?))
}

/// Report what was done
///
/// It is recorded, and reaches no driver.
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/record", params(SetUpPath), request_body = Keyed<Report>,
    responses((status = 201, description = "Recorded; what is given with it", body = RecordWritten), ForWriting))]
pub(super) async fn report(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    SetUpPath(code): SetUpPath,
    Body(sent): Body<Keyed<Report>>,
) -> Result<(StatusCode, Json<RecordWritten>), Refused> {
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(desk.acts(&by, |cases, actor| sent.request.run(cases, code, actor))?.data)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

/// Correct a line of the record, or give its reason
///
/// The old line stays readable.
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/record/{event}", params(LinePath), request_body = Keyed<Correction>,
    responses((status = 201, description = "Recorded as a line of its own", body = RecordWritten), ForWriting))]
pub(super) async fn correct(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    LinePath(code, event): LinePath,
    Body(sent): Body<Keyed<Correction>>,
) -> Result<(StatusCode, Json<RecordWritten>), Refused> {
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(desk.acts(&by, |cases, actor| sent.request.run(event, cases, code, actor))?.data)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}
