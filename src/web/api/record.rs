//! The running record: what was done, reported by whoever did it; and what follows from it. Nothing here reaches a driver.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::case::Confirmed;
use crate::case::data::{RecordShown, RecordWritten, owed_for};
use crate::web::answer::Refusal;
use crate::web::reported::{happening, put_in, when};
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReading, ForReadingOne, ForWriting};
use super::sent::{ApiSession, Body, SetUpPath, once, said};

/// What can be reported.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct WhatIsRecorded {
    version: u8,
    reports: &'static [Reported],
}

/// One thing that can be reported.
#[derive(Debug, Serialize, ToSchema)]
struct Reported {
    did: Did,
    /// In words.
    says: &'static str,
    /// What `value` is, where there is one.
    value: Option<&'static str>,
    /// Whether `value` must be there.
    value_needed: bool,
}

/// What was done.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
enum Did {
    Start,
    Rate,
    Bolus,
    Pause,
    Resume,
    Syringe,
    Stop,
}

const CARDS: Option<&str> = Some("another rate than the card's, in mL/h with its unit");

const REPORTS: &[Reported] = &[
    Reported { did: Did::Start, says: "It was started", value: CARDS, value_needed: false },
    Reported {
        did: Did::Rate,
        says: "The rate was changed",
        value: Some("the new rate, in mL/h with its unit"),
        value_needed: true,
    },
    Reported {
        did: Did::Bolus,
        says: "A bolus was given",
        value: Some("the dose or the volume, with its unit"),
        value_needed: true,
    },
    Reported { did: Did::Pause, says: "It was paused", value: None, value_needed: false },
    Reported {
        did: Did::Resume,
        says: "It went on",
        value: Some("another rate than before, in mL/h with its unit"),
        value_needed: false,
    },
    Reported {
        did: Did::Syringe,
        says: "The next syringe was put in",
        value: Some("another rate than the one that keeps the running dose, in mL/h with its unit"),
        value_needed: false,
    },
    Reported { did: Did::Stop, says: "It was stopped", value: None, value_needed: false },
];

/// Something that was done.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Report {
    /// Chosen anew for each thing that happened: the same one twice is one bolus, not two.
    #[schema(min_length = 16, max_length = 64)]
    once: String,
    did: Did,
    /// The rate in mL/h, or the bolus as a dose or a volume, with its unit.
    #[schema(example = "7.2 mL/h")]
    value: Option<String>,
    /// With `syringe`: which reading of the set-up it is; the latest begun by then where it is left out.
    reading: Option<u16>,
    /// With `start` and `syringe`, where two people have not agreed: the drug, as the person who put it in says.
    drug: Option<String>,
    /// With `start` and `syringe`, where two people have not agreed: the strength, as the label says it.
    #[schema(example = "80 mcg/mL")]
    strength: Option<String>,
    /// When it happened, where that is not now.
    #[schema(example = "14:05")]
    time: Option<String>,
    /// Why it is written down only now; needed after more than 10 minutes.
    late: Option<String>,
    /// Why it was done.
    reason: Option<String>,
    /// It really happened, although it is not as agreed: it is written down and marked.
    #[serde(default)]
    even_so: bool,
    /// With `syringe` and `resume`: the dose is changed on purpose, to `value`, or to the rate of the next syringe's card.
    #[serde(default)]
    dose_changes: bool,
}

/// What can be reported
#[utoipa::path(get, path = "/api/v1/record",
    responses((status = 200, description = "Each with its field", body = WhatIsRecorded), ForReading))]
pub(super) async fn what_is_recorded(ApiSession(_): ApiSession) -> Json<WhatIsRecorded> {
    Json(WhatIsRecorded { version: 1, reports: REPORTS })
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
/// It is written down, and reaches no driver.
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/record", params(SetUpPath), request_body = Report,
    responses((status = 201, description = "Written down; what is given with it", body = RecordWritten), ForWriting))]
pub(super) async fn report(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    SetUpPath(code): SetUpPath,
    Body(sent): Body<Report>,
) -> Result<(StatusCode, Json<RecordWritten>), Refused> {
    let (by, chosen) = (Arc::clone(&session), sent.once.clone());
    let done = once(&site, Some(&session), &chosen, move |desk| {
        let happening = happening(
            sent.did.word(),
            said(sent.value.as_ref()),
            sent.reading,
            put_in(said(sent.drug.as_ref()), said(sent.strength.as_ref()))?,
        )?;
        let when = when(said(sent.time.as_ref()), said(sent.late.as_ref()), desk.now)?;
        let confirmed = Confirmed { even_so: sent.even_so, dose_changes: sent.dose_changes };
        let (signed, reason) = ((&by.person, &by.signer), said(sent.reason.as_ref()));
        let (recorded, course) = desk.cases.record(code, signed, &happening, &when, reason, confirmed, desk.now)?;
        let owed = owed_for(&desk.cases, code, Some(&*desk.formulary), desk.now)?;
        Ok::<_, Refusal>(RecordWritten::of(&desk.cases, code, &by.person, (recorded, course.as_ref()), &owed)?)
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

impl Did {
    const fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Rate => "rate",
            Self::Bolus => "bolus",
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::Syringe => "syringe",
            Self::Stop => "stop",
        }
    }
}
