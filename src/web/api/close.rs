//! Closing: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::case::VolumesRead;
use crate::case::actions::when;
use crate::case::data::{Closed, owed_for};
use crate::diagnostic::Fault;
use crate::quantity::{Quantity, Volume};
use crate::web::answer::Refusal;
use crate::web::site::Site;

use super::Refused;
use super::refused::ForWriting;
use super::sent::{ApiSession, Body, Object, SetUpPath, once, said};

/// What became of what was drawn up.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Close {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
    /// What stayed in the line, with its unit; `0 mL` where nothing did.
    #[schema(example = "0.9 mL")]
    in_line: String,
    /// What was left in the syringes and is kept.
    #[schema(example = "12 mL")]
    left: String,
    /// What was discarded.
    #[schema(example = "0 mL")]
    discarded: String,
    /// What the driver itself says that it gave.
    #[schema(example = "19.2 mL")]
    driver_total: Option<String>,
    /// Who saw it; a controlled drug needs one.
    #[schema(value_type = Option<Witness>)]
    witness: Option<Object<Witness>>,
    /// One's own: a controlled drug is signed with it.
    pin: Option<String>,
    /// When it was done, where that is not now.
    #[schema(example = "14:05")]
    time: Option<String>,
    /// Why it is written down only now.
    late: Option<String>,
    /// Why the two sides differ, where they do.
    reason: Option<String>,
}

/// Somebody who saw it, and signs too.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Witness {
    name: String,
    pin: String,
}

/// Account for what was drawn up
///
/// Once it is stopped.
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/close", params(SetUpPath), request_body = Close,
    responses((status = 201, description = "Closed, with both sides; or kept as a reading, to be read a second time", body = Closed), ForWriting))]
pub(super) async fn close(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    SetUpPath(code): SetUpPath,
    Body(sent): Body<Close>,
) -> Result<(StatusCode, Json<Closed>), Refused> {
    let witness = match &sent.witness {
        None => None,
        Some(Object(Witness { name, pin })) => Some(site.tries.signs(&site, &session, name, pin).await?),
    };
    let again = site.tries.signs_again(&site, &session, sent.pin.as_deref()).await?;
    let (by, chosen) = (Arc::clone(&session), sent.idempotency_key.clone());
    let done = once(&site, Some(&session), &chosen, move |desk| {
        let driver_total = said(sent.driver_total.as_ref()).map(|text| volume("driver_total", text)).transpose()?;
        let read = VolumesRead {
            in_line: volume("in_line", &sent.in_line)?,
            left: volume("left", &sent.left)?,
            discarded: volume("discarded", &sent.discarded)?,
            driver_total,
        };
        let when = when(sent.time.as_ref(), sent.late.as_ref(), desk.now)?;
        let (signed, reason) = ((&by.person, again.as_ref().unwrap_or(&by.signer)), said(sent.reason.as_ref()));
        let seen = witness.as_ref().map(|(person, signer)| (person, signer));
        let (closing, _) = desk.cases.close(code, signed, read, seen, &when, reason, desk.now)?;
        let owed = owed_for(&desk.cases, code, Some(&*desk.formulary), desk.now)?;
        let witness = witness.as_ref().map(|(person, _)| person.name.as_str());
        Ok(Closed::of(&desk.cases, code, &closing, (reason, witness), &owed))
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

fn volume(field: &str, typed: &str) -> Result<Quantity<Volume>, Refusal> {
    Quantity::<Volume>::parse_or_zero(typed.trim()).map_err(|refused| {
        let fault = Fault::new(refused.problem.code(), refused.to_string()).in_field(field).help(refused.help);
        Refusal::of_fields(vec![fault])
    })
}
