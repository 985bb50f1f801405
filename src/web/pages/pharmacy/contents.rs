//! The formulary in use at a glance, and the way to everything that is kept of it.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::{CONTENTS, counted, shown, wide};
use crate::case::Role;
use crate::formulary::ApprovalStatus;
use crate::pharmacy::overview::{Due, Overview, overview};
use crate::web::answer::Refusal;
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    let seen = site.run_in_background(|aside| Ok(overview(&aside.in_use, aside.now))).await?;
    let inside = html! { (about(&seen)) (ways(&session)) (unusable(&seen)) (reviews(&seen)) };
    Ok(shown(&site, &session, StatusCode::OK, CONTENTS, inside))
}

fn about(seen: &Overview) -> Markup {
    html! {
        dl.sums {
            div { dt { "In use" } dd { (seen.title) } }
            div { dt { "Version" } dd { (seen.version) ", issued " (seen.issued) } }
            div { dt { "Fingerprint" } dd.code { (seen.fingerprint) } }
            div { dt { "Approved by" } dd { (seen.standing.said()) } }
            div { dt { "Drugs" } dd { (seen.usable) " can be used, " (seen.unusable.len()) " cannot" } }
        }
        @if !matches!(seen.standing, ApprovalStatus::Approved { .. } | ApprovalStatus::Demonstration) {
            p.wrong { strong { "Not approved: " } "every set-up that is entered with it is stopped." }
        }
    }
}

fn ways(session: &Session) -> Markup {
    let of_pharmacists = [
        ("/formulary/alerts", "How often the rules speak", "and what came of it, counted from this journal"),
        ("/formulary/replay", "Past set-ups against a proposal", "what would stop or need a reason that does not now"),
        ("/formulary/editions", "Editions", "who approved each, what it changed, what runs by it, and its recall"),
        ("/formulary/proposal", "The proposed formulary", "what changes, who signed it, and its approval"),
    ];
    html! {
        h2 { "To read" }
        ul.rows {
            li { a.button href="/formulary/book" { "The book" } " every drug with its limits and sources, to be printed" }
            li { a.button href="/formulary/lint" { "What the lint says" } " what should be looked at again, with its place" }
            @if session.person.role == Role::Pharmacist {
                @for (path, name, says) in of_pharmacists { li { a.button href=(path) { (name) } " " (says) } }
            }
        }
        @if session.person.role != Role::Pharmacist {
            p.hint { "Pharmacists find more here: how often the rules speak, and the proposed formulary." }
        }
    }
}

fn unusable(seen: &Overview) -> Markup {
    html! {
        @if !seen.unusable.is_empty() {
            h2 { "Drugs that cannot be used: " (seen.unusable.len()) }
            ul.rows {
                @for (file, why) in &seen.unusable {
                    li { strong { (file) } ul { @for why in why { li { (why) } } } }
                }
            }
        }
    }
}

fn reviews(seen: &Overview) -> Markup {
    let past = seen.reviews.iter().filter(|review| !matches!(review.due, Due::In(_))).count();
    html! {
        h2 { "Reviews, the soonest first" }
        p { (counted(past, "review")) " past." }
        (wide("Reviews", html! {
            table {
                caption { "When each drug is looked at again" }
                thead { tr { th scope="col" { "Drug" } th scope="col" { "Review by" } th scope="col" { "Stands" } } }
                tbody {
                    @for review in &seen.reviews {
                        tr { th scope="row" { (review.drug) } td { (review.by) } td { (review.due.says()) } }
                    }
                }
            }
        }))
    }
}
