//! Signing in with name and PIN for a token, and handing over.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::web::accesses;
use crate::web::device::Device;
use crate::web::session::At;
use crate::web::site::Site;

use super::Refused;
use super::refused::{AtSignIn, ForWriting};
use super::sent::{ApiSession, Body};

/// Who signs in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SignIn {
    /// As it stands in the journal.
    name: String,
    pin: String,
    /// The `device` of an earlier sign-in of this person: without it, guesses from elsewhere can keep this one waiting.
    device: Option<String>,
}

/// Somebody is signed in.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct SignedIn {
    version: u8,
    /// Send it with each request: `Authorization: Bearer …`.
    token: String,
    name: String,
    role: &'static str,
    /// When and from where this person signed in last, and how many wrong tries there were since, in words; empty where
    /// nothing is known.
    before: String,
    /// It ends after this many seconds without a request.
    idle_seconds: u64,
    /// Keep it for the next sign-in of this person; it opens nothing. Empty where the one that was sent still holds.
    device: String,
}

/// No fields.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Nothing {}

/// Sign in
///
/// After a wrong PIN the next answer takes longer; a program that sends its `device` waits for nobody else's guesses.
#[utoipa::path(post, path = "/api/v1/sign-in", security(()), request_body = SignIn,
    responses((status = 200, description = "ApiSession in", body = SignedIn), AtSignIn))]
pub(super) async fn sign_in(
    State(site): State<Arc<Site>>,
    Body(typed): Body<SignIn>,
) -> Result<Json<SignedIn>, Refused> {
    let device = Device::said(typed.device.as_ref());
    let (person, signer) = site.tries.opened(&site, &device, &typed.name, &typed.pin).await?;
    let known = site.statement_for(&device, &person).await.unwrap_or_default();
    let (name, role) = (person.name.clone(), person.role.word());
    let before = site.accesses.before_sign_in(&person.id).as_ref().and_then(accesses::in_words).unwrap_or_default();
    let token = site.sessions.begin(At::Program, person, signer);
    let idle_seconds = site.sessions.idle_time().as_secs();
    Ok(Json(SignedIn { version: 1, token, name, role, before, idle_seconds, device: known }))
}

/// End the session
///
/// The token opens nothing any more.
#[utoipa::path(post, path = "/api/v1/hand-over", request_body = Nothing,
    responses((status = 204, description = "Ended"), ForWriting))]
pub(super) async fn hand_over(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    Body(Nothing {}): Body<Nothing>,
) -> Result<StatusCode, Refused> {
    site.sessions.end_this(&session);
    Ok(StatusCode::NO_CONTENT)
}
