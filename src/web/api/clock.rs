//! The clock of this machine: which time it says, whether that is in doubt, and a person's word that it is right.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::case::confirm_clock;
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReading, ForWriting};
use super::sent::{ApiSession, Body, once};

/// Somebody has looked at another clock.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ConfirmClock {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
}

/// What the clock of the server says.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct ClockShown {
    version: u8,
    /// Its time, with its offset from UTC.
    now: String,
    /// Why it is in doubt: until a person confirms it nothing is sealed, and what is recorded is marked. None where it is
    /// not.
    uncertain: Option<String>,
}

impl ClockShown {
    fn of(site: &Site) -> Json<Self> {
        Json(Self { version: 1, now: site.now().to_rfc3339(), uncertain: site.clock_in_doubt() })
    }
}

/// Which time the server goes by
#[utoipa::path(get, path = "/api/v1/clock",
    responses((status = 200, description = "To be held against another clock", body = ClockShown), ForReading))]
pub(super) async fn clock(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
) -> Result<Json<ClockShown>, Refused> {
    Ok(ClockShown::of(&site))
}

/// Confirm the time
///
/// Once a person has looked at another clock, and this one is right. Where it is wrong, the machine's clock is set right.
#[utoipa::path(post, path = "/api/v1/clock", request_body = ConfirmClock,
    responses((status = 200, description = "Written down; nothing waits for it any more", body = ClockShown), ForWriting))]
pub(super) async fn confirm(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    Body(sent): Body<ConfirmClock>,
) -> Result<Json<ClockShown>, Refused> {
    let by = Arc::clone(&session);
    let done = once(&site, Some(&session), &sent.idempotency_key, move |desk| {
        Ok(confirm_clock(desk.cases.journal_mut(), desk.now, &by.signer)?)
    });
    done.await?;
    site.watch.is_right();
    Ok(ClockShown::of(&site))
}
