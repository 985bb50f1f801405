//! An emergency entry: alone, without a PIN. Its card says that nobody checked it.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::case::data::CardShown;
use crate::case::{Author, EmergencyEntry, Task};
use crate::web::answer::Refusal;
use crate::web::site::Site;

use super::Refused;
use super::entry::{EntryJudged, Unfinished, Whole};
use super::refused::{AtTheDoor, ForAnybody};
use super::sent::{Body, Object, once, said};

/// Who enters, and their answers so far.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EmergencyUnfinished {
    /// The name of the person who enters it.
    by: String,
    /// `anaesthetist`, and the other roles.
    role: String,
    #[schema(value_type = Unfinished)]
    entry: Object<Unfinished>,
}

/// Who enters, and the whole entry.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EmergencyWhole {
    /// The name of the person who enters it.
    by: String,
    /// `anaesthetist`, and the other roles.
    role: String,
    #[schema(value_type = Whole)]
    entry: Object<Whole>,
    /// The dose, read off the order once more: needed where `dose_again` of the judgement is true.
    #[schema(example = "4 mcg/kg/min")]
    dose_again: Option<String>,
}

/// The questions of an emergency entry
#[utoipa::path(get, path = "/api/v1/emergency", security(()),
    responses((status = 200, description = "What is asked", body = EntryJudged), ForAnybody))]
pub(super) async fn emergency(State(site): State<Arc<Site>>) -> Result<Json<EntryJudged>, Refused> {
    let nobody = Author::Typed { name: "nobody yet", role: "" };
    let task = Task::emergency_without_a_case();
    let done = site.with_journal(move |desk| EntryJudged::of(Vec::new(), &task, &nobody, desk, false));
    Ok(Json(done.await?))
}

/// Judge what was typed for an emergency entry
#[utoipa::path(post, path = "/api/v1/emergency/judge", security(()), request_body = EmergencyUnfinished,
    responses((status = 200, description = "What is wrong, and what was found", body = EntryJudged), AtTheDoor))]
pub(super) async fn judge_emergency(
    State(site): State<Arc<Site>>,
    Body(sent): Body<EmergencyUnfinished>,
) -> Result<Json<EntryJudged>, Refused> {
    let done = site.with_journal(move |desk| {
        let author = Author::Typed { name: sent.by.trim(), role: sent.role.trim() };
        sent.entry.0.judged(&Task::emergency_without_a_case(), &author, desk)
    });
    Ok(Json(done.await?))
}

/// Make an emergency card
///
/// NOT DOUBLE-CHECKED: the card says so, and a second check is owed.
#[utoipa::path(post, path = "/api/v1/emergency", security(()), request_body = EmergencyWhole,
    responses((status = 201, description = "The card, of a case of its own", body = CardShown),
        (status = 202, description = "The card; NOT RECORDED, because the journal cannot be written", body = CardShown), AtTheDoor))]
pub(super) async fn seal_emergency(
    State(site): State<Arc<Site>>,
    Body(sent): Body<EmergencyWhole>,
) -> Result<(StatusCode, Json<CardShown>), Refused> {
    let chosen = sent.entry.0.once().to_owned();
    let done = once(&site, None, &chosen, move |desk| {
        let author = Author::Typed { name: sent.by.trim(), role: sent.role.trim() };
        let again = said(sent.dose_again.as_ref());
        let task = Task::emergency_without_a_case();
        let form = sent.entry.0.whole_form(&task, &author, again, desk)?;
        match desk.cases.enter_emergency(&task, &form, &author, &desk.formulary, desk.now)? {
            EmergencyEntry::Recorded(code, card) => Ok((StatusCode::CREATED, CardShown::of(code, &card))),
            EmergencyEntry::NotRecorded(card) => Ok((StatusCode::ACCEPTED, CardShown::not_recorded(&card))),
            EmergencyEntry::WithoutCard(code, why) => Err(Refusal::without_a_card(code, why)),
        }
    });
    let (status, card) = done.await?;
    Ok((status, Json(card)))
}
