//! What the hospital keeps: what its formulary offers, what the lint says of it, and whether the journal is whole.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Serialize;
use utoipa::ToSchema;

use crate::card::DEMONSTRATION;
use crate::formulary::Files;
use crate::journal::Restore;
use crate::pharmacy::lint as rules;
use crate::web::answer::Refusal;
use crate::web::site::Site;

use super::Refused;
use super::refused::{ForReading, ForReadingOne};
use super::sent::ApiSession;

/// What may be answered where the form asks for a name.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct FormularyOffers {
    version: u8,
    notice: Option<&'static str>,
    /// Its fingerprint.
    edition: String,
    areas: Vec<String>,
    drugs: Vec<DrugOffered>,
    containers: Vec<String>,
    lines: Vec<String>,
    drivers: Vec<String>,
}

/// One drug.
#[derive(Debug, Serialize, ToSchema)]
struct DrugOffered {
    name: String,
    /// The keys of the stocked strengths.
    strengths: Vec<String>,
}

/// A journal, every event of which is as it was written.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct JournalVerified {
    version: u8,
    /// Always `whole`: where it is not, the answer is a refusal.
    verdict: &'static str,
    journal: String,
    demonstration: bool,
    events: u64,
    /// The last event, with its fingerprint.
    head: String,
    /// Against how many heads from elsewhere it was held.
    against: u64,
    /// Each time it was restored from a backup, in words.
    restores: Vec<String>,
}

/// What the formulary offers
#[utoipa::path(get, path = "/api/v1/formulary",
    responses((status = 200, description = "Areas, drugs with their strengths, equipment", body = FormularyOffers), ForReading))]
pub(super) async fn formulary(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
) -> Result<Json<FormularyOffers>, Refused> {
    let done = site.with_journal(|desk| {
        let (formulary, equipment) = (&desk.formulary, desk.formulary.equipment());
        let drugs = formulary.usable().into_iter().map(|drug| DrugOffered {
            name: drug.name.clone(),
            strengths: drug.strengths.iter().map(|stocked| stocked.key.clone()).collect(),
        });
        Ok(FormularyOffers {
            version: 1,
            notice: formulary.policy().demonstration.then_some(DEMONSTRATION),
            edition: formulary.edition(),
            areas: formulary.areas().iter().map(|area| area.name.clone()).collect(),
            drugs: drugs.collect(),
            containers: equipment.containers.iter().map(|one| one.key.clone()).collect(),
            lines: equipment.lines.iter().map(|one| one.key.clone()).collect(),
            drivers: equipment.drivers.iter().map(|one| one.key.clone()).collect(),
        })
    });
    Ok(Json(done.await?))
}

/// What the lint says of the formulary
#[utoipa::path(get, path = "/api/v1/formulary/lint",
    responses((status = 200, description = "As `formulary lint --format json`", body = Object), ForReading))]
pub(super) async fn lint(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
) -> Result<Json<serde_json::Value>, Refused> {
    let done = site.run_in_background(|aside| {
        let files = Files::of_texts("formulary", aside.in_use.files().to_vec());
        Ok(rules::lint(files, aside.now).json())
    });
    Ok(Json(done.await?))
}

/// Whether the journal is as it was written
#[utoipa::path(get, path = "/api/v1/journal",
    responses((status = 200, description = "Whole", body = JournalVerified), ForReadingOne))]
pub(super) async fn journal(
    State(site): State<Arc<Site>>,
    ApiSession(_): ApiSession,
) -> Result<Json<JournalVerified>, Refused> {
    let done = site.run_in_background(|aside| {
        let journal = aside.cases.journal();
        let verified = aside
            .cases
            .verify(&[], &mut |_, _| {})
            .map_err(|error| Refusal::said(StatusCode::CONFLICT, "journal-broken", error.to_string(), error.help()))?;
        let restores = journal.told_apart(&[])?.restores;
        Ok(JournalVerified {
            version: 1,
            verdict: "whole",
            journal: journal.id().to_owned(),
            demonstration: journal.is_demonstration(),
            events: verified.head.seq,
            head: verified.head.to_string(),
            against: verified.against,
            restores: restores.iter().map(Restore::in_words).collect(),
        })
    });
    Ok(Json(done.await?))
}
