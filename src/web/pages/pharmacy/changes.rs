//! The values of a proposed formulary: what changes, and what the lint says of it. Closed to whoever may still type them
//! blind, until it is approved.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::{for_pharmacists, opened, shown, wide};
use crate::formulary::{ApprovalStatus, Files, Formulary};
use crate::pharmacy::diff::{Change, Risk, diff};
use crate::pharmacy::lint;
use crate::web::answer::Refusal;
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

/// Why somebody does not see its values: they may be its second pharmacist.
pub(super) fn closed_to(site: &Site, session: &Session, proposed: &Formulary) -> Option<Refusal> {
    let is_authors =
        |author: &crate::formulary::Approval| author.is_authors(&session.person.name, &session.signer.public());
    match (proposed.standing(), proposed.approval()) {
        (ApprovalStatus::Signed { by, .. }, Some(author))
            if !is_authors(author) && !site.proposed.was_shown_to(session) =>
        {
            let says = format!("{by} signed it, and another pharmacist types its values without seeing them");
            let help =
                "They are shown once it is approved. If you are not the one who types them, let that be done first.";
            Some(Refusal::said(StatusCode::FORBIDDEN, "proposal-closed", says, help))
        }
        _ => None,
    }
}

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let folder = super::folder(&site)?;
    let (shared, who) = (Arc::clone(&site), Arc::clone(&session));
    let changed = site.run_in_background(move |aside| {
        let proposed = opened(&aside.cases, &folder)?.formulary;
        closed_to(&shared, &who, &proposed).map_or(Ok(()), Err)?;
        shared.proposed.shown_to(&who);
        Ok(diff(&aside.in_use, &proposed)?)
    });
    Ok(shown(&site, &session, StatusCode::OK, "What the proposal changes", drawn(&changed.await?)))
}

pub(super) async fn lint(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let folder = super::folder(&site)?;
    let (shared, who) = (Arc::clone(&site), Arc::clone(&session));
    let report = site.run_in_background(move |aside| {
        let read = || Files::of_folder(&folder).map_err(|faults| Refusal::from(crate::formulary::Faulty(faults)));
        // A faulty one was signed by nobody as it is.
        if let Ok(proposed) = Formulary::of_files(read()?) {
            closed_to(&shared, &who, &proposed).map_or(Ok(()), Err)?;
        }
        shared.proposed.shown_to(&who);
        Ok(lint::lint(read()?, aside.now))
    });
    Ok(shown(&site, &session, StatusCode::OK, "What the lint says of the proposal", super::lint::list(&report.await?)))
}

fn drawn(changed: &[Change]) -> Markup {
    html! {
        p { "Against the formulary in use, the most dangerous first." }
        @if changed.is_empty() { p { "No value changes." } }
        @for risk in Risk::ALL {
            @let of_risk: Vec<&Change> = changed.iter().filter(|change| change.risk == risk).collect();
            @if !of_risk.is_empty() {
                h2 { (risk.says()) ": " (of_risk.len()) }
                (wide(risk.says(), html! {
                    table {
                        caption { (risk.says()) }
                        thead { tr { th scope="col" { "Where" } th scope="col" { "What" } th scope="col" { "In use" } th scope="col" { "Proposed" } th scope="col" { "Factor" } th scope="col" { "File" } } }
                        tbody {
                            @for change in of_risk {
                                tr {
                                    th scope="row" { (change.place) }
                                    td { (change.what) }
                                    td { (change.old.as_deref().unwrap_or("nothing")) }
                                    td { (change.new.as_deref().unwrap_or("nothing")) }
                                    td { (change.factor.as_deref().unwrap_or_default()) }
                                    td { (change.file) }
                                }
                            }
                        }
                    }
                }))
            }
        }
    }
}
