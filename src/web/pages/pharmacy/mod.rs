//! What the pharmacist keeps: the formulary at a glance, the book, the lint, how often the rules speak, what a proposed
//! formulary would do, and its approval. Counting is `pharmacy`'s; here it is drawn.

mod alerts;
mod changes;
mod contents;
mod editions;
mod lint;
mod proposal;
mod replay;
mod typed;
mod typing;

use std::path::PathBuf;
use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use maud::{Markup, html};

use super::{card, frame};
use crate::case::{Cases, Role};
use crate::formulary::Formulary;
use crate::pharmacy::approval::{ApprovalError, Proposal};
use crate::pharmacy::book;
use crate::web::answer::Refusal;
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/formulary", get(contents::page))
        .route("/formulary/book", get(printed))
        .route("/formulary/lint", get(lint::page))
        .route("/formulary/alerts", get(alerts::page))
        .route("/formulary/alerts.csv", get(alerts::csv))
        .route("/formulary/alerts/sheet", get(alerts::sheet))
        .route("/formulary/editions", get(editions::page))
        .route("/formulary/editions/recall", post(editions::recall))
        .route("/formulary/replay", get(replay::page))
        .route("/formulary/proposal", get(proposal::page))
        .route("/formulary/proposal/sign", post(proposal::sign))
        .route("/formulary/proposal/changes", get(changes::page))
        .route("/formulary/proposal/lint", get(changes::lint))
        .route("/formulary/proposal/type", get(typing::files))
        .route("/formulary/proposal/type/{number}", get(typing::page).post(typing::sent))
        .route("/formulary/proposal/compare", post(typing::compare))
        .route("/formulary/proposal/approve", post(typing::approve))
}

async fn printed(State(site): State<Arc<Site>>, PageSession(_): PageSession) -> Result<Response, Refusal> {
    Ok(card::given(&site.run_in_background(|aside| Ok(book::book(&aside.in_use)?)).await?, &[]))
}

/// What the contents are called, here and at the top of every page.
const CONTENTS: &str = "Formulary";

/// A page of the formulary, with the way back to its contents.
fn shown(site: &Site, session: &Session, status: StatusCode, title: &str, inside: Markup) -> Response {
    let inside = html! {
        @if title != CONTENTS { p { a href="/formulary" { (CONTENTS) } } }
        h1 { (title) }
        (inside)
    };
    (status, Html(frame::page(site, session, title, inside).into_string())).into_response()
}

/// What only pharmacists see.
fn for_pharmacists(session: &Session) -> Result<(), Refusal> {
    if session.person.role == Role::Pharmacist {
        return Ok(());
    }
    let says = format!("this page is for pharmacists, and {} is here as {}", session.person.name, session.person.role);
    Err(Refusal::said(StatusCode::FORBIDDEN, "not-a-pharmacist", says, "A pharmacist who signs in here sees it."))
}

/// A table that may be wider than the page: it scrolls in a region of its own, which the keyboard reaches.
fn wide(label: &str, table: Markup) -> Markup {
    html! { div.wide role="region" aria-label=(label) tabindex="0" { (table) } }
}

/// The folder of the proposed formulary, where the server was started with one.
fn folder(site: &Site) -> Result<PathBuf, Refusal> {
    site.proposed.folder().map(std::path::Path::to_owned).ok_or_else(|| {
        let help = "Start the server with its folder: countersign serve --proposed DIR";
        Refusal::said(StatusCode::NOT_FOUND, "no-proposal", "no proposed formulary is named", help)
    })
}

/// The proposal as it stands in its folder now. What is wrong with a file is not told here: it would tell values.
fn opened(cases: &Cases, folder: &std::path::Path) -> Result<Proposal, Refusal> {
    let whole = Formulary::open(folder).and_then(|formulary| formulary.load_all().map(|_| ()).map(|()| formulary));
    let formulary = whole.map_err(|faulty| {
        let files: Vec<String> = faulty.0.into_iter().map(|(source, _)| source.name).collect();
        let says = format!("the proposed formulary cannot be used as it is: {}", files.join(", "));
        let help = "Its author looks at what the lint says, and mends it.";
        Refusal::said(StatusCode::CONFLICT, "proposal-faulty", says, help)
    })?;
    Ok(Proposal::of(cases, folder, formulary)?)
}

impl From<ApprovalError> for Refusal {
    fn from(not_done: ApprovalError) -> Self {
        let (code, help) = (not_done.code(), not_done.help());
        match not_done {
            ApprovalError::Case(error) => error.into(),
            // Which row would tell what the author wrote.
            ApprovalError::Rows(_) => {
                Self::said(StatusCode::CONFLICT, code, "a file cannot be taken apart into its values", help)
            }
            ApprovalError::File { .. } => Self::said(StatusCode::SERVICE_UNAVAILABLE, code, not_done.to_string(), help),
            other => Self::said(StatusCode::CONFLICT, code, other.to_string(), help),
        }
    }
}

/// `1 value`, `2 values`.
fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
