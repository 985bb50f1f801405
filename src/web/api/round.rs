//! The round at a handover: every driver read blind, then the second signature.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;

use crate::case::actions::{RoundShown, SignRound, TakeRound};
use crate::web::site::Site;

use super::Refused;
use super::refused::ForWriting;
use super::sent::{ApiSession, Body, CasePath, Keyed, once};

/// Take over: write down every driver as it was read
///
/// Read off the syringes and displays at the patient, without the record. What differs is named, and stays outstanding.
#[utoipa::path(post, path = "/api/v1/cases/{case}/round", params(CasePath), request_body = Keyed<TakeRound>,
    responses((status = 201, description = "Written down; `differences` is empty where every driver is as recorded", body = RoundShown), ForWriting))]
pub(super) async fn take_round(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(code): CasePath,
    Body(sent): Body<Keyed<TakeRound>>,
) -> Result<(StatusCode, Json<RoundShown>), Refused> {
    let Keyed { idempotency_key, request } = sent;
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &idempotency_key, move |desk| {
        desk.acts(&by, |cases, actor| request.run(cases, code, actor))
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

/// Sign the last round as the second person
#[utoipa::path(post, path = "/api/v1/cases/{case}/round/signature", params(CasePath), request_body = Keyed<SignRound>,
    responses((status = 201, description = "Signed", body = RoundShown), ForWriting))]
pub(super) async fn sign_round(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(code): CasePath,
    Body(sent): Body<Keyed<SignRound>>,
) -> Result<(StatusCode, Json<RoundShown>), Refused> {
    let Keyed { idempotency_key, request } = sent;
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &idempotency_key, move |desk| {
        desk.acts(&by, |cases, actor| request.run(cases, code, actor))
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}
