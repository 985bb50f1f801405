//! Every approved edition: when, by whom, what it changed and what is made with it; and the recall of one.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::{for_pharmacists, shown};
use crate::pharmacy::editions::{EditionReport, editions};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

const TITLE: &str = "Editions";

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    drawn(&site, &session, StatusCode::OK, html! {}).await
}

/// The recall is signed, with the PIN.
pub(super) async fn recall(State(site): State<Arc<Site>>, Sent { session, typed }: Sent) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let by = Arc::clone(&session);
    let done = site.run_in_background(move |aside| {
        let signer = super::typing::signs_now(aside, &by, &typed)?;
        let (fingerprint, why) = (text(&typed, "fingerprint"), text(&typed, "why"));
        Ok(aside.cases.recall_formulary(aside.now, &by.person, &signer, fingerprint, why).map(drop)?)
    });
    match done.await {
        Ok(()) => Ok(Redirect::to("/formulary/editions").into_response()),
        Err(refusal) => drawn(&site, &session, StatusCode::CONFLICT, refusal.shown()).await,
    }
}

async fn drawn(
    site: &Arc<Site>,
    session: &Arc<Session>,
    status: StatusCode,
    says: Markup,
) -> Result<Response, Refusal> {
    let (all, outside) = site.run_in_background(|aside| Ok(editions(&aside.cases, aside.now)?)).await?;
    let inside = html! {
        (says)
        @if all.is_empty() { p { "No formulary was approved in this journal." } }
        @if !outside.is_empty() {
            h2 { "Runs now, outside the limits in use" }
            ul { @for one in &outside { li { (one) } } }
        }
        @for (at, one) in all.iter().enumerate().rev() { (edition(session, at + 1, one)) }
        @if !all.is_empty() {
            p.hint { "The files of an edition are written again by " span.code { "countersign formulary editions --get FINGERPRINT FOLDER" } "." }
        }
    };
    Ok(shown(site, session, status, TITLE, inside))
}

fn edition(session: &Session, number: usize, EditionReport { edition, changed, made }: &EditionReport) -> Markup {
    let version = edition.version.as_deref().unwrap_or("(cannot be read by this program)");
    html! {
        h2 { (version) ": " (edition.stands()) }
        p { (edition.approved()) }
        p.code { (edition.fingerprint) }
        @if !changed.is_empty() {
            ul { @for (risk, count) in changed { li { (risk.says()) ": " (count) } } }
        }
        @for (runs, head) in [(true, "Runs"), (false, "Cards not started")] {
            @let these: Vec<&str> = made.iter().filter(|one| one.runs == runs).map(|one| one.named.as_str()).collect();
            @if !these.is_empty() { h3 { (head) } ul { @for named in these { li { (named) } } } }
        }
        @if edition.recalled.is_none() {
            details {
                summary { "Recall " (version) }
                p { "No set-up is made with it any more, and no card of it is started. What runs goes on, and is listed here. Emergencies, the record, pauses and stops are not held up." }
                form method="post" action="/formulary/editions/recall" {
                    input type="hidden" name="once" value=(session.forms.give());
                    input type="hidden" name="fingerprint" value=(edition.fingerprint);
                    p.field { label for={ "why-" (number) } { "Why it is not to be used" } input id={ "why-" (number) } name="why" required autocomplete="off"; }
                    p.field { label for={ "pin-" (number) } { "PIN" } input id={ "pin-" (number) } name="pin" type="password" required autocomplete="off"; }
                    p { button.main { "Recall" } }
                }
            }
        }
    }
}
