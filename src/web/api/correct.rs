//! About something that was written down before: it was otherwise, it did not happen, or why it was done. The old line
//! stays readable.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::case::data::{RecordWritten, owed_for};
use crate::case::{Confirmed, ReportedAction, When};
use crate::web::answer::Refusal;
use crate::web::reported::correction;
use crate::web::site::Site;

use super::Refused;
use super::refused::ForWriting;
use super::sent::{ApiSession, Body, LinePath, once, said};

/// What is said of a line.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AboutLine {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    once: String,
    /// How it was; left out where only the reason is written.
    instead: Option<Instead>,
    /// The rate in mL/h or the bolus that it was instead, with its unit.
    value: Option<String>,
    /// When it happened, where that was otherwise.
    #[schema(example = "14:05")]
    time: Option<String>,
    /// Why it was done, or why it is corrected.
    reason: Option<String>,
    /// It really happened, although it is not as agreed.
    #[serde(default)]
    even_so: bool,
}

/// What happened instead: nothing (`not`), the same at another time (`time`), or something else.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
enum Instead {
    Not,
    Time,
    Rate,
    Bolus,
    Pause,
    Resume,
    Stop,
}

/// Correct a line of the record, or give its reason
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/record/{event}", params(LinePath), request_body = AboutLine,
    responses((status = 201, description = "Written down as a line of its own", body = RecordWritten), ForWriting))]
pub(super) async fn correct(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    LinePath(code, event): LinePath,
    Body(sent): Body<AboutLine>,
) -> Result<(StatusCode, Json<RecordWritten>), Refused> {
    let (by, chosen) = (Arc::clone(&session), sent.once.clone());
    let done = once(&site, Some(&session), &chosen, move |desk| {
        let (value, time) = (said(sent.value.as_ref()), said(sent.time.as_ref()));
        let happening = match sent.instead {
            Some(instead) => correction(event, instead.word(), value, time, desk.now)?,
            None if value.is_some() || time.is_some() => {
                let (says, help) = ("how it was instead is not said", "write `instead`, or only the reason");
                return Err(Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, "correction-empty", says, help));
            }
            None => ReportedAction::Explained { event },
        };
        let confirmed = Confirmed { even_so: sent.even_so, ..Confirmed::default() };
        let (signed, reason) = ((&by.person, &by.signer), said(sent.reason.as_ref()));
        let (recorded, course) =
            desk.cases.record(code, signed, &happening, &When::default(), reason, confirmed, desk.now)?;
        let owed = owed_for(&desk.cases, code, Some(&*desk.formulary), desk.now)?;
        Ok(RecordWritten::of(&desk.cases, code, &by.person, (recorded, course.as_ref()), &owed)?)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

impl Instead {
    const fn word(self) -> &'static str {
        match self {
            Self::Not => "not",
            Self::Time => "time",
            Self::Rate => "rate",
            Self::Bolus => "bolus",
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::Stop => "stop",
        }
    }
}
