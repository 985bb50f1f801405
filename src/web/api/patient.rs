//! Reading the weight again, and identifiers that were to follow: two people, each alone.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::case::actions::{ReadIdentifiers, ReadWeight};
use crate::case::data::ReadAgain;
use crate::web::site::Site;

use super::Refused;
use super::refused::ForWriting;
use super::sent::{ApiSession, Body, CasePath, once};

/// A weight, as one person read it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Weight {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
    /// With its unit, read off the scale or the order.
    #[schema(example = "84.2 kg")]
    weight: String,
    /// Where it comes from: `measured`, and the other words of the form.
    #[schema(example = "measured")]
    from: String,
}

/// Identifiers, as one person read them off the wristband.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WristBand {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
    #[schema(example = json!(["AB-12345", "1970-01-31"]))]
    identifiers: Vec<String>,
}

/// Read the weight again
///
/// It counts once two people have read the same, each alone; until then nobody sees it.
#[utoipa::path(post, path = "/api/v1/cases/{case}/weight", params(CasePath), request_body = Weight,
    responses((status = 201, description = "Sealed", body = ReadAgain), ForWriting))]
pub(super) async fn read_weight(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(code): CasePath,
    Body(sent): Body<Weight>,
) -> Result<(StatusCode, Json<ReadAgain>), Refused> {
    let by = Arc::clone(&session);
    let read = ReadWeight { weight: sent.weight, from: sent.from };
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(desk.acts(&by, |cases, actor| read.run(cases, code, actor))?.1)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

/// Read identifiers that were to follow
///
/// They count once two people have read the same, each alone; until then nobody sees them.
#[utoipa::path(post, path = "/api/v1/cases/{case}/identifiers", params(CasePath), request_body = WristBand,
    responses((status = 201, description = "Sealed", body = ReadAgain), ForWriting))]
pub(super) async fn read_identifiers(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(code): CasePath,
    Body(sent): Body<WristBand>,
) -> Result<(StatusCode, Json<ReadAgain>), Refused> {
    let by = Arc::clone(&session);
    let read = ReadIdentifiers { identifiers: sent.identifiers };
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(desk.acts(&by, |cases, actor| read.run(cases, code, actor))?.1)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}
