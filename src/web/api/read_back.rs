//! The read-back: what the driver shows, typed off its display, held against the card or the record.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::case::Shown;
use crate::case::actions::ReadDisplay;
use crate::case::data::ReadBackDone;
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReadingOne, ForWriting};
use super::sent::{ApiSession, Body, Keyed, Object, SetUpPath, once};

/// What is read off a display.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct ToReadBack {
    version: u8,
    set_up: String,
    values: Vec<ValueToRead>,
}

/// One value of a display.
#[derive(Debug, Serialize, ToSchema)]
struct ValueToRead {
    value: String,
    /// How it is typed, or that it may be left out.
    says: &'static str,
}

/// What a driver shows.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Displayed {
    #[schema(value_type = Vec<OneDisplayed>)]
    shown: Vec<Object<OneDisplayed>>,
    /// A note on a difference; it stays outstanding all the same.
    because: Option<String>,
}

/// One value of a display.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OneDisplayed {
    /// Which value.
    #[schema(example = "rate")]
    value: String,
    /// As displayed, with its unit.
    #[schema(example = "5.1 mL/h")]
    typed: String,
}

/// Which values are read back
#[utoipa::path(get, path = "/api/v1/cases/{case}/{number}/readback", params(SetUpPath),
    responses((status = 200, description = "What this driver shows", body = ToReadBack), ForReadingOne))]
pub(super) async fn to_read_back(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
    SetUpPath(code): SetUpPath,
) -> Result<Json<ToReadBack>, Refused> {
    let values = site.with_journal(move |desk| Ok(desk.cases.to_read_back(code, desk.now)?)).await?;
    let values = values.into_iter().map(|value| ValueToRead { says: ReadDisplay::hint(&value), value }).collect();
    Ok(Json(ToReadBack { version: 1, set_up: code.to_string(), values }))
}

/// Write down what the driver shows
///
/// Read off the driver's display, not off the card. A difference stays outstanding until the display is read again equal,
/// or what it shows is recorded.
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/readback", params(SetUpPath), request_body = Keyed<Displayed>,
    responses((status = 201, description = "Written down; `differences` is empty where the display is right", body = ReadBackDone), ForWriting))]
pub(super) async fn read_back(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    SetUpPath(code): SetUpPath,
    Body(sent): Body<Keyed<Displayed>>,
) -> Result<(StatusCode, Json<ReadBackDone>), Refused> {
    let Keyed { idempotency_key, request } = sent;
    let shown = request.shown.into_iter().map(|Object(one)| Shown { value: one.value, typed: one.typed }).collect();
    let read = ReadDisplay { shown, because: request.because };
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &idempotency_key, move |desk| {
        Ok(desk.acts(&by, |cases, actor| read.run(cases, code, actor))?.1)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}
