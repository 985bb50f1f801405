//! The proposed formulary without its values: how it stands, what is to be typed and read, and its author's signature.

use std::path::Path;
use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::{changes, counted, for_pharmacists, opened, replay, shown};
use crate::formulary::ApprovalStatus;
use crate::pharmacy::approval::Proposal;
use crate::web::answer::Refusal;
use crate::web::sent::Sent;
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

const TITLE: &str = "The proposed formulary";

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    drawn(&site, &session, StatusCode::OK, html! {}).await
}

pub(super) async fn sign(State(site): State<Arc<Site>>, Sent { session, typed }: Sent) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let folder = super::folder(&site)?;
    let by = Arc::clone(&session);
    let done = site.run_in_background(move |aside| {
        let proposal = opened(&aside.cases, &folder)?;
        super::typing::still_the_same(&proposal, &typed)?;
        let signer = super::typing::signs_now(aside, &by, &typed)?;
        Ok(proposal.sign(&mut aside.cases, aside.now, (&by.person, &signer)).map(drop)?)
    });
    match done.await {
        Ok(()) => Ok(Redirect::to("/formulary/proposal").into_response()),
        Err(refusal) => drawn(&site, &session, StatusCode::CONFLICT, refusal.shown()).await,
    }
}

async fn drawn(
    site: &Arc<Site>,
    session: &Arc<Session>,
    status: StatusCode,
    says: Markup,
) -> Result<Response, Refusal> {
    let Some(folder) = site.proposed.folder().map(Path::to_owned) else {
        return Ok(shown(site, session, StatusCode::OK, TITLE, replay::without_one()));
    };
    let (shared, who) = (Arc::clone(site), Arc::clone(session));
    let inside = site.run_in_background(move |aside| match opened(&aside.cases, &folder) {
        Ok(proposal) => Ok(of(&shared, &who, &proposal)),
        Err(refusal) => Ok(
            html! { (refusal.shown()) p { a.button href="/formulary/proposal/lint" { "What the lint says of it" } } },
        ),
    });
    Ok(shown(site, session, status, TITLE, html! { (says) (inside.await?) }))
}

fn of(site: &Site, session: &Session, proposal: &Proposal) -> Markup {
    let (formulary, todo) = (&proposal.formulary, &proposal.changes);
    let closed = changes::closed_to(site, session, formulary);
    let is_open = matches!(formulary.standing(), ApprovalStatus::Unapproved | ApprovalStatus::Altered { .. });
    html! {
        dl.sums {
            div { dt { "Fingerprint" } dd.code { (formulary.fingerprint()) } }
            div { dt { "Approved by" } dd { (formulary.standing().said()) } }
            div { dt { "Since the last approval here" } dd { (counted(todo.typed.len(), "value")) " to be typed, " (counted(todo.words.len(), "text")) " to be read" } }
        }
        h2 { "Its values" }
        @match closed {
            Some(_) => p { "They are closed to you until it is approved: you may be the one who types them." }
            None => {
                @if is_open { p { "A pharmacist who looks at them here is no longer blind, and cannot be the second one." } }
                p {
                    a.button href="/formulary/proposal/changes" { "What it changes" }
                    a.button href="/formulary/proposal/lint" { "What the lint says of it" }
                }
            }
        }
        p { a.button href="/formulary/replay" { "Past set-ups against it" } }
        @match formulary.standing() {
            ApprovalStatus::Demonstration => p { "It is for demonstration: nobody approves it, and it is never used for patients." },
            ApprovalStatus::Approved { .. } => p.right { "It is approved." },
            ApprovalStatus::Signed { .. } => {
                h2 { "The second pharmacist" }
                p { "Another pharmacist than its author goes to the sources and types every value that differs, without seeing the author's." }
                p { a.button.main href="/formulary/proposal/type" { "Type its values" } }
            }
            ApprovalStatus::Unapproved | ApprovalStatus::Altered { .. } => {
                h2 { "Its author" }
                p { "The author answers for every value and its source, and signs exactly these bytes. Another pharmacist approves them." }
                form method="post" action="/formulary/proposal/sign" {
                    input type="hidden" name="once" value=(session.forms.give());
                    input type="hidden" name="fingerprint" value=(formulary.fingerprint());
                    (super::typing::pin_field())
                    p { button.main { "I am its author: sign it" } }
                }
            }
        }
    }
}
