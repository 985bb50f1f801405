//! The list of cases with what is owed, and a new case.

use std::sync::Arc;

use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::{OverCases, SetUpRow};

use super::frame;
use crate::web::accesses;
use crate::web::answer::Refusal;
use crate::web::follow::{self, Topic};
use crate::web::sent::Sent;
use crate::web::session::PageSession;
use crate::web::site::{JournalWorker, Site};
use crate::web::words::on_the_page;

/// The list is the same for everybody.
const LIST: &str = "list";

pub(super) async fn list(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    let rows = site.drawn(LIST.to_owned(), drawn).await?;
    let once = session.forms.give();
    let before = site.accesses.before_sign_in(&session.person.id);
    let inside = html! {
        h1 { "Cases" }
        @for warning in site.warnings() { p.wrong role="alert" { (warning) " " a href="/journal" { "Journal" } } }
        form method="post" action="/" {
            input type="hidden" name="once" value=(once);
            p { button.main { "Open a case" } " " a.button href="/emergency" { "Emergency entry" } }
        }
        @if let Some(says) = before.as_ref().and_then(accesses::in_words) { p { (says) } }
        div #state data-follow="/follow" aria-live="polite" { (rows) }
        noscript { p { a.button href="/" { "Look again" } } }
    };
    Ok(Html(frame::page(&site, &session, "Cases", inside).into_string()).into_response())
}

/// The part that follows what others do.
pub(super) async fn follow(State(site): State<Arc<Site>>, PageSession(session): PageSession) -> Response {
    follow::follow(site, &session, Topic::EveryCase, LIST.to_owned(), |_, desk| drawn(desk))
}

/// Cases opened before an event, over or not, a page at a time.
pub(super) async fn older(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    before: Result<Path<u64>, PathRejection>,
) -> Result<Response, Refusal> {
    let Path(before) = before?;
    let list = site.read(move |desk| Ok(desk.cases.opened_before(before, Some(&*desk.formulary), desk.now)?)).await?;
    let inside = html! {
        h1 { "All cases" }
        @if list.rows.is_empty() { p { "No case was opened before." } }
        ul.rows { @for row in &list.rows { (shown(row)) } }
        @if let Some(before) = list.older { p { a.button href=(format!("/cases/{before}")) { "Older" } } }
        p { a.back href="/" { "Back" } }
    };
    Ok(Html(frame::page(&site, &session, "All cases", inside).into_string()).into_response())
}

pub(super) async fn open(State(site): State<Arc<Site>>, Sent { session, .. }: Sent) -> Result<Response, Refusal> {
    let code = site.with_journal(move |desk| Ok(desk.cases.open(desk.now, Some(&session.signer))?)).await?;
    Ok(Redirect::to(&format!("/case/{code}")).into_response())
}

fn drawn(desk: &mut JournalWorker) -> Result<Markup, Refusal> {
    let list = desk.cases.list(OverCases::Recent, Some(&*desk.formulary), desk.now)?;
    let (over, open): (Vec<&SetUpRow>, Vec<&SetUpRow>) =
        list.rows.iter().partition(|row| row.over && row.owed.is_empty());
    let people = desk.cases.people()?;
    let named: Vec<&str> = people.named_without_administrator().map(|person| person.name.as_str()).collect();
    Ok(html! {
        @if !named.is_empty() {
            p.wrong role="alert" {
                "Named administrator by two clinicians, who said that no other could sign: " (named.join(", "))
                ". Ask whether that is so; this stands here until they are retired."
            }
        }
        @if let Some(warning) = list.warning() { p.wrong role="alert" { (on_the_page(&warning)) } }
        @if open.is_empty() { p { "No case is open." } }
        ul.rows { @for row in &open { (shown(row)) } }
        @if !over.is_empty() {
            details { summary { "Come to their end last: " (over.len()) } ul.rows { @for row in &over { (shown(row)) } } }
        }
        @if let Some(before) = list.older {
            p { a.button href=(format!("/cases/{before}")) { "All cases" } " " (list.over_left_out) " more came to their end before." }
        }
    })
}

/// A set-up in a list: where it stands, what runs, what is owed.
pub(super) fn shown(row: &SetUpRow) -> Markup {
    html! {
        li {
            a.code href=(format!("/case/{}", row.case)) { (row.named) }
            @if let Some(patient) = &row.patient { p { strong { "Patient: " } (patient) } }
            p { (row.stands) }
            @if let Some(runs) = &row.runs {
                p { (runs.drug) ", " (runs.strength) ", driver " (runs.driver) ", " (runs.rate.as_deref().map_or_else(|| "paused".to_owned(), |rate| format!("at {rate}"))) }
            }
            @for owed in &row.owed { p.owed { strong { "Outstanding: " } (on_the_page(&owed.says)) " " span.code { "[" (owed.code) "]" } } }
        }
    }
}
